"""Writes the drawings of imports.rs with ezdxf 1.4.3, a general-purpose library for DXF.

    pip install ezdxf==1.4.3 && python3 tests/frames/drawings.py

One gate of four tubes and a brace, 1200 x 900, upright in the plane of X and Z, as people draw it: lines,
polylines, polylines in space, in a block that is inserted, in mm, inches and metres, in old and new files.
"""

import io
from pathlib import Path

import ezdxf

W, H = 1200.0, 900.0
CORNERS = [(0, 0, 0), (W, 0, 0), (W, 0, H), (0, 0, H)]
BRACE = [(0, 0, 300), (W, 0, 600)]
UNITS = {"mm": (4, 1.0), "inch": (1, 25.4), "m": (6, 1000.0)}


def lines(space, scale):
    for a, b in zip(CORNERS, CORNERS[1:] + CORNERS[:1]):
        space.add_line([x / scale for x in a], [x / scale for x in b], dxfattribs={"layer": "frame"})
    space.add_line(*[[x / scale for x in p] for p in BRACE], dxfattribs={"layer": "brace"})


def polyline3d(space, scale):
    space.add_polyline3d([[x / scale for x in p] for p in CORNERS], close=True, dxfattribs={"layer": "frame"})
    space.add_line(*[[x / scale for x in p] for p in BRACE], dxfattribs={"layer": "brace"})


def lwpolyline(space, scale):
    # Drawn in the upright plane: its normal is -Y, so that its x is X and its y is Z.
    flat = [(x / scale, z / scale) for x, _, z in CORNERS]
    attributes = {"layer": "frame", "extrusion": (0, -1, 0)}
    space.add_lwpolyline(flat, close=True, dxfattribs=attributes)
    space.add_line(*[[x / scale for x in p] for p in BRACE], dxfattribs={"layer": "brace"})


def blocks(space, scale):
    # Half the size, drawn flat, off its base point; inserted twice as large and turned upright.
    doc = space.doc
    inner = doc.blocks.new("side", base_point=(10, 20))
    corners = [(x / scale / 2 + 10, z / scale / 2 + 20) for x, _, z in CORNERS]
    for a, b in zip(corners, corners[1:] + corners[:1]):
        inner.add_line(a, b, dxfattribs={"layer": "frame"})
    outer = doc.blocks.new("gate")
    outer.add_blockref("side", (0, 0), dxfattribs={"xscale": 2, "yscale": 2, "zscale": 2})
    space.add_blockref("gate", (0, 0), dxfattribs={"extrusion": (0, -1, 0)})
    space.add_line(*[[x / scale for x in p] for p in BRACE], dxfattribs={"layer": "brace"})


def main():
    folder = Path(__file__).parent / "drawings"
    folder.mkdir(exist_ok=True)
    for name, version, unit, draw in [
        ("r12-lines-mm", "R12", "mm", lines),
        ("r12-polyline-inch", "R12", "inch", polyline3d),
        ("r2000-lines-inch", "R2000", "inch", lines),
        ("r2000-polyline-m", "R2000", "m", polyline3d),
        ("r2018-lwpolyline-mm", "R2018", "mm", lwpolyline),
        ("r2018-block-inch", "R2018", "inch", blocks),
    ]:
        doc = ezdxf.new(version)
        code, scale = UNITS[unit]
        doc.header["$INSUNITS"] = code
        draw(doc.modelspace(), scale)
        # Text and a dimension's kind of thing that is no tube.
        doc.modelspace().add_text("gate", dxfattribs={"height": 10 / scale})
        text = io.StringIO()
        doc.write(text)
        (folder / f"{name}.dxf").write_text(text.getvalue())


main()

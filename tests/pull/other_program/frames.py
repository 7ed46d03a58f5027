"""Three space frames worked out by a general-purpose frame analysis library (PyNiteFEA).

    python -m venv v && v/bin/pip install PyNiteFEA==3.2.0 && v/bin/python frames.py > frames.json

With a file's name after it, the values there are compared instead (`.ci/run` does).
Members are rigidly joined at nodes; the displacements of every node are written out, mm and rad.
"""
import json
import sys
from Pynite import FEModel3D

E, G, NU, RHO = 210000.0, 210000.0 / 2.6, 0.3, 7.85e-6


def round_tube(od, wall):
    from math import pi
    i = pi / 64 * (od**4 - (od - 2 * wall) ** 4)
    return dict(A=pi / 4 * (od**2 - (od - 2 * wall) ** 2), Iy=i, Iz=i, J=2 * i)


def flat(width, thick):
    """Height (thickness) along the member's local y of the library."""
    return dict(A=width * thick, Iy=thick * width**3 / 12, Iz=width * thick**3 / 12,
                J=width * thick**3 * (1 / 3 - 0.21 * thick / width * (1 - thick**4 / (12 * width**4))))


FRAMES = {
    "tricycle": dict(
        section=round_tube(45, 2),
        nodes=dict(A=(1400, 420, 300), B=(1400, -420, 300), C=(1400, 0, 300), E=(960, 0, 300), D=(480, 0, 300),
                   H=(307, 0, 833), K=(890, 0, 660), V=(341, 0, 728), L=(20, 68, 330), R=(20, -68, 330)),
        members=["AC", "BC", "CE", "ED", "DV", "VH", "EK", "KV", "DL", "DR", "VL", "VR"],
        held=dict(A="xyz", B="xz", L="yz", R=""), held_extra=dict(R="z"),
        loads=[("H", "FZ", -700), ("H", "FY", 90), ("K", "FX", 150), ("R", "MX", 20000)]),
    "trailer": dict(
        section=round_tube(60.3, 3.2),
        nodes={**{f"L{i}": (x, 580, 0) for i, x in enumerate((20, 500, 1000, 1500, 1980))},
               **{f"R{i}": (x, -580, 0) for i, x in enumerate((20, 500, 1000, 1500, 1980))},
               "M": (1980, 0, -50), "P": (3000, 0, -50)},
        members=[("L0", "L1"), ("L1", "L2"), ("L2", "L3"), ("L3", "L4"), ("R0", "R1"), ("R1", "R2"), ("R2", "R3"),
                 ("R3", "R4")] + [(f"L{i}", f"R{i}") for i in range(5)] + [("L4", "M"), ("R4", "M"), ("M", "P"), ("L3", "M")],
        held=dict(P="xyz", L1="z", R1="yz"), held_extra={},
        loads=[("L4", "FZ", -900), ("R0", "FZ", -400), ("L0", "FY", 250), ("R4", "MY", 50000)]),
    "base": dict(
        section=flat(60, 40),
        nodes={**{f"T{i}": p for i, p in enumerate(((720, 345, 670), (-720, 345, 670), (-720, -345, 670), (720, -345, 670)))},
               **{f"B{i}": p for i, p in enumerate(((720, 345, 150), (-720, 345, 150), (-720, -345, 150), (720, -345, 150)))}},
        members=[("T0", "T1"), ("T1", "T2"), ("T2", "T3"), ("T3", "T0"), ("B0", "B1"), ("B1", "B2"), ("B2", "B3"),
                 ("B3", "B0")] + [(f"B{i}", f"T{i}") for i in range(4)] + [("B0", "T1")],
        held=dict(B0="xyz", B1="yz", B2="z"), held_extra={},
        loads=[("T0", "FZ", -2000), ("T2", "FX", 600), ("T3", "FY", -300), ("T1", "MZ", 80000)]),
}

out = {"library": "PyNiteFEA 3.2.0", "frames": []}
for name, f in FRAMES.items():
    m = FEModel3D()
    m.add_material("steel", E, G, NU, RHO)
    s = f["section"]
    m.add_section("s", s["A"], s["Iy"], s["Iz"], s["J"])
    for n, p in f["nodes"].items():
        m.add_node(n, *map(float, p))
    members = [tuple(x) for x in f["members"]]
    for a, b in members:
        m.add_member(a + b, a, b, "steel", "s")
    held = {k: v + f["held_extra"].get(k, "") for k, v in f["held"].items()}
    for n, axes in held.items():
        m.def_support(n, "x" in axes, "y" in axes, "z" in axes, False, False, False)
    for n, d, p in f["loads"]:
        m.add_node_load(n, d, p)
    m.analyze_linear()
    combo = "Combo 1"
    moved = {n: [v.DX[combo], v.DY[combo], v.DZ[combo], v.RX[combo], v.RY[combo], v.RZ[combo]] for n, v in m.nodes.items()}
    local_y = {a + b: list(map(float, m.members[a + b].T()[1][:3])) for a, b in members}
    out["frames"].append(dict(name=name, section=s, nodes=f["nodes"], members=members, held=held, loads=f["loads"],
                              local_y=local_y, moved={n: [float(x) for x in v] for n, v in moved.items()}))
if len(sys.argv) > 1:
    def near(a, b):
        if isinstance(a, dict):
            return a.keys() == b.keys() and all(near(a[k], b[k]) for k in a)
        if isinstance(a, list):
            return len(a) == len(b) and all(map(near, a, b))
        return abs(a - b) <= 1e-9 * max(1.0, abs(a)) if isinstance(a, float) else a == b

    with open(sys.argv[1]) as file:
        kept = json.load(file)
    if not near(json.loads(json.dumps(out)), kept):
        sys.exit("the kept values are not what the library says")
    print(f"{out['library']} says the same")
else:
    print(json.dumps(out))

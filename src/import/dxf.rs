//! Text DXF: LINE, LWPOLYLINE and POLYLINE of the ENTITIES section, as group codes and values in pairs of
//! lines, and blocks that are inserted, turned and scaled (the format's own public reference).

use super::{Drawn, Stroke, Unit};
use glam::DVec3;
use std::collections::BTreeMap;

struct Pair<'a> {
    code: i32,
    value: &'a str,
    line: usize,
}

/// A block inserted somewhere.
struct Insert {
    block: String,
    place: Motion,
}

/// From the coordinates of a block, or of a flat entity, to those of the drawing.
#[derive(Debug, Clone, Copy)]
struct Motion {
    /// Where the three axes go, with their scale.
    axes: [DVec3; 3],
    to: DVec3,
}

impl Motion {
    fn of(&self, p: DVec3) -> DVec3 {
        self.to + self.axes[0] * p.x + self.axes[1] * p.y + self.axes[2] * p.z
    }
}

/// What a section holds: strokes, and blocks inserted into it.
#[derive(Default)]
struct Held {
    strokes: Vec<Stroke>,
    inserts: Vec<Insert>,
    base: DVec3,
}

/// Depth to which blocks may hold blocks.
const DEEPEST: usize = 12;

pub fn read(text: &str) -> Result<Drawn, String> {
    let pairs = pairs(text)?;
    let mut over: BTreeMap<String, usize> = BTreeMap::new();
    let mut blocks: BTreeMap<String, Held> = BTreeMap::new();
    let mut model = Held::default();
    let mut section = "";
    let mut block: Option<String> = None;
    let mut i = 0;
    // Vertices of an old-style POLYLINE still open, with its closed flag, layer and plane.
    let mut open: Option<(Vec<DVec3>, bool, String, Motion)> = None;
    while i < pairs.len() {
        let p = &pairs[i];
        if p.code != 0 {
            i += 1;
            continue;
        }
        let end = (i + 1..pairs.len()).find(|&j| pairs[j].code == 0).unwrap_or(pairs.len());
        let body = &pairs[i + 1..end];
        i = end;
        match p.value {
            "SECTION" => section = body.iter().find(|b| b.code == 2).map_or("", |b| b.value),
            "ENDSEC" => section = "",
            "BLOCK" if section == "BLOCKS" => {
                let name = body.iter().find(|b| b.code == 2).map_or("", |b| b.value).to_string();
                // The model and the paper are blocks too; what they hold stands in ENTITIES.
                let base = DVec3::new(
                    number(body, 10)?.unwrap_or(0.0),
                    number(body, 20)?.unwrap_or(0.0),
                    number(body, 30)?.unwrap_or(0.0),
                );
                blocks.insert(name.clone(), Held { base, ..Held::default() });
                block = Some(name);
                continue;
            }
            "ENDBLK" => block = None,
            _ => {}
        }
        let into = match (&block, section) {
            (Some(name), "BLOCKS") => blocks.get_mut(name).expect("put in above"),
            (_, "ENTITIES") => &mut model,
            _ => continue,
        };
        match p.value {
            "SECTION" | "ENDSEC" | "ENDBLK" => {}
            // Seen from a sheet of paper, not part of the frame.
            _ if body.iter().any(|b| b.code == 67 && b.value == "1") => {}
            "LINE" => {
                let at = |c: i32| point(body, c, p.line);
                into.strokes.push(Stroke { a: at(10)?, b: at(11)?, layer: layer(body) });
            }
            "LWPOLYLINE" => {
                let plane = plane(body)?;
                let z = number(body, 38)?.unwrap_or(0.0);
                let points: Vec<DVec3> = corners(body, z)?.into_iter().map(|p| plane.of(p)).collect();
                chain(into, &points, flag(body)? & 1 == 1, &layer(body));
                if body.iter().any(|b| b.code == 42 && b.value.parse() != Ok(0.0)) {
                    *over.entry("curved piece of a polyline taken as straight".into()).or_default() += 1;
                }
            }
            "POLYLINE" => {
                let flags = flag(body)?;
                // A polyline in space has its vertices in space; a flat one in its plane.
                let in_space = flags & 8 != 0;
                let still = Motion { axes: [DVec3::X, DVec3::Y, DVec3::Z], to: DVec3::ZERO };
                open =
                    Some((vec![], flags & 1 == 1, layer(body), if in_space { still } else { plane(body)? }));
            }
            "VERTEX" => {
                if let Some((points, _, _, plane)) = &mut open {
                    points.push(plane.of(point(body, 10, p.line)?));
                }
            }
            "SEQEND" => {
                if let Some((points, closed, layer, _)) = open.take() {
                    chain(into, &points, closed, &layer);
                }
            }
            "INSERT" => into.inserts.push(insert(body)?),
            other => *over.entry(format!("{other} passed over")).or_default() += 1,
        }
    }
    let mut drawn = Drawn { unit: unit(&pairs), ..Drawn::default() };
    let still = Motion { axes: [DVec3::X, DVec3::Y, DVec3::Z], to: DVec3::ZERO };
    lay(&model, &blocks, &still, 0, &mut drawn.strokes, &mut over)?;
    drawn.passed_over =
        over.into_iter().map(|(what, n)| if n == 1 { what } else { format!("{what} ({n} times)") }).collect();
    Ok(drawn)
}

/// Lays strokes and inserted blocks into the drawing.
fn lay(
    held: &Held,
    blocks: &BTreeMap<String, Held>,
    by: &Motion,
    depth: usize,
    out: &mut Vec<Stroke>,
    over: &mut BTreeMap<String, usize>,
) -> Result<(), String> {
    if depth > DEEPEST || out.len() > 20_000 {
        return Err("blocks are inserted into each other without end: explode them before exporting".into());
    }
    for s in &held.strokes {
        out.push(Stroke { a: by.of(s.a), b: by.of(s.b), layer: s.layer.clone() });
    }
    for insert in &held.inserts {
        let Some(inner) = blocks.get(&insert.block) else {
            *over.entry(format!("INSERT of a block that is not there, \"{}\"", insert.block)).or_default() +=
                1;
            continue;
        };
        let turn = |v: DVec3| by.of(v) - by.to;
        let axes = insert.place.axes.map(turn);
        let to = by.of(insert.place.of(-inner.base));
        lay(inner, blocks, &Motion { axes, to }, depth + 1, out, over)?;
    }
    Ok(())
}

fn insert(body: &[Pair]) -> Result<Insert, String> {
    let get = |code: i32, or: f64| Ok::<f64, String>(number(body, code)?.unwrap_or(or));
    let plane = plane(body)?;
    let at = DVec3::new(get(10, 0.0)?, get(20, 0.0)?, get(30, 0.0)?);
    let (sin, cos) = get(50, 0.0)?.to_radians().sin_cos();
    let turned = |x: f64, y: f64, z: f64| plane.of(DVec3::new(x, y, z));
    let axes = [
        turned(cos, sin, 0.0) * get(41, 1.0)?,
        turned(-sin, cos, 0.0) * get(42, 1.0)?,
        turned(0.0, 0.0, 1.0) * get(43, 1.0)?,
    ];
    let block = body.iter().find(|b| b.code == 2).map_or("", |b| b.value).to_string();
    Ok(Insert { block, place: Motion { axes, to: plane.of(at) } })
}

/// The plane of a flat entity from its normal (group codes 210 to 230), by the format's rule for the axes
/// in it: where the normal is near to Z the first axis is Y × normal, otherwise Z × normal.
fn plane(body: &[Pair]) -> Result<Motion, String> {
    let normal = DVec3::new(
        number(body, 210)?.unwrap_or(0.0),
        number(body, 220)?.unwrap_or(0.0),
        number(body, 230)?.unwrap_or(1.0),
    );
    let n = normal.try_normalize().unwrap_or(DVec3::Z);
    let near = n.x.abs() < 1.0 / 64.0 && n.y.abs() < 1.0 / 64.0;
    let x = if near { DVec3::Y.cross(n) } else { DVec3::Z.cross(n) }.normalize();
    Ok(Motion { axes: [x, n.cross(x), n], to: DVec3::ZERO })
}

fn pairs(text: &str) -> Result<Vec<Pair<'_>>, String> {
    let mut out = Vec::new();
    let mut lines = text.lines().enumerate();
    while let Some((n, code)) = lines.next() {
        let code = code.trim();
        if code.is_empty() && out.last().is_some_and(|p: &Pair| p.value == "EOF") {
            break;
        }
        let code = code
            .parse()
            .map_err(|_| format!("line {}: \"{code}\" is not a DXF group code (a whole number)", n + 1))?;
        let Some((line, value)) = lines.next() else {
            return Err(format!("line {}: the file ends in the middle of a pair: it is cut off", n + 1));
        };
        out.push(Pair { code, value: value.trim(), line: line + 1 });
    }
    Ok(out)
}

/// `$INSUNITS`: 1 inches, 4 millimetres, 6 metres.
fn unit(pairs: &[Pair]) -> Option<Unit> {
    let at = pairs.iter().position(|p| p.code == 9 && p.value == "$INSUNITS")?;
    match pairs.get(at + 1)?.value {
        "1" => Some(Unit::Inch),
        "4" => Some(Unit::Mm),
        "6" => Some(Unit::Metre),
        _ => None,
    }
}

fn number(body: &[Pair], code: i32) -> Result<Option<f64>, String> {
    body.iter().find(|b| b.code == code).map(value).transpose()
}

fn value(p: &Pair) -> Result<f64, String> {
    let x: f64 = p.value.parse().map_err(|_| format!("line {}: \"{}\" is not a number", p.line, p.value))?;
    if x.is_finite() { Ok(x) } else { Err(format!("line {}: {x} is not a usable number", p.line)) }
}

/// Three coordinates: codes `first`, `first + 10`, `first + 20`; the last may be absent (flat drawing).
fn point(body: &[Pair], first: i32, line: usize) -> Result<DVec3, String> {
    let need = |c: i32| {
        number(body, c)?
            .ok_or_else(|| format!("line {line}: an entity here lacks its coordinate (group code {c})"))
    };
    Ok(DVec3::new(need(first)?, need(first + 10)?, number(body, first + 20)?.unwrap_or(0.0)))
}

fn corners(body: &[Pair], z: f64) -> Result<Vec<DVec3>, String> {
    let mut points: Vec<DVec3> = Vec::new();
    for b in body {
        match b.code {
            10 => points.push(DVec3::new(value(b)?, 0.0, z)),
            20 => {
                if let Some(p) = points.last_mut() {
                    p.y = value(b)?;
                }
            }
            _ => {}
        }
    }
    Ok(points)
}

fn flag(body: &[Pair]) -> Result<i64, String> {
    Ok(number(body, 70)?.unwrap_or(0.0) as i64)
}

fn layer(body: &[Pair]) -> String {
    body.iter().find(|b| b.code == 8).map_or(String::new(), |b| b.value.to_string())
}

fn chain(drawn: &mut Held, points: &[DVec3], closed: bool, layer: &str) {
    for w in points.windows(2) {
        drawn.strokes.push(Stroke { a: w[0], b: w[1], layer: layer.into() });
    }
    if closed && points.len() > 2 {
        drawn.strokes.push(Stroke { a: points[points.len() - 1], b: points[0], layer: layer.into() });
    }
}

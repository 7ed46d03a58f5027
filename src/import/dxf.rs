//! Text DXF: LINE, LWPOLYLINE and POLYLINE of the ENTITIES section, as group codes and values in
//! pairs of lines (the format's own public reference).

use super::{Drawn, Stroke, Unit};
use glam::DVec3;
use std::collections::BTreeMap;

struct Pair<'a> {
    code: i32,
    value: &'a str,
    line: usize,
}

pub fn read(text: &str) -> Result<Drawn, String> {
    let pairs = pairs(text)?;
    let mut drawn = Drawn { unit: unit(&pairs), ..Drawn::default() };
    let mut over: BTreeMap<String, usize> = BTreeMap::new();
    let mut section = "";
    let mut i = 0;
    // Vertices of an old-style POLYLINE still open, with its closed flag and layer.
    let mut open: Option<(Vec<DVec3>, bool, String)> = None;
    while i < pairs.len() {
        let p = &pairs[i];
        if p.code != 0 {
            i += 1;
            continue;
        }
        let end = (i + 1..pairs.len()).find(|&j| pairs[j].code == 0).unwrap_or(pairs.len());
        let body = &pairs[i + 1..end];
        match p.value {
            "SECTION" => section = body.iter().find(|b| b.code == 2).map_or("", |b| b.value),
            "ENDSEC" => section = "",
            kind if section == "ENTITIES" => match kind {
                "LINE" => {
                    let at = |c: i32| point(body, c, p.line);
                    drawn.strokes.push(Stroke { a: at(10)?, b: at(11)?, layer: layer(body) });
                }
                "LWPOLYLINE" => {
                    let z = number(body, 38)?.unwrap_or(0.0);
                    let points = corners(body, z)?;
                    chain(&mut drawn, &points, flag(body)? & 1 == 1, &layer(body));
                    if body.iter().any(|b| b.code == 42 && b.value.parse() != Ok(0.0)) {
                        *over.entry("curved piece of a polyline taken as straight".into()).or_default() += 1;
                    }
                }
                "POLYLINE" => open = Some((vec![], flag(body)? & 1 == 1, layer(body))),
                "VERTEX" => {
                    if let Some((points, ..)) = &mut open {
                        points.push(point(body, 10, p.line)?);
                    }
                }
                "SEQEND" => {
                    if let Some((points, closed, layer)) = open.take() {
                        chain(&mut drawn, &points, closed, &layer);
                    }
                }
                other => *over.entry(format!("{other} passed over")).or_default() += 1,
            },
            _ => {}
        }
        i = end;
    }
    drawn.passed_over =
        over.into_iter().map(|(what, n)| if n == 1 { what } else { format!("{what} ({n} times)") }).collect();
    Ok(drawn)
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

fn chain(drawn: &mut Drawn, points: &[DVec3], closed: bool, layer: &str) {
    for w in points.windows(2) {
        drawn.strokes.push(Stroke { a: w[0], b: w[1], layer: layer.into() });
    }
    if closed && points.len() > 2 {
        drawn.strokes.push(Stroke { a: points[points.len() - 1], b: points[0], layer: layer.into() });
    }
}

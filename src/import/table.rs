//! CSV: rows `point,NAME,X,Y,Z` and `bar,NAME,FROM,TO`. `#` begins a remark.

use super::{Drawn, Stroke};
use glam::DVec3;
use std::collections::BTreeMap;

pub fn read(text: &str) -> Result<Drawn, String> {
    let semicolons = text.lines().any(|l| {
        let l = l.trim().to_lowercase();
        l.starts_with("point;") || l.starts_with("bar;")
    });
    let mut rows = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .trim(csv::Trim::All)
        .comment(Some(b'#'))
        .delimiter(if semicolons { b';' } else { b',' })
        .from_reader(text.as_bytes());
    let mut points: BTreeMap<String, DVec3> = BTreeMap::new();
    let mut bars: Vec<(usize, String, String, String)> = Vec::new();
    for row in rows.records() {
        let row = row.map_err(|e| format!("this CSV file cannot be read: {e}"))?;
        let line = row.position().map_or(0, |p| p.line() as usize);
        let cell = |i: usize| row.get(i).unwrap_or("").to_string();
        match cell(0).to_lowercase().as_str() {
            "point" => {
                // A comma as decimal sign goes with semicolons between cells.
                let number = |i: usize| {
                    let text = if semicolons { cell(i).replace(',', ".") } else { cell(i) };
                    text.parse::<f64>()
                        .ok()
                        .filter(|x| x.is_finite())
                        .ok_or_else(|| format!("line {line}: \"{}\" is not a coordinate", cell(i)))
                };
                let at = DVec3::new(number(2)?, number(3)?, number(4)?);
                if points.insert(cell(1), at).is_some() {
                    return Err(format!("line {line}: there are two points called \"{}\"", cell(1)));
                }
            }
            "bar" => bars.push((line, cell(1), cell(2), cell(3))),
            "" => {}
            other => {
                return Err(format!("line {line}: a row begins with `point` or `bar`, not with \"{other}\""));
            }
        }
    }
    let mut drawn = Drawn::default();
    for (line, name, from, to) in bars {
        let end = |p: &str| {
            points
                .get(p)
                .copied()
                .ok_or_else(|| format!("line {line}: bar \"{name}\" ends at \"{p}\", which is no point"))
        };
        drawn.strokes.push(Stroke { a: end(&from)?, b: end(&to)?, layer: name.clone() });
    }
    Ok(drawn)
}

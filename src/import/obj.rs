//! OBJ: `v x y z` points and `l i j k …` line elements; `o` and `g` give names. Faces are passed over.

use super::{Drawn, Stroke};
use glam::DVec3;

pub fn read(text: &str) -> Result<Drawn, String> {
    let mut drawn = Drawn::default();
    let mut points: Vec<DVec3> = Vec::new();
    let mut name = String::new();
    let mut faces = 0;
    for (n, line) in text.lines().enumerate() {
        let mut words = line.split('#').next().unwrap_or("").split_whitespace();
        let at = n + 1;
        match words.next() {
            Some("v") => {
                let xyz: Vec<f64> = words
                    .take(3)
                    .map(|w| w.parse::<f64>().ok().filter(|x| x.is_finite()))
                    .collect::<Option<_>>()
                    .filter(|v: &Vec<f64>| v.len() == 3)
                    .ok_or_else(|| format!("line {at}: a point needs three numbers: \"{}\"", line.trim()))?;
                points.push(DVec3::new(xyz[0], xyz[1], xyz[2]));
            }
            Some("l") => {
                let mut before: Option<DVec3> = None;
                for w in words {
                    let p = point(w, &points).ok_or_else(|| {
                        format!("line {at}: \"{w}\" names no point; there are {} so far", points.len())
                    })?;
                    if let Some(a) = before {
                        drawn.strokes.push(Stroke { a, b: p, layer: name.clone() });
                    }
                    before = Some(p);
                }
            }
            Some("o" | "g") => name = words.collect::<Vec<_>>().join("-"),
            Some("f") => faces += 1,
            _ => {}
        }
    }
    if faces > 0 {
        drawn.passed_over.push(format!("{faces} faces passed over: only line elements become tubes"));
    }
    Ok(drawn)
}

/// A point by its number from 1, or backwards from -1; `7/2` names point 7.
fn point(word: &str, points: &[DVec3]) -> Option<DVec3> {
    let i: i64 = word.split('/').next()?.parse().ok()?;
    let at = if i > 0 { i - 1 } else { points.len() as i64 + i };
    points.get(usize::try_from(at).ok()?).copied()
}

//! Loose strokes become a wireframe: units, snapped ends, joined runs, split crossings.

use super::{Drawn, Stroke, Unit};
use glam::DVec3;

/// A wireframe in mm: points, and runs through them.
#[derive(Debug, Clone, Default)]
pub struct Wire {
    pub points: Vec<DVec3>,
    pub runs: Vec<Run>,
}

/// One tube-to-be: at least two points, in order along a straight line.
#[derive(Debug, Clone)]
pub struct Run {
    pub points: Vec<usize>,
    pub layer: String,
}

/// The strokes in millimetres.
pub fn to_mm(drawn: &Drawn, said: Option<Unit>, guesses: &mut Vec<String>) -> Vec<Stroke> {
    let unit = said.or(drawn.unit).unwrap_or_else(|| {
        let size = size(&drawn.strokes);
        let unit = if size < 30.0 {
            Unit::Metre
        } else if size < 200.0 {
            Unit::Inch
        } else {
            Unit::Mm
        };
        guesses.push(format!(
            "the file does not say its unit; the drawing is {size:.1} across, so it was taken as {} (--drawn-in says it)",
            unit.word()
        ));
        unit
    });
    drawn
        .strokes
        .iter()
        .map(|s| Stroke { a: s.a * unit.mm(), b: s.b * unit.mm(), layer: s.layer.clone() })
        .collect()
}

fn size(strokes: &[Stroke]) -> f64 {
    let ends = || strokes.iter().flat_map(|s| [s.a, s.b]);
    let low = ends().fold(DVec3::INFINITY, DVec3::min);
    let high = ends().fold(DVec3::NEG_INFINITY, DVec3::max);
    (high - low).max_element()
}

/// Snap ends, drop doubles, put ends that lie on a line into its run, split crossings, join pieces
/// in line.
pub fn snap(strokes: &[Stroke], within: f64, guesses: &mut Vec<String>) -> Wire {
    let mut wire = Wire::default();
    let mut moved = 0.0f64;
    let mut pairs: Vec<(usize, usize, String)> = Vec::new();
    let (mut short, mut double) = (0, 0);
    for s in strokes {
        let mut at = |p: DVec3| {
            if let Some(i) = (0..wire.points.len()).find(|&i| wire.points[i].distance(p) <= within) {
                moved = moved.max(wire.points[i].distance(p));
                return i;
            }
            wire.points.push(p);
            wire.points.len() - 1
        };
        let (a, b) = (at(s.a), at(s.b));
        if a == b {
            short += 1;
        } else if pairs.iter().any(|p| (p.0, p.1) == (a, b) || (p.0, p.1) == (b, a)) {
            double += 1;
        } else {
            pairs.push((a, b, s.layer.clone()));
        }
    }
    if moved > 1e-6 {
        guesses.push(format!("ends up to {moved:.3} mm apart were taken as one point"));
    }
    if short > 0 {
        guesses.push(format!("{short} lines shorter than {within} mm were left out"));
    }
    if double > 0 {
        guesses.push(format!("{double} lines drawn twice were taken once"));
    }
    let mut runs: Vec<Run> =
        pairs.into_iter().map(|(a, b, layer)| Run { points: vec![a, b], layer }).collect();
    join(&wire.points, &mut runs, within, guesses);
    cross(&mut wire.points, &mut runs, within, guesses);
    land(&wire.points, &mut runs, within, guesses);
    wire.runs = runs;
    wire
}

/// Pieces of one layer that go on in line become one run, if nothing else of their layer decides.
fn join(points: &[DVec3], runs: &mut Vec<Run>, within: f64, guesses: &mut Vec<String>) {
    let mut joined = 0;
    'again: loop {
        for i in 0..runs.len() {
            for j in i + 1..runs.len() {
                if runs[i].layer != runs[j].layer {
                    continue;
                }
                let Some(together) = in_line(points, &runs[i].points, &runs[j].points, within) else {
                    continue;
                };
                runs[i].points = together;
                runs.remove(j);
                joined += 1;
                continue 'again;
            }
        }
        break;
    }
    if joined > 0 {
        guesses.push(format!("{joined} lines that go on in line with another were joined to one tube"));
    }
}

fn in_line(points: &[DVec3], a: &[usize], b: &[usize], within: f64) -> Option<Vec<usize>> {
    let turned = |r: &[usize]| r.iter().rev().copied().collect::<Vec<_>>();
    let (fa, la) = (a[0], a[a.len() - 1]);
    let (fb, lb) = (b[0], b[b.len() - 1]);
    let (head, tail) = match () {
        () if la == fb => (a.to_vec(), b.to_vec()),
        () if la == lb => (a.to_vec(), turned(b)),
        () if fa == lb => (b.to_vec(), a.to_vec()),
        () if fa == fb => (turned(b), a.to_vec()),
        () => return None,
    };
    let (start, mid, end) = (points[head[0]], points[tail[0]], points[tail[tail.len() - 1]]);
    let along = (end - start).normalize_or_zero();
    let off = (mid - start).reject_from_normalized(along).length();
    let onward = (mid - start).dot(along) > 0.0 && (end - mid).dot(along) > 0.0;
    (off <= within && onward).then(|| head.iter().chain(&tail[1..]).copied().collect())
}

/// Two runs that cross: the first runs through, the second is cut in two.
fn cross(points: &mut Vec<DVec3>, runs: &mut Vec<Run>, within: f64, guesses: &mut Vec<String>) {
    let mut cut = 0;
    let mut i = 0;
    while i < runs.len() {
        let mut j = i + 1;
        while j < runs.len() {
            if let Some(p) = crossing(points, &runs[i].points, &runs[j].points, within) {
                points.push(p);
                let new = points.len() - 1;
                insert(points, &mut runs[i].points, new);
                insert(points, &mut runs[j].points, new);
                let at = runs[j].points.iter().position(|&q| q == new).expect("just put in");
                let rest = runs[j].points.split_off(at);
                runs[j].points.push(new);
                let layer = runs[j].layer.clone();
                runs.push(Run { points: rest, layer });
                cut += 1;
            }
            j += 1;
        }
        i += 1;
    }
    if cut > 0 {
        guesses.push(format!("{cut} crossings: the tube drawn first runs through, the other was cut in two"));
    }
}

/// The place where two straight runs cross inside both, if they do.
fn crossing(points: &[DVec3], a: &[usize], b: &[usize], within: f64) -> Option<DVec3> {
    let (p, q) = (points[a[0]], points[b[0]]);
    let (u, v) = (points[a[a.len() - 1]] - p, points[b[b.len() - 1]] - q);
    let n = u.cross(v);
    if n.length() < 1e-6 * u.length() * v.length() {
        return None;
    }
    let w = q - p;
    let s = w.cross(v).dot(n) / n.length_squared();
    let t = w.cross(u).dot(n) / n.length_squared();
    let inside = |x: f64, l: f64| x * l > within && (1.0 - x) * l > within;
    let (at, other) = (p + u * s, q + v * t);
    (inside(s, u.length()) && inside(t, v.length()) && at.distance(other) <= within).then_some(at)
}

/// Ends that lie on another run are listed inside it.
fn land(points: &[DVec3], runs: &mut [Run], within: f64, guesses: &mut Vec<String>) {
    let ends: Vec<usize> = runs.iter().flat_map(|r| [r.points[0], r.points[r.points.len() - 1]]).collect();
    let mut landed = 0;
    for run in runs.iter_mut() {
        let (a, b) = (points[run.points[0]], points[run.points[run.points.len() - 1]]);
        for &e in &ends {
            if run.points.contains(&e) {
                continue;
            }
            let along = (b - a).normalize();
            let x = (points[e] - a).dot(along);
            let off = (points[e] - a).reject_from_normalized(along).length();
            if off <= within && x > within && x < (b - a).length() - within {
                insert(points, &mut run.points, e);
                landed += 1;
            }
        }
    }
    if landed > 0 {
        guesses.push(format!("{landed} ends lie on another tube, which was taken to run through"));
    }
}

fn insert(points: &[DVec3], run: &mut Vec<usize>, new: usize) {
    run.push(new);
    let start = points[run[0]];
    run.sort_by(|&a, &b| points[a].distance(start).total_cmp(&points[b].distance(start)));
}

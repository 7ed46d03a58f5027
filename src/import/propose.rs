//! What a drawing of centre lines cannot say, proposed from its shape: dimensions that must come out true,
//! and places for clamps. All of it is the user's to change, and said to be a guess.

use super::snap::Wire;
use glam::DVec3;

/// Dimensions and clamp places for a wireframe.
#[derive(Debug, Clone, Default)]
pub struct Proposal {
    /// Name of each control and what stands behind it in the frame file.
    pub controls: Vec<(String, String)>,
    /// Name of each clamp and what stands behind it.
    pub clamps: Vec<(String, String)>,
    /// The axis square to the frame, where it is flat.
    pub flat: Option<char>,
}

/// A corner of the frame may lie so far from the corner of the box around it, as a share of the box's side.
const NEAR_CORNER: f64 = 0.25;
/// A side shorter than this share of the longest is no side of a frame to be measured across.
const THIN: f64 = 0.1;

const LETTERS: [char; 3] = ['X', 'Y', 'Z'];
const SIDES: [[&str; 2]; 3] = [["back", "front"], ["right", "left"], ["low", "high"]];
const WAYS: [&str; 3] = ["length", "width", "height"];

/// Proposals; empty where the shape suggests nothing.
pub fn propose(wire: &Wire, within: f64) -> Proposal {
    if wire.runs.len() < 2 {
        return Proposal::default();
    }
    let used: Vec<usize> =
        (0..wire.points.len()).filter(|i| wire.runs.iter().any(|r| r.points.contains(i))).collect();
    let at = |i: usize| wire.points[i];
    let low = used.iter().map(|&i| at(i)).fold(DVec3::INFINITY, DVec3::min);
    let high = used.iter().map(|&i| at(i)).fold(DVec3::NEG_INFINITY, DVec3::max);
    let size = high - low;
    // The two longest sides of the box span the frame; the third is its depth. Ties: X before Y before Z.
    let mut axes = [0, 1, 2];
    axes.sort_by(|&a, &b| size[b].total_cmp(&size[a]).then(a.cmp(&b)));
    let [u, v, w] = axes;
    let mut out = Proposal { flat: (size[w] <= within).then(|| LETTERS[w]), ..Proposal::default() };
    let four = corners(wire, &used, [low, high], [u, v, w]).filter(|_| size[v] > THIN * size[u]);
    match four {
        Some(c) => {
            for (axis, other, pairs) in [(u, v, [[0, 1], [3, 2]]), (v, u, [[0, 3], [1, 2]])] {
                for (pair, side) in pairs.iter().zip(SIDES[other]) {
                    let of = pair.map(|k| format!("\"p{}\"", c[k] + 1)).join(", ");
                    let name = format!("{}-{side}", WAYS[axis]);
                    out.controls.push((name, format!("kind = \"distance\", of = [{of}], tolerance = \"B\"")));
                }
            }
            // A frame with depth: how deep it is at two corners across from each other.
            for (k, [side_u, side_v]) in [(0, [0, 0]), (2, [1, 1])] {
                let Some(over) = across(wire, &used, c[k], w, THIN * size[u]) else { continue };
                let name = format!("{}-{}-{}", WAYS[w], SIDES[u][side_u], SIDES[v][side_v]);
                let of = format!("\"p{}\", \"p{}\"", c[k] + 1, over + 1);
                out.controls.push((name, format!("kind = \"distance\", of = [{of}], tolerance = \"B\"")));
            }
            let of = c.map(|i| format!("\"p{}\"", i + 1)).join(", ");
            for (name, kind, class) in [("diagonals", "squareness", "B"), ("flat", "twist", "F")] {
                let line = format!("kind = \"{kind}\", of = [{of}], tolerance = \"{class}\"");
                out.controls.push((name.into(), line));
            }
            let names =
                [[0, 0], [1, 0], [1, 1], [0, 1]].map(|[a, b]| format!("{}-{}", SIDES[u][a], SIDES[v][b]));
            for (n, (name, point)) in names.into_iter().zip(c).enumerate() {
                let holds = if n == 0 { "XYZ".into() } else { format!("{}{}", LETTERS[v], LETTERS[w]) };
                out.clamps.push((name, format!("point = \"p{}\", holds = \"{holds}\"", point + 1)));
            }
        }
        None => {
            if let Some((a, b)) = farthest(wire, &used) {
                let line =
                    format!("kind = \"distance\", of = [\"p{}\", \"p{}\"], tolerance = \"B\"", a + 1, b + 1);
                out.controls.push(("over-all".into(), line));
                out.clamps.push(("one-end".into(), format!("point = \"p{}\", holds = \"XYZ\"", a + 1)));
            }
        }
    }
    out.controls.extend(bow(wire));
    out
}

/// Four points, each the nearest to a corner of the box on its low side in `w` (else on its high side), in
/// turn; none if two are the same, or one is far from its corner.
fn corners(wire: &Wire, used: &[usize], span: [DVec3; 2], [u, v, w]: [usize; 3]) -> Option<[usize; 4]> {
    let [low, high] = span;
    let size = high - low;
    let on = |side: DVec3| {
        let mut found = [0; 4];
        for (n, (at_u, at_v)) in [(low, low), (high, low), (high, high), (low, high)].into_iter().enumerate()
        {
            let mut corner = DVec3::ZERO;
            (corner[u], corner[v], corner[w]) = (at_u[u], at_v[v], side[w]);
            let far = |i: usize| wire.points[i].distance(corner);
            let nearest = used.iter().copied().min_by(|&a, &b| far(a).total_cmp(&far(b)).then(a.cmp(&b)))?;
            if far(nearest) > NEAR_CORNER * size[v] {
                return None;
            }
            found[n] = nearest;
        }
        let mut sorted = found;
        sorted.sort_unstable();
        sorted.windows(2).all(|p| p[0] != p[1]).then_some(found)
    };
    on(low).or_else(|| on(high))
}

/// The farthest point straight across from this one along an axis, if there is one beyond `least`.
fn across(wire: &Wire, used: &[usize], from: usize, axis: usize, least: f64) -> Option<usize> {
    let way = |i: usize| wire.points[i] - wire.points[from];
    let straight = |i: usize| way(i).length() - way(i)[axis].abs() < 0.01 * way(i).length();
    let far = |i: &usize| (way(*i)[axis].abs() * 1e3).round() as i64;
    let found = used.iter().copied().filter(|&i| i != from && straight(i)).max_by_key(far)?;
    (way(found)[axis].abs() > least.max(1.0)).then_some(found)
}

fn farthest(wire: &Wire, used: &[usize]) -> Option<(usize, usize)> {
    let pairs = used.iter().flat_map(|&a| used.iter().filter(move |&&b| b > a).map(move |&b| (a, b)));
    let far = |p: &(usize, usize)| (wire.points[p.0].distance(wire.points[p.1]) * 1e3).round() as i64;
    // The first of several that are equally far.
    pairs.max_by(|a, b| far(a).cmp(&far(b)).then(b.cmp(a)))
}

/// The bow of the longest tube along an axis that carries another inside its length, towards that other.
fn bow(wire: &Wire) -> Option<(String, String)> {
    let ends = |points: &[usize]| (wire.points[points[0]], wire.points[points[points.len() - 1]]);
    let mut best: Option<(f64, usize, char)> = None;
    for (n, run) in wire.runs.iter().enumerate() {
        let (a, b) = ends(&run.points);
        let along = (b - a).normalize_or_zero();
        if along.abs().max_element() < 0.9998 || best.is_some_and(|x| (b - a).length() <= x.0 + 1e-6) {
            continue;
        }
        let inside = &run.points[1..run.points.len() - 1];
        let landing = wire.runs.iter().enumerate().find_map(|(m, r)| {
            let end = [r.points[0], r.points[r.points.len() - 1]];
            let (from, to) = ends(&r.points);
            (m != n && end.iter().any(|e| inside.contains(e))).then(|| (to - from).reject_from(along).abs())
        });
        let Some(across) = landing.filter(|d| d.length() > 1e-6) else { continue };
        let axis = (0..3).max_by(|&x, &y| across[x].total_cmp(&across[y])).expect("three axes");
        best = Some(((b - a).length(), n, LETTERS[axis]));
    }
    let (_, n, axis) = best?;
    let name = &super::write::names(wire)[n];
    let line = format!("kind = \"bow\", of = [\"{name}\"], direction = \"{axis}\", tolerance = \"F\"");
    Some((format!("{name}-straight"), line))
}

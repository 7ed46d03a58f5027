//! Which meets make one joint, and what joints are called.
//!
//! Two meets that have a tube in common belong to one joint if they are at the same place of that
//! tube (within 1 mm along it) or if their weld lines come nearer than 1 mm. A bar along another tube
//! is a joint of its own. Joints are numbered by the place of their carrier in the file and the
//! place along it; seams get their letters carrier by carrier, in the order of the file.

use super::curve::{Curve, curves};
use super::find::{Found, contacts, trims};
use super::place::axes;
use super::{Joint, Meet, MeetKind, Side};
use crate::frame::Frame;
use glam::DVec3;

/// Meets nearer than this are one place, mm.
const SAME_MM: f64 = 1.0;

/// Joints, without sides and mirror images, and the meets sorted by joint.
pub(crate) fn group(frame: &Frame, found: &[Found]) -> (Vec<Joint>, Vec<Found>) {
    let meets: Vec<Meet> = found.iter().map(|f| f.meet.clone()).collect();
    let trims = trims(frame, &meets);
    let lines: Vec<Vec<DVec3>> =
        meets.iter().map(|m| samples(&curves(frame, m, &contacts(frame, m, &trims)))).collect();
    let boxes: Vec<(DVec3, DVec3)> = lines.iter().map(|l| around(l)).collect();
    let mut root: Vec<usize> = (0..meets.len()).collect();
    for i in 0..meets.len() {
        for k in 0..i {
            if same_place(&meets[i], &meets[k])
                || (overlap(&boxes[i], &boxes[k])
                    && share(&meets[i], &meets[k])
                    && touch(&lines[i], &lines[k]))
            {
                let (a, b) = (find_root(&root, i), find_root(&root, k));
                root[a.max(b)] = a.min(b);
            }
        }
    }
    let mut groups: std::collections::BTreeMap<usize, Vec<usize>> = Default::default();
    for i in 0..meets.len() {
        groups.entry(find_root(&root, i)).or_default().push(i);
    }
    let mut groups: Vec<Vec<usize>> = groups.into_values().collect();
    for g in &mut groups {
        g.sort_by_key(|&i| order(&meets[i]));
    }
    groups.sort_by_key(|g| order(&meets[g[0]]));
    // of meets that share a joint the pair of ends comes first, then the order of the file
    let mut joints = Vec::new();
    let mut sorted = Vec::new();
    for (j, g) in groups.iter_mut().enumerate() {
        g.sort_by_key(|&i| (!matches!(meets[i].kind, MeetKind::Butt | MeetKind::Mitre), order(&meets[i])));
        let first = sorted.len();
        let at = g.iter().map(|&i| carrier_place(frame, &meets[i])).sum::<DVec3>() / g.len() as f64;
        for &i in g.iter() {
            let mut f = found[i].clone();
            f.meet.joint = j;
            sorted.push(f);
        }
        let members: Vec<&Meet> = g.iter().map(|&i| &meets[i]).collect();
        joints.push(Joint {
            name: format!("J{}", j + 1),
            at,
            tubes: tubes(&members),
            meets: (first..sorted.len()).collect(),
            mirror: None,
            side: Side::Centre,
        });
    }
    (joints, sorted)
}

/// Place in the numbering: carrier, place along it (to 0.01 mm, so that turning the frame in space
/// changes nothing), branch.
fn order(m: &Meet) -> (usize, i64, usize, i64) {
    let hundredths = |s: f64| (s * 100.0).round() as i64;
    (m.carriers[0].0, hundredths(m.carriers[0].1), m.branch.0, hundredths(m.branch.1))
}

fn find_root(root: &[usize], mut i: usize) -> usize {
    while root[i] != i {
        i = root[i];
    }
    i
}

fn places(m: &Meet) -> impl Iterator<Item = (usize, f64)> + '_ {
    std::iter::once(m.branch).chain(m.carriers.iter().map(|c| (c.0, c.1)))
}

fn same_place(a: &Meet, b: &Meet) -> bool {
    a.kind != MeetKind::Along
        && b.kind != MeetKind::Along
        && places(a).any(|(t, s)| places(b).any(|(u, r)| t == u && (s - r).abs() < SAME_MM))
}

fn share(a: &Meet, b: &Meet) -> bool {
    a.kind != MeetKind::Along
        && b.kind != MeetKind::Along
        && places(a).any(|(t, _)| places(b).any(|(u, _)| t == u))
}

fn samples(curves: &[Curve]) -> Vec<DVec3> {
    const PER_PIECE: usize = 12;
    curves
        .iter()
        .flat_map(|c| (0..c.pieces.len()).map(move |p| (c, p)))
        .flat_map(|(c, p)| (0..=PER_PIECE).map(move |i| c.place(p, i as f64 / PER_PIECE as f64).at))
        .collect()
}

/// The box around points that is [`SAME_MM`] too large on each side.
fn around(points: &[DVec3]) -> (DVec3, DVec3) {
    let low = points.iter().copied().fold(DVec3::INFINITY, DVec3::min);
    let high = points.iter().copied().fold(DVec3::NEG_INFINITY, DVec3::max);
    (low - SAME_MM, high + SAME_MM)
}

fn overlap(a: &(DVec3, DVec3), b: &(DVec3, DVec3)) -> bool {
    a.0.cmple(b.1).all() && b.0.cmple(a.1).all()
}

fn touch(a: &[DVec3], b: &[DVec3]) -> bool {
    // chords between samples are a few millimetres long, so measure point to chord
    let far = |p: DVec3, q: &[DVec3]| {
        let step = q[1] - q[0];
        let t = ((p - q[0]).dot(step) / step.length_squared().max(1e-12)).clamp(0.0, 1.0);
        p.distance(q[0] + step * t)
    };
    let near = |a: &[DVec3], b: &[DVec3]| a.iter().any(|p| b.windows(2).any(|q| far(*p, q) < SAME_MM));
    near(a, b) || near(b, a)
}

fn carrier_place(frame: &Frame, m: &Meet) -> DVec3 {
    m.carriers.iter().map(|c| axes(&frame.tubes[c.0], c.1).at * c.2).sum()
}

fn tubes(meets: &[&Meet]) -> Vec<(usize, f64)> {
    let mut out: Vec<(usize, f64)> = Vec::new();
    let carriers = meets.iter().flat_map(|m| m.carriers.iter().map(|c| (c.0, c.1)));
    for (t, s) in carriers.chain(meets.iter().map(|m| m.branch)) {
        if !out.iter().any(|o| o.0 == t && (o.1 - s).abs() < SAME_MM) {
            out.push((t, s));
        }
    }
    out
}

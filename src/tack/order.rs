//! The order in which tacks are laid: outward from the datum, opposite ones before neighbours,
//! mirror joints in turn, the seams that close a loop last.

use super::Tack;
use crate::joint::Joints;

/// All tacks in order, and where the second round begins.
///
/// First round: an opposite pair on every seam, so that every tube is held; first the seams that bring
/// a new tube in, nearest to the datum first, then those that close a loop. Second round: the rest, in
/// the same order of seams.
pub fn order(joints: &Joints, by_seam: Vec<Vec<Tack>>) -> (Vec<Tack>, usize) {
    let seams = seam_order(joints);
    let mut tacks: Vec<Tack> = Vec::new();
    for &s in &seams {
        tacks.extend(by_seam[s].iter().take(2).cloned());
    }
    let second_round = tacks.len();
    for &s in &seams {
        tacks.extend(by_seam[s].iter().skip(2).cloned());
    }
    (tacks, second_round)
}

/// Seams outward from the first joint, mirror joints side by side, closing seams last.
fn seam_order(joints: &Joints) -> Vec<usize> {
    let n = joints.meets.len();
    let mut seams: Vec<usize> = (0..n).collect();
    let far = |s: usize| {
        let j = joints.meets[s].joint;
        let d = joints.steel_mm[0][j];
        // Mirror joints are equally far but for rounding: compare whole millimetres, then the pair.
        let whole = if d.is_finite() { d.round() as i64 } else { i64::MAX };
        let pair = joints.joints[j].mirror.map_or(j, |m| m.min(j));
        (whole, pair, j, s)
    };
    seams.sort_by_key(|&s| far(s));
    let tubes = joints.meets.iter().flat_map(|m| m.carriers.iter().map(|c| c.0).chain([m.branch.0])).max();
    let mut together = petgraph::unionfind::UnionFind::<usize>::new(tubes.map_or(0, |t| t + 1));
    let (mut opening, mut closing) = (Vec::new(), Vec::new());
    for s in seams {
        let m = &joints.meets[s];
        let mut new = false;
        for c in &m.carriers {
            new |= together.union(c.0, m.branch.0);
        }
        if new { opening.push(s) } else { closing.push(s) }
    }
    opening.extend(closing);
    opening
}

//! The order in which tacks are laid: outward from the datum, opposite ones before neighbours,
//! mirror joints in turn, the seams that close a loop last.

use super::Tack;
use crate::frame::Frame;
use crate::joint::{Joints, Side};

/// All tacks in order, and where the second round begins.
///
/// First round: an opposite pair on every seam, so that every tube is held; first the seams that bring
/// a new tube in, nearest to the datum first, then those that close a loop. Second round: the rest, in
/// the same order of seams.
pub fn order(frame: &Frame, joints: &Joints, by_seam: Vec<Vec<Tack>>) -> (Vec<Tack>, usize) {
    let seams = seam_order(joints, datum(frame, joints));
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

/// The joint that tacking starts from: on the symmetry plane, if there is one, the joint from which
/// the steel is shortest to all others, so that the work goes outward evenly to both sides; else the
/// joint nearest to the first clamp on its tube; else again the one in the middle of the steel.
pub fn datum(frame: &Frame, joints: &Joints) -> usize {
    let all = 0..joints.joints.len();
    let middle = |mut of: Vec<usize>| {
        let sum = |j: usize| joints.steel_mm[j].iter().filter(|d| d.is_finite()).sum::<f64>();
        of.sort_by(|&a, &b| sum(a).round().total_cmp(&sum(b).round()).then(a.cmp(&b)));
        of.first().copied()
    };
    let centre: Vec<usize> = all.clone().filter(|&j| joints.joints[j].side == Side::Centre).collect();
    if joints.symmetry.is_some()
        && let Some(j) = middle(centre)
    {
        return j;
    }
    let clamp = frame.clamps.first().and_then(|c| {
        let on = all.clone().flat_map(|j| joints.joints[j].tubes.iter().map(move |t| (j, t)));
        on.filter(|(_, t)| t.0 == c.tube)
            .min_by(|a, b| (a.1.1 - c.at_mm).abs().total_cmp(&(b.1.1 - c.at_mm).abs()))
            .map(|(j, _)| j)
    });
    clamp.or_else(|| middle(all.collect())).unwrap_or(0)
}

/// Seams outward from the datum, mirror joints in turn, closing seams last.
fn seam_order(joints: &Joints, datum: usize) -> Vec<usize> {
    let mut seams: Vec<usize> = (0..joints.meets.len()).collect();
    let far = |s: usize| {
        let j = joints.meets[s].joint;
        let d = joints.steel_mm[datum][j];
        // Mirror joints are equally far but for rounding: compare whole millimetres, then the pair.
        let whole = if d.is_finite() { d.round() as i64 } else { i64::MAX };
        let pair = joints.joints[j].mirror.map_or(j, |m| m.min(j));
        // Left and right in turn, seam by seam: so no side gets ahead, and no joint is tacked twice
        // running.
        let rank = joints.joints[j].meets.iter().position(|&m| m == s).unwrap_or(0);
        (whole, pair, rank, j, s)
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

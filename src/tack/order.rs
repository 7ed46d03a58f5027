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
    let seams = seam_order(frame, joints, datum(frame, joints));
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

/// Directions of clamps that keep a tube in place but for turning about its own line.
const HELD_BY: usize = 5;

/// Tubes that the clamps of the first setup hold by themselves.
fn held(frame: &Frame) -> Vec<usize> {
    (0..frame.tubes.len())
        .filter(|&t| {
            let on = frame.clamps.iter().filter(|c| c.tube == t);
            let here = on.filter(|c| c.setups.is_empty() || c.setups.contains(&0));
            here.map(|c| c.holds.len()).sum::<usize>() >= HELD_BY
        })
        .collect()
}

/// The joint that tacking starts from: on a tube that the fixture holds, if it holds one; on the
/// symmetry plane, if there is one; of those left, the joint from which the steel is shortest to all
/// others, so that the work goes outward evenly.
pub fn datum(frame: &Frame, joints: &Joints) -> usize {
    let held = held(frame);
    let sum = |j: usize| joints.steel_mm[j].iter().filter(|d| d.is_finite()).sum::<f64>().round();
    let key = |&j: &usize| {
        let joint = &joints.joints[j];
        let off = joints.symmetry.is_some() && joint.side != Side::Centre;
        (!joint.tubes.iter().any(|t| held.contains(&t.0)), off)
    };
    (0..joints.joints.len())
        .min_by(|a, b| key(a).cmp(&key(b)).then(sum(*a).total_cmp(&sum(*b))).then(a.cmp(b)))
        .unwrap_or(0)
}

/// Seams outward from the datum, mirror joints in turn, closing seams last. Each seam that brings a
/// tube in joins it to one that is held by the fixture or tacked already; among those the nearest to
/// the datum along the steel comes first.
fn seam_order(frame: &Frame, joints: &Joints, datum: usize) -> Vec<usize> {
    let mut left: Vec<usize> = (0..joints.meets.len()).collect();
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
    left.sort_by_key(|&s| far(s));
    let tubes = |s: usize| {
        let m = &joints.meets[s];
        m.carriers.iter().map(|c| c.0).chain([m.branch.0])
    };
    let mut in_place: Vec<bool> = vec![false; frame.tubes.len()];
    held(frame).into_iter().for_each(|t| in_place[t] = true);
    joints.joints.get(datum).and_then(|j| j.tubes.first()).into_iter().for_each(|t| in_place[t.0] = true);
    let mut together = petgraph::unionfind::UnionFind::<usize>::new(frame.tubes.len());
    let (mut opening, mut closing) = (Vec::new(), Vec::new());
    while !left.is_empty() {
        // A part that nothing leads to begins on its own.
        let next = left.iter().position(|&s| tubes(s).any(|t| in_place[t])).unwrap_or(0);
        let s = left.remove(next);
        tubes(s).for_each(|t| in_place[t] = true);
        let m = &joints.meets[s];
        let mut new = false;
        for c in &m.carriers {
            new |= together.union(c.0, m.branch.0);
        }
        if new { opening.push(s) } else { closing.push(s) }
    }
    closing.sort_by_key(|&s| far(s));
    opening.extend(closing);
    opening
}

//! The rules that may fall short, in their ranks, one function each.
//!
//! Words used below. *Before* means in an earlier step; passes of one step are laid at the same
//! time. A *stay* is a run of steps in one setup; a turn ends it. `steps` always holds the whole
//! order, with the steps that are welded already at its front.

use super::plain::Plain;
use super::{Question, Relaxed, Step};

/// Names of the ranked rules, highest rank first: the last one is relaxed first.
pub const RANKS: [&str; 5] = ["same joint twice", "spacing", "opposite", "side balance", "distance"];

/// Total shortfall of each rank, in the order of [`RANKS`]: times, steps, times, microjoules,
/// nanometres. Compared from the front, so a higher rank always decides first.
pub type Score = [i64; 5];

/// Every shortfall of an order, by rank and then by place in the order.
pub fn shortfalls(q: &Question, steps: &[Step]) -> Vec<Relaxed> {
    let plain = Plain::new(q);
    let mut found = same_joint(&plain, steps);
    found.extend(spacing(&plain, steps));
    found.extend(opposite(&plain, steps));
    found.extend(balance(&plain, steps));
    found.extend(distance(&plain, steps));
    found
}

/// Total shortfall of each rank of an order.
pub fn score(q: &Question, steps: &[Step]) -> Score {
    total(&Plain::new(q), steps)
}

/// As [`score`], on ready tables.
pub(crate) fn total(plain: &Plain, steps: &[Step]) -> Score {
    let uj = |v: &[Relaxed]| v.iter().map(|r| ((r.actual - r.required) * 1e6).round() as i64).sum();
    let lack =
        |v: &[Relaxed], per: f64| v.iter().map(|r| ((r.required - r.actual) * per).round() as i64).sum();
    [
        same_joint(plain, steps).len() as i64,
        lack(&spacing(plain, steps), 1.0),
        opposite(plain, steps).iter().map(|r| r.actual.round() as i64).sum(),
        uj(&balance(plain, steps)),
        lack(&distance(plain, steps), 1e6),
    ]
}

/// Never the same joint twice running.
///
/// Shortfall of a pass: 1 if the step just before holds a pass on the same joint, else 0.
/// Required 1 (other step between), actual 0.
fn same_joint(plain: &Plain, steps: &[Step]) -> Vec<Relaxed> {
    let mut found = Vec::new();
    for s in 1..steps.len() {
        for l in &steps[s].passes {
            let joint = plain.q.passes[l.pass].joint;
            if steps[s - 1].passes.iter().any(|b| plain.q.passes[b.pass].joint == joint) {
                found.push(relaxed(plain, steps, s, 0, l.pass, 1.0, 0.0));
            }
        }
    }
    found
}

/// `spacing` other steps before the same joint again.
///
/// Shortfall of a pass: `spacing` minus the number of steps between it and the last step before it
/// that holds a pass on the same joint, if positive. The first pass of a joint has none.
fn spacing(plain: &Plain, steps: &[Step]) -> Vec<Relaxed> {
    let mut last = vec![None; plain.joints];
    let mut found = Vec::new();
    for (s, step) in steps.iter().enumerate() {
        for l in &step.passes {
            let joint = plain.q.passes[l.pass].joint;
            if let Some(before) = last[joint] {
                let between = s as i64 - before as i64 - 1;
                if between < plain.spacing {
                    found.push(relaxed(plain, steps, s, 1, l.pass, plain.spacing as f64, between as f64));
                }
            }
        }
        for l in &step.passes {
            last[plain.q.passes[l.pass].joint] = Some(s);
        }
    }
    found
}

/// Opposite: once a segment is welded, no other of that seam and layer before its partner.
///
/// Shortfall of a pass p: the number of pairs of its seam that stand open before it (one pass is
/// welded, its partner is not), p itself not being that partner, and which p passes over:
/// - a pair whose partner cannot be welded in the present setup is never passed over: it waits;
/// - a pair opened in this stay is passed over by p of the same layer;
/// - a pair opened in an earlier stay is passed over by p of any layer, because the partner should
///   be the first of the seam after the turn; only other partners that waited for the turn may go
///   before it.
///
/// Required 0, actual the number. Off if the house rule is off.
fn opposite(plain: &Plain, steps: &[Step]) -> Vec<Relaxed> {
    let q = plain.q;
    let mut found = Vec::new();
    if !q.rules.opposite {
        return found;
    }
    let mut stay_of: Vec<Option<usize>> = vec![None; plain.n()];
    let mut stay = 0;
    for (s, step) in steps.iter().enumerate() {
        if s > 0 && step.setup != steps[s - 1].setup {
            stay += 1;
        }
        for l in &step.passes {
            let p = &q.passes[l.pass];
            let waited = p.partner.and_then(|b| stay_of[b]).is_some_and(|b| b != stay);
            let over = plain.seam_passes[p.seam].iter().filter(|&&open| {
                let (Some(opened), Some(partner)) = (stay_of[open], q.passes[open].partner) else {
                    return false;
                };
                if stay_of[partner].is_some() || partner == l.pass || !plain.fits(partner, step.setup) {
                    return false;
                }
                if opened == stay { q.passes[open].layer == p.layer } else { !waited }
            });
            let over = over.count();
            if over > 0 {
                found.push(relaxed(plain, steps, s, 2, l.pass, 0.0, over as f64));
            }
        }
        for l in &step.passes {
            stay_of[l.pass] = Some(stay);
        }
    }
    found
}

/// Side balance: after every step, |E_left − E_right| ≤ largest pass energy + |total left − total
/// right|, energies net, centre passes on neither side.
///
/// Shortfall of a step: the excess over that limit, J (below 0.01 J: none), charged to its first
/// pass on the heavier side, or to its first pass if it has none there.
/// Off if the house rule is off or the frame has no plane of symmetry.
fn balance(plain: &Plain, steps: &[Step]) -> Vec<Relaxed> {
    let mut found = Vec::new();
    let mut diff = 0;
    for (s, step) in steps.iter().enumerate() {
        for l in &step.passes {
            diff += plain.sign[l.pass] * plain.energy_uj[l.pass];
        }
        if plain.excess(diff) > 0 {
            let heavy = step.passes.iter().find(|l| plain.sign[l.pass] == diff.signum());
            if let Some(l) = heavy.or(step.passes.first()) {
                let (limit, actual) = (plain.limit_uj as f64 * 1e-6, diff.abs() as f64 * 1e-6);
                found.push(relaxed(plain, steps, s, 3, l.pass, limit, actual));
            }
        }
    }
    found
}

/// Distance from the last pass along the steel.
///
/// Shortfall of a pass: `distance_mm` minus the steel distance from its joint to the nearest joint
/// of the step before, mm, if positive (below 0.001 mm: none). Joints that are not connected are far
/// enough. The first step has none.
fn distance(plain: &Plain, steps: &[Step]) -> Vec<Relaxed> {
    let q = plain.q;
    let mut found = Vec::new();
    for s in 1..steps.len() {
        for l in &steps[s].passes {
            let here = q.passes[l.pass].joint;
            let near = steps[s - 1].passes.iter().map(|b| plain.steel(q.passes[b.pass].joint, here)).min();
            let Some(near) = near else { continue };
            if plain.lack(near) > 0 {
                let (required, actual) = (plain.distance_nm as f64 * 1e-6, near as f64 * 1e-6);
                found.push(relaxed(plain, steps, s, 4, l.pass, required, actual));
            }
        }
    }
    found
}

/// One entry, with a plain reason found from what else was left to weld at that moment.
fn relaxed(
    plain: &Plain,
    steps: &[Step],
    s: usize,
    rank: usize,
    pass: usize,
    required: f64,
    actual: f64,
) -> Relaxed {
    let q = plain.q;
    let joint = q.passes[pass].joint;
    let rest = || steps[s..].iter().flat_map(|t| &t.passes).map(|l| &q.passes[l.pass]);
    let here = |p: &&super::Item| p.setups.contains(&steps[s].setup);
    let heavy = plain.sign[pass];
    let why = if s < q.done.len() {
        "it is welded already".into()
    } else if rest().all(|p| p.joint == joint) {
        "only passes of this joint are left".to_string()
    } else if rest().filter(here).all(|p| p.joint == joint) {
        "only passes of this joint are left in this setup".into()
    } else if rank == 3 && heavy != 0 && !rest().filter(here).any(|p| p.side != q.passes[pass].side) {
        format!("only passes on the {} are left in this setup", q.passes[pass].side.word())
    } else if rank == 4 && rest().filter(here).all(|p| plain.lack(nearest(plain, steps, s, p.joint)) > 0) {
        "nothing that is left in this setup is further away".into()
    } else {
        "any other pass here would fall shorter of this or a higher rule, now or later".into()
    };
    Relaxed { rule: RANKS[rank], pass, required, actual, why }
}

fn nearest(plain: &Plain, steps: &[Step], s: usize, joint: usize) -> i64 {
    let last = steps[s - 1].passes.iter();
    last.map(|b| plain.steel(plain.q.passes[b.pass].joint, joint)).min().unwrap_or(i64::MAX)
}

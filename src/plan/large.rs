//! The order of a frame too large for the pull model: a few whole orders, compared by the coarser one.
//!
//! 1. The order by the rules is judged by [`Wide`]: what each pass adds, and how much less it would add
//!    if it came last instead of first.
//! 2. Passes that do harm early go late and the other way round: they are sorted by
//!    `dJ/dp = Σ_r dJ/dy_pr · (early − late)_pr`, J as in [`crate::sequence::objective`]. The scheduler
//!    keeps as near to that row as the rules allow, as it does with a habit.
//! 3. The new order is judged; again from the better one, until nothing is gained or the tries are used up.
//!
//! Never an order that falls shorter of the rules than the rules' own.

use super::find::{FoundOrder, force_directions};
use super::judge::Judge;
use super::make::{Options, Watch};
use super::warm::Warm;
use super::{Effort, Objective};
use crate::distort::{Adds, Wide};
use crate::sequence::objective::{Aim, SetTo, Terms, terms};
use crate::sequence::rules::score;
use crate::sequence::{self, Order, Question, Wish};
use std::sync::atomic::Ordering::Relaxed;

/// Into how many blocks of passes an order is cut for judging.
const BLOCKS: usize = 12;
/// One order by the rules takes about as long as this many passes, squared, when a single further order
/// is what is affordable.
const ONE_MORE: usize = 10_000;
/// Most orders compared.
const MOST: usize = 12;

/// An order with its coarse judgement.
struct Candidate {
    order: Order,
    adds: Adds,
    terms: Terms,
}

/// The best of a few orders, beginning with `first`, that of the rules. `None` if the model cannot tell
/// (something is loose as tacked).
pub(super) fn find(
    q: &Question,
    judge: &Judge,
    first: &Order,
    options: &Options,
    watch: &Watch,
) -> Option<FoundOrder> {
    let parts = judge.parts;
    let wide = Wide::new(judge.frame, &parts.joints, &parts.seams, &parts.passes)?;
    let aim = judge.aim(&[]);
    let clock = Warm::on(judge.clock(), judge.underway.map_or(0, |u| u.setup));
    let candidate = |order: Order| {
        let steps: Vec<(usize, Vec<usize>)> =
            order.steps.iter().map(|s| (s.setup, s.passes.iter().map(|l| l.pass).collect())).collect();
        let adds = wide.adds(&steps, q.passes.len().div_ceil(BLOCKS))?;
        let tacks = vec![0.0; aim.controls.len()];
        let terms = terms(q, &aim, &tacks, &order.steps, &adds.y);
        Some(Candidate { order, adds, terms })
    };
    let mut best = candidate(first.clone())?;
    let (start, least) = (best.terms.total(), score(q, &first.steps));
    let tries = tries(q.passes.len(), options.effort);
    let mut row = place_in(&best.order, q.passes.len());
    let mut judged = 1;
    // The whole way towards what the slopes ask for, then half, a quarter of it.
    let mut part = 1.0;
    while judged <= tries && part > 0.2 && !watch.stop.load(Relaxed) {
        let wish = towards(q, &aim, &best, &row, part);
        let Ok(mut order) = sequence::start_with(q, &Wish::Follow(wish), &clock) else { break };
        force_directions(&mut order, &parts.passes, q.done.len());
        judge.keep_directions(&mut order);
        judged += 1;
        let fair = score(q, &order.steps) <= least && q.holds_before_turning(&order.steps);
        let found = candidate(order).filter(|c| fair && c.terms.total() < best.terms.total() - aim.grain);
        match found {
            Some(c) => {
                row = place_in(&c.order, q.passes.len());
                best = c;
            }
            None => part *= 0.5,
        }
        (watch.progress)(judged as f64 / (tries + 1) as f64, best.terms.total());
    }
    let objective = Objective {
        full: best.terms.total(),
        weights: [aim.deviation, aim.scatter, aim.time_per_min],
        coarse: Some(best.terms),
        judged_in_full: judged,
        start: Some(start),
        ..Objective::default()
    };
    Some(FoundOrder { order: best.order, objective })
}

/// Orders beyond the first: as many as cost about as much as ordering [`ONE_MORE`] passes once.
fn tries(passes: usize, effort: Effort) -> usize {
    let most = match effort {
        Effort::Rules => 0,
        Effort::Quick => 2,
        Effort::Normal => MOST / 2,
        Effort::Deep => MOST,
    };
    (ONE_MORE * ONE_MORE / (passes * passes).max(1)).max(1).min(most)
}

/// Place of each pass in an order.
fn place_in(order: &Order, n: usize) -> Vec<usize> {
    let mut place = vec![0; n];
    order.steps.iter().flat_map(|s| &s.passes).enumerate().for_each(|(i, l)| place[l.pass] = i);
    place
}

/// The row asked for: each pass moved by `part` of the way from where it is to where its slope puts it.
fn towards(q: &Question, aim: &Aim, now: &Candidate, place: &[usize], part: f64) -> Vec<usize> {
    let n = q.passes.len();
    let slope = slopes(q, aim, now);
    let rank = |key: &dyn Fn(usize) -> f64| {
        let mut row: Vec<usize> = (0..n).collect();
        row.sort_by(|&a, &b| key(a).total_cmp(&key(b)).then(place[a].cmp(&place[b])));
        let mut at = vec![0; n];
        row.iter().enumerate().for_each(|(i, &p)| at[p] = i);
        at
    };
    let wanted = rank(&|p| slope[p]);
    rank(&|p| part * wanted[p] as f64 + (1.0 - part) * place[p] as f64)
}

/// What laying each pass early instead of late costs, in objective.
fn slopes(q: &Question, aim: &Aim, now: &Candidate) -> Vec<f64> {
    let r = aim.controls.len();
    let [common, joint, pass] = aim.factors;
    let mut by_joint = vec![0.0; q.steel_mm.len() * r];
    for (p, item) in q.passes.iter().enumerate() {
        (0..r).for_each(|h| by_joint[item.joint * r + h] += now.adds.y[p * r + h]);
    }
    let slope = |p: usize, h: usize| {
        let (c, [pull, set, left, _]) = (&aim.controls[h], now.terms.controls[h]);
        // A control that is set beforehand as it pulls has no deviation, whatever it pulls.
        let free = matches!(c.set, SetTo::Free { limit, .. } if set.abs() < limit);
        let left = if free { 0.0 } else { left };
        let scatter = common * common * pull
            + joint * joint * by_joint[q.passes[p].joint * r + h]
            + pass * pass * now.adds.y[p * r + h];
        let per = 2.0 * c.weight / (c.tolerance * c.tolerance);
        per * (aim.deviation * left + aim.scatter * scatter) * now.adds.early_less_late[p * r + h]
    };
    (0..q.passes.len()).map(|p| (0..r).map(|h| slope(p, h)).sum()).collect()
}

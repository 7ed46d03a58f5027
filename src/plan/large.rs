//! The order of a frame too large for the pull model: a few whole orders, compared by the coarser one.
//!
//! 1. The order by the rules is judged by [`Wide`]: what each pass adds, and how much less it would add
//!    if it came last instead of first.
//! 2. Passes that do harm early go late and the other way round: they are sorted by
//!    `dJ/dp = Σ_r dJ/dy_pr · (early − late)_pr`, J as in [`crate::sequence::objective`]. So many of them
//!    go so much of the way to that row as makes the foreseen J least. The scheduler keeps as near to it as
//!    the rules allow, as it does with a habit.
//! 3. The new order is judged; again from the better one, until nothing is gained or the tries are used up.
//!
//! Never an order that falls shorter of the rules than the rules' own.

use super::find::{FoundOrder, force_directions};
use super::judge::Judge;
use super::make::{Options, Watch};
use super::warm::Warm;
use super::{Effort, Objective};
use crate::distort::{Falls, Wide};
use crate::sequence::objective::{Aim, SetTo, Terms, terms};
use crate::sequence::rules::score;
use crate::sequence::{self, Order, Question, Wish, place_of};
use std::sync::atomic::Ordering::Relaxed;

/// Into how many blocks of passes an order is cut for judging.
const BLOCKS: usize = 12;
/// Passes from which one further order is all that is tried: ordering by the rules costs about as much as
/// the square of their number, here some minutes.
const ONE_MORE: usize = 10_000;
/// Most further orders.
const MOST: usize = 12;

/// How many fewer passes may move after a step that gained nothing. Chosen on the examples, no source.
const SMALLER: f64 = 0.4;
/// How often the number of passes that move is halved.
const HALVINGS: i32 = 10;

/// An order with its coarse judgement.
struct Candidate {
    order: Order,
    /// What each pass adds to each control: `n × r`.
    y: Vec<f64>,
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
        let y = wide.adds(&steps, q.passes.len().div_ceil(BLOCKS))?;
        let terms = terms_of(q, &aim, &order, &y);
        Some(Candidate { order, y, terms })
    };
    let falls = wide.falls()?;
    let mut best = candidate(first.clone())?;
    let (start, least) = (best.terms.total(), score(q, &first.steps));
    let tries = tries(q.passes.len(), options.effort);
    let mut judged = 1;
    let mut most = 1.0;
    while judged <= tries && !watch.stop.load(Relaxed) {
        let Some((part, wish)) = step(q, &aim, &falls, &best, most) else { break };
        let Ok(mut order) = sequence::start_with(q, &Wish::Follow(wish), &clock) else { break };
        force_directions(&mut order, &parts.passes, q.done.len());
        judge.keep_directions(&mut order);
        if order.steps == best.order.steps {
            // The rules give back what so few passes moved.
            break;
        }
        judged += 1;
        let fair = score(q, &order.steps) <= least && q.holds_before_turning(&order.steps);
        let found = if fair { candidate(order) } else { None };
        match found.filter(|c| c.terms.total() < best.terms.total() - aim.grain) {
            Some(c) => (most, best) = (1.0, c),
            None => most = part * SMALLER,
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

/// The objective of an order, term by term; the pull of the tacks is the same in all of them and left out.
fn terms_of(q: &Question, aim: &Aim, order: &Order, y: &[f64]) -> Terms {
    terms(q, aim, &vec![0.0; aim.controls.len()], &order.steps, y)
}

/// How far to go towards the row that the slopes ask for, and the places on the way; `None` if nothing
/// better is foreseen. Looked at: all passes and ever fewer of those that matter most, the whole way and
/// ever less of it.
fn step(q: &Question, aim: &Aim, falls: &Falls, now: &Candidate, most: f64) -> Option<(f64, Vec<usize>)> {
    let row: Vec<usize> = now.order.steps.iter().flat_map(|s| &s.passes).map(|l| l.pass).collect();
    let (n, place) = (row.len(), &place_of(&row));
    let slope = slopes(q, aim, falls, now);
    let wanted = places(place, &|p| slope[p]);
    let weight = places(place, &|p| -slope[p].abs());
    let mut best = (now.terms.total() - aim.grain, None);
    for fewer in 0..=HALVINGS {
        let few = most * 0.5f64.powi(fewer);
        for quarter in 0..4 {
            let part = 0.25f64.powi(quarter);
            let move_on = |p: usize| if (weight[p] as f64) < few * n as f64 { part } else { 0.0 };
            let at = places(place, &|p| {
                let part = move_on(p);
                part * wanted[p] as f64 + (1.0 - part) * place[p] as f64
            });
            let value = foreseen(q, aim, falls, now, [place, &at]);
            if value < best.0 {
                best = (value, Some((few, at)));
            }
        }
    }
    best.1
}

/// The objective if passes went from `place` to `at`: what a pass adds is taken to fall evenly with the
/// number of passes before it on its seam, and evenly with all passes before it.
fn foreseen(q: &Question, aim: &Aim, falls: &Falls, now: &Candidate, [place, at]: [&[usize]; 2]) -> f64 {
    let (n, r) = (place.len(), aim.controls.len());
    let (before, after) = (on_seam(q, place), on_seam(q, at));
    let mut y = now.y.clone();
    for p in 0..n {
        let earlier = (place[p] as f64 - at[p] as f64) / n as f64;
        for h in 0..r {
            let i = p * r + h;
            y[i] += earlier * falls.by_the_rest[i] + (before[p] - after[p]) * falls.by_own_seam[i];
        }
    }
    terms_of(q, aim, &now.order, &y).total()
}

/// Which part of its seam is welded before each pass, 0 to 1.
fn on_seam(q: &Question, at: &[usize]) -> Vec<f64> {
    let seams = q.passes.iter().map(|p| p.seam + 1).max().unwrap_or(0);
    let mut laid = vec![0usize; seams];
    let mut row: Vec<usize> = (0..at.len()).collect();
    row.sort_by_key(|&p| at[p]);
    let mut before = vec![0.0; at.len()];
    for p in row {
        before[p] = laid[q.passes[p].seam] as f64;
        laid[q.passes[p].seam] += 1;
    }
    (0..at.len()).for_each(|p| before[p] /= (laid[q.passes[p].seam] - 1).max(1) as f64);
    before
}

/// Places of passes in rising order of a key; ties as they were.
fn places(before: &[usize], key: &dyn Fn(usize) -> f64) -> Vec<usize> {
    let mut row: Vec<usize> = (0..before.len()).collect();
    row.sort_by(|&a, &b| key(a).total_cmp(&key(b)).then(before[a].cmp(&before[b])));
    place_of(&row)
}

/// What laying each pass early instead of late costs, in objective.
fn slopes(q: &Question, aim: &Aim, falls: &Falls, now: &Candidate) -> Vec<f64> {
    let r = aim.controls.len();
    let [common, joint, pass] = aim.factors;
    let mut by_joint = vec![0.0; q.steel_mm.len() * r];
    for (p, item) in q.passes.iter().enumerate() {
        (0..r).for_each(|h| by_joint[item.joint * r + h] += now.y[p * r + h]);
    }
    let slope = |p: usize, h: usize| {
        let (c, [pull, set, left, _]) = (&aim.controls[h], now.terms.controls[h]);
        // A control that is set beforehand as it pulls has no deviation, whatever it pulls.
        let free = matches!(c.set, SetTo::Free { limit, .. } if set.abs() < limit);
        let left = if free { 0.0 } else { left };
        let scatter = common * common * pull
            + joint * joint * by_joint[q.passes[p].joint * r + h]
            + pass * pass * now.y[p * r + h];
        let per = 2.0 * c.weight / (c.tolerance * c.tolerance);
        per * (aim.deviation * left + aim.scatter * scatter)
            * (falls.by_own_seam[p * r + h] + falls.by_the_rest[p * r + h])
    };
    (0..q.passes.len()).map(|p| (0..r).map(|h| slope(p, h)).sum()).collect()
}

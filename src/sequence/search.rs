//! The order that keeps the frame true: several chains of changes from several starts, judged coarse
//! on the way and in full by the caller before one becomes the new best.

use super::baselines::Habit;
use super::beam::Wish;
use super::chain::{Chain, Mark, Rank, Tried, passes};
use super::exact;
use super::objective::{Aim, Terms, terms};
use super::plain::Plain;
use super::rules;
use super::shortfall::total;
use super::start::{NoOrder, start_with};
use super::warmth::Warmth;
use super::window::{closing, contributions, contributions_with};
use super::{Order, Question, Score};
use crate::distort::Coarse;
use rand::SeedableRng;
use rand::rngs::ChaCha8Rng;
use rand::seq::SliceRandom;
use rayon::prelude::*;
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, Ordering};

/// What to search.
pub struct Task<'a> {
    /// The rules' side.
    pub question: &'a Question,
    /// The pull's side.
    pub coarse: &'a Coarse,
    /// What is aimed at.
    pub aim: &'a Aim,
    /// Orders to begin with, the scheduler's own first, then habits repaired; see [`starts`]. Those
    /// that fall shorter of the rules than the best of them are left out.
    pub starts: &'a [Order],
    /// Seed.
    pub seed: u64,
    /// How long.
    pub budget: Budget,
    /// When true: finish with the best so far.
    pub stop: &'a AtomicBool,
    /// Told now and then: part done (0 to 1), best full objective so far.
    pub progress: &'a (dyn Fn(f64, f64) + Sync),
    /// An order judged in full (fine, timeline); beside it what each pass adds to each control in the
    /// coarse model (`n × r`, by pass). Must not depend on anything but the order. It may set
    /// directions.
    pub accept: &'a (dyn Fn(&mut Order, &[f64]) -> Full + Sync),
    /// Something dearer that makes an order better without moving a pass (its directions), for the best
    /// of each level of effort: what it then is, and how many passes were turned.
    pub polish: Option<&'a Polish<'a>>,
}

/// See [`Task::polish`]; the second argument as in [`Task::accept`].
pub type Polish<'a> = dyn Fn(&mut Order, &[f64]) -> (Full, usize) + Sync + 'a;

/// An order judged in full.
#[derive(Debug, Clone, Default)]
pub struct Full {
    /// Its objective.
    pub objective: f64,
    /// Each control at the end. Empty: the coarse model is taken to be right.
    pub controls: Vec<f64>,
    /// What the warmth of the moment added to the gaps of passes as they were laid, mm: see
    /// [`Coarse::tau`].
    pub tau: Vec<(usize, [f64; 3])>,
}

impl From<f64> for Full {
    fn from(objective: f64) -> Self {
        Full { objective, ..Full::default() }
    }
}

impl Full {
    /// How much each pass closes its gaps, with the τ found.
    pub(super) fn closing(&self, coarse: &Coarse) -> Vec<[f64; 3]> {
        let mut close = closing(coarse);
        for &(p, t) in &self.tau {
            close[p] = [coarse.delta[p] - t[0], -t[1], -t[2]];
        }
        close
    }

    /// The coarse model with the τ found: for small frames, it is a copy.
    fn coarse(&self, coarse: &Coarse) -> Coarse {
        let mut coarse = coarse.clone();
        self.tau.iter().for_each(|&(p, t)| coarse.tau[p] = t);
        coarse
    }

    /// The aim with an offset for what the coarse model misses in the order that was judged; `y` is what
    /// its passes add.
    pub(super) fn aim(&self, aim: &Aim, coarse: &Coarse, y: &[f64]) -> Aim {
        let mut aim = aim.clone();
        for (c, (control, full)) in aim.controls.iter_mut().zip(&self.controls).enumerate() {
            let seen: f64 = y.iter().skip(c).step_by(coarse.r).sum();
            control.offset += full - coarse.start[c] - seen;
        }
        aim
    }
}

/// How long to search. A larger budget does all that a smaller one does, and more, so that its result
/// is never worse.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Budget {
    /// Chains.
    pub restarts: usize,
    /// Changes judged in one chain, counted from its start, at which its best is judged in full.
    pub marks: Vec<u64>,
    /// Levels of effort that this one contains, itself the last: chains and marks of each.
    pub levels: Vec<(usize, usize)>,
}

impl Budget {
    /// Nothing but the starts.
    pub fn none() -> Self {
        Budget::of(0, vec![])
    }
    /// So many chains with these marks, and no lower level.
    pub fn of(restarts: usize, marks: Vec<u64>) -> Self {
        Budget { restarts, levels: vec![(restarts, marks.len())], marks }
    }
    /// A second or so for a frame of a hundred passes.
    pub fn quick(passes: usize) -> Self {
        Self::level(passes, 1)
    }
    /// Some seconds.
    pub fn normal(passes: usize) -> Self {
        Self::level(passes, 2)
    }
    /// Up to a minute or more.
    pub fn deep(passes: usize) -> Self {
        Self::level(passes, 3)
    }

    fn level(passes: usize, level: usize) -> Self {
        // Large frames: fewer chains, each long enough to sweep the order at least once.
        let sweep = Chain::draws(passes) * passes as u64;
        let marks = [(20_000, 1), (40_000, 2), (80_000, 2), (160_000, 4), (320_000, 4)];
        let levels = if passes <= LARGE { [(4, 1), (8, 3), (16, 5)] } else { [(2, 1), (2, 2), (4, 4)] };
        let (restarts, count) = levels[level - 1];
        Budget {
            restarts,
            marks: marks[..count].iter().map(|&(least, sweeps)| (sweeps * sweep / 2).max(least)).collect(),
            levels: levels[..level].to_vec(),
        }
    }
}

/// What was found.
#[derive(Debug, Clone)]
pub struct Found {
    /// The best order.
    pub order: Order,
    /// Its full objective.
    pub full: f64,
    /// Its coarse objective, term by term.
    pub coarse: Terms,
    /// Full objective of each start that kept the rules as far as the best start did, by index.
    pub starts: Vec<(usize, f64)>,
    /// Changes tried, over all chains.
    pub tried: Tried,
    /// Orders judged in full.
    pub judged_in_full: usize,
    /// Chains run.
    pub restarts: usize,
    /// Passes that were turned to the other direction in the end.
    pub turned: usize,
    /// The chain and the mark that gave the order; `None` if a start was best, or the look at all orders
    /// of a few passes gave it.
    pub from: Option<(usize, usize)>,
}

/// The scheduler's order by skip welding, then each habit repaired. With a clock for the heat.
///
/// # Errors
/// [`NoOrder`] if the rules that are never relaxed clash.
pub fn starts<W: Warmth>(q: &Question, habits: &[Habit], clock: &W) -> Result<Vec<Order>, NoOrder> {
    let wishes: Vec<Wish> = std::iter::once(Wish::Skip).chain(habits.iter().map(Habit::wish)).collect();
    wishes.par_iter().map(|wish| start_with(q, wish, clock)).collect()
}

/// Of a few passes all orders are ranked by the coarse model, and so many of the best judged in full:
/// up to [`ALL_OF`] passes practically all of them.
const FULL_OF_FEW: usize = 24;
/// See [`FULL_OF_FEW`].
const ALL_OF: usize = 7;
/// See [`FULL_OF_FEW`].
const FULL_OF_ALL: usize = 1000;
/// Passes above which only the scheduler's own order and the starts that the coarse model likes best are
/// judged in full.
const LARGE: usize = 300;
/// So many of those.
const STARTS_OF_LARGE: usize = 2;

/// Orders of each level of effort that are polished.
const POLISHED: usize = 2;
/// The same of up to [`ALL_OF`] passes: there the directions weigh as much as the order.
const POLISHED_OF_FEW: usize = 100;

/// One order that was judged in full; the smallest key is the best: shortfalls, full objective rounded,
/// largest excursion, turns, tenths of minutes, index.
struct Candidate {
    key: (Score, i64, i64, usize, i64, usize),
    full: Full,
    order: Order,
    from: Option<(usize, usize)>,
    turned: usize,
}

/// Search. Same task, same answer, on any number of threads, unless it is stopped.
///
/// Each chain judges by the coarse model with what the last full evaluation of its best order found
/// frozen in: the τ of each pass, and for each control what the coarse model missed.
///
/// The answer falls no shorter of any rule, highest rank first, than the best of the starts; and
/// among orders that do not, none that was judged in full has a smaller objective.
pub fn search(task: &Task) -> Found {
    let q = task.question;
    let plain = Plain::new(q);
    let scores: Vec<Score> = task.starts.iter().map(|o| total(&plain, &o.steps)).collect();
    let least = scores.iter().min().copied().unwrap_or([0; 5]);
    let good: Vec<usize> = (0..scores.len()).filter(|&i| scores[i] == least).collect();
    let proved = good.iter().any(|&i| task.starts[i].proved);
    let rate = |rank: Rank, mut order: Order, from| {
        // Without τ: it does not scale with the shrinkage factors, and hangs on how a chain came here.
        let y = contributions(task.coarse, &passes(&order.steps));
        let full = (task.accept)(&mut order, &y);
        let key = (rank.0, (full.objective / task.aim.grain).round() as i64, rank.2, rank.3, rank.4, 0);
        Candidate { key, full, order, from, turned: 0 }
    };
    let marks: Vec<Mark> = good
        .par_iter()
        .map(|&i| Chain::new(&plain, task.coarse, task.aim, &task.starts[i].steps).mark())
        .collect();
    let mut judged: Vec<usize> = (0..good.len()).collect();
    if q.passes.len() > LARGE {
        judged.sort_by_key(|&g| (g > 0, marks[g].rank, g));
        judged.truncate(1 + STARTS_OF_LARGE);
        judged.sort_unstable();
    }
    let mut all: Vec<Candidate> =
        judged.par_iter().map(|&g| rate(marks[g].rank, task.starts[good[g]].clone(), None)).collect();
    drop(marks);
    let starts = judged.iter().zip(&all).map(|(&g, c)| (good[g], c.full.objective)).collect();
    let known: Vec<(Order, Full)> = all.iter().map(|c| (c.order.clone(), c.full.clone())).collect();
    let lowest = all.iter().map(|c| c.full.objective).fold(f64::INFINITY, f64::min);
    let told = Mutex::new((0usize, lowest));
    let steps_in_all = task.budget.restarts * task.budget.marks.len();
    (task.progress)(0.0, lowest);
    let chain = |k: usize| -> (Vec<Candidate>, Tried) {
        let mut dice = ChaCha8Rng::seed_from_u64(task.seed);
        dice.set_stream(k as u64);
        let from = begin(&plain, &known, &least, k, &mut dice);
        let mut chain = Chain::new(&plain, task.coarse, task.aim, &from.steps);
        chain.freeze(&known[k % known.len()].1, &known[k % known.len()].0.steps, &from.steps);
        let mut found: Vec<Candidate> = Vec::new();
        let mut last: Vec<Vec<usize>> = Vec::new();
        for (m, &until) in task.budget.marks.iter().enumerate() {
            let Mark { rank, steps } = chain.run(until, &mut dice, task.stop);
            let row = passes(&steps);
            if last != row {
                last = row;
                let mut order = rules::judge(q, steps);
                order.proved |= proved && rank.0 == least;
                let c = rate(rank, order, Some((k, m)));
                if m + 1 < task.budget.marks.len() {
                    chain.freeze(&c.full, &c.order.steps, &c.order.steps);
                }
                found.push(c);
            }
            if let Ok(mut told) = told.lock() {
                told.0 += 1;
                told.1 = told.1.min(found.last().map_or(f64::INFINITY, |c| c.full.objective));
                (task.progress)(told.0 as f64 / steps_in_all as f64, told.1);
            }
            if task.stop.load(Ordering::Relaxed) {
                break;
            }
        }
        (found, chain.tried)
    };
    let chains: Vec<_> = (0..task.budget.restarts).into_par_iter().map(chain).collect();
    let mut tried = Tried::default();
    for (found, t) in chains {
        tried.judged += t.judged;
        tried.refused += t.refused;
        tried.taken += t.taken;
        all.extend(found);
    }
    if task.budget.restarts > 0 {
        let (first, full) = &known[0];
        let coarse = full.coarse(task.coarse);
        let aim = full.aim(task.aim, &coarse, &contributions(&coarse, &passes(&first.steps)));
        let keep = if q.passes.len() <= ALL_OF { FULL_OF_ALL } else { FULL_OF_FEW };
        let best = exact::best_orders(&plain, &coarse, &aim, least, keep, task.stop).unwrap_or_default();
        all.par_extend(best.into_par_iter().map(|(rank, steps)| {
            let mut order = rules::judge(q, steps);
            order.proved |= proved;
            rate(rank, order, None)
        }));
    }
    let polished = polish(task, &all);
    let judged_in_full = all.len() + polished.len();
    all.extend(polished);
    all.iter_mut().enumerate().for_each(|(i, c)| c.key.5 = i);
    let best = all.into_iter().min_by_key(|c| c.key).expect("there is at least one start");
    let y = contributions_with(task.coarse, &best.full.closing(task.coarse), &passes(&best.order.steps));
    let aim = best.full.aim(task.aim, task.coarse, &y);
    Found {
        coarse: terms(q, &aim, &task.coarse.start, &best.order.steps, &y),
        full: best.full.objective,
        order: best.order,
        starts,
        tried,
        judged_in_full,
        restarts: task.budget.restarts,
        turned: best.turned,
        from: best.from,
    }
}

/// The best few of each level of effort, polished. A level sees what it would have seen by itself, so that a
/// higher one, which contains it, is never worse.
fn polish(task: &Task, all: &[Candidate]) -> Vec<Candidate> {
    let Some(polish) = task.polish else { return vec![] };
    let few = task.question.passes.len() <= ALL_OF;
    let mut chosen: Vec<usize> = Vec::new();
    for &(chains, marks) in &task.budget.levels {
        let of_level = |c: &Candidate| c.from.is_none_or(|(k, m)| k < chains && m < marks);
        let mut best: Vec<usize> = (0..all.len()).filter(|&i| of_level(&all[i])).collect();
        best.sort_by_key(|&i| (all[i].key, i));
        best.truncate(if few { POLISHED_OF_FEW } else { POLISHED });
        chosen.extend(best);
    }
    chosen.sort_unstable();
    chosen.dedup();
    let turn = |&i: &usize| {
        let mut order = all[i].order.clone();
        let y = contributions(task.coarse, &passes(&order.steps));
        let (full, turned) = polish(&mut order, &y);
        let mut key = all[i].key;
        key.1 = (full.objective / task.aim.grain).round() as i64;
        Candidate { key, full, order, from: all[i].from, turned }
    };
    chosen.par_iter().map(turn).collect()
}

/// The order with which chain k begins: the starts in turn, then the scheduler with a wish drawn at
/// random; the first good start instead of one that falls shorter of the rules.
fn begin(plain: &Plain, known: &[(Order, Full)], least: &Score, k: usize, dice: &mut ChaCha8Rng) -> Order {
    if let Some((order, _)) = known.get(k) {
        return order.clone();
    }
    let mut place: Vec<usize> = (0..plain.n()).collect();
    place.shuffle(dice);
    match start_with(plain.q, &Wish::Follow(place), &super::warmth::NoHeat) {
        Ok(order) if total(plain, &order.steps) <= *least => order,
        _ => known[k % known.len()].0.clone(),
    }
}

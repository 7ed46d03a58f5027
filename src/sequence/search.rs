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
use super::window::{Field, contributions};
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
    /// The pull's side, with τ frozen into its shrinkages if the caller wants it so.
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
    /// The full objective of an order (fine, timeline). Must not depend on anything but the order.
    pub accept: &'a (dyn Fn(&Order) -> f64 + Sync),
}

/// How long to search. A larger budget does all that a smaller one does, and more, so that its result
/// is never worse.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Budget {
    /// Chains.
    pub restarts: usize,
    /// Changes judged in one chain, counted from its start, at which its best is judged in full.
    pub marks: Vec<u64>,
}

impl Budget {
    /// Nothing but the starts.
    pub fn none() -> Self {
        Budget { restarts: 0, marks: vec![] }
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
        let marks = [(20_000, 1), (80_000, 2), (320_000, 4)];
        let restarts = if passes <= 300 { [4, 8, 16] } else { [2, 2, 4] };
        Budget {
            restarts: restarts[level - 1],
            marks: marks[..level].iter().map(|&(least, sweeps)| (sweeps * sweep).max(least)).collect(),
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
    /// The chain and the mark that gave the order; `None` if a start was best, or the look at all orders
    /// of a few passes gave it.
    pub from: Option<(usize, usize)>,
}

/// The scheduler's order by skip welding, then each habit repaired. With a clock for the heat.
///
/// # Errors
/// [`NoOrder`] if the rules that are never relaxed clash.
pub fn starts<W: Warmth>(q: &Question, habits: &[Habit], clock: &W) -> Result<Vec<Order>, NoOrder> {
    let mut orders = vec![start_with(q, &Wish::Skip, clock)?];
    for h in habits {
        orders.push(start_with(q, &h.wish(), clock)?);
    }
    Ok(orders)
}

/// Of a few passes all orders are ranked by the coarse model, and so many of the best judged in full.
const FULL_OF_FEW: usize = 24;

/// One order that was judged in full; the smallest key is the best: shortfalls, full objective rounded,
/// largest excursion, turns, tenths of minutes, index.
struct Candidate {
    key: (Score, i64, i64, usize, i64, usize),
    full: f64,
    order: Order,
    from: Option<(usize, usize)>,
}

/// Search. Same task, same answer, on any number of threads, unless it is stopped.
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
    let rate = |rank: Rank, order: Order, from| {
        let full = (task.accept)(&order);
        let key = (rank.0, (full / task.aim.grain).round() as i64, rank.2, rank.3, rank.4, 0);
        Candidate { key, full, order, from }
    };
    let whole = Field::whole(task.coarse);
    let mut all: Vec<Candidate> = good
        .par_iter()
        .map(|&i| {
            let order = &task.starts[i];
            let mark = Chain::new(&plain, task.coarse, task.aim, &order.steps).mark();
            rate(mark.rank, order.clone(), None)
        })
        .collect();
    let starts = good.iter().zip(&all).map(|(&i, c)| (i, c.full)).collect();
    let lowest = all.iter().map(|c| c.full).fold(f64::INFINITY, f64::min);
    let told = Mutex::new((0usize, lowest));
    let steps_in_all = task.budget.restarts * task.budget.marks.len();
    (task.progress)(0.0, lowest);
    let chain = |k: usize| -> (Vec<Candidate>, Tried) {
        let mut dice = ChaCha8Rng::seed_from_u64(task.seed);
        dice.set_stream(k as u64);
        let from = begin(&plain, task, &good, &least, k, &mut dice);
        let mut chain = Chain::new(&plain, task.coarse, task.aim, &from.steps);
        let mut found: Vec<Candidate> = Vec::new();
        for (m, &until) in task.budget.marks.iter().enumerate() {
            let Mark { rank, steps } = chain.run(&whole, until, &mut dice, task.stop);
            if found.last().is_none_or(|c| c.order.steps != steps) {
                let mut order = rules::judge(q, steps);
                order.proved |= proved && rank.0 == least;
                found.push(rate(rank, order, Some((k, m))));
            }
            if let Ok(mut told) = told.lock() {
                told.0 += 1;
                told.1 = told.1.min(found.last().map_or(f64::INFINITY, |c| c.full));
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
    if task.budget.restarts > 0
        && let Some(best) = exact::best_orders(&plain, task.coarse, task.aim, least, FULL_OF_FEW)
    {
        for (rank, steps) in best {
            let mut order = rules::judge(q, steps);
            order.proved |= proved;
            all.push(rate(rank, order, None));
        }
    }
    let judged_in_full = all.len();
    all.iter_mut().enumerate().for_each(|(i, c)| c.key.5 = i);
    let best = all.into_iter().min_by_key(|c| c.key).expect("there is at least one start");
    let y = contributions(task.coarse, &passes(&best.order.steps));
    Found {
        coarse: terms(q, task.aim, &task.coarse.start, &best.order.steps, &y),
        full: best.full,
        order: best.order,
        starts,
        tried,
        judged_in_full,
        restarts: task.budget.restarts,
        from: best.from,
    }
}

/// The order with which chain k begins: the starts in turn, then the scheduler with a wish drawn at
/// random; the first good start instead of one that falls shorter of the rules.
fn begin(
    plain: &Plain,
    task: &Task,
    good: &[usize],
    least: &Score,
    k: usize,
    dice: &mut ChaCha8Rng,
) -> Order {
    if let Some(&i) = good.get(k) {
        return task.starts[i].clone();
    }
    let mut place: Vec<usize> = (0..plain.n()).collect();
    place.shuffle(dice);
    match start_with(plain.q, &Wish::Follow(place), &super::warmth::NoHeat) {
        Ok(order) if total(plain, &order.steps) <= *least => order,
        _ => task.starts[good[k % good.len()]].clone(),
    }
}

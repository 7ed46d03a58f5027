//! The first order: skip welding that keeps every rule as far as the frame allows.

use super::beam::{self, Ways};
pub use super::beam::{Wish, place_of};
use super::brute;
use super::pair_up::pair_up;
use super::plain::Plain;
use super::rules::{self, Broken};
use super::stays::homes;
use super::tally::{Choice, Tally, steps_of};
use super::warmth::{NoHeat, Warmth};
use super::{Order, Question, Step};

/// No order keeps the rules that are never relaxed.
#[derive(Debug, Clone, PartialEq)]
pub struct NoOrder {
    /// Which rules clash, in plain words, one sentence each.
    pub clashes: Vec<String>,
}

/// An order that falls as little short of the ranked rules as can be found, by skip welding.
///
/// # Errors
/// [`NoOrder`] if pins, layers, setups or joints that must stay apart contradict each other.
pub fn start(q: &Question) -> Result<Order, NoOrder> {
    start_with(q, &Wish::Skip, &NoHeat)
}

/// As [`start`], with a wish among orders that fall equally short, and a clock for the heat.
///
/// Compared in this order: the total shortfalls by rank; the number of turns; the number of steps;
/// the time spent waiting, so that another joint is chosen before waiting where no rule suffers;
/// passes in their best setup; the wish.
///
/// # Errors
/// As [`start`].
pub fn start_with<W: Warmth>(q: &Question, wish: &Wish, clock: &W) -> Result<Order, NoOrder> {
    let clashes = clashes(q);
    if !clashes.is_empty() {
        return Err(NoOrder { clashes });
    }
    let plain = Plain::new(q);
    let homes = homes(&plain);
    let todo = plain.n() - Tally::new(&plain).laid;
    let width = width(&plain, todo);
    let mut best: Option<Vec<Choice>> = None;
    // Two welders are faster, but one alone spaces wider: the shortfalls decide. Turning once more
    // may avoid a shortfall: again they decide.
    let mut ways = vec![(q.welders.max(1), 0, width)];
    if q.welders > 1 {
        ways.push((1, 0, width));
    }
    if q.setups > 1 {
        ways.push((q.welders.max(1), q.setups, width));
    }
    for (welders, spare_turns, width) in ways {
        let found = beam::run(&plain, &Ways { wish, width, welders, spare_turns, homes: &homes }, clock);
        let alone = q.welders > 1 && welders == 1;
        let found = found.map(|f| if alone { pair_up(&plain, f) } else { f });
        best = better(&plain, best, found);
        if best.as_ref().is_some_and(|b| worth(&plain, b).0 == [0; 5]) {
            break;
        }
    }
    if best.is_none() {
        let ways = Ways { wish, width: 40 * width, welders: q.welders.max(1), spare_turns: 0, homes: &homes };
        best = beam::run(&plain, &ways, clock);
    }
    let mut proved = false;
    if todo <= brute::PROVED_UP_TO && best.as_ref().is_none_or(|b| worth(&plain, b).0 != [0; 5]) {
        (best, proved) = brute::best(&plain, best);
    }
    let Some(choices) = best else {
        let clash = if plain.any_apart {
            "joints that must stay apart cannot be kept apart: too little else is left to weld between them"
        } else {
            "pinned passes, layers and setups leave no way to go on"
        };
        return Err(NoOrder { clashes: vec![clash.into()] });
    };
    let mut order = rules::judge(q, steps_of(&plain, &choices));
    order.proved |= proved;
    Ok(order)
}

/// An order by hand: judged as it is, one pass per step, each in the setup in which the frame lies
/// if it fits, else in its best one. Broken hard rules come back beside it.
pub fn by_hand(q: &Question, row: &[usize]) -> (Order, Vec<Broken>) {
    let mut steps = q.done.clone();
    for &pass in row {
        let lies = steps.last().map_or(0, |s: &Step| s.setup);
        let setups = &q.passes[pass].setups;
        let setup = if setups.contains(&lies) { lies } else { setups[0] };
        steps.push(Step { setup, passes: vec![super::Laid { pass, welder: 0, forward: true }] });
    }
    let broken = rules::broken(q, &steps);
    (rules::judge(q, steps), broken)
}

fn better(plain: &Plain, a: Option<Vec<Choice>>, b: Option<Vec<Choice>>) -> Option<Vec<Choice>> {
    match (a, b) {
        (Some(a), Some(b)) => Some(if worth(plain, &b) < worth(plain, &a) { b } else { a }),
        (a, b) => a.or(b),
    }
}

fn worth(plain: &Plain, way: &[Choice]) -> brute::Worth {
    let mut t = Tally::new(plain);
    way.iter().for_each(|&c| t.lay(plain, c));
    (t.score(plain), t.turns, t.steps())
}

/// Orders followed side by side: many for small frames, few for large ones, so that the work stays
/// within seconds.
fn width(plain: &Plain, todo: usize) -> usize {
    let per_width = todo * todo.min(3 * plain.seam_passes.len());
    (4_000_000 / per_width.max(1)).clamp(4, 64)
}

/// Contradictions that can be seen before looking for an order.
fn clashes(q: &Question) -> Vec<String> {
    let mut found = Vec::new();
    let mut laid = vec![false; q.passes.len()];
    q.done.iter().flat_map(|s| &s.passes).for_each(|l| laid[l.pass] = true);
    let label = |p: usize| q.passes[p].label.as_str();
    for (row, name) in [(&q.first, "first"), (&q.last, "last")] {
        for (i, &p) in row.iter().enumerate() {
            if row[..i].contains(&p) {
                found.push(format!("{} is pinned {name} twice", label(p)));
            }
        }
    }
    for &p in q.first.iter().filter(|p| q.last.contains(p)) {
        found.push(format!("{} is pinned both first and last", label(p)));
    }
    for (p, item) in q.passes.iter().enumerate() {
        let Some(b) = item.below.filter(|&b| !laid[b]) else { continue };
        let place = |row: &[usize], p: usize| row.iter().position(|&x| x == p);
        if let Some(i) = place(&q.first, p).filter(|_| !laid[p])
            && place(&q.first, b).is_none_or(|j| j > i)
        {
            found.push(format!("{} is pinned first, but it lies on {}", label(p), label(b)));
        }
        if let Some(j) = place(&q.last, b)
            && place(&q.last, p).is_none_or(|i| i < j)
        {
            found.push(format!("{} is pinned last, but {} lies on it", label(b), label(p)));
        }
    }
    found
}

//! In which setups the frame has to lie, and which pass belongs to which: few turns, good positions.

use super::plain::{Pin, Plain};

/// Setup in which each pass should be welded ("home"): the best of its setups that the frame passes
/// through on the way with the fewest turns. Preferred, not forced.
pub(crate) fn homes(plain: &Plain) -> Vec<usize> {
    let way = fewest_turns(plain);
    let visited = way.iter().fold(0u64, |m, &s| m | (1 << s));
    let best =
        |p: &super::Item| p.setups.iter().copied().find(|&s| visited >> s & 1 == 1).unwrap_or(p.setups[0]);
    plain.q.passes.iter().map(best).collect()
}

impl super::Question {
    /// Before the first turn every joint holds: where an opposite pair of the first layer can be welded as
    /// the frame lies, one such pair must be, even if another setup were the better place for it. To be
    /// called when [`super::Question::done`] is known.
    pub fn hold_before_turning(&mut self) {
        let start = self.lying.unwrap_or_else(|| self.done.first().map_or(0, |s| s.setup));
        let turned = self.lying.is_none() && self.done.iter().any(|s| s.setup != start);
        if self.setups < 2 || turned {
            return;
        }
        let laid = |p: usize| self.done.iter().flat_map(|s| &s.passes).any(|l| l.pass == p);
        let rank = |p: usize| self.passes[p].setups.iter().position(|&s| s == start);
        let mut here = Vec::new();
        for joint in 0..self.steel_mm.len() {
            let pair = |p: usize| {
                let item = &self.passes[p];
                let o = item.partner.filter(|&o| p < o && item.joint == joint && item.below.is_none())?;
                let last = self.last.contains(&p) || self.last.contains(&o);
                // The pair that has least to move: welded already, or at home here.
                (!last).then_some((usize::from(!laid(p)) + usize::from(!laid(o)), rank(p)? + rank(o)?, p, o))
            };
            if let Some((_, _, p, o)) = (0..self.passes.len()).filter_map(pair).min() {
                here.extend([p, o].into_iter().filter(|&p| !laid(p)));
            }
        }
        for &p in &here {
            self.passes[p].setups = vec![start];
        }
        self.hold = here;
    }

    /// Whether all passes of [`super::Question::hold`] are laid before the first turn.
    pub fn holds_before_turning(&self, steps: &[super::Step]) -> bool {
        let steps = &steps[if self.lying.is_some() { self.done.len() } else { 0 }..];
        let start = self.lying.unwrap_or_else(|| steps.first().map_or(0, |s| s.setup));
        let stay = || steps.iter().take_while(|s| s.setup == start).flat_map(|s| &s.passes);
        self.hold.iter().all(|p| stay().any(|l| l.pass == *p))
    }
}

/// Shortest row of setups, starting as the frame lies, in which all passes can be welded when in
/// each stay everything is welded that can be. Beyond [`LOOK`] turns the next setup is the one in
/// which most can be welded.
fn fewest_turns(plain: &Plain) -> Vec<usize> {
    let n = plain.n();
    let mut done = vec![false; n];
    for l in plain.q.done.iter().flat_map(|s| &s.passes) {
        done[l.pass] = true;
    }
    let start = plain.q.lying.unwrap_or_else(|| plain.q.done.last().map_or(0, |s| s.setup));
    weld_all(plain, start, &mut done);
    let mut way = vec![start];
    let mut tries = 0;
    for turns in 0..=LOOK {
        if look(plain, &mut way, &done, turns, &mut tries) {
            return way;
        }
    }
    while done.iter().any(|d| !d) {
        let gain = |s: usize| {
            let mut d = done.clone();
            weld_all(plain, s, &mut d)
        };
        let next = (0..plain.q.setups).max_by_key(|&s| (gain(s), std::cmp::Reverse(s)));
        let Some(next) = next.filter(|&s| gain(s) > 0) else { break }; // the rules clash; `start` says so
        weld_all(plain, next, &mut done);
        way.push(next);
    }
    way
}

/// Turns up to which the shortest row is looked for.
const LOOK: usize = 6;
/// Rows of setups that are tried at most.
const TRIES: usize = 3_000;

fn look(plain: &Plain, way: &mut Vec<usize>, done: &[bool], turns: usize, tries: &mut usize) -> bool {
    if done.iter().all(|&d| d) {
        return true;
    }
    if turns == 0 || *tries >= TRIES {
        return false;
    }
    for s in 0..plain.q.setups {
        if way.last() == Some(&s) {
            continue;
        }
        let mut next = done.to_vec();
        *tries += 1;
        if weld_all(plain, s, &mut next) == 0 {
            continue;
        }
        way.push(s);
        if look(plain, way, &next, turns - 1, tries) {
            return true;
        }
        way.pop();
    }
    false
}

/// Weld all that can be welded in a setup; how many that were.
fn weld_all(plain: &Plain, setup: usize, done: &mut [bool]) -> usize {
    let mut welded = 0;
    loop {
        let pinned = |f: fn(&Pin) -> Option<usize>| {
            (0..done.len()).filter(|&p| !done[p]).filter_map(|p| f(&plain.pin[p])).min()
        };
        let next_first = pinned(|p| if let Pin::First(i) = p { Some(*i) } else { None });
        let next_last = pinned(|p| if let Pin::Last(i) = p { Some(*i) } else { None });
        let free_left = (0..done.len()).any(|p| !done[p] && !matches!(plain.pin[p], Pin::Last(_)));
        let mut grew = false;
        for p in 0..done.len() {
            let turn = match plain.pin[p] {
                Pin::First(i) => next_first == Some(i),
                Pin::Free => next_first.is_none(),
                Pin::Last(i) => !free_left && next_last == Some(i),
            };
            let bare = plain.q.passes[p].below.is_some_and(|b| !done[b]);
            if !done[p] && turn && !bare && plain.fits(p, setup) {
                done[p] = true;
                welded += 1;
                grew = true;
                if plain.pin[p] != Pin::Free {
                    break; // the next pin is found afresh
                }
            }
        }
        if !grew {
            return welded;
        }
    }
}

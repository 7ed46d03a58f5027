//! What it would change at the end to lay a pass the other way round, for many passes in one course.
//!
//! How stiff the frame is does not hang on the direction of a pass: what it melts sets again, and its
//! fibres are the same. So two courses that differ in one direction have the same compliances ever
//! after, and their difference is carried along as one more column, exactly.

use super::Event;
use super::staged::{Laid, State};
use crate::fault::Fault;

impl State<'_> {
    /// Go on with these events to the end, cold and free: the controls then, and for each pass named
    /// how much they would differ if that pass alone were laid the other way round.
    pub fn turned(&self, events: &[Event], passes: &[usize]) -> Result<(Vec<f64>, Vec<Vec<f64>>), Fault> {
        let mut ahead = self.ahead(events).with_columns(1 + passes.len());
        for event in events {
            let mut others = Vec::new();
            for (i, other) in passes.iter().enumerate().filter_map(|(i, p)| Some((i, turn(event, *p)?))) {
                let mut state = ahead.with_columns(1);
                state.apply(&other)?;
                others.push((1 + i, state));
            }
            ahead.follow(std::slice::from_ref(event))?;
            others.iter().for_each(|(col, other)| ahead.take_difference(*col, other));
        }
        ahead.finish()?;
        let y = &ahead.field.y;
        let column = |col: usize| (0..y.rows).map(|r| y.at(r, col)).collect::<Vec<f64>>();
        Ok((column(0), (1..=passes.len()).map(column).collect()))
    }

    /// The same state with so many columns, the first as it is, further ones empty.
    fn with_columns(&self, cols: usize) -> Self {
        debug_assert!(!self.options.shares);
        let mut s = self.clone();
        let had = std::mem::replace(&mut s.cols, cols);
        s.field.set_columns(cols);
        s.laid.iter_mut().for_each(|l| spread(&mut l.rest, had, cols));
        s.held.iter_mut().for_each(|h| spread(&mut h.rest, had, cols));
        s
    }

    /// Column `col` becomes what another state of one column has more than this one. Both have gone
    /// through the same events but for a direction. (Where a one-way stop let go in one of them only, the
    /// difference cannot be carried along: it is left at nothing.)
    fn take_difference(&mut self, col: usize, other: &State) {
        if self.held.len() != other.held.len() || self.laid.len() != other.laid.len() {
            return;
        }
        let cols = self.cols;
        let set = |own: &mut [f64], other: &[f64]| difference(own, other, cols, col);
        self.field.take_difference(col, &other.field);
        for (i, l) in self.laid.iter_mut().enumerate() {
            // The fibres of a turned pass come in another order.
            let same = |o: &&Laid| {
                o.fibre.port == l.fibre.port && o.fibre.at == l.fibre.at && o.fibre.tack == l.fibre.tack
            };
            let twin = if same(&&other.laid[i]) {
                &other.laid[i]
            } else {
                other.laid.iter().rev().find(same).expect("the same fibres lie in both")
            };
            set(&mut l.rest, &twin.rest);
        }
        for (h, o) in self.held.iter_mut().zip(&other.held) {
            set(&mut h.rest, &o.rest);
        }
    }

    /// What the warmth of the moment added to the gaps of a pass laid since `first`, mean of its fibres
    /// by stiffness.
    pub(super) fn tau_since(&self, first: usize, pass: usize) -> [f64; 3] {
        let seam = self.model.passes.passes[pass].seam;
        let (mut sum, mut weight) = ([0.0; 3], [0.0; 3]);
        for l in self.laid[first..].iter().filter(|l| l.seam == seam && !l.fibre.tack) {
            for i in 0..3 {
                sum[i] += l.fibre.springs[i].1 * l.tau[i];
                weight[i] += l.fibre.springs[i].1;
            }
        }
        std::array::from_fn(|i| if weight[i] > 0.0 { sum[i] / weight[i] } else { 0.0 })
    }
}

/// The first of `had` columns becomes the first of `cols`; the others are empty.
pub(super) fn spread(rows: &mut Vec<f64>, had: usize, cols: usize) {
    let mut to = vec![0.0; rows.len() / had * cols];
    to.chunks_exact_mut(cols).zip(rows.chunks_exact(had)).for_each(|(t, f)| t[0] = f[0]);
    *rows = to;
}

/// Column `col` of `cols` becomes the one column of another less the first.
pub(super) fn difference(own: &mut [f64], other: &[f64], cols: usize, col: usize) {
    own.chunks_exact_mut(cols).zip(other).for_each(|(own, o)| own[col] = o - own[0]);
}

/// The event with a pass of it the other way round, if it lays that pass.
fn turn(event: &Event, pass: usize) -> Option<Event> {
    match event {
        Event::Pass { pass: p, forward } if *p == pass => Some(Event::Pass { pass, forward: !forward }),
        Event::Together(list) => {
            let mut list = list.clone();
            let (at, turned) = list.iter().enumerate().find_map(|(i, e)| Some((i, turn(e, pass)?)))?;
            list[at] = turned;
            Some(Event::Together(list))
        }
        _ => None,
    }
}

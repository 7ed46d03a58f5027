//! What it would change at the end to lay a pass the other way round, for many passes in one course.
//!
//! How stiff the frame is does not hang on the direction of a pass: what it melts sets again, and its
//! fibres are the same. So two courses that differ in one direction have the same compliances ever
//! after, and their difference is carried along as one more column, exactly.

use super::{Event, Fault, State};

impl State<'_> {
    /// Go on with these events to the end, cold and free: the controls then, and for each pass named
    /// how much they would differ if that pass alone were laid the other way round.
    pub fn turned(&self, events: &[Event], passes: &[usize]) -> Result<(Vec<f64>, Vec<Vec<f64>>), Fault> {
        let mut ahead = self.with_columns(1 + passes.len());
        for event in events {
            let mut others = Vec::new();
            for (i, other) in passes.iter().enumerate().filter_map(|(i, p)| Some((i, turn(event, *p)?))) {
                let mut state = ahead.with_columns(1);
                state.apply(&other)?;
                others.push((1 + i, state));
            }
            ahead.apply(event)?;
            others.iter().for_each(|(col, other)| ahead.take_difference(*col, other));
        }
        ahead.finish()?;
        let column = |col: usize| (0..ahead.y.rows).map(|r| ahead.y.at(r, col)).collect::<Vec<f64>>();
        Ok((column(0), (1..=passes.len()).map(column).collect()))
    }

    /// The same state with so many columns, the first as it is, further ones empty.
    fn with_columns(&self, cols: usize) -> Self {
        debug_assert!(!self.options.shares);
        let spread = |from: &[f64]| -> Vec<f64> {
            let mut to = vec![0.0; from.len() / self.cols * cols];
            to.chunks_exact_mut(cols).zip(from.chunks_exact(self.cols)).for_each(|(t, f)| t[0] = f[0]);
            to
        };
        let mut s = self.clone();
        s.cols = cols;
        for m in [&mut s.x, &mut s.y] {
            (m.a, m.cols) = (spread(&m.a), cols);
        }
        s.laid.iter_mut().for_each(|l| l.rest = spread(&l.rest));
        s.held.iter_mut().for_each(|h| h.rest = spread(&h.rest));
        s
    }

    /// Column `col` becomes what another state of one column has more than this one. Both have gone
    /// through the same events but for a direction.
    fn take_difference(&mut self, col: usize, other: &State) {
        let cols = self.cols;
        let set = |own: &mut [f64], other: &[f64]| {
            own.chunks_exact_mut(cols).zip(other).for_each(|(own, o)| own[col] = o - own[0]);
        };
        set(&mut self.x.a, &other.x.a);
        set(&mut self.y.a, &other.y.a);
        for (i, l) in self.laid.iter_mut().enumerate() {
            // The fibres of a turned pass come in another order.
            let same = |o: &&super::Laid| {
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

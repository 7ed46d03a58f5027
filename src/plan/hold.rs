//! Hold points: after which step to stop and measure, and whether through the clamps or free.

use super::judge::Judge;
use crate::distort::{Event, Level, Model};
use crate::fault::Fault;
use crate::frame::Frame;
use crate::procedure::Passes;
use crate::sequence::Order;

/// Reading error, one standard deviation: a tape is read to half a millimetre, a digital level to a
/// tenth of a degree (common practice, no source).
pub fn reading_error(unit: &str) -> f64 {
    if unit == "deg" { 0.1 } else { 0.5 }
}

/// A hold point in the weld-out.
#[derive(Debug, Clone, PartialEq)]
pub struct Hold {
    /// After this step (index in the order).
    pub step: usize,
    /// Why here, in words.
    pub why: String,
}

/// Fewest steps that are worth a stop, and fewest before and after one.
const FEWEST: (usize, usize) = (8, 3);
/// Steps from which a second stop is worth its time.
const SECOND: usize = 48;
/// In a re-plan, once welding has begun, the first stop comes no sooner than a sixth of all passes from now.
/// For a stop the frame must cool (common practice, no source), and a re-plan comes of a reading just made:
/// without this each would ask for the next reading after three passes.
const NEXT: usize = 6;

/// Where to stop, chosen so that what is learnt can still change something.
///
/// ```text
/// worth(k) = Σ_r  A_r(k)/T_r · learnt_r(k)/T_r²
/// learnt = Cov(end, reading)² / Var(reading)    how much of the end's variance the reading takes away
/// A = Σ |change by each pass still to come|     what is left to steer with
/// T tolerance; r controls; k after which pass
/// ```
///
/// The unknowns are those of the scatter: one factor common to all passes, one for each joint, one for
/// each pass, and the reading's own error. Worth is nothing at the start, where nothing is learnt, and
/// nothing at the end, where nothing can be changed. A second stop counts what the first leaves
/// unknown. Without a path (no pull model) the stop is half way. In a re-plan (`again`) near its end there
/// may be none. `counts` says which controls are there to be read.
pub fn choose(
    frame: &Frame,
    passes: &Passes,
    order: &Order,
    (done, again): (usize, bool),
    tacked: &[f64],
    path: &[Vec<f64>],
    counts: impl Fn(usize) -> bool,
) -> Vec<Hold> {
    let todo = order.steps.len() - done;
    if todo < FEWEST.0 {
        return vec![];
    }
    let row: Vec<usize> = order.steps.iter().flat_map(|s| s.passes.iter().map(|l| l.pass)).collect();
    let first = order.steps[..done].iter().map(|s| s.passes.len()).sum::<usize>();
    let least = if again && first > 0 { row.len() / NEXT } else { 0 };
    // Passes laid after each step, from now on.
    let mut ends = Vec::new();
    let mut laid = 0;
    for s in &order.steps[done..] {
        laid += s.passes.len();
        ends.push(laid);
    }
    let half = || {
        if ends[todo.div_ceil(2) - 1] < least {
            return vec![];
        }
        vec![Hold {
            step: done + todo.div_ceil(2) - 1,
            why: "half way: what is left can still correct it".into(),
        }]
    };
    let n = frame.controls.len();
    if path.len() != row.len() || tacked.len() != n {
        return half();
    }
    let before = |i: usize| if i == first { tacked } else { &path[i - 1] };
    // Change of each control by each pass still to come.
    let change: Vec<Vec<f64>> =
        (first..row.len()).map(|i| (0..n).map(|r| path[i][r] - before(i)[r]).collect()).collect();
    let joint: Vec<usize> = row[first..].iter().map(|&p| passes.passes[p].joint).collect();
    let all = change.len();
    let know = Knowledge { frame, change: &change, joint: &joint };
    let candidates: Vec<usize> = (FEWEST.1 - 1..todo - FEWEST.1).filter(|&k| ends[k] >= least).collect();
    let mut holds: Vec<Hold> = Vec::new();
    let mut taken: Vec<usize> = Vec::new();
    for _ in 0..if todo >= SECOND { 2 } else { 1 } {
        let mut best: Option<(f64, usize, usize, f64)> = None;
        for &k in &candidates {
            let near = |t: &usize| ends[k].abs_diff(*t) < all / 6;
            if taken.iter().any(near) {
                continue;
            }
            let mut worth = 0.0;
            let mut most = (0.0, 0, 0.0);
            for r in (0..n).filter(|&r| counts(r)) {
                let left: f64 = change[ends[k]..].iter().map(|c| c[r].abs()).sum();
                let t = frame.controls[r].tolerance;
                let w = left / t * know.learnt(r, ends[k], &taken) / (t * t);
                worth += w;
                if w > most.0 {
                    most = (w, r, left);
                }
            }
            if worth > best.map_or(0.0, |b| b.0 * (1.0 + 1e-9)) {
                best = Some((worth, k, most.1, most.2));
            }
        }
        let Some((_, k, r, left)) = best else { break };
        taken.push(ends[k]);
        let c = &frame.controls[r];
        let unit = if c.kind.unit() == "deg" { "°" } else { " mm" };
        holds.push(Hold {
            step: done + k,
            why: format!(
                "here a reading tells most about the rest while it can still be changed: the passes to come move {} by \
                 {left:.1}{unit} in sum",
                c.name
            ),
        });
    }
    if holds.is_empty() {
        return half();
    }
    holds.sort_by_key(|h| h.step);
    holds
}

/// What is not known about the changes still to come.
struct Knowledge<'a> {
    frame: &'a Frame,
    change: &'a [Vec<f64>],
    joint: &'a [usize],
}

impl Knowledge<'_> {
    /// Covariance of a control after `a` and after `b` passes, from the factors alone.
    fn covariance(&self, r: usize, a: usize, b: usize) -> f64 {
        let [common, joint, pass] = self.frame.pull.scatter;
        let (a, b) = (a.min(b), a.max(b));
        let joints = 1 + self.joint.iter().copied().max().unwrap_or(0);
        let mut sums = vec![[0.0, 0.0]; joints];
        let (mut own, mut whole) = (0.0, [0.0, 0.0]);
        for (i, c) in self.change[..b].iter().enumerate() {
            let both = &mut sums[self.joint[i]];
            both[1] += c[r];
            whole[1] += c[r];
            if i < a {
                both[0] += c[r];
                whole[0] += c[r];
                own += c[r] * c[r];
            }
        }
        common * common * whole[0] * whole[1]
            + joint * joint * sums.iter().map(|s| s[0] * s[1]).sum::<f64>()
            + pass * pass * own
    }

    /// Variance of the end that a reading after `k` passes takes away, beyond what readings after
    /// `taken` passes have taken already.
    fn learnt(&self, r: usize, k: usize, taken: &[usize]) -> f64 {
        let end = self.change.len();
        let error = reading_error(self.frame.controls[r].kind.unit()).powi(2);
        let mut with_end = self.covariance(r, k, end);
        let mut own = self.covariance(r, k, k) + error;
        // One earlier reading at most.
        if let Some(&t) = taken.first() {
            let (kt, tt) = (self.covariance(r, k, t), self.covariance(r, t, t) + error);
            with_end -= kt * self.covariance(r, t, end) / tt;
            own -= kt * kt / tt;
        }
        if own > 0.0 { with_end * with_end / own } else { 0.0 }
    }
}

/// Controls through the clamps and free, after the first steps of an order.
pub(super) struct Seen {
    /// As the clamps hold it.
    pub clamped: Vec<f64>,
    /// All clamps off.
    pub free: Vec<f64>,
}

impl Seen {
    /// Whether the clamps hide nothing of a control that a reading could show.
    pub fn shows(&self, frame: &Frame, control: usize) -> bool {
        let error = reading_error(frame.controls[control].kind.unit());
        (self.clamped[control] - self.free[control]).abs() <= error
    }
}

/// What the controls are after some events, clamped and free.
///
/// # Errors
/// A tube comes loose when the clamps are opened.
pub(super) fn seen(model: &Model, events: &[Event]) -> Result<Seen, Fault> {
    let begun = model.begin(events, Level::Fine)?;
    Ok(Seen { clamped: begun.controls_now(), free: begun.controls_after(&[])? })
}

impl Judge<'_> {
    /// As [`seen`], after the first `laid` passes of an order.
    pub(super) fn seen_after(
        &self,
        order: &Order,
        timeline: &crate::heat::Timeline,
        laid: usize,
    ) -> Result<Option<Seen>, Fault> {
        let Some(model) = &self.model else { return Ok(None) };
        seen(model, &self.until(model, order, timeline, laid)).map(Some)
    }
}

/// All clamps of the first setup open, then closed again where the frame then is: the gate after
/// tacking, measured free.
pub(super) fn open_and_close(frame: &Frame) -> Vec<Event> {
    let on: Vec<usize> = (0..frame.clamps.len())
        .filter(|&c| frame.clamps[c].setups.is_empty() || frame.clamps[c].setups.contains(&0))
        .collect();
    let open = on.iter().map(|&clamp| Event::Release { clamp });
    open.chain(on.iter().map(|&clamp| Event::Clamp { clamp, to_nominal: false })).collect()
}

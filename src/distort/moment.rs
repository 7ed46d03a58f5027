//! The frame at one moment of the work, for a reading that is compared with it.

use super::constants as c;
use super::model::{Model, Options};
use super::staged::State;
use super::{Event, Level};
use crate::fault::Fault;

/// What the controls are at one moment, in their units.
#[derive(Debug, Clone, PartialEq)]
pub struct Moment {
    /// Each control, cold.
    pub controls: Vec<f64>,
    /// Part of each control that scales with the shrinkage of each joint: `[control][joint]`.
    pub by_joint: Vec<Vec<f64>>,
    /// What the heat in the tubes adds to each control now; it goes away on cooling.
    pub thermal: Vec<f64>,
    /// What one kelvin in each tube adds: `[control][tube]`.
    pub per_k: Vec<Vec<f64>>,
    /// Standard deviation of each control from everything but the factors common to many passes and
    /// the fit-up: single passes, lean, joint flexibility, clamp stiffness.
    pub other: Vec<f64>,
}

impl Model {
    /// The controls after these events. `free`: all clamps off for the reading; else as the events
    /// leave them. `rise_k`: warmth of each tube at that moment, K (may be empty: cold).
    ///
    /// # Errors
    /// As [`Model::evaluate`].
    pub fn moment(
        &self,
        events: &[Event],
        level: Level,
        rise_k: &[f64],
        free: bool,
    ) -> Result<Moment, Fault> {
        let level = self.level_for(level);
        let at = |options: &Options| -> Result<State<'_>, Fault> {
            let mut state = self.course(events, level, options, true)?;
            if free {
                state.finish()?;
            }
            Ok(state)
        };
        let clamped = !self.frame.clamps.is_empty();
        let varied = |o: Options| at(&o).map(|s| s.controls());
        let (state, (flex, clamp)) = rayon::join(
            || at(&Options { shares: true, ..Options::default() }),
            || {
                rayon::join(
                    || varied(Options { flex: c::FLEX_SPREAD.value, ..Options::default() }),
                    || clamped.then(|| varied(Options { clamp: c::CLAMP_SPREAD, ..Options::default() })),
                )
            },
        );
        let state = state?;
        let controls = state.controls();
        let mut others = vec![flex?];
        others.extend(clamp.transpose()?);
        let lean = self.lean();
        let laid = count(events) as f64 / self.passes.passes.len().max(1) as f64;
        let [_, _, pass] = self.frame.pull.scatter;
        let other = (0..controls.len())
            .map(|r| {
                let passes: f64 = state.direct.iter().map(|(_, v)| (pass * v[r]).powi(2)).sum();
                let varied: f64 = others.iter().map(|o| (o[r] - controls[r]).powi(2)).sum();
                (passes + varied + lean[r] * laid.min(1.0)).sqrt()
            })
            .collect();
        let tubes = self.frame.tubes.len();
        let per_k: Vec<Vec<f64>> = (0..controls.len())
            .map(|r| (0..tubes).map(|tube| state.field().control_by_heat(r, tube)).collect())
            .collect();
        let thermal = per_k.iter().map(|r| warm(r, rise_k)).collect();
        let by_joint = state.shares().into_iter().map(|(joints, _)| joints).collect();
        Ok(Moment { controls, by_joint, thermal, per_k, other })
    }
}

impl Moment {
    /// The same moment with the tubes so warm, K.
    pub fn warm(&mut self, rise_k: &[f64]) {
        self.thermal = self.per_k.iter().map(|r| warm(r, rise_k)).collect();
    }
}

fn warm(per_k: &[f64], rise_k: &[f64]) -> f64 {
    per_k.iter().zip(rise_k).map(|(c, k)| c * k).sum()
}

fn count(events: &[Event]) -> usize {
    events
        .iter()
        .map(|e| match e {
            Event::Pass { .. } => 1,
            Event::Together(list) => count(list),
            _ => 0,
        })
        .sum()
}

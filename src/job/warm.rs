//! The heat that really went in, and when: what the heat model needs to say how warm a joint is.

use super::card::Task;
use super::event::{UsedSettings, When};
use super::state::{DeedKind, Job};

/// One pass as a heat source.
#[derive(Debug, Clone, PartialEq)]
pub struct Pulse {
    /// Label of the pass.
    pub label: String,
    /// Name of its joint.
    pub joint: String,
    /// End of the arc, s before `now` (negative if the clock says later than now).
    pub ended_s_ago: f64,
    /// Arc time, s.
    pub arc_s: f64,
    /// Net energy, J.
    pub energy_j: f64,
    /// False if the time was unknown and the latest possible was taken.
    pub time_known: bool,
}

/// All passes laid so far as heat sources, seen from `now`. Where the time of a pass is unknown, it
/// is taken as late as it can have been (when it was written down, and not after the next pass whose
/// time is known): the joint is then not warmer than said.
pub fn pulses(job: &Job, now: When) -> Vec<Pulse> {
    let mut out = vec![];
    let mut latest: Option<When> = None;
    for deed in job.deeds.iter().rev() {
        let DeedKind::Laid { label, settings, .. } = &deed.kind else { continue };
        let end = match (deed.when, latest) {
            (Some(w), _) => w,
            (None, Some(l)) => l.min(deed.recorded),
            (None, None) => deed.recorded,
        };
        if deed.when.is_some() {
            latest = Some(end);
        }
        let Some(Task::Pass { joint, volts, amps, speed_mm_s, energy_j, arc_s, .. }) =
            job.item(label).map(|i| &i.task)
        else {
            continue;
        };
        let used = settings.clone().unwrap_or_default();
        let (energy, arc) = used.scaled(*volts, *amps, *speed_mm_s, *energy_j, *arc_s);
        out.push(Pulse {
            label: label.clone(),
            joint: joint.clone(),
            ended_s_ago: now.duration_since(end).as_secs_f64(),
            arc_s: arc,
            energy_j: energy,
            time_known: deed.when.is_some(),
        });
    }
    out.reverse();
    out
}

impl UsedSettings {
    /// Energy and arc time of a pass laid with these settings, from those of the sheet.
    ///
    /// ```text
    /// E = E₀·(U/U₀)·(I/I₀)·(t/t₀)      E  net energy, J;  U  volts;  I  amps
    ///                                  t  arc time, s: as given, else t₀·v₀/v with travel speed v
    /// ```
    ///
    /// Holds for the same process (same efficiency k). Source: the definition of heat input,
    /// EN 1011-1; arc energy is U·I·t.
    pub fn scaled(&self, volts: f64, amps: f64, speed_mm_s: f64, energy_j: f64, arc_s: f64) -> (f64, f64) {
        let ratio =
            |used: Option<f64>, sheet: f64| used.map_or(1.0, |u| if sheet > 0.0 { u / sheet } else { 1.0 });
        let arc = self.arc_s.unwrap_or(arc_s / ratio(self.speed_mm_s, speed_mm_s));
        let time = if arc_s > 0.0 { arc / arc_s } else { 1.0 };
        (energy_j * ratio(self.volts, volts) * ratio(self.amps, amps) * time, arc)
    }

    /// By how much the heat input per mm differs from the sheet, as a factor.
    pub fn heat_factor(&self, volts: f64, amps: f64, speed_mm_s: f64, arc_s: f64) -> f64 {
        self.scaled(volts, amps, speed_mm_s, 1.0, arc_s).0
    }
}

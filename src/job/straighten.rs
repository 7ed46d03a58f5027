//! What order can no longer cure: where a qualified person could straighten the frame, and what each way
//! would do to every control.

use super::{Floor, Job, Said};
use crate::distort::{Level, Spot};
use crate::fault::Fault;
use crate::library::MaterialGroup;
use glam::DVec3;

/// One way to straighten: a place, a side, how much, and what it does.
#[derive(Debug, Clone, PartialEq)]
pub struct Straightening {
    /// Name of the tube.
    pub tube: String,
    /// Name of the joint beside which it lies.
    pub joint: String,
    /// The side that is heated, or that becomes hollow: `top`, `underside`, `front`, `back`, `left`,
    /// `right` in the first setup.
    pub side: String,
    /// Kink wanted, degrees, hollow on that side.
    pub kink_deg: f64,
    /// Length of the heat line along the tube, mm; none if it would be longer than [`LONGEST_MM`].
    pub line_mm: Option<f64>,
    /// Net heat of the line, J/mm.
    pub q_j_mm: f64,
    /// Instead of heat, cold: force in the middle between two supports at which the tube begins to
    /// yield, N. Pressed from the other side, beyond this force, until the kink stays.
    pub press_n: f64,
    /// Distance of the two supports, mm.
    pub span_mm: f64,
    /// How far the middle is pressed in all until the kink stays when let go, mm.
    pub press_mm: f64,
    /// Deviation of each control then, in its unit.
    pub after: Vec<f64>,
    /// Sum of squared deviations in tolerances, before and after.
    pub squares: (f64, f64),
}

/// The list, or why there is none.
#[derive(Debug, Clone, PartialEq)]
pub enum Advice {
    /// Everything is foreseen within this share of its tolerance: leave it alone.
    NotNeeded,
    /// The material must not simply be heated or bent: names of the tubes.
    Material(Vec<String>),
    /// Ways, the best first, each by itself; deviations now, in the controls' units.
    Ways {
        /// Deviation of each control foreseen without straightening.
        now: Vec<f64>,
        /// Ways.
        ways: Vec<Straightening>,
        /// Tubes that are left out for their material.
        left_out: Vec<String>,
    },
}

/// Longer heat lines are not proposed: so much heat does other things too. Assumption.
pub const LONGEST_MM: f64 = 200.0;
/// Shorter lines or smaller kinks are not worth it.
const SHORTEST_MM: f64 = 5.0;
/// Supports of a press stand so many depths of the tube apart. Common practice, no source.
const SPAN_DEPTHS: f64 = 12.0;
/// Moment of a fully plastic round tube against first yield: 4/π. A press needs between 1 and this.
/// Source: plastic section modulus of a thin ring, derived.
const PLASTIC: f64 = 1.27;
/// Deviations below this share of the tolerance are left alone.
const LEAVE: f64 = 0.5;
/// Longest list.
const MOST: usize = 4;
/// A way must take off this share of the sum of squares.
const GAIN: f64 = 0.1;

impl Floor {
    /// Ways to straighten the frame as it will be when everything is welded as the sheet in force says.
    /// Tubes of 25CrMo4 / 4130 and of aluminium are left out unless `any_material`. None if no pull is
    /// predicted for this frame.
    ///
    /// # Errors
    /// As [`crate::distort::Model::evaluate`].
    pub fn straighten(&self, job: &Job, said: &Said, any_material: bool) -> Result<Option<Advice>, Fault> {
        let Some(model) = self.model() else { return Ok(None) };
        let now: Vec<f64> = said.outlook.iter().map(|o| o.after.deviation).collect();
        let tolerances: Vec<f64> = job.header.controls.iter().map(|c| c.tolerance).collect();
        let squares = |x: &[f64]| x.iter().zip(&tolerances).map(|(x, t)| (x / t).powi(2)).sum::<f64>();
        if now.iter().zip(&tolerances).all(|(x, t)| x.abs() <= LEAVE * t) {
            return Ok(Some(Advice::NotNeeded));
        }
        let frame = &self.frame;
        let tender = |tube: usize| {
            let group = frame.materials[frame.sections[frame.tubes[tube].section].material].group;
            matches!(group, MaterialGroup::ChromeMoly | MaterialGroup::Aluminium)
        };
        let mut left_out: Vec<String> = (0..frame.tubes.len())
            .filter(|t| !any_material && tender(*t))
            .map(|t| frame.tubes[t].name.clone())
            .collect();
        left_out.sort();
        if left_out.len() == frame.tubes.len() {
            return Ok(Some(Advice::Material(left_out)));
        }
        let bench = self.bench();
        let mut events = bench.done(job, &job.deeds);
        events.extend(bench.rest(job));
        let spots = model.spots(&events, Level::Fine)?;
        let before = squares(&now);
        let mut ways: Vec<Straightening> = spots
            .iter()
            .filter(|s| any_material || !tender(s.tube))
            .filter_map(|s| self.way(s, &now, &tolerances))
            .map(|mut w| {
                w.squares = (before, squares(&w.after));
                w
            })
            .filter(|w| w.squares.1 < (1.0 - GAIN) * before)
            .collect();
        ways.sort_by(|a, b| {
            let rounded = |w: &Straightening| (w.squares.1 * 1e6).round() as i64;
            rounded(a)
                .cmp(&rounded(b))
                .then_with(|| (&a.joint, &a.tube, &a.side).cmp(&(&b.joint, &b.tube, &b.side)))
        });
        ways.truncate(MOST);
        Ok(Some(Advice::Ways { now, ways, left_out }))
    }

    /// The best amount at one spot, if any amount is any good there.
    fn way(&self, s: &Spot, now: &[f64], tolerances: &[f64]) -> Option<Straightening> {
        let amount = |by: &[f64]| {
            let (mut up, mut down) = (0.0, 0.0);
            for ((x, b), t) in now.iter().zip(by).zip(tolerances) {
                up -= x * b / (t * t);
                down += (b / t).powi(2);
            }
            (down > 0.0).then_some(up / down)
        };
        let line_mm = amount(&s.by_line_mm).filter(|l| *l >= SHORTEST_MM)?;
        let with = |by: &[f64], a: f64| -> Vec<f64> { now.iter().zip(by).map(|(x, b)| x + a * b).collect() };
        let short = line_mm <= LONGEST_MM;
        // A line that would be too long: a cold bend alone is left.
        let (kink_deg, after) = if short {
            (line_mm * s.kink_deg_per_mm, with(&s.by_line_mm, line_mm))
        } else {
            let kink = amount(&s.by_kink_deg).filter(|k| *k > 0.0)?;
            (kink, with(&s.by_kink_deg, kink))
        };
        let frame = &self.frame;
        let p = frame.sections[frame.tubes[s.tube].section].shape.properties();
        let span_mm = (SPAN_DEPTHS * 2.0 * p.half_height_mm.max(p.half_across_mm) / 10.0).ceil() * 10.0;
        let press_n = 4.0 * s.yield_n_mm / span_mm;
        // Sag at the force that bends it for good (elastic part), and the kink's own.
        let elastic = PLASTIC * press_n * span_mm.powi(3) / (48.0 * s.ei_n_mm2);
        Some(Straightening {
            tube: frame.tubes[s.tube].name.clone(),
            joint: self.parts.joints.joints[s.joint].name.clone(),
            side: self.side(s.side),
            kink_deg,
            line_mm: short.then_some(line_mm),
            q_j_mm: s.q_j_mm,
            press_n,
            span_mm,
            press_mm: elastic + kink_deg.to_radians() * span_mm / 4.0,
            after,
            squares: (0.0, 0.0),
        })
    }

    /// A direction in words.
    fn side(&self, d: DVec3) -> String {
        let up = self.frame.setups.first().map_or(DVec3::Z, |s| s.up);
        let forward = self.frame.forward;
        let left = up.cross(forward).normalize_or_zero();
        let names = [(up, "top", "underside"), (forward, "front", "back"), (left, "left side", "right side")];
        let mut parts: Vec<(f64, &str)> = names
            .iter()
            .map(|(axis, plus, minus)| {
                let x = d.dot(*axis);
                (x.abs(), if x > 0.0 { *plus } else { *minus })
            })
            .collect();
        parts.sort_by(|a, b| b.0.total_cmp(&a.0));
        match parts.as_slice() {
            [a, b, ..] if b.0 > 0.5 * a.0 => format!("{}, towards the {}", a.1, b.1),
            [a, ..] => a.1.into(),
            [] => String::new(),
        }
    }
}

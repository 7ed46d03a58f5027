//! The tack defaults in use, as one table: how many, how long, how much arc and heat, and from where.

use super::place::{rule_length_mm, spacing_mm};
use super::{Tack, Tacks};
use crate::frame::Frame;
use crate::joint::Joints;
use crate::library::MaterialGroup;
use crate::procedure::Passes;
use crate::seam::Seams;

/// Tack defaults of all seams that share them.
#[derive(Debug, Clone, PartialEq)]
pub struct TackNumbers {
    /// The seams.
    pub seams: Vec<usize>,
    /// Section of the branch (index).
    pub section: usize,
    /// Walls of branch and carrier, mm.
    pub walls_mm: [f64; 2],
    /// Tacks on each seam.
    pub number: usize,
    /// Length that the published rule asks for, mm.
    pub rule_mm: f64,
    /// Length in use, mm.
    pub length_mm: f64,
    /// Largest distance between tacks on open seams, mm; closed seams have four in quarters.
    pub apart_mm: Option<f64>,
    /// Settings: those of the seam's first layer, index into [`Passes::settings`].
    pub settings: usize,
    /// Arc time of one tack, s.
    pub arc_s: f64,
    /// Net heat of one tack (k included), J.
    pub heat_j: f64,
    /// Where the length is from.
    pub length_from: &'static str,
    /// Where number and places are from.
    pub number_from: &'static str,
}

/// Arc time, s, and net heat, J, of a tack: its own length with the settings of the first layer of its
/// seam (assumption: a tack is laid like a short pass).
pub fn work(passes: &Passes, tack: &Tack) -> (f64, f64) {
    let first = passes.passes.iter().find(|p| p.seam == tack.seam && p.layer == 0);
    first.map_or((0.0, 0.0), |p| {
        (tack.length_mm / passes.settings[p.settings].speed_mm_s, tack.length_mm * p.heat_input_j_per_mm)
    })
}

/// The table, thinnest first in the order of the seams.
pub fn numbers(
    frame: &Frame,
    joints: &Joints,
    seams: &Seams,
    passes: &Passes,
    tacks: &Tacks,
) -> Vec<TackNumbers> {
    let mut out: Vec<TackNumbers> = Vec::new();
    for (s, seam) in seams.seams.iter().enumerate() {
        let mine: Vec<&Tack> = tacks.tacks.iter().filter(|t| t.seam == s).collect();
        let Some(first) = mine.first() else { continue };
        let section = frame.tubes[joints.meets[s].branch.0].section;
        let group = frame.materials[frame.sections[section].material].group;
        let aluminium = group == MaterialGroup::Aluminium;
        let [a, b] = seam.walls_mm;
        let rule_mm = rule_length_mm(group, a.max(b));
        let (arc_s, heat_j) = work(passes, first);
        let row = TackNumbers {
            seams: vec![s],
            section,
            walls_mm: seam.walls_mm,
            number: mine.len(),
            rule_mm,
            length_mm: first.length_mm,
            apart_mm: (!seam.closed).then(|| spacing_mm(group, a.min(b))),
            settings: passes.passes.iter().find(|p| p.seam == s).map_or(0, |p| p.settings),
            arc_s,
            heat_j,
            length_from: match (first.length_mm < rule_mm - 1e-9, aluminium) {
                (true, _) => "a third of the seam in all (common practice, no source)",
                (false, true) => "8 x thickness (Mathers, The welding of aluminium and its alloys, p. 88)",
                (false, false) => "4 x the thicker part, 50 mm from 12 mm on (EN 1011-2, clause 13)",
            },
            number_from: match (seam.closed, aluminium) {
                (true, _) => "four in quarters (common practice, no source)",
                (false, true) => "at most 35 x thickness apart (Mathers, p. 88)",
                (false, false) => "2 to 3 in apart (common practice, no source)",
            },
        };
        let arc = |r: &TackNumbers| {
            let s = &passes.settings[r.settings];
            (s.process, s.amps, s.volts)
        };
        let like = |r: &TackNumbers| TackNumbers {
            seams: vec![],
            length_mm: 0.0,
            arc_s: 0.0,
            heat_j: 0.0,
            ..r.clone()
        };
        // Lengths that agree on the sheet share a row.
        let near = |r: &TackNumbers| {
            like(r) == like(&row)
                && arc(r) == arc(&row)
                && (r.length_mm - row.length_mm).abs() < 0.5
                && (r.arc_s - row.arc_s).abs() < 0.3
        };
        match out.iter_mut().find(|r| near(r)) {
            Some(r) => r.seams.push(s),
            None => out.push(row),
        }
    }
    out
}

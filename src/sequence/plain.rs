//! The question in whole numbers, with look-up tables, for everything that has to be fast and exact.
//!
//! Energies are whole microjoules and lengths whole nanometres, so that sums do not depend on the
//! order of adding and two orders can be compared exactly.

use super::Question;
use crate::joint::Side;

/// Excess of side balance below which nothing is counted: 0.01 J, in microjoules.
pub(crate) const BALANCE_GRAIN_UJ: i64 = 10_000;
/// Lack of distance below which nothing is counted: 0.001 mm, in nanometres.
pub(crate) const DISTANCE_GRAIN_NM: i64 = 1_000;
/// Stands for "not connected along the steel".
const FAR_NM: i64 = i64::MAX / 4;

/// Whether a pass is pinned.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Pin {
    /// Not pinned.
    Free,
    /// The i-th of those that come first.
    First(usize),
    /// The i-th of those that come last.
    Last(usize),
}

/// See the head of this file.
pub(crate) struct Plain<'a> {
    pub q: &'a Question,
    pub energy_uj: Vec<i64>,
    /// +1 left, −1 right, 0 centre.
    pub sign: Vec<i64>,
    pub limit_uj: i64,
    pub balance_on: bool,
    pub joints: usize,
    steel_nm: Vec<i64>,
    pub distance_nm: i64,
    pub welder_nm: i64,
    pub spacing: i64,
    pub seam_passes: Vec<Vec<usize>>,
    pub setup_mask: Vec<u64>,
    apart: Vec<bool>,
    pub any_apart: bool,
    pub pin: Vec<Pin>,
    pub firsts: usize,
    pub lasts: usize,
}

impl<'a> Plain<'a> {
    /// Tables for a question. Pins of passes in `q.done` are void: those passes are laid.
    pub fn new(q: &'a Question) -> Self {
        let n = q.passes.len();
        let joints = q.steel_mm.len();
        let energy_uj: Vec<i64> = q.passes.iter().map(|p| (p.energy_j * 1e6).round() as i64).collect();
        let sign: Vec<i64> = q
            .passes
            .iter()
            .map(|p| match p.side {
                Side::Left => 1,
                Side::Right => -1,
                Side::Centre => 0,
            })
            .collect();
        let total: i64 = energy_uj.iter().zip(&sign).map(|(e, s)| e * s).sum();
        let limit_uj = energy_uj.iter().max().copied().unwrap_or(0) + total.abs();
        let mut steel_nm = vec![FAR_NM; joints * joints];
        for (i, row) in q.steel_mm.iter().enumerate() {
            for (j, &mm) in row.iter().enumerate() {
                steel_nm[i * joints + j] = nm(mm);
            }
        }
        let seams = q.passes.iter().map(|p| p.seam + 1).max().unwrap_or(0);
        let mut seam_passes = vec![Vec::new(); seams];
        for (i, p) in q.passes.iter().enumerate() {
            seam_passes[p.seam].push(i);
        }
        let setup_mask = q.passes.iter().map(|p| p.setups.iter().fold(0u64, |m, &s| m | (1 << s))).collect();
        let mut apart = vec![false; joints * joints];
        for &(a, b) in &q.apart {
            apart[a * joints + b] = true;
            apart[b * joints + a] = true;
        }
        let mut laid = vec![false; n];
        for step in &q.done {
            for l in &step.passes {
                laid[l.pass] = true;
            }
        }
        let mut pin = vec![Pin::Free; n];
        let mut firsts = 0;
        for &p in q.first.iter().filter(|&&p| !laid[p]) {
            pin[p] = Pin::First(firsts);
            firsts += 1;
        }
        let mut lasts = 0;
        for &p in q.last.iter().filter(|&&p| !laid[p]) {
            pin[p] = Pin::Last(lasts);
            lasts += 1;
        }
        Plain {
            q,
            energy_uj,
            sign,
            limit_uj,
            balance_on: q.has_plane && q.rules.balance,
            joints,
            steel_nm,
            distance_nm: nm(q.rules.distance_mm),
            welder_nm: nm(q.rules.welder_distance_mm),
            spacing: q.rules.spacing as i64,
            seam_passes,
            setup_mask,
            any_apart: !q.apart.is_empty(),
            apart,
            pin,
            firsts,
            lasts,
        }
    }

    /// Number of passes.
    pub fn n(&self) -> usize {
        self.q.passes.len()
    }

    /// Steel between two joints, nm; very large if not connected.
    pub fn steel(&self, a: usize, b: usize) -> i64 {
        self.steel_nm[a * self.joints + b]
    }

    /// Whether two joints must not follow each other.
    pub fn apart(&self, a: usize, b: usize) -> bool {
        self.any_apart && self.apart[a * self.joints + b]
    }

    /// Whether a pass can be welded in a setup.
    pub fn fits(&self, pass: usize, setup: usize) -> bool {
        self.setup_mask[pass] >> setup & 1 == 1
    }

    /// Excess of a left-minus-right difference over the balance limit, µJ.
    pub fn excess(&self, diff_uj: i64) -> i64 {
        let over = diff_uj.abs() - self.limit_uj;
        if self.balance_on && over > BALANCE_GRAIN_UJ { over } else { 0 }
    }

    /// Lack of distance when `nearest` is the steel to the nearest joint of the last step, nm.
    pub fn lack(&self, nearest_nm: i64) -> i64 {
        let lack = self.distance_nm - nearest_nm;
        if lack > DISTANCE_GRAIN_NM { lack } else { 0 }
    }
}

fn nm(mm: f64) -> i64 {
    if mm.is_finite() && mm < 1e9 { (mm * 1e6).round() as i64 } else { FAR_NM }
}

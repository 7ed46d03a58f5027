//! What readings say about the shrinkage: a linear Gaussian update of its factors.
//!
//! For a fixed order a control moves by y = y₀ + Σⱼ Bⱼ·(fⱼ − 1): every joint's share Bⱼ times the
//! joint's factor fⱼ = 1 + common + kind(j) + own(j). The control may also have stood off by an
//! unknown amount when it was tacked. All of these are unknown with a known spread; each reading
//! narrows them.

use super::reading::{Expected, Judged, judge};

/// Factors outside this range are reported and not used.
pub const USABLE: (f64, f64) = (0.2, 3.0);

/// Spread of what is unknown before the first reading (standard deviations).
#[derive(Debug, Clone, PartialEq)]
pub struct Prior {
    /// Common to all joints, as a fraction of the shrinkage.
    pub common: f64,
    /// By kind of joint.
    pub kind: f64,
    /// By joint.
    pub joint: f64,
    /// Each control as tacked, in its unit (fit-up that was not measured).
    pub offset: Vec<f64>,
}

/// Share of the variance of the common factor that belongs to the kind of joint. Assumption: a
/// prediction has the same scatter with and without it, since common² + kind² stays what it was.
pub const KIND_SHARE: f64 = 0.25;

/// An angle as tacked, if it was not measured, degrees. Assumption: the lean of one branch.
pub const OFFSET_DEG: f64 = 0.1;

impl Prior {
    /// From the scatter of the pull model (common, joint, pass) and the fit-up error of the shop, mm;
    /// `units` are those of the controls, `mm` or `deg`.
    pub fn new(scatter: [f64; 3], fit_up_mm: f64, units: &[&str]) -> Prior {
        let [common, joint, _] = scatter;
        Prior {
            common: common * (1.0 - KIND_SHARE).sqrt(),
            kind: common * KIND_SHARE.sqrt(),
            joint,
            offset: units.iter().map(|u| if *u == "deg" { OFFSET_DEG } else { fit_up_mm }).collect(),
        }
    }
}

/// A reading with what the model says about that moment. Values are deviations from nominal in the
/// control's unit.
#[derive(Debug, Clone, PartialEq)]
pub struct Observation {
    /// Index of the control.
    pub control: usize,
    /// What was read.
    pub deviation: f64,
    /// Standard deviation of the reading.
    pub error: f64,
    /// What the model predicts with all factors 1, for the clamps and the heat of that moment, set-to
    /// included.
    pub expected: f64,
    /// The part of it that is due to heat and goes away on cooling.
    pub thermal: f64,
    /// Share of each joint in the shrinkage part of the prediction.
    pub by_joint: Vec<f64>,
    /// Standard deviation of everything else that moves this control (single passes, lean).
    pub other: f64,
    /// A second reading agrees.
    pub confirmed: bool,
    /// Tolerance of the control.
    pub tolerance: f64,
}

/// What is known about the factors.
#[derive(Debug, Clone, PartialEq)]
pub struct Belief {
    /// Kinds, in order of first appearance.
    kinds: Vec<String>,
    /// Kind of each joint, index into `kinds`.
    kind_of: Vec<usize>,
    /// Number of controls.
    controls: usize,
    /// Mean: common, kinds, joints (each minus 1, so 0 = as modelled), offsets of the controls.
    mean: Vec<f64>,
    /// Covariance, row by row.
    cov: Vec<f64>,
}

/// What the readings taught.
#[derive(Debug, Clone, PartialEq)]
pub struct Learnt {
    /// What is known now.
    pub belief: Belief,
    /// What each reading said when it came in, in the order given.
    pub judged: Vec<Judged>,
}

/// A prediction with its standard deviation, in the control's unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Forecast {
    /// Deviation from nominal.
    pub deviation: f64,
    /// Standard deviation.
    pub scatter: f64,
}

/// Learn from readings in the order in which they were made. A reading that asks to be read again,
/// or that heat distorts, is judged and left out.
pub fn learn(kinds_of_joints: &[&str], prior: &Prior, observations: &[Observation]) -> Learnt {
    let mut belief = Belief::new(kinds_of_joints, prior);
    let judged = observations
        .iter()
        .map(|o| {
            let now = belief.forecast(o.control, o.expected, &o.by_joint, o.other);
            let expected = Expected { deviation: now.deviation, scatter: now.scatter, thermal: o.thermal };
            let judged = judge(o.deviation, o.error, o.confirmed, o.tolerance, &expected);
            if judged.usable {
                belief.update(o);
            }
            judged
        })
        .collect();
    Learnt { belief, judged }
}

impl Belief {
    /// Before the first reading: all factors 1. One kind name for each joint.
    pub fn new(kinds_of_joints: &[&str], prior: &Prior) -> Belief {
        let mut kinds: Vec<String> = vec![];
        let kind_of: Vec<usize> = kinds_of_joints
            .iter()
            .map(|k| {
                kinds.iter().position(|o| o == k).unwrap_or_else(|| {
                    kinds.push((*k).into());
                    kinds.len() - 1
                })
            })
            .collect();
        let spread: Vec<f64> = std::iter::once(prior.common)
            .chain(kinds.iter().map(|_| prior.kind))
            .chain(kind_of.iter().map(|_| prior.joint))
            .chain(prior.offset.iter().copied())
            .collect();
        let n = spread.len();
        let mut cov = vec![0.0; n * n];
        for (i, s) in spread.iter().enumerate() {
            cov[i * n + i] = s * s;
        }
        Belief { kinds, kind_of, controls: prior.offset.len(), mean: vec![0.0; n], cov }
    }

    /// How a prediction depends on the unknowns.
    fn row(&self, control: usize, by_joint: &[f64]) -> Vec<f64> {
        let mut h = vec![0.0; self.mean.len()];
        let (first_joint, first_offset) = (1 + self.kinds.len(), 1 + self.kinds.len() + self.kind_of.len());
        for (j, (&kind, &b)) in self.kind_of.iter().zip(by_joint).enumerate() {
            h[0] += b;
            h[1 + kind] += b;
            h[first_joint + j] += b;
        }
        h[first_offset + control] = 1.0;
        h
    }

    /// A prediction for any moment: `expected` and `by_joint` as in [`Observation`], `other` the
    /// standard deviation of what is not learnt (single passes, lean …).
    pub fn forecast(&self, control: usize, expected: f64, by_joint: &[f64], other: f64) -> Forecast {
        let h = self.row(control, by_joint);
        let variance = dot(&h, &self.times(&h)).max(0.0);
        Forecast { deviation: expected + dot(&h, &self.mean), scatter: variance.sqrt().hypot(other) }
    }

    fn times(&self, h: &[f64]) -> Vec<f64> {
        self.cov.chunks_exact(h.len()).map(|row| dot(row, h)).collect()
    }

    /// One reading narrows what is known.
    ///
    /// ```text
    /// K = P·hᵀ/(h·P·hᵀ + r);   x ← x + K·(z − y₀ − h·x);   P ← (1 − K·h)·P·(1 − K·h)ᵀ + K·r·Kᵀ
    /// ```
    ///
    /// x unknowns, P their covariance, z the reading, y₀ + h·x the prediction, r its variance
    /// (reading error and everything that is not learnt). Joseph's form, which keeps P symmetric and
    /// positive whatever the rounding. Source: R. E. Kalman, "A new approach to linear filtering and
    /// prediction problems", J. Basic Engineering 82 (1960); Joseph's form as in A. Gelb (ed.),
    /// Applied Optimal Estimation (1974), section 8.4; both from memory.
    fn update(&mut self, o: &Observation) {
        let h = self.row(o.control, &o.by_joint);
        let r = o.error * o.error + o.other * o.other;
        let ph = self.times(&h);
        let s = dot(&h, &ph) + r;
        let gain: Vec<f64> = ph.iter().map(|p| p / s).collect();
        let off = o.deviation - o.expected - dot(&h, &self.mean);
        for (x, k) in self.mean.iter_mut().zip(&gain) {
            *x += k * off;
        }
        // (1 − K·h)·P first, then the same from the right; P is symmetric, so rows serve as columns.
        let n = h.len();
        let mut half = self.cov.clone();
        for i in 0..n {
            for j in 0..n {
                half[i * n + j] -= gain[i] * ph[j];
            }
        }
        let half_h: Vec<f64> = half.chunks_exact(n).map(|row| dot(row, &h)).collect();
        for i in 0..n {
            for j in 0..n {
                self.cov[i * n + j] = half[i * n + j] - half_h[i] * gain[j] + gain[i] * r * gain[j];
            }
        }
        for i in 0..n {
            for j in 0..i {
                let mean = 0.5 * (self.cov[i * n + j] + self.cov[j * n + i]);
                self.cov[i * n + j] = mean;
                self.cov[j * n + i] = mean;
            }
        }
    }

    /// Factor on the shrinkage of each joint, with its standard deviation.
    pub fn joint_factors(&self) -> Vec<(f64, f64)> {
        let first = 1 + self.kinds.len();
        (0..self.kind_of.len()).map(|j| self.sum(&[0, 1 + self.kind_of[j], first + j])).collect()
    }

    /// Factor by kind of joint (common and kind together), with its standard deviation.
    pub fn kind_factors(&self) -> Vec<(&str, f64, f64)> {
        let with = |(k, name): (usize, _)| {
            let (mean, sd) = self.sum(&[0, 1 + k]);
            (name, mean, sd)
        };
        self.kinds.iter().map(String::as_str).enumerate().map(with).collect()
    }

    /// Covariance of the factors by kind, in the order of [`Belief::kind_factors`].
    pub fn kind_covariance(&self) -> Vec<Vec<f64>> {
        let n = self.mean.len();
        let at = |i: usize, j: usize| self.cov[i * n + j];
        let kinds = 1..=self.kinds.len();
        kinds
            .clone()
            .map(|a| kinds.clone().map(|b| at(0, 0) + at(0, b) + at(a, 0) + at(a, b)).collect())
            .collect()
    }

    /// Covariance of the joints' factors and, after them, of the controls' offsets, row by row; and the
    /// number of joints.
    pub fn joints_and_offsets(&self) -> (usize, Vec<f64>) {
        let joints = self.kind_of.len();
        let (first, n) = (1 + self.kinds.len(), self.mean.len());
        let parts = |i: usize| match i.checked_sub(joints) {
            None => vec![0, 1 + self.kind_of[i], first + i],
            Some(c) => vec![first + joints + c],
        };
        let all: Vec<Vec<usize>> = (0..joints + self.controls).map(parts).collect();
        let cov = |a: &[usize], b: &[usize]| -> f64 {
            a.iter().flat_map(|i| b.iter().map(move |j| self.cov[i * n + j])).sum()
        };
        (joints, all.iter().flat_map(|a| all.iter().map(|b| cov(a, b))).collect())
    }

    /// Common factor with its standard deviation.
    pub fn common_factor(&self) -> (f64, f64) {
        self.sum(&[0])
    }

    /// What each control was off by when it was tacked, in its unit, with its standard deviation.
    pub fn offsets(&self) -> Vec<(f64, f64)> {
        let first = self.mean.len() - self.controls;
        (0..self.controls).map(|c| self.sum(&[first + c])).map(|(mean, sd)| (mean - 1.0, sd)).collect()
    }

    /// One plus the sum of some unknowns, and its standard deviation.
    fn sum(&self, which: &[usize]) -> (f64, f64) {
        let n = self.mean.len();
        let mean: f64 = 1.0 + which.iter().map(|&i| self.mean[i]).sum::<f64>();
        let var: f64 = which.iter().flat_map(|&i| which.iter().map(move |&j| self.cov[i * n + j])).sum();
        (mean, var.max(0.0).sqrt())
    }

    /// Factors for the next plan, one for each joint, and which joints (index, factor found) were
    /// outside [`USABLE`] and keep the factor 1.
    pub fn usable_factors(&self) -> (Vec<f64>, Vec<(usize, f64)>) {
        let mut outside = vec![];
        let usable = self
            .joint_factors()
            .into_iter()
            .enumerate()
            .map(|(j, (f, _))| {
                if (USABLE.0..=USABLE.1).contains(&f) {
                    f
                } else {
                    outside.push((j, f));
                    1.0
                }
            })
            .collect();
        (usable, outside)
    }
}

/// Standard deviation of a control from passes that each pull a little more or less than the rest:
/// as if the passes of a joint shared its contribution equally.
///
/// ```text
/// s = pass·√(Σⱼ Bⱼ²/nⱼ)      B contribution of joint j;  n passes laid there;  pass their scatter
/// ```
///
/// Assumption, as the pass scatter itself.
pub fn pass_scatter(by_joint: &[f64], passes: &[usize], pass: f64) -> f64 {
    pass * by_joint
        .iter()
        .zip(passes)
        .filter(|(_, n)| **n > 0)
        .map(|(b, &n)| b * b / n as f64)
        .sum::<f64>()
        .sqrt()
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}

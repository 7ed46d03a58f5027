//! What makes one order better than another among those that fall equally short of the rules.
//!
//! ```text
//!     J = Σ_r w_r·( w_dev·e_r² + w_scat·σ_r² )/tol_r²  +  w_time·minutes
//!
//!     e_r = offset + tacks + Σ_p y_pr + set-to          deviation of control r that is left
//!     σ_r² = s_c²·(tacks + Σ_p y_pr)² + s_j²·Σ_joints(Σ_p∈joint y_pr)² + s_p²·Σ_p y_pr² + other_r²
//! ```
//!
//! y_pr is what pass p adds to control r. The common, joint and pass factors of shrinkage are taken
//! as independent, so σ follows from the same contributions as e. Every term is kept apart in
//! [`Terms`].

use super::{Question, Step};

/// What is aimed at.
#[derive(Debug, Clone)]
pub struct Aim {
    /// One for each control of the coarse model, in its order.
    pub controls: Vec<AimControl>,
    /// Weight of the squared deviation that is left.
    pub deviation: f64,
    /// Weight of the scatter.
    pub scatter: f64,
    /// Weight of a minute of work.
    pub time_per_min: f64,
    /// Standard deviations of the common, the joint and the pass factor of shrinkage.
    pub factors: [f64; 3],
    /// Objectives that agree when rounded to this are ties.
    pub grain: f64,
}

impl Aim {
    /// Weights as shipped: deviation and scatter count alike; ten minutes weigh as much as a tenth
    /// of one control's tolerance, squared.
    pub fn new(controls: Vec<AimControl>, factors: [f64; 3]) -> Self {
        Aim { controls, deviation: 1.0, scatter: 1.0, time_per_min: 0.001, factors, grain: 1e-4 }
    }
}

/// One control as the search sees it. All lengths in the control's own unit.
#[derive(Debug, Clone)]
pub struct AimControl {
    /// Tolerance, ±.
    pub tolerance: f64,
    /// Weight among the controls, 1 by default.
    pub weight: f64,
    /// Deviation as it stands before welding, without the pull of the tacks if the coarse model has it.
    pub offset: f64,
    /// How it is set beforehand.
    pub set: SetTo,
    /// Further standard deviation that no order changes (fit-up, lean …).
    pub other_scatter: f64,
}

/// The value to which a control is set before welding.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum SetTo {
    /// Still free: minus the pull, rounded to the step and cut at the limit (both > 0).
    Free {
        /// Step, in the control's unit.
        step: f64,
        /// Largest value, in the control's unit.
        limit: f64,
    },
    /// It is what it is: already set, or cannot be set (0).
    Fixed(f64),
}

/// The objective, term by term.
#[derive(Debug, Clone, PartialEq)]
pub struct Terms {
    /// Deviation left, weighted, in tolerances squared.
    pub deviation: f64,
    /// Scatter, weighted, in tolerances squared.
    pub scatter: f64,
    /// Time, weighted.
    pub time: f64,
    /// For each control: pull, set-to, deviation left, standard deviation.
    pub controls: Vec<[f64; 4]>,
    /// Largest deviation on the way, after set-to, in tolerances.
    pub excursion: f64,
    /// Turns of the frame.
    pub turns: usize,
    /// Minutes: arc time of each step's longest pass, and turns.
    pub minutes: f64,
}

impl Terms {
    /// The sum.
    pub fn total(&self) -> f64 {
        self.deviation + self.scatter + self.time
    }
}

impl SetTo {
    /// The value for a pull.
    pub fn value(self, pull: f64) -> f64 {
        match self {
            SetTo::Fixed(x) => x,
            SetTo::Free { step, limit } => ((-pull / step).round() * step).clamp(-limit, limit),
        }
    }
}

/// Arc time of each step's longest pass, and turns, in minutes; and the number of turns.
pub fn minutes(q: &Question, steps: &[Step]) -> (f64, usize) {
    let longest = |s: &Step| s.passes.iter().map(|l| q.passes[l.pass].arc_s).fold(0.0, f64::max);
    let arc_s: f64 = steps.iter().map(longest).sum();
    let before = |i: usize| match (q.lying, i) {
        (Some(setup), i) if i == q.done.len() => setup,
        (_, 0) => 0,
        _ => steps[i - 1].setup,
    };
    let turns = (0..steps.len()).filter(|&i| before(i) != steps[i].setup).count();
    (arc_s / 60.0 + turns as f64 * q.turn_min, turns)
}

/// The objective of an order from the contributions of its passes (`n × r`, by pass index) and the
/// pull of the tacks.
pub fn terms(q: &Question, aim: &Aim, tacks: &[f64], steps: &[Step], y: &[f64]) -> Terms {
    let joints: Vec<usize> = q.passes.iter().map(|p| p.joint).collect();
    let sums = Sums::new(aim, tacks, &joints, q.steel_mm.len(), y);
    let mut t = Terms {
        deviation: 0.0,
        scatter: 0.0,
        time: 0.0,
        controls: Vec::new(),
        excursion: 0.0,
        turns: 0,
        minutes: 0.0,
    };
    for r in 0..aim.controls.len() {
        let c = &aim.controls[r];
        let (pull, left, var) = sums.control(aim, r, 0.0, 0.0, 0.0);
        let per = c.weight / (c.tolerance * c.tolerance);
        t.deviation += aim.deviation * per * left * left;
        t.scatter += aim.scatter * per * var;
        t.controls.push([pull, left - pull - c.offset, left, var.sqrt()]);
    }
    (t.minutes, t.turns) = minutes(q, steps);
    t.time = aim.time_per_min * t.minutes;
    let mut at: Vec<f64> =
        (0..aim.controls.len()).map(|r| aim.controls[r].offset + tacks[r] + t.controls[r][1]).collect();
    for step in steps {
        for l in &step.passes {
            (0..at.len()).for_each(|r| at[r] += y[l.pass * at.len() + r]);
        }
        let now = at.iter().zip(&aim.controls).map(|(x, c)| x.abs() / c.tolerance);
        t.excursion = now.fold(t.excursion, f64::max);
    }
    t
}

/// Running sums over the contributions, so that a change of a few passes costs a few operations.
#[derive(Debug, Clone)]
pub(crate) struct Sums {
    r: usize,
    tacks: Vec<f64>,
    pull: Vec<f64>,
    by_joint: Vec<f64>,
    joint_sq: Vec<f64>,
    pass_sq: Vec<f64>,
    // Scratch of `judge`: change by joint, and joints that have one.
    change: Vec<f64>,
    touched: Vec<usize>,
}

impl Sums {
    pub fn new(aim: &Aim, tacks: &[f64], joint_of: &[usize], joints: usize, y: &[f64]) -> Self {
        let r = aim.controls.len();
        let mut s = Sums {
            r,
            tacks: tacks.to_vec(),
            pull: vec![0.0; r],
            by_joint: vec![0.0; joints * r],
            joint_sq: vec![0.0; r],
            pass_sq: vec![0.0; r],
            change: vec![0.0; joints * r],
            touched: Vec::new(),
        };
        for (p, y) in y.chunks_exact(r.max(1)).enumerate() {
            for (c, y) in y.iter().enumerate() {
                s.pull[c] += y;
                s.pass_sq[c] += y * y;
                s.by_joint[joint_of[p] * r + c] += y;
            }
        }
        for row in s.by_joint.chunks_exact(r.max(1)) {
            (0..r).for_each(|c| s.joint_sq[c] += row[c] * row[c]);
        }
        s
    }

    /// Pull, deviation left and variance of a control if the sums changed by so much.
    fn control(&self, aim: &Aim, r: usize, pull: f64, joint_sq: f64, pass_sq: f64) -> (f64, f64, f64) {
        let c = &aim.controls[r];
        let [sc, sj, sp] = aim.factors;
        let pull = self.tacks[r] + self.pull[r] + pull;
        let left = c.offset + pull + c.set.value(pull + c.offset);
        let var = sc * sc * pull * pull
            + sj * sj * (self.joint_sq[r] + joint_sq)
            + sp * sp * (self.pass_sq[r] + pass_sq)
            + c.other_scatter * c.other_scatter;
        (pull, left, var)
    }

    /// Deviation of a control after it was set and tacked, before the first pass.
    pub fn before_welding(&self, aim: &Aim, r: usize) -> f64 {
        let c = &aim.controls[r];
        c.offset + self.tacks[r] + c.set.value(c.offset + self.tacks[r] + self.pull[r])
    }

    /// Deviation and scatter terms as they stand.
    pub fn value(&mut self, aim: &Aim) -> f64 {
        self.judge(aim, &[], &[], &[], &[])
    }

    /// The same if the passes named had the contributions `new` (one row each, in that order)
    /// instead of those in `y` (`n × r`).
    pub fn judge(&mut self, aim: &Aim, joint_of: &[usize], passes: &[usize], new: &[f64], y: &[f64]) -> f64 {
        let r = self.r;
        for (i, &p) in passes.iter().enumerate() {
            let j = joint_of[p];
            if !self.touched.contains(&j) {
                self.touched.push(j);
            }
            for c in 0..r {
                self.change[j * r + c] += new[i * r + c] - y[p * r + c];
            }
        }
        let mut total = 0.0;
        for c in 0..r {
            let (mut pull, mut joint_sq, mut pass_sq) = (0.0, 0.0, 0.0);
            for &j in &self.touched {
                let d = self.change[j * r + c];
                pull += d;
                joint_sq += d * (2.0 * self.by_joint[j * r + c] + d);
            }
            for (i, &p) in passes.iter().enumerate() {
                let (a, b) = (new[i * r + c], y[p * r + c]);
                pass_sq += a * a - b * b;
            }
            let (_, left, var) = self.control(aim, c, pull, joint_sq, pass_sq);
            let a = &aim.controls[c];
            total +=
                a.weight * (aim.deviation * left * left + aim.scatter * var) / (a.tolerance * a.tolerance);
        }
        for j in self.touched.drain(..) {
            self.change[j * r..(j + 1) * r].fill(0.0);
        }
        total
    }

    /// Make the change that [`Sums::judge`] judged.
    pub fn take(&mut self, joint_of: &[usize], passes: &[usize], new: &[f64], y: &mut [f64]) {
        let r = self.r;
        for (i, &p) in passes.iter().enumerate() {
            let j = joint_of[p];
            for c in 0..r {
                let (a, b) = (new[i * r + c], y[p * r + c]);
                self.pull[c] += a - b;
                self.pass_sq[c] += a * a - b * b;
                let sum = &mut self.by_joint[j * r + c];
                self.joint_sq[c] += (a - b) * (2.0 * *sum + a - b);
                *sum += a - b;
                y[p * r + c] = a;
            }
        }
    }
}

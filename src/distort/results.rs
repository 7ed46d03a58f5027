//! From an evaluated order to what is shown: pull, scatter, set-to, shares, shape; and the coarse
//! model as plain numbers for the search.

use super::constants as c;
use super::model::{Model, Options};
use super::port::PortKind;
use super::set_to;
use super::staged::{State, last_use};
use super::structure::along;
use super::{Coarse, ControlPull, Event, Level, Pull, Tack};
use crate::fault::Fault;
use crate::frame::{ControlKind, Release, Spot};
use glam::DVec3;

impl Model {
    /// What the events do to the controls, with scatter, shares and the shape at the end.
    ///
    /// If no tack is among the events, the frame starts with tacks laid evenly on every seam, set at
    /// zero force. Clamps of the first setup are on from the start; those that no event releases are
    /// released at the end, cold.
    ///
    /// # Errors
    /// `E602` if a release takes away a tube's last restraint.
    pub fn evaluate(&self, events: &[Event], level: Level) -> Result<Pull, Fault> {
        let level = self.level_for(level);
        let shares = Options { shares: true, ..Options::default() };
        let mut state = self.course(events, level, &shares, false)?;
        state.finish()?;
        let y = state.controls();
        let mut others = Vec::new();
        let flex = Options { flex: c::FLEX_SPREAD.value, ..Options::default() };
        others.push(self.run(events, level, &flex)?.controls());
        if !self.frame.clamps.is_empty() {
            let clamp = Options { clamp: c::CLAMP_SPREAD, ..Options::default() };
            others.push(self.run(events, level, &clamp)?.controls());
        }
        let lean = self.lean();
        let by = state.shares();
        let [common, joint, pass] = self.frame.pull.scatter;
        let controls = self
            .frame
            .controls
            .iter()
            .enumerate()
            .map(|(r, control)| {
                let (by_joint, by_tube) = by[r].clone();
                let all: f64 = by_joint.iter().sum();
                let mut variance = (common * all).powi(2);
                variance += by_joint.iter().map(|v| (joint * v).powi(2)).sum::<f64>();
                variance += state.direct.iter().map(|(_, v)| (pass * v[r]).powi(2)).sum::<f64>();
                variance += others.iter().map(|o| (o[r] - y[r]).powi(2)).sum::<f64>();
                variance += lean[r] + self.fit_up_sd(r).powi(2);
                let largest = state
                    .path
                    .iter()
                    .map(|p| p[r])
                    .chain([y[r]])
                    .fold(0.0f64, |a, b| if b.abs() > a.abs() { b } else { a });
                let set_to = set_to::set_to(control, y[r]);
                ControlPull {
                    pull: y[r],
                    scatter: variance.sqrt(),
                    largest,
                    set_to,
                    residual: y[r] + set_to,
                    by_joint,
                    by_tube,
                }
            })
            .collect();
        let mut remarks = self.remarks(level);
        remarks.extend(state.remarks.clone());
        let (shape, course) = state.shape().into_iter().map(|l| (l.axis, l.course)).unzip();
        Ok(Pull {
            controls,
            path: state.path.clone(),
            shape,
            course,
            level: level.word(),
            clamp_forces: state.released.clone(),
            remarks,
        })
    }

    /// Only the controls and their path: for judging many orders.
    ///
    /// # Errors
    /// As [`Model::evaluate`].
    pub fn controls_after(&self, events: &[Event], level: Level) -> Result<(Vec<f64>, Vec<Vec<f64>>), Fault> {
        let state = self.run(events, self.level_for(level), &Options::default())?;
        Ok((state.controls(), state.path))
    }

    /// Fine, unless the frame is larger than fine is meant for.
    pub fn level_for(&self, level: Level) -> Level {
        if self.passes.passes.len() > c::FINE_LIMIT_PASSES { Level::Coarse } else { level }
    }

    pub(super) fn run(&self, events: &[Event], level: Level, options: &Options) -> Result<State<'_>, Fault> {
        let mut state = self.course(events, level, options, true)?;
        state.finish()?;
        Ok(state)
    }

    /// The events and no more: clamps that no event released are still on. `last`: nothing but the
    /// release of clamps follows, and of the gaps none is read any more.
    pub(super) fn course(
        &self,
        events: &[Event],
        level: Level,
        options: &Options,
        last: bool,
    ) -> Result<State<'_>, Fault> {
        let options = &Options { flex: options.flex * self.varied.0, ..*options };
        let uses = last.then(|| last_use(self, events));
        let loose = || State::loose(self, level, options, uses.as_ref());
        let mut state = if events.iter().any(has_tack) {
            loose()
        } else {
            // Model::new has proved that the frame holds with these tacks.
            State::tacked(self, &self.default_tacks(), level, options, uses.as_ref()).unwrap_or_else(loose)
        };
        state.follow(events)?;
        Ok(state)
    }

    /// The events of a weld-out: passes in order with their clamps released where the frame says so,
    /// and turns where the setup changes. `steps` holds, for each step, the setup and its passes
    /// with their direction; `rise_k` the warmth of the tubes before each step (may be empty).
    pub fn events(&self, steps: &[(usize, Vec<(usize, bool)>)], rise_k: &[Vec<f64>]) -> Vec<Event> {
        self.events_after(0, 0, steps, rise_k)
    }

    /// As [`Model::events`], for steps of which the first `done` have happened in their own way; now the
    /// frame lies in `setup`.
    pub fn events_after(
        &self,
        done: usize,
        mut setup: usize,
        steps: &[(usize, Vec<(usize, bool)>)],
        rise_k: &[Vec<f64>],
    ) -> Vec<Event> {
        let mut out = Vec::new();
        let mut left: Vec<usize> = (0..self.passes.passes.len()).collect();
        for (i, (s, passes)) in steps.iter().enumerate() {
            if i < done {
                left.retain(|p| !passes.iter().any(|(q, _)| q == p));
                continue;
            }
            if *s != setup {
                out.push(Event::Turn { setup: *s });
                setup = *s;
            }
            if let Some(rise) = rise_k.get(i) {
                out.push(Event::Warm(rise.clone()));
            }
            let laid: Vec<Event> =
                passes.iter().map(|(pass, forward)| Event::Pass { pass: *pass, forward: *forward }).collect();
            match laid.len() {
                1 => out.extend(laid),
                _ => out.push(Event::Together(laid)),
            }
            left.retain(|p| !passes.iter().any(|(q, _)| q == p));
            for (clamp, k) in self.frame.clamps.iter().enumerate() {
                let now = match &k.release {
                    Release::End => false,
                    Release::AfterPass(label) => {
                        passes.iter().any(|(p, _)| self.passes.passes[*p].label == *label)
                    }
                    Release::AfterJoint(name) => {
                        let joint = |p: usize| &self.joints.joints[self.passes.passes[p].joint].name == name;
                        passes.iter().any(|(p, _)| joint(*p)) && !left.iter().any(|p| joint(*p))
                    }
                };
                if now {
                    out.push(Event::Release { clamp });
                }
            }
        }
        out
    }

    /// The coarse model from the tacked state, for the search. `tacks` may be empty (then evenly laid,
    /// at zero force).
    ///
    /// # Errors
    /// As [`Model::evaluate`].
    pub fn coarse(&self, tacks: &[Event]) -> Result<Coarse, Fault> {
        let options = Options::default();
        let state = if tacks.is_empty() {
            State::tacked(self, &self.default_tacks(), Level::Coarse, &options, None)
                .unwrap_or_else(|| State::loose(self, Level::Coarse, &options, None))
        } else {
            let mut s = State::loose(self, Level::Coarse, &options, None);
            s.follow(tacks)?;
            s
        };
        Ok(self.coarse_from(&state))
    }

    fn coarse_from(&self, state: &State) -> Coarse {
        let (n, r) = (self.passes.passes.len(), self.frame.controls.len());
        let fibres: Vec<_> = (0..n).map(|p| self.pass_fibres(p, true, Level::Coarse).remove(0)).collect();
        let mut k = Vec::with_capacity(3 * n);
        let mut delta = Vec::with_capacity(n);
        for f in &fibres {
            k.extend(f.springs.iter().map(|s| s.1));
            delta.push(f.delta_mm);
        }
        let mut out = Coarse {
            n,
            r,
            k,
            delta,
            tau: vec![[0.0; 3]; n],
            c_bb: vec![0.0; 9 * n * n],
            c_hb: vec![0.0; 3 * r * n],
            c_bg: vec![0.0; 3 * n * n],
            c_hg: vec![0.0; r * n],
            start: state.controls(),
        };
        let field = state.field();
        for (i, f) in fibres.iter().enumerate() {
            for (d, (b, _)) in f.springs.iter().enumerate() {
                let row = 3 * i + d;
                for (j, g) in fibres.iter().enumerate() {
                    // C between the two ports, once for each pair of springs.
                    let mut half = [0.0; 6];
                    for (q, h) in half.iter_mut().enumerate() {
                        *h = (0..6).map(|p| b[p] * field.between((g.port, q), (f.port, p))).sum();
                    }
                    for (e, (v, _)) in g.springs.iter().enumerate() {
                        out.c_bb[row * 3 * n + 3 * j + e] = (0..6).map(|q| half[q] * v[q]).sum();
                    }
                    out.c_bg[row * n + j] = g
                        .walls
                        .iter()
                        .map(|(w, v, _)| {
                            let load = w - self.parts.ports[g.port].loads.0;
                            v * (0..6).map(|p| b[p] * field.by_wall(g.port, load, (f.port, p))).sum::<f64>()
                        })
                        .sum();
                }
                for c in 0..r {
                    out.c_hb[c * 3 * n + row] = (0..6).map(|p| b[p] * field.control(c, (f.port, p))).sum();
                }
            }
            for c in 0..r {
                out.c_hg[c * n + i] = f
                    .walls
                    .iter()
                    .map(|(w, v, _)| {
                        v * field.control_by_wall(c, f.port, w - self.parts.ports[f.port].loads.0)
                    })
                    .sum();
            }
        }
        out
    }

    /// Variance of each control from a lean of every branch in two directions.
    pub(super) fn lean(&self) -> Vec<f64> {
        let sd = self.frame.pull.lean_deg.to_radians();
        let mut out = vec![0.0; self.frame.controls.len()];
        let Some(start) =
            State::tacked(self, &self.default_tacks(), Level::Coarse, &Options::default(), None)
        else {
            return out;
        };
        for (p, port) in self.parts.ports.iter().enumerate() {
            let PortKind::Seam(seam) = port.kind else { continue };
            let (branch, at) = self.joints.meets[seam].branch;
            if self.rings[seam].ports.len() > 1 {
                continue;
            }
            let tube = &self.frame.tubes[branch];
            let (_, chord) = along(&tube.axis, &tube.s, at);
            let axis = (tube.axis[chord + 1] - tube.axis[chord]).normalize();
            let stiff = start.ring_stiffness(p);
            for dir in [axis.any_orthonormal_vector(), axis.cross(axis.any_orthonormal_vector())] {
                let lean = [0.0, 0.0, 0.0, dir.x, dir.y, dir.z];
                let force: Vec<f64> =
                    (0..6).map(|i| (0..6).map(|j| stiff[6 * i + j] * lean[j]).sum()).collect();
                for (r, v) in out.iter_mut().enumerate() {
                    let y: f64 = (0..6).map(|i| force[i] * start.field().control(r, (p, i))).sum();
                    *v += (y * sd).powi(2);
                }
            }
        }
        out
    }

    /// Standard deviation of a control from fit-up as tacked, if nobody measures it, in its unit. A bow
    /// counts like a length: a stock tube is not straight to better than that either (EN 10305-1
    /// allows 1.5 mm per metre; from memory).
    pub fn fit_up_sd(&self, control: usize) -> f64 {
        let sd = self.frame.shop.fit_up_mm;
        match &self.frame.controls[control].kind {
            ControlKind::Angle(p, q) => {
                let place = |s: &Spot| super::controls::place(&self.frame, s);
                let length = |l: &[Spot; 2]| DVec3::distance(place(&l[0]), place(&l[1]));
                (sd / length(p).min(length(q)).max(1.0)).to_degrees()
            }
            _ => sd,
        }
    }

    fn remarks(&self, level: Level) -> Vec<String> {
        let mut out = Vec::new();
        if level == Level::Coarse {
            out.push("coarse: one fibre for each pass, directions of travel do not count".to_string());
        }
        if !self.parts.remarks.is_empty() {
            out.push(format!(
                "joint flexibility: outside the range of its equations at {} (capped at d/D = {}; the spread shown covers a factor of {})",
                self.parts.remarks.join(", "),
                c::BETA_CAP,
                c::FLEX_SPREAD.value
            ));
        }
        out
    }
}

fn has_tack(e: &Event) -> bool {
    match e {
        Event::Tack(_) => true,
        Event::Together(list) => list.iter().any(has_tack),
        _ => false,
    }
}

/// Tacks as events, one after the other.
pub fn tack_events(tacks: &[Tack]) -> Vec<Event> {
    tacks.iter().map(|t| Event::Tack(*t)).collect()
}

//! The elimination in the order of welding: every event changes the frame's compliance at one port,
//! and moves everything else through it.

use super::block::Block;
use super::constants as c;
use super::field::{ALWAYS, Field, LastUse};
use super::model::{Model, Options, Start};
use super::ring::{Fibre, PortKind, Spring};
use super::{Event, Level, Tack};
use crate::fault::Fault;

/// A fibre in place.
#[derive(Clone)]
pub(super) struct Laid {
    pub fibre: Fibre,
    pub seam: usize,
    /// Unstressed gap of its three springs, `3 × cols`.
    pub rest: Vec<f64>,
    /// What the warmth of the moment added to its gaps when it set.
    pub tau: [f64; 3],
}

/// A spring that is no weld.
#[derive(Clone)]
pub(super) struct Held {
    pub port: usize,
    pub spring: Spring,
    pub rest: Vec<f64>,
}

/// A frame in the middle of being welded.
#[derive(Clone)]
pub(super) struct State<'m> {
    pub(super) model: &'m Model,
    pub(super) level: Level,
    pub(super) options: Options,
    pub(super) cols: usize,
    pub(super) field: Field,
    /// The step at which each port is used for the last time, if the rest of the course is known, and
    /// the number of steps done.
    foreseen: Option<LastUse>,
    step: usize,
    pub(super) laid: Vec<Laid>,
    /// Fibres of each seam, in the order in which they were laid.
    pub(super) of_seam: Vec<Vec<usize>>,
    pub(super) held: Vec<Held>,
    pub(super) walls: Vec<f64>,
    warm: Vec<f64>,
    resting: Vec<usize>,
    clamped: Vec<usize>,
    setup: usize,
    /// Controls after each pass.
    pub path: Vec<Vec<f64>>,
    /// Change of the controls by each pass as it was laid: (pass, change).
    pub direct: Vec<(usize, Vec<f64>)>,
    /// What the warmth of the moment added to the gaps of each pass as it was laid, mm.
    pub tau: Vec<(usize, [f64; 3])>,
    /// Forces at each release: (clamp, force along each held direction), N.
    pub released: Vec<(usize, Vec<f64>)>,
    /// Things the reader must know.
    pub remarks: Vec<String>,
}

impl<'m> State<'m> {
    /// The frame with these tacks in place at zero force, in the first setup's clamps.
    pub fn tacked(
        model: &'m Model,
        tacks: &[Tack],
        level: Level,
        options: &Options,
        foreseen: Option<&LastUse>,
    ) -> Option<State<'m>> {
        let start = model.tacked_start(tacks, level, options)?;
        let mut s = State::begin(model, &start, level, options, foreseen);
        let cols = s.cols;
        for (p, port) in model.parts.ports.iter().enumerate() {
            s.held.extend(port.contact.iter().map(|k| Held { port: p, spring: *k, rest: vec![0.0; cols] }));
        }
        s.clamped = model.clamps_of(0);
        for clamp in s.clamped.clone() {
            let port = model.clamp_port(clamp);
            for spring in model.clamp_springs(clamp, options.clamp) {
                s.held.push(Held { port, spring, rest: vec![0.0; cols] });
            }
        }
        let hold = model.find(PortKind::Hold);
        for spring in model.hold_springs(&s.clamped) {
            s.held.push(Held { port: hold, spring, rest: vec![0.0; cols] });
        }
        for tack in tacks {
            let fibre = model.tack_fibre(tack, level);
            s.keep(Laid { fibre, seam: tack.seam, rest: vec![0.0; 3 * cols], tau: [0.0; 3] });
        }
        Some(s)
    }

    /// The loose structure: tubes in the first setup's clamps and on rest springs.
    pub fn loose(model: &'m Model, level: Level, options: &Options, foreseen: Option<&LastUse>) -> State<'m> {
        let mut s = State::begin(model, &model.loose(options), level, options, foreseen);
        let cols = s.cols;
        s.resting = (0..model.frame.tubes.len()).collect();
        for tube in s.resting.clone() {
            let port = model.find(PortKind::Rest(tube));
            for spring in model.rest_springs(tube) {
                s.held.push(Held { port, spring, rest: vec![0.0; cols] });
            }
        }
        for (p, port) in model.parts.ports.iter().enumerate() {
            s.hold(p, &port.contact);
        }
        s.clamped = model.clamps_of(0);
        for clamp in s.clamped.clone() {
            s.hold(model.clamp_port(clamp), &model.clamp_springs(clamp, options.clamp));
        }
        s.hold(model.find(PortKind::Hold), &model.hold_springs(&s.clamped));
        s.check_rest();
        s
    }

    fn begin(
        model: &'m Model,
        start: &Start,
        level: Level,
        options: &Options,
        foreseen: Option<&LastUse>,
    ) -> State<'m> {
        let shares = model.joints.joints.len() + model.frame.tubes.len();
        let cols = if options.shares { 1 + shares } else { 1 };
        State {
            model,
            level,
            options: *options,
            cols,
            field: Field::new(model, start, cols, foreseen),
            foreseen: foreseen.cloned(),
            step: 0,
            laid: Vec::new(),
            of_seam: vec![Vec::new(); model.rings.len()],
            held: Vec::new(),
            walls: vec![0.0; model.size.walls],
            warm: vec![0.0; model.frame.tubes.len()],
            resting: Vec::new(),
            clamped: Vec::new(),
            setup: 0,
            path: Vec::new(),
            direct: Vec::new(),
            tau: Vec::new(),
            released: Vec::new(),
            remarks: Vec::new(),
        }
    }

    /// Controls now, all columns added up.
    pub fn controls(&self) -> Vec<f64> {
        (0..self.field.y.rows).map(|r| self.total(self.field.y.row(r))).collect()
    }
    /// Share of each joint and of each tube in each control: `[control]` of (joints, tubes).
    pub fn shares(&self) -> Vec<(Vec<f64>, Vec<f64>)> {
        let j = self.model.joints.joints.len();
        (0..self.field.y.rows)
            .map(|r| {
                let row = self.field.y.row(r);
                if self.options.shares {
                    (row[1..1 + j].to_vec(), row[1 + j..].to_vec())
                } else {
                    Default::default()
                }
            })
            .collect()
    }
    pub(super) fn total(&self, row: &[f64]) -> f64 {
        if self.options.shares { row[..1 + self.model.joints.joints.len()].iter().sum() } else { row[0] }
    }
    /// How far the parts have moved apart at a place of a seam, along the way its gap closes, mm.
    pub fn opening_mm(&self, tack: &Tack) -> f64 {
        let f = self.model.tack_fibre(tack, self.level);
        (0..6).map(|i| f.springs[0].0[i] * self.total(&self.field.gap((f.port, i)))).sum()
    }
    /// Work on one port and let everything else follow.
    pub(super) fn at_port<T>(&mut self, port: usize, work: impl FnOnce(&mut Block, &mut State) -> T) -> T {
        let mut block = self.field.block(self.model, port, &self.warm);
        let out = work(&mut block, self);
        if block.used {
            let (first, loads) = self.model.parts.ports[port].loads;
            for l in 0..loads {
                self.walls[first + l] += self.total(&block.walls[l * self.cols..(l + 1) * self.cols]);
            }
            self.field.follow(self.model, port, &block);
        }
        out
    }

    /// Springs added at zero force where the frame now is.
    fn hold(&mut self, port: usize, springs: &[Spring]) {
        if springs.is_empty() {
            return;
        }
        let held = self.at_port(port, |block, _| {
            springs
                .iter()
                .map(|s| {
                    let rest = block.gap(&s.0);
                    block.stiffen(s);
                    Held { port, spring: *s, rest }
                })
                .collect::<Vec<_>>()
        });
        self.held.extend(held);
    }
    /// Springs of a port that are no weld, taken away with their force. Returns the forces.
    fn let_go(&mut self, port: usize) -> Result<Vec<f64>, Fault> {
        let (gone, kept): (Vec<Held>, Vec<Held>) =
            std::mem::take(&mut self.held).into_iter().partition(|h| h.port == port);
        self.held = kept;
        let forces = gone
            .iter()
            .map(|h| {
                let mut e = -self.total(&h.rest);
                for i in 0..self.model.parts.ports[port].len {
                    e += h.spring.0[i] * self.total(&self.field.gap((port, i)));
                }
                h.spring.1 * e
            })
            .collect();
        let ok = self.at_port(port, |block, _| {
            let list: Vec<(Spring, &[f64])> = gone.iter().map(|h| (h.spring, h.rest.as_slice())).collect();
            block.remove(&list)
        });
        if ok { Ok(forces) } else { Err(self.loose_fault(port)) }
    }
    pub(super) fn loose_fault(&self, port: usize) -> Fault {
        let m = self.model;
        let tube = match m.parts.ports[port].kind {
            PortKind::Clamp(c) => m.frame.clamps[c].tube,
            PortKind::Rest(t) => t,
            PortKind::Hold => m.datum,
            PortKind::Seam(s) => m.joints.meets[s].branch.0,
        };
        let tube = &m.frame.tubes[tube];
        Fault::new(
            "E602",
            format!("`{}` would come loose: what is released was its last restraint", tube.name),
        )
        .at(tube.span.clone(), "this one")
        .help("tack it before releasing, or release it later")
    }

    /// Releases the rest springs of every welded tube that is now held in six ways. One that only clamps
    /// hold keeps them: at a turn they are all that is left of it.
    pub(super) fn check_rest(&mut self) {
        let body = self.bodies();
        let welded = |t: usize| (0..body.len()).any(|o| o != t && body[o] == body[t]);
        for tube in self.resting.clone().into_iter().filter(|&t| body.len() == 1 || welded(t)) {
            let port = self.model.find(PortKind::Rest(tube));
            let springs = self.model.rest_springs(tube);
            let give = |i: usize| self.field.between((port, i), (port, i));
            let share: f64 = springs.iter().enumerate().map(|(i, s)| s.1 * give(i)).sum();
            if share < c::HELD && self.let_go(port).is_ok() {
                self.resting.retain(|t| *t != tube);
            }
        }
    }
    /// Which tubes weld metal has joined so far: tubes of one part have one number.
    fn bodies(&self) -> Vec<usize> {
        let mut of: Vec<usize> = (0..self.model.frame.tubes.len()).collect();
        for (meet, laid) in self.model.joints.meets.iter().zip(&self.of_seam) {
            for (t, ..) in meet.carriers.iter().filter(|_| !laid.is_empty()) {
                let (a, b) = (of[meet.branch.0], of[*t]);
                of.iter_mut().filter(|o| **o == b).for_each(|o| *o = a);
            }
        }
        of
    }
    /// While a frame is in several parts (built in stages), the part of this tube rests where it is,
    /// should clamps or hold be taken from it.
    fn rest_again(&mut self, tube: usize) {
        if self.of_seam.iter().all(|s| !s.is_empty()) {
            return;
        }
        let body = self.bodies();
        if !self.resting.iter().any(|t| body[*t] == body[tube]) {
            let port = self.model.find(PortKind::Rest(tube));
            self.hold(port, &self.model.rest_springs(tube));
            self.resting.push(tube);
        }
    }
    /// Drops the coordinates of rest springs once none is left, and works the compliance out afresh
    /// from the springs in place: coming down from rest springs of 0.001 N/mm costs digits.
    pub(super) fn compact(&mut self) {
        let ports = &self.model.parts.ports;
        let rests =
            (0..ports.len()).any(|p| self.field.keeps(p) && matches!(ports[p].kind, PortKind::Rest(_)));
        if !self.resting.is_empty() || !rests {
            return;
        }
        let laid = self.laid.iter().flat_map(|l| l.fibre.springs.iter().map(|s| (l.fibre.port, *s)));
        let springs: Vec<(usize, Spring)> =
            laid.chain(self.held.iter().map(|h| (h.port, h.spring))).collect();
        let Some(start) = self.model.joined(&springs, &self.options) else { return };
        let mut field = Field::new(self.model, &start, self.cols, self.foreseen.as_ref());
        field.take_over(self.model, &self.field);
        field.retire(self.model, self.step);
        self.field = field;
    }

    /// Adds to what is laid.
    pub(super) fn keep(&mut self, laid: Laid) {
        self.of_seam[laid.seam].push(self.laid.len());
        self.laid.push(laid);
    }

    /// The same moment, ready for these events and the release of all clamps, and nothing else.
    pub fn ahead(&self, events: &[Event]) -> State<'m> {
        let last = last_use(self.model, events);
        State {
            model: self.model,
            level: self.level,
            options: self.options,
            cols: self.cols,
            field: self.field.reordered(self.model, &last),
            foreseen: Some(last),
            step: 0,
            laid: self.laid.clone(),
            of_seam: self.of_seam.clone(),
            held: self.held.clone(),
            walls: self.walls.clone(),
            warm: self.warm.clone(),
            resting: self.resting.clone(),
            clamped: self.clamped.clone(),
            setup: self.setup,
            path: self.path.clone(),
            direct: self.direct.clone(),
            tau: self.tau.clone(),
            released: self.released.clone(),
            remarks: self.remarks.clone(),
        }
    }

    /// All events of a course, one after the other.
    ///
    /// # Errors
    /// As [`State::apply`].
    pub fn follow(&mut self, events: &[Event]) -> Result<(), Fault> {
        for e in events {
            self.apply(e)?;
            self.step += 1;
            if self.foreseen.is_some() {
                self.field.retire(self.model, self.step);
            }
        }
        Ok(())
    }

    /// One event.
    ///
    /// # Errors
    /// `E602` if a release takes away a tube's last restraint.
    pub fn apply(&mut self, event: &Event) -> Result<(), Fault> {
        match event {
            Event::Tack(_) | Event::Pass { .. } => self.weld(std::slice::from_ref(event)),
            Event::Together(list) => self.weld(list),
            Event::Warm(rise) => {
                self.warm.clone_from(rise);
                self.warm.resize(self.model.frame.tubes.len(), 0.0);
                Ok(())
            }
            Event::Release { clamp } => self.release(*clamp),
            Event::Clamp { clamp, to_nominal } => self.clamp(*clamp, *to_nominal),
            Event::Shift { clamp, direction, by_mm } => {
                self.shift(*clamp, *direction, *by_mm);
                Ok(())
            }
            Event::Turn { setup } => {
                for clamp in self.clamped.clone() {
                    self.release(clamp)?;
                }
                self.setup = *setup;
                for clamp in self.model.clamps_of(*setup) {
                    self.clamp(clamp, false)?;
                }
                Ok(())
            }
        }
    }
    /// All clamps off, cold.
    ///
    /// # Errors
    /// As [`State::apply`].
    pub fn finish(&mut self) -> Result<(), Fault> {
        for clamp in self.clamped.clone() {
            self.release(clamp)?;
        }
        for tube in &self.resting {
            let name = &self.model.frame.tubes[*tube].name;
            self.remarks.push(format!("`{name}` is not held in all directions by its tacks and welds"));
        }
        Ok(())
    }

    fn release(&mut self, clamp: usize) -> Result<(), Fault> {
        if !self.clamped.contains(&clamp) {
            return Ok(());
        }
        self.clamped.retain(|c| *c != clamp);
        self.rest_again(self.model.frame.clamps[clamp].tube);
        // The hold takes over first what this clamp held alone.
        let hold = self.model.find(PortKind::Hold);
        let now: Vec<Spring> = self.held.iter().filter(|h| h.port == hold).map(|h| h.spring).collect();
        let need = self.model.hold_springs(&self.clamped);
        self.hold(hold, &missing(&need, &now, self.model.reach()));
        let forces = self.let_go(self.model.clamp_port(clamp))?;
        self.released.push((clamp, forces));
        Ok(())
    }
    /// Stops that would have to pull let go.
    pub(super) fn leave_stops(&mut self, passes: &[usize]) -> Result<(), Fault> {
        for clamp in self.clamped.clone() {
            let stop = &self.model.frame.clamps[clamp];
            if stop.one_way && self.pull_of(self.model.clamp_port(clamp)) > c::STOP_LETS_GO_N {
                self.release(clamp)?;
                if let Some(last) = self.released.last_mut() {
                    // Nobody opens it and nothing springs.
                    last.1.fill(0.0);
                }
                let after: Vec<&str> =
                    passes.iter().map(|p| self.model.passes.passes[*p].label.as_str()).collect();
                self.remarks.push(format!(
                    "the frame leaves the stop `{}` with {}: it can only push",
                    stop.name,
                    after.join(", ")
                ));
            }
        }
        Ok(())
    }
    /// Force with which the springs of a port pull against their direction, N, all added up.
    fn pull_of(&self, port: usize) -> f64 {
        (self.held.iter().filter(|h| h.port == port))
            .map(|h| {
                let len = self.model.parts.ports[port].len;
                let gap = (0..len).map(|i| h.spring.0[i] * self.total(&self.field.gap((port, i))));
                h.spring.1 * (gap.sum::<f64>() - self.total(&h.rest))
            })
            .sum()
    }
    fn clamp(&mut self, clamp: usize, to_nominal: bool) -> Result<(), Fault> {
        if self.clamped.contains(&clamp) {
            return Ok(());
        }
        let port = self.model.clamp_port(clamp);
        let springs = self.model.clamp_springs(clamp, self.options.clamp);
        self.hold(port, &springs);
        if to_nominal {
            self.at_port(port, |block, state| {
                for h in state.held.iter_mut().filter(|h| h.port == port) {
                    let force: Vec<f64> = h.rest.iter().map(|e| h.spring.1 * e).collect();
                    block.push(&h.spring.0, &force);
                    h.rest.fill(0.0);
                }
            });
        }
        self.clamped.push(clamp);
        self.clamped.sort_unstable();
        let hold = self.model.find(PortKind::Hold);
        let need = self.model.hold_springs(&self.clamped);
        let now = self.held.iter().filter(|h| h.port == hold).count();
        if need.len() < now {
            self.rest_again(self.model.datum);
            // Determinate and so without force: exchanged for what the clamps leave.
            if !need.is_empty() {
                self.hold(hold, &need);
                let fresh = self.held.split_off(self.held.len() - need.len());
                self.let_go(hold)?;
                self.held.extend(fresh);
            } else {
                self.let_go(hold)?;
            }
        }
        Ok(())
    }

    /// A clamp's spring gets another unstressed gap, and pulls the frame along.
    fn shift(&mut self, clamp: usize, direction: usize, by_mm: f64) {
        if !self.clamped.contains(&clamp) {
            return;
        }
        let port = self.model.clamp_port(clamp);
        self.at_port(port, |block, state| {
            if let Some(h) = state.held.iter_mut().filter(|h| h.port == port).nth(direction) {
                let mut force = vec![0.0; h.rest.len()];
                force[0] = -h.spring.1 * by_mm;
                block.push(&h.spring.0, &force);
                h.rest[0] += by_mm;
            }
        });
    }

    /// Compliances of the frame as it stands.
    pub fn field(&self) -> &Field {
        &self.field
    }
    /// Stiffness of the ring of a port as it stands, 6 × 6 row-major.
    pub fn ring_stiffness(&self, port: usize) -> [f64; 36] {
        let mut out = [0.0; 36];
        for l in self.laid.iter().filter(|l| l.fibre.port == port) {
            for (b, k) in &l.fibre.springs {
                for i in 0..6 {
                    for j in 0..6 {
                        out[6 * i + j] += k * b[i] * b[j];
                    }
                }
            }
        }
        out
    }
}

/// When each port is used for the last time in a course of events: a ring with the last weld on its
/// seam; clamps, hold and rest springs may be asked for at any time.
pub(super) fn last_use(model: &Model, events: &[Event]) -> LastUse {
    let mut of_seam = vec![0; model.rings.len()];
    fn mark(model: &Model, e: &Event, step: usize, of_seam: &mut [usize]) {
        match e {
            Event::Tack(t) => of_seam[t.seam] = step,
            Event::Pass { pass, .. } => of_seam[model.passes.passes[*pass].seam] = step,
            Event::Together(list) => list.iter().for_each(|e| mark(model, e, step, of_seam)),
            Event::Warm(_)
            | Event::Release { .. }
            | Event::Clamp { .. }
            | Event::Shift { .. }
            | Event::Turn { .. } => {}
        }
    }
    for (i, e) in events.iter().enumerate() {
        mark(model, e, i + 1, &mut of_seam);
    }
    let last = |p: &super::ring::Port| match p.kind {
        PortKind::Seam(s) => of_seam[s],
        PortKind::Clamp(_) | PortKind::Hold | PortKind::Rest(_) => ALWAYS,
    };
    model.parts.ports.iter().map(last).collect()
}

/// Hold springs that are needed and not there yet: the part of each needed direction that no
/// present one covers, as unit vectors with rotations counted at `scale` mm.
fn missing(need: &[Spring], now: &[Spring], scale: f64) -> Vec<Spring> {
    let size = |v: &[f64; 6]| v.iter().map(|x| x * x).sum::<f64>().sqrt();
    let unit = |b: &[f64; 6]| {
        let v: [f64; 6] = std::array::from_fn(|i| if i < 3 { b[i] } else { b[i] / scale });
        let s = size(&v);
        v.map(|x| x / s)
    };
    let mut basis: Vec<[f64; 6]> = Vec::new();
    let mut take = |b: &[f64; 6]| {
        let mut v = unit(b);
        for _ in 0..2 {
            for q in &basis {
                let d: f64 = v.iter().zip(q).map(|(a, b)| a * b).sum();
                for (a, b) in v.iter_mut().zip(q) {
                    *a -= d * b;
                }
            }
        }
        let left = size(&v);
        (left > 1e-6).then(|| {
            let v = v.map(|x| x / left);
            basis.push(v);
            std::array::from_fn(|i| if i < 3 { v[i] } else { v[i] * scale })
        })
    };
    for (b, _) in now {
        take(b);
    }
    need.iter().filter_map(|(b, k)| take(b).map(|v| (v, *k))).collect()
}

//! The elimination in the order of welding: every event changes the frame's compliance at one port,
//! and moves everything else through it.

use super::block::Block;
use super::field::{ALWAYS, Field, LastUse};
use super::model::{Model, Options};
use super::port::{PortKind, Spring};
use super::ring::Fibre;
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
    pub(super) foreseen: Option<LastUse>,
    pub(super) step: usize,
    pub(super) laid: Vec<Laid>,
    /// Fibres of each seam, in the order in which they were laid.
    pub(super) of_seam: Vec<Vec<usize>>,
    pub(super) held: Vec<Held>,
    pub(super) walls: Vec<f64>,
    pub(super) warm: Vec<f64>,
    pub(super) resting: Vec<usize>,
    pub(super) clamped: Vec<usize>,
    pub(super) setup: usize,
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
    pub(super) fn hold(&mut self, port: usize, springs: &[Spring]) {
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
    pub(super) fn let_go(&mut self, port: usize) -> Result<Vec<f64>, Fault> {
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
    let last = |p: &super::port::Port| match p.kind {
        PortKind::Seam(s) => of_seam[s],
        PortKind::Clamp(_) | PortKind::Hold | PortKind::Rest(_) => ALWAYS,
    };
    model.parts.ports.iter().map(last).collect()
}

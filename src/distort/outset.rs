//! Where a course of events begins: a frame that is tacked already, or loose tubes in their clamps.

use super::field::{Field, LastUse};
use super::model::{Model, Options, Start};
use super::port::PortKind;
use super::staged::{Held, Laid, State};
use super::{Level, Tack};

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
}

//! The model laid open: its beams, springs and loads as plain lists, so that another solver can go
//! through the same welding and be compared.

use super::beam::Beam;
use super::model::Model;
use super::port::{PortKind, Spring};
use super::ring::Fibre;
use super::structure::Row;
use super::{Level, Tack};
use crate::frame::Frame;
use glam::DVec3;

/// What the frame is made of, before anything is welded. A degree of freedom is `6 · node + c`:
/// translations x y z, then rotations x y z.
#[derive(Debug, Clone)]
pub struct Plain {
    /// Place of each node, mm.
    pub at: Vec<DVec3>,
    /// Tube of each node, and its arc length there, mm.
    pub on: Vec<(usize, f64)>,
    /// Beams.
    pub beams: Vec<Beam>,
    /// Node of each tube nearest to its middle.
    pub middle: Vec<usize>,
    /// Tube that carries the statically determinate hold.
    pub datum: usize,
    /// Rings, or stations of a ring.
    pub ports: Vec<PlainPort>,
    /// Each control as a functional of the displacements, in its own unit.
    pub controls: Vec<Row>,
}

/// The relative motion of branch and carrier at a seam, or at a station of it.
#[derive(Debug, Clone)]
pub struct PlainPort {
    /// Index by which fibres name it.
    pub index: usize,
    /// Six functionals: three translations, three rotations of the branch against the carrier.
    pub rows: Vec<Row>,
    /// Springs (direction in those six, N/mm) that are there before any weld.
    pub contact: Vec<Spring>,
    /// Flexibility of the carrier's wall in series with all fibres, 6 × 6; empty if there is none.
    pub flex: Vec<f64>,
}

/// A fibre: three springs that set together, of which the first then shrinks.
#[derive(Debug, Clone)]
pub struct PlainFibre {
    /// Its port.
    pub port: usize,
    /// Its seam.
    pub seam: usize,
    /// Where.
    pub at: DVec3,
    /// Springs.
    pub springs: [Spring; 3],
    /// Shrinkage of the first, mm.
    pub delta_mm: f64,
    /// Jumps that the shrinking walls open: (node, translation, rotation) of what lies after the node
    /// against what lies before it.
    pub walls: Vec<(usize, DVec3, DVec3)>,
    /// True for a tack.
    pub tack: bool,
}

impl Model {
    /// The frame the model was built for.
    pub fn frame(&self) -> &Frame {
        &self.frame
    }
    /// The model's beams, ports and controls.
    pub fn plain(&self) -> Plain {
        let st = &self.structure;
        let controls = self.frame.controls.iter();
        Plain {
            at: st.nodes.iter().map(|n| n.at).collect(),
            on: st.nodes.iter().map(|n| (n.tube, n.s_mm)).collect(),
            beams: st.beams.clone(),
            middle: st.held.clone(),
            datum: self.datum,
            ports: (self.parts.ports.iter().enumerate())
                .filter(|(_, p)| matches!(p.kind, PortKind::Seam(_)))
                .map(|(index, p)| PlainPort {
                    index,
                    rows: self.parts.rows[p.first..p.first + p.len].to_vec(),
                    contact: p.contact.clone(),
                    flex: p.flex.clone(),
                })
                .collect(),
            controls: controls.map(|k| super::controls::functional(&k.kind, &self.frame, st)).collect(),
        }
    }
    /// The fibres of a pass in its direction of travel.
    pub fn plain_pass(&self, pass: usize, forward: bool, level: Level) -> Vec<PlainFibre> {
        let seam = self.passes.passes[pass].seam;
        self.pass_fibres(pass, forward, level).iter().map(|f| self.plain_fibre(seam, f)).collect()
    }
    /// The fibre of a tack.
    pub fn plain_tack(&self, tack: &Tack, level: Level) -> PlainFibre {
        self.plain_fibre(tack.seam, &self.tack_fibre(tack, level))
    }
    fn plain_fibre(&self, seam: usize, f: &Fibre) -> PlainFibre {
        let jump = |load: usize, amount: f64| {
            let (_, node, shift, turn) =
                self.rings[seam].jumps().find(|j| j.0 == load).expect("a wall load of its own seam");
            (node, shift * amount, turn * amount)
        };
        PlainFibre {
            port: f.port,
            seam,
            at: f.at,
            springs: f.springs,
            delta_mm: f.delta_mm,
            walls: f.walls.iter().map(|(load, amount, _)| jump(*load, *amount)).collect(),
            tack: f.tack,
        }
    }
}

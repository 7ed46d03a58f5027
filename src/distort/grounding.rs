//! What holds the frame while it is welded: clamps, the statically determinate hold for what they leave,
//! and the weak springs on which a loose tube rests.

use super::constants as c;
use super::model::Model;
use super::port::{Parts, Port, PortKind, Spring};
use super::structure::{Row, Structure, along, rotation, translation};
use crate::frame::Frame;
use crate::numbers::dense::{Dense, symmetric_eigen};
use glam::DVec3;

impl Model {
    /// Clamps of a setup.
    pub(super) fn clamps_of(&self, setup: usize) -> Vec<usize> {
        (0..self.frame.clamps.len())
            .filter(|c| {
                self.frame.clamps[*c].setups.is_empty() || self.frame.clamps[*c].setups.contains(&setup)
            })
            .collect()
    }
    /// Port of a clamp.
    pub(super) fn clamp_port(&self, clamp: usize) -> usize {
        self.find(PortKind::Clamp(clamp))
    }
    pub(super) fn find(&self, kind: PortKind) -> usize {
        self.parts
            .ports
            .iter()
            .position(|p| p.kind == kind)
            .expect("every clamp, tube and the hold has a port")
    }
    /// Springs of a clamp.
    pub(super) fn clamp_springs(&self, clamp: usize, factor: f64) -> Vec<Spring> {
        let clamp = &self.frame.clamps[clamp];
        (0..clamp.holds.len())
            .map(|i| {
                let mut b = [0.0; 6];
                b[i] = 1.0;
                (b, clamp.stiffness_n_mm * factor)
            })
            .collect()
    }
    /// Springs of the three-two-one hold for the rigid motions that the given clamps leave.
    pub(super) fn hold_springs(&self, clamps: &[usize]) -> Vec<Spring> {
        let origin = self.structure.nodes[self.structure.held[self.datum]].at;
        let scale = self.reach();
        let mut gram = Dense::zeros(6, 6);
        for clamp in clamps.iter().map(|c| &self.frame.clamps[*c]) {
            let t = &self.frame.tubes[clamp.tube];
            let arm = (along(&t.axis, &t.s, clamp.at_mm).0 - origin) / scale;
            for d in &clamp.holds {
                let m = arm.cross(*d);
                let v = [d.x, d.y, d.z, m.x, m.y, m.z];
                for i in 0..6 {
                    for j in 0..6 {
                        *gram.at_mut(i, j) += v[i] * v[j];
                    }
                }
            }
        }
        let (values, vectors) = symmetric_eigen(&gram);
        let most = values.iter().copied().fold(0.0, f64::max);
        (0..6)
            .filter(|i| values[*i] <= 1e-9 * most.max(1e-9))
            .map(|i| {
                let mut b: [f64; 6] = std::array::from_fn(|k| vectors.at(k, i));
                for v in &mut b[3..] {
                    *v *= scale;
                }
                (b, c::HOLD_N_MM)
            })
            .collect()
    }
    /// Half the size of the frame, mm: the scale of rotations.
    pub(super) fn reach(&self) -> f64 {
        let origin = self.structure.nodes[self.structure.held[self.datum]].at;
        self.structure.nodes.iter().map(|n| n.at.distance(origin)).fold(1.0, f64::max)
    }
    /// Stiffness of a tube's rest springs.
    pub(super) fn rest_springs(&self, tube: usize) -> Vec<Spring> {
        let t = &self.frame.tubes[tube];
        let half = (0.5 * t.s[t.s.len() - 1]).max(50.0);
        (0..6)
            .map(|i| {
                let mut b = [0.0; 6];
                b[i] = 1.0;
                (b, if i < 3 { c::REST_N_MM } else { c::REST_N_MM * half * half })
            })
            .collect()
    }
}

/// The longest tube: it carries the hold.
pub(super) fn longest(frame: &Frame) -> usize {
    let length = |t: usize| frame.tubes[t].s[frame.tubes[t].s.len() - 1];
    (0..frame.tubes.len()).rev().max_by(|a, b| length(*a).total_cmp(&length(*b))).unwrap_or(0)
}

/// Ports of clamps, of the hold and of every tube's rest springs.
pub(super) fn ground_ports(frame: &Frame, st: &Structure, datum: usize, parts: &mut Parts) {
    let six = |tube: usize| {
        let node = st.held[tube];
        let tie = st.tie(tube, st.nodes[node].s_mm, st.nodes[node].at);
        let mut rows = Vec::new();
        for d in [DVec3::X, DVec3::Y, DVec3::Z] {
            rows.push(translation(&tie, d, 1.0));
        }
        for d in [DVec3::X, DVec3::Y, DVec3::Z] {
            rows.push(rotation(&tie, d, 1.0));
        }
        (rows, st.nodes[node].at)
    };
    let mut add = |kind: PortKind, rows: Vec<Row>, at: DVec3| {
        parts.ports.push(Port {
            first: parts.rows.len(),
            len: rows.len(),
            kind,
            at,
            contact: Vec::new(),
            flex: Vec::new(),
            loads: (0, 0),
        });
        parts.rows.extend(rows);
    };
    for (i, clamp) in frame.clamps.iter().enumerate() {
        let t = &frame.tubes[clamp.tube];
        let at = along(&t.axis, &t.s, clamp.at_mm).0;
        let tie = st.tie(clamp.tube, clamp.at_mm, at);
        add(PortKind::Clamp(i), clamp.holds.iter().map(|d| translation(&tie, *d, 1.0)).collect(), at);
    }
    let (rows, at) = six(datum);
    add(PortKind::Hold, rows, at);
    for tube in 0..frame.tubes.len() {
        let (rows, at) = six(tube);
        add(PortKind::Rest(tube), rows, at);
    }
}

//! The ring: what lies between a branch end and its carrier, as fibres at the real seam points.
//!
//! All fibres of a seam act on the six relative motions of branch and carrier at the seam's middle
//! (a seam along a tube: six at each station): a [`Port`].

use super::constants as c;
use super::port::{Parts, Port, PortKind, Spring, contact, flex, vec6};
use super::shrink::{self, Wall};
use super::stations::{branch_stations, carrier_station};
use super::structure::{Structure, along, nearest, rotation, tidy, translation};
use super::{Level, Tack};
use crate::frame::Frame;
use crate::joint::{Meet, MeetKind};
use crate::procedure::Passes;
use crate::seam::{Line, Seam, SeamPoint};
use glam::DVec3;

/// A fibre: three springs at a point of a seam.
#[derive(Debug, Clone)]
pub struct Fibre {
    /// Port index.
    pub port: usize,
    /// Where.
    pub at: DVec3,
    /// The first shrinks.
    pub springs: [Spring; 3],
    /// Shrinkage along n, mm.
    pub delta_mm: f64,
    /// Wall loads it makes: (unit load, amount, tube).
    pub walls: Vec<(usize, f64, usize)>,
    /// True for a tack.
    pub tack: bool,
}

/// A seam with its ports.
#[derive(Debug, Clone)]
pub struct Ring {
    /// Ports of the seam, one, or one for each station.
    pub ports: Vec<usize>,
    /// Arc length on the branch of each port, mm.
    station_mm: Vec<f64>,
    walls: Vec<Vec<Wall>>,
    kappa: f64,
    /// Branch axis and the carrier's direction square to it, for the place round a saddle.
    round: Option<(DVec3, DVec3)>,
}

impl Ring {
    /// The port in the middle of the seam and the walls beside it: the branch's first, then the
    /// carriers'.
    pub fn middle_walls(&self) -> (usize, &[Wall]) {
        let middle = self.walls.len() / 2;
        (self.ports[middle], &self.walls[middle])
    }
}

/// The ring of one seam.
pub fn ring(
    frame: &Frame,
    meet: &Meet,
    seam: &Seam,
    index: usize,
    st: &Structure,
    parts: &mut Parts,
) -> Ring {
    let (b, b_at) = meet.branch;
    let section = |t: usize| &frame.sections[frame.tubes[t].section];
    let material = |t: usize| &frame.materials[section(t).material];
    let main = meet.carriers[0].0;
    let e = 0.5 * (material(b).e_mpa + material(main).e_mpa);
    let wall = seam.walls_mm[0].min(seam.walls_mm[1]);
    let kappa = c::KAPPA.value * (e / c::KAPPA_E_MPA) * (wall / c::KAPPA_WALL_MM);

    let branch_dir = direction(frame, b, b_at);
    let carrier_dir = direction(frame, main, meet.carriers[0].1);
    let across = carrier_dir - branch_dir * carrier_dir.dot(branch_dir);
    let round = (matches!(meet.kind, MeetKind::Saddle | MeetKind::SquareOnRound) && across.length() > 1e-6)
        .then(|| (branch_dir, across.normalize()));

    let faces: DVec3 = seam.segments.iter().map(|g| g.mid.carrier_normal).sum();
    let flat_on = if meet.kind == MeetKind::Pad { faces.try_normalize() } else { None };

    let mut ports = Vec::new();
    let mut walls = Vec::new();
    let station_mm = branch_stations(frame, meet, seam);
    let many = meet.kind == MeetKind::Along;
    let share_len = seam.length_mm / station_mm.len() as f64;
    for s in &station_mm {
        let node_b = st.node(b, *s);
        let at =
            if many { 0.5 * (st.nodes[node_b].at + seam_side(frame, meet, st, *s)) } else { seam.centre };
        let tie_b = st.tie(b, *s, at);
        let ties: Vec<_> = meet
            .carriers
            .iter()
            .map(|(t, sc, w)| (*t, st.tie(*t, carrier_station(frame, meet.kind, *t, *sc, at), at), *w))
            .collect();
        let first = parts.rows.len();
        for turn in [false, true] {
            for d in [DVec3::X, DVec3::Y, DVec3::Z] {
                let read = if turn { rotation } else { translation };
                let mut row = read(&tie_b, d, 1.0);
                for (_, tie, w) in &ties {
                    row.extend(read(tie, d, -w));
                }
                parts.rows.push(tidy(row));
            }
        }
        let g0 = parts.loads.len();
        let mut here = Vec::new();
        let mut wall_of = |tube: usize, node: usize, share: f64, branch: bool, parts: &mut Parts| {
            let wall = seam.walls_mm[usize::from(!branch)];
            let flat_on = if branch { flat_on } else { None };
            let w = Wall::new(frame, st, tube, node, share, wall, branch, parts.loads.len(), flat_on);
            parts.loads.extend(w.unit_loads(st));
            here.push(w);
        };
        wall_of(b, node_b, 1.0 - frame.pull.carrier_share, true, parts);
        for (t, tie, w) in &ties {
            wall_of(*t, tie.node, frame.pull.carrier_share * w, false, parts);
        }
        walls.push(here);
        let contact = contact(meet.kind, seam, kappa, share_len, section(b).shape, branch_dir);
        let flex = if many { Vec::new() } else { flex(frame, meet, seam, branch_dir, carrier_dir, parts) };
        ports.push(parts.ports.len());
        parts.ports.push(Port {
            first,
            len: 6,
            kind: PortKind::Seam(index),
            at,
            contact,
            flex,
            loads: (g0, parts.loads.len() - g0),
        });
    }
    Ring { ports, station_mm, walls, kappa, round }
}

/// The carrier's axis beside a station of a bar welded along it.
fn seam_side(frame: &Frame, meet: &Meet, st: &Structure, s: f64) -> DVec3 {
    let tube = &frame.tubes[meet.branch.0];
    let p = along(&tube.axis, &tube.s, s).0;
    let (t, about, _) = meet.carriers[0];
    st.nodes[st.node(t, carrier_station(frame, meet.kind, t, about, p))].at
}

fn direction(frame: &Frame, tube: usize, at: f64) -> DVec3 {
    let t = &frame.tubes[tube];
    let (_, chord) = along(&t.axis, &t.s, at);
    (t.axis[chord + 1] - t.axis[chord]).normalize()
}

impl Ring {
    /// Its unit wall loads as jumps: (unit load, node, shift, turn).
    pub fn jumps(&self) -> impl Iterator<Item = (usize, usize, DVec3, DVec3)> + '_ {
        self.walls.iter().flatten().flat_map(|w| w.jumps())
    }
    /// The station, and so the port, that a point of the seam belongs to.
    fn station(&self, frame: &Frame, meet: &Meet, at: DVec3) -> usize {
        if self.ports.len() == 1 {
            return 0;
        }
        let tube = &frame.tubes[meet.branch.0];
        let total = tube.s[tube.s.len() - 1];
        let s = nearest(&tube.axis, &tube.s, at, 0.5 * total, total);
        (0..self.ports.len())
            .min_by(|a, b| (self.station_mm[*a] - s).abs().total_cmp(&(self.station_mm[*b] - s).abs()))
            .expect("a ring has a port")
    }

    /// A fibre of the given length at a point.
    #[allow(clippy::too_many_arguments)]
    fn fibre(
        &self,
        frame: &Frame,
        meet: &Meet,
        seam: &Seam,
        parts: &Parts,
        p: &SeamPoint,
        length_mm: f64,
        q_j_mm: f64,
        stiff: f64,
        crown: f64,
        shrinks: f64,
    ) -> Fibre {
        let station = self.station(frame, meet, p.at);
        let port = self.ports[station];
        let centre = parts.ports[port].at;
        let r = p.at - centre;
        let n = p.pull.normalize();
        let t1 =
            (p.tangent - n * p.tangent.dot(n)).try_normalize().unwrap_or_else(|| n.any_orthonormal_vector());
        let t2 = n.cross(t1);
        let mut k = self.kappa * length_mm * stiff;
        if let Some((axis, zero)) = self.round {
            let v = r - axis * r.dot(axis);
            if let Some(v) = v.try_normalize() {
                let cos = v.dot(zero);
                k *= 1.0 + crown * (2.0 * cos * cos - 1.0);
            }
        }
        let spring = |d: DVec3, k: f64| (vec6(d, r.cross(d)), k);
        let delta_mm = shrinks * shrink::across(frame, meet, seam, q_j_mm);
        let walls = self.walls[station]
            .iter()
            .flat_map(|w| w.amounts(frame, p, q_j_mm * length_mm * shrinks * shrink::factor(frame, seam)))
            .collect();
        Fibre {
            port,
            at: p.at,
            springs: [spring(n, k), spring(t1, c::ACROSS.value * k), spring(t2, c::ACROSS.value * k)],
            delta_mm,
            walls,
            tack: false,
        }
    }

    /// The fibres of a pass in its direction of travel.
    #[allow(clippy::too_many_arguments)]
    pub fn pass(
        &self,
        frame: &Frame,
        meet: &Meet,
        seam: &Seam,
        parts: &Parts,
        passes: &Passes,
        pass: usize,
        level: Level,
    ) -> Vec<Fibre> {
        let p = &passes.passes[pass];
        let g = &seam.segments[p.segment];
        let q = p.heat_input_j_per_mm;
        let gap_mm = if p.layer == 0 { shrink::across_gap(frame, meet, seam) } else { 0.0 };
        match level {
            Level::Coarse => {
                let crown = c::CROWN_COARSE.value;
                let mut f = self.fibre(frame, meet, seam, parts, &g.mid, p.length_mm, q, 1.0, crown, 1.0);
                f.delta_mm += gap_mm;
                vec![f]
            }
            Level::Fine => {
                let n = c::FINE_FIBRES.max((p.length_mm / c::FINE_FIBRE_MM).ceil() as usize);
                (0..n)
                    .map(|i| {
                        let s = g.from_mm + (g.to_mm - g.from_mm) * (i as f64 + 0.5) / n as f64;
                        let at = point_at(&seam.lines[g.line], seam.closed, s);
                        let mut f = self.fibre(
                            frame,
                            meet,
                            seam,
                            parts,
                            &at,
                            p.length_mm / n as f64,
                            q,
                            1.0,
                            c::CROWN_FINE.value,
                            1.0,
                        );
                        f.delta_mm *= c::FINE_DELTA.value.min(1.0 / frame.pull.c_t.clamp(1e-9, 1.0));
                        f.delta_mm += gap_mm;
                        f
                    })
                    .collect()
            }
        }
    }

    /// The fibre of a tack, laid with the heat input of a pass of that seam; `tack.pull` is its
    /// shrinkage against a pass of its length.
    #[allow(clippy::too_many_arguments)]
    pub fn tack(
        &self,
        frame: &Frame,
        meet: &Meet,
        seam: &Seam,
        parts: &Parts,
        tack: &Tack,
        q_j_mm: f64,
        level: Level,
    ) -> Fibre {
        let (stiff, crown) = match level {
            Level::Coarse => (c::TACK_COARSE.value, c::CROWN_COARSE.value),
            Level::Fine => (c::TACK_FINE.value, c::CROWN_FINE.value),
        };
        let at = point_at(&seam.lines[tack.line], seam.closed, tack.at_mm);
        let pull = tack.pull;
        let mut f = self.fibre(frame, meet, seam, parts, &at, tack.length_mm, q_j_mm, stiff, crown, pull);
        f.delta_mm += pull * shrink::across_gap(frame, meet, seam);
        f.tack = true;
        f
    }
}

/// The seam's point at an arc length (wraps round a closed line).
pub fn point_at(line: &Line, closed: bool, s: f64) -> SeamPoint {
    let total = line.s[line.s.len() - 1];
    let s = if closed { s.rem_euclid(total) } else { s.clamp(0.0, total) };
    let i = line.s.partition_point(|x| *x <= s).clamp(1, line.s.len() - 1);
    let (a, b) = (&line.samples[i - 1], &line.samples[i]);
    let t = (s - line.s[i - 1]) / (line.s[i] - line.s[i - 1]).max(1e-12);
    let mix = |x: DVec3, y: DVec3| (x * (1.0 - t) + y * t).try_normalize().unwrap_or(x);
    SeamPoint {
        at: a.at * (1.0 - t) + b.at * t,
        tangent: mix(a.tangent, b.tangent),
        branch_normal: mix(a.branch_normal, b.branch_normal),
        carrier_normal: mix(a.carrier_normal, b.carrier_normal),
        pull: mix(a.pull, b.pull),
    }
}

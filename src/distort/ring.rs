//! The ring: what lies between a branch end and its carrier, as fibres at the real seam points.
//!
//! All fibres of a seam act on the six relative motions of branch and carrier at the seam's middle
//! (a seam along a tube: six at each station): a [`Port`].

use super::constants as c;
use super::joint_flex::{JointFlex, fessler, flat_face};
use super::shrink::{self, Wall};
use super::structure::{Row, Stations, Structure, along, nearest, rotation, tidy, translation};
use super::{Level, Tack};
use crate::frame::{Frame, Shape};
use crate::joint::{Joints, Meet, MeetKind};
use crate::procedure::Passes;
use crate::seam::{Line, Seam, SeamPoint, Seams};
use glam::DVec3;

/// A spring on a port: unit vector in the port's coordinates and stiffness, N/mm.
pub type Spring = ([f64; 6], f64);

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

/// The relative motion of two parts at a place: up to six coordinates.
#[derive(Debug, Clone)]
pub struct Port {
    /// First coordinate.
    pub first: usize,
    /// Number of coordinates.
    pub len: usize,
    /// What it is.
    pub kind: PortKind,
    /// Place to which the coordinates belong.
    pub at: DVec3,
    /// Springs that are there from the beginning: faces in contact, the strip of a straight weld.
    pub contact: Vec<Spring>,
    /// Flexibility in series with the ring, 6 × 6 row-major (empty: none).
    pub flex: Vec<f64>,
    /// Unit wall loads of this port: first index and number.
    pub loads: (usize, usize),
}

/// What a port is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PortKind {
    /// A seam's ring, or one station of it.
    Seam(usize),
    /// A clamp.
    Clamp(usize),
    /// The three-two-one hold.
    Hold,
    /// The rest springs of a tube.
    Rest(usize),
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

/// Nodes needed by the seams: trimmed ends and stations, for every tube.
pub fn stations(frame: &Frame, joints: &Joints, seams: &Seams) -> Vec<Stations> {
    let mut out: Vec<Stations> =
        frame.tubes.iter().map(|t| Stations { ends: [t.s[0], t.s[t.s.len() - 1]], at: Vec::new() }).collect();
    for (meet, seam) in joints.meets.iter().zip(&seams.seams) {
        let (b, at) = meet.branch;
        let tube = &frame.tubes[b];
        let total = tube.s[tube.s.len() - 1];
        for s in branch_stations(frame, meet, seam) {
            match end_of(at, total) {
                Some(0) if meet.kind != MeetKind::Along => out[b].ends[0] = out[b].ends[0].max(s),
                Some(1) if meet.kind != MeetKind::Along => out[b].ends[1] = out[b].ends[1].min(s),
                _ => out[b].at.push(s),
            }
        }
        for (t, s, _) in &meet.carriers {
            for p in station_points(frame, meet, seam) {
                out[*t].at.push(carrier_station(frame, meet.kind, *t, *s, p));
            }
        }
    }
    out
}

/// 0 for the start, 1 for the end, none for a place within.
fn end_of(at: f64, total: f64) -> Option<usize> {
    if at <= 1e-6 {
        Some(0)
    } else if at >= total - 1e-6 {
        Some(1)
    } else {
        None
    }
}

fn branch_stations(frame: &Frame, meet: &Meet, seam: &Seam) -> Vec<f64> {
    let (b, at) = meet.branch;
    let tube = &frame.tubes[b];
    let total = tube.s[tube.s.len() - 1];
    if meet.kind == MeetKind::Along {
        let mut all: Vec<f64> = seam
            .segments
            .iter()
            .map(|g| nearest(&tube.axis, &tube.s, g.mid.at, 0.5 * total, total))
            .collect();
        all.sort_by(f64::total_cmp);
        all.dedup_by(|b, a| (*b - *a).abs() < 2.0);
        return all;
    }
    vec![nearest(&tube.axis, &tube.s, seam.centre, at, 0.45 * total)]
}

fn station_points(frame: &Frame, meet: &Meet, seam: &Seam) -> Vec<DVec3> {
    if meet.kind == MeetKind::Along {
        let tube = &frame.tubes[meet.branch.0];
        branch_stations(frame, meet, seam).iter().map(|s| along(&tube.axis, &tube.s, *s).0).collect()
    } else {
        vec![seam.centre]
    }
}

fn carrier_station(frame: &Frame, kind: MeetKind, tube: usize, about: f64, point: DVec3) -> f64 {
    let t = &frame.tubes[tube];
    let within = if kind == MeetKind::Along { t.s[t.s.len() - 1] } else { 150.0 };
    nearest(&t.axis, &t.s, point, about, within)
}

/// Everything the builder of rings adds to: ports, their rows, unit wall loads.
#[derive(Default)]
pub struct Parts {
    /// Ports.
    pub ports: Vec<Port>,
    /// Rows of all ports, in their order.
    pub rows: Vec<Row>,
    /// Unit wall loads.
    pub loads: Vec<Row>,
    /// Remarks on validity.
    pub remarks: Vec<String>,
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

/// Springs that are there before any weld: faying faces held apart along their normal (design:
/// lap, pad, along), and the strip of a weld whose lines all lie on one straight line, which would
/// otherwise be a perfect hinge: κ ℓ t²/12 about the line (assumption).
fn contact(
    kind: MeetKind,
    seam: &Seam,
    kappa: f64,
    len: f64,
    branch: Shape,
    branch_dir: DVec3,
) -> Vec<Spring> {
    let mut out = Vec::new();
    if matches!(kind, MeetKind::Lap | MeetKind::Pad | MeetKind::Along) {
        let normal: DVec3 = seam.segments.iter().map(|g| g.mid.carrier_normal).sum();
        let Some(n) = normal.try_normalize() else { return out };
        let k = kappa * len.max(10.0);
        out.push((vec6(n, DVec3::ZERO), k));
        let t = (branch_dir - n * branch_dir.dot(n)).normalize();
        let flat = !matches!(branch, Shape::Round { .. } | Shape::Solid { .. });
        if kind != MeetKind::Along {
            out.push((vec6(DVec3::ZERO, n.cross(t)), k * 100.0));
        }
        if flat {
            out.push((vec6(DVec3::ZERO, t), k * 100.0));
        }
        return out;
    }
    let points: Vec<DVec3> = seam.lines.iter().flat_map(|l| l.samples.iter().map(|p| p.at)).collect();
    if let (Some(a), Some(far)) =
        (points.first(), points.iter().max_by(|p, q| p.distance(points[0]).total_cmp(&q.distance(points[0]))))
    {
        let Some(t) = (*far - *a).try_normalize() else { return out };
        if points.iter().all(|p| (*p - *a).cross(t).length() < 0.5) {
            let wall = seam.walls_mm[0].min(seam.walls_mm[1]);
            out.push((vec6(DVec3::ZERO, t), kappa * seam.length_mm * wall * wall / 12.0));
        }
    }
    out
}

fn vec6(d: DVec3, r: DVec3) -> [f64; 6] {
    [d.x, d.y, d.z, r.x, r.y, r.z]
}

/// Flexibility of the carrier's wall at the seam's middle, as a 6 × 6 compliance.
fn flex(frame: &Frame, meet: &Meet, seam: &Seam, b: DVec3, carrier: DVec3, parts: &mut Parts) -> Vec<f64> {
    let main = meet.carriers[0].0;
    let tube = &frame.tubes[main];
    let section = &frame.sections[tube.section];
    let material = &frame.materials[section.material];
    let branch = frame.sections[frame.tubes[meet.branch.0].section].shape;
    if matches!(
        meet.kind,
        MeetKind::Butt | MeetKind::Mitre | MeetKind::Lap | MeetKind::Along | MeetKind::Slot
    ) {
        return Vec::new();
    }
    let Some(out_of) = carrier.cross(b).try_normalize() else { return Vec::new() };
    let height_dir = tube.height_dir[along(&tube.axis, &tube.s, meet.carriers[0].1).1];
    let angle = carrier.dot(b).abs().min(1.0).acos().to_degrees();
    let f: JointFlex = match section.shape {
        Shape::Round { od, wall } => {
            let d = match branch {
                Shape::Round { od, .. } | Shape::Solid { od } => od,
                _ => seam.length_mm / std::f64::consts::PI,
            };
            fessler(od, wall, d.min(od), angle, material.e_mpa)
        }
        Shape::Box { height, width, wall, .. } => {
            let normal: DVec3 = seam.segments.iter().map(|g| g.mid.carrier_normal).sum();
            let on_height_face = normal.dot(height_dir).abs() > 0.7 * normal.length();
            let face = if on_height_face { width } else { height };
            let side = normal.cross(carrier).try_normalize().unwrap_or(out_of);
            let spread = |d: DVec3| {
                let v = seam.lines.iter().flat_map(|l| l.samples.iter().map(|p| p.at.dot(d)));
                v.clone().fold(f64::MIN, f64::max) - v.fold(f64::MAX, f64::min)
            };
            flat_face(face, wall, spread(side), spread(carrier), material.e_mpa, material.poisson)
        }
        Shape::Flat { .. } | Shape::Solid { .. } => return Vec::new(),
    };
    if f.outside {
        parts.remarks.push(seam.name.clone());
    }
    let in_plane = vec6(DVec3::ZERO, out_of);
    let out_axis = vec6(DVec3::ZERO, b.cross(out_of));
    let axial = vec6(b, DVec3::ZERO);
    let mut m = vec![0.0; 36];
    for (v, k) in [(axial, f.axial_mm_n), (in_plane, f.in_plane_rad_nmm), (out_axis, f.out_of_plane_rad_nmm)]
    {
        for i in 0..6 {
            for j in 0..6 {
                m[6 * i + j] += k * v[i] * v[j];
            }
        }
    }
    m
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

/// Tacks laid evenly when nobody says where: on a closed seam four, between the ends of segments
/// (with only two segments: four at the eighths); on an open line two near its ends and more at
/// least every 150 mm. Length four times the thicker wall (EN 1011-2 clause 13), 5 to 50 mm, and
/// never more than a third of the seam in all.
pub fn default_tacks(seam: &Seam, index: usize) -> Vec<Tack> {
    let thick = seam.walls_mm[0].max(seam.walls_mm[1]);
    let mut out = Vec::new();
    for (l, line) in seam.lines.iter().enumerate() {
        let total = line.s[line.s.len() - 1];
        let ends: Vec<f64> = seam.segments.iter().filter(|g| g.line == l).map(|g| g.from_mm).collect();
        let places: Vec<f64> = if seam.closed {
            if ends.len() >= 4 {
                (0..4).map(|i| ends[i * ends.len() / 4]).collect()
            } else {
                let start = ends.first().copied().unwrap_or(0.0);
                (0..4).map(|i| start + total * (0.125 + 0.25 * i as f64)).collect()
            }
        } else {
            let n = ((total / c::TACK_PITCH_MM).ceil() as usize).max(1);
            (0..=n).map(|i| total * (0.05 + 0.9 * i as f64 / n as f64)).collect()
        };
        let length_mm = (4.0 * thick).clamp(5.0, 50.0).min(total / (3.0 * places.len() as f64));
        for at_mm in places {
            out.push(Tack { seam: index, line: l, at_mm, length_mm, pull: 0.0 });
        }
    }
    out
}

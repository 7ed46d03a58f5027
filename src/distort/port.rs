//! A port: the relative motion of two parts at one place, and what acts on it before any weld is laid,
//! faces in contact and the flexible wall of the carrier.

use super::joint_flex::{JointFlex, fessler, flat_face};
use super::structure::{Row, along};
use crate::frame::{Frame, Shape};
use crate::joint::{Meet, MeetKind};
use crate::seam::Seam;
use glam::DVec3;

/// A spring on a port: unit vector in the port's coordinates and stiffness, N/mm.
pub type Spring = ([f64; 6], f64);

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

/// Springs that are there before any weld: faying faces held apart along their normal (design:
/// lap, pad, along), and the strip of a weld whose lines all lie on one straight line, which would
/// otherwise be a perfect hinge: κ ℓ t²/12 about the line (assumption).
pub(super) fn contact(
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

pub(super) fn vec6(d: DVec3, r: DVec3) -> [f64; 6] {
    [d.x, d.y, d.z, r.x, r.y, r.z]
}

/// Flexibility of the carrier's wall at the seam's middle, as a 6 × 6 compliance.
pub(super) fn flex(
    frame: &Frame,
    meet: &Meet,
    seam: &Seam,
    b: DVec3,
    carrier: DVec3,
    parts: &mut Parts,
) -> Vec<f64> {
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

//! The plane in which the frame is its own mirror image.
//!
//! Planes tried: square to left, then to forward, then to up, half way between the outermost work
//! points. The first that maps every tube onto a tube of equal section holds.

use super::place::{TOUCH_MM, half_mm, radius, shape};
use super::{Joint, Side};
use crate::frame::{Frame, SymmetryWish, Tube};
use glam::DVec3;

/// Middle of the frame: nearer to the plane than this counts as neither side, mm.
const CENTRE_MM: f64 = 1.0;

/// The plane in force: found, given or none.
pub(crate) fn plane(frame: &Frame) -> Option<(DVec3, DVec3)> {
    let left = frame.up.cross(frame.forward);
    match frame.symmetry {
        SymmetryWish::None => None,
        SymmetryWish::Plane(point, normal) => Some((point, facing(normal, [left, frame.forward, frame.up]))),
        SymmetryWish::Auto => [left, frame.forward, frame.up].into_iter().find_map(|normal| {
            let reach = frame.tubes.iter().flat_map(|t| &t.axis).map(|p| p.dot(normal));
            let (low, high) = reach.fold((f64::MAX, f64::MIN), |(l, h), x| (l.min(x), h.max(x)));
            let point = normal * (0.5 * (low + high));
            holds(frame, point, normal).then_some((point, normal))
        }),
    }
}

/// The normal turned so that it points along the first of `ways` to which it is not square.
fn facing(normal: DVec3, ways: [DVec3; 3]) -> DVec3 {
    match ways.iter().map(|w| normal.dot(*w)).find(|d| d.abs() > 1e-6) {
        Some(d) if d < 0.0 => -normal,
        _ => normal,
    }
}

/// True if every tube is mirrored onto a tube of equal section.
pub(crate) fn holds(frame: &Frame, point: DVec3, normal: DVec3) -> bool {
    frame.tubes.iter().enumerate().all(|(i, t)| {
        (0..frame.tubes.len())
            .any(|k| same_section(frame, i, k) && images(frame, i, t, &frame.tubes[k], point, normal))
    })
}

fn same_section(frame: &Frame, i: usize, k: usize) -> bool {
    let (a, b) = (&frame.sections[frame.tubes[i].section], &frame.sections[frame.tubes[k].section]);
    a.material == b.material && a.shape == b.shape
}

fn images(frame: &Frame, i: usize, a: &Tube, b: &Tube, point: DVec3, normal: DVec3) -> bool {
    if a.axis.len() != b.axis.len() {
        return false;
    }
    let n = a.axis.len();
    let mirror = |p: DVec3| p - normal * 2.0 * (p - point).dot(normal);
    let fits = |back: bool| {
        let other = |k: usize| b.axis[if back { n - 1 - k } else { k }];
        (0..n).all(|k| mirror(a.axis[k]).distance(other(k)) < TOUCH_MM) && {
            let h = a.height_dir[0] - normal * 2.0 * a.height_dir[0].dot(normal);
            let cos = h.dot(b.height_dir[if back { n - 2 } else { 0 }]).abs();
            let [x, y] = half_mm(shape(frame, i));
            radius(shape(frame, i)).is_some() || cos > 0.999 || ((x - y).abs() < 1e-6 && cos < 0.045)
        }
    };
    fits(false) || fits(true)
}

/// Which side of the plane a place is on.
pub fn side_of(plane: Option<(DVec3, DVec3)>, p: DVec3) -> Side {
    match plane.map(|(point, normal)| (p - point).dot(normal)) {
        Some(d) if d > CENTRE_MM => Side::Left,
        Some(d) if d < -CENTRE_MM => Side::Right,
        _ => Side::Centre,
    }
}

/// Give each joint its side and its mirror image.
pub(crate) fn pair_up(joints: &mut [Joint], plane: Option<(DVec3, DVec3)>) {
    let Some((point, normal)) = plane else { return };
    for j in 0..joints.len() {
        let at = joints[j].at;
        joints[j].side = side_of(plane, at);
        let image = at - normal * 2.0 * (at - point).dot(normal);
        let nearest = (0..joints.len())
            .map(|k| (joints[k].at.distance(image), k))
            .filter(|(far, k)| *far < CENTRE_MM && joints[*k].meets.len() == joints[j].meets.len())
            .min_by(|a, b| a.0.total_cmp(&b.0));
        joints[j].mirror = nearest.map(|n| n.1);
    }
}

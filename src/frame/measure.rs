//! What a control reads on a frame of any shape.

use super::{ControlKind, Spot, Tube};
use glam::DVec3;

/// What a control reads on the frame as drawn, mm or degrees.
pub fn measure(kind: &ControlKind, tubes: &[Tube], up: DVec3) -> f64 {
    measure_at(kind, up, |s| tubes[s.tube].point_at(s.s_mm))
}

/// What a control reads if each spot is where `at` says, mm or degrees. `up` is the frame's up.
///
/// Signs: `FromLine` and `Bow` grow in their direction; `FromPlane` and `Twist` along the normal
/// `(b - a) x (c - a)` of the plane's places; `Parallel` is the distance of the first ends less that
/// of the second ends, the second line turned to run with the first; `Squareness` is first less
/// second; `Level` is the height of the first place over the second, less the same of the second pair
/// scaled to the span of the first, so that tilting the whole frame changes nothing.
pub fn measure_at(kind: &ControlKind, up: DVec3, at: impl Fn(Spot) -> DVec3) -> f64 {
    let far = |s: &[Spot; 2]| at(s[0]).distance(at(s[1]));
    match kind {
        ControlKind::Distance(a, b) => at(*a).distance(at(*b)),
        ControlKind::FromLine { spot, line, dir } => off_line(at(*spot), at(line[0]), at(line[1])).dot(*dir),
        ControlKind::FromPlane { spot, plane } => off_plane(at(*spot), plane.map(&at)),
        ControlKind::Angle(a, b) => {
            let (u, v) = (at(a[1]) - at(a[0]), at(b[1]) - at(b[0]));
            u.angle_between(v).to_degrees()
        }
        ControlKind::Parallel(a, b) => {
            let apart = |i: usize, j: usize| at(a[i]).distance(at(b[j]));
            let straight = apart(0, 0) + apart(1, 1) <= apart(0, 1) + apart(1, 0);
            if straight { apart(0, 0) - apart(1, 1) } else { apart(0, 1) - apart(1, 0) }
        }
        ControlKind::Twist([a, b, c, d]) => off_plane(at(*d), [at(*a), at(*b), at(*c)]),
        ControlKind::Bow { tube, from_to, dir } => {
            let place = |s_mm: f64| at(Spot { tube: *tube, s_mm });
            let middle = place((from_to[0] + from_to[1]) / 2.0);
            off_line(middle, place(from_to[0]), place(from_to[1])).dot(*dir)
        }
        ControlKind::Squareness(a, b) => far(a) - far(b),
        ControlKind::Level(a, b) => {
            let (p, q) = (at(a[0]) - at(a[1]), at(b[0]) - at(b[1]));
            let flat = |d: DVec3| d - up * d.dot(up);
            let ratio = flat(p).dot(flat(q)) / flat(q).length_squared().max(1e-12);
            p.dot(up) - ratio * q.dot(up)
        }
    }
}

/// From the line through `a` and `b` square to `p`.
fn off_line(p: DVec3, a: DVec3, b: DVec3) -> DVec3 {
    let t = (b - a).normalize();
    (p - a) - t * (p - a).dot(t)
}

/// Signed distance of `p` from the plane through three places.
fn off_plane(p: DVec3, [a, b, c]: [DVec3; 3]) -> f64 {
    (p - a).dot((b - a).cross(c - a).normalize())
}

//! Where two parts lie against each other with their sides: a patch, a line or a point.

use super::place::{Face, TOUCH_MM, axes, faces, length, radius, shape, wall_mm};
use super::polygon::{Polygon, area, clip};
use crate::frame::Frame;
use glam::{DVec2, DVec3};

/// Which part an edge of a patch belongs to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Owner {
    /// The branch ends here, the carrier goes on.
    Branch,
    /// The carrier ends here, the branch goes on.
    Carrier,
    /// Both end here (within [`TOUCH_MM`]): their sides are flush.
    Both,
}

/// Two parts touching.
#[derive(Debug, Clone)]
pub(crate) struct Contact {
    /// Middle of the patch.
    pub centre: DVec3,
    /// Square to the touching faces, from the carrier to the branch.
    pub normal: DVec3,
    pub patch: Patch,
}

/// The shape of the touching place.
#[derive(Debug, Clone)]
pub(crate) enum Patch {
    /// Flat on flat: corners clockwise for someone who looks from the branch to the carrier, with
    /// the owner of the edge that starts at each corner.
    Flat(Vec<(DVec3, Owner)>),
    /// A round part along something: the line of contact, half the distance between the two weld
    /// lines, and the height of these lines above the carrier's side of the contact line.
    Line { from: DVec3, to: DVec3, aside: f64, radii: [f64; 2] },
    /// Two round parts crosswise: unit axes of branch and carrier, radii, gap at the weld line.
    Point { axes: [DVec3; 2], radii: [f64; 2], gap: f64 },
}

impl Contact {
    /// Size for choosing the largest: area, or length × 1 mm.
    fn size(&self) -> f64 {
        match &self.patch {
            Patch::Flat(corners) => {
                let c: Vec<DVec3> = corners.iter().map(|c| c.0).collect();
                0.5 * (1..c.len() - 1).map(|i| (c[i] - c[0]).cross(c[i + 1] - c[0]).length()).sum::<f64>()
            }
            Patch::Line { from, to, .. } => from.distance(*to),
            Patch::Point { .. } => 1.0,
        }
    }
}

/// How much is cut off at both ends of each tube before it lies free, mm (see `find`).
pub(crate) type Trims = Vec<[f64; 2]>;

/// The largest place where two parts touch side by side, crosswise or face to face.
pub(crate) fn contact(frame: &Frame, branch: usize, carrier: usize, trims: &Trims) -> Option<Contact> {
    let mut best: Option<Contact> = None;
    for i in 0..frame.tubes[branch].axis.len() - 1 {
        for found in contacts_of_chord(frame, branch, i, carrier, trims) {
            if best.as_ref().is_none_or(|b| found.size() > b.size() + 1e-9) {
                best = Some(found);
            }
        }
    }
    best
}

/// All places where one chord of the branch touches the carrier.
pub(crate) fn contacts_of_chord(
    frame: &Frame,
    branch: usize,
    chord: usize,
    carrier: usize,
    trims: &Trims,
) -> Vec<Contact> {
    let mut out = Vec::new();
    let b = Chord::of(frame, branch, chord, trims);
    for j in 0..frame.tubes[carrier].axis.len() - 1 {
        let c = Chord::of(frame, carrier, j, trims);
        if !b.near(&c) {
            continue;
        }
        match (b.radius, c.radius) {
            (None, None) => {
                for fb in &b.faces {
                    out.extend(c.faces.iter().filter_map(|fc| flat_on_flat(fb, fc)));
                }
            }
            (Some(r), None) => out.extend(
                c.faces.iter().filter_map(|f| round_on_flat(&b, r, f, f.normal, [r, f64::INFINITY], &b, &c)),
            ),
            (None, Some(r)) => out.extend(
                b.faces.iter().filter_map(|f| round_on_flat(&c, r, f, -f.normal, [f64::INFINITY, r], &b, &c)),
            ),
            (Some(rb), Some(rc)) => out.extend(round_on_round(&b, rb, &c, rc)),
        }
    }
    out
}

struct Chord {
    from: DVec3,
    to: DVec3,
    along: DVec3,
    radius: Option<f64>,
    reach: f64,
    wall: f64,
    faces: Vec<Face>,
}

impl Chord {
    fn of(frame: &Frame, tube: usize, chord: usize, trims: &Trims) -> Chord {
        let t = &frame.tubes[tube];
        let last = t.axis.len() - 2;
        let start = if chord == 0 { trims[tube][0] } else { 0.0 };
        let end = if chord == last { trims[tube][1] } else { 0.0 };
        let along = axes(t, 0.5 * (t.s[chord] + t.s[chord + 1])).along;
        let (from, to) = (t.axis[chord] + along * start, t.axis[chord + 1] - along * end);
        let section = shape(frame, tube);
        let [h, w] = super::place::half_mm(section);
        let mut faces = faces(frame, tube, chord);
        let half = 0.5 * from.distance(to);
        for f in &mut faces {
            if f.along.dot(along).abs() > 0.5 {
                f.centre += along * 0.5 * (start - end);
                f.half_along = half;
            }
        }
        let reach = half.max(0.0) + h.hypot(w) + TOUCH_MM;
        Chord { from, to, along, radius: radius(section), reach, wall: wall_mm(section), faces }
    }

    fn middle(&self) -> DVec3 {
        0.5 * (self.from + self.to)
    }

    fn near(&self, other: &Chord) -> bool {
        self.middle().distance(other.middle()) <= self.reach + other.reach
            && (self.to - self.from).dot(self.along) > 0.0
            && (other.to - other.from).dot(other.along) > 0.0
    }
}

/// Sides count as parallel below this sine (about half a degree).
const PARALLEL: f64 = 0.01;

fn flat_on_flat(fb: &Face, fc: &Face) -> Option<Contact> {
    if fb.normal.dot(fc.normal) > 0.0
        || fb.normal.cross(fc.normal).length() > PARALLEL
        || (fb.centre - fc.centre).dot(fc.normal).abs() > TOUCH_MM
    {
        return None;
    }
    let flat = Plane::of(fc);
    let both = clip(&flat.rectangle(fb, Owner::Branch), &flat.rectangle(fc, Owner::Carrier));
    if both.corners.len() < 3 || area(&both.corners) < 1.0 {
        return None;
    }
    let (pb, pc) = (flat.rectangle(fb, Owner::Branch), flat.rectangle(fc, Owner::Carrier));
    let n = both.corners.len();
    let corners: Vec<(DVec3, Owner)> = (0..n)
        .map(|i| {
            let (p, q) = (both.corners[i], both.corners[(i + 1) % n]);
            let other = match both.edges[i] {
                Owner::Branch => &pc,
                _ => &pb,
            };
            let owner = if lies_on_edge(p, q, other) { Owner::Both } else { both.edges[i] };
            (flat.point(p), owner)
        })
        .collect();
    let centre = corners.iter().map(|c| c.0).sum::<DVec3>() / n as f64;
    Some(Contact { centre, normal: fc.normal, patch: Patch::Flat(corners) })
}

fn lies_on_edge(p: DVec2, q: DVec2, polygon: &Polygon<Owner>) -> bool {
    let n = polygon.corners.len();
    (0..n).any(|i| {
        let (a, b) = (polygon.corners[i], polygon.corners[(i + 1) % n]);
        let off = |x: DVec2| (x - a).dot((b - a).perp().normalize()).abs();
        off(p) < TOUCH_MM && off(q) < TOUCH_MM
    })
}

/// The plane of a carrier's face, seen from the branch: x along, y = along × normal.
struct Plane {
    origin: DVec3,
    x: DVec3,
    y: DVec3,
}

impl Plane {
    fn of(f: &Face) -> Plane {
        Plane { origin: f.centre, x: f.along, y: f.along.cross(f.normal) }
    }
    fn flat(&self, p: DVec3) -> DVec2 {
        DVec2::new((p - self.origin).dot(self.x), (p - self.origin).dot(self.y))
    }
    fn point(&self, p: DVec2) -> DVec3 {
        self.origin + self.x * p.x + self.y * p.y
    }
    fn rectangle(&self, f: &Face, owner: Owner) -> Polygon<Owner> {
        let corner =
            |i: f64, j: f64| self.flat(f.centre + f.along * f.half_along * i + f.across * f.half_across * j);
        let mut corners = vec![corner(-1.0, -1.0), corner(1.0, -1.0), corner(1.0, 1.0), corner(-1.0, 1.0)];
        if area(&corners) < 0.0 {
            corners.reverse();
        }
        Polygon { corners, edges: vec![owner; 4] }
    }
}

/// Half the distance of the two beads beside a line of contact: where the gap between the two skins
/// equals the thinner wall, but never past 0.7 of the smaller radius. Assumption, no source: the bead
/// sits in the flare at about that place.
fn beads_aside(radii: [f64; 2], wall: f64) -> f64 {
    let limit = 0.7 * radii[0].min(radii[1]);
    let drop = |r: f64, y: f64| if r.is_finite() { r - (r * r - y * y).max(0.0).sqrt() } else { 0.0 };
    let (mut low, mut high) = (0.0, limit);
    for _ in 0..50 {
        let mid = 0.5 * (low + high);
        if drop(radii[0], mid) + drop(radii[1], mid) < wall { low = mid } else { high = mid }
    }
    low
}

fn round_on_flat(
    round: &Chord,
    r: f64,
    f: &Face,
    normal: DVec3,
    radii: [f64; 2],
    b: &Chord,
    c: &Chord,
) -> Option<Contact> {
    let above = (round.middle() - f.centre).dot(f.normal) - r;
    if round.along.dot(f.normal).abs() > PARALLEL || above.abs() > TOUCH_MM {
        return None;
    }
    let flat = Plane::of(f);
    let strip = flat.rectangle(f, Owner::Carrier);
    let (mut p, mut q) = (flat.flat(round.from), flat.flat(round.to));
    for i in 0..4 {
        let a = strip.corners[i];
        let inward = (strip.corners[(i + 1) % 4] - a).perp().normalize();
        let (dp, dq) = ((p - a).dot(inward), (q - a).dot(inward));
        match (dp >= 0.0, dq >= 0.0) {
            (true, true) => {}
            (true, false) => q = p + (q - p) * (dp / (dp - dq)),
            (false, true) => p = p + (q - p) * (dp / (dp - dq)),
            (false, false) => return None,
        }
    }
    let (from, to) = (flat.point(p), flat.point(q));
    if from.distance(to) < 1.0 {
        return None;
    }
    let aside = beads_aside(radii, b.wall.min(c.wall));
    Some(Contact { centre: 0.5 * (from + to), normal, patch: Patch::Line { from, to, aside, radii } })
}

fn round_on_round(b: &Chord, rb: f64, c: &Chord, rc: f64) -> Option<Contact> {
    let wall = b.wall.min(c.wall);
    let cross = b.along.cross(c.along);
    if cross.length() < PARALLEL {
        let off = b.from - c.from;
        let square = off - c.along * off.dot(c.along);
        if (square.length() - rb - rc).abs() > TOUCH_MM {
            return None;
        }
        let normal = square.normalize();
        let on = |p: DVec3| (p - c.from).dot(c.along);
        let (lo, hi) = (on(b.from).min(on(b.to)).max(0.0), on(b.from).max(on(b.to)).min(on(c.to)));
        if hi - lo < 1.0 {
            return None;
        }
        let (from, to) = (c.from + c.along * lo + normal * rc, c.from + c.along * hi + normal * rc);
        let radii = [rb, rc];
        let patch = Patch::Line { from, to, aside: beads_aside(radii, wall), radii };
        return Some(Contact { centre: 0.5 * (from + to), normal, patch });
    }
    // feet of the common perpendicular
    let off = b.from - c.from;
    let n = cross.normalize();
    let s = off.cross(c.along).dot(n) / -cross.length();
    let t = off.cross(b.along).dot(n) / -cross.length();
    let (pb, pc) = (b.from + b.along * s, c.from + c.along * t);
    let inside = |x: f64, whole: f64| x > 0.0 && x < whole;
    if (pb.distance(pc) - rb - rc).abs() > TOUCH_MM
        || !inside(s, b.from.distance(b.to))
        || !inside(t, c.from.distance(c.to))
    {
        return None;
    }
    let normal = (pb - pc).normalize();
    let patch = Patch::Point { axes: [b.along, c.along], radii: [rb, rc], gap: wall };
    Some(Contact { centre: pc + normal * rc, normal, patch })
}

/// Trims of nothing: every tube runs from work point to work point.
pub(crate) fn untrimmed(frame: &Frame) -> Trims {
    vec![[0.0; 2]; frame.tubes.len()]
}

/// True if the parts run into each other somewhere in the middle of both: their axes pass nearer
/// than their sides allow. How deep, mm, and where.
pub(crate) fn through_each_other(frame: &Frame, a: usize, b: usize, trims: &Trims) -> Option<(f64, DVec3)> {
    let (ta, tb) = (&frame.tubes[a], &frame.tubes[b]);
    for i in 0..ta.axis.len() - 1 {
        for j in 0..tb.axis.len() - 1 {
            let (ca, cb) = (Chord::of(frame, a, i, trims), Chord::of(frame, b, j, trims));
            if !ca.near(&cb) {
                continue;
            }
            let (pa, pb) = nearest_places(&ca, &cb);
            let n = (pb - pa).try_normalize().unwrap_or_else(|| {
                ca.along.cross(cb.along).try_normalize().unwrap_or(ca.along.any_orthonormal_vector())
            });
            let depth = half_towards(frame, a, i, n) + half_towards(frame, b, j, n) - pa.distance(pb);
            if depth > TOUCH_MM {
                return Some((depth, 0.5 * (pa + pb)));
            }
        }
    }
    None
}

/// Half the size of a section in a direction, mm; a direction along the tube counts nothing.
fn half_towards(frame: &Frame, tube: usize, chord: usize, n: DVec3) -> f64 {
    let t = &frame.tubes[tube];
    let a = axes(t, 0.5 * (t.s[chord] + t.s[chord + 1]).min(2.0 * length(t)));
    let square = n - a.along * n.dot(a.along);
    match radius(shape(frame, tube)) {
        Some(r) => r * square.length(),
        None => {
            let [h, w] = super::place::half_mm(shape(frame, tube));
            h * square.dot(a.height).abs() + w * square.dot(a.across).abs()
        }
    }
}

/// Nearest places of two straight pieces.
fn nearest_places(a: &Chord, b: &Chord) -> (DVec3, DVec3) {
    let (la, lb) = (a.from.distance(a.to), b.from.distance(b.to));
    let on = |c: &Chord, l: f64, p: DVec3| c.from + c.along * (p - c.from).dot(c.along).clamp(0.0, l);
    let mut best = (a.from, on(b, lb, a.from));
    let mut consider = |p: DVec3, q: DVec3| {
        if p.distance(q) < best.0.distance(best.1) - 1e-12 {
            best = (p, q);
        }
    };
    consider(a.to, on(b, lb, a.to));
    consider(on(a, la, b.from), b.from);
    consider(on(a, la, b.to), b.to);
    let cross = a.along.cross(b.along);
    if cross.length() > 1e-9 {
        let off = b.from - a.from;
        let s = off.cross(b.along).dot(cross) / cross.length_squared();
        let t = off.cross(a.along).dot(cross) / cross.length_squared();
        if (0.0..=la).contains(&s) && (0.0..=lb).contains(&t) {
            consider(a.from + a.along * s, b.from + b.along * t);
        }
    }
    best
}

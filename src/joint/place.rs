//! Places on a tube: local axes, nearest place, how far a point lies outside.

use crate::frame::{Frame, Role, Shape, Tube};
use glam::DVec3;

/// How near two things must be to count as touching, mm.
pub(crate) const TOUCH_MM: f64 = 0.5;

/// Local axes of a tube at a place: point on the axis, direction of the run, height, across
/// (= along × height).
#[derive(Debug, Clone, Copy)]
pub(crate) struct Axes {
    pub at: DVec3,
    pub along: DVec3,
    pub height: DVec3,
    pub across: DVec3,
}

/// Direction into a tube from the end that is nearer to arc length `s_mm`.
pub(crate) fn into_tube(tube: &Tube, s_mm: f64) -> DVec3 {
    let along = axes(tube, s_mm).along;
    if s_mm > 0.5 * length(tube) { -along } else { along }
}

/// Axes at arc length `s_mm`; past an end the end chord is prolonged.
pub(crate) fn axes(tube: &Tube, s_mm: f64) -> Axes {
    let i = chord(tube, s_mm);
    let along = (tube.axis[i + 1] - tube.axis[i]).normalize();
    let height = tube.height_dir[i];
    Axes { at: tube.axis[i] + along * (s_mm - tube.s[i]), along, height, across: along.cross(height) }
}

/// Index of the chord that holds arc length `s_mm`.
pub(crate) fn chord(tube: &Tube, s_mm: f64) -> usize {
    tube.s[1..tube.s.len() - 1].iter().take_while(|s| **s <= s_mm).count()
}

/// Length of the axis, mm.
pub(crate) fn length(tube: &Tube) -> f64 {
    tube.s[tube.s.len() - 1]
}

/// Arc length of the place on the axis nearest to `p`, and its distance, mm.
pub(crate) fn nearest(tube: &Tube, p: DVec3) -> (f64, f64) {
    let mut best = (0.0, f64::INFINITY);
    for (i, pair) in tube.axis.windows(2).enumerate() {
        let run = tube.s[i + 1] - tube.s[i];
        let along = (p - pair[0]).dot((pair[1] - pair[0]) / run).clamp(0.0, run);
        let far = p.distance(pair[0] + (pair[1] - pair[0]) * (along / run));
        if far < best.1 - 1e-9 {
            best = (tube.s[i] + along, far);
        }
    }
    best
}

/// Half the outside size along the height and across, mm.
pub(crate) fn half_mm(shape: Shape) -> [f64; 2] {
    match shape {
        Shape::Round { od, .. } | Shape::Solid { od } => [od / 2.0, od / 2.0],
        Shape::Box { height, width, .. } => [height / 2.0, width / 2.0],
        Shape::Flat { width, thickness } => [thickness / 2.0, width / 2.0],
    }
}

/// Outer radius of a round section, mm.
pub(crate) fn radius(shape: Shape) -> Option<f64> {
    match shape {
        Shape::Round { od, .. } | Shape::Solid { od } => Some(od / 2.0),
        _ => None,
    }
}

/// Wall of a hollow section, least thickness of a bar, mm.
pub(crate) fn wall_mm(shape: Shape) -> f64 {
    match shape {
        Shape::Round { wall, .. } | Shape::Box { wall, .. } => wall,
        Shape::Flat { width, thickness } => thickness.min(width),
        Shape::Solid { od } => od,
    }
}

/// The shape of a tube's section.
pub(crate) fn shape(frame: &Frame, tube: usize) -> Shape {
    frame.sections[frame.tubes[tube].section].shape
}

/// True for a plate.
pub(crate) fn is_plate(tube: &Tube) -> bool {
    matches!(tube.role, Role::Plate { .. })
}

/// How far `p` lies outside the tube's surface, mm; zero or less is on it or inside. Ends count as
/// cut square, corners as sharp.
pub(crate) fn outside_mm(frame: &Frame, tube: usize, p: DVec3) -> f64 {
    let t = &frame.tubes[tube];
    let (s, _) = nearest(t, p);
    let a = axes(t, s);
    let d = p - a.at;
    let (x, h, w) = (d.dot(a.along).abs(), d.dot(a.height), d.dot(a.across));
    let lateral = match radius(shape(frame, tube)) {
        Some(r) => h.hypot(w) - r,
        None => {
            let [hh, hw] = half_mm(shape(frame, tube));
            let (dh, dw) = (h.abs() - hh, w.abs() - hw);
            if dh > 0.0 && dw > 0.0 { dh.hypot(dw) } else { dh.max(dw) }
        }
    };
    // `x` is 0 beside the tube and grows past its end
    if x > 1e-9 && lateral > 0.0 { lateral.hypot(x) } else { lateral.max(if x > 1e-9 { x } else { lateral }) }
}

/// A flat side of a square tube, bar or plate over one chord.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Face {
    /// Middle of the face.
    pub centre: DVec3,
    /// Outward normal.
    pub normal: DVec3,
    /// Long direction (along the tube) and the direction across it.
    pub along: DVec3,
    pub across: DVec3,
    /// Half sizes in these directions, mm.
    pub half_along: f64,
    pub half_across: f64,
}

/// Flat sides of a tube over its chord `chord`; plates have their end edges too. None for round ones.
pub(crate) fn faces(frame: &Frame, tube: usize, chord: usize) -> Vec<Face> {
    let t = &frame.tubes[tube];
    let section = shape(frame, tube);
    if radius(section).is_some() {
        return Vec::new();
    }
    let half_along = 0.5 * (t.s[chord + 1] - t.s[chord]);
    let a = axes(t, t.s[chord] + half_along);
    let [hh, hw] = half_mm(section);
    let mut out = Vec::new();
    for sign in [1.0, -1.0] {
        let side =
            |normal: DVec3, half: f64, along: DVec3, half_along: f64, across: DVec3, half_across: f64| Face {
                centre: a.at + normal * half * sign,
                normal: normal * sign,
                along,
                across,
                half_along,
                half_across,
            };
        out.push(side(a.height, hh, a.along, half_along, a.across, hw));
        out.push(side(a.across, hw, a.along, half_along, a.height, hh));
        if is_plate(t) {
            out.push(side(a.along, half_along, a.across, hw, a.height, hh));
        }
    }
    out
}

/// The flat side through which a ray from `p` in direction `d` leaves the tube, counted at the chord
/// nearest to `p`; `None` for round tubes.
pub(crate) fn face_towards(frame: &Frame, tube: usize, p: DVec3, d: DVec3) -> Option<Face> {
    let t = &frame.tubes[tube];
    let (s, _) = nearest(t, p);
    faces(frame, tube, chord(t, s))
        .into_iter()
        .filter(|f| f.normal.dot(d) > 1e-6)
        .map(|f| ((f.centre - p).dot(f.normal) / f.normal.dot(d), f))
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, f)| f)
}

/// True for round and square tube, false for bars and plates.
pub(crate) fn is_hollow(shape: Shape) -> bool {
    matches!(shape, Shape::Round { .. } | Shape::Box { .. })
}

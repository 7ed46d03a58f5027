//! The curves along which a connection is welded, exact.

use super::contact::{Contact, Owner, Patch};
use super::outline::outline;
use super::place::{Axes, Face, axes, face_towards, half_mm, into_tube, length, radius, shape, wall_mm};
use super::trace::{Landing, Place, Surface, Trace};
use super::{Meet, MeetKind};
use crate::frame::{Frame, Shape};
use crate::numbers::quadrature::integral;
use glam::DVec3;

/// A weld line made of smooth pieces, one after another.
#[derive(Debug, Clone)]
pub(crate) struct Curve {
    pub pieces: Vec<Piece>,
    pub closed: bool,
    /// The branch end it was traced from, if any.
    pub trace: Option<Trace>,
    /// Which side of the branch it lies on, for lines that come in pairs: the index of the opposite
    /// curve in the same seam.
    pub opposite: Option<usize>,
}

/// One smooth piece, parameter 0 to 1.
#[derive(Debug, Clone)]
pub(crate) struct Piece {
    pub kind: PieceKind,
    /// A corner of the section lies at its start.
    pub corner_at_start: bool,
}

#[derive(Debug, Clone)]
pub(crate) enum PieceKind {
    /// Part of an outline edge of [`Curve::trace`].
    Traced { edge: usize, from: f64, to: f64 },
    /// A straight line; normals and pull are the same all along.
    Straight { from: DVec3, to: DVec3, branch_normal: DVec3, carrier_normal: DVec3, pull: DVec3 },
    /// A quarter of the line round the place where two round parts cross.
    Crossing { quarter: f64, at: Crossing },
}

/// Two round skins touching at a point; see [`crossing`].
#[derive(Debug, Clone, Copy)]
pub(crate) struct Crossing {
    centre: DVec3,
    normal: DVec3,
    /// Half axes of the ellipse, mm.
    a: DVec3,
    b: DVec3,
    /// In the touching plane, square to the axes of branch and carrier, divided by the radius, 1/mm.
    bend: [DVec3; 2],
}

impl Curve {
    /// The place at parameter `u` of a piece.
    pub(crate) fn place(&self, piece: usize, u: f64) -> Place {
        match &self.pieces[piece].kind {
            PieceKind::Traced { edge, from, to } => {
                let trace = self.trace.as_ref().expect("a traced piece has its trace");
                let mut place = trace.place(*edge, from + (to - from) * u);
                place.step *= to - from;
                place
            }
            PieceKind::Straight { from, to, branch_normal, carrier_normal, pull } => Place {
                at: *from + (*to - *from) * u,
                step: *to - *from,
                branch_normal: *branch_normal,
                carrier_normal: *carrier_normal,
                pull: *pull,
                surface: 0,
            },
            PieceKind::Crossing { quarter, at } => at.place((quarter + u) * std::f64::consts::FRAC_PI_2),
        }
    }

    /// Exact length of a piece between two parameters, mm.
    pub(crate) fn length(&self, piece: usize, from: f64, to: f64) -> f64 {
        match &self.pieces[piece].kind {
            PieceKind::Straight { from: a, to: b, .. } => a.distance(*b) * (to - from),
            _ => integral(&|u| self.place(piece, u).step.length(), from, to),
        }
    }

    fn straight(lines: Vec<(PieceKind, Option<usize>)>) -> Vec<Curve> {
        lines
            .into_iter()
            .map(|(kind, opposite)| Curve {
                pieces: vec![Piece { kind, corner_at_start: false }],
                closed: false,
                trace: None,
                opposite,
            })
            .collect()
    }
}

impl Crossing {
    fn place(&self, angle: f64) -> Place {
        let p = self.a * angle.cos() + self.b * angle.sin();
        let dp = self.b * angle.cos() - self.a * angle.sin();
        // heights of both skins over the touching plane, branch up, carrier down: (p·bend)²·r/2
        let rise = |i: usize| {
            let k = self.bend[i];
            (0.5 * p.dot(k).powi(2) / k.length(), p.dot(k) * dp.dot(k) / k.length())
        };
        let ((hb, dhb), (hc, dhc)) = (rise(0), rise(1));
        let tilt = |i: usize| self.bend[i].normalize() * p.dot(self.bend[i]);
        let outward = dp.cross(self.normal).normalize();
        Place {
            at: self.centre + p + self.normal * 0.5 * (hb - hc),
            step: (dp + self.normal * 0.5 * (dhb - dhc)) * std::f64::consts::FRAC_PI_2,
            branch_normal: (tilt(0) - self.normal).normalize(),
            carrier_normal: (tilt(1) + self.normal).normalize(),
            pull: if outward.dot(p) > 0.0 { -outward } else { outward },
            surface: 0,
        }
    }
}

/// The end of the branch of a meet: which end (0 start, 1 end), axes there with `along` pointing into
/// the branch, away from the joint. `None` if the branch does not meet with an end.
pub(crate) fn branch_end(frame: &Frame, meet: &Meet) -> Option<(usize, Axes)> {
    if matches!(meet.kind, MeetKind::Lap | MeetKind::Pad | MeetKind::Along) {
        return None;
    }
    let (tube, s) = meet.branch;
    let t = &frame.tubes[tube];
    let end = usize::from(s > 0.5 * length(t));
    let mut a = axes(t, s);
    if end == 1 {
        a.along = -a.along;
    }
    Some((end, a))
}

/// Trace of a branch end on its carrier or carriers.
pub(crate) fn trace(frame: &Frame, meet: &Meet) -> Option<Trace> {
    let (_, end) = branch_end(frame, meet)?;
    let (origin, away) = (end.at, end.along);
    let branch = shape(frame, meet.branch.0);
    let into = |(tube, s, _): (usize, f64, f64)| into_tube(&frame.tubes[tube], s);
    let mut first_axis = end.height;
    let (surfaces, between, landing) = if matches!(meet.kind, MeetKind::Butt | MeetKind::Mitre) {
        let normal = match meet.kind {
            MeetKind::Butt => away,
            _ => (away - into(meet.carriers[0])).normalize(),
        };
        (vec![Surface::Flat { on: origin, normal }], None, Landing::EndToEnd)
    } else {
        let skin = |tube: usize, s: f64| {
            let a = axes(&frame.tubes[tube], s);
            match radius(shape(frame, tube)) {
                Some(radius) => Some(Surface::Round { on: a.at, axis: a.along, radius }),
                None => face_towards(frame, tube, origin, away)
                    .map(|f: Face| Surface::Flat { on: f.centre, normal: f.normal }),
            }
        };
        let surfaces: Option<Vec<Surface>> = meet.carriers.iter().map(|c| skin(c.0, c.1)).collect();
        let between = (meet.carriers.len() == 2).then(|| {
            let (a, b) = (into(meet.carriers[0]), into(meet.carriers[1]));
            let joint = axes(&frame.tubes[meet.carriers[0].0], meet.carriers[0].1).at;
            (joint, (b - a).normalize())
        });
        (surfaces?, between, Landing::OnSkin)
    };
    if radius(branch).is_some() {
        // turn the outline so that its quarters end where a saddle is steepest or highest
        let lead = match surfaces[0] {
            Surface::Round { axis, .. } => axis,
            Surface::Flat { normal, .. } => normal,
        };
        let square = lead - away * lead.dot(away);
        if square.length() > 1e-6 {
            first_axis = square.normalize();
        }
    }
    let e2 = first_axis.cross(away);
    Some(Trace { origin, away, e1: first_axis, e2, edges: outline(branch), surfaces, between, landing })
}

/// The curves of a meet. `contacts`: places where branch and carrier touch (laps, pads, bars along).
pub(crate) fn curves(frame: &Frame, meet: &Meet, contacts: &[Contact]) -> Vec<Curve> {
    match meet.kind {
        MeetKind::Lap | MeetKind::Pad => {
            contacts.iter().take(1).flat_map(|c| round_contact(c, meet.kind)).collect()
        }
        MeetKind::Along => along(frame, meet, contacts),
        MeetKind::Slot if slotted_over(frame, meet) => slot(frame, meet),
        _ => trace(frame, meet).map(traced).into_iter().collect(),
    }
}

fn traced(trace: Trace) -> Curve {
    let mut pieces = Vec::new();
    for (edge, e) in trace.edges.iter().enumerate() {
        let mut cuts = vec![0.0];
        cuts.extend(trace.crossings(edge));
        cuts.push(1.0);
        for (i, pair) in cuts.windows(2).enumerate() {
            let kind = PieceKind::Traced { edge, from: pair[0], to: pair[1] };
            pieces.push(Piece { kind, corner_at_start: i == 0 && e.corner_at_start });
        }
    }
    Curve { pieces, closed: true, trace: Some(trace), opposite: None }
}

/// A straight piece beside a patch edge. `out`: in the touching plane, away from the patch.
fn patch_edge(from: DVec3, to: DVec3, out: DVec3, normal: DVec3, owner: Owner) -> PieceKind {
    let (branch_normal, carrier_normal, pull) = match owner {
        Owner::Branch => (out, normal, -out),
        Owner::Carrier => (-normal, out, out),
        Owner::Both => (out, out, normal),
    };
    PieceKind::Straight { from, to, branch_normal, carrier_normal, pull }
}

/// Lines round a lap or a pad.
fn round_contact(contact: &Contact, kind: MeetKind) -> Vec<Curve> {
    let normal = contact.normal;
    match &contact.patch {
        Patch::Flat(corners) => {
            let n = corners.len();
            let edge = |i: usize| {
                let ((from, owner), (to, _)) = (corners[i], corners[(i + 1) % n]);
                // clockwise seen against the normal: outward lies to the left of the way
                let out = (to - from).cross(-normal).normalize();
                let out = if out.dot(0.5 * (from + to) - contact.centre) < 0.0 { -out } else { out };
                patch_edge(from, to, out, normal, owner)
            };
            let one_outline = |who: Owner| corners.iter().all(|c| c.1 == who);
            if one_outline(Owner::Branch) || one_outline(Owner::Carrier) {
                let pieces = (0..n).map(|i| Piece { kind: edge(i), corner_at_start: true }).collect();
                return vec![Curve { pieces, closed: true, trace: None, opposite: None }];
            }
            let welded: Vec<usize> =
                (0..n).filter(|&i| kind != MeetKind::Pad || corners[i].1 != Owner::Carrier).collect();
            let place = |i: usize| welded.iter().position(|w| *w == i);
            let opposite = |i: usize| if n.is_multiple_of(2) { place((i + n / 2) % n) } else { None };
            Curve::straight(welded.iter().map(|&i| (edge(i), opposite(i))).collect())
        }
        Patch::Line { .. } => Curve::straight(
            beads(contact)
                .map(|p| p.to_vec())
                .unwrap_or_default()
                .into_iter()
                .zip([Some(1), Some(0)])
                .collect(),
        ),
        Patch::Point { axes, radii, gap } => vec![crossing(contact, axes, radii, *gap)],
    }
}

/// The two beads beside a line of contact.
fn beads(contact: &Contact) -> Option<[PieceKind; 2]> {
    let Patch::Line { from, to, aside, radii } = &contact.patch else { return None };
    let n = contact.normal;
    let sideways = (*to - *from).normalize().cross(n);
    let drop = |r: f64| if r.is_finite() { r - (r * r - aside * aside).sqrt() } else { 0.0 };
    let height = 0.5 * (drop(radii[0]) - drop(radii[1]));
    Some([1.0, -1.0].map(|sign| {
        let out = sideways * sign;
        let skin =
            |r: f64, up: DVec3| if r.is_finite() { (out * *aside + up * (r - drop(r))) / r } else { up };
        let shift = out * *aside + n * height;
        // clockwise seen against the normal
        let (a, b) = if sign > 0.0 { (*from, *to) } else { (*to, *from) };
        PieceKind::Straight {
            from: a + shift,
            to: b + shift,
            branch_normal: skin(radii[0], -n),
            carrier_normal: skin(radii[1], n),
            pull: -out,
        }
    }))
}

/// The closed line round the point where two round parts cross, where the gap between them equals
/// the thinner wall: `(p·n₁)²/2r₁ + (p·n₂)²/2r₂ = gap`, an ellipse (parabolic skins; within 3 % of the
/// radius for gaps up to a tenth of it). Assumption, no source: the bead sits about there.
fn crossing(contact: &Contact, axes: &[DVec3; 2], radii: &[f64; 2], gap: f64) -> Curve {
    let n = contact.normal;
    let bend = [0, 1].map(|i| n.cross(axes[i]).normalize() / radii[i]);
    let x = bend[0].normalize();
    let y = x.cross(n);
    let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
    for (k, r) in bend.iter().zip(radii) {
        let (kx, ky) = (k.dot(x), k.dot(y));
        xx += 0.5 * kx * kx * r;
        xy += 0.5 * kx * ky * r;
        yy += 0.5 * ky * ky * r;
    }
    let angle = 0.5 * (2.0 * xy).atan2(xx - yy);
    let (mean, half) = (0.5 * (xx + yy), (0.25 * (xx - yy).powi(2) + xy * xy).sqrt());
    let (p, q) = (x * angle.cos() + y * angle.sin(), y * angle.cos() - x * angle.sin());
    let at = Crossing {
        centre: contact.centre,
        normal: n,
        a: p * (gap / (mean + half)).sqrt(),
        b: q * (gap / (mean - half)).sqrt(),
        bend,
    };
    let pieces = (0..4)
        .map(|i| Piece { kind: PieceKind::Crossing { quarter: f64::from(i), at }, corner_at_start: false })
        .collect();
    Curve { pieces, closed: true, trace: None, opposite: None }
}

/// Two lines, one on each side of a bar along a tube; `contacts` come chord by chord.
fn along(frame: &Frame, meet: &Meet, contacts: &[Contact]) -> Vec<Curve> {
    let run = axes(&frame.tubes[meet.branch.0], meet.branch.1).along;
    let mut sides: [Vec<Piece>; 2] = [Vec::new(), Vec::new()];
    for contact in contacts {
        let kinds: Vec<PieceKind> = match &contact.patch {
            Patch::Flat(_) => {
                let all = round_contact(contact, MeetKind::Lap);
                all.into_iter().flat_map(|c| c.pieces).map(|p| p.kind).collect()
            }
            _ => beads(contact).map(|b| b.to_vec()).unwrap_or_default(),
        };
        for kind in kinds {
            let PieceKind::Straight { from, to, branch_normal, carrier_normal, pull } = kind else {
                continue;
            };
            let step = to - from;
            if step.normalize().dot(run).abs() < 0.7 {
                continue;
            }
            let left = (0.5 * (from + to) - contact.centre).dot(run.cross(contact.normal)) < 0.0;
            // both sides run from the bar's start to its end
            let (from, to) = if step.dot(run) > 0.0 { (from, to) } else { (to, from) };
            let kind = PieceKind::Straight { from, to, branch_normal, carrier_normal, pull };
            sides[usize::from(!left)].push(Piece { kind, corner_at_start: false });
        }
    }
    let [left, right] = sides;
    let both = !left.is_empty() && !right.is_empty();
    let opposite = |i: usize| both.then_some(i);
    [(left, opposite(1)), (right, opposite(0))]
        .into_iter()
        .filter(|(pieces, _)| !pieces.is_empty())
        .map(|(pieces, opposite)| Curve { pieces, closed: false, trace: None, opposite })
        .collect()
}

/// True if the branch is slotted over a flat carrier (else a flat branch is let into the carrier and
/// welded round like any landing end).
pub(crate) fn slotted_over(frame: &Frame, meet: &Meet) -> bool {
    let flat = |t: usize| matches!(shape(frame, t), Shape::Flat { .. });
    flat(meet.carriers[0].0) && !flat(meet.branch.0)
}

/// Four lines along a slot: both sides of the plate, both walls of the tube. The slot reaches
/// `slot_mm` from the plate's edge inward.
fn slot(frame: &Frame, meet: &Meet) -> Vec<Curve> {
    let Some((end, a)) = branch_end(frame, meet) else { return Vec::new() };
    let plate = &frame.tubes[meet.carriers[0].0];
    let depth = frame.tubes[meet.branch.0].lands[end].as_ref().and_then(|l| l.slot_mm).unwrap_or(0.0);
    let d = a.along;
    let plate_axes = axes(plate, meet.carriers[0].1);
    let n = (plate_axes.height - d * plate_axes.height.dot(d)).normalize();
    let m = d.cross(n);
    let half_plate = half_mm(shape(frame, meet.carriers[0].0))[0];
    let branch = shape(frame, meet.branch.0);
    let wall_at = match radius(branch) {
        Some(r) => (r * r - half_plate * half_plate).max(0.0).sqrt(),
        None => {
            let [h, w] = half_mm(branch);
            h * m.dot(a.height).abs() + w * m.dot(a.across).abs()
        }
    } - 0.5 * wall_mm(branch).min(2.0 * half_plate);
    // where the plate's edge is, along the branch
    let mid = a.at + n * (plate_axes.at - a.at).dot(n);
    let edge = face_towards(frame, meet.carriers[0].0, mid, d)
        .map_or(0.0, |f| (f.centre - mid).dot(f.normal) / d.dot(f.normal));
    let corner = |sm: f64, sn: f64| {
        let at = mid + m * wall_at * sm + n * half_plate * sn;
        PieceKind::Straight {
            from: at + d * edge,
            to: at + d * (edge - depth),
            branch_normal: m * sm,
            carrier_normal: n * sn,
            pull: n * sn,
        }
    };
    Curve::straight(vec![
        (corner(1.0, 1.0), Some(2)),
        (corner(-1.0, 1.0), Some(3)),
        (corner(-1.0, -1.0), Some(0)),
        (corner(1.0, -1.0), Some(1)),
    ])
}

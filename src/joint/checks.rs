//! What can be wrong with the geometry of a frame whose words are in order.

use super::contact::{Owner, Patch, through_each_other};
use super::find::{Found, Links, contacts, ends, trims};
use super::place::{TOUCH_MM, axes, face_towards, into_tube, is_plate, length, nearest, outside_mm};
use super::polygon::{Polygon, area, clip};
use super::symmetry::holds;
use super::trace::{Surface, Trace};
use super::{Joint, Meet, MeetKind, curve, left};
use crate::fault::Fault;
use crate::frame::{Frame, SymmetryWish};
use glam::{DVec2, DVec3};

/// Landing flatter than this cannot be welded at the heel, degrees. Common practice, no source.
pub(super) const FLATTEST_DEG: f64 = 15.0;
/// An end this near to another tube was probably meant to touch it, mm.
const NEAR_MISS_MM: f64 = 10.0;
/// A footprint covered by this part of another one is the same place.
const SAME_PLACE: f64 = 0.95;

/// `12 mm`, `0.8 mm`.
fn mm(v: f64) -> String {
    let tenth = (v * 10.0).round() / 10.0;
    if tenth == tenth.round() { format!("{tenth:.0} mm") } else { format!("{tenth:.1} mm") }
}

fn quoted(frame: &Frame, t: usize) -> String {
    format!("\"{}\"", frame.tubes[t].name)
}

/// Give meets the gaps and open ranges of `[[joint]]`; faults for those that speak of nothing.
pub(crate) fn wishes(frame: &Frame, joints: &[Joint], found: &mut [Found]) -> Vec<Fault> {
    let mut faults = Vec::new();
    for wish in &frame.joint_wishes {
        let here: Vec<usize> = (0..joints.len())
            .filter(|&j| {
                let all = wish.tubes.iter().all(|t| joints[j].tubes.iter().any(|have| have.0 == *t));
                let at = |p: usize| {
                    let p = frame.points[p].at;
                    joints[j].at.distance(p) < 1.0
                        || joints[j].meets.iter().any(|m| found[*m].at.distance(p) < 1.0)
                };
                all && wish.point.is_none_or(at) && (wish.point.is_some() || !wish.tubes.is_empty())
            })
            .collect();
        let names = wish.tubes.iter().map(|t| quoted(frame, *t)).collect::<Vec<_>>().join(" and ");
        if here.is_empty() {
            let message = if wish.tubes.is_empty() {
                "no tubes meet at the point of this [[joint]]".to_string()
            } else {
                format!("{names} do not meet in one joint")
            };
            faults.push(
                Fault::new("E209", message)
                    .at(wish.span.clone(), "no such joint")
                    .help("`holdtrue check` lists all joints with their tubes"),
            );
            continue;
        }
        for f in here.iter().flat_map(|j| &joints[*j].meets) {
            let meet = &mut found[*f].meet;
            if wish.tubes.is_empty() || wish.tubes.contains(&meet.branch.0) {
                meet.gap_mm = wish.gap_mm.unwrap_or(meet.gap_mm);
                meet.open.extend(&wish.open);
            }
        }
        if let Some(c) = wish.carrier
            && !here
                .iter()
                .flat_map(|j| &joints[*j].meets)
                .any(|m| found[*m].meet.carriers.iter().any(|x| x.0 == c))
        {
            faults.push(
                Fault::new("E209", format!("{} cannot carry this joint", quoted(frame, c)))
                    .at(wish.span.clone(), "named as carrier here")
                    .help("the carrier must run through the joint, or end there where nothing runs through"),
            );
        }
    }
    faults
}

/// A plane that was given must be one.
pub(crate) fn symmetry(frame: &Frame, plane: Option<(DVec3, DVec3)>) -> Option<Fault> {
    let (point, normal) = plane?;
    (matches!(frame.symmetry, SymmetryWish::Plane(..)) && !holds(frame, point, normal)).then(|| {
        Fault::new("W203", "the frame is not its own mirror image in the symmetry plane given")
            .help("sides are counted from that plane all the same; mirror joints are found where they exist")
    })
}

/// All faults of the geometry, by code, then in the order of the file.
pub(crate) fn faults(frame: &Frame, found: &[Found]) -> Vec<Fault> {
    let meets: Vec<Meet> = found.iter().map(|f| f.meet.clone()).collect();
    let mut faults = touches_nothing(frame, &meets);
    faults.extend(in_pieces(frame, &meets));
    for f in found {
        faults.extend(landing(frame, f, &meets));
    }
    faults.extend(left::faults(frame, &meets));
    faults.extend(same_footprint(frame, found, &meets));
    faults.extend(run_through(frame, &meets));
    faults.extend(near_misses(frame, &meets));
    faults.sort_by_key(|f| f.code);
    // Both ends of a tube may have the same to be said of them.
    faults.dedup_by(|a, b| a.code == b.code && a.message == b.message && a.at == b.at && a.label == b.label);
    faults
}

/// The tube nearest to a place, and how far its surface is.
fn nearest_other(frame: &Frame, tube: usize, p: DVec3) -> Option<(usize, f64)> {
    (0..frame.tubes.len())
        .filter(|&t| t != tube)
        .map(|t| (t, outside_mm(frame, t, p)))
        .min_by(|a, b| a.1.total_cmp(&b.1))
}

fn touches_nothing(frame: &Frame, meets: &[Meet]) -> Vec<Fault> {
    let mut faults = Vec::new();
    for (t, tube) in frame.tubes.iter().enumerate() {
        if meets.iter().any(|m| m.tubes().any(|x| x == t)) {
            continue;
        }
        let miss = [("start", 0.0), ("end", length(tube))]
            .into_iter()
            .filter_map(|(word, s)| nearest_other(frame, t, axes(tube, s).at).map(|(o, far)| (word, o, far)))
            .min_by(|a, b| a.2.total_cmp(&b.2));
        let label = match miss {
            Some((word, o, far)) => format!("its {word} misses {} by {}", quoted(frame, o), mm(far)),
            None => "it is the only one".to_string(),
        };
        faults.push(
            Fault::new("E201", format!("{} touches nothing", quoted(frame, t)))
                .at(tube.span.clone(), label)
                .help(
                    "let an end share a point with another tube, lie inside one, or place it with `on = …`",
                ),
        );
    }
    faults
}

fn in_pieces(frame: &Frame, meets: &[Meet]) -> Option<Fault> {
    let mut piece: Vec<usize> = (0..frame.tubes.len()).collect();
    for m in meets {
        for c in &m.carriers {
            let (a, b) = (piece[m.branch.0], piece[c.0]);
            piece.iter_mut().filter(|p| **p == a.max(b)).for_each(|p| *p = a.min(b));
        }
    }
    let mut heads: Vec<usize> = piece.clone();
    heads.sort_unstable();
    heads.dedup();
    // lone tubes have a fault of their own
    heads.retain(|h| piece.iter().filter(|p| *p == h).count() > 1);
    if heads.len() < 2 {
        return None;
    }
    let list = |h: usize| {
        let members: Vec<String> =
            (0..piece.len()).filter(|t| piece[*t] == h).map(|t| quoted(frame, t)).collect();
        match members.len() {
            0..=4 => members.join(", "),
            n => format!("{} and {} more", members[..3].join(", "), n - 3),
        }
    };
    let parts: Vec<String> = heads.iter().map(|&h| list(h)).collect();
    Some(
        Fault::new("E202", format!("the frame is in {} pieces: {}", heads.len(), parts.join("; ")))
            .at(frame.tubes[heads[1]].span.clone(), "nothing joins this piece to the first")
            .also(frame.tubes[heads[0]].span.clone(), "first piece")
            .help("join them, or plan them as frames of their own"),
    )
}

/// Faults of one branch on its carrier: angle, width, edges, ends.
fn landing(frame: &Frame, f: &Found, meets: &[Meet]) -> Vec<Fault> {
    let m = &f.meet;
    let span = frame.tubes[m.branch.0].span.clone();
    let (branch, carrier) = (quoted(frame, m.branch.0), quoted(frame, m.carriers[0].0));
    if matches!(m.kind, MeetKind::Pad | MeetKind::Along | MeetKind::Lap) {
        let touching = !contacts(frame, m, &trims(frame, meets)).is_empty();
        let fault = Fault::new("E210", format!("{branch} does not touch {carrier}"))
            .at(span, format!("said to lie on {carrier}"))
            .help("check `face`, `offset` and the place along the tube");
        return if touching { Vec::new() } else { vec![fault] };
    }
    let on_skin = matches!(m.kind, MeetKind::Saddle | MeetKind::SquareOnRound | MeetKind::FlatFaced)
        || (m.kind == MeetKind::Slot && !curve::slotted_over(frame, m));
    let flat = |angle: f64| {
        Fault::new("E207", format!("{branch} meets {carrier} at {angle:.1} degrees, nearly parallel"))
            .at(span.clone(), format!("{FLATTEST_DEG} degrees or more wanted"))
            .help("a bar or tube that lies along another one is written as [[along]]")
    };
    if m.kind == MeetKind::Mitre {
        let angle = mitre_angle_deg(frame, m);
        return if angle < FLATTEST_DEG { vec![flat(angle)] } else { Vec::new() };
    }
    if !on_skin {
        return Vec::new();
    }
    // An end that runs along its carrier looks at none of its faces.
    let Some(trace) = curve::trace(frame, m) else { return vec![flat(0.0)] };
    let angle = flattest_angle_deg(frame, m, &trace);
    if angle < FLATTEST_DEG {
        return vec![flat(angle)];
    }
    (0..trace.surfaces.len()).filter_map(|i| fit(frame, f, &trace, i, meets)).collect()
}

/// Angle between two mitred ends, degrees; ends that leave the point side by side have no plane that
/// halves it.
pub(super) fn mitre_angle_deg(frame: &Frame, m: &Meet) -> f64 {
    let [a, b] =
        [m.branch, (m.carriers[0].0, m.carriers[0].1)].map(|(tube, s)| into_tube(&frame.tubes[tube], s));
    a.angle_between(b).to_degrees()
}

/// Angle between branch and carrier, degrees: the smaller of that to the axis (tubes) and to the face.
pub(super) fn flattest_angle_deg(frame: &Frame, m: &Meet, trace: &Trace) -> f64 {
    let mut least = f64::INFINITY;
    for (c, surface) in m.carriers.iter().zip(&trace.surfaces) {
        let tube = &frame.tubes[c.0];
        if !is_plate(tube) {
            let along = axes(tube, c.1).along;
            least = least.min(along.cross(trace.away).length().min(1.0).asin());
        }
        if let Surface::Flat { normal, .. } = surface {
            least = least.min(normal.dot(trace.away).abs().min(1.0).asin());
        }
    }
    least.to_degrees()
}

/// Does the footprint stay on the `i`-th carrier?
fn fit(frame: &Frame, f: &Found, trace: &Trace, i: usize, meets: &[Meet]) -> Option<Fault> {
    let m = &f.meet;
    let (tube, s, _) = m.carriers[i];
    let t = &frame.tubes[tube];
    let a = axes(t, s);
    let places: Vec<(DVec3, usize)> = (0..trace.edges.len())
        .flat_map(|e| [0.0, 0.25, 0.5, 0.75, 1.0].map(|u| trace.place(e, u)))
        .map(|p| (p.at, p.surface))
        .filter(|p| p.1 == i)
        .collect();
    let reach = |dir: DVec3, from: DVec3| {
        let d = places.iter().map(|p| (p.0 - from).dot(dir));
        d.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), x| (l.min(x), h.max(x)))
    };
    let (branch, carrier) = (quoted(frame, m.branch.0), quoted(frame, tube));
    let span = frame.tubes[m.branch.0].span.clone();
    let too_wide = |by: f64| {
        Fault::new("E203", format!("{branch} is wider than {carrier} by {}", mm(by)))
            .at(span.clone(), format!("lands on {carrier}"))
            .also(t.span.clone(), "its carrier")
            .help("take a smaller branch or a larger carrier, or put a plate between them")
    };
    let over_edge = |by: f64| {
        Fault::new("E205", format!("{branch} reaches over the edge of {carrier} by {}", mm(by)))
            .at(span.clone(), format!("lands on {carrier}"))
            .also(t.span.clone(), "its carrier")
            .help("move the landing point, change `offset`, or put a plate between them")
    };
    // across the carrier, and for a plate also along it
    let mut directions = Vec::new();
    match trace.surfaces[i] {
        Surface::Round { on, axis, radius } => {
            let across = axis.cross(trace.away).normalize();
            // lines that pass the cylinder by are counted by the outline itself
            directions.push((across, on, radius));
        }
        Surface::Flat { .. } => {
            let face = face_towards(frame, tube, trace.origin, trace.away)?;
            directions.push((face.across, face.centre, face.half_across));
            if is_plate(t) {
                directions.push((face.along, face.centre, face.half_along));
            }
        }
    }
    for (dir, from, half) in directions {
        let (low, high) = reach(dir, from);
        let by = high.max(-low) - half;
        if high - low > 2.0 * half + 0.05 && m.carriers.len() == 1 {
            return Some(too_wide(high - low - 2.0 * half));
        }
        if by > 0.05 {
            return Some(over_edge(by));
        }
    }
    if is_plate(t) || m.carriers.len() > 1 {
        return None;
    }
    let (low, high) = reach(a.along, a.at);
    for (end, past) in [("start", -(s + low)), ("end", s + high - length(t))] {
        let at_s = if end == "start" { 0.0 } else { length(t) };
        let goes_on = meets.iter().any(|o| {
            matches!(o.kind, MeetKind::Butt | MeetKind::Mitre)
                && std::iter::once(o.branch)
                    .chain(o.carriers.iter().map(|c| (c.0, c.1)))
                    .any(|x| x == (tube, at_s))
        });
        if past <= TOUCH_MM || goes_on || f.carrier_ends_here == Some(true) {
            continue;
        }
        let help = match f.carrier_ends_here {
            Some(false) => format!(
                "let {carrier} run on, or write a [[joint]] with `carrier = {carrier}`: then it is cut flush with the far side of {branch}"
            ),
            _ => format!("let {carrier} run on, or move the branch"),
        };
        return Some(
            Fault::new("E204", format!("{branch} reaches past the {end} of {carrier} by {}", mm(past)))
                .at(span.clone(), format!("lands on {carrier}"))
                .also(t.span.clone(), "its carrier")
                .help(help),
        );
    }
    None
}

/// The outline of a branch or plate on one carrier.
struct Footprint {
    meet: usize,
    tube: usize,
    points: Vec<DVec3>,
    surface: Surface,
}

fn footprints(frame: &Frame, meets: &[Meet]) -> Vec<Footprint> {
    let trims = trims(frame, meets);
    let mut out = Vec::new();
    for (i, m) in meets.iter().enumerate() {
        for c in contacts(frame, m, &trims) {
            if let (Patch::Flat(corners), true) = (&c.patch, m.kind != MeetKind::Along) {
                let points = corners.iter().map(|c| c.0).collect();
                let surface = Surface::Flat { on: c.centre, normal: c.normal };
                out.push(Footprint { meet: i, tube: m.carriers[0].0, points, surface });
            }
        }
        if matches!(m.kind, MeetKind::Saddle | MeetKind::SquareOnRound | MeetKind::FlatFaced)
            && let Some(t) = curve::trace(frame, m)
        {
            for (k, surface) in t.surfaces.iter().enumerate() {
                let places = (0..t.edges.len()).flat_map(|e| (0..8).map(move |u| (e, f64::from(u) / 8.0)));
                let points: Vec<DVec3> =
                    places.map(|(e, u)| t.place(e, u)).filter(|p| p.surface == k).map(|p| p.at).collect();
                if points.len() > 2 {
                    out.push(Footprint { meet: i, tube: m.carriers[k].0, points, surface: *surface });
                }
            }
        }
    }
    out
}

/// Both footprints laid flat in one plane (a cylinder is unrolled), or `None` if they lie on different
/// sides. Exact for convex footprints.
fn laid_flat(a: &Footprint, b: &Footprint) -> Option<[Polygon<Owner>; 2]> {
    let polygon = |points: &[DVec3], flat: &dyn Fn(DVec3) -> DVec2| {
        let mut corners: Vec<DVec2> = points.iter().map(|p| flat(*p)).collect();
        if area(&corners) < 0.0 {
            corners.reverse();
        }
        let edges = vec![Owner::Branch; corners.len()];
        Polygon { corners, edges }
    };
    match (a.surface, b.surface) {
        (Surface::Flat { on, normal }, Surface::Flat { on: other, normal: n }) => {
            if n.dot(normal) < 0.999 || (other - on).dot(normal).abs() > TOUCH_MM {
                return None;
            }
            let x = normal.any_orthonormal_vector();
            let y = normal.cross(x);
            let flat = |p: DVec3| DVec2::new((p - on).dot(x), (p - on).dot(y));
            Some([polygon(&a.points, &flat), polygon(&b.points, &flat)])
        }
        (Surface::Round { on, axis, radius }, Surface::Round { axis: other, .. }) => {
            if axis.dot(other).abs() < 0.999 {
                return None;
            }
            let centre = a.points.iter().sum::<DVec3>() / a.points.len() as f64 - on;
            let x = (centre - axis * centre.dot(axis)).try_normalize()?;
            let y = axis.cross(x);
            let flat = |p: DVec3| {
                let d = p - on;
                DVec2::new(d.dot(axis), radius * d.dot(y).atan2(d.dot(x)))
            };
            let (pa, pb) = (polygon(&a.points, &flat), polygon(&b.points, &flat));
            let wraps = pb.corners.iter().map(|c| c.y).fold(f64::NEG_INFINITY, f64::max)
                - pb.corners.iter().map(|c| c.y).fold(f64::INFINITY, f64::min)
                > 1.2 * std::f64::consts::PI * radius;
            (!wraps).then_some([pa, pb])
        }
        _ => None,
    }
}

fn same_footprint(frame: &Frame, found: &[Found], meets: &[Meet]) -> Vec<Fault> {
    let prints = footprints(frame, meets);
    let mut faults = Vec::new();
    for (i, a) in prints.iter().enumerate() {
        for b in &prints[..i] {
            if a.tube != b.tube || a.meet == b.meet {
                continue;
            }
            let Some([pa, pb]) = laid_flat(a, b) else { continue };
            let common = area(&clip(&pa, &pb).corners);
            let part = common / area(&pa.corners).min(area(&pb.corners));
            let (x, y) = (found[a.meet].meet.branch.0, found[b.meet].meet.branch.0);
            let (late, early) = (x.max(y), x.min(y));
            let (l, e, c) = (quoted(frame, late), quoted(frame, early), quoted(frame, a.tube));
            let fault = if part > SAME_PLACE {
                Fault::new("E206", format!("{l} stands on the same place of {c} as {e}"))
                    .help("remove one, move one along the carrier, or let one land on the other")
            } else if part > 0.005 {
                Fault::new(
                    "W202",
                    format!("{l} and {e} overlap on {c} by {:.0} % of the smaller one", 100.0 * part),
                )
                .help("cut the later one to fit over the earlier one's weld, or move them apart")
            } else {
                continue;
            };
            faults.push(
                fault
                    .at(frame.tubes[late].span.clone(), "this one")
                    .also(frame.tubes[early].span.clone(), "and this one"),
            );
        }
    }
    faults
}

fn run_through(frame: &Frame, meets: &[Meet]) -> Vec<Fault> {
    let linked = Links::new(frame, meets.iter());
    let trims = trims(frame, meets);
    let mut faults = Vec::new();
    for a in 0..frame.tubes.len() {
        for b in a + 1..frame.tubes.len() {
            if linked.share_a_place(a, b) {
                continue;
            }
            if let Some((depth, at)) = through_each_other(frame, a, b, &trims) {
                let (x, y) = (quoted(frame, a), quoted(frame, b));
                let places = [at.x, at.y, at.z].map(|v| format!("{:.0}", v + 0.0)).join(", ");
                faults.push(
                    Fault::new("E208", format!("{y} runs through {x} at ({places}), {} deep", mm(depth)))
                        .at(frame.tubes[b].span.clone(), "this one")
                        .also(frame.tubes[a].span.clone(), "and this one")
                        .help(format!(
                            "end {y} at {x} and begin another tube on the other side, or move one"
                        )),
                );
            }
        }
    }
    faults
}

fn near_misses(frame: &Frame, meets: &[Meet]) -> Vec<Fault> {
    let mut faults = Vec::new();
    for e in ends(frame) {
        let touched =
            |t: usize| meets.iter().any(|m| m.tubes().any(|x| x == e.tube) && m.tubes().any(|x| x == t));
        if meets.iter().any(|m| m.branch == (e.tube, e.s))
            || !meets.iter().any(|m| m.tubes().any(|x| x == e.tube))
        {
            continue;
        }
        let Some((other, far)) = nearest_other(frame, e.tube, e.at) else { continue };
        let ahead = {
            let t = &frame.tubes[other];
            let s = nearest(t, e.at).0;
            (axes(t, s).at - e.at).dot(e.into) < 0.0
        };
        if far > TOUCH_MM && far <= NEAR_MISS_MM && ahead && !touched(other) {
            let word = if e.end == 0 { "start" } else { "end" };
            faults.push(
                Fault::new(
                    "W201",
                    format!(
                        "the {word} of {} stops {} short of {}",
                        quoted(frame, e.tube),
                        mm(far),
                        quoted(frame, other)
                    ),
                )
                .at(frame.tubes[e.tube].span.clone(), "a free end, as it stands")
                .help(
                    "if they are to be welded, move the work point to the other tube's centre line or face",
                ),
            );
        }
    }
    faults
}

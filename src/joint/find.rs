//! Which end lands on what: meets from points, runs and touching sides.
//!
//! Rules, in this order, for each tube end:
//! 1. an end placed `on` another tube lands there;
//! 2. an end whose work point lies within another tube's outside (0.5 mm allowed) lands on it, if that
//!    tube runs on there. Of several such tubes: not one that itself is a branch of another of them,
//!    then the one met first when coming down the branch;
//! 3. ends that share a work point where nothing runs through: the tube named as carrier in
//!    `[[joint]]` carries the others; else two ends in line are butted and two equal ends at an angle
//!    are mitred, and this pair carries what else ends there; else the first listed carries the others.

use super::contact::{Contact, Trims, contact, contacts_of_chord, untrimmed};
use super::curve::trace;
use super::place::{TOUCH_MM, axes, half_mm, is_plate, length, nearest, outside_mm, radius, shape};
use super::{Meet, MeetKind};
use crate::frame::{Frame, JointWish, Role, Shape};
use glam::DVec3;

/// A meet with what the checks need to know about how it came about.
#[derive(Debug, Clone)]
pub(crate) struct Found {
    pub meet: Meet,
    /// Work point or middle of the contact.
    pub at: DVec3,
    /// The carrier ends at this very point: `Some(true)` if the user said that it carries.
    pub carrier_ends_here: Option<bool>,
}

/// A tube end.
#[derive(Debug, Clone, Copy)]
pub(crate) struct End {
    pub tube: usize,
    pub end: usize,
    pub s: f64,
    pub at: DVec3,
    /// Into the tube.
    pub into: DVec3,
}

/// All ends of tubes and bars (plates and bars along another have none).
pub(crate) fn ends(frame: &Frame) -> Vec<End> {
    let mut out = Vec::new();
    for (tube, t) in frame.tubes.iter().enumerate() {
        if t.role != Role::Tube {
            continue;
        }
        for (end, s) in [0.0, length(t)].into_iter().enumerate() {
            let a = axes(t, s);
            out.push(End { tube, end, s, at: a.at, into: if end == 0 { a.along } else { -a.along } });
        }
    }
    out
}

/// All meets of a frame.
pub(crate) fn find(frame: &Frame) -> Vec<Found> {
    let ends = ends(frame);
    let mut found = end_meets(frame, &ends);
    let meets: Vec<Meet> = found.iter().map(|f| f.meet.clone()).collect();
    let trims = trims(frame, &meets);
    side_meets(frame, &trims, &mut found);
    found
}

fn end_meets(frame: &Frame, ends: &[End]) -> Vec<Found> {
    let hosts: Vec<Vec<usize>> = ends.iter().map(|e| hosts(frame, e)).collect();
    let mut found = Vec::new();
    let mut seen = vec![false; ends.len()];
    for (i, e) in ends.iter().enumerate() {
        if let Some(landing) = &frame.tubes[e.tube].lands[e.end] {
            seen[i] = true;
            let slot = landing.slot_mm.is_some();
            found.push(on_one(frame, e, landing.on, landing.at_mm, slot, None));
        }
    }
    for i in 0..ends.len() {
        if seen[i] {
            continue;
        }
        let group: Vec<usize> =
            (i..ends.len()).filter(|&k| !seen[k] && ends[k].at.distance(ends[i].at) < TOUCH_MM).collect();
        let mut free = Vec::new();
        for &k in &group {
            seen[k] = true;
            let through = through(frame, ends, &hosts, k);
            let wish = wish_at(frame, &tubes_at(ends, &hosts, &group), ends[i].at);
            match choose(frame, &ends[k], &through, wish) {
                Some(host) => {
                    let s = nearest(&frame.tubes[host], ends[k].at).0;
                    found.push(on_one(frame, &ends[k], host, s, false, None));
                }
                None => free.push(ends[k]),
            }
        }
        if free.len() > 1 {
            let wish = wish_at(frame, &free.iter().map(|e| e.tube).collect::<Vec<_>>(), ends[i].at);
            ends_only(frame, &free, wish, &mut found);
        }
    }
    on_pairs(frame, &mut found);
    found
}

/// What lands on one of two mitred (or butted) ends, and lies on the other as well, is carried by
/// both: a leg under the corner of a ring.
fn on_pairs(frame: &Frame, found: &mut [Found]) {
    let pairs: Vec<[usize; 2]> = found
        .iter()
        .filter(|f| matches!(f.meet.kind, MeetKind::Mitre | MeetKind::Butt))
        .map(|f| [f.meet.branch.0, f.meet.carriers[0].0])
        .collect();
    for f in found.iter_mut().filter(|f| f.meet.carriers.len() == 1) {
        if !matches!(f.meet.kind, MeetKind::Saddle | MeetKind::SquareOnRound | MeetKind::FlatFaced) {
            continue;
        }
        let (host, s, _) = f.meet.carriers[0];
        let other =
            pairs.iter().filter(|p| p.contains(&host)).map(|p| if p[0] == host { p[1] } else { p[0] });
        let branch = f.meet.branch.0;
        let near = |t: &usize| *t != branch && outside_mm(frame, *t, f.at) <= TOUCH_MM;
        if let Some(other) = other.into_iter().find(near) {
            f.meet.carriers = vec![(host, s, 0.5), (other, nearest(&frame.tubes[other], f.at).0, 0.5)];
        }
    }
}

/// Tubes in whose outside the end lies and that do not end at the same point.
fn hosts(frame: &Frame, e: &End) -> Vec<usize> {
    (0..frame.tubes.len())
        .filter(|&t| {
            let tube = &frame.tubes[t];
            let ends_here = !is_plate(tube)
                && [tube.axis[0], tube.axis[tube.axis.len() - 1]].iter().any(|p| p.distance(e.at) < TOUCH_MM);
            let rides_on_us =
                matches!(tube.role, Role::Plate { on: Some(on) } | Role::Along { on } if on == e.tube);
            t != e.tube && !ends_here && !rides_on_us && outside_mm(frame, t, e.at) <= TOUCH_MM
        })
        .collect()
}

/// The hosts of end `k` without those that are themselves branches of another of its hosts, and
/// without the later partner of two ends that lie in each other.
fn through(frame: &Frame, ends: &[End], hosts: &[Vec<usize>], k: usize) -> Vec<usize> {
    let e = &ends[k];
    let near_end = |t: usize| {
        let [h, w] = half_mm(shape(frame, t));
        let s = nearest(&frame.tubes[t], e.at).0;
        (0..ends.len()).find(|&o| ends[o].tube == t && (ends[o].s - s).abs() <= 3.0 * h.max(w))
    };
    hosts[k]
        .iter()
        .copied()
        .filter(|&t| {
            let Some(o) = near_end(t) else { return true };
            let branch_of_other = hosts[o].iter().any(|u| *u != t && hosts[k].contains(u));
            let in_each_other = hosts[o].contains(&e.tube) && e.tube < t;
            !branch_of_other && !in_each_other
        })
        .collect()
}

fn tubes_at(ends: &[End], hosts: &[Vec<usize>], group: &[usize]) -> Vec<usize> {
    let mut tubes: Vec<usize> = group.iter().map(|&k| ends[k].tube).collect();
    tubes.extend(group.iter().flat_map(|&k| hosts[k].iter().copied()));
    tubes
}

/// The host an end lands on: as wished, else the one met first coming down the branch.
fn choose(frame: &Frame, e: &End, through: &[usize], wish: Option<&JointWish>) -> Option<usize> {
    if let Some(carrier) = wish.and_then(|w| w.carrier)
        && through.contains(&carrier)
    {
        return Some(carrier);
    }
    let mut best: Option<(f64, usize)> = None;
    for &t in through {
        let s = nearest(&frame.tubes[t], e.at).0;
        let f = on_one(frame, e, t, s, false, None);
        let far = axes(&frame.tubes[t], s).along.cross(e.into).length();
        let depth = if far < 0.26 && !is_plate(&frame.tubes[t]) {
            f64::NEG_INFINITY
        } else {
            trace(frame, &f.meet).map_or(f64::NEG_INFINITY, |t| (t.place(0, 0.5).at - e.at).dot(e.into))
        };
        if best.is_none_or(|b| depth > b.0 + TOUCH_MM) {
            best = Some((depth, t));
        }
    }
    best.map(|b| b.1)
}

/// The wish that speaks of these tubes or this place.
pub(crate) fn wish_at<'f>(frame: &'f Frame, tubes: &[usize], at: DVec3) -> Option<&'f JointWish> {
    frame.joint_wishes.iter().find(|w| {
        let here = w.point.is_none_or(|p| frame.points[p].at.distance(at) < TOUCH_MM);
        let all = w.tubes.iter().all(|t| tubes.contains(t));
        here && all && (w.point.is_some() || !w.tubes.is_empty())
    })
}

fn on_one(frame: &Frame, e: &End, host: usize, s: f64, slot: bool, ends_here: Option<bool>) -> Found {
    let kind = match (slot, radius(shape(frame, host)), radius(shape(frame, e.tube))) {
        (true, ..) => MeetKind::Slot,
        (_, Some(_), Some(_)) => MeetKind::Saddle,
        (_, Some(_), None) => MeetKind::SquareOnRound,
        (_, None, _) => MeetKind::FlatFaced,
    };
    found(kind, e, vec![(host, s, 1.0)], ends_here)
}

fn found(kind: MeetKind, e: &End, carriers: Vec<(usize, f64, f64)>, ends_here: Option<bool>) -> Found {
    let meet = Meet { joint: 0, kind, branch: (e.tube, e.s), carriers, gap_mm: 0.0, open: Vec::new() };
    Found { meet, at: e.at, carrier_ends_here: ends_here }
}

/// Ends that share a point where nothing runs through.
fn ends_only(frame: &Frame, free: &[End], wish: Option<&JointWish>, out: &mut Vec<Found>) {
    let wished = wish.and_then(|w| w.carrier).and_then(|c| free.iter().position(|e| e.tube == c));
    let lands = |first: usize, stated: bool, out: &mut Vec<Found>| {
        for (i, e) in free.iter().enumerate() {
            if i != first {
                out.push(on_one(frame, e, free[first].tube, free[first].s, false, Some(stated)));
            }
        }
    };
    if let Some(first) = wished {
        return lands(first, true, out);
    }
    let mitre = wish.and_then(|w| w.mitre);
    if mitre == Some(false) {
        return lands(0, true, out);
    }
    let pairs = || (0..free.len()).flat_map(|i| (i + 1..free.len()).map(move |k| (i, k)));
    let butt = pairs().find(|&(i, k)| in_line(&free[i], &free[k]));
    let mitred = || pairs().find(|&(i, k)| mitre == Some(true) || mirror_images(frame, &free[i], &free[k]));
    let (kind, (i, k)) = match (butt, mitred()) {
        (Some(pair), _) => (MeetKind::Butt, pair),
        (None, Some(pair)) => (MeetKind::Mitre, pair),
        (None, None) => return lands(0, false, out),
    };
    // of unequal ends in line the smaller one is added to the larger
    let size = |e: &End| half_mm(shape(frame, e.tube)).iter().product::<f64>();
    let (i, k) =
        if kind == MeetKind::Butt && size(&free[k]) > size(&free[i]) + 1e-9 { (k, i) } else { (i, k) };
    out.push(found(kind, &free[k], vec![(free[i].tube, free[i].s, 1.0)], None));
    let pair = vec![(free[i].tube, free[i].s, 0.5), (free[k].tube, free[k].s, 0.5)];
    for (j, e) in free.iter().enumerate() {
        if j != i && j != k {
            let mut f = on_one(frame, e, free[i].tube, free[i].s, false, None);
            f.meet.carriers = pair.clone();
            out.push(f);
        }
    }
}

/// Two ends in line: their axes agree within one degree.
fn in_line(a: &End, b: &End) -> bool {
    a.into.dot(-b.into) > 0.017_453_f64.cos()
}

/// Two ends whose outlines coincide in the plane that halves their angle.
fn mirror_images(frame: &Frame, a: &End, b: &End) -> bool {
    let equal = match (shape(frame, a.tube), shape(frame, b.tube)) {
        (
            Shape::Round { od: x, .. } | Shape::Solid { od: x },
            Shape::Round { od: y, .. } | Shape::Solid { od: y },
        ) => {
            return (x - y).abs() < 1e-6;
        }
        (x, y) => radius(x).is_none() && radius(y).is_none(),
    };
    let normal = (b.into - a.into).normalize_or_zero();
    let height = |e: &End| axes(&frame.tubes[e.tube], e.s).height;
    let (ha, hb) = (height(a), height(b));
    let mirrored = (ha - normal * 2.0 * ha.dot(normal)).dot(hb).abs();
    let ([h1, w1], [h2, w2]) = (half_mm(shape(frame, a.tube)), half_mm(shape(frame, b.tube)));
    let same = |x: f64, y: f64| (x - y).abs() < 1e-6;
    equal
        && ((mirrored > 0.999 && same(h1, h2) && same(w1, w2))
            || (mirrored < 0.045 && same(h1, w2) && same(w1, h2)))
}

/// How much of each tube's end disappears in its carrier, mm: up to the nearest place of the seam.
pub(crate) fn trims(frame: &Frame, meets: &[Meet]) -> Trims {
    let mut trims = untrimmed(frame);
    for m in meets {
        if !matches!(m.kind, MeetKind::Saddle | MeetKind::SquareOnRound | MeetKind::FlatFaced) {
            continue;
        }
        let Some(t) = trace(frame, m) else { continue };
        let heights = (0..t.edges.len()).flat_map(|e| [0.0, 0.5].map(|u| t.place(e, u).at));
        let least = heights.map(|p| (p - t.origin).dot(t.away)).fold(f64::INFINITY, f64::min);
        let end = usize::from(m.branch.1 > 0.0);
        trims[m.branch.0][end] = least.clamp(0.0, 0.45 * length(&frame.tubes[m.branch.0]));
    }
    trims
}

/// The places where branch and carrier of a lap, pad or bar along touch.
pub(crate) fn contacts(frame: &Frame, meet: &Meet, trims: &Trims) -> Vec<Contact> {
    let (branch, carrier) = (meet.branch.0, meet.carriers[0].0);
    match meet.kind {
        MeetKind::Along => (0..frame.tubes[branch].axis.len() - 1)
            .flat_map(|i| contacts_of_chord(frame, branch, i, carrier, trims))
            .collect(),
        MeetKind::Lap | MeetKind::Pad => contact(frame, branch, carrier, trims).into_iter().collect(),
        _ => Vec::new(),
    }
}

/// Pads, bars along, and tubes that touch with their sides.
fn side_meets(frame: &Frame, trims: &Trims, found: &mut Vec<Found>) {
    let mut push = |kind, branch: usize, carrier: usize, at: DVec3| {
        let s = |t: usize| nearest(&frame.tubes[t], at).0;
        let meet = Meet {
            joint: 0,
            kind,
            branch: (branch, s(branch)),
            carriers: vec![(carrier, s(carrier), 1.0)],
            gap_mm: 0.0,
            open: Vec::new(),
        };
        found.push(Found { meet, at, carrier_ends_here: None });
    };
    let middle = |t: usize| axes(&frame.tubes[t], 0.5 * length(&frame.tubes[t])).at;
    let mut known: Vec<(usize, usize)> = Vec::new();
    for (i, t) in frame.tubes.iter().enumerate() {
        let (kind, on) = match t.role {
            Role::Plate { on: Some(on) } => (MeetKind::Pad, on),
            Role::Along { on } => (MeetKind::Along, on),
            _ => continue,
        };
        known.push((i, on));
        push(kind, i, on, contact(frame, i, on, trims).map_or(middle(i), |c| c.centre));
    }
    let mut linked = Links::new(frame, found.iter().map(|f| &f.meet));
    linked.add(&known);
    for a in 0..frame.tubes.len() {
        for b in a + 1..frame.tubes.len() {
            if linked.share_a_place(a, b) {
                continue;
            }
            let Some(c) = contact(frame, b, a, trims) else { continue };
            let wish = wish_at(frame, &[a, b], c.centre).and_then(|w| w.carrier);
            let (branch, carrier) = if wish == Some(b) { (a, b) } else { (b, a) };
            let s = |t: usize| nearest(&frame.tubes[t], c.centre).0;
            found.push(Found {
                meet: Meet {
                    joint: 0,
                    kind: MeetKind::Lap,
                    branch: (branch, s(branch)),
                    carriers: vec![(carrier, s(carrier), 1.0)],
                    gap_mm: 0.0,
                    open: Vec::new(),
                },
                at: c.centre,
                carrier_ends_here: None,
            });
        }
    }
}

/// Which tubes meet each other already, directly or as neighbours on one carrier place.
pub(crate) struct Links {
    pairs: std::collections::BTreeSet<(usize, usize)>,
}

impl Links {
    pub(crate) fn new<'m>(frame: &Frame, meets: impl Iterator<Item = &'m Meet>) -> Links {
        let meets: Vec<&Meet> = meets.collect();
        let mut links = Links { pairs: Default::default() };
        let place = |m: &Meet| axes(&frame.tubes[m.branch.0], m.branch.1).at;
        for (i, m) in meets.iter().enumerate() {
            links.add(&m.carriers.iter().map(|c| (m.branch.0, c.0)).collect::<Vec<_>>());
            // neighbours on one carrier meet in their (cut off) ends; overlaps are checked elsewhere
            for o in &meets[..i] {
                let common = o.carriers.iter().any(|c| m.carriers.iter().any(|d| c.0 == d.0));
                let [h, w] = half_mm(shape(frame, m.branch.0));
                let [ho, wo] = half_mm(shape(frame, o.branch.0));
                if common && place(m).distance(place(o)) < 2.0 * (h.max(w) + ho.max(wo)) {
                    links.add(&[(m.branch.0, o.branch.0)]);
                }
            }
        }
        links
    }
    fn add(&mut self, pairs: &[(usize, usize)]) {
        self.pairs.extend(pairs.iter().map(|&(a, b)| (a.min(b), a.max(b))));
    }
    pub(crate) fn share_a_place(&self, a: usize, b: usize) -> bool {
        self.pairs.contains(&(a.min(b), a.max(b)))
    }
}

//! Where each tube lies: runs become axes, places on other tubes become points, bends become chords.

use super::faces::{FaceAt, Looks};
use super::raw::{Along, Along1, Kind, OnPlace, Place, Plate, Raw, Run, StopAt};
use super::read::Notes;
use super::reader::{At, Bad};
use super::{Landing, Role, Section, Tube};
use crate::fault::{Fault, Span};
use glam::{DQuat, DVec3};

/// Two places nearer than this are one place, mm.
const SAME: f64 = 0.01;
/// A run that turns by less than this at a point is straight there, radians (half a degree).
const STRAIGHT: f64 = 0.0087;
/// Longest piece of an arc that is replaced by one chord, radians (ten degrees).
const CHORD: f64 = 0.1746;

/// Place all tubes. `None` stands for one with a fault, or one that lies on such a one.
pub(super) fn out(
    raws: &[Option<Raw>],
    place: &Place<'_>,
    sections: &[Section],
    notes: &mut Notes,
    bad: &mut Bad,
) -> Vec<Option<Tube>> {
    let looks = Looks { up: place.up, forward: place.forward, middle: middle(raws, place) };
    let mut tubes: Vec<Option<Tube>> = vec![None; raws.len()];
    let mut waiting: Vec<usize> = (0..raws.len()).filter(|i| raws[*i].is_some()).collect();
    loop {
        // A tube can be placed when all that it lies on are placed; it never can if one is broken.
        let before = waiting.len();
        let mut still = Vec::new();
        for &i in &waiting {
            let Some(raw) = &raws[i] else { continue };
            let supports = supports(raw);
            if supports.iter().all(|s| tubes[*s].is_some()) {
                let site = Site { tubes: &tubes, sections, place, looks: &looks };
                tubes[i] = site.place(raw, bad);
            } else if !supports.iter().any(|s| tubes[*s].is_none() && !waiting.contains(s)) {
                still.push(i);
            }
        }
        waiting = still;
        if waiting.len() == before || waiting.is_empty() {
            break;
        }
    }
    if let Some(first) = waiting.first().and_then(|i| raws[*i].as_ref()) {
        let names: Vec<&str> =
            waiting.iter().filter_map(|i| raws[*i].as_ref()).map(|r| r.name.as_str()).collect();
        bad.push(
            Fault::new(
                "E136",
                format!("{} are placed on each other in a circle", super::reader::quoted(&names)),
            )
            .at(first.span.clone(), "its place depends on itself")
            .help("give one of them points of its own"),
        );
    }
    if tubes.iter().flatten().any(|t| t.role == Role::Tube) {
        notes.default(
            "tube.height",
            "up",
            "a section's height stands as near to up as it can; forward for upright tubes",
        );
    }
    super::doubts::absurd_size(&tubes, bad);
    super::doubts::doubled(&tubes, bad);
    tubes
}

fn supports(raw: &Raw) -> Vec<usize> {
    match &raw.kind {
        Kind::Run(run) => run
            .stops
            .iter()
            .filter_map(|s| match &s.what {
                StopAt::On(on) => Some(on.on),
                _ => None,
            })
            .collect(),
        Kind::Plate(plate) => plate.on.iter().map(|on| on.on).collect(),
        Kind::Along(along) => vec![along.on],
    }
}

/// Middle of the box round all given places: what "inner" and "outer" refer to.
fn middle(raws: &[Option<Raw>], place: &Place<'_>) -> DVec3 {
    let mut all: Vec<DVec3> = place.points.iter().map(|p| p.v.at).collect();
    for raw in raws.iter().flatten() {
        match &raw.kind {
            Kind::Run(run) => all.extend(run.stops.iter().filter_map(|s| match s.what {
                StopAt::Literal(p) => Some(p),
                _ => None,
            })),
            Kind::Plate(plate) if plate.on.is_none() => all.push(plate.centre),
            _ => {}
        }
    }
    let low = all.iter().copied().reduce(DVec3::min).unwrap_or(DVec3::ZERO);
    let high = all.iter().copied().reduce(DVec3::max).unwrap_or(DVec3::ZERO);
    (low + high) / 2.0
}

/// What is already placed while one more is being placed.
struct Site<'s, 'p> {
    tubes: &'s [Option<Tube>],
    sections: &'s [Section],
    place: &'s Place<'p>,
    looks: &'s Looks,
}

impl Site<'_, '_> {
    fn place(&self, raw: &Raw, bad: &mut Bad) -> Option<Tube> {
        match &raw.kind {
            Kind::Run(run) => self.run(raw, run, bad),
            Kind::Plate(plate) => self.plate(raw, plate, bad),
            Kind::Along(along) => self.along(raw, along, bad),
        }
    }

    fn run(&self, raw: &Raw, run: &Run, bad: &mut Bad) -> Option<Tube> {
        let mut points = Vec::new();
        let mut lands = [None, None];
        let last = run.stops.len() - 1;
        for (i, stop) in run.stops.iter().enumerate() {
            points.push(match &stop.what {
                StopAt::Point(p) => self.place.points[*p].v.at,
                StopAt::Literal(p) => *p,
                StopAt::On(on) => {
                    let (at, at_mm) = self.on(on, bad)?;
                    if i == 0 || i == last {
                        lands[usize::from(i == last)] =
                            Some(Landing { on: on.on, at_mm, offset_mm: on.offset_mm, slot_mm: on.slot_mm });
                    }
                    at
                }
            });
        }
        run_is_sound(raw, run, &points, bad)?;
        let axis = bent(raw, run, &points, &self.sections[raw.section], bad)?;
        let s = arc(&axis);
        let height_dir = self.heights(run, &axis, bad)?;
        let bend_radius = run.bend_radius.as_ref().map(|r| r.v);
        let mut tube = Tube {
            name: raw.name.clone(),
            section: raw.section,
            axis,
            s,
            height_dir,
            on_run: Vec::new(),
            bend_radius,
            role: Role::Tube,
            lands,
            vented: raw.vented,
            span: raw.span.clone(),
        };
        let reach = self.sections[raw.section].shape.half_mm()[0];
        for stop in &run.stops {
            if let StopAt::Point(p) = stop.what {
                // A bend cuts the corner, so the corner's point may lie outside the tube.
                let (s, far) = tube.nearest(self.place.points[p].v.at);
                if far <= reach {
                    tube.on_run.push((p, s));
                }
            }
        }
        tube.on_run.sort_by(|a, b| a.1.total_cmp(&b.1));
        Some(tube)
    }

    /// The point of a place on another tube, and the arc length along that tube.
    fn on(&self, on: &OnPlace, bad: &mut Bad) -> Option<(DVec3, f64)> {
        let tube = self.tubes[on.on].as_ref()?;
        let s = self.at_mm(tube, &on.at, bad)?;
        let Some(face) = &on.face else { return Some((tube.point_at(s), s)) };
        let f = self.looks.face(tube, &self.sections[tube.section], s, face, bad)?;
        let half = offset_fits(&f, tube, on.offset_mm, &face.span, bad)?;
        Some((tube.point_at(s) + f.normal * half + f.across * on.offset_mm, s))
    }

    fn at_mm(&self, tube: &Tube, at: &At<Along1>, bad: &mut Bad) -> Option<f64> {
        let length = tube.length_mm();
        let s = match at.v {
            Along1::Mm(s) => s,
            Along1::Start => 0.0,
            Along1::End => length,
            Along1::Middle => length / 2.0,
            Along1::Point(p) => tube.nearest(self.place.points[p].v.at).0,
        };
        if (-1e-6..=length + 1e-6).contains(&s) {
            return Some(s.clamp(0.0, length));
        }
        let by = if s < 0.0 { -s } else { s - length };
        bad.push(
            Fault::new("E137", format!("{s} mm is {by:.1} mm past the end of \"{}\"", tube.name))
                .at(at.span.clone(), format!("\"{}\" is {length:.1} mm long", tube.name))
                .help(format!("between 0 and {length:.1}, measured from its start")),
        );
        None
    }

    fn heights(&self, run: &Run, axis: &[DVec3], bad: &mut Bad) -> Option<Vec<DVec3>> {
        let t0 = (axis[1] - axis[0]).normalize();
        let square = |d: DVec3| d - t0 * d.dot(t0);
        let wish = match &run.height {
            Some(h) if square(h.v).length() < 0.02 => {
                bad.push(
                    Fault::new("E138", "`height` runs along the tube")
                        .at(h.span.clone(), "along the tube's axis")
                        .help("name a direction square to the tube: the one in which the section's height stands"),
                );
                return None;
            }
            Some(h) => h.v,
            // One degree: nearer than that the tube counts as upright.
            None if square(self.place.up).length() < 0.01745 => self.place.forward,
            None => self.place.up,
        };
        let turn = DQuat::from_axis_angle(t0, run.roll_deg.to_radians());
        let mut heights = vec![turn * square(wish).normalize()];
        for i in 1..axis.len() - 1 {
            let (t, next) = ((axis[i] - axis[i - 1]).normalize(), (axis[i + 1] - axis[i]).normalize());
            let h = DQuat::from_rotation_arc(t, next) * heights[i - 1];
            heights.push((h - next * h.dot(next)).normalize());
        }
        Some(heights)
    }

    fn plate(&self, raw: &Raw, plate: &Plate, bad: &mut Bad) -> Option<Tube> {
        let (centre, normal, usual, on) = match &plate.on {
            Some(on) => {
                let tube = self.tubes[on.on].as_ref()?;
                let s = self.at_mm(tube, &on.at, bad)?;
                let face = on.face.as_ref()?;
                let f = self.looks.face(tube, &self.sections[tube.section], s, face, bad)?;
                offset_fits(&f, tube, on.offset_mm, &face.span, bad)?;
                let up = f.normal * (f.half + plate.thickness / 2.0);
                (tube.point_at(s) + up + f.across * on.offset_mm, f.normal, tube.tangent_at(s), Some(on.on))
            }
            None => (plate.centre, plate.normal.as_ref()?.v, DVec3::ZERO, None),
        };
        let wish = plate.along.as_ref().map_or(usual, |a| a.v);
        let along = wish - normal * wish.dot(normal);
        if along.length() < 0.02 {
            let at = plate.along.as_ref().map_or(raw.span.clone(), |a| a.span.clone());
            bad.push(
                Fault::new("E138", "`along` runs through the plate")
                    .at(at, "along the plate's normal")
                    .help("name a direction in the plane of the plate: the one in which its length lies"),
            );
            return None;
        }
        let half = along.normalize() * plate.length / 2.0;
        Some(straight(raw, centre - half, centre + half, normal, Role::Plate { on }))
    }

    fn along(&self, raw: &Raw, along: &Along, bad: &mut Bad) -> Option<Tube> {
        let tube = self.tubes[along.on].as_ref()?;
        let (from, to) = (self.at_mm(tube, &along.from, bad)?, self.at_mm(tube, &along.to, bad)?);
        if to - from < SAME {
            bad.push(
                Fault::new("E130", format!("\"{}\" has no length", raw.name))
                    .at(along.to.span.clone(), "not past `from`")
                    .help("`from` and `to` are mm from the start of the tube it is on, `to` the larger"),
            );
            return None;
        }
        let middle = (from + to) / 2.0;
        if tube.tangent_at(from).dot(tube.tangent_at(to - SAME)) < 0.999_999 {
            bad.push(
                Fault::new("E133", format!("\"{}\" is bent between {from} and {to} mm", tube.name))
                    .at(raw.span.clone(), "a bar along a tube must be straight")
                    .help("use one bar for each straight length"),
            );
            return None;
        }
        let f = self.looks.face(tube, &self.sections[tube.section], middle, &along.face, bad)?;
        offset_fits(&f, tube, along.offset_mm, &along.face.span, bad)?;
        let t = tube.tangent_at(middle);
        let [thick, wide] = self.sections[raw.section].shape.half_mm();
        let (rise, height) = if along.on_edge { (wide, t.cross(f.normal)) } else { (thick, f.normal) };
        let shift = f.normal * (f.half + rise) + f.across * along.offset_mm;
        let (a, b) = (tube.point_at(from) + shift, tube.point_at(to) + shift);
        Some(straight(raw, a, b, height, Role::Along { on: along.on }))
    }
}

fn straight(raw: &Raw, a: DVec3, b: DVec3, height: DVec3, role: Role) -> Tube {
    Tube {
        name: raw.name.clone(),
        section: raw.section,
        axis: vec![a, b],
        s: vec![0.0, a.distance(b)],
        height_dir: vec![height],
        on_run: Vec::new(),
        bend_radius: None,
        role,
        lands: [None, None],
        vented: raw.vented,
        span: raw.span.clone(),
    }
}

/// How far from the axis a place on the face lies, with the offset; a fault if it lies beside it.
fn offset_fits(f: &FaceAt, tube: &Tube, offset: f64, at: &Span, bad: &mut Bad) -> Option<f64> {
    if offset.abs() > f.half_across + 1e-9 {
        bad.push(
            Fault::new("E137", format!("an offset of {offset} mm lies beside the face of \"{}\"", tube.name))
                .at(at.clone(), format!("the face reaches {:.1} mm to each side", f.half_across))
                .help("the offset is measured across the face from the tube's centre line"),
        );
        return None;
    }
    Some(if f.round { (f.half * f.half - offset * offset).max(0.0).sqrt() } else { f.half })
}

fn run_is_sound(raw: &Raw, run: &Run, points: &[DVec3], bad: &mut Bad) -> Option<()> {
    let before = bad.len();
    for i in 1..points.len() {
        let at = run.stops[i].span.clone();
        if points[i].distance(points[i - 1]) < SAME {
            bad.push(
                Fault::new("E130", format!("\"{}\" has a piece without length", raw.name))
                    .at(at, "the same place as the one before")
                    .also(run.stops[i - 1].span.clone(), "the one before")
                    .help("two neighbouring places of a run must differ"),
            );
        } else if let Some(j) = (0..i - 1).find(|j| points[*j].distance(points[i]) < SAME) {
            bad.push(
                Fault::new("E131", format!("the run of \"{}\" passes one place twice", raw.name))
                    .at(at, "here again")
                    .also(run.stops[j].span.clone(), "here first")
                    .help("a closed ring is made of two or more tubes"),
            );
        }
    }
    (bad.len() == before).then_some(())
}

/// The axis with bends broken into chords.
fn bent(raw: &Raw, run: &Run, points: &[DVec3], section: &Section, bad: &mut Bad) -> Option<Vec<DVec3>> {
    let mut axis = vec![points[0]];
    let mut used = 0.0; // length that the bend before takes from this straight piece
    for i in 1..points.len() - 1 {
        let (a, p, b) = (points[i - 1], points[i], points[i + 1]);
        let (u, v) = ((p - a).normalize(), (b - p).normalize());
        let angle = u.angle_between(v);
        if angle < STRAIGHT {
            if angle > 1e-9 {
                axis.push(p);
            }
            used = 0.0;
            continue;
        }
        let at = run.stops[i].span.clone();
        let degrees = angle.to_degrees();
        let Some(radius) = &run.bend_radius else {
            bad.push(
                Fault::new("E133", format!("\"{}\" turns by {degrees:.0} degrees but has no bend", raw.name))
                    .at(at, "corner without a bend radius")
                    .help("write `bend_radius = …` (mm to the centre line) if the tube is bent, or make two tubes that meet here"),
            );
            return None;
        };
        let take = radius.v * (angle / 2.0).tan();
        let (before, after) = (p.distance(a) - used, p.distance(b));
        if take > before.min(after) + 1e-6 {
            let short = before.min(after);
            bad.push(
                Fault::new("E133", format!("a bend of radius {} mm does not fit here", radius.v))
                    .at(at, format!("takes {take:.1} mm of each side, only {short:.1} mm is there"))
                    .also(radius.span.clone(), "bend radius")
                    .help(format!("at this corner at most {:.1} mm", short / (angle / 2.0).tan())),
            );
            return None;
        }
        let outside = 2.0 * section.shape.half_mm()[0];
        if radius.v < 1.5 * outside && section.shape.hollow() {
            let fault = Fault::new("W103", format!("a bend of {} mm is tight for {outside} mm", radius.v))
                .at(radius.span.clone(), "less than 1.5 times the outside");
            if !bad.contains(&fault) {
                bad.push(fault);
            }
        }
        let axle = u.cross(v).normalize();
        let start = p - u * take;
        let centre = start + axle.cross(u) * radius.v;
        let pieces = (angle / CHORD).ceil().max(2.0) as usize;
        for k in 0..=pieces {
            let turn = DQuat::from_axis_angle(axle, angle * k as f64 / pieces as f64);
            push_new(&mut axis, centre + turn * (start - centre));
        }
        used = take;
    }
    push_new(&mut axis, points[points.len() - 1]);
    Some(axis)
}

fn push_new(axis: &mut Vec<DVec3>, p: DVec3) {
    if axis.last().is_none_or(|q| q.distance(p) > 1e-6) {
        axis.push(p);
    }
}

fn arc(axis: &[DVec3]) -> Vec<f64> {
    let mut s = vec![0.0];
    for pair in axis.windows(2) {
        s.push(s[s.len() - 1] + pair[0].distance(pair[1]));
    }
    s
}

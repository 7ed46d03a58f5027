//! Where the frame goes: as it should be, as welding leaves it (drawn many times too large), and the
//! millimetres at each control.

use super::drawing::{Area, BLACK, Drawing, Pen, Pt, Text, Tint, WHITE, pt};
use super::font;
use super::tags::{self, Room, Tag};
use super::view::{Fitted, View};
use crate::distort::Pull;
use crate::frame::{ControlKind, Frame, Spot};
use glam::DVec3;

/// The pull picture. `pull` must belong to the frame; a tube without displacements stays where it is.
pub fn pull_picture(frame: &Frame, pull: &Pull, view: View, size_mm: (f64, f64)) -> Drawing {
    let mut drawing = Drawing::new(
        format!("{}, {} view, pull of the welds", frame.name, view.word()),
        size_mm.0,
        size_mm.1,
    );
    // Room around the frame for the boxes with the millimetres.
    let rim = size_mm.0 * 0.15;
    let inner = Area { left: rim, top: 15.0, right: size_mm.0 - rim, bottom: size_mm.1 - 24.0 };
    let camera = view.camera(frame.up, frame.forward);
    let exaggeration = exaggeration(frame, pull);
    let bent: Vec<Vec<DVec3>> = (0..frame.tubes.len()).map(|t| bent(frame, pull, t, exaggeration)).collect();
    let all =
        frame.tubes.iter().flat_map(|t| &t.axis).chain(bent.iter().flatten()).copied().collect::<Vec<_>>();
    let fitted = Fitted::new(camera, all, inner);
    let mut busy = vec![];
    for (tube, bent) in frame.tubes.iter().zip(&bent) {
        let straight = tube.axis.iter().map(|p| fitted.on_paper(*p)).collect();
        drawing.path(straight, Pen::grey(0.3, 140).dashed(2.0, 1.2));
        let bent: Vec<Pt> = bent.iter().map(|p| fitted.on_paper(*p)).collect();
        for pair in bent.windows(2) {
            let points = ((pair[1] - pair[0]).length() / 3.0).ceil().clamp(1.0, 20.0);
            busy.extend((0..points as usize).map(|i| pair[0] + (pair[1] - pair[0]) * (i as f64 / points)));
        }
        drawing.tinted(Tint::Weld, |d| d.path(bent, Pen::black(0.8)));
    }
    let taken = key(&mut drawing, exaggeration);
    controls(
        &mut drawing,
        frame,
        pull,
        &fitted,
        exaggeration,
        Room {
            area: Area { bottom: size_mm.1 - 8.0, ..drawing_area(size_mm) },
            taken,
            busy,
            reach_mm: size_mm.0.hypot(size_mm.1),
        },
    );
    drawing
}

/// A tube as welding leaves it, so many times too large: along its course, or if that is not known by
/// its axis points.
fn bent(frame: &Frame, pull: &Pull, tube: usize, exaggeration: f64) -> Vec<DVec3> {
    let t = &frame.tubes[tube];
    match pull.course.get(tube) {
        Some(course) if !course.is_empty() => {
            course.iter().map(|(s, by)| place(frame, tube, *s) + *by * exaggeration).collect()
        }
        _ => {
            let by = |i: usize| pull.shape.get(tube).and_then(|s| s.get(i)).copied().unwrap_or(DVec3::ZERO);
            (0..t.axis.len()).map(|i| t.axis[i] + by(i) * exaggeration).collect()
        }
    }
}

/// The place at an arc length of a tube's axis.
fn place(frame: &Frame, tube: usize, s_mm: f64) -> DVec3 {
    let t = &frame.tubes[tube];
    let i = t.s.partition_point(|s| *s < s_mm).clamp(1, t.axis.len().max(2) - 1);
    let step = t.s[i] - t.s[i - 1];
    let x = if step > 0.0 { ((s_mm - t.s[i - 1]) / step).clamp(0.0, 1.0) } else { 0.0 };
    t.axis[i - 1].lerp(t.axis[i], x)
}

fn drawing_area((width, height): (f64, f64)) -> Area {
    Area { left: 0.6, top: 0.6, right: width - 0.6, bottom: height - 0.6 }
}

/// How many times too large the pull is drawn: a round number that shows the largest displacement as
/// about a fifteenth of the frame; 1 if nothing moves.
pub fn exaggeration(frame: &Frame, pull: &Pull) -> f64 {
    let largest = (pull.shape.iter().flatten().chain(pull.course.iter().flatten().map(|(_, d)| d)))
        .map(|d| d.length())
        .fold(0.0, f64::max);
    let points = || frame.tubes.iter().flat_map(|t| t.axis.iter().copied());
    let low = points().fold(DVec3::INFINITY, DVec3::min);
    let high = points().fold(DVec3::NEG_INFINITY, DVec3::max);
    let wanted = (high - low).length() / 15.0 / largest;
    if largest <= 0.0 || !wanted.is_finite() || wanted <= 1.0 {
        return 1.0;
    }
    let decade = 10f64.powf(wanted.log10().floor());
    [5.0, 2.0, 1.0].into_iter().map(|f| f * decade).find(|f| *f <= wanted).unwrap_or(decade)
}

fn key(drawing: &mut Drawing, exaggeration: f64) -> Vec<Area> {
    let base = drawing.height_mm - 2.0;
    let mut x = 1.0;
    let parts = [
        (Pen::grey(0.3, 140).dashed(2.0, 1.2), "as drawn".to_string()),
        (Pen::black(0.8), format!("after welding, movement drawn {exaggeration:.0} times too large")),
    ];
    for (pen, words) in parts {
        drawing.line(pt(x, base - 1.2), pt(x + 9.0, base - 1.2), pen);
        let room = drawing.width_mm - x - 12.0;
        let text = Text::new(pt(x + 11.0, base), font::fit(&words, 3.4, false, room), 3.4);
        x += 11.0 + text.width_mm() + 5.0;
        drawing.text(text);
    }
    vec![Area { left: 0.0, top: base - 4.5, right: x, bottom: drawing.height_mm }]
}

/// The controls' labels with their millimetres, each with an arrow the way its place goes.
fn controls(
    drawing: &mut Drawing,
    frame: &Frame,
    pull: &Pull,
    fitted: &Fitted,
    exaggeration: f64,
    room: Room,
) {
    let mut tags = vec![];
    let mut words = vec![];
    for (control, outcome) in frame.controls.iter().zip(&pull.controls) {
        let Some(spot) = first_spot(&control.kind) else { continue };
        let (place, by) = spot_on(frame, pull, spot);
        let (from, to) = (fitted.on_paper(place), fitted.on_paper(place + by * exaggeration));
        if (to - from).length() > 1.5 {
            drawing.arrow(&[from, to], 1.8_f64.min((to - from).length()), Pen::black(0.4));
        }
        let unit = if control.kind.unit() == "deg" { "°" } else { " mm" };
        let value = format!("{}{unit}", signed(outcome.pull));
        let band = format!("± {}, set to {}", plain(outcome.scatter), signed(outcome.set_to));
        let name = Text::new(pt(0.0, 0.0), font::fit(&control.name, 3.2, false, 48.0), 3.2);
        let value = Text::new(pt(0.0, 0.0), value, 4.4).bold();
        let band = Text::new(pt(0.0, 0.0), band, 2.9);
        let second = value.width_mm() + 1.8 + band.width_mm();
        tags.push(Tag { anchor: to, width: name.width_mm().max(second) + 2.4, height: 10.6 });
        words.push((name, value, band));
    }
    let places = tags::place(&tags, &room);
    // All leaders lie under all boxes, so that none crosses a number.
    for (tag, place) in tags.iter().zip(&places) {
        let Some(place) = place else { continue };
        drawing.line(tag.anchor, tags::leader_end(tag.anchor, place), Pen::black(0.25));
        drawing.circle(
            tag.anchor,
            0.9,
            Some(Pen { width_mm: 0.25, grey: WHITE, dash_mm: None }),
            Some(BLACK),
        );
    }
    for (place, (name, value, band)) in places.iter().zip(words) {
        let Some(place) = place else { continue };
        drawing.rectangle(*place, Some(Pen::black(0.25)), Some(WHITE));
        let left = place.left + 1.2;
        drawing.text(Text { at: pt(left, place.top + 3.6), ..name });
        let value = Text { at: pt(left, place.top + 9.0), ..value };
        let after = left + value.width_mm() + 1.8;
        drawing.text(value);
        drawing.text(Text { at: pt(after, place.top + 9.0), ..band });
    }
}

/// The place by which a control is pointed at.
fn first_spot(kind: &ControlKind) -> Option<Spot> {
    Some(match kind {
        ControlKind::Distance(a, _) => *a,
        ControlKind::FromLine { spot, .. } | ControlKind::FromPlane { spot, .. } => *spot,
        ControlKind::Angle(a, _)
        | ControlKind::Parallel(a, _)
        | ControlKind::Squareness(a, _)
        | ControlKind::Level(a, _) => a[0],
        ControlKind::Twist(spots) => spots[3],
        ControlKind::Bow { tube, from_to, .. } => Spot { tube: *tube, s_mm: (from_to[0] + from_to[1]) / 2.0 },
    })
}

/// A spot's place and displacement, between the points known in proportion.
fn spot_on(frame: &Frame, pull: &Pull, spot: Spot) -> (DVec3, DVec3) {
    let known: Vec<(f64, DVec3)> = match pull.course.get(spot.tube) {
        Some(course) if !course.is_empty() => course.clone(),
        _ => {
            let shape = pull.shape.get(spot.tube).map_or(&[][..], |s| s);
            frame.tubes[spot.tube].s.iter().copied().zip(shape.iter().copied()).collect()
        }
    };
    let i = known.partition_point(|(s, _)| *s < spot.s_mm).min(known.len().saturating_sub(1));
    let by = match (known.get(i.saturating_sub(1)), known.get(i)) {
        (Some((a, from)), Some((b, to))) if b > a => {
            from.lerp(*to, ((spot.s_mm - a) / (b - a)).clamp(0.0, 1.0))
        }
        (_, Some((_, by))) => *by,
        _ => DVec3::ZERO,
    };
    (place(frame, spot.tube, spot.s_mm), by)
}

/// One decimal with its sign; a typographic minus; never `−0.0`.
pub(super) fn signed(value: f64) -> String {
    let tenths = (value * 10.0).round() / 10.0;
    match tenths {
        t if t > 0.0 => format!("+{t:.1}"),
        t if t < 0.0 => format!("−{:.1}", -t),
        _ => "0.0".into(),
    }
}

fn plain(value: f64) -> String {
    format!("{:.1}", value.abs())
}

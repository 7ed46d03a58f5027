//! A seam looked at along its branch: its clock, its segments with their numbers, which way to weld.

use super::drawing::{Area, BLACK, Drawing, Pen, Pt, Text, Tint, WHITE, pt};
use super::font;
use super::tags::{self, Room, Tag};
use super::view::{Camera, Fitted};
use crate::frame::Frame;
use crate::joint::Joints;
use crate::seam::{Seam, Seams, Segment};
use glam::DVec3;

/// What is known of a segment besides its place.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SegmentNote {
    /// Along growing arc length (clockwise on a closed seam), against it, or not yet known.
    pub forward: Option<bool>,
    /// Rows of the sheet that weld it, `12 · 57`.
    pub rows: String,
}

/// A tack as a close-up shows it.
#[derive(Debug, Clone, PartialEq)]
pub struct TackNote {
    /// Line of the seam.
    pub line: usize,
    /// Arc length of its middle, mm.
    pub at_mm: f64,
    /// Its number on the seam, `t1`.
    pub name: String,
    /// Row of the sheet that lays it.
    pub rows: String,
}

/// Size of a close-up on paper, mm: three side by side.
pub const SIZE_MM: (f64, f64) = (59.0, 72.0);

/// The close-up of one seam. `notes` go with its segments; missing ones are taken as empty.
pub fn close_up(
    frame: &Frame,
    joints: &Joints,
    seams: &Seams,
    seam: usize,
    notes: &[SegmentNote],
) -> Drawing {
    let (mut drawing, fitted, mut room) = seam_alone(frame, joints, seams, seam);
    let weld = &seams.seams[seam];
    let middle = seam_area().middle();
    // Borders between segments, as short lines across the weld.
    for segment in &weld.segments {
        for s in [segment.from_mm, segment.to_mm] {
            let Some((at, along)) = place_on(weld, segment.line, s, &fitted) else { continue };
            let across = along.across() * 1.7;
            drawing.line(at - across, at + across, Pen { grey: WHITE, ..Pen::black(1.3) });
            drawing.line(at - across, at + across, Pen::black(0.3));
        }
    }
    room.taken = clock(&mut drawing, weld, middle);
    for (n, segment) in weld.segments.iter().enumerate() {
        let note = notes.get(n).cloned().unwrap_or_default();
        if let Some(forward) = note.forward {
            room.taken.extend(way(&mut drawing, weld, segment, forward, &fitted, middle));
        }
    }
    let marks = weld.segments.iter().enumerate().filter_map(|(n, segment)| {
        let (at, _) = place_on(weld, segment.line, (segment.from_mm + segment.to_mm) / 2.0, &fitted)?;
        Some((at, (n + 1).to_string(), notes.get(n).map_or("", |note| note.rows.as_str())))
    });
    numbers(&mut drawing, marks.collect(), room);
    drawing
}

/// The close-up of a seam with one tack marked: `tack` is the line of the seam and the arc length of the
/// tack's middle on it, mm.
pub fn of_tack(frame: &Frame, joints: &Joints, seams: &Seams, seam: usize, tack: (usize, f64)) -> Drawing {
    let (mut drawing, fitted, _) = seam_alone(frame, joints, seams, seam);
    let weld = &seams.seams[seam];
    let middle = seam_area().middle();
    clock(&mut drawing, weld, middle);
    if let Some((at, along)) = place_on(weld, tack.0, tack.1, &fitted) {
        tack_here(&mut drawing, at, along, middle);
    }
    drawing
}

/// The close-up of one seam with its tacks as dots.
pub fn tacks_close_up(
    frame: &Frame,
    joints: &Joints,
    seams: &Seams,
    seam: usize,
    tacks: &[TackNote],
) -> Drawing {
    let (mut drawing, fitted, mut room) = seam_alone(frame, joints, seams, seam);
    let weld = &seams.seams[seam];
    room.taken = clock(&mut drawing, weld, seam_area().middle());
    let mut marks = vec![];
    for t in tacks {
        let Some((at, _)) = place_on(weld, t.line, t.at_mm, &fitted) else { continue };
        drawing.tinted(Tint::Weld, |d| d.circle(at, 1.9, None, Some(BLACK)));
        room.taken.push(Area::around(at, 2.0, 2.0));
        marks.push((at, t.name.clone(), t.rows.as_str()));
    }
    numbers(&mut drawing, marks, room);
    drawing
}

/// Where the seam itself lies on a close-up.
fn seam_area() -> Area {
    Area { left: 15.0, top: 26.0, right: SIZE_MM.0 - 15.0, bottom: SIZE_MM.1 - 16.0 }
}

/// Head, carrier and weld lines of a close-up, and the room that is left for words.
fn seam_alone(frame: &Frame, joints: &Joints, seams: &Seams, seam: usize) -> (Drawing, Fitted, Room) {
    let (width, height) = SIZE_MM;
    let meet = &joints.meets[seam];
    let weld = &seams.seams[seam];
    let name = |tube: usize| frame.tubes[tube].name.as_str();
    let carriers: Vec<&str> = meet.carriers.iter().map(|c| name(c.0)).collect();
    let parts = format!("{} on {}", name(meet.branch.0), carriers.join(" and "));
    let mut drawing = Drawing::new(format!("{}, {parts}", weld.name), width, height);
    drawing.rectangle(drawing.area().grown(-0.2), Some(Pen::grey(0.2, 150)), None);
    drawing.text(Text::new(pt(2.0, 6.3), &weld.name, 6.0).bold());
    let facts = format!("{} · {:.0} mm", weld.kind.word(), weld.length_mm);
    drawing.text(Text::new(pt(width - 2.0, 5.4), facts, 3.0).right());
    drawing.text(Text::new(pt(2.0, 10.8), font::fit(&parts, 3.0, false, width - 4.0), 3.0));

    let places = weld.lines.iter().flat_map(|l| l.samples.iter().map(|p| p.at));
    let fitted = Fitted::new(camera(weld), places, seam_area());
    let mut ink = carrier_lines(&mut drawing, frame, meet.carriers.first().map(|c| (c.0, c.1)), &fitted);
    for line in &weld.lines {
        let points: Vec<Pt> = line.samples.iter().map(|p| fitted.on_paper(p.at)).collect();
        ink.extend(points.iter().copied());
        drawing.tinted(Tint::Weld, |d| d.path(points, Pen::black(1.1)));
    }
    let room = Room {
        area: Area { left: 1.0, top: 12.5, right: width - 1.0, bottom: height - 1.0 },
        taken: vec![],
        busy: ink,
        reach_mm: 60.0,
    };
    (drawing, fitted, room)
}

/// What a small picture beside a row points at.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Mark {
    /// A segment (index on its seam) and whether it is welded along growing arc length.
    Segment {
        /// Index of the segment.
        segment: usize,
        /// Clockwise on a closed seam.
        forward: bool,
    },
    /// A tack: its line and the arc length of its middle on it, mm.
    Tack {
        /// Line of the seam.
        line: usize,
        /// Arc length, mm.
        at_mm: f64,
    },
}

/// Side of the small picture, mm: beside a row of the sheet.
pub const SMALL_MM: f64 = 11.6;

/// The seam as small as a row is high, seen as in its close-up: outline thin with 12 o'clock marked, the
/// piece to weld thick with its arrow, or a dot for a tack. `None` if there is nothing of that number.
pub fn small(weld: &Seam, mark: Mark) -> Option<Drawing> {
    let mut drawing = Drawing::new(weld.name.clone(), SMALL_MM, SMALL_MM);
    let places = weld.lines.iter().flat_map(|l| l.samples.iter().map(|p| p.at));
    let fitted = Fitted::new(camera(weld), places, drawing.area().grown(-1.9));
    for line in &weld.lines {
        let outline: Vec<Pt> = line.samples.iter().map(|p| fitted.on_paper(p.at)).collect();
        drawing.path(thinned(&outline, 0.25), Pen::grey(0.3, 110));
    }
    let top = pt(SMALL_MM / 2.0, 0.2);
    drawing.polygon(vec![top + pt(0.0, 1.0), top + pt(0.6, 0.0), top + pt(-0.6, 0.0)], None, Some(BLACK));
    match mark {
        Mark::Tack { line, at_mm } => {
            let (at, _) = place_on(weld, line, at_mm, &fitted)?;
            drawing.tinted(Tint::Weld, |d| d.circle(at, 1.3, None, Some(BLACK)));
        }
        Mark::Segment { segment, forward } => {
            let piece = weld.segments.get(segment)?;
            let places = (0..=16).map(|i| piece.from_mm + piece.length_mm() * f64::from(i) / 16.0);
            let mut line: Vec<Pt> =
                places.filter_map(|s| place_on(weld, piece.line, s, &fitted).map(|(at, _)| at)).collect();
            if !forward {
                line.reverse();
            }
            let tip = *line.last()?;
            // Pointed along the last millimetre and a half; the tip stands a little over the end.
            let before = *line.iter().rev().find(|p| (**p - tip).length() > 1.5).unwrap_or(line.first()?);
            drawing.tinted(Tint::Weld, |d| d.path(line, Pen::black(1.2)));
            if let Some(along) = (tip - before).unit() {
                let (tip, side) = (tip + along * 0.6, along.across() * 1.3);
                let neck = tip - along * 2.4;
                drawing.tinted(Tint::Weld, |d| {
                    d.polygon(vec![tip, neck + side, neck - side], None, Some(BLACK))
                });
            }
        }
    }
    Some(drawing)
}

/// A line without the points that lie nearer than `step_mm` to the one before; its ends stay.
fn thinned(line: &[Pt], step_mm: f64) -> Vec<Pt> {
    let mut kept: Vec<Pt> = vec![];
    for (i, p) in line.iter().enumerate() {
        let far = kept.last().is_none_or(|last| (*p - *last).length() >= step_mm);
        if far || i + 1 == line.len() {
            kept.push(*p);
        }
    }
    kept
}

/// Along the branch, as the clock is seen; weld lines that would be seen end on (of a slot, of a bar
/// along a tube) are looked at from the side and a little from above.
fn camera(weld: &Seam) -> Camera {
    let (axis, up) = (weld.clock_axis, weld.clock_up.0);
    let straight = Camera::towards_eye(-axis, up);
    let (mut flat, mut true_length) = (0.0, 0.0);
    for line in &weld.lines {
        for pair in line.samples.windows(2) {
            flat += (straight.flat(pair[1].at) - straight.flat(pair[0].at)).length();
            true_length += pair[0].at.distance(pair[1].at);
        }
    }
    if flat >= 0.6 * true_length {
        return straight;
    }
    Camera::towards_eye(axis.cross(up) * 0.62 - axis * 0.55 + up * 0.56, up)
}

/// The tube behind, as two pale lines; returns points on them.
fn carrier_lines(
    drawing: &mut Drawing,
    frame: &Frame,
    carrier: Option<(usize, f64)>,
    fitted: &Fitted,
) -> Vec<Pt> {
    let mut ink = vec![];
    let Some((tube, at)) = carrier else { return ink };
    let axis = &frame.tubes[tube].axis;
    let s = &frame.tubes[tube].s;
    let chord = s.windows(2).position(|w| at <= w[1] + 1e-6).unwrap_or(s.len().saturating_sub(2));
    let (Some(a), Some(b)) = (axis.get(chord), axis.get(chord + 1)) else { return ink };
    let (Some(along), Some(from)) = ((*b - *a).try_normalize(), s.get(chord)) else { return ink };
    let flat = fitted.camera.flat(along);
    let Some(direction) = flat.unit() else { return ink };
    // A tube seen nearly end on has no two sides here.
    if flat.length() < 0.3 {
        return ink;
    }
    let half = half_width(frame, tube, chord, along.cross(fitted.camera.to_eye)) * fitted.scale;
    let place = fitted.on_paper(*a + along * (at - from));
    let window =
        Area { left: 2.0, top: 13.0, right: drawing.width_mm - 2.0, bottom: drawing.height_mm - 2.0 };
    for side in [-1.0, 1.0] {
        let p = place + direction.across() * (half * side);
        if let Some((from, to)) = clipped(p, direction, &window) {
            drawing.line(from, to, Pen { width_mm: 0.25, grey: super::frame_drawing::PALE, dash_mm: None });
            ink.extend((0..=60).map(|i| from + (to - from) * (f64::from(i) / 60.0)));
        }
    }
    ink
}

/// Half the size of a tube in a direction across it, mm.
fn half_width(frame: &Frame, tube: usize, chord: usize, across: DVec3) -> f64 {
    use crate::frame::Shape;
    let across = across.normalize_or_zero();
    let height_dir = frame.tubes[tube].height_dir.get(chord).copied().unwrap_or(DVec3::ZERO);
    let along_height = across.dot(height_dir).abs().min(1.0);
    let along_width = (1.0 - along_height * along_height).sqrt();
    match frame.sections[frame.tubes[tube].section].shape {
        Shape::Round { od, .. } | Shape::Solid { od } => od / 2.0,
        Shape::Box { height, width, .. } => (height * along_height + width * along_width) / 2.0,
        Shape::Flat { width, thickness } => (thickness * along_height + width * along_width) / 2.0,
    }
}

/// The part of a line within an area.
fn clipped(p: Pt, d: Pt, area: &Area) -> Option<(Pt, Pt)> {
    let (mut from, mut to) = (f64::NEG_INFINITY, f64::INFINITY);
    for (p, d, low, high) in [(p.x, d.x, area.left, area.right), (p.y, d.y, area.top, area.bottom)] {
        if d.abs() < 1e-9 {
            if p < low || p > high {
                return None;
            }
        } else {
            let (a, b) = ((low - p) / d, (high - p) / d);
            from = from.max(a.min(b));
            to = to.min(a.max(b));
        }
    }
    (to > from).then(|| (p + d * from, p + d * to))
}

/// Where 12 o'clock is, and the direction that it stands for.
fn clock(drawing: &mut Drawing, weld: &Seam, middle: Pt) -> Vec<Area> {
    let words = Text::new(pt(middle.x, 17.0), format!("12 = {}", weld.clock_up.1), 3.6).bold().middle();
    drawing.rectangle(words.area().grown(0.5), None, Some(WHITE));
    let taken = vec![words.area().grown(0.5), Area::around(pt(middle.x, 20.0), 3.0, 4.5)];
    drawing.text(words);
    drawing.polygon(
        vec![pt(middle.x, 18.3), pt(middle.x + 1.5, 21.8), pt(middle.x - 1.5, 21.8)],
        None,
        Some(BLACK),
    );
    taken
}

/// The arrow beside a segment that says which way to weld it.
fn way(
    drawing: &mut Drawing,
    weld: &Seam,
    segment: &Segment,
    forward: bool,
    fitted: &Fitted,
    middle: Pt,
) -> Vec<Area> {
    let length = segment.length_mm();
    let mut points = vec![];
    for i in 0..=10 {
        // The middle half of the segment, moved towards the inside of the seam.
        let s = segment.from_mm + length * (0.2 + 0.6 * f64::from(i) / 10.0);
        let Some((at, along)) = place_on(weld, segment.line, s, fitted) else { return vec![] };
        let mut inwards = along.across();
        let to_middle = middle - at;
        if inwards.x * to_middle.x + inwards.y * to_middle.y < 0.0 {
            inwards = inwards * -1.0;
        }
        points.push(at + inwards * if weld.closed { 3.2 } else { 2.2 });
    }
    if !forward {
        points.reverse();
    }
    drawing.arrow(&points[..points.len() - 1], 0.0, Pen::black(0.5));
    let head = [points[points.len() - 4], points[points.len() - 1]];
    drawing.arrow(&head, 2.6, Pen::black(0.5));
    points.iter().map(|p| Area::around(*p, 1.2, 1.2)).collect()
}

/// A dot in a ring where the tack goes, with a word beside it, inside the seam.
fn tack_here(drawing: &mut Drawing, at: Pt, along: Pt, middle: Pt) {
    drawing.circle(at, 3.0, Some(Pen::black(0.6)), Some(WHITE));
    drawing.tinted(Tint::Weld, |d| d.circle(at, 1.7, None, Some(BLACK)));
    let to_middle = middle - at;
    let across = along.across();
    let inwards = if across.x * to_middle.x + across.y * to_middle.y < 0.0 { across * -1.0 } else { across };
    // A word is wider than high: it keeps off the ring by as much as it reaches towards it.
    let word = Text::new(pt(0.0, 0.0), "TACK", 3.4).bold();
    let reach = 3.8 + 0.5 * (inwards.x.abs() * word.width_mm() + inwards.y.abs() * 3.4);
    let place = at + inwards * reach;
    let word = Text { at: pt(place.x, place.y + 1.2), ..word.middle() };
    drawing.rectangle(word.area().grown(0.3), None, Some(WHITE));
    drawing.text(word);
}

/// Numbers of segments or tacks with the rows that lay them, outside the seam: place, number, rows.
fn numbers(drawing: &mut Drawing, marks: Vec<(Pt, String, &str)>, room: Room) {
    let mut tags = vec![];
    let mut words = vec![];
    for (at, number, rows) in marks {
        let number = Text::new(pt(0.0, 0.0), number, 4.6).bold();
        let rows =
            (!rows.is_empty()).then(|| Text::new(pt(0.0, 0.0), font::fit(rows, 2.6, false, 15.0), 2.6));
        let width = rows.as_ref().map_or(0.0, Text::width_mm).max(number.width_mm()) + 0.8;
        tags.push(Tag { anchor: at, width, height: if rows.is_some() { 8.0 } else { 4.8 } });
        words.push((number, rows));
    }
    for ((tag, place), (number, rows)) in tags.iter().zip(tags::place(&tags, &room)).zip(words) {
        let Some(place) = place else { continue };
        let end = tags::leader_end(tag.anchor, &place);
        if (end - tag.anchor).length() > 6.0 {
            drawing.line(tag.anchor, end, Pen::black(0.15));
        }
        let x = place.middle().x;
        // A pale line of the tube behind may run here; it must not cross a figure.
        let number = Text { at: pt(x, place.top + 4.1), ..number.middle() };
        drawing.rectangle(number.area(), None, Some(WHITE));
        drawing.text(number);
        if let Some(rows) = rows {
            let rows = Text { at: pt(x, place.top + 7.4), ..rows.middle() };
            drawing.rectangle(rows.area(), None, Some(WHITE));
            drawing.text(rows);
        }
    }
}

/// A place on a line of a seam by its arc length, and the direction of the line there, on paper.
fn place_on(weld: &Seam, line: usize, s: f64, fitted: &Fitted) -> Option<(Pt, Pt)> {
    let line = weld.lines.get(line)?;
    let length = *line.s.last()?;
    let s = if weld.closed && length > 0.0 { s.rem_euclid(length) } else { s.clamp(0.0, length) };
    let i = line.s.partition_point(|x| *x < s).clamp(1, line.s.len().saturating_sub(1).max(1));
    let (a, b) = (line.samples.get(i - 1)?, line.samples.get(i)?);
    let step = line.s[i] - line.s[i - 1];
    let x = if step > 0.0 { (s - line.s[i - 1]) / step } else { 0.0 };
    let (a, b) = (fitted.on_paper(a.at), fitted.on_paper(b.at));
    Some((a + (b - a) * x, (b - a).unit()?))
}

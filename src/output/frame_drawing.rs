//! The weld map: the frame from its real geometry, with every joint in a balloon.

use super::drawing::{Area, BLACK, Drawing, Grey, Item, Pen, Pt, Text, Tint, WHITE, pt};
use super::tags::{self, Room, Tag};
use super::view::{Fitted, View};
use super::wire::{self, Sight};
use crate::frame::Frame;
use crate::joint::{Joints, Side};
use crate::seam::Seams;
use std::f64::consts::TAU;

/// Space around the frame for balloons, mm.
const RIM_MM: f64 = 12.0;
/// Space under the frame for the key, mm.
const KEY_MM: f64 = 7.0;

/// The frame in one view, as it lies with `up` up (the up of a setup), in a drawing of a given size.
///
/// Tubes are drawn with their width, hidden lines pale and dashed, weld lines thick. Joints stand in
/// balloons; the balloon's shape tells the side: ring left, box right, six corners on the plane.
pub fn weld_map(
    frame: &Frame,
    joints: &Joints,
    seams: &Seams,
    view: View,
    up: glam::DVec3,
    size_mm: (f64, f64),
) -> Drawing {
    let title = format!("{}, {} view, joints J1 to J{}", frame.name, view.word(), joints.joints.len());
    let mut drawing = Drawing::new(title, size_mm.0, size_mm.1);
    let inner = Area {
        left: RIM_MM,
        top: RIM_MM,
        right: (size_mm.0 - RIM_MM).max(RIM_MM + 1.0),
        bottom: (size_mm.1 - RIM_MM - KEY_MM).max(RIM_MM + 1.0),
    };
    let camera = view.camera(up, forward_for(frame, up));
    let corners = wire::solids(frame).iter().flat_map(|s| s.corners()).collect::<Vec<_>>();
    let fitted = Fitted::new(camera, corners, inner);
    let sight = Sight::new(frame, &fitted);
    let mut busy = vec![];
    let mut lines: [Vec<Item>; 4] = Default::default();
    let stroke = |points: Vec<Pt>, pen: Pen| Item::Path { points, closed: false, pen: Some(pen), fill: None };
    for wire in wire::outlines(frame, joints, seams, camera.to_eye) {
        for piece in sight.pieces(&wire) {
            if piece.seen {
                busy.extend(samples(&piece.points));
                lines[1].push(stroke(piece.points, Pen::black(0.3)));
            } else {
                lines[0].push(stroke(piece.points, Pen::grey(0.18, 165).dashed(1.2, 0.9)));
            }
        }
    }
    for seam in 0..seams.seams.len() {
        for wire in wire::weld_lines(seams, seam) {
            for piece in sight.pieces(&wire) {
                if piece.seen {
                    busy.extend(samples(&piece.points));
                    lines[3].push(stroke(piece.points, Pen::black(0.95)));
                } else {
                    lines[2].push(stroke(piece.points, Pen::grey(0.5, 150).dashed(0.8, 0.9)));
                }
            }
        }
    }
    let [hidden, seen, hidden_weld, weld] = lines;
    drawing.items.extend(hidden.into_iter().chain(seen));
    drawing.tinted(Tint::Weld, |d| d.items.extend(hidden_weld.into_iter().chain(weld)));
    let key = key(&mut drawing, joints, &fitted, frame);
    balloons(&mut drawing, joints, seams, &fitted, busy, key);
    drawing
}

/// The height that a map of a given width needs, mm: that of the frame in this view with its rim, at
/// least 50 and at most `most`.
pub fn map_height(frame: &Frame, view: View, up: glam::DVec3, width_mm: f64, most: f64) -> f64 {
    let camera = view.camera(up, forward_for(frame, up));
    let seen = wire::solids(frame)
        .iter()
        .flat_map(|s| s.corners())
        .map(|p| Area::around(camera.flat(p), 0.0, 0.0))
        .reduce(|a, b| a.with(&b));
    let Some(seen) = seen else { return 50.0 };
    let scale = (width_mm - 2.0 * RIM_MM).max(1.0) / seen.width().max(1e-9);
    (seen.height() * scale + 2.0 * RIM_MM + KEY_MM).max(50.0).min(most)
}

/// The direction that counts as forward while `up` is up: the frame's own, or, if the frame stands on
/// its nose or tail, its up.
fn forward_for(frame: &Frame, up: glam::DVec3) -> glam::DVec3 {
    let square = |v: glam::DVec3| (v - up * v.dot(up)).try_normalize();
    let steep = frame.forward.dot(up).abs() > 0.9;
    let choice = if steep { square(frame.up) } else { square(frame.forward) };
    choice.unwrap_or_else(|| up.any_orthonormal_vector())
}

/// Points along a line, closer than a millimetre.
fn samples(points: &[Pt]) -> Vec<Pt> {
    let mut all = vec![];
    for pair in points.windows(2) {
        let length = (pair[1] - pair[0]).length();
        let count = (length / 0.8).ceil().max(1.0) as usize;
        all.extend((0..count).map(|i| pair[0] + (pair[1] - pair[0]) * (i as f64 / count as f64)));
    }
    all
}

/// The key at the foot: axes, what the shapes mean. Returns the space that it takes.
fn key(drawing: &mut Drawing, joints: &Joints, fitted: &Fitted, frame: &Frame) -> Vec<Area> {
    let base = drawing.height_mm - 1.8;
    let mut x = 1.0;
    let words = |drawing: &mut Drawing, x: &mut f64, words: &str| {
        let text = Text::new(pt(*x, base), words, 3.2);
        *x += text.width_mm() + 3.5;
        drawing.text(text);
    };
    if joints.symmetry.is_some() {
        for side in [Side::Left, Side::Right, Side::Centre] {
            shape(drawing, Area::around(pt(x + 2.2, base - 1.1), 4.2, 3.4), side, 0.35);
            x += 5.6;
            words(drawing, &mut x, side.word());
        }
    }
    drawing.tinted(Tint::Weld, |d| d.line(pt(x, base - 1.1), pt(x + 7.0, base - 1.1), Pen::black(0.95)));
    x += 8.5;
    words(drawing, &mut x, "weld");
    drawing.line(pt(x, base - 1.1), pt(x + 7.0, base - 1.1), Pen::grey(0.18, 150).dashed(1.2, 0.9));
    x += 8.5;
    words(drawing, &mut x, "hidden");
    let mut taken = vec![Area { left: 0.0, top: base - 4.0, right: x, bottom: drawing.height_mm }];

    // Where the frame's front, left and up are in this view; an axis towards the eye is left out.
    let left = frame.up.cross(frame.forward);
    let (cx, cy) = (drawing.width_mm - 16.0, drawing.height_mm - 13.0);
    for (axis, name) in [(frame.forward, "front"), (left, "left"), (frame.up, "up")] {
        let d = fitted.camera.flat(axis);
        if d.length() < 0.25 {
            continue;
        }
        let tip = pt(cx, cy) + d * 7.5;
        drawing.arrow(&[pt(cx, cy), tip], 1.6, Pen::black(0.3));
        let along = d * (1.0 / d.length());
        let middle = tip + pt(along.x * 4.2, along.y * 2.2 + 1.0);
        let text = Text::new(middle, name, 3.0).middle();
        taken.push(text.area());
        drawing.text(text);
    }
    taken.push(Area::around(pt(cx, cy), 17.0, 17.0));
    taken
}

/// Balloons of the joints, and small letters at the seams of joints that have several.
fn balloons(
    drawing: &mut Drawing,
    joints: &Joints,
    seams: &Seams,
    fitted: &Fitted,
    busy: Vec<Pt>,
    taken: Vec<Area>,
) {
    let anchors: Vec<Pt> =
        joints.joints.iter().map(|j| fitted.on_paper(weld_centre(j.at, &j.meets, seams))).collect();
    let reach = drawing.width_mm.hypot(drawing.height_mm);
    let area = drawing.area().grown(-0.6);
    let mut room = Room { area, taken, busy, reach_mm: reach };
    // Large print if there is room for it, smaller until there is.
    let mut size = 4.6;
    let (places, size) = loop {
        let tags: Vec<Tag> = joints
            .joints
            .iter()
            .zip(&anchors)
            .map(|(j, anchor)| {
                let text = Text::new(pt(0.0, 0.0), &j.name, size).bold();
                Tag { anchor: *anchor, width: text.width_mm() + size * 0.75, height: size * 1.5 }
            })
            .collect();
        let places = tags::place(&tags, &room);
        if places.iter().all(Option::is_some) || size < 1.6 {
            break (places, size);
        }
        size *= 0.85;
    };
    // All leaders lie under all balloons, so that none crosses a name.
    for (anchor, place) in anchors.iter().zip(&places) {
        let Some(place) = place else { continue };
        drawing.line(*anchor, tags::leader_end(*anchor, place), Pen::black(0.25));
        drawing.circle(*anchor, 0.65, Some(Pen { width_mm: 0.25, grey: WHITE, dash_mm: None }), Some(BLACK));
    }
    for (joint, place) in joints.joints.iter().zip(&places) {
        let Some(place) = place else { continue };
        let mut part = Drawing::new("", 0.0, 0.0);
        shape(&mut part, *place, joint.side, 0.45);
        let middle = place.middle() + pt(0.0, size * 0.36);
        part.text(Text::new(middle, &joint.name, size).bold().middle());
        let tint = match joint.side {
            Side::Left => Some(Tint::Left),
            Side::Right => Some(Tint::Right),
            Side::Centre => None,
        };
        drawing.items.push(Item::Group { name: joint.name.clone(), tint, items: part.items });
    }
    room.taken.extend(places.iter().flatten());
    room.taken.extend(anchors.iter().map(|a| Area::around(*a, 1.4, 1.4)));
    // Letters of the seams, only where they find room close by: the close-ups show them all.
    let several: Vec<(usize, String)> = joints
        .joints
        .iter()
        .filter(|j| j.meets.len() > 1)
        .flat_map(|j| j.meets.iter().map(move |m| (*m, j)))
        .filter_map(|(m, j)| Some((m, seams.seams.get(m)?.name.strip_prefix(j.name.as_str())?.to_string())))
        .collect();
    room.reach_mm = 9.0;
    let letter_size = size * 0.72;
    let letters: Vec<Tag> = several
        .iter()
        .map(|(m, letter)| Tag {
            anchor: fitted.on_paper(seams.seams[*m].centre),
            width: Text::new(pt(0.0, 0.0), letter, letter_size).width_mm() + 0.6,
            height: letter_size * 1.05,
        })
        .collect();
    for ((_, letter), (tag, place)) in several.iter().zip(letters.iter().zip(tags::place(&letters, &room))) {
        let Some(place) = place else { continue };
        drawing.line(tag.anchor, tags::leader_end(tag.anchor, &place), Pen::black(0.15));
        let middle = place.middle() + pt(0.0, letter_size * 0.27);
        drawing.text(Text::new(middle, letter, letter_size).bold().middle());
    }
}

/// Where a joint's balloon points: the middle of its welds (its work point may lie inside a tube).
fn weld_centre(at: glam::DVec3, meets: &[usize], seams: &Seams) -> glam::DVec3 {
    let centres: Vec<glam::DVec3> = meets.iter().filter_map(|m| Some(seams.seams.get(*m)?.centre)).collect();
    if centres.is_empty() { at } else { centres.iter().sum::<glam::DVec3>() / centres.len() as f64 }
}

/// The outline of a balloon.
fn shape(drawing: &mut Drawing, area: Area, side: Side, width_mm: f64) {
    let pen = Some(Pen::black(width_mm));
    let fill = Some(WHITE);
    let (middle, w, h) = (area.middle(), area.width() / 2.0, area.height() / 2.0);
    match side {
        Side::Right => drawing.rectangle(area, pen, fill),
        Side::Centre => {
            let cut = h * 0.6;
            let corners = [(-w, 0.0), (-w + cut, -h), (w - cut, -h), (w, 0.0), (w - cut, h), (-w + cut, h)];
            drawing.polygon(corners.map(|(x, y)| middle + pt(x, y)).to_vec(), pen, fill);
        }
        Side::Left => {
            // A ring drawn out to the width of the words.
            let half = |middle_x: f64, from: f64| {
                (0..=12).map(move |i| {
                    let (sin, cos) = (from + f64::from(i) / 24.0 * TAU).sin_cos();
                    pt(middle_x + h * cos, middle.y + h * sin)
                })
            };
            let straight = (w - h).max(0.0);
            let points = half(middle.x + straight, -TAU / 4.0).chain(half(middle.x - straight, TAU / 4.0));
            drawing.polygon(points.collect(), pen, fill);
        }
    }
}

/// A pale tone for what stands in the background of a close-up.
pub(super) const PALE: Grey = Grey(150);

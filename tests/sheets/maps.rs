//! The pictures of the frame.

use super::made;
use holdtrue::output::drawing::{Area, Drawing, Item, Pt};
use holdtrue::output::frame_drawing::weld_map;
use holdtrue::output::view::View;
use holdtrue::output::{close_up, pull_picture, svg};

/// All texts and the boxes of all named groups' shapes keep apart; nothing leaves the drawing.
fn tidy(drawing: &Drawing) {
    let inked = drawing.inked().expect("something is drawn");
    assert!(drawing.area().holds(&inked, 0.0), "{}: {inked:?}", drawing.title);
    let texts = drawing.texts();
    for (i, a) in texts.iter().enumerate() {
        for b in &texts[..i] {
            let touch = a.area().grown(-0.1).overlaps(&b.area().grown(-0.1));
            assert!(!touch, "{}: \"{}\" covers \"{}\"", drawing.title, a.words, b.words);
        }
    }
}

/// The outlines of the joints' balloons.
fn balloons(drawing: &Drawing) -> Vec<(String, Area)> {
    let of = |items: &[Item]| {
        items.iter().find_map(|item| match item {
            Item::Path { points, closed: true, .. } => {
                let dot = |p: &Pt| Area::around(*p, 0.0, 0.0);
                points.iter().map(dot).reduce(|a, b| a.with(&b))
            }
            _ => None,
        })
    };
    drawing
        .items
        .iter()
        .filter_map(|item| match item {
            Item::Group { name, items, .. } if !name.is_empty() => Some((name.clone(), of(items)?)),
            _ => None,
        })
        .collect()
}

#[test]
fn no_label_covers_another_on_fifty_random_frames() {
    for seed in 0..50 {
        let frame = made::random_frame(seed);
        let (joints, seams) = made::joints_and_seams(&frame);
        let view = View::ALL[seed as usize % 4];
        let drawing = weld_map(&frame, &joints, &seams, view, frame.up, (186.0, 110.0));
        tidy(&drawing);
        let balloons = balloons(&drawing);
        let names: Vec<&str> = balloons.iter().map(|b| b.0.as_str()).collect();
        let want: Vec<&str> = joints.joints.iter().map(|j| j.name.as_str()).collect();
        assert_eq!(names, want, "every joint has its balloon, seed {seed}");
        for (i, (name, a)) in balloons.iter().enumerate() {
            for (other, b) in &balloons[..i] {
                assert!(!a.overlaps(b), "seed {seed}: {name} on {other}");
            }
        }
        tidy(&pull_picture::pull_picture(&frame, &made::pull(&frame), view, (186.0, 110.0)));
        let seam = seed as usize % seams.seams.len();
        tidy(&close_up::close_up(&frame, &joints, &seams, seam, &[]));
    }
}

#[test]
fn a_close_up_numbers_every_segment_and_points_each_arrow_its_way() {
    let frame = made::random_frame(4);
    let (joints, seams) = made::joints_and_seams(&frame);
    for seam in 0..seams.seams.len() {
        let count = seams.seams[seam].segments.len();
        let arrows = |forward: Option<bool>| {
            let note = close_up::SegmentNote { forward, rows: "12".into() };
            close_up::close_up(&frame, &joints, &seams, seam, &vec![note; count])
        };
        let drawing = arrows(Some(true));
        tidy(&drawing);
        for n in 1..=count {
            let found = drawing.texts().iter().filter(|t| t.bold && t.words == n.to_string()).count();
            assert_eq!(found, 1, "segment {n} of {}", seams.seams[seam].name);
        }
        assert_ne!(arrows(Some(true)), arrows(Some(false)));
        assert_ne!(arrows(Some(true)).items.len(), arrows(None).items.len());
    }
}

#[test]
fn a_tube_in_front_hides_what_is_behind_it() {
    use holdtrue::output::view::Fitted;
    use holdtrue::output::wire::{Sight, Wire};
    let frame = made::random_frame(3);
    let post = frame.tubes.iter().find(|t| t.name == "post-r0").unwrap();
    // Seen from the right, the right post stands before the same place of the left post.
    let camera = View::Side.camera(frame.up, frame.forward);
    let area = Area { left: 0.0, top: 0.0, right: 180.0, bottom: 120.0 };
    let fitted = Fitted::new(camera, frame.tubes.iter().flat_map(|t| t.axis.iter().copied()), area);
    let sight = Sight::new(&frame, &fitted);
    let middle = (post.axis[0] + *post.axis.last().unwrap()) / 2.0;
    let left = camera.to_eye * -1.0;
    assert!(sight.sees(middle + camera.to_eye * 13.0), "its own front");
    assert!(!sight.sees(middle + left * 13.0), "its own back");
    assert!(!sight.sees(middle + left * 100.0), "behind it");
    assert!(sight.sees(middle + left * 100.0 + frame.forward * 14.0), "beside it");
    let across = Wire {
        points: vec![
            middle + left * 50.0 - frame.forward * 30.0,
            middle + left * 50.0 + frame.forward * 30.0,
        ],
    };
    let seen: Vec<bool> = sight.pieces(&across).iter().map(|p| p.seen).collect();
    assert_eq!(seen, [true, false, true]);
}

#[test]
fn the_same_frame_gives_the_same_svg_with_a_name_on_each_joint() {
    let frame = made::random_frame(7);
    let (joints, seams) = made::joints_and_seams(&frame);
    let make = || svg::svg(&weld_map(&frame, &joints, &seams, View::ThreeQuarter, frame.up, (186.0, 120.0)));
    let out = make();
    assert_eq!(out, make());
    for joint in &joints.joints {
        assert!(out.contains(&format!("data-name=\"{}\"", joint.name)));
    }
}

#[test]
fn the_movement_is_drawn_a_round_number_of_times_too_large() {
    let frame = made::random_frame(5);
    let mut pull = made::pull(&frame);
    let factor = pull_picture::exaggeration(&frame, &pull);
    let first = factor / 10f64.powf(factor.log10().floor());
    assert!([1.0, 2.0, 5.0].iter().any(|f| (f - first).abs() < 1e-9), "{factor}");
    pull.shape.iter_mut().flatten().for_each(|d| *d = glam::DVec3::ZERO);
    assert_eq!(pull_picture::exaggeration(&frame, &pull), 1.0);
}

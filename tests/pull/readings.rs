//! What the pull model says of a control is what a tape and a level read on the frame it draws.

use super::hand::{Bench, control, spot};
use super::independent::{random_events, random_frame};
use super::reference_fe::ladder;
use glam::DVec3;
use holdtrue::distort::{Event, Level};
use holdtrue::frame::{ControlKind, Spot, measure_at};

/// The change of each control is the derivative of its reading along the movement of its places.
fn reads_what_has_moved(mut b: Bench, kinds: &[ControlKind], events: &[Event]) {
    b.frame.controls = kinds.iter().map(|k| control("k", k.clone())).collect();
    let pull = b.model().evaluate(events, Level::Fine).expect("nothing comes loose");
    let moved = |s: Spot| {
        // An end of a branch lies inside its carrier, where no beam goes.
        let tube = &b.frame.tubes[s.tube];
        if let Some(i) = tube.s.iter().position(|s_mm| *s_mm == s.s_mm) {
            return pull.shape[s.tube][i];
        }
        // A place within a millimetre of another is read there, turned about it.
        let course = &pull.course[s.tube];
        let i = course.partition_point(|c| c.0 < s.s_mm).clamp(1, course.len() - 1);
        let ((from, a), (to, b)) = (course[i - 1], course[i]);
        a.lerp(b, (s.s_mm - from) / (to - from))
    };
    let size = pull.course.iter().flatten().map(|c| c.1.length()).fold(0.0, f64::max);
    for (kind, got) in kinds.iter().zip(&pull.controls) {
        let read = |much: f64| {
            let at = |s: Spot| b.frame.tubes[s.tube].point_at(s.s_mm) + moved(s) * much;
            measure_at(kind, b.frame.up, at)
        };
        let slope = (read(1e-3) - read(-1e-3)) / 2e-3;
        assert!(got.pull.abs() > 1e-5, "{kind:?} does not move");
        assert!((got.pull - slope).abs() < 1e-5 * size, "{kind:?}: {} or {slope}", got.pull);
    }
}

/// Frames that lie askew in space.
#[test]
fn each_kind_of_control_on_random_frames() {
    for seed in 0..6 {
        let b = random_frame(seed);
        let at = |t: usize, r: f64| b.frame.tubes[t].point_at(r * b.frame.tubes[t].s[1]);
        let end = |t: usize, r: f64| spot(t, r * b.frame.tubes[t].s[1]);
        let line = |t: usize| [end(t, 0.0), end(t, 1.0)];
        let back = |t: usize| [end(t, 1.0), end(t, 0.0)];
        let along = (at(0, 1.0) - at(0, 0.0)).normalize();
        // From the line straight to the place: otherwise the reading hangs on how the frame is laid down.
        let off = at(2, 0.4) - at(0, 0.0);
        let straight = (off - along * off.dot(along)).normalize();
        let branch = b.frame.tubes.len() - 1;
        let two = [0.2, 0.7].map(|r| r * b.frame.tubes[0].s[1]);
        let kinds = [
            ControlKind::Distance(end(0, 0.0), end(2, 1.0)),
            ControlKind::Squareness([end(0, 0.0), end(2, 1.0)], [end(0, 1.0), end(2, 0.0)]),
            ControlKind::Parallel(line(0), line(2)),
            ControlKind::Parallel(line(0), back(1)),
            ControlKind::FromLine { spot: end(2, 0.4), line: line(0), dir: straight },
            ControlKind::FromPlane { spot: end(2, 0.7), plane: [end(0, 0.0), end(1, 0.3), end(0, 1.0)] },
            ControlKind::Twist([end(0, 0.0), end(0, 1.0), end(2, 1.0), end(2, 0.1)]),
            ControlKind::Bow { tube: 0, from_to: two, dir: along.cross(DVec3::Y).normalize() },
            ControlKind::Angle(line(branch), line(0)),
            ControlKind::Angle(back(branch), line(1)),
        ];
        let events = random_events(&b, seed, 9);
        reads_what_has_moved(b, &kinds, &events);
    }
}

/// A level put across two rails that run side by side.
#[test]
fn a_level_on_a_ladder() {
    const L: f64 = 460.0;
    let b = ladder(L, &[-150.0, 150.0]);
    let pair = |t: usize, s: [f64; 2]| s.map(|s| spot(t, s));
    let kinds = [
        ControlKind::Level(pair(1, [0.0, L]), pair(0, [0.0, L])),
        ControlKind::Level(pair(1, [40.0, L]), pair(0, [L, 100.0])),
    ];
    let events: Vec<Event> = (0..7).map(|pass| Event::Pass { pass, forward: true }).collect();
    reads_what_has_moved(b, &kinds, &events);
}

//! Segments, clock and welding positions.

use super::build::*;
use crate::support::near;
use holdtrue::seam::{Position, Seam};

fn clocks(seam: &Seam) -> Vec<String> {
    seam.segments.iter().map(|s| format!("{}-{}", s.clock_from, s.clock_to)).collect()
}

#[test]
fn a_saddle_starts_at_twelve_and_runs_clockwise() {
    // branch upright: 12 o'clock is forward (+X), 3 o'clock to the right (−Y) when looking down
    let (_, s) = t_joint(round(48.3, 2.6), round(33.7, 2.6), 90.0).seams();
    let seam = &s.seams[0];
    assert_eq!(seam.clock_up.1, "forward");
    assert_eq!(clocks(seam), ["12:00-3:00", "3:00-6:00", "6:00-9:00", "9:00-12:00"]);
    assert!(seam.segments[0].mid.at.x > 5.0 && seam.segments[0].mid.at.y < -5.0);
    assert_eq!(seam.segments[0].partner, Some(2));
    near(seam.segments[0].length_mm(), 110.12 / 4.0, 0.002);
}

#[test]
fn a_square_seam_is_cut_in_the_middle_of_its_faces() {
    let mut f = empty();
    f.tube("carrier", square(60.0, 60.0, 0.0), &[v(0.0, -300.0, 0.0), v(0.0, 300.0, 0.0)]);
    f.tube("branch", square(40.0, 40.0, 0.0), &[v(0.0, 0.0, 0.0), v(-300.0, 0.0, 0.0)]);
    let (_, s) = f.seams();
    let seam = &s.seams[0];
    assert_eq!(seam.clock_up.1, "up");
    assert_eq!(clocks(seam), ["12:00-3:00", "3:00-6:00", "6:00-9:00", "9:00-12:00"]);
    for s in &seam.segments {
        near(s.length_mm(), 40.0, 1e-9);
        // the middle of a segment is a corner of the square
        near(s.mid.at.y.abs(), 20.0, 1e-6);
        near(s.mid.at.z.abs(), 20.0, 1e-6);
    }
}

#[test]
fn positions_of_an_upright_branch_on_a_lying_plate() {
    // fillets all round on a horizontal face: horizontal-vertical, PB (ISO 6947); turned over: PD
    let mut f = t_joint(square(100.0, 100.0, 0.0), round(40.0, 2.0), 90.0);
    f.setups.push(holdtrue::frame::Setup { name: "over".into(), up: v(0.0, 0.0, -1.0) });
    f.setups.push(holdtrue::frame::Setup { name: "on its side".into(), up: v(0.0, 1.0, 0.0) });
    let (_, s) = f.seams();
    for seg in &s.seams[0].segments {
        assert_eq!(seg.positions[..2], [Position::PB, Position::PD]);
    }
    // on its side a segment that climbs is vertical, those at the top and bottom of the pipe are not
    let third: Vec<Position> = s.seams[0].segments.iter().map(|s| s.positions[2]).collect();
    assert_eq!(third.len(), 4);
    assert!(third.iter().all(|p| matches!(p, Position::PB | Position::PD | Position::Vertical)), "{third:?}");
}

#[test]
fn positions_of_butts() {
    // a tube butted upright is welded horizontally, PC; lying, from flat over vertical to overhead
    let mut f = empty();
    f.tube("a", square(60.0, 60.0, 0.0), &[v(0.0, 0.0, 0.0), v(300.0, 0.0, 0.0)]);
    f.tube("b", square(60.0, 60.0, 0.0), &[v(300.0, 0.0, 0.0), v(600.0, 0.0, 0.0)]);
    f.setups.push(holdtrue::frame::Setup { name: "upright".into(), up: v(1.0, 0.0, 0.0) });
    let (_, s) = f.seams();
    let seam = &s.seams[0];
    assert!(seam.segments.iter().all(|s| s.positions[1] == Position::PC));
    let at = |clock: &str| seam.segments.iter().find(|s| s.clock_from == clock).map(|s| s.positions[0]);
    // 60 wide faces are cut twice each: 11:05 to 12:55 lies flat on top
    assert_eq!(at("11:05"), Some(Position::PA), "{:?}", clocks(seam));
    assert_eq!(at("2:05"), Some(Position::Vertical));
    assert_eq!(at("5:05"), Some(Position::PE));
}

#[test]
fn open_ranges_are_not_welded() {
    let mut f = t_joint(round(48.3, 2.6), round(33.7, 2.6), 90.0);
    f.wish(&[0, 1]).open = vec![(11.0, 1.0)];
    let (_, s) = f.seams();
    let seam = &s.seams[0];
    assert!(!seam.closed);
    assert_eq!(seam.lines.len(), 1);
    assert_eq!(seam.segments[0].clock_from, "1:00");
    assert_eq!(seam.segments.last().unwrap().clock_to, "11:00");
    let open = 110.12 - seam.length_mm;
    // a sixth of the turn, a little less than a sixth of the length near the crown
    near(open, 110.12 / 6.0, 0.9);
    assert_eq!(seam.unwelded, [format!("left open as wished, 11:00 to 1:00: {open:.0} mm")]);
    assert!(s.sealed.is_empty());
}

//! The clock on a seam, seen along the branch towards the carrier.

use glam::DVec3;
use std::f64::consts::TAU;

/// A branch nearer to the vertical than this has no "up" on its clock, degrees.
const VERTICAL_DEG: f64 = 15.0;

/// Middle, viewing direction and 12 o'clock of a seam.
#[derive(Debug, Clone, Copy)]
pub(super) struct Clock {
    pub centre: DVec3,
    /// Along the branch towards the carrier.
    pub axis: DVec3,
    /// Where 12 o'clock points, square to `axis`, and its word.
    pub up: (DVec3, &'static str),
}

impl Clock {
    /// 12 o'clock is up, or forward if one looks (nearly) straight up or down.
    pub(super) fn new(centre: DVec3, axis: DVec3, up: DVec3, forward: DVec3) -> Clock {
        let square = |v: DVec3| (v - axis * v.dot(axis)).normalize();
        let steep = axis.dot(up).abs() > VERTICAL_DEG.to_radians().cos();
        let up = if steep { (square(forward), "forward") } else { (square(up), "up") };
        Clock { centre, axis, up }
    }

    /// Turns from 12 o'clock, clockwise, 0 to 1.
    pub(super) fn turn(&self, p: DVec3) -> f64 {
        let d = p - self.centre;
        let right = self.axis.cross(self.up.0);
        (d.dot(right).atan2(d.dot(self.up.0)) / TAU).rem_euclid(1.0)
    }

    /// `10:30`, to the nearest five minutes.
    pub(super) fn name(&self, p: DVec3) -> String {
        let twelfths = (self.turn(p) * 144.0).round() as u32 % 144;
        let hour = if twelfths < 12 { 12 } else { twelfths / 12 };
        format!("{hour}:{:02}", twelfths % 12 * 5)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hours_go_round_clockwise_for_the_viewer() {
        // looking along +X (forward), up is Z; the viewer's right hand is −Y
        let c = Clock::new(DVec3::ZERO, DVec3::X, DVec3::Z, DVec3::Y);
        let name = |y: f64, z: f64| c.name(DVec3::new(0.0, y, z));
        assert_eq!(name(0.0, 1.0), "12:00");
        assert_eq!(name(-1.0, 0.0), "3:00");
        assert_eq!(name(0.0, -1.0), "6:00");
        assert_eq!(name(1.0, 0.0), "9:00");
        assert_eq!(name(1.0, 1.0), "10:30");
        assert_eq!(name(0.001, 1.0), "12:00");
    }

    #[test]
    fn a_vertical_branch_takes_forward() {
        let c = Clock::new(DVec3::ZERO, -DVec3::Z, DVec3::Z, DVec3::X);
        assert_eq!(c.up, (DVec3::X, "forward"));
        // looking down with forward at the top, the right hand is −Y
        assert_eq!(c.name(DVec3::new(0.0, -1.0, 0.0)), "3:00");
    }
}

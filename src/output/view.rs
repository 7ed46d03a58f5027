//! From which side a frame is looked at, and how space becomes paper.

use super::drawing::{Area, Pt, pt};
use glam::DVec3;

/// A way to look at a frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum View {
    /// From the front right, a little from above.
    ThreeQuarter,
    /// From the right side; the front is to the right.
    Side,
    /// From above; the front is to the right.
    Top,
    /// From the front; the frame's left is to the right.
    Front,
}

impl View {
    /// All views, the most telling first.
    pub const ALL: [View; 4] = [View::ThreeQuarter, View::Side, View::Top, View::Front];

    /// Word for sheets and commands.
    pub fn word(self) -> &'static str {
        match self {
            View::ThreeQuarter => "three-quarter",
            View::Side => "side",
            View::Top => "top",
            View::Front => "front",
        }
    }

    /// The view of a word.
    pub fn from_word(word: &str) -> Option<View> {
        View::ALL.into_iter().find(|v| v.word() == word)
    }

    /// The camera for a frame that lies with `up` up; `forward` is square to it.
    pub fn camera(self, up: DVec3, forward: DVec3) -> Camera {
        let left = up.cross(forward);
        match self {
            View::ThreeQuarter => Camera::towards_eye(forward * 0.62 - left * 0.68 + up * 0.5, up),
            View::Side => Camera { right: forward, up, to_eye: -left },
            View::Top => Camera { right: forward, up: left, to_eye: up },
            View::Front => Camera { right: left, up, to_eye: forward },
        }
    }
}

/// A parallel projection: three unit vectors, square to each other.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Camera {
    /// To the right on paper.
    pub right: DVec3,
    /// Up on paper.
    pub up: DVec3,
    /// Out of the paper.
    pub to_eye: DVec3,
}

impl Camera {
    /// A camera from the direction of the eye; `up` comes out as nearly upwards as it can.
    ///
    /// If the eye lies in the direction of `up` itself, some direction square to it is taken.
    pub fn towards_eye(to_eye: DVec3, up: DVec3) -> Camera {
        let to_eye = to_eye.normalize();
        let flat = up - to_eye * up.dot(to_eye);
        let up = if flat.length() > 1e-6 { flat.normalize() } else { to_eye.any_orthonormal_vector() };
        Camera { right: up.cross(to_eye), up, to_eye }
    }

    /// A place in space on paper, mm in true size, y downwards.
    pub fn flat(&self, p: DVec3) -> Pt {
        pt(p.dot(self.right), -p.dot(self.up))
    }
}

/// A camera with the scale and shift that bring what it sees into an area of paper.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fitted {
    /// The camera.
    pub camera: Camera,
    /// Millimetres on paper for one in space.
    pub scale: f64,
    shift: Pt,
}

impl Fitted {
    /// Fits places into an area; a single place comes to its middle.
    pub fn new(camera: Camera, places: impl IntoIterator<Item = DVec3>, area: Area) -> Fitted {
        let mut seen: Option<Area> = None;
        for p in places {
            let dot = Area::around(camera.flat(p), 0.0, 0.0);
            seen = Some(seen.map_or(dot, |s| s.with(&dot)));
        }
        let seen = seen.unwrap_or(Area::around(pt(0.0, 0.0), 0.0, 0.0));
        let fit = |room: f64, size: f64| if size > 1e-9 { room / size } else { f64::INFINITY };
        let scale = fit(area.width(), seen.width()).min(fit(area.height(), seen.height()));
        let scale = if scale.is_finite() { scale } else { 1.0 };
        Fitted { camera, scale, shift: area.middle() - seen.middle() * scale }
    }

    /// A place in space on paper.
    pub fn on_paper(&self, p: DVec3) -> Pt {
        self.camera.flat(p) * self.scale + self.shift
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_camera_is_square_and_right_handed() {
        for (up, forward) in [(DVec3::Z, DVec3::X), (DVec3::Y, DVec3::Z), (DVec3::X, -DVec3::Y)] {
            for view in View::ALL {
                let c = view.camera(up, forward);
                assert!((c.right.cross(c.up) - c.to_eye).length() < 1e-12, "{view:?}");
                assert!((c.right.length() - 1.0).abs() < 1e-12 && c.right.dot(c.up).abs() < 1e-12);
                assert!(c.flat(up).y <= 1e-12, "{view:?}: up does not go up");
                assert_eq!(View::from_word(view.word()), Some(view));
            }
        }
    }

    #[test]
    fn what_is_fitted_fills_the_area_and_stays_in_it() {
        let area = Area { left: 10.0, top: 20.0, right: 110.0, bottom: 60.0 };
        let places = [DVec3::ZERO, DVec3::new(1400.0, 300.0, 0.0), DVec3::new(200.0, -420.0, 833.0)];
        for view in View::ALL {
            let fitted = Fitted::new(view.camera(DVec3::Z, DVec3::X), places, area);
            let seen = places
                .map(|p| Area::around(fitted.on_paper(p), 0.0, 0.0))
                .into_iter()
                .reduce(|a, b| a.with(&b))
                .unwrap();
            assert!(area.holds(&seen, 1e-9));
            let full = (seen.width() - area.width()).abs().min((seen.height() - area.height()).abs());
            assert!(full < 1e-9, "{view:?} leaves both sides empty");
        }
    }
}

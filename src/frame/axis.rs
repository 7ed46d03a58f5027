//! Places along a tube: point, direction, height, faces, nearest place.

use super::{Section, Shape, Tube};
use glam::{DMat3, DVec3};

impl Tube {
    /// Length of the axis from work point to work point, mm.
    pub fn length_mm(&self) -> f64 {
        *self.s.last().unwrap_or(&0.0)
    }

    /// Index of the chord that holds arc length `s_mm` (clamped to the tube).
    pub fn chord(&self, s_mm: f64) -> usize {
        let inner = &self.s[1..self.s.len() - 1];
        inner.iter().take_while(|s| **s <= s_mm).count()
    }

    /// The point of the axis at arc length `s_mm`; past the ends the end chords are prolonged.
    pub fn point_at(&self, s_mm: f64) -> DVec3 {
        let i = self.chord(s_mm);
        self.axis[i] + self.tangent_of(i) * (s_mm - self.s[i])
    }

    /// Unit direction of the axis at arc length `s_mm`, from start to end.
    pub fn tangent_at(&self, s_mm: f64) -> DVec3 {
        self.tangent_of(self.chord(s_mm))
    }

    /// Unit direction of the section's height at arc length `s_mm`.
    pub fn height_at(&self, s_mm: f64) -> DVec3 {
        self.height_dir[self.chord(s_mm)]
    }

    /// Local axes at arc length `s_mm` as columns: along, height, across (= along × height).
    pub fn axes_at(&self, s_mm: f64) -> DMat3 {
        let (t, h) = (self.tangent_at(s_mm), self.height_at(s_mm));
        DMat3::from_cols(t, h, t.cross(h))
    }

    /// The place on the axis nearest to `p`: arc length and distance, mm.
    pub fn nearest(&self, p: DVec3) -> (f64, f64) {
        let mut best = (0.0, f64::INFINITY);
        for (i, pair) in self.axis.windows(2).enumerate() {
            let along = (p - pair[0]).dot(self.tangent_of(i)).clamp(0.0, self.s[i + 1] - self.s[i]);
            let far = p.distance(pair[0] + self.tangent_of(i) * along);
            if far < best.1 - 1e-9 {
                best = (self.s[i] + along, far);
            }
        }
        best
    }

    /// How far `p` lies outside the tube's outer surface, mm; zero or less is inside or on it.
    /// The ends count as cut square. For square outlines the largest overshoot of a side.
    pub fn outside_mm(&self, p: DVec3, section: &Section) -> f64 {
        let (s, _) = self.nearest(p);
        let local = self.axes_at(s).transpose() * (p - self.point_at(s));
        section.shape.outside_mm(local.y, local.z).max(local.x.abs())
    }

    fn tangent_of(&self, chord: usize) -> DVec3 {
        (self.axis[chord + 1] - self.axis[chord]).normalize()
    }
}

impl Shape {
    /// How far a place in the cross-section lies outside the outline, mm (negative inside); `h` along
    /// the height, `w` across. Rounded corners are ignored: at most 0.3 corner radii too small there.
    pub fn outside_mm(&self, h: f64, w: f64) -> f64 {
        match self.round_od() {
            Some(od) => h.hypot(w) - od / 2.0,
            None => {
                let [half_h, half_w] = self.half_mm();
                (h.abs() - half_h).max(w.abs() - half_w)
            }
        }
    }

    /// Half the outside size along the height and across it, mm.
    pub fn half_mm(&self) -> [f64; 2] {
        match *self {
            Shape::Round { od, .. } | Shape::Solid { od } => [od / 2.0, od / 2.0],
            Shape::Box { height, width, .. } => [height / 2.0, width / 2.0],
            Shape::Flat { width, thickness } => [thickness / 2.0, width / 2.0],
        }
    }

    /// Outside diameter if the section is round.
    pub fn round_od(&self) -> Option<f64> {
        match *self {
            Shape::Round { od, .. } | Shape::Solid { od } => Some(od),
            _ => None,
        }
    }

    /// Wall of a hollow section; least thickness of a bar, mm.
    pub fn wall_mm(&self) -> f64 {
        match *self {
            Shape::Round { wall, .. } | Shape::Box { wall, .. } => wall,
            Shape::Flat { width, thickness } => thickness.min(width),
            Shape::Solid { od } => od,
        }
    }

    /// True for round and square tube, false for bars and plates.
    pub fn hollow(&self) -> bool {
        matches!(self, Shape::Round { .. } | Shape::Box { .. })
    }
}

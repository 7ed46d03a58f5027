//! What a section resists and weighs: area, inertia, torsion, perimeter.

use super::Shape;
use std::f64::consts::PI;

/// Properties of a cross-section. Lengths mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Properties {
    /// Area, mm².
    pub area_mm2: f64,
    /// Second moment of area against bending in the direction of the height, mm⁴ (about the axis
    /// across it; the strong one of an upright rectangular tube).
    pub i_height_mm4: f64,
    /// Second moment of area against bending across the height, mm⁴.
    pub i_across_mm4: f64,
    /// Torsion constant, mm⁴.
    pub torsion_mm4: f64,
    /// Outer perimeter, mm: the surface per length that loses heat and is painted.
    pub perimeter_mm: f64,
    /// Half the outside size along the height, mm.
    pub half_height_mm: f64,
    /// Half the outside size across it, mm.
    pub half_across_mm: f64,
}

impl Properties {
    /// Mass per metre, kg/m, for a density in kg/m³.
    pub fn kg_per_m(&self, density_kg_m3: f64) -> f64 {
        self.area_mm2 * 1e-6 * density_kg_m3
    }
}

impl Shape {
    /// Section properties.
    ///
    /// Round tube and bar: exact. Square and rectangular tube: exact for true round corners
    /// (inner radius = outer radius less the wall), torsion as a closed thin wall,
    ///
    /// ```text
    /// I_t = t³·h/3 + 4·A_h²·t/h      t    wall, mm
    ///                                h    length of the wall's middle line, mm
    ///                                A_h  area inside it, mm²
    /// ```
    ///
    /// which is the formula of EN 10219-2:2006 annex B (and EN 10210-2:2006 annex A; from memory,
    /// checked against their tables). Flat bar: exact series of Saint-Venant (Timoshenko and
    /// Goodier, Theory of Elasticity, the torsion of a rectangular bar; from memory).
    pub fn properties(&self) -> Properties {
        let [half_height_mm, half_across_mm] = self.half_mm();
        let with = |area_mm2, i_height_mm4, i_across_mm4, torsion_mm4, perimeter_mm| Properties {
            area_mm2,
            i_height_mm4,
            i_across_mm4,
            torsion_mm4,
            perimeter_mm,
            half_height_mm,
            half_across_mm,
        };
        match *self {
            Shape::Round { od, wall } => {
                let id = od - 2.0 * wall;
                let i = PI / 64.0 * (od.powi(4) - id.powi(4));
                with(PI / 4.0 * (od * od - id * id), i, i, 2.0 * i, PI * od)
            }
            Shape::Solid { od } => {
                let i = PI / 64.0 * od.powi(4);
                with(PI / 4.0 * od * od, i, i, 2.0 * i, PI * od)
            }
            Shape::Flat { width, thickness } => with(
                width * thickness,
                width * thickness.powi(3) / 12.0,
                thickness * width.powi(3) / 12.0,
                bar_torsion(width, thickness),
                2.0 * (width + thickness),
            ),
            Shape::Box { height, width, wall, corner } => {
                let inner = (corner - wall).max(0.0);
                let (h, w) = (height - 2.0 * wall, width - 2.0 * wall);
                let less = |outer: f64, inner: f64| outer - inner;
                let round = 4.0 - PI;
                let middle = (corner + inner) / 2.0;
                let line = 2.0 * (width - wall + height - wall) - 2.0 * middle * round;
                let inside = (width - wall) * (height - wall) - middle * middle * round;
                with(
                    less(area(height, width, corner), area(h, w, inner)),
                    less(inertia(height, width, corner), inertia(h, w, inner)),
                    less(inertia(width, height, corner), inertia(w, h, inner)),
                    wall.powi(3) * line / 3.0 + 4.0 * inside * inside * wall / line,
                    2.0 * (height + width) - 2.0 * corner * round,
                )
            }
        }
    }
}

/// Area of a rectangle with round corners, mm².
fn area(height: f64, width: f64, corner: f64) -> f64 {
    height * width - (4.0 - PI) * corner * corner
}

/// Second moment of a rectangle with round corners against bending along its height, mm⁴.
fn inertia(height: f64, width: f64, corner: f64) -> f64 {
    // What a corner lacks: the square over the radius less a quarter circle; its area, the distance
    // of its centroid from the edge, and its own second moment.
    let lacks = (1.0 - PI / 4.0) * corner * corner;
    let from_edge = (10.0 - 3.0 * PI) / (12.0 - 3.0 * PI) * corner;
    let own = (1.0 / 3.0 - PI / 16.0 - 1.0 / (3.0 * (12.0 - 3.0 * PI))) * corner.powi(4);
    width * height.powi(3) / 12.0 - 4.0 * (own + lacks * (height / 2.0 - from_edge).powi(2))
}

/// Torsion constant of a solid rectangle, mm⁴.
fn bar_torsion(a: f64, b: f64) -> f64 {
    let (long, short) = if a > b { (a, b) } else { (b, a) };
    // The terms fall with the fifth power of n: five of them leave less than 1e-6.
    let sum: f64 = (0..5)
        .map(|k| f64::from(2 * k + 1))
        .map(|n| (n * PI * long / (2.0 * short)).tanh() / n.powi(5))
        .sum();
    long * short.powi(3) * (1.0 / 3.0 - 64.0 / PI.powi(5) * short / long * sum)
}

//! Section properties against the published tables of structural hollow sections.
//!
//! Source: EN 10219-2:2006, annex C (cold-formed welded sections; outer corner radius 2 t up to a
//! wall of 6 mm, 2.5 t up to 10 mm), as printed in the section tables of a maker of tube; seen.
//! Columns: mass kg/m (at 7850 kg/m³), area cm², I strong and weak cm⁴, torsion constant cm⁴,
//! outer surface m²/m. The tables print three digits.

use crate::support::near_rel;
use holdtrue::frame::Shape;

/// Half a unit in the third digit, at worst of a value that begins with 1.
const THREE_DIGITS: f64 = 0.005;

struct Row {
    shape: Shape,
    kg_per_m: f64,
    area_cm2: f64,
    i_strong_cm4: f64,
    i_weak_cm4: f64,
    torsion_cm4: f64,
    surface_m2_per_m: f64,
}

fn hollow(height: f64, width: f64, wall: f64, values: [f64; 6]) -> Row {
    let corner = if wall <= 6.0 { 2.0 } else { 2.5 } * wall;
    row(Shape::Box { height, width, wall, corner }, values)
}

fn round(od: f64, wall: f64, values: [f64; 5]) -> Row {
    let [kg, a, i, it, s] = values;
    row(Shape::Round { od, wall }, [kg, a, i, i, it, s])
}

fn row(
    shape: Shape,
    [kg_per_m, area_cm2, i_strong_cm4, i_weak_cm4, torsion_cm4, surface_m2_per_m]: [f64; 6],
) -> Row {
    Row { shape, kg_per_m, area_cm2, i_strong_cm4, i_weak_cm4, torsion_cm4, surface_m2_per_m }
}

#[test]
fn en_10219_tables() {
    let rows = [
        hollow(25.0, 25.0, 2.0, [1.36, 1.74, 1.48, 1.48, 2.53, 0.093]),
        hollow(40.0, 40.0, 3.0, [3.30, 4.21, 9.32, 9.32, 15.8, 0.150]),
        hollow(60.0, 60.0, 4.0, [6.71, 8.55, 43.6, 43.6, 72.6, 0.226]),
        hollow(100.0, 100.0, 8.0, [21.4, 27.2, 366.0, 366.0, 645.0, 0.366]),
        hollow(120.0, 120.0, 10.0, [31.8, 40.6, 777.0, 777.0, 1380.0, 0.437]),
        hollow(50.0, 25.0, 2.0, [2.15, 2.74, 8.38, 2.81, 7.06, 0.143]),
        hollow(60.0, 40.0, 3.0, [4.25, 5.41, 25.4, 13.4, 29.3, 0.190]),
        hollow(80.0, 40.0, 3.0, [5.19, 6.61, 52.3, 17.6, 43.9, 0.230]),
        hollow(100.0, 50.0, 4.0, [8.59, 10.9, 134.0, 44.9, 113.0, 0.286]),
        round(33.7, 3.0, [2.27, 2.89, 3.44, 6.88, 0.106]),
        round(48.3, 4.0, [4.37, 5.57, 13.8, 27.5, 0.152]),
        round(60.3, 3.0, [4.24, 5.40, 22.2, 44.4, 0.189]),
        round(114.3, 6.3, [16.8, 21.4, 313.0, 625.0, 0.359]),
    ];
    for row in rows {
        let p = row.shape.properties();
        println!("{:?}", row.shape);
        near_rel(p.kg_per_m(7850.0), row.kg_per_m, THREE_DIGITS);
        near_rel(p.area_mm2 / 1e2, row.area_cm2, THREE_DIGITS);
        near_rel(p.i_height_mm4 / 1e4, row.i_strong_cm4, THREE_DIGITS);
        near_rel(p.i_across_mm4 / 1e4, row.i_weak_cm4, THREE_DIGITS);
        near_rel(p.torsion_mm4 / 1e4, row.torsion_cm4, THREE_DIGITS);
        near_rel(p.perimeter_mm / 1e3, row.surface_m2_per_m, THREE_DIGITS);
    }
}

/// Torsion of solid rectangles: coefficient β in J = β·b·t³ for b/t = 1, 2, 5, 10.
/// Source: Timoshenko and Goodier, Theory of Elasticity, table of k₁ for rectangular bars; from memory.
#[test]
fn solid_rectangles_in_torsion() {
    for (ratio, beta) in [(1.0, 0.1406), (2.0, 0.229), (5.0, 0.291), (10.0, 0.312)] {
        let t = 6.0;
        let bar = Shape::Flat { width: ratio * t, thickness: t };
        near_rel(bar.properties().torsion_mm4, beta * ratio * t * t.powi(3), 0.003);
        // Turned by a quarter it is the same bar.
        let turned = Shape::Flat { width: t, thickness: ratio * t };
        near_rel(turned.properties().torsion_mm4, bar.properties().torsion_mm4, 1e-12);
    }
}

/// A tube bent in any direction: with a corner radius of half its side a square tube is a round one.
#[test]
fn a_square_tube_with_full_corners_is_a_round_tube() {
    let (square, round) = (
        Shape::Box { height: 48.0, width: 48.0, wall: 3.0, corner: 24.0 }.properties(),
        Shape::Round { od: 48.0, wall: 3.0 }.properties(),
    );
    near_rel(square.area_mm2, round.area_mm2, 1e-12);
    near_rel(square.i_height_mm4, round.i_height_mm4, 1e-9);
    near_rel(square.perimeter_mm, round.perimeter_mm, 1e-12);
    // Thin-wall formula against the exact one: they differ by (t/d)² or so.
    near_rel(square.torsion_mm4, round.torsion_mm4, 0.005);
}

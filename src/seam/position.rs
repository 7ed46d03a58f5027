//! Welding position from the way a segment lies.

use super::{Position, SeamPoint};
use glam::DVec3;

/// Steeper than this is vertical, degrees.
const STEEP_DEG: f64 = 45.0;

/// Welding position of a place on a seam, when `up` points up.
///
/// Two angles after ISO 6947: *slope*, between the weld's axis and the horizontal, and *rotation*, of
/// the middle of the weld's face about that axis, here counted from straight up (0°) to straight down
/// (180°). The face looks half way between the two walls' outward normals.
///
/// ```text
/// slope above 45°                      vertical (PF upwards, PG downwards)
/// rotation     0°   22.5°   67.5°   112.5°   157.5°   180°
/// fillet       PA  |  PB   |  PC   |   PD   |   PE
/// butt         PA       (45°)  PC  (135°)       PE
/// ```
///
/// Source: the main positions are those of ISO 6947 (from memory: PA 0°, PB 45°, PC 90°, PD 135°,
/// PE 180° in this count); the limits lie half way between neighbours (own choice: the standard
/// names main positions and gives others by their two angles).
pub fn position(p: &SeamPoint, fillet: bool, up: DVec3) -> Position {
    let slope = p.tangent.dot(up).clamp(-1.0, 1.0).asin().abs().to_degrees();
    if slope > STEEP_DEG + 1e-6 {
        return Position::Vertical;
    }
    let face = p.branch_normal + p.carrier_normal;
    // walls that face each other squarely (a lap's far side) leave the face to the carrier
    let face = if face.length() < 1e-6 { p.carrier_normal } else { face };
    let square_up = up - p.tangent * up.dot(p.tangent);
    let rotation = face.angle_between(square_up).to_degrees();
    // a hair of rounding must not decide: limits belong to the easier side
    let within = |limit: f64| rotation <= limit + 1e-6;
    if !fillet {
        return if within(45.0) {
            Position::PA
        } else if within(135.0) {
            Position::PC
        } else {
            Position::PE
        };
    }
    if within(22.5) {
        Position::PA
    } else if within(67.5) {
        Position::PB
    } else if within(112.5) {
        Position::PC
    } else if within(157.5) {
        Position::PD
    } else {
        Position::PE
    }
}

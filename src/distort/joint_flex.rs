//! How much the wall of a carrier gives under a branch: three lumped springs.
//!
//! Round on round: Fessler, Mockford and Webster (1986), "Parametric equations for the flexibility
//! matrices of single brace tubular joints in offshore structures", Proc. ICE; equations seen as
//! quoted in two programs' manuals, range from memory. Flat faces: a plate strip, see [`flat_face`].

use super::constants::BETA_CAP;

/// Local flexibility of a joint.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct JointFlex {
    /// Along the branch, mm/N.
    pub axial_mm_n: f64,
    /// Bending in the plane of the two tubes, rad/(N·mm).
    pub in_plane_rad_nmm: f64,
    /// Bending out of it, rad/(N·mm).
    pub out_of_plane_rad_nmm: f64,
    /// True if a ratio lies outside the range the equations were made for, or was capped.
    pub outside: bool,
}

/// Round branch on round carrier.
///
/// ```text
/// axial        1.95 γ^2.15 (1−β)^1.3 sin^2.19 θ / (E D)
/// out of plane 85.5 γ^2.20 exp(−3.85 β) sin^2.16 θ / (E D³)
/// in plane     134  γ^1.73 exp(−4.52 β) sin^1.22 θ / (E D³)
/// β = d/D, γ = D/(2T)     D, T carrier, d branch, mm; θ angle between axes; E MPa
/// ```
///
/// Range: γ 10 to 20, β 0.33 to 0.76, θ 35° to 90° (from memory). β is capped at 0.9, because the
/// axial term falls to zero at 1. Outside, `outside` is set.
///
/// ```
/// let f = holdtrue::distort::fessler(60.3, 2.9, 33.7, 90.0, 210_000.0);
/// assert!((f.axial_mm_n - 8.161e-6).abs() < 0.002e-6);
/// ```
pub fn fessler(d_carrier: f64, wall: f64, d_branch: f64, angle_deg: f64, e_mpa: f64) -> JointFlex {
    let gamma = d_carrier / (2.0 * wall);
    let beta = d_branch / d_carrier;
    let capped = beta.min(BETA_CAP);
    let sin = angle_deg.to_radians().sin();
    JointFlex {
        axial_mm_n: 1.95 * gamma.powf(2.15) * (1.0 - capped).powf(1.3) * sin.powf(2.19) / (e_mpa * d_carrier),
        in_plane_rad_nmm: 134.0 * gamma.powf(1.73) * (-4.52 * capped).exp() * sin.powf(1.22)
            / (e_mpa * d_carrier.powi(3)),
        out_of_plane_rad_nmm: 85.5 * gamma.powf(2.20) * (-3.85 * capped).exp() * sin.powf(2.16)
            / (e_mpa * d_carrier.powi(3)),
        outside: !(10.0..=20.0).contains(&gamma) || !(0.33..=0.76).contains(&beta) || angle_deg < 35.0,
    }
}

/// A branch on the flat face of a rectangular tube.
///
/// The face between the two side walls is taken as two plate strips, one on each side of the
/// branch, clamped at the side wall and at the branch, of width c and length ℓ:
///
/// ```text
/// c = (b₀ − b₁)/2            b₀ face width between wall middles, b₁ branch across, mm
/// ℓ = h₁ + 1.437 c           h₁ branch along the carrier, mm
/// D = E t³ / (12 (1 − ν²))
/// axial        1 / (24 D ℓ / c³)
/// in plane     1 / (24 D ℓ³ / (12 c³))
/// out of plane 1 / (2 D ℓ (3 b₁²/c³ + 6 b₁/c² + 4/c))
/// ```
///
/// Assumption. 1.437 makes a point load agree with a long plate clamped at its edges, 0.00725 P b²/D
/// (Timoshenko and Woinowsky-Krieger, *Theory of Plates and Shells*; from memory). b₁/b₀ is capped
/// at 0.9; above it `outside` is set.
pub fn flat_face(face_mm: f64, wall: f64, across: f64, along: f64, e_mpa: f64, poisson: f64) -> JointFlex {
    let b0 = face_mm - wall;
    let outside = across > BETA_CAP * b0;
    let b1 = across.min(BETA_CAP * b0);
    let c = 0.5 * (b0 - b1);
    let l = along + 1.437 * c;
    let d = e_mpa * wall.powi(3) / (12.0 * (1.0 - poisson * poisson));
    JointFlex {
        axial_mm_n: c.powi(3) / (24.0 * d * l),
        in_plane_rad_nmm: 12.0 * c.powi(3) / (24.0 * d * l.powi(3)),
        out_of_plane_rad_nmm: 1.0
            / (2.0 * d * l * (3.0 * b1 * b1 / c.powi(3) + 6.0 * b1 / (c * c) + 4.0 / c)),
        outside,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A small square on a wide face is a point load on a long clamped plate.
    #[test]
    fn point_load_on_a_clamped_strip() {
        let f = flat_face(103.0, 3.0, 1e-6, 1e-6, 210e3, 0.3);
        let d = 210e3 * 27.0 / (12.0 * 0.91);
        let want = 0.00725 * 100.0 * 100.0 / d;
        assert!((f.axial_mm_n / want - 1.0).abs() < 0.005, "{}", f.axial_mm_n / want);
    }

    #[test]
    fn equal_tubes_are_capped_and_marked() {
        let f = fessler(42.4, 2.6, 42.4, 90.0, 210e3);
        assert!(f.outside && f.axial_mm_n > 0.0);
        assert!(!fessler(60.0, 2.5, 30.0, 90.0, 210e3).outside);
    }
}

//! How much one pass shrinks: across the seam, and in the two walls.

use super::constants as c;
use super::structure::{Row, Structure, along};
use crate::frame::Frame;
use crate::joint::Meet;
use crate::library::Material;
use crate::seam::{Seam, SeamPoint};
use glam::DVec3;

/// How far a pass closes the gap across its seam, mm.
///
/// ```text
/// δ = f · C_t · (α/ρc) · q / t     q net heat input, J/mm; t mean of the two walls, mm
///                                 α/ρc mm³/J, mean of the two materials
/// ```
///
/// C_t is bounded by 1: a strip that is heated through and free to move cannot shrink more
/// (Okerblom's limit, derived). The shop's factors f come after the bound.
pub fn across(frame: &Frame, meet: &Meet, seam: &Seam, q_j_mm: f64) -> f64 {
    let s = 0.5 * (shrinkability(frame, meet.branch.0) + shrinkability(frame, meet.carriers[0].0));
    let t = 0.5 * (seam.walls_mm[0] + seam.walls_mm[1]);
    factor(frame, seam) * frame.pull.c_t.min(1.0) * s * q_j_mm / t
}

/// What a root gap adds to the shrinkage across a seam beyond its extra metal and heat, mm: its first
/// layer spans it.
///
/// ```text
/// S = 0.2 A/t + 0.05 g      A metal, mm²; g root gap, mm
/// ```
///
/// The second term of Spraragen and Ettinger (1944), as the AWS gives it (form seen, origin from
/// memory); found on butts in plate, used here for every seam (assumption). The first term is in the
/// heat already.
pub fn across_gap(frame: &Frame, meet: &Meet, seam: &Seam) -> f64 {
    factor(frame, seam) * 0.05 * meet.gap_mm
}

/// The shop's factor for a seam: common times kind.
pub fn factor(frame: &Frame, seam: &Seam) -> f64 {
    let kind = frame.pull.kind_factors.iter().find(|(k, _)| k == seam.kind.word()).map_or(1.0, |(_, f)| *f);
    frame.pull.common_factor * kind
}

/// How much a tack shrinks across its seam, per millimetre of its length, against a pass of that seam:
/// the ratio of the widths that the two short beads heat so far that they shrink.
///
/// ```text
/// T(y) = q / (√π ρ c t y) · F(ℓ/2y)      hottest at distance y beside the middle of a bead
/// F(λ) = max over u of √u e^(−u) erf(λ √u)
/// T(y) = n σ_y / (E α)                    gives the half width y of a bead of length ℓ
/// share = y(tack) / y(pass)               q net heat input, J/mm; t wall, mm; n = 2
/// ```
///
/// A long bead heats a strip of its own width; at the ends of a short one the heat flows off all
/// round, so it heats less beside each of its millimetres. Thin plate, heat laid at once along the
/// bead, no loss (superposed line sources: Carslaw and Jaeger, *Conduction of Heat in Solids*, 1959,
/// from memory; that the width decides is an assumption). Between 0 and 1.
pub fn tack_share(material: &Material, wall_mm: f64, q_j_mm: f64, tack_mm: f64, pass_mm: f64) -> f64 {
    if tack_mm >= pass_mm {
        return 1.0;
    }
    let rise_k = c::YIELD_STRAINS.value * material.yield_mpa / (material.e_mpa * material.alpha_per_k);
    let rho_c = material.alpha_per_k / material.shrink_mm3_per_j();
    // y / F = s
    let s = q_j_mm / (std::f64::consts::PI.sqrt() * rho_c * wall_mm.max(1e-3) * rise_k);
    let width = |length_mm: f64| {
        let (mut lo, mut hi) = (0.0, s);
        for _ in 0..60 {
            let y = 0.5 * (lo + hi);
            if y < s * hottest(0.5 * length_mm / y) { lo = y } else { hi = y }
        }
        0.5 * (lo + hi)
    };
    let long = width(pass_mm);
    if long > 0.0 { (width(tack_mm) / long).clamp(0.0, 1.0) } else { 1.0 }
}

/// F(λ) of [`tack_share`], to a thousandth.
fn hottest(lambda: f64) -> f64 {
    // The largest value lies between u = 1/2 (a long bead) and u = 1 (a spot).
    (0..=50)
        .map(|i| {
            let u = 0.5 + 0.01 * f64::from(i);
            u.sqrt() * (-u).exp() * erf(lambda * u.sqrt())
        })
        .fold(0.0, f64::max)
}

/// Error function; Abramowitz and Stegun 7.1.26, error below 1.5e-7 (from memory).
fn erf(x: f64) -> f64 {
    let t = 1.0 / (1.0 + 0.327_591_1 * x);
    let poly = t
        * (0.254_829_592
            + t * (-0.284_496_736 + t * (1.421_413_741 + t * (-1.453_152_027 + t * 1.061_405_429))));
    1.0 - poly * (-x * x).exp()
}

/// α/(ρc) of a tube's material, mm³/J.
fn shrinkability(frame: &Frame, tube: usize) -> f64 {
    frame.materials[frame.sections[frame.tubes[tube].section].material].shrink_mm3_per_j()
}

/// A wall that shrinks beside a seam: where its three unit loads act.
///
/// ```text
/// V = ℓ · C_l · (α/ρc) · q · share          shrinkage volume, mm³
/// shortens the tube by V/A, kinks it by V·e/I towards the seam
/// ```
///
/// C_l = 0.335 follows from elastic–ideally plastic strips (derived; the tendon force E·V/ℓ is then
/// 200 to 245 N per J/mm for steel, White 1977 gives 200, from memory). e is the true offset of
/// the pass from the tube's axis. For long thin tubes it is an upper bound: where the tendon force
/// comes near to yield over the whole section the tube shortens less.
#[derive(Debug, Clone)]
pub struct Wall {
    tube: usize,
    node: usize,
    share: f64,
    first: usize,
    at: DVec3,
    axes: [DVec3; 3],
    area: f64,
    iy: f64,
    iz: f64,
    wall: f64,
    branch: bool,
    /// Normal of the face on which a plate lies that is welded all round.
    flat_on: Option<DVec3>,
}

impl Wall {
    /// The wall of `tube` at `node`, taking `share` of the heat, `wall` mm thick, the branch's or the
    /// carrier's; its unit loads start at `first`. `flat_on`: the plate is welded all round on a face with
    /// this normal and cannot curl off it.
    #[allow(clippy::too_many_arguments)]
    pub fn new(
        frame: &Frame,
        st: &Structure,
        tube: usize,
        node: usize,
        share: f64,
        wall: f64,
        branch: bool,
        first: usize,
        flat_on: Option<DVec3>,
    ) -> Wall {
        let t = &frame.tubes[tube];
        let (at, chord) = along(&t.axis, &t.s, st.nodes[node].s_mm);
        let x = (t.axis[chord + 1] - t.axis[chord]).normalize();
        let z = t.height_dir[chord];
        let z = (z - x * z.dot(x)).normalize();
        let v = &st.values[tube];
        Wall {
            tube,
            node,
            share,
            first,
            at,
            axes: [x, z.cross(x), z],
            area: v.area_mm2,
            iy: v.iy_mm4,
            iz: v.iz_mm4,
            wall,
            branch,
            flat_on,
        }
    }
    /// One millimetre shorter, one radian about y, one radian about z.
    pub fn unit_loads(&self, st: &Structure) -> Vec<Row> {
        self.jumps().map(|(_, node, shift, turn)| st.jump_load(node, shift, turn)).to_vec()
    }
    /// The three unit loads as jumps: (unit load, node, shift, turn).
    pub fn jumps(&self) -> [(usize, usize, DVec3, DVec3); 3] {
        let [x, y, z] = self.axes;
        let jumps = [(-x, DVec3::ZERO), (DVec3::ZERO, y), (DVec3::ZERO, z)];
        std::array::from_fn(|i| (self.first + i, self.node, jumps[i].0, jumps[i].1))
    }
    /// Amounts of the three unit loads for a piece of seam with net energy `energy_j`:
    /// (unit load, amount, tube).
    pub fn amounts(&self, frame: &Frame, p: &SeamPoint, energy_j: f64) -> [(usize, f64, usize); 3] {
        let lengthwise = p.tangent.dot(self.axes[0]).powi(2);
        let both = lengthwise + (1.0 - lengthwise) * c::WALL_ACROSS.value;
        let v = frame.pull.c_l * shrinkability(frame, self.tube) * energy_j * self.share * both;
        // The wall shrinks in its middle, half a wall inside the seam's surface.
        let inside = if self.branch { p.branch_normal } else { p.carrier_normal };
        let r = p.at - inside * (0.5 * self.wall) - self.at;
        let (ry, rz) = (r.dot(self.axes[1]), r.dot(self.axes[2]));
        let turns = |axis: DVec3| match self.flat_on {
            Some(n) if axis.dot(n).abs() < 0.7 => 0.0,
            _ => 1.0,
        };
        [
            (self.first, v / self.area, self.tube),
            (self.first + 1, -turns(self.axes[1]) * v * rz / self.iy, self.tube),
            (self.first + 2, turns(self.axes[2]) * v * ry / self.iz, self.tube),
        ]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// erf(0.5) = 0.5204999, erf(1) = 0.8427008, erf(2) = 0.9953223 (any table of functions). A long
    /// bead: the largest of √u e^(−u) is 1/√(2e) = 0.428882, so T = 0.242 q/(ρ c t y), the known line
    /// source. A spot: erf(λ√u) → 2λ√u/√π, largest at u = 1.
    #[test]
    fn limits_of_the_short_bead() {
        for (x, want) in [(0.5, 0.520_499_9), (1.0, 0.842_700_8), (2.0, 0.995_322_3)] {
            assert!((erf(x) - want).abs() < 2e-7, "{x}");
        }
        assert!((hottest(50.0) - 0.428_882).abs() < 1e-5);
        let spot = 0.01 * 2.0 / std::f64::consts::PI.sqrt() / std::f64::consts::E;
        assert!((hottest(0.01) / spot - 1.0).abs() < 1e-3);
    }

    /// A spot's width goes with the root of its energy, so two short beads with the root of their
    /// lengths; beads longer than the heat reaches pull alike.
    #[test]
    fn a_tack_pulls_less_than_a_pass_for_each_millimetre() {
        let steel = crate::library::material("S235").expect("built in");
        let share = |q: f64, tack: f64, pass: f64| tack_share(steel, 2.0, q, tack, pass);
        assert!((share(2000.0, 1.0, 4.0) - 0.5).abs() < 0.01, "{}", share(2000.0, 1.0, 4.0));
        assert!((share(20.0, 200.0, 400.0) - 1.0).abs() < 0.01);
        let usual = share(170.0, 8.0, 25.0);
        assert!((0.5..0.8).contains(&usual), "{usual}");
        assert_eq!(share(170.0, 30.0, 25.0), 1.0);
        assert!(share(170.0, 6.0, 25.0) < usual);
    }
}

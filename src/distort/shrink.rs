//! How much one pass shrinks: across the seam, and in the two walls.

use super::constants as c;
use super::structure::{Row, Structure, along};
use crate::frame::Frame;
use crate::joint::Meet;
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

/// The shop's factor for a seam: common times kind, times what the running job taught of its joint.
pub fn factor(frame: &Frame, seam: &Seam) -> f64 {
    let kind = frame.pull.kind_factors.iter().find(|(k, _)| k == seam.kind.word()).map_or(1.0, |(_, f)| *f);
    let joint = frame.pull.joint_factors.get(seam.joint).copied().unwrap_or(1.0);
    frame.pull.common_factor * kind * joint
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
}

impl Wall {
    /// The wall of `tube` at `node`, taking `share` of the heat, `wall` mm thick, the branch's or the
    /// carrier's; its unit loads start at `first`.
    pub fn new(
        frame: &Frame,
        st: &Structure,
        tube: usize,
        node: usize,
        share: f64,
        wall: f64,
        branch: bool,
        first: usize,
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
        }
    }
    /// One millimetre shorter, one radian about y, one radian about z.
    pub fn unit_loads(&self, st: &Structure) -> Vec<Row> {
        vec![
            st.jump_load(self.node, -self.axes[0], DVec3::ZERO),
            st.jump_load(self.node, DVec3::ZERO, self.axes[1]),
            st.jump_load(self.node, DVec3::ZERO, self.axes[2]),
        ]
    }
    /// Its tube.
    pub fn tube(&self) -> usize {
        self.tube
    }
    /// Where it is on the tube's axis.
    pub fn at(&self) -> DVec3 {
        self.at
    }
    /// The four sides of the tube: outward direction, distance of the surface from the axis (mm),
    /// second moment of area against bending towards that side (mm⁴).
    pub fn sides(&self, half_across_mm: f64, half_height_mm: f64) -> [(DVec3, f64, f64); 4] {
        let [_, across, height] = self.axes;
        [
            (height, half_height_mm, self.iy),
            (-height, half_height_mm, self.iy),
            (across, half_across_mm, self.iz),
            (-across, half_across_mm, self.iz),
        ]
    }
    /// Amounts of the three unit loads for one millimetre of a heat line along the tube on one of its
    /// [`Wall::sides`]: (unit load, amount). `q_j_mm`: net heat per mm of line. The law is that of a
    /// pass laid lengthwise with all its heat in this wall.
    pub fn line_amounts(
        &self,
        frame: &Frame,
        side: DVec3,
        surface_mm: f64,
        q_j_mm: f64,
    ) -> [(usize, f64); 3] {
        let v = frame.pull.c_l * shrinkability(frame, self.tube) * q_j_mm;
        let r = side * (surface_mm - 0.5 * self.wall);
        let (ry, rz) = (r.dot(self.axes[1]), r.dot(self.axes[2]));
        [(self.first, v / self.area), (self.first + 1, -v * rz / self.iy), (self.first + 2, v * ry / self.iz)]
    }
    /// Amounts of the three unit loads for a kink of one radian that makes the tube hollow on a side.
    pub fn kink_amounts(&self, side: DVec3) -> [(usize, f64); 3] {
        let (ry, rz) = (side.dot(self.axes[1]), side.dot(self.axes[2]));
        [(self.first, 0.0), (self.first + 1, -rz), (self.first + 2, ry)]
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
        [
            (self.first, v / self.area, self.tube),
            (self.first + 1, -v * rz / self.iy, self.tube),
            (self.first + 2, v * ry / self.iz, self.tube),
        ]
    }
}

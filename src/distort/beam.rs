//! A straight piece of tube as a beam: section values and the 12 × 12 stiffness.

use crate::frame::Shape;
use glam::DVec3;

/// Area and second moments of a section. Local axes: x along the tube, z along the section's
/// height, y = z × x.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SectionValues {
    /// Area, mm².
    pub area_mm2: f64,
    /// ∫ z² dA, mm⁴: bending in the direction of the height.
    pub iy_mm4: f64,
    /// ∫ y² dA, mm⁴: bending across the height.
    pub iz_mm4: f64,
    /// St Venant torsion constant, mm⁴.
    pub j_mm4: f64,
}

/// Section values of a shape, as the frame room works them out.
pub fn section_values(shape: &Shape) -> SectionValues {
    let p = shape.properties();
    SectionValues {
        area_mm2: p.area_mm2,
        iy_mm4: p.i_height_mm4,
        iz_mm4: p.i_across_mm4,
        j_mm4: p.torsion_mm4,
    }
}

/// A straight beam between two nodes with its local axes.
#[derive(Debug, Clone)]
pub struct Beam {
    /// Its tube.
    pub tube: usize,
    /// Node at its start and end.
    pub nodes: [usize; 2],
    /// Length, mm.
    pub length_mm: f64,
    /// Local axes x, y, z in the frame's axes.
    pub axes: [DVec3; 3],
    /// Stiffness in the frame's axes, row-major 12 × 12; order: translation and rotation of the
    /// start, then of the end.
    pub k: Box<[[f64; 12]; 12]>,
}

impl Beam {
    /// An Euler–Bernoulli beam from `a` to `b` (any textbook of matrix structural analysis, for
    /// instance McGuire, Gallagher and Ziemian, chapter 5; from memory).
    pub fn new(
        tube: usize,
        nodes: [usize; 2],
        a: DVec3,
        b: DVec3,
        height: DVec3,
        values: &SectionValues,
        e_mpa: f64,
        g_mpa: f64,
    ) -> Beam {
        let length_mm = (b - a).length();
        let x = (b - a) / length_mm;
        let z = (height - x * height.dot(x)).normalize();
        let axes = [x, z.cross(x), z];
        let local = local_stiffness(length_mm, values, e_mpa, g_mpa);
        Beam { tube, nodes, length_mm, axes, k: Box::new(to_frame(&local, &axes)) }
    }
    /// Nodal forces of the beam when its ends are moved by `u` (12 values in the frame's axes).
    pub fn forces(&self, u: &[f64; 12]) -> [f64; 12] {
        let mut f = [0.0; 12];
        for (fi, row) in f.iter_mut().zip(self.k.iter()) {
            *fi = row.iter().zip(u).map(|(k, u)| k * u).sum();
        }
        f
    }
}

/// The 12 × 12 stiffness in local axes. N, mm, rad.
pub fn local_stiffness(l: f64, v: &SectionValues, e: f64, g: f64) -> [[f64; 12]; 12] {
    let mut k = [[0.0; 12]; 12];
    let mut put = |i: usize, j: usize, value: f64| {
        k[i][j] = value;
        k[j][i] = value;
    };
    let axial = e * v.area_mm2 / l;
    put(0, 0, axial);
    put(6, 6, axial);
    put(0, 6, -axial);
    let twist = g * v.j_mm4 / l;
    put(3, 3, twist);
    put(9, 9, twist);
    put(3, 9, -twist);
    // Bending in the plane x–y (about z) and in the plane x–z (about y, opposite signs).
    for (t, r, ei, s) in [(1, 5, e * v.iz_mm4, 1.0), (2, 4, e * v.iy_mm4, -1.0)] {
        let (a, b, c, d) = (12.0 * ei / l.powi(3), 6.0 * ei / (l * l), 4.0 * ei / l, 2.0 * ei / l);
        put(t, t, a);
        put(t + 6, t + 6, a);
        put(t, t + 6, -a);
        put(t, r, s * b);
        put(t, r + 6, s * b);
        put(r, t + 6, -s * b);
        put(t + 6, r + 6, -s * b);
        put(r, r, c);
        put(r + 6, r + 6, c);
        put(r, r + 6, d);
    }
    k
}

fn to_frame(local: &[[f64; 12]; 12], axes: &[DVec3; 3]) -> [[f64; 12]; 12] {
    let t = [axes[0].to_array(), axes[1].to_array(), axes[2].to_array()];
    let mut half = [[0.0; 12]; 12];
    let mut out = [[0.0; 12]; 12];
    for i in 0..12 {
        for b in 0..4 {
            for c in 0..3 {
                half[i][3 * b + c] = (0..3).map(|d| local[i][3 * b + d] * t[d][c]).sum();
            }
        }
    }
    for b in 0..4 {
        for c in 0..3 {
            for j in 0..12 {
                out[3 * b + c][j] = (0..3).map(|d| t[d][c] * half[3 * b + d][j]).sum();
            }
        }
    }
    // Equal to rounding already; made exactly symmetric so that a factorisation sees one matrix.
    for i in 0..12 {
        for j in 0..i {
            let mean = 0.5 * (out[i][j] + out[j][i]);
            out[i][j] = mean;
            out[j][i] = mean;
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(got: f64, want: f64, within: f64) {
        assert!((got - want).abs() <= within, "got {got}, want {want}");
    }

    #[test]
    fn a_rigid_motion_loads_nothing() {
        let v = section_values(&Shape::Round { od: 38.0, wall: 2.0 });
        let (a, b) = (DVec3::new(3.0, -2.0, 5.0), DVec3::new(200.0, 120.0, -70.0));
        let beam = Beam::new(0, [0, 1], a, b, DVec3::new(0.2, 1.0, 0.1), &v, 210e3, 81e3);
        let w = DVec3::new(0.3, -0.2, 0.5);
        let shift = DVec3::new(1.0, 2.0, -3.0);
        let mut u = [0.0; 12];
        for (n, p) in [a, b].into_iter().enumerate() {
            u[6 * n..6 * n + 3].copy_from_slice(&(shift + w.cross(p)).to_array());
            u[6 * n + 3..6 * n + 6].copy_from_slice(&w.to_array());
        }
        for f in beam.forces(&u) {
            near(f, 0.0, 1e-3);
        }
        // and a stretch does
        u[6] += 1.0;
        assert!(beam.forces(&u)[6] > 1.0);
    }
}

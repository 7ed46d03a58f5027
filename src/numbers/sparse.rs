//! Sparse symmetric algebra: Cholesky factors, and what a matrix sends to zero.

use super::dense::{Dense, dot, symmetric_eigen};
use faer::linalg::solvers::Solve;
use faer::sparse::linalg::solvers::{Llt, SymbolicLlt};
use faer::sparse::{SparseColMat, Triplet};
use faer::{Mat, Side};

/// A sparse vector: (place, value); equal places add up.
pub type Sparse = Vec<(usize, f64)>;

/// Vectors that are looked for at first.
const BLOCK: usize = 8;
/// Rounds of inverse iteration: each makes what is not sent to zero smaller by `SHIFT` / its eigenvalue.
const ROUNDS: usize = 4;
/// Added to the diagonal (which is scaled to 1): far above rounding, far below any eigenvalue that counts.
const SHIFT: f64 = 1e-13;
/// An eigenvalue of the scaled matrix below this counts as zero.
const ZERO: f64 = 1e-14;

/// Cholesky factors of a matrix from its entries (the lower triangle counts; equal places add up); `None`
/// if it is not positive definite.
pub fn cholesky(size: usize, entries: &[Triplet<usize, usize, f64>]) -> Option<Llt<usize, f64>> {
    let matrix = SparseColMat::<usize, f64>::try_new_from_triplets(size, size, entries).ok()?;
    let symbolic = SymbolicLlt::try_new(matrix.symbolic(), Side::Lower).ok()?;
    Llt::try_new_with_symbolic(symbolic, matrix.as_ref(), Side::Lower).ok()
}

/// An orthonormal basis of the vectors of `size` numbers to which all `rows` are square: what
/// `Σ h hᵀ` sends to zero. Empty if there are none.
///
/// Block inverse iteration on the matrix with its diagonal scaled to 1 and shifted a little, then
/// Rayleigh-Ritz, whose quotients are summed row by row and so are not drowned in rounding. The block
/// doubles until it holds a vector that is not sent to zero.
pub fn null_space(size: usize, rows: &[Sparse]) -> Vec<Vec<f64>> {
    let mut diagonal = vec![0.0; size];
    rows.iter().flatten().for_each(|(i, v)| diagonal[*i] += v * v);
    let scale: Vec<f64> = diagonal.iter().map(|d| if *d > 0.0 { d.sqrt().recip() } else { 1.0 }).collect();
    let rows: Vec<Sparse> =
        rows.iter().map(|h| h.iter().map(|(i, v)| (*i, v * scale[*i])).collect()).collect();
    let mut entries: Vec<_> = (0..size).map(|i| Triplet::new(i, i, SHIFT)).collect();
    for h in &rows {
        for (i, a) in h {
            entries.extend(h.iter().filter(|(j, _)| i >= j).map(|(j, b)| Triplet::new(*i, *j, a * b)));
        }
    }
    let Some(factor) = cholesky(size, &entries) else { return Vec::new() };
    let mut block = BLOCK.min(size);
    loop {
        let found = smallest(size, &rows, &factor, block);
        if found.len() < block || block == size {
            // Back in the caller's own scale.
            let unscaled = found.iter().map(|x| x.iter().zip(&scale).map(|(x, s)| x * s).collect());
            return orthonormal(unscaled.collect());
        }
        block = (2 * block).min(size);
    }
}

/// Those of the `block` smallest eigenvectors whose eigenvalue counts as zero.
fn smallest(size: usize, rows: &[Sparse], factor: &Llt<usize, f64>, block: usize) -> Vec<Vec<f64>> {
    // Any start will do that is not square to what is looked for; the same one every time.
    let start = |i: usize, j: usize| (1.0 + i as f64 * (0.7 + j as f64 * 0.31)).sin() + 0.1 * j as f64;
    let mut x: Vec<Vec<f64>> = (0..block).map(|j| (0..size).map(|i| start(i, j)).collect()).collect();
    for _ in 0..ROUNDS {
        let mut m = Mat::from_fn(size, x.len(), |i, j| x[j][i]);
        factor.solve_in_place(m.as_mut());
        x = orthonormal((0..x.len()).map(|j| (0..size).map(|i| m[(i, j)]).collect()).collect());
    }
    let n = x.len();
    let mut ritz = Dense::zeros(n, n);
    for h in rows {
        let along: Vec<f64> = x.iter().map(|x| h.iter().map(|(i, v)| v * x[*i]).sum()).collect();
        for i in 0..n {
            for j in 0..n {
                *ritz.at_mut(i, j) += along[i] * along[j];
            }
        }
    }
    let (values, vectors) = symmetric_eigen(&ritz);
    let mixed =
        |k: usize| (0..size).map(|i| (0..n).map(|j| vectors.at(j, k) * x[j][i]).sum()).collect::<Vec<f64>>();
    (0..n).filter(|k| values[*k] < ZERO).map(mixed).collect()
}

/// The same span in vectors of length 1, square to each other (Gram-Schmidt, twice); vectors that add
/// nothing to the span are left out.
fn orthonormal(vectors: Vec<Vec<f64>>) -> Vec<Vec<f64>> {
    let mut out: Vec<Vec<f64>> = Vec::new();
    for mut v in vectors {
        let before = dot(&v, &v).sqrt();
        for _ in 0..2 {
            for o in &out {
                let along = dot(o, &v);
                v.iter_mut().zip(o).for_each(|(v, o)| *v -= along * o);
            }
        }
        let length = dot(&v, &v).sqrt();
        if length > 1e-12 * before {
            v.iter_mut().for_each(|v| *v /= length);
            out.push(v);
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A chain of springs 1-2-3 and 4-5: each piece moves as one, so the null space is spanned by the
    /// marks of the pieces (linear algebra: the Laplacian of a graph has one zero for each piece).
    #[test]
    fn every_piece_of_a_chain_moves_as_one() {
        let link = |a: usize, b: usize, k: f64| vec![(a, k), (b, -k)];
        let mut rows = vec![link(0, 1, 1.0), link(1, 2, 1e-3), link(3, 4, 50.0)];
        let free = null_space(5, &rows);
        assert_eq!(free.len(), 2);
        for x in &free {
            assert!((x[0] - x[1]).abs() < 1e-9 && (x[1] - x[2]).abs() < 1e-9 && (x[3] - x[4]).abs() < 1e-9);
        }
        rows.push(vec![(2, 1e-2)]);
        assert_eq!(null_space(5, &rows).len(), 1);
        rows.push(vec![(4, 1e4)]);
        assert!(null_space(5, &rows).is_empty());
    }

    /// More loose pieces than the first block holds; and a place that no row speaks of.
    #[test]
    fn more_than_a_block() {
        let rows: Vec<Sparse> = (0..20).map(|i| vec![(2 * i, 1.0), (2 * i + 1, -1.0)]).collect();
        assert_eq!(null_space(40, &rows).len(), 20);
        assert_eq!(null_space(41, &rows).len(), 21);
    }

    /// The softest sound chain that a frame of the largest size makes is not taken for a loose one: 500
    /// places in a row held at one end, with the second differences of a clamped-free beam (smallest
    /// eigenvalue 12.36/n⁴, Euler-Bernoulli, from memory).
    #[test]
    fn a_long_soft_chain_is_not_loose() {
        let n = 500;
        let mut rows = vec![vec![(0, 1.0)], vec![(0, -2.0), (1, 1.0)]];
        rows.extend((1..n - 1).map(|i| vec![(i - 1, 1.0), (i, -2.0), (i + 1, 1.0)]));
        assert!(null_space(n, &rows).is_empty());
        rows[0].clear();
        assert_eq!(null_space(n, &rows).len(), 1);
    }
}

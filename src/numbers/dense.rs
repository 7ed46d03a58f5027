//! A small dense matrix, row by row, and the little algebra that rooms share.

/// A dense matrix of `f64`, row-major.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Dense {
    /// Number of rows.
    pub rows: usize,
    /// Number of columns.
    pub cols: usize,
    /// Entries: row `i`, column `j` at `i * cols + j`.
    pub a: Vec<f64>,
}

impl Dense {
    /// A matrix of zeros.
    pub fn zeros(rows: usize, cols: usize) -> Self {
        Dense { rows, cols, a: vec![0.0; rows * cols] }
    }
    /// The unit matrix.
    pub fn unit(n: usize) -> Self {
        let mut m = Dense::zeros(n, n);
        for i in 0..n {
            m.a[i * n + i] = 1.0;
        }
        m
    }
    /// Entry at row `i`, column `j`.
    #[inline]
    pub fn at(&self, i: usize, j: usize) -> f64 {
        self.a[i * self.cols + j]
    }
    /// Entry at row `i`, column `j`, to be changed.
    #[inline]
    pub fn at_mut(&mut self, i: usize, j: usize) -> &mut f64 {
        &mut self.a[i * self.cols + j]
    }
    /// Row `i`.
    #[inline]
    pub fn row(&self, i: usize) -> &[f64] {
        &self.a[i * self.cols..(i + 1) * self.cols]
    }
    /// Row `i`, to be changed.
    #[inline]
    pub fn row_mut(&mut self, i: usize) -> &mut [f64] {
        &mut self.a[i * self.cols..(i + 1) * self.cols]
    }
    /// `self * other`.
    pub fn mul(&self, other: &Dense) -> Dense {
        let mut out = Dense::zeros(self.rows, other.cols);
        for i in 0..self.rows {
            for k in 0..self.cols {
                let v = self.at(i, k);
                if v != 0.0 {
                    for (o, b) in out.a[i * other.cols..(i + 1) * other.cols].iter_mut().zip(other.row(k)) {
                        *o += v * b;
                    }
                }
            }
        }
        out
    }
    /// The transpose.
    pub fn transpose(&self) -> Dense {
        let mut out = Dense::zeros(self.cols, self.rows);
        for i in 0..self.rows {
            for j in 0..self.cols {
                out.a[j * self.rows + i] = self.at(i, j);
            }
        }
        out
    }
}

/// Scalar product of two slices of equal length.
#[inline]
pub fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}

/// Eigenvalues and eigenvectors of a symmetric matrix by cyclic Jacobi rotations
/// (Golub and Van Loan, *Matrix Computations*, section 8.5; from memory).
///
/// Returns the eigenvalues (not sorted) and a matrix whose columns are the eigenvectors. Meant for
/// a few dozen rows at most.
pub fn symmetric_eigen(matrix: &Dense) -> (Vec<f64>, Dense) {
    let n = matrix.rows;
    let mut a = matrix.clone();
    let mut v = Dense::unit(n);
    for _sweep in 0..60 {
        let mut off = 0.0;
        let mut diag = 0.0;
        for i in 0..n {
            diag += a.at(i, i) * a.at(i, i);
            for j in 0..i {
                off += a.at(i, j) * a.at(i, j);
            }
        }
        if off <= 1e-32 * diag {
            break;
        }
        for p in 0..n {
            for q in p + 1..n {
                let apq = a.at(p, q);
                if apq == 0.0 {
                    continue;
                }
                let theta = (a.at(q, q) - a.at(p, p)) / (2.0 * apq);
                let t = theta.signum() / (theta.abs() + (theta * theta + 1.0).sqrt());
                let t = if theta == 0.0 { 1.0 } else { t };
                let c = 1.0 / (t * t + 1.0).sqrt();
                let s = t * c;
                for k in 0..n {
                    let (x, y) = (a.at(k, p), a.at(k, q));
                    *a.at_mut(k, p) = c * x - s * y;
                    *a.at_mut(k, q) = s * x + c * y;
                }
                for k in 0..n {
                    let (x, y) = (a.at(p, k), a.at(q, k));
                    *a.at_mut(p, k) = c * x - s * y;
                    *a.at_mut(q, k) = s * x + c * y;
                }
                for k in 0..n {
                    let (x, y) = (v.at(k, p), v.at(k, q));
                    *v.at_mut(k, p) = c * x - s * y;
                    *v.at_mut(k, q) = s * x + c * y;
                }
            }
        }
    }
    ((0..n).map(|i| a.at(i, i)).collect(), v)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn eigenvectors_rebuild_the_matrix() {
        let m = Dense { rows: 3, cols: 3, a: vec![4.0, 1.0, -2.0, 1.0, 2.0, 0.0, -2.0, 0.0, 3.0] };
        let (l, v) = symmetric_eigen(&m);
        for i in 0..3 {
            for j in 0..3 {
                let back: f64 = (0..3).map(|k| v.at(i, k) * l[k] * v.at(j, k)).sum();
                assert!((back - m.at(i, j)).abs() < 1e-13);
            }
        }
        let trace: f64 = l.iter().sum();
        assert!((trace - 9.0).abs() < 1e-13);
    }
}

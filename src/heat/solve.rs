//! Sparse symmetric solve, A = L·D·Lᵀ, in a given order.
//!
//! The up-looking method of T. A. Davis, "LDL", ACM TOMS 31 (2005): a row at a time, along the
//! elimination tree. Small and exact enough for lumps of metal; the caller gives an order with
//! little fill (the far ends first).

/// A symmetric matrix with a fixed pattern, ready to be factorised again and again.
#[derive(Debug, Clone)]
pub struct Symmetric {
    n: usize,
    /// For each row k the columns j < k with an entry, and which link it is.
    rows: Vec<Vec<(usize, usize)>>,
    parent: Vec<usize>,
    /// Start of each column of L.
    start: Vec<usize>,
}

/// A factorisation.
#[derive(Debug, Clone)]
pub struct Factor {
    start: Vec<usize>,
    index: Vec<usize>,
    value: Vec<f64>,
    /// 1/D.
    inverse: Vec<f64>,
}

const NONE: usize = usize::MAX;

impl Symmetric {
    /// From the off-diagonal places, no diagonal; entries of a pair named twice add up.
    pub fn new(n: usize, links: &[(usize, usize)]) -> Self {
        let mut rows = vec![Vec::new(); n];
        for (which, &(a, b)) in links.iter().enumerate() {
            rows[a.max(b)].push((a.min(b), which));
        }
        let (mut parent, mut flag, mut count) = (vec![NONE; n], vec![NONE; n], vec![0usize; n]);
        for k in 0..n {
            flag[k] = k;
            for &(j, _) in &rows[k] {
                let mut i = j;
                while flag[i] != k {
                    if parent[i] == NONE {
                        parent[i] = k;
                    }
                    count[i] += 1;
                    flag[i] = k;
                    i = parent[i];
                }
            }
        }
        let mut start = vec![0; n + 1];
        for k in 0..n {
            start[k + 1] = start[k] + count[k];
        }
        Symmetric { n, rows, parent, start }
    }

    /// Factorise the matrix with this diagonal and these off-diagonal entries (by link). It must be
    /// positive definite.
    pub fn factor(&self, diagonal: &[f64], off: &[f64]) -> Factor {
        let n = self.n;
        let size = self.start[n];
        let (mut index, mut value, mut d) = (vec![0; size], vec![0.0; size], vec![0.0; n]);
        let (mut filled, mut flag) = (vec![0usize; n], vec![NONE; n]);
        let (mut y, mut pattern, mut path) = (vec![0.0; n], vec![0usize; n], Vec::with_capacity(n));
        for k in 0..n {
            let mut top = n;
            flag[k] = k;
            for &(j, which) in &self.rows[k] {
                y[j] += off[which];
                let mut i = j;
                path.clear();
                while flag[i] != k {
                    path.push(i);
                    flag[i] = k;
                    i = self.parent[i];
                }
                for &i in path.iter().rev() {
                    top -= 1;
                    pattern[top] = i;
                }
            }
            let mut dk = diagonal[k];
            for &i in &pattern[top..] {
                let yi = std::mem::replace(&mut y[i], 0.0);
                let from = self.start[i];
                for p in from..from + filled[i] {
                    y[index[p]] -= value[p] * yi;
                }
                let l = yi / d[i];
                dk -= l * yi;
                index[from + filled[i]] = k;
                value[from + filled[i]] = l;
                filled[i] += 1;
            }
            d[k] = dk;
        }
        let inverse = d.iter().map(|d| 1.0 / d).collect();
        Factor { start: self.start.clone(), index, value, inverse }
    }
}

impl Factor {
    /// Solve in place.
    pub fn solve(&self, x: &mut [f64]) {
        let n = self.inverse.len();
        for j in 0..n {
            let xj = x[j];
            for p in self.start[j]..self.start[j + 1] {
                x[self.index[p]] -= self.value[p] * xj;
            }
        }
        for j in (0..n).rev() {
            let mut xj = x[j] * self.inverse[j];
            for p in self.start[j]..self.start[j + 1] {
                xj -= self.value[p] * x[self.index[p]];
            }
            x[j] = xj;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn solves_a_ring_with_a_chord() {
        // Laplacian plus one on the diagonal, of a ring of nine with a chord: dense check.
        let mut links: Vec<(usize, usize)> = (0..9).map(|i| (i, (i + 1) % 9)).collect();
        links.push((2, 7));
        let weights: Vec<f64> = (0..links.len()).map(|i| 1.0 + 0.3 * i as f64).collect();
        let mut dense = vec![[0.0; 9]; 9];
        for (&(a, b), w) in links.iter().zip(&weights) {
            dense[a][b] -= w;
            dense[b][a] -= w;
            dense[a][a] += w;
            dense[b][b] += w;
        }
        for (i, row) in dense.iter_mut().enumerate() {
            row[i] += 1.0;
        }
        let diagonal: Vec<f64> = (0..9).map(|i| dense[i][i]).collect();
        let off: Vec<f64> = weights.iter().map(|w| -w).collect();
        let factor = Symmetric::new(9, &links).factor(&diagonal, &off);
        let want: Vec<f64> = (0..9).map(|i| (i as f64 - 3.5).powi(2)).collect();
        let mut x: Vec<f64> = dense.iter().map(|r| r.iter().zip(&want).map(|(a, b)| a * b).sum()).collect();
        factor.solve(&mut x);
        for (got, want) in x.iter().zip(&want) {
            assert!((got - want).abs() < 1e-12 * 40.0, "{got} {want}");
        }
    }
}

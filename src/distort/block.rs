//! Work on one port: its springs are laid, moved and taken away in its own 6 × 6 block, and the rest
//! of the frame learns of it in one update.

use super::port::Spring;

/// A port being worked on. `cols` columns are carried (constant part, shares).
pub(super) struct Block {
    /// Number of coordinates.
    pub n: usize,
    /// Number of columns carried.
    pub cols: usize,
    /// Compliance between the coordinates now.
    a: [[f64; 6]; 6],
    /// Now = start · T, for compliances of anything to these coordinates.
    t: [[f64; 6]; 6],
    /// start − start · M · startᵀ = now.
    pub m: [[f64; 6]; 6],
    /// M as what each spring added to it: Σ v·vᵀ/d, the first six.
    parts: Vec<([f64; 6], f64)>,
    /// There were more.
    many: bool,
    /// Forces on the coordinates in terms of the starting compliance, `n × cols`.
    pub phi: Vec<f64>,
    /// Gaps now, `n × cols`.
    pub x: Vec<f64>,
    /// Gaps added by the warmth of the moment.
    pub hot: [f64; 6],
    /// Number of unit wall loads.
    pub loads: usize,
    /// Compliance to the wall loads, at the start and now, `n × loads`.
    g0: Vec<f64>,
    g: Vec<f64>,
    /// Amounts of wall loads, `loads × cols`.
    pub walls: Vec<f64>,
    /// True once a spring or load has been touched.
    pub used: bool,
}

impl Block {
    pub(super) fn new(
        n: usize,
        cols: usize,
        a: [[f64; 6]; 6],
        x: Vec<f64>,
        hot: [f64; 6],
        g0: Vec<f64>,
    ) -> Block {
        let mut t = [[0.0; 6]; 6];
        for (i, row) in t.iter_mut().enumerate() {
            row[i] = 1.0;
        }
        let loads = g0.len() / n;
        Block {
            n,
            cols,
            a,
            t,
            m: [[0.0; 6]; 6],
            parts: Vec::new(),
            many: false,
            phi: vec![0.0; n * cols],
            x,
            hot,
            loads,
            g: g0.clone(),
            g0,
            walls: vec![0.0; loads * cols],
            used: false,
        }
    }
    /// Elongation of a spring's gap in each column.
    pub(super) fn gap(&self, b: &[f64; 6]) -> Vec<f64> {
        let mut out = vec![0.0; self.cols];
        for i in 0..self.n {
            for (o, x) in out.iter_mut().zip(&self.x[i * self.cols..]) {
                *o += b[i] * x;
            }
        }
        out
    }
    /// The part of a gap that the warmth of the moment adds.
    pub(super) fn hot_gap(&self, b: &[f64; 6]) -> f64 {
        (0..self.n).map(|i| b[i] * self.hot[i]).sum()
    }
    fn times(m: &[[f64; 6]; 6], b: &[f64; 6], n: usize) -> [f64; 6] {
        let mut out = [0.0; 6];
        for i in 0..n {
            for j in 0..n {
                out[i] += m[i][j] * b[j];
            }
        }
        out
    }
    /// M as Σ v·vᵀ/d, if that takes no more than six. Where one direction is a million times as stiff as
    /// another, U·v keeps digits that U·M loses: U·v is small there, U and M are not.
    pub(super) fn parts(&self) -> Option<&[([f64; 6], f64)]> {
        (!self.many).then_some(&self.parts)
    }
    /// Add stiffness `k` along `b` at zero force (take it away if negative).
    ///
    /// Returns `false`, with nothing changed, if what is taken away is the last restraint: the pivot
    /// comes within 1e-9 of zero.
    pub(super) fn stiffen(&mut self, (b, k): &Spring) -> bool {
        let n = self.n;
        let ab = Self::times(&self.a, b, n);
        let bab: f64 = (0..n).map(|i| b[i] * ab[i]).sum();
        let d = 1.0 / k + bab;
        if *k < 0.0 && d * k < 1e-9 {
            return false;
        }
        self.used = true;
        let tb = Self::times(&self.t, b, n);
        self.many |= self.parts.len() == 6;
        if !self.many {
            self.parts.push((tb, d));
        }
        let hot = self.hot_gap(b);
        let mut g = vec![0.0; self.loads];
        for i in 0..n {
            for (o, v) in g.iter_mut().zip(&self.g[i * self.loads..]) {
                *o += b[i] * v;
            }
        }
        for i in 0..n {
            for j in 0..n {
                self.m[i][j] += tb[i] * tb[j] / d;
                self.t[i][j] -= tb[i] * ab[j] / d;
            }
            self.hot[i] -= ab[i] * hot / d;
            for (l, v) in g.iter().enumerate() {
                self.g[i * self.loads + l] -= ab[i] * v / d;
            }
        }
        for i in 0..n {
            for j in 0..n {
                self.a[i][j] -= ab[i] * ab[j] / d;
            }
        }
        true
    }
    /// Pull the gap along `b` shut with a force for each column.
    pub(super) fn push(&mut self, b: &[f64; 6], force: &[f64]) {
        self.used = true;
        let ab = Self::times(&self.a, b, self.n);
        let tb = Self::times(&self.t, b, self.n);
        for i in 0..self.n {
            for (j, f) in force.iter().enumerate() {
                self.x[i * self.cols + j] -= ab[i] * f;
                self.phi[i * self.cols + j] += tb[i] * f;
            }
        }
    }
    /// Apply an amount of a wall load in one column.
    pub(super) fn wall(&mut self, load: usize, amount: f64, col: usize) {
        self.used = true;
        self.walls[load * self.cols + col] += amount;
        for i in 0..self.n {
            self.x[i * self.cols + col] += self.g[i * self.loads + load] * amount;
            for j in 0..self.n {
                self.phi[i * self.cols + col] += self.m[i][j] * self.g0[j * self.loads + load] * amount;
            }
        }
    }
    /// Take parts of springs away with the force they carry (`rest` is their unstressed gap).
    /// `false`: it was the last restraint.
    pub(super) fn remove(&mut self, springs: &[(Spring, &[f64])]) -> bool {
        for (spring, rest) in springs {
            let force: Vec<f64> =
                self.gap(&spring.0).iter().zip(*rest).map(|(x, e)| -spring.1 * (x - e)).collect();
            if !self.stiffen(&(spring.0, -spring.1)) {
                return false;
            }
            self.push(&spring.0, &force);
        }
        true
    }
    /// Parts of springs (spring, unstressed gap, part) melt and set again at zero force: the stiffness
    /// stays, the gaps move. All of them are molten at the same time. `false`: they were the last
    /// restraint.
    ///
    /// ```text
    /// S = Σ p·k·b·bᵀ    r = Σ p·k·b·e     what the molten parts carry at the gap x: S·x − r
    /// (I − A·S)·x' = x − A·r              the gap without them
    /// ```
    pub(super) fn melt<'a>(&mut self, parts: impl Iterator<Item = (&'a Spring, &'a [f64], f64)>) -> bool {
        let (n, cols) = (self.n, self.cols);
        let mut s = [[0.0; 6]; 6];
        let mut r = vec![0.0; n * cols];
        let mut any = false;
        for ((b, k), rest, part) in parts {
            any = true;
            for i in 0..n {
                let kb = part * k * b[i];
                for j in 0..n {
                    s[i][j] += kb * b[j];
                }
                for (r, e) in r[i * cols..(i + 1) * cols].iter_mut().zip(rest) {
                    *r += kb * e;
                }
            }
        }
        if !any {
            return true;
        }
        let mut left = [[0.0; 6]; 6];
        let mut x = self.x.clone();
        for i in 0..n {
            for j in 0..n {
                left[i][j] =
                    f64::from(u8::from(i == j)) - (0..n).map(|q| self.a[i][q] * s[q][j]).sum::<f64>();
            }
            for q in 0..n {
                let a = self.a[i][q];
                for (x, r) in x[i * cols..(i + 1) * cols].iter_mut().zip(&r[q * cols..(q + 1) * cols]) {
                    *x -= a * r;
                }
            }
        }
        if !solve(&mut left, n, &mut x, cols) {
            return false;
        }
        // What they carried no longer pulls: x' = x + A·(S·x' − r).
        for i in 0..n {
            let mut f: Vec<f64> = r[i * cols..(i + 1) * cols].iter().map(|r| -r).collect();
            for q in 0..n {
                for (f, x) in f.iter_mut().zip(&x[q * cols..(q + 1) * cols]) {
                    *f += s[i][q] * x;
                }
            }
            for q in 0..n {
                for (phi, f) in self.phi[q * cols..(q + 1) * cols].iter_mut().zip(&f) {
                    *phi -= self.t[q][i] * f;
                }
            }
        }
        self.x = x;
        self.used = true;
        true
    }
    /// Take a part of springs away with its force.
    pub(super) fn take(&mut self, springs: &[Spring], rest: &[f64], part: f64) -> bool {
        let cols = self.cols;
        let list: Vec<(Spring, &[f64])> = springs
            .iter()
            .enumerate()
            .map(|(i, s)| ((s.0, part * s.1), &rest[i * cols..(i + 1) * cols]))
            .collect();
        self.remove(&list)
    }
    /// The unstressed gaps of springs of which a part has set at the present gap.
    pub(super) fn set_again(&self, springs: &[Spring], rest: &mut [f64], part: f64) {
        for (s, rest) in springs.iter().zip(rest.chunks_mut(self.cols)) {
            for (e, g) in rest.iter_mut().zip(self.gap(&s.0)) {
                *e = (1.0 - part) * *e + part * g;
            }
        }
    }
}

/// Gaussian elimination with pivots, right sides `n × cols`; rotations count as what they do at 20 mm.
/// `false` if a pivot comes within 1e-9 of zero.
fn solve(a: &mut [[f64; 6]; 6], n: usize, x: &mut [f64], cols: usize) -> bool {
    const ARM_MM: f64 = 20.0;
    let scale = |i: usize| if i < 3 { 1.0 } else { ARM_MM };
    for i in 0..n {
        for j in 0..n {
            a[i][j] *= scale(i) / scale(j);
        }
        x[i * cols..(i + 1) * cols].iter_mut().for_each(|x| *x *= scale(i));
    }
    for p in 0..n {
        let best = (p..n).max_by(|i, j| a[*i][p].abs().total_cmp(&a[*j][p].abs())).expect("p < n");
        if a[best][p].abs() < 1e-9 {
            return false;
        }
        if best != p {
            a.swap(p, best);
            (0..cols).for_each(|c| x.swap(p * cols + c, best * cols + c));
        }
        for i in p + 1..n {
            let f = a[i][p] / a[p][p];
            for j in p..n {
                a[i][j] -= f * a[p][j];
            }
            for c in 0..cols {
                x[i * cols + c] -= f * x[p * cols + c];
            }
        }
    }
    for p in (0..n).rev() {
        for c in 0..cols {
            let done: f64 = (p + 1..n).map(|j| a[p][j] * x[j * cols + c]).sum();
            x[p * cols + c] = (x[p * cols + c] - done) / a[p][p];
        }
    }
    for i in 0..n {
        x[i * cols..(i + 1) * cols].iter_mut().for_each(|x| *x /= scale(i));
    }
    true
}

//! The coarse pull of an order, and what a change inside a window of it does.
//!
//! When a step is welded, all its springs set at zero load, then they shrink, then the walls do:
//!
//! ```text
//!     D   = diag(1/k_B) + C[B,B]                 B  the three springs of each pass of the step
//!     y_p = C[h,g_p] − C[h,B]·D⁻¹·(δ_p·e_p − τ_p + C[B,g_p])      what pass p of the step adds to the controls
//!     C  −= C[:,B]·D⁻¹·C[B,:]                    the step is now part of the frame
//! ```
//!
//! C depends only on the set welded before, not on its order. So a change inside a window alters the
//! contributions inside the window and nothing else, and they follow from the reduced C of the
//! passes in the window alone: a matrix as small as the window.

use crate::distort::Coarse;
use faer::linalg::matmul::matmul;
use faer::{Accum, MatMut, MatRef, Par};

/// Compliance of some passes and all controls, reduced by what is welded already.
///
/// Rows: controls, then three springs for each pass. Columns: for each pass three springs and its
/// wall shrinkage. mm/N, and mm per unit of wall shrinkage.
#[derive(Debug, Clone, Default)]
pub(crate) struct Field {
    pub n: usize,
    pub r: usize,
    m: Vec<f64>,
    inv_k: Vec<f64>,
    /// How much the three springs of each pass close when it cools: δ along the first, less τ.
    pub close: Vec<[f64; 3]>,
}

/// Shrinkage of each pass less what the warmth of the moment had opened, mm along its three springs.
pub(crate) fn closing(c: &Coarse) -> Vec<[f64; 3]> {
    c.delta.iter().zip(&c.tau).map(|(d, t)| [d - t[0], -t[1], -t[2]]).collect()
}

impl Field {
    /// These passes, in this order, of a frame on which nothing is welded yet but the tacks.
    pub fn of(&mut self, c: &Coarse, close: &[[f64; 3]], ids: &[usize]) {
        let (n, r) = (ids.len(), c.r);
        (self.n, self.r) = (n, r);
        self.m.clear();
        self.m.reserve((r + 3 * n) * 4 * n);
        let springs = ids.iter().flat_map(|&p| r + 3 * p..r + 3 * p + 3);
        for row in (0..r).chain(springs) {
            let (springs, walls) = if row < r {
                (&c.c_hb[row * 3 * c.n..], &c.c_hg[row * c.n..])
            } else {
                (&c.c_bb[(row - r) * 3 * c.n..], &c.c_bg[(row - r) * c.n..])
            };
            for &p in ids {
                let s = &springs[3 * p..3 * p + 3];
                self.m.extend_from_slice(&[s[0], s[1], s[2], walls[p]]);
            }
        }
        self.inv_k.clear();
        self.close.clear();
        for &p in ids {
            self.inv_k.extend(c.k[3 * p..3 * p + 3].iter().map(|k| 1.0 / k));
            self.close.push(close[p]);
        }
    }

    /// The part of another field that belongs to some of its passes, in the order given.
    pub fn gather(&mut self, from: &Field, ids: &[usize]) {
        let (n, r, width) = (ids.len(), from.r, 4 * from.n);
        (self.n, self.r) = (n, r);
        self.m.resize((r + 3 * n) * 4 * n, 0.0);
        self.inv_k.clear();
        self.close.clear();
        let springs = ids.iter().flat_map(|&p| r + 3 * p..r + 3 * p + 3);
        for (row, to) in (0..r).chain(springs).zip(self.m.chunks_exact_mut((4 * n).max(1))) {
            copy_passes(&from.m[row * width..(row + 1) * width], ids, to);
        }
        for &p in ids {
            self.inv_k.extend_from_slice(&from.inv_k[3 * p..3 * p + 3]);
            self.close.push(from.close[p]);
        }
    }

    /// As [`Field::gather`], for passes that will be welded one by one in the order given and then
    /// forgotten: of a spring's row only its own pass and later ones are ever asked for, so only they
    /// are copied.
    pub fn gather_in_order(&mut self, from: &Field, ids: &[usize]) {
        let (n, r, width) = (ids.len(), from.r, 4 * from.n);
        (self.n, self.r) = (n, r);
        self.m.resize((r + 3 * n) * 4 * n, 0.0);
        self.inv_k.clear();
        self.close.clear();
        for h in 0..r {
            let (row, to) = (&from.m[h * width..(h + 1) * width], &mut self.m[h * 4 * n..(h + 1) * 4 * n]);
            copy_passes(row, ids, to);
        }
        for (i, &p) in ids.iter().enumerate() {
            for d in 0..3 {
                let (a, b) = (r + 3 * p + d, r + 3 * i + d);
                copy_passes(
                    &from.m[a * width..(a + 1) * width],
                    &ids[i..],
                    &mut self.m[b * 4 * n + 4 * i..(b + 1) * 4 * n],
                );
            }
            self.inv_k.extend_from_slice(&from.inv_k[3 * p..3 * p + 3]);
            self.close.push(from.close[p]);
        }
    }

    /// Weld the passes `at..at + m` of this field at the same time: write what each adds to the
    /// controls to `out` (`m × r`), and reduce everything behind them. Passes before `at` are left.
    pub fn weld(&mut self, at: usize, m: usize, out: &mut [f64]) {
        if m == 1 {
            self.weld_one::<false>(at, out);
        } else {
            self.weld_many(at, m, out);
        }
    }

    /// As [`Field::weld`] for one pass; `IN_ORDER`: the field comes from [`Field::gather_in_order`].
    pub fn weld_one<const IN_ORDER: bool>(&mut self, at: usize, out: &mut [f64]) {
        let (n, r, width) = (self.n, self.r, 4 * self.n);
        let (c, row) = (4 * at, r + 3 * at);
        let (above, rest) = self.m.split_at_mut(row * width);
        let (own, below) = rest.split_at_mut(3 * width);
        let (b0, rest) = own.split_at(width);
        let (b1, b2) = rest.split_at(width);
        // D = L·diag(d)·Lᵀ of three springs.
        let k = &self.inv_k[3 * at..3 * at + 3];
        let d0 = b0[c] + k[0];
        let (l1, l2) = (b1[c] / d0, b2[c] / d0);
        let d1 = b1[c + 1] + k[1] - l1 * b1[c];
        let l3 = (b2[c + 1] - l2 * b1[c]) / d1;
        let d2 = b2[c + 2] + k[2] - l2 * b2[c] - l3 * l3 * d1;
        let (i0, i1, i2) = (1.0 / d0, 1.0 / d1, 1.0 / d2);
        let solve = |a0: f64, a1: f64, a2: f64| {
            let y1 = a1 - l1 * a0;
            let y2 = a2 - l2 * a0 - l3 * y1;
            let x2 = y2 * i2;
            let x1 = y1 * i1 - l3 * x2;
            (a0 * i0 - l1 * x1 - l2 * x2, x1, x2)
        };
        let close = self.close[at];
        let (z0, z1, z2) = solve(close[0] + b0[c + 3], close[1] + b1[c + 3], close[2] + b2[c + 3]);
        let next = c + 4;
        let (b0, b1, b2) = (&b0[next..width], &b1[next..width], &b2[next..width]);
        for (h, row) in above.chunks_exact_mut(width).take(r).enumerate() {
            let (a0, a1, a2) = (row[c], row[c + 1], row[c + 2]);
            out[h] = row[c + 3] - (a0 * z0 + a1 * z1 + a2 * z2);
            reduce(&mut row[next..], solve(a0, a1, a2), b0, b1, b2);
        }
        // By symmetry the column of D's springs in a later spring's row stands in their own rows.
        for (spring, row) in below.chunks_exact_mut(width).take(3 * (n - at - 1)).enumerate() {
            let q = 4 * (spring / 3);
            let own = q + spring % 3;
            let from = if IN_ORDER { q } else { 0 };
            let t = solve(b0[own], b1[own], b2[own]);
            reduce(&mut row[next + from..], t, &b0[from..], &b1[from..], &b2[from..]);
        }
    }

    fn weld_many(&mut self, at: usize, m: usize, out: &mut [f64]) {
        let (n, r, width, s) = (self.n, self.r, 4 * self.n, 3 * m);
        let col = |i: usize| 4 * (at + i / 3) + i % 3;
        let l = self.factor(&(at..at + m).collect::<Vec<_>>());
        let spring = |i: usize| (r + 3 * at + i) * width;
        for p in 0..m {
            let wall = 4 * (at + p) + 3;
            let mut z: Vec<f64> = (0..s).map(|i| self.m[spring(i) + wall]).collect();
            (0..3).for_each(|d| z[3 * p + d] += self.close[at + p][d]);
            forward(&l, s, &mut z);
            backward(&l, s, &mut z);
            for h in 0..r {
                let row = &self.m[h * width..(h + 1) * width];
                out[p * r + h] = row[wall] - (0..s).map(|i| row[col(i)] * z[i]).sum::<f64>();
            }
        }
        let next = 4 * (at + m);
        let own: Vec<f64> =
            (0..s).flat_map(|i| self.m[spring(i) + next..spring(i) + width].to_vec()).collect();
        let wide = width - next;
        for index in (0..r).chain(r + 3 * (at + m)..r + 3 * n) {
            let row = &mut self.m[index * width..(index + 1) * width];
            let later = index.checked_sub(r + 3 * (at + m));
            let mut t: Vec<f64> = match later {
                None => (0..s).map(|i| row[col(i)]).collect(),
                Some(x) => (0..s).map(|i| own[i * wide + 4 * (x / 3) + x % 3]).collect(),
            };
            forward(&l, s, &mut t);
            backward(&l, s, &mut t);
            for (i, t) in t.iter().enumerate() {
                for (x, b) in row[next..].iter_mut().zip(&own[i * wide..(i + 1) * wide]) {
                    *x -= t * b;
                }
            }
        }
    }

    /// Cholesky factor (row-major, lower) of D for the springs of some passes.
    fn factor(&self, set: &[usize]) -> Vec<f64> {
        let (s, width) = (3 * set.len(), 4 * self.n);
        let mut l = vec![0.0; s * s];
        for i in 0..s {
            for j in 0..=i {
                let mut x = self.m[(self.r + 3 * set[j / 3] + j % 3) * width + 4 * set[i / 3] + i % 3];
                if i == j {
                    x += self.inv_k[3 * set[i / 3] + i % 3];
                }
                for q in 0..j {
                    x -= l[i * s + q] * l[j * s + q];
                }
                l[i * s + j] = if i == j { x.sqrt() } else { x / l[j * s + j] };
            }
        }
        l
    }

    /// A set of passes (by rising index) becomes part of the frame and leaves the field; the others
    /// keep their order. The order within the set does not matter.
    pub fn absorb(&mut self, set: &[usize]) {
        let (n, r, width, s) = (self.n, self.r, 4 * self.n, 3 * set.len());
        let l = self.factor(set);
        let keep: Vec<usize> = (0..n).filter(|p| set.binary_search(p).is_err()).collect();
        let wide = 4 * keep.len();
        // L⁻¹·C[set, columns]; by symmetry its columns are the rows L⁻¹·C[row, set]ᵀ of the springs.
        let mut right = Vec::with_capacity(s * wide);
        for i in 0..s {
            let row = &self.m[(r + 3 * set[i / 3] + i % 3) * width..];
            keep.iter().for_each(|&p| right.extend_from_slice(&row[4 * p..4 * p + 4]));
        }
        for i in 0..s {
            let (done, rest) = right.split_at_mut(i * wide);
            let own = &mut rest[..wide];
            for j in 0..i {
                let f = l[i * s + j];
                own.iter_mut().zip(&done[j * wide..]).for_each(|(x, b)| *x -= f * b);
            }
            let pivot = 1.0 / l[i * s + i];
            own.iter_mut().for_each(|x| *x *= pivot);
        }
        let rows = r + 3 * keep.len();
        let mut left = vec![0.0; rows * s];
        for h in 0..r {
            let t = &mut left[h * s..(h + 1) * s];
            for (j, t) in t.iter_mut().enumerate() {
                *t = self.m[h * width + 4 * set[j / 3] + j % 3];
            }
            forward(&l, s, t);
        }
        for spring in 0..3 * keep.len() {
            let col = 4 * (spring / 3) + spring % 3;
            (0..s).for_each(|i| left[(r + spring) * s + i] = right[i * wide + col]);
        }
        // What is kept moves up, in place: nothing moves behind where it was.
        let mut to = 0;
        for row in (0..r).chain(keep.iter().flat_map(|&p| r + 3 * p..r + 3 * p + 3)) {
            for &p in &keep {
                self.m.copy_within(row * width + 4 * p..row * width + 4 * p + 4, to);
                to += 4;
            }
        }
        self.m.truncate(to);
        for (i, &p) in keep.iter().enumerate() {
            self.inv_k.copy_within(3 * p..3 * p + 3, 3 * i);
            self.close[i] = self.close[p];
        }
        self.inv_k.truncate(3 * keep.len());
        self.close.truncate(keep.len());
        self.n = keep.len();
        matmul(
            MatMut::from_row_major_slice_mut(&mut self.m, rows, wide),
            Accum::Add,
            MatRef::from_row_major_slice(&left, rows, s),
            MatRef::from_row_major_slice(&right, s, wide),
            -1.0,
            Par::Seq,
        );
    }
}

fn copy_passes(row: &[f64], ids: &[usize], to: &mut [f64]) {
    for (to, &p) in to.chunks_exact_mut(4).zip(ids) {
        to.copy_from_slice(&row[4 * p..4 * p + 4]);
    }
}

#[inline]
fn reduce(row: &mut [f64], t: (f64, f64, f64), b0: &[f64], b1: &[f64], b2: &[f64]) {
    for (((x, b0), b1), b2) in row.iter_mut().zip(b0).zip(b1).zip(b2) {
        *x -= t.0 * b0 + t.1 * b1 + t.2 * b2;
    }
}

fn forward(l: &[f64], s: usize, x: &mut [f64]) {
    for i in 0..s {
        let done: f64 = (0..i).map(|j| l[i * s + j] * x[j]).sum();
        x[i] = (x[i] - done) / l[i * s + i];
    }
}

fn backward(l: &[f64], s: usize, x: &mut [f64]) {
    for i in (0..s).rev() {
        let done: f64 = (i + 1..s).map(|j| l[j * s + i] * x[j]).sum();
        x[i] = (x[i] - done) / l[i * s + i];
    }
}

/// Passes that are welded one after the other before the rest of the frame is told, in a whole order.
const CHUNK: usize = 16;

/// What each pass of an order adds to each control, by the whole elimination: `n × r`, by pass index.
/// `steps` holds the passes of each step. The measure for everything faster in this room.
pub fn contributions(c: &Coarse, steps: &[Vec<usize>]) -> Vec<f64> {
    contributions_with(c, &closing(c), steps)
}

/// As [`contributions`], with another closing of each pass.
pub(crate) fn contributions_with(c: &Coarse, close: &[[f64; 3]], steps: &[Vec<usize>]) -> Vec<f64> {
    let r = c.r;
    let row: Vec<usize> = steps.iter().flatten().copied().collect();
    let (mut field, mut local) = (Field::default(), Field::default());
    field.of(c, close, &row);
    let mut out = vec![0.0; c.n * r];
    let mut left = steps;
    while !left.is_empty() {
        let (mut count, mut m) = (0, 0);
        while count < left.len() && (count == 0 || m + left[count].len() <= CHUNK) {
            m += left[count].len();
            count += 1;
        }
        let chunk: Vec<usize> = (0..m).collect();
        local.gather(&field, &chunk);
        let mut at = 0;
        for step in &left[..count] {
            let mut added = vec![0.0; step.len() * r];
            local.weld(at, step.len(), &mut added);
            for (i, &p) in step.iter().enumerate() {
                out[p * r..(p + 1) * r].copy_from_slice(&added[i * r..(i + 1) * r]);
            }
            at += step.len();
        }
        left = &left[count..];
        if !left.is_empty() {
            field.absorb(&chunk);
        }
    }
    out
}

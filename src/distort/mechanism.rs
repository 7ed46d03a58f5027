//! Whether anything can still move when every seam is tacked, and which tubes those are.

use super::model::Model;
use super::{Level, Options};
use crate::fault::Fault;
use crate::numbers::dense::{Dense, symmetric_eigen};

impl Model {
    /// `E601` for every tube that can still move with all seams tacked.
    pub(super) fn held(&self) -> Result<(), Vec<Fault>> {
        let springs = self.tacked_springs(&self.default_tacks(), Level::Coarse, &Options::default());
        let off: Vec<Option<usize>> = self.parts.ports.iter().map(|p| Some(p.first)).collect();
        let n = 6 * self.frame.tubes.len();
        let scale = self.reach();
        let mut gram = Dense::zeros(n, n);
        for (at, v, stiff) in self.modes(&springs, &off) {
            let mut h = vec![0.0; n];
            for (d, v) in v.iter().enumerate() {
                for (t, r) in &self.rigid[at + d] {
                    for (q, r) in r.iter().enumerate() {
                        h[6 * t + q] += v * r * if q < 3 { 1.0 } else { 1.0 / scale };
                    }
                }
            }
            let used: Vec<usize> = (0..n).filter(|i| h[*i] != 0.0).collect();
            for i in &used {
                for j in &used {
                    // Rank is all that counts; equal weights keep it well conditioned.
                    *gram.at_mut(*i, *j) += h[*i] * h[*j] * stiff.min(1.0);
                }
            }
        }
        if full_rank(&gram) {
            return Ok(());
        }
        let (values, vectors) = symmetric_eigen(&gram);
        let most = values.iter().copied().fold(0.0, f64::max);
        let mut names: Vec<usize> = Vec::new();
        for (i, value) in values.iter().enumerate() {
            if *value < 1e-12 * most {
                let size = |t: usize| (0..6).map(|q| vectors.at(6 * t + q, i).powi(2)).sum::<f64>();
                let top = (0..n / 6).map(size).fold(0.0, f64::max);
                names.extend((0..n / 6).filter(|t| size(*t) > 0.25 * top));
            }
        }
        names.sort_unstable();
        names.dedup();
        Err(names
            .into_iter()
            .map(|t| {
                let tube = &self.frame.tubes[t];
                Fault::new("E601", format!("`{}` can still move when everything is tacked", tube.name))
                    .at(tube.span.clone(), "nothing holds this one in all directions")
                    .help("let it land on another tube, or give its seam more than one weld line")
            })
            .collect())
    }
}

/// Whether a positive semidefinite matrix has full rank, by Cholesky with pivots.
fn full_rank(gram: &Dense) -> bool {
    let n = gram.rows;
    let mut a = gram.clone();
    let most = (0..n).map(|i| a.at(i, i)).fold(0.0, f64::max);
    let mut left: Vec<usize> = (0..n).collect();
    while let Some((k, p)) = left
        .iter()
        .copied()
        .enumerate()
        .max_by(|x, y| a.at(x.1, x.1).total_cmp(&a.at(y.1, y.1)).then(y.0.cmp(&x.0)))
    {
        if a.at(p, p) < 1e-12 * most {
            return false;
        }
        left.swap_remove(k);
        for &i in &left {
            let f = a.at(i, p) / a.at(p, p);
            if f != 0.0 {
                for &j in &left {
                    let v = a.at(p, j);
                    *a.at_mut(i, j) -= f * v;
                }
            }
        }
    }
    true
}

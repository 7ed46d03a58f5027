//! A made-up elastic frame behind a question, for the search; and the pull of an order worked out
//! again from scratch, another way.

use holdtrue::distort::Coarse;
use holdtrue::sequence::Question;
use holdtrue::sequence::objective::{Aim, AimControl, SetTo};
use rand::rngs::ChaCha8Rng;
use rand::{RngExt, SeedableRng};

/// Compliance of an elastic body: the Gram matrix of random vectors (symmetric, never negative). The
/// springs of one seam lie in a space of six dimensions, as the motions of one branch do; neighbouring
/// seams share directions.
pub fn coarse(q: &Question, r: usize, seed: u64) -> Coarse {
    let mut dice = ChaCha8Rng::seed_from_u64(seed ^ 0xC0A25E);
    let n = q.passes.len();
    let seams = q.passes.iter().map(|p| p.seam + 1).max().unwrap_or(0);
    let dim = 6 * seams + 6;
    let mut some = |sd: f64| sd * (dice.random_range(-1.0..1.0f64) + dice.random_range(-1.0..1.0f64));
    let vector = |seam: usize, own: f64, some: &mut dyn FnMut(f64) -> f64| -> Vec<f64> {
        let mut v = vec![0.0; dim];
        (6 * seam..6 * seam + 6).for_each(|i| v[i] = some(own));
        (0..dim).for_each(|i| v[i] += some(0.15 * own));
        v
    };
    let springs: Vec<Vec<f64>> =
        (0..3 * n).map(|i| vector(q.passes[i / 3].seam, [0.02, 0.012, 0.008][i % 3], &mut some)).collect();
    let walls: Vec<Vec<f64>> = (0..n).map(|p| vector(q.passes[p].seam, 0.02, &mut some)).collect();
    let controls: Vec<Vec<f64>> = (0..r).map(|_| (0..dim).map(|_| some(0.3)).collect()).collect();
    let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(x, y)| x * y).sum::<f64>();
    let table = |a: &[Vec<f64>], b: &[Vec<f64>]| a.iter().flat_map(|x| b.iter().map(|y| dot(x, y))).collect();
    Coarse {
        n,
        r,
        k: (0..3 * n).map(|i| if i % 3 == 0 { 7e4 } else { 3.5e4 }).collect(),
        delta: (0..n).map(|p| 0.1 + 0.02 * (p % 3) as f64).collect(),
        tau: (0..3 * n)
            .map(|i| if i % 5 == 0 { 0.02 } else { -0.01 })
            .collect::<Vec<_>>()
            .chunks(3)
            .map(|t| [t[0], t[1], t[2]])
            .collect(),
        c_bb: table(&springs, &springs),
        c_hb: table(&controls, &springs),
        c_bg: table(&springs, &walls),
        c_hg: table(&controls, &walls),
        start: (0..r).map(|c| 0.05 * c as f64).collect(),
    }
}

/// Controls that cannot be set, so that the order has to do it all.
pub fn aim(r: usize) -> Aim {
    let control = |c: usize| AimControl {
        tolerance: 0.5 + 0.1 * c as f64,
        weight: 1.0,
        offset: 0.1,
        set: SetTo::Fixed(0.0),
        other_scatter: 0.05,
    };
    Aim::new((0..r).map(control).collect(), [0.3, 0.2, 0.15])
}

/// What each pass adds to each control (`n × r`, by pass), each step solved from scratch: the frame
/// with the springs welded so far, this step's springs pulled together with k·δ, this step's walls.
pub fn resolved(c: &Coarse, steps: &[Vec<usize>]) -> Vec<f64> {
    let (n, r) = (c.n, c.r);
    let mut welded: Vec<usize> = Vec::new();
    let mut y = vec![0.0; n * r];
    for step in steps {
        welded.extend(step.iter().flat_map(|&p| 3 * p..3 * p + 3));
        for &p in step {
            // Load: the springs' pull on their own gaps and the wall's shrinkage.
            let pull: Vec<f64> = (0..3)
                .map(|d| c.k[3 * p + d] * (if d == 0 { c.delta[p] } else { 0.0 } - c.tau[p][d]))
                .collect();
            let moved = |row: &[f64]| (0..3).map(|d| pull[d] * row[3 * p + d]).sum::<f64>();
            let gap = |b: usize| c.c_bg[b * n + p] - moved(&c.c_bb[b * 3 * n..]);
            let mut matrix: Vec<Vec<f64>> = welded
                .iter()
                .map(|&a| {
                    let mut row: Vec<f64> = welded.iter().map(|&b| c.c_bb[a * 3 * n + b]).collect();
                    row.push(gap(a));
                    row
                })
                .collect();
            (0..welded.len()).for_each(|i| matrix[i][i] += 1.0 / c.k[welded[i]]);
            let force = gauss(matrix);
            for h in 0..r {
                let direct = c.c_hg[h * n + p] - moved(&c.c_hb[h * 3 * n..]);
                let held: f64 = welded.iter().zip(&force).map(|(&b, f)| c.c_hb[h * 3 * n + b] * f).sum();
                y[p * r + h] = direct - held;
            }
        }
    }
    y
}

/// Gaussian elimination with row pivoting; the right side is the last column.
fn gauss(mut m: Vec<Vec<f64>>) -> Vec<f64> {
    let n = m.len();
    for i in 0..n {
        let pivot = (i..n).max_by(|&a, &b| m[a][i].abs().total_cmp(&m[b][i].abs())).unwrap();
        m.swap(i, pivot);
        for j in i + 1..n {
            let f = m[j][i] / m[i][i];
            let (above, below) = m.split_at_mut(j);
            below[0].iter_mut().zip(&above[i]).skip(i).for_each(|(x, a)| *x -= f * a);
        }
    }
    for i in (0..n).rev() {
        let known: f64 = (i + 1..n).map(|j| m[i][j] * m[j][n]).sum();
        m[i][n] = (m[i][n] - known) / m[i][i];
    }
    m.iter().map(|row| row[n]).collect()
}

//! Several finished jobs of one shop together: its factors by kind of joint.

use super::learn::{KIND_SHARE, USABLE};
use super::shop::{Factor, FinishedJob};
use std::collections::BTreeMap;

/// How much a factor differs from job to job in one shop beyond what readings can tell (standard
/// deviation). Assumption.
const JOB_TO_JOB: f64 = 0.10;
/// A shop that was never measured pulls as modelled, to within this (standard deviation): the default
/// scatter of the common factor. Assumption.
const NEW_SHOP: f64 = 0.30;
/// A job further from the others than this many standard deviations is an outlier.
const OUTLIER_SIGMAS: f64 = 3.0;
/// Fewer jobs than this cannot say which of them is the odd one.
const ENOUGH_FOR_OUTLIERS: usize = 4;
/// A job that cannot tell a kind's factor better than this (standard deviation) told nothing about it.
const TOLD: f64 = 1.0;
/// Spread of a shop about which nothing at all is believed, to see what a job says by itself.
const WIDE: f64 = 3.0;

/// What the readings of one job say, without what was believed before it.
#[derive(Debug, Clone)]
pub(super) struct Evidence {
    job: String,
    kinds: Vec<String>,
    /// Inverse covariance (information).
    weight: Vec<Vec<f64>>,
    /// Weight times mean.
    pull: Vec<f64>,
}

impl Evidence {
    /// The product of two Gaussians turned round, then widened by the difference from job to job:
    ///
    /// ```text
    /// Λ = P₁⁻¹ − P₀⁻¹;   η = P₁⁻¹·m₁ − P₀⁻¹·m₀;   (Λ, η) ← (1 + q²Λ)⁻¹·(Λ, η)
    /// ```
    ///
    /// m, P mean and covariance of the factors by kind, 0 before and 1 after the job; q the standard
    /// deviation from job to job. Exact, and good for kinds about which the job says nothing (Λ is
    /// then singular). Source: any textbook on Bayesian estimation (information form); from memory.
    pub(super) fn of(job: &FinishedJob) -> Option<Evidence> {
        let (w0, w1) = (inverse(&job.before_covariance)?, inverse(&job.covariance)?);
        let (p0, p1) = (times(&w0, &job.before), times(&w1, &job.factor));
        let weight = combined(&w1, &w0, -1.0);
        let pull: Vec<f64> = p1.iter().zip(&p0).map(|(a, b)| a - b).collect();
        let n = pull.len();
        let unit: Vec<Vec<f64>> =
            (0..n).map(|i| (0..n).map(|j| f64::from(u8::from(i == j))).collect()).collect();
        let shrink = inverse(&combined(&unit, &weight, JOB_TO_JOB * JOB_TO_JOB))?;
        let columns: Vec<Vec<f64>> = (0..n).map(|j| times(&shrink, &column(&weight, j))).collect();
        let weight =
            (0..n).map(|i| (0..n).map(|j| 0.5 * (columns[j][i] + columns[i][j])).collect()).collect();
        Some(Evidence {
            job: job.name.clone(),
            kinds: job.kinds.clone(),
            weight,
            pull: times(&shrink, &pull),
        })
    }
}

/// Mean and variance of each kind's factor. One more name than kinds: the last is a kind never seen.
struct Estimate {
    mean: Vec<f64>,
    variance: Vec<f64>,
}

fn estimate<'a>(kinds: &[String], jobs: impl Iterator<Item = &'a Evidence>, spread: f64) -> Option<Estimate> {
    let n = kinds.len() + 1;
    let (common, own) = (spread * spread * (1.0 - KIND_SHARE), spread * spread * KIND_SHARE);
    let prior: Vec<Vec<f64>> =
        (0..n).map(|i| (0..n).map(|j| common + if i == j { own } else { 0.0 }).collect()).collect();
    let mut weight = inverse(&prior)?;
    // As modelled: all factors 1.
    let mut pull = times(&weight, &vec![1.0; n]);
    for job in jobs {
        let at: Vec<usize> = job.kinds.iter().filter_map(|k| kinds.iter().position(|o| o == k)).collect();
        for (a, &i) in at.iter().enumerate() {
            pull[i] += job.pull[a];
            for (b, &j) in at.iter().enumerate() {
                weight[i][j] += job.weight[a][b];
            }
        }
    }
    let cov = inverse(&weight)?;
    Some(Estimate { mean: times(&cov, &pull), variance: (0..n).map(|i| cov[i][i].max(0.0)).collect() })
}

/// The factors in force: for a kind never seen, and by kind.
pub(super) fn combine(mut jobs: Vec<Evidence>) -> (Factor, BTreeMap<String, Factor>) {
    let mut kinds: Vec<String> = jobs.iter().flat_map(|j| j.kinds.iter().cloned()).collect();
    kinds.sort();
    kinds.dedup();
    let outliers = take_outliers(&kinds, &mut jobs);
    let found = estimate(&kinds, jobs.iter(), NEW_SHOP);
    // What each job says by itself: [job][kind], where it says something.
    let alone: Vec<Vec<Option<f64>>> = jobs
        .iter()
        .map(|j| {
            let e = estimate(&kinds, std::iter::once(j), WIDE);
            (0..kinds.len())
                .map(|k| {
                    e.as_ref()
                        .filter(|e| e.variance[k].sqrt() < TOLD && j.kinds.contains(&kinds[k]))
                        .map(|e| e.mean[k])
                })
                .collect()
        })
        .collect();
    let one = |k: usize, said: Vec<f64>| {
        let (mean, variance) =
            found.as_ref().map_or((1.0, NEW_SHOP * NEW_SHOP), |f| (f.mean[k], f.variance[k]));
        factor(mean, variance, &said, &outliers)
    };
    let by_kind: BTreeMap<String, Factor> = kinds
        .iter()
        .enumerate()
        .map(|(k, name)| (name.clone(), one(k, alone.iter().filter_map(|a| a[k]).collect())))
        .filter(|(_, f)| f.jobs > 0)
        .collect();
    // One job may speak for several kinds; it is one job all the same, and says their mean.
    let means: Vec<f64> = alone
        .iter()
        .map(|a| a.iter().flatten().copied().collect::<Vec<f64>>())
        .filter(|a| !a.is_empty())
        .map(|a| a.iter().sum::<f64>() / a.len() as f64)
        .collect();
    let common = if means.is_empty() {
        factor(1.0, NEW_SHOP * NEW_SHOP, &[], &outliers)
    } else {
        one(kinds.len(), means)
    };
    (common, by_kind)
}

/// The worst one first, each judged by the others alone, so that one bad job cannot condemn them.
fn take_outliers(kinds: &[String], jobs: &mut Vec<Evidence>) -> Vec<String> {
    let mut outliers = vec![];
    while jobs.len() >= ENOUGH_FOR_OUTLIERS {
        let sigmas = |i: usize| {
            let own = estimate(kinds, std::iter::once(&jobs[i]), WIDE);
            let rest =
                estimate(kinds, jobs.iter().enumerate().filter(|(k, _)| *k != i).map(|(_, j)| j), WIDE);
            let (Some(own), Some(rest)) = (own, rest) else { return 0.0 };
            (0..kinds.len())
                .filter(|&k| {
                    jobs[i].kinds.contains(&kinds[k])
                        && own.variance[k].sqrt() < TOLD
                        && rest.variance[k].sqrt() < TOLD
                })
                .map(|k| (own.mean[k] - rest.mean[k]).abs() / (own.variance[k] + rest.variance[k]).sqrt())
                .fold(0.0, f64::max)
        };
        let worst = (0..jobs.len()).map(|i| (i, sigmas(i))).max_by(|a, b| a.1.total_cmp(&b.1));
        match worst {
            Some((i, s)) if s > OUTLIER_SIGMAS => outliers.push(jobs.remove(i).job),
            _ => break,
        }
    }
    outliers.sort();
    outliers
}

fn factor(mean: f64, variance: f64, said: &[f64], outliers: &[String]) -> Factor {
    let n = said.len() as f64;
    let middle = said.iter().sum::<f64>() / n;
    let spread = if said.len() < 2 {
        0.0
    } else {
        (said.iter().map(|s| (s - middle).powi(2)).sum::<f64>() / (n - 1.0)).sqrt()
    };
    let refused = (!(USABLE.0..=USABLE.1).contains(&mean)).then_some(mean);
    // The next job differs from the shop's mean as much as the others did.
    let sd = (variance + JOB_TO_JOB * JOB_TO_JOB).sqrt().min(NEW_SHOP);
    Factor {
        factor: if refused.is_some() { 1.0 } else { mean },
        sd: if refused.is_some() { NEW_SHOP } else { sd },
        jobs: said.len(),
        spread,
        outliers: outliers.to_vec(),
        by_hand: false,
        refused,
    }
}

fn column(m: &[Vec<f64>], j: usize) -> Vec<f64> {
    m.iter().map(|row| row[j]).collect()
}

fn times(m: &[Vec<f64>], v: &[f64]) -> Vec<f64> {
    m.iter().map(|row| row.iter().zip(v).map(|(a, b)| a * b).sum()).collect()
}

/// a + s·b
fn combined(a: &[Vec<f64>], b: &[Vec<f64>], s: f64) -> Vec<Vec<f64>> {
    a.iter().zip(b).map(|(x, y)| x.iter().zip(y).map(|(p, q)| p + s * q).collect()).collect()
}

/// Inverse by elimination with row exchange; `None` if there is none.
fn inverse(m: &[Vec<f64>]) -> Option<Vec<Vec<f64>>> {
    let n = m.len();
    let mut a: Vec<Vec<f64>> = m
        .iter()
        .enumerate()
        .map(|(i, row)| row.iter().copied().chain((0..n).map(|j| f64::from(u8::from(i == j)))).collect())
        .collect();
    let scale = m.iter().flatten().fold(0.0_f64, |s, v| s.max(v.abs()));
    for c in 0..n {
        let p = (c..n).max_by(|&x, &y| a[x][c].abs().total_cmp(&a[y][c].abs()))?;
        a.swap(c, p);
        let pivot = a[c].clone();
        if pivot[c].abs() <= 1e-13 * scale {
            return None;
        }
        for (i, row) in a.iter_mut().enumerate() {
            let f = if i == c { 1.0 - 1.0 / pivot[c] } else { row[c] / pivot[c] };
            for (x, y) in row.iter_mut().zip(&pivot) {
                *x -= f * y;
            }
        }
    }
    Some(a.into_iter().map(|row| row[n..].to_vec()).collect())
}

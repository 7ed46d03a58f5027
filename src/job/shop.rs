//! The shop's own factors: what finished jobs taught about how hard this shop's welds pull.
//!
//! Kept as TOML that can be read and edited by hand. Every finished job adds what it learnt; the
//! factors in force are worked out from all of them each time, so nothing is ever averaged away.

use super::event::When;
use super::learn::{Belief, USABLE};
use crate::frame::PullSettings;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Version of the shop file's format.
pub const FORMAT: u32 = 1;

/// How much the factor differs from job to job in one shop beyond what readings can tell (standard
/// deviation). Assumption.
const JOB_TO_JOB: f64 = 0.10;
/// A shop that has never been measured pulls as modelled, to within this (standard deviation): the
/// default scatter of the common factor. Assumption.
const NEW_SHOP: f64 = 0.30;
/// A job further from the others than this many standard deviations is an outlier.
const OUTLIER_SIGMAS: f64 = 3.0;
/// Fewer jobs than this cannot say which of them is the odd one.
const ENOUGH_FOR_OUTLIERS: usize = 4;

const HEAD: &str = "\
# The shop's own shrinkage factors for holdtrue, learnt from finished jobs: 1 = as modelled.
# Each [[jobs]] entry is one frame. `left_out = true` leaves a job out.
# Under [set] factors can be set by hand (0.2 to 3); they win over what was learnt, for instance:
#   [set]
#   common = 1.1
#   [set.kinds]
#   saddle = 1.2

";

/// The shop's file.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Shop {
    /// Version of the format.
    pub format: u32,
    /// Factors set by hand.
    #[serde(default, skip_serializing_if = "SetByHand::is_empty")]
    pub set: SetByHand,
    /// Finished jobs, oldest first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub jobs: Vec<FinishedJob>,
}

/// Factors set by hand.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SetByHand {
    /// For every kind of joint that is not named.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub common: Option<f64>,
    /// By kind of joint; the whole factor, not on top of `common`.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub kinds: BTreeMap<String, f64>,
}

impl SetByHand {
    fn is_empty(&self) -> bool {
        self.common.is_none() && self.kinds.is_empty()
    }
}

/// What one finished job taught.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FinishedJob {
    /// Name of the frame.
    pub name: String,
    /// Fingerprint of its first plan.
    pub plan_id: String,
    /// When it was finished.
    pub finished: When,
    /// Readings that were used.
    pub readings: usize,
    /// Not to be used.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub left_out: bool,
    /// By kind of joint.
    pub kinds: BTreeMap<String, KindLearnt>,
}

/// What a job taught about one kind of joint.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct KindLearnt {
    /// Factor after the job, with its standard deviation.
    pub factor: f64,
    /// Standard deviation of it.
    pub sd: f64,
    /// Factor that the job's plan was made with.
    pub before: f64,
    /// Standard deviation of it.
    pub before_sd: f64,
}

/// A factor in force.
#[derive(Debug, Clone, PartialEq)]
pub struct Factor {
    /// The factor; 1 = as modelled.
    pub factor: f64,
    /// Its standard deviation for the next job.
    pub sd: f64,
    /// Jobs it rests on.
    pub jobs: usize,
    /// How far the jobs lie apart (standard deviation of their own factors; 0 for fewer than two).
    pub spread: f64,
    /// Jobs that lie too far from the others and were left out.
    pub outliers: Vec<String>,
    /// Set by hand.
    pub by_hand: bool,
    /// Out of the usable range: reported, not used (the factor is then 1).
    pub refused: Option<f64>,
}

/// All factors in force.
#[derive(Debug, Clone, PartialEq)]
pub struct Factors {
    /// For kinds of joint that are not in `kinds`.
    pub common: Factor,
    /// By kind of joint: the whole factor, `common` not on top of it.
    pub kinds: BTreeMap<String, Factor>,
}

impl Default for Shop {
    fn default() -> Self {
        Shop { format: FORMAT, set: SetByHand::default(), jobs: vec![] }
    }
}

impl FinishedJob {
    /// What a job taught. `before`: the factors by kind that its plan was made with; `prior`: what was
    /// believed before the first reading (all factors 1 relative to that plan).
    pub fn of(
        name: &str,
        plan_id: &str,
        finished: When,
        readings: usize,
        before: &dyn Fn(&str) -> f64,
        prior: &Belief,
        after: &Belief,
    ) -> FinishedJob {
        let kinds = prior
            .kind_factors()
            .into_iter()
            .zip(after.kind_factors())
            .map(|((kind, _, prior_sd), (_, factor, sd))| {
                let b = before(kind);
                (
                    kind.to_string(),
                    KindLearnt { factor: b * factor, sd: b * sd, before: b, before_sd: b * prior_sd },
                )
            })
            .collect();
        FinishedJob { name: name.into(), plan_id: plan_id.into(), finished, readings, left_out: false, kinds }
    }
}

impl KindLearnt {
    /// What the readings of the job alone say, without what was believed before it.
    ///
    ///     1/s² = 1/s₁² − 1/s₀²;   m = s²·(m₁/s₁² − m₀/s₀²)     0 before, 1 after the job
    ///
    /// The product of two Gaussians turned round; `None` if the readings told next to nothing (s₁
    /// hardly below s₀). Source: any textbook on Bayesian estimation; from memory.
    fn alone(&self) -> Option<(f64, f64)> {
        if self.sd.partial_cmp(&(0.98 * self.before_sd)) != Some(std::cmp::Ordering::Less) || self.sd <= 0.0 {
            return None;
        }
        let (w0, w1) = (self.before_sd.powi(-2), self.sd.powi(-2));
        let w = w1 - w0;
        Some(((self.factor * w1 - self.before * w0) / w, w.powf(-0.5)))
    }
}

impl Shop {
    /// Read a shop file.
    ///
    /// # Errors
    /// What is wrong with it, in words.
    pub fn read(text: &str) -> Result<Shop, String> {
        #[derive(Deserialize)]
        struct Format {
            format: u32,
        }
        let format = toml::from_str::<Format>(text).map_err(|e| e.to_string())?.format;
        if format > FORMAT {
            return Err(format!(
                "it has format {format}, this program knows format {FORMAT}: use a newer version"
            ));
        }
        let shop: Shop = toml::from_str(text).map_err(|e| e.to_string())?;
        let by_hand = shop.set.common.iter().chain(shop.set.kinds.values());
        for f in by_hand {
            if !(USABLE.0..=USABLE.1).contains(f) {
                return Err(format!("a factor of {f} set by hand is outside {} to {}", USABLE.0, USABLE.1));
            }
        }
        for j in &shop.jobs {
            let numbers = j.kinds.values().flat_map(|k| [k.factor, k.sd, k.before, k.before_sd]);
            if numbers.into_iter().any(|v| !v.is_finite())
                || j.kinds.values().any(|k| k.sd <= 0.0 || k.before_sd <= 0.0)
            {
                return Err(format!("job \"{}\" has a number that cannot be", j.name));
            }
        }
        Ok(shop)
    }

    /// The file's text.
    pub fn text(&self) -> String {
        let body = toml::to_string(self).expect("the shop file is plain data");
        format!("{HEAD}{body}")
    }

    /// The same file with one more job; a job of the same plan that was finished before is replaced.
    pub fn with(mut self, job: FinishedJob) -> Shop {
        self.jobs.retain(|j| (&j.name, &j.plan_id) != (&job.name, &job.plan_id));
        self.jobs.push(job);
        self
    }

    /// The factors in force.
    pub fn factors(&self) -> Factors {
        let mut by_kind: BTreeMap<&str, Vec<Said>> = BTreeMap::new();
        for job in self.jobs.iter().filter(|j| !j.left_out) {
            for (kind, k) in &job.kinds {
                if let Some((mean, sd)) = k.alone() {
                    by_kind.entry(kind).or_default().push(Said { job: job.name.clone(), mean, sd });
                }
            }
        }
        let all: Vec<Said> = by_kind.values().flatten().cloned().collect();
        let mut common = combine(all);
        // One job speaks for several kinds; it is one job all the same.
        let names = |j: &&FinishedJob| !j.left_out && j.kinds.values().any(|k| k.alone().is_some());
        common.jobs = self.jobs.iter().filter(names).count().saturating_sub(common.outliers.len());
        let mut kinds: BTreeMap<String, Factor> =
            by_kind.into_iter().map(|(kind, said)| (kind.to_string(), combine(said))).collect();
        if let Some(f) = self.set.common {
            common = by_hand(f, common);
        }
        for (kind, &f) in &self.set.kinds {
            let learnt = kinds.remove(kind).unwrap_or_else(|| combine(vec![]));
            kinds.insert(kind.clone(), by_hand(f, learnt));
        }
        Factors { common, kinds }
    }
}

/// What one job's readings alone say.
#[derive(Debug, Clone)]
struct Said {
    job: String,
    mean: f64,
    sd: f64,
}

impl Said {
    fn weight(&self) -> f64 {
        1.0 / (self.sd * self.sd + JOB_TO_JOB * JOB_TO_JOB)
    }
}

/// The factor from several jobs: mean weighted by 1/(s² + q²), s the standard deviation of each job's
/// own answer, q the difference from job to job; a new shop's factor 1 counts as one more job.
fn combine(mut said: Vec<Said>) -> Factor {
    let mut outliers = vec![];
    while said.len() >= ENOUGH_FOR_OUTLIERS {
        // The worst one first, each judged by the others alone; so one bad job cannot condemn them.
        let sigmas = |i: usize| {
            let rest = said.iter().enumerate().filter(|(k, _)| *k != i).map(|(_, s)| s);
            let (sum, weights) = rest.fold((0.0, 0.0), |(a, b), s| (a + s.weight() * s.mean, b + s.weight()));
            (said[i].mean - sum / weights).abs() / (1.0 / said[i].weight() + 1.0 / weights).sqrt()
        };
        let worst = (0..said.len()).map(|i| (i, sigmas(i))).max_by(|a, b| a.1.total_cmp(&b.1));
        match worst {
            Some((i, s)) if s > OUTLIER_SIGMAS => outliers.push(said.remove(i).job),
            _ => break,
        }
    }
    outliers.sort();
    outliers.dedup();
    let new_shop = NEW_SHOP.powi(-2);
    let weights: f64 = new_shop + said.iter().map(Said::weight).sum::<f64>();
    let factor = (new_shop + said.iter().map(|s| s.weight() * s.mean).sum::<f64>()) / weights;
    let n = said.len() as f64;
    let mean = said.iter().map(|s| s.mean).sum::<f64>() / n;
    let spread = if said.len() < 2 {
        0.0
    } else {
        (said.iter().map(|s| (s.mean - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt()
    };
    // The next job differs from the shop's mean as much as the others did.
    let sd = if said.is_empty() {
        NEW_SHOP
    } else {
        (1.0 / weights + JOB_TO_JOB * JOB_TO_JOB).sqrt().min(NEW_SHOP)
    };
    let refused = (!(USABLE.0..=USABLE.1).contains(&factor)).then_some(factor);
    Factor {
        factor: if refused.is_some() { 1.0 } else { factor },
        sd: if refused.is_some() { NEW_SHOP } else { sd },
        jobs: said.len(),
        spread,
        outliers,
        by_hand: false,
        refused,
    }
}

fn by_hand(factor: f64, learnt: Factor) -> Factor {
    Factor { factor, by_hand: true, refused: None, ..learnt }
}

impl Factors {
    /// The factor for a kind of joint.
    pub fn of(&self, kind: &str) -> f64 {
        self.kinds.get(kind).unwrap_or(&self.common).factor
    }

    /// Put the factors into the settings of the pull model. Goes out: what was done, in words for
    /// the plan; empty if the shop has no factors. Factors that the frame file states itself stay as
    /// they are.
    pub fn apply(&self, pull: &mut PullSettings) -> Vec<String> {
        if self.common.jobs == 0 && !self.common.by_hand && self.kinds.is_empty() {
            return vec![];
        }
        if pull.common_factor != 1.0 || !pull.kind_factors.is_empty() {
            return vec![
                "the frame file states shrinkage factors of its own; the shop's are not used".into(),
            ];
        }
        pull.common_factor = self.common.factor;
        pull.kind_factors =
            self.kinds.iter().map(|(kind, f)| (kind.clone(), f.factor / self.common.factor)).collect();
        pull.scatter[0] = pull.scatter[0].min(self.common.sd);
        let mut words =
            vec![format!("the shop's own shrinkage factors are used: {}", self.common.words("all joints"))];
        words.extend(self.kinds.iter().map(|(kind, f)| f.words(kind)));
        words
    }
}

impl Factor {
    /// One line for people.
    pub fn words(&self, name: &str) -> String {
        if let Some(f) = self.refused {
            return format!(
                "{name}: {f:.2} was learnt, which is outside {} to {} and is not used",
                USABLE.0, USABLE.1
            );
        }
        if self.by_hand {
            return format!("{name} {:.2}, set by hand", self.factor);
        }
        let jobs = if self.jobs == 1 { "1 job".to_string() } else { format!("{} jobs", self.jobs) };
        let spread = if self.jobs < 2 { String::new() } else { format!(", spread {:.2}", self.spread) };
        let out = if self.outliers.is_empty() {
            String::new()
        } else {
            format!("; left out as too far from the others: {}", self.outliers.join(", "))
        };
        format!("{name} {:.2} ± {:.2} from {jobs}{spread}{out}", self.factor, self.sd)
    }
}

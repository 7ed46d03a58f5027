//! The shop's own factors: what finished jobs taught about how hard this shop's welds pull.
//!
//! Kept as TOML that can be read and edited by hand. Every finished job adds what it learnt; the
//! factors in force are worked out from all of them each time, so nothing is ever averaged away.

use super::combine::{Evidence, combine};
use super::event::When;
use super::learn::{Belief, USABLE};
use crate::fault::Fault;
use crate::frame::{self, PullSettings};
use crate::library::Material;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Version of the shop file's format.
pub const FORMAT: u32 = 1;

const HEAD: &str = "\
# The shop's own shrinkage factors for holdtrue, learnt from finished jobs: 1 = as modelled.
# Each [[jobs]] entry is one frame. `left_out = true` leaves a job out.
# Under [set] factors can be set by hand (0.2 to 3); they win over what was learnt, for instance:
#   [set]
#   common = 1.1
#   [set.kinds]
#   saddle = 1.2
# Materials of your own, for every frame of this shop, stand here as in a frame file, for instance:
#   [materials.mill-sheet-7]
#   like = \"S355\"
#   source = \"inspection certificate 7\"
#   yield_mpa = 390

";

/// What stands before the source of a shop's own value.
const WHOSE: &str = "shop file";

fn said(faults: &[Fault]) -> String {
    let words: Vec<String> = faults
        .iter()
        .map(|f| f.help.as_ref().map_or(f.message.clone(), |help| format!("{}: {help}", f.message)))
        .collect();
    words.join("; ")
}

/// The shop's file.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Shop {
    /// Version of the format.
    pub format: u32,
    /// Factors set by hand.
    #[serde(default, skip_serializing_if = "SetByHand::is_empty")]
    pub set: SetByHand,
    /// The shop's own materials, by name, as under `[materials]` of a frame file.
    #[serde(default, skip_serializing_if = "toml::Table::is_empty")]
    pub materials: toml::Table,
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
    /// Kinds of joint in it.
    pub kinds: Vec<String>,
    /// Factor of each kind after the job.
    pub factor: Vec<f64>,
    /// Covariance of these factors.
    pub covariance: Vec<Vec<f64>>,
    /// Factor of each kind that the job's plan was made with.
    pub before: Vec<f64>,
    /// Covariance of these.
    pub before_covariance: Vec<Vec<f64>>,
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
        Shop { format: FORMAT, set: SetByHand::default(), materials: toml::Table::new(), jobs: vec![] }
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
        let kinds: Vec<String> = prior.kind_factors().iter().map(|k| k.0.to_string()).collect();
        let b: Vec<f64> = kinds.iter().map(|k| before(k)).collect();
        // The belief is relative to the factors that the plan was made with.
        let scaled = |cov: Vec<Vec<f64>>| {
            cov.iter().zip(&b).map(|(row, x)| row.iter().zip(&b).map(|(v, y)| v * x * y).collect()).collect()
        };
        FinishedJob {
            name: name.into(),
            plan_id: plan_id.into(),
            finished,
            readings,
            left_out: false,
            factor: after.kind_factors().iter().zip(&b).map(|(k, b)| k.1 * b).collect(),
            covariance: scaled(after.kind_covariance()),
            before_covariance: scaled(prior.kind_covariance()),
            before: b,
            kinds,
        }
    }

    /// What is wrong with it, if anything.
    fn fault(&self) -> Option<&'static str> {
        let n = self.kinds.len();
        let square = |m: &[Vec<f64>]| {
            m.len() == n && m.iter().all(|r| r.len() == n && r.iter().all(|v| v.is_finite()))
        };
        let row = |v: &[f64]| v.len() == n && v.iter().all(|x| x.is_finite());
        if !row(&self.factor)
            || !row(&self.before)
            || !square(&self.covariance)
            || !square(&self.before_covariance)
        {
            return Some("a number is missing or is none");
        }
        Evidence::of(self).is_none().then_some("its covariances cannot be")
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
        frame::materials_described(text, WHOSE).map_err(|faults| said(&faults))?;
        for j in &shop.jobs {
            if let Some(why) = j.fault() {
                return Err(format!("job \"{}\": {why}", j.name));
            }
        }
        Ok(shop)
    }

    /// The file's text.
    pub fn text(&self) -> String {
        let body = toml::to_string(self).expect("the shop file is plain data");
        format!("{HEAD}{body}")
    }

    /// The shop's own materials.
    pub fn own_materials(&self) -> Vec<Material> {
        frame::materials_described(&self.text(), WHOSE).unwrap_or_default()
    }

    /// The same file with one more job; a job of the same plan that was finished before is replaced.
    pub fn with(mut self, job: FinishedJob) -> Shop {
        self.jobs.retain(|j| (&j.name, &j.plan_id) != (&job.name, &job.plan_id));
        self.jobs.push(job);
        self
    }

    /// The factors in force.
    pub fn factors(&self) -> Factors {
        let jobs: Vec<Evidence> = self.jobs.iter().filter(|j| !j.left_out).filter_map(Evidence::of).collect();
        let (mut common, mut kinds) = combine(jobs);
        if let Some(f) = self.set.common {
            common = by_hand(f, common);
        }
        for (kind, &f) in &self.set.kinds {
            let learnt = kinds.remove(kind).unwrap_or_else(|| common.clone());
            kinds.insert(kind.clone(), by_hand(f, learnt));
        }
        Factors { common, kinds }
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

//! A re-plan of a running job: what the planner is told, and the new plan.

use super::{Floor, Job, Refused, Said, When};
use crate::fault::Fault;
use crate::plan::{self, Effort, Levers, Reach, Watch, WeldPlan};

/// How a re-plan is asked for.
#[derive(Debug, Clone, Copy)]
pub struct Asked {
    /// How long to search.
    pub effort: Effort,
    /// Seed of the search; none: that of the job.
    pub seed: Option<u64>,
    /// What may be changed.
    pub levers: Levers,
}

/// A new plan for what is left; it is in force once it stands in the record.
pub struct Anew {
    /// The plan.
    pub plan: WeldPlan,
    /// How far the levers can still move each control; empty without a search.
    pub reach: Vec<Reach>,
    /// What the readings said before it; none if no pull is predicted.
    pub said: Option<Said>,
    /// Joints whose learnt factor is out of range and was not used.
    pub refused: Vec<String>,
}

/// Why there is no new plan.
pub enum NoNewPlan {
    /// There is nothing to plan, or the job is finished.
    Refused(Refused),
    /// The planner found no order, or the record's frame cannot be reckoned with.
    Faults(Vec<Fault>),
    /// The new plan did not pass its audit: a fault of this program; what it found.
    Audit(Vec<String>),
}

impl NoNewPlan {
    /// In words, for people who can do nothing but go on with the old sheet.
    pub fn words(&self) -> String {
        match self {
            NoNewPlan::Refused(r) => r.what.clone(),
            NoNewPlan::Faults(f) => f.iter().map(|f| f.message.as_str()).collect::<Vec<_>>().join("; "),
            NoNewPlan::Audit(found) => {
                format!("it did not pass its own audit, a fault of the program: {}", found.join("; "))
            }
        }
    }
}

impl Job {
    /// Whether there is anything to plan anew.
    ///
    /// # Errors
    /// Why not.
    pub fn can_be_planned_anew(&self) -> Result<(), Refused> {
        if self.finished.is_some() {
            return Err(Refused::new("this job is finished", "take the finish back first (undo)"));
        }
        if !self.open().iter().any(|i| i.is_pass()) {
            let help = "holdtrue job finish says what the job taught";
            return Err(Refused::new("every pass is welded: there is nothing to plan anew", help));
        }
        Ok(())
    }
}

impl Floor {
    /// Plan the rest of the job anew. `now` becomes the time zero of the new plan. May take long; `watch`
    /// says how far it is and can stop the search.
    ///
    /// # Errors
    /// Why there is no new plan; the old one stays in force.
    pub fn replan(&self, job: &Job, asked: &Asked, now: When, watch: &Watch) -> Result<Anew, NoNewPlan> {
        job.can_be_planned_anew().map_err(NoNewPlan::Refused)?;
        let said = self.said(job).map_err(|f| NoNewPlan::Faults(vec![f]))?;
        let (frame, refused) = self.learnt_frame(said.as_ref());
        let mut underway = self.underway(job, said.as_ref(), now);
        underway.levers = asked.levers;
        let options = self.options(job, asked.effort, asked.seed);
        let (plan, reach) = plan::replan(&frame, self.parts.clone(), &underway, &options, watch)
            .map_err(NoNewPlan::Faults)?;
        let found = plan::audit(&plan);
        if !found.is_empty() {
            return Err(NoNewPlan::Audit(found));
        }
        Ok(Anew { plan, reach, said, refused })
    }
}

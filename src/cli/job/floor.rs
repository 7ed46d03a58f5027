//! The models of a running job, built from what its record holds.

use crate::cli::exit::{Exit, Stop};
use crate::distort::{Model, Tack};
use crate::frame::{self, Frame};
use crate::heat::Kernels;
use crate::job::learn::Belief;
use crate::job::shop::Shop;
use crate::job::{Bench, DeedKind, Job, Outlook, Task, as_welded};
use crate::plan::{self, PULL_LIMIT_PASSES, Parts};
use crate::procedure;
use crate::tack::{self, Tacks};

/// Frame, parts and models. The passes carry the heat that they were really laid with.
pub struct Floor {
    pub frame: Frame,
    pub parts: Parts,
    /// The tacks of the frame, if the job began with loose tubes.
    pub tacks: Option<Tacks>,
    /// None if the frame is too large for the pull model.
    model: Option<Model>,
    kernels: Kernels,
}

/// What the readings say: the outlook of every control and what was learnt.
pub struct Said {
    pub belief: Belief,
    /// Verdict of each reading that counts, by number of its record.
    pub judged: Vec<(u64, crate::job::Judged)>,
    pub outlook: Vec<Outlook>,
}

impl Floor {
    /// Build everything from the record's own copy of the frame file.
    pub fn of(job: &Job) -> Result<Floor, Stop> {
        let h = &job.header;
        let stop = |f: &[crate::fault::Fault]| {
            let words: Vec<&str> = f.iter().map(|f| f.message.as_str()).collect();
            let words = format!("error: the frame in this record cannot be read: {}", words.join("; "));
            Stop::new(Exit::BadInput, words)
        };
        let mut frame = frame::read(&h.frame).map_err(|f| stop(&f))?.value;
        if let Some(w) = h.welders {
            frame.shop.welders = w;
        }
        if !h.shop.is_empty() {
            let shop = Shop::read(&h.shop).map_err(|e| {
                Stop::new(Exit::BadInput, format!("error: the shop's factors in this record: {e}"))
            })?;
            shop.factors().apply(&mut frame.pull);
        }
        let mut parts = plan::parts(&frame).map_err(|f| stop(&f))?;
        // Gaps that were read hold for what is not welded yet; what is welded carries its own heat.
        let laid: Vec<String> = job
            .deeds
            .iter()
            .filter_map(|d| match &d.kind {
                DeedKind::Laid { label, .. } => Some(label.clone()),
                _ => None,
            })
            .collect();
        for (name, gap_mm) in &job.gaps {
            let joint = parts.joints.joints.iter().position(|j| j.name.eq_ignore_ascii_case(name));
            if let Some(joint) = joint {
                let Parts { joints, seams, passes, .. } = &mut parts;
                procedure::with_gap(&frame, joints, seams, passes, joint, *gap_mm, &laid);
            }
        }
        parts.passes = as_welded(job, &parts.passes);
        let tacked = job.known().any(|i| matches!(i.task, Task::Tack { .. }));
        let tacks = tacked.then(|| tack::tacks(&frame, &parts.joints, &parts.seams));
        let model = if frame.controls.is_empty() || parts.passes.passes.len() > PULL_LIMIT_PASSES {
            None
        } else {
            Some(Model::new(&frame, &parts.joints, &parts.seams, &parts.passes).map_err(|f| stop(&f))?)
        };
        let kernels = Kernels::new(&frame, &parts.joints, &parts.seams, &parts.passes);
        Ok(Floor { frame, parts, tacks, model, kernels })
    }

    /// The tacks with their labels.
    pub fn tack_labels(&self) -> Vec<(String, (usize, usize))> {
        let tacks = self.tacks.iter().flat_map(|t| &t.tacks);
        tacks
            .map(|t| (format!("{}-t{}", self.parts.seams.seams[t.seam].name, t.number), (t.seam, t.number)))
            .collect()
    }

    pub fn bench(&self) -> Bench<'_> {
        let laid = self.tacks.iter().flat_map(|t| &t.tacks).map(|t| Tack {
            seam: t.seam,
            line: t.line,
            at_mm: t.at_mm,
            length_mm: t.length_mm,
            pull: 1.0,
        });
        Bench {
            frame: &self.frame,
            joints: &self.parts.joints,
            passes: &self.parts.passes,
            model: self.model.as_ref(),
            kernels: Some(&self.kernels),
            tacks: self.tack_labels().into_iter().map(|t| t.0).zip(laid).collect(),
            level: crate::distort::Level::Fine,
        }
    }

    /// What the readings say; nothing if no pull is predicted for this frame.
    pub fn said(&self, job: &Job) -> Result<Option<Said>, Stop> {
        if self.model.is_none() {
            return Ok(None);
        }
        let stop = |f: crate::fault::Fault| Stop::new(Exit::BadInput, format!("error: {}", f.message));
        let bench = self.bench();
        let (learnt, numbers) = bench.learn(job).map_err(stop)?;
        let outlook = bench.outlook(job, &learnt.belief).map_err(stop)?;
        Ok(Some(Said {
            belief: learnt.belief,
            judged: numbers.into_iter().zip(learnt.judged).collect(),
            outlook,
        }))
    }
}

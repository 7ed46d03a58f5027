//! How far the frame has pulled and where it will end, worked out beside the page's own thread.

use crate::job::learn::Forecast;
use crate::job::{Floor, Job, Judged};
use std::collections::BTreeMap;

/// The dimensions that must come out true, now and at the end.
#[derive(Debug, Clone, Default)]
pub struct Pull {
    /// One for each control, in the order of the job's header. Empty if nothing is predicted.
    pub rows: Vec<Row>,
    /// What each reading said, by number of its record.
    pub judged: BTreeMap<u64, Judged>,
    /// Why there is no prediction.
    pub why_not: Option<String>,
}

/// One control, as deviations from nominal.
#[derive(Debug, Clone, Copy)]
pub struct Row {
    /// As it lies now, if it were cold.
    pub now: Option<Forecast>,
    /// At the end, cold and free, with what the readings taught.
    pub end: Forecast,
}

impl Pull {
    /// Work it out. May take seconds on a large frame.
    pub fn of(floor: &Floor, job: &Job) -> Pull {
        let bench = floor.bench();
        let none = |why: String| Pull { why_not: Some(why), ..Pull::default() };
        let Some(model) = bench.model else {
            return none("no pull is predicted for this frame".into());
        };
        let learnt = bench.learn(job).and_then(|l| Ok((bench.outlook(job, &l.0.belief)?, l)));
        let (outlook, (learnt, numbers)) = match learnt {
            Ok(l) => l,
            Err(fault) => return none(fault.message),
        };
        // The clamps as they are: a frame that is not tacked yet cannot be let go.
        let now = model.moment(&bench.done(job, &job.deeds), bench.level, &[], false).ok();
        let rows = job.header.controls.iter().zip(outlook).enumerate();
        let rows = rows
            .map(|(r, (c, o))| Row {
                now: now.as_ref().map(|m| {
                    let expected = c.set_to + m.controls[r];
                    learnt.belief.forecast(r, expected, &m.by_joint[r], m.other[r])
                }),

                end: o.after,
            })
            .collect();
        Pull { rows, judged: numbers.into_iter().zip(learnt.judged).collect(), why_not: None }
    }
}

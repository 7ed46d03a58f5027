//! When a re-plan is advised, and what should be read again.

use super::{Event, Job, Judged, Reading, Verdict};
use std::collections::BTreeMap;

/// Why the rest should be planned anew, as sentences without a full stop; empty if the sheet in force may
/// stay. `judged`: what each reading said, by number of its record.
pub fn again_advised(job: &Job, judged: &BTreeMap<u64, Judged>) -> Vec<String> {
    let mut why = vec![];
    if job.finished.is_some() || !job.open().iter().any(|i| i.is_pass()) {
        return why;
    }
    // What the sheet in force was made with is known to it.
    let planned = job.records.iter().rev().find(|r| matches!(r.event, Event::Replanned { .. }));
    let planned = planned.map_or(0, |r| r.n);
    for r in newest(job).into_iter().filter(|r| r.n > planned) {
        let name = &job.header.controls[r.control].name;
        match judged.get(&r.n).map(|j| j.verdict) {
            Some(Verdict::MovingMore) => why.push(format!("{name} is moving more than expected")),
            Some(Verdict::OutOfTolerance) => why.push(format!("{name} is out of tolerance")),
            _ => {}
        }
    }
    let lost: Vec<&str> = job.lost().map(|i| i.label.as_str()).collect();
    if !lost.is_empty() {
        let is = if lost.len() == 1 { "is" } else { "are" };
        why.push(format!("{} {is} to be welded again and on no sheet in force", lost.join(", ")));
    }
    let withdrawn = |n: u64| job.records.iter().any(|o| o.event == Event::Withdrawn { n });
    let mut gaps: Vec<&str> = vec![];
    for r in job.records.iter().filter(|r| r.n > planned && !withdrawn(r.n)) {
        if let Event::Gap { joint, value_mm } = &r.event
            && *value_mm > 0.0
            && !gaps.contains(&joint.as_str())
        {
            gaps.push(joint);
        }
    }
    if !gaps.is_empty() {
        why.push(format!("a gap was read at {}", gaps.join(", ")));
    }
    why
}

/// Controls whose newest reading was made at this very moment of the job and is too far off to be believed
/// without a second one, by index.
pub fn read_again(job: &Job, judged: &BTreeMap<u64, Judged>) -> Vec<usize> {
    let now = |r: &&Reading| r.after == job.deeds.len();
    let doubtful = |r: &&Reading| judged.get(&r.n).is_some_and(|j| j.verdict == Verdict::ReadAgain);
    newest(job).into_iter().filter(now).filter(doubtful).map(|r| r.control).collect()
}

/// The newest reading of each control, in the order of the header.
fn newest(job: &Job) -> Vec<&Reading> {
    let of = |c: usize| job.readings.iter().rev().find(|r| r.control == c);
    (0..job.header.controls.len()).filter_map(of).collect()
}

//! The main line: parts, question, order, timeline, pull, lines.

use super::expect;
use super::find::{find, habits};
use super::fingerprint::fingerprint;
use super::hold;
use super::judge::{FULL_LIMIT_PASSES, Judge, Judged, PULL_LIMIT_PASSES};
use super::lines::{self, Course};
use super::question::question;
use super::stages;
use super::tacking;
use super::{Effort, Objective, Remark, WeldPlan};
use crate::distort::Level;
use crate::fault::Fault;
use crate::frame::Frame;
use crate::joint::{self, Joints};
use crate::procedure::{self, Passes};
use crate::seam::{self, Seams};
use crate::sequence::{self, Order, Question, Step};
use crate::tack;
use std::sync::atomic::AtomicBool;

/// Everything about a frame that no order changes.
#[derive(Debug, Clone)]
pub struct Parts {
    /// Joints.
    pub joints: Joints,
    /// Seams.
    pub seams: Seams,
    /// Passes.
    pub passes: Passes,
    /// Warnings that point into the frame file.
    pub warnings: Vec<Fault>,
}

/// How to plan.
#[derive(Debug, Clone)]
pub struct Options {
    /// Seed of the search.
    pub seed: u64,
    /// Effort of the search.
    pub effort: Effort,
    /// SHA-256 of the frame file, hex.
    pub frame_sha256: String,
    /// Where the plan begins.
    pub from: From,
}

/// Where a plan begins.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum From {
    /// Loose tubes in the fixture.
    Tacks,
    /// A frame that is tacked already.
    WeldOut,
}

/// By the rules alone, from loose tubes, seed 1, no checksum.
impl Default for Options {
    fn default() -> Options {
        Options { seed: 1, effort: Effort::Rules, frame_sha256: String::new(), from: From::Tacks }
    }
}

/// How the caller watches the search, and stops it.
pub struct Watch<'a> {
    /// Set to true to get the best order so far.
    pub stop: &'a AtomicBool,
    /// Called now and then with the part done (0 to 1) and the best objective so far.
    pub progress: Box<dyn Fn(f64, f64) + Sync + 'a>,
}

/// Nobody watches, and nobody stops it.
impl Default for Watch<'static> {
    fn default() -> Watch<'static> {
        static NEVER: AtomicBool = AtomicBool::new(false);
        Watch { stop: &NEVER, progress: Box::new(|_, _| {}) }
    }
}

/// Most passes of a frame: the work goes with their square, and 10,000 take minutes.
const MOST_PASSES: usize = 20_000;

/// Find joints, trace seams, cut passes.
///
/// # Errors
/// All faults of the geometry and of the heat settings at once.
pub fn parts(frame: &Frame) -> Result<Parts, Vec<Fault>> {
    parts_in_mm(frame).map_err(|faults| crate::frame::faults_in(faults, frame.units)).map(|mut parts| {
        parts.warnings = crate::frame::faults_in(parts.warnings, frame.units);
        parts
    })
}

fn parts_in_mm(frame: &Frame) -> Result<Parts, Vec<Fault>> {
    let found = joint::joints(frame)?;
    let joints = found.value;
    let seams = seam::seams(frame, &joints);
    let passes = procedure::passes(frame, &joints, &seams);
    let count = passes.passes.len();
    if count > MOST_PASSES {
        let words = format!("{count} passes are more than the {MOST_PASSES} that are put in order");
        let help =
            "plan the frame in parts, each in a file of its own, or allow longer segments (`max_segment`)";
        return Err(vec![Fault::new("E405", words).help(help)]);
    }
    let mut faults = crate::heat::check(frame, &passes);
    faults.extend(too_wide(frame, &joints, &seams));
    if faults.iter().any(|f| !f.is_warning()) {
        return Err(faults);
    }
    let warnings = found.warnings.into_iter().chain(faults).collect();
    Ok(Parts { joints, seams, passes, warnings })
}

/// Gaps of the frame file that no weld should span.
fn too_wide(frame: &Frame, joints: &Joints, seams: &Seams) -> Vec<Fault> {
    let wide = joints.meets.iter().zip(&seams.seams).filter(|(m, _)| m.gap_mm > procedure::GAP_LIMIT_MM);
    wide.map(|(m, s)| {
        let fault = Fault::new(
            "E301",
            format!("a root gap of {} mm at {} is too wide to be welded over", m.gap_mm, s.name),
        )
        .help(
            "5 mm is the most (AWS D1.1, from memory), on thin tube far less: cut a new tube or let in a fitted \
             piece, then write the gap that is left",
        );
        match frame.joint_wishes.iter().find(|w| w.gap_mm == Some(m.gap_mm)) {
            Some(w) => fault.at(w.span.clone(), "this joint"),
            None => fault,
        }
    })
    .collect()
}

/// Plan a frame.
///
/// # Errors
/// Rules that clash, a tube that nothing holds, an order by hand that names what is not there.
pub fn plan(frame: &Frame, parts: Parts, options: &Options, watch: &Watch) -> Result<WeldPlan, Vec<Fault>> {
    if !frame.stages.is_empty() && options.from == From::Tacks {
        return stages::plan(frame, &parts, options, watch);
    }
    let mut q = question(frame, &parts.joints, &parts.seams, &parts.passes)?;
    q.hold_before_turning();
    let tacks = (options.from == From::Tacks).then(|| tack::tacks(frame, &parts.joints, &parts.seams));
    let mut judge = Judge::new(frame, &parts, tacks.as_ref())?;
    open_at_gate(&mut judge).map_err(|f| vec![f])?;
    work_out(&q, &mut judge, tacks, None, options, watch)
}

/// If the clamps hide what the tacks have pulled, they are opened for the reading as tacked and closed
/// again where the frame then is; that lets forces go, so it belongs to what happens.
pub(super) fn open_at_gate(judge: &mut Judge) -> Result<(), Fault> {
    let frame = judge.frame;
    let ahead = match judge.underway.filter(|u| u.revision > 0) {
        Some(u) => !u.read_as_tacked && !judge.tacks.is_empty(),
        None => !judge.tacks.is_empty(),
    };
    let Some(model) = judge.model.as_ref().filter(|_| ahead && !frame.clamps.is_empty()) else {
        return Ok(());
    };
    let seen = hold::seen(model, &judge.before())?;
    if (0..frame.controls.len()).any(|r| !seen.shows(frame, r)) {
        judge.tacks.extend(hold::open_and_close(frame));
    }
    Ok(())
}

/// From the question to the finished plan; `tacks` are those of the frame, laid or not.
pub(super) fn work_out(
    q: &Question,
    judge: &mut Judge,
    tacks: Option<tack::Tacks>,
    stages: Option<lines::StageRun>,
    options: &Options,
    watch: &Watch,
) -> Result<WeldPlan, Vec<Fault>> {
    let (frame, parts) = (judge.frame, judge.parts);
    let found = find(q, judge, options, watch)?;
    let mut judged = judge.full(&found.order, Level::Fine).map_err(|f| vec![f])?;
    let mut tacking = None;
    let first = found.order.steps[..judge.done()].iter().map(|s| s.passes.len()).sum();
    let gate = match judged.pull.level {
        "none" => None,
        _ => Some(judge.after(&found.order, &judged.timeline, first)?),
    };
    if let Some(t) = &tacks {
        let pull = gate.as_ref().map_or(vec![], |p| p.controls.clone());
        tacking = Some(tacking::tacking(judge, t, pull).map_err(|f| vec![f])?);
    }
    let start: Vec<f64> = gate.iter().flat_map(|p| p.controls.iter().map(|c| c.pull)).collect();
    let again = judge.underway.is_some_and(|u| u.revision > 0);
    let counts = |r| judge.counts(r);
    let (order, path) = (&found.order, &judged.pull.path);
    let holds = hold::choose(frame, &parts.passes, order, (judge.done(), again), &start, path, counts);
    let course = Course {
        frame,
        joints: &parts.joints,
        seams: &parts.seams,
        passes: &parts.passes,
        tacks: tacks.as_ref(),
        tack_wait_s: tacking.as_ref().map_or(&[], |t| &t.wait_s),
        holds: &holds,
        stages,
        order: &found.order,
        timeline: &judged.timeline,
        underway: judge.underway,
    };
    let acts = course.acts();
    let looks = expect::look(&acts, judge, &found.order, &judged)?;
    if !judge.openings.is_empty() {
        // What is opened on the way lets forces go: the end is another one.
        judged = judge.full(&found.order, Level::Fine).map_err(|f| vec![f])?;
    }
    let judge = &*judge;
    let (expected, joint_by_joint) = rayon::join(
        || expect::fill_in(acts, &looks, judge, &found.order, &judged),
        || match habits(q, judge).first() {
            Some(h)
                if judge.underway.is_none()
                    && !frame.controls.is_empty()
                    && q.passes.len() <= FULL_LIMIT_PASSES =>
            {
                judge.path(&h.as_is(q).0).map_err(|f| vec![f])
            }
            _ => Ok(vec![]),
        },
    );
    let (acts, joint_by_joint) = (expected?, joint_by_joint?);
    let names: Vec<String> = parts.joints.joints.iter().map(|j| j.name.clone()).collect();
    let reasons = sequence::reasons(q, &found.order, &names, &hot(judge, &found.order));
    let mut remarks = remarks(frame, parts, &judged, &found.objective);
    if let Some(t) = &tacks {
        remarks.extend(t.warnings.iter().map(|(code, text)| Remark {
            code: (*code).into(),
            text: text.clone(),
            first: false,
        }));
    }
    let joint_heat = hottest(judge, &found.order);
    let mut said = vec![options.frame_sha256.clone(), options.effort.word().into(), options.seed.to_string()];
    said.push(frame.shop.welders.to_string());
    let p = &frame.pull;
    if p.common_factor != 1.0 || !p.kind_factors.is_empty() || !p.joint_factors.is_empty() {
        // Learnt by the shop or on this job: not in the frame file.
        said.push(format!("{} {:?} {:?}", p.common_factor, p.kind_factors, p.joint_factors));
    }
    if let Some(u) = judge.underway {
        said.push(format!("revision {}", u.revision));
    }
    for s in &found.order.steps {
        said.extend(s.passes.iter().map(|l| {
            format!("{} {} {} {}", parts.passes.passes[l.pass].label, s.setup, l.welder, l.forward)
        }));
        said.push("/".into());
    }
    Ok(WeldPlan {
        lines: lines::number(acts),
        reasons,
        remarks,
        plan_id: fingerprint(&said),
        frame_sha256: options.frame_sha256.clone(),
        seed: options.seed,
        effort: options.effort,
        revision: judge.underway.map_or(0, |u| u.revision),
        objective: found.objective,
        frame: frame.clone(),
        joints: parts.joints.clone(),
        seams: parts.seams.clone(),
        passes: parts.passes.clone(),
        tacks,
        tacking,
        stage_steps: vec![judge.done()],
        order: found.order,
        timeline: judged.timeline,
        build_to: judge.build_to(&judged.pull),
        pull: judged.pull,
        joint_by_joint,
        joint_heat,
    })
}

/// The four joints that get hottest, with their temperatures in small steps of time.
fn hottest(judge: &Judge, order: &Order) -> Vec<(usize, Vec<(f64, f64)>)> {
    const SHOWN: usize = 4;
    const STEPS: usize = 400;
    let (_, clock) = judge.run(order);
    let end = clock.now_s();
    let mut curves: Vec<(usize, Vec<(f64, f64)>)> = (0..judge.parts.joints.joints.len())
        .map(|j| {
            let at = |i: usize| end * i as f64 / STEPS as f64;
            (j, (0..=STEPS).map(|i| (at(i), clock.temperature(j, at(i)))).collect())
        })
        .collect();
    let peak = |c: &(usize, Vec<(f64, f64)>)| c.1.iter().map(|p| p.1).fold(f64::NEG_INFINITY, f64::max);
    curves.sort_by(|a, b| peak(b).total_cmp(&peak(a)).then(a.0.cmp(&b.0)));
    curves.truncate(SHOWN);
    curves
}

/// Temperature of a joint at the start of a step, where it made the welder wait.
fn hot(judge: &Judge, order: &Order) -> impl Fn(usize, usize) -> Option<f64> {
    let (starts, clock) = judge.run(order);
    let limits: Vec<f64> = (0..judge.parts.joints.joints.len())
        .map(|j| {
            let of = judge.parts.passes.passes.iter().filter(|p| p.joint == j);
            of.map(|p| judge.parts.passes.settings[p.settings].interpass_c).fold(f64::INFINITY, f64::min)
        })
        .collect();
    let heat: Vec<Vec<f64>> =
        starts.iter().map(|&t| (0..limits.len()).map(|j| clock.temperature(j, t)).collect()).collect();
    move |step, joint| heat.get(step).map(|h| h[joint]).filter(|&t| t > limits[joint])
}

fn remarks(frame: &Frame, parts: &Parts, judged: &Judged, objective: &Objective) -> Vec<Remark> {
    let mut out = Vec::new();
    for (c, p) in frame.controls.iter().zip(&judged.pull.controls) {
        let unit = if c.kind.unit() == "deg" { "°" } else { " mm" };
        if p.scatter > c.tolerance {
            out.push(Remark {
                code: "W701".into(),
                text: format!(
                    "{}: the prediction is good to ±{:.1}{unit} only, its tolerance is ±{:.1}{unit}. Measure at every \
                     hold point; no order can promise this dimension before the shop has calibrated.",
                    c.name, p.scatter, c.tolerance
                ),
                first: true,
            });
        }
        if p.residual.abs() > c.tolerance {
            out.push(Remark {
                code: "W702".into(),
                text: format!(
                    "{}: {:+.1}{unit} is left after setting it to {:+.1}{unit}, outside ±{:.1}{unit}.",
                    c.name, p.residual, p.set_to, c.tolerance
                ),
                first: true,
            });
        }
    }
    if judged.pull.level == "none" && !frame.controls.is_empty() {
        out.push(Remark {
            code: "W705".into(),
            text: match (&objective.coarse, objective.start) {
                (Some(terms), Some(start)) => format!(
                    "This frame has more than {PULL_LIMIT_PASSES} passes: how far it moves is not predicted. Its order \
                     is the best of {} by a coarser model that ranks orders only: {:.3} left of its objective, {start:.3} \
                     for the house rules alone. Plan it in parts to learn how far it moves.",
                    objective.judged_in_full,
                    terms.total()
                ),
                _ => format!(
                    "This frame has more than {PULL_LIMIT_PASSES} passes: no pull is predicted, the order follows the \
                     house rules and the heat alone. Plan it in parts to learn how far it moves."
                ),
            },
            first: true,
        });
    }
    if judged.pull.level == "coarse" {
        out.push(Remark {
            code: "W703".into(),
            text: "This frame is too large for the fine pull model: all pulls are coarse.".into(),
            first: true,
        });
    }
    for (code, text, place) in &parts.passes.warnings {
        out.push(Remark { code: (*code).into(), text: format!("{place}: {text}"), first: false });
    }
    out.extend(judged.pull.remarks.iter().map(|t| Remark {
        code: "W704".into(),
        text: t.clone(),
        first: false,
    }));
    out
}

/// Re-read the finished plan with the auditor; every finding is a fault of the program.
pub fn audit(plan: &WeldPlan) -> Vec<String> {
    // Earlier stages have been audited when they were planned.
    audit_after(plan, &plan.order.steps[..plan.stage_steps.last().copied().unwrap_or(0)])
}

/// As [`audit`], for a plan that begins after these steps.
pub fn audit_after(plan: &WeldPlan, done: &[Step]) -> Vec<String> {
    audit_stage(plan, done, None)
}

/// As [`audit_after`], for a stage that begins in this setup.
pub(super) fn audit_stage(plan: &WeldPlan, done: &[Step], lying: Option<usize>) -> Vec<String> {
    match question(&plan.frame, &plan.joints, &plan.seams, &plan.passes) {
        Ok(mut q) => {
            q.done = done.to_vec();
            let found = sequence::audit::audit(&q, &plan.order).into_iter().map(|f| f.what);
            found.chain(super::turning::too_early(plan, lying)).collect()
        }
        Err(faults) => faults.into_iter().map(|f| f.message).collect(),
    }
}

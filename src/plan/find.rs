//! The order of a plan: by hand, by the rules, or searched for.

use super::judge::{FULL_LIMIT_PASSES, Judge};
use super::large;
use super::make::{Options, Watch};
use super::question::row_by_hand;
use super::warm::Warm;
use super::{Effort, Objective};
use crate::distort::Level;
use crate::fault::Fault;
use crate::procedure::Passes;
use crate::sequence::objective::terms;
use crate::sequence::{self, Budget, Order, Question, Task, baselines, window};

/// The order that was found, and how it was judged.
pub(super) struct FoundOrder {
    pub order: Order,
    pub objective: Objective,
}

/// Find it.
///
/// # Errors
/// Rules that clash, an order by hand that names what is not there.
pub(super) fn find(
    q: &Question,
    judge: &Judge,
    options: &Options,
    watch: &Watch,
) -> Result<FoundOrder, Vec<Fault>> {
    let no_order = |e: sequence::NoOrder| {
        e.clashes
            .into_iter()
            .map(|c| Fault::new("E502", format!("no order keeps the rules: {c}")))
            .collect::<Vec<_>>()
    };
    let clock = Warm::on(judge.clock(), judge.underway.map_or(0, |u| u.setup));
    if !judge.frame.wishes.by_hand.is_empty() {
        let mut row = row_by_hand(q, judge.frame)?;
        row.retain(|p| !q.done.iter().flat_map(|s| &s.passes).any(|l| l.pass == *p));
        let (mut order, broken) = sequence::by_hand(q, &row);
        force_directions(&mut order, &judge.parts.passes, q.done.len());
        if let Some(b) = broken.first() {
            return Err(vec![Fault::new(
                "E503",
                format!("the order by hand breaks a rule that is never relaxed: {}", b.why),
            )]);
        }
        return Ok(FoundOrder { order, objective: Objective::default() });
    }
    let only_rules = options.effort == Effort::Rules || judge.frame.controls.is_empty();
    let model = judge.model.as_ref().filter(|_| !only_rules);
    let habits = model.map_or(vec![], |_| habits(q, judge));
    let mut starts = sequence::starts(q, &habits, &clock).map_err(no_order)?;
    let sheet = sheet_order(q, judge);
    let levers = judge.underway.map(|u| u.levers).unwrap_or_default();
    if !levers.order {
        let Some(order) = sheet else {
            return Err(vec![
                Fault::new(
                    "E502",
                    "the order of the old sheet can no longer be kept: what was done broke it",
                )
                .help("let the re-plan change the order"),
            ]);
        };
        starts = vec![order];
    } else {
        starts.extend(sheet);
    }
    starts.iter_mut().for_each(|o| {
        force_directions(o, &judge.parts.passes, q.done.len());
        judge.keep_directions(o);
    });
    let Some(model) = model else {
        let order = starts.into_iter().next().expect("the scheduler's own order");
        // The coarser model knows no stages.
        let compare = !only_rules && levers.order && judge.frame.stages.is_empty();
        let found = if compare { large::find(q, judge, &order, options, watch) } else { None };
        return Ok(found.unwrap_or(FoundOrder { order, objective: Objective::default() }));
    };
    let (tacked, (coarse, first)) = rayon::join(
        || model.begin(&judge.before(), Level::Fine),
        || rayon::join(|| model.coarse(&judge.all_tacks()), || judge.full(&starts[0], Level::Fine)),
    );
    let (tacked, coarse) = (tacked.map_err(|f| vec![f])?, coarse.map_err(|f| vec![f])?);
    // The scatter that no order changes: what the full judgement has beyond the shrinkage factors.
    let first = first.map_err(|f| vec![f])?;
    let bare = judge.aim(&[]);
    let y = window::contributions(&coarse, &passes_of(&starts[0]));
    let plain = terms(q, &bare, &coarse.start, &starts[0].steps, &y);
    let other: Vec<f64> = first
        .pull
        .controls
        .iter()
        .zip(&plain.controls)
        .map(|(c, t)| (c.scatter * c.scatter - t[3] * t[3]).max(0.0).sqrt())
        .collect();
    let aim = judge.aim(&other);
    let full = |order: &mut Order, y: &[f64]| {
        force_directions(order, &judge.parts.passes, q.done.len());
        judge.keep_directions(order);
        if !q.holds_before_turning(&order.steps) {
            return f64::INFINITY.into();
        }
        let scatter = terms(q, &aim, &coarse.start, &order.steps, y).scatter;
        judge.objective(&aim, model, &tacked, order, scatter)
    };
    let polish = |order: &mut Order, y: &[f64]| {
        // A direction that cannot be judged stays as it is.
        let turned = match levers.direction {
            true => judge.turn_round(&aim, model, &tacked, order).unwrap_or(0),
            false => 0,
        };
        (full(order, y), turned)
    };
    let n = q.passes.len();
    let budget = match options.effort {
        _ if !levers.order => Budget::none(),
        Effort::Rules => Budget::none(),
        Effort::Quick => Budget::quick(n),
        Effort::Normal => Budget::normal(n),
        Effort::Deep => Budget::deep(n),
    };
    let task = Task {
        question: q,
        coarse: &coarse,
        aim: &aim,
        starts: &starts,
        seed: options.seed,
        budget,
        stop: watch.stop,
        progress: &*watch.progress,
        accept: &full,
        polish: (n <= FULL_LIMIT_PASSES || options.effort == Effort::Deep).then_some(&polish),
    };
    let found = sequence::search(&task);
    let objective = Objective {
        full: found.full,
        weights: [aim.deviation, aim.scatter, aim.time_per_min],
        coarse: Some(found.coarse),
        tried: found.tried.judged,
        judged_in_full: found.judged_in_full,
        restarts: found.restarts,
        flips: found.turned,
        start: found.starts.first().map(|s| s.1),
    };
    Ok(FoundOrder { order: found.order, objective })
}

/// The order of the sheet in force of a job, if it still keeps the rules that are never relaxed.
pub(super) fn sheet_order(q: &Question, judge: &Judge) -> Option<Order> {
    let u = judge.underway?;
    let mut steps = q.done.clone();
    steps.extend(u.sheet.iter().cloned());
    let mut laid: Vec<usize> = steps.iter().flat_map(|s| &s.passes).map(|l| l.pass).collect();
    laid.sort_unstable();
    let all = laid.iter().copied().eq(0..q.passes.len());
    (all && sequence::rules::broken(q, &steps).is_empty()).then(|| sequence::rules::judge(q, steps))
}

/// Directions that the procedure forces (PF, PG), set before anything is judged; the first `done`
/// steps are welded and stay as they are.
pub(super) fn force_directions(order: &mut Order, passes: &Passes, done: usize) {
    for s in order.steps.iter_mut().skip(done) {
        for l in &mut s.passes {
            if let Some(forward) = passes.passes[l.pass].forced_direction[s.setup] {
                l.forward = forward;
            }
        }
    }
}

pub(super) fn habits(q: &Question, judge: &Judge) -> Vec<baselines::Habit> {
    let forward: Vec<f64> = judge.parts.joints.joints.iter().map(|j| j.at.dot(judge.frame.forward)).collect();
    baselines::habits(q, &judge.stiffness(), &forward)
}

pub(super) fn passes_of(order: &Order) -> Vec<Vec<usize>> {
    order.steps.iter().map(|s| s.passes.iter().map(|l| l.pass).collect()).collect()
}

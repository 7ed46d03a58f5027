//! Small frames looked at in full: every order and every direction judged by the fine model.

use super::big::girder;
use crate::support::{near, plans};
use holdtrue::distort::{Begun, Event, Level, Model};
use holdtrue::frame::{Frame, SetBy};
use holdtrue::heat::{HeatStep, Kernels};
use holdtrue::plan::{self, Effort, From, Options, Parts, WeldPlan};
use holdtrue::sequence::objective::{Aim, AimControl, SetTo, terms};
use holdtrue::sequence::rules::{broken, score};
use holdtrue::sequence::window::contributions;
use holdtrue::sequence::{Question, Step};

pub use crate::support::plans::example;

pub fn read(text: &str) -> (Frame, Parts) {
    let frame = plans::read(text);
    let parts = plans::parts(&frame);
    (frame, parts)
}

pub fn planned(text: &str, effort: Effort, seed: u64) -> WeldPlan {
    let options = Options { seed, effort, from: From::WeldOut, ..Options::default() };
    plans::plan_of(&plans::read(text), &options)
}

/// The objective of an order in this test's own words: fine pull, coarse scatter, timeline.
struct Bench<'a> {
    frame: &'a Frame,
    model: &'a Model,
    begun: Begun<'a>,
    kernels: Kernels,
    coarse: holdtrue::distort::Coarse,
    aim: Aim,
    q: Question,
}

impl<'a> Bench<'a> {
    fn new(frame: &'a Frame, parts: &Parts, model: &'a Model) -> Self {
        let set = |c: &holdtrue::frame::Control| match c.set_by {
            SetBy::None => SetTo::Fixed(0.0),
            _ => SetTo::Free { step: c.step, limit: c.limit },
        };
        let control = |c: &holdtrue::frame::Control| AimControl {
            tolerance: c.tolerance,
            weight: 1.0,
            offset: 0.0,
            set: set(c),
            other_scatter: 0.0,
        };
        Bench {
            frame,
            model,
            begun: model.begin(&[], Level::Fine).unwrap(),
            kernels: Kernels::new(frame, &parts.joints, &parts.seams, &parts.passes),
            coarse: model.coarse(&[]).unwrap(),
            aim: Aim::new(frame.controls.iter().map(control).collect(), frame.pull.scatter),
            q: plan::question(frame, &parts.joints, &parts.seams, &parts.passes).unwrap(),
        }
    }

    fn events(&self, steps: &[Step]) -> (Vec<Event>, f64) {
        let mut setup = 0;
        let heat: Vec<HeatStep> = steps
            .iter()
            .map(|s| {
                let turn = std::mem::replace(&mut setup, s.setup) != s.setup;
                HeatStep { passes: s.passes.iter().map(|l| l.pass).collect(), turn }
            })
            .collect();
        let time = self.kernels.timeline(&heat);
        let mut at = 0;
        let mut rise = Vec::new();
        for s in steps {
            rise.push(time.tube_rise_k[at].clone());
            at += s.passes.len();
        }
        let laid: Vec<_> =
            steps.iter().map(|s| (s.setup, s.passes.iter().map(|l| (l.pass, l.forward)).collect())).collect();
        (self.model.events(&laid, &rise), time.end_s / 60.0)
    }

    fn judge(&self, steps: &[Step]) -> f64 {
        let (events, minutes) = self.events(steps);
        let y = self.begun.controls_after(&events).unwrap();
        let left = |c: &AimControl, y: f64| (y + c.set.value(y)) / c.tolerance;
        let deviation: f64 = self.aim.controls.iter().zip(&y).map(|(c, y)| left(c, *y).powi(2)).sum();
        let rows: Vec<Vec<usize>> = steps.iter().map(|s| s.passes.iter().map(|l| l.pass).collect()).collect();
        let t = terms(&self.q, &self.aim, &self.coarse.start, steps, &contributions(&self.coarse, &rows));
        deviation + t.scatter + 0.001 * minutes
    }

    /// The least objective among all orders that fall least short of the rules, in all directions; and
    /// how many orders and directions those were.
    fn best_of_all(&self) -> (f64, usize) {
        let mut rows: Vec<Vec<usize>> = vec![vec![]];
        for _ in 0..self.q.passes.len() {
            let longer = |row: &Vec<usize>| {
                let row = row.clone();
                (0..self.q.passes.len())
                    .filter(|p| !row.contains(p))
                    .map(|p| [&row[..], &[p]].concat())
                    .collect::<Vec<_>>()
            };
            rows = rows.iter().flat_map(longer).collect();
        }
        let orders: Vec<Vec<Step>> = rows
            .iter()
            .map(|row| super::questions::row(row))
            .filter(|s| broken(&self.q, s).is_empty())
            .collect();
        let least = orders.iter().map(|s| score(&self.q, s)).min().unwrap();
        let (mut best, mut count) = (f64::INFINITY, 0);
        for mut steps in orders.into_iter().filter(|s| score(&self.q, s) == least) {
            for bits in 0..1usize << steps.len() {
                for (i, s) in steps.iter_mut().enumerate() {
                    s.passes[0].forward = bits >> i & 1 == 0;
                }
                best = best.min(self.judge(&steps));
                count += 1;
            }
        }
        (best, count)
    }
}

/// Several frames of 4 to 7 passes: the plan is as good as the best of every order in every direction.
#[test]
fn the_plan_is_the_best_of_all_orders_and_directions() {
    let t = example("t-joint");
    let h = example("h-frame");
    let cases = [
        t.replace("max_segment = 14", "max_segment = 28"),
        t.replace("max_segment = 14", "max_segment = 19"),
        t.replace("max_segment = 14", "max_segment = 28").replace("tip = [0, 0, 300]", "tip = [120, 0, 300]"),
        h.replace("max_segment = 27", "max_segment = 60"),
    ];
    let mut counts = Vec::new();
    for (i, text) in cases.iter().enumerate() {
        let plan = planned(text, Effort::Quick, 1);
        let (frame, parts) = read(text);
        let model = Model::new(&frame, &parts.joints, &parts.seams, &parts.passes).unwrap();
        let bench = Bench::new(&frame, &parts, &model);
        assert_eq!(bench.frame.setups.len(), 1);
        assert!(parts.passes.passes.iter().all(|p| p.forced_direction[0].is_none()));
        let (best, count) = bench.best_of_all();
        let found = bench.judge(&plan.order.steps);
        near(found, best, 2.0 * bench.aim.grain);
        assert!(plan.order.steps.len() <= 7);
        counts.push((i, plan.order.steps.len(), count));
    }
    assert!(counts.iter().all(|c| c.2 >= 1 << c.1), "{counts:?}");
    assert!(counts.iter().any(|c| c.1 >= 6), "{counts:?}");
}

/// What turning one pass round does, for all passes in one course, equals a course of its own for each:
/// passes alone and two at a time, a clamp that lets go on the way.
#[test]
fn all_turns_in_one_course_equal_one_course_each() {
    for (name, two) in [("ladder", false), ("ladder", true), ("trailer", true)] {
        let (frame, parts) = read(&example(name));
        let model = Model::new(&frame, &parts.joints, &parts.seams, &parts.passes).unwrap();
        let begun = model.begin(&[], Level::Fine).unwrap();
        let n = parts.passes.passes.len().min(16);
        let joint = |p: usize| parts.passes.passes[p].joint;
        let mut row: Vec<usize> = (0..n).map(|i| i * 5 % n).collect();
        row.sort_by_key(|p| p % 3);
        let mut steps: Vec<(usize, Vec<(usize, bool)>)> = Vec::new();
        for p in row {
            match steps.last_mut() {
                Some((_, s)) if two && s.len() == 1 && joint(s[0].0) != joint(p) => s.push((p, false)),
                _ => steps.push((0, vec![(p, p % 2 == 0)])),
            }
        }
        let rise: Vec<Vec<f64>> = (0..steps.len())
            .map(|i| (0..frame.tubes.len()).map(|t| (7 * t + 3 * i) as f64 % 40.0).collect())
            .collect();
        let passes: Vec<usize> = (0..n).collect();
        let (y, change) = begun.turned(&model.events(&steps, &rise), &passes).unwrap();
        let straight = begun.controls_after(&model.events(&steps, &rise)).unwrap();
        let mut most = 0.0f64;
        for p in passes {
            let mut other = steps.clone();
            other.iter_mut().flat_map(|s| &mut s.1).filter(|l| l.0 == p).for_each(|l| l.1 ^= true);
            let turned = begun.controls_after(&model.events(&other, &rise)).unwrap();
            for c in 0..y.len() {
                near(y[c], straight[c], 1e-12);
                near(change[p][c], turned[c] - straight[c], 1e-9);
                most = most.max(change[p][c].abs());
            }
        }
        assert!(most > 1e-3, "{name}: turning should move something, {most}");
    }
}

#[test]
fn the_girder_is_sound() {
    let (_, parts) = read(&girder(2));
    assert_eq!(parts.passes.passes.len(), 64);
}

/// Quick, normal, deep: the full objective never rises with the effort, the seed being the same, and the
/// plan keeps the rules.
#[test]
fn more_effort_is_never_worse_in_full() {
    for name in ["h-frame"] {
        for seed in [1] {
            let plans = [Effort::Quick, Effort::Normal].map(|e| planned(&example(name), e, seed));
            for p in &plans {
                assert_eq!(plan::audit(p), Vec::<String>::new());
                assert!(p.objective.start.unwrap() >= p.objective.full - 1e-4, "{name}");
            }
            assert!(plans[1].objective.full <= plans[0].objective.full + 1e-4, "{name} {seed}");
        }
    }
}

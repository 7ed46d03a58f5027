//! Habits as they are and repaired, the reasons, the clock that makes the scheduler go elsewhere, and
//! directions.

use super::questions::{Limits, large, plain, random, row};
use holdtrue::joint::Side;
use holdtrue::sequence::audit::audit;
use holdtrue::sequence::baselines::habits;
use holdtrue::sequence::rules::{broken, score};
use holdtrue::sequence::{NoHeat, Order, Question, Warmth, Wish, best_turns, reasons, start, start_with};

/// Three joints in a row, 400 mm apart, one seam of four segments each.
fn row_of_three() -> Question {
    let mut rows = Vec::new();
    (0..3).for_each(|j| (0..4).for_each(|s| rows.push((j, j, s))));
    let mut q = plain(3, &rows);
    for p in 0..12 {
        q.passes[p].partner = Some(p / 4 * 4 + (p % 4 + 2) % 4);
    }
    for i in 0..3usize {
        (0..3usize).for_each(|j| q.steel_mm[i][j] = 400.0 * i.abs_diff(j) as f64);
    }
    q.mirror = vec![Some(2), Some(1), Some(0)];
    q
}

#[test]
fn habits_say_what_their_names_say() {
    let q = row_of_three();
    let all = habits(&q, &[1.0, 3.0, 2.0], &[0.0, 10.0, -5.0]);
    let joints = |name: &str| -> Vec<usize> {
        let habit = all.iter().find(|h| h.name == name).unwrap();
        habit.row.iter().map(|p| p / 4).collect()
    };
    let run = |order: [usize; 3]| -> Vec<usize> { order.iter().flat_map(|&j| [j; 4]).collect() };
    assert_eq!(joints("joint by joint, all round"), run([0, 1, 2]));
    assert_eq!(joints("stiffest joint first"), run([1, 2, 0]));
    assert_eq!(joints("from the centre outwards"), run([1, 0, 2]));
    assert_eq!(joints("rear to front"), run([2, 0, 1]));
    assert_eq!(joints("mirrored pairs"), [0, 2, 0, 2, 0, 2, 0, 2, 1, 1, 1, 1]);
    assert_eq!(joints("skip welding as listed"), [0, 1, 2, 0, 1, 2, 0, 1, 2, 0, 1, 2]);
    let skip: Vec<usize> = all[4].row.iter().map(|p| p % 4).collect();
    assert_eq!(skip, [0, 0, 0, 2, 2, 2, 1, 1, 1, 3, 3, 3], "opposite segments follow each other");
}

#[test]
fn habits_as_they_are_and_repaired_on_random_frames() {
    for seed in 0..25 {
        let q = random(seed, &Limits { joints: (2, 7), most_passes: 30, welders: 1, setups: 2, layers: 2 });
        let Ok(plan) = start(&q) else { continue };
        let some: Vec<f64> = (0..q.steel_mm.len()).map(|j| (j * j % 5) as f64).collect();
        for habit in habits(&q, &some, &some) {
            let mut sorted = habit.row.clone();
            sorted.sort();
            assert!(sorted.iter().copied().eq(0..q.passes.len()), "{}", habit.name);
            let (as_is, wrong) = habit.as_is(&q);
            assert_eq!(wrong, broken(&q, &as_is.steps));
            assert!(
                wrong.iter().all(|b| ["pinned first", "pinned last", "apart"].contains(&b.rule)),
                "{wrong:?}"
            );
            assert!(audit(&q, &as_is).iter().all(|f| f.rule != "relaxed list"));
            let repaired = start_with(&q, &habit.wish(), &NoHeat).unwrap();
            assert_eq!(audit(&q, &repaired), [], "{}", habit.name);
            assert!(
                score(&q, &repaired.steps) <= score(&q, &as_is.steps) || !wrong.is_empty(),
                "{}",
                habit.name
            );
            if plan.proved {
                assert!(score(&q, &plan.steps) <= score(&q, &repaired.steps));
            }
        }
    }
}

/// Joints that need a rest of some steps after each pass.
#[derive(Clone)]
struct Rest<'a> {
    q: &'a Question,
    now: i64,
    cool_at: Vec<i64>,
    rest: i64,
}

impl Warmth for Rest<'_> {
    fn wait_s(&self, pass: usize) -> f64 {
        (self.cool_at[self.q.passes[pass].joint] - self.now).max(0) as f64
    }
    fn lay(&mut self, passes: &[usize], _setup: usize) {
        let wait = passes.iter().map(|&p| self.wait_s(p)).fold(0.0, f64::max);
        self.now += wait as i64 + 10;
        passes.iter().for_each(|&p| self.cool_at[self.q.passes[p].joint] = self.now + self.rest);
    }
}

fn waited(q: &Question, order: &Order, mut clock: Rest) -> f64 {
    let mut sum = 0.0;
    for s in &order.steps {
        sum += s.passes.iter().map(|l| clock.wait_s(l.pass)).fold(0.0, f64::max);
        clock.lay(&s.passes.iter().map(|l| l.pass).collect::<Vec<_>>(), s.setup);
    }
    assert_eq!(q.passes.len(), order.steps.iter().map(|s| s.passes.len()).sum::<usize>());
    sum
}

#[test]
fn another_joint_is_chosen_before_waiting() {
    let q = large(8);
    let clock = Rest { q: &q, now: 0, cool_at: vec![0; 8], rest: 50 };
    let blind = start(&q).unwrap();
    let seeing = start_with(&q, &Wish::Skip, &clock).unwrap();
    assert_eq!(score(&q, &seeing.steps), score(&q, &blind.steps), "no rule suffers for the heat");
    let (with, without) = (waited(&q, &seeing, clock.clone()), waited(&q, &blind, clock));
    assert!(with < 0.5 * without, "{with} {without}");
    assert_eq!(audit(&q, &seeing), []);
}

#[test]
fn reasons_are_plain_and_true() {
    let mut q = plain(4, &[(0, 0, 0), (0, 0, 1), (1, 1, 0), (1, 1, 1), (2, 2, 0), (3, 3, 0)]);
    q.has_plane = true;
    (q.passes[0].partner, q.passes[1].partner) = (Some(1), Some(0));
    for (p, side) in [(0, Side::Left), (1, Side::Left), (2, Side::Right), (3, Side::Right)] {
        q.passes[p].side = side;
        q.passes[p].energy_j = 3000.0;
    }
    q.last = vec![5];
    let order = holdtrue::sequence::rules::judge(&q, row(&[0, 2, 4, 1, 3, 5]));
    let names: Vec<String> = (1..=4).map(|j| format!("J{j}")).collect();
    let got = reasons(&q, &order, &names, &|step, joint| (step == 2 && joint == 1).then_some(180.4));
    assert_eq!(got[0], "J1 has most left to weld");
    assert_eq!(got[2], "right is 3.0 kJ behind");
    assert_eq!(got[4], "J2 still 180 °C");
    assert_eq!(got[1], format!("opposite of {}", q.passes[0].label));
    assert_eq!(got[3], "right is 3.0 kJ behind");
    assert_eq!(got[5], "pinned last");
    for seed in 0..10 {
        let q = random(seed, &Limits { joints: (3, 8), most_passes: 40, welders: 2, setups: 2, layers: 2 });
        let Ok(order) = start(&q) else { continue };
        let names: Vec<String> = (0..q.steel_mm.len()).map(|j| format!("J{}", j + 1)).collect();
        assert!(reasons(&q, &order, &names, &|_, _| None).iter().all(|r| !r.is_empty()));
    }
}

#[test]
fn directions_are_turned_where_it_pays() {
    // One control, 1.0 off: of changes −0.7, −0.4, +0.2 and +0.1 the best set is the first, the second
    // and the last (1 − 0.7 − 0.4 + 0.1 = 0), although the first alone gains most.
    let change = vec![vec![-0.7], vec![-0.4], vec![0.2], vec![0.1]];
    let square = |y: &[f64]| y[0] * y[0];
    assert_eq!(best_turns(&[1.0], &change, &square, 1e-9), [0, 1, 3]);
    assert_eq!(best_turns(&[0.0], &change, &square, 1e-9), [0; 0]);
    // Less than the grain is no gain.
    assert_eq!(best_turns(&[0.1], &[vec![-0.05]], &square, 0.01), [0; 0]);
    // Two controls: what helps one and spoils the other is left.
    let sum = |y: &[f64]| y.iter().map(|x| x * x).sum();
    assert_eq!(best_turns(&[1.0, 0.0], &[vec![-0.5, 0.9], vec![-0.5, 0.1]], &sum, 1e-9), [1]);
}

#[test]
fn a_large_frame_for_two_welders() {
    let mut q = large(24);
    q.welders = 2;
    let order = start(&q).unwrap();
    assert_eq!(audit(&q, &order), []);
    assert_eq!(order.relaxed, []);
    let n = q.passes.len();
    assert!(order.steps.len() * 100 <= n * 60, "{} steps for {n} passes", order.steps.len());
    let mirrored = order.steps.iter().filter(|s| {
        s.passes.len() == 2
            && q.mirror[q.passes[s.passes[0].pass].joint] == Some(q.passes[s.passes[1].pass].joint)
    });
    assert!(mirrored.count() > n / 8, "mirror joints at the same time");
}

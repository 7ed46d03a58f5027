//! The search: against re-solving the frame, against every order there is, against the habits.

use super::frames::{aim, coarse, resolved};
use super::questions::{Limits, random};
use crate::support::{near, times};
use holdtrue::distort::Coarse;
use holdtrue::sequence::audit::audit;
use holdtrue::sequence::baselines::habits;
use holdtrue::sequence::objective::{Aim, terms};
use holdtrue::sequence::rules::{broken, score};
use holdtrue::sequence::window::contributions;
use holdtrue::sequence::{
    Budget, Found, Item, Laid, NoHeat, Order, Question, Step, Task, search, start, starts,
};
use rand::rngs::ChaCha8Rng;
use rand::{RngExt, SeedableRng};
use std::collections::BTreeMap;
use std::sync::atomic::AtomicBool;

fn passes(steps: &[Step]) -> Vec<Vec<usize>> {
    steps.iter().map(|s| s.passes.iter().map(|l| l.pass).collect()).collect()
}

fn objective(q: &Question, c: &Coarse, a: &Aim, steps: &[Step]) -> f64 {
    terms(q, a, &c.start, steps, &contributions(c, &passes(steps))).total()
}

/// Search with the coarse objective as the full one.
fn run(q: &Question, c: &Coarse, a: &Aim, starts: &[Order], budget: Budget, seed: u64) -> Found {
    search(&Task {
        question: q,
        coarse: c,
        aim: a,
        starts,
        seed,
        budget,
        stop: &AtomicBool::new(false),
        progress: &|_, _| {},
        accept: &|o, _| objective(q, c, a, &o.steps).into(),
        polish: None,
    })
}

/// Starts of a question, its habits included, with made-up stiffness and place of the joints.
fn all_starts(q: &Question) -> Option<Vec<Order>> {
    let joints = q.steel_mm.len();
    let stiff: Vec<f64> = (0..joints).map(|j| ((j * 7 + 3) % 11) as f64).collect();
    let forward: Vec<f64> = (0..joints).map(|j| ((j * 5 + 2) % 13) as f64).collect();
    starts(q, &habits(q, &stiff, &forward), &NoHeat).ok()
}

fn tiny() -> Budget {
    Budget::of(3, vec![2_000])
}

#[test]
fn coarse_elimination_equals_solving_afresh_at_each_pass() {
    let mut doubles = 0;
    for seed in 0..12 {
        let mut q =
            random(seed, &Limits { joints: (3, 6), most_passes: 20, welders: 2, setups: 1, layers: 2 });
        q.rules.spacing = 0;
        let Ok(order) = start(&q) else { continue };
        doubles += order.steps.iter().filter(|s| s.passes.len() == 2).count();
        let c = coarse(&q, 3, seed);
        let (got, want) = (contributions(&c, &passes(&order.steps)), resolved(&c, &passes(&order.steps)));
        let size = want.iter().fold(0.0f64, |m, x| m.max(x.abs()));
        assert!(size > 1e-3);
        for (g, w) in got.iter().zip(&want) {
            near(*g, *w, 1e-10 * size.max(1.0));
        }
    }
    assert!(doubles > 5, "some passes should be laid at the same time: {doubles}");
}

/// Least objective among the orders that fall least short, by trying them all.
fn best_of_all(q: &Question, c: &Coarse, a: &Aim) -> f64 {
    fn go(q: &Question, left: &mut Vec<usize>, row: &mut Vec<usize>, each: &mut dyn FnMut(&[usize])) {
        if left.is_empty() {
            return each(row);
        }
        for i in 0..left.len() {
            let p = left.remove(i);
            if q.passes[p].below.is_none_or(|b| row.contains(&b)) {
                row.push(p);
                go(q, left, row, each);
                row.pop();
            }
            left.insert(i, p);
        }
    }
    let mut best = ([i64::MAX; 5], f64::INFINITY);
    // What a pass adds hangs on the set welded before it, not on its order: each is worked out once.
    let mut kept: BTreeMap<(u32, usize), Vec<f64>> = BTreeMap::new();
    go(q, &mut (0..q.passes.len()).collect(), &mut vec![], &mut |row| {
        let steps = super::questions::row(row);
        if !broken(q, &steps).is_empty() {
            return;
        }
        let s = score(q, &steps);
        if s <= best.0 {
            let mut y = vec![0.0; row.len() * c.r];
            let mut before = 0;
            for (i, &p) in row.iter().enumerate() {
                let added = kept.entry((before, p)).or_insert_with(|| {
                    contributions(c, &passes(&steps[..=i]))[p * c.r..(p + 1) * c.r].to_vec()
                });
                y[p * c.r..(p + 1) * c.r].copy_from_slice(added);
                before |= 1 << p;
            }
            let j = terms(q, a, &c.start, &steps, &y).total();
            if s < best.0 || j < best.1 {
                best = (s, j);
            }
        }
    });
    best.1
}

#[test]
fn the_search_finds_the_best_order_of_few_passes() {
    let (mut checked, mut of_nine) = (0, 0);
    for seed in 0..25 {
        let mut q =
            random(seed, &Limits { joints: (2, 4), most_passes: 8, welders: 1, setups: 1, layers: 2 });
        if q.passes.len() == 8 && of_nine < times() {
            // A short open seam beside the closed ones.
            let seam = q.passes.iter().map(|p| p.seam + 1).max().unwrap();
            let label = format!("J{}z-1/1", q.passes[0].joint + 1);
            let one =
                Item { label, seam, segment: 0, layer: 0, partner: None, below: None, ..q.passes[0].clone() };
            q.passes.push(one);
        }
        if q.passes.len() < 6 || start(&q).is_err() {
            continue;
        }
        of_nine += usize::from(q.passes.len() == 9);
        let (c, a) = (coarse(&q, 3, seed), aim(3));
        // Up to eight all orders are looked at whatever the effort; of nine the search has to find it.
        let effort = if q.passes.len() < 9 { tiny() } else { Budget::normal(9) };
        let found = run(&q, &c, &a, &all_starts(&q).unwrap(), effort, 1);
        let best = best_of_all(&q, &c, &a);
        assert!(found.full >= best - 1e-9, "seed {seed}: better than the best of all orders");
        near(found.full, best, a.grain);
        assert_eq!(audit(&q, &found.order), []);
        checked += 1;
    }
    assert!(checked >= 12 && of_nine >= 1, "{checked}, {of_nine} of nine passes");
}

const MIDDLE: Limits = Limits { joints: (3, 8), most_passes: 40, welders: 2, setups: 2, layers: 2 };

#[test]
fn never_worse_than_a_habit_that_keeps_the_rules_as_well() {
    let (mut better, mut frames) = (0, 0);
    let small = Limits { joints: (2, 5), most_passes: 16, welders: 2, setups: 2, layers: 2 };
    // Some of middle size, and small ones.
    let middle = (0..12).map(|s| (s, &MIDDLE));
    let wanted = (60 * times()).min(200);
    for (seed, limits) in middle.chain((100..3000).map(|s| (s, &small))) {
        let q = random(seed, limits);
        if frames == wanted || q.passes.len() <= 8 && seed % 20 > 0 {
            continue; // of a few passes all orders are looked at: slow, and tested elsewhere
        }
        let Some(all) = all_starts(&q) else { continue };
        let (c, a) = (coarse(&q, 4, seed), aim(4));
        let found = run(&q, &c, &a, &all, tiny(), seed);
        assert_eq!(audit(&q, &found.order), [], "seed {seed}");
        near(found.full, found.coarse.total(), 1e-9);
        let found_score = score(&q, &found.order.steps);
        let mut least = f64::INFINITY;
        for o in &all {
            assert!(found_score <= score(&q, &o.steps), "seed {seed}");
            if found_score == score(&q, &o.steps) {
                let full = objective(&q, &c, &a, &o.steps);
                assert!(found.full <= full + a.grain, "seed {seed}: {} {full}", found.full);
                least = least.min(full);
            }
        }
        frames += 1;
        better += usize::from(found.full < 0.95 * least);
    }
    assert_eq!(frames, wanted);
    assert!(2 * better > frames, "the search should be worth something: {better} of {frames}");
}

#[test]
fn more_effort_is_never_worse_and_threads_change_nothing() {
    for seed in [5, 9] {
        let q = random(seed, &MIDDLE);
        let Some(all) = all_starts(&q) else { continue };
        let (c, a) = (coarse(&q, 4, seed), aim(4));
        let mut last = f64::INFINITY;
        for budget in [
            Budget::none(),
            Budget::of(2, vec![500]),
            Budget::of(3, vec![500, 2_000]),
            Budget::of(4, vec![500, 2_000, 6_000]),
        ] {
            let on = |threads: usize| {
                let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
                pool.install(|| run(&q, &c, &a, &all, budget.clone(), 7))
            };
            let (one, two) = (on(1), on(2));
            assert_eq!(one.order, two.order);
            assert_eq!(one.tried, two.tried);
            assert_eq!(one.full.to_bits(), two.full.to_bits());
            assert!(one.full <= last + a.grain, "seed {seed}: {} after {last}", one.full);
            last = one.full;
        }
    }
}

#[test]
fn stopped_at_once_it_gives_a_sound_order() {
    let q = random(5, &MIDDLE);
    let (c, a) = (coarse(&q, 4, 5), aim(4));
    let all = all_starts(&q).unwrap();
    let found = search(&Task {
        question: &q,
        coarse: &c,
        aim: &a,
        starts: &all,
        seed: 1,
        budget: Budget::deep(q.passes.len()),
        stop: &AtomicBool::new(true),
        progress: &|_, _| {},
        accept: &|o, _| objective(&q, &c, &a, &o.steps).into(),
        polish: None,
    });
    assert_eq!(audit(&q, &found.order), []);
    assert_eq!(found.tried.judged, 0);
}

#[test]
fn steps_that_are_welded_and_pinned_passes_stay_where_they_are() {
    for seed in 0..20 {
        let mut q = random(seed, &MIDDLE);
        if q.passes.len() < 20 {
            continue;
        }
        let Ok(first) = start(&q) else { continue };
        q.done = first.steps[..5].to_vec();
        q.done[2].passes[0].forward = false;
        let Some(all) = all_starts(&q) else { continue };
        let (c, a) = (coarse(&q, 3, seed), aim(3));
        let found = run(&q, &c, &a, &all, tiny(), seed);
        assert_eq!(found.order.steps[..5], q.done[..]);
        assert_eq!(audit(&q, &found.order), [], "seed {seed}");
    }
}

/// Two passes whose order alone decides: the one that moves the control less when welded second comes
/// second. Worked by hand from d = 1/k + C and y = −δ·C_hb/d.
#[test]
fn two_passes_by_hand() {
    let mut q = super::questions::plain(2, &[(0, 0, 0), (1, 1, 0)]);
    q.rules.distance_mm = 0.0;
    let mut c = Coarse {
        n: 2,
        r: 1,
        k: vec![1e3; 6],
        delta: vec![0.1, 0.1],
        tau: vec![[0.0; 3]; 2],
        c_bb: vec![0.0; 36],
        c_hb: vec![1e-3, 0.0, 0.0, 3e-3, 0.0, 0.0],
        c_bg: vec![0.0; 12],
        c_hg: vec![0.0; 2],
        start: vec![0.0],
    };
    (c.c_bb[0], c.c_bb[3], c.c_bb[18], c.c_bb[21]) = (1e-3, 0.5e-3, 0.5e-3, 2e-3);
    // First pass 0: d = 2e-3, y = −0.05; then C_hb1 = 3e-3 − 0.25e-3, C_11 = 2e-3 − 0.125e-3,
    // d = 2.875e-3, y = −0.1·2.75/2.875.
    let y = contributions(&c, &[vec![0], vec![1]]);
    near(y[0], -0.05, 1e-15);
    near(y[1], -0.275 / 2.875, 1e-15);
    // First pass 1: d = 3e-3, y = −0.1; then C_hb0 = 1e-3 − 0.5e-3, C_00 = 1e-3 − 0.25e-3/3.
    let y = contributions(&c, &[vec![1], vec![0]]);
    near(y[1], -0.1, 1e-15);
    near(y[0], -0.05 / (2.0 - 0.25 / 3.0), 1e-15);
    let a = aim(1);
    let found = run(&q, &c, &a, &[start(&q).unwrap()], tiny(), 1);
    let first: Vec<Laid> = found.order.steps.iter().map(|s| s.passes[0]).collect();
    assert_eq!((first[0].pass, first[1].pass), (1, 0));
}

/// The order that the search finds with the scatter counted comes out truer, in the mean over shrinkages
/// drawn at random, than the one it finds by the nominal shrinkage alone. Common, joint and pass
/// factors are drawn, the frame is worked out with them, the set-to stays as planned.
#[test]
fn a_robust_order_beats_the_nominal_one_under_sampled_shrinkage() {
    let (mut better, mut worse) = (0, 0);
    let (mut sum_robust, mut sum_nominal) = (0.0, 0.0);
    for seed in 0..12 {
        let q = random(seed, &Limits { joints: (3, 6), most_passes: 24, welders: 1, setups: 1, layers: 1 });
        let Some(all) = all_starts(&q).filter(|_| q.passes.len() >= 12) else { continue };
        let c = coarse(&q, 3, seed);
        let robust = aim(3);
        let mut nominal = robust.clone();
        nominal.scatter = 0.0;
        let order = |a: &Aim| run(&q, &c, a, &all, Budget::of(4, vec![6_000]), 3).order;
        let orders = [order(&robust), order(&nominal)];
        let mut dice = ChaCha8Rng::seed_from_u64(seed);
        let mut normal = || (0..12).map(|_| dice.random_range(0.0..1.0f64)).sum::<f64>() - 6.0;
        let mut mean = [0.0; 2];
        const SAMPLES: usize = 200;
        for _ in 0..SAMPLES {
            let [sc, sj, sp] = robust.factors;
            let common = sc * normal();
            let joints: Vec<f64> = q.steel_mm.iter().map(|_| sj * normal()).collect();
            let factor: Vec<f64> =
                q.passes.iter().map(|p| 1.0 + common + joints[p.joint] + sp * normal()).collect();
            let mut drawn = c.clone();
            for (p, f) in factor.iter().enumerate() {
                drawn.delta[p] *= f;
                (0..3 * c.n).for_each(|b| drawn.c_bg[b * c.n + p] *= f);
                (0..c.r).for_each(|h| drawn.c_hg[h * c.n + p] *= f);
            }
            for (mean, o) in mean.iter_mut().zip(&orders) {
                let y = contributions(&drawn, &passes(&o.steps));
                for (h, k) in robust.controls.iter().enumerate() {
                    let tacks = c.start[h] * (1.0 + common);
                    let left = k.offset + tacks + y.iter().skip(h).step_by(c.r).sum::<f64>();
                    *mean += (left / k.tolerance).powi(2) / SAMPLES as f64;
                }
            }
        }
        sum_robust += mean[0];
        sum_nominal += mean[1];
        better += usize::from(mean[0] < 0.99 * mean[1]);
        worse += usize::from(mean[0] > 1.01 * mean[1]);
    }
    assert!(better >= 5 && better >= 2 * worse, "better {better}, worse {worse}");
    assert!(sum_robust < 0.97 * sum_nominal, "{sum_robust} {sum_nominal}");
}

//! The chain and its ledger against the whole elimination and the rules from scratch.

use super::super::rules::{broken, score};
use super::super::{Item, Question, start};
use super::*;
use crate::frame::HouseRules;
use crate::joint::Side;
use crate::sequence::exact::best_orders;
use crate::sequence::objective::{AimControl, SetTo, terms};
use crate::sequence::window::contributions;
use rand::{RngExt, SeedableRng};

/// Joints in a row, two opposite pairs on each, two setups, so many welders.
fn question(joints: usize, welders: usize) -> Question {
    let item = |p: usize| Item {
        label: format!("J{}a-{}/1", p / 4 + 1, p % 4 + 1),
        joint: p / 4,
        seam: p / 4,
        segment: p % 4,
        layer: 0,
        partner: Some(p / 4 * 4 + (p % 4 + 2) % 4),
        below: None,
        side: [Side::Left, Side::Right, Side::Centre][p / 4 % 3],
        energy_j: 1000.0 + 37.0 * (p % 7) as f64,
        setups: if p % 4 < 2 { vec![0] } else { vec![1, 0] },
        arc_s: 10.0 + (p % 5) as f64,
    };
    let away = |i: usize, j: usize| 120.0 * i.abs_diff(j) as f64;
    Question {
        passes: (0..4 * joints).map(item).collect(),
        steel_mm: (0..joints).map(|i| (0..joints).map(|j| away(i, j)).collect()).collect(),
        mirror: vec![None; joints],
        setups: 2,
        rules: HouseRules {
            spacing: 2,
            distance_mm: 150.0,
            opposite: true,
            balance: true,
            max_segment_mm: 40.0,
            min_segment_mm: 15.0,
            overhead: false,
            welder_distance_mm: 200.0,
        },
        has_plane: true,
        welders,
        first: vec![3],
        last: vec![],
        apart: vec![(0, 1)],
        turn_min: 5.0,
        done: vec![],
        lying: None,
        hold: vec![],
    }
}

fn coarse(n: usize, r: usize, dice: &mut ChaCha8Rng) -> Coarse {
    let cols = 4 * n + r;
    let dim = 2 * n + 4;
    let x: Vec<f64> = (0..cols * dim).map(|_| dice.random_range(-0.02..0.02f64)).collect();
    let table = |a: std::ops::Range<usize>, b: std::ops::Range<usize>| -> Vec<f64> {
        let dot = |i: usize, j: usize| (0..dim).map(|d| x[i * dim + d] * x[j * dim + d]).sum::<f64>();
        a.flat_map(|i| b.clone().map(move |j| (i, j))).map(|(i, j)| dot(i, j)).collect()
    };
    let (b, g, h) = (0..3 * n, 3 * n..4 * n, 4 * n..cols);
    Coarse {
        n,
        r,
        k: (0..3 * n).map(|i| if i % 3 == 0 { 6e4 } else { 3e4 }).collect(),
        delta: (0..n).map(|p| 0.1 + 0.01 * (p % 4) as f64).collect(),
        tau: vec![[0.0; 3]; n],
        c_bb: table(b.clone(), b.clone()),
        c_hb: table(h.clone(), b.clone()),
        c_bg: table(b, g.clone()),
        c_hg: table(h, g),
        start: vec![0.1; r],
    }
}

fn aim(r: usize) -> Aim {
    let set = |c: usize| if c == 0 { SetTo::Free { step: 0.5, limit: 2.0 } } else { SetTo::Fixed(0.1) };
    let control = |c: usize| AimControl {
        tolerance: 0.05,
        weight: 1.0 + c as f64,
        offset: 0.0,
        set: set(c),
        other_scatter: 0.01,
    };
    Aim::new((0..r).map(control).collect(), [0.3, 0.2, 0.15])
}

/// After thousands of changes taken and refused, what the chain carries along equals the whole
/// elimination and the rules from scratch.
#[test]
fn carried_sums_equal_the_whole_evaluation() {
    for (joints, welders) in [(5, 1), (11, 1), (6, 2), (12, 2)] {
        let mut dice = ChaCha8Rng::seed_from_u64(joints as u64);
        let mut q = question(joints, welders);
        if welders == 2 {
            // Room for two to work at the same time.
            (q.rules.spacing, q.rules.distance_mm) = (0, 0.0);
        }
        let c = coarse(4 * joints, 3, &mut dice);
        let a = aim(3);
        let plain = Plain::new(&q);
        let order = start(&q).expect("a sound question");
        let mut chain = Chain::new(&plain, &c, &a, &order.steps);
        let mut frozen = Full::default();
        for until in [300, 1500, 4000] {
            chain.run(until, &mut dice, &AtomicBool::new(false));
            let steps = chain.steps_of(&chain.ledger.row);
            // The whole elimination with the τ that is frozen in.
            let mut with_tau = c.clone();
            frozen.tau.iter().for_each(|&(p, t)| with_tau.tau[p] = t);
            let whole = contributions(&with_tau, &passes(&steps));
            let worst = whole.iter().zip(&chain.y).map(|(w, y)| (w - y).abs()).fold(0.0, f64::max);
            assert!(worst < 1e-10, "{joints} joints: {worst:e}");
            let t = terms(&q, &chain.aim, &c.start, &steps, &whole);
            assert!((t.total() - chain.now).abs() < 1e-9, "{} {}", t.total(), chain.now);
            let largest = chain.excursion(&chain.sums, &chain.ledger.row, &chain.y, i64::MAX);
            assert!((t.excursion * 100.0 - largest as f64).abs() < 0.51);
            assert_eq!(chain.ledger.total, score(&q, &steps));
            assert_eq!(broken(&q, &steps), []);
            // A full evaluation finds other controls and some warmth.
            let best = chain.mark().steps;
            frozen.controls = (0..3).map(|_| dice.random_range(-0.1..0.1f64)).collect();
            frozen.tau = (0..4 * joints)
                .map(|p| (p, std::array::from_fn(|_| dice.random_range(-0.03..0.03f64))))
                .collect();
            chain.freeze(&frozen, &best, &best);
            // Then the coarse model agrees with it about that order.
            frozen.tau.iter().for_each(|&(p, t)| with_tau.tau[p] = t);
            let t = terms(&q, &chain.aim, &c.start, &best, &contributions(&with_tau, &passes(&best)));
            for (c, full) in frozen.controls.iter().enumerate() {
                let [pull, set, left, _] = t.controls[c];
                assert!((chain.aim.controls[c].offset - a.controls[c].offset + pull - full).abs() < 1e-12);
                assert!((left - set - a.controls[c].offset - full).abs() < 1e-12);
            }
        }
        let doubles = order.steps.iter().filter(|s| s.passes.len() == 2).count();
        assert_eq!(doubles > 3, welders == 2, "{doubles} steps of two passes");
        assert!(chain.tried.taken > 100 && chain.tried.taken < chain.tried.judged, "{:?}", chain.tried);
    }
}

/// The ledger's shortfalls after any change equal those of the rules from scratch, and it refuses
/// exactly what breaks a rule that is never relaxed or exceeds the bound.
#[test]
fn ledger_equals_the_rules_from_scratch() {
    for welders in [1, 2] {
        let q = question(7, welders);
        let plain = Plain::new(&q);
        let order = start(&q).expect("a sound question");
        let mut ledger = Ledger::new(&plain, &order.steps);
        ledger.bound = [i64::MAX - 1; 5];
        let mut dice = ChaCha8Rng::seed_from_u64(welders as u64);
        let (mut stood, mut fell) = (0, 0);
        for _ in 0..4000 {
            let lo = 1 + dice.random_range(0..26u32) as usize;
            let lo = ledger.first[ledger.step_of[lo]].max(1);
            let hi = (lo + 2 + dice.random_range(0..6u32) as usize).min(28);
            let mut new = ledger.row[lo..hi].to_vec();
            let (i, j) = (dice.random_range(0..new.len() as u32), dice.random_range(0..new.len() as u32));
            new.swap(i as usize, j as usize);
            let mut row = ledger.row.clone();
            row[lo..hi].copy_from_slice(&new);
            let mut steps = order.steps.clone();
            for (place, &p) in row.iter().enumerate() {
                let s = ledger.step_of[place];
                steps[s].passes[place - ledger.first[s]].pass = p;
            }
            if ledger.propose(lo, &new) {
                assert_eq!(broken(&q, &steps), []);
                assert_eq!(ledger.proposed(), score(&q, &steps));
                stood += 1;
                if dice.random_range(0..2u32) == 0 { ledger.commit() } else { ledger.revert() }
            } else {
                assert_ne!(broken(&q, &steps), []);
                fell += 1;
            }
        }
        assert!(stood > 200 && fell > 200, "{stood} {fell}");
    }
}

/// The last passes of a frame of eighty, most of it welded: all orders are looked at in a moment, and what
/// each is worth by the whole elimination is what the look says.
#[test]
fn all_orders_of_what_is_left_are_worth_what_the_whole_elimination_says() {
    for welders in [1, 2] {
        let mut dice = ChaCha8Rng::seed_from_u64(welders as u64);
        let mut q = question(20, welders);
        (q.rules.spacing, q.rules.distance_mm) = (0, 0.0);
        let order = start(&q).expect("a sound question");
        let left = |done: usize| order.steps[done..].iter().map(|s| s.passes.len()).sum::<usize>();
        let done = (0..order.steps.len()).find(|d| left(*d) <= 7).expect("few are left in the end");
        q.done = order.steps[..done].to_vec();
        let mut c = coarse(80, 3, &mut dice);
        c.tau = (0..80).map(|_| std::array::from_fn(|_| dice.random_range(-0.03..0.03f64))).collect();
        let (a, plain) = (aim(3), Plain::new(&q));
        let never = AtomicBool::new(false);
        let least = score(&q, &order.steps);
        let best = best_orders(&plain, &c, &a, least, 300, &never).expect("few enough");
        assert!(best.len() > 20, "{} orders", best.len());
        assert!(best.iter().any(|(_, s)| s.last().unwrap().passes.len() == 2) || welders == 1);
        for (rank, steps) in &best {
            assert_eq!(steps[..done], q.done[..]);
            let t = terms(&q, &a, &c.start, steps, &contributions(&c, &passes(steps)));
            let off = (t.total() / a.grain - rank.1 as f64).abs();
            assert!(off < 0.51, "{off} grains off, of {}", rank.1);
        }
        assert!(best_orders(&plain, &c, &a, least, 2000, &AtomicBool::new(true)).is_none());
    }
}

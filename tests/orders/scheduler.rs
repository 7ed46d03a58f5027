//! The scheduler against every order there is, and at full size.

use super::questions::{Limits, random};
use holdtrue::sequence::audit::audit;
use holdtrue::sequence::rules::{broken, score};
use holdtrue::sequence::{Laid, Question, Score, Step, start};

const SMALL: Limits = Limits { joints: (1, 4), most_passes: 7, welders: 1, setups: 2, layers: 2 };

/// Least score over all orders and setups, by trying them all with the plain rules.
fn least(q: &Question) -> Option<Score> {
    fn go(q: &Question, left: &mut Vec<usize>, steps: &mut Vec<Step>, best: &mut Option<Score>) {
        if left.is_empty() {
            if broken(q, steps).is_empty() {
                let s = score(q, steps);
                *best = Some(best.map_or(s, |b| b.min(s)));
            }
            return;
        }
        for i in 0..left.len() {
            let pass = left.remove(i);
            for &setup in &q.passes[pass].setups {
                steps.push(Step { setup, passes: vec![Laid { pass, welder: 0, forward: true }] });
                go(q, left, steps, best);
                steps.pop();
            }
            left.insert(i, pass);
        }
    }
    let mut best = None;
    go(q, &mut (0..q.passes.len()).collect(), &mut vec![], &mut best);
    best
}

#[test]
fn least_shortfall_of_small_frames() {
    let mut relaxed = 0;
    for seed in 0..60 {
        let mut q = random(seed, &SMALL);
        // All orders in all setups: keep the number of rows within reach.
        if q.passes.len() == 7 || q.setups == 2 && q.passes.len() > 5 {
            q.setups = 1;
            q.passes.iter_mut().for_each(|p| p.setups = vec![0]);
        }
        let want = least(&q);
        match (start(&q), want) {
            (Ok(order), Some(want)) => {
                assert_eq!(score(&q, &order.steps), want, "seed {seed}");
                assert!(order.proved, "seed {seed}");
                assert_eq!(audit(&q, &order), []);
                relaxed += usize::from(want != [0; 5]);
            }
            (Err(_), None) => {}
            (got, want) => panic!("seed {seed}: {got:?} {want:?}"),
        }
    }
    assert!(relaxed > 20, "{relaxed}");
}

#[test]
fn same_question_same_order() {
    for seed in 0..20 {
        let q = random(seed, &Limits { joints: (3, 9), most_passes: 40, welders: 2, setups: 2, layers: 2 });
        assert_eq!(start(&q), start(&q));
    }
}

#[test]
fn pins_against_layers_are_named() {
    let mut q = random(3, &Limits { joints: (3, 3), most_passes: 30, welders: 1, setups: 1, layers: 1 });
    q.passes[1].below = Some(0);
    q.first = vec![1];
    q.last = vec![];
    let no = start(&q).unwrap_err();
    assert_eq!(
        no.clashes,
        [format!("{} is pinned first, but it lies on {}", q.passes[1].label, q.passes[0].label)]
    );
    q.first = vec![2];
    q.last = vec![2];
    assert_eq!(
        start(&q).unwrap_err().clashes,
        [format!("{} is pinned both first and last", q.passes[2].label)]
    );
}

/// A large frame: 250 joints of eight passes. Debug builds take a part of it.
#[test]
fn a_large_frame_is_ordered() {
    let joints = if cfg!(debug_assertions) { 60 } else { 250 };
    let q = super::questions::large(joints);
    assert_eq!(q.passes.len(), 8 * joints);
    let order = start(&q).unwrap();
    assert_eq!(audit(&q, &order), []);
    assert_eq!(order.relaxed, [], "so many joints leave no excuse");
    let turns = order.steps.windows(2).filter(|w| w[0].setup != w[1].setup).count();
    assert_eq!(turns, 1);
}

//! The auditor on random frames: clean after the scheduler, and it sees every kind of damage.

use super::questions::{Limits, plain, random, row};
use holdtrue::sequence::audit::audit;
use holdtrue::sequence::rules::judge;
use holdtrue::sequence::{Laid, Question, Step, start};
use rand::rngs::ChaCha8Rng;
use rand::seq::SliceRandom;
use rand::{RngExt, SeedableRng};

const MIXED: Limits = Limits { joints: (1, 9), most_passes: 40, welders: 2, setups: 2, layers: 2 };

#[test]
fn scheduled_random_frames_are_clean() {
    let mut with_shortfalls = 0;
    let small = Limits { joints: (1, 5), most_passes: 14, welders: 2, setups: 2, layers: 2 };
    let mixed = (0..200).map(|s| (s, &MIXED));
    for (seed, limits) in mixed.chain((1000..1800).map(|s| (s, &small))) {
        let q = random(seed, limits);
        match start(&q) {
            Ok(order) => {
                assert_eq!(audit(&q, &order), [], "seed {seed}");
                with_shortfalls += usize::from(!order.relaxed.is_empty());
            }
            Err(no) => assert!(!q.apart.is_empty(), "seed {seed}: {no:?}"),
        }
    }
    // Most of these small frames force some rule to give way.
    assert!((100..980).contains(&with_shortfalls), "the frames should be of both kinds: {with_shortfalls}");
}

/// The list made by the rules is the list the auditor finds, for any order whatever, broken or not.
#[test]
fn rules_and_auditor_agree_on_arbitrary_orders() {
    for seed in 0..300 {
        let q = random(seed, &MIXED);
        let mut dice = ChaCha8Rng::seed_from_u64(seed);
        let mut passes: Vec<usize> = (0..q.passes.len()).collect();
        passes.shuffle(&mut dice);
        let mut steps = row(&passes);
        for s in &mut steps {
            let reach = &q.passes[s.passes[0].pass].setups;
            s.setup = reach[dice.random_range(0..reach.len() as u32) as usize];
        }
        if q.welders == 2 {
            let mut s = 0;
            while s + 1 < steps.len() {
                let (a, b) = (&q.passes[steps[s].passes[0].pass], &q.passes[steps[s + 1].passes[0].pass]);
                if steps[s].setup == steps[s + 1].setup && q.steel_mm[a.joint][b.joint] > 300.0 {
                    let second = steps.remove(s + 1).passes[0];
                    steps[s].passes.push(Laid { welder: 1, ..second });
                }
                s += 1;
            }
        }
        let broken = holdtrue::sequence::rules::broken(&q, &steps);
        let findings = audit(&q, &judge(&q, steps));
        let lists: Vec<_> = findings.iter().filter(|f| f.rule == "relaxed list").collect();
        assert!(lists.is_empty(), "seed {seed}: {lists:?}");
        assert_eq!(broken.is_empty(), findings.is_empty(), "seed {seed}: {broken:?} {findings:?}");
        let mut a: Vec<&str> = broken.iter().map(|b| b.rule).collect();
        let mut b: Vec<&str> = findings.iter().map(|f| f.rule).collect();
        a.sort();
        b.sort();
        a.dedup();
        b.dedup();
        assert_eq!(a, b, "seed {seed}");
    }
}

/// Four joints far apart with two passes each, everything that can be asked for asked for.
fn sound() -> Question {
    let mut q =
        plain(4, &[(0, 0, 0), (0, 0, 1), (1, 1, 0), (1, 1, 1), (2, 2, 0), (2, 2, 1), (3, 3, 0), (3, 3, 1)]);
    q.passes[1].below = Some(0);
    q.first = vec![2];
    q.last = vec![7];
    q.apart = vec![(0, 2)];
    q.passes[4].setups = vec![0, 1];
    q.setups = 2;
    q
}

const SOUND: [usize; 8] = [2, 0, 6, 4, 3, 1, 5, 7];

fn rules_found(q: &Question, steps: Vec<Step>) -> Vec<&'static str> {
    let mut rules: Vec<&str> = audit(q, &judge(q, steps)).iter().map(|f| f.rule).collect();
    rules.dedup();
    rules
}

#[test]
fn every_broken_rule_is_found() {
    let mut q = sound();
    assert_eq!(rules_found(&q, row(&SOUND)), ["apart"], "1 and 5 are on joints 0 and 2");
    q.apart = vec![(0, 1)];
    assert_eq!(rules_found(&q, row(&SOUND)), ["apart"], "2 and 0, 3 and 1 are on joints 1 and 0");
    q.apart = vec![(1, 3)];
    assert_eq!(rules_found(&q, row(&SOUND)), [""; 0]);
    assert_eq!(rules_found(&q, row(&[2, 0, 6, 4, 3, 1, 5])), ["every pass once"]);
    assert_eq!(rules_found(&q, row(&[2, 0, 6, 4, 3, 1, 5, 5, 7])), ["every pass once"]);
    assert_eq!(rules_found(&q, row(&[2, 1, 6, 4, 3, 0, 5, 7])), ["layers in turn"]);
    assert_eq!(rules_found(&q, row(&[4, 2, 0, 6, 1, 3, 5, 7])), ["pinned first"]);
    assert_eq!(rules_found(&q, row(&[2, 0, 6, 4, 3, 1, 7, 5])), ["pinned last"]);
    let with = |change: fn(&mut Vec<Step>)| {
        let mut steps = row(&SOUND);
        change(&mut steps);
        steps
    };
    assert_eq!(rules_found(&q, with(|s| s[3].setup = 1)), [""; 0], "4 can be reached in setup 1");
    assert_eq!(rules_found(&q, with(|s| s[4].setup = 1)), ["reach"]);
    assert_eq!(rules_found(&q, with(|s| s[3].passes[0].welder = 1)), ["welders"]);
    q.apart.clear();
    let join = |welder: usize| {
        let mut steps = row(&SOUND);
        let second = steps.remove(3).passes[0];
        steps[2].passes.push(Laid { welder, ..second });
        steps
    };
    assert_eq!(rules_found(&q, join(1)), ["welders"], "one welder, two passes at once");
    q.welders = 2;
    assert_eq!(rules_found(&q, join(1)), [""; 0]);
    assert_eq!(rules_found(&q, join(0)), ["welders"], "one pair of hands, two passes");
    q.rules.welder_distance_mm = 1000.1;
    assert_eq!(rules_found(&q, join(1)), ["welders"], "too close");
    q.rules.welder_distance_mm = 0.0;
    q.passes[4].joint = 3;
    assert_eq!(rules_found(&q, join(1)), ["welders"], "two on one joint");
    let mut q = sound();
    q.apart.clear();
    q.done = row(&[2, 4]);
    assert_eq!(rules_found(&q, row(&SOUND)), ["done stays"]);
}

#[test]
fn a_doctored_list_of_relaxed_rules_is_found() {
    let mut checked = 0;
    for seed in 0..60 {
        let q = random(seed, &MIXED);
        let Ok(order) = start(&q) else { continue };
        if order.relaxed.is_empty() {
            continue;
        }
        let i = seed as usize % order.relaxed.len();
        let mut less = order.clone();
        less.relaxed.remove(i);
        let mut more = order.clone();
        more.relaxed.push(order.relaxed[i].clone());
        let mut wrong = order.clone();
        wrong.relaxed[i].actual += 1.0;
        let mut other = order.clone();
        other.relaxed[i].pass = (other.relaxed[i].pass + 1) % q.passes.len();
        for doctored in [less, more, wrong, other] {
            let found = audit(&q, &doctored);
            assert!(
                !found.is_empty() && found.iter().all(|f| f.rule == "relaxed list"),
                "seed {seed}: {found:?}"
            );
        }
        checked += 1;
    }
    assert!(checked > 20, "{checked}");
}

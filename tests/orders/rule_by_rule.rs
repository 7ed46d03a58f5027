//! Each rule as a table of cases: an order by hand, and what must be said about it.

use super::questions::{plain, row};
use holdtrue::joint::Side;
use holdtrue::sequence::rules::{broken, shortfalls};
use holdtrue::sequence::{Question, Step};

/// Order of passes, and the shortfalls of one rule: (pass, required, actual).
type Case = (&'static [usize], &'static [Short]);
type Short = (usize, f64, f64);

/// The shortfalls of one rule, rounded to three decimals.
fn of(q: &Question, steps: &[Step], rule: &str) -> Vec<Short> {
    let round = |x: f64| (x * 1000.0).round() / 1000.0;
    let all = shortfalls(q, steps);
    all.into_iter().filter(|r| r.rule == rule).map(|r| (r.pass, round(r.required), round(r.actual))).collect()
}

fn broken_rules(q: &Question, steps: &[Step]) -> Vec<(&'static str, usize)> {
    broken(q, steps).into_iter().map(|b| (b.rule, b.pass)).collect()
}

/// Two passes on joint 0, then one each on joints 1, 2, 3.
fn five() -> Question {
    plain(4, &[(0, 0, 0), (0, 0, 1), (1, 1, 0), (2, 2, 0), (3, 3, 0)])
}

#[test]
fn same_joint_twice_running() {
    let q = five();
    let cases: [(&[usize], &[usize]); 4] = [
        (&[0, 1, 2, 3, 4], &[1]),
        (&[1, 0, 2, 3, 4], &[0]),
        (&[0, 2, 1, 3, 4], &[]),
        (&[2, 3, 4, 0, 1], &[1]),
    ];
    for (order, want) in cases {
        let got: Vec<usize> = of(&q, &row(order), "same joint twice").iter().map(|r| r.0).collect();
        assert_eq!(got, want, "{order:?}");
    }
}

#[test]
fn spacing_counts_the_steps_between() {
    let mut q = five();
    let cases: [(usize, &[usize], &[Short]); 6] = [
        (2, &[0, 2, 3, 1, 4], &[]),
        (2, &[0, 2, 1, 3, 4], &[(1, 2.0, 1.0)]),
        (2, &[0, 1, 2, 3, 4], &[(1, 2.0, 0.0)]),
        (3, &[0, 2, 3, 1, 4], &[(1, 3.0, 2.0)]),
        (3, &[0, 2, 3, 4, 1], &[]),
        (0, &[0, 1, 2, 3, 4], &[]),
    ];
    for (spacing, order, want) in cases {
        q.rules.spacing = spacing;
        assert_eq!(of(&q, &row(order), "spacing"), want, "{spacing} {order:?}");
    }
}

/// One seam of four segments (0 opposite 2, 1 opposite 3) in two layers (4..8 on top).
fn ring() -> Question {
    let mut q =
        plain(1, &[(0, 0, 0), (0, 0, 1), (0, 0, 2), (0, 0, 3), (0, 0, 0), (0, 0, 1), (0, 0, 2), (0, 0, 3)]);
    for p in 0..8 {
        q.passes[p].partner = Some(p / 4 * 4 + (p % 4 + 2) % 4);
        q.passes[p].layer = (p / 4) as u8;
        q.passes[p].below = p.checked_sub(4);
    }
    q
}

#[test]
fn opposite_before_any_other_of_seam_and_layer() {
    let mut q = ring();
    let cases: [Case; 5] = [
        (&[0, 2, 1, 3, 4, 6, 5, 7], &[]),
        // 1 passes over the open pair 0-2; closing it, 2 passes over 1-3.
        (&[0, 1, 2, 3, 4, 6, 5, 7], &[(1, 0.0, 1.0), (2, 0.0, 1.0)]),
        (&[0, 1, 3, 2, 4, 6, 5, 7], &[(1, 0.0, 1.0), (3, 0.0, 1.0)]),
        // A pass of another layer may go between.
        (&[0, 4, 2, 1, 3, 6, 5, 7], &[]),
        (&[0, 2, 1, 3, 4, 5, 6, 7], &[(5, 0.0, 1.0), (6, 0.0, 1.0)]),
    ];
    for (order, want) in cases {
        assert_eq!(of(&q, &row(order), "opposite"), want, "{order:?}");
    }
    q.rules.opposite = false;
    assert_eq!(of(&q, &row(&[0, 1, 2, 3, 4, 5, 6, 7]), "opposite"), []);
}

/// The ring with segments 0 and 1 reached in setup 0 only, 2 and 3 in setup 1 only.
#[test]
fn a_partner_in_another_setup_waits_and_then_comes_first_of_its_seam() {
    let mut q = ring();
    q.setups = 2;
    for p in 0..8 {
        q.passes[p].setups = vec![usize::from(p % 4 > 1)];
    }
    let lie = |passes: &[usize], q: &Question| {
        let mut steps = row(passes);
        steps.iter_mut().for_each(|s| s.setup = q.passes[s.passes[0].pass].setups[0]);
        steps
    };
    // All partners waited for the turn: any order among them is right.
    assert_eq!(of(&q, &lie(&[0, 1, 4, 5, 3, 2, 7, 6], &q), "opposite"), []);
    // Segment 1 can now be reached in both setups: after the turn, its partner goes before it.
    q.passes[1].setups = vec![0, 1];
    q.passes[5].setups = vec![0, 1];
    let mut steps = lie(&[0, 2, 1, 3, 4, 6, 5, 7], &q);
    for (s, setup) in [0, 1, 1, 1, 0, 1, 1, 1].into_iter().enumerate() {
        steps[s].setup = setup;
    }
    assert_eq!(of(&q, &steps, "opposite"), []);
    let mut steps = lie(&[0, 1, 2, 3, 4, 6, 5, 7], &q);
    for (s, setup) in [0, 1, 1, 1, 0, 1, 1, 1].into_iter().enumerate() {
        steps[s].setup = setup;
    }
    // 1 passes over 0-2, which waited; 2 then closes it and, as one that waited, passes over nothing
    // of an earlier stay, but 1-3 was opened in this stay.
    assert_eq!(of(&q, &steps, "opposite"), [(1, 0.0, 1.0), (2, 0.0, 1.0)]);
}

#[test]
fn side_balance_after_every_step() {
    let mut q = plain(4, &[(0, 0, 0), (1, 1, 0), (2, 2, 0), (3, 3, 0), (0, 0, 1)]);
    q.has_plane = true;
    let set = [(Side::Left, 1000.0), (Side::Left, 1000.0), (Side::Right, 1000.0), (Side::Right, 800.0)];
    for (p, (side, energy)) in set.into_iter().enumerate() {
        q.passes[p].side = side;
        q.passes[p].energy_j = energy;
    }
    // Limit: largest 1000 + |2000 − 1800| = 1200 J; pass 4 lies on the centre and counts on neither side.
    let cases: [Case; 4] = [
        (&[0, 2, 1, 3, 4], &[]),
        (&[0, 1, 2, 3, 4], &[(1, 1200.0, 2000.0)]),
        // The excess stands after the centre pass too, and is charged to it.
        (&[0, 1, 4, 2, 3], &[(1, 1200.0, 2000.0), (4, 1200.0, 2000.0)]),
        (&[2, 3, 0, 1, 4], &[(3, 1200.0, 1800.0)]),
    ];
    for (order, want) in cases {
        assert_eq!(of(&q, &row(order), "side balance"), want, "{order:?}");
    }
    q.has_plane = false;
    assert_eq!(of(&q, &row(&[0, 1, 2, 3, 4]), "side balance"), [], "no plane: off");
    q.has_plane = true;
    q.rules.balance = false;
    assert_eq!(of(&q, &row(&[0, 1, 2, 3, 4]), "side balance"), [], "house rule off");
}

#[test]
fn side_balance_exactly_at_the_limit_is_kept() {
    let mut q = plain(2, &[(0, 0, 0), (1, 1, 0)]);
    q.has_plane = true;
    (q.passes[0].side, q.passes[1].side) = (Side::Left, Side::Right);
    for energy in [0.1, 1.0 / 3.0, 1_234.567_890_123] {
        q.passes.iter_mut().for_each(|p| p.energy_j = energy);
        assert_eq!(of(&q, &row(&[0, 1]), "side balance"), []);
    }
}

#[test]
fn distance_from_the_last_pass_along_the_steel() {
    let mut q = plain(3, &[(0, 0, 0), (1, 1, 0), (2, 2, 0), (0, 0, 1)]);
    let mut set = |a: usize, b: usize, mm: f64| {
        q.steel_mm[a][b] = mm;
        q.steel_mm[b][a] = mm;
    };
    set(0, 1, 100.0);
    set(0, 2, 150.0);
    set(1, 2, f64::INFINITY);
    let cases: [Case; 3] = [
        (&[0, 2, 1, 3], &[(3, 150.0, 100.0)]),
        (&[1, 2, 0, 3], &[(3, 150.0, 0.0)]),
        (&[0, 2, 3, 1], &[(1, 150.0, 100.0)]),
    ];
    for (order, want) in cases {
        assert_eq!(of(&q, &row(order), "distance"), want, "{order:?}");
    }
}

#[test]
fn two_welders_are_judged_step_by_step() {
    let mut q = plain(4, &[(0, 0, 0), (1, 1, 0), (2, 2, 0), (3, 3, 0), (0, 0, 1)]);
    q.welders = 2;
    let mut steps = row(&[0, 2, 4]);
    for (s, pass) in [(0, 1), (1, 3)] {
        steps[s].passes.push(holdtrue::sequence::Laid { pass, welder: 1, forward: true });
    }
    assert_eq!(broken_rules(&q, &steps), []);
    assert_eq!(of(&q, &steps, "spacing"), [(4, 2.0, 1.0)]);
    q.steel_mm[0][1] = 299.0;
    q.steel_mm[1][0] = 299.0;
    assert_eq!(broken_rules(&q, &steps), [("welders", 1)], "closer than 300 mm");
    q.welders = 1;
    assert!(broken_rules(&q, &steps).iter().all(|b| b.0 == "welders"));
    assert_eq!(broken_rules(&q, &steps).len(), 3, "two steps with a welder too many, one too close");
}

#[test]
fn rules_that_are_never_relaxed() {
    let q = five();
    assert_eq!(broken_rules(&q, &row(&[0, 2, 3, 1, 4])), []);
    assert_eq!(broken_rules(&q, &row(&[0, 2, 3, 1])), [("every pass once", 4)]);
    assert_eq!(broken_rules(&q, &row(&[0, 2, 3, 1, 4, 0])), [("every pass once", 0)]);
    let ring = ring();
    assert_eq!(broken_rules(&ring, &row(&[0, 4, 5, 1, 2, 3, 6, 7])), [("layers in turn", 5)]);
    let mut q = five();
    q.passes[3].setups = vec![1];
    q.setups = 2;
    assert_eq!(broken_rules(&q, &row(&[0, 2, 3, 1, 4])), [("reach", 3)]);
    let mut q = five();
    q.first = vec![2, 0];
    q.last = vec![4];
    assert_eq!(broken_rules(&q, &row(&[2, 0, 3, 1, 4])), []);
    assert_eq!(broken_rules(&q, &row(&[0, 2, 3, 1, 4])), [("pinned first", 2), ("pinned first", 0)]);
    assert_eq!(broken_rules(&q, &row(&[2, 0, 3, 4, 1])), [("pinned last", 4)]);
    let mut q = five();
    q.apart = vec![(1, 2)];
    assert_eq!(broken_rules(&q, &row(&[0, 2, 4, 3, 1])), []);
    assert_eq!(broken_rules(&q, &row(&[0, 2, 3, 1, 4])), [("apart", 3)]);
    assert_eq!(broken_rules(&q, &row(&[0, 3, 2, 1, 4])), [("apart", 2)]);
}

#[test]
fn steps_that_are_welded_already_count_for_every_rule() {
    let mut q = five();
    q.done = row(&[0]);
    assert_eq!(of(&q, &row(&[0, 1, 2, 3, 4]), "spacing"), [(1, 2.0, 0.0)]);
    let order = holdtrue::sequence::start(&q).unwrap();
    assert_eq!(order.steps[0], q.done[0]);
    assert_eq!(order.relaxed, []);
}

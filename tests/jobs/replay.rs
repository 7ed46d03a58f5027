//! A job replayed through the models: expected readings, what they teach, the outlook, the waits.

use super::{at, line};
use crate::pull::hand::{self, add_tube, empty, ranges, spot};
use crate::support::near;
use glam::DVec3;
use holdtrue::distort::{Level, Model, Tack};
use holdtrue::frame::{Clamp, Control, ControlKind, Release, Setup, Shape};
use holdtrue::heat::Kernels;
use holdtrue::job::learn::Belief;
use holdtrue::job::{
    Bench, Card, ControlCard, Cut, Event, FORMAT, Header, Item, Job, JointCard, Record, Task, UsedSettings,
    Verdict, as_welded, replan_settings,
};
use holdtrue::procedure::{Passes, Settings};

/// A ladder: two rails 600 mm long, 300 mm apart, two rungs; four saddles of four segments.
struct Ladder {
    parts: hand::Bench,
    model: Model,
}

fn control(name: &str, kind: ControlKind) -> Control {
    hand::control(name, kind)
}

fn ladder(common_factor: f64) -> Ladder {
    let mut f = empty(vec![Shape::Round { od: 38.0, wall: 2.0 }, Shape::Round { od: 32.0, wall: 1.6 }]);
    let p = |x: f64, z: f64| DVec3::new(x, 0.0, z);
    for (name, z) in [("low", 0.0), ("high", 300.0)] {
        add_tube(&mut f, name, 0, &[p(-300.0, z), p(-150.0, z), p(150.0, z), p(300.0, z)]);
    }
    for (name, x) in [("back", -150.0), ("front", 150.0)] {
        add_tube(&mut f, name, 1, &[p(x, 0.0), p(x, 300.0)]);
    }
    f.controls = vec![
        control("width back", ControlKind::Distance(spot(0, 0.0), spot(1, 0.0))),
        control("width front", ControlKind::Distance(spot(0, 600.0), spot(1, 600.0))),
        control(
            "square",
            ControlKind::Squareness([spot(0, 0.0), spot(1, 600.0)], [spot(0, 600.0), spot(1, 0.0)]),
        ),
    ];
    f.pull.common_factor = common_factor;
    f.setups.push(Setup { name: "turned".into(), up: -DVec3::Z });
    f.clamps.push(Clamp {
        name: "end".into(),
        tube: 1,
        at_mm: 600.0,
        holds: vec![DVec3::X, DVec3::Z],
        one_way: false,
        stiffness_n_mm: 5000.0,
        setups: vec![0],
        release: Release::End,
    });
    let mut parts = hand::Bench::new(f);
    for (rung, end, rail) in [(2, 0, 0), (2, 1, 1), (3, 0, 0), (3, 1, 1)] {
        parts.saddle(rung, end, rail, &ranges(4, -45.0), 210.0);
    }
    parts.passes.settings = vec![Settings {
        process: 135,
        volts: 17.0,
        amps: 70.0,
        speed_mm_s: 3.0,
        k: 0.8,
        leg_mm: 3.0,
        throat_mm: 2.1,
        area_mm2: 4.5,
        layers: 1,
        starting_values: false,
        source: String::new(),
        interpass_c: 60.0,
        preheat_c: None,
        gas_l_min: 12.0,
    }];
    let model = parts.model();
    Ladder { parts, model }
}

/// Passes round the joints, one segment each, opposite ones following; one turn half way.
fn order(passes: &Passes) -> Vec<usize> {
    let n = passes.passes.len() / 4;
    [0, 2, 1, 3].into_iter().flat_map(|segment| (0..n).map(move |seam| 4 * seam + segment)).collect()
}

fn header(l: &Ladder) -> Header {
    let mut items: Vec<Item> = vec![line(1, "clamp-1", Task::Clamp { clamp: "end".into() })];
    let order = order(&l.parts.passes);
    for (step, &i) in order.iter().enumerate() {
        if step == order.len() / 2 {
            items.push(line(items.len() + 1, "turn-1", Task::Turn { setup: "turned".into() }));
        }
        let p = &l.parts.passes.passes[i];
        let task = Task::Pass {
            joint: l.parts.joints.joints[p.joint].name.clone(),
            seam: l.parts.seams.seams[p.seam].name.clone(),
            below: None,
            clock_from: String::new(),
            clock_to: String::new(),
            position: "PB".into(),
            forward: step % 3 != 0,
            welder: 0,
            step,
            setup: if step < order.len() / 2 { "as drawn" } else { "turned" }.into(),
            volts: 17.0,
            amps: 70.0,
            speed_mm_s: 3.0,
            energy_j: p.energy_j,
            arc_s: p.arc_s,
            under_c: 60.0,
        };
        items.push(line(items.len() + 1, &p.label, task));
    }
    let controls = l.parts.frame.controls.iter().map(|c| ControlCard {
        name: c.name.clone(),
        unit: "mm".into(),
        nominal: 300.0,
        tolerance: 1.0,
        set_to: 0.5,
        residual: 0.0,
        scatter: 0.5,
    });
    Header {
        format: FORMAT,
        program: String::new(),
        name: "ladder".into(),
        began: at(0),
        frame_file: String::new(),
        frame_sha256: String::new(),
        frame: String::new(),
        plan: "{}".into(),
        seed: 1,
        effort: "quick".into(),
        shop: String::new(),
        welders: None,
        card: Card { revision: 0, plan_id: "L".into(), items },
        controls: controls.collect(),
        joints: l
            .parts
            .joints
            .joints
            .iter()
            .map(|j| JointCard { name: j.name.clone(), kind: "saddle".into() })
            .collect(),
    }
}

fn bench<'a>(l: &'a Ladder, kernels: Option<&'a Kernels>) -> Bench<'a> {
    Bench {
        frame: &l.parts.frame,
        joints: &l.parts.joints,
        passes: &l.parts.passes,
        model: Some(&l.model),
        kernels,
        tacks: vec![],
        level: Level::Coarse,
    }
}

/// The first `n` lines ticked, two hours apart, all cold.
fn ticked(l: &Ladder, n: usize) -> Vec<Record> {
    let items = header(l).card.items;
    let one = |(i, item): (usize, &Item)| Record {
        n: i as u64 + 1,
        at: at(7200 * (i as i64 + 1)),
        by: String::new(),
        event: Event::tick(item.label.clone(), Some(at(7200 * (i as i64 + 1)))),
    };
    items[..n].iter().enumerate().map(one).collect()
}

fn add(records: &mut Vec<Record>, event: Event) {
    let n = records.len() as u64 + 1;
    records.push(Record { n, at: at(7200 * n as i64), by: String::new(), event });
}

/// If everything goes by the sheet, the prediction of the end is the same at every moment, and is that
/// of the plan.
#[test]
fn by_the_sheet_the_outlook_does_not_change() {
    let l = ladder(1.0);
    let b = bench(&l, None);
    let fresh = |job: &Job| Belief::new(&["saddle"; 4], &b.prior(job));
    let start = Job::fold(header(&l), vec![]);
    let want = b.outlook(&start, &fresh(&start)).unwrap();
    assert!(
        want.iter().any(|o| (o.before.deviation - 0.5).abs() > 0.05),
        "welding moves something: {want:?}"
    );
    for n in [1, 2, 7, 9, 10, 15, 18] {
        let job = Job::fold(header(&l), ticked(&l, n));
        for (got, want) in b.outlook(&job, &fresh(&job)).unwrap().iter().zip(&want) {
            near(got.before.deviation, want.before.deviation, 1e-9);
            near(got.before.scatter, want.before.scatter, 1e-9);
            assert_eq!(got.before, got.after);
        }
    }
}

/// A welder whose welds pull 1.5 times what the plan says, read exactly: the readings say so, and the
/// end is foreseen better with them than without.
#[test]
fn a_welder_who_pulls_more_is_found_out() {
    let (l, truth) = (ladder(1.0), ladder(1.5));
    let b = bench(&l, None);
    let mut records = ticked(&l, 10);
    let so_far = Job::fold(header(&l), records.clone());
    let m = truth
        .model
        .moment(&bench(&truth, None).done(&so_far, &so_far.deeds), Level::Coarse, &[], true)
        .unwrap();
    let names: Vec<String> = l.parts.frame.controls.iter().map(|c| c.name.clone()).collect();
    for (name, y) in names.iter().zip(&m.controls) {
        let value = 300.0 + 0.5 + y;
        add(
            &mut records,
            Event::Measured {
                control: name.clone(),
                value,
                error: 0.02,
                clamped: false,
                tool: String::new(),
            },
        );
    }
    let mut h = header(&l);
    // The gate was read: no fit-up error is left to explain it away.
    let mut frame = l.parts.frame.clone();
    frame.shop.fit_up_mm = 0.001;
    let b2 = Bench { frame: &frame, ..b };
    h.controls.iter_mut().for_each(|c| c.tolerance = 5.0);
    let job = Job::fold(h, records);
    let (learnt, numbers) = b2.learn(&job).unwrap();
    assert_eq!(numbers, [11, 12, 13]);
    let (common, sd) = learnt.belief.kind_factors().iter().map(|k| (k.1, k.2)).next().unwrap();
    assert!((1.2..1.6).contains(&common) && sd < 0.28, "{common} ± {sd}");
    let end = truth
        .model
        .moment(
            &[bench(&truth, None).done(&job, &job.deeds), bench(&truth, None).rest(&job)].concat(),
            Level::Coarse,
            &[],
            true,
        )
        .unwrap();
    let outlook = b2.outlook(&job, &learnt.belief).unwrap();
    let miss = |f: &dyn Fn(usize) -> f64| (0..3).map(|r| (f(r) - 0.5 - end.controls[r]).abs()).sum::<f64>();
    let (before, after) = (miss(&|r| outlook[r].before.deviation), miss(&|r| outlook[r].after.deviation));
    assert!(
        after < 0.6 * before,
        "end mispredicted by {before:.3} mm before and {after:.3} mm after the readings"
    );
    for o in &outlook {
        assert!(o.after.scatter < o.before.scatter, "{o:?}");
    }
    // The re-plan gets the factor.
    let mut pull = frame.pull.clone();
    assert!(replan_settings(&learnt.belief, &mut pull).is_empty());
    let whole = pull.common_factor * pull.kind_factors[0].1;
    near(whole, common, 1e-12);
}

/// Reading right after the arc: the warm tubes are longer, and the reading is not used.
#[test]
fn a_reading_on_hot_tubes_is_put_off() {
    let l = ladder(1.0);
    let kernels = Kernels::new(&l.parts.frame, &l.parts.joints, &l.parts.seams, &l.parts.passes);
    let b = bench(&l, Some(&kernels));
    let measured = Event::Measured {
        control: "width front".into(),
        value: 300.5,
        error: 0.02,
        clamped: false,
        tool: String::new(),
    };
    let job_at = |after_s: i64| {
        let mut records = ticked(&l, 5);
        let n = records.len() as u64 + 1;
        records.push(Record { n, at: at(7200 * 5 + after_s), by: String::new(), event: measured.clone() });
        Job::fold(header(&l), records)
    };
    let hot = b.observation(&job_at(20), &job_at(20).readings[0]).unwrap();
    let cold = b.observation(&job_at(7000), &job_at(7000).readings[0]).unwrap();
    assert!(hot.thermal.abs() > 0.02 && cold.thermal.abs() < 0.002, "{} {}", hot.thermal, cold.thermal);
    near(hot.expected - hot.thermal, cold.expected - cold.thermal, 1e-9);
    assert_eq!(b.learn(&job_at(20)).unwrap().0.judged[0].verdict, Verdict::TooWarm);
    assert_ne!(b.learn(&job_at(7000)).unwrap().0.judged[0].verdict, Verdict::TooWarm);
}

/// Just after a pass its joint is too warm and others are not; two hours later all are cool; a joint
/// that was read hotter than the model says must wait longer.
#[test]
fn waits_follow_the_real_ticks_and_the_temperatures_read() {
    let l = ladder(1.0);
    let kernels = Kernels::new(&l.parts.frame, &l.parts.joints, &l.parts.seams, &l.parts.passes);
    let b = bench(&l, Some(&kernels));
    let mut records = ticked(&l, 2);
    let label = header(&l).card.items[1].label.clone();
    let same_joint = l.parts.passes.passes[1].label.clone();
    let other = l.parts.passes.passes[8].label.clone();
    let job = Job::fold(header(&l), records.clone());
    assert!(job.done.contains_key(&label));
    let now = at(2 * 7200 + 5);
    let m = b.minutes(&job, now);
    assert!(m[&same_joint] > 0.0 && m[&other] == 0.0, "{m:?}");
    assert!(b.minutes(&job, at(4 * 7200)).values().all(|v| *v == 0.0));
    // What `next` makes of it.
    let n = holdtrue::job::next(&job, &|i| m.get(&i.label).copied().unwrap_or(0.0));
    assert_eq!(n.now.unwrap().label, l.parts.passes.passes[4].label);
    // Read 1.5 times as far above the air as the model says.
    let air = l.parts.frame.shop.ambient_c;
    let mut clock = holdtrue::heat::Clock::new(&kernels);
    let p = &l.parts.passes.passes[0];
    clock.put(0, 7200.0 * 2.0 - p.arc_s, p.arc_s, p.energy_j);
    let model = clock.temperature(0, 7200.0 * 2.0 + 5.0) - air;
    let n = records.len() as u64 + 1;
    let event = Event::Temperature { joint: "J1".into(), value_c: air + 1.5 * model };
    records.push(Record { n, at: now, by: String::new(), event });
    let hotter = b.minutes(&Job::fold(header(&l), records), now);
    assert!(hotter[&same_joint] > m[&same_joint], "{} {}", hotter[&same_joint], m[&same_joint]);
}

#[test]
fn other_settings_change_the_passes_that_were_laid_with_them() {
    let l = ladder(1.0);
    let mut records = ticked(&l, 1);
    let label = l.parts.passes.passes[0].label.clone();
    let used = UsedSettings { amps: Some(77.0), ..Default::default() };
    add(&mut records, Event::Ticked { label, when: None, settings: Some(used), reversed: true });
    let job = Job::fold(header(&l), records);
    let passes = as_welded(&job, &l.parts.passes);
    near(passes.passes[0].energy_j, 1.1 * l.parts.passes.passes[0].energy_j, 1e-9);
    near(passes.passes[0].heat_input_j_per_mm, 231.0, 1e-9);
    for (got, want) in passes.passes[1..].iter().zip(&l.parts.passes.passes[1..]) {
        near(got.energy_j, want.energy_j, 0.0);
    }
}

/// Whatever was done to the frame, there is an answer, and a seam that was cut open and welded again
/// ends where it would have, had it been welded late.
#[test]
fn cut_redone_and_turned_frames_have_an_outlook() {
    let l = ladder(1.0);
    let b = bench(&l, None);
    let mut records = ticked(&l, 6);
    let first = header(&l).card.items[1].label.clone();
    add(
        &mut records,
        Event::Redone {
            label: first.clone(),
            when: None,
            settings: None,
            reversed: false,
            why: String::new(),
        },
    );
    add(&mut records, Event::Cut { place: Cut::Seam("J1a".into()), why: String::new() });
    let job = Job::fold(header(&l), records.clone());
    let belief = Belief::new(&["saddle"; 4], &b.prior(&job));
    let cut_out = b.outlook(&job, &belief).unwrap();
    assert!(cut_out.iter().all(|o| o.after.deviation.is_finite() && o.after.scatter > 0.0));
    // The passes of J1a are among what is left, at their old places in the order of the sheet.
    assert_eq!(
        b.rest(&job).iter().filter(|e| matches!(e, holdtrue::distort::Event::Pass { .. })).count(),
        16 - 5 + 2
    );
    add(&mut records, Event::tick(first, None));
    let again = Job::fold(header(&l), records);
    assert_eq!(
        b.done(&again, &again.deeds)
            .iter()
            .filter(|e| matches!(e, holdtrue::distort::Event::Pass { .. }))
            .count(),
        4
    );
    assert!(b.outlook(&again, &belief).is_ok());
}

/// Tacks that were never ticked are there all the same once somebody welds.
#[test]
fn whoever_welds_has_tacked_before() {
    let l = ladder(1.0);
    let tacks: Vec<(String, Tack)> = l
        .model
        .default_tacks()
        .into_iter()
        .enumerate()
        .map(|(i, t)| (format!("J{}a-t{}", t.seam + 1, i + 1), t))
        .collect();
    let n = tacks.len();
    let b = Bench { tacks, ..bench(&l, None) };
    let job = Job::fold(header(&l), ticked(&l, 3));
    let done = b.done(&job, &job.deeds);
    let is_tack = |e: &holdtrue::distort::Event| matches!(e, holdtrue::distort::Event::Tack(_));
    assert_eq!(done.iter().filter(|e| is_tack(e)).count(), n);
    let first_pass = done.iter().position(|e| matches!(e, holdtrue::distort::Event::Pass { .. })).unwrap();
    assert!(done[first_pass..].iter().all(|e| !is_tack(e)));
    assert!(b.outlook(&job, &Belief::new(&["saddle"; 4], &b.prior(&job))).is_ok());
}

//! What follows from what happened: ticks, cuts, readings, re-plans, in the order of real work.

use super::{at, every_kind, header, job, measured, records, short_header, tick};
use crate::support::near;
use holdtrue::job::{Cut, DeedKind, Event, Item, Job, Standing, Task, UsedSettings, next, pulses};

fn laid(job: &Job) -> Vec<String> {
    job.deeds
        .iter()
        .map(|d| match &d.kind {
            DeedKind::Laid { label, again, .. } => format!("{label}{}", if *again { " again" } else { "" }),
            DeedKind::Cut(Cut::Seam(s)) => format!("cut {s}"),
            DeedKind::Cut(Cut::Tack(t)) => format!("cut {t}"),
            DeedKind::Clamped(c) => format!("clamp {c}"),
            DeedKind::Released(c) => format!("release {c}"),
            DeedKind::Turned(s) => format!("turn {s}"),
            DeedKind::Shifted { clamp, along, by_mm } => format!("move {clamp} {along} {by_mm}"),
        })
        .collect()
}

fn cut(place: Cut) -> Event {
    Event::Cut { place, why: String::new() }
}

fn redo(label: &str) -> Event {
    Event::Redone { label: label.into(), when: None, settings: None, reversed: false, why: String::new() }
}

fn untick(label: &str) -> Event {
    Event::Unticked { label: label.into(), why: String::new() }
}

/// Adding one record after the other gives the same job as folding all of them, after every record.
#[test]
fn one_by_one_is_the_same_as_all_at_once() {
    let all = records(&every_kind());
    let mut step = Job::fold(short_header(), vec![]);
    for n in 0..all.len() {
        step = step.and(all[n].clone());
        assert_eq!(step, Job::fold(short_header(), all[..=n].to_vec()), "after record {}", n + 1);
    }
}

#[test]
fn passes_may_be_ticked_in_any_order_and_are_kept_in_that_order() {
    let j = job(&[tick("J3a-1/1"), tick("clamp-1"), tick("J1a-1/1"), tick("turn-1"), tick("hold-1")]);
    assert_eq!(laid(&j), ["J3a-1/1", "clamp rear", "J1a-1/1", "turn deck down"]);
    assert_eq!(j.passes_done(), (2, 11));
    let p = j.progress();
    assert_eq!(p.welded, ["J3a-1/1", "J1a-1/1"]);
    assert_eq!(p.open.len(), 9);
    assert_eq!(
        (p.revision, p.clamps_on, p.setup.as_deref()),
        (1, vec!["rear".to_string()], Some("deck down"))
    );
}

#[test]
fn a_pass_laid_again_pulls_again() {
    let j = job(&[tick("J1a-1/1"), redo("J1a-1/1")]);
    assert_eq!(laid(&j), ["J1a-1/1", "J1a-1/1 again"]);
    assert_eq!(j.done["J1a-1/1"].times, 2);
    // The tick was a mistake: neither was laid.
    let j = job(&[tick("J1a-1/1"), redo("J1a-1/1"), untick("J1a-1/1")]);
    assert!(laid(&j).is_empty() && j.standing("J1a-1/1") == Standing::Open);
    assert_eq!(j.undone, [("J1a-1/1".to_string(), 3)]);
}

#[test]
fn a_seam_that_is_cut_open_must_be_welded_again_tacks_and_all() {
    let done = [tick("J1a-t1"), tick("J1a-1/1"), tick("J2a-1/1"), cut(Cut::Seam("J1a".into()))];
    let j = job(&done);
    assert_eq!(laid(&j), ["J1a-t1", "J1a-1/1", "J2a-1/1", "cut J1a"]);
    assert_eq!(j.standing("J1a-t1"), Standing::Open);
    let p = j.progress();
    assert_eq!((p.welded, p.tacked), (vec!["J2a-1/1".to_string()], vec![]));
    // Laid anew it counts from where it was laid the second time.
    let again: Vec<Event> = done.into_iter().chain([tick("J1a-1/1")]).collect();
    assert_eq!(job(&again).progress().welded, ["J2a-1/1", "J1a-1/1"]);
    // Taking back the second tick leaves the first pass where it was: laid and cut out.
    let back: Vec<Event> = again.into_iter().chain([untick("J1a-1/1")]).collect();
    assert_eq!(laid(&job(&back)), ["J1a-t1", "J1a-1/1", "J2a-1/1", "cut J1a"]);
}

#[test]
fn a_tack_ground_out_leaves_the_rest_of_its_seam() {
    let j = job(&[tick("J1a-t1"), tick("J1a-t2"), tick("J1a-1/1"), cut(Cut::Tack("J1a-t1".into()))]);
    assert_eq!(j.progress().tacked, ["J1a-t2"]);
    assert_eq!(j.progress().welded, ["J1a-1/1"]);
    let j = job(&[cut(Cut::Tack("J1a-t1".into()))]);
    assert!(j.deeds.is_empty() && j.remarks[0].contains("nothing was welded there"), "{:?}", j.remarks);
}

#[test]
fn the_direction_and_settings_as_welded_are_kept() {
    let used = UsedSettings { amps: Some(121.0), ..Default::default() };
    let e = Event::Ticked {
        label: "J1a-1/1".into(),
        when: Some(at(5)),
        settings: Some(used.clone()),
        reversed: true,
    };
    let j = job(&[e]);
    match &j.deeds[0].kind {
        DeedKind::Laid { forward, settings, .. } => {
            assert!(!forward);
            assert_eq!(settings.as_ref(), Some(&used));
        }
        other => panic!("{other:?}"),
    }
    assert_eq!(j.deeds[0].when, Some(at(5)));
}

/// Ten per cent more amps at twice the speed: 1.1/2 of the energy in half the time.
#[test]
fn other_settings_change_the_heat() {
    let used = UsedSettings { amps: Some(121.0), speed_mm_s: Some(12.0), ..Default::default() };
    let e = Event::Ticked {
        label: "J1a-1/1".into(),
        when: Some(at(40)),
        settings: Some(used.clone()),
        reversed: false,
    };
    let p = &pulses(&job(&[e]), at(100))[0];
    near(p.energy_j, 9000.0 * 1.1 / 2.0, 1e-9);
    near(p.arc_s, 2.5, 1e-12);
    near(p.ended_s_ago, 60.0, 1e-9);
    assert!(p.time_known && p.joint == "J1");
    near(used.heat_factor(19.0, 110.0, 6.0, 5.0), 0.55, 1e-12);
}

#[test]
fn unknown_times_are_taken_as_late_as_they_can_be() {
    // Records are written at 0, 10 and 20 s.
    let known = Event::tick("J2a-1/1", Some(at(4)));
    let p = pulses(&job(&[tick("J1a-1/1"), tick("J1a-2/1"), known, tick("J3a-1/1")]), at(100));
    let ago: Vec<f64> = p.iter().map(|p| p.ended_s_ago).collect();
    // Written at 0; written at 10 but laid before the one at 4; known; written at 30.
    assert_eq!(ago, [100.0, 96.0, 96.0, 70.0]);
    assert_eq!(p.iter().map(|p| p.time_known).collect::<Vec<_>>(), [false, false, true, false]);
}

#[test]
fn readings_know_what_was_done_before_them() {
    let j = job(&[
        measured("width", 600.4, 0.5),
        tick("J1a-1/1"),
        measured("width", 604.0, 0.5),
        measured("width", 601.0, 0.5),
        measured("width", 601.5, 0.5),
        tick("J2a-1/1"),
        measured("lean", 89.8, 0.1),
    ]);
    let r = &j.readings;
    assert_eq!(r.iter().map(|r| r.after).collect::<Vec<_>>(), [0, 1, 1, 1, 2]);
    // The blunder (604) was read again: 601.0 does not agree with it, 601.5 agrees with 601.0.
    assert_eq!(r.iter().map(|r| r.replaced).collect::<Vec<_>>(), [false, true, true, false, false]);
    assert_eq!(r.iter().map(|r| r.confirmed).collect::<Vec<_>>(), [false, false, false, true, false]);
    near(r[4].deviation, -0.2, 1e-12);
    let counted: Vec<u64> = j.progress().readings.iter().map(|r| r.n).collect();
    assert_eq!(counted, [1, 5, 7]);
}

#[test]
fn a_withdrawn_reading_no_longer_counts() {
    let j = job(&[measured("width", 604.0, 0.5), Event::Withdrawn { n: 1 }, measured("width", 600.5, 0.5)]);
    assert_eq!(j.readings.len(), 1);
    assert_eq!(j.records.len(), 3);
}

#[test]
fn taking_back_a_tick_moves_the_readings_after_it() {
    let j = job(&[tick("J1a-1/1"), tick("J2a-1/1"), measured("width", 600.5, 0.5), untick("J1a-1/1")]);
    assert_eq!(j.readings[0].after, 1);
}

fn replan(keep: impl Fn(&Item) -> bool, revision: u32) -> Event {
    let mut card = header().card;
    card.revision = revision;
    card.plan_id = format!("R{revision}");
    card.items.retain(|i| keep(i));
    card.items.reverse();
    for (n, i) in card.items.iter_mut().enumerate() {
        i.number = n + 1;
        if !i.is_weld() {
            i.label = format!("r{revision}-{}", i.label);
        }
    }
    Event::Replanned { card, plan: "{}".into(), why: String::new() }
}

#[test]
fn a_replan_changes_numbers_but_not_labels_and_leaves_what_is_done() {
    let first = [tick("J1a-1/1"), Event::Skipped { label: "J2a-1/1".into(), why: String::new() }];
    let j = job(&first);
    let new = replan(|i| i.is_pass() && i.label != "J1a-1/1", 1);
    assert!(j.check(&new, at(0)).is_ok());
    let j = job(&[first[0].clone(), first[1].clone(), new]);
    assert_eq!((j.revision(), j.card().plan_id.as_str(), j.cards.len()), (1, "R1", 2));
    assert_eq!(j.open()[0].label, "J3a-3/1");
    assert_eq!(j.standing("J1a-1/1"), Standing::Done);
    assert_eq!(j.standing("J2a-1/1"), Standing::Open, "a skip was a wish about the old sheet");
    assert_eq!(j.passes_done(), (1, 11));
    assert_eq!(holdtrue::job::parse_ticks(&j, "1").unwrap().labels, ["J3a-3/1"]);
    // Cut out after the re-plan: on no sheet in force, but not forgotten.
    let cut_out = cut(Cut::Seam("J1a".into()));
    assert!(j.check(&cut_out, at(0)).is_ok());
    let n = j.records.len() as u64 + 1;
    let j =
        j.and(holdtrue::job::Record { n, at: at(99), by: String::new(), id: String::new(), event: cut_out });
    assert_eq!(j.lost().map(|i| i.label.as_str()).collect::<Vec<_>>(), ["J1a-1/1"]);
    assert_eq!(j.open().last().unwrap().label, "J1a-1/1");
    assert!(j.progress().open.contains(&"J1a-1/1".to_string()));
}

#[test]
fn a_replan_that_forgets_a_pass_or_comes_too_late_is_refused() {
    let j = job(&[tick("J1a-1/1")]);
    let r = j.check(&replan(|i| i.is_pass() && i.label != "J2a-1/1", 1), at(0)).unwrap_err();
    assert_eq!(r.what, "the new plan leaves out J2a-1/1, which is not welded");
    let r = j.check(&replan(Item::is_pass, 2), at(0)).unwrap_err();
    assert!(r.what.contains("revision 0 is in force"), "{}", r.what);
}

#[test]
fn a_clock_that_goes_back_is_mentioned_and_loses_nothing() {
    let mut all = records(&[tick("J1a-1/1"), tick("J2a-1/1"), tick("J3a-1/1")]);
    all[1].at = at(-86_400);
    let j = Job::fold(header(), all);
    assert_eq!(j.progress().welded.len(), 3);
    assert!(j.remarks[0].contains("the clock went back between records 1 and 2"), "{:?}", j.remarks);
}

#[test]
fn a_finished_job_takes_no_more_ticks_until_the_finish_is_taken_back() {
    let events = [tick("J1a-1/1"), Event::Finished { why: String::new() }];
    let j = job(&events);
    assert!(j.check(&tick("J2a-1/1"), at(0)).unwrap_err().help.unwrap().contains("undo"));
    assert!(next(&j, &|_| 0.0).now.is_none());
    let back = holdtrue::job::undo(&j).unwrap();
    assert_eq!(back, Event::Withdrawn { n: 2 });
    assert!(job(&[events[0].clone(), events[1].clone(), back]).check(&tick("J2a-1/1"), at(0)).is_ok());
}

/// Everything up to the first pass.
fn ready() -> Vec<Event> {
    ["clamp-1", "open-rail", "J1a-t1", "J1a-t2", "hold-1"].map(tick).to_vec()
}

#[test]
fn next_is_the_next_line_of_the_sheet() {
    let j = job(&[]);
    let n = next(&j, &|_| 0.0);
    assert_eq!(n.now.unwrap().label, "clamp-1");
    assert_eq!(
        n.then.iter().map(|i| i.label.as_str()).collect::<Vec<_>>(),
        ["open-rail", "J1a-t1", "J1a-t2", "hold-1"]
    );
    assert!(n.ready.is_empty(), "no pass before the vent is open");
}

#[test]
fn a_warm_joint_gives_way_to_a_cool_one() {
    let j = job(&ready());
    let warm = |i: &Item| if i.joint() == Some("J1") { 6.5 } else { 0.0 };
    let n = next(&j, &warm);
    assert_eq!(n.now.unwrap().label, "J2a-1/1");
    assert_eq!(n.held_up.map(|(i, m)| (i.label.as_str(), m)), Some(("J1a-1/1", 6.5)));
    // J2a-1/2 lies on J2a-1/1 and is not ready; nothing after the turn is.
    let ready: Vec<(&str, f64)> = n.ready.iter().map(|r| (r.item.label.as_str(), r.minutes)).collect();
    assert_eq!(ready, [("J1a-1/1", 6.5), ("J2a-1/1", 0.0), ("J1a-2/1", 6.5), ("J3a-1/1", 0.0)]);
    // Nothing cool: the first line stays, with its wait.
    let n = next(&j, &|_| 3.0);
    assert_eq!(n.now.unwrap().label, "J1a-1/1");
    assert!(n.why.contains("nothing is cool enough: J1a-1/1 in 3 min"), "{}", n.why);
}

#[test]
fn a_wait_is_over_when_the_joint_is_cool_and_needs_no_tick() {
    let mut events = ready();
    events.extend(["J1a-1/1", "J2a-1/1", "J1a-2/1"].map(tick));
    let j = job(&events);
    assert_eq!(next(&j, &|_| 0.0).now.unwrap().label, "J2a-1/2");
    let warm = |i: &Item| if i.joint() == Some("J2") { 2.0 } else { 0.0 };
    let n = next(&j, &warm);
    assert_eq!(n.now.unwrap().label, "J3a-1/1", "the wait is used for another joint");
    let all_warm = next(&j, &|_| 2.0);
    assert!(matches!(all_warm.now.unwrap().task, Task::Wait { .. }));
}

#[test]
fn skipped_lines_come_back_at_the_end_and_nothing_is_left_when_all_is_done() {
    let mut events: Vec<Event> = vec![];
    for i in &header().card.items {
        events.push(if i.label == "J1a-1/1" {
            Event::Skipped { label: i.label.clone(), why: "in the way".into() }
        } else {
            tick(&i.label)
        });
    }
    let j = job(&events);
    let n = next(&j, &|_| 0.0);
    assert_eq!((n.now.unwrap().label.as_str(), n.why.as_str()), ("J1a-1/1", "it was skipped before"));
    events.push(tick("J1a-1/1"));
    assert!(next(&job(&events), &|_| 0.0).now.is_none());
}

#[test]
fn a_frame_file_that_was_changed_is_mentioned() {
    let h = header();
    assert_eq!(h.differs_from(&h.frame), None);
    assert!(
        h.differs_from("other").unwrap().starts_with("Lasten rad.toml has been changed since this job began")
    );
}

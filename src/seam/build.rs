//! One meet becomes one seam: curves, clock, lines, segments.

use super::clock::Clock;
use super::line::Run;
use super::position::position;
use super::split::{Limits, cornered};
use super::{Line, Seam, Segment};
use crate::frame::Frame;
use crate::joint::contact::{Contact, Owner, Patch, Trims};
use crate::joint::curve::{branch_end, curves};
use crate::joint::find::{contacts, trims};
use crate::joint::place::{axes, half_mm, is_plate, length, shape, wall_mm};
use crate::joint::symmetry::side_of;
use crate::joint::{Joints, Meet, MeetKind};
use glam::DVec3;

/// All seams, in the order of the meets.
pub(super) fn all(frame: &Frame, joints: &Joints) -> Vec<Seam> {
    let trims = trims(frame, &joints.meets);
    (0..joints.meets.len()).map(|i| seam(frame, joints, i, &trims)).collect()
}

/// A piece of a run that is welded as one line: arc lengths on the run, and where it is cut.
struct Stretch {
    run: usize,
    from: f64,
    to: f64,
    /// Cuts as arc lengths on the run, `from` and `to` included.
    cuts: Vec<f64>,
}

fn seam(frame: &Frame, joints: &Joints, index: usize, trims: &Trims) -> Seam {
    let meet = &joints.meets[index];
    let joint = &joints.joints[meet.joint];
    let contacts = contacts(frame, meet, trims);
    let runs: Vec<Run> = curves(frame, meet, &contacts).into_iter().map(Run::new).collect();
    let clock = clock(frame, meet, &contacts);
    let limits = Limits { max: frame.rules.max_segment_mm, min: frame.rules.min_segment_mm };
    let (stretches, closed) = stretches(&runs, &clock, limits, &meet.open);
    let fillet = !matches!(meet.kind, MeetKind::Butt | MeetKind::Mitre);
    let lines: Vec<Line> = stretches.iter().map(|s| runs[s.run].sample(s.from, s.to)).collect();
    let mut segments = Vec::new();
    for (line, stretch) in stretches.iter().enumerate() {
        let run = &runs[stretch.run];
        for cut in stretch.cuts.windows(2) {
            let mid = run.point(0.5 * (cut[0] + cut[1]));
            let name = |s: f64| match meet.kind {
                MeetKind::Along => {
                    format!("{} {:.0}", ["left", "right"][stretch.run.min(1)], s - stretch.from)
                }
                _ => clock.name(run.point(s).at),
            };
            segments.push(Segment {
                line,
                from_mm: cut[0] - stretch.from,
                to_mm: cut[1] - stretch.from,
                mid,
                clock_from: name(cut[0]),
                clock_to: name(cut[1]),
                partner: None,
                positions: frame.setups.iter().map(|s| position(&mid, fillet, s.up)).collect(),
                side: side_of(joints.symmetry, mid.at),
            });
        }
    }
    partners(&mut segments, &runs, &stretches, closed, &clock);
    let length_mm: f64 = lines.iter().map(Line::length_mm).sum();
    let weight = segments.iter().map(|s| s.mid.at * s.length_mm()).sum::<DVec3>();
    Seam {
        name: format!("{}{}", joint.name, letters(index - joint.meets[0])),
        joint: meet.joint,
        kind: meet.kind,
        angle_deg: angle_deg(frame, meet),
        centre: if length_mm > 0.0 { weight / length_mm } else { clock.centre },
        closed,
        length_mm,
        unwelded: unwelded(frame, meet, &contacts, &runs, length_mm),
        segments,
        clock_up: clock.up,
        clock_axis: clock.axis,
        clock_centre: clock.centre,
        walls_mm: [meet.branch.0, meet.carriers[0].0].map(|t| wall_mm(shape(frame, t))),
        fillet,
        lines,
    }
}

/// a, b … z, aa, ab …
fn letters(i: usize) -> String {
    let last = char::from(b'a' + (i % 26) as u8);
    if i < 26 { last.to_string() } else { format!("{}{last}", letters(i / 26 - 1)) }
}

fn clock(frame: &Frame, meet: &Meet, contacts: &[Contact]) -> Clock {
    let (centre, axis) = match (branch_end(frame, meet), contacts) {
        (Some((_, end)), _) => (end.at, -end.along),
        (None, [first, ..]) => (first.centre, -first.normal),
        (None, []) => {
            let a = axes(&frame.tubes[meet.branch.0], meet.branch.1);
            (a.at, -a.height)
        }
    };
    Clock::new(centre, axis, frame.up, frame.forward)
}

/// Which parts of the curves are welded, and where they are cut. The second is true if the whole is
/// one closed line.
fn stretches(runs: &[Run], clock: &Clock, limits: Limits, open: &[(f64, f64)]) -> (Vec<Stretch>, bool) {
    let one_closed = runs.len() == 1 && runs[0].curve.closed;
    if one_closed {
        let run = &runs[0];
        let whole = run.length();
        let left = left_open(run, clock, open);
        if left.is_empty() {
            let cuts = closed_cuts(run, clock, limits);
            return (vec![Stretch { run: 0, from: cuts[0], to: cuts[0] + whole, cuts }], true);
        }
        let welded = between(&left, whole);
        return (
            welded.into_iter().map(|(from, to)| even(0, from, to, limits.pieces(to - from))).collect(),
            false,
        );
    }
    let pieces = |i: usize| {
        let pair = runs[i].curve.opposite.map_or(0.0, |o| runs[o].length());
        limits.pieces(runs[i].length().max(pair))
    };
    ((0..runs.len()).map(|i| even(i, 0.0, runs[i].length(), pieces(i))).collect(), false)
}

fn even(run: usize, from: f64, to: f64, n: usize) -> Stretch {
    let cuts = (0..=n).map(|i| if i == n { to } else { from + (to - from) * i as f64 / n as f64 }).collect();
    Stretch { run, from, to, cuts }
}

/// Cuts of a whole closed line, starting with the one nearest to 12 o'clock; the first comes again at
/// the end, one length on.
fn closed_cuts(run: &Run, clock: &Clock, limits: Limits) -> Vec<f64> {
    let whole = run.length();
    let corners = run.corners();
    let mut cuts: Vec<f64> = match <[f64; 4]>::try_from(corners) {
        Ok(corners) => {
            let off_twelve = |s: f64| {
                let t = clock.turn(run.point(s).at);
                t.min(1.0 - t)
            };
            let cuts = cornered(corners, whole, limits);
            // of two cuts equally near to 12 (within rounding) the one before it
            let nearest = cuts.iter().map(|s| off_twelve(*s)).fold(f64::INFINITY, f64::min);
            let first = (0..cuts.len())
                .filter(|i| off_twelve(cuts[*i]) < nearest + 1e-6)
                .max_by_key(|i| (clock.turn(run.point(cuts[*i]).at) * 1e6).round() as i64 % 1_000_000)
                .expect("a closed line has cuts");
            (0..cuts.len())
                .map(|i| cuts[(first + i) % cuts.len()] + if first + i >= cuts.len() { whole } else { 0.0 })
                .collect()
        }
        Err(_) => {
            let start = at_turn(run, clock, 0.0);
            let n = limits.even_pieces(whole);
            (0..n).map(|i| start + whole * i as f64 / n as f64).collect()
        }
    };
    cuts.push(cuts[0] + whole);
    cuts
}

/// Arc length at which a closed line passes a given turn of the clock (the line runs clockwise).
fn at_turn(run: &Run, clock: &Clock, turn: f64) -> f64 {
    const STEPS: usize = 32;
    for piece in 0..run.curve.pieces.len() {
        let ahead = |u: f64| (clock.turn(run.curve.place(piece, u).at) - turn + 0.5).rem_euclid(1.0) - 0.5;
        for i in 0..STEPS {
            let (mut low, mut high) = (i as f64 / STEPS as f64, (i + 1) as f64 / STEPS as f64);
            let (a, b) = (ahead(low), ahead(high));
            if a.abs() < 1e-12 {
                return run.starts[piece] + run.curve.length(piece, 0.0, low);
            }
            if a < 0.0 && (0.0..0.25).contains(&b) {
                for _ in 0..60 {
                    let mid = 0.5 * (low + high);
                    if ahead(mid) < 0.0 { low = mid } else { high = mid }
                }
                return run.starts[piece] + run.curve.length(piece, 0.0, 0.5 * (low + high));
            }
        }
    }
    0.0
}

/// Parts of a closed line that stay open, as (from, to) arc lengths, `to` maybe past the start;
/// ascending and apart.
fn left_open(run: &Run, clock: &Clock, open: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let whole = run.length();
    let mut parts: Vec<(f64, f64)> = open
        .iter()
        .map(|(a, b)| [a, b].map(|hour| at_turn(run, clock, (hour / 12.0).rem_euclid(1.0))))
        .map(|[a, b]| (a, if b > a { b } else { b + whole }))
        .collect();
    parts.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut apart: Vec<(f64, f64)> = Vec::new();
    for p in parts {
        match apart.last_mut() {
            Some(last) if p.0 <= last.1 => last.1 = last.1.max(p.1),
            _ => apart.push(p),
        }
    }
    // the last may run over the start into the first
    while apart.len() > 1 && apart[apart.len() - 1].1 - whole >= apart[0].0 {
        let first = apart.remove(0);
        let last = apart.len() - 1;
        apart[last].1 = apart[last].1.max(first.1 + whole);
    }
    apart
}

/// What lies between the open parts.
fn between(open: &[(f64, f64)], whole: f64) -> Vec<(f64, f64)> {
    let n = open.len();
    (0..n)
        .map(|i| (open[i].1, if i + 1 < n { open[i + 1].0 } else { open[0].0 + whole }))
        .filter(|(a, b)| b - a > 1e-6)
        .collect()
}

/// Opposite segments: half round a closed line; on lines that come in pairs the nearest place of the
/// other line; on a closed line with open parts the one across, if there is one.
fn partners(segments: &mut [Segment], runs: &[Run], stretches: &[Stretch], closed: bool, clock: &Clock) {
    let n = segments.len();
    if closed {
        for (i, s) in segments.iter_mut().enumerate() {
            s.partner = Some((i + n / 2) % n);
        }
        return;
    }
    let mids: Vec<DVec3> = segments.iter().map(|s| s.mid.at).collect();
    let lines: Vec<usize> = segments.iter().map(|s| s.line).collect();
    let nearest = |i: usize, to: DVec3, allowed: &dyn Fn(usize) -> bool| {
        (0..n)
            .filter(|k| *k != i && allowed(*k))
            .map(|k| (mids[k].distance(to), k))
            .min_by(|a, b| (a.0, a.1).partial_cmp(&(b.0, b.1)).expect("distances are finite"))
    };
    let found: Vec<Option<usize>> = (0..n)
        .map(|i| {
            let run = stretches[lines[i]].run;
            if let Some(other) = runs[run].curve.opposite {
                return nearest(i, mids[i], &|k| stretches[lines[k]].run == other).map(|(_, k)| k);
            }
            let across = clock.centre * 2.0 - mids[i];
            let across = across + clock.axis * (mids[i] - across).dot(clock.axis);
            runs[run].curve.closed.then(|| nearest(i, across, &|_| true)).flatten().and_then(|(_, k)| {
                let turn = (clock.turn(mids[k]) - clock.turn(mids[i])).rem_euclid(1.0);
                ((turn - 0.5).abs() < 1.0 / 12.0).then_some(k)
            })
        })
        .collect();
    for (i, s) in segments.iter_mut().enumerate() {
        s.partner = found[i].filter(|k| found[*k] == Some(i));
    }
}

/// Angle between branch and carrier, degrees; for a plate as carrier the angle to its face.
fn angle_deg(frame: &Frame, meet: &Meet) -> f64 {
    let a = axes(&frame.tubes[meet.branch.0], meet.branch.1);
    let (carrier, s, _) = meet.carriers[0];
    let c = axes(&frame.tubes[carrier], s);
    if is_plate(&frame.tubes[carrier]) {
        return a.along.dot(c.height).abs().min(1.0).asin().to_degrees();
    }
    a.along.cross(c.along).length().atan2(a.along.dot(c.along).abs()).to_degrees()
}

fn unwelded(frame: &Frame, meet: &Meet, contacts: &[Contact], runs: &[Run], welded: f64) -> Vec<String> {
    let mut out = Vec::new();
    let whole: f64 = runs.iter().map(Run::length).sum();
    if whole - welded > 0.05 {
        let hours = meet.open.iter().map(|(a, b)| format!("{} to {}", hour(*a), hour(*b)));
        out.push(format!(
            "left open as wished, {}: {:.0} mm",
            hours.collect::<Vec<_>>().join(" and "),
            whole - welded
        ));
    }
    if let (MeetKind::Pad, Some(Contact { patch: Patch::Flat(corners), .. })) = (meet.kind, contacts.first())
    {
        let plate = &frame.tubes[meet.branch.0];
        let carrier = &frame.tubes[meet.carriers[0].0].name;
        let width = 2.0 * half_mm(shape(frame, meet.branch.0))[1];
        let outline = 2.0 * (length(plate) + width);
        let edges = (0..corners.len())
            .map(|i| (corners[i].0.distance(corners[(i + 1) % corners.len()].0), corners[i].1));
        let on_face: f64 = edges.filter(|e| e.1 != Owner::Carrier).map(|e| e.0).sum();
        if outline - on_face > 0.5 {
            out.push(format!("{:.0} mm of its outline stand over \"{carrier}\"", outline - on_face));
        }
    }
    out
}

fn hour(h: f64) -> String {
    let minutes = (h * 60.0).round() as i64;
    format!("{}:{:02}", minutes / 60, minutes % 60)
}

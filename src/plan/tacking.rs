//! The tack half worked out: what each tack holds and what can still swing, waits, the gap at which it
//! sets, what tacking pulls.

use super::judge::{Judge, as_laid};
use crate::distort::{ControlPull, Event, Freedom, Level, Tack};
use crate::fault::Fault;
use crate::frame::Frame;
use crate::heat::Clock;
use crate::joint::Joints;
use crate::seam::Seams;
use crate::tack::{self, TackNumbers, Tacks};

/// The tack half of a plan.
#[derive(Debug, Clone, Default)]
pub struct Tacking {
    /// The defaults in use.
    pub numbers: Vec<TackNumbers>,
    /// For each tack in order of work: what it holds and what can still move, in words; empty where
    /// everything it joins was held before.
    pub notes: Vec<String>,
    /// Wait before each tack, s.
    pub wait_s: Vec<f64>,
    /// How far the parts have moved apart where each tack sets, mm; empty without a pull model.
    pub opening_mm: Vec<f64>,
    /// The controls after the last tack, cold and free; empty without a pull model.
    pub pull: Vec<ControlPull>,
    /// From the first tack to the last, s.
    pub end_s: f64,
}

/// Seconds from one tack to the next on the same joint: to the other side and down with the helmet
/// (assumption).
const OTHER_SIDE_S: f64 = 5.0;
/// A tack that lies nearer than this to a hinge's line lies on it, mm.
const ON_LINE_MM: f64 = 3.0;

/// Work it out. `pull` are the controls as tacked.
///
/// # Errors
/// A tube that comes loose.
pub(super) fn tacking(judge: &Judge, tacks: &Tacks, pull: Vec<ControlPull>) -> Result<Tacking, Fault> {
    let (frame, parts) = (judge.frame, judge.parts);
    let (wait_s, end_s) = waits(judge, tacks);
    let laid = as_laid(tacks);
    let mut out = Tacking {
        numbers: tack::numbers(frame, &parts.joints, &parts.seams, &parts.passes, tacks),
        notes: vec![String::new(); tacks.tacks.len()],
        wait_s,
        opening_mm: vec![],
        pull,
        end_s,
    };
    if let Some(model) = &judge.model {
        out.notes = notes(frame, &parts.joints, &parts.seams, tacks, &model.freedoms(&laid));
        if let Some((first, rest)) = laid.split_first() {
            let mut begun = model.begin(&[Event::Tack(*first)], Level::Fine)?;
            out.opening_mm.push(0.0);
            for t in rest {
                out.opening_mm.push(begun.opening_mm(t));
                begun.go_on(&[Event::Tack(*t)])?;
            }
        }
    }
    Ok(out)
}

/// Wait before each tack so that its joint is under the interpass limit of its seam, s, and the whole
/// time, s: the heat of tacks in the same network as that of passes, each at the pass it lies nearest
/// to.
fn waits(judge: &Judge, tacks: &Tacks) -> (Vec<f64>, f64) {
    let (parts, shop) = (judge.parts, &judge.frame.shop);
    let passes = &parts.passes;
    let mut clock = Clock::new(&judge.kernels);
    let mut now_s = 0.0;
    let mut last = None;
    let mut waits = Vec::new();
    for t in &tacks.tacks {
        let joint = parts.seams.seams[t.seam].joint;
        match last {
            Some(j) if j == joint => now_s += OTHER_SIDE_S,
            Some(_) => now_s += shop.move_s,
            None => {}
        }
        last = Some(joint);
        let seam = &parts.seams.seams[t.seam];
        let far = |p: usize| {
            let g = &seam.segments[passes.passes[p].segment];
            let apart = (0.5 * (g.from_mm + g.to_mm) - t.at_mm).abs();
            if g.line != t.line {
                f64::INFINITY
            } else if seam.closed {
                apart.min((seam.length_mm - apart).abs())
            } else {
                apart
            }
        };
        let of = (0..passes.passes.len())
            .filter(|&p| passes.passes[p].seam == t.seam && passes.passes[p].layer == 0);
        let Some(pass) = of.min_by(|&a, &b| far(a).total_cmp(&far(b))) else {
            waits.push(0.0);
            continue;
        };
        let limit_c = passes.settings[passes.passes[pass].settings].interpass_c;
        let wait_s = clock.wait_under(pass, now_s, limit_c);
        let wait_s = if wait_s.is_finite() { wait_s } else { 0.0 };
        now_s += wait_s;
        let (arc_s, heat_j) = tack::work(passes, t);
        clock.put(pass, now_s, arc_s, heat_j);
        now_s += arc_s;
        waits.push(wait_s);
    }
    (waits, now_s)
}

/// What each tack holds, in words.
fn notes(frame: &Frame, joints: &Joints, seams: &Seams, tacks: &Tacks, free: &[Vec<Freedom>]) -> Vec<String> {
    let label = |t: &tack::Tack| format!("{}-t{}", seams.seams[t.seam].name, t.number);
    let place = |t: &tack::Tack| {
        let line = &seams.seams[t.seam].lines[t.line];
        let i = line.s.partition_point(|s| *s < t.at_mm).min(line.samples.len() - 1);
        line.samples[i].at
    };
    (0..tacks.tacks.len())
        .map(|i| {
            let (before, after) = (&free[i], &free[i + 1]);
            let m = &joints.meets[tacks.tacks[i].seam];
            let own: Vec<usize> = std::iter::once(m.branch.0).chain(m.carriers.iter().map(|c| c.0)).collect();
            let on = |tube: usize| {
                let mut list: Vec<&tack::Tack> = tacks.tacks[..=i]
                    .iter()
                    .filter(|t| {
                        let m = &joints.meets[t.seam];
                        m.branch.0 == tube || m.carriers.iter().any(|c| c.0 == tube)
                    })
                    .collect();
                list.reverse();
                list
            };
            let mut held: Vec<&str> = Vec::new();
            let mut words: Vec<String> = Vec::new();
            for tube in 0..frame.tubes.len() {
                let name = frame.tubes[tube].name.as_str();
                if before[tube].ways == after[tube].ways {
                    // One more tack, and still on the same line: the tube it joins is no better held.
                    if own[0] == tube && after[tube].ways > 0 && on(tube).len() > 1 {
                        words.push(format!("{name} can still move as before"));
                    }
                    continue;
                }
                match (after[tube].ways, after[tube].hinge) {
                    (0, _) => held.push(name),
                    _ if !own.contains(&tube) => {}
                    (1, Some((at, along))) => {
                        let through: Vec<String> = on(tube)
                            .into_iter()
                            .filter(|t| (place(t) - at).cross(along).length() < ON_LINE_MM)
                            .take(2)
                            .map(label)
                            .collect();
                        words.push(match &through[..] {
                            [b, a] => format!("{name} still hinges about the line through {a} and {b}"),
                            [a] => format!("{name} still hinges about a line through {a}"),
                            _ => format!("{name} still hinges"),
                        });
                    }
                    (1, None) => words.push(format!("{name} can still slide")),
                    _ => words.push(match on(tube)[..] {
                        [t] => format!("{name} still swings about {}: hold it until the next", label(t)),
                        _ => format!("{name} can still swing: hold it"),
                    }),
                }
            }
            match held.len() {
                0 => {}
                1 => words.push(format!("{} is held now", held[0])),
                n => words.push(format!("{} and {} are held now", held[..n - 1].join(", "), held[n - 1])),
            }
            words.join("; ")
        })
        .collect()
}

/// Tacks as the pull model takes them, for tests and callers outside.
pub fn laid(tacks: &Tacks) -> Vec<Tack> {
    as_laid(tacks)
}

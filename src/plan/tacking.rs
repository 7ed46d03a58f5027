//! The tack half worked out: what each tack holds and what can still swing, waits, the gap at which it
//! sets, what tacking pulls.

use super::judge::{Judge, as_laid};
use crate::distort::{ControlPull, Event, Freedom, Level, Tack};
use crate::fault::Fault;
use crate::frame::Frame;
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
        // What an earlier stage, or the job so far, has tacked holds already.
        let before: Vec<Event> = judge.underway.map_or(vec![], |u| u.events.clone());
        let earlier: Vec<Tack> = before
            .iter()
            .filter_map(|e| match e {
                Event::Tack(t) => Some(*t),
                _ => None,
            })
            .collect();
        let all: Vec<Tack> = earlier.iter().chain(&laid).copied().collect();
        let free = model.freedoms(&all);
        out.notes = notes(frame, &parts.joints, &parts.seams, tacks, &free[earlier.len()..]);
        if let Some((first, rest)) = laid.split_first() {
            let mut begun = match before.is_empty() {
                true => {
                    out.opening_mm.push(0.0);
                    model.begin(&[Event::Tack(*first)], Level::Fine)?
                }
                false => {
                    let mut begun = model.begin(&before, Level::Fine)?;
                    out.opening_mm.push(begun.opening_mm(first));
                    begun.go_on(&[Event::Tack(*first)])?;
                    begun
                }
            };
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
    let mut clock = judge.clock();
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

/// What each tack holds, in words: first of the tube that the tack joins, then of all that it holds.
fn notes(frame: &Frame, joints: &Joints, seams: &Seams, tacks: &Tacks, free: &[Vec<Freedom>]) -> Vec<String> {
    let label = |t: &tack::Tack| format!("{}-t{}", seams.seams[t.seam].name, t.number);
    let place = |t: &tack::Tack| seams.seams[t.seam].point(t.line, t.at_mm).at;
    let touches = |t: &tack::Tack, tube: usize| {
        let m = &joints.meets[t.seam];
        m.branch.0 == tube || m.carriers.iter().any(|c| c.0 == tube)
    };
    (0..tacks.tacks.len())
        .map(|i| {
            let tack = &tacks.tacks[i];
            let (before, after) = (&free[i], &free[i + 1]);
            let m = &joints.meets[tack.seam];
            let mut words: Vec<String> = Vec::new();
            // The looser of the two parts is the one in the hand.
            let own = std::iter::once(m.branch.0).chain(m.carriers.iter().map(|c| c.0));
            let hand =
                own.clone().fold(m.branch.0, |a, b| if before[b].ways > before[a].ways { b } else { a });
            let name = &frame.tubes[hand].name;
            let here: Vec<&tack::Tack> = tacks.tacks[..=i].iter().filter(|t| t.seam == tack.seam).collect();
            if after[hand].ways > 0 && here.len() < 3 {
                let on = tacks.tacks[..=i].iter().filter(|t| touches(t, hand));
                let line = after[hand].hinge.map(|(at, along)| {
                    on.filter(|t| (place(t) - at).cross(along).length() < ON_LINE_MM).collect::<Vec<_>>()
                });
                let about = match (&line, &here[..]) {
                    (Some(l), _) if l.len() >= 2 => Some((label(l[0]), label(l[l.len() - 1]))),
                    // What it is joined to moves too; against that it hinges.
                    (_, [a, b]) if line.is_none() => Some((label(a), label(b))),
                    _ => None,
                };
                words.push(match (about, &here[..]) {
                    (Some((a, b)), _) => format!("{name} still hinges about the line through {a} and {b}"),
                    (None, [one]) if line.is_none() => {
                        format!("{name} still swings about {}: hold it until the next", label(one))
                    }
                    _ => format!("{name} can still turn about one line"),
                });
                let loose = own.clone().find(|&t| t != hand && after[t].ways > 0);
                if let Some(t) = loose {
                    words.push(format!("{} it hangs on is not held yet", frame.tubes[t].name));
                }
            }
            let held: Vec<&str> = (0..frame.tubes.len())
                .filter(|&t| before[t].ways > 0 && after[t].ways == 0)
                .map(|t| frame.tubes[t].name.as_str())
                .collect();
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

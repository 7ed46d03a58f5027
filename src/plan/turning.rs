//! No turning before every joint holds: checked on the finished plan.
//!
//! All tacks are laid, and every joint that can be welded as the frame lies has one opposite pair
//! welded in its first layer (or all of a seam that has no opposite segments).

use super::{Act, WeldPlan};

/// What is wrong, in words; empty if the rule holds. `lying`: this is a further stage of the build, it
/// begins in this setup and counts anew.
pub fn too_early(plan: &WeldPlan, lying: Option<usize>) -> Vec<String> {
    let Some(turn) = plan.lines.iter().position(|l| matches!(l.act, Act::Turn { .. })) else { return vec![] };
    let mut found = Vec::new();
    // Of a frame built in stages, what is joined later does not count yet.
    let stage = plan.lines[turn..].iter().position(|l| matches!(l.act, Act::Stage { .. }));
    let end = stage.map_or(plan.lines.len(), |s| turn + s);
    if plan.lines[turn..end].iter().any(|l| matches!(l.act, Act::Tack { .. })) {
        found.push("the frame is turned before all tacks are laid".to_string());
    }
    let welded: Vec<usize> = plan.lines[..turn]
        .iter()
        .filter_map(|l| if let Act::Pass { pass, .. } = l.act { Some(pass) } else { None })
        .collect();
    // Passes without a line were welded before this revision.
    let on_sheet = |p: usize| {
        plan.lines.iter().any(|l| if let Act::Pass { pass, .. } = l.act { pass == p } else { false })
    };
    let before: Vec<usize> = plan.weld_order().filter(|&p| !on_sheet(p)).collect();
    let done = plan.order.steps.iter().take_while(|s| s.passes.iter().all(|l| before.contains(&l.pass)));
    let mut lay = done.map(|s| s.setup);
    let first = lay.next();
    if lying.is_none() && lay.any(|s| Some(s) != first) {
        // The frame was turned already, rightly or wrongly.
        return found;
    }
    let welded: Vec<usize> = before.into_iter().chain(welded).collect();
    let setup = lying.unwrap_or_else(|| plan.order.steps.first().map_or(0, |s| s.setup));
    let later = |j: usize| {
        plan.lines[end..]
            .iter()
            .any(|l| matches!(l.act, Act::Tack { seam, .. } if plan.seams.seams[seam].joint == j))
    };
    for (j, joint) in plan.joints.joints.iter().enumerate().filter(|(j, _)| !later(*j)) {
        // Pairs of the first layer that could both be welded before the turn.
        let pairs: Vec<(usize, usize)> = plan
            .passes
            .passes
            .iter()
            .enumerate()
            .filter(|(_, p)| p.joint == j && p.layer == 0 && p.setups.contains(&setup))
            .filter_map(|(i, p)| Some((i, p.partner?)))
            .filter(|&(i, o)| i < o && plan.passes.passes[o].setups.contains(&setup))
            .collect();
        let holds = |&(a, b): &(usize, usize)| welded.contains(&a) && welded.contains(&b);
        if !pairs.is_empty() && !pairs.iter().any(holds) {
            found.push(format!("the frame is turned before an opposite pair holds at {}", joint.name));
        }
    }
    found
}

//! What a plan says about the hazards of its frame.

use super::safety::{self, Caution, SafetyFacts};
use crate::frame::Frame;
use crate::library::MaterialGroup;
use crate::plan::{Act, WeldPlan};
use crate::procedure::Passes;
use crate::seam::Seams;

/// The facts from which the cautions of a plan follow.
pub fn facts(plan: &WeldPlan) -> SafetyFacts {
    let f = &plan.frame;
    let spring = plan
        .lines
        .iter()
        .filter_map(|l| match l.act {
            Act::Release { clamp, force_n } if force_n > 0.0 => Some((force_n, f.clamps[clamp].name.clone())),
            _ => None,
        })
        .max_by(|a, b| a.0.total_cmp(&b.0));
    of_parts(f, &plan.seams, &plan.passes, spring, plan.turns() > 0)
}

/// The facts of a frame: `spring_force` is the largest that a clamp lets go, with its name; `turns`,
/// whether the frame is turned over.
pub fn of_parts(
    f: &Frame,
    seams: &Seams,
    passes: &Passes,
    spring_force: Option<(f64, String)>,
    turns: bool,
) -> SafetyFacts {
    let has = |g: MaterialGroup| f.materials.iter().any(|m| m.group == g);
    let coating = f.coating.as_deref().unwrap_or("").to_lowercase();
    let zinc = ["galvani", "zinc"].iter().any(|w| coating.contains(w));
    let preheat = passes.settings.iter().filter_map(|s| s.preheat_c).fold(f64::NEG_INFINITY, f64::max);
    SafetyFacts {
        sealed: seams.sealed.iter().map(|(t, _)| f.tubes[*t].name.clone()).collect(),
        galvanized: zinc,
        coated: !coating.is_empty() && !zinc,
        stainless: has(MaterialGroup::Stainless),
        chrome_moly: has(MaterialGroup::ChromeMoly),
        aluminium: has(MaterialGroup::Aluminium),
        preheat_c: preheat.is_finite().then_some(preheat),
        clamps: !f.clamps.is_empty(),
        spring_force,
        turns,
        several_welders: f.shop.welders > 1,
        carries_people: f.carries_people,
    }
}

/// The deferral first, then every caution of this plan.
pub fn all_cautions(plan: &WeldPlan) -> Vec<Caution> {
    std::iter::once(safety::deferral()).chain(safety::cautions(&facts(plan))).collect()
}

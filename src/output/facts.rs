//! What a plan says about the hazards of its frame.

use super::safety::{self, Caution, SafetyFacts};
use crate::library::MaterialGroup;
use crate::plan::{Act, WeldPlan};

/// The facts from which the cautions of a plan follow.
pub fn facts(plan: &WeldPlan) -> SafetyFacts {
    let f = &plan.frame;
    let has = |g: MaterialGroup| f.materials.iter().any(|m| m.group == g);
    let coating = f.coating.as_deref().unwrap_or("").to_lowercase();
    let zinc = ["galvani", "zinc"].iter().any(|w| coating.contains(w));
    let preheat = plan.passes.settings.iter().filter_map(|s| s.preheat_c).fold(f64::NEG_INFINITY, f64::max);
    let spring = plan
        .lines
        .iter()
        .filter_map(|l| match l.act {
            Act::Release { clamp, force_n } if force_n > 0.0 => Some((force_n, f.clamps[clamp].name.clone())),
            _ => None,
        })
        .max_by(|a, b| a.0.total_cmp(&b.0));
    SafetyFacts {
        sealed: plan.seams.sealed.iter().map(|(t, _)| f.tubes[*t].name.clone()).collect(),
        galvanized: zinc,
        coated: !coating.is_empty() && !zinc,
        stainless: has(MaterialGroup::Stainless),
        chrome_moly: has(MaterialGroup::ChromeMoly),
        aluminium: has(MaterialGroup::Aluminium),
        preheat_c: preheat.is_finite().then_some(preheat),
        clamps: !f.clamps.is_empty(),
        spring_force: spring,
        turns: plan.turns() > 0,
        several_welders: f.shop.welders > 1,
        carries_people: f.carries_people,
    }
}

/// The deferral first, then every caution of this plan.
pub fn all_cautions(plan: &WeldPlan) -> Vec<Caution> {
    std::iter::once(safety::deferral()).chain(safety::cautions(&facts(plan))).collect()
}

//! Why each pass stands where it stands, in a few plain words.

use super::plain::{Pin, Plain};
use super::{Order, Question};

/// One reason per pass, by pass index.
///
/// `joint_names` by joint. `hot_c(step, joint)`: the temperature of a joint at the start of a step if
/// it is over its limit then, °C. Passes are named by their labels, which never change.
pub fn reasons(
    q: &Question,
    order: &Order,
    joint_names: &[String],
    hot_c: &dyn Fn(usize, usize) -> Option<f64>,
) -> Vec<String> {
    let plain = Plain::new(q);
    let mut at = Walk { plain: &plain, order, step: vec![usize::MAX; q.passes.len()], diff_uj: 0 };
    let mut why = vec![String::new(); q.passes.len()];
    for (s, step) in order.steps.iter().enumerate() {
        for (i, l) in step.passes.iter().enumerate() {
            let beside = step.passes[..i].iter().map(|b| b.pass).next();
            why[l.pass] = at.reason(s, l.pass, beside, joint_names, hot_c);
        }
        for l in &step.passes {
            at.step[l.pass] = s;
            at.diff_uj += plain.sign[l.pass] * plain.energy_uj[l.pass];
        }
    }
    why
}

struct Walk<'a> {
    plain: &'a Plain<'a>,
    order: &'a Order,
    /// Step of each pass that is welded.
    step: Vec<usize>,
    diff_uj: i64,
}

impl Walk<'_> {
    fn reason(
        &self,
        s: usize,
        p: usize,
        beside: Option<usize>,
        names: &[String],
        hot_c: &dyn Fn(usize, usize) -> Option<f64>,
    ) -> String {
        let q = self.plain.q;
        let item = &q.passes[p];
        let steps = &self.order.steps;
        if s < q.done.len() {
            return "welded already".into();
        }
        match self.plain.pin[p] {
            Pin::First(_) => return "pinned first".into(),
            Pin::Last(_) => return "pinned last".into(),
            Pin::Free => {}
        }
        if let Some(o) = item.partner.filter(|&o| self.step[o] != usize::MAX) {
            return format!("opposite of {}", q.passes[o].label);
        }
        if let Some(b) = beside.filter(|&b| q.mirror[q.passes[b].joint] == Some(item.joint)) {
            return format!("mirrors {}, laid at the same time", q.passes[b].label);
        }
        let open: Vec<usize> = (0..q.passes.len())
            .filter(|&o| self.step[o] == usize::MAX && self.plain.fits(o, steps[s].setup))
            .collect();
        if open.iter().all(|&o| q.passes[o].joint == item.joint) {
            return format!("only {} is left in this setup", names[item.joint]);
        }
        let lag_kj = self.diff_uj.abs() as f64 * 1e-9;
        if self.plain.balance_on
            && self.plain.sign[p] * self.diff_uj < 0
            && self.diff_uj.abs() * 2 >= self.plain.energy_uj[p]
            && lag_kj >= 0.05
        {
            return format!("{} is {lag_kj:.1} kJ behind", item.side.word());
        }
        let hottest = open
            .iter()
            .map(|&o| q.passes[o].joint)
            .filter(|&j| j != item.joint)
            .filter_map(|j| hot_c(s, j).map(|c| (j, c)))
            .max_by(|a, b| a.1.total_cmp(&b.1));
        if let Some((j, c)) = hottest {
            return format!("{} still {c:.0} °C", names[j]);
        }
        if s > 0 && steps[s - 1].setup != steps[s].setup {
            return "first after the turn".into();
        }
        if let Some(b) = item.below {
            return format!("next layer on {}", q.passes[b].label);
        }
        if s > 0 {
            let near = |joint: usize| {
                let last = steps[s - 1].passes.iter();
                last.map(|b| self.plain.steel(q.passes[b.pass].joint, joint)).min().unwrap_or(i64::MAX)
            };
            let far = near(item.joint);
            if open.iter().all(|&o| near(q.passes[o].joint) <= far) {
                return "furthest from the last pass".into();
            }
        }
        let count = |joint: usize| open.iter().filter(|&&o| q.passes[o].joint == joint).count();
        if open.iter().all(|&o| count(q.passes[o].joint) <= count(item.joint)) {
            return format!("{} has most left to weld", names[item.joint]);
        }
        if s == 0 { "a first pass to begin with".into() } else { "keeps the pull small".into() }
    }
}

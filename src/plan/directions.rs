//! Which way round each pass is laid, where the procedure leaves it free.

use super::judge::{Judge, deviation};
use crate::distort::{Begun, Level, Model};
use crate::fault::Fault;
use crate::sequence::objective::Aim;
use crate::sequence::{Order, best_turns};

/// Rounds of turning passes about, see [`Judge::turn_round`].
const TURN_ROUNDS: usize = 4;
/// Passes up to which every combination of directions is judged.
const TURN_ALL: usize = 7;

impl Judge<'_> {
    /// Turn passes round where the procedure leaves the direction free and the fine judgement gains; the
    /// coarse model cannot see directions, and neither time nor scatter hangs on them. What each turn
    /// would do is carried through one course; what is then turned together is judged once more. Gives
    /// how many were turned.
    ///
    /// # Errors
    /// As [`Judge::full`].
    pub fn turn_round(
        &self,
        aim: &Aim,
        model: &Model,
        tacked: &Begun,
        order: &mut Order,
    ) -> Result<usize, Fault> {
        let timeline = self.timeline(&order.steps);
        let mut free = Vec::new();
        for (s, step) in order.steps.iter().enumerate().skip(self.done()) {
            for (l, laid) in step.passes.iter().enumerate() {
                if self.parts.passes.passes[laid.pass].forced_direction[step.setup].is_none() {
                    free.push((s, l));
                }
            }
        }
        if free.is_empty() || model.level_for(Level::Fine) == Level::Coarse {
            return Ok(0);
        }
        let passes: Vec<usize> = free.iter().map(|&(s, l)| order.steps[s].passes[l].pass).collect();
        let value = |y: &[f64]| deviation(aim, y);
        let turn = |order: &mut Order, which: &[usize]| {
            which.iter().for_each(|&i| order.steps[free[i].0].passes[free[i].1].forward ^= true);
        };
        if free.len() <= TURN_ALL {
            return self.turn_all(aim, model, tacked, order, &free);
        }
        let before: Vec<bool> = free.iter().map(|&(s, l)| order.steps[s].passes[l].forward).collect();
        for _ in 0..TURN_ROUNDS {
            let (y, change) = tacked.turned(&self.weld_out(model, &order.steps, &timeline), &passes)?;
            let now = value(&y);
            let alone = |i: usize| value(&y.iter().zip(&change[i]).map(|(y, c)| y + c).collect::<Vec<_>>());
            let mut which = best_turns(&y, &change, &value, aim.grain);
            which.sort_by(|&i, &j| alone(i).total_cmp(&alone(j)).then(i.cmp(&j)));
            // Turned together they act on each other: if that spoils it, fewer are turned.
            let gained = loop {
                if which.is_empty() {
                    break false;
                }
                turn(order, &which);
                if value(&tacked.controls_after(&self.weld_out(model, &order.steps, &timeline))?)
                    < now - aim.grain
                {
                    break true;
                }
                turn(order, &which);
                which.truncate(which.len() / 2);
            };
            if !gained {
                break;
            }
        }
        Ok(free.iter().zip(before).filter(|(f, b)| order.steps[f.0].passes[f.1].forward != *b).count())
    }

    /// Every way to turn these few passes, judged one by one; the best stays. Gives how many were turned.
    fn turn_all(
        &self,
        aim: &Aim,
        model: &Model,
        tacked: &Begun,
        order: &mut Order,
        free: &[(usize, usize)],
    ) -> Result<usize, Fault> {
        let timeline = self.timeline(&order.steps);
        let turn = |order: &mut Order, bits: usize| {
            for (_, &(s, l)) in free.iter().enumerate().filter(|(i, _)| bits >> i & 1 == 1) {
                order.steps[s].passes[l].forward ^= true;
            }
        };
        let (mut best, mut least) = (0, f64::INFINITY);
        for bits in 0..1usize << free.len() {
            turn(order, bits);
            let value =
                deviation(aim, &tacked.controls_after(&self.weld_out(model, &order.steps, &timeline))?);
            turn(order, bits);
            if value < least - if bits == 0 { 0.0 } else { aim.grain } {
                (best, least) = (bits, value);
            }
        }
        turn(order, best);
        Ok(best.count_ones() as usize)
    }

    /// If the direction is no lever of a re-plan, passes keep that of the sheet in force.
    pub(super) fn keep_directions(&self, order: &mut Order) {
        let Some(u) = self.underway.filter(|u| !u.levers.direction) else { return };
        let done = u.done.len();
        for s in order.steps.iter_mut().skip(done) {
            for l in &mut s.passes {
                let sheet = u.sheet.iter().flat_map(|s| &s.passes).find(|o| o.pass == l.pass);
                let forced = self.parts.passes.passes[l.pass].forced_direction[s.setup];
                if let (Some(o), None) = (sheet, forced) {
                    l.forward = o.forward;
                }
            }
        }
    }
}

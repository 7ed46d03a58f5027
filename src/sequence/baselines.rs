//! Common habits of ordering welds, to be judged beside the plan: as they are, and repaired to obey
//! the rules.

use super::beam::{Wish, place_of};
use super::plain::Plain;
use super::rules::Broken;
use super::stays::homes;
use super::{Order, Question, by_hand};

/// A habit: its name and the row of passes it gives.
#[derive(Debug, Clone, PartialEq)]
pub struct Habit {
    /// Plain name.
    pub name: &'static str,
    /// Passes in its order.
    pub row: Vec<usize>,
}

impl Habit {
    /// The wish with which the scheduler keeps as near to this habit as the rules allow.
    pub fn wish(&self) -> Wish {
        Wish::Follow(place_of(&self.row))
    }

    /// The habit as it is, whatever the rules say; and the rules that are never relaxed it breaks.
    pub fn as_is(&self, q: &Question) -> (Order, Vec<Broken>) {
        let laid = |p: &usize| q.done.iter().flat_map(|s| &s.passes).any(|l| l.pass == *p);
        let rest: Vec<usize> = self.row.iter().copied().filter(|p| !laid(p)).collect();
        by_hand(q, &rest)
    }
}

/// All habits. `stiffness`: how stiff the frame is at each joint, larger is stiffer, any unit;
/// `forward_mm`: place of each joint along the frame's forward direction, mm.
///
/// In each, what can be reached as the frame lies is welded first, then the frame is turned.
pub fn habits(q: &Question, stiffness: &[f64], forward_mm: &[f64]) -> Vec<Habit> {
    let plain = Plain::new(q);
    let homes = homes(&plain);
    let joints = q.steel_mm.len();
    let by = |key: &dyn Fn(usize) -> f64| -> Vec<usize> {
        let mut order: Vec<usize> = (0..joints).collect();
        order.sort_by(|&a, &b| key(a).total_cmp(&key(b)).then(a.cmp(&b)));
        place_of(&order)
    };
    let listed: Vec<usize> = (0..joints).collect();
    let stiff = by(&|j| -stiffness[j]);
    let rear = by(&|j| forward_mm[j]);
    let middle = middle(q);
    let outward = by(&|j| q.steel_mm[middle][j]);
    // Both joints of a mirrored pair stand at the place of the first.
    let pair: Vec<usize> = (0..joints).map(|j| q.mirror[j].map_or(j, |m| m.min(j))).collect();
    let turn = turn_on_joint(q);
    let all_round = |rank: &[usize]| {
        let key = |p: usize| {
            let item = &q.passes[p];
            (homes[p], rank[item.joint], item.seam, usize::from(item.layer), item.segment)
        };
        row(q, key)
    };
    vec![
        Habit { name: "joint by joint, all round", row: all_round(&listed) },
        Habit { name: "stiffest joint first", row: all_round(&stiff) },
        Habit { name: "from the centre outwards", row: all_round(&outward) },
        Habit {
            name: "mirrored pairs",
            row: row(q, |p| {
                let item = &q.passes[p];
                (homes[p], pair[item.joint], turn[p], usize::from(item.layer), item.joint)
            }),
        },
        Habit {
            name: "skip welding as listed",
            row: row(q, |p| (homes[p], turn[p], q.passes[p].joint, q.passes[p].seam, q.passes[p].segment)),
        },
        Habit { name: "rear to front", row: all_round(&rear) },
    ]
}

fn row<K: Ord>(q: &Question, key: impl Fn(usize) -> K) -> Vec<usize> {
    let mut sorted: Vec<usize> = (0..q.passes.len()).collect();
    sorted.sort_by_key(|&p| (key(p), p));
    // No habit welds a layer before the one it lies on: such a pass follows as soon as it can.
    let mut out = vec![false; q.passes.len()];
    let mut row = Vec::with_capacity(sorted.len());
    while row.len() < sorted.len() {
        let next = sorted.iter().copied().find(|&p| !out[p] && q.passes[p].below.is_none_or(|b| out[b]));
        let Some(p) = next else { break };
        out[p] = true;
        row.push(p);
    }
    row
}

/// The joint from which the farthest joint is nearest along the steel.
fn middle(q: &Question) -> usize {
    let far = |j: &usize| q.steel_mm[*j].iter().copied().filter(|d| d.is_finite()).fold(0.0, f64::max);
    (0..q.steel_mm.len()).min_by(|a, b| far(a).total_cmp(&far(b))).unwrap_or(0)
}

/// Which turn of its joint a pass has when opposite segments follow each other, layer by layer.
fn turn_on_joint(q: &Question) -> Vec<usize> {
    let mut turn = vec![usize::MAX; q.passes.len()];
    for joint in 0..q.steel_mm.len() {
        let mut next = 0;
        let mut here: Vec<usize> = (0..q.passes.len()).filter(|&p| q.passes[p].joint == joint).collect();
        here.sort_by_key(|&p| (q.passes[p].layer, q.passes[p].seam, q.passes[p].segment, p));
        for p in here {
            for p in [Some(p), q.passes[p].partner].into_iter().flatten() {
                if turn[p] == usize::MAX {
                    turn[p] = next;
                    next += 1;
                }
            }
        }
    }
    turn
}

//! Changes of an order, drawn at random: they start at a given step and stay inside a block.

use super::ledger::Ledger;
use rand::RngExt;
use rand::rngs::ChaCha8Rng;

/// Draw a change whose first changed step is `step` and whose last place lies before `end`. `new` gets
/// the passes from the first place of that step on. `false`: this draw gave nothing.
pub(crate) fn draw(dice: &mut ChaCha8Rng, l: &Ledger, step: usize, end: usize, new: &mut Vec<usize>) -> bool {
    let (lo, next) = (l.first[step], l.first[step + 1]);
    if next >= end {
        return false;
    }
    let x = lo + below(dice, next - lo);
    let y = next + reach(dice, end - next);
    let mut hi = y + 1;
    let partner = |place: usize| l.plain.q.passes[l.row[place]].partner.map(|p| l.place[p]);
    match dice.random_range(0..100u32) {
        // Two passes change places.
        0..25 => {
            copy(l, lo, &mut hi, new);
            new.swap(x - lo, y - lo);
        }
        // Two opposite pairs change places.
        25..45 => {
            let (Some(px), Some(py)) = (partner(x), partner(y)) else { return false };
            if px < lo || px >= end || py < lo || py >= end || px == y {
                return false;
            }
            hi = px.max(py).max(y) + 1;
            copy(l, lo, &mut hi, new);
            new.swap(x - lo, y - lo);
            new.swap(px - lo, py - lo);
        }
        // A pass and its opposite change places.
        45..55 => {
            let Some(px) = partner(x) else { return false };
            if px < next || px >= end {
                return false;
            }
            hi = px + 1;
            copy(l, lo, &mut hi, new);
            new.swap(x - lo, px - lo);
        }
        // A few neighbours in any order.
        55..75 => {
            let steps = 2 + below(dice, 5);
            hi = l.first[(step + steps).min(l.first.len() - 1)].min(end);
            copy(l, lo, &mut hi, new);
            for i in (1..new.len()).rev() {
                new.swap(i, below(dice, i + 1));
            }
        }
        // One pass is put elsewhere, those between move up.
        75..95 => {
            copy(l, lo, &mut hi, new);
            if dice.random_range(0..2u32) == 0 {
                new[x - lo..=y - lo].rotate_left(1);
            } else {
                new[x - lo..=y - lo].rotate_right(1);
            }
        }
        // Two whole steps change places.
        _ => {
            let other = l.step_of[y];
            if l.first[other + 1] - l.first[other] != next - lo {
                return false;
            }
            copy(l, lo, &mut hi, new);
            for i in 0..next - lo {
                new.swap(i, l.first[other] + i - lo);
            }
        }
    }
    hi <= end && new[..next - lo] != l.row[lo..next]
}

/// The places from `lo` to the end of the step that holds the last changed one.
fn copy(l: &Ledger, lo: usize, hi: &mut usize, new: &mut Vec<usize>) {
    *hi = l.first[l.step_of[*hi - 1] + 1];
    new.clear();
    new.extend_from_slice(&l.row[lo..*hi]);
}

/// A number below `n` (> 0).
fn below(dice: &mut ChaCha8Rng, n: usize) -> usize {
    dice.random_range(0..n as u32) as usize
}

/// How far away the other place is: mostly near, now and then anywhere.
fn reach(dice: &mut ChaCha8Rng, n: usize) -> usize {
    if dice.random_range(0..10u32) == 0 { below(dice, n) } else { below(dice, n.min(6)) }
}

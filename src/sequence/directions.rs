//! In which direction each pass is laid, where the position leaves the choice.

use super::Order;

/// Turn about the direction of one pass after another, and keep what makes the order better by more
/// than `grain`, until a whole round brings nothing or `most` orders have been judged.
///
/// `free(pass, setup)`: the procedure leaves the direction of this pass open in this setup. `judge`: the
/// full objective; the coarse model does not see directions. Gives the order, its objective, and how
/// many orders were judged.
pub fn turn_about(
    order: &Order,
    free: &dyn Fn(usize, usize) -> bool,
    judge: &dyn Fn(&Order) -> f64,
    grain: f64,
    most: usize,
) -> (Order, f64, usize) {
    let mut best = order.clone();
    let mut value = judge(&best);
    let mut judged = 1;
    loop {
        let mut better = false;
        for s in 0..best.steps.len() {
            for i in 0..best.steps[s].passes.len() {
                if !free(best.steps[s].passes[i].pass, best.steps[s].setup) {
                    continue;
                }
                if judged >= most {
                    return (best, value, judged);
                }
                best.steps[s].passes[i].forward ^= true;
                let tried = judge(&best);
                judged += 1;
                if tried < value - grain {
                    value = tried;
                    better = true;
                } else {
                    best.steps[s].passes[i].forward ^= true;
                }
            }
        }
        if !better {
            return (best, value, judged);
        }
    }
}

//! In which direction each pass is laid, where the position leaves the choice.

/// Which passes to lay the other way round, so that the value of the controls gets least.
///
/// `now`: the controls as it stands; `change[i]`: how much they change if pass i alone is turned; the
/// changes are taken to add up. One pass after another is turned (or turned back), each time the one
/// that gains most, until none gains more than `grain`. Gives the passes by rising index.
pub fn best_turns(now: &[f64], change: &[Vec<f64>], value: &dyn Fn(&[f64]) -> f64, grain: f64) -> Vec<usize> {
    let mut turned = vec![false; change.len()];
    let mut at = now.to_vec();
    let mut best = value(&at);
    let with = |at: &[f64], c: &[f64], turned: bool| -> Vec<f64> {
        at.iter().zip(c).map(|(x, c)| if turned { x - c } else { x + c }).collect()
    };
    // Every turn gains at least the grain, so this ends; the limit is for a value without a floor.
    for _ in 0..10 * change.len() {
        let gains = (0..change.len()).map(|i| (value(&with(&at, &change[i], turned[i])), i));
        match gains.min_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1))) {
            Some((v, i)) if v < best - grain => {
                at = with(&at, &change[i], turned[i]);
                turned[i] = !turned[i];
                best = v;
            }
            _ => break,
        }
    }
    (0..change.len()).filter(|&i| turned[i]).collect()
}

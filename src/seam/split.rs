//! Cutting weld lines into segments.

/// Longest and shortest segment wanted, mm.
#[derive(Debug, Clone, Copy)]
pub(super) struct Limits {
    pub max: f64,
    pub min: f64,
}

impl Limits {
    /// Into how many equal pieces an open line is cut: each at most `max`, none under `min` (a line
    /// shorter than `min` is one piece).
    pub(super) fn pieces(&self, length: f64) -> usize {
        let most = (length / self.min + 1e-9).floor().max(1.0);
        (length / self.max - 1e-9).ceil().clamp(1.0, most) as usize
    }

    /// The same for a closed line: always even, so that every piece has an opposite; at least two.
    pub(super) fn even_pieces(&self, length: f64) -> usize {
        let most = ((length / self.min + 1e-9).floor() as usize / 2 * 2).max(2);
        ((0.5 * length / self.max - 1e-9).ceil().max(1.0) as usize * 2).min(most)
    }
}

/// Cuts of a closed line with four corners at arc lengths `corners`, ascending.
///
/// Each face is cut `k` times, opposite faces alike, at equal distances with half of one left at both
/// ends: one cut lies in the middle, and the piece that runs round a corner has cuts on the two faces
/// beside it. Faces shorter than `min` are not cut: the piece runs round both their corners.
/// Returns ascending arc lengths, the first maybe before the first corner's next start.
pub(super) fn cornered(corners: [f64; 4], length: f64, limits: Limits) -> Vec<f64> {
    let face = |i: usize| if i < 3 { corners[i + 1] - corners[i] } else { corners[0] + length - corners[3] };
    let pair = |p: usize| face(p).max(face(p + 2));
    let mut cuts = [0, 1].map(|p| usize::from(pair(p) >= limits.min));
    if cuts == [0, 0] {
        cuts[usize::from(pair(1) > pair(0))] = 1;
    }
    let inner = |cuts: [usize; 2], p: usize| if cuts[p] > 1 { pair(p) / cuts[p] as f64 } else { 0.0 };
    let share = |cuts: [usize; 2], p: usize| if cuts[p] > 0 { 0.5 * pair(p) / cuts[p] as f64 } else { 0.0 };
    let round = |cuts: [usize; 2]| match cuts {
        [_, 0] => 2.0 * share(cuts, 0) + pair(1),
        [0, _] => 2.0 * share(cuts, 1) + pair(0),
        _ => share(cuts, 0) + share(cuts, 1),
    };
    let longest = |c: [usize; 2]| inner(c, 0).max(inner(c, 1)).max(round(c));
    let shortest = |c: [usize; 2]| {
        let inner =
            [0, 1].map(|p| inner(c, p)).into_iter().filter(|l| *l > 0.0).fold(f64::INFINITY, f64::min);
        inner.min(round(c))
    };
    while longest(cuts) > limits.max + 1e-9 {
        let coarse = |p: usize| if cuts[p] == 0 { 0.0 } else { pair(p) / cuts[p] as f64 };
        let p = usize::from(coarse(1) > coarse(0) + 1e-9);
        let mut more = cuts;
        more[p] += 1;
        if shortest(more) < limits.min - 1e-9 {
            break;
        }
        cuts = more;
    }
    let mut out = Vec::new();
    for (i, start) in corners.iter().enumerate() {
        let k = cuts[i % 2];
        out.extend((0..k).map(|j| start + face(i) * (j as f64 + 0.5) / k as f64));
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    const LIMITS: Limits = Limits { max: 40.0, min: 15.0 };

    #[test]
    fn a_round_seam_is_cut_in_an_even_number() {
        assert_eq!(LIMITS.even_pieces(110.0), 4); // 27.5
        assert_eq!(LIMITS.even_pieces(160.0), 4); // 40.0 exactly
        assert_eq!(LIMITS.even_pieces(161.0), 6);
        assert_eq!(LIMITS.even_pieces(45.0), 2);
        assert_eq!(LIMITS.even_pieces(25.0), 2); // too short for two of 15, but opposites are kept
        assert_eq!(Limits { max: 20.0, min: 15.0 }.even_pieces(50.0), 2); // 25: never under 15
    }

    #[test]
    fn square_seams_are_cut_off_their_corners() {
        let cut = |h: f64, w: f64| cornered([0.0, h, h + w, 2.0 * h + w], 2.0 * (h + w), LIMITS);
        assert_eq!(cut(40.0, 40.0), [20.0, 60.0, 100.0, 140.0]);
        // 60: every face is cut twice, and 30 mm run round each corner
        assert_eq!(cut(60.0, 60.0), [15.0, 45.0, 75.0, 105.0, 135.0, 165.0, 195.0, 225.0]);
        // 56 by 40: only the long faces are cut twice
        assert_eq!(cut(56.0, 40.0).len(), 6);
        // a flat bar's edges are not cut: 60 by 6
        assert_eq!(cut(60.0, 6.0), [15.0, 45.0, 81.0, 111.0]);
        // 26 by 16, edges not cut: the pieces round them are 26 + 16 = 42 long, but two cuts would leave 13
        let long = Limits { max: 40.0, min: 17.0 };
        assert_eq!(cornered([0.0, 26.0, 42.0, 68.0], 84.0, long), [13.0, 55.0]);
        // 34 by 10: one cut would leave 44 round the edges
        let short = Limits { max: 41.0, min: 12.0 };
        assert_eq!(cornered([0.0, 34.0, 44.0, 78.0], 88.0, short), [8.5, 25.5, 52.5, 69.5]);
    }
}

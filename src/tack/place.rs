//! Number, length and place of the tacks of one seam.

use super::{Shortened, Tack};
use crate::frame::Frame;
use crate::joint::{Joints, MeetKind};
use crate::library::MaterialGroup;
use crate::seam::{Seam, Seams};

/// Longest part of a seam that tacks may take before the plan says so (common practice, no source).
const LARGEST_SHARE: f64 = 1.0 / 3.0;
/// Distance of tacks on a long seam of thin steel, mm: 2 to 3 inches (common practice, no source).
const STEEL_SPACING_MM: f64 = 75.0;

/// Length of a tack by the thicker wall, mm.
///
/// Steel: at least 50 mm, or four times the thicker part where that is under 12 mm; EN 1011-2:2001
/// clause 13 (seen as quoted). Aluminium: about eight times the thickness; Mathers, *The welding of
/// aluminium and its alloys*, p. 88 (seen).
pub fn rule_length_mm(group: MaterialGroup, thicker_mm: f64) -> f64 {
    match group {
        MaterialGroup::Aluminium => 8.0 * thicker_mm,
        _ if thicker_mm < 12.0 => 4.0 * thicker_mm,
        _ => 50.0,
    }
}

/// Largest distance between tacks on a long seam, mm. Aluminium: 35 times the thickness; Mathers,
/// p. 88 (seen).
pub fn spacing_mm(group: MaterialGroup, thinner_mm: f64) -> f64 {
    match group {
        MaterialGroup::Aluminium => 35.0 * thinner_mm,
        _ => STEEL_SPACING_MM,
    }
}

/// The tacks of one seam, opposite ones in turn.
pub fn on_seam(
    frame: &Frame,
    joints: &Joints,
    seams: &Seams,
    index: usize,
    shortened: &mut Vec<Shortened>,
) -> Vec<Tack> {
    let seam = &seams.seams[index];
    let branch = joints.meets[index].branch.0;
    let group = frame.materials[frame.sections[frame.tubes[branch].section].material].group;
    let [a, b] = seam.walls_mm;
    let places = places(seam, spacing_mm(group, a.min(b)));
    let rule = rule_length_mm(group, a.max(b));
    let most = LARGEST_SHARE * seam.length_mm / places.len().max(1) as f64;
    let length = if rule <= most {
        rule
    } else {
        shortened.push(Shortened { seam: index, rule_mm: rule, to_mm: most });
        most
    };
    places
        .into_iter()
        .enumerate()
        .map(|(i, (line, at_mm))| Tack {
            seam: index,
            number: i + 1,
            line,
            at_mm,
            length_mm: length,
            clock: seam.place_name(line, at_mm),
        })
        .collect()
}

/// Line and arc length of each tack, in the order they are laid: opposite first, then between.
///
/// Closed seams have four, at the ends of segments so that no tack lies under the middle of a pass;
/// a seam of two segments has them an eighth from the segments' ends. Open lines have one at every
/// `spacing`, both sides in turn.
fn places(seam: &Seam, spacing_mm: f64) -> Vec<(usize, f64)> {
    if seam.closed {
        let n = seam.segments.len();
        let length = seam.length_mm;
        if n < 4 {
            return [1.0, 5.0, 3.0, 7.0].map(|e| (0, length * e / 8.0)).to_vec();
        }
        let quarter = (n / 4).max(1);
        let at = |i: usize| (0, seam.segments[i % n].from_mm.rem_euclid(length));
        return vec![at(0), at(n / 2), at(quarter), at(n / 2 + quarter)];
    }
    let ends: Vec<f64> = seam.lines.iter().map(|l| l.s.last().copied().unwrap_or(0.0)).collect();
    if seam.kind == MeetKind::Along {
        return along(&ends, spacing_mm);
    }
    // Short open lines: a tack at a segment's end inside the line, or a quarter in.
    ends.iter()
        .enumerate()
        .map(|(line, &end)| {
            let inner = seam
                .segments
                .iter()
                .filter(|g| g.line == line)
                .map(|g| g.to_mm)
                .find(|&s| s > 0.1 * end && s < 0.9 * end);
            (line, inner.unwrap_or(0.25 * end))
        })
        .collect()
}

/// From the middle outwards, the two sides in turn: a seam tacked from one end closes its gap.
fn along(ends: &[f64], spacing_mm: f64) -> Vec<(usize, f64)> {
    let mut out = Vec::new();
    for (line, &end) in ends.iter().enumerate() {
        let n = ((end / spacing_mm).ceil() as usize).max(1) + 1;
        let step = end / n as f64;
        let mut at: Vec<f64> = (0..n).map(|i| (i as f64 + 0.5) * step).collect();
        at.sort_by(|a, b| (a - end / 2.0).abs().total_cmp(&(b - end / 2.0).abs()).then(a.total_cmp(b)));
        out.extend(at.into_iter().enumerate().map(|(rank, s)| (rank, line, s)));
    }
    out.sort_by_key(|&(rank, line, _)| (rank, line));
    out.into_iter().map(|(_, line, s)| (line, s)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// EN 1011-2:2001 clause 13 (seen as quoted): four times the thicker part under 12 mm, else 50 mm.
    /// Aluminium: eight times the thickness, at most 35 times apart; Mathers, p. 88 (seen).
    #[test]
    fn tacks_are_as_long_as_the_published_rules_say() {
        let steel = |t: f64| rule_length_mm(MaterialGroup::CarbonSteel, t);
        for (t, want) in [(1.5, 6.0), (2.0, 8.0), (3.0, 12.0), (4.0, 16.0), (6.0, 24.0), (10.0, 40.0)] {
            assert_eq!(steel(t), want, "{t}");
        }
        assert_eq!((steel(12.0), steel(15.0)), (50.0, 50.0));
        let aluminium =
            |t: f64| (rule_length_mm(MaterialGroup::Aluminium, t), spacing_mm(MaterialGroup::Aluminium, t));
        assert_eq!((aluminium(2.0), aluminium(3.0)), ((16.0, 70.0), (24.0, 105.0)));
    }

    #[test]
    fn tacks_along_a_bar_begin_in_the_middle_and_take_both_sides_in_turn() {
        let places = along(&[300.0, 300.0], STEEL_SPACING_MM);
        assert_eq!((places.len(), places[0], places[1]), (10, (0, 150.0), (1, 150.0)));
        let far = |i: usize| (places[i].1 - 150.0).abs();
        assert!((1..places.len()).all(|i| far(i) + 1e-9 >= far(i - 1)), "{places:?}");
    }
}

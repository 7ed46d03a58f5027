//! Where tacks are taken to lie when nobody says so.

use super::Tack;
use super::constants as c;
use crate::seam::Seam;

/// Tacks laid evenly when nobody says where: on a closed seam four, between the ends of segments
/// (with only two segments: four at the eighths); on an open line two near its ends and more at
/// least every 150 mm. Length four times the thicker wall (EN 1011-2 clause 13), 5 to 50 mm, and
/// never more than a third of the seam in all.
pub fn default_tacks(seam: &Seam, index: usize) -> Vec<Tack> {
    let thick = seam.walls_mm[0].max(seam.walls_mm[1]);
    let mut out = Vec::new();
    for (l, line) in seam.lines.iter().enumerate() {
        let total = line.s[line.s.len() - 1];
        let ends: Vec<f64> = seam.segments.iter().filter(|g| g.line == l).map(|g| g.from_mm).collect();
        let places: Vec<f64> = if seam.closed {
            if ends.len() >= 4 {
                (0..4).map(|i| ends[i * ends.len() / 4]).collect()
            } else {
                let start = ends.first().copied().unwrap_or(0.0);
                (0..4).map(|i| start + total * (0.125 + 0.25 * i as f64)).collect()
            }
        } else {
            let n = ((total / c::TACK_PITCH_MM).ceil() as usize).max(1);
            (0..=n).map(|i| total * (0.05 + 0.9 * i as f64 / n as f64)).collect()
        };
        let length_mm = (4.0 * thick).clamp(5.0, 50.0).min(total / (3.0 * places.len() as f64));
        for at_mm in places {
            out.push(Tack { seam: index, line: l, at_mm, length_mm, pull: 0.0 });
        }
    }
    out
}

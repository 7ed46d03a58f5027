//! Faults of the frame as a whole: absurd size, doubled tubes.

use super::Tube;
use super::reader::Bad;
use crate::fault::Fault;
use glam::DVec3;

/// A whole frame of thumb size or of bridge size: metres or inches were written for millimetres.
pub(super) fn absurd_size(tubes: &[Option<Tube>], bad: &mut Bad) {
    let all = || tubes.iter().flatten().flat_map(|t| t.axis.iter().copied());
    let (Some(low), Some(high)) = (all().reduce(DVec3::min), all().reduce(DVec3::max)) else { return };
    let size = (high - low).max_element();
    let first = tubes.iter().flatten().next().map_or(0..0, |t| t.span.clone());
    if size < 20.0 {
        bad.push(
            Fault::new("E134", format!("the whole frame is {} mm long", (size * 1000.0).round() / 1000.0))
                .at(first, "all lengths are in mm")
                .help(format!(
                    "if metres were meant, write {:.0} for {size:.3}; if inches, {:.1}",
                    size * 1000.0,
                    size * crate::units::MM_PER_INCH
                )),
        );
    } else if size > 100_000.0 {
        bad.push(
            Fault::new("E134", format!("the whole frame is {:.0} m long", size / 1000.0))
                .at(first, "all lengths are in mm")
                .help("a one-off frame of more than 100 m is beyond this program; is one point wrong by a factor of 1000?"),
        );
    }
}

/// Two tubes on one run.
pub(super) fn doubled(tubes: &[Option<Tube>], bad: &mut Bad) {
    let tubes: Vec<&Tube> = tubes.iter().flatten().collect();
    for (i, b) in tubes.iter().enumerate() {
        let same = |a: &&&Tube| {
            let ends = |t: &Tube| (t.axis[0], t.axis[t.axis.len() - 1]);
            let ((p, q), (r, s)) = (ends(a), ends(b));
            let near = |x: DVec3, y: DVec3| x.distance(y) < 0.1;
            let half = |t: &Tube| t.point_at(t.length_mm() / 2.0);
            ((near(p, r) && near(q, s)) || (near(p, s) && near(q, r))) && near(half(a), half(b))
        };
        if let Some(a) = tubes[..i].iter().find(same) {
            bad.push(
                Fault::new("E132", format!("\"{}\" lies where \"{}\" lies", b.name, a.name))
                    .at(b.span.clone(), "same run")
                    .also(a.span.clone(), "first one")
                    .help("remove one of the two"),
            );
        }
    }
}

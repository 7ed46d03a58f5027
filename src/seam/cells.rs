//! Sealed cells: hollow tubes that welding closes to the outside.

use super::Seam;
use crate::frame::{Frame, Role};
use crate::joint::curve::slotted_over;
use crate::joint::place::{is_hollow, length, shape};
use crate::joint::{Joints, MeetKind};

/// Tubes whose inside has no way out once all seams are welded, with the seams that close it. Tubes
/// that are butted or mitred share one cell and are all listed, with all seams of the cell. The wall
/// of a carrier is taken as unbroken; a slotted end, a free end and a seam with a part left open let
/// the air out.
pub(super) fn sealed(frame: &Frame, joints: &Joints, seams: &[Seam]) -> Vec<(usize, Vec<usize>)> {
    let n = frame.tubes.len();
    let mut cell: Vec<usize> = (0..n).collect();
    let mut closed_by: Vec<[Option<usize>; 2]> = vec![[None; 2]; n];
    let end_of = |tube: usize, s: f64| usize::from(s > 0.5 * length(&frame.tubes[tube]));
    for (i, (meet, seam)) in joints.meets.iter().zip(seams).enumerate() {
        let open_slot = meet.kind == MeetKind::Slot && slotted_over(frame, meet);
        if !seam.closed || open_slot || matches!(meet.kind, MeetKind::Lap | MeetKind::Pad | MeetKind::Along) {
            continue;
        }
        let (branch, s) = meet.branch;
        closed_by[branch][end_of(branch, s)] = Some(i);
        if matches!(meet.kind, MeetKind::Butt | MeetKind::Mitre) {
            let (carrier, s, _) = meet.carriers[0];
            closed_by[carrier][end_of(carrier, s)] = Some(i);
            let (a, b) = (cell[branch], cell[carrier]);
            cell.iter_mut().filter(|c| **c == a.max(b)).for_each(|c| *c = a.min(b));
        }
    }
    let mut out = Vec::new();
    for t in 0..n {
        let members: Vec<usize> = (0..n).filter(|m| cell[*m] == cell[t]).collect();
        let tight = members.iter().all(|m| {
            let tube = &frame.tubes[*m];
            let hollow = is_hollow(shape(frame, *m));
            tube.role == Role::Tube && !tube.vented && (!hollow || closed_by[*m].iter().all(Option::is_some))
        });
        if tight && is_hollow(shape(frame, t)) {
            let mut by: Vec<usize> = members.iter().flat_map(|m| closed_by[*m]).flatten().collect();
            by.sort_unstable();
            by.dedup();
            out.push((t, by));
        }
    }
    out
}

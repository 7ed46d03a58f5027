//! Where on its tubes a seam takes hold: one station, or several on a bar welded along another.

use super::structure::{Stations, along, nearest};
use crate::frame::Frame;
use crate::joint::{Joints, Meet, MeetKind};
use crate::seam::{Seam, Seams};
use glam::DVec3;

/// Nodes needed by the seams: trimmed ends and stations, for every tube.
pub fn stations(frame: &Frame, joints: &Joints, seams: &Seams) -> Vec<Stations> {
    let mut out: Vec<Stations> =
        frame.tubes.iter().map(|t| Stations { ends: [t.s[0], t.s[t.s.len() - 1]], at: Vec::new() }).collect();
    for (meet, seam) in joints.meets.iter().zip(&seams.seams) {
        let (b, at) = meet.branch;
        let tube = &frame.tubes[b];
        let total = tube.s[tube.s.len() - 1];
        for s in branch_stations(frame, meet, seam) {
            match end_of(at, total) {
                Some(0) if meet.kind != MeetKind::Along => out[b].ends[0] = out[b].ends[0].max(s),
                Some(1) if meet.kind != MeetKind::Along => out[b].ends[1] = out[b].ends[1].min(s),
                _ => out[b].at.push(s),
            }
        }
        for (t, s, _) in &meet.carriers {
            for p in station_points(frame, meet, seam) {
                out[*t].at.push(carrier_station(frame, meet.kind, *t, *s, p));
            }
        }
    }
    out
}

/// 0 for the start, 1 for the end, none for a place within.
fn end_of(at: f64, total: f64) -> Option<usize> {
    if at <= 1e-6 {
        Some(0)
    } else if at >= total - 1e-6 {
        Some(1)
    } else {
        None
    }
}

pub(super) fn branch_stations(frame: &Frame, meet: &Meet, seam: &Seam) -> Vec<f64> {
    let (b, at) = meet.branch;
    let tube = &frame.tubes[b];
    let total = tube.s[tube.s.len() - 1];
    if meet.kind == MeetKind::Along {
        let mut all: Vec<f64> = seam
            .segments
            .iter()
            .map(|g| nearest(&tube.axis, &tube.s, g.mid.at, 0.5 * total, total))
            .collect();
        all.sort_by(f64::total_cmp);
        all.dedup_by(|b, a| (*b - *a).abs() < 2.0);
        return all;
    }
    vec![nearest(&tube.axis, &tube.s, seam.centre, at, 0.45 * total)]
}

fn station_points(frame: &Frame, meet: &Meet, seam: &Seam) -> Vec<DVec3> {
    if meet.kind == MeetKind::Along {
        let tube = &frame.tubes[meet.branch.0];
        branch_stations(frame, meet, seam).iter().map(|s| along(&tube.axis, &tube.s, *s).0).collect()
    } else {
        vec![seam.centre]
    }
}

pub(super) fn carrier_station(frame: &Frame, kind: MeetKind, tube: usize, about: f64, point: DVec3) -> f64 {
    let t = &frame.tubes[tube];
    let within = if kind == MeetKind::Along { t.s[t.s.len() - 1] } else { 150.0 };
    nearest(&t.axis, &t.s, point, about, within)
}

//! Seams cut into passes: segment by layer, each with its settings, time, energy and metal.

use super::cautions::Cautions;
use super::consumables::{gas_l, mass_g};
use super::heat_input::heat_input_j_per_mm;
use super::settings::{Seat, more_metal, settings, wish_for};
use super::{Pass, Passes, Settings};
use crate::frame::Frame;
use crate::joint::Joints;
use crate::seam::{Position, Seam, Seams, Segment};

pub(super) fn passes(frame: &Frame, joints: &Joints, seams: &Seams) -> Passes {
    let mut all = Passes { passes: Vec::new(), settings: Vec::new(), warnings: Vec::new() };
    let mut cautions = Cautions::new(frame);
    for (index, seam) in seams.seams.iter().enumerate() {
        let seat = seat(frame, joints, seam, index);
        let chosen = settings(&seat);
        cautions.of_seam(&seam.name, &seat, &chosen);
        let density = seat.materials[0].density_kg_m3;
        let up = seat.wish.vertical_up;
        let at = match all.settings.iter().position(|s| *s == chosen) {
            Some(at) => at,
            None => {
                all.settings.push(chosen);
                all.settings.len() - 1
            }
        };
        lay(frame, index, seam, at, density, up, &mut all, &mut cautions);
    }
    let names: Vec<&str> = seams.seams.iter().map(|s| s.name.as_str()).collect();
    all.warnings = cautions.done(&names);
    all
}

/// A gap that was measured at a seam which is cut into passes already: the same layers with more metal,
/// so more slowly and with more heat. Passes in `laid` stay as they are.
pub(super) fn with_gap(
    frame: &Frame,
    joints: &mut Joints,
    seams: &Seams,
    passes: &mut Passes,
    index: usize,
    gap_mm: f64,
    laid: &[String],
) {
    let seam = &seams.seams[index];
    let before_mm = joints.meets[index].gap_mm;
    joints.meets[index].gap_mm = gap_mm;
    let seat = seat(frame, joints, seam, index);
    let mut cautions = Cautions::new(frame);
    cautions.gap(&seam.name, &seat);
    let names: Vec<&str> = seams.seams.iter().map(|s| s.name.as_str()).collect();
    passes.warnings.extend(cautions.done(&names).into_iter().filter(|w| matches!(w.0, "W325" | "W326")));
    for i in 0..passes.passes.len() {
        if passes.passes[i].seam != index || laid.contains(&passes.passes[i].label) {
            continue;
        }
        let mut s = passes.settings[passes.passes[i].settings].clone();
        let more = more_metal(&seat, s.leg_mm, gap_mm, before_mm);
        s.speed_mm_s /= more;
        s.area_mm2 *= more;
        let at = match passes.settings.iter().position(|t| *t == s) {
            Some(at) => at,
            None => {
                passes.settings.push(s);
                passes.settings.len() - 1
            }
        };
        let p = &mut passes.passes[i];
        p.settings = at;
        for v in [&mut p.heat_input_j_per_mm, &mut p.energy_j, &mut p.arc_s, &mut p.filler_g, &mut p.gas_l] {
            *v *= more;
        }
    }
}

/// What the settings of a seam are chosen from.
pub(super) fn seat<'a>(frame: &'a Frame, joints: &Joints, seam: &Seam, index: usize) -> Seat<'a> {
    let meet = &joints.meets[index];
    let section = |tube: usize| frame.tubes[tube].section;
    let carriers: Vec<usize> = meet.carriers.iter().map(|c| section(c.0)).collect();
    let branch = section(meet.branch.0);
    let material = |s: usize| &frame.materials[frame.sections[s].material];
    let mut materials = vec![material(branch)];
    for m in carriers.iter().map(|&s| material(s)) {
        if !materials.contains(&m) {
            materials.push(m);
        }
    }
    Seat {
        materials,
        walls_mm: seam.walls_mm,
        fillet: seam.fillet,
        gap_mm: meet.gap_mm,
        wish: wish_for(frame, branch, &carriers),
    }
}

/// All passes of one seam, by layer and segment.
#[allow(clippy::too_many_arguments, reason = "one call, all of them plain values")]
fn lay(
    frame: &Frame,
    index: usize,
    seam: &Seam,
    at: usize,
    density_kg_m3: f64,
    up: Option<bool>,
    all: &mut Passes,
    cautions: &mut Cautions,
) {
    let s: Settings = all.settings[at].clone();
    let heat = heat_input_j_per_mm(s.k, s.volts, s.amps, s.speed_mm_s);
    let (first, count) = (all.passes.len(), seam.segments.len());
    for layer in 0..s.layers {
        let base = first + usize::from(layer) * count;
        for (k, segment) in seam.segments.iter().enumerate() {
            let label = format!("{}-{}/{}", seam.name, k + 1, layer + 1);
            let length_mm = segment.length_mm();
            let arc_s = length_mm / s.speed_mm_s;
            let (setups, good) = reach(segment, frame.rules.overhead);
            if !good {
                cautions.no_position(&label);
            }
            all.passes.push(Pass {
                joint: seam.joint,
                seam: index,
                segment: k,
                layer,
                partner: segment.partner.map(|p| base + p),
                below: (layer > 0).then(|| base + k - count),
                length_mm,
                mid: segment.mid.at,
                side: segment.side,
                settings: at,
                heat_input_j_per_mm: heat,
                energy_j: heat * length_mm,
                arc_s,
                filler_g: mass_g(s.area_mm2, length_mm, density_kg_m3),
                gas_l: gas_l(s.gas_l_min, arc_s),
                setups,
                forced_direction: forced(frame, segment, up),
                label,
            });
        }
    }
}

/// Setups in which a segment may be welded, best position first, and whether the position is one
/// that the rules allow. If none is, the least bad ones.
pub(super) fn reach(segment: &Segment, overhead: bool) -> (Vec<usize>, bool) {
    let mut ranked: Vec<(usize, usize)> =
        segment.positions.iter().enumerate().map(|(setup, p)| (trouble(*p), setup)).collect();
    ranked.sort_unstable();
    let allowed = |t: usize| overhead || t < trouble(Position::PD);
    let good: Vec<usize> = ranked.iter().filter(|(t, _)| allowed(*t)).map(|(_, s)| *s).collect();
    if !good.is_empty() {
        return (good, true);
    }
    let Some(&(least, _)) = ranked.first() else {
        return (vec![0], false);
    };
    (ranked.iter().filter(|(t, _)| *t == least).map(|(_, s)| *s).collect(), false)
}

/// Positions of ISO 6947 by growing trouble (common practice, no source).
fn trouble(position: Position) -> usize {
    match position {
        Position::PA => 0,
        Position::PB => 1,
        Position::PC => 2,
        Position::Vertical => 3,
        Position::PD => 4,
        Position::PE => 5,
    }
}

/// Direction in each setup of the frame: upwards (PF) or downwards (PG) if the segment stands there
/// and the procedure says which.
fn forced(frame: &Frame, segment: &Segment, up: Option<bool>) -> Vec<Option<bool>> {
    let pairs = segment.positions.iter().zip(&frame.setups);
    pairs
        .map(|(position, setup)| match (position, up) {
            (Position::Vertical, Some(up)) => Some((segment.mid.tangent.dot(setup.up) > 0.0) == up),
            _ => None,
        })
        .collect()
}

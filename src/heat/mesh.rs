//! From a frame to a network: every tube a bar, cut finely near the welds, joined at the joints.

use super::loss::{air_perimeter_mm, steel_area_mm2, usual_loss_w_m2k};
use super::network::{Bar, Network};
use crate::frame::{Frame, Tube};
use crate::joint::{Joints, Meet, MeetKind};
use crate::seam::Seams;
use std::collections::BTreeMap;

/// How finely and with what extras the network is made.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeatSettings {
    /// Length of the cells beside a joint, mm.
    pub cell_mm: f64,
    /// Each cell is longer than its neighbour nearer the joint by this factor.
    pub growth: f64,
    /// Longest cell, mm.
    pub longest_cell_mm: f64,
    /// Every cell cut again into so many (for studies of convergence).
    pub refine: usize,
    /// Conductance from the tube into each clamp, W/K (0: clamps take no heat). A clamp's own
    /// warming is not followed.
    pub clamp_w_k: f64,
}

impl Default for HeatSettings {
    fn default() -> Self {
        HeatSettings { cell_mm: 6.0, growth: 1.25, longest_cell_mm: 20.0, refine: 1, clamp_w_k: 0.0 }
    }
}

/// Length of steel from the joint, along each tube that meets there, over which its temperature is
/// the mean, mm. Measure on branch and carrier within this distance from the toe. (ISO 13916 measures
/// at four wall thicknesses from the groove, at most 50 mm; from memory.)
pub const MEAN_OVER_MM: f64 = 25.0;
/// On a long seam there is a place of its own for about every so much length, mm.
const STATION_MM: f64 = 80.0;
/// Places on a tube nearer than this are one, mm.
const SAME_PLACE_MM: f64 = 1.0;

/// The network of a frame, with the places where heat goes in and temperature is asked.
#[derive(Debug, Clone, PartialEq)]
pub struct Mesh {
    /// Lumps and paths.
    pub network: Network,
    /// Places; the first of each joint is the joint itself, long seams have more.
    pub stations: Vec<Station>,
    /// The place of each segment: `[seam][segment]`.
    pub station_of: Vec<Vec<usize>>,
    /// For each tube its lumps and how much of their capacity is its own, J/K.
    pub tubes: Vec<Vec<(usize, f64)>>,
}

/// A place where welding heats the steel.
#[derive(Debug, Clone, PartialEq)]
pub struct Station {
    /// The joint it belongs to.
    pub joint: usize,
    /// The lump.
    pub lump: usize,
    /// Lumps of the mean temperature with their weights (adding up to one).
    pub mean: Vec<(usize, f64)>,
}

impl Mesh {
    /// The network of a frame.
    ///
    /// Assumptions: the temperature is the same all round a tube's wall and through it; tubes that
    /// meet share one lump at their joint, so the heat of a pass goes into carrier and branch as
    /// their steel takes it up; a branch begins at the carrier's surface; the inside of a tube loses
    /// nothing.
    pub fn of(frame: &Frame, joints: &Joints, seams: &Seams, settings: &HeatSettings) -> Mesh {
        let places = Places::find(frame, joints, seams);
        let mut network = Network::default();
        let lumps: Vec<usize> = (0..places.groups).map(|_| network.lump(0.0, 0.0)).collect();
        let mut tubes = Vec::with_capacity(frame.tubes.len());
        for (index, tube) in frame.tubes.iter().enumerate() {
            let bar = bar_of(frame, tube);
            let on = places.on_tube(index);
            tubes.push(lay_tube(&mut network, &lumps, &on, places.domain[index], &bar, settings));
        }
        for clamp in &frame.clamps {
            if settings.clamp_w_k > 0.0 {
                let nearest = tubes[clamp.tube]
                    .iter()
                    .min_by(|a, b| (a.s_mm - clamp.at_mm).abs().total_cmp(&(b.s_mm - clamp.at_mm).abs()));
                if let Some(cell) = nearest {
                    network.loss_w_k[cell.lump] += settings.clamp_w_k;
                }
            }
        }
        // A joint of which no tube is left (cannot be, but must not divide by zero).
        for c in &mut network.capacity_j_k {
            *c = c.max(1e-6);
        }
        let stations = places
            .stations
            .iter()
            .map(|s| {
                let lump = lumps[places.group_of(s.place)];
                Station { joint: s.joint, lump, mean: mean_about(&tubes, lump) }
            })
            .collect();
        Mesh {
            network,
            stations,
            station_of: places.station_of,
            tubes: tubes.into_iter().map(shares).collect(),
        }
    }
}

/// One lump's part in one tube.
#[derive(Debug, Clone, Copy)]
struct Cell {
    lump: usize,
    s_mm: f64,
    /// Half lengths to the neighbours, mm.
    before_mm: f64,
    after_mm: f64,
    capacity_j_k_mm: f64,
}

fn shares(cells: Vec<Cell>) -> Vec<(usize, f64)> {
    cells.iter().map(|c| (c.lump, (c.before_mm + c.after_mm) * c.capacity_j_k_mm)).collect()
}

/// A tube as a conductor.
fn bar_of(frame: &Frame, tube: &Tube) -> Bar {
    let section = &frame.sections[tube.section];
    let m = &frame.materials[section.material];
    let loss = frame.shop.loss_w_m2k.unwrap_or_else(|| usual_loss_w_m2k(section, m, frame.shop.ambient_c));
    Bar::new(
        m.density_kg_m3,
        m.specific_heat_j_kgk,
        m.conductivity_w_mk,
        steel_area_mm2(&section.shape),
        loss,
        air_perimeter_mm(&section.shape),
    )
}

/// Cut one tube between its places and put it into the network.
fn lay_tube(
    network: &mut Network,
    lumps: &[usize],
    on: &[(f64, usize)],
    domain: [f64; 2],
    bar: &Bar,
    settings: &HeatSettings,
) -> Vec<Cell> {
    let mut marks: Vec<(f64, usize, bool)> =
        on.iter().map(|&(s, group)| (s.clamp(domain[0], domain[1]), lumps[group], true)).collect();
    if marks.first().is_none_or(|m| m.0 - domain[0] > SAME_PLACE_MM) {
        marks.insert(0, (domain[0], network.lump(0.0, 0.0), false));
    }
    if marks.last().is_none_or(|m| domain[1] - m.0 > SAME_PLACE_MM) {
        marks.push((domain[1], network.lump(0.0, 0.0), false));
    }
    let mut cells: Vec<Cell> = Vec::new();
    let cell =
        |lump, s_mm| Cell { lump, s_mm, before_mm: 0.0, after_mm: 0.0, capacity_j_k_mm: bar.capacity_j_k_mm };
    cells.push(cell(marks[0].1, marks[0].0));
    for pair in marks.windows(2) {
        let length = (pair[1].0 - pair[0].0).max(1e-3);
        let cuts = cuts(length, [pair[0].2, pair[1].2], settings);
        let line = network.bar([pair[0].1, pair[1].1], &cuts, bar);
        for i in 1..line.len() {
            let half = 0.5 * (cuts[i] - cuts[i - 1]);
            if let Some(last) = cells.last_mut() {
                last.after_mm = half;
            }
            let mut next = cell(line[i], pair[0].0 + cuts[i]);
            next.before_mm = half;
            cells.push(next);
        }
    }
    cells
}

/// Where a length of tube is cut, mm from its start: finely beside a joint, longer farther off.
pub(super) fn cuts(length_mm: f64, joint_at: [bool; 2], settings: &HeatSettings) -> Vec<f64> {
    let size = |from_joint: f64| {
        (settings.cell_mm + (settings.growth - 1.0) * from_joint).min(settings.longest_cell_mm)
    };
    let mut cuts = vec![0.0];
    let mut at = 0.0;
    while at < length_mm {
        let left = if joint_at[0] { at } else { f64::INFINITY };
        let right = if joint_at[1] { length_mm - at } else { f64::INFINITY };
        // On the way to a joint the next cell must be fit for where it ends, not where it begins.
        let towards = (right - settings.cell_mm).max(0.0) / settings.growth;
        at += size(left.min(towards));
        cuts.push(at);
    }
    // Stretch the last cell to the end exactly.
    let scale = length_mm / at;
    for c in &mut cuts {
        *c *= scale;
    }
    let n = settings.refine.max(1);
    let mut fine = vec![0.0];
    for pair in cuts.windows(2) {
        for i in 1..=n {
            fine.push(pair[0] + (pair[1] - pair[0]) * i as f64 / n as f64);
        }
    }
    if let Some(last) = fine.last_mut() {
        *last = length_mm;
    }
    fine
}

/// Lumps within [`MEAN_OVER_MM`] of a lump, along every tube that runs through it, weighted with the
/// capacity that lies within.
fn mean_about(tubes: &[Vec<Cell>], lump: usize) -> Vec<(usize, f64)> {
    let mut weights: BTreeMap<usize, f64> = BTreeMap::new();
    for cells in tubes {
        for centre in cells.iter().filter(|c| c.lump == lump) {
            let (from, to) = (centre.s_mm - MEAN_OVER_MM, centre.s_mm + MEAN_OVER_MM);
            for c in cells {
                let inside = (c.s_mm + c.after_mm).min(to) - (c.s_mm - c.before_mm).max(from);
                if inside > 0.0 {
                    *weights.entry(c.lump).or_default() += inside * c.capacity_j_k_mm;
                }
            }
        }
    }
    let sum: f64 = weights.values().sum();
    if sum <= 0.0 {
        return vec![(lump, 1.0)];
    }
    weights.into_iter().map(|(l, w)| (l, w / sum)).collect()
}

/// A station before lumps have numbers.
struct Spot {
    joint: usize,
    place: usize,
}

/// Places: shared points of tubes. A place is one lump; places within a millimetre on a tube are
/// merged into one group.
struct Places {
    stations: Vec<Spot>,
    station_of: Vec<Vec<usize>>,
    /// For each place the tubes and arc lengths it joins.
    at: Vec<Vec<(usize, f64)>>,
    group: Vec<usize>,
    groups: usize,
    /// Part of each tube that is steel, from and to, mm.
    domain: Vec<[f64; 2]>,
}

impl Places {
    fn find(frame: &Frame, joints: &Joints, seams: &Seams) -> Places {
        let mut domain: Vec<[f64; 2]> = frame.tubes.iter().map(|t| [0.0, t.length_mm()]).collect();
        // A branch begins where its seam lies, not at the carrier's axis.
        for (index, meet) in joints.meets.iter().enumerate() {
            if let Some(end) = end_of(frame, meet) {
                let (tube, s) = meet.branch;
                let length = domain[tube][1];
                let seam_s = frame.tubes[tube].nearest(seams.seams[index].centre).0;
                let trim = (seam_s - s).abs().min(length / 3.0);
                domain[tube][end] = if end == 0 { trim } else { length - trim };
            }
        }
        let mut places = Places {
            stations: Vec::new(),
            station_of: Vec::new(),
            at: Vec::new(),
            group: Vec::new(),
            groups: 0,
            domain,
        };
        for (j, joint) in joints.joints.iter().enumerate() {
            let place = places.place(joint.tubes.clone());
            places.stations.push(Spot { joint: j, place });
        }
        for (index, meet) in joints.meets.iter().enumerate() {
            let of = places.stations_along(frame, meet, &seams.seams[index]);
            places.station_of.push(of);
        }
        places.merge();
        places
    }

    fn place(&mut self, tubes: Vec<(usize, f64)>) -> usize {
        self.at.push(tubes);
        self.at.len() - 1
    }

    /// The station of each segment of a seam; long seams get stations of their own.
    fn stations_along(&mut self, frame: &Frame, meet: &Meet, seam: &crate::seam::Seam) -> Vec<usize> {
        if !long(meet.kind) {
            return vec![meet.joint; seam.segments.len()];
        }
        let (tube, middle) = meet.branch;
        let mut bins: BTreeMap<i64, usize> = BTreeMap::new();
        let mut of = Vec::with_capacity(seam.segments.len());
        for segment in &seam.segments {
            let s = frame.tubes[tube].nearest(segment.mid.at).0;
            let bin = ((s - middle) / STATION_MM).round() as i64;
            if bin == 0 {
                of.push(meet.joint);
                continue;
            }
            let station = *bins.entry(bin).or_insert_with(|| {
                let s = (middle + bin as f64 * STATION_MM).clamp(0.0, self.domain[tube][1]);
                let at = frame.tubes[tube].point_at(s);
                let carriers = meet.carriers.iter().map(|c| (c.0, frame.tubes[c.0].nearest(at).0));
                let tubes = std::iter::once((tube, s)).chain(carriers).collect();
                self.at.push(tubes);
                self.stations.push(Spot { joint: meet.joint, place: self.at.len() - 1 });
                self.stations.len() - 1
            });
            of.push(station);
        }
        of
    }

    /// Join places that lie within a millimetre of each other on one tube.
    fn merge(&mut self) {
        let mut root: Vec<usize> = (0..self.at.len()).collect();
        fn find(root: &mut [usize], mut i: usize) -> usize {
            while root[i] != i {
                root[i] = root[root[i]];
                i = root[i];
            }
            i
        }
        for tube in 0..self.domain.len() {
            let mut on = self.raw_on_tube(tube);
            on.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
            for pair in on.windows(2) {
                if pair[1].0 - pair[0].0 < SAME_PLACE_MM {
                    let (a, b) = (find(&mut root, pair[0].1), find(&mut root, pair[1].1));
                    root[a.max(b)] = a.min(b);
                }
            }
        }
        let mut number: BTreeMap<usize, usize> = BTreeMap::new();
        for i in 0..self.at.len() {
            let r = find(&mut root, i);
            let next = number.len();
            self.group.push(*number.entry(r).or_insert(next));
        }
        self.groups = number.len();
    }

    fn group_of(&self, place: usize) -> usize {
        self.group[place]
    }

    /// (arc length within the steel, place) on a tube.
    fn raw_on_tube(&self, tube: usize) -> Vec<(f64, usize)> {
        let [from, to] = self.domain[tube];
        let mut on = Vec::new();
        for (place, tubes) in self.at.iter().enumerate() {
            for &(t, s) in tubes {
                if t == tube {
                    on.push((s.clamp(from, to), place));
                }
            }
        }
        on
    }

    /// (arc length, group) on a tube, growing, one entry for each group that follows another.
    fn on_tube(&self, tube: usize) -> Vec<(f64, usize)> {
        let mut on: Vec<(f64, usize)> =
            self.raw_on_tube(tube).into_iter().map(|(s, p)| (s, self.group[p])).collect();
        on.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        on.dedup_by(|next, kept| next.1 == kept.1);
        on
    }
}

/// Seams that may run a long way along a tube.
fn long(kind: MeetKind) -> bool {
    matches!(kind, MeetKind::Along | MeetKind::Pad | MeetKind::Lap | MeetKind::Slot)
}

/// Which end of the branch is welded (0 start, 1 end), if the meet is one of an end.
fn end_of(frame: &Frame, meet: &Meet) -> Option<usize> {
    if long(meet.kind) || matches!(meet.kind, MeetKind::Butt | MeetKind::Mitre) {
        return None;
    }
    let (tube, s) = meet.branch;
    let length = frame.tubes[tube].length_mm();
    match s {
        s if s < 1e-6 => Some(0),
        s if s > length - 1e-6 => Some(1),
        _ => None,
    }
}

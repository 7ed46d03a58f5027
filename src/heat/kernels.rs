//! Kernels: how warm a place gets, and how much heat a tube holds, from one joule at another place.
//! Worked out once per frame; every order is then a sum of them.

use super::mesh::{HeatSettings, Mesh};
use super::network::{March, Network};
use crate::frame::{Frame, Shop};
use crate::joint::Joints;
use crate::procedure::Passes;
use crate::seam::Seams;
use rayon::prelude::*;
use std::cmp::Reverse;
use std::collections::BinaryHeap;

/// All kernels of a frame, with what a clock needs to know of its passes.
#[derive(Debug, Clone)]
pub struct Kernels {
    /// Of each station: the stations it hears, by number, each with its kernel (K per J).
    pub(super) heard: Vec<Vec<(usize, Curve)>>,
    /// Of each station: the tubes that take its heat, with their kernels (J per J).
    pub(super) taken: Vec<Bundle>,
    /// Heat capacity of each tube, J/K.
    pub(super) tube_j_k: Vec<f64>,
    /// Stations of each joint, the joint itself first.
    pub(super) of_joint: Vec<Vec<usize>>,
    /// What each pass does.
    pub(super) passes: Vec<PassHeat>,
    /// Seconds and temperatures of the shop.
    pub(super) shop: ShopTimes,
}

/// What a pass does to the steel, and what it asks of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PassHeat {
    /// Where.
    pub station: usize,
    /// The joint.
    pub joint: usize,
    /// Net power while the arc burns, W.
    pub power_w: f64,
    /// Arc time, s.
    pub arc_s: f64,
    /// Its joint must be at or below this before it, °C.
    pub limit_c: f64,
    /// There is a layer below it that has to be cleaned first.
    pub on_layer: bool,
}

/// Seconds and temperatures of the shop.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShopTimes {
    /// Air, °C.
    pub ambient_c: f64,
    /// To another joint, s.
    pub move_s: f64,
    /// Cleaning a bead before the next layer, s.
    pub clean_s: f64,
    /// Turning the frame, s.
    pub turn_s: f64,
}

impl ShopTimes {
    /// From the frame's shop.
    pub fn of(shop: &Shop) -> Self {
        ShopTimes {
            ambient_c: shop.ambient_c,
            move_s: shop.move_s,
            clean_s: shop.clean_s,
            turn_s: 60.0 * shop.turn_min,
        }
    }
}

impl Kernels {
    /// The kernels of a frame.
    ///
    /// Heat is followed along the steel until a steady temperature would have fallen by e nine times
    /// (without loss: everywhere); beyond, the steel is taken as not there. Its share would be less
    /// than one part in 8,000.
    pub fn new(frame: &Frame, joints: &Joints, seams: &Seams, passes: &Passes) -> Kernels {
        Kernels::with(frame, joints, seams, passes, &HeatSettings::default())
    }

    /// As [`Kernels::new`], with other settings of the network.
    pub fn with(
        frame: &Frame,
        joints: &Joints,
        seams: &Seams,
        passes: &Passes,
        settings: &HeatSettings,
    ) -> Kernels {
        let mesh = Mesh::of(frame, joints, seams, settings);
        let heats = passes
            .passes
            .iter()
            .map(|p| PassHeat {
                station: mesh.station_of[p.seam][p.segment],
                joint: p.joint,
                power_w: p.energy_j / p.arc_s,
                arc_s: p.arc_s,
                limit_c: passes.settings[p.settings].interpass_c,
                on_layer: p.below.is_some(),
            })
            .collect();
        Kernels::of_mesh(&mesh, heats, ShopTimes::of(&frame.shop), FOLDS)
    }

    /// Kernels of any network, followed along its paths for so many e-folding
    /// lengths.
    pub fn of_mesh(mesh: &Mesh, passes: Vec<PassHeat>, shop: ShopTimes, folds: f64) -> Kernels {
        let roads = Roads::of(&mesh.network);
        let owners = owners(mesh);
        let from_each: Vec<FromStation> = (0..mesh.stations.len())
            .into_par_iter()
            .map(|i| follow(mesh, &roads, &owners, i, folds))
            .collect();
        let joints = mesh.stations.iter().map(|s| s.joint + 1).max().unwrap_or(0);
        let mut of_joint = vec![Vec::new(); joints];
        for (i, s) in mesh.stations.iter().enumerate() {
            of_joint[s.joint].push(i);
        }
        let mut heard = vec![Vec::new(); mesh.stations.len()];
        let mut taken = Vec::with_capacity(mesh.stations.len());
        for (source, from) in from_each.into_iter().enumerate() {
            for (to, curve) in from.stations {
                heard[to].push((source, curve));
            }
            taken.push(from.tubes);
        }
        let tube_j_k = mesh.tubes.iter().map(|t| t.iter().map(|c| c.1).sum()).collect();
        Kernels { heard, taken, tube_j_k, of_joint, passes, shop }
    }

    /// Rise of a station, K, `t_s` seconds after one joule went in at another at once.
    pub fn rise_k_per_j(&self, at: usize, source: usize, t_s: f64) -> f64 {
        self.heard[at].iter().find(|(s, _)| *s == source).map_or(0.0, |(_, c)| c.rate(t_s))
    }

    /// Heat held by a tube, J, `t_s` seconds after one joule went in at a station at once.
    pub fn held_j_per_j(&self, tube: usize, source: usize, t_s: f64) -> f64 {
        let bundle = &self.taken[source];
        let mut held = vec![0.0; self.tube_j_k.len()];
        bundle.add_rate(t_s, 1.0, &mut held);
        held[tube]
    }

    /// What each pass does.
    pub fn passes(&self) -> &[PassHeat] {
        &self.passes
    }

    /// Number of joints.
    pub fn joints(&self) -> usize {
        self.of_joint.len()
    }

    /// Number of tubes.
    pub fn tubes(&self) -> usize {
        self.tube_j_k.len()
    }

    /// Air temperature, °C.
    pub fn ambient_c(&self) -> f64 {
        self.shop.ambient_c
    }
}

/// How many e-folding lengths heat is followed.
const FOLDS: f64 = 9.0;
/// Kernels that never exceed this fraction of their source's own are left out.
const NEGLIGIBLE: f64 = 1e-5;

/// The time grid: eight pieces of 1/16 s, then eight equal pieces to every doubling of time, up to
/// 2¹⁵ s (nine hours). A piece is found from the bits of the time, without a logarithm.
mod grid {
    pub const FIRST_S: f64 = 0.5;
    const PER_OCTAVE: usize = 8;
    const LAST_OCTAVE: usize = 15;
    pub const PIECES: usize = PER_OCTAVE * (LAST_OCTAVE + 2);

    /// Start and length of a piece, s.
    pub fn piece(k: usize) -> (f64, f64) {
        if k < PER_OCTAVE {
            let length = FIRST_S / PER_OCTAVE as f64;
            return (k as f64 * length, length);
        }
        let octave = FIRST_S * (1u64 << (k / PER_OCTAVE - 1)) as f64;
        let length = octave / PER_OCTAVE as f64;
        (octave + (k % PER_OCTAVE) as f64 * length, length)
    }

    /// The piece that holds a time ≥ 0 (may be past the end).
    pub fn find(t_s: f64) -> usize {
        if t_s < FIRST_S {
            return (t_s * (PER_OCTAVE as f64 / FIRST_S)) as usize;
        }
        // Bits of an f64: exponent (biased by 1023), then the mantissa; 0.5 has exponent −1.
        let bits = t_s.to_bits();
        let octave = (bits >> 52) as usize + 1 - 1023;
        let part = (bits >> 49) as usize & (PER_OCTAVE - 1);
        PER_OCTAVE + octave * PER_OCTAVE + part
    }
}

/// A kernel: its integral over time and its value at the nodes of the time grid, interpolated by
/// cubics that agree with both.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve {
    /// Integral and value at each node.
    nodes: Vec<[f64; 2]>,
}

/// Where a time lies in the grid, and what the two nodes beside it weigh.
enum At {
    /// Piece, and weights of integral and value at its start and end.
    Within(usize, [f64; 4]),
    /// Seconds after the last node.
    Past(f64),
}

/// Weights for the integral at `t_s` (from 0) of a curve with `nodes` nodes.
fn integral_at(t_s: f64, nodes: usize) -> At {
    let k = grid::find(t_s);
    if k + 1 >= nodes {
        return At::Past(t_s - grid::piece(nodes - 1).0);
    }
    let (start, length) = grid::piece(k);
    let u = (t_s - start) / length;
    let v = 1.0 - u;
    At::Within(k, [v * v * (1.0 + 2.0 * u), v * v * u * length, u * u * (1.0 + 2.0 * v), -u * u * v * length])
}

/// Weights for the value at `t_s`: the slope of the integral.
fn rate_at(t_s: f64, nodes: usize) -> At {
    let k = grid::find(t_s);
    if k + 1 >= nodes {
        return At::Past(t_s - grid::piece(nodes - 1).0);
    }
    let (start, length) = grid::piece(k);
    let u = (t_s - start) / length;
    let slope = 6.0 * u * (1.0 - u) / length;
    At::Within(k, [-slope, (1.0 - u) * (1.0 - 3.0 * u), slope, u * (3.0 * u - 2.0)])
}

fn weigh(w: &[f64; 4], a: [f64; 2], b: [f64; 2]) -> f64 {
    w[0] * a[0] + w[1] * a[1] + w[2] * b[0] + w[3] * b[1]
}

impl Curve {
    /// Integral from 0 to `t_s`; 0 before. After the last node the value stays what it was there:
    /// next to nothing with loss, the level of the whole frame without.
    pub fn integral(&self, t_s: f64) -> f64 {
        if t_s <= 0.0 {
            return 0.0;
        }
        match integral_at(t_s, self.nodes.len()) {
            At::Within(k, w) => weigh(&w, self.nodes[k], self.nodes[k + 1]),
            At::Past(after) => {
                let [s, g] = self.nodes[self.nodes.len() - 1];
                s + g * after
            }
        }
    }

    /// Value at `t_s`; 0 before 0.
    pub fn rate(&self, t_s: f64) -> f64 {
        if t_s < 0.0 {
            return 0.0;
        }
        match rate_at(t_s, self.nodes.len()) {
            At::Within(k, w) => weigh(&w, self.nodes[k], self.nodes[k + 1]),
            At::Past(_) => self.nodes[self.nodes.len() - 1][1],
        }
    }
}

/// The kernels of all tubes that one station heats, node by node, so that one look at the time
/// serves them all.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Bundle {
    tubes: Vec<usize>,
    /// `[node][tube]`
    nodes: Vec<[f64; 2]>,
}

impl Bundle {
    fn of(curves: Vec<(usize, Curve)>) -> Bundle {
        let count = curves.first().map_or(0, |(_, c)| c.nodes.len());
        let nodes = (0..count).flat_map(|k| curves.iter().map(move |(_, c)| c.nodes[k])).collect();
        Bundle { tubes: curves.iter().map(|(tube, _)| *tube).collect(), nodes }
    }

    fn add(&self, at: At, factor: f64, past: impl Fn([f64; 2], f64) -> f64, to: &mut [f64]) {
        let n = self.tubes.len();
        match at {
            At::Within(k, w) => {
                let (a, b) = (&self.nodes[k * n..(k + 1) * n], &self.nodes[(k + 1) * n..(k + 2) * n]);
                for ((tube, a), b) in self.tubes.iter().zip(a).zip(b) {
                    to[*tube] += factor * weigh(&w, *a, *b);
                }
            }
            At::Past(after) => {
                for (tube, last) in self.tubes.iter().zip(&self.nodes[self.nodes.len() - n..]) {
                    to[*tube] += factor * past(*last, after);
                }
            }
        }
    }

    fn count(&self) -> usize {
        self.nodes.len().checked_div(self.tubes.len()).unwrap_or(0)
    }

    /// Add `factor` times the integral from 0 to `t_s` of each tube's kernel.
    pub fn add_integral(&self, t_s: f64, factor: f64, to: &mut [f64]) {
        if t_s > 0.0 && !self.tubes.is_empty() {
            self.add(integral_at(t_s, self.count()), factor, |[s, g], after| s + g * after, to);
        }
    }

    /// Add `factor` times the value at `t_s` of each tube's kernel.
    pub fn add_rate(&self, t_s: f64, factor: f64, to: &mut [f64]) {
        if t_s >= 0.0 && !self.tubes.is_empty() {
            self.add(rate_at(t_s, self.count()), factor, |[_, g], _| g, to);
        }
    }
}

/// Paths at each lump: (neighbour, link).
struct Roads(Vec<Vec<(usize, usize)>>);

impl Roads {
    fn of(network: &Network) -> Roads {
        let mut roads = vec![Vec::new(); network.len()];
        for (which, &(a, b, _)) in network.links.iter().enumerate() {
            roads[a].push((b, which));
            roads[b].push((a, which));
        }
        Roads(roads)
    }

    /// Lumps within reach of one, with their distance, farthest first.
    fn around(&self, network: &Network, start: usize, folds: f64) -> Vec<(f64, usize)> {
        #[derive(PartialEq)]
        struct Far(f64);
        impl Eq for Far {}
        impl PartialOrd for Far {
            fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
                Some(self.cmp(other))
            }
        }
        impl Ord for Far {
            fn cmp(&self, other: &Self) -> std::cmp::Ordering {
                self.0.total_cmp(&other.0)
            }
        }
        let mut best = std::collections::BTreeMap::from([(start, 0.0)]);
        let mut queue = BinaryHeap::from([Reverse((Far(0.0), start))]);
        while let Some(Reverse((Far(d), lump))) = queue.pop() {
            if d > best[&lump] {
                continue;
            }
            for &(next, link) in &self.0[lump] {
                let further = d + network.folds[link];
                if further <= folds && best.get(&next).is_none_or(|b| further < *b) {
                    best.insert(next, further);
                    queue.push(Reverse((Far(further), next)));
                }
            }
        }
        let mut found: Vec<(f64, usize)> = best.into_iter().map(|(lump, d)| (d, lump)).collect();
        found.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        found
    }
}

/// For each lump the tubes it is part of, with capacity, J/K.
fn owners(mesh: &Mesh) -> Vec<Vec<(usize, f64)>> {
    let mut owners = vec![Vec::new(); mesh.network.len()];
    for (tube, cells) in mesh.tubes.iter().enumerate() {
        for &(lump, capacity) in cells {
            owners[lump].push((tube, capacity));
        }
    }
    owners
}

struct FromStation {
    stations: Vec<(usize, Curve)>,
    tubes: Bundle,
}

/// Something watched while the heat of one station spreads: local lumps with weights.
struct Watch {
    what: usize,
    of: Vec<(usize, f64)>,
    nodes: Vec<[f64; 2]>,
    most: f64,
}

impl Watch {
    fn new(what: usize, of: Vec<(usize, f64)>) -> Self {
        Watch { what, of, nodes: Vec::new(), most: 0.0 }
    }

    fn read(&mut self, march: &March) {
        let sum = |values: &[f64]| self.of.iter().map(|&(i, w)| w * values[i]).sum::<f64>();
        let (integral, value) = (sum(&march.integral_k_s), sum(&march.rise_k));
        self.most = self.most.max(value.abs());
        self.nodes.push([integral, value]);
    }

    fn curves(watches: Vec<Watch>, least: f64) -> Vec<(usize, Curve)> {
        watches.into_iter().filter(|w| w.most > least).map(|w| (w.what, Curve { nodes: w.nodes })).collect()
    }
}

/// Let one joule go in at a station and watch the steel within reach.
fn follow(
    mesh: &Mesh,
    roads: &Roads,
    owners: &[Vec<(usize, f64)>],
    source: usize,
    folds: f64,
) -> FromStation {
    let around = roads.around(&mesh.network, mesh.stations[source].lump, folds);
    // Numbered farthest first: eliminated from the far ends, which fills in least.
    let mut local_of = std::collections::BTreeMap::new();
    let mut net = Network::default();
    for &(_, lump) in &around {
        local_of.insert(lump, net.lump(mesh.network.capacity_j_k[lump], mesh.network.loss_w_k[lump]));
    }
    for &(_, lump) in &around {
        for &(next, link) in &roads.0[lump] {
            if let (true, Some(&b)) = (lump < next, local_of.get(&next)) {
                let conductance = mesh.network.links[link].2;
                net.link(local_of[&lump], b, conductance, mesh.network.folds[link]);
            }
        }
    }
    let mut stations = Vec::new();
    for (i, station) in mesh.stations.iter().enumerate() {
        let local: Option<Vec<(usize, f64)>> =
            station.mean.iter().map(|&(lump, w)| local_of.get(&lump).map(|&l| (l, w))).collect();
        if let Some(of) = local {
            stations.push(Watch::new(i, of));
        }
    }
    let mut by_tube: std::collections::BTreeMap<usize, Vec<(usize, f64)>> = Default::default();
    for &(_, lump) in &around {
        for &(tube, capacity) in &owners[lump] {
            by_tube.entry(tube).or_default().push((local_of[&lump], capacity));
        }
    }
    let mut tubes: Vec<Watch> = by_tube.into_iter().map(|(tube, of)| Watch::new(tube, of)).collect();

    let mut march = March::new(&net);
    march.heat(local_of[&mesh.stations[source].lump], 1.0);
    let mut watch_all = |march: &March| {
        stations.iter_mut().chain(tubes.iter_mut()).for_each(|w| w.read(march));
    };
    watch_all(&march);
    for k in 0..grid::PIECES {
        let (_, length) = grid::piece(k);
        // One step is an eighth of the time gone by or less: below 0.01 % beside the closed form.
        march.step(length, &[]);
        watch_all(&march);
        // All but one part in 1e8 has gone into the air.
        if march.stored_j().abs() < 1e-8 {
            break;
        }
    }
    let own = stations.iter().find(|w| w.what == source).map_or(0.0, |w| w.most);
    FromStation {
        stations: Watch::curves(stations, NEGLIGIBLE * own),
        tubes: Bundle::of(Watch::curves(tubes, NEGLIGIBLE)),
    }
}

#[cfg(test)]
mod tests {
    use super::grid;

    #[test]
    fn pieces_follow_each_other_and_are_found() {
        let mut end = 0.0;
        for k in 0..grid::PIECES {
            let (start, length) = grid::piece(k);
            assert_eq!(start, end, "{k}");
            assert_eq!(grid::find(start), k);
            assert_eq!(grid::find(start + 0.999 * length), k);
            end = start + length;
        }
        assert_eq!(end, 32768.0);
        assert_eq!(grid::find(end), grid::PIECES);
    }
}

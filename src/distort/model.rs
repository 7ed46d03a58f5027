//! The model of one frame, built once: compliances between everything that can be pulled.
//!
//! Tubes stand alone in the structure; their rigid motions are kept apart exactly, so that nothing
//! is lost between a tube on rest springs of 0.001 N/mm and a joint of 100 000 N/mm.

use super::constants as c;
use super::controls;
use super::ring::{self, Fibre, Parts, Port, PortKind, Ring, Spring};
use super::shrink;
use super::structure::{Row, Structure, along, dense_solve, rotation, translation};
use super::{Level, Tack};
use crate::fault::Fault;
use crate::frame::Frame;
use crate::joint::Joints;
use crate::numbers::dense::{Dense, symmetric_eigen};
use crate::procedure::Passes;
use crate::seam::Seams;
use faer::Mat;
use glam::DVec3;
use std::collections::BTreeMap;
use std::sync::{Arc, OnceLock, RwLock};

/// The pull model of a frame.
pub struct Model {
    pub(super) frame: Frame,
    pub(super) joints: Joints,
    pub(super) seams: Seams,
    pub(super) passes: Passes,
    pub(super) structure: Structure,
    pub(super) parts: Parts,
    pub(super) rings: Vec<Ring>,
    /// Tube that carries the three-two-one hold.
    pub(super) datum: usize,
    pub(super) size: Sizes,
    /// Compliance without any joint, each tube held: rows ports, controls, heat, walls; columns ports.
    pub(super) c_el: Dense,
    /// Rows controls, columns heat then walls.
    pub(super) c_h: Dense,
    /// Rigid motions under ports and controls.
    pub(super) rigid: Vec<Vec<(usize, [f64; 6])>>,
    coarse: Vec<Vec<Fibre>>,
    fine: Vec<Vec<Fibre>>,
    /// Net heat with which the tacks of each seam are laid, J/mm.
    tack_q_j_mm: Vec<f64>,
    /// Factor on all joints' flexibility, and the re-melted fraction if it is not the usual one.
    pub(super) varied: (f64, Option<f64>),
    /// Shares of tacks that were asked for before, by seam, heat and length: each is a search of its own.
    shares: RwLock<BTreeMap<(usize, u64, u64), f64>>,
    /// Evenly tacked, coarse and fine: worked out once, when first asked for.
    even: [OnceLock<Option<Arc<Start>>>; 2],
}

/// How many rows of each sort.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sizes {
    /// Coordinates of all ports.
    pub ports: usize,
    /// Controls.
    pub controls: usize,
    /// Tubes that can be warm.
    pub heat: usize,
    /// Unit wall loads.
    pub walls: usize,
}

/// What an evaluation may vary.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Options {
    /// Factor on the joints' flexibility.
    pub flex: f64,
    /// Factor on the clamps' stiffness.
    pub clamp: f64,
    /// True: contributions of joints and tubes are carried as well (slower).
    pub shares: bool,
}

impl Default for Options {
    fn default() -> Self {
        Options { flex: 1.0, clamp: 1.0, shares: false }
    }
}

/// Compliance of a frame in some state of joining: the start of an evaluation.
pub(super) struct Start {
    /// Where each port's coordinates are, if it is in use.
    pub off: Vec<Option<usize>>,
    /// Coordinates in use.
    pub n: usize,
    /// Rows: ports in use, controls, heat, walls; columns: ports in use.
    pub c: Dense,
    /// Rows controls; columns heat, walls.
    pub c_h: Dense,
}

impl Model {
    /// Build the model.
    ///
    /// # Errors
    /// `E601` for every tube that nothing holds once all joints are tacked and clamped.
    pub fn new(frame: &Frame, joints: &Joints, seams: &Seams, passes: &Passes) -> Result<Model, Vec<Fault>> {
        let mut stations = ring::stations(frame, joints, seams);
        for clamp in &frame.clamps {
            stations[clamp.tube].at.push(clamp.at_mm);
        }
        for spot in frame.controls.iter().flat_map(|k| controls::spots(&k.kind)) {
            stations[spot.tube].at.push(spot.s_mm);
        }
        let st = Structure::new(frame, &stations);
        let mut parts = Parts::default();
        let rings: Vec<Ring> = joints
            .meets
            .iter()
            .zip(&seams.seams)
            .enumerate()
            .map(|(i, (meet, seam))| ring::ring(frame, meet, seam, i, &st, &mut parts))
            .collect();
        let datum = longest(frame);
        ground_ports(frame, &st, datum, &mut parts);

        let h: Vec<Row> = frame.controls.iter().map(|k| controls::functional(&k.kind, frame, &st)).collect();
        let f: Vec<Row> = (0..frame.tubes.len())
            .map(|t| {
                st.stretch_load(
                    t,
                    frame.materials[frame.sections[frame.tubes[t].section].material].alpha_per_k,
                )
            })
            .collect();
        let size =
            Sizes { ports: parts.rows.len(), controls: h.len(), heat: f.len(), walls: parts.loads.len() };
        let x = st.solve(&parts.rows);
        let rows = || parts.rows.iter().chain(&h).chain(&f).chain(&parts.loads);
        let c_el = read_all(&st, rows(), &x, size.ports + size.controls + size.heat + size.walls, size.ports);
        let x = st.solve(&h);
        let c_h = read_all(&st, f.iter().chain(&parts.loads), &x, size.heat + size.walls, size.controls)
            .transpose();
        let rigid = parts.rows.iter().chain(&h).map(|r| st.rigid(r)).collect();

        let mut model = Model {
            frame: frame.clone(),
            joints: joints.clone(),
            seams: seams.clone(),
            passes: passes.clone(),
            structure: st,
            parts,
            rings,
            datum,
            size,
            c_el,
            c_h,
            rigid,
            coarse: Vec::new(),
            fine: Vec::new(),
            tack_q_j_mm: tack_heat(seams, passes),
            varied: (1.0, None),
            shares: RwLock::default(),
            even: [OnceLock::new(), OnceLock::new()],
        };
        let lay = |level| {
            (0..passes.passes.len())
                .map(|p| {
                    let s = passes.passes[p].seam;
                    model.rings[s].pass(
                        frame,
                        &joints.meets[s],
                        &seams.seams[s],
                        &model.parts,
                        passes,
                        p,
                        level,
                    )
                })
                .collect::<Vec<_>>()
        };
        let (coarse, fine) = (lay(Level::Coarse), lay(Level::Fine));
        model.coarse = coarse;
        model.fine = fine;
        model.loose_tubes()?;
        Ok(model)
    }

    /// The fibres of a pass, in its direction of travel.
    pub(super) fn pass_fibres(&self, pass: usize, forward: bool, level: Level) -> Vec<Fibre> {
        let list = match level {
            Level::Coarse => &self.coarse[pass],
            Level::Fine => &self.fine[pass],
        };
        let mut out = list.clone();
        if !forward {
            out.reverse();
        }
        out
    }
    /// The fibre of a tack.
    pub(super) fn tack_fibre(&self, tack: &Tack, level: Level) -> Fibre {
        let s = tack.seam;
        let q = self.tack_q_j_mm[s];
        let tack = &Tack { pull: tack.pull * self.tack_share(s, q, tack.length_mm), ..*tack };
        self.rings[s].tack(
            &self.frame,
            &self.joints.meets[s],
            &self.seams.seams[s],
            &self.parts,
            tack,
            q,
            level,
        )
    }
    /// The same frame with joints so many times as flexible, and with another re-melted fraction (of
    /// tacks and neighbouring fibres alike): for asking how much hangs on numbers that nobody knows well.
    pub fn vary(&mut self, flexibility: f64, remelted: Option<f64>) {
        self.varied = (flexibility, remelted);
        self.even = [OnceLock::new(), OnceLock::new()];
    }
    /// The tacks were laid with this heat (net J/mm, by seam), whatever the passes are laid with.
    pub fn set_tack_heat(&mut self, q_j_mm: Vec<f64>) {
        self.tack_q_j_mm = q_j_mm;
    }
    /// Shrinkage of a tack per millimetre of its length against the passes of its seam (mean length).
    pub fn tack_share(&self, seam: usize, q_j_mm: f64, tack_mm: f64) -> f64 {
        let key = (seam, q_j_mm.to_bits(), tack_mm.to_bits());
        if let Some(share) = self.shares.read().ok().and_then(|s| s.get(&key).copied()) {
            return share;
        }
        let first = self.passes.passes.iter().filter(|p| p.seam == seam && p.layer == 0);
        let (n, sum) = first.fold((0, 0.0), |(n, sum), p| (n + 1, sum + p.length_mm));
        let branch = self.joints.meets[seam].branch.0;
        let material = &self.frame.materials[self.frame.sections[self.frame.tubes[branch].section].material];
        let [a, b] = self.seams.seams[seam].walls_mm;
        let share = shrink::tack_share(material, 0.5 * (a + b), q_j_mm, tack_mm, sum / f64::from(n.max(1)));
        if let Ok(mut known) = self.shares.write() {
            known.insert(key, share);
        }
        share
    }
    /// Tacks laid evenly on every seam.
    pub fn default_tacks(&self) -> Vec<Tack> {
        self.seams.seams.iter().enumerate().flat_map(|(i, s)| ring::default_tacks(s, i)).collect()
    }
    /// Clamps of a setup.
    pub(super) fn clamps_of(&self, setup: usize) -> Vec<usize> {
        (0..self.frame.clamps.len())
            .filter(|c| {
                self.frame.clamps[*c].setups.is_empty() || self.frame.clamps[*c].setups.contains(&setup)
            })
            .collect()
    }
    /// Port of a clamp.
    pub(super) fn clamp_port(&self, clamp: usize) -> usize {
        self.find(PortKind::Clamp(clamp))
    }
    pub(super) fn find(&self, kind: PortKind) -> usize {
        self.parts
            .ports
            .iter()
            .position(|p| p.kind == kind)
            .expect("every clamp, tube and the hold has a port")
    }
    /// Springs of a clamp.
    pub(super) fn clamp_springs(&self, clamp: usize, factor: f64) -> Vec<Spring> {
        let clamp = &self.frame.clamps[clamp];
        (0..clamp.holds.len())
            .map(|i| {
                let mut b = [0.0; 6];
                b[i] = 1.0;
                (b, clamp.stiffness_n_mm * factor)
            })
            .collect()
    }
    /// Springs of the three-two-one hold for the rigid motions that the given clamps leave.
    pub(super) fn hold_springs(&self, clamps: &[usize]) -> Vec<Spring> {
        let origin = self.structure.nodes[self.structure.held[self.datum]].at;
        let scale = self.reach();
        let mut gram = Dense::zeros(6, 6);
        for clamp in clamps.iter().map(|c| &self.frame.clamps[*c]) {
            let t = &self.frame.tubes[clamp.tube];
            let arm = (along(&t.axis, &t.s, clamp.at_mm).0 - origin) / scale;
            for d in &clamp.holds {
                let m = arm.cross(*d);
                let v = [d.x, d.y, d.z, m.x, m.y, m.z];
                for i in 0..6 {
                    for j in 0..6 {
                        *gram.at_mut(i, j) += v[i] * v[j];
                    }
                }
            }
        }
        let (values, vectors) = symmetric_eigen(&gram);
        let most = values.iter().copied().fold(0.0, f64::max);
        (0..6)
            .filter(|i| values[*i] <= 1e-9 * most.max(1e-9))
            .map(|i| {
                let mut b: [f64; 6] = std::array::from_fn(|k| vectors.at(k, i));
                for v in &mut b[3..] {
                    *v *= scale;
                }
                (b, c::HOLD_N_MM)
            })
            .collect()
    }
    /// Half the size of the frame, mm: the scale of rotations.
    pub(super) fn reach(&self) -> f64 {
        let origin = self.structure.nodes[self.structure.held[self.datum]].at;
        self.structure.nodes.iter().map(|n| n.at.distance(origin)).fold(1.0, f64::max)
    }
    /// Stiffness of a tube's rest springs.
    pub(super) fn rest_springs(&self, tube: usize) -> Vec<Spring> {
        let t = &self.frame.tubes[tube];
        let half = (0.5 * t.s[t.s.len() - 1]).max(50.0);
        (0..6)
            .map(|i| {
                let mut b = [0.0; 6];
                b[i] = 1.0;
                (b, if i < 3 { c::REST_N_MM } else { c::REST_N_MM * half * half })
            })
            .collect()
    }

    /// Compliance of the loose structure: every tube on its rest springs alone.
    pub(super) fn loose(&self, options: &Options) -> Start {
        let off: Vec<Option<usize>> = self.parts.ports.iter().map(|p| Some(p.first)).collect();
        let rest: Vec<Vec<Spring>> = (0..self.frame.tubes.len()).map(|t| self.rest_springs(t)).collect();
        let mut cm = self.c_el.clone();
        self.add_flex(&mut cm, &off, options.flex);
        for i in 0..self.size.ports + self.size.controls {
            for j in 0..self.size.ports {
                let mut sum = 0.0;
                for (t, a) in &self.rigid[i] {
                    for (u, b) in &self.rigid[j] {
                        if t == u {
                            sum += (0..6).map(|q| a[q] * b[q] / rest[*t][q].1).sum::<f64>();
                        }
                    }
                }
                *cm.at_mut(i, j) += sum;
            }
        }
        Start { off, n: self.size.ports, c: cm, c_h: self.c_h.clone() }
    }

    /// Compliance with the given springs (port, spring) in place from the start and no rest springs;
    /// `None` if something can still move.
    pub(super) fn joined(&self, springs: &[(usize, Spring)], options: &Options) -> Option<Start> {
        let mut off = Vec::new();
        let mut keep = Vec::new();
        for p in &self.parts.ports {
            let used = !matches!(p.kind, PortKind::Rest(_));
            off.push(used.then_some(keep.len()));
            if used {
                keep.extend(p.first..p.first + p.len);
            }
        }
        let n = keep.len();
        let Sizes { ports, controls, heat, walls } = self.size;
        let rows: Vec<usize> = keep.iter().copied().chain(ports..ports + controls + heat + walls).collect();
        let mut base = Dense::zeros(rows.len(), n);
        for (i, r) in rows.iter().enumerate() {
            for (j, s) in keep.iter().enumerate() {
                *base.at_mut(i, j) = self.c_el.at(*r, *s);
            }
        }
        self.add_flex(&mut base, &off, options.flex);
        let modes = self.modes(springs, &off);
        let (m, t6) = (modes.len(), 6 * self.frame.tubes.len());
        // q: each row's compliance to the modes, and minus its rigid motions.
        let mut q = Dense::zeros(rows.len(), m + t6);
        for (i, r) in rows.iter().enumerate() {
            for (k, (at, v, _)) in modes.iter().enumerate() {
                *q.at_mut(i, k) = v.iter().enumerate().map(|(d, v)| v * base.at(i, at + d)).sum();
            }
            if let Some(h) = self.rigid.get(*r) {
                for (t, h) in h {
                    for d in 0..6 {
                        *q.at_mut(i, m + 6 * t + d) = -h[d];
                    }
                }
            }
        }
        let mut s = Dense::zeros(m + t6, m + t6);
        for (k, (at, v, stiff)) in modes.iter().enumerate() {
            for col in 0..m + t6 {
                let value: f64 = v.iter().enumerate().map(|(d, v)| v * q.at(at + d, col)).sum();
                *s.at_mut(k, col) = value;
                if col >= m {
                    *s.at_mut(col, k) = value;
                }
            }
            *s.at_mut(k, k) += 1.0 / stiff;
        }
        let sources: Vec<usize> = (0..n + controls).collect();
        let mut rhs = Dense::zeros(m + t6, sources.len());
        for (j, i) in sources.iter().enumerate() {
            for k in 0..m + t6 {
                *rhs.at_mut(k, j) = q.at(*i, k);
            }
        }
        let sol = dense_solve(&s, &rhs)?;
        let drop = q.mul(&sol);
        let mut cm = base;
        for i in 0..rows.len() {
            for j in 0..n {
                *cm.at_mut(i, j) -= drop.at(i, j);
            }
        }
        for i in 0..n {
            for j in 0..i {
                let mean = 0.5 * (cm.at(i, j) + cm.at(j, i));
                *cm.at_mut(i, j) = mean;
                *cm.at_mut(j, i) = mean;
            }
        }
        let mut c_h = self.c_h.clone();
        for r in 0..controls {
            for k in 0..heat + walls {
                *c_h.at_mut(r, k) -= drop.at(n + controls + k, n + r);
            }
        }
        Some(Start { off, n, c: cm, c_h })
    }

    /// Compliance of the frame with these tacks, clamped in its first setup and held.
    pub(super) fn tacked_start(&self, tacks: &[Tack], level: Level, options: &Options) -> Option<Arc<Start>> {
        let work = || self.joined(&self.tacked_springs(tacks, level, options), options).map(Arc::new);
        let usual = options.flex == 1.0 && options.clamp == 1.0 && tacks == self.default_tacks();
        if usual { self.even[usize::from(level == Level::Fine)].get_or_init(work).clone() } else { work() }
    }

    fn add_flex(&self, cm: &mut Dense, off: &[Option<usize>], factor: f64) {
        for (p, port) in self.parts.ports.iter().enumerate() {
            if let (Some(at), false) = (off[p], port.flex.is_empty()) {
                for i in 0..6 {
                    for j in 0..6 {
                        *cm.at_mut(at + i, at + j) += factor * port.flex[6 * i + j];
                    }
                }
            }
        }
    }

    /// The springs of each port summed up to its principal springs: (offset, vector, stiffness).
    fn modes(&self, springs: &[(usize, Spring)], off: &[Option<usize>]) -> Vec<(usize, Vec<f64>, f64)> {
        const ARM_MM: f64 = 20.0;
        let mut out = Vec::new();
        for (p, port) in self.parts.ports.iter().enumerate() {
            let Some(at) = off[p] else { continue };
            let scale = |i: usize| if port.len == 6 && i >= 3 { 1.0 / ARM_MM } else { 1.0 };
            let mut k = Dense::zeros(port.len, port.len);
            let mut any = false;
            for (_, (b, stiff)) in springs.iter().filter(|(q, _)| *q == p) {
                any = true;
                for i in 0..port.len {
                    for j in 0..port.len {
                        *k.at_mut(i, j) += stiff * b[i] * scale(i) * b[j] * scale(j);
                    }
                }
            }
            if !any {
                continue;
            }
            let (values, vectors) = symmetric_eigen(&k);
            let most = values.iter().copied().fold(0.0, f64::max);
            for (m, value) in values.iter().enumerate() {
                if *value > 1e-11 * most {
                    let v = (0..port.len).map(|i| vectors.at(i, m) / scale(i)).collect();
                    out.push((at, v, *value));
                }
            }
        }
        out
    }

    /// Springs of the frame as tacked, with the clamps of a setup and the hold for what they leave.
    pub(super) fn tacked_springs(
        &self,
        tacks: &[Tack],
        level: Level,
        options: &Options,
    ) -> Vec<(usize, Spring)> {
        let mut out = Vec::new();
        for (p, port) in self.parts.ports.iter().enumerate() {
            out.extend(port.contact.iter().map(|s| (p, *s)));
        }
        let clamps = self.clamps_of(0);
        for clamp in &clamps {
            out.extend(
                self.clamp_springs(*clamp, options.clamp).into_iter().map(|s| (self.clamp_port(*clamp), s)),
            );
        }
        let hold = self.find(PortKind::Hold);
        out.extend(self.hold_springs(&clamps).into_iter().map(|s| (hold, s)));
        for tack in tacks {
            let f = self.tack_fibre(tack, level);
            out.extend(f.springs.iter().map(|s| (f.port, *s)));
        }
        out
    }

    /// Names every tube that can still move with all seams tacked.
    fn loose_tubes(&self) -> Result<(), Vec<Fault>> {
        let springs = self.tacked_springs(&self.default_tacks(), Level::Coarse, &Options::default());
        let off: Vec<Option<usize>> = self.parts.ports.iter().map(|p| Some(p.first)).collect();
        let n = 6 * self.frame.tubes.len();
        let scale = self.reach();
        let mut gram = Dense::zeros(n, n);
        for (at, v, stiff) in self.modes(&springs, &off) {
            let mut h = vec![0.0; n];
            for (d, v) in v.iter().enumerate() {
                for (t, r) in &self.rigid[at + d] {
                    for (q, r) in r.iter().enumerate() {
                        h[6 * t + q] += v * r * if q < 3 { 1.0 } else { 1.0 / scale };
                    }
                }
            }
            let used: Vec<usize> = (0..n).filter(|i| h[*i] != 0.0).collect();
            for i in &used {
                for j in &used {
                    // Rank is all that counts; equal weights keep it well conditioned.
                    *gram.at_mut(*i, *j) += h[*i] * h[*j] * stiff.min(1.0);
                }
            }
        }
        if full_rank(&gram) {
            return Ok(());
        }
        let (values, vectors) = symmetric_eigen(&gram);
        let most = values.iter().copied().fold(0.0, f64::max);
        let mut names: Vec<usize> = Vec::new();
        for (i, value) in values.iter().enumerate() {
            if *value < 1e-12 * most {
                let size = |t: usize| (0..6).map(|q| vectors.at(6 * t + q, i).powi(2)).sum::<f64>();
                let top = (0..n / 6).map(size).fold(0.0, f64::max);
                names.extend((0..n / 6).filter(|t| size(*t) > 0.25 * top));
            }
        }
        names.sort_unstable();
        names.dedup();
        Err(names
            .into_iter()
            .map(|t| {
                let tube = &self.frame.tubes[t];
                Fault::new("E601", format!("`{}` can still move when everything is tacked", tube.name))
                    .at(tube.span.clone(), "nothing holds this one in all directions")
                    .help("let it land on another tube, or give its seam more than one weld line")
            })
            .collect())
    }
}

/// The net heat of each seam's first root pass, J/mm: its tacks are laid with it.
pub fn tack_heat(seams: &Seams, passes: &Passes) -> Vec<f64> {
    let root = |s: usize| passes.passes.iter().find(|p| p.seam == s && p.layer == 0);
    (0..seams.seams.len()).map(|s| root(s).map_or(0.0, |p| p.heat_input_j_per_mm)).collect()
}

/// The longest tube: it carries the hold.
fn longest(frame: &Frame) -> usize {
    let length = |t: usize| frame.tubes[t].s[frame.tubes[t].s.len() - 1];
    (0..frame.tubes.len()).rev().max_by(|a, b| length(*a).total_cmp(&length(*b))).unwrap_or(0)
}

fn ground_ports(frame: &Frame, st: &Structure, datum: usize, parts: &mut Parts) {
    let six = |tube: usize| {
        let node = st.held[tube];
        let tie = st.tie(tube, st.nodes[node].s_mm, st.nodes[node].at);
        let mut rows = Vec::new();
        for d in [DVec3::X, DVec3::Y, DVec3::Z] {
            rows.push(translation(&tie, d, 1.0));
        }
        for d in [DVec3::X, DVec3::Y, DVec3::Z] {
            rows.push(rotation(&tie, d, 1.0));
        }
        (rows, st.nodes[node].at)
    };
    let mut add = |kind: PortKind, rows: Vec<Row>, at: DVec3| {
        parts.ports.push(Port {
            first: parts.rows.len(),
            len: rows.len(),
            kind,
            at,
            contact: Vec::new(),
            flex: Vec::new(),
            loads: (0, 0),
        });
        parts.rows.extend(rows);
    };
    for (i, clamp) in frame.clamps.iter().enumerate() {
        let t = &frame.tubes[clamp.tube];
        let at = along(&t.axis, &t.s, clamp.at_mm).0;
        let tie = st.tie(clamp.tube, clamp.at_mm, at);
        add(PortKind::Clamp(i), clamp.holds.iter().map(|d| translation(&tie, *d, 1.0)).collect(), at);
    }
    let (rows, at) = six(datum);
    add(PortKind::Hold, rows, at);
    for tube in 0..frame.tubes.len() {
        let (rows, at) = six(tube);
        add(PortKind::Rest(tube), rows, at);
    }
}

fn read_all<'a>(
    st: &Structure,
    rows: impl Iterator<Item = &'a Row>,
    x: &Mat<f64>,
    count: usize,
    columns: usize,
) -> Dense {
    let mut out = Dense::zeros(count, columns);
    for (i, row) in rows.enumerate() {
        for j in 0..columns {
            *out.at_mut(i, j) = st.read(row, x, j);
        }
    }
    out
}

/// Whether a positive semidefinite matrix has full rank, by Cholesky with pivots.
fn full_rank(gram: &Dense) -> bool {
    let n = gram.rows;
    let mut a = gram.clone();
    let most = (0..n).map(|i| a.at(i, i)).fold(0.0, f64::max);
    let mut left: Vec<usize> = (0..n).collect();
    while let Some((k, p)) = left
        .iter()
        .copied()
        .enumerate()
        .max_by(|x, y| a.at(x.1, x.1).total_cmp(&a.at(y.1, y.1)).then(y.0.cmp(&x.0)))
    {
        if a.at(p, p) < 1e-12 * most {
            return false;
        }
        left.swap_remove(k);
        for &i in &left {
            let f = a.at(i, p) / a.at(p, p);
            if f != 0.0 {
                for &j in &left {
                    let v = a.at(p, j);
                    *a.at_mut(i, j) -= f * v;
                }
            }
        }
    }
    true
}

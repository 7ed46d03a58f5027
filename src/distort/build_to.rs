//! The build-to table: how to place the tubes in the fixture, and how long to cut them, so that the
//! controls start where the set-to values want them.

use super::controls;
use super::model::Model;
use super::structure::{Row, along, dense_solve};
use crate::frame::{Control, ControlKind};
use crate::joint::MeetKind;
use crate::numbers::dense::Dense;
use crate::seam::SeamPoint;
use glam::DVec3;

/// Where the parts go instead of their nominal places.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct BuildTo {
    /// How far each tube's start and end move, mm: `[tube][start, end]`, extra length included.
    pub ends_mm: Vec<[DVec3; 2]>,
    /// How much longer each tube is cut, start and end together, mm.
    pub longer_mm: Vec<f64>,
    /// What is left of each control's set-to value, in its unit: it cannot be reached by placing
    /// straight tubes and cutting them to length. (A bow of one tube, say: see `bends`.)
    pub left: Vec<f64>,
    /// Widest gap (or overlap) that each seam's parts get, mm: more than a little means that the notch
    /// has to be cut afresh.
    pub gap_mm: Vec<f64>,
    /// Bows that only bending a tube could give.
    pub bends: Vec<Bend>,
}

/// What it would take to bend a tube to a wanted counter-bow.
///
/// ```text
/// F = 48·E·I·w/L³     σ = 12·E·c·w/L²     a tube on two blocks L apart, pushed at its middle
/// ```
///
/// w bow, mm; c from the tube's axis to its outside, mm. Elastic; any textbook of strength of
/// materials. Below yield the tube springs all the way back.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bend {
    /// Control index.
    pub control: usize,
    /// Tube index.
    pub tube: usize,
    /// Wanted bow against the control's direction, mm.
    pub bow_mm: f64,
    /// Stress at the outside when it is held bent so far, MPa.
    pub stress_mpa: f64,
    /// Yield strength of its material, MPa.
    pub yield_mpa: f64,
    /// Force at the middle that holds it so, N.
    pub force_n: f64,
}

/// A control is met to this part of its tolerance, against a millimetre of movement.
const MET: f64 = 0.02;
/// A millimetre of length weighs as much as so many of movement: what a stop can do, the saw need not.
const CUT: f64 = 3.0;
/// A gap of so many millimetres around a seam weighs as much as a millimetre of movement: an end may
/// tilt on its carrier as far as its notch allows.
const TILT_MM: f64 = 0.02;
/// As [`TILT_MM`], for the gap all around: parts that touch go on touching.
const APART_MM: f64 = 0.002;
/// Unknowns of a tube: three movements, three turns (times half its length), length added at its start
/// and at its end.
const OF_TUBE: usize = 8;
/// Samples of a weld line at which the gap is looked at.
const SAMPLES: usize = 24;

impl Model {
    /// The smallest change of the tubes' places and lengths that gives every control its set-to value.
    ///
    /// Tubes stay straight and rigid; parts go on touching where they are welded (they may slide along
    /// each other's faces and turn as far as the notch allows); `may_cut` says which tubes may still be
    /// cut to another length. Least squares of
    ///
    /// ```text
    /// (control − set-to)/(0.02 tolerance)   movement along each tube (mean over it, by its length)
    /// 3 · length added                      gap/(0.02 mm) around each seam (mean over it)
    ///                                       mean gap of each seam/(0.002 mm)
    /// ```
    ///
    /// so nothing moves more than it has to, and a control that could only be met by tearing joints open
    /// is not met. Gaps and what is left are reported.
    pub fn build_to(&self, set_to: &[f64], may_cut: &[bool]) -> BuildTo {
        let frame = &self.frame;
        let n = OF_TUBE * frame.tubes.len();
        let mut sum = Sum { normal: Dense::zeros(n, n), right: Dense::zeros(n, 1) };
        self.movement(&mut sum);
        let gaps: Vec<Vec<Vec<Sparse>>> = (0..self.seams.seams.len()).map(|s| self.gaps(s)).collect();
        for rows in gaps.iter().flatten() {
            let share = 1.0 / rows.len().max(1) as f64;
            rows.iter().for_each(|r| sum.add(r, 0.0, share / (TILT_MM * TILT_MM)));
            let all = rows.iter().flatten().map(|(i, v)| (*i, share * v));
            sum.add(&gathered(all), 0.0, 1.0 / (APART_MM * APART_MM));
        }
        let controls: Vec<Sparse> = frame
            .controls
            .iter()
            .map(|k| self.unknowns(&controls::functional(&k.kind, frame, &self.structure)))
            .collect();
        for ((k, row), want) in frame.controls.iter().zip(&controls).zip(set_to) {
            sum.add(row, *want, 1.0 / (MET * k.tolerance.max(1e-3)).powi(2));
        }
        // What is cut already stays as long as it is.
        for t in (0..frame.tubes.len()).filter(|t| !may_cut.get(*t).copied().unwrap_or(false)) {
            for i in [OF_TUBE * t + 6, OF_TUBE * t + 7] {
                (0..n).for_each(|j| (*sum.normal.at_mut(i, j), *sum.normal.at_mut(j, i)) = (0.0, 0.0));
                (*sum.normal.at_mut(i, i), *sum.right.at_mut(i, 0)) = (1.0, 0.0);
            }
        }
        let x = dense_solve(&sum.normal, &sum.right).map_or_else(|| vec![0.0; n], |x| x.a);
        let read = |row: &Sparse| row.iter().map(|(i, v)| v * x[*i]).sum::<f64>();
        let left: Vec<f64> = controls.iter().zip(set_to).map(|(row, want)| want - read(row)).collect();
        let ends_mm = (0..frame.tubes.len())
            .map(|t| {
                let tube = &frame.tubes[t];
                [0, tube.axis.len() - 1].map(|i| {
                    let at = self.point(t, tube.axis[i], Some(i > 0));
                    DVec3::from_array(at.map(|row| read(&row)))
                })
            })
            .collect();
        BuildTo {
            ends_mm,
            longer_mm: (0..frame.tubes.len()).map(|t| x[OF_TUBE * t + 6] + x[OF_TUBE * t + 7]).collect(),
            gap_mm: (gaps.iter())
                .map(|rows| rows.iter().flatten().map(|r| read(r).abs()).fold(0.0, f64::max))
                .collect(),
            bends: self.bends(&left),
            left,
        }
    }

    /// What it would take to bend tubes against so much of each control, in its unit; nothing for a control
    /// that is no bow, or below a quarter of its tolerance.
    pub fn bends(&self, wanted: &[f64]) -> Vec<Bend> {
        let bend = |(i, (k, wanted)): (usize, (&Control, &f64))| {
            let ControlKind::Bow { tube, from_to, dir } = &k.kind else { return None };
            (wanted.abs() > 0.25 * k.tolerance).then(|| self.bend(i, *tube, *from_to, *dir, *wanted))
        };
        self.frame.controls.iter().zip(wanted).enumerate().filter_map(bend).collect()
    }

    /// Movement costs its mean square over each tube, by the tube's length against the mean of all; a
    /// turn about the own axis what it moves at the tube's outside; length what it adds.
    fn movement(&self, sum: &mut Sum) {
        let tubes = &self.frame.tubes;
        let length = |t: usize| tubes[t].s[tubes[t].s.len() - 1].max(100.0);
        let mean = (0..tubes.len()).map(length).sum::<f64>() / tubes.len().max(1) as f64;
        for (t, tube) in tubes.iter().enumerate() {
            for (i, pair) in tube.axis.windows(2).enumerate() {
                // Two points of Gauss: exact for the square of a rigid motion.
                let weight = 0.5 * (tube.s[i + 1] - tube.s[i]) / tube.s[tube.s.len() - 1] * length(t) / mean;
                for g in [0.5 - 0.75f64.sqrt() / 3.0, 0.5 + 0.75f64.sqrt() / 3.0] {
                    for row in self.point(t, pair[0].lerp(pair[1], g), None) {
                        sum.add(&row, 0.0, weight);
                    }
                }
            }
            let p = self.frame.sections[tube.section].shape.properties();
            let outside = p.half_height_mm.max(p.half_across_mm) / self.half(t);
            for q in 3..6 {
                sum.add(&vec![(OF_TUBE * t + q, outside)], 0.0, length(t) / mean);
            }
            for q in 6..8 {
                sum.add(&vec![(OF_TUBE * t + q, 1.0)], 0.0, CUT * CUT);
            }
        }
    }

    /// How the parts of a seam come apart, mm, at points spread evenly along its lines; one list for
    /// each direction that counts. Parts that lie on a surface may slide on it, so only what opens along
    /// its normal counts; ends in line or at an angle, and what sits in a slot, must not shift either.
    fn gaps(&self, seam: usize) -> Vec<Vec<Sparse>> {
        let (meet, seam) = (&self.joints.meets[seam], &self.seams.seams[seam]);
        let fixed = matches!(meet.kind, MeetKind::Butt | MeetKind::Mitre | MeetKind::Slot);
        let ends = matches!(meet.kind, MeetKind::Butt | MeetKind::Mitre);
        let mut out = vec![Vec::new(); if fixed { 3 } else { 1 }];
        for line in &seam.lines {
            let total = line.s[line.s.len() - 1];
            for i in 0..SAMPLES {
                let p: SeamPoint =
                    super::ring::point_at(line, false, total * (i as f64 + 0.5) / SAMPLES as f64);
                let branch_end = self.end_of(meet.branch.0, meet.branch.1);
                let mut apart = self.point(meet.branch.0, p.at, branch_end);
                for (t, s, w) in &meet.carriers {
                    let end = if ends { self.end_of(*t, *s) } else { None };
                    for (row, other) in apart.iter_mut().zip(self.point(*t, p.at, end)) {
                        row.extend(other.into_iter().map(|(i, v)| (i, -w * v)));
                    }
                }
                if fixed {
                    out.iter_mut().zip(apart).for_each(|(list, row)| list.push(row));
                } else {
                    let n = p.carrier_normal.to_array();
                    out[0].push(gathered(
                        apart
                            .into_iter()
                            .zip(n)
                            .flat_map(|(row, n)| row.into_iter().map(move |(i, v)| (i, n * v))),
                    ));
                }
            }
        }
        out
    }

    /// Whether an arc length is a tube's start (`false`), its end (`true`) or neither.
    fn end_of(&self, tube: usize, s_mm: f64) -> Option<bool> {
        let s = &self.frame.tubes[tube].s;
        match s_mm {
            x if x <= 1.0 => Some(false),
            x if x >= s[s.len() - 1] - 1.0 => Some(true),
            _ => None,
        }
    }
    /// Movement x, y, z of a point of a tube; with the length added at one of its ends, if it is there.
    fn point(&self, tube: usize, at: DVec3, end: Option<bool>) -> [Sparse; 3] {
        let t = &self.frame.tubes[tube];
        let arm = (at - self.structure.nodes[self.structure.held[tube]].at) / self.half(tube);
        let first = OF_TUBE * tube;
        let last = t.axis.len() - 1;
        let outward = end.map(|end| {
            let (i, d) = if end { (7, t.axis[last] - t.axis[last - 1]) } else { (6, t.axis[0] - t.axis[1]) };
            (first + i, d.normalize())
        });
        // u = shift + turn × arm
        let turn = [[0.0, arm.z, -arm.y], [-arm.z, 0.0, arm.x], [arm.y, -arm.x, 0.0]];
        std::array::from_fn(|c| {
            let mut row = vec![(first + c, 1.0)];
            row.extend((0..3).filter(|q| *q != c).map(|q| (first + 3 + q, turn[c][q])));
            row.extend(outward.map(|(i, d)| (i, d[c])));
            row
        })
    }
    fn half(&self, tube: usize) -> f64 {
        0.5 * self.frame.tubes[tube].s[self.frame.tubes[tube].s.len() - 1]
    }
    /// A control in the unknowns. Added length moves what is read at that end of the tube.
    fn unknowns(&self, row: &Row) -> Sparse {
        let mut out = Sparse::new();
        for (t, h) in self.structure.rigid(row) {
            for (q, v) in h.iter().enumerate() {
                out.push((OF_TUBE * t + q, if q < 3 { *v } else { v / self.half(t) }));
            }
        }
        for (dof, v) in row.iter().filter(|(dof, _)| dof % 6 < 3) {
            let node = dof / 6;
            let tube = self.structure.nodes[node].tube;
            let nodes = &self.structure.tube_nodes[tube];
            let axis = &self.frame.tubes[tube].axis;
            if node == nodes.start {
                out.push((OF_TUBE * tube + 6, v * (axis[0] - axis[1]).normalize()[dof % 6]));
            } else if node == nodes.end - 1 {
                let last = axis.len() - 1;
                out.push((OF_TUBE * tube + 7, v * (axis[last] - axis[last - 1]).normalize()[dof % 6]));
            }
        }
        out
    }
    fn bend(&self, control: usize, tube: usize, [a, b]: [f64; 2], dir: DVec3, bow_mm: f64) -> Bend {
        let t = &self.frame.tubes[tube];
        let section = &self.frame.sections[t.section];
        let m = &self.frame.materials[section.material];
        let p = section.shape.properties();
        let (_, chord) = along(&t.axis, &t.s, 0.5 * (a + b));
        let x = (t.axis[chord + 1] - t.axis[chord]).normalize();
        let cos = (dir - x * dir.dot(x)).normalize_or(t.height_dir[chord]).dot(t.height_dir[chord]).abs();
        let sin = (1.0 - cos * cos).max(0.0).sqrt();
        let inertia = p.i_height_mm4 * cos * cos + p.i_across_mm4 * sin * sin;
        let outside = match section.shape {
            crate::frame::Shape::Round { od, .. } | crate::frame::Shape::Solid { od } => 0.5 * od,
            _ => p.half_height_mm * cos + p.half_across_mm * sin,
        };
        let length = b - a;
        Bend {
            control,
            tube,
            bow_mm,
            stress_mpa: 12.0 * m.e_mpa * outside * bow_mm.abs() / length.powi(2),
            yield_mpa: m.yield_mpa,
            force_n: 48.0 * m.e_mpa * inertia * bow_mm.abs() / length.powi(3),
        }
    }
}

/// A linear functional of the unknowns: (unknown, factor); an unknown may come more than once.
type Sparse = Vec<(usize, f64)>;

/// Each unknown once.
fn gathered(row: impl Iterator<Item = (usize, f64)>) -> Sparse {
    let mut sum = std::collections::BTreeMap::new();
    row.for_each(|(i, v)| *sum.entry(i).or_insert(0.0) += v);
    sum.into_iter().collect()
}

/// Normal equations of a weighted least-squares problem.
struct Sum {
    normal: Dense,
    right: Dense,
}

impl Sum {
    fn add(&mut self, row: &Sparse, want: f64, weight: f64) {
        for (i, a) in row {
            *self.right.at_mut(*i, 0) += weight * a * want;
            for (j, b) in row {
                *self.normal.at_mut(*i, *j) += weight * a * b;
            }
        }
    }
}

//! Frames built by hand for this chapter: round tubes, saddles traced by formula, no file.

use glam::DVec3;
use holdtrue::frame::*;
use holdtrue::joint::{Joint, Joints, Meet, MeetKind, Side};
use holdtrue::library::{Material, MaterialGroup};
use holdtrue::procedure::{Pass, Passes};
use holdtrue::seam::{Line, Seam, SeamPoint, Seams, Segment};

/// Structural steel, E 210 GPa, ρc for α/(ρc) = 3.185e-3 mm³/J.
pub fn steel() -> Material {
    Material {
        name: "steel".into(),
        aliases: vec![],
        group: MaterialGroup::CarbonSteel,
        e_mpa: 210_000.0,
        poisson: 0.3,
        yield_mpa: 355.0,
        alpha_per_k: 12e-6,
        density_kg_m3: 7850.0,
        specific_heat_j_kgk: 480.0,
        conductivity_w_mk: 50.0,
        emissivity: 0.8,
        composition: vec![],
        cev_limit: None,
        interpass_c: 250.0,
        min_start_c: 5.0,
        sources: vec![],
    }
}

pub fn settings() -> PullSettings {
    PullSettings {
        c_t: 0.42,
        c_l: 0.335,
        carrier_share: 0.5,
        common_factor: 1.0,
        kind_factors: vec![],
        joint_factors: vec![],
        scatter: [0.3, 0.2, 0.15],
        lean_deg: 0.1,
    }
}

/// A frame without tubes.
pub fn empty(sections: Vec<Shape>) -> Frame {
    Frame {
        name: "by hand".into(),
        note: String::new(),
        up: DVec3::Z,
        forward: DVec3::X,
        materials: vec![steel()],
        sections: sections
            .into_iter()
            .enumerate()
            .map(|(i, shape)| Section { name: format!("s{i}"), shape, material: 0 })
            .collect(),
        points: vec![],
        tubes: vec![],
        joint_wishes: vec![],
        procedures: vec![],
        setups: vec![Setup { name: "as drawn".into(), up: DVec3::Z }],
        clamps: vec![],
        controls: vec![],
        stages: vec![],
        symmetry: SymmetryWish::None,
        rules: HouseRules {
            spacing: 2,
            distance_mm: 150.0,
            opposite: true,
            balance: true,
            max_segment_mm: 40.0,
            min_segment_mm: 15.0,
            overhead: true,
            welder_distance_mm: 500.0,
        },
        shop: Shop {
            welders: 1,
            ambient_c: 20.0,
            move_s: 20.0,
            clean_s: 20.0,
            turn_min: 5.0,
            loss_w_m2k: None,
            fit_up_mm: 0.5,
        },
        pull: settings(),
        wishes: OrderWishes::default(),
        coating: None,
        units: Default::default(),
        carries_people: true,
        defaults: vec![],
    }
}

pub fn add_tube(frame: &mut Frame, name: &str, section: usize, run: &[DVec3]) -> usize {
    let mut s = vec![0.0];
    let mut height_dir = vec![];
    for p in run.windows(2) {
        s.push(s[s.len() - 1] + p[0].distance(p[1]));
        let x = (p[1] - p[0]).normalize();
        let up = if x.dot(DVec3::Z).abs() < 0.9 { DVec3::Z } else { DVec3::X };
        height_dir.push((up - x * x.dot(up)).normalize());
    }
    frame.tubes.push(Tube {
        name: name.into(),
        section,
        axis: run.to_vec(),
        s,
        height_dir,
        on_run: vec![],
        bend_radius: None,
        role: Role::Tube,
        lands: [None, None],
        vented: true,
        span: 0..0,
    });
    frame.tubes.len() - 1
}

pub fn control(name: &str, kind: ControlKind) -> Control {
    Control {
        name: name.into(),
        kind,
        tolerance: 1.0,
        tolerance_from: "given".into(),
        set_by: SetBy::Fixture,
        step: 0.5,
        limit: 10.0,
        nominal: 0.0,
    }
}

pub fn spot(tube: usize, s_mm: f64) -> Spot {
    Spot { tube, s_mm }
}

/// A frame with its joints, seams and passes.
pub struct Bench {
    pub frame: Frame,
    pub joints: Joints,
    pub seams: Seams,
    pub passes: Passes,
}

impl Bench {
    pub fn new(frame: Frame) -> Bench {
        Bench {
            frame,
            joints: Joints {
                joints: vec![],
                meets: vec![],
                graph: Default::default(),
                steel_mm: vec![],
                symmetry: None,
            },
            seams: Seams { seams: vec![], sealed: vec![] },
            passes: Passes { passes: vec![], settings: vec![], warnings: vec![] },
        }
    }

    /// Adds a seam with the given weld lines, cut at the given arc lengths on each line.
    pub fn seam(
        &mut self,
        kind: MeetKind,
        branch: (usize, f64),
        carrier: (usize, f64),
        lines: Vec<Line>,
        closed: bool,
        cuts: &[Vec<(f64, f64)>],
        q_j_mm: f64,
    ) -> usize {
        let index = self.seams.seams.len();
        let total: f64 = lines.iter().map(|l| l.s[l.s.len() - 1]).sum();
        let mut centre = DVec3::ZERO;
        for l in &lines {
            for i in 1..l.s.len() {
                centre += 0.5 * (l.samples[i].at + l.samples[i - 1].at) * (l.s[i] - l.s[i - 1]) / total;
            }
        }
        let wall = |f: &Frame, t: usize| match f.sections[f.tubes[t].section].shape {
            Shape::Round { wall, .. } | Shape::Box { wall, .. } => wall,
            Shape::Flat { thickness, .. } => thickness,
            Shape::Solid { od } => od / 2.0,
        };
        let segments: Vec<Segment> = cuts
            .iter()
            .enumerate()
            .flat_map(|(l, list)| list.iter().map(move |c| (l, *c)))
            .map(|(line, (from_mm, to_mm))| Segment {
                line,
                from_mm,
                to_mm,
                mid: point(&lines[line], closed, 0.5 * (from_mm + to_mm)),
                clock_from: String::new(),
                clock_to: String::new(),
                partner: None,
                positions: vec![],
                side: Side::Centre,
            })
            .collect();
        for (i, g) in segments.iter().enumerate() {
            let length_mm = g.to_mm - g.from_mm;
            self.passes.passes.push(Pass {
                label: format!("J{}a-{}/1", index + 1, i + 1),
                joint: index,
                seam: index,
                segment: i,
                layer: 0,
                partner: None,
                below: None,
                length_mm,
                mid: g.mid.at,
                side: Side::Centre,
                settings: 0,
                heat_input_j_per_mm: q_j_mm,
                energy_j: q_j_mm * length_mm,
                arc_s: length_mm / 3.0,
                filler_g: 0.0,
                gas_l: 0.0,
                setups: vec![0],
                forced_direction: vec![None],
            });
        }
        self.seams.seams.push(Seam {
            name: format!("J{}a", index + 1),
            joint: index,
            kind,
            angle_deg: 90.0,
            centre,
            lines,
            closed,
            length_mm: total,
            unwelded: vec![],
            segments,
            clock_up: (DVec3::Z, "up"),
            clock_axis: DVec3::Z,
            clock_centre: glam::DVec3::ZERO,
            walls_mm: [wall(&self.frame, branch.0), wall(&self.frame, carrier.0)],
            fillet: true,
        });
        self.joints.joints.push(Joint {
            name: format!("J{}", index + 1),
            at: centre,
            tubes: vec![carrier, branch],
            meets: vec![index],
            mirror: None,
            side: Side::Centre,
        });
        self.joints.meets.push(Meet {
            joint: index,
            kind,
            branch,
            carriers: vec![(carrier.0, carrier.1, 1.0)],
            gap_mm: 0.0,
            open: vec![],
        });
        index
    }

    /// A round branch end on a round carrier: `cuts` are azimuth ranges in degrees, counted from the
    /// carrier's direction, turning as `turn` does (a unit vector along the branch, away from the
    /// carrier).
    pub fn saddle(
        &mut self,
        branch: usize,
        end: usize,
        carrier: usize,
        cuts: &[(f64, f64)],
        q_j_mm: f64,
    ) -> usize {
        let f = &self.frame;
        let (b, c) = (&f.tubes[branch], &f.tubes[carrier]);
        let od = |t: &Tube| match f.sections[t.section].shape {
            Shape::Round { od, .. } => od,
            _ => panic!("round tubes only"),
        };
        let (r, big) = (0.5 * od(b), 0.5 * od(c));
        let last = b.axis.len() - 1;
        let (at, away, s_b) = if end == 0 {
            (b.axis[0], (b.axis[1] - b.axis[0]).normalize(), 0.0)
        } else {
            (b.axis[last], (b.axis[last - 1] - b.axis[last]).normalize(), b.s[last])
        };
        let x = (c.axis[1] - c.axis[0]).normalize();
        let s_c = (at - c.axis[0]).dot(x);
        // frame of the branch: e1 along the carrier (square to the branch), e2 = away × e1
        let e1 = (x - away * x.dot(away)).normalize();
        let e2 = away.cross(e1);
        let sin = x.cross(away).length();
        let cos = x.dot(away);
        let place = |phi: f64| {
            let (u, v) = (r * phi.cos(), r * phi.sin());
            // distance along the branch at which u e1 + v e2 + w away lies on the carrier's surface
            let w = ((big * big - v * v).sqrt() + u * cos) / sin;
            at + e1 * u + e2 * v + away * w
        };
        let n = 720;
        let mut samples = Vec::new();
        let mut s = vec![0.0];
        for i in 0..=n {
            let phi = i as f64 / n as f64 * std::f64::consts::TAU;
            let p = place(phi);
            let tangent = (place(phi + 1e-5) - place(phi - 1e-5)).normalize();
            let on_axis = c.axis[0] + x * (p - c.axis[0]).dot(x);
            samples.push(SeamPoint {
                at: p,
                tangent,
                branch_normal: e1 * phi.cos() + e2 * phi.sin(),
                carrier_normal: (p - on_axis).normalize(),
                pull: away,
            });
            if i > 0 {
                let d: f64 = samples[i].at.distance(samples[i - 1].at);
                s.push(s[i - 1] + d);
            }
        }
        let arc = |deg: f64| {
            let turns = (deg / 360.0).floor();
            let f = (deg / 360.0 - turns) * n as f64;
            let i = (f as usize).min(n - 1);
            turns * s[n] + s[i] + (s[i + 1] - s[i]) * (f - i as f64)
        };
        let list = cuts.iter().map(|(a, b)| (arc(*a), arc(*b))).collect();
        let line = Line { samples, s: s.clone() };
        self.seam(MeetKind::Saddle, (branch, s_b), (carrier, s_c), vec![line], true, &[list], q_j_mm)
    }

    /// Arc length at an azimuth on a saddle.
    pub fn arc_at(&self, seam: usize, deg: f64) -> f64 {
        let l = &self.seams.seams[seam].lines[0];
        let n = (l.s.len() - 1) as f64;
        let f = (deg / 360.0).rem_euclid(1.0) * n;
        let i = (f as usize).min(l.s.len() - 2);
        l.s[i] + (l.s[i + 1] - l.s[i]) * (f - i as f64)
    }

    pub fn model(&self) -> holdtrue::distort::Model {
        match holdtrue::distort::Model::new(&self.frame, &self.joints, &self.seams, &self.passes) {
            Ok(m) => m,
            Err(f) => panic!("{f:?}"),
        }
    }
}

/// Azimuth ranges of `n` equal segments, the first centred on or starting at `from` degrees.
pub fn ranges(n: usize, from: f64) -> Vec<(f64, f64)> {
    let w = 360.0 / n as f64;
    (0..n).map(|i| (from + w * i as f64, from + w * (i + 1) as f64)).collect()
}

pub fn point(line: &Line, closed: bool, s: f64) -> SeamPoint {
    let total = line.s[line.s.len() - 1];
    let s = if closed { s.rem_euclid(total) } else { s };
    let i = line.s.partition_point(|x| *x <= s).clamp(1, line.s.len() - 1);
    let t = (s - line.s[i - 1]) / (line.s[i] - line.s[i - 1]);
    let (a, b) = (line.samples[i - 1], line.samples[i]);
    SeamPoint {
        at: a.at * (1.0 - t) + b.at * t,
        tangent: (a.tangent * (1.0 - t) + b.tangent * t).normalize(),
        branch_normal: (a.branch_normal * (1.0 - t) + b.branch_normal * t).normalize(),
        carrier_normal: (a.carrier_normal * (1.0 - t) + b.carrier_normal * t).normalize(),
        pull: a.pull,
    }
}

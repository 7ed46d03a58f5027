//! Frames built in code: tubes between places, nothing else said.

use glam::DVec3;
use holdtrue::frame::*;
use holdtrue::joint::{Joints, joints};
use holdtrue::library::{Material, MaterialGroup, Process};
use holdtrue::seam::{Seams, seams};

pub fn v(x: f64, y: f64, z: f64) -> DVec3 {
    DVec3::new(x, y, z)
}

pub fn round(od: f64, wall: f64) -> Shape {
    Shape::Round { od, wall }
}

/// Square or rectangular tube; height first.
pub fn square(height: f64, width: f64, corner: f64) -> Shape {
    Shape::Box { height, width, wall: 3.0, corner }
}

pub fn flat(width: f64, thickness: f64) -> Shape {
    Shape::Flat { width, thickness }
}

/// An empty frame: X forward, Z up.
pub fn empty() -> Frame {
    let steel = Material {
        name: "S235".into(),
        aliases: vec![],
        group: MaterialGroup::CarbonSteel,
        e_mpa: 210_000.0,
        poisson: 0.3,
        yield_mpa: 235.0,
        alpha_per_k: 1.2e-5,
        density_kg_m3: 7850.0,
        specific_heat_j_kgk: 500.0,
        conductivity_w_mk: 50.0,
        emissivity: 0.8,
        composition: vec![],
        cev_limit: None,
        interpass_c: 250.0,
        min_start_c: 5.0,
        sources: vec![],
    };
    let process =
        Process { number: 135, name: "MAG".into(), k: 0.8, deposition_efficiency: 0.9, sources: vec![] };
    Frame {
        units: Default::default(),
        name: "test".into(),
        note: String::new(),
        up: DVec3::Z,
        forward: DVec3::X,
        materials: vec![steel],
        sections: vec![],
        points: vec![],
        tubes: vec![],
        joint_wishes: vec![],
        procedures: vec![ProcedureWish {
            between: vec![],
            process,
            volts: None,
            amps: None,
            speed_mm_s: None,
            leg_mm: None,
            layers: None,
            hydrogen_ml: None,
            vertical_up: None,
            interpass_c: None,
            preheat_c: None,
        }],
        setups: vec![Setup { name: "as built".into(), up: DVec3::Z }],
        clamps: vec![],
        controls: vec![],
        stages: vec![],
        symmetry: SymmetryWish::Auto,
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
            move_s: 30.0,
            clean_s: 20.0,
            turn_min: 5.0,
            loss_w_m2k: None,
            fit_up_mm: 0.5,
        },
        pull: PullSettings {
            c_t: 0.6,
            c_l: 0.335,
            carrier_share: 0.5,
            common_factor: 1.0,
            kind_factors: vec![],
            joint_factors: vec![],
            scatter: [0.3, 0.2, 0.15],
            lean_deg: 0.1,
        },
        wishes: OrderWishes::default(),
        coating: None,
        carries_people: true,
        defaults: vec![],
    }
}

/// Adds parts to a frame; each has a span of ten bytes, by its number.
pub trait Build {
    fn part(&mut self, name: &str, shape: Shape, axis: &[DVec3], height: DVec3, role: Role) -> usize;
    fn tube(&mut self, name: &str, shape: Shape, axis: &[DVec3]) -> usize;
    fn plate(
        &mut self,
        name: &str,
        size: [f64; 3],
        centre: DVec3,
        along: DVec3,
        normal: DVec3,
        on: Option<usize>,
    ) -> usize;
    fn lands(&mut self, tube: usize, end: usize, on: usize, at_mm: f64, slot_mm: Option<f64>);
    fn wish(&mut self, tubes: &[usize]) -> &mut JointWish;
    fn joints(&self) -> Joints;
    fn seams(&self) -> (Joints, Seams);
    /// Code, message and label of each fault.
    fn faults(&self) -> Vec<String>;
}

impl Build for Frame {
    fn part(&mut self, name: &str, shape: Shape, axis: &[DVec3], height: DVec3, role: Role) -> usize {
        let section = self.sections.iter().position(|s| s.shape == shape).unwrap_or_else(|| {
            self.sections.push(Section { name: format!("{shape:?}"), shape, material: 0 });
            self.sections.len() - 1
        });
        let mut s = vec![0.0];
        let mut height_dir = vec![];
        for pair in axis.windows(2) {
            s.push(s[s.len() - 1] + pair[0].distance(pair[1]));
            let t = (pair[1] - pair[0]).normalize();
            let h = height - t * height.dot(t);
            height_dir.push(if h.length() > 1e-6 {
                h.normalize()
            } else {
                (self.forward - t * self.forward.dot(t)).normalize()
            });
        }
        let i = self.tubes.len();
        self.tubes.push(Tube {
            name: name.into(),
            section,
            axis: axis.to_vec(),
            s,
            height_dir,
            on_run: vec![],
            bend_radius: None,
            role,
            lands: [None, None],
            vented: false,
            span: 10 * i..10 * i + 10,
        });
        i
    }

    fn tube(&mut self, name: &str, shape: Shape, axis: &[DVec3]) -> usize {
        self.part(name, shape, axis, self.up, Role::Tube)
    }

    /// Size: length along, width across, thickness.
    fn plate(
        &mut self,
        name: &str,
        size: [f64; 3],
        centre: DVec3,
        along: DVec3,
        normal: DVec3,
        on: Option<usize>,
    ) -> usize {
        let half = along * (0.5 * size[0]);
        self.part(name, flat(size[1], size[2]), &[centre - half, centre + half], normal, Role::Plate { on })
    }

    fn lands(&mut self, tube: usize, end: usize, on: usize, at_mm: f64, slot_mm: Option<f64>) {
        self.tubes[tube].lands[end] = Some(Landing { on, at_mm, offset_mm: 0.0, slot_mm });
    }

    fn wish(&mut self, tubes: &[usize]) -> &mut JointWish {
        self.joint_wishes.push(JointWish {
            tubes: tubes.to_vec(),
            point: None,
            carrier: None,
            mitre: None,
            open: vec![],
            gap_mm: None,
            span: 900..910,
        });
        self.joint_wishes.last_mut().unwrap()
    }

    fn joints(&self) -> Joints {
        match joints(self) {
            Ok(checked) => checked.value,
            Err(faults) => panic!("{faults:#?}"),
        }
    }

    fn seams(&self) -> (Joints, Seams) {
        let j = self.joints();
        let s = seams(self, &j);
        (j, s)
    }

    fn faults(&self) -> Vec<String> {
        let faults = match joints(self) {
            Ok(checked) => checked.warnings,
            Err(faults) => faults,
        };
        faults.iter().map(|f| format!("{}: {} [{}]", f.code, f.message, f.label)).collect()
    }
}

/// A branch of `shape`, 300 long, on the middle of a carrier along X, `angle` degrees to it, in the
/// plane of X and Z.
pub fn t_joint(carrier: Shape, branch: Shape, angle_deg: f64) -> Frame {
    let mut f = empty();
    let size = match carrier {
        Shape::Round { od, .. } | Shape::Solid { od } => od,
        Shape::Box { height, width, .. } => height.max(width),
        Shape::Flat { width, .. } => width,
    };
    let half = 300.0 + 2.0 * size;
    f.tube("carrier", carrier, &[v(-half, 0.0, 0.0), v(half, 0.0, 0.0)]);
    let (sin, cos) = angle_deg.to_radians().sin_cos();
    f.tube("branch", branch, &[v(0.0, 0.0, 0.0), v(cos, 0.0, sin) * (300.0 + 2.0 * size)]);
    f
}

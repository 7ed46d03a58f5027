//! Against thermo-elastic-plastic finite-element runs of a T-joint, an H and a ladder (our own runs,
//! `reference_fe.json` beside this file; not measurements, absolute values about ±30 %).
//!
//! What is held here is the honest spread: the path after every segment, its size, the kink. The lean
//! left at the end of a single free joint is a small difference of large numbers and is *not*
//! predicted well; no test pretends it is.

use super::hand::*;
use crate::support::{near, near_rel};
use glam::DVec3;
use holdtrue::distort::{Event, Level, Model, Tack};
use holdtrue::frame::Shape;
use holdtrue::output::plots::{self, Curve, Plot};
use holdtrue::output::svg::svg;
use serde_json::Value;

pub fn data() -> Value {
    serde_json::from_str(include_str!("reference_fe.json")).expect("the file is JSON")
}

fn t_joint() -> Bench {
    let mut f = empty(vec![Shape::Round { od: 38.0, wall: 2.0 }, Shape::Round { od: 32.0, wall: 1.6 }]);
    let p = |x: f64, z: f64| DVec3::new(x, 0.0, z);
    add_tube(&mut f, "carrier", 0, &[p(-200.0, 0.0), p(0.0, 0.0), p(200.0, 0.0)]);
    add_tube(&mut f, "branch", 1, &[p(0.0, 0.0), p(0.0, 300.0)]);
    let mut b = Bench::new(f);
    b.frame.tubes[1].axis[0] = DVec3::ZERO;
    b.saddle(1, 0, 0, &ranges(8, 0.0), 210.0);
    // the carrier's arc length at the joint
    b.joints.meets[0].carriers[0].1 = 200.0;
    b
}

/// Four tacks of 22.5 degrees at 45, 135, 225, 315 degrees, free of stress.
fn tacks(b: &Bench, seam: usize) -> Vec<Event> {
    let list = [45.0, 135.0, 225.0, 315.0].map(|deg| {
        Event::Tack(Tack { seam, line: 0, at_mm: b.arc_at(seam, deg), length_mm: 6.5, pull: 0.0 })
    });
    vec![Event::Together(list.to_vec())]
}

/// Segments of a run, with their directions, in the order welded.
fn segments(run: &Value) -> Vec<(usize, bool)> {
    let list = run["segments"].as_array().expect("segments").iter();
    list.map(|s| (s[1].as_u64().expect("number") as usize, s[2] == 1)).collect()
}

/// Lean in and out of plane and kink after each segment, degrees.
fn path(b: &Bench, m: &Model, segments: &[(usize, bool)], level: Level) -> Vec<[f64; 3]> {
    let mut events = tacks(b, 0);
    let mut out = vec![];
    for (pass, forward) in segments {
        events.push(Event::Pass { pass: *pass, forward: *forward });
        let shape = m.evaluate(&events, level).expect("the order can be evaluated").shape;
        let (a, o, e) = (shape[0][0], shape[0][1], shape[0][2]);
        let chord = (e - a) / 400.0;
        let lean = (shape[1][1] - shape[1][0]) / 300.0;
        // turning of the carrier's chord in the plane: rotation about Y is −dz/dx
        let tilt_in = lean.x + chord.z;
        out.push([tilt_in.to_degrees(), lean.y.to_degrees(), ((a.z + e.z - 2.0 * o.z) / 200.0).to_degrees()]);
    }
    out
}

pub fn correlation(a: &[f64], b: &[f64]) -> f64 {
    let n = a.len() as f64;
    let (ma, mb) = (a.iter().sum::<f64>() / n, b.iter().sum::<f64>() / n);
    let cov: f64 = a.iter().zip(b).map(|(x, y)| (x - ma) * (y - mb)).sum();
    let (va, vb) =
        (a.iter().map(|x| (x - ma).powi(2)).sum::<f64>(), b.iter().map(|y| (y - mb).powi(2)).sum::<f64>());
    cov / (va * vb).sqrt()
}

/// Best factor from model to reference (least squares through the origin).
pub fn ratio(model: &[f64], reference: &[f64]) -> f64 {
    model.iter().zip(reference).map(|(m, r)| m * r).sum::<f64>() / model.iter().map(|m| m * m).sum::<f64>()
}

#[test]
fn t_joint_path() {
    let b = t_joint();
    let m = b.model();
    for level in [Level::Coarse, Level::Fine] {
        let (mut ours, mut theirs) = (vec![], vec![]);
        for run in data()["runs"].as_array().expect("runs").iter().filter(|r| r["case"] == "T") {
            let got = path(&b, &m, &segments(run), level);
            for (g, s) in got.iter().zip(run["stages"].as_array().expect("stages")) {
                let want = ["tilt_in_plane_deg", "tilt_out_of_plane_deg", "kink_in_plane_deg"]
                    .map(|k| s[k].as_f64().unwrap());
                ours.extend(&g[..2]);
                theirs.extend(&want[..2]);
            }
            // Kink of the finished ring: 0.24 to 0.26 degrees; +10 % with a finer mesh.
            near(got[7][2], 0.25, 0.04);
        }
        let (c, r) = (correlation(&ours, &theirs), ratio(&ours, &theirs));
        println!("{level:?}: correlation {c:.4}, theirs to ours {r:.3}");
        // The path is followed; its size is overshot.
        assert!((0.9..1.0).contains(&c), "{level:?}: correlation {c}");
        assert!((0.6..1.0).contains(&r), "{level:?}: theirs to ours {r}");
    }
}

/// Two carriers 300 mm apart with branches between them at the given places; four segments of 90
/// degrees at each end of each branch, centred on azimuth 0, 90, 180, 270.
pub fn ladder(length: f64, at: &[f64]) -> Bench {
    let mut f = empty(vec![Shape::Round { od: 38.0, wall: 2.0 }, Shape::Round { od: 32.0, wall: 1.6 }]);
    let p = |x: f64, z: f64| DVec3::new(x, 0.0, z);
    for (name, z) in [("lower", 0.0), ("upper", 300.0)] {
        add_tube(&mut f, name, 0, &[p(-0.5 * length, z), p(0.0, z), p(0.5 * length, z)]);
    }
    for x in at {
        add_tube(&mut f, "branch", 1, &[p(*x, 0.0), p(*x, 300.0)]);
    }
    let mut b = Bench::new(f);
    for carrier in 0..2 {
        for i in 0..at.len() {
            // On the upper carrier the branch points down: its own azimuth runs the other way.
            let sign = if carrier == 0 { 1.0 } else { -1.0 };
            let cuts: Vec<(f64, f64)> =
                (0..4).map(|k| (sign * 90.0 * k as f64 - 45.0, sign * 90.0 * k as f64 + 45.0)).collect();
            b.saddle(2 + i, carrier, carrier, &cuts, 210.0);
        }
    }
    b
}

/// Width change left and right, racking, offset out of plane, bow of both carriers; mm, after each
/// pass.
fn ladder_path(b: &Bench, m: &Model, run: &Value, level: Level) -> Vec<[f64; 6]> {
    let branches = b.frame.tubes.len() - 2;
    let mut events: Vec<Event> = (0..b.seams.seams.len()).flat_map(|s| tacks(b, s)).collect();
    let mut out = vec![];
    for s in run["segments"].as_array().expect("segments") {
        let name = s[0].as_str().expect("joint");
        let digit = |i: usize| name.as_bytes()[i] as usize - 48;
        let seam = digit(1) * branches + if branches > 1 { digit(2) } else { 0 };
        let forward = (s[2] == 1) == (digit(1) == 0);
        events.push(Event::Pass { pass: 4 * seam + s[1].as_u64().expect("segment") as usize, forward });
        let u = m.evaluate(&events, level).expect("the order can be evaluated").shape;
        let length = b.frame.tubes[0].s[2];
        let slope = (u[0][2].z - u[0][0].z) / length;
        let mean = |t: usize| 0.5 * (u[t][0] + u[t][2]);
        // The reference counts a bow against the frame's inside on both carriers.
        let bow = |t: usize| (u[t][1].z - mean(t).z) * if t == 0 { 1.0 } else { -1.0 };
        out.push([
            u[1][0].z - u[0][0].z,
            u[1][2].z - u[0][2].z,
            mean(1).x - mean(0).x + 300.0 * slope,
            mean(1).y - mean(0).y,
            bow(0),
            bow(1),
        ]);
    }
    out
}

type Spread = (&'static str, f64, std::ops::Range<f64>);

#[test]
fn ladder_and_h() {
    // (measure, least correlation of the path, range of theirs to ours)
    let h: [Spread; 4] = [
        ("width_change_left", 0.9, 0.65..1.35),
        ("width_change_right", 0.9, 0.65..1.35),
        ("racking_dx", 0.9, 0.5..1.5),
        ("out_of_plane_dy", 0.95, 0.65..1.35),
    ];
    let closed: [Spread; 6] = [
        ("width_change_left", 0.97, 0.75..1.25),
        ("width_change_right", 0.97, 0.75..1.25),
        ("racking_dx", 0.85, 0.65..1.35),
        // Fine is off in size here: 0.4. Stated, not hidden.
        ("out_of_plane_dy", 0.9, 0.35..1.35),
        ("bow_in_plane_C0", 0.9, 0.75..1.25),
        ("bow_in_plane_C1", 0.85, 0.75..1.25),
    ];
    for (case, b, measures) in
        [("H", ladder(400.0, &[0.0]), &h[..]), ("ladder", ladder(460.0, &[-150.0, 150.0]), &closed[..])]
    {
        let m = b.model();
        for run in data()["runs"].as_array().expect("runs").iter().filter(|r| r["case"] == case) {
            for level in [Level::Coarse, Level::Fine] {
                let got = ladder_path(&b, &m, run, level);
                for (i, (name, least, size)) in measures.iter().enumerate() {
                    let ours: Vec<f64> = got.iter().map(|g| g[i]).collect();
                    let theirs: Vec<f64> = run["stages"]
                        .as_array()
                        .unwrap()
                        .iter()
                        .map(|s| s[*name].as_f64().unwrap())
                        .collect();
                    let (c, r) = (correlation(&ours, &theirs), ratio(&ours, &theirs));
                    assert!((*least..1.0).contains(&c), "{case} {level:?} {name}: correlation {c}");
                    assert!(size.contains(&r), "{case} {level:?} {name}: theirs to ours {r}");
                    if case == "ladder" && name.starts_with("width") {
                        // Closed frame: coarse within 15 %, fine within 25 %.
                        let within = if level == Level::Coarse { 0.15 } else { 0.25 };
                        near_rel(ours[ours.len() - 1], theirs[theirs.len() - 1], within);
                    }
                }
            }
        }
    }
}

/// The same data as pictures, so that a reader sees the spread and not only a coefficient.
/// `HOLDTRUE_MAKE=1 cargo test --test main made_pictures` draws them anew.
#[test]
fn made_pictures_of_the_comparison_are_current() {
    let data = data();
    let run = |case: &str, order: &str| {
        let runs = data["runs"].as_array().expect("runs");
        runs.iter().find(|r| r["case"] == case && r["order"] == order).expect("a run").clone()
    };
    let theirs = |run: &Value, measure: &str| -> Vec<f64> {
        let stages = run["stages"].as_array().expect("stages").iter();
        stages.map(|s| s[measure].as_f64().expect("a number")).collect()
    };
    let curve = |name: &str, y: Vec<f64>| Curve {
        name: name.into(),
        points: std::iter::once(0.0).chain(y).enumerate().map(|(i, y)| (i as f64, y)).collect(),
    };
    let plot = |title: &str, y_name: &str, curves| Plot {
        title: title.into(),
        x_name: "segments welded".into(),
        y_name: y_name.into(),
        curves,
        band: None,
        size_mm: (186.0, 80.0),
    };

    let (b, round) = (t_joint(), run("T", "ccw_from_E"));
    let ours = path(&b, &b.model(), &segments(&round), Level::Fine);
    let t = plot(
        "Lean of a T-joint welded all round, and by finite elements (FE)",
        "degrees",
        vec![
            curve("along, FE", theirs(&round, "tilt_in_plane_deg")),
            curve("along", ours.iter().map(|g| g[0]).collect()),
            curve("across, FE", theirs(&round, "tilt_out_of_plane_deg")),
            curve("across", ours.iter().map(|g| g[1]).collect()),
        ],
    );
    let (b, joints) = (ladder(460.0, &[-150.0, 150.0]), run("ladder", "joint_by_joint_ccw"));
    let ours = ladder_path(&b, &b.model(), &joints, Level::Fine);
    let ladder = plot(
        "Width and flatness of a ladder of two rungs, joint by joint, and by finite elements (FE)",
        "mm",
        vec![
            curve("width, FE", theirs(&joints, "width_change_left")),
            curve("width", ours.iter().map(|g| g[0]).collect()),
            curve("flat, FE", theirs(&joints, "out_of_plane_dy")),
            curve("flat", ours.iter().map(|g| g[3]).collect()),
        ],
    );
    for (name, plot) in [("finite-elements-tee", t), ("finite-elements-ladder", ladder)] {
        crate::sheets::made_pictures::current(&format!("{name}.svg"), &svg(&plots::draw(&plot)));
    }
}

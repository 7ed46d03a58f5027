//! Against thermo-elastic-plastic finite-element runs of a T-joint, an H and a ladder (our own runs,
//! `reference_fe.json` beside this file; not measurements, absolute values about ±30 %).
//!
//! What is held here is the honest spread: the path after every segment, its size, the kink. The lean
//! left at the end of a single free joint is a small difference of large numbers and is *not*
//! predicted well; no test pretends it is.

use super::hand::*;
use glam::DVec3;
use holdtrue::distort::{Event, Level, Model, Tack};
use holdtrue::frame::Shape;
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
            let segments: Vec<(usize, bool)> = run["segments"]
                .as_array()
                .expect("segments")
                .iter()
                .map(|s| (s[1].as_u64().expect("number") as usize, s[2] == 1))
                .collect();
            let got = path(&b, &m, &segments, level);
            for (g, s) in got.iter().zip(run["stages"].as_array().expect("stages")) {
                let want = ["tilt_in_plane_deg", "tilt_out_of_plane_deg", "kink_in_plane_deg"]
                    .map(|k| s[k].as_f64().unwrap());
                println!("{level:?} {} {:?} {:?}", run["order"], g.map(|v| (v * 1e3).round() / 1e3), want);
                ours.extend(&g[..2]);
                theirs.extend(&want[..2]);
            }
        }
        println!(
            "{level:?}: correlation {:.4}, ratio {:.3}",
            correlation(&ours, &theirs),
            ratio(&ours, &theirs)
        );
    }
}

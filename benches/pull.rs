//! One full order by elimination against solving the frame anew at every pass.
//!
//! `cargo bench --bench pull` prints, for the example frames, the time of one order (coarse, fine), of
//! the frame assembled and factorised (sparse) and solved at every pass, and their ratio, measured in
//! one run. The sparse solver is a generous one: it assembles beams and springs of like number and
//! pattern once for each pass and solves one right-hand side, nothing else.

use faer::linalg::solvers::Solve;
use faer::sparse::linalg::solvers::{Llt, SymbolicLlt};
use faer::sparse::{SparseColMat, Triplet};
use faer::{Mat, Side};
use holdtrue::distort::{Beam, Event, Level, Model, section_values};
use holdtrue::frame::Frame;
use holdtrue::joint::Joints;
use std::time::Instant;

fn main() {
    println!(
        "frame               passes joints  coarse ms  fine ms  re-solving ms  ratio coarse  ratio fine"
    );
    for name in ["square", "ladder", "cargo-trike", "trailer", "machine-base"] {
        let path = format!("{}/examples/{name}.toml", env!("CARGO_MANIFEST_DIR"));
        let text = std::fs::read_to_string(&path).expect("the example is there");
        let frame = match holdtrue::frame::read(&text) {
            Ok(f) => f.value,
            Err(e) => panic!("{name}: {e:?}"),
        };
        let joints = holdtrue::joint::joints(&frame).expect("the example is sound").value;
        let seams = holdtrue::seam::seams(&frame, &joints);
        let passes = holdtrue::procedure::passes(&frame, &joints, &seams);
        let model = Model::new(&frame, &joints, &seams, &passes).expect("the example holds");
        let n = passes.passes.len();
        // Skip round the frame: every seventh pass.
        let mut order: Vec<usize> = Vec::new();
        for k in 0..7 {
            order.extend((k..n).step_by(7));
        }
        let events: Vec<Event> = order.iter().map(|p| Event::Pass { pass: *p, forward: true }).collect();
        let time = |level| {
            let start = Instant::now();
            let mut sum = 0.0;
            let mut runs = 0;
            while runs < 3 || start.elapsed().as_secs_f64() < 0.3 {
                sum +=
                    model.controls_after(&events, level).expect("nothing comes loose").0.iter().sum::<f64>();
                runs += 1;
            }
            assert!(sum.is_finite());
            1e3 * start.elapsed().as_secs_f64() / runs as f64
        };
        let (coarse, fine) = (time(Level::Coarse), time(Level::Fine));
        let start = Instant::now();
        solve_each(&frame, &joints, n.min(60));
        let again = 1e3 * start.elapsed().as_secs_f64() * n as f64 / n.min(60) as f64;
        println!(
            "{name:<20}{n:>6}{:>7}{coarse:>11.2}{fine:>9.2}{again:>15.1}{:>14.1}{:>12.1}",
            joints.joints.len(),
            again / coarse,
            again / fine
        );
    }
}

/// Assembles, factorises and solves a frame of this size once for each pass.
fn solve_each(frame: &Frame, joints: &Joints, times: usize) {
    let mut beams = Vec::new();
    let mut nodes = 0;
    let mut of_tube: Vec<Vec<(f64, usize)>> = Vec::new();
    for (t, tube) in frame.tubes.iter().enumerate() {
        let mut cuts: Vec<f64> = tube.s.clone();
        cuts.extend(joints.joints.iter().flat_map(|j| &j.tubes).filter(|(k, _)| *k == t).map(|(_, s)| *s));
        cuts.sort_by(f64::total_cmp);
        cuts.dedup_by(|b, a| *b - *a < 0.5);
        let section = &frame.sections[tube.section];
        let m = &frame.materials[section.material];
        let place = |s: f64| {
            let i = (0..tube.axis.len() - 2).find(|i| s < tube.s[i + 1]).unwrap_or(tube.axis.len() - 2);
            (tube.axis[i] + (tube.axis[i + 1] - tube.axis[i]).normalize() * (s - tube.s[i]), i)
        };
        let list: Vec<(f64, usize)> = cuts.iter().enumerate().map(|(i, s)| (*s, nodes + i)).collect();
        nodes += list.len();
        for w in list.windows(2) {
            let chord = place(0.5 * (w[0].0 + w[1].0)).1;
            let v = section_values(&section.shape);
            let h = tube.height_dir[chord];
            beams.push(Beam::new(
                t,
                [w[0].1, w[1].1],
                place(w[0].0).0,
                place(w[1].0).0,
                h,
                &v,
                m.e_mpa,
                m.g_mpa(),
            ));
        }
        of_tube.push(list);
    }
    let node = |t: usize, s: f64| {
        of_tube[t]
            .iter()
            .min_by(|a, b| (a.0 - s).abs().total_cmp(&(b.0 - s).abs()))
            .expect("a tube has nodes")
            .1
    };
    for pass in 0..times {
        let mut entries = Vec::new();
        for b in &beams {
            for i in 0..12 {
                for j in 0..12 {
                    let (p, q) = (6 * b.nodes[i / 6] + i % 6, 6 * b.nodes[j / 6] + j % 6);
                    if p >= q {
                        entries.push(Triplet::new(p, q, b.k[i][j]));
                    }
                }
            }
        }
        for meet in &joints.meets {
            let (a, b) = (node(meet.branch.0, meet.branch.1), node(meet.carriers[0].0, meet.carriers[0].1));
            for c in 0..6 {
                let k = 1e5 * (1.0 + pass as f64) * if c < 3 { 1.0 } else { 100.0 };
                entries.push(Triplet::new(6 * a + c, 6 * a + c, k));
                entries.push(Triplet::new(6 * b + c, 6 * b + c, k));
                entries.push(Triplet::new(6 * a.max(b) + c, 6 * a.min(b) + c, -k));
            }
        }
        for d in 0..6 * nodes {
            entries.push(Triplet::new(d, d, 1e-3));
        }
        let matrix = SparseColMat::<usize, f64>::try_new_from_triplets(6 * nodes, 6 * nodes, &entries)
            .expect("indices fit");
        let symbolic = SymbolicLlt::try_new(matrix.symbolic(), Side::Lower).expect("memory");
        let factor =
            Llt::try_new_with_symbolic(symbolic, matrix.as_ref(), Side::Lower).expect("positive definite");
        let mut x = Mat::<f64>::from_fn(6 * nodes, 1, |i, _| (i % 7) as f64);
        factor.solve_in_place(x.as_mut());
        assert!(x[(0, 0)].is_finite());
    }
}

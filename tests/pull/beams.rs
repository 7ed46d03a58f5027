//! Beams against books and against a general-purpose frame analysis library.

use crate::support::{near, near_rel};
use glam::DVec3;
use holdtrue::distort::{Beam, SectionValues};
use serde_json::Value;

/// Rigidly joined members, some degrees of freedom held: displacements by dense elimination.
struct Book {
    at: Vec<DVec3>,
    beams: Vec<Beam>,
    held: Vec<usize>,
    load: Vec<f64>,
}

impl Book {
    fn new(at: &[[f64; 3]]) -> Book {
        Book {
            at: at.iter().map(|p| DVec3::from_array(*p)).collect(),
            beams: vec![],
            held: vec![],
            load: vec![0.0; 6 * at.len()],
        }
    }
    fn member(&mut self, a: usize, b: usize, height: DVec3, v: &SectionValues, e: f64, g: f64) {
        self.beams.push(Beam::new(0, [a, b], self.at[a], self.at[b], height, v, e, g));
    }
    fn solve(&self) -> Vec<f64> {
        let n = self.load.len();
        let mut k = vec![vec![0.0; n + 1]; n];
        for b in &self.beams {
            for i in 0..12 {
                for j in 0..12 {
                    k[6 * b.nodes[i / 6] + i % 6][6 * b.nodes[j / 6] + j % 6] += b.k[i][j];
                }
            }
        }
        for i in 0..n {
            k[i][n] = self.load[i];
            if self.held.contains(&i) {
                k[i].fill(0.0);
                k.iter_mut().for_each(|row| row[i] = 0.0);
                k[i][i] = 1.0;
            }
        }
        for p in 0..n {
            let best = (p..n).max_by(|a, b| k[*a][p].abs().total_cmp(&k[*b][p].abs())).unwrap();
            k.swap(p, best);
            for i in 0..n {
                if i != p && k[i][p] != 0.0 {
                    let f = k[i][p] / k[p][p];
                    for j in p..=n {
                        k[i][j] -= f * k[p][j];
                    }
                }
            }
        }
        (0..n).map(|i| k[i][n] / k[i][i]).collect()
    }
}

const STEEL: (f64, f64) = (210_000.0, 80_769.0);

/// End load on a cantilever: P L³/(3 E I), slope P L²/(2 E I), twist T L/(G J), stretch P L/(E A).
/// Any textbook of strength of materials.
#[test]
fn cantilever() {
    let v = SectionValues { area_mm2: 300.0, iy_mm4: 5e4, iz_mm4: 2e4, j_mm4: 6e4 };
    let l = 800.0;
    let mut b = Book::new(&[[0.0, 0.0, 0.0], [0.3 * l, 0.0, 0.0], [l, 0.0, 0.0]]);
    b.member(0, 1, DVec3::Z, &v, STEEL.0, STEEL.1);
    b.member(1, 2, DVec3::Z, &v, STEEL.0, STEEL.1);
    b.held = (0..6).collect();
    b.load[12..16].copy_from_slice(&[900.0, 20.0, -50.0, 7000.0]);
    let u = b.solve();
    near_rel(u[12], 900.0 * l / (STEEL.0 * 300.0), 1e-9);
    near_rel(u[13], 20.0 * l.powi(3) / (3.0 * STEEL.0 * 2e4), 1e-9);
    near_rel(u[14], -50.0 * l.powi(3) / (3.0 * STEEL.0 * 5e4), 1e-9);
    near_rel(u[15], 7000.0 * l / (STEEL.1 * 6e4), 1e-9);
    near_rel(u[16], 50.0 * l.powi(2) / (2.0 * STEEL.0 * 5e4), 1e-9);
    near_rel(u[17], 20.0 * l.powi(2) / (2.0 * STEEL.0 * 2e4), 1e-9);
}

/// Sway of a portal with fixed feet under a push P at its top: P h³/(12 E I) · (3k+2)/(6k+1),
/// k = (I_b/L)·(h/I_c) (Kleinlogel, *Rigid frame formulas*; from memory). Stretch of members left
/// out by a large area.
#[test]
fn portal_with_fixed_feet() {
    let (h, l, ic, ib) = (600.0, 900.0, 4e4, 7e4);
    let column = SectionValues { area_mm2: 1e8, iy_mm4: ic, iz_mm4: ic, j_mm4: ic };
    let beam = SectionValues { iy_mm4: ib, iz_mm4: ib, ..column };
    let mut b = Book::new(&[[0.0, 0.0, 0.0], [0.0, 0.0, h], [l, 0.0, h], [l, 0.0, 0.0]]);
    b.member(0, 1, DVec3::X, &column, STEEL.0, STEEL.1);
    b.member(1, 2, DVec3::Z, &beam, STEEL.0, STEEL.1);
    b.member(3, 2, DVec3::X, &column, STEEL.0, STEEL.1);
    b.held = (0..6).chain(18..24).collect();
    b.load[6] = 100.0;
    let k = ib / l * h / ic;
    near_rel(
        b.solve()[6],
        100.0 * h.powi(3) / (12.0 * STEEL.0 * ic) * (3.0 * k + 2.0) / (6.0 * k + 1.0),
        1e-5,
    );
}

/// Logan, *A First Course in the Finite Element Method*, example of a space frame of three members
/// meeting square at one node (5.8 in the 5th edition); inches and kips; printed values, from memory.
#[test]
fn logan_space_frame() {
    let v = SectionValues { area_mm2: 10.0, iy_mm4: 100.0, iz_mm4: 100.0, j_mm4: 50.0 };
    let mut b = Book::new(&[[0.0; 3], [-100.0, 0.0, 0.0], [0.0, 0.0, -100.0], [0.0, -100.0, 0.0]]);
    for n in 1..4 {
        let height = if n == 3 { DVec3::X } else { DVec3::Y };
        b.member(n, 0, height, &v, 30_000.0, 10_000.0);
    }
    b.held = (6..24).collect();
    b.load[1] = -50.0;
    b.load[3] = -1000.0;
    let u = b.solve();
    println!("{:?}", &u[..6]);
    near(u[0], 7.098e-5, 0.01e-5);
    near(u[1], -0.014, 0.0005);
    near(u[2], -2.352e-3, 0.002e-3);
    near(u[3], -3.996e-3, 0.002e-3);
    near(u[4], 1.78e-5, 0.01e-5);
    near(u[5], -1.033e-4, 0.002e-4);
}

/// Three space frames (a tricycle's, a trailer's, a machine base's centre lines) against PyNiteFEA
/// 3.2.0; `other_program/frames.py` made the numbers.
#[test]
fn another_program() {
    let data: Value = serde_json::from_str(include_str!("other_program/frames.json")).unwrap();
    let list = |v: &Value| v.as_array().unwrap().iter().map(|x| x.as_f64().unwrap()).collect::<Vec<f64>>();
    for f in data["frames"].as_array().unwrap() {
        let s = |k: &str| f["section"][k].as_f64().unwrap();
        let v = SectionValues { area_mm2: s("A"), iy_mm4: s("Iy"), iz_mm4: s("Iz"), j_mm4: s("J") };
        let names: Vec<&String> = f["nodes"].as_object().unwrap().keys().collect();
        let node = |n: &Value| names.iter().position(|m| *m == n.as_str().unwrap()).unwrap();
        let at: Vec<[f64; 3]> = names.iter().map(|n| list(&f["nodes"][*n]).try_into().unwrap()).collect();
        let mut b = Book::new(&at);
        for m in f["members"].as_array().unwrap() {
            let name = format!("{}{}", m[0].as_str().unwrap(), m[1].as_str().unwrap());
            let y = DVec3::from_slice(&list(&f["local_y"][&name]));
            let (i, j) = (node(&m[0]), node(&m[1]));
            let x = (b.at[j] - b.at[i]).normalize();
            b.member(i, j, x.cross(y), &v, 210_000.0, 210_000.0 / 2.6);
        }
        for (n, axes) in f["held"].as_object().unwrap() {
            let n = names.iter().position(|m| *m == n).unwrap();
            b.held.extend(axes.as_str().unwrap().bytes().map(|c| 6 * n + (c - b'x') as usize));
        }
        for l in f["loads"].as_array().unwrap() {
            let d = ["FX", "FY", "FZ", "MX", "MY", "MZ"]
                .iter()
                .position(|d| *d == l[1].as_str().unwrap())
                .unwrap();
            b.load[6 * node(&l[0]) + d] += l[2].as_f64().unwrap();
        }
        let u = b.solve();
        for (n, name) in names.iter().enumerate() {
            for (q, want) in list(&f["moved"][*name]).iter().enumerate() {
                let scale: f64 = if q < 3 { 1.0 } else { 1e-3 };
                near(u[6 * n + q], *want, 1e-6 * scale.max(want.abs()));
            }
        }
    }
}

//! Lumps of metal and the paths of heat between them, stepped in time.

use super::solve::{Factor, Symmetric};

/// A network of lumps. Temperatures are rises above the air.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Network {
    /// Heat capacity of each lump, J/K.
    pub capacity_j_k: Vec<f64>,
    /// Loss of each lump to the air, W/K.
    pub loss_w_k: Vec<f64>,
    /// Paths: two lumps and the conductance between them, W/K.
    pub links: Vec<(usize, usize, f64)>,
    /// Length of each path, in lengths over which a steady temperature falls by e in that bar (0
    /// without loss).
    pub folds: Vec<f64>,
}

impl Network {
    /// A new lump; returns its number.
    pub fn lump(&mut self, capacity_j_k: f64, loss_w_k: f64) -> usize {
        self.capacity_j_k.push(capacity_j_k);
        self.loss_w_k.push(loss_w_k);
        self.capacity_j_k.len() - 1
    }

    /// A new path between two lumps; `folds` as in [`Network::folds`].
    pub fn link(&mut self, a: usize, b: usize, conductance_w_k: f64, folds: f64) {
        self.links.push((a, b, conductance_w_k));
        self.folds.push(folds);
    }

    /// A length of uniform bar between two lumps that exist already, cut at the given places (mm
    /// from the first, growing, first and last being the ends). Inner lumps are made; each cut's
    /// half cells go to the lumps at its ends. Returns the lumps from end to end.
    pub fn bar(&mut self, ends: [usize; 2], cuts_mm: &[f64], bar: &Bar) -> Vec<usize> {
        let last = cuts_mm.len() - 1;
        let mut lumps = vec![ends[0]];
        for _ in 1..last {
            lumps.push(self.lump(0.0, 0.0));
        }
        lumps.push(ends[1]);
        for i in 0..last {
            let length = cuts_mm[i + 1] - cuts_mm[i];
            for lump in [lumps[i], lumps[i + 1]] {
                self.capacity_j_k[lump] += 0.5 * length * bar.capacity_j_k_mm;
                self.loss_w_k[lump] += 0.5 * length * bar.loss_w_k_mm;
            }
            self.link(lumps[i], lumps[i + 1], bar.conduct_w_mm_k / length, length / bar.reach_mm());
        }
        lumps
    }

    /// Number of lumps.
    pub fn len(&self) -> usize {
        self.capacity_j_k.len()
    }

    /// Whether there are no lumps.
    pub fn is_empty(&self) -> bool {
        self.capacity_j_k.is_empty()
    }
}

/// A uniform bar as a conductor, per millimetre of its length.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bar {
    /// ρ·c·A, J/(K·mm).
    pub capacity_j_k_mm: f64,
    /// k·A, W·mm/K.
    pub conduct_w_mm_k: f64,
    /// h·P, W/(K·mm).
    pub loss_w_k_mm: f64,
}

impl Bar {
    /// From material values in the library's units, steel area mm², loss W/(m²K), perimeter mm.
    pub fn new(
        density_kg_m3: f64,
        specific_heat_j_kgk: f64,
        conductivity_w_mk: f64,
        area_mm2: f64,
        loss_w_m2k: f64,
        perimeter_mm: f64,
    ) -> Self {
        Bar {
            capacity_j_k_mm: density_kg_m3 * 1e-9 * specific_heat_j_kgk * area_mm2,
            conduct_w_mm_k: conductivity_w_mk * 1e-3 * area_mm2,
            loss_w_k_mm: loss_w_m2k * 1e-6 * perimeter_mm,
        }
    }

    /// Length over which a steady local temperature falls by e, mm; infinite without loss.
    pub fn reach_mm(&self) -> f64 {
        (self.conduct_w_mm_k / self.loss_w_k_mm).sqrt()
    }
}

/// Third-order, L-stable, stiffly accurate diagonally implicit Runge–Kutta scheme.
/// Source: R. Alexander, SIAM J. Numer. Anal. 14 (1977); from memory (its order is tested).
mod scheme {
    pub const GAMMA: f64 = 0.435_866_521_508_459;
    pub const A21: f64 = 0.5 * (1.0 - GAMMA);
    pub const B1: f64 = -0.25 * (6.0 * GAMMA * GAMMA - 16.0 * GAMMA + 1.0);
    pub const B2: f64 = 0.25 * (6.0 * GAMMA * GAMMA - 20.0 * GAMMA + 5.0);
}

/// A network being stepped: temperatures, and the energy balance kept to rounding.
#[derive(Debug, Clone)]
pub struct March<'a> {
    net: &'a Network,
    pattern: Symmetric,
    /// Sum of the paths at each lump plus its loss, W/K.
    diagonal: Vec<f64>,
    factor: Option<(f64, Factor)>,
    /// Rise of each lump above the air, K.
    pub rise_k: Vec<f64>,
    /// Energy lost to the air so far, J.
    pub lost_j: f64,
    /// Energy put in by sources so far, J.
    pub given_j: f64,
    /// Integral of each lump's rise over time so far, K·s.
    pub integral_k_s: Vec<f64>,
    stages: [Vec<f64>; 3],
    scratch: Vec<f64>,
}

impl<'a> March<'a> {
    /// Start cold. The lumps are eliminated in the order of their numbers: number far ends first
    /// where speed matters.
    pub fn new(net: &'a Network) -> Self {
        let n = net.len();
        let mut diagonal = net.loss_w_k.clone();
        for &(a, b, g) in &net.links {
            diagonal[a] += g;
            diagonal[b] += g;
        }
        let pairs: Vec<(usize, usize)> = net.links.iter().map(|l| (l.0, l.1)).collect();
        March {
            net,
            pattern: Symmetric::new(n, &pairs),
            diagonal,
            factor: None,
            rise_k: vec![0.0; n],
            lost_j: 0.0,
            given_j: 0.0,
            integral_k_s: vec![0.0; n],
            stages: [vec![0.0; n], vec![0.0; n], vec![0.0; n]],
            scratch: vec![0.0; n],
        }
    }

    /// Put energy into a lump at once, J.
    pub fn heat(&mut self, lump: usize, energy_j: f64) {
        self.rise_k[lump] += energy_j / self.net.capacity_j_k[lump];
        self.given_j += energy_j;
    }

    /// Heat now in the steel, J.
    pub fn stored_j(&self) -> f64 {
        self.rise_k.iter().zip(&self.net.capacity_j_k).map(|(t, c)| t * c).sum()
    }

    /// One step of `step_s` seconds with steady sources (lump, W).
    pub fn step(&mut self, step_s: f64, sources: &[(usize, f64)]) {
        use scheme::{A21, B1, B2, GAMMA};
        let n = self.net.len();
        let implicit = GAMMA * step_s;
        if self.factor.as_ref().is_none_or(|(h, _)| *h != step_s) {
            let diagonal: Vec<f64> =
                (0..n).map(|i| self.net.capacity_j_k[i] + implicit * self.diagonal[i]).collect();
            let off: Vec<f64> = self.net.links.iter().map(|l| -implicit * l.2).collect();
            self.factor = Some((step_s, self.pattern.factor(&diagonal, &off)));
        }
        let Some((_, factor)) = &self.factor else { return };
        let before = [[0.0; 2], [A21, 0.0], [B1, B2]];
        let weights = [B1, B2, GAMMA];
        for stage in 0..3 {
            let (done, rest) = self.stages.split_at_mut(stage);
            let k = &mut rest[0];
            // Temperatures known so far in this stage.
            let known = &mut self.scratch;
            known.copy_from_slice(&self.rise_k);
            for (rate, weight) in done.iter().zip(before[stage]) {
                for (t, r) in known.iter_mut().zip(rate) {
                    *t += step_s * weight * r;
                }
            }
            // Heat flowing into each lump at these temperatures: the right-hand side.
            for i in 0..n {
                k[i] = -self.net.loss_w_k[i] * known[i];
            }
            for &(a, b, g) in &self.net.links {
                let flow = g * (known[a] - known[b]);
                k[a] -= flow;
                k[b] += flow;
            }
            for &(lump, watts) in sources {
                k[lump] += watts;
            }
            factor.solve(k);
            // The stage's own temperatures: what the air takes and what the integral sees.
            let share = step_s * weights[stage];
            let mut loss = 0.0;
            for i in 0..n {
                let stage_k = known[i] + implicit * k[i];
                loss += self.net.loss_w_k[i] * stage_k;
                self.integral_k_s[i] += share * stage_k;
            }
            self.lost_j += share * loss;
        }
        for (rates, weight) in self.stages.iter().zip(weights) {
            for (t, r) in self.rise_k.iter_mut().zip(rates) {
                *t += step_s * weight * r;
            }
        }
        self.given_j += step_s * sources.iter().map(|s| s.1).sum::<f64>();
    }
}

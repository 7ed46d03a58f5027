//! Laying metal: fibres melt what they touch, set, and shrink.

use super::block::Block;
use super::constants as c;
use super::ring::Fibre;
use super::staged::{Laid, State};
use super::{Event, Level};
use crate::fault::Fault;
use std::collections::BTreeMap;

impl State<'_> {
    /// Tacks and passes laid at the same time: all fibres set, then all shrink.
    pub(super) fn weld(&mut self, events: &[Event]) -> Result<(), Fault> {
        let mut runs: Vec<(usize, Vec<Fibre>)> = Vec::new();
        let mut passes = Vec::new();
        for e in events {
            match e {
                Event::Tack(t) => runs.push((t.seam, vec![self.model.tack_fibre(t, self.level)])),
                Event::Pass { pass, forward } => {
                    passes.push(*pass);
                    let seam = self.model.passes.passes[*pass].seam;
                    runs.push((seam, self.model.pass_fibres(*pass, *forward, self.level)));
                }
                other => self.apply(other)?,
            }
        }
        let before = if passes.is_empty() { Vec::new() } else { self.controls() };
        let first = self.laid.len();
        let ok = match &runs[..] {
            [(seam, fibres)] => self.weld_alone(*seam, fibres),
            _ => self.weld_apart(&runs),
        };
        if !ok {
            return Err(self.loose_fault(runs[0].1[0].port));
        }
        if passes.is_empty() {
            self.check_rest();
            self.compact();
        } else {
            self.leave_stops(&passes)?;
            let after = self.controls();
            for pass in &passes {
                let change = after.iter().zip(&before).map(|(a, b)| (a - b) / passes.len() as f64).collect();
                self.direct.push((*pass, change));
                self.tau.push((*pass, self.tau_since(first, *pass)));
                self.path.push(after.clone());
            }
        }
        Ok(())
    }

    /// One run. As long as it stays in one port, and melts nothing in another, the rest of the frame
    /// learns of it once.
    fn weld_alone(&mut self, seam: usize, fibres: &[Fibre]) -> bool {
        let mut ok = true;
        let mut next = 0;
        while next < fibres.len() {
            let (first, port) = (next, fibres[next].port);
            ok &= self.at_port(port, |block, state| {
                let mut ok = true;
                while let Some(f) = fibres.get(next).filter(|f| f.port == port) {
                    let touched = state.touched(&[(seam, f)]);
                    if touched.iter().any(|(i, _)| state.laid[*i].fibre.port != port) {
                        break;
                    }
                    ok &= state.melt_here(block, &touched);
                    state.lay(block, seam, f);
                    state.shrink(block, state.laid.len() - 1);
                    next += 1;
                }
                ok
            });
            if next == first {
                ok &= self.weld_apart(&[(seam, vec![fibres[next].clone()])]);
                next += 1;
            }
        }
        ok
    }

    /// Several runs at once, or a fibre that melts what belongs to another station.
    fn weld_apart(&mut self, runs: &[(usize, Vec<Fibre>)]) -> bool {
        let longest = runs.iter().map(|r| r.1.len()).max().unwrap_or(0);
        let mut ok = true;
        for m in 0..longest {
            let now: Vec<(usize, &Fibre)> =
                runs.iter().filter_map(|(s, f)| f.get(m).map(|f| (*s, f))).collect();
            let touched = self.touched(&now);
            ok &= self.melt_apart(&touched);
            // Gaps of the moment are read before any of them is closed.
            let hot: Vec<[f64; 3]> = now
                .iter()
                .map(|(_, f)| self.at_port(f.port, |block, _| f.springs.map(|s| block.hot_gap(&s.0))))
                .collect();
            let first = self.laid.len();
            for ((seam, f), hot) in now.iter().zip(hot) {
                self.at_port(f.port, |block, state| {
                    block.hot = [0.0; 6];
                    state.lay(block, *seam, f);
                });
                let last = self.laid.last_mut().expect("just laid");
                for (i, hot) in hot.iter().enumerate() {
                    last.rest[i * self.cols] += hot;
                }
                last.tau = hot;
            }
            for i in first..self.laid.len() {
                let port = self.laid[i].fibre.port;
                self.at_port(port, |block, state| state.shrink(block, i));
            }
        }
        ok
    }

    /// A fibre sets at the gap of the moment, with no force.
    fn lay(&mut self, block: &mut Block, seam: usize, f: &Fibre) {
        let tau = f.springs.map(|s| block.hot_gap(&s.0));
        let mut rest = Vec::with_capacity(3 * self.cols);
        for (s, tau) in f.springs.iter().zip(tau) {
            let mut gap = block.gap(&s.0);
            gap[0] += tau;
            rest.extend(gap);
        }
        for s in &f.springs {
            block.stiffen(s);
        }
        self.keep(Laid { fibre: f.clone(), seam, rest, tau });
    }
    /// What pools at the given fibres touch, their own tails too: (index of a laid fibre, part).
    fn touched(&self, pools: &[(usize, &Fibre)]) -> Vec<(usize, f64)> {
        if self.level == Level::Coarse {
            return Vec::new();
        }
        let mut out = Vec::new();
        let mut seams: Vec<usize> = pools.iter().map(|(seam, _)| *seam).collect();
        seams.sort_unstable();
        seams.dedup();
        for i in seams.iter().flat_map(|s| &self.of_seam[*s]) {
            let laid = &self.laid[*i];
            let usual = if laid.fibre.tack { c::MELT_TACK.value } else { c::MELT_NEIGHBOUR.value };
            let most = self.model.varied.1.unwrap_or(usual);
            let part = pools
                .iter()
                .filter(|(seam, _)| *seam == laid.seam)
                .map(|(_, f)| most * (1.0 - laid.fibre.at.distance(f.at) / c::MELT_REACH.value))
                .fold(0.0, f64::max);
            if part > 0.0 {
                out.push((*i, part));
            }
        }
        out
    }
    /// Melting in the port that is being worked on.
    fn melt_here(&mut self, block: &mut Block, touched: &[(usize, f64)]) -> bool {
        let cols = self.cols;
        let ok = block.melt(touched.iter().flat_map(|(i, part)| {
            let laid = &self.laid[*i];
            (0..3).map(|q| (&laid.fibre.springs[q], &laid.rest[q * cols..(q + 1) * cols], *part))
        }));
        for (i, part) in touched {
            let laid = &mut self.laid[*i];
            block.set_again(&laid.fibre.springs, &mut laid.rest, *part);
        }
        ok
    }
    /// Melting in several ports at once: first all of it is taken away, then all sets, then all holds.
    fn melt_apart(&mut self, touched: &[(usize, f64)]) -> bool {
        let mut of_port: BTreeMap<usize, Vec<(usize, f64)>> = BTreeMap::new();
        for (i, part) in touched {
            of_port.entry(self.laid[*i].fibre.port).or_default().push((*i, *part));
        }
        let mut ok = true;
        for (port, list) in &of_port {
            ok &= self.at_port(*port, |block, state| {
                list.iter().all(|(i, part)| {
                    let laid = &state.laid[*i];
                    block.take(&laid.fibre.springs, &laid.rest, *part)
                })
            });
        }
        for (port, list) in &of_port {
            self.at_port(*port, |block, state| {
                for (i, part) in list {
                    let laid = &mut state.laid[*i];
                    block.set_again(&laid.fibre.springs, &mut laid.rest, *part);
                }
            });
        }
        for (port, list) in &of_port {
            self.at_port(*port, |block, state| {
                for (i, part) in list {
                    for (b, k) in state.laid[*i].fibre.springs {
                        block.stiffen(&(b, part * k));
                    }
                }
            });
        }
        ok
    }
    /// The fibre cools and shrinks, and so do the walls beside it.
    fn shrink(&mut self, block: &mut Block, index: usize) {
        let cols = self.cols;
        let laid = &mut self.laid[index];
        let meet = &self.model.joints.meets[laid.seam];
        let joints = self.model.joints.joints.len();
        let shares = self.options.shares;
        let columns = |tube: usize| {
            if shares { [Some(1 + meet.joint), Some(1 + joints + tube)] } else { [Some(0), None] }
        };
        for c in columns(meet.branch.0).into_iter().flatten() {
            laid.rest[c] -= laid.fibre.delta_mm;
        }
        for (i, s) in laid.fibre.springs.iter().enumerate() {
            let mut force = vec![0.0; cols];
            force[0] = -s.1 * laid.tau[i];
            if i == 0 {
                for c in columns(meet.branch.0).into_iter().flatten() {
                    force[c] += s.1 * laid.fibre.delta_mm;
                }
            }
            block.push(&s.0, &force);
        }
        for (load, amount, tube) in &laid.fibre.walls {
            let first = self.model.parts.ports[laid.fibre.port].loads.0;
            for c in columns(*tube).into_iter().flatten() {
                block.wall(load - first, *amount, c);
            }
        }
    }
}

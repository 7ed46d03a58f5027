//! Whether anything can still move when every seam is tacked, and which tubes those are.

use super::model::Model;
use super::{Level, Options};
use crate::fault::Fault;
use crate::frame::Frame;
use crate::joint::Joints;
use crate::numbers::sparse::{Sparse, null_space};
use crate::procedure::Passes;
use crate::seam::Seams;

/// A tube counts as loose if it takes this part in what is free to move, against the tube that takes most.
const TAKES_PART: f64 = 1e-3;

/// Whether everything holds once all joints are tacked and clamped, for a frame of any size.
///
/// # Errors
/// `E601` for every tube that can still move.
pub fn held(frame: &Frame, joints: &Joints, seams: &Seams, passes: &Passes) -> Result<(), Vec<Fault>> {
    Model::bones(frame, joints, seams, passes).held()
}

impl Model {
    /// `E601` for every tube that can still move with all seams tacked: tubes are taken as rigid, and
    /// what none of the springs in place resists is looked for.
    pub(super) fn held(&self) -> Result<(), Vec<Fault>> {
        let springs = self.tacked_springs(&self.default_tacks(), Level::Coarse, &Options::default());
        let off: Vec<Option<usize>> = self.parts.ports.iter().map(|p| Some(p.first)).collect();
        let scale = self.reach();
        let rows: Vec<Sparse> = self
            .modes(&springs, &off)
            .into_iter()
            .map(|(at, v, stiff)| {
                let mut h = Sparse::new();
                for (d, v) in v.iter().enumerate() {
                    for (t, r) in &self.rigid[at + d] {
                        // Turns are measured by what they move at the far end of the frame.
                        let size = |q: usize| if q < 3 { 1.0 } else { 1.0 / scale };
                        h.extend((0..6).map(|q| (6 * t + q, v * r[q] * size(q))));
                    }
                }
                // Whether it resists is all that counts; equal weights keep it well conditioned.
                let weight = stiff.min(1.0).sqrt();
                h.iter_mut().for_each(|h| h.1 *= weight);
                h
            })
            .collect();
        let free = null_space(6 * self.frame.tubes.len(), &rows);
        let part = |t: usize| -> f64 { free.iter().flat_map(|x| &x[6 * t..6 * t + 6]).map(|v| v * v).sum() };
        let parts: Vec<f64> = (0..self.frame.tubes.len()).map(part).collect();
        let most = parts.iter().copied().fold(0.0, f64::max);
        let loose = self.frame.tubes.iter().zip(parts).filter(|(_, p)| most > 0.0 && *p > TAKES_PART * most);
        let faults: Vec<Fault> = loose
            .map(|(tube, _)| {
                Fault::new("E601", format!("`{}` can still move when everything is tacked", tube.name))
                    .at(tube.span.clone(), "nothing holds this one in all directions")
                    .help("let it land on another tube, or give its seam more than one weld line")
            })
            .collect();
        if faults.is_empty() { Ok(()) } else { Err(faults) }
    }
}

//! A weld line by its arc length: where is the place 37 mm on, and how are its samples spaced.

use super::{Line, SeamPoint};
use crate::joint::curve::{Curve, PieceKind};

/// Samples of curved pieces are never farther apart, mm (chords within [`Line`]'s promise).
const STEP_MM: f64 = 2.0;
/// What lies half way between two samples, by cubic interpolation, is this near to the curve, mm.
const BETWEEN_MM: f64 = 5e-7;

/// A curve with the arc length at the start of each piece.
#[derive(Debug, Clone)]
pub(super) struct Run {
    pub curve: Curve,
    /// Arc length at the start of each piece and at the end of the last, mm.
    pub starts: Vec<f64>,
}

impl Run {
    pub(super) fn new(curve: Curve) -> Run {
        let mut starts = vec![0.0];
        for piece in 0..curve.pieces.len() {
            starts.push(starts[piece] + curve.length(piece, 0.0, 1.0));
        }
        Run { curve, starts }
    }

    /// Whole length, mm.
    pub(super) fn length(&self) -> f64 {
        self.starts[self.starts.len() - 1]
    }

    /// Piece and parameter at arc length `s`; on a closed line `s` may run past the start.
    fn locate(&self, s: f64) -> (usize, f64) {
        let s = if self.curve.closed { s.rem_euclid(self.length()) } else { s.clamp(0.0, self.length()) };
        let last = self.curve.pieces.len() - 1;
        let piece = (0..last).find(|i| s < self.starts[i + 1]).unwrap_or(last);
        let (want, whole) = (s - self.starts[piece], self.starts[piece + 1] - self.starts[piece]);
        if let PieceKind::Straight { .. } = self.curve.pieces[piece].kind {
            return (piece, want / whole);
        }
        // the length grows with u: a Newton step that leaves the bracket is replaced by halving it
        let (mut low, mut high, mut u) = (0.0, 1.0, want / whole);
        for _ in 0..60 {
            let miss = self.curve.length(piece, 0.0, u) - want;
            if miss.abs() < 1e-11 * whole.max(1.0) {
                break;
            }
            if miss > 0.0 {
                high = u
            } else {
                low = u
            }
            let step = self.curve.place(piece, u).step.length();
            let newton = u - miss / step;
            u = if newton > low && newton < high { newton } else { 0.5 * (low + high) };
        }
        (piece, u)
    }

    /// The exact place at arc length `s`.
    pub(super) fn point(&self, s: f64) -> SeamPoint {
        let (piece, u) = self.locate(s);
        self.at(piece, u)
    }

    fn at(&self, piece: usize, u: f64) -> SeamPoint {
        let place = self.curve.place(piece, u);
        // walls of equal width graze at the ends of pieces: take directions just inside
        let inside = self.curve.place(piece, u.clamp(1e-6, 1.0 - 1e-6));
        SeamPoint {
            at: place.at,
            tangent: inside.step.normalize(),
            branch_normal: inside.branch_normal,
            carrier_normal: inside.carrier_normal,
            pull: inside.pull,
        }
    }

    /// Arc lengths at which a corner of the section lies.
    pub(super) fn corners(&self) -> Vec<f64> {
        (0..self.curve.pieces.len())
            .filter(|p| self.curve.pieces[*p].corner_at_start)
            .map(|p| self.starts[p])
            .collect()
    }

    /// Samples from arc length `from` to `to` (`to` may run once past the start of a closed line).
    /// Arc lengths in the result count from `from`.
    pub(super) fn sample(&self, from: f64, to: f64) -> Line {
        let mut line = Line { samples: Vec::new(), s: Vec::new() };
        let turns = if self.curve.closed { 2 } else { 1 };
        for turn in 0..turns {
            let shift = f64::from(turn) * self.length();
            for piece in 0..self.curve.pieces.len() {
                let (a, b) = (self.starts[piece] + shift, self.starts[piece + 1] + shift);
                let (a, b) = (a.max(from), b.min(to));
                if b - a > 1e-9 {
                    self.sample_piece(piece, a - shift, b - shift, shift - from, &mut line);
                }
            }
        }
        line
    }

    fn sample_piece(&self, piece: usize, a: f64, b: f64, shift: f64, line: &mut Line) {
        let start = self.starts[piece];
        let at_end = |s: f64| (s - self.starts[piece + 1]).abs() < 1e-9;
        let u = |s: f64| match s {
            s if (s - start).abs() < 1e-9 => 0.0,
            s if at_end(s) => 1.0,
            s => self.locate(s).1,
        };
        let (ua, ub) = (u(a), u(b));
        let straight = matches!(self.curve.pieces[piece].kind, PieceKind::Straight { .. });
        let mut n = if straight { 1 } else { ((b - a) / STEP_MM).ceil().max(2.0) as usize };
        let param = |i: usize, n: usize| ua + (ub - ua) * i as f64 / n as f64;
        let off = |n: usize| -> f64 {
            (0..n).map(|i| self.off_between(piece, param(i, n), param(i + 1, n))).fold(0.0, f64::max)
        };
        // the cubic errs with the fourth power of the step; crossings of equal tubes end in a corner
        // of infinite bending, where finer samples stop helping
        for _ in 0..4 {
            let worst = if straight { 0.0 } else { off(n) };
            if worst <= BETWEEN_MM || n > 256 {
                break;
            }
            n = (n as f64 * (worst / BETWEEN_MM).powf(0.25).clamp(1.1, 3.0)).ceil() as usize;
        }
        let mut s = a + shift;
        for i in 0..=n {
            if i > 0 {
                s += self.curve.length(piece, param(i - 1, n), param(i, n));
            }
            let point = self.at(piece, param(i, n));
            // a smooth join needs one sample only
            let joined = i == 0 && line.samples.last().is_some_and(|l| smooth(l, &point));
            if !joined {
                line.samples.push(point);
                line.s.push(s);
            }
        }
    }

    /// How far the cubic between two samples is off the curve about half way, mm. Compared at the same arc
    /// length: a shift along a bent curve of `d` would look like an error of d^2/2R.
    fn off_between(&self, piece: usize, a: f64, b: f64) -> f64 {
        let (p, q, mid) = (self.at(piece, a), self.at(piece, b), 0.5 * (a + b));
        let h = self.curve.length(piece, a, b);
        if h < 1e-9 {
            return 0.0;
        }
        let off = hermite(&p, &q, h, self.curve.length(piece, a, mid) / h) - self.curve.place(piece, mid).at;
        off.length()
    }
}

/// The cubic between two places `h` mm apart along the curve, at the part `t` of the way.
fn hermite(a: &SeamPoint, b: &SeamPoint, h: f64, t: f64) -> glam::DVec3 {
    let (t2, t3) = (t * t, t * t * t);
    a.at * (2.0 * t3 - 3.0 * t2 + 1.0)
        + b.at * (3.0 * t2 - 2.0 * t3)
        + a.tangent * (h * (t3 - 2.0 * t2 + t))
        + b.tangent * (h * (t3 - t2))
}

fn smooth(a: &SeamPoint, b: &SeamPoint) -> bool {
    let same = |x: glam::DVec3, y: glam::DVec3| x.distance(y) < 1e-5;
    same(a.tangent, b.tangent)
        && same(a.branch_normal, b.branch_normal)
        && same(a.carrier_normal, b.carrier_normal)
}

impl super::Seam {
    /// The place at arc length `s_mm` on a line; on a closed line `s_mm` may run past either end, on an
    /// open one it is cut to the line. Between samples by cubic interpolation (within 1e-6 mm of the
    /// curve, 1e-3 where equal tubes graze); directions are unit and normals square to the tangent.
    pub fn point(&self, line: usize, s_mm: f64) -> SeamPoint {
        self.lines[line].point(s_mm, self.closed)
    }
}

impl Line {
    /// Length of the line, mm.
    pub fn length_mm(&self) -> f64 {
        self.s[self.s.len() - 1]
    }

    fn point(&self, s: f64, closed: bool) -> SeamPoint {
        let s = if closed { s.rem_euclid(self.length_mm()) } else { s.clamp(0.0, self.length_mm()) };
        let i = self.s.partition_point(|x| *x <= s).clamp(1, self.s.len() - 1) - 1;
        let (a, b) = (&self.samples[i], &self.samples[i + 1]);
        let h = self.s[i + 1] - self.s[i];
        if h < 1e-9 {
            return *a;
        }
        let t = (s - self.s[i]) / h;
        let t2 = t * t;
        let at = hermite(a, b, h, t);
        let slope = (b.at - a.at) * (6.0 * (t - t2))
            + a.tangent * (h * (3.0 * t2 - 4.0 * t + 1.0))
            + b.tangent * (h * (3.0 * t2 - 2.0 * t));
        let tangent = slope.normalize();
        let between = |x: glam::DVec3, y: glam::DVec3| {
            let n = x.lerp(y, t);
            (n - tangent * n.dot(tangent)).normalize()
        };
        SeamPoint {
            at,
            tangent,
            branch_normal: between(a.branch_normal, b.branch_normal),
            carrier_normal: between(a.carrier_normal, b.carrier_normal),
            pull: a.pull.lerp(b.pull, t).normalize(),
        }
    }
}

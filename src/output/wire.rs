//! The frame as lines in space, and which pieces of them the eye can see.
//!
//! Each tube is a run of solids (cylinders and boxes). A point of a line is hidden if the ray from it
//! to the eye goes through a solid: exact for straight tubes, no sorting by depth.

use super::view::Fitted;
use crate::frame::{Frame, Shape};
use crate::joint::{Joints, MeetKind};
use crate::seam::Seams;
use glam::{DVec2, DVec3};

use super::drawing::{Area, Pt};

/// A line in space that belongs to a tube or a seam.
#[derive(Debug, Clone)]
pub struct Wire {
    /// Corners, mm.
    pub points: Vec<DVec3>,
}

/// A straight piece of a tube.
#[derive(Debug, Clone)]
pub struct Solid {
    from: DVec3,
    along: DVec3,
    length: f64,
    /// Square to `along`: height and width direction.
    across: [DVec3; 2],
    /// Half sizes in those directions; equal for a round one.
    half: [f64; 2],
    round: bool,
}

/// Solids are taken this much thinner than they are when asked whether they hide something, mm, so
/// that a line on a surface is not hidden by its own surface.
const SKIN_MM: f64 = 0.4;

/// The solids of a frame, in the order of its tubes.
pub fn solids(frame: &Frame) -> Vec<Solid> {
    let mut all = vec![];
    for tube in &frame.tubes {
        let shape = frame.sections[tube.section].shape;
        for (i, chord) in tube.axis.windows(2).enumerate() {
            let Some(along) = (chord[1] - chord[0]).try_normalize() else { continue };
            let height = tube.height_dir.get(i).copied().unwrap_or(DVec3::ZERO);
            let height = (height - along * height.dot(along))
                .try_normalize()
                .unwrap_or_else(|| along.any_orthonormal_vector());
            let (half, round) = match shape {
                Shape::Round { od, .. } | Shape::Solid { od } => ([od / 2.0; 2], true),
                Shape::Box { height, width, .. } => ([height / 2.0, width / 2.0], false),
                Shape::Flat { width, thickness } => ([thickness / 2.0, width / 2.0], false),
            };
            all.push(Solid {
                from: chord[0],
                along,
                length: chord[0].distance(chord[1]),
                across: [height, along.cross(height)],
                half,
                round,
            });
        }
    }
    all
}

impl Solid {
    /// Corners of a box around it, for fitting.
    pub fn corners(&self) -> Vec<DVec3> {
        let mut corners = vec![];
        for s in [0.0, self.length] {
            for (a, b) in [(1.0, 1.0), (1.0, -1.0), (-1.0, 1.0), (-1.0, -1.0)] {
                corners.push(self.at(s, a * self.half[0], b * self.half[1]));
            }
        }
        corners
    }

    fn at(&self, s: f64, a: f64, b: f64) -> DVec3 {
        self.from + self.along * s + self.across[0] * a + self.across[1] * b
    }

    /// Whether a ray from a point goes through it.
    fn hides(&self, from: DVec3, towards: DVec3) -> bool {
        let p = from - self.from;
        let local = |v: DVec3| [v.dot(self.across[0]), v.dot(self.across[1]), v.dot(self.along)];
        let (p, d) = (local(p), local(towards));
        let half = [self.half[0] - SKIN_MM, self.half[1] - SKIN_MM];
        if half[0] <= 0.0 || half[1] <= 0.0 {
            return false;
        }
        let (mut enter, mut leave) = (1e-6, f64::INFINITY);
        let mut slab = |p: f64, d: f64, low: f64, high: f64| {
            if d.abs() < 1e-12 {
                if p < low || p > high {
                    leave = f64::NEG_INFINITY;
                }
            } else {
                let (a, b) = ((low - p) / d, (high - p) / d);
                enter = f64::max(enter, a.min(b));
                leave = leave.min(a.max(b));
            }
        };
        slab(p[2], d[2], 0.0, self.length);
        if self.round {
            let (p, d) = (DVec2::new(p[0], p[1]), DVec2::new(d[0], d[1]));
            let (a, b, c) = (d.length_squared(), p.dot(d), p.length_squared() - half[0] * half[0]);
            if a < 1e-12 {
                if c > 0.0 {
                    return false;
                }
            } else {
                let root = b * b - a * c;
                if root <= 0.0 {
                    return false;
                }
                enter = enter.max((-b - root.sqrt()) / a);
                leave = leave.min((-b + root.sqrt()) / a);
            }
        } else {
            slab(p[0], d[0], -half[0], half[0]);
            slab(p[1], d[1], -half[1], half[1]);
        }
        leave > enter + 1e-9
    }
}

/// The outlines of all tubes as the camera sees them: sides and open ends. Ends that are welded stop
/// at their weld line.
pub fn outlines(frame: &Frame, joints: &Joints, seams: &Seams, to_eye: DVec3) -> Vec<Wire> {
    let mut wires = vec![];
    let solids = solids(frame);
    let mut next = solids.iter();
    for (t, tube) in frame.tubes.iter().enumerate() {
        let count = tube.axis.windows(2).filter(|c| (c[1] - c[0]).try_normalize().is_some()).count();
        for i in 0..count {
            let Some(solid) = next.next() else { break };
            let ends = [(i == 0, 0), (i + 1 == count, 1)]
                .map(|(outer, end)| if outer { weld_at(frame, joints, seams, t, end) } else { None });
            // Where along the solid a line on its surface begins and ends.
            let span = |a: f64, b: f64| {
                let direction = solid.across[0] * a + solid.across[1] * b;
                let reach = |end: usize, plain: f64| {
                    let Some(samples) = &ends[end] else { return plain };
                    let farthest = samples.iter().max_by(|p, q| {
                        let side = |v: &DVec3| {
                            let v = *v - solid.from;
                            (v - solid.along * v.dot(solid.along)).dot(direction)
                        };
                        side(p).total_cmp(&side(q))
                    });
                    farthest.map_or(plain, |p| (*p - solid.from).dot(solid.along))
                };
                (reach(0, 0.0), reach(1, solid.length))
            };
            let mut side = |a: f64, b: f64| {
                let (from, to) = span(a, b);
                if to > from {
                    wires.push(Wire { points: vec![solid.at(from, a, b), solid.at(to, a, b)] });
                }
            };
            if solid.round {
                if let Some(n) = solid.along.cross(to_eye).try_normalize() {
                    let (a, b) =
                        (n.dot(solid.across[0]) * solid.half[0], n.dot(solid.across[1]) * solid.half[0]);
                    side(a, b);
                    side(-a, -b);
                }
            } else {
                for (a, b) in [(1.0, 1.0), (1.0, -1.0), (-1.0, -1.0), (-1.0, 1.0)] {
                    side(a * solid.half[0], b * solid.half[1]);
                }
            }
            for (end, s) in [(0, 0.0), (1, solid.length)] {
                let outer = if end == 0 { i == 0 } else { i + 1 == count };
                if outer && ends[end].is_none() {
                    wires.push(Wire { points: ring(solid, s) });
                }
            }
        }
    }
    wires
}

/// The outline of a solid's cross-section at a place along it, closed.
fn ring(solid: &Solid, s: f64) -> Vec<DVec3> {
    let [h, w] = solid.half;
    if solid.round {
        (0..=32)
            .map(|i| {
                let (sin, cos) = (f64::from(i) / 32.0 * std::f64::consts::TAU).sin_cos();
                solid.at(s, h * cos, h * sin)
            })
            .collect()
    } else {
        [(1.0, 1.0), (1.0, -1.0), (-1.0, -1.0), (-1.0, 1.0), (1.0, 1.0)]
            .map(|(a, b)| solid.at(s, a * h, b * w))
            .to_vec()
    }
}

/// The weld line at an end of a tube (0 its start, 1 its end), if one runs round it.
fn weld_at(frame: &Frame, joints: &Joints, seams: &Seams, tube: usize, end: usize) -> Option<Vec<DVec3>> {
    let length = *frame.tubes[tube].s.last()?;
    let at_end = |s: f64| if end == 0 { s < 1.0 } else { s > length - 1.0 };
    joints.meets.iter().zip(&seams.seams).find_map(|(meet, seam)| {
        let own = meet.branch.0 == tube && at_end(meet.branch.1);
        let other = matches!(meet.kind, MeetKind::Mitre | MeetKind::Butt)
            && meet.carriers.iter().any(|c| c.0 == tube && at_end(c.1));
        (seam.closed && (own || other))
            .then(|| seam.lines.iter().flat_map(|l| l.samples.iter().map(|p| p.at)).collect())
    })
}

/// The weld lines of one seam.
pub fn weld_lines(seams: &Seams, seam: usize) -> Vec<Wire> {
    seams.seams[seam]
        .lines
        .iter()
        .map(|line| Wire { points: line.samples.iter().map(|p| p.at).collect() })
        .collect()
}

/// A piece of a wire on paper, seen or hidden.
#[derive(Debug, Clone, PartialEq)]
pub struct Piece {
    /// Corners on paper, mm.
    pub points: Vec<Pt>,
    /// Whether the eye sees it.
    pub seen: bool,
}

/// What hides what on paper: the solids with the space they take there.
pub struct Sight<'a> {
    fitted: &'a Fitted,
    solids: Vec<(Area, Solid)>,
}

impl<'a> Sight<'a> {
    /// Gets ready to look at a frame.
    pub fn new(frame: &Frame, fitted: &'a Fitted) -> Sight<'a> {
        let solids = solids(frame)
            .into_iter()
            .filter_map(|solid| {
                let dots = solid.corners().into_iter().map(|p| Area::around(fitted.on_paper(p), 0.0, 0.0));
                Some((dots.reduce(|a, b| a.with(&b))?, solid))
            })
            .collect();
        Sight { fitted, solids }
    }

    /// Whether the eye sees a place.
    pub fn sees(&self, place: DVec3) -> bool {
        let p = self.fitted.on_paper(place);
        !self.solids.iter().any(|(area, solid)| {
            p.x >= area.left
                && p.x <= area.right
                && p.y >= area.top
                && p.y <= area.bottom
                && solid.hides(place, self.fitted.camera.to_eye)
        })
    }

    /// A wire cut into its seen and its hidden pieces, to about half a millimetre on paper.
    pub fn pieces(&self, wire: &Wire) -> Vec<Piece> {
        const STEP_MM: f64 = 0.5;
        let mut pieces: Vec<Piece> = vec![];
        for pair in wire.points.windows(2) {
            let (a, b) = (pair[0], pair[1]);
            let on_paper = (self.fitted.on_paper(b) - self.fitted.on_paper(a)).length();
            let count = (on_paper / STEP_MM).ceil().clamp(1.0, 4000.0) as usize;
            for i in 0..count {
                let at = |x: f64| a.lerp(b, x / count as f64);
                let seen = self.sees(at(i as f64 + 0.5));
                let (from, to) =
                    (self.fitted.on_paper(at(i as f64)), self.fitted.on_paper(at(i as f64 + 1.0)));
                match pieces.last_mut() {
                    Some(piece) if piece.seen == seen => {
                        // A straight run needs no corner within.
                        if i > 0 && piece.points.len() > 1 {
                            piece.points.pop();
                        }
                        piece.points.push(to);
                    }
                    _ => pieces.push(Piece { points: vec![from, to], seen }),
                }
            }
        }
        pieces
    }
}

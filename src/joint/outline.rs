//! The outline of a section as a closed chain of straight edges and arcs.

use crate::frame::Shape;
use glam::DVec2;
use std::f64::consts::{FRAC_PI_2, FRAC_PI_4};

/// One smooth edge of an outline, run through by `u` from 0 to 1, counter-clockwise.
/// First coordinate: along the section's height.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Edge {
    Line { from: DVec2, to: DVec2 },
    Arc { centre: DVec2, radius: f64, from: f64, to: f64 },
}

/// An edge, and whether a corner of the section lies at its start.
#[derive(Debug, Clone, Copy)]
pub(crate) struct OutlineEdge {
    pub edge: Edge,
    pub corner_at_start: bool,
}

impl Edge {
    /// Place, derivative by `u`, outward normal.
    pub(crate) fn at(&self, u: f64) -> (DVec2, DVec2, DVec2) {
        match *self {
            Edge::Line { from, to } => {
                let along = to - from;
                (from + along * u, along, DVec2::new(along.y, -along.x).normalize())
            }
            Edge::Arc { centre, radius, from, to } => {
                let a = from + (to - from) * u;
                let normal = DVec2::new(a.cos(), a.sin());
                (centre + normal * radius, DVec2::new(-normal.y, normal.x) * radius * (to - from), normal)
            }
        }
    }
}

/// Outside outline of a section. Round ones start on the first axis and come in four quarters;
/// square ones start in the middle of the corner (+height, −across).
pub(crate) fn outline(shape: Shape) -> Vec<OutlineEdge> {
    let (half, corner) = match shape {
        Shape::Round { od, .. } | Shape::Solid { od } => {
            return (0..4)
                .map(|q| {
                    let from = f64::from(q) * FRAC_PI_2;
                    let edge =
                        Edge::Arc { centre: DVec2::ZERO, radius: od / 2.0, from, to: from + FRAC_PI_2 };
                    OutlineEdge { edge, corner_at_start: false }
                })
                .collect();
        }
        Shape::Box { height, width, corner, .. } => {
            (DVec2::new(height / 2.0, width / 2.0), corner.min(height / 2.0).min(width / 2.0))
        }
        Shape::Flat { width, thickness } => (DVec2::new(thickness / 2.0, width / 2.0), 0.0),
    };
    let corners = [(1.0, -1.0), (1.0, 1.0), (-1.0, 1.0), (-1.0, -1.0)].map(|(x, y)| DVec2::new(x, y));
    let mut edges = Vec::new();
    for i in 0..4 {
        let (a, b) = (corners[i], corners[(i + 1) % 4]);
        // centres of the corner arcs at both ends of this side
        let (ca, cb) = (a * (half - corner), b * (half - corner));
        let outward = 0.5 * (a + b);
        let angle = outward.to_angle();
        let first = edges.len();
        let mut push = |edge| edges.push(OutlineEdge { edge, corner_at_start: false });
        if corner > 1e-9 {
            push(Edge::Arc { centre: ca, radius: corner, from: angle - FRAC_PI_4, to: angle });
        }
        let (from, to) = (ca + outward * corner, cb + outward * corner);
        if from.distance(to) > 1e-9 {
            push(Edge::Line { from, to });
        }
        if corner > 1e-9 {
            push(Edge::Arc { centre: cb, radius: corner, from: angle, to: angle + FRAC_PI_4 });
        }
        edges[first].corner_at_start = true;
    }
    edges
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn outlines_close_run_counter_clockwise_and_point_outward() {
        for shape in [
            Shape::Round { od: 32.0, wall: 2.0 },
            Shape::Box { height: 40.0, width: 20.0, wall: 2.0, corner: 4.0 },
            Shape::Box { height: 40.0, width: 20.0, wall: 2.0, corner: 0.0 },
            Shape::Flat { width: 60.0, thickness: 6.0 },
        ] {
            let edges = outline(shape);
            for (i, e) in edges.iter().enumerate() {
                let next = edges[(i + 1) % edges.len()].edge.at(0.0).0;
                assert!(e.edge.at(1.0).0.distance(next) < 1e-12, "{shape:?} opens after edge {i}");
                let (at, step, normal) = e.edge.at(0.4);
                assert!(at.perp_dot(step) > 0.0, "{shape:?} edge {i} runs clockwise");
                assert!(normal.dot(at) > 0.0 && normal.dot(step).abs() < 1e-12, "{shape:?} normal {i}");
            }
        }
    }
}

//! Flat polygons: area and common part. All run counter-clockwise.

use glam::DVec2;

/// A polygon whose edges know where they come from: edge `i` runs from corner `i` to the next.
#[derive(Debug, Clone, Default)]
pub(crate) struct Polygon<T> {
    pub corners: Vec<DVec2>,
    pub edges: Vec<T>,
}

/// Area, mm²; positive if it runs counter-clockwise.
pub(crate) fn area(corners: &[DVec2]) -> f64 {
    let next = corners.iter().cycle().skip(1);
    0.5 * corners.iter().zip(next).map(|(a, b)| a.perp_dot(*b)).sum::<f64>()
}

/// The part of `subject` inside the convex polygon `by` (Sutherland–Hodgman). Edges keep their marks;
/// new ones take those of `by`. Exact if `by` is convex.
pub(crate) fn clip<T: Copy>(subject: &Polygon<T>, by: &Polygon<T>) -> Polygon<T> {
    let mut out = subject.clone();
    for i in 0..by.corners.len() {
        let (a, b) = (by.corners[i], by.corners[(i + 1) % by.corners.len()]);
        let inward = (b - a).perp().normalize_or_zero();
        let depth = |p: DVec2| (p - a).dot(inward);
        let mut next = Polygon { corners: Vec::new(), edges: Vec::new() };
        for k in 0..out.corners.len() {
            let (p, q) = (out.corners[k], out.corners[(k + 1) % out.corners.len()]);
            let (dp, dq) = (depth(p), depth(q));
            let cut = || p + (q - p) * (dp / (dp - dq));
            match (dp >= -1e-9, dq >= -1e-9) {
                (true, true) => {
                    next.corners.push(p);
                    next.edges.push(out.edges[k]);
                }
                (true, false) => {
                    next.corners.push(p);
                    next.edges.push(out.edges[k]);
                    next.corners.push(cut());
                    next.edges.push(by.edges[i]);
                }
                (false, true) => {
                    next.corners.push(cut());
                    next.edges.push(out.edges[k]);
                }
                (false, false) => {}
            }
        }
        out = next;
        if out.corners.len() < 3 {
            return Polygon { corners: Vec::new(), edges: Vec::new() };
        }
    }
    drop_short_edges(out)
}

fn drop_short_edges<T: Copy>(p: Polygon<T>) -> Polygon<T> {
    let n = p.corners.len();
    let keep: Vec<usize> = (0..n).filter(|&i| p.corners[i].distance(p.corners[(i + 1) % n]) > 1e-6).collect();
    Polygon {
        corners: keep.iter().map(|&i| p.corners[i]).collect(),
        edges: keep.iter().map(|&i| p.edges[i]).collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rectangle(x: [f64; 2], y: [f64; 2], mark: u8) -> Polygon<u8> {
        let corners = [(0, 0), (1, 0), (1, 1), (0, 1)].map(|(i, j)| DVec2::new(x[i], y[j])).to_vec();
        Polygon { corners, edges: vec![mark; 4] }
    }

    #[test]
    fn two_bars_crossing_share_a_rectangle_with_two_edges_of_each() {
        let both =
            clip(&rectangle([-50.0, 50.0], [-10.0, 10.0], 1), &rectangle([-15.0, 15.0], [-60.0, 60.0], 2));
        assert!((area(&both.corners) - 600.0).abs() < 1e-9);
        assert_eq!(both.edges.iter().filter(|e| **e == 1).count(), 2);
        assert_eq!(both.edges.iter().filter(|e| **e == 2).count(), 2);
    }

    #[test]
    fn apart_is_empty() {
        assert!(
            clip(&rectangle([0.0, 1.0], [0.0, 1.0], 1), &rectangle([2.0, 3.0], [0.0, 1.0], 2))
                .corners
                .is_empty()
        );
    }
}

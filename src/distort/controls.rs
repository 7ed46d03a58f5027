//! Controls as linear functionals of the displacements, blind to rigid motion of the whole frame.

use super::structure::{Row, Structure, along, tidy, translation};
use crate::frame::{ControlKind, Frame, Spot};
use glam::DVec3;

/// The functional of a control, in its own unit (mm or degrees) per mm and rad.
///
/// Where a kind is not blind to turning by itself (an offset in a fixed direction from a line that
/// the spot does not face squarely, a level between lines that are not parallel, the bow of a bent
/// run), its direction is taken to turn with the frame as a whole: the mean rotation of all tubes'
/// ends, by least squares.
pub fn functional(kind: &ControlKind, frame: &Frame, st: &Structure) -> Row {
    let at = |s: &Spot| place(frame, s);
    let mut out = Row::new();
    let mut add = |s: &Spot, dir: DVec3, factor: f64| {
        out.extend(translation(&st.tie(s.tube, s.s_mm, place(frame, s)), dir, factor));
    };
    match kind {
        ControlKind::Distance(a, b) => {
            let d = unit(at(b) - at(a));
            add(b, d, 1.0);
            add(a, d, -1.0);
        }
        ControlKind::Squareness(p, q) => {
            for (pair, f) in [(p, 1.0), (q, -1.0)] {
                let d = unit(at(&pair[1]) - at(&pair[0]));
                add(&pair[1], d, f);
                add(&pair[0], d, -f);
            }
        }
        ControlKind::Parallel(p, q) => {
            let straight = (at(&p[0]) - at(&q[0])).length() + (at(&p[1]) - at(&q[1])).length();
            let crossed = (at(&p[0]) - at(&q[1])).length() + (at(&p[1]) - at(&q[0])).length();
            let (first, second) = if straight <= crossed { (&q[0], &q[1]) } else { (&q[1], &q[0]) };
            for (a, b, f) in [(&p[0], first, 1.0), (&p[1], second, -1.0)] {
                let d = unit(at(b) - at(a));
                add(b, d, f);
                add(a, d, -f);
            }
        }
        ControlKind::FromLine { spot, line, dir } => {
            let (a, b) = (at(&line[0]), at(&line[1]));
            let t = (at(spot) - a).dot(b - a) / (b - a).length_squared();
            let x = unit(b - a);
            let d = unit(*dir - x * dir.dot(x));
            add(spot, d, 1.0);
            add(&line[0], d, t - 1.0);
            add(&line[1], d, -t);
        }
        ControlKind::FromPlane { spot, plane } => from_plane(spot, plane, &at, &mut add),
        ControlKind::Twist(s) => from_plane(&s[3], &[s[0], s[1], s[2]], &at, &mut add),
        ControlKind::Bow { tube, from_to, dir } => {
            let [a, b] = *from_to;
            let spot = |s_mm: f64| Spot { tube: *tube, s_mm };
            let chord = unit(at(&spot(b)) - at(&spot(a)));
            let d = unit(*dir - chord * dir.dot(chord));
            add(&spot(0.5 * (a + b)), d, 1.0);
            add(&spot(a), d, -0.5);
            add(&spot(b), d, -0.5);
        }
        ControlKind::Level(p, q) => {
            let up = frame.up;
            let flat = |s: &[Spot; 2]| {
                let d = at(&s[0]) - at(&s[1]);
                d - up * d.dot(up)
            };
            let (dp, dq) = (flat(p), flat(q));
            let ratio = if dq.length() > 1e-9 { dp.dot(dq) / dq.length_squared() } else { 0.0 };
            for (pair, f) in [(p, 1.0), (q, -ratio)] {
                add(&pair[0], up, f);
                add(&pair[1], up, -f);
            }
        }
        ControlKind::Angle(p, q) => {
            let (u, v) = (at(&p[1]) - at(&p[0]), at(&q[1]) - at(&q[0]));
            let (lu, lv) = (u.length(), v.length());
            let (u, v) = (u / lu, v / lv);
            // Turning axis: square to both lines; of parallel lines the one nearest to upright, so
            // that the angle is the one seen from above.
            let axis =
                u.cross(v).try_normalize().filter(|_| u.cross(v).length() > 1e-6).unwrap_or_else(|| {
                    let square = frame.up - u * frame.up.dot(u);
                    square
                        .try_normalize()
                        .filter(|_| square.length() > 1e-3)
                        .unwrap_or_else(|| u.any_orthonormal_vector())
                });
            let deg = 1f64.to_degrees();
            let (eu, ev) = (axis.cross(u) / lu, axis.cross(v) / lv);
            for (pair, e, f) in [(q, ev, deg), (p, eu, -deg)] {
                add(&pair[1], e, f);
                add(&pair[0], e, -f);
            }
        }
    }
    rigid_free(tidy(out), st)
}

/// Place of a spot on its tube's axis.
pub fn place(frame: &Frame, s: &Spot) -> DVec3 {
    let t = &frame.tubes[s.tube];
    along(&t.axis, &t.s, s.s_mm).0
}

/// All spots a control reads from, for the nodes.
pub fn spots(kind: &ControlKind) -> Vec<Spot> {
    match kind {
        ControlKind::Distance(a, b) => vec![*a, *b],
        ControlKind::FromLine { spot, line, .. } => vec![*spot, line[0], line[1]],
        ControlKind::FromPlane { spot, plane } => vec![*spot, plane[0], plane[1], plane[2]],
        ControlKind::Angle(p, q)
        | ControlKind::Parallel(p, q)
        | ControlKind::Squareness(p, q)
        | ControlKind::Level(p, q) => {
            vec![p[0], p[1], q[0], q[1]]
        }
        ControlKind::Twist(s) => s.to_vec(),
        ControlKind::Bow { tube, from_to: [a, b], .. } => {
            [*a, 0.5 * (a + b), *b].map(|s_mm| Spot { tube: *tube, s_mm }).to_vec()
        }
    }
}

fn unit(v: DVec3) -> DVec3 {
    v.try_normalize().unwrap_or(DVec3::ZERO)
}

fn from_plane(
    spot: &Spot,
    plane: &[Spot; 3],
    at: &impl Fn(&Spot) -> DVec3,
    add: &mut impl FnMut(&Spot, DVec3, f64),
) {
    let (a, b, c, p) = (at(&plane[0]), at(&plane[1]), at(&plane[2]), at(spot));
    let normal = (b - a).cross(c - a);
    let n = unit(normal);
    let foot = p - a - n * (p - a).dot(n);
    let wb = foot.cross(c - a).dot(n) / normal.length();
    let wc = (b - a).cross(foot).dot(n) / normal.length();
    add(spot, n, 1.0);
    add(&plane[0], n, wb + wc - 1.0);
    add(&plane[1], n, -wb);
    add(&plane[2], n, -wc);
}

/// Takes the mean rotation of all nodes out of a functional that reacts to turning.
fn rigid_free(row: Row, st: &Structure) -> Row {
    let mut turn = DVec3::ZERO;
    let mut size = 0.0f64;
    for (dof, v) in &row {
        let (node, c) = (dof / 6, dof % 6);
        let mut e = DVec3::ZERO;
        e[c % 3] = *v;
        if c < 3 {
            turn += st.nodes[node].at.cross(e);
            size = size.max(v.abs() * st.nodes[node].at.length());
        } else {
            turn += e;
        }
    }
    if turn.length() <= 1e-10 * size.max(1e-300) {
        return row;
    }
    // Mean rotation: ω = M⁻¹ Σ r × u with M = Σ (r² − r rᵀ), r from the middle of all tube ends.
    let ends: Vec<usize> = st.tube_nodes.iter().flat_map(|r| [r.start, r.end - 1]).collect();
    let middle = ends.iter().map(|n| st.nodes[*n].at).sum::<DVec3>() / ends.len() as f64;
    let mut m = glam::DMat3::ZERO;
    for n in &ends {
        let r = st.nodes[*n].at - middle;
        m += glam::DMat3::from_diagonal(DVec3::splat(r.length_squared()))
            - glam::DMat3::from_cols(r * r.x, r * r.y, r * r.z);
    }
    // A straight frame cannot turn about itself in its nodes: such a direction is left out.
    let scale = m.col(0)[0].max(m.col(1)[1]).max(m.col(2)[2]);
    for c in 0..3 {
        m.col_mut(c)[c] += 1e-12 * scale;
    }
    let w = m.inverse() * turn;
    let mut out = row;
    for n in ends {
        let d = -w.cross(st.nodes[n].at - middle);
        for c in 0..3 {
            out.push((6 * n + c, d[c]));
        }
    }
    tidy(out)
}

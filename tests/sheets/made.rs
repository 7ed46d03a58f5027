//! Frames for the drawings: generated at random from a seed, of round tubes, with the joints and
//! saddles worked out here from the cylinders, so that the pictures are tested by themselves.

use glam::DVec3;
use holdtrue::frame::{self, Frame, Shape};
use holdtrue::joint::{Joint, Joints, Meet, MeetKind, Side};
use holdtrue::seam::{Line, Position, Seam, SeamPoint, Seams, Segment};
use std::fmt::Write;

/// A small repeatable dice (Numerical Recipes' constants for a 64-bit linear congruence).
pub struct Dice(pub u64);
impl Dice {
    pub fn roll(&mut self, low: f64, high: f64) -> f64 {
        self.0 = self.0.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
        low + (high - low) * ((self.0 >> 11) as f64 / (1u64 << 53) as f64)
    }
}

/// Two rails, cross tubes between them, uprights on them and a top rail over the uprights.
pub fn random_frame(seed: u64) -> Frame {
    let mut dice = Dice(seed.wrapping_mul(977) + 1);
    let crosses = dice.roll(2.0, 9.0) as usize;
    let length = dice.roll(600.0, 3000.0);
    let half = dice.roll(150.0, 600.0);
    let height = dice.roll(200.0, 900.0);
    let mut text = String::from("holdtrue = 1\n[frame]\nname = \"made ");
    writeln!(text, "{seed}\"\n[sections]\nbig = {{ round = {{ od = 45, wall = 2 }}, material = \"S235\" }}")
        .unwrap();
    writeln!(text, "small = {{ round = {{ od = 25, wall = 1.5 }}, material = \"S235\" }}\n[points]").unwrap();
    let mut xs: Vec<f64> = (0..crosses).map(|_| dice.roll(60.0, length - 60.0)).collect();
    xs.sort_by(f64::total_cmp);
    for pair in 1..crosses {
        if xs[pair] - xs[pair - 1] < 40.0 {
            xs[pair] = xs[pair - 1] + 40.0;
        }
    }
    let end = length.max(xs[crosses - 1] + 60.0);
    for (side, y) in [("l", half), ("r", -half)] {
        writeln!(text, "{side}0 = [0, {y:.1}, 0]\n{side}9 = [{end:.1}, {y:.1}, 0]").unwrap();
        writeln!(
            text,
            "{side}t0 = [-40, {y:.1}, {height:.1}]\n{side}t9 = [{:.1}, {y:.1}, {height:.1}]",
            end + 40.0
        )
        .unwrap();
        for (i, x) in xs.iter().enumerate() {
            writeln!(text, "{side}p{i} = [{x:.1}, {y:.1}, 0]\n{side}q{i} = [{x:.1}, {y:.1}, {height:.1}]")
                .unwrap();
        }
    }
    writeln!(text, "[tubes]").unwrap();
    for side in ["l", "r"] {
        let run = |a: &str, p: &str, b: &str| {
            let inner: Vec<String> = (0..crosses).map(|i| format!("\"{side}{p}{i}\"")).collect();
            format!("[\"{side}{a}\", {}, \"{side}{b}\"]", inner.join(", "))
        };
        writeln!(text, "rail-{side} = {{ section = \"big\", run = {} }}", run("0", "p", "9")).unwrap();
        writeln!(text, "top-{side} = {{ section = \"big\", run = {} }}", run("t0", "q", "t9")).unwrap();
        for i in 0..crosses {
            writeln!(
                text,
                "post-{side}{i} = {{ section = \"small\", run = [\"{side}p{i}\", \"{side}q{i}\"] }}"
            )
            .unwrap();
        }
    }
    for i in 0..crosses {
        writeln!(text, "cross-{i} = {{ section = \"small\", run = [\"lp{i}\", \"rp{i}\"] }}").unwrap();
        if i > 0 {
            let j = i - 1;
            writeln!(text, "brace-{i} = {{ section = \"small\", run = [\"lp{j}\", \"lq{i}\"] }}").unwrap();
        }
    }
    writeln!(
        text,
        "[controls]\n\"rails apart at the front\" = {{ kind = \"distance\", of = [\"l9\", \"r9\"] }}"
    )
    .unwrap();
    writeln!(text, "diagonals = {{ kind = \"squareness\", of = [\"l0\", \"l9\", \"r9\", \"r0\"] }}").unwrap();
    writeln!(text, "twist = {{ kind = \"twist\", of = [\"l0\", \"l9\", \"r9\", \"r0\"] }}").unwrap();
    match frame::read(&text) {
        Ok(checked) => checked.value,
        Err(faults) => panic!("{text}\n{faults:#?}"),
    }
}

/// The joints and saddles of a frame of round tubes whose ends lie on other tubes' axes.
pub fn joints_and_seams(frame: &Frame) -> (Joints, Seams) {
    let mut joints = vec![];
    let mut meets: Vec<Meet> = vec![];
    let mut at_points: Vec<(DVec3, Vec<Meet>)> = vec![];
    for (t, tube) in frame.tubes.iter().enumerate() {
        for end in 0..2 {
            let place = if end == 0 { tube.axis[0] } else { *tube.axis.last().unwrap() };
            let s = if end == 0 { 0.0 } else { *tube.s.last().unwrap() };
            let Some((carrier, at)) = carrier_of(frame, t, place) else { continue };
            let meet = Meet {
                joint: 0,
                kind: MeetKind::Saddle,
                branch: (t, s),
                carriers: vec![(carrier, at, 1.0)],
                gap_mm: 0.0,
                open: vec![],
            };
            match at_points.iter_mut().find(|(p, _)| p.distance(place) < 1.0) {
                Some((_, list)) => list.push(meet),
                None => at_points.push((place, vec![meet])),
            }
        }
    }
    let mut seams = vec![];
    for (at, list) in at_points {
        let joint = joints.len();
        let name = format!("J{}", joint + 1);
        let first = meets.len();
        for (n, meet) in list.into_iter().enumerate() {
            let letter = char::from(b'a' + n as u8);
            seams.push(saddle(frame, &meet, format!("{name}{letter}"), joint));
            meets.push(Meet { joint, ..meet });
        }
        let side = if at.y > 1.0 {
            Side::Left
        } else if at.y < -1.0 {
            Side::Right
        } else {
            Side::Centre
        };
        let tubes = vec![(meets[first].carriers[0].0, meets[first].carriers[0].1)];
        joints.push(Joint { name, at, tubes, meets: (first..meets.len()).collect(), mirror: None, side });
    }
    let steel_mm = vec![vec![0.0; joints.len()]; joints.len()];
    let symmetry = Some((DVec3::ZERO, DVec3::Y));
    let joints = Joints { joints, meets, graph: Default::default(), steel_mm, symmetry };
    (joints, Seams { seams, sealed: vec![] })
}

fn carrier_of(frame: &Frame, tube: usize, place: DVec3) -> Option<(usize, f64)> {
    frame.tubes.iter().enumerate().find_map(|(c, carrier)| {
        if c == tube {
            return None;
        }
        carrier.axis.windows(2).zip(&carrier.s).find_map(|(chord, s)| {
            let along = (chord[1] - chord[0]).normalize();
            let t = (place - chord[0]).dot(along);
            let off = (place - chord[0] - along * t).length();
            (off < 0.5 && t > 1.0 && t < chord[0].distance(chord[1]) - 1.0).then_some((c, s + t))
        })
    })
}

fn radius(frame: &Frame, tube: usize) -> f64 {
    match frame.sections[frame.tubes[tube].section].shape {
        Shape::Round { od, .. } | Shape::Solid { od } => od / 2.0,
        Shape::Box { height, .. } => height / 2.0,
        Shape::Flat { width, .. } => width / 2.0,
    }
}

fn saddle(frame: &Frame, meet: &Meet, name: String, joint: usize) -> Seam {
    let branch = &frame.tubes[meet.branch.0];
    let start = meet.branch.1 == 0.0;
    let place = if start { branch.axis[0] } else { *branch.axis.last().unwrap() };
    let next = if start { branch.axis[1] } else { branch.axis[branch.axis.len() - 2] };
    let outward = (next - place).normalize();
    let carrier = &frame.tubes[meet.carriers[0].0];
    let along = (carrier.axis[1] - carrier.axis[0]).normalize();
    let (r, big) = (radius(frame, meet.branch.0), radius(frame, meet.carriers[0].0));
    let steep = outward.dot(frame.up).abs() > 0.94;
    let (up, word) = if steep { (frame.forward, "forward") } else { (frame.up, "up") };
    let up = (up - outward * up.dot(outward)).normalize();
    let view = -outward;
    let right = view.cross(up);
    let point = |turn: f64| {
        let (sin, cos) = turn.sin_cos();
        let normal = up * cos + right * sin;
        // Outermost place on this line of the branch that lies on the carrier's surface.
        let base = place + normal * r;
        let flat = |v: DVec3| v - along * v.dot(along);
        let (p, d) = (flat(base - place), flat(outward));
        let (a, b, c) = (d.length_squared(), p.dot(d), p.length_squared() - big * big);
        let s = (-b + (b * b - a * c).max(0.0).sqrt()) / a;
        let at = base + outward * s;
        SeamPoint {
            at,
            tangent: DVec3::ZERO,
            branch_normal: normal,
            carrier_normal: flat(at - place).normalize(),
            pull: outward,
        }
    };
    let count = 144;
    let mut samples: Vec<SeamPoint> =
        (0..=count).map(|i| point(f64::from(i) / f64::from(count) * std::f64::consts::TAU)).collect();
    let mut s = vec![0.0];
    for i in 1..samples.len() {
        s.push(s[i - 1] + samples[i].at.distance(samples[i - 1].at));
    }
    for i in 0..samples.len() - 1 {
        samples[i].tangent = (samples[i + 1].at - samples[i].at).normalize();
    }
    let length = *s.last().unwrap();
    let parts = ((length / 40.0 / 2.0).ceil() * 2.0).max(2.0) as usize;
    let clock = |hour: f64| {
        let minutes = (hour * 60.0).round() as u32 % 720;
        format!("{}:{:02}", if minutes < 60 { 12 } else { minutes / 60 }, minutes % 60)
    };
    let segments = (0..parts)
        .map(|i| {
            let share = |i: usize| i as f64 / parts as f64;
            let mid = samples[((share(i) + share(1) / 2.0) * f64::from(count)) as usize];
            Segment {
                line: 0,
                from_mm: share(i) * length,
                to_mm: share(i + 1) * length,
                mid,
                clock_from: clock(share(i) * 12.0),
                clock_to: clock(share(i + 1) * 12.0),
                partner: Some((i + parts / 2) % parts),
                positions: vec![Position::PB],
                side: Side::Centre,
            }
        })
        .collect();
    let centre = samples.iter().map(|p| p.at).sum::<DVec3>() / samples.len() as f64;
    Seam {
        name,
        joint,
        kind: meet.kind,
        angle_deg: 90.0,
        centre,
        lines: vec![Line { samples, s }],
        closed: true,
        length_mm: length,
        unwelded: vec![],
        segments,
        clock_up: (up, word),
        clock_axis: view,
        clock_centre: glam::DVec3::ZERO,
        walls_mm: [1.5, 2.0],
        fillet: true,
    }
}

/// A pull that sags the rails and moves controls, for the pull picture.
pub fn pull(frame: &Frame) -> holdtrue::distort::Pull {
    use holdtrue::distort::{ControlPull, Pull};
    let shape = frame
        .tubes
        .iter()
        .map(|t| t.axis.iter().map(|p| DVec3::new(0.0, p.z * 0.001, (p.x / 500.0).sin() * 1.3)).collect())
        .collect();
    let outcome = |i: usize| ControlPull {
        pull: 0.7 * i as f64 - 1.2,
        scatter: 0.4,
        largest: 2.0,
        set_to: 1.0 - 0.5 * i as f64,
        residual: 0.0,
        by_joint: vec![],
        by_tube: vec![],
    };
    Pull {
        controls: (0..frame.controls.len()).map(outcome).collect(),
        path: vec![],
        shape,
        course: vec![],
        level: "coarse",
        clamp_forces: vec![],
        remarks: vec![],
    }
}

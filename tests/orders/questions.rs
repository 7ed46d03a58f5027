//! Questions without geometry: by hand and at random.

use holdtrue::frame::HouseRules;
use holdtrue::joint::Side;
use holdtrue::sequence::{Item, Laid, Question, Step};
use rand::rngs::ChaCha8Rng;
use rand::{RngExt, SeedableRng};

/// Rules with the design's defaults.
pub fn rules() -> HouseRules {
    HouseRules {
        spacing: 2,
        distance_mm: 150.0,
        opposite: true,
        balance: true,
        max_segment_mm: 40.0,
        min_segment_mm: 15.0,
        overhead: false,
        welder_distance_mm: 300.0,
    }
}

/// A question in which nothing but what the case sets up matters: joints far apart, one setup, no
/// plane, all passes of 1 kJ on the centre.
pub fn plain(joints: usize, passes: &[(usize, usize, usize)]) -> Question {
    let items: Vec<Item> = passes
        .iter()
        .map(|&(joint, seam, segment)| Item {
            label: format!("J{}{}-{}/1", joint + 1, (b'a' + (seam % 26) as u8) as char, segment + 1),
            joint,
            seam,
            segment,
            layer: 0,
            partner: None,
            below: None,
            side: Side::Centre,
            energy_j: 1000.0,
            setups: vec![0],
            arc_s: 10.0,
        })
        .collect();
    let mut steel_mm = vec![vec![1000.0; joints]; joints];
    (0..joints).for_each(|j| steel_mm[j][j] = 0.0);
    Question {
        passes: items,
        steel_mm,
        mirror: vec![None; joints],
        setups: 1,
        rules: rules(),
        has_plane: false,
        welders: 1,
        first: vec![],
        last: vec![],
        apart: vec![],
        turn_min: 5.0,
        done: vec![],
        lying: None,
        hold: vec![],
    }
}

/// Steps of one pass each in setup 0.
pub fn row(passes: &[usize]) -> Vec<Step> {
    passes
        .iter()
        .map(|&pass| Step { setup: 0, passes: vec![Laid { pass, welder: 0, forward: true }] })
        .collect()
}

/// What a random question may hold.
pub struct Limits {
    pub joints: (u32, u32),
    pub most_passes: usize,
    pub welders: u32,
    pub setups: u32,
    pub layers: u32,
}

/// A random frame as the scheduler sees it: joints in a plane, mirrored if there is a plane of
/// symmetry, one or two seams per joint, segments in opposite pairs, layers, setups, now and then
/// pins and joints kept apart.
pub fn random(seed: u64, limits: &Limits) -> Question {
    let mut dice = ChaCha8Rng::seed_from_u64(seed);
    let joints = dice.random_range(limits.joints.0..=limits.joints.1) as usize;
    let has_plane = dice.random_range(0..3u32) > 0;
    let setups = dice.random_range(1..=limits.setups) as usize;
    let mut place = Vec::new();
    let mut mirror = vec![None; joints];
    for j in 0..joints {
        if has_plane && j % 2 == 1 {
            let (x, y): (f64, f64) = place[j - 1];
            place.push((x, -y));
            mirror[j] = Some(j - 1);
            mirror[j - 1] = Some(j);
        } else {
            place.push((dice.random_range(0.0..1500.0), dice.random_range(50.0..500.0)));
        }
    }
    let mut steel_mm = vec![vec![0.0; joints]; joints];
    for i in 0..joints {
        for j in 0..joints {
            let (dx, dy) = (place[i].0 - place[j].0, place[i].1 - place[j].1);
            steel_mm[i][j] = f64::abs(dx) + f64::abs(dy);
        }
    }
    let mut passes: Vec<Item> = Vec::new();
    let mut seam = 0;
    for (j, &(_, across)) in place.iter().enumerate() {
        for _ in 0..dice.random_range(1..=2u32) {
            let segments = 2 * dice.random_range(1..=3u32) as usize;
            let layers = dice.random_range(1..=limits.layers) as usize;
            if passes.len() + segments * layers > limits.most_passes {
                continue;
            }
            let paired = dice.random_range(0..5u32) > 0;
            let one_side = dice.random_range(0..2u32) == 0;
            let energy = 500.0 * f64::from(dice.random_range(2..=9u32));
            let base = passes.len();
            for layer in 0..layers {
                for segment in 0..segments {
                    let top = segment < segments / 2;
                    let mut reach: Vec<usize> = if setups == 1 {
                        vec![0]
                    } else if one_side {
                        vec![usize::from(!top)]
                    } else {
                        (0..setups).collect()
                    };
                    if reach.len() > 1 && dice.random_range(0..2u32) == 0 {
                        reach.reverse();
                    }
                    let opposite = base + layer * segments + (segment + segments / 2) % segments;
                    passes.push(Item {
                        label: format!("J{}-{}s{}/{}", j + 1, seam, segment + 1, layer + 1),
                        joint: j,
                        seam,
                        segment,
                        layer: layer as u8,
                        partner: paired.then_some(opposite),
                        below: (layer > 0).then(|| base + (layer - 1) * segments + segment),
                        side: if !has_plane || across.abs() <= 1.0 {
                            Side::Centre
                        } else if across > 0.0 {
                            Side::Left
                        } else {
                            Side::Right
                        },
                        energy_j: energy * (1.0 + 0.1 * layer as f64) + 0.123 * segment as f64,
                        setups: reach,
                        arc_s: energy / 100.0,
                    });
                }
            }
            seam += 1;
        }
    }
    let mut q = Question {
        passes,
        steel_mm,
        mirror,
        setups,
        rules: rules(),
        has_plane,
        welders: dice.random_range(1..=limits.welders) as usize,
        first: vec![],
        last: vec![],
        apart: vec![],
        turn_min: 5.0,
        done: vec![],
        lying: None,
        hold: vec![],
    };
    if q.passes.len() > 6 && dice.random_range(0..4u32) == 0 {
        q.first.push(0);
        q.last.push(q.passes.len() - 1);
    }
    if joints > 5 && dice.random_range(0..4u32) == 0 {
        q.apart.push((0, 1));
    }
    q
}

/// A large mirrored frame: joints 300 mm apart along two rails, two layers of four segments each, the
/// lower half of each seam reached only when the frame is turned over.
pub fn large(joints: usize) -> Question {
    let mut rows = Vec::new();
    for j in 0..joints {
        (0..8).for_each(|s| rows.push((j, j, s % 4)));
    }
    let mut q = plain(joints, &rows);
    q.has_plane = true;
    q.setups = 2;
    for (p, item) in q.passes.iter_mut().enumerate() {
        let (base, s) = (p / 8 * 8, p % 8);
        item.layer = (s / 4) as u8;
        item.partner = Some(base + s / 4 * 4 + (s % 4 + 2) % 4);
        item.below = (s >= 4).then(|| p - 4);
        item.side = if item.joint % 2 == 0 { Side::Left } else { Side::Right };
        item.setups = vec![usize::from(s % 4 >= 2)];
        item.energy_j = 1500.0 + 100.0 * (item.joint / 2 % 5) as f64;
    }
    for i in 0..joints {
        q.mirror[i] = Some(i ^ 1).filter(|&m| m < joints);
        for j in 0..joints {
            let along = 300.0 * (i / 2).abs_diff(j / 2) as f64;
            q.steel_mm[i][j] = along + if i % 2 == j % 2 { 0.0 } else { 600.0 };
        }
    }
    q
}

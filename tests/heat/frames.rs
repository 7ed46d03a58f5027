//! Whole frames: from a frame file to temperatures.
use crate::support::{near, near_rel};
use holdtrue::frame::Frame;
use holdtrue::heat::loss::steel_area_mm2;
use holdtrue::heat::{Clock, HeatSettings, HeatStep, Kernels, March, Mesh, check};
use holdtrue::joint::Joints;
use holdtrue::procedure::Passes;
use holdtrue::seam::Seams;
use rand::SeedableRng;
use rand::seq::SliceRandom;

struct Whole {
    frame: Frame,
    joints: Joints,
    seams: Seams,
    passes: Passes,
}

fn whole(text: &str) -> Whole {
    let frame = holdtrue::frame::read(text).expect("a sound file").value;
    let joints = holdtrue::joint::joints(&frame).expect("sound joints").value;
    let seams = holdtrue::seam::seams(&frame, &joints);
    let passes = holdtrue::procedure::passes(&frame, &joints, &seams);
    Whole { frame, joints, seams, passes }
}

impl Whole {
    fn kernels(&self) -> Kernels {
        Kernels::new(&self.frame, &self.joints, &self.seams, &self.passes)
    }
    fn mesh(&self) -> Mesh {
        Mesh::of(&self.frame, &self.joints, &self.seams, &HeatSettings::default())
    }
}

/// A ladder of round tube with a flat bar welded along one rail.
const LADDER: &str = r#"
holdtrue = 1
[frame]
name = "ladder"
[sections]
rail = { round = { od = 42.4, wall = 2.6 }, material = "S235" }
rung = { round = { od = 33.7, wall = 2.0 }, material = "S235" }
strip = { flat = { width = 30, thickness = 5 }, material = "S235" }
[points]
a0 = [0, 0, 0]
a1 = [300, 0, 0]
a2 = [700, 0, 0]
a3 = [1000, 0, 0]
b0 = [0, 400, 0]
b1 = [300, 400, 0]
b2 = [700, 400, 0]
b3 = [1000, 400, 0]
[tubes]
left = { section = "rail", run = ["a0", "a1", "a2", "a3"] }
right = { section = "rail", run = ["b0", "b1", "b2", "b3"] }
one = { section = "rung", run = ["a1", "b1"] }
two = { section = "rung", run = ["a2", "b2"] }
[shop]
loss = 15
[procedure]
process = 135
interpass = 120
[controls]
width = { kind = "distance", of = ["a0", "b0"], tolerance = 2 }
"#;

#[test]
fn the_network_holds_the_steel_of_the_frame() {
    let w = whole(LADDER);
    let mesh = w.mesh();
    for (index, tube) in w.frame.tubes.iter().enumerate() {
        let section = &w.frame.sections[tube.section];
        let m = &w.frame.materials[section.material];
        // A rung begins and ends at the surface of a rail, 21.2 mm from its axis. Its seam's middle
        // lies a little further in (a saddle), so a few millimetres are left to it.
        let per_mm = m.density_kg_m3 * 1e-9 * m.specific_heat_j_kgk * steel_area_mm2(&section.shape);
        let length = mesh.tubes[index].iter().map(|c| c.1).sum::<f64>() / per_mm;
        let rung = tube.name == "one" || tube.name == "two";
        near(length, if rung { 400.0 - 2.0 * 21.2 } else { 1000.0 }, if rung { 8.0 } else { 1e-6 });
    }
    // One place for each joint of a tube's end, and every pass has its own.
    assert_eq!(mesh.stations.len(), w.joints.joints.len());
    for p in &w.passes.passes {
        assert_eq!(mesh.stations[mesh.station_of[p.seam][p.segment]].joint, p.joint);
    }
}

/// A shuffled plan on a real frame: sums of kernels against stepping the whole network in steps of a
/// quarter of a second, at every joint before every pass.
#[test]
fn superposition_equals_stepping_the_whole_frame() {
    /// Heat is followed to nine e-folding lengths only, times to a cubic.
    const REACH_AND_STEPS_K: f64 = 0.1;
    let w = whole(LADDER);
    let (mesh, kernels) = (w.mesh(), w.kernels());
    let mut order: Vec<usize> = (0..w.passes.passes.len()).collect();
    order.shuffle(&mut rand::rngs::ChaCha8Rng::seed_from_u64(11));
    let steps: Vec<HeatStep> = order.iter().map(|p| HeatStep { passes: vec![*p], turn: false }).collect();
    let (line, clock) = kernels.run(&steps);
    let mut march = March::new(&mesh.network);
    let mut now = 0.0;
    let mut advance = |march: &mut March, to: f64, source: &[(usize, f64)]| {
        let steps = ((to - now) / 0.25_f64).ceil().max(1.0);
        for _ in 0..steps as usize {
            march.step((to - now) / steps, source);
        }
        now = to;
    };
    let mut hottest: f64 = 0.0;
    for (i, &p) in order.iter().enumerate() {
        let pass = &w.passes.passes[p];
        if i > 0 {
            advance(&mut march, line.start_s[i], &[]);
        }
        for (joint, station) in mesh.stations.iter().enumerate() {
            let rise: f64 = station.mean.iter().map(|(l, x)| x * march.rise_k[*l]).sum();
            near(clock.temperature(joint, line.start_s[i]) - 20.0, rise, REACH_AND_STEPS_K);
            hottest = hottest.max(rise);
        }
        for (tube, cells) in mesh.tubes.iter().enumerate() {
            let held: f64 = cells.iter().map(|(l, c)| c * march.rise_k[*l]).sum();
            let capacity: f64 = cells.iter().map(|c| c.1).sum();
            near(line.tube_rise_k[i][tube], held / capacity, REACH_AND_STEPS_K);
        }
        assert!(line.before_c[i] <= 120.0 + 1e-9);
        let lump = mesh.stations[mesh.station_of[pass.seam][pass.segment]].lump;
        advance(&mut march, line.start_s[i] + pass.arc_s, &[(lump, pass.energy_j / pass.arc_s)]);
    }
    assert!(hottest > 60.0, "{hottest}");
    near_rel(march.given_j, w.passes.passes.iter().map(|p| p.energy_j).sum(), 1e-9);
    near_rel(march.stored_j() + march.lost_j, march.given_j, 1e-9);
}

/// On a seam along a rail the place that was just welded is hot, the other end of it is not.
#[test]
fn a_long_seam_has_places_of_its_own() {
    let text = LADDER.replace("[shop]", "[[along]]\nname = \"edge\"\nsection = \"strip\"\non = \"left\"\nfrom = 350\nto = 950\nface = \"top\"\non_edge = true\n[shop]");
    let w = whole(&text);
    let mesh = w.mesh();
    assert!(mesh.stations.len() > w.joints.joints.len() + 4);
    let along = w.seams.seams.iter().position(|s| s.kind == holdtrue::joint::MeetKind::Along).expect("along");
    let on: Vec<usize> = (0..w.passes.passes.len()).filter(|p| w.passes.passes[*p].seam == along).collect();
    let kernels = w.kernels();
    let mut clock = Clock::new(&kernels);
    let by_x = |a: &&usize, b: &&usize| w.passes.passes[**a].mid.x.total_cmp(&w.passes.passes[**b].mid.x);
    let (first, last) = (*on.iter().min_by(by_x).expect("passes"), *on.iter().max_by(by_x).expect("passes"));
    clock.lay(&HeatStep { passes: vec![first], turn: false });
    let now = clock.now_s();
    assert!(clock.temperature_at_pass(first, now) > 35.0, "{}", clock.temperature_at_pass(first, now));
    near(clock.temperature_at_pass(last, now), 20.0, 0.5);
    near(clock.temperature_now(w.passes.passes[first].joint), clock.temperature_at_pass(first, now), 1e-9);
}

/// A joint's warmth follows neither the order of the tubes in the file nor their direction.
#[test]
fn turning_a_tube_round_changes_nothing() {
    let there = whole(LADDER);
    let back = whole(&LADDER.replace(r#"run = ["a1", "b1"]"#, r#"run = ["b1", "a1"]"#));
    let rise = |w: &Whole| {
        let kernels = w.kernels();
        let pass =
            w.passes.passes.iter().position(|p| p.mid.distance(glam::DVec3::new(300.0, 10.0, 0.0)) < 40.0);
        let mut clock = Clock::new(&kernels);
        clock.lay(&HeatStep { passes: vec![pass.expect("a pass at the first rung")], turn: false });
        (0..w.joints.joints.len())
            .map(|j| (w.joints.joints[j].at, clock.temperature(j, 60.0)))
            .collect::<Vec<_>>()
    };
    let (a, b) = (rise(&there), rise(&back));
    for (at, c) in &a {
        let other = b.iter().find(|(o, _)| o.distance(*at) < 1e-6).expect("the same joint");
        near(other.1, *c, 0.2);
    }
}

/// Bad shop, bad settings: refused with words that say what to write instead.
#[test]
fn a_frame_that_never_cools_is_refused() {
    let still = whole(&LADDER.replace("loss = 15", "loss = 0"));
    let found = check(&still.frame, &still.passes);
    assert_eq!(found.len(), 1);
    assert_eq!(found[0].code, "E402");
    assert!(found[0].help.as_ref().is_some_and(|h| h.contains("shop.loss")));
    let hot =
        whole(&LADDER.replace("loss = 15", "ambient = 45").replace("interpass = 120", "interpass = 40"));
    let found = check(&hot.frame, &hot.passes);
    assert!(!found.is_empty() && found.iter().all(|f| f.code == "E401"));
    assert!(check(&whole(LADDER).frame, &whole(LADDER).passes).is_empty());
}

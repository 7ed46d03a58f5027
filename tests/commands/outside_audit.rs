//! An auditor from outside: it knows the JSON that `plan --json` prints and the rules as the trade
//! would tell them, and none of the program's types. It walks down the sheet as a welder does.
//!
//! What it demands:
//! - steps are numbered 1, 2, 3 …; every pass stands there once; the vent of a sealed tube is open
//!   before anything is welded on; no turn before the last tack; a setup changes by a turn line only;
//! - layers in turn; every pass within reach; welders apart;
//! - `relaxed_rules` is exactly what it finds itself, entry by entry.

use super::bench::{EXAMPLES, SMALL, array, count, number, plan, triple, word};
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};

/// A shortfall: rule, label of the pass, required, actual.
type Short = (String, String, f64, f64);

/// Everything that is wrong with a plan; empty if it is sound.
pub fn audit(plan: &Value) -> Vec<String> {
    let sheet = Sheet::new(plan);
    let mut wrong = sheet.lines();
    wrong.extend(sheet.never_relaxed());
    wrong.extend(sheet.holds_before_turning());
    wrong.extend(sheet.sides_are_where_they_say());
    let mut found = sheet.joint_again();
    found.extend(sheet.opposite());
    found.extend(sheet.distance());
    let (balance, doubtful) = sheet.balance();
    found.extend(balance);
    wrong.extend(against_the_list(plan, found, &doubtful));
    wrong
}

struct Sheet<'a> {
    plan: &'a Value,
    passes: &'a [Value],
    /// Steel distance by names of joints; infinite where nothing connects them.
    steel_mm: BTreeMap<(&'a str, &'a str), f64>,
    /// Passes by step.
    by_step: BTreeMap<usize, Vec<&'a Value>>,
    /// Number of turns of the frame before each pass, by label.
    stay: BTreeMap<&'a str, usize>,
}

impl<'a> Sheet<'a> {
    fn new(plan: &'a Value) -> Sheet<'a> {
        let (joints, passes) = (array(plan, "joints"), array(plan, "passes"));
        let mut steel_mm = BTreeMap::new();
        for a in joints {
            let row = array(a, "steel_distance_mm");
            assert_eq!(row.len(), joints.len(), "a distance to every joint");
            for (b, mm) in joints.iter().zip(row) {
                steel_mm.insert((word(a, "name"), word(b, "name")), mm.as_f64().unwrap_or(f64::INFINITY));
            }
        }
        let mut by_step: BTreeMap<usize, Vec<&Value>> = BTreeMap::new();
        for p in passes {
            by_step.entry(count(p, "step")).or_default().push(p);
        }
        let (mut stay, mut turns) = (BTreeMap::new(), 0);
        for s in array(plan, "steps") {
            match word(s, "act") {
                "turn" => turns += 1,
                "pass" => drop(stay.insert(word(s, "what"), turns)),
                _ => {}
            }
        }
        Sheet { plan, passes, steel_mm, by_step, stay }
    }

    fn rule(&self, name: &str) -> f64 {
        number(&self.plan["rules"], name)
    }

    fn on(&self, name: &str) -> bool {
        self.plan["rules"][name].as_bool().expect("on or off")
    }

    /// The numbered lines themselves.
    fn lines(&self) -> Vec<String> {
        let mut wrong = vec![];
        let mut seen: Vec<&str> = vec![];
        let (mut open, mut closed) = (BTreeSet::new(), BTreeSet::new());
        let mut turned = false;
        let mut setup = self.passes.first().map(|p| word(p, "setup"));
        for (i, line) in array(self.plan, "steps").iter().enumerate() {
            let what = word(line, "what");
            if count(line, "number") != i + 1 {
                wrong.push(format!("line {} bears number {}", i + 1, line["number"]));
            }
            match word(line, "act") {
                "pass" => {
                    seen.push(what);
                    let pass = self.passes.iter().find(|p| word(p, "label") == what);
                    match pass {
                        Some(p) if count(p, "number") != i + 1 => {
                            wrong.push(format!(
                                "{what} has number {} and stands in line {}",
                                p["number"],
                                i + 1
                            ));
                        }
                        Some(p) if Some(word(p, "setup")) != setup => {
                            wrong.push(format!("{what} wants another setup and no line says to turn"));
                        }
                        Some(_) => {}
                        None => wrong.push(format!("line {} names {what}, which is no pass", i + 1)),
                    }
                }
                "tack" if turned => wrong.push(format!("the frame is turned before tack {what}")),
                "tack" if !seen.is_empty() => wrong.push(format!("tack {what} comes after a pass")),
                "turn" => {
                    turned = true;
                    if setup == Some(what) {
                        wrong.push(format!("a turn to {what}, as it lies already"));
                    }
                    setup = Some(what);
                }
                "vent-open" => drop(open.insert(what)),
                "vent-close" => drop(closed.insert(what)),
                _ => {}
            }
            let sealed = array(self.plan, "sealed_tubes").iter().filter_map(Value::as_str);
            if ["pass", "tack"].contains(&word(line, "act")) {
                for tube in sealed.filter(|t| !open.contains(t) || closed.contains(t)) {
                    wrong.push(format!("{what} is welded while {tube} has no vent"));
                }
            }
        }
        let order: Vec<&str> = self.passes.iter().map(|p| word(p, "label")).collect();
        if seen != order {
            wrong.push("the lines and the list of passes differ".into());
        }
        let once: BTreeSet<&str> = order.iter().copied().collect();
        if once.len() != order.len() {
            wrong.push("a pass stands there twice".into());
        }
        wrong.extend(self.all_there(&once));
        wrong
    }

    /// Before the first turn every joint holds: where both of an opposite pair of the first layer can be
    /// reached as the frame lies, one such pair is welded.
    fn holds_before_turning(&self) -> Vec<String> {
        let welded = |p: &Value| self.stay[word(p, "label")] == 0;
        let Some(first) = self.passes.first().map(|p| &p["setup"]) else { return vec![] };
        if self.passes.iter().all(welded) {
            return vec![];
        }
        let reach = |p: &Value| array(p, "within_reach").contains(first);
        let mut wrong = vec![];
        for joint in array(self.plan, "joints") {
            let mut pairs = self
                .passes
                .iter()
                .filter(|p| p["joint"] == joint["name"] && p["layer"] == 1)
                .filter_map(|p| Some((p, self.passes.iter().find(|o| o["label"] == p["partner"])?)))
                .filter(|(p, o)| reach(p) && reach(o))
                .peekable();
            if pairs.peek().is_some() && !pairs.any(|(p, o)| welded(p) && welded(o)) {
                wrong.push(format!("turned before a pair holds at {}", joint["name"]));
            }
        }
        wrong
    }

    /// Every segment of every seam, layer by layer from 1, without a gap.
    fn all_there(&self, labels: &BTreeSet<&str>) -> Vec<String> {
        let mut wrong = vec![];
        for seam in array(self.plan, "seams") {
            let name = word(seam, "name");
            let on: Vec<&Value> = self.passes.iter().filter(|p| word(p, "seam") == name).collect();
            let Some(first) = on.first() else {
                wrong.push(format!("{name} has no pass"));
                continue;
            };
            let segments = count(first, "segments_on_seam");
            let mut length = 0.0;
            for n in 1..=segments {
                let layers: BTreeSet<usize> =
                    on.iter().filter(|p| count(p, "segment") == n).map(|p| count(p, "layer")).collect();
                if layers.is_empty() || layers.iter().copied().ne(1..=layers.len()) {
                    wrong.push(format!("{name}, segment {n} has layers {layers:?}"));
                }
                for layer in layers {
                    if !labels.contains(format!("{name}-{n}/{layer}").as_str()) {
                        wrong.push(format!("{name}-{n}/{layer} is missing"));
                    }
                }
                let one = on.iter().find(|p| count(p, "segment") == n);
                length += one.map_or(0.0, |p| number(p, "length_mm"));
            }
            if (length - number(seam, "length_mm")).abs() > 0.01 {
                wrong.push(format!("{name} is {} long, its segments {length}", seam["length_mm"]));
            }
        }
        wrong
    }

    fn never_relaxed(&self) -> Vec<String> {
        let mut wrong = vec![];
        let most = count(&self.plan["rules"], "welders");
        let mut laid: BTreeSet<String> = BTreeSet::new();
        for (n, (&step, passes)) in self.by_step.iter().enumerate() {
            if step != n + 1 {
                wrong.push(format!("step {step} follows step {n}"));
            }
            let setups: BTreeSet<&str> = passes.iter().map(|p| word(p, "setup")).collect();
            let hands: BTreeSet<usize> = passes.iter().map(|p| count(p, "welder")).collect();
            if setups.len() != 1 || hands.len() != passes.len() || hands.iter().any(|&h| h < 1 || h > most) {
                wrong.push(format!("step {step}: setups {setups:?}, welders {hands:?}"));
            }
            for (i, p) in passes.iter().enumerate() {
                let label = word(p, "label");
                let layer = count(p, "layer");
                let under = format!("{}-{}/{}", word(p, "seam"), p["segment"], layer - 1);
                if layer > 1 && !laid.contains(&under) {
                    wrong.push(format!("{label} comes before {under}"));
                }
                if !array(p, "within_reach").iter().any(|s| s == &p["setup"]) {
                    wrong.push(format!("{label} is out of reach in {}", p["setup"]));
                }
                if number(p, "before_c") > number(p, "under_c") + 0.1 {
                    wrong.push(format!("{label} begins at {} °C, over {}", p["before_c"], p["under_c"]));
                }
                for o in &passes[..i] {
                    let mm = self.between(o, p);
                    if word(o, "joint") == word(p, "joint") || mm < self.rule("welder_distance_mm") - 0.006 {
                        wrong.push(format!("{label} and {} at once, {mm} mm apart", o["label"]));
                    }
                }
            }
            laid.extend(passes.iter().map(|p| word(p, "label").to_string()));
        }
        wrong
    }

    fn between(&self, a: &Value, b: &Value) -> f64 {
        self.steel_mm[&(word(a, "joint"), word(b, "joint"))]
    }

    /// Left, right and centre by the middle of the pass and the plane, not by what the pass says.
    fn sides_are_where_they_say(&self) -> Vec<String> {
        let plane = &self.plan["symmetry_plane"];
        if plane.is_null() {
            return vec![];
        }
        let (point, normal) = (triple(plane, "point_mm"), triple(plane, "normal"));
        let mut wrong = vec![];
        for p in self.passes {
            let mid = triple(p, "mid_point_mm");
            let off: f64 = (0..3).map(|i| (mid[i] - point[i]) * normal[i]).sum();
            let side = match off {
                o if o.abs() <= 1.0 => "centre",
                o if o > 0.0 => "left",
                _ => "right",
            };
            // The figures are rounded to a thousandth.
            if side != word(p, "side") && (off.abs() - 1.0).abs() > 0.003 {
                wrong.push(format!("{} is {off} mm off the plane and called {}", p["label"], p["side"]));
            }
        }
        wrong
    }

    /// Never the same joint twice running, and so many other steps before it is welded again.
    fn joint_again(&self) -> Vec<Short> {
        let spacing = count(&self.plan["rules"], "spacing_steps");
        let mut last: BTreeMap<&str, usize> = BTreeMap::new();
        let mut found = vec![];
        for (&step, passes) in &self.by_step {
            for p in passes {
                let Some(before) = last.insert(word(p, "joint"), step) else { continue };
                let others = step - before - 1;
                let label = word(p, "label").to_string();
                if others == 0 {
                    found.push(("same joint twice".into(), label.clone(), 1.0, 0.0));
                }
                if others < spacing {
                    found.push(("spacing".into(), label, spacing as f64, others as f64));
                }
            }
        }
        found
    }

    /// Once a segment is welded, no other of that seam and layer before its partner. A partner that
    /// needs another setup waits for it, and is then the first of that seam.
    fn opposite(&self) -> Vec<Short> {
        if !self.on("opposite") {
            return vec![];
        }
        let find = |label: &str| self.passes.iter().find(|p| word(p, "label") == label);
        // Pairs of which one is welded: the one, the other.
        let mut open: Vec<(&Value, &Value)> = vec![];
        let mut found = vec![];
        for passes in self.by_step.values() {
            for &p in passes {
                let label = word(p, "label");
                let stay = self.stay[label];
                let is_awaited = open.iter().any(|(one, other)| {
                    word(other, "label") == label && self.stay[word(one, "label")] < stay
                });
                let passed_over = open.iter().filter(|(one, other)| {
                    let here = array(other, "within_reach").contains(&p["setup"]);
                    let this_stay = self.stay[word(one, "label")] == stay;
                    word(one, "seam") == word(p, "seam")
                        && word(other, "label") != label
                        && here
                        && if this_stay { one["layer"] == p["layer"] } else { !is_awaited }
                });
                let n = passed_over.count();
                if n > 0 {
                    found.push(("opposite".into(), label.to_string(), 0.0, n as f64));
                }
            }
            for &p in passes {
                let label = word(p, "label");
                let before = open.len();
                open.retain(|(_, other)| word(other, "label") != label);
                let partner = p["partner"].as_str().and_then(find);
                if let (true, Some(partner)) = (open.len() == before, partner) {
                    open.push((p, partner));
                }
            }
        }
        found
    }

    /// The heat of both sides after every step. Also the steps that stand on the limit so closely that
    /// rounded figures cannot decide.
    fn balance(&self) -> (Vec<Short>, BTreeSet<String>) {
        let (mut found, mut doubtful) = (vec![], BTreeSet::new());
        if !self.on("balance") || self.plan["symmetry_plane"].is_null() {
            return (found, doubtful);
        }
        let sign = |p: &Value| match word(p, "side") {
            "left" => 1.0,
            "right" => -1.0,
            _ => 0.0,
        };
        let total: f64 = self.passes.iter().map(|p| sign(p) * number(p, "energy_j")).sum();
        let largest = self.passes.iter().map(|p| number(p, "energy_j")).fold(0.0, f64::max);
        let limit = largest + total.abs();
        let mut ahead = 0.0;
        for passes in self.by_step.values() {
            ahead += passes.iter().map(|p| sign(p) * number(p, "energy_j")).sum::<f64>();
            let heavier = passes.iter().find(|p| sign(p) * ahead > 0.0).unwrap_or(&passes[0]);
            let label = word(heavier, "label").to_string();
            if (f64::abs(ahead) - limit).abs() < 0.1 {
                doubtful.insert(label);
            } else if f64::abs(ahead) > limit {
                found.push(("side balance".into(), label, limit, f64::abs(ahead)));
            }
        }
        (found, doubtful)
    }

    /// Distance from the last pass along the steel.
    fn distance(&self) -> Vec<Short> {
        let asked = self.rule("distance_mm");
        let steps: Vec<&Vec<&Value>> = self.by_step.values().collect();
        let mut found = vec![];
        for pair in steps.windows(2) {
            for p in pair[1] {
                let nearest = pair[0].iter().map(|b| self.between(b, p)).fold(f64::INFINITY, f64::min);
                // Distances on file are rounded to a hundredth.
                if nearest < asked - 0.006 {
                    found.push(("distance".into(), word(p, "label").to_string(), asked, nearest));
                }
            }
        }
        found
    }
}

/// The list on the sheet against what was found, both ways.
fn against_the_list(plan: &Value, mut found: Vec<Short>, doubtful: &BTreeSet<String>) -> Vec<String> {
    let mut wrong = vec![];
    for entry in array(plan, "relaxed_rules") {
        let (rule, pass) = (word(entry, "rule"), word(entry, "pass"));
        let (required, actual) = (number(entry, "required"), number(entry, "actual"));
        // Sums of rounded energies are good to a tenth of a joule, distances to a hundredth of a mm.
        let grain = if rule == "side balance" { 0.2 } else { 0.011 };
        let same = found.iter().position(|f| {
            f.0 == rule && f.1 == pass && (f.2 - required).abs() < grain && (f.3 - actual).abs() < grain
        });
        match same {
            Some(i) => drop(found.swap_remove(i)),
            None if rule == "side balance" && doubtful.contains(pass) => {}
            None => wrong.push(format!("listed, but not so: {entry}")),
        }
        if word(entry, "why").is_empty() {
            wrong.push(format!("no reason: {entry}"));
        }
    }
    wrong.extend(found.iter().map(|f| format!("not listed: {f:?}")));
    wrong
}

#[track_caller]
fn sound(name: &str, effort: &str, welders: u8) {
    let wrong = audit(&plan(name, effort, welders));
    assert!(wrong.is_empty(), "{name} {effort} {welders}: {wrong:#?}");
}

#[test]
fn every_example_ordered_by_the_rules_is_sound_for_one_welder_and_two() {
    for name in EXAMPLES {
        sound(name, "rules", 1);
        sound(name, "rules", 2);
    }
}

#[test]
fn searched_orders_are_sound_for_one_welder_and_two() {
    // The frames of the workshop are searched for minutes in a debug build; theirs is the same code.
    for name in SMALL {
        sound(name, "quick", 1);
        sound(name, "quick", 2);
    }
}

#[test]
fn distances_along_the_steel_are_a_metric_and_never_shorter_than_through_the_air() {
    for name in EXAMPLES {
        let plan = plan(name, "rules", 1);
        let joints = array(&plan, "joints");
        let way = |a: usize, b: usize| joints[a]["steel_distance_mm"][b].as_f64().unwrap_or(f64::INFINITY);
        for a in 0..joints.len() {
            assert_eq!(way(a, a), 0.0);
            for b in 0..joints.len() {
                assert_eq!(way(a, b), way(b, a), "{name}: {a} {b}");
                for c in 0..joints.len() {
                    assert!(way(a, b) <= way(a, c) + way(c, b) + 0.03, "{name}: {a} {b} by way of {c}");
                }
            }
        }
    }
}

/// Spoils a sound plan in every way that a rule speaks of; the auditor must see each. The ladder's
/// plan for two welders is changed as JSON, so nothing of the program could help.
#[test]
fn the_outside_auditor_sees_what_is_wrong() {
    let sound = plan("ladder", "rules", 2);
    assert!(audit(&sound).is_empty());
    let spoilt = |change: &dyn Fn(&mut Value)| {
        let mut plan = (*sound).clone();
        change(&mut plan);
        audit(&plan).join("\n")
    };
    let of_act = |plan: &Value, act: &str| {
        array(plan, "steps").iter().position(|s| s["act"] == act).expect("a line of that kind")
    };
    let check = |want: &str, said: String| assert!(said.contains(want), "{want}: {said}");
    check("bears number", spoilt(&|p| p["steps"][3]["number"] = 77.into()));
    check("differ", spoilt(&|p| drop(p["passes"].as_array_mut().unwrap().pop())));
    check("is no pass", spoilt(&|p| drop(p["passes"].as_array_mut().unwrap().remove(2))));
    check("out of reach", spoilt(&|p| p["passes"][4]["within_reach"] = serde_json::json!([])));
    check("welders", spoilt(&|p| p["passes"][1]["welder"] = 1.into()));
    check("at once", spoilt(&|p| p["rules"]["welder_distance_mm"] = 5000.0.into()));
    check("called", spoilt(&|p| p["symmetry_plane"]["point_mm"] = serde_json::json!([900, 900, 900])));
    check("°C", spoilt(&|p| p["passes"][4]["before_c"] = 900.0.into()));
    check("wants another setup", spoilt(&|p| p["passes"][3]["setup"] = "upside down".into()));
    check(
        "turned before tack",
        spoilt(&|p| {
            let at = of_act(p, "tack");
            p["steps"][at]["act"] = "turn".into();
        }),
    );
    check(
        "before a pair holds",
        spoilt(&|p| {
            let at = of_act(p, "pass") + 1;
            let mut turn = p["steps"][at].clone();
            turn["act"] = "turn".into();
            p["steps"].as_array_mut().expect("lines").insert(at, turn);
        }),
    );
    check("has no vent", spoilt(&|p| p["sealed_tubes"] = serde_json::json!(["a tube nobody vented"])));
    check("spacing", spoilt(&|p| p["rules"]["spacing_steps"] = 40.into()));
    check("distance", spoilt(&|p| p["rules"]["distance_mm"] = 4000.0.into()));
    check(
        "side balance",
        spoilt(&|p| {
            let passes = p["passes"].as_array_mut().expect("passes");
            let half = passes.len() / 2;
            for (i, pass) in passes.iter_mut().enumerate() {
                pass["side"] = if i < half { "left" } else { "right" }.into();
            }
        }),
    );
    // All segments of a seam round in their turn: every second one leaves a pair open.
    check(
        "opposite",
        spoilt(&|p| {
            let passes = p["passes"].as_array_mut().unwrap();
            let partners: Vec<Value> = passes.iter().map(|p| p["partner"].clone()).collect();
            let seam = passes[0]["seam"].clone();
            let on: Vec<usize> = (0..passes.len()).filter(|&i| passes[i]["seam"] == seam).collect();
            assert_eq!(on.len(), 4);
            // Pairs told the other way: first with third, second with fourth in time.
            for (i, j) in [(0, 2), (1, 3)] {
                passes[on[i]]["partner"] = passes[on[j]]["label"].clone();
                passes[on[j]]["partner"] = passes[on[i]]["label"].clone();
            }
            assert!(partners.iter().zip(&*passes).any(|(a, b)| *a != b["partner"]));
        }),
    );
    check(
        "same joint twice",
        spoilt(&|p| {
            let step = count(&p["passes"][0], "step") + 1;
            let joint = p["passes"][0]["joint"].clone();
            for q in p["passes"].as_array_mut().unwrap() {
                if q["step"] == step {
                    q["joint"] = joint.clone();
                    break;
                }
            }
        }),
    );
    check(
        "listed, but not so",
        spoilt(&|p| {
            let entry = serde_json::json!({"rule": "distance", "pass": p["passes"][0]["label"],
                "required": 150.0, "actual": 20.0, "why": "so"});
            p["relaxed_rules"].as_array_mut().unwrap().push(entry);
        }),
    );
}

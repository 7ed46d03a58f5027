//! `[[clamp]]`, `[[stage]]`, `[[joint]]`: what the user says about holding, stages and joints.

use super::controls::same_name;
use super::direction::{Axes, direction};
use super::look::Look;
use super::read::Notes;
use super::reader::{At, Bad, Tab, number, unknown};
use super::tables::tables;
use super::{Clamp, JointWish, Release, Setup, Spot, Stage};
use crate::fault::Fault;
use glam::DVec3;
use toml::de::DeValue;

/// Clamp stiffness if none is given, N/mm.
const CLAMP_STIFFNESS: f64 = 5e3;

const CLAMP: &[&str] = &["name", "tube", "at", "point", "holds", "pushes", "stiffness", "setup", "release"];

/// `[[clamp]]`.
pub(super) fn clamps(
    top: &Tab<'_>,
    look: &Look<'_>,
    setups: &[Setup],
    notes: &mut Notes,
    bad: &mut Bad,
) -> Vec<Clamp> {
    let mut clamps = Vec::new();
    let mut names: Vec<At<&str>> = Vec::new();
    for tab in tables(top, "clamp", CLAMP, bad) {
        let name = tab.name("`name = \"…\"`, as on the sheet", bad);
        if let Some(n) = &name {
            same_name("clamp", &mut names, n, bad);
        }
        let spot = clamp_spot(&tab, look, bad);
        let one_way = tab.get("pushes").is_some();
        let holds = if one_way { pushes(&tab, look, bad) } else { holds(&tab, look, bad) };
        let stiffness = tab.number_in("stiffness", 1.0..=1e8, "N/mm", bad).map_or_else(
            || {
                let why = "a screw clamp on a steel bench (assumption); results are also shown for a fifth and five times of it";
                notes.default("clamp.stiffness", format!("{CLAMP_STIFFNESS} N/mm"), why);
                CLAMP_STIFFNESS
            },
            |n| n.v,
        );
        let setups = clamp_setups(&tab, setups, bad);
        let release = release(&tab, notes, bad);
        if let (Some(name), Some(Spot { tube, s_mm }), Some(holds)) = (name, spot, holds) {
            let name = name.v.trim().to_string();
            let stiffness_n_mm = stiffness;
            clamps.push(Clamp { name, tube, at_mm: s_mm, holds, one_way, stiffness_n_mm, setups, release });
        }
    }
    clamps
}

fn clamp_spot(tab: &Tab<'_>, look: &Look<'_>, bad: &mut Bad) -> Option<Spot> {
    match (tab.text("point", bad), tab.text("tube", bad)) {
        (Some(point), None) => look.spot(&point, bad),
        (None, Some(said)) => {
            let tube = look.tube(&said, bad)?;
            let length = look.tubes[tube].length_mm();
            let value = tab.need(
                "at",
                "`at = 500`, mm from the tube's start, or \"start\", \"middle\", \"end\"",
                bad,
            )?;
            if let DeValue::String(word) = value.get_ref() {
                let joined = format!("{}:{word}", said.v);
                return look.spot(&At { v: &joined, span: value.span() }, bad);
            }
            let at = number(value, "`at`", bad)?;
            if !(0.0..=length + 1e-6).contains(&at.v) {
                bad.push(
                    Fault::new("E137", format!("{} mm is not on \"{}\"", at.v, said.v))
                        .at(at.span, format!("it is {length:.1} mm long"))
                        .help(format!("between 0 and {length:.1}, measured from its start")),
                );
                return None;
            }
            Some(Spot { tube, s_mm: at.v.min(length) })
        }
        (both, _) => {
            let there = if both.is_some() { "both are there" } else { "neither is there" };
            bad.push(
                Fault::new("E113", format!("{} needs either `point` or `tube` and `at`", tab.place))
                    .at(tab.span.clone(), there)
                    .help("write `point = \"a\"` or `tube = \"rail\"` with `at = 500`"),
            );
            None
        }
    }
}

/// A stop: the one direction in which it pushes.
fn pushes(tab: &Tab<'_>, look: &Look<'_>, bad: &mut Bad) -> Option<Vec<DVec3>> {
    if let Some(holds) = tab.get("holds") {
        bad.push(
            Fault::new("E113", format!("{} both holds and pushes", tab.place))
                .at(holds.span(), "a clamp holds, a stop pushes")
                .help("leave one of them out, or write a clamp and a stop"),
        );
        return None;
    }
    let direction = direction(tab.get("pushes")?, "pushes", &Axes::of(look.up, look.forward), bad)?;
    Some(vec![direction.v])
}

fn holds(tab: &Tab<'_>, look: &Look<'_>, bad: &mut Bad) -> Option<Vec<DVec3>> {
    let example = "`holds = \"XYZ\"`, the directions it holds";
    let value = tab.need("holds", example, bad)?;
    let before = bad.len();
    let mut holds = Vec::new();
    match value.get_ref() {
        DeValue::String(letters) => {
            for letter in letters.chars().filter(|c| !c.is_whitespace() && *c != ',') {
                match Axes::file().word(&letter.to_string()) {
                    Some(axis) => holds.push(axis),
                    None => {
                        bad.push(
                            Fault::new("E112", format!("a clamp cannot hold \"{letter}\""))
                                .at(value.span(), "only X, Y and Z")
                                .help("write \"XYZ\", \"Z\", or a list such as [\"Z\", [1, 1, 0]]"),
                        );
                        return None;
                    }
                }
            }
        }
        DeValue::Array(items) => {
            let axes = Axes::of(look.up, look.forward);
            holds.extend(items.iter().filter_map(|v| direction(v, "holds", &axes, bad)).map(|d| d.v));
        }
        _ => bad.push(super::reader::wrong_type(value, "`holds`", "a text such as \"XYZ\" or a list")),
    }
    if holds.is_empty() && bad.len() == before {
        bad.push(
            Fault::new("E162", format!("{} holds nothing", tab.place))
                .at(value.span(), "no direction")
                .help(format!("write {example}")),
        );
    }
    (bad.len() == before).then_some(holds)
}

fn clamp_setups(tab: &Tab<'_>, setups: &[Setup], bad: &mut Bad) -> Vec<usize> {
    let said = match tab.get("setup") {
        None => return Vec::new(),
        Some(v) if v.get_ref().is_str() => tab.text("setup", bad).into_iter().collect(),
        Some(_) => tab.texts("setup", bad).unwrap_or_default(),
    };
    let mut indices = Vec::new();
    for name in said {
        match setups.iter().position(|s| s.name == name.v) {
            Some(i) => indices.push(i),
            None => bad.push(unknown("setup", &name, setups.iter().map(|s| s.name.as_str()), "the setups")),
        }
    }
    indices
}

fn release(tab: &Tab<'_>, notes: &mut Notes, bad: &mut Bad) -> Release {
    let Some(said) = tab.text("release", bad) else {
        notes.default("clamp.release", "end", "clamps stay on until the frame is welded and cold");
        return Release::End;
    };
    let label = said.v.strip_prefix("after ").map(str::trim).unwrap_or("");
    if said.v == "end" {
        Release::End
    } else if is_pass_label(label) {
        Release::AfterPass(label.to_string())
    } else if !label.is_empty() {
        Release::AfterJoint(label.to_string())
    } else {
        bad.push(
            Fault::new("E112", format!("`release` cannot be \"{}\"", said.v))
                .at(said.span, "when does it come off?")
                .help("write \"end\", \"after J3\" (a joint) or \"after J3a-2/1\" (a pass)"),
        );
        Release::End
    }
}

/// `J3a-2/1`.
fn is_pass_label(label: &str) -> bool {
    label.starts_with('J') && label.contains('-') && label.contains('/')
}

/// `[[stage]]`: each tube in exactly one.
pub(super) fn stages(top: &Tab<'_>, look: &Look<'_>, bad: &mut Bad) -> Vec<Stage> {
    let mut stages: Vec<Stage> = Vec::new();
    let mut names: Vec<At<&str>> = Vec::new();
    let mut first_at: Vec<Option<At<()>>> = vec![None; look.tubes.len()];
    let before = bad.len();
    for tab in tables(top, "stage", &["name", "tubes", "weld_out"], bad) {
        let name = tab.name("`name = \"front half\"`", bad);
        if let Some(n) = &name {
            same_name("stage", &mut names, n, bad);
        }
        tab.need("tubes", "`tubes = [\"…\"]`, the tubes this stage adds", bad);
        let mut tubes = Vec::new();
        for said in tab.texts("tubes", bad).unwrap_or_default() {
            let Some(tube) = look.tube(&said, bad) else { continue };
            if let Some(first) = &first_at[tube] {
                bad.push(
                    Fault::new("E163", format!("\"{}\" is added twice", said.v))
                        .at(said.span, "again")
                        .also(first.span.clone(), "first here")
                        .help("a tube belongs to one stage"),
                );
                continue;
            }
            first_at[tube] = Some(At { v: (), span: said.span });
            tubes.push(tube);
        }
        let weld_out = tab.flag("weld_out", bad).unwrap_or(false);
        if let Some(name) = name {
            stages.push(Stage { name: name.v.trim().to_string(), tubes, weld_out });
        }
    }
    if !stages.is_empty() && look.complete && bad.len() == before {
        let missing = look.tubes.iter().zip(&first_at).filter(|(_, at)| at.is_none()).map(|(t, _)| t);
        for tube in missing {
            bad.push(
                Fault::new("E163", format!("\"{}\" belongs to no stage", tube.name))
                    .at(tube.span.clone(), "in no `tubes` of a [[stage]]")
                    .help("add it to the stage in which it is fitted"),
            );
        }
    }
    stages
}

const JOINT: &[&str] = &["tubes", "point", "carrier", "mitre", "open", "gap"];

/// `[[joint]]`.
pub(super) fn joints(top: &Tab<'_>, look: &Look<'_>, bad: &mut Bad) -> Vec<JointWish> {
    let mut wishes = Vec::new();
    for tab in tables(top, "joint", JOINT, bad) {
        let before = bad.len();
        if tab.has("tubes") == tab.has("point") {
            bad.push(
                Fault::new("E113", "a [[joint]] is named by `tubes` or by `point`")
                    .at(
                        tab.span.clone(),
                        if tab.has("tubes") { "both are there" } else { "neither is there" },
                    )
                    .help("write `tubes = [\"rail\", \"post\"]`, or `point = \"a\"`"),
            );
        }
        let tubes: Vec<usize> =
            tab.texts("tubes", bad).unwrap_or_default().iter().filter_map(|s| look.tube(s, bad)).collect();
        let point = tab.text("point", bad).and_then(|p| look.point(&p, bad));
        let carrier = tab.text("carrier", bad).and_then(|said| look.tube(&said, bad));
        let open = tab.texts("open", bad).unwrap_or_default().iter().filter_map(|s| clock(s, bad)).collect();
        let mitre = tab.flag("mitre", bad);
        let gap_mm = tab.number_in("gap", 0.0..=20.0, "mm", bad).map(|g| g.v);
        if bad.len() == before {
            wishes.push(JointWish { tubes, point, carrier, mitre, open, gap_mm, span: tab.span.clone() });
        }
    }
    wishes
}

/// `"12-3"`, `"10:30-1"`: hours from and to, clockwise.
fn clock(said: &At<&str>, bad: &mut Bad) -> Option<(f64, f64)> {
    let hour = |word: &str| -> Option<f64> {
        let (h, m) = word.trim().split_once(':').unwrap_or((word.trim(), "0"));
        let (h, m) = (h.parse::<u8>().ok()?, m.parse::<u8>().ok()?);
        ((1..=12).contains(&h) && m < 60).then(|| f64::from(h) + f64::from(m) / 60.0)
    };
    let range = said.v.split_once('-').and_then(|(a, b)| Some((hour(a)?, hour(b)?)));
    let range = range.filter(|(a, b)| a != b);
    if range.is_none() {
        bad.push(
            Fault::new("E160", format!("\"{}\" is no range on the clock", said.v))
                .at(said.span.clone(), "hours from and to wanted")
                .help("write for instance \"12-3\" or \"10:30-1\", clockwise"),
        );
    }
    range
}

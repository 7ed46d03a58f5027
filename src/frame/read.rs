//! From the text of a frame file to a [`Frame`]: the order in which things are read.

use super::direction::{Axes, direction};
use super::reader::{At, Bad, Tab, number, table, vector};
use super::{Default_, Frame, Point, SymmetryWish};
use super::{controls, inches, materials, procedures, settings, syntax, tubes, wishes};
use crate::fault::{Checked, Fault, Span};
use crate::library::Material;
use crate::units::Units;
use glam::DVec3;
use toml::de::DeTable;

/// Version of the frame file that this program reads.
const VERSION: f64 = 1.0;
/// Largest frame file, bytes.
const LARGEST: usize = 4_000_000;

/// The text of a frame file from its bytes.
///
/// # Errors
/// `E101` if the bytes are not UTF-8 (with line and byte), `E102` if there are more than 4 MB.
pub fn decode(bytes: &[u8]) -> Result<&str, Vec<Fault>> {
    if bytes.len() > LARGEST {
        let size = bytes.len() as f64 / 1e6;
        return Err(vec![
            Fault::new("E102", format!("the file is {size:.1} MB; a frame file is never larger than 4 MB"))
                .help("is this the right file? a frame of 2,000 welds fits into half a megabyte"),
        ]);
    }
    std::str::from_utf8(bytes).map_err(|e| {
        let upto = e.valid_up_to();
        let line = bytes[..upto].iter().filter(|b| **b == b'\n').count() + 1;
        vec![
            Fault::new(
                "E101",
                format!(
                    "the file is not UTF-8 text: byte 0x{:02X} in line {line} (byte {upto} of the file)",
                    bytes[upto]
                ),
            )
            .help("save it as UTF-8; most editors offer this under \"save as\""),
        ]
    })
}

/// Read a frame file.
///
/// # Errors
/// All faults of the text at once, each with code, place and remedy; warnings among them.
pub fn read(text: &str) -> Result<Checked<Frame>, Vec<Fault>> {
    read_with(text, &[])
}

/// [`read`], with materials of the shop for names that are neither in the file nor built in.
///
/// # Errors
/// As [`read`].
pub fn read_with(text: &str, shop: &[Material]) -> Result<Checked<Frame>, Vec<Fault>> {
    let mut bad = Bad::new();
    let mut units = Units::Mm;
    let frame = match syntax::faults(text) {
        None => in_mm(text, &mut units, |tree| whole(tree, text, shop, &mut bad)),
        Some((faults, clean)) => {
            in_mm(&clean, &mut units, |tree| whole(tree, text, shop, &mut bad));
            // Lines that cannot be parsed are not there, so what is missing or unknown may stand in
            // one of them; only faults that lie in one word remain trustworthy.
            bad.retain(|f| matches!(f.code, "E105" | "E106" | "E110" | "E111" | "E112" | "E114"));
            bad.extend(faults);
            None
        }
    };
    bad.sort_by_key(|f| f.at.as_ref().map_or(0, |s| s.start));
    bad.dedup();
    inches::faults(&mut bad, units);
    match frame {
        Some(value) if bad.iter().all(Fault::is_warning) => Ok(Checked { value, warnings: bad }),
        _ => Err(bad),
    }
}

/// The tree of the file with every length in mm, and the unit in which it was written.
fn in_mm<T>(text: &str, units: &mut Units, read: impl FnOnce(&DeTable<'_>) -> T) -> T {
    let (tree, _) = DeTable::parse_recoverable(text);
    let mut tree = tree.into_inner();
    *units = inches::said(&tree);
    let texts = inches::in_mm(&mut tree);
    inches::put(&mut tree, &texts);
    read(&tree)
}

/// What every part of the reader adds to.
pub(super) struct Notes {
    /// Defaults put in.
    pub defaults: Vec<Default_>,
}

impl Notes {
    /// Remember a default that was put in, once for each key.
    pub fn default(&mut self, key: impl Into<String>, value: impl Into<String>, why: impl Into<String>) {
        let key = key.into();
        if !self.defaults.iter().any(|d| d.key == key) {
            self.defaults.push(Default_ { key, value: value.into(), why: why.into() });
        }
    }
}

const TOP: &[&str] = &[
    "holdtrue",
    "frame",
    "materials",
    "sections",
    "points",
    "tube",
    "tubes",
    "plate",
    "plates",
    "along",
    "joint",
    "procedure",
    "procedure_for",
    "setup",
    "clamp",
    "clamps",
    "control",
    "controls",
    "stage",
    "rules",
    "shop",
    "pull",
    "order",
];

fn whole<'t>(root: &'t DeTable<'t>, text: &str, shop: &[Material], bad: &mut Bad) -> Option<Frame> {
    let top = Tab::open(root, 0..0, "the file", TOP, bad);
    let mut notes = Notes { defaults: Vec::new() };
    version(&top, text, bad);
    let head = head(&top, &mut notes, bad);
    let (points, broken) = points(&top, bad);
    let materials = materials::own(&top, "frame file", bad);
    let mut parts = materials::sections(&top, materials, shop, &mut notes, bad);
    let place = super::raw::Place { up: head.up, forward: head.forward, points: &points, broken: &broken };
    let built = tubes::read(&top, &place, &mut parts, &mut notes, bad);
    let tubes_ok = built.is_some();
    let mut tubes = built.unwrap_or_default();
    head.mark_vented(&mut tubes, tubes_ok, bad);
    let look = super::look::Look {
        up: head.up,
        forward: head.forward,
        points: &points,
        tubes: &tubes,
        parts: &parts,
        complete: tubes_ok,
    };
    let setups = settings::setups(&top, &look, &mut notes, bad);
    let clamps = wishes::clamps(&top, &look, &setups, &mut notes, bad);
    let control_list = controls::read(&top, &look, &mut notes, bad);
    let stages = wishes::stages(&top, &look, bad);
    let joint_wishes = wishes::joints(&top, &look, bad);
    let procedures = procedures::read(&top, &parts, &mut notes, bad);
    let rules = settings::rules(&top, &mut notes, bad);
    let shop = settings::shop(&top, &mut notes, bad);
    let pull = settings::pull(&top, &mut notes, bad);
    let wishes = settings::order(&top, bad);
    if tubes_ok {
        parts.warn_unused(&tubes, &procedures, bad);
    }
    Some(Frame {
        name: head.name?,
        units: head.units,
        note: head.note,
        up: head.up,
        forward: head.forward,
        materials: parts.materials,
        sections: parts.sections,
        points: points.into_iter().map(|p| p.v).collect(),
        tubes,
        joint_wishes,
        procedures,
        setups,
        clamps,
        controls: control_list,
        stages,
        symmetry: head.symmetry,
        rules,
        shop,
        pull,
        wishes,
        coating: head.coating,
        carries_people: head.carries_people,
        defaults: notes.defaults,
    })
}

fn version(top: &Tab<'_>, text: &str, bad: &mut Bad) {
    let first = 0..text.lines().next().map_or(0, str::len);
    let Some(value) = top.get("holdtrue") else {
        bad.push(
            Fault::new("E104", "the file does not say which version of the frame file it is")
                .at(first, "the first line")
                .help("write `holdtrue = 1` as the first line"),
        );
        return;
    };
    let Some(n) = number(value, "`holdtrue`", bad) else { return };
    if n.v > VERSION {
        bad.push(
            Fault::new("E104", format!("the file has version {}; this program reads version {VERSION}", n.v))
                .at(n.span, "newer than this program")
                .help("use a newer holdtrue, or write the file for version 1"),
        );
    } else if n.v != VERSION {
        bad.push(
            Fault::new("E104", format!("there never was a version {}", n.v))
                .at(n.span, "not a version")
                .replace("1"),
        );
    }
}

/// What `[frame]` says.
struct Head<'t> {
    name: Option<String>,
    units: Units,
    note: String,
    up: DVec3,
    forward: DVec3,
    symmetry: SymmetryWish,
    coating: Option<String>,
    carries_people: bool,
    vented: Vec<At<&'t str>>,
}

impl Head<'_> {
    fn mark_vented(&self, tubes: &mut [super::Tube], all_there: bool, bad: &mut Bad) {
        for said in &self.vented {
            let names: Vec<String> = tubes.iter().map(|t| t.name.clone()).collect();
            match tubes.iter_mut().find(|t| t.name == said.v) {
                Some(tube) => tube.vented = true,
                None if all_there => {
                    bad.push(super::reader::unknown(
                        "tube",
                        said,
                        names.iter().map(String::as_str),
                        "the tubes",
                    ));
                }
                None => {}
            }
        }
    }
}

const FRAME: &[&str] =
    &["name", "units", "note", "up", "forward", "symmetry", "coating", "carries_people", "vented"];

fn head<'t>(top: &Tab<'t>, notes: &mut Notes, bad: &mut Bad) -> Head<'t> {
    let empty = Head {
        name: None,
        units: Units::Mm,
        note: String::new(),
        up: DVec3::Z,
        forward: DVec3::X,
        symmetry: SymmetryWish::Auto,
        coating: None,
        carries_people: true,
        vented: Vec::new(),
    };
    let Some(value) = top.get("frame") else {
        bad.push(
            Fault::new("E107", "the file lacks `[frame]`")
                .help("write `[frame]` and under it `name = \"my frame\"`"),
        );
        return empty;
    };
    let Some(t) = table(value, "`frame`", bad) else { return empty };
    let tab = Tab::open(t, value.span(), "[frame]", FRAME, bad);
    let name = tab
        .need("name", "`name = \"my frame\"`", bad)
        .and_then(|v| super::reader::text(v, "`name`", bad))
        .map(|n| n.v.trim().to_string());
    let units = match tab.word("units", &["mm", "inch"], bad) {
        Some("inch") => Units::Inch,
        _ => Units::Mm,
    };
    let (up, forward) = up_and_forward(&tab, notes, bad);
    let coating = tab.text("coating", bad).map(|c| c.v.to_string());
    let carries_people = tab.flag("carries_people", bad).unwrap_or_else(|| {
        notes.default(
            "frame.carries_people",
            "true",
            "cautious: people may ride it, lift with it or work under it",
        );
        true
    });
    Head {
        name,
        units,
        note: tab.text("note", bad).map_or(String::new(), |n| n.v.to_string()),
        up,
        forward,
        symmetry: symmetry(&tab, notes, bad),
        coating,
        carries_people,
        vented: tab.texts("vented", bad).unwrap_or_default(),
    }
}

fn up_and_forward(tab: &Tab<'_>, notes: &mut Notes, bad: &mut Bad) -> (DVec3, DVec3) {
    let axes = Axes::file();
    let mut said = |key: &'static str, or: DVec3, word: &str, bad: &mut Bad| {
        if !tab.has(key) {
            notes.default(format!("frame.{key}"), word, "usual axes: X forward, Y left, Z up");
        }
        tab.get(key).and_then(|v| direction(v, key, &axes, bad)).map_or(or, |d| d.v)
    };
    let up = said("up", DVec3::Z, "Z", bad);
    let usual = if up.x.abs() > 0.9 { DVec3::Y } else { DVec3::X };
    let forward = said("forward", usual, if usual == DVec3::X { "X" } else { "Y" }, bad);
    let across = up.cross(forward);
    if across.length() < 0.02 {
        let key = if tab.has("forward") { "forward" } else { "up" };
        bad.push(
            Fault::new("E140", "`up` and `forward` are the same line")
                .at(tab.get(key).map_or(tab.span.clone(), |v| v.span()), "along the other one")
                .help(
                    "`up` points to the sky in use, `forward` to the front: they stand square to each other",
                ),
        );
        return (DVec3::Z, DVec3::X);
    }
    (up, across.cross(up).normalize())
}

fn symmetry(tab: &Tab<'_>, notes: &mut Notes, bad: &mut Bad) -> SymmetryWish {
    let Some(value) = tab.get("symmetry") else {
        notes.default("frame.symmetry", "auto", "found from the geometry, if there is one");
        return SymmetryWish::Auto;
    };
    if value.get_ref().is_str() {
        return match tab.word("symmetry", &["none", "auto"], bad) {
            Some("none") => SymmetryWish::None,
            _ => SymmetryWish::Auto,
        };
    }
    let Some(t) = table(value, "`symmetry`", bad) else { return SymmetryWish::Auto };
    let plane = Tab::open(t, value.span(), "`symmetry`", &["point", "normal"], bad);
    let point = plane.need("point", "`point = [0, 0, 0]`", bad).and_then(|v| vector(v, "`point`", bad));
    let normal = plane
        .need("normal", "`normal = \"Y\"`", bad)
        .and_then(|v| direction(v, "normal", &Axes::file(), bad));
    match (point, normal) {
        (Some(p), Some(n)) => SymmetryWish::Plane(p.v, n.v),
        _ => SymmetryWish::Auto,
    }
}

/// Named points, and the names of those that have a fault.
fn points<'t>(top: &Tab<'t>, bad: &mut Bad) -> (Vec<At<Point>>, Vec<&'t str>) {
    let (mut points, mut broken) = (Vec::new(), Vec::new());
    let Some(value) = top.get("points") else { return (points, broken) };
    let Some(t) = table(value, "`points`", bad) else { return (points, broken) };
    for (name, span, value) in Tab::free(t, value.span(), "[points]", &[]).entries() {
        usable_name("point", name, span, bad);
        match vector(value, &format!("point \"{name}\""), bad) {
            Some(at) => points.push(At { v: Point { name: name.to_string(), at: at.v }, span: span.clone() }),
            None => broken.push(*name),
        }
    }
    (points, broken)
}

/// Names are used inside longer words (`rail:start`), so some signs are not allowed.
pub(super) fn usable_name(kind: &str, name: &str, at: &Span, bad: &mut Bad) {
    let fault = |why: &str| {
        Fault::new("E114", format!("\"{name}\" cannot be the name of a {kind}: {why}"))
            .at(at.clone(), "this name")
    };
    if name.trim().is_empty() {
        bad.push(fault("it is empty").help("write a short name, such as \"left rail\""));
    } else if name.len() > 60 {
        bad.push(fault("it is longer than 60 letters"));
    } else if name.chars().any(|c| c.is_control() || matches!(c, ':' | '@' | '"')) {
        bad.push(fault("`:`, `@` and quotes have a meaning in places such as \"rail:start\""));
    }
}

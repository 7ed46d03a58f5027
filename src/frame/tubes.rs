//! `[[tube]]`, `[[plate]]`, `[[along]]`: what is welded together, and where it lies.
//!
//! A tube may be placed on another one (`on = …`), so tubes are laid out in rounds: each round
//! places those whose supports are placed. What remains is placed in a circle.

use super::direction::{Axes, direction};
use super::materials::Parts;
use super::raw::{Along, Along1, Face, Kind, OnPlace, Place, Plate, Raw, Run, Stop, StopAt};
use super::read::{Notes, usable_name};
use super::reader::{At, Bad, Tab, Val, list, number, text, unknown, vector};
use super::tables::{count, tables};
use super::{Tube, lay};
use crate::fault::Fault;
use glam::DVec3;
use toml::de::DeValue;

const FACES: [&str; 8] = ["inner", "outer", "top", "bottom", "left", "right", "front", "back"];
const TUBE: &[&str] = &["name", "section", "run", "bend_radius", "height", "roll", "vented"];
const PLATE: &[&str] = &[
    "name",
    "on",
    "at",
    "face",
    "offset",
    "centre",
    "normal",
    "along",
    "size",
    "thickness",
    "material",
    "vented",
];
const ALONG: &[&str] = &["name", "section", "on", "from", "to", "face", "offset", "on_edge", "vented"];
const ON: &[&str] = &["on", "at", "face", "offset", "slot"];

/// Names of all tubes, plates and bars, to resolve references among them.
struct Names<'t> {
    list: Vec<At<&'t str>>,
}

impl Names<'_> {
    fn find(&self, said: &At<&str>, bad: &mut Bad) -> Option<usize> {
        let found = self.list.iter().position(|n| n.v == said.v);
        if found.is_none() {
            bad.push(unknown("tube", said, self.list.iter().map(|n| n.v), "the tubes"));
        }
        found
    }
}

/// Read and place all tubes. `None` if any of them has a fault.
pub(super) fn read(
    top: &Tab<'_>,
    place: &Place<'_>,
    parts: &mut Parts,
    notes: &mut Notes,
    bad: &mut Bad,
) -> Option<Vec<Tube>> {
    let items = items(top, bad);
    let names = names(&items, bad);
    let mut raws: Vec<Option<Raw>> = Vec::new();
    for (i, item) in items.iter().enumerate() {
        let mut reader = One { place, parts, names: &names, notes, index: i };
        raws.push(match item.kind {
            "tube" => reader.tube(&item.tab, bad),
            "plate" => reader.plate(&item.tab, bad),
            _ => reader.along(&item.tab, bad),
        });
    }
    if items.is_empty() {
        bad.push(
            Fault::new("E107", "the file has no tubes")
                .help("write `[[tube]]` and under it name, section and `run = [\"a\", \"b\"]`"),
        );
    }
    let tubes = lay::out(&raws, place, &parts.sections, notes, bad);
    tubes.into_iter().collect()
}

struct Item<'t> {
    kind: &'static str,
    tab: Tab<'t>,
}

/// All three kinds in the order of the file.
fn items<'t>(top: &Tab<'t>, bad: &mut Bad) -> Vec<Item<'t>> {
    let mut items = Vec::new();
    for (kind, keys) in [("tube", TUBE), ("plate", PLATE), ("along", ALONG)] {
        items.extend(tables(top, kind, keys, bad).into_iter().map(|tab| Item { kind, tab }));
    }
    items.sort_by_key(|i| i.tab.span.start);
    items
}

fn names<'t>(items: &[Item<'t>], bad: &mut Bad) -> Names<'t> {
    let mut list: Vec<At<&str>> = Vec::new();
    for item in items {
        let example = format!("`name = \"…\"`; every {} has a name", item.kind);
        let name = item.tab.name(&example, bad);
        let name = name.unwrap_or(At { v: "", span: item.tab.span.clone() });
        if !name.v.is_empty() {
            usable_name(item.kind, name.v, &name.span, bad);
            if let Some(first) = list.iter().find(|n| n.v == name.v) {
                bad.push(
                    Fault::new("E108", format!("two things are called \"{}\"", name.v))
                        .at(name.span.clone(), "second one")
                        .also(first.span.clone(), "first one")
                        .help("tubes, plates and bars share one list of names; rename one of them"),
                );
            }
        }
        list.push(name);
    }
    Names { list }
}

/// Reads one tube, plate or bar.
struct One<'r, 't, 'p> {
    place: &'r Place<'p>,
    parts: &'r mut Parts,
    names: &'r Names<'t>,
    notes: &'r mut Notes,
    index: usize,
}

impl One<'_, '_, '_> {
    fn raw(&self, section: Option<usize>, tab: &Tab<'_>, kind: Option<Kind>, bad: &mut Bad) -> Option<Raw> {
        let name = &self.names.list[self.index];
        let vented = tab.flag("vented", bad).unwrap_or(false);
        Some(Raw {
            name: name.v.to_string(),
            span: name.span.clone(),
            section: section?,
            vented,
            kind: kind?,
        })
    }

    fn section(&self, tab: &Tab<'_>, bad: &mut Bad) -> Option<usize> {
        let value = tab.need("section", "`section = \"…\"`, one of [sections]", bad)?;
        let said = text(value, "`section`", bad)?;
        self.parts.section(&said, bad)
    }

    fn axes(&self) -> Axes {
        Axes::of(self.place.up, self.place.forward)
    }

    fn tube(&mut self, tab: &Tab<'_>, bad: &mut Bad) -> Option<Raw> {
        let section = self.section(tab, bad);
        let bend_radius = tab.number_in("bend_radius", 1.0..=10_000.0, "mm", bad);
        let height = tab.get("height").and_then(|v| direction(v, "height", &self.axes(), bad));
        let roll_deg = tab.number_in("roll", -360.0..=360.0, "degrees", bad).map_or(0.0, |r| r.v);
        let run = tab.need("run", "`run = [\"a\", \"b\"]`, two or more places", bad);
        let run = run.and_then(|v| list(v, "`run`", bad)).and_then(|entries| {
            if entries.v.len() < 2 {
                bad.push(
                    Fault::new(
                        "E135",
                        format!("{} has {} in its run", tab.place, count(entries.v.len(), "place")),
                    )
                    .at(entries.span.clone(), "two or more wanted")
                    .help("a run goes from the tube's start to its end: `run = [\"a\", \"b\"]`"),
                );
                return None;
            }
            let last = entries.v.len() - 1;
            let stops: Vec<Option<Stop>> =
                entries.v.iter().enumerate().map(|(i, v)| self.stop(v, i == 0 || i == last, bad)).collect();
            let stops: Option<Vec<Stop>> = stops.into_iter().collect();
            Some(Kind::Run(Run { stops: stops?, bend_radius, height, roll_deg }))
        });
        self.raw(section, tab, run, bad)
    }

    fn stop(&self, value: &Val<'_>, end: bool, bad: &mut Bad) -> Option<Stop> {
        let span = value.span();
        let what = match value.get_ref() {
            DeValue::String(name) => {
                StopAt::Point(self.point(&At { v: name.as_ref(), span: span.clone() }, bad)?)
            }
            DeValue::Array(_) => StopAt::Literal(vector(value, "a place of a run", bad)?.v),
            DeValue::Table(t) => {
                let tab = Tab::open(t, span.clone(), "this place", ON, bad);
                if let (false, Some(slot)) = (end, tab.get("slot")) {
                    bad.push(
                        Fault::new("E113", "only the start or the end of a run can be slotted")
                            .at(slot.span(), "in the middle of the run"),
                    );
                }
                StopAt::On(self.on_place(&tab, bad)?)
            }
            _ => {
                bad.push(super::reader::wrong_type(
                    value,
                    "each place of a run",
                    "a point's name, [x, y, z] or { on = …, at = … }",
                ));
                return None;
            }
        };
        Some(Stop { span, what })
    }

    fn point(&self, said: &At<&str>, bad: &mut Bad) -> Option<usize> {
        let found = self.place.points.iter().position(|p| p.v.name == said.v);
        if found.is_none() && !self.place.broken.contains(&said.v) {
            let names = self.place.points.iter().map(|p| p.v.name.as_str());
            let names = names.chain(self.place.broken.iter().copied());
            bad.push(unknown("point", said, names, "[points]"));
        }
        found
    }

    /// `on`, `at`, `face`, `offset`, `slot` of a place on another tube.
    fn on_place(&self, tab: &Tab<'_>, bad: &mut Bad) -> Option<OnPlace> {
        let on = tab.need("on", "`on = \"…\"`, the tube it lies on", bad).and_then(|v| text(v, "`on`", bad));
        let on = on.and_then(|said| self.other(&said, bad));
        let at = tab.need("at", "`at = 500`, mm from that tube's start, or \"middle\"", bad);
        let at = at.and_then(|v| self.along1(v, "at", bad));
        let face = tab.get("face").map(|v| self.face(v, tab, bad));
        let offset = tab.number_in("offset", -5000.0..=5000.0, "mm", bad);
        if let (Some(offset), None) = (&offset, &face) {
            bad.push(
                Fault::new("E107", "an offset needs a face to lie in")
                    .at(offset.span.clone(), "across which face?")
                    .help("add `face = \"inner\"`, \"top\", \"left\" …"),
            );
        }
        let slot_mm = slot(tab, bad);
        let face = match face {
            Some(f) => Some(f?),
            None => None,
        };
        Some(OnPlace { on: on?, at: at?, face, offset_mm: offset.map_or(0.0, |o| o.v), slot_mm })
    }

    fn other(&self, said: &At<&str>, bad: &mut Bad) -> Option<usize> {
        let on = self.names.find(said, bad)?;
        if on == self.index {
            bad.push(
                Fault::new("E136", format!("\"{}\" is placed on itself", said.v))
                    .at(said.span.clone(), "itself"),
            );
            return None;
        }
        Some(on)
    }

    fn along1(&self, value: &Val<'_>, key: &str, bad: &mut Bad) -> Option<At<Along1>> {
        let span = value.span();
        let v = match value.get_ref() {
            DeValue::String(s) => match s.as_ref() {
                "middle" => Along1::Middle,
                "start" => Along1::Start,
                "end" => Along1::End,
                name => Along1::Point(self.point(&At { v: name, span: span.clone() }, bad)?),
            },
            _ => Along1::Mm(number(value, &format!("`{key}`"), bad)?.v),
        };
        Some(At { v, span })
    }

    fn face(&self, value: &Val<'_>, tab: &Tab<'_>, bad: &mut Bad) -> Option<At<Face>> {
        let span = value.span();
        if let DeValue::String(s) = value.get_ref()
            && let Some(axis) = Axes::file().word(s)
        {
            return Some(At { v: Face::Towards(axis), span });
        }
        let left = self.place.up.cross(self.place.forward);
        let v = match tab.word("face", &FACES, bad)? {
            "inner" => Face::Inner,
            "outer" => Face::Outer,
            "top" => Face::Towards(self.place.up),
            "bottom" => Face::Towards(-self.place.up),
            "left" => Face::Towards(left),
            "right" => Face::Towards(-left),
            "front" => Face::Towards(self.place.forward),
            _ => Face::Towards(-self.place.forward),
        };
        Some(At { v, span })
    }

    fn plate(&mut self, tab: &Tab<'_>, bad: &mut Bad) -> Option<Raw> {
        let size = tab.need("size", "`size = [120, 80]`, length along and width across, mm", bad);
        let size = size.and_then(|v| pair(v, "`size`", bad));
        let thickness = tab.need("thickness", "`thickness = 8`, mm", bad);
        let thickness = thickness.and(tab.number_in("thickness", 0.3..=200.0, "mm", bad));
        let material = match tab.text("material", bad) {
            Some(said) => self.parts.material(&said, bad),
            None => {
                let first = self.parts.first_material();
                if let Some(m) = first {
                    let name = self.parts.materials[m].name.clone();
                    self.notes.default("plate.material", name, "as the first section of the file");
                }
                first
            }
        };
        let on = match (tab.has("on"), tab.has("centre")) {
            (true, false) => Some(self.on_place(tab, bad)),
            (false, true) => None,
            (both, _) => {
                let fault = Fault::new("E113", format!("{} needs either `on` or `centre`", tab.place))
                    .at(tab.span.clone(), if both { "both are there" } else { "neither is there" });
                bad.push(fault.help(
                    "a plate on a tube: `on`, `at`, `face`; a plate in space: `centre`, `normal`, `along`",
                ));
                return None;
            }
        };
        if let (Some(Some(place)), false) = (&on, tab.has("face")) {
            bad.push(
                Fault::new("E107", format!("{} lacks `face`", tab.place))
                    .at(place.at.span.clone(), "on which face?")
                    .help("write `face = \"top\"`, \"inner\", \"left\" …"),
            );
            return None;
        }
        let centre = tab.vector("centre", bad).map(|c| c.v);
        let axes = self.axes();
        let normal = tab.get("normal").and_then(|v| direction(v, "normal", &axes, bad));
        let along = tab.get("along").and_then(|v| direction(v, "along", &axes, bad));
        if on.is_none() {
            tab.need("normal", "`normal = \"Z\"`, square to the plate", bad);
            tab.need("along", "`along = \"X\"`, the direction of its length", bad);
        } else if let (Some(_), Some(n)) = (&on, tab.get("normal")) {
            bad.push(
                Fault::new("E113", "a plate on a tube takes its normal from the face")
                    .at(n.span(), "not needed")
                    .help("remove `normal`"),
            );
        }
        let on = match on {
            Some(place) => Some(place?),
            None => {
                normal.as_ref()?;
                along.as_ref()?;
                None
            }
        };
        let ((length, width), thickness) = (size?, thickness?.v);
        if on.is_none() && centre.is_none() {
            return None;
        }
        let section = self.parts.plate_section(width, thickness, material?);
        let centre = centre.unwrap_or(DVec3::ZERO);
        let plate = Plate { on, centre, normal, along, length, thickness };
        self.raw(Some(section), tab, Some(Kind::Plate(plate)), bad)
    }

    fn along(&mut self, tab: &Tab<'_>, bad: &mut Bad) -> Option<Raw> {
        let section = self.section(tab, bad);
        let on = tab.need("on", "`on = \"…\"`, the tube it is welded along", bad);
        let on = on.and_then(|v| text(v, "`on`", bad)).and_then(|said| self.other(&said, bad));
        let mut end = |key: &'static str, or: Along1| match tab.get(key) {
            Some(v) => self.along1(v, key, bad),
            None => Some(At { v: or, span: tab.span.clone() }),
        };
        let (from, to) = (end("from", Along1::Start), end("to", Along1::End));
        for (key, word) in [("from", "start"), ("to", "end")] {
            if !tab.has(key) {
                let name = self.names.list[self.index].v;
                self.notes.default(
                    format!("along.{name}.{key}"),
                    word,
                    "the whole length of the tube it is on",
                );
            }
        }
        let face = tab.need("face", "`face = \"top\"`, \"inner\", \"left\" …", bad);
        let face = face.and_then(|v| self.face(v, tab, bad));
        let offset_mm = tab.number_in("offset", -5000.0..=5000.0, "mm", bad).map_or(0.0, |o| o.v);
        let on_edge = tab.flag("on_edge", bad).unwrap_or(false);
        let kind =
            (|| Some(Kind::Along(Along { on: on?, from: from?, to: to?, face: face?, offset_mm, on_edge })))(
            );
        self.raw(section, tab, kind, bad)
    }
}

fn pair(value: &Val<'_>, what: &str, bad: &mut Bad) -> Option<(f64, f64)> {
    let items = list(value, what, bad)?;
    if items.v.len() != 2 {
        bad.push(
            Fault::new("E106", format!("{what} needs two numbers, not {}", items.v.len()))
                .at(items.span, "two numbers wanted")
                .help("write [length, width] in mm"),
        );
        return None;
    }
    let n: Vec<At<f64>> = items.v.iter().filter_map(|v| number(v, what, bad)).collect();
    if n.len() != 2 {
        return None;
    }
    for n in &n {
        if !(3.0..=10_000.0).contains(&n.v) {
            bad.push(super::reader::out_of_range("size", n.v, n.span.clone(), &(3.0..=10_000.0), "mm"));
            return None;
        }
    }
    Some((n[0].v, n[1].v))
}

/// `slot`, which plates do not have.
fn slot(tab: &Tab<'_>, bad: &mut Bad) -> Option<f64> {
    if !tab.has("slot") {
        return None;
    }
    tab.number_in("slot", 0.5..=2000.0, "mm", bad).map(|s| s.v)
}

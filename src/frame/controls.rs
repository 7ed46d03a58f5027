//! `[[control]]`: the dimensions that must come out true.

use super::direction::{Axes, direction};
use super::iso13920::{Class, angle_deg, form_mm, length_mm};
use super::look::Look;
use super::measure::measure;
use super::read::Notes;
use super::reader::{At, Bad, Tab};
use super::tables::{count, tables};
use super::{Control, ControlKind, SetBy, Spot};
use crate::fault::Fault;
use glam::DVec3;
use toml::de::DeValue;

const CONTROL: &[&str] = &["name", "kind", "of", "direction", "tolerance", "set_by", "step", "limit"];
const KINDS: [&str; 10] = [
    "distance",
    "from-line",
    "from-plane",
    "angle",
    "parallel",
    "twist",
    "bow",
    "squareness",
    "difference",
    "level",
];

/// All controls of the file.
pub(super) fn read(top: &Tab<'_>, look: &Look<'_>, notes: &mut Notes, bad: &mut Bad) -> Vec<Control> {
    let mut controls: Vec<Control> = Vec::new();
    let mut names: Vec<At<&str>> = Vec::new();
    let tabs = tables(top, "control", CONTROL, bad);
    if tabs.is_empty() && !top.has("control") && !top.has("controls") {
        bad.push(
            Fault::new("W102", "the frame has no control: nothing is said to come out true")
                .help("add `[[control]]` with name, kind, of and tolerance for each dimension that matters"),
        );
    }
    for tab in tabs {
        let name = tab.name("`name = \"…\"`, as on the sheet", bad);
        if let Some(name) = name {
            same_name("control", &mut names, &name, bad);
            controls.extend(control(name.v, &tab, look, notes, bad));
        }
    }
    controls
}

/// Report a name that is taken, remember one that is not.
pub(super) fn same_name<'t>(what: &str, names: &mut Vec<At<&'t str>>, name: &At<&'t str>, bad: &mut Bad) {
    if let Some(first) = names.iter().find(|n| n.v == name.v) {
        bad.push(
            Fault::new("E108", format!("two {what}s are called \"{}\"", name.v))
                .at(name.span.clone(), "second one")
                .also(first.span.clone(), "first one")
                .help("rename one of them"),
        );
    }
    names.push(name.clone());
}

fn control(name: &str, tab: &Tab<'_>, look: &Look<'_>, notes: &mut Notes, bad: &mut Bad) -> Option<Control> {
    let before = bad.len();
    tab.need("kind", "`kind = \"distance\"`, \"bow\", \"angle\" …", bad);
    let kind_word = tab.word("kind", &KINDS, bad);
    tab.need("of", "`of = [\"a\", \"b\"]`, the places it is measured at", bad);
    let of = tab.texts("of", bad);
    let dir =
        tab.get("direction").and_then(|v| direction(v, "direction", &Axes::of(look.up, look.forward), bad));
    let kind = match (kind_word, of) {
        (Some(word), Some(of)) => kind(word, &of, dir.as_ref(), tab, look, notes, bad),
        _ => None,
    };
    let set_by = match tab.word("set_by", &["fixture", "cut", "none"], bad) {
        Some("cut") => SetBy::Cut,
        Some("none") => SetBy::None,
        Some(_) => SetBy::Fixture,
        None if kind_word == Some("bow") => {
            let why =
                "a straight tube springs back from any bow below yield; the order must keep it straight";
            notes.default("control.set_by of a bow", "none", why);
            SetBy::None
        }
        None => {
            notes.default("control.set_by", "fixture", "the usual way: shift the stops before tacking");
            SetBy::Fixture
        }
    };
    let (step, limit) =
        (tab.number_in("step", 0.0..=100.0, "", bad), tab.number_in("limit", 0.0..=100.0, "", bad));
    let kind = kind?;
    // Rounded to a millionth of a micrometre, so that 704 does not become 703.9999999999999.
    let nominal = (measure(&kind, look.tubes, look.up) * 1e9).round() / 1e9 + 0.0;
    let (tolerance, tolerance_from) = tolerance(&kind, nominal, tab, look, notes, bad)?;
    let angle = kind.unit() == "deg";
    let mut or = |key: &str, said: Option<At<f64>>, mm: f64, deg: f64, why: &str| {
        said.map_or_else(
            || {
                let (unit, value) = if angle { ("deg", deg) } else { ("mm", mm) };
                notes.default(format!("control.{key} ({unit})"), format!("{value}"), why);
                value
            },
            |n| n.v,
        )
    };
    let step = or("step", step, 0.5, 0.1, "what a stop can be shifted by on a shop fixture (assumption)");
    let limit = or("limit", limit, 20.0, 2.0, "more than this is no preset but another frame (assumption)");
    (bad.len() == before).then(|| Control {
        name: name.trim().to_string(),
        kind,
        tolerance,
        tolerance_from,
        set_by,
        step,
        limit,
        nominal,
    })
}

fn kind(
    word: &str,
    of: &[At<&str>],
    dir: Option<&At<DVec3>>,
    tab: &Tab<'_>,
    look: &Look<'_>,
    notes: &mut Notes,
    bad: &mut Bad,
) -> Option<ControlKind> {
    // Lines may be given as two places each or as whole tubes.
    let lines = matches!(word, "angle" | "parallel");
    let is_tube = |s: &At<&str>| look.tubes.iter().any(|t| t.name == s.v);
    let spots: Vec<Spot> =
        if (lines && of.len() == 2 || word == "bow" && of.len() == 1) && of.iter().all(is_tube) {
            let tubes = of.iter().filter_map(|s| look.tube(s, bad));
            let ends = |tube| [Spot { tube, s_mm: 0.0 }, Spot { tube, s_mm: look.tubes[tube].length_mm() }];
            tubes.flat_map(ends).collect()
        } else {
            of.iter().map(|s| look.spot(s, bad)).collect::<Option<Vec<_>>>()?
        };
    let (want, example) = match word {
        "distance" => (2, "of = [\"a\", \"b\"]: the two places"),
        "from-line" => (3, "of = [\"p\", \"a\", \"b\"]: the place, then two on the line"),
        "from-plane" => (4, "of = [\"p\", \"a\", \"b\", \"c\"]: the place, then three in the plane"),
        "bow" => (2, "of = [\"rail\"] or [\"rail@100\", \"rail@900\"]"),
        "angle" | "parallel" => (4, "of = [\"left\", \"right\"] (two tubes), or two places on each line"),
        "twist" => (4, "of = [\"a\", \"b\", \"c\", \"d\"]: the fourth against the plane of three"),
        "squareness" => (4, "of = [\"a\", \"b\", \"c\", \"d\"]: the corners in turn"),
        "difference" => (4, "of = [\"a\", \"b\", \"c\", \"d\"]: distance a to b less c to d"),
        _ => (4, "of = [\"a\", \"b\", \"c\", \"d\"]: height of a over b, against c over d"),
    };
    if spots.len() != want {
        bad.push(
            Fault::new("E151", format!("`{word}` needs {}, not {}", count(want, "place"), spots.len()))
                .at(tab.get("of").map_or(tab.span.clone(), |v| v.span()), format!("{want} wanted"))
                .help(format!("write {example}")),
        );
        return None;
    }
    let needs_direction = matches!(word, "from-line" | "bow");
    if let (false, Some(d)) = (needs_direction, dir) {
        bad.push(
            Fault::new("E113", format!("`{word}` has no direction"))
                .at(d.span.clone(), "not needed")
                .help("remove it; `direction` belongs to bow and from-line"),
        );
        return None;
    }
    let dir = || -> DVec3 { dir.map_or(look.up, |d| d.v) };
    // Only the part of the direction that is square to the line counts. Along the line nothing is
    // left; `measurable` reports that.
    let square_to = |d: DVec3, a: Spot, b: Spot| {
        let place = |s: Spot| look.tubes[s.tube].point_at(s.s_mm);
        let line = (place(b) - place(a)).normalize_or_zero();
        (d - line * d.dot(line)).try_normalize().filter(|_| d.dot(line).abs() < 0.995).unwrap_or(line)
    };
    if needs_direction && !tab.has("direction") {
        notes.default(
            "control.direction",
            "up",
            "bow and from-line are read up and down unless said otherwise",
        );
    }
    let s = &spots;
    let kind = match word {
        "distance" => ControlKind::Distance(s[0], s[1]),
        "from-line" => {
            ControlKind::FromLine { spot: s[0], line: [s[1], s[2]], dir: square_to(dir(), s[1], s[2]) }
        }
        "from-plane" => ControlKind::FromPlane { spot: s[0], plane: [s[1], s[2], s[3]] },
        "angle" => ControlKind::Angle([s[0], s[1]], [s[2], s[3]]),
        "parallel" => ControlKind::Parallel([s[0], s[1]], [s[2], s[3]]),
        "twist" => ControlKind::Twist([s[0], s[1], s[2], s[3]]),
        "squareness" => ControlKind::Squareness([s[0], s[2]], [s[1], s[3]]),
        "difference" => ControlKind::Squareness([s[0], s[1]], [s[2], s[3]]),
        "level" => ControlKind::Level([s[0], s[1]], [s[2], s[3]]),
        _ => {
            if s[0].tube != s[1].tube {
                bad.push(
                    Fault::new("E152", "a bow is measured along one tube")
                        .at(tab.get("of").map_or(tab.span.clone(), |v| v.span()), "two different tubes")
                        .help("write `of = [\"rail\"]`, or two places on the same tube"),
                );
                return None;
            }
            ControlKind::Bow {
                tube: s[0].tube,
                from_to: [s[0].s_mm, s[1].s_mm],
                dir: square_to(dir(), s[0], s[1]),
            }
        }
    };
    measurable(&kind, &spots, tab, look, bad)?;
    Some(kind)
}

/// Distances that are zero, planes through a line, directions along the line.
fn measurable(
    kind: &ControlKind,
    spots: &[Spot],
    tab: &Tab<'_>,
    look: &Look<'_>,
    bad: &mut Bad,
) -> Option<()> {
    let p: Vec<DVec3> = spots.iter().map(|s| look.tubes[s.tube].point_at(s.s_mm)).collect();
    let apart = |i: usize, j: usize| p[i].distance(p[j]) > 1.0;
    let plane = |i: usize, j: usize, k: usize| (p[j] - p[i]).cross(p[k] - p[i]).length() > 100.0;
    let across = |d: DVec3, i: usize, j: usize| {
        apart(i, j) && (d - (p[j] - p[i]).normalize() * d.dot((p[j] - p[i]).normalize())).length() > 0.1
    };
    let flat = |i: usize, j: usize| (p[j] - p[i]) - look.up * (p[j] - p[i]).dot(look.up);
    let askew = || flat(0, 1).cross(flat(2, 3)).length() > 0.02 * flat(0, 1).length() * flat(2, 3).length();
    let why = match kind {
        ControlKind::Level(..) if apart(0, 1) && apart(2, 3) && askew() => {
            "the two pairs do not run the same way, so tilting the frame would change it"
        }
        ControlKind::Distance(..) if !apart(0, 1) => "both places are the same",
        ControlKind::FromLine { .. } if !apart(1, 2) => "the line's two places are the same",
        ControlKind::FromLine { dir, .. } if !across(*dir, 1, 2) => "the direction runs along the line",
        ControlKind::FromPlane { .. } if !plane(1, 2, 3) => "the plane's three places lie in one line",
        ControlKind::Twist(..) if !plane(0, 1, 2) => "the first three places lie in one line",
        ControlKind::Bow { .. } if !apart(0, 1) => "both ends are the same place",
        ControlKind::Bow { dir, .. } if !across(*dir, 0, 1) => "the direction runs along the tube",
        ControlKind::Angle(..)
        | ControlKind::Parallel(..)
        | ControlKind::Squareness(..)
        | ControlKind::Level(..)
            if !apart(0, 1) || !apart(2, 3) =>
        {
            "two places of one line are the same"
        }
        _ => return Some(()),
    };
    bad.push(
        Fault::new("E152", format!("{} measures nothing: {why}", tab.place))
            .at(tab.get("of").map_or(tab.span.clone(), |v| v.span()), "these places")
            .help("a place is a point on a tube, \"tube:start\", \"tube:end\" or \"tube@350\""),
    );
    None
}

fn tolerance(
    kind: &ControlKind,
    nominal: f64,
    tab: &Tab<'_>,
    look: &Look<'_>,
    notes: &mut Notes,
    bad: &mut Bad,
) -> Option<(f64, String)> {
    let at = |s: &Spot| look.tubes[s.tube].point_at(s.s_mm);
    let far = |s: &[Spot; 2]| at(&s[0]).distance(at(&s[1]));
    let widest = |s: &[Spot]| {
        let pairs = s.iter().flat_map(|a| s.iter().map(move |b| at(a).distance(at(b))));
        pairs.fold(0.0, f64::max)
    };
    // The length to which a class applies.
    let length = match kind {
        ControlKind::Distance(..) => nominal,
        ControlKind::FromLine { line, .. } => far(line),
        ControlKind::FromPlane { plane, .. } => widest(plane),
        ControlKind::Angle(a, b) => far(a).min(far(b)),
        ControlKind::Parallel(a, b) | ControlKind::Squareness(a, b) | ControlKind::Level(a, b) => {
            far(a).max(far(b))
        }
        ControlKind::Twist(s) => widest(s),
        ControlKind::Bow { from_to, .. } => (from_to[1] - from_to[0]).abs(),
    };
    let form =
        !matches!(kind, ControlKind::Distance(..) | ControlKind::Angle(..) | ControlKind::Squareness(..));
    let letter = match tab.get("tolerance").map(|v| (v, v.get_ref())) {
        None => {
            let letter = if form { 'F' } else { 'B' };
            notes.default(
                if form { "control.tolerance (form)" } else { "control.tolerance (length, angle)" },
                letter,
                "ISO 13920 class BF, the usual one for welded frames",
            );
            letter
        }
        Some((_, DeValue::String(s))) if s.len() == 1 => s.chars().next()?.to_ascii_uppercase(),
        Some((value, DeValue::String(s))) => {
            bad.push(
                Fault::new("E112", format!("`tolerance` cannot be \"{s}\""))
                    .at(value.span(), "a number or a class wanted")
                    .help("write mm (or degrees) as a number, or one letter A to H of ISO 13920"),
            );
            return None;
        }
        Some(_) => {
            let unit = kind.unit();
            let n = tab.number_in("tolerance", 0.001..=1000.0, unit, bad)?;
            return Some((n.v, "given".to_string()));
        }
    };
    let class = Class::from_letter(letter);
    let found = match (kind, class) {
        (_, None) => None,
        (ControlKind::Angle(..), Some(c)) => angle_deg(c, length),
        (_, Some(c)) if form => form_mm(c, length),
        (_, Some(c)) => length_mm(c, length),
    };
    if let Some(t) = found {
        return Some((t, format!("ISO 13920 class {letter}, {length:.0} mm")));
    }
    let wanted = if form { "E to H" } else { "A to D" };
    bad.push(
        Fault::new("E153", format!("class {letter} does not fit this kind of control"))
            .at(tab.get("tolerance").map_or(tab.span.clone(), |v| v.span()), format!("{wanted} wanted"))
            .help(
                "ISO 13920: A to D for lengths and angles, E to H for straightness, flatness and parallelism",
            ),
    );
    None
}

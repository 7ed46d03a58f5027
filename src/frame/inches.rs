//! A frame file written in inches: its lengths become mm before anything else is read.

use super::reader::Val;
use crate::fault::Fault;
use crate::units::{MM_PER_INCH, Units};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// What a value of the file is.
#[derive(Debug, Clone, Copy, PartialEq)]
enum What {
    /// A length.
    Length,
    /// A travel speed: in/min in a file of inches.
    Speed,
    /// A place as text, `rail@12`.
    Spot,
}

/// What `[frame] units` says, as far as it can be told before the file is read.
pub(super) fn said(tree: &DeTable<'_>) -> Units {
    let said = tree.get("frame").and_then(|f| f.get_ref().as_table()).and_then(|f| f.get("units"));
    match said.and_then(|u| u.get_ref().as_str()) {
        Some(word) if word.eq_ignore_ascii_case("inch") => Units::Inch,
        _ => Units::Mm,
    }
}

/// The values of the lengths of a file in inches, in mm, as they are to be written; none if it is in mm.
pub(super) fn in_mm(tree: &mut DeTable<'_>) -> Vec<Option<String>> {
    let mut texts = Vec::new();
    if said(tree) == Units::Inch {
        lengths(tree, &mut |what, value| texts.push(text(what, value)));
    }
    texts
}

/// Puts these values in place of the file's own.
pub(super) fn put<'t>(tree: &mut DeTable<'t>, texts: &'t [Option<String>]) {
    let mut next = texts.iter();
    if texts.is_empty() {
        return;
    }
    lengths(tree, &mut |_, value| {
        let Some(Some(text)) = next.next() else { return };
        if let Ok(made) = DeValue::parse(text) {
            *value.get_mut() = made.into_inner();
        }
    });
}

/// Faults as a person with a tape in inches reads them.
pub(super) fn faults(faults: &mut [Fault], units: Units) {
    if units == Units::Mm {
        return;
    }
    for f in faults {
        let say = |t: &str| units.sentence(t).replace(" in mm", " in inches");
        f.message = say(&f.message);
        f.label = say(&f.label);
        f.help = f.help.as_deref().map(say);
        if let Some((_, label)) = &mut f.also {
            *label = say(label);
        }
        // A number to write instead is in mm; here it would mislead.
        f.replace = f.replace.take().filter(|r| r.parse::<f64>().is_err());
    }
}

/// A value in mm as TOML, or none if it is no length (then the reader says what is wrong with it).
fn text(what: What, value: &Val<'_>) -> Option<String> {
    let number = |v: &DeValue<'_>| match v {
        DeValue::Integer(i) => i64::from_str_radix(i.as_str(), i.radix()).ok().map(|n| n as f64),
        DeValue::Float(f) => f.as_str().parse::<f64>().ok(),
        _ => None,
    };
    let bare = |x: f64| x.is_finite().then(|| format!("{x:?}"));
    match (what, value.get_ref()) {
        (What::Speed, v) => bare(number(v)? * MM_PER_INCH / 60.0),
        (What::Spot, DeValue::String(s)) => {
            let (tube, at) = s.split_once('@')?;
            Some(serde_json::to_string(&format!("{tube}@{}", Units::Inch.read(at)?)).ok()?)
        }
        (What::Spot, _) => None,
        // A word such as "start" is a place; a text with a fraction or a unit is a length.
        (What::Length, DeValue::String(s)) => {
            let length =
                s.contains(['/', '"', '\'']) || s.trim_end().ends_with("mm") || s.trim_end().ends_with("in");
            if length { Units::Inch.read(s).and_then(bare) } else { None }
        }
        (What::Length, v) => bare(number(v)? * MM_PER_INCH),
    }
}

type Each<'e, 't> = &'e mut dyn FnMut(What, &mut Spanned<DeValue<'t>>);

/// Every length of the file, always in the same order.
fn lengths<'t>(tree: &mut DeTable<'t>, each: Each<'_, 't>) {
    for (key, value) in tree.iter_mut() {
        let value = value.get_mut();
        match key.get_ref().as_ref() {
            "frame" => inside(value, "symmetry", &mut |v| listed(v, "point", each)),
            "points" => members(value, &mut |v| all(v, each)),
            "sections" => members(value, &mut |section| {
                if let DeValue::Table(t) = section {
                    for (kind, shape) in t.iter_mut() {
                        if kind.get_ref() != "material" {
                            members_spanned(shape.get_mut(), &mut |v| each(What::Length, v));
                        }
                    }
                }
            }),
            "tube" | "tubes" => members(value, &mut |tube| {
                keys(tube, &["bend_radius"], What::Length, each);
                inside(tube, "run", &mut |run| {
                    if let DeValue::Array(places) = run {
                        for place in places.iter_mut() {
                            all(place.get_mut(), each);
                            keys(place.get_mut(), &["at", "offset", "slot"], What::Length, each);
                        }
                    }
                });
            }),
            "plate" | "plates" => members(value, &mut |plate| {
                keys(plate, &["at", "offset", "slot", "thickness"], What::Length, each);
                listed(plate, "size", each);
                listed(plate, "centre", each);
            }),
            "along" => members(value, &mut |bar| {
                keys(bar, &["from", "to", "offset", "at"], What::Length, each);
            }),
            "clamp" | "clamps" => members(value, &mut |clamp| keys(clamp, &["at"], What::Length, each)),
            "control" | "controls" => members(value, &mut |control| {
                let angle = matches!(control, DeValue::Table(t)
                    if t.get("kind").and_then(|k| k.get_ref().as_str()) == Some("angle"));
                if !angle {
                    keys(control, &["tolerance", "step", "limit"], What::Length, each);
                }
                inside(control, "of", &mut |of| {
                    if let DeValue::Array(places) = of {
                        places.iter_mut().for_each(|p| each(What::Spot, p));
                    }
                });
            }),
            "joint" => members(value, &mut |joint| keys(joint, &["gap"], What::Length, each)),
            "procedure" => procedure(value, each),
            "procedure_for" => members(value, &mut |p| procedure(p, each)),
            "rules" => {
                let names = ["distance", "max_segment", "min_segment", "welder_distance"];
                keys(value, &names, What::Length, each);
            }
            "shop" => keys(value, &["fit_up"], What::Length, each),
            _ => {}
        }
    }
}

fn procedure<'t>(value: &mut DeValue<'t>, each: Each<'_, 't>) {
    keys(value, &["leg"], What::Length, each);
    keys(value, &["speed"], What::Speed, each);
}

/// The members of a list or of a table.
fn members<'t>(value: &mut DeValue<'t>, each: &mut dyn FnMut(&mut DeValue<'t>)) {
    members_spanned(value, &mut |v| each(v.get_mut()));
}

fn members_spanned<'t>(value: &mut DeValue<'t>, each: &mut dyn FnMut(&mut Spanned<DeValue<'t>>)) {
    match value {
        DeValue::Array(items) => items.iter_mut().for_each(each),
        DeValue::Table(t) => t.iter_mut().for_each(|(_, v)| each(v)),
        _ => {}
    }
}

/// The value of a key, if the key is there.
fn inside<'t>(value: &mut DeValue<'t>, key: &str, each: &mut dyn FnMut(&mut DeValue<'t>)) {
    if let DeValue::Table(t) = value {
        t.iter_mut().filter(|(k, _)| k.get_ref() == key).for_each(|(_, v)| each(v.get_mut()));
    }
}

fn keys<'t>(value: &mut DeValue<'t>, names: &[&str], what: What, each: Each<'_, 't>) {
    if let DeValue::Table(t) = value {
        t.iter_mut().filter(|(k, _)| names.contains(&k.get_ref().as_ref())).for_each(|(_, v)| each(what, v));
    }
}

/// A list of lengths under a key.
fn listed<'t>(value: &mut DeValue<'t>, key: &str, each: Each<'_, 't>) {
    inside(value, key, &mut |v| all(v, each));
}

/// A list of lengths.
fn all<'t>(value: &mut DeValue<'t>, each: Each<'_, 't>) {
    if let DeValue::Array(items) = value {
        items.iter_mut().for_each(|v| each(What::Length, v));
    }
}

#[cfg(test)]
mod tests {
    use crate::frame::{Frame, read};
    use crate::units::Units;

    fn frame(text: &str) -> Frame {
        read(text).unwrap_or_else(|f| panic!("{f:#?}")).value
    }

    /// One frame in mm and the same in inches, every kind of length in it.
    #[test]
    fn a_file_in_inches_is_the_same_frame_as_its_twin_in_mm() {
        let twin = |unit: &str, n: &dyn Fn(f64) -> String, speed: &str| {
            let n = |x: f64| n(x);
            format!(
                "holdtrue = 1\n[frame]\nname = \"twin\"\n{unit}symmetry = {{ point = [{}, {}, 0], normal = \"Y\" }}\n\
                 [sections]\nmain = {{ square = {{ side = {}, wall = {}, corner = {} }}, material = \"S235\" }}\n\
                 light = {{ round = {{ od = {}, wall = {} }}, material = \"S235\" }}\n\
                 bar = {{ flat = {{ width = {}, thickness = {} }}, material = \"S235\" }}\n\
                 [points]\na = [0, 0, 0]\nb = [{}, 0, 0]\n\
                 [tubes]\nrail = {{ section = \"main\", run = [\"a\", \"b\"] }}\n\
                 bent = {{ section = \"light\", run = [{{ on = \"rail\", at = {}, face = \"top\", offset = 0 }}, [{}, 0, {}], [{}, 0, {}]], bend_radius = {} }}\n\
                 [[plate]]\nname = \"pad\"\non = \"rail\"\nat = {}\nface = \"top\"\nsize = [{}, {}]\nthickness = {}\n\
                 [[along]]\nname = \"strip\"\nsection = \"bar\"\non = \"rail\"\nfrom = {}\nto = {}\nface = \"bottom\"\n\
                 [clamps]\nc = {{ tube = \"rail\", at = {}, holds = \"XYZ\" }}\n\
                 [controls]\nd = {{ kind = \"distance\", of = [\"rail@{}\", \"rail:end\"], tolerance = {}, step = {}, limit = {} }}\n\
                 w = {{ kind = \"angle\", of = [\"rail\", \"bent\"], tolerance = 0.5 }}\n\
                 [procedure]\nprocess = 135\nleg = {}\nspeed = {speed}\n\
                 [rules]\ndistance = {}\nmax_segment = {}\nmin_segment = {}\nwelder_distance = {}\n[shop]\nfit_up = {}\n",
                n(0.0),
                n(0.0),
                n(50.8),
                n(3.175),
                n(6.35),
                n(38.1),
                n(3.175),
                n(38.1),
                n(6.35),
                n(1270.0),
                n(635.0),
                n(635.0),
                n(254.0),
                n(1016.0),
                n(508.0),
                n(101.6),
                n(1143.0),
                n(101.6),
                n(50.8),
                n(6.35),
                n(127.0),
                n(508.0),
                n(12.7),
                if unit.is_empty() { "25.4" } else { "1" },
                n(1.5875),
                n(0.79375),
                n(12.7),
                n(3.175),
                n(152.4),
                n(38.1),
                n(12.7),
                n(508.0),
                n(1.5875)
            )
        };
        let mm = twin("", &|x| format!("{x}"), "5.08");
        let decimal = twin("units = \"inch\"\n", &|x| format!("{}", x / 25.4), "12");
        let tape = |x: f64| match x == 0.0 {
            true => "0".into(),
            false => format!("'{}'", crate::units::tape(x)),
        };
        let tape = twin("units = \"inch\"\n", &tape, "12.0");
        let shown = |text: &str| {
            let mut f = frame(text);
            assert_eq!(f.units, if text == mm { Units::Mm } else { Units::Inch });
            f.units = Units::Mm;
            f.defaults.clear();
            f.tubes.iter_mut().for_each(|t| t.span = 0..0);
            format!("{f:#?}")
        };
        let round = |text: String| -> Vec<String> {
            let number = |w: &str| w.trim_end_matches(',').parse::<f64>().map(|x| format!("{x:.9}"));
            text.split_whitespace().map(|w| number(w).unwrap_or(w.to_string())).collect()
        };
        let want = round(shown(&mm));
        for text in [decimal, tape] {
            let got = round(shown(&text));
            let other = want.iter().zip(&got).position(|(a, b)| {
                a.replace("-0.000000000", "0.000000000") != b.replace("-0.000000000", "0.000000000")
            });
            assert!(
                other.is_none() && want.len() == got.len(),
                "{:?} in\n{text}",
                other.map(|i| (&want[i - 4..=i], &got[i - 4..=i]))
            );
        }
    }

    #[test]
    fn faults_of_a_file_in_inches_speak_inches() {
        let text = "holdtrue = 1\n[frame]\nname = \"x\"\nunits = \"inch\"\n[sections]\nmain = { square = { side = 2, wall = 0.125 }, material = \"S235\" }\n[tubes]\na = { section = \"main\", run = [[0, 0, 0], [20, 0, 0]] }\n[controls]\nd = { kind = \"distance\", of = [\"a@25\", \"a:end\"] }\n";
        let said = format!("{:?}", read(text).expect_err("25 is past the end"));
        assert!(said.contains("25\\\" is not on") && said.contains("it is 20\\\" long"), "{said}");
        assert!(!said.contains(" mm"), "{said}");
        let word = text.replace("\"inch\"", "\"feet\"");
        assert!(format!("{:?}", read(&word)).contains("E112"));
    }
}

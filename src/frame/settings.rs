//! `[[setup]]`, `[rules]`, `[shop]`, `[pull]`, `[order]`: how the shop works.

use super::controls::same_name;
use super::direction::{Axes, direction};
use super::look::Look;
use super::read::Notes;
use super::reader::{At, Bad, Tab, list, number, table, text};
use super::tables::tables;
use super::{HouseRules, OrderWishes, PullSettings, Setup, Shop};
use crate::fault::Fault;

/// More ways to lie than any frame is turned through; what is worked out for sets of them keeps each as a bit.
const MOST_SETUPS: usize = 64;

/// Ways the frame lies on the bench. Never empty.
pub(super) fn setups(top: &Tab<'_>, look: &Look<'_>, notes: &mut Notes, bad: &mut Bad) -> Vec<Setup> {
    let mut setups = Vec::new();
    let mut names: Vec<At<&str>> = Vec::new();
    for tab in tables(top, "setup", &["name", "up"], bad) {
        let name = tab.name("`name = \"upside down\"`", bad);
        let up = tab.need("up", "`up = \"-Z\"`, the side of the frame that looks up then", bad);
        let up = up.and_then(|v| direction(v, "up", &Axes::of(look.up, look.forward), bad));
        if let (Some(name), Some(up)) = (name, up) {
            same_name("setup", &mut names, &name, bad);
            if setups.len() == MOST_SETUPS {
                bad.push(
                    Fault::new("E164", format!("more than {MOST_SETUPS} setups"))
                        .at(name.span.clone(), "one too many")
                        .help("one for each way in which the frame lies on the bench: clamps can be put on and off within one"),
                );
                break;
            }
            setups.push(Setup { name: name.v.trim().to_string(), up: up.v });
        }
    }
    if setups.is_empty() {
        notes.default("setup", "one, right way up", "the frame is not turned over unless setups are given");
        setups.push(Setup { name: "right way up".to_string(), up: look.up });
    }
    setups
}

/// A section `[name]` of settings, each with its default.
struct Settings<'t, 'n> {
    tab: Option<Tab<'t>>,
    name: &'static str,
    notes: &'n mut Notes,
}

impl<'t, 'n> Settings<'t, 'n> {
    fn open(
        top: &Tab<'t>,
        name: &'static str,
        keys: &'static [&'static str],
        notes: &'n mut Notes,
        bad: &mut Bad,
    ) -> Self {
        let tab = top.get(name).and_then(|value| {
            let t = table(value, &format!("`{name}`"), bad)?;
            Some(Tab::open(t, top.key_span(name), format!("[{name}]"), keys, bad))
        });
        Settings { tab, name, notes }
    }

    fn number(
        &mut self,
        key: &'static str,
        or: f64,
        range: std::ops::RangeInclusive<f64>,
        unit: &str,
        why: &str,
        bad: &mut Bad,
    ) -> f64 {
        let said = self.tab.as_ref().and_then(|t| t.number_in(key, range, unit, bad));
        said.map_or_else(
            || {
                let unit = if unit.is_empty() { String::new() } else { format!(" {unit}") };
                self.notes.default(format!("{}.{key}", self.name), format!("{or}{unit}"), why);
                or
            },
            |n| n.v,
        )
    }

    fn whole(
        &mut self,
        key: &'static str,
        or: usize,
        range: std::ops::RangeInclusive<f64>,
        why: &str,
        bad: &mut Bad,
    ) -> usize {
        let said = self.tab.as_ref().and_then(|t| t.whole_in(key, range, "", bad));
        said.unwrap_or_else(|| {
            self.notes.default(format!("{}.{key}", self.name), format!("{or}"), why);
            or
        })
    }

    fn flag(&mut self, key: &'static str, or: bool, why: &str, bad: &mut Bad) -> bool {
        self.tab.as_ref().and_then(|t| t.flag(key, bad)).unwrap_or_else(|| {
            self.notes.default(format!("{}.{key}", self.name), format!("{or}"), why);
            or
        })
    }
}

const RULES: &[&str] = &[
    "spacing",
    "distance",
    "opposite",
    "balance",
    "max_segment",
    "min_segment",
    "overhead",
    "welder_distance",
];

/// `[rules]`.
pub(super) fn rules(top: &Tab<'_>, notes: &mut Notes, bad: &mut Bad) -> HouseRules {
    let mut s = Settings::open(top, "rules", RULES, notes, bad);
    let rules = HouseRules {
        spacing: s.whole(
            "spacing",
            2,
            0.0..=50.0,
            "other steps before the same joint again; common practice, no source",
            bad,
        ),
        distance_mm: s.number(
            "distance",
            150.0,
            0.0..=10_000.0,
            "mm",
            "steel between one pass and the next; common practice, no source",
            bad,
        ),
        opposite: s.flag(
            "opposite",
            true,
            "the opposite segment before any other of the seam; common practice, no source",
            bad,
        ),
        balance: s.flag(
            "balance",
            true,
            "heat of left and right kept level; common practice, no source",
            bad,
        ),
        max_segment_mm: s.number(
            "max_segment",
            40.0,
            6.0..=500.0,
            "mm",
            "short passes keep heat and pull small; assumption",
            bad,
        ),
        min_segment_mm: s.number(
            "min_segment",
            15.0,
            3.0..=200.0,
            "mm",
            "shorter ones are mostly start and stop; assumption",
            bad,
        ),
        overhead: s.flag(
            "overhead",
            false,
            "no PD or PE while another setup reaches the seam; true allows them",
            bad,
        ),
        welder_distance_mm: s.number(
            "welder_distance",
            500.0,
            0.0..=10_000.0,
            "mm",
            "two people do not weld within arm's reach of each other; assumption",
            bad,
        ),
    };
    if rules.min_segment_mm * 2.0 > rules.max_segment_mm {
        let at = s
            .tab
            .as_ref()
            .map_or(0..0, |t| t.key_span(if t.has("min_segment") { "min_segment" } else { "max_segment" }));
        bad.push(
            Fault::new("E111", "`max_segment` must be at least twice `min_segment`")
                .at(at, format!("{} against {} mm", rules.max_segment_mm, rules.min_segment_mm))
                .help("otherwise some lengths can be cut into no number of segments"),
        );
    }
    rules
}

const SHOP: &[&str] = &["welders", "ambient", "move", "clean", "turn", "loss", "fit_up"];

/// `[shop]`.
pub(super) fn shop(top: &Tab<'_>, notes: &mut Notes, bad: &mut Bad) -> Shop {
    let mut s = Settings::open(top, "shop", SHOP, notes, bad);
    Shop {
        welders: s.whole("welders", 1, 1.0..=4.0, "one person", bad),
        ambient_c: s.number("ambient", 20.0, -20.0..=50.0, "degrees C", "a usual shop", bad),
        move_s: s.number("move", 20.0, 0.0..=3600.0, "s", "to move to another joint; assumption", bad),
        clean_s: s.number(
            "clean",
            30.0,
            0.0..=3600.0,
            "s",
            "to brush or chip a bead before the next layer; assumption",
            bad,
        ),
        turn_min: s.number(
            "turn",
            5.0,
            0.0..=480.0,
            "min",
            "to unclamp, turn and clamp the frame; assumption",
            bad,
        ),
        loss_w_m2k: s
            .tab
            .as_ref()
            .and_then(|t| t.number_in("loss", 0.0..=500.0, "W/(m2 K)", bad))
            .map(|n| n.v),
        fit_up_mm: s.number(
            "fit_up",
            0.5,
            0.0..=20.0,
            "mm",
            "deviation as tacked if it is not measured; assumption",
            bad,
        ),
    }
}

const PULL: &[&str] = &["c_t", "c_l", "carrier_share", "common_factor", "kind_factors", "scatter", "lean"];

/// `[pull]`.
pub(super) fn pull(top: &Tab<'_>, notes: &mut Notes, bad: &mut Bad) -> PullSettings {
    let mut s = Settings::open(top, "pull", PULL, notes, bad);
    let c_t = s.number(
        "c_t",
        0.42,
        0.0..=1.0,
        "",
        "across the seam; chosen within the range fitted to finite-element runs of a T-joint (0.14 to 0.17 mm at 210 J/mm, walls 2.0 and 1.6 mm); overshoots their sizes by about 40 %",
        bad,
    );
    let c_l = s.number("c_l", 0.335, 0.0..=1.0, "", "along the seam; from the classical tendon force", bad);
    let carrier_share = s.number(
        "carrier_share",
        0.5,
        0.0..=1.0,
        "",
        "share of the heat in the carrier's wall; assumption",
        bad,
    );
    let common_factor =
        s.number("common_factor", 1.0, 0.05..=10.0, "", "the shop has not calibrated it yet", bad);
    let lean_deg = s.number(
        "lean",
        0.1,
        0.0..=5.0,
        "degrees",
        "lean of each branch that the model leaves open (standard deviation)",
        bad,
    );
    let mut scatter = [0.3, 0.2, 0.15];
    match s.tab.as_ref().and_then(|t| t.list("scatter", bad)) {
        Some(items) if items.v.len() == 3 => {
            for (to, value) in scatter.iter_mut().zip(items.v) {
                if let Some(n) = number(value, "`scatter`", bad) {
                    if (0.0..=2.0).contains(&n.v) {
                        *to = n.v;
                    } else {
                        bad.push(super::reader::out_of_range("scatter", n.v, n.span, &(0.0..=2.0), ""));
                    }
                }
            }
        }
        Some(items) => bad.push(
            Fault::new("E106", format!("`scatter` needs three numbers, not {}", items.v.len()))
                .at(items.span, "three wanted")
                .help("write [common, joint, pass] as fractions, such as [0.3, 0.2, 0.15]"),
        ),
        None => s.notes.default(
            "pull.scatter",
            "[0.3, 0.2, 0.15]",
            "common, joint, pass (standard deviations); assumption until the shop has calibrated",
        ),
    }
    let kind_factors = kind_factors(&s, bad);
    let joint_factors = vec![];
    PullSettings { c_t, c_l, carrier_share, common_factor, kind_factors, joint_factors, scatter, lean_deg }
}

/// Kinds of seam, as written in `[pull] kind_factors`.
const SEAM_KINDS: [&str; 9] =
    ["saddle", "square-on-round", "flat-faced", "butt", "mitre", "lap", "pad", "slot", "along"];

fn kind_factors(s: &Settings<'_, '_>, bad: &mut Bad) -> Vec<(String, f64)> {
    let Some(value) = s.tab.as_ref().and_then(|t| t.get("kind_factors")) else { return Vec::new() };
    let Some(t) = table(value, "`kind_factors`", bad) else { return Vec::new() };
    let tab = Tab::open(t, value.span(), "`kind_factors`", &SEAM_KINDS, bad);
    let keys = SEAM_KINDS.iter().filter(|k| tab.has(k));
    keys.filter_map(|k| Some((k.to_string(), tab.number_in(k, 0.05..=10.0, "", bad)?.v))).collect()
}

/// `[order]`: names of passes, seams and joints are resolved when these exist.
pub(super) fn order(top: &Tab<'_>, bad: &mut Bad) -> OrderWishes {
    let Some(value) = top.get("order") else { return OrderWishes::default() };
    let Some(t) = table(value, "`order`", bad) else { return OrderWishes::default() };
    let tab = Tab::open(t, top.key_span("order"), "[order]", &["first", "last", "apart", "by_hand"], bad);
    let mut names = |key: &'static str| -> Vec<String> {
        tab.texts(key, bad).unwrap_or_default().into_iter().map(|s| s.v.to_string()).collect()
    };
    let (first, last, by_hand) = (names("first"), names("last"), names("by_hand"));
    let mut apart = Vec::new();
    for pair in tab.list("apart", bad).map_or(Vec::new(), |l| l.v) {
        let Some(items) = list(pair, "each entry of `apart`", bad) else { continue };
        let two: Vec<_> = items.v.iter().filter_map(|v| text(v, "a joint in `apart`", bad)).collect();
        match two.as_slice() {
            [a, b] => apart.push((a.v.to_string(), b.v.to_string())),
            _ if items.v.len() == 2 => {}
            _ => bad.push(
                Fault::new("E106", format!("each entry of `apart` needs two joints, not {}", items.v.len()))
                    .at(items.span, "two wanted")
                    .help("write `apart = [[\"J1\", \"J2\"]]`"),
            ),
        }
    }
    OrderWishes { first, last, apart, by_hand }
}

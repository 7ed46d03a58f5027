//! The safety texts of `safety.md`, and which of them a frame needs.
//!
//! The file in the package's top folder is embedded word for word, so that what stands on the sheet
//! and what stands in the file cannot drift apart.

use std::sync::LazyLock;

/// One hazard with what to do about it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Caution {
    /// Heading in `safety.md`.
    pub heading: String,
    /// Short sentences, in the order of the file.
    pub lines: Vec<String>,
    /// True if this frame brings it, false if all welding does.
    pub own: bool,
}

/// What is known of the frame and the work, from which the cautions follow.
///
/// There is no `Default`: whoever fills it must think about each line.
#[derive(Debug, Clone, PartialEq)]
pub struct SafetyFacts {
    /// Names of the tubes that welding closes to the outside.
    pub sealed: Vec<String>,
    /// Zinc on the metal.
    pub galvanized: bool,
    /// Paint or any other coating on the metal.
    pub coated: bool,
    /// Austenitic stainless steel is in it.
    pub stainless: bool,
    /// Chromium-molybdenum tube (25CrMo4, 4130) is in it.
    pub chrome_moly: bool,
    /// Aluminium is in it.
    pub aluminium: bool,
    /// Highest preheat that any seam asks for, °C.
    pub preheat_c: Option<f64>,
    /// The fixture has clamps.
    pub clamps: bool,
    /// Largest predicted force that a clamp lets go, N, and the clamp's name.
    pub spring_force: Option<(f64, String)>,
    /// The frame is turned over while it is welded.
    pub turns: bool,
    /// More than one welder at work.
    pub several_welders: bool,
    /// People ride it, stand on it, lift with it or work under it.
    pub carries_people: bool,
}

/// So many sealed tubes are named in the caution; each has its own line of work that opens its vent.
const NAMED: usize = 40;

/// Heading of the part that no sheet may go without.
const DEFERRAL: &str = "Who may decide";

/// Each heading with the test that tells whether it belongs to a frame, in the order in which they
/// are printed: what this frame brings with it first, then what all welding brings.
///
/// `None`: whatever the frame is.
type Applies = Option<fn(&SafetyFacts) -> bool>;
const USES: &[(&str, Applies)] = &[
    ("People depend on it", Some(|f| f.carries_people)),
    ("Sealed tubes", Some(|f| !f.sealed.is_empty())),
    ("Zinc", Some(|f| f.galvanized)),
    ("Paint and coatings", Some(|f| f.coated)),
    ("Chromium VI", Some(|f| f.stainless || f.chrome_moly)),
    ("Aluminium", Some(|f| f.aluminium)),
    ("Hydrogen cracking and preheat", Some(|f| f.preheat_c.is_some() || f.chrome_moly)),
    ("Clamps", Some(|f| f.clamps)),
    ("Lifting and turning", None),
    ("Two welders", Some(|f| f.several_welders)),
    ("Before you start", None),
    ("Cracked tacks", None),
    ("Eyes", None),
    ("Skin", None),
    ("Fumes", None),
    ("Air", None),
    ("Fire", None),
    ("Electric shock", None),
    ("Compressed gas", None),
    ("Batteries and electronics", None),
    ("Fixture and bench", None),
];

/// The cautions that a frame needs, the frame's own hazards first, with its own names and numbers
/// written into them.
pub fn cautions(facts: &SafetyFacts) -> Vec<Caution> {
    USES.iter()
        .filter(|(_, applies)| applies.is_none_or(|applies| applies(facts)))
        .map(|(heading, applies)| {
            let mut caution = of_heading(heading).clone();
            caution.own = applies.is_some();
            if let Some(line) = own_line(heading, facts) {
                caution.lines.insert(0, line);
                caution.own = true;
            }
            caution
        })
        .collect()
}

/// The deferral to qualified welders, qualified procedures, inspection and local codes.
pub fn deferral() -> Caution {
    of_heading(DEFERRAL).clone()
}

/// The deferral in one line, for the foot of each page.
pub const DEFERRAL_LINE: &str =
    "Computed, not a qualified procedure. Qualified welder, procedure, inspection and local codes decide.";

/// What is special about this frame under a heading.
fn own_line(heading: &str, facts: &SafetyFacts) -> Option<String> {
    match heading {
        "Sealed tubes" => {
            let all = &facts.sealed;
            let named = all[..all.len().min(NAMED)].join(", ");
            let more = match all.len().saturating_sub(NAMED) {
                0 => String::new(),
                n => format!(" and {n} more, every one that is closed at both ends"),
            };
            Some(format!("In this frame welding seals: {named}{more}. Vent each of them."))
        }
        "Hydrogen cracking and preheat" => {
            let t = facts.preheat_c?;
            Some(format!(
                "Estimated for this frame: preheat up to {t:.0} °C. Check it against the procedure."
            ))
        }
        "Clamps" => {
            let (force, name) = facts.spring_force.as_ref()?;
            Some(format!("Largest predicted force: {force:.0} N at clamp {name}."))
        }
        "Lifting and turning" if facts.turns => Some("This plan turns the frame over.".into()),
        _ => None,
    }
}

fn of_heading(heading: &str) -> &'static Caution {
    ALL.iter().find(|c| c.heading == heading).expect("a test holds headings and uses together")
}

static ALL: LazyLock<Vec<Caution>> = LazyLock::new(|| split(include_str!("../../safety.md")));

/// Splits the file by its `## ` headings; each `- ` opens a sentence, indented lines go on with it.
fn split(text: &str) -> Vec<Caution> {
    let mut cautions: Vec<Caution> = vec![];
    for line in text.lines() {
        if let Some(heading) = line.strip_prefix("## ") {
            cautions.push(Caution { heading: heading.trim().into(), lines: vec![], own: false });
        } else if let Some(caution) = cautions.last_mut() {
            if let Some(opening) = line.strip_prefix("- ") {
                caution.lines.push(opening.trim().into());
            } else if let (Some(last), false) = (caution.lines.last_mut(), line.trim().is_empty()) {
                last.push(' ');
                last.push_str(line.trim());
            }
        }
    }
    cautions
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A frame with nothing special about it.
    fn plain() -> SafetyFacts {
        SafetyFacts {
            sealed: vec![],
            galvanized: false,
            coated: false,
            stainless: false,
            chrome_moly: false,
            aluminium: false,
            preheat_c: None,
            clamps: false,
            spring_force: None,
            turns: false,
            several_welders: false,
            carries_people: false,
        }
    }

    fn has(facts: &SafetyFacts, heading: &str) -> bool {
        cautions(facts).iter().any(|c| c.heading == heading)
    }

    #[test]
    fn every_heading_is_used_and_every_use_exists() {
        let mut in_file: Vec<&str> = ALL.iter().map(|c| c.heading.as_str()).collect();
        let mut in_use: Vec<&str> = USES.iter().map(|(heading, _)| *heading).chain([DEFERRAL]).collect();
        in_file.sort_unstable();
        in_use.sort_unstable();
        assert_eq!(in_file, in_use);
    }

    #[test]
    fn every_heading_says_something_in_short_sentences() {
        for caution in ALL.iter() {
            assert!(!caution.lines.is_empty(), "{} is empty", caution.heading);
            for line in &caution.lines {
                assert!(line.ends_with('.'), "not a sentence: {line}");
                assert!(line.chars().count() <= 170, "too long for the wall: {line}");
            }
        }
    }

    #[test]
    fn each_fact_brings_its_own_caution_and_no_other() {
        let cases: Vec<(&str, SafetyFacts)> = vec![
            ("People depend on it", SafetyFacts { carries_people: true, ..plain() }),
            ("Sealed tubes", SafetyFacts { sealed: vec!["spine".into()], ..plain() }),
            ("Zinc", SafetyFacts { galvanized: true, ..plain() }),
            ("Paint and coatings", SafetyFacts { coated: true, ..plain() }),
            ("Chromium VI", SafetyFacts { stainless: true, ..plain() }),
            ("Aluminium", SafetyFacts { aluminium: true, ..plain() }),
            ("Hydrogen cracking and preheat", SafetyFacts { preheat_c: Some(120.0), ..plain() }),
            ("Clamps", SafetyFacts { clamps: true, ..plain() }),
            ("Two welders", SafetyFacts { several_welders: true, ..plain() }),
        ];
        for (heading, facts) in cases {
            assert!(has(&facts, heading), "{heading} is missing");
            assert!(!has(&plain(), heading), "{heading} stands on a plain frame's sheet");
            assert_eq!(cautions(&facts).len(), cautions(&plain()).len() + 1);
        }
        let moly = SafetyFacts { chrome_moly: true, ..plain() };
        assert!(has(&moly, "Chromium VI") && has(&moly, "Hydrogen cracking and preheat"));
    }

    #[test]
    fn the_frames_own_names_and_numbers_stand_first() {
        let facts = SafetyFacts {
            sealed: vec!["spine".into(), "axle tube".into()],
            clamps: true,
            spring_force: Some((812.4, "tail".into())),
            preheat_c: Some(99.6),
            turns: true,
            ..plain()
        };
        let all = cautions(&facts);
        let first = |heading: &str| all.iter().find(|c| c.heading == heading).unwrap().lines[0].clone();
        assert!(first("Sealed tubes").ends_with("seals: spine, axle tube. Vent each of them."));
        // A flood of names would hide the rest of the cautions.
        let rungs =
            |n: usize| SafetyFacts { sealed: (1..=n).map(|i| format!("rung {i}")).collect(), ..plain() };
        let line = |n: usize| {
            cautions(&rungs(n)).iter().find(|c| c.heading == "Sealed tubes").unwrap().lines[0].clone()
        };
        assert!(line(40).ends_with("rung 39, rung 40. Vent each of them."), "{}", line(40));
        assert!(
            line(43)
                .ends_with("rung 40 and 3 more, every one that is closed at both ends. Vent each of them.")
        );
        assert!(!line(43).contains("rung 41"));
        assert!(first("Clamps").contains("812 N at clamp tail"));
        assert!(first("Hydrogen cracking and preheat").contains("100 °C"));
        assert!(first("Lifting and turning").contains("turns the frame"));
    }

    #[test]
    fn the_deferral_names_all_four_authorities() {
        let words = format!("{} {DEFERRAL_LINE}", deferral().lines.join(" ")).to_lowercase();
        for word in ["qualified welder", "qualified welding procedure", "inspect", "local codes"] {
            assert!(words.contains(word), "{word} is missing");
        }
    }
}

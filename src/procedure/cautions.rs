//! What the welder must read about metals, coatings and settings. Each thing is said once, with all
//! the seams it holds for.

use super::Settings;
use super::numbers::{hydrogen, steels};
use super::preheat::combined_thickness_mm;
use super::settings::{CHROME_MOLY_WARM, Q_OVER_T, Q_OVER_T_WALLS_MM, Seat};
use crate::frame::Frame;
use crate::library::MaterialGroup;

/// Root gap above which AWS D1.1 makes the leg of a fillet larger by the gap, mm (1/16 in; from
/// memory).
pub const GAP_WORTH_A_WORD_MM: f64 = 1.6;
/// Largest root gap of a fillet weld, mm (AWS D1.1: 3/16 in for walls up to 75 mm; from memory).
pub const GAP_LIMIT_MM: f64 = 5.0;

/// Warnings being collected: (code, words, places), in the order in which they first came up.
pub(super) struct Cautions {
    found: Vec<(&'static str, String, Vec<String>)>,
    ambient_c: f64,
}

/// Places in as few words as say it: `all seams but J3a` rather than a list of the others.
fn listed(places: &[String], seams: &[&str]) -> String {
    let others: Vec<&str> = seams.iter().copied().filter(|s| !places.iter().any(|p| p == s)).collect();
    let only_seams = places.len() > 3 && places.len() + others.len() == seams.len();
    match others.len() {
        0 if only_seams => "all seams".into(),
        n if only_seams && n < places.len() / 2 => format!("all seams but {}", others.join(", ")),
        _ => places.join(", "),
    }
}

impl Cautions {
    pub fn new(frame: &Frame) -> Self {
        let mut cautions = Cautions { found: Vec::new(), ambient_c: frame.shop.ambient_c };
        if let Some(coating) = &frame.coating {
            cautions.coating(coating);
        }
        cautions
    }

    /// All warnings with their places in words; `seams` are the names of all seams.
    pub fn done(self, seams: &[&str]) -> Vec<(&'static str, String, String)> {
        self.found.into_iter().map(|(code, words, places)| (code, words, listed(&places, seams))).collect()
    }

    fn say(&mut self, code: &'static str, words: impl Into<String>, place: &str) {
        let words = words.into();
        match self.found.iter_mut().find(|(c, w, _)| *c == code && *w == words) {
            Some((_, _, places)) => {
                if !places.iter().any(|p| p == place) {
                    places.push(place.to_string());
                }
            }
            None => self.found.push((code, words, vec![place.to_string()])),
        }
    }

    fn coating(&mut self, coating: &str) {
        let words = if coating.to_lowercase().contains("galv") || coating.to_lowercase().contains("zinc") {
            "galvanized: grind the zinc off at least 25 mm to each side of every weld, weld with extraction \
             at the arc and a breathing mask for metal fume (zinc fume fever); zinc left in the joint gives \
             pores and cracks"
                .to_string()
        } else {
            format!(
                "surface '{coating}': strip it to bright metal at least 25 mm to each side of every weld; \
                 burning coatings give poisonous fumes, and dirt in the weld gives pores and hydrogen"
            )
        };
        self.say("W318", words, "whole frame");
    }

    /// No setup brings this pass into a position that the rules allow.
    pub fn no_position(&mut self, label: &str) {
        self.say(
            "W320",
            "can only be welded overhead (PD or PE) in every setup, which the rules forbid: add a setup that \
             turns it down, or allow overhead; planned in the least bad position",
            label,
        );
    }

    pub fn of_seam(&mut self, name: &str, seat: &Seat, s: &Settings) {
        self.metals(name, seat, s);
        self.heat(name, seat, s);
        self.size(name, seat, s);
        self.gap(name, seat);
        if s.starting_values {
            let words = format!(
                "settings filled in as starting values only, to be tried on scrap of the same wall: {}",
                // What was done at this wall stands with the settings; here one line for each table.
                s.source.split("; wall ").next().unwrap_or_default()
            );
            self.say("W313", words, name);
        }
        for m in &seat.materials {
            if self.ambient_c < m.min_start_c && s.preheat_c.is_none_or(|p| p < m.min_start_c) {
                let words = format!(
                    "{}: start at {} °C or above; the shop is at {} °C, so warm the metal first",
                    m.name, m.min_start_c, self.ambient_c
                );
                self.say("W323", words, name);
            }
            if s.interpass_c > m.interpass_c {
                let words = format!(
                    "interpass limit {} °C is above the usual {} °C for {}",
                    s.interpass_c, m.interpass_c, m.name
                );
                self.say("W324", words, name);
            }
        }
    }

    /// A gap to be filled: what it costs, and from where on it should not be filled at all.
    pub fn gap(&mut self, name: &str, seat: &Seat) {
        let (gap, wall) = (seat.gap_mm, seat.wall_mm());
        if gap <= 0.0 {
            return;
        }
        if gap > GAP_LIMIT_MM.min(2.0 * wall) {
            let words = format!(
                "root gap {gap} mm: DO NOT WELD OVER IT. It is above 5 mm (AWS D1.1, from memory) or twice the thinner \
                 wall of {wall} mm (common practice, no source). Cut a new tube, or let in a fitted piece, and measure \
                 again"
            );
            self.say("W326", words, name);
        } else {
            let leg = if gap > GAP_WORTH_A_WORD_MM {
                format!(
                    "; above {GAP_WORTH_A_WORD_MM} mm make the leg larger by the gap (AWS D1.1, from memory)"
                )
            } else {
                String::new()
            };
            let thin = if gap > 0.5 * wall {
                "; more than half the thinner wall: it burns through easily, close it by fitting if you can (common \
                 practice, no source)"
            } else {
                ""
            };
            let words = format!(
                "root gap {gap} mm: more metal, slower travel, more heat and more pull across this seam than where the \
                 parts touch; planned so{leg}{thin}"
            );
            self.say("W325", words, name);
        }
    }

    fn metals(&mut self, name: &str, seat: &Seat, s: &Settings) {
        let groups: Vec<MaterialGroup> = seat.materials.iter().map(|m| m.group).collect();
        for m in &seat.materials {
            match m.group {
                MaterialGroup::ChromeMoly => {
                    let words = format!(
                        "{}: hardens beside the weld and can crack from hydrogen hours later. Dry filler, clean \
                         and warm tube ({} °C or above), no draught, never quench or blow cold, let each joint \
                         cool slowly in still air. Walls of {:.1} mm and more: warm to about {} °C (Lincoln \
                         Electric, 2000); thinner tube by TIG usually goes without",
                        m.name, m.min_start_c, CHROME_MOLY_WARM.0, CHROME_MOLY_WARM.1
                    );
                    self.say("W315", words, name);
                }
                MaterialGroup::Stainless => self.say(
                    "W316",
                    "stainless steel: fume holds chromium VI and nickel, use extraction and a mask; shield the \
                     root with gas, stay under the interpass limit, brush with stainless only, and take the heat \
                     colours off afterwards (they rust). It moves about half as much again as mild steel",
                    name,
                ),
                MaterialGroup::Aluminium => self.say(
                    "W317",
                    "aluminium 6xxx: brush and degrease just before welding; preheat 120 °C at most, interpass \
                     100 °C at most (EN 1011-4); the tube beside the weld loses up to half of its strength, \
                     which the designer must have reckoned with",
                    name,
                ),
                MaterialGroup::CarbonSteel => {}
            }
        }
        let aluminium = groups.contains(&MaterialGroup::Aluminium);
        if groups.iter().any(|g| *g != groups[0]) {
            let names: Vec<&str> = seat.materials.iter().map(|m| m.name.as_str()).collect();
            let words = if aluminium {
                format!(
                    "{} cannot be arc welded to each other: steel and aluminium crack apart",
                    names.join(" and ")
                )
            } else {
                format!(
                    "different metals ({}): the filler must suit both (a joint of stainless and plain steel is \
                     commonly laid with a 309L type), and a procedure for exactly this pair is needed",
                    names.join(" and ")
                )
            };
            self.say("W319", words, name);
        }
        let suits = match s.process {
            131 | 141 | 142 | 15 | 132 | 133 => true,
            _ => !aluminium,
        };
        if !suits {
            let words = format!(
                "process {} is not used on aluminium (active gas or flux): take 131 or 141",
                s.process
            );
            self.say("W322", words, name);
        }
        self.hydrogen(name, seat, s);
    }

    /// What the two methods of EN 1011-2 say, or that they say nothing here.
    fn hydrogen(&mut self, name: &str, seat: &Seat, s: &Settings) {
        let (hydrogen, _) = hydrogen(seat);
        let heat = s.k * s.volts * s.amps / s.speed_mm_s;
        let combined = combined_thickness_mm(seat.walls_mm[0], seat.walls_mm[1], seat.fillet);
        for steel in steels(seat, heat) {
            let (grade, eq) = (&steel.name, &steel.equivalents);
            let words = match (&steel.method_b_c, &steel.method_a_mm) {
                // Not above the temperature of a shop: none needed.
                (Ok(tp), _) if *tp <= self.ambient_c.max(20.0) => continue,
                (Ok(tp), _) => format!(
                    "{grade}: EN 1011-2 method B asks for {tp:.0} °C (CET {:.2}, {hydrogen} ml/100 g)",
                    eq.cet
                ),
                (Err(_), Ok(limit)) if combined <= *limit => continue,
                (Err(_), Ok(limit)) => format!(
                    "{grade}: EN 1011-2 method A: combined thickness {combined:.0} mm is above {limit:.0} mm, \
                     preheat is needed; ask for a qualified procedure"
                ),
                // One line for each grade; what lies outside at which seam is in `numbers`.
                (Err(_), Err(_)) => format!(
                    "{grade}: CE {:.2} ({}), CET {:.2}. These walls and heat inputs lie outside the range of EN \
                     1011-2 method A (from 1 kJ/mm, CE up to 0.49) and B (10 to 90 mm, from 0.5 kJ/mm), so no \
                     preheat has been worked out here",
                    eq.ce, eq.basis, eq.cet
                ),
            };
            self.say("W321", words, name);
        }
    }

    /// Heat input against what the thinner wall stands.
    fn heat(&mut self, name: &str, seat: &Seat, s: &Settings) {
        let wall = seat.wall_mm();
        // A little below the tables the rule still warns; thick walls are another matter.
        if !(Q_OVER_T_WALLS_MM[0] - 0.4..=Q_OVER_T_WALLS_MM[1]).contains(&wall) {
            return;
        }
        let q = s.k * s.volts * s.amps / s.speed_mm_s;
        let ratio = q / wall;
        let [low, high] = Q_OVER_T;
        if ratio > high {
            let words = format!(
                "heat input {q:.0} J/mm on a {wall} mm wall is {ratio:.0} J/mm for each mm of wall; published \
                 settings for sheet lie between {low:.0} and {high:.0}. Expect burn-through or more pull than \
                 needed; slow pipe roots by hand do reach two to three times that"
            );
            self.say("W311", words, name);
        } else if ratio < low * 0.99 {
            let words = format!(
                "heat input {q:.0} J/mm on a {wall} mm wall is {ratio:.0} J/mm for each mm of wall; published \
                 settings for sheet lie between {low:.0} and {high:.0}. Expect lack of fusion"
            );
            self.say("W312", words, name);
        }
    }

    fn size(&mut self, name: &str, seat: &Seat, s: &Settings) {
        if !seat.fillet {
            return;
        }
        let wall = seat.wall_mm();
        if seat.wish.leg_mm.is_none() {
            self.say(
                "W314",
                "fillet leg not given: as large as the thinner wall (common practice, no source; less metal, less \
                 pull). Full strength by EN 1993-1-8, 7.3.1 asks a leg of about 1.3 (S235) to 1.6 (S355) times \
                 the wall: the designer decides",
                name,
            );
        } else if s.leg_mm > 2.0 * wall {
            let words = format!(
                "leg {} mm is more than twice the thinner \
                 wall of {wall} mm: metal and heat that pull and add no \
                 strength",
                s.leg_mm
            );
            self.say("W314", words, name);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::listed;

    #[test]
    fn a_caution_for_nearly_all_seams_names_the_others() {
        let seams = ["J1a", "J2a", "J3a", "J4a", "J5a", "J6a"];
        let of = |places: &[&str]| listed(&places.iter().map(|p| p.to_string()).collect::<Vec<_>>(), &seams);
        assert_eq!(of(&seams), "all seams");
        assert_eq!(of(&["J1a", "J2a", "J3a", "J5a", "J6a"]), "all seams but J4a");
        assert_eq!(of(&["J1a", "J2a", "J3a"]), "J1a, J2a, J3a");
        assert_eq!(of(&["whole frame"]), "whole frame");
        assert_eq!(of(&["whole frame", "J1a", "J2a", "J3a", "J4a"]), "whole frame, J1a, J2a, J3a, J4a");
    }
}

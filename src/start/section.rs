//! A section as a person says it: `square 40 x 3`, `round 38x2`, `60x40x3`.

use super::Units;
use crate::units::trim;

/// The profile of a tube.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Profile {
    /// Round tube, mm.
    Round {
        /// Outside diameter, mm.
        od: f64,
        /// Wall, mm.
        wall: f64,
    },
    /// Square or rectangular tube, mm.
    Box {
        /// Outside height, mm.
        height: f64,
        /// Outside width, mm.
        width: f64,
        /// Wall, mm.
        wall: f64,
    },
}

impl Profile {
    /// Read a section. Words `round`, `square`, `rectangular` (or their beginnings) and two or three
    /// measures with an `x` between them; without a word, two measures are square and three rectangular.
    ///
    /// ```
    /// use holdtrue::start::Profile;
    /// use holdtrue::units::Units;
    /// let said = Profile::read("square 1 1/2 x 1/8", Units::Inch);
    /// assert_eq!(said, Ok(Profile::Box { height: 38.1, width: 38.1, wall: 3.175 }));
    /// ```
    ///
    /// # Errors
    /// In words, if it is no section.
    pub fn read(words: &str, units: Units) -> Result<Profile, String> {
        let low = words.trim().to_lowercase().replace(['×', '*'], "x").replace('ø', "round ");
        let from = low.find(|c: char| c.is_ascii_digit() || c == '.').unwrap_or(low.len());
        let (word, numbers) = low.split_at(from);
        let word = word.trim();
        let sizes: Option<Vec<f64>> = numbers.split('x').map(|n| units.read(n)).collect();
        let help =
            "write for instance `square 40x3`, `rectangular 60x40x3` (height, width, wall) or `round 38x2`";
        let sizes = sizes.ok_or_else(|| format!("\"{words}\" is no section: {help}"))?;
        let is = |full: &str| !word.is_empty() && full.starts_with(word);
        let made = match sizes.as_slice() {
            [od, wall] if is("round") || is("tube") || is("pipe") => Profile::Round { od: *od, wall: *wall },
            [side, wall] if word.is_empty() || is("square") => {
                Profile::Box { height: *side, width: *side, wall: *wall }
            }
            [h, w, wall] if word.is_empty() || is("rectangular") || is("rectangle") || is("square") => {
                Profile::Box { height: *h, width: *w, wall: *wall }
            }
            _ => return Err(format!("\"{words}\" is no section: {help}")),
        };
        made.sound().map_err(|why| format!("\"{words}\": {why}"))?;
        Ok(made)
    }

    /// The same with another wall, mm.
    ///
    /// # Errors
    /// If the wall does not fit.
    pub fn with_wall(self, to: f64) -> Result<Profile, String> {
        let made = match self {
            Profile::Round { od, .. } => Profile::Round { od, wall: to },
            Profile::Box { height, width, .. } => Profile::Box { height, width, wall: to },
        };
        made.sound()?;
        Ok(made)
    }

    fn sound(self) -> Result<(), String> {
        let (small, wall) = (self.height().min(self.width()), self.wall());
        if !(6.0..=400.0).contains(&small) || self.height().max(self.width()) > 400.0 {
            return Err("a tube for a frame is 6 to 400 mm across: is the unit right?".into());
        }
        if !(0.5..=20.0).contains(&wall) || wall * 2.0 >= small {
            return Err("the wall must be 0.5 to 20 mm and leave the tube hollow".into());
        }
        Ok(())
    }

    /// Size upwards, mm.
    pub fn height(self) -> f64 {
        match self {
            Profile::Round { od, .. } => od,
            Profile::Box { height, .. } => height,
        }
    }

    /// Size across, mm.
    pub fn width(self) -> f64 {
        match self {
            Profile::Round { od, .. } => od,
            Profile::Box { width, .. } => width,
        }
    }

    /// Wall, mm.
    pub fn wall(self) -> f64 {
        match self {
            Profile::Round { wall, .. } | Profile::Box { wall, .. } => wall,
        }
    }

    /// Whether it is a round tube.
    pub fn round(self) -> bool {
        matches!(self, Profile::Round { .. })
    }

    /// As [`Profile::read`] reads it.
    pub fn words(self, units: Units) -> String {
        let n = |mm: f64| match units {
            Units::Mm => trim(mm, 2),
            Units::Inch => crate::units::tape(mm).replace('"', ""),
        };
        match self {
            Profile::Round { od, wall } => format!("round {} x {}", n(od), n(wall)),
            Profile::Box { height, width, wall } if height == width => {
                format!("square {} x {}", n(height), n(wall))
            }
            Profile::Box { height, width, wall } => {
                format!("rectangular {} x {} x {}", n(height), n(width), n(wall))
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sections_are_read_as_people_say_them() {
        let mm = |w: &str| Profile::read(w, Units::Mm);
        let square = Ok(Profile::Box { height: 40.0, width: 40.0, wall: 3.0 });
        for said in ["40x3", "square 40 x 3", "sq 40×3", "Square 40x40x3"] {
            assert_eq!(mm(said), square, "{said}");
        }
        assert_eq!(mm("60x40x3"), Ok(Profile::Box { height: 60.0, width: 40.0, wall: 3.0 }));
        assert_eq!(mm("Ø33.7x2.6"), Ok(Profile::Round { od: 33.7, wall: 2.6 }));
        assert_eq!(mm("round 2\" x 1/8\""), Ok(Profile::Round { od: 50.8, wall: 3.175 }));
        for said in ["", "40", "round 40", "square", "elliptic 40x3", "40x0", "40x20", "4x1", "x", "40x3x3x3"]
        {
            assert!(mm(said).is_err(), "{said}");
        }
        for p in [mm("round 38x2"), mm("40x3"), mm("60x40x3")] {
            let p = p.expect("sound");
            assert_eq!(mm(&p.words(Units::Mm)), Ok(p));
        }
    }
}

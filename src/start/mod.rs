//! Starter frames: a shape in trade words and the user's own measures become the text of a frame file.
//!
//! Comes in: a [`Wish`]. Goes out: commented TOML that reads and plans at once, or words that say which
//! measure does not fit.
//! Out of bounds: files, questions at the terminal; a starter frame is a beginning, never a design.

mod pieces;
mod section;
mod shapes;

pub use section::Profile;

use crate::units::Units;
use std::collections::BTreeMap;

/// The shape of a starter frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Shape {
    /// Two long rails with rungs between them.
    Ladder,
    /// A mitred top ring on four legs with a lower ring.
    Base,
    /// Two A's side by side, tied together: a stand.
    AFrame,
    /// A flat deck with cross members, a pole in front and plates for the axle.
    Cart,
    /// An axle tube between kingpin sleeves, a spine, stays to the rear wheel.
    Trike,
    /// An upright mitred rectangle with bars.
    Gate,
    /// Two rails, two cross members and four arms that lean out.
    Cradle,
    /// One tube on another: to calibrate the shop.
    TestTee,
}

/// Every shape, in the order in which they are offered.
pub const SHAPES: [Shape; 8] = [
    Shape::Ladder,
    Shape::Base,
    Shape::AFrame,
    Shape::Cart,
    Shape::Trike,
    Shape::Gate,
    Shape::Cradle,
    Shape::TestTee,
];

impl Shape {
    /// The word for it on the command line.
    pub fn word(self) -> &'static str {
        match self {
            Shape::Ladder => "ladder",
            Shape::Base => "base",
            Shape::AFrame => "a-frame",
            Shape::Cart => "cart",
            Shape::Trike => "trike",
            Shape::Gate => "gate",
            Shape::Cradle => "cradle",
            Shape::TestTee => "test-tee",
        }
    }

    /// What it is, in a few words.
    pub fn about(self) -> &'static str {
        match self {
            Shape::Ladder => "two long rails with rungs between them",
            Shape::Base => "box base: a mitred top ring on four legs, a lower ring, cross members",
            Shape::AFrame => "stand of two A's tied together",
            Shape::Cart => "flat deck with cross members, a pole in front and two axle plates below",
            Shape::Trike => "axle tube between kingpin sleeves, spine, seat tube, stays to the rear wheel",
            Shape::Gate => "upright mitred rectangle with bars",
            Shape::Cradle => "two rails, two cross members and four arms that lean out",
            Shape::TestTee => "one tube on another, to calibrate the shop with",
        }
    }

    /// The measures it takes, with what is taken when nothing is said.
    pub fn measures(self) -> &'static [Measure] {
        const fn mm(key: &'static str, about: &'static str, or: f64, least: f64, most: f64) -> Measure {
            Measure { key, about, or, least, most, length: true }
        }
        const fn count(about: &'static str, or: f64, least: f64, most: f64) -> Measure {
            Measure { key: "rungs", about, or, least, most, length: false }
        }
        const LADDER: &[Measure] = &[
            mm("length", "length of the rails", 1200.0, 200.0, 12000.0),
            mm("width", "width over both rails", 500.0, 100.0, 4000.0),
            count("number of rungs", 4.0, 2.0, 40.0),
        ];
        const BASE: &[Measure] = &[
            mm("length", "length outside", 1000.0, 250.0, 6000.0),
            mm("width", "width outside", 600.0, 250.0, 4000.0),
            mm("height", "height from the floor to the top", 700.0, 300.0, 2500.0),
            count("number of cross members in the top ring", 1.0, 0.0, 12.0),
        ];
        const A_FRAME: &[Measure] = &[
            mm("length", "length from one A to the other, outside", 900.0, 250.0, 6000.0),
            mm("width", "width at the feet, middle to middle", 700.0, 250.0, 4000.0),
            mm("height", "height from the floor to the middle of the peak", 900.0, 300.0, 4000.0),
        ];
        const CART: &[Measure] = &[
            mm("length", "length of the deck", 1500.0, 400.0, 8000.0),
            mm("width", "width of the deck", 800.0, 300.0, 2600.0),
            mm("height", "length of the pole in front of the deck", 700.0, 200.0, 3000.0),
            count("number of cross members inside the ring", 2.0, 0.0, 20.0),
        ];
        const TRIKE: &[Measure] = &[
            mm("length", "wheelbase: front axle to rear axle", 1200.0, 700.0, 2500.0),
            mm("width", "kingpin to kingpin", 700.0, 300.0, 1400.0),
            mm("height", "length of the seat tube over the spine", 450.0, 150.0, 900.0),
        ];
        const GATE: &[Measure] = &[
            mm("length", "width of the gate outside", 1200.0, 300.0, 6000.0),
            mm("height", "height of the gate outside", 1100.0, 300.0, 3000.0),
            count("number of upright bars", 3.0, 1.0, 40.0),
        ];
        const CRADLE: &[Measure] = &[
            mm("length", "length of the rails", 1000.0, 300.0, 6000.0),
            mm("width", "width over both rails", 700.0, 300.0, 3000.0),
            mm("height", "height of the arms over the cross members", 350.0, 100.0, 2000.0),
        ];
        const TEST_TEE: &[Measure] = &[
            mm("length", "length of the tube that runs through", 400.0, 150.0, 1500.0),
            mm("height", "length of the tube that lands on it", 300.0, 100.0, 1500.0),
        ];
        match self {
            Shape::Ladder => LADDER,
            Shape::Base => BASE,
            Shape::AFrame => A_FRAME,
            Shape::Cart => CART,
            Shape::Trike => TRIKE,
            Shape::Gate => GATE,
            Shape::Cradle => CRADLE,
            Shape::TestTee => TEST_TEE,
        }
    }

    /// The section taken when nothing is said, of a size that is sold in that unit.
    pub fn usual_section(self, units: Units) -> Profile {
        let square = |side: f64, wall: f64| Profile::Box { height: side, width: side, wall };
        match (self, units) {
            (Shape::Trike, Units::Mm) => Profile::Round { od: 40.0, wall: 2.0 },
            (Shape::Trike, Units::Inch) => Profile::Round { od: 38.1, wall: 1.984375 },
            (Shape::Base, Units::Mm) => square(50.0, 4.0),
            (Shape::Base, Units::Inch) => square(50.8, 4.7625),
            (_, Units::Mm) => square(40.0, 3.0),
            (_, Units::Inch) => square(38.1, 3.175),
        }
    }
}

/// A measure that a shape takes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measure {
    /// Name of the option: `length`.
    pub key: &'static str,
    /// What it is, in a few words.
    pub about: &'static str,
    /// What is taken when nothing is said: mm, or a number.
    pub or: f64,
    /// Smallest.
    pub least: f64,
    /// Largest.
    pub most: f64,
    /// A length in mm; otherwise a whole number.
    pub length: bool,
}

impl Measure {
    /// What is taken when nothing is said: whole inches where the person works in inches.
    pub fn usual(&self, units: Units) -> f64 {
        if self.length { (self.or / units.mm()).round() * units.mm() } else { self.or }
    }
}

/// What the user wants.
#[derive(Debug, Clone)]
pub struct Wish {
    /// Name of the frame.
    pub name: String,
    /// Shape.
    pub shape: Shape,
    /// Measures by name, lengths in mm; those left out are the usual ones.
    pub measures: BTreeMap<String, f64>,
    /// Section of the main tubes.
    pub section: Profile,
    /// Section of rungs, bars and stays; `None`: chosen from the main one.
    pub second: Option<Profile>,
    /// Material, a name that the library knows.
    pub material: String,
    /// Welding process, its number in ISO 4063.
    pub process: u16,
    /// Unit in which the file is written.
    pub units: Units,
}

impl Wish {
    /// The usual measures of a shape.
    pub fn usual(shape: Shape, name: &str, units: Units) -> Wish {
        Wish {
            name: name.into(),
            shape,
            measures: BTreeMap::new(),
            section: shape.usual_section(units),
            second: None,
            material: "S235".into(),
            process: if shape == Shape::Trike { 141 } else { 135 },
            units,
        }
    }

    fn get(&self, key: &str) -> f64 {
        let of = self.shape.measures().iter().find(|m| m.key == key);
        self.measures.get(key).copied().or(of.map(|m| m.usual(self.units))).unwrap_or(0.0)
    }

    /// A length that a person can mark with a tape: whole millimetres, or sixteenths of an inch.
    fn neat(&self, mm: f64) -> f64 {
        let step = match self.units {
            Units::Mm => 1.0,
            Units::Inch => self.units.mm() / 16.0,
        };
        (mm / step).round() * step
    }

    /// Section of rungs, bars and stays. A round branch is a size smaller than the tube it lands on, so
    /// that it can be welded all round.
    fn second(&self) -> Profile {
        self.second.unwrap_or(match self.section {
            Profile::Round { od, wall } => {
                Profile::Round { od: self.neat(od * 0.8), wall: wall.min(od / 8.0) }
            }
            other => other,
        })
    }
}

/// The frame file of a wish.
///
/// ```
/// use holdtrue::start::{Shape, Wish, frame_file};
/// use holdtrue::units::Units;
/// let text = frame_file(&Wish::usual(Shape::Ladder, "loft ladder", Units::Mm)).expect("the usual measures fit");
/// assert!(holdtrue::frame::read(&text).is_ok());
/// ```
///
/// # Errors
/// In words, if a measure is out of range or the measures together make no frame that can be welded.
pub fn frame_file(wish: &Wish) -> Result<String, String> {
    for key in wish.measures.keys() {
        let takes = wish.shape.measures();
        if !takes.iter().any(|m| m.key == key) {
            let keys: Vec<&str> = takes.iter().map(|m| m.key).collect();
            return Err(format!("`{}` has no {key}; it takes {}", wish.shape.word(), keys.join(", ")));
        }
    }
    for m in wish.shape.measures() {
        let v = wish.get(m.key);
        if !(m.least..=m.most).contains(&v) || (!m.length && v.fract() != 0.0) {
            let say = |x: f64| if m.length { wish.units.length(x) } else { format!("{x}") };
            return Err(format!(
                "{} ({}) cannot be {}: between {} and {}",
                m.key,
                m.about,
                say(v),
                say(m.least),
                say(m.most)
            ));
        }
    }
    let text = shapes::text(wish)?;
    // A starter that does not plan is worse than none.
    let said = |faults: Vec<crate::fault::Fault>| {
        let first = faults.iter().find(|f| !f.is_warning()).or(faults.first());
        let why = first.map_or(String::new(), |f| match &f.help {
            Some(help) => format!("{} ({help})", f.message),
            None => f.message.clone(),
        });
        format!("these measures make no `{}` that can be welded: {why}", wish.shape.word())
    };
    let frame = crate::frame::read(&text).map_err(said)?.value;
    crate::plan::parts(&frame).map_err(said)?;
    Ok(text)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn measures_that_do_not_fit_are_refused_in_words() {
        let mut wish = Wish::usual(Shape::Gate, "gate", Units::Mm);
        wish.measures.insert("width".into(), 900.0);
        assert_eq!(frame_file(&wish), Err("`gate` has no width; it takes length, height, rungs".into()));
        let mut wish = Wish::usual(Shape::Ladder, "ladder", Units::Mm);
        wish.measures.insert("rungs".into(), 2.5);
        assert!(frame_file(&wish).unwrap_err().contains("number of rungs"));
        wish.measures.insert("rungs".into(), 40.0);
        let said = frame_file(&wish).unwrap_err();
        assert!(said.contains("rungs") && said.contains("closer"), "{said}");
        wish.measures.clear();
        wish.units = Units::Inch;
        wish.measures.insert("length".into(), 25.4);
        assert!(frame_file(&wish).unwrap_err().contains("cannot be 1\": between 7 7/8\" and"));
    }
}

//! The numbers of a control as its reader has them: degrees, millimetres, or inches as on a tape.

use super::card::ControlCard;
use crate::units::{MM_PER_INCH, Units, signed_to, trim};

/// How the numbers of one control are printed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Figures {
    units: Units,
    degrees: bool,
    digits: usize,
    /// A tolerance finer than a tape reads: thousandths of an inch.
    fine: bool,
}

impl ControlCard {
    /// How its numbers are printed for a reader who has these units of length.
    pub fn figures(&self, units: Units) -> Figures {
        let degrees = self.unit == "deg";
        // One digit more than the tolerance asks for.
        let digits = if degrees || self.tolerance < 1.0 { 2 } else { 1 };
        Figures { units, degrees, digits, fine: self.tolerance < 1.0 }
    }
}

impl Figures {
    fn inches(&self) -> bool {
        self.units == Units::Inch && !self.degrees
    }

    /// What stands after every number: ` mm`, ` °`, or nothing where the inches have their mark.
    pub fn unit(&self) -> &'static str {
        match (self.degrees, self.units) {
            (true, _) => " °",
            (_, Units::Mm) => " mm",
            (_, Units::Inch) => "",
        }
    }

    /// A reading or a nominal value, without [`Figures::unit`].
    pub fn value(&self, x: f64) -> String {
        match self.inches() {
            false => trim(x, self.digits),
            true if self.fine => format!("{}\"", trim(x / MM_PER_INCH, 3)),
            true => self.units.reading(x),
        }
    }

    /// A deviation or a change with its sign, without [`Figures::unit`].
    pub fn change(&self, x: f64) -> String {
        match self.inches() {
            false => signed_to(x, self.digits),
            true if self.fine => format!("{}\"", signed_to(x / MM_PER_INCH, 3)),
            true => self.units.change(x),
        }
    }

    /// A spread beside a value, without [`Figures::unit`].
    pub fn spread(&self, x: f64) -> String {
        if self.inches() { self.units.band(x) } else { trim(x, self.digits) }
    }

    /// A tolerance or a reading error, without [`Figures::unit`].
    pub fn band(&self, x: f64) -> String {
        if self.inches() { self.units.band(x) } else { trim(x, 2) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn card(unit: &str, tolerance: f64) -> ControlCard {
        let (nominal, set_to, residual, scatter) = (600.0, 0.0, 0.0, 0.3);
        ControlCard { name: "width".into(), unit: unit.into(), nominal, tolerance, set_to, residual, scatter }
    }

    /// By hand: 600.5 mm is 23.6417 in, nearest 64th 23 41/64; 0.5 mm is 1.26 of 64, so 1/64; 0.02 in
    /// stays apart from nothing.
    #[test]
    fn a_number_is_printed_as_its_reader_measures() {
        let mm = card("mm", 3.0).figures(Units::Mm);
        assert_eq!(
            (mm.value(600.5), mm.change(0.5), mm.spread(0.26), mm.unit()),
            ("600.5".into(), "+0.5".into(), "0.3".into(), " mm")
        );
        let inch = card("mm", 3.0).figures(Units::Inch);
        assert_eq!(
            (inch.value(600.5), inch.change(0.5), inch.spread(0.26), inch.unit()),
            ("23 41/64\"".into(), "+1/64\"".into(), "0.01\"".into(), "")
        );
        let fine = card("mm", 0.5).figures(Units::Inch);
        assert_eq!((fine.value(2.0), fine.change(-0.127)), ("0.079\"".into(), "-0.005\"".into()));
        // Angles have no inches.
        let lean = card("deg", 1.0);
        assert_eq!(lean.figures(Units::Inch).value(90.25), lean.figures(Units::Mm).value(90.25));
        assert_eq!(lean.figures(Units::Inch).unit(), " °");
    }
}

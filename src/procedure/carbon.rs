//! Carbon equivalents: how readily a steel hardens beside the weld.

use crate::library::Material;

/// Chemical composition of a heat of steel, mass per cent.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
#[allow(missing_docs)]
pub struct Composition {
    pub c: f64,
    pub si: f64,
    pub mn: f64,
    pub cr: f64,
    pub mo: f64,
    pub v: f64,
    pub ni: f64,
    pub cu: f64,
    pub b: f64,
}

impl Composition {
    /// From (element, mass per cent); elements that no formula uses are left out.
    pub fn of(elements: &[(String, f64)]) -> Self {
        let get = |name: &str| elements.iter().find(|(e, _)| e == name).map_or(0.0, |(_, v)| *v);
        Composition {
            c: get("C"),
            si: get("Si"),
            mn: get("Mn"),
            cr: get("Cr"),
            mo: get("Mo"),
            v: get("V"),
            ni: get("Ni"),
            cu: get("Cu"),
            b: get("B"),
        }
    }

    /// Carbon equivalent of the IIW.
    ///
    /// ```text
    /// CE = C + Mn/6 + (Cr + Mo + V)/5 + (Ni + Cu)/15        mass per cent
    /// ```
    ///
    /// Holds for: unalloyed and low-alloy steel. Source: EN 1011-2, C.2 (method A); seen.
    pub fn ce(&self) -> f64 {
        self.c + self.mn / 6.0 + (self.cr + self.mo + self.v) / 5.0 + (self.ni + self.cu) / 15.0
    }

    /// Carbon equivalent CET.
    ///
    /// ```text
    /// CET = C + (Mn + Mo)/10 + (Cr + Cu)/20 + Ni/40         mass per cent
    /// ```
    ///
    /// Holds for: CET 0.2 to 0.5. Source: EN 1011-2, C.3 (method B); seen.
    pub fn cet(&self) -> f64 {
        self.c + (self.mn + self.mo) / 10.0 + (self.cr + self.cu) / 20.0 + self.ni / 40.0
    }

    /// Crack parameter Pcm.
    ///
    /// ```text
    /// Pcm = C + Si/30 + (Mn + Cu + Cr)/20 + Ni/60 + Mo/15 + V/10 + 5·B    mass per cent
    /// ```
    ///
    /// Source: Ito and Bessyo; seen.
    pub fn pcm(&self) -> f64 {
        self.c
            + self.si / 30.0
            + (self.mn + self.cu + self.cr) / 20.0
            + self.ni / 60.0
            + self.mo / 15.0
            + self.v / 10.0
            + 5.0 * self.b
    }
}

/// Carbon equivalents of a grade, with what they rest on.
#[derive(Debug, Clone, PartialEq)]
pub struct CarbonEquivalents {
    /// CE (IIW), mass per cent.
    pub ce: f64,
    /// CET, mass per cent, from the composition in the table.
    pub cet: f64,
    /// Pcm, mass per cent, from the composition in the table.
    pub pcm: f64,
    /// What CE rests on, in words.
    pub basis: &'static str,
}

/// Carbon equivalents of a built-in grade; `None` for stainless steel and aluminium, for which they
/// have no meaning.
///
/// Where the grade's standard states a highest CEV, CE is that: the highest values of all elements
/// added up give more (0.487 against 0.45 for S355J2H) than any steel of the grade may have.
pub fn of_grade(material: &Material) -> Option<CarbonEquivalents> {
    use crate::library::MaterialGroup::{CarbonSteel, ChromeMoly};
    if !matches!(material.group, CarbonSteel | ChromeMoly) {
        return None;
    }
    let composition = Composition::of(&material.composition);
    let (ce, basis) = match material.cev_limit {
        Some(limit) => (limit, "highest CEV that the grade's standard allows"),
        None => (composition.ce(), "composition in the built-in table"),
    };
    Some(CarbonEquivalents { ce, cet: composition.cet(), pcm: composition.pcm(), basis })
}

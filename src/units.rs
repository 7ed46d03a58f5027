//! Units and how numbers print: the only room where a unit is converted or a number is rounded for
//! people.
//!
//! Inside the program every quantity is an `f64` whose name ends in its unit: mm, N, N·mm, MPa, °C,
//! J, J/mm, s, V, A, mm/s, kg, rad (degrees only where a name says `deg`).
//!
//! Out of bounds: welding, files.

/// Millimetres in one inch, exactly (ISO 31-1).
pub const MM_PER_INCH: f64 = 25.4;

//! Arithmetic that has never heard of welding: dice, quadrature, small dense algebra.
//!
//! Out of bounds: any word of welding, units.

pub mod dense;
pub mod quadrature;

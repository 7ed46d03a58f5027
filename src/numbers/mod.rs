//! Arithmetic that has never heard of welding: quadrature, small dense algebra, sparse factors.
//!
//! Out of bounds: any word of welding, units.

pub mod dense;
pub mod quadrature;
pub mod sparse;

//! The pull model: against an independent staged solver, books, another program, published values,
//! finite-element runs, and its own laws.
pub mod hand;
mod independent;
mod laws;
mod reference_fe;

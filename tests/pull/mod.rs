//! The pull model: against an independent staged solver, books, another program, published values,
//! finite-element runs, and its own laws.
mod beams;
mod build_to;
mod examples;
pub mod hand;
pub mod independent;
mod laws;
mod published;
mod readings;
pub mod reference_fe;
mod resolve;
mod wide;

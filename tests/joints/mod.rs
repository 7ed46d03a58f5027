//! Where tubes meet, and the curves along which they are welded.

pub mod build;
mod graph;
mod kinds;
mod laws;
mod sides;
mod splitting;
mod faults;

//! Where tubes meet, and the curves along which they are welded.

pub mod build;
mod kinds;

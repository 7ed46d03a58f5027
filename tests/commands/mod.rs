//! The whole program: words in, text, files and an exit code out.
pub mod bench;
mod exits;
mod json;
mod laws;
mod outside_audit;
mod paper;
mod readme;

//! The whole program: words in, text, files and an exit code out.
pub mod bench;
mod exits;
mod helps;
mod json;
mod laws;
mod outside_audit;
mod own_materials;
mod paper;
mod readme;
mod starters;

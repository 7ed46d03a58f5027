//! What is printed: text, pictures and pages.

mod examples;
pub mod made_pictures;
mod made;
mod maps;
mod paper;
mod sample;
mod terminal;

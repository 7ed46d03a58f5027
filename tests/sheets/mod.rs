//! What is printed: text, pictures and pages.

mod examples;
mod made_pictures;
mod made;
mod maps;
mod paper;
mod sample;
mod terminal;

//! What is printed: text, pictures and pages.

mod made;
mod maps;
mod paper;
mod sample;
mod terminal;

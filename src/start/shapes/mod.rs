//! The shapes, tube by tube: one file for each family.

mod a_frame;
mod common;
mod flat;
mod ring;
mod test_tee;
mod trike;

use super::{Shape, Wish};

/// The text of the frame file.
///
/// # Errors
/// In words, if the measures leave no room for a part.
pub fn text(wish: &Wish) -> Result<String, String> {
    match wish.shape {
        Shape::Ladder => flat::ladder(wish),
        Shape::Base => ring::base(wish),
        Shape::AFrame => a_frame::a_frame(wish),
        Shape::Cart => ring::cart(wish),
        Shape::Trike => trike::trike(wish),
        Shape::Gate => ring::gate(wish),
        Shape::Cradle => flat::cradle(wish),
        Shape::TestTee => test_tee::test_tee(wish),
    }
}

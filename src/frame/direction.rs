//! Directions as the user writes them: an axis, a word, three numbers.

use super::reader::{At, Bad, Val, nearest, vector};
use crate::fault::Fault;
use glam::DVec3;
use toml::de::DeValue;

/// What the words for directions mean.
pub(super) struct Axes {
    up_forward: Option<(DVec3, DVec3)>,
}

impl Axes {
    /// Only the axes of the file: X, Y, Z.
    pub fn file() -> Self {
        Axes { up_forward: None }
    }
    /// Also up, down, left, right, forward, back.
    pub fn of(up: DVec3, forward: DVec3) -> Self {
        Axes { up_forward: Some((up, forward)) }
    }
    const LETTERS: [&'static str; 9] = ["X", "Y", "Z", "+X", "+Y", "+Z", "-X", "-Y", "-Z"];
    const WORDS: [&'static str; 6] = ["up", "down", "left", "right", "forward", "back"];

    fn words(&self) -> Vec<&'static str> {
        let mut words = Self::LETTERS.to_vec();
        if self.up_forward.is_some() {
            words.extend(Self::WORDS);
        }
        words
    }

    pub fn word(&self, word: &str) -> Option<DVec3> {
        let letter = match word.trim_start_matches(['+', '-']).to_ascii_uppercase().as_str() {
            "X" => Some(DVec3::X),
            "Y" => Some(DVec3::Y),
            "Z" => Some(DVec3::Z),
            _ => None,
        };
        if let Some(axis) = letter {
            return Some(if word.starts_with('-') { -axis } else { axis });
        }
        let (up, forward) = self.up_forward?;
        match word.to_ascii_lowercase().as_str() {
            "up" => Some(up),
            "down" => Some(-up),
            "left" => Some(up.cross(forward)),
            "right" => Some(-up.cross(forward)),
            "forward" => Some(forward),
            "back" => Some(-forward),
            _ => None,
        }
    }
}

/// A direction: an axis (`"-Z"`), a word (`"left"`) or three numbers.
pub(super) fn direction(value: &Val<'_>, key: &str, axes: &Axes, bad: &mut Bad) -> Option<At<DVec3>> {
    let span = value.span();
    if let DeValue::String(word) = value.get_ref() {
        if let Some(v) = axes.word(word) {
            return Some(At { v, span });
        }
        let words = axes.words();
        let fault = Fault::new("E112", format!("`{key}` cannot be \"{word}\"")).at(span, "not a direction");
        bad.push(match nearest(word, words.iter().copied()) {
            Some(near) => fault.replace(format!("\"{near}\"")),
            None => fault.help("write an axis such as \"Z\" or \"-Y\", or three numbers [x, y, z]"),
        });
        return None;
    }
    let v = vector(value, &format!("`{key}`"), bad)?;
    if v.v.length() < 1e-9 {
        bad.push(
            Fault::new("E141", format!("`{key}` points nowhere"))
                .at(v.span, "has no length")
                .help("write an axis such as \"Z\", or three numbers of which one is not zero"),
        );
        return None;
    }
    Some(At { v: v.v.normalize(), span: v.span })
}

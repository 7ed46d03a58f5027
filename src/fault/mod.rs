//! What can be wrong with the user's input, and how it is said: code, place, cause, remedy.
//!
//! Comes in: faults found by any room. Goes out: [`render`]ed text and the table of [`CODES`].
//! Out of bounds: printing, files; a fault is a value.

mod codes;
mod render;

pub use codes::{CODES, explain};
pub use render::{place, render};

/// A byte range in the text of the frame file.
pub type Span = std::ops::Range<usize>;

/// One thing that is wrong, or worth a warning, in the user's input.
#[derive(Debug, Clone, PartialEq)]
pub struct Fault {
    /// Stable code such as `E104` (error) or `W203` (warning); [`CODES`] explains each.
    pub code: &'static str,
    /// What is wrong, in one lower-case sentence without a full stop.
    pub message: String,
    /// Where, as a byte range in the source text; `None` for faults of the whole file.
    pub at: Option<Span>,
    /// What is written under the marked place.
    pub label: String,
    /// A second place that belongs to the fault (for instance the first of two duplicates).
    pub also: Option<(Span, String)>,
    /// What to write instead, in words.
    pub help: Option<String>,
    /// A literal replacement for the text at `at` ("did you mean").
    pub replace: Option<String>,
}

impl Fault {
    /// A fault with code and message and nothing else.
    pub fn new(code: &'static str, message: impl Into<String>) -> Self {
        Fault {
            code,
            message: message.into(),
            at: None,
            label: String::new(),
            also: None,
            help: None,
            replace: None,
        }
    }
    /// The place of the fault and the words under it.
    pub fn at(mut self, span: Span, label: impl Into<String>) -> Self {
        self.at = Some(span);
        self.label = label.into();
        self
    }
    /// What to do about it.
    pub fn help(mut self, help: impl Into<String>) -> Self {
        self.help = Some(help.into());
        self
    }
    /// A second place.
    pub fn also(mut self, span: Span, label: impl Into<String>) -> Self {
        self.also = Some((span, label.into()));
        self
    }
    /// A literal replacement for the marked text.
    pub fn replace(mut self, text: impl Into<String>) -> Self {
        self.replace = Some(text.into());
        self
    }
    /// Whether this is a warning (its code begins with `W`).
    pub fn is_warning(&self) -> bool {
        self.code.starts_with('W')
    }
}

/// A value with the warnings that came with it.
#[derive(Debug, Clone)]
pub struct Checked<T> {
    /// The value.
    pub value: T,
    /// Warnings, in the order of their places.
    pub warnings: Vec<Fault>,
}

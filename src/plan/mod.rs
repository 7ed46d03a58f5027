//! Everything about one frame, decided: the main line from a frame to a [`WeldPlan`].
//!
//! Out of bounds: layout of paper, files.

//! The shop page: x
//!
//! Out of bounds: x

//! Chapter.

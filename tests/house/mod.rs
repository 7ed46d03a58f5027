//! House rules that a machine can check: the layout, who may use whom, words, sources.

mod layout;
mod licences;
mod rooms;
mod sources;
mod words;

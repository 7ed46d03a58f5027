//! One test program; chapters below, one folder each.
mod commands;
mod frames;
mod hard;
mod heat;
mod house;
mod jobs;
mod joints;
mod orders;
#[cfg(feature = "web")]
mod page;
mod published;
mod pull;
mod sheets;
mod support;
mod tacks;

//! One test program; chapters below, one folder each.
mod commands;
mod frames;
mod heat;
mod house;
mod jobs;
mod joints;
mod orders;
mod published;
mod pull;
mod sheets;
mod support;
mod tacks;

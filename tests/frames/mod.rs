//! Frame files: what is read, and what is said about what cannot be read.
mod examples;
mod sections;

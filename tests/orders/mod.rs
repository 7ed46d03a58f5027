//! The order of passes: rules one by one, the auditor, the scheduler, the search.
mod auditor;
mod frames;
mod questions;
mod rule_by_rule;
mod scheduler;
mod searching;

//! The order of passes: rules one by one, the auditor, the scheduler, the search.
mod auditor;
mod frames;
mod habits_and_reasons;
mod questions;
mod rule_by_rule;
mod scheduler;
mod searching;

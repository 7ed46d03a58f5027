//! The order of passes: rules one by one, the auditor, the scheduler, the search.
mod auditor;
mod best_of_few;
mod big;
mod frames;
mod habits_and_reasons;
mod large;
mod questions;
mod rule_by_rule;
mod scheduler;
mod searching;

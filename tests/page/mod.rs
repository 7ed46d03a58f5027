//! The shop page: a real server, a real browser, the record beside it.

mod attacks;
mod browser;
mod driver;
mod fuzz;
mod served;
mod shared;
mod steps;
mod ways;

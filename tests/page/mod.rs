//! The shop page: a real server, a real browser, the record beside it.

mod attacks;
mod browser;
mod driver;
mod served;
mod shared;

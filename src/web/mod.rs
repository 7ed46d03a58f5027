//! The shop page: a job on a phone, a tablet or the bench's own screen, served by this machine.
//!
//! Comes in: a record that is open, and the address to listen on. Goes out: pages, and events in the
//! record, the same record that the commands write. Loopback only unless the shop's network is asked
//! for, and then nothing without the pairing code.
//! Out of bounds: arithmetic of any engineering kind; rules; anything from outside this program.

mod act;
mod address;
mod anew;
mod board;
mod clash;
mod draw;
mod gate;
mod guard;
mod list;
mod page;
mod pairing;
mod pull;
mod reading;
mod routes;
mod serve;
mod step;
mod words;

pub use address::shop_addresses;
pub use pairing::{Pairing, random_key};
pub use serve::{Listen, Server};

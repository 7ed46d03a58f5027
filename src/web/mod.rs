//! The shop page: a job on a phone, a tablet or the bench's own screen, served by this machine.
//!
//! Comes in: a record that is open, the models of its frame, and the address to listen on. Goes out:
//! pages, and events in the record, the same record that the commands write. Loopback only unless the
//! shop's network is asked for, and then nothing without the pairing code.
//! Out of bounds: arithmetic of any engineering kind; rules; anything from outside this program.

mod act;
mod address;
mod board;
mod draw;
mod guard;
mod list;
mod page;
mod pairing;
mod pull;
mod routes;
mod serve;
mod step;
mod words;

pub use address::shop_addresses;
pub use pairing::{Pairing, random_key};
pub use serve::{Listen, Server};

use crate::job::{Bench, Job};
use crate::seam::Seams;
use std::sync::Arc;

/// The models of the frame that is being welded, as the commands use them.
pub trait Floor: Send + Sync {
    /// Frame, joints, passes, heat and pull.
    fn bench(&self) -> Bench<'_>;
    /// The seams, for the drawings.
    fn seams(&self) -> &Seams;
}

/// Builds the models of a job: at the start, and again when a pass was laid with other settings.
/// `Err`: why not, in words.
pub type MakeFloor = Box<dyn Fn(&Job) -> Result<Arc<dyn Floor>, String> + Send + Sync>;

//! Chapter.
mod consumables;
mod cooling_time;
mod heat_input;
mod preheat;

mod saddle;

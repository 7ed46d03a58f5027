//! Chapter.

mod saddle;

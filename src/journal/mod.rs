//! The job on disk: one file, one line per event, flushed before the answer.
//!
//! Comes in: events with the moment they are written down. Goes out: the [`Job`] they make, with
//! notices for the person. The file may be read with any editor. Two programs may write to it at
//! once: each takes the lock for one append, reads what the other wrote and then adds its own line.
//! Out of bounds: meaning (what an event does is `job`'s business), the clock, printing.

mod disk;
mod lines;
mod recover;
mod shop_file;
mod words;

pub use disk::{Disk, DiskFile, RealDisk};
pub use recover::{Recovered, recover};
pub use shop_file::{ShopFile, default_shop_path};
pub use words::Error;

use crate::job::{Event, Header, Job, Record, When};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

/// An open job. It holds no lock and no handle between calls, so that a page that stands open all
/// day is in nobody's way.
#[derive(Clone)]
pub struct Journal {
    path: PathBuf,
    disk: Arc<dyn Disk>,
    /// The whole lines that are known, byte for byte.
    known: Vec<u8>,
    job: Job,
    newer: bool,
}

/// What became of an event that was to be written once.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Written {
    /// Number of its record.
    pub n: u64,
    /// It stood there already; nothing was written now.
    pub before: bool,
    /// Warnings and notices to show.
    pub notices: Vec<String>,
}

/// How often and how long to try for the lock: three seconds in all. An append takes milliseconds.
const LOCK_TRIES: u32 = 300;
const LOCK_PAUSE: Duration = Duration::from_millis(10);

/// Begin a job: write its header to a new file.
///
/// # Errors
/// The file exists already, or cannot be written; in plain words.
pub fn create(path: &Path, header: Header) -> Result<Journal, Error> {
    create_on(Arc::new(RealDisk), path, header)
}

/// Open a job. Goes out: the journal, and notices for the person.
///
/// # Errors
/// No such file, damaged (with the line and how to recover), or written by a newer program and not
/// readable.
pub fn open(path: &Path) -> Result<(Journal, Vec<String>), Error> {
    open_on(Arc::new(RealDisk), path)
}

/// [`create`] on another disk.
///
/// # Errors
/// As [`create`].
pub fn create_on(disk: Arc<dyn Disk>, path: &Path, header: Header) -> Result<Journal, Error> {
    if !header.is_finite() {
        return Err(Error::NotFinite);
    }
    let line = lines::header_line(&header);
    disk.create_new(path, line.as_bytes()).map_err(|e| Error::io(path, "begin the record", e))?;
    Ok(Journal {
        path: path.into(),
        disk,
        known: line.into_bytes(),
        job: Job::fold(header, vec![]),
        newer: false,
    })
}

/// [`open`] on another disk.
///
/// # Errors
/// As [`open`].
pub fn open_on(disk: Arc<dyn Disk>, path: &Path) -> Result<(Journal, Vec<String>), Error> {
    let bytes = {
        let mut file = disk.open(path, false).map_err(|e| Error::io(path, "open the record", e))?;
        lock(&*file, path, false)?;
        file.read_all().map_err(|e| Error::io(path, "read the record", e))?
    };
    let read = lines::read(&bytes, path)?;
    let mut notices = torn_notice(read.torn);
    if read.newer {
        notices.push(words::NEWER_READ_ONLY.into());
    }
    let known = bytes[..bytes.len() - read.torn].to_vec();
    let job = Job::fold(read.header, read.records);
    notices.extend(job.remarks.iter().cloned());
    Ok((Journal { path: path.into(), disk, known, job, newer: read.newer }, notices))
}

impl Journal {
    /// The job as far as this journal has read it.
    pub fn job(&self) -> &Job {
        &self.job
    }

    /// Where the record is.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Bytes of the record as far as this journal has read it: a longer or shorter file has been
    /// written to by somebody else.
    pub fn length(&self) -> u64 {
        self.known.len() as u64
    }

    /// Read what others have written since. Goes out: notices for the person.
    ///
    /// # Errors
    /// As [`open`].
    pub fn refresh(&mut self) -> Result<Vec<String>, Error> {
        let (fresh, notices) = open_on(self.disk.clone(), &self.path)?;
        *self = fresh;
        Ok(notices)
    }

    /// Write events down, all or none. When this returns `Ok`, they are on the disk. Goes out:
    /// warnings and notices to show; [`Journal::job`] is the job after them and after whatever others
    /// wrote in between.
    ///
    /// # Errors
    /// The event makes no sense for the job as it stands now, or the file cannot be written. Then
    /// nothing was recorded, unless the error says otherwise.
    pub fn append(&mut self, events: &[Event], by: &str, now: When) -> Result<Vec<String>, Error> {
        self.write(events, by, "", now).map(|w| w.notices)
    }

    /// As [`Journal::append`] for one event that may be sent more than once (over a network that fails,
    /// to a server that is started anew): an event whose `id` stands in the record already is not
    /// written again.
    ///
    /// # Errors
    /// As [`Journal::append`].
    pub fn append_once(&mut self, event: Event, by: &str, id: &str, now: When) -> Result<Written, Error> {
        self.write(&[event], by, id, now)
    }

    fn write(&mut self, events: &[Event], by: &str, id: &str, now: When) -> Result<Written, Error> {
        let path = self.path.clone();
        if self.newer {
            return Err(Error::NewerFormat { path });
        }
        let mut file = self.disk.open(&path, true).map_err(|e| Error::io(&path, "write the record", e))?;
        lock(&*file, &path, true)?;
        let bytes = file.read_all().map_err(|e| Error::io(&path, "read the record", e))?;
        let mut notices = self.catch_up(&bytes)?;
        if !id.is_empty()
            && let Some(r) = self.job.records.iter().rev().find(|r| r.id == id)
        {
            return Ok(Written { n: r.n, before: true, notices });
        }
        let mut job = self.job.clone();
        let mut text = String::new();
        for event in events {
            notices.extend(job.check(event, now).map_err(Error::Refused)?);
            let record = Record {
                n: job.records.last().map_or(0, |r| r.n) + 1,
                at: now,
                by: by.into(),
                id: id.into(),
                event: event.clone(),
            };
            text.push_str(&lines::record_line(&record));
            job = job.and(record);
        }
        let n = job.records.last().map_or(0, |r| r.n);
        if text.is_empty() {
            return Ok(Written { n, before: false, notices });
        }
        let whole = self.known.len() as u64;
        if bytes.len() as u64 > whole {
            // Whoever wrote this held the lock and is gone: it was never acknowledged.
            file.cut(whole)
                .and_then(|()| file.sync())
                .map_err(|e| Error::io(&path, "drop an unfinished line", e))?;
        }
        if let Err(e) = file.append(text.as_bytes()).and_then(|()| file.sync()) {
            // Half a line, or a whole one that may not be on the disk: take it back.
            let taken_back = file.cut(whole).and_then(|()| file.sync());
            return Err(match taken_back {
                Ok(()) => Error::io(&path, "write the record", e),
                Err(_) => Error::Unsure { path, source: e },
            });
        }
        self.known.extend_from_slice(text.as_bytes());
        self.job = job;
        Ok(Written { n, before: false, notices })
    }

    /// Take in what is in the file now.
    fn catch_up(&mut self, bytes: &[u8]) -> Result<Vec<String>, Error> {
        let whole = lines::whole_length(bytes);
        let mut notices = torn_notice(bytes.len() - whole);
        if bytes[..whole].starts_with(&self.known) {
            let next = self.job.records.last().map_or(0, |r| r.n) + 1;
            let line = 1 + self.job.records.len();
            for record in lines::read_records(&bytes[self.known.len()..whole], line, next, &self.path)? {
                self.job = self.job.clone().and(record);
            }
        } else {
            let read = lines::read(bytes, &self.path)?;
            if read.newer {
                return Err(Error::NewerFormat { path: self.path.clone() });
            }
            self.job = Job::fold(read.header, read.records);
            notices.push("the file was changed from outside while it was open; it was read again".into());
        }
        self.known = bytes[..whole].to_vec();
        Ok(notices)
    }
}

/// Take the lock; it goes when the file is closed, or with the process.
fn lock(file: &dyn DiskFile, path: &Path, exclusive: bool) -> Result<(), Error> {
    for _ in 0..LOCK_TRIES {
        if file.try_lock(exclusive).map_err(|e| Error::io(path, "lock the record", e))? {
            return Ok(());
        }
        std::thread::sleep(LOCK_PAUSE);
    }
    Err(Error::Busy { path: path.into() })
}

fn torn_notice(torn: usize) -> Vec<String> {
    if torn == 0 {
        return vec![];
    }
    vec![format!(
        "the last line of the record is unfinished ({torn} bytes) and is left out: the program was stopped while it \
         wrote it, and it was never acknowledged; look whether the last tick is there"
    )]
}

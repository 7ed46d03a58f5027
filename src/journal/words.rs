//! What can go wrong with the record, in plain words.

use crate::job::Refused;
use std::io::{self, ErrorKind};
use std::path::{Path, PathBuf};

/// Shown when a job in a newer format is opened.
pub const NEWER_READ_ONLY: &str = "this job was begun by a newer version of holdtrue: it can be looked at, but not written to with this one";

/// What went wrong.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// The disk said no; nothing was recorded.
    #[error("cannot {doing} {}: {}", path.display(), plain(source))]
    Io {
        /// The file.
        path: PathBuf,
        /// What was to be done.
        doing: &'static str,
        /// What the disk said.
        source: io::Error,
    },
    /// The disk said no, and what was written could not be taken back.
    #[error("writing {} failed ({}) and could not be taken back: look at the status before entering it again", path.display(), plain(source))]
    Unsure {
        /// The file.
        path: PathBuf,
        /// What the disk said.
        source: io::Error,
    },
    /// Somebody else has held the lock all the time.
    #[error("{} is in use by another program that does not let go", path.display())]
    Busy {
        /// The file.
        path: PathBuf,
    },
    /// Not a record of a job.
    #[error("{} is not a job of holdtrue", path.display())]
    NotAJob {
        /// The file.
        path: PathBuf,
    },
    /// A whole line cannot be read.
    #[error("line {line} of {} is damaged: {why}", path.display())]
    Damaged {
        /// The file.
        path: PathBuf,
        /// Number of the line, from 1.
        line: usize,
        /// What is wrong with it.
        why: String,
    },
    /// Written by a newer program.
    #[error("{} was written by a newer version of holdtrue", path.display())]
    NewerFormat {
        /// The file.
        path: PathBuf,
    },
    /// A number in the header is not a number.
    #[error("the plan holds a number that is not a number; no job can be begun on it")]
    NotFinite,
    /// The shop file cannot be understood.
    #[error("the shop file {} cannot be read: {why}", path.display())]
    Shop {
        /// The file.
        path: PathBuf,
        /// What is wrong.
        why: String,
    },
    /// No place for the shop file is known.
    #[error("this machine has no home directory, so the shop's own factors have no place")]
    NoHome,
    /// The event makes no sense.
    #[error(transparent)]
    Refused(Refused),
}

impl Error {
    /// An error of the disk.
    pub(super) fn io(path: &Path, doing: &'static str, source: io::Error) -> Error {
        Error::Io { path: path.into(), doing, source }
    }

    /// What to do about it, in words.
    pub fn help(&self) -> Option<String> {
        Some(match self {
            Error::Io { source, .. } => return advice(source).map(Into::into),
            Error::Unsure { .. } => "make room on the disk or put the file on another one first".into(),
            Error::Busy { .. } => "close the other program, or wait and try again".into(),
            Error::NotAJob { .. } => "begin a job from a frame file first".into(),
            Error::Damaged { line: 1, .. } => {
                "nothing was changed. The first line holds the frame and the plan: bring the file back from a copy".into()
            }
            Error::Damaged { line, .. } => format!(
                "nothing was changed. Bring the file back from a copy, or let `job recover` write every readable line to \
                 a new file and check against the frame what line {line} may have said"
            ),
            Error::NewerFormat { .. } => "use the version that wrote it, or a newer one".into(),
            Error::NotFinite => "this is a fault of the program; please report it with the frame file".into(),
            Error::Shop { .. } => "correct it by hand, or reset it; factors lie between 0.2 and 3".into(),
            Error::NoHome => "name a file with --shop FILE".into(),
            Error::Refused(r) => return r.help.clone(),
        })
    }
}

/// What the disk said, in plain words.
fn plain(e: &io::Error) -> String {
    match e.kind() {
        ErrorKind::StorageFull | ErrorKind::QuotaExceeded => "the disk is full; nothing was recorded".into(),
        ErrorKind::ReadOnlyFilesystem => "the disk is read-only; nothing was recorded".into(),
        ErrorKind::PermissionDenied => "no permission".into(),
        ErrorKind::NotFound => "there is no such file or folder".into(),
        ErrorKind::AlreadyExists => "there is a file of this name already".into(),
        ErrorKind::IsADirectory => "it is a folder".into(),
        ErrorKind::FileTooLarge => "it is too large to be a job".into(),
        ErrorKind::Unsupported => "this disk cannot lock files".into(),
        _ => e.to_string(),
    }
}

fn advice(e: &io::Error) -> Option<&'static str> {
    Some(match e.kind() {
        ErrorKind::StorageFull | ErrorKind::QuotaExceeded => "make room and enter it again",
        ErrorKind::ReadOnlyFilesystem => "copy the file to a disk that can be written and work there",
        ErrorKind::PermissionDenied => "ask the owner of the file, or copy it to a folder of your own",
        ErrorKind::NotFound => "check the name; a job is begun with `job start`",
        ErrorKind::AlreadyExists => "go on with that job, or name another file",
        ErrorKind::Unsupported => "copy the file to a disk of this machine and work there",
        _ => return None,
    })
}

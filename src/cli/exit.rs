//! Exit codes, and how a command stops early.

use std::io::Write;

/// Exit codes of the program. The numbers follow the old BSD convention of `sysexits.h` where one
/// fits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u8)]
pub enum Exit {
    /// All done.
    Ok = 0,
    /// The words typed do not make sense (clap's own code).
    Usage = 2,
    /// The frame file or another input has faults; each is shown.
    BadInput = 65,
    /// An input file is not there or cannot be read.
    NoInput = 66,
    /// A fault of the program itself: the plan did not pass its own audit.
    Internal = 70,
    /// An output file cannot be created, or exists and `--force` was not given.
    CannotCreate = 73,
    /// Reading or writing failed half way (disk full, for instance).
    Io = 74,
    /// Another run of the program holds the job; try again.
    Busy = 75,
}

impl From<Exit> for std::process::ExitCode {
    fn from(e: Exit) -> Self {
        std::process::ExitCode::from(e as u8)
    }
}

/// Why a command stopped before its end.
#[derive(Debug)]
pub struct Stop {
    /// Exit code.
    pub exit: Exit,
    /// What to say on standard error; empty if all is said or nobody listens any more.
    pub words: String,
}

impl Stop {
    /// Stop with a code and words.
    pub fn new(exit: Exit, words: impl Into<String>) -> Self {
        Stop { exit, words: words.into() }
    }

    /// Say it and give the code.
    pub fn say(self, err: &mut dyn Write) -> Exit {
        if !self.words.is_empty() {
            let _ = writeln!(err, "{}", self.words.trim_end());
        }
        self.exit
    }
}

impl From<std::io::Error> for Stop {
    /// Failing to write to standard output. A reader that has gone (`… | head`) is no fault.
    fn from(e: std::io::Error) -> Self {
        match e.kind() {
            std::io::ErrorKind::BrokenPipe => Stop::new(Exit::Ok, ""),
            _ => Stop::new(Exit::Io, format!("error: cannot write: {e}")),
        }
    }
}

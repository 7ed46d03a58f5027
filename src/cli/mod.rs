//! The commands: reads files and the clock, calls the core, writes what comes back.
//!
//! Comes in: the words the user typed. Goes out: text, files and an exit code.
//! Out of bounds: arithmetic of any engineering kind.

mod args;
mod check;
mod compare;
mod draw;
mod exit;
mod files;
mod import;
mod job;
mod library;
mod new;
mod plan;
mod progress;
#[cfg(feature = "web")]
mod serve;
mod tack;

pub use args::{Cli, Command};
pub use exit::Exit;

use clap::{CommandFactory, Parser};
use std::ffi::OsString;
use std::io::Write;

/// Run the program once with these words; may be called again in the same process.
pub fn run<I: IntoIterator<Item = OsString>>(words: I, out: &mut dyn Write, err: &mut dyn Write) -> Exit {
    let cli = match Cli::try_parse_from(words) {
        Ok(cli) => cli,
        Err(e) => {
            let text = e.render();
            // Help and version are answers, not faults.
            let answer = !e.use_stderr();
            let to: &mut dyn Write = if answer { out } else { err };
            let _ = write!(to, "{text}");
            return if answer { Exit::Ok } else { Exit::Usage };
        }
    };
    let said = match &cli.command {
        Command::Plan(a) => plan::run(a, &cli.common, out, err),
        Command::Tack(a) => tack::run(a, &cli.common, out, err),
        Command::Check(a) => check::run(a, &cli.common, out, err),
        Command::Compare(a) => compare::run(a, &cli.common, out, err),
        Command::Draw(a) => draw::run(a, &cli.common, out, err),
        Command::New(a) => new::run(a, &cli.common, out, err),
        Command::Import(a) => import::run(a, &cli.common, out, err),
        Command::Job(c) => job::run(c, &cli.common, out, err),
        #[cfg(feature = "web")]
        Command::Serve(a) => serve::run(a, &cli.common, out, err),
        Command::Materials(a) => library::materials(a, out),
        Command::Processes => library::processes(out),
        Command::Codes => library::codes(out),
        Command::Format => out.write_all(crate::frame::FORMAT.as_bytes()).map_err(exit::Stop::from),
        Command::Schema(a) => library::schema(a, out),
        Command::Completions { shell } => {
            // Rendered into memory first: writing straight to a closed pipe would panic.
            let mut text = Vec::new();
            clap_complete::generate(*shell, &mut Cli::command(), "holdtrue", &mut text);
            out.write_all(&text).map_err(exit::Stop::from)
        }
        Command::Man => {
            let mut text = Vec::new();
            clap_mangen::Man::new(Cli::command())
                .render(&mut text)
                .and_then(|()| out.write_all(&text))
                .map_err(exit::Stop::from)
        }
    };
    match said.and_then(|()| out.flush().map_err(exit::Stop::from)) {
        Ok(()) => Exit::Ok,
        Err(stop) => stop.say(err),
    }
}

//! `job report`: the weld record on the terminal and on paper.

use super::args::ReportArgs;
use super::{now, open, words};
use crate::cli::args::Common;
use crate::cli::exit::Stop;
use crate::cli::files;
use crate::output::{pdf, report, text};
use std::io::{IsTerminal, Write};

pub fn run(a: &ReportArgs, common: &Common, out: &mut dyn Write, err: &mut dyn Write) -> Result<(), Stop> {
    if let Some(path) = &a.pdf {
        files::free(path, common.force)?;
    }
    let journal = open(&a.record, common, err)?;
    let job = journal.job();
    let floor = super::floor(job, common)?;
    let said = super::said(&floor, job)?;
    // A finished record says the same on every day; an unfinished one says when it was printed.
    let date = words::clock(job.finished.unwrap_or_else(now));
    let sheet = report::report(job, &floor, said.as_ref(), &date, &words::clock);
    if let Some(path) = &a.pdf {
        files::write(path, &pdf::pdf(&sheet, a.paper.into(), 0), common.force, out)?;
        if !common.quiet {
            writeln!(err, "wrote {}", path.display())?;
        }
        if path == std::path::Path::new("-") {
            return Ok(());
        }
    }
    let look = text::TextLook {
        width: files::width().into(),
        colour: files::colour(std::io::stdout().is_terminal()),
        reasons: false,
    };
    write!(out, "{}", text::text(&sheet, look))?;
    Ok(())
}

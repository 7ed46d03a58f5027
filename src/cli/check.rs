//! `check`: what was understood.

use super::args::{Common, FrameArg};
use super::exit::Stop;
use super::files;
use crate::output::understood;
use crate::plan;
use std::io::Write;

pub fn run(a: &FrameArg, common: &Common, out: &mut dyn Write, err: &mut dyn Write) -> Result<(), Stop> {
    let file = files::read_frame(&a.frame)?;
    let parts = plan::parts(&file.frame).map_err(|f| files::faults(&f, &file.text, &file.path))?;
    files::warn(&file, &parts.warnings, common, err);
    let text =
        understood::understood(&file.frame, &parts.joints, &parts.seams, &parts.passes, files::width());
    out.write_all(text.as_bytes())?;
    if !common.quiet {
        for (code, words, place) in &parts.passes.warnings {
            writeln!(out, "{code} {place}: {words}")?;
        }
    }
    Ok(())
}

//! `plan`: the order, on the terminal, on paper, as JSON.

use super::args::{Common, PaperArg, PlanArgs, PlanCommon};
use super::exit::{Exit, Stop};
use super::files::{self, FrameText};
use crate::output::{fill, json, pages, pdf, text};
use crate::plan::{self, Options, WeldPlan};
use std::io::{IsTerminal, Write};

pub fn run(a: &PlanArgs, common: &Common, out: &mut dyn Write, err: &mut dyn Write) -> Result<(), Stop> {
    for path in a.pdf.iter().chain(&a.json) {
        files::free(path, common.force)?;
    }
    let (_, plan) = make(&a.common, common, err)?;
    let sheet = fill::sheet(&plan, "");
    if let Some(path) = &a.pdf {
        let paper = match a.paper {
            PaperArg::A4 => pages::Paper::A4,
            PaperArg::Letter => pages::Paper::Letter,
        };
        // No clock: the same frame and seed give the same bytes on any day.
        let bytes = pdf::pdf(&sheet, paper, 0);
        files::write(path, &bytes, common.force, out)?;
        if !common.quiet {
            for c in sheet.missing_characters() {
                writeln!(
                    err,
                    "warning: the paper has no letter {c:?}; its code U+{:04X} is printed",
                    c as u32
                )?;
            }
            writeln!(err, "wrote {}", path.display())?;
        }
    }
    if let Some(path) = &a.json {
        files::write(path, json::json(&plan).as_bytes(), common.force, out)?;
        if path == std::path::Path::new("-") {
            return Ok(());
        }
        if !common.quiet {
            writeln!(err, "wrote {}", path.display())?;
        }
    }
    let look = text::TextLook {
        width: files::width().into(),
        colour: files::colour(std::io::stdout().is_terminal()),
        reasons: a.why,
    };
    write!(out, "{}", text::text(&sheet, look))?;
    if a.why {
        write!(out, "{}", crate::output::why::why(&plan, files::width()))?;
    }
    Ok(())
}

/// Read, plan, warn: the beginning of every command that needs a plan.
pub fn make(a: &PlanCommon, common: &Common, err: &mut dyn Write) -> Result<(FrameText, WeldPlan), Stop> {
    let mut file = files::read_frame(&a.frame)?;
    if let Some(w) = a.welders {
        file.frame.shop.welders = w.into();
    }
    let parts = plan::parts(&file.frame).map_err(|f| files::faults(&f, &file.text, &file.path))?;
    files::warn(&file, &parts.warnings, common, err);
    let options = Options {
        seed: a.seed,
        effort: a.effort.into(),
        frame_sha256: file.sha256.clone(),
        from: a.from.into(),
    };
    let progress = super::progress::Progress::new(common.quiet, a.effort.into());
    let plan = plan::plan(&file.frame, parts, &options, &progress.watch())
        .map_err(|f| files::faults(&f, &file.text, &file.path))?;
    progress.done();
    let findings = plan::audit(&plan);
    if !findings.is_empty() {
        return Err(Stop::new(
            Exit::Internal,
            format!(
                "error: the plan did not pass its own audit; this is a fault of the program:\n{}",
                findings.join("\n")
            ),
        ));
    }
    Ok((file, plan))
}

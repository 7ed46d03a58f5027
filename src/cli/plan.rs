//! `plan`: the order, on the terminal, on paper, as JSON.

use super::args::{Common, PaperArg, PlanArgs, PlanCommon};
use super::exit::{Exit, Stop};
use super::files::{self, FrameText};
use crate::frame::PullSettings;
use crate::journal::ShopFile;
use crate::output::sheet::Sheet;
use crate::output::{fill, json, pages, pdf, text};
use crate::plan::{self, Options, WeldPlan};
use std::io::{IsTerminal, Write};
use std::path::Path;

pub fn run(a: &PlanArgs, common: &Common, out: &mut dyn Write, err: &mut dyn Write) -> Result<(), Stop> {
    let sheets = Sheets {
        pdf: a.pdf.as_deref(),
        paper: a.paper,
        colour: a.colour,
        json: a.json.as_deref(),
        why: a.why,
    };
    sheets.free(common)?;
    let (_, plan) = make(&a.common, common, err)?;
    sheets.put_out(&plan, common, out, err)
}

/// Where a plan goes.
pub struct Sheets<'a> {
    pub pdf: Option<&'a Path>,
    pub paper: PaperArg,
    pub colour: bool,
    pub json: Option<&'a Path>,
    pub why: bool,
}

impl Sheets<'_> {
    /// Whether all of them may be written.
    pub fn free(&self, common: &Common) -> Result<(), Stop> {
        self.pdf.iter().chain(&self.json).try_for_each(|path| files::free(path, common.force))
    }

    /// Write them all, and the checklist unless JSON is printed.
    pub fn put_out(
        &self,
        plan: &WeldPlan,
        common: &Common,
        out: &mut dyn Write,
        err: &mut dyn Write,
    ) -> Result<(), Stop> {
        let mut sheet = fill::sheet(plan, "");
        sheet.colour = self.colour;
        self.put_out_as(&sheet, || json::json(plan), plan, common, out, err)
    }

    /// As [`Sheets::put_out`], with a sheet and JSON of the caller's own.
    pub fn put_out_as(
        &self,
        sheet: &Sheet,
        as_json: impl FnOnce() -> String,
        plan: &WeldPlan,
        common: &Common,
        out: &mut dyn Write,
        err: &mut dyn Write,
    ) -> Result<(), Stop> {
        if let Some(path) = self.pdf {
            let paper = match self.paper {
                PaperArg::A4 => pages::Paper::A4,
                PaperArg::Letter => pages::Paper::Letter,
            };
            // No clock: the same frame and seed give the same bytes on any day.
            let bytes = pdf::pdf(sheet, paper, 0);
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
        if let Some(path) = self.json {
            files::write(path, as_json().as_bytes(), common.force, out)?;
            if path == Path::new("-") {
                return Ok(());
            }
            if !common.quiet {
                writeln!(err, "wrote {}", path.display())?;
            }
        }
        let look = text::TextLook {
            width: files::width().into(),
            colour: files::colour(std::io::stdout().is_terminal()),
            reasons: self.why,
        };
        write!(out, "{}", text::text(sheet, look))?;
        if self.why {
            write!(out, "{}", crate::output::why::why(plan, files::width()))?;
        }
        Ok(())
    }
}

/// Read, plan, warn: the beginning of every command that needs a plan.
pub fn make(a: &PlanCommon, common: &Common, err: &mut dyn Write) -> Result<(FrameText, WeldPlan), Stop> {
    let mut file = files::read_frame(&a.frame)?;
    if let Some(w) = a.welders {
        file.frame.shop.welders = w.into();
    }
    file.shop = shop(a, &mut file.frame.pull, common, err)?;
    let parts = plan::parts(&file.frame).map_err(|f| files::faults(&f, &file.text, &file.path))?;
    files::warn(&file, &parts.warnings, common, err);
    let options = Options {
        seed: a.seed,
        effort: a.effort.into(),
        frame_sha256: file.sha256.clone(),
        from: a.from.into(),
    };
    let progress = super::progress::Progress::new(common.quiet, a.effort.into());
    let mut plan = plan::plan(&file.frame, parts, &options, &progress.watch())
        .map_err(|f| files::faults(&f, &file.text, &file.path))?;
    progress.done();
    if !file.shop.is_empty() {
        let text = format!("{}.", shop_words(&file.frame.pull));
        plan.remarks.push(plan::Remark { code: "W706".into(), text, first: false });
    }
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

/// Put the shop's own factors into the settings of the pull model. Goes out: the text of the shop file
/// if it changed anything, else nothing.
fn shop(
    a: &PlanCommon,
    pull: &mut PullSettings,
    common: &Common,
    err: &mut dyn Write,
) -> Result<String, Stop> {
    let file = match (&a.shop, a.no_shop) {
        (_, true) => return Ok(String::new()),
        (Some(path), _) if !path.exists() => {
            let words = format!("error: there is no shop file {}", path.display());
            return Err(Stop::new(Exit::NoInput, words));
        }
        (Some(path), _) => ShopFile::at(Some(path)),
        // A machine without a home has no shop file either.
        (None, _) => match ShopFile::at(None) {
            Ok(f) => Ok(f),
            Err(_) => return Ok(String::new()),
        },
    };
    let shop = file.and_then(|f| f.load()).map_err(super::job::stop)?;
    let before = pull.clone();
    let words = shop.factors().apply(pull);
    if !common.quiet {
        for w in &words {
            writeln!(err, "note: {w}")?;
        }
    }
    Ok(if *pull == before { String::new() } else { shop.text() })
}

fn shop_words(pull: &PullSettings) -> String {
    let kinds: Vec<String> =
        pull.kind_factors.iter().map(|(kind, f)| format!("{kind} {:.2}", f * pull.common_factor)).collect();
    format!(
        "Made with this shop's own shrinkage factors: all joints {:.2}{}{}",
        pull.common_factor,
        if kinds.is_empty() { "" } else { ", " },
        kinds.join(", ")
    )
}

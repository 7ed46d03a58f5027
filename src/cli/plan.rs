//! `plan`: the order, on the terminal, on paper, as JSON.

use super::args::{Common, PlanArgs, PlanCommon, SheetArgs, ShopFrom};
use super::exit::{Exit, Stop};
use super::files::{self, FrameText};
use crate::frame::Frame;
use crate::job::shop::Shop;
use crate::journal::ShopFile;
use crate::output::sheet::Sheet;
use crate::output::{fill, json, pdf, text};
use crate::plan::{self, Options, WeldPlan};
use std::io::{IsTerminal, Write};
use std::path::Path;

pub fn run(a: &PlanArgs, common: &Common, out: &mut dyn Write, err: &mut dyn Write) -> Result<(), Stop> {
    a.sheets.free(common)?;
    let (_, plan) = make(&a.common, common, err)?;
    a.sheets.put_out(&plan, common, out, err)
}

impl SheetArgs {
    /// Whether JSON is printed, and so nothing else may be.
    pub fn prints_json(&self) -> bool {
        self.json.as_deref() == Some(Path::new("-"))
    }

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
        self.put_out_as(fill::sheet(plan, ""), || json::json(plan), plan, common, out, err)
    }

    /// As [`Sheets::put_out`], with a sheet and JSON of the caller's own.
    pub fn put_out_as(
        &self,
        mut sheet: Sheet,
        as_json: impl FnOnce() -> String,
        plan: &WeldPlan,
        common: &Common,
        out: &mut dyn Write,
        err: &mut dyn Write,
    ) -> Result<(), Stop> {
        sheet.colour = self.colour;
        if let Some(path) = &self.pdf {
            // No clock: the same frame and seed give the same bytes on any day.
            let bytes = pdf::pdf(&sheet, self.paper.into(), 0);
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
        if let Some(path) = &self.json {
            files::write(path, as_json().as_bytes(), common.force, out)?;
            if self.prints_json() {
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
        write!(out, "{}", text::text(&sheet, look))?;
        if self.why {
            write!(out, "{}", crate::output::why::why(plan, files::width()))?;
        }
        Ok(())
    }
}

/// Read, plan, warn: the beginning of every command that needs a plan.
pub fn make(a: &PlanCommon, common: &Common, err: &mut dyn Write) -> Result<(FrameText, WeldPlan), Stop> {
    let shop = a.shop.load()?;
    let mut file = files::read_frame(&a.frame, &shop.own_materials())?;
    if let Some(u) = common.units {
        file.frame.units = u.into();
    }
    if let Some(w) = a.welders {
        file.frame.shop.welders = w.into();
    }
    let used = with_shop(&shop, &mut file.frame, common, err)?;
    if !used.is_empty() {
        file.shop = shop.text();
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
    let mut plan = plan::plan(&file.frame, parts, &options, &progress.watch())
        .map_err(|f| files::faults(&f, &file.text, &file.path))?;
    progress.done();
    let remarks = used.into_iter().map(|text| plan::Remark { code: "W706".into(), text, first: false });
    plan.remarks.extend(remarks);
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

impl ShopFrom {
    /// The shop's own file; an empty one if there is none, or none is wanted.
    pub fn load(&self) -> Result<Shop, Stop> {
        let file = match (&self.shop, self.no_shop) {
            (_, true) => return Ok(Shop::default()),
            (Some(path), _) if !path.exists() => {
                let words = format!("error: there is no shop file {}", path.display());
                return Err(Stop::new(Exit::NoInput, words));
            }
            (Some(path), _) => ShopFile::at(Some(path)),
            // A machine without a home has no shop file either.
            (None, _) => match ShopFile::at(None) {
                Ok(f) => Ok(f),
                Err(_) => return Ok(Shop::default()),
            },
        };
        file.and_then(|f| f.load()).map_err(super::job::stop)
    }
}

/// Put the shop's own factors into the settings of the pull model. Goes out: what of the shop's own file
/// the frame uses, in words for the plan.
fn with_shop(
    shop: &Shop,
    frame: &mut Frame,
    common: &Common,
    err: &mut dyn Write,
) -> Result<Vec<String>, Stop> {
    let before = frame.pull.clone();
    let words = shop.factors().apply(&mut frame.pull);
    if !common.quiet {
        for w in &words {
            writeln!(err, "note: {w}")?;
        }
    }
    let pull = &frame.pull;
    let mut used = vec![];
    if *pull != before {
        let kinds =
            pull.kind_factors.iter().map(|(kind, f)| format!(", {kind} {:.2}", f * pull.common_factor));
        let kinds: String = kinds.collect();
        used.push(format!(
            "Made with this shop's own shrinkage factors: all joints {:.2}{kinds}.",
            pull.common_factor
        ));
    }
    let own = shop.own_materials();
    let names: Vec<&str> =
        frame.materials.iter().filter(|m| own.contains(m)).map(|m| m.name.as_str()).collect();
    if !names.is_empty() {
        used.push(format!("Made with this shop's own values of {}.", names.join(", ")));
    }
    Ok(used)
}

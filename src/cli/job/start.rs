//! `job start`: plan a frame and begin its record.

use super::args::StartArgs;
use super::words;
use crate::cli::args::Common;
use crate::cli::exit::{Exit, Stop};
use crate::cli::plan::make;
use crate::job::{Event, Header};
use crate::journal;
use crate::output::json;
use std::io::Write;
use std::path::{Path, PathBuf};

pub fn run(a: &StartArgs, common: &Common, out: &mut dyn Write, err: &mut dyn Write) -> Result<(), Stop> {
    let record = match (&a.out, a.common.frame.file_stem()) {
        (Some(path), _) => path.clone(),
        (None, Some(stem)) if a.common.frame != Path::new("-") => {
            PathBuf::from(stem).with_added_extension("job")
        }
        _ => return Err(Stop::new(Exit::Usage, "error: the record has no name\nhelp: say --out NAME.job")),
    };
    // Never overwritten, whatever is said: a record is the only proof of what was welded.
    if record.exists() {
        let words = format!(
            "error: {} is already there\nhelp: go on with that job, or name another file with --out",
            record.display()
        );
        return Err(Stop::new(Exit::CannotCreate, words));
    }
    a.sheets.free(common)?;
    let (file, plan) = make(&a.common, common, err)?;
    let began = super::now();
    let header = Header::of(&plan, &file.path, &file.text, &json::json(&plan), &file.shop, began);
    let mut journal = journal::create(&record, header).map_err(words::not_begun)?;
    super::append(&mut journal, &[Event::Started {}], "terminal", common, err)?;
    a.sheets.put_out(&plan, common, out, err)?;
    if !a.sheets.prints_json() {
        writeln!(
            out,
            "\njob begun: {}; what to do now: holdtrue job next {}",
            record.display(),
            record.display()
        )?;
    }
    Ok(())
}

//! `import`: a drawing of centre lines becomes a frame file.

use super::args::{Common, ImportArgs, UnitArg};
use super::exit::{Exit, Stop};
use super::files;
use crate::import::{self, Options, Unit};
use std::io::Write;

pub fn run(a: &ImportArgs, common: &Common, out: &mut dyn Write, err: &mut dyn Write) -> Result<(), Stop> {
    let bytes = files::read(&a.drawing)?;
    let stem = || a.drawing.file_stem().map_or("frame".into(), |s| s.to_string_lossy().into_owned());
    let options = Options {
        unit: a.unit.map(|u| match u {
            UnitArg::Mm => Unit::Mm,
            UnitArg::Inch => Unit::Inch,
            UnitArg::M => Unit::Metre,
        }),
        snap_mm: a.snap,
        name: a.name.clone().unwrap_or_else(stem),
        section: "{ square = { side = 40, wall = 3 }, material = \"S235\" }".into(),
    };
    let made = import::import(&bytes, &options)
        .map_err(|e| Stop::new(Exit::BadInput, format!("error: {}: {e}", a.drawing.display())))?;
    match &a.out {
        Some(path) => {
            files::write(path, made.toml.as_bytes(), common.force, out)?;
            if !common.quiet {
                for g in &made.guesses {
                    writeln!(err, "guess: {g}")?;
                }
                writeln!(
                    err,
                    "wrote {}; fill in the section, then: holdtrue check {}",
                    path.display(),
                    path.display()
                )?;
            }
        }
        None => out.write_all(made.toml.as_bytes())?,
    }
    Ok(())
}

//! `import`: a drawing of centre lines becomes a frame file.

use super::args::{Common, ImportArgs, UnitArg};
use super::exit::{Exit, Stop};
use super::files;
use crate::import::{self, Options, Unit};
use crate::units::Units;
use std::io::Write;

pub fn run(a: &ImportArgs, common: &Common, out: &mut dyn Write, err: &mut dyn Write) -> Result<(), Stop> {
    let units = common.units.map_or(Units::Mm, Units::from);
    let snap_mm = units.read(&a.snap).filter(|mm| *mm > 0.0).ok_or_else(|| {
        let words =
            format!("error: --snap \"{}\" is no distance\nhelp: write it like 1 or \"1/32 in\"", a.snap);
        Stop::new(Exit::Usage, words)
    })?;
    if let Some(path) = &a.out {
        files::free(path, common.force)?;
    }
    let bytes = files::read(&a.drawing)?;
    let stem = || a.drawing.file_stem().map_or("frame".into(), |s| s.to_string_lossy().into_owned());
    let options = Options {
        unit: a.drawn_in.map(|u| match u {
            UnitArg::Mm => Unit::Mm,
            UnitArg::Inch => Unit::Inch,
            UnitArg::M => Unit::Metre,
        }),
        write_in: units,
        snap_mm,
        name: a.name.clone().unwrap_or_else(stem),
        section: match units {
            Units::Mm => "{ square = { side = 40, wall = 3 }, material = \"S235\" }".into(),
            Units::Inch => "{ square = { side = \"1 1/2\", wall = \"1/8\" }, material = \"S235\" }".into(),
        },
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
                    "wrote {}; fill in the section, look at the dimensions, then: holdtrue check {}",
                    path.display(),
                    path.display()
                )?;
            }
        }
        None => out.write_all(made.toml.as_bytes())?,
    }
    Ok(())
}

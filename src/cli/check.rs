//! `check`: what was understood.

use super::args::{CheckArgs, Common};
use super::exit::Stop;
use super::{draw, files};
use crate::fault;
use crate::output::view::View;
use crate::output::{frame_drawing, understood, units};
use crate::plan;
use std::io::Write;

pub fn run(a: &CheckArgs, common: &Common, out: &mut dyn Write, err: &mut dyn Write) -> Result<(), Stop> {
    if let Some(path) = &a.out {
        draw::ending(path)?;
        files::free(path, common.force)?;
    }
    let mut file = files::read_frame(&a.frame, &a.shop.load()?.own_materials())?;
    if let Some(u) = common.units {
        file.frame.units = u.into();
    }
    let parts = plan::parts(&file.frame).map_err(|f| files::faults(&f, &file.text, &file.path))?;
    files::warn(&file, &parts.warnings, common, err);
    let text =
        understood::understood(&file.frame, &parts.joints, &parts.seams, &parts.passes, files::width());
    out.write_all(text.as_bytes())?;
    if !common.quiet {
        for (code, words, place) in &parts.passes.warnings {
            writeln!(out, "{code} {place}: {}", file.frame.units.sentence(words))?;
            if let Some((_, title, help)) = fault::CODES.iter().find(|c| c.0 == *code) {
                writeln!(out, "      {title}: {help}")?;
            }
        }
    }
    let Some(path) = &a.out else { return Ok(()) };
    let f = &file.frame;
    let up = f.setups.first().map_or(f.up, |s| s.up);
    let mut drawing =
        frame_drawing::weld_map(f, &parts.joints, &parts.seams, View::ThreeQuarter, up, draw::SIZE_MM);
    units::picture(&mut drawing, f.units);
    draw::put_out(&drawing, path, common, out, err)
}

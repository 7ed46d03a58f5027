//! `compare`: common orders and the planned one side by side.

use super::args::{Common, PlanCommon};
use super::exit::Stop;
use super::files;
use crate::output::why;
use crate::plan;
use std::io::Write;

pub fn run(a: &PlanCommon, common: &Common, out: &mut dyn Write, err: &mut dyn Write) -> Result<(), Stop> {
    let (file, made) = super::plan::make(a, common, err)?;
    let rows = plan::compare(&made).map_err(|f| files::faults(&f, &file.text, &file.path))?;
    out.write_all(why::side_by_side(&made, &rows, files::width()).as_bytes())?;
    Ok(())
}

//! `tack`: the tack half of a plan, as a document of its own.

use super::args::{Common, FromArg, PlanArgs};
use super::exit::{Exit, Stop};
use super::plan::make;
use crate::output::{tack_json, tack_sheet};
use std::io::Write;

pub fn run(a: &PlanArgs, common: &Common, out: &mut dyn Write, err: &mut dyn Write) -> Result<(), Stop> {
    if matches!(a.common.from, FromArg::WeldOut) {
        let words =
            "error: `tack` begins with loose tubes; a tacked frame is planned with `plan --from weld-out`";
        return Err(Stop::new(Exit::Usage, words.to_string()));
    }
    a.sheets.free(common)?;
    let (_, plan) = make(&a.common, common, err)?;
    a.sheets.put_out_as(tack_sheet::sheet(&plan, ""), || tack_json::json(&plan), &plan, common, out, err)
}

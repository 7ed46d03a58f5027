//! `job shop` and `job recover`.

use super::args::{RecoverArgs, ShopAct, ShopArgs};
use super::words;
use crate::cli::exit::Stop;
use crate::job::shop::Shop;
use crate::journal::{self, ShopFile};
use std::io::Write;

pub fn run(a: &ShopArgs, out: &mut dyn Write) -> Result<(), Stop> {
    let file = ShopFile::at(a.shop.as_deref()).map_err(words::stop)?;
    match a.act.unwrap_or(ShopAct::Show) {
        ShopAct::Show => {
            let shop = file.load().map_err(words::stop)?;
            writeln!(out, "{}", file.path().display())?;
            factors(&shop, out)?;
            for j in &shop.jobs {
                let out_word = if j.left_out { ", left out" } else { "" };
                writeln!(
                    out,
                    "  job {}, plan {}, finished {}, {} readings{out_word}",
                    j.name,
                    j.plan_id,
                    words::clock(j.finished),
                    j.readings
                )?;
            }
        }
        ShopAct::Reset => match file.reset().map_err(words::stop)? {
            Some(kept) => writeln!(out, "begun anew; what was in it is in {}", kept.display())?,
            None => writeln!(out, "begun: {}", file.path().display())?,
        },
    }
    Ok(())
}

/// The factors in force, one line each.
pub fn factors(shop: &Shop, out: &mut dyn Write) -> Result<(), Stop> {
    let f = shop.factors();
    if f.common.jobs == 0 && !f.common.by_hand && f.kinds.is_empty() {
        writeln!(out, "  no job has taught this shop anything yet: everything pulls as modelled")?;
        return Ok(());
    }
    writeln!(out, "  {}", f.common.words("all joints"))?;
    for (kind, k) in &f.kinds {
        writeln!(out, "  {}", k.words(kind))?;
    }
    Ok(())
}

pub fn recover(a: &RecoverArgs, out: &mut dyn Write) -> Result<(), Stop> {
    let done = journal::recover(&a.from, &a.to).map_err(words::stop)?;
    writeln!(out, "{} records saved in {}", done.kept, a.to.display())?;
    if !done.lost.is_empty() {
        let lines: Vec<String> = done.lost.iter().map(usize::to_string).collect();
        writeln!(
            out,
            "lines that could not be read: {}; a note stands in their place: check against the frame what they may \
             have said",
            lines.join(", ")
        )?;
    }
    Ok(())
}

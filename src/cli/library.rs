//! `materials`, `processes`, `codes`, `schema`: what the program carries with it.

use super::args::{SchemaArgs, SchemaOf, ShopFrom};
use super::exit::Stop;
use crate::{fault, library, output};
use std::io::Write;

pub fn materials(a: &ShopFrom, out: &mut dyn Write) -> Result<(), Stop> {
    let own = a.load()?.own_materials();
    for m in library::materials().iter().chain(&own) {
        let also = match own.contains(m) {
            true => " (the shop's own)".into(),
            false if m.aliases.is_empty() => String::new(),
            false => format!(" (also {})", m.aliases.join(", ")),
        };
        writeln!(out, "{}{also}", m.name)?;
        writeln!(
            out,
            "  E {:.0} MPa, yield {:.0} MPa, {:.1}e-6 /K, {:.0} kg/m³, {:.0} J/(kg·K), {:.0} W/(m·K)",
            m.e_mpa,
            m.yield_mpa,
            m.alpha_per_k * 1e6,
            m.density_kg_m3,
            m.specific_heat_j_kgk,
            m.conductivity_w_mk
        )?;
        writeln!(
            out,
            "  interpass under {:.0} °C, start at {:.0} °C or above",
            m.interpass_c, m.min_start_c
        )?;
        for (value, source) in &m.sources {
            writeln!(out, "    {value}: {source}")?;
        }
    }
    Ok(())
}

pub fn processes(out: &mut dyn Write) -> Result<(), Stop> {
    for p in library::processes() {
        writeln!(
            out,
            "{:>3}  {}  k {:.2}, deposition {:.0} %",
            p.number,
            p.name,
            p.k,
            100.0 * p.deposition_efficiency
        )?;
        for (value, source) in &p.sources {
            writeln!(out, "       {value}: {source}")?;
        }
    }
    Ok(())
}

pub fn codes(out: &mut dyn Write) -> Result<(), Stop> {
    for (code, title, text) in fault::CODES {
        writeln!(out, "{code}  {title}\n      {text}")?;
    }
    Ok(())
}

pub fn schema(a: &SchemaArgs, out: &mut dyn Write) -> Result<(), Stop> {
    match a.of {
        SchemaOf::Plan => out.write_all(output::json::schema().as_bytes())?,
        SchemaOf::Frame => out.write_all(crate::frame::SCHEMA.as_bytes())?,
        SchemaOf::Tack => out.write_all(output::tack_json::schema().as_bytes())?,
    }
    Ok(())
}

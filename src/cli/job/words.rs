//! Errors, times and tables of a job in words.

use crate::cli::exit::{Exit, Stop};
use crate::job::{Item, Job, Outlook, Refused, When};
use crate::journal::Error;
use crate::units::{Units, signed, trim};
use std::io::{self, ErrorKind};

/// An error of the record as a reason to stop.
pub fn stop(e: Error) -> Stop {
    let exit = match &e {
        Error::Busy { .. } => Exit::Busy,
        Error::Io { source, .. } => of_disk(source),
        Error::Unsure { .. } => Exit::Io,
        Error::NotAJob { .. } | Error::Damaged { .. } | Error::NewerFormat { .. } | Error::Shop { .. } => {
            Exit::BadInput
        }
        Error::NotFinite => Exit::Internal,
        Error::NoHome => Exit::NoInput,
        Error::Refused(_) => Exit::Usage,
    };
    Stop::new(exit, said(&e.to_string(), e.help()))
}

/// A record that could not be begun: an output that cannot be created, unless the disk is full.
pub fn not_begun(e: Error) -> Stop {
    let full = matches!(&e, Error::Io { source, .. } if source.kind() == ErrorKind::StorageFull);
    let stop = stop(e);
    let exit = if stop.exit == Exit::Io && !full { Exit::CannotCreate } else { stop.exit };
    Stop::new(exit, stop.words)
}

/// A refusal as a reason to stop.
pub fn refused(r: Refused) -> Stop {
    stop(Error::Refused(r))
}

/// Several refusals at once.
pub fn all_refused(list: Vec<Refused>) -> Stop {
    let words: Vec<String> = list.into_iter().map(|r| said(&r.what, r.help)).collect();
    Stop::new(Exit::Usage, words.join("\n"))
}

fn said(what: &str, help: Option<String>) -> String {
    match help {
        Some(h) => format!("error: {what}\nhelp: {h}"),
        None => format!("error: {what}"),
    }
}

fn of_disk(e: &io::Error) -> Exit {
    match e.kind() {
        ErrorKind::NotFound | ErrorKind::IsADirectory => Exit::NoInput,
        ErrorKind::AlreadyExists => Exit::CannotCreate,
        _ => Exit::Io,
    }
}

/// A line with its number (if it stands on the sheet in force), label and words.
pub fn line(job: &Job, item: &Item, units: Units) -> String {
    let on_sheet = job.card().items.iter().find(|i| i.label == item.label);
    let number = on_sheet.map_or("–".to_string(), |i| i.number.to_string());
    format!("{number:>4}  {:<12} {}", item.label, units.sentence(&item.words()))
}

/// A root gap: what is small must not vanish.
pub fn gap(mm: f64, units: Units) -> String {
    match units {
        Units::Mm => format!("{} mm", trim(mm, 1)),
        Units::Inch => units.band(mm),
    }
}

/// How far a clamp was moved.
pub fn moved(mm: f64, units: Units) -> String {
    match units {
        Units::Mm => format!("{} mm", signed(mm)),
        Units::Inch => units.sentence(&format!("{mm:+} mm")),
    }
}

/// A length that was typed, as mm.
pub fn length(typed: &str, units: Units, what: &str) -> Result<f64, Stop> {
    let size = typed.trim().replace('−', "-");
    units.read(size.strip_prefix('+').unwrap_or(&size)).ok_or_else(|| {
        let like = match units {
            Units::Mm => "1.5",
            Units::Inch => "1/16 or 0.06",
        };
        refused(Refused::new(format!("\"{typed}\" is no {what}"), format!("write it like {like}")))
    })
}

/// How far the job has come.
pub fn so_far(job: &Job) -> String {
    let (done, all) = job.passes_done();
    let open = job.open().len();
    format!("{done} of {all} passes welded, {open} line{} open", if open == 1 { "" } else { "s" })
}

/// Minutes as people say them.
pub fn minutes(m: f64) -> String {
    if m <= 0.0 { "now".into() } else { format!("in {:.0} min", m.ceil()) }
}

/// Time of day on this machine's clock.
pub fn clock(t: When) -> String {
    jiff::tz::TimeZone::system().to_datetime(t).strftime("%Y-%m-%d %H:%M").to_string()
}

/// The end of every control before and after: `names` are the two heads. Values are deviations from
/// nominal with one standard deviation.
pub fn outlook(job: &Job, units: Units, names: [&str; 2], before: &[[f64; 2]], after: &[[f64; 2]]) -> String {
    let mut rows =
        vec![["control".to_string(), "tol. ±".into(), names[0].into(), names[1].into(), String::new()]];
    for ((c, b), a) in job.header.controls.iter().zip(before).zip(after) {
        let say = c.figures(units);
        let value = |v: &[f64; 2]| format!("{} ± {}{}", say.change(v[0]), say.spread(v[1]), say.unit());
        let beyond = if a[0].abs() > c.tolerance { "out of tolerance" } else { "" };
        rows.push([c.name.clone(), say.band(c.tolerance), value(b), value(a), beyond.into()]);
    }
    table(&rows)
}

/// As [`outlook`], from what the readings say before and after the last one.
pub fn forecasts(list: &[Outlook], after: bool) -> Vec<[f64; 2]> {
    let pick = |o: &Outlook| if after { o.after } else { o.before };
    list.iter().map(|o| [pick(o).deviation, pick(o).scatter]).collect()
}

/// Why nothing is foreseen for the dimensions of this frame.
pub fn no_pull(job: &Job) -> String {
    let passes = job.passes_done().1;
    if job.header.controls.is_empty() {
        return "this frame names no dimensions that must come out true: there is nothing to foresee".into();
    }
    format!(
        "this frame has {passes} passes; above {} no pull is predicted: readings are held against the tolerance alone, \
         nothing is learnt from them, and a re-plan is at best chosen among a few orders by a model that ranks only. \
         Plan the frame in parts to learn how far it moves",
        crate::plan::PULL_LIMIT_PASSES
    )
}

/// Columns side by side, two blanks between them.
pub fn table<const N: usize>(rows: &[[String; N]]) -> String {
    let wide: Vec<usize> =
        (0..N).map(|c| rows.iter().map(|r| r[c].chars().count()).max().unwrap_or(0)).collect();
    let mut out = String::new();
    for row in rows {
        let cells: Vec<String> = row.iter().zip(&wide).map(|(t, w)| format!("{t:<w$}")).collect();
        out.push_str(format!("  {}", cells.join("  ")).trim_end());
        out.push('\n');
    }
    out
}

//! The weld record: what was really done to a frame, for the file and for whoever inspects it.

use super::facts;
use super::plots::{Curve, Plot, draw};
use super::sheet::{Block, Column, Sheet, Table, Title};
use crate::job::{
    ControlCard, Cut, Deed, DeedKind, Event, Figures, Floor, GateState, Item, Job, Reading, Said, Task, When,
    deviations,
};
use crate::units::{self, Units};
use std::collections::BTreeMap;

/// The weld record of a job, finished or not, in the units of the floor's frame. `said`: what the readings say, if a pull is predicted;
/// `date`: printed as given; `say`: how a moment is written.
pub fn report(
    job: &Job,
    floor: &Floor,
    said: Option<&Said>,
    date: &str,
    say: &dyn Fn(When) -> String,
) -> Sheet {
    let card = job.card();
    let title = Title {
        frame: format!("Weld record: {}", job.header.name),
        plan_id: card.plan_id.clone(),
        revision: card.revision,
        date: date.into(),
        program: format!("holdtrue {}", env!("CARGO_PKG_VERSION")),
        find_again: format!("{} {} seed {}", job.header.name, card.plan_id, job.header.seed),
    };
    let (spring, turns) = floor.cautions_of(job);
    let parts = &floor.parts;
    let facts = facts::of_parts(&floor.frame, &parts.seams, &parts.passes, spring, turns);
    let mut sheet = Sheet::new(title, &facts);
    let r = Report { job, floor, said, say, before_c: floor.bench().before_c(job) };
    sheet.cover = r.cover();
    sheet.further = r.further();
    super::units::put(&mut sheet, floor.frame.units);
    sheet
}

struct Report<'a> {
    job: &'a Job,
    floor: &'a Floor,
    said: Option<&'a Said>,
    say: &'a dyn Fn(When) -> String,
    before_c: BTreeMap<u64, f64>,
}

impl Report<'_> {
    fn figures(&self, c: &ControlCard) -> Figures {
        c.figures(self.floor.frame.units)
    }

    fn cover(&self) -> Vec<Block> {
        let mut out = vec![Block::Words(self.summary())];
        if !self.job.header.controls.is_empty() {
            out.push(Block::Table(self.dimensions()));
            out.push(Block::Words(
                "Deviations from nominal. Foreseen: the first plan's prediction with one standard deviation. Last \
                 reading: the last one after the last weld that was laid. Barely: by less than the reading error."
                    .into(),
            ));
        }
        out.push(Block::Heading("Deviations from the sheet".into()));
        let list = deviations(self.job, &self.before_c, self.say);
        if list.is_empty() {
            out.push(Block::Words("None were recorded.".into()));
        }
        out.extend(list.into_iter().map(Block::Words));
        if !self.job.notes.is_empty() {
            out.push(Block::Heading("Notes".into()));
            let notes = self.job.notes.iter().map(|(t, text)| format!("{}: {text}", (self.say)(*t)));
            out.extend(notes.map(Block::Words));
        }
        out.push(Block::Table(signatures()));
        out
    }

    fn further(&self) -> Vec<Block> {
        let mut out = vec![];
        if self.job.cards.len() > 1 {
            out.push(Block::Table(self.revisions()));
        }
        if !self.job.deeds.is_empty() {
            out.push(Block::Table(self.as_done()));
            out.push(Block::Words(
                "Heat input: net, efficiency of the process included (EN 1011-1), from the settings named. \
                 Before: what the heat model says of the joint at the start of the pass, not a reading."
                    .into(),
            ));
        }
        if !self.job.readings.is_empty() {
            out.push(Block::Table(self.readings()));
            let plots: Vec<Block> =
                (0..self.job.header.controls.len()).filter_map(|c| self.course(c)).collect();
            out.extend(plots);
        }
        if !self.job.temperatures.is_empty() {
            out.push(Block::Table(self.temperatures()));
        }
        if !self.job.gaps.is_empty() {
            out.push(Block::Table(self.gaps()));
        }
        if let Some(said) = self.said.filter(|s| s.judged.iter().any(|j| j.1.usable)) {
            let words: Vec<String> = said
                .belief
                .kind_factors()
                .iter()
                .map(|(kind, f, sd)| format!("{kind} {f:.2} ± {sd:.2}"))
                .collect();
            out.push(Block::Words(format!(
                "Shrinkage as the readings have it (1 = as modelled in the first plan): {}.",
                words.join(", ")
            )));
        }
        out
    }

    fn summary(&self) -> String {
        let job = self.job;
        let say = self.say;
        let (done, all) = job.passes_done();
        let end = match job.finished {
            Some(t) => format!("finished {}", say(t)),
            None => "not finished".into(),
        };
        let revision = match job.revision() {
            0 => "The first plan was never changed.".to_string(),
            n => format!(
                "Revision {n} is in force (plan {}); every sheet of an earlier revision is void.",
                job.card().plan_id
            ),
        };
        let gate = match job.gate() {
            GateState::None => "",
            GateState::Shut { .. } => " Weld-out is not released: readings as tacked are missing.",
            GateState::Open => " All dimensions were read as tacked.",
            GateState::Passed { unread } if unread.is_empty() => " All dimensions were read before weld-out.",
            GateState::OpenedWithout(_) | GateState::Passed { .. } => {
                " Weld-out was begun without all as-tacked readings."
            }
        };
        format!(
            "What was done, as it was entered while welding; nothing here was inspected by the program. Begun {}, {end}. \
             {done} of {all} passes welded. {revision}{gate} Frame file {} (SHA-256 {}), made with {}.",
            say(job.header.began),
            job.header.frame_file,
            short(&job.header.frame_sha256),
            job.header.program
        )
    }

    fn dimensions(&self) -> Table {
        let job = self.job;
        let mut columns = vec![Column::words("Dimension")];
        columns.extend(
            ["Nominal", "Tol. ±", "Set to", "Foreseen", "As tacked", "Last reading"].map(Column::numbers),
        );
        columns.push(Column::words("Result"));
        let rows = job.header.controls.iter().enumerate().map(|(r, c)| {
            let write = self.figures(c);
            let value = |x: Option<&Reading>| x.map_or("–".to_string(), |x| write.change(x.deviation));
            let last = self.last(r);
            let result = match last {
                None => "not read",
                Some(x) if x.deviation.abs() > c.tolerance => "OUT",
                Some(x) if x.deviation.abs() + x.error > c.tolerance => "in, barely",
                Some(_) => "in",
            };
            vec![
                c.name.clone(),
                format!("{}{}", write.value(c.nominal), write.unit()),
                write.band(c.tolerance),
                write.change(c.set_to),
                format!("{} ± {}", write.change(c.residual), write.spread(c.scatter)),
                value(self.as_tacked(r)),
                value(last),
                result.into(),
            ]
        });
        Table { title: "Dimensions that must come out true".into(), columns, rows: rows.collect() }
    }

    /// Deeds before the first pass.
    fn tacking(&self) -> usize {
        let pass = |d: &Deed| matches!(&d.kind, DeedKind::Laid { label, .. } if self.job.item(label).is_some_and(Item::is_pass));
        self.job.deeds.iter().position(pass).unwrap_or(self.job.deeds.len())
    }

    fn as_tacked(&self, control: usize) -> Option<&Reading> {
        let begun = self.tacking();
        self.job.readings.iter().rev().find(|r| r.control == control && r.after <= begun && !r.replaced)
    }

    /// The last reading after the last weld metal was laid or cut.
    fn last(&self, control: usize) -> Option<&Reading> {
        let weld = |d: &Deed| matches!(d.kind, DeedKind::Laid { .. } | DeedKind::Cut(_));
        let after = self.job.deeds.iter().rposition(weld)? + 1;
        self.job.readings.iter().rev().find(|r| r.control == control && r.after >= after)
    }

    fn revisions(&self) -> Table {
        let job = self.job;
        let first =
            vec!["0".into(), job.header.card.plan_id.clone(), (self.say)(job.header.began), String::new()];
        let later = job.records.iter().filter_map(|r| match &r.event {
            Event::Replanned { card, why, .. } => {
                Some(vec![card.revision.to_string(), card.plan_id.clone(), (self.say)(r.at), why.clone()])
            }
            _ => None,
        });
        let mut rows: Vec<Vec<String>> = std::iter::once(first).chain(later).collect();
        let last = rows.len() - 1;
        for (n, row) in rows.iter_mut().enumerate() {
            row.push(if n == last { "in force" } else { "void" }.into());
        }
        let columns = ["Revision", "Plan", "When", "Why", "Sheet"].map(Column::words).to_vec();
        Table { title: "Revisions of the plan".into(), columns, rows }
    }

    fn as_done(&self) -> Table {
        let mut columns = vec![Column::numbers("No.")];
        columns.extend(["When", "What", "Clock", "Pos."].map(Column::words));
        let [speed, heat] = match self.floor.frame.units {
            Units::Mm => ["mm/s", "kJ/mm"],
            Units::Inch => ["in/min", "kJ/in"],
        };
        columns.extend(["A", "V", speed, heat, "min", "Before"].map(Column::numbers));
        columns.push(Column::words("Remarks"));
        let mut rows = vec![];
        for d in &self.job.deeds {
            rows.push(self.deed(rows.len() + 1, d));
        }
        days(&mut rows, 1);
        Table { title: "What was done, in order".into(), columns, rows }
    }

    fn deed(&self, number: usize, d: &Deed) -> Vec<String> {
        let when = d.when.map_or("unknown".to_string(), self.say);
        // Who entered it, where it was a person and not just the terminal.
        let by = self.job.records.iter().find(|r| r.n == d.n).map_or("", |r| r.by.as_str());
        let by = if by == "terminal" { "" } else { by };
        let plain = |what: String, remark: &str| {
            let mut row = vec![number.to_string(), when.clone(), what];
            row.extend(std::iter::repeat_n(String::new(), 8));
            row.push(together(&[remark, by]));
            row
        };
        let (label, forward, settings, again) = match &d.kind {
            DeedKind::Laid { label, forward, settings, again } => (label, *forward, settings, *again),
            DeedKind::Cut(Cut::Seam(n) | Cut::Tack(n)) => return plain(format!("{n} cut out"), ""),
            DeedKind::Clamped(c) => return plain(format!("clamp {c} on"), ""),
            DeedKind::Released(c) => return plain(format!("clamp {c} off"), ""),
            DeedKind::Turned(s) => return plain(format!("turned: {s}"), ""),
            DeedKind::Shifted { clamp, along, by_mm } => {
                return plain(format!("clamp {clamp} moved {} mm along {along}", units::signed(*by_mm)), "");
            }
        };
        let gone = self.job.standing(label) != crate::job::Standing::Done;
        let gone = if gone { "not there any more" } else { "" };
        let twice = if again { "laid again" } else { "" };
        match self.job.item(label).map(|i| &i.task) {
            Some(Task::Pass {
                clock_from,
                clock_to,
                position,
                forward: sheet,
                volts,
                amps,
                speed_mm_s,
                energy_j,
                arc_s,
                ..
            }) => {
                let used = settings.clone().unwrap_or_default();
                let (energy, arc) = used.scaled(*volts, *amps, *speed_mm_s, *energy_j, *arc_s);
                let reversed = forward != *sheet;
                let clock = if reversed {
                    format!("{clock_to} → {clock_from}")
                } else {
                    format!("{clock_from} → {clock_to}")
                };
                let passes = &self.floor.parts.passes.passes;
                let length = passes.iter().find(|p| &p.label == label).map_or(f64::NAN, |p| p.length_mm);
                let speed = if used.speed_mm_s.is_none() && used.arc_s.is_some() {
                    length / arc
                } else {
                    used.speed_mm_s.unwrap_or(*speed_mm_s)
                };
                let (per_s, per_mm, digits) = match self.floor.frame.units {
                    Units::Mm => (1.0, 1.0, 2),
                    Units::Inch => (60.0 / units::MM_PER_INCH, units::MM_PER_INCH, 1),
                };
                let before = self.before_c.get(&d.n).map_or(String::new(), |c| units::celsius(*c));
                vec![
                    number.to_string(),
                    when,
                    label.clone(),
                    clock,
                    // Turned round, vertical up becomes vertical down.
                    match (reversed, position.as_str()) {
                        (true, "PF") => "PG".into(),
                        (true, "PG") => "PF".into(),
                        _ => position.clone(),
                    },
                    units::trim(used.amps.unwrap_or(*amps), 0),
                    units::trim(used.volts.unwrap_or(*volts), 1),
                    units::trim(speed * per_s, 1),
                    units::trim(energy / length / 1000.0 * per_mm, digits),
                    units::trim(arc / 60.0, 2),
                    before,
                    together(&[
                        twice,
                        if reversed { "against the sheet" } else { "" },
                        if settings.is_some() { "other settings" } else { "" },
                        gone,
                        by,
                    ]),
                ]
            }
            Some(Task::Tack { clock, .. }) => {
                let mut row = plain(format!("tack {label}"), &together(&[twice, gone]));
                row[3].clone_from(clock);
                row
            }
            _ => plain(label.clone(), ""),
        }
    }

    fn readings(&self) -> Table {
        let mut columns = vec![Column::words("When"), Column::numbers("Passes")];
        columns.push(Column::words("Dimension"));
        columns.extend(["Read", "Reading ±", "Expected", "Tol. ±"].map(Column::numbers));
        columns.extend(["How", "What it said"].map(Column::words));
        let pass = |d: &&Deed| matches!(&d.kind, DeedKind::Laid { label, .. } if self.job.item(label).is_some_and(Item::is_pass));
        let rows = self.job.readings.iter().map(|r| {
            let c = &self.job.header.controls[r.control];
            let write = self.figures(c);
            let judged = self.said.and_then(|s| s.judged.iter().find(|j| j.0 == r.n)).map(|j| j.1);
            let said = match judged {
                Some(j) => j.verdict.words(),
                None if r.replaced => "replaced by the next reading",
                None => "",
            };
            vec![
                (self.say)(r.at),
                self.job.deeds[..r.after.min(self.job.deeds.len())].iter().filter(pass).count().to_string(),
                c.name.clone(),
                format!("{}{}", write.change(r.deviation), write.unit()),
                write.band(r.error),
                judged.map_or(String::new(), |j| write.change(r.deviation - j.off)),
                write.band(c.tolerance),
                together(&[if r.clamped { "clamped" } else { "free" }, &r.tool]),
                said.into(),
            ]
        });
        let mut rows: Vec<Vec<String>> = rows.collect();
        days(&mut rows, 0);
        Table { title: "Readings, against nominal".into(), columns, rows }
    }

    /// How one control went, by its readings.
    fn course(&self, control: usize) -> Option<Block> {
        let c = &self.job.header.controls[control];
        let pass = |d: &&Deed| matches!(&d.kind, DeedKind::Laid { label, .. } if self.job.item(label).is_some_and(Item::is_pass));
        let laid = |after: usize| {
            self.job.deeds[..after.min(self.job.deeds.len())].iter().filter(pass).count() as f64
        };
        let counted: Vec<&Reading> =
            self.job.readings.iter().filter(|r| r.control == control && !r.replaced).collect();
        if counted.len() < 2 {
            return None;
        }
        let read = counted.iter().map(|r| (laid(r.after), r.deviation)).collect();
        let mut curves = vec![Curve { name: "read".into(), points: read }];
        if let Some(said) = self.said {
            let expected = counted.iter().filter_map(|r| {
                let j = said.judged.iter().find(|j| j.0 == r.n)?;
                Some((laid(r.after), r.deviation - j.1.off))
            });
            curves.push(Curve { name: "expected".into(), points: expected.collect() });
        }
        let write = self.figures(c);
        let (by, word) = match (c.unit.as_str(), self.floor.frame.units) {
            ("deg", _) => (1.0, "°"),
            (_, Units::Mm) => (1.0, "mm"),
            (_, Units::Inch) => (units::MM_PER_INCH, "in"),
        };
        for p in curves.iter_mut().flat_map(|c| &mut c.points) {
            p.1 /= by;
        }
        let drawing = draw(&Plot {
            title: c.name.clone(),
            x_name: "passes welded".into(),
            y_name: format!("against nominal, {word}"),
            curves,
            band: Some((
                -c.tolerance / by,
                c.tolerance / by,
                format!("tolerance ± {}{}", write.band(c.tolerance), write.unit()),
            )),
            size_mm: (91.0, 62.0),
        });
        Some(Block::Picture { drawing, caption: String::new() })
    }

    fn temperatures(&self) -> Table {
        let rows = self.job.temperatures.iter().map(|(joint, c, t)| {
            let limit = self
                .job
                .known()
                .filter_map(|i| match &i.task {
                    Task::Pass { joint: j, under_c, .. } if j == joint => Some(*under_c),
                    _ => None,
                })
                .fold(f64::INFINITY, f64::min);
            let limit = if limit.is_finite() { units::celsius_limit(limit) } else { String::new() };
            vec![(self.say)(*t), joint.clone(), units::celsius(*c), limit]
        });
        let mut columns = ["When", "Joint"].map(Column::words).to_vec();
        columns.extend(["Read", "Interpass limit"].map(Column::numbers));
        Table { title: "Temperatures read".into(), columns, rows: rows.collect() }
    }

    fn gaps(&self) -> Table {
        let rows = self
            .job
            .gaps
            .iter()
            .map(|(joint, mm)| vec![joint.clone(), format!("{} mm", units::trim(*mm, 1))]);
        let columns = vec![Column::words("Joint"), Column::numbers("Gap")];
        Table { title: "Gaps read".into(), columns, rows: rows.collect() }
    }
}

/// Places to sign: a record without a name is nobody's.
fn signatures() -> Table {
    let columns =
        vec![Column::words("Who"), Column::write("Name"), Column::write("Date"), Column::write("Signature")];
    let row = |who: &str| vec![who.to_string(), String::new(), String::new(), String::new()];
    Table {
        title: "To be signed by hand".into(),
        columns,
        rows: vec![row("Welded by"), row("Inspected by a qualified person")],
    }
}

/// The day stands in a column of moments where it changes only.
fn days(rows: &mut [Vec<String>], column: usize) {
    let mut day = String::new();
    for row in rows {
        let Some((d, time)) = row[column].rsplit_once(' ') else { continue };
        if d == day {
            row[column] = time.into();
        } else {
            day = d.into();
        }
    }
}

fn together(parts: &[&str]) -> String {
    parts.iter().filter(|p| !p.is_empty()).copied().collect::<Vec<_>>().join(", ")
}

fn short(sha256: &str) -> String {
    sha256.chars().take(12).collect()
}

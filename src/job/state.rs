//! The state of a job: everything that follows from its records, and nothing else.

use super::card::{Card, Item, Task};
use super::event::{Cut, Event, Header, Record, UsedSettings, When};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// A clock that goes back by more than this between two records is mentioned, s.
const CLOCK_SLACK_S: i64 = 60;

/// One frame being welded.
#[derive(Debug, Clone, PartialEq)]
pub struct Job {
    /// What it began from.
    pub header: Arc<Header>,
    /// Every record, withdrawn ones too.
    pub records: Vec<Record>,
    /// One card for each revision of the plan; the last one is in force.
    pub cards: Vec<Card>,
    /// Lines that are done, by label.
    pub done: BTreeMap<String, Mark>,
    /// Lines that were passed over, by label, with the reason.
    pub skipped: BTreeMap<String, String>,
    /// What was laid, cut, clamped and turned, in the order in which it was done.
    pub deeds: Vec<Deed>,
    /// Ticks that were taken back: label, number of the record that did it.
    pub undone: Vec<(String, u64)>,
    /// Readings of controls, in order.
    pub readings: Vec<Reading>,
    /// Temperatures read: joint, °C, moment.
    pub temperatures: Vec<(String, f64, When)>,
    /// Gaps read: joint, mm.
    pub gaps: Vec<(String, f64)>,
    /// Notes: moment, words.
    pub notes: Vec<(When, String)>,
    /// Weld-outs that were started without the as-tacked readings (by number of the gate): why.
    pub gate_opened: BTreeMap<usize, String>,
    /// When the job was finished.
    pub finished: Option<When>,
    /// What is odd about the record (a clock that went back, a tick that had no effect …).
    pub remarks: Vec<String>,
    /// Every line that ever was on a sheet, by label.
    pub(super) known: BTreeMap<String, Item>,
}

/// A line that is done.
#[derive(Debug, Clone, PartialEq)]
pub struct Mark {
    /// When it was done; `None`: time unknown.
    pub when: Option<When>,
    /// Number of the record that says so.
    pub n: u64,
    /// Who wrote it.
    pub by: String,
    /// How many times it was laid.
    pub times: u32,
    /// Laid against the direction of the sheet (the last time).
    pub reversed: bool,
    /// Settings, if they differed from the sheet (the last time).
    pub settings: Option<UsedSettings>,
}

/// Something that was done to the frame.
#[derive(Debug, Clone, PartialEq)]
pub struct Deed {
    /// Number of its record.
    pub n: u64,
    /// When it was done, as far as is known.
    pub when: Option<When>,
    /// When it was written down.
    pub recorded: When,
    /// What it was.
    pub kind: DeedKind,
}

/// What can be done to a frame.
#[derive(Debug, Clone, PartialEq)]
pub enum DeedKind {
    /// A tack or pass was laid (once more, if it was there already).
    Laid {
        /// Its label.
        label: String,
        /// The direction in which it was laid: along growing arc length (passes only).
        forward: bool,
        /// Settings, if they differed from the sheet.
        settings: Option<UsedSettings>,
        /// Laid over itself.
        again: bool,
    },
    /// Weld metal was taken out.
    Cut(Cut),
    /// A clamp was put on.
    Clamped(String),
    /// A clamp was taken off.
    Released(String),
    /// The frame was turned to this setup.
    Turned(String),
    /// A clamp that is on was moved.
    Shifted {
        /// Its name.
        clamp: String,
        /// Along which direction.
        along: String,
        /// How far, mm.
        by_mm: f64,
    },
}

/// A reading of a control.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// Number of its record.
    pub n: u64,
    /// When it was written down.
    pub at: When,
    /// Index into [`Header::controls`].
    pub control: usize,
    /// Deviation from nominal, in the control's unit.
    pub deviation: f64,
    /// Standard deviation of the reading.
    pub error: f64,
    /// With the clamps closed.
    pub clamped: bool,
    /// With what it was read.
    pub tool: String,
    /// Number of [`Job::deeds`] done before it.
    pub after: usize,
    /// A second reading of the same control at the same moment agrees with it (within three
    /// standard deviations of their difference).
    pub confirmed: bool,
    /// A later reading of the same control at the same moment replaces it.
    pub replaced: bool,
}

/// How a line stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// To be done.
    Open,
    /// Done.
    Done,
    /// Passed over; still to be done.
    Skipped,
}

impl Job {
    /// The job after these records. Never fails: a record that does not fit has no effect and is
    /// mentioned in [`Job::remarks`].
    pub fn fold(header: impl Into<Arc<Header>>, records: Vec<Record>) -> Job {
        let mut job = Job::new(header.into());
        let withdrawn: BTreeSet<u64> = records
            .iter()
            .filter_map(|r| if let Event::Withdrawn { n } = r.event { Some(n) } else { None })
            .collect();
        for record in records {
            job.take(record, &withdrawn);
        }
        job
    }

    /// The job with one more record.
    pub fn and(mut self, record: Record) -> Job {
        if let Event::Withdrawn { .. } = record.event {
            let mut records = std::mem::take(&mut self.records);
            records.push(record);
            return Job::fold(self.header, records);
        }
        self.take(record, &BTreeSet::new());
        self
    }

    fn new(header: Arc<Header>) -> Job {
        let known = header.card.items.iter().map(|i| (i.label.clone(), i.clone())).collect();
        Job {
            cards: vec![header.card.clone()],
            header,
            records: vec![],
            done: BTreeMap::new(),
            skipped: BTreeMap::new(),
            deeds: vec![],
            undone: vec![],
            readings: vec![],
            temperatures: vec![],
            gaps: vec![],
            notes: vec![],
            gate_opened: BTreeMap::new(),
            finished: None,
            remarks: vec![],
            known,
        }
    }

    fn take(&mut self, record: Record, withdrawn: &BTreeSet<u64>) {
        if let Some(last) = self.records.last()
            && record.at.as_second() < last.at.as_second() - CLOCK_SLACK_S
        {
            self.remarks.push(format!(
                "the clock went back between records {} and {}: the order of the record counts, times are doubtful",
                last.n, record.n
            ));
        }
        if !withdrawn.contains(&record.n) {
            self.apply(&record);
        }
        self.records.push(record);
    }

    fn apply(&mut self, record: &Record) {
        match &record.event {
            Event::Started {} | Event::Withdrawn { .. } => {}
            Event::Ticked { label, when, settings, reversed } => {
                if self.done.contains_key(label) {
                    self.odd(record, &format!("{label} was ticked already"));
                } else {
                    self.lay(record, label, *when, settings, *reversed, false);
                }
            }
            Event::Redone { label, when, settings, reversed, .. } => {
                self.lay(record, label, *when, settings, *reversed, true);
            }
            Event::Unticked { label, .. } => self.untick(record, label),
            Event::Skipped { label, why } => {
                self.skipped.insert(label.clone(), why.clone());
            }
            Event::Cut { place, .. } => self.cut(record, place),
            Event::Measured { control, value, error, clamped, tool } => {
                self.read(record, control, *value, *error, *clamped, tool);
            }
            Event::Temperature { joint, value_c } => {
                self.temperatures.push((joint.clone(), *value_c, record.at))
            }
            Event::Moved { clamp, along, by_mm } => {
                let (clamp, along) = (clamp.clone(), along.clone());
                self.deeds.push(Deed {
                    n: record.n,
                    when: Some(record.at),
                    recorded: record.at,
                    kind: DeedKind::Shifted { clamp, along, by_mm: *by_mm },
                });
            }
            Event::Gap { joint, value_mm } => self.gaps.push((joint.clone(), *value_mm)),
            Event::Note { text } => self.notes.push((record.at, text.clone())),
            Event::GateOpened { why } => {
                self.gate_opened.insert(self.gate_in_hand(), why.clone());
            }
            Event::Replanned { card, .. } => {
                for item in &card.items {
                    // The sheet on which it last stood is the one by which it is done.
                    self.known.insert(item.label.clone(), item.clone());
                }
                // A skip was a wish about the old sheet.
                self.skipped.clear();
                self.cards.push(card.clone());
            }
            Event::Finished { .. } => self.finished = Some(record.at),
        }
    }

    fn odd(&mut self, record: &Record, what: &str) {
        self.remarks.push(format!("record {}: {what}; it has no effect", record.n));
    }

    fn lay(
        &mut self,
        record: &Record,
        label: &str,
        when: Option<When>,
        settings: &Option<UsedSettings>,
        reversed: bool,
        again: bool,
    ) {
        let Some(item) = self.item(label).cloned() else {
            return self.odd(record, &format!("{label} is on no sheet of this job"));
        };
        let kind = match &item.task {
            Task::Tack { .. } | Task::Pass { .. } => {
                let forward = !matches!(item.task, Task::Pass { forward: false, .. });
                Some(DeedKind::Laid {
                    label: label.into(),
                    forward: forward != reversed,
                    settings: settings.clone(),
                    again: again && self.done.contains_key(label),
                })
            }
            Task::Clamp { clamp } => Some(DeedKind::Clamped(clamp.clone())),
            Task::Release { clamp, .. } => Some(DeedKind::Released(clamp.clone())),
            Task::Turn { setup } => Some(DeedKind::Turned(setup.clone())),
            Task::Stage { .. }
            | Task::Wait { .. }
            | Task::Hold { .. }
            | Task::VentOpen { .. }
            | Task::VentClose { .. } => None,
        };
        if let Some(kind) = kind {
            self.deeds.push(Deed { n: record.n, when, recorded: record.at, kind });
        }
        self.skipped.remove(label);
        let times = self.done.get(label).map_or(0, |m| m.times) + 1;
        let mark =
            Mark { when, n: record.n, by: record.by.clone(), times, reversed, settings: settings.clone() };
        self.done.insert(label.into(), mark);
    }

    fn untick(&mut self, record: &Record, label: &str) {
        let Some(mark) = self.done.remove(label) else {
            return self.odd(record, &format!("{label} was not ticked"));
        };
        self.undone.push((label.into(), record.n));
        // Everything that this label did since it was last cut out goes: the line was not done.
        let last_cut = self.deeds.iter().rposition(|d| self.takes_out(d, label)).map_or(0, |i| i + 1);
        let mut index = 0;
        self.deeds.retain(|d| {
            index += 1;
            // Clamps and turns may be named on several lines: only the deed of this very tick goes.
            let same = match &d.kind {
                DeedKind::Laid { label: l, .. } => l == label,
                _ => d.n == mark.n,
            };
            !(same && index > last_cut)
        });
        self.count_readings_again();
    }

    /// Whether a deed took out the weld metal of this label.
    pub(super) fn takes_out(&self, deed: &Deed, label: &str) -> bool {
        match &deed.kind {
            DeedKind::Cut(Cut::Seam(seam)) => self.item(label).and_then(Item::seam) == Some(seam),
            DeedKind::Cut(Cut::Tack(tack)) => tack == label,
            _ => false,
        }
    }

    fn cut(&mut self, record: &Record, place: &Cut) {
        let gone: Vec<String> = match place {
            Cut::Tack(label) => vec![label.clone()],
            Cut::Seam(seam) => {
                self.known.values().filter(|i| i.seam() == Some(seam)).map(|i| i.label.clone()).collect()
            }
        };
        let held = gone.iter().filter(|l| self.done.remove(l.as_str()).is_some()).count();
        if held == 0 {
            return self.odd(record, "nothing was welded there");
        }
        self.deeds.push(Deed {
            n: record.n,
            when: Some(record.at),
            recorded: record.at,
            kind: DeedKind::Cut(place.clone()),
        });
    }

    fn read(&mut self, record: &Record, control: &str, value: f64, error: f64, clamped: bool, tool: &str) {
        let Some(index) = self.header.controls.iter().position(|c| c.name == control) else {
            return self.odd(record, &format!("{control} is no control of this frame"));
        };
        self.readings.push(Reading {
            n: record.n,
            at: record.at,
            control: index,
            deviation: value - self.header.controls[index].nominal,
            error,
            clamped,
            tool: tool.into(),
            after: self.deeds.len(),
            confirmed: false,
            replaced: false,
        });
        self.pair_readings();
    }

    /// After deeds were taken back, readings refer to the deeds that are left.
    fn count_readings_again(&mut self) {
        let deeds = &self.deeds;
        for r in &mut self.readings {
            r.after = deeds.iter().filter(|d| d.n < r.n).count();
        }
        self.pair_readings();
    }

    /// Readings of one control at one moment belong together: the last counts.
    fn pair_readings(&mut self) {
        for i in 0..self.readings.len() {
            let r = &self.readings[i];
            let same = |o: &Reading| o.control == r.control && o.after == r.after && o.clamped == r.clamped;
            let agrees = |o: &Reading| (o.deviation - r.deviation).abs() <= 3.0 * r.error.hypot(o.error);
            let confirmed = self.readings[..i].iter().any(|o| same(o) && agrees(o));
            let replaced = self.readings[i + 1..].iter().any(same);
            (self.readings[i].confirmed, self.readings[i].replaced) = (confirmed, replaced);
        }
    }
}

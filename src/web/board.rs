//! What everybody at the page sees: the job as the record has it, how long each pass must wait, how
//! far the frame has pulled, how a re-plan stands. One thread keeps it in step with the file, another
//! works out the pull.

use super::anew::Planning;
use super::pull::Pull;
use crate::job::{Deed, DeedKind, Event, Floor, Job, Reading, UsedSettings, When};
use crate::journal::{Error, Journal, Written};
use crate::output::safety::{self, Caution};
use crate::units::Units;
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::sync::atomic::AtomicBool;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};
use tokio::sync::watch;

/// How often the file is looked at for what others have written.
const LOOK: Duration = Duration::from_millis(250);

/// Longest rest of the thread that works out the pull.
const REST: Duration = Duration::from_secs(2);

/// The job at one moment.
#[derive(Clone)]
pub struct Seen {
    /// The job.
    pub job: Arc<Job>,
    /// When each open pass is cool enough, by label; what is missing can be welded at once.
    pub ready_at: BTreeMap<String, When>,
    /// The models.
    pub floor: Arc<Floor>,
    /// The unit of length in which the page reads and prints.
    pub units: Units,
    /// How far it pulls, as of the record with the number beside it.
    pub pull: Option<(usize, Arc<Pull>)>,
    /// The deferral first, then the cautions of the plan in force.
    pub cautions: Arc<Vec<Caution>>,
    /// What is wrong with the record, in words.
    pub trouble: Option<String>,
    /// A re-plan that was begun at the page.
    pub planning: Planning,
}

impl Seen {
    /// Differs whenever there is something new to be seen.
    pub fn revision(&self) -> String {
        let records = self.job.records.len();
        let pull = self.pull.as_ref().map_or(0, |p| p.0 + 1);
        let trouble = self.trouble.as_ref().map_or(0, |t| 1 + t.len());
        format!("{records}.{pull}.{trouble}.{}", self.planning.mark())
    }

    /// Welders at work on this job.
    pub fn welders(&self) -> usize {
        self.floor.frame.shop.welders
    }

    /// Seconds until a pass is cool enough; 0 = now.
    pub fn wait_s(&self, label: &str, now: When) -> f64 {
        self.ready_at.get(label).map_or(0.0, |at| at.duration_since(now).as_secs_f64().max(0.0))
    }
}

/// The job that is served.
pub struct Board {
    journal: Mutex<Journal>,
    pub(super) seen: watch::Sender<Arc<Seen>>,
    wake: Mutex<Sender<()>>,
    /// Set while a re-plan runs: true asks it to take the best order so far.
    pub(super) planning: Mutex<Option<Arc<AtomicBool>>>,
    /// Tells this job from others: the first digits of a checksum of what it began from.
    pub job_id: String,
}

impl Board {
    /// Begin to serve a job: its models are built here. `units`: none takes those of the frame file.
    ///
    /// # Errors
    /// The frame in the record cannot be read; in words.
    pub fn open(journal: Journal, units: Option<Units>) -> Result<Arc<Board>, String> {
        let job = Arc::new(journal.job().clone());
        let floor = Arc::new(floor(&job)?);
        let ready_at = ready(&floor, &job);
        let first = Seen {
            ready_at,
            units: units.unwrap_or(floor.frame.units),
            floor,
            pull: None,
            cautions: Arc::new(cautions(&job)),
            trouble: None,
            planning: Planning::default(),
            job: job.clone(),
        };
        let (seen, _) = watch::channel(Arc::new(first));
        let (wake, woken) = channel();
        let h = &job.header;
        let began = format!("{} {} {}", h.frame_sha256, h.began, h.card.plan_id);
        let job_id = Sha256::digest(began.as_bytes()).iter().take(6).map(|b| format!("{b:02x}")).collect();
        let board = Arc::new(Board {
            journal: Mutex::new(journal),
            seen,
            wake: Mutex::new(wake),
            planning: Mutex::new(None),
            job_id,
        });
        let (pull_wake, pull_woken) = channel();
        let keeper = Arc::downgrade(&board);
        let laid = laid(&job);
        std::thread::spawn(move || keep(&keeper, laid, &woken, &pull_wake));
        let weak = Arc::downgrade(&board);
        std::thread::spawn(move || work_out(&weak, &pull_woken));
        Ok(board)
    }

    /// What is seen now.
    pub fn now(&self) -> Arc<Seen> {
        self.seen.borrow().clone()
    }

    /// To be told of what is new.
    pub fn watch(&self) -> watch::Receiver<Arc<Seen>> {
        self.seen.subscribe()
    }

    /// Write an event down, once for each `id`; it is on the disk when this returns. Blocks.
    ///
    /// # Errors
    /// As [`Journal::append`].
    pub fn enter(&self, event: Event, by: &str, id: &str, now: When) -> Result<(Written, Job), Error> {
        let mut journal = self.journal();
        let written = journal.append_once(event, by, id, now)?;
        let job = journal.job().clone();
        drop(journal);
        let _ = self.wake.lock().unwrap_or_else(PoisonError::into_inner).send(());
        Ok((written, job))
    }

    /// The job as the record has it, and not only as it was last shown.
    pub fn job(&self) -> Job {
        self.journal().job().clone()
    }

    fn journal(&self) -> MutexGuard<'_, Journal> {
        self.journal.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Take in what others wrote. Goes out: what is wrong, in words.
    fn look(&self) -> Option<String> {
        let mut journal = self.journal();
        let length = std::fs::metadata(journal.path()).map(|m| m.len()).ok();
        if length == Some(journal.length()) {
            return None;
        }
        journal.refresh().err().map(|e| super::words::error(&e))
    }
}

/// The thread that keeps what is seen in step with the file.
fn keep(board: &std::sync::Weak<Board>, mut known: AsLaid, woken: &Receiver<()>, pull_wake: &Sender<()>) {
    let _ = pull_wake.send(());
    loop {
        let waited = woken.recv_timeout(LOOK);
        while woken.try_recv().is_ok() {}
        let Some(board) = board.upgrade() else { return };
        // Nobody can wake it any more.
        if waited == Err(std::sync::mpsc::RecvTimeoutError::Disconnected) {
            return;
        }
        let mut trouble = board.look();
        let job = board.job();
        let old = board.now();
        let same = old.job.records.len() == job.records.len()
            && old.job.records.last().map(|r| r.at) == job.records.last().map(|r| r.at);
        if same && trouble == old.trouble {
            continue;
        }
        let laid = laid(&job);
        let mut models = old.floor.clone();
        if laid != known {
            match floor(&job) {
                Ok(f) => models = Arc::new(f),
                Err(why) => trouble = Some(why),
            }
            known = laid;
        }
        let floor = models;
        let ready_at = ready(&floor, &job);
        let cautions = if job.revision() == old.job.revision() {
            old.cautions.clone()
        } else {
            Arc::new(cautions(&job))
        };
        let job = Arc::new(job);
        board.seen.send_modify(|s| {
            let (pull, planning) = (s.pull.clone(), s.planning.clone());
            *s = Arc::new(Seen { job, ready_at, floor, units: s.units, pull, cautions, trouble, planning });
        });
        let _ = pull_wake.send(());
    }
}

/// The thread that works out the pull; it may take seconds on a large frame.
fn work_out(board: &std::sync::Weak<Board>, woken: &Receiver<()>) {
    let mut known: Option<(Moment, Arc<Pull>)> = None;
    while woken.recv().is_ok() {
        while woken.try_recv().is_ok() {}
        let Some(board) = board.upgrade() else { return };
        let seen = board.now();
        let (moment, began) = (Moment::of(&seen), Instant::now());
        // A vent, a note, a wait moves nothing.
        let pull = match known.take() {
            Some((m, pull)) if m.is(&moment) => pull,
            _ => Arc::new(Pull::of(&seen.floor, &seen.job)),
        };
        known = Some((moment, pull.clone()));
        let records = seen.job.records.len();
        board.seen.send_modify(|s| *s = Arc::new(Seen { pull: Some((records, pull)), ..(**s).clone() }));
        drop((board, seen));
        // Half of one core at most: the page and whoever plans beside it come first.
        std::thread::sleep(began.elapsed().min(REST));
    }
}

/// From what the pull follows.
struct Moment {
    models: Arc<Floor>,
    revision: u32,
    deeds: Vec<Deed>,
    readings: Vec<Reading>,
}

impl Moment {
    fn of(seen: &Seen) -> Moment {
        let (models, job) = (seen.floor.clone(), &seen.job);
        Moment { models, revision: job.revision(), deeds: job.deeds.clone(), readings: job.readings.clone() }
    }

    fn is(&self, other: &Moment) -> bool {
        Arc::ptr_eq(&self.models, &other.models)
            && (self.revision, &self.deeds, &self.readings) == (other.revision, &other.deeds, &other.readings)
    }
}

/// Moments at which the open passes are cool enough, as far as they lie ahead.
fn ready(floor: &Floor, job: &Job) -> BTreeMap<String, When> {
    let now = super::words::now();
    let later = |m: f64| now.checked_add(jiff::SignedDuration::from_secs_f64((m * 60.0).min(1e6))).ok();
    let minutes = floor.bench().minutes(job, now);
    minutes.into_iter().filter(|m| m.1 > 0.0).filter_map(|(l, m)| Some((l, later(m)?))).collect()
}

/// The cautions as the plan in force carries them.
fn cautions(job: &Job) -> Vec<Caution> {
    #[derive(serde::Deserialize)]
    struct Plan {
        cautions: Vec<One>,
    }
    #[derive(serde::Deserialize)]
    struct One {
        heading: String,
        text: String,
    }
    let newest = job.records.iter().rev().find_map(|r| match &r.event {
        Event::Replanned { plan, .. } => Some(plan),
        _ => None,
    });
    let plan = serde_json::from_str::<Plan>(newest.unwrap_or(&job.header.plan));
    let of_plan = plan.map_or(vec![], |p| p.cautions);
    if of_plan.is_empty() {
        // No plan text, no frame's own hazards: at least who may decide.
        return vec![safety::deferral()];
    }
    let lines = |text: &str| text.lines().map(str::to_string).collect();
    of_plan.into_iter().map(|c| Caution { lines: lines(&c.text), heading: c.heading, own: false }).collect()
}

/// The models of a job, or why there are none, in words.
pub(super) fn floor(job: &Job) -> Result<Floor, String> {
    Floor::of(job).map_err(|faults| {
        let words: Vec<&str> = faults.iter().map(|f| f.message.as_str()).collect();
        format!("the frame in this record cannot be read: {}", words.join("; "))
    })
}

/// From what the models of a job follow besides its frame: the revision, gaps, and passes that were laid
/// with other settings than those of the sheet or at a gap.
type AsLaid = (u32, Vec<(String, f64)>, Vec<(String, Option<UsedSettings>)>);

fn laid(job: &Job) -> AsLaid {
    let gap = |label: &str| {
        let joint = job.item(label).and_then(|i| i.joint());
        job.gaps.iter().any(|(j, _)| Some(j.as_str()) == joint)
    };
    let other = |k: &DeedKind| match k {
        DeedKind::Laid { label, settings, .. } if settings.is_some() || gap(label) => {
            Some((label.clone(), settings.clone()))
        }
        _ => None,
    };
    (job.revision(), job.gaps.clone(), job.deeds.iter().filter_map(|d| other(&d.kind)).collect())
}

//! What everybody at the page sees: the job as the record has it, how long each pass must wait, how
//! far the frame has pulled. One thread keeps it in step with the file, another works out the pull.

use super::pull::Pull;
use super::{Floor, MakeFloor};
use crate::job::{DeedKind, Event, Job, UsedSettings, When};
use crate::journal::{Error, Journal, Written};
use crate::output::safety::{self, Caution};
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;
use tokio::sync::watch;

/// How often the file is looked at for what others have written.
const LOOK: Duration = Duration::from_millis(250);

/// The job at one moment.
#[derive(Clone)]
pub struct Seen {
    /// The job.
    pub job: Arc<Job>,
    /// When each open pass is cool enough, by label; what is missing can be welded at once.
    pub ready_at: BTreeMap<String, When>,
    /// The models.
    pub floor: Arc<dyn Floor>,
    /// How far it pulls, as of the record with the number beside it.
    pub pull: Option<(usize, Arc<Pull>)>,
    /// The deferral first, then the cautions of the plan in force.
    pub cautions: Arc<Vec<Caution>>,
    /// What is wrong with the record, in words.
    pub trouble: Option<String>,
}

impl Seen {
    /// Differs whenever there is something new to be seen.
    pub fn revision(&self) -> String {
        let records = self.job.records.len();
        let pull = self.pull.as_ref().map_or(0, |p| p.0 + 1);
        format!("{records}.{pull}.{}", self.trouble.as_ref().map_or(0, |t| 1 + t.len()))
    }

    /// Seconds until a pass is cool enough; 0 = now.
    pub fn wait_s(&self, label: &str, now: When) -> f64 {
        self.ready_at.get(label).map_or(0.0, |at| at.duration_since(now).as_secs_f64().max(0.0))
    }
}

/// The job that is served.
pub struct Board {
    journal: Mutex<Journal>,
    seen: watch::Sender<Arc<Seen>>,
    wake: Mutex<Sender<()>>,
    /// Tells this job from others: the first digits of a checksum of what it began from.
    pub job_id: String,
}

impl Board {
    /// Begin to serve a job: its models are built here.
    ///
    /// # Errors
    /// The frame in the record cannot be read; in words.
    pub fn open(journal: Journal, make: MakeFloor) -> Result<Arc<Board>, String> {
        let job = Arc::new(journal.job().clone());
        let floor = make(&job)?;
        let ready_at = ready(&*floor, &job);
        let cautions = Arc::new(cautions(&job));
        let first = Seen { job: job.clone(), ready_at, floor, pull: None, cautions, trouble: None };
        let (seen, _) = watch::channel(Arc::new(first));
        let (wake, woken) = channel();
        let h = &job.header;
        let began = format!("{} {} {}", h.frame_sha256, h.began, h.card.plan_id);
        let job_id = Sha256::digest(began.as_bytes()).iter().take(6).map(|b| format!("{b:02x}")).collect();
        let board = Arc::new(Board { journal: Mutex::new(journal), seen, wake: Mutex::new(wake), job_id });
        let (pull_wake, pull_woken) = channel();
        let keeper = Arc::downgrade(&board);
        std::thread::spawn(move || keep(&keeper, &make, &woken, &pull_wake));
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
fn keep(board: &std::sync::Weak<Board>, make: &MakeFloor, woken: &Receiver<()>, pull_wake: &Sender<()>) {
    let mut settings: Vec<(String, UsedSettings)> = vec![];
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
        let job = board.journal().job().clone();
        let old = board.now();
        let same = old.job.records.len() == job.records.len()
            && old.job.records.last().map(|r| r.at) == job.records.last().map(|r| r.at);
        if same && trouble == old.trouble {
            continue;
        }
        let used = used(&job);
        let mut floor = old.floor.clone();
        if used != settings {
            match make(&job) {
                Ok(f) => floor = f,
                Err(why) => trouble = Some(why),
            }
            settings = used;
        }
        let ready_at = ready(&*floor, &job);
        let cautions = if job.revision() == old.job.revision() {
            old.cautions.clone()
        } else {
            Arc::new(cautions(&job))
        };
        let job = Arc::new(job);
        board.seen.send_modify(|s| {
            *s = Arc::new(Seen { job, ready_at, floor, pull: s.pull.clone(), cautions, trouble });
        });
        let _ = pull_wake.send(());
    }
}

/// The thread that works out the pull; it may take seconds on a large frame.
fn work_out(board: &std::sync::Weak<Board>, woken: &Receiver<()>) {
    while woken.recv().is_ok() {
        while woken.try_recv().is_ok() {}
        let Some(board) = board.upgrade() else { return };
        let seen = board.now();
        let pull = Arc::new(Pull::of(&*seen.floor, &seen.job));
        let records = seen.job.records.len();
        board.seen.send_modify(|s| *s = Arc::new(Seen { pull: Some((records, pull)), ..(**s).clone() }));
    }
}

/// Moments at which the open passes are cool enough, as far as they lie ahead.
fn ready(floor: &dyn Floor, job: &Job) -> BTreeMap<String, When> {
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

fn used(job: &Job) -> Vec<(String, UsedSettings)> {
    let with = |k: &DeedKind| match k {
        DeedKind::Laid { label, settings: Some(s), .. } => Some((label.clone(), s.clone())),
        _ => None,
    };
    job.deeds.iter().filter_map(|d| with(&d.kind)).collect()
}

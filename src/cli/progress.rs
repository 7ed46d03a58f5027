//! Progress of the search on standard error, and Ctrl-C as "stop and give me the best so far".

use crate::plan::{Effort, Watch};
use std::sync::OnceLock;
use std::sync::atomic::{AtomicBool, Ordering};

/// Set by Ctrl-C. A handler can be installed once per process only.
static STOP: AtomicBool = AtomicBool::new(false);
static HANDLER: OnceLock<()> = OnceLock::new();

pub struct Progress {
    #[cfg(feature = "prompt")]
    bar: Option<indicatif::ProgressBar>,
}

impl Progress {
    /// A bar on standard error; none if `quiet`, when standard error is no terminal (indicatif is
    /// silent there) or when there is nothing to search.
    pub fn new(quiet: bool, effort: Effort) -> Self {
        STOP.store(false, Ordering::Relaxed);
        HANDLER.get_or_init(|| {
            // Without a handler Ctrl-C ends the program as usual: nothing is lost but the search.
            let _ = ctrlc::set_handler(|| {
                if STOP.swap(true, Ordering::Relaxed) {
                    std::process::exit(130);
                }
            });
        });
        let _ = (quiet, effort);
        Progress {
            #[cfg(feature = "prompt")]
            bar: (!quiet && effort != Effort::Rules).then(|| {
                let bar = indicatif::ProgressBar::new(1000);
                let style =
                    indicatif::ProgressStyle::with_template("looking for a better order {bar:30} {msg}");
                bar.set_style(style.expect("the template is fixed and sound"));
                bar
            }),
        }
    }

    /// What the search is given.
    pub fn watch(&self) -> Watch<'_> {
        Watch {
            stop: &STOP,
            progress: Box::new(|done: f64, best: f64| {
                #[cfg(feature = "prompt")]
                if let Some(bar) = &self.bar {
                    bar.set_position((done * 1000.0) as u64);
                    bar.set_message(format!("best so far {best:.3}; Ctrl-C takes it"));
                }
                #[cfg(not(feature = "prompt"))]
                let _ = (done, best);
            }),
        }
    }

    /// Take the bar away.
    pub fn done(&self) {
        #[cfg(feature = "prompt")]
        if let Some(bar) = &self.bar {
            bar.finish_and_clear();
        }
    }
}

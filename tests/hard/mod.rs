//! Faults, floods and fools: whatever goes in, what comes out is an answer.
//!
//! Every target runs a fixed number of rounds from a fixed seed, the same on every machine.
//! `HOLDTRUE_FUZZ_S=600` goes on for so many seconds per target, `HOLDTRUE_SEED=7` begins elsewhere; the
//! seed of a round that fails is printed, and `HOLDTRUE_SEED` with it repeats the round first.

pub mod bytes;
pub mod dice;
mod faults;
mod frames;
mod limits;
pub mod record;

use std::time::{Duration, Instant};

/// A round that takes longer is told with its seed.
const SLOW: Duration = Duration::from_secs(20);

/// Runs a target: `rounds` of them, or as long as the variable says. A panic is told with its seed.
pub fn rounds(name: &str, rounds: u64, target: impl Fn(u64)) {
    let number = |v| std::env::var(v).ok().and_then(|s: String| s.parse::<u64>().ok());
    let first = number("HOLDTRUE_SEED").unwrap_or(1);
    let long = number("HOLDTRUE_FUZZ_S").map(Duration::from_secs);
    let began = Instant::now();
    let mut done = 0;
    loop {
        match long {
            None if done >= rounds => return,
            Some(long) if began.elapsed() > long => {
                eprintln!("{name}: {done} rounds from seed {first}");
                return;
            }
            _ => {}
        }
        let seed = first + done;
        let round_began = Instant::now();
        let round = std::panic::AssertUnwindSafe(|| target(seed));
        if let Err(panic) = std::panic::catch_unwind(round) {
            eprintln!("{name}: HOLDTRUE_SEED={seed} fails");
            std::panic::resume_unwind(panic);
        }
        if round_began.elapsed() > SLOW {
            eprintln!("{name}: HOLDTRUE_SEED={seed} took {:.0} s", round_began.elapsed().as_secs_f64());
        }
        done += 1;
    }
}

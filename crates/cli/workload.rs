//! How much work a command may do: effort and threads as typed.

use crate::{Failure, Result};
use rayon::{ThreadPool, ThreadPoolBuilder};

/// Steps of [`panelwright_nesting::Budget`] for an effort of 1.
const STEPS_PER_EFFORT: f64 = 1_000_000.0;

/// More threads than this only get in each other's way.
const MOST_THREADS: usize = 256;

/// Steps for an effort above 0 and up to `most`; at least one.
///
/// # Errors
/// Another effort.
pub fn steps(effort: f64, most: u32) -> Result<u64> {
    if effort > 0.0 && effort <= f64::from(most) {
        return Ok((effort * STEPS_PER_EFFORT).max(1.0) as u64);
    }
    let what = format!("the effort is {effort}");
    let advice = format!("give a number above 0, up to {most}");
    Err(Failure::new("--effort", what, advice))
}

/// Threads to work on; `None` for those that are there, one per core.
///
/// # Errors
/// A number that makes no sense, or more than the system gives.
pub fn pool(threads: Option<usize>) -> Result<Option<ThreadPool>> {
    let Some(threads) = threads else {
        return Ok(None);
    };
    if !(1..=MOST_THREADS).contains(&threads) {
        let what = format!("the number of threads is {threads}");
        let advice = format!("give 1 to {MOST_THREADS}");
        return Err(Failure::new("--threads", what, advice));
    }
    let made = ThreadPoolBuilder::new().num_threads(threads).build();
    let made = made.map_err(|e| Failure::new("--threads", e.to_string(), "give a smaller number"));
    made.map(Some)
}

/// Does the work on these threads.
pub fn on<T: Send>(pool: Option<&ThreadPool>, work: impl FnOnce() -> T + Send) -> T {
    match pool {
        None => work(),
        Some(pool) => pool.install(work),
    }
}

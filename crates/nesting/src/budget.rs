//! How long a search may take, and how it is watched and stopped.

use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

/// Seed and limits of a search.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Budget {
    /// Seed of every random choice.
    pub seed: u64,
    /// Work to spend, in steps of roughly one microsecond on one 2020s desktop core.
    ///
    /// Steps are counted, not timed, so the same problem, seed and steps give the same nest on any
    /// machine and on any number of threads.
    pub steps: u64,
    /// Stop after this time even if steps are left. Gives up repeatability.
    pub limit: Option<Duration>,
}

impl Default for Budget {
    /// Seed 1, four seconds of work on one core, no time limit.
    fn default() -> Self {
        Self {
            seed: 1,
            steps: 4_000_000,
            limit: None,
        }
    }
}

/// What a search tells while it runs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Progress {
    /// Share of the budget used, 0 to 1.
    pub done: f64,
    /// Spend of the best nest so far; infinite while there is none.
    pub spend: f64,
    /// Proven least spend.
    pub least_spend: f64,
    /// Pieces of stock in the best nest so far.
    pub sheets: usize,
    /// Copies that the best nest leaves out.
    pub missing: u32,
}

/// Receives a [`Progress`] now and then, from any thread.
type Listener<'a> = dyn Fn(Progress) + Sync + 'a;

/// Stops and watches a running search. Shared between threads.
#[derive(Default)]
pub struct Control<'a> {
    cancel: Option<&'a AtomicBool>,
    deadline: Option<Instant>,
    listener: Option<&'a Listener<'a>>,
    whole_first: bool,
}

impl<'a> Control<'a> {
    /// Neither stopped nor watched.
    #[must_use]
    pub fn none() -> Self {
        Self::default()
    }

    /// Stops, keeping the best nest so far, once `flag` is set.
    #[must_use]
    pub fn with_cancel(mut self, flag: &'a AtomicBool) -> Self {
        self.cancel = Some(flag);
        self
    }

    /// Stops, keeping the best nest so far, at `deadline`.
    #[must_use]
    pub fn with_deadline(mut self, deadline: Option<Instant>) -> Self {
        self.deadline = deadline;
        self
    }

    /// Calls `listener` now and then.
    #[must_use]
    pub fn with_listener(mut self, listener: &'a Listener<'a>) -> Self {
        self.listener = Some(listener);
        self
    }

    /// Lets nothing stop the search before it has one whole nest, or as much of one as there is stock for. By the free-form
    /// search that comes from hulls and takes milliseconds; the search for the saw spends all of its steps.
    #[must_use]
    pub fn with_whole_first(mut self) -> Self {
        self.whole_first = true;
        self
    }

    /// The same without the listener: stops when this does.
    pub(crate) fn unwatched(&self) -> Control<'a> {
        Control {
            listener: None,
            ..*self
        }
    }

    /// Whether the search should end now with the best it has.
    #[must_use]
    pub fn stopped(&self) -> bool {
        !self.whole_first && self.told_to_stop()
    }

    /// Whether something wants a search stopped that has a whole nest.
    pub(crate) fn told_to_stop(&self) -> bool {
        self.cancel.is_some_and(|flag| flag.load(Ordering::Relaxed))
            || self
                .deadline
                .is_some_and(|deadline| Instant::now() >= deadline)
    }

    /// Whether one whole nest comes first in any case.
    pub(crate) fn wants_whole_first(&self) -> bool {
        self.whole_first
    }

    /// Passes `progress` on.
    pub fn report(&self, progress: Progress) {
        if let Some(listener) = self.listener {
            listener(progress);
        }
    }
}

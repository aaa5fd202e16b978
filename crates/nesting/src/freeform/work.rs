//! How much work is done, and whether to go on.

use crate::{Budget, Control, Progress};
use std::time::{Duration, Instant};

/// Looks at one convex area that make up one step of the budget, which is about a microsecond.
pub(super) const LOOKS_PER_STEP: u64 = 32;

/// Longer time limits are none: shares of them must be told in seconds.
const LONGEST: Duration = Duration::from_secs(u32::MAX as u64);

/// What stops a search from outside.
pub(super) struct Watch<'a> {
    /// Cancelled, watched.
    pub control: &'a Control<'a>,
    begin: Instant,
    limit: Option<Duration>,
    /// What of the whole search was done before, and the share that this is of it.
    done: (f64, f64),
    /// Whether there is no whole nest yet.
    none_yet: bool,
}

impl<'a> Watch<'a> {
    /// Starts the clock of `budget`.
    pub fn new(budget: &Budget, control: &'a Control<'a>) -> Self {
        Self {
            control,
            begin: Instant::now(),
            limit: budget.limit.map(|limit| limit.min(LONGEST)),
            done: (0.0, 1.0),
            none_yet: false,
        }
    }

    /// For the next part of the search that this is the clock of: at most the share `next` of the time
    /// left, and `done` of the work is done before it and `share` of it in it.
    pub fn part(&self, next: f64, done: f64, share: f64) -> Self {
        let elapsed = self.begin.elapsed();
        Self {
            control: self.control,
            begin: Instant::now(),
            limit: self.limit.map(|l| l.saturating_sub(elapsed).mul_f64(next)),
            done: (done, share),
            none_yet: false,
        }
    }

    /// The same while there is no whole nest: nothing stops that where one has to come first.
    pub fn until_whole(&self) -> Self {
        Self {
            none_yet: true,
            ..*self
        }
    }

    /// The same with only this share of what is left of the time limit.
    pub fn shortened(&self, share: f64) -> Self {
        let elapsed = self.begin.elapsed();
        Self {
            limit: self
                .limit
                .map(|l| elapsed.min(l) + l.saturating_sub(elapsed).mul_f64(share)),
            ..*self
        }
    }

    /// Passes on how far this part of the search is.
    pub fn report(&self, progress: Progress) {
        self.control.report(Progress {
            done: self.done.0 + self.done.1 * progress.done,
            ..progress
        });
    }

    /// Whether to end now.
    pub fn stopped(&self) -> bool {
        if self.none_yet && self.control.wants_whole_first() {
            return false;
        }
        self.control.told_to_stop() || self.limit.is_some_and(|l| self.begin.elapsed() >= l)
    }

    /// So much of what is left of the time limit; `None` without one.
    pub fn limit_left(&self, share: f64) -> Option<Duration> {
        let elapsed = self.begin.elapsed();
        self.limit.map(|l| l.saturating_sub(elapsed).mul_f64(share))
    }

    /// Share of the time limit that is over; 0 without one.
    pub fn share_of_time(&self) -> f64 {
        self.limit.map_or(0.0, |l| {
            self.begin.elapsed().as_secs_f64() / l.as_secs_f64().max(1e-9)
        })
    }
}

/// Work done by one worker and the most it may do.
#[derive(Debug, Clone, Copy)]
pub(super) struct Work {
    looks: u64,
    most: u64,
}

impl Work {
    /// Nothing done yet, of at most `steps`.
    pub fn of_steps(steps: u64) -> Self {
        Self {
            looks: 0,
            most: steps.saturating_mul(LOOKS_PER_STEP),
        }
    }

    /// Counts looks at convex areas.
    pub fn add(&mut self, looks: u64) {
        self.looks = self.looks.saturating_add(looks);
    }

    /// Counts steps.
    pub fn add_steps(&mut self, steps: u64) {
        self.add(steps.saturating_mul(LOOKS_PER_STEP));
    }

    /// Work of at most `steps`, and no more than is left here; to be given back with [`Work::join`].
    pub fn split(&self, steps: u64) -> Self {
        let left = self.most.saturating_sub(self.looks);
        Self {
            looks: 0,
            most: left.min(steps.saturating_mul(LOOKS_PER_STEP)),
        }
    }

    /// Counts the work done on a part split off.
    pub fn join(&mut self, done: &Self) {
        self.add(done.looks);
    }

    /// Steps left.
    pub fn left(&self) -> u64 {
        self.most.saturating_sub(self.looks) / LOOKS_PER_STEP
    }

    /// Steps done.
    pub fn steps(&self) -> u64 {
        self.looks / LOOKS_PER_STEP
    }

    /// Whether all is used up.
    pub fn spent(&self) -> bool {
        self.looks >= self.most
    }
}

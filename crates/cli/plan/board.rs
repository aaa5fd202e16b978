//! How the search stands over all groups of a job.

use super::{Done, Status, Watcher};
use panelwright_nesting::Progress;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Mutex, MutexGuard, PoisonError};

/// Adds up what the groups report.
pub struct Board<'a> {
    state: Mutex<Vec<Option<Progress>>>,
    shares: Vec<f64>,
    /// Runs in all, and those that are over.
    runs: usize,
    over: AtomicUsize,
    watch: Option<&'a Watcher<'a>>,
}

impl<'a> Board<'a> {
    /// For groups of these weights, by index; one without weight has nothing to do.
    pub fn new(weights: &[f64], runs: usize, watch: Option<&'a Watcher<'a>>) -> Self {
        let whole: f64 = weights.iter().sum();
        let idle = Progress {
            done: 1.0,
            spend: 0.0,
            least_spend: 0.0,
            sheets: 0,
            missing: 0,
        };
        Self {
            state: Mutex::new(
                weights
                    .iter()
                    .map(|w| (*w == 0.0).then_some(idle))
                    .collect(),
            ),
            shares: weights
                .iter()
                .map(|w| w / whole.max(f64::MIN_POSITIVE))
                .collect(),
            runs,
            over: AtomicUsize::new(0),
            watch,
        }
    }

    /// Whether anybody is told.
    pub fn is_watched(&self) -> bool {
        self.watch.is_some()
    }

    /// A run is over, and another one of the same order begins.
    pub fn next_run(&self) {
        self.over.fetch_add(1, Ordering::Relaxed);
        self.tell();
    }

    /// Tells of a nest that was found unwatched.
    pub fn found(&self, done: &Done) {
        let missing = done.nest.not_placed.iter().map(|n| n.quantity).sum();
        let progress = Progress {
            done: 0.0,
            spend: done.nest.spend(&done.problem),
            least_spend: 0.0,
            sheets: done.nest.layouts.len(),
            missing,
        };
        self.update(done.index, progress);
    }

    pub fn update(&self, group: usize, progress: Progress) {
        self.lock()[group] = Some(progress);
        self.tell();
    }

    fn lock(&self) -> MutexGuard<'_, Vec<Option<Progress>>> {
        // A listener that panicked leaves nothing half-done here.
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn tell(&self) {
        let Some(watch) = self.watch else { return };
        let status = {
            let state = self.lock();
            let known = state.iter().flatten();
            let spend: Option<f64> = state
                .iter()
                .map(|p| p.map(|p| p.spend).filter(|s| s.is_finite()))
                .sum();
            // Only the first run tells how far it is.
            let done = match self.over.load(Ordering::Relaxed) {
                0 => state
                    .iter()
                    .zip(&self.shares)
                    .map(|(p, share)| share * p.map_or(0.0, |p| p.done.clamp(0.0, 1.0)))
                    .sum(),
                over => over as f64,
            };
            Status {
                done: done / self.runs as f64,
                spend,
                least_spend: known.map(|p| p.least_spend).sum(),
            }
        };
        watch(status);
    }
}

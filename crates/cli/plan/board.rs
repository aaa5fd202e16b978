//! How the search stands over all groups of a job.

use super::{Done, Status, Watcher};
use panelwright_nesting::Progress;
use std::sync::Mutex;

/// Adds up what the groups report.
pub struct Board<'a> {
    state: Mutex<Vec<Option<Progress>>>,
    shares: Vec<f64>,
    watch: Option<&'a Watcher<'a>>,
}

impl<'a> Board<'a> {
    pub fn new(groups: usize, weights: &[f64], watch: Option<&'a Watcher<'a>>) -> Self {
        let whole: f64 = weights.iter().sum();
        Self {
            state: Mutex::new(vec![None; groups]),
            shares: weights.iter().map(|w| w / whole).collect(),
            watch,
        }
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
        let Some(watch) = self.watch else { return };
        let status = {
            // A listener that panicked leaves nothing half-done here.
            let mut state = self
                .state
                .lock()
                .unwrap_or_else(std::sync::PoisonError::into_inner);
            state[group] = Some(progress);
            let known = state.iter().flatten();
            let spend: Option<f64> = state
                .iter()
                .map(|p| p.map(|p| p.spend).filter(|s| s.is_finite()))
                .sum();
            Status {
                done: state
                    .iter()
                    .zip(&self.shares)
                    .map(|(p, share)| share * p.map_or(0.0, |p| p.done.clamp(0.0, 1.0)))
                    .sum(),
                spend,
                least_spend: known.map(|p| p.least_spend).sum(),
            }
        };
        watch(status);
    }
}

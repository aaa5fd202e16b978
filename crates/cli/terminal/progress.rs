//! Progress of a long search.

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressState, ProgressStyle};
use std::fmt::Write;
use std::time::Duration;

/// Parts that the whole is counted in.
const WHOLE: u64 = 1000;

/// Before so much is done, what is left is guesswork.
const LEAST_SHARE: f64 = 0.01;

/// How the time that is left is known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Left {
    /// From the share that is done: the work is counted in steps of much the same length.
    ByShare,
    /// From the clock: the work ends after so long.
    ByClock(Duration),
}

impl Left {
    fn time(self, done: f64, elapsed: Duration) -> Option<Duration> {
        match self {
            Self::ByClock(limit) => Some(limit.saturating_sub(elapsed)),
            Self::ByShare if done >= LEAST_SHARE => {
                Some(elapsed.mul_f64((1.0 - done).max(0.0) / done))
            }
            Self::ByShare => None,
        }
    }
}

/// A bar on standard error that says how much is done, how long it will take and what was found so far. It leaves nothing behind.
#[derive(Debug)]
pub struct Progress {
    bar: ProgressBar,
    left: Left,
}

impl Progress {
    pub(super) fn new(what: &'static str, left: Left, shown: bool) -> Self {
        let target = if shown {
            ProgressDrawTarget::stderr()
        } else {
            ProgressDrawTarget::hidden()
        };
        let style = ProgressStyle::with_template("{prefix} {wide_bar} {percent:>3} %  {left}{msg}")
            .unwrap_or_else(|_| ProgressStyle::default_bar())
            .with_key("left", move |state: &ProgressState, w: &mut dyn Write| {
                let done = share(left, state.fraction().into(), state.elapsed());
                if let Some(left) = left.time(done, state.elapsed()) {
                    let _ = write!(w, "{} left", clock(left));
                }
            });
        let bar = ProgressBar::with_draw_target(Some(WHOLE), target)
            .with_style(style)
            .with_prefix(what);
        if shown {
            bar.enable_steady_tick(Duration::from_millis(200));
        }
        Self { bar, left }
    }

    /// Tells that so much is done, from 0 to 1.
    pub fn done(&self, done: f64) {
        let done = share(self.left, done, self.bar.elapsed());
        self.bar.set_position((done * WHOLE as f64) as u64);
    }

    /// Tells what was found so far, in a few words.
    pub fn found(&self, words: &str) {
        self.bar.set_message(format!("  {words}"));
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        self.bar.finish_and_clear();
    }
}

/// What is done of the whole: of the time where time decides.
fn share(left: Left, done: f64, elapsed: Duration) -> f64 {
    match left {
        Left::ByShare => done.clamp(0.0, 1.0),
        Left::ByClock(limit) => (elapsed.as_secs_f64() / limit.as_secs_f64().max(1e-3)).min(1.0),
    }
}

/// Minutes and seconds, or hours and minutes.
fn clock(time: Duration) -> String {
    let seconds = time.as_secs_f64().ceil() as u64;
    if seconds >= 3600 {
        format!("{} h {:02} min", seconds / 3600, seconds / 60 % 60)
    } else {
        format!("{}:{:02}", seconds / 60, seconds % 60)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn time_left_by_share_and_by_clock() {
        let ten = Duration::from_secs(10);
        assert_eq!(Left::ByShare.time(0.0, ten), None);
        assert_eq!(Left::ByShare.time(0.25, ten), Some(Duration::from_secs(30)));
        assert_eq!(Left::ByShare.time(1.0, ten), Some(Duration::ZERO));
        let limited = Left::ByClock(Duration::from_secs(60));
        assert_eq!(limited.time(0.9, ten), Some(Duration::from_secs(50)));
        assert_eq!(limited.time(0.9, ten * 7), Some(Duration::ZERO));
        assert_eq!(share(limited, 0.9, ten * 3), 0.5);
    }

    #[test]
    fn times_as_a_clock_shows_them() {
        assert_eq!(clock(Duration::from_millis(400)), "0:01");
        assert_eq!(clock(Duration::from_secs(75)), "1:15");
        assert_eq!(clock(Duration::from_secs(3600 * 3 + 61)), "3 h 01 min");
    }
}

//! Proven bounds, for a result to be read against.

use crate::{Layout, Problem};

/// A spend that no nest of the whole problem can beat.
#[must_use]
pub fn least_spend(_problem: &Problem) -> f64 {
    0.0
}

/// A yield of `layout`'s stock that no layout of the problem's parts on it can beat.
#[must_use]
pub fn yield_ceiling(_problem: &Problem, _stock: usize) -> f64 {
    1.0
}

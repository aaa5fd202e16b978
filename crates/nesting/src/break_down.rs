//! Sawing a sheet into blanks that fit a machine's bed.

use crate::{BreakDown, SawRules, Stock};

/// Ways to saw `stock` into blanks that fit `bed` (length, width).
#[must_use]
pub fn break_downs(_stock: &Stock, _bed: (f64, f64), _saw: &SawRules) -> Vec<BreakDown> {
    Vec::new()
}

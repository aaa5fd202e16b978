//! The guillotine search for the panel saw.

use crate::{Budget, Control, Nest, Problem, SawRules};

/// Searches for the nest of least spend within `budget`.
#[must_use]
pub fn search(_problem: &Problem, _rules: &SawRules, _budget: &Budget, _control: &Control) -> Nest {
    Nest::default()
}

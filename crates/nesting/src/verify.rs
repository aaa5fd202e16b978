//! The independent judge.

use crate::{Nest, Problem};
use thiserror::Error;

/// Something wrong with a nest.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum Fault {
    /// Placeholder.
    #[error("placeholder")]
    Placeholder,
}

/// Everything that is wrong with `nest` as an answer to `problem`; empty when it may be cut.
#[must_use]
pub fn judge(_problem: &Problem, _nest: &Nest) -> Vec<Fault> {
    Vec::new()
}

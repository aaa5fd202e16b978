//! Whether an outline can be cut.

use crate::Outline;
use thiserror::Error;

/// Why an outline cannot be cut.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum InvalidOutline {
    /// Placeholder.
    #[error("placeholder")]
    Placeholder,
}

/// Checks that an outline can be cut as it is.
///
/// # Errors
/// The first reason found.
pub fn validate(_outline: &Outline) -> Result<(), InvalidOutline> {
    Ok(())
}

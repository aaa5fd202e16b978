//! What can be wrong with a problem.

use thiserror::Error;

/// Why a problem could not be nested at all. Running out of steps or stock is no error: the nest
/// then says what is missing.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum NestError {
    /// A length of the rules is negative, not finite or absurd.
    #[error("the {what} is {value} mm; it must be between 0 and 100 m")]
    BadLength {
        /// Which one.
        what: &'static str,
        /// The value given.
        value: f64,
    },
    /// The gap leaves no room for the tool between two parts.
    #[error("the gap of {gap} mm is below the kerf of {kerf} mm: the tool would cut both parts")]
    GapBelowKerf {
        /// The gap.
        gap: f64,
        /// The kerf.
        kerf: f64,
    },
    /// A trim cut narrower than the blade would leave the blade half in the air.
    #[error(
        "a trim of {trim} mm is below the blade's kerf of {kerf} mm; use 0 or at least the kerf"
    )]
    TrimBelowKerf {
        /// The trim.
        trim: f64,
        /// The kerf.
        kerf: f64,
    },
    /// Without a stage no cut can be made; a sheet that is only trimmed takes one as well.
    #[error("the saw has 0 stages; it must be at least 1, or no limit")]
    NoStages,
    /// A part that cannot be cut as given.
    #[error("part '{part}': {reason}")]
    BadPart {
        /// Its name.
        part: String,
        /// What is wrong.
        reason: String,
    },
    /// Stock that cannot be used as given.
    #[error("stock '{stock}': {reason}")]
    BadStock {
        /// Its name.
        stock: String,
        /// What is wrong.
        reason: String,
    },
    /// A part pinned where it cannot be cut, or pinned at all where that is not possible.
    #[error("'{part}', pinned on '{stock}': {reason}")]
    BadPinned {
        /// The part's name.
        part: String,
        /// The stock's name.
        stock: String,
        /// What is wrong.
        reason: String,
    },
    /// The judge refused what the search found: a bug in the search. Nothing of it is handed out.
    #[error("the judge refused the nest: {}", .0.join("; "))]
    Rejected(Vec<String>),
}

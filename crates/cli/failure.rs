//! The one error a person sees: where, what, and what to do.

use std::fmt;
use std::path::Path;

/// Why the program stopped. Printed as `place: what; advice`, followed by exit code 2.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Failure {
    /// File, and line, key, entity or part within it; or the argument. Empty when what is wrong says it.
    pub place: String,
    /// What is wrong, with the value.
    pub what: String,
    /// What to do about it.
    pub advice: String,
}

/// What fallible functions of the program return.
pub type Result<T, E = Failure> = std::result::Result<T, E>;

impl Failure {
    /// A failure at `place`.
    pub fn new(
        place: impl Into<String>,
        what: impl Into<String>,
        advice: impl Into<String>,
    ) -> Self {
        Self {
            place: place.into(),
            what: what.into(),
            advice: advice.into(),
        }
    }

    /// A failure in a file, at `place` within it (empty for the whole file).
    pub fn in_file(
        file: &Path,
        place: impl AsRef<str>,
        what: impl Into<String>,
        advice: impl Into<String>,
    ) -> Self {
        let place = match place.as_ref() {
            "" => file.display().to_string(),
            place => format!("{}: {place}", file.display()),
        };
        Self::new(place, what, advice)
    }
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if !self.place.is_empty() {
            write!(f, "{}: ", self.place)?;
        }
        write!(f, "{}", self.what)?;
        if !self.advice.is_empty() {
            write!(f, "; {}", self.advice)?;
        }
        Ok(())
    }
}

impl std::error::Error for Failure {}

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
            what: brief(what.into()),
            advice: brief(advice.into()),
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
            place => format!("{}: {}", file.display(), brief(place.to_owned())),
        };
        Self::new(place, what, advice)
    }

    /// The same, of what was read from `file`.
    #[must_use]
    pub fn within(self, file: &Path) -> Self {
        Self::in_file(file, self.place, self.what, self.advice)
    }
}

/// `text` with the middle of very long words left out, such as a number of 300 digits or a name that somebody pasted a
/// file into: an error is to be read at a glance.
fn brief(text: String) -> String {
    /// No path or name that is meant is longer.
    const LONGEST: usize = 200;
    /// What stays of them at either end.
    const HEAD: usize = 60;
    const TAIL: usize = 20;
    if text.len() <= LONGEST {
        return text;
    }
    let shortened = |word: &str| -> String {
        let letters: Vec<char> = word.chars().collect();
        if letters.len() <= LONGEST {
            return word.to_owned();
        }
        let head: String = letters[..HEAD].iter().collect();
        let tail: String = letters[letters.len() - TAIL..].iter().collect();
        format!("{head}...{tail}")
    };
    let words: Vec<String> = text.split(' ').map(shortened).collect();
    words.join(" ")
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_error_stays_readable_whatever_was_given() {
        let huge = format!("the value is {}", 1e300);
        let long = "x".repeat(100_000);
        let failure = Failure::in_file(
            Path::new("kit.json"),
            format!("parts[0] '{long}'"),
            huge,
            "give less",
        );
        let said = failure.to_string();
        assert!(said.len() < 300, "{said}");
        assert!(said.starts_with("kit.json: parts[0] 'xxx") && said.contains("the value is 1000"));
        let usual = Failure::new("order.json", "a word ".repeat(60), "");
        assert_eq!(usual.what, "a word ".repeat(60));
    }
}

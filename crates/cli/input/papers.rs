//! The `papers` section of the shop file.

use crate::paper::{Language, Lengths, Paper};
use serde::Deserialize;

/// How papers are written. Everything may be left out.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Papers {
    /// Language of all texts: `en` or `de`.
    pub language: Language,
    /// Unit of lengths: `mm`, `inch`, or `inch/32` for fractions.
    pub lengths: Lengths,
}

impl Papers {
    /// What papers need of it.
    #[must_use]
    pub fn paper(&self) -> Paper {
        Paper {
            language: self.language,
            lengths: self.lengths,
        }
    }
}

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
    /// What labels are printed on.
    pub labels: LabelSettings,
}

/// What labels are printed on: a `stock` by its name, or one of the shop's own by its sizes; see
/// [`crate::input::LabelStock`]. Pairs go across and down, in the unit of the shop file.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct LabelSettings {
    /// Name of a stock that is known, such as `a4-3x7`.
    pub stock: Option<String>,
    /// Size of a page.
    pub page: Option<[f64; 2]>,
    /// Labels side by side; 1 when not given.
    pub columns: Option<u32>,
    /// Labels below each other; 1 when not given.
    pub rows: Option<u32>,
    /// Size of a label.
    pub size: Option<[f64; 2]>,
    /// Room left of and above the first label; such that all are in the middle when not given.
    pub margin: Option<[f64; 2]>,
    /// From the corner of a label to that of the next; without gaps when not given.
    pub pitch: Option<[f64; 2]>,
    /// The first label of a used sheet that is still there, counted from 1 along the rows.
    pub first: Option<u32>,
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

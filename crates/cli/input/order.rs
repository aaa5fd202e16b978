//! The order file: which kits, how many, of which materials.

use serde::Deserialize;
use std::collections::BTreeMap;

/// An order file as written.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OrderFile {
    /// Always `panelwright-order-1`.
    pub format: String,
    /// Name or number of the order.
    pub order: String,
    /// Shop file, relative to this file.
    pub shop: String,
    /// Day it must leave, for papers.
    #[serde(default)]
    pub due: Option<String>,
    /// Whole kits.
    #[serde(default)]
    pub kits: Vec<KitLine>,
    /// Single parts: spares, replacements.
    #[serde(default)]
    pub parts: Vec<PartLine>,
    /// Which material fills which role.
    #[serde(default)]
    pub roles: BTreeMap<String, String>,
    /// Other materials that an estimate tries for a role, each in place of the one in `roles`.
    #[serde(default)]
    pub alternatives: BTreeMap<String, Vec<String>>,
}

/// So many of a kit.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct KitLine {
    /// Kit file, relative to this file.
    pub kit: String,
    /// How many kits.
    pub quantity: u32,
    /// What comes first when stock is short: the higher number.
    #[serde(default)]
    pub priority: i32,
}

/// So many of one part of a kit.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PartLine {
    /// Kit file, relative to this file.
    pub kit: String,
    /// The part's name in it.
    pub part: String,
    /// How many.
    pub quantity: u32,
    /// As that of a kit.
    #[serde(default)]
    pub priority: i32,
}

//! The order file: which kits, how many, of which materials.

use super::{Checker, json};
use crate::Result;
use serde::Deserialize;
use std::collections::BTreeMap;
use std::path::Path;

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
    /// Day it must leave, `YYYY-MM-DD`, for papers.
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

impl OrderFile {
    /// Reads an order file; what papers and the rack know it by is checked.
    ///
    /// # Errors
    /// As for [`json`]; the order has no name, `due` is no day, or an entry names no file.
    pub fn read(path: &Path) -> Result<Self> {
        let order: Self = json(path, "panelwright-order-1")?;
        let check = Checker { file: path };
        check.name("order", &order.order)?;
        if let Some(due) = &order.due {
            check.day("due", due)?;
        }
        // An empty name would mean the folder of the order.
        check.file_name("shop", &order.shop)?;
        for (i, line) in order.kits.iter().enumerate() {
            check.file_name(&format!("kits[{i}].kit"), &line.kit)?;
        }
        for (i, line) in order.parts.iter().enumerate() {
            check.file_name(&format!("parts[{i}].kit"), &line.kit)?;
        }
        Ok(order)
    }
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

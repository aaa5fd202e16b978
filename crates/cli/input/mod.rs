//! Input files as they are written. [`crate::job`] is what becomes of them.

mod check;
mod costing;
mod cutting;
mod feature;
mod kit;
mod label_stock;
mod order;
mod papers;
mod read;
mod remnants;
mod shape;
mod shop;

pub use check::{Checker, DAY_FORM, ShopParts, is_day, shop_parts};
pub use costing::{Buying, Costing, Cutting, MachineCosting, MaterialCosting};
pub use cutting::{
    CutSettings, Direction, DxfForm, Hold, LeadSettings, LeadShape, Lines, SmallParts,
};
pub use feature::{Edge, Feature, Rectangle};
pub use kit::{DrawingRule, GrainWord, KitFile, KitPart, ReliefWord, Route, TurnWord, UseWord};
pub use label_stock::LabelStock;
pub use order::{KitLine, OrderFile, PartLine};
pub use papers::{LabelSettings, Papers};
pub use read::{bytes, closest, json, json_of, nest_bytes, parse, suggestion};
pub use remnants::{RemnantEntry, RemnantsFile};
pub use shape::BadFeature;
pub use shop::{
    CutOften, FirstCutWord, Keep, KeepClear, Labour, Machine, Material, Process, Room, Sheet,
    ShopFile, Substance, TrimCuts,
};

use serde::Deserialize;

/// Unit of the lengths in a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize)]
pub enum Unit {
    /// Millimetres.
    #[default]
    #[serde(rename = "mm")]
    Millimetre,
    /// International inches of exactly 25.4 mm.
    #[serde(rename = "inch")]
    Inch,
}

impl Unit {
    /// Millimetres in one.
    #[must_use]
    pub const fn in_mm(self) -> f64 {
        match self {
            Self::Millimetre => 1.0,
            Self::Inch => 25.4,
        }
    }
}

#[cfg(test)]
mod tests;

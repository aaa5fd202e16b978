//! What left-over material is worth by the keep rule.

use crate::input::Material;
use crate::job::Shop;
use crate::remnant::Remnant;
use panelwright_nesting::KeepRule;

/// Value of a square millimetre of left-over material by its keep rule, in the shop's currency: the
/// rule's share of what it costs in the cheapest sheet (per area) of the material.
///
/// `None` when the shop does not know the material or buys no sheets of it.
#[must_use]
pub fn value_per_area(shop: &Shop, material: &str) -> Option<f64> {
    let keep = shop.materials.iter().find(|m| m.name == material)?.keep;
    shop.sheets
        .iter()
        .filter(|sheet| sheet.material == material && sheet.length * sheet.width > 0.0)
        .map(|sheet| sheet.price / (sheet.length * sheet.width))
        .min_by(f64::total_cmp)
        .map(|price| price * keep.value_share)
}

/// Book value of a left-over of `area` square millimetres by its material's keep rule: its share of
/// a new sheet's price, less what handling it costs, and never below 0.
///
/// `None` when the shop does not know the material or buys no sheets of it.
#[must_use]
pub fn keep_value(shop: &Shop, material: &str, area: f64) -> Option<f64> {
    let handling = shop
        .materials
        .iter()
        .find(|m| m.name == material)?
        .keep
        .handling;
    Some((value_per_area(shop, material)? * area - handling).max(0.0))
}

/// What a remnant is worth: its own value, or by the keep rule.
#[must_use]
pub fn book_value(shop: &Shop, remnant: &Remnant) -> Option<f64> {
    remnant
        .value
        .or_else(|| keep_value(shop, &remnant.material, remnant.outline.area()))
}

/// The keep rule of a material as the searches want it.
#[must_use]
pub fn keep_rule(shop: &Shop, material: &Material) -> KeepRule {
    /// Square millimetres in a square metre.
    const MM2: f64 = 1e6;
    KeepRule {
        least_width: material.keep.least_width,
        least_length: material.keep.least_length,
        value_per_area: value_per_area(shop, &material.name).unwrap_or(0.0),
        handling: material.keep.handling,
        scrap_cost_per_area: (material.disposal_per_m2 - material.recycling_credit_per_m2) / MM2,
    }
}

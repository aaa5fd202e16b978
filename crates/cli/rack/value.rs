//! What left-over material is worth by the keep rule.

use crate::job::Shop;
use crate::remnant::Remnant;

/// Book value of `area` square millimetres of a material by its keep rule, in the shop's currency:
/// the rule's share of what that area costs in the cheapest sheet (per area) of the material.
///
/// `None` when the shop does not know the material or buys no sheets of it.
#[must_use]
pub fn keep_value(shop: &Shop, material: &str, area: f64) -> Option<f64> {
    let keep = shop.materials.iter().find(|m| m.name == material)?.keep;
    shop.sheets
        .iter()
        .filter(|sheet| sheet.material == material && sheet.length * sheet.width > 0.0)
        .map(|sheet| sheet.price / (sheet.length * sheet.width))
        .min_by(f64::total_cmp)
        .map(|price| price * keep.value_share * area)
}

/// What a remnant is worth: its own value, or by the keep rule.
#[must_use]
pub fn book_value(shop: &Shop, remnant: &Remnant) -> Option<f64> {
    remnant
        .value
        .or_else(|| keep_value(shop, &remnant.material, remnant.outline.area()))
}

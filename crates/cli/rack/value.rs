//! What left-over material is worth by the keep rule.

use crate::area::MM2_PER_M2;
use crate::input::{CutOften, Material};
use crate::job::Shop;
use crate::remnant::Remnant;
use panelwright_geometry::Polygon;
use panelwright_nesting::KeepRule;

/// Value of a square millimetre of left-over material by its keep rule, in the shop's currency: the
/// rule's share of what it costs in the cheapest sheet (per area) of the material.
///
/// `None` when the shop does not know the material or buys no sheets of it.
#[must_use]
pub fn value_per_area(shop: &Shop, material: &str) -> Option<f64> {
    let keep = &shop.materials.iter().find(|m| m.name == material)?.keep;
    shop.sheets
        .iter()
        .filter(|sheet| sheet.material == material && sheet.length * sheet.width > 0.0)
        .map(|sheet| sheet.price / (sheet.length * sheet.width))
        .min_by(f64::total_cmp)
        .map(|price| price * keep.value_share)
}

/// Book value of a left-over by its material's keep rule: its share of a new sheet's price for what is
/// inside its edge, less what handling it costs, and never below 0. `area` in square millimetres, `border`
/// the length of its outline and voids.
///
/// `None` when the shop does not know the material or buys no sheets of it.
#[must_use]
pub fn keep_value(shop: &Shop, material: &str, area: f64, border: f64) -> Option<f64> {
    value_per_area(shop, material)?;
    let material = shop.materials.iter().find(|m| m.name == material)?;
    Some(keep_rule(shop, material).value_of(area, border))
}

/// What a remnant is worth: its own value, or by the keep rule.
#[must_use]
pub fn book_value(shop: &Shop, remnant: &Remnant) -> Option<f64> {
    remnant.value.or_else(|| {
        let outline = &remnant.outline;
        keep_value(shop, &remnant.material, outline.area(), border(outline))
    })
}

/// Length of an outline and its voids.
#[must_use]
pub fn border(outline: &Polygon) -> f64 {
    outline.edges().map(|(a, b)| a.distance(b)).sum()
}

/// The keep rule of a material as the searches want it.
#[must_use]
pub fn keep_rule(shop: &Shop, material: &Material) -> KeepRule {
    let keep = &material.keep;
    let with_edge = |often: &CutOften| [often.length, often.width].map(|s| s + 2.0 * keep.edge);
    KeepRule {
        least_width: keep.least_width,
        least_length: keep.least_length,
        or_holds: keep.cut_often.iter().map(with_edge).collect(),
        value_per_area: value_per_area(shop, &material.name).unwrap_or(0.0),
        edge: keep.edge,
        handling: keep.handling,
        scrap_cost_per_area: (material.disposal_per_m2 - material.recycling_credit_per_m2)
            / MM2_PER_M2,
    }
}

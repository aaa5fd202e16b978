//! What is left of a layout, and what it is worth.

use crate::{Layout, Offcut, Problem};

/// The left-overs of a free-form layout.
#[must_use]
pub fn find_offcuts(_problem: &Problem, _layout: &Layout) -> Vec<Offcut> {
    Vec::new()
}

/// What a layout costs: its stock, less the offcuts kept, plus the scrap.
///
/// Scrap is all of the stock that is neither part nor kept offcut, the kerf included.
#[must_use]
pub fn spend_of(problem: &Problem, layout: &Layout) -> f64 {
    let stock = layout.stock(problem);
    let kept: f64 = layout
        .offcuts
        .iter()
        .filter(|o| o.kept)
        .map(|o| o.value)
        .sum();
    let scrap = stock.outline.area() - layout.part_area(problem) - layout.kept_area();
    stock.cost - kept + scrap.max(0.0) * stock.keep.scrap_cost_per_area
}

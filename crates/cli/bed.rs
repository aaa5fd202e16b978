//! How stock, blanks and parts lie on a machine's bed.

use crate::cut_plan::CutSheet;
use crate::input::Machine;
use crate::job::Item;
use panelwright_geometry::{Bounds, Placement, Point, tolerance};

/// The motion that brings a rectangle's lower left corner to the bed's origin, turned by a quarter
/// when it fits the machine's bed only so.
#[must_use]
pub fn to_bed(bounds: &Bounds, machine: &Machine) -> Placement {
    if lies_turned(bounds, machine) {
        Placement::new(90.0, Point::new(bounds.max.y, -bounds.min.x))
    } else {
        Placement::new(0.0, Point::new(-bounds.min.x, -bounds.min.y))
    }
}

/// The way back: from the bed to where the rectangle was.
#[must_use]
pub fn from_bed(bounds: &Bounds, machine: &Machine) -> Placement {
    if lies_turned(bounds, machine) {
        Placement::new(270.0, Point::new(bounds.min.x, bounds.max.y))
    } else {
        Placement::new(0.0, bounds.min)
    }
}

/// The motion of a sheet from where it is drawn to where it lies on its machine's bed, where it fits only
/// turned. None where it lies as in stock, and where the saw comes first: it is sawn as it lies in stock,
/// and its blanks are laid one by one.
#[must_use]
pub fn turned_on_bed(sheet: &CutSheet, machine: &Machine) -> Option<Placement> {
    let saw_first = sheet.guillotine || !sheet.blanks.is_empty();
    let bounds = Bounds::of_points(sheet.outline.iter().copied()).filter(|_| !saw_first)?;
    lies_turned(&bounds, machine).then(|| to_bed(&bounds, machine))
}

fn lies_turned(bounds: &Bounds, machine: &Machine) -> bool {
    let fits = |length: f64, width: f64| {
        machine
            .bed
            .is_none_or(|[x, y]| length <= x + tolerance::JUDGE && width <= y + tolerance::JUDGE)
    };
    let (length, width) = (bounds.width(), bounds.height());
    !fits(length, width) && fits(width, length)
}

/// Where a part that the saw has cut lies to be finished: its lower left corner at the origin, turned
/// by a quarter when it fits the bed of `finisher` only so.
#[must_use]
pub fn on_finisher(item: &Item, finisher: Option<&Machine>) -> Placement {
    let bounds = item.outline.bounds();
    finisher.map_or_else(
        || Placement::new(0.0, Point::default() - bounds.min.to_vec()),
        |machine| to_bed(&bounds, machine),
    )
}

//! What the sheets of a nest are really cut from.

use crate::rack::hold;
use crate::rack::plausible::Claim;
use crate::rack::remnant_row::{self, Logged};
use crate::rack::shape::{self, SLIVER};
use crate::rack::sheet_stock::{self, StockedSheet};
use crate::rack::store::Change;
use crate::{Failure, Result};
use panelwright_geometry::Polygon;

/// How far a sheet or remnant may differ from what was nested, in millimetres.
const SAME_SIZE: f64 = 0.01;

/// What a sheet of the nest is really cut from.
pub(super) enum Source {
    Sheet(StockedSheet),
    Remnant(Box<Logged>),
}

/// Finds what a sheet of the nest is cut from, as it is in the rack now.
pub(super) fn find_source(
    change: &Change<'_>,
    claim: &Claim<'_>,
    order: Option<&str>,
) -> Result<Source> {
    let record = claim.record;
    let id = &record.source.id;
    let place = format!("nest sheet {}", record.number);
    let other_material = |is: &str| {
        Failure::new(
            &place,
            format!(
                "{} {id} is {is:?}, the nest wants {:?}",
                record.source.kind, record.material
            ),
            "nest the order again",
        )
    };
    if record.source.kind == "remnant" {
        let logged =
            remnant_row::find_on_rack(change.db, id, "booked").map_err(|mut failure| {
                if failure.advice.is_empty() {
                    "nest the order again with the rack as it is now"
                        .clone_into(&mut failure.advice);
                }
                failure
            })?;
        hold::refuse_held(change.db, &logged, order, "booked")?;
        let remnant = &logged.remnant;
        if remnant.material != record.material {
            return Err(other_material(&remnant.material));
        }
        let logged_outline = Polygon::new(remnant.outline.outer.clone(), Vec::new());
        if shape::depth_outside(&logged_outline, &claim.outline) > SLIVER
            || shape::depth_outside(&claim.outline, &logged_outline) > SLIVER
        {
            return Err(Failure::new(
                place,
                format!("remnant {id} has another outline than the one that was nested"),
                "nest the order again with the rack as it is now",
            ));
        }
        if let Some((offcut, _)) = claim
            .kept
            .iter()
            .find(|(_, shape)| shape::depth_outside(shape, &remnant.outline) > SLIVER)
        {
            return Err(Failure::new(
                format!("{place}: offcut {}", offcut.id),
                format!("it lies over a void of remnant {id}"),
                "nest the order again with the rack as it is now",
            ));
        }
        return Ok(Source::Remnant(Box::new(logged)));
    }
    let Some(sheet) = sheet_stock::find(change.db, id)? else {
        return Err(sheet_stock::unknown(change.db, id)?);
    };
    if sheet.material != record.material {
        return Err(other_material(&sheet.material));
    }
    let bounds = claim.outline.bounds();
    let whole = Polygon::from_bounds(bounds);
    if (bounds.width() - sheet.length).abs() > SAME_SIZE
        || (bounds.height() - sheet.width).abs() > SAME_SIZE
        || shape::depth_outside(&whole, &claim.outline) > SLIVER
    {
        return Err(Failure::new(
            place,
            format!(
                "sheet {id} is {} x {} mm, the nest wants {} x {} mm",
                sheet.length,
                sheet.width,
                bounds.width(),
                bounds.height()
            ),
            "nest the order again with the shop file as it is now",
        ));
    }
    Ok(Source::Sheet(sheet))
}

/// The area of one source.
pub(super) fn area_of(source: &Source) -> f64 {
    match source {
        Source::Sheet(sheet) => sheet.length * sheet.width,
        Source::Remnant(logged) => logged.remnant.outline.area(),
    }
}

//! Kept offcuts become remnants.

use super::source::Source;
use super::{BookOptions, Sheet};
use crate::Result;
use crate::job::Shop;
use crate::rack::event::Event;
use crate::rack::store::Change;
use crate::rack::{remnant_row, shape, value};
use crate::remnant::{NOT_PLACED, Remnant};
use panelwright_geometry::{Point, Polygon};

/// What all offcuts of a booking have in common when they are logged.
pub(super) struct Entering<'a> {
    /// The transaction.
    pub change: &'a Change<'a>,
    /// Materials and what they are worth.
    pub shop: &'a Shop,
    /// Where the offcuts were put.
    pub options: &'a BookOptions,
    /// The first letters of the nest's digest.
    pub nest: &'a str,
}

impl Entering<'_> {
    /// Logs a kept offcut as the remnant `id`.
    pub fn enter(
        &self,
        offcut: &str,
        shape: &Polygon,
        from: &Sheet<'_>,
        id: String,
    ) -> Result<Remnant> {
        let shift = shape::to_origin(shape.bounds());
        let mut flaws: Vec<Vec<Point>> = Vec::new();
        let (material, lot, grain_deg, good_faces, from) = match &from.source {
            Source::Sheet(sheet) => {
                let material = self
                    .shop
                    .materials
                    .iter()
                    .find(|m| m.name == sheet.material);
                (
                    sheet.material.clone(),
                    from.lot.clone(),
                    // The grain of a sheet runs along its length.
                    material.is_some_and(|m| m.grain).then_some(0.0),
                    material.map_or(0, |m| m.good_faces),
                    format!("sheet {}", sheet.id),
                )
            }
            Source::Remnant(logged) => {
                let remnant = &logged.remnant;
                for flaw in &remnant.flaws {
                    for part in shape::clip(flaw, shape) {
                        flaws.push(part.into_iter().map(|p| shift.apply(p)).collect());
                    }
                }
                (
                    remnant.material.clone(),
                    remnant.lot.clone(),
                    remnant.grain_deg,
                    remnant.good_faces,
                    format!("remnant {}", remnant.id),
                )
            }
        };
        let remnant = Remnant {
            id,
            value: value::keep_value(self.shop, &material, shape.area(), value::border(shape)),
            material,
            outline: shape.placed(&shift),
            flaws,
            lot,
            grain_deg,
            good_faces,
            place: Some(
                self.options
                    .place
                    .clone()
                    .unwrap_or_else(|| NOT_PLACED.to_owned()),
            ),
            logged: Some(self.change.day.clone()),
            origin: Some(format!("offcut {offcut} of nest {}.., {from}", self.nest)),
            note: None,
        };
        remnant_row::insert(self.change, &remnant)?;
        Ok(remnant)
    }
}

/// Writes down what an offcut became.
pub(super) fn record_offcut(
    change: &Change<'_>,
    number: i64,
    offcut: &str,
    remnant: &Remnant,
    source: &Source,
) -> Result<()> {
    let (kind, from) = match source {
        Source::Sheet(sheet) => ("sheet", &sheet.id),
        Source::Remnant(logged) => ("remnant", &logged.remnant.id),
    };
    change.run(
        "INSERT INTO booked_offcuts (booking, offcut, remnant, source_kind, source) \
         VALUES (?1, ?2, ?3, ?4, ?5)",
        (number, offcut, &remnant.id, kind, from),
    )?;
    change.event(
        Event::new("entered", remnant.origin.clone().unwrap_or_default())
            .remnant(&remnant.id)
            .booking(number),
    )
}

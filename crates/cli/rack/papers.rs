//! What is written about a remnant beside its shape: checked the same wherever it comes from.

use crate::input::{DAY_FORM, Material, is_day};
use crate::{Failure, Result};

/// Longest id: more cannot be written on a label, or read from one.
const LONGEST_ID: usize = 24;

/// The material of this name.
///
/// # Errors
/// The shop does not know it; with the most similar name.
pub(super) fn material<'a>(
    materials: &'a [Material],
    name: &str,
    place: &str,
) -> Result<&'a Material> {
    materials.iter().find(|m| m.name == name).ok_or_else(|| {
        let near = super::nearest(name, materials.iter().map(|m| m.name.as_str()));
        Failure::new(
            place,
            format!("the shop does not know the material {name:?}"),
            near.map_or_else(
                || "name one of the shop file's materials".to_owned(),
                |near| format!("did you mean {near:?}?"),
            ),
        )
    })
}

/// Checks an id given by hand.
pub(super) fn id(id: &str, place: &str) -> Result<()> {
    let what = if id.trim() != id || id.is_empty() {
        "is empty or has spaces round it"
    } else if id.chars().count() > LONGEST_ID {
        "is longer than 24 letters"
    } else if id.chars().any(char::is_control) {
        "has letters that cannot be written"
    } else {
        return Ok(());
    };
    Err(Failure::new(
        place,
        format!("the id {id:?} {what}"),
        "use something short, such as R-0012",
    ))
}

/// The grain of a remnant: as given, else along x where the material has one.
pub(super) fn grain(given: Option<f64>, material: &Material, place: &str) -> Result<Option<f64>> {
    match given {
        Some(degrees) if !degrees.is_finite() => Err(Failure::new(
            place,
            format!("grain_deg {degrees} is no number"),
            "give the direction in degrees from x",
        )),
        Some(_) if !material.grain => Err(Failure::new(
            place,
            format!(
                "it has a grain, but its material {:?} has none",
                material.name
            ),
            "leave grain_deg out, or set `grain` of the material in the shop file",
        )),
        Some(degrees) => Ok(Some(degrees)),
        None => Ok(material.grain.then_some(0.0)),
    }
}

/// How many faces are good: as given, else as the material.
pub(super) fn good_faces(given: Option<u8>, material: &Material, place: &str) -> Result<u8> {
    match given {
        Some(faces) if faces > 2 => Err(Failure::new(
            place,
            format!("good_faces {faces} is more than a panel has"),
            "give 0, 1 or 2",
        )),
        Some(faces) => Ok(faces),
        None => Ok(material.good_faces.min(2)),
    }
}

/// A book value must be an amount.
pub(super) fn value(given: Option<f64>, place: &str) -> Result<Option<f64>> {
    match given {
        Some(value) if !(value.is_finite() && value >= 0.0) => Err(Failure::new(
            place,
            format!("value {value} is no amount"),
            "give 0 or more, or leave it out for the keep rule's",
        )),
        given => Ok(given),
    }
}

/// A day must be one of the calendar.
pub(super) fn day(given: Option<&str>, place: &str) -> Result<Option<String>> {
    match given {
        Some(day) if !is_day(day) => Err(Failure::new(
            place,
            format!("logged {day:?} is no day"),
            DAY_FORM,
        )),
        given => Ok(given.map(str::to_owned)),
    }
}

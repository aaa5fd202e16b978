//! `panelwright rack add`: a remnant as the arguments tell it.

use super::{changed, rings};
use crate::args::AddArgs;
use crate::input::Unit;
use crate::nest_file::Ring;
use crate::rack::{self, Added, NewRemnant, NewShape, shape_argument};
use crate::{Failure, Result};
use jiff::Zoned;

/// Logs the remnant.
pub fn add(args: &AddArgs, when: &Zoned) -> Result<String> {
    let (voids, flaws) = (rings(&args.voids)?, rings(&args.flaws)?);
    let new = NewRemnant {
        id: None,
        material: args.material.clone(),
        shape: match &args.drawing {
            Some(file) => rack::shape_of_drawing(file, &voids, &flaws)?,
            None => shape(args.size.as_deref(), args.outline.as_deref(), voids, flaws)?,
        },
        units: Unit::Millimetre,
        lot: args.lot.clone(),
        grain_deg: args.grain,
        good_faces: args.good_faces,
        place: args.place.clone(),
        origin: None,
        note: args.note.clone(),
        value: None,
    };
    changed(&args.at, when, Added::text, |rack, shop| {
        rack::add(rack, &new, &shop.materials, when)
    })
}

/// The shape that the arguments of `rack add` tell.
fn shape(
    size: Option<&str>,
    outline: Option<&str>,
    more_voids: Vec<Ring>,
    more_flaws: Vec<Ring>,
) -> Result<NewShape> {
    let mut shape = match (size, outline) {
        (Some(size), _) => {
            let (length, width) = rectangle(size)?;
            NewShape::Rectangle {
                length,
                width,
                voids: Vec::new(),
                flaws: Vec::new(),
            }
        }
        (None, Some(outline)) => shape_argument(outline)?,
        (None, None) => {
            return Err(Failure::new(
                "rack add",
                "no shape is given",
                "give --size or --outline",
            ));
        }
    };
    let (NewShape::Rectangle { voids, flaws, .. } | NewShape::Outline { voids, flaws, .. }) =
        &mut shape;
    voids.extend(more_voids);
    flaws.extend(more_flaws);
    Ok(shape)
}

/// `800x450` as two lengths.
fn rectangle(size: &str) -> Result<(f64, f64)> {
    let bad = |what: String| {
        Failure::new(
            "--size",
            what,
            "give LENGTHxWIDTH in millimetres, such as 800x450",
        )
    };
    let Some((length, width)) = size.split_once(['x', 'X', '×']) else {
        return Err(bad(format!("'{size}' is no size")));
    };
    let number = |text: &str| {
        text.trim()
            .parse::<f64>()
            .ok()
            .filter(|v| v.is_finite() && *v > 0.0)
            .ok_or_else(|| {
                bad(format!(
                    "'{}' in '{size}' is no length above 0",
                    text.trim()
                ))
            })
    };
    Ok((number(length)?, number(width)?))
}

//! DXF drawings.
//!
//! The file is read here rather than by a general DXF library, for three reasons that matter to a
//! shop: messages can name the line of every value, layers that are frozen can be told from those
//! in use, and no file, however broken, can make this reader recurse or panic. A general library
//! is the second opinion in the tests.
//!
//! Source: DXF reference, ENTITIES, BLOCKS and TABLES sections, and "Object coordinate systems".

mod entities;
mod interpolate;
mod nurbs;
mod pairs;
mod structure;
#[cfg(test)]
mod tests;
mod text;

use super::affine::Affine;
use super::error::DrawingError;
use super::sketch::Sketch;
use super::{Drawing, ReadOptions, Unit, assemble, check_size, settle_unit};
use structure::Structure;

/// Reads a DXF drawing, text or binary, from memory.
///
/// # Errors
/// Whatever is wrong with the drawing: see [`DrawingError`].
pub fn read_dxf(bytes: &[u8], options: &ReadOptions) -> Result<Drawing, DrawingError> {
    check_size(bytes.len() as u64)?;
    let structure = Structure::read(bytes)?;
    let own = match structure.units {
        None | Some((0, _)) => None,
        Some((value, line)) => {
            let unit = Unit::from_insunits(value).map_err(|name| DrawingError::UnknownUnit {
                name: name.to_owned(),
                setting: format!("$INSUNITS {value}, line {line}"),
            })?;
            Some(unit)
        }
    };
    let found = match structure.units {
        Some(_) => "$INSUNITS is 0",
        None => "$INSUNITS is missing",
    };
    let unit = settle_unit(own, options.unit, found)?;
    let mut sketch = Sketch::default();
    let to_mm = Affine::scale(unit.in_mm(), unit.in_mm());
    entities::draw(&structure, &to_mm, options, &mut sketch)?;
    let (parts, notes) = assemble::assemble(sketch, options)?;
    Ok(Drawing { parts, unit, notes })
}

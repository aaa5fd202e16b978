//! Drawings to part outlines: DXF and SVG.
//!
//! A drawing becomes parts in four steps. The reader of its format turns every entity into a chain
//! of lines and true arcs in millimetres, y up; ellipses, splines and Béziers become arcs within a
//! stated distance ([`ReadOptions::fit`]). Loose ends that meet are joined ([`ReadOptions::join`]).
//! Closed chains are nested by the even-odd rule: an outside, its holes, and what lies in a hole is
//! a part again. Last, every outline is checked as [`crate::validate`] does, and against all others.
//!
//! Nothing is guessed and nothing vanishes: what cannot be read is a [`DrawingError`] that names
//! the entity, its layer and its line; what was healed, left out or approximated is a [`Note`].
//!
//! ```
//! use panelwright_geometry::drawing::{ReadOptions, read_svg};
//!
//! let svg = r#"<svg width="100mm" height="60mm" viewBox="0 0 100 60">
//!   <rect width="100" height="60"/><circle cx="50" cy="30" r="10"/></svg>"#;
//! let drawing = read_svg(svg.as_bytes(), &ReadOptions::default())?;
//! assert_eq!(drawing.parts.len(), 1);
//! assert_eq!(drawing.parts[0].outline.holes.len(), 1);
//! # Ok::<(), panelwright_geometry::drawing::DrawingError>(())
//! ```

mod affine;
mod assemble;
mod dxf;
mod error;
#[cfg(test)]
mod fuzz;
mod join;
mod lettering;
mod marks;
mod note;
mod options;
mod overlap;
mod pen;
mod retrace;
mod rule;
mod sketch;
mod stroke_font;
mod svg;
#[cfg(test)]
mod tests;
mod unit;

pub use dxf::read_dxf;
pub use error::{Culprit, DrawingError};
pub use note::{MarkedText, Note};
pub use options::{LayerRules, LayerUse, ReadOptions};
pub use rule::{Colour, DrawingRule};
pub use svg::read_svg;
pub use unit::Unit;

use crate::Outline;
use std::io::Read;
use std::path::Path;

/// The largest file that is read, in bytes. A kit of a thousand intricate parts has a tenth.
const MOST_BYTES: u64 = 64 * 1024 * 1024;

/// A part found in a drawing.
#[derive(Debug, Clone, PartialEq)]
pub struct DrawnPart {
    /// Its shape in millimetres, where it lies in the drawing, y up. Valid: it has passed
    /// [`crate::validate`].
    pub outline: Outline,
    /// Its name where the drawing has one: the block it was placed by (DXF), its title or id (SVG).
    pub name: Option<String>,
}

/// What a drawing holds.
#[derive(Debug, Clone, PartialEq)]
pub struct Drawing {
    /// The parts, in the order of the drawing; at least one.
    pub parts: Vec<DrawnPart>,
    /// The unit the drawing is in: its own, or the claimed one when it names none.
    pub unit: Unit,
    /// What was healed, left out or approximated.
    pub notes: Vec<Note>,
}

/// Reads a drawing by the ending of its name: `.dxf` or `.svg`, in any case.
///
/// # Errors
/// [`DrawingError::UnknownFormat`] for any other ending; otherwise whatever is wrong with the
/// file. Messages leave out the file's name: the caller adds it.
pub fn read_file(path: &Path, options: &ReadOptions) -> Result<Drawing, DrawingError> {
    let ending = path
        .extension()
        .and_then(|e| e.to_str())
        .unwrap_or_default()
        .to_ascii_lowercase();
    let read = match ending.as_str() {
        "dxf" => read_dxf,
        "svg" => read_svg,
        _ => return Err(DrawingError::UnknownFormat),
    };
    let failed = |error: std::io::Error| match error.kind() {
        std::io::ErrorKind::NotFound => DrawingError::NotFound,
        _ => DrawingError::Io {
            message: error.to_string(),
        },
    };
    let file = std::fs::File::open(path).map_err(failed)?;
    let size = file.metadata().map_err(failed)?.len();
    check_size(size)?;
    let mut bytes = Vec::new();
    // Not every file knows its size beforehand. One byte more than the limit tells a file that is too large from one that just fits.
    file.take(MOST_BYTES + 1)
        .read_to_end(&mut bytes)
        .map_err(failed)?;
    read(&bytes, options)
}

fn check_size(size: u64) -> Result<(), DrawingError> {
    if size > MOST_BYTES {
        return Err(DrawingError::TooLarge {
            size,
            limit: MOST_BYTES,
        });
    }
    Ok(())
}

/// The unit of a drawing from its own and the claimed one.
fn settle_unit(
    own: Option<Unit>,
    claimed: Option<Unit>,
    found: &str,
) -> Result<Unit, DrawingError> {
    match (own, claimed) {
        (Some(found), Some(claimed)) if found != claimed => {
            Err(DrawingError::UnitClash { found, claimed })
        }
        (Some(unit), _) | (None, Some(unit)) => Ok(unit),
        (None, None) => Err(DrawingError::NoUnit {
            found: found.to_owned(),
        }),
    }
}

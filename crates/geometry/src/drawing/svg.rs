//! SVG drawings.
//!
//! Read directly in 64-bit numbers: general SVG libraries turn circles into cubics and keep 32-bit
//! coordinates, which is 0.03 mm off on a circle of 100 mm. One of them is the second opinion on
//! transforms in the tests.
//!
//! Lengths with a unit are what they say; `px` is a 96th of an inch. A drawing whose width and
//! height carry no unit names none: the SVG standard would take pixels, but most drawing programs
//! for parts mean millimetres there, so the unit is asked for.
//!
//! The layer of an element is the nearest group with an id, class or label that the layer rules name;
//! failing that, the nearest group with any of them.
//!
//! Source: SVG 2, chapters Coordinate Systems, Paths, Basic Shapes, Document Structure; CSS Values
//! and Units 3, absolute lengths.

mod elements;
mod path;
mod style;
#[cfg(test)]
mod tests;
mod text;
mod viewport;

use super::error::DrawingError;
use super::sketch::Sketch;
use super::{Drawing, ReadOptions, assemble, check_size};
use roxmltree::{Document, ParsingOptions};

/// The most nodes that are read: elements, texts, comments.
const MOST_NODES: u32 = 2_000_000;

/// Reads an SVG drawing from memory: UTF-8 text, with or without a byte order mark.
///
/// # Errors
/// Whatever is wrong with the drawing: see [`DrawingError`].
pub fn read_svg(bytes: &[u8], options: &ReadOptions) -> Result<Drawing, DrawingError> {
    check_size(bytes.len() as u64)?;
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let text = std::str::from_utf8(bytes).map_err(|error| DrawingError::Malformed {
        line: 1 + bytes[..error.valid_up_to()]
            .iter()
            .filter(|b| **b == b'\n')
            .count(),
        what: "the text is not UTF-8; save the drawing as plain, uncompressed SVG".to_owned(),
    })?;
    check_depth(text)?;
    let parsing = ParsingOptions {
        // Many drawings carry the document type of SVG 1.1; entity bombs are refused all the same.
        allow_dtd: true,
        nodes_limit: MOST_NODES,
        ..ParsingOptions::default()
    };
    let document = Document::parse_with_options(text, parsing).map_err(|error| {
        let place = error.pos();
        DrawingError::Malformed {
            line: place.row as usize,
            what: format!("column {}: {}", place.col, plain(&error)),
        }
    })?;
    let root = document.root_element();
    if root.tag_name().name() != "svg" {
        return Err(DrawingError::Malformed {
            line: 1,
            what: format!(
                "the outermost element is `{}`, not `svg`",
                root.tag_name().name()
            ),
        });
    }
    let (unit, in_pixels, to_mm, viewport) = viewport::page(&document, root, options.unit)?;
    let mut sketch = Sketch::default();
    if in_pixels && unit != super::Unit::Pixel {
        sketch.remark(format!(
            "the size is in {unit} but there is no viewBox: coordinates are pixels, 96 to the inch"
        ));
    }
    elements::draw(&document, root, &to_mm, viewport, options, &mut sketch)?;
    let (parts, notes) = assemble::assemble(sketch, options)?;
    Ok(Drawing { parts, unit, notes })
}

/// The parser's words without the place, which is given apart.
fn plain(error: &roxmltree::Error) -> String {
    let text = error.to_string();
    match text.rfind(" at ") {
        Some(at) => text[..at].to_owned(),
        None => text,
    }
}

/// The deepest nesting of elements. Real drawings have a dozen levels.
const MOST_DEPTH: usize = 200;

/// Refuses elements nested beyond [`MOST_DEPTH`] before a parser that may recurse sees them.
///
/// Tags in the entities of a document type count as if they stood in the text: that can refuse a
/// strange file, but lets no deep one pass.
fn check_depth(text: &str) -> Result<(), DrawingError> {
    let mut rest = text;
    let mut depth = 0_usize;
    let skip = |from: &mut &str, end: &str| {
        *from = from
            .find(end)
            .map_or("", |at| from.get(at + end.len()..).unwrap_or(""));
    };
    while let Some(at) = rest.find('<') {
        rest = &rest[at..];
        if rest.starts_with("<!--") {
            skip(&mut rest, "-->");
        } else if rest.starts_with("<![CDATA[") {
            skip(&mut rest, "]]>");
        } else if rest.starts_with("<?") {
            skip(&mut rest, "?>");
        } else if rest.starts_with("</") {
            depth = depth.saturating_sub(1);
            rest = &rest[2..];
        } else if rest.starts_with("<!") {
            rest = &rest[2..];
        } else {
            if !is_empty_tag(&mut rest) {
                depth += 1;
            }
            if depth > MOST_DEPTH {
                return Err(DrawingError::Malformed {
                    line: 1 + text[..text.len() - rest.len()].matches('\n').count(),
                    what: format!("elements nest deeper than {MOST_DEPTH}; ungroup some of them"),
                });
            }
        }
    }
    Ok(())
}

/// Takes a start tag off `rest`; whether it also ends its element.
fn is_empty_tag(rest: &mut &str) -> bool {
    let mut quote = None;
    let mut before = b'<';
    for (at, byte) in rest.bytes().enumerate().skip(1) {
        match (quote, byte) {
            (Some(q), b) if q == b => quote = None,
            (Some(_), _) => {}
            (None, b'"' | b'\'') => quote = Some(byte),
            (None, b'>') => {
                *rest = &rest[at + 1..];
                return before == b'/';
            }
            _ => {}
        }
        before = byte;
    }
    *rest = "";
    false
}

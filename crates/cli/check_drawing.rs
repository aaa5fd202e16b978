//! `panelwright check` of one drawing: the parts that are read from it, and all that was done on the way.

use crate::area::m2;
use crate::args::{CheckArgs, UnitWord};
use crate::drawing_options::read_options;
use crate::input::{Checker, KitFile, json};
use crate::{Failure, Result};
use comfy_table::{CellAlignment, Table, presets};
use panelwright_geometry::drawing::{
    self, Drawing, DrawingError, DrawnPart, MarkedText, Note, ReadOptions,
};
use panelwright_geometry::{Bounds, Point, Ring};
use serde_json::{Value, json as object};
use std::path::Path;

/// Whether a file is a drawing by the ending of its name.
pub fn is_drawing(path: &Path) -> bool {
    let ending = path.extension().and_then(|e| e.to_str());
    ending.is_some_and(|e| e.eq_ignore_ascii_case("dxf") || e.eq_ignore_ascii_case("svg"))
}

/// Reads the drawing; returns what to print.
///
/// # Errors
/// The first thing wrong with it.
pub fn run(args: &CheckArgs) -> Result<String> {
    let path = &args.file;
    let mut options = match &args.kit {
        Some(kit) => {
            let file: KitFile = json(kit, "panelwright-kit-1")?;
            read_options(&Checker { file: kit }, &file, None)?
        }
        None => ReadOptions::default(),
    };
    options.unit = args.units.map(unit);
    let drawing = drawing::read_file(path, &options)
        .map_err(|e| Failure::in_file(path, "", e.to_string(), advice(&e)))?;
    Ok(if args.json {
        format!("{:#}\n", as_json(path, &drawing, &options))
    } else {
        as_text(path, &drawing, &options)
    })
}

/// What to do where the message itself does not say it.
fn advice(error: &DrawingError) -> &'static str {
    match error {
        DrawingError::NotFound => "check the name and the folder",
        DrawingError::Io { .. } => "check its permissions",
        DrawingError::Malformed { .. } => "save it anew from the program it was drawn with",
        DrawingError::NoUnit { .. } => "give --units mm or --units inch",
        _ => "",
    }
}

fn unit(word: UnitWord) -> drawing::Unit {
    match word {
        UnitWord::Mm => drawing::Unit::Millimetre,
        UnitWord::Inch => drawing::Unit::Inch,
    }
}

fn corners(b: Bounds) -> [f64; 4] {
    [b.min.x, b.min.y, b.max.x, b.max.y]
}

fn ring_json(ring: &Ring) -> Value {
    object!({
        "area": ring.area(),
        "length": ring.length(),
        "bounds": corners(ring.bounds()),
        "segments": ring.vertices.len(),
        "arcs": ring.segments().filter(|s| s.is_arc()).count(),
    })
}

fn part_json(index: usize, part: &DrawnPart) -> Value {
    let outline = &part.outline;
    let marked = outline.marks.iter().flat_map(|m| m.segments());
    let mark_bounds = marked.map(|s| s.bounds()).reduce(Bounds::union);
    object!({
        "number": index + 1,
        "name": part.name,
        "area": outline.area(),
        "cut_length": outline.cut_length(),
        "bounds": corners(outline.bounds()),
        "outside": ring_json(&outline.outer),
        "holes": outline.holes.iter().map(ring_json).collect::<Vec<_>>(),
        "marks": outline.marks.len(),
        "mark_length": outline.marks.iter().map(|m| m.length()).sum::<f64>(),
        "mark_bounds": mark_bounds.map(corners),
    })
}

/// The texts that are marked.
fn texts(notes: &[Note]) -> Vec<Value> {
    let marked = notes.iter().filter_map(|note| match note {
        Note::Lettered { texts } => Some(texts),
        _ => None,
    });
    let text = |text: &MarkedText| {
        object!({
            "text": text.words,
            "at": [text.at.x, text.at.y],
            "height": text.height,
            "strokes": text.strokes,
        })
    };
    marked.flatten().map(text).collect()
}

fn healed(note: &Note) -> Value {
    let places: Vec<[f64; 2]> = note.places().iter().map(|p| [p.x, p.y]).collect();
    object!({"what": note.to_string(), "at": places})
}

fn as_json(path: &Path, drawing: &Drawing, options: &ReadOptions) -> Value {
    let parts = &drawing.parts;
    let all = parts.iter().map(|p| p.outline.bounds());
    object!({
        "drawing": path.display().to_string(),
        "unit": drawing.unit.to_string(),
        "join": options.join,
        "fit": options.fit,
        "area": parts.iter().map(|p| p.outline.area()).sum::<f64>(),
        "bounds": all.reduce(Bounds::union).map(corners),
        "parts": parts.iter().enumerate().map(|(i, p)| part_json(i, p)).collect::<Vec<_>>(),
        "texts": texts(&drawing.notes),
        "notes": drawing.notes.iter().map(ToString::to_string).collect::<Vec<_>>(),
        "healed": drawing.notes.iter().filter(|n| !n.places().is_empty()).map(healed).collect::<Vec<_>>(),
    })
}

/// Places in millimetres, the first few of many.
fn shown(places: &[Point]) -> String {
    const MOST: usize = 12;
    let place = |p: &Point| format!("({:.3}, {:.3})", p.x, p.y);
    let mut text = places
        .iter()
        .take(MOST)
        .map(place)
        .collect::<Vec<_>>()
        .join(", ");
    if places.len() > MOST {
        text += &format!(" and {} more; --json lists all", places.len() - MOST);
    }
    text
}

fn as_text(path: &Path, drawing: &Drawing, options: &ReadOptions) -> String {
    let mut table = Table::new();
    table.load_style(presets::NOTHING).set_header([
        "no.", "name", "size, mm", "area, m2", "holes", "marks", "cut, mm", "arcs",
    ]);
    for (index, part) in drawing.parts.iter().enumerate() {
        let outline = &part.outline;
        let bounds = outline.bounds();
        let arcs = outline.rings().flat_map(Ring::segments);
        table.add_row([
            (index + 1).to_string(),
            part.name.clone().unwrap_or_default(),
            format!("{:.2} x {:.2}", bounds.width(), bounds.height()),
            format!("{:.5}", m2(outline.area())),
            outline.holes.len().to_string(),
            outline.marks.len().to_string(),
            format!("{:.1}", outline.cut_length()),
            arcs.filter(|s| s.is_arc()).count().to_string(),
        ]);
    }
    for column in [0, 2, 3, 4, 5, 6, 7] {
        if let Some(column) = table.column_mut(column) {
            column.set_cell_alignment(CellAlignment::Right);
        }
    }
    let mut text = format!("Drawing {}, in {}\n\n", path.display(), drawing.unit);
    for line in table.lines() {
        text += line.trim_end();
        text.push('\n');
    }
    text += &format!(
        "\nEnds up to {} mm apart are joined; other curves become arcs within {} mm.\n",
        options.join, options.fit
    );
    if !drawing.notes.is_empty() {
        text += "\nNoticed:\n";
        for note in &drawing.notes {
            text += &format!("  {note}\n");
            // The note itself names one place.
            if note.places().len() > 1 {
                text += &format!("    at {}\n", shown(note.places()));
            }
        }
    }
    text
}

//! `panelwright book` and `panelwright rack`: arguments to the rack and back.

use crate::args::{BookArgs, RackArgs, RackCommand, RackPlace};
use crate::input::{ShopFile, Unit, json};
use crate::job::Shop;
use crate::rack::{
    self, BookOptions, Filter, NewRemnant, NewShape, Rack, State, read_nest, shape_argument,
};
use crate::read_job::{rack_path, shop_from_list};
use crate::{Failure, Result};
use jiff::Zoned;
use serde::Serialize;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use tempfile::TempDir;

/// Runs `panelwright book`; returns what to print.
///
/// # Errors
/// See [`rack::book`] and [`rack::undo`]; nothing is changed then.
pub fn book(args: &BookArgs) -> Result<String> {
    let when = Zoned::now();
    if let Some(id) = &args.undo {
        let (_, path) = shop(&args.shop, args.rack.as_deref())?;
        let undone = rack::undo(&mut existing(path)?, id, None, &when)?;
        return Ok(answer(args.json, &undone, undone.text()));
    }
    let Some(nest) = &args.nest else {
        return Err(Failure::new(
            "book",
            "no nest.json is named",
            "name the one that was cut",
        ));
    };
    // Everything about the nest that needs no rack comes first, so that no rack file is made for a
    // nest that cannot be booked.
    let (file, digest) = read_nest(nest)?;
    let (shop, path) = shop(&args.shop, args.rack.as_deref())?;
    let options = BookOptions {
        again: args.again,
        place: args.place.clone(),
        name: args.order.clone(),
    };
    let mut rack = Rack::open_or_create(&named(path)?, &shop, &when)?;
    let booking =
        rack::book(&mut rack, &file, &digest, &shop, &when, &options).map_err(|f| Failure {
            place: format!("{}: {}", nest.display(), f.place),
            ..f
        })?;
    Ok(answer(args.json, &booking, booking.text()))
}

/// Runs `panelwright rack`; returns what to print.
///
/// # Errors
/// Bad arguments, or a rack that cannot be read or changed.
pub fn rack(args: &RackArgs) -> Result<String> {
    let when = Zoned::now();
    match &args.command {
        RackCommand::List {
            at,
            material,
            all,
            text,
        } => {
            let filter = Filter {
                material: material.clone(),
                state: (!all).then_some(State::OnRack),
                text: text.clone(),
            };
            let listing = rack::list(&to_read(at, &when)?.rack, &filter)?;
            Ok(answer(at.json, &listing, listing.text()))
        }
        RackCommand::Stock {
            sheet: Some(sheet),
            count: Some(count),
            reason,
            at,
        } => {
            let (shop, path) = shop(&at.shop, at.rack.as_deref())?;
            let mut rack = Rack::open_or_create(&named(path)?, &shop, &when)?;
            let reason = reason.as_deref().unwrap_or_default();
            rack.set_stock(sheet, Some(*count), reason, &when)?;
            let counts = rack.stock_counts()?;
            Ok(answer(at.json, &counts, stock_text(&counts)))
        }
        RackCommand::Stock { at, .. } => {
            let counts = to_read(at, &when)?.rack.stock_counts()?;
            Ok(answer(at.json, &counts, stock_text(&counts)))
        }
        RackCommand::Bookings { at } => {
            let bookings = rack::bookings(&to_read(at, &when)?.rack)?;
            Ok(answer(at.json, &bookings, bookings.text()))
        }
        RackCommand::Show { id, at } => {
            let shown = rack::show(&to_read(at, &when)?.rack, id)?;
            Ok(answer(at.json, &shown, shown.text()))
        }
        RackCommand::Add {
            at,
            material,
            size,
            outline,
            voids,
            flaws,
            lot,
            grain,
            good_faces,
            place,
            note,
        } => {
            let new = NewRemnant {
                id: None,
                material: material.clone(),
                shape: shape(size.as_deref(), outline.as_deref(), voids, flaws)?,
                units: Unit::Millimetre,
                lot: lot.clone(),
                grain_deg: *grain,
                good_faces: *good_faces,
                place: place.clone(),
                origin: None,
                note: note.clone(),
                value: None,
            };
            let (shop, path) = shop(&at.shop, at.rack.as_deref())?;
            let mut rack = Rack::open_or_create(&named(path)?, &shop, &when)?;
            let added = rack::add(&mut rack, &new, &shop.materials, &when)?;
            Ok(answer(at.json, &added, added.text()))
        }
        RackCommand::Retire { id, reason, at } => {
            let (shop, path) = shop(&at.shop, at.rack.as_deref())?;
            let mut rack = Rack::open_or_create(&named(path)?, &shop, &when)?;
            let retired = rack::retire(&mut rack, id, reason, &when)?;
            Ok(answer(at.json, &retired, retired.text()))
        }
    }
}

/// Counts of sheets, one a line.
fn stock_text(counts: &BTreeMap<String, Option<u32>>) -> String {
    let wide = counts
        .keys()
        .map(|id| id.chars().count())
        .max()
        .unwrap_or(0);
    let line = |(id, count): (&String, &Option<u32>)| match count {
        Some(count) => format!("{id:wide$}  {count:>5}\n"),
        None => format!("{id:wide$}  not counted\n"),
    };
    counts.iter().map(line).collect()
}

fn answer(as_json: bool, data: &impl Serialize, text: String) -> String {
    if !as_json {
        return text;
    }
    // Only maps with keys that are no text can fail here, and there are none.
    serde_json::to_string_pretty(data).map_or(text, |json| json + "\n")
}

/// The shop as its files tell it, and where its rack is, if anywhere.
fn shop(path: &Path, rack: Option<&Path>) -> Result<(Shop, Option<PathBuf>)> {
    let file: ShopFile = json(path, "panelwright-shop-1")?;
    Ok((shop_from_list(&file, path)?, rack_path(&file, path, rack)))
}

fn named(path: Option<PathBuf>) -> Result<PathBuf> {
    path.ok_or_else(|| {
        let advice = "add \"rack\": \"rack.db\" to the shop file, or give --rack FILE";
        Failure::new("--rack", "the shop file names no rack file", advice)
    })
}

fn existing(path: Option<PathBuf>) -> Result<Rack> {
    let path = named(path)?;
    if path.exists() {
        return Rack::open(&path);
    }
    let what = "there is no rack file yet, so nothing was booked";
    Err(Failure::in_file(&path, "", what, "check --shop and --rack"))
}

/// A rack that is only looked at.
struct Looked {
    rack: Rack,
    /// Holds a rack that was only made to be looked at; goes with it.
    _folder: Option<TempDir>,
}

/// The rack to read: its file, or where there is none yet what the shop file says would be in it.
/// Looking makes no file.
fn to_read(at: &RackPlace, when: &Zoned) -> Result<Looked> {
    let (shop, path) = shop(&at.shop, at.rack.as_deref())?;
    if let Some(path) = path.filter(|path| path.exists()) {
        return Ok(Looked {
            rack: Rack::open(&path)?,
            _folder: None,
        });
    }
    let folder = tempfile::tempdir().map_err(|e| {
        Failure::new(
            "temporary folder",
            e.to_string(),
            "free some space, or give --rack FILE",
        )
    })?;
    let rack = Rack::create_from(&folder.path().join("rack.db"), &shop, when)?;
    Ok(Looked {
        rack,
        _folder: Some(folder),
    })
}

/// The shape that the arguments of `rack add` tell.
fn shape(
    size: Option<&str>,
    outline: Option<&str>,
    voids: &[String],
    flaws: &[String],
) -> Result<NewShape> {
    let ring = |text: &String| match shape_argument(text)? {
        NewShape::Outline { outline, .. } => Ok(outline),
        NewShape::Rectangle { .. } => Err(Failure::new(
            text.as_str(),
            "this is no list of corners",
            "give [[x, y], ...]",
        )),
    };
    let more_voids = voids.iter().map(ring).collect::<Result<Vec<_>>>()?;
    let more_flaws = flaws.iter().map(ring).collect::<Result<Vec<_>>>()?;
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

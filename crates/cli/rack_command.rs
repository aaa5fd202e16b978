//! `panelwright book` and `panelwright rack`: arguments to the rack and back.

mod fit;
mod follow_up;

use crate::args::{BookArgs, RackArgs, RackCommand, RackPlace, StateWord};
use crate::input::{ShopFile, Unit, json};
use crate::job::Shop;
use crate::nest_file::{NestFile, Ring};
use crate::rack::{
    self, BookOptions, Filter, NewReceipt, NewRemnant, NewShape, Rack, Spoil, State, read_nest,
    shape_argument,
};
use crate::read_job::{rack_path, shop_from_list};
use crate::{DONE, Failure, LEFT_OVER, Result};
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
        sheets: args.sheets.clone(),
        spoil: spoil(args)?,
    };
    // Before the booking, so that what is booked never lacks the order it asks for.
    let follow_up = match (&args.again_to, &args.of_order, &options.spoil) {
        (Some(to), Some(of), Some(spoil)) => Some(follow_up::prepare(
            to,
            of,
            &rack::to_cut_again(&file, spoil)?,
        )?),
        _ => None,
    };
    let mut rack = Rack::open_or_create(&named(path)?, &shop, &when)?;
    let booking =
        rack::book(&mut rack, &file, &digest, &shop, &when, &options).map_err(|f| Failure {
            place: format!("{}: {}", nest.display(), f.place),
            ..f
        })?;
    let mut text = booking.text();
    if let Some(follow_up) = follow_up {
        let to = follow_up.put_in_place().map_err(|failure| Failure {
            advice: format!("{} is booked all the same; {}", booking.id, failure.advice),
            ..failure
        })?;
        text += &format!("What has to be cut again is ordered in {}\n", to.display());
    }
    Ok(answer(args.json, &booking, text))
}

/// What the arguments tell of a sheet that went wrong.
fn spoil(args: &BookArgs) -> Result<Option<Spoil>> {
    let Some(sheet) = args.spoiled else {
        return Ok(None);
    };
    Ok(Some(Spoil {
        sheet,
        good: args.good.clone(),
        uncut: args.uncut.clone(),
        damage: rings(&args.damage)?,
    }))
}

/// Rings given as arguments.
fn rings(arguments: &[String]) -> Result<Vec<Ring>> {
    let ring = |text: &String| match shape_argument(text)? {
        NewShape::Outline { outline, .. } => Ok(outline),
        NewShape::Rectangle { .. } => Err(Failure::new(
            text.as_str(),
            "this is no list of corners",
            "give [[x, y], ...]",
        )),
    };
    arguments.iter().map(ring).collect()
}

/// Runs `panelwright rack`; returns what to print and the exit code.
///
/// # Errors
/// Bad arguments, or a rack that cannot be read or changed.
pub fn rack(args: &RackArgs) -> Result<(String, u8)> {
    if let RackCommand::Check { at } = &args.command {
        let checked = rack::check(&to_read(at, &Zoned::now())?.rack)?;
        let code = if checked.is_sound() { DONE } else { LEFT_OVER };
        return Ok((answer(at.json, &checked, checked.text()), code));
    }
    if let RackCommand::Fit { at, .. } = &args.command {
        let (fit, text) = fit::run(&args.command)?;
        let code = if fit.is_whole() { DONE } else { LEFT_OVER };
        return Ok((answer(at.json, &fit, text), code));
    }
    Ok((done(&args.command)?, DONE))
}

/// Runs a command that either does what it says or fails.
fn done(command: &RackCommand) -> Result<String> {
    let when = Zoned::now();
    let changed = |at: &RackPlace| changed(at, &when);
    match command {
        RackCommand::List {
            at,
            material,
            all,
            text,
            page,
            rows,
        } => {
            let filter = Filter {
                material: material.clone(),
                state: (!all).then_some(State::OnRack),
                text: text.clone(),
                rows: pages(*page, *rows, at.json)?,
            };
            let listing = rack::list(&to_read(at, &when)?.rack, &filter, &when)?;
            Ok(answer(at.json, &listing, listing.text()))
        }
        RackCommand::Stock {
            sheet: Some(sheet),
            count: Some(count),
            reason,
            at,
        } => {
            let mut rack = changed(at)?;
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
            drawing,
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
                shape: match drawing {
                    Some(file) => rack::shape_of_drawing(file, &rings(voids)?, &rings(flaws)?)?,
                    None => shape(size.as_deref(), outline.as_deref(), voids, flaws)?,
                },
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
        RackCommand::Receive {
            sheet: Some(sheet),
            count: Some(count),
            lot,
            price,
            note,
            at,
        } => {
            let new = NewReceipt {
                sheet: sheet.clone(),
                count: *count,
                lot: lot.clone(),
                price: *price,
                note: note.clone(),
            };
            let receipt = rack::receive(&mut changed(at)?, &new, &when)?;
            Ok(answer(at.json, &receipt, receipt.text()))
        }
        RackCommand::Receive { at, .. } => {
            let receipts = rack::receipts(&to_read(at, &when)?.rack)?;
            Ok(answer(at.json, &receipts, receipts.text()))
        }
        RackCommand::Hold {
            ids,
            nest,
            order,
            days,
            at,
        } => {
            let mut ids = ids.clone();
            if let Some(nest) = nest {
                ids.extend(remnants_of(&read_nest(nest)?.0));
            }
            let held = rack::hold(&mut changed(at)?, &ids, order, *days, &when)?;
            let text = match held.held.is_empty() {
                true => "The nest takes no remnant, so nothing is held.\n".to_owned(),
                false => held.text(),
            };
            Ok(answer(at.json, &held, text))
        }
        RackCommand::Release { ids, reason, at } => {
            let held = rack::release(&mut changed(at)?, ids, reason, &when)?;
            Ok(answer(at.json, &held, held.text()))
        }
        RackCommand::Retire {
            id,
            state,
            reason,
            at,
        } => {
            let state = match state {
                StateWord::Retired => State::Retired,
                StateWord::ThrownOut => State::ThrownOut,
                StateWord::Recycled => State::Recycled,
                StateWord::Lost => State::Lost,
            };
            let moved = rack::retire(&mut changed(at)?, id, state, reason, &when)?;
            Ok(answer(at.json, &moved, moved.text()))
        }
        RackCommand::Found {
            id,
            place,
            reason,
            at,
        } => {
            let moved = rack::found(&mut changed(at)?, id, place.as_deref(), reason, &when)?;
            Ok(answer(at.json, &moved, moved.text()))
        }
        RackCommand::Move { id, place, at } => {
            let moved = rack::put(&mut changed(at)?, id, place, &when)?;
            Ok(answer(at.json, &moved, moved.text()))
        }
        RackCommand::Note {
            id,
            note,
            photo,
            at,
        } => {
            let (note, photo) = (note.as_deref(), photo.as_deref());
            let moved = rack::annotate(&mut changed(at)?, id, note, photo, &when)?;
            Ok(answer(
                at.json,
                &moved,
                format!("Noted of {}: {}\n", moved.id, moved.why),
            ))
        }
        RackCommand::Count {
            list: Some(list),
            at,
            ..
        } => {
            let table = rack::walking_list(&to_read(at, &when)?.rack)?;
            fit::write_whole(list, &table)?;
            Ok(format!("The list to walk with is in {}\n", list.display()))
        }
        RackCommand::Count {
            enter, reason, at, ..
        } => {
            let file = enter.as_deref().unwrap_or(Path::new(""));
            let reason = reason.as_deref().unwrap_or_default();
            let take = rack::enter(&mut changed(at)?, file, reason, &when)?;
            Ok(answer(at.json, &take, take.text()))
        }
        RackCommand::Space {
            pieces,
            material,
            at,
        } => space(at, *pieces, material.as_deref(), &when),
        RackCommand::Labels { ids, out, at } => {
            let page = rack::labels(&to_read(at, &when)?.rack, ids)?;
            fit::write_whole(out, &page)?;
            Ok(format!("Labels are in {}\n", out.display()))
        }
        RackCommand::Export { to, at } => {
            let list = rack::export(&to_read(at, &when)?.rack, rack::ListFormat::of(to)?)?;
            fit::write_whole(to, &list)?;
            Ok(format!("The remnants are in {}\n", to.display()))
        }
        RackCommand::Import { from, at } => {
            // What is wrong with the list is told before a rack is made.
            rack::ListFormat::of(from)?;
            let (shop, path) = shop(&at.shop, at.rack.as_deref())?;
            let mut rack = Rack::open_or_create(&named(path)?, &shop, &when)?;
            let imported = rack::import(&mut rack, from, &shop.materials, &when)?;
            Ok(answer(at.json, &imported, imported.text()))
        }
        // Those with an exit code of their own.
        RackCommand::Check { .. } | RackCommand::Fit { .. } => Ok(String::new()),
        RackCommand::Backup { to, at } => {
            let (_, path) = shop(&at.shop, at.rack.as_deref())?;
            let copy = rack::backup(&existing(path)?, to)?;
            Ok(answer(at.json, &copy, copy.text()))
        }
    }
}

/// The proposal for each material.
fn space(at: &RackPlace, pieces: usize, only: Option<&str>, when: &Zoned) -> Result<String> {
    let (shop, _) = shop(&at.shop, at.rack.as_deref())?;
    let looked = to_read(at, when)?;
    let names: Vec<&str> = shop.materials.iter().map(|m| m.name.as_str()).collect();
    if let Some(unknown) = only.filter(|name| !names.contains(name)) {
        let what = format!("no material is called '{unknown}'");
        let advice = crate::input::suggestion(unknown, &names);
        return Err(Failure::new("--material", what, advice));
    }
    let asked = names
        .into_iter()
        .filter(|name| only.is_none_or(|only| only == *name));
    let spaces = asked
        .map(|name| rack::space(&looked.rack, &shop, name, pieces))
        .collect::<Result<Vec<_>>>()?;
    let mut text: String = spaces
        .iter()
        .map(|space| space.text(&shop.currency))
        .collect();
    if spaces.iter().any(|space| !space.leave.is_empty()) {
        text.push_str(
            "Nothing was changed. Take off what you agree with by `panelwright rack retire`.\n",
        );
    }
    Ok(answer(at.json, &spaces, text))
}

/// The rows of a page. For people a list without a page is its first one, for programs all of it.
fn pages(page: Option<usize>, rows: usize, json: bool) -> Result<Option<std::ops::Range<usize>>> {
    let page = match page {
        None if json => return Ok(None),
        page => page.unwrap_or(1),
    };
    let rows = rows.min(1_000_000);
    match page
        .checked_sub(1)
        .and_then(|before| before.checked_mul(rows))
    {
        Some(from) if rows > 0 => Ok(Some(from..from.saturating_add(rows))),
        _ => Err(Failure::new(
            "--page",
            format!("there is no page {page} of {rows} rows"),
            "pages are counted from 1, and a page has a row at least",
        )),
    }
}

/// The remnants that a nest takes.
fn remnants_of(nest: &NestFile) -> Vec<String> {
    nest.sheets
        .iter()
        .filter(|sheet| sheet.source.kind == "remnant")
        .map(|sheet| sheet.source.id.clone())
        .collect()
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

/// The rack to be changed; made where there is none yet.
fn changed(at: &RackPlace, when: &Zoned) -> Result<Rack> {
    let (shop, path) = shop(&at.shop, at.rack.as_deref())?;
    Rack::open_or_create(&named(path)?, &shop, when)
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
    let (more_voids, more_flaws) = (rings(voids)?, rings(flaws)?);
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

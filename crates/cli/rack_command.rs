//! `panelwright book` and `panelwright rack`: arguments to the rack and back.

mod fit;
mod follow_up;
mod place;

use crate::args::{BookArgs, RackArgs, RackCommand, RackPlace, StateWord};
use crate::input::{Room, Unit};
use crate::job::Shop;
use crate::nest_file::{NestFile, Ring};
use crate::rack::{
    self, BookOptions, Filter, NewReceipt, NewRemnant, NewShape, Rack, SheetHold, Space, Spoil,
    State, read_nest, shape_argument,
};
use crate::write::put_whole;
use crate::{DONE, Failure, LEFT_OVER, Result};
use jiff::Zoned;
use place::{change, change_file, named, shop, there, to_read};
use serde::Serialize;
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::Path;

/// Runs `panelwright book`; returns what to print.
///
/// # Errors
/// See [`rack::book`] and [`rack::undo`]; nothing is changed then.
pub fn book(args: &BookArgs) -> Result<String> {
    let when = Zoned::now();
    if let Some(id) = &args.undo {
        let (_, path) = shop(&args.shop, args.rack.as_deref())?;
        let undone = rack::undo(
            &mut Rack::open(&there(path)?)?,
            id,
            args.reason.as_deref(),
            &when,
        )?;
        return Ok(answer(args.json, &undone, undone.text()));
    }
    let Some(nest) = &args.nest else {
        return Err(Failure::new(
            "book",
            "no nest.json is named",
            "name the one that was cut",
        ));
    };
    if args.place.as_deref().is_some_and(|p| p.trim().is_empty()) {
        let advice = "name it, or leave --place out until they stand somewhere";
        return Err(Failure::new("--place", "no place is given", advice));
    }
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
    let book = |rack: &mut Rack| {
        rack::book(rack, &file, &digest, &shop, &when, &options).map_err(|f| f.within(nest))
    };
    let path = named(path)?;
    let booking = change_file(&path, &shop, &when, book)?;
    let mut text = booking.text();
    if let Some(follow_up) = follow_up {
        let to = follow_up.put_in_place().map_err(|failure| Failure {
            advice: format!("{} is booked all the same; {}", booking.id, failure.advice),
            ..failure
        })?;
        text += &format!("What has to be cut again is ordered in {}\n", to.display());
    }
    // What is too much now, as a proposal.
    let spaces = Rack::open_to_read(&path).and_then(|rack| {
        let rooms = shop.room.iter();
        rooms
            .map(|room| rack::space(&rack, &shop, room))
            .collect::<Result<Vec<_>>>()
    });
    let full: Vec<Space> = spaces
        .unwrap_or_default()
        .into_iter()
        .filter(|space| !space.leave.is_empty())
        .collect();
    if !full.is_empty() {
        text += "The rack is full. What should leave it:\n";
        text += &space_text(&full, &shop.currency);
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
            let reason = reason.as_deref().unwrap_or_default();
            change(at, &when, |rack, _| {
                rack.set_stock(sheet, Some(*count), reason, &when)?;
                stock_answer(rack, at.json, &when)
            })
        }
        RackCommand::Stock { at, .. } => stock_answer(&to_read(at, &when)?.rack, at.json, &when),
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
            let added = change(at, &when, |rack, shop| {
                rack::add(rack, &new, &shop.materials, &when)
            })?;
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
            let receipt = change(at, &when, |rack, _| rack::receive(rack, &new, &when))?;
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
            let nest = nest.as_deref().map(read_nest).transpose()?;
            let held = change(at, &when, |rack, _| {
                let mut ids = ids.clone();
                if let Some((nest, _)) = &nest {
                    ids.extend(taken_by(nest, &rack.stock_counts()?));
                }
                rack::hold(rack, &ids, order, *days, &when)
            })?;
            let text = match held.held.is_empty() && held.sheets.is_empty() {
                true => "The nest takes no remnant and no counted sheet, so nothing is held.\n"
                    .to_owned(),
                false => held.text(),
            };
            Ok(answer(at.json, &held, text))
        }
        RackCommand::Release {
            ids,
            order,
            reason,
            at,
        } => {
            let order = order.as_deref();
            let held = change(at, &when, |rack, _| {
                rack::release(rack, ids, order, reason, &when)
            })?;
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
            let moved = change(at, &when, |rack, _| {
                rack::retire(rack, id, state, reason, &when)
            })?;
            Ok(answer(at.json, &moved, moved.text()))
        }
        RackCommand::Found {
            id,
            place,
            reason,
            at,
        } => {
            let place = place.as_deref();
            let moved = change(at, &when, |rack, _| {
                rack::found(rack, id, place, reason, &when)
            })?;
            Ok(answer(at.json, &moved, moved.text()))
        }
        RackCommand::Move { id, place, at } => {
            let moved = change(at, &when, |rack, _| rack::put(rack, id, place, &when))?;
            Ok(answer(at.json, &moved, moved.text()))
        }
        RackCommand::Note {
            id,
            note,
            photo,
            at,
        } => {
            let (note, photo) = (note.as_deref(), photo.as_deref());
            let moved = change(at, &when, |rack, _| {
                rack::annotate(rack, id, note, photo, &when)
            })?;
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
            put_whole(list, &table)?;
            Ok(format!("The list to walk with is in {}\n", list.display()))
        }
        RackCommand::Count {
            enter, reason, at, ..
        } => {
            let file = enter.as_deref().unwrap_or(Path::new(""));
            let reason = reason.as_deref().unwrap_or_default();
            let take = change(at, &when, |rack, _| rack::enter(rack, file, reason, &when))?;
            Ok(answer(at.json, &take, take.text()))
        }
        RackCommand::Space {
            pieces,
            area,
            material,
            place,
            at,
        } => {
            let asked = Room {
                material: material.clone(),
                place: place.clone(),
                pieces: *pieces,
                area_m2: *area,
            };
            space(at, &asked, &when)
        }
        RackCommand::Labels {
            ids,
            out,
            labels,
            paper,
            at,
        } => {
            let (mut shop, _) = shop(&at.shop, at.rack.as_deref())?;
            labels.apply(&mut shop.labels)?;
            paper.apply(&mut shop.paper);
            let page = rack::labels(&to_read(at, &when)?.rack, ids, &shop.labels, &shop.paper)?;
            put_whole(out, &page)?;
            Ok(format!("Labels are in {}\n", out.display()))
        }
        RackCommand::Export { to, at } => {
            let list = rack::export(&to_read(at, &when)?.rack, rack::ListFormat::of(to)?)?;
            put_whole(to, &list)?;
            Ok(format!("The remnants are in {}\n", to.display()))
        }
        RackCommand::Import { from, at } => {
            let imported = change(at, &when, |rack, shop| {
                rack::import(rack, from, &shop.materials, &when)
            })?;
            Ok(answer(at.json, &imported, imported.text()))
        }
        // Those with an exit code of their own.
        RackCommand::Check { .. } | RackCommand::Fit { .. } => Ok(String::new()),
        RackCommand::Backup { to, at } => {
            let (_, path) = shop(&at.shop, at.rack.as_deref())?;
            let path = there(path)?;
            let copy = rack::backup(&Rack::open_to_read(&path)?, to)?;
            Ok(answer(at.json, &copy, copy.text()))
        }
    }
}

/// The proposals: for what is asked or, without a limit, for what the shop file says of it.
fn space(at: &RackPlace, asked: &Room, when: &Zoned) -> Result<String> {
    let (shop, _) = shop(&at.shop, at.rack.as_deref())?;
    let looked = to_read(at, when)?;
    let rooms = rooms(asked, &shop)?;
    let spaces = rooms
        .iter()
        .map(|room| rack::space(&looked.rack, &shop, room))
        .collect::<Result<Vec<_>>>()?;
    let text = space_text(&spaces, &shop.currency);
    Ok(answer(at.json, &spaces, text))
}

/// The rooms that are asked for.
fn rooms(asked: &Room, shop: &Shop) -> Result<Vec<Room>> {
    let names: Vec<&str> = shop.materials.iter().map(|m| m.name.as_str()).collect();
    if let Some(unknown) = asked.material.as_deref().filter(|m| !names.contains(m)) {
        let what = format!("no material is called '{unknown}'");
        let advice = crate::input::suggestion(unknown, &names);
        return Err(Failure::new("--material", what, advice));
    }
    if let Some(area) = asked.area_m2.filter(|a| !(a.is_finite() && *a >= 0.0)) {
        let what = format!("{area} m2 is no area");
        return Err(Failure::new("--area", what, "give square metres from 0"));
    }
    if asked.pieces.is_some() || asked.area_m2.is_some() {
        if asked.material.is_some() || asked.place.is_some() {
            return Ok(vec![asked.clone()]);
        }
        let of_each = names.iter().map(|name| Room {
            material: Some((*name).to_owned()),
            ..asked.clone()
        });
        return Ok(of_each.collect());
    }
    let is_asked = |room: &&Room| {
        let same = |asked: &Option<String>, is: &Option<String>| asked.is_none() || asked == is;
        same(&asked.material, &room.material) && same(&asked.place, &room.place)
    };
    let rooms: Vec<Room> = shop.room.iter().filter(is_asked).cloned().collect();
    if rooms.is_empty() {
        return Err(Failure::new(
            "rack space",
            "the shop file does not say how much the rack holds there",
            "give --pieces or --area, or set \"room\" in the shop file",
        ));
    }
    Ok(rooms)
}

/// Proposals for people.
fn space_text(spaces: &[Space], currency: &str) -> String {
    let mut text: String = spaces.iter().map(|space| space.text(currency)).collect();
    if spaces.iter().any(|space| !space.leave.is_empty()) {
        text.push_str(
            "Nothing was changed. Take off what you agree with by `panelwright rack retire`.\n",
        );
    }
    text
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

/// What a nest takes, as it is named for a hold: remnants, and sheets with their number where they are
/// counted.
fn taken_by(nest: &NestFile, counts: &BTreeMap<String, Option<u32>>) -> Vec<String> {
    let mut sheets: BTreeMap<&str, u32> = BTreeMap::new();
    let mut taken = Vec::new();
    for source in nest.sheets.iter().map(|sheet| &sheet.source) {
        if source.kind == "remnant" {
            taken.push(source.id.clone());
        } else if !matches!(counts.get(&source.id), Some(None)) {
            *sheets.entry(&source.id).or_default() += 1;
        }
    }
    taken.extend(sheets.into_iter().map(|(id, n)| format!("{id}:{n}")));
    taken
}

/// Sheets of a size, as `rack stock` tells them to programs.
#[derive(Serialize)]
struct Stocked<'a> {
    /// How many there are; `None` where they are not counted.
    count: Option<u32>,
    /// Those of them that are held for an order.
    held: Vec<&'a SheetHold>,
}

/// Counts of sheets, one a line, and what is held of them.
fn stock_answer(rack: &Rack, as_json: bool, when: &Zoned) -> Result<String> {
    let (counts, holds) = (rack.stock_counts()?, rack.sheet_holds(when)?);
    let held = |id: &str| -> Vec<&SheetHold> { holds.iter().filter(|h| h.sheet == id).collect() };
    let wide = counts.keys().map(|id| id.chars().count()).max();
    let wide = wide.unwrap_or(0);
    let mut text = String::new();
    for (id, count) in &counts {
        let count = match count {
            Some(count) => format!("{count:>5}"),
            None => "not counted".to_owned(),
        };
        // Writing into a string cannot fail.
        let _ = write!(text, "{id:wide$}  {count}");
        for hold in held(id) {
            let day = hold.until.get(..10).unwrap_or(&hold.until);
            let _ = write!(
                text,
                "  {} held for order {} until {day}",
                hold.count, hold.order
            );
        }
        text.push('\n');
    }
    let stocked = |(id, count): (&'_ String, &Option<u32>)| {
        let stocked = Stocked {
            count: *count,
            held: held(id),
        };
        (id.clone(), stocked)
    };
    let all: BTreeMap<String, Stocked> = counts.iter().map(stocked).collect();
    Ok(answer(as_json, &all, text))
}

fn answer(as_json: bool, data: &impl Serialize, text: String) -> String {
    if !as_json {
        return text;
    }
    // Only maps with keys that are no text can fail here, and there are none.
    serde_json::to_string_pretty(data).map_or(text, |json| json + "\n")
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

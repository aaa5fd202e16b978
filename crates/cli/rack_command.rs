//! `panelwright book` and `panelwright rack`: arguments to the rack and back.

mod add;
mod fit;
mod follow_up;
mod place;
mod space;
mod stock;

use crate::args::{
    BackupArgs, BookArgs, CountArgs, ExportArgs, FitArgs, FoundArgs, HoldArgs, ImportArgs,
    ListArgs, MoveArgs, NoteArgs, RackArgs, RackCommand, RackLabelArgs, RackPlace, ReceiveArgs,
    ReleaseArgs, RetireArgs, ShowArgs, StateWord,
};
use crate::aside::put_whole;
use crate::job::Shop;
use crate::nest_file::{NestFile, Ring};
use crate::number::counted;
use crate::rack::{
    self, BookOptions, Bookings, Filter, Held, Imported, Listing, Moved, NewReceipt, NewShape,
    Rack, Receipt, Receipts, Shown, Space, Spoil, State, StockTake, read_nest, shape_argument,
};
use crate::{DONE, Failure, LEFT_OVER, Result};
use jiff::Zoned;
use place::{change, change_file, named, shop, there, to_read};
use serde::Serialize;
use space::space_text;
use std::collections::BTreeMap;

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
    let when = &Zoned::now();
    // Most either do what they say or fail; two have an exit code of their own.
    let done = match &args.command {
        RackCommand::Check(at) => return check(at, when),
        RackCommand::Fit(args) => return fit(args, when),
        RackCommand::List(args) => list(args, when),
        RackCommand::Stock(args) => stock::stock(args, when),
        RackCommand::Receive(args) => receive(args, when),
        RackCommand::Bookings(at) => looked(at, when, Bookings::text, rack::bookings),
        RackCommand::Add(args) => add::add(args, when),
        RackCommand::Show(ShowArgs { id, at }) => {
            looked(at, when, Shown::text, |rack| rack::show(rack, id))
        }
        RackCommand::Hold(args) => hold(args, when),
        RackCommand::Release(args) => release(args, when),
        RackCommand::Retire(args) => retire(args, when),
        RackCommand::Found(args) => found(args, when),
        RackCommand::Move(MoveArgs { id, place, at }) => {
            changed(at, when, Moved::text, |rack, _| {
                rack::put(rack, id, place, when)
            })
        }
        RackCommand::Note(args) => note(args, when),
        RackCommand::Count(args) => count(args, when),
        RackCommand::Space(args) => space::space(args, when),
        RackCommand::Labels(args) => labels(args, when),
        RackCommand::Export(args) => export(args, when),
        RackCommand::Import(ImportArgs { from, at }) => {
            changed(at, when, Imported::text, |rack, shop| {
                rack::import(rack, from, &shop.materials, when)
            })
        }
        RackCommand::Backup(args) => backup(args),
    };
    Ok((done?, DONE))
}

/// Changes the rack and tells what `make` says of it.
fn changed<T: Serialize>(
    at: &RackPlace,
    when: &Zoned,
    text: impl Fn(&T) -> String,
    make: impl Fn(&mut Rack, &Shop) -> Result<T>,
) -> Result<String> {
    let made = change(at, when, make)?;
    let text = text(&made);
    Ok(answer(at.json, &made, text))
}

/// Looks at the rack and tells what `find` finds in it.
fn looked<T: Serialize>(
    at: &RackPlace,
    when: &Zoned,
    text: impl Fn(&T) -> String,
    find: impl Fn(&Rack) -> Result<T>,
) -> Result<String> {
    let found = find(&to_read(at, when)?.rack)?;
    let text = text(&found);
    Ok(answer(at.json, &found, text))
}

fn check(at: &RackPlace, when: &Zoned) -> Result<(String, u8)> {
    let checked = rack::check(&to_read(at, when)?.rack)?;
    let code = if checked.is_sound() { DONE } else { LEFT_OVER };
    Ok((answer(at.json, &checked, checked.text()), code))
}

fn fit(args: &FitArgs, when: &Zoned) -> Result<(String, u8)> {
    let (fit, text) = fit::run(args, when)?;
    let code = if fit.is_whole() { DONE } else { LEFT_OVER };
    Ok((answer(args.at.json, &fit, text), code))
}

fn list(args: &ListArgs, when: &Zoned) -> Result<String> {
    let filter = Filter {
        material: args.material.clone(),
        state: (!args.all).then_some(State::OnRack),
        text: args.text.clone(),
        rows: pages(args.page, args.rows, args.at.json)?,
    };
    let (shop, _) = shop(&args.at.shop, args.at.rack.as_deref())?;
    let materials: Vec<&str> = shop.materials.iter().map(|m| m.name.as_str()).collect();
    let text = |listing: &Listing| match listing.remnants.is_empty() && listing.found > 0 {
        true => no_such_page(args, listing.found),
        false => listing.text(),
    };
    looked(&args.at, when, text, |rack| {
        if let Some(material) = &args.material {
            rack::known_material(rack, material, &materials)?;
        }
        rack::list(rack, &filter, when)
    })
}

/// What a page behind the last one says.
fn no_such_page(args: &ListArgs, found: usize) -> String {
    let pages = found.div_ceil(args.rows.max(1));
    format!(
        "There is no page {}: {} on {}.\n",
        args.page.unwrap_or(1),
        counted(found, "remnant is", "remnants are"),
        counted(pages, "page", "pages")
    )
}

fn receive(args: &ReceiveArgs, when: &Zoned) -> Result<String> {
    let (Some(sheet), Some(count)) = (&args.sheet, args.count) else {
        return looked(&args.at, when, Receipts::text, rack::receipts);
    };
    let new = NewReceipt {
        sheet: sheet.clone(),
        count,
        lot: args.lot.clone(),
        price: args.price,
        note: args.note.clone(),
    };
    changed(&args.at, when, Receipt::text, |rack, _| {
        rack::receive(rack, &new, when)
    })
}

fn hold(args: &HoldArgs, when: &Zoned) -> Result<String> {
    let nest = args.nest.as_deref().map(read_nest).transpose()?;
    let text = |held: &Held| match held.held.is_empty() && held.sheets.is_empty() {
        true => "The nest takes no remnant and no counted sheet, so nothing is held.\n".to_owned(),
        false => held.text(),
    };
    changed(&args.at, when, text, |rack, _| {
        let mut ids = args.ids.clone();
        if let Some((nest, _)) = &nest {
            ids.extend(taken_by(nest, &rack.stock_counts()?));
        }
        rack::hold(rack, &ids, &args.order, args.days, when)
    })
}

fn release(args: &ReleaseArgs, when: &Zoned) -> Result<String> {
    changed(&args.at, when, Held::text, |rack, _| {
        rack::release(rack, &args.ids, args.order.as_deref(), &args.reason, when)
    })
}

fn retire(args: &RetireArgs, when: &Zoned) -> Result<String> {
    let state = match args.state {
        StateWord::Retired => State::Retired,
        StateWord::ThrownOut => State::ThrownOut,
        StateWord::Recycled => State::Recycled,
        StateWord::Lost => State::Lost,
    };
    changed(&args.at, when, Moved::text, |rack, _| {
        rack::retire(rack, &args.id, state, &args.reason, when)
    })
}

fn found(args: &FoundArgs, when: &Zoned) -> Result<String> {
    changed(&args.at, when, Moved::text, |rack, _| {
        rack::found(rack, &args.id, args.place.as_deref(), &args.reason, when)
    })
}

fn note(args: &NoteArgs, when: &Zoned) -> Result<String> {
    let (note, photo) = (args.note.as_deref(), args.photo.as_deref());
    let text = |moved: &Moved| format!("Noted of {}: {}\n", moved.id, moved.why);
    changed(&args.at, when, text, |rack, _| {
        rack::annotate(rack, &args.id, note, photo, when)
    })
}

fn count(args: &CountArgs, when: &Zoned) -> Result<String> {
    if let Some(list) = &args.list {
        let table = rack::walking_list(&to_read(&args.at, when)?.rack)?;
        put_whole(list, &table)?;
        return Ok(format!("The list to walk with is in {}\n", list.display()));
    }
    let Some(file) = &args.enter else {
        let what = "neither a list to write nor one to enter is named";
        return Err(Failure::new("rack count", what, "give --list or --enter"));
    };
    let reason = args.reason.as_deref().unwrap_or_default();
    changed(&args.at, when, StockTake::text, |rack, _| {
        rack::enter(rack, file, reason, when)
    })
}

fn labels(args: &RackLabelArgs, when: &Zoned) -> Result<String> {
    let (mut shop, _) = shop(&args.at.shop, args.at.rack.as_deref())?;
    args.labels.apply(&mut shop.labels)?;
    args.paper.apply(&mut shop.paper);
    let looked = to_read(&args.at, when)?;
    let page = rack::labels(&looked.rack, &args.ids, &shop.labels, &shop.paper)?;
    put_whole(&args.out, &page)?;
    Ok(format!("Labels are in {}\n", args.out.display()))
}

fn export(args: &ExportArgs, when: &Zoned) -> Result<String> {
    let format = rack::ListFormat::of(&args.to)?;
    let list = rack::export(&to_read(&args.at, when)?.rack, format)?;
    put_whole(&args.to, &list)?;
    Ok(format!("The remnants are in {}\n", args.to.display()))
}

fn backup(args: &BackupArgs) -> Result<String> {
    let (_, path) = shop(&args.at.shop, args.at.rack.as_deref())?;
    let copy = rack::backup(&Rack::open_to_read(&there(path)?)?, &args.to)?;
    Ok(answer(args.at.json, &copy, copy.text()))
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

fn answer(as_json: bool, data: &impl Serialize, text: String) -> String {
    if !as_json {
        return text;
    }
    // Only maps with keys that are no text can fail here, and there are none.
    serde_json::to_string_pretty(data).map_or(text, |json| json + "\n")
}

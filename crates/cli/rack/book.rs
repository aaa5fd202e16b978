//! To book: a nest was really cut.

mod enter;
mod source;

use super::booking::{Areas, Booking, OffcutEntered, OtherLot, SheetsTaken};
use super::digest::layout_digest;
use super::event::Event;
use super::plausible::{self, Claim, same_area};
use super::remnant_row::{self, State};
use super::shape::{self, SLIVER};
use super::sheet_stock;
use super::spoil::{self, Fate, Spoil};
use super::store::{Change, Db, Rack, day_of};
use super::{booking_id, hold};
use crate::job::Shop;
use crate::letters::letters;
use crate::nest_file::{NestFile, SheetRecord};
use crate::{Failure, Result};
use enter::{Entering, record_offcut};
use jiff::Zoned;
use panelwright_geometry::{Bounds, Polygon};
use source::{Source, area_of, find_source};
use std::collections::{BTreeMap, BTreeSet};

/// How a nest is booked.
#[derive(Debug, Clone, Default)]
pub struct BookOptions {
    /// Book although the same nest was booked before: it was cut twice.
    pub again: bool,
    /// Where the kept offcuts were put; "not yet placed" when `None`.
    pub place: Option<String>,
    /// Name of the order or a note, kept with the booking; remnants and sheets held for this order may be
    /// cut.
    pub name: Option<String>,
    /// Numbers of the sheets that were cut; all of the nest when there are none.
    pub sheets: Vec<usize>,
    /// What went wrong on one of them.
    pub spoil: Option<Spoil>,
}

/// What a nest is known by.
#[derive(Clone, Copy)]
struct Known<'a> {
    /// Of the bytes of its file.
    digest: &'a str,
    /// Of what it says, see [`layout_digest`].
    layout: &'a str,
}

/// A sheet about to be booked.
struct Sheet<'a> {
    claim: &'a Claim<'a>,
    source: Source,
    /// The lot that it is of.
    lot: Option<String>,
    /// What is kept of it: name within the nest and shape.
    kept: Vec<(String, Polygon)>,
    /// Area of the parts that came out good.
    parts: f64,
    /// What became of each copy.
    fates: Vec<Fate>,
}

/// Books a nest, or some sheets of it: takes the sheets from stock and the remnants from the rack, and
/// logs the offcuts it keeps, all in one transaction.
///
/// Of a sheet that was spoiled, the good parts count as made, and what is kept is found anew.
///
/// `digest` is [`super::digest_of`] the nest file; the same nest written otherwise is known as well. The shop says which materials have a grain, how many
/// faces are good and what offcuts are worth.
///
/// # Errors
/// The nest does not add up (an offcut over a part, a part outside, areas that do not balance); it
/// was booked before and [`BookOptions::again`] is not set; a remnant was used or retired meanwhile
/// (named, with the booking); a sheet is unknown, of another material or size, or there are too few;
/// the rack is locked. Nothing is changed then.
pub fn book(
    rack: &mut Rack,
    nest: &NestFile,
    digest: &str,
    shop: &Shop,
    when: &Zoned,
    options: &BookOptions,
) -> Result<Booking> {
    // Outside the transaction: it takes longest, and needs no rack.
    let all = plausible::check(nest, shop)?;
    let claims = chosen(nest, &all, options)?;
    let layout = layout_digest(nest);
    let known = Known {
        digest,
        layout: &layout,
    };
    rack.change(when, |change| {
        refuse_twice(change, known, &claims, options)?;
        let mut sheets = Vec::with_capacity(claims.len());
        for claim in &claims {
            let source = find_source(change, claim, options.name.as_deref())?;
            sheets.push(cut_of(claim, source, shop, options)?);
        }
        let areas = balance(&sheets)?;
        if claims.len() == all.len() && options.spoil.is_none() {
            check_taken(nest, &all, areas.taken)?;
        }
        let short: String = digest.chars().take(8).collect();
        let number = record_booking(change, known, &sheets, &areas, options)?;
        let (taken, other_lots) = take_sheets(change, number, &mut sheets, &short, options)?;
        let mut booking = Booking {
            id: booking_id(number),
            digest: digest.to_owned(),
            name: options.name.clone(),
            booked: change.at.clone(),
            numbers: claims.iter().map(|c| c.record.number).collect(),
            sheets: taken,
            other_lots,
            remnants: Vec::new(),
            offcuts: Vec::new(),
            areas,
            again: match &options.spoil {
                Some(spoil) => spoil::to_cut_again(nest, spoil)?,
                None => Vec::new(),
            },
        };
        let named = named(options);
        for sheet in &sheets {
            let Source::Remnant(logged) = &sheet.source else {
                continue;
            };
            let id = &logged.remnant.id;
            remnant_row::set_state(change, id, State::OnRack, State::Cut)?;
            hold::cut(change, id, number)?;
            change.run(
                "INSERT INTO booked_remnants (booking, remnant) VALUES (?1, ?2)",
                (number, id),
            )?;
            change.event(
                Event::new("cut", format!("used up by nest {short}..{named}"))
                    .remnant(id)
                    .booking(number),
            )?;
            booking.remnants.push(id.clone());
        }
        let entering = Entering {
            change,
            shop,
            options,
            nest: &short,
        };
        for sheet in &sheets {
            for (offcut, shape) in &sheet.kept {
                let id = remnant_row::next_id(change.db)?;
                let remnant = entering.enter(offcut, shape, sheet, id)?;
                record_offcut(change, number, offcut, &remnant, &sheet.source)?;
                let bounds = remnant.outline.bounds();
                booking.offcuts.push(OffcutEntered {
                    offcut: offcut.clone(),
                    length: bounds.width(),
                    width: bounds.height(),
                    area: remnant.outline.area(),
                    place: remnant.place.unwrap_or_default(),
                    remnant: remnant.id,
                    material: remnant.material,
                });
            }
        }
        Ok(booking)
    })
}

/// The name of the order as the end of a sentence.
fn named(options: &BookOptions) -> String {
    let name = options.name.as_ref();
    name.map_or_else(String::new, |name| format!(", {name}"))
}

/// The sheets that the options name, in the nest's order.
fn chosen<'a>(
    nest: &NestFile,
    all: &'a [Claim<'a>],
    options: &BookOptions,
) -> Result<Vec<&'a Claim<'a>>> {
    for number in &options.sheets {
        spoil::sheet(nest, *number)?;
    }
    let wanted = |number| options.sheets.is_empty() || options.sheets.contains(&number);
    if let Some(spoil) = &options.spoil
        && (!wanted(spoil.sheet) || spoil::sheet(nest, spoil.sheet).is_err())
    {
        return Err(Failure::new(
            "nest",
            format!(
                "sheet {} was spoiled, but it is not booked now",
                spoil.sheet
            ),
            "name it among the sheets to book",
        ));
    }
    Ok(all.iter().filter(|c| wanted(c.record.number)).collect())
}

/// What was really cut of a sheet, and what is left of it.
fn cut_of<'a>(
    claim: &'a Claim<'a>,
    source: Source,
    shop: &Shop,
    options: &BookOptions,
) -> Result<Sheet<'a>> {
    let planned = || {
        let kept = claim.kept.iter();
        kept.map(|(offcut, shape)| (offcut.id.clone(), shape.clone()))
    };
    let record = claim.record;
    let spoil = options.spoil.as_ref().filter(|s| s.sheet == record.number);
    let Some(spoil) = spoil else {
        return Ok(Sheet {
            kept: planned().collect(),
            parts: claim.parts.iter().sum(),
            fates: vec![Fate::Good; record.placements.len()],
            lot: None,
            claim,
            source,
        });
    };
    let fates = spoil::fates(record, spoil)?;
    let stock = match &source {
        Source::Remnant(logged) => logged.remnant.clone(),
        Source::Sheet(sheet) => sheet.as_piece(),
    };
    let pieces = spoil::pieces(record, spoil, &fates, &stock, shop)?;
    let parts = claim.parts.iter().zip(&fates);
    let good = parts.filter(|(_, fate)| **fate == Fate::Good);
    Ok(Sheet {
        kept: named_as_labelled(claim, pieces),
        parts: good.map(|(area, _)| area).sum(),
        fates,
        lot: None,
        claim,
        source,
    })
}

/// Pieces with names: an offcut of the nest that is as it was keeps its own, which stands on its label already; others get
/// names that no offcut of the sheet has.
fn named_as_labelled(claim: &Claim<'_>, pieces: Vec<Polygon>) -> Vec<(String, Polygon)> {
    let record = claim.record;
    let mut fresh = (0..)
        .map(|i| format!("{}{}", record.number, letters(i)))
        .filter(|name| record.offcuts.iter().all(|o| o.id != *name));
    let mut planned: Vec<_> = claim.kept.iter().collect();
    let named = |piece: Polygon| {
        let as_it_was = |(_, shape): &&(_, Polygon)| {
            same_area(piece.area(), shape.area())
                && shape::depth_outside(&piece, shape).max(shape::depth_outside(shape, &piece))
                    <= SLIVER
        };
        let name = match planned.iter().position(as_it_was) {
            Some(at) => planned.swap_remove(at).0.id.clone(),
            None => fresh.next().unwrap_or_default(),
        };
        (name, piece)
    };
    pieces.into_iter().map(named).collect()
}

/// Writes the booking down, with its sheets and parts; returns its number.
fn record_booking(
    change: &Change<'_>,
    Known { digest, layout }: Known<'_>,
    sheets: &[Sheet<'_>],
    areas: &Areas,
    options: &BookOptions,
) -> Result<i64> {
    change.run(
        "INSERT INTO bookings (digest, name, booked, again, taken, parts, kept, rest, kerf) \
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)",
        (
            digest,
            &options.name,
            &change.at,
            options.again,
            areas.taken,
            areas.parts,
            areas.kept,
            areas.rest,
            areas.kerf,
        ),
    )?;
    let number = change.last_number();
    let mut made: BTreeMap<(&str, &str, &str), (u32, f64, f64)> = BTreeMap::new();
    for Sheet { claim, fates, .. } in sheets {
        let record = claim.record;
        change.run(
            "INSERT INTO booked_numbers (booking, digest, layout, number, stands) \
             VALUES (?1, ?2, ?3, ?4, ?5)",
            (number, digest, layout, record.number as i64, !options.again),
        )?;
        let good = record.placements.iter().zip(fates);
        for (placement, _) in good.filter(|(_, fate)| **fate == Fate::Good) {
            let key = (&*record.material, &*placement.kit, &*placement.part);
            let Some(size) = Bounds::of_points(shape::points(&placement.outline)) else {
                continue;
            };
            let (a, b) = (size.width(), size.height());
            made.entry(key).or_insert((0, a.max(b), a.min(b))).0 += 1;
        }
    }
    for ((material, kit, part), (copies, length, width)) in made {
        change.run(
            "INSERT INTO booked_parts (booking, material, kit, part, copies, length, width) \
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
            (number, material, kit, part, copies, length, width),
        )?;
    }
    let what = match (options.sheets.is_empty(), sheets) {
        (true, _) => "was cut".to_owned(),
        (false, [one]) => format!("was cut, sheet {} alone", one.claim.record.number),
        (false, some) => format!("was cut, {} sheets of it", some.len()),
    };
    let spoiled = options.spoil.as_ref();
    let spoiled = spoiled.map_or_else(String::new, |s| format!(", sheet {} spoiled", s.sheet));
    let short: String = digest.chars().take(8).collect();
    let why = format!("nest {short}.. {what}{spoiled}{}", named(options));
    change.event(Event::new("booked", why).booking(number))?;
    Ok(number)
}

fn refuse_twice(
    change: &Change<'_>,
    Known { digest, layout }: Known<'_>,
    claims: &[&Claim<'_>],
    options: &BookOptions,
) -> Result<()> {
    if digest.len() != 64
        || !digest
            .bytes()
            .all(|b| matches!(b, b'0'..=b'9' | b'a'..=b'f'))
    {
        return Err(Failure::new(
            "nest",
            format!("{digest:?} is no SHA-256 digest in lower-case hex"),
            "",
        ));
    }
    if options.again {
        return Ok(());
    }
    let before = standing(change.db, digest, layout)?;
    let ours = |number| number == 0 || claims.iter().any(|c| c.record.number as i64 == number);
    let Some(first) = before.iter().find(|cut| ours(cut.number)) else {
        return Ok(());
    };
    let in_it = |claim: &&Claim<'_>| {
        let mut of_it = before.iter().filter(|cut| cut.booking == first.booking);
        of_it.any(|cut| cut.number == 0 || cut.number == claim.record.number as i64)
    };
    let Cut { number, booked, .. } = first;
    let (what, advice) = if *number == 0 || options.sheets.is_empty() && claims.iter().all(in_it) {
        ("it is".to_owned(), "")
    } else {
        (
            format!("sheet {number} of it is"),
            "name the other sheets with --sheet; ",
        )
    };
    Err(Failure::new(
        "nest",
        format!(
            "{what} already booked on {} as booking {}",
            day_of(booked),
            booking_id(first.booking)
        ),
        format!("{advice}use --again if it really was cut twice"),
    ))
}

/// A sheet of a nest that stands booked.
struct Cut {
    /// Its number; 0 for the whole of the nest.
    number: i64,
    booking: i64,
    /// When.
    booked: String,
}

/// Which sheets of a nest stand booked, the last booking first.
fn standing(db: Db<'_>, digest: &str, layout: &str) -> Result<Vec<Cut>> {
    db.rows(
        "SELECT n.number, n.booking, b.booked FROM booked_numbers n JOIN bookings b \
         ON b.number = n.booking WHERE (n.digest = ?1 OR n.layout = ?2) AND b.undone IS NULL \
         ORDER BY n.booking DESC, n.number",
        [digest, layout],
        |row| {
            Ok(Cut {
                number: row.get(0)?,
                booking: row.get(1)?,
                booked: row.get(2)?,
            })
        },
    )
}

/// Which sheets of a nest stand booked, by booking: its id and the numbers of the sheets.
///
/// # Errors
/// The rack cannot be read.
pub fn booked_of(
    rack: &Rack,
    nest: &NestFile,
    digest: &str,
) -> Result<BTreeMap<String, BTreeSet<usize>>> {
    let all = || nest.sheets.iter().map(|sheet| sheet.number);
    let mut booked: BTreeMap<String, BTreeSet<usize>> = BTreeMap::new();
    for cut in standing(rack.db(), digest, &layout_digest(nest))? {
        let of_it = booked.entry(booking_id(cut.booking)).or_default();
        match usize::try_from(cut.number) {
            Ok(0) | Err(_) => of_it.extend(all()),
            Ok(number) => of_it.extend([number]),
        }
    }
    Ok(booked)
}

/// What became of the material; refused where parts and offcuts are more than was taken.
fn balance(sheets: &[Sheet<'_>]) -> Result<Areas> {
    let mut areas = Areas {
        taken: 0.0,
        parts: 0.0,
        kept: 0.0,
        rest: 0.0,
        kerf: 0.0,
    };
    for sheet in sheets {
        let (taken, parts) = (area_of(&sheet.source), sheet.parts);
        let kept: f64 = sheet.kept.iter().map(|(_, shape)| shape.area()).sum();
        let rest = taken - parts - kept;
        if rest < 0.0 && !same_area(taken, parts + kept) {
            return Err(Failure::new(
                format!("nest sheet {}", sheet.claim.record.number),
                format!(
                    "parts ({parts:.0} mm2) and kept offcuts ({kept:.0}) are more than the {taken:.0} taken",
                ),
                "book the nest.json as `nest` wrote it, or nest again",
            ));
        }
        areas.taken += taken;
        areas.parts += parts;
        areas.kept += kept;
        areas.kerf += sheet.claim.kerf.min(rest.max(0.0));
    }
    areas.rest = areas.taken - areas.parts - areas.kept;
    Ok(areas)
}

/// Whether a nest says of itself what it takes.
fn check_taken(nest: &NestFile, claims: &[Claim<'_>], taken: f64) -> Result<()> {
    // A nest may count flaws as not taken; the rack does not.
    let least: f64 = claims.iter().map(|claim| claim.least_stock).sum();
    let stated = nest.totals.taken_area;
    if same_area(taken, stated) || (least..=taken).contains(&stated) {
        return Ok(());
    }
    Err(Failure::new(
        "nest: totals: taken_area",
        format!("{stated:.0} mm2 is stated, sheets and remnants add up to {taken:.0}"),
        "book the nest.json as `nest` wrote it, or nest again",
    ))
}

/// Takes the sheets off their counts and gives each its lot; returns what was taken, and where that is not of the
/// lot that the nest names.
fn take_sheets(
    change: &Change<'_>,
    number: i64,
    sheets: &mut [Sheet<'_>],
    short: &str,
    options: &BookOptions,
) -> Result<(Vec<SheetsTaken>, Vec<OtherLot>)> {
    let mut by_id: BTreeMap<String, Vec<&mut Sheet<'_>>> = BTreeMap::new();
    for sheet in sheets {
        if let Source::Sheet(stocked) = &sheet.source {
            by_id.entry(stocked.id.clone()).or_default().push(sheet);
        }
    }
    let (mut taken, mut other_lots) = (Vec::new(), Vec::new());
    for (id, sheets) in by_id {
        let count = u32::try_from(sheets.len()).unwrap_or(u32::MAX);
        let lots: Vec<Option<&str>> = sheets
            .iter()
            .map(|sheet| sheet.claim.record.source.lot.as_deref())
            .collect();
        let stock = sheet_stock::take(change, &id, &lots, number, options.name.as_deref())?;
        change.run(
            "INSERT INTO booked_sheets (booking, sheet, count, counted) VALUES (?1, ?2, ?3, ?4)",
            (number, &id, count, stock.left.is_some()),
        )?;
        let mut others = Vec::new();
        for (sheet, lot) in sheets.into_iter().zip(stock.lots) {
            let record = sheet.claim.record;
            others.extend(other_lot(record, lot.as_deref()));
            sheet.lot = lot;
        }
        change.event(
            Event::new("taken", format!("{count} cut by nest {short}.."))
                .sheet(&id)
                .booking(number),
        )?;
        for other in &others {
            change.event(
                Event::new("other-lot", other.to_string())
                    .sheet(&id)
                    .booking(number),
            )?;
        }
        other_lots.append(&mut others);
        taken.push(SheetsTaken {
            sheet: id,
            count,
            left: stock.left,
        });
    }
    other_lots.sort_by_key(|other| other.number);
    Ok((taken, other_lots))
}

/// The sheet, where it is not of the lot that the nest names.
fn other_lot(record: &SheetRecord, taken: Option<&str>) -> Option<OtherLot> {
    let asked = record.source.lot.clone()?;
    (taken != Some(&*asked)).then(|| OtherLot {
        number: record.number,
        sheet: record.source.id.clone(),
        asked,
        taken: taken.map(str::to_owned),
    })
}

#[cfg(test)]
mod tests;

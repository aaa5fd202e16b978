//! To book: a nest was really cut.

use super::booking::{Areas, Booking, OffcutEntered, SheetsTaken};
use super::event::Event;
use super::plausible::{self, Claim, same_area};
use super::remnant_row::{self, Logged, State};
use super::shape::{self, SLIVER};
use super::sheet_stock::{self, StockedSheet};
use super::spoil::{self, Fate, Spoil};
use super::store::{Change, Rack};
use super::{booking_id, hold, value};
use crate::job::Shop;
use crate::letters::letters;
use crate::nest_file::NestFile;
use crate::remnant::Remnant;
use crate::{Failure, Result};
use jiff::Zoned;
use panelwright_geometry::{Bounds, Point, Polygon};
use std::collections::BTreeMap;

/// Where new remnants stand until someone says otherwise.
const NOT_PLACED: &str = "not yet placed";

/// How far a sheet or remnant may differ from what was nested, in millimetres.
const SAME_SIZE: f64 = 0.01;

/// How a nest is booked.
#[derive(Debug, Clone, Default)]
pub struct BookOptions {
    /// Book although the same nest was booked before: it was cut twice.
    pub again: bool,
    /// Where the kept offcuts were put; "not yet placed" when `None`.
    pub place: Option<String>,
    /// Name of the order or a note, kept with the booking; remnants held for this order may be cut.
    pub name: Option<String>,
    /// Numbers of the sheets that were cut; all of the nest when there are none.
    pub sheets: Vec<usize>,
    /// What went wrong on one of them.
    pub spoil: Option<Spoil>,
}

/// What a sheet of the nest is really cut from.
enum Source {
    Sheet(StockedSheet),
    Remnant(Box<Logged>),
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
/// `digest` is [`super::digest_of`] the nest file. The shop says which materials have a grain, how many
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
    rack.change(when, |change| {
        refuse_twice(change, digest, &claims, options)?;
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
        let number = record_booking(change, digest, &sheets, &areas, options)?;
        let mut booking = Booking {
            id: booking_id(number),
            digest: digest.to_owned(),
            name: options.name.clone(),
            booked: change.at.clone(),
            numbers: claims.iter().map(|c| c.record.number).collect(),
            sheets: take_sheets(change, number, &mut sheets, &short)?,
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
            hold::end(change, id, "released", "it was cut")?;
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
    let names = (0..).map(|i| format!("{}{}", record.number, letters(i)));
    let parts = claim.parts.iter().zip(&fates);
    let good = parts.filter(|(_, fate)| **fate == Fate::Good);
    Ok(Sheet {
        kept: names.zip(pieces).collect(),
        parts: good.map(|(area, _)| area).sum(),
        fates,
        lot: None,
        claim,
        source,
    })
}

/// Writes the booking down, with its sheets and parts; returns its number.
fn record_booking(
    change: &Change<'_>,
    digest: &str,
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
            "INSERT INTO booked_numbers (booking, digest, number, stands) VALUES (?1, ?2, ?3, ?4)",
            (number, digest, record.number as i64, !options.again),
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
    digest: &str,
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
    let before = change.db.rows(
        "SELECT n.number, n.booking, b.booked FROM booked_numbers n JOIN bookings b \
         ON b.number = n.booking WHERE n.digest = ?1 AND b.undone IS NULL \
         ORDER BY n.booking DESC, n.number",
        [digest],
        |row| {
            Ok((
                row.get::<_, i64>(0)?,
                row.get::<_, i64>(1)?,
                row.get::<_, String>(2)?,
            ))
        },
    )?;
    let ours = |number| number == 0 || claims.iter().any(|c| c.record.number as i64 == number);
    let Some((number, booking, booked)) = before.iter().find(|(n, ..)| ours(*n)) else {
        return Ok(());
    };
    let in_it = |claim: &&Claim<'_>| {
        let mut of_it = before.iter().filter(|(_, b, _)| b == booking);
        of_it.any(|(n, ..)| *n == 0 || *n == claim.record.number as i64)
    };
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
            booked.get(..10).unwrap_or(booked),
            booking_id(*booking)
        ),
        format!("{advice}use --again if it really was cut twice"),
    ))
}

fn find_source(change: &Change<'_>, claim: &Claim<'_>, order: Option<&str>) -> Result<Source> {
    let record = claim.record;
    let id = &record.source.id;
    let place = format!("nest sheet {}", record.number);
    let other_material = |is: &str| {
        Failure::new(
            &place,
            format!(
                "{} {id} is {is:?}, the nest wants {:?}",
                record.source.kind, record.material
            ),
            "nest the order again",
        )
    };
    if record.source.kind == "remnant" {
        let logged =
            remnant_row::find_on_rack(change.db, id, "booked").map_err(|mut failure| {
                if failure.advice.is_empty() {
                    "nest the order again with the rack as it is now"
                        .clone_into(&mut failure.advice);
                }
                failure
            })?;
        hold::refuse_held(change.db, &logged, order, "booked")?;
        let remnant = &logged.remnant;
        if remnant.material != record.material {
            return Err(other_material(&remnant.material));
        }
        let logged_outline = Polygon::new(remnant.outline.outer.clone(), Vec::new());
        if shape::depth_outside(&logged_outline, &claim.outline) > SLIVER
            || shape::depth_outside(&claim.outline, &logged_outline) > SLIVER
        {
            return Err(Failure::new(
                place,
                format!("remnant {id} has another outline than the one that was nested"),
                "nest the order again with the rack as it is now",
            ));
        }
        if let Some((offcut, _)) = claim
            .kept
            .iter()
            .find(|(_, shape)| shape::depth_outside(shape, &remnant.outline) > SLIVER)
        {
            return Err(Failure::new(
                format!("{place}: offcut {}", offcut.id),
                format!("it lies over a void of remnant {id}"),
                "nest the order again with the rack as it is now",
            ));
        }
        return Ok(Source::Remnant(Box::new(logged)));
    }
    let Some(sheet) = sheet_stock::find(change.db, id)? else {
        return Err(sheet_stock::unknown(change.db, id)?);
    };
    if sheet.material != record.material {
        return Err(other_material(&sheet.material));
    }
    let bounds = claim.outline.bounds();
    let whole = Polygon::from_bounds(bounds);
    if (bounds.width() - sheet.length).abs() > SAME_SIZE
        || (bounds.height() - sheet.width).abs() > SAME_SIZE
        || shape::depth_outside(&whole, &claim.outline) > SLIVER
    {
        return Err(Failure::new(
            place,
            format!(
                "sheet {id} is {} x {} mm, the nest wants {} x {} mm",
                sheet.length,
                sheet.width,
                bounds.width(),
                bounds.height()
            ),
            "nest the order again with the shop file as it is now",
        ));
    }
    Ok(Source::Sheet(sheet))
}

/// The area of one source.
fn area_of(source: &Source) -> f64 {
    match source {
        Source::Sheet(sheet) => sheet.length * sheet.width,
        Source::Remnant(logged) => logged.remnant.outline.area(),
    }
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

/// Takes the sheets off their counts and gives each its lot.
fn take_sheets(
    change: &Change<'_>,
    number: i64,
    sheets: &mut [Sheet<'_>],
    short: &str,
) -> Result<Vec<SheetsTaken>> {
    let mut by_id: BTreeMap<String, Vec<&mut Sheet<'_>>> = BTreeMap::new();
    for sheet in sheets {
        if let Source::Sheet(stocked) = &sheet.source {
            by_id.entry(stocked.id.clone()).or_default().push(sheet);
        }
    }
    let mut taken = Vec::new();
    for (id, sheets) in by_id {
        let count = u32::try_from(sheets.len()).unwrap_or(u32::MAX);
        let stock = sheet_stock::take(change, &id, count, number)?;
        change.run(
            "INSERT INTO booked_sheets (booking, sheet, count, counted) VALUES (?1, ?2, ?3, ?4)",
            (number, &id, count, stock.left.is_some()),
        )?;
        change.event(
            Event::new("taken", format!("{count} cut by nest {short}.."))
                .sheet(&id)
                .booking(number),
        )?;
        for (sheet, lot) in sheets.into_iter().zip(stock.lots) {
            sheet.lot = lot;
        }
        taken.push(SheetsTaken {
            sheet: id,
            count,
            left: stock.left,
        });
    }
    Ok(taken)
}

/// What all offcuts of a booking have in common when they are logged.
struct Entering<'a> {
    change: &'a Change<'a>,
    shop: &'a Shop,
    options: &'a BookOptions,
    /// The first letters of the nest's digest.
    nest: &'a str,
}

impl Entering<'_> {
    /// Logs a kept offcut as the remnant `id`.
    fn enter(
        &self,
        offcut: &str,
        shape: &Polygon,
        from: &Sheet<'_>,
        id: String,
    ) -> Result<Remnant> {
        let shift = shape::to_origin(shape.bounds());
        let mut flaws: Vec<Vec<Point>> = Vec::new();
        let (material, lot, grain_deg, good_faces, from) = match &from.source {
            Source::Sheet(sheet) => {
                let material = self
                    .shop
                    .materials
                    .iter()
                    .find(|m| m.name == sheet.material);
                (
                    sheet.material.clone(),
                    from.lot.clone(),
                    // The grain of a sheet runs along its length.
                    material.is_some_and(|m| m.grain).then_some(0.0),
                    material.map_or(0, |m| m.good_faces),
                    format!("sheet {}", sheet.id),
                )
            }
            Source::Remnant(logged) => {
                let remnant = &logged.remnant;
                for flaw in &remnant.flaws {
                    for part in shape::clip(flaw, shape) {
                        flaws.push(part.into_iter().map(|p| shift.apply(p)).collect());
                    }
                }
                (
                    remnant.material.clone(),
                    remnant.lot.clone(),
                    remnant.grain_deg,
                    remnant.good_faces,
                    format!("remnant {}", remnant.id),
                )
            }
        };
        let remnant = Remnant {
            id,
            value: value::keep_value(self.shop, &material, shape.area()),
            material,
            outline: shape.placed(&shift),
            flaws,
            lot,
            grain_deg,
            good_faces,
            place: Some(
                self.options
                    .place
                    .clone()
                    .unwrap_or_else(|| NOT_PLACED.to_owned()),
            ),
            logged: Some(self.change.day.clone()),
            origin: Some(format!("offcut {offcut} of nest {}.., {from}", self.nest)),
            note: None,
        };
        remnant_row::insert(self.change, &remnant)?;
        Ok(remnant)
    }
}

fn record_offcut(
    change: &Change<'_>,
    number: i64,
    offcut: &str,
    remnant: &Remnant,
    source: &Source,
) -> Result<()> {
    let (kind, from) = match source {
        Source::Sheet(sheet) => ("sheet", &sheet.id),
        Source::Remnant(logged) => ("remnant", &logged.remnant.id),
    };
    change.run(
        "INSERT INTO booked_offcuts (booking, offcut, remnant, source_kind, source) \
         VALUES (?1, ?2, ?3, ?4, ?5)",
        (number, offcut, &remnant.id, kind, from),
    )?;
    change.event(
        Event::new("entered", remnant.origin.clone().unwrap_or_default())
            .remnant(&remnant.id)
            .booking(number),
    )
}

#[cfg(test)]
mod tests {
    use super::super::testing::{
        TestRack, block, digest, nest, remnant_nest, sheet_nest, sheet_record, shop, when,
    };
    use super::super::{retire, undo};
    use super::*;

    fn find<'a>(remnants: &'a [Remnant], id: &str) -> &'a Remnant {
        remnants
            .iter()
            .find(|r| r.id == id)
            .expect("it is on the rack")
    }

    #[test]
    fn sheets_leave_and_offcuts_enter() {
        let mut test = TestRack::new();
        let booking = test.book(&sheet_nest(), 5).expect("booked");
        assert_eq!(booking.id, "B-0001");
        let taken = SheetsTaken {
            sheet: "W-2440".to_owned(),
            count: 2,
            left: Some(1),
        };
        assert_eq!(booking.sheets, [taken]);
        assert_eq!(test.rack.stock_counts().expect("read")["W-2440"], Some(1));
        let ids: Vec<_> = booking.offcuts.iter().map(|o| o.remnant.as_str()).collect();
        assert_eq!(ids, ["R-0013", "R-0014"]);
        let remnants = test.rack.remnants().expect("read");
        let l = find(&remnants, "R-0014");
        let short = &digest(&sheet_nest())[..8];
        assert_eq!(
            l.origin.as_deref(),
            Some(format!("offcut 2B of nest {short}.., sheet W-2440").as_str())
        );
        assert_eq!(l.outline.bounds().min, Point::new(0.0, 0.0));
        assert_eq!(l.outline.bounds().max, Point::new(1130.0, 1200.0));
        // By hand: 1130 x 590 + 430 x 610; the cheapest white sheet costs 40 per square metre
        // (119.072 / 2.9768 m2), half of it is the keep rule's share.
        assert!((l.outline.area() - 929_000.0).abs() < 1e-6);
        assert!((l.value.expect("valued") - 0.929 * 20.0).abs() < 1e-9);
        assert_eq!(l.lot.as_deref(), Some("P-31"));
        assert_eq!((l.grain_deg, l.good_faces), (None, 1));
        assert_eq!(l.place.as_deref(), Some("not yet placed"));
        assert_eq!(l.logged.as_deref(), Some("2026-11-05"));
        let text = booking.text();
        assert!(text.contains("took 2 x sheet W-2440, 1 left"), "{text}");
        assert!(
            text.contains("offcut 2B is remnant R-0014: white 3, 1130 x 1200 mm"),
            "{text}"
        );
    }

    #[test]
    fn what_goes_in_comes_out() {
        let mut test = TestRack::new();
        for nest in [sheet_nest(), remnant_nest()] {
            let booking = test.book(&nest, 5).expect("booked");
            let areas = booking.areas;
            assert!((areas.taken - areas.parts - areas.kept - areas.rest).abs() < 1e-6);
            assert!(areas.rest > 0.0);
            let remnants = test.rack.remnants().expect("read");
            let entered: f64 = booking
                .offcuts
                .iter()
                .map(|o| find(&remnants, &o.remnant).outline.area())
                .sum();
            assert!((entered - areas.kept).abs() < 1e-6);
        }
        // By hand: two sheets of 2440 x 1220; the L less its void.
        let taken: Vec<f64> = test
            .rack
            .db()
            .rows("SELECT taken FROM bookings ORDER BY number", [], |row| {
                row.get(0)
            })
            .expect("read");
        assert_eq!(taken, [5_953_600.0, 380_000.0]);
    }

    #[test]
    fn an_offcut_of_a_remnant_inherits_its_papers_and_flaws() {
        let mut test = TestRack::new();
        let options = BookOptions {
            place: Some("bay 9".to_owned()),
            name: Some("order 17".to_owned()),
            ..BookOptions::default()
        };
        let nest = remnant_nest();
        let booking = book(
            &mut test.rack,
            &nest,
            &digest(&nest),
            &shop(),
            &when(5),
            &options,
        )
        .expect("booked");
        assert_eq!(booking.remnants, ["R-0012"]);
        let remnants = test.rack.remnants().expect("read");
        assert!(remnants.iter().all(|r| r.id != "R-0012"));
        let offcut = find(&remnants, "R-0013");
        assert_eq!(offcut.lot.as_deref(), Some("P-28"));
        assert_eq!((offcut.grain_deg, offcut.good_faces), (Some(90.0), 2));
        assert_eq!(offcut.place.as_deref(), Some("bay 9"));
        assert!(
            offcut
                .origin
                .as_deref()
                .is_some_and(|o| o.ends_with("remnant R-0012"))
        );
        // The flaw at 150..350, 350..450 moves with the piece that began at 10, 310.
        assert_eq!(offcut.flaws.len(), 1);
        let flaw = Polygon::new(offcut.flaws[0].clone(), Vec::new()).bounds();
        for (is, should) in [
            (flaw.min.x, 140.0),
            (flaw.min.y, 40.0),
            (flaw.max.x, 340.0),
            (flaw.max.y, 140.0),
        ] {
            assert!((is - should).abs() < 1e-4, "{flaw:?}");
        }
    }

    #[test]
    fn a_nest_is_booked_once() {
        let mut test = TestRack::new();
        let one = nest(vec![sheet_nest().sheets[0].clone()]);
        test.book(&one, 5).expect("booked");
        let before = test.dump();
        let failure = test.book(&one, 6).expect_err("twice");
        assert_eq!(
            failure.to_string(),
            "nest: it is already booked on 2026-11-05 as booking B-0001; \
             use --again if it really was cut twice"
        );
        assert_eq!(test.dump(), before);
        let options = BookOptions {
            again: true,
            ..BookOptions::default()
        };
        let again = book(
            &mut test.rack,
            &one,
            &digest(&one),
            &shop(),
            &when(6),
            &options,
        )
        .expect("cut twice");
        assert_eq!(again.sheets[0].left, Some(1));
        // Once both are undone it is a new nest again.
        for id in ["B-0001", "b-2"] {
            undo(&mut test.rack, id, None, &when(7)).expect("undone");
        }
        assert_eq!(test.book(&one, 8).expect("anew").id, "B-0003");
        let bad = book(&mut test.rack, &one, "xyz", &shop(), &when(8), &options);
        assert!(bad.expect_err("no digest").what.contains("SHA-256"));
    }

    #[test]
    fn a_remnant_used_meanwhile_is_named_with_the_booking() {
        let mut test = TestRack::new();
        test.book_remnant(5).expect("booked");
        let mut other = remnant_nest();
        other.seed = 8;
        let before = test.dump();
        let failure = test.book(&other, 6).expect_err("used");
        assert_eq!(
            failure.to_string(),
            "remnant R-0012: it was used on 2026-11-05 by booking B-0001, so it cannot be booked; \
             nest the order again with the rack as it is now"
        );
        assert_eq!(test.dump(), before);
        // The very nest says that it is booked, not that its remnant is gone.
        assert!(
            test.book_remnant(6)
                .expect_err("twice")
                .what
                .contains("already booked")
        );
        undo(&mut test.rack, "B-0001", None, &when(7)).expect("undone");
        retire(&mut test.rack, "R-0012", State::Retired, "broken", &when(7)).expect("retired");
        let failure = test.book(&other, 8).expect_err("retired");
        assert!(
            failure.what.contains("retired since 2026-11-07: broken"),
            "{failure}"
        );
    }

    #[test]
    fn two_programs_never_use_one_remnant() {
        let mut test = TestRack::new();
        let mut other = Rack::open(&test.path()).expect("open");
        let (one, mut two) = (remnant_nest(), remnant_nest());
        two.seed = 8;
        let start = std::sync::Barrier::new(2);
        let run = |rack: &mut Rack, nest: &NestFile| {
            start.wait();
            book(
                rack,
                nest,
                &digest(nest),
                &shop(),
                &when(5),
                &BookOptions::default(),
            )
        };
        let outcomes = std::thread::scope(|scope| {
            let first = scope.spawn(|| run(&mut test.rack, &one));
            let second = scope.spawn(|| run(&mut other, &two));
            [first.join().expect("ran"), second.join().expect("ran")]
        });
        assert_eq!(
            outcomes.iter().filter(|o| o.is_ok()).count(),
            1,
            "{outcomes:?}"
        );
        let failure = outcomes
            .into_iter()
            .find_map(Result::err)
            .expect("one lost");
        assert!(failure.what.contains("by booking B-0001"), "{failure}");
    }

    #[test]
    fn two_programs_count_every_sheet() {
        let mut test = TestRack::new();
        test.rack
            .set_stock("W-2440", Some(40), "delivery", &when(2))
            .expect("set");
        let path = test.path();
        std::thread::scope(|scope| {
            for worker in 0..2_u64 {
                let path = &path;
                scope.spawn(move || {
                    let mut rack = Rack::open(path).expect("open");
                    for i in 0..15 {
                        let mut one = nest(vec![sheet_nest().sheets[1].clone()]);
                        one.seed = 100 * worker + i;
                        let options = BookOptions::default();
                        book(&mut rack, &one, &digest(&one), &shop(), &when(5), &options)
                            .expect("booked");
                    }
                });
            }
        });
        assert_eq!(test.rack.stock_counts().expect("read")["W-2440"], Some(10));
        // Two from the shop's list, two offcuts for each of thirty bookings, all numbered apart.
        assert_eq!(test.rack.remnants().expect("read").len(), 62);
    }

    #[test]
    fn too_few_sheets() {
        let mut test = TestRack::new();
        test.rack
            .set_stock("W-2440", Some(1), "one fell", &when(2))
            .expect("set");
        let before = test.dump();
        let failure = test.book(&sheet_nest(), 5).expect_err("too few");
        assert_eq!(failure.what, "the nest takes 2, the rack counts 1");
        assert_eq!(test.dump(), before);
        // Sheets that are not counted never run out, and stay uncounted.
        let mut loose = sheet_nest();
        for sheet in &mut loose.sheets {
            sheet.source.id = "W-2440-loose".to_owned();
        }
        let booking = test.book(&loose, 5).expect("booked");
        assert_eq!(booking.sheets[0].left, None);
        undo(&mut test.rack, "1", None, &when(6)).expect("undone");
        assert_eq!(
            test.rack.stock_counts().expect("read")["W-2440-loose"],
            None
        );
    }

    #[test]
    fn a_nest_that_does_not_add_up_is_refused() {
        let mut test = TestRack::new();
        let before = test.dump();
        type Spoil = fn(&mut NestFile);
        let cases: Vec<(&str, Spoil)> = vec![
            ("format", |n| n.format = "other".to_owned()),
            ("units", |n| n.units = "inch".to_owned()),
            ("no sheets", |n| n.sheets.clear()),
            ("two sheets of this number", |n| n.sheets[1].number = 1),
            ("two offcuts 2A", |n| {
                n.sheets[1].offcuts[1].id = "2A".to_owned()
            }),
            ("did you mean \"white 3\"", |n| {
                n.sheets[0].material = "white 33".to_owned()
            }),
            ("is \"white 3\", the nest wants", |n| {
                n.sheets[0].material = "brushed 3".to_owned()
            }),
            ("did you mean W-2440?", |n| {
                n.sheets[0].source.id = "W-2441".to_owned()
            }),
            ("neither sheet nor remnant", |n| {
                n.sheets[0].source.kind = "roll".to_owned()
            }),
            ("does not know it", |n| {
                n.sheets[0].source.kind = "remnant".to_owned();
                n.sheets[0].source.id = "R-9000".to_owned();
            }),
            ("another outline", |n| {
                n.sheets[0].source.kind = "remnant".to_owned();
                n.sheets[0].source.id = "R-0007".to_owned();
            }),
            ("2440 x 1220 mm, the nest wants", |n| {
                n.sheets[0].outline = block(0., 0., 2440., 1221.)
            }),
            ("lies over the part", |n| {
                n.sheets[1].offcuts[0].outline = block(10., 509., 1200., 690.);
            }),
            ("lies over the offcut 2A", |n| {
                n.sheets[1].offcuts[0].outline = block(110., 520., 1200., 690.);
                // The two have 10 mm in common above the foot of the L.
                n.sheets[1].offcuts[1].outline = block(1300., 520., 800., 690.);
                n.sheets[1].offcuts[1].area = 800. * 690.;
            }),
            ("reaches out of the sheet", |n| {
                n.sheets[1].offcuts[0].outline = block(-10., 520., 1200., 690.);
            }),
            ("the part reaches out", |n| {
                n.sheets[1].placements[0].outline = block(10., -5., 1200., 500.);
            }),
            ("an area of 1 mm2 is stated", |n| {
                n.sheets[1].offcuts[0].area = 1.0
            }),
            ("is no number", |n| n.sheets[1].offcuts[0].area = f64::NAN),
            ("is no number", |n| {
                n.sheets[1].offcuts[0].outline[2][0] = f64::INFINITY
            }),
            ("kerf: inf is no number", |n| {
                n.sheets[0].kerf = f64::INFINITY
            }),
            ("spend: NaN is no number", |n| n.totals.spend = f64::NAN),
            ("crosses", |n| {
                n.sheets[1].offcuts[0].outline[2] = [100., 300.]
            }),
            ("part_area", |n| n.totals.part_area *= 1.1),
            ("kept_area", |n| n.totals.kept_area *= 1.1),
            ("taken_area", |n| n.totals.taken_area *= 1.1),
            ("are more than", |n| {
                // The same part twice in one place: no judge passes that, and it does not add up.
                let part = n.sheets[0].placements[0].clone();
                n.sheets[0].placements.push(part);
                n.totals.part_area += 1_440_000.0;
            }),
        ];
        for (expected, spoil) in cases {
            let mut nest = sheet_nest();
            spoil(&mut nest);
            let failure = test.book(&nest, 5).expect_err(expected).to_string();
            assert!(failure.contains(expected), "{expected}: {failure}");
            assert_eq!(test.dump(), before, "{expected}");
        }
        let mut twice = remnant_nest();
        let mut second = twice.sheets[0].clone();
        second.number = 2;
        second.offcuts.clear();
        second.source.id = "r-0012".to_owned();
        twice.sheets.push(second);
        assert!(
            test.book(&twice, 5)
                .expect_err("twice")
                .what
                .contains("a second time")
        );
        let mut over_void = remnant_nest();
        over_void.sheets[0].offcuts[0].outline = block(10.0, 100.0, 380.0, 280.0);
        assert!(
            test.book(&over_void, 5)
                .expect_err("void")
                .what
                .contains("over a void")
        );
        test.book(&sheet_nest(), 5).expect("unspoilt");
    }

    #[test]
    fn an_offcut_may_lie_in_a_window_and_keep_its_voids() {
        let mut test = TestRack::new();
        let whole = block(0.0, 0.0, 2440.0, 1220.0);
        let mut record = sheet_record(
            1,
            "sheet",
            "B-2440",
            "brushed 3",
            whole,
            &[
                block(10.0, 10.0, 1200.0, 1200.0),
                block(1500.0, 300.0, 400.0, 400.0),
            ],
            &[
                block(110.0, 110.0, 1000.0, 1000.0),
                block(1220.0, 10.0, 1210.0, 1200.0),
            ],
        );
        record.placements[0].holes = vec![block(100.0, 100.0, 1020.0, 1020.0)];
        record.offcuts[1].voids = vec![block(1490.0, 290.0, 420.0, 420.0)];
        record.offcuts[1].area -= 420.0 * 420.0;
        let booking = test.book(&nest(vec![record]), 5).expect("booked");
        let remnants = test.rack.remnants().expect("read");
        let holed = find(&remnants, &booking.offcuts[1].remnant);
        assert_eq!(holed.outline.holes.len(), 1);
        assert_eq!(holed.outline.area(), 1210.0 * 1200.0 - 420.0 * 420.0);
        // The grain of a sheet runs along it; this material has two good faces.
        assert_eq!((holed.grain_deg, holed.good_faces), (Some(0.0), 2));
    }
}

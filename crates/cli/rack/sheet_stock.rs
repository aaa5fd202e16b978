//! Sheets and how many there are.

use super::Event;
use super::sheet_hold;
use super::store::{Change, Db};
use crate::input::Sheet;
use crate::job::Purchase;
use crate::remnant::Remnant;
use crate::{Failure, Result};
use panelwright_geometry::Polygon;
use std::collections::BTreeMap;

/// A sheet as the rack knows it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct StockedSheet {
    pub id: String,
    pub material: String,
    pub length: f64,
    pub width: f64,
    pub stock: Option<u32>,
    pub lot: Option<String>,
    pub place: Option<String>,
}

impl StockedSheet {
    /// One of them, as a piece.
    pub fn as_piece(&self) -> Remnant {
        Remnant {
            id: self.id.clone(),
            material: self.material.clone(),
            outline: Polygon::rectangle(self.length, self.width),
            flaws: Vec::new(),
            lot: self.lot.clone(),
            grain_deg: None,
            good_faces: 0,
            place: self.place.clone(),
            logged: None,
            origin: None,
            note: None,
            value: None,
        }
    }
}

const SELECT: &str = "SELECT id, material, length, width, stock, lot, place FROM sheets";

fn read(row: &rusqlite::Row<'_>) -> rusqlite::Result<StockedSheet> {
    Ok(StockedSheet {
        id: row.get(0)?,
        material: row.get(1)?,
        length: row.get(2)?,
        width: row.get(3)?,
        stock: row.get(4)?,
        lot: row.get(5)?,
        place: row.get(6)?,
    })
}

/// Every sheet, by id.
pub(super) fn all(db: Db<'_>) -> Result<Vec<StockedSheet>> {
    db.rows(&format!("{SELECT} ORDER BY id"), [], read)
}

/// The sheet of this id.
pub(super) fn find(db: Db<'_>, id: &str) -> Result<Option<StockedSheet>> {
    db.first(&format!("{SELECT} WHERE id = ?1"), [id], read)
}

/// The failure for an id that is not there.
pub(super) fn unknown(db: Db<'_>, id: &str) -> Result<Failure> {
    let sheets = all(db)?;
    let near = super::nearest(id, sheets.iter().map(|sheet| sheet.id.as_str()));
    Ok(Failure::new(
        format!("sheet {id}"),
        "the rack does not know it",
        near.map_or_else(
            || "add it to the shop file".to_owned(),
            |near| format!("did you mean {near}? Or add it to the shop file"),
        ),
    ))
}

/// Adds a sheet of the shop file.
pub(super) fn add(change: &Change<'_>, sheet: &Sheet) -> Result<()> {
    if find(change.db, &sheet.id)?.is_some() {
        return Err(Failure::new(
            format!("sheet {}", sheet.id),
            "the shop file names it twice",
            "give each size its own id",
        ));
    }
    change.run(
        "INSERT INTO sheets (id, material, length, width, stock, lot, place) \
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
        (
            &sheet.id,
            &sheet.material,
            sheet.length,
            sheet.width,
            sheet.stock,
            &sheet.lot,
            &sheet.place,
        ),
    )?;
    let opening = i64::from(sheet.stock.unwrap_or(0));
    moved(change, &sheet.id, opening, "opening", None, None)?;
    change.event(
        Event::new(
            "sheet-added",
            match sheet.stock {
                Some(stock) => format!("{stock} in stock by the shop file"),
                None => "not counted by the shop file".to_owned(),
            },
        )
        .sheet(&sheet.id),
    )
}

fn same_piece(known: &StockedSheet, sheet: &Sheet) -> bool {
    known.material == sheet.material && known.length == sheet.length && known.width == sheet.width
}

fn same_papers(known: &StockedSheet, sheet: &Sheet) -> bool {
    known.lot == sheet.lot && known.place == sheet.place
}

/// Whether [`learn`] has anything to do.
pub(super) fn differs(db: Db<'_>, sheets: &[Sheet]) -> Result<bool> {
    let known = all(db)?;
    Ok(sheets.iter().any(|sheet| {
        !known
            .iter()
            .any(|k| k.id == sheet.id && same_piece(k, sheet) && same_papers(k, sheet))
    }))
}

/// Adds unknown sheets; takes over lot and place of known ones, and their material and size while
/// no booking rests on these.
pub(super) fn learn(change: &Change<'_>, sheets: &[Sheet]) -> Result<()> {
    for sheet in sheets {
        let Some(known) = find(change.db, &sheet.id)? else {
            add(change, sheet)?;
            continue;
        };
        if !same_piece(&known, sheet) {
            let booked = change.db.first(
                "SELECT booking FROM booked_sheets WHERE sheet = ?1 ORDER BY booking DESC",
                [&sheet.id],
                |row| row.get::<_, i64>(0),
            )?;
            if let Some(booking) = booked {
                return Err(Failure::new(
                    format!("sheet {}", sheet.id),
                    format!(
                        "the shop file says {} {} x {} mm, but booking {} took it as {} {} x {} mm",
                        sheet.material,
                        sheet.length,
                        sheet.width,
                        super::booking_id(booking),
                        known.material,
                        known.length,
                        known.width
                    ),
                    "give the new sheet an id of its own",
                ));
            }
        }
        if same_piece(&known, sheet) && same_papers(&known, sheet) {
            continue;
        }
        change.run(
            "UPDATE sheets SET material = ?2, length = ?3, width = ?4, lot = ?5, place = ?6 \
             WHERE id = ?1",
            (
                &sheet.id,
                &sheet.material,
                sheet.length,
                sheet.width,
                &sheet.lot,
                &sheet.place,
            ),
        )?;
        change.event(
            Event::new("sheet-changed", "as the shop file says now")
                .sheet(&sheet.id)
                .detail(serde_json::json!({
                    "was": [known.material, known.length, known.width, known.lot, known.place],
                    "is": [sheet.material, sheet.length, sheet.width, sheet.lot, sheet.place],
                })),
        )?;
    }
    Ok(())
}

/// More sheets at a time are a slip.
pub(super) const MOST: u32 = 1_000_000;

/// The count would not fit its column.
pub(super) fn too_many(place: String) -> Failure {
    let what = "there would be more than can be counted";
    Failure::new(place, what, "correct the count first")
}

/// Sets the count of a sheet.
pub(super) fn set(change: &Change<'_>, id: &str, stock: Option<u32>, why: &str) -> Result<()> {
    let why = super::need_reason(why, format!("sheet {id}"))?;
    let Some(known) = find(change.db, id)? else {
        return Err(unknown(change.db, id)?);
    };
    if let Some(stock) = stock.filter(|stock| *stock > MOST) {
        let what = format!("{stock} sheets cannot be there");
        let advice = format!("give 0 to {MOST}");
        return Err(Failure::new(format!("sheet {id}"), what, advice));
    }
    change.run(
        "UPDATE sheets SET stock = ?2 WHERE id = ?1",
        (&known.id, stock),
    )?;
    let by = i64::from(stock.unwrap_or(0)) - i64::from(known.stock.unwrap_or(0));
    moved(change, &known.id, by, "counted", None, None)?;
    if let Some(stock) = stock {
        let received = in_receipts(change.db, &known.id)?;
        let mut gone = received.saturating_sub(stock);
        for open in open_receipts(change.db, &known.id)? {
            let count = open.remaining.min(gone);
            take_from_receipt(change, open.number, count)?;
            gone -= count;
        }
    }
    change.event(
        Event::new("counted", why)
            .sheet(&known.id)
            .detail(serde_json::json!({ "was": known.stock, "is": stock })),
    )
}

/// Adds to the ledger; a change by nothing is none.
pub(super) fn moved(
    change: &Change<'_>,
    sheet: &str,
    by: i64,
    kind: &str,
    booking: Option<i64>,
    receipt: Option<i64>,
) -> Result<()> {
    if by != 0 {
        change.run(
            "INSERT INTO movements (at, sheet, change, kind, booking, receipt) \
             VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
            (&change.at, sheet, by, kind, booking, receipt),
        )?;
    }
    Ok(())
}

/// The sum of a sheet's ledger, which is its count, and the ledger's last entry; 0 where there is none.
pub(super) fn ledger(db: Db<'_>, sheet: &str) -> Result<(i64, i64)> {
    let read = db.first(
        "SELECT coalesce(sum(change), 0), coalesce(max(number), 0) FROM movements WHERE sheet = ?1",
        [sheet],
        |row| Ok((row.get(0)?, row.get(1)?)),
    )?;
    Ok(read.unwrap_or_default())
}

/// How many there were of a sheet by an entry of its ledger, and what was taken, received and returned after that: what
/// was counted since is left out. `None` where the ledger has no such entry.
pub(super) fn since(db: Db<'_>, sheet: &str, entry: i64) -> Result<Option<(i64, i64)>> {
    let read = db.first(
        "SELECT coalesce(sum(change) FILTER (WHERE number <= ?2), 0), \
         coalesce(sum(change) FILTER (WHERE number > ?2 AND kind <> 'counted'), 0), \
         ?2 = 0 OR coalesce(max(number = ?2), 0) FROM movements WHERE sheet = ?1",
        (sheet, entry),
        |row| Ok(((row.get(0)?, row.get(1)?), row.get::<_, bool>(2)?)),
    )?;
    Ok(read.filter(|(_, known)| *known).map(|(then, _)| then))
}

/// How many sheets of known purchases are left.
fn in_receipts(db: Db<'_>, sheet: &str) -> Result<u32> {
    let sum = db.first(
        "SELECT coalesce(sum(remaining), 0) FROM receipts WHERE sheet = ?1 AND remaining > 0",
        [sheet],
        |row| row.get::<_, u32>(0),
    )?;
    Ok(sum.unwrap_or(0))
}

/// A purchase of which there is some left.
struct Open {
    number: i64,
    remaining: u32,
    lot: Option<String>,
}

/// The purchases of a sheet that are not used up, the oldest first.
fn open_receipts(db: Db<'_>, sheet: &str) -> Result<Vec<Open>> {
    db.rows(
        "SELECT number, remaining, lot FROM receipts WHERE sheet = ?1 AND remaining > 0 \
         ORDER BY number",
        [sheet],
        |row| {
            Ok(Open {
                number: row.get(0)?,
                remaining: row.get(1)?,
                lot: row.get(2)?,
            })
        },
    )
}

/// What is left of the purchases of each of these sheets that has any, in the order in which
/// [`take`] uses them up; sheets that were there before come first where they are counted.
pub(super) fn purchases(db: Db<'_>, sheets: &[Sheet]) -> Result<BTreeMap<String, Vec<Purchase>>> {
    let mut all = BTreeMap::new();
    for sheet in sheets {
        let open = open_receipts(db, &sheet.id)?;
        let Some(known) = find(db, &sheet.id)?.filter(|_| !open.is_empty()) else {
            continue;
        };
        let received = open.iter().map(|o| o.remaining).sum();
        let before = known
            .stock
            .map_or(0, |stock| stock.saturating_sub(received));
        let before = Purchase {
            lot: sheet.lot.clone(),
            count: Some(before),
        };
        let after = open.into_iter().map(|open| Purchase {
            lot: open.lot,
            count: Some(open.remaining),
        });
        all.insert(
            sheet.id.clone(),
            [before].into_iter().chain(after).collect(),
        );
    }
    Ok(all)
}

/// Takes `count` sheets off a purchase.
fn take_from_receipt(change: &Change<'_>, number: i64, count: u32) -> Result<()> {
    change.run(
        "UPDATE receipts SET remaining = remaining - ?2 WHERE number = ?1",
        (number, count),
    )?;
    Ok(())
}

/// Sheets taken off a count.
pub(super) struct Taken {
    /// What is left; `None` when they are not counted.
    pub left: Option<u32>,
    /// The lot of each sheet taken.
    pub lots: Vec<Option<String>>,
}

/// Takes sheets for a booking, one for each of `lots`: of the lot that the nest names, while there are any of
/// it; else first those whose purchase is not known, where sheets are counted, then those of the oldest
/// purchases.
///
/// Sheets that are held for another order than `order` are left alone.
pub(super) fn take(
    change: &Change<'_>,
    id: &str,
    lots: &[Option<&str>],
    booking: i64,
    order: Option<&str>,
) -> Result<Taken> {
    let Some(known) = find(change.db, id)? else {
        return Err(unknown(change.db, id)?);
    };
    let count = u32::try_from(lots.len()).unwrap_or(u32::MAX);
    let received = in_receipts(change.db, id)?;
    let mut left = None;
    let mut before = 0;
    if let Some(stock) = known.stock {
        let Some(rest) = stock.checked_sub(count) else {
            return Err(Failure::new(
                format!("sheet {id}"),
                format!("the nest takes {count}, the rack counts {stock}"),
                "correct the count if there are more, or nest again with what there is",
            ));
        };
        sheet_hold::cut(change, id, (count, stock), booking, order)?;
        change.run("UPDATE sheets SET stock = ?2 WHERE id = ?1", (id, rest))?;
        moved(change, id, -i64::from(count), "taken", Some(booking), None)?;
        left = Some(rest);
        before = stock.saturating_sub(received);
    }
    let mut open: Vec<(Open, u32)> = open_receipts(change.db, id)?
        .into_iter()
        .map(|open| (open, 0))
        .collect();
    let mut taken: Vec<Option<Option<String>>> = vec![None; lots.len()];
    // What the nest names comes before the rest, or an earlier sheet would help itself to it.
    for named in [true, false] {
        for (lot, taken) in lots.iter().zip(&mut taken) {
            if taken.is_some() || named && lot.is_none() {
                continue;
            }
            let suits = |of: &Option<String>| !named || of.as_deref() == *lot;
            if before > 0 && suits(&known.lot) {
                before -= 1;
                *taken = Some(known.lot.clone());
                continue;
            }
            let mut receipts = open.iter_mut();
            let its = receipts.find(|(open, taken)| open.remaining > *taken && suits(&open.lot));
            if let Some((open, count)) = its {
                *count += 1;
                *taken = Some(open.lot.clone());
            } else if known.stock.is_none() && suits(&known.lot) {
                *taken = Some(known.lot.clone());
            }
        }
    }
    for (open, count) in open.iter().filter(|(_, count)| *count > 0) {
        take_from_receipt(change, open.number, *count)?;
        change.run(
            "INSERT INTO booked_receipts (booking, receipt, count) VALUES (?1, ?2, ?3)",
            (booking, open.number, count),
        )?;
    }
    let lots = taken
        .into_iter()
        .map(|lot| lot.unwrap_or_else(|| known.lot.clone()));
    Ok(Taken {
        left,
        lots: lots.collect(),
    })
}

/// Puts `count` sheets of a booking back on the count, if they are still counted.
pub(super) fn put_back(change: &Change<'_>, id: &str, count: u32, booking: i64) -> Result<()> {
    let known = find(change.db, id)?;
    if let Some(stock) = known.and_then(|known| known.stock) {
        let Some(stock) = stock.checked_add(count) else {
            return Err(too_many(format!("sheet {id}")));
        };
        change.run("UPDATE sheets SET stock = ?2 WHERE id = ?1", (id, stock))?;
        moved(
            change,
            id,
            i64::from(count),
            "returned",
            Some(booking),
            None,
        )?;
    }
    Ok(())
}

/// Gives purchases back what a booking took of them.
pub(super) fn put_back_receipts(change: &Change<'_>, booking: i64) -> Result<()> {
    change.run(
        "UPDATE receipts SET remaining = min(count, remaining + (SELECT b.count FROM \
         booked_receipts b WHERE b.booking = ?1 AND b.receipt = receipts.number)) \
         WHERE number IN (SELECT receipt FROM booked_receipts WHERE booking = ?1)",
        [booking],
    )?;
    change.run("DELETE FROM booked_receipts WHERE booking = ?1", [booking])?;
    Ok(())
}

//! Sheets and how many there are.

use super::Event;
use super::store::{Change, Db};
use crate::input::Sheet;
use crate::{Failure, Result};

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

/// Sets the count of a sheet.
pub(super) fn set(change: &Change<'_>, id: &str, stock: Option<u32>, why: &str) -> Result<()> {
    let why = super::need_reason(why, format!("sheet {id}"))?;
    let Some(known) = find(change.db, id)? else {
        return Err(unknown(change.db, id)?);
    };
    change.run(
        "UPDATE sheets SET stock = ?2 WHERE id = ?1",
        (&known.id, stock),
    )?;
    change.event(
        Event::new("counted", why)
            .sheet(&known.id)
            .detail(serde_json::json!({ "was": known.stock, "is": stock })),
    )
}

/// Takes `count` sheets off the count; returns what is left, `None` when they are not counted.
pub(super) fn take(change: &Change<'_>, id: &str, count: u32) -> Result<Option<u32>> {
    let Some(known) = find(change.db, id)? else {
        return Err(unknown(change.db, id)?);
    };
    let Some(stock) = known.stock else {
        return Ok(None);
    };
    let Some(left) = stock.checked_sub(count) else {
        return Err(Failure::new(
            format!("sheet {id}"),
            format!("the nest takes {count}, the rack counts {stock}"),
            "correct the count if there are more, or nest again with what there is",
        ));
    };
    change.run("UPDATE sheets SET stock = ?2 WHERE id = ?1", (id, left))?;
    Ok(Some(left))
}

/// Puts `count` sheets back on the count, if they are still counted.
pub(super) fn put_back(change: &Change<'_>, id: &str, count: u32) -> Result<()> {
    change.run(
        "UPDATE sheets SET stock = stock + ?2 WHERE id = ?1 AND stock IS NOT NULL",
        (id, count),
    )?;
    Ok(())
}

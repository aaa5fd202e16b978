//! To keep sheets for an order, for a while, as remnants are: so many of a size, as sheets of one size are
//! all alike.

use super::event::Event;
use super::hold::is_for_others;
use super::sheet_stock::{self, StockedSheet};
use super::store::{Change, Db, day_of};
use crate::{Failure, Result};
use serde::Serialize;
use std::collections::BTreeMap;

/// For whom, how many and how long sheets of a size are kept.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct SheetHold {
    /// Id of the sheet size.
    pub sheet: String,
    /// Name of the order.
    pub order: String,
    /// How many sheets.
    pub count: u32,
    /// Since when, RFC 3339.
    pub since: String,
    /// When it ends by itself, RFC 3339.
    pub until: String,
}

impl SheetHold {
    fn read(row: &rusqlite::Row<'_>) -> rusqlite::Result<Self> {
        Ok(Self {
            sheet: row.get(0)?,
            order: row.get(1)?,
            count: row.get(2)?,
            since: row.get(3)?,
            until: row.get(4)?,
        })
    }

    /// The day of its end.
    pub(super) fn last_day(&self) -> &str {
        day_of(&self.until)
    }
}

const SELECT: &str = "SELECT sheet, for_order, count, since, until FROM sheet_holds";

/// The holds that stand at a moment, given in seconds since 1970 UTC, by sheet and order.
pub(super) fn standing(db: Db<'_>, now: i64) -> Result<Vec<SheetHold>> {
    db.rows(
        &format!("{SELECT} WHERE until_seconds > ?1 ORDER BY sheet, for_order"),
        [now],
        SheetHold::read,
    )
}

/// The holds of a sheet size, run out or not.
fn of(db: Db<'_>, sheet: &str) -> Result<Vec<SheetHold>> {
    db.rows(
        &format!("{SELECT} WHERE sheet = ?1 ORDER BY for_order"),
        [sheet],
        SheetHold::read,
    )
}

/// How many sheets of each size are held for orders other than these.
pub(super) fn for_others(db: Db<'_>, orders: &[&str], now: i64) -> Result<BTreeMap<String, u32>> {
    let mut held = BTreeMap::new();
    for hold in standing(db, now)? {
        if is_for_others(&hold.order, orders) {
            *held.entry(hold.sheet).or_insert(0) += hold.count;
        }
    }
    Ok(held)
}

/// The sheet and count that `id` or `id:count` means; `None` where the rack knows no such sheet.
///
/// # Errors
/// The count is no number of at least 1.
pub(super) fn named(db: Db<'_>, text: &str) -> Result<Option<(StockedSheet, u32)>> {
    if let Some(sheet) = sheet_stock::find(db, text)? {
        return Ok(Some((sheet, 1)));
    }
    let Some((id, count)) = text.rsplit_once(':') else {
        return Ok(None);
    };
    let Some(sheet) = sheet_stock::find(db, id)? else {
        return Ok(None);
    };
    match count.parse() {
        Ok(n) if n > 0 => Ok(Some((sheet, n))),
        _ => Err(Failure::new(
            format!("sheet {id}"),
            format!("'{count}' is no number of sheets"),
            format!("write it as {id}:2"),
        )),
    }
}

/// Holds so many sheets for an order: the number takes the place of the one held for that order so far, which is
/// returned where it differs; the end does so where it is later.
pub(super) fn hold(
    change: &Change<'_>,
    (sheet, count): (&StockedSheet, u32),
    order: &str,
    (until, seconds): (&str, i64),
) -> Result<(Option<SheetHold>, Option<u32>)> {
    let id = &sheet.id;
    let Some(stock) = sheet.stock else {
        return Err(Failure::new(
            format!("sheet {id}"),
            "it is not counted, so none of it can be held",
            format!("count it first: `panelwright rack stock {id} --count N --reason TEXT`"),
        ));
    };
    // What has run out is gone by now.
    let (ours, others): (Vec<SheetHold>, Vec<SheetHold>) = of(change.db, id)?
        .into_iter()
        .partition(|hold| hold.order == order);
    let before = ours.first().map(|hold| hold.count).filter(|n| *n != count);
    let taken: u32 = others.iter().map(|hold| hold.count).sum();
    if taken.saturating_add(count) > stock {
        return Err(short(
            id,
            &format!("{count} cannot be held"),
            stock,
            &others,
        ));
    }
    change.run(
        "INSERT INTO sheet_holds (sheet, for_order, count, since, until, until_seconds) \
         VALUES (?1, ?2, ?3, ?4, ?5, ?6) ON CONFLICT (sheet, for_order) DO UPDATE SET \
         count = excluded.count, \
         until = iif(excluded.until_seconds > until_seconds, excluded.until, until), \
         until_seconds = max(until_seconds, excluded.until_seconds)",
        (id, order, count, &change.at, until, seconds),
    )?;
    let all = of(change.db, id)?;
    let hold = all.into_iter().find(|hold| hold.order == order);
    if let Some(hold) = &hold {
        let was = before.map_or_else(String::new, |n| format!(", {n} before"));
        let why = format!("{count} for order {order}, until {}{was}", hold.last_day());
        change.event(Event::new("held", why).sheet(id))?;
    }
    Ok((hold, before))
}

/// Says of the holds of a sheet size that they are more than the `stock` there is, as after a count by hand; `None` where
/// there is enough. The holds stand all the same: which of them is to end is up to people.
#[must_use]
pub fn beyond<'a>(holds: impl IntoIterator<Item = &'a SheetHold>, stock: u32) -> Option<String> {
    let holds: Vec<&SheetHold> = holds.into_iter().collect();
    let held: u64 = holds.iter().map(|hold| u64::from(hold.count)).sum();
    if held <= u64::from(stock) {
        return None;
    }
    let orders = holds.iter();
    let orders: Vec<String> = orders
        .map(|hold| format!("order {} holds {}", hold.order, hold.count))
        .collect();
    let there = match stock {
        0 => "none is there".to_owned(),
        1 => "only 1 is there".to_owned(),
        n => format!("only {n} are there"),
    };
    Some(format!("{}, {there}", orders.join(", ")))
}

/// [`beyond`] for the sheet of this id, inside a change: what has run out is gone by then.
pub(super) fn beyond_of(db: Db<'_>, sheet: &str, stock: u32) -> Result<Option<String>> {
    Ok(beyond(&of(db, sheet)?, stock))
}

/// Ends the holds of a sheet size, those of one order if it is named.
pub(super) fn release(
    change: &Change<'_>,
    sheet: &str,
    order: Option<&str>,
    why: &str,
) -> Result<()> {
    let holds = of(change.db, sheet)?;
    let failed =
        |what: String, advice: &str| Err(Failure::new(format!("sheet {sheet}"), what, advice));
    let ends: Vec<&SheetHold> = match (order, holds.as_slice()) {
        (Some(order), all) => all.iter().filter(|hold| hold.order == order).collect(),
        (None, []) => Vec::new(),
        (None, [one]) => vec![one],
        (None, several) => {
            let orders: Vec<&str> = several.iter().map(|hold| hold.order.as_str()).collect();
            return failed(
                format!("it is held for the orders {}", orders.join(", ")),
                "say which by --order",
            );
        }
    };
    if ends.is_empty() {
        return failed("nobody holds it".to_owned(), "see `panelwright rack stock`");
    }
    ends.into_iter()
        .try_for_each(|hold| end(change, hold, "released", why))
}

/// Ends a hold.
fn end(change: &Change<'_>, hold: &SheetHold, kind: &'static str, why: &str) -> Result<()> {
    change.run(
        "DELETE FROM sheet_holds WHERE sheet = ?1 AND for_order = ?2",
        (&hold.sheet, &hold.order),
    )?;
    let why = format!("{why} ({} were held for order {})", hold.count, hold.order);
    change.event(Event::new(kind, why).sheet(&hold.sheet))
}

/// Ends the holds that have run out.
pub(super) fn sweep(change: &Change<'_>, now: i64) -> Result<()> {
    let over = change.db.rows(
        &format!("{SELECT} WHERE until_seconds <= ?1 ORDER BY sheet, for_order"),
        [now],
        SheetHold::read,
    )?;
    over.iter().try_for_each(|hold| {
        let why = format!("ran out on {}", hold.last_day());
        end(change, hold, "hold-over", &why)
    })
}

/// Sheets of a size held for an order, by name; all that are held for it where `order` alone is asked for.
pub(super) fn held_for(db: Db<'_>, order: &str) -> Result<Vec<SheetHold>> {
    db.rows(
        &format!("{SELECT} WHERE for_order = ?1 ORDER BY sheet"),
        [order],
        SheetHold::read,
    )
}

/// Takes `count` of `stock` sheets for an order: refused where others hold what is needed; what is held for
/// the order itself becomes less, and is kept with the booking. Inside a change: what has run out is gone by then.
pub(super) fn cut(
    change: &Change<'_>,
    sheet: &str,
    (count, stock): (u32, u32),
    booking: i64,
    order: Option<&str>,
) -> Result<()> {
    let order = order.map(str::trim);
    let (ours, others): (Vec<_>, Vec<_>) = of(change.db, sheet)?
        .into_iter()
        .partition(|hold| order == Some(hold.order.as_str()));
    let held: u32 = others.iter().map(|hold| hold.count).sum();
    if count > stock.saturating_sub(held) {
        return Err(short(
            sheet,
            &format!("the nest takes {count}"),
            stock,
            &others,
        ));
    }
    for hold in ours {
        change.run(
            "INSERT INTO booked_holds (booking, sheet, count, for_order, since, until, until_seconds) \
             SELECT ?1, sheet, min(count, ?2), for_order, since, until, until_seconds \
             FROM sheet_holds WHERE sheet = ?3 AND for_order = ?4",
            (booking, count, sheet, &hold.order),
        )?;
        if hold.count > count {
            change.run(
                "UPDATE sheet_holds SET count = count - ?3 WHERE sheet = ?1 AND for_order = ?2",
                (sheet, &hold.order, count),
            )?;
            let why = format!(
                "{count} of {} held for order {} were cut",
                hold.count, hold.order
            );
            change.event(Event::new("released", why).sheet(sheet))?;
        } else {
            end(change, &hold, "released", "they were cut")?;
        }
    }
    Ok(())
}

/// Holds the sheets again that a booking cut, those that are still counted: on top of what is left of their hold. Where
/// the order has asked anew since that was used up, the number it asked for stands.
pub(super) fn restore(
    change: &Change<'_>,
    booking: i64,
    now: i64,
    why: &str,
) -> Result<Vec<SheetHold>> {
    let cut = change.db.rows(
        "SELECT sheet, for_order, count, since, until FROM booked_holds \
         WHERE booking = ?1 AND until_seconds > ?2 AND sheet IS NOT NULL ORDER BY sheet, for_order",
        (booking, now),
        SheetHold::read,
    )?;
    let mut restored = Vec::new();
    for hold in cut {
        let id = &hold.sheet;
        let counted = sheet_stock::find(change.db, id)?.is_some_and(|sheet| sheet.stock.is_some());
        if !counted {
            continue;
        }
        let changed = change.run(
            "INSERT INTO sheet_holds (sheet, for_order, count, since, until, until_seconds) \
             SELECT sheet, for_order, count, since, until, until_seconds FROM booked_holds \
             WHERE booking = ?1 AND sheet = ?2 \
             ON CONFLICT (sheet, for_order) DO UPDATE SET count = count + excluded.count \
             WHERE since = excluded.since",
            (booking, id),
        )?;
        let all = of(change.db, id)?;
        let Some(now) = all.into_iter().find(|now| now.order == hold.order) else {
            continue;
        };
        if changed > 0 {
            let (order, day) = (&now.order, now.last_day());
            let why = format!("{} again for order {order}, until {day}: {why}", now.count);
            change.event(Event::new("held", why).sheet(id).booking(booking))?;
            restored.push(now);
        }
    }
    Ok(restored)
}

/// The failure where others hold what is wanted.
fn short(sheet: &str, wanted: &str, stock: u32, others: &[SheetHold]) -> Failure {
    let held: Vec<String> = others
        .iter()
        .map(|h| format!("{} for order {} until {}", h.count, h.order, h.last_day()))
        .collect();
    let held = match held.as_slice() {
        [] => String::new(),
        some => format!(", of which are held {}", some.join(" and ")),
    };
    Failure::new(
        format!("sheet {sheet}"),
        format!("{wanted}, the rack counts {stock}{held}"),
        "take another sheet, correct the count if there are more, or end a hold with `panelwright rack release`",
    )
}

#[cfg(test)]
mod tests;

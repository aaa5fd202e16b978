//! To keep remnants and sheets for an order, for a while.

use super::event::Event;
use super::remnant_row::{self, Logged};
use super::sheet_hold::{self, SheetHold};
use super::sheet_stock::StockedSheet;
use super::store::{Change, Db, Rack, day_of, stamp};
use crate::{Failure, Result};
use jiff::{ToSpan, Zoned};
use serde::Serialize;
use std::collections::BTreeMap;
use std::fmt::Write as _;

/// Longest hold, in days: what is kept for longer is not stock any more.
const MOST_DAYS: u16 = 366;

/// For whom and how long a remnant is kept.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Hold {
    /// Id of the remnant.
    pub remnant: String,
    /// Name of the order.
    pub order: String,
    /// Since when, RFC 3339.
    pub since: String,
    /// When it ends by itself, RFC 3339.
    pub until: String,
}

impl Hold {
    /// The day of its end.
    pub(super) fn last_day(&self) -> &str {
        day_of(&self.until)
    }
}

/// Remnants that were put on hold or released.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Held {
    /// Remnants held now; empty after a release.
    pub held: Vec<Hold>,
    /// Sheets held now; empty after a release.
    pub sheets: Vec<SheetHold>,
    /// How many sheets of a size were held for the order before, where it is another number now.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub before: BTreeMap<String, u32>,
    /// What is free again.
    pub released: Vec<String>,
}

/// Keeps remnants and sheets for an order: nests and bookings of other orders leave them alone. A hold of
/// the same order is made longer, never shorter.
///
/// `ids` names remnants, and sheets as `ID` or `ID:COUNT`; what is named more than once of a size is added up. The
/// sum is the number that is held for the order from now on, whatever it was before. All of them or none.
///
/// # Errors
/// One is not on the rack or is held for another order (named, with its end); sheets are not counted,
/// or there are not as many that are free; the days are not 1 to 366; the order has no name.
pub fn hold(rack: &mut Rack, ids: &[String], order: &str, days: u16, when: &Zoned) -> Result<Held> {
    let order = order.trim();
    if order.is_empty() {
        return Err(Failure::new(
            "hold",
            "the order has no name",
            "give its name or number",
        ));
    }
    if !(1..=MOST_DAYS).contains(&days) {
        return Err(Failure::new(
            "hold",
            format!("{days} days is no time to hold a piece for"),
            "give 1 to 366 days",
        ));
    }
    let end = when
        .checked_add(i64::from(days).days())
        .map_err(|e| Failure::new("hold", format!("the end is no day: {e}"), "give fewer days"))?;
    let (until, seconds) = (stamp(&end), end.timestamp().as_second());
    rack.change(when, |change| {
        let named = named(change.db, ids)?;
        let mut held = Vec::new();
        for logged in named.remnants {
            refuse_held(change.db, &logged, Some(order), "held")?;
            let id = logged.remnant.id;
            change.run(
                "INSERT INTO holds (remnant, for_order, since, until, until_seconds) \
                 VALUES (?1, ?2, ?3, ?4, ?5) ON CONFLICT (remnant) DO UPDATE SET \
                 until = iif(excluded.until_seconds > until_seconds, excluded.until, until), \
                 until_seconds = max(until_seconds, excluded.until_seconds)",
                (&id, order, &change.at, &until, seconds),
            )?;
            let Some(hold) = of(change.db, &id)? else {
                continue;
            };
            let why = format!("for order {order}, until {}", hold.last_day());
            change.event(Event::new("held", why).remnant(&id))?;
            held.push(hold);
        }
        let (mut sheets, mut before) = (Vec::new(), BTreeMap::new());
        for (sheet, count) in &named.sheets {
            let end = (until.as_str(), seconds);
            let (hold, was) = sheet_hold::hold(change, (sheet, *count), order, end)?;
            before.extend(was.map(|was| (sheet.id.clone(), was)));
            sheets.extend(hold);
        }
        Ok(Held {
            held,
            sheets,
            before,
            released: Vec::new(),
        })
    })
}

/// What is asked to be held.
struct Named {
    /// Each of them once.
    remnants: Vec<Logged>,
    /// Each size once, with how many.
    sheets: Vec<(StockedSheet, u32)>,
}

/// What the names mean: a remnant that is named twice is one, a sheet size so many more sheets.
fn named(db: Db<'_>, ids: &[String]) -> Result<Named> {
    let mut named = Named {
        remnants: Vec::new(),
        sheets: Vec::new(),
    };
    for id in ids {
        if remnant_row::find(db, id)?.is_none()
            && let Some((sheet, count)) = sheet_hold::named(db, id)?
        {
            let mut known = named.sheets.iter_mut();
            match known.find(|(known, _)| known.id == sheet.id) {
                // Far more than there can be is refused as too many.
                Some((_, sum)) => *sum = sum.saturating_add(count),
                None => named.sheets.push((sheet, count)),
            }
            continue;
        }
        let logged = remnant_row::find_on_rack(db, id, "held")?;
        let is_new = |r: &Logged| r.remnant.id != logged.remnant.id;
        if named.remnants.iter().all(is_new) {
            named.remnants.push(logged);
        }
    }
    Ok(named)
}

/// Ends holds before their time: those that are named, and of an order, if one is named, no other's. With
/// an order and no names all that is held for it. `why` goes into the trace.
///
/// # Errors
/// Something named is not held, or not for that order; sheets are held for several orders and none is
/// named; nothing is held for the order. Nothing is changed then.
pub fn release(
    rack: &mut Rack,
    ids: &[String],
    order: Option<&str>,
    why: &str,
    when: &Zoned,
) -> Result<Held> {
    let why = super::need_reason(why, "release".to_owned())?;
    let order = order.map(str::trim);
    rack.change(when, |change| {
        let mut names = ids.to_vec();
        if let Some(order) = order.filter(|_| ids.is_empty()) {
            let db = change.db;
            names = db.rows(
                "SELECT remnant FROM holds WHERE for_order = ?1 ORDER BY remnant",
                [order],
                |row| row.get(0),
            )?;
            names.extend(
                sheet_hold::held_for(db, order)?
                    .into_iter()
                    .map(|h| h.sheet),
            );
            if names.is_empty() {
                return Err(Failure::new(
                    format!("order {order}"),
                    "nothing is held for it",
                    "see `panelwright rack list` and `panelwright rack stock`",
                ));
            }
        }
        let mut released = Vec::new();
        for id in &names {
            if remnant_row::find(change.db, id)?.is_none()
                && let Some((sheet, _)) = sheet_hold::named(change.db, id)?
            {
                sheet_hold::release(change, &sheet.id, order, &why)?;
                released.push(sheet.id);
                continue;
            }
            let logged = remnant_row::find_on_rack(change.db, id, "released")?;
            if order.is_some() {
                refuse_held(change.db, &logged, order, "released")?;
            }
            let id = logged.remnant.id;
            if !end(change, &id, "released", &why)? {
                return Err(Failure::new(
                    format!("remnant {id}"),
                    "nobody holds it",
                    "see `panelwright rack list`",
                ));
            }
            released.push(id);
        }
        Ok(Held {
            held: Vec::new(),
            sheets: Vec::new(),
            before: BTreeMap::new(),
            released,
        })
    })
}

/// Ends the hold of a remnant, if there is one.
pub(super) fn end(
    change: &Change<'_>,
    remnant: &str,
    kind: &'static str,
    why: &str,
) -> Result<bool> {
    let Some(hold) = of(change.db, remnant)? else {
        return Ok(false);
    };
    change.run("DELETE FROM holds WHERE remnant = ?1", [remnant])?;
    let why = format!("{why} (was held for order {})", hold.order);
    change.event(Event::new(kind, why).remnant(&hold.remnant))?;
    Ok(true)
}

/// Ends the hold of a remnant that a booking cuts, and keeps it with the booking.
pub(super) fn cut(change: &Change<'_>, remnant: &str, booking: i64) -> Result<()> {
    change.run(
        "INSERT INTO booked_holds (booking, remnant, for_order, since, until, until_seconds) \
         SELECT ?1, remnant, for_order, since, until, until_seconds FROM holds WHERE remnant = ?2",
        (booking, remnant),
    )?;
    end(change, remnant, "released", "it was cut")?;
    Ok(())
}

/// Holds again what a booking cut that is undone now, after remnants and sheets are back; what would have run out by now
/// is left free. Sheets come with all that are held for the order then.
pub(super) fn restore(
    change: &Change<'_>,
    booking: i64,
    now: i64,
) -> Result<(Vec<Hold>, Vec<SheetHold>)> {
    let why = format!("booking {} was undone", super::booking_id(booking));
    let remnants = change.db.rows(
        "SELECT remnant FROM booked_holds WHERE booking = ?1 AND until_seconds > ?2 \
         AND remnant IS NOT NULL ORDER BY rowid",
        (booking, now),
        |row| row.get::<_, String>(0),
    )?;
    let mut held = Vec::new();
    for id in remnants {
        change.run(
            "INSERT INTO holds (remnant, for_order, since, until, until_seconds) \
             SELECT remnant, for_order, since, until, until_seconds FROM booked_holds \
             WHERE booking = ?1 AND remnant = ?2",
            (booking, &id),
        )?;
        let Some(hold) = of(change.db, &id)? else {
            continue;
        };
        let why = format!(
            "again for order {}, until {}: {why}",
            hold.order,
            hold.last_day()
        );
        change.event(Event::new("held", why).remnant(&id).booking(booking))?;
        held.push(hold);
    }
    let sheets = sheet_hold::restore(change, booking, now, &why)?;
    change.run("DELETE FROM booked_holds WHERE booking = ?1", [booking])?;
    Ok((held, sheets))
}

/// Ends the holds that have run out.
pub(super) fn sweep(change: &Change<'_>, now: i64) -> Result<()> {
    let over = change.db.rows(
        "SELECT remnant, until FROM holds WHERE until_seconds <= ?1 ORDER BY remnant",
        [now],
        |row| Ok((row.get::<_, String>(0)?, row.get::<_, String>(1)?)),
    )?;
    for (remnant, until) in over {
        let day = day_of(&until);
        end(change, &remnant, "hold-over", &format!("ran out on {day}"))?;
    }
    sheet_hold::sweep(change, now)
}

fn read(row: &rusqlite::Row<'_>) -> rusqlite::Result<Hold> {
    Ok(Hold {
        remnant: row.get(0)?,
        order: row.get(1)?,
        since: row.get(2)?,
        until: row.get(3)?,
    })
}

/// The hold of a remnant, run out or not.
pub(super) fn of(db: Db<'_>, remnant: &str) -> Result<Option<Hold>> {
    db.first(
        "SELECT remnant, for_order, since, until FROM holds WHERE remnant = ?1",
        [remnant],
        read,
    )
}

/// The holds that stand at a moment, given in seconds since 1970 UTC.
pub(super) fn standing(db: Db<'_>, now: i64) -> Result<Vec<Hold>> {
    db.rows(
        "SELECT remnant, for_order, since, until FROM holds WHERE until_seconds > ?1 \
         ORDER BY remnant",
        [now],
        read,
    )
}

/// Whether what is held for the order `held` is kept from all of these orders.
pub(super) fn is_for_others(held: &str, orders: &[&str]) -> bool {
    !orders.iter().any(|order| order.trim() == held)
}

/// Refuses a remnant that is held for another order than this, inside a change: what has run out is
/// gone by then.
pub(super) fn refuse_held(
    db: Db<'_>,
    logged: &Logged,
    order: Option<&str>,
    used: &str,
) -> Result<()> {
    let id = &logged.remnant.id;
    match of(db, id)? {
        Some(hold) if order.map(str::trim) != Some(hold.order.as_str()) => Err(Failure::new(
            format!("remnant {id}"),
            format!(
                "it is held for order {} until {}, so it cannot be {used}",
                hold.order,
                hold.last_day()
            ),
            match used {
                "booked" | "held" | "released" => {
                    "name that order, take another remnant, or end the hold with `panelwright rack release`"
                }
                _ => "end the hold with `panelwright rack release` first, or take another remnant",
            },
        )),
        _ => Ok(()),
    }
}

impl Held {
    /// For people.
    #[must_use]
    pub fn text(&self) -> String {
        let mut text = String::new();
        for hold in &self.held {
            let _ = writeln!(
                text,
                "{} is held for order {} until {}",
                hold.remnant,
                hold.order,
                hold.last_day()
            );
        }
        for hold in &self.sheets {
            let before = self.before.get(&hold.sheet);
            let before = before.map_or_else(String::new, |n| format!(" (it was {n} before)"));
            let _ = writeln!(
                text,
                "{} of {} are held for order {} until {}{before}",
                hold.count,
                hold.sheet,
                hold.order,
                hold.last_day()
            );
        }
        for id in &self.released {
            let _ = writeln!(text, "{id} is free again");
        }
        text
    }
}

#[cfg(test)]
mod tests {
    use super::super::testing::{TestRack, digest, remnant_nest, shop, when};
    use super::super::{BookOptions, State, book, check, retire, undo};
    use super::*;

    fn ids(ids: &[&str]) -> Vec<String> {
        ids.iter().map(|id| (*id).to_owned()).collect()
    }

    #[test]
    fn a_held_remnant_is_for_its_order_alone() {
        let mut test = TestRack::new();
        hold(&mut test.rack, &ids(&["r-0012"]), "GC-7", 3, &when(2)).expect("held");
        let free = |test: &TestRack, orders: &[&str], day| -> Vec<String> {
            let (there, _) = test.rack.free_and_held(orders, &when(day)).expect("read");
            there.into_iter().map(|r| r.id).collect()
        };
        assert_eq!(free(&test, &[], 3), ["R-0007"]);
        assert_eq!(free(&test, &["GC-8"], 3), ["R-0007"]);
        assert_eq!(free(&test, &["GC-7"], 3), ["R-0007", "R-0012"]);
        assert_eq!(free(&test, &["GC-8", " GC-7"], 3), ["R-0007", "R-0012"]);
        // It is over on the fifth at eight, though nobody wrote that down.
        assert_eq!(free(&test, &[], 5), ["R-0007", "R-0012"]);
        let before = test.dump();
        let failure = test.book(&remnant_nest(), 3).expect_err("held");
        assert!(
            failure
                .to_string()
                .contains("held for order GC-7 until 2026-11-05"),
            "{failure}"
        );
        let other = hold(&mut test.rack, &ids(&["R-0012"]), "GC-8", 3, &when(3));
        assert!(other.expect_err("held").what.contains("GC-7"));
        let gone = retire(&mut test.rack, "R-0012", State::ThrownOut, "x", &when(3));
        assert!(gone.expect_err("held").what.contains("GC-7"));
        assert_eq!(test.dump(), before);
        let nest = remnant_nest();
        let options = BookOptions {
            name: Some("GC-7".to_owned()),
            ..BookOptions::default()
        };
        book(
            &mut test.rack,
            &nest,
            &digest(&nest),
            &shop(),
            &when(4),
            &options,
        )
        .expect("booked");
        assert_eq!(test.table("holds"), [""; 0]);
        assert!(check(&test.rack).expect("checked").is_sound());
    }

    #[test]
    fn a_hold_runs_out_and_the_trace_says_so() {
        let mut test = TestRack::new();
        hold(&mut test.rack, &ids(&["R-0012"]), "GC-7", 1, &when(2)).expect("held");
        hold(&mut test.rack, &ids(&["R-0012"]), "GC-7", 3, &when(2)).expect("held longer");
        test.book(&remnant_nest(), 3).expect_err("held");
        let booking = test.book(&remnant_nest(), 6).expect("it ran out");
        let events = test.table("events");
        assert!(
            events
                .iter()
                .any(|e| e.contains("ran out on 2026-11-05 (was held for order GC-7)")),
            "{events:?}"
        );
        // An offcut that is held now cannot be taken away by an undo.
        let offcut = booking.offcuts[0].remnant.clone();
        hold(
            &mut test.rack,
            std::slice::from_ref(&offcut),
            "GC-9",
            3,
            &when(7),
        )
        .expect("held");
        let failure = undo(&mut test.rack, &booking.id, None, &when(7)).expect_err("held");
        assert!(
            failure
                .what
                .contains(&format!("{offcut} is held for order GC-9")),
            "{failure}"
        );
        release(&mut test.rack, &[offcut], None, "not needed", &when(7)).expect("released");
        undo(&mut test.rack, &booking.id, None, &when(7)).expect("undone");
    }

    #[test]
    fn a_hold_is_made_longer_and_never_shorter() {
        let mut test = TestRack::new();
        let both = ids(&["R-0012", "W-2440", "r-0012"]);
        let mut held = |days| hold(&mut test.rack, &both, "GC-7", days, &when(2)).expect("held");
        for (days, until) in [(10, "2026-11-12"), (2, "2026-11-12"), (11, "2026-11-13")] {
            let held = held(days);
            // A remnant that is named twice is still one.
            assert_eq!((held.held.len(), held.sheets.len()), (1, 1), "{held:?}");
            assert_eq!(held.held[0].last_day(), until);
            assert_eq!(held.sheets[0].last_day(), until);
        }
        // The moment that counts is the one that is shown.
        let free = |test: &TestRack, day| {
            let (there, _) = test.rack.free_and_held(&[], &when(day)).expect("read");
            let counts = test.rack.stock_for(&[], &when(day)).expect("read");
            (there.len(), counts["W-2440"])
        };
        assert_eq!(free(&test, 12), (1, Some(2)));
        assert_eq!(free(&test, 13), (2, Some(3)));
    }

    #[test]
    fn all_or_none_and_sound_arguments() {
        let mut test = TestRack::new();
        let before = test.dump();
        for (which, order, days, says) in [
            (ids(&["R-0012", "R-0099"]), "GC", 3, "R-0099"),
            (ids(&["R-0012"]), " ", 3, "no name"),
            (ids(&["R-0012"]), "GC", 0, "0 days"),
            (ids(&["R-0012"]), "GC", 367, "367 days"),
        ] {
            let failure = hold(&mut test.rack, &which, order, days, &when(2)).expect_err(says);
            assert!(failure.to_string().contains(says), "{failure}");
        }
        let failure =
            release(&mut test.rack, &ids(&["R-0012"]), None, "x", &when(2)).expect_err("free");
        assert!(failure.what.contains("nobody holds it"), "{failure}");
        assert_eq!(test.dump(), before);
    }
}

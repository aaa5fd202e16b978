//! To take a booking back.

use super::event::Event;
use super::hold::{self, Hold};
use super::remnant_row::{self, State};
use super::sheet_hold::SheetHold;
use super::store::{Change, Db, Rack, day_of};
use super::{booking_id, booking_number, sheet_stock};
use crate::remnant::Remnant;
use crate::{Failure, Result};
use jiff::Zoned;
use serde::Serialize;
use std::collections::BTreeSet;
use std::fmt::Write as _;

/// A booking that was taken back.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Undone {
    /// Its id.
    pub id: String,
    /// Sheets back in stock: id and how many.
    pub sheets: Vec<(String, u32)>,
    /// Remnants back on the rack.
    pub remnants: Vec<String>,
    /// Offcuts that left the rack again; their numbers are not given again.
    pub removed: Vec<String>,
    /// Remnants that are held again for the order that they were cut for.
    pub held: Vec<Hold>,
    /// Sheets that are, with all that are held for the order now.
    pub held_sheets: Vec<SheetHold>,
}

/// Takes a booking back: sheets and remnants return, held as they were where that would not have ended by now; the
/// offcuts it entered are removed. The booking itself stays, marked as undone, and the nest may be booked anew.
///
/// `id` is the booking's, such as `B-0004`; `why` goes into the trace. Sheets whose count was set by hand meanwhile are added
/// to that count.
///
/// # Errors
/// There is no such booking, or it is undone already, or one of its offcuts was used or retired
/// since (all are named). Nothing is changed then.
pub fn undo(rack: &mut Rack, id: &str, why: Option<&str>, when: &Zoned) -> Result<Undone> {
    let number = booking_number(id)?;
    let why = why.map(str::trim).filter(|why| !why.is_empty());
    rack.change(when, |change| {
        refuse_what_does_not_stand(change.db, number)?;
        let offcuts = free_offcuts(change.db, number)?;
        // What it left goes before what it took comes back, and holds come when there is something to hold.
        let removed = remove_offcuts(change, number, offcuts)?;
        let remnants = return_remnants(change, number)?;
        let sheets = return_sheets(change, number)?;
        let (held, held_sheets) = hold::restore(change, number, when.timestamp().as_second())?;
        change.run(
            "UPDATE booked_numbers SET stands = 0 WHERE booking = ?1",
            [number],
        )?;
        change.run(
            "UPDATE bookings SET undone = ?2 WHERE number = ?1",
            (number, &change.at),
        )?;
        change.event(Event::new("undone", why.unwrap_or("taken back by hand")).booking(number))?;
        Ok(Undone {
            id: booking_id(number),
            sheets,
            remnants,
            removed,
            held,
            held_sheets,
        })
    })
}

/// The booking as the place of a failure.
fn place(number: i64) -> String {
    format!("booking {}", booking_id(number))
}

/// Why its things change, for the trace.
fn undone(number: i64) -> String {
    format!("booking {} was undone", booking_id(number))
}

/// Refuses a booking that is not there or undone already.
fn refuse_what_does_not_stand(db: Db<'_>, number: i64) -> Result<()> {
    let found = db.first(
        "SELECT undone FROM bookings WHERE number = ?1",
        [number],
        |row| row.get::<_, Option<String>>(0),
    )?;
    match found {
        Some(None) => Ok(()),
        Some(Some(undone)) => {
            let day = day_of(&undone);
            let what = format!("it was undone already on {day}");
            Err(Failure::new(place(number), what, ""))
        }
        None => {
            let last = db.first("SELECT max(number) FROM bookings", [], |row| {
                row.get::<_, Option<i64>>(0)
            })?;
            let advice = last.flatten().map_or_else(
                || "nothing was booked yet".to_owned(),
                |last| format!("the last one is {}", booking_id(last)),
            );
            let what = "the rack has no such booking";
            Err(Failure::new(place(number), what, advice))
        }
    }
}

/// The offcuts that it left; refused, with all of them named, where some are not free on the rack any more.
fn free_offcuts(db: Db<'_>, number: i64) -> Result<Vec<Remnant>> {
    let offcuts = db.rows(
        "SELECT remnant FROM booked_offcuts WHERE booking = ?1 ORDER BY rowid",
        [number],
        |row| row.get::<_, String>(0),
    )?;
    let (mut free, mut gone) = (Vec::new(), Vec::new());
    // Each once, however many of them it is for.
    let mut advice = BTreeSet::new();
    for offcut in &offcuts {
        let Some(logged) = remnant_row::find(db, offcut)? else {
            gone.push(format!("{offcut} is gone"));
            continue;
        };
        advice.insert(match logged.state {
            State::OnRack if hold::of(db, offcut)?.is_none() => {
                free.push(logged.remnant);
                continue;
            }
            State::Cut => "undo the booking that used it up first",
            State::OnRack => "end the hold with `panelwright rack release`",
            State::Retired | State::ThrownOut | State::Recycled | State::Lost => {
                "where it is there after all, take it back with `panelwright rack found`"
            }
        });
        gone.push(format!("{offcut} {}", remnant_row::gone(db, &logged)?));
    }
    if gone.is_empty() {
        return Ok(free);
    }
    let gone = gone.join(", ");
    let advice: Vec<&str> = advice.into_iter().collect();
    Err(Failure::new(
        place(number),
        format!("offcuts that it left are not free on the rack any more: {gone}"),
        advice.join("; "),
    ))
}

/// Takes offcuts out of the rack, all but their trace; returns their ids.
fn remove_offcuts(change: &Change<'_>, number: i64, offcuts: Vec<Remnant>) -> Result<Vec<String>> {
    for remnant in &offcuts {
        change.run("DELETE FROM remnants WHERE id = ?1", [&remnant.id])?;
        change.event(
            Event::new("removed", undone(number))
                .remnant(&remnant.id)
                .booking(number)
                .detail(remnant_row::record(remnant)),
        )?;
    }
    Ok(offcuts.into_iter().map(|remnant| remnant.id).collect())
}

/// Puts the remnants back that it used up; returns their ids.
fn return_remnants(change: &Change<'_>, number: i64) -> Result<Vec<String>> {
    let remnants = change.db.rows(
        "SELECT remnant FROM booked_remnants WHERE booking = ?1 ORDER BY rowid",
        [number],
        |row| row.get::<_, String>(0),
    )?;
    for remnant in &remnants {
        remnant_row::set_state(change, remnant, State::Cut, State::OnRack)?;
        change.event(
            Event::new("returned", undone(number))
                .remnant(remnant)
                .booking(number),
        )?;
    }
    Ok(remnants)
}

/// Puts the sheets back that it took, on their counts and purchases; returns their ids and how many.
fn return_sheets(change: &Change<'_>, number: i64) -> Result<Vec<(String, u32)>> {
    let sheets = change.db.rows(
        "SELECT sheet, count, counted FROM booked_sheets WHERE booking = ?1 ORDER BY sheet",
        [number],
        |row| {
            let taken = (row.get::<_, String>(0)?, row.get::<_, u32>(1)?);
            Ok((taken, row.get::<_, bool>(2)?))
        },
    )?;
    for ((sheet, count), counted) in &sheets {
        if *counted {
            sheet_stock::put_back(change, sheet, *count, number)?;
        }
        change.event(
            Event::new("returned", format!("{count} back, {}", undone(number)))
                .sheet(sheet)
                .booking(number),
        )?;
    }
    sheet_stock::put_back_receipts(change, number)?;
    Ok(sheets.into_iter().map(|(taken, _)| taken).collect())
}

impl Undone {
    /// For people: what is back and what is gone.
    #[must_use]
    pub fn text(&self) -> String {
        let mut text = format!("Booking {} is undone\n", self.id);
        for (sheet, count) in &self.sheets {
            let _ = writeln!(text, "  back: {count} x sheet {sheet}");
        }
        for remnant in &self.remnants {
            let _ = writeln!(text, "  back: remnant {remnant}");
        }
        for remnant in &self.removed {
            let _ = writeln!(text, "  off the rack: {remnant}, an offcut of it");
        }
        for hold in &self.held {
            let (order, day) = (&hold.order, hold.last_day());
            let _ = writeln!(
                text,
                "  held again for order {order} until {day}: remnant {}",
                hold.remnant
            );
        }
        for hold in &self.held_sheets {
            let (order, day) = (&hold.order, hold.last_day());
            let _ = writeln!(
                text,
                "  held again for order {order} until {day}: {} x sheet {}",
                hold.count, hold.sheet
            );
        }
        text
    }
}

#[cfg(test)]
mod tests {
    use super::super::testing::{
        TestRack, block, digest, nest, remnant_nest, sheet_nest, sheet_record, shop, when,
    };
    use super::super::{BookOptions, book, check, found, hold, release, retire};
    use super::*;
    use crate::nest_file::NestFile;

    #[test]
    fn everything_is_as_it_was() {
        for what in [sheet_nest(), remnant_nest()] {
            let mut test = TestRack::new();
            let tables = ["states", "remnants", "sheets"];
            let before = tables.map(|table| test.table(table));
            let booking = test.book(&what, 5).expect("booked");
            assert_ne!(tables.map(|table| test.table(table)), before);
            let undone =
                undo(&mut test.rack, &booking.id, Some("wrong nest"), &when(6)).expect("undone");
            assert_eq!(tables.map(|table| test.table(table)), before);
            assert_eq!(undone.removed.len(), booking.offcuts.len());
            // The booking stays as a record, marked.
            let record = test.table("bookings").remove(0);
            assert!(record.contains("2026-11-06T08:00:00+13:00"), "{record}");
            assert!(
                test.table("events")
                    .iter()
                    .any(|event| event.contains("wrong nest"))
            );
            let twice = undo(&mut test.rack, &booking.id, None, &when(7)).expect_err("twice");
            assert!(
                twice.what.contains("undone already on 2026-11-06"),
                "{twice}"
            );
            // Numbers on pieces are not given again.
            let anew = test.book(&what, 8).expect("anew");
            for (a, b) in anew.offcuts.iter().zip(&booking.offcuts) {
                assert_ne!(a.remnant, b.remnant);
            }
        }
    }

    fn held_for(test: &mut TestRack, ids: &[&str], order: &str, days: u16, day: i8) {
        let ids: Vec<String> = ids.iter().map(|id| (*id).to_owned()).collect();
        hold(&mut test.rack, &ids, order, days, &when(day)).expect("held");
    }

    fn booked_for(
        test: &mut TestRack,
        nest: &NestFile,
        order: &str,
        day: i8,
        sheets: &[usize],
    ) -> String {
        let options = BookOptions {
            name: Some(order.to_owned()),
            sheets: sheets.to_vec(),
            ..BookOptions::default()
        };
        let booking = book(
            &mut test.rack,
            nest,
            &digest(nest),
            &shop(),
            &when(day),
            &options,
        );
        booking.expect("booked").id
    }

    #[test]
    fn what_was_held_is_held_again_as_long_as_it_would_have_been() {
        for (day, again) in [(5, true), (7, true), (8, false)] {
            let mut test = TestRack::new();
            // Until the eighth.
            held_for(&mut test, &["R-0012", "W-2440:3"], "GC-7", 6, 2);
            let tables = ["holds", "sheet_holds"];
            let before = tables.map(|table| test.table(table));
            let bookings = [remnant_nest(), sheet_nest()]
                .map(|nest| booked_for(&mut test, &nest, "GC-7", 4, &[]));
            assert_eq!(test.table("holds"), [""; 0]);
            let mut text = String::new();
            for booking in &bookings {
                let undone = undo(&mut test.rack, booking, None, &when(day)).expect("undone");
                text += &undone.text();
                assert_eq!(
                    test.table("booked_holds").len(),
                    usize::from(booking == &bookings[0])
                );
            }
            let now = tables.map(|table| test.table(table));
            assert_eq!(now == before, again, "{now:?}");
            let says = [
                "held again for order GC-7 until 2026-11-08: remnant R-0012",
                "held again for order GC-7 until 2026-11-08: 3 x sheet W-2440",
            ];
            assert!(
                says.iter().all(|says| text.contains(says) == again),
                "{text}"
            );
            if !again {
                assert_eq!(now, [const { Vec::<String>::new() }; 2]);
            }
            assert!(check(&test.rack).expect("checked").is_sound());
        }
    }

    #[test]
    fn sheets_held_again_come_on_top_of_what_is_left_of_their_hold() {
        let mut test = TestRack::new();
        held_for(&mut test, &["W-2440:3"], "GC-7", 20, 2);
        let held = |test: &TestRack| -> Vec<u32> {
            let holds = test.rack.sheet_holds(&when(9)).expect("read");
            holds.iter().map(|hold| hold.count).collect()
        };
        let nest = sheet_nest();
        let one = booked_for(&mut test, &nest, "GC-7", 3, &[1]);
        let two = booked_for(&mut test, &nest, "GC-7", 4, &[2]);
        assert_eq!(held(&test), [1]);
        undo(&mut test.rack, &one, None, &when(5)).expect("undone");
        assert_eq!(held(&test), [2]);
        undo(&mut test.rack, &two, None, &when(5)).expect("undone");
        assert_eq!(held(&test), [3]);
        // Released and asked for anew: that number is the one that stands.
        let both = booked_for(&mut test, &nest, "GC-7", 6, &[]);
        release(&mut test.rack, &[], Some("GC-7"), "later", &when(7)).expect("released");
        held_for(&mut test, &["W-2440:1"], "GC-7", 9, 7);
        let undone = undo(&mut test.rack, &both, None, &when(8)).expect("undone");
        assert_eq!((held(&test), undone.held_sheets), (vec![1], vec![]));
    }

    #[test]
    fn offcuts_used_since_are_named() {
        let mut test = TestRack::new();
        test.book(&sheet_nest(), 5).expect("booked");
        let second = nest(vec![sheet_record(
            1,
            "remnant",
            "R-0013",
            "white 3",
            block(0.0, 0.0, 1200.0, 690.0),
            &[block(10.0, 10.0, 1000.0, 600.0)],
            &[],
        )]);
        test.book(&second, 6).expect("booked");
        retire(&mut test.rack, "R-0014", State::Retired, "sold", &when(7)).expect("retired");
        let before = test.dump();
        let failure = undo(&mut test.rack, "B-0001", None, &when(8)).expect_err("used");
        assert!(
            failure.what.ends_with(
                "R-0013 was used on 2026-11-06 by booking B-0002, \
                 R-0014 is retired since 2026-11-07: sold"
            ),
            "{failure}"
        );
        assert_eq!(
            failure.advice,
            "undo the booking that used it up first; where it is there after all, take it back with \
             `panelwright rack found`"
        );
        assert_eq!(test.dump(), before);
        let unknown = undo(&mut test.rack, "B-0007", None, &when(8)).expect_err("unknown");
        assert!(unknown.advice.contains("B-0002"), "{unknown}");
        for bad in ["", "B-", "R-0012", "-1", "B-+2", "99999999999999999999"] {
            assert!(undo(&mut test.rack, bad, None, &when(8)).is_err(), "{bad}");
        }
    }

    #[test]
    fn what_stands_in_the_way_can_be_put_right_as_advised() {
        let mut test = TestRack::new();
        test.book(&sheet_nest(), 5).expect("booked");
        let advice = |test: &mut TestRack| {
            let undone = undo(&mut test.rack, "B-0001", None, &when(8));
            undone.expect_err("in the way").advice
        };
        held_for(&mut test, &["R-0013"], "GC-7", 20, 6);
        assert_eq!(
            advice(&mut test),
            "end the hold with `panelwright rack release`"
        );
        release(
            &mut test.rack,
            &["R-0013".to_owned()],
            None,
            "not needed",
            &when(7),
        )
        .expect("released");
        for state in State::GONE {
            retire(&mut test.rack, "R-0013", state, "a slip", &when(7)).expect("gone");
            assert_eq!(
                advice(&mut test),
                "where it is there after all, take it back with `panelwright rack found`"
            );
            found(&mut test.rack, "R-0013", None, "a slip", &when(7)).expect("found");
        }
        undo(&mut test.rack, "B-0001", None, &when(8)).expect("undone");
    }

    #[test]
    fn bookings_come_off_in_reverse() {
        let mut test = TestRack::new();
        let tables = ["remnants", "sheets"];
        let at_first = tables.map(|table| test.table(table));
        test.book(&sheet_nest(), 5).expect("booked");
        let between = tables.map(|table| test.table(table));
        let second = nest(vec![sheet_record(
            1,
            "remnant",
            "R-0013",
            "white 3",
            block(0.0, 0.0, 1200.0, 690.0),
            &[block(10.0, 10.0, 1000.0, 600.0)],
            &[],
        )]);
        test.book(&second, 6).expect("booked");
        undo(&mut test.rack, "B-0002", None, &when(7)).expect("undone");
        assert_eq!(tables.map(|table| test.table(table)), between);
        undo(&mut test.rack, "B-0001", None, &when(8)).expect("undone");
        assert_eq!(tables.map(|table| test.table(table)), at_first);
    }
}

//! What was booked, as a table.

use super::booking_id;
use super::store::{Rack, day_of};
use crate::Result;
use serde::Serialize;
use std::fmt::Write as _;

/// One booking in short.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Booked {
    /// Its id, such as `B-0004`.
    pub id: String,
    /// SHA-256 of the nest file.
    pub digest: String,
    /// Name of the order or a note.
    pub name: Option<String>,
    /// When it was booked, RFC 3339.
    pub booked: String,
    /// When it was taken back, if it was.
    pub undone: Option<String>,
    /// How many sheets it took.
    pub sheets: u32,
    /// How many remnants it used up.
    pub remnants: u32,
    /// How many offcuts it entered.
    pub offcuts: u32,
}

/// Every booking, in order.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Bookings {
    /// The bookings.
    pub bookings: Vec<Booked>,
}

/// Lists the bookings, the undone ones too.
///
/// # Errors
/// The rack cannot be read.
pub fn bookings(rack: &Rack) -> Result<Bookings> {
    let bookings = rack.db().rows(
        "SELECT number, digest, name, booked, undone, \
         (SELECT coalesce(sum(count), 0) FROM booked_sheets WHERE booking = number), \
         (SELECT count(*) FROM booked_remnants WHERE booking = number), \
         (SELECT count(*) FROM booked_offcuts WHERE booking = number) \
         FROM bookings ORDER BY number",
        [],
        |row| {
            Ok(Booked {
                id: booking_id(row.get(0)?),
                digest: row.get(1)?,
                name: row.get(2)?,
                booked: row.get(3)?,
                undone: row.get(4)?,
                sheets: row.get(5)?,
                remnants: row.get(6)?,
                offcuts: row.get(7)?,
            })
        },
    )?;
    Ok(Bookings { bookings })
}

impl Bookings {
    /// For people: a line each.
    #[must_use]
    pub fn text(&self) -> String {
        if self.bookings.is_empty() {
            return "Nothing was booked yet.\n".to_owned();
        }
        let mut text = String::new();
        for one in &self.bookings {
            let day = |at: &str| day_of(at).to_owned();
            let counted = |n: u32, one: &str| match n {
                1 => format!("1 {one}"),
                n => format!("{n} {one}s"),
            };
            let _ = write!(
                text,
                "{}  {}  nest {}..  {}, {} taken, {} entered",
                one.id,
                day(&one.booked),
                one.digest.get(..8).unwrap_or(&one.digest),
                counted(one.sheets, "sheet"),
                counted(one.remnants, "remnant"),
                counted(one.offcuts, "offcut")
            );
            if let Some(name) = &one.name {
                let _ = write!(text, "  {name}");
            }
            if let Some(undone) = &one.undone {
                let _ = write!(text, "  (undone {})", day(undone));
            }
            text.push('\n');
        }
        text
    }
}

#[cfg(test)]
mod tests {
    use super::super::testing::{TestRack, sheet_nest, when};
    use super::super::undo;
    use super::*;

    #[test]
    fn undone_ones_stay_in_the_list() {
        let mut test = TestRack::new();
        assert_eq!(
            bookings(&test.rack).expect("read").text(),
            "Nothing was booked yet.\n"
        );
        test.book(&sheet_nest(), 5).expect("booked");
        test.book_remnant(6).expect("booked");
        undo(&mut test.rack, "B-0001", None, &when(7)).expect("undone");
        let text = bookings(&test.rack).expect("read").text();
        let lines: Vec<&str> = text.lines().collect();
        assert!(lines[0].starts_with("B-0001  2026-11-05  nest "), "{text}");
        assert!(
            lines[0].contains("2 sheets, 0 remnants taken, 2 offcuts entered"),
            "{text}"
        );
        assert!(lines[0].ends_with("(undone 2026-11-07)"), "{text}");
        assert!(
            lines[1].contains("0 sheets, 1 remnant taken, 1 offcut entered"),
            "{text}"
        );
    }
}

//! Whether the rack is sound: the file, its references, and whether everything that came in is
//! accounted for.

use super::booking_id;
use super::remnant_row;
use super::store::{Db, Rack};
use crate::Result;
use crate::area::m2;
use crate::number::counted;
use serde::Serialize;
use std::fmt::Write as _;

/// By how much a balance of areas may be off: a ten-thousandth, and a square millimetre for rounding.
const SHARE: f64 = 1e-4;

/// Most findings told: more of them say nothing new.
const MOST_TOLD: usize = 50;

/// What a check found.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Checked {
    /// What is wrong, as sentences; at most fifty.
    pub findings: Vec<String>,
    /// Where all material went.
    pub balance: Balance,
    /// Remnants ever logged.
    pub remnants: u32,
    /// Bookings that stand.
    pub bookings: u32,
}

/// Where material went that ever came in, in square millimetres: came = parts + kerf + scrap + rack +
/// gone.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct Balance {
    /// Remnants logged by hand and sheets cut.
    pub came: f64,
    /// Parts made.
    pub parts: f64,
    /// What the tools removed.
    pub kerf: f64,
    /// What was not worth keeping.
    pub scrap: f64,
    /// Remnants on the rack.
    pub rack: f64,
    /// Remnants thrown out, recycled, lost or retired.
    pub gone: f64,
}

impl Balance {
    /// What is not accounted for, as a share of what came.
    #[must_use]
    pub fn off(&self) -> f64 {
        let went = self.parts + self.kerf + self.scrap + self.rack + self.gone;
        if self.came > 0.0 {
            (self.came - went).abs() / self.came
        } else {
            went
        }
    }
}

/// Looks through the whole file: SQLite's own integrity check, references, shapes against the numbers
/// kept for searching, states against bookings and holds, counts against the ledger, areas of every
/// booking, and the balance of all material.
///
/// # Errors
/// The file cannot be read. What is wrong within it is told in the answer.
pub fn check(rack: &Rack) -> Result<Checked> {
    let db = rack.db();
    let mut findings = Vec::new();
    for line in db.rows("PRAGMA integrity_check(50)", [], |row| {
        row.get::<_, String>(0)
    })? {
        if line != "ok" {
            findings.push(line);
        }
    }
    // Within a broken file nothing else means much.
    if findings.is_empty() {
        for (sql, says) in RULES {
            let rows = db.rows(sql, [], |row| row.get::<_, rusqlite::types::Value>(0))?;
            let names = rows.into_iter().map(|value| match value {
                rusqlite::types::Value::Integer(number) => booking_id(number),
                rusqlite::types::Value::Text(text) => text,
                other => format!("{other:?}"),
            });
            findings.extend(names.map(|name| format!("{name} {says}")));
        }
        check_shapes(db, &mut findings)?;
    }
    let balance = balance(db)?;
    if balance.off() > SHARE {
        findings.push(format!(
            "{:.3} % of the material that came in is not accounted for",
            100.0 * balance.off()
        ));
    }
    findings.truncate(MOST_TOLD);
    let count = |sql: &str| -> Result<u32> {
        let count = db.first(sql, [], |row| row.get::<_, u32>(0))?;
        Ok(count.unwrap_or(0))
    };
    Ok(Checked {
        findings,
        balance,
        remnants: count("SELECT count(*) FROM remnants")?,
        bookings: count("SELECT count(*) FROM bookings WHERE undone IS NULL")?,
    })
}

/// Queries that find nothing in a sound rack, and what is wrong with whatever they find.
const RULES: &[(&str, &str)] = &[
    (
        "SELECT DISTINCT \"table\" FROM pragma_foreign_key_check",
        "has records that refer to something that is gone",
    ),
    (
        "SELECT id FROM remnants WHERE state = 'cut' AND 1 <> (SELECT count(*) FROM booked_remnants \
         JOIN bookings ON number = booking WHERE remnant = id AND undone IS NULL)",
        "is cut, but not by exactly one booking that stands",
    ),
    (
        "SELECT remnant FROM booked_remnants JOIN bookings ON number = booking \
         JOIN remnants ON id = remnant WHERE undone IS NULL AND state <> 'cut'",
        "is used up by a booking, but not cut",
    ),
    (
        "SELECT remnant FROM booked_offcuts JOIN bookings ON number = booking \
         WHERE undone IS NULL AND remnant NOT IN (SELECT id FROM remnants)",
        "was entered by a booking that stands, but is not there",
    ),
    (
        "SELECT remnant FROM holds JOIN remnants ON id = remnant WHERE state <> 'on-rack'",
        "is held for an order, but not on the rack",
    ),
    (
        "SELECT id FROM remnants WHERE id NOT IN \
         (SELECT remnant FROM events WHERE remnant IS NOT NULL)",
        "has no entry in the trace",
    ),
    (
        "SELECT number FROM bookings WHERE number NOT IN \
         (SELECT booking FROM events WHERE kind = 'booked' AND booking IS NOT NULL)",
        "has no entry in the trace",
    ),
    (
        "SELECT number FROM bookings WHERE abs(taken - parts - kept - rest) > 1e-4 * taken + 1",
        "does not add up: taken is not parts, offcuts and rest",
    ),
    (
        "SELECT b.number FROM bookings b WHERE undone IS NULL AND abs(kept - \
         (SELECT coalesce(sum(area), 0) FROM booked_offcuts o JOIN remnants ON id = o.remnant \
         WHERE o.booking = b.number)) > 1e-4 * taken + 1",
        "does not add up: its offcuts have another area than was kept",
    ),
    (
        "SELECT b.number FROM bookings b WHERE undone IS NULL AND abs(taken - \
         (SELECT coalesce(sum(area), 0) FROM booked_remnants r JOIN remnants ON id = r.remnant \
         WHERE r.booking = b.number) - (SELECT coalesce(sum(count * length * width), 0) FROM \
         booked_sheets s JOIN sheets ON id = s.sheet WHERE s.booking = b.number)) > 1e-4 * taken + 1",
        "does not add up: its sheets and remnants have another area than was taken",
    ),
    (
        "SELECT id FROM sheets WHERE stock IS NOT NULL AND stock <> \
         (SELECT coalesce(sum(change), 0) FROM movements WHERE sheet = id)",
        "has a count that differs from its ledger",
    ),
    (
        "SELECT id FROM sheets WHERE stock IS NOT NULL AND stock < \
         (SELECT coalesce(sum(remaining), 0) FROM receipts WHERE sheet = id)",
        "has fewer in stock than its purchases have left",
    ),
    // What has run out goes with the next change, and stands in nobody's way.
    (
        "SELECT id FROM sheets WHERE stock IS NOT NULL AND stock < (SELECT coalesce(sum(count), 0) \
         FROM sheet_holds WHERE sheet = id AND until_seconds > unixepoch())",
        "has fewer in stock than are held for orders: see `panelwright rack stock`, and release a hold",
    ),
];

/// Whether the numbers kept for searching are those of the shapes, and the shapes can be read.
fn check_shapes(db: Db<'_>, findings: &mut Vec<String>) -> Result<()> {
    let numbers = db.rows(
        &format!(
            "SELECT area, length, width FROM remnants ORDER BY {}",
            remnant_row::IN_ORDER
        ),
        [],
        |row| Ok([row.get::<_, f64>(0)?, row.get(1)?, row.get(2)?]),
    )?;
    for (logged, [area, length, width]) in remnant_row::all(db)?.iter().zip(numbers) {
        let outline = &logged.remnant.outline;
        let bounds = outline.bounds();
        let same = |a: f64, b: f64| (a - b).abs() <= 1e-6 * a.abs().max(b.abs()) + 1e-6;
        if !(same(outline.area(), area)
            && same(bounds.width(), length)
            && same(bounds.height(), width))
        {
            findings.push(format!(
                "{} has an area or size that is not that of its outline",
                logged.remnant.id
            ));
        }
    }
    Ok(())
}

fn balance(db: Db<'_>) -> Result<Balance> {
    let sum = |sql: &str| -> Result<f64> {
        let sum = db.first(sql, [], |row| row.get::<_, Option<f64>>(0))?;
        Ok(sum.flatten().unwrap_or(0.0))
    };
    let by_hand = sum("SELECT sum(area) FROM remnants WHERE id NOT IN \
         (SELECT remnant FROM booked_offcuts JOIN bookings ON number = booking WHERE undone IS NULL)")?;
    let sheets = sum(
        "SELECT sum(count * length * width) FROM booked_sheets JOIN bookings ON number = booking \
         JOIN sheets ON id = sheet WHERE undone IS NULL",
    )?;
    let kerf = sum("SELECT sum(kerf) FROM bookings WHERE undone IS NULL")?;
    Ok(Balance {
        came: by_hand + sheets,
        parts: sum("SELECT sum(parts) FROM bookings WHERE undone IS NULL")?,
        kerf,
        scrap: sum("SELECT sum(rest) FROM bookings WHERE undone IS NULL")? - kerf,
        rack: sum("SELECT sum(area) FROM remnants WHERE state = 'on-rack'")?,
        gone: sum("SELECT sum(area) FROM remnants WHERE state NOT IN ('on-rack', 'cut')")?,
    })
}

impl Checked {
    /// Whether nothing is wrong.
    #[must_use]
    pub fn is_sound(&self) -> bool {
        self.findings.is_empty()
    }

    /// For people.
    #[must_use]
    pub fn text(&self) -> String {
        let mut text = String::new();
        for finding in &self.findings {
            let _ = writeln!(text, "  {finding}");
        }
        if self.is_sound() {
            text.push_str("The rack is sound.\n");
        } else {
            text.insert_str(0, "The rack is not sound:\n");
            text.push_str("Keep a copy of the file as it is before anything is corrected.\n");
        }
        let b = &self.balance;
        let _ = writeln!(
            text,
            "{} logged, {}\n{:.3} m2 came = {:.3} parts + {:.3} kerf + \
             {:.3} scrap + {:.3} on the rack + {:.3} gone (off by {:.4} %)",
            counted(self.remnants as usize, "remnant", "remnants"),
            counted(self.bookings as usize, "booking stands", "bookings stand"),
            m2(b.came),
            m2(b.parts),
            m2(b.kerf),
            m2(b.scrap),
            m2(b.rack),
            m2(b.gone),
            100.0 * b.off()
        );
        text
    }
}

#[cfg(test)]
mod tests {
    use super::super::testing::{TestRack, remnant_nest, sheet_nest};
    use super::super::{testing::when, undo};
    use super::*;

    #[test]
    fn everything_is_accounted_for() {
        let mut test = TestRack::new();
        test.book(&sheet_nest(), 5).expect("booked");
        test.book(&remnant_nest(), 6).expect("booked");
        let checked = check(&test.rack).expect("checked");
        assert!(checked.is_sound(), "{}", checked.text());
        // By hand: two remnants of 0.8 and 0.38 m2, two sheets of 2440 x 1220.
        assert!((checked.balance.came - 800_000.0 - 380_000.0 - 5_953_600.0).abs() < 1e-6);
        assert!(checked.balance.off() < 1e-12);
        undo(&mut test.rack, "B-0001", None, &when(7)).expect("undone");
        let checked = check(&test.rack).expect("checked");
        assert!(checked.is_sound(), "{}", checked.text());
        assert!((checked.balance.came - 1_180_000.0).abs() < 1e-6);
    }

    #[test]
    fn what_was_tampered_with_is_found() {
        for (sql, says) in [
            (
                "UPDATE remnants SET state = 'cut' WHERE id = 'R-0007'",
                "R-0007 is cut, but not by",
            ),
            (
                "UPDATE remnants SET state = 'on-rack' WHERE id = 'R-0012'",
                "R-0012 is used up",
            ),
            (
                "UPDATE remnants SET area = 5 WHERE id = 'R-0007'",
                "R-0007 has an area",
            ),
            (
                "UPDATE sheets SET stock = 9 WHERE id = 'W-2440'",
                "W-2440 has a count",
            ),
            (
                "UPDATE bookings SET parts = 5 WHERE number = 1",
                "B-0001 does not add up",
            ),
            (
                "UPDATE booked_sheets SET count = 1",
                "B-0001 does not add up",
            ),
            (
                // Held until the year 2100.
                "INSERT INTO sheet_holds VALUES ('W-2440', 'GC-7', 2, '2026-11-06T08:00:00+13:00', \
                 '2100-01-01T00:00:00+00:00', 4102444800)",
                "W-2440 has fewer in stock than are held",
            ),
            (
                "UPDATE remnants SET id = 'R-0099' WHERE id = 'R-0013'",
                "R-0013 was entered",
            ),
        ] {
            let mut test = TestRack::new();
            test.book(&sheet_nest(), 5).expect("booked");
            test.book(&remnant_nest(), 6).expect("booked");
            let conn = rusqlite::Connection::open(test.path()).expect("open");
            assert!(conn.execute(sql, []).expect("tampered with") >= 1, "{sql}");
            let checked = check(&test.rack).expect("checked");
            assert!(
                checked.findings.iter().any(|f| f.contains(says)),
                "{sql}: {:?}",
                checked.findings
            );
        }
    }
}

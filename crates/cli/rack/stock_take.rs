//! Counting the rack: a list to walk with, what was found entered from it, and every difference explained.

use super::event::{self, Event};
use super::exchange::{csv_lines, has_head};
use super::hold;
use super::remnant_row::{self, State};
use super::sheet_hold;
use super::sheet_stock::{self, StockedSheet};
use super::store::{Change, Db, Rack, day_of};
use crate::area::m2;
use crate::number::counted;
use crate::{Failure, Result, input};
use jiff::Zoned;
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::path::Path;

/// One line of the list: what should be there, and room for what is.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
struct Line {
    /// `remnant` or `sheet`.
    kind: String,
    id: String,
    place: String,
    material: String,
    /// Such as `900 x 600`.
    size: String,
    lot: String,
    /// How many there should be.
    expected: String,
    /// To be filled in: yes or no for a remnant, how many for a sheet; empty where nobody looked.
    found: String,
    /// To be filled in where it stands somewhere else.
    place_now: String,
    /// To be filled in as needed.
    remark: String,
    /// Of a sheet, the last entry of its ledger when the list was written: what was booked after it comes on
    /// top of what was found.
    ledger: String,
}

/// The list to walk with, as a table: remnants by place, then counted sheets. `found` and `place_now` are
/// to be filled in.
///
/// # Errors
/// The rack cannot be read.
pub fn walking_list(rack: &Rack) -> Result<String> {
    let db = rack.db();
    let mut lines: Vec<Line> = remnant_row::in_state(db, State::OnRack)?
        .into_iter()
        .map(|logged| {
            let remnant = logged.remnant;
            let bounds = remnant.outline.bounds();
            Line {
                kind: "remnant".to_owned(),
                id: remnant.id,
                place: remnant.place.unwrap_or_default(),
                material: remnant.material,
                size: format!("{:.0} x {:.0}", bounds.width(), bounds.height()),
                lot: remnant.lot.unwrap_or_default(),
                expected: "1".to_owned(),
                ..Line::default()
            }
        })
        .collect();
    // Whoever walks goes from place to place; within one, by id as listed.
    lines.sort_by(|a, b| a.place.cmp(&b.place));
    for sheet in sheet_stock::all(db)? {
        if sheet.stock.is_none() {
            continue;
        }
        // Both from one look at the ledger, or a booking in between would be missing from it or be there twice.
        let (stock, ledger) = sheet_stock::ledger(db, &sheet.id)?;
        lines.push(Line {
            kind: "sheet".to_owned(),
            id: sheet.id,
            place: sheet.place.unwrap_or_default(),
            material: sheet.material,
            size: format!("{} x {}", sheet.length, sheet.width),
            lot: sheet.lot.unwrap_or_default(),
            expected: stock.to_string(),
            ledger: ledger.to_string(),
            ..Line::default()
        });
    }
    let mut writer = csv::WriterBuilder::new()
        .has_headers(false)
        .from_writer(Vec::new());
    let cannot = |e: csv::Error| Failure::new("count", format!("no table can be written: {e}"), "");
    writer.write_record(COLUMNS).map_err(cannot)?;
    for line in &lines {
        writer.serialize(line).map_err(cannot)?;
    }
    let bytes = writer
        .into_inner()
        .map_err(|e| cannot(e.into_error().into()))?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}

const COLUMNS: [&str; 11] = [
    "kind",
    "id",
    "place",
    "material",
    "size",
    "lot",
    "expected",
    "found",
    "place_now",
    "remark",
    "ledger",
];

/// One thing that was not as the rack had it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Difference {
    /// Id of the remnant or sheet.
    pub id: String,
    /// What was done about it.
    pub what: String,
    /// The last that the rack knew of it.
    pub known: String,
}

/// What a count came to.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StockTake {
    /// Remnants that are where they should be.
    pub as_listed: usize,
    /// What was different, in the list's order.
    pub differences: Vec<Difference>,
    /// Ids on the list that nobody looked for.
    pub not_looked_for: Vec<String>,
    /// Ids on the rack that are not on the list: logged after it was written.
    pub not_on_the_list: Vec<String>,
    /// Area of remnants lost and found, square millimetres; below 0 where more was lost.
    pub area: f64,
}

/// Enters what was found from a filled-in list: what was not found is lost, what was lost and is there is
/// found again, what stands elsewhere is moved, sheets are counted anew. All of it or nothing; `why` goes
/// into the trace.
///
/// A remnant that left the rack after the list was written is left as it is. What was booked or received of a sheet
/// after that comes on top of what was found, so a list may be entered late, and twice, without harm.
///
/// # Errors
/// The file cannot be read, a line is wrong or names what the rack does not know, or no reason is given.
pub fn enter(rack: &mut Rack, path: &Path, why: &str, when: &Zoned) -> Result<StockTake> {
    let why = super::need_reason(why, "count".to_owned())?;
    let lines = read(path)?;
    rack.change(when, |change| {
        let mut entering = Entering {
            change,
            path,
            why: &why,
            take: StockTake {
                as_listed: 0,
                differences: Vec::new(),
                not_looked_for: Vec::new(),
                not_on_the_list: Vec::new(),
                area: 0.0,
            },
        };
        let mut listed = BTreeSet::new();
        for (number, line) in &lines {
            if !listed.insert((line.kind.clone(), line.id.to_ascii_uppercase())) {
                return Err(entering.wrong(*number, format!("{} is named twice", line.id)));
            }
            entering.enter(*number, line)?;
        }
        let mut take = entering.take;
        for logged in remnant_row::in_state(change.db, State::OnRack)? {
            let id = logged.remnant.id;
            if !listed.contains(&("remnant".to_owned(), id.to_ascii_uppercase())) {
                take.not_on_the_list.push(id);
            }
        }
        let summary = format!(
            "{why}: {} as listed, {} different",
            take.as_listed,
            take.differences.len()
        );
        change.event(Event::new("stock-take", summary))?;
        Ok(take)
    })
}

/// The lines of a filled-in list, with their numbers.
fn read(path: &Path) -> Result<Vec<(u64, Line)>> {
    let content = input::bytes(path)?;
    let content = content.strip_prefix(b"\xef\xbb\xbf").unwrap_or(&content);
    has_head(path, content)?;
    csv_lines(path, content)
}

struct Entering<'a> {
    change: &'a Change<'a>,
    path: &'a Path,
    why: &'a str,
    take: StockTake,
}

impl Entering<'_> {
    fn wrong(&self, number: u64, what: String) -> Failure {
        let advice = "see the list that `panelwright rack count --list` writes";
        Failure::in_file(self.path, format!("line {number}"), what, advice)
    }

    fn enter(&mut self, number: u64, line: &Line) -> Result<()> {
        match line.kind.as_str() {
            "remnant" => self.remnant(number, line),
            "sheet" => self.sheet(number, line),
            other => Err(self.wrong(number, format!("'{other}' is neither remnant nor sheet"))),
        }
    }

    fn remnant(&mut self, number: u64, line: &Line) -> Result<()> {
        let change = self.change;
        let there = match line.found.to_lowercase().as_str() {
            "" => {
                self.take.not_looked_for.push(line.id.clone());
                return Ok(());
            }
            "yes" | "y" | "1" | "x" => true,
            "no" | "n" | "0" => false,
            other => {
                let what = format!("found is '{other}', neither yes nor no");
                return Err(self.wrong(number, what));
            }
        };
        let Some(logged) = remnant_row::find(change.db, &line.id)? else {
            let failure = remnant_row::unknown(change.db, &line.id)?;
            return Err(self.wrong(number, format!("remnant {}: {}", line.id, failure.what)));
        };
        let id = &logged.remnant.id;
        let known = last_known(change.db, id)?;
        let (state, area) = (logged.state, logged.remnant.outline.area());
        let remark = match line.remark.as_str() {
            "" => String::new(),
            remark => format!(", {remark}"),
        };
        let what = match (state, there) {
            (State::OnRack, false) => {
                hold::end(change, id, "released", "the piece is lost")?;
                remnant_row::set_state(change, id, State::OnRack, State::Lost)?;
                let why = format!("{}: not found{remark}", self.why);
                change.event(Event::new("lost", why).remnant(id))?;
                self.take.area -= area;
                Some("lost".to_owned())
            }
            (State::Lost, true) => {
                remnant_row::set_state(change, id, State::Lost, State::OnRack)?;
                let why = format!("{}: it is there{remark}", self.why);
                change.event(Event::new("found", why).remnant(id))?;
                self.take.area += area;
                Some("found again".to_owned())
            }
            (State::OnRack, true) => None,
            (_, false) => None,
            (state, true) => Some(format!(
                "is there, though it is {state} in the rack: look at it and correct the rack"
            )),
        };
        let here = there && matches!(state, State::OnRack | State::Lost);
        let moved = here
            && !line.place_now.is_empty()
            && logged.remnant.place.as_deref() != Some(&line.place_now);
        if moved {
            let from = logged.remnant.place.as_deref().unwrap_or("nowhere");
            change.run(
                "UPDATE remnants SET place = ?2 WHERE id = ?1",
                (id, &line.place_now),
            )?;
            let why = format!("{}: from {from} to {}", self.why, line.place_now);
            change.event(Event::new("moved", why).remnant(id))?;
        }
        let what = match (what, moved) {
            (None, false) => {
                self.take.as_listed += usize::from(there);
                return Ok(());
            }
            (Some(what), false) => what,
            (None, true) => format!("moved to {}", line.place_now),
            (Some(what), true) => format!("{what}, at {}", line.place_now),
        };
        self.take.differences.push(Difference {
            id: id.clone(),
            what,
            known,
        });
        Ok(())
    }

    fn sheet(&mut self, number: u64, line: &Line) -> Result<()> {
        if line.found.is_empty() {
            self.take.not_looked_for.push(line.id.clone());
            return Ok(());
        }
        let Ok(found) = line.found.parse::<u32>() else {
            let what = format!("found is '{}', not a number of sheets", line.found);
            return Err(self.wrong(number, what));
        };
        let Some(known) = sheet_stock::find(self.change.db, &line.id)? else {
            let what = format!("the rack does not know the sheet {}", line.id);
            return Err(self.wrong(number, what));
        };
        let Some((target, what)) = self.target(number, line, &known, found)? else {
            return Ok(());
        };
        sheet_stock::set(self.change, &known.id, Some(target), self.why)?;
        let short = sheet_hold::beyond_of(self.change.db, &known.id, target)?;
        let what = short.map_or(what.clone(), |says| format!("{what}; {says}"));
        let since = self.change.db.first(
            "SELECT at, kind, change FROM movements WHERE sheet = ?1 AND kind <> 'counted' \
             ORDER BY number DESC",
            [&known.id],
            |row| {
                Ok((
                    row.get::<_, String>(0)?,
                    row.get::<_, String>(1)?,
                    row.get::<_, i64>(2)?,
                ))
            },
        )?;
        let known_as = since.map_or_else(String::new, |(at, kind, by)| {
            format!("{}: {kind}, {by:+}", day_of(&at))
        });
        self.take.differences.push(Difference {
            id: known.id,
            what,
            known: known_as,
        });
        Ok(())
    }

    /// What the count of a sheet should be by a line, and how that came; `None` where it is that already.
    fn target(
        &self,
        number: u64,
        line: &Line,
        known: &StockedSheet,
        found: u32,
    ) -> Result<Option<(u32, String)>> {
        let Some(now) = known.stock else {
            return Ok(Some((
                found,
                format!("{found} counted, the rack had not counted"),
            )));
        };
        let (listed, target) = match line.ledger.trim() {
            "" => (self.listed_now(number, line, now, found)?, found),
            ledger => {
                let entry = ledger.parse().ok();
                let then = match entry {
                    Some(entry) => sheet_stock::since(self.change.db, &known.id, entry)?,
                    None => None,
                };
                let Some((listed, moved)) = then else {
                    let what = format!(
                        "ledger is '{ledger}', and the rack has no such entry of sheet {}",
                        known.id
                    );
                    return Err(self.wrong(number, what));
                };
                let target = (i64::from(found) + moved).max(0);
                let target = u32::try_from(target).map_err(|_| {
                    let what = format!("{target} sheets of {} cannot be there", known.id);
                    self.wrong(number, what)
                })?;
                (listed, target)
            }
        };
        if target == now || line.ledger.trim().is_empty() && i64::from(found) == listed {
            return Ok(None);
        }
        let what = if i64::from(now) == listed {
            format!("{found} counted, the rack had {now}")
        } else {
            format!(
                "{found} counted where the list had {listed}; the rack has {now} by now, so it is {target}"
            )
        };
        Ok(Some((target, what)))
    }

    /// What a line without a place in the ledger expected. It cannot be told from it what was booked since, so
    /// it is refused where that matters.
    fn listed_now(&self, number: u64, line: &Line, now: u32, found: u32) -> Result<i64> {
        let listed = match line.expected.trim() {
            "" => return Ok(i64::from(now)),
            expected => expected.parse::<u32>().map_err(|_| {
                let what = format!("expected is '{expected}', not a number of sheets");
                self.wrong(number, what)
            })?,
        };
        if listed == now || found == listed || found == now {
            return Ok(i64::from(listed));
        }
        Err(Failure::in_file(
            self.path,
            format!("line {number}"),
            format!(
                "found {found} of sheet {}, where {listed} were expected and the rack has {now} by now; what came between is \
                 not known without the column 'ledger'",
                line.id
            ),
            "write a new list with `panelwright rack count --list`, or empty 'expected' where 'found' is what is there now",
        ))
    }
}

/// The last that happened to a remnant.
fn last_known(db: Db<'_>, id: &str) -> Result<String> {
    let last = event::last(db, id)?;
    Ok(last.map_or_else(String::new, |e| {
        format!("{}: {}, {}", e.day(), e.kind, e.why)
    }))
}

impl StockTake {
    /// For people.
    #[must_use]
    pub fn text(&self) -> String {
        let remnants = counted(self.as_listed, "remnant is", "remnants are");
        let mut text = format!("{remnants} as listed\n");
        for one in &self.differences {
            let _ = writeln!(text, "  {}: {}", one.id, one.what);
            if !one.known.is_empty() {
                let _ = writeln!(text, "      last known: {}", one.known);
            }
        }
        for (ids, what) in [
            (&self.not_looked_for, "not looked for"),
            (
                &self.not_on_the_list,
                "not on the list (logged since, or its line was taken out)",
            ),
        ] {
            if !ids.is_empty() {
                let _ = writeln!(text, "{what}: {}", ids.join(", "));
            }
        }
        if self.area != 0.0 {
            let _ = writeln!(text, "{:+.3} m2 of remnants in all", m2(self.area));
        }
        text
    }
}

#[cfg(test)]
mod tests {
    use super::super::testing::{TestRack, sheet_nest, when};
    use super::super::{check, retire};
    use super::*;

    fn filled(
        test: &TestRack,
        fill: impl Fn(&str, &str) -> [&'static str; 2],
    ) -> std::path::PathBuf {
        let list = walking_list(&test.rack).expect("a list");
        let mut text = String::new();
        for line in list.lines() {
            let mut cells: Vec<&str> = line.split(',').collect();
            if cells[0] != "kind" {
                let [found, place] = fill(cells[0], cells[1]);
                (cells[7], cells[8]) = (found, place);
            }
            text += &cells.join(",");
            text.push('\n');
        }
        let path = test.dir.path().join("count.csv");
        std::fs::write(&path, text).expect("written");
        path
    }

    #[test]
    fn differences_are_entered_and_explained() {
        let mut test = TestRack::new();
        let path = filled(&test, |_, id| match id {
            "R-0007" => ["no", ""],
            "R-0012" => ["yes", "bay 9"],
            "W-2440" => ["5", ""],
            _ => ["", ""],
        });
        let take = enter(&mut test.rack, &path, "count of November", &when(3)).expect("entered");
        let ids: Vec<_> = take.differences.iter().map(|d| d.id.as_str()).collect();
        assert_eq!(ids, ["R-0007", "R-0012", "W-2440"]);
        assert_eq!(take.differences[1].what, "moved to bay 9");
        assert_eq!(take.differences[2].what, "5 counted, the rack had 3");
        assert!(
            take.differences[0].known.contains("2026-11-01: listed"),
            "{}",
            take.text()
        );
        assert_eq!(take.not_looked_for, ["B-2440"]);
        assert!((take.area + 800_000.0).abs() < 1e-6);
        assert!(check(&test.rack).expect("checked").is_sound());
        assert_eq!(test.rack.stock_counts().expect("read")["W-2440"], Some(5));
        // The same list again: what is lost stays lost, nothing else is different.
        let again = enter(&mut test.rack, &path, "once more", &when(4)).expect("entered");
        assert_eq!(again.differences, []);
        // Next month it is there again.
        let text = std::fs::read_to_string(&path)
            .expect("read")
            .replace(",no,", ",yes,");
        std::fs::write(&path, text).expect("written");
        let back = enter(&mut test.rack, &path, "count of December", &when(5)).expect("entered");
        assert_eq!(back.differences[0].what, "found again");
        assert_eq!(test.rack.remnants().expect("read").len(), 2);
    }

    #[test]
    fn fewer_sheets_than_are_held_are_entered_and_told() {
        let mut test = TestRack::new();
        let held = ["W-2440:3".to_owned()];
        // Beyond the day that this is run on, as a check goes by the clock.
        super::super::hold(&mut test.rack, &held, "GC-7", 366, &jiff::Zoned::now()).expect("held");
        let path = filled(&test, |_, id| match id {
            "W-2440" => ["1", ""],
            _ => ["", ""],
        });
        assert!(check(&test.rack).expect("checked").is_sound());
        let take = enter(&mut test.rack, &path, "count", &when(3)).expect("entered");
        assert_eq!(
            take.differences[0].what,
            "1 counted, the rack had 3; order GC-7 holds 3, only 1 is there"
        );
        assert_eq!(white(&test), Some(1));
        let checked = check(&test.rack).expect("checked");
        assert!(
            checked
                .text()
                .contains("W-2440 has fewer in stock than are held"),
            "{checked:?}"
        );
    }

    /// A list that has 12 white sheets, of which so many were found, and two booked since.
    fn booked_since(found: &'static str) -> (TestRack, std::path::PathBuf) {
        let mut test = TestRack::new();
        let set = test
            .rack
            .set_stock("W-2440", Some(12), "delivery", &when(1));
        set.expect("set");
        let path = filled(&test, |_, id| match id {
            "W-2440" => [found, ""],
            _ => ["", ""],
        });
        test.book(&sheet_nest(), 2).expect("booked");
        (test, path)
    }

    fn white(test: &TestRack) -> Option<u32> {
        test.rack.stock_counts().expect("read")["W-2440"]
    }

    #[test]
    fn what_was_booked_since_stays_booked() {
        let (mut test, path) = booked_since("12");
        let before = test.table("movements");
        let take = enter(&mut test.rack, &path, "count", &when(3)).expect("entered");
        assert_eq!((take.differences, white(&test)), (Vec::new(), Some(10)));
        assert_eq!(test.table("movements"), before);
    }

    #[test]
    fn a_miscount_moves_stock_by_its_difference_once() {
        for (found, is) in [("11", 9), ("13", 11), ("1", 0)] {
            let (mut test, path) = booked_since(found);
            let take = enter(&mut test.rack, &path, "count", &when(3)).expect("entered");
            let says = format!(
                "{found} counted where the list had 12; the rack has 10 by now, so it is {is}"
            );
            assert_eq!(take.differences[0].what, says);
            assert_eq!(white(&test), Some(is));
            let again = enter(&mut test.rack, &path, "again", &when(4)).expect("entered");
            assert_eq!((again.differences, white(&test)), (Vec::new(), Some(is)));
            assert!(check(&test.rack).expect("checked").is_sound());
            // A slip of the pen is put right by the same list.
            let text = std::fs::read_to_string(&path).expect("read");
            let text = text.replace(&format!(",12,{found},"), ",12,12,");
            std::fs::write(&path, text).expect("written");
            enter(&mut test.rack, &path, "put right", &when(5)).expect("entered");
            assert_eq!(white(&test), Some(10));
        }
    }

    #[test]
    fn a_list_that_does_not_know_the_ledger_is_taken_only_where_nothing_hangs_on_it() {
        let (mut test, path) = booked_since("11");
        let text = std::fs::read_to_string(&path).expect("read");
        let put = |from: &str, to: &str| {
            let changed = |line: &str| match line.starts_with("sheet,W-2440,") {
                true => line.replace(from, to),
                false => line.to_owned(),
            };
            let lines: Vec<String> = text.lines().map(changed).collect();
            lines.join("\n") + "\n"
        };
        let row = text.lines().find(|line| line.starts_with("sheet,W-2440,"));
        let ledger = row.and_then(|line| line.rsplit(',').next()).expect("a row");
        let end = format!(",11,,,{ledger}");
        let before = test.dump();
        for (to, says) in [
            (",11,,,9999", "ledger is '9999'"),
            (",11,,,-1", "ledger is '-1'"),
            (",11,,,soon", "ledger is 'soon'"),
            (",11,,,", "12 were expected and the rack has 10 by now"),
        ] {
            std::fs::write(&path, put(&end, to)).expect("written");
            let failure = enter(&mut test.rack, &path, "count", &when(3)).expect_err(says);
            assert!(failure.what.contains(says), "{failure}");
            assert!(failure.place.contains("line "), "{failure}");
            assert_eq!(test.dump(), before);
        }
        // Found as listed, or as it is now, or with nothing expected: there is no doubt.
        for (to, is) in [(",12,12,,,", 10), (",12,10,,,", 10), (",,7,,,", 7)] {
            std::fs::write(&path, put(&format!(",12{end}"), to)).expect("written");
            enter(&mut test.rack, &path, "count", &when(4)).expect("entered");
            assert_eq!(white(&test), Some(is), "{to}");
        }
    }

    #[test]
    fn a_wrong_line_enters_nothing() {
        let mut test = TestRack::new();
        for (fill, says) in [
            (["perhaps", ""], "neither yes nor no"),
            (["", ""], "R-0099"),
        ] {
            let path = filled(
                &test,
                |kind, _| if kind == "remnant" { fill } else { ["2", ""] },
            );
            if says == "R-0099" {
                let text = std::fs::read_to_string(&path).expect("read");
                let text = text
                    .replace("remnant,R-0007", "remnant,R-0099")
                    .replace(",1,,", ",1,yes,");
                std::fs::write(&path, text).expect("written");
            }
            let before = test.dump();
            let failure = enter(&mut test.rack, &path, "count", &when(2)).expect_err(says);
            assert!(failure.to_string().contains(says), "{failure}");
            assert!(failure.place.contains("line "), "{failure}");
            assert_eq!(test.dump(), before);
        }
    }

    #[test]
    fn what_was_cut_or_logged_since_is_told() {
        let mut test = TestRack::new();
        let path = filled(&test, |kind, _| {
            if kind == "remnant" {
                ["yes", ""]
            } else {
                ["", ""]
            }
        });
        retire(&mut test.rack, "R-0007", State::ThrownOut, "wet", &when(2)).expect("gone");
        test.book_remnant(3).expect("booked");
        let take = enter(&mut test.rack, &path, "count", &when(4)).expect("entered");
        assert_eq!(take.differences.len(), 2, "{}", take.text());
        assert!(take.differences[0].what.contains("thrown-out in the rack"));
        assert_eq!(take.not_on_the_list, ["R-0013"]);
        assert!(check(&test.rack).expect("checked").is_sound());
    }
}

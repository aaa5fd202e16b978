//! The rack's remnants as lists for other programs, and lists taken in: JSON and CSV.

use super::event::Event;
use super::store::Rack;
use super::{readable, remnant_row};
use crate::input::{self, Material, RemnantEntry, RemnantsFile, Unit};
use crate::remnant::Remnant;
use crate::{Failure, Result};
use jiff::Zoned;
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use std::path::Path;

/// Lists as files.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ListFormat {
    /// The readable list that a shop file may name.
    Json,
    /// A table with one line for each remnant; rings as JSON in their cells.
    Csv,
}

impl ListFormat {
    /// The format that a file's ending tells.
    ///
    /// # Errors
    /// It is neither `.json` nor `.csv`.
    pub fn of(path: &Path) -> Result<Self> {
        let ending = path
            .extension()
            .and_then(|e| e.to_str())
            .unwrap_or_default();
        match ending.to_ascii_lowercase().as_str() {
            "json" => Ok(Self::Json),
            "csv" => Ok(Self::Csv),
            _ => Err(Failure::in_file(
                path,
                "",
                "its ending tells no kind of list",
                "name a file that ends in .csv or .json",
            )),
        }
    }
}

/// One line of a CSV list. Lengths in millimetres.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
struct Line {
    id: String,
    material: String,
    length: Option<f64>,
    width: Option<f64>,
    outline: String,
    voids: String,
    flaws: String,
    lot: Option<String>,
    grain_deg: Option<f64>,
    good_faces: Option<u8>,
    place: Option<String>,
    logged: Option<String>,
    origin: Option<String>,
    note: Option<String>,
    value: Option<f64>,
}

/// What stands on the rack, as the text of a file: every remnant with all that is known of it.
///
/// What is written can be read with [`import`] to the same remnants, coordinates to the last digit; sides and values of a CSV
/// list to a millionth.
///
/// # Errors
/// The rack cannot be read.
pub fn export(rack: &Rack, format: ListFormat) -> Result<String> {
    let remnants = rack.remnants()?;
    match format {
        ListFormat::Json => {
            let list: Vec<serde_json::Value> = remnants
                .iter()
                .map(|remnant| {
                    let mut record = remnant_row::record(remnant);
                    if let Some(entry) = record.as_object_mut() {
                        entry.retain(|_, value| !value.is_null());
                    }
                    record
                })
                .collect();
            let file = serde_json::json!({
                "format": "panelwright-remnants-1", "units": "mm", "remnants": list,
            });
            Ok(format!("{file:#}\n"))
        }
        ListFormat::Csv => {
            let mut writer = csv::Writer::from_writer(Vec::new());
            for remnant in &remnants {
                writer.serialize(line(remnant)).map_err(cannot_be_written)?;
            }
            if remnants.is_empty() {
                // A table without lines still says what its columns are.
                return Ok(format!("{COLUMNS}\n"));
            }
            let bytes = writer
                .into_inner()
                .map_err(|e| cannot_be_written(e.into_error().into()))?;
            Ok(String::from_utf8_lossy(&bytes).into_owned())
        }
    }
}

const COLUMNS: &str = "id,material,length,width,outline,voids,flaws,lot,grain_deg,good_faces,place,\
                       logged,origin,note,value";

fn cannot_be_written(error: csv::Error) -> Failure {
    Failure::new(
        "export",
        format!("the table cannot be written: {error}"),
        "",
    )
}

fn line(remnant: &Remnant) -> Line {
    let record = remnant_row::record(remnant);
    let rings = |key: &str| match record[key].as_array() {
        Some(rings) if !rings.is_empty() => record[key].to_string(),
        _ => String::new(),
    };
    let bounds = remnant.outline.bounds();
    let at_origin = bounds.min.x == 0.0 && bounds.min.y == 0.0;
    let plain = at_origin && super::shape::is_upright_outside(&remnant.outline);
    Line {
        id: remnant.id.clone(),
        material: remnant.material.clone(),
        length: plain.then(|| rounded(bounds.width())),
        width: plain.then(|| rounded(bounds.height())),
        outline: if plain {
            String::new()
        } else {
            rings("outline")
        },
        voids: rings("voids"),
        flaws: rings("flaws"),
        lot: remnant.lot.clone(),
        grain_deg: remnant.grain_deg,
        good_faces: Some(remnant.good_faces),
        place: remnant.place.clone(),
        logged: remnant.logged.clone(),
        origin: remnant.origin.clone(),
        note: remnant.note.clone(),
        value: remnant.value.map(rounded),
    }
}

/// To a millionth: what is beyond that came of adding up, and a table is read by people.
fn rounded(number: f64) -> f64 {
    (number * 1e6).round() / 1e6
}

/// Remnants that were taken in.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Imported {
    /// Their ids, in the list's order.
    pub ids: Vec<String>,
}

/// Takes in the remnants of a file, all of them or none. In a CSV list a line without an id gets the
/// next free one, which is none of the list.
///
/// # Errors
/// The file cannot be read, a line is wrong (named, with what is wrong), or an id is taken.
pub fn import(
    rack: &mut Rack,
    path: &Path,
    materials: &[Material],
    when: &Zoned,
) -> Result<Imported> {
    let (remnants, nameless) = match ListFormat::of(path)? {
        ListFormat::Json => {
            let file: RemnantsFile = input::json(path, "panelwright-remnants-1")?;
            let remnants = readable::remnants_from_list(&file, path, materials)?;
            let count = remnants.len();
            (remnants, vec![false; count])
        }
        ListFormat::Csv => from_csv(path, materials)?,
    };
    rack.change(when, |change| {
        let mut lines: Vec<_> = remnants.into_iter().zip(nameless).enumerate().collect();
        // Ids of the list come first, or a line without one might be given one of theirs.
        lines.sort_by_key(|(_, (_, nameless))| *nameless);
        let mut ids = vec![String::new(); lines.len()];
        for (at, (mut remnant, nameless)) in lines {
            if nameless {
                remnant.id = remnant_row::next_id(change.db)?;
            }
            if remnant.logged.is_none() {
                remnant.logged = Some(change.day.clone());
            }
            remnant_row::insert(change, &remnant).map_err(|failure| Failure {
                place: format!("{}: {}", path.display(), failure.place),
                ..failure
            })?;
            let file = path.file_name().unwrap_or_default().to_string_lossy();
            change
                .event(Event::new("added", format!("from the list {file}")).remnant(&remnant.id))?;
            ids[at] = remnant.id;
        }
        Ok(Imported { ids })
    })
}

/// Remnants of a table, and which of them have no id yet.
fn from_csv(path: &Path, materials: &[Material]) -> Result<(Vec<Remnant>, Vec<bool>)> {
    let content = input::bytes(path)?;
    // Some programs put a byte order mark in front.
    let content = content.strip_prefix(b"\xef\xbb\xbf").unwrap_or(&content);
    has_head(path, content)?;
    let mut entries = Vec::new();
    let mut nameless = Vec::new();
    let lines: Vec<(u64, Line)> = csv_lines(path, content)?;
    let numbers: Vec<u64> = lines.iter().map(|(number, _)| *number).collect();
    let line_of = |i: usize| format!("line {}", numbers[i]);
    for (number, line) in lines {
        let place = format!("line {number}");
        let no_id = line.id.is_empty();
        nameless.push(no_id);
        let rings = |text: &str, what: &str| -> Result<Vec<Vec<[f64; 2]>>> {
            match text {
                "" => Ok(Vec::new()),
                text => serde_json::from_str(text).map_err(|e| {
                    let what = format!("the {what} are no lists of corners: {e}");
                    Failure::in_file(path, &place, what, "write [[[x, y], [x, y], [x, y]], ...]")
                }),
            }
        };
        let outline = match line.outline.as_str() {
            "" => None,
            text => Some(serde_json::from_str(text).map_err(|e| {
                let what = format!("the outline is no list of corners: {e}");
                Failure::in_file(path, &place, what, "write [[x, y], [x, y], [x, y], ...]")
            })?),
        };
        entries.push(RemnantEntry {
            // A name for messages; the rack gives the lasting one.
            id: if no_id { place.clone() } else { line.id },
            material: line.material,
            length: line.length,
            width: line.width,
            outline,
            voids: rings(&line.voids, "voids")?,
            flaws: rings(&line.flaws, "flaws")?,
            lot: line.lot,
            grain_deg: line.grain_deg,
            good_faces: line.good_faces,
            place: line.place,
            logged: line.logged,
            origin: line.origin,
            note: line.note,
            value: line.value,
        });
    }
    let file = RemnantsFile {
        format: "panelwright-remnants-1".to_owned(),
        units: Unit::Millimetre,
        remnants: entries,
    };
    Ok((
        readable::remnants_at(&file, path, materials, line_of)?,
        nameless,
    ))
}

/// A table without even its first line is a file that was not saved, or another one than was meant.
pub(super) fn has_head(path: &Path, content: &[u8]) -> Result<()> {
    if content.iter().all(u8::is_ascii_whitespace) {
        let what = "the file is empty: it has no line with the names of the columns";
        let advice = "check the name, and save the table once more";
        return Err(Failure::in_file(path, "", what, advice));
    }
    Ok(())
}

/// The lines of a table after the names of its columns, each with its number in the file: empty lines count, and so do
/// line breaks within quotes.
pub(super) fn csv_lines<T: DeserializeOwned>(path: &Path, content: &[u8]) -> Result<Vec<(u64, T)>> {
    // Tables saved with the usual programs of some countries have semicolons.
    let mut heads = content.split(|b| *b == b'\n');
    let head = heads.find(|head| !head.trim_ascii().is_empty());
    let head = head.unwrap_or_default();
    let semicolons = head.contains(&b';') && !head.contains(&b',');
    let mut reader = csv::ReaderBuilder::new()
        .trim(csv::Trim::All)
        .delimiter(if semicolons { b';' } else { b',' })
        .from_reader(content);
    let columns = reader.headers().cloned();
    let columns = columns.map_err(|e| csv_fault(path, &e, content))?;
    let mut lines = Vec::new();
    let (mut number, mut counted) = (1, 0);
    for record in reader.records() {
        let record = record.map_err(|e| csv_fault(path, &e, content))?;
        if let Some(position) = record.position() {
            let at = begin(content, position);
            number += breaks(&content[counted..at]);
            counted = at;
        }
        let line = record.deserialize(Some(&columns));
        lines.push((number, line.map_err(|e| csv_fault(path, &e, content))?));
    }
    Ok(lines)
}

/// Where in a table a line begins; the crate names the end of the line before, and there may be empty ones between.
fn begin(content: &[u8], position: &csv::Position) -> usize {
    let from = usize::try_from(position.byte()).unwrap_or(usize::MAX);
    let from = from.min(content.len());
    let is_text = |b: &u8| !matches!(b, b'\r' | b'\n');
    let empty = content[from..].iter().position(is_text);
    from + empty.unwrap_or(0)
}

fn breaks(text: &[u8]) -> u64 {
    text.iter().filter(|b| **b == b'\n').count() as u64
}

/// What is wrong with a table, with its line.
fn csv_fault(path: &Path, error: &csv::Error, content: &[u8]) -> Failure {
    let line = error.position().map(|p| {
        let number = 1 + breaks(&content[..begin(content, p)]);
        format!("line {number}")
    });
    let what = match error.kind() {
        csv::ErrorKind::Deserialize { err, .. } => {
            let what = match err.kind() {
                csv::DeserializeErrorKind::ParseFloat(_) => {
                    "this is no number; numbers have a point, such as 800.5, also between semicolons".to_owned()
                }
                csv::DeserializeErrorKind::ParseInt(_) => "this is no whole number".to_owned(),
                kind => kind.to_string(),
            };
            match err.field() {
                Some(field) => format!("column {}: {what}", field + 1),
                None => what,
            }
        }
        csv::ErrorKind::UnequalLengths {
            expected_len, len, ..
        } => {
            format!("it has {len} cells, and the first line has {expected_len}")
        }
        csv::ErrorKind::Utf8 { .. } => "this is not UTF-8 text".to_owned(),
        _ => error.to_string(),
    };
    let advice =
        "look at what `panelwright rack export` writes; put text with commas in double quotes";
    Failure::in_file(path, line.unwrap_or_default(), what, advice)
}

impl Imported {
    /// For people.
    #[must_use]
    pub fn text(&self) -> String {
        match (self.ids.first(), self.ids.last()) {
            (Some(first), Some(last)) if first != last => {
                // Ids of the list and new ones between each other are no range.
                let number = |id: &String| (id.len(), id.clone());
                let ids = match self.ids.is_sorted_by_key(number) {
                    true => format!("{first} to {last}"),
                    false => self.ids.join(", "),
                };
                format!("Logged {} remnants, {ids}\n", self.ids.len())
            }
            (Some(only), _) => format!("Logged {only}\n"),
            _ => "The list is empty; nothing was logged.\n".to_owned(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::testing::{TestRack, shop, when};
    use super::*;
    use panelwright_geometry::Polygon;

    #[test]
    fn lines_are_counted_as_an_editor_counts_them() {
        #[derive(Deserialize)]
        struct Row {
            note: String,
        }
        let table = b"\r\nid,note\r\n\r\nA,one\nB,\"two\nlines\"\n\n\nC,three\n";
        let rows: Vec<(u64, Row)> = csv_lines(Path::new("t.csv"), table).expect("a table");
        let found: Vec<_> = rows.iter().map(|(n, r)| (*n, r.note.as_str())).collect();
        assert_eq!(found, [(4, "one"), (5, "two\nlines"), (9, "three")]);
        let short = b"id,note\n\n\"A\nA\",one\n\nB\n";
        let fault = csv_lines::<Row>(Path::new("t.csv"), short).err();
        assert_eq!(fault.expect("a cell is missing").place, "t.csv: line 6");
        let german = b"id;note\nA;one, two\n";
        let rows: Vec<(u64, Row)> = csv_lines(Path::new("t.csv"), german).expect("a table");
        assert_eq!(rows[0].1.note, "one, two");
    }

    #[test]
    fn what_goes_out_comes_in_again() {
        let test = TestRack::new();
        for (format, name) in [(ListFormat::Json, "l.json"), (ListFormat::Csv, "l.csv")] {
            let path = test.dir.path().join(name);
            std::fs::write(&path, export(&test.rack, format).expect("written")).expect("stored");
            let mut empty = shop();
            empty.remnants.clear();
            let other = test.dir.path().join(format!("{name}.db"));
            let mut other = Rack::create_from(&other, &empty, &when(2)).expect("a rack");
            let done = import(&mut other, &path, &empty.materials, &when(3)).expect("read");
            assert_eq!(done.ids, ["R-0007", "R-0012"]);
            assert_eq!(
                other.remnants().expect("read"),
                test.rack.remnants().expect("read")
            );
            let twice = import(&mut other, &path, &empty.materials, &when(3)).expect_err("there");
            assert!(twice.to_string().contains("R-0007"), "{twice}");
        }
    }

    #[test]
    fn a_table_has_no_digits_that_came_of_adding_up() {
        let mut shop = shop();
        shop.remnants[0].outline = Polygon::rectangle(273.799_700_000_000_03, 0.1 + 0.2);
        shop.remnants[0].value = Some(0.7 + 0.1);
        let dir = tempfile::tempdir().expect("a folder");
        let rack = Rack::create_from(&dir.path().join("r"), &shop, &when(1)).expect("made");
        let table = export(&rack, ListFormat::Csv).expect("written");
        assert!(table.contains("\nR-0007,white 3,273.7997,0.3,"), "{table}");
        assert!(table.contains(",0.8\n"), "{table}");
    }

    #[test]
    fn lines_without_an_id_leave_the_ids_of_the_list_alone() {
        let mut test = TestRack::new();
        let path = test.dir.path().join("list.csv");
        // The rack would give R-0013 next.
        let list = "id,material,length,width\n,white 3,600,400\nR-0013,white 3,500,300\nr-14,white 3,500,300\n";
        std::fs::write(&path, list).expect("written");
        let done = import(&mut test.rack, &path, &shop().materials, &when(2)).expect("read");
        assert_eq!(done.ids[1..], ["R-0013", "r-14"]);
        assert_eq!(done.text(), "Logged 3 remnants, R-0015, R-0013, r-14\n");
        let first = test.rack.remnants().expect("read");
        let first = first.iter().find(|r| r.id == done.ids[0]).expect("there");
        assert_eq!(first.outline.bounds().width(), 600.0);
    }

    #[test]
    fn a_wrong_line_is_named_and_nothing_taken_in() {
        let mut test = TestRack::new();
        let path = test.dir.path().join("list.csv");
        let before = test.dump();
        let head = "id,material,length,width,voids,note";
        for (line, says) in [
            ("A,white 3,500,300", "4 cells"),
            ("A,white 3,5oo,300,,", "column 3: this is no number"),
            ("A,whit 3,500,300,,", "did you mean"),
            ("A,white 3,500,,,", "neither length"),
            ("R-0007,white 3,500,300,,", "already"),
            ("A,white 3,500,300,\"[[[1,1],[2,2]]]\",", "2 corners"),
            ("A,white 3,500,300,nonsense,", "no lists of corners"),
        ] {
            let text = format!("{head}\n,white 3,600,400,,first\n{line}\n");
            std::fs::write(&path, text).expect("written");
            let failure = import(&mut test.rack, &path, &shop().materials, &when(2));
            let failure = failure.expect_err(says).to_string();
            assert!(
                failure.contains(says) && failure.contains("list.csv"),
                "{failure}"
            );
            assert_eq!(test.dump(), before);
        }
        std::fs::write(
            &path,
            "id;material;length;width\nA;white 3;900;600\nB;white 3;800,5;300\n",
        )
        .expect("written");
        let failure = import(&mut test.rack, &path, &shop().materials, &when(2));
        let failure = failure.expect_err("a comma").to_string();
        assert!(
            failure.contains("line 3: column 3: this is no number; numbers have a point"),
            "{failure}"
        );
        std::fs::write(&path, "id,weight\nA,5\n").expect("written");
        let failure = import(&mut test.rack, &path, &shop().materials, &when(2));
        assert!(failure.expect_err("unknown column").what.contains("weight"));
        // A byte order mark, spaces and a line without an id are fine.
        let text = format!("\u{feff}{head}\n , white 3 , 600, 400,,\"bent, a little\"\n");
        std::fs::write(&path, text).expect("written");
        let done = import(&mut test.rack, &path, &shop().materials, &when(2)).expect("read");
        assert_eq!(done.ids, ["R-0013"]);
        assert!(ListFormat::of(Path::new("list.txt")).is_err());
    }
}

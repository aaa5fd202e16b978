//! What stands on the rack, as a table.

use super::hold;
use super::remnant_row::{self, IN_ORDER, Logged, State};
use super::shape;
use super::store::Rack;
use crate::area::m2;
use crate::number::counted;
use crate::{Failure, Result};
use comfy_table::{Cell, CellAlignment, ColumnConstraint, ContentArrangement, Table, presets};
use jiff::Zoned;
use serde::Serialize;
use std::collections::BTreeMap;
use std::ops::Range;

/// Widest table, in letters: what a plain terminal shows.
const WIDTH: u16 = 80;

/// Which remnants to list; all that is `None` does not matter.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Filter {
    /// Material by name; capitals do not matter.
    pub material: Option<String>,
    /// State; `None` for all.
    pub state: Option<State>,
    /// Text found in id, material, place, lot, origin or note; capitals do not matter.
    pub text: Option<String>,
    /// Which rows of what is found, counted from 0; all of them when `None`.
    pub rows: Option<Range<usize>>,
}

impl Default for Filter {
    /// Whatever is on the rack.
    fn default() -> Self {
        Self {
            material: None,
            state: Some(State::OnRack),
            text: None,
            rows: None,
        }
    }
}

/// One line of the list.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Row {
    /// Id.
    pub id: String,
    /// Material by name.
    pub material: String,
    /// Size of the bounding rectangle along x, millimetres.
    pub length: f64,
    /// Size along y.
    pub width: f64,
    /// Area less voids, square millimetres.
    pub area: f64,
    /// Where it stands.
    pub place: Option<String>,
    /// The purchase its sheet came from.
    pub lot: Option<String>,
    /// Day it was logged.
    pub logged: Option<String>,
    /// What the shape is called, such as `L, 1 void`; empty for an upright rectangle.
    pub shape: String,
    /// What became of it.
    pub state: State,
    /// The order that it is held for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub held_for: Option<String>,
}

/// What a filter found, by id.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Listing {
    /// The remnants, or the rows of them that were asked for.
    pub remnants: Vec<Row>,
    /// How many were found in all.
    pub found: usize,
    /// The area of all that were found, square millimetres.
    pub area: f64,
}

/// Lists remnants, by id; numbers within ids count as numbers. Whether they are held is told as it is at
/// the moment `now`.
///
/// Only the rows asked for are read whole, so that a page of a large rack comes at once.
///
/// # Errors
/// The rack cannot be read.
pub fn list(rack: &Rack, filter: &Filter, now: &Zoned) -> Result<Listing> {
    let db = rack.db();
    let state = filter.state.map(State::word);
    let material = filter.material.as_deref().map(str::to_lowercase);
    let (mut found, mut area) = (0, 0.0);
    let ids: Vec<String> = if filter.text.is_none() && material.is_none() {
        let from = filter.rows.as_ref().map_or(0, |rows| rows.start);
        let most = filter.rows.as_ref().map_or(i64::MAX, |rows| {
            i64::try_from(rows.len()).unwrap_or(i64::MAX)
        });
        let sum = match state {
            Some(_) => "SELECT count(*), sum(area) FROM remnants WHERE state = ?1",
            None => "SELECT count(*), sum(area) FROM remnants WHERE ?1 IS NULL",
        };
        let sums = db.first(sum, [state], |row| {
            Ok((
                row.get::<_, u32>(0)? as usize,
                row.get::<_, Option<f64>>(1)?,
            ))
        })?;
        if let Some((count, sum)) = sums {
            (found, area) = (count, sum.unwrap_or(0.0));
        }
        let which = if state.is_some() {
            "state = ?1"
        } else {
            "?1 IS NULL"
        };
        let sql =
            format!("SELECT id FROM remnants WHERE {which} ORDER BY {IN_ORDER} LIMIT ?2 OFFSET ?3");
        db.rows(
            &sql,
            (state, most, i64::try_from(from).unwrap_or(i64::MAX)),
            |row| row.get(0),
        )?
    } else {
        let sql = format!(
            "SELECT id, material, place, lot, origin, note, area FROM remnants \
             WHERE ?1 IS NULL OR state = ?1 ORDER BY {IN_ORDER}"
        );
        let mut ids = Vec::new();
        db.rows(&sql, [state], |row| {
            if filter.matches(row, material.as_deref())? {
                if filter
                    .rows
                    .as_ref()
                    .is_none_or(|rows| rows.contains(&found))
                {
                    ids.push(row.get(0)?);
                }
                found += 1;
                area += row.get::<_, f64>(6)?;
            }
            Ok(())
        })?;
        ids
    };
    let mut remnants = Vec::with_capacity(ids.len());
    let holds: BTreeMap<String, String> = hold::standing(db, now.timestamp().as_second())?
        .into_iter()
        .map(|hold| (hold.remnant.to_ascii_uppercase(), hold.order))
        .collect();
    for logged in remnant_row::find_all(db, &ids)? {
        let held_for = holds.get(&logged.remnant.id.to_ascii_uppercase()).cloned();
        remnants.push(row(logged, held_for));
    }
    Ok(Listing {
        remnants,
        found,
        area,
    })
}

/// Refuses a material that neither the shop nor anything on the rack, retired or not, is of. Capitals do not matter.
///
/// # Errors
/// Naming the nearest one; the rack cannot be read.
pub fn known_material(rack: &Rack, name: &str, of_shop: &[&str]) -> Result<()> {
    let of_rack = rack.db().rows(
        "SELECT material FROM sheets UNION SELECT material FROM remnants ORDER BY 1",
        [],
        |row| row.get::<_, String>(0),
    )?;
    let mut names = of_shop.to_vec();
    for material in &of_rack {
        if !names.contains(&material.as_str()) {
            names.push(material);
        }
    }
    if names
        .iter()
        .any(|n| n.to_lowercase() == name.to_lowercase())
    {
        return Ok(());
    }
    let what = format!("no material is called '{name}'");
    let advice = crate::input::suggestion(name, &names);
    Err(Failure::new("--material", what, advice))
}

impl Filter {
    /// Whether a row of id, material, place, lot, origin and note matches; the material is given in
    /// small letters.
    fn matches(&self, row: &rusqlite::Row<'_>, material: Option<&str>) -> rusqlite::Result<bool> {
        if let Some(material) = material
            && row.get::<_, String>(1)?.to_lowercase() != material
        {
            return Ok(false);
        }
        let Some(text) = &self.text else {
            return Ok(true);
        };
        let text = text.to_lowercase();
        for column in 0..6 {
            let field = row.get::<_, Option<String>>(column)?;
            if field.is_some_and(|field| field.to_lowercase().contains(&text)) {
                return Ok(true);
            }
        }
        Ok(false)
    }
}

fn row(logged: Logged, held_for: Option<String>) -> Row {
    let remnant = logged.remnant;
    let bounds = remnant.outline.bounds();
    Row {
        length: bounds.width(),
        width: bounds.height(),
        area: remnant.outline.area(),
        shape: shape::describe(&remnant.outline, remnant.flaws.len()),
        id: remnant.id,
        material: remnant.material,
        place: remnant.place,
        lot: remnant.lot,
        logged: remnant.logged,
        state: logged.state,
        held_for,
    }
}

impl Listing {
    /// For people: a table at most 80 letters wide, and a sum.
    #[must_use]
    pub fn text(&self) -> String {
        if self.remnants.is_empty() {
            return match self.found {
                0 => "No remnants.\n".to_owned(),
                n => format!(
                    "None of the {} is here.\n",
                    counted(n, "remnant", "remnants")
                ),
            };
        }
        // The state says something only where it differs.
        let tells = |row: &Row| row.state != State::OnRack || row.held_for.is_some();
        let states = self.remnants.iter().any(tells);
        let mut heads = vec![
            "Id", "Material", "Size mm", "Area m2", "Place", "Lot", "Shape",
        ];
        if states {
            heads.push("State");
        }
        let short_ids = self.remnants.iter().all(|row| row.id.chars().count() <= 12);
        let mut table = Table::new();
        table
            .load_style(presets::NOTHING)
            .set_content_arrangement(ContentArrangement::Dynamic)
            .set_width(WIDTH)
            .set_header(heads);
        for row in &self.remnants {
            let mut cells = vec![
                row.id.clone(),
                row.material.clone(),
                // A no-break space: a size torn over two lines is misread.
                format!("{:.0}\u{a0}x\u{a0}{:.0}", row.length, row.width),
                format!("{:.3}", m2(row.area)),
                row.place.clone().unwrap_or_default(),
                row.lot.clone().unwrap_or_default(),
                row.shape.clone(),
            ];
            if states {
                cells.push(match &row.held_for {
                    Some(order) => format!("held for {order}"),
                    None => row.state.to_string(),
                });
            }
            table.add_row(cells.into_iter().enumerate().map(|(i, cell)| {
                let alignment = if matches!(i, 2 | 3) {
                    CellAlignment::Right
                } else {
                    CellAlignment::Left
                };
                Cell::new(cell).set_alignment(alignment)
            }));
        }
        for (i, column) in table.column_iter_mut().enumerate() {
            column.set_padding((u16::from(i > 0), 0));
            // What is read as one word is not broken, unless an id takes half the line.
            if matches!(i, 2 | 3) || i == 0 && short_ids {
                column.set_constraint(ColumnConstraint::ContentWidth);
            }
        }
        let lines: Vec<String> = table
            .lines()
            .map(|line| line.replace('\u{a0}', " ").trim_end().to_owned())
            .collect();
        let shown = match self.remnants.len() {
            n if n < self.found => format!("{n} of "),
            _ => String::new(),
        };
        format!(
            "{}\n{shown}{} remnant{}, {:.3} m2\n",
            lines.join("\n"),
            self.found,
            if self.found == 1 { "" } else { "s" },
            m2(self.area)
        )
    }
}

#[cfg(test)]
mod tests {
    use super::super::testing::{TestRack, when};
    use super::super::{hold, retire};
    use super::*;

    fn ids(listing: &Listing) -> Vec<&str> {
        listing.remnants.iter().map(|row| row.id.as_str()).collect()
    }

    #[test]
    fn filters_by_material_state_and_text() {
        let mut test = TestRack::new();
        let all = list(&test.rack, &Filter::default(), &when(2)).expect("list");
        assert_eq!(ids(&all), ["R-0007", "R-0012"]);
        let white = Filter {
            material: Some("White 3".to_owned()),
            ..Filter::default()
        };
        assert_eq!(
            ids(&list(&test.rack, &white, &when(2)).expect("list")),
            ["R-0007"]
        );
        let text = Filter {
            text: Some("BAY 4".to_owned()),
            ..Filter::default()
        };
        assert_eq!(
            ids(&list(&test.rack, &text, &when(2)).expect("list")),
            ["R-0012"]
        );
        retire(&mut test.rack, "R-0007", State::Retired, "sold", &when(2)).expect("retired");
        assert_eq!(
            ids(&list(&test.rack, &Filter::default(), &when(2)).expect("list")),
            ["R-0012"]
        );
        let any = Filter {
            state: None,
            ..Filter::default()
        };
        let any = list(&test.rack, &any, &when(2)).expect("list");
        assert_eq!(ids(&any), ["R-0007", "R-0012"]);
        assert!(any.text().contains("retired"));
    }

    #[test]
    fn the_table_stays_within_a_plain_terminal() {
        let test = TestRack::new();
        let mut listing = list(&test.rack, &Filter::default(), &when(2)).expect("list");
        let text = listing.text();
        assert!(text.contains("R-0007"), "{text}");
        assert!(text.contains("1000 x 800"), "{text}");
        assert!(text.contains("L, 1 void, 1 flaw"), "{text}");
        assert!(text.ends_with("2 remnants, 1.180 m2\n"), "{text}");
        for row in &mut listing.remnants {
            row.material = "aluminium composite, brushed, 3 mm, both faces".to_owned();
            row.place = Some("behind the compressor, second row from the left".to_owned());
            row.lot = Some("purchase 2026-0417 of the spring delivery".to_owned());
            row.state = State::Cut;
        }
        let wide = listing.text();
        for line in wide.lines().chain(text.lines()) {
            assert!(line.chars().count() <= 80, "{line:?}");
        }
        assert!(wide.contains("1000 x 800"), "{wide}");
        for row in &mut listing.remnants {
            row.id = "LEFT-OF-THE-SPRING-ORDER".to_owned();
            (row.length, row.width) = (12_345.0, 12_345.0);
        }
        for line in listing.text().lines() {
            assert!(line.chars().count() <= 80, "{line:?}");
        }
    }

    #[test]
    fn pages_of_a_list_are_in_order_and_tell_the_whole() {
        let mut test = TestRack::new();
        hold(&mut test.rack, &["R-0012".to_owned()], "GC-7", 2, &when(2)).expect("held");
        for text in [None, Some("r-00".to_owned())] {
            let page = |rows, day| {
                let (text, rows) = (text.clone(), Some(rows));
                let filter = Filter {
                    text,
                    rows,
                    ..Filter::default()
                };
                list(&test.rack, &filter, &when(day)).expect("list")
            };
            let second = page(1..2, 3);
            assert_eq!((ids(&second), second.found), (vec!["R-0012"], 2));
            assert!((second.area - 1_180_000.0).abs() < 1e-6);
            let shown = second.text();
            assert!(shown.contains("held for GC-7"), "{shown}");
            assert!(shown.ends_with("1 of 2 remnants, 1.180 m2\n"), "{shown}");
            assert_eq!(page(1..2, 5).remnants[0].held_for, None, "it ran out");
            assert_eq!(ids(&page(2..9, 3)), [""; 0]);
        }
    }

    #[test]
    fn a_mistyped_material_is_refused_and_one_of_the_past_is_not() {
        let mut test = TestRack::new();
        let known = |test: &TestRack, name: &str| known_material(&test.rack, name, &["clear 6"]);
        for there in ["white 3", "BRUSHED 3", "clear 6"] {
            known(&test, there).expect(there);
        }
        let failure = known(&test, "whit 3").expect_err("mistyped");
        assert_eq!(
            failure.to_string(),
            "--material: no material is called 'whit 3'; did you mean 'white 3'?"
        );
        // What only a retired piece is of.
        retire(&mut test.rack, "R-0007", State::Retired, "sold", &when(2)).expect("retired");
        let old = "UPDATE remnants SET material = 'pine 9' WHERE id = 'R-0007'";
        test.rack.db().run_outside(old, []).expect("changed");
        known(&test, "pine 9").expect("known");
    }

    #[test]
    fn programs_read_the_same() {
        let test = TestRack::new();
        let json =
            serde_json::to_value(list(&test.rack, &Filter::default(), &when(2)).expect("list"))
                .expect("json");
        assert_eq!(json["remnants"][0]["id"], "R-0007");
        assert_eq!(json["remnants"][0]["state"], "on-rack");
        assert_eq!(json["remnants"][0]["length"], 1000.0);
    }
}

//! What stands on the rack, as a table.

use super::remnant_row::{self, Logged, State};
use super::shape;
use super::store::Rack;
use crate::Result;
use comfy_table::{Cell, CellAlignment, ColumnConstraint, ContentArrangement, Table, presets};
use serde::Serialize;

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
}

impl Default for Filter {
    /// Whatever is on the rack.
    fn default() -> Self {
        Self {
            material: None,
            state: Some(State::OnRack),
            text: None,
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
}

/// What a filter found, by id.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Listing {
    /// The remnants.
    pub remnants: Vec<Row>,
    /// Their area together, square millimetres.
    pub area: f64,
}

/// Lists remnants, by id; numbers within ids count as numbers.
///
/// # Errors
/// The rack cannot be read.
pub fn list(rack: &Rack, filter: &Filter) -> Result<Listing> {
    let remnants: Vec<Row> = remnant_row::all(rack.db())?
        .into_iter()
        .filter(|logged| filter.matches(logged))
        .map(row)
        .collect();
    Ok(Listing {
        area: remnants.iter().map(|row| row.area).sum(),
        remnants,
    })
}

impl Filter {
    fn matches(&self, logged: &Logged) -> bool {
        let remnant = &logged.remnant;
        let lower = |text: &str| text.to_lowercase();
        self.state.is_none_or(|state| state == logged.state)
            && self
                .material
                .as_ref()
                .is_none_or(|name| lower(name) == lower(&remnant.material))
            && self.text.as_ref().is_none_or(|text| {
                let text = lower(text);
                [
                    Some(&remnant.id),
                    Some(&remnant.material),
                    remnant.place.as_ref(),
                    remnant.lot.as_ref(),
                    remnant.origin.as_ref(),
                    remnant.note.as_ref(),
                ]
                .into_iter()
                .flatten()
                .any(|field| lower(field).contains(&text))
            })
    }
}

fn row(logged: Logged) -> Row {
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
    }
}

impl Listing {
    /// For people: a table at most 80 letters wide, and a sum.
    #[must_use]
    pub fn text(&self) -> String {
        if self.remnants.is_empty() {
            return "No remnants.\n".to_owned();
        }
        // The state says something only where it differs.
        let states = self.remnants.iter().any(|row| row.state != State::OnRack);
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
                format!("{:.3}", row.area / 1e6),
                row.place.clone().unwrap_or_default(),
                row.lot.clone().unwrap_or_default(),
                row.shape.clone(),
            ];
            if states {
                cells.push(row.state.to_string());
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
            if matches!(i, 2 | 3 | 7) || i == 0 && short_ids {
                column.set_constraint(ColumnConstraint::ContentWidth);
            }
        }
        let lines: Vec<String> = table
            .lines()
            .map(|line| line.replace('\u{a0}', " ").trim_end().to_owned())
            .collect();
        format!(
            "{}\n{} remnant{}, {:.3} m2\n",
            lines.join("\n"),
            self.remnants.len(),
            if self.remnants.len() == 1 { "" } else { "s" },
            self.area / 1e6
        )
    }
}

#[cfg(test)]
mod tests {
    use super::super::retire;
    use super::super::testing::{TestRack, when};
    use super::*;

    fn ids(listing: &Listing) -> Vec<&str> {
        listing.remnants.iter().map(|row| row.id.as_str()).collect()
    }

    #[test]
    fn filters_by_material_state_and_text() {
        let mut test = TestRack::new();
        let all = list(&test.rack, &Filter::default()).expect("list");
        assert_eq!(ids(&all), ["R-0007", "R-0012"]);
        let white = Filter {
            material: Some("White 3".to_owned()),
            ..Filter::default()
        };
        assert_eq!(ids(&list(&test.rack, &white).expect("list")), ["R-0007"]);
        let text = Filter {
            text: Some("BAY 4".to_owned()),
            ..Filter::default()
        };
        assert_eq!(ids(&list(&test.rack, &text).expect("list")), ["R-0012"]);
        retire(&mut test.rack, "R-0007", "sold", &when(2)).expect("retired");
        assert_eq!(
            ids(&list(&test.rack, &Filter::default()).expect("list")),
            ["R-0012"]
        );
        let any = Filter {
            state: None,
            ..Filter::default()
        };
        let any = list(&test.rack, &any).expect("list");
        assert_eq!(ids(&any), ["R-0007", "R-0012"]);
        assert!(any.text().contains("retired"));
    }

    #[test]
    fn the_table_stays_within_a_plain_terminal() {
        let test = TestRack::new();
        let mut listing = list(&test.rack, &Filter::default()).expect("list");
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
    fn programs_read_the_same() {
        let test = TestRack::new();
        let json = serde_json::to_value(list(&test.rack, &Filter::default()).expect("list"))
            .expect("json");
        assert_eq!(json["remnants"][0]["id"], "R-0007");
        assert_eq!(json["remnants"][0]["state"], "on-rack");
        assert_eq!(json["remnants"][0]["length"], 1000.0);
    }
}

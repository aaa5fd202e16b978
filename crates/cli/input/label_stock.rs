//! What labels are printed on: sheets of labels and rolls, by their sizes.

use super::{Checker, LabelSettings, suggestion};
use crate::{Failure, Result};
use panelwright_geometry::{Bounds, Point};

/// Labels on a page, or on a roll that brings one at a time. Millimetres; the page's upper left corner is the
/// origin, y down.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LabelStock {
    /// Width and height of a page.
    pub page: (f64, f64),
    /// Labels side by side.
    pub columns: u32,
    /// Labels below each other.
    pub rows: u32,
    /// Width and height of a label.
    pub size: (f64, f64),
    /// Room left of and above the first label.
    pub margin: (f64, f64),
    /// From a label's corner to that of the next, across and down.
    pub pitch: (f64, f64),
    /// The first label that is free, counted from 1 along the rows; those before it were used.
    pub first: u32,
}

const INCH: f64 = 25.4;
const A4: (f64, f64) = (210.0, 297.0);
const LETTER: (f64, f64) = (8.5 * INCH, 11.0 * INCH);

/// A named kind: columns and rows, page, label, margin, pitch.
type Named = (
    &'static str,
    (u32, u32),
    (f64, f64),
    (f64, f64),
    (f64, f64),
    (f64, f64),
);

/// Label sheets and rolls that are sold everywhere, by what they measure.
///
/// Sizes, margins and pitches are common practice, from memory; a sheet at hand is measured before a pile is
/// printed, and one that differs is described in the shop file.
const NAMED: [Named; 8] = [
    (
        "a4-3x7",
        (3, 7),
        A4,
        (63.5, 38.1),
        (7.21, 15.15),
        (66.04, 38.1),
    ),
    ("a4-3x8", (3, 8), A4, (70.0, 37.0), (0.0, 0.5), (70.0, 37.0)),
    (
        "a4-2x7",
        (2, 7),
        A4,
        (99.1, 38.1),
        (4.65, 15.15),
        (101.6, 38.1),
    ),
    (
        "letter-3x10",
        (3, 10),
        LETTER,
        (2.625 * INCH, INCH),
        (0.1875 * INCH, 0.5 * INCH),
        (2.75 * INCH, INCH),
    ),
    (
        "letter-2x5",
        (2, 5),
        LETTER,
        (4.0 * INCH, 2.0 * INCH),
        (0.156_25 * INCH, 0.5 * INCH),
        (4.1875 * INCH, 2.0 * INCH),
    ),
    roll("roll-57x32", 57.0, 32.0),
    roll("roll-62x100", 62.0, 100.0),
    roll("roll-102x152", 102.0, 152.0),
];

const fn roll(name: &'static str, width: f64, height: f64) -> Named {
    let size = (width, height);
    (name, (1, 1), size, size, (0.0, 0.0), size)
}

/// A smaller label has no room for a code that can be read and a name beside it: shorter and longer side.
const LEAST: (f64, f64) = (20.0, 40.0);

/// No printer of a shop takes a wider page.
const LARGEST_PAGE: f64 = 1000.0;

/// More labels in a row or column are a slip.
const MOST: u32 = 50;

/// Rounding that a description in inches or with one decimal brings along.
const SLACK: f64 = 0.6;

/// What a label's content keeps from its edge: labels are not cut, and not laid in, more exactly. Common
/// practice.
const INSET: f64 = 2.0;

/// What printers for sheets leave unprinted along the edge of a page. Common practice: 4 to 5 mm.
const UNPRINTED: f64 = 5.0;

impl Default for LabelStock {
    /// `a4-3x7`.
    fn default() -> Self {
        Self::of(&NAMED[0])
    }
}

impl LabelStock {
    const fn of(named: &Named) -> Self {
        let (_, (columns, rows), page, size, margin, pitch) = *named;
        Self {
            page,
            columns,
            rows,
            size,
            margin,
            pitch,
            first: 1,
        }
    }

    /// Names of the kinds that are known.
    #[must_use]
    pub fn names() -> [&'static str; NAMED.len()] {
        NAMED.map(|named| named.0)
    }

    /// The kind of this name, none of its labels used.
    #[must_use]
    pub fn named(name: &str) -> Option<Self> {
        NAMED.iter().find(|n| n.0 == name).map(Self::of)
    }

    /// What a shop file describes; lengths there are in units of `mm` millimetres.
    ///
    /// # Errors
    /// A name that is not known, labels that do not fit on the page or over each other, a size that is no
    /// size; with the key.
    pub fn read(settings: &LabelSettings, check: &Checker, mm: f64) -> Result<Self> {
        let at = "papers.labels";
        let place = |key: &str| format!("{at}.{key}");
        let LabelSettings {
            stock,
            page,
            columns,
            rows,
            size,
            margin,
            pitch,
            first,
        } = settings;
        let own: Vec<&str> = [
            ("page", page.is_some()),
            ("columns", columns.is_some()),
            ("rows", rows.is_some()),
            ("size", size.is_some()),
            ("margin", margin.is_some()),
            ("pitch", pitch.is_some()),
        ]
        .into_iter()
        .filter_map(|(key, given)| given.then_some(key))
        .collect();
        let mut read = match (stock, own.first()) {
            (Some(_), Some(key)) => {
                return Err(check.fail(
                    place(key),
                    format!("'{key}' stands beside 'stock', which tells it already"),
                    "name a stock, or describe one of your own, not both",
                ));
            }
            (Some(name), None) => Self::named(name).ok_or_else(|| {
                let what = format!("no labels are called '{name}'");
                check.fail(place("stock"), what, suggestion(name, &Self::names()))
            })?,
            (None, None) => Self::default(),
            (None, Some(_)) => {
                let pair = |key: &str, value: &[f64; 2], least: f64| -> Result<(f64, f64)> {
                    let mut both = [0.0; 2];
                    for (i, (to, v)) in both.iter_mut().zip(value).enumerate() {
                        let v = v * mm;
                        if !(v.is_finite() && v >= least && v <= LARGEST_PAGE) {
                            return Err(check.fail(
                                place(&format!("{key}[{i}]")),
                                format!("the value is {} mm", shown(v)),
                                format!("give {} to {LARGEST_PAGE} mm", shown(least)),
                            ));
                        }
                        *to = v;
                    }
                    Ok((both[0], both[1]))
                };
                let need = |key: &'static str, value: &Option<[f64; 2]>, least: f64| {
                    let value = value.as_ref().ok_or_else(|| {
                        let what = format!("labels are described without '{key}'");
                        let advice = "give page and size, each [width, height]";
                        check.fail(at, what, advice)
                    })?;
                    pair(key, value, least)
                };
                let count = |key: &str, value: Option<u32>| match value {
                    None => Ok(1),
                    Some(n) if (1..=MOST).contains(&n) => Ok(n),
                    Some(n) => Err(check.fail(
                        place(key),
                        format!("the value is {n}"),
                        format!("give 1 to {MOST}"),
                    )),
                };
                let page = need("page", page, LEAST.0)?;
                let size = need("size", size, LEAST.0)?;
                let (columns, rows) = (count("columns", *columns)?, count("rows", *rows)?);
                let pitch = match pitch {
                    Some(value) => pair("pitch", value, 1.0)?,
                    None => size,
                };
                let block = (
                    f64::from(columns - 1) * pitch.0 + size.0,
                    f64::from(rows - 1) * pitch.1 + size.1,
                );
                let margin = match margin {
                    Some(value) => pair("margin", value, 0.0)?,
                    None => (
                        (0.5 * (page.0 - block.0)).max(0.0),
                        (0.5 * (page.1 - block.1)).max(0.0),
                    ),
                };
                Self {
                    page,
                    columns,
                    rows,
                    size,
                    margin,
                    pitch,
                    first: 1,
                }
            }
        };
        read.check(&|key, what, advice| check.fail(place(key), what, advice))?;
        if let Some(first) = first {
            read = read.starting_at(*first, &place("first"), check)?;
        }
        Ok(read)
    }

    /// Whether labels lie beside each other, on the page, and are large enough.
    fn check(&self, fail: &dyn Fn(&str, String, String) -> Failure) -> Result<()> {
        let (short, long) = (self.size.0.min(self.size.1), self.size.0.max(self.size.1));
        if short < LEAST.0 || long < LEAST.1 {
            return Err(fail(
                "size",
                format!(
                    "a label of {} x {} mm has no room for a code and a name",
                    shown(self.size.0),
                    shown(self.size.1)
                ),
                format!("use labels of {} x {} mm or more", LEAST.1, LEAST.0),
            ));
        }
        let axes = [
            (
                self.columns,
                self.page.0,
                self.size.0,
                self.margin.0,
                self.pitch.0,
                "columns",
            ),
            (
                self.rows,
                self.page.1,
                self.size.1,
                self.margin.1,
                self.pitch.1,
                "rows",
            ),
        ];
        for (count, page, size, margin, pitch, what) in axes {
            if count > 1 && pitch < size - SLACK {
                return Err(fail(
                    "pitch",
                    format!(
                        "a label every {} mm lies over the next, which is {} mm long",
                        shown(pitch),
                        shown(size)
                    ),
                    "the pitch goes from a label's edge to the same edge of the next".to_owned(),
                ));
            }
            let end = margin + f64::from(count - 1) * pitch + size;
            if end > page + SLACK {
                return Err(fail(
                    what,
                    format!(
                        "{count} {what} end at {} mm, and the page at {} mm",
                        shown(end),
                        shown(page)
                    ),
                    "measure margin, pitch and size again".to_owned(),
                ));
            }
        }
        Ok(())
    }

    /// The same, with so many labels of the first page used but one.
    ///
    /// # Errors
    /// When a page has not that many.
    pub fn starting_at(self, first: u32, place: &str, check: &Checker) -> Result<Self> {
        self.begun(first)
            .ok_or_else(|| check.fail(place, self.no_such(first), self.give_first()))
    }

    /// The same for an option that was typed.
    ///
    /// # Errors
    /// When a page has not that many.
    pub fn starting_at_option(self, first: u32, option: &str) -> Result<Self> {
        self.begun(first)
            .ok_or_else(|| Failure::new(option, self.no_such(first), self.give_first()))
    }

    fn begun(self, first: u32) -> Option<Self> {
        let known = (1..=self.per_page()).contains(&first);
        known.then_some(Self { first, ..self })
    }

    fn no_such(&self, first: u32) -> String {
        match self.per_page() {
            1 => format!("there is one label on a page, and no label {first}"),
            n => format!("there are {n} labels on a page, and no label {first}"),
        }
    }

    fn give_first(&self) -> String {
        match self.per_page() {
            1 => "give 1, or leave it out".to_owned(),
            n => format!("give 1 to {n}, counted along the rows"),
        }
    }

    /// How many labels are on a page.
    #[must_use]
    pub fn per_page(&self) -> u32 {
        self.columns * self.rows
    }

    /// Whether it comes as one label after another.
    #[must_use]
    pub fn is_roll(&self) -> bool {
        self.per_page() == 1
    }

    /// How many pages so many labels take.
    #[must_use]
    pub fn pages(&self, labels: usize) -> usize {
        (labels + self.first as usize - 1).div_ceil(self.per_page() as usize)
    }

    /// Page, counted from 0, and place of a label, counted from 0 from the first free one: all of it, and what
    /// of it can be printed on.
    #[must_use]
    pub fn place(&self, label: usize) -> (usize, Bounds, Bounds) {
        let at = label + self.first as usize - 1;
        let per_page = self.per_page() as usize;
        let (page, on_page) = (at / per_page, at % per_page);
        let columns = self.columns as usize;
        let corner = Point::new(
            self.margin.0 + (on_page % columns) as f64 * self.pitch.0,
            self.margin.1 + (on_page / columns) as f64 * self.pitch.1,
        );
        let whole = Bounds::new(
            corner,
            Point::new(corner.x + self.size.0, corner.y + self.size.1),
        );
        // Printers of rolls print nearly to the edge.
        let edge = if self.is_roll() { INSET } else { UNPRINTED };
        let room = Bounds {
            min: Point::new(
                (whole.min.x + INSET).max(edge),
                (whole.min.y + INSET).max(edge),
            ),
            max: Point::new(
                (whole.max.x - INSET).min(self.page.0 - edge),
                (whole.max.y - INSET).min(self.page.1 - edge),
            ),
        };
        (page, whole, room)
    }
}

/// A length in a message.
fn shown(mm: f64) -> String {
    crate::number::short(mm, 2)
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::{Value, json};
    use std::path::Path;

    fn read(value: Value, mm: f64) -> Result<LabelStock> {
        let settings = serde_json::from_value(value).expect("settings");
        let file = Path::new("shop.json");
        LabelStock::read(&settings, &Checker { file }, mm)
    }

    #[test]
    fn named_labels_lie_on_their_page_and_apart() {
        for name in LabelStock::names() {
            let stock = LabelStock::named(name).expect("a stock");
            stock
                .check(&|key, what, _| Failure::new(format!("{name} {key}"), what, ""))
                .expect("a sound stock");
            let places: Vec<_> = (0..stock.per_page() as usize)
                .map(|i| stock.place(i))
                .collect();
            for (i, (page, whole, room)) in places.iter().enumerate() {
                assert_eq!(*page, 0);
                assert!(whole.contains(room), "{name} {i}");
                assert!(room.width() >= 40.0_f64.min(stock.size.0 - 7.0), "{name}");
                for (_, other, _) in &places[..i] {
                    assert!(!whole.grown(-0.01).touches(other), "{name} {i}");
                }
            }
            // Equal room on both sides of the page, as such sheets have.
            let last = places.last().expect("a label").1;
            assert!(
                (places[0].1.min.x + last.max.x - stock.page.0).abs() < 0.6,
                "{name}"
            );
            assert!(
                (places[0].1.min.y + last.max.y - stock.page.1).abs() < 0.6,
                "{name}"
            );
        }
    }

    #[test]
    fn a_used_sheet_is_gone_on_with() {
        let stock = read(json!({"stock": "a4-3x7", "first": 21}), 1.0).expect("a stock");
        assert_eq!(stock.place(0).0, 0);
        assert_eq!(stock.place(1).0, 1);
        assert_eq!(stock.place(1).1.min, Point::new(7.21, 15.15));
        assert_eq!((stock.pages(0), stock.pages(1), stock.pages(2)), (1, 1, 2));
        assert_eq!(stock.pages(22), 2);
        assert_eq!(stock.pages(23), 3);
    }

    #[test]
    fn a_sheet_of_ones_own_in_inches() {
        let own = json!({"page": [8.5, 11], "columns": 2, "rows": 3, "size": [4, 3.3125]});
        let stock = read(own, 25.4).expect("a stock");
        assert_eq!(stock.pitch, stock.size);
        assert!((stock.margin.0 - 0.25 * 25.4).abs() < 1e-9);
        assert_eq!(stock.per_page(), 6);
    }

    #[test]
    fn what_makes_no_sense_is_named() {
        let a4 = [210, 297];
        for (value, key, words) in [
            (
                json!({"stock": "a4-3x9"}),
                "stock",
                "no labels are called 'a4-3x9'",
            ),
            (
                json!({"stock": "a4-3x7", "rows": 3}),
                "rows",
                "beside 'stock'",
            ),
            (json!({"page": a4}), "labels", "without 'size'"),
            (json!({"size": [50, 30]}), "labels", "without 'page'"),
            (
                json!({"page": a4, "size": [30, 21]}),
                "size",
                "no room for a code",
            ),
            (
                json!({"page": [210, 1e9], "size": [70, 37]}),
                "page[1]",
                "1000000000 mm",
            ),
            (json!({"page": a4, "size": [70, -37]}), "size[1]", "-37 mm"),
            (
                json!({"page": a4, "size": [70, 37], "columns": 4}),
                "columns",
                "4 columns end at 280 mm",
            ),
            (
                json!({"page": a4, "size": [70, 37], "columns": 0}),
                "columns",
                "the value is 0",
            ),
            (
                json!({"page": a4, "size": [70, 37], "rows": 2, "pitch": [70, 30]}),
                "pitch",
                "lies over the next",
            ),
            (
                json!({"page": a4, "size": [70, 37], "margin": [-1, 0]}),
                "margin[0]",
                "-1 mm",
            ),
            (
                json!({"stock": "a4-2x7", "first": 15}),
                "first",
                "14 labels on a page, and no label 15",
            ),
            (
                json!({"stock": "roll-57x32", "first": 0}),
                "first",
                "one label on a page",
            ),
        ] {
            let failure = read(value.clone(), 1.0).expect_err("an error");
            assert!(failure.place.contains(key), "{value}: {failure}");
            assert!(failure.to_string().contains(words), "{value}: {failure}");
        }
    }
}

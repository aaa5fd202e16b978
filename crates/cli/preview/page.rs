//! What is on the picture of a sheet, as SVG.

use super::colours::Colours;
use crate::cut_plan::CutSheet;
use crate::job::Job;
use crate::number::plain;
use crate::path_data::escaped;
use crate::report::{PartLine, SheetFigures, drawing_alone, way_up};
use panelwright_nesting::StockKind;
use std::fmt::Write as _;
use unicode_width::UnicodeWidthStr;

/// Width of the whole in its own units, which are pixels at the width that is the default. A chat shows it at half of that,
/// and letters have to be read there.
const WIDTH: f64 = 1600.0;

/// Room along the edges.
const EDGE: f64 = 40.0;

/// Most height of the drawing, so that a narrow strip that stands upright does not fill screens.
const DRAWING_HEIGHT: f64 = 1300.0;

/// Sizes of letters: which sheet it is, what is said about it, what the keys stand for.
const TITLE: f64 = 50.0;
const FACTS: f64 = 33.0;
const LEGEND: f64 = 31.0;

/// Distance between lines over the size of letters.
const LINE: f64 = 1.35;

/// Width of a letter over its size, in the picture's font, on the safe side: bold and regular.
const BOLD: f64 = 0.64;
const REGULAR: f64 = 0.58;

/// Columns of what the keys stand for, and the room of a key.
const COLUMNS: usize = 2;
const KEY: f64 = 84.0;

/// Most lines of keys; the report has all.
const LEGEND_LINES: usize = 48;

/// The picture of a sheet, one of `count`.
pub(super) fn page(sheet: &SheetFigures, cut: &CutSheet, count: usize, job: &Job) -> String {
    let mut page = Page {
        svg: String::new(),
        y: EDGE,
    };
    let paper = &job.shop.paper;
    let id = plain(&sheet.id);
    let name = match sheet.kind {
        StockKind::Sheet => id,
        StockKind::Remnant => paper.say_with("preview-remnant", &[("id", id.into())]),
    };
    let title = paper.say_with(
        "preview-title",
        &[
            ("number", sheet.number.into()),
            ("count", count.into()),
            ("name", name.into()),
        ],
    );
    page.lines(&title, TITLE, true);
    let mut facts = vec![
        plain(&sheet.material),
        format!(
            "{} {}",
            paper.size(sheet.size.0, sheet.size.1),
            paper.length_unit()
        ),
    ];
    for (key, value) in [
        ("preview-stands", &sheet.place),
        ("preview-lot", &sheet.lot),
    ] {
        if let Some(value) = value {
            facts.push(paper.say_with(key, &[("value", plain(value).into())]));
        }
    }
    page.lines(&facts.join(", "), FACTS, true);
    let machine = match &sheet.saw {
        Some(saw) if *saw != sheet.machine => format!("{saw}, {}", sheet.machine),
        _ => sheet.machine.clone(),
    };
    let work = paper.say_with(
        "preview-work",
        &[
            ("order", plain(&job.order).into()),
            ("machine", plain(&machine).into()),
            ("parts", cut.parts.len().into()),
            ("way", way_up(cut, job).into()),
        ],
    );
    page.lines(&work, FACTS, false);
    page.y += 14.0;
    page.drawing(cut, job);
    page.legend(&sheet.parts, job);
    page.whole()
}

struct Page {
    svg: String,
    /// Where the next thing begins.
    y: f64,
}

impl Page {
    /// A paragraph across the picture.
    fn lines(&mut self, text: &str, size: f64, bold: bool) {
        let wide = size * if bold { BOLD } else { REGULAR };
        for line in wrapped(text, ((WIDTH - 2.0 * EDGE) / wide) as usize) {
            self.text(&line, EDGE, size, bold);
            self.y += size * LINE;
        }
    }

    /// A line whose upper edge is where the next thing begins.
    fn text(&mut self, text: &str, x: f64, size: f64, bold: bool) {
        let weight = if bold { " font-weight=\"700\"" } else { "" };
        let base = self.y + size;
        let _ = write!(
            self.svg,
            "<text x=\"{x:.1}\" y=\"{base:.1}\" font-size=\"{size}\"{weight}>{}</text>",
            escaped(text)
        );
    }

    fn drawing(&mut self, cut: &CutSheet, job: &Job) {
        let (svg, (w, h)) = drawing_alone(cut, job);
        let scale = ((WIDTH - 2.0 * EDGE) / w).min(DRAWING_HEIGHT / h);
        let (w, h) = (w * scale, h * scale);
        let place = format!(
            "<svg x=\"{:.2}\" y=\"{:.2}\" width=\"{w:.2}\" height=\"{h:.2}\" ",
            (WIDTH - w) / 2.0,
            self.y
        );
        self.svg += &svg.replacen("<svg ", &place, 1);
        self.y += h + 20.0;
    }

    /// What the keys stand for, in columns.
    fn legend(&mut self, parts: &[PartLine], job: &Job) {
        let paper = &job.shop.paper;
        let column = (WIDTH - 2.0 * EDGE) / COLUMNS as f64;
        let letters = ((column - KEY - 20.0) / (LEGEND * REGULAR)) as usize;
        let entries: Vec<(String, Vec<String>)> = parts
            .iter()
            .map(|part| {
                let words = paper.say_with(
                    "preview-part",
                    &[
                        ("count", part.copies.len().into()),
                        ("part", plain(&part.part).into()),
                        ("size", paper.size(part.size.0, part.size.1).into()),
                    ],
                );
                (part.key.clone(), wrapped(&words, letters))
            })
            .collect();
        let lines = |from: &[(String, Vec<String>)]| from.iter().map(|e| e.1.len()).sum::<usize>();
        let per_column = lines(&entries)
            .div_ceil(COLUMNS)
            .min(LEGEND_LINES / COLUMNS);
        let top = self.y;
        let mut deepest = top;
        let (mut at, mut used, mut shown) = (0, 0, 0);
        for (key, words) in &entries {
            if used >= per_column {
                (at, used, self.y) = (at + 1, 0, top);
            }
            if at >= COLUMNS {
                break;
            }
            let x = EDGE + at as f64 * column;
            self.text(key, x, LEGEND, true);
            for line in words {
                self.text(line, x + KEY, LEGEND, false);
                self.y += LEGEND * LINE;
            }
            used += words.len();
            shown += 1;
            deepest = deepest.max(self.y);
        }
        self.y = deepest;
        if shown < entries.len() {
            let rest = paper.say_with("preview-more", &[("n", (entries.len() - shown).into())]);
            self.lines(&rest, LEGEND, false);
        }
    }

    fn whole(self) -> String {
        let colours = Colours::get();
        let height = (self.y + EDGE).ceil();
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{WIDTH}\" height=\"{height}\" \
             font-family=\"Noto Sans\" fill=\"{}\"><style>{}</style>\
             <rect width=\"{WIDTH}\" height=\"{height}\" fill=\"{}\"/>{}</svg>",
            colours.of("--ink"),
            colours.rules,
            colours.of("--card"),
            self.svg
        )
    }
}

/// A text in lines of at most so many columns, broken between words, or within one that is longer.
fn wrapped(text: &str, columns: usize) -> Vec<String> {
    let columns = columns.max(8);
    let mut lines = vec![String::new()];
    for word in text.split(' ') {
        let mut word = word.to_owned();
        loop {
            let line = lines.last_mut().expect("there is always a line");
            let gap = usize::from(!line.is_empty());
            if line.width() + gap + word.width() <= columns {
                if gap == 1 {
                    line.push(' ');
                }
                line.push_str(&word);
                break;
            }
            if !line.is_empty() {
                lines.push(String::new());
                continue;
            }
            let mut cut = 0;
            let mut wide = 0;
            for (i, c) in word.char_indices() {
                wide += c.to_string().width();
                if wide > columns {
                    break;
                }
                cut = i + c.len_utf8();
            }
            let rest = word.split_off(cut);
            line.push_str(&word);
            lines.push(String::new());
            word = rest;
        }
    }
    lines.retain(|line| !line.is_empty());
    lines
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::{Figures, sample};

    #[test]
    fn lines_are_broken_between_words() {
        assert_eq!(
            wrapped("one two three four", 9),
            ["one two", "three", "four"]
        );
        assert_eq!(
            wrapped("a-very-long-word ok", 8),
            ["a-very-l", "ong-word", "ok"]
        );
        assert!(wrapped("", 9).is_empty());
    }

    #[test]
    fn a_picture_says_which_sheet_where_it_stands_and_all_keys() {
        let (plan, job) = sample::cabinet();
        let figures = Figures::new(&plan, &job);
        for (sheet, cut) in figures.sheets.iter().zip(&plan.sheets) {
            let svg = page(sheet, cut, plan.sheets.len(), &job);
            let tree = roxmltree::Document::parse(&svg).expect("well-formed");
            let root = tree.root_element();
            let own: Vec<&str> = root.children().filter_map(|e| e.text()).collect();
            let all = own.join("\n");
            assert!(all.contains(&format!("Sheet {} of {}", sheet.number, plan.sheets.len())));
            if let Some(place) = &sheet.place {
                assert!(all.contains(place.as_str()), "{place}: {all}");
            }
            for part in &sheet.parts {
                assert!(own.contains(&part.key.as_str()), "{}: {all}", part.key);
            }
            // Nothing begins outside the picture.
            let height: f64 = root.attribute("height").unwrap().parse().unwrap();
            for y in root.children().filter_map(|e| e.attribute("y")) {
                assert!(y.parse::<f64>().unwrap() < height);
            }
        }
    }
}

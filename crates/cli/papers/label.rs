//! One label: words, a QR code and perhaps a sketch, in the room it has.

use super::code::Code;
use super::letters::{fitted, width};
use crate::Result;
use crate::number::short;
use crate::paper::Paper;
use crate::path_data::escaped;
use panelwright_geometry::{Bounds, Point};
use std::fmt::Write as _;

/// What a label says.
#[derive(Clone, Default)]
pub struct Label {
    /// What it is, for those who have it read to them: part, kit, offcut.
    pub kind: String,
    /// Largest line: a name.
    pub title: String,
    /// Second largest line: what it belongs to.
    pub under: String,
    /// Further lines; the last are left out first where there is no room.
    pub lines: Vec<String>,
    /// What the code says.
    pub identity: String,
    /// A picture beside the words.
    pub sketch: Option<Sketch>,
}

/// A picture that fills a place.
#[derive(Clone)]
pub struct Sketch {
    /// Width over height of what is drawn.
    pub proportion: f64,
    /// Draws it within a place of a width and height, its corner at 0, 0.
    pub draw: std::rc::Rc<dyn Fn(f64, f64) -> String>,
}

/// Least height of letters, millimetres: read with the label in the hand. Common practice: 5 point and more.
const LEAST_LETTERS: f64 = 1.9;

/// Largest heights of letters on a label of [`USUAL`] size: of a title and of other lines.
const LARGEST_TITLE: f64 = 9.0;
const LARGEST_LINE: f64 = 4.2;

/// Shorter side of a label, millimetres, from which on words and code grow with it.
const USUAL: f64 = 36.0;

/// Heights of title, the line under it and other lines, over each other.
const SHARES: (f64, f64, f64) = (1.75, 1.2, 1.0);

/// From one line to the next over the height of the letters.
const LINE: f64 = 1.2;

/// Largest side of a code on a label of [`USUAL`] size, millimetres; what is left over is worth more to words and sketch.
const LARGEST_CODE: f64 = 36.0;

/// A smaller sketch tells nothing.
const LEAST_SKETCH: f64 = 7.0;

/// Room between code, words and sketch.
const BETWEEN: f64 = 1.0;

impl Label {
    /// The label drawn in its room, y down; a user unit is a millimetre.
    ///
    /// # Errors
    /// When its code has no room, which no stock that was checked is too small for.
    pub fn svg(&self, room: &Bounds) -> Result<String> {
        let (w, h) = (room.width(), room.height());
        let wide = w >= 1.2 * h;
        let most = if wide {
            h.min(0.45 * w)
        } else {
            (0.62 * w).min(0.45 * h)
        };
        let grown = (w.min(h) / USUAL).max(1.0);
        let code = Code::fitting(&self.identity, most.min(LARGEST_CODE * grown))?;
        let mut svg = format!(
            "<g class=\"label\" role=\"group\"><title>{}</title>",
            escaped(&format!("{} {}", self.kind, self.title))
        );
        let part = |x: f64, y: f64, width: f64, height: f64| {
            let at = Point::new(room.min.x + x, room.min.y + y);
            Bounds::new(
                at,
                Point::new(at.x + width.max(0.0), at.y + height.max(0.0)),
            )
        };
        let (words, sketch);
        if wide {
            // The quiet zone is part of the code's side, so words may come close.
            let column = w - code.side - BETWEEN;
            svg += &code.svg(room.max.x - code.side, room.min.y);
            let below = h - code.side - BETWEEN;
            if self.sketch.is_some() && below >= 2.0 * LEAST_SKETCH {
                words = part(0.0, 0.0, column, code.side);
                sketch = part(0.0, code.side + BETWEEN, w, below);
            } else if let Some(its) = &self.sketch {
                // A long strip takes less height.
                let for_sketch = (column / its.proportion).min(0.42 * h).max(LEAST_SKETCH);
                words = part(0.0, 0.0, column, h - for_sketch - BETWEEN);
                sketch = part(0.0, h - for_sketch, column, for_sketch);
            } else {
                words = part(0.0, 0.0, column, h);
                sketch = part(0.0, 0.0, 0.0, 0.0);
            }
        } else {
            svg += &code.svg(room.max.x - code.side, room.max.y - code.side);
            words = part(0.0, 0.0, w, h - code.side - BETWEEN);
            sketch = part(0.0, h - code.side, w - code.side - BETWEEN, code.side);
        }
        self.words(&mut svg, &words, grown);
        if let Some(its) = &self.sketch
            && sketch.width() >= LEAST_SKETCH
            && sketch.height() >= LEAST_SKETCH
        {
            let _ = write!(
                svg,
                "<g transform=\"translate({} {})\">{}</g>",
                short(sketch.min.x, 3),
                short(sketch.min.y, 3),
                (its.draw)(sketch.width(), sketch.height())
            );
        }
        svg.push_str("</g>");
        Ok(svg)
    }

    /// The lines from the top down, as large as they can be together.
    fn words(&self, svg: &mut String, room: &Bounds, grown: f64) {
        let mut lines: Vec<(&str, f64, bool)> = vec![(&self.title, SHARES.0, true)];
        if !self.under.is_empty() {
            lines.push((&self.under, SHARES.1, true));
        }
        let rest = self.lines.iter().filter(|l| !l.is_empty());
        let rest = rest.flat_map(|l| broken(l, room.width() / LEAST_LETTERS));
        lines.extend(rest.map(|l| (l, SHARES.2, false)));
        let mut unit;
        loop {
            let height: f64 = lines.iter().map(|(_, share, _)| share * LINE).sum();
            unit = room.height() / height;
            if unit >= LEAST_LETTERS || lines.len() == 1 {
                break;
            }
            lines.pop();
        }
        let mut y = room.min.y;
        for (text, share, bold) in lines {
            let largest = if share == SHARES.0 {
                LARGEST_TITLE
            } else {
                LARGEST_LINE * share
            };
            let size = (unit * share).min(largest * grown);
            let (text, letters) = fitted(text, room.width(), size, LEAST_LETTERS.max(0.42 * size));
            // Capitals are about three quarters as high as the size that letters are given in.
            let down = y + 0.5 * size * LINE + 0.36 * letters;
            let _ = write!(
                svg,
                "<text x=\"{}\" y=\"{}\" font-size=\"{}\"{}>{}</text>",
                short(room.min.x, 3),
                short(down, 3),
                short(letters, 3),
                if bold { " font-weight=\"bold\"" } else { "" },
                escaped(&text)
            );
            y += size * LINE;
        }
    }
}

/// Share of its length below which a piece is too narrow for the arrow that shows its grain.
const NARROW: f64 = 0.25;

/// How the grain of a piece runs, where it is too narrow for the sketch to show that.
pub fn grain_words(paper: &Paper, grain_deg: Option<f64>, bounds: &Bounds) -> Option<String> {
    let (a, b) = (bounds.width(), bounds.height());
    if a.min(b) >= NARROW * a.max(b) {
        return None;
    }
    let across = (grain_deg?.rem_euclid(180.0) - 90.0).abs() < 45.0;
    let values = [
        ("side", paper.length(if across { b } else { a }).into()),
        ("unit", paper.length_unit().into()),
    ];
    Some(paper.say_with("label-grain", &values))
}

/// A line in pieces that fit a width for letters of height 1, as far as commas allow it.
fn broken(line: &str, room: f64) -> Vec<&str> {
    let mut pieces = Vec::new();
    let (mut from, mut end) = (0, 0);
    let commas = line.match_indices(", ").map(|(at, _)| at);
    for at in commas.chain([line.len()]) {
        if end > from && width(&line[from..at]) > room {
            pieces.push(&line[from..end]);
            from = end + ", ".len();
        }
        end = at;
    }
    pieces.push(&line[from..]);
    pieces
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_lines_break_at_commas() {
        let line = "lot C-101, good face up, logged 2026-11-28";
        let fits = |text: &str| width(text) * 1.001;
        assert_eq!(broken(line, fits(line)), [line]);
        let two = ["lot C-101, good face up", "logged 2026-11-28"];
        assert_eq!(broken(line, fits(two[0])), two);
        let three = ["lot C-101", "good face up", "logged 2026-11-28"];
        assert_eq!(broken(line, fits(three[2])), three);
        // What is too long by itself is left to be cut.
        assert_eq!(broken(line, 1.0), three);
        assert_eq!(broken("one", 0.1), ["one"]);
    }
}

//! `text` elements: their words and where they stand.
//!
//! Source: SVG 2, chapter Text; CSS Fonts 4, `font-size`. How high capitals are is up to the font: seven tenths of
//! the font's size is what most fonts without serifs have (common practice).

use super::super::lettering::{Across, Sign, Text, Upright, length};
use super::super::unit::Unit;
use crate::Point;
use std::str::FromStr;
use svgtypes::{Length, LengthUnit};

/// Height of a capital, as a share of the font's size.
const CAPITAL_SHARE: f64 = 0.7;

/// Width of a letter `x`-high unit `ex`, as a share of the font's size (CSS Values 4, where the font does not say).
const EX: f64 = 0.5;

/// The names of sizes and what they come to in pixels (CSS Fonts 4, 2.5, about a medium of 16 px).
const NAMED_SIZES: [(&str, f64); 8] = [
    ("xx-small", 9.6),
    ("x-small", 12.0),
    ("small", 14.222),
    ("medium", 16.0),
    ("large", 19.2),
    ("x-large", 24.0),
    ("xx-large", 32.0),
    ("xxx-large", 48.0),
];

/// How text looks, as it is handed down from element to element.
#[derive(Debug, Clone, Copy)]
pub(super) struct Font {
    /// Size in user units.
    pub size: f64,
    pub across: Across,
    pub upright: Upright,
}

impl Default for Font {
    fn default() -> Self {
        Self {
            size: 16.0,
            across: Across::Left,
            upright: Upright::Baseline,
        }
    }
}

impl Font {
    /// Takes a property; one that makes no sense changes nothing, as CSS has it.
    pub fn set(&mut self, name: &str, value: &str) {
        match (name, value) {
            (_, "inherit") => {}
            ("font", _) => {
                // Of the shorthand only the size is a length, with the height of lines behind a slash.
                let size = value.split_whitespace().find_map(|word| {
                    let word = word.split('/').next().unwrap_or(word);
                    // A bare number there is a weight.
                    word.parse::<f64>()
                        .is_err()
                        .then(|| self.sized(word))
                        .flatten()
                });
                self.size = size.unwrap_or(self.size);
            }
            ("font-size", _) => self.size = self.sized(value).unwrap_or(self.size),
            ("text-anchor", "start") => self.across = Across::Left,
            ("text-anchor", "middle") => self.across = Across::Middle,
            ("text-anchor", "end") => self.across = Across::Right,
            ("dominant-baseline", "middle" | "central" | "mathematical") => {
                self.upright = Upright::Middle;
            }
            ("dominant-baseline", "hanging" | "text-before-edge" | "text-top") => {
                self.upright = Upright::Top;
            }
            ("dominant-baseline", "text-after-edge" | "text-bottom" | "ideographic") => {
                self.upright = Upright::Bottom;
            }
            ("dominant-baseline", "auto" | "alphabetic") => self.upright = Upright::Baseline,
            _ => {}
        }
    }

    /// A size as written, in user units.
    fn sized(&self, text: &str) -> Option<f64> {
        let named = NAMED_SIZES.iter().find(|(name, _)| *name == text);
        let size = match (named, text) {
            (Some((_, size)), _) => *size,
            (_, "larger") => 1.2 * self.size,
            (_, "smaller") => self.size / 1.2,
            _ => {
                let length = Length::from_str(text).ok()?;
                in_user_units(&length, self.size, self.size)
            }
        };
        (size.is_finite() && size > 0.0).then_some(size)
    }
}

/// A length in user units; `whole` is what per cents refer to.
fn in_user_units(length: &Length, size: f64, whole: f64) -> f64 {
    let in_pixels = |unit: Unit| unit.in_mm() / Unit::Pixel.in_mm();
    length.number
        * match length.unit {
            LengthUnit::None | LengthUnit::Px => 1.0,
            LengthUnit::Em => size,
            LengthUnit::Ex => EX * size,
            LengthUnit::Percent => 0.01 * whole,
            LengthUnit::In => in_pixels(Unit::Inch),
            LengthUnit::Cm => in_pixels(Unit::Centimetre),
            LengthUnit::Mm => in_pixels(Unit::Millimetre),
            LengthUnit::Pt => in_pixels(Unit::Point),
            LengthUnit::Pc => in_pixels(Unit::Pica),
        }
}

/// A list of lengths in user units; `None` when one of them is none.
pub(super) fn lengths(text: &str, size: f64, whole: f64) -> Option<Vec<f64>> {
    text.split(|c: char| c.is_whitespace() || c == ',')
        .filter(|word| !word.is_empty())
        .map(|word| {
            let length = Length::from_str(word).ok()?;
            let value = in_user_units(&length, size, whole);
            value.is_finite().then_some(value)
        })
        .collect()
}

/// Where the characters of an element stand, one after another, as far as it says.
#[derive(Debug, Default)]
pub(super) struct Places {
    pub x: Vec<f64>,
    pub y: Vec<f64>,
    pub dx: Vec<f64>,
    pub dy: Vec<f64>,
}

/// Characters that follow each other on one line, and where it begins, is halfway or ends.
#[derive(Debug)]
pub(super) struct Chunk {
    pub at: Point,
    pub text: Text,
}

/// The chunks of a text so far.
#[derive(Debug)]
pub(super) struct Setting {
    chunks: Vec<Chunk>,
    /// Where the next character stands.
    at: Point,
    /// Whether a blank would be the second one, or the first of all.
    after_blank: bool,
    keeps_blanks: bool,
    /// How many characters were given, for a limit.
    pub characters: usize,
}

impl Setting {
    pub fn new(keeps_blanks: bool) -> Self {
        Self {
            chunks: Vec::new(),
            at: Point::default(),
            after_blank: true,
            keeps_blanks,
            characters: 0,
        }
    }

    /// Sets the characters of an element, the `used`th of them first. Returns how many it has now.
    pub fn put(&mut self, text: &str, font: &Font, places: &Places, mut used: usize) -> usize {
        for c in text.chars() {
            let c = if c.is_whitespace() && c != '\u{a0}' {
                ' '
            } else {
                c
            };
            if !self.keeps_blanks && c == ' ' && self.after_blank {
                continue;
            }
            self.after_blank = c == ' ';
            let (x, y) = (places.x.get(used), places.y.get(used));
            let by = |list: &[f64]| list.get(used).copied().unwrap_or(0.0);
            let moved = (by(&places.dx), by(&places.dy));
            if self.chunks.is_empty() || x.is_some() || y.is_some() || moved != (0.0, 0.0) {
                let from = self.end();
                self.at = Point::new(
                    x.copied().unwrap_or(from.x) + moved.0,
                    y.copied().unwrap_or(from.y) + moved.1,
                );
                self.begin(font);
            }
            if let Some(chunk) = self.chunks.last_mut() {
                let height = CAPITAL_SHARE * font.size / chunk.text.height;
                let sign = Sign {
                    height,
                    ..Sign::plain(c)
                };
                chunk.text.lines[0].push(sign);
            }
            used += 1;
        }
        used
    }

    fn begin(&mut self, font: &Font) {
        self.chunks.push(Chunk {
            at: self.at,
            text: Text {
                lines: vec![Vec::new()],
                height: CAPITAL_SHARE * font.size,
                across: font.across,
                upright: font.upright,
                feed: 1.0,
            },
        });
    }

    /// Where the line so far ends, with the gap to a next letter.
    fn end(&self) -> Point {
        let Some(Chunk { at, text }) = self.chunks.last() else {
            return self.at;
        };
        let mut line = text.lines[0].clone();
        // The gap is what a sign without width would add.
        line.push(Sign {
            stretch: 0.0,
            ..Sign::plain(' ')
        });
        let long = text.height * length(&line);
        let share = match text.across {
            Across::Left => 1.0,
            Across::Middle => 0.5,
            Across::Right => 0.0,
        };
        Point::new(at.x + share * long, at.y)
    }

    /// The chunks, without blanks at their ends.
    pub fn finish(mut self) -> Vec<Chunk> {
        for chunk in &mut self.chunks {
            let line = &mut chunk.text.lines[0];
            while line.last().is_some_and(|s| s.c == ' ') {
                line.pop();
            }
        }
        self.chunks.retain(|chunk| !chunk.text.lines[0].is_empty());
        self.chunks
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_are_taken_as_css_has_them() {
        let size = |name: &str, value: &str| {
            let mut font = Font {
                size: 10.0,
                ..Font::default()
            };
            font.set(name, value);
            font.size
        };
        assert_eq!(size("font-size", "12px"), 12.0);
        assert_eq!(size("font-size", "2em"), 20.0);
        assert_eq!(size("font-size", "50%"), 5.0);
        assert_eq!(size("font-size", "medium"), 16.0);
        assert!((size("font-size", "25.4mm") - 96.0).abs() < 1e-9);
        assert_eq!(size("font", "italic 700 14px/1.2 Some Sans"), 14.0);
        for odd in ["-3px", "0", "huge", "inherit", "nan", ""] {
            assert_eq!(size("font-size", odd), 10.0, "{odd}");
        }
    }
}

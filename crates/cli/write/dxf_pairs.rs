//! What both releases of DXF are written with: pairs of group code and value, numbers, and what their heads share.
//!
//! Source: DXF reference, HEADER variables and the VPORT table, alike in releases 12 and 2000.

use super::drawing::Drawing;
use crate::shape::Text;
use panelwright_geometry::{Point, Vec2};
use std::fmt::{Display, Write as _};

/// Coordinates are rounded to this share of a millimetre, a nanometre's thousandth: only the
/// noise of a turn goes.
const PARTS_PER_MM: f64 = 1e9;

/// A file as it grows.
pub(super) trait Pairs {
    /// What is written so far.
    fn out(&mut self) -> &mut String;

    fn tag(&mut self, code: u16, value: impl Display) {
        let _ = write!(self.out(), "{code:>3}\n{value}\n");
    }

    fn number(&mut self, code: u16, value: f64) {
        self.tag(code, number(value));
    }

    fn point(&mut self, code: u16, point: Point) {
        self.number(code, point.x);
        self.number(code + 10, point.y);
    }

    fn point_3d(&mut self, code: u16, point: Point) {
        self.point(code, point);
        self.number(code + 20, 0.0);
    }

    fn section(&mut self, name: &str) {
        self.tag(0, "SECTION");
        self.tag(2, name);
    }

    /// The header's variables that tell how large the drawing is.
    fn extents(&mut self, drawing: &Drawing) {
        let (min, max) = (drawing.bounds.min, drawing.bounds.max);
        for (name, corner) in [("$EXTMIN", min), ("$EXTMAX", max)] {
            self.tag(9, name);
            self.point_3d(10, corner);
        }
        for (name, corner) in [("$LIMMIN", min), ("$LIMMAX", max)] {
            self.tag(9, name);
            self.point(10, corner);
        }
    }

    /// The view that a program opens with, from the flags of its table entry on: all of the drawing.
    fn view(&mut self, drawing: &Drawing) {
        let bounds = drawing.bounds;
        let origin = Point::default();
        self.tag(70, 0);
        self.point(10, origin);
        self.point(11, Point::new(1.0, 1.0));
        self.point(12, bounds.center());
        self.point(13, origin);
        self.point(14, Point::new(10.0, 10.0));
        self.point(15, Point::new(10.0, 10.0));
        // Looking straight down.
        self.point(16, origin);
        self.number(36, 1.0);
        self.point_3d(17, origin);
        // Half as wide again as high, with a little room all round.
        self.number(40, 1.1 * bounds.height().max(bounds.width() / 1.5));
        self.number(41, 1.5);
        self.number(42, 50.0);
        for code in [43, 44, 50, 51] {
            self.number(code, 0.0);
        }
        let settings = [0, 1000, 1, 3, 0, 0, 0, 0];
        for (code, value) in (71..).zip(settings) {
            self.tag(code, value);
        }
    }
}

/// Where the first letter of a text stands that is centred on its place.
pub(super) fn text_start(text: &Text) -> Point {
    let along = Vec2::from_angle(text.turn_deg.to_radians(), 1.0);
    text.at - along * (0.5 * text.length()) - along.left() * (0.5 * text.height)
}

/// A coordinate.
pub(super) fn number(value: f64) -> String {
    // Adding zero turns -0 into 0.
    shortest((value * PARTS_PER_MM).round() / PARTS_PER_MM + 0.0)
}

/// The shortest decimals that read back as the same number, never with an exponent.
pub(super) fn shortest(value: f64) -> String {
    let mut digits = value.to_string();
    if !digits.contains('.') {
        digits.push_str(".0");
    }
    digits
}

/// Longest text of one pair that release 2000 promises to read is 255 bytes.
const LONGEST_TEXT: usize = 250;

/// Text in ASCII: other characters, and those that DXF gives a meaning, as `\U+` and their number.
pub(super) fn encoded(content: &str) -> String {
    let mut out = String::new();
    for c in content.chars() {
        let code = u32::from(c);
        let piece = match c {
            '\\' | '%' | '^' | '{' | '}' => format!("\\U+{code:04X}"),
            ' '..='~' => c.to_string(),
            _ if c.is_control() => " ".to_owned(),
            _ if code <= 0xFFFF => format!("\\U+{code:04X}"),
            // Beyond what four digits name.
            _ => "?".to_owned(),
        };
        if out.len() + piece.len() > LONGEST_TEXT {
            break;
        }
        out.push_str(&piece);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_is_ascii_and_has_no_codes_of_its_own() {
        assert_eq!(
            encoded("\u{00d8}6 50%% a^b\n{c}\\P"),
            "\\U+00D86 50\\U+0025\\U+0025 a\\U+005Eb \\U+007Bc\\U+007D\\U+005CP"
        );
        assert_eq!(encoded("\u{1F331}"), "?");
        assert!(encoded(&"\u{00e4}".repeat(200)).len() <= LONGEST_TEXT);
    }

    #[test]
    fn numbers_have_a_point_and_no_exponent() {
        for (value, text) in [
            (0.0, "0.0"),
            (-1e-12, "0.0"),
            (1e-7, "0.0000001"),
            (100_000.0, "100000.0"),
            (0.1 + 0.2, "0.3"),
        ] {
            assert_eq!(number(value), text);
        }
        assert_eq!(shortest(1e-17), "0.00000000000000001");
    }
}

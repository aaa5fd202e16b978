//! A remnant drawn with letters.

use panelwright_geometry::{Point, Polygon};
use std::fmt::Write as _;

/// Widest sketch, in letters.
const COLUMNS: usize = 48;

/// Highest sketch, in lines.
const LINES: usize = 16;

/// How much taller than wide a letter is on most terminals.
const LETTER: f64 = 2.0;

/// Draws material as `#`, voids and what is outside as blanks, flaws as `x`; lines run from the top
/// down. At most 48 letters wide and 16 lines high, true to scale on letters twice as tall as wide.
pub(super) fn sketch(outline: &Polygon, flaws: &[Vec<Point>]) -> String {
    let bounds = outline.bounds();
    let letter = (bounds.width() / COLUMNS as f64).max(bounds.height() / (LINES as f64 * LETTER));
    let count = |size: f64, step: f64, most: usize| ((size / step).round() as usize).clamp(1, most);
    let columns = count(bounds.width(), letter, COLUMNS);
    let lines = count(bounds.height(), letter * LETTER, LINES);
    let mut text = String::new();
    for line in (0..lines).rev() {
        let mut drawn = String::new();
        for column in 0..columns {
            let middle = Point::new(
                bounds.min.x + (column as f64 + 0.5) / columns as f64 * bounds.width(),
                bounds.min.y + (line as f64 + 0.5) / lines as f64 * bounds.height(),
            );
            let inside = contains(&outline.outer, middle)
                && !outline.holes.iter().any(|hole| contains(hole, middle));
            let flawed = flaws.iter().any(|flaw| contains(flaw, middle));
            drawn.push(match (inside, flawed) {
                (true, true) => 'x',
                (true, false) => '#',
                (false, _) => ' ',
            });
        }
        let _ = writeln!(text, "{}", drawn.trim_end());
    }
    text
}

/// Whether a point lies in a ring: a ray to the right crosses it an odd number of times.
fn contains(ring: &[Point], point: Point) -> bool {
    let n = ring.len();
    (0..n)
        .filter(|i| {
            let (a, b) = (ring[*i], ring[(i + 1) % n]);
            (a.y > point.y) != (b.y > point.y)
                && point.x < a.x + (point.y - a.y) / (b.y - a.y) * (b.x - a.x)
        })
        .count()
        % 2
        == 1
}

#[cfg(test)]
mod tests {
    use super::*;
    use panelwright_geometry::Bounds;

    fn block(x: f64, y: f64, width: f64, height: f64) -> Vec<Point> {
        let corner = Point::new(x, y);
        let far = Point::new(x + width, y + height);
        Bounds::new(corner, far).corners().to_vec()
    }

    #[test]
    fn an_l_with_a_void_and_a_flaw() {
        let ring = [
            (0., 0.),
            (480., 0.),
            (480., 80.),
            (240., 80.),
            (240., 160.),
            (0., 160.),
        ];
        let ring = ring.map(|(x, y)| Point::new(x, y)).to_vec();
        let outline = Polygon::new(ring, vec![block(40., 20., 40., 40.)]);
        let drawn = sketch(&outline, &[block(440., 0., 100., 20.)]);
        let long = "#".repeat(48);
        let holed = format!("####    {}", "#".repeat(40));
        let flawed = format!("{}xxxx", "#".repeat(44));
        let half = "#".repeat(24);
        let lines = [&half, &half, &half, &half, &long, &holed, &holed, &flawed];
        let expected: String = lines.map(|line| format!("{line}\n")).concat();
        assert_eq!(drawn, expected);
    }

    #[test]
    fn long_and_thin_pieces_stay_small() {
        let strip = Polygon::rectangle(3000.0, 20.0);
        assert_eq!(sketch(&strip, &[]), format!("{}\n", "#".repeat(48)));
        let post = Polygon::rectangle(20.0, 3000.0);
        assert_eq!(sketch(&post, &[]), "#\n".repeat(16));
    }
}

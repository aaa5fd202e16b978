//! The plan's shapes in SVG's words. The picture's y points down, so y changes sign here and only
//! here; a counter-clockwise arc of the plan is then one of SVG's sweep 0.

use crate::number;
use panelwright_geometry::{Outline, Point, Segment};
use std::fmt::Write;

/// Text made safe inside elements and quoted attributes; what XML does not allow becomes a space.
pub(crate) fn escaped(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            '\n' | '\t' => safe.push(c),
            c if c.is_control() || matches!(c, '\u{fffe}' | '\u{ffff}') => safe.push(' '),
            c => safe.push(c),
        }
    }
    safe
}

/// A number of the picture.
pub(crate) fn n(value: f64) -> String {
    number::short(value, 3)
}

/// A place of the picture: y turned down.
pub(crate) fn at(p: Point) -> String {
    format!("{} {}", n(p.x), n(-p.y))
}

/// Path commands of closed rings of points.
pub(crate) fn points_path<'a>(rings: impl IntoIterator<Item = &'a Vec<Point>>) -> String {
    let mut d = String::new();
    for ring in rings {
        for (i, p) in ring.iter().enumerate() {
            d.push(if i == 0 { 'M' } else { 'L' });
            d.push_str(&at(*p));
        }
        d.push('Z');
    }
    d
}

/// Path commands of a chain of lines and true arcs.
pub(crate) fn chain_path(segments: impl Iterator<Item = Segment>, closed: bool) -> String {
    let mut d = String::new();
    for (i, s) in segments.enumerate() {
        if i == 0 {
            let _ = write!(d, "M{}", at(s.start));
        }
        match s.arc_geometry() {
            Some(arc) => {
                let large = u8::from(s.bulge.abs() > 1.0);
                let sweep = u8::from(s.bulge < 0.0);
                let r = n(arc.radius);
                let _ = write!(d, "A{r} {r} 0 {large} {sweep} {}", at(s.end));
            }
            None => {
                let _ = write!(d, "L{}", at(s.end));
            }
        }
    }
    if closed {
        d.push('Z');
    }
    d
}

/// Path commands of an outline and its holes.
pub(crate) fn outline_path(outline: &Outline) -> String {
    outline
        .rings()
        .map(|r| chain_path(r.segments(), true))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use panelwright_geometry::Ring;

    #[test]
    fn arcs_stay_arcs_and_turn_the_right_way() {
        // SVG 2, path data: sweep 1 runs towards positive angles, which is clockwise on screen.
        // A counter-clockwise circle of the plan therefore has sweep 0 once y points down.
        let circle = Ring::circle(Point::new(10.0, 20.0), 5.0);
        assert_eq!(
            chain_path(circle.segments(), true),
            "M15 -20A5 5 0 0 0 5 -20A5 5 0 0 0 15 -20Z"
        );
        let hole = circle.reversed();
        assert!(chain_path(hole.segments(), true).contains("A5 5 0 0 1"));
        // Three quarters of a circle need the large flag.
        let three = Segment::arc(
            Point::new(5.0, 0.0),
            Point::new(0.0, -5.0),
            (3.0 * std::f64::consts::PI / 8.0).tan(),
        );
        assert_eq!(chain_path([three].into_iter(), false), "M5 0A5 5 0 1 0 0 5");
    }
}

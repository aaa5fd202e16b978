//! Where a text fits inside a part.

use crate::shape::{ADVANCE, Text};
use panelwright_geometry::{Bounds, Outline, Path, Point, Polygon, Side};

/// How far the curves of an outline are taken from the truth when room for text is sought.
const CHORD: f64 = 0.5;

/// Places tried along the shorter and the longer side. More find room in odder shapes.
const PLACES: usize = 11;

/// Chords that stand for an arc that is marked.
const MARK_PIECES: u32 = 8;

/// Each try is smaller than the last by this.
const SHRINK: f64 = 0.8;

/// Room above and below the capitals, as a share of their height.
const LEADING: f64 = 0.35;

/// A hole whose shorter side is under this share of the part's is small: text may cross it rather
/// than become unreadable.
const SMALL_HOLE: f64 = 0.25;

/// Below this share of the height wished for, text may cross small holes.
const SMALL_TEXT: f64 = 0.5;

/// The largest text of at most `most` capitals' height that fits on `outline` clear of its holes
/// and marks, level or reading upwards, as near to the middle as may be.
///
/// Where that would be small, it may cross small holes and marks. Where nothing of at least `least` fits, the
/// text is laid across the middle at that height.
#[must_use]
pub fn fit(outline: &Outline, content: &str, most: f64, least: f64) -> Text {
    let shorter = |b: &Bounds| b.width().min(b.height());
    let mut polygon = outline.flatten(CHORD, Side::Within);
    let marks: Vec<(Point, Point)> = outline
        .marks
        .iter()
        .flat_map(Path::segments)
        .flat_map(|s| {
            let pieces = if s.is_arc() { MARK_PIECES } else { 1 };
            let at = move |i: u32| s.point_at(f64::from(i) / f64::from(pieces));
            (0..pieces).map(move |i| (at(i), at(i + 1)))
        })
        .collect();
    let clear = fit_between(&polygon, &marks, content, most, least);
    if clear.height >= SMALL_TEXT * most {
        return clear;
    }
    let small = SMALL_HOLE * shorter(&polygon.bounds());
    polygon.holes.retain(|hole| {
        Bounds::of_points(hole.iter().copied()).is_some_and(|b| shorter(&b) >= small)
    });
    let across = fit_polygon(&polygon, content, most, least);
    if across.height > clear.height {
        across
    } else {
        clear
    }
}

/// As [`fit`], for a straight-edged shape.
///
/// # Panics
/// When the polygon has no points.
#[must_use]
pub fn fit_polygon(polygon: &Polygon, content: &str, most: f64, least: f64) -> Text {
    fit_between(polygon, &[], content, most, least)
}

/// The fit on a polygon, clear of `lines` too.
fn fit_between(
    polygon: &Polygon,
    lines: &[(Point, Point)],
    content: &str,
    most: f64,
    least: f64,
) -> Text {
    let bounds = polygon.bounds();
    let edges: Vec<(Point, Point)> = polygon.edges().collect();
    let center = bounds.center();
    let mut places: Vec<Point> = (0..PLACES * PLACES)
        .map(|i| {
            let share = |k: usize| (k as f64 + 0.5) / PLACES as f64;
            Point::new(
                bounds.min.x + share(i % PLACES) * bounds.width(),
                bounds.min.y + share(i / PLACES) * bounds.height(),
            )
        })
        .filter(|p| inside(&edges, *p))
        .collect();
    places.sort_by(|a, b| a.distance(center).total_cmp(&b.distance(center)));

    let turns = if bounds.height() > bounds.width() {
        [90.0, 0.0]
    } else {
        [0.0, 90.0]
    };
    let count = content.chars().count().max(1) as f64;
    let mut height = most;
    while height >= least {
        let half_length = 0.5 * ADVANCE * height * count + LEADING * height;
        let half_height = 0.5 * height + LEADING * height;
        for turn_deg in turns {
            let (x, y) = if turn_deg == 0.0 {
                (half_length, half_height)
            } else {
                (half_height, half_length)
            };
            if 2.0 * x > bounds.width() || 2.0 * y > bounds.height() {
                continue;
            }
            let all = edges.iter().chain(lines);
            let clear = |p: &&Point| !all.clone().any(|(a, b)| meets_box(*a, *b, **p, x, y));
            if let Some(at) = places.iter().find(clear) {
                return Text {
                    at: *at,
                    height,
                    turn_deg,
                    content: content.to_owned(),
                };
            }
        }
        height *= SHRINK;
    }
    Text {
        at: places.first().copied().unwrap_or(center),
        height: least,
        turn_deg: turns[0],
        content: content.to_owned(),
    }
}

/// Whether `p` lies inside by the even-odd rule.
fn inside(edges: &[(Point, Point)], p: Point) -> bool {
    edges.iter().fold(false, |odd, (a, b)| {
        let crosses =
            (a.y > p.y) != (b.y > p.y) && p.x < a.x + (p.y - a.y) / (b.y - a.y) * (b.x - a.x);
        odd != crosses
    })
}

/// Whether the edge from `a` to `b` enters the box of half sizes `x`, `y` round `middle`.
fn meets_box(a: Point, b: Point, middle: Point, x: f64, y: f64) -> bool {
    let (mut enter, mut leave) = (0.0_f64, 1.0_f64);
    for (start, step, half) in [
        (a.x - middle.x, b.x - a.x, x),
        (a.y - middle.y, b.y - a.y, y),
    ] {
        if step == 0.0 {
            if start.abs() > half {
                return false;
            }
            continue;
        }
        let (t, u) = ((-half - start) / step, (half - start) / step);
        enter = enter.max(t.min(u));
        leave = leave.min(t.max(u));
    }
    enter <= leave
}

#[cfg(test)]
mod tests {
    use super::*;
    use panelwright_geometry::{Ring, Vertex};

    #[test]
    fn text_keeps_clear_of_a_window() {
        let mut frame = Outline::rectangle(400.0, 300.0);
        frame.holes.push(
            Ring::rounded_rectangle(Point::new(40.0, 40.0), Point::new(360.0, 260.0), 20.0)
                .reversed(),
        );
        let text = fit(&frame, "Frame 1/2", 30.0, 2.0);
        let (x, y) = if text.turn_deg == 0.0 {
            (0.5 * text.length(), 0.5 * text.height)
        } else {
            (0.5 * text.height, 0.5 * text.length())
        };
        let (at, material) = (text.at, frame.covering());
        assert!(text.height > 10.0, "{text:?}");
        for (a, b) in material.edges() {
            assert!(!meets_box(a, b, at, x, y), "{text:?}");
        }
    }

    #[test]
    fn text_keeps_clear_of_a_mark() {
        let mut panel = Outline::rectangle(300.0, 200.0);
        let middle = fit(&panel, "Side", 20.0, 2.0);
        assert_eq!(middle.at, Point::new(150.0, 100.0));
        panel.marks.push(Path {
            vertices: vec![Vertex::new(0.0, 100.0, 0.0), Vertex::new(300.0, 100.0, 0.0)],
            closed: false,
        });
        let aside = fit(&panel, "Side", 20.0, 2.0);
        assert_eq!(aside.height, 20.0);
        assert!((aside.at.y - 100.0).abs() > 10.0);
    }

    #[test]
    fn text_crosses_a_small_hole_rather_than_be_unreadable() {
        let mut bar = Outline::rectangle(200.0, 40.0);
        let plain = fit(&bar, "Bar 1/2", 20.0, 1.5);
        for i in 1..10 {
            let center = Point::new(20.0 * f64::from(i), 20.0);
            bar.holes.push(Ring::circle(center, 4.0).reversed());
        }
        assert_eq!(fit(&bar, "Bar 1/2", 20.0, 1.5), plain);
        assert!(plain.height > 10.0);
    }

    #[test]
    fn a_part_too_small_for_text_still_gets_some() {
        let text = fit(
            &Outline::rectangle(4.0, 3.0),
            "Distance piece 12/40",
            20.0,
            1.5,
        );
        assert_eq!((text.height, text.at), (1.5, Point::new(2.0, 1.5)));
    }

    #[test]
    fn a_tall_part_is_read_upwards() {
        let text = fit(&Outline::rectangle(30.0, 600.0), "Rail 1/1", 20.0, 2.0);
        assert_eq!(text.turn_deg, 90.0);
    }
}

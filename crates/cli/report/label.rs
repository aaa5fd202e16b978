//! Where the words go: the largest text that fits inside a shape.

use panelwright_geometry::{Bounds, Point, Polygon};
use unicode_width::UnicodeWidthStr;

/// Width of a column of text over its height.
///
/// An average of common sans-serif faces is near 0.55; a little more, because the face that a
/// reader's machine picks is not known.
const COLUMN: f64 = 0.6;

/// Distance between lines over the height of the text.
const LINE: f64 = 1.2;

/// Heights across a shape at which text is tried.
const LEVELS: usize = 24;

/// From one trial size to the next.
const SHRINK: f64 = 0.88;

/// Upright text wins unless turned text can be this much larger.
const TURN_GAIN: f64 = 1.35;

/// Text placed inside a shape.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Label {
    /// Middle of the text block.
    pub center: Point,
    /// Height of the text.
    pub size: f64,
    /// Whether it reads upwards instead of to the right.
    pub turned: bool,
}

impl Label {
    /// The rectangle that the text covers.
    pub fn bounds(&self, lines: &[&str]) -> Bounds {
        let (mut w, mut h) = block(lines, self.size);
        if self.turned {
            std::mem::swap(&mut w, &mut h);
        }
        let c = self.center;
        Bounds::new(
            Point::new(c.x - w / 2.0, c.y - h / 2.0),
            Point::new(c.x + w / 2.0, c.y + h / 2.0),
        )
    }
}

/// Width and height of lines of text.
fn block(lines: &[&str], size: f64) -> (f64, f64) {
    let columns = lines.iter().map(|l| l.width()).max().unwrap_or(0);
    (
        (columns as f64 * COLUMN + 0.4) * size,
        (lines.len() as f64 * LINE + 0.2) * size,
    )
}

/// The largest text of these lines, from `largest` down to `least`, that lies inside `shape` and
/// clear of its holes and of `clear`; `None` when not even the least does.
///
/// # Runtime
/// Linear in the edges, times the sizes and levels tried.
pub(super) fn fit(
    shape: &Polygon,
    clear: &[Bounds],
    lines: &[&str],
    (least, largest): (f64, f64),
) -> Option<Label> {
    let across = fit_across(shape, clear, lines, (least, largest));
    if across.is_some_and(|l| l.size * TURN_GAIN > largest) {
        return across;
    }
    let swap = |p: Point| Point::new(p.y, p.x);
    let swap_ring = |ring: &Vec<Point>| ring.iter().map(|p| swap(*p)).collect();
    let swapped = Polygon {
        outer: swap_ring(&shape.outer),
        holes: shape.holes.iter().map(swap_ring).collect(),
    };
    let clear: Vec<Bounds> = clear
        .iter()
        .map(|b| Bounds::new(swap(b.min), swap(b.max)))
        .collect();
    let up = fit_across(&swapped, &clear, lines, (least, largest)).map(|l| Label {
        center: swap(l.center),
        turned: true,
        ..l
    });
    match (across, up) {
        (Some(a), Some(u)) if u.size > a.size * TURN_GAIN => Some(u),
        (Some(a), _) => Some(a),
        (None, up) => up,
    }
}

fn fit_across(
    shape: &Polygon,
    clear: &[Bounds],
    lines: &[&str],
    (least, largest): (f64, f64),
) -> Option<Label> {
    let bounds = Bounds::of_points(shape.outer.iter().copied())?;
    let edges: Vec<(Point, Point)> = shape.edges().collect();
    let mut size = largest;
    while size >= least {
        let (width, height) = block(lines, size);
        if let Some(center) = room(&edges, clear, bounds, width, height) {
            return Some(Label {
                center,
                size,
                turned: false,
            });
        }
        // The least size itself is tried as well.
        let next = size * SHRINK;
        size = if size > least { next.max(least) } else { next };
    }
    None
}

/// The middle of an upright rectangle of this size inside the edges, as near to the middle of
/// `bounds` as the levels tried allow.
fn room(
    edges: &[(Point, Point)],
    clear: &[Bounds],
    bounds: Bounds,
    width: f64,
    height: f64,
) -> Option<Point> {
    let slack = bounds.height() - height;
    if slack < 0.0 || bounds.width() < width {
        return None;
    }
    let middle = bounds.center();
    let mut best: Option<(f64, Point)> = None;
    for level in 0..=LEVELS {
        let low = bounds.min.y + slack * level as f64 / LEVELS as f64;
        let y = low + height / 2.0;
        for (from, to) in free_spans(edges, clear, low, low + height) {
            if to - from < width {
                continue;
            }
            let x = middle.x.clamp(from + width / 2.0, to - width / 2.0);
            let center = Point::new(x, y);
            let distance = center.distance(middle);
            if best.is_none_or(|(d, _)| distance < d) {
                best = Some((distance, center));
            }
        }
    }
    best.map(|(_, center)| center)
}

/// The spans of x that are inside the edges, and clear of `clear`, over the whole band from `low`
/// to `high`.
fn free_spans(edges: &[(Point, Point)], clear: &[Bounds], low: f64, high: f64) -> Vec<(f64, f64)> {
    let mut blocked: Vec<(f64, f64)> = clear
        .iter()
        .filter(|b| b.max.y > low && b.min.y < high)
        .map(|b| (b.min.x, b.max.x))
        .collect();
    for (a, b) in edges {
        let (a, b) = if a.y <= b.y { (a, b) } else { (b, a) };
        if b.y <= low || a.y >= high {
            continue;
        }
        let at = |y: f64| {
            if b.y == a.y {
                a.x
            } else {
                a.x + (b.x - a.x) * ((y - a.y) / (b.y - a.y)).clamp(0.0, 1.0)
            }
        };
        let (x0, x1) = if a.y == b.y {
            (a.x, b.x)
        } else {
            (at(low), at(high))
        };
        blocked.push((x0.min(x1), x0.max(x1)));
    }
    blocked.sort_by(|a, b| a.0.total_cmp(&b.0));
    let middle = 0.5 * (low + high);
    let mut spans = Vec::new();
    let mut reach = f64::NEG_INFINITY;
    for (from, to) in blocked {
        if reach.is_finite()
            && from > reach
            && inside(edges, Point::new(0.5 * (reach + from), middle))
        {
            spans.push((reach, from));
        }
        reach = reach.max(to);
    }
    spans
}

/// Even-odd test of a point that is not on an edge.
fn inside(edges: &[(Point, Point)], p: Point) -> bool {
    let crossings = edges
        .iter()
        .filter(|(a, b)| (a.y > p.y) != (b.y > p.y))
        .filter(|(a, b)| a.x + (b.x - a.x) * (p.y - a.y) / (b.y - a.y) > p.x)
        .count();
    crossings % 2 == 1
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn frame() -> Polygon {
        let window = Bounds::new(Point::new(20.0, 20.0), Point::new(180.0, 80.0));
        Polygon::new(
            Polygon::rectangle(200.0, 100.0).outer,
            vec![window.corners().to_vec()],
        )
    }

    #[test]
    fn centred_in_a_rectangle() {
        let label = fit(
            &Polygon::rectangle(200.0, 100.0),
            &[],
            &["door"],
            (5.0, 20.0),
        )
        .expect("room");
        assert_eq!(label.size, 20.0);
        assert_eq!(label.center, Point::new(100.0, 50.0));
        assert!(!label.turned);
    }

    #[test]
    fn clear_of_a_window() {
        let lines = ["frame"];
        let label = fit(&frame(), &[], &lines, (5.0, 40.0)).expect("room in the rail");
        let b = label.bounds(&lines);
        assert!(b.max.y <= 20.0 + 1e-9 || b.min.y >= 80.0 - 1e-9, "{b:?}");
        assert!(label.size > 12.0 && label.size < 20.0);
    }

    #[test]
    fn clear_of_a_score_line() {
        let shape = Polygon::rectangle(200.0, 100.0);
        let line = Bounds::new(Point::new(10.0, 50.0), Point::new(190.0, 50.0)).grown(1.0);
        let lines = ["side"];
        let label = fit(&shape, &[line], &lines, (5.0, 20.0)).expect("room beside the line");
        assert!(!label.bounds(&lines).grown(-1e-9).touches(&line));
    }

    #[test]
    fn turned_where_the_shape_is_tall() {
        let label = fit(
            &Polygon::rectangle(20.0, 200.0),
            &[],
            &["drip-tray"],
            (5.0, 16.0),
        );
        assert!(label.expect("room").turned);
    }

    #[test]
    fn none_without_room() {
        assert_eq!(
            fit(
                &Polygon::rectangle(10.0, 10.0),
                &[],
                &["drip-tray"],
                (5.0, 16.0)
            ),
            None
        );
        assert_eq!(fit(&Polygon::default(), &[], &["x"], (1.0, 2.0)), None);
    }

    proptest! {
        /// No corner of the text, and no edge of the shape, on the wrong side of the other.
        #[test]
        fn text_lies_inside(
            radii in prop::collection::vec(20.0..100.0f64, 5..14),
            hole in 2.0..15.0f64,
            columns in 1usize..8,
        ) {
            let n = radii.len() as f64;
            let star = radii.iter().enumerate().map(|(i, r)| {
                let angle = i as f64 / n * std::f64::consts::TAU;
                Point::new(r * angle.cos(), r * angle.sin())
            });
            let hole = Bounds::new(Point::new(-hole, -hole), Point::new(hole, hole));
            let shape = Polygon::new(star.collect(), vec![hole.corners().to_vec()]);
            let text = "m".repeat(columns);
            let lines = [text.as_str()];
            if let Some(label) = fit(&shape, &[], &lines, (2.0, 30.0)) {
                let b = label.bounds(&lines).grown(-1e-6);
                let edges: Vec<_> = shape.edges().collect();
                for corner in b.corners() {
                    prop_assert!(inside(&edges, corner));
                }
                let corner_inside = shape.edges().any(|(p, _)| {
                    p.x > b.min.x && p.x < b.max.x && p.y > b.min.y && p.y < b.max.y
                });
                prop_assert!(!corner_inside);
            }
        }
    }
}

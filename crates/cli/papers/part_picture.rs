//! A panel in true proportion, with letters where it is measured.

use super::dimension::Dimension;
use super::letters::width;
use crate::number::short;
use crate::path_data::{chain_path, escaped, outline_path};
use crate::report::extent;
use panelwright_geometry::{Bounds, Outline, Point};
use std::fmt::Write as _;

/// Largest picture, millimetres on paper.
const LARGEST: (f64, f64) = (54.0, 38.0);

/// No panel is drawn larger than this times its size: a small plate should look small.
const MOST_SCALE: f64 = 1.0;

/// Room round the panel for its letters, millimetres on paper.
const ROOM: f64 = 6.5;

/// Half the height of a letter's disc, millimetres on paper.
const DISC: f64 = 2.1;

/// Marks that are no larger, millimetres on paper, are drawn through and thin: four dashes of a letter leave nothing that
/// can be read.
const LEAST_DASHED: f64 = 8.0;

/// The letter of a dimension: a, b, c and on.
#[must_use]
pub fn letter(index: usize) -> char {
    char::from(b'a' + u8::try_from(index.min(25)).unwrap_or(25))
}

/// The panel as SVG, a user unit a millimetre on paper; `title` is read to those who do not see it.
#[must_use]
pub fn part_picture(outline: &Outline, dimensions: &[Dimension], title: &str) -> String {
    let outline = outline.at_origin();
    let bounds = outline.bounds();
    let (length, wide) = (bounds.width(), bounds.height());
    let scale = (LARGEST.0 / length).min(LARGEST.1 / wide).min(MOST_SCALE);
    let (w, h) = (length * scale, wide * scale);
    let (all_w, all_h) = (w + 2.0 * ROOM, h + 2.0 * ROOM);
    let n = |v: f64| short(v, 2);
    let mut svg = format!(
        "<svg class=\"panel\" role=\"img\" width=\"{0}mm\" height=\"{1}mm\" viewBox=\"0 0 {0} {1}\">\
         <title>{2}</title>",
        n(all_w),
        n(all_h),
        escaped(title)
    );
    // The panel in its own millimetres, scaled; lines are as wide as on paper.
    let pen = |mm: f64| short(mm / scale, 3);
    let _ = write!(
        svg,
        "<g transform=\"translate({} {}) scale({})\"><path class=\"shape\" fill-rule=\"evenodd\" \
         stroke-width=\"{}\" d=\"{}\"/>",
        n(ROOM),
        n(ROOM + h),
        short(scale, 6),
        pen(0.35),
        outline_path(&outline)
    );
    for mark in &outline.marks {
        let line = if extent(mark) * scale <= LEAST_DASHED {
            format!("stroke-width=\"{}\"", pen(0.15))
        } else {
            format!(
                "stroke-width=\"{}\" stroke-dasharray=\"{} {}\"",
                pen(0.3),
                pen(1.4),
                pen(0.8)
            )
        };
        let d = chain_path(mark.segments(), mark.closed);
        let _ = write!(svg, "<path class=\"mark\" {line} d=\"{d}\"/>");
    }
    svg.push_str("</g>");
    let on_paper = |p: Point| Point::new(ROOM + p.x * scale, ROOM + h - p.y * scale);
    let frame = Bounds::new(Point::default(), Point::new(all_w, all_h));
    let mut letters = Letters {
        svg,
        frame,
        taken: Vec::new(),
    };
    // Length below, width on the left: as it is read from the lower left corner.
    letters.span(
        letter(0),
        Point::new(ROOM, ROOM + h + 3.2),
        Point::new(ROOM + w, ROOM + h + 3.2),
    );
    letters.span(
        letter(1),
        Point::new(ROOM - 3.2, ROOM + h),
        Point::new(ROOM - 3.2, ROOM),
    );
    for (i, dimension) in dimensions.iter().enumerate().skip(2) {
        let places: Vec<(Point, f64)> = match dimension {
            Dimension::Opening { at, .. } => at
                .iter()
                .map(|b| (b.center(), 0.5 * b.width().min(b.height())))
                .collect(),
            Dimension::Hole { at, diameter, .. } => {
                at.iter().map(|p| (*p, 0.5 * diameter)).collect()
            }
            Dimension::Round { at, .. }
            | Dimension::Rounded { at, .. }
            | Dimension::CutOff { at, .. }
            | Dimension::Curve { at, .. }
            | Dimension::Odd { at }
            | Dimension::Marks { at, .. } => vec![(*at, 0.0)],
            Dimension::Cut { at } => vec![(at.center(), 0.5 * at.width().min(at.height()))],
            Dimension::Length(_) | Dimension::Width(_) => Vec::new(),
        };
        for (at, inside) in places {
            letters.mark(letter(i), on_paper(at), inside * scale);
        }
    }
    let mut svg = letters.svg;
    svg.push_str("</svg>");
    svg
}

struct Letters {
    svg: String,
    frame: Bounds,
    taken: Vec<Bounds>,
}

impl Letters {
    /// A line with ticks from one end to the other, its letter in the middle.
    fn span(&mut self, letter: char, from: Point, to: Point) {
        let n = |v: f64| short(v, 2);
        let upright = from.x == to.x;
        let (dx, dy) = if upright { (1.0, 0.0) } else { (0.0, 1.0) };
        let _ = write!(
            self.svg,
            "<path class=\"span\" stroke-width=\"0.25\" d=\"M{} {}L{} {}M{} {}L{} {}M{} {}L{} {}\"/>",
            n(from.x),
            n(from.y),
            n(to.x),
            n(to.y),
            n(from.x - dx),
            n(from.y - dy),
            n(from.x + dx),
            n(from.y + dy),
            n(to.x - dx),
            n(to.y - dy),
            n(to.x + dx),
            n(to.y + dy)
        );
        self.disc(
            letter,
            Point::new(0.5 * (from.x + to.x), 0.5 * (from.y + to.y)),
        );
    }

    /// A letter at a place: in it where there is room, else beside it.
    fn mark(&mut self, letter: char, at: Point, inside: f64) {
        if inside >= DISC + 0.4 && self.free(at) {
            self.disc(letter, at);
            return;
        }
        let n = |v: f64| short(v, 2);
        let mut best = at;
        'search: for far in [1.0, 1.7, 2.5] {
            for (dx, dy) in [
                (1.0, -1.0),
                (-1.0, -1.0),
                (1.0, 1.0),
                (-1.0, 1.0),
                (1.4, 0.0),
                (0.0, -1.4),
                (-1.4, 0.0),
                (0.0, 1.4),
            ] {
                let away = far * (DISC + 0.6 + inside.min(DISC));
                let there = Point::new(at.x + dx * away, at.y + dy * away);
                if self.free(there) {
                    best = there;
                    break 'search;
                }
            }
        }
        let _ = write!(
            self.svg,
            "<path class=\"span\" stroke-width=\"0.25\" d=\"M{} {}L{} {}\"/>",
            n(at.x),
            n(at.y),
            n(best.x),
            n(best.y)
        );
        self.disc(letter, best);
    }

    fn free(&self, at: Point) -> bool {
        let spot = Bounds::new(at, at).grown(DISC + 0.15);
        self.frame.contains(&spot) && !self.taken.iter().any(|t| t.touches(&spot))
    }

    fn disc(&mut self, letter: char, at: Point) {
        let n = |v: f64| short(v, 2);
        self.taken.push(Bounds::new(at, at).grown(DISC));
        let size = (3.1f64).min(1.5 * DISC / width(&letter.to_string()).max(0.3));
        let _ = write!(
            self.svg,
            "<g class=\"at\"><circle cx=\"{}\" cy=\"{}\" r=\"{DISC}\" stroke-width=\"0.25\"/>\
             <text x=\"{}\" y=\"{}\" font-size=\"{}\">{letter}</text></g>",
            n(at.x),
            n(at.y),
            n(at.x),
            n(at.y + 0.95),
            n(size)
        );
    }
}

#[cfg(test)]
mod tests {
    use super::super::dimension::dimensions;
    use super::*;
    use crate::report::sample;

    #[test]
    fn pictures_are_in_true_proportion_and_letters_apart() {
        let (_, job) = sample::cabinet();
        for item in &job.items {
            let all = dimensions(&item.outline);
            let svg = part_picture(&item.outline, &all, &item.part);
            let tree = roxmltree::Document::parse(&svg).expect("well-formed");
            let root = tree.root_element();
            let view: Vec<f64> = root
                .attribute("viewBox")
                .expect("a view")
                .split(' ')
                .map(|v| v.parse().expect("a number"))
                .collect();
            let (w, h) = (view[2] - 2.0 * ROOM, view[3] - 2.0 * ROOM);
            let bounds = item.outline.bounds();
            assert!(
                (w / h - bounds.width() / bounds.height()).abs() < 0.02 * w / h,
                "{}",
                item.part
            );
            assert!(w <= LARGEST.0 + 0.01 && h <= LARGEST.1 + 0.01);
            let discs: Vec<Point> = tree
                .descendants()
                .filter(|e| e.has_tag_name("circle"))
                .map(|c| {
                    let at = |k| c.attribute(k).expect("a place").parse().expect("a number");
                    Point::new(at("cx"), at("cy"))
                })
                .collect();
            assert!(
                discs.len() >= all.len(),
                "{}: every dimension has its letter",
                item.part
            );
            for (i, a) in discs.iter().enumerate() {
                for b in &discs[..i] {
                    assert!(a.distance(*b) > 1.8 * DISC, "{}", item.part);
                }
            }
        }
    }
}

//! Which dimensions of a panel are worth measuring, by rule.
//!
//! 1. Length and width over all.
//! 2. Openings that are not round (windows, slots): those of the three largest sizes, each with its distances from
//!    the left and the lower edge.
//! 3. Round holes: the four largest diameters, each with the places of its holes from the lower left corner.
//! 4. What is cut away at the edge (notches, steps) and rounded corners: the three largest.
//! 5. Marks: how many there are.
//!
//! Of several openings of one size the one nearest to the lower left corner and the one farthest from it are
//! measured: where both are right, the row is neither moved, nor turned, nor stretched.

use panelwright_geometry::{Bounds, Outline, Point, Polygon, Region, Ring, Side};
use std::f64::consts::PI;

/// Sizes nearer than this, millimetres, are one size: no calliper at a bench tells them apart.
const SAME: f64 = 0.05;

/// Most sizes of openings, of diameters, of what is cut away: more than a person measures on each panel.
const MOST_OPENINGS: usize = 3;
const MOST_DIAMETERS: usize = 4;
const MOST_CUTS: usize = 3;

/// What is cut away at the edge and smaller than this, millimetres each way, is a broken corner.
const LEAST_CUT: f64 = 5.0;

/// How far flattened arcs may be off; far below what is measured.
const CHORD: f64 = 0.01;

/// Something to measure. Millimetres, from the lower left corner of the panel as drawn.
#[derive(Debug, Clone, PartialEq)]
pub enum Dimension {
    /// Over all, along x.
    Length(f64),
    /// Over all, along y.
    Width(f64),
    /// Openings of one size that are not round.
    Opening {
        /// Along x and y.
        size: (f64, f64),
        /// How many.
        count: usize,
        /// Bounds of the one or two to measure.
        at: Vec<Bounds>,
    },
    /// Round holes of one diameter.
    Hole {
        /// Diameter.
        diameter: f64,
        /// How many.
        count: usize,
        /// Middles of the one or two to measure.
        at: Vec<Point>,
    },
    /// Corners rounded alike.
    Rounded {
        /// Radius.
        radius: f64,
        /// How many.
        count: usize,
        /// One of the corners.
        at: Point,
    },
    /// A notch or step at the edge.
    Cut {
        /// Bounds of what is missing.
        at: Bounds,
    },
    /// Lines that are scored or engraved.
    Marks {
        /// How many.
        count: usize,
        /// Somewhere on the first.
        at: Point,
    },
}

/// The dimensions of an outline that are worth measuring, in the order of the rule.
#[must_use]
pub fn dimensions(outline: &Outline) -> Vec<Dimension> {
    let bounds = outline.bounds();
    let mut all = vec![
        Dimension::Length(bounds.width()),
        Dimension::Width(bounds.height()),
    ];
    let (round, other): (Vec<&Ring>, Vec<&Ring>) =
        outline.holes.iter().partition(|h| diameter(h).is_some());
    all.extend(openings(&other, bounds));
    all.extend(holes(&round, bounds));
    all.extend(cuts(outline, bounds));
    if let Some(first) = outline.marks.first() {
        let at = first.segments().next();
        let at = at.map_or(bounds.center(), |s| s.point_at(0.5));
        all.push(Dimension::Marks {
            count: outline.marks.len(),
            at: moved(at, bounds),
        });
    }
    all
}

/// The diameter of a ring that is a circle.
fn diameter(ring: &Ring) -> Option<f64> {
    let bounds = ring.bounds();
    let (w, h) = (bounds.width(), bounds.height());
    let circle = 0.25 * PI * w * w;
    let round = ring.segments().all(|s| s.is_arc())
        && (w - h).abs() <= SAME
        && (ring.area() - circle).abs() <= 0.002 * circle;
    round.then_some(0.5 * (w + h))
}

fn moved(p: Point, bounds: Bounds) -> Point {
    Point::new(p.x - bounds.min.x, p.y - bounds.min.y)
}

fn from_corner(b: Bounds, bounds: Bounds) -> Bounds {
    Bounds::new(moved(b.min, bounds), moved(b.max, bounds))
}

/// The one nearest to the corner and the one farthest from it; one where they are the same.
fn ends<T: Clone>(all: &[T], place: impl Fn(&T) -> Point) -> Vec<T> {
    let corner = Point::default();
    let by = |a: &&T, b: &&T| {
        let (a, b) = (place(a), place(b));
        let far = |p: Point| p.distance(corner);
        far(a)
            .total_cmp(&far(b))
            .then(a.x.total_cmp(&b.x))
            .then(a.y.total_cmp(&b.y))
    };
    let near = all.iter().min_by(by);
    let far = all.iter().max_by(by).filter(|_| all.len() > 1);
    near.into_iter().chain(far).cloned().collect()
}

fn openings(rings: &[&Ring], bounds: Bounds) -> Vec<Dimension> {
    let mut groups: Vec<Vec<Bounds>> = Vec::new();
    for ring in rings {
        let its = from_corner(ring.bounds(), bounds);
        let same = |group: &&mut Vec<Bounds>| {
            (group[0].width() - its.width()).abs() <= SAME
                && (group[0].height() - its.height()).abs() <= SAME
        };
        match groups.iter_mut().find(same) {
            Some(group) => group.push(its),
            None => groups.push(vec![its]),
        }
    }
    // Stable: equal areas stay as drawn.
    groups.sort_by(|a, b| b[0].area().total_cmp(&a[0].area()));
    groups
        .into_iter()
        .take(MOST_OPENINGS)
        .map(|group| Dimension::Opening {
            size: (group[0].width(), group[0].height()),
            count: group.len(),
            at: ends(&group, Bounds::center),
        })
        .collect()
}

fn holes(rings: &[&Ring], bounds: Bounds) -> Vec<Dimension> {
    let mut groups: Vec<(f64, Vec<Point>)> = Vec::new();
    for ring in rings {
        let Some(its) = diameter(ring) else { continue };
        let at = moved(ring.bounds().center(), bounds);
        match groups.iter_mut().find(|(d, _)| (d - its).abs() <= SAME) {
            Some((_, places)) => places.push(at),
            None => groups.push((its, vec![at])),
        }
    }
    groups.sort_by(|a, b| b.0.total_cmp(&a.0));
    groups
        .into_iter()
        .take(MOST_DIAMETERS)
        .map(|(diameter, places)| Dimension::Hole {
            diameter,
            count: places.len(),
            at: ends(&places, |p| *p),
        })
        .collect()
}

/// What the rectangle over all has and the panel has not.
fn cuts(outline: &Outline, bounds: Bounds) -> Vec<Dimension> {
    if outline.is_rectangle(SAME) {
        return Vec::new();
    }
    let panel = Polygon::new(outline.outer.flatten(CHORD, Side::Covering), Vec::new());
    let missing = Region::from(Polygon::from_bounds(bounds)).difference(&[panel]);
    let mut rounded: Vec<(f64, Vec<Point>)> = Vec::new();
    let mut cuts: Vec<(f64, Bounds)> = Vec::new();
    for piece in missing.polygons() {
        let its = piece.bounds();
        if its.width() < LEAST_CUT || its.height() < LEAST_CUT {
            continue;
        }
        let touches = [
            its.min.x - bounds.min.x,
            bounds.max.x - its.max.x,
            its.min.y - bounds.min.y,
            bounds.max.y - its.max.y,
        ]
        .map(|gap| gap <= SAME);
        let corner = (touches[0] != touches[1]) && (touches[2] != touches[3]);
        // A quarter circle leaves 1 - pi / 4 of its square; the thin ends of that may be lost.
        let radius = (piece.area() / (1.0 - 0.25 * PI)).sqrt();
        let is_radius = |side: f64| (side - radius).abs() <= 0.08 * radius;
        if corner && is_radius(its.width()) && is_radius(its.height()) {
            let at = moved(its.center(), bounds);
            match rounded.iter_mut().find(|(r, _)| (r - radius).abs() <= 0.2) {
                Some((_, places)) => places.push(at),
                None => rounded.push((radius, vec![at])),
            }
        } else {
            cuts.push((piece.area(), from_corner(its, bounds)));
        }
    }
    cuts.sort_by(|a, b| b.0.total_cmp(&a.0));
    rounded.sort_by(|a, b| b.0.total_cmp(&a.0));
    let cuts = cuts.into_iter().map(|(_, at)| Dimension::Cut { at });
    let rounded = rounded
        .into_iter()
        .map(|(radius, places)| Dimension::Rounded {
            radius,
            count: places.len(),
            at: places[0],
        });
    cuts.chain(rounded).take(MOST_CUTS).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn p(x: f64, y: f64) -> Point {
        Point::new(x, y)
    }

    fn near(a: f64, b: f64) -> bool {
        (a - b).abs() < 0.05
    }

    #[test]
    fn a_plain_panel_is_length_and_width() {
        let all = dimensions(&Outline::rectangle(800.0, 500.0));
        assert_eq!(all, [Dimension::Length(800.0), Dimension::Width(500.0)]);
    }

    #[test]
    fn of_a_row_the_ends_are_measured() {
        let mut panel = Outline::rectangle(300.0, 200.0);
        for i in 0..5 {
            let at = p(40.0 + 50.0 * f64::from(i), 30.0);
            panel.holes.push(Ring::circle(at, 4.0).reversed());
        }
        panel
            .holes
            .push(Ring::circle(p(150.0, 120.0), 20.0).reversed());
        // Drawn away from the origin it is the same panel.
        let away = panel.placed(&panelwright_geometry::Placement::new(0.0, p(-70.0, 900.0)));
        for panel in [panel, away] {
            let all = dimensions(&panel);
            let Dimension::Hole {
                diameter,
                count,
                at,
            } = &all[2]
            else {
                panic!("{all:?}")
            };
            assert!(near(*diameter, 40.0) && *count == 1 && at.len() == 1);
            let Dimension::Hole {
                diameter,
                count,
                at,
            } = &all[3]
            else {
                panic!("{all:?}")
            };
            assert!(near(*diameter, 8.0) && *count == 5);
            assert!(at[0].distance(p(40.0, 30.0)) < 1e-6, "{at:?}");
            assert!(at[1].distance(p(240.0, 30.0)) < 1e-6, "{at:?}");
            assert_eq!(all.len(), 4);
        }
    }

    #[test]
    fn windows_count_from_the_edges() {
        let mut frame = Outline::rectangle(796.0, 590.0);
        let window = Ring::rounded_rectangle(p(88.0, 95.0), p(708.0, 495.0), 20.0);
        frame.holes.push(window.reversed());
        let all = dimensions(&frame);
        let Dimension::Opening { size, count, at } = &all[2] else {
            panic!("{all:?}")
        };
        assert_eq!((*size, *count), ((620.0, 400.0), 1));
        assert_eq!(at[0].min, p(88.0, 95.0));
    }

    #[test]
    fn only_so_many_as_a_person_measures() {
        let mut panel = Outline::rectangle(1000.0, 1000.0);
        for i in 1..12 {
            let d = 5.0 + f64::from(i);
            let hole = Ring::circle(p(60.0 * f64::from(i), 100.0), d);
            panel.holes.push(hole.reversed());
            let low = p(60.0 * f64::from(i), 500.0);
            let slot = Ring::rounded_rectangle(low, p(low.x + 10.0, low.y + 20.0 + d), 2.0);
            panel.holes.push(slot.reversed());
        }
        let all = dimensions(&panel);
        let holes: Vec<f64> = all
            .iter()
            .filter_map(|d| match d {
                Dimension::Hole { diameter, .. } => Some(*diameter),
                _ => None,
            })
            .collect();
        assert_eq!(holes.len(), MOST_DIAMETERS);
        assert!(near(holes[0], 32.0), "the largest first: {holes:?}");
        let openings = all
            .iter()
            .filter(|d| matches!(d, Dimension::Opening { .. }));
        assert_eq!(openings.count(), MOST_OPENINGS);
    }

    #[test]
    fn notches_steps_and_rounded_corners() {
        let l = [
            (0., 0.),
            (140., 0.),
            (140., 45.),
            (45., 45.),
            (45., 140.),
            (0., 140.),
        ];
        let bracket = Outline::polygon(l.map(|(x, y)| p(x, y)));
        let all = dimensions(&bracket);
        let Dimension::Cut { at } = &all[2] else {
            panic!("{all:?}")
        };
        assert!(at.min.distance(p(45.0, 45.0)) < 0.05 && near(at.width(), 95.0));
        let ring = Ring::rounded_rectangle(p(0.0, 0.0), p(300.0, 200.0), 12.0);
        let all = dimensions(&Outline::from_rings(ring, Vec::new()));
        let Dimension::Rounded { radius, count, .. } = &all[2] else {
            panic!("{all:?}")
        };
        assert!(
            (radius - 12.0).abs() < 0.1 && *count == 4,
            "{radius} {count}"
        );
        // A chamfer is none.
        let cut = [(0., 0.), (100., 0.), (100., 80.), (20., 80.), (0., 60.)];
        let all = dimensions(&Outline::polygon(cut.map(|(x, y)| p(x, y))));
        assert!(matches!(all[2], Dimension::Cut { .. }), "{all:?}");
        // What a broken corner takes is not measured.
        let ring = Ring::rounded_rectangle(p(0.0, 0.0), p(300.0, 200.0), 3.0);
        assert_eq!(dimensions(&Outline::from_rings(ring, Vec::new())).len(), 2);
    }
}

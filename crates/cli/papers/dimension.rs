//! Which dimensions of a panel are worth measuring, by rule.
//!
//! 1. Length and width over all.
//! 2. Openings that are not round (windows, slots): those of the three largest sizes, each with its distances from
//!    the left and the lower edge.
//! 3. Round holes: the four largest diameters, each with the places of its holes from the lower left corner.
//! 4. What is cut away at the edge (notches, steps), corners cut off and rounded: the three largest; of a round panel its
//!    diameter.
//! 5. Where that does not tell the outer edge: its three largest arcs, and that the panel is to be laid on its drawing.
//! 6. Marks: how many there are.
//!
//! Of several openings of one size the one nearest to the lower left corner and the one farthest from it are
//! measured: where both are right, the row is neither moved, nor turned, nor stretched.

use panelwright_geometry::{ArcGeometry, Bounds, Outline, Point, Polygon, Region, Ring, Side};
use std::f64::consts::{FRAC_PI_4, PI};

/// Sizes nearer than this, millimetres, are one size: no calliper at a bench tells them apart.
const SAME: f64 = 0.05;

/// Most sizes of openings, of diameters, of what is cut away: more than a person measures on each panel.
const MOST_OPENINGS: usize = 3;
const MOST_DIAMETERS: usize = 4;
const MOST_CUTS: usize = 3;

/// What is cut away at the edge and smaller than this, millimetres each way, is a broken corner.
const LEAST_CUT: f64 = 5.0;

/// Share of its bounds that a notch takes up at least. Of less, the bounds are no size that could be measured.
const MOSTLY: f64 = 0.9;

/// Arcs with less sweep, radians, are too short to tell their radius from; the arcs that stand for an ellipse or a spline
/// are shorter still.
const LEAST_SWEEP: f64 = FRAC_PI_4;

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
        /// On the arc of one of them.
        at: Point,
    },
    /// A panel that is a disc.
    Round {
        /// Diameter.
        diameter: f64,
        /// On its edge.
        at: Point,
    },
    /// Corners cut off alike, aslant.
    CutOff {
        /// What is missing along x and along y.
        size: (f64, f64),
        /// How many.
        count: usize,
        /// On the slant of one of them.
        at: Point,
    },
    /// Arcs of one radius in an odd outline.
    Curve {
        /// Radius.
        radius: f64,
        /// Whether the panel bulges there; a bay otherwise.
        outward: bool,
        /// How many.
        count: usize,
        /// The middle of one of them.
        at: Point,
    },
    /// An outer edge that no size tells.
    Odd {
        /// Somewhere on it.
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

/// How much of each side of its bounds an outline lies along in straight lines: left, right, lower, upper.
fn flush(ring: &Ring, bounds: Bounds) -> [f64; 4] {
    let mut sides = [0.0; 4];
    for s in ring.segments().filter(|s| !s.is_arc()) {
        let off = |p: Point| {
            [
                p.x - bounds.min.x,
                bounds.max.x - p.x,
                p.y - bounds.min.y,
                bounds.max.y - p.y,
            ]
        };
        let (from, to) = (off(s.start), off(s.end));
        for (i, side) in sides.iter_mut().enumerate() {
            if from[i] <= SAME && to[i] <= SAME {
                *side += s.length();
            }
        }
    }
    sides
}

/// Adds to the group of what is alike, or begins one.
fn group<K: Copy, V>(groups: &mut Vec<(K, Vec<V>)>, alike: impl Fn(K) -> bool, key: K, value: V) {
    match groups.iter_mut().find(|(k, _)| alike(*k)) {
        Some((_, all)) => all.push(value),
        None => groups.push((key, vec![value])),
    }
}

/// What the rectangle over all has and the panel has not, and what else is to be said of the outer edge.
///
/// A piece is told by its size only where a person can lay a rule on it: a notch or step that is square to the edges, a
/// corner cut off or rounded between straight edges. Anything else is an odd outline.
fn cuts(outline: &Outline, bounds: Bounds) -> Vec<Dimension> {
    if outline.is_rectangle(SAME) {
        return Vec::new();
    }
    if let Some(diameter) = diameter(&outline.outer) {
        let at = Point::new(bounds.width(), 0.5 * bounds.height());
        return vec![Dimension::Round { diameter, at }];
    }
    let panel = outline.outer.flatten(CHORD, Side::Covering);
    let sides = flush(&outline.outer, bounds);
    // Where the panel touches its bounds in a point, two corners would be one piece.
    let on_a_side = |p: &&Point| {
        let x = (p.x - bounds.min.x).min(bounds.max.x - p.x);
        let y = (p.y - bounds.min.y).min(bounds.max.y - p.y);
        x.min(y) <= SAME
    };
    let apart = panel.iter().filter(on_a_side);
    let mut taken: Vec<Polygon> = apart
        .map(|p| Polygon::from_bounds(Bounds::new(*p, *p).grown(CHORD)))
        .collect();
    taken.push(Polygon::new(panel, Vec::new()));
    let missing = Region::from(Polygon::from_bounds(bounds)).difference(&taken);
    let mut cuts: Vec<(f64, Bounds)> = Vec::new();
    let mut cut_off: Vec<((f64, f64), Vec<Point>)> = Vec::new();
    let mut rounded: Vec<(f64, Vec<Point>)> = Vec::new();
    let mut is_odd = false;
    for piece in missing.polygons() {
        let its = piece.bounds();
        let (w, h) = (its.width(), its.height());
        if w < LEAST_CUT || h < LEAST_CUT {
            continue;
        }
        let touches = [
            its.min.x - bounds.min.x,
            bounds.max.x - its.max.x,
            its.min.y - bounds.min.y,
            bounds.max.y - its.max.y,
        ]
        .map(|gap| gap <= SAME);
        let edges = (0..4).filter(|i| touches[*i] && sides[*i] >= LEAST_CUT);
        let (touched, straight) = (touches.iter().filter(|t| **t).count(), edges.count());
        let corner = (touches[0] != touches[1]) && (touches[2] != touches[3]);
        let share = piece.area() / its.area();
        // A quarter circle leaves 1 - pi / 4 of its square; the thin ends of that may be lost.
        let radius = (piece.area() / (1.0 - 0.25 * PI)).sqrt();
        let is_radius = |side: f64| (side - radius).abs() <= 0.08 * radius;
        // Of a triangle the third side is as long as the way from corner to corner.
        let round: f64 = piece.edges().map(|(a, b)| a.distance(b)).sum();
        let triangle = (share - 0.5).abs() <= 0.01 && round <= 1.01 * (w + h + w.hypot(h));
        if share >= MOSTLY && straight == touched {
            cuts.push((piece.area(), from_corner(its, bounds)));
        } else if corner && straight > 0 && is_radius(w) && is_radius(h) {
            // On the arc, not in the middle of its square.
            let off = radius * (1.0 - 0.5f64.sqrt());
            let at = Point::new(
                if touches[0] {
                    its.min.x + off
                } else {
                    its.max.x - off
                },
                if touches[2] {
                    its.min.y + off
                } else {
                    its.max.y - off
                },
            );
            let alike = |r: f64| (r - radius).abs() <= 0.2;
            group(&mut rounded, alike, radius, moved(at, bounds));
        } else if corner && straight == 2 && triangle {
            let alike = |(x, y): (f64, f64)| (x - w).abs() <= SAME && (y - h).abs() <= SAME;
            group(&mut cut_off, alike, (w, h), moved(its.center(), bounds));
        } else {
            is_odd = true;
        }
    }
    cuts.sort_by(|a, b| b.0.total_cmp(&a.0));
    cut_off.sort_by(|a, b| (b.0.0 * b.0.1).total_cmp(&(a.0.0 * a.0.1)));
    rounded.sort_by(|a, b| b.0.total_cmp(&a.0));
    let curves = match is_odd {
        true => curves(&outline.outer, bounds, &rounded),
        false => Vec::new(),
    };
    let cuts = cuts.into_iter().map(|(_, at)| Dimension::Cut { at });
    let cut_off = cut_off.into_iter().map(|(size, at)| Dimension::CutOff {
        size,
        count: at.len(),
        at: at[0],
    });
    let rounded = rounded
        .into_iter()
        .map(|(radius, places)| Dimension::Rounded {
            radius,
            count: places.len(),
            at: places[0],
        });
    let told = cuts.chain(cut_off).chain(rounded).take(MOST_CUTS);
    let odd = is_odd.then(|| Dimension::Odd {
        at: odd_place(&outline.outer, bounds),
    });
    told.chain(curves).chain(odd).collect()
}

/// The largest arcs of an outer edge that are long enough to be tried with a template, rounded corners apart.
fn curves(ring: &Ring, bounds: Bounds, rounded: &[(f64, Vec<Point>)]) -> Vec<Dimension> {
    // An arc may be drawn in pieces.
    let mut arcs: Vec<ArcGeometry> = Vec::new();
    let mut open = false;
    for s in ring.segments() {
        let Some(arc) = s.arc_geometry() else {
            open = false;
            continue;
        };
        match arcs.last_mut().filter(|last| open && goes_on(last, &arc)) {
            Some(last) => last.sweep += arc.sweep,
            None => arcs.push(arc),
        }
        open = true;
    }
    // The ring may begin within an arc.
    let closes = ring.segments().next().is_some_and(|s| s.is_arc());
    if open && closes && arcs.len() > 1 && goes_on(&arcs[arcs.len() - 1], &arcs[0]) {
        let last = arcs.remove(arcs.len() - 1);
        arcs[0].start_angle = last.start_angle;
        arcs[0].sweep += last.sweep;
    }
    let mut groups: Vec<((f64, bool), Vec<Point>)> = Vec::new();
    for arc in arcs {
        let (radius, outward) = (arc.radius, arc.sweep > 0.0);
        let told = outward && rounded.iter().any(|(r, _)| (r - radius).abs() <= 0.2);
        if told || radius < LEAST_CUT || arc.sweep.abs() < LEAST_SWEEP {
            continue;
        }
        let at = moved(arc.point_at(arc.start_angle + 0.5 * arc.sweep), bounds);
        let alike = |(r, out): (f64, bool)| out == outward && (r - radius).abs() <= SAME;
        group(&mut groups, alike, (radius, outward), at);
    }
    groups.sort_by(|a, b| b.0.0.total_cmp(&a.0.0));
    let largest = groups.into_iter().take(MOST_CUTS);
    largest
        .map(|((radius, outward), places)| Dimension::Curve {
            radius,
            outward,
            count: places.len(),
            at: places[0],
        })
        .collect()
}

/// Whether an arc goes on as the next one.
fn goes_on(arc: &ArcGeometry, next: &ArcGeometry) -> bool {
    arc.center.distance(next.center) <= CHORD
        && (arc.radius - next.radius).abs() <= CHORD
        && arc.sweep.signum() == next.sweep.signum()
}

/// The middle of the longest line or arc of an outer edge that is not on its bounds.
fn odd_place(ring: &Ring, bounds: Bounds) -> Point {
    let inside = |p: Point| {
        let x = (p.x - bounds.min.x).min(bounds.max.x - p.x);
        let y = (p.y - bounds.min.y).min(bounds.max.y - p.y);
        x.min(y) > SAME
    };
    let odd = ring.segments().filter(|s| inside(s.point_at(0.5)));
    let longest = odd.max_by(|a, b| a.length().total_cmp(&b.length()));
    moved(longest.map_or(bounds.min, |s| s.point_at(0.5)), bounds)
}

#[cfg(test)]
mod tests {
    use super::*;
    use panelwright_geometry::Vertex;

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
        let [_, _, Dimension::CutOff { size, count: 1, at }] = &all[..] else {
            panic!("{all:?}")
        };
        assert!(near(size.0, 20.0) && near(size.1, 20.0), "{size:?}");
        assert!(at.distance(p(10.0, 70.0)) < 0.1, "{at:?}");
        // What a broken corner takes is not measured.
        let ring = Ring::rounded_rectangle(p(0.0, 0.0), p(300.0, 200.0), 3.0);
        assert_eq!(dimensions(&Outline::from_rings(ring, Vec::new())).len(), 2);
    }

    #[test]
    fn a_step_beside_a_point_of_the_panel_is_told_as_it_is() {
        // The gable touches the upper side in a point, the step is at the lower right.
        let gable = [
            (0., 0.),
            (80., 0.),
            (80., 20.),
            (100., 20.),
            (100., 60.),
            (50., 100.),
            (0., 60.),
        ];
        let all = dimensions(&Outline::polygon(gable.map(|(x, y)| p(x, y))));
        let [_, _, Dimension::Cut { at }, Dimension::Odd { .. }] = &all[..] else {
            panic!("{all:?}")
        };
        assert!(at.min.distance(p(80.0, 0.0)) < 0.05 && at.max.distance(p(100.0, 20.0)) < 0.05);
    }

    #[test]
    fn panels_that_are_not_square_to_their_axes_are_laid_on_their_drawing() {
        let only_odd = |outline: Outline| {
            let all = dimensions(&outline);
            assert!(
                matches!(
                    all[..],
                    [
                        Dimension::Length(_),
                        Dimension::Width(_),
                        Dimension::Odd { .. }
                    ]
                ),
                "{all:?}"
            );
            let Dimension::Odd { at } = all[2] else {
                unreachable!()
            };
            let bounds = outline.bounds();
            let there = Point::new(at.x + bounds.min.x, at.y + bounds.min.y);
            let edge = panelwright_geometry::Boundary::new([&outline.outer]);
            assert!(edge.distance(there) < 1e-6, "on the edge: {at:?}");
        };
        let turned = panelwright_geometry::Placement::new(30.0, p(0.0, 0.0));
        only_odd(Outline::rectangle(90.0, 70.0).placed(&turned));
        let step = [
            (0., 0.),
            (90., 0.),
            (90., 40.),
            (50., 40.),
            (50., 70.),
            (0., 70.),
        ];
        only_odd(Outline::polygon(step.map(|(x, y)| p(x, y))).placed(&turned));
        only_odd(Outline::polygon(
            [(0., 0.), (200., 0.), (150., 120.)].map(|(x, y)| p(x, y)),
        ));
        // As an ellipse is drawn in straight lines, or in the arcs that stand for it.
        let ellipse = |i: i32| {
            let angle = f64::from(i) * PI / 60.0;
            p(120.0 * angle.cos(), 72.0 * angle.sin())
        };
        only_odd(Outline::polygon((0..120).map(ellipse)));
    }

    #[test]
    fn a_disc_has_its_diameter() {
        let disc = Ring::circle(p(7.0, 9.0), 25.4);
        let all = dimensions(&Outline::from_rings(disc, Vec::new()));
        let [_, _, Dimension::Round { diameter, at }] = &all[..] else {
            panic!("{all:?}")
        };
        assert!(near(*diameter, 50.8) && at.distance(p(50.8, 25.4)) < 1e-6);
    }

    #[test]
    fn arcs_are_told_by_the_radius_they_have() {
        let corner = |x: f64, y: f64, bulge: f64| Vertex {
            point: p(x, y),
            bulge,
        };
        // Half a ring, its outer arc in two pieces: radius 100 and 70.
        let quarter = (PI / 8.0).tan();
        let half = Ring::new(vec![
            corner(100.0, 0.0, quarter),
            corner(0.0, 100.0, quarter),
            corner(-100.0, 0.0, 0.0),
            corner(-70.0, 0.0, -1.0),
            corner(70.0, 0.0, 0.0),
        ]);
        let mut drawn = half.vertices.clone();
        for _ in 0..drawn.len() {
            drawn.rotate_left(1);
            let all = dimensions(&Outline::from_rings(Ring::new(drawn.clone()), Vec::new()));
            let [
                _,
                _,
                Dimension::Curve {
                    radius: outer,
                    outward: true,
                    count: 1,
                    at: on_outer,
                },
                Dimension::Curve {
                    radius: inner,
                    outward: false,
                    count: 1,
                    at: on_inner,
                },
                Dimension::Odd { .. },
            ] = &all[..]
            else {
                panic!("{all:?}")
            };
            assert!(near(*outer, 100.0) && near(*inner, 70.0), "{all:?}");
            assert!(on_outer.distance(p(100.0, 100.0)) < 1e-6, "{on_outer:?}");
            assert!(on_inner.distance(p(100.0, 70.0)) < 1e-6, "{on_inner:?}");
        }
        // The letter of a rounded corner is on its arc.
        let ring = Ring::rounded_rectangle(p(0.0, 0.0), p(300.0, 200.0), 50.0);
        let all = dimensions(&Outline::from_rings(ring.clone(), Vec::new()));
        let [_, _, Dimension::Rounded { at, count: 4, .. }] = &all[..] else {
            panic!("{all:?}")
        };
        let edge = panelwright_geometry::Boundary::new([&ring]);
        assert!(edge.distance(*at) < 0.1, "{at:?}");
        // Ends that are half circles are corners rounded by half the width.
        let ring = Ring::rounded_rectangle(p(0.0, 0.0), p(300.0, 60.0), 30.0);
        let all = dimensions(&Outline::from_rings(ring, Vec::new()));
        assert!(
            matches!(all[..], [_, _, Dimension::Rounded { count: 4, .. }]),
            "{all:?}"
        );
    }
}

//! Rectangles found, against every rectangle whose sides lie at coordinates of corners.
//!
//! What is free is told by the separating axis theorem for convex polygons (textbook), which has nothing in common
//! with the grid and the pushing of sides.

use super::*;
use crate::Vec2;
use proptest::prelude::*;

/// A convex polygon, counter-clockwise.
type Convex = Vec<Point>;

/// How far two convex polygons are apart along the normal, of all sides of both, where that is most; below 0 by
/// how deep they overlap.
fn apart(a: &Convex, b: &Convex) -> f64 {
    let most = |a: &Convex, b: &Convex| {
        let sides = (0..a.len()).map(|i| (a[i], a[(i + 1) % a.len()]));
        let off = |(p, q): (Point, Point)| {
            let along = (q - p).normalized();
            b.iter()
                .map(|c| -along.cross(*c - p))
                .fold(f64::INFINITY, f64::min)
        };
        sides
            .filter(|(p, q)| p.distance(*q) > 0.0)
            .map(off)
            .fold(f64::NEG_INFINITY, f64::max)
    };
    most(a, b).max(most(b, a))
}

/// How far the rectangle pokes out of the convex field, at most 0 when it does not.
fn pokes_out(field: &Convex, rectangle: &Convex) -> f64 {
    let sides = (0..field.len()).map(|i| (field[i], field[(i + 1) % field.len()]));
    sides
        .flat_map(|(p, q)| {
            let along = (q - p).normalized();
            rectangle.iter().map(move |c| -along.cross(*c - p))
        })
        .fold(f64::NEG_INFINITY, f64::max)
}

/// A convex field and obstacles, each of one or two convex pieces.
#[derive(Debug, Clone)]
struct Case {
    field: Convex,
    obstacles: Vec<(Polygon, Vec<Convex>)>,
    limits: (f64, f64),
}

impl Case {
    fn found(&self) -> Option<Bounds> {
        let field = Polygon::new(self.field.clone(), Vec::new());
        let obstacles: Vec<Polygon> = self.obstacles.iter().map(|o| o.0.clone()).collect();
        largest_clear_rectangle(&field, &obstacles, self.limits.0, self.limits.1)
    }

    fn pieces(&self) -> impl Iterator<Item = &Convex> {
        self.obstacles.iter().flat_map(|o| &o.1)
    }

    /// By how much the rectangle is not free.
    fn reach(&self, rectangle: Bounds) -> f64 {
        let corners = rectangle.corners().to_vec();
        let overlaps = self.pieces().map(|piece| -apart(&corners, piece));
        overlaps.fold(pokes_out(&self.field, &corners), f64::max)
    }

    /// The largest free rectangle with more than this area whose sides lie at coordinates of corners.
    fn larger(&self, area: f64) -> Option<Bounds> {
        let coordinates = |axis: fn(&Point) -> f64| {
            let corners = self.obstacles.iter().flat_map(|o| &o.0.outer);
            let mut all: Vec<f64> = corners.chain(&self.field).map(axis).collect();
            all.sort_by(f64::total_cmp);
            all.dedup();
            all
        };
        let (xs, ys) = (coordinates(|p| p.x), coordinates(|p| p.y));
        let mut best: Option<Bounds> = None;
        for (i, x0) in xs.iter().enumerate() {
            for x1 in &xs[i + 1..] {
                for (j, y0) in ys.iter().enumerate() {
                    for y1 in &ys[j + 1..] {
                        let (w, h) = (x1 - x0, y1 - y0);
                        let passes = w.min(h) >= self.limits.0 && w.max(h) >= self.limits.1;
                        let most = best.map_or(area, |b| b.area());
                        if !passes || w * h <= most || w.min(h) < 2e-6 {
                            continue;
                        }
                        let tried = Bounds::new(Point::new(*x0, *y0), Point::new(*x1, *y1));
                        if self.reach(tried) <= 1e-11 {
                            best = Some(tried);
                        }
                    }
                }
            }
        }
        best
    }

    fn check(&self) -> Result<(), TestCaseError> {
        let found = self.found();
        if let Some(found) = found {
            let reach = self.reach(found);
            prop_assert!(reach <= 1e-6, "{found:?} reaches {reach} into something");
            let (w, h) = (found.width() + 1e-6, found.height() + 1e-6);
            prop_assert!(
                w.min(h) >= self.limits.0 && w.max(h) >= self.limits.1,
                "{found:?}"
            );
        }
        // Coordinates a sliver apart count as one.
        let size =
            Bounds::of_points(self.field.iter().copied()).map_or(0.0, |b| b.width() + b.height());
        let area = found.map_or(0.0, |f| f.area()) + 1e-8 * size;
        let larger = self.larger(area);
        prop_assert!(larger.is_none(), "{found:?}, but free is {larger:?}");
        Ok(())
    }
}

fn turned(points: &[(f64, f64)], angle_deg: f64, by: (f64, f64)) -> Convex {
    let (sin, cos) = match angle_deg {
        0.0 => (0.0, 1.0),
        90.0 => (1.0, 0.0),
        a => a.to_radians().sin_cos(),
    };
    let turn = |&(x, y): &(f64, f64)| Point::new(cos * x - sin * y, sin * x + cos * y);
    points
        .iter()
        .map(|p| turn(p) + Vec2::new(by.0, by.1))
        .collect()
}

/// An obstacle at a place on a raster of 10 mm, so that many touch, and a hair off it at times.
fn obstacle() -> impl Strategy<Value = (Polygon, Vec<Convex>)> {
    let angle = prop_oneof![
        4 => Just(0.0),
        2 => Just(90.0),
        1 => prop_oneof![Just(1e-7), Just(-3e-6), Just(1e-4), Just(0.01), Just(89.999)],
        4 => 0.0f64..360.0,
        1 => Just(45.0),
    ];
    let off = prop_oneof![
        4 => Just(0.0),
        1 => prop_oneof![Just(5e-10), Just(1.5e-9), Just(-3e-9), Just(1e-8), Just(-1e-6), Just(1e-4), Just(0.1)],
    ];
    let size = (1u8..16, 1u8..16, 0.1f64..0.9);
    let place = (0u8..24, 0u8..18);
    (0u8..5, size, angle, place, (off.clone(), off)).prop_map(
        |(kind, (w, h, share), angle, place, off)| {
            let (w, h) = (10.0 * f64::from(w), 10.0 * f64::from(h));
            let by = (
                10.0 * f64::from(place.0) + off.0,
                10.0 * f64::from(place.1) + off.1,
            );
            let rectangle = [(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)];
            let pieces: Vec<Vec<(f64, f64)>> = match kind {
                0 | 1 => vec![rectangle.to_vec()],
                2 => vec![vec![(0.0, 0.0), (w, 0.0), (share * w, h)]],
                // Thin as a hair.
                3 => vec![vec![(0.0, 0.0), (w, 0.0), (w, 0.01), (0.0, 0.01)]],
                _ => {
                    let (x, y) = (share * w, share * h);
                    vec![
                        vec![(0.0, 0.0), (w, 0.0), (w, y), (0.0, y)],
                        vec![(0.0, 0.0), (x, 0.0), (x, h), (0.0, h)],
                    ]
                }
            };
            let outline = match kind {
                4 => {
                    let (x, y) = (share * w, share * h);
                    vec![(0.0, 0.0), (w, 0.0), (w, y), (x, y), (x, h), (0.0, h)]
                }
                _ => pieces[0].clone(),
            };
            let pieces = pieces.iter().map(|p| turned(p, angle, by)).collect();
            (
                Polygon::new(turned(&outline, angle, by), Vec::new()),
                pieces,
            )
        },
    )
}

fn cases() -> impl Strategy<Value = Case> {
    let field = prop_oneof![
        3 => Just(turned(&[(0.0, 0.0), (240.0, 0.0), (240.0, 180.0), (0.0, 180.0)], 0.0, (0.0, 0.0))),
        1 => (0.0f64..90.0).prop_map(|a| turned(&[(0.0, 0.0), (240.0, 0.0), (240.0, 180.0), (0.0, 180.0)], a, (60.0, -20.0))),
        1 => (20.0f64..240.0).prop_map(|x| turned(&[(0.0, 0.0), (240.0, 10.0), (x, 180.0)], 0.0, (0.0, 0.0))),
    ];
    let limits = prop_oneof![
        Just((0.0, 0.0)),
        Just((20.0, 0.0)),
        Just((15.0, 90.0)),
        Just((40.0, 60.0))
    ];
    (field, proptest::collection::vec(obstacle(), 0..6), limits).prop_map(
        |(field, obstacles, limits)| Case {
            field,
            obstacles,
            limits,
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1_000))]

    #[test]
    fn nothing_larger_is_free(case in cases()) {
        case.check()?;
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn nor_ten_metres_away(case in cases()) {
        let by = Vec2::new(10_000.0, -7_000.0);
        let moved = |points: &mut Vec<Point>| points.iter_mut().for_each(|p| *p += by);
        let mut case = case;
        moved(&mut case.field);
        for (outline, pieces) in &mut case.obstacles {
            moved(&mut outline.outer);
            pieces.iter_mut().for_each(moved);
        }
        case.check()?;
    }
}

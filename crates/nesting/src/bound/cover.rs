//! Whether convex areas together cover a rectangle: a proof by cutting the rectangle up.

use crate::freeform::minkowski_sum;
use geo::ConvexHull;
use panelwright_geometry::{Bounds, Point, Vec2};

/// A rectangle is no longer cut up below this, in millimetres: what is still open then is not proven.
const FINEST: f64 = 0.05;

/// Most rectangles looked at in one proof. Where areas overlap generously a few dozen do; more go into
/// chinks along a border, which hardly ever close.
const MOST_LOOKS: u32 = 1_500;

/// Corners of a hull nearer than this are one, in millimetres.
const ONE_CORNER: f64 = 1e-4;

/// What is left of the work that all proofs of a bound may take together, in looks at one area: some
/// nanoseconds each. When it is used up nothing is proven any more.
pub(super) struct Effort(u64);

impl Effort {
    /// A tenth of a second.
    pub(super) const PLENTY: u64 = 10_000_000;

    pub(super) fn new(looks: u64) -> Self {
        Self(looks)
    }

    /// Whether there is that much left, which is then taken.
    fn take(&mut self, looks: usize) -> bool {
        let before = self.0;
        self.0 = self.0.saturating_sub(looks as u64);
        before > 0
    }
}

/// A convex area.
#[derive(Debug, Clone)]
pub(super) struct Convex {
    /// Half-planes: unit vector outward, and distance of the border from the origin along it.
    planes: Vec<(Vec2, f64)>,
    bounds: Bounds,
}

impl Convex {
    /// The hull of the points, less `by` all round; `None` when nothing is left.
    pub(super) fn hull(points: &[Point], by: f64) -> Option<Self> {
        let corners = hull(points);
        let n = corners.len();
        let mut planes = Vec::with_capacity(n);
        for i in 0..n {
            let (a, b) = (corners[i], corners[(i + 1) % n]);
            let along = (b - a).normalized();
            if a.distance(b) > 0.0 {
                let normal = Vec2::new(along.y, -along.x);
                planes.push((normal, normal.dot(a.to_vec()) - by));
            }
        }
        let bounds = Bounds::of_points(corners)?.grown(-by);
        (planes.len() >= 3 && bounds.width() > 0.0 && bounds.height() > 0.0)
            .then_some(Self { planes, bounds })
    }

    fn holds(&self, rectangle: &Bounds) -> bool {
        let middle = rectangle.center().to_vec();
        let (w, h) = (0.5 * rectangle.width(), 0.5 * rectangle.height());
        self.planes
            .iter()
            .all(|(n, reach)| n.dot(middle) + n.x.abs() * w + n.y.abs() * h <= *reach)
    }

    fn holds_place(&self, place: Point) -> bool {
        self.planes
            .iter()
            .all(|(n, reach)| n.dot(place.to_vec()) <= *reach)
    }
}

/// Corners of the convex hull, counter-clockwise; of those next to each other one, which makes it hardly smaller.
fn hull(points: &[Point]) -> Vec<Point> {
    let points: geo::MultiPoint<f64> = points.iter().map(|p| geo::Point::new(p.x, p.y)).collect();
    let hull = points.convex_hull();
    let mut corners: Vec<Point> = Vec::new();
    for c in hull.exterior().coords() {
        let corner = Point::new(c.x, c.y);
        // An edge between two that differ by rounding could point anywhere.
        if corners
            .last()
            .is_none_or(|p| p.distance(corner) > ONE_CORNER)
        {
            corners.push(corner);
        }
    }
    while corners.len() > 1 && corners[0].distance(corners[corners.len() - 1]) <= ONE_CORNER {
        corners.pop();
    }
    corners
}

/// Corners of the sum of the hulls of `a` and `b`. In between nothing is kept: parts of hundreds of corners have tens of
/// thousands of pairs of them.
pub(super) fn sums(a: &[Point], b: &[Point]) -> Vec<Point> {
    let (p, q) = (hull(a), hull(b));
    if p.len() >= 3 && q.len() >= 3 {
        return minkowski_sum(&p, &q);
    }
    let each = a
        .iter()
        .flat_map(|p| b.iter().map(move |q| *p + q.to_vec()));
    each.collect()
}

/// Whether the areas together surely cover the rectangle, which may have no width or no height.
pub(super) fn covers(areas: &[Convex], rectangle: Bounds, effort: &mut Effort) -> bool {
    if !effort.take(4 * areas.len()) {
        return false;
    }
    if rectangle
        .corners()
        .iter()
        .any(|c| !areas.iter().any(|a| a.holds_place(*c)))
    {
        return false;
    }
    let mut looks = 0;
    let all: Vec<&Convex> = areas.iter().collect();
    covers_all_of(&all, rectangle, &mut looks, effort)
}

fn covers_all_of(
    areas: &[&Convex],
    rectangle: Bounds,
    looks: &mut u32,
    effort: &mut Effort,
) -> bool {
    if !effort.take(areas.len()) {
        return false;
    }
    let near: Vec<&Convex> = areas
        .iter()
        .copied()
        .filter(|a| a.bounds.touches(&rectangle))
        .collect();
    if near.iter().any(|a| a.holds(&rectangle)) {
        return true;
    }
    *looks += 1;
    let middle = rectangle.center();
    let (w, h) = (rectangle.width(), rectangle.height());
    if *looks > MOST_LOOKS || w.max(h) < FINEST || !near.iter().any(|a| a.holds_place(middle)) {
        return false;
    }
    let (min, max) = (rectangle.min, rectangle.max);
    let halves = if w >= h {
        [
            Bounds::new(min, Point::new(middle.x, max.y)),
            Bounds::new(Point::new(middle.x, min.y), max),
        ]
    } else {
        [
            Bounds::new(min, Point::new(max.x, middle.y)),
            Bounds::new(Point::new(min.x, middle.y), max),
        ]
    };
    halves
        .into_iter()
        .all(|half| covers_all_of(&near, half, looks, effort))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn covers(areas: &[Convex], rectangle: Bounds) -> bool {
        super::covers(areas, rectangle, &mut Effort::new(Effort::PLENTY))
    }

    #[test]
    fn without_effort_nothing_is_proven() {
        let rectangle = Bounds::new(Point::new(1.0, 1.0), Point::new(2.0, 2.0));
        let all = [square(0.0, 0.0, 6.0)];
        assert!(covers(&all, rectangle));
        assert!(!super::covers(&all, rectangle, &mut Effort::new(0)));
    }

    fn square(x: f64, y: f64, side: f64) -> Convex {
        let corners = Bounds::new(Point::new(x, y), Point::new(x + side, y + side)).corners();
        Convex::hull(&corners, 0.0).expect("a square")
    }

    #[test]
    fn four_squares_that_overlap_cover_what_they_surround() {
        let mut squares = vec![
            square(0.0, 0.0, 6.0),
            square(5.0, 0.0, 6.0),
            square(0.0, 5.0, 6.0),
            square(5.0, 5.0, 6.0),
        ];
        let all = Bounds::new(Point::new(0.0, 0.0), Point::new(11.0, 11.0));
        assert!(covers(&squares, all));
        assert!(!covers(&squares, all.grown(0.001)));
        // A rectangle without width, and one along a border.
        let line = Bounds::new(Point::new(0.0, 0.0), Point::new(0.0, 11.0));
        assert!(covers(&squares, line));
        squares.remove(3);
        assert!(!covers(&squares, all));
        // A chink in the middle.
        squares.push(square(6.01, 6.01, 4.99));
        assert!(!covers(&squares, all));
    }

    proptest! {
        #[test]
        fn no_place_of_what_is_covered_is_open(
            triangles in proptest::collection::vec(proptest::collection::vec((0.0f64..10.0, 0.0f64..10.0), 3..6), 1..12),
            corner in (2.0f64..8.0, 2.0f64..8.0), size in (0.0f64..4.0, 0.0f64..4.0),
            shares in proptest::collection::vec((0.0f64..=1.0, 0.0f64..=1.0), 40),
        ) {
            let areas: Vec<Convex> = triangles
                .iter()
                .filter_map(|t| {
                    let points: Vec<Point> = t.iter().map(|p| Point::new(p.0, p.1)).collect();
                    Convex::hull(&points, 0.0)
                })
                .collect();
            let at = |x: f64, y: f64| Point::new(corner.0 + x * size.0, corner.1 + y * size.1);
            if covers(&areas, Bounds::new(at(0.0, 0.0), at(1.0, 1.0))) {
                for (x, y) in shares {
                    prop_assert!(areas.iter().any(|a| a.holds_place(at(x, y))));
                }
            }
        }
    }

    #[test]
    fn sums_reach_as_far_as_all_pairs_of_corners_and_are_few() {
        let ring = |n: u32, across: f64, high: f64| -> Vec<Point> {
            let corner = |i| f64::from(i) * std::f64::consts::TAU / f64::from(n);
            (0..n)
                .map(|i| Point::new(across * corner(i).cos(), high * corner(i).sin()))
                .collect()
        };
        let (a, b) = (ring(400, 300.0, 120.0), ring(360, 40.0, 90.0));
        let few = sums(&a, &b);
        assert!(few.len() <= a.len() + b.len(), "{}", few.len());
        for degrees in 0..360 {
            let way = Vec2::from_angle(f64::from(degrees).to_radians(), 1.0);
            let far = |points: &[Point]| {
                let reach = points.iter().map(|p| way.dot(p.to_vec()));
                reach.fold(f64::NEG_INFINITY, f64::max)
            };
            assert!((far(&few) - far(&a) - far(&b)).abs() < 1e-6, "{degrees}");
        }
    }
}

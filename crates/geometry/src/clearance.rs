//! Distance between two shapes, for warnings and for tests of other code.
//!
//! The judge of a nest must not use this: it has its own code, so that no mistake here can hide one
//! there.

use crate::{Point, Polygon};
use rstar::{AABB, PointDistance, RTree, RTreeObject};

/// An edge that the tree can hold.
struct Edge {
    from: Point,
    to: Point,
}

impl RTreeObject for Edge {
    type Envelope = AABB<[f64; 2]>;

    fn envelope(&self) -> Self::Envelope {
        AABB::from_corners([self.from.x, self.from.y], [self.to.x, self.to.y])
    }
}

impl PointDistance for Edge {
    fn distance_2(&self, point: &[f64; 2]) -> f64 {
        let d = distance_to_edge(Point::new(point[0], point[1]), self.from, self.to);
        d * d
    }
}

/// Distance from `p` to the straight edge from `a` to `b`, ends included.
fn distance_to_edge(p: Point, a: Point, b: Point) -> f64 {
    let along = b - a;
    let length_2 = along.dot(along);
    let share = if length_2 > 0.0 {
        ((p - a).dot(along) / length_2).clamp(0.0, 1.0)
    } else {
        0.0
    };
    p.distance(a + along * share)
}

/// Whether the edges `a` to `b` and `c` to `d` have a point in common.
fn edges_meet(a: Point, b: Point, c: Point, d: Point) -> bool {
    let side = |from: Point, to: Point, p: Point| (to - from).cross(p - from);
    let (c_side, d_side) = (side(a, b, c), side(a, b, d));
    let (a_side, b_side) = (side(c, d, a), side(c, d, b));
    // Ends that only touch are found as a distance of zero from an end to an edge.
    c_side * d_side < 0.0 && a_side * b_side < 0.0
}

/// Even-odd test over all rings, so that inside a hole is outside.
fn covers(polygon: &Polygon, p: Point) -> bool {
    polygon.edges().fold(false, |inside, (a, b)| {
        let crosses =
            (a.y > p.y) != (b.y > p.y) && p.x < a.x + (p.y - a.y) / (b.y - a.y) * (b.x - a.x);
        inside != crosses
    })
}

/// The least distance between two shapes in millimetres; 0 where they touch or overlap.
///
/// Inside a hole is outside: a shape in another's window has the distance to the window's edge.
/// Infinite when either has no points; edges with a coordinate that is not finite are passed over.
/// How deep an overlap is, is not told.
///
/// # Runtime
/// About (n + m) log(n + m) edges while few edges are near each other.
///
/// # Examples
/// ```
/// use panelwright_geometry::{Placement, Point, Polygon, clearance};
///
/// let a = Polygon::rectangle(10.0, 10.0);
/// let b = a.placed(&Placement::new(0.0, Point::new(13.0, 14.0)));
/// assert_eq!(clearance(&a, &b), 5.0);
/// ```
#[must_use]
pub fn clearance(a: &Polygon, b: &Polygon) -> f64 {
    // The tree sorts by coordinates, and a NaN cannot be sorted.
    let edges = |p: &Polygon| -> Vec<Edge> {
        p.edges()
            .filter(|(from, to)| from.is_finite() && to.is_finite())
            .map(|(from, to)| Edge { from, to })
            .collect()
    };
    let (few, many) = if a.outer.len() <= b.outer.len() {
        (a, b)
    } else {
        (b, a)
    };
    let few_edges = edges(few);
    let tree = RTree::bulk_load(edges(many));
    if few_edges.is_empty() || tree.size() == 0 {
        return f64::INFINITY;
    }
    // A ring that meets no edge of the other shape lies wholly inside or outside it.
    let swallowed =
        |inner: &Polygon, outer: &Polygon| inner.outer.first().is_some_and(|p| covers(outer, *p));
    if swallowed(few, many) || swallowed(many, few) {
        return 0.0;
    }
    let mut least = f64::INFINITY;
    for edge in &few_edges {
        // Everything that could come nearer than the least so far lies in this box.
        let envelope = if least.is_finite() {
            grown(edge, least)
        } else {
            let nearest = tree
                .nearest_neighbor(&[edge.from.x, edge.from.y])
                .map_or(f64::INFINITY, |other| {
                    distance_to_edge(edge.from, other.from, other.to)
                });
            least = nearest;
            grown(edge, nearest)
        };
        for other in tree.locate_in_envelope_intersecting(&envelope) {
            if edges_meet(edge.from, edge.to, other.from, other.to) {
                return 0.0;
            }
            least = least
                .min(distance_to_edge(edge.from, other.from, other.to))
                .min(distance_to_edge(edge.to, other.from, other.to))
                .min(distance_to_edge(other.from, edge.from, edge.to))
                .min(distance_to_edge(other.to, edge.from, edge.to));
        }
        if least == 0.0 {
            return 0.0;
        }
    }
    least
}

/// The box round an edge, grown by `by`.
fn grown(edge: &Edge, by: f64) -> AABB<[f64; 2]> {
    let bounds = crate::Bounds::new(edge.from, edge.to).grown(by);
    AABB::from_corners([bounds.min.x, bounds.min.y], [bounds.max.x, bounds.max.y])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Outline, Placement, Ring, Side};
    use proptest::prelude::*;

    fn star(radii: &[f64], center: Point) -> Polygon {
        let n = radii.len() as f64;
        let corner = |(i, r): (usize, &f64)| {
            center + crate::Vec2::from_angle(i as f64 / n * std::f64::consts::TAU, *r)
        };
        Polygon::new(radii.iter().enumerate().map(corner).collect(), Vec::new())
    }

    #[test]
    fn a_shape_in_a_window_has_the_distance_to_its_edge() {
        let mut frame = Polygon::rectangle(100.0, 100.0);
        let window =
            Polygon::rectangle(60.0, 60.0).placed(&Placement::new(0.0, Point::new(20.0, 20.0)));
        frame.holes.push(window.outer.clone());
        let inset =
            Polygon::rectangle(40.0, 50.0).placed(&Placement::new(0.0, Point::new(27.0, 25.0)));
        assert_eq!(clearance(&frame, &inset), 5.0);
        assert_eq!(clearance(&inset, &frame), 5.0);
        // Filling the window, it touches; swallowed by the material, it overlaps.
        assert_eq!(clearance(&frame, &window), 0.0);
        assert_eq!(clearance(&Polygon::rectangle(100.0, 100.0), &inset), 0.0);
        assert_eq!(clearance(&Polygon::default(), &inset), f64::INFINITY);
    }

    #[test]
    fn crossing_bars_overlap_without_a_corner_inside() {
        let bar = Polygon::rectangle(100.0, 10.0);
        let across =
            Polygon::rectangle(10.0, 100.0).placed(&Placement::new(0.0, Point::new(45.0, -45.0)));
        assert_eq!(clearance(&bar, &across), 0.0);
    }

    #[test]
    fn discs_are_apart_by_the_formula() {
        let disc = Outline::from_rings(Ring::circle(Point::default(), 50.0), Vec::new())
            .flatten(1e-4, Side::Within);
        assert!(disc.outer.len() > 1_000);
        let other = disc.placed(&Placement::new(13.0, Point::new(90.0, 120.0)));
        assert!((clearance(&disc, &other) - 50.0).abs() < 1e-3);
    }

    proptest! {
        #[test]
        fn agrees_with_the_geo_crate(
            a in proptest::collection::vec(10.0f64..100.0, 3..30),
            b in proptest::collection::vec(10.0f64..100.0, 3..30),
            x in -250.0f64..250.0, y in -250.0f64..250.0,
        ) {
            use geo::{Distance, Euclidean};
            let (a, b) = (star(&a, Point::default()), star(&b, Point::new(x, y)));
            let theirs = Euclidean.distance(&a.to_geo(), &b.to_geo());
            prop_assert!((clearance(&a, &b) - theirs).abs() < 1e-9);
            prop_assert!((clearance(&b, &a) - theirs).abs() < 1e-9);
        }
    }
}

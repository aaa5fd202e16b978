//! Distances to the true boundary of shapes: lines and arcs as they are, not chords.

use crate::{ArcGeometry, Bounds, Point, Ring, Segment, Vec2};
use rstar::{AABB, PointDistance, RTree, RTreeObject};

impl Segment {
    /// The point of the segment that is nearest to `p`.
    ///
    /// Of points equally near (`p` at the centre of an arc) it is the start.
    ///
    /// # Examples
    /// ```
    /// use panelwright_geometry::{Point, Segment};
    ///
    /// // The lower half of a circle of radius 5 round 5, 0.
    /// let half = Segment::arc(Point::new(0.0, 0.0), Point::new(10.0, 0.0), 1.0);
    /// assert!(half.nearest_to(Point::new(5.0, -9.0)).distance(Point::new(5.0, -5.0)) < 1e-12);
    /// assert_eq!(half.nearest_to(Point::new(11.0, 7.0)), half.end);
    /// ```
    #[must_use]
    pub fn nearest_to(&self, p: Point) -> Point {
        Edge::new(*self, 0).nearest(p)
    }

    /// The two pieces on either side of `share` of its length (0 at the start, 1 at the end).
    #[must_use]
    pub fn split_at(&self, share: f64) -> (Self, Self) {
        let middle = self.point_at(share);
        let bulge = |part: f64| (part * self.bulge.atan()).tan();
        (
            Self::arc(self.start, middle, bulge(share)),
            Self::arc(middle, self.end, bulge(1.0 - share)),
        )
    }
}

/// A segment with what distances to it need, worked out once.
#[derive(Debug, Clone, Copy)]
struct Edge {
    segment: Segment,
    arc: Option<ArcGeometry>,
    /// Its bounds, which a tree asks for again and again.
    corners: AABB<[f64; 2]>,
    /// Number of its ring.
    ring: usize,
}

/// Length of a vector. The exact one guards against numbers beyond all drawings and takes several times as long.
fn length(v: Vec2) -> f64 {
    v.dot(v).sqrt()
}

impl Edge {
    fn new(segment: Segment, ring: usize) -> Self {
        let Bounds { min, max } = segment.bounds();
        Self {
            segment,
            arc: segment.arc_geometry(),
            corners: AABB::from_corners([min.x, min.y], [max.x, max.y]),
            ring,
        }
    }

    /// Whether an arc has a point in this direction from its centre. The sides of its first and last radius tell
    /// as much as an angle would, much sooner.
    fn covers(&self, arc: &ArcGeometry, out: Vec2) -> bool {
        let Segment { start, end, bulge } = self.segment;
        let after = (start - arc.center).cross(out) * bulge >= 0.0;
        let before = out.cross(end - arc.center) * bulge >= 0.0;
        if bulge.abs() <= 1.0 {
            after && before
        } else {
            after || before
        }
    }

    fn nearest(&self, p: Point) -> Point {
        let Segment { start, end, .. } = self.segment;
        match &self.arc {
            Some(arc) => {
                let out = p - arc.center;
                let away = length(out);
                if away > 0.0 && self.covers(arc, out) {
                    arc.center + out * (arc.radius / away)
                } else if length(p - start) <= length(p - end) {
                    start
                } else {
                    end
                }
            }
            None => {
                let along = end - start;
                let length_2 = along.dot(along);
                if length_2 == 0.0 {
                    return start;
                }
                start + along * ((p - start).dot(along) / length_2).clamp(0.0, 1.0)
            }
        }
    }
}

impl RTreeObject for Edge {
    type Envelope = AABB<[f64; 2]>;

    fn envelope(&self) -> Self::Envelope {
        self.corners
    }
}

impl PointDistance for Edge {
    fn distance_2(&self, point: &[f64; 2]) -> f64 {
        let p = Point::new(point[0], point[1]);
        let d = p - self.nearest(p);
        d.dot(d)
    }
}

/// What is nearest to a point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Nearest {
    /// The point of the boundary.
    pub at: Point,
    /// How far it is.
    pub distance: f64,
    /// The segment it lies on.
    pub segment: Segment,
    /// Number of the ring that the segment belongs to, in the order in which rings were given.
    pub ring: usize,
}

/// The segments of many rings, ready for questions about distance.
///
/// # Runtime
/// About n log n to make and log n a question, in the number of segments.
#[derive(Debug)]
pub struct Boundary {
    tree: RTree<Edge>,
}

impl Boundary {
    /// The boundary made of these rings. Segments with a coordinate that is not finite are left out.
    pub fn new<'a>(rings: impl IntoIterator<Item = &'a Ring>) -> Self {
        let edges = rings.into_iter().enumerate().flat_map(|(i, ring)| {
            ring.segments()
                .filter(|s| s.start.is_finite() && s.end.is_finite() && s.bulge.is_finite())
                .map(move |s| Edge::new(s, i))
        });
        Self {
            tree: RTree::bulk_load(edges.collect()),
        }
    }

    /// The point of the boundary nearest to `p`; `None` when there is no boundary, or `p` is nowhere.
    #[must_use]
    pub fn nearest(&self, p: Point) -> Option<Nearest> {
        if !p.is_finite() {
            return None;
        }
        let edge = self.tree.nearest_neighbor(&[p.x, p.y])?;
        let at = edge.nearest(p);
        Some(Nearest {
            at,
            distance: at.distance(p),
            segment: edge.segment,
            ring: edge.ring,
        })
    }

    /// Distance from `p` to the boundary; infinite when there is none.
    #[must_use]
    pub fn distance(&self, p: Point) -> f64 {
        self.nearest(p).map_or(f64::INFINITY, |n| n.distance)
    }

    /// Whether any of the boundary is nearer to `p` than `reach`, rings with the number `but` left
    /// out.
    #[must_use]
    pub fn is_within(&self, p: Point, reach: f64, but: impl Fn(usize) -> bool) -> bool {
        self.tree
            .locate_within_distance([p.x, p.y], reach * reach)
            .any(|edge| !but(edge.ring))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn segment() -> impl Strategy<Value = Segment> {
        let point = || (-50.0..50.0_f64, -50.0..50.0_f64).prop_map(|(x, y)| Point::new(x, y));
        (point(), point(), prop_oneof![Just(0.0), -3.0..3.0_f64])
            .prop_map(|(a, b, bulge)| Segment::arc(a, b, bulge))
    }

    proptest! {
        #[test]
        fn nothing_on_the_segment_is_nearer(s in segment(), x in -90.0..90.0_f64, y in -90.0..90.0_f64) {
            let p = Point::new(x, y);
            let found = s.nearest_to(p).distance(p);
            let tried = (0..=2_000).map(|i| s.point_at(f64::from(i) / 2_000.0).distance(p));
            let least = tried.fold(f64::INFINITY, f64::min);
            // A step of the points tried is at most a 2000th of the length.
            prop_assert!(found <= least + 1e-9 && found >= least - s.length() / 4_000.0, "{found} {least}");
        }

        #[test]
        fn pieces_are_the_whole(s in segment(), share in 0.01..0.99_f64) {
            let (a, b) = s.split_at(share);
            prop_assert!((a.length() + b.length() - s.length()).abs() < 1e-6);
            prop_assert!((a.length() - share * s.length()).abs() < 1e-6);
            prop_assert!(b.point_at(0.5).distance(s.nearest_to(b.point_at(0.5))) < 1e-6);
        }

        #[test]
        fn the_tree_finds_what_trying_all_finds(
            radii in prop::collection::vec(2.0..12.0_f64, 1..9), x in -90.0..90.0_f64, y in -90.0..90.0_f64,
        ) {
            let p = Point::new(x, y);
            let rings: Vec<Ring> = radii.iter().enumerate()
                .map(|(i, r)| Ring::circle(Point::default() + Vec2::from_angle(i as f64, 60.0), *r))
                .collect();
            let boundary = Boundary::new(&rings);
            let all = rings.iter().flat_map(|r| r.segments().collect::<Vec<_>>());
            let least = all.map(|s| s.nearest_to(p).distance(p)).fold(f64::INFINITY, f64::min);
            prop_assert!((boundary.distance(p) - least).abs() < 1e-9);
            prop_assert!(boundary.is_within(p, least + 0.1, |_| false));
            prop_assert!(!boundary.is_within(p, least - 0.1, |_| false) || least < 0.1);
        }
    }

    #[test]
    fn no_rings_are_far_away() {
        assert_eq!(Boundary::new([]).distance(Point::default()), f64::INFINITY);
    }
}

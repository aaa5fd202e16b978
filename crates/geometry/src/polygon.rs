//! Straight-edged shapes: flattened parts, sheets, remnants.

use crate::{Bounds, Placement, Point};

/// A polygon with holes; no ring repeats its first point.
///
/// Outer rings run counter-clockwise and holes clockwise where this crate made them.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Polygon {
    /// The outside.
    pub outer: Vec<Point>,
    /// The holes.
    pub holes: Vec<Vec<Point>>,
}

/// Signed area of a closed ring of points, positive when counter-clockwise (shoelace formula).
pub(crate) fn signed_area(points: &[Point]) -> f64 {
    let Some(first) = points.first() else {
        return 0.0;
    };
    let n = points.len();
    let twice: f64 = (0..n)
        .map(|i| (points[i] - *first).cross(points[(i + 1) % n] - *first))
        .sum();
    0.5 * twice
}

/// The ring run counter-clockwise if `ccw`, else clockwise.
fn oriented(mut points: Vec<Point>, ccw: bool) -> Vec<Point> {
    if (signed_area(&points) > 0.0) != ccw {
        points.reverse();
    }
    points
}

impl Polygon {
    /// A polygon of these rings, each turned to its proper direction.
    #[must_use]
    pub fn new(outer: Vec<Point>, holes: Vec<Vec<Point>>) -> Self {
        Self {
            outer: oriented(outer, true),
            holes: holes.into_iter().map(|h| oriented(h, false)).collect(),
        }
    }

    /// The rectangle from the origin to (`width`, `height`).
    #[must_use]
    pub fn rectangle(width: f64, height: f64) -> Self {
        Self::from_bounds(Bounds::new(Point::default(), Point::new(width, height)))
    }

    /// An upright rectangle.
    #[must_use]
    pub fn from_bounds(bounds: Bounds) -> Self {
        Self {
            outer: bounds.corners().to_vec(),
            holes: Vec::new(),
        }
    }

    /// The outside, then the holes.
    pub fn rings(&self) -> impl Iterator<Item = &Vec<Point>> {
        std::iter::once(&self.outer).chain(&self.holes)
    }

    /// Every edge, outside and holes, as start and end.
    pub fn edges(&self) -> impl Iterator<Item = (Point, Point)> + '_ {
        self.rings().flat_map(|ring| {
            let n = ring.len();
            (0..n).map(move |i| (ring[i], ring[(i + 1) % n]))
        })
    }

    /// Area less the holes.
    #[must_use]
    pub fn area(&self) -> f64 {
        signed_area(&self.outer).abs()
            - self.holes.iter().map(|h| signed_area(h).abs()).sum::<f64>()
    }

    /// Bounding rectangle of the outside.
    ///
    /// # Panics
    /// When the outside has no points.
    #[must_use]
    pub fn bounds(&self) -> Bounds {
        Bounds::of_points(self.outer.iter().copied()).expect("a polygon has points")
    }

    /// The polygon turned and moved.
    #[must_use]
    pub fn placed(&self, placement: &Placement) -> Self {
        let map = |ring: &Vec<Point>| ring.iter().map(|p| placement.apply(*p)).collect();
        Self {
            outer: map(&self.outer),
            holes: self.holes.iter().map(map).collect(),
        }
    }

    /// The same shape for the `geo` crate.
    #[must_use]
    pub fn to_geo(&self) -> geo::Polygon<f64> {
        let ring = |points: &Vec<Point>| {
            geo::LineString::from_iter(points.iter().map(|p| geo::coord! { x: p.x, y: p.y }))
        };
        geo::Polygon::new(ring(&self.outer), self.holes.iter().map(ring).collect())
    }

    /// The shape that the `geo` crate gave back, rings turned to their proper direction.
    #[must_use]
    pub fn from_geo(polygon: &geo::Polygon<f64>) -> Self {
        let ring = |line: &geo::LineString<f64>| {
            let mut points: Vec<Point> = line.coords().map(|c| Point::new(c.x, c.y)).collect();
            if points.len() > 1 && points.first() == points.last() {
                points.pop();
            }
            points
        };
        Self::new(
            ring(polygon.exterior()),
            polygon.interiors().iter().map(ring).collect(),
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shoelace() {
        // Textbook values: the 3-4-5 triangle and the 3 x 2 rectangle both measure 6.
        let triangle = [(0.0, 0.0), (4.0, 0.0), (0.0, 3.0)].map(|(x, y)| Point::new(x, y));
        assert_eq!(signed_area(&triangle), 6.0);
        assert_eq!(Polygon::rectangle(3.0, 2.0).area(), 6.0);
        let back: Vec<Point> = triangle.iter().rev().copied().collect();
        assert_eq!(signed_area(&back), -6.0);
    }

    #[test]
    fn geo_round_trip() {
        let p = Polygon::new(
            Polygon::rectangle(10.0, 8.0).outer,
            vec![
                Bounds::new(Point::new(2.0, 2.0), Point::new(4.0, 5.0))
                    .corners()
                    .to_vec(),
            ],
        );
        assert_eq!(Polygon::from_geo(&p.to_geo()).area(), p.area());
    }
}

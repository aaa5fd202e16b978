//! A part's shape: one outer ring and its holes.

use crate::{Bounds, Path, Placement, Point, Ring};

/// One outer ring and its holes, with true arcs.
///
/// Guaranteed by the constructors here and by [`Outline::from_rings`]: the outer ring runs
/// counter-clockwise and the holes clockwise. Merely expected: that no ring crosses itself or
/// another, and that the holes lie inside; [`crate::validate`] checks that.
#[derive(Debug, Clone, PartialEq)]
pub struct Outline {
    /// The outside cut, counter-clockwise.
    pub outer: Ring,
    /// Inside cuts, each clockwise.
    pub holes: Vec<Ring>,
    /// Lines that are scored or engraved, not cut through.
    pub marks: Vec<Path>,
}

impl Outline {
    /// An outline of these rings, each turned to its proper direction.
    #[must_use]
    pub fn from_rings(outer: Ring, holes: Vec<Ring>) -> Self {
        Self {
            outer: outer.oriented(true),
            holes: holes.into_iter().map(|h| h.oriented(false)).collect(),
            marks: Vec::new(),
        }
    }

    /// A plain rectangle with its lower left corner at the origin.
    #[must_use]
    pub fn rectangle(width: f64, height: f64) -> Self {
        let corner = Point::new(width, height);
        Self::from_rings(
            Ring::rounded_rectangle(Point::default(), corner, 0.0),
            Vec::new(),
        )
    }

    /// A polygon without holes.
    pub fn polygon(points: impl IntoIterator<Item = Point>) -> Self {
        Self::from_rings(Ring::polygon(points), Vec::new())
    }

    /// The outer ring, then the holes.
    pub fn rings(&self) -> impl Iterator<Item = &Ring> {
        std::iter::once(&self.outer).chain(&self.holes)
    }

    /// Exact area less the holes.
    #[must_use]
    pub fn area(&self) -> f64 {
        self.outer.area() - self.holes.iter().map(Ring::area).sum::<f64>()
    }

    /// Exact length of all cuts, outside and inside.
    #[must_use]
    pub fn cut_length(&self) -> f64 {
        self.rings().map(Ring::length).sum()
    }

    /// Exact bounding rectangle of the outer ring.
    ///
    /// # Panics
    /// When the outer ring has no vertices, which [`validate`](crate::validate) rules out.
    #[must_use]
    pub fn bounds(&self) -> Bounds {
        self.outer.bounds()
    }

    /// The outline turned and moved.
    #[must_use]
    pub fn placed(&self, placement: &Placement) -> Self {
        Self {
            outer: self.outer.placed(placement),
            holes: self.holes.iter().map(|h| h.placed(placement)).collect(),
            marks: self.marks.iter().map(|m| m.placed(placement)).collect(),
        }
    }

    /// The other hand of the part: reflected at the y axis.
    ///
    /// This makes a different part; laying a part down never reflects it.
    #[must_use]
    pub fn mirrored(&self) -> Self {
        Self {
            outer: self.outer.mirrored(),
            holes: self.holes.iter().map(Ring::mirrored).collect(),
            marks: self.marks.iter().map(Path::mirrored).collect(),
        }
    }

    /// The same outline moved so that its bounds begin at the origin.
    ///
    /// # Panics
    /// As for [`Outline::bounds`].
    #[must_use]
    pub fn at_origin(&self) -> Self {
        let min = self.bounds().min;
        self.placed(&Placement::new(0.0, Point::new(-min.x, -min.y)))
    }

    /// Whether the outer ring is an upright rectangle within `tol`.
    ///
    /// # Panics
    /// As for [`Outline::bounds`].
    #[must_use]
    pub fn is_rectangle(&self, tol: f64) -> bool {
        let bounds = self.bounds();
        let near = |a: Point, b: Point| a.distance(b) <= tol;
        self.outer.vertices.iter().all(|v| v.bulge == 0.0)
            && (bounds.area() - self.outer.area()).abs() <= tol * (bounds.width() + bounds.height())
            && bounds
                .corners()
                .iter()
                .all(|c| self.outer.vertices.iter().any(|v| near(v.point, *c)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn knows_a_rectangle() {
        assert!(Outline::rectangle(100.0, 60.0).is_rectangle(1e-6));
        let turned = Outline::rectangle(100.0, 60.0).placed(&Placement::new(1.0, Point::default()));
        assert!(!turned.is_rectangle(1e-6));
        let l = [
            (0.0, 0.0),
            (9.0, 0.0),
            (9.0, 3.0),
            (3.0, 3.0),
            (3.0, 9.0),
            (0.0, 9.0),
        ];
        assert!(!Outline::polygon(l.map(|(x, y)| Point::new(x, y))).is_rectangle(1e-6));
    }
}

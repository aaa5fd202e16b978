//! Where a part lies: turned, then moved. Never reflected: a part keeps its good face up.

use crate::{Point, Vec2};

/// A rigid motion: a turn about the origin, then a move.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Placement {
    angle_deg: f64,
    cos: f64,
    sin: f64,
    /// Where the drawing's origin comes to lie.
    pub origin: Point,
}

impl Placement {
    /// Turned counter-clockwise by `angle_deg` degrees, then moved so that the drawing's origin
    /// lies at `origin`.
    ///
    /// Quarter turns are exact: their sine and cosine are whole numbers.
    #[must_use]
    pub fn new(angle_deg: f64, origin: Point) -> Self {
        // A hair below 0 comes to 360 by rounding.
        let angle_deg = match angle_deg.rem_euclid(360.0) {
            360.0 => 0.0,
            angle => angle,
        };
        let (sin, cos) = match angle_deg {
            0.0 => (0.0, 1.0),
            90.0 => (1.0, 0.0),
            180.0 => (0.0, -1.0),
            270.0 => (-1.0, 0.0),
            other => other.to_radians().sin_cos(),
        };
        Self {
            angle_deg,
            cos,
            sin,
            origin,
        }
    }

    /// No turn and no move.
    #[must_use]
    pub fn identity() -> Self {
        Self::new(0.0, Point::default())
    }

    /// The turn in degrees, in [0, 360).
    #[must_use]
    pub const fn angle_deg(&self) -> f64 {
        self.angle_deg
    }

    /// The place where `point` of the drawing comes to lie.
    #[must_use]
    pub fn apply(&self, point: Point) -> Point {
        self.origin + self.turn(point.to_vec())
    }

    /// A displacement of the drawing, turned.
    #[must_use]
    pub fn turn(&self, v: Vec2) -> Vec2 {
        Vec2::new(
            self.cos * v.x - self.sin * v.y,
            self.sin * v.x + self.cos * v.y,
        )
    }

    /// The same turn, moved further by `by`.
    #[must_use]
    pub fn moved(mut self, by: Vec2) -> Self {
        self.origin += by;
        self
    }

    /// This motion followed by `next`.
    #[must_use]
    pub fn then(&self, next: &Self) -> Self {
        Self::new(self.angle_deg + next.angle_deg, next.apply(self.origin))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quarter_turns_are_exact() {
        let width = 1219.2;
        let p = Placement::new(450.0, Point::new(0.0, 0.0)).apply(Point::new(width, 0.0));
        assert_eq!(p, Point::new(0.0, width));
        let back = Placement::new(-90.0, Point::default()).apply(p);
        assert_eq!(back, Point::new(width, 0.0));
        assert_eq!(
            Placement::new(-1e-18, Point::default()),
            Placement::identity()
        );
    }

    #[test]
    fn motions_compose() {
        let a = Placement::new(30.0, Point::new(5.0, -2.0));
        let b = Placement::new(65.0, Point::new(-1.0, 9.0));
        let p = Point::new(3.0, 4.0);
        assert!(a.then(&b).apply(p).distance(b.apply(a.apply(p))) < 1e-12);
    }
}

//! Plane maps: the transforms of blocks and groups.

use crate::{Point, Vec2};

/// x' = a x + c y + e, y' = b x + d y + f (the letters of the SVG `matrix`).
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Affine {
    pub a: f64,
    pub b: f64,
    pub c: f64,
    pub d: f64,
    pub e: f64,
    pub f: f64,
}

impl Affine {
    pub const IDENTITY: Self = Self::scale(1.0, 1.0);

    pub const fn new(a: f64, b: f64, c: f64, d: f64, e: f64, f: f64) -> Self {
        Self { a, b, c, d, e, f }
    }

    pub const fn scale(x: f64, y: f64) -> Self {
        Self::new(x, 0.0, 0.0, y, 0.0, 0.0)
    }

    pub const fn shift(x: f64, y: f64) -> Self {
        Self::new(1.0, 0.0, 0.0, 1.0, x, y)
    }

    /// A turn counter-clockwise (with y up) by degrees; quarter turns are exact.
    pub fn turn_deg(angle: f64) -> Self {
        let turn = crate::Placement::new(angle, Point::default());
        let x = turn.turn(Vec2::new(1.0, 0.0));
        Self::new(x.x, x.y, -x.y, x.x, 0.0, 0.0)
    }

    /// First `inner`, then this one.
    pub fn after(&self, inner: &Self) -> Self {
        let x = self.vector(Vec2::new(inner.a, inner.b));
        let y = self.vector(Vec2::new(inner.c, inner.d));
        let o = self.point(Point::new(inner.e, inner.f));
        Self::new(x.x, x.y, y.x, y.y, o.x, o.y)
    }

    pub fn point(&self, p: Point) -> Point {
        let v = self.vector(p.to_vec());
        Point::new(v.x + self.e, v.y + self.f)
    }

    pub fn vector(&self, v: Vec2) -> Vec2 {
        Vec2::new(self.a * v.x + self.c * v.y, self.b * v.x + self.d * v.y)
    }

    pub fn determinant(&self) -> f64 {
        self.a * self.d - self.b * self.c
    }

    /// Whether circles stay circles, within rounding.
    pub fn keeps_circles(&self) -> bool {
        let x = Vec2::new(self.a, self.b);
        let y = Vec2::new(self.c, self.d);
        let size = x.dot(x) + y.dot(y);
        // Transforms in files are written with six digits or so; the radius then is off by as
        // little, 0.001 mm at one metre.
        (x.dot(x) - y.dot(y)).abs() <= 1e-6 * size && x.dot(y).abs() <= 1e-6 * size
    }

    pub fn is_finite(&self) -> bool {
        [self.a, self.b, self.c, self.d, self.e, self.f]
            .iter()
            .all(|v| v.is_finite())
    }
}

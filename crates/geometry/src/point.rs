//! Places and displacements, kept apart so that a place is never added to a place.

use std::ops::{Add, AddAssign, Mul, Neg, Sub};

/// A place, in millimetres.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Point {
    /// Distance to the right of the origin.
    pub x: f64,
    /// Distance above the origin.
    pub y: f64,
}

/// A displacement, in millimetres.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Vec2 {
    /// To the right.
    pub x: f64,
    /// Upwards.
    pub y: f64,
}

impl Point {
    /// The place at `x`, `y`.
    #[must_use]
    pub const fn new(x: f64, y: f64) -> Self {
        Self { x, y }
    }

    /// Distance to `other`.
    #[must_use]
    pub fn distance(self, other: Self) -> f64 {
        (other - self).length()
    }

    /// The place half-way to `other`.
    #[must_use]
    pub fn midpoint(self, other: Self) -> Self {
        Self::new(0.5 * (self.x + other.x), 0.5 * (self.y + other.y))
    }

    /// Whether both coordinates are finite.
    #[must_use]
    pub fn is_finite(self) -> bool {
        self.x.is_finite() && self.y.is_finite()
    }

    /// The displacement from the origin to here.
    #[must_use]
    pub const fn to_vec(self) -> Vec2 {
        Vec2::new(self.x, self.y)
    }
}

impl Vec2 {
    /// The displacement by `x`, `y`.
    #[must_use]
    pub const fn new(x: f64, y: f64) -> Self {
        Self { x, y }
    }

    /// Length of the displacement.
    #[must_use]
    pub fn length(self) -> f64 {
        self.x.hypot(self.y)
    }

    /// Scalar product.
    #[must_use]
    pub fn dot(self, other: Self) -> f64 {
        self.x * other.x + self.y * other.y
    }

    /// Signed area of the parallelogram; positive when `other` points to the left of `self`.
    #[must_use]
    pub fn cross(self, other: Self) -> f64 {
        self.x * other.y - self.y * other.x
    }

    /// The same displacement turned by a quarter, counter-clockwise.
    #[must_use]
    pub const fn left(self) -> Self {
        Self::new(-self.y, self.x)
    }

    /// The same direction with length 1; zero stays zero.
    #[must_use]
    pub fn normalized(self) -> Self {
        let length = self.length();
        if length > 0.0 {
            self * (1.0 / length)
        } else {
            self
        }
    }

    /// Direction in radians, counter-clockwise from the x axis, in (-pi, pi].
    #[must_use]
    pub fn angle(self) -> f64 {
        self.y.atan2(self.x)
    }

    /// The displacement of length `length` in the direction `angle` (radians).
    #[must_use]
    pub fn from_angle(angle: f64, length: f64) -> Self {
        Self::new(length * angle.cos(), length * angle.sin())
    }
}

impl Sub for Point {
    type Output = Vec2;
    fn sub(self, other: Self) -> Vec2 {
        Vec2::new(self.x - other.x, self.y - other.y)
    }
}

impl Add<Vec2> for Point {
    type Output = Self;
    fn add(self, by: Vec2) -> Self {
        Self::new(self.x + by.x, self.y + by.y)
    }
}

impl Sub<Vec2> for Point {
    type Output = Self;
    fn sub(self, by: Vec2) -> Self {
        Self::new(self.x - by.x, self.y - by.y)
    }
}

impl AddAssign<Vec2> for Point {
    fn add_assign(&mut self, by: Vec2) {
        *self = *self + by;
    }
}

impl Add for Vec2 {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self::new(self.x + other.x, self.y + other.y)
    }
}

impl Sub for Vec2 {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self::new(self.x - other.x, self.y - other.y)
    }
}

impl Mul<f64> for Vec2 {
    type Output = Self;
    fn mul(self, by: f64) -> Self {
        Self::new(self.x * by, self.y * by)
    }
}

impl Neg for Vec2 {
    type Output = Self;
    fn neg(self) -> Self {
        Self::new(-self.x, -self.y)
    }
}

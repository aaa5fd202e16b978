//! A closed chain of lines and arcs.

use crate::{Bounds, Placement, Point, Segment};

/// A corner of a ring and the bulge of the segment that leaves it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Vertex {
    /// The corner.
    pub point: Point,
    /// Bulge of the segment to the next corner; 0 for a line.
    pub bulge: f64,
}

impl Vertex {
    /// A corner followed by a line (`bulge` 0) or an arc.
    #[must_use]
    pub const fn new(x: f64, y: f64, bulge: f64) -> Self {
        Self {
            point: Point::new(x, y),
            bulge,
        }
    }
}

/// A closed chain of lines and arcs; the last vertex joins the first.
///
/// Nothing is guaranteed beyond that: [`crate::validate`] says whether it can be cut. Two vertices
/// are enough when both their segments are arcs (a circle).
#[derive(Debug, Clone, PartialEq)]
pub struct Ring {
    /// The corners in order, without a repeated last one.
    pub vertices: Vec<Vertex>,
}

impl Ring {
    /// The ring through `vertices`.
    #[must_use]
    pub const fn new(vertices: Vec<Vertex>) -> Self {
        Self { vertices }
    }

    /// A ring of straight lines through `points`.
    pub fn polygon(points: impl IntoIterator<Item = Point>) -> Self {
        Self::new(
            points
                .into_iter()
                .map(|point| Vertex { point, bulge: 0.0 })
                .collect(),
        )
    }

    /// The counter-clockwise circle.
    #[must_use]
    pub fn circle(center: Point, radius: f64) -> Self {
        Self::new(vec![
            Vertex::new(center.x + radius, center.y, 1.0),
            Vertex::new(center.x - radius, center.y, 1.0),
        ])
    }

    /// The counter-clockwise rectangle from `min` to `max`, its corners rounded by `radius`.
    ///
    /// A radius of 0 leaves square corners; one above half the shorter side is lowered to it.
    #[must_use]
    pub fn rounded_rectangle(min: Point, max: Point, radius: f64) -> Self {
        let Bounds { min, max } = Bounds::new(min, max);
        let r = radius.min(0.5 * (max.x - min.x)).min(0.5 * (max.y - min.y));
        if r <= 0.0 {
            return Self::polygon(Bounds { min, max }.corners());
        }
        let quarter = (std::f64::consts::PI / 8.0).tan();
        let mut ring = Self::new(vec![
            Vertex::new(min.x + r, min.y, 0.0),
            Vertex::new(max.x - r, min.y, quarter),
            Vertex::new(max.x, min.y + r, 0.0),
            Vertex::new(max.x, max.y - r, quarter),
            Vertex::new(max.x - r, max.y, 0.0),
            Vertex::new(min.x + r, max.y, quarter),
            Vertex::new(min.x, max.y - r, 0.0),
            Vertex::new(min.x, min.y + r, quarter),
        ]);
        ring.drop_coincident();
        ring
    }

    /// The segments in order; as many as vertices.
    pub fn segments(&self) -> impl Iterator<Item = Segment> + '_ {
        let n = self.vertices.len();
        (0..n).map(move |i| {
            let from = self.vertices[i];
            Segment::arc(from.point, self.vertices[(i + 1) % n].point, from.bulge)
        })
    }

    /// Exact signed area, positive when counter-clockwise.
    #[must_use]
    pub fn signed_area(&self) -> f64 {
        // Measured from the first corner, so that far from the origin no digits are lost.
        let Some(first) = self.vertices.first() else {
            return 0.0;
        };
        let origin = first.point.to_vec();
        self.segments()
            .map(|s| Segment::arc(s.start - origin, s.end - origin, s.bulge).area_term())
            .sum()
    }

    /// Exact area, never negative.
    #[must_use]
    pub fn area(&self) -> f64 {
        self.signed_area().abs()
    }

    /// Exact length all round.
    #[must_use]
    pub fn length(&self) -> f64 {
        self.segments().map(|s| s.length()).sum()
    }

    /// Exact bounding rectangle.
    ///
    /// # Panics
    /// When the ring has no vertices.
    #[must_use]
    pub fn bounds(&self) -> Bounds {
        self.segments()
            .map(|s| s.bounds())
            .reduce(Bounds::union)
            .expect("a ring has vertices")
    }

    /// Whether it runs counter-clockwise.
    #[must_use]
    pub fn is_ccw(&self) -> bool {
        self.signed_area() > 0.0
    }

    /// The same curve run the other way.
    #[must_use]
    pub fn reversed(&self) -> Self {
        let n = self.vertices.len();
        Self::new(
            (0..n)
                .map(|i| {
                    let here = n - 1 - i;
                    // The segment that arrived here now leaves.
                    let arriving = self.vertices[(here + n - 1) % n];
                    Vertex {
                        point: self.vertices[here].point,
                        bulge: -arriving.bulge,
                    }
                })
                .collect(),
        )
    }

    /// The same curve, counter-clockwise if `ccw`, else clockwise.
    #[must_use]
    pub fn oriented(self, ccw: bool) -> Self {
        if self.is_ccw() == ccw {
            self
        } else {
            self.reversed()
        }
    }

    /// The ring turned and moved.
    #[must_use]
    pub fn placed(&self, placement: &Placement) -> Self {
        Self::new(
            self.vertices
                .iter()
                .map(|v| Vertex {
                    point: placement.apply(v.point),
                    bulge: v.bulge,
                })
                .collect(),
        )
    }

    /// The ring reflected at the y axis (x changes sign), with its direction of travel kept.
    #[must_use]
    pub fn mirrored(&self) -> Self {
        Self::new(
            self.vertices
                .iter()
                .map(|v| Vertex {
                    point: Point::new(-v.point.x, v.point.y),
                    bulge: -v.bulge,
                })
                .collect(),
        )
        .reversed()
    }

    /// Removes vertices whose segment has no length (see [`crate::tolerance::COINCIDENT`]).
    pub fn drop_coincident(&mut self) {
        let n = self.vertices.len();
        if n <= 2 {
            return;
        }
        let keep: Vec<bool> = (0..n)
            .map(|i| {
                let next = self.vertices[(i + 1) % n].point;
                self.vertices[i].point.distance(next) > crate::tolerance::COINCIDENT
            })
            .collect();
        let mut keep = keep.iter();
        self.vertices.retain(|_| *keep.next().unwrap_or(&true));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reversing_flips_the_sign_only() {
        let slot = Ring::rounded_rectangle(Point::new(0.0, 0.0), Point::new(60.0, 20.0), 10.0);
        // Slot 60 x 20 overall with round ends: 40 * 20 + pi * 100 and 2 * 40 + 20 pi.
        assert!((slot.signed_area() - 1_114.159_265_4).abs() < 1e-6);
        assert!((slot.length() - 142.831_853_1).abs() < 1e-6);
        assert!((slot.reversed().signed_area() + slot.signed_area()).abs() < 1e-9);
        assert_eq!(slot.reversed().reversed(), slot);
        assert!((slot.mirrored().signed_area() - slot.signed_area()).abs() < 1e-9);
    }

    #[test]
    fn rounded_rectangle_has_the_textbook_area() {
        // 100 x 60 with corners of radius 8: 6000 - (4 - pi) 64 and 320 - (8 - 2 pi) 8.
        let ring = Ring::rounded_rectangle(Point::new(0.0, 0.0), Point::new(100.0, 60.0), 8.0);
        assert!((ring.area() - 5_945.061_929_8).abs() < 1e-6);
        assert!((ring.length() - 306.265_482_5).abs() < 1e-6);
    }

    #[test]
    fn area_keeps_its_digits_far_from_the_origin() {
        let far = Ring::circle(Point::new(90_000.0, -70_000.0), 0.5);
        assert!((far.area() - std::f64::consts::PI * 0.25).abs() < 1e-9);
    }
}

//! One piece of a ring: a line or a true arc.

use crate::{Bounds, Point, Vec2};
use std::f64::consts::TAU;

/// A line, or an arc given by its bulge, from `start` to `end`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Segment {
    /// Where it begins.
    pub start: Point,
    /// Where it ends.
    pub end: Point,
    /// Tangent of a quarter of the sweep; 0 for a line, positive for counter-clockwise.
    ///
    /// Source: DXF reference, LWPOLYLINE group 42.
    pub bulge: f64,
}

/// Centre form of an arc segment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ArcGeometry {
    /// Centre of the circle.
    pub center: Point,
    /// Radius, positive.
    pub radius: f64,
    /// Direction from the centre to the start, in radians.
    pub start_angle: f64,
    /// Signed sweep in radians, positive counter-clockwise, within (-2 pi, 2 pi).
    pub sweep: f64,
}

impl ArcGeometry {
    /// The point of the circle in direction `angle` (radians).
    #[must_use]
    pub fn point_at(&self, angle: f64) -> Point {
        self.center + Vec2::from_angle(angle, self.radius)
    }

    /// Whether direction `angle` (radians) lies within the sweep, ends included.
    #[must_use]
    pub fn covers(&self, angle: f64) -> bool {
        const SLACK: f64 = 1e-12;
        let from_start = if self.sweep >= 0.0 {
            angle - self.start_angle
        } else {
            self.start_angle - angle
        };
        let turned = from_start.rem_euclid(TAU);
        turned <= self.sweep.abs() + SLACK || turned >= TAU - SLACK
    }
}

impl Segment {
    /// A straight segment.
    #[must_use]
    pub const fn line(start: Point, end: Point) -> Self {
        Self {
            start,
            end,
            bulge: 0.0,
        }
    }

    /// An arc segment; a bulge of 0 makes a line.
    #[must_use]
    pub const fn arc(start: Point, end: Point, bulge: f64) -> Self {
        Self { start, end, bulge }
    }

    /// Whether it is an arc.
    #[must_use]
    pub fn is_arc(&self) -> bool {
        self.bulge != 0.0
    }

    /// Distance between its ends.
    #[must_use]
    pub fn chord(&self) -> f64 {
        self.start.distance(self.end)
    }

    /// Signed sweep in radians; 0 for a line.
    #[must_use]
    pub fn sweep(&self) -> f64 {
        4.0 * self.bulge.atan()
    }

    /// Centre, radius and angles; `None` for a line or where the ends coincide.
    #[must_use]
    pub fn arc_geometry(&self) -> Option<ArcGeometry> {
        let (center, radius) = self.circle()?;
        Some(ArcGeometry {
            center,
            radius,
            start_angle: (self.start - center).angle(),
            sweep: self.sweep(),
        })
    }

    /// Centre and radius of the circle of an arc, without the angles, which take most of the time.
    pub(crate) fn circle(&self) -> Option<(Point, f64)> {
        let chord = self.end - self.start;
        let length = chord.length();
        if self.bulge == 0.0 || length == 0.0 {
            return None;
        }
        let b = self.bulge;
        // Distance from the chord's middle to the centre, to the left of the chord.
        let to_center = length * (1.0 - b * b) / (4.0 * b);
        let center = self.start.midpoint(self.end) + chord.left() * (to_center / length);
        Some((center, length * (1.0 + b * b) / (4.0 * b.abs())))
    }

    /// Exact length.
    #[must_use]
    pub fn length(&self) -> f64 {
        self.circle()
            .map_or_else(|| self.chord(), |(_, radius)| radius * self.sweep().abs())
    }

    /// Exact bounding rectangle.
    #[must_use]
    pub fn bounds(&self) -> Bounds {
        let mut bounds = Bounds::new(self.start, self.end);
        if let Some(arc) = self.arc_geometry() {
            for quarter in 0..4 {
                let angle = f64::from(quarter) * TAU / 4.0;
                if arc.covers(angle) {
                    // The extreme itself, without the rounding of sine and cosine.
                    let p = match quarter {
                        0 => Point::new(arc.center.x + arc.radius, arc.center.y),
                        1 => Point::new(arc.center.x, arc.center.y + arc.radius),
                        2 => Point::new(arc.center.x - arc.radius, arc.center.y),
                        _ => Point::new(arc.center.x, arc.center.y - arc.radius),
                    };
                    bounds = bounds.union(Bounds::new(p, p));
                }
            }
        }
        bounds
    }

    /// The point at `share` of the length, 0 at the start and 1 at the end.
    #[must_use]
    pub fn point_at(&self, share: f64) -> Point {
        match self.arc_geometry() {
            Some(arc) => arc.point_at(arc.start_angle + share * arc.sweep),
            None => self.start + (self.end - self.start) * share,
        }
    }

    /// Direction of travel at `share` of the length, of length 1.
    #[must_use]
    pub fn tangent_at(&self, share: f64) -> Vec2 {
        match self.arc_geometry() {
            Some(arc) => {
                let radial = Vec2::from_angle(arc.start_angle + share * arc.sweep, 1.0);
                if arc.sweep >= 0.0 {
                    radial.left()
                } else {
                    -radial.left()
                }
            }
            None => (self.end - self.start).normalized(),
        }
    }

    /// The same curve run the other way.
    #[must_use]
    pub const fn reversed(&self) -> Self {
        Self {
            start: self.end,
            end: self.start,
            bulge: -self.bulge,
        }
    }

    /// Its share of a ring's signed area: the triangle to the origin plus the arc's cap.
    #[must_use]
    pub fn area_term(&self) -> f64 {
        let triangle = 0.5 * self.start.to_vec().cross(self.end.to_vec());
        let cap = self.arc_geometry().map_or(0.0, |arc| {
            0.5 * arc.radius * arc.radius * (arc.sweep - arc.sweep.sin())
        });
        triangle + cap
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::PI;

    /// Angle in degrees, bulge, and radius, sagitta and length over the chord.
    ///
    /// Source: bulge = tan(sweep / 4) (DXF reference, LWPOLYLINE group 42); the other columns
    /// follow from the circle and were computed independently of this code.
    #[allow(
        clippy::approx_constant,
        reason = "a table as published, not constants"
    )]
    const BULGES: [(f64, f64, f64, f64, f64); 6] = [
        (30.0, 0.131_652_50, 1.931_852, 0.065_826, 1.011_515),
        (60.0, 0.267_949_19, 1.000_000, 0.133_975, 1.047_198),
        (90.0, 0.414_213_56, 0.707_107, 0.207_107, 1.110_721),
        (120.0, 0.577_350_27, 0.577_350, 0.288_675, 1.209_200),
        (180.0, 1.0, 0.5, 0.5, 1.570_796),
        (270.0, 2.414_213_56, 0.707_107, 1.207_107, 3.332_162),
    ];

    #[test]
    fn bulge_table() {
        for (degrees, bulge, radius, sagitta, length) in BULGES {
            let chord = 3.0;
            let arc = Segment::arc(Point::new(1.0, 2.0), Point::new(1.0 + chord, 2.0), bulge);
            let geometry = arc.arc_geometry().expect("an arc");
            assert!(
                (geometry.sweep.to_degrees() - degrees).abs() < 1e-5,
                "{degrees}"
            );
            assert!((geometry.radius / chord - radius).abs() < 1e-6, "{degrees}");
            assert!((arc.length() / chord - length).abs() < 1e-6, "{degrees}");
            // A counter-clockwise arc from left to right dips below its chord.
            let lowest = arc.point_at(0.5);
            assert!(
                ((2.0 - lowest.y) / chord - sagitta).abs() < 1e-6,
                "{degrees}"
            );
            assert!((geometry.point_at(geometry.start_angle).distance(arc.start)) < 1e-12);
            let end = geometry.point_at(geometry.start_angle + geometry.sweep);
            assert!(end.distance(arc.end) < 1e-12);
        }
    }

    #[test]
    fn bounds_of_an_arc_reach_its_extremes() {
        let half = Segment::arc(Point::new(0.0, 0.0), Point::new(10.0, 0.0), 1.0);
        let bounds = half.bounds();
        assert!((bounds.min.y + 5.0).abs() < 1e-12);
        assert!((bounds.max.y).abs() < 1e-12);
        let other = half.reversed().bounds();
        assert!((other.min.y + 5.0).abs() < 1e-12);
    }

    #[test]
    fn tangents_follow_the_travel() {
        let quarter = Segment::arc(Point::new(5.0, 0.0), Point::new(0.0, 5.0), (PI / 8.0).tan());
        let start = quarter.tangent_at(0.0);
        assert!((start.x).abs() < 1e-12 && (start.y - 1.0).abs() < 1e-12);
        let back = quarter.reversed().tangent_at(1.0);
        assert!((back.y + 1.0).abs() < 1e-12);
    }
}

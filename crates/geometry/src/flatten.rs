//! Curves to chords, never on the wrong side.

use crate::{Outline, Point, Polygon, Ring, Segment, tolerance};

/// No chord errs by less, in millimetres: more points than that takes say nothing.
const LEAST_CHORD: f64 = 1e-5;

/// Which way the chords of a flattened curve may err.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// The polygon never shows less material than the part: outer arcs are circumscribed, holes
    /// inscribed. For everything that keeps other things away.
    Covering,
    /// The polygon never shows more material than the part. For proofs of what cannot fit, and for
    /// the room inside a sheet.
    Within,
}

/// Fewest equal chords of a sweep (radians, positive) that stay within `chord` of radius `radius`.
///
/// From the sagitta r (1 - cos(step / 2)) for inscribed chords; circumscribed ones leave the arc by
/// r (1 / cos(step / 2) - 1), which is larger.
fn chords(radius: f64, sweep: f64, chord: f64, circumscribed: bool) -> usize {
    let cos_half = if circumscribed {
        radius / (radius + chord)
    } else {
        1.0 - chord / radius
    };
    // An arc smaller than the chord error still needs pieces below a quarter turn, or the
    // circumscribed corner would run away to infinity.
    let half_step = cos_half
        .clamp(-1.0, 1.0)
        .acos()
        .min(std::f64::consts::FRAC_PI_4);
    // The tiny slack keeps an exact division from gaining a piece by rounding.
    let count = (sweep / (2.0 * half_step) - 1e-9).ceil();
    (count as usize).max(1)
}

/// An arc's angles from its start to its end, with those between at which it is furthest along an axis: tangents there keep
/// the bounding rectangle of the tangent polygon that of the arc, so that a disc goes where it just fits.
fn quarters(start: f64, sweep: f64) -> Vec<f64> {
    use std::f64::consts::FRAC_PI_2;
    /// Arcs shorter than this, in radians, are not worth a corner.
    const LEAST: f64 = 1e-9;
    let (from, to) = (start.min(start + sweep), start.max(start + sweep));
    let first = (from / FRAC_PI_2).floor();
    let mut angles = vec![from];
    // An arc is a circle at most.
    let between = (0..=5).map(|i| (first + f64::from(i)) * FRAC_PI_2);
    angles.extend(between.filter(|a| *a > from + LEAST && *a < to - LEAST));
    angles.push(to);
    if sweep < 0.0 {
        angles.reverse();
    }
    angles
}

impl Segment {
    /// Appends the points that stand for this segment, without its end.
    ///
    /// `outward`: the corners lie outside the circle (a tangent polygon), otherwise on it.
    fn flatten_into(&self, chord: f64, outward: bool, points: &mut Vec<Point>) {
        points.push(self.start);
        let Some(arc) = self.arc_geometry() else {
            return;
        };
        if outward {
            let quarters = quarters(arc.start_angle, arc.sweep);
            for (from, to) in quarters.iter().zip(&quarters[1..]) {
                let n = chords(arc.radius, (to - from).abs(), chord, outward);
                let step = (to - from) / n as f64;
                let reach = arc.radius / (0.5 * step).cos();
                points.extend((0..n).map(|i| {
                    let angle = from + (i as f64 + 0.5) * step;
                    arc.center + crate::Vec2::from_angle(angle, reach)
                }));
            }
        } else {
            let n = chords(arc.radius, arc.sweep.abs(), chord, outward);
            let step = arc.sweep / n as f64;
            points.extend((1..n).map(|i| arc.point_at(arc.start_angle + i as f64 * step)));
        }
    }
}

impl Ring {
    /// The ring as a polygon within `chord` of it, erring to one side of the material, which is
    /// taken to lie on the ring's left (outer rings counter-clockwise, holes clockwise). A `chord` that is less than
    /// a hundred thousandth of a millimetre, or no number, counts as that.
    #[must_use]
    pub fn flatten(&self, chord: f64, side: Side) -> Vec<Point> {
        let chord = chord.max(LEAST_CHORD);
        let mut points = Vec::with_capacity(self.vertices.len());
        for segment in self.segments() {
            // A counter-clockwise arc bows away from the material, so covering it needs tangents.
            let outward = (segment.bulge > 0.0) == (side == Side::Covering);
            segment.flatten_into(chord, outward, &mut points);
        }
        points
    }
}

impl Outline {
    /// The outline as a polygon within `chord` of it, erring to one side. See [`Side`].
    ///
    /// # Runtime
    /// Linear in the number of points produced.
    #[must_use]
    pub fn flatten(&self, chord: f64, side: Side) -> Polygon {
        Polygon {
            outer: self.outer.flatten(chord, side),
            holes: self.holes.iter().map(|h| h.flatten(chord, side)).collect(),
        }
    }

    /// The polygon others must keep clear of, within [`tolerance::CHORD`].
    #[must_use]
    pub fn covering(&self) -> Polygon {
        self.flatten(tolerance::CHORD, Side::Covering)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn chord_counts_match_the_formula() {
        // n = ceil(pi / acos(1 - t / r)): radius, tolerance, chords of a full circle.
        for (r, t, n) in [
            (5.0, 0.01, 50),
            (50.0, 0.01, 158),
            (50.0, 0.1, 50),
            (500.0, 0.05, 223),
        ] {
            assert_eq!(chords(r, std::f64::consts::TAU, t, false), n, "r {r} t {t}");
        }
    }

    #[test]
    fn sides_bracket_the_true_area() {
        let mut plate = Outline::from_rings(
            Ring::rounded_rectangle(Point::new(0.0, 0.0), Point::new(300.0, 200.0), 40.0),
            vec![Ring::circle(Point::new(150.0, 100.0), 60.0)],
        );
        // A concave bite in the lower edge.
        plate
            .outer
            .vertices
            .insert(1, crate::Vertex::new(120.0, 0.0, -0.5));
        plate
            .outer
            .vertices
            .insert(2, crate::Vertex::new(180.0, 0.0, 0.0));
        let over = plate.flatten(0.02, Side::Covering).area();
        let under = plate.flatten(0.02, Side::Within).area();
        assert!(over >= plate.area() && under <= plate.area());
        assert!(over - under < 0.05 * plate.cut_length());
    }

    #[test]
    fn a_tangent_polygon_is_as_wide_as_its_arc() {
        // A circle from any angle on, and a half disc, whose flat side says how it lies.
        for turn in [0.0, 0.3, 1.0, 2.5] {
            let at = |angle: f64, bulge| {
                let p = Point::new(3.0, 4.0) + crate::Vec2::from_angle(angle, 100.0);
                crate::Vertex::new(p.x, p.y, bulge)
            };
            let (a, b) = (turn, turn + std::f64::consts::PI);
            for bulges in [[1.0, 1.0], [1.0, 0.0], [0.0, 1.0]] {
                let ring = Ring::new(vec![at(a, bulges[0]), at(b, bulges[1])]);
                let (seen, is) = (ring.flatten(0.02, Side::Covering), ring.bounds());
                let seen = crate::Bounds::of_points(seen).expect("points");
                let near = |p: Point, q: Point| p.distance(q) < 1e-9;
                assert!(
                    near(seen.min, is.min) && near(seen.max, is.max),
                    "{seen:?} {is:?}"
                );
            }
        }
    }

    #[test]
    fn corners_stay_within_the_chord_error() {
        for radius in [0.01, 0.5, 8.0, 900.0] {
            let circle = Ring::circle(Point::new(3.0, 4.0), radius);
            for side in [Side::Covering, Side::Within] {
                for p in circle.flatten(0.02, side) {
                    let off = p.distance(Point::new(3.0, 4.0)) - radius;
                    assert!(off > -1e-9 && off <= 0.02 + 1e-9, "radius {radius}: {off}");
                }
            }
        }
    }
}

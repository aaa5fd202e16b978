//! Ellipses, splines and Béziers as chains of arcs, within a stated distance.
//!
//! Each stretch of a curve becomes a biarc: two arcs that leave and arrive along the curve's own
//! tangents and meet with a common one, so that the cut has no kinks. A stretch is made as long as
//! the distance allows (galloping, then bisection); the distance is measured on samples of the true
//! curve, again and denser once a stretch is chosen.
//!
//! Source of the biarc (from memory): K. M. Bolton, "Biarc curves", Computer-Aided Design 7 (1975)
//! 89-92, in the variant with equal tangent lengths; the formulas were derived anew.

mod bezier;
mod ellipse;

pub(crate) use bezier::{Bezier, MAX_DEGREE, fit_beziers};
pub(crate) use ellipse::EllipseArc;

use crate::{Point, Segment, Vec2, Vertex, tolerance};
use std::f64::consts::PI;

/// Samples of a stretch while searching for its length. Fewer miss the extremes of an S-shaped
/// stretch; more only cost time, as the final check is denser.
const SEARCH_SAMPLES: usize = 12;

/// Samples of a stretch in the final check.
const FINAL_SAMPLES: usize = 48;

/// Part of the tolerance that the search may use, so that the final check rarely fails.
const SEARCH_SHARE: f64 = 0.95;

/// Stretches shorter than this share of a curve become a line, whatever their shape: cusps.
const LEAST_STRETCH: f64 = 1e-7;

/// Stretches that nothing fits, per curve, before the fit is given up with an infinite error. A
/// cusp costs one or two; a curve of weights out of all proportion would never end.
const MOST_FAILURES: usize = 200;

/// A smooth curve over a range of its parameter.
pub(crate) trait Curve {
    /// The place at parameter `t`.
    fn point(&self, t: f64) -> Point;
    /// Direction of travel at `t`, of any positive length; the `from_left` limit where the two
    /// sides differ.
    fn direction(&self, t: f64, from_left: bool) -> Vec2;
}

/// A curve as lines and arcs, and how far they are from it.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Fitted {
    /// The corners; the last one ends the chain and its bulge is 0.
    pub vertices: Vec<Vertex>,
    /// The largest distance measured, in millimetres; infinite when the fit was given up.
    pub error: f64,
}

/// Fits from each stop to the next; stops grow.
fn fit_stretches<C: Curve>(curve: &C, stops: &[f64], tol: f64) -> Fitted {
    let mut segments = Vec::new();
    let mut error = 0.0_f64;
    let mut failures = 0;
    for pair in stops.windows(2) {
        let (mut from, to) = (pair[0], pair[1]);
        let least = LEAST_STRETCH * (to - from);
        let mut step = to - from;
        while from < to {
            let until = if from + step * 1.01 >= to {
                to
            } else {
                from + step
            };
            let (end, pieces, off) = longest(curve, from, until, to, least, tol);
            failures += usize::from(pieces.len() == 1);
            segments.extend(pieces);
            error = error.max(off);
            if failures > MOST_FAILURES {
                segments.push(Segment::line(curve.point(end), curve.point(to)));
                error = f64::INFINITY;
                break;
            }
            // The next stretch is about as long as this one.
            step = (2.0 * (end - from)).max(least);
            from = end;
        }
    }
    Fitted {
        vertices: chain(&merged(segments), curve, stops),
        error,
    }
}

/// The longest stretch from `from` that fits: its end, its pieces and their measured distance.
fn longest<C: Curve>(
    curve: &C,
    from: f64,
    guess: f64,
    to: f64,
    least: f64,
    tol: f64,
) -> (f64, Vec<Segment>, f64) {
    let fits = |end: f64| {
        biarc(curve, from, end)
            .and_then(|pieces| {
                distance(
                    curve,
                    from,
                    end,
                    &pieces,
                    SEARCH_SAMPLES,
                    SEARCH_SHARE * tol,
                )
            })
            .is_some()
    };
    let mut good = from;
    let mut bad = None;
    let mut end = guess;
    loop {
        if fits(end) {
            good = end;
            if end >= to || bad.is_some() {
                break;
            }
            end = (from + 2.0 * (end - from)).min(to);
        } else {
            bad = Some(end);
            if good > from || end - from <= least {
                break;
            }
            end = 0.5 * (from + end);
        }
    }
    if let Some(mut bad) = bad
        && good > from
    {
        // Being more exact about the longest stretch would not save an arc.
        for _ in 0..6 {
            let middle = 0.5 * (good + bad);
            if fits(middle) {
                good = middle;
            } else {
                bad = middle;
            }
        }
    }
    // The denser check decides; when it fails the stretch is shortened a little and tried again.
    while good > from + least {
        if let Some(pieces) = biarc(curve, from, good)
            && let Some(off) = distance(curve, from, good, &pieces, FINAL_SAMPLES, tol)
        {
            return (good, pieces.to_vec(), off);
        }
        good = from + 0.8 * (good - from);
    }
    // Nothing fits: a cusp. A line over a stretch that is next to nothing.
    let end = if from + least >= to { to } else { from + least };
    let line = [Segment::line(curve.point(from), curve.point(end))];
    let off = distance(curve, from, end, &line, FINAL_SAMPLES, f64::INFINITY).unwrap_or(0.0);
    (end, line.to_vec(), off)
}

/// The two arcs (one line when all is straight) that leave and arrive as the curve does.
fn biarc<C: Curve>(curve: &C, from: f64, to: f64) -> Option<[Segment; 2]> {
    let (p, q) = (curve.point(from), curve.point(to));
    let leaving = curve.direction(from, false).normalized();
    let arriving = curve.direction(to, true).normalized();
    let between = q - p;
    let both = leaving + arriving;
    let along = between.dot(both);
    if along <= 0.0 || leaving.dot(leaving) < 0.5 || arriving.dot(arriving) < 0.5 {
        return None;
    }
    // The tangent length d solves d^2 (2 - 2 leaving.arriving) + 2 d along = between.between.
    let bend = 2.0 * (1.0 - leaving.dot(arriving)).max(0.0);
    let square = between.dot(between);
    let d = square / (along + (along * along + bend * square).sqrt());
    let joint = p.midpoint(q) + (leaving - arriving) * (0.5 * d);
    let first = bulge_between(leaving, (joint - p).normalized())?;
    let second = bulge_between((q - joint).normalized(), arriving)?;
    Some([
        straightened(Segment::arc(p, joint, first)),
        straightened(Segment::arc(joint, q, second)),
    ])
}

/// An arc that is as good as a line as that line.
///
/// Its sagitta, half the chord times the bulge, is less than a coordinate is known by; as an arc
/// its centre would be so far away that no digits are left for the distance from it.
pub(crate) fn straightened(mut segment: Segment) -> Segment {
    let bulge = segment.bulge.abs();
    if bulge < 1e-9 || 0.5 * segment.chord() * bulge <= 1e-7 {
        segment.bulge = 0.0;
    }
    segment
}

/// Bulge of the arc whose tangent and chord have these directions: tan of half the angle between.
fn bulge_between(from: Vec2, to: Vec2) -> Option<f64> {
    let cos = from.dot(to);
    // An arc beyond a half circle stands for a stretch that ought to be split.
    (cos >= 0.0).then(|| from.cross(to) / (1.0 + cos))
}

/// The largest distance of the curve's samples from the pieces; `None` when it is above `limit`, or
/// when the pieces make a detour that the samples would not show.
fn distance<C: Curve>(
    curve: &C,
    from: f64,
    to: f64,
    pieces: &[Segment],
    samples: usize,
    limit: f64,
) -> Option<f64> {
    let pieces_known: Vec<Known> = pieces.iter().map(Known::new).collect();
    let mut largest = 0.0_f64;
    let mut travelled = 0.0;
    let mut previous = curve.point(from);
    for i in 1..=samples {
        let t = from + (to - from) * i as f64 / samples as f64;
        let p = curve.point(t);
        travelled += length(p - previous);
        previous = p;
        if i == samples {
            break;
        }
        let off = pieces_known
            .iter()
            .map(|piece| piece.distance(p))
            .fold(f64::INFINITY, f64::min);
        if off > limit {
            return None;
        }
        largest = largest.max(off);
    }
    let detour: f64 = pieces.iter().map(Segment::length).sum();
    (largest.is_finite() && detour <= 1.2 * travelled + tolerance::COINCIDENT).then_some(largest)
}

/// Length of a vector. The exact one guards against numbers beyond all drawings, which do not get here,
/// and was a third of the time that a drawing with splines takes.
fn length(v: Vec2) -> f64 {
    v.dot(v).sqrt()
}

/// A piece of at most half a circle, with what its distance from a point needs.
struct Known {
    segment: Segment,
    /// Centre and radius.
    arc: Option<(Point, f64)>,
}

impl Known {
    fn new(segment: &Segment) -> Self {
        Self {
            segment: *segment,
            arc: segment.circle(),
        }
    }

    fn distance(&self, p: Point) -> f64 {
        let Segment { start, end, bulge } = self.segment;
        let Some((center, radius)) = self.arc else {
            let along = end - start;
            let share = (p - start).dot(along) / along.dot(along).max(1e-300);
            return length(start + along * share.clamp(0.0, 1.0) - p);
        };
        // Within half a circle the sides of two radii tell what an angle would, much sooner.
        let out = p - center;
        let after = (start - center).cross(out) * bulge;
        let before = out.cross(end - center) * bulge;
        if after >= 0.0 && before >= 0.0 {
            (length(out) - radius).abs()
        } else {
            length(p - start).min(length(p - end))
        }
    }
}

/// Joins neighbours on one line or one circle, and makes arcs that are as good as straight lines.
fn merged(segments: Vec<Segment>) -> Vec<Segment> {
    let mut out: Vec<Segment> = Vec::with_capacity(segments.len());
    for segment in segments {
        if segment.chord() <= 1e-9 {
            continue;
        }
        if let Some(last) = out.last_mut()
            && let Some(joined) = join(last, &segment)
        {
            *last = joined;
            continue;
        }
        out.push(segment);
    }
    out
}

/// The one segment that both make up, when they lie on one line or circle.
fn join(a: &Segment, b: &Segment) -> Option<Segment> {
    const SAME: f64 = 1e-7;
    match (a.arc_geometry(), b.arc_geometry()) {
        (None, None) => {
            let whole = b.end - a.start;
            let off = whole.normalized().cross(a.end - a.start).abs();
            let onward = (a.end - a.start).dot(b.end - b.start) > 0.0;
            (onward && off <= SAME).then(|| Segment::line(a.start, b.end))
        }
        (Some(x), Some(y)) => {
            let sweep = x.sweep + y.sweep;
            let same = (x.sweep > 0.0) == (y.sweep > 0.0)
                && x.center.distance(y.center) <= SAME
                && (x.radius - y.radius).abs() <= SAME
                && sweep.abs() <= PI + 1e-9;
            same.then(|| Segment::arc(a.start, b.end, (0.25 * sweep).tan()))
        }
        _ => None,
    }
}

fn chain<C: Curve>(segments: &[Segment], curve: &C, stops: &[f64]) -> Vec<Vertex> {
    let mut vertices: Vec<Vertex> = segments
        .iter()
        .map(|s| Vertex {
            point: s.start,
            bulge: s.bulge,
        })
        .collect();
    if let Some(last) = stops.last() {
        let point = segments.last().map_or(curve.point(*last), |s| s.end);
        vertices.push(Vertex { point, bulge: 0.0 });
    }
    vertices
}

#[cfg(test)]
mod tests {
    use super::bezier::Joined;
    use super::*;
    use proptest::prelude::*;
    use std::f64::consts::{FRAC_PI_2, TAU};

    fn length(fitted: &Fitted) -> f64 {
        crate::Path {
            vertices: fitted.vertices.clone(),
            closed: false,
        }
        .length()
    }

    fn ring(fitted: &Fitted) -> crate::Ring {
        let mut vertices = fitted.vertices.clone();
        vertices.pop();
        crate::Ring::new(vertices)
    }

    /// Largest kink between neighbouring segments, in radians.
    fn kink(fitted: &Fitted) -> f64 {
        let path = crate::Path {
            vertices: fitted.vertices.clone(),
            closed: false,
        };
        let segments: Vec<_> = path.segments().collect();
        segments
            .windows(2)
            .map(|w| {
                w[0].tangent_at(1.0)
                    .cross(w[1].tangent_at(0.0))
                    .abs()
                    .asin()
            })
            .fold(0.0, f64::max)
    }

    /// Distance of the true curve from the fit, far denser than the fit's own check.
    fn measured<C: Curve>(curve: &C, from: f64, to: f64, fitted: &Fitted) -> f64 {
        let path = crate::Path {
            vertices: fitted.vertices.clone(),
            closed: false,
        };
        let off = |p: Point| {
            path.segments()
                .flat_map(|s| {
                    let ends = [p.distance(s.start), p.distance(s.end)];
                    let between = match s.arc_geometry() {
                        Some(arc) if arc.covers((p - arc.center).angle()) => {
                            (p.distance(arc.center) - arc.radius).abs()
                        }
                        Some(_) => f64::INFINITY,
                        None => {
                            let along = s.end - s.start;
                            let share = (p - s.start).dot(along) / along.dot(along);
                            (s.start + along * share.clamp(0.0, 1.0)).distance(p)
                        }
                    };
                    ends.into_iter().chain([between])
                })
                .fold(f64::INFINITY, f64::min)
        };
        (0..=3000)
            .map(|i| off(curve.point(from + (to - from) * f64::from(i) / 3000.0)))
            .fold(0.0, f64::max)
    }

    #[test]
    fn an_ellipse_keeps_its_area() {
        for (a, b) in [(50.0, 30.0), (100.0, 2.0), (1000.0, 999.0), (0.4, 0.1)] {
            let ellipse = EllipseArc {
                center: Point::new(7.0, -3.0),
                u: Vec2::from_angle(0.3, a),
                v: Vec2::from_angle(0.3 + FRAC_PI_2, b),
                start: 0.7,
                sweep: TAU,
            };
            let fitted = ellipse.fit(0.01);
            assert!(fitted.error <= 0.01, "{a} {b}: {}", fitted.error);
            // Area of an ellipse: pi a b.
            let ring = ring(&fitted);
            assert!((ring.area() - PI * a * b).abs() <= 0.01 * ring.length());
            assert!(
                fitted.vertices.len() <= 57,
                "{a} x {b}: {} arcs",
                fitted.vertices.len()
            );
            assert!(kink(&fitted) < 1e-6);
            assert!(measured(&ellipse, 0.7, 0.7 + TAU, &fitted) <= 0.0101);
        }
    }

    #[test]
    fn a_quarter_that_a_line_and_an_arc_would_span_is_measured() {
        // Equal tangent lengths span a quarter of this ellipse by a line and a quarter circle, a
        // quarter millimetre off: a slot instead of an ellipse.
        let ellipse = EllipseArc {
            center: Point::default(),
            u: Vec2::new(3.0, 0.0),
            v: Vec2::new(0.0, 1.0),
            start: 0.0,
            sweep: TAU,
        };
        let fitted = ellipse.fit(0.01);
        assert!((ring(&fitted).area() - 3.0 * PI).abs() < 0.1);
        assert!(measured(&ellipse, 0.0, TAU, &fitted) <= 0.0101);
    }

    #[test]
    fn a_circular_ellipse_is_two_true_arcs() {
        let circle = EllipseArc {
            center: Point::new(1.0, 2.0),
            u: Vec2::new(0.0, 5.0),
            v: Vec2::new(5.0, 0.0),
            start: 0.0,
            sweep: TAU,
        };
        let fitted = circle.fit(0.01);
        assert_eq!(fitted.vertices.len(), 3);
        // v is a quarter turn clockwise of u, so the whole runs clockwise.
        assert!((fitted.vertices[0].bulge + 1.0).abs() < 1e-12);
        assert_eq!(fitted.error, 0.0);
    }

    #[test]
    fn conjugate_diameters_are_the_same_ellipse() {
        // A circle sheared by x += y: area keeps, as the determinant is 1.
        let sheared = EllipseArc {
            center: Point::default(),
            u: Vec2::new(10.0, 0.0),
            v: Vec2::new(10.0, 10.0),
            start: 0.0,
            sweep: -TAU,
        };
        let fitted = sheared.fit(0.001);
        let ring = ring(&fitted);
        assert!((ring.signed_area() + PI * 100.0).abs() < 0.001 * ring.length());
        assert!(measured(&sheared, 0.0, TAU, &fitted) <= 0.00101);
    }

    #[test]
    fn a_rational_half_circle_is_a_true_arc() {
        // Quarter circle as a rational quadratic: middle weight cos 45 degrees (textbook form).
        let w = (0.5_f64).sqrt();
        let quarter = |a: Point, b: Point, c: Point| Bezier::new(vec![(a, 1.0), (b, w), (c, 1.0)]);
        let r = 10.0;
        let half = [
            quarter(Point::new(r, 0.0), Point::new(r, r), Point::new(0.0, r)),
            quarter(Point::new(0.0, r), Point::new(-r, r), Point::new(-r, 0.0)),
        ];
        let fitted = fit_beziers(&half, 0.01);
        assert!(fitted.error < 1e-7, "{}", fitted.error);
        assert!((length(&fitted) - PI * r).abs() < 1e-6);
        assert!(fitted.vertices.len() <= 3, "{:?}", fitted.vertices);
    }

    #[test]
    fn corners_stay_corners_and_lines_lines() {
        let p = |x: f64, y: f64| Point::new(x, y);
        let straight = [
            Bezier::plain([p(0.0, 0.0), p(1.0, 0.0), p(8.0, 0.0), p(10.0, 0.0)]),
            Bezier::plain([p(10.0, 0.0), p(10.0, 3.0), p(10.0, 10.0)]),
            Bezier::plain([p(10.0, 10.0), p(10.0, 10.0)]),
        ];
        let fitted = fit_beziers(&straight, 0.01);
        assert_eq!(
            fitted.vertices,
            vec![
                Vertex::new(0.0, 0.0, 0.0),
                Vertex::new(10.0, 0.0, 0.0),
                Vertex::new(10.0, 10.0, 0.0)
            ]
        );
    }

    #[test]
    fn a_spline_of_many_pieces_needs_few_arcs() {
        // A circle of 64 cubics, each within 1e-9 of it: smooth joints are smoothed over.
        let k = 4.0 / 3.0 * (TAU / 64.0 / 4.0).tan();
        let at = |i: f64| Vec2::from_angle(TAU * i / 64.0, 100.0);
        let pieces: Vec<Bezier> = (0..64)
            .map(|i| {
                let (a, b) = (at(f64::from(i)), at(f64::from(i + 1)));
                let o = Point::default();
                Bezier::plain([o + a, o + a + a.left() * k, o + b - b.left() * k, o + b])
            })
            .collect();
        let fitted = fit_beziers(&pieces, 0.01);
        assert!(fitted.vertices.len() < 12, "{}", fitted.vertices.len());
        assert!(fitted.error < 0.01);
    }

    #[test]
    fn cusps_and_loops_come_out() {
        let p = |x: f64, y: f64| Point::new(x, y);
        for points in [
            [p(0.0, 0.0), p(10.0, 10.0), p(0.0, 10.0), p(10.0, 0.0)], // cusp-like
            [p(0.0, 0.0), p(30.0, 10.0), p(-20.0, 10.0), p(10.0, 0.0)], // loop
            [p(0.0, 0.0), p(0.0, 0.0), p(10.0, 0.0), p(10.0, 10.0)],  // no speed at the start
            [p(0.0, 0.0), p(10.0, 0.0), p(10.0, 0.0), p(0.0, 0.0)],   // out and back
        ] {
            let curve = [Bezier::plain(points)];
            let fitted = fit_beziers(&curve, 0.01);
            assert!(fitted.error <= 0.01, "{points:?}: {}", fitted.error);
            assert!(measured(&Joined(&curve), 0.0, 1.0, &fitted) <= 0.0101);
            assert!(
                fitted.vertices.len() < 80,
                "{points:?} {}",
                fitted.vertices.len()
            );
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(12))]
        #[test]
        fn any_cubic_stays_within_the_tolerance(c in prop::collection::vec((-200.0..200.0, -200.0..200.0), 4)) {
            let curve = [Bezier::plain(c.iter().map(|&(x, y)| Point::new(x, y)))];
            let fitted = fit_beziers(&curve, 0.01);
            prop_assert!(fitted.error <= 0.01);
            prop_assert!(measured(&Joined(&curve), 0.0, 1.0, &fitted) <= 0.0102);
            prop_assert!(fitted.vertices.len() < 150, "{} arcs", fitted.vertices.len());
        }
    }
}

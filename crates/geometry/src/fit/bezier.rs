//! Bézier curves, alone and end to end.

use super::{Curve, Fitted, fit_stretches};
use crate::{Point, Vec2, Vertex};

/// Tangents of neighbouring Béziers that differ by less (radians) make a smooth joint. A visible
/// corner is larger, the rounding of a drawing's coordinates smaller.
const SMOOTH_ANGLE: f64 = 1e-3;

/// A Bézier curve of any degree, with or without weights.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Bezier {
    points: Vec<(Point, f64)>,
    is_rational: bool,
}

impl Bezier {
    /// One of these control points and weights; at least two, at most [`MAX_DEGREE`] + 1, weights
    /// positive.
    pub fn new(points: Vec<(Point, f64)>) -> Self {
        let is_rational = points.iter().any(|(_, w)| (w - 1.0).abs() > 1e-12);
        Self {
            points,
            is_rational,
        }
    }

    /// One without weights.
    pub fn plain(points: impl IntoIterator<Item = Point>) -> Self {
        Self::new(points.into_iter().map(|p| (p, 1.0)).collect())
    }

    /// The control points.
    pub fn points(&self) -> impl Iterator<Item = Point> + '_ {
        self.points.iter().map(|(p, _)| *p)
    }

    /// All that makes it up: how many control points, and their coordinates and weights.
    pub fn numbers(&self) -> impl Iterator<Item = f64> + '_ {
        let points = self.points.iter().flat_map(|(p, w)| [p.x, p.y, *w]);
        std::iter::once(self.points.len() as f64).chain(points)
    }

    /// The same curve with its control points mapped by an affine map.
    pub fn mapped(&self, map: impl Fn(Point) -> Point) -> Self {
        Self {
            points: self.points.iter().map(|(p, w)| (map(*p), *w)).collect(),
            is_rational: self.is_rational,
        }
    }

    /// Where it begins.
    pub fn start(&self) -> Point {
        self.points[0].0
    }

    /// Where it ends.
    pub fn end(&self) -> Point {
        self.points[self.points.len() - 1].0
    }

    /// The place at `t` in 0..=1.
    pub fn at(&self, t: f64) -> Point {
        let origin = self.start();
        let s = 1.0 - t;
        // Bernstein polynomials for what nearly all drawings are made of.
        match self.points.as_slice() {
            [_, (b, _), (c, _)] if !self.is_rational => {
                return origin + (*b - origin) * (2.0 * s * t) + (*c - origin) * (t * t);
            }
            [_, (b, _), (c, _), (d, _)] if !self.is_rational => {
                return origin
                    + (*b - origin) * (3.0 * s * s * t)
                    + (*c - origin) * (3.0 * s * t * t)
                    + (*d - origin) * (t * t * t);
            }
            _ => {}
        }
        // De Casteljau's scheme in homogeneous coordinates about the first control point.
        let mut work: [(Vec2, f64); MAX_DEGREE + 1] = [(Vec2::new(0.0, 0.0), 0.0); MAX_DEGREE + 1];
        let n = self.points.len().min(work.len());
        for (slot, (p, w)) in work.iter_mut().zip(&self.points) {
            *slot = ((*p - origin) * *w, *w);
        }
        for level in (1..n).rev() {
            for i in 0..level {
                let (a, b) = (work[i], work[i + 1]);
                work[i] = (a.0 * s + b.0 * t, a.1 * s + b.1 * t);
            }
        }
        origin + work[0].0 * (1.0 / work[0].1)
    }

    /// Direction of travel at `t` in 0..=1; where the speed is nought, towards the next place.
    fn direction_at(&self, t: f64) -> Vec2 {
        if t <= 0.0 {
            return self.leaving(self.points.iter());
        }
        if t >= 1.0 {
            return -self.leaving(self.points.iter().rev());
        }
        if let ([(a, _), (b, _), (c, _), (d, _)], false) =
            (self.points.as_slice(), self.is_rational)
        {
            let s = 1.0 - t;
            return (*b - *a) * (s * s) + (*c - *b) * (2.0 * s * t) + (*d - *c) * (t * t);
        }
        // The central difference is exact enough for a tangent: its error is of the order of the
        // squared step, 1e-10 of the curve's size.
        let h = 1e-5_f64.min(t).min(1.0 - t);
        self.at(t + h) - self.at(t - h)
    }

    fn leaving<'a>(&self, mut points: impl Iterator<Item = &'a (Point, f64)>) -> Vec2 {
        let Some((from, _)) = points.next() else {
            return Vec2::new(0.0, 0.0);
        };
        points
            .map(|(p, _)| *p - *from)
            .find(|d| d.length() > 1e-9)
            .unwrap_or(Vec2::new(0.0, 0.0))
    }
}

/// The highest degree of a Bézier that is read. Drawing programs write 3, rarely 5; files may say
/// anything.
pub(crate) const MAX_DEGREE: usize = 15;

/// Béziers end to end, as one curve with parameter 0 to their number.
pub(super) struct Joined<'a>(pub &'a [Bezier]);

impl Joined<'_> {
    fn locate(&self, t: f64, from_left: bool) -> (&Bezier, f64) {
        let last = self.0.len() - 1;
        let whole = t.floor();
        let mut index = (whole.max(0.0) as usize).min(last);
        let mut local = t - index as f64;
        if from_left && local <= 0.0 && index > 0 {
            index -= 1;
            local = 1.0;
        }
        (&self.0[index], local.clamp(0.0, 1.0))
    }
}

impl Curve for Joined<'_> {
    fn point(&self, t: f64) -> Point {
        let (bezier, local) = self.locate(t, false);
        bezier.at(local)
    }
    fn direction(&self, t: f64, from_left: bool) -> Vec2 {
        let (bezier, local) = self.locate(t, from_left);
        bezier.direction_at(local)
    }
}

/// Béziers that follow each other, as lines and arcs within `tol`.
///
/// Smooth joints are smoothed over, so that a spline of many short pieces does not cost two arcs
/// for each. Pieces without length are left out; an empty list gives no vertices.
pub(crate) fn fit_beziers(beziers: &[Bezier], tol: f64) -> Fitted {
    let real: Vec<Bezier> = beziers
        .iter()
        .filter(|b| b.points().any(|p| p.distance(b.start()) > 1e-9))
        .cloned()
        .collect();
    let Some(first) = real.first() else {
        return Fitted {
            vertices: Vec::new(),
            error: 0.0,
        };
    };
    let mut fitted = Fitted {
        vertices: vec![Vertex {
            point: first.at(0.0),
            bulge: 0.0,
        }],
        error: 0.0,
    };
    let mut begin = 0;
    for end in 1..=real.len() {
        let corner = end == real.len() || {
            let arriving = real[end - 1].direction_at(1.0).normalized();
            let leaving = real[end].direction_at(0.0).normalized();
            arriving.dot(leaving) < 0.0 || arriving.cross(leaving).abs() > SMOOTH_ANGLE
        };
        if corner {
            let run = Joined(&real[begin..end]);
            let part = fit_stretches(&run, &[0.0, (end - begin) as f64], tol);
            fitted.error = fitted.error.max(part.error);
            fitted.vertices.pop();
            fitted.vertices.extend(part.vertices);
            begin = end;
        }
    }
    fitted
}

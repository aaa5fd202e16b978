//! Arcs of ellipses.

use super::{Curve, Fitted, fit_stretches};
use crate::{Point, Vec2, Vertex};
use std::f64::consts::{FRAC_PI_2, PI, TAU};

/// An arc of an ellipse: `center + u cos t + v sin t`, `t` from `start` by `sweep`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct EllipseArc {
    pub center: Point,
    /// Half an axis, or any one of two conjugate half diameters.
    pub u: Vec2,
    /// The other one.
    pub v: Vec2,
    /// Parameter of the first point, radians.
    pub start: f64,
    /// Signed range of the parameter, radians; `2 pi` or more is the whole ellipse.
    pub sweep: f64,
}

impl Curve for EllipseArc {
    fn point(&self, t: f64) -> Point {
        self.center + self.u * t.cos() + self.v * t.sin()
    }

    fn direction(&self, t: f64, _from_left: bool) -> Vec2 {
        self.v * t.cos() - self.u * t.sin()
    }
}

impl EllipseArc {
    /// The same arc over its principal axes.
    ///
    /// The shift of the parameter that makes the half diameters square to each other follows from
    /// maximising |u cos t + v sin t|: tan 2t = 2 u.v / (u.u - v.v).
    fn principal(self) -> Self {
        let turn = 0.5 * (2.0 * self.u.dot(self.v)).atan2(self.u.dot(self.u) - self.v.dot(self.v));
        let (sin, cos) = turn.sin_cos();
        Self {
            u: self.u * cos + self.v * sin,
            v: self.v * cos - self.u * sin,
            start: self.start - turn,
            ..self
        }
    }

    /// The bulge of a true arc when this is one, within a rounding of `slack` millimetres.
    fn is_circular(&self, slack: f64) -> bool {
        let (a, b) = (self.u.length(), self.v.length());
        (a - b).abs() <= slack && self.u.dot(self.v).abs() <= slack * a.max(b)
    }

    /// As lines and arcs within `tol`; a circular one exactly.
    pub fn fit(&self, tol: f64) -> Fitted {
        let whole = self.sweep.abs() >= TAU - 1e-12;
        let sweep = if whole {
            TAU.copysign(self.sweep)
        } else {
            self.sweep
        };
        if self.is_circular(1e-9 * (1.0 + self.u.length())) {
            let count = (sweep.abs() / PI - 1e-9).ceil().max(1.0);
            let turning = if self.u.cross(self.v) >= 0.0 {
                1.0
            } else {
                -1.0
            };
            let step = sweep / count;
            let bulge = turning * (0.25 * step).tan();
            let mut vertices: Vec<Vertex> = (0..=count as usize)
                .map(|i| Vertex {
                    point: self.point(self.start + step * i as f64),
                    bulge,
                })
                .collect();
            end_chain(&mut vertices, whole);
            return Fitted {
                vertices,
                error: 0.0,
            };
        }
        let axes = self.principal();
        let (from, to) = (axes.start, axes.start + sweep);
        // Split at the ends of the axes: there the curvature turns, and a whole ellipse comes out
        // as symmetrical as it is.
        let mut stops = vec![from];
        let quarter = |k: f64| k * FRAC_PI_2;
        if sweep > 0.0 {
            let mut k = (from / FRAC_PI_2 + 1e-9).floor() + 1.0;
            while quarter(k) < to - 1e-9 {
                stops.push(quarter(k));
                k += 1.0;
            }
        } else {
            let mut k = (from / FRAC_PI_2 - 1e-9).ceil() - 1.0;
            while quarter(k) > to + 1e-9 {
                stops.push(quarter(k));
                k -= 1.0;
            }
        }
        stops.push(to);
        let backward = Reversed(&axes);
        let mut fitted = if sweep > 0.0 {
            fit_stretches(&axes, &stops, tol)
        } else {
            let stops: Vec<f64> = stops.iter().map(|t| -t).collect();
            fit_stretches(&backward, &stops, tol)
        };
        end_chain(&mut fitted.vertices, whole);
        fitted
    }
}

/// A curve run with its parameter negated, so that the parameter always grows.
struct Reversed<'a, C>(&'a C);

impl<C: Curve> Curve for Reversed<'_, C> {
    fn point(&self, t: f64) -> Point {
        self.0.point(-t)
    }
    fn direction(&self, t: f64, from_left: bool) -> Vec2 {
        -self.0.direction(-t, !from_left)
    }
}

/// The last vertex has no bulge, and a whole turn ends exactly where it began.
fn end_chain(vertices: &mut [Vertex], whole: bool) {
    let first = vertices.first().map(|v| v.point);
    if let Some(last) = vertices.last_mut() {
        last.bulge = 0.0;
        if let (true, Some(first)) = (whole, first) {
            last.point = first;
        }
    }
}

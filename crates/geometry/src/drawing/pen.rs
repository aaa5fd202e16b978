//! Entities to chains of lines and arcs in millimetres.

use super::affine::Affine;
use super::error::Culprit;
use crate::fit::{Bezier, EllipseArc, Fitted, fit_beziers};
use crate::{Point, Vec2, Vertex};
use std::collections::BTreeMap;
use std::f64::consts::{PI, TAU};

/// A closed stroke whose last corner is this near its first one repeats it: the rounding of a
/// drawing with four decimals.
const SAME_END: f64 = 1e-4;

/// A chain of lines and arcs as drawn: one entity, or one stroke of it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Chain {
    /// The corners. The last one ends the chain when open, and joins the first when closed.
    pub vertices: Vec<Vertex>,
    pub closed: bool,
    /// The entity it is from.
    pub culprit: Box<Culprit>,
    /// What a part outlined by it is called.
    pub name: Option<String>,
}

impl Chain {
    pub fn start(&self) -> Point {
        self.vertices[0].point
    }

    pub fn end(&self) -> Point {
        self.vertices[self.vertices.len() - 1].point
    }
}

/// The most numbers that are kept of curves which were fitted: 8 MiB. A drawing with more different curves works
/// out those of its copies again.
const MOST_KEPT: usize = 1 << 20;

/// What approximation has cost, and the curves it was done for.
#[derive(Debug, Default)]
pub(super) struct Approximations {
    /// By kind of entity: how many, lines and arcs, largest distance.
    pub by_kind: BTreeMap<String, (usize, usize, f64)>,
    /// By the numbers that make up a curve and its map, but for the map's shift: copies of a block lie in rows, and
    /// fitting is most of the work of reading.
    fitted: BTreeMap<Vec<u64>, (Fitted, Vec2)>,
    kept: usize,
}

/// Whether a distance from the origin is beyond every drawing, or no number. Control points may
/// lie somewhat outside of what the curve itself is allowed.
fn is_far(distance: f64) -> bool {
    !distance.is_finite() || distance > 10.0 * crate::tolerance::LARGEST
}

/// Draws one entity: takes its curves in its own coordinates, gives chains in millimetres.
pub(super) struct Pen<'a> {
    to_mm: Affine,
    fit: f64,
    vertices: Vec<Vertex>,
    /// Béziers that wait to be fitted together, in the entity's coordinates.
    pending: Vec<Bezier>,
    /// Where the pen is, in the entity's coordinates.
    at: Point,
    pieces: usize,
    error: Option<f64>,
    /// A place of a curve that is beyond every drawing.
    far: Option<Point>,
    approximations: &'a mut Approximations,
    kind: &'a str,
}

impl<'a> Pen<'a> {
    pub fn new(
        to_mm: Affine,
        fit: f64,
        kind: &'a str,
        approximations: &'a mut Approximations,
    ) -> Self {
        Self {
            to_mm,
            fit,
            vertices: Vec::new(),
            pending: Vec::new(),
            at: Point::default(),
            pieces: 0,
            error: None,
            far: None,
            approximations,
            kind,
        }
    }

    /// Changes the map to millimetres; before the stroke begins.
    pub fn set_map(&mut self, to_mm: Affine) {
        self.to_mm = to_mm;
    }

    /// Begins a stroke.
    pub fn move_to(&mut self, p: Point) {
        self.flush();
        self.vertices.clear();
        self.at = p;
        self.push(p, 0.0);
    }

    fn push(&mut self, p: Point, bulge: f64) {
        self.vertices.push(Vertex {
            point: self.to_mm.point(p),
            bulge,
        });
    }

    pub fn line_to(&mut self, p: Point) {
        self.flush();
        self.push(p, 0.0);
        self.at = p;
    }

    /// An arc of a circle, by its bulge.
    pub fn bulge_to(&mut self, p: Point, bulge: f64) {
        if bulge == 0.0 {
            return self.line_to(p);
        }
        if bulge.abs() <= 1.0 && self.to_mm.keeps_circles() {
            // Most arcs: the bulge stays as it is written, whatever the scale.
            self.flush();
            let mirrored = self.to_mm.determinant() < 0.0;
            self.set_bulge(if mirrored { -bulge } else { bulge });
            self.push(p, 0.0);
            self.at = p;
            return;
        }
        let segment = crate::Segment::arc(self.at, p, bulge);
        let Some(arc) = segment.arc_geometry() else {
            return self.line_to(p);
        };
        let ellipse = EllipseArc {
            center: arc.center,
            u: Vec2::new(arc.radius, 0.0),
            v: Vec2::new(0.0, arc.radius),
            start: arc.start_angle,
            sweep: arc.sweep,
        };
        self.elliptical(&ellipse, Some(p));
    }

    /// An arc of an ellipse from where the pen is. It ends at `end` exactly when that is given.
    pub fn elliptical(&mut self, arc: &EllipseArc, end: Option<Point>) {
        self.flush();
        let mapped = EllipseArc {
            center: self.to_mm.point(arc.center),
            u: self.to_mm.vector(arc.u),
            v: self.to_mm.vector(arc.v),
            ..*arc
        };
        let end = end.unwrap_or_else(|| crate::fit::Curve::point(arc, arc.start + arc.sweep));
        let round = self.to_mm.keeps_circles()
            && (arc.u.length() - arc.v.length()).abs() <= 1e-9 * arc.u.length()
            && arc.u.dot(arc.v).abs() <= 1e-9 * arc.u.dot(arc.u);
        if round {
            // Half circles at most: joints may later be moved a little, and the shape of a nearly
            // full arc hangs on the distance of its ends.
            let sweep = arc.sweep.clamp(-TAU, TAU);
            let count = (sweep.abs() / PI - 1e-9).ceil().max(1.0);
            let turning = if mapped.u.cross(mapped.v) >= 0.0 {
                1.0
            } else {
                -1.0
            };
            let step = sweep / count;
            let bulge = turning * (0.25 * step).tan();
            for i in 1..=count as usize {
                self.set_bulge(bulge);
                let p = if i == count as usize {
                    end
                } else {
                    crate::fit::Curve::point(arc, arc.start + step * i as f64)
                };
                self.push(p, 0.0);
            }
        } else {
            let reach = mapped.center.to_vec().length() + mapped.u.length() + mapped.v.length();
            if is_far(reach) {
                self.far = Some(mapped.center + mapped.u);
            } else {
                let (c, u, v) = (arc.center, arc.u, arc.v);
                let numbers = [c.x, c.y, u.x, u.y, v.x, v.y, arc.start, arc.sweep];
                let fitted = self.fitted(numbers, |fit| mapped.fit(fit));
                self.append(fitted);
                let end = self.to_mm.point(end);
                if let Some(last) = self.vertices.last_mut() {
                    last.point = end;
                }
            }
        }
        self.at = end;
    }

    fn set_bulge(&mut self, bulge: f64) {
        if let Some(last) = self.vertices.last_mut() {
            last.bulge = bulge;
        }
    }

    /// A Bézier from where the pen is; `points` follow the pen's place.
    pub fn bezier(&mut self, points: &[Point]) {
        let mut all = vec![self.at];
        all.extend_from_slice(points);
        self.rational(&Bezier::plain(all));
    }

    /// A rational Bézier that begins where the pen is.
    pub fn rational(&mut self, bezier: &Bezier) {
        self.at = bezier.end();
        self.pending.push(bezier.clone());
    }

    /// What a curve of these numbers becomes: fitted, or moved along from a copy that was.
    fn fitted(
        &mut self,
        numbers: impl IntoIterator<Item = f64>,
        fit: impl FnOnce(f64) -> Fitted,
    ) -> Fitted {
        let Affine { a, b, c, d, e, f } = self.to_mm;
        let key: Vec<u64> = [self.fit, a, b, c, d]
            .into_iter()
            .chain(numbers)
            .map(f64::to_bits)
            .collect();
        let shift = Vec2::new(e, f);
        if let Some((fitted, before)) = self.approximations.fitted.get(&key) {
            let mut fitted = fitted.clone();
            for v in &mut fitted.vertices {
                v.point += shift - *before;
            }
            return fitted;
        }
        let fitted = fit(self.fit);
        let size = key.len() + 3 * fitted.vertices.len();
        if self.approximations.kept + size <= MOST_KEPT {
            self.approximations.kept += size;
            self.approximations
                .fitted
                .insert(key, (fitted.clone(), shift));
        }
        fitted
    }

    fn append(&mut self, fitted: Fitted) {
        self.pieces += fitted.vertices.len().saturating_sub(1);
        self.error = Some(self.error.unwrap_or(0.0).max(fitted.error));
        if fitted.vertices.is_empty() {
            return;
        }
        let start = self.vertices.pop();
        let first = self.vertices.len();
        self.vertices.extend(fitted.vertices);
        // Keep the place the stroke came from to the last digit.
        if let (Some(start), Some(v)) = (start, self.vertices.get_mut(first)) {
            v.point = start.point;
        }
    }

    fn flush(&mut self) {
        let pending = std::mem::take(&mut self.pending);
        if pending.is_empty() {
            return;
        }
        let to_mm = self.to_mm;
        let far = |p: &Point| is_far(p.to_vec().length());
        let points = pending.iter().flat_map(Bezier::points);
        let point = points.map(|p| to_mm.point(p)).find(far);
        if point.is_some() {
            // Fitting it would be endless and pointless.
            self.far = point;
            return;
        }
        let numbers = pending.iter().flat_map(Bezier::numbers);
        let fitted = self.fitted(numbers, |fit| {
            let mapped = pending.iter().map(|b| b.mapped(|p| to_mm.point(p)));
            fit_beziers(&mapped.collect::<Vec<_>>(), fit)
        });
        self.append(fitted);
    }

    /// The largest distance of a fit so far, when it is above what was asked for.
    pub fn missed_fit(&self) -> Option<f64> {
        self.error.filter(|error| *error > self.fit)
    }

    /// Ends the stroke; `None` when it has no length.
    ///
    /// `closed`: a line joins the end to the start unless they are one place already.
    pub fn finish(
        &mut self,
        closed: bool,
        culprit: &Culprit,
        name: Option<&String>,
    ) -> Option<Chain> {
        self.flush();
        if let Some(point) = self.far.take() {
            // Whoever takes the chain refuses it for this place.
            self.vertices.clear();
            return Some(Chain {
                vertices: vec![Vertex { point, bulge: 0.0 }; 2],
                closed,
                culprit: Box::new(culprit.clone()),
                name: None,
            });
        }
        let mut vertices: Vec<Vertex> = Vec::with_capacity(self.vertices.len());
        for v in self.vertices.drain(..) {
            match vertices.last_mut() {
                // A segment without length: what leaves the later vertex leaves the earlier.
                Some(last) if last.point.distance(v.point) <= crate::tolerance::COINCIDENT => {
                    last.bulge = v.bulge;
                }
                _ => vertices.push(v),
            }
        }
        if closed && vertices.len() > 1 {
            let (first, last) = (vertices[0].point, vertices[vertices.len() - 1].point);
            if first.distance(last) <= SAME_END {
                vertices.pop();
            }
        }
        if let Some(last) = vertices.last_mut()
            && !closed
        {
            last.bulge = 0.0;
        }
        if vertices.len() < 2 {
            return None;
        }
        let n = vertices.len();
        for i in 0..n {
            let segment = crate::Segment::arc(
                vertices[i].point,
                vertices[(i + 1) % n].point,
                vertices[i].bulge,
            );
            vertices[i].bulge = crate::fit::straightened(segment).bulge;
        }
        Some(Chain {
            vertices,
            closed,
            culprit: Box::new(culprit.clone()),
            name: name.cloned(),
        })
    }
}

impl Drop for Pen<'_> {
    fn drop(&mut self) {
        if let Some(error) = self.error {
            let entry = self
                .approximations
                .by_kind
                .entry(self.kind.to_owned())
                .or_insert((0, 0, 0.0));
            entry.0 += 1;
            entry.1 += self.pieces;
            entry.2 = entry.2.max(error);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// An S-curve and part of an ellipse, drawn with this map.
    fn drawn(map: Affine, approximations: &mut Approximations) -> Vec<Vertex> {
        let culprit = Culprit {
            kind: "SPLINE".to_owned(),
            layer: String::new(),
            line: None,
            column: None,
            id: None,
        };
        let mut pen = Pen::new(map, 0.01, "SPLINE", approximations);
        pen.move_to(Point::default());
        pen.bezier(&[(30.0, 0.0), (0.0, 40.0), (30.0, 40.0)].map(|(x, y)| Point::new(x, y)));
        let ellipse = EllipseArc {
            center: Point::new(50.0, 40.0),
            u: Vec2::new(-20.0, 0.0),
            v: Vec2::new(0.0, 10.0),
            start: 0.0,
            sweep: 2.0,
        };
        pen.elliptical(&ellipse, None);
        let chain = pen.finish(false, &culprit, None).expect("a chain");
        chain.vertices
    }

    #[test]
    fn a_curve_that_is_moved_is_fitted_once() {
        let mut approximations = Approximations::default();
        let first = drawn(Affine::turn_deg(20.0), &mut approximations);
        let moved = Affine::shift(70.0, -3000.0).after(&Affine::turn_deg(20.0));
        let second = drawn(moved, &mut approximations);
        assert_eq!(approximations.fitted.len(), 2);
        let by = Vec2::new(70.0, -3000.0);
        assert_eq!(first.len(), second.len());
        for (a, b) in first.iter().zip(&second) {
            assert!((a.point + by).distance(b.point) < 1e-9 && a.bulge == b.bulge);
        }
        // The same as when it is fitted there.
        let anew = drawn(moved, &mut Approximations::default());
        assert_eq!(anew.len(), second.len());
        for (a, b) in anew.iter().zip(&second) {
            assert!(a.point.distance(b.point) < 1e-6 && (a.bulge - b.bulge).abs() < 1e-6);
        }
        // Turned, mirrored or scaled it is another curve.
        drawn(Affine::turn_deg(21.0), &mut approximations);
        drawn(Affine::scale(-1.0, 1.0), &mut approximations);
        assert_eq!(approximations.fitted.len(), 6);
        assert_eq!(approximations.by_kind["SPLINE"].0, 4);
    }
}

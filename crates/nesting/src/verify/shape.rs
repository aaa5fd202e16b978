//! Regions as the judge sees them: how far apart, how deep one lies in another, what sticks out.
//!
//! The judge's own code, written to be plain rather than quick. Everything rests on one idea: an
//! edge's **clear stretches** are what is left of it once every place within the tolerance of the
//! other region's border is taken away. A clear stretch does not meet that border at all, so one
//! point of it, asked with an exact predicate, says for all of it whether it lies inside or outside.
//! Shared and grazing edges need no special case, and a crossing that no corner shows is found.

use geo::algorithm::kernels::{Kernel, Orientation, RobustKernel};
use geo::coord;
use panelwright_geometry::{Bounds, Point, Polygon};

/// Where two borders come nearest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Nearest {
    /// How far apart; 0 where they touch or cross.
    pub distance: f64,
    /// Where, on the first border.
    pub at: Point,
}

/// A place where a region is somewhere it must not be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Trespass {
    /// The place found deepest.
    pub at: Point,
    /// How far it is from the border that should have stopped it, at least.
    pub depth: f64,
}

#[derive(Debug, Clone, Copy)]
struct Edge {
    a: Point,
    b: Point,
    bounds: Bounds,
}

/// A region with holes, prepared for the judge's questions.
#[derive(Debug, Clone)]
pub(super) struct Shape {
    /// Every edge of every ring.
    edges: Vec<Edge>,
    /// One corner of each ring, the outer ring's first.
    ring_starts: Vec<Point>,
    /// How many of `edges` belong to the outer ring.
    outer_edges: usize,
    /// The edges by level: each slab, from the bottom up, lists those that reach into it.
    slabs: Vec<Vec<u32>>,
    /// Places well inside, each with its distance to the border.
    inner: Vec<(Point, f64)>,
    bounds: Bounds,
}

/// Edges for each slab of a shape. Fewer make more slabs to fill, more make longer lists to read;
/// between 4 and 32 hardly anything changes.
const EDGES_PER_SLAB: usize = 12;

/// On which side of the line from `a` to `b` the point lies; exact.
fn side(a: Point, b: Point, p: Point) -> Orientation {
    RobustKernel::orient2d(
        coord! { x: a.x, y: a.y },
        coord! { x: b.x, y: b.y },
        coord! { x: p.x, y: p.y },
    )
}

/// Whether `p` is inside by the parity of crossings to its right; exact, except that a point on
/// the border may get either answer.
fn inside<'a>(edges: impl Iterator<Item = &'a Edge>, p: Point) -> bool {
    let mut odd = false;
    for edge in edges {
        if (edge.a.y > p.y) == (edge.b.y > p.y) || edge.bounds.max.x < p.x {
            continue;
        }
        let upward = edge.b.y > edge.a.y;
        let left = side(edge.a, edge.b, p) == Orientation::CounterClockwise;
        odd ^= upward == left;
    }
    odd
}

/// Nearest place of the segment to `p`.
fn nearest_on(edge: &Edge, p: Point) -> Point {
    let along = edge.b - edge.a;
    let square = along.dot(along);
    if square <= 0.0 {
        return edge.a;
    }
    let share = ((p - edge.a).dot(along) / square).clamp(0.0, 1.0);
    edge.a + along * share
}

/// Whether two segments share a point; exact.
fn meet(e: &Edge, f: &Edge) -> bool {
    if !e.bounds.touches(&f.bounds) {
        return false;
    }
    let (c, d) = (side(e.a, e.b, f.a), side(e.a, e.b, f.b));
    let (a, b) = (side(f.a, f.b, e.a), side(f.a, f.b, e.b));
    // All four on one line: the bounds touch, and on one line that is enough.
    (c != d && a != b) || [a, b, c, d] == [Orientation::Collinear; 4]
}

/// Nearest place of `e` to `f`, and the distance.
fn between(e: &Edge, f: &Edge) -> Nearest {
    if meet(e, f) {
        // The place is for the message only: the corner of either nearest to the other.
        let at = [f.a, f.b]
            .map(|p| nearest_on(e, p))
            .into_iter()
            .chain([e.a, e.b])
            .min_by(|p, q| {
                let off = |p: &Point| p.distance(nearest_on(f, *p));
                off(p).total_cmp(&off(q))
            })
            .unwrap_or(e.a);
        return Nearest { distance: 0.0, at };
    }
    let ends = [
        (e.a, nearest_on(f, e.a)),
        (e.b, nearest_on(f, e.b)),
        (nearest_on(e, f.a), f.a),
        (nearest_on(e, f.b), f.b),
    ];
    let mut best = Nearest {
        distance: f64::INFINITY,
        at: e.a,
    };
    for (at, other) in ends {
        let distance = at.distance(other);
        if distance < best.distance {
            best = Nearest { distance, at };
        }
    }
    best
}

/// The stretch of `e` (in lengths from its start) within `r` of `f`. It is one stretch, because the
/// places within `r` of a segment form a convex region.
fn near_stretch(e: &Edge, f: &Edge, r: f64) -> Option<(f64, f64)> {
    let length = e.a.distance(e.b);
    if length <= 0.0 {
        return None;
    }
    let u = (e.b - e.a) * (1.0 / length);
    // `f` seen from the start of `e`, which runs along the x axis there.
    let seen = |p: Point| ((p - e.a).dot(u), u.cross(p - e.a));
    let ((cx, cy), (dx, dy)) = (seen(f.a), seen(f.b));
    let mut stretch: Option<(f64, f64)> = None;
    let mut add = |lo: f64, hi: f64| {
        if lo <= hi {
            let (l, h) = stretch.unwrap_or((lo, hi));
            stretch = Some((l.min(lo), h.max(hi)));
        }
    };
    for (x, y) in [(cx, cy), (dx, dy)] {
        let rest = r * r - y * y;
        if rest >= 0.0 {
            add(x - rest.sqrt(), x + rest.sqrt());
        }
    }
    // The straight sides: off the line of `f` by at most `r`, and opposite `f` itself.
    let (fx, fy) = (dx - cx, dy - cy);
    let span = fx.hypot(fy);
    if span > 0.0 {
        let (fx, fy) = (fx / span, fy / span);
        let limit = |slope: f64, offset: f64, lo: f64, hi: f64| -> (f64, f64) {
            // lo <= slope x + offset <= hi
            if slope == 0.0 {
                if (lo..=hi).contains(&offset) {
                    (f64::NEG_INFINITY, f64::INFINITY)
                } else {
                    (f64::INFINITY, f64::NEG_INFINITY)
                }
            } else {
                let (s, t) = ((lo - offset) / slope, (hi - offset) / slope);
                (s.min(t), s.max(t))
            }
        };
        let off = limit(fy, cy * fx - cx * fy, -r, r);
        let opposite = limit(fx, -(cx * fx + cy * fy), 0.0, span);
        let (lo, hi) = (off.0.max(opposite.0), off.1.min(opposite.1));
        if lo.is_finite() && hi.is_finite() {
            add(lo, hi);
        }
    }
    stretch.filter(|(lo, hi)| *lo <= length && *hi >= 0.0)
}

impl Shape {
    /// Prepares a polygon whose points are finite.
    pub(super) fn new(polygon: &Polygon) -> Self {
        let edge = |(a, b)| Edge {
            a,
            b,
            bounds: Bounds::new(a, b),
        };
        let edges: Vec<Edge> = polygon.edges().map(edge).collect();
        let bounds = Bounds::of_points(polygon.outer.iter().copied())
            .unwrap_or_else(|| Bounds::new(Point::default(), Point::default()));
        let mut shape = Self {
            outer_edges: polygon.outer.len(),
            ring_starts: polygon.rings().filter_map(|r| r.first().copied()).collect(),
            slabs: vec![Vec::new(); (edges.len() / EDGES_PER_SLAB).max(1)],
            inner: Vec::new(),
            edges,
            bounds,
        };
        for i in 0..shape.edges.len() {
            let edge = shape.edges[i].bounds;
            for slab in shape.slab(edge.min.y)..=shape.slab(edge.max.y) {
                shape.slabs[slab].push(i as u32);
            }
        }
        shape.inner = shape.find_inner();
        shape
    }

    pub(super) fn rectangle(bounds: Bounds) -> Self {
        Self::new(&Polygon::from_bounds(bounds))
    }

    pub(super) fn bounds(&self) -> &Bounds {
        &self.bounds
    }

    /// The slab of a level; levels beyond the shape belong to the first or the last one.
    fn slab(&self, y: f64) -> usize {
        let share = (y - self.bounds.min.y) / self.bounds.height();
        ((share * self.slabs.len() as f64) as usize).min(self.slabs.len() - 1)
    }

    /// The edges that a level line at `y` can cross.
    fn edges_at(&self, y: f64) -> impl Iterator<Item = usize> {
        self.slabs[self.slab(y)].iter().map(|i| *i as usize)
    }

    /// Whether `p` is inside; a point on the border may get either answer.
    pub(super) fn contains(&self, p: Point) -> bool {
        let edges = self.edges_at(p.y).map(|i| &self.edges[i]);
        self.bounds.touches(&Bounds::new(p, p)) && inside(edges, p)
    }

    /// Whether `p` is inside the outer ring, be it in a hole.
    fn surrounds(&self, p: Point) -> bool {
        let outer = self.edges_at(p.y).filter(|i| *i < self.outer_edges);
        self.bounds.touches(&Bounds::new(p, p)) && inside(outer.map(|i| &self.edges[i]), p)
    }

    /// Whether `other`, which shares no material with this region, lies in a hole of it.
    pub(super) fn holds_in_hole(&self, other: &Self) -> bool {
        // A place well inside, for the borders may touch.
        let deepest = other.inner.iter().max_by(|a, b| a.1.total_cmp(&b.1));
        deepest.is_some_and(|(p, _)| self.surrounds(*p))
    }

    /// Distance from `p` to the border.
    fn border_distance(&self, p: Point) -> f64 {
        self.edges
            .iter()
            .map(|e| p.distance(nearest_on(e, p)))
            .fold(f64::INFINITY, f64::min)
    }

    /// Places well inside: on a few level lines, the middle of the widest stretch.
    fn find_inner(&self) -> Vec<(Point, f64)> {
        // Uneven shares, so that the lines of a symmetrical part do not all run through corners.
        const LEVELS: [f64; 5] = [0.513, 0.287, 0.761, 0.119, 0.893];
        LEVELS
            .iter()
            .filter_map(|level| {
                let y = self.bounds.min.y + level * self.bounds.height();
                let mut crossings: Vec<f64> = self
                    .edges
                    .iter()
                    .filter(|e| (e.a.y > y) != (e.b.y > y))
                    .map(|e| e.a.x + (y - e.a.y) / (e.b.y - e.a.y) * (e.b.x - e.a.x))
                    .collect();
                crossings.sort_by(f64::total_cmp);
                let widest = crossings
                    .as_chunks::<2>()
                    .0
                    .iter()
                    .max_by(|p, q| (p[1] - p[0]).total_cmp(&(q[1] - q[0])))?;
                let p = Point::new(0.5 * (widest[0] + widest[1]), y);
                Some((p, self.border_distance(p)))
            })
            .collect()
    }

    /// The edges whose bounds touch `window`.
    fn edges_near(&self, window: Bounds) -> Vec<Edge> {
        if !self.bounds.touches(&window) {
            return Vec::new();
        }
        let slabs = self.slab(window.min.y)..=self.slab(window.max.y);
        let mut found: Vec<u32> = self.slabs[slabs]
            .iter()
            .flatten()
            .filter(|i| self.edges[**i as usize].bounds.touches(&window))
            .copied()
            .collect();
        // An edge is listed in every slab that it reaches into.
        found.sort_unstable();
        found.dedup();
        found.into_iter().map(|i| self.edges[i as usize]).collect()
    }

    /// Where the borders come nearer than `reach`; `None` when they do not.
    pub(super) fn nearest(&self, other: &Self, reach: f64) -> Option<Nearest> {
        let mut found: Option<Nearest> = None;
        let mut reach = reach;
        let mine = self.edges_near(other.bounds.grown(reach));
        let theirs = other.edges_near(self.bounds.grown(reach));
        for e in &mine {
            let mut window = e.bounds.grown(reach);
            for f in &theirs {
                if !window.touches(&f.bounds) {
                    continue;
                }
                let near = between(e, f);
                if near.distance < reach {
                    reach = near.distance;
                    window = e.bounds.grown(reach);
                    found = Some(near);
                    if reach <= 0.0 {
                        return found;
                    }
                }
            }
        }
        found
    }

    /// Middles of the clear stretches of this border that fall inside (`wanted`) or outside
    /// `region`, the one furthest from the region's border.
    fn deepest_stretch(&self, region: &Self, tol: f64, wanted: bool) -> Option<Trespass> {
        let mut worst: Option<Trespass> = None;
        let theirs = region.edges_near(self.bounds.grown(tol));
        // What lies inside the region is near it; what lies outside may be anywhere.
        let mine = if wanted {
            self.edges_near(region.bounds.grown(tol))
        } else {
            self.edges.clone()
        };
        for e in &mine {
            let length = e.a.distance(e.b);
            let window = e.bounds.grown(tol);
            let mut near: Vec<(f64, f64)> = theirs
                .iter()
                .filter(|f| f.bounds.touches(&window))
                .filter_map(|f| near_stretch(e, f, tol))
                .collect();
            near.sort_by(|p, q| p.0.total_cmp(&q.0));
            near.push((length, length));
            let mut from = 0.0;
            for (lo, hi) in near {
                if lo > from && length > 0.0 {
                    let middle = 0.5 * (from + lo.min(length));
                    let at = e.a + (e.b - e.a) * (middle / length);
                    if region.contains(at) == wanted {
                        let depth = region.border_distance(at);
                        if worst.is_none_or(|w| depth > w.depth) {
                            worst = Some(Trespass { at, depth });
                        }
                    }
                }
                from = hi.max(from);
                if from >= length {
                    break;
                }
            }
        }
        worst
    }

    /// A place well inside this region that is inside (`wanted`) or outside `region`.
    fn inner_place(&self, region: &Self, tol: f64, wanted: bool) -> Option<Trespass> {
        self.inner
            .iter()
            .filter(|(p, depth)| *depth > 2.0 * tol && region.contains(*p) == wanted)
            .max_by(|a, b| a.1.total_cmp(&b.1))
            .map(|(at, depth)| Trespass {
                at: *at,
                depth: *depth,
            })
    }

    /// Whether the two share material that is further than `tol` from both borders.
    pub(super) fn overlap(&self, other: &Self, tol: f64) -> Option<Trespass> {
        if !self.bounds.touches(&other.bounds) {
            return None;
        }
        if self.nearest(other, 2.0 * tol).is_none() {
            // The borders do not meet: if anything is shared, a whole ring lies inside.
            let nested = |of: &Self, within: &Self| {
                of.ring_starts
                    .iter()
                    .find(|p| within.contains(**p))
                    .map(|p| Trespass {
                        at: *p,
                        depth: within.border_distance(*p),
                    })
            };
            return nested(self, other).or_else(|| nested(other, self));
        }
        self.deepest_stretch(other, tol, true)
            .or_else(|| other.deepest_stretch(self, tol, true))
            .or_else(|| self.inner_place(other, tol, true))
            .or_else(|| other.inner_place(self, tol, true))
    }

    /// Whether something of this region is outside `field` by more than `tol`.
    pub(super) fn sticks_out_of(&self, field: &Self, tol: f64) -> Option<Trespass> {
        if field.bounds.contains(&self.bounds) && self.nearest(field, 2.0 * tol).is_none() {
            let start = self.ring_starts.first()?;
            // A ring of the field inside this region would be a void in it.
            let swallowed = field.ring_starts.iter().find(|p| self.contains(**p));
            let at = if field.contains(*start) {
                *swallowed?
            } else {
                *start
            };
            return Some(Trespass {
                at,
                depth: field.border_distance(at),
            });
        }
        self.deepest_stretch(field, tol, false)
            .or_else(|| field.deepest_stretch(self, tol, true))
            .or_else(|| self.inner_place(field, tol, false))
    }
}

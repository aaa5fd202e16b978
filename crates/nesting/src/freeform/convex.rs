//! Convex pieces, the places they keep other pieces from, and tests against those places.

use panelwright_geometry::{Bounds, Point, Vec2};

/// A place this little inside a forbidden area, in millimetres, is in contact with it.
///
/// Far above the rounding of coordinates of ten metres (about 1e-11), so that parts that fill a
/// sheet exactly fit, and far below what the judge forgives (1e-5).
pub(super) const CONTACT: f64 = 3e-7;

/// A turn at a corner larger than this, in radians, gets a bevel when an area is grown; a mitre
/// alone would keep more room than the gap asks for. A right angle keeps its mitre.
const LARGEST_MITRE: f64 = 1.58;

/// Points this near to each other, in millimetres, are one corner.
const SAME_CORNER: f64 = 1e-9;

/// A half-plane: the points `p` with `normal . p <= reach`.
#[derive(Debug, Clone, Copy)]
pub(super) struct HalfPlane {
    /// Unit vector that points out of it.
    pub normal: Vec2,
    /// Distance of its border from the origin along the normal.
    pub reach: f64,
}

impl HalfPlane {
    /// How far `p` lies outside of it, negative inside.
    pub fn over(&self, p: Point) -> f64 {
        self.normal.x * p.x + self.normal.y * p.y - self.reach
    }
}

/// A convex polygon as corners (counter-clockwise) and as half-planes, one per edge.
#[derive(Debug, Clone)]
pub(super) struct Convex {
    /// Corners, counter-clockwise.
    pub points: Vec<Point>,
    /// The half-plane of the edge that leaves each corner.
    pub planes: Vec<HalfPlane>,
    /// Smallest upright rectangle round it.
    pub bounds: Bounds,
}

impl Convex {
    /// What of it lies in `plane`; `None` when that has no area.
    pub fn cut(&self, plane: &HalfPlane) -> Option<Self> {
        let over: Vec<f64> = self.points.iter().map(|p| plane.over(*p)).collect();
        let n = self.points.len();
        let (mut points, mut planes) = (Vec::with_capacity(n + 1), Vec::with_capacity(n + 1));
        for i in 0..n {
            let j = (i + 1) % n;
            if over[i] <= 0.0 {
                points.push(self.points[i]);
                planes.push(self.planes[i]);
            }
            if (over[i] <= 0.0) != (over[j] <= 0.0) {
                let share = over[i] / (over[i] - over[j]);
                points.push(self.points[i] + (self.points[j] - self.points[i]) * share);
                planes.push(if over[i] <= 0.0 {
                    *plane
                } else {
                    self.planes[i]
                });
            }
        }
        let bounds = Bounds::of_points(points.iter().copied())?;
        (points.len() >= 3).then_some(Self {
            points,
            planes,
            bounds,
        })
    }
}

/// How deep `p` lies inside all of `planes`, negative outside (then a lower bound of the distance).
pub(super) fn depth(planes: &[HalfPlane], p: Point) -> f64 {
    let mut depth = f64::INFINITY;
    for plane in planes {
        let inside = plane.reach - (plane.normal.x * p.x + plane.normal.y * p.y);
        if inside < depth {
            depth = inside;
            if depth <= 0.0 {
                return depth;
            }
        }
    }
    depth
}

/// How deep `p` lies inside, negative outside. Looks at all half-planes, since a processor guesses wrong too often where
/// to break off.
#[inline]
pub(super) fn least_inside(planes: &[HalfPlane], p: Point) -> f64 {
    planes.iter().fold(f64::INFINITY, |depth, plane| {
        let inside = plane.reach - (plane.normal.x * p.x + plane.normal.y * p.y);
        if inside < depth { inside } else { depth }
    })
}

/// The stretch of the line from `from` to `from + along` that lies deeper inside `planes` than
/// [`CONTACT`], as shares of `along` cut to [0, 1]; with each end the share by which it lies
/// within the true border.
pub(super) fn stretch(planes: &[HalfPlane], from: Point, along: Vec2) -> Option<Stretch> {
    let mut found = Stretch {
        begin: 0.0,
        end: 1.0,
        begin_slack: 0.0,
        end_slack: 0.0,
    };
    for plane in planes {
        let climb = plane.normal.dot(along);
        let room = plane.reach - CONTACT - plane.normal.dot(from.to_vec());
        let room_at_end = room - climb;
        // Most sides do not cut the line, and need no division.
        if room > 0.0 && room_at_end > 0.0 {
            continue;
        }
        if room <= 0.0 && room_at_end <= 0.0 {
            return None;
        }
        if climb.abs() < 1e-14 {
            if room <= 0.0 {
                return None;
            }
        } else {
            let at = room / climb;
            if climb > 0.0 {
                if at < found.end {
                    found.end = at;
                    found.end_slack = CONTACT / climb;
                }
            } else if at > found.begin {
                found.begin = at;
                found.begin_slack = CONTACT / -climb;
            }
            if found.begin >= found.end {
                return None;
            }
        }
    }
    Some(found)
}

/// A stretch of a line, as shares of its length.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Stretch {
    /// Where it begins.
    pub begin: f64,
    /// Where it ends.
    pub end: f64,
    /// How far before `begin` the true contact lies.
    pub begin_slack: f64,
    /// How far after `end` the true contact lies.
    pub end_slack: f64,
}

impl Stretch {
    /// Whether nothing of the line is outside of it.
    pub fn is_all(&self) -> bool {
        self.begin <= 0.0 && self.end >= 1.0
    }
}

/// The places of contact that remain on a line from 0 to 1 when `taken` is removed, given as shares.
///
/// A remaining stretch gives its two ends, moved to true contact; one that is only as long as the
/// tolerance gives its middle, which is how a piece finds a slot that it fills exactly.
/// `taken` is sorted on the way.
pub(super) fn ends_of_rest(taken: &mut [Stretch], mut found: impl FnMut(f64, f64)) {
    taken.sort_by(|a, b| a.begin.total_cmp(&b.begin));
    let mut free_from = 0.0;
    let mut slack = 0.0;
    let mut emit = |from: f64, slack_from: f64, to: f64, slack_to: f64| {
        let (a, b) = (from + slack_from, to - slack_to);
        if a <= b {
            found(a, b);
        } else {
            let middle = 0.5 * (from + to);
            found(middle, middle);
        }
    };
    for t in taken.iter() {
        if t.begin > free_from || (t.begin == free_from && free_from == 0.0 && t.begin > 0.0) {
            emit(free_from, slack, t.begin, t.begin_slack);
        }
        if t.end > free_from {
            free_from = t.end;
            slack = t.end_slack;
        }
    }
    if free_from < 1.0 || taken.is_empty() {
        emit(free_from, slack, 1.0, 0.0);
    }
}

/// The places of the moving piece's origin at which it comes nearer than `gap` to the fixed piece.
#[cfg(test)]
pub(super) fn keep_away(fixed: &[Point], moving: &[Point], gap: f64) -> Option<Convex> {
    grown_sum(fixed, &mirrored(moving), gap)
}

/// The piece turned by half round the origin.
pub(super) fn mirrored(piece: &[Point]) -> Vec<Point> {
    piece.iter().map(|p| Point::new(-p.x, -p.y)).collect()
}

/// The Minkowski sum of two pieces, grown by `gap`: where a fixed piece keeps another one away from, which is given
/// [`mirrored`]. Round corners are replaced by mitres and bevels outside of them. `None` when it has no area.
pub(super) fn grown_sum(fixed: &[Point], mirrored: &[Point], gap: f64) -> Option<Convex> {
    grown_out(minkowski_sum(fixed, mirrored), gap)
}

/// Index of the lowest, then leftmost point.
fn lowest(points: &[Point]) -> usize {
    let mut best = 0;
    for (i, p) in points.iter().enumerate() {
        let b = points[best];
        if (p.y, p.x) < (b.y, b.x) {
            best = i;
        }
    }
    best
}

/// The sum of two convex, counter-clockwise polygons, by merging their edges in order of direction.
pub(crate) fn minkowski_sum(a: &[Point], b: &[Point]) -> Vec<Point> {
    let (n, m) = (a.len(), b.len());
    let (i0, j0) = (lowest(a), lowest(b));
    let mut points = Vec::with_capacity(n + m);
    let (mut i, mut j) = (0, 0);
    while i < n || j < m {
        let pa = a[(i0 + i) % n];
        let pb = b[(j0 + j) % m];
        points.push(pa + pb.to_vec());
        let ea = a[(i0 + i + 1) % n] - pa;
        let eb = b[(j0 + j + 1) % m] - pb;
        let turn = ea.cross(eb);
        // Parallel edges are taken together.
        let parallel = turn * turn <= 1e-24 * ea.dot(ea) * eb.dot(eb) && ea.dot(eb) > 0.0;
        if j >= m || (i < n && (turn > 0.0 || parallel)) {
            i += 1;
            if parallel && j < m && i <= n {
                j += 1;
            }
        } else {
            j += 1;
        }
    }
    points
}

/// The convex polygon through `points` with every edge moved outward by `by`.
pub(super) fn grown(points: &[Point], by: f64) -> Option<Convex> {
    grown_out(points.to_vec(), by)
}

fn grown_out(mut corners: Vec<Point>, by: f64) -> Option<Convex> {
    let apart = |p: Point, q: Point| (p - q).dot(p - q) > SAME_CORNER * SAME_CORNER;
    corners.dedup_by(|p, q| !apart(*p, *q));
    while corners.len() > 1 && !apart(corners[0], corners[corners.len() - 1]) {
        corners.pop();
    }
    let n = corners.len();
    if n < 3 {
        return None;
    }
    let outward = |i: usize| {
        let d = corners[(i + 1) % n] - corners[i % n];
        // A plain root: the careful one of the geometry crate takes a tenth of the whole search.
        let length = d.dot(d).sqrt();
        Vec2::new(d.y / length, -d.x / length)
    };
    let mut grown_points = Vec::with_capacity(n);
    let mut planes = Vec::with_capacity(n);
    for (i, &corner) in corners.iter().enumerate() {
        let (before, after) = (outward(i + n - 1), outward(i));
        if by > 0.0 {
            let (mut turn, mut parts) = (0.0, 1);
            if before.dot(after) < LARGEST_MITRE.cos() {
                turn = before.cross(after).atan2(before.dot(after)).max(0.0);
                parts = (turn / LARGEST_MITRE).ceil().max(1.0) as usize;
            }
            let mut last = before;
            for k in 1..=parts {
                let next = if k == parts {
                    after
                } else {
                    let angle = before.angle() + turn * k as f64 / parts as f64;
                    Vec2::from_angle(angle, 1.0)
                };
                let mitre = (last + next) * (by / (1.0 + last.dot(next)).max(1e-9));
                grown_points.push(corner + mitre);
                planes.push(HalfPlane {
                    normal: next,
                    reach: next.dot(corner.to_vec()) + by,
                });
                last = next;
            }
        } else {
            grown_points.push(corner);
            planes.push(HalfPlane {
                normal: after,
                reach: after.dot(corner.to_vec()),
            });
        }
    }
    let bounds = Bounds::of_points(grown_points.iter().copied())?;
    Some(Convex {
        points: grown_points,
        planes,
        bounds,
    })
}

/// The convex hull, counter-clockwise without collinear corners (monotone chain, Andrew 1979).
pub(super) fn hull(points: &[Point]) -> Vec<Point> {
    let mut sorted = points.to_vec();
    sorted.sort_by(|a, b| a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y)));
    sorted.dedup();
    if sorted.len() < 3 {
        return sorted;
    }
    let mut hull: Vec<Point> = Vec::with_capacity(sorted.len() + 1);
    let half = |hull: &mut Vec<Point>, points: &mut dyn Iterator<Item = Point>| {
        let start = hull.len();
        for p in points {
            while hull.len() >= start + 2 {
                let (a, b) = (hull[hull.len() - 2], hull[hull.len() - 1]);
                if (b - a).cross(p - b) > 0.0 {
                    break;
                }
                hull.pop();
            }
            hull.push(p);
        }
        hull.pop();
    };
    half(&mut hull, &mut sorted.iter().copied());
    half(&mut hull, &mut sorted.iter().rev().copied());
    hull
}

/// Least distance between two parallel lines that hold the convex polygon `hull` between them. In time that grows with its
/// corners, not with their square.
pub(super) fn least_width(hull: &[Point]) -> f64 {
    let mut least = f64::INFINITY;
    opposite(hull, |i, far| {
        let along = (hull[(i + 1) % hull.len()] - hull[i]).normalized();
        least = least.min(along.cross(hull[far] - hull[i]).max(0.0));
    });
    least
}

/// Largest distance between two corners of the convex polygon `hull`, in as little time.
pub(super) fn diameter(hull: &[Point]) -> f64 {
    let n = hull.len();
    let mut largest: f64 = 0.0;
    // Two corners that are furthest apart lie between parallel lines of which one can be turned until it lies along an edge.
    // Where another edge is parallel to that, either of its ends may be the one.
    opposite(hull, |i, far| {
        for begin in [i, (i + 1) % n] {
            for end in [far + n - 1, far, far + 1] {
                let apart = hull[end % n] - hull[begin];
                largest = largest.max(apart.dot(apart));
            }
        }
    });
    largest.sqrt()
}

/// Calls `found` with every edge of the convex polygon `hull` and the corner that lies furthest from it (rotating calipers,
/// Shamos 1978).
fn opposite(hull: &[Point], mut found: impl FnMut(usize, usize)) {
    let n = hull.len();
    let mut far = usize::from(n > 1);
    for i in 0..n {
        let along = hull[(i + 1) % n] - hull[i];
        let mut reach = along.cross(hull[far] - hull[i]);
        // The furthest corner goes round with the edges. Back as well: rounding may have led beyond it.
        for step in [1, n - 1] {
            for _ in 0..n {
                let next = (far + step) % n;
                let further = along.cross(hull[next] - hull[i]);
                if further <= reach {
                    break;
                }
                (far, reach) = (next, further);
            }
        }
        found(i, far);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn points<const N: usize>(p: [(f64, f64); N]) -> Vec<Point> {
        p.map(|(x, y)| Point::new(x, y)).to_vec()
    }

    fn area(points: &[Point]) -> f64 {
        panelwright_geometry::Polygon::new(points.to_vec(), Vec::new()).area()
    }

    #[test]
    fn sums_have_the_textbook_area() {
        // Area of the sum of two convex sets: 3-4-5 triangle and 3 x 2 rectangle give 29; a triangle
        // and its mirror image six times its area; a rectangle four times (textbook).
        let t = points([(0.0, 0.0), (4.0, 0.0), (0.0, 3.0)]);
        let r = points([(0.0, 0.0), (3.0, 0.0), (3.0, 2.0), (0.0, 2.0)]);
        assert!((area(&minkowski_sum(&t, &r)) - 29.0).abs() < 1e-9);
        assert!((area(&minkowski_sum(&t, &t)) - 24.0).abs() < 1e-9);
        let away = |a: &[Point]| area(&keep_away(a, a, 0.0).expect("an area").points);
        assert!((away(&t) - 36.0).abs() < 1e-9);
        assert!((away(&r) - 24.0).abs() < 1e-9);
    }

    #[test]
    fn grown_corners_stay_outside_the_round_ones() {
        let t = points([(0.0, 0.0), (400.0, 0.0), (0.0, 20.0)]);
        let g = grown(&t, 6.0).expect("an area");
        for (i, corner) in g.points.iter().enumerate() {
            let reach = t
                .iter()
                .map(|p| p.distance(*corner))
                .fold(f64::INFINITY, f64::min);
            assert!(reach < 6.0 * 1.5, "corner {i} runs away: {reach}");
        }
        for angle in 0..360 {
            for p in &t {
                let round = *p + Vec2::from_angle(f64::from(angle).to_radians(), 5.999);
                assert!(depth(&g.planes, round) > 0.0);
            }
        }
    }

    #[test]
    fn an_exact_slot_leaves_one_place() {
        let left = grown(
            &points([(0.0, -1.0), (5.0, -1.0), (5.0, 1.0), (0.0, 1.0)]),
            0.0,
        );
        let right = grown(
            &points([(5.0, -1.0), (9.0, -1.0), (9.0, 1.0), (5.0, 1.0)]),
            0.0,
        );
        let mut taken: Vec<Stretch> = [left, right]
            .into_iter()
            .flatten()
            .filter_map(|c| stretch(&c.planes, Point::new(0.5, 0.0), Vec2::new(8.0, 0.0)))
            .collect();
        let mut found = Vec::new();
        ends_of_rest(&mut taken, |a, b| found.push((a, b)));
        assert_eq!(found.len(), 1);
        assert!((0.5 + 8.0 * found[0].0 - 5.0).abs() < 1e-9);
    }

    #[test]
    fn widths() {
        let r = points([(0.0, 0.0), (30.0, 0.0), (30.0, 20.0), (0.0, 20.0)]);
        assert!((least_width(&hull(&r)) - 20.0).abs() < 1e-9);
        assert!((diameter(&r) - 1300_f64.sqrt()).abs() < 1e-9);
        assert_eq!(diameter(&r[..1]), 0.0);
        assert_eq!(diameter(&r[..2]), 30.0);
    }

    proptest! {
        #[test]
        fn widths_are_those_of_all_corners(
            scattered in proptest::collection::vec((0.0..90.0_f64, 0.0..60.0_f64), 3..60),
            on_grid in proptest::collection::vec((0..7_u8, 0..7_u8), 3..60),
        ) {
            // On a grid many edges are parallel.
            let on_grid = on_grid.iter().map(|&(x, y)| Point::new(f64::from(x), f64::from(y)));
            let scattered = scattered.iter().map(|&(x, y)| Point::new(x, y));
            for points in [scattered.collect::<Vec<_>>(), on_grid.collect()] {
                let hull = hull(&points);
                let mut furthest: f64 = 0.0;
                let mut width = f64::INFINITY;
                for (i, a) in hull.iter().enumerate() {
                    let along = (hull[(i + 1) % hull.len()] - *a).normalized();
                    let across = hull.iter().map(|b| along.cross(*b - *a));
                    width = width.min(across.fold(0.0, f64::max));
                    let apart = hull.iter().map(|b| a.distance(*b));
                    furthest = apart.fold(furthest, f64::max);
                }
                prop_assert!((diameter(&hull) - furthest).abs() < 1e-9);
                if hull.len() >= 3 {
                    prop_assert!((least_width(&hull) - width).abs() < 1e-9);
                }
            }
        }
    }

    #[test]
    fn widths_of_many_corners_take_little_time() {
        // A hundred thousand corners: their square would take minutes.
        let n = 100_000;
        let disc: Vec<Point> = (0..n)
            .map(|i| std::f64::consts::TAU * f64::from(i) / f64::from(n))
            .map(|angle| Point::default() + Vec2::from_angle(angle, 40.0))
            .collect();
        let begin = std::time::Instant::now();
        assert!((least_width(&disc) - 80.0).abs() < 1e-6);
        assert!((diameter(&disc) - 80.0).abs() < 1e-6);
        assert!(begin.elapsed().as_secs() < 5);
    }
}

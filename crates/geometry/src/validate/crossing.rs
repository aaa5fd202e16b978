//! Where rings cross or touch themselves or each other.

use crate::{ArcGeometry, Path, Point, Ring, Segment, Vec2, tolerance};
use rstar::primitives::{GeomWithData, Rectangle};
use rstar::{AABB, Envelope, RTree};

/// Nearer than this is a touch.
const TOUCH: f64 = tolerance::COINCIDENT;

/// Two neighbours that leave their common corner and meet again, never farther apart than this,
/// are tangent there: the second meeting is rounding in the drawing, not a loop.
///
/// Coordinates with four decimals put the ends of a tangent fillet this far off; a web as thin
/// as this does not exist in any sheet.
const SLIVER: f64 = 1e-4;

/// A place where two rings, or a ring and itself, cross or touch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Crossing {
    /// Index of a ring.
    pub first: usize,
    /// Index of the other ring, not below `first`; equal when a ring meets itself.
    pub second: usize,
    /// Where.
    pub at: Point,
}

struct Piece {
    ring: usize,
    index: usize,
    /// How many segments its ring has.
    count: usize,
    segment: Segment,
    arc: Option<ArcGeometry>,
    bounds: AABB<[f64; 2]>,
}

impl Piece {
    fn new(ring: usize, index: usize, count: usize, segment: Segment) -> Self {
        let segment = crate::fit::straightened(segment);
        let bounds = segment.bounds().grown(TOUCH);
        Self {
            ring,
            index,
            count,
            segment,
            arc: segment.arc_geometry(),
            bounds: AABB::from_corners([bounds.min.x, bounds.min.y], [bounds.max.x, bounds.max.y]),
        }
    }
}

/// The segments of a ring, to be met by lines that are not its own.
pub(crate) struct Edges(Vec<Piece>);

impl Edges {
    /// Those of this ring.
    pub fn of(ring: &Ring) -> Self {
        let count = ring.vertices.len();
        let pieces = ring.segments().enumerate();
        Self(pieces.map(|(i, s)| Piece::new(0, i, count, s)).collect())
    }

    /// How far along `path` it meets them, rising, near places told once.
    pub fn met_along(&self, path: &Path) -> Vec<f64> {
        let mut met = Vec::new();
        let mut done = 0.0;
        for segment in path.segments() {
            let length = segment.length();
            if length > TOUCH {
                // Of another ring: it has no corner in common with these.
                let piece = Piece::new(1, 0, 1, segment);
                let near = self.0.iter().filter(|p| p.bounds.intersects(&piece.bounds));
                for edge in near {
                    let touching = [edge.segment.start, edge.segment.end]
                        .map(|end| nearest_if_touching(&piece, end));
                    let meetings = curve_meetings(&piece, edge).into_iter().chain(touching);
                    let on_both = meetings
                        .flatten()
                        .filter(|p| on_piece(&piece, *p) && on_piece(edge, *p));
                    met.extend(on_both.map(|p| done + length * share_of(&piece, p)));
                }
            }
            done += length;
        }
        met.sort_by(f64::total_cmp);
        met.dedup_by(|b, a| *b - *a < 4.0 * TOUCH);
        met
    }
}

/// The places where `rings` cross or touch, at most `limit`, ordered by ring and segment.
///
/// The rings must be finite and their segments longer than [`tolerance::COINCIDENT`].
pub(crate) fn crossings(rings: &[&Ring], limit: usize) -> Vec<Crossing> {
    let mut pieces = Vec::with_capacity(rings.iter().map(|r| r.vertices.len()).sum());
    for (ring, of) in rings.iter().enumerate() {
        for (index, segment) in of.segments().enumerate() {
            pieces.push(Piece::new(ring, index, of.vertices.len(), segment));
        }
    }
    let boxes = pieces.iter().enumerate().map(|(place, piece)| {
        let rectangle = Rectangle::from_corners(piece.bounds.lower(), piece.bounds.upper());
        GeomWithData::new(rectangle, place)
    });
    let tree = RTree::bulk_load(boxes.collect());
    let mut found = Vec::new();
    let mut others: Vec<usize> = Vec::new();
    for (place, piece) in pieces.iter().enumerate() {
        others.clear();
        others.extend(
            tree.locate_in_envelope_intersecting(&piece.bounds)
                .map(|other| other.data)
                .filter(|other| *other > place),
        );
        others.sort_unstable();
        for other in others.iter().map(|other| &pieces[*other]) {
            if let Some(at) = meeting(piece, other) {
                found.push(Crossing {
                    first: piece.ring,
                    second: other.ring,
                    at,
                });
                if found.len() >= limit {
                    return found;
                }
            }
        }
    }
    found
}

/// The corners that two segments of one ring share because they follow each other.
fn common_corners(a: &Piece, b: &Piece) -> [Option<Point>; 2] {
    if a.ring != b.ring {
        return [None, None];
    }
    [
        ((a.index + 1) % a.count == b.index).then_some(a.segment.end),
        ((b.index + 1) % a.count == a.index).then_some(b.segment.end),
    ]
}

/// A place where the two meet other than at their common corners.
fn meeting(a: &Piece, b: &Piece) -> Option<Point> {
    let corners = common_corners(a, b);
    let (s, t) = (&a.segment, &b.segment);
    let ends_on_a = [t.start, t.end].map(|end| nearest_if_touching(a, end));
    let ends_on_b = [s.start, s.end].map(|end| nearest_if_touching(b, end));
    curve_meetings(a, b)
        .into_iter()
        .chain(ends_on_a)
        .chain(ends_on_b)
        .flatten()
        .filter(|p| {
            corners
                .iter()
                .flatten()
                .all(|corner| p.distance(*corner) > TOUCH)
        })
        .filter(|p| on_piece(a, *p) && on_piece(b, *p))
        .find(|p| {
            corners
                .iter()
                .flatten()
                .all(|corner| !is_tangency(a, b, *corner, *p))
        })
        .or_else(|| {
            // Running back over itself from a common corner gives no single meeting place.
            corners
                .into_iter()
                .flatten()
                .find(|corner| runs_back(a, b, *corner))
        })
}

/// Whether `p`, known to lie near the piece's line or circle, lies within its ends.
fn on_piece(piece: &Piece, p: Point) -> bool {
    let s = &piece.segment;
    if p.distance(s.start) <= TOUCH || p.distance(s.end) <= TOUCH {
        return true;
    }
    match piece.arc {
        Some(arc) => arc.covers((p - arc.center).angle()),
        None => {
            let along = s.end - s.start;
            let share = (p - s.start).dot(along) / along.dot(along);
            (0.0..=1.0).contains(&share)
        }
    }
}

/// The nearest place of the piece to `p` when that is within [`TOUCH`].
fn nearest_if_touching(piece: &Piece, p: Point) -> Option<Point> {
    let s = &piece.segment;
    let foot = match piece.arc {
        Some(arc) => arc.center + (p - arc.center).normalized() * arc.radius,
        None => {
            let along = s.end - s.start;
            let share = ((p - s.start).dot(along) / along.dot(along)).clamp(0.0, 1.0);
            s.start + along * share
        }
    };
    (foot.distance(p) <= TOUCH).then_some(foot)
}

/// Where the full line or circle of `a` meets that of `b`.
fn curve_meetings(a: &Piece, b: &Piece) -> [Option<Point>; 2] {
    match (&a.arc, &b.arc) {
        (None, None) => [line_line(&a.segment, &b.segment), None],
        (Some(arc), None) => line_circle(&b.segment, arc),
        (None, Some(arc)) => line_circle(&a.segment, arc),
        (Some(first), Some(second)) => circle_circle(first, second),
    }
}

fn line_line(a: &Segment, b: &Segment) -> Option<Point> {
    let (u, v) = (a.end - a.start, b.end - b.start);
    let cross = u.cross(v);
    // Parallel lines can only overlap, and then an end of one touches the other.
    if cross.abs() <= 1e-14 * u.length() * v.length() {
        return None;
    }
    let share = (b.start - a.start).cross(v) / cross;
    Some(a.start + u * share)
}

fn line_circle(line: &Segment, arc: &ArcGeometry) -> [Option<Point>; 2] {
    let along = (line.end - line.start).normalized();
    let foot = line.start + along * (arc.center - line.start).dot(along);
    let off = foot.distance(arc.center);
    if off > arc.radius + TOUCH {
        return [None, None];
    }
    let half = ((arc.radius - off) * (arc.radius + off)).max(0.0).sqrt();
    [Some(foot + along * half), Some(foot - along * half)]
}

fn circle_circle(a: &ArcGeometry, b: &ArcGeometry) -> [Option<Point>; 2] {
    let between = b.center - a.center;
    let d = between.length();
    // Arcs of one circle can only overlap, and then an end of one touches the other.
    if d <= TOUCH && (a.radius - b.radius).abs() <= TOUCH {
        return [None, None];
    }
    if d == 0.0 || d > a.radius + b.radius + TOUCH || d < (a.radius - b.radius).abs() - TOUCH {
        return [None, None];
    }
    let along = between * (1.0 / d);
    let reach = 0.5 * (d + (a.radius - b.radius) / d * (a.radius + b.radius));
    let half = ((a.radius - reach) * (a.radius + reach)).max(0.0).sqrt();
    let foot = a.center + along * reach;
    let aside: Vec2 = along.left() * half;
    [Some(foot + aside), Some(foot - aside)]
}

/// Share of the length at which `p` lies on the piece.
fn share_of(piece: &Piece, p: Point) -> f64 {
    let s = &piece.segment;
    match piece.arc {
        Some(arc) => {
            let turned = (p - arc.center).angle() - arc.start_angle;
            let turned = if arc.sweep >= 0.0 { turned } else { -turned };
            let turned = turned.rem_euclid(std::f64::consts::TAU);
            let share = turned / arc.sweep.abs();
            // Just before the start comes out as nearly a full turn.
            if share > 1.0 {
                if p.distance(s.start) < p.distance(s.end) {
                    0.0
                } else {
                    1.0
                }
            } else {
                share
            }
        }
        None => {
            let along = s.end - s.start;
            (p - s.start).dot(along) / along.dot(along)
        }
    }
}

/// Whether the two stay within [`SLIVER`] of each other from their common corner to `p`.
fn is_tangency(a: &Piece, b: &Piece, corner: Point, p: Point) -> bool {
    let midway = |piece: &Piece| {
        let from = share_of(piece, corner);
        let to = share_of(piece, p);
        (piece.segment.point_at(0.5 * (from + to)), (from - to).abs())
    };
    let (on_a, part_a) = midway(a);
    let (on_b, part_b) = midway(b);
    // Segments that coincide all the way run back over each other; that is no tangency.
    on_a.distance(on_b) <= SLIVER && part_a < 0.5 && part_b < 0.5
}

/// Whether the two leave their common corner in one direction and along one curve.
fn runs_back(a: &Piece, b: &Piece, corner: Point) -> bool {
    let (before, after) = if a.segment.end.distance(corner) <= b.segment.end.distance(corner) {
        (a, b)
    } else {
        (b, a)
    };
    let back = -before.segment.tangent_at(1.0);
    let onward = after.segment.tangent_at(0.0);
    if back.dot(onward) <= 0.0 || back.cross(onward).abs() > 1e-9 {
        return false;
    }
    match (before.arc, after.arc) {
        (None, None) => true,
        (Some(x), Some(y)) => {
            (x.sweep > 0.0) != (y.sweep > 0.0)
                && x.center.distance(y.center) <= TOUCH
                && (x.radius - y.radius).abs() <= TOUCH
        }
        _ => false,
    }
}

//! Where rings cross or touch themselves or each other.

use crate::{ArcGeometry, Bounds, Point, Ring, Segment, Vec2, tolerance};
use rstar::{AABB, RTree, RTreeObject};

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
    segment: Segment,
    arc: Option<ArcGeometry>,
    bounds: Bounds,
}

impl RTreeObject for Piece {
    type Envelope = AABB<[f64; 2]>;
    fn envelope(&self) -> Self::Envelope {
        envelope(self.bounds)
    }
}

fn envelope(bounds: Bounds) -> AABB<[f64; 2]> {
    AABB::from_corners([bounds.min.x, bounds.min.y], [bounds.max.x, bounds.max.y])
}

/// The places where `rings` cross or touch, at most `limit`, ordered by ring and segment.
///
/// The rings must be finite and their segments longer than [`tolerance::COINCIDENT`].
pub(crate) fn crossings(rings: &[&Ring], limit: usize) -> Vec<Crossing> {
    let pieces = |ring: usize| {
        rings[ring]
            .segments()
            .enumerate()
            .map(move |(index, segment)| {
                let segment = crate::fit::straightened(segment);
                Piece {
                    ring,
                    index,
                    segment,
                    arc: segment.arc_geometry(),
                    bounds: segment.bounds().grown(TOUCH),
                }
            })
    };
    let tree = RTree::bulk_load((0..rings.len()).flat_map(pieces).collect());
    let mut found = Vec::new();
    for (ring, of) in rings.iter().enumerate() {
        for piece in pieces(ring) {
            let mut others: Vec<&Piece> = tree
                .locate_in_envelope_intersecting(&envelope(piece.bounds))
                .filter(|other| (other.ring, other.index) > (piece.ring, piece.index))
                .collect();
            others.sort_unstable_by_key(|other| (other.ring, other.index));
            for other in others {
                let corners = common_corners(&piece, other, of.vertices.len());
                if let Some(at) = meeting(&piece, other, &corners) {
                    found.push(Crossing {
                        first: ring,
                        second: other.ring,
                        at,
                    });
                    if found.len() >= limit {
                        return found;
                    }
                }
            }
        }
    }
    found
}

/// The corners that two segments of one ring share because they follow each other.
fn common_corners(a: &Piece, b: &Piece, count: usize) -> Vec<Point> {
    let mut corners = Vec::new();
    if a.ring == b.ring {
        if (a.index + 1) % count == b.index {
            corners.push(a.segment.end);
        }
        if (b.index + 1) % count == a.index {
            corners.push(b.segment.end);
        }
    }
    corners
}

/// A place where the two meet other than at their common corners.
fn meeting(a: &Piece, b: &Piece, corners: &[Point]) -> Option<Point> {
    let mut candidates = Vec::new();
    curve_meetings(a, b, &mut candidates);
    for end in [b.segment.start, b.segment.end] {
        candidates.extend(nearest_if_touching(a, end));
    }
    for end in [a.segment.start, a.segment.end] {
        candidates.extend(nearest_if_touching(b, end));
    }
    candidates
        .into_iter()
        .filter(|p| on_piece(a, *p) && on_piece(b, *p))
        .find(|p| {
            corners
                .iter()
                .all(|corner| p.distance(*corner) > TOUCH && !is_tangency(a, b, *corner, *p))
        })
        .or_else(|| {
            // Running back over itself from a common corner gives no single meeting place.
            corners
                .iter()
                .find(|corner| runs_back(a, b, **corner))
                .copied()
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

/// Appends where the full line or circle of `a` meets that of `b`.
fn curve_meetings(a: &Piece, b: &Piece, found: &mut Vec<Point>) {
    match (a.arc, b.arc) {
        (None, None) => found.extend(line_line(&a.segment, &b.segment)),
        (Some(arc), None) => line_circle(&b.segment, &arc, found),
        (None, Some(arc)) => line_circle(&a.segment, &arc, found),
        (Some(first), Some(second)) => circle_circle(&first, &second, found),
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

fn line_circle(line: &Segment, arc: &ArcGeometry, found: &mut Vec<Point>) {
    let along = (line.end - line.start).normalized();
    let foot = line.start + along * (arc.center - line.start).dot(along);
    let off = foot.distance(arc.center);
    if off > arc.radius + TOUCH {
        return;
    }
    let half = ((arc.radius - off) * (arc.radius + off)).max(0.0).sqrt();
    found.extend([foot + along * half, foot - along * half]);
}

fn circle_circle(a: &ArcGeometry, b: &ArcGeometry, found: &mut Vec<Point>) {
    let between = b.center - a.center;
    let d = between.length();
    // Arcs of one circle can only overlap, and then an end of one touches the other.
    if d <= TOUCH && (a.radius - b.radius).abs() <= TOUCH {
        return;
    }
    if d == 0.0 || d > a.radius + b.radius + TOUCH || d < (a.radius - b.radius).abs() - TOUCH {
        return;
    }
    let along = between * (1.0 / d);
    let reach = 0.5 * (d + (a.radius - b.radius) / d * (a.radius + b.radius));
    let half = ((a.radius - reach) * (a.radius + reach)).max(0.0).sqrt();
    let foot = a.center + along * reach;
    let aside: Vec2 = along.left() * half;
    found.extend([foot + aside, foot - aside]);
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

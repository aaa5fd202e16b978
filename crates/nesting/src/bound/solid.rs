//! What a part surely fills, as convex pieces, at each angle it may lie at.

use super::fit::Shape;
use crate::{Angles, Method, Problem};
use geo::TriangulateEarcut;
use panelwright_geometry::{
    Bounds, Placement, Point, Polygon, Side, Vec2, largest_rectangle, tolerance,
};

/// Chord error of curves here, as a share of the diagonal of the part: with fewer corners there are fewer pieces,
/// and half a millimetre of a metre seldom decides.
const CHORD: f64 = 5e-4;

/// Of a part with more convex pieces than this only a rectangle inside it counts. Pairs of pieces are looked at,
/// so the time grows with the square.
const MOST_PIECES: usize = 40;

/// A triangulation may miss this share of the area by rounding; more means that it failed.
const AREA_SLACK: f64 = 1e-7;

/// Corners of the polygon that stands for a disc.
const DISC_CORNERS: usize = 16;

/// Places tried along each side of a part for the middle of a disc in it.
const DISC_TRIES: usize = 24;

/// What surely lies within a part when it is turned by one of its angles.
#[derive(Debug, Clone)]
pub(super) struct Solid {
    /// Degrees; `None` for a part that may lie at any angle, which counts as a disc inside it.
    pub(super) angle: Option<f64>,
    /// Convex pieces of what the outer ring surely holds.
    pub(super) filled: Pieces,
    /// The same with window cut-outs open.
    pub(super) material: Pieces,
}

/// Convex pieces that move together.
#[derive(Debug, Clone)]
pub(super) struct Pieces {
    /// Bounding rectangle of the part, or of the disc.
    pub(super) bounds: Bounds,
    /// Corners of each piece.
    pub(super) convex: Vec<Vec<Point>>,
}

/// By part, its solids at all angles that some stock allows; none for a saw, whose parts are rectangles.
pub(super) fn solids(problem: &Problem, shapes: &[Shape]) -> Vec<Vec<Solid>> {
    if matches!(problem.method, Method::Guillotine(_)) {
        return vec![Vec::new(); shapes.len()];
    }
    shapes.iter().map(|s| of_part(problem, s)).collect()
}

fn of_part(problem: &Problem, shape: &Shape) -> Vec<Solid> {
    let mut angles: Vec<Option<f64>> = Vec::new();
    for stock in &problem.stock {
        match shape.part.angles(stock) {
            Angles::Any => angles.push(None),
            Angles::Listed(listed) => angles.extend(listed.into_iter().map(Some)),
        }
    }
    angles.sort_by(|a, b| a.partial_cmp(b).unwrap_or(std::cmp::Ordering::Equal));
    angles.dedup();
    let bounds = shape.part.outline.bounds();
    let chord = (CHORD * bounds.width().hypot(bounds.height())).max(tolerance::CHORD);
    let material = shape.part.outline.flatten(chord, Side::Within);
    let filled = Polygon::new(material.outer.clone(), Vec::new());
    let pieces = [&filled, &material].map(convex_pieces);
    let solid = |angle: Option<f64>| {
        let Some(degrees) = angle else {
            return Solid {
                angle,
                filled: disc(&filled),
                material: disc(&material),
            };
        };
        let turn = Placement::new(degrees, Point::default());
        let bounds = shape.part.outline.placed(&turn).bounds();
        let [filled, material] = pieces.each_ref().map(|pieces| {
            let piece = |p: &Vec<Point>| p.iter().map(|q| turn.apply(*q)).collect();
            Pieces {
                bounds,
                convex: pieces.iter().map(piece).collect(),
            }
        });
        Solid {
            angle,
            filled,
            material,
        }
    };
    angles.into_iter().map(solid).collect()
}

/// Convex pieces within the polygon: all of it, or a rectangle in it where there would be too many.
pub(super) fn convex_pieces(polygon: &Polygon) -> Vec<Vec<Point>> {
    if polygon.holes.is_empty() && is_convex(&polygon.outer) {
        return vec![polygon.outer.clone()];
    }
    // Each triangle is one piece fewer than there are corners.
    let corners: usize = polygon.rings().map(Vec::len).sum();
    if corners <= MOST_PIECES
        && let Some(pieces) = triangles(polygon)
    {
        return pieces;
    }
    let inside = largest_rectangle(polygon, 0.0, 0.0);
    inside.map(|b| b.corners().to_vec()).into_iter().collect()
}

/// `None` when it fails, or when chords of narrow places cross, so that triangles could lie outside.
fn triangles(polygon: &Polygon) -> Option<Vec<Vec<Point>>> {
    if has_crossing(polygon) {
        return None;
    }
    let raw = polygon.to_geo().earcut_triangles();
    let pieces: Vec<Vec<Point>> = raw
        .iter()
        .map(|t| t.to_array().map(|c| Point::new(c.x, c.y)).to_vec())
        .collect();
    let whole = polygon.area();
    let found: f64 = pieces
        .iter()
        .map(|t| 0.5 * (t[1] - t[0]).cross(t[2] - t[0]).abs())
        .sum();
    ((found - whole).abs() <= AREA_SLACK * whole).then_some(pieces)
}

/// Whether two edges cross, which takes the square of their number.
fn has_crossing(polygon: &Polygon) -> bool {
    let edges: Vec<(Point, Point)> = polygon.edges().collect();
    let apart = |(a, b): (Point, Point), (c, d): (Point, Point)| {
        (b - a).cross(c - a) * (b - a).cross(d - a) < 0.0
    };
    edges.iter().enumerate().any(|(i, one)| {
        let mut others = edges[i + 1..].iter();
        others.any(|other| apart(*one, *other) && apart(*other, *one))
    })
}

fn is_convex(ring: &[Point]) -> bool {
    let n = ring.len();
    let corner = |i: usize| (ring[i], ring[(i + 1) % n], ring[(i + 2) % n]);
    let turns = (0..n).map(|i| {
        let (a, b, c) = corner(i);
        ((b - a).cross(c - b), (b - a).dot(c - b))
    });
    // A star turns left everywhere too, but more than once round.
    let mut round = 0.0;
    for (cross, dot) in turns {
        if cross < 0.0 {
            return false;
        }
        round += cross.atan2(dot);
    }
    n >= 3 && (round - std::f64::consts::TAU).abs() < 0.1
}

/// A disc round the origin that lies within the polygon when its middle is put at some place there: of the places
/// tried the one with the largest.
fn disc(polygon: &Polygon) -> Pieces {
    let bounds = polygon.bounds();
    let radius_at = |at: Point| -> f64 {
        let right = polygon.edges().filter(|(a, b)| {
            (a.y <= at.y) != (b.y <= at.y) && a.x + (at.y - a.y) / (b.y - a.y) * (b.x - a.x) > at.x
        });
        if right.count() % 2 == 0 {
            return 0.0;
        }
        let far = polygon.edges().map(|(a, b)| {
            let along = b - a;
            let share = ((at - a).dot(along) / along.dot(along).max(1e-18)).clamp(0.0, 1.0);
            (a + along * share).distance(at)
        });
        far.fold(f64::INFINITY, f64::min)
    };
    let at = |share: usize, from: f64, all: f64| from + all * share as f64 / DISC_TRIES as f64;
    let places = (1..DISC_TRIES).flat_map(|i| {
        (1..DISC_TRIES).map(move |j| {
            Point::new(
                at(i, bounds.min.x, bounds.width()),
                at(j, bounds.min.y, bounds.height()),
            )
        })
    });
    let radius = places.map(radius_at).fold(0.0, f64::max);
    Pieces {
        bounds: Bounds::new(Point::new(-radius, -radius), Point::new(radius, radius)),
        convex: vec![circle(radius)],
    }
}

/// Corners of an even polygon in a circle round the origin.
pub(super) fn circle(radius: f64) -> Vec<Point> {
    (0..DISC_CORNERS)
        .map(|i| {
            let angle = std::f64::consts::TAU * i as f64 / DISC_CORNERS as f64;
            Point::default() + Vec2::from_angle(angle, radius)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn polygon(points: &[(f64, f64)]) -> Polygon {
        let points = points.iter().map(|&(x, y)| Point::new(x, y)).collect();
        Polygon::new(points, Vec::new())
    }

    fn area(pieces: &[Vec<Point>]) -> f64 {
        let area = |p: &Vec<Point>| Polygon::new(p.clone(), Vec::new()).area();
        pieces.iter().map(area).sum()
    }

    #[test]
    fn pieces_fill_the_polygon() {
        let l = [
            (0.0, 0.0),
            (9.0, 0.0),
            (9.0, 3.0),
            (3.0, 3.0),
            (3.0, 9.0),
            (0.0, 9.0),
        ];
        let l = polygon(&l);
        let pieces = convex_pieces(&l);
        assert!(pieces.len() > 1 && pieces.iter().all(|p| is_convex(p) || p.len() == 3));
        assert!((area(&pieces) - 45.0).abs() < 1e-9);
        assert_eq!(convex_pieces(&Polygon::rectangle(4.0, 5.0)).len(), 1);
    }

    #[test]
    fn of_what_crosses_itself_or_has_many_corners_a_rectangle_counts() {
        let bow = polygon(&[(0.0, 0.0), (9.0, 9.0), (9.0, 0.0), (0.0, 9.0)]);
        assert!(triangles(&bow).is_none());
        let mut stairs = vec![(0.0, 0.0), (100.0, 0.0)];
        for i in (0..50).rev() {
            let at = 2.0 * f64::from(i);
            stairs.extend([(at + 2.0, 100.0 - at), (at, 100.0 - at)]);
        }
        let pieces = convex_pieces(&polygon(&stairs));
        assert_eq!(pieces.len(), 1);
        assert!((area(&pieces) - 52.0 * 50.0).abs() < 60.0);
    }

    #[test]
    fn the_disc_lies_within() {
        let disc = disc(&polygon(&[(0.0, 0.0), (8.0, 0.0), (8.0, 6.0), (0.0, 6.0)]));
        let radius = 0.5 * disc.bounds.width();
        assert!(radius <= 3.0 && radius > 2.7);
        assert!(
            disc.convex[0]
                .iter()
                .all(|p| p.distance(Point::default()) <= radius + 1e-9)
        );
    }
}

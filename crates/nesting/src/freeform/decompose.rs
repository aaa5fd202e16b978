//! A polygon cut into few convex pieces.

use super::convex::hull;
use geo::TriangulateEarcut;
use panelwright_geometry::{Point, Polygon};
use std::collections::BTreeMap;

/// A triangulation may miss this share of the area by rounding; more means that it failed.
const AREA_SLACK: f64 = 1e-7;

/// How many starting corners are tried for the triangulation; the fewest pieces win.
const STARTS: usize = 4;

/// Convex pieces, counter-clockwise, that together cover `polygon` and nothing else.
///
/// `None` when the polygon cannot be cut up, because its rings cross.
pub(super) fn convex_pieces(polygon: &Polygon) -> Option<Vec<Vec<Point>>> {
    if polygon.holes.is_empty() && is_convex(&polygon.outer) {
        return Some(vec![polygon.outer.clone()]);
    }
    let n = polygon.outer.len();
    let mut best: Option<Vec<Vec<Point>>> = None;
    for start in 0..STARTS.min(n) {
        let mut turned = polygon.clone();
        turned.outer.rotate_left(start * n / STARTS.min(n));
        if let Some(pieces) = merged_triangles(&turned)
            && best.as_ref().is_none_or(|b| pieces.len() < b.len())
        {
            best = Some(pieces);
        }
    }
    best
}

/// Whether a counter-clockwise ring is convex.
pub(super) fn is_convex(ring: &[Point]) -> bool {
    let n = ring.len();
    // A star turns left everywhere too, but more than once round.
    let mut turned = 0.0;
    for i in 0..n {
        let (a, b, c) = (ring[i], ring[(i + 1) % n], ring[(i + 2) % n]);
        if (b - a).cross(c - b) < 0.0 {
            return false;
        }
        turned += (b - a).cross(c - b).atan2((b - a).dot(c - b));
    }
    n >= 3 && (turned - std::f64::consts::TAU).abs() < 0.1
}

/// Triangles by cutting ears, then merged over their common edges, longest edge first, as long as
/// the result is convex (after Hertel & Mehlhorn 1983).
fn merged_triangles(polygon: &Polygon) -> Option<Vec<Vec<Point>>> {
    let raw = polygon.to_geo().earcut_triangles_raw();
    let vertices: Vec<Point> = raw
        .vertices
        .iter()
        .map(|v| Point::new(v[0], v[1]))
        .collect();
    // Corners that lie in the same place are one corner, or edges between them would not match.
    let mut by_place: BTreeMap<(u64, u64), usize> = BTreeMap::new();
    let same: Vec<usize> = vertices
        .iter()
        .enumerate()
        .map(|(i, p)| {
            *by_place
                .entry(((p.x + 0.0).to_bits(), (p.y + 0.0).to_bits()))
                .or_insert(i)
        })
        .collect();
    let mut pieces: Vec<Vec<usize>> = Vec::new();
    let mut area = 0.0;
    for t in raw.triangle_indices.chunks_exact(3) {
        let (a, b, c) = (same[t[0]], same[t[1]], same[t[2]]);
        let twice = (vertices[b] - vertices[a]).cross(vertices[c] - vertices[a]);
        area += 0.5 * twice.abs();
        if twice > 0.0 {
            pieces.push(vec![a, b, c]);
        } else if twice < 0.0 {
            pieces.push(vec![a, c, b]);
        }
    }
    let whole = polygon.area();
    if pieces.is_empty() || (area - whole).abs() > AREA_SLACK * whole.abs() {
        return None;
    }
    // Common edges, each by the piece on its left in either direction.
    let mut left_of: BTreeMap<(usize, usize), usize> = BTreeMap::new();
    for (i, piece) in pieces.iter().enumerate() {
        for k in 0..3 {
            left_of.insert((piece[k], piece[(k + 1) % 3]), i);
        }
    }
    let mut common: Vec<(f64, usize, usize)> = left_of
        .keys()
        .filter(|(a, b)| a < b && left_of.contains_key(&(*b, *a)))
        .map(|&(a, b)| (vertices[a].distance(vertices[b]), a, b))
        .collect();
    common.sort_by(|p, q| q.0.total_cmp(&p.0).then((p.1, p.2).cmp(&(q.1, q.2))));
    let mut owner: Vec<usize> = (0..pieces.len()).collect();
    fn find(owner: &mut [usize], mut i: usize) -> usize {
        while owner[i] != i {
            owner[i] = owner[owner[i]];
            i = owner[i];
        }
        i
    }
    for (_, a, b) in common {
        let one = find(&mut owner, left_of[&(a, b)]);
        let two = find(&mut owner, left_of[&(b, a)]);
        if one == two {
            continue;
        }
        if let Some(merged) = joined(&pieces[one], &pieces[two], a, b)
            && is_convex(&merged.iter().map(|i| vertices[*i]).collect::<Vec<_>>())
        {
            pieces[one] = merged;
            pieces[two].clear();
            owner[two] = one;
        }
    }
    let result: Vec<Vec<Point>> = pieces
        .iter()
        .filter(|p| !p.is_empty())
        .map(|p| hull(&p.iter().map(|i| vertices[*i]).collect::<Vec<_>>()))
        .filter(|p| p.len() >= 3)
        .collect();
    (!result.is_empty()).then_some(result)
}

/// Two loops joined over the edge from `a` to `b` of the first, which the second runs backwards.
fn joined(one: &[usize], two: &[usize], a: usize, b: usize) -> Option<Vec<usize>> {
    let at = |ring: &[usize], from: usize, to: usize| {
        (0..ring.len()).find(|&i| ring[i] == from && ring[(i + 1) % ring.len()] == to)
    };
    let i = at(one, a, b)?;
    let j = at(two, b, a)?;
    let mut ring = Vec::with_capacity(one.len() + two.len() - 2);
    // From b round the first to a, then from a round the second to b, ends taken once.
    ring.extend((0..one.len() - 1).map(|k| one[(i + 1 + k) % one.len()]));
    ring.extend((0..two.len() - 1).map(|k| two[(j + 1 + k) % two.len()]));
    Some(ring)
}

#[cfg(test)]
mod tests {
    use super::*;
    use panelwright_geometry::Bounds;

    fn ring(points: &[(f64, f64)]) -> Vec<Point> {
        points.iter().map(|&(x, y)| Point::new(x, y)).collect()
    }

    fn check(polygon: &Polygon, most: usize) {
        let pieces = convex_pieces(polygon).expect("a simple polygon");
        let sum: f64 = pieces
            .iter()
            .map(|p| Polygon::new(p.clone(), Vec::new()).area())
            .sum();
        assert!((sum - polygon.area()).abs() < 1e-6 * polygon.area());
        assert!(pieces.iter().all(|p| is_convex(p)));
        assert!(pieces.len() <= most, "{} pieces", pieces.len());
    }

    #[test]
    fn cuts_up_trade_shapes() {
        check(&Polygon::rectangle(100.0, 60.0), 1);
        let l = [
            (0.0, 0.0),
            (9.0, 0.0),
            (9.0, 3.0),
            (3.0, 3.0),
            (3.0, 9.0),
            (0.0, 9.0),
        ];
        check(&Polygon::new(ring(&l), Vec::new()), 2);
        let window = Bounds::new(Point::new(20.0, 20.0), Point::new(80.0, 40.0));
        let frame = Polygon::new(
            Polygon::rectangle(100.0, 60.0).outer,
            vec![window.corners().to_vec()],
        );
        check(&frame, 5);
    }

    #[test]
    fn a_bow_tie_is_refused() {
        let crossed = Polygon {
            outer: ring(&[(0.0, 0.0), (10.0, 10.0), (10.0, 0.0), (0.0, 7.0)]),
            holes: Vec::new(),
        };
        assert!(convex_pieces(&crossed).is_none());
    }
}

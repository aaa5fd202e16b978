//! Rings with fewer corners that cover at least the same material.

use panelwright_geometry::{Bounds, Point};

/// Edges longer than this share of the ring's size stay where they are: what is to fit snugly into a window or a notch lies
/// along its sides, while the corners between them are seldom reached.
pub(super) const LONG: f64 = 0.1;

/// Corners this near to the line through their neighbours, in millimetres, are none.
const STRAIGHT: f64 = 1e-9;

/// The ring with corners removed, never losing material, which lies on its left.
///
/// Two things are done, each only where what is added is little: a corner that bends inward is cut off
/// by filling it (up to `fill` deep), and an edge between two outward corners is given up by
/// lengthening its neighbours until they meet (`reach` beyond it). `within` keeps those new corners inside a rectangle,
/// so that a part does not become wider than it is. Long edges are never tilted by filling. A part that is not worth simplifying (at most
/// `few` corners) only loses corners on straight lines.
///
/// The result may cross itself where a slot is narrower than `reach`; the caller must check.
pub(super) fn simplified(
    ring: &[Point],
    reach: f64,
    fill: f64,
    few: usize,
    within: Option<Bounds>,
) -> Vec<Point> {
    simplified_but(ring, reach, fill, few, within, LONG)
}

/// [`simplified`] with another share of the size from which on an edge is long.
pub(super) fn simplified_but(
    ring: &[Point],
    reach: f64,
    fill: f64,
    few: usize,
    within: Option<Bounds>,
    long: f64,
) -> Vec<Point> {
    let mut points = without_straight(ring);
    let size = Bounds::of_points(points.iter().copied()).map_or(0.0, |b| b.area().sqrt());
    let limits = Limits {
        long: long * size,
        few,
        within,
    };
    // Small steps first, so that cheap corners go before dear ones.
    let mut step = reach / 32.0;
    while step <= reach * 1.0001 && points.len() > few {
        loop {
            let before = points.len();
            points = one_pass(points, step, step * fill / reach, &limits);
            if points.len() == before {
                break;
            }
        }
        step *= 2.0;
    }
    without_straight(&points)
}

/// The ring without corners on straight lines and doubled corners.
fn without_straight(ring: &[Point]) -> Vec<Point> {
    let mut points: Vec<Point> = Vec::with_capacity(ring.len());
    for &p in ring {
        if points.last().is_none_or(|q| q.distance(p) > STRAIGHT) {
            points.push(p);
        }
    }
    while points.len() > 1 && points[0].distance(points[points.len() - 1]) <= STRAIGHT {
        points.pop();
    }
    let mut i = 0;
    let mut kept_in_a_row = 0;
    while points.len() > 3 && kept_in_a_row < points.len() {
        let n = points.len();
        i %= n;
        let (a, b, c) = (points[(i + n - 1) % n], points[i], points[(i + 1) % n]);
        let line = c - a;
        let ahead = (b - a).dot(c - b) > 0.0;
        if ahead && (b - a).cross(line).abs() <= STRAIGHT * line.length() {
            points.remove(i);
            kept_in_a_row = 0;
        } else {
            i += 1;
            kept_in_a_row += 1;
        }
    }
    points
}

/// What is kept in any case.
struct Limits {
    /// Edges longer than this are not moved by filling.
    long: f64,
    /// A ring of so many corners is not worth simplifying.
    few: usize,
    /// New corners lie in here.
    within: Option<Bounds>,
}

/// Goes round once and removes what adds at most `reach`, or `fill` where a corner bends inward.
fn one_pass(mut points: Vec<Point>, reach: f64, fill: f64, limits: &Limits) -> Vec<Point> {
    let mut i = 0;
    let mut result: Vec<Point> = Vec::with_capacity(points.len());
    // Rotate the ring by one each pass, so that the seam is treated as any other corner.
    points.rotate_left(1);
    let n = points.len();
    let mut left = n;
    while i < n {
        let b = points[i];
        let a = *result.last().unwrap_or(&points[n - 1]);
        // Corners near the seam stay for the next pass.
        if left > limits.few.max(3) && i + 2 < n {
            let (c, d) = (points[i + 1], points[i + 2]);
            let bend = (b - a).cross(c - b);
            if bend < 0.0 {
                let line = c - a;
                let depth = (b - a).cross(line).abs() / line.length().max(STRAIGHT);
                let longer = a.distance(b).max(b.distance(c));
                if line.length() > STRAIGHT && depth <= fill && longer <= limits.long {
                    left -= 1;
                    i += 1;
                    continue;
                }
            } else if let Some(corner) = lengthened(a, b, c, d, reach)
                && limits.within.is_none_or(|w| {
                    corner.x >= w.min.x
                        && corner.x <= w.max.x
                        && corner.y >= w.min.y
                        && corner.y <= w.max.y
                })
            {
                result.push(corner);
                left -= 1;
                i += 2;
                continue;
            }
        }
        result.push(b);
        i += 1;
    }
    result
}

/// Where the lines from `a` through `b` and from `d` through `c` meet beyond the edge `b`-`c`, when
/// that is at most `reach` away from the edge and both corners bend outward.
fn lengthened(a: Point, b: Point, c: Point, d: Point, reach: f64) -> Option<Point> {
    let (first, edge, last) = (b - a, c - b, d - c);
    if first.cross(edge) <= 0.0 || edge.cross(last) <= 0.0 {
        return None;
    }
    let turn = first.cross(last);
    // A turn of a half circle or more never meets.
    if turn <= 1e-9 * first.length() * last.length() {
        return None;
    }
    let corner = b + first * (edge.cross(last) / turn);
    let height = edge.cross(corner - b).abs() / edge.length().max(STRAIGHT);
    (height <= reach).then_some(corner)
}

#[cfg(test)]
mod tests {
    use super::*;
    use geo::{Area, BooleanOps};
    use panelwright_geometry::{Outline, Polygon, Ring};

    fn missing(of: &Polygon, by: &[Point]) -> f64 {
        let cover = Polygon::new(by.to_vec(), Vec::new());
        of.to_geo().difference(&cover.to_geo()).unsigned_area()
    }

    #[test]
    fn covers_and_keeps_its_width() {
        let mut plate = Outline::from_rings(
            Ring::rounded_rectangle(Point::new(0.0, 0.0), Point::new(300.0, 200.0), 40.0),
            Vec::new(),
        );
        // A concave bite in the lower edge.
        for (at, x, bulge) in [(1, 120.0, -0.5), (2, 180.0, 0.0)] {
            plate
                .outer
                .vertices
                .insert(at, panelwright_geometry::Vertex::new(x, 0.0, bulge));
        }
        let cover = plate.covering();
        let few = simplified(&cover.outer, 0.5, 0.5, 8, Some(cover.bounds()));
        assert!(
            few.len() < 40 && few.len() < cover.outer.len() / 2,
            "{}",
            few.len()
        );
        assert!(missing(&cover, &few) < 1e-6);
        let simple = Polygon::new(few, Vec::new());
        assert_eq!(simple.bounds(), cover.bounds());
        assert!(simple.area() < cover.area() * 1.01);
    }

    #[test]
    fn straight_corners_go_and_few_corners_stay() {
        let square = [
            (0.0, 0.0),
            (5.0, 0.0),
            (10.0, 0.0),
            (10.0, 10.0),
            (0.0, 10.0),
        ];
        let ring: Vec<Point> = square.iter().map(|&(x, y)| Point::new(x, y)).collect();
        assert_eq!(simplified(&ring, 0.5, 0.5, 8, None).len(), 4);
    }
}

//! Shapes of remnants: whether they can be, what they are called, how far two of them overlap.

use crate::remnant::Remnant;
use geo::{Area, BooleanOps, ConvexHull, Distance, Euclidean, Length, Validation};
use panelwright_geometry::{
    Bounds, Outline, Placement, Point, Polygon, Ring, largest_clear_rectangle, tolerance, validate,
};

/// Two shapes that overlap no deeper than this do not overlap, in millimetres.
///
/// More than twice what flattening may add to a curve ([`tolerance::CHORD`]), less than half the
/// narrowest kerf of any machine.
pub(super) const SLIVER: f64 = 0.05;

/// Cosine of what still counts as a square corner: within half a degree.
const SQUARE: f64 = 0.0087;

/// The points of a ring as it is in files, without repeated ones.
pub(super) fn points(ring: &[[f64; 2]]) -> Vec<Point> {
    let mut points: Vec<Point> = ring.iter().map(|p| Point::new(p[0], p[1])).collect();
    points.dedup_by(|b, a| a.distance(*b) <= tolerance::COINCIDENT);
    while let [first, .., last] = points.as_slice()
        && first.distance(*last) <= tolerance::COINCIDENT
    {
        points.pop();
    }
    points
}

/// Whether a shape can be: finite, with area, not crossing itself, its voids inside.
///
/// The error is a phrase such as `the outline crosses itself`.
pub(super) fn check(polygon: &Polygon) -> Result<(), String> {
    check_ring(&polygon.outer).map_err(|what| format!("the outline {what}"))?;
    for (i, hole) in polygon.holes.iter().enumerate() {
        check_ring(hole).map_err(|what| format!("void {} {what}", i + 1))?;
        let alone = Polygon::new(hole.clone(), Vec::new());
        let outside = Polygon::new(polygon.outer.clone(), Vec::new());
        if depth_outside(&alone, &outside) > SLIVER {
            return Err(format!("void {} reaches outside the outline", i + 1));
        }
        for (j, other) in polygon.holes.iter().enumerate().take(i) {
            if depth_common(&alone, &Polygon::new(other.clone(), Vec::new())) > SLIVER {
                return Err(format!("voids {} and {} overlap", j + 1, i + 1));
            }
        }
    }
    if polygon.area() <= 0.0 {
        return Err("the voids leave nothing of it".to_owned());
    }
    Ok(())
}

/// A shape with flaws as it was measured, checked. Flaws may cross the edge, a void or each other, but
/// one that touches the piece nowhere was measured from another corner or in another unit.
pub(super) fn measured(
    outline: &[[f64; 2]],
    voids: &[Vec<[f64; 2]>],
    flaws: &[Vec<[f64; 2]>],
) -> Result<(Polygon, Vec<Vec<Point>>), String> {
    let raw = Polygon {
        outer: points(outline),
        holes: voids.iter().map(|ring| points(ring)).collect(),
    };
    check(&raw)?;
    let flaws: Vec<Vec<Point>> = flaws.iter().map(|ring| points(ring)).collect();
    for (i, flaw) in flaws.iter().enumerate() {
        check_ring(flaw).map_err(|what| format!("flaw {} {what}", i + 1))?;
        let alone = Polygon::new(flaw.clone(), Vec::new());
        if Euclidean.distance(&alone.to_geo(), &raw.to_geo()) > SLIVER {
            return Err(format!("flaw {} does not touch the piece", i + 1));
        }
    }
    let ring = |ring: &Vec<Point>| Ring::polygon(ring.iter().copied());
    let holes = raw.holes.iter().map(ring).collect();
    validate(&Outline::from_rings(ring(&raw.outer), holes))
        .map_err(|error| format!("the shape cannot be: {error}"))?;
    Ok((Polygon::new(raw.outer, raw.holes), flaws))
}

/// Whether a ring has three corners with finite coordinates.
pub(super) fn is_ring(ring: &[Point]) -> bool {
    ring.len() >= 3 && ring.iter().all(|p| p.is_finite())
}

/// A shape that a program made, checked. One that only touches itself, as the outcome of cutting
/// shapes out of each other may, is set right: what was cut must not fail to be booked for that.
pub(super) fn settled(raw: Polygon) -> Result<Polygon, String> {
    let Err(what) = check(&raw) else {
        return Ok(Polygon::new(raw.outer, raw.holes));
    };
    if !raw.rings().all(|ring| is_ring(ring)) {
        return Err(what);
    }
    let mut pieces: Vec<Polygon> = geo::unary_union([&raw.to_geo()])
        .iter()
        .map(Polygon::from_geo)
        .filter(|piece| 2.0 * piece.area() > SLIVER * around(&piece.to_geo()))
        .collect();
    match (pieces.pop(), pieces.is_empty()) {
        (Some(piece), true)
            if (piece.area() - raw.area()).abs() <= SLIVER * around(&raw.to_geo())
                && check(&piece).is_ok() =>
        {
            Ok(piece)
        }
        _ => Err(what),
    }
}

/// The corners of a measured rectangle; its sides must be lengths.
pub(super) fn rectangle(length: f64, width: f64) -> Result<[[f64; 2]; 4], String> {
    for (name, side) in [("length", length), ("width", width)] {
        if !(side > 0.0 && side <= tolerance::LARGEST) {
            return Err(format!(
                "{name} {side} mm is not between 0 and {} m",
                tolerance::LARGEST / 1000.0
            ));
        }
    }
    Ok([[0.0, 0.0], [length, 0.0], [length, width], [0.0, width]])
}

/// A ring of no more area than this, in square millimetres, is a line that runs to and fro.
const LEAST_AREA: f64 = 1e-6;

/// Whether one ring can be; the error is the end of a sentence such as `crosses itself`.
pub(super) fn check_ring(ring: &[Point]) -> Result<(), String> {
    check_numbers(ring)?;
    let polygon = Polygon::new(ring.to_vec(), Vec::new());
    if polygon.to_geo().check_validation().is_err() {
        return Err("crosses or touches itself".to_owned());
    }
    Ok(())
}

/// The quick half of [`check_ring`]: three finite corners not too far out, with an area.
pub(super) fn check_numbers(ring: &[Point]) -> Result<(), String> {
    if let Some(i) = ring.iter().position(|p| !p.is_finite()) {
        return Err(format!("has a corner {} that is no number", i + 1));
    }
    if let Some(i) = ring
        .iter()
        .position(|p| p.x.abs().max(p.y.abs()) > tolerance::LARGEST)
    {
        return Err(format!(
            "has a corner {} further out than {} m",
            i + 1,
            tolerance::LARGEST / 1000.0
        ));
    }
    if ring.len() < 3 {
        return Err(format!("has {} corners, needs three", ring.len()));
    }
    let polygon = Polygon::new(ring.to_vec(), Vec::new());
    if polygon.area() <= LEAST_AREA {
        // A bow-tie has none either, since its halves count against each other.
        let is_flat = polygon.to_geo().convex_hull().unsigned_area() <= LEAST_AREA;
        let what = if is_flat {
            "has no area"
        } else {
            "crosses itself"
        };
        return Err(what.to_owned());
    }
    Ok(())
}

/// How deep `a` and `b` overlap: the mean width of the widest piece they share.
///
/// Twice area over perimeter, so that a sliver of rounding along a whole edge counts as thin as it
/// is. Both must have passed [`check`].
pub(super) fn depth_common(a: &Polygon, b: &Polygon) -> f64 {
    if !a.bounds().touches(&b.bounds()) {
        return 0.0;
    }
    deepest(&a.to_geo().intersection(&b.to_geo()))
}

/// How far `a` reaches out of `b`, measured as [`depth_common`] does.
pub(super) fn depth_outside(a: &Polygon, b: &Polygon) -> f64 {
    // Nearly every sheet is an upright rectangle: then the bounds tell.
    if is_upright(b) && b.bounds().contains(&a.bounds()) {
        return 0.0;
    }
    deepest(&a.to_geo().difference(&b.to_geo()))
}

fn deepest(pieces: &geo::MultiPolygon<f64>) -> f64 {
    pieces
        .iter()
        .map(|piece| match around(piece) {
            0.0 => 0.0,
            around => 2.0 * piece.unsigned_area() / around,
        })
        .fold(0.0, f64::max)
}

/// Whether a shape is an upright rectangle and nothing else.
fn is_upright(polygon: &Polygon) -> bool {
    let bounds = polygon.bounds();
    polygon.holes.is_empty()
        && polygon.outer.len() == 4
        && bounds
            .corners()
            .iter()
            .all(|corner| polygon.outer.contains(corner))
}

/// Whether the outside of a shape is an upright rectangle with its lower left corner first, as
/// [`rectangle`] makes it; voids do not matter.
pub(super) fn is_upright_outside(polygon: &Polygon) -> bool {
    polygon.outer == polygon.bounds().corners()
}

/// Length of all edges.
fn around(piece: &geo::Polygon<f64>) -> f64 {
    std::iter::once(piece.exterior())
        .chain(piece.interiors())
        .map(|ring| Euclidean.length(ring))
        .sum()
}

/// The largest upright rectangle of a remnant without void or flaw in it.
pub(super) fn clear_rectangle(remnant: &Remnant) -> Option<Bounds> {
    if remnant.flaws.is_empty() && is_upright(&remnant.outline) {
        return Some(remnant.outline.bounds());
    }
    let flaws: Vec<Polygon> = remnant
        .flaws
        .iter()
        .map(|ring| Polygon::new(ring.clone(), Vec::new()))
        .collect();
    largest_clear_rectangle(&remnant.outline, &flaws, 0.0, 0.0)
}

/// The parts of `flaw` that lie in `piece`.
pub(super) fn clip(flaw: &[Point], piece: &Polygon) -> Vec<Vec<Point>> {
    Polygon::new(flaw.to_vec(), Vec::new())
        .to_geo()
        .intersection(&piece.to_geo())
        .iter()
        .filter(|part| deepest(&geo::MultiPolygon::from((*part).clone())) > SLIVER)
        // A void within a flaw is no material either, so the outside of the part is enough.
        .map(|part| Polygon::from_geo(part).outer)
        .collect()
}

/// The shift that makes the bounds begin at the origin.
pub(super) fn to_origin(bounds: Bounds) -> Placement {
    Placement::new(0.0, Point::new(-bounds.min.x, -bounds.min.y))
}

/// What the shape is called: empty for an upright rectangle, else such as `L, 1 void, 2 flaws`.
pub(super) fn describe(polygon: &Polygon, flaws: usize) -> String {
    let mut words = Vec::new();
    let name = outside_name(polygon);
    if !name.is_empty() {
        words.push(name);
    }
    for (count, one, many) in [
        (polygon.holes.len(), "void", "voids"),
        (flaws, "flaw", "flaws"),
    ] {
        match count {
            0 => {}
            1 => words.push(format!("1 {one}")),
            n => words.push(format!("{n} {many}")),
        }
    }
    words.join(", ")
}

fn outside_name(polygon: &Polygon) -> String {
    // Corners only: a point on a straight edge says nothing of the shape.
    let ring = &polygon.outer;
    let n = ring.len();
    let corners: Vec<(f64, f64)> = (0..n)
        .filter_map(|i| {
            let arriving = (ring[i] - ring[(i + n - 1) % n]).normalized();
            let leaving = (ring[(i + 1) % n] - ring[i]).normalized();
            let turn = (arriving.cross(leaving), arriving.dot(leaving));
            (turn.0.abs() > SQUARE || turn.1 < 0.0).then_some(turn)
        })
        .collect();
    let square = corners.iter().all(|(_, along)| along.abs() < SQUARE);
    let inward: Vec<usize> = (0..corners.len()).filter(|i| corners[*i].0 < 0.0).collect();
    match (corners.len(), inward.as_slice(), square) {
        (4, [], true) => {
            let bounds = polygon.bounds();
            let outside = Polygon::new(ring.clone(), Vec::new()).area();
            if bounds.area() - outside <= bounds.area() * 0.01 {
                String::new()
            } else {
                "askew".to_owned()
            }
        }
        (6, [_], true) => "L".to_owned(),
        (8, [a, b], true) => match (b - a).min(8 - (b - a)) {
            1 => "U",
            2 => "steps",
            3 => "T",
            _ => "Z",
        }
        .to_owned(),
        (3, _, _) => "triangle".to_owned(),
        (n, _, _) if n > 12 => "curved".to_owned(),
        (n, _, _) => format!("{n} corners"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn polygon(ring: &[[f64; 2]]) -> Polygon {
        Polygon::new(points(ring), Vec::new())
    }

    fn block(x: f64, y: f64, width: f64, height: f64) -> Polygon {
        Polygon::from_bounds(Bounds::new(
            Point::new(x, y),
            Point::new(x + width, y + height),
        ))
    }

    #[test]
    fn names_the_shapes_of_offcuts() {
        let l = [[0., 0.], [9., 0.], [9., 3.], [3., 3.], [3., 9.], [0., 9.]];
        let u = [
            [0., 0.],
            [9., 0.],
            [9., 9.],
            [6., 9.],
            [6., 3.],
            [3., 3.],
            [3., 9.],
            [0., 9.],
        ];
        let t = [
            [3., 0.],
            [6., 0.],
            [6., 6.],
            [9., 6.],
            [9., 9.],
            [0., 9.],
            [0., 6.],
            [3., 6.],
        ];
        let steps = [
            [0., 0.],
            [9., 0.],
            [9., 3.],
            [6., 3.],
            [6., 6.],
            [3., 6.],
            [3., 9.],
            [0., 9.],
        ];
        let z = [
            [0., 0.],
            [6., 0.],
            [6., 6.],
            [9., 6.],
            [9., 9.],
            [3., 9.],
            [3., 3.],
            [0., 3.],
        ];
        for (shape, name) in [
            (&l[..], "L"),
            (&u, "U"),
            (&t, "T"),
            (&steps, "steps"),
            (&z, "Z"),
        ] {
            let mut ring = shape.to_vec();
            for _ in 0..ring.len() {
                ring.rotate_left(1);
                let turned = polygon(&ring).placed(&Placement::new(30.0, Point::default()));
                assert_eq!(describe(&turned, 0), name);
            }
        }
        // A point on an edge changes nothing; a void and flaws are counted.
        let long = [[0., 0.], [4., 0.], [9., 0.], [9., 5.], [0., 5.]];
        assert_eq!(describe(&polygon(&long), 0), "");
        assert_eq!(
            describe(&polygon(&[[0., 0.], [9., 0.], [0., 5.]]), 2),
            "triangle, 2 flaws"
        );
        let holed = Polygon::new(points(&long), vec![block(1., 1., 2., 2.).outer]);
        assert_eq!(describe(&holed, 0), "1 void");
        let askew = block(0., 0., 9., 5.).placed(&Placement::new(20.0, Point::default()));
        assert_eq!(describe(&askew, 0), "askew");
    }

    #[test]
    fn refuses_what_cannot_be() {
        let square = [[0., 0.], [100., 0.], [100., 100.], [0., 100.]];
        assert_eq!(check(&polygon(&square)), Ok(()));
        let cases: [(&[[f64; 2]], &str); 5] = [
            (
                &[[0., 0.], [100., 100.], [100., 0.], [0., 100.]],
                "crosses itself",
            ),
            (&[[0., 0.], [100., 0.], [20., 90.], [90., 90.]], "crosses"),
            (&[[0., 0.], [100., 0.]], "has 2 corners"),
            (
                &[[0., 0.], [f64::NAN, 0.], [5., 5.]],
                "corner 2 that is no number",
            ),
            (
                &[[0., 0.], [1e6, 0.], [5., 5.]],
                "corner 2 further out than 100 m",
            ),
        ];
        for (ring, expected) in cases {
            let raw = Polygon {
                outer: points(ring),
                holes: Vec::new(),
            };
            let what = check(&raw).expect_err(expected);
            assert!(what.contains(expected), "{what}");
        }
        let with = |holes: Vec<Polygon>| {
            check(&Polygon::new(
                points(&square),
                holes.into_iter().map(|h| h.outer).collect(),
            ))
        };
        assert_eq!(with(vec![block(10., 10., 20., 20.)]), Ok(()));
        let out = with(vec![block(90., 10., 20., 20.)]).expect_err("reaches out");
        assert!(out.contains("void 1 reaches outside"), "{out}");
        let twice = with(vec![block(10., 10., 20., 20.), block(20., 20., 20., 20.)]);
        assert!(
            twice
                .expect_err("overlap")
                .contains("voids 1 and 2 overlap")
        );
        // A hole within a hole is the same material taken out twice.
        let nested = with(vec![block(10., 10., 50., 50.), block(20., 20., 20., 20.)]);
        assert!(nested.is_err());
    }

    #[test]
    fn a_flaw_lies_on_the_piece() {
        let outline = [[0., 0.], [900., 0.], [900., 700.], [0., 700.]];
        let void = vec![[100., 100.], [400., 100.], [400., 400.], [100., 400.]];
        let with =
            |flaw: [[f64; 2]; 3]| measured(&outline, std::slice::from_ref(&void), &[flaw.to_vec()]);
        // On it, across its edge, across that of the void, and along its edge outside.
        for flaw in [
            [[600., 100.], [650., 100.], [650., 150.]],
            [[850., 100.], [950., 100.], [950., 150.]],
            [[350., 200.], [450., 200.], [450., 250.]],
            [[900., 100.], [950., 100.], [900., 150.]],
        ] {
            assert!(with(flaw).is_ok(), "{flaw:?}");
        }
        for flaw in [
            [[1800., 100.], [2100., 100.], [2100., 200.]],
            [[-60., 100.], [-10., 100.], [-10., 150.]],
            [[200., 200.], [250., 200.], [250., 250.]],
        ] {
            let what = with(flaw).expect_err("off the piece");
            assert_eq!(what, "flaw 1 does not touch the piece");
        }
    }

    #[test]
    fn a_shape_that_touches_itself_is_set_right() {
        // A frame cut open along one line: the ring runs in and out on it.
        let frame = [
            [0., 0.],
            [300., 0.],
            [300., 200.],
            [0., 200.],
            [0., 100.],
            [100., 100.],
            [100., 150.],
            [200., 150.],
            [200., 50.],
            [100., 50.],
            [100., 100.],
            [0., 100.],
        ];
        let raw = Polygon {
            outer: points(&frame),
            holes: Vec::new(),
        };
        assert!(check(&raw).is_err());
        let settled = settled(raw).expect("one frame");
        assert_eq!(settled.holes.len(), 1);
        assert!(
            (settled.area() - 50_000.0).abs() < 1.0,
            "{}",
            settled.area()
        );
        // A bow-tie is two pieces: nothing to set right.
        let bow = [[0., 0.], [100., 0.], [20., 90.], [90., 90.]];
        let bow = Polygon {
            outer: points(&bow),
            holes: Vec::new(),
        };
        assert!(super::settled(bow).is_err());
    }

    #[test]
    fn a_sliver_is_as_deep_as_it_is_thin() {
        let a = block(0., 0., 1000., 500.);
        // By hand: twice area over perimeter of a 1000 x 0.02 strip.
        let strip = depth_common(&a, &block(0., 499.98, 1000., 300.));
        assert!((strip - 2.0 * 20.0 / 2000.04).abs() < 1e-4, "{strip}");
        assert!(depth_common(&a, &block(0., 500., 1000., 300.)) < 1e-6);
        assert!(depth_common(&a, &block(991., 491., 300., 300.)) > 4.0);
        assert!(depth_outside(&block(10., 10., 20., 20.), &a) < 1e-9);
        assert!(depth_outside(&block(10., 10., 20., 600.), &a) > 9.0);
    }

    #[test]
    fn a_flaw_across_the_cut_is_shared() {
        let piece = block(0., 0., 100., 100.);
        let parts = clip(&block(90., 40., 30., 10.).outer, &piece);
        assert_eq!(parts.len(), 1);
        let area = Polygon::new(parts[0].clone(), Vec::new()).area();
        assert!((area - 100.0).abs() < 1e-3, "{area}");
        assert!(clip(&block(200., 40., 30., 10.).outer, &piece).is_empty());
    }
}

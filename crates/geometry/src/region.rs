//! Areas put together, taken away, grown and shrunk: the free room of a sheet.
//!
//! All of it happens on a fixed grid, so that the same area comes out whatever else is in the call,
//! and so that panels whose sizes are written with up to four decimals lose nothing at all. The
//! engine behind it works on whole numbers; this file is the only place that turns millimetres into
//! them.

use crate::{Bounds, Point, Polygon, tolerance};
use geo_clipper::{ClipperInt, EndType, JoinType};

/// Grid points per millimetre. A tenth of a micrometre is finer than any drawing; a finer grid would
/// push the engine into its slow wide arithmetic within the size of a sheet.
const PER_MM: f64 = 10_000.0;

/// Beyond this coordinates are clamped, in millimetres: room for the largest drawing and its offset,
/// and far below the numbers at which the engine gives up.
const OUTERMOST: f64 = 4.0 * tolerance::LARGEST;

/// By how many grid points sloped or off-grid edges may be misplaced by rounding their corners and
/// their crossings (each by less than one), and one to spare.
const SLOPED_SLACK: f64 = 3.0;

/// How far a mitre may reach, in offset distances. Right angles need the square root of 2; corners
/// sharper than 60 degrees are cut square, but never nearer than the offset.
const MITRE_LIMIT: f64 = 2.0;

/// Any number of disjoint polygons with holes.
///
/// Coordinates are rounded to a tenth of a micrometre. A polygon with a coordinate that is not
/// finite counts as empty, and what lies further out than four times [`tolerance::LARGEST`] is
/// clamped; so no input makes these operations fail. Self-crossing rings fill everything they wind
/// round.
#[derive(Debug, Clone, PartialEq)]
pub struct Region {
    shapes: Shapes,
}

type Shapes = geo::MultiPolygon<i64>;

/// What an offset puts at a corner.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Join {
    /// An arc of chords, at most [`Region::ARC`] inside the true one.
    ///
    /// Where a clearance is a promise, offset by [`Region::ARC`] more.
    Round,
    /// The sides carried on until they meet, so that right angles stay right angles. Never nearer
    /// than the offset.
    Mitre,
}

fn to_grid(value: f64) -> i64 {
    // Rounded here, because a cast drops the decimals toward zero.
    (value.clamp(-OUTERMOST, OUTERMOST) * PER_MM).round() as i64
}

fn from_grid(value: i64) -> f64 {
    value as f64 / PER_MM
}

fn grid_ring(points: &[Point]) -> geo::LineString<i64> {
    points
        .iter()
        .map(|p| geo::coord! { x: to_grid(p.x), y: to_grid(p.y) })
        .collect()
}

/// The polygon on the grid, rings turned the way the engine's winding rule needs; `None` when it is
/// none.
fn grid_polygon(polygon: &Polygon) -> Option<geo::Polygon<i64>> {
    if polygon.outer.len() < 3 || !polygon.rings().flatten().all(|p| p.is_finite()) {
        return None;
    }
    let ring = |points: &Vec<Point>, ccw: bool| {
        if (crate::polygon::signed_area(points) > 0.0) == ccw {
            grid_ring(points)
        } else {
            let back: Vec<Point> = points.iter().rev().copied().collect();
            grid_ring(&back)
        }
    };
    let holes = polygon.holes.iter().filter(|h| h.len() >= 3);
    Some(geo::Polygon::new(
        ring(&polygon.outer, true),
        holes.map(|h| ring(h, false)).collect(),
    ))
}

/// Whether the grid holds the polygon and every crossing with others of its kind without rounding.
fn is_exact(polygon: &Polygon) -> bool {
    let on_grid = |v: f64| (v * PER_MM - (v * PER_MM).round()).abs() < 1e-3;
    polygon
        .edges()
        .all(|(a, b)| on_grid(a.x) && on_grid(a.y) && (a.x == b.x || a.y == b.y))
}

fn offset(shapes: &Shapes, units: f64, join: Join) -> Shapes {
    let join = match join {
        Join::Round => JoinType::Round(Region::ARC * PER_MM),
        Join::Mitre => JoinType::Miter(MITRE_LIMIT),
    };
    ClipperInt::offset(shapes, units, join, EndType::ClosedPolygon)
}

fn nothing() -> Shapes {
    geo::MultiPolygon::new(Vec::new())
}

/// The distance in grid points, clamped so that no sum overflows; NaN counts as 0.
fn units(by: f64) -> f64 {
    if by.is_nan() {
        0.0
    } else {
        by.clamp(-OUTERMOST, OUTERMOST) * PER_MM
    }
}

impl Region {
    /// How far the chords of a round join may lie inside the true arc, in millimetres.
    pub const ARC: f64 = 0.005;

    /// What any of `polygons` covers.
    pub fn union_of<'a>(polygons: impl IntoIterator<Item = &'a Polygon>) -> Self {
        let shapes: Vec<_> = polygons.into_iter().filter_map(grid_polygon).collect();
        let shapes = geo::MultiPolygon::new(shapes);
        Self {
            shapes: ClipperInt::union(&shapes, &nothing()),
        }
    }

    /// What any of `polygons` covers when each is grown by `by` with mitres, erring outward: no
    /// place outside is nearer to a polygon than `by`.
    ///
    /// Upright edges on the grid are grown exactly.
    #[must_use]
    pub fn covering(polygons: &[Polygon], by: f64) -> Self {
        let (exact, sloped): (Vec<&Polygon>, Vec<&Polygon>) =
            polygons.iter().partition(|p| is_exact(p));
        let grow = |these: Vec<&Polygon>, slack: f64| {
            let together = Self::union_of(these);
            if together.is_empty() || units(by) + slack == 0.0 {
                together
            } else {
                Self {
                    shapes: offset(&together.shapes, (units(by) + slack).ceil(), Join::Mitre),
                }
            }
        };
        grow(exact, 0.0).union(&grow(sloped, SLOPED_SLACK))
    }

    /// What is inside any of `polygons` by at least `by`, erring inward; mitres at corners that point
    /// inward.
    ///
    /// Upright edges on the grid are shrunk exactly.
    #[must_use]
    pub fn within(polygons: &[Polygon], by: f64) -> Self {
        let slack = if polygons.iter().all(is_exact) {
            0.0
        } else {
            SLOPED_SLACK
        };
        let together = Self::union_of(polygons);
        let by = (units(by) + slack).ceil();
        if together.is_empty() || by == 0.0 {
            return together;
        }
        Self {
            shapes: offset(&together.shapes, -by, Join::Mitre),
        }
    }

    /// Whether nothing is left.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.shapes.0.is_empty()
    }

    /// Area in square millimetres.
    #[must_use]
    pub fn area(&self) -> f64 {
        self.polygons().iter().map(Polygon::area).sum()
    }

    /// What either covers.
    #[must_use]
    pub fn union(&self, other: &Self) -> Self {
        Self {
            shapes: ClipperInt::union(&self.shapes, &other.shapes),
        }
    }

    /// What both cover.
    #[must_use]
    pub fn intersection(&self, other: &Self) -> Self {
        Self {
            shapes: ClipperInt::intersection(&self.shapes, &other.shapes),
        }
    }

    /// What this covers and `other` does not.
    #[must_use]
    pub fn without(&self, other: &Self) -> Self {
        Self {
            shapes: ClipperInt::difference(&self.shapes, &other.shapes),
        }
    }

    /// What this covers and none of `polygons` does; they may overlap each other.
    #[must_use]
    pub fn difference(&self, polygons: &[Polygon]) -> Self {
        let taken: Vec<_> = polygons.iter().filter_map(grid_polygon).collect();
        Self {
            shapes: ClipperInt::difference(&self.shapes, &geo::MultiPolygon::new(taken)),
        }
    }

    /// Every place within `by` (at least 0) of the region.
    #[must_use]
    pub fn grown(&self, by: f64, join: Join) -> Self {
        self.offset(by.max(0.0), join)
    }

    /// Every place of the region that is at least `by` (at least 0) away from its edge; a mitre takes
    /// more at corners that point inward.
    #[must_use]
    pub fn shrunk(&self, by: f64, join: Join) -> Self {
        self.offset(-by.max(0.0), join)
    }

    fn offset(&self, by: f64, join: Join) -> Self {
        let by = units(by);
        if by == 0.0 || self.is_empty() {
            return self.clone();
        }
        Self {
            shapes: offset(&self.shapes, by, join),
        }
    }

    /// The region without what is narrower than twice `by`: shrunk, then grown again, with mitres
    /// so that upright corners come back as they were. Never leaves the region.
    #[must_use]
    pub fn opened(&self, by: f64) -> Self {
        let core = self.shrunk(by, Join::Mitre);
        if core.is_empty() {
            return core;
        }
        // A mitre can reach past a corner that was chamfered.
        core.grown(by, Join::Mitre).intersection(self)
    }

    /// The parts that hang together, sorted by their lower left corner (x first), then by area; each
    /// ring begins at its leftmost point.
    #[must_use]
    pub fn polygons(&self) -> Vec<Polygon> {
        let ring = |line: &geo::LineString<i64>| {
            let mut points: Vec<Point> = line
                .coords()
                .map(|c| Point::new(from_grid(c.x), from_grid(c.y)))
                .collect();
            if points.len() > 1 && points.first() == points.last() {
                points.pop();
            }
            points
        };
        let mut keyed: Vec<(Bounds, f64, Polygon)> = self
            .shapes
            .0
            .iter()
            .filter_map(|shape| {
                let holes = shape.interiors().iter().map(ring).collect();
                let mut polygon = Polygon::new(ring(shape.exterior()), holes);
                begin_left(&mut polygon.outer);
                polygon.holes.iter_mut().for_each(|h| begin_left(h));
                polygon
                    .holes
                    .sort_by(|a, b| order(first_of(a), first_of(b)));
                let bounds = Bounds::of_points(polygon.outer.iter().copied())?;
                Some((bounds, polygon.area(), polygon))
            })
            .collect();
        keyed.sort_by(|a, b| order(a.0.min, b.0.min).then(a.1.total_cmp(&b.1)));
        keyed.into_iter().map(|(_, _, polygon)| polygon).collect()
    }
}

fn order(a: Point, b: Point) -> std::cmp::Ordering {
    a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y))
}

/// Turns the ring round so that it begins at its leftmost point, the lowest of several.
fn begin_left(ring: &mut [Point]) {
    if let Some(first) = (0..ring.len()).min_by(|&a, &b| order(ring[a], ring[b])) {
        ring.rotate_left(first);
    }
}

fn first_of(ring: &[Point]) -> Point {
    ring.first().copied().unwrap_or_default()
}

impl Default for Region {
    /// The empty region.
    fn default() -> Self {
        Self { shapes: nothing() }
    }
}

impl From<&Polygon> for Region {
    fn from(polygon: &Polygon) -> Self {
        Self::union_of([polygon])
    }
}

impl From<Polygon> for Region {
    fn from(polygon: Polygon) -> Self {
        Self::from(&polygon)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Placement;
    use proptest::prelude::*;

    fn block(x: f64, y: f64, width: f64, height: f64) -> Polygon {
        Polygon::from_bounds(Bounds::new(
            Point::new(x, y),
            Point::new(x + width, y + height),
        ))
    }

    #[test]
    fn overlapping_cutters_count_once() {
        let sheet = Region::from(block(0.0, 0.0, 20.0, 20.0));
        let left = sheet.difference(&[block(0.0, 0.0, 10.0, 10.0), block(5.0, 5.0, 10.0, 10.0)]);
        assert_eq!(left.area(), 225.0);
        let both = Region::union_of(&[block(0.0, 0.0, 10.0, 10.0), block(5.0, 0.0, 10.0, 10.0)]);
        assert_eq!(both.area(), 150.0);
    }

    #[test]
    fn material_inside_the_hole_of_another_is_kept() {
        let mut frame = block(0.0, 0.0, 100.0, 100.0);
        frame.holes.push(block(20.0, 20.0, 60.0, 60.0).outer);
        let both = Region::union_of(&[frame, block(40.0, 40.0, 10.0, 10.0)]);
        assert_eq!(both.area(), 6_400.0 + 100.0);
        assert_eq!(both.polygons().len(), 2);
    }

    #[test]
    fn joins_have_the_textbook_areas() {
        // Steiner: A + P r + pi r^2 for the round join; the mitred rectangle is a rectangle.
        let plate = Region::from(block(0.0, 0.0, 100.0, 60.0));
        let round = plate.grown(3.0, Join::Round).area();
        let steiner = 6_000.0 + 320.0 * 3.0 + std::f64::consts::PI * 9.0;
        assert!(round <= steiner && round > steiner - 0.2, "{round}");
        assert_eq!(plate.grown(3.0, Join::Mitre).area(), 106.0 * 66.0);
        assert_eq!(plate.shrunk(3.0, Join::Mitre).area(), 94.0 * 54.0);
        assert!(plate.shrunk(30.0, Join::Mitre).is_empty());
    }

    #[test]
    fn opening_drops_webs_and_keeps_corners() {
        // Two plates joined by a web 4 wide.
        let shape = Region::union_of(&[
            block(0.0, 0.0, 100.0, 100.0),
            block(100.0, 40.0, 50.0, 4.0),
            block(150.0, 0.0, 80.0, 100.0),
        ]);
        let opened = shape.opened(5.0).polygons();
        assert_eq!(opened.len(), 2);
        assert_eq!(opened[0].bounds(), block(0.0, 0.0, 100.0, 100.0).bounds());
        assert_eq!(opened[0].outer.len(), 4);
        assert_eq!(opened[1].area(), 8_000.0);
        // A small chamfer must not be sharpened again.
        let chamfered = Polygon::new(
            [
                (0.0, 0.0),
                (49.0, 0.0),
                (50.0, 1.0),
                (50.0, 50.0),
                (0.0, 50.0),
            ]
            .map(|(x, y)| Point::new(x, y))
            .to_vec(),
            Vec::new(),
        );
        let region = Region::from(&chamfered);
        assert!(region.opened(20.0).without(&region).is_empty());
    }

    #[test]
    fn bad_numbers_are_survived() {
        let nan = Polygon::new(
            vec![
                Point::new(f64::NAN, 0.0),
                Point::new(1.0, 0.0),
                Point::new(0.0, 1.0),
            ],
            Vec::new(),
        );
        assert!(Region::from(nan).is_empty());
        let huge = Region::from(block(-1e300, -1e300, 2e300, 2e300));
        assert!(huge.area().is_finite());
        assert!(huge.grown(f64::INFINITY, Join::Mitre).area().is_finite());
        assert!(huge.grown(f64::NAN, Join::Round) == huge);
        assert!(huge.shrunk(f64::INFINITY, Join::Round).is_empty());
        assert!(Region::from(Polygon::default()).is_empty());
    }

    #[test]
    fn below_zero_rounds_as_above() {
        // 0.29 at a hundred per millimetre would be cut to 0.28 by a plain cast.
        let shape = Region::from(block(-10.290_06, -0.000_06, 10.0, 10.0)).polygons();
        assert_eq!(shape[0].bounds().min, Point::new(-10.290_1, -0.000_1));
    }

    fn triangles() -> impl Strategy<Value = Vec<Polygon>> {
        let corner = (-200.0f64..200.0, -200.0f64..200.0);
        let triangle = proptest::collection::vec(corner, 3).prop_map(|c| {
            Polygon::new(
                c.into_iter().map(|(x, y)| Point::new(x, y)).collect(),
                vec![],
            )
        });
        proptest::collection::vec(triangle, 1..8)
    }

    proptest! {
        #[test]
        fn agrees_with_the_geo_crate(subject in triangles(), clip in triangles()) {
            use geo::{Area, BooleanOps};
            let theirs = |p: &[Polygon]| geo::unary_union(&p.iter().map(Polygon::to_geo).collect::<Vec<_>>());
            let ours = Region::union_of(&subject);
            // Rounding moves an edge by up to a ten-thousandth, along all of its length.
            let slack = 1e-4 * 1_200.0 * (subject.len() + clip.len()) as f64;
            let (a, b) = (theirs(&subject), theirs(&clip));
            prop_assert!((ours.area() - a.unsigned_area()).abs() < slack);
            let (left, expected) = (ours.difference(&clip), a.difference(&b));
            prop_assert!((left.area() - expected.unsigned_area()).abs() < slack);
            let (both, expected) = (ours.intersection(&Region::union_of(&clip)), a.intersection(&b));
            prop_assert!((both.area() - expected.unsigned_area()).abs() < slack);
        }

        #[test]
        fn covering_and_within_err_to_their_side(
            width in 20.0f64..300.0, height in 20.0f64..300.0, turn in 0.0f64..360.0, by in 0.0f64..9.0,
        ) {
            use geo::{Distance, Euclidean};
            let plate = Polygon::rectangle(width, height).placed(&Placement::new(turn, Point::new(3.3, 7.7)));
            for p in &Region::covering(std::slice::from_ref(&plate), by).polygons()[0].outer {
                let d = Euclidean.distance(&geo::Point::new(p.x, p.y), &plate.to_geo());
                prop_assert!(d >= by);
            }
            for p in &Region::within(std::slice::from_ref(&plate), by).polygons()[0].outer {
                let edge = geo::LineString::from_iter(plate.outer.iter().chain(&plate.outer[..1]).map(|p| geo::coord! {x: p.x, y: p.y}));
                let d = Euclidean.distance(&geo::Point::new(p.x, p.y), &edge);
                prop_assert!(d >= by - 1e-9 && geo::Intersects::intersects(&plate.to_geo(), &geo::Point::new(p.x, p.y)));
            }
        }
    }
}

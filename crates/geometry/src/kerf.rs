//! Outlines moved outward or inward by half the width of a cut, with true arcs kept.
//!
//! A tool removes material on both sides of its path. For the finished part to have its size, the
//! tool's centre runs on the part's outline moved **outward by half the kerf**: the outer ring grows
//! and every hole shrinks, whatever way the rings run. Read backward: a tool whose centre follows a
//! drawn line leaves an outside smaller and an opening larger than drawn, which is
//! [`Outline::inward`] by half the kerf.
//!
//! How: each ring becomes a polyline with bulges, material on its left. Growing the material moves
//! a ring to its right and never lets two rings meet, so rings are moved one by one. Shrinking moves
//! them to the left, where they do meet, so all are moved together and cut where they cross.

use crate::{Boundary, Bounds, Outline, Ring, Vertex, tolerance};
use cavalier_contours::polyline::{
    PlineCreation, PlineSource, PlineSourceMut, PlineVertex, Polyline,
};
use cavalier_contours::shape_algorithms::{Shape, ShapeOffsetOptions};
use thiserror::Error;

/// How far the bounds of a moved ring may be from where they must be, in millimetres.
///
/// The bounds of anything grown by `d` are its bounds grown by `d`. The engine joins pieces within
/// a ten-thousandth; a ring that is out by more than ten times that was not moved, but lost.
const BOUNDS_SLACK: f64 = 1e-3;

/// How far any place of a moved ring may be from the distance asked for, in millimetres: a tenth of
/// what a tool path is held to.
const PATH_SLACK: f64 = 1e-3;

/// Loops with less than this area, in square millimetres, are leftovers of rounding.
const LEAST_LOOP: f64 = 1e-6;

/// Names a ring in a message.
fn ring_name(hole: Option<usize>) -> String {
    match hole {
        None => "the outer ring".into(),
        Some(index) => format!("hole {index}"),
    }
}

/// Why an outline could not be offset.
///
/// Holes are named by their index in [`Outline::holes`]; no index means the outer ring.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum KerfError {
    /// The distance is negative, not finite or absurd.
    #[error("the offset is {value} mm; it must be between 0 and 100 m")]
    BadDistance {
        /// The distance given.
        value: f64,
    },
    /// A ring has too few corners, no area, or a coordinate that is not a number within 100 m.
    #[error("{} is no closed curve with an area", ring_name(*.hole))]
    BadRing {
        /// Which hole; `None` for the outer ring.
        hole: Option<usize>,
    },
    /// A ring crosses or touches itself, so it has no inside and outside.
    #[error("{} crosses or touches itself", ring_name(*.hole))]
    CrossesItself {
        /// Which hole; `None` for the outer ring.
        hole: Option<usize>,
    },
    /// A hole is narrower than the cut: no tool of this width gets into it.
    #[error(
        "hole {hole} is narrower than the cut of {width} mm; use a finer tool or a larger hole"
    )]
    HoleClosed {
        /// Which hole.
        hole: usize,
        /// Full width of the cut: twice the offset.
        width: f64,
    },
    /// A ring has a neck narrower than the cut with more room behind it: the tool would leave the
    /// neck standing. For the outer ring the neck is the mouth of a notch.
    #[error("{} has a neck narrower than the cut of {width} mm; use a finer tool or a wider neck", ring_name(*.hole))]
    NeckClosed {
        /// Which hole; `None` for the outer ring.
        hole: Option<usize>,
        /// Full width of the cut: twice the offset.
        width: f64,
    },
    /// The engine's answer is not where it must be. Cleaning the drawing of tiny segments helps.
    #[error("{} could not be offset reliably by {distance} mm; rid the drawing of tiny segments", ring_name(*.hole))]
    Unreliable {
        /// Which hole; `None` for the outer ring.
        hole: Option<usize>,
        /// The offset.
        distance: f64,
    },
}

/// The ring for the engine, material on its left; arcs above a half circle in two pieces, because
/// the engine takes no larger ones.
fn polyline(ring: &Ring, hole: Option<usize>) -> Result<Polyline<f64>, KerfError> {
    let finite = |v: &Vertex| {
        v.point.is_finite()
            && v.bulge.is_finite()
            && v.point.x.abs() <= tolerance::LARGEST
            && v.point.y.abs() <= tolerance::LARGEST
    };
    if ring.vertices.len() < 2 || !ring.vertices.iter().all(finite) || ring.area() <= LEAST_LOOP {
        return Err(KerfError::BadRing { hole });
    }
    let mut line = Polyline::with_capacity(ring.vertices.len(), true);
    for segment in ring.clone().oriented(hole.is_none()).segments() {
        let mut add = |p: crate::Point, bulge| line.add_vertex(PlineVertex::new(p.x, p.y, bulge));
        if segment.bulge.abs() > 1.0 {
            let half = (0.5 * segment.bulge.atan()).tan();
            add(segment.start, half);
            add(segment.point_at(0.5), half);
        } else {
            add(segment.start, segment.bulge);
        }
    }
    let line = line.remove_repeat_pos(1e-5).unwrap_or(line);
    if line.vertex_count() < 2 {
        return Err(KerfError::BadRing { hole });
    }
    if line.scan_for_self_intersect() {
        return Err(KerfError::CrossesItself { hole });
    }
    Ok(line)
}

fn ring(line: &Polyline<f64>) -> Ring {
    let mut ring = Ring::new(
        line.iter_vertexes()
            .map(|v| Vertex::new(v.x, v.y, v.bulge))
            .collect(),
    );
    ring.drop_coincident();
    ring
}

fn check_distance(value: f64) -> Result<(), KerfError> {
    if value.is_finite() && (0.0..=tolerance::LARGEST).contains(&value) {
        Ok(())
    } else {
        Err(KerfError::BadDistance { value })
    }
}

/// The loops of a ring moved by `distance` to its left (to its right when negative).
fn loops(line: &Polyline<f64>, distance: f64) -> Vec<Ring> {
    line.parallel_offset(distance)
        .iter()
        .map(ring)
        .filter(|r| r.vertices.len() > 1 && r.area() > LEAST_LOOP)
        .collect()
}

/// Whether every corner and three places on every segment of `path` are `distance` from `ring`.
///
/// Nearest distances, so that a path that cuts a corner or lies on the wrong side of a neighbouring
/// stretch is found as well; that it lies on the right side as a whole is told by its area.
fn keeps_distance(ring: &Ring, path: &Ring, distance: f64) -> bool {
    let boundary = Boundary::new([ring]);
    path.segments()
        .flat_map(|s| [0.0, 0.25, 0.5, 0.75].map(|share| s.point_at(share)))
        .all(|p| (boundary.distance(p) - distance).abs() <= PATH_SLACK)
}

fn same_bounds(a: Bounds, b: Bounds) -> bool {
    a.grown(BOUNDS_SLACK).contains(&b) && b.grown(BOUNDS_SLACK).contains(&a)
}

impl Outline {
    /// The outline with its material grown by `distance` millimetres: the outer ring moves outward,
    /// the holes shrink.
    ///
    /// With half the kerf this is the path of the tool's centre that leaves the part at its size.
    /// Every place of the result is within a thousandth of a millimetre of `distance` from the ring it
    /// belongs to, and on the right side of it: that is checked, not believed.
    ///
    /// Arcs stay arcs, outside corners get an arc round them (so that the tool never leaves the
    /// corner it turns at), and corners that the tool cannot reach
    /// into (inside corners of the outer ring, corners of holes) stay sharp in the path while the
    /// tool leaves its own radius in them. Holes keep their order; marks stay as they are, since
    /// the tool runs on them.
    ///
    /// # Errors
    /// [`KerfError::HoleClosed`] and [`KerfError::NeckClosed`] when a tool as wide as twice the
    /// distance cannot make the part; the others when the outline is no proper outline.
    ///
    /// # Runtime
    /// About n log n in the number of segments.
    ///
    /// # Source
    /// Steiner's formula for the area of a grown convex body is what the tests hold it to.
    pub fn outward(&self, distance: f64) -> Result<Self, KerfError> {
        check_distance(distance)?;
        if distance == 0.0 {
            return Ok(self.clone());
        }
        let width = 2.0 * distance;
        let mut outer = loops(&polyline(&self.outer, None)?, -distance);
        let expected = self.outer.bounds().grown(distance);
        let good = |path: &Ring, hole: Option<usize>| {
            let ring = hole.map_or(&self.outer, |i| &self.holes[i]);
            let side = (path.area() > ring.area()) == hole.is_none();
            side && keeps_distance(ring, path, distance)
        };
        let outer = match outer.len() {
            1 if same_bounds(outer[0].bounds(), expected) && good(&outer[0], None) => {
                outer.remove(0)
            }
            n if n > 1 => return Err(KerfError::NeckClosed { hole: None, width }),
            _ => {
                return Err(KerfError::Unreliable {
                    hole: None,
                    distance,
                });
            }
        };
        let mut holes = Vec::with_capacity(self.holes.len());
        for (index, hole) in self.holes.iter().enumerate() {
            let mut left = loops(&polyline(hole, Some(index))?, -distance);
            match left.len() {
                0 => return Err(KerfError::HoleClosed { hole: index, width }),
                1 if good(&left[0], Some(index)) => holes.push(left.remove(0).oriented(false)),
                1 => {
                    return Err(KerfError::Unreliable {
                        hole: Some(index),
                        distance,
                    });
                }
                _ => {
                    return Err(KerfError::NeckClosed {
                        hole: Some(index),
                        width,
                    });
                }
            }
        }
        Ok(Self {
            outer: outer.oriented(true),
            holes,
            marks: self.marks.clone(),
        })
    }

    /// What is left of the outline when its material shrinks by `distance` millimetres: the outer
    /// ring moves inward, the holes grow.
    ///
    /// With half the kerf this is the part that a tool leaves whose centre follows the drawn lines.
    /// Narrow places vanish, so the outline may come apart or vanish as a whole: each piece is an
    /// outline of its own, sorted by its lower left corner (x first), and there may be none. Arcs
    /// stay arcs, and inside corners get an arc round them. Marks are left out: which piece they
    /// would belong to is not for an offset to say. Unlike what [`outward`](Self::outward) returns, this is the offset
    /// engine's answer as it is: tests compare its area with another library's, but nothing measures it again.
    ///
    /// # Errors
    /// [`KerfError`] when the outline is no proper outline.
    ///
    /// # Runtime
    /// About n log n in the number of segments.
    pub fn inward(&self, distance: f64) -> Result<Vec<Self>, KerfError> {
        check_distance(distance)?;
        let mut lines = vec![polyline(&self.outer, None)?];
        for (index, hole) in self.holes.iter().enumerate() {
            lines.push(polyline(hole, Some(index))?);
        }
        if distance == 0.0 {
            return Ok(vec![Self {
                marks: Vec::new(),
                ..self.clone()
            }]);
        }
        // Without holes nothing can meet from outside, and one ring alone is the surer way.
        let rings: Vec<Ring> = if self.holes.is_empty() {
            loops(&lines[0], distance)
        } else {
            let moved =
                Shape::from_plines(lines).parallel_offset(distance, &ShapeOffsetOptions::default());
            let all = moved.ccw_plines.iter().chain(&moved.cw_plines);
            all.map(|indexed| ring(&indexed.polyline))
                .filter(|r| r.vertices.len() > 1 && r.area() > LEAST_LOOP)
                .collect()
        };
        Ok(pieces(rings))
    }
}

/// Outlines of loops: each hole (a clockwise loop) goes to the smallest outer loop round it.
fn pieces(rings: Vec<Ring>) -> Vec<Outline> {
    let (outers, holes): (Vec<Ring>, Vec<Ring>) = rings.into_iter().partition(Ring::is_ccw);
    let mut pieces: Vec<Outline> = outers
        .into_iter()
        .map(|outer| Outline::from_rings(outer, Vec::new()))
        .collect();
    let order = |a: &Bounds, b: &Bounds| {
        a.min
            .x
            .total_cmp(&b.min.x)
            .then(a.min.y.total_cmp(&b.min.y))
    };
    pieces.sort_by(|a, b| order(&a.bounds(), &b.bounds()));
    let mut owned: Vec<Vec<Ring>> = vec![Vec::new(); pieces.len()];
    for hole in holes {
        let inside = hole.vertices[0].point;
        let owner = pieces
            .iter()
            .enumerate()
            .filter(|(_, p)| p.bounds().grown(BOUNDS_SLACK).contains(&hole.bounds()))
            .filter(|(_, p)| pieces_line(&p.outer).winding_number(engine_point(inside)) != 0)
            .min_by(|a, b| a.1.outer.area().total_cmp(&b.1.outer.area()))
            .map(|(i, _)| i);
        // A hole with no ring round it has no material round it either.
        if let Some(i) = owner {
            owned[i].push(hole);
        }
    }
    for (piece, mut holes) in pieces.iter_mut().zip(owned) {
        holes.sort_by(|a, b| order(&a.bounds(), &b.bounds()));
        piece.holes = holes;
    }
    pieces
}

fn pieces_line(ring: &Ring) -> Polyline<f64> {
    let vertices = ring
        .vertices
        .iter()
        .map(|v| PlineVertex::new(v.point.x, v.point.y, v.bulge));
    Polyline::from_iter(vertices, true)
}

fn engine_point(p: crate::Point) -> cavalier_contours::core::math::Vector2<f64> {
    cavalier_contours::core::math::Vector2::new(p.x, p.y)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Join, Placement, Point, Region, Side, Vec2};
    use proptest::prelude::*;
    use std::f64::consts::{PI, TAU};

    fn polygon(points: &[(f64, f64)]) -> Outline {
        Outline::polygon(points.iter().map(|&(x, y)| Point::new(x, y)))
    }

    fn triangle() -> Outline {
        polygon(&[(0.0, 0.0), (4.0, 0.0), (0.0, 3.0)])
    }

    #[test]
    fn grown_convex_shapes_obey_steiner() {
        // A + P r + pi r^2 and P + 2 pi r. Source: the Minkowski-Steiner formula (Gruber, Convex and
        // Discrete Geometry, 2007, chapter 6), values computed by hand.
        for (shape, perimeter, r, area) in [
            (triangle(), 12.0, 1.0, 21.141_592_7),
            (triangle(), 12.0, 0.5, 12.785_398_2),
            (Outline::rectangle(3.0, 2.0), 10.0, 1.0, 19.141_592_7),
            (Outline::rectangle(3.0, 2.0), 10.0, 0.5, 11.785_398_2),
            // Joined square the unit square would measure 4.
            (Outline::rectangle(1.0, 1.0), 4.0, 0.5, 3.785_398_2),
        ] {
            let grown = shape.outward(r).unwrap();
            assert!(
                (grown.area() - area).abs() < 1e-6,
                "{area}: {}",
                grown.area()
            );
            assert!((grown.cut_length() - perimeter - TAU * r).abs() < 1e-6);
            let arcs = grown.outer.segments().filter(|s| s.is_arc()).count();
            assert_eq!(arcs, shape.outer.vertices.len(), "one true arc a corner");
        }
    }

    #[test]
    fn shrunk_convex_shapes_obey_the_formula() {
        // A - P d + d^2 sum cot(half angle); the triangle keeps its shape, 6 * 0.75^2, and has the
        // in-radius 1.
        let shrunk = triangle().inward(0.25).unwrap();
        assert!((shrunk[0].area() - 3.375).abs() < 1e-9);
        let shrunk = Outline::rectangle(3.0, 2.0).inward(0.25).unwrap();
        assert!((shrunk[0].area() - 3.75).abs() < 1e-9);
        assert!(triangle().inward(1.01).unwrap().is_empty());
    }

    #[test]
    fn a_cut_on_the_line_makes_the_published_sizes() {
        // Published by a laser service: 2.0 x 4.0 cut on the line with a kerf of 0.2 gives a part of
        // 1.8 x 3.8 and leaves an opening of 2.2 x 4.2; a 40 mm square comes out at 39.8.
        let sizes = |b: Bounds| (b.width(), b.height());
        let near = |a: (f64, f64), b: (f64, f64)| (a.0 - b.0).abs() + (a.1 - b.1).abs() < 1e-9;
        let drawn = Outline::rectangle(2.0, 4.0);
        let part = drawn.inward(0.1).unwrap().remove(0);
        assert!(near(sizes(part.bounds()), (1.8, 3.8)));
        let mut plate = Outline::rectangle(20.0, 20.0);
        let opening = drawn.placed(&Placement::new(0.0, Point::new(5.0, 5.0)));
        plate.holes.push(opening.outer.oriented(false));
        let cut = plate.inward(0.1).unwrap().remove(0);
        assert!(near(sizes(cut.holes[0].bounds()), (2.2, 4.2)));
        let square = Outline::rectangle(40.0, 40.0)
            .inward(0.1)
            .unwrap()
            .remove(0);
        assert!(near(sizes(square.bounds()), (39.8, 39.8)));
    }

    /// A plate with a round hole, a slot, a bite out of its edge and an arc above a half circle.
    fn bracket() -> Outline {
        let mut outer =
            Ring::rounded_rectangle(Point::new(0.0, 0.0), Point::new(200.0, 120.0), 15.0);
        outer.vertices.insert(1, Vertex::new(90.0, 0.0, -0.6));
        outer.vertices.insert(2, Vertex::new(120.0, 0.0, 0.0));
        // A keyhole: three quarters of a circle closed by a line.
        let keyhole = Ring::new(vec![
            Vertex::new(60.0, 80.0, 2.414_213_56),
            Vertex::new(50.0, 90.0, 0.0),
        ]);
        Outline::from_rings(
            outer,
            vec![
                Ring::circle(Point::new(150.0, 60.0), 20.0),
                Ring::rounded_rectangle(Point::new(20.0, 40.0), Point::new(80.0, 52.0), 6.0),
                keyhole,
            ],
        )
    }

    #[test]
    fn holes_shrink_as_true_circles() {
        let grown = bracket().outward(3.0).unwrap();
        let circle = &grown.holes[0];
        assert!(circle.segments().all(|s| s.is_arc()));
        assert!((circle.area() - PI * 17.0 * 17.0).abs() < 1e-6);
        assert!(!circle.is_ccw() && grown.outer.is_ccw());
        // The slot: 60 x 12 becomes 54 x 6.
        assert!((grown.holes[1].area() - (48.0 * 6.0 + PI * 9.0)).abs() < 1e-6);
    }

    #[test]
    fn what_a_tool_cannot_make_is_named() {
        let error = bracket().outward(6.5).unwrap_err();
        assert_eq!(
            error,
            KerfError::HoleClosed {
                hole: 1,
                width: 13.0
            }
        );
        assert!(
            error
                .to_string()
                .contains("hole 1 is narrower than the cut of 13 mm")
        );
        let waist = [
            (0.0, 0.0),
            (40.0, 0.0),
            (40.0, 18.0),
            (60.0, 18.0),
            (60.0, 0.0),
            (100.0, 0.0),
            (100.0, 40.0),
            (60.0, 40.0),
            (60.0, 22.0),
            (40.0, 22.0),
            (40.0, 40.0),
            (0.0, 40.0),
        ];
        let mut plate = Outline::rectangle(300.0, 300.0);
        plate.holes.push(
            polygon(&waist)
                .placed(&Placement::new(0.0, Point::new(50.0, 50.0)))
                .outer
                .oriented(false),
        );
        assert!(matches!(
            plate.outward(2.5),
            Err(KerfError::NeckClosed { hole: Some(0), .. })
        ));
        assert!(plate.outward(1.5).is_ok());
        // Shrunk, the same shape comes apart.
        assert_eq!(polygon(&waist).inward(2.5).unwrap().len(), 2);
        let pocket = polygon(&[
            (0.0, 0.0),
            (100.0, 0.0),
            (100.0, 49.0),
            (90.0, 49.0),
            (90.0, 10.0),
            (10.0, 10.0),
            (10.0, 90.0),
            (90.0, 90.0),
            (90.0, 51.0),
            (100.0, 51.0),
            (100.0, 100.0),
            (0.0, 100.0),
        ]);
        assert!(matches!(
            pocket.outward(2.0),
            Err(KerfError::NeckClosed { hole: None, .. })
        ));
        let bow = polygon(&[(0.0, 0.0), (50.0, 40.0), (50.0, 0.0), (0.0, 30.0)]);
        assert!(matches!(
            bow.outward(1.0),
            Err(KerfError::CrossesItself { hole: None })
        ));
        assert!(matches!(
            bow.inward(1.0),
            Err(KerfError::CrossesItself { hole: None })
        ));
        for bad in [-1.0, f64::NAN, f64::INFINITY] {
            assert!(matches!(
                triangle().outward(bad),
                Err(KerfError::BadDistance { .. })
            ));
            assert!(matches!(
                triangle().inward(bad),
                Err(KerfError::BadDistance { .. })
            ));
        }
        let line = polygon(&[(0.0, 0.0), (5.0, 0.0)]);
        assert!(matches!(
            line.outward(1.0),
            Err(KerfError::BadRing { hole: None })
        ));
    }

    #[test]
    fn a_hole_that_meets_the_edge_opens_it() {
        let mut plate = Outline::rectangle(100.0, 60.0);
        plate
            .holes
            .push(Ring::circle(Point::new(50.0, 12.0), 10.0).reversed());
        let open = plate.inward(1.5).unwrap();
        assert_eq!((open.len(), open[0].holes.len()), (1, 0));
        let second = Region::from(plate.flatten(0.002, Side::Within)).shrunk(1.5, Join::Round);
        assert!((open[0].area() - second.area()).abs() < 0.5);
    }

    /// A star-shaped outline with arcs and a round hole in its middle.
    fn blob() -> impl Strategy<Value = Outline> {
        (
            proptest::collection::vec((40.0f64..160.0, -0.5f64..0.8, any::<bool>()), 3..16),
            4.0f64..20.0,
        )
            .prop_map(|(corners, hole)| {
                let n = corners.len() as f64;
                let vertices = corners
                    .iter()
                    .enumerate()
                    .map(|(i, &(radius, bulge, arc))| Vertex {
                        point: Point::default() + Vec2::from_angle(i as f64 * TAU / n, radius),
                        bulge: if arc { bulge } else { 0.0 },
                    });
                let hole = Ring::circle(Point::default(), hole);
                Outline::from_rings(Ring::new(vertices.collect()), vec![hole])
            })
            .prop_filter("crosses itself", |o| {
                // Chords of both sides, and arcs as the reader of drawings looks at them.
                let valid = |side| geo::Validation::is_valid(&o.flatten(0.02, side).to_geo());
                valid(Side::Within) && valid(Side::Covering) && crate::validate(o).is_ok()
            })
    }

    /// The largest difference of area that chords may make on either side.
    fn chord_slack(o: &Outline) -> f64 {
        0.03 * o.cut_length() + 1.0
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(200))]

        #[test]
        fn agrees_with_the_offset_of_polygons(shape in blob(), d in 0.1f64..12.0) {
            let flat = Region::from(shape.flatten(0.01, Side::Within));
            match shape.outward(d) {
                Ok(grown) => {
                    let other = flat.grown(d, Join::Round);
                    prop_assert!((grown.area() - other.area()).abs() < chord_slack(&grown), "{} {}", grown.area(), other.area());
                }
                Err(KerfError::HoleClosed { .. }) => {
                    let holes: usize = flat.grown(d, Join::Round).polygons().iter().map(|p| p.holes.len()).sum();
                    // A loop of less area than counts as one is closed too.
                    let least = 2.0 * (LEAST_LOOP / PI).sqrt();
                    prop_assert!(shape.holes[0].bounds().width() <= 2.0 * d + least && holes <= 1);
                }
                Err(KerfError::NeckClosed { hole: None, .. }) => {
                    // A hole more than the part's own, where that is still open.
                    let polygons = flat.grown(d, Join::Round).polygons();
                    let own = usize::from(shape.holes[0].bounds().width() > 2.0 * d + 0.1);
                    prop_assert!(polygons[0].holes.len() > own, "{polygons:?}");
                }
                Err(error) => prop_assert!(false, "{error}"),
            }
            match shape.inward(d) {
                Ok(left) => {
                    let other = flat.shrunk(d, Join::Round);
                    let area: f64 = left.iter().map(Outline::area).sum();
                    prop_assert!((area - other.area()).abs() < chord_slack(&shape), "{area} {}", other.area());
                }
                Err(error) => prop_assert!(false, "{error}"),
            }
        }

        #[test]
        fn neither_winding_nor_start_nor_turn_matters(
            start in 0usize..12, turn in 0.0f64..360.0, d in 0.1f64..3.0,
        ) {
            let plain = bracket();
            let mut other = plain.clone();
            let n = other.outer.vertices.len();
            other.outer.vertices.rotate_left(start % n);
            other.outer = other.outer.reversed();
            for hole in &mut other.holes {
                let n = hole.vertices.len();
                hole.vertices.rotate_left(start % n);
                *hole = hole.reversed();
            }
            let other = other.placed(&Placement::new(turn, Point::new(11.0, -40.0)));
            let (a, b) = (plain.outward(d).unwrap(), other.outward(d).unwrap());
            prop_assert!((a.area() - b.area()).abs() < 1e-4 && (a.cut_length() - b.cut_length()).abs() < 1e-4);
            let (a, b) = (plain.inward(d).unwrap(), other.inward(d).unwrap());
            prop_assert_eq!(a.len(), b.len());
            prop_assert!((a[0].area() - b[0].area()).abs() < 1e-3 && (a[0].cut_length() - b[0].cut_length()).abs() < 1e-3);
        }
    }
}

//! Relief at inside corners, so that a part with square corners can seat in them.
//!
//! A turning tool leaves its own radius in every inside corner. A bite out of the corner takes that
//! away: a round one on the corner's bisector, or one across one of its edges, which leaves the other
//! edge whole.
//!
//! Geometry of the round bite: a circle of radius `r` whose centre lies on the bisector, `r` from the
//! corner, passes through the corner and cuts both edges `2 r cos(w / 2)` from it, where `w` is the
//! angle of the open wedge; between these it sweeps `2 (180 - w)` degrees: half a circle in a
//! square corner. (Theorem of the inscribed angle; that such bites are used is common practice.)

use crate::{Outline, Point, Ring, Segment, Vec2, Vertex};
use std::f64::consts::PI;

/// How a corner is relieved.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Relief {
    /// A round bite on the bisector of the corner.
    Round,
    /// A bite across the longer of the two edges; the shorter one stays whole.
    T,
}

/// Wedges between these angles are relieved: what is flatter needs none, and what is sharper takes no
/// square part.
const WEDGE: (f64, f64) = (45.0 * PI / 180.0, 150.0 * PI / 180.0);

/// Share of an edge that the bites at its two ends may take together.
const MOST_OF_EDGE: f64 = 0.9;

/// A relieved outline, and the corners that could not be relieved.
#[derive(Debug, Clone, PartialEq)]
pub struct Relieved {
    /// The outline with its bites.
    pub outline: Outline,
    /// How many bites it has.
    pub count: usize,
    /// Sharp inside corners left as they are: an edge is too short, or an arc.
    pub left: Vec<Point>,
}

impl Outline {
    /// The outline with every sharp inside corner (of its openings, and of notches in its outside)
    /// relieved by bites of `radius` millimetres.
    ///
    /// The radius should be that of the tool or a little more: 10 to 30 % above it is common practice.
    /// Only corners between two straight edges are relieved. Whether the bites leave sound webs is not
    /// checked here; [`crate::validate`] tells whether rings meet.
    ///
    /// # Panics
    /// When the radius is not above 0.
    #[must_use]
    pub fn relieved(&self, relief: Relief, radius: f64) -> Relieved {
        assert!(radius > 0.0, "a relief has a radius above 0");
        let mut done = Relieved {
            outline: self.clone(),
            count: 0,
            left: Vec::new(),
        };
        // Material is on the left of every ring, so that an inside corner turns to the right.
        done.outline.outer = relieved(
            &self.outer.clone().oriented(true),
            relief,
            radius,
            &mut done,
        );
        let holes = self.holes.iter().map(|h| h.clone().oriented(false));
        done.outline.holes = holes
            .map(|hole| relieved(&hole, relief, radius, &mut done))
            .collect();
        done
    }
}

/// What a bite takes off the edges before and behind its corner, and the arc that replaces it.
#[derive(Clone, Copy)]
struct Bite {
    before: f64,
    behind: f64,
    bulge: f64,
}

fn relieved(ring: &Ring, relief: Relief, radius: f64, done: &mut Relieved) -> Ring {
    let segments: Vec<Segment> = ring.segments().collect();
    let n = segments.len();
    let mut bites: Vec<Option<Bite>> = vec![None; n];
    for i in 0..n {
        let (arriving, leaving) = (segments[(i + n - 1) % n], segments[i]);
        let (a, b) = (arriving.tangent_at(1.0), leaving.tangent_at(0.0));
        let turn = a.cross(b).atan2(a.dot(b));
        let wedge = PI + turn;
        if turn >= 0.0 || !(WEDGE.0..=WEDGE.1).contains(&wedge) {
            continue;
        }
        if arriving.is_arc() || leaving.is_arc() {
            done.left.push(leaving.start);
            continue;
        }
        bites[i] = Some(match relief {
            Relief::Round => {
                let chord = 2.0 * radius * (0.5 * wedge).cos();
                // The bite bulges into the material, on the left: clockwise, a negative bulge.
                let bulge = -(0.5 * (PI - wedge)).tan();
                Bite {
                    before: chord,
                    behind: chord,
                    bulge,
                }
            }
            Relief::T if arriving.length() > leaving.length() => Bite {
                before: 2.0 * radius,
                behind: 0.0,
                bulge: -1.0,
            },
            Relief::T => Bite {
                before: 0.0,
                behind: 2.0 * radius,
                bulge: -1.0,
            },
        });
    }
    // An edge that is too short for the bites at its ends keeps both of its corners.
    let taken = |i: usize, bites: &[Option<Bite>]| {
        bites[i].map_or(0.0, |b| b.behind) + bites[(i + 1) % n].map_or(0.0, |b| b.before)
    };
    for i in 0..n {
        if taken(i, &bites) > MOST_OF_EDGE * segments[i].length() {
            for corner in [i, (i + 1) % n] {
                if bites[corner].take().is_some() {
                    done.left.push(segments[corner].start);
                }
            }
        }
    }
    let mut vertices = Vec::with_capacity(n + bites.iter().flatten().count());
    for (i, bite) in bites.iter().enumerate() {
        let own = ring.vertices[i];
        let Some(bite) = bite else {
            vertices.push(own);
            continue;
        };
        done.count += 1;
        let back = -segments[(i + n - 1) % n].tangent_at(1.0);
        let on: Vec2 = segments[i].tangent_at(0.0);
        vertices.push(Vertex {
            point: own.point + back * bite.before,
            bulge: bite.bulge,
        });
        vertices.push(Vertex {
            point: own.point + on * bite.behind,
            bulge: own.bulge,
        });
    }
    let mut ring = Ring::new(vertices);
    ring.drop_coincident();
    ring
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Boundary, Placement, validate};
    use proptest::prelude::*;

    fn socket(width: f64, height: f64) -> Outline {
        let mut plate = Outline::rectangle(width + 60.0, height + 60.0);
        let slot =
            Outline::rectangle(width, height).placed(&Placement::new(0.0, Point::new(30.0, 30.0)));
        plate.holes.push(slot.outer.reversed());
        plate
    }

    /// Whether a tool of `radius` that follows the path inside the opening touches its square corners.
    fn seats(outline: &Outline, corners: &[Point], radius: f64) -> bool {
        let path = outline.outward(radius).unwrap();
        let path = Boundary::new([&path.holes[0]]);
        corners.iter().all(|c| path.distance(*c) <= radius + 1e-3)
    }

    #[test]
    fn a_square_part_seats_only_in_a_relieved_opening() {
        let plain = socket(60.0, 40.0);
        let corners: Vec<Point> = plain.holes[0].vertices.iter().map(|v| v.point).collect();
        assert!(!seats(&plain, &corners, 3.0));
        for relief in [Relief::Round, Relief::T] {
            let done = plain.relieved(relief, 3.3);
            assert_eq!((done.count, done.left.len()), (4, 0));
            validate(&done.outline).unwrap();
            assert!(seats(&done.outline, &corners, 3.0), "{relief:?}");
            // A bite takes half a disc; the round one keeps the triangle of its chord.
            let disc = 0.5 * PI * 3.3 * 3.3;
            let kept = if relief == Relief::Round {
                3.3 * 3.3
            } else {
                0.0
            };
            let more = done.outline.holes[0].area() - 2400.0;
            assert!(
                (more - 4.0 * (disc - kept)).abs() < 1e-9,
                "{relief:?} {more}"
            );
        }
    }

    #[test]
    fn only_inside_corners_are_bitten() {
        let l = [
            (0.0, 0.0),
            (90.0, 0.0),
            (90.0, 30.0),
            (30.0, 30.0),
            (30.0, 90.0),
            (0.0, 90.0),
        ];
        let l = Outline::polygon(l.map(|(x, y)| Point::new(x, y)));
        let done = l.relieved(Relief::Round, 2.0);
        assert_eq!(done.count, 1);
        assert!(done.outline.area() < l.area());
        assert_eq!(
            Outline::rectangle(9.0, 9.0).relieved(Relief::T, 2.0).count,
            0
        );
    }

    #[test]
    fn corners_without_room_are_told() {
        let done = socket(60.0, 5.0).relieved(Relief::Round, 3.0);
        assert_eq!((done.count, done.left.len()), (0, 4));
        let mut round = socket(60.0, 40.0);
        round.holes[0].vertices[0].bulge = 0.1;
        assert_eq!(round.relieved(Relief::T, 3.0).left.len(), 2);
    }

    proptest! {
        #[test]
        fn the_tool_reaches_every_corner(
            width in 25.0..200.0_f64, height in 25.0..200.0_f64, skew in -18.0..18.0_f64, turn in 0.0..360.0_f64,
            radius in 0.5..3.0_f64, round in any::<bool>(),
        ) {
            let mut plate = socket(width, height);
            // A parallelogram: two wedges below a right angle, two above.
            for v in &mut plate.holes[0].vertices {
                v.point.x += skew * (v.point.y - 30.0) / height * 0.5;
            }
            let plate = plate.placed(&Placement::new(turn, Point::new(5.0, 7.0)));
            let corners: Vec<Point> = plate.holes[0].vertices.iter().map(|v| v.point).collect();
            let relief = if round { Relief::Round } else { Relief::T };
            let done = plate.relieved(relief, 1.1 * radius);
            prop_assert_eq!(done.count, 4);
            prop_assert!(!round || seats(&done.outline, &corners, radius));
        }
    }
}

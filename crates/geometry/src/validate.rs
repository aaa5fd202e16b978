//! Whether an outline can be cut.
//!
//! The checks work on the true arcs, not on chords of them: two arcs that pass each other at a
//! hair's breadth are neither joined nor torn apart by flattening.

mod crossing;
mod inside;

pub(crate) use crossing::{Crossing, Edges, crossings};

use crate::{Bounds, Outline, Point, Ring, Vec2, tolerance};
use rstar::primitives::{GeomWithData, Rectangle};
use rstar::{AABB, RTree};
use std::fmt;
use thiserror::Error;

/// The most problems [`problems`] lists. A scribble crosses itself thousands of times; nobody reads
/// past the first few places.
const MOST_PROBLEMS: usize = 64;

/// Which ring of an outline is meant.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum RingName {
    /// The outer ring.
    Outside,
    /// The hole with this index in [`Outline::holes`], counted from 0. Shown counted from 1.
    Hole(usize),
    /// The mark with this index in [`Outline::marks`], counted from 0. Shown counted from 1.
    Mark(usize),
}

impl fmt::Display for RingName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Outside => f.write_str("the outside"),
            Self::Hole(index) => write!(f, "hole {}", index + 1),
            Self::Mark(index) => write!(f, "mark {}", index + 1),
        }
    }
}

/// A place as messages show it: to a thousandth of a millimetre.
pub(crate) struct Shown(pub(crate) Point);

impl fmt::Display for Shown {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        // Adding 0 turns -0 into 0.
        let round = |v: f64| (v * 1000.0).round() / 1000.0 + 0.0;
        write!(f, "({}, {})", round(self.0.x), round(self.0.y))
    }
}

/// Why an outline cannot be cut. Places are in millimetres, in the outline's own coordinates.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum InvalidOutline {
    /// Fewer corners than a ring needs: three, or two where one of the segments is an arc.
    #[error("{ring} has {count} corners, too few to close an area")]
    TooFewCorners {
        /// The ring.
        ring: RingName,
        /// How many it has.
        count: usize,
    },
    /// A coordinate or bulge is not a number, or infinite.
    #[error("{ring}: corner {} is not a number", corner + 1)]
    NotFinite {
        /// The ring or mark.
        ring: RingName,
        /// Index of the corner, from 0.
        corner: usize,
    },
    /// Farther out than [`tolerance::LARGEST`]. A wrong unit is the likely cause.
    #[error(
        "{ring} reaches {}, beyond the limit of {} mm; is the unit right?",
        Shown(*at),
        tolerance::LARGEST
    )]
    TooLarge {
        /// The ring or mark.
        ring: RingName,
        /// A place outside the limit.
        at: Point,
    },
    /// Two corners in a row are the same place. [`Ring::drop_coincident`] removes such corners.
    #[error("{ring} has a segment without length at {}", Shown(*at))]
    ZeroLength {
        /// The ring.
        ring: RingName,
        /// Index of the segment's first corner, from 0.
        corner: usize,
        /// Where it is.
        at: Point,
    },
    /// The ring encloses nothing that could be cut out.
    #[error("{ring} encloses no area near {}", Shown(*at))]
    NoArea {
        /// The ring.
        ring: RingName,
        /// A corner of it.
        at: Point,
    },
    /// The ring runs the wrong way round. [`Outline::from_rings`] turns rings to the right way.
    #[error(
        "{ring} runs {} near {}",
        if *ring == RingName::Outside { "clockwise" } else { "counter-clockwise" },
        Shown(*at)
    )]
    WrongWay {
        /// The ring.
        ring: RingName,
        /// A corner of it.
        at: Point,
    },
    /// The ring crosses or touches itself.
    #[error("{ring} crosses itself near {}", Shown(*at))]
    CrossesItself {
        /// The ring.
        ring: RingName,
        /// Where.
        at: Point,
    },
    /// Two rings cross or touch, so that no material is left between them.
    #[error("{first} and {second} cross or touch near {}", Shown(*at))]
    RingsCross {
        /// One ring.
        first: RingName,
        /// The other one.
        second: RingName,
        /// Where.
        at: Point,
    },
    /// A hole lies outside the outer ring.
    #[error("{ring} lies outside the part near {}", Shown(*at))]
    HoleOutside {
        /// The hole.
        ring: RingName,
        /// A corner of it.
        at: Point,
    },
    /// A hole lies within another hole, where there is no material to cut.
    #[error("{inner} lies within {outer} near {}", Shown(*at))]
    HoleInHole {
        /// The hole within.
        inner: RingName,
        /// The hole round it.
        outer: RingName,
        /// A corner of the hole within.
        at: Point,
    },
}

impl InvalidOutline {
    /// The ring at fault; the later one where two are.
    #[must_use]
    pub fn ring(&self) -> RingName {
        match self {
            Self::TooFewCorners { ring, .. }
            | Self::NotFinite { ring, .. }
            | Self::TooLarge { ring, .. }
            | Self::ZeroLength { ring, .. }
            | Self::NoArea { ring, .. }
            | Self::WrongWay { ring, .. }
            | Self::CrossesItself { ring, .. }
            | Self::HoleOutside { ring, .. }
            | Self::RingsCross { second: ring, .. }
            | Self::HoleInHole { inner: ring, .. } => *ring,
        }
    }
}

/// Checks that an outline can be cut as it is.
///
/// A touch counts as a crossing: material of no width cannot be cut. Rings that come nearer than
/// [`tolerance::COINCIDENT`] touch.
///
/// # Errors
/// The first reason found, in the order of [`problems`].
///
/// # Runtime
/// n log n in the number of segments for ordinary outlines.
pub fn validate(outline: &Outline) -> Result<(), InvalidOutline> {
    check(outline, 1, true)
        .into_iter()
        .next()
        .map_or(Ok(()), Err)
}

/// [`validate`] for an outline whose rings are known not to cross or touch.
pub(crate) fn validate_uncrossed(outline: &Outline) -> Result<(), InvalidOutline> {
    check(outline, 1, false)
        .into_iter()
        .next()
        .map_or(Ok(()), Err)
}

/// Every reason why an outline cannot be cut, at most the first 64; empty when it can be.
///
/// Faults of single rings come first. Only when there are none are the rings compared with each
/// other, as a broken ring has no reliable inside.
#[must_use]
pub fn problems(outline: &Outline) -> Vec<InvalidOutline> {
    check(outline, MOST_PROBLEMS, true)
}

fn check(outline: &Outline, limit: usize, may_cross: bool) -> Vec<InvalidOutline> {
    let rings: Vec<&Ring> = outline.rings().collect();
    let mut found = Vec::new();
    for (index, ring) in rings.iter().enumerate() {
        check_ring(name(index), ring, &mut found);
        if found.len() >= limit {
            found.truncate(limit);
            return found;
        }
    }
    for (index, mark) in outline.marks.iter().enumerate() {
        check_numbers(RingName::Mark(index), &mark.vertices, &mut found);
    }
    if !found.is_empty() {
        found.truncate(limit);
        return found;
    }
    let crossings = if may_cross {
        crossings(&rings, limit)
    } else {
        Vec::new()
    };
    for crossing in crossings {
        let Crossing { first, second, at } = crossing;
        found.push(if first == second {
            InvalidOutline::CrossesItself {
                ring: name(first),
                at,
            }
        } else {
            InvalidOutline::RingsCross {
                first: name(first),
                second: name(second),
                at,
            }
        });
    }
    if found.is_empty() {
        check_nesting(outline, &mut found);
        found.truncate(limit);
    }
    found
}

fn name(index: usize) -> RingName {
    index
        .checked_sub(1)
        .map_or(RingName::Outside, RingName::Hole)
}

/// Finite and within the limit; whether so.
fn check_numbers(
    ring: RingName,
    vertices: &[crate::Vertex],
    found: &mut Vec<InvalidOutline>,
) -> bool {
    for (corner, v) in vertices.iter().enumerate() {
        if !v.point.is_finite() || !v.bulge.is_finite() {
            found.push(InvalidOutline::NotFinite { ring, corner });
            return false;
        }
        if v.point.x.abs().max(v.point.y.abs()) > tolerance::LARGEST {
            found.push(InvalidOutline::TooLarge { ring, at: v.point });
            return false;
        }
    }
    true
}

fn check_ring(ring_name: RingName, ring: &Ring, found: &mut Vec<InvalidOutline>) {
    let vertices = &ring.vertices;
    let has_arc = vertices.iter().any(|v| v.bulge != 0.0);
    let least = if has_arc { 2 } else { 3 };
    if vertices.len() < least {
        found.push(InvalidOutline::TooFewCorners {
            ring: ring_name,
            count: vertices.len(),
        });
        return;
    }
    if !check_numbers(ring_name, vertices, found) {
        return;
    }
    let before = found.len();
    for (corner, segment) in ring.segments().enumerate() {
        if segment.chord() <= tolerance::COINCIDENT {
            found.push(InvalidOutline::ZeroLength {
                ring: ring_name,
                corner,
                at: segment.start,
            });
        }
    }
    if found.len() > before {
        return;
    }
    // Corners may be within the limit and an arc between them far beyond it.
    let bounds = ring.bounds();
    for at in [bounds.min, bounds.max] {
        if !at.is_finite() || at.x.abs().max(at.y.abs()) > tolerance::LARGEST {
            found.push(InvalidOutline::TooLarge {
                ring: ring_name,
                at,
            });
            return;
        }
    }
    let at = vertices[0].point;
    let area = ring.signed_area();
    if area.abs() <= 0.5 * tolerance::COINCIDENT * ring.length() {
        // The halves of a bow-tie count against each other: what is wrong is where it crosses itself.
        let crossing = crossings(&[ring], 1).into_iter().next();
        found.push(match crossing {
            Some(Crossing { at, .. }) if !is_flat(ring) => InvalidOutline::CrossesItself {
                ring: ring_name,
                at,
            },
            _ => InvalidOutline::NoArea {
                ring: ring_name,
                at,
            },
        });
    } else if (area > 0.0) != (ring_name == RingName::Outside) {
        found.push(InvalidOutline::WrongWay {
            ring: ring_name,
            at,
        });
    }
}

/// Whether all of a ring lies on one line.
fn is_flat(ring: &Ring) -> bool {
    let places: Vec<Point> = ring
        .segments()
        .flat_map(|segment| [segment.start, segment.point_at(0.5)])
        .collect();
    let Some(&first) = places.first() else {
        return true;
    };
    let far = |p: &&Point| first.distance(**p);
    let furthest = places.iter().max_by(|a, b| far(a).total_cmp(&far(b)));
    let along = furthest.map_or_else(Vec2::default, |p| (*p - first).normalized());
    places
        .iter()
        .all(|p| along.cross(*p - first).abs() <= tolerance::COINCIDENT)
}

/// Holes inside the part and apart from each other, for rings that do not cross.
fn check_nesting(outline: &Outline, found: &mut Vec<InvalidOutline>) {
    let bounds: Vec<_> = outline.holes.iter().map(Ring::bounds).collect();
    let outside = outline.outer.bounds();
    let boxed = |(index, b): (usize, &Bounds)| {
        let rectangle = Rectangle::from_corners([b.min.x, b.min.y], [b.max.x, b.max.y]);
        GeomWithData::new(rectangle, index)
    };
    let tree = RTree::bulk_load(bounds.iter().enumerate().map(boxed).collect());
    for (index, hole) in outline.holes.iter().enumerate() {
        let at = hole.vertices[0].point;
        // The rings do not cross, so any one point of the hole tells for all of it.
        if !outside.contains(&bounds[index]) || !outline.outer.surrounds(at) {
            found.push(InvalidOutline::HoleOutside {
                ring: RingName::Hole(index),
                at,
            });
            continue;
        }
        let round = tree
            .locate_in_envelope_intersecting(&AABB::from_point([at.x, at.y]))
            .map(|candidate| candidate.data)
            .filter(|other| *other != index && bounds[*other].contains(&bounds[index]))
            .filter(|other| outline.holes[*other].surrounds(at))
            .min();
        if let Some(other) = round {
            found.push(InvalidOutline::HoleInHole {
                inner: RingName::Hole(index),
                outer: RingName::Hole(other),
                at,
            });
        }
    }
}

#[cfg(test)]
mod tests;

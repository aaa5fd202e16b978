//! Which side of a ring a point is on.

use crate::{Point, Ring};

impl Ring {
    /// Whether the ring goes round `point`, by the even-odd rule, with its true arcs.
    ///
    /// A point on the ring itself may be told either way.
    ///
    /// The polygon of the corners decides first; each arc whose cap (the region between it and its
    /// chord) holds the point turns the answer round. No angle is computed, so that there are no
    /// special directions to go wrong.
    ///
    /// # Runtime
    /// Linear in the number of segments.
    #[must_use]
    pub fn surrounds(&self, point: Point) -> bool {
        let mut inside = false;
        for segment in self.segments() {
            let (a, b) = (segment.start, segment.end);
            let left = is_left(a, b, point);
            if (a.y > point.y) != (b.y > point.y) {
                inside ^= left == (b.y > a.y);
            }
            if let Some((center, radius)) = segment.circle()
                && center.distance(point) < radius
            {
                // A counter-clockwise arc bows to the right of its chord.
                inside ^= left != (segment.bulge > 0.0);
            }
        }
        inside
    }
}

/// Whether `p` is left of the line from `a` to `b`.
///
/// A point on the line counts as shifted up, then right, by less than anything: the chord test and
/// the cap test above must fall the same way.
fn is_left(a: Point, b: Point, p: Point) -> bool {
    let along = b - a;
    let side = along.cross(p - a);
    if side != 0.0 {
        side > 0.0
    } else if along.x != 0.0 {
        along.x > 0.0
    } else {
        along.y < 0.0
    }
}

//! A chain of lines and arcs that is marked, not cut through.

use crate::{Placement, Point, Ring, Segment, Vertex};

/// A chain of lines and arcs, open or closed: a score or engrave line.
#[derive(Debug, Clone, PartialEq)]
pub struct Path {
    /// The corners in order; the bulge of the last one counts only when closed.
    pub vertices: Vec<Vertex>,
    /// Whether the last corner joins the first.
    pub closed: bool,
}

impl Path {
    /// The segments in order.
    pub fn segments(&self) -> impl Iterator<Item = Segment> + '_ {
        let n = self.vertices.len();
        let count = if self.closed { n } else { n.saturating_sub(1) };
        (0..count).map(move |i| {
            let from = self.vertices[i];
            Segment::arc(from.point, self.vertices[(i + 1) % n].point, from.bulge)
        })
    }

    /// Exact length.
    #[must_use]
    pub fn length(&self) -> f64 {
        self.segments().map(|s| s.length()).sum()
    }

    /// The path turned and moved.
    #[must_use]
    pub fn placed(&self, placement: &Placement) -> Self {
        self.with_vertices(|v| Vertex {
            point: placement.apply(v.point),
            bulge: v.bulge,
        })
    }

    /// The path reflected at the y axis.
    #[must_use]
    pub fn mirrored(&self) -> Self {
        self.with_vertices(|v| Vertex {
            point: Point::new(-v.point.x, v.point.y),
            bulge: -v.bulge,
        })
    }

    fn with_vertices(&self, change: impl Fn(&Vertex) -> Vertex) -> Self {
        Self {
            vertices: self.vertices.iter().map(change).collect(),
            closed: self.closed,
        }
    }
}

impl From<Ring> for Path {
    fn from(ring: Ring) -> Self {
        Self {
            vertices: ring.vertices,
            closed: true,
        }
    }
}

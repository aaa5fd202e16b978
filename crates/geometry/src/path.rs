//! A chain of lines and arcs that is marked, not cut through.

use crate::{Placement, Point, Ring, Segment, Vertex, tolerance};

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

    /// The path run the other way.
    #[must_use]
    pub fn reversed(&self) -> Self {
        if self.closed {
            return Ring::new(self.vertices.clone()).reversed().into();
        }
        let n = self.vertices.len();
        let vertices = (0..n).rev().map(|i| Vertex {
            point: self.vertices[i].point,
            // The segment that arrived here now leaves.
            bulge: if i > 0 {
                -self.vertices[i - 1].bulge
            } else {
                0.0
            },
        });
        Self {
            vertices: vertices.collect(),
            closed: false,
        }
    }

    /// The path in pieces, cut at these distances from its start, which rise and lie within its
    /// length. Arcs stay arcs; a cut at an end of a segment makes no empty segment.
    ///
    /// # Examples
    /// ```
    /// use panelwright_geometry::{Path, Point, Ring};
    ///
    /// let round = Ring::circle(Point::default(), 10.0).opened_at(0, 0.0);
    /// let pieces = round.cut_at(&[10.0, 15.0]);
    /// assert_eq!(pieces.len(), 3);
    /// assert!((pieces[1].length() - 5.0).abs() < 1e-9);
    /// ```
    #[must_use]
    pub fn cut_at(&self, distances: &[f64]) -> Vec<Self> {
        let mut pieces = vec![Vec::new()];
        let mut cuts = distances.iter().copied().peekable();
        let mut done = 0.0;
        let mut end = None;
        for mut segment in self.segments() {
            end = Some(segment.end);
            let mut length = segment.length();
            while let Some(cut) = cuts.peek().copied()
                && cut < done + length - tolerance::COINCIDENT
            {
                cuts.next();
                if cut > done + tolerance::COINCIDENT {
                    let (before, after) = segment.split_at((cut - done) / length);
                    push(&mut pieces, before);
                    length -= cut - done;
                    done = cut;
                    segment = after;
                }
                finish(&mut pieces, segment.start);
            }
            push(&mut pieces, segment);
            done += length;
        }
        if let Some(end) = end {
            finish(&mut pieces, end);
        }
        pieces
            .into_iter()
            .filter(|vertices| vertices.len() > 1)
            .map(|vertices| Self {
                vertices,
                closed: false,
            })
            .collect()
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

fn push(pieces: &mut [Vec<Vertex>], segment: Segment) {
    if let Some(piece) = pieces.last_mut() {
        piece.push(Vertex {
            point: segment.start,
            bulge: segment.bulge,
        });
    }
}

/// Ends the last piece at `end` and begins the next.
fn finish(pieces: &mut Vec<Vec<Vertex>>, end: Point) {
    if let Some(piece) = pieces.last_mut()
        && !piece.is_empty()
    {
        piece.push(Vertex {
            point: end,
            bulge: 0.0,
        });
        pieces.push(Vec::new());
    }
}

impl Ring {
    /// The ring as an open path that begins and ends at `share` of its segment with the number
    /// `segment` (0 at that segment's start, 1 at its end).
    ///
    /// # Panics
    /// When there is no such segment.
    #[must_use]
    pub fn opened_at(&self, segment: usize, share: f64) -> Path {
        let n = self.vertices.len();
        let all: Vec<Segment> = self.segments().collect();
        let (before, after) = all[segment].split_at(share);
        let within = share > 0.0 && share < 1.0;
        let mut pieces = vec![Vec::new()];
        let rest = (1..n).map(|i| all[(segment + i) % n]);
        let (first, last) = match (within, share >= 1.0) {
            (true, _) => (Some(after), Some(before)),
            (false, false) => (Some(all[segment]), None),
            (false, true) => (None, Some(all[segment])),
        };
        for part in first.into_iter().chain(rest).chain(last) {
            push(&mut pieces, part);
        }
        let start = pieces[0][0].point;
        finish(&mut pieces, start);
        Path {
            vertices: pieces.swap_remove(0),
            closed: false,
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

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn slot() -> Ring {
        Ring::rounded_rectangle(Point::new(0.0, 0.0), Point::new(60.0, 20.0), 10.0)
    }

    proptest! {
        #[test]
        fn a_ring_opened_anywhere_is_the_same_curve(
            segment in 0usize..4, share in prop_oneof![Just(0.0), Just(1.0), 0.01..0.99_f64],
            mut cuts in prop::collection::vec(0.0..142.0_f64, 0..6),
        ) {
            let ring = slot();
            let path = ring.opened_at(segment, share);
            prop_assert!((path.length() - ring.length()).abs() < 1e-9);
            let start = ring.segments().nth(segment).expect("a segment").point_at(share);
            let (first, last) = (path.vertices[0].point, path.vertices[path.vertices.len() - 1].point);
            prop_assert!(first.distance(start) < 1e-9 && last == first);
            prop_assert!((path.reversed().length() - ring.length()).abs() < 1e-9);
            prop_assert_eq!(path.reversed().reversed(), path.clone());

            cuts.sort_by(f64::total_cmp);
            cuts.dedup_by(|a, b| *a - *b < 0.01);
            cuts.retain(|c| *c > 0.01);
            let pieces = path.cut_at(&cuts);
            prop_assert_eq!(pieces.len(), cuts.len() + 1);
            let mut done = 0.0;
            for (piece, cut) in pieces.iter().zip(cuts.iter().chain([&ring.length()])) {
                done += piece.length();
                prop_assert!((done - cut).abs() < 1e-6, "{done} {cut}");
            }
            for pair in pieces.windows(2) {
                let end = pair[0].vertices.last().expect("vertices").point;
                prop_assert_eq!(end, pair[1].vertices[0].point);
            }
        }
    }
}

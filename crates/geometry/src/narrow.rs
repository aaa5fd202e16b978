//! Narrow places of an outline: webs of material, openings, inside corners. For warnings before a
//! part is cut.

use crate::{Boundary, Outline, Point, Ring, Segment, Vec2};
use std::f64::consts::{FRAC_PI_6, PI};

/// A turn to the right of more than this, in radians (10 degrees), is an inside corner.
const CORNER: f64 = 10.0 * PI / 180.0;

/// The two sides of a web or opening face each other by at least this angle, in radians, seen from
/// the middle between them; sides that meet in a corner do not.
const FACING: f64 = 120.0 * PI / 180.0;

/// Steps until a circle between two sides has settled; a handful is usual.
const MOST_STEPS: usize = 40;

/// Nearer than this a place is the same place, millimetres.
const SAME: f64 = 1e-6;

/// A narrow place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Narrow {
    /// Its middle.
    pub at: Point,
    /// Its width.
    pub width: f64,
}

/// An inside corner of an outline, or an arc that stands for one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct InsideCorner {
    /// Where it is: the corner, or the middle of the arc.
    pub at: Point,
    /// Its radius; 0 when it is sharp.
    pub radius: f64,
}

impl Outline {
    /// The narrowest web of material: between two openings, between an opening and the outside, or
    /// across a neck. `None` when there is none, as in a disc.
    ///
    /// Between two straight or curved pieces it is exact. It is looked for from several places on
    /// every piece, so a web between pieces that face each other only between those places may be
    /// missed where both are long and strongly curved.
    ///
    /// # Runtime
    /// About n log n in the number of segments.
    ///
    /// # Source
    /// The circle between two sides is found by shrinking it until it is empty: Ma, Bae & Choi 2012,
    /// 3D medial axis point approximation using nearest neighbors and the normal field, section 3;
    /// here in the plane and with exact distances to lines and arcs.
    #[must_use]
    pub fn narrowest_web(&self) -> Option<Narrow> {
        narrowest(&self.rings().collect::<Vec<_>>(), true)
    }

    /// The narrowest place within an opening, by its index, or in the notches of the outside.
    ///
    /// # Panics
    /// When there is no such opening.
    #[must_use]
    pub fn narrowest_opening(&self, hole: Option<usize>) -> Option<Narrow> {
        let ring = hole.map_or(&self.outer, |i| &self.holes[i]);
        narrowest(&[ring], false)
    }

    /// Inside corners with a radius below `radius`: a tool of that radius leaves them rounder.
    #[must_use]
    pub fn inside_corners(&self, radius: f64) -> Vec<InsideCorner> {
        let mut found = Vec::new();
        for ring in self.rings() {
            let segments: Vec<Segment> = ring.segments().collect();
            let n = segments.len();
            for i in 0..n {
                let (before, own) = (segments[(i + n - 1) % n], segments[i]);
                let (a, b) = (before.tangent_at(1.0), own.tangent_at(0.0));
                if a.cross(b).atan2(a.dot(b)) < -CORNER {
                    found.push(InsideCorner {
                        at: own.start,
                        radius: 0.0,
                    });
                }
                if let Some(arc) = own.arc_geometry()
                    // Half circles and more are ends of slots and holes, not corners.
                    && (-PI + 1e-6..0.0).contains(&arc.sweep)
                    && arc.radius < radius
                {
                    found.push(InsideCorner {
                        at: own.point_at(0.5),
                        radius: arc.radius,
                    });
                }
            }
        }
        found
    }

    /// The shortest line or arc of the outline, if one is shorter than `length`, and how many are.
    #[must_use]
    pub fn tiny_segments(&self, length: f64) -> Option<(Segment, usize)> {
        let all = self.rings().flat_map(Ring::segments);
        let tiny: Vec<Segment> = all.filter(|s| s.length() < length).collect();
        let shortest = tiny.iter().min_by(|a, b| a.length().total_cmp(&b.length()));
        shortest.map(|s| (*s, tiny.len()))
    }
}

/// Looks from places on the rings into the material (`into`) or away from it, as far as the other
/// side.
fn narrowest(rings: &[&Ring], into: bool) -> Option<Narrow> {
    let boundary = Boundary::new(rings.iter().copied());
    let points = rings.iter().flat_map(|r| &r.vertices).map(|v| v.point);
    let bounds = crate::Bounds::of_points(points)?;
    let chains: Vec<Vec<Segment>> = rings.iter().map(|r| r.segments().collect()).collect();
    let view = View {
        boundary,
        widest: bounds.width() + bounds.height(),
        chains,
    };
    let mut best: Option<Narrow> = None;
    for (ring, chain) in view.chains.iter().enumerate() {
        for (i, segment) in chain.iter().enumerate() {
            for share in shares(segment) {
                let left = segment.tangent_at(share).left();
                let away = if into { left } else { -left };
                let found = view.across((ring, i), segment.point_at(share), away);
                if let Some(narrow) = found
                    && best.is_none_or(|b| narrow.width < b.width)
                {
                    best = Some(narrow);
                }
            }
        }
    }
    best
}

/// Places on a segment to look from: near its ends and in its middle, on arcs every 30 degrees.
fn shares(segment: &Segment) -> Vec<f64> {
    if !segment.is_arc() {
        return vec![0.1, 0.5, 0.9];
    }
    let count = (segment.sweep().abs() / FRAC_PI_6).ceil().max(2.0) as u32;
    (0..count)
        .map(|i| (f64::from(i) + 0.5) / f64::from(count))
        .collect()
}

/// The rings looked at.
struct View {
    boundary: Boundary,
    widest: f64,
    /// The segments of each ring.
    chains: Vec<Vec<Segment>>,
}

impl View {
    /// What lies across from a place on the segment `own` (ring and index), seen in the direction
    /// `away` (length 1).
    fn across(&self, own: (usize, usize), from: Point, away: Vec2) -> Option<Narrow> {
        let mut radius = self.widest;
        for _ in 0..MOST_STEPS {
            let near = self.boundary.nearest(from + away * radius)?;
            let to = near.at - from;
            let reach = away.dot(to);
            if near.distance >= radius - SAME || to.length() < SAME || reach <= 0.0 {
                return None;
            }
            let smaller = 0.5 * to.dot(to) / reach;
            let settled = radius - smaller < 1e-9;
            radius = smaller;
            let center = from + away * radius;
            if settled || self.boundary.distance(center) >= radius - SAME {
                let (a, b) = (from - center, near.at - center);
                let facing = a.cross(b).atan2(a.dot(b)).abs() >= FACING;
                let index = self.chains[near.ring]
                    .iter()
                    .position(|s| *s == near.segment)?;
                let other = (near.ring, index);
                return facing
                    .then(|| self.between(own, other, from, near.at, center, radius))
                    .flatten();
            }
        }
        None
    }

    /// The least distance between two stretches, from two places on them that face each other across
    /// an empty circle.
    fn between(
        &self,
        mut a: (usize, usize),
        mut b: (usize, usize),
        from: Point,
        to: Point,
        center: Point,
        radius: f64,
    ) -> Option<Narrow> {
        // Within one curve the circle itself is the measure.
        let round = Narrow {
            at: center,
            width: 2.0 * radius,
        };
        if self.joined(a, b) {
            let curved = |(ring, i): (usize, usize)| self.chains[ring][i].is_arc();
            // Two straight sides of a pointed corner are no web.
            return (curved(a) || curved(b)).then_some(round);
        }
        // By turns to the nearest place of the other; for lines and arcs this settles at once or soon.
        let (mut p, mut q) = (from, to);
        for _ in 0..MOST_STEPS {
            let (next_a, next_p) = self.slide(a, q);
            let (next_b, next_q) = self.slide(b, next_p);
            if self.joined(next_a, next_b) {
                // Both run towards a place that they share: the end of a slot.
                return Some(round);
            }
            let moved = next_p.distance(p) + next_q.distance(q);
            (a, b, p, q) = (next_a, next_b, next_p, next_q);
            if moved < 1e-9 {
                break;
            }
        }
        Some(Narrow {
            at: p.midpoint(q),
            width: p.distance(q),
        })
    }

    /// Whether two segments are the same or next to each other.
    fn joined(&self, a: (usize, usize), b: (usize, usize)) -> bool {
        let n = self.chains[a.0].len();
        let apart = (a.1 + n - b.1 % n) % n;
        a.0 == b.0 && (apart <= 1 || apart == n - 1)
    }

    /// The place nearest to `to` on a segment or on those next to it.
    fn slide(&self, (ring, i): (usize, usize), to: Point) -> ((usize, usize), Point) {
        let chain = &self.chains[ring];
        let n = chain.len();
        let mut best = (i, chain[i].nearest_to(to));
        for k in [(i + n - 1) % n, (i + 1) % n] {
            let at = chain[k].nearest_to(to);
            if at.distance(to) < best.1.distance(to) {
                best = (k, at);
            }
        }
        ((ring, best.0), best.1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Placement, Side, clearance};
    use proptest::prelude::*;

    fn plate(holes: &[(f64, f64, f64)]) -> Outline {
        let circle = |(x, y, r): &(f64, f64, f64)| Ring::circle(Point::new(*x, *y), *r).reversed();
        Outline::from_rings(
            Outline::rectangle(200.0, 100.0).outer,
            holes.iter().map(circle).collect(),
        )
    }

    #[test]
    fn webs_between_holes_and_to_the_edge_are_measured() {
        // Between the holes 40 - 10 - 8 = 22, to the edge 30 - 10 = 20.
        let web = plate(&[(50.0, 30.0, 10.0), (90.0, 30.0, 8.0)])
            .narrowest_web()
            .unwrap();
        assert!((web.width - 20.0).abs() < 1e-6 && web.at.distance(Point::new(50.0, 10.0)) < 1e-6);
        let web = plate(&[(50.0, 50.0, 10.0), (69.5, 50.0, 8.0)])
            .narrowest_web()
            .unwrap();
        assert!((web.width - 1.5).abs() < 1e-6 && web.at.distance(Point::new(60.75, 50.0)) < 1e-3);
        assert!((plate(&[]).narrowest_web().unwrap().width - 100.0).abs() < 1e-6);
    }

    #[test]
    fn necks_notches_and_openings_are_measured() {
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
        let waist = Outline::polygon(waist.map(|(x, y)| Point::new(x, y)));
        assert!((waist.narrowest_web().unwrap().width - 4.0).abs() < 1e-6);
        assert!((waist.narrowest_opening(None).unwrap().width - 20.0).abs() < 1e-6);
        let mut slotted = plate(&[(30.0, 50.0, 2.25)]);
        let slot = Ring::rounded_rectangle(Point::new(60.0, 40.0), Point::new(160.0, 46.0), 3.0);
        slotted.holes.push(slot.reversed());
        let slotted = slotted.placed(&Placement::new(33.0, Point::new(8.0, 9.0)));
        assert!((slotted.narrowest_opening(Some(0)).unwrap().width - 4.5).abs() < 1e-5);
        assert!((slotted.narrowest_opening(Some(1)).unwrap().width - 6.0).abs() < 1e-5);
    }

    #[test]
    fn inside_corners_are_told_from_outside_ones() {
        let mut plate = plate(&[(50.0, 50.0, 2.0)]);
        let window = Ring::rounded_rectangle(Point::new(80.0, 20.0), Point::new(180.0, 80.0), 1.5);
        plate.holes.push(window.reversed());
        plate.holes.push(Ring::polygon(
            [(10.0, 10.0), (10.0, 30.0), (30.0, 30.0)].map(|(x, y)| Point::new(x, y)),
        ));
        let count = |radius: f64| plate.inside_corners(radius).len();
        assert_eq!((count(1.0), count(1.6), count(3.0)), (3, 7, 7));
        assert_eq!(plate.tiny_segments(1.0), None);
        assert_eq!(plate.tiny_segments(3.0).unwrap().1, 4);
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(96))]
        #[test]
        fn the_web_between_two_openings_is_their_clearance(
            turn in 0.0..360.0_f64, x in 0.0..12.0_f64, away in 24.0..60.0_f64, round in any::<bool>(),
        ) {
            // In a sheet so large that nothing else is as near.
            let slot = Ring::rounded_rectangle(Point::new(-15.0, -6.0), Point::new(15.0, 6.0), if round { 6.0 } else { 2.0 });
            let other = slot.placed(&Placement::new(turn, Point::new(x, away)));
            let outer = Ring::rounded_rectangle(Point::new(-300.0, -300.0), Point::new(300.0, 300.0), 0.0);
            let plate = Outline::from_rings(outer, vec![slot.clone(), other.clone()]);
            let flat = |r: &Ring| Outline::from_rings(r.clone(), Vec::new()).flatten(1e-4, Side::Within);
            let want = clearance(&flat(&slot), &flat(&other));
            prop_assume!(want > 0.5);
            let found = plate.narrowest_web().expect("a web").width;
            prop_assert!((found - want).abs() < 0.01, "{found} {want}");
        }
    }
}

//! Narrow places of an outline: webs of material, openings, inside corners. For warnings before a
//! part is cut.

use crate::{Boundary, Bounds, Outline, Point, Ring, Segment, Vec2};
use rstar::primitives::{GeomWithData, Rectangle};
use rstar::{AABB, RTree};
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

/// Sine of the angle by which two directions may differ and still count as square or parallel.
const ASIDE: f64 = 1e-6;

/// Where along sides that are as wide apart everywhere their distance is looked at.
const FAMILY: [f64; 7] = [0.5, 0.05, 0.2, 0.35, 0.65, 0.8, 0.95];

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
    /// The narrowest web of material where one is narrower than `width`, which may be infinite: between two openings, between
    /// an opening and the outside, or across a neck. `None` when there is none, as in a disc.
    ///
    /// Where two pieces face each other straight across it is exact, whatever their length and
    /// curvature: each pair of them is looked at in closed form. Along parallel lines and arcs about one centre,
    /// where every place is as wide, some places are looked at.
    ///
    /// # Runtime
    /// About n log n in the number of segments, times how many lie within `width` of each.
    ///
    /// # Source
    /// The first guess, a circle between two sides, is found by shrinking it until it is empty: Ma, Bae & Choi 2012,
    /// 3D medial axis point approximation using nearest neighbors and the normal field, section 3;
    /// here in the plane and with exact distances to lines and arcs. That the narrowest places are where a circle is empty and touches
    /// at the two ends of a diameter follows from the distance to the boundary having a saddle there.
    #[must_use]
    pub fn web_below(&self, width: f64) -> Option<Narrow> {
        narrowest(&self.rings().collect::<Vec<_>>(), true, width)
    }

    /// The narrowest place within an opening, by its index, or in the notches of the outside, where one is
    /// narrower than `width`, which may be infinite.
    ///
    /// # Panics
    /// When there is no such opening.
    #[must_use]
    pub fn opening_below(&self, hole: Option<usize>, width: f64) -> Option<Narrow> {
        let ring = hole.map_or(&self.outer, |i| &self.holes[i]);
        narrowest(&[ring], false, width)
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

/// The narrowest place below `width`, in the material (`into`) or away from it.
fn narrowest(rings: &[&Ring], into: bool, width: f64) -> Option<Narrow> {
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
    best = best.filter(|b| b.width < width);
    view.across_pairs(rings, into, width, &mut best);
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

/// A segment with how the boundary runs on at its ends.
struct Piece {
    own: Segment,
    before: Vec2,
    after: Vec2,
    bounds: Bounds,
}

impl Piece {
    fn new(before: Segment, own: Segment, after: Segment) -> Self {
        Self {
            own,
            before: -before.tangent_at(1.0),
            after: after.tangent_at(0.0),
            bounds: own.bounds(),
        }
    }

    /// Whether the boundary leaves its place `p` to both sides without going into the circle over the diameter to
    /// `q`. Says yes where that hangs on the curvature.
    fn faces(&self, p: Point, q: Point) -> bool {
        let across = (q - p).normalized();
        let leaves = |way: Vec2| way.dot(across) <= ASIDE;
        if p.distance(self.own.start) <= SAME {
            leaves(self.before) && leaves(self.own.tangent_at(0.0))
        } else if p.distance(self.own.end) <= SAME {
            leaves(self.after) && leaves(-self.own.tangent_at(1.0))
        } else {
            let along = match self.own.circle() {
                Some((center, _)) => (p - center).left().normalized(),
                None => (self.own.end - self.own.start).normalized(),
            };
            along.dot(across).abs() <= ASIDE
        }
    }
}

/// Gives `look` the pairs of places at which two segments may face each other straight across: where a line
/// through both meets them squarely, and the place nearest to an end of the other.
fn facing_places(a: &Segment, b: &Segment, look: &mut impl FnMut(Point, Point)) {
    for end in [b.start, b.end] {
        look(a.nearest_to(end), end);
    }
    for end in [a.start, a.end] {
        look(end, b.nearest_to(end));
    }
    match (a.circle(), b.circle()) {
        (Some(own), Some(other)) => {
            let between = other.0 - own.0;
            if between.length() > SAME {
                let way = between.normalized();
                for (p, q) in [(1.0, 1.0), (1.0, -1.0), (-1.0, 1.0), (-1.0, -1.0)] {
                    let p = own.0 + way * (p * own.1);
                    let q = other.0 + way * (q * other.1);
                    if is_on(a, p) && is_on(b, q) {
                        look(p, q);
                    }
                }
            } else if (own.1 - other.1).abs() > SAME {
                // On one circle they are no two sides: a disc has no web.
                for share in FAMILY {
                    let p = a.point_at(share);
                    for way in [1.0, -1.0] {
                        let q = other.0 + (p - own.0) * (way * other.1 / own.1);
                        if is_on(b, q) {
                            look(p, q);
                        }
                    }
                }
            }
        }
        (Some((center, radius)), None) => {
            let q = b.nearest_to(center);
            for way in [1.0, -1.0] {
                let p = center + (q - center).normalized() * (way * radius);
                if is_on(a, p) {
                    look(p, q);
                }
            }
        }
        (None, Some((center, radius))) => {
            let p = a.nearest_to(center);
            for way in [1.0, -1.0] {
                let q = center + (p - center).normalized() * (way * radius);
                if is_on(b, q) {
                    look(p, q);
                }
            }
        }
        (None, None) => {
            let along = (a.end - a.start).normalized();
            if along.cross((b.end - b.start).normalized()).abs() > ASIDE {
                return;
            }
            let length = a.chord();
            let of = |p: Point| along.dot(p - a.start).clamp(0.0, length);
            let (from, to) = (of(b.start), of(b.end));
            for share in FAMILY {
                let p = a.start + along * (from + share * (to - from));
                look(p, b.nearest_to(p));
            }
        }
    }
}

/// Whether a place of a circle is on the arc of it.
fn is_on(arc: &Segment, p: Point) -> bool {
    arc.nearest_to(p).distance(p) <= SAME
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

    /// Looks at all pairs of pieces for places where they face each other straight across, narrower than
    /// `best` and `width`.
    fn across_pairs(&self, rings: &[&Ring], into: bool, width: f64, best: &mut Option<Narrow>) {
        let pieces: Vec<Piece> = self
            .chains
            .iter()
            .flat_map(|chain| {
                let n = chain.len();
                (0..n)
                    .map(move |i| Piece::new(chain[(i + n - 1) % n], chain[i], chain[(i + 1) % n]))
            })
            .collect();
        let corners = |b: Bounds| AABB::from_corners([b.min.x, b.min.y], [b.max.x, b.max.y]);
        let boxes = pieces.iter().enumerate().map(|(i, piece)| {
            let Bounds { min, max } = piece.bounds;
            GeomWithData::new(Rectangle::from_corners([min.x, min.y], [max.x, max.y]), i)
        });
        let tree = RTree::bulk_load(boxes.collect());
        // An opening lies within a ring that goes round no material, and beside one that does.
        let wanted = into || rings.first().is_some_and(|r| r.signed_area() < 0.0);
        let is_there = |p: Point| {
            let round = rings.iter().filter(|r| r.surrounds(p)).count();
            (round % 2 == 1) == wanted
        };
        for (i, piece) in pieces.iter().enumerate() {
            let reach = best.map_or(width, |b| b.width.min(width)).min(self.widest);
            let near = corners(piece.bounds.grown(reach));
            let others: Vec<usize> = tree
                .locate_in_envelope_intersecting(&near)
                .map(|found| found.data)
                .filter(|other| *other > i)
                .collect();
            for other in others {
                let mut look = |p: Point, q: Point| {
                    let (apart, at) = (p.distance(q), p.midpoint(q));
                    let most = best.map_or(width, |b| b.width.min(width));
                    if apart < most - SAME
                        && apart > SAME
                        && piece.faces(p, q)
                        && pieces[other].faces(q, p)
                        && self.boundary.distance(at) >= 0.5 * apart - SAME
                        && is_there(at)
                    {
                        *best = Some(Narrow { at, width: apart });
                    }
                };
                facing_places(&piece.own, &pieces[other].own, &mut look);
            }
        }
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
            .web_below(f64::INFINITY)
            .unwrap();
        assert!((web.width - 20.0).abs() < 1e-6 && web.at.distance(Point::new(50.0, 10.0)) < 1e-6);
        let web = plate(&[(50.0, 50.0, 10.0), (69.5, 50.0, 8.0)])
            .web_below(f64::INFINITY)
            .unwrap();
        assert!((web.width - 1.5).abs() < 1e-6 && web.at.distance(Point::new(60.75, 50.0)) < 1e-3);
        assert!((plate(&[]).web_below(f64::INFINITY).unwrap().width - 100.0).abs() < 1e-6);
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
        assert!((waist.web_below(f64::INFINITY).unwrap().width - 4.0).abs() < 1e-6);
        assert!((waist.opening_below(None, f64::INFINITY).unwrap().width - 20.0).abs() < 1e-6);
        let mut slotted = plate(&[(30.0, 50.0, 2.25)]);
        let slot = Ring::rounded_rectangle(Point::new(60.0, 40.0), Point::new(160.0, 46.0), 3.0);
        slotted.holes.push(slot.reversed());
        let slotted = slotted.placed(&Placement::new(33.0, Point::new(8.0, 9.0)));
        assert!((slotted.opening_below(Some(0), f64::INFINITY).unwrap().width - 4.5).abs() < 1e-5);
        assert!((slotted.opening_below(Some(1), f64::INFINITY).unwrap().width - 6.0).abs() < 1e-5);
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
            let found = plate.web_below(f64::INFINITY).expect("a web").width;
            prop_assert!((found - want).abs() < 0.01, "{found} {want}");
        }

        #[test]
        fn no_web_is_narrower_than_the_one_found(
            outer in prop::collection::vec((30.0..70.0_f64, -0.35..0.35_f64), 4..9),
            holes in prop::collection::vec((-0.6..0.6_f64, -0.6..0.6_f64, 2.0..9.0_f64, 0.3..3.0_f64), 0..3),
        ) {
            let outline = blob(&outer, &holes);
            prop_assume!(crate::validate(&outline).is_ok());
            let found = outline.web_below(f64::INFINITY);
            let least = by_trying(&outline);
            if let Some(least) = least {
                let found = found.expect("there is one");
                prop_assert!(found.width <= least + 4.0 * STEP, "{found:?}, but {least} by trying");
            }
            // What is found is there: the circle over it is empty.
            if let Some(Narrow { at, width }) = found {
                prop_assert!(Boundary::new(outline.rings()).distance(at) >= 0.5 * width - 1e-4);
                prop_assert_eq!(outline.web_below(width + 1e-3).map(|w| w.width), Some(width));
                prop_assert_eq!(outline.web_below(width - 1e-3), None);
            }
        }
    }

    /// How far places are apart when every pair of them is tried.
    const STEP: f64 = 0.25;

    /// A star with curved sides and curved holes in it.
    fn blob(outer: &[(f64, f64)], holes: &[(f64, f64, f64, f64)]) -> Outline {
        let n = outer.len() as f64;
        let corner = |(i, (reach, bulge)): (usize, &(f64, f64))| crate::Vertex {
            point: Point::default() + Vec2::from_angle(i as f64 * 2.0 * PI / n, *reach),
            bulge: *bulge,
        };
        let ring = Ring::new(outer.iter().enumerate().map(corner).collect());
        // Lenses and drops: two arcs each, of any curvature.
        let hole = |(x, y, size, bulge): &(f64, f64, f64, f64)| {
            let at = Point::new(30.0 * x, 30.0 * y);
            Ring::new(vec![
                crate::Vertex::new(at.x - size, at.y - 0.3 * size, *bulge),
                crate::Vertex::new(at.x + size, at.y + 0.3 * size, 0.5),
            ])
        };
        Outline::from_rings(ring, holes.iter().map(hole).collect())
    }

    /// The least distance of two places of the boundary between which there is nothing but material: the circle
    /// over it is empty, give or take a step, and square to the boundary at both.
    fn by_trying(outline: &Outline) -> Option<f64> {
        let mut places: Vec<(Point, Vec2)> = Vec::new();
        for segment in outline.rings().flat_map(Ring::segments) {
            let count = (segment.length() / STEP).ceil() as u32;
            places.extend((0..count).map(|i| {
                let share = (f64::from(i) + 0.5) / f64::from(count);
                (segment.point_at(share), segment.tangent_at(share).left())
            }));
        }
        let boundary = Boundary::new(outline.rings());
        let mut least: Option<f64> = None;
        for (i, (p, into)) in places.iter().enumerate() {
            for (q, back) in &places[i + 1..] {
                let apart = p.distance(*q);
                // Across a short distance two places a step apart would do as well.
                if apart < 12.0 * STEP || least.is_some_and(|l| apart >= l) {
                    continue;
                }
                let way = (*q - *p).normalized();
                let square = 1.0 - 0.5 * (STEP / apart).powi(2);
                if into.dot(way) >= square
                    && back.dot(way) <= -square
                    && boundary.distance(p.midpoint(*q)) >= 0.5 * apart - 0.1 * STEP
                {
                    least = Some(apart);
                }
            }
        }
        least
    }

    #[test]
    fn a_web_between_long_curved_sides_is_found_wherever_it_is() {
        // Two arcs of large radii that come near each other far from their middles and ends: a crescent of a hole in a disc.
        for turn in 0..12 {
            let disc = Ring::circle(Point::default(), 100.0);
            let turned = Placement::new(f64::from(turn) * 7.0, Point::default());
            // A circle of radius 60 about a place 38.9 away: 1.1 mm are left at one place.
            let hole = Ring::circle(Point::new(38.9, 0.0), 60.0).placed(&turned);
            let web = Outline::from_rings(disc, vec![hole])
                .web_below(f64::INFINITY)
                .unwrap();
            assert!((web.width - 1.1).abs() < 1e-6, "{web:?}");
            let place = turned.apply(Point::new(99.45, 0.0));
            assert!(web.at.distance(place) < 1e-6, "{web:?}");
        }
    }
}

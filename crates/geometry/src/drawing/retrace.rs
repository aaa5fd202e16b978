//! Curves that run over what is drawn already: an arc drawn again in pieces, the end of a polyline that runs on
//! along its beginning.
//!
//! Whatever is taken away here stays drawn by another curve, so no outline can come out that is not in the
//! drawing; what two parts share is still there once, and refused as a branch, a touch or an open outline.

use super::join::SAME;
use super::pen::Chain;
use crate::{Point, Segment};
use rstar::primitives::{GeomWithData, Rectangle};
use rstar::{AABB, RTree};
use std::f64::consts::TAU;

/// Stretches shorter than this many tolerances are ends that meet, which joining takes care of.
const LEAST_STRETCH: f64 = 4.0;

/// The most pairs of curves that are compared; what is not healed then is told as an open or crossing outline.
const MOST_COMPARED: usize = 2_000_000;

/// One end of a chain: its index, and whether it is the far one.
type End = (usize, bool);

/// Drops open chains that lie on others from end to end, and cuts back ends that run along another's end. The
/// middle of each goes to `places`.
pub(super) fn drop_retraced(chains: Vec<Chain>, tol: f64, places: &mut Vec<Point>) -> Vec<Chain> {
    let tol = tol.max(SAME);
    let mut sheet = Sheet::new(chains, tol);
    // Where every end has one mate there is nothing to heal, as in nearly all drawings.
    let odd: Vec<End> = sheet
        .ends()
        .filter(|e| sheet.mates(*e).len() != 1)
        .collect();
    if odd.is_empty() {
        return sheet.into_chains();
    }
    let mut guests: Vec<usize> = odd.iter().map(|(chain, _)| *chain).collect();
    // Of two that lie on each other the earlier one of the drawing stays.
    guests.dedup();
    for guest in guests.into_iter().rev() {
        if let Some(middle) = sheet.retraced(guest) {
            sheet.chains[guest] = None;
            places.push(middle);
        }
    }
    for end in odd.into_iter().rev() {
        while let Some(middle) = sheet.cut_back(end) {
            places.push(middle);
        }
    }
    sheet.into_chains()
}

/// The bounds of a segment: number `.1` of chain `.0`.
type SegmentBox = GeomWithData<Rectangle<[f64; 2]>, (usize, usize)>;

/// The chains, found by place.
struct Sheet {
    chains: Vec<Option<Chain>>,
    segments: RTree<SegmentBox>,
    ends: RTree<GeomWithData<[f64; 2], End>>,
    tol: f64,
    compared: usize,
}

impl Sheet {
    fn new(chains: Vec<Chain>, tol: f64) -> Self {
        let mut boxes = Vec::new();
        let mut ends = Vec::new();
        for (index, chain) in chains.iter().enumerate() {
            for number in 0..count(chain) {
                let b = segment(chain, number).bounds();
                let corners = Rectangle::from_corners([b.min.x, b.min.y], [b.max.x, b.max.y]);
                boxes.push(GeomWithData::new(corners, (index, number)));
            }
            if !chain.closed {
                for (far, p) in [(false, chain.start()), (true, chain.end())] {
                    ends.push(GeomWithData::new([p.x, p.y], (index, far)));
                }
            }
        }
        Self {
            chains: chains.into_iter().map(Some).collect(),
            segments: RTree::bulk_load(boxes),
            ends: RTree::bulk_load(ends),
            tol,
            compared: 0,
        }
    }

    fn into_chains(self) -> Vec<Chain> {
        self.chains.into_iter().flatten().collect()
    }

    fn ends(&self) -> impl Iterator<Item = End> + '_ {
        let open = self.chains.iter().enumerate();
        let open = open.filter(|(_, c)| c.as_ref().is_some_and(|c| !c.closed));
        open.flat_map(|(i, _)| [(i, false), (i, true)])
    }

    fn place(&self, (chain, far): End) -> Option<Point> {
        let chain = self.chains[chain].as_ref()?;
        Some(if far { chain.end() } else { chain.start() })
    }

    /// The other ends at this end's place.
    fn mates(&self, end: End) -> Vec<End> {
        let at = self.place(end);
        at.map_or_else(Vec::new, |p| self.ends_at(p, |other| other != end))
    }

    fn ends_at(&self, p: Point, wanted: impl Fn(End) -> bool) -> Vec<End> {
        // Ends that were cut back have moved since the tree was built, onto others that are in it.
        let near = |end: &End| self.place(*end).is_some_and(|q| p.distance(q) <= self.tol);
        self.ends
            .locate_within_distance([p.x, p.y], self.tol * self.tol)
            .map(|found| found.data)
            .filter(|end| wanted(*end) && near(end))
            // A star of thousands of lines must not take for ever; it is refused in any case.
            .take(8)
            .collect()
    }

    /// The middle of a chain that may be dropped: all of it lies on others, and no outline begins or ends on it
    /// that does not on those.
    fn retraced(&mut self, guest: usize) -> Option<Point> {
        let mut hosts = Vec::new();
        let chain = self.chains[guest].clone().filter(|c| !c.closed)?;
        for number in 0..count(&chain) {
            if !self.is_covered(&segment(&chain, number), guest, &mut hosts) {
                return None;
            }
        }
        for p in [chain.start(), chain.end()] {
            let (own, others): (Vec<End>, Vec<End>) = self
                .ends_at(p, |end| end.0 != guest)
                .into_iter()
                .partition(|end| hosts.contains(&end.0));
            let leaves = |(other, far): End| {
                let Some(third) = self.chains[other].clone() else {
                    return false;
                };
                let last = if far { count(&third) - 1 } else { 0 };
                !self.is_covered(&segment(&third, last), other, &mut Vec::new())
            };
            if own.is_empty() && others.into_iter().any(leaves) {
                return None;
            }
        }
        let half = segment(&chain, count(&chain) / 2);
        Some(half.point_at(0.5))
    }

    /// Whether a segment lies on other chains than `guest` from end to end; those are added to `hosts`.
    fn is_covered(&mut self, own: &Segment, guest: usize, hosts: &mut Vec<usize>) -> bool {
        let length = own.length();
        if length < LEAST_STRETCH * self.tol {
            return false;
        }
        let mut ranges: Vec<(f64, f64)> = Vec::new();
        for (other, number) in self.around(own) {
            let chain = self.chains[other].as_ref();
            let Some(chain) = chain.filter(|c| other != guest && number < count(c)) else {
                continue;
            };
            let found = stretches(own, &segment(chain, number), self.tol);
            if !found.is_empty() && !hosts.contains(&other) {
                hosts.push(other);
            }
            ranges.extend(found);
        }
        ranges.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut reached = 0.0;
        for (from, to) in ranges {
            if from > reached + self.tol {
                return false;
            }
            reached = f64::max(reached, to);
        }
        reached >= length - self.tol
    }

    fn around(&mut self, own: &Segment) -> Vec<(usize, usize)> {
        if self.compared > MOST_COMPARED {
            return Vec::new();
        }
        let b = own.bounds().grown(self.tol);
        let near = AABB::from_corners([b.min.x, b.min.y], [b.max.x, b.max.y]);
        let found = self.segments.locate_in_envelope_intersecting(&near);
        let found: Vec<_> = found.map(|f| f.data).collect();
        self.compared += found.len() + 1;
        found
    }

    /// Cuts the end of a chain back along what other curves draw too, to the first end that lies there with nothing
    /// else at it; the middle of the piece that goes.
    fn cut_back(&mut self, end: End) -> Option<Point> {
        if self.chains[end.0].is_none() || !self.mates(end).is_empty() {
            return None;
        }
        let chain = self.chains[end.0].clone()?;
        let pieces = count(&chain);
        for gone in 0..pieces {
            let number = if end.1 { pieces - 1 - gone } else { gone };
            // Outwards, so that the end of the chain lies at its end.
            let piece = segment(&chain, number);
            let own = if end.1 { piece } else { piece.reversed() };
            let length = own.length();
            let reach = self.covered_back_to(&own, |other, its| {
                // What of the chain itself lies nearer to the end goes with it.
                other == end.0 && if end.1 { its >= number } else { its <= number }
            });
            let latest = length
                - if gone == 0 {
                    LEAST_STRETCH * self.tol
                } else {
                    0.0
                };
            if let Some((at, to)) = self.free_end_on(&own, end, reach - self.tol..=latest) {
                let is_whole = at <= self.tol;
                if is_whole && gone + 1 == pieces {
                    return None;
                }
                let middle = own.point_at(0.5 * (at + length) / length);
                let kept =
                    chain_without(chain, end.1, gone, (!is_whole).then_some((at / length, to)));
                self.chains[end.0] = Some(kept);
                return Some(middle);
            }
            // Pieces shorter than the tolerance lie on nothing but themselves.
            if reach > self.tol || reach >= length {
                return None;
            }
        }
        None
    }

    /// How near to its start a segment is drawn by other curves too, without a break from its end on.
    fn covered_back_to(&mut self, own: &Segment, skipped: impl Fn(usize, usize) -> bool) -> f64 {
        let mut ranges = Vec::new();
        for (other, number) in self.around(own) {
            let chain = self.chains[other].as_ref();
            // Chains that were cut back have fewer segments than the tree knows.
            let chain = chain.filter(|c| number < count(c) && !skipped(other, number));
            if let Some(chain) = chain {
                ranges.extend(stretches(own, &segment(chain, number), self.tol));
            }
        }
        ranges.sort_by(|a, b| b.1.total_cmp(&a.1));
        let mut reach = own.length();
        for (from, to) in ranges {
            if to < reach - self.tol {
                break;
            }
            reach = f64::min(reach, from);
        }
        reach
    }

    /// The last end along a segment, within a range of lengths, at which no other curve ends: how far along, and
    /// where.
    fn free_end_on(
        &self,
        own: &Segment,
        besides: End,
        range: std::ops::RangeInclusive<f64>,
    ) -> Option<(f64, Point)> {
        let b = own.bounds().grown(self.tol);
        let near = AABB::from_corners([b.min.x, b.min.y], [b.max.x, b.max.y]);
        let found = self.ends.locate_in_envelope(&near).map(|found| found.data);
        found
            .filter(|end| *end != besides)
            .filter_map(|end| {
                let p = self.place(end)?;
                let at = along(own, p);
                let is_on = own.point_at(at / own.length()).distance(p) <= self.tol;
                let is_free = || self.ends_at(p, |e| e != end && e != besides).is_empty();
                (range.contains(&at) && is_on && is_free()).then_some((at, p))
            })
            .max_by(|a, b| a.0.total_cmp(&b.0))
    }
}

/// A chain without this many segments at an end and, of the next one, only this share, so that it ends at a
/// given place; without a share that one goes too.
fn chain_without(mut chain: Chain, far: bool, gone: usize, rest: Option<(f64, Point)>) -> Chain {
    let v = &mut chain.vertices;
    let dropped = gone + usize::from(rest.is_none());
    if far {
        v.truncate(v.len() - dropped);
    } else {
        v.drain(..dropped);
    }
    let shorter = |bulge: f64, share: f64| (share * bulge.atan()).tan();
    let n = v.len();
    match rest {
        Some((share, to)) if far => {
            v[n - 2].bulge = shorter(v[n - 2].bulge, share);
            v[n - 1].point = to;
        }
        Some((share, to)) => {
            v[0].bulge = shorter(v[0].bulge, share);
            v[0].point = to;
        }
        None => {}
    }
    v[n - 1].bulge = 0.0;
    chain
}
fn count(chain: &Chain) -> usize {
    chain.vertices.len() - usize::from(!chain.closed)
}

fn segment(chain: &Chain, number: usize) -> Segment {
    let (v, n) = (&chain.vertices, chain.vertices.len());
    Segment::arc(v[number].point, v[(number + 1) % n].point, v[number].bulge)
}

/// How far along a segment, in lengths from its start, the place is that is nearest to `p` on its line or circle.
fn along(own: &Segment, p: Point) -> f64 {
    let Some(arc) = own.arc_geometry() else {
        return (own.end - own.start).normalized().dot(p - own.start);
    };
    let turning = arc.sweep.signum();
    let angle = turning * ((p - arc.center).angle() - arc.start_angle);
    let angle = angle.rem_euclid(TAU);
    // A little before the start rather than nearly a turn behind it.
    let is_before = angle > 0.5 * (TAU + arc.sweep.abs());
    arc.radius * if is_before { angle - TAU } else { angle }
}

/// Where along a segment, in lengths from its start, another one lies on it, within `tol`.
fn stretches(own: &Segment, other: &Segment, tol: f64) -> Vec<(f64, f64)> {
    let length = own.length();
    if own.is_arc() != other.is_arc() || length <= tol || other.length() <= tol {
        return Vec::new();
    }
    let Some(arc) = own.arc_geometry() else {
        let (a, b) = (along(own, other.start), along(own, other.end));
        let range = (a.min(b).max(0.0), a.max(b).min(length));
        let direction = (other.end - other.start).normalized();
        return checked(vec![range], own, tol, |p| {
            direction.cross(p - other.start).abs() <= tol
        });
    };
    let Some((center, radius)) = other.circle() else {
        return Vec::new();
    };
    // Counter-clockwise both, angles from the start of the own one on.
    let turning = arc.sweep.signum();
    let first = if other.sweep() * turning > 0.0 {
        other.start
    } else {
        other.end
    };
    let angle = turning * ((first - arc.center).angle() - arc.start_angle);
    let begin = angle.rem_euclid(TAU);
    let (sweep, its) = (arc.sweep.abs(), other.sweep().abs());
    let ranges = [begin, begin - TAU].map(|begin| {
        let range = (begin.max(0.0), (begin + its).min(sweep));
        (range.0 * arc.radius, range.1 * arc.radius)
    });
    checked(ranges.to_vec(), own, tol, |p| {
        (p.distance(center) - radius).abs() <= tol
    })
}

/// Those of some ranges that are long enough and whose ends and middle are on the other curve.
fn checked(
    ranges: Vec<(f64, f64)>,
    own: &Segment,
    tol: f64,
    is_on: impl Fn(Point) -> bool,
) -> Vec<(f64, f64)> {
    let length = own.length();
    let is_good = |(from, to): &(f64, f64)| {
        to - from >= LEAST_STRETCH * tol
            && [*from, 0.5 * (from + to), *to]
                .into_iter()
                .all(|at| is_on(own.point_at(at / length)))
    };
    ranges.into_iter().filter(is_good).collect()
}

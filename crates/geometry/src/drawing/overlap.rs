//! Lines that lie partly on each other: an edge drawn twice, in pieces of other lengths.

use super::join::SAME;
use super::pen::Chain;
use crate::{Bounds, Point, Segment};
use rstar::primitives::{GeomWithData, Rectangle};
use rstar::{AABB, RTree};

/// Overlaps shorter than this many tolerances are ends that meet, which joining takes care of.
const LEAST_OVERLAP: f64 = 4.0;

/// The most pairs of lines that are compared, so that a drawing full of slanted parallels comes to an end. What
/// is not healed then is told as an open or crossing outline.
const MOST_COMPARED: usize = 2_000_000;

/// A line of a chain.
#[derive(Debug, Clone, Copy)]
struct Host {
    chain: usize,
    line: Segment,
}

/// Takes lines into those they lie on, within `tol`: one that lies wholly on an edge is dropped, two that
/// overlap become one. The middle of each overlap goes to `places`.
///
/// Only chains of one line are taken in; [`super::retrace`] looks at all others. Where another curve ends within the overlap that is kept as drawn: it
/// may be an edge that two outlines share, which is for the caller to refuse.
pub(super) fn merge_overlaps(chains: Vec<Chain>, tol: f64, places: &mut Vec<Point>) -> Vec<Chain> {
    let tol = tol.max(SAME);
    if chains.iter().all(|chain| single(chain).is_none()) {
        return chains;
    }
    let hosts = hosts(&chains);
    let boxes = |line: &Segment, index: usize| {
        let b = line.bounds();
        let corners = Rectangle::from_corners([b.min.x, b.min.y], [b.max.x, b.max.y]);
        GeomWithData::new(corners, index)
    };
    let tree = RTree::bulk_load(
        hosts
            .iter()
            .enumerate()
            .map(|(i, host)| boxes(&host.line, i))
            .collect(),
    );
    let ends = RTree::bulk_load(
        chains
            .iter()
            .enumerate()
            .filter(|(_, chain)| !chain.closed)
            .flat_map(|(i, chain)| [(chain.start(), i), (chain.end(), i)])
            .map(|(p, i)| GeomWithData::new([p.x, p.y], i))
            .collect(),
    );
    let mut chains: Vec<Option<Chain>> = chains.into_iter().map(Some).collect();
    let mut compared = 0;
    for guest in 0..chains.len() {
        // A line that has grown is compared anew, with all that it reaches now.
        while let Some(own) = chains[guest].as_ref().and_then(single) {
            let near = around(&own, tol);
            let mut merged = false;
            for found in tree.locate_in_envelope_intersecting(&near) {
                let Host { chain: other, line } = hosts[found.data];
                compared += 1;
                if compared > MOST_COMPARED {
                    return chains.into_iter().flatten().collect();
                }
                let Some(chain) = chains[other].as_ref().filter(|_| other != guest) else {
                    continue;
                };
                // As it is by now, where it has grown.
                let its = single(chain);
                let line = its.unwrap_or(line);
                let Some((whole, middle)) = union(&own, &line, tol) else {
                    continue;
                };
                let is_inside = within(&own, &line, tol);
                if !is_inside && its.is_none() {
                    continue;
                }
                let inner = [own.start, own.end, line.start, line.end]
                    .into_iter()
                    .filter(|p| p.distance(whole.start) > tol && p.distance(whole.end) > tol);
                let is_met = |p: Point| {
                    let around = ends.locate_within_distance([p.x, p.y], tol * tol);
                    around.into_iter().any(|end| {
                        let others = chains[end.data].as_ref();
                        let others = others.filter(|_| end.data != guest && end.data != other);
                        others.is_some_and(|c| single(c).is_none_or(|s| !is_along(&s, &whole, tol)))
                    })
                };
                if inner.into_iter().any(is_met) {
                    continue;
                }
                places.push(middle);
                if is_inside {
                    chains[guest] = None;
                } else {
                    // The earlier one of the drawing stays.
                    let (kept, gone) = (guest.min(other), guest.max(other));
                    chains[gone] = None;
                    if let Some(chain) = chains[kept].as_mut() {
                        chain.vertices[0].point = whole.start;
                        chain.vertices[1].point = whole.end;
                    }
                }
                merged = true;
                break;
            }
            if !merged {
                break;
            }
        }
    }
    chains.into_iter().flatten().collect()
}

/// The line of a chain that is one line and nothing else.
fn single(chain: &Chain) -> Option<Segment> {
    match chain.vertices.as_slice() {
        [a, b] if !chain.closed && a.bulge == 0.0 => Some(Segment::line(a.point, b.point)),
        _ => None,
    }
}

fn hosts(chains: &[Chain]) -> Vec<Host> {
    let mut hosts = Vec::new();
    for (index, chain) in chains.iter().enumerate() {
        let path = crate::Path {
            vertices: chain.vertices.clone(),
            closed: chain.closed,
        };
        let lines = path.segments().filter(|s| !s.is_arc());
        hosts.extend(lines.map(|line| Host { chain: index, line }));
    }
    hosts
}

fn around(line: &Segment, tol: f64) -> AABB<[f64; 2]> {
    let Bounds { min, max } = line.bounds().grown(tol);
    AABB::from_corners([min.x, min.y], [max.x, max.y])
}

/// How far a place is beside the line through a segment, and how far along it from its start.
fn seen_from(line: &Segment, p: Point) -> (f64, f64) {
    let along = (line.end - line.start).normalized();
    (along.cross(p - line.start).abs(), along.dot(p - line.start))
}

/// Whether both ends of a line lie on the line through another.
fn is_along(line: &Segment, whole: &Segment, tol: f64) -> bool {
    [line.start, line.end]
        .into_iter()
        .all(|p| seen_from(whole, p).0 <= tol)
}

/// Whether a line lies on another from end to end.
fn within(line: &Segment, host: &Segment, tol: f64) -> bool {
    [line.start, line.end].into_iter().all(|p| {
        let (beside, along) = seen_from(host, p);
        beside <= tol && along >= -tol && along <= host.chord() + tol
    })
}

/// The line that two overlapping ones make up, in the direction of the first, and the middle of the overlap;
/// `None` when they do not overlap or any of their ends is beside it.
fn union(a: &Segment, b: &Segment, tol: f64) -> Option<(Segment, Point)> {
    let length = a.chord();
    if length <= tol || b.chord() <= tol {
        return None;
    }
    let (from, to) = (seen_from(a, b.start).1, seen_from(a, b.end).1);
    let (low, high) = if from <= to { (from, to) } else { (to, from) };
    let (begin, end) = (low.max(0.0), high.min(length));
    if end - begin < LEAST_OVERLAP * tol {
        return None;
    }
    let (first, last) = if from <= to {
        (b.start, b.end)
    } else {
        (b.end, b.start)
    };
    let whole = Segment::line(
        if low < 0.0 { first } else { a.start },
        if high > length { last } else { a.end },
    );
    let along = (a.end - a.start).normalized();
    let middle = a.start + along * (0.5 * (begin + end));
    (is_along(a, &whole, tol) && is_along(b, &whole, tol)).then_some((whole, middle))
}

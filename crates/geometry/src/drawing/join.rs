//! Loose curves to closed chains.

use super::error::DrawingError;
use super::note::Note;
use super::overlap::merge_overlaps;
use super::pen::Chain;
use super::retrace::drop_retraced;
use crate::validate::crossings;
use crate::{Point, Segment, Vertex, tolerance};
use rstar::primitives::GeomWithData;
use rstar::{AABB, RTree};

/// Ends nearer than this are the same end beyond doubt: the rounding of a drawing with four
/// decimals. They are joined first, so that a curve drawn in pieces shorter than the joining
/// distance is not taken for scraps.
pub(super) const SAME: f64 = 1.5e-4;

/// Ends near one end that are considered as its mates.
const MOST_NEAR: usize = 64;

/// What a set of chains became.
#[derive(Debug, Default)]
pub(super) struct Joined {
    pub closed: Vec<Chain>,
    pub open: Vec<Chain>,
    pub notes: Vec<Note>,
}

/// Joins chains whose ends are within `distance`.
///
/// # Errors
/// [`DrawingError::Branches`] when `strict` and more than two ends meet in one place.
pub(super) fn join(
    chains: Vec<Chain>,
    distance: f64,
    strict: bool,
) -> Result<Joined, DrawingError> {
    let mut joined = Joined::default();
    let mut duplicates = Vec::new();
    // A line drawn twice by hand is off by more than rounding, and would make a sliver with its twin.
    let twice = if strict { distance.max(SAME) } else { SAME };
    let mut chains = drop_duplicates(chains, twice, &mut duplicates);
    if strict {
        let mut places = Vec::new();
        chains = merge_overlaps(chains, twice, &mut places);
        chains = drop_retraced(chains, twice, &mut places);
        if !places.is_empty() {
            joined.notes.push(Note::Overlaps {
                count: places.len(),
                places,
            });
        }
    }
    let (mut closed, mut open): (Vec<_>, Vec<_>) = chains
        .into_iter()
        .enumerate()
        .partition(|(_, chain)| chain.closed);
    let mut gaps = Gaps::default();
    for (tol, exact) in [(SAME.min(distance), true), (distance, false)] {
        let pairs = mates(&open, tol, exact && strict)?;
        let (rings, rest) = trace(open, &pairs, distance, &mut gaps);
        closed.extend(rings);
        open = rest;
        if exact {
            let (scraps, rest): (Vec<_>, Vec<_>) = open
                .into_iter()
                .partition(|(_, chain)| length(chain) <= distance);
            if !scraps.is_empty() {
                joined.notes.push(Note::Scraps {
                    count: scraps.len(),
                    places: scraps.iter().map(|(_, chain)| chain.start()).collect(),
                });
            }
            open = rest;
        }
    }
    // In the order of the drawing, whatever was joined to what.
    closed.sort_by_key(|(order, _)| *order);
    open.sort_by_key(|(order, _)| *order);
    let closed = closed.into_iter().map(|c| c.1).collect();
    let closed = drop_duplicates(closed, SAME, &mut duplicates);
    let (slivers, closed) = closed
        .into_iter()
        .partition(|chain| strict && is_sliver(chain, distance));
    joined.closed = closed;
    joined.open = open.into_iter().map(|c| c.1).collect();
    if !duplicates.is_empty() {
        joined.notes.push(Note::Duplicates {
            count: duplicates.len(),
            places: duplicates,
        });
    }
    let slivers: Vec<Chain> = slivers;
    if !slivers.is_empty() {
        joined.notes.push(Note::Slivers {
            count: slivers.len(),
            places: slivers.iter().map(Chain::start).collect(),
        });
    }
    if gaps.count > 0 {
        joined.notes.push(Note::Joined {
            count: gaps.count,
            widest: gaps.widest,
            at: gaps.at,
            places: gaps.places,
        });
    }
    Ok(joined)
}

/// An open end and the end that is nearest to it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Loose {
    /// The end.
    pub end: Point,
    /// The nearest end of another chain, or the other end of the same one.
    pub mate: Point,
}

/// The end of an open chain with the nearest mate.
pub(super) fn nearest_mate(open: &[Chain], index: usize) -> Loose {
    let (start, end) = (open[index].start(), open[index].end());
    let mut best = Loose {
        end: start,
        mate: end,
    };
    let mut least = start.distance(end);
    for p in [start, end] {
        for chain in open.iter().enumerate().filter(|o| o.0 != index) {
            for mate in [chain.1.start(), chain.1.end()] {
                if p.distance(mate) < least {
                    least = p.distance(mate);
                    best = Loose { end: p, mate };
                }
            }
        }
    }
    best
}

/// Whether a closed chain is narrower than `distance`: its mean width is twice its area over its length.
///
/// One that crosses itself is none, however little area its loops leave after cancelling out: it is a
/// fault to be told.
fn is_sliver(chain: &Chain, distance: f64) -> bool {
    let ring = crate::Ring::new(chain.vertices.clone());
    let is_there_and_back = ring.vertices.len() < 3 && ring.area() == 0.0;
    2.0 * ring.area() <= distance * ring.length()
        && (is_there_and_back || crossings(&[&ring], 1).is_empty())
}

fn length(chain: &Chain) -> f64 {
    segments(chain).map(|s| s.length()).sum()
}

fn segments(chain: &Chain) -> impl Iterator<Item = Segment> + '_ {
    chain
        .vertices
        .windows(2)
        .map(|w| Segment::arc(w[0].point, w[1].point, w[0].bulge))
}

/// One end of an open chain: twice the chain's index, plus one for its far end.
type End = usize;

fn place(open: &[(usize, Chain)], end: End) -> Point {
    let chain = &open[end / 2].1;
    if end.is_multiple_of(2) {
        chain.start()
    } else {
        chain.end()
    }
}

/// For each end the end it is joined to.
fn mates(
    open: &[(usize, Chain)],
    tol: f64,
    strict: bool,
) -> Result<Vec<Option<End>>, DrawingError> {
    let count = 2 * open.len();
    let tree = RTree::bulk_load(
        (0..count)
            .map(|end| {
                let p = place(open, end);
                GeomWithData::new([p.x, p.y], end)
            })
            .collect(),
    );
    let layer = |end: End| &open[end / 2].1.culprit.layer;
    let mut pairs = Vec::new();
    for end in 0..count {
        let p = place(open, end);
        let mut near: Vec<End> = tree
            .locate_within_distance([p.x, p.y], tol * tol)
            .map(|found| found.data)
            .filter(|other| *other != end)
            // A chain shorter than twice the distance would close on itself by mistake.
            .filter(|other| other / 2 != end / 2 || length(&open[end / 2].1) > 2.0 * tol)
            // A star of thousands of marks must not make millions of pairs.
            .take(MOST_NEAR)
            .collect();
        if strict && near.len() > 1 {
            let meeting = near.len() + 1;
            near.retain(|other| layer(*other) == layer(end));
            if near.len() != 1 {
                return Err(DrawingError::Branches {
                    at: p,
                    count: meeting,
                });
            }
        }
        pairs.extend(
            near.into_iter()
                .filter(|other| *other > end)
                .map(|other| (p.distance(place(open, other)), end, other)),
        );
    }
    pairs.sort_by(|a, b| a.0.total_cmp(&b.0).then((a.1, a.2).cmp(&(b.1, b.2))));
    let mut mates = vec![None; count];
    for (_, a, b) in pairs {
        if mates[a].is_none() && mates[b].is_none() {
            mates[a] = Some(b);
            mates[b] = Some(a);
        }
    }
    Ok(mates)
}

/// The gaps closed so far.
#[derive(Debug, Default)]
struct Gaps {
    count: usize,
    widest: f64,
    at: Point,
    places: Vec<Point>,
}

type Numbered = Vec<(usize, Chain)>;

/// Follows the mates: closed chains and open ones, each with the place of its first member.
fn trace(
    open: Numbered,
    mates: &[Option<End>],
    distance: f64,
    gaps: &mut Gaps,
) -> (Numbered, Numbered) {
    let mut pieces: Vec<Option<(usize, Chain)>> = open.into_iter().map(Some).collect();
    let (mut rings, mut rest) = (Vec::new(), Vec::new());
    for first in 0..pieces.len() {
        if pieces[first].is_none() {
            continue;
        }
        // Back to where the run begins, or once round when it is a ring.
        let mut head: End = 2 * first;
        let mut is_ring = false;
        while let Some(before) = mates[head] {
            head = before ^ 1;
            if head == 2 * first {
                is_ring = true;
                break;
            }
        }
        let mut run: Option<(usize, Chain)> = None;
        let mut end = head;
        while let Some((order, chain)) = pieces[end / 2].take() {
            let chain = if end.is_multiple_of(2) {
                chain
            } else {
                reversed(chain)
            };
            run = Some(match run {
                None => (order, chain),
                Some((before, run)) => (before.min(order), appended(run, chain, distance, gaps)),
            });
            match mates[end ^ 1] {
                Some(next) => end = next,
                None => break,
            }
        }
        let Some((order, mut chain)) = run else {
            continue;
        };
        if is_ring {
            close(&mut chain, distance, gaps);
            rings.push((order, chain));
        } else {
            rest.push((order, chain));
        }
    }
    (rings, rest)
}

fn reversed(mut chain: Chain) -> Chain {
    let n = chain.vertices.len();
    chain.vertices = (0..n)
        .map(|i| Vertex {
            point: chain.vertices[n - 1 - i].point,
            bulge: if i + 1 < n {
                -chain.vertices[n - 2 - i].bulge
            } else {
                0.0
            },
        })
        .collect();
    chain
}

fn appended(mut run: Chain, next: Chain, distance: f64, gaps: &mut Gaps) -> Chain {
    let (Some(arriving), Some(leaving)) = (segments(&run).last(), segments(&next).next()) else {
        return run;
    };
    let joint = joint(&arriving, &leaving, distance, gaps);
    let mut vertices = next.vertices;
    vertices[0].point = joint;
    run.vertices.pop();
    run.vertices.extend(vertices);
    if run.name != next.name {
        run.name = None;
    }
    run
}

fn close(chain: &mut Chain, distance: f64, gaps: &mut Gaps) {
    let ends = (segments(chain).last(), segments(chain).next());
    if let (Some(arriving), Some(leaving)) = ends {
        let joint = joint(&arriving, &leaving, distance, gaps);
        chain.vertices.pop();
        chain.vertices[0].point = joint;
    }
    chain.closed = true;
    let mut ring = crate::Ring::new(std::mem::take(&mut chain.vertices));
    ring.drop_coincident();
    chain.vertices = ring.vertices;
}

/// The one place that stands for the end of `arriving` and the start of `leaving`.
///
/// Two lines are run to their corner where that is near; a line gives way to an arc, whose radius
/// would change; otherwise both ends move half way.
fn joint(arriving: &Segment, leaving: &Segment, distance: f64, gaps: &mut Gaps) -> Point {
    let (p, q) = (arriving.end, leaving.start);
    let gap = p.distance(q);
    if gap > tolerance::COINCIDENT {
        gaps.count += 1;
        gaps.places.push(p);
        if gap > gaps.widest {
            gaps.widest = gap;
            gaps.at = p;
        }
    }
    match (arriving.is_arc(), leaving.is_arc()) {
        (true, false) => p,
        (false, true) => q,
        (true, true) => p.midpoint(q),
        (false, false) => {
            let (u, v) = (arriving.end - arriving.start, leaving.end - leaving.start);
            let cross = u.cross(v);
            // Nearly parallel lines meet far away.
            if cross.abs() > 0.01 * u.length() * v.length() {
                let corner = arriving.start + u * ((q - arriving.start).cross(v) / cross);
                if corner.distance(p) <= distance && corner.distance(q) <= distance {
                    return corner;
                }
            }
            p.midpoint(q)
        }
    }
}

/// Keeps one of each set of equal chains; the start of every other goes to `dropped`.
fn drop_duplicates(chains: Vec<Chain>, tol: f64, dropped: &mut Vec<Point>) -> Vec<Chain> {
    let boxes: Vec<[f64; 4]> = chains
        .iter()
        .map(|chain| {
            let all = crate::Path {
                vertices: chain.vertices.clone(),
                closed: chain.closed,
            };
            all.segments()
                .map(|s| s.bounds())
                .reduce(crate::Bounds::union)
                .map_or([0.0; 4], |b| [b.min.x, b.min.y, b.max.x, b.max.y])
        })
        .collect();
    let tree = RTree::bulk_load(
        boxes
            .iter()
            .enumerate()
            .map(|(index, corners)| GeomWithData::new(*corners, index))
            .collect(),
    );
    let mut keep = vec![true; chains.len()];
    for index in 0..chains.len() {
        if !keep[index] {
            continue;
        }
        let low = boxes[index].map(|v| v - tol);
        let high = boxes[index].map(|v| v + tol);
        for other in tree.locate_in_envelope(&AABB::from_corners(low, high)) {
            if other.data > index
                && keep[other.data]
                && same(&chains[index], &chains[other.data], tol)
            {
                keep[other.data] = false;
            }
        }
    }
    let mut keep = keep.into_iter();
    chains
        .into_iter()
        .filter(|chain| {
            let kept = keep.next().unwrap_or(true);
            if !kept {
                dropped.push(chain.start());
            }
            kept
        })
        .collect()
}

/// Whether two chains with nearly the same bounds are the same curve.
fn same(a: &Chain, b: &Chain, tol: f64) -> bool {
    // A chain shorter than the tolerance would be the same as its neighbours.
    let tol = if a.closed || length(a).min(length(b)) < 4.0 * tol {
        SAME
    } else {
        tol
    };
    let near = |p: Point, q: Point| p.distance(q) <= tol;
    // Arcs with the same ends are as far apart as their sagittas, half the chord times the bulge.
    let alike = |a: &[Vertex], b: &[Vertex], i: usize| {
        let chord = a[i].point.distance(a[(i + 1) % a.len()].point);
        (a[i].bulge - b[i].bulge).abs() <= f64::max(1e-6, 2.0 * (tol - SAME) / chord.max(tol))
    };
    let equal = |a: &[Vertex], b: &[Vertex], closed: bool| {
        let n = a.len();
        (0..n).all(|i| near(a[i].point, b[i].point))
            && (0..n).all(|i| (!closed && i + 1 == n) || alike(a, b, i))
    };
    if a.closed != b.closed {
        return false;
    }
    if let (Some(x), Some(y)) = (as_circle(a), as_circle(b)) {
        return near(x.0, y.0) && (x.1 - y.1).abs() <= SAME;
    }
    let n = a.vertices.len();
    if n != b.vertices.len() {
        return false;
    }
    if !a.closed {
        return equal(&a.vertices, &b.vertices, false)
            || equal(&a.vertices, &reversed(b.clone()).vertices, false);
    }
    let ring = crate::Ring::new(b.vertices.clone());
    [ring.reversed(), ring].into_iter().any(|ring| {
        (0..n)
            .filter(|shift| near(ring.vertices[*shift].point, a.vertices[0].point))
            .any(|shift| {
                let mut turned = ring.vertices.clone();
                turned.rotate_left(shift);
                equal(&a.vertices, &turned, true)
            })
    })
}

/// Centre and radius of a closed chain that is one circle.
fn as_circle(chain: &Chain) -> Option<(Point, f64)> {
    if !chain.closed || chain.vertices.len() > 8 {
        return None;
    }
    let ring = crate::Ring::new(chain.vertices.clone());
    let mut arcs = ring.segments().map(|s| s.arc_geometry());
    let first = arcs.next()??;
    let all = arcs.all(|arc| {
        arc.is_some_and(|arc| {
            arc.center.distance(first.center) <= SAME && (arc.radius - first.radius).abs() <= SAME
        })
    });
    all.then_some((first.center, first.radius))
}

//! A piece of stock on the saw, and what a cut leaves of it.

use panelwright_geometry::{Bounds, Point, Polygon, tolerance};

/// Crossings of a saw line this near to each other are at one place.
const SAME_CROSSING: f64 = 1e-9;

/// Which way a saw cut runs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Run {
    /// Along x: a rip.
    Rip,
    /// Along y: a crosscut.
    Crosscut,
}

impl Run {
    /// The coordinate that is the same all along the cut.
    pub(super) fn across(self, p: Point) -> f64 {
        match self {
            Self::Rip => p.y,
            Self::Crosscut => p.x,
        }
    }

    /// The coordinate that grows along the cut.
    pub(super) fn along(self, p: Point) -> f64 {
        match self {
            Self::Rip => p.x,
            Self::Crosscut => p.y,
        }
    }

    fn point(self, across: f64, along: f64) -> Point {
        match self {
            Self::Rip => Point::new(along, across),
            Self::Crosscut => Point::new(across, along),
        }
    }

    pub(super) fn turned(self) -> Self {
        match self {
            Self::Rip => Self::Crosscut,
            Self::Crosscut => Self::Rip,
        }
    }
}

/// Signed area of a ring, positive when counter-clockwise (shoelace formula).
fn signed_area(ring: &[Point]) -> f64 {
    let Some(first) = ring.first() else {
        return 0.0;
    };
    let pairs = ring.iter().zip(ring.iter().cycle().skip(1));
    pairs
        .map(|(a, b)| 0.5 * (*a - *first).cross(*b - *first))
        .sum()
}

/// Whether a strip of half width `half` about `at` takes something of what lies between `lo` and
/// `hi`, or parts it; touching is not enough.
pub(super) fn strip_meets(lo: f64, hi: f64, at: f64, half: f64) -> bool {
    let tol = tolerance::JUDGE;
    // A blade without width takes nothing, but it parts what lies on both sides.
    let reach = if half > tol { half - tol } else { -tol };
    lo < at + reach && hi > at - reach
}

/// Where a ring crosses the saw line.
#[derive(Debug, Clone, Copy)]
struct Crossing {
    along: f64,
    /// Whether the ring goes from the lower side to the upper one.
    rising: bool,
    ring: usize,
    /// The edge that crosses, by its start.
    edge: usize,
}

/// All crossings in order along the line, rising and falling ones taking turns where that can be.
///
/// A corner on the line counts as below for what lies above (`upper`), and the other way round: it
/// is never on the side that is kept, so what hangs together only along the line falls apart.
fn crossings(rings: &[Vec<Point>], run: Run, at: f64, upper: bool) -> Vec<Crossing> {
    let above = |across: f64| across > at || (!upper && across >= at);
    let mut found = Vec::new();
    for (r, ring) in rings.iter().enumerate() {
        for (i, a) in ring.iter().enumerate() {
            let b = ring[(i + 1) % ring.len()];
            let (from, to) = (run.across(*a), run.across(b));
            if above(from) != above(to) {
                let share = (at - from) / (to - from);
                found.push(Crossing {
                    along: run.along(*a) + share * (run.along(b) - run.along(*a)),
                    rising: above(to),
                    ring: r,
                    edge: i,
                });
            }
        }
    }
    found.sort_by(|p, q| p.along.total_cmp(&q.along));
    // Material lies on the left of every ring, so along a crosscut the first border is met rising,
    // along a rip falling. Rings that touch on the line come out of the sort in either order.
    let mut rising = run == Run::Crosscut;
    for i in 0..found.len() {
        if found[i].rising != rising {
            let limit = found[i].along + SAME_CROSSING;
            let swap = (i + 1..found.len())
                .take_while(|j| found[*j].along <= limit)
                .find(|j| found[*j].rising == rising);
            if let Some(j) = swap {
                found.swap(i, j);
            }
        }
        rising = !rising;
    }
    found
}

/// The rings of what lies above (`upper`) or below the saw line.
fn clipped_rings(rings: &[Vec<Point>], run: Run, at: f64, upper: bool) -> Vec<Vec<Point>> {
    let kept = |p: Point| {
        if upper {
            run.across(p) > at
        } else {
            run.across(p) < at
        }
    };
    let found = crossings(rings, run, at, upper);
    let mut result: Vec<Vec<Point>> = (0..rings.len())
        .filter(|r| !found.iter().any(|c| c.ring == *r))
        .filter(|r| rings[*r].first().is_some_and(|p| kept(*p)))
        .map(|r| rings[r].clone())
        .collect();
    let mut used = vec![false; found.len()];
    for start in 0..found.len() {
        let mut loop_points = Vec::new();
        let mut entry = start;
        // Along a ring from where it enters the kept side to where it leaves it, then along the saw
        // line to the other end of that stretch of material.
        while found[entry].rising == upper && !used[entry] {
            used[entry] = true;
            let Crossing {
                ring, edge, along, ..
            } = found[entry];
            loop_points.push(run.point(at, along));
            let points = &rings[ring];
            let mut i = (edge + 1) % points.len();
            while kept(points[i]) {
                loop_points.push(points[i]);
                i = (i + 1) % points.len();
            }
            let leaving_edge = (i + points.len() - 1) % points.len();
            let Some(leaving) = found
                .iter()
                .position(|c| c.ring == ring && c.edge == leaving_edge)
            else {
                break;
            };
            loop_points.push(run.point(at, found[leaving].along));
            entry = leaving ^ 1;
            if entry >= found.len() {
                break;
            }
        }
        loop_points.dedup_by(|a, b| a.distance(*b) <= SAME_CROSSING);
        while loop_points.len() > 1
            && loop_points[0].distance(loop_points[loop_points.len() - 1]) <= SAME_CROSSING
        {
            loop_points.pop();
        }
        if loop_points.len() > 2 {
            result.push(loop_points);
        }
    }
    result
}

/// One piece of stock on the saw: outer ring first, then its voids.
#[derive(Debug, Clone)]
pub(super) struct Piece {
    rings: Vec<Vec<Point>>,
    pub(super) bounds: Bounds,
    /// Stage of the cuts that made it; 0 for the stock itself and after first trims.
    pub(super) stage: u32,
    /// Which way the last cut of that stage ran; `None` at stage 0.
    pub(super) run: Option<Run>,
    /// Whether a last trim took waste off it, after which only more of it may come off.
    pub(super) finished: bool,
}

impl Piece {
    pub(super) fn whole(stock: &Polygon) -> Self {
        let stock = Polygon::new(stock.outer.clone(), stock.holes.clone());
        let bounds = stock.bounds();
        Self {
            rings: stock.rings().cloned().collect(),
            bounds,
            stage: 0,
            run: None,
            finished: false,
        }
    }

    pub(super) fn polygon(&self) -> Polygon {
        let (outer, holes) = self.rings.split_at(1);
        Polygon {
            outer: outer.first().cloned().unwrap_or_default(),
            holes: holes.to_vec(),
        }
    }

    /// Whether it is an upright rectangle without voids, within `tol` of its bounds.
    pub(super) fn is_rectangle(&self, tol: f64) -> bool {
        let area: f64 = self.rings.iter().map(|r| signed_area(r)).sum();
        let slack = tol * (self.bounds.width() + self.bounds.height());
        self.bounds.area() - area <= slack
    }

    /// Lowest and highest place of the piece in the strip of the cut, measured along the cut;
    /// `None` when the strip misses the piece or only touches it.
    pub(super) fn span(&self, run: Run, at: f64, half: f64) -> Option<(f64, f64)> {
        let tol = tolerance::JUDGE;
        let (lo, hi) = (run.across(self.bounds.min), run.across(self.bounds.max));
        if !strip_meets(lo, hi, at, half) {
            return None;
        }
        // Just inside the strip, so that a border along its edge is not taken for material in it.
        let reach = (half - tol).max(0.0);
        let mut places: Vec<f64> = Vec::new();
        for line in [at - reach, at, at + reach] {
            places.extend(
                crossings(&self.rings, run, line, true)
                    .iter()
                    .map(|c| c.along),
            );
        }
        let in_strip = |p: &&Point| (run.across(**p) - at).abs() <= reach;
        places.extend(
            self.rings
                .iter()
                .flatten()
                .filter(in_strip)
                .map(|p| run.along(*p)),
        );
        let first = places.iter().copied().reduce(f64::min)?;
        let last = places.iter().copied().reduce(f64::max)?;
        Some((first, last))
    }

    /// What lies on one side of the strip; several pieces where the piece is not convex. Slivers
    /// thinner than the judge's tolerance are dust.
    pub(super) fn beside(&self, run: Run, at: f64, upper: bool) -> Vec<Piece> {
        let rings = clipped_rings(&self.rings, run, at, upper);
        let (outers, holes): (Vec<_>, Vec<_>) =
            rings.into_iter().partition(|r| signed_area(r) > 0.0);
        let mut pieces: Vec<Piece> = outers
            .into_iter()
            .filter_map(|outer| {
                let bounds = Bounds::of_points(outer.iter().copied())?;
                (bounds.width() > tolerance::JUDGE && bounds.height() > tolerance::JUDGE).then(
                    || Piece {
                        rings: vec![outer],
                        bounds,
                        ..self.clone()
                    },
                )
            })
            .collect();
        for hole in holes {
            let Some(inside) = Bounds::of_points(hole.iter().copied()) else {
                continue;
            };
            let owner = pieces
                .iter_mut()
                .filter(|p| p.bounds.grown(SAME_CROSSING).contains(&inside))
                .filter(|p| ring_holds(&p.rings[0], &hole))
                .min_by(|a, b| a.bounds.area().total_cmp(&b.bounds.area()));
            if let Some(piece) = owner {
                piece.rings.push(hole);
            }
        }
        pieces
    }
}

/// Whether the middle of an edge of `hole` is inside `outer` (even-odd rule).
fn ring_holds(outer: &[Point], hole: &[Point]) -> bool {
    let Some(p) = hole.first().zip(hole.get(1)).map(|(a, b)| a.midpoint(*b)) else {
        return false;
    };
    let pairs = outer.iter().zip(outer.iter().cycle().skip(1));
    pairs
        .filter(|(a, b)| (a.y > p.y) != (b.y > p.y))
        .filter(|(a, b)| a.x + (p.y - a.y) / (b.y - a.y) * (b.x - a.x) > p.x)
        .count()
        % 2
        == 1
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ring(points: &[(f64, f64)]) -> Vec<Point> {
        points.iter().map(|(x, y)| Point::new(*x, *y)).collect()
    }

    fn areas(pieces: &[Piece]) -> Vec<f64> {
        let mut areas: Vec<f64> = pieces.iter().map(|p| p.polygon().area()).collect();
        areas.sort_by(f64::total_cmp);
        areas
    }

    #[test]
    fn a_u_falls_into_two_legs() {
        let u = [
            (0.0, 0.0),
            (9.0, 0.0),
            (9.0, 9.0),
            (6.0, 9.0),
            (6.0, 3.0),
            (3.0, 3.0),
            (3.0, 9.0),
            (0.0, 9.0),
        ];
        let piece = Piece::whole(&Polygon::new(ring(&u), vec![]));
        assert_eq!(areas(&piece.beside(Run::Rip, 5.0, true)), [12.0, 12.0]);
        assert_eq!(areas(&piece.beside(Run::Rip, 5.0, false)), [39.0]);
        // Along the floor of the U: the corners on the line must not confuse the walk.
        assert_eq!(areas(&piece.beside(Run::Rip, 3.0, true)), [18.0, 18.0]);
        assert_eq!(areas(&piece.beside(Run::Rip, 3.0, false)), [27.0]);
        assert_eq!(areas(&piece.beside(Run::Crosscut, 6.0, true)), [27.0]);
        // The same upside down.
        let arch: Vec<Point> = ring(&u).iter().map(|p| Point::new(p.x, -p.y)).collect();
        let piece = Piece::whole(&Polygon::new(arch, vec![]));
        assert_eq!(areas(&piece.beside(Run::Rip, -3.0, false)), [18.0, 18.0]);
        assert_eq!(areas(&piece.beside(Run::Rip, -3.0, true)), [27.0]);
    }

    #[test]
    fn a_void_opens_or_stays() {
        let square = Polygon::rectangle(10.0, 10.0).outer;
        let void = ring(&[(4.0, 4.0), (6.0, 4.0), (6.0, 6.0), (4.0, 6.0)]);
        let piece = Piece::whole(&Polygon::new(square, vec![void]));
        assert_eq!(areas(&piece.beside(Run::Crosscut, 5.0, true)), [48.0]);
        assert_eq!(areas(&piece.beside(Run::Crosscut, 7.0, false)), [66.0]);
        assert_eq!(piece.beside(Run::Crosscut, 7.0, false)[0].rings.len(), 2);
        assert!(piece.beside(Run::Rip, 6.0, true)[0].is_rectangle(1e-6));
        assert!(!piece.beside(Run::Rip, 5.9, true)[0].is_rectangle(1e-6));
        assert!(piece.beside(Run::Rip, 10.0, true).is_empty());
    }

    #[test]
    fn a_notch_that_just_reaches_the_line_parts_the_upper_piece() {
        let notched = ring(&[
            (0.0, 0.0),
            (10.0, 0.0),
            (10.0, 10.0),
            (7.0, 10.0),
            (5.0, 5.0),
            (3.0, 10.0),
            (0.0, 10.0),
        ]);
        let piece = Piece::whole(&Polygon::new(notched, vec![]));
        assert_eq!(areas(&piece.beside(Run::Rip, 5.0, true)), [20.0, 20.0]);
        assert_eq!(areas(&piece.beside(Run::Rip, 5.0, false)), [50.0]);
    }

    #[test]
    fn a_void_that_reaches_the_line_becomes_part_of_the_edge() {
        let square = Polygon::rectangle(10.0, 10.0).outer;
        let diamond = ring(&[(5.0, 3.0), (7.0, 5.0), (5.0, 7.0), (3.0, 5.0)]);
        let piece = Piece::whole(&Polygon::new(square, vec![diamond]));
        for (run, line, upper) in [
            (Run::Rip, 3.0, true),
            (Run::Rip, 7.0, false),
            (Run::Crosscut, 3.0, true),
            (Run::Crosscut, 7.0, false),
        ] {
            let left = piece.beside(run, line, upper);
            assert_eq!(areas(&left), [62.0]);
            assert_eq!(left[0].rings.len(), 1, "{run:?} at {line}");
        }
    }

    #[test]
    fn a_void_goes_to_the_piece_round_it() {
        // A hook on the left reaches under a block on the right; both hang from a bar at the top.
        let outer = ring(&[
            (0.0, 0.0),
            (6.0, 0.0),
            (6.0, 1.0),
            (1.0, 1.0),
            (1.0, 10.0),
            (3.0, 10.0),
            (3.0, 2.0),
            (20.0, 2.0),
            (20.0, 12.0),
            (0.0, 12.0),
        ]);
        // In the block, but within the bounds of the hook.
        let void = ring(&[(4.0, 4.0), (5.0, 4.0), (5.0, 5.0), (4.0, 5.0)]);
        let piece = Piece::whole(&Polygon::new(outer, vec![void]));
        assert_eq!(areas(&piece.beside(Run::Rip, 10.0, false)), [15.0, 135.0]);
    }

    #[test]
    fn both_sides_keep_the_area() {
        // A ragged remnant with two voids, cut at many places both ways.
        let outer = ring(&[
            (0.0, 0.0),
            (40.0, -7.0),
            (63.0, 5.0),
            (58.0, 22.0),
            (66.0, 41.0),
            (30.0, 52.0),
            (22.0, 33.0),
            (9.0, 47.0),
            (-6.0, 20.0),
        ]);
        let voids = vec![
            ring(&[(10.0, 10.0), (18.0, 8.0), (14.0, 21.0)]),
            ring(&[(38.0, 12.0), (52.0, 12.0), (52.0, 30.0), (45.0, 20.0)]),
        ];
        let stock = Polygon::new(outer, voids);
        let piece = Piece::whole(&stock);
        for run in [Run::Rip, Run::Crosscut] {
            for at in -10..70 {
                let at = f64::from(at);
                let total: f64 = [true, false]
                    .iter()
                    .flat_map(|upper| areas(&piece.beside(run, at, *upper)))
                    .sum();
                assert!((total - stock.area()).abs() < 1e-6, "{run:?} at {at}");
            }
        }
    }
}

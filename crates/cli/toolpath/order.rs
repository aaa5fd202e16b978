//! The order of the cuts: as the blocks demand, and within them with little travel.
//!
//! A *stop* is a cut or mark with the ways to begin it. Stops of a lower block come first, whatever
//! the travel; within a block any order will do. That is a travelling salesman with neighbourhoods:
//! a tour by nearest neighbours is improved by turning stretches round (2-opt, Croes 1958) and by
//! moving short chains elsewhere (Or-opt, Or 1976), in turn with the best way to begin each stop
//! for the order at hand, which is a shortest path through layers and so exact. Last, stretches are
//! exchanged at random and the places touched improved again.

use panelwright_geometry::Point;
use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64Mcg;
use rstar::RTree;
use rstar::primitives::GeomWithData;

/// Neighbours looked at for each stop. Fewer miss improvements, more cost time and hardly help.
const NEIGHBOURS: usize = 10;

/// Longest chain that is moved elsewhere as a whole.
const CHAIN: usize = 3;

/// Rounds of order and beginnings in turn; the third rarely changes anything.
const ROUNDS: usize = 4;

/// Sweeps over all stops in one round, so that huge sheets come to an end.
const SWEEPS: usize = 40;

/// Exchanges tried at random, fewer on sheets of more than [`MANY`] stops, where each takes longer. Ten times as
/// many gain a tenth of a percent.
const KICKS: usize = 300;

/// Longest stretch that is exchanged with the next one.
const SPAN: usize = 30;

/// Less than this many millimetres is no improvement, so that rounding cannot go on for ever.
const GAIN: f64 = 1e-6;

/// A cut or mark with the ways to begin it.
#[derive(Debug, Clone)]
pub struct Stop {
    /// Blocks are worked in rising order.
    pub block: usize,
    /// For each way: where the tool begins, and where it ends. At least one.
    pub ways: Vec<(Point, Point)>,
}

impl Stop {
    /// The middle of a way, from which neighbourhood is judged.
    fn middle(&self, way: usize) -> Point {
        let (from, to) = self.ways[way];
        from.midpoint(to)
    }
}

/// Above this many stops only the shorter one of the two first tours is improved: 200 parts with four
/// openings each take some hundredths of a second.
const MANY: usize = 300;

/// Distance of two places. The exact one guards against numbers beyond all sheets and takes several
/// times as long, which is most of the time here.
fn apart(a: Point, b: Point) -> f64 {
    let d = b - a;
    d.dot(d).sqrt()
}

/// The order of the stops, each with the way to begin it, from `home` on.
///
/// # Panics
/// When a stop has no way to begin it.
///
/// # Runtime
/// About n² in the stops of the largest block to begin with, then about n a sweep.
#[must_use]
pub fn order(stops: &[Stop], home: Point) -> Vec<(usize, usize)> {
    let mut best = best_ways(stops, nearest_first(stops, home), home);
    // The order in which things were drawn is often a good one too: rows of holes.
    let mut drawn: Vec<usize> = (0..stops.len()).collect();
    drawn.sort_by_key(|i| stops[*i].block);
    let drawn = best_ways(stops, drawn, home);
    let starts = if stops.len() <= MANY {
        vec![best.clone(), drawn]
    } else if travel(stops, &drawn, home) < travel(stops, &best, home) {
        vec![drawn]
    } else {
        vec![best.clone()]
    };
    for start in starts {
        let mut tour = start;
        let mut length = travel(stops, &tour, home);
        for _ in 0..ROUNDS {
            let mut round = Round::new(stops, &tour, home);
            round.improve();
            let next = best_ways(stops, round.tour, home);
            let next_length = travel(stops, &next, home);
            if next_length >= length - GAIN {
                break;
            }
            (tour, length) = (next, next_length);
        }
        if length < travel(stops, &best, home) - GAIN {
            best = tour;
        }
    }
    let mut round = Round::new(stops, &best, home);
    round.shake(&mut Pcg64Mcg::seed_from_u64(stops.len() as u64));
    let shaken = best_ways(stops, round.tour, home);
    if travel(stops, &shaken, home) < travel(stops, &best, home) - GAIN {
        best = shaken;
    }
    best
}

/// How far the tool moves between the cuts, from `home` to the last one.
#[must_use]
pub fn travel(stops: &[Stop], tour: &[(usize, usize)], home: Point) -> f64 {
    let mut at = home;
    tour.iter()
        .map(|(stop, way)| {
            let (from, to) = stops[*stop].ways[*way];
            let moved = apart(at, from);
            at = to;
            moved
        })
        .sum()
}

/// Always on to the nearest stop of the block.
fn nearest_first(stops: &[Stop], home: Point) -> Vec<usize> {
    let mut left: Vec<usize> = (0..stops.len()).collect();
    left.sort_by_key(|i| stops[*i].block);
    let mut tour = Vec::with_capacity(stops.len());
    let mut at = home;
    for block in left.chunk_by_mut(|a, b| stops[*a].block == stops[*b].block) {
        for done in 0..block.len() {
            let mut nearest: Option<(f64, usize)> = None;
            for i in done..block.len() {
                let way = stops[block[i]].middle(0) - at;
                let far = way.dot(way);
                let nearer = nearest
                    .is_none_or(|(best, k)| far < best || far == best && block[i] < block[k]);
                if nearer {
                    nearest = Some((far, i));
                }
            }
            if let Some((_, nearest)) = nearest {
                block.swap(done, nearest);
                at = stops[block[done]].middle(0);
                tour.push(block[done]);
            }
        }
    }
    tour
}

/// The best way to begin each stop of a tour: a shortest path through the layers of ways.
fn best_ways(stops: &[Stop], tour: Vec<usize>, home: Point) -> Vec<(usize, usize)> {
    // For each way of the stop before: where it ends, and the travel until it begins.
    let mut before = vec![(home, 0.0)];
    let mut came: Vec<Vec<usize>> = Vec::with_capacity(tour.len());
    for stop in &tour {
        let mut from = Vec::with_capacity(stops[*stop].ways.len());
        let reached = stops[*stop].ways.iter().map(|(start, end)| {
            let (best, cost) = before
                .iter()
                .map(|(at, cost)| cost + apart(*at, *start))
                .enumerate()
                .min_by(|a, b| a.1.total_cmp(&b.1))
                .expect("every stop has a way");
            from.push(best);
            (*end, cost)
        });
        before = reached.collect();
        came.push(from);
    }
    let last = (0..before.len()).min_by(|a, b| before[*a].1.total_cmp(&before[*b].1));
    let mut way = last.unwrap_or(0);
    let mut ways: Vec<usize> = came
        .iter()
        .rev()
        .map(|from| {
            let own = way;
            way = from[way];
            own
        })
        .collect();
    ways.reverse();
    tour.into_iter().zip(ways).collect()
}

/// One round of improvement with the ways fixed, on the middles of the stops.
struct Round<'a> {
    stops: &'a [Stop],
    home: Point,
    tour: Vec<usize>,
    /// Where in the tour each stop is.
    place: Vec<usize>,
    at: Vec<Point>,
    near: Vec<Vec<usize>>,
    /// Stops beside what was changed, to be looked at again.
    touched: Vec<usize>,
}

impl<'a> Round<'a> {
    fn new(stops: &'a [Stop], tour: &[(usize, usize)], home: Point) -> Self {
        let mut at = vec![Point::default(); stops.len()];
        let mut place = vec![0; stops.len()];
        for (i, (stop, way)) in tour.iter().enumerate() {
            at[*stop] = stops[*stop].middle(*way);
            place[*stop] = i;
        }
        Self {
            near: neighbours(stops, &at),
            touched: Vec::new(),
            tour: tour.iter().map(|(stop, _)| *stop).collect(),
            stops,
            home,
            place,
            at,
        }
    }

    fn improve(&mut self) {
        for _ in 0..SWEEPS {
            let mut better = false;
            for stop in 0..self.stops.len() {
                while self.turn_round(stop) || self.move_chain(stop) {
                    better = true;
                }
            }
            self.touched.clear();
            if !better {
                break;
            }
        }
    }

    /// Exchanges neighbouring stretches at random, improves what that touched, and keeps it where the whole is shorter
    /// (iterated local search with the double bridge of Martin, Otto and Felten 1991, within a block).
    fn shake(&mut self, random: &mut Pcg64Mcg) {
        let n = self.tour.len();
        if n < 3 {
            return;
        }
        let mut length = self.length();
        for _ in 0..KICKS * MANY / n.max(MANY) {
            let first = random.random_range(0..n);
            let second = first + 1 + random.random_range(0..SPAN);
            let end = second + 1 + random.random_range(0..SPAN);
            if end > n || self.block(first) != self.block(end - 1) {
                continue;
            }
            let before = self.tour.clone();
            self.tour[first..end].rotate_left(second - first);
            self.renumber(first, end);
            let joint = first + end - second;
            self.touch([first, joint, end]);
            while let Some(stop) = self.touched.pop() {
                while self.turn_round(stop) || self.move_chain(stop) {}
            }
            let now = self.length();
            if now < length - GAIN {
                length = now;
            } else {
                self.tour = before;
                self.renumber(0, n);
            }
        }
    }

    fn length(&self) -> f64 {
        let first = self.gap(None, 0);
        first
            + (1..self.tour.len())
                .map(|i| self.gap(Some(i - 1), i))
                .sum::<f64>()
    }

    fn renumber(&mut self, from: usize, to: usize) {
        for i in from..to {
            self.place[self.tour[i]] = i;
        }
    }

    /// Has the stops on both sides of these joints looked at again.
    fn touch(&mut self, joints: impl IntoIterator<Item = usize>) {
        for joint in joints {
            let both = [joint.checked_sub(1), Some(joint)];
            let stops = both.into_iter().flatten().filter_map(|i| self.tour.get(i));
            self.touched.extend(stops);
        }
    }

    fn block(&self, place: usize) -> usize {
        self.stops[self.tour[place]].block
    }

    /// Distance from the stop at one place to that at the next; the place before the first is home,
    /// and nothing is travelled after the last.
    fn gap(&self, from: Option<usize>, to: usize) -> f64 {
        match (from, self.tour.get(to)) {
            (_, None) => 0.0,
            (None, Some(to)) => apart(self.home, self.at[*to]),
            (Some(from), Some(to)) => apart(self.at[self.tour[from]], self.at[*to]),
        }
    }

    fn reverse(&mut self, from: usize, to: usize) {
        self.tour[from..=to].reverse();
        self.renumber(from, to + 1);
        self.touch([from, to + 1]);
    }

    /// Turns a stretch round that begins or ends at `stop`, when that is shorter.
    fn turn_round(&mut self, stop: usize) -> bool {
        for n in 0..self.near[stop].len() {
            let (a, b) = (self.place[stop], self.place[self.near[stop][n]]);
            let (low, high) = (a.min(b), a.max(b));
            // Either what comes after `low` up to `high`, or from `low` to before `high`.
            let stretches = [(low + 1, high), (low, high.wrapping_sub(1))];
            for (from, to) in stretches {
                if from >= to || to == usize::MAX || self.block(from) != self.block(to) {
                    continue;
                }
                let before = from.checked_sub(1);
                let now = self.gap(before, from) + self.gap(Some(to), to + 1);
                let then = self.gap(before, to)
                    + self
                        .tour
                        .get(to + 1)
                        .map_or(0.0, |_| self.gap(Some(from), to + 1));
                if then < now - GAIN {
                    self.reverse(from, to);
                    return true;
                }
            }
        }
        false
    }

    /// Moves a short chain that begins at `stop` next to one of its neighbours, either way round,
    /// when that is shorter.
    fn move_chain(&mut self, stop: usize) -> bool {
        let from = self.place[stop];
        let block = self.block(from);
        for length in 1..=CHAIN {
            let to = from + length - 1;
            if to >= self.tour.len() || self.block(to) != block {
                break;
            }
            let before = from.checked_sub(1);
            let taken_out = self.gap(before, from) + self.gap(Some(to), to + 1)
                - match self.tour.get(to + 1) {
                    Some(_) => self.gap(before, to + 1),
                    None => 0.0,
                };
            if taken_out <= GAIN {
                continue;
            }
            for n in 0..self.near[stop].len() {
                let beside = self.place[self.near[stop][n]];
                if (from..=to).contains(&beside) {
                    continue;
                }
                // Before or after the neighbour: the chain then comes to lie before place `target`.
                for target in [beside, beside + 1] {
                    if (from..=to + 1).contains(&target) {
                        continue;
                    }
                    let left = target.checked_sub(1);
                    let open = self.gap(left, target);
                    for turned in [false, true] {
                        let (head, tail) = if turned { (to, from) } else { (from, to) };
                        let close = self.gap(left, head)
                            + self
                                .tour
                                .get(target)
                                .map_or(0.0, |_| self.gap(Some(tail), target));
                        if close - open < taken_out - GAIN {
                            self.put(from, to, target, turned);
                            return true;
                        }
                    }
                }
            }
        }
        false
    }

    fn put(&mut self, from: usize, to: usize, target: usize, turned: bool) {
        if turned {
            self.tour[from..=to].reverse();
        }
        let moved = to - from + 1;
        if target > to {
            self.tour[from..target].rotate_left(moved);
            self.renumber(from, target);
            self.touch([from, target - moved, target]);
        } else {
            self.tour[target..=to].rotate_right(moved);
            self.renumber(target, to + 1);
            self.touch([target, target + moved, to + 1]);
        }
    }
}

/// The nearest stops of the same block, nearest first.
fn neighbours(stops: &[Stop], at: &[Point]) -> Vec<Vec<usize>> {
    let mut near = vec![Vec::new(); stops.len()];
    let mut all: Vec<usize> = (0..stops.len()).collect();
    all.sort_by_key(|i| stops[*i].block);
    for block in all.chunk_by(|a, b| stops[*a].block == stops[*b].block) {
        let points = block
            .iter()
            .map(|i| GeomWithData::new([at[*i].x, at[*i].y], *i));
        let tree = RTree::bulk_load(points.collect());
        for i in block {
            near[*i] = tree
                .nearest_neighbor_iter(&[at[*i].x, at[*i].y])
                .map(|other| other.data)
                .filter(|other| other != i)
                .take(NEIGHBOURS)
                .collect();
        }
    }
    near
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn stop(block: usize, x: f64, y: f64) -> Stop {
        let at = Point::new(x, y);
        Stop {
            block,
            ways: vec![(at, at)],
        }
    }

    #[test]
    fn a_grid_is_worked_row_by_row_and_back() {
        // 16 x 4 holes 18 mm apart, as on the demo's back panel: 63 steps and the way there.
        let stops: Vec<Stop> = (0..64)
            .map(|i| stop(0, f64::from(i % 16) * 18.0, f64::from(i / 16) * 18.0))
            .collect();
        let tour = order(&stops, Point::default());
        assert!(travel(&stops, &tour, Point::default()) <= 1.03 * 63.0 * 18.0);
    }

    #[test]
    fn two_rows_far_apart_are_not_worked_in_turn() {
        // Two rows of holes and, between them, a column: whoever always takes the nearest comes back for what is left.
        let mut stops = Vec::new();
        for i in 0..20 {
            let x = f64::from(i) * 40.0 + 13.0 * f64::from(i % 3);
            stops.push(stop(0, x, 0.0));
            stops.push(stop(0, x + 20.0, 55.0));
            stops.push(stop(1, x + 7.0, 30.0));
        }
        let tour = order(&stops, Point::default());
        let blocks: Vec<usize> = tour.iter().map(|(i, _)| stops[*i].block).collect();
        assert!(blocks.is_sorted());
        // Along one row, back along the other, then the middle one: 3 x 800 mm, 2 x 55 mm and a little.
        let far = travel(&stops, &tour, Point::default());
        assert!(far < 2600.0, "{far}");
        assert_eq!(order(&stops, Point::default()), tour);
    }

    /// Every order that the blocks allow, tried.
    fn best_by_trying(stops: &[Stop], home: Point) -> f64 {
        fn go(stops: &[Stop], left: &mut Vec<usize>, at: Point, so_far: f64, best: &mut f64) {
            if so_far >= *best {
                return;
            }
            let Some(block) = left.iter().map(|i| stops[*i].block).min() else {
                *best = so_far;
                return;
            };
            for k in 0..left.len() {
                let i = left[k];
                if stops[i].block != block {
                    continue;
                }
                left.swap_remove(k);
                for (from, to) in &stops[i].ways {
                    go(stops, left, *to, so_far + at.distance(*from), best);
                }
                left.push(i);
                let last = left.len() - 1;
                left.swap(k, last);
            }
        }
        let mut best = f64::INFINITY;
        go(stops, &mut (0..stops.len()).collect(), home, 0.0, &mut best);
        best
    }

    fn stops() -> impl Strategy<Value = Vec<Stop>> {
        let place = || (0.0..900.0_f64, 0.0..600.0_f64).prop_map(|(x, y)| Point::new(x, y));
        let one = (0usize..3, prop::collection::vec((place(), place()), 1..3));
        prop::collection::vec(one.prop_map(|(block, ways)| Stop { block, ways }), 1..8)
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(96))]
        #[test]
        fn every_stop_once_in_block_order_and_near_the_best(stops in stops()) {
            let home = Point::default();
            let tour = order(&stops, home);
            let mut seen: Vec<usize> = tour.iter().map(|(s, _)| *s).collect();
            let blocks: Vec<usize> = seen.iter().map(|s| stops[*s].block).collect();
            prop_assert!(blocks.is_sorted());
            seen.sort_unstable();
            prop_assert_eq!(seen, (0..stops.len()).collect::<Vec<_>>());
            // Ways whose ends lie anywhere are far worse than real ones, whose ends nearly meet.
            let best = best_by_trying(&stops, home);
            let found = travel(&stops, &tour, home);
            prop_assert!(found >= best - 1e-6 && found <= 2.5 * best + 1e-6, "{found} {best}");
        }

        #[test]
        fn points_are_ordered_near_the_best(
            points in prop::collection::vec((0.0..900.0_f64, 0.0..600.0_f64), 2..8),
        ) {
            let stops: Vec<Stop> = points.iter().map(|(x, y)| stop(0, *x, *y)).collect();
            let home = Point::default();
            let found = travel(&stops, &order(&stops, home), home);
            prop_assert!(found <= 1.5 * best_by_trying(&stops, home) + 1e-6);
        }

        #[test]
        fn never_longer_than_as_drawn(points in prop::collection::vec((0usize..3, 0.0..900.0_f64, 0.0..600.0_f64), 1..60)) {
            let stops: Vec<Stop> = points.iter().map(|(b, x, y)| stop(*b, *x, *y)).collect();
            let home = Point::default();
            let mut drawn: Vec<(usize, usize)> = (0..stops.len()).map(|i| (i, 0)).collect();
            drawn.sort_by_key(|(i, _)| stops[*i].block);
            prop_assert!(travel(&stops, &order(&stops, home), home) <= travel(&stops, &drawn, home) + 1e-6);
        }
    }
}

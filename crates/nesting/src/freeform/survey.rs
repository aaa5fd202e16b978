//! Where a part would overlap least, seen on a grid over all places at once.
//!
//! A few places drawn at random miss most of the gaps that there are. How deep one shape lies in another is
//! therefore worked out once for a grid of places beside it, and these grids are added up, each with the weight of its pair,
//! over all that lies around: one pass over a few thousand numbers for all places, in about the time that thirty drawn
//! places take. Grids are rounded to whole cells, so what they tell is only where a closer look pays.

use super::rough::Rough;
use panelwright_geometry::{Bounds, Point};
use rand::RngExt;
use rand_pcg::Pcg64Mcg;

/// Side of a cell, as a share of the parts' mean size. (Half of it or twice as much gives 0.1 to 0.3 points less
/// density.)
pub(super) const CELL: f64 = 0.2;

/// Most cells of a survey: beyond some hundred parts it looks at a window only.
const MOST_CELLS: f64 = 2500.0;

/// Most cells of a survey along one side, where it is a window.
const LONGEST_SIDE: f64 = 50.0;

/// Cells of a side of the squares of which at most one place each is told.
const TILE: usize = 8;

/// Cells that a row takes as much time as, however short it is, and cells added in the time of a look at a convex area.
const ROW: usize = 8;
const CELLS_PER_LOOK: u64 = 50;

/// How deep one shape lies in another, for places on a grid.
#[derive(Debug, Clone, Default)]
pub(super) struct Raster {
    /// Left and lower end of the cells, in cells from where both shapes lie at one place.
    corner: [i32; 2],
    width: usize,
    depths: Vec<f32>,
}

impl Raster {
    /// Of areas within `bounds`, on a grid of this pitch.
    pub fn new(areas: &Rough, bounds: Option<Bounds>, pitch: f64) -> Self {
        let Some(Bounds { min, max }) = bounds else {
            return Self::default();
        };
        // On the border nothing is deep.
        let first = [min.x, min.y].map(|low| (low / pitch).ceil() as i32);
        let last = [max.x, max.y].map(|high| (high / pitch).floor() as i32);
        let place = |cell: i32| (f64::from(cell) * pitch) as f32;
        let depths = (first[1]..=last[1])
            .flat_map(|y| (first[0]..=last[0]).map(move |x| [x, y]))
            .map(|[x, y]| areas.depth_sum(place(x), place(y)))
            .collect();
        Self {
            corner: first,
            width: usize::try_from(last[0] - first[0] + 1).unwrap_or(0),
            depths,
        }
    }
}

/// Weighted overlap over a range of places.
#[derive(Debug, Clone, Default)]
pub(super) struct Survey {
    /// Side of a cell.
    pub pitch: f64,
    /// Lower left place.
    from: [f64; 2],
    width: usize,
    height: usize,
    costs: Vec<f32>,
    /// Least of each column within a row of tiles.
    lows: Vec<f32>,
    /// The places found: cost and cell, least first.
    found: Vec<(f32, [usize; 2])>,
}

impl Survey {
    /// On a grid of this pitch.
    pub fn new(pitch: f64) -> Self {
        Self {
            pitch,
            ..Self::default()
        }
    }

    /// Begins one over `range`, or, where that has too many cells, over a window in it round `middle`; returns that.
    /// Cells begin anywhere within the first, so that each survey sees other places.
    pub fn begin(&mut self, range: &Bounds, middle: Point, random: &mut Pcg64Mcg) -> Bounds {
        let sides = [range.width(), range.height()];
        let short = (sides[0].min(sides[1]) / self.pitch).clamp(1.0, LONGEST_SIDE);
        let most = self.pitch * MOST_CELLS / short;
        let [mut min, mut max] = [range.min, range.max];
        let mut cells = |low: &mut f64, high: &mut f64, middle: f64| {
            if *high - *low > most {
                let from = (middle - 0.5 * most).clamp(*low, *high - most);
                (*low, *high) = (from, from + most);
            }
            let from = *low - (self.pitch * random.random::<f64>()).min(*high - *low);
            (from, ((*high - from) / self.pitch).ceil() as usize + 1)
        };
        let (from_x, width) = cells(&mut min.x, &mut max.x, middle.x);
        let (from_y, height) = cells(&mut min.y, &mut max.y, middle.y);
        self.from = [from_x, from_y];
        (self.width, self.height) = (width, height);
        self.costs.clear();
        self.costs.resize(width * height, 0.0);
        Bounds::new(min, max)
    }

    /// Adds a shape that lies at `at`, `weight` times; returns how many convex areas might have been looked at instead.
    pub fn add(&mut self, raster: &Raster, at: Point, weight: f32) -> u64 {
        let cell = |place: f64, from: f64| ((place - from) / self.pitch).round() as i64;
        let left = cell(at.x, self.from[0]) + i64::from(raster.corner[0]);
        let low = cell(at.y, self.from[1]) + i64::from(raster.corner[1]);
        let height = raster.depths.len() / raster.width.max(1);
        let common = |low: i64, own: usize, all: usize| {
            let from = low.clamp(0, all as i64);
            let to = (low + own as i64).clamp(from, all as i64);
            (from as usize, (to - from) as usize, (from - low) as usize)
        };
        let (x, width, skipped) = common(left, raster.width, self.width);
        let (y, height, rows_skipped) = common(low, height, self.height);
        if width == 0 || height == 0 {
            return 1;
        }
        let here = self.costs.chunks_exact_mut(self.width).skip(y).take(height);
        let there = raster.depths.chunks_exact(raster.width).skip(rows_skipped);
        for (here, there) in here.zip(there) {
            let here = &mut here[x..x + width];
            let there = &there[skipped..skipped + width];
            for (cost, depth) in here.iter_mut().zip(there) {
                *cost += weight * depth;
            }
        }
        1 + (height * (width + ROW)) as u64 / CELLS_PER_LOOK
    }

    /// The places that cost least, one from each of `most` squares of cells.
    pub fn least(&mut self, most: usize) -> impl Iterator<Item = Point> {
        self.found.clear();
        for (row, costs) in self.costs.chunks(TILE * self.width).enumerate() {
            self.lows.clear();
            self.lows.extend_from_slice(&costs[..self.width]);
            for costs in costs.chunks_exact(self.width).skip(1) {
                for (low, cost) in self.lows.iter_mut().zip(costs) {
                    *low = if cost < low { *cost } else { *low };
                }
            }
            for (column, lows) in self.lows.chunks(TILE).enumerate() {
                let least = lows.iter().copied().fold(f32::MAX, f32::min);
                let rank = self.found.partition_point(|f| f.0 <= least);
                if rank < most {
                    self.found.truncate(most - 1);
                    self.found.insert(rank, (least, [column, row]));
                }
            }
        }
        let seen: &Self = self;
        let (cells, width) = (&seen.costs, seen.width);
        let found = seen.found.iter().map(move |(least, [column, row])| {
            let first = row * TILE * width + column * TILE;
            let across = TILE.min(width - column * TILE);
            let cell = (first..cells.len())
                .step_by(width)
                .flat_map(|row| row..row + across)
                .find(|cell| cells[*cell] == *least)
                .unwrap_or(first);
            [cell % width, cell / width]
        });
        let place = |cell: usize, from: f64| from + cell as f64 * seen.pitch;
        found.map(move |[x, y]| Point::new(place(x, seen.from[0]), place(y, seen.from[1])))
    }
}

#[cfg(test)]
mod tests {
    use super::super::convex::grown;
    use super::*;
    use proptest::prelude::*;
    use rand::SeedableRng;

    /// The areas of upright rectangles (left, bottom, width, height).
    fn areas(of: &[[f64; 4]]) -> (Rough, Option<Bounds>) {
        let corners = |[x, y, w, h]: [f64; 4]| {
            Bounds::new(Point::new(x, y), Point::new(x + w, y + h)).corners()
        };
        let areas: Vec<_> = of.iter().filter_map(|r| grown(&corners(*r), 0.0)).collect();
        let bounds = areas.iter().map(|a| a.bounds).reduce(Bounds::union);
        (Rough::new(&areas), bounds)
    }

    fn range(width: f64, height: f64) -> Bounds {
        Bounds::new(Point::new(0.0, 0.0), Point::new(width, height))
    }

    proptest! {
        #[test]
        fn the_least_place_is_found_as_nearly_as_cells_go(
            shapes in proptest::collection::vec(
                ((-300.0..300.0, -300.0..300.0, 20.0..400.0, 20.0..400.0), (0.0..900.0, 0.0..700.0), 0.5_f32..4.0),
                1..8,
            ),
            seed in 0..u64::MAX,
        ) {
            let range = range(900.0, 700.0);
            let mut survey = Survey::new(20.0);
            let mut random = Pcg64Mcg::seed_from_u64(seed);
            let seen = survey.begin(&range, Point::default(), &mut random);
            prop_assert_eq!(seen, range);
            let mut weight_sum = 0.0;
            let placed: Vec<_> = shapes
                .iter()
                .map(|((x, y, w, h), (at_x, at_y), weight)| {
                    let (rough, bounds) = areas(&[[*x, *y, *w, *h]]);
                    let at = Point::new(*at_x, *at_y);
                    survey.add(&Raster::new(&rough, bounds, 20.0), at, *weight);
                    weight_sum += f64::from(*weight);
                    (rough, at, *weight)
                })
                .collect();
            let cost = |p: Point| {
                let depth = |(rough, at, weight): &(Rough, Point, f32)| {
                    weight * rough.depth_sum((p.x - at.x) as f32, (p.y - at.y) as f32)
                };
                f64::from(placed.iter().map(depth).sum::<f32>())
            };
            let found: Vec<Point> = survey.least(4).collect();
            prop_assert_eq!(found.len(), 4);
            let reached = cost(found[0]);
            // Depths change no faster than places: half a cell is lost in rounding, the same where the least place lies.
            let rounding = 20.0 * std::f64::consts::FRAC_1_SQRT_2 * 2.0 * weight_sum;
            for x in 0..45 {
                for y in 0..35 {
                    let p = Point::new(20.0 * f64::from(x), 20.0 * f64::from(y));
                    prop_assert!(reached <= cost(p) + 2.0 * rounding);
                }
            }
        }
    }

    #[test]
    fn the_one_gap_is_seen() {
        // Two blocks that reach beyond the range, with a gap of 60 between them.
        let (rough, bounds) = areas(&[[0.0, -500.0, 500.0, 1000.0]]);
        let raster = Raster::new(&rough, bounds, 20.0);
        let mut survey = Survey::new(20.0);
        let mut random = Pcg64Mcg::seed_from_u64(3);
        for _ in 0..20 {
            survey.begin(&range(860.0, 300.0), Point::default(), &mut random);
            survey.add(&raster, Point::new(-100.0, 100.0), 1.0);
            survey.add(&raster, Point::new(460.0, 100.0), 1.0);
            let found = survey.least(1).next();
            assert!(
                found.is_some_and(|p| (380.0..=480.0).contains(&p.x)),
                "{found:?}"
            );
        }
    }

    #[test]
    fn what_is_large_is_looked_at_in_windows() {
        let mut survey = Survey::new(1.0);
        let mut random = Pcg64Mcg::seed_from_u64(5);
        for (width, height) in [(1e5, 30.0), (1e4, 1e4), (0.0, 1e5), (7.0, 0.0), (0.0, 0.0)] {
            let range = range(width, height);
            let middle = Point::new(0.9 * width, 0.9 * height);
            let seen = survey.begin(&range, middle, &mut random);
            assert!(range.contains(&seen), "{seen:?}");
            assert!(seen.contains(&Bounds::new(middle, middle)), "{seen:?}");
            // The row and the column that are begun at the edges come on top.
            assert!(
                survey.costs.len() as f64 <= 2.3 * MOST_CELLS,
                "{}",
                survey.costs.len()
            );
            assert!(survey.least(4).count() > 0);
        }
    }
}

//! The most valuable pattern of a rectangle when there is no limit on copies, stages or cut lengths.
//!
//! Dynamic programming over pieces whose sides are raster points (Gilmore and Gomory 1966, "The theory
//! and computation of knapsack functions"; Beasley 1985, "Algorithms for unconstrained two-dimensional
//! guillotine cutting"). Most pieces waste too much to be in an optimum: those that waste more than a
//! budget are left out, and the budget is doubled until the whole sheet is within it. What is found
//! then is the optimum, because every piece of an optimum that wastes no more than the budget is within
//! it too. Waste is what a piece is worth less than its area at the best rate of any part.

use super::cutting::{Cutting, Lying, Meter};
use super::length::{Nm, area};
use super::points::{raster, sums, under};

/// Share of the sheet that the first budget lets go to waste. Large parts often leave a few hundredths
/// of a percent; each doubling costs about as much as all before it.
const FIRST_WASTE: f64 = 1.0 / 4096.0;

/// Cuts that are weighed in one unit of work while the tables are in the processor's own memory.
const LOOKS_PER_UNIT: u64 = 3;

/// Slack for sums of areas and values.
const SLACK: f64 = 1e-12;

/// Values of all pieces of a sheet that matter.
pub(super) struct Table {
    sums: [Vec<Nm>; 2],
    /// Sides of pieces, from 0 to the sheet's.
    points: [Vec<Nm>; 2],
    /// By axis and two indices of points: the index of what is left of the first after the second.
    left: [Vec<u16>; 2],
    /// By both indices: the value, or less than 0 where the piece wastes too much.
    values: Vec<f64>,
    /// The same by columns, so that both directions are read in a row.
    columns: Vec<f64>,
}

/// Index of what is left of each point after each that is no longer.
fn left_over(points: &[Nm]) -> Vec<u16> {
    let n = points.len();
    let mut left = vec![0; n * n];
    for whole in 0..n {
        // What is left shrinks as the cut moves on.
        let mut rest = whole;
        for cut in 0..=whole {
            while points[rest] > points[whole] - points[cut] {
                rest -= 1;
            }
            left[whole * n + cut] = rest as u16;
        }
    }
    left
}

impl Table {
    /// A table for cutting `sheet` as a whole into parts that lie as in `lying`; `None` when there are
    /// too many points.
    pub fn of_sheet(lying: &[Lying], sheet: [Nm; 2]) -> Option<Self> {
        Self::new(lying, sheet, true)
    }

    /// A table of every piece whose sides are sums, for bounds on parts of the sheet.
    pub fn of_all_pieces(lying: &[Lying], sheet: [Nm; 2]) -> Option<Self> {
        Self::new(lying, sheet, false)
    }

    fn new(lying: &[Lying], sheet: [Nm; 2], raster_only: bool) -> Option<Self> {
        let sides = |axis: usize| {
            let fitting = lying
                .iter()
                .filter(|l| l.size[0] <= sheet[0] && l.size[1] <= sheet[1]);
            let sides: Vec<Nm> = fitting.map(|l| l.size[axis]).collect();
            sums(&sides, sheet[axis])
        };
        let sums = [sides(0)?, sides(1)?];
        let points = if raster_only {
            [raster(&sums[0], sheet[0]), raster(&sums[1], sheet[1])]
        } else {
            sums.clone()
        };
        Some(Self {
            left: points.each_ref().map(|p| left_over(p)),
            values: Vec::new(),
            columns: Vec::new(),
            sums,
            points,
        })
    }

    /// About the work of [`Self::solve`] when little can be left out.
    pub fn work(&self) -> u64 {
        let [nx, ny] = self.points.each_ref().map(|p| p.len() as u64);
        nx * ny * (1 + (nx + ny) / 4 / LOOKS_PER_UNIT)
    }

    /// Works out what the sheet is worth. `lying` may have other values than those the table was made
    /// with, or leave some out. `None` when `meter` has not enough work left.
    pub fn solve(&mut self, lying: &[Lying], meter: &mut Meter) -> Option<()> {
        let rate = lying.iter().map(|l| l.value / area(l.size));
        let rate = rate.fold(0.0, f64::max);
        let last = self.points.each_ref().map(|p| p[p.len() - 1]);
        let mut waste = FIRST_WASTE * rate * area(last);
        loop {
            self.fill(lying, rate, waste, meter)?;
            if self.value() >= 0.0 {
                return Some(());
            }
            waste *= 2.0;
        }
    }

    /// Works out what the sheet is worth if that is `least` at least; otherwise its value comes out
    /// below that.
    pub fn solve_from(&mut self, lying: &[Lying], least: f64, meter: &mut Meter) -> Option<()> {
        let rate = lying.iter().map(|l| l.value / area(l.size));
        let rate = rate.fold(0.0, f64::max);
        let last = self.points.each_ref().map(|p| p[p.len() - 1]);
        let waste = rate * area(last) - least;
        if waste < 0.0 {
            self.values.clear();
            return Some(());
        }
        self.fill(lying, rate, waste, meter)
    }

    /// Works out what every piece is worth.
    pub fn solve_all(&mut self, lying: &[Lying], meter: &mut Meter) -> Option<()> {
        self.fill(lying, 0.0, f64::INFINITY, meter)
    }

    /// Works all values out, leaving out what wastes more than `waste`.
    fn fill(&mut self, lying: &[Lying], rate: f64, waste: f64, meter: &mut Meter) -> Option<()> {
        let [nx, ny] = self.points.each_ref().map(Vec::len);
        let [xs, ys] = &self.points;
        self.values.clear();
        self.values.resize(nx * ny, f64::NEG_INFINITY);
        let values = &mut self.values;
        for l in lying {
            let i = xs.partition_point(|x| *x < l.size[0]);
            let j = ys.partition_point(|y| *y < l.size[1]);
            if i < nx && j < ny {
                let value = &mut values[i * ny + j];
                *value = value.max(l.value);
            }
        }
        self.columns.clear();
        self.columns.resize(nx * ny, f64::NEG_INFINITY);
        let columns = &mut self.columns;
        for i in 0..nx {
            values[i * ny] = 0.0;
            columns[i] = 0.0;
        }
        for j in 0..ny {
            values[j] = 0.0;
            columns[j * nx] = 0.0;
        }
        // By column: the rows that are within the budget; and of the row at hand the columns.
        let mut rows_in: Vec<Vec<u16>> = vec![Vec::new(); ny];
        let mut columns_in: Vec<u16> = Vec::new();
        for i in 1..nx {
            columns_in.clear();
            let left_x = &self.left[0][i * nx..(i + 1) * nx];
            let mut work = 0;
            for j in 1..ny {
                let at = i * ny + j;
                let mut best = values[at].max(values[at - ny]).max(values[at - 1]);
                let column = &columns[j * nx..(j + 1) * nx];
                for cut in &rows_in[j] {
                    let cut = usize::from(*cut);
                    if 2 * xs[cut] > xs[i] {
                        break;
                    }
                    best = best.max(column[cut] + column[usize::from(left_x[cut])]);
                    work += 1;
                }
                let row = &values[i * ny..(i + 1) * ny];
                let left_y = &self.left[1][j * ny..(j + 1) * ny];
                for cut in &columns_in {
                    let cut = usize::from(*cut);
                    if 2 * ys[cut] > ys[j] {
                        break;
                    }
                    best = best.max(row[cut] + row[usize::from(left_y[cut])]);
                    work += 1;
                }
                let worth = rate * area([xs[i], ys[j]]);
                if best + waste < worth * (1.0 - SLACK) {
                    best = f64::NEG_INFINITY;
                }
                values[at] = best;
                columns[j * nx + i] = best;
                if best > 0.0 {
                    rows_in[j].push(i as u16);
                    columns_in.push(j as u16);
                }
            }
            if !meter.spend(work / LOOKS_PER_UNIT + ny as u64) {
                return None;
            }
        }
        Some(())
    }

    /// Value of the whole sheet.
    pub fn value(&self) -> f64 {
        self.values.last().copied().unwrap_or(f64::NEG_INFINITY)
    }

    /// Points of one axis.
    pub fn points(&self, axis: usize) -> &[Nm] {
        &self.points[axis]
    }

    /// Value of the piece with these indices of points.
    pub fn at(&self, i: usize, j: usize) -> f64 {
        self.values[i * self.points[1].len() + j]
    }

    /// Index of what is left of a point of `axis` after another one.
    pub fn left(&self, axis: usize, whole: usize, cut: usize) -> usize {
        usize::from(self.left[axis][whole * self.points[axis].len() + cut])
    }

    /// Index of the largest point of `axis` that is no more than `at`.
    pub fn under(&self, axis: usize, at: Nm) -> usize {
        under(&self.sums[axis], at)
    }

    /// A pattern of that value; `None` when nothing fits.
    pub fn cutting(&self, lying: &[Lying]) -> Option<Cutting> {
        let [nx, ny] = self.points.each_ref().map(Vec::len);
        self.cutting_of(lying, nx - 1, ny - 1)
    }

    /// Patterns of at least that value which differ in their first cut, the best first and `most` of
    /// them at most.
    pub fn cuttings(&self, lying: &[Lying], least: f64, most: usize) -> Vec<Cutting> {
        let [xs, ys] = &self.points;
        let [i, j] = [xs.len() - 1, ys.len() - 1];
        let mut cuts: Vec<(f64, usize, usize)> = Vec::new();
        for cut in (1..i).take_while(|c| 2 * xs[*c] <= xs[i]) {
            cuts.push((self.at(cut, j) + self.at(self.left(0, i, cut), j), 0, cut));
        }
        for cut in (1..j).take_while(|c| 2 * ys[*c] <= ys[j]) {
            cuts.push((self.at(i, cut) + self.at(i, self.left(1, j, cut)), 1, cut));
        }
        cuts.retain(|c| c.0 >= least);
        cuts.sort_by(|a, b| b.0.total_cmp(&a.0).then((a.1, a.2).cmp(&(b.1, b.2))));
        let mut all: Vec<Cutting> = self.cutting(lying).into_iter().collect();
        for (_, axis, cut) in cuts.into_iter().take(most) {
            let both = if axis == 0 {
                let left = self.left(0, i, cut);
                [
                    self.cutting_of(lying, cut, j),
                    self.cutting_of(lying, left, j),
                ]
            } else {
                let left = self.left(1, j, cut);
                [
                    self.cutting_of(lying, i, cut),
                    self.cutting_of(lying, i, left),
                ]
            };
            if let [Some(one), Some(other)] = both {
                all.push(Cutting::beside(axis, one, other));
            }
        }
        all.truncate(most);
        all
    }

    fn cutting_of(&self, lying: &[Lying], mut i: usize, mut j: usize) -> Option<Cutting> {
        let [xs, ys] = &self.points;
        let value = self.at(i, j);
        if value <= 0.0 {
            return None;
        }
        // The smallest piece of that value has no waste at its far edges.
        while self.at(i - 1, j) == value {
            i -= 1;
        }
        while self.at(i, j - 1) == value {
            j -= 1;
        }
        let fits = |l: &&Lying| l.size[0] <= xs[i] && l.size[1] <= ys[j] && l.value == value;
        if let Some(l) = lying.iter().find(fits) {
            let (piece, turned) = (l.piece, l.turned);
            return Some(Cutting::Part { piece, turned });
        }
        let two = |axis, a: Option<Cutting>, b: Option<Cutting>| match (a, b) {
            (Some(a), Some(b)) => Some(Cutting::beside(axis, a, b)),
            (a, b) => a.or(b),
        };
        for cut in (1..i).take_while(|c| 2 * xs[*c] <= xs[i]) {
            let left = self.left(0, i, cut);
            if self.at(cut, j) + self.at(left, j) == value {
                let one = self.cutting_of(lying, cut, j);
                return two(0, one, self.cutting_of(lying, left, j));
            }
        }
        for cut in (1..j).take_while(|c| 2 * ys[*c] <= ys[j]) {
            let left = self.left(1, j, cut);
            if self.at(i, cut) + self.at(i, left) == value {
                let one = self.cutting_of(lying, i, cut);
                return two(1, one, self.cutting_of(lying, i, left));
            }
        }
        None
    }
}

//! A floor of what an order costs, from all patterns that could ever be sawn.
//!
//! Let each part have a price. If no pattern of any sheet is worth more than the sheet costs, an order
//! costs at least what its parts are worth together (the dual of the covering programme of Gilmore and
//! Gomory 1961). The most valuable pattern of a sheet is found exactly, without a limit on copies or
//! stages, which can only make it more valuable. Prices are looked for by column generation; any prices
//! make a floor after they are scaled down until they keep to this (Farley 1990, "A note on bounding a
//! class of linear programming problems, including cutting stock problems"), and where there are only so
//! many sheets of a kind, what a pattern is worth above its sheet counts against the floor once for each of them.

use super::cutting::{Cutting, Lying, Meter};
use super::fill::{self, Filler};
use super::length::{Nm, area, at_most, nearest};
use super::master::{Column, Master};
use super::model::Model;
use super::scale;
use super::unlimited::Table;
use crate::{Angles, Problem, SawRules};

/// Kinds of parts beyond which the programme takes longer than it is worth.
const MOST_KINDS: usize = 250;

/// Rounds of prices and patterns. Most programmes are done in fewer.
const MOST_ROUNDS: usize = 1500;

/// Rounds that the work must suffice for; fewer prove next to nothing.
const ROUNDS_AT_LEAST: u64 = 10;

/// Steps that the longer side of a sheet is divided into when sides are rounded, at first.
const LEAST_CELLS: Nm = 64;

/// Patterns taken up of a sheet in one round, which differ in their first cut.
const PATTERNS: usize = 6;

/// Share of the best prices so far in those that are tried next (Wentges 1997, "Weighted Dantzig-Wolfe
/// decomposition for linear mixed-integer programming"). Without it prices swing to and fro.
const STEADY: f64 = 0.6;

/// Numbers of the programme that are looked at in one unit of work.
const NUMBERS_PER_UNIT: u64 = 8;

/// Given away of a floor for rounding, in relation to it.
const ROUNDING: f64 = 1e-9;

/// What makes a part of no use elsewhere so dear that patterns are preferred, in times its cost there.
const DEAR: f64 = 3.0;

/// Costs are looked at in hundredths when their common divisor is sought.
const HUNDREDTHS: f64 = 100.0;

/// A kind of stock as a rectangle.
pub(crate) struct Rectangle {
    /// Length and width that the saw has after its trims, in millimetres, or more.
    pub(crate) sides: (f64, f64),
    /// What one costs at least; above 0.
    pub(crate) cost: f64,
    /// Index into the problem's stock.
    pub(crate) stock: usize,
}

struct Sheet {
    /// Kinds, and how many copies of one alone lie on the sheet in rows.
    rows: Vec<(usize, f64)>,
    cost: f64,
    supply: usize,
    table: Table,
    /// Its values are those of the prices at hand.
    lying: Vec<Lying>,
    /// Index into the problem's stock.
    stock: usize,
}

/// Parts that are alike on every sheet.
struct Kind {
    wanted: f64,
    parts: Vec<usize>,
    /// By sheet: the ways to lie, as turned and sides.
    ways: Vec<Vec<(bool, [Nm; 2])>>,
}

/// A spend that no nest of the `counted` parts on these rectangles can beat, by patterns; `None` when
/// there are too many sizes or `steps` do not suffice for any.
///
/// Costs of the rectangles are those of a whole sheet, whatever is on it.
pub(crate) fn pattern_floor(
    problem: &Problem,
    rules: &SawRules,
    rectangles: &[Rectangle],
    counted: &[bool],
    steps: u64,
) -> Option<f64> {
    if steps == 0 {
        return None;
    }
    let mut meter = Meter::new(steps.saturating_mul(super::NODES_PER_STEP));
    let kinds = kinds(problem, rules, rectangles, counted)?;
    let begun = |cells: Option<Nm>, meter: &Meter| {
        Programme::new(problem, rules, rectangles, &kinds, cells, meter)
    };
    if let Some(mut programme) = begun(None, &meter) {
        let boards = first_boards(problem, rules, &mut meter);
        programme.begin(&boards);
        programme.run(&mut meter);
        return (programme.floor > 0.0).then_some(programme.floor);
    }
    // With sides rounded, first coarsely, then with the prices found there more finely.
    let mut floor = 0.0_f64;
    let mut boards = None;
    let mut prices = None;
    let sides = |r: &Rectangle| nearest(r.sides.0.max(r.sides.1)) + nearest(rules.kerf);
    let longest = rectangles.iter().map(sides).max()?;
    let ways = kinds.iter().flat_map(|k| k.ways.iter().flatten());
    let least = ways.map(|(_, size)| size[0].min(size[1])).min()?;
    let mut cells = LEAST_CELLS;
    while longest / cells >= least {
        cells *= 2;
    }
    while let Some(mut programme) = begun(Some(cells), &meter) {
        let boards = boards.get_or_insert_with(|| first_boards(problem, rules, &mut meter));
        programme.begin(boards);
        if let Some(prices) = prices.take() {
            programme.best_prices = prices;
        }
        programme.run(&mut meter);
        floor = floor.max(programme.floor);
        prices = Some(programme.best_prices);
        cells *= 2;
    }
    (floor > 0.0).then_some(floor)
}

/// Boards of some plans made board by board: prices that come from whole plans are near the best from the
/// beginning. By index of stock and parts.
fn first_boards(
    problem: &Problem,
    rules: &SawRules,
    meter: &mut Meter,
) -> Vec<(usize, Vec<usize>)> {
    let model = Model::new(problem, rules);
    let mut filler = Filler::default();
    let mut boards = Vec::new();
    for order in fill::orders(&model) {
        let mut last = None;
        for board in filler.construct(&model, &order).boards {
            if last.as_ref() == Some(&board) {
                continue;
            }
            let parts = board.tree.parts();
            let parts = parts.map(|(_, piece, _)| model.pieces[piece as usize].part);
            boards.push((model.sources[board.source].stock, parts.collect()));
            last = Some(board);
        }
    }
    meter.spend(filler.work);
    boards
}

/// The parts, those alike together; `None` when one may lie at any angle or there are too many kinds.
fn kinds(
    problem: &Problem,
    rules: &SawRules,
    rectangles: &[Rectangle],
    counted: &[bool],
) -> Option<Vec<Kind>> {
    let kerf = nearest(rules.kerf);
    let mut kinds: Vec<Kind> = Vec::new();
    for (index, part) in problem
        .parts
        .iter()
        .enumerate()
        .filter(|(i, _)| counted[*i])
    {
        let bounds = part.outline.bounds();
        let size = [bounds.width(), bounds.height()].map(|side| at_most(side) + kerf);
        let mut ways = Vec::new();
        for rectangle in rectangles {
            let stock = &problem.stock[rectangle.stock];
            let sheet = [rectangle.sides.0, rectangle.sides.1].map(|s| nearest(s) + kerf);
            let Angles::Listed(angles) = part.angles(stock) else {
                return None;
            };
            let mut here = Vec::new();
            for angle in angles {
                let turned = (angle / 90.0).round() as i64 % 2 != 0;
                if (angle / 90.0 - (angle / 90.0).round()).abs() > 1e-9 {
                    return None;
                }
                let lying = if turned { [size[1], size[0]] } else { size };
                let fits = lying[0] <= sheet[0] && lying[1] <= sheet[1];
                if part.faces_fit(stock) && fits && !here.iter().any(|(_, s)| *s == lying) {
                    here.push((turned, lying));
                }
            }
            here.sort_by_key(|(_, size)| *size);
            ways.push(here);
        }
        let sizes = |ways: &[Vec<(bool, [Nm; 2])>]| -> Vec<Vec<[Nm; 2]>> {
            let each = ways.iter().map(|w| w.iter().map(|(_, s)| *s).collect());
            each.collect()
        };
        let wanted = f64::from(part.quantity);
        match kinds.iter_mut().find(|k| sizes(&k.ways) == sizes(&ways)) {
            Some(kind) => {
                kind.wanted += wanted;
                kind.parts.push(index);
            }
            None => kinds.push(Kind {
                wanted,
                parts: vec![index],
                ways,
            }),
        }
        if kinds.len() > MOST_KINDS {
            return None;
        }
    }
    // A part that fits nowhere asks for nothing.
    kinds.retain(|k| k.ways.iter().any(|w| !w.is_empty()));
    Some(kinds)
}

/// The linear programme and what it has proven.
struct Programme {
    sheets: Vec<Sheet>,
    wanted: Vec<f64>,
    /// By part: its kind.
    kind_of: Vec<Option<usize>>,
    /// By supply: how many there are.
    supplies: Vec<Option<f64>>,
    /// By supply: its row after those of the kinds, if it is limited.
    rows: Vec<Option<usize>>,
    master: Master,
    /// Costs are multiples of this; 0 when they have no common divisor.
    unit: f64,
    best_prices: Vec<f64>,
    floor: f64,
}

impl Programme {
    fn new(
        problem: &Problem,
        rules: &SawRules,
        rectangles: &[Rectangle],
        kinds: &[Kind],
        cells: Option<Nm>,
        meter: &Meter,
    ) -> Option<Self> {
        let kerf = nearest(rules.kerf);
        let mut sheets: Vec<Sheet> = Vec::new();
        let mut work = 0_u64;
        for (r, rectangle) in rectangles.iter().enumerate() {
            let supply = problem.stock[rectangle.stock].supply;
            if problem.supplies[supply] == Some(0) {
                continue;
            }
            let size = [rectangle.sides.0, rectangle.sides.1].map(|s| nearest(s) + kerf);
            let mut lying = Vec::new();
            for (piece, kind) in kinds.iter().enumerate() {
                lying.extend(kind.ways[r].iter().map(|(turned, size)| Lying {
                    piece,
                    turned: *turned,
                    size: *size,
                    value: area(*size),
                }));
            }
            if lying.is_empty() {
                continue;
            }
            // How many copies lie in rows is told by true sides.
            let rows: Vec<(usize, f64)> = lying
                .iter()
                .map(|l| {
                    let [x, y] = [0, 1].map(|axis| (size[axis] / l.size[axis]) as f64);
                    (l.piece, x * y)
                })
                .collect();
            let mut size = size;
            if let Some(cells) = cells {
                size = scale::scaled(&mut lying, size, cells, |piece| kinds[piece].wanted);
                // What takes no room would lie there without end.
                if lying.iter().any(|l| l.size.contains(&0)) {
                    return None;
                }
            }
            let table = Table::of_sheet(&lying, size)?;
            work += table.work();
            sheets.push(Sheet {
                rows,
                cost: rectangle.cost,
                supply,
                table,
                lying,
                stock: rectangle.stock,
            });
        }
        if kinds.is_empty()
            || sheets.is_empty()
            || work.saturating_mul(ROUNDS_AT_LEAST) > meter.most.saturating_sub(meter.taken)
        {
            return None;
        }
        let wanted: Vec<f64> = kinds.iter().map(|k| k.wanted).collect();
        let mut kind_of = vec![None; problem.parts.len()];
        for (k, kind) in kinds.iter().enumerate() {
            kind.parts.iter().for_each(|p| kind_of[*p] = Some(k));
        }
        let copies: f64 = wanted.iter().sum();
        // There is plenty of a supply when each copy could have one of its own.
        let supplies: Vec<Option<f64>> = problem
            .supplies
            .iter()
            .map(|n| n.map(f64::from).filter(|n| *n < copies))
            .collect();
        let mut rows = vec![None; supplies.len()];
        let mut asked = wanted.clone();
        for (row, supply) in rows.iter_mut().zip(&supplies) {
            if let Some(n) = supply {
                *row = Some(asked.len());
                asked.push(*n);
            }
        }
        let mut first: Vec<Column> = (0..wanted.len())
            .map(|piece| Self::single(&sheets, &supplies, piece))
            .collect();
        first.extend((wanted.len()..asked.len()).map(|row| Column {
            cost: 0.0,
            brings: vec![(row, 1.0)],
        }));
        let mut master = Master::new(first, &asked);
        for piece in 0..wanted.len() {
            master.add(Column {
                cost: 0.0,
                brings: vec![(piece, -1.0)],
            });
        }
        Some(Self {
            unit: common_divisor(sheets.iter().map(|s| s.cost)),
            best_prices: vec![0.0; wanted.len()],
            kind_of,
            sheets,
            wanted,
            supplies,
            rows,
            master,
            floor: 0.0,
        })
    }

    /// One kind alone on its cheapest sheet, in as many copies as lie there in rows; where that sheet
    /// is limited, as if it could be had elsewhere, but dear.
    fn single(sheets: &[Sheet], supplies: &[Option<f64>], piece: usize) -> Column {
        let mut best = (f64::INFINITY, 1.0);
        for sheet in sheets {
            for (_, copies) in sheet.rows.iter().filter(|(kind, _)| *kind == piece) {
                let dear = if supplies[sheet.supply].is_some() {
                    DEAR
                } else {
                    1.0
                };
                let cost = sheet.cost * dear;
                if cost / copies < best.0 / best.1 {
                    best = (cost, *copies);
                }
            }
        }
        Column {
            cost: if best.0.is_finite() { best.0 } else { 0.0 },
            brings: vec![(piece, best.1)],
        }
    }

    /// Takes up the boards of plans.
    fn begin(&mut self, boards: &[(usize, Vec<usize>)]) {
        for (stock, parts) in boards {
            let Some(sheet) = self.sheets.iter().find(|s| s.stock == *stock) else {
                continue;
            };
            let mut counts = vec![0; self.wanted.len()];
            for kind in parts.iter().filter_map(|part| self.kind_of[*part]) {
                counts[kind] += 1;
            }
            let column = self.column(sheet, &counts);
            if !column.brings.is_empty() {
                self.master.add(column);
            }
        }
    }

    /// A pattern of a sheet.
    fn column(&self, sheet: &Sheet, counts: &[u32]) -> Column {
        let each = counts.iter().map(|n| f64::from(*n)).enumerate();
        let mut brings: Vec<(usize, f64)> = each.filter(|(_, n)| *n > 0.0).collect();
        brings.extend(self.rows[sheet.supply].map(|row| (row, 1.0)));
        Column {
            cost: sheet.cost,
            brings,
        }
    }

    /// Looks for better prices until none can raise the floor, or the work is used up.
    fn run(&mut self, meter: &mut Meter) {
        let kinds = self.wanted.len();
        for round in 0..MOST_ROUNDS {
            let work = self.master.solve();
            if !meter.spend(work / NUMBERS_PER_UNIT) {
                return;
            }
            let all = self.master.prices();
            let prices: Vec<f64> = all[..kinds].iter().map(|p| p.max(0.0)).collect();
            if self.rounded(self.master.cost()) <= self.floor {
                return;
            }
            // The middle of old and new prices first, then the new ones themselves.
            let steady = if round == 0 { 0.0 } else { STEADY };
            let mut found = false;
            for share in [steady, 0.0] {
                let tried: Vec<f64> = prices
                    .iter()
                    .zip(&self.best_prices)
                    .map(|(new, old)| share * old + (1.0 - share) * new)
                    .collect();
                let Some(patterns) = self.price(&tried, meter) else {
                    return;
                };
                for column in patterns {
                    if Master::reduced(&column, &all) < -ROUNDING * column.cost {
                        self.master.add(column);
                        found = true;
                    }
                }
                if found || share == 0.0 {
                    break;
                }
            }
            if !found {
                return;
            }
        }
    }

    /// The best pattern of each sheet at these prices. Notes the floor that the prices prove.
    fn price(&mut self, prices: &[f64], meter: &mut Meter) -> Option<Vec<Column>> {
        let mut columns = Vec::new();
        let mut values = Vec::new();
        let mut sheets = std::mem::take(&mut self.sheets);
        for sheet in &mut sheets {
            for l in &mut sheet.lying {
                l.value = prices[l.piece];
            }
            let lying = sheet.lying.iter().copied();
            let worth: Vec<Lying> = lying.filter(|l| l.value > 0.0).collect();
            // A pattern worth less than its sheet has nothing to say.
            let least = sheet.cost * (1.0 - ROUNDING);
            sheet.table.solve_from(&worth, least, meter)?;
            values.push(sheet.table.value().max(least));
            if sheet.table.value() < least {
                continue;
            }
            let mut known: Vec<Vec<u32>> = Vec::new();
            for cutting in sheet.table.cuttings(&worth, least, PATTERNS) {
                let mut counts = vec![0; prices.len()];
                count(&cutting, &mut counts);
                if !known.contains(&counts) {
                    columns.push(self.column(sheet, &counts));
                    known.push(counts);
                }
            }
        }
        self.sheets = sheets;
        let floor = self.rounded(self.proven(prices, &values));
        if floor > self.floor || self.floor == 0.0 {
            self.floor = self.floor.max(floor);
            self.best_prices = prices.to_vec();
        }
        Some(columns)
    }

    /// The floor that prices prove when the best patterns of the sheets are worth `values`.
    fn proven(&self, prices: &[f64], values: &[f64]) -> f64 {
        let worth: f64 = prices.iter().zip(&self.wanted).map(|(p, n)| p * n).sum();
        let scale = |limited_too: bool| {
            let counts = |s: &Sheet| limited_too || self.supplies[s.supply].is_none();
            let each = self.sheets.iter().zip(values).filter(|(s, _)| counts(s));
            each.filter(|(s, value)| **value > s.cost)
                .map(|(s, value)| s.cost / value)
                .fold(1.0, f64::min)
        };
        let at = |scale: f64| {
            let mut above = vec![0.0_f64; self.supplies.len()];
            for (sheet, value) in self.sheets.iter().zip(values) {
                let over = (scale * value - sheet.cost).max(0.0);
                above[sheet.supply] = above[sheet.supply].max(over);
            }
            let against = above.iter().zip(&self.supplies);
            let against: f64 = against.map(|(a, n)| a * n.unwrap_or(0.0)).sum();
            scale * worth - against
        };
        at(scale(true)).max(at(scale(false)))
    }

    /// `floor` raised to what whole sheets can cost.
    fn rounded(&self, floor: f64) -> f64 {
        let floor = floor * (1.0 - ROUNDING);
        if self.unit > 0.0 {
            (floor / self.unit - ROUNDING).ceil() * self.unit
        } else {
            floor
        }
    }
}

/// Adds what is in `cutting` to `counts`.
fn count(cutting: &Cutting, counts: &mut [u32]) {
    match cutting {
        Cutting::Part { piece, .. } => counts[*piece] += 1,
        Cutting::Stack(_, children) => children.iter().for_each(|c| count(c, counts)),
    }
}

/// The largest number that all costs are multiples of, in hundredths; 0 when there is none.
fn common_divisor(costs: impl Iterator<Item = f64>) -> f64 {
    let mut divisor = 0_u64;
    for cost in costs {
        let hundredths = (cost * HUNDREDTHS).round();
        let whole = (cost * HUNDREDTHS - hundredths).abs() < 1e-9 * hundredths.abs();
        if !whole || !(1.0..1e15).contains(&hundredths) {
            return 0.0;
        }
        let (mut a, mut b) = (divisor, hundredths as u64);
        while a != 0 {
            (a, b) = (b % a, a);
        }
        divisor = b;
    }
    divisor as f64 / HUNDREDTHS
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Method, Part, Stock, Turn};
    use panelwright_geometry::Outline;
    use rand::{RngExt, SeedableRng};
    use rand_pcg::Pcg64Mcg;

    #[test]
    fn rounded_sides_prove_a_little_less_and_never_more() {
        for seed in 0..12 {
            let mut rng = Pcg64Mcg::seed_from_u64(seed);
            let mut side = |from: u32, to: u32| f64::from(rng.random_range(from..=to));
            let parts = (0..6).map(|i| Part {
                turn: Turn::Quarter,
                ..Part::new(
                    format!("panel {i}"),
                    Outline::rectangle(side(11, 60), side(11, 60)),
                    7,
                )
            });
            let stock = vec![
                Stock::sheet("large", 100.0, 90.0, 9.1, 0),
                Stock::sheet("small", 80.0, 70.0, 5.7, 1),
            ];
            let rules = SawRules::default();
            let problem = Problem {
                method: Method::Guillotine(rules),
                ..Problem::new(parts.collect(), stock, vec![None, Some(9)])
            };
            let rectangles = [(100.0, 90.0, 9.1, 0), (80.0, 70.0, 5.7, 1)];
            let rectangles = rectangles.map(|(x, y, cost, stock)| Rectangle {
                sides: (x, y),
                cost,
                stock,
            });
            let counted = vec![true; problem.parts.len()];
            let kinds = kinds(&problem, &rules, &rectangles, &counted).expect("few kinds");
            let proven = |cells: Option<Nm>| {
                let mut meter = Meter::new(100_000_000);
                let mut programme =
                    Programme::new(&problem, &rules, &rectangles, &kinds, cells, &meter)
                        .expect("few sums");
                programme.run(&mut meter);
                programme.floor
            };
            let exact = proven(None);
            for cells in [16, 32, 64] {
                let rounded = proven(Some(cells));
                assert!(rounded <= exact + 1e-9, "{seed} {cells}: {rounded} {exact}");
                assert!(rounded > 0.6 * exact, "{seed} {cells}: {rounded} {exact}");
            }
        }
    }
}

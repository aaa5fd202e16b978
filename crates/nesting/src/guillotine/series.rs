//! First plans for series: many copies of few kinds.
//!
//! What matters then is a set of good patterns and how often each is sawn. Prices of the kinds come from
//! the linear programme over the patterns known so far, patterns worth more than their sheet from a table
//! of rectangles (Gilmore and Gomory 1961), and the programme's amounts are rounded down, what remains
//! being planned again with what it leaves (a plan by rounding, as in Wäscher and Gau 1996, "Heuristics
//! for the integer one-dimensional cutting stock problem"). The last few sheets are filled part by part.
//!
//! The table is no exact one: it keeps one rectangle for each cell of a grid, the most valuable whose
//! size, rounded up, is the cell's. Sizes themselves are exact, so nothing is lost to rounding when
//! rectangles are put side by side, and every pattern can be sawn.

use super::cut_tree::{Axis, CutTree};
use super::cutting::{Cutting, Lying, Meter};
use super::fill::{self, Filler};
use super::length::{Nm, area};
use super::master::{Column, Master};
use super::model::Model;
use super::plan::{Board, Plan};
use super::stop::Stop;

/// Kinds of pieces beyond which the programme takes too long.
const MOST_KINDS: usize = 150;

/// Copies of a kind, on average, from which on patterns are repeated often enough.
const COPIES: f64 = 8.0;

/// Least boards of a series. Fewer are searched for as a whole.
const LEAST_BOARDS: usize = 40;

/// Cells along the longer side of a sheet at most; sides are in binary steps, so there are half as many
/// at least.
const MOST_CELLS: i64 = 512;

/// The same at first, when prices are far from right.
const FEW_CELLS: i64 = 128;

/// Patterns taken up of a sheet in one round.
const PATTERNS: usize = 8;

/// Rounds of prices and patterns at most.
const MOST_ROUNDS: usize = 400;

/// Shares of the best prices so far in those that are tried next.
const STEADY: f64 = 0.5;

/// Numbers of the programme, or pairs of rectangles, that are looked at in one unit of work.
const PER_UNIT: u64 = 4;

/// A pattern must be worth this much more than its sheet to be taken up.
const GAIN: f64 = 1e-6;

/// Boards, by what their pieces would cost at best, below which the rest of an order is filled part by part.
const REST: f64 = 0.5;

/// Whether `model` asks for a series that a first plan took `boards` for.
pub(super) fn is_series(model: &Model, boards: usize) -> bool {
    let copies: f64 = model.pieces.iter().map(|p| f64::from(p.demand)).sum();
    let kinds = model.pieces.len();
    boards >= LEAST_BOARDS
        && (1..=MOST_KINDS).contains(&kinds)
        && copies >= COPIES * kinds as f64
        && model.sources.iter().all(|s| s.price > 0.0)
        && !model.limits.lengths_matter
}

/// How a rectangle is made.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Made {
    /// Nothing that fits is known.
    Not,
    /// Of the part with this index among those that may lie.
    Part(u32),
    /// Of two cells side by side along an axis.
    Beside(Axis, u32, u32),
}

/// The most valuable rectangle known for a cell, or for a smaller one.
#[derive(Debug, Clone, Copy)]
struct Cell {
    value: f64,
    size: [Nm; 2],
    made: Made,
    /// Stages that it takes when it is cut from a piece of its size.
    stages: u32,
}

impl Cell {
    /// Stages that it takes as a child of a row along `axis` that is `across` wide; where it is such a row
    /// itself, its own children become the row's.
    fn stages_in_row(&self, axis: Axis, across: Nm) -> u32 {
        let trims = u32::from(self.size[1 - axis] < across);
        match self.made {
            Made::Beside(a, ..) if a == axis => (self.stages - 1).max(trims),
            Made::Beside(..) => self.stages,
            Made::Not | Made::Part(_) => trims,
        }
    }
}

const NOTHING: Cell = Cell {
    value: 0.0,
    size: [0; 2],
    made: Made::Not,
    stages: 0,
};

/// Rectangles of one sheet by size.
struct Grid {
    sheet: [Nm; 2],
    most_stages: u32,
    /// By axis: cells are two to the power of this wide.
    shift: [u32; 2],
    /// Cells along each axis, one for nothing included.
    count: [usize; 2],
    cells: Vec<Cell>,
    /// The best patterns met: value, axis, cells.
    best: Vec<(f64, Axis, u32, u32)>,
}

impl Grid {
    fn new(sheet: [Nm; 2], most_stages: u32, most: i64) -> Self {
        let longer = sheet[0].max(sheet[1]);
        let mut shift = 0;
        while longer >> shift >= most {
            shift += 1;
        }
        let count = sheet.map(|side| (side >> shift) as usize + 2);
        Self {
            sheet,
            most_stages,
            shift: [shift; 2],
            count,
            cells: Vec::new(),
            best: Vec::new(),
        }
    }

    /// The cell of a side, rounded up.
    fn up(&self, axis: Axis, side: Nm) -> usize {
        ((side + (1 << self.shift[axis]) - 1) >> self.shift[axis]) as usize
    }

    /// Looks for patterns of more than `least` value. `None` when the work is used up.
    fn solve(&mut self, lying: &[Lying], least: f64, meter: &mut Meter) -> Option<()> {
        let [nx, ny] = self.count;
        self.cells.clear();
        self.cells.resize(nx * ny, NOTHING);
        self.best.clear();
        let rate = lying
            .iter()
            .map(|l| l.value / area(l.size))
            .fold(0.0, f64::max);
        // What wastes more cannot be in a pattern of that value.
        let waste = rate * area(self.sheet) - least;
        if waste < 0.0 {
            return Some(());
        }
        let wastes = |cell: &Cell| rate * area(cell.size) - cell.value > waste;
        for (n, l) in lying.iter().enumerate() {
            let at = self.up(0, l.size[0]) * ny + self.up(1, l.size[1]);
            let cell = Cell {
                value: l.value,
                size: l.size,
                made: Made::Part(n as u32),
                stages: 0,
            };
            if cell.value > self.cells[at].value && !wastes(&cell) {
                self.cells[at] = cell;
            }
        }
        // By row and of the column at hand: cells with a rectangle of just that length or width.
        let mut rows: Vec<Vec<u32>> = vec![Vec::new(); ny];
        let mut column: Vec<u32> = Vec::new();
        for i in 1..nx {
            column.clear();
            let mut work = ny as u64;
            for (j, row) in rows.iter_mut().enumerate().skip(1) {
                let at = i * ny + j;
                let mut cell = self.cells[at];
                for other in [self.cells[at - ny], self.cells[at - 1]] {
                    if other.value > cell.value
                        || other.value == cell.value
                            && other.size[0] <= cell.size[0]
                            && other.size[1] <= cell.size[1]
                    {
                        cell = other;
                    }
                }
                self.cells[at] = cell;
                if cell.made == Made::Not {
                    continue;
                }
                // It may have come from a narrower cell: then what is put beside it was tried there.
                if self.up(0, cell.size[0]) == i {
                    row.push(at as u32);
                    work += row.len() as u64;
                    self.beside(0, at as u32, row, least, &wastes);
                }
                if self.up(1, cell.size[1]) == j {
                    column.push(at as u32);
                    work += column.len() as u64;
                    self.beside(1, at as u32, &column, least, &wastes);
                }
            }
            if !meter.spend(work / PER_UNIT) {
                return None;
            }
        }
        Some(())
    }

    /// Puts `one` beside each of `others` along `axis`, as far as they fit.
    fn beside(
        &mut self,
        axis: Axis,
        one: u32,
        others: &[u32],
        least: f64,
        wastes: &impl Fn(&Cell) -> bool,
    ) {
        let cell = self.cells[one as usize];
        let room = self.sheet[axis] - cell.size[axis];
        let across = 1 - axis;
        let ny = self.count[1];
        for other in others.iter().copied() {
            let second = &self.cells[other as usize];
            if second.size[axis] > room {
                break;
            }
            let value = cell.value + second.value;
            let mut size = [0; 2];
            size[axis] = cell.size[axis] + second.size[axis];
            size[across] = cell.size[across].max(second.size[across]);
            let at = self.up(0, size[0]) * ny + self.up(1, size[1]);
            // What is narrower was tried where it belongs, and others build on the cells before.
            if at <= one as usize || value <= self.cells[at].value {
                continue;
            }
            let made = Made::Beside(axis, one, other);
            let stages = 1 + cell
                .stages_in_row(axis, size[across])
                .max(second.stages_in_row(axis, size[across]));
            let both = Cell {
                value,
                size,
                made,
                stages,
            };
            if stages > self.most_stages || wastes(&both) {
                continue;
            }
            self.cells[at] = both;
            if value > least {
                self.note(value, axis, one, other);
            }
        }
    }

    fn note(&mut self, value: f64, axis: Axis, one: u32, other: u32) {
        if self.best.len() == PATTERNS && value <= self.best[PATTERNS - 1].0 {
            return;
        }
        let near = |b: &(f64, Axis, u32, u32)| (b.0 - value).abs() <= 1e-9 * value;
        if self.best.iter().any(near) {
            return;
        }
        let at = self.best.partition_point(|b| b.0 > value);
        self.best.insert(at, (value, axis, one, other));
        self.best.truncate(PATTERNS);
    }

    fn cutting(&self, lying: &[Lying], at: u32) -> Option<Cutting> {
        match self.cells[at as usize].made {
            Made::Not => None,
            Made::Part(n) => {
                let Lying { piece, turned, .. } = lying[n as usize];
                Some(Cutting::Part { piece, turned })
            }
            Made::Beside(axis, a, b) => Some(Cutting::beside(
                axis,
                self.cutting(lying, a)?,
                self.cutting(lying, b)?,
            )),
        }
    }

    /// The patterns noted.
    fn cuttings(&self, lying: &[Lying]) -> Vec<Cutting> {
        let each = self.best.iter().filter_map(|(_, axis, a, b)| {
            let (a, b) = (self.cutting(lying, *a)?, self.cutting(lying, *b)?);
            Some(Cutting::beside(*axis, a, b))
        });
        each.collect()
    }
}

/// A pattern of a source.
#[derive(Debug, Clone)]
struct Pattern {
    board: Board,
    counts: Vec<u32>,
}

struct Series<'a> {
    model: &'a Model<'a>,
    filler: Filler,
    patterns: Vec<Pattern>,
}

/// A plan of repeated patterns and the work it took; `None` when the work does not suffice. `start` is a
/// plan to take patterns from.
pub(super) fn plan(model: &Model, start: &Plan, work: u64, stop: &Stop) -> (Option<Plan>, u64) {
    let mut meter = Meter::new(work);
    let mut series = Series {
        model,
        filler: Filler::default(),
        patterns: Vec::new(),
    };
    let plan = series.plan(start, &mut meter, stop);
    (plan, meter.taken + series.filler.work)
}

impl Series<'_> {
    fn plan(&mut self, start: &Plan, meter: &mut Meter, stop: &Stop) -> Option<Plan> {
        let model = self.model;
        for piece in 0..model.pieces.len() {
            self.alone(piece)?;
        }
        for board in &start.boards {
            self.take_up(board.clone());
        }
        for order in fill::orders(model).into_iter().skip(1) {
            for board in self.filler.construct(model, &order).boards {
                self.take_up(board);
            }
        }
        let wanted = model.wanted();
        let mut most = FEW_CELLS;
        while most <= MOST_CELLS {
            let mut share = Meter::new(meter.taken + (meter.most - meter.taken) / 3);
            share.taken = meter.taken;
            self.improve(&wanted, most, &mut share, stop);
            meter.taken = share.taken;
            most *= 2;
        }
        let mut plan = Plan::empty(model);
        self.round(&mut plan, meter, stop);
        let rest = self.best_rest(&plan);
        plan.boards.extend(rest.boards);
        plan.left = rest.left;
        Some(plan)
    }

    /// A pattern of one kind alone, on the source where it costs least.
    fn alone(&mut self, piece: usize) -> Option<()> {
        let model = self.model;
        let mut best: Option<(f64, Board)> = None;
        for (s, source) in model.sources.iter().enumerate() {
            if model.supplies[source.supply] == 0 {
                continue;
            }
            let mut board = Board::new(s);
            let mut left = vec![0; model.pieces.len()];
            left[piece] = model.pieces[piece].demand;
            self.filler.fill(model, &mut board, &[piece], &mut left);
            let rate = source.price / board.used;
            if !board.tree.is_empty() && best.as_ref().is_none_or(|b| rate < b.0) {
                best = Some((rate, board));
            }
        }
        self.take_up(best?.1);
        Some(())
    }

    /// Remembers a board as a pattern, unless one like it is known.
    fn take_up(&mut self, board: Board) -> bool {
        let mut counts = vec![0; self.model.pieces.len()];
        board.count_into(&mut counts);
        let source = board.source;
        let known = |p: &Pattern| p.board.source == source && p.counts == counts;
        if board.tree.is_empty() || self.patterns.iter().any(known) {
            return false;
        }
        self.patterns.push(Pattern { board, counts });
        true
    }

    fn column(&self, pattern: &Pattern, rows: &[Option<usize>]) -> Column {
        let source = &self.model.sources[pattern.board.source];
        let each = pattern.counts.iter().map(|n| f64::from(*n)).enumerate();
        let mut brings: Vec<(usize, f64)> = each.filter(|(_, n)| *n > 0.0).collect();
        brings.extend(rows[source.supply].map(|row| (row, 1.0)));
        Column {
            cost: source.price,
            brings,
        }
    }

    /// The programme for `wanted` over the patterns known; the columns after the first are theirs. `held`
    /// are supplies still to be had.
    fn master(&self, wanted: &[u32], supplies: &[u32]) -> (Master, Vec<Option<usize>>, usize) {
        let model = self.model;
        let kinds = wanted.len();
        let copies: u32 = wanted.iter().copied().fold(0, u32::saturating_add);
        let mut asked: Vec<f64> = wanted.iter().map(|n| f64::from(*n)).collect();
        let mut rows = vec![None; supplies.len()];
        for (row, supply) in rows.iter_mut().zip(supplies) {
            if *supply < copies {
                *row = Some(asked.len());
                asked.push(f64::from(*supply));
            }
        }
        // Dear, so that patterns are preferred.
        let dearest = model.sources.iter().map(|s| s.price).fold(0.0, f64::max);
        let mut first: Vec<Column> = (0..kinds)
            .map(|piece| Column {
                cost: 3.0 * dearest,
                brings: vec![(piece, 1.0)],
            })
            .collect();
        first.extend((kinds..asked.len()).map(|row| Column {
            cost: 0.0,
            brings: vec![(row, 1.0)],
        }));
        let before = first.len() + kinds;
        let mut master = Master::new(first, &asked);
        for piece in 0..kinds {
            master.add(Column {
                cost: 0.0,
                brings: vec![(piece, -1.0)],
            });
        }
        for pattern in &self.patterns {
            master.add(self.column(pattern, &rows));
        }
        (master, rows, before)
    }

    /// Adds patterns that make `wanted` cheaper, as long as some are found.
    fn improve(&mut self, wanted: &[u32], most: i64, meter: &mut Meter, stop: &Stop) -> Option<()> {
        let model = self.model;
        let kinds = wanted.len();
        let (mut master, rows, _) = self.master(wanted, &model.supplies);
        let mut grids: Vec<Grid> = model
            .sources
            .iter()
            .map(|s| Grid::new(s.size, model.limits.stages, most))
            .collect();
        let mut center: Option<Vec<f64>> = None;
        for _ in 0..MOST_ROUNDS {
            let spent = master.solve() / PER_UNIT;
            if !meter.spend(spent) || stop.now() {
                return None;
            }
            let all = master.prices();
            let prices: Vec<f64> = all[..kinds].iter().map(|p| p.max(0.0)).collect();
            let mut found = false;
            for steady in [STEADY, 0.0] {
                let tried: Vec<f64> = match &center {
                    Some(center) => prices
                        .iter()
                        .zip(center)
                        .map(|(new, old)| steady * old + (1.0 - steady) * new)
                        .collect(),
                    None => prices.clone(),
                };
                for (s, source) in model.sources.iter().enumerate() {
                    if model.supplies[source.supply] == 0 {
                        continue;
                    }
                    let mut lying: Vec<Lying> = Vec::new();
                    for (piece, p) in model.pieces.iter().enumerate() {
                        if tried[piece] > 0.0 && wanted[piece] > 0 {
                            lying.extend(source.ways[piece].each().map(|turned| Lying {
                                piece,
                                turned,
                                size: p.lying(turned),
                                value: tried[piece],
                            }));
                        }
                    }
                    let row = rows[source.supply];
                    let cost = source.price - row.map_or(0.0, |r| all[r].min(0.0));
                    let grid = &mut grids[s];
                    grid.solve(&lying, cost * (1.0 + GAIN), meter)?;
                    for cutting in grid.cuttings(&lying) {
                        found |= self.offer(s, &cutting, &all, &rows, &mut master);
                    }
                }
                center = Some(tried);
                if found {
                    break;
                }
            }
            if !found {
                return Some(());
            }
        }
        Some(())
    }

    /// Takes `cutting` up if the saw can make it, it is new and it pays at `prices`.
    fn offer(
        &mut self,
        s: usize,
        cutting: &Cutting,
        prices: &[f64],
        rows: &[Option<usize>],
        master: &mut Master,
    ) -> bool {
        let model = self.model;
        let sheet = model.sources[s].size;
        let limits = &model.limits;
        let size = |piece: usize, turned: bool| model.pieces[piece].lying(turned);
        let mut tree = CutTree::of(cutting, sheet, &size);
        if let Some(first) = limits.first
            && tree.axis() != Some(first)
        {
            let wrapped = Cutting::Stack(first, vec![cutting.clone()]);
            tree = CutTree::of(&wrapped, sheet, &size);
        }
        if tree.stages_needed(Some(sheet)) > limits.stages {
            return false;
        }
        let used = tree
            .parts()
            .map(|(_, piece, _)| model.pieces[piece as usize].area)
            .sum();
        let board = Board {
            source: s,
            tree,
            used,
        };
        if !self.take_up(board) {
            return false;
        }
        let Some(pattern) = self.patterns.last() else {
            return false;
        };
        let column = self.column(pattern, rows);
        let pays = Master::reduced(&column, prices) < -GAIN * column.cost;
        master.add(column);
        pays
    }

    /// Takes whole amounts of patterns over into `plan`, solves for what remains, and so on until what
    /// remains is little.
    fn round(&mut self, plan: &mut Plan, meter: &mut Meter, stop: &Stop) {
        let model = self.model;
        loop {
            let supplies = plan.supplies_left(model);
            // Patterns with too much of a kind say nothing about what is left.
            self.patterns
                .retain(|p| p.counts.iter().zip(&plan.left).all(|(n, left)| n <= left));
            if self.patterns.is_empty() || stop.now() {
                return;
            }
            let (mut master, _, before) = self.master(&plan.left, &supplies);
            if !meter.spend(master.solve() / PER_UNIT) {
                return;
            }
            let amounts: Vec<(usize, f64)> = master
                .bought()
                .filter(|(c, amount)| *c >= before && *amount > 1e-6)
                .map(|(c, amount)| (c - before, amount))
                .collect();
            let mut any = false;
            for (p, amount) in &amounts {
                any |= self.place(plan, *p, (amount + 1e-6).floor() as u32) > 0;
            }
            if any {
                continue;
            }
            let Some((p, amount)) = amounts.into_iter().max_by(|a, b| a.1.total_cmp(&b.1)) else {
                return;
            };
            if amount < REST || self.place(plan, p, 1) == 0 {
                return;
            }
        }
    }

    /// Adds pattern `p` up to `times` times, as far as parts and stock are left, and returns how often.
    fn place(&self, plan: &mut Plan, p: usize, times: u32) -> u32 {
        let pattern = &self.patterns[p];
        let repeats = pattern
            .counts
            .iter()
            .zip(&plan.left)
            .filter(|(n, _)| **n > 0)
            .map(|(n, left)| left / n);
        let supply = self.model.sources[pattern.board.source].supply;
        let times = repeats
            .fold(times, u32::min)
            .min(plan.supplies_left(self.model)[supply]);
        for (n, left) in pattern.counts.iter().zip(&mut plan.left) {
            *left -= n * times;
        }
        let board = pattern.board.clone();
        plan.boards
            .extend(std::iter::repeat_n(board, times as usize));
        times
    }

    /// The cheapest way to fill boards with what `plan` leaves out, part by part.
    fn best_rest(&mut self, plan: &Plan) -> Plan {
        let model = self.model;
        let supplies = plan.supplies_left(model);
        let mut best: Option<(f64, f64, Plan)> = None;
        for order in fill::orders(model) {
            let rest =
                self.filler
                    .construct_from(model, &order, plan.left.clone(), supplies.clone());
            let (missing, price) = (model.area_of(&rest.left), rest.price(model));
            if best.as_ref().is_none_or(|b| (missing, price) < (b.0, b.1)) {
                best = Some((missing, price, rest));
            }
        }
        match best {
            Some((_, _, rest)) => rest,
            None => Plan {
                boards: Vec::new(),
                left: plan.left.clone(),
            },
        }
    }
}

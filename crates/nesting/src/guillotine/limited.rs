//! The most valuable pattern of a rectangle when copies are limited.
//!
//! Rectangles are built up from parts, two at a time side by side, the most promising first, until no
//! open one can become more than the best (Viswanathan and Bagchi 1993, "Best-first search methods for
//! constrained two-dimensional cutting stock problems"). What a rectangle in the corner of the sheet can
//! still become is bounded by the most valuable way to fill the rest without a limit on copies, and by
//! the area of the copies that are left.

use super::cut_tree::{Axis, Limits};
use super::cutting::{Cutting, Lying, Meter};
use super::length::{Nm, area};
use super::unlimited::Table;
use crate::Control;
use std::collections::{BTreeMap, BinaryHeap};

/// Rectangles kept at most: some hundred bytes each.
const MOST_RECTANGLES: usize = 300_000;

/// Work between two looks at the caller's control.
const LOOK: u64 = 100_000;

/// Slack for sums of values.
const SLACK: f64 = 1e-9;

/// What is asked.
pub(super) struct Question<'a> {
    pub lying: &'a [Lying],
    pub sheet: [Nm; 2],
    /// By piece.
    pub most: &'a [u32],
    pub limits: &'a Limits,
    /// Whether a last cut that takes a part to its size is no stage.
    pub free_trim: bool,
}

/// What was found.
pub(super) struct Found {
    /// The best pattern.
    pub cutting: Option<Cutting>,
    /// A value that no pattern can beat.
    pub ceiling: f64,
}

/// How a rectangle is made.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Made {
    Part { piece: usize, turned: bool },
    Beside(Axis, u32, u32),
}

/// A rectangle that holds parts, no larger than they need.
#[derive(Debug, Clone)]
struct Rectangle {
    size: [Nm; 2],
    value: f64,
    /// By piece.
    counts: Vec<u32>,
    made: Made,
    /// Most stages that children of its row take which are rows themselves.
    deep: u32,
    /// The least width of parts that are children of its row; none for a part.
    least_across: Nm,
    /// What it can become at most.
    may_become: f64,
}

/// In the order of the queue: the most promising, the most valuable, the oldest.
#[derive(Debug, PartialEq)]
struct Open {
    may_become: f64,
    value: f64,
    id: u32,
}

impl Eq for Open {}

impl Ord for Open {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        self.may_become
            .total_cmp(&other.may_become)
            .then(self.value.total_cmp(&other.value))
            .then(other.id.cmp(&self.id))
    }
}

impl PartialOrd for Open {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}

/// By piece of a table: the most that can be laid round it, in the rest of the sheet.
struct Around {
    table: Table,
    values: Vec<f64>,
}

impl Around {
    fn new(lying: &[Lying], sheet: [Nm; 2], meter: &mut Meter) -> Option<Self> {
        let mut table = Table::of_all_pieces(lying, sheet)?;
        table.solve_all(lying, meter)?;
        let [xs, ys] = [table.points(0), table.points(1)];
        let (nx, ny) = (xs.len(), ys.len());
        let mut values = vec![0.0_f64; nx * ny];
        for i in (0..nx).rev() {
            for j in (0..ny).rev() {
                let mut best = 0.0_f64;
                // Something is laid to its right, or above it, and all of that is one larger piece.
                for (k, x) in xs.iter().enumerate().skip(i + 1) {
                    let strip = table.at(table.under(0, x - xs[i]), j);
                    best = best.max(strip + values[k * ny + j]);
                }
                for (k, y) in ys.iter().enumerate().skip(j + 1) {
                    let strip = table.at(i, table.under(1, y - ys[j]));
                    best = best.max(strip + values[i * ny + k]);
                }
                values[i * ny + j] = best;
            }
            if !meter.spend(8 * (ny * (nx - i + ny / 2)) as u64) {
                return None;
            }
        }
        Some(Self { table, values })
    }

    fn of(&self, size: [Nm; 2]) -> f64 {
        let [i, j] = [0, 1].map(|axis| self.table.under(axis, size[axis]));
        self.values[i * self.table.points(1).len() + j]
    }
}

/// Key of rectangles of which one is as good as another.
type Alike = ([Nm; 2], Vec<u32>, Option<(Axis, u32, Nm)>);

struct Search<'a> {
    asked: &'a Question<'a>,
    around: Option<Around>,
    all: Vec<Rectangle>,
    alike: BTreeMap<Alike, u32>,
    open: BinaryHeap<Open>,
    /// Pieces by value for area, the best first.
    by_rate: Vec<(usize, f64, f64)>,
    best: Option<u32>,
    best_value: f64,
}

/// The best pattern, where `ceiling` is known to be out of reach already.
///
/// Under limits on cut lengths, parts that are too long to be cut to their width are set aside, so
/// what is found is not proven there.
pub(super) fn search(
    asked: &Question,
    ceiling: f64,
    meter: &mut Meter,
    control: &Control,
) -> Found {
    let mut by_rate: Vec<(usize, f64, f64)> = Vec::new();
    for l in asked.lying {
        if by_rate.iter().all(|(piece, ..)| *piece != l.piece) {
            by_rate.push((l.piece, l.value, area(l.size)));
        }
    }
    by_rate.sort_by(|a, b| (b.1 * a.2).total_cmp(&(a.1 * b.2)));
    let mut search = Search {
        around: Around::new(asked.lying, asked.sheet, meter),
        asked,
        all: Vec::new(),
        alike: BTreeMap::new(),
        open: BinaryHeap::new(),
        by_rate,
        best: None,
        best_value: 0.0,
    };
    let open = search.run(meter, control);
    let ceiling = if asked.limits.lengths_matter {
        ceiling
    } else {
        open.min(ceiling)
    };
    Found {
        cutting: search.best.map(|id| search.cutting(id)),
        ceiling: ceiling.max(search.best_value),
    }
}

impl Search<'_> {
    /// Works until the best is proven or the budget is used up; gives the most that is still open.
    fn run(&mut self, meter: &mut Meter, control: &Control) -> f64 {
        for l in self.asked.lying {
            let mut counts = vec![0; self.asked.most.len()];
            counts[l.piece] = 1;
            self.offer(Rectangle {
                size: l.size,
                value: l.value,
                counts,
                made: Made::Part {
                    piece: l.piece,
                    turned: l.turned,
                },
                deep: 0,
                least_across: Nm::MAX,
                may_become: 0.0,
            });
        }
        let mut closed: Vec<u32> = Vec::new();
        let mut look = LOOK;
        while let Some(next) = self.open.pop() {
            if !self.promises(next.may_become) {
                return self.best_value;
            }
            closed.push(next.id);
            for other in closed.iter().copied() {
                for axis in 0..2 {
                    if let Some(both) = self.beside(axis, next.id, other) {
                        self.offer(both);
                    }
                }
            }
            let used_up = !meter.spend(4 * closed.len() as u64);
            if meter.taken >= look {
                look = meter.taken + LOOK;
                if control.stopped() {
                    return next.may_become;
                }
            }
            if used_up || self.all.len() >= MOST_RECTANGLES {
                return next.may_become;
            }
        }
        self.best_value
    }

    fn promises(&self, may_become: f64) -> bool {
        may_become > self.best_value + SLACK * self.best_value.abs()
    }

    /// Whether stages or lengths tell rectangles of one size and content apart.
    fn rows_matter(&self) -> bool {
        let limits = self.asked.limits;
        limits.stages != u32::MAX || limits.lengths_matter
    }

    /// Stages that `one` takes when its rows are divided from a piece that is `across` wide.
    fn stages_of(&self, one: &Rectangle, across: Nm) -> u32 {
        match one.made {
            Made::Part { .. } => 0,
            Made::Beside(..) => {
                let trims = one.least_across < across && !self.asked.free_trim;
                1 + one.deep.max(u32::from(trims))
            }
        }
    }

    /// Both rectangles side by side along `axis`, if that fits and may become the best.
    fn beside(&self, axis: Axis, a: u32, b: u32) -> Option<Rectangle> {
        let (one, other) = (&self.all[a as usize], &self.all[b as usize]);
        let mut size = one.size;
        size[axis] += other.size[axis];
        size[1 - axis] = size[1 - axis].max(other.size[1 - axis]);
        let Question { sheet, limits, .. } = self.asked;
        if size[0] > sheet[0] || size[1] > sheet[1] {
            return None;
        }
        let value = one.value + other.value;
        let around = self.around.as_ref().map_or(f64::INFINITY, |r| r.of(size));
        if !self.promises(value + around) {
            return None;
        }
        let sums = one.counts.iter().zip(&other.counts);
        if sums
            .clone()
            .zip(self.asked.most)
            .any(|((m, n), most)| m + n > *most)
        {
            return None;
        }
        let counts: Vec<u32> = sums.map(|(m, n)| m + n).collect();
        let rest = self.left_copies(&counts, area(*sheet) - area(size));
        let may_become = value + around.min(rest);
        if !self.promises(may_become) {
            return None;
        }
        let (mut deep, mut least_across) = (0, Nm::MAX);
        if self.rows_matter() {
            if size[1 - axis] - limits.kerf > limits.longest[1 - axis] {
                return None;
            }
            for child in [one, other] {
                match child.made {
                    // It may have to be cut to its width, if not now then in a wider row.
                    Made::Part { .. }
                        if limits.lengths_matter
                            && child.size[axis] - limits.kerf > limits.longest[axis] =>
                    {
                        return None;
                    }
                    Made::Part { .. } => {
                        least_across = least_across.min(child.size[1 - axis]);
                    }
                    Made::Beside(a, ..) if a == axis => {
                        deep = deep.max(child.deep);
                        least_across = least_across.min(child.least_across);
                    }
                    Made::Beside(..) => {
                        deep = deep.max(self.stages_of(child, child.size[axis]));
                    }
                }
            }
        }
        let both = Rectangle {
            size,
            value,
            counts,
            made: Made::Beside(axis, a, b),
            deep,
            least_across,
            may_become,
        };
        let stages = self.stages_of(&both, size[1 - axis]);
        (stages <= limits.stages).then_some(both)
    }

    /// Most value of copies that are left within an area, in fractions.
    fn left_copies(&self, counts: &[u32], mut room: f64) -> f64 {
        let mut value = 0.0;
        for (piece, each, takes) in &self.by_rate {
            let left = f64::from(self.asked.most[*piece] - counts[*piece]);
            if left * takes <= room {
                value += left * each;
                room -= left * takes;
            } else {
                return value + each * (room / takes);
            }
        }
        value
    }

    /// Notes a rectangle: as the best, if it may be all there is on the sheet, and as an open one.
    fn offer(&mut self, mut one: Rectangle) {
        let sheet = self.asked.sheet;
        if one.size[0] > sheet[0] || one.size[1] > sheet[1] {
            return;
        }
        if one.may_become == 0.0 {
            let rest = self.left_copies(&one.counts, area(sheet) - area(one.size));
            let around = self
                .around
                .as_ref()
                .map_or(f64::INFINITY, |r| r.of(one.size));
            one.may_become = one.value + around.min(rest);
        }
        let rows = self.rows_matter();
        let axis = match one.made {
            Made::Part { .. } => 0,
            Made::Beside(axis, ..) => axis,
        };
        let key = (
            one.size,
            one.counts.clone(),
            rows.then_some((axis, one.deep, one.least_across)),
        );
        let id = self.all.len() as u32;
        match self.alike.entry(key) {
            std::collections::btree_map::Entry::Occupied(_) => return,
            std::collections::btree_map::Entry::Vacant(free) => free.insert(id),
        };
        if one.value > self.best_value && self.may_stand_alone(&one) {
            self.best_value = one.value;
            self.best = Some(id);
        }
        self.open.push(Open {
            may_become: one.may_become,
            value: one.value,
            id,
        });
        self.all.push(one);
    }

    /// Whether the sheet may be cut so that nothing but this is made of it.
    fn may_stand_alone(&self, one: &Rectangle) -> bool {
        if !self.rows_matter() {
            return true;
        }
        let Question { sheet, limits, .. } = self.asked;
        let k = limits.kerf;
        (0..2).any(|axis| {
            // A row along this axis divides the sheet itself, or cuts the rectangle off as a whole.
            let row = matches!(one.made, Made::Beside(a, ..) if a == axis);
            let across = sheet[1 - axis];
            let stages = match one.made {
                Made::Part { .. } => {
                    let trims = one.size[1 - axis] < across;
                    if limits.lengths_matter && trims && one.size[axis] - k > limits.longest[axis] {
                        return false;
                    }
                    1 + u32::from(trims && !self.asked.free_trim)
                }
                Made::Beside(..) if row => self.stages_of(one, across),
                Made::Beside(..) => 1 + self.stages_of(one, one.size[axis]),
            };
            let cuts = row || one.size[axis] < sheet[axis];
            limits.first.is_none_or(|f| f == axis)
                && !(cuts && across - k > limits.longest[1 - axis])
                && stages <= limits.stages
        })
    }

    fn cutting(&self, id: u32) -> Cutting {
        match self.all[id as usize].made {
            Made::Part { piece, turned } => Cutting::Part { piece, turned },
            Made::Beside(axis, a, b) => Cutting::beside(axis, self.cutting(a), self.cutting(b)),
        }
    }
}

//! The most valuable pattern of a rectangle under limits on stages and cut lengths, with no limit on
//! copies: dynamic programming stage by stage, from the last one back (after Gilmore and Gomory 1965,
//! "Multistage cutting stock problems of two and more dimensions").
//!
//! A piece that is divided along an axis is a row of children, each as wide as the piece and cut off to
//! its own length, and a rest at the end. Such a child is a part of exactly that size, or it goes through
//! the next stage, across.

use super::cut_tree::{Axis, Limits};
use super::cutting::{Cutting, Lying, Meter};
use super::length::Nm;
use super::points::{MOST_POINTS, sums, under};

/// Stages looked at when there is no limit on them; each part lies at most this deep in a sheet that
/// anyone would saw. Values stop changing long before.
const MOST_STAGES: u32 = 64;

/// Most pieces in one table: a hundred megabytes for a few stages.
const MOST_PIECES: usize = 2_000_000;

/// By stage from the last one back.
pub(super) struct Stages<'a> {
    lying: &'a [Lying],
    limits: &'a Limits,
    free_trim: bool,
    points: [Vec<Nm>; 2],
    /// By stage and axis of its rows: the value of each piece.
    values: Vec<[Vec<f64>; 2]>,
    first: Option<Axis>,
    whole: f64,
}

impl<'a> Stages<'a> {
    /// Solves `sheet`. With `free_trim` a last cut that takes a part to its size is no stage. `None`
    /// when there are too many points or not enough work left in `meter`.
    pub fn of_sheet(
        lying: &'a [Lying],
        sheet: [Nm; 2],
        limits: &'a Limits,
        free_trim: bool,
        meter: &mut Meter,
    ) -> Option<Self> {
        let points = |axis: usize| {
            let sides: Vec<Nm> = lying.iter().map(|l| l.size[axis]).collect();
            let mut points = sums(&sides, sheet[axis])?;
            // The sheet itself counts with all of its sides: cutting off what is over is a cut.
            if points.last() != Some(&sheet[axis]) {
                points.push(sheet[axis]);
            }
            (points.len() <= MOST_POINTS).then_some(points)
        };
        let points = [points(0)?, points(1)?];
        if points[0].len() * points[1].len() > MOST_PIECES {
            return None;
        }
        let mut stages = Self {
            lying,
            limits,
            free_trim,
            points,
            values: Vec::new(),
            first: None,
            whole: 0.0,
        };
        let endless = limits.stages == u32::MAX;
        for _ in 0..limits.stages.min(MOST_STAGES) {
            let next = [stages.stage(0, meter)?, stages.stage(1, meter)?];
            let same = stages.values.last() == Some(&next);
            stages.values.push(next);
            if same && endless {
                break;
            }
        }
        let last = stages.points[0].len() * stages.points[1].len() - 1;
        for axis in 0..2 {
            if limits.first.is_none_or(|f| f == axis) {
                let value = stages.values.last().map_or(0.0, |v| v[axis][last]);
                if value > stages.whole {
                    stages.whole = value;
                    stages.first = Some(axis);
                }
            }
        }
        Some(stages)
    }

    /// Index of a piece that is `along` the axis and `across` it.
    fn at(&self, axis: Axis, along: usize, across: usize) -> usize {
        let [i, j] = if axis == 0 {
            [along, across]
        } else {
            [across, along]
        };
        i * self.points[1].len() + j
    }

    /// Whether a row along `axis`, as wide as point `across`, may be cut.
    fn may_cut(&self, axis: Axis, across: usize) -> bool {
        self.points[1 - axis][across] - self.limits.kerf <= self.limits.longest[1 - axis]
    }

    /// The part that is a child of that size in a row along `axis`, when `stages` are left after it.
    fn part(&self, axis: Axis, size: [Nm; 2], stages: usize) -> Option<&Lying> {
        let trims = stages == 0
            && self.free_trim
            && size[axis] - self.limits.kerf <= self.limits.longest[axis];
        let fits = |l: &&Lying| {
            l.size[axis] == size[axis]
                && (l.size[1 - axis] == size[1 - axis]
                    || trims && l.size[1 - axis] < size[1 - axis])
        };
        self.lying
            .iter()
            .filter(fits)
            .reduce(|a, b| if b.value > a.value { b } else { a })
    }

    /// Value of a child in a row along `axis` when `stages` are left after it.
    fn child(&self, axis: Axis, along: usize, across: usize, stages: usize) -> f64 {
        let mut size = [0; 2];
        size[axis] = self.points[axis][along];
        size[1 - axis] = self.points[1 - axis][across];
        let part = self.part(axis, size, stages).map_or(0.0, |l| l.value);
        match stages.checked_sub(1).and_then(|s| self.values.get(s)) {
            Some(values) => part.max(values[1 - axis][self.at(axis, along, across)]),
            None => part,
        }
    }

    /// The stage before those that are there: rows along `axis`.
    fn stage(&self, axis: Axis, meter: &mut Meter) -> Option<Vec<f64>> {
        let stages = self.values.len();
        let mut values = vec![0.0; self.points[0].len() * self.points[1].len()];
        let along = &self.points[axis];
        let mut row = vec![0.0_f64; along.len()];
        // Lengths worth cutting off: those that bring more than all shorter ones.
        let mut cuts: Vec<(usize, f64)> = Vec::new();
        for across in 1..self.points[1 - axis].len() {
            cuts.clear();
            let may_cut = self.may_cut(axis, across);
            let mut work = (along.len() * (4 + self.lying.len() / 16)) as u64;
            for whole in 1..along.len() {
                let child = self.child(axis, whole, across, stages);
                let mut best = child;
                if may_cut {
                    if cuts.last().map_or(0.0, |c| c.1) < child {
                        cuts.push((whole, child));
                    }
                    best = best.max(row[whole - 1]);
                    work += cuts.len() as u64;
                    for (cut, value) in &cuts {
                        let left = under(along, along[whole] - along[*cut]);
                        best = best.max(value + row[left]);
                    }
                }
                row[whole] = best;
                values[self.at(axis, whole, across)] = best;
            }
            if !meter.spend(2 * work) {
                return None;
            }
        }
        Some(values)
    }

    /// Value of the whole sheet.
    pub fn value(&self) -> f64 {
        self.whole
    }

    /// A pattern of that value; `None` when nothing fits.
    pub fn cutting(&self) -> Option<Cutting> {
        let axis = self.first?;
        let ends = self.points.each_ref().map(|p| p.len() - 1);
        let cutting = self.row(axis, ends[axis], ends[1 - axis], self.values.len())?;
        Some(match (self.limits.first, cutting) {
            // Nothing needs a cut in the first direction; the tree still begins with it.
            (Some(_), other) if !matches!(&other, Cutting::Stack(a, _) if *a == axis) => {
                Cutting::Stack(axis, vec![other])
            }
            (_, other) => other,
        })
    }

    /// A row along `axis` that `stages` stages divide, its own among them.
    fn row(&self, axis: Axis, along: usize, across: usize, stages: usize) -> Option<Cutting> {
        let at = |stages: usize, along| self.values[stages - 1][axis][self.at(axis, along, across)];
        let points = &self.points[axis];
        let mut rest = along;
        let mut children: Vec<Cutting> = Vec::new();
        while rest > 0 && at(stages, rest) > 0.0 {
            let value = at(stages, rest);
            if self.may_cut(axis, across) && at(stages, rest - 1) == value {
                rest -= 1;
                continue;
            }
            let left = |cut: usize| under(points, points[rest] - points[cut]);
            let cut = (1..=rest).find(|cut| {
                let child = self.child(axis, *cut, across, stages - 1);
                child > 0.0
                    && if *cut == rest {
                        child == value
                    } else {
                        self.may_cut(axis, across) && child + at(stages, left(*cut)) == value
                    }
            })?;
            children.extend(self.one(axis, cut, across, stages - 1));
            rest = left(cut);
        }
        (!children.is_empty()).then_some(Cutting::Stack(axis, children))
    }

    /// A child of a row along `axis` with `stages` left after it.
    fn one(&self, axis: Axis, along: usize, across: usize, stages: usize) -> Option<Cutting> {
        let value = self.child(axis, along, across, stages);
        let mut size = [0; 2];
        size[axis] = self.points[axis][along];
        size[1 - axis] = self.points[1 - axis][across];
        if let Some(l) = self.part(axis, size, stages)
            && l.value == value
        {
            let (piece, turned) = (l.piece, l.turned);
            return Some(Cutting::Part { piece, turned });
        }
        self.row(1 - axis, across, along, stages)
    }
}

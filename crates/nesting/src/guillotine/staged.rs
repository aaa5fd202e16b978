//! The most valuable pattern of a rectangle under limits on stages and cut lengths, with no limit on
//! copies: dynamic programming stage by stage, from the last one back (after Gilmore and Gomory 1965,
//! "Multistage cutting stock problems of two and more dimensions").
//!
//! A piece that is divided along an axis is a row of children, each as wide as the piece and cut off to
//! its own length, and a rest at the end. Such a child is a part of exactly that size, or it goes through
//! the next stage, across.

use super::cut_tree::{Axis, Limits};
use super::cutting::{Cutting, Lying, Meter};
use super::length::{Nm, area};
use super::points::{MOST_POINTS, sums, under};

/// Stages looked at when there is no limit on them; each part lies at most this deep in a sheet that
/// anyone would saw. Values stop changing long before.
const MOST_STAGES: u32 = 64;

/// Most pieces in one table: a hundred megabytes for a few stages.
const MOST_PIECES: usize = 2_000_000;

/// Slack for sums of values.
const SLACK: f64 = 1e-9;

/// No point of that number.
const NONE: u32 = u32::MAX;

/// What rows of one stage and axis are worth.
#[derive(Debug, Clone, PartialEq)]
struct Rows {
    /// By point across: where its values begin, or [`NONE`] where no row of the stage can be so wide.
    starts: Vec<u32>,
    /// Whether only rows as long as the sheet are kept: the second stage divides no others.
    full: bool,
    values: Vec<f64>,
}

impl Rows {
    fn value(&self, along: usize, across: usize) -> f64 {
        match self.starts[across] {
            NONE => 0.0,
            start if self.full => self.values[start as usize],
            start => self.values[start as usize + along],
        }
    }
}

/// By stage from the last one back.
pub(super) struct Stages<'a> {
    lying: &'a [Lying],
    limits: &'a Limits,
    free_trim: bool,
    points: [Vec<Nm>; 2],
    /// By axis: the points that are sides of parts.
    sides: [Vec<usize>; 2],
    /// By axis and side: where a row ends that is longer by it, by point; [`NONE`] beyond the sheet.
    longer: [Vec<Vec<u32>>; 2],
    /// By stage and axis of its rows.
    values: Vec<[Rows; 2]>,
    /// Best value for area of all parts, and what may be lost against it all in all.
    rate: f64,
    most_loss: f64,
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
        // A pattern of two stages is one of three as well, is found at once, and tells what three
        // stages may lose at most.
        let fewer = if limits.stages == 3 && !limits.lengths_matter {
            Some(Self::of_stages(
                2, 0.0, lying, sheet, limits, free_trim, meter,
            )?)
        } else {
            None
        };
        let least = fewer.as_ref().map_or(0.0, |f| f.whole);
        let all = Self::of_stages(limits.stages, least, lying, sheet, limits, free_trim, meter)?;
        Some(match fewer {
            Some(fewer) if fewer.whole >= all.whole => fewer,
            _ => all,
        })
    }

    /// Solves it with so many stages; what is worth less than `least` need not be found.
    fn of_stages(
        most: u32,
        least: f64,
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
        // With at most three stages no table holds rows of all lengths and widths.
        if (most > 3 || limits.lengths_matter) && points[0].len() * points[1].len() > MOST_PIECES {
            return None;
        }
        let sides = [0, 1].map(|axis: usize| {
            let fits = lying.iter().filter(|l| l.size[axis] <= sheet[axis]);
            let mut sides: Vec<usize> = fits.map(|l| under(&points[axis], l.size[axis])).collect();
            sides.sort_unstable();
            sides.dedup();
            sides
        });
        let longer = [0, 1].map(|axis: usize| {
            let along = &points[axis];
            let of_side = |side: &usize| {
                let mut to = 0;
                let ends = along.iter().map(|p| {
                    while along.get(to).is_some_and(|q| *q < p + along[*side]) {
                        to += 1;
                    }
                    if to < along.len() { to as u32 } else { NONE }
                });
                ends.collect()
            };
            sides[axis].iter().map(of_side).collect()
        });
        let rates = lying.iter().map(|l| l.value / area(l.size));
        let rate = rates.fold(0.0, f64::max);
        let mut stages = Self {
            lying,
            limits,
            free_trim,
            points,
            sides,
            longer,
            values: Vec::new(),
            rate,
            most_loss: (rate * area(sheet) - least) * (1.0 + SLACK) + SLACK * rate * area(sheet),
            first: None,
            whole: 0.0,
        };
        let endless = most == u32::MAX;
        let most = most.min(MOST_STAGES);
        for n in 0..most {
            // How many stages come before it; without a limit any number may.
            let before = if endless { u32::MAX } else { most - 1 - n };
            let next = [
                stages.stage(0, before, meter)?,
                stages.stage(1, before, meter)?,
            ];
            let same = stages.values.last() == Some(&next);
            stages.values.push(next);
            if same && endless {
                break;
            }
        }
        let ends = stages.points.each_ref().map(|p| p.len() - 1);
        for axis in 0..2 {
            if limits.first.is_none_or(|f| f == axis) {
                let value = stages
                    .values
                    .last()
                    .map_or(0.0, |v| v[axis].value(ends[axis], ends[1 - axis]));
                if value > stages.whole {
                    stages.whole = value;
                    stages.first = Some(axis);
                }
            }
        }
        Some(stages)
    }

    /// Whether a row along `axis`, as wide as point `across`, may be cut.
    fn may_cut(&self, axis: Axis, across: usize) -> bool {
        self.points[1 - axis][across] - self.limits.kerf <= self.limits.longest[1 - axis]
    }

    /// The part that is a child of that size in a row along `axis`, when `stages` are left after it.
    fn part(&self, axis: Axis, size: [Nm; 2], stages: usize) -> Option<&Lying> {
        self.lying
            .iter()
            .filter(|l| l.size[axis] == size[axis] && self.fills(l, axis, size[1 - axis], stages))
            .reduce(|a, b| if b.value > a.value { b } else { a })
    }

    /// Whether a part as long as a child of a row along `axis`, `across` wide, can be that child.
    fn fills(&self, part: &Lying, axis: Axis, across: Nm, stages: usize) -> bool {
        let trims = stages == 0
            && self.free_trim
            && part.size[axis] - self.limits.kerf <= self.limits.longest[axis];
        part.size[1 - axis] == across || trims && part.size[1 - axis] < across
    }

    /// Values of the children of a row along `axis` when `stages` are left after them, by length.
    fn children(&self, axis: Axis, across: usize, stages: usize) -> Vec<f64> {
        let along = &self.points[axis];
        let width = self.points[1 - axis][across];
        let mut children = match stages.checked_sub(1).and_then(|s| self.values.get(s)) {
            Some(rows) => {
                let rows = &rows[1 - axis];
                (0..along.len()).map(|n| rows.value(across, n)).collect()
            }
            None => vec![0.0; along.len()],
        };
        for part in self.lying {
            let n = under(along, part.size[axis]);
            if along[n] == part.size[axis] && self.fills(part, axis, width, stages) {
                children[n] = children[n].max(part.value);
            }
        }
        children
    }

    /// Values of rows along `axis`, as wide as point `across`, by length, when `stages` are left for
    /// their children; and the work it took.
    fn row_values(
        &self,
        axis: Axis,
        across: usize,
        stages: usize,
        children: &[f64],
    ) -> (Vec<f64>, u64) {
        let along = &self.points[axis];
        if !self.may_cut(axis, across) {
            return (children.to_vec(), along.len() as u64);
        }
        let width = self.points[1 - axis][across];
        let lost = |n: usize, value: f64| self.rate * area([along[n], width]) - value;
        // Lengths worth cutting off: those that bring more than all shorter ones and lose no more
        // than may be lost.
        let mut cuts: Vec<(usize, f64, Option<&Vec<u32>>)> = Vec::new();
        let mut most = 0.0;
        for (n, child) in children.iter().enumerate().skip(1) {
            if *child > most {
                most = *child;
                if lost(n, *child) <= self.most_loss {
                    let side = self.sides[axis].binary_search(&n).ok();
                    cuts.push((n, *child, side.map(|s| &self.longer[axis][s])));
                }
            }
        }
        let mut row = vec![0.0_f64; along.len()];
        let mut work = (along.len() * 4 + self.lying.len()) as u64;
        debug_assert!(stages <= self.values.len());
        for from in 0..along.len() {
            let value = row[from];
            if from > 0 {
                if value <= row[from - 1] {
                    row[from] = row[from - 1];
                    continue;
                }
                if lost(from, value) > self.most_loss {
                    continue;
                }
            }
            work += cuts.len() as u64;
            for (cut, child, longer) in &cuts {
                let to = match longer {
                    Some(longer) => longer[from],
                    None => {
                        let end = along[from] + along[*cut];
                        along.partition_point(|p| *p < end) as u32
                    }
                };
                if let Some(best) = row.get_mut(to as usize) {
                    *best = best.max(value + child);
                }
            }
        }
        (row, work)
    }

    /// The stage before those that are there: rows along `axis`. `before` are the stages before it.
    fn stage(&self, axis: Axis, before: u32, meter: &mut Meter) -> Option<Rows> {
        let stages = self.values.len();
        let widths = self.points[1 - axis].len();
        // Where cuts may be too long to be made, pieces of any size stay whole and wait for a later
        // stage. Otherwise the first stage divides the sheet, and the last one what is as wide as a part.
        let any = self.limits.lengths_matter;
        let full = before == 1 && !any;
        let acrosses: Vec<usize> = if before == 0 && !any {
            vec![widths - 1]
        } else if stages == 0 && !any {
            self.sides[1 - axis].clone()
        } else {
            (1..widths).collect()
        };
        let mut rows = Rows {
            starts: vec![NONE; widths],
            full,
            values: Vec::new(),
        };
        for across in acrosses {
            let children = self.children(axis, across, stages);
            let (row, work) = self.row_values(axis, across, stages, &children);
            rows.starts[across] = u32::try_from(rows.values.len()).ok()?;
            if full {
                rows.values.extend(row.last());
            } else {
                rows.values.extend(row);
            }
            if !meter.spend(work) {
                return None;
            }
        }
        Some(rows)
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
        let after = stages.checked_sub(1)?;
        let values = self.children(axis, across, after);
        let (row, _) = self.row_values(axis, across, after, &values);
        let points = &self.points[axis];
        let mut rest = along;
        let mut children: Vec<Cutting> = Vec::new();
        while rest > 0 && row[rest] > 0.0 {
            let value = row[rest];
            if self.may_cut(axis, across) && row[rest - 1] == value {
                rest -= 1;
                continue;
            }
            let left = |cut: usize| under(points, points[rest] - points[cut]);
            let cut = (1..=rest).find(|cut| {
                let child = values[*cut];
                child > 0.0
                    && if *cut == rest {
                        child == value
                    } else {
                        self.may_cut(axis, across) && child + row[left(*cut)] == value
                    }
            })?;
            children.extend(self.one(axis, cut, across, after, values[cut]));
            rest = left(cut);
        }
        (!children.is_empty()).then_some(Cutting::Stack(axis, children))
    }

    /// A child of a row along `axis`, worth `value`, with `stages` left after it.
    fn one(
        &self,
        axis: Axis,
        along: usize,
        across: usize,
        stages: usize,
        value: f64,
    ) -> Option<Cutting> {
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

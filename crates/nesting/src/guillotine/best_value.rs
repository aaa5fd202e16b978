//! The most valuable pattern of one piece of stock.

use super::NODES_PER_STEP;
use super::cut_tree::{CutTree, Removal};
use super::cutting::{Cutting, Lying, Meter};
use super::fill::{self, Filler};
use super::length::{Nm, area};
use super::limited::{self, Question};
use super::model::{Model, Source};
use super::plan::Board;
use super::saw_plan;
use super::staged::Stages;
use super::two_stage;
use super::unlimited::Table;
use crate::{Control, Layout, Problem, SawRules};

/// Limits and liberties of [`best_value`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct BestValueOptions {
    /// Work to spend, in steps of roughly a microsecond. What needs more is answered with a pattern
    /// that may not be the best, and says so.
    pub steps: u64,
    /// Whether a last cut that takes a part to its size counts as no stage, as in the published
    /// figures for two and three stages. Without it, it is a stage like any other.
    pub free_last_trim: bool,
}

impl Default for BestValueOptions {
    /// Four seconds of work; every cut is of some stage.
    fn default() -> Self {
        Self {
            steps: 4_000_000,
            free_last_trim: false,
        }
    }
}

/// What [`best_value`] found.
#[derive(Debug, Clone, PartialEq)]
pub struct BestValue {
    /// The pattern with its cuts; `None` when nothing of value fits.
    pub layout: Option<Layout>,
    /// Its value.
    pub value: f64,
    /// A value that no pattern can beat.
    pub ceiling: f64,
    /// Whether the pattern is proven to be the best.
    pub proven: bool,
    /// Work that it took, in steps.
    pub steps: u64,
}

/// Points along a side when the true ones are too many: sides are then rounded to this share of the
/// sheet, down for a ceiling and up for a pattern. Twice as many take eight times as long.
const COARSE_POINTS: Nm = 500;

/// Slack for sums of values.
const SLACK: f64 = 1e-9;

/// The most valuable pattern that can be sawn from the stock with index `stock`.
///
/// `values` says by part what one copy is worth; what is worth nothing or less is left aside. Copies
/// are limited by the parts' quantities, stages and cut lengths by `rules`. Lengths are whole nanometres
/// inside, kerf and trims included, so what fits exactly does fit. When the best pattern without a
/// limit on copies keeps to the quantities it is the answer; otherwise an exact search for limited
/// copies follows. A remnant's usable rectangles are tried one by one.
///
/// The layout passes the judge for a problem that wants just as many copies as it holds.
///
/// # Panics
/// When `stock` is no index into the problem's stock or `values` has not one value a part.
///
/// # Runtime
/// Without limits on copies about the square of the number of sums of sides along one side, times
/// those that waste little; with limits exponential in the worst case, which `options` cut short. When
/// there are too many sums, or not enough steps, the pattern is not proven but the ceiling holds.
///
/// # Examples
/// ```
/// use panelwright_geometry::Outline;
/// use panelwright_nesting::guillotine::{BestValueOptions, best_value};
/// use panelwright_nesting::{Control, Method, Part, Problem, SawRules, Stock};
///
/// let rules = SawRules { kerf: 4.0, ..SawRules::default() };
/// let shelf = Part::new("shelf", Outline::rectangle(498.0, 298.0), 10);
/// let sheet = Stock::sheet("sheet", 1000.0, 600.0, 40.0, 0);
/// let mut problem = Problem::new(vec![shelf], vec![sheet], vec![None]);
/// problem.method = Method::Guillotine(rules);
/// let options = BestValueOptions::default();
/// let best = best_value(&problem, &rules, 0, &[7.5], &options, &Control::none());
/// assert!(best.proven);
/// assert_eq!(best.value, 4.0 * 7.5);
/// ```
#[must_use]
pub fn best_value(
    problem: &Problem,
    rules: &SawRules,
    stock: usize,
    values: &[f64],
    options: &BestValueOptions,
    control: &Control,
) -> BestValue {
    assert!(stock < problem.stock.len(), "stock {stock} is there");
    assert_eq!(values.len(), problem.parts.len(), "one value a part");
    // A part that needs only its last trim fits although the stages would not allow that cut.
    let more = u32::from(options.free_last_trim);
    let mut model = Model::new(
        problem,
        &SawRules {
            stages: rules.stages.map(|s| s.saturating_add(more)),
            ..*rules
        },
    );
    model.rules = *rules;
    model.limits.stages = rules.stages.unwrap_or(u32::MAX);
    let mut meter = Meter::new(options.steps.saturating_mul(NODES_PER_STEP));
    let mut best = Answer::default();
    let mut source = None;
    for s in (0..model.sources.len()).filter(|s| model.sources[*s].stock == stock) {
        let answer = Solver::new(&model, s, values, options).solve(&mut meter, control);
        let ceiling = best.ceiling.max(answer.ceiling);
        if answer.value > best.value {
            best = answer;
            source = Some(s);
        }
        best.ceiling = ceiling;
    }
    BestValue {
        layout: source.map(|s| saw_plan::layout(&model, &model.sources[s], &best.tree)),
        value: best.value,
        ceiling: best.ceiling.max(best.value),
        proven: best.ceiling <= best.value + SLACK * best.value.abs(),
        steps: meter.taken.div_ceil(NODES_PER_STEP),
    }
}

/// A tree with its value, and a ceiling.
#[derive(Default)]
struct Answer {
    tree: CutTree,
    value: f64,
    ceiling: f64,
}

/// One rectangle to be filled.
struct Solver<'a> {
    model: &'a Model<'a>,
    source: &'a Source,
    index: usize,
    options: &'a BestValueOptions,
    /// By piece.
    values: Vec<f64>,
    most: Vec<u32>,
    lying: Vec<Lying>,
}

impl<'a> Solver<'a> {
    fn new(model: &'a Model, index: usize, values: &[f64], options: &'a BestValueOptions) -> Self {
        let source = &model.sources[index];
        let values: Vec<f64> = model.pieces.iter().map(|p| values[p.part]).collect();
        let mut lying = Vec::new();
        for (piece, p) in model.pieces.iter().enumerate() {
            if values[piece].is_finite() && values[piece] > 0.0 {
                lying.extend(source.ways[piece].each().map(|turned| Lying {
                    piece,
                    turned,
                    size: p.lying(turned),
                    value: values[piece],
                }));
            }
        }
        Self {
            model,
            source,
            index,
            options,
            values,
            most: model.wanted(),
            lying,
        }
    }

    fn solve(&self, meter: &mut Meter, control: &Control) -> Answer {
        let mut answer = Answer {
            ceiling: self.area_ceiling(),
            ..Answer::default()
        };
        if self.lying.is_empty() {
            return answer;
        }
        self.greedy(&mut answer, meter);
        match self.without_limits(&self.lying, self.source.size, meter) {
            Some((cutting, value)) => {
                answer.ceiling = answer.ceiling.min(value);
                self.offer(&mut answer, cutting.as_ref());
            }
            None => self.coarse(&mut answer, meter),
        }
        if answer.ceiling > answer.value * (1.0 + SLACK) && !control.stopped() {
            let asked = Question {
                lying: &self.lying,
                sheet: self.source.size,
                most: &self.most,
                limits: &self.model.limits,
                free_trim: self.options.free_last_trim,
            };
            let limits = asked.limits;
            let found = (limits.stages == 2 && !limits.lengths_matter)
                .then(|| two_stage::search(&asked, answer.value, answer.ceiling, meter, control))
                .flatten()
                .unwrap_or_else(|| limited::search(&asked, answer.ceiling, meter, control));
            self.offer(&mut answer, found.cutting.as_ref());
            answer.ceiling = answer.ceiling.min(found.ceiling.max(answer.value));
        }
        answer
    }

    /// The best pattern without a limit on copies, and its value.
    fn without_limits(
        &self,
        lying: &[Lying],
        sheet: [Nm; 2],
        meter: &mut Meter,
    ) -> Option<(Option<Cutting>, f64)> {
        let limits = &self.model.limits;
        if limits.stages == u32::MAX && !limits.lengths_matter {
            let mut table = Table::of_sheet(lying, sheet)?;
            table.solve(lying, meter)?;
            Some((table.cutting(lying), table.value()))
        } else {
            let free = self.options.free_last_trim;
            let stages = Stages::of_sheet(lying, sheet, limits, free, meter)?;
            Some((stages.cutting(), stages.value()))
        }
    }

    /// Ceiling and pattern with sides rounded, for when there are too many sums of sides.
    ///
    /// Sides that add up to no more than the sheet's do so as well when all are rounded down, and what
    /// fits when the parts are rounded up and the sheet down does fit.
    fn coarse(&self, answer: &mut Answer, meter: &mut Meter) {
        let unit = self.source.size.map(|side| (side / COARSE_POINTS).max(1));
        let rounded = |up: bool| -> Vec<Lying> {
            let each = self.lying.iter().map(|l| {
                let mut size = l.size;
                for (side, unit) in size.iter_mut().zip(unit) {
                    *side = if up {
                        (*side + unit - 1) / unit
                    } else {
                        *side / unit
                    };
                }
                Lying { size, ..*l }
            });
            each.collect()
        };
        let [x, y] = self.source.size;
        let sheet = [x / unit[0], y / unit[1]];
        // Lengths of cuts mean nothing on a rounded sheet.
        if self.model.limits.lengths_matter {
            return;
        }
        let down = rounded(false);
        if down.iter().all(|l| l.size[0] > 0 && l.size[1] > 0)
            && let Some((_, value)) = self.without_limits(&down, sheet, meter)
        {
            answer.ceiling = answer.ceiling.min(value);
        }
        if let Some((cutting, _)) = self.without_limits(&rounded(true), sheet, meter) {
            self.offer(answer, cutting.as_ref());
        }
    }

    /// Takes `cutting` over, less the copies that there are too many of, if it is better and the saw
    /// can do it.
    fn offer(&self, answer: &mut Answer, cutting: Option<&Cutting>) {
        let Some(cutting) = cutting else {
            return;
        };
        let size = |piece: usize, turned: bool| self.model.pieces[piece].lying(turned);
        let sheet = self.source.size;
        let limits = &self.model.limits;
        let mut tree = CutTree::of(cutting, sheet, &size);
        if let Some(first) = limits.first
            && tree.axis() != Some(first)
        {
            let wrapped = Cutting::Stack(first, vec![cutting.clone()]);
            tree = CutTree::of(&wrapped, sheet, &size);
        }
        let mut counts = vec![0; self.most.len()];
        let mut dead = vec![false; tree.nodes().len()];
        for (i, piece, _) in tree.parts() {
            let count = &mut counts[piece as usize];
            dead[i] = *count >= self.most[piece as usize];
            *count += u32::from(!dead[i]);
        }
        if dead.contains(&true) {
            tree.remove(&dead, sheet, limits, &mut Removal::default());
        }
        let value: f64 = counts
            .iter()
            .zip(&self.values)
            .filter(|(n, _)| **n > 0)
            .map(|(n, value)| f64::from(*n) * value)
            .sum();
        let stages = if self.options.free_last_trim {
            tree.deepest()
        } else {
            tree.stages_needed(Some(sheet))
        };
        if value > answer.value && stages <= limits.stages && tree.lengths_obey(sheet, limits) {
            answer.tree = tree;
            answer.value = value;
        }
    }

    /// A pattern made part by part.
    fn greedy(&self, answer: &mut Answer, meter: &mut Meter) {
        let mut filler = Filler::default();
        let mut orders = fill::orders(self.model);
        let rate = |id: &usize| self.values[*id] / self.model.pieces[*id].area;
        let mut by_rate: Vec<usize> = (0..self.values.len()).collect();
        by_rate.sort_by(|a, b| rate(b).total_cmp(&rate(a)).then(a.cmp(b)));
        orders.push(by_rate);
        for mut order in orders {
            order.retain(|id| self.values[*id] > 0.0);
            let mut board = Board::new(self.index);
            let mut left = self.most.clone();
            filler.fill(self.model, &mut board, &order, &mut left);
            let value = board
                .tree
                .parts()
                .map(|(_, piece, _)| self.values[piece as usize])
                .sum();
            if value > answer.value {
                answer.value = value;
                answer.tree = board.tree;
            }
        }
        meter.spend(filler.work);
    }

    /// The most that copies are worth whose area fits, in fractions.
    fn area_ceiling(&self) -> f64 {
        let mut pieces: Vec<usize> = self.lying.iter().map(|l| l.piece).collect();
        pieces.dedup();
        let rate = |id: &usize| self.values[*id] / self.model.pieces[*id].area;
        pieces.sort_by(|a, b| rate(b).total_cmp(&rate(a)));
        let mut room = area(self.source.size);
        let mut value = 0.0;
        for id in pieces {
            let takes = self.model.pieces[id].area * f64::from(self.most[id]);
            if takes > room {
                return value + rate(&id) * room;
            }
            value += self.values[id] * f64::from(self.most[id]);
            room -= takes;
        }
        value
    }
}

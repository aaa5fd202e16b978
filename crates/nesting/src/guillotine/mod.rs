//! The guillotine search for the panel saw.
//!
//! Parts are sawn to their bounding rectangles; what is finer is finished elsewhere. A first plan is
//! made board by board, then workers look for cheaper sets of boards: they take such a set as a goal,
//! leave out what lay on the boards given up, and let it in again by ruin and recreate on the cut
//! trees. Other runs lower the spend itself, left-overs included, while they give up, exchange and
//! take boards; for a small order the boards they meet are put together anew, exactly. What budget is
//! left makes the most of the left-overs. Once the proven least spend is met, only that is done.
//!
//! Order of aims: least area of parts left out, least spend, the larger single left-over, fewer
//! boards, less cutting.
//!
//! All lengths are whole nanometres inside, so an order that exactly fills a sheet does fit. A cut
//! that takes a part to its size counts as a stage like any other; trims do not. A rest narrower
//! than the blade is a cut all the same: the blade runs out over the edge. **Least strip**: no part
//! may be narrower, and with that no piece that goes on being cut is; a rest that is narrower is
//! scrap, whatever the keep rule says.

mod best_value;
mod cut_tree;
mod cutting;
mod fill;
pub(crate) mod floor;
mod goal;
mod length;
mod limited;
mod master;
mod model;
mod plan;
mod points;
mod pool;
mod ruin;
mod saw_plan;
mod scale;
mod series;
mod staged;
mod stop;
mod taken_up;
#[cfg(test)]
mod tests;
mod two_stage;
mod unlimited;
mod usable;
mod worker;

pub use best_value::{BestValue, BestValueOptions, best_value};
pub(crate) use usable::plain_rectangle;

use crate::{Budget, Control, Nest, NotPlaced, Problem, Progress, SawRules, Why};
use fill::Filler;
use model::Model;
use plan::{Plan, Score};
use rayon::prelude::*;
use stop::Stop;
use worker::Worker;

/// Logical workers. More of them try more goals at a time, but each has less of the budget.
const WORKERS: u64 = 4;

/// The same where boards are of several kinds: exchanging them takes long runs.
const WORKERS_ON_MIXED: u64 = 2;

/// Nodes of cut trees that are looked at in one step, about a microsecond.
const NODES_PER_STEP: u64 = 190;

/// Rounds between which workers tell each other what they found.
const ROUNDS: u64 = 48;

/// Share of the budget that first plans may take together; one is always made.
const ON_FIRST_PLANS: u64 = 8;

/// Share of the budget, as its inverse, that a first plan of a series may take.
const ON_SERIES: u64 = 4;

/// Share of the budget, as its inverse, for the bound by patterns: a search that stands on its floor
/// need not go on.
const ON_FLOOR: u64 = 20;

/// Searches for the nest of least spend within `budget`.
///
/// Sheets are taken as upright rectangles less their trims, remnants as the largest rectangle inside
/// them, by the margin. See the module's page for the order of aims. The `rules` count, whatever the problem's method says.
///
/// # Panics
/// Never on a problem that passes [`Problem::check`].
#[must_use]
pub fn search(problem: &Problem, rules: &SawRules, budget: &Budget, control: &Control) -> Nest {
    search_from(problem, rules, None, budget, control)
}

/// [`search`], going on from `start` where that is better than the first plans made, and can be had as
/// cut trees: a saw with fewer stages than it was made for begins anew.
#[must_use]
pub fn search_from(
    problem: &Problem,
    rules: &SawRules,
    start: Option<&Nest>,
    budget: &Budget,
    control: &Control,
) -> Nest {
    let floor = |steps| crate::bound::least_spend_within(problem, steps);
    search_above(problem, rules, start, budget, control, &floor)
}

/// [`search`], which does not stop where nothing could cost less: for orders whose floor takes longer to prove than it saves.
#[must_use]
pub(crate) fn search_without_floor(
    problem: &Problem,
    rules: &SawRules,
    budget: &Budget,
    control: &Control,
) -> Nest {
    search_above(problem, rules, None, budget, control, &|_| f64::MIN)
}

/// [`search_from`], with a floor of the spend that is proven in so many steps.
fn search_above(
    problem: &Problem,
    rules: &SawRules,
    start: Option<&Nest>,
    budget: &Budget,
    control: &Control,
    floor: &dyn Fn(u64) -> f64,
) -> Nest {
    let model = Model::new(problem, rules);
    let work = budget.steps.saturating_mul(NODES_PER_STEP);
    let stop = Stop::new(control, budget);
    let (plan, score, spent) = first_plan(&model, work / ON_FIRST_PLANS, &stop);
    let given = start.and_then(|nest| taken_up::plan_of(&model, nest));
    let given = given.map(|plan| {
        let score = plan.score(&model);
        (plan, score)
    });
    let (plan, score, spent) = if series::is_series(&model, score.boards) {
        // Patterns take a while; this plan is there now.
        let watch = Watch {
            model: &model,
            control,
            stop: &stop,
            least: floor(0),
        };
        watch.report(0.0, &plan, &score);
        let (better, more) = series::plan(&model, &plan, work / ON_SERIES, &stop);
        let better = better.map(|plan| (plan.score(&model), plan));
        match better.filter(|(new, _)| new.beats(&score)) {
            Some((score, plan)) => (plan, score, spent + more),
            None => (plan, score, spent + more),
        }
    } else {
        (plan, score, spent)
    };
    let (plan, score) = match given {
        Some(given) if !score.beats(&given.1) => given,
        _ => (plan, score),
    };
    let least = floor(budget.steps / ON_FLOOR);
    let watch = Watch {
        model: &model,
        control,
        stop: &stop,
        least,
    };
    watch.report(0.0, &plan, &score);
    let workers = if model.sources.len() > 1 && !series::is_series(&model, score.boards) {
        WORKERS_ON_MIXED
    } else {
        WORKERS
    };
    let share = work.saturating_sub(spent) / workers;
    let plan = if share == 0 || plan.left.is_empty() {
        plan
    } else {
        improve(&watch, budget.seed, workers, share, plan, score)
    };
    nest(&model, &plan)
}

/// The best of several first plans, its score, and the work they took.
fn first_plan(model: &Model, work: u64, stop: &Stop) -> (Plan, Score, u64) {
    let mut filler = Filler::default();
    let mut best: Option<(Plan, Score)> = None;
    for order in fill::orders(model) {
        if best.is_some() && (filler.work >= work || stop.now()) {
            break;
        }
        let plan = filler.construct(model, &order);
        let score = plan.score(model);
        if best.as_ref().is_none_or(|b| score.beats(&b.1)) {
            best = Some((plan, score));
        }
    }
    let (plan, score) = best.unwrap_or_else(|| {
        let plan = Plan::empty(model);
        let score = plan.score(model);
        (plan, score)
    });
    (plan, score, filler.work)
}

/// What progress is told with.
struct Watch<'a> {
    model: &'a Model<'a>,
    control: &'a Control<'a>,
    stop: &'a Stop<'a>,
    least: f64,
}

impl Watch<'_> {
    /// Whether no plan can cost less.
    fn met(&self, plan: &Plan, score: &Score) -> bool {
        let slack = 1e-9 * self.least.abs();
        score.missing == 0.0
            && self.model.refused.is_empty()
            && score.spend - self.parts_scrap(plan) <= self.least + slack
    }

    fn report(&self, done: f64, plan: &Plan, score: &Score) {
        let refused = self.model.refused.iter();
        let refused: u32 = refused
            .map(|(part, _)| self.model.problem.parts[*part].quantity)
            .fold(0, u32::saturating_add);
        self.control.report(Progress {
            done,
            spend: score.spend - self.parts_scrap(plan),
            least_spend: self.least,
            sheets: score.boards,
            missing: plan.left.iter().copied().fold(refused, u32::saturating_add),
        });
    }

    /// Scrap cost that scores count for the parts themselves.
    fn parts_scrap(&self, plan: &Plan) -> f64 {
        let model = self.model;
        let of_board = |board: &plan::Board| {
            let source = &model.sources[board.source];
            let rate = model.problem.stock[source.stock].keep.scrap_cost_per_area;
            if rate == 0.0 {
                return 0.0;
            }
            let parts = board.tree.parts().map(|(_, piece, _)| {
                let part = model.pieces[piece as usize].part;
                model.problem.parts[part].outline.area()
            });
            rate * parts.sum::<f64>()
        };
        plan.boards.iter().map(of_board).sum()
    }
}

/// Lets the workers loose on a first plan.
fn improve(watch: &Watch, seed: u64, workers: u64, share: u64, plan: Plan, score: Score) -> Plan {
    let mut workers: Vec<Worker> = (0..workers)
        .map(|n| Worker::new(watch.model, n, seed, share, plan.clone(), score))
        .collect();
    let (mut plan, mut score) = (plan, score);
    if watch.met(&plan, &score) {
        workers.iter_mut().for_each(Worker::only_left_overs);
    }
    let round = (share / ROUNDS).max(1);
    loop {
        workers
            .par_iter_mut()
            .for_each(|w| w.round(watch.model, round, watch.stop));
        for worker in &workers {
            if worker.score.beats(&score) {
                plan.clone_from(&worker.plan);
                score = worker.score;
            }
        }
        for worker in &mut workers {
            worker.hear(watch.model, &plan, &score);
        }
        if watch.met(&plan, &score) {
            workers.iter_mut().for_each(Worker::only_left_overs);
        }
        let done = workers.iter().map(Worker::done).fold(1.0, f64::min);
        watch.report(done, &plan, &score);
        if watch.stop.now() || workers.iter().all(Worker::finished) {
            return plan;
        }
    }
}

/// Writes the plan out.
fn nest(model: &Model, plan: &Plan) -> Nest {
    let layouts = plan
        .boards
        .iter()
        .filter(|b| !b.tree.is_empty())
        .map(|b| saw_plan::layout(model, &model.sources[b.source], &b.tree))
        .collect();
    let mut not_placed: Vec<NotPlaced> = model
        .refused
        .iter()
        .map(|(part, why)| NotPlaced {
            part: *part,
            quantity: model.problem.parts[*part].quantity,
            why: why.clone(),
        })
        .collect();
    for (piece, left) in model.pieces.iter().zip(&plan.left) {
        if *left > 0 {
            not_placed.push(NotPlaced {
                part: piece.part,
                quantity: *left,
                why: Why::StockUsedUp,
            });
        }
    }
    not_placed.sort_by_key(|n| n.part);
    Nest {
        layouts,
        not_placed,
    }
}

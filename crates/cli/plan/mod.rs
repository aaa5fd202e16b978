//! From a job to a cut plan: one nest per material and machine, put in the order's own words.

mod assemble;
pub(crate) mod bed;
mod board;
mod problem;

use crate::cut_plan::CutPlan;
use crate::given::{Given, GivenSheet};
use crate::input::Process;
use crate::job::Job;
use crate::{Failure, Result};
use board::Board;
use panelwright_nesting::{Budget, Control, Nest, Problem, Progress, nest_from, standing, verify};
use problem::{Posed, StockRef, Used, pose, start};
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::path::Path;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

/// How a job is nested.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanOptions {
    /// Seed of every random choice.
    pub seed: u64,
    /// Work to spend over the whole job, in steps: see [`Budget::steps`].
    pub steps: u64,
    /// Stop after this time; gives up repeatability.
    pub limit: Option<Duration>,
    /// Whether remnants are used.
    pub use_remnants: bool,
    /// Whether parts are set into window cut-outs of other parts.
    pub use_cutouts: bool,
}

impl Default for PlanOptions {
    /// Seed 1, about eight seconds of work on one core, no time limit, remnants and cut-outs used.
    fn default() -> Self {
        Self {
            seed: 1,
            steps: 8_000_000,
            limit: None,
            use_remnants: true,
            use_cutouts: true,
        }
    }
}

/// How the search stands, over the whole job.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Status {
    /// Share of the work done, 0 to 1.
    pub done: f64,
    /// Spend of the best nests so far; `None` until each group has a whole one.
    pub spend: Option<f64>,
    /// Proven least spend.
    pub least_spend: f64,
}

/// Receives a [`Status`] now and then, from any thread.
pub type Watcher<'a> = dyn Fn(Status) + Sync + 'a;

/// The items of one material on one machine.
#[derive(Debug, Clone)]
struct Group {
    material: usize,
    machine: usize,
    items: Vec<usize>,
}

/// A group nested.
struct Done {
    /// Index into the groups.
    index: usize,
    group: Group,
    stock: Vec<StockRef>,
    problem: Problem,
    nest: Nest,
}

/// Nests a job. Every layout in the plan has passed the judge.
///
/// # Errors
/// When a problem makes no sense to the search or the judge refuses its result.
pub fn plan(
    job: &Job,
    options: &PlanOptions,
    cancel: &AtomicBool,
    watch: Option<&Watcher>,
) -> Result<CutPlan> {
    plan_from(job, options, None, cancel, watch)
}

/// [`plan`], going on from an earlier nest: pinned parts stay where they are, and the rest only
/// becomes better, neither dearer nor with more parts left out. What of the nest cannot be taken up
/// is told in [`CutPlan::notes`].
///
/// # Errors
/// As for [`plan`], and when a part is pinned where it cannot be cut.
pub fn plan_from(
    job: &Job,
    options: &PlanOptions,
    given: Option<&Given>,
    cancel: &AtomicBool,
    watch: Option<&Watcher>,
) -> Result<CutPlan> {
    let start = Instant::now();
    let groups = groups(job);
    let weights: Vec<f64> = groups.iter().map(|g| weight(job, g)).collect();
    let whole: f64 = weights.iter().sum();
    let board = Board::new(groups.len(), &weights, watch);
    let run = Run {
        job,
        groups: &groups,
        options,
        given: groups.iter().map(|g| sheets_of(given, g)).collect(),
    };

    // Groups of one material share its stock, so they go one after another; materials share nothing.
    let mut by_material: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for (i, group) in groups.iter().enumerate() {
        by_material.entry(group.material).or_default().push(i);
    }
    let chains: Vec<Vec<usize>> = by_material.into_values().collect();
    let mut notes = Vec::new();
    if let Some(given) = given {
        notes.extend(given.notes.iter().cloned());
        for chain in &chains {
            notes.extend(run.take_up(chain, &given.file)?);
        }
    }

    // First a whole nest of everything, in every order in which the groups of a material may help
    // themselves from its stock; the better order is then searched in depth.
    let share = |steps: f64, i: usize| (steps * weights[i] / whole) as u64;
    let first_steps = |i| {
        share(
            (options.steps as f64 * FIRST_SHARE).min(MOST_FIRST_STEPS),
            i,
        )
    };
    let deadline = options.limit.map(|limit| start + limit);
    let first: Vec<(Vec<Done>, bool)> = chains
        .par_iter()
        .map(|chain| {
            let mut best: Option<(Vec<Done>, bool)> = None;
            // An earlier nest with what it took kept for each group comes first: nothing worse than
            // that is accepted. One order without that shows whether it is worth keeping.
            let tried = if chain.iter().any(|i| !run.given[*i].is_empty()) {
                vec![(chain.clone(), true), (chain.clone(), false)]
            } else {
                let orders = orders(chain).into_iter();
                orders.map(|order| (order, false)).collect()
            };
            for (order, kept) in tried {
                // The first one is finished even when stopped or out of time: a nest that leaves
                // half out helps nobody, and it takes well under a second for a usual order.
                let (control, stopped) = match best {
                    None => (Control::none(), false),
                    Some(_) => (
                        Control::none().with_cancel(cancel).with_deadline(deadline),
                        cancel.load(Ordering::Relaxed),
                    ),
                };
                if stopped {
                    break;
                }
                let done = run.chain(&order, kept, |i, nest| nest(first_steps(i), &control))?;
                if best.as_ref().is_none_or(|(best, _)| better(&done, best)) {
                    best = Some((done, kept));
                }
            }
            Ok(best.unwrap_or_default())
        })
        .collect::<Result<_>>()?;
    for done in first.iter().flat_map(|(done, _)| done) {
        board.found(done);
    }

    let done: Vec<Vec<Done>> = first
        .into_par_iter()
        .map(|(first, kept)| {
            let order: Vec<usize> = first.iter().map(|done| done.index).collect();
            let mine: f64 = order.iter().map(|i| weights[*i]).sum();
            // With a time limit, each group of the chain gets its share of what is left of it.
            let mut gone = 0.0;
            let ends: BTreeMap<usize, Instant> = match options.limit {
                None => BTreeMap::new(),
                Some(limit) => {
                    let left = limit.saturating_sub(start.elapsed());
                    order
                        .iter()
                        .map(|i| {
                            gone += weights[*i] / mine;
                            (*i, Instant::now() + left.mul_f64(gone.min(1.0)))
                        })
                        .collect()
                }
            };
            if cancel.load(Ordering::Relaxed) {
                return Ok(first);
            }
            let deep = run.chain(&order, kept, |i, nest| {
                let listener = |progress: Progress| board.update(i, progress);
                let control = Control::none()
                    .with_cancel(cancel)
                    .with_deadline(ends.get(&i).copied())
                    .with_listener(&listener);
                nest(share(options.steps as f64, i), &control)
            })?;
            Ok(if better(&first, &deep) { first } else { deep })
        })
        .collect::<Result<_>>()?;
    let mut done: Vec<Done> = done.into_iter().flatten().collect();
    done.sort_by_key(|done| done.index);
    let mut plan = assemble::assemble(job, options, done, &run.given);
    plan.notes = notes;
    plan.repeatable &= !cancel.load(Ordering::Relaxed);
    Ok(plan)
}

/// Share of the steps for the first whole nest, per order tried. Larger delays it; smaller judges
/// the orders by luck.
const FIRST_SHARE: f64 = 0.01;

/// Most steps for the first whole nest, per order tried: with a time limit there is no other bound.
const MOST_FIRST_STEPS: f64 = 100_000.0;

/// What all groups of a job have in common while they are nested.
struct Run<'a> {
    job: &'a Job,
    groups: &'a [Group],
    options: &'a PlanOptions,
    /// By group: the sheets of an earlier nest.
    given: Vec<Vec<&'a GivenSheet>>,
}

/// The sheets of an earlier nest that are a group's.
fn sheets_of<'a>(given: Option<&'a Given>, group: &Group) -> Vec<&'a GivenSheet> {
    let sheets = given.iter().flat_map(|g| &g.sheets);
    sheets
        .filter(|s| s.material == group.material && s.machine == group.machine)
        .collect()
}

impl Run<'_> {
    /// Looks at what an earlier nest has for the groups of a material, before any search: tells what
    /// does not stand any more.
    fn take_up(&self, chain: &[usize], file: &Path) -> Result<Vec<String>> {
        let mut notes = Vec::new();
        for &i in chain {
            let (group, given) = (&self.groups[i], &self.given[i]);
            if given.is_empty() {
                continue;
            }
            let mut others = Used::default();
            self.reserve(chain.iter().filter(|j| **j != i), true, &mut others);
            let posed = pose(self.job, group, self.options, &others, given);
            if let Some(number) = posed.lost.first() {
                let machine = &self.job.shop.machines[group.machine].name;
                return Err(Failure::in_file(
                    file,
                    format!("sheet {number}"),
                    format!("it is no longer sawn into the same blanks for the {machine}"),
                    "remove \"pinned\" from its parts",
                ));
            }
            for &(stock, number) in &posed.pinned {
                if let Some(fault) = verify::judge_pinned(&posed.problem, stock, number).first() {
                    return Err(Failure::in_file(
                        file,
                        "",
                        format!("{fault}, and it is pinned"),
                        "move or turn it, or remove \"pinned\"",
                    ));
                }
            }
            let (_, dropped) = standing(&posed.problem, &start(&posed, group, given));
            notes.extend(dropped.iter().map(|d| {
                let number = given[d.layout].number;
                let what = match (d.whole, d.parts.len()) {
                    (true, _) => "it is nested anew".to_owned(),
                    (false, 1) => "a part is nested anew".to_owned(),
                    (false, n) => format!("{n} parts are nested anew"),
                };
                format!("sheet {number} of the nest taken up: {what}: {}", d.why)
            }));
        }
        Ok(notes)
    }

    /// Keeps what an earlier nest took for the groups listed, or only what has pinned parts.
    fn reserve<'i>(&self, groups: impl Iterator<Item = &'i usize>, all: bool, used: &mut Used) {
        for sheet in groups.flat_map(|i| &self.given[*i]) {
            if all || sheet.has_pinned() {
                used.reserve(sheet);
            }
        }
    }

    /// Nests groups one after another; each takes its stock from what those before it left. What an
    /// earlier nest took is `kept` for those after it, or only what has pinned parts is.
    /// `nest_it` is called with a group's index and what nests it, given steps and control.
    fn chain(
        &self,
        order: &[usize],
        kept: bool,
        nest_it: impl Fn(usize, &dyn Fn(u64, &Control) -> Result<Done>) -> Result<Done>,
    ) -> Result<Vec<Done>> {
        let mut used = Used::default();
        let mut all = Vec::new();
        for (k, &i) in order.iter().enumerate() {
            let mut now = used.clone();
            self.reserve(order[k + 1..].iter(), kept, &mut now);
            let done = nest_it(i, &|steps, control| {
                let budget = Budget {
                    seed: self.options.seed,
                    steps,
                    limit: None,
                };
                self.nest_group(i, &now, &budget, control)
            })?;
            used.take(&done);
            all.push(done);
        }
        Ok(all)
    }

    fn nest_group(
        &self,
        index: usize,
        used: &Used,
        budget: &Budget,
        control: &Control,
    ) -> Result<Done> {
        let (job, group, given) = (self.job, &self.groups[index], &self.given[index]);
        let posed = pose(job, group, self.options, used, given);
        let earlier = (!given.is_empty()).then(|| start(&posed, group, given));
        let Posed { problem, stock, .. } = posed;
        let nest = nest_from(&problem, earlier.as_ref(), budget, control).map_err(|e| {
            let material = &job.shop.materials[group.material].name;
            let machine = &job.shop.machines[group.machine].name;
            Failure::new(
                format!("nesting '{material}' on the {machine}"),
                e.to_string(),
                "nothing was written; please report this with the order",
            )
        })?;
        Ok(Done {
            index,
            group: group.clone(),
            stock,
            problem,
            nest,
        })
    }
}

/// Every order of a chain; of more than three groups only the given one and its reverse.
fn orders(chain: &[usize]) -> Vec<Vec<usize>> {
    let reversed: Vec<usize> = chain.iter().rev().copied().collect();
    match *chain {
        [_] => vec![chain.to_vec()],
        [a, b, c] => {
            vec![
                chain.to_vec(),
                vec![a, c, b],
                vec![b, a, c],
                vec![b, c, a],
                vec![c, a, b],
                reversed,
            ]
        }
        _ => vec![chain.to_vec(), reversed],
    }
}

/// Whether one answer of a chain is better than another: fewer copies missing, then less spend.
fn better(a: &[Done], b: &[Done]) -> bool {
    let missing = |all: &[Done]| -> u32 {
        all.iter()
            .flat_map(|d| &d.nest.not_placed)
            .map(|n| n.quantity)
            .sum()
    };
    let spend = |all: &[Done]| -> f64 { all.iter().map(|d| d.nest.spend(&d.problem)).sum() };
    missing(a)
        .cmp(&missing(b))
        .then_with(|| spend(a).total_cmp(&spend(b)))
        .is_lt()
}

/// Items by material and machine, in the order saw, router, laser.
fn groups(job: &Job) -> Vec<Group> {
    let mut groups: BTreeMap<(usize, u8, usize), Vec<usize>> = BTreeMap::new();
    for (i, item) in job.items.iter().enumerate() {
        let rank = match job.machine_of(item).process {
            Process::Saw => 0,
            Process::Router => 1,
            Process::Laser => 2,
        };
        groups
            .entry((item.material, rank, item.machine))
            .or_default()
            .push(i);
    }
    groups
        .into_iter()
        .map(|((material, _, machine), items)| Group {
            material,
            machine,
            items,
        })
        .collect()
}

/// How much of the work a group gets: more parts are harder, but not in proportion.
fn weight(job: &Job, group: &Group) -> f64 {
    let copies: u32 = group.items.iter().map(|i| job.items[*i].quantity).sum();
    f64::from(copies).sqrt()
}

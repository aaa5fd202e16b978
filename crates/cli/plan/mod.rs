//! From a job to a cut plan: one nest per material and machine, put in the order's own words.

mod assemble;
mod board;
mod cause;
mod early;
mod idle_cuts;
mod kit_claims;
mod lots;
mod problem;
mod room;
mod runs;
mod sequence;
mod short;
mod task;
mod zones;

use crate::cut_plan::CutPlan;
use crate::given::Given;
use crate::input::Process;
use crate::job::Job;
use crate::{Failure, Result};
use kit_claims::Pool;
use lots::Lot;
use panelwright_nesting::{Nest, Problem};
use problem::StockRef;
use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::atomic::AtomicBool;
use std::time::Duration;

/// How a job is nested.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanOptions {
    /// Seed of every random choice.
    pub seed: u64,
    /// Work to spend over the whole job, in steps: see [`panelwright_nesting::Budget::steps`].
    pub steps: u64,
    /// Stop after this time; gives up repeatability.
    pub limit: Option<Duration>,
    /// Whether remnants are used.
    pub use_remnants: bool,
    /// Whether parts are set into window cut-outs of other parts.
    pub use_cutouts: bool,
    /// Whether kits being complete early counts for more than spend.
    pub kits_early: bool,
    /// Whether all parts of one material in a kit come from one lot.
    pub one_lot: bool,
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
            kits_early: false,
            one_lot: false,
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

/// So many copies of an item.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Want {
    /// Index into the job's items.
    item: usize,
    quantity: u32,
    /// What is given up last when stock is short: the higher number.
    urgency: i32,
}

impl Want {
    /// Of copies by item, none more urgent than another.
    fn all(copies: impl IntoIterator<Item = (usize, u32)>) -> Vec<Self> {
        let want = |(item, quantity)| Self {
            item,
            quantity,
            urgency: 0,
        };
        copies.into_iter().map(want).collect()
    }
}

/// What is wanted of one material on one machine.
#[derive(Debug, Clone)]
struct Group {
    /// Counted over all groups of the job.
    index: usize,
    material: usize,
    machine: usize,
    wants: Vec<Want>,
}

/// A group nested.
#[derive(Debug, Clone)]
struct Done {
    /// Index into the groups.
    index: usize,
    group: Group,
    stock: Vec<StockRef>,
    problem: Problem,
    nest: Nest,
    /// The [`Pool`] that its copies belong to.
    pool: usize,
    /// The only lot that it took stock of.
    lot: Option<Lot>,
}

/// A line of the order as it is nested: kits, or copies of a single part.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Line {
    /// Index into the job's kits; `None` for a single part.
    kit: Option<usize>,
    priority: i32,
    quantity: u32,
    /// Items, and how many of each one takes.
    parts: Vec<(usize, u32)>,
}

impl Line {
    fn is_kit(&self) -> bool {
        self.kit.is_some()
    }
}

/// The lines of a job in the order of serving: by priority, then kits before single parts, then as
/// the order lists them.
fn lines(job: &Job) -> Vec<Line> {
    let kits = job.kits.iter().enumerate().map(|(i, kit)| Line {
        kit: Some(i),
        priority: kit.priority,
        quantity: kit.quantity,
        parts: kit.parts.clone(),
    });
    let singles = job.singles.iter().map(|single| Line {
        kit: None,
        priority: single.priority,
        quantity: single.quantity,
        parts: vec![(single.item, 1)],
    });
    let mut lines: Vec<Line> = kits.chain(singles).collect();
    lines.sort_by_key(|line| std::cmp::Reverse(line.priority));
    lines
}

/// What lines want together, nothing more urgent than the rest.
fn wants_of(lines: &[Line]) -> Vec<Want> {
    let mut wants: BTreeMap<usize, u32> = BTreeMap::new();
    for line in lines {
        for (item, each) in &line.parts {
            *wants.entry(*item).or_default() += each * line.quantity;
        }
    }
    Want::all(wants)
}

/// A pool for each material: all of its stock.
fn whole_pools(job: &Job) -> Vec<Pool> {
    (0..job.shop.materials.len())
        .map(|material| Pool {
            material,
            kits: None,
        })
        .collect()
}

/// Nests a job. Every layout in the plan has passed the judge.
///
/// With an option of [`PlanOptions`] that costs spend, the job is nested without it as well, so that
/// the plan can tell what it cost; each variant gets the whole of the steps.
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
/// Where stock is short, whole kits by priority still count for more than the number of copies. Copies
/// are given to kits anew, so a copy that stays in its place may have another number.
///
/// # Errors
/// As for [`plan`]; when a part is pinned where it cannot be cut; and with an option that nests lots or
/// batches of kits one by one, which a nest that is taken up has no place in.
pub fn plan_from(
    job: &Job,
    options: &PlanOptions,
    given: Option<&Given>,
    cancel: &AtomicBool,
    watch: Option<&Watcher>,
) -> Result<CutPlan> {
    let mut plan = plan_bare(job, options, given, cancel, watch)?;
    cause::look_closer(&mut plan.missing, job, options);
    Ok(plan)
}

/// [`plan_from`] for those who do not read why parts are missing: that is left as the search tells it.
///
/// # Errors
/// As for [`plan_from`].
pub(crate) fn plan_bare(
    job: &Job,
    options: &PlanOptions,
    given: Option<&Given>,
    cancel: &AtomicBool,
    watch: Option<&Watcher>,
) -> Result<CutPlan> {
    if let Some(given) = given {
        for (option, on) in [
            ("--kits-early", options.kits_early),
            ("--one-lot", options.one_lot),
        ] {
            if on {
                return Err(Failure::in_file(
                    &given.file,
                    "",
                    format!("{option} and --from do not go together"),
                    format!(
                        "leave out {option} to go on from this nest, or --from to nest kits anew with it"
                    ),
                ));
            }
        }
    }
    runs::all(job, options, given, cancel, watch)
}

/// Copies missing, by urgency from the highest.
fn missing(done: &[Done]) -> BTreeMap<Reverse<i32>, u32> {
    let mut missing = BTreeMap::new();
    for one in done {
        for want in &one.group.wants {
            missing.entry(Reverse(want.urgency)).or_default();
        }
        for n in &one.nest.not_placed {
            *missing
                .entry(Reverse(one.group.wants[n.part].urgency))
                .or_default() += n.quantity;
        }
    }
    missing
}

/// What nests cost together.
fn spend(done: &[Done]) -> f64 {
    done.iter().map(|d| d.nest.spend(&d.problem)).sum()
}

/// Whether one answer of a chain is better than another: fewer copies missing, urgent ones first,
/// then less spend.
fn better(a: &[Done], b: &[Done]) -> bool {
    missing(a)
        .cmp(&missing(b))
        .then_with(|| spend(a).total_cmp(&spend(b)))
        .is_lt()
}

/// What is wanted by material and machine, in the order saw, router, laser. Groups are counted over
/// the whole job, those that nothing is wanted of left out.
fn groups(job: &Job, wants: &[Want]) -> Vec<Group> {
    let key = |item: usize| {
        let item = &job.items[item];
        let rank = match job.machine_of(item).process {
            Process::Saw => 0,
            Process::Router => 1,
            Process::Laser => 2,
        };
        (item.material, rank, item.machine)
    };
    let all: BTreeSet<(usize, u8, usize)> = (0..job.items.len()).map(key).collect();
    all.into_iter()
        .enumerate()
        .map(|(index, of_group)| Group {
            index,
            material: of_group.0,
            machine: of_group.2,
            wants: wants
                .iter()
                .filter(|w| w.quantity > 0 && key(w.item) == of_group)
                .copied()
                .collect(),
        })
        .filter(|group| !group.wants.is_empty())
        .collect()
}

/// How much of the work a group gets: more parts are harder, but not in proportion.
fn weight(group: &Group) -> f64 {
    let copies: u32 = group.wants.iter().map(|w| w.quantity).sum();
    f64::from(copies).sqrt()
}

//! From a job to a cut plan: one nest per material and machine, put in the order's own words.

mod assemble;
pub(crate) mod bed;
mod board;
mod cause;
mod early;
mod idle_cuts;
mod kit_claims;
mod lots;
mod problem;
mod room;
mod sequence;
mod short;

use crate::cut_plan::{Choice, CutPlan};
use crate::given::{Given, GivenSheet};
use crate::input::Process;
use crate::job::Job;
use crate::{Failure, Result};
use board::Board;
use early::Way;
use kit_claims::Pool;
use lots::{Lot, Parcel};
use panelwright_nesting::{
    Budget, Control, Nest, NestError, Problem, Progress, Why, nest_from, standing, verify,
};
use problem::{Posed, StockRef, Used, pose, start};
use rayon::prelude::*;
use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};
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
    wants
        .into_iter()
        .map(|(item, quantity)| Want {
            item,
            quantity,
            urgency: 0,
        })
        .collect()
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

/// An answer to a job: nests, and the pools that their copies belong to.
#[derive(Clone)]
struct Answer {
    done: Vec<Done>,
    pools: Vec<Pool>,
    /// What the room of the rack led to.
    full: room::Full,
}

impl Answer {
    /// With no more kept than there is room for.
    fn new(job: &Job, mut done: Vec<Done>, pools: Vec<Pool>) -> Self {
        let full = room::respect(job, &mut done);
        Self { done, pools, full }
    }
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
    let start = Instant::now();
    let lines = lines(job);
    let kits: u32 = job.kits.iter().map(|k| k.quantity).sum();
    let ways = if options.kits_early {
        early::ways(kits, options.use_remnants && !job.shop.remnants.is_empty())
    } else {
        Vec::new()
    };
    // Where what may be kept is limited, the order is nested once more without keeping anything.
    let again = usize::from(!job.shop.room.is_empty());
    let runs = 1 + again + usize::from(options.one_lot) + ways.len();
    // By index over all groups, of which some may have nothing to do.
    let wanted = groups(job, &wants_of(&lines));
    let mut weights = vec![0.0; wanted.iter().map(|g| g.index + 1).max().unwrap_or(0)];
    for group in &wanted {
        weights[group.index] = weight(group);
    }
    let board = Board::new(&weights, runs, watch);
    // Of a time limit, each run gets its share of what those before it left.
    let limit = |run: usize| {
        options.limit.map(|limit| {
            let left = limit.saturating_sub(start.elapsed());
            left / u32::try_from(runs - run).unwrap_or(1)
        })
    };
    let new_only = PlanOptions {
        use_remnants: false,
        ..options.clone()
    };
    let mut task = Task {
        job,
        options,
        cancel,
        board: Some(&board),
        wants: wants_of(&lines),
        used: Used::default(),
        lot: None,
        given,
        promised: &[],
        steps: options.steps,
        most_first_steps: MOST_FIRST_STEPS,
        limit: limit(0),
    };
    let notes = task.take_up()?;
    let mut best = Answer::new(job, task.served(&lines)?, whole_pools(job));
    task.board = None;
    if again > 0 {
        board.next_run();
        if !best.full.unkept.is_empty() {
            task.limit = limit(1);
            for done in task.with_less_room(&lines, &best.full.unkept)? {
                let other = Answer::new(job, done, whole_pools(job));
                if better(&other.done, &best.done) {
                    best = other;
                }
            }
        }
    }
    let mut choices = Vec::new();
    let mut parcels = vec![Parcel { lot: None, lines }];
    if options.one_lot {
        board.next_run();
        task.limit = limit(1 + again);
        let (shared, pools) = lots::share_out(&task, &parcels[0].lines, &best.done)?;
        task.limit = limit(1 + again);
        let done = in_parcels(&task, &shared, |task, lines| task.served(lines))?;
        let by_lot = Answer::new(job, done, pools);
        let lots = shared.iter().filter(|p| p.lot.is_some()).count();
        let result = match lots {
            0 => "no material has more than one lot".to_owned(),
            1 => "1 lot is nested by itself".to_owned(),
            n => format!("{n} lots, each nested by itself"),
        };
        choices.push(choice("--one-lot", result, job, options, &by_lot, &best));
        (best, parcels) = (by_lot, shared);
    }
    if options.kits_early {
        let mut found: Option<(Way, Answer)> = None;
        for (i, way) in ways.iter().enumerate() {
            if cancel.load(Ordering::Relaxed)
                || options.limit.is_some_and(|limit| start.elapsed() >= limit)
            {
                break;
            }
            board.next_run();
            task.limit = limit(runs - ways.len() + i);
            task.options = if way.remnants { options } else { &new_only };
            let done = in_parcels(&task, &parcels, |task, lines| {
                early::in_batches(task, lines, way.size)
            })?;
            let trial = Answer::new(job, done, best.pools.clone());
            let so_far = found.as_ref().map_or(&best, |(_, answer)| answer);
            if earlier(job, &trial, so_far) {
                found = Some((*way, trial));
            }
        }
        let result = match &found {
            None => "nothing tried completes kits earlier".to_owned(),
            Some((way, _)) => way.words(kits),
        };
        let with = found.map_or_else(|| best.clone(), |(_, answer)| answer);
        choices.push(choice("--kits-early", result, job, options, &with, &best));
        best = with;
    }
    let mut plan = assemble::assemble(job, options, &best.done, &best.pools, given);
    plan.notes = notes;
    plan.notes.extend(best.full.notes);
    plan.repeatable &= !cancel.load(Ordering::Relaxed);
    plan.choices = choices;
    Ok(plan)
}

/// Nests parcels one by one, each with its share of the steps and the time.
fn in_parcels(
    task: &Task,
    parcels: &[Parcel],
    nest_it: impl Fn(&Task, &[Line]) -> Result<Vec<Done>>,
) -> Result<Vec<Done>> {
    let copies = |parcel: &Parcel| -> f64 {
        let wants = wants_of(&parcel.lines);
        f64::from(wants.iter().map(|w| w.quantity).sum::<u32>()).sqrt()
    };
    let all: f64 = parcels.iter().map(copies).sum();
    let mut done = Vec::new();
    for parcel in parcels {
        let share = copies(parcel) / all;
        let task = Task {
            wants: wants_of(&parcel.lines),
            lot: parcel.lot.as_ref(),
            ..task.share(share)
        };
        done.extend(nest_it(&task, &parcel.lines)?);
    }
    Ok(done)
}

/// Tells of an option, by the answers with and without it.
fn choice(
    option: &str,
    result: String,
    job: &Job,
    options: &PlanOptions,
    with: &Answer,
    without: &Answer,
) -> Choice {
    let plan = assemble::assemble(job, options, &without.done, &without.pools, None);
    Choice {
        option: option.to_owned(),
        result,
        spend_with: spend(&with.done),
        spend_without: plan.totals.spend,
        missing_with: missing(&with.done).values().sum(),
        missing_without: plan.missing_count(),
        complete_without: plan.sheets.iter().map(|s| s.kits_complete).collect(),
    }
}

/// Whether an answer serves more than another, or serves it earlier, or else costs less.
fn earlier(job: &Job, answer: &Answer, than: &Answer) -> bool {
    let merit = |answer: &Answer| {
        let cutting = assemble::Cutting::new(job, &answer.done, &answer.pools);
        let missing: u32 = missing(&answer.done).values().sum();
        (cutting.open_at_the_end(), missing, cutting.cost())
    };
    merit(answer)
        .cmp(&merit(than))
        .then_with(|| spend(&answer.done).total_cmp(&spend(&than.done)))
        .is_lt()
}

/// Share of the steps for the first whole nest, per order tried. Larger delays it; smaller judges
/// the orders by luck.
const FIRST_SHARE: f64 = 0.01;

/// Most steps for the first whole nest of a whole job, per order tried.
const MOST_FIRST_STEPS: f64 = 100_000.0;

/// The sheets of an earlier nest that are a group's.
fn sheets_of<'a>(given: Option<&'a Given>, group: &Group) -> Vec<&'a GivenSheet> {
    let sheets = given.iter().flat_map(|g| &g.sheets);
    sheets
        .filter(|s| s.material == group.material && s.machine == group.machine)
        .collect()
}

/// Part of a job to be nested in one go.
#[derive(Clone)]
struct Task<'a> {
    job: &'a Job,
    options: &'a PlanOptions,
    cancel: &'a AtomicBool,
    /// Who is told how it goes.
    board: Option<&'a Board<'a>>,
    wants: Vec<Want>,
    /// Stock that is not to be had.
    used: Used,
    /// The only lot to take stock of.
    lot: Option<&'a Lot>,
    /// An earlier nest to go on from; never together with lots or batches.
    given: Option<&'a Given>,
    /// Nests of the urgent copies alone. While others help themselves, their stock is kept back.
    promised: &'a [Done],
    /// Work to spend.
    steps: u64,
    /// Most of it for the first whole nest, per order tried: with a time limit nothing else bounds it.
    most_first_steps: f64,
    /// Time to stop after.
    limit: Option<Duration>,
}

impl Task<'_> {
    /// Looks at what an earlier nest has for each group, before any search: tells what does not stand any
    /// more.
    fn take_up(&self) -> Result<Vec<String>> {
        let Some(Given { file, notes, .. }) = self.given else {
            return Ok(Vec::new());
        };
        let mut notes = notes.clone();
        let groups = groups(self.job, &self.wants);
        for group in &groups {
            let given = &sheets_of(self.given, group);
            if given.is_empty() {
                continue;
            }
            let mut others = Used::default();
            let of_others = |g: &&Group| g.material == group.material && g.index != group.index;
            for other in groups.iter().filter(of_others) {
                self.reserve(other, true, &mut others);
            }
            let posed = pose(self.job, group, self.options, &others, None, given);
            if let Some(number) = posed.lost_sheets().next() {
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
            let earlier = start(&posed, group, given);
            let (_, dropped) = standing(&posed.problem, &earlier);
            notes.extend(dropped.iter().map(|d| {
                let number = given[d.layout].number;
                let gone = earlier.layouts[d.layout].stock >= posed.problem.stock.len();
                if gone && posed.has_stock_of(given[d.layout]) {
                    return format!(
                        "sheet {number} of the nest taken up: it is nested anew: its saw cuts cannot be made any more (kerf, \
                         longest cuts and bed must be as they were)"
                    );
                }
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

    /// Keeps what an earlier nest took for a group, or only what has pinned parts.
    fn reserve(&self, group: &Group, all: bool, used: &mut Used) {
        for sheet in sheets_of(self.given, group) {
            if all || sheet.has_pinned() {
                used.reserve(sheet);
            }
        }
    }

    /// What is wanted, and no fewer copies than are pinned: these are there in any case.
    fn wants_with_pinned(&self) -> Vec<Want> {
        let mut pinned: BTreeMap<usize, u32> = BTreeMap::new();
        let sheets = self.given.iter().flat_map(|g| &g.sheets);
        for part in sheets.flat_map(|s| &s.parts).filter(|p| p.pinned) {
            *pinned.entry(part.item).or_default() += 1;
        }
        let mut wants = self.wants.clone();
        for (item, count) in pinned {
            // Nothing of materials that are not nested now.
            let material = |item: usize| self.job.items[item].material;
            if !wants.iter().any(|w| material(w.item) == material(item)) {
                continue;
            }
            let of_item = wants.iter().filter(|w| w.item == item);
            let wanted: u32 = of_item.map(|w| w.quantity).sum();
            let more = count.saturating_sub(wanted);
            match wants.iter_mut().find(|w| w.item == item) {
                Some(want) => want.quantity += more,
                None => wants.push(Want {
                    item,
                    quantity: more,
                    urgency: 0,
                }),
            }
        }
        wants
    }

    /// The same with a share of the work and the time.
    fn share(&self, share: f64) -> Self {
        Self {
            steps: (self.steps as f64 * share) as u64,
            most_first_steps: self.most_first_steps * share,
            limit: self.limit.map(|limit| limit.mul_f64(share)),
            ..self.clone()
        }
    }

    /// Nests everything that is wanted, whole kits first when stock is short.
    fn served(&self, lines: &[Line]) -> Result<Vec<Done>> {
        let start = Instant::now();
        let mut task = self.clone();
        if short::may_run_short(self) {
            // Time has to be left for what is done then.
            task.limit = self.limit.map(|limit| limit / 2);
        }
        let done = task.run()?;
        task.limit = self
            .limit
            .map(|limit| limit.saturating_sub(start.elapsed()));
        short::whole_kits(&task, lines, done)
    }

    /// Other answers where the rack has no room for what was to be kept of some materials: one that keeps
    /// nothing of these, and an earlier nest as it stands.
    fn with_less_room(&self, lines: &[Line], full: &BTreeSet<usize>) -> Result<Vec<Vec<Done>>> {
        let mut answers = Vec::new();
        if self.given.is_some() {
            let as_it_is = Task {
                steps: 1,
                ..self.clone()
            };
            answers.push(as_it_is.served(lines)?);
        }
        let emptied = room::without_keeping(self.job, full);
        let unkept = Task {
            job: &emptied,
            ..self.clone()
        };
        let mut done = unkept.served(lines)?;
        room::restore_keep_rules(self.job, &mut done);
        answers.push(done);
        Ok(answers)
    }

    /// Area of the stock of a material that the task may take; infinite where any number is to be
    /// had.
    fn stock_area(&self, material: usize) -> f64 {
        let shop = &self.job.shop;
        let name = &shop.materials[material].name;
        let mut area = 0.0;
        for (i, sheet) in shop.sheets.iter().enumerate() {
            let count = self.lot.map_or(sheet.stock, |lot| lot.count(i));
            if sheet.material == *name && count != Some(0) {
                let count = count.map_or(f64::INFINITY, f64::from);
                area += count * sheet.length * sheet.width;
            }
        }
        for (i, remnant) in shop.remnants.iter().enumerate() {
            if self.options.use_remnants
                && remnant.material == *name
                && self.lot.is_none_or(|lot| lot.remnants.contains(&i))
            {
                area += remnant.outline.area();
            }
        }
        area
    }

    /// Whether the area of each material's stock is enough for what is wanted.
    fn has_the_area(&self) -> bool {
        self.wanted_areas()
            .into_iter()
            .all(|(material, area)| area <= self.stock_area(material))
    }

    /// Area wanted, by material.
    fn wanted_areas(&self) -> BTreeMap<usize, f64> {
        let mut wanted: BTreeMap<usize, f64> = BTreeMap::new();
        for want in &self.wants {
            let item = &self.job.items[want.item];
            let area = item.outline.area() * f64::from(want.quantity);
            *wanted.entry(item.material).or_default() += area;
        }
        wanted
    }

    /// Nests everything that is wanted.
    fn run(&self) -> Result<Vec<Done>> {
        let start = Instant::now();
        let groups = groups(self.job, &self.wants_with_pinned());
        let weights: Vec<f64> = groups.iter().map(weight).collect();
        let whole: f64 = weights.iter().sum();

        // Groups of one material share its stock, so they go one after another; materials share
        // nothing.
        let mut by_material: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        for (i, group) in groups.iter().enumerate() {
            by_material.entry(group.material).or_default().push(i);
        }
        let chains: Vec<Vec<usize>> = by_material.into_values().collect();

        // First a whole nest of everything, in every order in which the groups of a material may
        // help themselves from its stock; the better order is then searched in depth.
        let share = |steps: f64, i: usize| (steps * weights[i] / whole) as u64;
        let first_steps = |i| share((self.steps as f64 * FIRST_SHARE).min(MOST_FIRST_STEPS), i);
        let deadline = self.limit.map(|limit| start + limit);
        let first: Vec<(Vec<Done>, bool)> = chains
            .par_iter()
            .map(|chain| {
                let mut best: Option<(Vec<Done>, bool)> = None;
                // An earlier nest with what it took kept for each group comes first: nothing worse
                // than that is accepted. One order without that shows whether it is worth keeping.
                let given = |i: &usize| !sheets_of(self.given, &groups[*i]).is_empty();
                let tried = if chain.iter().any(given) {
                    vec![(chain.clone(), true), (chain.clone(), false)]
                } else {
                    let orders = orders(chain).into_iter();
                    orders.map(|order| (order, false)).collect()
                };
                for (order, kept) in tried {
                    let mut control = Control::none()
                        .with_cancel(self.cancel)
                        .with_deadline(deadline);
                    if best.is_none() {
                        // Even when stopped or out of time: a nest that leaves half out helps nobody.
                        control = control.with_whole_first();
                    } else if self.cancel.load(Ordering::Relaxed) {
                        break;
                    }
                    let done = self.chain(&groups, &order, kept, |i, nest| {
                        nest(first_steps(i), &control)
                    })?;
                    if best.as_ref().is_none_or(|(best, _)| better(&done, best)) {
                        best = Some((done, kept));
                    }
                }
                Ok(best.unwrap_or_default())
            })
            .collect::<Result<_>>()?;
        if let Some(board) = self.board {
            for done in first.iter().flat_map(|(done, _)| done) {
                board.found(done);
            }
        }

        let done: Vec<Vec<Done>> = first
            .into_par_iter()
            .map(|(first, kept)| {
                let place = |index: usize| groups.iter().position(|g| g.index == index);
                let order: Vec<usize> = first.iter().filter_map(|d| place(d.index)).collect();
                let mine: f64 = order.iter().map(|i| weights[*i]).sum();
                // With a time limit, each group of the chain gets its share of what is left of it.
                let mut gone = 0.0;
                let ends: BTreeMap<usize, Instant> = match self.limit {
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
                if self.cancel.load(Ordering::Relaxed) {
                    return Ok(first);
                }
                let deep = self.chain(&groups, &order, kept, |i, nest| {
                    let listener = |progress: Progress| {
                        if let Some(board) = self.board {
                            board.update(groups[i].index, progress);
                        }
                    };
                    let control = Control::none()
                        .with_cancel(self.cancel)
                        .with_deadline(ends.get(&i).copied())
                        .with_listener(&listener);
                    nest(share(self.steps as f64, i), &control)
                })?;
                Ok(if better(&first, &deep) { first } else { deep })
            })
            .collect::<Result<_>>()?;
        let mut done: Vec<Done> = done.into_iter().flatten().collect();
        done.sort_by_key(|done| done.index);
        Ok(done)
    }

    /// Nests groups one after another; each takes its stock from what those before it left. What
    /// an earlier nest took is `kept` for those after it, or only what has pinned parts is.
    /// `nest_it` is called with a group's place and what nests it, given steps and control.
    fn chain(
        &self,
        groups: &[Group],
        order: &[usize],
        kept: bool,
        nest_it: impl Fn(usize, &dyn Fn(u64, &Control) -> Result<Done>) -> Result<Done>,
    ) -> Result<Vec<Done>> {
        let mut used = self.used.clone();
        let mut all: Vec<Done> = Vec::new();
        for (turn, &i) in order.iter().enumerate() {
            // What later groups have been promised or have from before is not there for this one.
            let mut open = used.clone();
            for later in &order[turn + 1..] {
                let of_it = |d: &&Done| d.index == groups[*later].index;
                let (mut promised, mut before) = (Used::default(), Used::default());
                for done in self.promised.iter().filter(of_it) {
                    promised.take(done);
                }
                self.reserve(&groups[*later], kept, &mut before);
                open.take_either(&promised, &before);
            }
            let done = nest_it(i, &|steps, control| {
                self.nest_group(&groups[i], &open, steps, control)
            })?;
            used.take(&done);
            all.push(done);
        }
        Ok(all)
    }

    fn nest_group(
        &self,
        group: &Group,
        used: &Used,
        steps: u64,
        control: &Control,
    ) -> Result<Done> {
        let budget = Budget {
            seed: self.options.seed,
            steps,
            limit: None,
        };
        let given = sheets_of(self.given, group);
        let posed = pose(self.job, group, self.options, used, self.lot, &given);
        let earlier = (!given.is_empty()).then(|| start(&posed, group, &given));
        let Posed { problem, stock, .. } = posed;
        let failed = |e: NestError| {
            let material = &self.job.shop.materials[group.material].name;
            let machine = &self.job.shop.machines[group.machine].name;
            Failure::new(
                format!("nesting '{material}' on the {machine}"),
                e.to_string(),
                "nothing was written; please report this with the order",
            )
        };
        let nest = nest_from(&problem, earlier.as_ref(), &budget, control).map_err(failed)?;
        let done = Done {
            index: group.index,
            group: group.clone(),
            stock,
            problem,
            nest,
            pool: self.lot.map_or(group.material, |lot| lot.pool),
            lot: self.lot.cloned(),
        };
        let (mut done, replaced) = short::kept(done, self.promised);
        if replaced {
            // There may be room for more beside what was promised, on the stock that is kept for that.
            let mut problem = done.problem.clone();
            for (supply, pieces) in problem.supplies.iter_mut().enumerate() {
                let of_it = |stock: usize| done.problem.stock[stock].supply == supply;
                let taken = done.nest.layouts.iter().filter(|l| of_it(l.stock));
                *pieces = u32::try_from(taken.count()).ok();
            }
            let nest = nest_from(&problem, Some(&done.nest), &budget, control);
            done.nest = nest.map_err(failed)?;
        }
        let machine = &self.job.shop.machines[group.machine];
        idle_cuts::leave_out(machine, &mut done.problem, &mut done.stock, &mut done.nest);
        // What fits on nothing that is left may fit on what is taken.
        for missing in &mut done.nest.not_placed {
            if !matches!(missing.why, Why::StockUsedUp | Why::Stopped) {
                let mut one = group.clone();
                one.wants = vec![Want {
                    quantity: 1,
                    ..group.wants[missing.part]
                }];
                let all = pose(self.job, &one, self.options, &Used::default(), None, &[]);
                let alone = panelwright_nesting::nest(
                    &all.problem,
                    &Budget { steps: 1, ..budget },
                    &Control::none(),
                );
                if alone.map_err(failed)?.not_placed.is_empty() {
                    missing.why = Why::StockUsedUp;
                }
            }
        }
        Ok(done)
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

//! The runs of a job: plainly first, then whatever its options and the room of the rack ask for, each a nest of the whole job
//! that is held against the best one so far.

use super::board::Board;
use super::early::{self, Way};
use super::kit_claims::Pool;
use super::lots::{self, Parcel};
use super::problem::Used;
use super::task::{MOST_FIRST_STEPS, Task};
use super::{
    Done, Line, PlanOptions, Watcher, assemble, better, groups, missing, room, spend, wants_of,
    weight, whole_pools,
};
use crate::Result;
use crate::cut_plan::{Choice, CutPlan};
use crate::given::Given;
use crate::job::Job;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

/// An answer to a job: nests, and the pools that their copies belong to.
#[derive(Clone)]
pub(super) struct Answer {
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

/// The clock of all runs: each gets its share of what those before it left of the time.
struct Clock {
    begin: Instant,
    /// For all runs together.
    limit: Option<Duration>,
    /// Runs in all, and those that are over.
    runs: u32,
    over: u32,
}

impl Clock {
    /// What the run under way may still take.
    fn limit(&self) -> Option<Duration> {
        let left = self.limit?.saturating_sub(self.begin.elapsed());
        Some(left / (self.runs - self.over).max(1))
    }

    /// Whether there is no time left for another run.
    fn is_over(&self) -> bool {
        let limit = self.limit;
        limit.is_some_and(|limit| self.begin.elapsed() >= limit)
    }
}

/// A job nested in one way after another.
pub(super) struct Runs<'a> {
    task: Task<'a>,
    board: &'a Board<'a>,
    clock: Clock,
    /// The ways to nest kits early.
    ways: Vec<Way>,
    /// The order, by the lots that it is cut from.
    parcels: Vec<Parcel>,
    best: Answer,
    choices: Vec<Choice>,
}

/// Nests a job in all the ways that its options ask for; told to `watch` as one search.
///
/// # Errors
/// As for [`super::plan_from`].
pub(super) fn all(
    job: &Job,
    options: &PlanOptions,
    given: Option<&Given>,
    cancel: &AtomicBool,
    watch: Option<&Watcher>,
) -> Result<CutPlan> {
    let begin = Instant::now();
    let lines = super::lines(job);
    let wants = wants_of(&lines);
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
    let wanted = groups(job, &wants);
    let mut weights = vec![0.0; wanted.iter().map(|g| g.index + 1).max().unwrap_or(0)];
    for group in &wanted {
        weights[group.index] = weight(group);
    }
    let board = Board::new(&weights, runs, watch);
    let clock = Clock {
        begin,
        limit: options.limit,
        runs: u32::try_from(runs).unwrap_or(u32::MAX),
        over: 0,
    };
    let mut task = Task {
        job,
        options,
        cancel,
        board: Some(&board),
        wants,
        used: Used::default(),
        lot: None,
        given,
        promised: &[],
        steps: options.steps,
        most_first_steps: MOST_FIRST_STEPS,
        limit: clock.limit(),
    };
    let notes = task.take_up()?;
    let best = Answer::new(job, task.served(&lines)?, whole_pools(job));
    // What follows tells of itself only that it is over.
    task.board = None;
    let mut runs = Runs {
        task,
        board: &board,
        clock,
        ways,
        parcels: vec![Parcel { lot: None, lines }],
        best,
        choices: Vec::new(),
    };
    if again > 0 {
        runs.with_less_room()?;
    }
    if options.one_lot {
        runs.by_lot()?;
    }
    if options.kits_early {
        runs.kits_early(kits)?;
    }
    let Answer { done, pools, full } = runs.best;
    let mut plan = assemble::assemble(job, options, &done, &pools, given);
    plan.notes = notes;
    plan.notes.extend(full.notes);
    plan.repeatable &= !cancel.load(Ordering::Relaxed);
    plan.choices = runs.choices;
    Ok(plan)
}

impl Runs<'_> {
    /// Begins the next run.
    fn next(&mut self) {
        self.clock.over += 1;
        self.board.next_run();
        self.task.limit = self.clock.limit();
    }

    /// Where the rack has no room for what was to be kept: nothing kept of these materials, if that costs less.
    fn with_less_room(&mut self) -> Result<()> {
        self.next();
        if self.best.full.unkept.is_empty() {
            return Ok(());
        }
        let job = self.task.job;
        let lines = &self.parcels[0].lines;
        for done in self.task.with_less_room(lines, &self.best.full.unkept)? {
            let other = Answer::new(job, done, whole_pools(job));
            if better(&other.done, &self.best.done) {
                self.best = other;
            }
        }
        Ok(())
    }

    /// Every kit from one lot of each material.
    fn by_lot(&mut self) -> Result<()> {
        self.next();
        let job = self.task.job;
        let (shared, pools) = lots::share_out(&self.task, &self.parcels[0].lines, &self.best.done)?;
        // Finding the shares took time.
        self.task.limit = self.clock.limit();
        let done = in_parcels(&self.task, &shared, |task, lines| task.served(lines))?;
        let by_lot = Answer::new(job, done, pools);
        let result = match shared.iter().filter(|p| p.lot.is_some()).count() {
            0 => "no material has more than one lot".to_owned(),
            1 => "1 lot is nested by itself".to_owned(),
            n => format!("{n} lots, each nested by itself"),
        };
        self.choose("--one-lot", result, by_lot);
        self.parcels = shared;
        Ok(())
    }

    /// Kit after kit, in the way that completes them earliest; `kits` are there in all.
    fn kits_early(&mut self, kits: u32) -> Result<()> {
        let Task {
            job,
            options,
            cancel,
            ..
        } = self.task;
        let new_only = PlanOptions {
            use_remnants: false,
            ..options.clone()
        };
        let mut found: Option<(Way, Answer)> = None;
        for way in std::mem::take(&mut self.ways) {
            if cancel.load(Ordering::Relaxed) || self.clock.is_over() {
                break;
            }
            self.next();
            let task = Task {
                options: if way.remnants { options } else { &new_only },
                ..self.task.clone()
            };
            let done = in_parcels(&task, &self.parcels, |task, lines| {
                early::in_batches(task, lines, way.size)
            })?;
            let trial = Answer::new(job, done, self.best.pools.clone());
            let so_far = found.as_ref().map_or(&self.best, |(_, answer)| answer);
            if earlier(job, &trial, so_far) {
                found = Some((way, trial));
            }
        }
        match found {
            None => {
                let result = "nothing tried completes kits earlier".to_owned();
                self.choose("--kits-early", result, self.best.clone());
            }
            Some((way, answer)) => self.choose("--kits-early", way.words(kits), answer),
        }
        Ok(())
    }

    /// Goes on with what an option led to, and tells what it cost.
    fn choose(&mut self, option: &str, result: String, with: Answer) {
        let Task { job, options, .. } = self.task;
        let choice = choice(option, result, job, options, &with, &self.best);
        self.choices.push(choice);
        self.best = with;
    }
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

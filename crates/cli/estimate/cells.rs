//! The cells of the table: every one is nested, material by material, and takes the least total of what was
//! found.
//!
//! Materials share no stock, so each is nested by itself, for each quantity and for each number of remnants
//! from none to all, in the order of the rack; the least total counts. So one remnant more at the end of the
//! rack only adds a choice, and the estimate never rises by it. A quantity may also be put together from
//! smaller ones, the rest of it on new sheets, and be made as the next larger one where that costs less, so
//! that totals never fall as the quantity rises.

use super::choice::One;
use super::cost::{self, Cost, Line};
use super::money::Money;
use super::work::Work;
use crate::cut_plan::CutPlan;
use crate::job::Job;
use crate::plan::{PlanOptions, plan};
use crate::rates::Rates;
use crate::{Failure, Result};
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

/// Most remnants of a material that are added one by one; of a longer rack the first ones come together.
/// Each is a nest of its own, so more would keep people waiting.
const MOST_STEPS: usize = 12;

/// How cells are nested.
#[derive(Debug, Clone, Copy)]
pub struct Effort {
    /// Seed of every random choice.
    pub seed: u64,
    /// Steps of each nest.
    pub steps: u64,
}

/// A nest of one material.
#[derive(Debug)]
pub struct Nested {
    /// As judged.
    pub plan: CutPlan,
    /// What it asks for.
    pub work: Work,
    /// How many of the estimate's ones it makes.
    pub quantity: u32,
    /// Remnants it had to choose from.
    pub remnants: usize,
    /// What it costs, set-ups included.
    total: Money,
    /// What it costs without set-ups: these are made once, however many nests are cut together.
    running: Money,
}

impl Nested {
    /// Whether every part is placed.
    fn is_whole(&self) -> bool {
        self.plan.missing.is_empty()
    }
}

/// Nests of one material cut together for a quantity.
pub type Pieces = Vec<Arc<Nested>>;

/// The answer for one cell: with the rack, or on new sheets only.
#[derive(Debug, Clone)]
pub struct Answer {
    /// The quantity it is made as: as asked, or more where that costs less.
    pub made: u32,
    /// Lines and times.
    pub cost: Cost,
    /// By index of the material.
    pub work: BTreeMap<usize, Work>,
    /// By index of the material.
    pub pieces: BTreeMap<usize, Pieces>,
    /// Sheets, remnants, offcuts, scrap: what the search lowers.
    pub material: Money,
    /// What no plan can spend less than on material.
    pub floor: Money,
}

impl Answer {
    /// The cost.
    #[must_use]
    pub fn total(&self) -> Money {
        self.cost.total()
    }

    /// How much the material is above its floor at most, as a share of the floor; `None` where the floor is
    /// nothing.
    #[must_use]
    pub fn above_floor(&self) -> Option<f64> {
        let floor = self.floor.to_f64();
        (floor > 0.005).then(|| (self.material.to_f64() / floor - 1.0).max(0.0))
    }
}

/// One cell.
#[derive(Debug, Clone)]
pub struct Cell {
    /// As asked.
    pub quantity: u32,
    /// With what is on the rack.
    pub rack: Answer,
    /// On new sheets only; `None` where some part fits on a remnant alone.
    pub new: Option<Answer>,
}

/// A choice to be estimated: the order with its materials, or why it cannot be made so.
pub type Choice = Result<Job>;

/// What is wanted of one material: its index, items and how many go into one.
type Wanted = (usize, Vec<(usize, u32)>);

/// Nests of what is wanted, by quantity: one for each number of remnants.
type Found = BTreeMap<u32, Vec<Arc<Nested>>>;

/// Fills the cells of all choices; a choice that cannot be made keeps its reason.
///
/// `tell` hears how many nests are done, of how many.
///
/// # Errors
/// When a nest fails, which is a fault of the program.
pub fn fill(
    choices: &[Choice],
    one: &One,
    quantities: &[u32],
    rates: &Rates,
    effort: Effort,
    cancel: &AtomicBool,
    tell: &(dyn Fn(usize, usize) + Sync),
) -> Result<Vec<Result<Vec<Cell>>>> {
    let mut wanted: BTreeMap<Wanted, &Job> = BTreeMap::new();
    for job in choices.iter().flatten() {
        for want in wants(job, one) {
            wanted.entry(want).or_insert(job);
        }
    }
    let tasks = tasks(&wanted, quantities);
    let done = AtomicUsize::new(0);
    let count = tasks.len();
    let nested = tasks
        .into_par_iter()
        .filter(|task| task.asked || !cancel.load(Ordering::Relaxed))
        .map(|task| {
            let nested = task.nest(one, rates, effort, cancel)?;
            tell(done.fetch_add(1, Ordering::Relaxed) + 1, count);
            Ok((task.want, task.quantity, nested))
        })
        .collect::<Result<Vec<_>>>()?;
    let mut found: BTreeMap<&Wanted, Found> = BTreeMap::new();
    for (want, quantity, nested) in nested {
        let by_quantity = found.entry(want).or_default();
        by_quantity
            .entry(quantity)
            .or_default()
            .push(Arc::new(nested));
    }
    Ok(choices
        .iter()
        .map(|choice| match choice {
            Ok(job) => cells(job, one, quantities, rates, &found),
            Err(failure) => Err(failure.clone()),
        })
        .collect())
}

/// Numbers of remnants to try: none, and then one more each time.
fn steps(on_rack: usize) -> Vec<usize> {
    let first = on_rack.saturating_sub(MOST_STEPS) + 1;
    std::iter::once(0).chain(first..=on_rack).collect()
}

/// What one of the estimate wants, by material.
fn wants(job: &Job, one: &One) -> Vec<Wanted> {
    let mut all: BTreeMap<usize, BTreeMap<usize, u32>> = BTreeMap::new();
    let mut add = |item: usize, n: u32| {
        if n > 0 {
            let of_material = all.entry(job.items[item].material).or_default();
            *of_material.entry(item).or_default() += n;
        }
    };
    for (kit, n) in job.kits.iter().zip(&one.kits) {
        for (item, each) in &kit.parts {
            add(*item, each * n);
        }
    }
    for (single, n) in job.singles.iter().zip(&one.singles) {
        add(single.item, *n);
    }
    all.into_iter()
        .map(|(material, items)| (material, items.into_iter().collect()))
        .collect()
}

/// A nest that is to be made.
struct Task<'a> {
    want: &'a Wanted,
    job: &'a Job,
    quantity: u32,
    /// How many of the material's remnants it may choose from.
    remnants: usize,
    /// Whether some cell needs it: that on new sheets, and that with all of the rack.
    asked: bool,
}

impl Task<'_> {
    /// Copies of all parts in it.
    fn copies(&self) -> u64 {
        let of_one: u32 = self.want.1.iter().map(|(_, n)| n).sum();
        u64::from(of_one) * u64::from(self.quantity)
    }

    fn nest(
        &self,
        one: &One,
        rates: &Rates,
        effort: Effort,
        cancel: &AtomicBool,
    ) -> Result<Nested> {
        let (material, quantity) = (self.want.0, self.quantity);
        let part = one.job(self.job, quantity, Some(material), Some(self.remnants));
        let options = PlanOptions {
            seed: effort.seed,
            steps: effort.steps,
            ..PlanOptions::default()
        };
        let plan = plan(&part, &options, cancel, None)?;
        let work = Work::of_plan(&plan, &part, rates.one_person_kg.value).remove(&material);
        let work = work.unwrap_or_default();
        let kits = kits(one, quantity);
        let cost = cost::of_work(&work, material, &self.job.shop, rates, kits);
        let total = cost.total();
        Ok(Nested {
            running: total - cost.line(Line::SetUps),
            total,
            plan,
            work,
            quantity,
            remnants: self.remnants,
        })
    }
}

/// The nests that the cells are made of.
fn tasks<'a>(wanted: &'a BTreeMap<Wanted, &'a Job>, quantities: &[u32]) -> Vec<Task<'a>> {
    let mut tasks = Vec::new();
    for (want, job) in wanted {
        let material = &job.shop.materials[want.0].name;
        let remnants = job.shop.remnants.iter();
        let on_rack = remnants.filter(|r| r.material == *material).count();
        for &quantity in quantities {
            tasks.extend(steps(on_rack).into_iter().map(|remnants| Task {
                want,
                job,
                quantity,
                remnants,
                asked: remnants == 0 || remnants == on_rack,
            }));
        }
    }
    // What every cell needs comes first: once that is there, the rest can be left out. Then the long ones, so that no core
    // waits for the last.
    tasks.sort_by_key(|task| std::cmp::Reverse((task.asked, task.copies())));
    tasks
}

/// Kits to pack; single parts alone are packed as one.
fn kits(one: &One, quantity: u32) -> u32 {
    one.kit_count().max(1).saturating_mul(quantity)
}

/// The cells of one choice.
fn cells(
    job: &Job,
    one: &One,
    quantities: &[u32],
    rates: &Rates,
    found: &BTreeMap<&Wanted, Found>,
) -> Result<Vec<Cell>> {
    let wants = wants(job, one);
    for want in &wants {
        for nests in found[want].values() {
            refuse_missing(nests, job)?;
        }
    }
    let mut cells = Vec::new();
    for &quantity in quantities {
        let answer = |rack: bool| {
            let mut pieces = BTreeMap::new();
            for want in &wants {
                let all = candidates(&found[want], quantity, rack);
                let cost = |p: &Pieces| cost_of(p, want.0, job, one, quantity, rates).total();
                pieces.insert(want.0, all.into_iter().min_by_key(cost)?);
            }
            let floor = wants
                .iter()
                .map(|want| floor(&found[want][&quantity], rack))
                .sum();
            Some(put_together(pieces, floor, job, one, quantity, rates))
        };
        // The rack is an offer: new sheets alone are always a choice too.
        let (new, rack) = (answer(false), answer(true));
        let Some(rack) = rack.or_else(|| new.clone()) else {
            let what = format!("a quantity of {quantity} cannot be nested");
            return Err(Failure::new("estimate", what, "raise the effort"));
        };
        cells.push(Cell {
            quantity,
            rack,
            new,
        });
    }
    // From the largest down: a quantity may be made as the next larger one, what is over goes to stock.
    for i in (1..cells.len()).rev() {
        let (smaller, larger) = cells.split_at_mut(i);
        let (smaller, larger) = (&mut smaller[i - 1], &larger[0]);
        take_if_less(&mut smaller.rack, &larger.rack);
        if let (Some(smaller), Some(larger)) = (&mut smaller.new, &larger.new) {
            take_if_less(smaller, larger);
        }
    }
    Ok(cells)
}

/// Takes another answer where it costs less; the floor stays that of what was asked.
fn take_if_less(answer: &mut Answer, other: &Answer) {
    if other.total() < answer.total() {
        *answer = Answer {
            floor: answer.floor,
            ..other.clone()
        };
    }
}

/// Parts that fit on nothing that is sold or stands on the rack make a choice impossible.
fn refuse_missing(nests: &[Arc<Nested>], job: &Job) -> Result<()> {
    // What needs a remnant to fit on is left out of nests on fewer of them.
    if nests.iter().any(|n| n.is_whole()) {
        return Ok(());
    }
    let Some(missing) = nests.last().and_then(|n| n.plan.missing.first()) else {
        return Ok(());
    };
    let item = &job.items[missing.item];
    let material = &job.material_of(item).name;
    let what = format!("it cannot be cut from '{material}': {}", missing.why);
    let advice = "offer a larger sheet, or leave this material out";
    Err(Failure::new(format!("part '{}'", item.part), what, advice))
}

/// Ways to make a quantity of one material's parts.
fn candidates(found: &Found, quantity: u32, rack: bool) -> Vec<Pieces> {
    let choice = |nests: &[Arc<Nested>]| {
        let of = nests
            .iter()
            .filter(|n| n.is_whole() && (rack || n.remnants == 0));
        of.min_by_key(|n| (n.total, n.remnants)).cloned()
    };
    let own = found.get(&quantity).and_then(|nests| choice(nests));
    let mut all: Vec<Pieces> = own.into_iter().map(|n| vec![n]).collect();
    // From smaller quantities: one of them with the rack, the others on new sheets.
    let new = NewSheets::new(found, quantity);
    let composed = found
        .range(..=quantity)
        .filter_map(|(_, nests)| choice(nests))
        .filter_map(|first| Some((new.least(quantity - first.quantity)? + first.running, first)))
        .min_by_key(|(sum, first)| (*sum, first.quantity));
    all.extend(composed.map(|(_, first)| {
        let mut pieces = vec![first.clone()];
        pieces.extend(new.pieces(quantity - first.quantity));
        pieces
    }));
    all
}

/// Quantities put together from nests on new sheets.
struct NewSheets<'a> {
    nests: Vec<&'a Arc<Nested>>,
    /// By quantity: the least running cost and the nest it ends with; `None` for what they do not add up to.
    least: Vec<Option<(Money, usize)>>,
}

impl<'a> NewSheets<'a> {
    fn new(found: &'a Found, most: u32) -> Self {
        let nests: Vec<&Arc<Nested>> = found
            .values()
            .filter_map(|nests| nests.iter().find(|n| n.remnants == 0 && n.is_whole()))
            .collect();
        let mut least: Vec<Option<(Money, usize)>> = vec![Some((Money::ZERO, 0))];
        for n in 1..=most {
            let ways = nests.iter().enumerate().filter(|(_, c)| c.quantity <= n);
            let best = ways.filter_map(|(i, c)| {
                let (sum, _) = least[(n - c.quantity) as usize]?;
                Some((sum + c.running, i))
            });
            least.push(best.min());
        }
        Self { nests, least }
    }

    fn least(&self, quantity: u32) -> Option<Money> {
        self.least[quantity as usize].map(|(sum, _)| sum)
    }

    fn pieces(&self, mut quantity: u32) -> Pieces {
        let mut pieces = Vec::new();
        while quantity > 0 {
            let Some((_, nest)) = self.least[quantity as usize] else {
                break;
            };
            pieces.push(self.nests[nest].clone());
            quantity -= self.nests[nest].quantity;
        }
        pieces
    }
}

fn cost_of(
    pieces: &Pieces,
    material: usize,
    job: &Job,
    one: &One,
    quantity: u32,
    rates: &Rates,
) -> Cost {
    let work = work_of(pieces);
    cost::of_work(&work, material, &job.shop, rates, kits(one, quantity))
}

fn work_of(pieces: &Pieces) -> Work {
    let mut work = Work::default();
    pieces.iter().for_each(|piece| work.add(&piece.work));
    work
}

/// What the material of a quantity costs at least: proven for its own nest, whatever it is made of in the end.
fn floor(nests: &[Arc<Nested>], rack: bool) -> Money {
    let nest = if rack { nests.last() } else { nests.first() };
    nest.map_or(Money::ZERO, |n| Money::of(n.plan.totals.least_spend))
}

fn put_together(
    pieces: BTreeMap<usize, Pieces>,
    floor: Money,
    job: &Job,
    one: &One,
    quantity: u32,
    rates: &Rates,
) -> Answer {
    let mut cost = Cost::default();
    let mut work = BTreeMap::new();
    for (material, pieces) in &pieces {
        cost.add(cost_of(pieces, *material, job, one, quantity, rates));
        work.insert(*material, work_of(pieces));
    }
    cost.add(cost::of_kits(rates, kits(one, quantity)));
    let material = [
        Line::Sheets,
        Line::Remnants,
        Line::Offcuts,
        Line::Disposal,
        Line::Recycling,
    ];
    Answer {
        made: quantity,
        material: material.into_iter().map(|line| cost.line(line)).sum(),
        cost,
        work,
        pieces,
        floor,
    }
}

//! Part of a job nested in one go: its groups one after another, each on what those before it left.

use super::board::Board;
use super::lots::Lot;
use super::problem::{Posed, Used, pose, start};
use super::{Done, Group, Line, PlanOptions, Want, better, groups, idle_cuts, room, short, weight};
use crate::given::{Given, GivenSheet};
use crate::job::Job;
use crate::{Failure, Result};
use panelwright_nesting::{Budget, Control, NestError, Progress, Why, nest_from, standing, verify};
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

/// Share of the steps for the first whole nest, per order tried. Larger delays it; smaller judges
/// the orders by luck.
const FIRST_SHARE: f64 = 0.01;

/// Most steps for the first whole nest of a whole job, per order tried.
pub(super) const MOST_FIRST_STEPS: f64 = 100_000.0;

/// How the groups of a material are begun.
struct Begun {
    /// The order in which they help themselves, as places among all groups.
    order: Vec<usize>,
    /// Whether what an earlier nest took is kept for those after.
    kept: bool,
    /// First whole nests, where any were made.
    nests: Option<Vec<Done>>,
}

/// Part of a job to be nested in one go.
#[derive(Clone)]
pub(super) struct Task<'a> {
    pub(super) job: &'a Job,
    pub(super) options: &'a PlanOptions,
    pub(super) cancel: &'a AtomicBool,
    /// Who is told how it goes.
    pub(super) board: Option<&'a Board<'a>>,
    pub(super) wants: Vec<Want>,
    /// Stock that is not to be had.
    pub(super) used: Used,
    /// The only lot to take stock of.
    pub(super) lot: Option<&'a Lot>,
    /// An earlier nest to go on from; never together with lots or batches.
    pub(super) given: Option<&'a Given>,
    /// Nests of the urgent copies alone. While others help themselves, their stock is kept back.
    pub(super) promised: &'a [Done],
    /// Work to spend.
    pub(super) steps: u64,
    /// Most of it for the first whole nest, per order tried: with a time limit nothing else bounds it.
    pub(super) most_first_steps: f64,
    /// Time to stop after.
    pub(super) limit: Option<Duration>,
}

impl Task<'_> {
    /// Looks at what an earlier nest has for each group, before any search: tells what does not stand any
    /// more.
    pub(super) fn take_up(&self) -> Result<Vec<String>> {
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
    pub(super) fn share(&self, share: f64) -> Self {
        Self {
            steps: (self.steps as f64 * share) as u64,
            most_first_steps: self.most_first_steps * share,
            limit: self.limit.map(|limit| limit.mul_f64(share)),
            ..self.clone()
        }
    }

    /// Nests everything that is wanted, whole kits first when stock is short.
    pub(super) fn served(&self, lines: &[Line]) -> Result<Vec<Done>> {
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
    pub(super) fn with_less_room(
        &self,
        lines: &[Line],
        full: &BTreeSet<usize>,
    ) -> Result<Vec<Vec<Done>>> {
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
    pub(super) fn stock_area(&self, material: usize) -> f64 {
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
    pub(super) fn has_the_area(&self) -> bool {
        self.wanted_areas()
            .into_iter()
            .all(|(material, area)| area <= self.stock_area(material))
    }

    /// Area wanted, by material.
    pub(super) fn wanted_areas(&self) -> BTreeMap<usize, f64> {
        let mut wanted: BTreeMap<usize, f64> = BTreeMap::new();
        for want in &self.wants {
            let item = &self.job.items[want.item];
            let area = item.outline.area() * f64::from(want.quantity);
            *wanted.entry(item.material).or_default() += area;
        }
        wanted
    }

    /// Nests everything that is wanted.
    pub(super) fn run(&self) -> Result<Vec<Done>> {
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
        // help themselves from its stock; the better order is then searched in depth. Where there is only one order and
        // nobody waits for a first nest, none is made.
        let share = |steps: f64, i: usize| (steps * weights[i] / whole) as u64;
        let first_steps = |i| share((self.steps as f64 * FIRST_SHARE).min(MOST_FIRST_STEPS), i);
        let deadline = self.limit.map(|limit| start + limit);
        let watched = self.board.is_some_and(Board::is_watched);
        let begun: Vec<Begun> = chains
            .par_iter()
            .map(|chain| {
                // An earlier nest with what it took kept for each group comes first: nothing worse
                // than that is accepted. One order without that shows whether it is worth keeping.
                let given = |i: &usize| !sheets_of(self.given, &groups[*i]).is_empty();
                let tried = if chain.iter().any(given) {
                    vec![(chain.clone(), true), (chain.clone(), false)]
                } else {
                    let orders = orders(chain).into_iter();
                    orders.map(|order| (order, false)).collect()
                };
                let mut best = Begun {
                    order: chain.clone(),
                    kept: false,
                    nests: None,
                };
                if tried.len() == 1 && !watched {
                    return Ok(best);
                }
                for (order, kept) in tried {
                    let mut control = Control::none()
                        .with_cancel(self.cancel)
                        .with_deadline(deadline);
                    if best.nests.is_none() {
                        // Even when stopped or out of time: a nest that leaves half out helps nobody.
                        control = control.with_whole_first();
                    } else if self.cancel.load(Ordering::Relaxed) {
                        break;
                    }
                    let done = self.chain(&groups, &order, kept, |i, nest| {
                        nest(first_steps(i), &control)
                    })?;
                    if best.nests.as_ref().is_none_or(|nests| better(&done, nests)) {
                        best = Begun {
                            order,
                            kept,
                            nests: Some(done),
                        };
                    }
                }
                Ok(best)
            })
            .collect::<Result<_>>()?;
        if let Some(board) = self.board {
            for done in begun.iter().flat_map(|b| &b.nests).flatten() {
                board.found(done);
            }
        }

        let done: Vec<Vec<Done>> = begun
            .into_par_iter()
            .map(|Begun { order, kept, nests }| {
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
                let whole_first = nests.is_none();
                let nests = match nests {
                    Some(nests) if self.cancel.load(Ordering::Relaxed) => return Ok(nests),
                    nests => nests,
                };
                let deep = self.chain(&groups, &order, kept, |i, nest| {
                    let listener = |progress: Progress| {
                        if let Some(board) = self.board {
                            board.update(groups[i].index, progress);
                        }
                    };
                    let mut control = Control::none()
                        .with_cancel(self.cancel)
                        .with_deadline(ends.get(&i).copied())
                        .with_listener(&listener);
                    if whole_first {
                        control = control.with_whole_first();
                    }
                    nest(share(self.steps as f64, i), &control)
                })?;
                Ok(match nests {
                    Some(nests) if better(&nests, &deep) => nests,
                    _ => deep,
                })
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

/// The sheets of an earlier nest that are a group's.
pub(super) fn sheets_of<'a>(given: Option<&'a Given>, group: &Group) -> Vec<&'a GivenSheet> {
    let sheets = given.iter().flat_map(|g| &g.sheets);
    sheets
        .filter(|s| s.material == group.material && s.machine == group.machine)
        .collect()
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

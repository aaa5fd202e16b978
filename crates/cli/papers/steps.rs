//! What is done one after another by one person at all machines.
//!
//! The saw comes first, for its blanks and parts feed the others. Routers and lasers then run side by side: each
//! works its pieces in the order of the sheets' numbers, and whichever is done first is loaded next.

use crate::cut_plan::{CutPlan, CutSheet};
use crate::input::Process;
use crate::job::Job;
use crate::saw_steps::{Fate, SawSteps};
use panelwright_geometry::Bounds;
use std::collections::{BTreeMap, BTreeSet};

/// One piece on one machine.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// Index into the shop's machines.
    pub machine: usize,
    /// Index of the sheet; `None` where parts of several are finished.
    pub sheet: Option<usize>,
    /// What is done.
    pub work: Work,
    /// Parts that come off, by item in rising order.
    pub off: Vec<Off>,
    /// Offcuts that are kept, as indices into the sheet's.
    pub kept: Vec<usize>,
    /// Kits that are complete with this step: index into the job's kits, and number.
    pub complete: Vec<(usize, u32)>,
}

/// What a step does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Work {
    /// The saw cuts a sheet into parts, or into blanks.
    Saw,
    /// A whole sheet or remnant on router or laser.
    Sheet,
    /// A blank of the sheet, by index.
    Blank(usize),
    /// Sawn parts of one item go over the router.
    Finish {
        /// Number in the name of its cut file.
        file: usize,
    },
}

/// Copies of one item.
#[derive(Debug, Clone, PartialEq)]
pub struct Off {
    /// Index into the job's items.
    pub item: usize,
    /// The copies.
    pub copies: Vec<Copy>,
}

/// One copy, where the plan has it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Copy {
    /// Index of its sheet.
    pub sheet: usize,
    /// Index into the sheet's parts.
    pub part: usize,
}

/// What a kit's parcel holds.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Load {
    /// Parts placed.
    pub parts: u32,
    /// Parts that could not be placed.
    pub missing: u32,
    /// Mass of the parts placed, kg.
    pub mass: f64,
}

/// All kits ordered: index into the job's kits, and number among the kits of that name.
pub fn kits(job: &Job) -> Vec<(usize, u32)> {
    let mut before: BTreeMap<&str, u32> = BTreeMap::new();
    let mut all = Vec::new();
    for (i, kit) in job.kits.iter().enumerate() {
        let first = before.entry(&kit.kit).or_default();
        all.extend((1..=kit.quantity).map(|n| (i, *first + n)));
        *first += kit.quantity;
    }
    all
}

/// What the parcel of a kit holds.
pub fn load(plan: &CutPlan, job: &Job, kit: usize, number: u32) -> Load {
    let order = &job.kits[kit];
    let mut load = Load::default();
    for part in plan.sheets.iter().flat_map(|s| &s.parts) {
        let item = &job.items[part.item];
        if part.kit_number == Some(number) && item.kit == order.kit {
            load.parts += 1;
            load.mass += mass(job, part.item);
        }
    }
    let wanted: u32 = order.parts.iter().map(|(_, each)| each).sum();
    load.missing = wanted.saturating_sub(load.parts);
    load
}

/// Mass of one copy of an item, kg.
pub fn mass(job: &Job, item: usize) -> f64 {
    let item = &job.items[item];
    job.material_of(item).mass(item.outline.area())
}

/// The steps of a plan in the order of work.
///
/// # Panics
/// When the plan is not of this job: an index of an item, material or machine out of range.
#[must_use]
pub fn steps(plan: &CutPlan, job: &Job) -> Vec<Step> {
    let mut sawn: Vec<Step> = Vec::new();
    // By machine, in the order of the sheets' numbers.
    let mut queues: BTreeMap<usize, Vec<Step>> = BTreeMap::new();
    if let Some(router) = job.shop.first(Process::Router) {
        let finish = finishing(plan, job, router);
        if !finish.is_empty() {
            queues.insert(router, finish);
        }
    }
    for (i, sheet) in plan.sheets.iter().enumerate() {
        if sheet.guillotine || !sheet.saw_cuts.is_empty() {
            sawn.push(saw_step(i, sheet));
        }
        if !sheet.guillotine {
            let queue = queues.entry(sheet.machine).or_default();
            queue.extend(machine_steps(i, sheet));
        }
    }
    let mut all = sawn;
    all.extend(side_by_side(plan, job, queues));
    completions(plan, job, &mut all);
    all
}

/// Copies by item, items in rising order.
fn grouped(copies: impl Iterator<Item = (usize, Copy)>) -> Vec<Off> {
    let mut by_item: BTreeMap<usize, Vec<Copy>> = BTreeMap::new();
    for (item, copy) in copies {
        by_item.entry(item).or_default().push(copy);
    }
    let off = |(item, copies)| Off { item, copies };
    by_item.into_iter().map(off).collect()
}

/// Sawn parts that the router goes over, in the order of their cut files.
fn finishing(plan: &CutPlan, job: &Job, router: usize) -> Vec<Step> {
    let copies = plan.sheets.iter().enumerate().filter(|(_, s)| s.guillotine);
    let copies = copies.flat_map(|(sheet, s)| {
        let parts = s.parts.iter().enumerate();
        parts.map(move |(part, p)| (p.item, Copy { sheet, part }))
    });
    let finished = copies.filter(|(item, _)| job.items[*item].finish_on_router);
    (1..)
        .zip(grouped(finished))
        .map(|(file, off)| Step {
            machine: router,
            sheet: None,
            work: Work::Finish { file },
            off: vec![off],
            kept: Vec::new(),
            complete: Vec::new(),
        })
        .collect()
}

fn saw_step(index: usize, sheet: &CutSheet) -> Step {
    let parts = sheet.parts.iter().enumerate();
    let parts = parts.filter(|_| sheet.guillotine);
    let kept = (0..sheet.offcuts.len())
        .filter(|i| sheet.offcuts[*i].kept && (sheet.guillotine || blank_of(sheet, *i).is_none()));
    Step {
        machine: sheet.saw.unwrap_or(sheet.machine),
        sheet: Some(index),
        work: Work::Saw,
        off: grouped(parts.map(|(part, p)| (p.item, Copy { sheet: index, part }))),
        kept: kept.collect(),
        complete: Vec::new(),
    }
}

/// Whether the middle of one rectangle lies in another.
fn holds(outer: &Bounds, inner: &Bounds) -> bool {
    let center = inner.center();
    outer.contains(&Bounds::new(center, center))
}

/// The parts that lie on a blank. One at the edge of two is on the first.
fn parts_on(sheet: &CutSheet, blank: usize) -> Vec<usize> {
    let on = |part: &usize| {
        let bounds = sheet.parts[*part].outline.bounds();
        sheet.blanks.iter().position(|b| holds(b, &bounds)) == Some(blank)
    };
    (0..sheet.parts.len()).filter(on).collect()
}

/// The blank that an offcut is left of; `None` where it comes off at the saw, as does a blank without parts.
fn blank_of(sheet: &CutSheet, offcut: usize) -> Option<usize> {
    let at_saw =
        SawSteps::of(sheet).is_some_and(|steps| steps.fates.contains(&Fate::Offcut(offcut)));
    if at_saw {
        return None;
    }
    let bounds = sheet.offcuts[offcut].outline.bounds();
    let on = sheet.blanks.iter().position(|b| holds(b, &bounds));
    on.filter(|blank| !parts_on(sheet, *blank).is_empty())
}

/// What of a sheet goes on router or laser: the whole of it, or each blank that a part lies on.
fn machine_steps(index: usize, sheet: &CutSheet) -> Vec<Step> {
    let step = |work, parts: Vec<usize>, kept: Vec<usize>| Step {
        machine: sheet.machine,
        sheet: Some(index),
        work,
        off: grouped(
            parts
                .into_iter()
                .map(|part| (sheet.parts[part].item, Copy { sheet: index, part })),
        ),
        kept,
        complete: Vec::new(),
    };
    let kept = |blank| {
        let kept = (0..sheet.offcuts.len()).filter(|i| sheet.offcuts[*i].kept);
        kept.filter(|i| blank_of(sheet, *i) == blank).collect()
    };
    if sheet.blanks.is_empty() {
        let kept = if sheet.saw_cuts.is_empty() {
            kept(None)
        } else {
            Vec::new()
        };
        return vec![step(Work::Sheet, (0..sheet.parts.len()).collect(), kept)];
    }
    (0..sheet.blanks.len())
        .map(|blank| (blank, parts_on(sheet, blank)))
        .filter(|(_, parts)| !parts.is_empty())
        .map(|(blank, parts)| step(Work::Blank(blank), parts, kept(Some(blank))))
        .collect()
}

/// Starts of several machines in one row: the machine that is free first takes its next piece. How long a piece
/// takes is told by the length of its cuts, for the speeds may not be known.
fn side_by_side(plan: &CutPlan, job: &Job, queues: BTreeMap<usize, Vec<Step>>) -> Vec<Step> {
    let mut queues: Vec<(f64, std::vec::IntoIter<Step>)> = queues
        .into_values()
        .map(|steps| (0.0, steps.into_iter()))
        .collect();
    let mut all: Vec<Step> = Vec::new();
    loop {
        let next = queues
            .iter_mut()
            .filter(|(_, queue)| !queue.as_slice().is_empty())
            // The first of equals, so that ties are settled by the order of the machines.
            .reduce(|a, b| if b.0 < a.0 { b } else { a });
        let Some((free, queue)) = next else {
            return all;
        };
        if let Some(step) = queue.next() {
            *free += cut_length(plan, job, &step);
            all.push(step);
        }
    }
}

fn cut_length(plan: &CutPlan, job: &Job, step: &Step) -> f64 {
    let copies = step.off.iter().flat_map(|off| &off.copies);
    copies
        .map(|copy| {
            let item = plan.sheets[copy.sheet].parts[copy.part].item;
            let outline = &job.items[item].outline;
            outline.cut_length() + outline.marks.iter().map(|m| m.length()).sum::<f64>()
        })
        .sum()
}

/// Notes at each step which kits are complete with it.
fn completions(plan: &CutPlan, job: &Job, steps: &mut [Step]) {
    // The step after which each copy is done; a finished part is done at the router.
    let mut done: BTreeMap<(usize, usize), usize> = BTreeMap::new();
    for (at, step) in steps.iter().enumerate() {
        for copy in step.off.iter().flat_map(|off| &off.copies) {
            done.insert((copy.sheet, copy.part), at);
        }
    }
    // By kit's name and number: how many parts there are, and the step of the last.
    let mut found: BTreeMap<(&str, u32), (u32, usize)> = BTreeMap::new();
    for (sheet, cut) in plan.sheets.iter().enumerate() {
        for (part, copy) in cut.parts.iter().enumerate() {
            let (Some(number), Some(at)) = (copy.kit_number, done.get(&(sheet, part))) else {
                continue;
            };
            let kit = job.items[copy.item].kit.as_str();
            let entry = found.entry((kit, number)).or_default();
            *entry = (entry.0 + 1, entry.1.max(*at));
        }
    }
    let mut seen = BTreeSet::new();
    for (kit, number) in kits(job) {
        let order = &job.kits[kit];
        let wanted: u32 = order.parts.iter().map(|(_, each)| each).sum();
        if let Some((parts, at)) = found.get(&(order.kit.as_str(), number))
            && *parts >= wanted
            && seen.insert((kit, number))
        {
            steps[*at].complete.push((kit, number));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::sample;

    fn copies(steps: &[Step]) -> Vec<(usize, usize)> {
        let off = steps.iter().flat_map(|s| &s.off);
        off.flat_map(|o| &o.copies)
            .map(|c| (c.sheet, c.part))
            .collect()
    }

    #[test]
    fn the_saw_comes_first_and_every_part_comes_off_once() {
        let (plan, job) = sample::cabinet();
        let steps = steps(&plan, &job);
        let process = |s: &Step| job.shop.machines[s.machine].process;
        let saws = steps
            .iter()
            .take_while(|s| process(s) == Process::Saw)
            .count();
        assert!(saws > 0);
        assert!(steps[saws..].iter().all(|s| process(s) != Process::Saw));
        // All but what the router finishes come off once, those twice: at the saw and there.
        let all = copies(&steps);
        for (sheet, cut) in plan.sheets.iter().enumerate() {
            for (part, p) in cut.parts.iter().enumerate() {
                let times = all.iter().filter(|c| **c == (sheet, part)).count();
                let wanted = 1 + usize::from(cut.guillotine && job.items[p.item].finish_on_router);
                assert_eq!(times, wanted, "sheet {sheet} part {part}");
            }
            let kept: Vec<usize> = steps
                .iter()
                .filter(|s| s.sheet == Some(sheet))
                .flat_map(|s| s.kept.clone())
                .collect();
            let wanted: Vec<usize> = (0..cut.offcuts.len())
                .filter(|i| cut.offcuts[*i].kept)
                .collect();
            let mut sorted = kept.clone();
            sorted.sort_unstable();
            assert_eq!(sorted, wanted, "sheet {sheet}");
        }
    }

    #[test]
    fn what_a_machine_needs_is_there_when_it_starts() {
        let (plan, job) = sample::cabinet();
        let steps = steps(&plan, &job);
        for (at, step) in steps.iter().enumerate() {
            match step.work {
                Work::Blank(_) => assert!(
                    steps[..at]
                        .iter()
                        .any(|s| s.work == Work::Saw && s.sheet == step.sheet)
                ),
                Work::Finish { .. } => {
                    for copy in step.off.iter().flat_map(|o| &o.copies) {
                        assert!(
                            steps[..at]
                                .iter()
                                .any(|s| s.work == Work::Saw && s.sheet == Some(copy.sheet))
                        );
                    }
                }
                Work::Saw | Work::Sheet => {}
            }
        }
        // Sheets of one machine stay in their order.
        for machine in 0..job.shop.machines.len() {
            let numbers: Vec<usize> = steps
                .iter()
                .filter(|s| s.machine == machine)
                .filter_map(|s| s.sheet)
                .collect();
            assert!(numbers.is_sorted(), "{numbers:?}");
        }
    }

    #[test]
    fn machines_take_turns_by_what_they_have_to_cut() {
        let (plan, job) = sample::cabinet();
        let steps = steps(&plan, &job);
        let process = |s: &Step| job.shop.machines[s.machine].process;
        let first = |p| steps.iter().position(|s| process(s) == p);
        let last = |p| steps.iter().rposition(|s| process(s) == p);
        let (router, laser) = (Process::Router, Process::Laser);
        assert!(
            first(laser) < last(router),
            "side by side, not one after the other"
        );
    }

    #[test]
    fn a_kit_is_complete_with_its_last_part() {
        let (mut plan, mut job) = sample::cabinet();
        // One kit of two items, one of which the router finishes after the saw.
        job.kits[0].quantity = 2;
        let finished = job
            .items
            .iter()
            .position(|i| i.finish_on_router)
            .expect("an item");
        let sawn = plan
            .sheets
            .iter()
            .flat_map(|s| &s.parts)
            .find(|p| !job.items[p.item].finish_on_router && p.item != finished)
            .expect("a part")
            .item;
        job.kits[0].parts = vec![(finished, 1), (sawn, 1)];
        let mut given: BTreeMap<usize, u32> = BTreeMap::new();
        for part in plan.sheets.iter_mut().flat_map(|s| &mut s.parts) {
            let next = given.entry(part.item).or_default();
            *next += 1;
            let of_kit = (part.item == finished || part.item == sawn) && *next <= 2;
            part.kit_number = of_kit.then_some(*next);
        }
        let steps = steps(&plan, &job);
        let complete: Vec<(usize, (usize, u32))> = steps
            .iter()
            .enumerate()
            .flat_map(|(at, s)| s.complete.iter().map(move |c| (at, *c)))
            .collect();
        let finish = steps
            .iter()
            .position(|s| matches!(s.work, Work::Finish { .. }))
            .expect("a step");
        assert_eq!(complete.len(), 2, "{complete:?}");
        assert!(complete.iter().all(|(at, _)| *at >= finish), "{complete:?}");
        // A part that is missing keeps its kit open.
        job.kits[0].parts[0].1 = 2;
        let open = super::steps(&plan, &job);
        assert!(open.iter().all(|s| s.complete.is_empty()));
        let load = load(&plan, &job, 0, 1);
        assert_eq!((load.parts, load.missing), (2, 1));
        let mass = mass(&job, finished) + mass(&job, sawn);
        assert!((load.mass - mass).abs() < 1e-12);
    }
}

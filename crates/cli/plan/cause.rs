//! Why parts are missing, where shop and kit tell more than the search can: it knows only the stock that
//! enters its problem.

use super::problem::{Used, pose};
use super::{Group, PlanOptions, Want};
use crate::cut_plan::{Cause, Missing};
use crate::input::{Process, Sheet};
use crate::job::Job;
use crate::paper::Paper;
use panelwright_nesting::{Budget, Control, Turn, Why, nest};

/// The cause as a sentence in English, for messages and files.
pub fn words(cause: &Cause, item: usize, job: &Job) -> String {
    let item = &job.items[item];
    let (material, machine) = (&job.material_of(item).name, &job.machine_of(item).name);
    cause.words(material, machine, Paper::METRIC)
}

/// Looks for what keeps each part off that no search places on any stock, and for sheets that are left over where stock is
/// used up, and tells that instead.
pub fn look_closer(missing: &mut [Missing], job: &Job, options: &PlanOptions) {
    for line in missing {
        let cause = match &line.cause {
            Cause::Search(Why::Stopped) => continue,
            Cause::Search(Why::StockUsedUp) => passed_over(line.item, job, options),
            Cause::Search(why) => closer(line.item, why, job, options),
            _ => continue,
        };
        if let Some(cause) = cause {
            line.why = words(&cause, line.item, job);
            line.cause = cause;
        }
    }
}

/// Sheets in stock that the saw cannot cut the item from, though it is small enough.
fn passed_over(item: usize, job: &Job, options: &PlanOptions) -> Option<Cause> {
    let material = &job.material_of(&job.items[item]).name;
    let of_material = |s: &&Sheet| s.material == *material && s.stock != Some(0);
    let mut alone = job.clone();
    alone.shop.remnants.clear();
    let mut passed_over = Vec::new();
    for sheet in job.shop.sheets.iter().filter(of_material) {
        alone.shop.sheets = vec![sheet.clone()];
        let why = missing_alone(item, &alone, options);
        if why.is_some_and(|why| matches!(why, Why::SawLimits | Why::TooNarrow | Why::CannotTrim)) {
            passed_over.push(sheet.id.clone());
        }
    }
    (!passed_over.is_empty()).then_some(Cause::PassedOver(passed_over))
}

/// What alone keeps an item off: the first thing without which one copy of it is placed.
fn closer(item: usize, why: &Why, job: &Job, options: &PlanOptions) -> Option<Cause> {
    let of_item = &job.items[item];
    let machine = job.machine_of(of_item);
    let material = &job.material_of(of_item).name;
    let mut job = job.clone();
    let fits = |job: &Job| missing_alone(item, job, options).is_none();

    // From here on there is some of every sheet: buying more is no help where something else is wrong.
    let mut filled = false;
    for sheet in &mut job.shop.sheets {
        filled |= sheet.material == *material && sheet.stock == Some(0);
        sheet.stock = sheet.stock.map(|n| n.max(1));
    }
    if filled && fits(&job) {
        return Some(Cause::Search(Why::StockUsedUp));
    }

    let turn = of_item.turn;
    let more: &[Turn] = match turn {
        Turn::None => &[Turn::Half, Turn::Quarter],
        Turn::Half => &[Turn::Quarter],
        Turn::Quarter | Turn::Free => &[],
    };
    for needed in more.iter().copied() {
        job.items[item].turn = needed;
        if fits(&job) {
            return Some(Cause::TurnRuledOut {
                turn,
                needed,
                grain: *why == Why::FaceOrGrain,
            });
        }
    }
    job.items[item].turn = turn;

    if machine.bed.is_some() && job.shop.first(Process::Saw).is_none() {
        let bed = job.shop.machines[of_item.machine].bed.take();
        if fits(&job) {
            return Some(Cause::LargerThanBed);
        }
        job.shop.machines[of_item.machine].bed = bed;
    }

    let areas = std::mem::take(&mut job.shop.machines[of_item.machine].keep_clear);
    if !areas.is_empty() && fits(&job) {
        let mut what: Vec<String> = areas.into_iter().map(|area| area.why).collect();
        what.sort();
        what.dedup();
        return Some(Cause::KeptClear(what));
    }
    None
}

/// Why one copy of an item alone is not placed on anything of the shop; `None` when it is.
fn missing_alone(item: usize, job: &Job, options: &PlanOptions) -> Option<Why> {
    let group = Group {
        index: 0,
        material: job.items[item].material,
        machine: job.items[item].machine,
        wants: Want::all([(item, 1)]),
    };
    let posed = pose(job, &group, options, &Used::default(), None, &[]);
    let budget = Budget {
        seed: options.seed,
        steps: 1,
        limit: None,
    };
    match nest(&posed.problem, &budget, &Control::none()) {
        Ok(nest) => nest.not_placed.into_iter().next().map(|n| n.why),
        Err(_) => Some(Why::TooLarge),
    }
}

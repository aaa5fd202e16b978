//! When stock is short: whole kits before parts of many, what has priority first.
//!
//! Line by line, in the order of priority, as many kits are promised as can be nested beside those
//! promised before, by bisection with short searches. Then all is nested at once, the promised copies
//! as more urgent, and stock that a later group needs for its promises is kept back for it. What is
//! left of stock takes parts of further kits, those of higher priority first.

use super::task::Task;
use super::{Done, Line, Want, wants_of};
use crate::Result;
use panelwright_nesting::{NotPlaced, Problem, Why};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::atomic::Ordering;
use std::time::Instant;

/// Share of a task's steps that all trials together take. Fewer promise less than could be kept.
const TRIAL_SHARE: f64 = 0.5;

/// Most trials. What no trial is left for is not promised, but may still be placed.
const MOST_TRIALS: u32 = 60;

/// Whether some material might not suffice: there are parts of more than this share of its area.
/// Nests of less than half yield are rare even with awkward parts.
const MAY_RUN_SHORT: f64 = 0.5;

/// Whether the stock of some material might not suffice for what a task wants.
pub fn may_run_short(task: &Task) -> bool {
    task.wanted_areas()
        .into_iter()
        .any(|(material, area)| area > MAY_RUN_SHORT * task.stock_area(material))
}

/// Nests those materials of `done` anew of which stock was short; `lines` are what the task wants.
pub fn whole_kits(task: &Task, lines: &[Line], done: Vec<Done>) -> Result<Vec<Done>> {
    let short: BTreeSet<usize> = done
        .iter()
        .filter(|d| d.nest.not_placed.iter().any(|n| n.why == Why::StockUsedUp))
        .map(|d| d.group.material)
        .collect();
    let start = Instant::now();
    if short.is_empty() || task.cancel.load(Ordering::Relaxed) {
        return Ok(done);
    }
    let of_short = |item: usize| short.contains(&task.job.items[item].material);
    let lines: Vec<Line> = lines
        .iter()
        .map(|line| Line {
            parts: line
                .parts
                .iter()
                .filter(|(i, _)| of_short(*i))
                .copied()
                .collect(),
            ..line.clone()
        })
        .filter(|line| !line.parts.is_empty())
        .collect();
    let (promised, quantities) = promise(task, &lines)?;

    let mut classes: Vec<i32> = lines.iter().map(|l| l.priority).collect();
    classes.sort_unstable();
    classes.dedup();
    let mut wants: BTreeMap<(usize, i32), u32> = BTreeMap::new();
    for (line, sure) in lines.iter().zip(quantities) {
        let rank = classes.iter().take_while(|c| **c < line.priority).count() as i32;
        for (item, each) in &line.parts {
            *wants.entry((*item, classes.len() as i32)).or_default() += each * sure;
            *wants.entry((*item, rank)).or_default() += each * (line.quantity - sure);
        }
    }
    let wants = wants.into_iter().filter(|(_, n)| *n > 0);
    let again = Task {
        wants: wants
            .map(|((item, urgency), quantity)| Want {
                item,
                quantity,
                urgency,
            })
            .collect(),
        promised: &promised,
        board: None,
        limit: task
            .limit
            .map(|limit| limit.saturating_sub(start.elapsed())),
        ..task.clone()
    };
    let mut found = again.run()?;
    // What cannot be placed on any stock is not in the promises and stays missing.
    found.extend(
        done.into_iter()
            .filter(|d| !short.contains(&d.group.material)),
    );
    found.sort_by_key(|d| d.index);
    Ok(found)
}

/// How many of each line can be placed whole, one line after another, and nests of these.
fn promise(task: &Task, lines: &[Line]) -> Result<(Vec<Done>, Vec<u32>)> {
    // A single part of the lowest priority needs no promise: nothing comes after it.
    let lowest = lines.iter().map(|l| l.priority).min();
    let open = |line: &Line| line.is_kit() || Some(line.priority) != lowest;
    let in_question = || lines.iter().filter(|line| open(line));
    let trials: u32 = in_question().map(|l| 2 + l.quantity.ilog2()).sum();
    let each = 1.0 / f64::from(trials.clamp(1, MOST_TRIALS));
    let mut left = MOST_TRIALS;
    let limit = task.limit.map(|limit| limit.mul_f64(TRIAL_SHARE));
    let end = limit.map(|limit| Instant::now() + limit);
    let stopped =
        || task.cancel.load(Ordering::Relaxed) || end.is_some_and(|end| Instant::now() >= end);
    let mut nests = Vec::new();
    let mut sure = vec![0; lines.len()];
    for at in (0..lines.len()).filter(|at| open(&lines[*at])) {
        let mut fits = |quantity: u32, sure: &[u32]| -> Result<bool> {
            let mut trial: Vec<Line> = lines[..=at].to_vec();
            for (line, n) in trial.iter_mut().zip(sure) {
                line.quantity = *n;
            }
            trial[at].quantity = quantity;
            let trial = Task {
                wants: wants_of(&trial),
                board: None,
                promised: &[],
                ..task.share(TRIAL_SHARE * each)
            };
            if left == 0 || stopped() || !trial.has_the_area() {
                return Ok(false);
            }
            left -= 1;
            let found = trial.run()?;
            let whole = found.iter().all(|d| d.nest.not_placed.is_empty());
            if whole {
                nests = found;
            }
            Ok(whole)
        };
        let (mut low, mut high) = (0, lines[at].quantity);
        // Mostly it is all or few.
        if fits(high, &sure)? {
            low = high;
        } else {
            high -= 1;
        }
        while low < high {
            let middle = low + (high - low).div_ceil(2);
            if fits(middle, &sure)? {
                low = middle;
            } else {
                high = middle - 1;
            }
        }
        sure[at] = low;
    }
    Ok((nests, sure))
}

/// `done`, or where it leaves out what was promised, the promised nest of its group as an answer to
/// the same problem; and whether it is that.
pub fn kept(done: Done, promised: &[Done]) -> (Done, bool) {
    let top = done.group.wants.iter().map(|w| w.urgency).max();
    let denied = done
        .nest
        .not_placed
        .iter()
        .any(|n| Some(done.group.wants[n.part].urgency) == top);
    let of_group = promised.iter().find(|p| p.index == done.index);
    let (true, Some(promised)) = (denied, of_group) else {
        return (done, false);
    };
    let mut nest = promised.nest.clone();
    let mut problem = promised.problem.clone();
    let mut left: Vec<u32> = done.group.wants.iter().map(|w| w.quantity).collect();
    let mut by_urgency: Vec<usize> = (0..left.len()).collect();
    by_urgency.sort_by_key(|i| std::cmp::Reverse(done.group.wants[*i].urgency));
    // Pinned copies beyond the promises are the less urgent ones of their part.
    let mut name = |part: usize| -> Option<usize> {
        let item = promised.group.wants[part].item;
        let of_item = |i: &&usize| done.group.wants[**i].item == item && left[**i] > 0;
        let part = *by_urgency.iter().find(of_item)?;
        left[part] -= 1;
        Some(part)
    };
    for layout in &mut nest.layouts {
        let pinned = &mut problem.stock[layout.stock].pinned;
        let mut free: Vec<usize> = (0..pinned.len()).collect();
        for placed in &mut layout.placed {
            let Some(part) = name(placed.part) else {
                return (done, false);
            };
            if let Some(at) = free.iter().position(|i| pinned[*i] == *placed) {
                pinned[free.swap_remove(at)].part = part;
            }
            placed.part = part;
        }
    }
    let counts = nest.placed_counts(&done.problem);
    nest.not_placed = (0..counts.len())
        .filter(|part| counts[*part] < done.group.wants[*part].quantity)
        .map(|part| NotPlaced {
            part,
            quantity: done.group.wants[part].quantity - counts[part],
            why: Why::StockUsedUp,
        })
        .collect();
    let instead = Done {
        stock: promised.stock.clone(),
        problem: Problem {
            parts: done.problem.parts,
            ..problem
        },
        nest,
        ..done
    };
    (instead, true)
}

//! Kit after kit: the order nested in batches of whole kits.
//!
//! Each batch is nested on what the ones before left of the stock. The emptiest sheet of each group
//! is not cut with its batch but begun: its parts join the next batch, which may fill it up. Of several
//! sizes of batches, with remnants and without, and of the nest without batches, the one is taken that serves most, then the one
//! with the least sum over all sheets of kits still open after it, then the one that costs least.

use super::task::Task;
use super::{Done, Line, Want};
use crate::Result;
use panelwright_nesting::{Layout, Nest};
use std::collections::BTreeMap;
use std::sync::atomic::Ordering;

/// A sheet is begun rather than cut when its parts cover less than this share of it: then there is
/// room for what comes next, while fuller ones would only be nested again for nothing.
const BEGUN: f64 = 0.65;

/// A way to nest kits early.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Way {
    /// Kits in a batch.
    pub size: u32,
    /// Whether remnants are used: they save material, but each is one more piece to cut.
    pub remnants: bool,
}

/// The ways to try for so many kits in all: one by one, a half and a third of them at a time; and
/// without remnants, if there are any, all and a half at a time.
pub fn ways(kits: u32, remnants: bool) -> Vec<Way> {
    let with = [kits.div_ceil(2), kits.div_ceil(3), 1];
    let with = with.map(|size| Way {
        size,
        remnants: true,
    });
    let mut ways: Vec<Way> = with.into_iter().filter(|way| way.size < kits).collect();
    if remnants {
        ways.extend([kits, kits.div_ceil(2)].map(|size| Way {
            size,
            remnants: false,
        }));
    }
    ways.retain(|way| way.size > 0);
    ways.dedup();
    ways
}

impl Way {
    /// In a few words, for an order of so many kits.
    pub fn words(self, kits: u32) -> String {
        let batches = match self.size {
            1 if kits > 1 => "kits nested one after another".to_owned(),
            n if n < kits => format!("nested in batches of {n} kits"),
            _ => "nested in one".to_owned(),
        };
        if self.remnants {
            batches
        } else {
            batches + ", on new sheets only"
        }
    }
}

/// Nests a task in batches of `size` kits; `lines` are what it wants, in the order of serving.
pub fn in_batches(task: &Task, lines: &[Line], size: u32) -> Result<Vec<Done>> {
    let batches = batches(lines, size);
    let copies = |batch: &BTreeMap<usize, u32>| f64::from(batch.values().sum::<u32>());
    let all: f64 = batches.iter().map(copies).sum();
    let mut used = task.used.clone();
    let mut carried: BTreeMap<usize, u32> = BTreeMap::new();
    let mut cut = Vec::new();
    for (b, batch) in batches.iter().enumerate() {
        let last = b + 1 == batches.len();
        let share = copies(batch) / all;
        let mut wants = std::mem::take(&mut carried);
        for (item, n) in batch {
            *wants.entry(*item).or_default() += n;
        }
        let done = Task {
            wants: Want::all(wants),
            used: used.clone(),
            board: None,
            ..task.share(share)
        }
        .run()?;
        // An early stop leaves no time for doing anything again.
        let stopped = task.cancel.load(Ordering::Relaxed);
        for mut one in done {
            if !last {
                let begun = if stopped { None } else { begun(&one) };
                let begun = begun.map(|at| one.nest.layouts.remove(at));
                for placed in begun.iter().flat_map(|l| &l.placed) {
                    let item = one.group.wants[placed.part].item;
                    *carried.entry(item).or_default() += 1;
                }
                // What did not fit may still do so beside the next batch, and is counted there.
                for n in std::mem::take(&mut one.nest.not_placed) {
                    *carried.entry(one.group.wants[n.part].item).or_default() += n.quantity;
                }
            }
            used.take(&one);
            cut.push(one);
        }
    }
    cut.sort_by_key(|d| d.index);
    Ok(cut)
}

/// The emptiest sheet of a nest, if there is room on it.
fn begun(done: &Done) -> Option<usize> {
    let Nest { layouts, .. } = &done.nest;
    let filled = |layout: &Layout| {
        let area = layout.stock(&done.problem).outline.area();
        layout.part_area(&done.problem) / area
    };
    (0..layouts.len())
        .min_by(|a, b| filled(&layouts[*a]).total_cmp(&filled(&layouts[*b])))
        .filter(|at| filled(&layouts[*at]) < BEGUN)
}

/// Copies by item, batch after batch. Single parts come with the first batch that no kit of higher
/// priority is left after; those of the lowest priority of all come last and fill up.
fn batches(lines: &[Line], size: u32) -> Vec<BTreeMap<usize, u32>> {
    let lowest = lines.iter().map(|l| l.priority).min();
    let mut batches = vec![BTreeMap::new()];
    let mut room = size;
    let mut last = Vec::new();
    for line in lines {
        if !line.is_kit() {
            if Some(line.priority) == lowest {
                last.push(line);
            } else if let Some(batch) = batches.last_mut() {
                add(batch, line, line.quantity);
            }
            continue;
        }
        let mut left = line.quantity;
        while left > 0 {
            if room == 0 {
                batches.push(BTreeMap::new());
                room = size;
            }
            let n = left.min(room);
            if let Some(batch) = batches.last_mut() {
                add(batch, line, n);
            }
            left -= n;
            room -= n;
        }
    }
    if let Some(batch) = batches.last_mut() {
        for line in last {
            add(batch, line, line.quantity);
        }
    }
    batches.retain(|batch| !batch.is_empty());
    batches
}

fn add(batch: &mut BTreeMap<usize, u32>, line: &Line, quantity: u32) {
    for (item, each) in &line.parts {
        *batch.entry(*item).or_default() += each * quantity;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(kit: Option<usize>, priority: i32, quantity: u32, parts: &[(usize, u32)]) -> Line {
        Line {
            kit,
            priority,
            quantity,
            parts: parts.to_vec(),
        }
    }

    #[test]
    fn batches_hold_whole_kits_and_every_copy_once() {
        let lines = [
            line(Some(0), 3, 2, &[(0, 1), (1, 4)]),
            line(None, 2, 5, &[(1, 1)]),
            line(Some(1), 0, 3, &[(2, 2)]),
            line(None, 0, 7, &[(0, 1)]),
        ];
        let batch = |counts: &[(usize, u32)]| counts.iter().copied().collect::<BTreeMap<_, _>>();
        assert_eq!(
            batches(&lines, 2),
            [
                batch(&[(0, 2), (1, 13)]),
                batch(&[(2, 4)]),
                batch(&[(2, 2), (0, 7)])
            ]
        );
        for size in 1..7 {
            let mut sum = BTreeMap::new();
            for (item, n) in batches(&lines, size).iter().flatten() {
                *sum.entry(*item).or_insert(0) += n;
            }
            assert_eq!(sum, batch(&[(0, 9), (1, 13), (2, 6)]), "{size}");
        }
    }

    #[test]
    fn ways_differ_and_batches_are_smaller_than_the_order() {
        let sizes = |kits, remnants| -> Vec<u32> {
            let ways = ways(kits, remnants);
            ways.iter().filter(|w| w.remnants).map(|w| w.size).collect()
        };
        for remnants in [false, true] {
            assert!(sizes(0, remnants).is_empty() && sizes(1, remnants).is_empty());
            assert_eq!(sizes(2, remnants), [1]);
            assert_eq!(sizes(6, remnants), [3, 2, 1]);
            assert_eq!(sizes(50, remnants), [25, 17, 1]);
        }
        assert!(ways(6, false).iter().all(|w| w.remnants));
        let without: Vec<Way> = ways(6, true).into_iter().filter(|w| !w.remnants).collect();
        assert_eq!(without.iter().map(|w| w.size).collect::<Vec<_>>(), [6, 3]);
    }
}

//! Whether the nest answers the question: indices, copies, supplies.

use super::Fault;
use crate::{Nest, Problem};

/// Checks indices, copies and supplies of the whole nest.
pub(super) fn check(problem: &Problem, nest: &Nest, faults: &mut Vec<Fault>) {
    let mut placed = vec![0_u64; problem.parts.len()];
    let mut taken = vec![0_usize; problem.supplies.len()];
    for (i, layout) in nest.layouts.iter().enumerate() {
        let sheet = i + 1;
        match problem.stock.get(layout.stock) {
            Some(stock) => {
                if let Some(taken) = taken.get_mut(stock.supply) {
                    *taken += 1;
                }
                if layout.placed.is_empty() {
                    faults.push(Fault::EmptyLayout {
                        sheet,
                        stock: stock.name.clone(),
                    });
                }
            }
            None => faults.push(Fault::UnknownStock {
                sheet,
                index: layout.stock,
            }),
        }
        for part in &layout.placed {
            match placed.get_mut(part.part) {
                Some(count) => *count += 1,
                None => faults.push(Fault::UnknownPart {
                    sheet: Some(sheet),
                    index: part.part,
                }),
            }
        }
    }
    let mut reported = vec![0_u64; problem.parts.len()];
    for missing in &nest.not_placed {
        match reported.get_mut(missing.part) {
            Some(count) => *count += u64::from(missing.quantity),
            None => faults.push(Fault::UnknownPart {
                sheet: None,
                index: missing.part,
            }),
        }
    }
    // A pinned copy is no choice of the search.
    let pinned = problem.pinned_counts();
    for (high, above) in problem.parts.iter().enumerate() {
        if reported[high] == 0 {
            continue;
        }
        for (low, below) in problem.parts.iter().enumerate() {
            let chosen = placed[low] > u64::from(pinned[low]);
            if chosen && below.priority < above.priority && above.is_like(below) {
                faults.push(Fault::LowerPriorityPlaced {
                    part: above.name.clone(),
                    priority: above.priority,
                    instead: below.priority,
                });
            }
        }
    }
    for (part, (placed, reported)) in problem.parts.iter().zip(placed.into_iter().zip(reported)) {
        if placed > u64::from(part.quantity) {
            faults.push(Fault::TooMany {
                part: part.name.clone(),
                placed,
                wanted: part.quantity,
            });
        } else if placed + reported != u64::from(part.quantity) {
            faults.push(Fault::MissingMiscounted {
                part: part.name.clone(),
                placed,
                reported,
                wanted: part.quantity,
            });
        }
    }
    for (supply, (taken, available)) in taken.into_iter().zip(&problem.supplies).enumerate() {
        if let Some(available) = available.filter(|a| taken > *a as usize) {
            let names: Vec<&str> = problem
                .stock
                .iter()
                .filter(|s| s.supply == supply)
                .map(|s| s.name.as_str())
                .collect();
            faults.push(Fault::SupplyExceeded {
                stock: names.join(", "),
                taken,
                available,
            });
        }
    }
}

//! Whether what was pinned stayed where it was.

use super::{Fault, PINNED, SAME_ANGLE_DEG};
use crate::{Nest, PlacedPart, Problem};

/// Checks that every piece with pinned parts is taken and has them where they were pinned.
pub(super) fn check(problem: &Problem, nest: &Nest, faults: &mut Vec<Fault>) {
    for (index, stock) in problem.stock.iter().enumerate() {
        if stock.pinned.is_empty() {
            continue;
        }
        let mut layouts = nest.layouts.iter().enumerate();
        let Some((i, layout)) = layouts.find(|(_, l)| l.stock == index) else {
            faults.push(Fault::PinnedNotTaken {
                stock: stock.name.clone(),
                parts: stock.pinned.len(),
            });
            continue;
        };
        // Copies are alike, so any placement at the same place will do, but each only once.
        let mut free: Vec<&PlacedPart> = layout.placed.iter().collect();
        for pinned in &stock.pinned {
            if let Some(found) = free.iter().position(|p| same(p, pinned)) {
                free.swap_remove(found);
            } else {
                let part = problem.parts.get(pinned.part);
                faults.push(Fault::PinnedMoved {
                    sheet: i + 1,
                    part: part.map_or_else(String::new, |p| p.name.clone()),
                    origin: pinned.placement.origin,
                    angle_deg: pinned.placement.angle_deg(),
                });
            }
        }
    }
}

fn same(a: &PlacedPart, b: &PlacedPart) -> bool {
    let turn = (a.placement.angle_deg() - b.placement.angle_deg()).rem_euclid(360.0);
    a.part == b.part
        && turn.min(360.0 - turn) <= SAME_ANGLE_DEG
        && a.placement.origin.distance(b.placement.origin) <= PINNED
}

//! The layouts of a cell as one plan: nests of several materials, and of several smaller quantities, put one
//! after another.

use super::cells::{Answer, Nested};
use crate::cut_plan::{CutPlan, CutSheet, Totals};
use crate::job::Job;
use crate::letters::letters;
use std::collections::BTreeMap;

/// The plan of an answer; `job` is that of the quantity it is made as. Sheets stand by material, so kits
/// complete later than in a nest of the whole order.
#[must_use]
pub fn plan(answer: &Answer, job: &Job, seed: u64) -> CutPlan {
    let mut joined = CutPlan {
        seed,
        sheets: Vec::new(),
        missing: Vec::new(),
        totals: Totals::default(),
        kits: job.kits.iter().map(|k| k.quantity).sum(),
        choices: Vec::new(),
        repeatable: true,
        notes: Vec::new(),
        // An estimate writes no cut files.
        paths: Vec::new(),
        finishing: Vec::new(),
    };
    let (mut least_area, mut least_net) = (0.0, 0.0);
    for pieces in answer.pieces.values() {
        // Copies and kits of each piece follow on those of the pieces before.
        let mut copies: BTreeMap<usize, u32> = BTreeMap::new();
        let mut kits: BTreeMap<String, u32> = BTreeMap::new();
        for piece in pieces {
            add(&mut joined, piece, job, &mut copies, &mut kits);
            let totals = &piece.plan.totals;
            least_area += totals.part_area / totals.yield_ceiling.max(f64::MIN_POSITIVE);
            least_net += totals.part_area / totals.net_yield_ceiling.max(f64::MIN_POSITIVE);
        }
    }
    let totals = &mut joined.totals;
    let share = |a: f64, b: f64| if b > 0.0 { a / b } else { 0.0 };
    totals.yield_ = share(totals.part_area, totals.taken_area);
    totals.net_yield = share(totals.part_area, totals.taken_area - totals.kept_area);
    totals.yield_ceiling = share(totals.part_area, least_area).min(1.0);
    totals.net_yield_ceiling = share(totals.part_area, least_net).min(1.0);
    totals.least_spend = answer.floor.to_f64().min(totals.spend);
    count_kits(&mut joined.sheets, job);
    joined
}

fn add(
    joined: &mut CutPlan,
    piece: &Nested,
    job: &Job,
    copies: &mut BTreeMap<usize, u32>,
    kits: &mut BTreeMap<String, u32>,
) {
    let mut placed: BTreeMap<usize, u32> = BTreeMap::new();
    let mut most: BTreeMap<String, u32> = BTreeMap::new();
    for sheet in &piece.plan.sheets {
        let mut sheet = sheet.clone();
        sheet.number = joined.sheets.len() + 1;
        for (i, offcut) in sheet.offcuts.iter_mut().enumerate() {
            offcut.id = format!("{}{}", sheet.number, letters(i));
        }
        for part in &mut sheet.parts {
            let kit = &job.items[part.item].kit;
            part.copy += copies.get(&part.item).copied().unwrap_or(0);
            *placed.entry(part.item).or_default() += 1;
            if let Some(number) = &mut part.kit_number {
                let last = most.entry(kit.clone()).or_default();
                *last = (*last).max(*number);
                *number += kits.get(kit).copied().unwrap_or(0);
            }
        }
        joined.sheets.push(sheet);
    }
    for (item, n) in placed {
        *copies.entry(item).or_default() += n;
    }
    for (kit, n) in most {
        *kits.entry(kit).or_default() += n;
    }
    let (all, of) = (&mut joined.totals, &piece.plan.totals);
    all.part_area += of.part_area;
    all.taken_area += of.taken_area;
    all.kept_area += of.kept_area;
    all.sheets += of.sheets;
    all.remnants += of.remnants;
    all.offcuts += of.offcuts;
    all.scrap += of.scrap;
    all.spend += of.spend;
}

/// Counts the kits that are complete after each sheet.
fn count_kits(sheets: &mut [CutSheet], job: &Job) {
    // By kit name and number: copies still wanted.
    let mut open: BTreeMap<(String, u32), u32> = BTreeMap::new();
    let mut numbers: BTreeMap<&str, u32> = BTreeMap::new();
    for kit in &job.kits {
        let each: u32 = kit.parts.iter().map(|(_, each)| each).sum();
        let number = numbers.entry(&kit.kit).or_default();
        for _ in 0..kit.quantity {
            *number += 1;
            open.insert((kit.kit.clone(), *number), each);
        }
    }
    let mut complete = 0;
    for sheet in sheets {
        for part in &sheet.parts {
            let Some(number) = part.kit_number else {
                continue;
            };
            let kit = &job.items[part.item].kit;
            if let Some(left) = open.get_mut(&(kit.clone(), number)) {
                *left = left.saturating_sub(1);
                complete += u32::from(*left == 0);
            }
        }
        sheet.kits_complete = complete;
    }
}

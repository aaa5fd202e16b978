//! What the rack has room for: offcuts that would be the first to leave it are not kept.
//!
//! The search knows nothing of rooms. Where one is full, [`super::runs`] nests the order once more for a
//! shop that keeps nothing of that material, and takes the better of both.

use super::Done;
use super::problem::StockRef;
use crate::job::Job;
use crate::rack::{keep_rule, overflow};
use crate::remnant::Remnant;
use std::collections::BTreeSet;

/// Where an offcut is: group, layout, offcut.
type At = (usize, usize, usize);

/// What a full rack led to.
#[derive(Debug, Clone, Default)]
pub struct Full {
    /// What people are told.
    pub notes: Vec<String>,
    /// The materials of offcuts that are not kept, as indices.
    pub unkept: BTreeSet<usize>,
}

/// Leaves the offcuts unkept that a full rack would have to do without, and tells of them and of what else
/// should leave it.
pub fn respect(job: &Job, done: &mut [Done]) -> Full {
    let mut full = Full::default();
    for room in &job.shop.room {
        let (offcuts, taken) = (kept(job, done), taken(job, done));
        let new: Vec<(String, Remnant)> = offcuts
            .iter()
            .map(|(_, remnant)| (remnant.material.clone(), remnant.clone()))
            .collect();
        let over = overflow(&job.shop, room, &new, &taken);
        for i in &over.offcuts {
            let (group, layout, offcut) = offcuts[*i].0;
            let offcut = &mut done[group].nest.layouts[layout].offcuts[offcut];
            (offcut.kept, offcut.value) = (false, 0.0);
            full.unkept.insert(done[group].group.material);
        }
        // Kept ones come first.
        for layout in done.iter_mut().flat_map(|d| &mut d.nest.layouts) {
            layout.offcuts.sort_by_key(|offcut| !offcut.kept);
        }
        let mut words = Vec::new();
        match over.offcuts.len() {
            0 => {}
            1 => words.push("an offcut is not kept".to_owned()),
            n => words.push(format!("{n} offcuts are not kept")),
        }
        if !over.pieces.is_empty() {
            words.push(format!("{} should leave it", over.pieces.join(", ")));
        }
        if !words.is_empty() {
            full.notes.push(format!(
                "{}: there is no room for all that is left over: {} (see `panelwright rack space`)",
                room.name(),
                words.join(", and ")
            ));
        }
    }
    full
}

/// The job in a shop that keeps no left-overs of these materials.
pub fn without_keeping(job: &Job, materials: &BTreeSet<usize>) -> Job {
    let mut job = job.clone();
    for material in materials {
        job.shop.materials[*material].keep.nothing();
    }
    job
}

/// Puts nests that were made [`without_keeping`] under the job's own keep rules: offcuts would be kept by them,
/// but none is.
pub fn restore_keep_rules(job: &Job, done: &mut [Done]) {
    for one in done {
        let rule = keep_rule(&job.shop, &job.shop.materials[one.group.material]);
        for stock in &mut one.problem.stock {
            stock.keep = rule.clone();
        }
    }
}

/// The offcuts that are kept, as remnants.
fn kept(job: &Job, done: &[Done]) -> Vec<(At, Remnant)> {
    let mut all = Vec::new();
    for (g, group) in done.iter().enumerate() {
        for (l, layout) in group.nest.layouts.iter().enumerate() {
            for (o, offcut) in layout.offcuts.iter().enumerate().filter(|(_, o)| o.kept) {
                let remnant = Remnant {
                    material: job.shop.materials[group.group.material].name.clone(),
                    outline: offcut.outline.clone(),
                    ..Remnant::default()
                };
                all.push(((g, l, o), remnant));
            }
        }
    }
    all
}

/// Ids of the remnants that are used up.
fn taken(job: &Job, done: &[Done]) -> BTreeSet<String> {
    let mut ids = BTreeSet::new();
    for group in done {
        for layout in &group.nest.layouts {
            if let StockRef::Remnant(i) = group.stock[layout.stock] {
                ids.insert(job.shop.remnants[i].id.clone());
            }
        }
    }
    ids
}

//! What the rack has room for: offcuts that would be the first to leave it are not kept.

use super::Done;
use super::problem::StockRef;
use crate::job::Job;
use crate::rack::overflow;
use crate::remnant::Remnant;
use std::collections::BTreeSet;

/// Where an offcut is: group, layout, offcut.
type At = (usize, usize, usize);

/// Leaves the offcuts unkept that a full rack would have to do without, and tells of them and of what else
/// should leave it.
pub fn respect(job: &Job, done: &mut [Done]) -> Vec<String> {
    let mut notes = Vec::new();
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
            notes.push(format!(
                "{}: there is no room for all that is left over: {} (see `panelwright rack space`)",
                room.name(),
                words.join(", and ")
            ));
        }
    }
    notes
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

//! Papers for the people at the machines beside the report: the traveller that goes with an order, the check list
//! of its kits, labels; and the same as lists for other programs.
//!
//! `steps` and the modules of rules decide, the pages only say it, in the shop's language and unit
//! ([`crate::paper`]).

mod check_list;
mod code;
mod dimension;
mod label;
mod label_page;
mod labels;
mod letters;
mod lists;
mod look_alike;
mod part_picture;
mod steps;
mod traveller;
mod words;

pub use label::{Label, Sketch, grain_words};
pub use label_page::label_page;
pub use labels::{kit_identity, offcut_identity, part_identity};

use crate::Result;
use crate::cut_plan::CutPlan;
use crate::job::Job;
use crate::rack::digest_of;

/// Names of what [`files`] makes, as they lie in the out folder.
pub const NAMES: [&str; 5] = [
    "traveller.html",
    "check-list.html",
    "labels.html",
    "parts.csv",
    "cuts.csv",
];

/// The papers and lists of a plan; `nest` is its `nest.json`, by whose digest papers say which nest they are of.
///
/// # Errors
/// When a page cannot be made or a label's code has no room.
///
/// # Panics
/// When the plan is not of this job: an index of an item, material or machine out of range.
pub fn files(plan: &CutPlan, job: &Job, nest: &[u8]) -> Result<Vec<(String, Vec<u8>)>> {
    let digest = digest_of(nest);
    let steps = steps::steps(plan, job);
    let bytes = [
        traveller::traveller(plan, job, &steps, &digest)?.into_bytes(),
        check_list::check_list(plan, job, &digest)?.into_bytes(),
        labels::labels(plan, job, &steps, &digest)?.into_bytes(),
        lists::parts_csv(plan, job, &steps)?,
        lists::cuts_csv(plan, job)?,
    ];
    Ok(NAMES.map(str::to_owned).into_iter().zip(bytes).collect())
}

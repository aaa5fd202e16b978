//! Cut files: what a machine reads, and `nest.json`: what anyone can check.

pub mod drawing;
pub mod dxf;
pub mod folder;
mod label;
mod layer;
pub mod nest_json;
mod shape;
pub mod svg;

#[cfg(test)]
mod samples;

pub use drawing::{Drawing, Entity};
pub use folder::OutFolder;
pub use layer::Layer;
pub use shape::{Shape, Text};

use crate::Result;
use crate::cut_plan::CutPlan;
use crate::input::Process;
use crate::job::Job;
use std::collections::BTreeSet;

/// Every file of a plan but its papers: names relative to the out folder, and contents.
///
/// * `cut/sheet-01.dxf` and `.svg`: a sheet as it lies in stock.
/// * `cut/sheet-01-blank-1.dxf` and `.svg`: a blank sawn from it, as it lies on the machine.
/// * `cut/finish-01.dxf` and `.svg`: a part that is sawn first and finished on the router, one for
///   all its copies.
/// * `nest.json`, last.
///
/// # Errors
/// When a number is not finite, naming the sheet, part or key.
///
/// # Panics
/// When the plan refers to items, materials or machines that `job` does not have.
pub fn cut_files(plan: &CutPlan, job: &Job) -> Result<Vec<(String, Vec<u8>)>> {
    let mut files = Vec::new();
    let mut add = |name: String, drawing: &Drawing| {
        files.push((format!("cut/{name}.dxf"), dxf::to_bytes(drawing)));
        files.push((
            format!("cut/{name}.svg"),
            svg::to_string(drawing).into_bytes(),
        ));
    };
    let sheets = plan.sheets.len();
    for sheet in &plan.sheets {
        let name = format!("sheet-{:02}", sheet.number);
        add(name.clone(), &Drawing::of_sheet(sheet, sheets, job)?);
        for blank in 0..sheet.blanks.len() {
            let drawing = Drawing::of_blank(sheet, sheets, job, blank)?;
            add(format!("{name}-blank-{}", blank + 1), &drawing);
        }
    }

    let sawn = plan.sheets.iter().filter(|s| s.guillotine);
    let finished: BTreeSet<usize> = sawn
        .flat_map(|s| &s.parts)
        .map(|p| p.item)
        .filter(|i| job.items[*i].finish_on_router)
        .collect();
    let router = job
        .shop
        .machines
        .iter()
        .find(|m| m.process == Process::Router);
    for (i, item) in finished.into_iter().enumerate() {
        let drawing = Drawing::of_sawn_part(&job.items[item], job, router)?;
        add(format!("finish-{:02}", i + 1), &drawing);
    }

    let nest = nest_json::to_string(&nest_json::record(plan, job))?;
    files.push(("nest.json".to_owned(), nest.into_bytes()));
    Ok(files)
}

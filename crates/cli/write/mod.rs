//! Cut files: what a machine reads, and `nest.json`: what anyone can check.

pub mod drawing;
pub mod dxf;
pub mod folder;
mod label;
mod layer;
pub mod nest_json;
pub mod read_back;
mod shape;
pub mod svg;

#[cfg(test)]
mod samples;

pub use drawing::{Drawing, Entity, Owner};
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
/// When a number is not finite, naming the sheet, part or key, or when a DXF file does not read
/// back as drawn.
///
/// # Panics
/// When the plan refers to items, materials or machines that `job` does not have.
pub fn cut_files(plan: &CutPlan, job: &Job) -> Result<Vec<(String, Vec<u8>)>> {
    let mut files = Vec::new();
    let mut add = |name: String, drawing: &Drawing| {
        let bytes = dxf::to_bytes(drawing);
        let file = format!("cut/{name}.dxf");
        read_back::check(&file, &bytes, drawing)?;
        files.push((file, bytes));
        files.push((
            format!("cut/{name}.svg"),
            svg::to_string(drawing).into_bytes(),
        ));
        Ok(())
    };
    let sheets = plan.sheets.len();
    for sheet in &plan.sheets {
        let name = format!("sheet-{:02}", sheet.number);
        let whole = Drawing::of_sheet(sheet, sheets, job)?;
        add(name.clone(), &whole)?;
        for blank in 0..sheet.blanks.len() {
            let drawing = whole.of_blank(sheet, job, blank);
            add(format!("{name}-blank-{}", blank + 1), &drawing)?;
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
        add(format!("finish-{:02}", i + 1), &drawing)?;
    }

    let nest = nest_json::to_string(&nest_json::record(plan, job))?;
    files.push(("nest.json".to_owned(), nest.into_bytes()));
    Ok(files)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_plan_gives_the_same_bytes_and_names_that_are_known_as_ours() {
        let job = samples::job();
        let plan = samples::plan(&job);
        let files = cut_files(&plan, &job).unwrap();
        assert_eq!(files, cut_files(&plan.clone(), &job.clone()).unwrap());
        let names: Vec<&str> = files.iter().map(|(n, _)| n.as_str()).collect();
        assert_eq!(
            names,
            [
                "cut/sheet-01.dxf",
                "cut/sheet-01.svg",
                "cut/sheet-01-blank-1.dxf",
                "cut/sheet-01-blank-1.svg",
                "cut/sheet-01-blank-2.dxf",
                "cut/sheet-01-blank-2.svg",
                "cut/sheet-02.dxf",
                "cut/sheet-02.svg",
                "cut/sheet-03.dxf",
                "cut/sheet-03.svg",
                "cut/finish-01.dxf",
                "cut/finish-01.svg",
                "cut/finish-02.dxf",
                "cut/finish-02.svg",
                "nest.json"
            ]
        );
        // A second nest has to be able to clear away the first.
        let folder = tempfile::tempdir().unwrap();
        OutFolder::prepare(folder.path())
            .unwrap()
            .commit(files)
            .unwrap();
        let only = vec![("nest.json".to_owned(), Vec::new())];
        OutFolder::prepare(folder.path())
            .unwrap()
            .commit(only)
            .unwrap();
        let left = std::fs::read_dir(folder.path().join("cut")).unwrap();
        assert_eq!(left.count(), 0);
    }

    #[test]
    fn a_coordinate_that_is_not_finite_is_an_error_with_the_sheet() {
        let job = samples::job();
        let mut plan = samples::plan(&job);
        plan.sheets[2].parts[0].outline.outer.vertices[0].point.x = f64::NAN;
        let failure = cut_files(&plan, &job).unwrap_err();
        assert!(failure.place.contains("sheet 3 (R-0012)"), "{failure}");
    }
}

//! Cut files: what a machine reads, and `nest.json`: what anyone can check.

pub mod drawing;
pub mod dxf;
mod dxf_pairs;
mod dxf_r12;
pub mod folder;
mod label;
pub mod nest_json;
pub mod read_back;
pub mod svg;

#[cfg(test)]
pub(crate) mod samples;

pub use drawing::{Drawing, Entity, Owner};
pub use folder::{NEST, OutFolder};

use crate::Result;
use crate::cut_plan::CutPlan;
use crate::input::{DxfForm, Machine, Process};
use crate::job::Job;
use crate::toolpath::of_finishing;
use rayon::prelude::*;
use std::borrow::Cow;

/// What is written of a plan beside its papers.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CutFiles {
    /// The drawings: names relative to the out folder, and contents.
    pub files: Vec<(String, Vec<u8>)>,
    /// The bytes of `nest.json`, whose digest the papers bear.
    pub nest: Vec<u8>,
}

impl CutFiles {
    /// All files with their names, `nest.json` last.
    #[must_use]
    pub fn all(self) -> Vec<(String, Vec<u8>)> {
        let mut all = self.files;
        all.push((NEST.to_owned(), self.nest));
        all
    }
}

/// Every file of a plan but its papers.
///
/// * `cut/sheet-01.dxf` and `.svg`: a sheet as it lies in stock, or, when it fits the machine's bed only
///   turned by a quarter, as it lies there.
/// * `cut/sheet-01-blank-1.dxf` and `.svg`: a blank sawn from it, as it lies on the machine.
/// * `cut/finish-01.dxf` and `.svg`: a part that is sawn first and finished on the router, one for
///   all its copies.
/// * Where the machine's settings ask for it, each of these again in steps, such as
///   `cut/sheet-01-step-1-inside.dxf`: one worked layer with the edge of the stock.
/// * `nest.json`.
///
/// # Errors
/// When a number is not finite, naming the sheet, part or key; when a tool cannot make a part; when a
/// DXF file does not read back as drawn.
///
/// # Panics
/// When the plan refers to items, materials or machines that `job` does not have.
pub fn cut_files(plan: &CutPlan, job: &Job) -> Result<CutFiles> {
    let mut files = Files::default();
    let sheets = plan.sheets.len();
    let known = plan.paths.len() == sheets;
    for (i, sheet) in plan.sheets.iter().enumerate() {
        let machine = &job.shop.machines[sheet.machine];
        let name = format!("sheet-{:02}", sheet.number);
        let whole = if known {
            Drawing::with_paths(sheet, sheets, job, &plan.paths[i])?
        } else {
            Drawing::of_sheet(sheet, sheets, job)?
        };
        let blanks: Vec<Drawing> = (0..sheet.blanks.len())
            .map(|blank| whole.of_blank(sheet, job, blank))
            .collect();
        files.add(&name, whole, Some(machine));
        for (i, drawing) in blanks.into_iter().enumerate() {
            files.add(&format!("{name}-blank-{}", i + 1), drawing, Some(machine));
        }
    }

    let router = job.shop.first(Process::Router);
    let router = router.map(|router| &job.shop.machines[router]);
    let finishing = if plan.finishing.is_empty() {
        Cow::Owned(of_finishing(plan, job)?)
    } else {
        Cow::Borrowed(&plan.finishing)
    };
    for (i, item) in plan.finished(job).into_iter().enumerate() {
        let its = &job.items[item];
        let paths = finishing.iter().find(|f| f.item == item).map(|f| &f.paths);
        let drawing = Drawing::of_sawn_part(its, job, router, paths)?;
        files.add(&format!("finish-{:02}", i + 1), drawing, router);
    }

    let (drawn, nest) = rayon::join(
        || files.written(),
        || nest_json::to_string(&nest_json::record(plan, job)),
    );
    Ok(CutFiles {
        files: drawn?,
        nest: nest?.into_bytes(),
    })
}

/// Drawings that become files: each with its name and the release of its DXF.
#[derive(Default)]
struct Files {
    all: Vec<(String, Drawing, DxfForm)>,
}

impl Files {
    /// A drawing in the forms that its machine reads, whole and, when asked for, step by step.
    fn add(&mut self, name: &str, drawing: Drawing, machine: Option<&Machine>) {
        let settings = machine.and_then(|m| m.cutting.as_ref());
        let form = settings.map_or(DxfForm::default(), |s| s.dxf);
        let mut steps = Vec::new();
        if settings.is_some_and(|s| s.by_operation) {
            let worked = drawing.layers().into_iter().filter(|l| l.is_worked());
            for (step, layer) in worked.enumerate() {
                let its = layer.to_string().to_lowercase();
                let its = its.trim_start_matches("pw-");
                let name = format!("{name}-step-{}-{its}", step + 1);
                steps.push((name, drawing.of_layer(layer), form));
            }
        }
        self.all.push((name.to_owned(), drawing, form));
        self.all.extend(steps);
    }

    /// The bytes of all, a DXF and an SVG of each, in order; worked out side by side.
    fn written(&self) -> Result<Vec<(String, Vec<u8>)>> {
        let pairs: Vec<_> = self
            .all
            .par_iter()
            .map(|(name, drawing, form)| {
                let (dxf, svg) = rayon::join(
                    || dxf_file(&format!("cut/{name}.dxf"), drawing, *form),
                    || svg::to_string(drawing).into_bytes(),
                );
                (dxf, (format!("cut/{name}.svg"), svg))
            })
            .collect();
        let mut all = Vec::with_capacity(2 * pairs.len());
        for (dxf, svg) in pairs {
            all.push(dxf?);
            all.push(svg);
        }
        Ok(all)
    }
}

/// A DXF file that was read back.
fn dxf_file(file: &str, drawing: &Drawing, form: DxfForm) -> Result<(String, Vec<u8>)> {
    let bytes = match form {
        DxfForm::Release2000 => dxf::to_bytes(drawing),
        DxfForm::Release12 => dxf_r12::to_bytes(drawing),
    };
    read_back::check(file, &bytes, drawing, form)?;
    Ok((file.to_owned(), bytes))
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
        let record = nest_json::to_string(&nest_json::record(&plan, &job)).unwrap();
        assert_eq!(files.nest, record.into_bytes());
        let files = files.all();
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

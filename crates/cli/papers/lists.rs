//! Lists for other programs: CSV after RFC 4180, numbers with a dot, millimetres.

use super::steps::{Step, Work};
use crate::cut_plan::{CutPart, CutPlan, CutSheet};
use crate::input::Machine;
use crate::job::Job;
use crate::number::short;
use crate::saw_steps::{Fate, SawSteps};
use crate::toolpath::CutFigures;
use crate::{Failure, Result};
use panelwright_geometry::Bounds;

/// Decimals of millimetres and degrees: what cut files have.
const DECIMALS: usize = 3;

/// Every copy that is placed, sheet by sheet in cutting order.
///
/// `x_mm` and `y_mm` are the lower left corner of the rectangle round it on its sheet, `length_mm` and
/// `width_mm` its size as drawn, `angle_deg` its turn counter-clockwise.
///
/// # Errors
/// When the text cannot be made, which is a fault of the program.
pub fn parts_csv(plan: &CutPlan, job: &Job, steps: &[Step]) -> Result<Vec<u8>> {
    let mut list = List::new(
        "parts.csv",
        &[
            "sheet",
            "stock",
            "kit",
            "kit_number",
            "copy",
            "part",
            "label",
            "material",
            "thickness_mm",
            "length_mm",
            "width_mm",
            "x_mm",
            "y_mm",
            "angle_deg",
            "cut_file",
        ],
    )?;
    let n = |v: f64| short(v, DECIMALS);
    for (s, sheet) in plan.sheets.iter().enumerate() {
        for (p, part) in sheet.parts.iter().enumerate() {
            let item = &job.items[part.item];
            let (size, at) = (item.outline.bounds(), part.outline.bounds().min);
            let its = |step: &&Step| {
                let mut off = step.off.iter().flat_map(|o| &o.copies);
                off.any(|c| c.sheet == s && c.part == p)
            };
            // A part that is finished comes off twice; the last step's file makes it what it is.
            let file = steps.iter().rfind(its);
            list.row(&[
                sheet.number.to_string(),
                sheet.source.id.clone(),
                item.kit.clone(),
                part.kit_number.map_or_else(String::new, |k| k.to_string()),
                part.copy.to_string(),
                item.part.clone(),
                item.label.clone(),
                job.shop.materials[sheet.material].name.clone(),
                n(job.shop.materials[sheet.material].thickness),
                n(size.width()),
                n(size.height()),
                n(at.x),
                n(at.y),
                n(part.placement.angle_deg()),
                file.map_or_else(String::new, |step| cut_file(plan, step)),
            ])?;
        }
    }
    list.bytes()
}

/// The DXF file of a step, relative to the out folder.
pub(super) fn cut_file(plan: &CutPlan, step: &Step) -> String {
    let number = step.sheet.map_or(0, |s| plan.sheets[s].number);
    match step.work {
        Work::Saw | Work::Sheet => format!("cut/sheet-{number:02}.dxf"),
        Work::Blank(i) => format!("cut/sheet-{number:02}-blank-{}.dxf", i + 1),
        Work::Finish { file } => format!("cut/finish-{file:02}.dxf"),
    }
}

/// What is cut, sheet by sheet: each saw cut in order with its fence and what falls off, for each sawn copy
/// how much finishing it is on the router, and for router and laser how much cutting a sheet is.
///
/// # Errors
/// When the text cannot be made, which is a fault of the program.
pub fn cuts_csv(plan: &CutPlan, job: &Job) -> Result<Vec<u8>> {
    let mut list = List::new(
        "cuts.csv",
        &[
            "sheet",
            "stock",
            "process",
            "machine",
            "cut",
            "stage",
            "direction",
            "fence_mm",
            "piece",
            "at_fence",
            "falls_off",
            "cut_length_mm",
            "mark_length_mm",
            "pierces",
            "travel_mm",
            "seconds",
        ],
    )?;
    let n = |v: f64| short(v, DECIMALS);
    for (i, sheet) in plan.sheets.iter().enumerate() {
        let saw = sheet
            .saw
            .or(sheet.guillotine.then_some(sheet.machine))
            .map_or("", |m| job.shop.machines[m].name.as_str());
        let steps = SawSteps::of(sheet);
        for (c, cut) in sheet.saw_cuts.iter().enumerate() {
            let told = steps.as_ref().and_then(|s| Some((s, s.cuts().get(c)?)));
            let piece = |at: Option<usize>| {
                told.zip(at)
                    .map_or_else(String::new, |((s, _), at)| named(s, at, sheet, job))
            };
            let fence = told.map(|(_, f)| f);
            let along = (cut.to.x - cut.from.x).abs() >= (cut.to.y - cut.from.y).abs();
            list.row(&[
                sheet.number.to_string(),
                sheet.source.id.clone(),
                "saw".to_owned(),
                saw.to_owned(),
                (c + 1).to_string(),
                cut.stage.to_string(),
                if along { "rip" } else { "cross" }.to_owned(),
                fence.map_or_else(String::new, |f| n(f.setting)),
                piece(fence.map(|f| f.piece)),
                piece(fence.map(|f| f.at_fence)),
                piece(fence.and_then(|f| f.beyond)),
                n((cut.to - cut.from).length()),
                String::new(),
                String::new(),
                String::new(),
                String::new(),
            ])?;
        }
        if sheet.guillotine {
            for part in &sheet.parts {
                let its = plan.finishing.iter().find(|f| f.item == part.item);
                if let Some((router, its)) = job.finisher(&job.items[part.item]).zip(its) {
                    let machine = &job.shop.machines[router];
                    let piece = copy(part, &part.outline.bounds(), job);
                    list.row(&machine_row(sheet, machine, piece, Some(its.paths.figures)))?;
                }
            }
        } else {
            let machine = &job.shop.machines[sheet.machine];
            let figures = plan.paths.get(i).map(|p| p.figures);
            list.row(&machine_row(sheet, machine, String::new(), figures))?;
        }
    }
    list.bytes()
}

/// How much a piece is on router or laser, in the columns of [`cuts_csv`].
fn machine_row(
    sheet: &CutSheet,
    machine: &Machine,
    piece: String,
    figures: Option<CutFigures>,
) -> [String; 16] {
    let told = |value: Option<f64>| value.map_or_else(String::new, |v| short(v, DECIMALS));
    [
        sheet.number.to_string(),
        sheet.source.id.clone(),
        format!("{:?}", machine.process).to_lowercase(),
        machine.name.clone(),
        String::new(),
        String::new(),
        String::new(),
        String::new(),
        piece,
        String::new(),
        String::new(),
        told(figures.map(|f| f.cut_length)),
        told(figures.map(|f| f.mark_length)),
        figures.map_or_else(String::new, |f| f.pierces.to_string()),
        told(figures.map(|f| f.travel)),
        told(figures.and_then(|f| f.seconds)),
    ]
}

/// A size in millimetres.
fn size(bounds: &Bounds) -> String {
    let [length, width] = [bounds.width(), bounds.height()].map(|v| short(v, DECIMALS));
    format!("{length} x {width}")
}

/// A copy as it lies on its sheet in a few letters.
fn copy(part: &CutPart, bounds: &Bounds, job: &Job) -> String {
    let name = &job.items[part.item].part;
    format!("{name}:{} {}", part.copy, size(bounds))
}

/// A piece at the saw in a few letters: what it is, and its size in millimetres.
fn named(steps: &SawSteps, piece: usize, sheet: &CutSheet, job: &Job) -> String {
    let its = &steps.sawing.pieces[piece];
    let bounds = size(its);
    match steps.fates[piece] {
        Fate::Stock => format!("stock {bounds}"),
        Fate::Again(number) => format!("P{number} {bounds}"),
        Fate::Part(i) => copy(&sheet.parts[i], its, job),
        Fate::Blank(i) => format!("blank {} {bounds}", i + 1),
        Fate::Offcut(i) => format!("offcut {} {bounds}", sheet.offcuts[i].id),
        Fate::Scrap => format!("scrap {bounds}"),
    }
}

/// A list being written.
struct List {
    name: &'static str,
    writer: csv::Writer<Vec<u8>>,
}

impl List {
    fn new(name: &'static str, header: &[&str]) -> Result<Self> {
        let writer = csv::WriterBuilder::new()
            .terminator(csv::Terminator::CRLF)
            .from_writer(Vec::new());
        let mut list = Self { name, writer };
        list.row(header)?;
        Ok(list)
    }

    fn row<T: AsRef<[u8]>>(&mut self, cells: &[T]) -> Result<()> {
        let written = self.writer.write_record(cells);
        written.map_err(|e| fault(self.name, &e.to_string()))
    }

    fn bytes(self) -> Result<Vec<u8>> {
        let name = self.name;
        let bytes = self.writer.into_inner();
        bytes.map_err(|e| fault(name, &e.to_string()))
    }
}

fn fault(name: &str, error: &str) -> Failure {
    Failure::new(
        name,
        format!("cannot be made: {error}"),
        "report this as a fault",
    )
}

//! Labels of a nest: for every part that is cut, every offcut that is kept and every kit's parcel.

use super::label::{Label, Sketch, grain_words};
use super::label_page::label_page;
use super::steps::{Step, Work};
use super::words::{kit_number, offcut_size, ordered, part_size, stock_name};
use crate::Result;
use crate::cut_plan::{CutOffcut, CutPart, CutPlan, CutSheet};
use crate::job::Job;
use crate::number::plain;
use crate::rack::{Drawn, sketch};
use std::rc::Rc;

/// What the code on a part says: `ORDER/KIT/PART:COPY`, names as they are written in the files.
#[must_use]
pub fn part_identity(job: &Job, part: &CutPart) -> String {
    let item = &job.items[part.item];
    format!("{}/{}/{}:{}", job.order, item.kit, item.part, part.copy)
}

/// What the code on a parcel says: `ORDER/KIT#NUMBER`.
#[must_use]
pub fn kit_identity(job: &Job, kit: &str, number: u32) -> String {
    format!("{}/{kit}#{number}", job.order)
}

/// What the code on an offcut says until the rack has given it a number: the first eight digits of the nest's
/// digest, by which the rack knows the nest too, and its name in the nest.
#[must_use]
pub fn offcut_identity(digest: &str, offcut: &str) -> String {
    format!("{}/{offcut}", digest.get(..8).unwrap_or(digest))
}

/// All labels on the shop's stock of them: those of a step together, in the order of the steps, as they are
/// wanted; then the parcels.
///
/// # Errors
/// When a code has no room.
pub(super) fn labels(plan: &CutPlan, job: &Job, steps: &[Step], digest: &str) -> Result<String> {
    let paper = &job.shop.paper;
    let mut all = Vec::new();
    for step in steps {
        let sheet = step.sheet.map(|i| &plan.sheets[i]);
        // What the router only finishes has its label from the saw.
        if !matches!(step.work, Work::Finish { .. }) {
            for off in &step.off {
                for copy in &off.copies {
                    let part = &plan.sheets[copy.sheet].parts[copy.part];
                    all.push(of_part(plan, job, &plan.sheets[copy.sheet], part));
                }
            }
        }
        if let Some(sheet) = sheet {
            for offcut in &step.kept {
                all.push(of_offcut(job, sheet, &sheet.offcuts[*offcut], digest));
            }
        }
    }
    for (kit, number) in super::steps::kits(job) {
        all.push(of_kit(plan, job, kit, number));
    }
    let title = paper.say_with("label-title", &[("order", plain(&job.order).into())]);
    label_page(&title, &all, &job.shop.labels, paper)
}

fn of_part(plan: &CutPlan, job: &Job, sheet: &CutSheet, part: &CutPart) -> Label {
    let paper = &job.shop.paper;
    let item = &job.items[part.item];
    let (name, text) = (plain(&item.part), plain(&item.label));
    let copy = paper.say_with(
        "label-copy",
        &[("part", name.as_str().into()), ("copy", part.copy.into())],
    );
    Label {
        kind: paper.say("label-part"),
        title: text,
        under: kit_number(job, item, part.kit_number),
        lines: vec![
            plain(&item.kit),
            copy,
            plain(&job.material_of(item).name),
            part_size(job, item),
            paper.say_with(
                "label-order-sheet",
                &[
                    ("order", plain(&job.order).into()),
                    ("sheet", sheet.number.into()),
                    ("of", plan.sheets.len().into()),
                ],
            ),
        ],
        identity: part_identity(job, part),
        sketch: None,
    }
}

fn of_offcut(job: &Job, sheet: &CutSheet, offcut: &CutOffcut, digest: &str) -> Label {
    let paper = &job.shop.paper;
    let bounds = offcut.outline.bounds();
    let proportion = bounds.width() / bounds.height();
    let drawn = Drawn {
        outline: offcut.outline.clone(),
        grain_deg: sheet.grain_deg,
        ..Drawn::default()
    };
    let short = digest.get(..8).unwrap_or(digest);
    Label {
        kind: paper.say("label-offcut"),
        title: plain(&offcut.id),
        under: plain(&job.shop.materials[sheet.material].name),
        lines: vec![
            match grain_words(paper, sheet.grain_deg, &bounds) {
                Some(grain) => format!("{}, {grain}", offcut_size(paper, &offcut.outline)),
                None => offcut_size(paper, &offcut.outline),
            },
            // Where the rack's number is written once it is booked.
            paper.say("label-rack-number"),
            paper.say_with("label-nest", &[("digest", short.into())]),
            paper.say_with(
                "label-left-of",
                &[
                    ("sheet", sheet.number.into()),
                    ("stock", stock_name(paper, &sheet.source).into()),
                ],
            ),
        ],
        identity: offcut_identity(digest, &offcut.id),
        sketch: Some(Sketch {
            proportion,
            draw: Rc::new(move |w, h| sketch(&drawn, 0.0, h, w, h)),
        }),
    }
}

fn of_kit(plan: &CutPlan, job: &Job, kit: usize, number: u32) -> Label {
    let paper = &job.shop.paper;
    let order = &job.kits[kit];
    let load = super::steps::load(plan, job, kit, number);
    let name = plain(&order.kit);
    let parts = paper.say_with("parts-count", &[("n", load.parts.into())]);
    let mut lines = Vec::new();
    if load.missing > 0 {
        lines.push(paper.say_with("label-incomplete", &[("n", load.missing.into())]));
    }
    lines.push(format!("{parts}, {}", paper.mass(load.mass)));
    lines.push(paper.say_with("label-order", &[("order", plain(&job.order).into())]));
    if let Some(due) = &job.due {
        lines.push(paper.say_with("paper-due", &[("day", plain(due).into())]));
    }
    lines.push(plain(&job.shop.name));
    Label {
        kind: paper.say("label-kit"),
        title: paper.say_with(
            "kit-number-of",
            &[
                ("n", number.into()),
                ("of", ordered(job, &order.kit).into()),
            ],
        ),
        under: name,
        lines,
        identity: kit_identity(job, &order.kit, number),
        sketch: None,
    }
}

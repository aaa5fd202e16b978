//! `panelwright check`: reads an order and everything it names, or one drawing, and tells what it understood.

use crate::area::m2;
use crate::args::CheckArgs;
use crate::check_drawing;
use crate::job::Job;
use crate::number::counted;
use crate::read_job::ReadJobOptions;
use crate::{Failure, Result, cut_checks, toolpath};
use comfy_table::{CellAlignment, Table, presets};
use serde_json::json;

/// Runs `panelwright check`; returns what to print.
///
/// # Errors
/// The first thing wrong with the order, its shop, kits, drawings or remnants.
pub fn run(args: &CheckArgs) -> Result<String> {
    if check_drawing::is_drawing(&args.file) {
        return check_drawing::run(args);
    }
    if args.units.is_some() || args.kit.is_some() {
        let what = "--units and --kit tell how a drawing is read, and this is none";
        let advice = "leave them out: an order names its kits, and those their drawings";
        return Err(Failure::in_file(&args.file, "", what, advice));
    }
    let mut job = Job::read(
        &args.file,
        &ReadJobOptions {
            rack: args.rack.clone(),
            ..ReadJobOptions::default()
        },
    )?;
    toolpath::check(&job)?;
    cut_checks::apply(&mut job, args.strict)?;
    Ok(if args.json {
        as_json(&job)
    } else {
        as_text(&job)
    })
}

fn as_json(job: &Job) -> String {
    let items: Vec<_> = job
        .items
        .iter()
        .map(|item| {
            let bounds = item.outline.bounds();
            json!({
                "part": item.part,
                "kit": item.kit,
                "quantity": item.quantity,
                "material": job.material_of(item).name,
                "machine": job.machine_of(item).name,
                "length": bounds.width(),
                "width": bounds.height(),
                "area": item.outline.area(),
                "holes": item.outline.holes.len(),
            })
        })
        .collect();
    let value = json!({
        "order": job.order,
        "parts": items,
        "remnants": job.shop.remnants.len(),
        "notes": job.notes,
    });
    format!("{value:#}\n")
}

fn as_text(job: &Job) -> String {
    let mut table = Table::new();
    table.load_style(presets::NOTHING).set_header([
        "part", "quantity", "size, mm", "area, m2", "holes", "material", "machine",
    ]);
    for item in &job.items {
        let bounds = item.outline.bounds();
        table.add_row([
            item.part.clone(),
            item.quantity.to_string(),
            format!("{:.1} x {:.1}", bounds.width(), bounds.height()),
            format!("{:.4}", m2(item.outline.area())),
            item.outline.holes.len().to_string(),
            job.material_of(item).name.clone(),
            job.machine_of(item).name.clone(),
        ]);
    }
    for column in [1, 2, 3, 4] {
        if let Some(column) = table.column_mut(column) {
            column.set_cell_alignment(CellAlignment::Right);
        }
    }
    let kits = job.kit_list();
    let copies: u32 = job.items.iter().map(|i| i.quantity).sum();
    let mut text = format!("Order {}", job.order);
    if !kits.is_empty() {
        text += &format!(": {}", kits);
    }
    text += "\n\n";
    for line in table.lines() {
        text += line.trim_end();
        text.push('\n');
    }
    let (parts, remnants) = (job.items.len(), job.shop.remnants.len());
    text += &format!(
        "\n{} of {}; {} on the rack\n",
        counted(copies as usize, "copy", "copies"),
        counted(parts, "part", "parts"),
        counted(remnants, "remnant", "remnants")
    );
    if !job.notes.is_empty() {
        text += "\nNoticed:\n";
        for note in &job.notes {
            text += &format!("  {note}\n");
        }
    }
    text + "\nNothing that stops the work was found.\n"
}

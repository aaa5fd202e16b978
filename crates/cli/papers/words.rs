//! Names and sizes that several papers say in the same words.

use crate::cut_plan::{CutPlan, Source};
use crate::job::{Item, Job};
use crate::number::plain;
use crate::paper::Paper;
use panelwright_geometry::Polygon;
use panelwright_nesting::StockKind;

/// Which kit of its name a copy belongs to, in words.
pub(super) fn kit_number(job: &Job, item: &Item, number: Option<u32>) -> String {
    let paper = &job.shop.paper;
    match number {
        None => paper.say("single-part"),
        Some(n) => paper.say_with(
            "kit-number-of",
            &[("n", n.into()), ("of", ordered(job, &item.kit).into())],
        ),
    }
}

/// How many kits of a name are ordered.
pub(super) fn ordered(job: &Job, kit: &str) -> u32 {
    let its = job.kits.iter().filter(|k| k.kit == kit);
    its.map(|k| k.quantity).sum()
}

/// Size of an offcut with the unit, and whether it is less than that rectangle.
pub(super) fn offcut_size(paper: &Paper, outline: &Polygon) -> String {
    let bounds = outline.bounds();
    let size = format!(
        "{} {}",
        paper.size(bounds.width(), bounds.height()),
        paper.length_unit()
    );
    if bounds.area() - outline.area() <= 1e-6 * bounds.area() {
        size
    } else {
        format!("{size}, {}", paper.say("label-not-rectangular"))
    }
}

/// Length, width and thickness of a part, with the unit.
pub(super) fn part_size(job: &Job, item: &Item) -> String {
    let paper = &job.shop.paper;
    let bounds = item.outline.bounds();
    format!(
        "{} x {} {}",
        paper.size(bounds.width(), bounds.height()),
        paper.length(job.material_of(item).thickness),
        paper.length_unit()
    )
}

/// Identity of a sheet size, or of a remnant and that it is one.
pub(super) fn stock_name(paper: &Paper, source: &Source) -> String {
    let id = plain(&source.id);
    match source.kind {
        StockKind::Sheet => id,
        StockKind::Remnant => paper.say_with("paper-remnant", &[("id", id.into())]),
    }
}

/// Numbers as ranges: `1-3, 7`. Expects them in rising order.
pub(super) fn ranges(numbers: &[u32]) -> String {
    crate::number::ranges(numbers)
}

/// What a paper belongs to: order, kits, due day, shop, and the nest it was made from.
pub(super) fn order_facts(plan: &CutPlan, job: &Job, digest: &str) -> Vec<(String, String)> {
    let paper = &job.shop.paper;
    let mut facts = vec![(paper.say("fact-order"), plain(&job.order))];
    if !job.kits.is_empty() {
        facts.push((paper.say("fact-kits"), plain(&job.kit_list())));
    }
    if let Some(due) = &job.due {
        facts.push((paper.say("fact-due"), plain(due)));
    }
    facts.push((
        paper.say("fact-nest"),
        paper.say_with(
            "nest-of-seed",
            &[
                ("digest", digest.get(..8).unwrap_or(digest).into()),
                ("seed", plan.seed.to_string().into()),
            ],
        ),
    ));
    facts.push((paper.say("fact-shop"), plain(&job.shop.name)));
    facts
}

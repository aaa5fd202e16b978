//! The traveller: what is done with an order, step by step, for one person at all machines.

use super::lists::cut_file;
use super::steps::{Off, Step, Work, kits, load};
use super::words::{offcut_size, order_facts, ranges, stock_name};
use crate::bed::{to_bed, turned_on_bed};
use crate::cut_plan::{CutPlan, CutSheet};
use crate::input::{Process, Substance};
use crate::job::Job;
use crate::number::plain;
use crate::paper::Paper;
use crate::report::{Caution, Figures, cautions, place, time, way_up, way_up_words};
use crate::saw_steps::{Alike, SawSteps};
use crate::{Failure, Result};
use askama::Template;
use panelwright_nesting::StockKind;
use std::collections::BTreeMap;

#[derive(Template)]
#[template(path = "traveller.html", config = "crates/cli/papers/askama.toml")]
struct Page {
    language: &'static str,
    title: String,
    facts: Vec<(String, String)>,
    skip: String,
    contents: String,
    missing: String,
    /// Identity of the first section.
    first: &'static str,
    cautions_name: String,
    cautions: Vec<Caution>,
    sections: Vec<Section>,
}

/// What is done at one kind of place.
struct Section {
    id: &'static str,
    name: String,
    intro: Vec<String>,
    blocks: Vec<Block>,
}

/// A piece on a machine, or a kind of work at the bench.
struct Block {
    /// Number of the step; empty at the bench.
    number: String,
    machine: String,
    name: String,
    /// Where the report shows it.
    link: String,
    link_name: String,
    lines: Vec<String>,
    /// Parts, one a line, in columns where there is room.
    parts: Vec<(String, String)>,
    after: Vec<String>,
    complete: String,
}

impl Block {
    fn named(name: String) -> Self {
        Self {
            number: String::new(),
            machine: String::new(),
            name,
            link: String::new(),
            link_name: String::new(),
            lines: Vec::new(),
            parts: Vec::new(),
            after: Vec::new(),
            complete: String::new(),
        }
    }
}

/// The traveller as one self-contained HTML file; its links go to the report beside it.
///
/// # Errors
/// When the template cannot be filled in, which is a fault of the program.
pub(super) fn traveller(plan: &CutPlan, job: &Job, steps: &[Step], digest: &str) -> Result<String> {
    let paper = &job.shop.paper;
    let mut sections = vec![fetch(plan, job)];
    let process = |s: &Step| job.shop.machines[s.machine].process;
    let saws = steps
        .iter()
        .take_while(|s| process(s) == Process::Saw)
        .count();
    let block = |(i, step): (usize, &Step)| block(plan, job, steps, i, step);
    if saws > 0 {
        sections.push(Section {
            id: "saw",
            name: paper.say("traveller-saw"),
            intro: vec![paper.say("traveller-saw-intro")],
            blocks: steps.iter().enumerate().take(saws).map(block).collect(),
        });
    }
    if saws < steps.len() {
        let machines = &steps[saws..];
        let lasers = machines.iter().any(|s| process(s) == Process::Laser);
        let others = machines.iter().any(|s| process(s) != Process::Laser);
        let intro = match (others, lasers) {
            (true, true) => paper.say("traveller-side-by-side"),
            (false, true) => paper.say("traveller-laser-intro"),
            _ => paper.say("traveller-router-intro"),
        };
        sections.push(Section {
            id: "machines",
            name: paper.say(match (others, lasers) {
                (true, true) => "traveller-router-and-laser",
                (false, true) => "traveller-laser",
                _ => "traveller-router",
            }),
            intro: vec![intro],
            blocks: steps.iter().enumerate().skip(saws).map(block).collect(),
        });
    }
    sections.push(bench(plan, job));
    sections.push(packing(plan, job, steps));
    sections.push(afterwards(plan, job, digest));
    let missing = plan.missing_count();
    let page = Page {
        language: paper.language.tag(),
        title: paper.say_with("traveller-title", &[("order", plain(&job.order).into())]),
        facts: order_facts(plan, job, digest),
        skip: paper.say("traveller-skip"),
        contents: paper.say("paper-contents"),
        missing: match missing {
            0 => String::new(),
            n => paper.say_with("traveller-missing", &[("n", n.into())]),
        },
        first: "fetch",
        cautions_name: paper.say("traveller-cautions"),
        cautions: cautions(plan, job, job.shop.paper),
        sections,
    };
    page.render().map_err(|error| {
        Failure::new(
            "traveller",
            format!("the HTML could not be made: {error}"),
            "report this as a fault",
        )
    })
}

/// What to bring to the machines, and from where.
fn fetch(plan: &CutPlan, job: &Job) -> Section {
    let paper = &job.shop.paper;
    let mut block = Block::named(paper.say("traveller-fetch-what"));
    for taken in Figures::new(plan, job).taken {
        let name = match taken.kind {
            StockKind::Sheet => taken.id.clone(),
            StockKind::Remnant => {
                paper.say_with("paper-remnant", &[("id", taken.id.clone().into())])
            }
        };
        let place = taken
            .place
            .clone()
            .unwrap_or_else(|| paper.say("traveller-no-place"));
        block.lines.push(paper.say_with(
            "traveller-fetch-line",
            &[
                ("n", taken.count.into()),
                ("stock", name.into()),
                ("material", taken.material.clone().into()),
                ("place", place.into()),
                ("sheets", ranges(&taken.numbers).into()),
                ("many", taken.numbers.len().into()),
            ],
        ));
    }
    Section {
        id: "fetch",
        name: paper.say("traveller-fetch"),
        intro: vec![paper.say("traveller-fetch-intro")],
        blocks: vec![block],
    }
}

/// A step at a machine.
fn block(plan: &CutPlan, job: &Job, steps: &[Step], index: usize, step: &Step) -> Block {
    let paper = &job.shop.paper;
    let machine = &job.shop.machines[step.machine];
    let mut block = Block::named(String::new());
    block.number = (index + 1).to_string();
    block.machine = plain(&machine.name);
    match step.sheet.map(|s| &plan.sheets[s]) {
        Some(sheet) => {
            block.name = piece_name(paper, plan, sheet, step);
            block.link = format!("report.html#sheet-{}", sheet.number);
            block.link_name = paper.say_with("traveller-link", &[("n", sheet.number.into())]);
            lay(&mut block.lines, plan, job, steps, index, sheet);
            match step.work {
                Work::Saw => saw_lines(&mut block.lines, job, sheet),
                _ => machine_lines(&mut block.lines, plan, step, job),
            }
        }
        None => {
            let item = step.off.first().map_or(0, |off| off.item);
            block.name = paper.say_with(
                "traveller-finish",
                &[("part", plain(&job.items[item].part).into())],
            );
            let faces = job.material_of(&job.items[item]).good_faces;
            let way = way_up_words(faces, *paper);
            block
                .lines
                .push(paper.say_with("traveller-finish-lay", &[("way", way.into())]));
            machine_lines(&mut block.lines, plan, step, job);
        }
    }
    block.parts = step
        .off
        .iter()
        .map(|off| part_line(plan, job, step, off))
        .collect();
    if let Some(sheet) = step.sheet.map(|s| &plan.sheets[s]) {
        for offcut in &step.kept {
            let offcut = &sheet.offcuts[*offcut];
            block.after.push(paper.say_with(
                "traveller-to-rack",
                &[
                    ("id", plain(&offcut.id).into()),
                    ("size", offcut_size(paper, &offcut.outline).into()),
                ],
            ));
        }
        if step.work == Work::Saw {
            for i in 0..sheet.blanks.len() {
                let next = steps
                    .iter()
                    .position(|s| s.sheet == step.sheet && s.work == Work::Blank(i));
                let Some(next) = next else { continue };
                block.after.push(
                    paper.say_with(
                        "traveller-blank-to",
                        &[
                            ("n", (i + 1).into()),
                            (
                                "size",
                                format!(
                                    "{} {}",
                                    paper.size(sheet.blanks[i].width(), sheet.blanks[i].height()),
                                    paper.length_unit()
                                )
                                .into(),
                            ),
                            (
                                "machine",
                                plain(&job.shop.machines[steps[next].machine].name).into(),
                            ),
                            ("step", (next + 1).into()),
                        ],
                    ),
                );
            }
        }
    }
    block.complete = complete(job, step);
    block
}

fn piece_name(paper: &Paper, plan: &CutPlan, sheet: &CutSheet, step: &Step) -> String {
    let of = plan.sheets.len();
    let values = [("n", sheet.number.into()), ("of", of.into())];
    match step.work {
        Work::Blank(i) => paper.say_with(
            "traveller-blank-of",
            &[("blank", (i + 1).into()), values[0].clone()],
        ),
        _ => paper.say_with("paper-sheet-of", &values),
    }
}

/// Where the piece comes from and how it lies.
fn lay(
    lines: &mut Vec<String>,
    plan: &CutPlan,
    job: &Job,
    steps: &[Step],
    index: usize,
    sheet: &CutSheet,
) {
    let paper = &job.shop.paper;
    let step = &steps[index];
    let material = &job.shop.materials[sheet.material];
    let machine = &job.shop.machines[step.machine];
    let bounds = match step.work {
        Work::Blank(i) => sheet.blanks[i],
        _ => sheet.polygon().bounds(),
    };
    let size = format!(
        "{} {}",
        paper.size(bounds.width(), bounds.height()),
        paper.length_unit()
    );
    if let Work::Blank(_) = step.work {
        let saw = steps
            .iter()
            .position(|s| s.sheet == step.sheet && s.work == Work::Saw);
        lines.push(paper.say_with(
            "traveller-take-blank",
            &[
                ("size", size.into()),
                ("material", plain(&material.name).into()),
                ("step", saw.map_or(0, |s| s + 1).into()),
            ],
        ));
    } else {
        let place = place(sheet, job);
        let mass = material.mass(sheet.polygon().area());
        lines.push(
            paper.say_with(
                "traveller-take",
                &[
                    ("stock", stock_name(paper, &sheet.source).into()),
                    ("material", plain(&material.name).into()),
                    ("size", size.into()),
                    ("mass", paper.mass(mass).into()),
                    (
                        "place",
                        place
                            .unwrap_or_else(|| paper.say("traveller-no-place"))
                            .into(),
                    ),
                ],
            ),
        );
    }
    if step.work == Work::Saw
        && let Some(words) = stacked(plan, job, sheet)
    {
        lines.push(words);
    }
    let mut how = vec![way_up(sheet, job)];
    // A piece is turned on the bed where it fits only so; the saw takes a sheet as it is drawn.
    let turned = match step.work {
        Work::Blank(_) => to_bed(&bounds, machine).angle_deg() != 0.0,
        Work::Sheet => turned_on_bed(sheet, machine).is_some(),
        Work::Saw | Work::Finish { .. } => false,
    };
    if let Some(grain) = sheet.grain_deg {
        let across = (grain.rem_euclid(180.0) - 90.0).abs() < 45.0;
        how.push(paper.say(if across != turned {
            "lay-grain-away"
        } else {
            "lay-grain-along"
        }));
    }
    if turned {
        how.push(paper.say("lay-turned"));
    } else if sheet.source.kind == StockKind::Remnant || bounds.width() < bounds.height() {
        let as_drawn = paper.say("lay-as-drawn");
        if !how.contains(&as_drawn) {
            how.push(as_drawn);
        }
    }
    if !sheet.flaws.is_empty() || !sheet.voids.is_empty() {
        how.push(paper.say("lay-flaws"));
    }
    lines.push(paper.say_with("traveller-lay", &[("how", how.join(", ").into())]));
}

/// Which sheets may lie on each other at the saw.
fn stacked(plan: &CutPlan, job: &Job, sheet: &CutSheet) -> Option<String> {
    let paper = &job.shop.paper;
    let Alike { numbers, at_once } = Alike::of(sheet, plan, job);
    let at_once = at_once?;
    (at_once > 1).then(|| {
        paper.say_with(
            "traveller-stack",
            &[
                ("sheets", ranges(&numbers).into()),
                ("many", numbers.len().into()),
                ("n", at_once.into()),
            ],
        )
    })
}

fn saw_lines(lines: &mut Vec<String>, job: &Job, sheet: &CutSheet) {
    let paper = &job.shop.paper;
    let cuts = sheet.saw_cuts.len();
    if cuts == 0 {
        return;
    }
    lines.push(match SawSteps::of(sheet) {
        Some(steps) => {
            let (settings, _) = steps.sawing.set_ups();
            paper.say_with(
                "traveller-saw-cuts",
                &[("n", cuts.into()), ("settings", settings.into())],
            )
        }
        None => paper.say_with("traveller-saw-lines", &[("n", cuts.into())]),
    });
}

fn machine_lines(lines: &mut Vec<String>, plan: &CutPlan, step: &Step, job: &Job) {
    let paper = &job.shop.paper;
    lines.push(paper.say_with("traveller-file", &[("file", cut_file(plan, step).into())]));
    let paths = step.sheet.and_then(|s| plan.paths.get(s));
    let figures = match step.work {
        Work::Saw => None,
        Work::Sheet => paths.map(|p| p.figures),
        Work::Blank(i) => paths.and_then(|p| p.blanks.get(i)).copied(),
        Work::Finish { .. } => step.off.first().and_then(|off| {
            let its = plan.finishing.iter().find(|f| f.item == off.item)?;
            Some(its.paths.figures.times(off.copies.len()))
        }),
    };
    // A sawn rectangle may have nothing left to finish.
    if let Some(figures) = figures.filter(|f| f.cut_length + f.mark_length > 0.0) {
        let mut words = paper.say_with(
            "traveller-cutting",
            &[
                ("length", paper.distance(figures.cut_length).into()),
                ("n", figures.pierces.into()),
            ],
        );
        // In the words of the report: two figures for one sheet make the reader look for what differs.
        if let Some(seconds) = figures.seconds {
            let time = time(seconds, *paper);
            words.push_str(&paper.say_with("traveller-time", &[("time", time.into())]));
        }
        lines.push(words);
        if figures.tabs > 0 || figures.skins > 0 {
            lines.push(paper.say("traveller-tabs"));
        }
    }
    let marked = step
        .off
        .iter()
        .any(|off| !job.items[off.item].outline.marks.is_empty());
    if marked {
        lines.push(paper.say("traveller-marks"));
    }
}

/// How many of a part come off, and for which kits.
fn part_line(plan: &CutPlan, job: &Job, step: &Step, off: &Off) -> (String, String) {
    let paper = &job.shop.paper;
    let item = &job.items[off.item];
    let mut numbers: Vec<u32> = Vec::new();
    let mut singles = 0usize;
    for copy in &off.copies {
        match plan.sheets[copy.sheet].parts[copy.part].kit_number {
            Some(n) => numbers.push(n),
            None => singles += 1,
        }
    }
    numbers.sort_unstable();
    numbers.dedup();
    let mut to = Vec::new();
    if !numbers.is_empty() {
        let kits = if several_kinds(job) {
            paper.say_with(
                "for-kits-of",
                &[
                    ("kits", ranges(&numbers).into()),
                    ("many", numbers.len().into()),
                    ("kit", short_name(&item.kit).into()),
                ],
            )
        } else {
            paper.say_with(
                "for-kits",
                &[
                    ("kits", ranges(&numbers).into()),
                    ("many", numbers.len().into()),
                ],
            )
        };
        to.push(kits);
    }
    if singles > 0 {
        to.push(paper.say_with("for-singles", &[("n", singles.into())]));
    }
    if step.work == Work::Saw && item.finish_on_router {
        to.push(paper.say("paper-then-router"));
    }
    let name = format!("{} x {}", off.copies.len(), plain(&item.part));
    (name, to.join(", "))
}

/// Longest name of a kit in a line that has much else to say.
const LONGEST_NAME: usize = 30;

fn short_name(name: &str) -> String {
    let name = plain(name);
    if name.chars().count() <= LONGEST_NAME {
        return name;
    }
    let short: String = name.chars().take(LONGEST_NAME - 1).collect();
    format!("{}…", short.trim_end())
}

fn several_kinds(job: &Job) -> bool {
    job.kits.iter().any(|k| k.kit != job.kits[0].kit)
}

/// Which kits are complete with a step, in words; empty when none is.
fn complete(job: &Job, step: &Step) -> String {
    let paper = &job.shop.paper;
    let mut by_kit: BTreeMap<&str, Vec<u32>> = BTreeMap::new();
    for (kit, number) in &step.complete {
        by_kit.entry(&job.kits[*kit].kit).or_default().push(*number);
    }
    let words = by_kit.into_iter().map(|(kit, numbers)| {
        let values = [
            ("kits", ranges(&numbers).into()),
            ("many", numbers.len().into()),
            ("kit", short_name(kit).into()),
        ];
        if several_kinds(job) {
            paper.say_with("complete-kits-of", &values)
        } else {
            paper.say_with("complete-kits", &values[..2])
        }
    });
    words.collect::<Vec<_>>().join(" ")
}

/// Edges, marks and film.
fn bench(plan: &CutPlan, job: &Job) -> Section {
    let paper = &job.shop.paper;
    let mut counts: BTreeMap<usize, usize> = BTreeMap::new();
    for part in plan.sheets.iter().flat_map(|s| &s.parts) {
        *counts.entry(part.item).or_default() += 1;
    }
    let mut clean = Block::named(paper.say("traveller-edges"));
    let mut polished = Block::named(paper.say("traveller-edges-laser"));
    let mut marked = Block::named(paper.say("traveller-marked"));
    let mut total = 0.0;
    for (item, count) in counts {
        let its = &job.items[item];
        let name = format!("{count} x {}", plain(&its.part));
        // Acrylic leaves the laser with a clear, flame-polished edge.
        let laser = job.machine_of(its).process == Process::Laser
            && job.material_of(its).substance == Substance::Acrylic;
        if laser {
            polished.parts.push((name.clone(), String::new()));
        } else {
            let edge = its.outline.cut_length();
            total += edge * count as f64;
            let each = paper.say_with(
                "traveller-edge-each",
                &[("length", paper.distance(edge).into())],
            );
            clean.parts.push((name.clone(), each));
        }
        let marks = its.outline.marks.len();
        if marks > 0 {
            let words = paper.say_with("traveller-lines", &[("n", marks.into())]);
            marked.parts.push((name, words));
        }
    }
    if !clean.parts.is_empty() {
        clean.lines.push(paper.say_with(
            "traveller-edges-how",
            &[("length", paper.distance(total).into())],
        ));
    }
    if !polished.parts.is_empty() {
        polished.lines.push(paper.say("traveller-edges-laser-how"));
    }
    if !marked.parts.is_empty() {
        marked.lines.push(paper.say("traveller-marked-how"));
    }
    let mut film = Block::named(paper.say("traveller-film"));
    film.lines.push(paper.say("traveller-film-on"));
    film.lines.push(paper.say("traveller-film-off"));
    let blocks = [clean, polished, marked];
    let mut blocks: Vec<Block> = blocks.into_iter().filter(|b| !b.parts.is_empty()).collect();
    blocks.push(film);
    Section {
        id: "bench",
        name: paper.say("traveller-bench"),
        intro: vec![paper.say("traveller-bench-intro")],
        blocks,
    }
}

/// What goes into each parcel, and a line for each kit.
fn packing(plan: &CutPlan, job: &Job, steps: &[Step]) -> Section {
    let paper = &job.shop.paper;
    let mut blocks = Vec::new();
    let mut named: Vec<&str> = Vec::new();
    for kit in &job.kits {
        if named.contains(&kit.kit.as_str()) {
            continue;
        }
        named.push(&kit.kit);
        let each: u32 = kit.parts.iter().map(|(_, n)| n).sum();
        let mut block = Block::named(paper.say_with(
            "traveller-pack-kit",
            &[("kit", plain(&kit.kit).into()), ("n", each.into())],
        ));
        block.parts = kit
            .parts
            .iter()
            .map(|(item, n)| {
                (
                    format!("{n} x {}", plain(&job.items[*item].part)),
                    String::new(),
                )
            })
            .collect();
        for (k, number) in kits(job) {
            if job.kits[k].kit != kit.kit {
                continue;
            }
            let load = load(plan, job, k, number);
            let at = steps
                .iter()
                .position(|s| s.complete.contains(&(k, number)))
                .map_or(0, |at| at + 1);
            let values = [
                ("n", number.into()),
                ("parts", load.parts.into()),
                ("mass", paper.mass(load.mass).into()),
                ("step", at.into()),
                ("missing", load.missing.into()),
            ];
            block.after.push(if load.missing > 0 {
                paper.say_with("traveller-pack-open", &[0, 1, 4].map(|i| values[i].clone()))
            } else {
                paper.say_with(
                    "traveller-pack-line",
                    &[0, 1, 2, 3].map(|i| values[i].clone()),
                )
            });
        }
        blocks.push(block);
    }
    if !job.singles.is_empty() {
        let mut block = Block::named(paper.say("traveller-pack-singles"));
        for single in &job.singles {
            let item = &job.items[single.item];
            block.after.push(
                paper.say_with(
                    "traveller-pack-single",
                    &[
                        ("n", single.quantity.into()),
                        ("part", plain(&item.part).into()),
                        (
                            "mass",
                            paper
                                .mass(
                                    super::steps::mass(job, single.item)
                                        * f64::from(single.quantity),
                                )
                                .into(),
                        ),
                    ],
                ),
            );
        }
        blocks.push(block);
    }
    Section {
        id: "packing",
        name: paper.say("traveller-packing"),
        intro: vec![paper.say("traveller-packing-intro")],
        blocks,
    }
}

/// What is left to do when all is packed.
fn afterwards(plan: &CutPlan, job: &Job, digest: &str) -> Section {
    let paper = &job.shop.paper;
    let kept = plan.sheets.iter().flat_map(|s| &s.offcuts);
    let kept = kept.filter(|o| o.kept).count();
    let mut block = Block::named(paper.say_with(
        "traveller-book",
        &[("digest", digest.get(..8).unwrap_or(digest).into())],
    ));
    block.lines.push(paper.say("traveller-book-how"));
    if kept > 0 {
        block
            .lines
            .push(paper.say_with("traveller-book-labels", &[("n", kept.into())]));
    }
    block.lines.push(paper.say("traveller-book-spoiled"));
    Section {
        id: "afterwards",
        name: paper.say("traveller-afterwards"),
        intro: Vec::new(),
        blocks: vec![block],
    }
}

#[cfg(test)]
mod tests {
    use crate::report::sample;

    #[test]
    fn what_is_engraved_is_not_told_as_lines() {
        let (plan, job) = sample::cabinet();
        let papers = crate::papers::files(&plan, &job, b"{}").expect("papers");
        let traveller = papers.iter().find(|(name, _)| name == "traveller.html");
        let traveller = std::str::from_utf8(&traveller.expect("one").1).expect("text");
        // Letters are marks of single strokes, and which marks are letters is not known here.
        assert!(traveller.contains("one mark"), "{traveller}");
        assert!(traveller.contains("each stroke of a letter counts as one"));
        assert!(!traveller.contains("one line"), "{traveller}");
    }
}

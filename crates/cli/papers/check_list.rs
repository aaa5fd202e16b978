//! The check list of an order's kits: every panel with its picture and what to measure, and a box for every kit.

use super::dimension::{Dimension, dimensions};
use super::look_alike::{Difference, LookAlike, look_alikes};
use super::part_picture::{letter, part_picture};
use super::steps::{kits, load};
use super::words::part_size;
use crate::cut_plan::CutPlan;
use crate::job::{Item, Job};
use crate::number::plain;
use crate::paper::Paper;
use crate::{Failure, Result};
use askama::Template;
use panelwright_geometry::Point;
use std::collections::BTreeMap;

#[derive(Template)]
#[template(path = "check-list.html", config = "crates/cli/papers/askama.toml")]
struct Page {
    language: &'static str,
    title: String,
    facts: Vec<(String, String)>,
    how: Vec<String>,
    measured: String,
    initials: String,
    not_alike: String,
    sections: Vec<Section>,
    skip: String,
}

/// The panels of one kind of kit, or the single parts.
struct Section {
    name: String,
    sum: String,
    panels: Vec<Panel>,
    /// Parcels to close, a box for each.
    parcels: Vec<Cell>,
    parcels_name: String,
}

struct Panel {
    name: String,
    label: String,
    quantity: String,
    facts: Vec<String>,
    picture: String,
    rows: Vec<(char, String)>,
    alike: Vec<String>,
    cells: Vec<Cell>,
}

/// A box to tick and to initial.
struct Cell {
    name: String,
    count: String,
    /// What is missing in it, as a word; empty when nothing is.
    lacks: String,
}

/// The check list as one self-contained HTML file.
///
/// # Errors
/// When the template cannot be filled in, which is a fault of the program.
pub(super) fn check_list(plan: &CutPlan, job: &Job, digest: &str) -> Result<String> {
    let paper = &job.shop.paper;
    let alike = look_alikes(job);
    let placed = placed(plan);
    let mut sections = Vec::new();
    let mut named: Vec<&str> = Vec::new();
    for kit in &job.kits {
        // Lines of one kit are one kind, numbered on.
        if named.contains(&kit.kit.as_str()) {
            continue;
        }
        named.push(&kit.kit);
        let numbers: Vec<(usize, u32)> = kits(job)
            .into_iter()
            .filter(|(k, _)| job.kits[*k].kit == kit.kit)
            .collect();
        let panels = kit
            .parts
            .iter()
            .map(|(item, each)| {
                let cells = numbers.iter().map(|(_, n)| {
                    let there = placed.get(&(*item, Some(*n))).copied().unwrap_or(0);
                    cell(paper, n.to_string(), *each, there)
                });
                panel(job, *item, *each, &alike[*item], cells.collect())
            })
            .collect();
        let parts: u32 = kit.parts.iter().map(|(_, each)| each).sum();
        let parcels = numbers
            .iter()
            .map(|(k, n)| {
                let load = load(plan, job, *k, *n);
                Cell {
                    name: n.to_string(),
                    count: paper.mass(load.mass),
                    lacks: lacks(paper, load.missing),
                }
            })
            .collect();
        sections.push(Section {
            name: plain(&kit.kit),
            sum: paper.say_with(
                "check-sum",
                &[("kits", numbers.len().into()), ("n", parts.into())],
            ),
            panels,
            parcels,
            parcels_name: paper.say_with("check-parcel", &[("n", parts.into())]),
        });
    }
    if !job.singles.is_empty() {
        let panels = job
            .singles
            .iter()
            .map(|single| {
                let there = placed.get(&(single.item, None)).copied().unwrap_or(0);
                let cell = cell(paper, paper.say("check-all"), single.quantity, there);
                let item = single.item;
                panel(job, item, single.quantity, &alike[item], vec![cell])
            })
            .collect();
        sections.push(Section {
            name: paper.say("check-singles"),
            sum: String::new(),
            panels,
            parcels: Vec::new(),
            parcels_name: String::new(),
        });
    }
    let page = Page {
        language: paper.language.tag(),
        title: paper.say_with("check-title", &[("order", plain(&job.order).into())]),
        facts: super::words::order_facts(plan, job, digest),
        how: vec![paper.say("check-how"), paper.say("check-how-measure")],
        measured: paper.say("check-measured"),
        initials: paper.say("check-initials"),
        not_alike: paper.say("check-not-alike"),
        sections,
        skip: paper.say("check-skip"),
    };
    page.render().map_err(|error| {
        Failure::new(
            "check list",
            format!("the HTML could not be made: {error}"),
            "report this as a fault",
        )
    })
}

/// Copies placed, by item and number of the kit.
fn placed(plan: &CutPlan) -> BTreeMap<(usize, Option<u32>), u32> {
    let mut all = BTreeMap::new();
    for part in plan.sheets.iter().flat_map(|s| &s.parts) {
        *all.entry((part.item, part.kit_number)).or_default() += 1;
    }
    all
}

fn lacks(paper: &Paper, missing: u32) -> String {
    match missing {
        0 => String::new(),
        n => paper.say_with("check-lacks", &[("n", n.into())]),
    }
}

fn cell(paper: &Paper, name: String, each: u32, there: u32) -> Cell {
    Cell {
        name,
        count: if each > 1 {
            format!("{each} x")
        } else {
            String::new()
        },
        lacks: lacks(paper, each.saturating_sub(there)),
    }
}

fn panel(job: &Job, item: usize, each: u32, its_alike: &[LookAlike], cells: Vec<Cell>) -> Panel {
    let paper = &job.shop.paper;
    let its: &Item = &job.items[item];
    let material = job.material_of(its);
    let name = plain(&its.part);
    let all = dimensions(&its.outline);
    let faces = paper.say(match its.good_faces {
        0 => "face-any",
        1 => "face-one",
        _ => "face-both",
    });
    let mut facts = vec![
        plain(&material.name),
        paper.say_with(
            "check-thickness",
            &[
                ("thickness", paper.length(material.thickness).into()),
                ("unit", paper.length_unit().into()),
            ],
        ),
        faces,
    ];
    if !material.finish.is_empty() {
        facts.insert(1, plain(&material.finish));
    }
    let title = paper.say_with(
        "check-picture",
        &[
            ("part", name.as_str().into()),
            ("size", part_size(job, its).into()),
        ],
    );
    Panel {
        label: if its.label == its.part {
            String::new()
        } else {
            plain(&its.label)
        },
        quantity: format!("{each} x"),
        facts,
        picture: part_picture(&its.outline, &all, &title),
        rows: all
            .iter()
            .enumerate()
            .map(|(i, d)| (letter(i), dimension_words(paper, d)))
            .collect(),
        alike: its_alike
            .iter()
            .map(|a| alike_words(job, item, a))
            .collect(),
        cells,
        name,
    }
}

/// What is to be measured, in words.
fn dimension_words(paper: &Paper, dimension: &Dimension) -> String {
    let unit = paper.length_unit();
    let with_unit = |text: String| format!("{text} {unit}");
    let length = |mm: f64| with_unit(paper.length(mm));
    let places = |at: &[Point]| -> String {
        let place = |p: &Point| {
            paper.say_with(
                "dimension-at",
                &[
                    ("x", paper.length(p.x).into()),
                    ("y", paper.length(p.y).into()),
                ],
            )
        };
        // A place stays on one line.
        let places: Vec<String> = at.iter().map(|p| place(p).replace(' ', "\u{a0}")).collect();
        places.join("; ")
    };
    match dimension {
        Dimension::Length(mm) => {
            paper.say_with("dimension-length", &[("length", length(*mm).into())])
        }
        Dimension::Width(mm) => {
            paper.say_with("dimension-width", &[("length", length(*mm).into())])
        }
        Dimension::Opening { size, count, at } => {
            let corners: Vec<Point> = at.iter().map(|b| b.min).collect();
            paper.say_with(
                "dimension-opening",
                &[
                    ("n", (*count).into()),
                    ("size", with_unit(paper.size(size.0, size.1)).into()),
                    ("at", places(&corners).into()),
                ],
            )
        }
        Dimension::Hole {
            diameter,
            count,
            at,
        } => paper.say_with(
            "dimension-hole",
            &[
                ("n", (*count).into()),
                ("size", length(*diameter).into()),
                ("at", places(at).into()),
            ],
        ),
        Dimension::Rounded { radius, count, .. } => paper.say_with(
            "dimension-rounded",
            &[("n", (*count).into()), ("radius", length(*radius).into())],
        ),
        Dimension::Round { diameter, .. } => {
            paper.say_with("dimension-round", &[("size", length(*diameter).into())])
        }
        Dimension::CutOff { size, count, .. } => paper.say_with(
            "dimension-cut-off",
            &[
                ("n", (*count).into()),
                ("size", with_unit(paper.size(size.0, size.1)).into()),
            ],
        ),
        Dimension::Curve {
            radius,
            outward,
            count,
            ..
        } => paper.say_with(
            if *outward {
                "dimension-curve-out"
            } else {
                "dimension-curve-in"
            },
            &[("n", (*count).into()), ("radius", length(*radius).into())],
        ),
        Dimension::Odd { .. } => paper.say("dimension-odd"),
        Dimension::Cut { at } => paper.say_with(
            "dimension-cut",
            &[
                (
                    "size",
                    with_unit(paper.size(at.width(), at.height())).into(),
                ),
                ("at", places(&[at.min]).into()),
            ],
        ),
        Dimension::Marks { count, .. } => {
            paper.say_with("dimension-marks", &[("n", (*count).into())])
        }
    }
}

/// What tells a panel from one that looks like it.
fn alike_words(job: &Job, item: usize, alike: &LookAlike) -> String {
    let paper = &job.shop.paper;
    let (its, other) = (&job.items[item], &job.items[alike.other]);
    let name = if its.kit == other.kit {
        plain(&other.part)
    } else {
        paper.say_with(
            "alike-of-kit",
            &[
                ("part", plain(&other.part).into()),
                ("kit", plain(&other.kit).into()),
            ],
        )
    };
    let by = match &alike.by {
        Difference::Hand => paper.say("alike-hand"),
        Difference::Material => paper.say_with(
            "alike-material",
            &[("material", plain(&job.material_of(other).name).into())],
        ),
        Difference::Size(dx, dy) => {
            let unit = paper.length_unit();
            let signed = |d: f64| {
                let sign = if d < 0.0 { "-" } else { "+" };
                match paper.length(d.abs()) {
                    zero if zero == "0" => zero,
                    length => format!("{sign}{length}"),
                }
            };
            paper.say_with(
                "alike-size",
                &[
                    ("length", signed(*dx).into()),
                    ("width", signed(*dy).into()),
                    ("unit", unit.into()),
                ],
            )
        }
        Difference::Openings(its, other) => paper.say_with(
            "alike-openings",
            &[("its", (*its).into()), ("other", (*other).into())],
        ),
        Difference::Shape => paper.say("alike-shape"),
        Difference::Marks(its, other) => paper.say_with(
            "alike-marks",
            &[("its", (*its).into()), ("other", (*other).into())],
        ),
        Difference::GoodFace => paper.say("alike-good-face"),
        Difference::Name => paper.say("alike-name"),
    };
    paper.say_with("alike-with", &[("other", name.into()), ("by", by.into())])
}

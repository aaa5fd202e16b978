//! Nests put in the order's words and summed up.

use super::bed::zones_on;
use super::problem::{StockRef, Used, pose, saw_of};
use super::{Done, PlanOptions};
use crate::cut_plan::{CutOffcut, CutPart, CutPlan, CutSheet, Missing, Source, Totals};
use crate::given::GivenSheet;
use crate::job::Job;
use crate::letters::letters;
use panelwright_geometry::Ring;
use panelwright_nesting::{Layout, Method, Problem, StockKind, Why, least_spend, yield_ceilings};
use std::collections::BTreeMap;

/// Puts the nests in the order's words and sums them up.
///
/// `given` has the sheets of an earlier nest, by group.
pub fn assemble(
    job: &Job,
    options: &PlanOptions,
    done: Vec<Done>,
    given: &[Vec<&GivenSheet>],
) -> CutPlan {
    let mut sheets: Vec<CutSheet> = Vec::new();
    let mut missing = Vec::new();
    let mut copies = vec![0; job.items.len()];
    let mut totals = Totals::default();
    // Stock area that any plan needs for what this one places: part area over the best ceiling.
    let mut least_area = 0.0;
    for group in &done {
        totals.least_spend += floor(job, options, group, &given[group.index]);
        let ceilings = yield_ceilings(&group.problem);
        let ceiling = ceilings.iter().copied().fold(0.0, f64::max);
        let placed: f64 = group
            .nest
            .layouts
            .iter()
            .map(|l| l.part_area(&group.problem))
            .sum();
        if placed > 0.0 {
            least_area += placed / ceiling;
        }
        let mut layouts: Vec<&Layout> = group.nest.layouts.iter().collect();
        // Remnants first: they are fetched from the rack before the first sheet is opened.
        layouts.sort_by_key(|l| (l.stock(&group.problem).kind == StockKind::Sheet, l.stock));
        for layout in layouts {
            let sheet = cut_sheet(job, group, &ceilings, layout, sheets.len() + 1, &mut copies);
            let area = sheet.polygon().area();
            totals.part_area += layout.part_area(&group.problem);
            totals.taken_area += area;
            totals.kept_area += layout.kept_area();
            match sheet.source.kind {
                StockKind::Sheet => totals.sheets += sheet.source.price,
                StockKind::Remnant => totals.remnants += sheet.source.price,
            }
            let kept: f64 = sheet.offcuts.iter().map(|o| o.value).sum();
            totals.offcuts += kept;
            totals.scrap += sheet.spend - sheet.source.price + kept;
            totals.spend += sheet.spend;
            sheets.push(sheet);
        }
        missing.extend(group.nest.not_placed.iter().map(|n| Missing {
            item: group.group.items[n.part],
            quantity: n.quantity,
            why: why(&n.why, job, group),
        }));
    }
    let share = |part: f64, whole: f64| if whole > 0.0 { part / whole } else { 0.0 };
    totals.yield_ = share(totals.part_area, totals.taken_area);
    totals.net_yield = share(totals.part_area, totals.taken_area - totals.kept_area);
    totals.yield_ceiling = share(totals.part_area, least_area).min(1.0);
    CutPlan {
        seed: options.seed,
        sheets,
        missing,
        totals,
        repeatable: options.limit.is_none(),
        notes: Vec::new(),
    }
}

/// The proven least spend of what a group places. All of the stock is held open to it, whatever
/// other groups took: a better plan may share it out another way. A nest that leaves parts out may
/// cost less than one that places all, so only what was placed counts.
fn floor(job: &Job, options: &PlanOptions, done: &Done, given: &[&GivenSheet]) -> f64 {
    let mut problem = pose(job, &done.group, options, &Used::default(), given).problem;
    for (part, count) in problem
        .parts
        .iter_mut()
        .zip(done.nest.placed_counts(&done.problem))
    {
        part.quantity = count;
    }
    // What is pinned is placed, so it stays; but it has another index then.
    let mut index = Vec::with_capacity(problem.parts.len());
    let mut kept = 0;
    for part in &problem.parts {
        index.push(kept);
        kept += usize::from(part.quantity > 0);
    }
    problem.parts.retain(|part| part.quantity > 0);
    for pinned in problem.stock.iter_mut().flat_map(|s| &mut s.pinned) {
        pinned.part = index[pinned.part];
    }
    least_spend(&problem)
}

fn cut_sheet(
    job: &Job,
    group: &Done,
    ceilings: &[f64],
    layout: &Layout,
    number: usize,
    copies: &mut [u32],
) -> CutSheet {
    let problem = &group.problem;
    let stock = layout.stock(problem);
    let machine = &job.shop.machines[group.group.machine];
    let (place, lot, flaws) = match group.stock[layout.stock] {
        StockRef::Sheet(i) => {
            let sheet = &job.shop.sheets[i];
            (sheet.place.clone(), sheet.lot.clone(), Vec::new())
        }
        StockRef::Remnant(i) => {
            let remnant = &job.shop.remnants[i];
            (
                remnant.place.clone(),
                remnant.lot.clone(),
                remnant.flaws.clone(),
            )
        }
    };
    let guillotine = matches!(problem.method, Method::Guillotine(_));
    let (margin, gap) = match &problem.method {
        Method::FreeForm => (problem.margin, problem.gap),
        // What holds on every side: the least trim of a sheet, the margin of a trimmed remnant.
        Method::Guillotine(rules) => {
            let t = rules.trim;
            let least = t.left.min(t.right).min(t.bottom).min(t.top);
            (
                if stock.kind == StockKind::Sheet {
                    least
                } else {
                    problem.margin
                },
                rules.kerf,
            )
        }
    };
    let area = stock.outline.area();
    let part_area = layout.part_area(problem);
    let used = area - layout.kept_area();
    CutSheet {
        number,
        material: group.group.material,
        machine: group.group.machine,
        saw: if layout.saw_cuts.is_empty() {
            None
        } else {
            saw_of(job)
        },
        guillotine,
        source: Source {
            kind: stock.kind,
            id: stock.name.clone(),
            price: stock.cost,
            place,
            lot,
        },
        outline: stock.outline.outer.clone(),
        voids: stock.outline.holes.clone(),
        flaws,
        zones: zones_on(machine, stock),
        grain_deg: stock.grain_deg,
        margin,
        gap,
        kerf: machine.kerf,
        parts: cut_parts(problem, layout, &group.group.items, copies),
        saw_cuts: layout.saw_cuts.clone(),
        blanks: stock
            .break_down
            .as_ref()
            .map(|b| b.blanks.clone())
            .unwrap_or_default(),
        offcuts: layout
            .offcuts
            .iter()
            .enumerate()
            .map(|(i, o)| CutOffcut {
                id: format!("{number}{}", letters(i)),
                outline: o.outline.clone(),
                kept: o.kept,
                value: if o.kept { o.value } else { 0.0 },
            })
            .collect(),
        yield_: part_area / area,
        net_yield: if used > 0.0 { part_area / used } else { 0.0 },
        yield_ceiling: ceilings[layout.stock],
        spend: panelwright_nesting::spend_of(problem, layout),
    }
}

/// The parts of a layout in cutting order: what lies in a window before the part round it, else
/// from the lower left to the upper right.
fn cut_parts(
    problem: &Problem,
    layout: &Layout,
    items: &[usize],
    copies: &mut [u32],
) -> Vec<CutPart> {
    let outlines: Vec<_> = layout.placed.iter().map(|p| p.outline(problem)).collect();
    let hosts: Vec<Option<usize>> = outlines
        .iter()
        .enumerate()
        .map(|(i, o)| {
            let bounds = o.bounds();
            let corner = o.outer.vertices[0].point;
            let area = |j: &usize| outlines[*j].outer.area();
            (0..outlines.len())
                .filter(|j| {
                    let round =
                        |hole: &Ring| hole.bounds().contains(&bounds) && hole.surrounds(corner);
                    *j != i && outlines[*j].holes.iter().any(round)
                })
                // The nearest one round it is the smallest.
                .min_by(|a, b| area(a).total_cmp(&area(b)))
        })
        .collect();
    let depth = |mut i: usize| {
        let mut depth = 0;
        while let Some(host) = hosts[i] {
            depth += 1;
            i = host;
            if depth > outlines.len() {
                break;
            }
        }
        depth
    };
    let mut order: Vec<usize> = (0..outlines.len()).collect();
    order.sort_by(|a, b| {
        let corner = |i: &usize| outlines[*i].bounds().min;
        depth(*b)
            .cmp(&depth(*a))
            .then(corner(a).x.total_cmp(&corner(b).x))
            .then(corner(a).y.total_cmp(&corner(b).y))
    });
    let rank: BTreeMap<usize, usize> = order.iter().enumerate().map(|(r, i)| (*i, r)).collect();
    order
        .iter()
        .map(|i| {
            let placed = &layout.placed[*i];
            let item = items[placed.part];
            copies[item] += 1;
            CutPart {
                item,
                copy: copies[item],
                placement: placed.placement,
                outline: outlines[*i].clone(),
                inside: hosts[*i].map(|h| rank[&h]),
                pinned: layout.stock(problem).pinned.contains(placed),
            }
        })
        .collect()
}

/// Why copies are missing, as a sentence.
fn why(why: &Why, job: &Job, group: &Done) -> String {
    let material = &job.shop.materials[group.group.material].name;
    let machine = &job.shop.machines[group.group.machine].name;
    match why {
        Why::TooLarge => format!("it fits on no sheet or remnant of {material} on the {machine}"),
        Why::FaceOrGrain => {
            format!("no sheet or remnant of {material} has the good faces or the grain it needs")
        }
        Why::SawLimits => format!("the {machine} cannot make it within its stages and lengths"),
        Why::Stopped => {
            "the search was stopped before it came to it; run it again for longer".into()
        }
        Why::StockUsedUp => format!("all {material} that it fits on is used up; buy or free more"),
    }
}

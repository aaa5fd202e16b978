//! Strips of rectangles, laid by the search for the saw on shorter and shorter boards.
//!
//! Many rectangles tile a strip in ways that are found by cutting it up, and hardly ever by pushing them about: columns of
//! one width, rows of one height. So where all parts are rectangles or nearly so this comes first; what the streams make of
//! it is not bound to straight cuts.

use super::fill::Sheet;
use super::region::Item;
use super::rows::is_sound;
use super::shape::Pose;
use super::strip::StripProblem;
use super::tables::Tables;
use super::work::Watch;
use crate::{Budget, Control, Method, Part, Problem, SawRules, Stock, Turn, guillotine};
use panelwright_geometry::{Outline, Polygon};

/// Share of their bounding rectangles that the parts fill at least.
const LEAST_FILLED: f64 = 0.95;

/// Copies beyond which a try takes too long.
const MOST_COPIES: f64 = 5_000.0;

/// Shares of the length taken off at a time: first, and last. Half as much after each failure.
const SHORTER: (f64, f64) = (0.08, 1e-3);

/// Steps of one try at most, and as a share of all steps of the strip.
const TRY_STEPS: u64 = 200_000;
const TRY_SHARE: f64 = 0.01;

/// Tries at most.
const MOST_TRIES: usize = 16;

/// Share of what is left of a time limit that one try may take.
const TRY_TIME: f64 = 0.01;

/// Lengths nearer than this share are the same.
const SAME: f64 = 1e-12;

/// How far two parts may lie in each other, in millimetres: boards and parts are rounded to nanometres.
const FORGIVEN: f64 = 3e-6;

/// How far sides may be off, in millimetres, and still be the same.
const SAME_SIDE: f64 = 1e-5;

/// A layout shorter than `length`, which like `floor` is without the margins, or `None`.
pub(super) fn sawn(
    strip: &StripProblem,
    tables: &Tables,
    mut length: f64,
    floor: f64,
    budget: &Budget,
    watch: &Watch,
) -> Option<Sheet> {
    let of_all = |area: &dyn Fn(&Part) -> f64| -> f64 {
        let parts = strip.parts.iter();
        parts.map(|p| f64::from(p.quantity) * area(p)).sum()
    };
    let filled = of_all(&|p| p.outline.area()) / of_all(&|p| p.outline.bounds().area());
    if of_all(&|_| 1.0) > MOST_COPIES {
        return None;
    }
    if filled < LEAST_FILLED || strip.parts.iter().any(|p| p.turn == Turn::Free) {
        return None;
    }
    let parts = (0..strip.parts.len()).map(|part| rectangle(tables, part));
    let parts: Vec<Part> = parts.collect::<Option<_>>()?;
    let mut best = None;
    let mut step = SHORTER.0;
    for seed in 0..MOST_TRIES as u64 {
        if step < SHORTER.1 || length <= floor * (1.0 + 2.0 * SAME) || watch.stopped() {
            break;
        }
        let target = (length * (1.0 - step)).max(floor * (1.0 + SAME));
        let steps = ((budget.steps as f64 * TRY_SHARE) as u64).min(TRY_STEPS);
        let budget = Budget {
            steps,
            seed: budget.seed.wrapping_add(seed),
            limit: watch.limit_left(TRY_TIME),
        };
        let gap = strip.gap;
        match on_board(
            tables,
            &parts,
            gap,
            target,
            &budget,
            &watch.control.unwatched(),
        ) {
            Some((sheet, reach)) => {
                length = reach.min(target);
                best = Some(sheet);
            }
            None => step *= 0.5,
        }
    }
    best
}

/// The rectangle that the search sees round a part in its first pose; turned by a quarter where another pose has its sides exchanged.
fn rectangle(tables: &Tables, part: usize) -> Option<Part> {
    let poses = tables.catalogue.poses(part, 0);
    let (width, height) = sides(tables, poses.first()?);
    let across = |pose: &Pose| same(sides(tables, pose), (height, width));
    let given = &tables.problem.parts[part];
    Some(Part {
        turn: if poses.iter().any(across) {
            Turn::Quarter
        } else {
            Turn::None
        },
        ..Part::new(
            given.name.clone(),
            Outline::rectangle(width, height),
            given.quantity,
        )
    })
}

fn sides(tables: &Tables, pose: &Pose) -> (f64, f64) {
    let turned = &tables.catalogue.turned[pose.turned];
    (turned.width, turned.height)
}

fn same(a: (f64, f64), b: (f64, f64)) -> bool {
    (a.0 - b.0).abs() <= SAME_SIDE && (a.1 - b.1).abs() <= SAME_SIDE
}

/// All parts on a board of this length, and how far they reach.
fn on_board(
    tables: &Tables,
    parts: &[Part],
    gap: f64,
    length: f64,
    budget: &Budget,
    control: &Control,
) -> Option<(Sheet, f64)> {
    let field = tables.fields_of(0).next()?;
    let room = tables.fields[field].room();
    let rules = SawRules {
        kerf: gap,
        ..SawRules::default()
    };
    let board = Stock {
        margin: Some(0.0),
        ..Stock::remnant("board", Polygon::rectangle(length, room.height()), 1.0, 0)
    };
    let problem = Problem {
        gap,
        method: Method::Guillotine(rules),
        ..Problem::new(parts.to_vec(), vec![board], vec![Some(1)])
    };
    problem.check().ok()?;
    let nest = guillotine::search(&problem, &rules, budget, control);
    let [layout] = nest.layouts.as_slice() else {
        return None;
    };
    if !nest.not_placed.is_empty() {
        return None;
    }
    let mut items = Vec::with_capacity(layout.placed.len());
    let mut reach: f64 = 0.0;
    for placed in &layout.placed {
        let (part, b) = (placed.part, placed.outline(&problem).bounds());
        let mut poses = tables.catalogue.poses(part, 0).iter();
        let lying = |pose: &&Pose| same(sides(tables, pose), (b.width(), b.height()));
        let pose = *poses.find(lying)?;
        let at = room.min + b.min.to_vec();
        reach = reach.max(b.min.x + b.width());
        items.push((field, Item { part, pose, at }));
    }
    is_sound(tables, &mut items, FORGIVEN).then_some((Sheet { stock: 0, items }, reach))
}

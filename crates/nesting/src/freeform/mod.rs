//! The free-form search for routers and lasers.
//!
//! How it works, from the bottom up:
//!
//! * Every part is covered by few **convex pieces** (`cover`, `simplify`, `decompose`, `shape`), once
//!   per angle it may lie at. Curves become tangents on the outside, so nothing is ever forgotten.
//! * For a fixed and a moving shape the places where the moving one comes nearer than the gap are a
//!   union of convex areas (`convex`, `nofit`): Minkowski sums of the pieces, grown by the gap.
//!   What is not part of a `field` (cut-off corners, voids, flaws) is a fixed shape too, kept away
//!   from by the margin; so are areas that the machine needs free. Pinned parts are walls as well, kept
//!   away from by the gap, with their cut-outs open. So the parts themselves are never grown, and a
//!   part that is exactly as wide as the sheet less its margins fits.
//! * A `region` is a field being filled. For each turned shape it knows the free places of contact:
//!   the corners of the border of all forbidden areas. Cut-outs of parts and slots that a part
//!   fills exactly need no special case.
//! * `fill` fills one piece of stock, `construct` chooses stock until all is placed: a first
//!   whole `nesting` in milliseconds.
//! * `rectangles` takes parts for their bounding rectangles and windows for boards, and has the search for the saw
//!   lay them down.
//! * `cutouts` lays anew what lies in the cut-outs of a nest, closer, so that some of them stay empty.
//! * `apart` makes windows stock of their own and frames solid, where all stock is sheets, so that the moves below
//!   work on what lies in windows too; `holes` tells which holes of parts lie where and what stock they are.
//! * `patterns` puts the nest of a large order together from sheets filled for the `prices` of parts.
//! * `improve` goes through the phases of a search: first nests, those of rectangles, cut-outs, patterns, and then several
//!   independent streams of random choices, whose best results are compared in a fixed order. Each `stream` starts from a nest
//!   of its own and may for a while carry on with a slightly worse one. It empties pieces of stock and fills them anew,
//!   has `assemble` put a nest together from sheets of earlier ones, or tries one of the `moves` that let parts
//!   overlap for a while: squeezing parts of the emptiest sheet into others, tightening the emptiest sheet.
//!   `separate` then pushes the overlapping parts apart.
//!
//! `strip` is the strip of least length: streams that `squash` a layout, by the `grid` where the parts are drawn on one. Where all
//! parts are rectangles, `sawn_strip` has the search for the saw lay them first; many copies of one
//! shape begin in `rows` or on a `lattice` of `unit`s of one or two copies. A `skyline` tells how near rows may come.
//!
//! Work is counted in looks at convex areas, never in time (`work`).

mod angles;
mod apart;
mod arena;
mod assemble;
mod boxes;
mod columns;
mod construct;
mod convex;
mod cover;
mod cutouts;
mod decompose;
mod field;
mod fill;
mod grid;
mod holes;
mod improve;
mod lattice;
mod moves;
mod nesting;
mod nofit;
mod patterns;
mod prices;
mod reason;
mod rectangles;
mod region;
mod rough;
mod rows;
mod sawn_strip;
mod separate;
mod settle;
mod shape;
mod simplify;
mod skyline;
mod squash;
mod stream;
mod strip;
mod survey;
mod tables;
#[cfg(test)]
mod tests;
mod unit;
mod windows;
mod work;

use crate::offcut::Finder;
use crate::{Budget, Control, Layout, Nest, NotPlaced, Problem};
pub(crate) use convex::minkowski_sum;
use cover::Closeness;
use nesting::Nesting;
pub use strip::{Strip, StripProblem, nest_strip};
use tables::Tables;
use work::Watch;

/// Searches for the nest of least spend within `budget`.
///
/// The same problem, seed and steps give the same nest on any number of threads, unless a time
/// limit or `control` stops the search; the best nest so far is then returned. If that happens before
/// the first nest was whole, what it had not come to is listed as [`crate::Why::Stopped`].
///
/// # Panics
/// Never on a problem that passes [`Problem::check`].
#[must_use]
pub fn search(problem: &Problem, budget: &Budget, control: &Control) -> Nest {
    search_from(problem, None, budget, control)
}

/// [`search`], going on from `start` where that is better than the first nest of its own.
///
/// # Panics
/// Never on a problem that passes [`Problem::check`] and a nest as [`crate::standing`] returns it.
#[must_use]
pub fn search_from(
    problem: &Problem,
    start: Option<&Nest>,
    budget: &Budget,
    control: &Control,
) -> Nest {
    let watch = Watch::new(budget, control);
    let mut best: Option<Nest> = None;
    let (mut left, mut done) = (1.0, 0.0);
    for (share, step) in angles::refinements(problem) {
        let steps = (budget.steps as f64 * share) as u64;
        if best.is_some() && steps < LEAST_STAGE {
            break;
        }
        let from = best.as_ref().or(start);
        let finer = best
            .as_ref()
            .map(|nest| angles::finer_angles(problem, nest, *step));
        let tables =
            Tables::with_angles(problem, from, &finer.unwrap_or_default(), Closeness::Usual);
        let part = Budget { steps, ..*budget };
        let clock = watch.part(share / left, done, *share);
        best = Some(stage(&tables, from, best.is_none(), &part, &clock));
        (left, done) = (left - share, done + share);
        if watch.stopped() {
            break;
        }
    }
    let best = best.unwrap_or_default();
    let steps = (budget.steps as f64 * CLOSE_SHARE) as u64;
    let may_gain = steps >= LEAST_STAGE && !watch.stopped();
    if best.not_placed.is_empty() && may_gain && rows::of_rough_parts(problem) {
        // Where covers fill part of a bay, rows do not lie in each other as closely as they could.
        let placed = angles::finer_angles(problem, &best, 0.0);
        let tables = Tables::with_angles(problem, Some(&best), &placed, Closeness::Close);
        let clock = watch.part(1.0, done, 0.0);
        let nesting = Nesting::of(&best, &tables);
        let closer = improve::better_in_rows(&tables, nesting, budget, &clock);
        return with_offcuts(problem, finished(&tables, &closer));
    }
    if best.not_placed.is_empty() || !may_gain || !cover::are_rough(problem) {
        return with_offcuts(problem, best);
    }
    // What is missing may have room that only close covers of curves leave. They take more time, so a nest in which nothing
    // is missing does without.
    let placed = angles::finer_angles(problem, &best, 0.0);
    let tables = Tables::with_angles(problem, Some(&best), &placed, Closeness::Close);
    let part = Budget { steps, ..*budget };
    let clock = watch.part(1.0, done, 0.0);
    let closer = stage(&tables, Some(&best), false, &part, &clock);
    with_offcuts(problem, closer)
}

/// Share of the steps that come on top for copies that are missing, with close covers.
const CLOSE_SHARE: f64 = 0.25;

/// Steps below which no other angles or covers are looked at: tables for them, which are not counted, would take many times as
/// long as that little search.
const LEAST_STAGE: u64 = 1_000;

/// A search by the angles that the tables know.
fn stage(
    tables: &Tables,
    start: Option<&Nest>,
    afresh: bool,
    budget: &Budget,
    watch: &Watch,
) -> Nest {
    let empty = construct::empty(tables);
    // All may be pinned already.
    let nesting = if empty.missing.iter().all(|n| *n == 0) {
        empty
    } else {
        let start = start.map(|nest| Nesting::of(nest, tables));
        improve::best_found(tables, start, afresh, budget, watch)
    };
    finished(tables, &nesting)
}

/// The nest with its offcuts. Large orders repeat their sheets, which are looked at once.
fn with_offcuts(problem: &Problem, mut nest: Nest) -> Nest {
    let finder = Finder::new(problem);
    for at in 0..nest.layouts.len() {
        let (before, rest) = nest.layouts.split_at_mut(at);
        let layout = &mut rest[0];
        let same = |l: &&Layout| l.stock == layout.stock && l.placed == layout.placed;
        layout.offcuts = match before.last().filter(same) {
            Some(last) => last.offcuts.clone(),
            None => finder.all(layout),
        };
    }
    nest
}

/// The nest, without its offcuts yet, and the reasons for what is missing.
fn finished(tables: &Tables, nesting: &Nesting) -> Nest {
    let left = nesting.supplies_left(tables);
    // What has pinned parts is taken in any case.
    let used = |stock: usize| nesting.sheets.iter().any(|(s, _)| s.stock == stock);
    let alone = tables.bare.iter().filter(|b| !used(b.stock)).map(|bare| {
        let sheet = fill::Sheet {
            stock: bare.stock,
            items: Vec::new(),
        };
        sheet.layout(tables)
    });
    Nest {
        layouts: nesting
            .sheets
            .iter()
            .map(|(sheet, _)| sheet.layout(tables))
            .chain(alone)
            .collect(),
        not_placed: nesting
            .missing
            .iter()
            .enumerate()
            .filter(|(_, n)| **n > 0)
            .map(|(part, n)| NotPlaced {
                part,
                quantity: *n,
                why: reason::reason(tables, part, &left),
            })
            .collect(),
    }
}

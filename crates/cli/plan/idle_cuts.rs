//! Saw cuts that free no part are not made: what is left of a sheet stays in one piece.

use super::problem::StockRef;
use super::zones::zones_on;
use crate::input::Machine;
use panelwright_geometry::{Bounds, Vec2};
use panelwright_nesting::{
    Layout, Nest, PlacedPart, Problem, Stock, find_offcuts, spend_of, verify, without_idle_cuts,
};

/// Far less than any coin, far more than what sums are rounded by.
const SAME_SPEND: f64 = 1e-6;

/// Leaves out, of each sheet of `nest` that is sawn into blanks for the machine, the cuts that only blanks without
/// parts need. Blanks may move on their sheet with all that lies on them, but for those of sheets with pinned parts. Ways to saw are
/// added to the stock of `problem`, and what they stand for to `refs`.
///
/// Sheets that would become dearer stay as they are. Were the judge to refuse the outcome, all would.
pub(super) fn leave_out(
    machine: &Machine,
    problem: &mut Problem,
    refs: &mut Vec<StockRef>,
    nest: &mut Nest,
) {
    let mut fewer = nest.clone();
    let mut wider = problem.clone();
    let mut of = refs.clone();
    for layout in &mut fewer.layouts {
        let pinned = !layout.stock(problem).pinned.is_empty();
        for stay in [false, true] {
            if pinned && !stay {
                continue;
            }
            let Some((stock, placed)) = fewer_cuts(machine, problem, layout, stay) else {
                continue;
            };
            let index = if pinned {
                // This piece is that layout's alone.
                wider.stock[layout.stock] = stock;
                layout.stock
            } else {
                let same = |s: &Stock| s.supply == stock.supply && s.break_down == stock.break_down;
                let known = wider.stock.iter().position(same);
                known.unwrap_or_else(|| {
                    wider.stock.push(stock);
                    of.push(of[layout.stock]);
                    wider.stock.len() - 1
                })
            };
            let mut other = Layout {
                placed,
                ..Layout::bare(&wider, index)
            };
            other.offcuts = find_offcuts(&wider, &other);
            if spend_of(&wider, &other) <= spend_of(problem, layout) + SAME_SPEND {
                *layout = other;
                break;
            }
            if pinned {
                wider.stock[index] = problem.stock[index].clone();
            }
        }
    }
    if fewer != *nest && verify::judge(&wider, &fewer).is_empty() {
        (*nest, *problem, *refs) = (fewer, wider, of);
    }
}

/// The stock sawn into the blanks that have parts, and these parts on it; `None` when that would be the same.
fn fewer_cuts(
    machine: &Machine,
    problem: &Problem,
    layout: &Layout,
    stay: bool,
) -> Option<(Stock, Vec<PlacedPart>)> {
    let stock = layout.stock(problem);
    let blanks = &stock.break_down.as_ref()?.blanks;
    let on = |part: &PlacedPart| {
        let middle = part.outline(problem).bounds().center();
        let middle = Bounds::new(middle, middle);
        blanks.iter().position(|b| b.contains(&middle))
    };
    let of_part: Vec<usize> = layout.placed.iter().map(on).collect::<Option<_>>()?;
    let used: Vec<bool> = (0..blanks.len()).map(|b| of_part.contains(&b)).collect();
    let only = without_idle_cuts(stock, &used, stay)?;
    let moved = |blank: usize| -> Option<Vec2> {
        let found = only.blanks.iter().find(|(old, _)| *old == blank);
        found.map(|(_, moved)| *moved)
    };
    let place = |(part, blank): (&PlacedPart, &usize)| {
        let moved = if stay {
            Vec2::default()
        } else {
            moved(*blank)?
        };
        Some(PlacedPart {
            placement: part.placement.moved(moved),
            ..*part
        })
    };
    let placed = layout.placed.iter().zip(&of_part).map(place);
    let placed = placed.collect::<Option<_>>()?;
    let mut stock = Stock {
        break_down: Some(only.plan),
        ..stock.clone()
    };
    let zones = zones_on(machine, &stock).into_iter();
    stock.zones = zones.map(|z| z.outline).collect();
    Some((stock, placed))
}

//! How much room a part takes for itself, and how much a piece of stock has.

use super::fit::{self, Shape};
use crate::{Method, Problem, Stock};
use panelwright_geometry::{Join, Outline, Point, Polygon, Region, Ring, Side, tolerance};

/// Chord error of curves here, in millimetres. Always on the side that weakens the bound.
const CHORD: f64 = 0.002;

/// By how much lengths are given away before a region is offset, in millimetres: rounding to the
/// region's grid and what the judge forgives.
const GIVEN_AWAY: f64 = 4e-4;

/// How window cut-outs count.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Cutouts {
    /// As room: other parts may lie in them. Each copy keeps its [`material`] to itself.
    Open,
    /// As part of their part, for copies that lie in no other's window; these keep all within their
    /// outer ring to themselves ([`filled`]). Voids of the stock may be inside a window, so the stock then
    /// counts without its voids and flaws.
    Filled,
}

/// Least area that a copy of a part keeps to itself on any stock, its windows filled: no other copy
/// that lies outside of its windows has a share in it.
///
/// Free-form: the part grown by half the gap, since two parts grown so cannot overlap while they keep
/// the gap. Guillotine: the bounding rectangle with a kerf added to both sides, since a cut runs
/// between any two pieces and moving all of it to the left and lower one makes them disjoint.
pub(super) fn filled(problem: &Problem, shape: &Shape) -> f64 {
    let part = shape.part;
    match &problem.method {
        Method::Guillotine(saw) => problem
            .stock
            .iter()
            .filter_map(|stock| {
                let (sizes, slack) = shape.sizes(stock);
                let side = |s: f64| (s - slack).max(0.0) + saw.kerf;
                sizes
                    .iter()
                    .map(|(w, h)| side(*w) * side(*h))
                    .reduce(f64::min)
            })
            .reduce(f64::min)
            .unwrap_or(0.0)
            .max(part.outline.area()),
        Method::FreeForm => {
            let mut outline = part.outline.clone();
            outline.holes.clear();
            grown_area(&outline, 0.5 * problem.gap).max(outline.area())
        }
    }
}

/// Least area that a copy of a part keeps to itself on any stock: nothing else that is placed has a
/// share in it. `by` is by how much parts are grown, at most half the gap; `open` tells which windows
/// something may lie in.
pub(super) fn material(
    problem: &Problem,
    shape: &Shape,
    by: f64,
    open: impl Fn(&Ring) -> bool,
) -> f64 {
    if matches!(problem.method, Method::Guillotine(_)) {
        return filled(problem, shape);
    }
    let part = shape.part;
    let mut outline = part.outline.clone();
    outline.holes.retain(|hole| open(hole));
    grown_area(&outline, by).max(outline.area())
}

/// Area in a window for copies grown by half the gap, or a little more.
pub(super) fn window_room(problem: &Problem, window: &Ring) -> f64 {
    shrunk_window(window, 0.5 * problem.gap).min(window.area())
}

/// Area of a window shrunk by `by`, or a little more.
fn shrunk_window(window: &Ring, by: f64) -> f64 {
    // A window's own flattening errs toward more window when it errs toward less material.
    let flat = window.clone().oriented(false).flatten(CHORD, Side::Within);
    let room = Region::from(Polygon::new(flat, Vec::new()))
        .shrunk(by - GIVEN_AWAY, Join::Round)
        .area();
    room + window.length() * GIVEN_AWAY
}

/// Area of the outline grown by `by`, or a little less.
fn grown_area(outline: &Outline, by: f64) -> f64 {
    let by = by - GIVEN_AWAY;
    if by <= 0.0 {
        return outline.area();
    }
    Region::from(outline.flatten(CHORD, Side::Within))
        .grown(by, Join::Round)
        .area()
}

/// Whether another part may lie in a window; never wrong when it says no.
///
/// A part inside keeps the gap from the window's edge, so its filled outline has no more area than the
/// window shrunk by the gap.
pub(super) fn can_hold(problem: &Problem, window: &Ring) -> bool {
    if !problem.use_cutouts {
        return false;
    }
    let least = problem
        .parts
        .iter()
        .map(|p| p.outline.outer.area())
        .reduce(f64::min)
        .unwrap_or(0.0);
    if window.area() < least {
        return false;
    }
    least <= shrunk_window(window, problem.gap)
}

/// Most area that copies on one piece of `stock` can keep to themselves.
///
/// Free-form: a part lies in the field less its margin; grown by half the gap it lies in that grown
/// by half the gap. Guillotine: in the trimmed rectangle with a kerf added to both sides.
pub(super) fn room(problem: &Problem, stock: &Stock, cutouts: Cutouts) -> f64 {
    match &problem.method {
        Method::Guillotine(saw) => {
            let (length, width) = fit::sawable(stock, saw);
            let rectangle = (length + saw.kerf) * (width + saw.kerf);
            // Whatever rectangle is made of odd stock, it has no more area and no longer sides.
            let within = stock.outline.area() + saw.kerf * (length + width + saw.kerf);
            rectangle.min(within)
        }
        Method::FreeForm => stock
            .fields()
            .iter()
            .map(|field| field_room(problem, stock, field, cutouts))
            .sum(),
    }
}

/// Area within the outer ring of the stock.
pub(super) fn outer_area(stock: &Stock) -> f64 {
    Polygon::new(stock.outline.outer.clone(), Vec::new()).area()
}

fn field_room(problem: &Problem, stock: &Stock, field: &Polygon, cutouts: Cutouts) -> f64 {
    let open = cutouts == Cutouts::Open;
    let whole = Polygon {
        outer: field.outer.clone(),
        holes: if open {
            field.holes.clone()
        } else {
            Vec::new()
        },
    };
    let plain = !open || stock.keep_clear.is_empty();
    let half_gap = 0.5 * problem.gap;
    let margin = problem.margin_on(stock);
    if plain && margin == 0.0 && half_gap == 0.0 {
        return whole.area();
    }
    let flaws: Vec<Polygon> = stock
        .keep_clear
        .iter()
        .filter(|_| open)
        .map(|ring: &Vec<Point>| Polygon::new(ring.clone(), Vec::new()))
        .collect();
    let inside = Region::covering(&[whole], 0.0)
        .without(&Region::within(&flaws, 0.0))
        .shrunk(margin - GIVEN_AWAY, Join::Round);
    if half_gap == 0.0 {
        // A rounded length on all of the edge.
        return inside.area() + GIVEN_AWAY * edge_length(&inside);
    }
    inside
        .grown(half_gap + Region::ARC + GIVEN_AWAY, Join::Round)
        .area()
}

fn edge_length(region: &Region) -> f64 {
    region
        .polygons()
        .iter()
        .flat_map(|p| p.edges().map(|(a, b)| a.distance(b)).collect::<Vec<_>>())
        .sum::<f64>()
        + tolerance::COINCIDENT
}

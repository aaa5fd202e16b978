//! The angles at which a freely turned part is tried.

use super::convex::hull;
use crate::{Angles, Nest, Problem, Stock};
use panelwright_geometry::{Bounds, Placement, Point};

/// How many of the longest edges of a freely turned part are laid along an edge of the stock, and how
/// many other angles it is tried at, as a division of the quarter turn. The more shapes turn freely
/// (up to the number given), the fewer: the tables grow with the square of shapes times angles.
const FREE_TURNS: [(usize, FreeTurns); 3] = [
    (10, FreeTurns { edges: 4, steps: 4 }),
    (40, FreeTurns { edges: 2, steps: 2 }),
    (usize::MAX, FreeTurns { edges: 1, steps: 1 }),
];

/// How freely turned parts are tried.
#[derive(Debug, Clone, Copy)]
pub(super) struct FreeTurns {
    edges: usize,
    steps: usize,
}

impl FreeTurns {
    /// For this many shapes that turn freely.
    pub fn of(shapes: usize) -> Self {
        let row = FREE_TURNS.iter().find(|(most, _)| shapes <= *most);
        row.unwrap_or(&FREE_TURNS[FREE_TURNS.len() - 1]).1
    }

    /// Whether there are few enough to look for angles at which they go into windows.
    pub fn looks_into_windows(self) -> bool {
        self.steps > 1
    }
}

/// Angles looked at in a half turn when a part fits at none of the usual ones.
const SCAN: u32 = 1440;

/// Of the angles of a whole turn at which something fits, the middle one of the longest run.
pub(super) fn scanned(fits: impl Fn(f64) -> bool) -> Option<f64> {
    let step = 180.0 / f64::from(SCAN);
    let turn = 2 * SCAN;
    let mut best: Option<(u32, u32)> = None;
    let mut run = 0;
    // Beyond the whole turn, so that a run across its end is seen as one.
    for k in 0..turn + SCAN {
        run = if fits(f64::from(k) * step) {
            run + 1
        } else {
            0
        };
        if run > best.map_or(0, |b| b.0) {
            best = Some((run, k));
        }
    }
    best.map(|(run, last)| (f64::from(last) - 0.5 * f64::from(run - 1)) * step % 360.0)
}

/// Angles for a part that may be turned freely: quarter turns, its longest straight edges along the
/// axes and along the longest slanted edge of the stock, and a few more. When the part is too large for
/// the stock at all of these, the one that leaves most room is added: a long part may lie aslant only.
pub(super) fn free_angles(
    hull: &[Point],
    stock: &Stock,
    margin: f64,
    turns: FreeTurns,
) -> Vec<f64> {
    let directions = |ring: &[Point], most: usize| {
        let n = ring.len();
        let mut edges: Vec<(f64, f64)> = (0..n)
            .map(|i| ring[(i + 1) % n] - ring[i])
            .map(|e| (e.length(), e.angle().to_degrees().rem_euclid(90.0)))
            .collect();
        edges.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.total_cmp(&b.1)));
        let mut found: Vec<f64> = Vec::new();
        for (_, angle) in edges {
            let off = |f: &f64| {
                let d = (f - angle).abs();
                d.min(90.0 - d)
            };
            if found.len() < most && found.iter().all(|f| off(f) > 0.01) {
                found.push(angle);
            }
        }
        found
    };
    let mut first: Vec<f64> = (0..turns.steps)
        .map(|k| 90.0 * k as f64 / turns.steps as f64)
        .collect();
    let own = directions(hull, turns.edges);
    let mut along = vec![0.0];
    along.extend(
        directions(&stock.outline.outer, 3)
            .into_iter()
            .filter(|a| *a > 0.01 && *a < 89.99)
            .take(1),
    );
    for to in along {
        first.extend(own.iter().map(|from| (to - from).rem_euclid(90.0)));
    }
    let mut angles: Vec<f64> = Vec::new();
    for base in first {
        // A rounding error must not turn an upright edge by a hair.
        let upright = base < 1e-9 || 90.0 - base < 1e-9;
        let base = if upright { 0.0 } else { base };
        for quarter in 0..4 {
            let angle = base + 90.0 * f64::from(quarter);
            if angles.iter().all(|a| (a - angle).abs() > 1e-6) {
                angles.push(angle);
            }
        }
    }
    let room = stock.outline.bounds();
    let spare = |angle: f64| {
        let turn = Placement::new(angle, Point::default());
        let size = Bounds::of_points(hull.iter().map(|p| turn.apply(*p)));
        size.map_or(f64::INFINITY, |b| {
            (room.width() - 2.0 * margin - b.width()).min(room.height() - 2.0 * margin - b.height())
        })
    };
    if angles.iter().all(|a| spare(*a) < 0.0) {
        let scanned = (0..SCAN).map(|k| f64::from(k) * 180.0 / f64::from(SCAN));
        let best = scanned.max_by(|a, b| spare(*a).total_cmp(&spare(*b)));
        angles.extend(best.into_iter().flat_map(|a| [a, a + 180.0]));
    }
    angles
}

/// Most angles of one part when they are refined, and most of all freely turned parts together: the
/// tables grow with the square of that.
const MOST_FINER: usize = 24;
const MOST_FINER_OF_ALL: usize = 240;

/// Edges of a part that are laid along its neighbours' edges.
const FINER_EDGES: usize = 4;

/// Stages of a search in which parts turn freely: the share of the work for each, and how far the angles
/// tried are from those found before, in degrees; the first is by a list.
const REFINEMENTS: [(f64, f64); 4] = [(0.55, 0.0), (0.2, 4.0), (0.15, 1.0), (0.1, 0.25)];

/// Without free turns there is nothing to refine.
const NO_REFINEMENT: [(f64, f64); 1] = [(1.0, 0.0)];

/// The stages of a search: share of the work, and the step of [`finer_angles`] before it.
pub(super) fn refinements(problem: &Problem) -> &'static [(f64, f64)] {
    if (0..problem.parts.len()).any(|part| is_free(problem, part)) {
        &REFINEMENTS
    } else {
        &NO_REFINEMENT
    }
}

fn is_free(problem: &Problem, part: usize) -> bool {
    let part = &problem.parts[part];
    let free = |stock| part.faces_fit(stock) && part.angles(stock) == Angles::Any;
    problem.stock.iter().any(free)
}

/// By part, the angles to try next when it turns freely: those it has in `nest`, `step` degrees to both
/// sides of them, and those at most twice as far off at which an edge of it comes to lie along an edge
/// of a neighbour or of the stock. A part that is missing in `nest` is laid along edges of the others.
/// Empty for a part that does not turn freely.
pub(super) fn finer_angles(problem: &Problem, nest: &Nest, step: f64) -> Vec<Vec<f64>> {
    let mut finer: Vec<Vec<f64>> = vec![Vec::new(); problem.parts.len()];
    let free: Vec<bool> = (0..finer.len()).map(|p| is_free(problem, p)).collect();
    let parts = free.iter().filter(|f| **f).count().max(1);
    let most = (MOST_FINER_OF_ALL / parts).clamp(3, MOST_FINER);
    // Turns are in billionths of a degree where they leave the search.
    let whole = |angle: f64| (angle.rem_euclid(360.0) * 1e9).round() / 1e9;
    let add = |list: &mut Vec<f64>, angle: f64| {
        let angle = whole(angle);
        if list.len() < most && !list.contains(&angle) {
            list.push(angle);
        }
    };
    for layout in &nest.layouts {
        for placed in &layout.placed {
            if free[placed.part] {
                add(&mut finer[placed.part], placed.placement.angle_deg());
            }
        }
    }
    let missing: Vec<usize> = (0..finer.len())
        .filter(|p| free[*p] && finer[*p].is_empty())
        .collect();
    for layout in &nest.layouts {
        let stock = layout.stock(problem);
        let hulls: Vec<Vec<Point>> = layout
            .placed
            .iter()
            .map(|p| hull(&p.covering(problem).outer))
            .collect();
        let boxes: Vec<Option<Bounds>> = hulls
            .iter()
            .map(|h| Bounds::of_points(h.iter().copied()))
            .collect();
        let edge = longest_edges(&stock.outline.outer, FINER_EDGES);
        for part in &missing {
            let own = longest_edges(&problem.parts[*part].outline.covering().outer, FINER_EDGES);
            let along = hulls.iter().flat_map(|h| longest_edges(h, 1));
            for to in edge.iter().copied().chain(along) {
                for from in own.iter().take(2) {
                    add(&mut finer[*part], to - from);
                    add(&mut finer[*part], to - from + 180.0);
                }
            }
        }
        for (i, placed) in layout.placed.iter().enumerate() {
            let (true, Some(own)) = (free[placed.part], boxes[i]) else {
                continue;
            };
            let near = own.grown(problem.gap + 0.1 * own.width().min(own.height()));
            let others = (0..hulls.len())
                .filter(|j| *j != i && boxes[*j].is_some_and(|b| near.touches(&b)))
                .flat_map(|j| longest_edges(&hulls[j], FINER_EDGES));
            let along: Vec<f64> = others.chain(edge.iter().copied()).collect();
            let mut offs: Vec<f64> = longest_edges(&hulls[i], FINER_EDGES)
                .iter()
                .flat_map(|from| {
                    // Edges lie along each other whichever way they run.
                    along
                        .iter()
                        .map(move |to| (to - from + 90.0).rem_euclid(180.0) - 90.0)
                })
                .filter(|off| off.abs() > 1e-7 && off.abs() <= 2.0 * step)
                .collect();
            offs.sort_by(|a, b| a.abs().total_cmp(&b.abs()).then(a.total_cmp(b)));
            let angle = placed.placement.angle_deg();
            // The least change and both ways: the others come when that has been made.
            for off in offs.into_iter().take(2).chain([step, -step]) {
                add(&mut finer[placed.part], angle + off);
            }
        }
    }
    finer
}

/// Directions of the longest edges of a ring, in degrees.
fn longest_edges(ring: &[Point], most: usize) -> Vec<f64> {
    let mut edges: Vec<(f64, f64)> = (0..ring.len())
        .map(|i| ring[(i + 1) % ring.len()] - ring[i])
        .map(|e| (e.length(), e.angle().to_degrees()))
        .collect();
    edges.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.total_cmp(&b.1)));
    edges.into_iter().take(most).map(|e| e.1).collect()
}

//! The angles at which a freely turned part is tried.

use crate::Stock;
use panelwright_geometry::Point;

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
}

/// Angles for a part that may be turned freely: quarter turns, its longest straight edges along the
/// axes and along the longest slanted edge of the stock, and a few more.
pub(super) fn free_angles(hull: &[Point], stock: &Stock, turns: FreeTurns) -> Vec<f64> {
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
    angles
}

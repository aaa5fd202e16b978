//! The few convex pieces that stand for a part in the search.

use super::convex::{diameter, hull, least_width};
use super::decompose::convex_pieces;
use super::simplify::{LONG, simplified, simplified_but};
use crate::{Part, Problem, Stock};
use panelwright_geometry::{Bounds, Point, Polygon};

/// How deep simplifying may add material, as a share of the part's size. More wastes sheet, less
/// leaves corners that cost time.
const REACH_SHARE: f64 = 0.0015;

/// The same, and corners left after simplifying, for covers that lie close: hardly anything is added, and two parts forbid
/// each other two or three times as many areas.
const CLOSE_SHARE: f64 = 0.0006;
const CLOSE_CORNERS: usize = 90;

/// Simplifying never needs to be finer than this, in millimetres: the judge's own chords are 0.02.
const LEAST_REACH: f64 = 0.03;

/// How much deeper than the outside a corner that bends inward may be filled. That costs only room in
/// the corner, where parts seldom reach, while each corner of a rounded window costs a piece.
const FILL: f64 = 3.0;

/// Rings with at most this many corners are taken as they are, so that drawn fits stay exact.
const FEW_CORNERS: usize = 16;

/// Rings with more corners than this after simplifying are simplified more roughly.
const MANY_CORNERS: usize = 40;

/// The roughest simplifying, as a share of the part's size.
const ROUGHEST_SHARE: f64 = 0.02;

/// Pieces that the outside may take; two shapes of this many have this squared forbidden areas.
const MOST_PIECES: usize = 20;

/// Further pieces for each hole that is kept.
const PIECES_PER_HOLE: usize = 5;

/// Holes that are kept, the largest first; smaller ones are filled.
const MOST_HOLES: usize = 8;

/// Shares of its size from which on sides of a hole stay where they are, one after another while it has too many corners: what
/// is nearly round has no long sides to keep.
const LONG_OF_HOLES: [f64; 3] = [LONG, 2.0 * LONG, f64::INFINITY];

/// Corners that each of so many holes may have: one takes about a piece, and the outside some.
fn corners_of_hole(holes: usize) -> usize {
    (MOST_PIECES + PIECES_PER_HOLE * holes) * 4 / (5 * holes.max(1))
}

/// The least sizes of what may lie in a hole: a hole that is smaller can take nothing.
#[derive(Debug, Clone, Copy)]
pub(super) struct Smallest {
    width: f64,
    diameter: f64,
}

impl Smallest {
    /// Of parts and of voids; of nothing where no part has a hole that may stay open, so that no one asks.
    pub fn of(problem: &Problem) -> [Self; 2] {
        let holed = problem.parts.iter().any(|p| !p.outline.holes.is_empty());
        if problem.use_cutouts && holed {
            [Self::of_parts(problem), Self::of_voids(problem)]
        } else {
            [Self::NOTHING; 2]
        }
    }

    /// Of the parts of `problem`, the gap round them included.
    fn of_parts(problem: &Problem) -> Self {
        let rings = problem.parts.iter().map(|p| p.outline.covering().outer);
        Self::of_rings(rings, problem.gap)
    }

    /// Of the voids, flaws and areas to keep clear of all stock, the margin round them included: a part may go round one
    /// with its window.
    fn of_voids(problem: &Problem) -> Self {
        let of_stock = |stock: &Stock| {
            let voids = stock.outline.holes.iter();
            let rings = voids.chain(&stock.keep_clear).chain(&stock.zones).cloned();
            Self::of_rings(rings, problem.margin_on(stock))
        };
        let least = problem.stock.iter().map(of_stock);
        least.fold(Self::NOTHING, |a, b| Self {
            width: a.width.min(b.width),
            diameter: a.diameter.min(b.diameter),
        })
    }

    const NOTHING: Self = Self {
        width: f64::INFINITY,
        diameter: f64::INFINITY,
    };

    fn of_rings(rings: impl Iterator<Item = Vec<Point>>, distance: f64) -> Self {
        rings.fold(Self::NOTHING, |least, ring| {
            let hull = hull(&ring);
            let width = if hull.len() >= 3 {
                least_width(&hull)
            } else {
                0.0
            };
            Self {
                width: least.width.min(width + 2.0 * distance),
                diameter: least.diameter.min(diameter(&hull) + 2.0 * distance),
            }
        })
    }

    /// Whether one of them may fit into `hole`.
    pub fn may_fit(&self, hole: &[Point]) -> bool {
        let hull = hull(hole);
        hull.len() >= 3
            && least_width(&hull) + 1e-6 >= self.width
            && diameter(&hull) + 1e-6 >= self.diameter
    }
}

/// Whether some part has more corners than its usual cover.
pub(super) fn are_rough(problem: &Problem) -> bool {
    problem.parts.iter().any(is_rough)
}

/// Whether a part has more corners than its usual cover.
pub(super) fn is_rough(part: &Part) -> bool {
    part.outline.covering().outer.len() > FEW_CORNERS
}

/// How closely parts are covered.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Closeness {
    /// As most of the search needs it.
    Usual,
    /// With more corners, where that does not take too many pieces.
    Close,
}

/// Convex pieces that cover `cover`, an outline as others must keep clear of it, its holes filled but for those that `keep`.
///
/// Tries to be exact within a small share of the part's size; an outline that would take too many
/// pieces (a comb, a gear, a spiral) has its bays filled further and further.
pub(super) fn covering_pieces(
    cover: &Polygon,
    closeness: Closeness,
    keep: impl Fn(&[Point]) -> bool,
) -> Vec<Vec<Point>> {
    let bounds = Bounds::of_points(cover.outer.iter().copied())
        .unwrap_or_else(|| Bounds::new(Point::default(), Point::default()));
    let size = bounds.area().sqrt();
    let mut holes: Vec<(f64, &Vec<Point>)> = cover
        .holes
        .iter()
        .filter(|h| keep(h))
        .map(|h| (Polygon::new(h.clone(), Vec::new()).area(), h))
        .collect();
    holes.sort_by(|a, b| b.0.total_cmp(&a.0));
    holes.truncate(MOST_HOLES);
    let start = (REACH_SHARE * size).max(LEAST_REACH);
    let roughest = (ROUGHEST_SHARE * size).max(start);
    let few = |ring: &[Point], within: Option<Bounds>, start: f64, fill: f64, many: usize| {
        let mut reach = start;
        loop {
            let result = simplified(ring, reach, reach.max(fill), FEW_CORNERS, within);
            reach *= 2.0;
            if result.len() <= many || reach > roughest {
                return result;
            }
        }
    };
    let corners = corners_of_hole(holes.len());
    let few_inner = |hole: &[Point], start: f64| {
        let mut result = hole.to_vec();
        for long in LONG_OF_HOLES {
            let mut reach = start;
            while result.len() > corners && reach <= roughest {
                let few = corners.min(FEW_CORNERS);
                result = simplified_but(hole, reach, FILL * reach, few, None, long);
                reach *= 2.0;
            }
        }
        result
    };
    let mut best: Option<Vec<Vec<Point>>> = None;
    let near = (CLOSE_SHARE * size).max(LEAST_REACH);
    let close = (near, FILL * near, CLOSE_CORNERS, true);
    let usual = [
        (start, FILL * start, MANY_CORNERS, true),
        // Finer where the rough outline crosses itself.
        (0.1 * start, FILL * start, MANY_CORNERS, true),
        // Bays filled where there are too many.
        (roughest, 0.05 * size, MANY_CORNERS, true),
        (roughest, 0.2 * size, MANY_CORNERS, true),
        (roughest, size, MANY_CORNERS, true),
        (start, FILL * start, MANY_CORNERS, false),
    ];
    let first = (closeness == Closeness::Close).then_some(close);
    for (reach, fill, many, with_holes) in first.into_iter().chain(usual) {
        let inner: Vec<Vec<Point>> = holes
            .iter()
            .filter(|_| with_holes)
            .map(|(_, h)| few_inner(h, reach))
            .collect();
        let most = MOST_PIECES + PIECES_PER_HOLE * inner.len();
        let polygon = Polygon::new(few(&cover.outer, Some(bounds), reach, fill, many), inner);
        // A ring that turned inside out while it was simplified covers less than the part.
        if polygon.area() + 1e-6 * cover.area() < cover.area() {
            continue;
        }
        if let Some(pieces) = convex_pieces(&polygon) {
            let enough = pieces.len() <= most;
            if best.as_ref().is_none_or(|b| pieces.len() < b.len()) {
                best = Some(pieces);
            }
            if enough {
                break;
            }
        }
    }
    let hull = hull(&cover.outer);
    match best {
        Some(pieces) if pieces.len() <= MOST_PIECES + PIECES_PER_HOLE * holes.len() => pieces,
        _ if hull.len() >= 3 => vec![simplified(&hull, start, start, FEW_CORNERS, Some(bounds))],
        _ => vec![bounds.grown(0.01).corners().to_vec()],
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use panelwright_geometry::{Outline, Vec2};

    #[test]
    fn windows_of_any_number_of_corners_stay_open() {
        let polygon = |n: u32, radius: f64, x: f64| {
            (0..n).map(move |i| {
                let angle = std::f64::consts::TAU * f64::from(i) / f64::from(n);
                Point::new(x, 240.0) + Vec2::from_angle(angle, radius)
            })
        };
        for n in 3..120 {
            for windows in [&[240.0][..], &[120.0, 360.0], &[80.0, 240.0, 400.0]] {
                let radius = 200.0 / windows.len() as f64;
                let hole = |x: &f64| Outline::polygon(polygon(n, radius, *x)).outer.reversed();
                let outer = Outline::rectangle(480.0, 480.0).outer;
                let frame = Outline::from_rings(outer, windows.iter().map(hole).collect());
                let cover = frame.covering();
                let pieces = covering_pieces(&cover, Closeness::Usual, |_| true);
                let area = |p: &Vec<Point>| Polygon::new(p.clone(), Vec::new()).area();
                let covered: f64 = pieces.iter().map(area).sum();
                let window = cover.holes.iter().map(area).sum::<f64>();
                // A regular polygon of seven corners, all that one of three may have, is 0.87 of the disc round it.
                let lost = covered - frame.area();
                assert!(
                    lost > -1e-6 && lost < 0.15 * window,
                    "{n} {windows:?}: {lost}"
                );
            }
        }
    }

    #[test]
    fn two_thousand_corners_become_few() {
        let n = 2000;
        let ring = (0..n).map(|i| {
            let angle = std::f64::consts::TAU * f64::from(i) / f64::from(n);
            let wave = 200.0 + 30.0 * (5.0 * angle).sin() + 0.01 * (300.0 * angle).sin();
            Point::default() + Vec2::from_angle(angle, wave)
        });
        let outline = Outline::polygon(ring);
        let pieces = covering_pieces(&outline.covering(), Closeness::Usual, |_| true);
        assert!(pieces.concat().len() < 150, "{}", pieces.concat().len());
        let sum: f64 = pieces
            .iter()
            .map(|p| Polygon::new(p.clone(), Vec::new()).area())
            .sum();
        assert!(sum >= outline.area() && sum < 1.03 * outline.area());
        let close = covering_pieces(&outline.covering(), Closeness::Close, |_| true);
        let of_close: f64 = close
            .iter()
            .map(|p| Polygon::new(p.clone(), Vec::new()).area())
            .sum();
        assert!(close.len() <= MOST_PIECES);
        assert!(of_close >= outline.area() && of_close < 1.005 * outline.area());
    }
}

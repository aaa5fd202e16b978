//! Measures that see what area does not: that two panels wider than half the sheet never lie side by
//! side.
//!
//! A dual feasible function f maps sides, as shares of the sheet's, so that shares which add up to no
//! more than 1 still do so afterwards. Rectangles that lie in the sheet without overlap then have
//! f(width) times g(height) adding up to no more than 1, for any two such functions.
//!
//! Source: S. P. Fekete and J. Schepers, "A general framework for bounds for higher-dimensional
//! orthogonal packing problems", Mathematical Methods of Operations Research 60 (2004), the functions
//! written there as u with the index k. The citation is from memory. Here each part is replaced by an
//! upright rectangle inside it.

use super::fit::{self, Shape};
use super::prices::Limit;
use crate::{Angles, Method, Part, Problem, Stock};
use panelwright_geometry::{Side, largest_rectangle, tolerance};

/// Highest index of the functions. The third tells when four strips no longer go side by side; later
/// ones are hardly ever the best.
pub(super) const MOST_STEPS: u32 = 3;

/// Given away on each side, in millimetres: what the judge forgives, and rounding.
pub(super) const GIVEN_AWAY: f64 = 1e-3;

/// What an outermost copy of each part counts, by measure; one area that parts lie in holds no more
/// than 1. Windows count as part of their part (see [`super::windows`]).
pub(super) fn measures(problem: &Problem, shapes: &[&Shape]) -> Vec<Vec<f64>> {
    let apart = apart(problem);
    let (mut length, mut width) = (0.0f64, 0.0f64);
    for (x, y) in problem.stock.iter().flat_map(|s| areas(problem, s)) {
        length = length.max(x + apart);
        width = width.max(y + apart);
    }
    if length <= 0.0 || width <= 0.0 {
        return Vec::new();
    }
    // By part, the shares at the angles it may have; none where an angle is not upright.
    let shares: Vec<Vec<(f64, f64)>> = shapes
        .iter()
        .map(|shape| {
            let inside = inside(problem, shape.part, true);
            let mut shares = Vec::new();
            for stock in &problem.stock {
                let Some(turned) = upright(shape, stock) else {
                    return Vec::new();
                };
                for across in turned {
                    let (w, h) = if across { (inside.1, inside.0) } else { inside };
                    let share =
                        |side: f64, all: f64| ((side + apart - GIVEN_AWAY) / all).clamp(0.0, 1.0);
                    shares.push((share(w, length), share(h, width)));
                }
            }
            shares
        })
        .collect();
    let mut measures = Vec::new();
    for i in 0..=MOST_STEPS {
        for j in 0..=MOST_STEPS {
            // The shares themselves are the area, which has better measures.
            if (i, j) == (0, 0) {
                continue;
            }
            let count = |shares: &Vec<(f64, f64)>| {
                let products = shares.iter().map(|(x, y)| stepped(*x, i) * stepped(*y, j));
                products.reduce(f64::min).unwrap_or(0.0)
            };
            let measure: Vec<f64> = shares.iter().map(count).collect();
            if measure.iter().any(|m| *m > 0.0) && !measures.contains(&measure) {
                measures.push(measure);
            }
        }
    }
    measures
}

/// What outermost copies of the parts `may` take on one piece of this stock, by measures of its own sides.
pub(super) fn limits(
    problem: &Problem,
    shapes: &[Shape],
    may: &[usize],
    stock: &Stock,
) -> Vec<Limit> {
    let areas = areas(problem, stock);
    // Pinned parts may lie anywhere, and at any angle.
    let [room] = areas.as_slice() else {
        return Vec::new();
    };
    if !stock.pinned.is_empty() || room.0 <= 0.0 || room.1 <= 0.0 {
        return Vec::new();
    }
    let lying: Vec<((f64, f64), Vec<bool>)> = may
        .iter()
        .map(|p| {
            let across = upright(&shapes[*p], stock).unwrap_or_default();
            (inside(problem, shapes[*p].part, true), across)
        })
        .collect();
    let apart = apart(problem);
    let share = |side: f64, all: f64| ((side + apart - GIVEN_AWAY) / (all + apart)).clamp(0.0, 1.0);
    let mut limits: Vec<Limit> = Vec::new();
    for i in 0..=MOST_STEPS {
        for j in 0..=MOST_STEPS {
            if (i, j) == (0, 0) {
                continue;
            }
            let take = |((w, h), across): &((f64, f64), Vec<bool>)| {
                let turned = across.iter().map(|a| if *a { (h, w) } else { (w, h) });
                let takes = turned
                    .map(|(x, y)| stepped(share(*x, room.0), i) * stepped(share(*y, room.1), j));
                takes.reduce(f64::min).unwrap_or(0.0)
            };
            let takes: Vec<f64> = lying.iter().map(take).collect();
            if takes.iter().any(|t| *t > 0.0) && limits.iter().all(|l| l.takes != takes) {
                limits.push(Limit { takes, room: 1.0 });
            }
        }
    }
    limits
}

/// How far two upright rectangles are apart along x or y, whichever is more: by the gap in a straight
/// line, so by this.
fn apart(problem: &Problem) -> f64 {
    match &problem.method {
        Method::Guillotine(saw) => saw.kerf,
        Method::FreeForm => problem.gap * std::f64::consts::FRAC_1_SQRT_2,
    }
}

/// What a part counts, upright at any quarter turn, with `inside` a rectangle in it, in an upright
/// rectangle of sides `room` that holds no more than 1.
pub(super) fn count_in(
    problem: &Problem,
    inside: (f64, f64),
    room: (f64, f64),
    i: u32,
    j: u32,
) -> f64 {
    let apart = apart(problem);
    let share = |side: f64, all: f64| ((side + apart - GIVEN_AWAY) / (all + apart)).clamp(0.0, 1.0);
    let turned = [inside, (inside.1, inside.0)];
    let counts = turned.map(|(w, h)| stepped(share(w, room.0), i) * stepped(share(h, room.1), j));
    counts[0].min(counts[1])
}

/// How many separate areas parts can lie in on one piece of the stock.
pub(super) fn area_count(problem: &Problem, stock: &Stock) -> f64 {
    areas(problem, stock).len() as f64
}

/// Length and width of the areas that parts lie in.
pub(super) fn areas(problem: &Problem, stock: &Stock) -> Vec<(f64, f64)> {
    match &problem.method {
        Method::Guillotine(saw) => vec![fit::sawable(stock, saw)],
        Method::FreeForm => {
            let fields = stock.fields();
            let inner = fields
                .iter()
                .map(|f| f.bounds().grown(-problem.margin_on(stock)));
            inner.map(|b| (b.width(), b.height())).collect()
        }
    }
}

/// Sides as shares of those of an upright rectangle that holds copies a gap apart, or a little less.
pub(super) fn shares(problem: &Problem, sides: (f64, f64), room: (f64, f64)) -> (f64, f64) {
    let apart = apart(problem);
    let share = |side: f64, all: f64| ((side + apart - GIVEN_AWAY) / (all + apart)).clamp(0.0, 1.0);
    (share(sides.0, room.0), share(sides.1, room.1))
}

/// A dual feasible function.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Function {
    /// In steps, by its index.
    Steps(u32),
    /// Below this share, at most a half, nothing counts; above what it leaves of the whole all does (written there as U with
    /// epsilon): beside something that large there is nothing but what is that small.
    Whole(f64),
}

impl Function {
    pub(super) fn of(self, share: f64) -> f64 {
        match self {
            Self::Steps(k) => stepped(share, k),
            Self::Whole(least) if share > 1.0 - least => 1.0,
            Self::Whole(least) if share < least => 0.0,
            Self::Whole(_) => share,
        }
    }
}

/// The function with index `k`; 0 leaves the share as it is.
fn stepped(share: f64, k: u32) -> f64 {
    if k == 0 {
        return share;
    }
    let steps = f64::from(k + 1) * share;
    if (steps - steps.round()).abs() < 1e-9 {
        share
    } else {
        steps.floor() / f64::from(k)
    }
}

/// Sides of an upright rectangle inside the part as drawn, its windows filled or not; for a saw, of its
/// bounding rectangle.
pub(super) fn inside(problem: &Problem, part: &Part, filled: bool) -> (f64, f64) {
    let outline = &part.outline;
    if matches!(problem.method, Method::Guillotine(_)) {
        let b = outline.bounds();
        return (b.width(), b.height());
    }
    let mut flat = outline.flatten(tolerance::CHORD, Side::Within);
    if filled {
        flat.holes.clear();
    }
    largest_rectangle(&flat, 0.0, 0.0).map_or((0.0, 0.0), |b| (b.width(), b.height()))
}

/// For each angle on the stock whether it is across; `None` when one is not upright.
pub(super) fn upright(shape: &Shape, stock: &Stock) -> Option<Vec<bool>> {
    let Angles::Listed(angles) = shape.part.angles(stock) else {
        return None;
    };
    let across = |a: f64| {
        if a == 0.0 || a == 180.0 {
            Some(false)
        } else if a == 90.0 || a == 270.0 {
            Some(true)
        } else {
            None
        }
    };
    angles.into_iter().map(across).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn shares_that_fit_still_fit_afterwards(
            cuts in proptest::collection::vec(0.0f64..1.0, 0..6), whole in 0.5f64..=1.0, k in 0u32..=MOST_STEPS,
            least in 0.0f64..=0.5,
        ) {
            // Any set of shares of a stick cut at random places.
            let mut ends: Vec<f64> = cuts.into_iter().map(|c| c * whole).collect();
            ends.extend([0.0, whole]);
            ends.sort_by(f64::total_cmp);
            let sum = |f: Function| -> f64 { ends.windows(2).map(|w| f.of(w[1] - w[0])).sum() };
            prop_assert!(sum(Function::Steps(k)) <= 1.0 + 1e-9);
            prop_assert!(sum(Function::Whole(least)) <= 1.0 + 1e-9);
        }
    }

    #[test]
    fn even_shares_fit_too() {
        for n in 1..9u32 {
            for k in 0..=MOST_STEPS {
                let sum = f64::from(n) * stepped(1.0 / f64::from(n), k);
                assert!(sum <= 1.0 + 1e-9, "{n} {k}");
            }
        }
    }
}

//! The least length of a strip whose parts cannot lie beside each other across it.
//!
//! Order the copies of a set by their left ends. Each is ahead of the next by no less than the least distance at
//! which two such outlines do not overlap, wherever across the strip they lie: the sum of these and the length
//! of the last one is a bound. It counts sets of the kinds that reach farthest across.

use super::cover::{Effort, covers};
use super::exclusion::{beside, no_fit};
use super::fit::Shape;
use super::ground::{Ground, allowed};
use super::solid::{Pieces, solids};
use crate::Problem;
use panelwright_geometry::{Bounds, Point};

/// How many kinds of parts, those that reach farthest across, are looked at in pairs.
const MOST_KINDS: usize = 8;

/// Halvings of a distance, from the length of a part on.
const HALVINGS: u32 = 12;

/// Given up of a distance at which two parts are sure to fit, so that it may be proven at once, in millimetres.
const A_HAIR: f64 = 0.005;

/// A length, from margin to margin, that no layout of all parts on the only kind of stock beats, that being a strip
/// longer than they need; 0 when nothing is known.
///
/// Free-form only. Parts that a window cut-out may hold are left aside.
pub(crate) fn strip_floor(problem: &Problem) -> f64 {
    let [stock] = problem.stock.as_slice() else {
        return 0.0;
    };
    let grounds = Ground::of(problem, stock);
    let [ground] = grounds.as_slice() else {
        return 0.0;
    };
    let shapes: Vec<Shape> = problem.parts.iter().map(Shape::new).collect();
    let solids = solids(problem, &shapes);
    let holes = problem.parts.iter().flat_map(|p| &p.outline.holes);
    let largest_window = holes.map(|h| h.area()).fold(0.0, f64::max);
    let mut effort = Effort::new(Effort::PLENTY / 4);
    let mut kinds: Vec<Kind> = Vec::new();
    for (part, solids) in problem.parts.iter().zip(&solids) {
        let set_in = problem.use_cutouts && part.outline.outer.area() <= largest_window;
        let lying: Vec<(&Pieces, Bounds)> = allowed(solids, part, stock)
            .filter_map(|s| Some((&s.filled, ground.places(s, &mut effort)?)))
            .collect();
        if !set_in && part.quantity > 0 && !lying.is_empty() {
            kinds.push(Kind {
                copies: part.quantity,
                lying,
            });
        }
    }
    kinds.sort_by(|a, b| b.across().total_cmp(&a.across()));
    kinds.truncate(MOST_KINDS);
    let n = kinds.len();
    let ahead: Vec<Vec<f64>> = kinds
        .iter()
        .map(|a| {
            let next = kinds.iter();
            next.map(|b| a.ahead_of(b, problem.gap, &mut effort))
                .collect()
        })
        .collect();
    let bounds = (1..=n).map(|set| {
        let least = |i: usize| {
            let next = (0..set).filter(|j| *j != i || kinds[i].copies > 1);
            next.map(|j| ahead[i][j]).fold(f64::INFINITY, f64::min)
        };
        if set == 1 && kinds[0].copies == 1 {
            return kinds[0].length();
        }
        let sum: f64 = (0..set)
            .map(|i| f64::from(kinds[i].copies) * least(i))
            .sum();
        // The last one counts its length instead.
        let last = (0..set)
            .map(|i| kinds[i].length() - least(i))
            .fold(f64::INFINITY, f64::min);
        sum + last
    });
    bounds.fold(0.0, f64::max)
}

/// A kind of part, with what it fills at each angle and where that may lie.
struct Kind<'a> {
    copies: u32,
    lying: Vec<(&'a Pieces, Bounds)>,
}

impl Kind<'_> {
    fn least(&self, of: impl Fn(&Bounds) -> f64) -> f64 {
        let all = self.lying.iter().map(|(pieces, _)| of(&pieces.bounds));
        all.fold(f64::INFINITY, f64::min)
    }

    fn across(&self) -> f64 {
        self.least(Bounds::height)
    }

    fn length(&self) -> f64 {
        self.least(Bounds::width)
    }

    /// The least distance of the left ends, this part's being the farther left.
    fn ahead_of(&self, other: &Self, gap: f64, effort: &mut Effort) -> f64 {
        let pairs = self
            .lying
            .iter()
            .flat_map(|a| other.lying.iter().map(move |b| (a, b)));
        let mut least = f64::INFINITY;
        for (a, b) in pairs {
            least = least.min(ahead(a, b, gap, effort));
            if least <= 0.0 {
                return 0.0;
            }
        }
        least
    }
}

fn ahead(
    (a, here): &(&Pieces, Bounds),
    (b, there): &(&Pieces, Bounds),
    gap: f64,
    effort: &mut Effort,
) -> f64 {
    // Seen from the first, with the left ends at this distance at most.
    let from = a.bounds.min.x - b.bounds.min.x;
    let seen = |distance: f64| {
        Bounds::new(
            Point::new(from, there.min.y - here.max.y),
            Point::new(from + distance, there.max.y - here.min.y),
        )
    };
    if beside(a, b, &seen(0.0), gap) {
        return 0.0;
    }
    let areas = no_fit(a, b, gap);
    let (mut proven, mut open) = (0.0, a.bounds.width() + gap);
    if !covers(&areas, seen(0.0), effort) {
        return 0.0;
    }
    if open > A_HAIR && covers(&areas, seen(open - A_HAIR), effort) {
        return open - A_HAIR;
    }
    for _ in 0..HALVINGS {
        let distance = 0.5 * (proven + open);
        if covers(&areas, seen(distance), effort) {
            proven = distance;
        } else {
            open = distance;
        }
    }
    proven
}

//! How high what a unit forbids reaches, at every x: worked out once and then looked up.

use super::unit::Keep;
use super::work::Work;
use panelwright_geometry::Point;

/// Equal parts of the width that upper sides are listed by.
const COLUMNS: usize = 128;

/// The upper edge of all forbidden areas of a unit.
pub(super) struct Skyline {
    left: f64,
    /// Width of a column.
    step: f64,
    /// By column: those upper sides that may be the highest somewhere in it.
    columns: Vec<Vec<(Point, Point)>>,
}

impl Skyline {
    /// Of what a unit keeps others out of.
    pub fn of(keep: &Keep, work: &mut Work) -> Self {
        let step = keep.bounds.width().max(1e-9) / COLUMNS as f64;
        let mut skyline = Self {
            left: keep.bounds.min.x,
            step,
            columns: vec![Vec::new(); COLUMNS],
        };
        // By column: a height that is reached all over it.
        let mut reached = [f64::NEG_INFINITY; COLUMNS];
        let mut sides = 0;
        keep.upper_sides(|from, to| {
            sides += 1;
            let (first, last) = (skyline.column(from.x), skyline.column(to.x));
            for (column, reached) in reached.iter_mut().enumerate().take(last + 1).skip(first) {
                let begin = skyline.left + column as f64 * step;
                let end = begin + step;
                let (a, b) = (begin.max(from.x), end.min(to.x));
                let (at_a, at_b) = (height(from, to, a), height(from, to, b));
                if at_a.max(at_b) >= *reached {
                    skyline.columns[column].push((from, to));
                    if a <= begin && b >= end {
                        *reached = reached.max(at_a.min(at_b));
                    }
                }
            }
            sides += (last - first) as u64 / 4;
        });
        work.add(sides);
        for (column, sides) in skyline.columns.iter_mut().enumerate() {
            let begin = skyline.left + column as f64 * step;
            sides.retain(|(from, to)| {
                let (a, b) = (begin.max(from.x), (begin + step).min(to.x));
                height(*from, *to, a).max(height(*from, *to, b)) >= reached[column]
            });
        }
        skyline
    }

    fn column(&self, x: f64) -> usize {
        (((x - self.left) / self.step).max(0.0) as usize).min(COLUMNS - 1)
    }

    /// How high the areas reach at `x`; nowhere is far down.
    pub fn top(&self, x: f64) -> f64 {
        let sides = self.columns[self.column(x)].iter();
        let at = sides.filter(|(from, to)| x >= from.x && x <= to.x);
        at.map(|(from, to)| height(*from, *to, x))
            .fold(f64::NEG_INFINITY, f64::max)
    }
}

/// Height of the line through `from` and `to` at `x`.
fn height(from: Point, to: Point, x: f64) -> f64 {
    from.y + (to.y - from.y) * ((x - from.x) / (to.x - from.x))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::freeform::convex::CONTACT;
    use crate::freeform::tables::Tables;
    use crate::freeform::unit::units;
    use crate::{Part, Problem, Stock, Turn};
    use panelwright_geometry::{Outline, Vec2};
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn the_skyline_is_where_the_areas_end(
            reaches in proptest::collection::vec(10.0..60.0_f64, 5..12),
            shares in proptest::collection::vec(0.0..1.0_f64, 20),
        ) {
            let n = reaches.len() as f64;
            let corner = |(i, r): (usize, &f64)| {
                Point::default() + Vec2::from_angle(std::f64::consts::TAU * i as f64 / n, *r)
            };
            let part = Part {
                turn: Turn::Half,
                ..Part::new("p", Outline::polygon(reaches.iter().enumerate().map(corner)), 9)
            };
            let stock = Stock::sheet("s", 900.0, 700.0, 1.0, 0);
            let mut problem = Problem::new(vec![part], vec![stock], vec![None]);
            problem.gap = 1.0;
            let tables = Tables::new(&problem, None);
            for unit in units(&tables, 0, 0).iter().step_by(5) {
                let keep = Keep::of(unit, &tables).expect("areas");
                let skyline = Skyline::of(&keep, &mut Work::of_steps(1));
                for share in &shares {
                    let x = keep.bounds.min.x + share * keep.bounds.width();
                    let top = skyline.top(x);
                    if top == f64::NEG_INFINITY {
                        continue;
                    }
                    // Nothing is forbidden from there on, and something as close below as rounding lets it be told.
                    for above in [0.0, 0.1, 1.0, 30.0] {
                        prop_assert!(keep.depth(Vec2::new(x, top + above)) <= CONTACT);
                    }
                    // Towards its ends an area is as thin as can be.
                    let below = [1e-6, 1e-5, 1e-4, 1e-3, 0.1];
                    let below = below.map(|by| keep.depth(Vec2::new(x, top - by)));
                    prop_assert!(below.iter().any(|depth| *depth > 0.0), "{below:?}");
                }
                prop_assert_eq!(skyline.top(keep.bounds.max.x + 1.0), f64::NEG_INFINITY);
            }
        }
    }
}

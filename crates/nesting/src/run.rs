//! From a problem to a nest that the judge has passed.

use crate::start::{better, standing};
use crate::{Budget, Control, Method, Nest, NestError, Problem, freeform, guillotine, verify};

/// Nests `problem` within `budget`.
///
/// The first whole nest comes in milliseconds; the rest of the budget lowers its spend. What is
/// returned has passed the judge. When the budget ends, or `control` stops the search, the best nest
/// so far is returned. Parts that could not be placed are listed in it with the reason; of parts that
/// are alike, those of lower priority.
///
/// # Errors
/// [`NestError`] when the problem makes no sense, or when the judge refuses the result.
pub fn nest(problem: &Problem, budget: &Budget, control: &Control) -> Result<Nest, NestError> {
    nest_from(problem, None, budget, control)
}

/// [`nest`], taking up a nest again: what of `start` still stands (see [`standing`]) is improved on,
/// and the result is never worse, neither in copies missing nor in spend.
///
/// The searches go on from it where it is better than their own first nest.
///
/// # Errors
/// As for [`nest`].
pub fn nest_from(
    problem: &Problem,
    start: Option<&Nest>,
    budget: &Budget,
    control: &Control,
) -> Result<Nest, NestError> {
    problem.check()?;
    let start = start.map(|nest| standing(problem, nest).0);
    let found = match &problem.method {
        Method::FreeForm => freeform::search_from(problem, start.as_ref(), budget, control),
        Method::Guillotine(rules) => {
            guillotine::search_from(problem, rules, start.as_ref(), budget, control)
        }
    };
    let mut nest = match start {
        Some(start) if better(problem, &start, &found) => start,
        _ => found,
    };
    pass_on(problem, &mut nest);
    let faults = verify::judge(problem, &nest);
    if faults.is_empty() {
        Ok(nest)
    } else {
        Err(NestError::Rejected(
            faults.iter().map(ToString::to_string).collect(),
        ))
    }
}

/// Gives the places of copies of low priority to missing copies of a part that is alike and of higher
/// priority. Pinned copies keep theirs.
fn pass_on(problem: &Problem, nest: &mut Nest) {
    let mut by_priority: Vec<usize> = (0..problem.parts.len()).collect();
    by_priority.sort_by_key(|part| std::cmp::Reverse(problem.parts[*part].priority));
    for high in by_priority.iter().copied() {
        let above = &problem.parts[high];
        for low in by_priority.iter().rev().copied() {
            let below = &problem.parts[low];
            if below.priority >= above.priority {
                break;
            }
            let Some(at) = nest.not_placed.iter().position(|n| n.part == high) else {
                break;
            };
            if !above.is_like(below) {
                continue;
            }
            let missing = &mut nest.not_placed[at];
            let why = missing.why.clone();
            let mut passed = 0;
            let places = nest.layouts.iter_mut().flat_map(|l| {
                let pinned = problem.stock.get(l.stock).map(|s| s.pinned.as_slice());
                let pinned = pinned.unwrap_or_default();
                l.placed.iter_mut().filter(|p| !pinned.contains(p))
            });
            for place in places.filter(|p| p.part == low) {
                if passed == missing.quantity {
                    break;
                }
                place.part = high;
                passed += 1;
            }
            missing.quantity -= passed;
            if missing.quantity == 0 {
                nest.not_placed.remove(at);
            }
            if passed == 0 {
                continue;
            }
            match nest.not_placed.iter_mut().find(|n| n.part == low) {
                Some(line) => line.quantity += passed,
                None => nest.not_placed.push(crate::NotPlaced {
                    part: low,
                    quantity: passed,
                    why,
                }),
            }
        }
    }
    nest.not_placed.sort_by_key(|n| n.part);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{NotPlaced, Part, SawRules, Stock, Why};
    use panelwright_geometry::Outline;

    fn square(name: &str, side: f64, quantity: u32, priority: i32) -> Part {
        Part {
            priority,
            ..Part::new(name, Outline::rectangle(side, side), quantity)
        }
    }

    /// One sheet of 100 x 100, cut by both methods.
    fn both(parts: &[Part]) -> [Problem; 2] {
        [Method::FreeForm, Method::Guillotine(SawRules::default())].map(|method| Problem {
            method,
            ..Problem::new(
                parts.to_vec(),
                vec![Stock::sheet("sheet", 100.0, 100.0, 10.0, 0)],
                vec![Some(1)],
            )
        })
    }

    fn placed(problem: &Problem) -> Vec<u32> {
        let budget = Budget {
            steps: 20_000,
            ..Budget::default()
        };
        let nest = nest(problem, &budget, &Control::none()).expect("a sound problem");
        nest.placed_counts(problem)
    }

    #[test]
    fn the_higher_priority_is_placed_whatever_the_area() {
        for (priorities, expected) in [([0, 0], [1, 0]), ([0, 1], [0, 1]), ([-3, -2], [0, 1])] {
            let parts = [
                square("large", 60.0, 1, priorities[0]),
                square("small", 55.0, 1, priorities[1]),
            ];
            for problem in both(&parts) {
                assert_eq!(
                    placed(&problem),
                    expected,
                    "{priorities:?} {:?}",
                    problem.method
                );
            }
        }
    }

    #[test]
    fn one_copy_of_higher_priority_outweighs_any_number() {
        let parts = [square("few", 100.0, 1, 7), square("many", 25.0, 16, 2)];
        for problem in both(&parts) {
            assert_eq!(placed(&problem), [1, 0], "{:?}", problem.method);
        }
        // And of three priorities the second comes before the third.
        let parts = [
            square("third", 50.0, 4, 0),
            square("second", 50.0, 2, 1),
            square("first", 50.0, 1, 2),
        ];
        for problem in both(&parts) {
            assert_eq!(placed(&problem), [1, 2, 1], "{:?}", problem.method);
        }
    }

    #[test]
    fn places_are_passed_on_between_parts_that_are_alike() {
        let parts = [
            square("low", 50.0, 4, 0),
            square("high", 50.0, 3, 5),
            square("other", 49.0, 1, 9),
        ];
        let [problem, _] = both(&parts);
        let at = |part: usize, x: f64, y: f64| crate::PlacedPart {
            part,
            placement: panelwright_geometry::Placement::new(
                0.0,
                panelwright_geometry::Point::new(x, y),
            ),
        };
        let missing = |part, quantity| NotPlaced {
            part,
            quantity,
            why: Why::StockUsedUp,
        };
        let mut nest = Nest {
            layouts: vec![crate::Layout {
                stock: 0,
                placed: vec![at(0, 0.0, 0.0), at(1, 50.0, 0.0), at(0, 0.0, 50.0)],
                saw_cuts: Vec::new(),
                offcuts: Vec::new(),
            }],
            not_placed: vec![missing(0, 2), missing(1, 2), missing(2, 1)],
        };
        assert_eq!(verify::judge(&problem, &nest).len(), 1);
        pass_on(&problem, &mut nest);
        assert_eq!(nest.placed_counts(&problem), [0, 3, 0]);
        assert_eq!(nest.not_placed, [missing(0, 4), missing(2, 1)]);
        assert_eq!(verify::judge(&problem, &nest), []);
    }
}

//! The same problem, seed and steps give the same result on any number of threads.

use super::random::Dice;
use super::*;
use crate::freeform::{StripProblem, nest_strip};

/// Random problems looked at; a nest of each is made three times.
const CASES: u64 = 10;

/// On 1, 2 and 3 threads.
fn on_threads<T: Send + PartialEq + std::fmt::Debug>(case: u64, find: impl Fn() -> T + Sync) -> T {
    let mut found: Vec<T> = [1, 2, 3]
        .into_iter()
        .map(|threads| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads);
            pool.build().expect("a pool").install(&find)
        })
        .collect();
    assert_eq!(found[0], found[1], "case {case} on 1 and 2 threads");
    assert_eq!(found[0], found[2], "case {case} on 1 and 3 threads");
    found.swap_remove(0)
}

fn budget(case: u64, steps: u64) -> Budget {
    Budget {
        seed: case,
        steps,
        ..Budget::default()
    }
}

#[test]
fn nests_do_not_depend_on_the_threads() {
    for case in 0..CASES {
        let mut dice = Dice::of(1_000_000 + case);
        let problem = dice.problem();
        let budget = budget(case, dice.one(&[300, 5_000, 20_000]));
        let nest = on_threads(case, || {
            crate::nest(&problem, &budget, &Control::none()).expect("a nest")
        });
        // Nor when it is taken up again.
        if case % 4 == 0 {
            on_threads(case, || {
                crate::nest_from(&problem, Some(&nest), &budget, &Control::none()).expect("a nest")
            });
        }
    }
}

#[test]
fn strips_do_not_depend_on_the_threads() {
    let mut found = 0;
    for case in 0..CASES {
        let mut dice = Dice::of(2_000_000 + case);
        let parts = dice.problem().parts;
        let widest = parts.iter().map(|p| {
            let bounds = p.outline.bounds();
            bounds.width().hypot(bounds.height())
        });
        let width = widest.fold(0.0, f64::max) * dice.within(1.01, 2.5);
        let strip = StripProblem {
            gap: dice.one(&[0.0, 4.0]),
            good_faces: 2,
            ..StripProblem::new(parts, width)
        };
        let budget = budget(case, dice.one(&[300, 5_000, 20_000]));
        let strip = on_threads(case, || nest_strip(&strip, &budget, &Control::none()).ok());
        found += u64::from(strip.is_some());
    }
    assert!(2 * found > CASES, "{found} strips");
}

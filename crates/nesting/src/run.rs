//! From a problem to a nest that the judge has passed.

use crate::start::{better, standing};
use crate::{Budget, Control, Method, Nest, NestError, Problem, freeform, guillotine, verify};

/// Nests `problem` within `budget`.
///
/// The first whole nest comes in milliseconds; the rest of the budget lowers its spend. What is
/// returned has passed the judge. When the budget ends, or `control` stops the search, the best nest
/// so far is returned. Parts that could not be placed are listed in it with the reason.
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
    let nest = match start {
        Some(start) if better(problem, &start, &found) => start,
        _ => found,
    };
    let faults = verify::judge(problem, &nest);
    if faults.is_empty() {
        Ok(nest)
    } else {
        Err(NestError::Rejected(
            faults.iter().map(ToString::to_string).collect(),
        ))
    }
}

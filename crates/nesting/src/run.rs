//! From a problem to a nest that the judge has passed.

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
    problem.check()?;
    let nest = match &problem.method {
        Method::FreeForm => freeform::search(problem, budget, control),
        Method::Guillotine(rules) => guillotine::search(problem, rules, budget, control),
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

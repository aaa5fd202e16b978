//! What is looked at before a search: see [`Problem::check`].

use super::{Method, Problem};
use crate::{BreakDown, KeepRule, NestError, Part, SawRules, Stock};
use panelwright_geometry::{Bounds, Point, Polygon, tolerance};

/// Copies in a problem at most, all parts together: more are a slip of the finger, and would fill the memory.
const MOST_COPIES: u64 = 1_000_000;

/// Prices and values at most, and rates for a square millimetre: beyond these sums lose cents to rounding.
const MOST_MONEY: f64 = 1e12;

fn length(what: &'static str, value: f64) -> Result<(), NestError> {
    if (0.0..=tolerance::LARGEST).contains(&value) {
        Ok(())
    } else {
        Err(NestError::BadLength { what, value })
    }
}

/// Lengths that hold for the whole problem.
pub(super) fn numbers(problem: &Problem) -> Result<(), NestError> {
    length("gap", problem.gap)?;
    length("margin", problem.margin)?;
    length("kerf", problem.kerf)?;
    match &problem.method {
        Method::Guillotine(saw) => saw_rules(saw),
        Method::FreeForm if problem.gap < problem.kerf => Err(NestError::GapBelowKerf {
            gap: problem.gap,
            kerf: problem.kerf,
        }),
        Method::FreeForm => Ok(()),
    }
}

fn saw_rules(saw: &SawRules) -> Result<(), NestError> {
    length("saw kerf", saw.kerf)?;
    for trim in [saw.trim.left, saw.trim.right, saw.trim.bottom, saw.trim.top] {
        length("trim", trim)?;
        if trim > 0.0 && trim < saw.kerf {
            return Err(NestError::TrimBelowKerf {
                trim,
                kerf: saw.kerf,
            });
        }
    }
    length("narrowest strip", saw.least_strip)?;
    for (what, longest) in [
        ("longest rip", saw.longest_rip),
        ("longest crosscut", saw.longest_crosscut),
    ] {
        // Infinite where the saw has no limit.
        if longest.is_nan() || longest < 0.0 {
            return Err(NestError::BadLength {
                what,
                value: longest,
            });
        }
    }
    match saw.stages {
        Some(0) => Err(NestError::NoStages),
        _ => Ok(()),
    }
}

/// Each part, and how many copies there are.
pub(super) fn parts(problem: &Problem) -> Result<(), NestError> {
    let mut copies = 0;
    for part in &problem.parts {
        let bad = |reason: String| NestError::BadPart {
            part: part.name.clone(),
            reason,
        };
        panelwright_geometry::validate(&part.outline).map_err(|e| bad(e.to_string()))?;
        if part.quantity == 0 {
            return Err(bad("its quantity is 0".into()));
        }
        copies += u64::from(part.quantity);
        if copies > MOST_COPIES {
            return Err(bad(format!(
                "with it there are {copies} copies, and {MOST_COPIES} are the most in one nest"
            )));
        }
        if let Some(reason) = no_direction(part.grain_deg, part.good_faces) {
            return Err(bad(reason.into()));
        }
        if let Some(reason) = too_far(part) {
            return Err(bad(reason.into()));
        }
    }
    Ok(())
}

/// What is wrong with a grain or a number of good faces.
fn no_direction(grain_deg: Option<f64>, good_faces: u8) -> Option<&'static str> {
    if grain_deg.is_some_and(|angle| !angle.is_finite()) {
        return Some("the direction of its grain is not a number");
    }
    (good_faces > 2).then_some("it has more than two good faces")
}

/// A part drawn far from its origin would be placed beyond what counts as a place: it is turned round the origin.
fn too_far(part: &Part) -> Option<&'static str> {
    let Bounds { min, max } = part.outline.bounds();
    let far = |p: Point| p.to_vec().length() > 0.5 * tolerance::LARGEST;
    (far(min) || far(max))
        .then_some("it is drawn more than 50 m from the origin; move it to where that is")
}

/// Each kind of stock.
pub(super) fn stock(problem: &Problem) -> Result<(), NestError> {
    for stock in &problem.stock {
        one_stock(problem, stock).map_err(|reason| NestError::BadStock {
            stock: stock.name.clone(),
            reason,
        })?;
    }
    Ok(())
}

fn one_stock(problem: &Problem, stock: &Stock) -> Result<(), String> {
    let sawn = matches!(problem.method, Method::Guillotine(_));
    let clear = || stock.keep_clear.iter().chain(&stock.zones);
    let mut points = stock.outline.rings().chain(clear()).flatten();
    let is_near = |p: &Point| p.is_finite() && p.x.abs().max(p.y.abs()) <= tolerance::LARGEST;
    if !points.all(is_near) {
        return Err("a coordinate is not a number within 100 m".into());
    }
    if stock.outline.outer.len() < 3 || stock.outline.area() <= 0.0 {
        return Err("its outline has no area".into());
    }
    let area = |ring: &Vec<Point>| Polygon::new(ring.clone(), Vec::new()).area();
    if clear().any(|ring| ring.len() < 3 || area(ring) < Stock::LEAST_CLEAR) {
        return Err("a flaw or an area to keep clear has no area itself".into());
    }
    let margin = problem.margin_on(stock);
    if !(0.0..=tolerance::LARGEST).contains(&margin) {
        return Err(format!(
            "its margin is {margin} mm; it must be between 0 and 100 m"
        ));
    }
    if stock.supply >= problem.supplies.len() {
        return Err("it names a supply that is not there".into());
    }
    if !(0.0..=MOST_MONEY).contains(&stock.cost) {
        return Err("its cost is not a number from 0 to 1e12".into());
    }
    if let Some(reason) = no_direction(stock.grain_deg, stock.good_faces) {
        return Err(reason.into());
    }
    keep_rule(&stock.keep)?;
    if sawn && !stock.zones.is_empty() {
        return Err("a saw has no areas to keep clear".into());
    }
    match &stock.break_down {
        Some(_) if sawn => Err("it is for a saw, and sawn into blanks as well".into()),
        Some(break_down) => blanks(break_down, stock.outline.bounds()),
        None => Ok(()),
    }
}

fn keep_rule(keep: &KeepRule) -> Result<(), String> {
    let bad = |what: &str, value: f64| Err(format!("{what} of its offcuts is {value}"));
    let lengths = [
        ("the least width", keep.least_width),
        ("the least length", keep.least_length),
        ("the edge", keep.edge),
    ];
    for (what, value) in lengths {
        // Infinite where nothing is kept.
        if value.is_nan() || value < 0.0 {
            return bad(what, value);
        }
    }
    for side in keep.or_holds.iter().flatten() {
        if side.is_nan() || *side < 0.0 {
            return bad("a side of what one has to hold", *side);
        }
    }
    for (what, value) in [
        ("the value", keep.value_per_area),
        ("handling", keep.handling),
    ] {
        if !(0.0..=MOST_MONEY).contains(&value) {
            return bad(what, value);
        }
    }
    // Below 0 where scrap pays.
    let scrap = keep.scrap_cost_per_area;
    if !(-MOST_MONEY..=MOST_MONEY).contains(&scrap) {
        return bad("the cost of what is scrap", scrap);
    }
    Ok(())
}

fn blanks(break_down: &BreakDown, sheet: Bounds) -> Result<(), String> {
    let within = sheet.grown(tolerance::COINCIDENT);
    for blank in &break_down.blanks {
        let sound = blank.min.is_finite() && blank.max.is_finite();
        if !sound || blank.width() <= 0.0 || blank.height() <= 0.0 {
            return Err("one of its blanks has no area".into());
        }
        if !within.contains(blank) {
            return Err("one of its blanks lies beyond it".into());
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Turn;
    use panelwright_geometry::Outline;

    fn problem() -> Problem {
        Problem::new(
            vec![Part::new("plate", Outline::rectangle(300.0, 200.0), 4)],
            vec![Stock::sheet("sheet", 1000.0, 600.0, 40.0, 0)],
            vec![None],
        )
    }

    fn sawn(change: impl Fn(&mut SawRules)) -> Problem {
        let mut rules = SawRules::default();
        change(&mut rules);
        Problem {
            method: Method::Guillotine(rules),
            ..problem()
        }
    }

    #[test]
    fn what_makes_sense_passes() {
        assert_eq!(problem().check(), Ok(()));
        assert_eq!(sawn(|s| s.stages = Some(1)).check(), Ok(()));
        let mut pays = problem();
        pays.stock[0].keep.scrap_cost_per_area = -1e-6;
        assert_eq!(pays.check(), Ok(()));
    }

    #[test]
    fn numbers_that_are_none_are_told() {
        type Change<'a> = &'a dyn Fn(&mut Problem);
        let changes: [(&str, Change); 16] = [
            ("copies", &|p| p.parts[0].quantity = u32::MAX),
            ("grain", &|p| p.parts[0].grain_deg = Some(f64::NAN)),
            ("good faces", &|p| p.parts[0].good_faces = 3),
            ("50 m", &|p| {
                let far = panelwright_geometry::Placement::new(0.0, Point::new(99_000.0, 0.0));
                p.parts[0].outline = p.parts[0].outline.placed(&far);
                p.parts[0].turn = Turn::Half;
            }),
            ("grain", &|p| p.stock[0].grain_deg = Some(f64::INFINITY)),
            ("good faces", &|p| p.stock[0].good_faces = 255),
            ("cost", &|p| p.stock[0].cost = f64::MAX),
            ("margin", &|p| p.stock[0].margin = Some(-3.0)),
            ("no area", &|p| {
                let scratch = [(150.0, 300.0), (160.0, 100.0)];
                let scratch = scratch.map(|(x, y)| Point::new(x, y)).to_vec();
                p.stock[0].keep_clear.push(scratch);
            }),
            ("scrap", &|p| p.stock[0].keep.scrap_cost_per_area = f64::NAN),
            ("scrap", &|p| {
                p.stock[0].keep.scrap_cost_per_area = f64::INFINITY;
            }),
            ("handling", &|p| p.stock[0].keep.handling = -1e9),
            ("value", &|p| p.stock[0].keep.value_per_area = f64::NAN),
            ("least width", &|p| p.stock[0].keep.least_width = f64::NAN),
            ("beyond", &|p| {
                let blank = Bounds::new(Point::new(500.0, 0.0), Point::new(1500.0, 600.0));
                p.stock[0].break_down = Some(BreakDown {
                    cuts: Vec::new(),
                    blanks: vec![blank],
                });
            }),
            ("as well", &|p| {
                p.method = Method::Guillotine(SawRules::default());
                p.stock[0].break_down = Some(BreakDown {
                    cuts: Vec::new(),
                    blanks: Vec::new(),
                });
            }),
        ];
        for (word, change) in changes {
            let mut problem = problem();
            change(&mut problem);
            let told = problem.check().expect_err(word).to_string();
            assert!(told.contains(word), "{word}: {told}");
        }
    }

    #[test]
    fn a_saw_has_limits_that_are_numbers() {
        for (word, saw) in [
            ("strip", sawn(|s| s.least_strip = f64::NAN)),
            ("rip", sawn(|s| s.longest_rip = f64::NAN)),
            ("crosscut", sawn(|s| s.longest_crosscut = -5.0)),
            ("stages", sawn(|s| s.stages = Some(0))),
        ] {
            let told = saw.check().expect_err(word).to_string();
            assert!(told.contains(word), "{word}: {told}");
        }
    }
}

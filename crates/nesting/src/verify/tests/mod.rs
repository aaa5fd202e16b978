//! Bad layouts refused, each for its own reason, and their good twins passed.

mod dissections;
mod freeform;
mod leftovers;
mod nonsense;
mod pinned;
mod sawn;
mod second_opinion;
mod size;
mod trees;

use super::{Fault, judge};
use crate::{Layout, Nest, Part, PlacedPart, Problem, SawCut, Stock};
use panelwright_geometry::{Bounds, Outline, Placement, Point};

pub(super) fn points(list: &[(f64, f64)]) -> Vec<Point> {
    list.iter().map(|(x, y)| Point::new(*x, *y)).collect()
}

pub(super) fn bounds(x: f64, y: f64, width: f64, height: f64) -> Bounds {
    Bounds::new(Point::new(x, y), Point::new(x + width, y + height))
}

pub(super) fn rectangle(name: &str, width: f64, height: f64, quantity: u32) -> Part {
    Part::new(name, Outline::rectangle(width, height), quantity)
}

pub(super) fn turned(part: usize, angle_deg: f64, x: f64, y: f64) -> PlacedPart {
    PlacedPart {
        part,
        placement: Placement::new(angle_deg, Point::new(x, y)),
    }
}

pub(super) fn at(part: usize, x: f64, y: f64) -> PlacedPart {
    turned(part, 0.0, x, y)
}

pub(super) fn sheet(length: f64, width: f64) -> Stock {
    Stock::sheet("sheet", length, width, 100.0, 0)
}

pub(super) fn problem(parts: Vec<Part>, stock: Stock) -> Problem {
    Problem::new(parts, vec![stock], vec![None])
}

pub(super) fn layout(placed: Vec<PlacedPart>) -> Layout {
    Layout {
        stock: 0,
        placed,
        saw_cuts: Vec::new(),
        offcuts: Vec::new(),
    }
}

pub(super) fn nest(placed: Vec<PlacedPart>) -> Nest {
    Nest {
        layouts: vec![layout(placed)],
        not_placed: Vec::new(),
    }
}

pub(super) fn saw_cut(from: (f64, f64), to: (f64, f64), kerf: f64, stage: u32) -> SawCut {
    SawCut {
        from: Point::new(from.0, from.1),
        to: Point::new(to.0, to.1),
        kerf,
        stage,
    }
}

#[track_caller]
pub(super) fn passes(problem: &Problem, nest: &Nest) {
    let faults = judge(problem, nest);
    assert!(faults.is_empty(), "{faults:#?}");
}

/// Asserts that each fault found is of a kind in the pattern, and that there is one.
macro_rules! refused {
    ($problem:expr, $nest:expr, $($kind:pat_param)|+ $(if $guard:expr)?) => {{
        let faults = $crate::verify::judge($problem, $nest);
        assert!(!faults.is_empty(), "passed, but should not have");
        for fault in &faults {
            // Every message can be read out.
            assert!(fault.to_string().len() > 10);
            assert!(matches!(fault, $($kind)|+ $(if $guard)?), "{faults:#?}");
        }
    }};
}
pub(super) use refused;

#[test]
fn messages_name_sheet_part_place_and_value() {
    let parts = vec![
        rectangle("door", 100.0, 50.0, 1),
        rectangle("shelf", 80.0, 40.0, 1),
    ];
    let problem = problem(parts, sheet(300.0, 200.0));
    let faults = judge(&problem, &nest(vec![at(0, 0.0, 0.0), at(1, 90.0, 10.0)]));
    assert_eq!(faults.len(), 1);
    let Fault::Overlap { depth, .. } = faults[0] else {
        panic!("{faults:?}");
    };
    assert!((depth - 10.0).abs() < 1e-9);
    let text = faults[0].to_string();
    for word in [
        "sheet 1",
        "'door'",
        "'shelf'",
        "10.0000 mm",
        "(100.000, 30.000)",
    ] {
        assert!(text.contains(word), "{text}");
    }
}

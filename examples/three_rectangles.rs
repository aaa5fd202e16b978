//! Nests three kinds of rectangle on a sheet and prints where they lie.
//!
//! Run with `cargo run --example three_rectangles`.

use panelwright::geometry::Outline;
use panelwright::nesting::{Budget, Control, NestError, Part, Problem, Stock, nest};

fn main() -> Result<(), NestError> {
    let parts = vec![
        Part::new("shelf", Outline::rectangle(600.0, 300.0), 3),
        Part::new("side", Outline::rectangle(500.0, 400.0), 2),
        Part::new("strip", Outline::rectangle(900.0, 80.0), 2),
    ];
    let sheet = Stock::sheet("1500 x 1000", 1500.0, 1000.0, 40.0, 0);
    let mut problem = Problem::new(parts, vec![sheet], vec![None]);
    (problem.gap, problem.margin, problem.kerf) = (6.0, 10.0, 3.0);
    let nest = nest(&problem, &Budget::default(), &Control::none())?;
    for placed in nest.layouts.iter().flat_map(|layout| &layout.placed) {
        let bounds = placed.outline(&problem).bounds();
        println!(
            "{} at {:.1}, {:.1}",
            problem.parts[placed.part].name, bounds.min.x, bounds.min.y
        );
    }
    assert!(nest.not_placed.is_empty() && nest.layouts.len() == 1);
    Ok(())
}

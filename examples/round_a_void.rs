//! Nests L-shaped brackets on a remnant with a void in the middle.
//!
//! Run with `cargo run --example round_a_void`.

use panelwright::geometry::{Outline, Point, Polygon};
use panelwright::nesting::{Budget, Control, NestError, Part, Problem, Stock, nest};

fn main() -> Result<(), NestError> {
    let points =
        |xy: &[(f64, f64)]| -> Vec<Point> { xy.iter().map(|(x, y)| Point::new(*x, *y)).collect() };
    let l = points(&[
        (0., 0.),
        (200., 0.),
        (200., 60.),
        (60., 60.),
        (60., 200.),
        (0., 200.),
    ]);
    let void = points(&[(250., 200.), (550., 200.), (550., 400.), (250., 400.)]);
    let remnant = Polygon::new(Polygon::rectangle(800.0, 600.0).outer, vec![void]);

    let parts = vec![Part::new("bracket", Outline::polygon(l), 8)];
    let stock = vec![Stock::remnant("R-0001", remnant, 15.0, 0)];
    let mut problem = Problem::new(parts, stock, vec![Some(1)]);
    (problem.gap, problem.margin, problem.kerf) = (4.0, 5.0, 3.0);

    let nest = nest(&problem, &Budget::default(), &Control::none())?;
    let layout = &nest.layouts[0];
    println!("{} brackets round the void", layout.placed.len());
    for placed in &layout.placed {
        let at = placed.placement;
        println!(
            "  turned {:>3} degrees at {:.1}, {:.1}",
            at.angle_deg(),
            at.origin.x,
            at.origin.y
        );
    }
    assert_eq!(layout.placed.len(), 8);
    Ok(())
}

//! Offsets an outline by a kerf: the path that a tool's centre must follow.
//!
//! Run with `cargo run --example kerf`.

use panelwright::geometry::{KerfError, Outline, Point, Ring};

fn main() -> Result<(), KerfError> {
    let mut plate = Outline::rectangle(100.0, 60.0);
    plate
        .holes
        .push(Ring::circle(Point::new(30.0, 30.0), 10.0).reversed());

    // A cutter of 3.175 mm: half of it outside the outline and inside the hole.
    let kerf = 3.175;
    let path = plate.outward(0.5 * kerf)?;

    println!(
        "finished part: {:.3} mm2, {:.3} mm round the outside",
        plate.area(),
        plate.outer.length()
    );
    println!(
        "tool path:     {:.3} mm round the outside",
        path.outer.length()
    );
    let hole = path.holes[0].bounds();
    println!("the hole's path is a true circle of {:.3} mm", hole.width());
    assert!((hole.width() - (20.0 - kerf)).abs() < 1e-9);
    assert!((path.bounds().width() - (100.0 + kerf)).abs() < 1e-9);
    assert!(path.holes[0].segments().all(|s| s.is_arc()));
    Ok(())
}

//! How fast the free-form search is and how well it fills: a made-up order of about 150 parts of 15
//! shapes on sheets of 2440 x 1220 mm.
//!
//! `cargo run --release -p panelwright-nesting --example freeform_speed -- [steps] [times]`

use panelwright_geometry::{Outline, Point, Ring, Vertex};
use panelwright_nesting::{Budget, Control, KeepRule, Part, Problem, Progress, Stock, freeform};
use std::time::Instant;

fn rounded(width: f64, height: f64, radius: f64) -> Outline {
    let ring = Ring::rounded_rectangle(Point::default(), Point::new(width, height), radius);
    Outline::from_rings(ring, Vec::new())
}

fn window(width: f64, height: f64, rail: f64, radius: f64) -> Outline {
    let hole = Ring::rounded_rectangle(
        Point::new(rail, rail),
        Point::new(width - rail, height - rail),
        radius,
    );
    Outline::from_rings(rounded(width, height, 0.0).outer, vec![hole])
}

fn polygon(points: &[(f64, f64)]) -> Outline {
    Outline::polygon(points.iter().map(|&(x, y)| Point::new(x, y)))
}

/// A cabinet maker's mix: doors with windows, shelves, brackets, gussets, arcs.
fn parts(times: u32) -> Vec<Part> {
    let arch = Outline::from_rings(
        Ring::new(vec![
            Vertex::new(0.0, 0.0, 0.0),
            Vertex::new(420.0, 0.0, 0.0),
            Vertex::new(420.0, 160.0, 1.0),
            Vertex::new(0.0, 160.0, 0.0),
        ]),
        Vec::new(),
    );
    let crescent = Outline::from_rings(
        Ring::new(vec![
            Vertex::new(0.0, 0.0, 0.9),
            Vertex::new(300.0, 0.0, -0.4),
        ]),
        Vec::new(),
    );
    let disc = Outline::from_rings(Ring::circle(Point::default(), 95.0), Vec::new());
    let l =
        |a: f64, b: f64, t: f64| polygon(&[(0.0, 0.0), (a, 0.0), (a, t), (t, t), (t, b), (0.0, b)]);
    [
        ("door", window(780.0, 580.0, 70.0, 20.0), 6),
        ("side", rounded(820.0, 430.0, 12.0), 8),
        ("small door", window(480.0, 380.0, 60.0, 10.0), 8),
        ("shelf", rounded(600.0, 300.0, 0.0), 10),
        ("arch", arch, 6),
        ("bracket", l(220.0, 180.0, 50.0), 16),
        ("large bracket", l(420.0, 360.0, 80.0), 8),
        (
            "gusset",
            polygon(&[(0.0, 0.0), (180.0, 0.0), (0.0, 180.0)]),
            16,
        ),
        (
            "trapeze",
            polygon(&[(0.0, 0.0), (360.0, 0.0), (280.0, 210.0), (60.0, 210.0)]),
            10,
        ),
        ("disc", disc, 10),
        ("crescent", crescent, 8),
        ("rail", rounded(560.0, 60.0, 0.0), 14),
        ("cap", rounded(140.0, 90.0, 20.0), 16),
        (
            "tee",
            polygon(&[
                (0.0, 0.0),
                (260.0, 0.0),
                (260.0, 60.0),
                (160.0, 60.0),
                (160.0, 220.0),
                (100.0, 220.0),
                (100.0, 60.0),
                (0.0, 60.0),
            ]),
            8,
        ),
        ("label", rounded(90.0, 50.0, 5.0), 12),
    ]
    .into_iter()
    .map(|(name, outline, quantity)| Part::new(name, outline, quantity * times))
    .collect()
}

fn main() {
    let mut arguments = std::env::args().skip(1);
    let mut number = |default: u64| {
        arguments
            .next()
            .and_then(|a| a.parse().ok())
            .unwrap_or(default)
    };
    let (steps, times) = (number(4_000_000), number(1) as u32);
    let keep = KeepRule {
        least_width: 200.0,
        least_length: 400.0,
        value_per_area: 1.5e-5,
        handling: 0.0,
        scrap_cost_per_area: 1e-6,
        ..KeepRule::default()
    };
    let sheet = Stock {
        keep,
        ..Stock::sheet("sheet", 2440.0, 1220.0, 80.0, 0)
    };
    let mut problem = Problem::new(parts(times), vec![sheet], vec![None]);
    (problem.gap, problem.margin, problem.kerf) = (6.0, 10.0, 3.0);
    let area: f64 = problem
        .parts
        .iter()
        .map(|p| p.outline.area() * f64::from(p.quantity))
        .sum();
    println!("parts fill {:.3} sheets", area / (2440.0 * 1220.0));
    let start = Instant::now();
    let tell = |p: Progress| {
        println!(
            "{:5.0} %  {:8.3} s  spend {:9.3}  sheets {}  missing {}",
            100.0 * p.done,
            start.elapsed().as_secs_f64(),
            p.spend,
            p.sheets,
            p.missing
        );
    };
    let budget = Budget {
        steps,
        ..Budget::default()
    };
    let nest = freeform::search(&problem, &budget, &Control::none().with_listener(&tell));
    for layout in &nest.layouts {
        println!(
            "{} parts, yield {:.2} %",
            layout.placed.len(),
            100.0 * layout.part_area(&problem) / layout.stock(&problem).outline.area()
        );
    }
}

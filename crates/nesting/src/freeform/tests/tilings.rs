//! Sets of pieces that are known to fill a room without a rest, and rooms that they are known not to fill.

use super::*;
use crate::freeform::{StripProblem, nest_strip};

/// Millimetres of a unit cell.
const CELL: f64 = 20.0;

fn scaled(points: &[(f64, f64)]) -> Outline {
    Outline::polygon(points.iter().map(|&(x, y)| Point::new(CELL * x, CELL * y)))
}

fn turned(name: &str, points: &[(f64, f64)], turn: Turn, quantity: u32) -> Part {
    Part {
        turn,
        ..Part::new(name, scaled(points), quantity)
    }
}

fn room(parts: Vec<Part>, length: f64, width: f64) -> Problem {
    one_sheet(parts, CELL * length, CELL * width)
}

fn fills(problem: &Problem, steps: u64) -> bool {
    solved(problem, steps).not_placed.is_empty()
}

/// Fails when a strip of this width needs more than this length.
fn fills_strip(parts: Vec<Part>, length: f64, width: f64, steps: u64) {
    let problem = StripProblem::new(parts, width);
    let budget = Budget {
        steps,
        ..Budget::default()
    };
    let strip = nest_strip(&problem, &budget, &Control::none()).expect("a strip");
    assert!(
        (strip.length - length).abs() < 1e-6,
        "{} instead of {length}",
        strip.length
    );
}

const L3: [(f64, f64); 6] = [(0., 0.), (2., 0.), (2., 1.), (1., 1.), (1., 2.), (0., 2.)];
const L6: [(f64, f64); 6] = [(0., 0.), (5., 0.), (5., 1.), (1., 1.), (1., 2.), (0., 2.)];
const T4: [(f64, f64); 8] = [
    (0., 0.),
    (3., 0.),
    (3., 1.),
    (2., 1.),
    (2., 2.),
    (1., 2.),
    (1., 1.),
    (0., 1.),
];
const Y5: [(f64, f64); 8] = [
    (0., 0.),
    (4., 0.),
    (4., 1.),
    (2., 1.),
    (2., 2.),
    (1., 2.),
    (1., 1.),
    (0., 1.),
];

#[test]
fn l_shapes_fill_rectangles() {
    // Two L of six cells make 2 x 6; L of three fill every m x n that 3 divides, but for 3 x odd (A5 of
    // the trade facts: Ash & Golomb, "Tiling deficient rectangles with trominoes").
    for (shape, copies, length, width) in
        [(&L6, 6, 6.0, 6.0), (&L3, 10, 6.0, 5.0), (&L3, 15, 9.0, 5.0)]
    {
        let parts = vec![turned("L", shape, Turn::Quarter, copies)];
        fills_strip(parts, CELL * length, CELL * width, 20_000_000);
    }
    let parts = vec![turned("L", &L3, Turn::Quarter, 3)];
    assert!(!fills(&room(parts, 3.0, 3.0), 30_000));
}

#[test]
fn l_shapes_fill_a_board_round_a_flaw() {
    // 8 x 8 less any one cell takes 21 L of three cells (Golomb's theorem). One run in ten leaves the second of these one
    // short, by chance, so most of several have to fill it.
    for (x, y) in [(0.0, 0.0), (2.0, 5.0), (7.0, 3.0)] {
        let mut problem = room(vec![turned("L", &L3, Turn::Quarter, 21)], 8.0, 8.0);
        let cell = Bounds::new(Point::new(x, y), Point::new(x + 1.0, y + 1.0));
        let flaw = cell.corners().map(|p| Point::new(CELL * p.x, CELL * p.y));
        problem.stock[0].keep_clear.push(flaw.to_vec());
        let runs = (0..5).filter(|run| fills(&problem, 1_000_000 - 1_000 * run));
        assert!(runs.count() >= 4, "flaw at {x}, {y}");
    }
}

#[test]
fn area_alone_is_no_promise() {
    // Six T of four cells have the area of 4 x 6 and do not fill it: both sides would have to be multiples
    // of four (Walkup 1965, from memory).
    let six = room(vec![turned("T", &T4, Turn::Quarter, 6)], 6.0, 4.0);
    assert!(!fills(&six, 100_000));
}

#[test]
fn y_shapes_fill_five_by_ten_without_being_turned_over() {
    let ten = vec![turned("Y", &Y5, Turn::Quarter, 10)];
    fills_strip(ten, CELL * 10.0, CELL * 5.0, 20_000_000);
}

#[test]
fn different_squares_make_a_rectangle() {
    // Squared rectangles of order 9: 33 x 32 (Moron 1925) and 69 x 61.
    for (sides, length, width) in [
        ([18, 15, 14, 10, 9, 8, 7, 4, 1], 33.0, 32.0),
        ([36, 33, 28, 25, 16, 9, 7, 5, 2], 69.0, 61.0),
    ] {
        let parts: Vec<Part> = sides
            .iter()
            .map(|&side| {
                let side = f64::from(side);
                Part::new(format!("{side}"), Outline::rectangle(side, side), 1)
            })
            .collect();
        fills_strip(parts, length, width, 20_000_000);
    }
}

/// Corners of a regular hexagon with sides of one cell round this place, one of them to the right.
fn hexagon(at: Vec2) -> Vec<Point> {
    (0..6)
        .map(|i| {
            let angle = std::f64::consts::FRAC_PI_3 * f64::from(i);
            Point::default() + at + Vec2::from_angle(angle, CELL)
        })
        .collect()
}

fn remnant_of(outer: Vec<Point>, parts: Vec<Part>) -> Problem {
    let stock = Stock::remnant("remnant", Polygon::new(outer, Vec::new()), 1.0, 0);
    Problem::new(parts, vec![stock], vec![Some(1)])
}

#[test]
fn triangles_and_rhombi_fill_a_hexagon() {
    // Six triangles round the middle, three of them turned by half; three rhombi, like a cube seen from a corner.
    let corners = hexagon(Vec2::default());
    let middle = Point::default();
    let triangle = Part {
        turn: Turn::Half,
        ..Part::new(
            "triangle",
            Outline::polygon([middle, corners[0], corners[1]]),
            6,
        )
    };
    assert!(fills(&remnant_of(corners.clone(), vec![triangle]), 100_000));
    let rhombus = |i: usize| Part {
        turn: Turn::None,
        ..Part::new(
            format!("{i}"),
            Outline::polygon([middle, corners[i], corners[i + 1], corners[(i + 2) % 6]]),
            1,
        )
    };
    let rhombi = vec![rhombus(0), rhombus(2), rhombus(4)];
    assert!(fills(&remnant_of(corners.clone(), rhombi), 100_000));
    // The same one turned freely.
    let rhombi = vec![Part {
        turn: Turn::Free,
        quantity: 3,
        ..rhombus(0)
    }];
    assert!(fills(&remnant_of(corners, rhombi), 100_000));
}

#[test]
fn seven_hexagons_fill_the_flower_they_make() {
    // Six round one, as in a honeycomb; the outline are the three outer sides of each.
    let apart = 3f64.sqrt() * CELL;
    let mut outer = Vec::new();
    for i in 0..6 {
        let angle = std::f64::consts::FRAC_PI_3 * (f64::from(i) + 0.5);
        let petal = hexagon(Vec2::from_angle(angle, apart));
        // Beginning where the petal before ends.
        outer.extend((0..3).map(|k| petal[(i as usize + k + 5) % 6]));
    }
    let hexagons = vec![Part::new(
        "hexagon",
        Outline::polygon(hexagon(Vec2::default())),
        7,
    )];
    let problem = remnant_of(outer, hexagons);
    let area = problem.stock[0].outline.area();
    assert!((area - 7.0 * problem.parts[0].outline.area()).abs() < 1e-6 * area);
    assert!(fills(&problem, 200_000));
}

#[test]
fn triangles_and_trapezia_fill_rectangles() {
    let triangle = turned("triangle", &[(0., 0.), (2., 0.), (0., 1.)], Turn::Half, 8);
    fills_strip(vec![triangle], CELL * 4.0, CELL * 2.0, 2_000_000);
    let trapezium = turned(
        "trapezium",
        &[(0., 0.), (3., 0.), (1., 2.), (0., 2.)],
        Turn::Half,
        4,
    );
    fills_strip(vec![trapezium], CELL * 8.0, CELL * 2.0, 2_000_000);
}

#[test]
fn pairs_of_p_shapes_fill_a_square() {
    // Two make 2 x 5.
    let p5 = [(0., 0.), (2., 0.), (2., 2.), (1., 2.), (1., 3.), (0., 3.)];
    let ten = turned("P", &p5, Turn::Quarter, 5 * 2);
    fills_strip(vec![ten], CELL * 10.0, CELL * 5.0, 20_000_000);
}

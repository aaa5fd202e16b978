//! Published dissections: layouts known to be whole, or known to be beyond a saw.

use super::*;
use crate::verify::guillotine_separable;
use crate::{FirstCut, Method, SawRules, Turn};

/// The squared square of lowest order: 21 different squares that fill one of side 112.
///
/// Source: A. J. W. Duijvestijn, "Simple perfect squared square of lowest order", J. Combin. Theory
/// B 25 (1978) 240-243, as listed in OEIS A014530. Lower left corner and side.
const ORDER_21: [(i32, i32, i32); 21] = [
    (0, 0, 50),
    (50, 0, 35),
    (85, 0, 27),
    (85, 27, 8),
    (93, 27, 19),
    (50, 35, 15),
    (65, 35, 17),
    (82, 35, 11),
    (82, 46, 6),
    (88, 46, 24),
    (0, 50, 29),
    (29, 50, 25),
    (54, 50, 9),
    (63, 50, 2),
    (63, 52, 7),
    (70, 52, 18),
    (54, 59, 16),
    (70, 70, 42),
    (29, 75, 4),
    (33, 75, 37),
    (0, 79, 33),
];

/// Source: Z. Moron (1925), the squared rectangle of order 9, 33 x 32.
const SQUARES_33_32: [(i32, i32, i32); 9] = [
    (0, 0, 18),
    (18, 0, 15),
    (18, 15, 7),
    (25, 15, 8),
    (0, 18, 14),
    (14, 18, 4),
    (14, 22, 10),
    (24, 22, 1),
    (24, 23, 9),
];

/// The other squared rectangle of order 9, 69 x 61. Source: published catalogues of simple perfect
/// squared rectangles; the cover was checked cell by cell.
const SQUARES_69_61: [(i32, i32, i32); 9] = [
    (0, 0, 36),
    (36, 0, 33),
    (36, 33, 5),
    (41, 33, 28),
    (0, 36, 25),
    (25, 36, 9),
    (34, 36, 2),
    (34, 38, 7),
    (25, 45, 16),
];

/// Squares 8, 5, 3, 2, 1, 1 in 13 x 8: freed by five stages and no fewer. Computed by enumeration.
const SQUARES_13_8: [(i32, i32, i32); 6] = [
    (0, 0, 8),
    (8, 0, 5),
    (8, 5, 3),
    (11, 5, 2),
    (11, 7, 1),
    (12, 7, 1),
];

fn rects(squares: &[(i32, i32, i32)]) -> Vec<Bounds> {
    squares
        .iter()
        .map(|(x, y, side)| bounds((*x).into(), (*y).into(), (*side).into(), (*side).into()))
        .collect()
}

/// Rectangles as parts, one copy each, laid where they are.
fn as_nest(rects: &[Bounds], length: f64, width: f64) -> (Problem, Nest) {
    let parts = rects
        .iter()
        .enumerate()
        .map(|(i, r)| rectangle(&format!("piece {}", i + 1), r.width(), r.height(), 1))
        .collect();
    let placed = rects
        .iter()
        .enumerate()
        .map(|(i, r)| at(i, r.min.x, r.min.y))
        .collect();
    (problem(parts, sheet(length, width)), nest(placed))
}

fn moved(nest: &Nest, part: usize, dx: f64, dy: f64) -> Nest {
    let mut nest = nest.clone();
    nest.layouts[0].placed[part].placement.origin.x += dx;
    nest.layouts[0].placed[part].placement.origin.y += dy;
    nest
}

#[test]
fn squared_rectangles_are_whole_and_any_move_shows() {
    for (squares, length, width) in [
        (&ORDER_21[..], 112.0, 112.0),
        (&SQUARES_33_32[..], 33.0, 32.0),
        (&SQUARES_69_61[..], 69.0, 61.0),
    ] {
        let (problem, nest) = as_nest(&rects(squares), length, width);
        assert_eq!(
            nest.layouts[0].part_area(&problem),
            length * width,
            "yield is 100 %"
        );
        passes(&problem, &nest);
        for i in 0..squares.len() {
            for (dx, dy) in [
                (1.0, 0.0),
                (-1.0, 0.0),
                (0.0, 1.0),
                (0.0, -1.0),
                (0.001, 0.0),
            ] {
                refused!(
                    &problem,
                    &moved(&nest, i, dx, dy),
                    Fault::Overlap { .. } | Fault::OutsideStock { .. }
                );
            }
        }
    }
}

#[test]
fn no_saw_frees_a_squared_rectangle() {
    for (squares, length, width) in [
        (&ORDER_21[..], 112.0, 112.0),
        (&SQUARES_33_32[..], 33.0, 32.0),
        (&SQUARES_69_61[..], 69.0, 61.0),
    ] {
        let rects = rects(squares);
        assert!(!guillotine_separable(&rects));
        let (mut problem, nest) = as_nest(&rects, length, width);
        problem.method = Method::Guillotine(SawRules::default());
        // Not without cuts, and whatever the first cut is: at each edge of each square, both ways,
        // edge to edge or along that square only.
        assert!(!judge(&problem, &nest).is_empty());
        for r in &rects {
            for cut in [
                saw_cut((r.max.x, 0.0), (r.max.x, width), 0.0, 1),
                saw_cut((0.0, r.max.y), (length, r.max.y), 0.0, 1),
                saw_cut((r.max.x, r.min.y), (r.max.x, r.max.y), 0.0, 1),
                saw_cut((r.min.x, r.max.y), (r.max.x, r.max.y), 0.0, 1),
            ] {
                let mut nest = nest.clone();
                nest.layouts[0].saw_cuts = vec![cut];
                let faults = judge(&problem, &nest);
                let refused = faults.iter().any(|f| {
                    matches!(
                        f,
                        Fault::CutThroughPart { .. }
                            | Fault::CutStopsShort { .. }
                            | Fault::CutMeetsNothing { .. }
                    )
                });
                assert!(refused, "{cut:?}: {faults:?}");
            }
        }
    }
}

#[test]
fn pinwheels_are_beyond_a_saw() {
    // The five-piece pinwheel of 3 x 3, the smallest dissection without an edge-to-edge cut.
    let pinwheel = [
        bounds(0.0, 0.0, 2.0, 1.0),
        bounds(2.0, 0.0, 1.0, 2.0),
        bounds(1.0, 2.0, 2.0, 1.0),
        bounds(0.0, 1.0, 1.0, 2.0),
        bounds(1.0, 1.0, 1.0, 1.0),
    ];
    assert!(!guillotine_separable(&pinwheel));
    let (problem, nest) = as_nest(&pinwheel, 3.0, 3.0);
    passes(&problem, &nest);
    // Four of its pieces round nothing cannot be parted either; any three can.
    assert!(!guillotine_separable(&pinwheel[..4]));
    for left_out in 0..4 {
        let three: Vec<Bounds> = (0..4)
            .filter(|i| *i != left_out)
            .map(|i| pinwheel[i])
            .collect();
        assert!(guillotine_separable(&three));
    }
    assert!(guillotine_separable(&[]));
    assert!(guillotine_separable(&pinwheel[..1]));
    assert!(!guillotine_separable(&[pinwheel[0], pinwheel[0]]));
    assert!(guillotine_separable(&rects(&SQUARES_13_8)));
}

/// The 13 x 8 rectangle ten times as large, each square smaller by `kerf`, with its five cuts.
fn nested_squares(kerf: f64, rules: SawRules) -> (Problem, Nest) {
    let squares: Vec<Bounds> = rects(&SQUARES_13_8)
        .iter()
        .map(|r| {
            let side = 10.0 * r.width() - kerf;
            bounds(10.0 * r.min.x, 10.0 * r.min.y, side, side)
        })
        .collect();
    let (mut problem, mut nest) = as_nest(&squares, 130.0 - kerf, 80.0 - kerf);
    problem.method = Method::Guillotine(rules);
    // Where the cut lies, from and to, in the squares' units; crosscuts and rips take turns.
    let lines = [(8, 0, 8), (5, 8, 13), (11, 5, 8), (7, 11, 13), (12, 7, 8)];
    nest.layouts[0].saw_cuts = (1_u32..)
        .zip(lines)
        .map(|(stage, (line, from, to))| {
            let line = 10.0 * f64::from(line) - 0.5 * kerf;
            let (from, to) = (10.0 * f64::from(from), 10.0 * f64::from(to) - kerf);
            if stage % 2 == 1 {
                saw_cut((line, from), (line, to), kerf, stage)
            } else {
                saw_cut((from, line), (to, line), kerf, stage)
            }
        })
        .collect();
    (problem, nest)
}

#[test]
fn nested_squares_take_five_stages() {
    let saw = |kerf, stages| SawRules {
        kerf,
        stages,
        ..SawRules::default()
    };
    let (problem, nest) = nested_squares(0.0, saw(0.0, Some(5)));
    assert_eq!(nest.layouts[0].part_area(&problem), 13.0 * 8.0 * 100.0);
    passes(&problem, &nest);
    let (problem, nest) = nested_squares(0.0, saw(0.0, Some(4)));
    refused!(
        &problem,
        &nest,
        Fault::StageLimit {
            stage: 5,
            limit: 4,
            ..
        }
    );
    // Called a trim, the last cut is still one: it parts two panels.
    let mut disguised = nest.clone();
    disguised.layouts[0].saw_cuts[4].stage = 0;
    refused!(&problem, &disguised, Fault::TrimPartsParts { cut: 5, .. });
    let mut disguised = nest;
    disguised.layouts[0].saw_cuts[0].stage = 0;
    refused!(
        &problem,
        &disguised,
        Fault::TrimPartsParts { cut: 1, .. } | Fault::StageLimit { .. }
    );

    // The kerf of 3 inflated: squares 77, 47, 27, 17, 7, 7 in 127 x 77.
    let (problem, nest) = nested_squares(3.0, saw(3.0, None));
    passes(&problem, &nest);
    let (problem, mut nest) = nested_squares(3.0, saw(3.0, None));
    for cut in &mut nest.layouts[0].saw_cuts {
        cut.kerf = 3.1;
    }
    let faults = judge(&problem, &nest);
    assert!(faults.iter().any(
        |f| matches!(f, Fault::WrongKerf { kerf, blade, .. } if *kerf == 3.1 && *blade == Some(3.0))
    ));
    assert!(
        faults
            .iter()
            .any(|f| matches!(f, Fault::CutThroughPart { .. }))
    );
    // Even where the blade is that wide.
    let mut wide = problem;
    wide.method = Method::Guillotine(saw(3.1, None));
    let faults = judge(&wide, &nest);
    assert!(faults.iter().any(|f| matches!(f, Fault::GapShort { .. })));
    assert!(!faults.iter().any(|f| matches!(f, Fault::WrongKerf { .. })));

    let (mut problem, nest) = nested_squares(3.0, saw(3.0, None));
    problem.method = Method::Guillotine(SawRules {
        first_cut: FirstCut::Along,
        ..saw(3.0, None)
    });
    refused!(&problem, &nest, Fault::StageDirection { .. });
}

/// A polyomino of 10 mm cells, its corners in order.
fn polyomino(name: &str, corners: &[(f64, f64)], quantity: u32) -> Part {
    let scaled: Vec<(f64, f64)> = corners.iter().map(|(x, y)| (10.0 * x, 10.0 * y)).collect();
    Part {
        turn: Turn::Quarter,
        ..Part::new(name, Outline::polygon(points(&scaled)), quantity)
    }
}

/// T of four cells: a bar of three with the stem above its middle.
const T4: [(f64, f64); 8] = [
    (0.0, 0.0),
    (3.0, 0.0),
    (3.0, 1.0),
    (2.0, 1.0),
    (2.0, 2.0),
    (1.0, 2.0),
    (1.0, 1.0),
    (0.0, 1.0),
];
/// L of three cells.
const L3: [(f64, f64); 6] = [
    (0.0, 0.0),
    (2.0, 0.0),
    (2.0, 1.0),
    (1.0, 1.0),
    (1.0, 2.0),
    (0.0, 2.0),
];
/// L of four cells, lying.
const L4: [(f64, f64); 6] = [
    (0.0, 0.0),
    (3.0, 0.0),
    (3.0, 1.0),
    (1.0, 1.0),
    (1.0, 2.0),
    (0.0, 2.0),
];

#[test]
fn polyominoes_fill_their_rectangles() {
    // Sources: D. W. Walkup, "Covering a rectangle with T-tetrominoes", Amer. Math. Monthly 72
    // (1965) for the T; S. W. Golomb, Polyominoes, for the L of three; two Ls of four make 2 x 4.
    let cases = [
        (
            &T4[..],
            (40.0, 40.0),
            vec![
                turned(0, 0.0, 0.0, 0.0),
                turned(0, 90.0, 40.0, 0.0),
                turned(0, 180.0, 40.0, 40.0),
                turned(0, 270.0, 0.0, 40.0),
            ],
        ),
        (
            &L3[..],
            (20.0, 30.0),
            vec![turned(0, 0.0, 0.0, 0.0), turned(0, 180.0, 20.0, 30.0)],
        ),
        (
            &L4[..],
            (40.0, 20.0),
            vec![turned(0, 0.0, 0.0, 0.0), turned(0, 180.0, 40.0, 20.0)],
        ),
    ];
    for (corners, (length, width), placed) in cases {
        let count = u32::try_from(placed.len()).expect("few");
        let problem = problem(
            vec![polyomino("tile", corners, count)],
            sheet(length, width),
        );
        let nest = nest(placed);
        assert!((nest.layouts[0].part_area(&problem) - length * width).abs() < 1e-9);
        passes(&problem, &nest);
        for i in 0..nest.layouts[0].placed.len() {
            for (dx, dy) in [(0.001, 0.0), (-0.001, 0.0), (0.0, 0.001), (0.0, -0.001)] {
                refused!(
                    &problem,
                    &moved(&nest, i, dx, dy),
                    Fault::Overlap { .. } | Fault::OutsideStock { .. }
                );
            }
        }
    }
}

#[test]
fn circles_fit_the_smallest_square_and_no_smaller_one() {
    // Sides of the smallest square for 2, 4, 5 and 9 unit circles: 2 + sqrt 2, 4, 2 + 2 sqrt 2, 6.
    // Source: E. Friedman, "Circles in Squares", with the proofs named there.
    let root = 2.0_f64.sqrt();
    let grid = |n: i32| -> Vec<(f64, f64)> {
        (0..n * n)
            .map(|i| (f64::from(1 + 2 * (i % n)), f64::from(1 + 2 * (i / n))))
            .collect()
    };
    let far = 1.0 + 2.0 * root;
    let cases = [
        (2.0 + root, vec![(1.0, 1.0), (1.0 + root, 1.0 + root)]),
        (4.0, grid(2)),
        (
            2.0 + 2.0 * root,
            vec![
                (1.0, 1.0),
                (far, 1.0),
                (1.0, far),
                (far, far),
                (1.0 + root, 1.0 + root),
            ],
        ),
        (6.0, grid(3)),
    ];
    let radius = 100.0;
    let circle = Outline::from_rings(
        panelwright_geometry::Ring::circle(Point::new(0.0, 0.0), radius),
        vec![],
    );
    for (side, centres) in cases {
        let lay = |scale: f64| {
            let part = Part::new("disc", circle.clone(), centres.len() as u32);
            let placed = centres
                .iter()
                .map(|(x, y)| at(0, scale * x, scale * y))
                .collect();
            (
                problem(vec![part], sheet(scale * side, scale * side)),
                nest(placed),
            )
        };
        // Room for the chord error of the covering polygons, and not even the true circles' room.
        let (problem, nest) = lay(radius + 0.021);
        passes(&problem, &nest);
        let (problem, nest) = lay(radius - 0.001);
        refused!(
            &problem,
            &nest,
            Fault::Overlap { .. } | Fault::OutsideStock { .. }
        );
    }
}

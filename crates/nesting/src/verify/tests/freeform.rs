//! Free-form layouts, and what holds for any layout: counts, supplies, turns, faces.

use super::*;
use crate::{BreakDown, NotPlaced, Turn, Why};
use panelwright_geometry::{Polygon, Ring};

fn two_squares() -> Problem {
    problem(
        vec![rectangle("panel", 100.0, 100.0, 2)],
        sheet(400.0, 300.0),
    )
}

#[test]
fn overlap_by_a_micron() {
    let problem = two_squares();
    passes(&problem, &nest(vec![at(0, 0.0, 0.0), at(0, 100.0, 0.0)]));
    passes(&problem, &nest(vec![at(0, 0.0, 0.0), at(0, 100.0, 37.0)]));
    refused!(&problem, &nest(vec![at(0, 0.0, 0.0), at(0, 99.999, 0.0)]), Fault::Overlap { depth, .. }
        if (depth - 0.001).abs() < 1e-6);
    refused!(
        &problem,
        &nest(vec![at(0, 0.0, 0.0), at(0, 99.999, 37.0)]),
        Fault::Overlap { .. }
    );
    refused!(
        &problem,
        &nest(vec![at(0, 0.0, 0.0), at(0, 99.999, 99.999)]),
        Fault::Overlap { .. }
    );
    // Rounding is not an overlap.
    passes(
        &problem,
        &nest(vec![at(0, 0.0, 0.0), at(0, 100.0 - 1e-9, 37.0)]),
    );
}

#[test]
fn the_same_place_twice() {
    let problem = two_squares();
    refused!(&problem, &nest(vec![at(0, 50.0, 50.0), at(0, 50.0, 50.0)]), Fault::Overlap { depth, .. }
        if *depth > 10.0);
    refused!(
        &problem,
        &nest(vec![at(0, 50.0, 50.0), at(0, 50.0 + 1e-7, 50.0)]),
        Fault::Overlap { .. }
    );
    // The same square turned about its own middle.
    refused!(
        &problem,
        &nest(vec![at(0, 50.0, 50.0), turned(0, 90.0, 150.0, 50.0)]),
        Fault::Overlap { .. }
    );
}

#[test]
fn a_crossing_without_a_corner_inside() {
    let parts = vec![rectangle("bar", 200.0, 10.0, 2)];
    let problem = problem(parts, sheet(400.0, 400.0));
    refused!(
        &problem,
        &nest(vec![at(0, 0.0, 100.0), turned(0, 90.0, 105.0, 5.0)]),
        Fault::Overlap { depth, .. } if (depth - 5.0).abs() < 1e-9
    );
    passes(
        &problem,
        &nest(vec![at(0, 0.0, 100.0), turned(0, 90.0, 105.0, 110.0)]),
    );
}

#[test]
fn a_part_within_the_material_of_another() {
    let parts = vec![
        rectangle("large", 200.0, 200.0, 1),
        rectangle("small", 20.0, 20.0, 1),
    ];
    let problem = problem(parts, sheet(400.0, 300.0));
    for order in [[0, 1], [1, 0]] {
        let mut placed = vec![at(0, 0.0, 0.0), at(1, 90.0, 90.0)];
        if order[0] == 1 {
            placed.reverse();
        }
        refused!(&problem, &nest(placed), Fault::Overlap { .. });
    }
    // Flush with the large one's edge from inside.
    refused!(
        &problem,
        &nest(vec![at(0, 0.0, 0.0), at(1, 180.0, 90.0)]),
        Fault::Overlap { .. }
    );
    passes(&problem, &nest(vec![at(0, 0.0, 0.0), at(1, 200.0, 90.0)]));
}

#[test]
fn touching_at_an_odd_angle_is_no_overlap() {
    let part = Part {
        turn: Turn::Free,
        ..rectangle("panel", 100.0, 40.0, 2)
    };
    let problem = problem(vec![part], sheet(400.0, 400.0));
    for angle in [17.0_f64, 33.3, 61.0, 123.4] {
        let (sin, cos) = angle.to_radians().sin_cos();
        let beside = |by: f64, slide: f64| {
            turned(
                0,
                angle,
                150.0 - by * sin + slide * cos,
                150.0 + by * cos + slide * sin,
            )
        };
        let first = turned(0, angle, 150.0, 150.0);
        passes(&problem, &nest(vec![first.clone(), beside(40.0, 0.0)]));
        passes(&problem, &nest(vec![first.clone(), beside(40.0, 31.7)]));
        refused!(
            &problem,
            &nest(vec![first, beside(39.999, 31.7)]),
            Fault::Overlap { .. }
        );
    }
}

#[test]
fn gap_short_by_a_micron() {
    let problem = Problem {
        gap: 6.0,
        ..two_squares()
    };
    passes(&problem, &nest(vec![at(0, 0.0, 0.0), at(0, 106.0, 0.0)]));
    refused!(&problem, &nest(vec![at(0, 0.0, 0.0), at(0, 105.999, 0.0)]), Fault::GapShort { distance, gap, .. }
        if (distance - 5.999).abs() < 1e-9 && *gap == 6.0);
    // Corner to corner the distance is the diagonal: 3.6 and 4.8 make 6.
    passes(&problem, &nest(vec![at(0, 0.0, 0.0), at(0, 103.6, 104.8)]));
    refused!(
        &problem,
        &nest(vec![at(0, 0.0, 0.0), at(0, 103.6, 104.799)]),
        Fault::GapShort { .. }
    );
    // Touching is too near; overlapping has its own name.
    refused!(
        &problem,
        &nest(vec![at(0, 0.0, 0.0), at(0, 100.0, 0.0)]),
        Fault::GapShort { .. }
    );
    refused!(
        &problem,
        &nest(vec![at(0, 0.0, 0.0), at(0, 99.0, 0.0)]),
        Fault::Overlap { .. }
    );
}

#[test]
fn circles_keep_the_gap_between_true_arcs() {
    let disc = Part::new(
        "disc",
        Outline::from_rings(Ring::circle(Point::new(0.0, 0.0), 50.0), vec![]),
        2,
    );
    let problem = Problem {
        gap: 5.0,
        ..problem(vec![disc], sheet(400.0, 200.0))
    };
    // The covering polygon may ask for up to twice the chord error more, never for less.
    passes(
        &problem,
        &nest(vec![at(0, 60.0, 60.0), at(0, 165.05, 60.0)]),
    );
    refused!(
        &problem,
        &nest(vec![at(0, 60.0, 60.0), at(0, 164.999, 60.0)]),
        Fault::GapShort { .. }
    );
    refused!(
        &problem,
        &nest(vec![at(0, 49.9, 60.0), at(0, 200.0, 60.0)]),
        Fault::OutsideStock { .. }
    );
}

#[test]
fn margin_short_by_a_micron() {
    let problem = Problem {
        margin: 10.0,
        ..problem(
            vec![rectangle("panel", 100.0, 100.0, 1)],
            sheet(400.0, 300.0),
        )
    };
    passes(&problem, &nest(vec![at(0, 10.0, 10.0)]));
    passes(&problem, &nest(vec![at(0, 290.0, 190.0)]));
    for (x, y) in [
        (9.999, 10.0),
        (10.0, 9.999),
        (290.001, 100.0),
        (100.0, 190.001),
    ] {
        refused!(&problem, &nest(vec![at(0, x, y)]), Fault::MarginShort { distance, .. }
            if (distance - 9.999).abs() < 1e-9);
    }
    refused!(&problem, &nest(vec![at(0, -0.001, 10.0)]), Fault::OutsideStock { by, .. }
        if (by - 0.001).abs() < 1e-9);
    refused!(
        &problem,
        &nest(vec![at(0, 900.0, 10.0)]),
        Fault::OutsideStock { .. }
    );
}

#[test]
fn a_notch_of_the_stock_may_reach_in_between_corners() {
    let notched = points(&[
        (0.0, 0.0),
        (195.0, 0.0),
        (200.0, 60.0),
        (205.0, 0.0),
        (400.0, 0.0),
        (400.0, 300.0),
        (0.0, 300.0),
    ]);
    let stock = Stock::remnant("remnant", Polygon::new(notched, vec![]), 10.0, 0);
    let problem = problem(vec![rectangle("panel", 100.0, 100.0, 1)], stock);
    refused!(
        &problem,
        &nest(vec![at(0, 150.0, 10.0)]),
        Fault::OutsideStock { .. }
    );
    refused!(
        &problem,
        &nest(vec![at(0, 150.0, 59.999)]),
        Fault::OutsideStock { .. }
    );
    passes(&problem, &nest(vec![at(0, 150.0, 60.0)]));
}

#[test]
fn voids_and_flaws_keep_parts_away() {
    let mut stock = sheet(400.0, 300.0);
    stock
        .outline
        .holes
        .push(bounds(150.0, 100.0, 50.0, 50.0).corners().to_vec());
    // Across the edge of the sheet, and given clockwise.
    let mut clamp = bounds(-20.0, 200.0, 60.0, 30.0).corners().to_vec();
    clamp.reverse();
    stock.keep_clear.push(clamp);
    let problem = Problem {
        margin: 2.0,
        ..problem(vec![rectangle("panel", 100.0, 60.0, 1)], stock)
    };
    passes(&problem, &nest(vec![at(0, 48.0, 100.0)]));
    refused!(&problem, &nest(vec![at(0, 48.001, 100.0)]), Fault::OnVoid { distance, .. }
        if (distance - 1.999).abs() < 1e-9);
    refused!(&problem, &nest(vec![at(0, 60.0, 100.0)]), Fault::OnVoid { distance, .. } if *distance < 0.0);
    // The void wholly under the part, touching nothing of its border.
    refused!(&problem, &nest(vec![at(0, 120.0, 95.0)]), Fault::OnVoid { distance, .. } if *distance < 0.0);
    // The part wholly in the void.
    let small = problem_with_part(&problem, rectangle("panel", 10.0, 10.0, 1));
    refused!(
        &small,
        &nest(vec![at(0, 170.0, 120.0)]),
        Fault::OnVoid { .. }
    );
    passes(&problem, &nest(vec![at(0, 42.0, 200.0)]));
    refused!(
        &problem,
        &nest(vec![at(0, 41.999, 200.0)]),
        Fault::OnKeepClear { .. }
    );
    refused!(&problem, &nest(vec![at(0, 20.0, 180.0)]), Fault::OnKeepClear { distance, .. } if *distance < 0.0);
}

fn problem_with_part(problem: &Problem, part: Part) -> Problem {
    Problem {
        parts: vec![part],
        ..problem.clone()
    }
}

fn frame_and_filler() -> Problem {
    let window = Ring::polygon(bounds(50.0, 50.0, 100.0, 80.0).corners());
    let frame = Outline::from_rings(
        Ring::polygon(bounds(0.0, 0.0, 200.0, 180.0).corners()),
        vec![window],
    );
    Problem {
        gap: 5.0,
        ..problem(
            vec![
                Part::new("frame", frame, 1),
                rectangle("filler", 90.0, 70.0, 1),
            ],
            sheet(400.0, 300.0),
        )
    }
}

#[test]
fn a_part_in_a_cut_out_keeps_the_gap_too() {
    let mut problem = frame_and_filler();
    let frame = at(0, 10.0, 10.0);
    let good = nest(vec![frame.clone(), at(1, 65.0, 65.0)]);
    passes(&problem, &good);
    refused!(
        &problem,
        &nest(vec![frame.clone(), at(1, 65.001, 65.0)]),
        Fault::GapShort { .. }
    );
    refused!(
        &problem,
        &nest(vec![frame.clone(), at(1, 71.0, 65.0)]),
        Fault::Overlap { .. }
    );
    // Without a gap it may fill the cut-out from edge to edge, no further.
    problem.gap = 0.0;
    problem.parts[1] = rectangle("filler", 100.0, 80.0, 1);
    passes(&problem, &nest(vec![frame.clone(), at(1, 60.0, 60.0)]));
    refused!(
        &problem,
        &nest(vec![frame, at(1, 60.001, 60.0)]),
        Fault::Overlap { .. }
    );
}

#[test]
fn cut_outs_may_be_ruled_out() {
    let problem = Problem {
        use_cutouts: false,
        ..frame_and_filler()
    };
    let nest = nest(vec![at(0, 10.0, 10.0), at(1, 65.0, 65.0)]);
    refused!(&problem, &nest, Fault::InCutout { part, other, .. } if part == "filler" && other == "frame");
}

#[test]
fn parts_lie_in_one_blank() {
    let cut = saw_cut((200.0, 0.0), (200.0, 300.0), 4.0, 1);
    let mut stock = sheet(400.0, 300.0);
    stock.break_down = Some(BreakDown {
        cuts: vec![cut],
        blanks: vec![
            bounds(0.0, 0.0, 198.0, 300.0),
            bounds(202.0, 0.0, 198.0, 300.0),
        ],
    });
    let problem = Problem {
        margin: 5.0,
        ..problem(vec![rectangle("panel", 100.0, 60.0, 1)], stock)
    };
    let with_cuts = |placed| {
        let mut nest = nest(placed);
        nest.layouts[0].saw_cuts = vec![cut];
        nest
    };
    passes(&problem, &with_cuts(vec![at(0, 93.0, 5.0)]));
    passes(&problem, &with_cuts(vec![at(0, 207.0, 5.0)]));
    refused!(
        &problem,
        &with_cuts(vec![at(0, 93.001, 5.0)]),
        Fault::MarginShort { .. }
    );
    refused!(
        &problem,
        &with_cuts(vec![at(0, 150.0, 5.0)]),
        Fault::OutsideBlanks { .. } | Fault::CutThroughPart { .. }
    );
    // The plan's cuts must be in the layout, and make the blanks.
    refused!(
        &problem,
        &nest(vec![at(0, 93.0, 5.0)]),
        Fault::CutsNotOfBreakDown { .. } | Fault::BlankNotSawn { .. }
    );
    let mut wrong = problem.clone();
    if let Some(plan) = &mut wrong.stock[0].break_down {
        plan.blanks[1] = bounds(201.0, 0.0, 198.0, 300.0);
    }
    refused!(
        &wrong,
        &with_cuts(vec![at(0, 93.0, 5.0)]),
        Fault::BlankNotSawn { blank: 2, .. }
    );
    // Cuts where there is no plan.
    let mut whole = problem;
    whole.stock[0].break_down = None;
    refused!(
        &whole,
        &with_cuts(vec![at(0, 93.0, 5.0)]),
        Fault::UnexpectedCuts { cuts: 1, .. }
    );
}

#[test]
fn turns_and_grain() {
    let with_turn = |turn| {
        let part = Part {
            turn,
            ..rectangle("panel", 60.0, 50.0, 1)
        };
        problem(vec![part], sheet(300.0, 300.0))
    };
    let lay = |angle| nest(vec![turned(0, angle, 150.0, 150.0)]);
    passes(&with_turn(Turn::None), &lay(0.0));
    refused!(&with_turn(Turn::None), &lay(180.0), Fault::WrongAngle { angle_deg, .. } if *angle_deg == 180.0);
    passes(&with_turn(Turn::Half), &lay(180.0));
    refused!(&with_turn(Turn::Half), &lay(90.0), Fault::WrongAngle { .. });
    passes(&with_turn(Turn::Quarter), &lay(270.0));
    refused!(
        &with_turn(Turn::Quarter),
        &lay(45.0),
        Fault::WrongAngle { .. }
    );
    refused!(
        &with_turn(Turn::Quarter),
        &lay(0.001),
        Fault::WrongAngle { .. }
    );
    passes(&with_turn(Turn::Free), &lay(12.345));

    // Grain along the sheet's length, and along the part's width as drawn.
    for turn in [Turn::Quarter, Turn::Free] {
        let mut grained = with_turn(turn);
        grained.parts[0].grain_deg = Some(90.0);
        passes(&grained, &lay(0.0));
        grained.stock[0].grain_deg = Some(0.0);
        passes(&grained, &lay(90.0));
        passes(&grained, &lay(270.0));
        refused!(&grained, &lay(0.0), Fault::WrongGrain { .. });
        refused!(&grained, &lay(180.0), Fault::WrongGrain { .. });
    }
}

#[test]
fn good_faces() {
    let mut problem = problem(vec![rectangle("panel", 60.0, 50.0, 1)], sheet(300.0, 300.0));
    problem.parts[0].good_faces = 1;
    passes(&problem, &nest(vec![at(0, 0.0, 0.0)]));
    problem.parts[0].good_faces = 2;
    refused!(
        &problem,
        &nest(vec![at(0, 0.0, 0.0)]),
        Fault::BadFace {
            needed: 2,
            has: 1,
            ..
        }
    );
}

#[test]
fn a_low_priority_takes_no_place_of_a_high_one() {
    let square = |name: &str, priority| Part {
        priority,
        ..rectangle(name, 50.0, 50.0, 1)
    };
    let mut problem = problem(vec![square("high", 1), square("low", 0)], sheet(60.0, 60.0));
    let with = |part| Nest {
        not_placed: vec![NotPlaced {
            part: 1 - part,
            quantity: 1,
            why: Why::StockUsedUp,
        }],
        ..nest(vec![at(part, 0.0, 0.0)])
    };
    passes(&problem, &with(0));
    refused!(
        &problem,
        &with(1),
        Fault::LowerPriorityPlaced {
            priority: 1,
            instead: 0,
            ..
        }
    );
    // A part of other rules or another shape may lie where the missing one cannot.
    problem.parts[1].turn = crate::Turn::None;
    passes(&problem, &with(1));
}

#[test]
fn every_copy_is_accounted_for() {
    let problem = two_squares();
    let missing = |quantity| NotPlaced {
        part: 0,
        quantity,
        why: Why::StockUsedUp,
    };
    let mut short = nest(vec![at(0, 0.0, 0.0)]);
    refused!(
        &problem,
        &short,
        Fault::MissingMiscounted {
            placed: 1,
            reported: 0,
            wanted: 2,
            ..
        }
    );
    short.not_placed = vec![missing(1)];
    passes(&problem, &short);
    short.not_placed = vec![missing(2)];
    refused!(&problem, &short, Fault::MissingMiscounted { .. });
    short.not_placed = vec![missing(u32::MAX), missing(u32::MAX)];
    refused!(&problem, &short, Fault::MissingMiscounted { .. });
    let three = nest(vec![at(0, 0.0, 0.0), at(0, 100.0, 0.0), at(0, 200.0, 0.0)]);
    refused!(
        &problem,
        &three,
        Fault::TooMany {
            placed: 3,
            wanted: 2,
            ..
        }
    );
    refused!(
        &problem,
        &Nest::default(),
        Fault::MissingMiscounted { placed: 0, .. }
    );
}

#[test]
fn supplies_are_shared() {
    let mut problem = two_squares();
    problem.stock.push(Stock {
        name: "sheet, sawn".into(),
        ..problem.stock[0].clone()
    });
    let mut two = nest(vec![at(0, 0.0, 0.0)]);
    two.layouts.push(Layout {
        stock: 1,
        ..layout(vec![at(0, 0.0, 0.0)])
    });
    passes(&problem, &two);
    problem.supplies = vec![Some(2)];
    passes(&problem, &two);
    problem.supplies = vec![Some(1)];
    refused!(&problem, &two, Fault::SupplyExceeded { taken: 2, available: 1, stock }
        if stock == "sheet, sheet, sawn");
}

#[test]
fn indices_that_do_not_exist() {
    let problem = two_squares();
    let good = nest(vec![at(0, 0.0, 0.0), at(0, 100.0, 0.0)]);
    let mut bad = good.clone();
    bad.layouts[0].placed.push(at(7, 0.0, 0.0));
    refused!(
        &problem,
        &bad,
        Fault::UnknownPart {
            sheet: Some(1),
            index: 7
        }
    );
    let mut bad = good.clone();
    bad.not_placed.push(NotPlaced {
        part: 3,
        quantity: 1,
        why: Why::TooLarge,
    });
    refused!(
        &problem,
        &bad,
        Fault::UnknownPart {
            sheet: None,
            index: 3
        }
    );
    let mut bad = good.clone();
    bad.layouts[0].stock = 5;
    refused!(&problem, &bad, Fault::UnknownStock { sheet: 1, index: 5 });
    let mut bad = good;
    bad.layouts.push(layout(vec![]));
    refused!(&problem, &bad, Fault::EmptyLayout { sheet: 2, .. });
}

#[test]
fn placements_that_are_nowhere() {
    let problem = two_squares();
    for (angle, x, y) in [
        (0.0, f64::NAN, 0.0),
        (0.0, 0.0, f64::INFINITY),
        (f64::NAN, 0.0, 0.0),
        (0.0, 1e300, 0.0),
    ] {
        refused!(
            &problem,
            &nest(vec![at(0, 0.0, 0.0), turned(0, angle, x, y)]),
            Fault::BadPlacement { .. }
        );
    }
}

#[test]
fn the_other_sheet_is_the_one_named() {
    let mut problem = two_squares();
    problem.parts[0].quantity = 3;
    let mut two = nest(vec![at(0, 0.0, 0.0)]);
    two.layouts
        .push(layout(vec![at(0, 0.0, 0.0), at(0, 50.0, 50.0)]));
    refused!(&problem, &two, Fault::Overlap { sheet: 2, .. });
}

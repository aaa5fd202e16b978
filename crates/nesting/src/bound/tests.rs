//! The bounds against perfect packings, hand counts and random layouts.

use super::*;
use crate::{KeepRule, Layout, Method, Part, PlacedPart, SawRules, Trim, find_offcuts, spend_of};
use panelwright_geometry::{Bounds, Outline, Placement, Point, Polygon, Ring};
use proptest::prelude::*;

mod outlines;
mod prices;

fn rectangles(sizes: &[(f64, f64, u32)]) -> Vec<Part> {
    let part = |(i, &(w, h, n)): (usize, &(f64, f64, u32))| {
        Part::new(format!("part {i}"), Outline::rectangle(w, h), n)
    };
    sizes.iter().enumerate().map(part).collect()
}

fn sheets(parts: Vec<Part>, length: f64, width: f64) -> Problem {
    let stock = vec![Stock::sheet("sheet", length, width, 100.0, 0)];
    Problem::new(parts, stock, vec![None])
}

#[test]
fn a_perfect_packing_reaches_the_ceiling() {
    // Moron's squared rectangle, 33 x 32 (1925): nine different squares, no waste.
    let sides = [18.0, 15.0, 14.0, 10.0, 9.0, 8.0, 7.0, 4.0, 1.0];
    let squares: Vec<_> = sides.iter().map(|s| (*s, *s, 1)).collect();
    let problem = sheets(rectangles(&squares), 33.0, 32.0);
    assert!((yield_ceiling(&problem, 0) - 1.0).abs() < 1e-9);
    assert!((least_spend(&problem) - 100.0).abs() < 1e-9);
}

#[test]
fn gap_and_margin_lower_the_ceiling_but_not_below_the_truth() {
    // Four by three plates fill the sheet exactly with gap 6 and margin 10.
    let parts = rectangles(&[(100.0, 80.0, 50)]);
    let mut problem = sheets(
        parts,
        4.0 * 100.0 + 3.0 * 6.0 + 20.0,
        3.0 * 80.0 + 2.0 * 6.0 + 20.0,
    );
    problem.gap = 6.0;
    problem.margin = 10.0;
    let truth = 12.0 * 8_000.0 / problem.stock[0].outline.area();
    let ceiling = yield_ceiling(&problem, 0);
    assert!((ceiling - truth).abs() < 1e-9, "{ceiling} {truth}");
    // 50 plates at 12 a sheet: five sheets.
    assert!((least_spend(&problem) - 500.0).abs() < 1e-6);
    // A whisker less room, and the twelfth does not fit by area either.
    problem.gap = 9.0;
    assert!(yield_ceiling(&problem, 0) < truth - 1e-9);
}

#[test]
fn parts_that_turn_freely_and_fit_exactly_count() {
    for (w, h) in [(2_420.0, 1_200.0), (1_200.0, 1_200.0), (1_207.0, 1_200.0)] {
        let mut parts = rectangles(&[(w, h, 3)]);
        parts[0].turn = crate::Turn::Free;
        let mut problem = sheets(parts, 2_440.0, 1_220.0);
        problem.margin = 10.0;
        let by_area = (3.0 * w * h / (2_420.0 * 1_200.0)).ceil() * 100.0;
        assert!(least_spend(&problem) >= by_area - 1e-6, "{w} x {h}");
    }
}

#[test]
fn the_saw_counts_kerf_and_trim() {
    // Three by two blanks of 100 x 80 with kerf 4 need 308 x 164 after a trim of 10 all round.
    let mut problem = sheets(rectangles(&[(100.0, 80.0, 13)]), 328.0, 184.0);
    let rules = SawRules {
        kerf: 4.0,
        trim: Trim {
            left: 10.0,
            right: 10.0,
            bottom: 10.0,
            top: 10.0,
        },
        ..SawRules::default()
    };
    problem.method = Method::Guillotine(rules);
    let truth = 6.0 * 8_000.0 / (328.0 * 184.0);
    assert!((yield_ceiling(&problem, 0) - truth).abs() < 1e-9);
    assert!((least_spend(&problem) - 300.0).abs() < 1e-6);
}

#[test]
fn parts_that_cannot_lie_there_do_not_count() {
    let mut parts = rectangles(&[(300.0, 200.0, 1), (900.0, 100.0, 4), (50.0, 50.0, 1)]);
    parts[2].good_faces = 2;
    let problem = sheets(parts, 400.0, 300.0);
    assert!((yield_ceiling(&problem, 0) - 0.5).abs() < 1e-9);
    assert!((least_spend(&problem) - 100.0).abs() < 1e-9);
    // Grain: as drawn the strip is along the sheet, but its grain would be across.
    let mut parts = rectangles(&[(300.0, 100.0, 1)]);
    parts[0].grain_deg = Some(90.0);
    let mut problem = sheets(parts, 400.0, 200.0);
    problem.stock[0].grain_deg = Some(0.0);
    assert_eq!(yield_ceiling(&problem, 0), 0.0);
    assert_eq!(least_spend(&problem), 0.0);
}

#[test]
fn windows_count_as_room_only_where_something_can_lie_in_them() {
    let mut frame = Outline::rectangle(100.0, 100.0);
    let window = Ring::rounded_rectangle(Point::new(10.0, 10.0), Point::new(90.0, 90.0), 0.0);
    frame.holes.push(window.oriented(false));
    let mut problem = sheets(vec![Part::new("frame", frame, 10)], 200.0, 100.0);
    // Two frames; none fits into another's window.
    let truth = 2.0 * 3_600.0 / 20_000.0;
    assert!((yield_ceiling(&problem, 0) - truth).abs() < 1e-9);
    problem.parts.extend(rectangles(&[(80.0, 80.0, 2)]));
    assert!((yield_ceiling(&problem, 0) - 1.0).abs() < 1e-9);
    problem.use_cutouts = false;
    assert!(yield_ceiling(&problem, 0) < 0.83);
}

#[test]
fn the_cheaper_stock_is_used_up_first() {
    // 10 plates of 100 x 100. A remnant that takes 2 for 5, sheets that take 4 for 40.
    let mut problem = sheets(rectangles(&[(100.0, 100.0, 10)]), 200.0, 200.0);
    problem.stock[0].cost = 40.0;
    problem.stock.push(Stock::remnant(
        "remnant",
        Polygon::rectangle(200.0, 100.0),
        5.0,
        1,
    ));
    problem.supplies.push(Some(1));
    assert!((least_spend(&problem) - 85.0).abs() < 1e-6);
    // Without the remnant the sheets are taken whole.
    problem.supplies[1] = Some(0);
    assert!((least_spend(&problem) - 120.0).abs() < 1e-6);
}

#[test]
fn parts_that_fit_one_kind_only_pay_for_it() {
    // Long strips fit the dear sheet only; the plates could go anywhere.
    let mut problem = sheets(
        rectangles(&[(900.0, 50.0, 1), (100.0, 100.0, 1)]),
        1_000.0,
        100.0,
    );
    problem
        .stock
        .push(Stock::sheet("small", 100.0, 100.0, 10.0, 1));
    problem.supplies.push(None);
    // One long sheet for the strip, and what is left of it does not take the plate beside it by
    // shape, though it does by area.
    assert!((least_spend(&problem) - 100.0).abs() < 1e-6);
    problem.parts[1].quantity = 7;
    assert!((least_spend(&problem) - 120.0).abs() < 1e-6);
}

#[test]
fn kept_offcuts_and_scrap_lower_and_raise_it() {
    // Half the sheet is needed, the other half kept at 60 % of its share.
    let mut problem = sheets(rectangles(&[(500.0, 500.0, 1)]), 1_000.0, 500.0);
    problem.stock[0].keep = KeepRule {
        least_width: 300.0,
        least_length: 400.0,
        value_per_area: 0.6 * 100.0 / 500_000.0,
        handling: 0.0,
        scrap_cost_per_area: 2e-5,
        ..KeepRule::default()
    };
    assert!((least_spend(&problem) - 70.0).abs() < 1e-6);
    // Too strict a rule keeps nothing and scraps the rest.
    problem.stock[0].keep.least_width = 501.0;
    assert!((least_spend(&problem) - 105.0).abs() < 1e-6);
    // A recycler that pays is not counted on more than the scrap there is.
    problem.stock[0].keep.scrap_cost_per_area = -2e-5;
    assert!((least_spend(&problem) - 95.0).abs() < 1e-6);
}

#[test]
fn panels_wider_than_half_the_sheet_take_one_each() {
    // By area two sheets would do for five.
    let mut problem = sheets(rectangles(&[(600.0, 600.0, 5)]), 1_000.0, 1_000.0);
    assert!((least_spend(&problem) - 500.0).abs() < 1e-6);
    // Of strips above a third two lie side by side: five need three sheets.
    problem.parts = rectangles(&[(990.0, 340.0, 5)]);
    assert!((least_spend(&problem) - 300.0).abs() < 1e-6);
    // A hair below half they go four to a sheet, gap and margin included.
    problem.parts = rectangles(&[(487.0, 487.0, 8)]);
    (problem.gap, problem.margin) = (6.0, 10.0);
    assert!((least_spend(&problem) - 200.0).abs() < 1e-6);
    problem.parts = rectangles(&[(489.0, 489.0, 8)]);
    assert!((least_spend(&problem) - 800.0).abs() < 1e-6);
}

/// A layout made of shelves: rows of parts from the left, one row above the other.
fn shelves(problem: &Problem, stock: usize, order: &[usize]) -> Layout {
    let field = problem.stock[stock].outline.bounds().grown(-problem.margin);
    let (mut x, mut y, mut top) = (field.min.x, field.min.y, field.min.y);
    let mut placed = Vec::new();
    for &part in order {
        let b = problem.parts[part].outline.bounds();
        if x + b.width() > field.max.x {
            (x, y) = (field.min.x, top + problem.gap);
        }
        if x + b.width() > field.max.x || y + b.height() > field.max.y {
            continue;
        }
        let origin = Point::new(x - b.min.x, y - b.min.y);
        placed.push(PlacedPart {
            part,
            placement: Placement::new(0.0, origin),
        });
        top = top.max(y + b.height());
        x += b.width() + problem.gap;
    }
    Layout {
        stock,
        placed,
        saw_cuts: Vec::new(),
        offcuts: Vec::new(),
    }
}

/// Plates, discs and frames, some on sheets, some on a remnant, with all the rules.
fn orders() -> impl Strategy<Value = (Problem, Vec<usize>)> {
    let part = (
        20.0f64..150.0,
        20.0f64..150.0,
        0u8..3,
        1u32..6,
        any::<bool>(),
    );
    let rules = (
        0.0f64..8.0,
        0.0f64..12.0,
        any::<bool>(),
        0.0f64..1.2,
        -2e-5f64..4e-5,
        40.0f64..200.0,
        any::<bool>(),
    );
    (proptest::collection::vec(part, 1..7), rules, any::<u64>()).prop_map(|(parts, rules, seed)| {
        let parts: Vec<Part> = parts
            .into_iter()
            .enumerate()
            .map(|(i, (w, h, shape, n, free))| {
                let outline = match shape {
                    0 => Outline::rectangle(w, h),
                    1 => {
                        Outline::from_rings(Ring::circle(Point::new(3.0, 4.0), 0.4 * w), Vec::new())
                    }
                    _ => {
                        let mut o = Outline::rectangle(w, h);
                        o.holes.push(
                            Ring::circle(Point::new(0.5 * w, 0.5 * h), 0.3 * w.min(h)).reversed(),
                        );
                        o
                    }
                };
                let mut part = Part::new(format!("part {i}"), outline, n);
                if free {
                    part.turn = crate::Turn::Free;
                }
                part
            })
            .collect();
        let (gap, margin, use_cutouts, worth, scrap, least, saw) = rules;
        let keep = |cost: f64, area: f64| KeepRule {
            least_width: least,
            least_length: 1.5 * least,
            value_per_area: worth * cost / area,
            handling: 0.0,
            scrap_cost_per_area: scrap,
            ..KeepRule::default()
        };
        let mut sheet = Stock::sheet("sheet", 500.0, 300.0, 30.0, 0);
        sheet.keep = keep(30.0, 150_000.0);
        let mut remnant = Stock::remnant("remnant", Polygon::rectangle(300.0, 200.0), 4.0, 1);
        remnant.keep = keep(4.0, 60_000.0);
        let mut order: Vec<usize> = parts
            .iter()
            .enumerate()
            .flat_map(|(p, part)| vec![p; part.quantity as usize])
            .collect();
        let mut state = seed | 1;
        for i in (1..order.len()).rev() {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1);
            order.swap(i, (state >> 33) as usize % (i + 1));
        }
        let mut problem = Problem::new(parts, vec![sheet, remnant], vec![None, Some(1)]);
        (problem.gap, problem.margin, problem.use_cutouts) = (gap, margin, use_cutouts);
        if saw {
            // Shelves are what a saw frees in three stages, with the gap as kerf. Only sheets are
            // trimmed, so the remnant has as much room as can be.
            let edge = margin.max(gap);
            problem.margin = edge;
            problem.method = Method::Guillotine(SawRules {
                kerf: gap,
                trim: Trim {
                    left: edge,
                    right: edge,
                    bottom: edge,
                    top: edge,
                },
                ..SawRules::default()
            });
        }
        (problem, order)
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    #[test]
    fn no_layout_by_shelves_beats_the_bounds((problem, mut order) in orders()) {
        let mut spend = 0.0;
        let (mut placed, mut net) = (0.0, 0.0);
        let mut stock = 1;
        while !order.is_empty() {
            let mut layout = shelves(&problem, stock, &order);
            let used: Vec<usize> = layout.placed.iter().map(|p| p.part).collect();
            if used.is_empty() && stock == 0 {
                break;
            }
            for part in &used {
                let at = order.iter().position(|p| p == part).unwrap();
                order.remove(at);
            }
            if !used.is_empty() {
                let ceiling = yield_ceiling(&problem, stock);
                let truth = layout.part_area(&problem) / problem.stock[stock].outline.area();
                prop_assert!(truth <= ceiling + 1e-9, "{truth} beats {ceiling}");
                layout.offcuts = find_offcuts(&problem, &layout);
                placed += layout.part_area(&problem);
                net += problem.stock[stock].outline.area() - layout.kept_area();
                spend += spend_of(&problem, &layout);
            }
            stock = 0;
        }
        if order.is_empty() {
            let least = least_spend(&problem);
            prop_assert!(spend >= least - 1e-6, "{spend} beats {least}");
            let (truth, ceiling) = (placed / net, net_yield_ceiling(&problem));
            prop_assert!(truth <= ceiling + 1e-9, "net {truth} beats {ceiling}");
        }
    }
}

#[test]
fn an_empty_problem_costs_nothing() {
    let problem = sheets(Vec::new(), 100.0, 100.0);
    assert_eq!(least_spend(&problem), 0.0);
    assert_eq!(yield_ceiling(&problem, 0), 0.0);
    let nothing = Problem::new(rectangles(&[(10.0, 10.0, 1)]), Vec::new(), Vec::new());
    assert_eq!(least_spend(&nothing), 0.0);
}

#[test]
fn windows_hold_no_more_than_they_can() {
    // Frames 300 x 300 with a window of 200 x 200, three to the sheet of 300 x 900.
    let mut frame = Outline::rectangle(300.0, 300.0);
    let window = Ring::rounded_rectangle(Point::new(50.0, 50.0), Point::new(250.0, 250.0), 0.0);
    frame.holes.push(window.reversed());
    let order = |plates: &[(f64, f64, u32)]| {
        let mut parts = vec![Part::new("frame", frame.clone(), 12)];
        parts.extend(rectangles(plates));
        sheets(parts, 900.0, 300.0)
    };
    // One plate to a window, not the two that its area is good for: beside four sheets of frames a
    // dozen plates are left for a fifth.
    let problem = order(&[(140.0, 140.0, 24)]);
    assert!((least_spend(&problem) - 500.0).abs() < 1e-6);
    // Plates that fill a window take no room, but those too large for one do.
    let problem = order(&[(200.0, 200.0, 12)]);
    assert!((least_spend(&problem) - 400.0).abs() < 1e-6);
    let problem = order(&[(201.0, 201.0, 12)]);
    assert!((least_spend(&problem) - 700.0).abs() < 1e-6);
    // Where nothing may be set in, windows are no room.
    let mut problem = order(&[(200.0, 200.0, 12)]);
    problem.use_cutouts = false;
    assert!((least_spend(&problem) - 700.0).abs() < 1e-6);
}

#[test]
fn parts_that_fit_no_remnant_are_told_by_what_is_inside_them() {
    // By its bounds the plate fits the L, but nothing as wide as it does.
    let mut problem = sheets(rectangles(&[(600.0, 400.0, 1)]), 1_000.0, 500.0);
    let l = [
        (0.0, 0.0),
        (900.0, 0.0),
        (900.0, 300.0),
        (300.0, 300.0),
        (300.0, 900.0),
        (0.0, 900.0),
    ];
    let outline = Polygon::new(
        l.iter().map(|&(x, y)| Point::new(x, y)).collect(),
        Vec::new(),
    );
    problem.stock.push(Stock::remnant("l", outline, 5.0, 1));
    problem.supplies.push(Some(1));
    assert!((least_spend(&problem) - 100.0).abs() < 1e-6);
    assert_eq!(yield_ceiling(&problem, 1), 0.0);
    problem.parts = rectangles(&[(600.0, 300.0, 1)]);
    assert!((least_spend(&problem) - 5.0).abs() < 1e-6);
}

#[test]
fn short_stock_is_not_bounded_by_more_than_all_of_it() {
    for quantity in [10, 100, 1_000] {
        let parts = vec![Part::new(
            "plate",
            Outline::rectangle(300.0, 200.0),
            quantity,
        )];
        let sheet = Stock::sheet("sheet", 1_000.0, 600.0, 40.0, 0);
        let free = Problem::new(parts, vec![sheet], vec![Some(1)]);
        let sawn = Problem {
            method: Method::Guillotine(SawRules {
                kerf: 4.0,
                ..SawRules::default()
            }),
            ..free.clone()
        };
        for problem in [free, sawn] {
            assert_eq!(least_spend(&problem), 40.0, "{quantity}");
        }
    }
}

#[test]
fn what_lies_beside_a_gap_is_not_kept() {
    // The part takes half the sheet; of the rest a strip as wide as half the gap is surely lost.
    let mut problem = sheets(rectangles(&[(480.0, 480.0, 1)]), 1_000.0, 500.0);
    (problem.gap, problem.margin) = (8.0, 10.0);
    problem.stock[0].keep = KeepRule {
        least_width: 100.0,
        least_length: 200.0,
        value_per_area: 1e-4,
        handling: 2.0,
        scrap_cost_per_area: 0.0,
        ..KeepRule::default()
    };
    let kept = 1e-4 * (500_000.0 - 488.0 * 488.0) - 2.0;
    let least = least_spend(&problem);
    // In the best layout the part lies at one end: 1000 - 498 by 500 are left.
    let truth = 100.0 - (1e-4 * 502.0 * 500.0 - 2.0);
    assert!(
        least >= 100.0 - kept - 0.01 && least <= truth + 1e-6,
        "{least}"
    );
    assert!(net_yield_ceiling(&problem) < 0.9676);
}

/// Orders that try the bounds where they are most clever: frames and what fits into them, remnants with
/// voids, margins below half the gap, recyclers that pay.
fn clever_orders() -> impl Strategy<Value = Problem> {
    let frame = (60.0f64..180.0, 60.0f64..180.0, 0.4f64..0.9, 1u32..4);
    let plate = (15.0f64..110.0, 15.0f64..110.0, 1u32..8, 0u8..3);
    let rules = (
        prop_oneof![Just(0.0), 0.0f64..8.0],
        prop_oneof![Just(0.0), 0.0f64..12.0],
        any::<bool>(),
        0.0f64..1.2,
        prop_oneof![Just(0.0), -2e-5f64..4e-5],
        30.0f64..150.0,
        prop_oneof![Just(0.0), 0.0f64..6.0],
    );
    let frames = proptest::collection::vec(frame, 0..4);
    let plates = proptest::collection::vec(plate, 1..5);
    (frames, plates, rules).prop_map(|(frames, plates, rules)| {
        let mut parts = Vec::new();
        for (w, h, share, n) in frames {
            let mut frame = Outline::rectangle(w, h);
            let (x, y) = (0.5 * (1.0 - share) * w, 0.5 * (1.0 - share) * h);
            let window = Ring::rounded_rectangle(Point::new(x, y), Point::new(w - x, h - y), 0.0);
            frame.holes.push(window.reversed());
            parts.push(Part::new("frame", frame, n));
        }
        for (w, h, n, shape) in plates {
            let outline = match shape {
                0 => Outline::rectangle(w, h),
                1 => Outline::from_rings(Ring::circle(Point::new(0.0, 0.0), 0.5 * w), Vec::new()),
                _ => Outline::polygon([
                    Point::new(0.0, 0.0),
                    Point::new(w, 0.0),
                    Point::new(0.2 * w, 0.3 * h),
                    Point::new(0.0, h),
                ]),
            };
            let mut part = Part::new("plate", outline, n);
            if shape == 2 && n > 4 {
                part.turn = crate::Turn::Free;
            }
            parts.push(part);
        }
        let (gap, margin, use_cutouts, worth, scrap, least, handling) = rules;
        let keep = |cost: f64, area: f64| KeepRule {
            least_width: least,
            least_length: 1.5 * least,
            value_per_area: worth * cost / area,
            handling,
            scrap_cost_per_area: scrap,
            ..KeepRule::default()
        };
        let mut sheet = Stock::sheet("sheet", 400.0, 300.0, 30.0, 0);
        sheet.keep = keep(30.0, 120_000.0);
        let void = Bounds::new(Point::new(100.0, 80.0), Point::new(130.0, 120.0));
        let outline = Polygon::new(
            Polygon::rectangle(250.0, 220.0).outer,
            vec![void.corners().to_vec()],
        );
        let mut remnant = Stock::remnant("remnant", outline, 4.0, 1);
        remnant.keep = keep(4.0, 53_800.0);
        let mut problem = Problem::new(parts, vec![sheet, remnant], vec![None, Some(1)]);
        (problem.gap, problem.margin, problem.use_cutouts) = (gap, margin, use_cutouts);
        problem
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn no_nest_that_the_search_finds_beats_the_bounds(problem in clever_orders()) {
        let budget = crate::Budget { seed: 1, steps: 40_000, limit: None };
        let nest = crate::nest(&problem, &budget, &crate::Control::none()).unwrap();
        let ceilings = yield_ceilings(&problem);
        let (mut placed, mut net) = (0.0, 0.0);
        for layout in &nest.layouts {
            let whole = problem.stock[layout.stock].outline.area();
            let truth = layout.part_area(&problem) / whole;
            prop_assert!(truth <= ceilings[layout.stock] + 1e-9, "{truth} {ceilings:?}");
            placed += layout.part_area(&problem);
            net += whole - layout.kept_area();
        }
        if nest.not_placed.is_empty() {
            let (spend, least) = (nest.spend(&problem), least_spend(&problem));
            prop_assert!(spend >= least - 1e-6, "{spend} beats {least}");
            let (truth, ceiling) = (placed / net, net_yield_ceiling(&problem));
            prop_assert!(truth <= ceiling + 1e-9, "net {truth} beats {ceiling}");
        }
    }
}

//! Pinned parts, areas that a machine needs free, and nests taken up again.

use super::*;
use crate::{
    Budget, Control, KeepRule, NestError, Part, SawRules, Stock, least_spend, nest, nest_from,
};
use panelwright_geometry::{Bounds, Outline, Placement, Point, Polygon, Ring, clearance};
use proptest::prelude::*;

fn budget(steps: u64) -> Budget {
    Budget {
        steps,
        ..Budget::default()
    }
}

fn at(part: usize, angle: f64, x: f64, y: f64) -> PlacedPart {
    PlacedPart {
        part,
        placement: Placement::new(angle, Point::new(x, y)),
    }
}

fn square(x: f64, y: f64, side: f64) -> Vec<Point> {
    Bounds::new(Point::new(x, y), Point::new(x + side, y + side))
        .corners()
        .to_vec()
}

/// A 1000 x 600 sheet that keeps 150 x 200 at half its price.
fn sheet(supply: usize) -> Stock {
    Stock {
        keep: KeepRule {
            least_width: 150.0,
            least_length: 200.0,
            value_per_area: 0.5 * 60.0 / 600_000.0,
            handling: 0.0,
            scrap_cost_per_area: 1e-6,
            ..KeepRule::default()
        },
        ..Stock::sheet("sheet", 1_000.0, 600.0, 60.0, supply)
    }
}

/// Frames with a window, plates that fit into it, and triangles.
fn parts() -> Vec<Part> {
    let hole = Ring::rounded_rectangle(Point::new(40.0, 40.0), Point::new(260.0, 160.0), 8.0);
    let outer = Ring::rounded_rectangle(Point::default(), Point::new(300.0, 200.0), 5.0);
    let triangle = [(0.0, 0.0), (160.0, 0.0), (50.0, 120.0)];
    vec![
        Part::new("frame", Outline::from_rings(outer, vec![hole]), 4),
        Part::new("plate", Outline::rectangle(90.0, 60.0), 9),
        Part::new(
            "triangle",
            Outline::polygon(triangle.map(|(x, y)| Point::new(x, y))),
            5,
        ),
    ]
}

/// Free sheets, and one of its own with `pinned` on it.
fn with_pinned(pinned: Vec<PlacedPart>) -> Problem {
    let own = Stock {
        name: "held".into(),
        pinned,
        ..sheet(1)
    };
    Problem {
        gap: 6.0,
        margin: 10.0,
        kerf: 3.0,
        ..Problem::new(parts(), vec![sheet(0), own], vec![None, Some(1)])
    }
}

fn has(nest: &Nest, stock: usize, placed: &PlacedPart) -> bool {
    let mut layouts = nest.layouts.iter().filter(|l| l.stock == stock);
    layouts.any(|l| l.placed.contains(placed))
}

/// The least distance of two outlines, measured by the geometry crate: the searches have their own.
fn apart(problem: &Problem, layout: &Layout) -> f64 {
    let drawn = layout.placed.iter().map(|p| p.outline(problem));
    let outlines: Vec<Polygon> = drawn.map(|o| o.covering()).collect();
    let mut least = f64::INFINITY;
    for (i, a) in outlines.iter().enumerate() {
        for b in &outlines[..i] {
            least = least.min(clearance(a, b));
        }
    }
    least
}

#[test]
fn pinned_parts_stay_and_the_rest_goes_round_them() {
    // In the middle, at an angle, and one in the window of a frame that is pinned as well.
    let pinned = vec![
        at(0, 0.0, 333.25, 211.5),
        at(1, 0.0, 400.0, 270.0),
        at(2, 90.0, 990.0, 10.0),
    ];
    let problem = with_pinned(pinned.clone());
    let nest = nest(&problem, &budget(60_000), &Control::none()).expect("a sound problem");
    assert!(nest.not_placed.is_empty(), "{:?}", nest.not_placed);
    for part in &pinned {
        assert!(has(&nest, 1, part), "{part:?}");
    }
    let held = nest.layouts.iter().find(|l| l.stock == 1).expect("taken");
    assert!(held.placed.len() > 3, "others lie beside them");
    for layout in &nest.layouts {
        assert!(apart(&problem, layout) > 6.0 - 1e-4);
    }
    let spend = nest.spend(&problem);
    let least = least_spend(&problem);
    assert!(least <= spend, "{least} {spend}");
    // The piece with the pinned parts is paid whatever else is: half of the most it could leave
    // is all that can come back.
    assert!(least > 30.0, "{least}");
}

#[test]
fn a_pinned_frame_takes_parts_into_its_window() {
    let mut problem = with_pinned(vec![at(0, 0.0, 10.0, 10.0)]);
    problem.parts[0].quantity = 1;
    problem.parts[1].quantity = 1;
    problem.parts.truncate(2);
    // No other stock, and clear of all but the window.
    problem.stock[0].cost = 1e6;
    problem.stock[1].zones = vec![
        vec![
            Point::new(330.0, 0.0),
            Point::new(1_000.0, 0.0),
            Point::new(1_000.0, 600.0),
            Point::new(330.0, 600.0),
        ],
        square(0.0, 230.0, 340.0),
    ];
    let nest = nest(&problem, &budget(2_000), &Control::none()).expect("a sound problem");
    assert_eq!(nest.layouts.len(), 1);
    assert_eq!(nest.layouts[0].placed.len(), 2);
    let plate = nest.layouts[0].placed[1].outline(&problem).bounds();
    assert!(Bounds::new(Point::new(50.0, 50.0), Point::new(270.0, 170.0)).contains(&plate));
}

#[test]
fn everything_pinned_is_a_whole_nest() {
    let mut problem = with_pinned(vec![at(1, 0.0, 100.0, 100.0), at(1, 90.0, 400.0, 300.0)]);
    problem.parts[1].quantity = 2;
    problem.parts[0].quantity = 1;
    problem.parts[0].outline = Outline::rectangle(2_000.0, 10.0);
    problem.parts.truncate(2);
    let found = nest(&problem, &budget(2_000), &Control::none()).expect("a sound problem");
    assert_eq!(found.layouts.len(), 1);
    assert_eq!(found.not_placed[0].part, 0);
    problem.parts[0] = problem.parts[1].clone();
    problem.parts[0].quantity = 1;
    problem.stock[1].pinned.push(at(0, 0.0, 700.0, 30.0));
    let found = nest(&problem, &budget(2_000), &Control::none()).expect("a sound problem");
    assert_eq!(found.layouts[0].placed.len(), 3);
    assert!(found.layouts[0].offcuts.iter().any(|o| o.kept));
}

#[test]
fn what_cannot_be_pinned_is_told_before_the_search() {
    let reason = |problem: &Problem| match nest(problem, &budget(1), &Control::none()) {
        Err(NestError::BadPinned { part, reason, .. }) => format!("{part}: {reason}"),
        Err(NestError::BadPart { part, reason }) => format!("{part}: {reason}"),
        other => panic!("{other:?}"),
    };
    let of = |pinned| reason(&with_pinned(pinned));
    assert!(of(vec![at(1, 0.0, 9.0, 50.0)]).contains("from the edge"));
    assert!(of(vec![at(1, 0.0, -9.0, 50.0)]).contains("sticks out"));
    let close = vec![at(1, 0.0, 50.0, 50.0), at(1, 0.0, 145.9, 50.0)];
    assert!(of(close).contains("apart"));
    let over = vec![at(1, 0.0, 50.0, 50.0), at(1, 0.0, 60.0, 50.0)];
    assert!(of(over).contains("overlap"));
    assert!(of(vec![at(1, 30.0, 300.0, 300.0)]).contains("not allowed"));
    assert!(of(vec![at(7, 0.0, 300.0, 300.0)]).contains("no such part"));

    let good = with_pinned(vec![at(1, 0.0, 300.0, 300.0)]);
    let mut flawed = good.clone();
    flawed.stock[1].zones.push(square(320.0, 320.0, 5.0));
    assert!(reason(&flawed).contains("machine needs free"));
    let mut hollow = good.clone();
    hollow.stock[1]
        .outline
        .holes
        .push(square(395.0, 320.0, 5.0));
    assert!(reason(&hollow).contains("void"));
    let mut many = good.clone();
    many.parts[1].quantity = 0;
    assert!(many.check().is_err());
    many.parts[1].quantity = 1;
    many.stock[1].pinned.push(at(1, 0.0, 500.0, 300.0));
    assert!(reason(&many).contains("2 copies are pinned"));
    let mut shared = good.clone();
    shared.stock[0].supply = 1;
    assert!(reason(&shared).contains("one piece of its own"));
    let mut sawn = good.clone();
    sawn.method = Method::Guillotine(SawRules::default());
    assert!(reason(&sawn).contains("sawn"));
    let mut clamped = with_pinned(Vec::new());
    clamped.method = Method::Guillotine(SawRules::default());
    clamped.stock[0].zones.push(square(0.0, 0.0, 5.0));
    assert!(clamped.check().is_err());
}

#[test]
fn the_machine_keeps_its_zones_and_offcuts_may_have_them() {
    let mut problem = with_pinned(Vec::new());
    problem.stock.truncate(1);
    problem.supplies.truncate(1);
    // Half over the edge, one in the middle of what would be left.
    problem.stock[0].zones = vec![
        square(-20.0, -20.0, 60.0),
        square(480.0, 250.0, 30.0),
        square(900.0, 300.0, 20.0),
    ];
    problem.parts.truncate(2);
    problem.parts[0].quantity = 1;
    problem.parts[1].quantity = 4;
    let nest = nest(&problem, &budget(20_000), &Control::none()).expect("a sound problem");
    assert!(nest.not_placed.is_empty());
    for layout in &nest.layouts {
        for placed in &layout.placed {
            let part = placed.covering(&problem);
            for zone in &problem.stock[0].zones {
                let zone = Polygon::new(zone.clone(), Vec::new());
                assert!(clearance(&part, &zone) > 10.0 - 1e-4);
            }
        }
    }
    let zone = Polygon::new(problem.stock[0].zones[2].clone(), Vec::new()).bounds();
    let kept = nest.layouts[0].offcuts.iter().filter(|o| o.kept);
    assert!(
        kept.map(|o| o.outline.bounds()).any(|b| b.contains(&zone)),
        "the material under a clamp is sound"
    );
    // A flaw there is another matter.
    problem.stock[0].keep_clear = std::mem::take(&mut problem.stock[0].zones);
    let layout = Layout {
        offcuts: Vec::new(),
        ..nest.layouts[0].clone()
    };
    let kept = crate::find_offcuts(&problem, &layout);
    let mut kept = kept.iter().filter(|o| o.kept);
    assert!(!kept.any(|o| o.outline.bounds().contains(&zone)));
}

#[test]
fn a_nest_taken_up_again_is_the_same_or_better() {
    let problem = with_pinned(vec![at(2, 180.0, 500.0, 500.0)]);
    let first = nest(&problem, &budget(20_000), &Control::none()).expect("a sound problem");
    let mut spend = first.spend(&problem);
    let (stands, dropped) = standing(&problem, &first);
    assert_eq!(dropped, []);
    assert_eq!(stands.spend(&problem), spend);
    // What has pinned parts is in any start, also where nothing of the nest stands.
    let (stands, _) = standing(&problem, &Nest::default());
    assert_eq!(stands.layouts.len(), 1);
    assert_eq!(crate::verify::judge(&problem, &stands), []);
    let mut last = first;
    for (seed, steps) in [(1, 0), (2, 30_000), (3, 1), (1, 60_000)] {
        let budget = Budget {
            seed,
            ..budget(steps)
        };
        let again = nest_from(&problem, Some(&last), &budget, &Control::none());
        let again = again.expect("a sound problem");
        assert!(again.not_placed.is_empty());
        let now = again.spend(&problem);
        assert!(now <= spend, "{now} {spend}");
        spend = now;
        last = again;
    }
}

#[test]
fn what_no_longer_stands_is_dropped_and_nested_anew() {
    let problem = with_pinned(Vec::new());
    let first = nest(&problem, &budget(5_000), &Control::none()).expect("a sound problem");
    // One part of the first sheet pushed into another, a layout on stock that is not there, one
    // copy too many, and an index that is none.
    let mut spoilt = first.clone();
    let moved = spoilt.layouts[0].placed[0].placement;
    spoilt.layouts[0].placed[1].placement = moved;
    let extra = Layout {
        stock: 9,
        ..first.layouts[0].clone()
    };
    spoilt.layouts.push(extra);
    spoilt.layouts[0].placed.push(at(77, 0.0, 20.0, 20.0));
    let (stands, dropped) = standing(&problem, &spoilt);
    assert_eq!(dropped.len(), 2, "{dropped:?}");
    assert_eq!(dropped[0].layout, 0);
    assert!(dropped[0].parts.contains(&77) && dropped[0].parts.len() >= 2);
    assert!(!dropped[0].whole && dropped[1].whole);
    assert!(stands.layouts[0].placed.len() + 2 >= first.layouts[0].placed.len());
    let again = nest_from(&problem, Some(&spoilt), &budget(5_000), &Control::none());
    assert!(again.expect("a sound problem").not_placed.is_empty());
    // Fewer copies wanted: only those are taken off.
    let mut fewer = problem.clone();
    fewer.parts[1].quantity -= 2;
    let (_, dropped) = standing(&fewer, &first);
    let off: Vec<usize> = dropped.iter().flat_map(|d| d.parts.clone()).collect();
    assert_eq!(off, [1, 1]);
    assert!(dropped[0].why.contains("no more copies of 'plate'"));
}

#[test]
fn a_sawn_nest_is_kept_until_a_better_one_is_found() {
    let rules = SawRules {
        kerf: 3.2,
        stages: Some(3),
        ..SawRules::default()
    };
    let sizes = [(310.0, 190.0, 7), (150.0, 140.0, 9), (420.0, 80.0, 6)];
    let parts = sizes.map(|(l, w, n)| Part::new("board", Outline::rectangle(l, w), n));
    let problem = Problem {
        method: Method::Guillotine(rules),
        ..Problem::new(parts.to_vec(), vec![sheet(0)], vec![None])
    };
    let long = nest(&problem, &budget(200_000), &Control::none()).expect("a sound problem");
    let short = nest_from(&problem, Some(&long), &budget(0), &Control::none());
    let short = short.expect("a sound problem");
    let slack = 1e-9 * long.spend(&problem);
    assert!(short.spend(&problem) <= long.spend(&problem) + slack);
    // It goes on from there: what it found with much work it does not find with little.
    let little = nest(&problem, &budget(100), &Control::none()).expect("a sound problem");
    assert!(little.spend(&problem) > long.spend(&problem) + slack);
    let found = crate::guillotine::search_from(
        &problem,
        &rules,
        Some(&long),
        &budget(100),
        &Control::none(),
    );
    assert!(found.spend(&problem) <= long.spend(&problem) + slack);
    // A sheet with one part moved is no longer what its cuts free.
    let mut spoilt = long.clone();
    spoilt.layouts[0].placed[0].placement.origin.x += 1.0;
    let (stands, dropped) = standing(&problem, &spoilt);
    assert!(dropped[0].whole && dropped[0].layout == 0);
    assert_eq!(stands.layouts.len(), long.layouts.len() - 1);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]
    /// As a person would: some parts of a found nest pinned, everything nested again.
    #[test]
    fn any_parts_of_a_nest_may_be_pinned(seed in 0_u64..1_000, every in 1_usize..5, steps in 0_u64..4_000) {
        let free = with_pinned(Vec::new());
        let budget = Budget { seed, ..budget(2_000) };
        let first = nest(&free, &budget, &Control::none()).expect("a sound problem");
        let pinned: Vec<PlacedPart> = first.layouts[0].placed.iter().step_by(every).cloned().collect();
        let problem = with_pinned(pinned.clone());
        let mut given = first.clone();
        given.layouts[0].stock = 1;
        let budget = Budget { steps, ..budget };
        let start = (seed % 2 == 0).then_some(&given);
        let again = nest_from(&problem, start, &budget, &Control::none());
        let again = again.expect("judged");
        for part in &pinned {
            prop_assert!(has(&again, 1, part));
        }
        prop_assert!(again.not_placed.is_empty());
        if start.is_some() {
            prop_assert!(again.spend(&problem) <= first.spend(&free) * (1.0 + 1e-9));
        }
        prop_assert!(least_spend(&problem) <= again.spend(&problem) * (1.0 + 1e-9));
    }
}

//! Random orders and remnants: whatever is planned, the judge passes it.

use super::enumerate::{Kind, Sawn};
use super::*;
use rand::SeedableRng;
use rand_pcg::Pcg64Mcg;
use ruin::below;
use std::collections::BTreeSet;

/// A nest read back as a plan is the same plan, or a cheaper one.
fn taken_up_again(p: &Problem, rules: &SawRules, nest: &Nest) {
    let model = Model::new(p, rules);
    let plan = taken_up::plan_of(&model, nest).expect("its own nest");
    let score = plan.score(&model);
    let control = Control::none();
    let stop = Stop::new(&control, &steps(0));
    let watch = Watch {
        model: &model,
        control: &control,
        stop: &stop,
        least: 0.0,
    };
    let spend = score.spend - watch.parts_scrap(&plan);
    assert!(spend <= nest.spend(p) + 1e-6, "{spend} {}", nest.spend(p));
    let again = super::nest(&model, &plan);
    assert_eq!(crate::verify::judge(p, &again), Vec::new());
    assert_eq!(again.placed_counts(p), nest.placed_counts(p));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(100))]

    #[test]
    fn any_remnant_can_be_sawn(
        corners in proptest::collection::vec((0.55..1.0_f64, 0.0..0.9_f64), 4..9),
        void in proptest::option::of((0.3..0.7_f64, 20.0..200.0_f64)),
        flaw in proptest::option::of((0.0..1.0_f64, 20.0..300.0_f64)),
        kerf in prop_oneof![Just(0.0), Just(3.2), 0.5..6.0_f64],
        margin in prop_oneof![Just(0.0), 0.5..20.0_f64],
        upright in proptest::bool::ANY,
        seed in 0..1000_u64,
    ) {
        // A star-shaped ring round (800, 600): crooked, or with upright edges only.
        let n = corners.len() as f64;
        let mut ring: Vec<Point> = corners.iter().enumerate().map(|(i, (reach, shift))| {
            let angle = (i as f64 + shift) / n * std::f64::consts::TAU;
            Point::new(800.0 * (1.0 + reach * angle.cos()), 600.0 * (1.0 + reach * angle.sin()))
        }).collect();
        if upright {
            let cut = Point::new(1600.0 * corners[0].0, 1200.0 * corners[1].0);
            ring = vec![
                Point::new(0.0, 0.0), Point::new(1600.0, 0.0), Point::new(1600.0, cut.y),
                Point::new(cut.x, cut.y), Point::new(cut.x, 1200.0), Point::new(0.0, 1200.0),
            ];
        }
        let square = |at: f64, side: f64| {
            let low = Point::new(1600.0 * at - 0.5 * side, 1200.0 * at - 0.5 * side);
            Bounds::new(low, Point::new(low.x + side, low.y + side)).corners().to_vec()
        };
        let outer = Polygon::new(ring.clone(), Vec::new()).to_geo();
        let inside = |hole: &Vec<Point>| {
            geo::Contains::contains(&outer, &Polygon::new(hole.clone(), Vec::new()).to_geo())
        };
        let holes = void.map(|(at, side)| square(at, 0.5 * side)).into_iter().filter(inside).collect();
        let rules = SawRules { kerf, ..SawRules::default() };
        let parts = vec![rect("a", 310.0, 170.0, 3), rect("b", 90.0, 60.0, 9), rect("c", 700.0, 40.0, 2)];
        let mut p = problem(parts, (10.0, 10.0), Some(1), rules);
        p.stock[0] = Stock::remnant("remnant", Polygon::new(ring, holes), 20.0, 0);
        p.stock[0].keep_clear.extend(flaw.map(|(at, side)| square(at, side)));
        p.stock[0].keep = KeepRule {
            least_width: 100.0,
            least_length: 200.0,
            value_per_area: 1e-5,
            handling: 0.0,
            scrap_cost_per_area: 1e-6,
            ..KeepRule::default()
        };
        p.margin = margin;
        let budget = Budget { seed, steps: 1000, limit: None };
        let nest = search(&p, &rules, &budget, &Control::none());
        prop_assert_eq!(crate::verify::judge(&p, &nest), Vec::new());
        prop_assert!(nest.layouts.len() <= 1);
        taken_up_again(&p, &rules, &nest);
    }

    #[test]
    fn any_order_can_be_sawn(
        sizes in proptest::collection::vec((20.0..900.0_f64, 20.0..900.0_f64, 1..5_u32, 0..3_u8), 1..14),
        kerf in prop_oneof![Just(0.0), 0.5..6.0_f64],
        trim in prop_oneof![Just(0.0), 6.0..20.0_f64],
        stages in prop_oneof![Just(None), (2..5_u32).prop_map(Some)],
        first in 0..3_u8,
        limited in proptest::bool::ANY,
        supply in prop_oneof![Just(None), (1..3_u32).prop_map(Some)],
        seed in 0..1000_u64,
    ) {
        let parts = sizes.iter().enumerate().map(|(i, (w, h, n, turn))| {
            let mut part = rect(&format!("part {i}"), *w, *h, *n);
            part.turn = [Turn::None, Turn::Half, Turn::Quarter][usize::from(*turn)];
            part
        }).collect();
        let rules = SawRules {
            kerf,
            trim: Trim { left: trim, right: 0.0, bottom: trim, top: trim },
            stages,
            first_cut: [FirstCut::Along, FirstCut::Across, FirstCut::Either][usize::from(first)],
            longest_rip: if limited { 1300.0 } else { f64::INFINITY },
            longest_crosscut: f64::INFINITY,
            least_strip: 0.0,
        };
        let mut p = problem(parts, (1830.0, 1220.0), supply, rules);
        p.stock[0].keep = KeepRule {
            least_width: 150.0,
            least_length: 300.0,
            value_per_area: 1e-5,
            handling: 0.0,
            scrap_cost_per_area: 1e-6,
            ..KeepRule::default()
        };
        let budget = Budget { seed, steps: 4000, limit: None };
        let nest = search(&p, &rules, &budget, &Control::none());
        for layout in &nest.layouts {
            replay(&p, &rules, layout);
            // None is left out but the first, where the saw has to begin the other way.
            let stages: BTreeSet<u32> = layout.saw_cuts.iter().map(|c| c.stage).filter(|s| *s > 0).collect();
            let first = stages.first().copied().unwrap_or(1);
            prop_assert!(first == 1 || first == 2 && rules.first_cut != FirstCut::Either);
            prop_assert!(stages.iter().copied().eq(first..first + stages.len() as u32), "{stages:?}");
        }
        prop_assert_eq!(crate::verify::judge(&p, &nest), Vec::new());
        let mut counts = nest.placed_counts(&p);
        for missing in &nest.not_placed {
            counts[missing.part] += missing.quantity;
        }
        let wanted: Vec<u32> = p.parts.iter().map(|p| p.quantity).collect();
        prop_assert_eq!(counts, wanted);
        taken_up_again(&p, &rules, &nest);
        // What the search believes a layout costs is what it does cost.
        let model = Model::new(&p, &rules);
        let control = Control::none();
        let stop = Stop::new(&control, &budget);
        let (plan, score, _) = first_plan(&model, 1, &stop);
        let watch = Watch { model: &model, control: &control, stop: &stop, least: 0.0 };
        let parts_scrap = watch.parts_scrap(&plan);
        let nest = super::nest(&model, &plan);
        prop_assert!((nest.spend(&p) + parts_scrap - score.spend).abs() < 1e-6);
        let cuts = nest.layouts.iter().flat_map(|l| &l.saw_cuts).filter(|c| c.stage > 0);
        let length: f64 = cuts.map(|c| c.from.distance(c.to)).sum();
        prop_assert!((length - length::mm(score.cutting)).abs() < 1e-3, "{length}");
    }
}

#[test]
fn a_strip_that_is_only_trimmed_is_taken_up_again() {
    // Found by the random cases: a strip of the second stage that is cut to its width and then
    // divided across.
    let sizes = [(20.0, 20.0), (385.25, 20.0), (20.0, 729.3), (20.0, 95.4)];
    let quantities = [2, 1, 2, 2];
    let parts = sizes.iter().zip(quantities).map(|((w, h), n)| Part {
        turn: Turn::None,
        ..rect("part", *w, *h, n)
    });
    let rules = SawRules {
        first_cut: FirstCut::Across,
        longest_rip: 1300.0,
        ..SawRules::default()
    };
    let p = problem(parts.collect(), (1830.0, 1220.0), None, rules);
    let nest = search(&p, &rules, &steps(4000), &Control::none());
    taken_up_again(&p, &rules, &nest);
}

#[test]
fn strips_of_a_piece_cut_to_size_before_are_taken_up_again() {
    // Found by the random cases: three strips of a piece that was cut off first, and across. Divided
    // from edge to edge of the sheet, the same parts leave less that is worth keeping.
    let sizes = [
        (189.9029696252858, 476.72647726134846),
        (20.0, 523.9222790346636),
    ];
    let parts = sizes.iter().enumerate().map(|(i, (w, h))| Part {
        turn: Turn::None,
        ..rect(&format!("part {i}"), *w, *h, 2)
    });
    let rules = SawRules {
        first_cut: FirstCut::Across,
        longest_rip: 1300.0,
        ..SawRules::default()
    };
    let mut p = problem(parts.collect(), (1830.0, 1220.0), None, rules);
    p.stock[0].keep = KeepRule {
        least_width: 150.0,
        least_length: 300.0,
        value_per_area: 1e-5,
        scrap_cost_per_area: 1e-6,
        ..KeepRule::default()
    };
    let nest = search(&p, &rules, &steps(4000), &Control::none());
    assert!(nest.layouts[0].saw_cuts.iter().any(|c| c.stage == 3));
    taken_up_again(&p, &rules, &nest);
}

/// Plans `cases` random small orders under random rules; each plan is replayed and judged.
fn plan_small_orders(cases: u32, seed: u64) {
    let mut rng = Pcg64Mcg::seed_from_u64(seed);
    let mut draw = |low: usize, high: usize| low + below(&mut rng, high - low + 1);
    for _ in 0..cases {
        // Coarse sides meet exactly, fine ones hardly ever.
        let unit = [50.0, 10.0, 0.1][draw(0, 2)];
        let mut side = |low: f64, high: f64| {
            let steps = ((high - low) / unit) as usize;
            low + unit * draw(0, steps) as f64
        };
        let sizes: Vec<(f64, f64)> = (0..8)
            .map(|_| (side(50.0, 900.0), side(50.0, 600.0)))
            .collect();
        let kinds = draw(1, 8);
        let parts = sizes[..kinds].iter().enumerate().map(|(i, (w, h))| Part {
            turn: [Turn::None, Turn::Half, Turn::Quarter][draw(0, 2)],
            ..rect(&format!("part {i}"), *w, *h, draw(1, 4) as u32)
        });
        let parts = parts.collect();
        let trim = [0.0, 8.0][draw(0, 1)];
        let rules = SawRules {
            kerf: [0.0, 3.2, 5.0][draw(0, 2)],
            trim: Trim {
                left: trim,
                right: 0.0,
                bottom: trim,
                top: 0.0,
            },
            stages: [None, Some(2), Some(3), Some(4)][draw(0, 3)],
            first_cut: [FirstCut::Along, FirstCut::Across, FirstCut::Either][draw(0, 2)],
            longest_rip: [f64::INFINITY, 1500.0][usize::from(draw(0, 3) == 0)],
            longest_crosscut: [f64::INFINITY, 1100.0][usize::from(draw(0, 3) == 0)],
            least_strip: [0.0, 60.0][usize::from(draw(0, 3) == 0)],
        };
        let mut p = problem(parts, (1000.0, 600.0), [None, Some(1)][draw(0, 1)], rules);
        p.stock.push(Stock::sheet(
            "large",
            2000.0,
            1200.0,
            150.0 + draw(0, 300) as f64,
            1,
        ));
        p.supplies.push([None, Some(2)][draw(0, 1)]);
        if draw(0, 1) == 0 {
            for stock in &mut p.stock {
                stock.keep = KeepRule {
                    least_width: 150.0,
                    least_length: 300.0,
                    value_per_area: 1e-4,
                    handling: 1.0,
                    scrap_cost_per_area: 1e-6,
                    ..KeepRule::default()
                };
            }
        }
        let nest = solve(&p, 500);
        let least = crate::least_spend(&p);
        let complete = nest.not_placed.is_empty();
        assert!(
            !complete || nest.spend(&p) >= least - 1e-6,
            "{least} is no floor: {p:?}"
        );
    }
}

#[test]
fn small_orders_are_replayed() {
    plan_small_orders(400, 1);
}

#[test]
#[ignore = "minutes, and all tests have five: 400 cases run every time"]
fn ten_thousand_small_orders_are_replayed() {
    plan_small_orders(10_000, 2);
}

/// Compares `cases` tiny orders on two sizes of sheets with all that can be sawn at whole millimetres. All
/// must be met, hardly any of them in more than a few milliseconds.
fn compare_tiny_orders(cases: u32, seed: u64) {
    let mut rng = Pcg64Mcg::seed_from_u64(seed);
    let mut draw = |low: usize, high: usize| (low + below(&mut rng, high - low + 1)) as u32;
    let mut late = 0;
    for case in 0..cases {
        let kinds: Vec<Kind> = (0..3)
            .map(|_| {
                let (w, h) = (i64::from(draw(1, 6)), i64::from(draw(1, 6)));
                (w, h, draw(1, 3), draw(0, 1) == 1)
            })
            .collect();
        let kerf = i64::from(draw(0, 1));
        let stages = [None, Some(2), Some(3)][draw(0, 2) as usize];
        let sheets = [
            (6, 6, f64::from(draw(30, 40))),
            (8, 7, f64::from(draw(46, 62))),
        ];
        let mut sawn = Sawn::new(&kinds, kerf, false);
        let sets = sheets.map(|(w, h, cost)| (sawn.of_sheet(w, h, stages), cost));
        let least = sawn.least(&sets);

        let parts = kinds.iter().map(|k| Part {
            turn: if k.3 { Turn::Quarter } else { Turn::None },
            ..rect("part", k.0 as f64, k.1 as f64, k.2)
        });
        let rules = SawRules {
            kerf: kerf as f64,
            stages,
            ..SawRules::default()
        };
        let mut p = problem(parts.collect(), (6.0, 6.0), None, rules);
        p.stock[0].cost = sheets[0].2;
        p.stock
            .push(Stock::sheet("large", 8.0, 7.0, sheets[1].2, 1));
        p.supplies.push(None);
        let mut nest = solve(&p, 10_000);
        let what = format!("case {case}: {kinds:?}, {sheets:?}, {kerf}, {stages:?}");
        // Some order may not be sawn at all under its stages.
        assert_eq!(nest.not_placed.is_empty(), least.is_finite(), "{what}");
        if least.is_finite() {
            let floor = crate::least_spend(&p);
            assert!(
                floor <= least + 1e-9,
                "{what}: {floor} is no floor of {least}"
            );
            if nest.spend(&p) > least + 1e-9 {
                late += 1;
                nest = solve(&p, 1_000_000);
            }
            let spend = nest.spend(&p);
            assert!(spend >= least - 1e-9, "{what}: {spend} below {least}");
            assert!(spend <= least + 1e-9, "{what}: {spend} above {least}");
        }
    }
    assert!(
        100 * late <= cases,
        "{late} of {cases} orders need more steps"
    );
}

#[test]
fn tiny_orders_match_every_cut_tried() {
    compare_tiny_orders(100, 3);
}

#[test]
#[ignore = "a minute, and all tests have five: 100 cases run every time"]
fn five_hundred_tiny_orders_match_every_cut_tried() {
    compare_tiny_orders(500, 4);
}

//! Random orders and remnants: whatever is planned, the judge passes it.

use super::*;

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
        };
        let budget = Budget { seed, steps: 4000, limit: None };
        let nest = search(&p, &rules, &budget, &Control::none());
        for layout in &nest.layouts {
            replay(&p, &rules, layout);
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

//! Stock of any outline: what of it the saw can use.

use super::*;

#[test]
fn irregular_remnants_are_trimmed_to_a_rectangle() {
    // An L, 2000 x 1200 with 1200 x 700 missing at the upper right.
    let l = [
        (0.0, 0.0),
        (2000.0, 0.0),
        (2000.0, 500.0),
        (800.0, 500.0),
        (800.0, 1200.0),
        (0.0, 1200.0),
    ];
    let l = Polygon::new(l.map(|(x, y)| Point::new(x, y)).to_vec(), Vec::new());
    let rules = SawRules {
        kerf: 3.0,
        ..SawRules::default()
    };
    let parts = vec![
        rect("long", 1990.0, 490.0, 1),
        rect("small", 300.0, 300.0, 2),
    ];
    let mut p = problem(parts, (100.0, 100.0), None, rules);
    p.stock[0] = Stock::remnant("l", l, 5.0, 0);
    p.supplies[0] = Some(1);
    p.stock[0].keep = KeepRule {
        least_width: 300.0,
        least_length: 600.0,
        value_per_area: 1e-6,
        handling: 0.0,
        scrap_cost_per_area: 0.0,
        ..KeepRule::default()
    };
    let nest = solve(&p, 2000);
    // The long leg, 2000 x 500, is the largest rectangle: one rip right through the piece.
    let layout = &nest.layouts[0];
    assert_eq!(layout.placed.len(), 1);
    assert_eq!(layout.saw_cuts[0].stage, 0);
    assert_eq!(layout.saw_cuts[0].from.y, 501.5);
    assert_eq!(
        (layout.saw_cuts[0].from.x, layout.saw_cuts[0].to.x),
        (0.0, 800.0)
    );
    // What is cut off, 800 x 697, is worth keeping.
    assert!((layout.kept_area() - 800.0 * 697.0).abs() < 1e-3);
    // With a margin the parts keep away from the edge; 490 + 2 * 5 is just what there is.
    p.margin = 5.0;
    assert!(solve(&p, 2000).placed_counts(&p)[0] == 1);
    p.margin = 5.1;
    assert_eq!(solve(&p, 2000).placed_counts(&p)[0], 0);
}

#[test]
fn what_is_sound_beside_a_flaw_is_kept() {
    let rules = SawRules {
        kerf: 3.0,
        ..SawRules::default()
    };
    let mut p = problem(
        vec![rect("side", 1140.0, 990.0, 1)],
        (2000.0, 1000.0),
        None,
        rules,
    );
    let whole = p.stock[0].outline.clone();
    p.stock[0] = Stock::remnant("scratched", whole, 5.0, 0);
    p.stock[0].keep = KeepRule {
        least_width: 300.0,
        least_length: 600.0,
        value_per_area: 1e-6,
        ..KeepRule::default()
    };
    p.supplies[0] = Some(1);
    let scratch = Bounds::new(Point::new(1150.0, 450.0), Point::new(1200.0, 500.0));
    p.stock[0].keep_clear.push(scratch.corners().to_vec());
    let nest = solve(&p, 2000);
    let kept: Vec<_> = nest.layouts[0].offcuts.iter().filter(|o| o.kept).collect();
    // Beyond the cut beside the scratch, which is no longer part of it.
    assert_eq!(kept.len(), 1);
    let sound = 847.0 * 1000.0 - 47.0 * 50.0;
    assert!((kept[0].outline.area() - sound).abs() < 1e-2);
    assert!(kept[0].value > 0.0);
}

#[test]
fn the_edges_of_a_remnant_are_not_trimmed_without_a_margin() {
    // One corner cut off: 900 x 900 is sawn off in one cut, the other three sides are its own.
    let corners = [
        (0.0, 0.0),
        (1300.0, 0.0),
        (1300.0, 400.0),
        (900.0, 900.0),
        (0.0, 900.0),
    ];
    let outline = corners.map(|(x, y)| Point::new(x, y)).to_vec();
    let rules = SawRules {
        kerf: 3.0,
        ..SawRules::default()
    };
    let parts = vec![rect("square", 900.0, 900.0, 1)];
    let mut p = problem(parts, (100.0, 100.0), None, rules);
    p.stock[0] = Stock::remnant("r", Polygon::new(outline, Vec::new()), 5.0, 0);
    p.supplies[0] = Some(1);
    let nest = solve(&p, 200);
    let cuts = &nest.layouts[0].saw_cuts;
    assert_eq!(cuts.len(), 1, "{cuts:?}");
    assert_eq!(
        (cuts[0].from, cuts[0].to),
        (Point::new(901.5, 0.0), Point::new(901.5, 900.0))
    );
}

#[test]
fn voids_and_flaws_are_kept_clear() {
    let mut outline = Polygon::rectangle(1000.0, 600.0);
    let hole = |x: f64, y: f64, s: f64| {
        Bounds::new(Point::new(x, y), Point::new(x + s, y + s))
            .corners()
            .to_vec()
    };
    outline = Polygon::new(outline.outer, vec![hole(100.0, 100.0, 50.0)]);
    let rules = SawRules {
        kerf: 3.0,
        ..SawRules::default()
    };
    let mut p = problem(
        vec![rect("a", 200.0, 150.0, 20)],
        (100.0, 100.0),
        None,
        rules,
    );
    p.stock[0] = Stock::remnant("with a hole", outline, 5.0, 0);
    p.stock[0].keep_clear.push(hole(900.0, 500.0, 60.0));
    p.supplies[0] = Some(1);
    p.margin = 10.0;
    let nest = solve(&p, 2000);
    let placed = &nest.layouts[0].placed;
    assert!(placed.len() >= 6);
    for part in placed {
        let b = part.outline(&p).bounds();
        assert!(b.min.x >= 10.0 && b.max.x <= 990.0 && b.min.y >= 10.0 && b.max.y <= 590.0);
        for bad in [hole(100.0, 100.0, 50.0), hole(900.0, 500.0, 60.0)] {
            let bad = Bounds::of_points(bad).expect("points").grown(10.0 - 1e-6);
            assert!(!bad.touches(&b), "{b:?}");
        }
    }
}

/// Remnants with square recesses, a corner cut off, slanted ends, or all askew.
fn odd_remnant() -> impl Strategy<Value = Polygon> {
    let sides = (300.0..1500.0_f64, 300.0..1000.0_f64);
    (sides, 0.2..0.8_f64, 0.2..0.8_f64, 0..5_u32, any::<bool>()).prop_map(
        |((length, width), a, b, kind, whole)| {
            let round = |v: f64| if whole { v.round() } else { v };
            let (l, w) = (round(length), round(width));
            let (x, y) = (round(l * a), round(w * b));
            let corners: Vec<(f64, f64)> = match kind {
                0 => vec![(0.0, 0.0), (l, 0.0), (l, y), (x, y), (x, w), (0.0, w)],
                1 => vec![(0.0, 0.0), (l, 0.0), (l, y), (x, w), (0.0, w)],
                2 => vec![(0.2 * x, 0.0), (l, 0.0), (l - 0.2 * x, w), (0.0, w)],
                3 => vec![
                    (0.1 * x, 0.0),
                    (l, 0.1 * y),
                    (l - 0.1 * x, w),
                    (0.0, w - 0.1 * y),
                ],
                _ => vec![
                    (0.0, y),
                    (0.5 * x, y),
                    (0.5 * x, 0.0),
                    (x, 0.0),
                    (x, y),
                    (l, y),
                    (l, w),
                    (0.0, w),
                ],
            };
            let corner = |(x, y)| Point::new(x, y);
            Polygon::new(corners.into_iter().map(corner).collect(), Vec::new())
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]
    #[test]
    fn a_blade_without_width_cuts_any_remnant(
        outline in odd_remnant(),
        kerf in prop_oneof![Just(0.0), Just(0.2), Just(3.2)],
        sides in proptest::collection::vec((60.0..300.0_f64, 40.0..200.0_f64, 1..4_u32), 1..4),
        whole in any::<bool>(),
    ) {
        let rules = SawRules { kerf, ..SawRules::default() };
        let round = |v: f64| if whole { v.round() } else { v };
        let parts = sides.iter().map(|(a, b, n)| rect("part", round(*a), round(*b), *n)).collect();
        let mut p = problem(parts, (100.0, 100.0), None, rules);
        p.stock[0] = Stock::remnant("r", outline, 5.0, 0);
        p.supplies[0] = Some(1);
        let budget = Budget { steps: 300, ..Budget::default() };
        // The judge has the last word.
        let nest = crate::nest(&p, &budget, &Control::none());
        prop_assert!(nest.is_ok(), "{nest:?}");
        // A trim takes something off.
        for cut in nest.iter().flat_map(|n| &n.layouts).flat_map(|l| &l.saw_cuts) {
            prop_assert!(cut.from.distance(cut.to) > 1.0, "{cut:?}");
        }
    }
}

#[test]
fn what_is_trimmed_off_beside_a_recess_ends_where_the_recess_begins() {
    // Found by the random cases: the side of the recess was rounded at the first cut, and the second
    // one, along it, left a sliver of the piece on what it trimmed off.
    let x = 1557.2735742028506;
    let outline = [
        (0.0, 0.0),
        (1600.0, 0.0),
        (1600.0, 660.0),
        (x, 660.0),
        (x, 1200.0),
        (0.0, 1200.0),
    ];
    let outline = Polygon::new(outline.map(|(x, y)| Point::new(x, y)).to_vec(), Vec::new());
    let parts = vec![rect("part", 310.0, 170.0, 3)];
    let mut p = problem(parts, (10.0, 10.0), Some(1), SawRules::default());
    p.stock[0] = Stock::remnant("remnant", outline, 20.0, 0);
    let flaw = Bounds::new(Point::new(-93.0, -93.0), Point::new(95.082491202, 94.8127));
    p.stock[0].keep_clear.push(flaw.corners().to_vec());
    let nest = crate::nest(&p, &steps(300), &Control::none()).expect("judged");
    let trimmed = nest.layouts[0].offcuts.iter().map(|o| o.outline.bounds());
    let right = trimmed.max_by(|a, b| a.min.x.total_cmp(&b.min.x));
    let right = right.expect("something is trimmed off");
    assert!((right.max.y - 660.0).abs() < 1e-3, "{right:?}");
}

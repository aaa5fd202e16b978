//! Contents of cut-outs laid anew, judged.

use super::*;
use crate::freeform::holes::at_origin;
use crate::freeform::{finished, search, with_offcuts};
use crate::{Budget, Control, KeepRule, Layout, Nest, PlacedPart, Stock, spend_of, verify};
use panelwright_geometry::{Outline, Placement, Polygon, Ring};
use proptest::prelude::*;
use rand::SeedableRng;

fn frame(width: f64, height: f64, border: f64, round: f64) -> Outline {
    let far = Point::new(width - border, height - border);
    let window = Ring::rounded_rectangle(Point::new(border, border), far, round);
    let outer = Outline::rectangle(width, height).outer;
    Outline::from_rings(outer, vec![window.reversed()])
}

fn sheets(length: f64, width: f64) -> Stock {
    Stock {
        keep: KeepRule {
            least_width: 100.0,
            least_length: 150.0,
            value_per_area: 1e-4,
            ..KeepRule::default()
        },
        ..Stock::sheet("sheet", length, width, 40.0, 0)
    }
}

/// One sheet with parts of these indices, unturned, at these places.
fn lying(problem: &Problem, places: &[(usize, f64, f64)]) -> Nest {
    let mut layout = Layout::bare(problem, 0);
    let placed = places.iter().map(|&(part, x, y)| PlacedPart {
        part,
        placement: Placement::new(0.0, Point::new(x, y)),
    });
    layout.placed.extend(placed);
    Nest {
        layouts: vec![layout],
        not_placed: Vec::new(),
    }
}

/// What becomes of a nest, judged; `None` where nothing better was found.
fn anew(problem: &Problem, nest: &Nest, steps: u64) -> Option<Nest> {
    let tables = Tables::new(problem, Some(nest));
    let control = Control::none();
    let watch = Watch::new(&Budget::default(), &control);
    let nesting = Nesting::of(nest, &tables);
    let mut random = Pcg64Mcg::seed_from_u64(1);
    let (made, _) = laid_anew(&tables, &nesting, steps, &mut random, &watch);
    let (made, score) = made?;
    assert!(score.beats(&nesting.score(&tables)));
    let made = with_offcuts(problem, finished(&tables, &made));
    assert_eq!(verify::judge(problem, &made), []);
    Some(made)
}

/// Two frames side by side with three squares in each window, of which nine would fit.
fn two_frames() -> (Problem, Nest) {
    let parts = vec![
        Part::new("frame", frame(300.0, 300.0, 50.0, 0.0), 2),
        Part::new("square", Outline::rectangle(60.0, 60.0), 6),
    ];
    let problem = Problem {
        gap: 5.0,
        kerf: 3.0,
        margin: 10.0,
        ..Problem::new(parts, vec![sheets(640.0, 320.0)], vec![Some(1)])
    };
    let mut places = vec![(0, 10.0, 10.0), (0, 315.0, 10.0)];
    for x in [70.0, 375.0] {
        places.extend([(1, x, 70.0), (1, x + 70.0, 120.0), (1, x, 180.0)]);
    }
    let nest = lying(&problem, &places);
    (problem, nest)
}

#[test]
fn what_fits_one_window_leaves_the_other_one_empty() {
    let (problem, nest) = two_frames();
    let made = anew(&problem, &nest, 50_000).expect("better");
    // The window less the gap all round is kept.
    let spend = spend_of(&problem, &made.layouts[0]);
    assert!(
        (spend - (40.0 - 190.0 * 190.0 * 1e-4)).abs() < 0.01,
        "{spend}"
    );
    assert_eq!(made.placed_counts(&problem), [2, 6]);
    assert!(
        anew(&problem, &made, 50_000).is_none(),
        "as good as it gets"
    );
}

#[test]
fn nothing_is_moved_where_something_else_reaches_into_a_cutout() {
    let (problem, nest) = two_frames();
    let with = |change: &dyn Fn(&mut Problem)| {
        let mut changed = problem.clone();
        change(&mut changed);
        anew(&changed, &nest, 20_000)
    };
    let corner = vec![
        Point::new(245.0, 245.0),
        Point::new(250.0, 245.0),
        Point::new(250.0, 250.0),
    ];
    let both = [
        corner.clone(),
        corner
            .iter()
            .map(|p| Point::new(p.x + 305.0, p.y))
            .collect(),
    ];
    assert!(with(&|p| p.stock[0].keep_clear = both.to_vec()).is_none());
    assert!(with(&|p| p.stock[0].zones = both.to_vec()).is_none());
    assert!(with(&|p| p.stock[0].outline.holes = both.to_vec()).is_none());
    assert!(with(&|p| p.parts[1].turn = Turn::Free).is_none());
    // What is in the other window may lie closer, so that an offcut is left beside it.
    let made = with(&|p| p.stock[0].zones = vec![corner.clone()]).expect("better");
    let stay = nest.layouts[0].placed[2..5].iter();
    assert!(stay.into_iter().all(|p| made.layouts[0].placed.contains(p)));
    assert_ne!(made.layouts[0].placed[5..], nest.layouts[0].placed[5..]);
    assert!(with(&|_| ()).is_some());
}

#[test]
fn frames_in_cutouts_are_moved_with_what_is_in_them() {
    // A frame with a square in it in each of two windows that would take both.
    let parts = vec![
        Part::new("outer", frame(400.0, 400.0, 50.0, 10.0), 2),
        Part::new("inner", frame(140.0, 140.0, 30.0, 5.0), 2),
        Part::new("square", Outline::rectangle(60.0, 60.0), 2),
    ];
    let problem = Problem {
        gap: 5.0,
        margin: 10.0,
        ..Problem::new(parts, vec![sheets(850.0, 420.0)], vec![Some(1)])
    };
    let mut places = Vec::new();
    for x in [10.0, 420.0] {
        places.extend([(0, x, 10.0), (1, x + 100.0, 120.0), (2, x + 140.0, 160.0)]);
    }
    let made = anew(&problem, &lying(&problem, &places), 50_000).expect("better");
    let kept = made.layouts[0].offcuts.iter().filter(|o| o.kept);
    let largest = kept.map(|o| o.outline.area()).fold(0.0, f64::max);
    assert!(largest > 280.0 * 280.0, "one window is empty: {largest}");
}

#[test]
fn empty_cutouts_are_not_worth_a_step() {
    let (problem, nest) = two_frames();
    let tables = Tables::new(&problem, Some(&nest));
    let mut nesting = Nesting::of(&nest, &tables);
    assert!(are_worth(&tables, &nesting, 2 * LEAST_STEPS));
    assert!(!are_worth(&tables, &nesting, LEAST_STEPS));
    nesting.sheets[0].0.items.truncate(2);
    assert!(!are_worth(&tables, &nesting, u64::MAX));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn random_contents_are_never_laid_dearer_or_wrong(
        frames in proptest::collection::vec((150.0_f64..400.0, 150.0_f64..400.0, 15.0_f64..60.0, 0.0_f64..30.0, 1_u32..4), 1..4),
        small in proptest::collection::vec((15.0_f64..120.0, 15.0_f64..120.0, 0.2_f64..1.0, 1_u32..6), 1..5),
        gap in prop_oneof![Just(0.0), 1.0_f64..8.0],
        turn in prop_oneof![Just(Turn::None), Just(Turn::Half), Just(Turn::Quarter)],
        scrap in prop_oneof![Just(0.0), Just(1e-5), Just(-2e-5)],
        seed in 0_u64..1000,
    ) {
        let mut parts = Vec::new();
        for (w, h, border, round, copies) in frames {
            parts.push(Part { turn, ..Part::new("frame", frame(w, h, border, round), copies) });
        }
        for (w, h, arm, copies) in small {
            let (a, b) = (w * arm, h * arm);
            let corners = [(0.0, 0.0), (w, 0.0), (w, b), (a, b), (a, h), (0.0, h)];
            let l = Outline::polygon(corners.map(|(x, y)| Point::new(x, y)));
            let plain = Outline::rectangle(w, h);
            parts.push(Part { turn, ..Part::new("small", if arm < 0.9 { l } else { plain }, copies) });
        }
        let mut sheet = sheets(900.0, 600.0);
        sheet.keep.scrap_cost_per_area = scrap;
        let problem = Problem {
            gap,
            kerf: gap.min(3.0),
            margin: 5.0,
            ..Problem::new(parts, vec![sheet], vec![None])
        };
        let budget = Budget { steps: 300, seed, ..Budget::default() };
        let nest = search(&problem, &budget, &Control::none());
        prop_assert_eq!(verify::judge(&problem, &nest), []);
        anew(&problem, &nest, 20_000);
    }
}

#[test]
fn round_corners_take_nothing_off_rows_that_fit_exactly() {
    // Pairs of brackets of 140 by 191, two of them high in 400 less the gaps, four long in 620 with 30 to spare.
    let corners = [
        (10.0, 0.0),
        (140.0, 0.0),
        (140.0, 45.0),
        (45.0, 45.0),
        (45.0, 140.0),
        (0.0, 140.0),
        (0.0, 10.0),
    ];
    let bracket = Part {
        turn: Turn::Quarter,
        ..Part::new(
            "bracket",
            Outline::polygon(corners.map(|(x, y)| Point::new(x, y))),
            34,
        )
    };
    for round in [0.0, 20.0] {
        let window = frame(740.0, 520.0, 60.0, round).covering().holes.remove(0);
        let (window, _) = at_origin(Polygon::new(window, Vec::new()));
        let stock = Stock {
            margin: Some(6.0),
            ..Stock::remnant("window", window, 1.0, 0)
        };
        let problem = Problem {
            gap: 6.0,
            ..Problem::new(vec![bracket.clone()], vec![stock], vec![Some(6)])
        };
        let tables = Tables::new(&problem, None);
        let control = Control::none();
        let watch = Watch::new(&Budget::default(), &control);
        let mut random = Pcg64Mcg::seed_from_u64(1);
        let mut work = Work::of_steps(50_000);
        let sheets = tiled(&tables, 0, 0, &[34], &mut random, &watch, &mut work);
        let most = sheets.iter().map(|sheet| sheet.items.len()).max();
        assert_eq!(most, Some(16), "{round}");
    }
}

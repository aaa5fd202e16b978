//! Lengths known by hand or from geometry, and what bad problems are told.

use super::*;
use crate::Turn;
use panelwright_geometry::{Outline, Point, Ring};

fn part(cells: &[(f64, f64)], turn: Turn, quantity: u32) -> Part {
    let outline = Outline::polygon(cells.iter().map(|&(x, y)| Point::new(10.0 * x, 10.0 * y)));
    Part {
        turn,
        ..Part::new("piece", outline, quantity)
    }
}

fn length(problem: &StripProblem, steps: u64) -> f64 {
    let budget = Budget {
        steps,
        ..Budget::default()
    };
    nest_strip(problem, &budget, &Control::none())
        .expect("a strip")
        .length
}

#[test]
fn pieces_that_tile_leave_nothing() {
    // Tilings with turned copies, never mirrored (Golomb; Klarner; from memory).
    let l3 = [(0., 0.), (2., 0.), (2., 1.), (1., 1.), (1., 2.), (0., 2.)];
    let t4 = [
        (0., 0.),
        (3., 0.),
        (3., 1.),
        (2., 1.),
        (2., 2.),
        (1., 2.),
        (1., 1.),
        (0., 1.),
    ];
    let l4 = [(0., 0.), (3., 0.), (3., 1.), (1., 1.), (1., 2.), (0., 2.)];
    let p5 = [(0., 0.), (3., 0.), (3., 1.), (2., 1.), (2., 2.), (0., 2.)];
    for (piece, turn, copies, width, least) in [
        (&l3[..], Turn::Half, 4, 20.0, 60.0),
        (&t4[..], Turn::Quarter, 4, 40.0, 40.0),
        (&l4[..], Turn::Half, 4, 20.0, 80.0),
        (&p5[..], Turn::Half, 2, 20.0, 50.0),
    ] {
        let problem = StripProblem::new(vec![part(piece, turn, copies)], width);
        let found = length(&problem, 1_000_000);
        assert!((found - least).abs() < 1e-6, "{found} instead of {least}");
    }
}

#[test]
fn parts_on_a_grid_end_on_it() {
    // Five of three cells each take seven and a half columns of two, so eight.
    let l3 = [(0., 0.), (2., 0.), (2., 1.), (1., 1.), (1., 2.), (0., 2.)];
    let problem = StripProblem::new(vec![part(&l3, Turn::Half, 5)], 20.0);
    let budget = Budget {
        steps: 300_000,
        ..Budget::default()
    };
    let strip = nest_strip(&problem, &budget, &Control::none()).expect("a strip");
    assert!((strip.least_length - 80.0).abs() < 1e-9);
    assert!((strip.length - 80.0).abs() < 1e-6, "{}", strip.length);
    // Squares on their corners, in two rows: the less they may be staggered, the longer.
    let rhomb = [(0., 1.), (1., 0.), (2., 1.), (1., 2.)];
    for (width, least) in [(30.0, 50.0), (25.0, 65.0), (22.5, 72.5), (23.0, 71.0)] {
        let problem = StripProblem::new(vec![part(&rhomb, Turn::None, 4)], width);
        let found = length(&problem, 200_000);
        assert!((found - least).abs() < 1e-6, "{found} instead of {least}");
    }
}

#[test]
fn circles_are_not_denser_than_they_can_be() {
    // Two staggered rows of n unit circles take (n + 1) by (2 + root 3).
    let disc = Outline::from_rings(Ring::circle(Point::default(), 10.0), Vec::new());
    let width = 10.0 * (2.0 + 3.0_f64.sqrt()) + 0.1;
    let mut problem = StripProblem::new(vec![Part::new("disc", disc, 8)], width);
    let least = 90.0;
    let found = length(&problem, 300_000);
    assert!((least - 0.3..1.04 * least).contains(&found), "{found}");
    // Kept apart by a gap and away from the edges they are larger circles.
    problem.gap = 10.0;
    problem.margin = 5.0;
    problem.width = 1.5 * width;
    let found = length(&problem, 300_000);
    assert!(
        (1.5 * least - 0.5..1.56 * least).contains(&found),
        "{found}"
    );
}

#[test]
fn curved_parts_are_nested_by_close_covers_in_the_end() {
    let ring = (0..200).map(|i| {
        let angle = std::f64::consts::TAU * f64::from(i) / 200.0;
        let radius = 200.0 + 60.0 * (3.0 * angle).sin() + 25.0 * (7.0 * angle).sin();
        Point::default() + panelwright_geometry::Vec2::from_angle(angle, radius)
    });
    let wavy = Outline::polygon(ring);
    for turn in [Turn::Half, Turn::Free] {
        let part = Part {
            turn,
            ..Part::new("wavy", wavy.clone(), 4)
        };
        let problem = StripProblem {
            gap: 5.0,
            margin: 3.0,
            ..StripProblem::new(vec![part], 700.0)
        };
        let covers = |closeness| {
            let sheet = problem.on_sheet(problem.longest());
            let tables = Tables::with_angles(&sheet, None, &[], closeness);
            tables.catalogue.covered(&sheet)
        };
        let (usual, close) = (covers(Closeness::Usual), covers(Closeness::Close));
        assert!(close > 4.0 * wavy.area() && usual > (1.0 + LOOSE) * close);
        // What comes back has passed the judge.
        let area = 4.0 * wavy.area();
        let found = length(&problem, 60_000);
        assert!(
            (area / 700.0..2.0 * area / 700.0).contains(&found),
            "{found}"
        );
    }
}

#[test]
fn rectangles_are_laid_in_columns_and_rows() {
    let rectangle = |w: f64, h: f64, turn: Turn, quantity: u32| Part {
        turn,
        ..Part::new("r", Outline::rectangle(w, h), quantity)
    };
    // Columns of three or of seven fill a width of 21; no other way does.
    let problem = StripProblem::new(vec![rectangle(7.0, 3.0, Turn::Quarter, 20)], 21.0);
    assert!((length(&problem, 100_000) - 20.0).abs() < 1e-6);
    // Six columns, each of one width and of heights that make up the strip's, with a gap and a margin.
    let columns = [
        (17.3, [11.0, 13.5, 14.5, 15.0]),
        (12.9, [9.25, 10.75, 16.0, 18.0]),
        (21.7, [7.5, 12.25, 17.25, 17.0]),
        (15.1, [13.0, 13.75, 13.25, 14.0]),
        (18.6, [8.0, 12.0, 16.5, 17.5]),
        (9.4, [10.0, 14.25, 14.75, 15.0]),
    ];
    let parts = columns
        .iter()
        .flat_map(|(w, heights)| heights.map(|h| rectangle(*w, h, Turn::None, 1)));
    let problem = StripProblem {
        gap: 2.0,
        margin: 5.0,
        ..StripProblem::new(parts.collect(), 54.0 + 3.0 * 2.0 + 2.0 * 5.0)
    };
    let least = columns.iter().map(|c| c.0).sum::<f64>() + 5.0 * 2.0 + 2.0 * 5.0;
    let found = length(&problem, 2_000_000);
    assert!((found - least).abs() < 1e-6, "{found} instead of {least}");
}

#[test]
fn many_copies_lie_in_rows() {
    let shape = |corners: &[(f64, f64)], turn: Turn, quantity: u32| Part {
        turn,
        ..Part::new(
            "t",
            Outline::polygon(corners.iter().map(|&(x, y)| Point::new(x, y))),
            quantity,
        )
    };
    // Rows of pairs; right triangles that may not be turned fill two thirds of the plane at best.
    let scalene = [(0.0, 0.0), (20.0, 0.0), (7.0, 15.0)];
    let right = [(0.0, 0.0), (10.0, 0.0), (0.0, 10.0)];
    // One in the corner of the next, aslant.
    let bracket = [
        (0.0, 0.0),
        (90.0, 0.0),
        (90.0, 8.0),
        (8.0, 8.0),
        (8.0, 64.0),
        (0.0, 64.0),
    ];
    for (corners, turn, quantity, width, least) in [
        (&scalene[..], Turn::Half, 36, 90.0, 67.0),
        (&scalene, Turn::Half, 120, 150.0, 127.0),
        (&right, Turn::None, 50, 100.0, 45.0),
        (&right, Turn::None, 3_000, 1_000.0, 235.0),
        (&bracket, Turn::None, 200, 400.0, 756.0),
    ] {
        let mut problem = StripProblem::new(vec![shape(corners, turn, quantity)], width);
        let found = length(&problem, 20_000);
        assert!(found < least + 1e-4, "{found} instead of {least}");
        // Beside another shape, with a gap.
        problem.gap = 1.0;
        problem
            .parts
            .push(shape(&[(0.0, 0.0), (30.0, 0.0), (30.0, 9.0)], turn, 2));
        let found = length(&problem, 1_000);
        assert!(found < 1.7 * least, "{found} beside {least}");
    }
}

#[test]
fn round_parts_lie_in_each_other_in_the_end() {
    let (outline, thick, deep) = crate::freeform::tests::crescent();
    let part = Part::new("crescent", outline, 40);
    let problem = StripProblem::new(vec![part], 240.5);
    let tight = 39.0 * thick + deep;
    let found = length(&problem, 20_000);
    assert!(found < 1.0065 * tight, "{found} instead of {tight}");
}

#[test]
fn a_short_time_is_enough_for_some_layout() {
    // Forty stars with twenty corners each, all different, at quarter turns: tables for them take a second.
    let star = |k: usize| {
        let corners = (0..20).map(|i| {
            let angle = std::f64::consts::TAU * i as f64 / 20.0;
            let radius = if i % 2 > 0 {
                40.0
            } else {
                90.0 + ((7 * k + 3 * i) % 11) as f64
            };
            Point::default() + panelwright_geometry::Vec2::from_angle(angle, radius)
        });
        Part {
            turn: Turn::Quarter,
            ..Part::new(format!("star {k}"), Outline::polygon(corners), 1)
        }
    };
    let problem = StripProblem {
        gap: 2.0,
        margin: 5.0,
        ..StripProblem::new((0..40).map(star).collect(), 800.0)
    };
    let limit = std::time::Duration::from_millis(1);
    let budget = Budget {
        limit: Some(limit),
        ..Budget::default()
    };
    let strip = nest_strip(&problem, &budget, &Control::none()).expect("a strip");
    assert_eq!(strip.placed.len(), 40);
    // More than anyone has: neither the memory nor the time is filled with them.
    let square = Outline::rectangle(1.0, 1.0);
    let problem = StripProblem::new(vec![Part::new("square", square, u32::MAX)], 800.0);
    let begin = std::time::Instant::now();
    assert!(nest_strip(&problem, &budget, &Control::none()).is_err());
    assert!(begin.elapsed().as_secs() < 5);
}

#[test]
fn a_layout_is_told_before_the_parts_are_looked_at_closely() {
    // Twelve parts of two thousand corners, at quarter turns.
    let wavy = |k: usize| {
        let corners = (0..2000).map(|i| {
            let angle = std::f64::consts::TAU * f64::from(i) / 2000.0;
            let radius = 60.0 + 9.0 * ((3 + k % 4) as f64 * angle + k as f64).sin();
            Point::default() + panelwright_geometry::Vec2::from_angle(angle, radius)
        });
        Part {
            turn: Turn::Quarter,
            ..Part::new(format!("wavy {k}"), Outline::polygon(corners), 1)
        }
    };
    let problem = StripProblem {
        gap: 2.0,
        margin: 5.0,
        ..StripProblem::new((0..12).map(wavy).collect(), 500.0)
    };
    // Stopped at the first report: what was told then is there.
    let told = std::sync::Mutex::new(Vec::new());
    let cancel = std::sync::atomic::AtomicBool::new(false);
    let listener = |p: Progress| {
        cancel.store(true, std::sync::atomic::Ordering::Relaxed);
        told.lock().expect("a lock").push(p.spend);
    };
    let control = Control::none()
        .with_listener(&listener)
        .with_cancel(&cancel);
    let begin = std::time::Instant::now();
    let columns = Columns::of_bounds(&problem.on_sheet(problem.longest())).expect("columns");
    let bounds_take = begin.elapsed();
    let strip = nest_strip(&problem, &Budget::default(), &control).expect("a strip");
    let told = told.into_inner().expect("a lock");
    assert!((columns.length + 10.0 - told[0]).abs() < 1e-9);
    assert!(
        strip.length <= told[0] + 1e-5,
        "{} {}",
        strip.length,
        told[0]
    );
    // Tables for them take some hundred times as long.
    let begin = std::time::Instant::now();
    let _ = Tables::new(&problem.on_sheet(problem.longest()), None);
    assert!(bounds_take < begin.elapsed());
}

#[test]
fn few_steps_are_few() {
    let mut problem = StripProblem::new(Vec::new(), 100.0);
    let p5 = [(0., 0.), (3., 0.), (3., 1.), (2., 1.), (2., 2.), (0., 2.)];
    problem.parts.push(part(&p5, Turn::Half, 9));
    let told = std::sync::atomic::AtomicUsize::new(0);
    let listener = |_: Progress| {
        told.fetch_add(1, std::sync::atomic::Ordering::Relaxed);
    };
    let control = Control::none().with_listener(&listener);
    let budget = Budget {
        steps: 1_000,
        ..Budget::default()
    };
    nest_strip(&problem, &budget, &control).expect("a strip");
    // What is there at once, and a round or two.
    assert!(told.into_inner() <= 5);
}

#[test]
fn what_cannot_be_is_said() {
    let wide = part(&[(0., 0.), (9., 0.), (9., 5.), (0., 5.)], Turn::None, 1);
    let none = Control::none();
    let error = nest_strip(
        &StripProblem::new(vec![wide], 40.0),
        &Budget::default(),
        &none,
    );
    assert!(matches!(error, Err(NestError::BadPart { .. })), "{error:?}");
    for outline in [Vec::new(), vec![Point::new(0.0, 0.0), Point::new(1.0, 0.0)]] {
        let part = Part::new("nothing", Outline::polygon(outline), 1);
        let error = nest_strip(
            &StripProblem::new(vec![part], 40.0),
            &Budget::default(),
            &none,
        );
        assert!(matches!(error, Err(NestError::BadPart { .. })), "{error:?}");
    }
    let square = part(&[(0., 0.), (9., 0.), (9., 5.), (0., 5.)], Turn::None, 1);
    for width in [-5.0, f64::NAN, 1e9] {
        let problem = StripProblem::new(vec![square.clone()], width);
        let error = nest_strip(&problem, &Budget::default(), &none);
        assert!(
            matches!(error, Err(NestError::BadLength { .. })),
            "{error:?}"
        );
    }
    let nothing = StripProblem::new(Vec::new(), 40.0);
    let budget = Budget {
        steps: 1000,
        ..Budget::default()
    };
    let strip = nest_strip(&nothing, &budget, &none);
    assert!(strip.is_ok_and(|s| s.placed.is_empty() && s.length == 0.0));
}

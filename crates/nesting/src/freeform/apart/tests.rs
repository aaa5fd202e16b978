//! Nests taken apart and put together again, judged.

use super::*;
use crate::freeform::{finished, search, with_offcuts};
use crate::{Budget, Control, KeepRule, Layout, Nest, PlacedPart, spend_of, verify};
use panelwright_geometry::{Outline, Ring};

/// A frame whose window is not in the middle.
fn frame(width: f64, height: f64, borders: [f64; 4]) -> Outline {
    let [left, bottom, right, top] = borders;
    let far = Point::new(width - right, height - top);
    let window = Ring::rounded_rectangle(Point::new(left, bottom), far, 6.0);
    let outer = Outline::rectangle(width, height).outer;
    Outline::from_rings(outer, vec![window.reversed()])
}

/// Large frames, small ones that fit into their windows, and bars that fit into either.
fn problem(turn: Turn) -> Problem {
    let part = |name: &str, outline, quantity| Part {
        turn,
        ..Part::new(name, outline, quantity)
    };
    let parts = vec![
        part("large", frame(420.0, 300.0, [40.0, 50.0, 60.0, 30.0]), 3),
        part("small", frame(200.0, 160.0, [20.0, 30.0, 40.0, 20.0]), 3),
        part("bar", Outline::rectangle(100.0, 30.0), 14),
    ];
    let keep = KeepRule {
        least_width: 100.0,
        least_length: 150.0,
        value_per_area: 1e-5,
        ..KeepRule::default()
    };
    let sheet = Stock {
        keep,
        ..Stock::sheet("sheet", 1000.0, 700.0, 40.0, 0)
    };
    Problem {
        gap: 6.0,
        kerf: 3.0,
        margin: 10.0,
        ..Problem::new(parts, vec![sheet], vec![None])
    }
}

/// Frames side by side, all turned by `angle`; small ones in the windows of large ones, bars in theirs.
fn nest(problem: &Problem, angle: f64) -> Nest {
    let mut layout = Layout::bare(problem, 0);
    let mut add = |part: usize, x: f64, y: f64, base: Point| {
        // As drawn beside `base`, and both turned about the middle of the sheet.
        let turn = Placement::new(angle, Point::default());
        let middle = Point::new(500.0, 350.0);
        let at = Point::new(x, y) + base.to_vec() - middle.to_vec();
        let origin = turn.apply(at) + middle.to_vec();
        let placement = Placement::new(angle, origin);
        layout.placed.push(PlacedPart { part, placement });
    };
    for base in [Point::new(160.0, 40.0), Point::new(160.0, 350.0)] {
        add(0, 0.0, 0.0, base);
        add(1, 50.0, 60.0, base);
        add(2, 50.0 + 27.0, 60.0 + 40.0, base);
        add(2, 50.0 + 27.0, 60.0 + 80.0, base);
    }
    Nest {
        layouts: vec![layout],
        not_placed: Vec::new(),
    }
}

/// With only the copies that `nest` has.
fn with_its_copies(mut problem: Problem, nest: &Nest) -> Problem {
    let counts = nest.placed_counts(&problem);
    for (part, count) in problem.parts.iter_mut().zip(counts) {
        part.quantity = count;
    }
    problem
}

#[test]
fn what_is_taken_apart_comes_together_as_it_was() {
    for (turn, angles, kinds) in [
        (Turn::Quarter, &[0.0, 90.0, 180.0, 270.0][..], 2),
        (Turn::Half, &[0.0, 180.0], 2),
        (Turn::None, &[0.0], 2),
    ] {
        for angle in angles {
            let nest = nest(&problem(turn), *angle);
            let problem = with_its_copies(problem(turn), &nest);
            assert_eq!(verify::judge(&problem, &nest), [], "{turn:?} {angle}");
            let tables = Tables::new(&problem, Some(&nest));
            let nesting = Nesting::of(&nest, &tables);
            let mut apart = Apart::of(&tables, &nesting).expect("frames");
            // Bars lie in small frames, which lie in large ones: none is on the sheet.
            assert_eq!(apart.laid[0].1.len(), 2);
            let windows = &apart.problem.stock[1..];
            assert_eq!(windows.len(), kinds);
            let own = apart.problem.clone();
            let own = Tables::new(&own, None);
            let mut work = Work::of_steps(u64::MAX);
            let present = apart.present(&own, &mut work).expect("lies as it may");
            let frames: u32 = apart.problem.parts[3..].iter().map(|p| p.quantity).sum();
            assert_eq!(frames, 4);
            let again = apart
                .together(&tables, &own, &present, &mut work)
                .expect("whole");
            let again = with_offcuts(&problem, finished(&tables, &again));
            assert_eq!(verify::judge(&problem, &again), [], "{turn:?} {angle}");
            let spend = |nest: &Nest| spend_of(&problem, &nest.layouts[0]);
            let before = with_offcuts(&problem, nest.clone());
            assert!((spend(&before) - spend(&again)).abs() < 1e-6);
            assert_eq!(again.placed_counts(&problem), nest.placed_counts(&problem));
        }
    }
}

#[test]
fn what_lies_in_a_frame_goes_where_it_goes() {
    let nest = nest(&problem(Turn::Quarter), 90.0);
    let problem = with_its_copies(problem(Turn::Quarter), &nest);
    let tables = Tables::new(&problem, Some(&nest));
    let nesting = Nesting::of(&nest, &tables);
    let mut apart = Apart::of(&tables, &nesting).expect("frames");
    let own = apart.problem.clone();
    let own = Tables::new(&own, None);
    let mut work = Work::of_steps(u64::MAX);
    let mut moved = apart.present(&own, &mut work).expect("lies as it may");
    // The frames on the sheet, whatever lies in them, side by side and not turned.
    let large = (moved.sheets[0].0.items).iter_mut().enumerate();
    for (i, (_, item)) in large {
        item.pose = own
            .catalogue
            .pose_alike(item.part, 0, 0.0)
            .expect("as drawn");
        item.at = Point::new(20.0 + 430.0 * i as f64, 20.0);
    }
    let again = apart
        .together(&tables, &own, &moved, &mut work)
        .expect("whole");
    let again = finished(&tables, &again);
    assert_eq!(verify::judge(&problem, &again), []);
    let layout = &again.layouts[0];
    assert!(layout.placed.iter().all(|p| {
        let bounds = p.outline(&problem).bounds();
        bounds.max.y < 330.0
    }));
    assert_eq!(again.placed_counts(&problem), nest.placed_counts(&problem));
}

#[test]
fn nothing_is_taken_apart_that_could_not_go_along() {
    let with = |change: &dyn Fn(&mut Problem)| {
        let nest = nest(&problem(Turn::Half), 0.0);
        let mut problem = with_its_copies(problem(Turn::Half), &nest);
        change(&mut problem);
        let tables = Tables::new(&problem, Some(&nest));
        let apart = Apart::of(&tables, &Nesting::of(&nest, &tables));
        apart.map(|apart| apart.laid[0].1.len())
    };
    let flaw = vec![
        Point::new(480.0, 150.0),
        Point::new(482.0, 150.0),
        Point::new(482.0, 152.0),
    ];
    assert_eq!(with(&|_| ()), Some(2));
    assert_eq!(with(&|p| p.use_cutouts = false), None);
    assert_eq!(with(&|p| p.parts[2].turn = Turn::Free), None);
    assert_eq!(with(&|p| p.stock[0].kind = StockKind::Remnant), None);
    // The flaw is in the window of one large frame, which so stays as it is, and what lies in it on the sheet; the flaw is not
    // in the window of its small frame.
    assert_eq!(
        with(&|p| p.stock[0].keep_clear = vec![flaw.clone()]),
        Some(3)
    );
    // Of two kinds of stock only one has grain.
    let grained = |p: &mut Problem| {
        let mut other = p.stock[0].clone();
        (other.grain_deg, other.supply) = (Some(0.0), 1);
        p.stock.push(other);
        p.supplies.push(None);
        p.parts[2].grain_deg = Some(0.0);
    };
    assert_eq!(with(&grained), None);
}

#[test]
fn orders_of_frames_are_whole() {
    for turn in [Turn::Quarter, Turn::Half, Turn::None] {
        let problem = problem(turn);
        let budget = Budget {
            steps: 400_000,
            seed: 1,
            limit: None,
        };
        let nest = search(&problem, &budget, &Control::none());
        assert_eq!(verify::judge(&problem, &nest), []);
        assert_eq!(nest.placed_counts(&problem), [3, 3, 14]);
    }
}

//! Nests of rectangles, judged.

use super::*;
use crate::Control;
use crate::freeform::finished;
use crate::verify;
use panelwright_geometry::Ring;
use proptest::prelude::*;
use rand::SeedableRng;

fn frame(width: f64, height: f64, border: f64) -> Outline {
    let mut outline = Outline::rectangle(width, height);
    let far = Point::new(width - border, height - border);
    let [a, b, c, d] = Bounds::new(Point::new(border, border), far).corners();
    outline.holes.push(Ring::polygon([a, d, c, b]));
    outline
}

/// What is made of a problem in one way, judged; the copies left out.
fn missing(problem: &Problem, way: impl Fn(&Rectangles) -> Way) -> Vec<u32> {
    let tables = Tables::new(problem, None);
    let rectangles = Rectangles::new(&tables).expect("rectangles all of them");
    let budget = Budget {
        steps: 3_000,
        ..Budget::default()
    };
    let control = Control::none();
    let watch = Watch::new(&budget, &control);
    let mut random = Pcg64Mcg::seed_from_u64(1);
    let mut work = Work::of_steps(u64::MAX);
    let wanted = empty(&tables).missing;
    let way = way(&rectangles);
    let supplies = &problem.supplies;
    let question = rectangles
        .question(&way, &wanted, supplies)
        .expect("boards");
    let rules = rules(problem.gap);
    let nest = guillotine::search(&question.problem, &rules, &budget, &control);
    let mut nesting = empty(&tables);
    rectangles.read(&question, &nest.layouts, &mut nesting, &mut work);
    let read = nesting.clone();
    rectangles.fill_up(&mut nesting, 0, &mut random, &watch, &mut work);
    for nesting in [&read, &nesting] {
        let faults = verify::judge(problem, &finished(&tables, nesting));
        assert_eq!(faults, []);
    }
    read.missing
}

#[test]
fn what_fits_a_window_lies_in_it_whichever_way_the_frame_lies() {
    // Frames must be turned to lie on the sheet; each takes a frame that takes a panel.
    let parts = vec![
        Part::new("outer", frame(300.0, 400.0, 40.0), 2),
        Part::new("inner", frame(208.0, 308.0, 30.0), 2),
        Part::new("panel", Outline::rectangle(136.0, 236.0), 2),
    ];
    let stock = vec![Stock::sheet("sheet", 420.0, 320.0, 5.0, 0)];
    let problem = Problem {
        gap: 6.0,
        margin: 10.0,
        ..Problem::new(parts, stock, vec![Some(2)])
    };
    assert_eq!(missing(&problem, |_| Way::new(true)), [0, 0, 0]);
    // Nothing is set into cut-outs where that is not wanted.
    let whole = Problem {
        use_cutouts: false,
        ..problem
    };
    assert_eq!(missing(&whole, |_| Way::new(true)), [0, 2, 2]);
}

#[test]
fn what_must_not_be_turned_lies_in_frames_that_are_told_how_to_lie() {
    let upright = |part| Part {
        turn: Turn::Half,
        ..part
    };
    let parts = vec![
        Part::new("frame", frame(300.0, 400.0, 40.0), 2),
        upright(Part::new("panel", Outline::rectangle(300.0, 200.0), 2)),
    ];
    let stock = vec![Stock::sheet("sheet", 420.0, 320.0, 5.0, 0)];
    let problem = Problem {
        gap: 6.0,
        margin: 10.0,
        ..Problem::new(parts, stock, vec![Some(2)])
    };
    assert_eq!(missing(&problem, |_| Way::new(true)), [0, 2]);
    let across = |_: &Rectangles| Way {
        told: vec![[0, 2], [0, 0]],
        ..Way::new(true)
    };
    assert_eq!(missing(&problem, across), [0, 0]);
    // One frame each way: the window of the one that lies across takes a panel.
    let taller = Problem {
        stock: vec![Stock::sheet("sheet", 750.0, 420.0, 5.0, 0)],
        supplies: vec![Some(1)],
        ..problem
    };
    let both = |_: &Rectangles| Way {
        told: vec![[1, 1], [0, 0]],
        ..Way::new(true)
    };
    assert_eq!(missing(&taller, both), [0, 1]);
}

#[test]
fn notches_are_rooms_that_reach_to_the_edge() {
    let l = [
        (0.0, 0.0),
        (90.0, 0.0),
        (90.0, 30.0),
        (30.0, 30.0),
        (30.0, 90.0),
        (0.0, 90.0),
    ];
    let l = Outline::polygon(l.map(|(x, y)| Point::new(x, y)));
    let parts = vec![
        Part::new("l", l, 4),
        Part::new("square", Outline::rectangle(55.0, 55.0), 4),
    ];
    let stock = vec![Stock::sheet("sheet", 185.0, 185.0, 5.0, 0)];
    let problem = Problem {
        gap: 5.0,
        ..Problem::new(parts, stock, vec![Some(1)])
    };
    assert_eq!(missing(&problem, |_| Way::new(true)), [0, 0]);
}

#[test]
fn irregular_shapes_are_left_to_others() {
    let triangle = [(0.0, 0.0), (90.0, 0.0), (0.0, 90.0)].map(|(x, y)| Point::new(x, y));
    let parts = vec![Part::new("triangle", Outline::polygon(triangle), 4)];
    let stock = vec![Stock::sheet("sheet", 185.0, 185.0, 5.0, 0)];
    let problem = Problem::new(parts, stock, vec![None]);
    assert!(Rectangles::new(&Tables::new(&problem, None)).is_none());
}

fn any_part() -> impl Strategy<Value = Part> {
    let turn = prop_oneof![
        Just(Turn::None),
        Just(Turn::Half),
        Just(Turn::Quarter),
        Just(Turn::Free)
    ];
    let grain = prop_oneof![2 => Just(None), 1 => Just(Some(0.0)), 1 => Just(Some(90.0))];
    let size = (20.0f64..150.0, 20.0f64..150.0, 0u8..3);
    (size, turn, grain, 1u32..5, 0u8..2).prop_map(|((w, h, kind), turn, grain, quantity, faces)| {
        let outline = match kind {
            0 => frame(w + 30.0, h + 30.0, 12.0),
            1 => Outline::polygon(
                [
                    (0.0, 0.0),
                    (w, 0.0),
                    (w, 0.6 * h),
                    (0.7 * w, 0.6 * h),
                    (0.7 * w, h),
                    (0.0, h),
                ]
                .map(|(x, y)| Point::new(x, y)),
            ),
            _ => Outline::rectangle(w, h),
        };
        Part {
            turn,
            grain_deg: grain,
            good_faces: faces,
            ..Part::new("part", outline, quantity)
        }
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    /// However parts may be turned and stock looks, what comes out passes the judge.
    #[test]
    fn every_nest_of_rectangles_passes_the_judge(
        parts in proptest::collection::vec(any_part(), 1..7), grain in prop_oneof![Just(None), Just(Some(90.0))],
        gap in 0.0f64..8.0, margin in 0.0f64..12.0,
    ) {
        let corners = [(0.0, 0.0), (300.0, 0.0), (300.0, 120.0), (130.0, 200.0), (0.0, 200.0)];
        let corners = corners.map(|(x, y)| Point::new(x, y)).to_vec();
        let stock = vec![
            Stock { grain_deg: grain, good_faces: 1, ..Stock::sheet("sheet", 400.0, 250.0, 5.0, 0) },
            Stock { good_faces: 2, ..Stock::remnant("remnant", Polygon::new(corners, Vec::new()), 1.0, 1) },
        ];
        let problem = Problem { gap, margin, ..Problem::new(parts, stock, vec![None, Some(1)]) };
        let told = |r: &Rectangles| {
            let each = problem.parts.iter().enumerate().map(|(i, part)| {
                let turns = r.parts[i].as_ref().is_some_and(|p| p.across) && !r.must_lie(i);
                let half = u32::from(turns) * part.quantity / 2;
                [half, u32::from(turns) * (part.quantity - half) / 2]
            });
            Way { told: each.collect(), ..Way::new(true) }
        };
        missing(&problem, |_| Way::new(true));
        missing(&problem, |_| Way::new(false));
        missing(&problem, told);
    }
}

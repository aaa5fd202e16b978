//! What the search calls clear, the judge and the geo crate call clear, where it is tight: parts that touch all round,
//! locks, parts exactly as wide as the sheet, features of a tenth of a millimetre, drawings ten metres away.

use super::*;
use crate::freeform::{StripProblem, nest_strip};

/// Where drawings and remnants lie.
const FAR: Vec2 = Vec2::new(9_876.543_21, -8_765.432_1);

fn far(points: &[(f64, f64)]) -> Outline {
    Outline::polygon(points.iter().map(|&(x, y)| Point::new(x, y) + FAR))
}

fn far_remnant(points: &[(f64, f64)], supply: usize) -> Stock {
    let ring = points
        .iter()
        .map(|&(x, y)| Point::new(x, y) + FAR)
        .collect();
    Stock::remnant("far", Polygon::new(ring, Vec::new()), 1.0, supply)
}

fn unturned(name: &str, outline: Outline, quantity: u32) -> Part {
    Part {
        turn: Turn::None,
        ..Part::new(name, outline, quantity)
    }
}

/// Through the judge and the geo crate.
fn judged(problem: &Problem, steps: u64) -> Nest {
    let budget = Budget {
        steps,
        ..Budget::default()
    };
    let nest = crate::nest(problem, &budget, &Control::none()).expect("the judge passes it");
    check(problem, &nest);
    nest
}

/// The same on a strip; its length.
fn judged_strip(strip: &StripProblem, steps: u64) -> f64 {
    let budget = Budget {
        steps,
        ..Budget::default()
    };
    let found = nest_strip(strip, &budget, &Control::none()).expect("the judge passes it");
    let layout = crate::Layout {
        stock: 0,
        placed: found.placed,
        saw_cuts: Vec::new(),
        offcuts: Vec::new(),
    };
    let nest = Nest {
        layouts: vec![layout],
        not_placed: Vec::new(),
    };
    check(&strip.on_sheet(found.length), &nest);
    found.length
}

/// A block with an undercut groove and the key to it: together 5 x 5 units. The key cannot be moved in within the
/// plane.
fn lock(unit: f64, slack: f64) -> [Vec<(f64, f64)>; 2] {
    let scaled = |points: &[(f64, f64)]| points.iter().map(|p| (unit * p.0, unit * p.1)).collect();
    let s = slack / unit;
    let block = [
        (0.0, 0.0),
        (5.0, 0.0),
        (5.0, 4.0),
        (3.0, 4.0),
        (3.0, 3.0),
        (4.0, 3.0),
        (4.0, 2.0),
        (1.0, 2.0),
        (1.0, 3.0),
        (2.0, 3.0),
        (2.0, 4.0),
        (0.0, 4.0),
    ];
    let key = [
        (1.0 + s, 2.0 + s),
        (4.0 - s, 2.0 + s),
        (4.0 - s, 3.0 - s),
        (3.0 - s, 3.0 - s),
        (3.0 - s, 4.0 + s),
        (5.0, 4.0 + s),
        (5.0, 5.0),
        (0.0, 5.0),
        (0.0, 4.0 + s),
        (2.0 + s, 4.0 + s),
        (2.0 + s, 3.0 - s),
        (1.0 + s, 3.0 - s),
    ];
    [scaled(&block), scaled(&key)]
}

/// Two hooks that grip each other: together a rectangle of 6 x 4 units.
const HOOK: [(f64, f64); 8] = [
    (0.0, 0.0),
    (4.0, 0.0),
    (4.0, 3.0),
    (3.0, 3.0),
    (3.0, 1.0),
    (2.0, 1.0),
    (2.0, 4.0),
    (0.0, 4.0),
];

#[test]
fn locks_close_at_any_size_and_place() {
    for (unit, slack) in [
        (100.0, 0.0),
        (0.1, 0.0),
        (0.1, 0.002),
        (1_800.0, 0.0),
        (1_800.0, 0.1),
    ] {
        let [block, key] = lock(unit, slack);
        let parts = vec![
            unturned("block", far(&block), 1),
            unturned("key", far(&key), 1),
        ];
        let side = 5.0 * unit;
        let problem = one_sheet(parts.clone(), side, side);
        let nest = judged(&problem, 50_000);
        assert!(nest.not_placed.is_empty(), "unit {unit}, slack {slack}");
        let length = judged_strip(&StripProblem::new(parts, side), 50_000);
        assert!(
            (length - side).abs() < 1e-5,
            "unit {unit}, slack {slack}: {length}"
        );
    }
}

#[test]
fn hooks_grip_each_other_far_away() {
    for unit in [0.1, 37.0, 1_000.0] {
        let hook: Vec<(f64, f64)> = HOOK.iter().map(|p| (unit * p.0, unit * p.1)).collect();
        let hooks = Part {
            turn: Turn::Half,
            ..Part::new("hook", far(&hook), 2)
        };
        // Turned by half the second one lies with its foot over the first one's.
        let (l, w) = (6.0 * unit, 4.0 * unit);
        let room = far_remnant(&[(0.0, 0.0), (l, 0.0), (l, w), (0.0, w)], 0);
        let problem = Problem::new(vec![hooks], vec![room], vec![Some(1)]);
        let nest = judged(&problem, 50_000);
        assert!(nest.not_placed.is_empty(), "unit {unit}");
    }
}

/// A rectangle cut in two along a line from its lower to its upper side with these steps to the right.
fn cut_in_two(length: f64, width: f64, at: f64, steps: &[f64]) -> [Vec<(f64, f64)>; 2] {
    let n = steps.len();
    let line: Vec<(f64, f64)> = steps
        .iter()
        .enumerate()
        .map(|(i, step)| (at + step, width * i as f64 / (n - 1) as f64))
        .collect();
    let mut left = vec![(0.0, 0.0)];
    left.extend(line.iter());
    left.push((0.0, width));
    let mut right = vec![(length, 0.0), (length, width)];
    right.extend(line.iter().rev());
    [left, right]
}

#[test]
fn combs_of_a_tenth_of_a_millimetre_mate() {
    // Teeth of a tenth, two to each side: with many more corners a part is covered more roughly.
    let line: Vec<(f64, f64)> = (0..4)
        .flat_map(|i| {
            let x = if i % 2 == 0 { 0.1 } else { 0.0 };
            let y = |i: i32| 0.1 * f64::from(i);
            [(x, y(i)), (x, y(i + 1))]
        })
        .collect();
    let width = line[line.len() - 1].1;
    let mut left = vec![(-1.0, 0.0)];
    left.extend(&line);
    left.push((-1.0, width));
    let mut right = vec![(1.0, 0.0), (1.0, width)];
    right.extend(line.iter().rev());
    let parts = vec![
        unturned("left", far(&left), 1),
        unturned("right", far(&right), 1),
    ];
    let nest = judged(&one_sheet(parts.clone(), 2.0, width), 50_000);
    assert!(nest.not_placed.is_empty());
    let length = judged_strip(&StripProblem::new(parts, width), 50_000);
    assert!((length - 2.0).abs() < 1e-5, "{length}");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(20))]

    #[test]
    fn halves_of_a_sheet_fill_it(
        length in 1.0..9_000.0_f64,
        share in 0.4..0.6_f64,
        width in 0.05..1.0_f64,
        steps in prop::collection::vec(-0.3..0.3_f64, 2..9),
        fine in any::<bool>(),
    ) {
        let width = width * length;
        // Either large swings, also undercut ones seen from the other side, or steps of a tenth.
        let unit = if fine { 0.1f64.min(0.5 * length) } else { length };
        let steps: Vec<f64> = steps.iter().map(|s| unit * s).collect();
        let [left, right] = cut_in_two(length, width, share * length, &steps);
        let parts = vec![unturned("left", far(&left), 1), unturned("right", far(&right), 1)];
        let nest = judged(&one_sheet(parts.clone(), length, width), 20_000);
        prop_assert!(nest.not_placed.is_empty(), "not on the sheet");
        let found = judged_strip(&StripProblem::new(parts, width), 20_000);
        prop_assert!((found - length).abs() < 1e-5, "{found} for {length}");
    }

    #[test]
    fn parts_as_wide_as_the_stock_fit(
        size in (0.1..9_000.0_f64, 0.1..9_000.0_f64),
        copies in 1..4_u32,
        gap in prop_oneof![Just(0.0), 0.1..20.0_f64],
        margin in prop_oneof![Just(0.0), 0.1..20.0_f64],
        kind in 0..4_u8,
        corner in (0.1..0.9_f64, 0.1..0.9_f64),
    ) {
        let (w, h) = size;
        let (x, y) = (corner.0 * w, corner.1 * h);
        let outline = match kind {
            0 => far(&[(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)]),
            1 => far(&[(0.0, 0.0), (w, 0.0), (w, y), (x, h), (0.0, h)]),
            2 => far(&[(x, 0.0), (w, y), (x, h), (0.0, y)]),
            _ => {
                let ring = Ring::rounded_rectangle(Point::default() + FAR, Point::new(w, h) + FAR, 0.2 * w.min(h));
                Outline::from_rings(ring, Vec::new())
            }
        };
        let n = f64::from(copies);
        // One after another as high as the stock, by their bounds.
        // Sharp corners keep a little more than the gap from each other: the round end of the gap is cut by sides
        // that lie outside of it.
        let spare = if kind == 2 { n * gap } else { 0.0 };
        let length = n * w + (n - 1.0) * gap + 2.0 * margin + spare;
        let width = h + 2.0 * margin;
        let parts = vec![unturned("part", outline, copies)];
        let mut problem = one_sheet(parts.clone(), length, width);
        (problem.gap, problem.margin) = (gap, margin);
        let nest = judged(&problem, 2_000);
        prop_assert!(nest.not_placed.is_empty(), "on the sheet: {:?}", nest.not_placed);
        problem.stock = vec![far_remnant(&[(0.0, 0.0), (length, 0.0), (length, width), (0.0, width)], 0)];
        let nest = judged(&problem, 2_000);
        prop_assert!(nest.not_placed.is_empty(), "on the remnant: {:?}", nest.not_placed);
        let mut strip = StripProblem::new(parts, width);
        (strip.gap, strip.margin) = (gap, margin);
        let found = judged_strip(&strip, 2_000);
        prop_assert!(found <= length + 1e-5, "{found} for {length}");
        // A hair wider than the room is too wide.
        problem.stock = vec![Stock::sheet("narrow", length, width - 1e-3, 1.0, 0)];
        let nest = judged(&problem, 300);
        prop_assert_eq!(nest.not_placed.len(), 1);
    }
}

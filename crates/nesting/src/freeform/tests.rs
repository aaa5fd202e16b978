//! Whole searches, judged by the geo crate: another implementation than the search's own.

use super::search;
use crate::verify::{Fault, judge};
use crate::{
    Angles, Budget, Control, KeepRule, Layout, Nest, Part, PlacedPart, Problem, Stock, Turn, Why,
};
use geo::{Area, BooleanOps, Distance, Euclidean, Length};
use panelwright_geometry::{Bounds, Outline, Placement, Point, Polygon, Ring, Side, Vec2, Vertex};
use proptest::prelude::*;
use std::sync::atomic::AtomicBool;

mod conservative;
mod random;
mod repeats;
mod tilings;

/// What the judge forgives, in millimetres.
const TOLERANCE: f64 = 1e-5;

/// Area of `a` and `b` together that is more than a touch.
fn overlap(a: &geo::Polygon<f64>, b: &geo::Polygon<f64>) -> bool {
    let length = Euclidean
        .length(a.exterior())
        .min(Euclidean.length(b.exterior()));
    a.intersection(b).unsigned_area() > TOLERANCE * length
}

/// Fails when two polygons are nearer than `gap`.
fn apart(a: &geo::Polygon<f64>, b: &geo::Polygon<f64>, gap: f64, what: &str) {
    if gap > 0.0 {
        let distance = Euclidean.distance(a, b);
        assert!(distance >= gap - TOLERANCE, "{what}: {distance} of {gap}");
    } else {
        assert!(!overlap(a, b), "{what} overlap");
    }
}

/// Fails when `nest` breaks a rule of `problem`.
fn check(problem: &Problem, nest: &Nest) {
    let mut counts = nest.placed_counts(problem);
    for n in &nest.not_placed {
        counts[n.part] += n.quantity;
    }
    let wanted: Vec<u32> = problem.parts.iter().map(|p| p.quantity).collect();
    assert_eq!(counts, wanted, "placed and missing make up the order");
    for (supply, pieces) in problem.supplies.iter().enumerate() {
        let taken = nest
            .layouts
            .iter()
            .filter(|l| l.stock(problem).supply == supply)
            .count();
        assert!(
            pieces.is_none_or(|n| taken <= n as usize),
            "supply {supply}"
        );
    }
    for layout in &nest.layouts {
        let stock = layout.stock(problem);
        let parts: Vec<geo::Polygon<f64>> = layout
            .placed
            .iter()
            .map(|p| {
                let shape = p.covering(problem);
                let holes = if problem.use_cutouts {
                    shape.holes
                } else {
                    Vec::new()
                };
                Polygon::new(shape.outer, holes).to_geo()
            })
            .collect();
        for (i, (placed, shape)) in layout.placed.iter().zip(&parts).enumerate() {
            let part = &problem.parts[placed.part];
            assert!(part.faces_fit(stock));
            if let Angles::Listed(angles) = part.angles(stock) {
                assert!(angles.contains(&placed.placement.angle_deg()));
            }
            for other in &parts[i + 1..] {
                apart(shape, other, problem.gap, "two parts");
            }
            let inside = |field: &Polygon| {
                let solid = Polygon::new(field.outer.clone(), Vec::new()).to_geo();
                shape.difference(&solid).unsigned_area() < 1e-2
                    && (problem.margin == 0.0
                        || field.edges().all(|(a, b)| {
                            let line = geo::Line::new((a.x, a.y), (b.x, b.y));
                            Euclidean.distance(&line, shape) >= problem.margin - TOLERANCE
                        }))
            };
            assert!(
                stock.fields().iter().any(inside),
                "part outside of every field"
            );
            for void in stock
                .outline
                .holes
                .iter()
                .chain(&stock.keep_clear)
                .chain(&stock.zones)
            {
                let void = Polygon::new(void.clone(), Vec::new()).to_geo();
                apart(shape, &void, problem.margin, "part and void");
            }
        }
    }
}

/// Searches and checks.
fn solved(problem: &Problem, steps: u64) -> Nest {
    problem.check().expect("a sound problem");
    let budget = Budget {
        steps,
        ..Budget::default()
    };
    let nest = search(problem, &budget, &Control::none());
    check(problem, &nest);
    nest
}

fn polygon(points: &[(f64, f64)]) -> Outline {
    Outline::polygon(points.iter().map(|&(x, y)| Point::new(x, y)))
}

fn one_sheet(parts: Vec<Part>, length: f64, width: f64) -> Problem {
    let sheet = Stock::sheet("sheet", length, width, 1.0, 0);
    Problem::new(parts, vec![sheet], vec![Some(1)])
}

fn with_window(outer: (f64, f64), window: (f64, f64, f64, f64)) -> Outline {
    let (x, y, w, h) = window;
    let hole = Ring::rounded_rectangle(Point::new(x, y), Point::new(x + w, y + h), 0.0);
    Outline::from_rings(Outline::rectangle(outer.0, outer.1).outer, vec![hole])
}

#[test]
fn squares_tile_a_sheet() {
    let problem = one_sheet(
        vec![Part::new("s", Outline::rectangle(30.5, 30.5), 24)],
        183.0,
        122.0,
    );
    assert!(solved(&problem, 1000).not_placed.is_empty());
    // The same with a gap and a margin: 6 x 30.5 + 5 x 6 + 2 x 10.
    let mut problem = one_sheet(
        vec![Part::new("s", Outline::rectangle(30.5, 30.5), 24)],
        233.0,
        160.0,
    );
    (problem.gap, problem.margin) = (6.0, 10.0);
    assert!(solved(&problem, 1000).not_placed.is_empty());
}

#[test]
fn tetrominoes_and_trominoes_fill_their_squares() {
    // Four T-tetrominoes in 4 x 4 and two L-trominoes in 2 x 3 (Golomb, Polyominoes; from memory).
    let t = polygon(&[
        (0.0, 0.0),
        (3.0, 0.0),
        (3.0, 1.0),
        (2.0, 1.0),
        (2.0, 2.0),
        (1.0, 2.0),
        (1.0, 1.0),
        (0.0, 1.0),
    ]);
    let l = polygon(&[
        (0.0, 0.0),
        (2.0, 0.0),
        (2.0, 1.0),
        (1.0, 1.0),
        (1.0, 2.0),
        (0.0, 2.0),
    ]);
    let nest = solved(&one_sheet(vec![Part::new("T", t, 4)], 4.0, 4.0), 100_000);
    assert!(nest.not_placed.is_empty());
    let nest = solved(&one_sheet(vec![Part::new("L", l, 2)], 3.0, 2.0), 100_000);
    assert!(nest.not_placed.is_empty());
}

#[test]
fn parts_go_into_cutouts_and_into_their_cutouts() {
    let frame = Part::new(
        "frame",
        with_window((500.0, 400.0), (50.0, 50.0, 400.0, 300.0)),
        1,
    );
    let inner = Part::new(
        "inner",
        with_window((380.0, 280.0), (40.0, 40.0, 300.0, 200.0)),
        1,
    );
    let core = Part::new("core", Outline::rectangle(280.0, 180.0), 1);
    let mut problem = one_sheet(vec![core, frame, inner], 520.0, 420.0);
    (problem.gap, problem.margin) = (10.0, 10.0);
    assert!(solved(&problem, 1000).not_placed.is_empty());
    problem.use_cutouts = false;
    let nest = solved(&problem, 1000);
    assert!(!nest.not_placed.is_empty());
    assert!(nest.not_placed.iter().all(|n| n.why == Why::StockUsedUp));
}

#[test]
fn what_fits_snugly_goes_into_windows_with_round_corners() {
    for (radius, insert) in [
        (1.6, (488.0, 188.0)),
        (3.0, (488.0, 188.0)),
        (3.0, (480.0, 188.0)),
        (3.0, (488.0, 180.0)),
        (20.0, (458.0, 188.0)),
    ] {
        let mut frame = Outline::rectangle(600.0, 300.0);
        let (from, to) = (Point::new(50.0, 50.0), Point::new(550.0, 250.0));
        let window = Ring::rounded_rectangle(from, to, radius);
        frame.holes.push(window.reversed());
        let parts = vec![
            Part::new("frame", frame, 1),
            Part::new("insert", Outline::rectangle(insert.0, insert.1), 1),
        ];
        let mut problem = one_sheet(parts, 620.0, 320.0);
        (problem.gap, problem.margin) = (6.0, 10.0);
        let nest = solved(&problem, 20_000);
        assert!(nest.not_placed.is_empty(), "{radius} {insert:?}");
    }
}

/// A plate with a window in it, and what is to go into that.
fn frame_and(window: Ring, insert: Outline, turn: Turn) -> Problem {
    let mut frame = Outline::rectangle(600.0, 300.0);
    frame.holes.push(window.reversed());
    let mut insert = Part::new("insert", insert, 1);
    insert.turn = turn;
    let parts = vec![Part::new("frame", frame, 1), insert];
    let mut problem = one_sheet(parts, 620.0, 320.0);
    (problem.gap, problem.margin) = (6.0, 10.0);
    problem
}

#[test]
fn what_reaches_into_round_corners_goes_into_windows() {
    let round = |w: f64, h: f64, radius: f64| {
        let ring = Ring::rounded_rectangle(Point::default(), Point::new(w, h), radius);
        Outline::from_rings(ring, Vec::new())
    };
    let window = |radius: f64| {
        Ring::rounded_rectangle(Point::new(50.0, 50.0), Point::new(550.0, 250.0), radius)
    };
    let disc =
        |radius: f64| Outline::from_rings(Ring::circle(Point::default(), radius), Vec::new());
    let hole = || Ring::circle(Point::new(300.0, 150.0), 100.0);
    for (window, insert, fits) in [
        (window(20.0), round(487.0, 187.0, 14.0), true),
        (window(20.0), round(487.8, 187.8, 13.8), true),
        (window(20.0), round(487.0, 187.0, 9.0), false),
        (window(100.0), round(487.0, 187.0, 93.0), true),
        (hole(), disc(93.0), true),
        (hole(), disc(93.9), true),
        (hole(), disc(94.1), false),
    ] {
        let size = insert.bounds();
        let problem = frame_and(window, insert, Turn::Half);
        let nest = solved(&problem, 20_000);
        assert_eq!(nest.not_placed.is_empty(), fits, "{size:?}");
    }
}

#[test]
fn bars_that_turn_freely_go_aslant_into_windows() {
    // Longer than the window, but not than its diagonal less what the width takes.
    let window = || Ring::rounded_rectangle(Point::new(50.0, 50.0), Point::new(550.0, 250.0), 3.0);
    for (length, fits) in [(495.0, true), (505.0, true), (530.0, false)] {
        let mut problem = frame_and(window(), Outline::rectangle(length, 25.0), Turn::Free);
        // As a bar that fits at some angle is drawn at any other.
        let drawn = Placement::new(17.0, Point::default());
        problem.parts[1].outline = problem.parts[1].outline.placed(&drawn);
        let nest = solved(&problem, 20_000);
        assert_eq!(nest.not_placed.is_empty(), fits, "{length}");
    }
}

#[test]
fn what_reaches_into_round_corners_goes_onto_remnants() {
    let ring = |w: f64, h: f64, radius: f64| {
        Ring::rounded_rectangle(Point::default(), Point::new(w, h), radius)
    };
    let plate = |w: f64, h: f64, radius: f64| Outline::from_rings(ring(w, h, radius), Vec::new());
    let circle =
        |radius: f64| Outline::from_rings(Ring::circle(Point::default(), radius), Vec::new());
    for (piece, part, fits) in [
        (plate(500.0, 200.0, 20.0), plate(487.8, 187.8, 13.8), true),
        (plate(500.0, 200.0, 20.0), plate(487.0, 187.0, 9.0), false),
        (circle(100.0), circle(93.9), true),
        (circle(100.0), circle(94.1), false),
    ] {
        let stock = Stock::remnant("r", piece.flatten(0.01, Side::Within), 1.0, 0);
        let mut problem = Problem::new(vec![Part::new("p", part, 1)], vec![stock], vec![Some(1)]);
        problem.margin = 6.0;
        let nest = solved(&problem, 1000);
        assert_eq!(
            nest.not_placed.is_empty(),
            fits,
            "{:?}",
            problem.parts[0].outline.bounds()
        );
    }
}

#[test]
fn what_turns_freely_goes_aslant_onto_round_remnants() {
    let ellipse = |along: f64, across: f64| {
        (0..72).map(move |k| {
            let (sin, cos) = (f64::from(k) * 5_f64.to_radians()).sin_cos();
            Point::new(along * cos, across * sin)
        })
    };
    // With a margin of 6, half a millimetre to 1.6 mm of play or too large; drawn at some angle.
    for (along, across, drawn) in [
        (300.0, 180.0, 37.0),
        (260.0, 90.0, 203.0),
        (150.0, 140.0, 81.3),
    ] {
        for (off, fits) in [(7.6, true), (5.5, false)] {
            let remnant = Polygon::new(ellipse(along, across).collect(), Vec::new());
            let stock = Stock::remnant("r", remnant, 1.0, 0);
            let turn = Placement::new(drawn, Point::new(40.0, -9.0));
            let part = ellipse(along - off, across - off).map(|p| turn.apply(p));
            let mut part = Part::new("p", Outline::polygon(part), 1);
            part.turn = Turn::Free;
            let mut problem = Problem::new(vec![part], vec![stock], vec![Some(1)]);
            problem.margin = 6.0;
            let nest = solved(&problem, 1000);
            assert_eq!(nest.not_placed.is_empty(), fits, "{along} {off}");
        }
    }
}

#[test]
fn many_copies_that_may_lie_anyhow_lie_in_rows() {
    let triangle = [(0.0, 0.0), (60.0, 0.0), (0.0, 45.0)].map(|(x, y)| Point::new(x, y));
    for turn in [Turn::Half, Turn::Quarter, Turn::Free] {
        let mut part = Part::new("gusset", Outline::polygon(triangle), 480);
        part.turn = turn;
        // Twelve by twenty pairs, and little beside them.
        let mut problem = one_sheet(vec![part], 752.0, 932.0);
        problem.gap = 0.1;
        let nest = solved(&problem, 2000);
        assert!(
            nest.not_placed.is_empty(),
            "{turn:?}: {:?}",
            nest.not_placed
        );
    }
}

#[test]
fn many_brackets_lie_aslant() {
    let corners = [(0, 0), (90, 0), (90, 18), (22, 18), (22, 64), (0, 64)];
    let corners = corners.map(|(x, y)| Point::new(f64::from(x), f64::from(y)));
    let part = Part::new("bracket", Outline::polygon(corners), 2000);
    let mut problem = one_sheet(vec![part], 2500.0, 1250.0);
    problem.gap = 3.0;
    problem.margin = 5.0;
    let nest = solved(&problem, 2000);
    let placed: usize = nest.layouts.iter().map(|l| l.placed.len()).sum();
    // Rows along the sheet take 885, and so a third sheet for 1,800 of them.
    assert!(placed > 905, "{placed}");
}

/// A crescent of many corners, 240 high: each lies in the hollow of the next, so that a pile of them grows by its thickness in the
/// middle, and begins and ends with its depth. These three.
pub(super) fn crescent() -> (Outline, f64, f64) {
    // Two circles through the same ends, 120 from the axis.
    let (outer, inner) = (136.0_f64, 200.0_f64);
    let middle = |radius: f64| -(radius * radius - 14_400.0).sqrt();
    let arc = |radius: f64| {
        (0..=60).map(move |i| {
            let angle = (f64::from(i) / 30.0 - 1.0) * (120.0 / radius).asin();
            Point::new(middle(radius), 0.0) + Vec2::from_angle(angle, radius)
        })
    };
    let corners = arc(outer).chain(arc(inner).rev().skip(1).take(59));
    let depth = |radius: f64| middle(radius) + radius;
    let thick = depth(outer) - depth(inner);
    (Outline::polygon(corners), thick, depth(outer))
}

#[test]
fn round_parts_in_rows_lie_in_each_other() {
    let (outline, thick, deep) = crescent();
    // One sheet has room for all of them, where the hollows are not filled.
    let length = 1.007 * (79.0 * thick + deep);
    let sheet = Stock::sheet("s", length, 241.0, 1.0, 0);
    let parts = vec![Part::new("crescent", outline, 80)];
    let problem = Problem::new(parts, vec![sheet], vec![None]);
    let nest = solved(&problem, 10_000);
    assert_eq!(nest.layouts.len(), 1);
}

#[test]
fn parts_go_round_a_void_and_a_flaw() {
    let mut stock = Stock::sheet("s", 300.0, 300.0, 1.0, 0);
    let ring = |x: f64, y: f64, side: f64| {
        Bounds::new(Point::new(x, y), Point::new(x + side, y + side))
            .corners()
            .to_vec()
    };
    stock.outline.holes.push(ring(110.0, 110.0, 80.0));
    stock.keep_clear.push(ring(-10.0, -10.0, 40.0));
    let part = Part::new("p", Outline::rectangle(90.0, 90.0), 8);
    let mut problem = Problem::new(vec![part], vec![stock], vec![Some(1)]);
    problem.gap = 3.0;
    problem.margin = 5.0;
    // Of the eight places round the void the flaw spoils the one in the corner.
    let nest = solved(&problem, 1000);
    assert_eq!(nest.placed_counts(&problem), vec![7]);
}

#[test]
fn a_frame_goes_round_what_is_kept_clear_with_its_window() {
    let ring = |low: f64, side: f64| {
        let (from, to) = (Point::new(low, low), Point::new(low + side, low + side));
        Bounds::new(from, to).corners().to_vec()
    };
    for what in 0..3 {
        // With the margin on both sides, 81 mm are more than the 100 of the window.
        for (side, fits) in [(20.0, true), (81.0, false)] {
            let mut frame = Outline::rectangle(300.0, 300.0);
            let (from, to) = (Point::new(100.0, 100.0), Point::new(200.0, 200.0));
            frame
                .holes
                .push(Ring::rounded_rectangle(from, to, 5.0).reversed());
            let mut problem = one_sheet(vec![Part::new("frame", frame, 1)], 330.0, 330.0);
            problem.margin = 10.0;
            let kept = ring(165.0 - 0.5 * side, side);
            match what {
                0 => problem.stock[0].outline.holes.push(kept),
                1 => problem.stock[0].keep_clear.push(kept),
                _ => problem.stock[0].zones.push(kept),
            }
            let nest = solved(&problem, 2000);
            assert_eq!(nest.not_placed.is_empty(), fits, "{what} {side}");
            assert!(
                nest.layouts.is_empty()
                    || crate::least_spend(&problem)
                        <= crate::spend_of(&problem, &nest.layouts[0]) + 1e-9
            );
        }
    }
}

#[test]
fn round_windows_go_round_voids_and_take_parts_when_pinned() {
    let circle = |radius: f64| {
        Outline::from_rings(Ring::circle(Point::new(240.0, 240.0), radius), Vec::new())
    };
    let frame = || {
        let mut frame = Outline::rectangle(480.0, 480.0);
        frame.holes.push(circle(200.0).outer.reversed());
        frame
    };
    for (radius, fits) in [(20.0, true), (189.9, true), (190.1, false)] {
        let mut problem = one_sheet(vec![Part::new("frame", frame(), 1)], 500.0, 500.0);
        problem.margin = 10.0;
        let void = circle(radius).flatten(0.001, Side::Within).outer;
        let void = void.iter().map(|p| *p + Vec2::new(10.0, 10.0));
        problem.stock[0].outline.holes.push(void.collect());
        let nest = solved(&problem, 1000);
        assert_eq!(nest.not_placed.is_empty(), fits, "void {radius}");
    }
    for (radius, fits) in [(150.0, true), (193.9, true), (194.1, false)] {
        let parts = vec![
            Part::new("frame", frame(), 1),
            Part::new("disc", circle(radius), 1),
        ];
        let mut problem = one_sheet(parts, 500.0, 500.0);
        problem.gap = 6.0;
        problem.stock[0].pinned = vec![PlacedPart {
            part: 0,
            placement: Placement::new(90.0, Point::new(495.0, 5.0)),
        }];
        let nest = solved(&problem, 1000);
        assert_eq!(nest.not_placed.is_empty(), fits, "disc {radius}");
    }
}

#[test]
fn an_l_shaped_remnant_is_filled() {
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
    let stock = Stock::remnant("r", outline, 1.0, 0);
    let part = Part::new("p", Outline::rectangle(300.0, 100.0), 15);
    let nest = solved(&Problem::new(vec![part], vec![stock], vec![Some(1)]), 1000);
    assert!(nest.not_placed.is_empty());
}

#[test]
fn a_part_as_wide_as_the_sheet_fits() {
    let mut problem = one_sheet(
        vec![Part::new("p", Outline::rectangle(700.0, 1199.2), 3)],
        2144.0,
        1219.2,
    );
    problem.parts[0].turn = Turn::Half;
    (problem.gap, problem.margin) = (12.0, 10.0);
    assert!(solved(&problem, 1000).not_placed.is_empty());
    problem.margin = 10.001;
    let nest = solved(&problem, 1000);
    assert_eq!(nest.not_placed[0].why, Why::TooLarge);
}

#[test]
fn turn_grain_and_faces_are_obeyed() {
    let mut part = Part::new("p", Outline::rectangle(400.0, 100.0), 5);
    part.grain_deg = Some(0.0);
    let mut stock = Stock::sheet("s", 200.0, 900.0, 1.0, 0);
    stock.grain_deg = Some(90.0);
    // Grain along the part and along the sheet: upright only, two rows of two.
    let mut problem = Problem::new(vec![part], vec![stock], vec![None]);
    let nest = solved(&problem, 1000);
    assert_eq!(nest.layouts.len(), 2);
    problem.stock[0].grain_deg = Some(0.0);
    assert_eq!(solved(&problem, 1000).not_placed[0].why, Why::FaceOrGrain);
    problem.stock[0].grain_deg = None;
    problem.parts[0].turn = Turn::None;
    assert_eq!(solved(&problem, 1000).not_placed[0].why, Why::TooLarge);
    problem.parts[0].turn = Turn::Quarter;
    problem.parts[0].good_faces = 2;
    assert_eq!(solved(&problem, 1000).not_placed[0].why, Why::FaceOrGrain);
}

#[test]
fn blanks_are_fields_of_their_own() {
    let mut stock = Stock::sheet("s", 1003.0, 500.0, 1.0, 0);
    let blank = |x: f64| Bounds::new(Point::new(x, 0.0), Point::new(x + 500.0, 500.0));
    stock.break_down = Some(crate::BreakDown {
        cuts: vec![crate::SawCut {
            from: Point::new(501.5, 0.0),
            to: Point::new(501.5, 500.0),
            kerf: 3.0,
            stage: 1,
        }],
        blanks: vec![blank(0.0), blank(503.0)],
    });
    let part = Part::new("p", Outline::rectangle(600.0, 100.0), 1);
    let small = Part::new("q", Outline::rectangle(480.0, 480.0), 2);
    let mut problem = Problem::new(vec![part, small], vec![stock], vec![Some(1)]);
    problem.margin = 10.0;
    let nest = solved(&problem, 1000);
    assert_eq!(nest.placed_counts(&problem), vec![0, 2]);
    assert_eq!(nest.not_placed[0].why, Why::TooLarge);
    assert_eq!(nest.layouts[0].saw_cuts.len(), 1);
}

#[test]
fn freely_turned_parts_fit_a_slanted_remnant() {
    // A square standing on its corner takes the same square only when that is turned too.
    let diamond = [(0.0, 100.0), (100.0, 0.0), (200.0, 100.0), (100.0, 200.0)];
    let outline = Polygon::new(
        diamond.iter().map(|&(x, y)| Point::new(x, y)).collect(),
        Vec::new(),
    );
    let stock = Stock::remnant("r", outline, 1.0, 0);
    let mut part = Part::new("p", Outline::rectangle(141.0, 70.0), 2);
    part.turn = Turn::Free;
    let nest = solved(&Problem::new(vec![part], vec![stock], vec![Some(1)]), 1000);
    assert!(nest.not_placed.is_empty());
}

#[test]
fn a_part_that_fits_aslant_only_is_placed() {
    // Between 23 and 26 degrees, which no edge and no usual division of the turn hits.
    let mut part = Part::new("p", Outline::rectangle(1070.0, 40.0), 1);
    part.turn = Turn::Free;
    let mut problem = one_sheet(vec![part], 1020.0, 520.0);
    problem.margin = 10.0;
    assert!(solved(&problem, 1000).not_placed.is_empty());
    problem.margin = 20.0;
    let nest = solved(&problem, 1000);
    assert_eq!(nest.not_placed[0].why, Why::TooLarge);
}

#[test]
fn free_turns_are_refined() {
    // Four right-angled triangles round a square in a larger square (Bhaskara's proof of the theorem of
    // Pythagoras): the inner square stands at an angle that only its neighbours tell.
    for (long, short) in [(200.0, 90.0), (170.0, 60.0)] {
        let triangle = polygon(&[(0.0, 0.0), (long, 0.0), (0.0, short)]);
        let inner = f64::hypot(long, short) - 0.2;
        let mut parts = vec![
            Part::new("triangle", triangle, 4),
            Part::new("square", Outline::rectangle(inner, inner), 1),
        ];
        parts[1].turn = Turn::Free;
        let problem = one_sheet(parts, long + short, long + short);
        let nest = solved(&problem, 2_000_000);
        assert!(nest.not_placed.is_empty(), "{:?}", nest.not_placed);
    }
}

/// Radius of n equal circles in a unit square, best known: up to 9 and 12 as the project's trade facts have it
/// (A6, with proofs), the others from E. Specht's table of best known packings, from memory.
const CIRCLES: [(u32, f64); 18] = [
    (1, 0.5),
    (2, 0.292_893_219),
    (3, 0.254_333_095),
    (4, 0.25),
    (5, 0.207_106_781),
    (6, 0.187_680_601),
    (7, 0.174_457_631),
    (8, 0.170_540_689),
    (9, 0.166_666_667),
    (10, 0.148_204_323),
    (11, 0.142_399_238),
    (12, 0.139_958_844),
    (13, 0.133_993_514),
    (14, 0.129_331_794),
    (15, 0.127_166_548),
    (16, 0.125),
    (20, 0.111_382_348),
    (30, 0.091_671_058),
];

fn circles(radius: f64, n: u32) -> Vec<Part> {
    let outline = Outline::from_rings(Ring::circle(Point::default(), radius), Vec::new());
    vec![Part::new("c", outline, n)]
}

#[test]
fn circles_never_beat_the_published_table() {
    let side = 1000.0;
    for (n, radius) in CIRCLES {
        // A hair too large. Covering curves with chords takes a fiftieth of a millimetre away on top.
        let parts = circles(side * radius * 1.0002, n);
        let problem = one_sheet(parts.clone(), side, side);
        assert!(
            !solved(&problem, 8_000).not_placed.is_empty(),
            "{n} circles too large"
        );
        // Nor on a strip as wide: one no longer would be that square.
        let strip = crate::freeform::StripProblem::new(parts, side);
        let budget = Budget {
            steps: 8_000,
            ..Budget::default()
        };
        let strip = crate::freeform::nest_strip(&strip, &budget, &Control::none());
        // A single one is wider than the strip.
        assert_eq!(strip.is_err(), n == 1);
        let length = strip.map_or(f64::INFINITY, |s| s.length);
        assert!(length > side, "{n} circles on {length}");
    }
}

#[test]
fn circles_come_near_the_published_table() {
    let side = 1000.0;
    for (n, radius) in CIRCLES.into_iter().filter(|c| c.0 <= 9) {
        let problem = one_sheet(circles(side * radius * 0.97, n), side, side);
        let nest = solved(&problem, 300_000);
        assert!(nest.not_placed.is_empty(), "{n} circles");
    }
}

/// A mixed order: frames, rounded plates, brackets, discs, a star.
fn mixed_order(copies: u32) -> Problem {
    let rounded = |w: f64, h: f64, r: f64| {
        Outline::from_rings(
            Ring::rounded_rectangle(Point::default(), Point::new(w, h), r),
            Vec::new(),
        )
    };
    let star = polygon(&[
        (0.0, 0.0),
        (60.0, 30.0),
        (120.0, 0.0),
        (90.0, 60.0),
        (120.0, 120.0),
        (60.0, 90.0),
        (0.0, 120.0),
        (30.0, 60.0),
    ]);
    let l = polygon(&[
        (0.0, 0.0),
        (200.0, 0.0),
        (200.0, 60.0),
        (60.0, 60.0),
        (60.0, 180.0),
        (0.0, 180.0),
    ]);
    let disc = Outline::from_rings(Ring::circle(Point::default(), 70.0), Vec::new());
    let mut parts = vec![
        Part::new(
            "frame",
            with_window((600.0, 500.0), (60.0, 60.0, 480.0, 380.0)),
            copies,
        ),
        Part::new("plate", rounded(350.0, 220.0, 30.0), 2 * copies),
        Part::new("bracket", l, 3 * copies),
        Part::new("disc", disc, 2 * copies),
        Part::new("star", star, 3 * copies),
    ];
    parts[2].turn = Turn::Free;
    let sheet = Stock::sheet("sheet", 1500.0, 1000.0, 100.0, 0);
    let rest = Stock {
        cost: 20.0,
        supply: 1,
        ..Stock::sheet("rest", 500.0, 400.0, 20.0, 1)
    };
    let mut problem = Problem::new(parts, vec![sheet, rest], vec![None, Some(1)]);
    (problem.gap, problem.margin) = (6.0, 10.0);
    for stock in &mut problem.stock {
        stock.keep = KeepRule {
            least_width: 150.0,
            least_length: 300.0,
            value_per_area: 3e-5,
            handling: 0.0,
            scrap_cost_per_area: 1e-6,
            ..KeepRule::default()
        };
    }
    problem
}

/// What the search finds on so many threads.
fn search_on(threads: usize, problem: &Problem, budget: &Budget) -> Nest {
    rayon::ThreadPoolBuilder::new()
        .num_threads(threads)
        .build()
        .expect("a pool")
        .install(|| search(problem, budget, &Control::none()))
}

#[test]
fn the_thread_count_does_not_matter() {
    let problem = mixed_order(3);
    let budget = Budget {
        steps: 60_000,
        ..Budget::default()
    };
    let on = |threads: usize| search_on(threads, &problem, &budget);
    let nest = on(1);
    check(&problem, &nest);
    assert!(nest.not_placed.is_empty());
    assert_eq!(nest, on(2));
}

#[test]
fn cancelling_returns_at_once() {
    let problem = mixed_order(20);
    let flag = AtomicBool::new(true);
    let start = std::time::Instant::now();
    let nest = search(
        &problem,
        &Budget::default(),
        &Control::none().with_cancel(&flag),
    );
    check(&problem, &nest);
    assert!(start.elapsed().as_secs_f64() < 2.0);
}

#[test]
fn a_whole_nest_comes_first_where_that_is_asked_for() {
    // Nothing that would be laid as rectangles, which is not stopped either.
    let triangle = polygon(&[(0.0, 0.0), (120.0, 0.0), (50.0, 100.0)]);
    let mut part = Part::new("triangle", triangle, 100);
    part.turn = Turn::Free;
    let problem = one_sheet(vec![part], 2440.0, 1220.0);
    let flag = AtomicBool::new(true);
    let control = || Control::none().with_cancel(&flag);
    let nest = search(&problem, &Budget::default(), &control());
    assert!(!nest.not_placed.is_empty());
    let start = std::time::Instant::now();
    let nest = search(&problem, &Budget::default(), &control().with_whole_first());
    check(&problem, &nest);
    assert!(nest.not_placed.is_empty());
    assert!(start.elapsed().as_secs_f64() < 2.0);
}

#[test]
fn the_longest_time_limit_is_one() {
    let problem = Problem::new(
        vec![Part::new("plate", Outline::rectangle(300.0, 200.0), 4)],
        vec![Stock::sheet("sheet", 1_000.0, 600.0, 40.0, 0)],
        vec![None],
    );
    let budget = Budget {
        steps: 1_000,
        limit: Some(std::time::Duration::MAX),
        ..Budget::default()
    };
    let nest = search(&problem, &budget, &Control::none());
    assert_eq!(crate::verify::judge(&problem, &nest), []);
}

#[test]
fn a_time_limit_ends_the_search() {
    let problem = mixed_order(2);
    let budget = Budget {
        steps: u64::MAX,
        limit: Some(std::time::Duration::from_millis(300)),
        ..Budget::default()
    };
    let start = std::time::Instant::now();
    let nest = search(&problem, &budget, &Control::none());
    check(&problem, &nest);
    assert!(nest.not_placed.is_empty());
    assert!(start.elapsed().as_secs_f64() < 4.0);
}

#[test]
fn more_work_never_costs_more() {
    let problem = mixed_order(2);
    let spend = |steps| solved(&problem, steps).spend(&problem);
    assert!(spend(100_000) <= spend(1) + 1e-9);
}

/// A star-shaped polygon from radii.
fn star_shaped(radii: &[f64]) -> Outline {
    let n = radii.len() as f64;
    Outline::polygon(radii.iter().enumerate().map(|(i, r)| {
        Point::default() + Vec2::from_angle(std::f64::consts::TAU * i as f64 / n, *r)
    }))
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(32))]

    #[test]
    fn random_parts_keep_their_distance(
        shapes in prop::collection::vec(prop::collection::vec(10.0..120.0_f64, 3..11), 1..5),
        field in prop::collection::vec(150.0..500.0_f64, 4..9),
        gap in prop_oneof![Just(0.0), 0.01..12.0_f64],
        margin in prop_oneof![Just(0.0), 0.01..12.0_f64],
        free in any::<bool>(),
        windows in any::<bool>(),
    ) {
        let parts = shapes
            .iter()
            .enumerate()
            .map(|(i, radii)| {
                let mut outline = star_shaped(radii);
                if windows && i % 2 == 0 {
                    let inner: Vec<f64> = radii.iter().map(|r| 0.7 * r).collect();
                    outline = Outline::from_rings(outline.outer, vec![star_shaped(&inner).outer]);
                }
                let mut part = Part::new(format!("p{i}"), outline, 3);
                if free {
                    part.turn = Turn::Free;
                }
                part
            })
            .collect();
        let remnant = Polygon::new(star_shaped(&field).covering().outer, Vec::new());
        let stock = vec![
            Stock::remnant("r", remnant, 1.0, 0),
            Stock::sheet("s", 400.0, 300.0, 3.0, 1),
        ];
        let mut problem = Problem::new(parts, stock, vec![Some(1), Some(3)]);
        problem.gap = gap;
        problem.margin = margin;
        solved(&problem, 3000);
    }
}

#[test]
fn odd_problems_do_not_panic() {
    let wavy = (0..2000).map(|i| {
        let angle = std::f64::consts::TAU * f64::from(i) / 2000.0;
        let reach = 150.0 + 20.0 * (7.0 * angle).sin() + 0.05 * (400.0 * angle).sin();
        Point::new(50_000.0, -80_000.0) + Vec2::from_angle(angle, reach)
    });
    // Fingers of 0.1 mm along one edge.
    let mut comb = vec![(0.0, 0.0), (200.0, 0.0), (200.0, 50.0)];
    for i in (0..400).rev() {
        let x = 0.25 + f64::from(i) * 0.49;
        comb.extend([(x + 0.1, 50.0), (x + 0.1, 50.1), (x, 50.1), (x, 50.0)]);
    }
    comb.push((0.0, 50.0));
    let sliver = [(0.0, 0.0), (1000.0, 0.001), (500.0, 0.002)];
    let needle = [(0.0, 0.0), (900.0, 0.0), (900.0, 1e-4), (0.0, 1e-4)];
    let spiral: Vec<(f64, f64)> = (0..60)
        .map(|i| (f64::from(i), 20.0 + 2.0 * f64::from(i)))
        .chain(
            (0..60)
                .rev()
                .map(|i| (f64::from(i), 14.0 + 2.0 * f64::from(i))),
        )
        .map(|(i, r)| (r * (0.3 * i).cos(), r * (0.3 * i).sin()))
        .collect();
    let mut parts = vec![
        Part::new("wavy", Outline::polygon(wavy), 3),
        Part::new("comb", polygon(&comb), 3),
        Part::new("sliver", polygon(&sliver), 2),
        Part::new("needle", polygon(&needle), 2),
        Part::new("spiral", polygon(&spiral), 2),
        Part::new("huge", Outline::rectangle(9_900.0, 2_900.0), 1),
    ];
    parts[4].turn = Turn::Free;
    let bow = [(0.0, 0.0), (900.0, 600.0), (900.0, 0.0), (0.0, 500.0)];
    let bow = Polygon {
        outer: bow.iter().map(|&(x, y)| Point::new(x, y)).collect(),
        holes: Vec::new(),
    };
    let mut flawed = Stock::sheet("flawed", 1200.0, 800.0, 1.0, 1);
    flawed.keep_clear = vec![
        bow.outer.clone(),
        vec![Point::new(1100.0, 700.0)],
        vec![Point::new(900.0, 700.0), Point::new(950.0, 790.0)],
    ];
    let stock = vec![
        Stock::remnant("crossed", bow, 1.0, 0),
        flawed,
        Stock::sheet("narrow", 3000.0, 15.0, 1.0, 0),
        Stock::sheet("large", 10_000.0, 3_000.0, 9.0, 2),
    ];
    let mut problem = Problem::new(parts, stock, vec![Some(1), None, Some(2)]);
    (problem.gap, problem.margin) = (5.0, 10.0);
    let budget = Budget {
        steps: 20_000,
        ..Budget::default()
    };
    let nest = search(&problem, &budget, &Control::none());
    let placed: u32 = nest.placed_counts(&problem).iter().sum();
    let missing: u32 = nest.not_placed.iter().map(|n| n.quantity).sum();
    assert_eq!((placed, missing), (13, 0));
    for empty in [
        Problem::new(Vec::new(), problem.stock.clone(), problem.supplies.clone()),
        Problem::new(problem.parts.clone(), Vec::new(), Vec::new()),
    ] {
        assert!(search(&empty, &budget, &Control::none()).layouts.is_empty());
    }
}

#[test]
fn large_orders_come_quickly() {
    // The plain copies of a mixed order, 2,200 parts: the first nesting must not explode.
    let problem = mixed_order(200);
    let budget = Budget {
        steps: 1,
        ..Budget::default()
    };
    let start = std::time::Instant::now();
    let nest = search(&problem, &budget, &Control::none());
    assert!(nest.not_placed.is_empty());
    assert!(start.elapsed().as_secs_f64() < 20.0);
}

#[test]
fn a_large_order_is_put_together_from_sheets_that_suit() {
    // Three frames to a sheet; each plate fits a window exactly, so that the frames' sheets are enough.
    let mut frame = Outline::rectangle(300.0, 300.0);
    let window = Ring::rounded_rectangle(Point::new(50.0, 50.0), Point::new(250.0, 250.0), 0.0);
    frame.holes.push(window.reversed());
    let parts = vec![
        Part::new("plate", Outline::rectangle(200.0, 200.0), 72),
        Part::new("frame", frame, 72),
        Part::new("strip", Outline::rectangle(290.0, 45.0), 36),
    ];
    let stock = vec![Stock::sheet("sheet", 900.0, 300.0, 10.0, 0)];
    let problem = Problem::new(parts, stock, vec![None]);
    let budget = Budget {
        steps: 600_000,
        ..Budget::default()
    };
    let on = |threads: usize| search_on(threads, &problem, &budget);
    let nest = on(1);
    check(&problem, &nest);
    assert!(nest.not_placed.is_empty());
    // 24 for the frames and two for the strips, 18 to a sheet.
    assert_eq!(nest.layouts.len(), 26);
    assert_eq!(nest, on(2));
}

/// Stock of one order may have margins of its own: a part that is as wide as a remnant less its margin
/// goes on that, and on a sheet of the same size it does not.
#[test]
fn stock_has_a_margin_of_its_own() {
    let wide = |margin: f64| 500.0 - 2.0 * margin;
    for (own, side, fits) in [
        (None, wide(10.0), true),
        (None, wide(9.9), false),
        (Some(4.0), wide(4.0), true),
        (Some(4.0), wide(3.9), false),
        (Some(15.0), wide(15.0), true),
        (Some(15.0), wide(14.9), false),
    ] {
        let remnant = Stock {
            margin: own,
            ..Stock::remnant("remnant", Polygon::rectangle(500.0, 500.0), 10.0, 0)
        };
        let problem = Problem {
            margin: 10.0,
            gap: 6.0,
            kerf: 3.0,
            ..Problem::new(
                vec![Part::new("part", Outline::rectangle(side, side), 1)],
                vec![remnant],
                vec![Some(1)],
            )
        };
        let budget = Budget {
            steps: 1_000,
            ..Budget::default()
        };
        let nest = crate::nest(&problem, &budget, &Control::none()).expect("a sound problem");
        assert_eq!(nest.not_placed.is_empty(), fits, "{own:?} {side}");
        // The floor knows it too, and the judge holds it against the margin of the stock.
        assert_eq!(crate::least_spend(&problem) > 0.0, fits, "{own:?} {side}");
        if fits {
            let mut nearer = problem.clone();
            nearer.stock[0].margin = Some(own.unwrap_or(10.0) + 0.1);
            assert_eq!(crate::verify::judge(&nearer, &nest).len(), 1);
        }
    }
}

#[test]
fn short_stock_gives_many_copies_at_once() {
    // By hand: four large plates, or ten rows of ten small ones.
    let parts = vec![
        Part::new("large", Outline::rectangle(490.0, 490.0), 4),
        Part::new("small", Outline::rectangle(98.0, 98.0), 100),
    ];
    let sheet = Stock::sheet("sheet", 1000.0, 1000.0, 1.0, 0);
    let problem = Problem::new(parts, vec![sheet], vec![Some(1)]);
    let budget = Budget {
        steps: 1,
        ..Budget::default()
    };
    let nest = search(&problem, &budget, &Control::none());
    check(&problem, &nest);
    let placed: u32 = nest.placed_counts(&problem).iter().sum();
    assert!(placed >= 100, "{placed}");
}

#[test]
fn clamps_keep_the_machines_margin_on_remnants_too() {
    // Beside the clamp there are 360 mm, of which 347 are left with 10 mm to the clamp and 3 to the clean edge, and 354 with
    // 3 mm to both.
    for (length, placed) in [(352.0, 0), (340.0, 1)] {
        let clamp = Bounds::new(Point::new(-50.0, 40.0), Point::new(40.0, 60.0));
        let remnant = Stock {
            margin: Some(3.0),
            zones: vec![clamp.corners().to_vec()],
            ..Stock::remnant("r", Polygon::rectangle(400.0, 100.0), 1.0, 0)
        };
        let part = Part::new("p", Outline::rectangle(length, 94.0), 1);
        let problem = Problem {
            margin: 10.0,
            gap: 6.0,
            ..Problem::new(vec![part], vec![remnant], vec![Some(1)])
        };
        let budget = Budget {
            steps: 5_000,
            ..Budget::default()
        };
        let nest = search(&problem, &budget, &Control::none());
        assert_eq!(judge(&problem, &nest), []);
        let count: usize = nest.layouts.iter().map(|l| l.placed.len()).sum();
        assert_eq!(count, placed, "{length}");
        for part in nest.layouts.iter().flat_map(|l| &l.placed) {
            let bounds = part.outline(&problem).bounds();
            assert!(bounds.min.x >= 50.0 - 1e-6, "{bounds:?}");
        }
        // What the margin of the edges would allow, the judge refuses.
        let mut close = nest.clone();
        let nearer = PlacedPart {
            part: 0,
            placement: Placement::new(0.0, Point::new(43.0, 3.0)),
        };
        close.layouts = vec![Layout {
            placed: vec![nearer],
            ..Layout::bare(&problem, 0)
        }];
        let faults = judge(&problem, &close);
        let told = |f: &Fault| matches!(f, Fault::OnZone { margin, .. } if *margin == 10.0);
        assert!(faults.iter().any(told), "{faults:?}");
    }
}

#[test]
fn round_parts_go_where_only_close_covers_leave_room() {
    // Two discs across the diagonal of a square sheet, a third of a millimetre apart from touching the gap, by hand.
    let (radius, gap, margin) = (100.0, 6.0, 10.0);
    let side = 2.0 * (radius + margin) + (2.0 * radius + gap) / 2.0f64.sqrt() + 0.25;
    let disc = |radius: f64, quantity| {
        let ring = Ring::circle(Point::default(), radius);
        Part::new("disc", Outline::from_rings(ring, Vec::new()), quantity)
    };
    let on_sheet = |parts: Vec<Part>, length: f64, width: f64| Problem {
        gap,
        margin,
        ..one_sheet(parts, length, width)
    };
    let nest = solved(&on_sheet(vec![disc(radius, 2)], side, side), 300_000);
    assert_eq!(nest.not_placed, [], "two discs");
    // A disc in the mouth of a half ring, 2 mm wider all round than the gap needs.
    let arc = |x: f64, y: f64, bulge: f64| Vertex::new(x, y, bulge);
    let half_ring = Ring::new(vec![
        arc(200.0, 0.0, 1.0),
        arc(-200.0, 0.0, 0.0),
        arc(-108.0, 0.0, -1.0),
        arc(108.0, 0.0, 0.0),
    ]);
    let half_ring = Part::new("half ring", Outline::from_rings(half_ring, Vec::new()), 1);
    let parts = vec![half_ring, disc(radius, 1)];
    let nest = solved(&on_sheet(parts, 420.2, 320.2), 300_000);
    assert_eq!(nest.not_placed, [], "a disc in a half ring");
}

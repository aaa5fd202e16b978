//! The judge's verdicts against another library's: distances and boolean areas of the `geo` crate.

use super::*;
use crate::Turn;
use crate::verify::piece::{Piece, Run};
use crate::verify::shape::Shape;
use geo::{Area, BooleanOps, Distance, Euclidean, Length, Validation};
use panelwright_geometry::Polygon;
use proptest::prelude::*;

/// A star-shaped polygon about the origin: spokes at even angles, of these lengths.
fn star(spokes: &[f64]) -> Vec<Point> {
    let step = std::f64::consts::TAU / spokes.len() as f64;
    spokes
        .iter()
        .enumerate()
        .map(|(i, r)| {
            let (sin, cos) = (i as f64 * step + 0.1).sin_cos();
            Point::new(r * cos, r * sin)
        })
        .collect()
}

fn shape() -> impl Strategy<Value = Polygon> {
    let spokes = prop::collection::vec(12.0..60.0_f64, 3..14);
    (spokes, prop::option::of(0.1..0.8_f64)).prop_map(|(spokes, hole)| {
        let outer = star(&spokes);
        // A smaller copy of the outside is inside it wherever the outside is seen from the middle.
        let holes = hole
            .map(|share| {
                outer
                    .iter()
                    .map(|p| Point::new(share * p.x, share * p.y))
                    .collect()
            })
            .into_iter()
            .collect();
        Polygon::new(outer, holes)
    })
}

/// A bound from below on the radius of the largest circle in a region: area over length of border.
fn least_depth(region: &geo::MultiPolygon) -> f64 {
    region
        .iter()
        .map(|p| {
            let rings = std::iter::once(p.exterior()).chain(p.interiors());
            let border: f64 = rings.map(|r| Euclidean.length(r)).sum();
            p.unsigned_area() / border.max(1e-12)
        })
        .fold(0.0, f64::max)
}

fn as_part(name: &str, polygon: &Polygon) -> Part {
    let ring = |points: &Vec<Point>| panelwright_geometry::Ring::polygon(points.iter().copied());
    let outline = Outline::from_rings(
        ring(&polygon.outer),
        polygon.holes.iter().map(ring).collect(),
    );
    Part {
        turn: Turn::Free,
        ..Part::new(name, outline, 1)
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn overlap_and_gap(
        a in shape(),
        b in shape(),
        angle in 0.0..360.0_f64,
        dx in -110.0..110.0_f64,
        dy in -110.0..110.0_f64,
        gap in 0.0..25.0_f64,
    ) {
        let gap = if gap < 5.0 { 0.0 } else { gap };
        let problem = Problem {
            gap,
            ..problem(vec![as_part("first", &a), as_part("second", &b)], sheet(600.0, 600.0))
        };
        let placed = [at(0, 300.0, 300.0), turned(1, angle, 300.0 + dx, 300.0 + dy)];
        let faults = judge(&problem, &nest(placed.to_vec()));

        let (ga, gb) = (
            a.placed(&placed[0].placement).to_geo(),
            b.placed(&placed[1].placement).to_geo(),
        );
        let shared = ga.intersection(&gb);
        let distance = Euclidean.distance(&ga, &gb);
        let depth = least_depth(&shared);
        let shared = shared.unsigned_area();
        let overlap = faults.iter().any(|f| matches!(f, Fault::Overlap { .. }));
        let short = faults.iter().any(|f| matches!(f, Fault::GapShort { .. }));
        prop_assert!(faults.len() <= 1, "{faults:?}");
        // Between touching and overlapping by a hair the two libraries may differ.
        if depth > 2e-5 {
            prop_assert!(overlap, "{shared} mm2 shared, {faults:?}");
        } else if shared == 0.0 && distance > 1e-6 {
            prop_assert!(!overlap, "{distance} mm apart, {faults:?}");
            if (distance - gap).abs() > 2e-5 {
                prop_assert_eq!(short, distance < gap, "{} mm apart", distance);
            }
            // The verdict turns at the distance that the other library measures.
            for (gap, apart) in [(distance - 5e-5, true), (distance + 5e-5, false)] {
                let problem = Problem { gap, ..problem.clone() };
                prop_assert_eq!(judge(&problem, &nest(placed.to_vec())).is_empty(), apart);
            }
            if let Some(Fault::GapShort { distance: judged, .. }) = faults.first() {
                prop_assert!((judged - distance).abs() < 1e-6, "{judged} and {distance}");
            }
        }
    }

    #[test]
    fn containment(
        field in shape(),
        part in prop::collection::vec(2.0..30.0_f64, 3..9),
        dx in -40.0..40.0_f64,
        dy in -40.0..40.0_f64,
    ) {
        let moved: Vec<Point> = star(&part).iter().map(|p| Point::new(p.x + dx, p.y + dy)).collect();
        let part = Polygon::new(moved, Vec::new());
        let outside = part.to_geo().difference(&field.to_geo());
        let depth = least_depth(&outside);
        let outside = outside.unsigned_area();
        let judged = Shape::new(&part).sticks_out_of(&Shape::new(&field), 1e-5);
        if depth > 2e-5 {
            prop_assert!(judged.is_some(), "{outside} mm2 outside");
        } else if outside == 0.0 {
            prop_assert!(judged.is_none(), "{judged:?}");
        }
    }

    #[test]
    fn slid_together_until_they_touch(
        a in shape(),
        b in shape(),
        angle in 0.0..360.0_f64,
        dy in -40.0..40.0_f64,
        into in prop::sample::select(vec![-1e-2, -1e-3, 1e-7, 1e-4, 1e-3, 1e-2]),
    ) {
        let problem = problem(
            vec![as_part("first", &a), as_part("second", &b)],
            sheet(600.0, 600.0),
        );
        let first = at(0, 300.0, 300.0);
        let fixed = a.placed(&first.placement).to_geo();
        let second = |dx: f64| turned(1, angle, 300.0 + dx, 300.0 + dy);
        let meets = |dx: f64| {
            let moving = b.placed(&second(dx).placement).to_geo();
            Euclidean.distance(&fixed, &moving) == 0.0
        };
        let (mut near, mut far) = (0.0, 130.0);
        prop_assume!(meets(near) && !meets(far));
        for _ in 0..60 {
            let middle = 0.5 * (near + far);
            if meets(middle) { near = middle } else { far = middle }
        }
        let laid = second(far - into);
        let shared = fixed.intersection(&b.placed(&laid.placement).to_geo());
        let faults = judge(&problem, &nest(vec![first, laid]));
        if into < 1e-6 {
            prop_assert!(faults.is_empty() || least_depth(&shared) > 1e-6, "{faults:?}");
        } else if least_depth(&shared) > 2e-5 {
            prop_assert!(!faults.is_empty(), "{} mm2", shared.unsigned_area());
        }
    }

    #[test]
    fn what_a_cut_leaves(
        stock in shape(),
        at in -50.0..50.0_f64,
        kerf in prop::sample::select(vec![0.0, 3.0, 12.5]),
        rip in any::<bool>(),
    ) {
        let run = if rip { Run::Rip } else { Run::Crosscut };
        agree_on_a_cut(&stock, run, at, kerf)?;
    }

    /// Corners on the saw line, edges along it, and notches that just reach it.
    #[test]
    fn what_a_cut_leaves_on_a_coarse_grid(stock in shape(), step in 8.0..25.0_f64, rip in any::<bool>()) {
        let coarse = |ring: &Vec<Point>| {
            let mut ring: Vec<Point> = ring
                .iter()
                .map(|p| Point::new((p.x / step).round() * 10.0, (p.y / step).round() * 10.0))
                .collect();
            ring.dedup();
            ring
        };
        let stock = Polygon::new(coarse(&stock.outer), stock.holes.iter().map(coarse).collect());
        prop_assume!(stock.rings().all(|r| r.len() > 2) && stock.to_geo().is_valid());
        // A void that touches the edge in a corner pinches the stock whatever the cut.
        let geo = stock.to_geo();
        prop_assume!(geo.interiors().iter().all(|h| Euclidean.distance(h, geo.exterior()) > 0.0));
        let run = if rip { Run::Rip } else { Run::Crosscut };
        for line in -5..=5 {
            for kerf in [0.0, 20.0] {
                agree_on_a_cut(&stock, run, 10.0 * f64::from(line), kerf)?;
            }
        }
    }
}

/// Compares what a cut leaves with the intersection of the stock and a half-plane.
fn agree_on_a_cut(stock: &Polygon, run: Run, at: f64, kerf: f64) -> Result<(), TestCaseError> {
    let piece = Piece::whole(stock);
    for (upper, line) in [(true, at + 0.5 * kerf), (false, at - 0.5 * kerf)] {
        let (from, to) = if upper { (line, 200.0) } else { (-200.0, line) };
        let half = match run {
            Run::Rip => Bounds::new(Point::new(-200.0, from), Point::new(200.0, to)),
            Run::Crosscut => Bounds::new(Point::new(from, -200.0), Point::new(to, 200.0)),
        };
        let expected = stock
            .to_geo()
            .intersection(&Polygon::from_bounds(half).to_geo());
        let pieces = piece.beside(run, line, upper);
        let area: f64 = pieces.iter().map(|p| p.polygon().area()).sum();
        prop_assert!((area - expected.unsigned_area()).abs() < 1e-3);
        let large = |areas: Vec<f64>| areas.into_iter().filter(|a| *a > 0.01).count();
        prop_assert_eq!(
            large(pieces.iter().map(|p| p.polygon().area()).collect()),
            large(expected.iter().map(Area::unsigned_area).collect())
        );
    }
    Ok(())
}

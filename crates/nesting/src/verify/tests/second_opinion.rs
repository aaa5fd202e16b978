//! The judge's verdicts against another library's: distances and boolean areas of the `geo` crate.

use super::*;
use crate::Turn;
use crate::verify::shape::Shape;
use geo::{Area, BooleanOps, Distance, Euclidean};
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
        let shared = ga.intersection(&gb).unsigned_area();
        let distance = Euclidean.distance(&ga, &gb);
        let overlap = faults.iter().any(|f| matches!(f, Fault::Overlap { .. }));
        let short = faults.iter().any(|f| matches!(f, Fault::GapShort { .. }));
        prop_assert!(faults.len() <= 1, "{faults:?}");
        // Between touching and overlapping by a hair the two libraries may differ.
        if shared > 0.01 {
            prop_assert!(overlap, "{shared} mm2 shared, {faults:?}");
        } else if shared == 0.0 && distance > 1e-6 {
            prop_assert!(!overlap, "{distance} mm apart, {faults:?}");
            if (distance - gap).abs() > 2e-5 {
                prop_assert_eq!(short, distance < gap, "{} mm apart", distance);
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
        let outside = part.to_geo().difference(&field.to_geo()).unsigned_area();
        let judged = Shape::new(&part).sticks_out_of(&Shape::new(&field), 1e-5);
        if outside > 0.01 {
            prop_assert!(judged.is_some(), "{outside} mm2 outside");
        } else if outside == 0.0 {
            prop_assert!(judged.is_none(), "{judged:?}");
        }
    }
}

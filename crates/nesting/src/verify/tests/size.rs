//! Large layouts, judged in a time that no one notices.

use super::*;
use std::time::{Duration, Instant};

/// A wavy disc of many corners.
fn cog(corners: u32, radius: f64) -> Outline {
    Outline::polygon((0..corners).map(|i| {
        let angle = f64::from(i) * std::f64::consts::TAU / f64::from(corners);
        let r = if i % 2 == 0 { radius } else { 0.8 * radius };
        Point::new(r * angle.cos(), r * angle.sin())
    }))
}

fn rows(count: usize, corners: u32) -> (Problem, Nest) {
    let across = (count as f64).sqrt().ceil() as usize;
    let pitch = 42.0;
    let quantity = u32::try_from(count).expect("few");
    let side = pitch * across as f64;
    let problem = Problem {
        gap: 2.0,
        margin: 1.0,
        ..problem(
            vec![Part::new("cog", cog(corners, 20.0), quantity)],
            sheet(side, side),
        )
    };
    let place = |i: usize| {
        let (x, y) = ((i % across) as f64, (i / across) as f64);
        at(0, pitch * (x + 0.5), pitch * (y + 0.5))
    };
    (problem, nest((0..count).map(place).collect()))
}

#[test]
fn three_thousand_parts() {
    for (count, corners) in [(300, 60), (3000, 60)] {
        let (problem, mut good) = rows(count, corners);
        let start = Instant::now();
        passes(&problem, &good);
        let took = start.elapsed();
        println!("{count} parts of {corners} corners: {took:?}");
        // Far above what it takes, far below what comparing all with all would.
        assert!(took < Duration::from_secs(5), "{took:?}");
        let last = good.layouts[0].placed.len() - 1;
        good.layouts[0].placed[last].placement.origin.x -= 0.01;
        refused!(&problem, &good, Fault::GapShort { .. });
    }
}

/// A panel whose lower and upper edges zigzag alike and whose sides do too, so that copies interlock.
fn jigsaw(teeth: u32) -> Outline {
    let (length, width, depth) = (61.3, 30.7, 1.9);
    let zigzag = |size: f64| -> Vec<(f64, f64)> {
        (0..2 * teeth)
            .map(|i| {
                (
                    f64::from(i) * size / f64::from(2 * teeth),
                    f64::from(i % 2) * depth,
                )
            })
            .collect()
    };
    let lower = zigzag(length);
    let side = zigzag(width);
    let mut corners: Vec<Point> = Vec::new();
    corners.extend(lower.iter().map(|(x, y)| Point::new(*x, *y)));
    corners.extend(side.iter().map(|(y, x)| Point::new(length + x, *y)));
    let back = |list: &[(f64, f64)], end: f64| -> Vec<(f64, f64)> {
        std::iter::once((end, 0.0))
            .chain(list[1..].iter().rev().copied())
            .collect()
    };
    corners.extend(
        back(&lower, length)
            .iter()
            .map(|(x, y)| Point::new(*x, width + y)),
    );
    corners.extend(back(&side, width).iter().map(|(y, x)| Point::new(*x, *y)));
    Outline::polygon(corners)
}

#[test]
fn interlocking_parts_share_their_edges() {
    let part = Part {
        turn: crate::Turn::Free,
        ..Part::new("jigsaw", jigsaw(8), 300)
    };
    let problem = problem(vec![part], sheet(4000.0, 4000.0));
    for angle in [0.0, 17.0, 90.0, 201.3] {
        let frame = Placement::new(angle, Point::new(2000.0, 2000.0));
        let place = |i: u32| {
            let here = Point::new(61.3 * f64::from(i % 15), 30.7 * f64::from(i / 15));
            PlacedPart {
                part: 0,
                placement: Placement::new(angle, frame.apply(here)),
            }
        };
        let mut good = nest((0..300).map(place).collect());
        let start = Instant::now();
        passes(&problem, &good);
        println!("300 interlocking parts at {angle}: {:?}", start.elapsed());
        // A thousandth towards any neighbour is seen.
        for (dx, dy) in [(0.001, 0.0), (0.0, -0.001), (-0.0007, 0.0007)] {
            let mut bad = good.clone();
            bad.layouts[0].placed[150].placement.origin.x += dx;
            bad.layouts[0].placed[150].placement.origin.y += dy;
            refused!(&problem, &bad, Fault::Overlap { depth, .. } if *depth < 0.0011);
        }
        good.layouts[0].placed.swap(0, 299);
        passes(&problem, &good);
    }
}

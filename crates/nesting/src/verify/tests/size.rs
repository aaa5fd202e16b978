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

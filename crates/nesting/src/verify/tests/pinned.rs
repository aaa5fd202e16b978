//! Parts that were pinned, and areas that the machine needs free.

use super::{Fault, at, bounds, nest, passes, problem, rectangle, refused, sheet, turned};
use crate::{Nest, Problem, Stock, verify};

fn pinned() -> Problem {
    let stock = Stock {
        pinned: vec![at(0, 50.0, 40.0), turned(0, 90.0, 300.0, 40.0)],
        ..sheet(400.0, 300.0)
    };
    Problem {
        supplies: vec![Some(1)],
        ..problem(vec![rectangle("panel", 100.0, 60.0, 3)], stock)
    }
}

#[test]
fn pinned_parts_lie_where_they_were_pinned() {
    let problem = pinned();
    problem.check().expect("a sound problem");
    let with = |a, b| nest(vec![b, at(0, 100.0, 200.0), a]);
    let (first, second) = (at(0, 50.0, 40.0), turned(0, 90.0, 300.0, 40.0));
    passes(&problem, &with(first.clone(), second.clone()));
    // Within the rounding of what is written.
    passes(&problem, &with(at(0, 50.0 + 5e-7, 40.0), second.clone()));
    for moved in [
        at(0, 50.00001, 40.0),
        at(0, 50.0, 39.0),
        turned(0, 180.0, 150.0, 100.0),
    ] {
        refused!(&problem, &with(moved, second.clone()), Fault::PinnedMoved { sheet: 1, origin, .. }
            if origin.x == 50.0 && origin.y == 40.0);
    }
    // Turned by 180 degrees a panel looks the same, but it is not what was asked for.
    refused!(&problem, &with(first.clone(), turned(0, 270.0, 240.0, 140.0)),
        Fault::PinnedMoved { angle_deg, .. } if *angle_deg == 90.0);
    // One copy does not stand for two.
    let mut twice = problem.clone();
    twice.stock[0].pinned[1] = first.clone();
    let faults = verify::judge(&twice, &with(first, second));
    assert!(
        matches!(faults[..], [Fault::PinnedMoved { .. }]),
        "{faults:?}"
    );
}

#[test]
fn a_piece_with_pinned_parts_is_taken() {
    let mut problem = pinned();
    let free = Stock {
        pinned: Vec::new(),
        supply: 1,
        ..problem.stock[0].clone()
    };
    problem.stock.push(free);
    problem.supplies.push(None);
    let mut elsewhere = nest(vec![
        at(0, 50.0, 40.0),
        turned(0, 90.0, 300.0, 40.0),
        at(0, 100.0, 200.0),
    ]);
    passes(&problem, &elsewhere);
    elsewhere.layouts[0].stock = 1;
    refused!(&problem, &elsewhere, Fault::PinnedNotTaken { parts: 2, .. });
    let faults = verify::judge(&problem, &Nest::default());
    assert!(
        faults
            .iter()
            .any(|f| matches!(f, Fault::PinnedNotTaken { .. }))
    );
}

#[test]
fn what_the_machine_needs_free_keeps_parts_away() {
    let mut stock = sheet(400.0, 300.0);
    // Across the edge, and given clockwise.
    let mut clamp = bounds(-20.0, 200.0, 60.0, 30.0).corners().to_vec();
    clamp.reverse();
    stock.zones.push(clamp);
    let problem = Problem {
        margin: 2.0,
        ..problem(vec![rectangle("panel", 100.0, 60.0, 1)], stock)
    };
    passes(&problem, &nest(vec![at(0, 42.0, 200.0)]));
    refused!(&problem, &nest(vec![at(0, 41.999, 200.0)]), Fault::OnZone { distance, .. }
        if (distance - 1.999).abs() < 1e-9);
    refused!(&problem, &nest(vec![at(0, 10.0, 190.0)]), Fault::OnZone { distance, .. } if *distance < 0.0);
    passes(&problem, &nest(vec![at(0, 10.0, 138.0)]));
}

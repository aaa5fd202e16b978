//! Offcuts that are not there, or not worth what is said.

use super::*;
use crate::{KeepRule, Method, Offcut, SawRules};
use panelwright_geometry::Polygon;

fn offcut(outline: Polygon) -> Offcut {
    Offcut {
        outline,
        kept: true,
        value: 20.0,
    }
}

fn upright(x: f64, y: f64, width: f64, height: f64) -> Offcut {
    offcut(Polygon::from_bounds(bounds(x, y, width, height)))
}

/// A panel of 100 x 200 at the left of a sheet of 400 x 200, cut with a kerf of 3.
fn left_panel() -> Problem {
    let mut stock = sheet(400.0, 200.0);
    stock.keep = KeepRule {
        least_width: 50.0,
        least_length: 200.0,
        value_per_area: 0.0005,
        handling: 0.0,
        scrap_cost_per_area: 0.0,
        ..KeepRule::default()
    };
    Problem {
        gap: 6.0,
        kerf: 3.0,
        ..problem(vec![rectangle("panel", 100.0, 200.0, 1)], stock)
    }
}

fn with_offcuts(offcuts: Vec<Offcut>) -> Nest {
    let mut nest = nest(vec![at(0, 0.0, 0.0)]);
    nest.layouts[0].offcuts = offcuts;
    nest
}

#[test]
fn offcuts_are_clear_of_parts_by_the_kerf() {
    let problem = left_panel();
    passes(
        &problem,
        &with_offcuts(vec![upright(103.0, 0.0, 297.0, 200.0)]),
    );
    // Its outline is flattened like the part's.
    passes(
        &problem,
        &with_offcuts(vec![upright(102.981, 0.0, 297.0, 200.0)]),
    );
    refused!(&problem, &with_offcuts(vec![upright(102.9, 0.0, 297.1, 200.0)]), Fault::OffcutOnPart { distance, .. }
        if (distance - 2.9).abs() < 1e-6);
    refused!(&problem, &with_offcuts(vec![upright(90.0, 0.0, 310.0, 200.0)]), Fault::OffcutOnPart { distance, .. }
        if *distance < 0.0);
    refused!(
        &problem,
        &with_offcuts(vec![upright(0.0, 0.0, 400.0, 200.0)]),
        Fault::OffcutOnPart { .. }
    );
}

#[test]
fn offcuts_are_material_of_the_stock() {
    let mut problem = left_panel();
    refused!(
        &problem,
        &with_offcuts(vec![upright(103.0, 0.0, 298.0, 200.0)]),
        Fault::OffcutOutside { .. }
    );
    problem.stock[0]
        .outline
        .holes
        .push(bounds(300.0, 50.0, 20.0, 20.0).corners().to_vec());
    refused!(
        &problem,
        &with_offcuts(vec![upright(103.0, 0.0, 297.0, 200.0)]),
        Fault::OffcutOutside { .. }
    );
    let around = Polygon::new(
        bounds(103.0, 0.0, 297.0, 200.0).corners().to_vec(),
        vec![bounds(300.0, 50.0, 20.0, 20.0).corners().to_vec()],
    );
    passes(&problem, &with_offcuts(vec![offcut(around)]));
}

#[test]
fn offcuts_do_not_share_material() {
    let problem = left_panel();
    let pair = |x| {
        with_offcuts(vec![
            upright(103.0, 0.0, 97.0, 200.0),
            upright(x, 0.0, 100.0, 200.0),
        ])
    };
    passes(&problem, &pair(200.0));
    refused!(
        &problem,
        &pair(199.9),
        Fault::OffcutsOverlap {
            offcut: 1,
            other: 2,
            ..
        }
    );
    refused!(
        &problem,
        &with_offcuts(vec![upright(150.0, 0.0, 97.0, 200.0); 2]),
        Fault::OffcutsOverlap { .. }
    );
}

#[test]
fn kept_ones_pass_the_rule() {
    let problem = left_panel();
    passes(
        &problem,
        &with_offcuts(vec![upright(350.0, 0.0, 50.0, 200.0)]),
    );
    refused!(
        &problem,
        &with_offcuts(vec![upright(350.1, 0.0, 49.9, 200.0)]),
        Fault::KeepRule { .. }
    );
    refused!(
        &problem,
        &with_offcuts(vec![upright(300.0, 0.0, 100.0, 199.0)]),
        Fault::KeepRule { .. }
    );
    // Large bounds, little in them.
    let triangle = Polygon::new(
        points(&[(110.0, 0.0), (200.0, 0.0), (110.0, 200.0)]),
        vec![],
    );
    refused!(
        &problem,
        &with_offcuts(vec![offcut(triangle)]),
        Fault::KeepRule { .. }
    );
    let mut small = upright(300.0, 0.0, 10.0, 10.0);
    small.kept = false;
    small.value = 0.0;
    passes(&problem, &with_offcuts(vec![small]));
}

#[test]
fn values_make_sense() {
    let problem = left_panel();
    for value in [100.1, -1.0, f64::NAN, f64::INFINITY] {
        let mut gold = upright(103.0, 0.0, 297.0, 200.0);
        gold.value = value;
        refused!(
            &problem,
            &with_offcuts(vec![gold]),
            Fault::OffcutValue { .. }
        );
    }
    let mut scrap = upright(103.0, 0.0, 297.0, 200.0);
    scrap.kept = false;
    refused!(
        &problem,
        &with_offcuts(vec![scrap]),
        Fault::OffcutValue { limit: 0.0, .. }
    );
}

#[test]
fn outlines_that_are_none() {
    let problem = left_panel();
    for outline in [
        Polygon::default(),
        Polygon::new(points(&[(150.0, 0.0), (200.0, 0.0)]), vec![]),
        Polygon::new(
            points(&[(150.0, 0.0), (200.0, 0.0), (f64::NAN, 9.0)]),
            vec![],
        ),
        Polygon::new(points(&[(150.0, 0.0), (200.0, 0.0), (250.0, 0.0)]), vec![]),
    ] {
        refused!(
            &problem,
            &with_offcuts(vec![offcut(outline)]),
            Fault::BadOffcut { .. }
        );
    }
}

#[test]
fn offcuts_of_the_saw_are_single_pieces() {
    let mut problem = left_panel();
    problem.method = Method::Guillotine(SawRules {
        kerf: 3.0,
        ..SawRules::default()
    });
    let mut nest = with_offcuts(vec![upright(103.0, 0.0, 297.0, 200.0)]);
    nest.layouts[0].saw_cuts = vec![saw_cut((101.5, 0.0), (101.5, 200.0), 3.0, 1)];
    passes(&problem, &nest);
    nest.layouts[0]
        .saw_cuts
        .push(saw_cut((250.0, 0.0), (250.0, 200.0), 3.0, 1));
    refused!(&problem, &nest, Fault::OffcutNotSawn { offcut: 1, .. });
    nest.layouts[0].offcuts = vec![
        upright(103.0, 0.0, 145.5, 200.0),
        upright(251.5, 0.0, 148.5, 200.0),
    ];
    passes(&problem, &nest);
}

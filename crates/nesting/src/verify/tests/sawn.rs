//! Saw plans: cuts made again one by one.

use super::*;
use crate::{FirstCut, Method, SawRules, Trim};
use panelwright_geometry::Polygon;

fn with_rules(problem: Problem, rules: SawRules) -> Problem {
    Problem {
        method: Method::Guillotine(rules),
        ..problem
    }
}

fn sawn(placed: Vec<PlacedPart>, cuts: Vec<SawCut>) -> Nest {
    let mut nest = nest(placed);
    nest.layouts[0].saw_cuts = cuts;
    nest
}

/// Two panels of 100 x 60, one on the other, from 300 x 200 with a blade of 4.
fn pair() -> (Problem, Nest) {
    let rules = SawRules {
        kerf: 4.0,
        ..SawRules::default()
    };
    let problem = with_rules(
        problem(
            vec![rectangle("panel", 100.0, 60.0, 2)],
            sheet(300.0, 200.0),
        ),
        rules,
    );
    let nest = sawn(
        vec![at(0, 0.0, 0.0), at(0, 0.0, 64.0)],
        vec![
            saw_cut((102.0, 0.0), (102.0, 200.0), 4.0, 1),
            saw_cut((0.0, 62.0), (100.0, 62.0), 4.0, 2),
            saw_cut((0.0, 126.0), (100.0, 126.0), 4.0, 2),
        ],
    );
    (problem, nest)
}

fn rules(problem: &mut Problem) -> &mut SawRules {
    match &mut problem.method {
        Method::Guillotine(rules) => rules,
        Method::FreeForm => panic!("a saw problem"),
    }
}

#[test]
fn a_good_plan_passes() {
    let (problem, nest) = pair();
    passes(&problem, &nest);
    // Ends beyond the piece do no harm, nor does the direction of travel.
    let mut longer = nest;
    longer.layouts[0].saw_cuts[0] = saw_cut((102.0, 220.0), (102.0, -5.0), 4.0, 1);
    passes(&problem, &longer);
}

#[test]
fn a_cut_that_stops_half_way() {
    let (problem, good) = pair();
    let mut nest = good.clone();
    nest.layouts[0].saw_cuts[2].to.x = 99.0;
    let faults = judge(&problem, &nest);
    let [
        Fault::CutStopsShort { cut: 3, short, .. },
        Fault::NotFreed { .. },
    ] = faults[..]
    else {
        panic!("{faults:?}");
    };
    assert!((short - 1.0).abs() < 1e-9);
    let mut nest = good;
    nest.layouts[0].saw_cuts[2].to.x = 99.999;
    refused!(
        &problem,
        &nest,
        Fault::CutStopsShort { .. } | Fault::NotFreed { .. }
    );
}

#[test]
fn cuts_in_the_wrong_order() {
    let (problem, mut nest) = pair();
    nest.layouts[0].saw_cuts.swap(0, 1);
    refused!(
        &problem,
        &nest,
        Fault::CutStopsShort { cut: 1, .. }
            | Fault::NotFreed { .. }
            | Fault::StageOutOfOrder { .. }
    );
    // The lengths made to fit, the stages still tell.
    let (problem, mut nest) = pair();
    nest.layouts[0].saw_cuts = vec![
        saw_cut((0.0, 126.0), (300.0, 126.0), 4.0, 2),
        saw_cut((102.0, 0.0), (102.0, 124.0), 4.0, 1),
        saw_cut((0.0, 62.0), (100.0, 62.0), 4.0, 2),
    ];
    refused!(
        &problem,
        &nest,
        Fault::StageOutOfOrder {
            cut: 2,
            stage: 1,
            reached: 2,
            ..
        }
    );
}

#[test]
fn a_cut_through_a_part() {
    let (problem, mut nest) = pair();
    nest.layouts[0]
        .saw_cuts
        .push(saw_cut((50.0, 0.0), (50.0, 60.0), 4.0, 3));
    refused!(
        &problem,
        &nest,
        Fault::CutThroughPart { cut: 4, .. } | Fault::NotFreed { .. } | Fault::NoPieceLeft { .. }
    );
    // Half a blade too far to one side takes some of the part as well.
    let (problem, mut nest) = pair();
    nest.layouts[0].saw_cuts[1] = saw_cut((0.0, 61.999), (100.0, 61.999), 4.0, 2);
    refused!(
        &problem,
        &nest,
        Fault::CutThroughPart { cut: 2, .. } | Fault::NotFreed { .. }
    );
}

#[test]
fn a_part_not_freed_or_not_to_size() {
    let (problem, mut nest) = pair();
    nest.layouts[0].saw_cuts.pop();
    refused!(&problem, &nest, Fault::NotFreed { width, .. } if (width - 136.0).abs() < 1e-9);
    let (problem, mut nest) = pair();
    nest.layouts[0].saw_cuts[2] = saw_cut((0.0, 126.001), (100.0, 126.001), 4.0, 2);
    refused!(&problem, &nest, Fault::NotFreed { .. });
}

#[test]
fn the_blade_has_one_width() {
    let (problem, mut nest) = pair();
    nest.layouts[0].saw_cuts[1].kerf = 3.9;
    refused!(
        &problem,
        &nest,
        Fault::WrongKerf { cut: 2, .. } | Fault::NotFreed { .. }
    );
    for kerf in [-4.0, f64::NAN, f64::INFINITY] {
        nest.layouts[0].saw_cuts[1].kerf = kerf;
        refused!(
            &problem,
            &nest,
            Fault::WrongKerf { cut: 2, .. }
                | Fault::CutNotUpright { cut: 2, .. }
                | Fault::NotFreed { .. }
        );
    }
}

#[test]
fn cuts_are_upright_and_meet_something() {
    for (from, to) in [
        ((102.0, 0.0), (103.0, 200.0)),
        ((102.0, 50.0), (102.0, 50.0)),
        ((f64::NAN, 0.0), (102.0, 200.0)),
    ] {
        let (problem, mut nest) = pair();
        nest.layouts[0].saw_cuts[0] = saw_cut(from, to, 4.0, 1);
        let faults = judge(&problem, &nest);
        assert!(
            faults
                .iter()
                .any(|f| matches!(f, Fault::CutNotUpright { cut: 1, .. })),
            "{faults:?}"
        );
    }
    let (problem, mut nest) = pair();
    let waste = saw_cut((0.0, 400.0), (300.0, 400.0), 4.0, 2);
    nest.layouts[0].saw_cuts.push(waste);
    refused!(&problem, &nest, Fault::CutMeetsNothing { cut: 4, .. });
}

#[test]
fn stages_are_limited_and_take_turns() {
    let (mut problem, nest) = pair();
    rules(&mut problem).stages = Some(2);
    passes(&problem, &nest);
    rules(&mut problem).stages = Some(1);
    refused!(
        &problem,
        &nest,
        Fault::StageLimit {
            stage: 2,
            limit: 1,
            ..
        }
    );
    rules(&mut problem).stages = None;
    rules(&mut problem).first_cut = FirstCut::Across;
    passes(&problem, &nest);
    rules(&mut problem).first_cut = FirstCut::Along;
    refused!(&problem, &nest, Fault::StageDirection { .. });
    // Two directions under one number.
    let (problem, mut nest) = pair();
    for cut in &mut nest.layouts[0].saw_cuts {
        cut.stage = 1;
    }
    refused!(
        &problem,
        &nest,
        Fault::StageDirection {
            stage: 1,
            along_x: false,
            ..
        }
    );
    // Parting parts is no trim.
    let (problem, mut nest) = pair();
    nest.layouts[0].saw_cuts[1].stage = 0;
    refused!(&problem, &nest, Fault::TrimPartsParts { cut: 2, .. });
}

#[test]
fn a_last_trim_is_no_stage() {
    // One strip, crosscut; the second panel is lower and has waste above it.
    let parts = vec![
        rectangle("high", 100.0, 60.0, 1),
        rectangle("low", 100.0, 40.0, 1),
    ];
    let rules = SawRules {
        kerf: 4.0,
        stages: Some(2),
        ..SawRules::default()
    };
    let problem = with_rules(problem(parts, sheet(204.0, 100.0)), rules);
    let with_last = |stage| {
        sawn(
            vec![at(0, 0.0, 0.0), at(1, 104.0, 0.0)],
            vec![
                saw_cut((0.0, 62.0), (204.0, 62.0), 4.0, 1),
                saw_cut((102.0, 0.0), (102.0, 60.0), 4.0, 2),
                saw_cut((104.0, 42.0), (204.0, 42.0), 4.0, stage),
            ],
        )
    };
    passes(&problem, &with_last(0));
    passes(&problem, &with_last(3));
    refused!(
        &problem,
        &with_last(4),
        Fault::StageLimit {
            stage: 4,
            limit: 2,
            ..
        } | Fault::StageDirection { .. }
    );
    refused!(&problem, &with_last(1), Fault::StageOutOfOrder { .. });
}

#[test]
fn the_saw_has_a_reach() {
    let (mut problem, nest) = pair();
    rules(&mut problem).longest_crosscut = 200.0;
    rules(&mut problem).longest_rip = 100.0;
    rules(&mut problem).least_strip = 60.0;
    passes(&problem, &nest);
    rules(&mut problem).longest_crosscut = 199.0;
    refused!(&problem, &nest, Fault::CutTooLong { cut: 1, .. });
    rules(&mut problem).longest_crosscut = 200.0;
    rules(&mut problem).longest_rip = 99.0;
    refused!(&problem, &nest, Fault::CutTooLong { limit: 99.0, .. });
    rules(&mut problem).longest_rip = 100.0;
    rules(&mut problem).least_strip = 60.1;
    refused!(&problem, &nest, Fault::TooNarrow { .. });
}

#[test]
fn sawn_parts_are_a_blade_apart() {
    let (problem, mut nest) = pair();
    nest.layouts[0].placed[1] = at(0, 0.0, 63.9);
    refused!(
        &problem,
        &nest,
        Fault::GapShort { .. } | Fault::NotFreed { .. } | Fault::CutThroughPart { .. }
    );
    let faults = judge(&problem, &nest);
    assert!(
        faults
            .iter()
            .any(|f| matches!(f, Fault::GapShort { gap: 4.0, .. }))
    );
}

#[test]
fn a_remnant_is_trimmed_first() {
    // An L with a void in its foot; the panel comes from the leg.
    let outline = points(&[
        (0.0, 0.0),
        (300.0, 0.0),
        (300.0, 100.0),
        (120.0, 100.0),
        (110.0, 250.0),
        (0.0, 240.0),
    ]);
    let void = bounds(150.0, 30.0, 40.0, 40.0).corners().to_vec();
    let stock = Stock::remnant("remnant", Polygon::new(outline, vec![void]), 10.0, 0);
    let rules = SawRules {
        kerf: 2.0,
        stages: Some(1),
        ..SawRules::default()
    };
    let problem = with_rules(
        problem(vec![rectangle("panel", 50.0, 200.0, 2)], stock),
        rules,
    );
    let cuts = |end: f64| {
        vec![
            saw_cut((101.0 + 3.0, 0.0), (101.0 + 3.0, end), 2.0, 0),
            saw_cut((0.0, 201.0), (103.0, 201.0), 2.0, 0),
            saw_cut((51.0, 0.0), (51.0, 200.0), 2.0, 1),
            saw_cut((103.0, 0.0), (103.0, 200.0), 2.0, 1),
        ]
    };
    let placed = vec![at(0, 0.0, 0.0), at(0, 52.0, 0.0)];
    passes(&problem, &sawn(placed.clone(), cuts(260.0)));
    // The first trim leaves part of the leg standing.
    let faults = judge(&problem, &sawn(placed, cuts(200.0)));
    assert!(
        faults
            .iter()
            .any(|f| matches!(f, Fault::CutStopsShort { cut: 1, .. })),
        "{faults:?}"
    );
    // A piece with the void in it is no part, whatever its size.
    let over = sawn(
        vec![at(0, 145.0, -100.0)],
        vec![saw_cut((144.0, 0.0), (144.0, 100.0), 2.0, 0)],
    );
    let faults = judge(&problem, &over);
    assert!(
        faults.iter().any(|f| matches!(f, Fault::OnVoid { .. })),
        "{faults:?}"
    );
}

#[test]
fn flaws_count_for_the_saw_too() {
    let (mut problem, nest) = pair();
    problem.stock[0]
        .keep_clear
        .push(bounds(50.0, 30.0, 5.0, 5.0).corners().to_vec());
    refused!(&problem, &nest, Fault::OnKeepClear { .. });
    problem.stock[0].keep_clear[0] = bounds(100.0, 0.0, 5.0, 5.0).corners().to_vec();
    passes(&problem, &nest);
}

#[test]
fn trims_are_kept_clear() {
    let trim = Trim {
        left: 10.0,
        top: 8.0,
        ..Trim::default()
    };
    let rules = SawRules {
        kerf: 4.0,
        trim,
        ..SawRules::default()
    };
    let problem = with_rules(
        problem(
            vec![rectangle("panel", 100.0, 60.0, 1)],
            sheet(300.0, 200.0),
        ),
        rules,
    );
    let plan = |x: f64| {
        sawn(
            vec![at(0, x, 0.0)],
            vec![
                saw_cut((x - 2.0, 0.0), (x - 2.0, 200.0), 4.0, 0),
                saw_cut((x, 194.0), (300.0, 194.0), 4.0, 0),
                saw_cut((x + 102.0, 0.0), (x + 102.0, 192.0), 4.0, 1),
                saw_cut((x, 62.0), (x + 100.0, 62.0), 4.0, 2),
            ],
        )
    };
    passes(&problem, &plan(10.0));
    passes(&problem, &plan(30.0));
    refused!(&problem, &plan(9.0), Fault::MarginShort { distance, margin, .. } if *distance == 9.0 && *margin == 10.0);
}

#[test]
fn a_piece_that_lacks_a_corner_is_no_part() {
    let outline = points(&[
        (20.0, 0.0),
        (300.0, 0.0),
        (300.0, 200.0),
        (0.0, 200.0),
        (0.0, 20.0),
    ]);
    let (mut problem, nest) = pair();
    problem.stock[0].outline = Polygon::new(outline, vec![]);
    let faults = judge(&problem, &nest);
    assert!(
        matches!(
            faults[..],
            [Fault::OutsideStock { .. }, Fault::NotFreed { .. }]
        ),
        "{faults:?}"
    );
}

#[test]
fn a_cut_that_runs_on_into_another_piece() {
    // The rip of the left strip goes on into the right one and stops there.
    let (problem, mut nest) = pair();
    nest.layouts[0].saw_cuts[2].to.x = 150.0;
    refused!(&problem, &nest, Fault::CutStopsShort { cut: 3, .. });
    // Right through, it just makes one more piece.
    nest.layouts[0].saw_cuts[2].to.x = 300.0;
    passes(&problem, &nest);
}

#[test]
fn trims_take_waste_and_nothing_else() {
    // Two strips of two panels each; the crosscuts of stage 2 leave 10 mm too much on each.
    let rules = SawRules {
        kerf: 4.0,
        stages: Some(2),
        ..SawRules::default()
    };
    let problem = with_rules(
        problem(vec![rectangle("panel", 90.0, 60.0, 2)], sheet(204.0, 100.0)),
        rules,
    );
    let placed = vec![at(0, 0.0, 0.0), at(0, 104.0, 0.0)];
    let rip = saw_cut((0.0, 62.0), (204.0, 62.0), 4.0, 1);
    let end = |x: f64, from: f64, stage| saw_cut((x, from), (x, 60.0), 4.0, stage);
    let cuts = |stage| {
        vec![
            rip,
            end(102.0, 0.0, 2),
            end(92.0, 0.0, 2),
            end(196.0, 0.0, stage),
        ]
    };
    passes(&problem, &sawn(placed.clone(), cuts(2)));
    // A last trim runs the other way than the stage before it.
    refused!(
        &problem,
        &sawn(placed.clone(), cuts(0)),
        Fault::StageDirection {
            cut: 4,
            stage: 3,
            along_x: true,
            ..
        }
    );
    // Off a strip of several panels it is no last trim but a cut of the next stage.
    let early = vec![
        rip,
        end(196.0, 0.0, 0),
        end(102.0, 0.0, 2),
        end(92.0, 0.0, 2),
    ];
    let faults = judge(&problem, &sawn(placed, early));
    assert!(
        faults
            .iter()
            .any(|f| matches!(f, Fault::TrimPartsParts { cut: 2, .. })),
        "{faults:?}"
    );
}

#[test]
fn what_the_blade_eats_is_gone() {
    let (problem, mut nest) = pair();
    // 70 of waste above the second panel: two strips, the upper one just a blade high.
    nest.layouts[0]
        .saw_cuts
        .push(saw_cut((104.0, 194.0), (300.0, 194.0), 4.0, 2));
    let rest = saw_cut((104.0, 198.0), (300.0, 198.0), 4.0, 2);
    nest.layouts[0].saw_cuts.push(rest);
    passes(&problem, &nest);
    nest.layouts[0].saw_cuts.push(rest);
    refused!(&problem, &nest, Fault::CutMeetsNothing { cut: 6, .. });
}

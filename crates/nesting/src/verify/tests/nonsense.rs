//! Whatever a nest holds, the judge answers; and what is not finite is refused.

use super::*;
use crate::{BreakDown, Method, NotPlaced, Offcut, SawRules, Why};
use panelwright_geometry::Polygon;
use proptest::prelude::*;

/// Numbers that layouts are made of, and some that they never should be.
fn number() -> impl Strategy<Value = f64> {
    prop_oneof![
        4 => prop::sample::select(vec![0.0, 50.0, 100.0, 102.0, 104.0, 200.0, 300.0]),
        2 => -400.0..400.0_f64,
        1 => any::<f64>(),
        1 => prop::sample::select(vec![f64::NAN, f64::INFINITY, -1e308, 1e-320]),
    ]
}

fn point() -> impl Strategy<Value = Point> {
    (number(), number()).prop_map(|(x, y)| Point::new(x, y))
}

fn any_layout() -> impl Strategy<Value = Layout> {
    let placed =
        (0..3_usize, number(), point()).prop_map(|(part, angle, p)| turned(part, angle, p.x, p.y));
    let cut = (point(), point(), any::<bool>(), number(), 0..4_u32).prop_map(
        |(from, to, upright, kerf, stage)| SawCut {
            from,
            to: if upright {
                Point::new(from.x, to.y)
            } else {
                to
            },
            kerf,
            stage,
        },
    );
    let ring = || prop::collection::vec(point(), 0..6);
    let offcut = (
        ring(),
        prop::collection::vec(ring(), 0..2),
        any::<bool>(),
        number(),
    )
        .prop_map(|(outer, holes, kept, value)| Offcut {
            outline: Polygon { outer, holes },
            kept,
            value,
        });
    (
        0..3_usize,
        prop::collection::vec(placed, 0..5),
        prop::collection::vec(cut, 0..6),
        prop::collection::vec(offcut, 0..3),
    )
        .prop_map(|(stock, placed, saw_cuts, offcuts)| Layout {
            stock,
            placed,
            saw_cuts,
            offcuts,
        })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(600))]

    #[test]
    fn any_nest_gets_an_answer(
        layouts in prop::collection::vec(any_layout(), 0..3),
        missing in (0..4_usize, any::<u32>()),
        sawn in any::<bool>(),
    ) {
        let mut problem = problem(
            vec![rectangle("panel", 100.0, 60.0, 2), rectangle("strip", 300.0, 20.0, 1)],
            sheet(300.0, 200.0),
        );
        let mut broken_down = problem.stock[0].clone();
        broken_down.break_down = Some(BreakDown {
            cuts: vec![saw_cut((102.0, 0.0), (102.0, 200.0), 4.0, 1)],
            blanks: vec![bounds(0.0, 0.0, 100.0, 200.0), bounds(104.0, 0.0, 196.0, 200.0)],
        });
        problem.stock.push(broken_down);
        if sawn {
            problem.method = Method::Guillotine(SawRules { kerf: 4.0, ..SawRules::default() });
        }
        let nonsense = layouts.iter().any(|l| {
            let angle = |p: &PlacedPart| p.placement.angle_deg().is_finite() && p.placement.origin.is_finite();
            let cut = |c: &SawCut| c.from.is_finite() && c.to.is_finite() && c.kerf.is_finite();
            !l.placed.iter().all(angle) || (l.stock < 2 && !l.saw_cuts.iter().all(cut))
        });
        let nest = Nest {
            layouts,
            not_placed: vec![NotPlaced { part: missing.0, quantity: missing.1, why: Why::StockUsedUp }],
        };
        let faults = judge(&problem, &nest);
        prop_assert!(!nonsense || !faults.is_empty());
        for fault in faults {
            prop_assert!(!fault.to_string().is_empty());
        }
    }
}

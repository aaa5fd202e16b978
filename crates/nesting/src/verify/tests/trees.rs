//! Random saw plans, right by construction, and what any slip in them does.

use super::*;
use crate::{Method, SawRules};
use proptest::prelude::*;

/// A piece to be parted further, or to be a part.
#[derive(Debug, Clone, Copy)]
struct Open {
    b: Bounds,
    /// Whether the next cut through it is a crosscut.
    crosscut: bool,
    /// Stage of the next cut through it.
    stage: u32,
}

/// Parts `sheet` at the given shares of its pieces as long as both halves stay `least` wide. Gives
/// the parts and the cuts in an order that can be sawn.
fn grow(
    sheet: Bounds,
    kerf: f64,
    least: f64,
    shares: &[(f64, bool)],
) -> (Vec<Bounds>, Vec<SawCut>) {
    let mut open = vec![Open {
        b: sheet,
        crosscut: true,
        stage: 1,
    }];
    let (mut parts, mut cuts) = (Vec::new(), Vec::new());
    let mut shares = shares.iter();
    while let Some(piece) = open.pop() {
        let Some((share, turn)) = shares.next() else {
            parts.push(piece.b);
            continue;
        };
        let (crosscut, stage) = if *turn {
            (!piece.crosscut, piece.stage + 1)
        } else {
            (piece.crosscut, piece.stage)
        };
        let b = piece.b;
        let length = if crosscut { b.width() } else { b.height() };
        let first = share * (length - kerf);
        if first < least || length - kerf - first < least {
            parts.push(b);
            continue;
        }
        let (mut low, mut high) = (b, b);
        let (from, to);
        if crosscut {
            low.max.x = b.min.x + first;
            high.min.x = low.max.x + kerf;
            let x = low.max.x + 0.5 * kerf;
            (from, to) = ((x, b.min.y), (x, b.max.y));
        } else {
            low.max.y = b.min.y + first;
            high.min.y = low.max.y + kerf;
            let y = low.max.y + 0.5 * kerf;
            (from, to) = ((b.min.x, y), (b.max.x, y));
        }
        cuts.push(saw_cut(from, to, kerf, stage));
        for b in [low, high] {
            open.push(Open { b, crosscut, stage });
        }
    }
    (parts, cuts)
}

fn as_problem(parts: &[Bounds], cuts: Vec<SawCut>, kerf: f64) -> (Problem, Nest) {
    let list = parts
        .iter()
        .enumerate()
        .map(|(i, b)| rectangle(&format!("panel {}", i + 1), b.width(), b.height(), 1))
        .collect();
    let placed = parts
        .iter()
        .enumerate()
        .map(|(i, b)| at(i, b.min.x, b.min.y))
        .collect();
    let mut problem = problem(list, sheet(2440.0, 1220.0));
    problem.method = Method::Guillotine(SawRules {
        kerf,
        ..SawRules::default()
    });
    let mut nest = nest(placed);
    nest.layouts[0].saw_cuts = cuts;
    (problem, nest)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(100))]

    #[test]
    fn right_plans_pass_and_slips_show(
        shares in prop::collection::vec((0.1..0.9_f64, any::<bool>()), 1..40),
        kerf in prop::sample::select(vec![0.0, 3.2, 4.4]),
        pick in any::<prop::sample::Index>(),
        slip in prop::sample::select(vec![-20.0, -0.001, 0.001, 7.0]),
    ) {
        let whole = Bounds::new(Point::new(0.0, 0.0), Point::new(2440.0, 1220.0));
        let (parts, cuts) = grow(whole, kerf, 30.0, &shares);
        prop_assume!(!cuts.is_empty());
        let stages = cuts.iter().map(|c| c.stage).max().unwrap_or(0);
        let (mut problem, nest) = as_problem(&parts, cuts, kerf);
        let faults = judge(&problem, &nest);
        prop_assert!(faults.is_empty(), "{faults:?}");
        prop_assert!(crate::verify::guillotine_separable(&parts));

        if let Method::Guillotine(rules) = &mut problem.method {
            rules.stages = Some(stages);
        }
        prop_assert!(judge(&problem, &nest).is_empty());

        let i = pick.index(nest.layouts[0].saw_cuts.len());
        let mut without = nest.clone();
        without.layouts[0].saw_cuts.remove(i);
        prop_assert!(!judge(&problem, &without).is_empty(), "cut {} left out", i + 1);

        let mut moved = nest.clone();
        let cut = &mut moved.layouts[0].saw_cuts[i];
        if cut.from.x == cut.to.x {
            cut.from.x += slip;
            cut.to.x += slip;
        } else {
            cut.from.y += slip;
            cut.to.y += slip;
        }
        prop_assert!(!judge(&problem, &moved).is_empty(), "cut {} moved", i + 1);

        let mut shorter = nest.clone();
        let cut = &mut shorter.layouts[0].saw_cuts[i];
        cut.to = cut.from + (cut.to - cut.from) * 0.99;
        prop_assert!(!judge(&problem, &shorter).is_empty(), "cut {} cut short", i + 1);

        let mut twice = nest.clone();
        let again = twice.layouts[0].saw_cuts[i];
        twice.layouts[0].saw_cuts.push(again);
        prop_assert!(!judge(&problem, &twice).is_empty(), "cut {} made twice", i + 1);

        let part = pick.index(parts.len());
        let mut shifted = nest;
        shifted.layouts[0].placed[part].placement.origin.x += slip;
        prop_assert!(!judge(&problem, &shifted).is_empty(), "part {} moved", part + 1);
    }
}

//! Why a part could not be placed.

use super::fill::{Filling, Taste};
use super::region::Pull;
use super::tables::Tables;
use super::work::Work;
use crate::{Problem, Why};
use rand::SeedableRng;
use rand_pcg::Pcg64Mcg;

/// The reason why `part` is missing, found by trying it alone on every kind of stock; `left` is what
/// there is still of each supply.
pub(super) fn reason(tables: &Tables, part: usize, left: &[Option<u32>]) -> Why {
    if fits_alone(tables, part, |stock| {
        left[tables.problem.stock[stock].supply] != Some(0)
    }) {
        return Why::Stopped;
    }
    if fits_alone(tables, part, |_| true) {
        return Why::StockUsedUp;
    }
    let problem = tables.problem;
    let mut plain = problem.parts[part].clone();
    if plain.grain_deg.is_none() && problem.stock.iter().all(|s| plain.faces_fit(s)) {
        return Why::TooLarge;
    }
    plain.grain_deg = None;
    plain.good_faces = 0;
    // Alone, its own cut-outs do not matter.
    let mut alone = Problem {
        parts: vec![plain],
        ..problem.clone()
    };
    for stock in &mut alone.stock {
        stock.pinned.clear();
    }
    if fits_alone(&Tables::new(&alone, None), 0, |_| true) {
        Why::FaceOrGrain
    } else {
        Why::TooLarge
    }
}

/// Whether one copy of `part` fits with nothing else on some of the stock that is `open` to it.
fn fits_alone(tables: &Tables, part: usize, open: impl Fn(usize) -> bool) -> bool {
    let mut work = Work::of_steps(u64::MAX);
    let mut random = Pcg64Mcg::seed_from_u64(0);
    let mut taste = Taste {
        pull: Pull::LEFT,
        blur: 0.0,
        poses: usize::MAX,
        half_turns: false,
        hurry: false,
        random: &mut random,
    };
    (0..tables.problem.stock.len()).any(|stock| {
        open(stock)
            && tables.may_fit(part, stock)
            && Filling::new(tables, stock).add(part, &mut taste, &|| false, &mut work)
    })
}

//! In which order the sheets are cut, and which kit every copy belongs to.
//!
//! Copies of a part are interchangeable, so neither touches a layout. A kit is complete after a sheet
//! when all its parts lie on sheets up to that one; what the router does to sawn parts later is not
//! waited for. Sheets of all groups form one sequence, in which kits are complete as early as can be:
//! the sum over all sheets of kits still open after it is least, kits of higher priority first.
//! Between two completions nothing depends on the order, so there the sheets stand by group and
//! remnants first, and machines change their material as seldom as that allows.

use super::kit_claims::KitClaims;
use std::ops::Range;

/// Up to so many sheets the order is the best of all; the work doubles with each.
const EXACT_SHEETS: usize = 16;

/// Sheets that are ordered anew at a time where there are more. Wider windows find little more and
/// double the work with each sheet.
const WINDOW: usize = 10;

/// Most passes of the window over the whole sequence; it seldom takes more than three.
const MOST_PASSES: usize = 6;

/// From this many sheets on only windows are ordered: the first guess looks at the square of it.
const MOST_GUESSED: usize = 1000;

/// Copies on one sheet: indices of [`KitClaims::keys`], and how many.
pub type Pile = Vec<(usize, u32)>;

/// The order in which `piles` are cut, as indices into it. Where nothing is at stake they stay as
/// they are.
pub fn order(claims: &KitClaims, piles: &[Pile]) -> Vec<usize> {
    let mut order: Vec<usize> = (0..piles.len()).collect();
    if order.len() <= EXACT_SHEETS {
        best(claims, piles, &mut order, 0..piles.len());
    } else {
        if order.len() <= MOST_GUESSED {
            order = guess(claims, piles);
        }
        for _ in 0..MOST_PASSES {
            let before = order.clone();
            for from in (0..order.len()).step_by(WINDOW / 2) {
                let to = (from + WINDOW).min(order.len());
                best(claims, piles, &mut order, from..to);
            }
            if order == before {
                break;
            }
        }
    }
    settle(claims, piles, &mut order);
    order
}

/// What is open after each sheet, summed over the sheets: what [`order`] makes least, class by class.
pub fn cost(claims: &KitClaims, piles: &[Pile], order: &[usize]) -> Vec<u64> {
    let mut counts = claims.nothing();
    let mut sum = vec![0; claims.width()];
    for sheet in order {
        add(&mut counts, &piles[*sheet]);
        for (sum, open) in sum.iter_mut().zip(claims.open(&counts)) {
            *sum += u64::from(open);
        }
    }
    sum
}

fn add(counts: &mut [u32], pile: &Pile) {
    for (key, n) in pile {
        counts[*key] += n;
    }
}

fn take_off(counts: &mut [u32], pile: &Pile) {
    for (key, n) in pile {
        counts[*key] -= n;
    }
}

/// Puts the sheets at `window` of the order into the best order there is among themselves, by
/// dynamic programming over their subsets.
fn best(claims: &KitClaims, piles: &[Pile], order: &mut [usize], window: Range<usize>) {
    let sheets: Vec<usize> = order[window.clone()].to_vec();
    let n = sheets.len();
    if n < 2 {
        return;
    }
    let width = claims.width();
    let mut start = claims.nothing();
    for sheet in &order[..window.start] {
        add(&mut start, &piles[*sheet]);
    }
    let cut: Vec<&Pile> = sheets.iter().map(|sheet| &piles[*sheet]).collect();
    let open = open_by_subset(claims, &cut, start);
    let subsets = 1_usize << n;
    // By subset: the least cost of cutting the rest, and the sheet that comes next.
    let mut rest = vec![0_u64; subsets * width];
    let mut next = vec![0_usize; subsets];
    let mut least: Vec<u64> = Vec::new();
    let mut trial = vec![0_u64; width];
    for subset in (0..subsets - 1).rev() {
        least.clear();
        for i in (0..n).filter(|i| subset >> i & 1 == 0) {
            let to = (subset | 1 << i) * width;
            for class in 0..width {
                trial[class] = open[to + class] + rest[to + class];
            }
            // The first of equals: the sheets come in the order that is to be kept.
            if least.is_empty() || trial < least {
                least.clone_from(&trial);
                next[subset] = i;
            }
        }
        rest[subset * width..(subset + 1) * width].copy_from_slice(&least);
    }
    let mut subset = 0;
    for place in window {
        order[place] = sheets[next[subset]];
        subset |= 1 << next[subset];
    }
}

/// What is open, class by class, when each subset of the piles has been cut after `counts`; subsets are numbers whose bits
/// stand for the piles.
fn open_by_subset(claims: &KitClaims, piles: &[&Pile], mut counts: Vec<u32>) -> Vec<u64> {
    let width = claims.width();
    let mut open = vec![0_u64; width << piles.len()];
    for step in 0..1_usize << piles.len() {
        // In the order of Gray's code each subset differs from the one before by one pile, so one row of counts serves
        // all: a row for each subset would take gigabytes where there are thousands of kinds of parts.
        let subset = step ^ (step >> 1);
        if step > 0 {
            let changed = step.trailing_zeros() as usize;
            match subset >> changed & 1 {
                1 => add(&mut counts, piles[changed]),
                _ => take_off(&mut counts, piles[changed]),
            }
        }
        for (class, n) in claims.open(&counts).into_iter().enumerate() {
            open[subset * width + class] = u64::from(n);
        }
    }
    open
}

/// A first order for many sheets, from the last to the first: each time the sheet without which
/// least is open goes last.
fn guess(claims: &KitClaims, piles: &[Pile]) -> Vec<usize> {
    let mut counts = claims.nothing();
    for pile in piles {
        add(&mut counts, pile);
    }
    let mut left: Vec<usize> = (0..piles.len()).collect();
    let mut order = Vec::with_capacity(piles.len());
    while !left.is_empty() {
        let mut least: Option<(Vec<u32>, usize)> = None;
        for (place, sheet) in left.iter().enumerate().rev() {
            take_off(&mut counts, &piles[*sheet]);
            let open = claims.open(&counts);
            add(&mut counts, &piles[*sheet]);
            if least.as_ref().is_none_or(|(least, _)| open < *least) {
                least = Some((open, place));
            }
        }
        let Some((_, place)) = least else { break };
        let sheet = left.remove(place);
        take_off(&mut counts, &piles[sheet]);
        order.push(sheet);
    }
    order.reverse();
    order
}

/// Sorts the sheets between two completions.
fn settle(claims: &KitClaims, piles: &[Pile], order: &mut [usize]) {
    let mut counts = claims.nothing();
    let mut open = claims.open(&counts);
    let mut from = 0;
    for place in 0..order.len() {
        add(&mut counts, &piles[order[place]]);
        let now = claims.open(&counts);
        if now != open {
            order[from..=place].sort_unstable();
            from = place + 1;
            open = now;
        }
    }
    order[from..].sort_unstable();
}

#[cfg(test)]
mod tests {
    use super::super::kit_claims::testing::{claims, random_case};
    use super::*;
    use rand::SeedableRng;
    use rand_pcg::Pcg64Mcg;

    /// Every order there is, tried one by one.
    fn least_by_trial(claims: &KitClaims, piles: &[Pile]) -> Vec<u64> {
        fn walk(
            claims: &KitClaims,
            piles: &[Pile],
            order: &mut Vec<usize>,
            best: &mut Option<Vec<u64>>,
        ) {
            if order.len() == piles.len() {
                let cost = cost(claims, piles, order);
                if best.as_ref().is_none_or(|b| cost < *b) {
                    *best = Some(cost);
                }
                return;
            }
            for i in 0..piles.len() {
                if !order.contains(&i) {
                    order.push(i);
                    walk(claims, piles, order, best);
                    order.pop();
                }
            }
        }
        let mut best = None;
        walk(claims, piles, &mut Vec::new(), &mut best);
        best.expect("an order")
    }

    #[test]
    fn no_order_of_few_sheets_is_better() {
        let mut random = Pcg64Mcg::seed_from_u64(11);
        for case in 0..60 {
            let (claims, piles) = random_case(&mut random, 2 + case % 5);
            let found = order(&claims, &piles);
            let mut all = found.clone();
            all.sort_unstable();
            assert_eq!(all, (0..piles.len()).collect::<Vec<_>>());
            assert_eq!(
                cost(&claims, &piles, &found),
                least_by_trial(&claims, &piles),
                "case {case}: {piles:?}"
            );
        }
    }

    #[test]
    fn each_subset_is_counted_as_from_its_own_piles() {
        let mut random = Pcg64Mcg::seed_from_u64(29);
        for case in 0..60 {
            let (claims, piles) = random_case(&mut random, 2 + case % 7);
            // The first is cut before all subsets.
            let mut start = claims.nothing();
            add(&mut start, &piles[0]);
            let rest: Vec<&Pile> = piles[1..].iter().collect();
            let mut directly = Vec::new();
            for subset in 0..1_usize << rest.len() {
                let mut counts = start.clone();
                for (i, pile) in rest.iter().enumerate() {
                    if subset >> i & 1 == 1 {
                        add(&mut counts, pile);
                    }
                }
                directly.extend(claims.open(&counts).into_iter().map(u64::from));
            }
            assert_eq!(
                open_by_subset(&claims, &rest, start),
                directly,
                "case {case}"
            );
        }
    }

    #[test]
    fn many_sheets_are_ordered_as_well_as_one_can_tell() {
        // Kit k has its parts on sheets k and 30 + k: 2, 4, 6, ... sheets for 1, 2, 3, ... kits is
        // the best there can be.
        let claims = claims(&[(30, 0, &[1, 1])], &[], &[30, 30]);
        let mut piles: Vec<Pile> = Vec::new();
        for item in 0..2 {
            piles.extend((0..30).map(|_| vec![(item, 1)]));
        }
        let found = order(&claims, &piles);
        let best: u64 = (0..30).map(|k| (30 - k) + (30 - k - 1)).sum();
        assert_eq!(cost(&claims, &piles, &found), [best]);
    }

    #[test]
    fn a_random_order_of_many_sheets_is_never_better() {
        use rand::seq::SliceRandom;
        let mut random = Pcg64Mcg::seed_from_u64(5);
        for _ in 0..5 {
            let (claims, piles) = random_case(&mut random, 24);
            let found = cost(&claims, &piles, &order(&claims, &piles));
            let mut other: Vec<usize> = (0..piles.len()).collect();
            for _ in 0..200 {
                other.shuffle(&mut random);
                assert!(found <= cost(&claims, &piles, &other));
            }
        }
    }

    #[test]
    fn where_nothing_is_at_stake_sheets_stay_as_they_are() {
        let claims = claims(&[(1, 0, &[1, 1, 1])], &[], &[1, 1, 1, 7]);
        let piles = vec![
            vec![(3, 4)],
            vec![(2, 1)],
            vec![(0, 1)],
            vec![(1, 1)],
            vec![(3, 3)],
        ];
        assert_eq!(order(&claims, &piles), [1, 2, 3, 0, 4]);
    }
}

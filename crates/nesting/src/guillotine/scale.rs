//! Sides in a few whole steps such that what fits side by side still fits.
//!
//! Sides and sheet are given other lengths: whenever some parts' true sides add up to no more than the
//! sheet's, their new ones add up to no more than the sheet's new one (conservative scales of Fekete and
//! Schepers 2004, "A combinatorial characterization of higher-dimensional orthogonal packing"; rounding down
//! is the plainest). A cut tree keeps to the sheet along an axis when every choice of parts that lie side by
//! side does, so whatever can be sawn can be sawn from the new sheet with the new sides, too.

use super::cutting::Lying;
use super::length::Nm;

/// Steps tried, from as many as asked for up to this share more.
const MORE: Nm = 8;

/// Gives `lying` new sizes, the longer side of `sheet` being about `steps` long, and returns the new size of
/// the sheet. `weight` tells how often a piece is wanted.
pub(super) fn scaled(
    lying: &mut [Lying],
    sheet: [Nm; 2],
    steps: Nm,
    weight: impl Fn(usize) -> f64,
) -> [Nm; 2] {
    let longer = sheet[0].max(sheet[1]);
    let mut new_sheet = sheet;
    for axis in 0..2 {
        let mut sides: Vec<(Nm, f64)> = lying
            .iter()
            .map(|l| {
                let area = l.size[0] as f64 * l.size[1] as f64;
                (l.size[axis], weight(l.piece) * area)
            })
            .collect();
        sides.sort_by_key(|s| s.0);
        sides.dedup_by(|a, b| {
            let same = a.0 == b.0;
            if same {
                b.1 += a.1;
            }
            same
        });
        let steps = (sheet[axis] as f64 / longer as f64 * steps as f64).ceil() as Nm;
        let (sides, whole) = scale(&sides, sheet[axis], steps.max(1));
        for l in lying.iter_mut() {
            let at = sides.partition_point(|s| s.0 < l.size[axis]);
            if let Some((_, new)) = sides.get(at) {
                l.size[axis] = *new;
            }
        }
        new_sheet[axis] = whole;
    }
    new_sheet
}

/// New lengths of sorted `sides` with their weights, and of the `whole`.
fn scale(sides: &[(Nm, f64)], whole: Nm, steps: Nm) -> (Vec<(Nm, Nm)>, Nm) {
    let mut best: Option<(f64, Nm)> = None;
    for steps in steps..=steps + steps / MORE {
        let unit = (whole / steps).max(1);
        let (new, end) = rounded(sides, whole, unit);
        let gain: f64 = sides
            .iter()
            .zip(&new)
            .map(|((side, weight), new)| {
                weight * (*new as f64 / end as f64 * whole as f64 / *side as f64)
            })
            .sum();
        if best.is_none_or(|b| gain > b.0) {
            best = Some((gain, unit));
        }
    }
    let unit = best.map_or(1, |b| b.1);
    let (mut new, end) = rounded(sides, whole, unit);
    // The largest loss first.
    let mut order: Vec<usize> = (0..sides.len()).collect();
    let loss = |s: &usize| sides[*s].1 * (sides[*s].0 % unit) as f64 / sides[*s].0 as f64;
    order.sort_by(|a, b| loss(b).total_cmp(&loss(a)).then(a.cmp(b)));
    let mut least = Vec::new();
    for s in order {
        new[s] += 1;
        if !fits(sides, &new, whole, end, &mut least) {
            new[s] -= 1;
        }
    }
    let sides = sides.iter().zip(new).map(|((side, _), new)| (*side, new));
    (sides.collect(), end)
}

/// Sides rounded down to units, and the whole, which holds one part at least that loses by it.
fn rounded(sides: &[(Nm, f64)], whole: Nm, unit: Nm) -> (Vec<Nm>, Nm) {
    let lost = sides.iter().map(|(side, _)| side % unit).min().unwrap_or(0);
    let new: Vec<Nm> = sides.iter().map(|(side, _)| side / unit).collect();
    let longest = new.iter().copied().max().unwrap_or(0);
    (new, ((whole - lost).max(0) / unit).max(longest).max(1))
}

/// Whether all choices of sides that fit the whole have new lengths of no more than `end` together.
///
/// `least` is room to work in: the least true length of every new one.
fn fits(sides: &[(Nm, f64)], new: &[Nm], whole: Nm, end: Nm, least: &mut Vec<Nm>) -> bool {
    let longest = new.iter().copied().max().unwrap_or(0);
    if longest > end {
        return false;
    }
    least.clear();
    least.push(0);
    for total in 1..=end + longest {
        let mut length = Nm::MAX;
        for ((side, _), new) in sides.iter().zip(new) {
            if *new == 0 || *new > total {
                continue;
            }
            let rest = least[(total - new) as usize];
            if rest < Nm::MAX {
                length = length.min(rest + side);
            }
        }
        if total > end && length <= whole {
            return false;
        }
        least.push(length);
    }
    true
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn what_fits_still_fits(
            sides in proptest::collection::vec(3i64..120, 1..6),
            whole in 120i64..400,
            steps in 1i64..60,
            choice in proptest::collection::vec(0usize..6, 1..40),
        ) {
            let mut sides: Vec<(Nm, f64)> = sides.into_iter().map(|s| (s, 1.0)).collect();
            sides.sort_by_key(|s| s.0);
            sides.dedup_by_key(|s| s.0);
            let (new, end) = scale(&sides, whole, steps);
            let (mut length, mut scaled) = (0, 0);
            for c in choice {
                let (side, new) = new[c % new.len()];
                if length + side <= whole {
                    length += side;
                    scaled += new;
                }
                prop_assert!(scaled <= end);
            }
        }
    }

    #[test]
    fn halves_of_a_sheet_count_as_halves() {
        // Nothing but one fits beside 51 of 100, so it may count as all that is left by the other.
        let (new, end) = scale(&[(49, 1.0), (51, 1.0)], 100, 10);
        let new: Vec<Nm> = new.iter().map(|n| n.1).collect();
        assert_eq!(new[0] + new[1], end);
    }
}

//! Where cuts need to be looked for: at sums of sides alone.
//!
//! Whatever is sawn can be pushed to the left and down until it touches, so a cut need only be made
//! where sides add up to (the normal patterns of Herz 1972 and Christofides & Whitlock 1977). Of these,
//! fewer do when what lies beyond the cut is looked at as well (the raster points of Scheithauer and
//! Terno 1996, "The G4-heuristic for the pallet loading problem").

use super::length::Nm;

/// Points along one side, 0 and its end included.
///
/// More make the tables too large for the memory of a small machine: their square is kept.
pub(super) const MOST_POINTS: usize = 3000;

/// All sums of `sides`, copies without limit, from 0 to at most `end`; `None` when they are too many.
pub(super) fn sums(sides: &[Nm], end: Nm) -> Option<Vec<Nm>> {
    let mut sides: Vec<Nm> = sides.iter().copied().filter(|s| *s <= end).collect();
    sides.sort_unstable();
    sides.dedup();
    let mut points = vec![0];
    // Each new point is the least sum of a known point and a side that lies beyond the last one.
    let mut next: Vec<usize> = vec![0; sides.len()];
    loop {
        let sums = sides.iter().zip(&next);
        let least = sums.filter_map(|(side, n)| points.get(*n).map(|p| p + side));
        let Some(least) = least.min().filter(|l| *l <= end) else {
            return Some(points);
        };
        if points.len() >= MOST_POINTS {
            return None;
        }
        points.push(least);
        for (side, n) in sides.iter().zip(&mut next) {
            while points.get(*n).is_some_and(|p| p + side <= least) {
                *n += 1;
            }
        }
    }
}

/// Index of the largest of `points` that is no more than `at`, which is at least 0.
pub(super) fn under(points: &[Nm], at: Nm) -> usize {
    points.partition_point(|p| *p <= at).saturating_sub(1)
}

/// Those of `sums` that cuts of a piece as long as `end` need when nothing but sizes matters.
///
/// These are the largest sums that leave room for another sum. A piece as long as one of them is cut
/// at these points only, and what is left of it, rounded down to a sum, is one of them again: with all
/// sums s and <a> the largest sum up to a, <<end - s> - t> = <end - (s + t)>.
pub(super) fn raster(sums: &[Nm], end: Nm) -> Vec<Nm> {
    let mut points: Vec<Nm> = sums.iter().map(|s| sums[under(sums, end - s)]).collect();
    points.sort_unstable();
    points.dedup();
    points
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn sums_are_all_there(sides in proptest::collection::vec(1i64..60, 1..6), end in 1i64..200) {
            let mut reached = vec![false; end as usize + 1];
            reached[0] = true;
            for i in 0..reached.len() {
                for s in &sides {
                    if reached[i] && i + *s as usize <= end as usize {
                        reached[i + *s as usize] = true;
                    }
                }
            }
            let expected: Vec<i64> = (0..=end).filter(|i| reached[*i as usize]).collect();
            prop_assert_eq!(sums(&sides, end), Some(expected));
        }

        #[test]
        fn a_raster_is_closed(sides in proptest::collection::vec(1i64..60, 1..6), end in 1i64..200) {
            let sums = sums(&sides, end).unwrap_or_default();
            let raster = raster(&sums, end);
            for x in &raster {
                for cut in raster.iter().filter(|c| *c <= x) {
                    prop_assert!(raster.contains(&sums[under(&sums, x - cut)]));
                }
            }
        }
    }

    #[test]
    fn too_many_points_are_refused() {
        assert_eq!(sums(&[1], 10_000), None);
        assert_eq!(sums(&[7], 3), Some(vec![0]));
    }
}

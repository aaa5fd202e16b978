//! A small linear programme that has nothing at all as a permitted answer, to be solved again and again as what its
//! unknowns bring changes and as unknowns are added. Each time it goes on from the last answer, which stays permitted.

/// Anything nearer to 0 than this is 0.
const NOTHING: f64 = 1e-9;

/// By how much limits are moved apart so that no round is idle, in relation to the largest.
const APART: f64 = 1e-8;

/// What is found.
#[derive(Debug, PartialEq)]
pub(super) struct Answer {
    pub(super) unknowns: Vec<f64>,
    /// By limit: what a little more of it would bring for each unit.
    pub(super) prices: Vec<f64>,
}

/// An unknown, or what is left of a limit.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Name {
    Unknown(usize),
    Left(usize),
}

/// Unknowns of at least 0 that are to bring the most under limits of at least 0.
pub(super) struct Simplex {
    /// By what is not 0, and in the end what all brings: how it changes with each that is 0.
    rows: Vec<Vec<f64>>,
    /// The values of the same.
    values: Vec<f64>,
    zero: Vec<Name>,
    some: Vec<Name>,
    brings: Vec<f64>,
}

impl Simplex {
    /// Without unknowns.
    pub(super) fn new(limits: &[f64]) -> Self {
        let largest = limits.iter().copied().fold(0.0, f64::max).max(1.0);
        let spread =
            |i: usize| ((i as u64).wrapping_mul(2_654_435_761) % 1_009 + 1) as f64 / 1_010.0;
        let moved = |(i, limit): (usize, &f64)| limit + APART * largest * spread(i);
        Self {
            rows: vec![Vec::new(); limits.len() + 1],
            values: limits.iter().enumerate().map(moved).chain([0.0]).collect(),
            zero: Vec::new(),
            some: (0..limits.len()).map(Name::Left).collect(),
            brings: Vec::new(),
        }
    }

    /// How many numbers its table has.
    pub(super) fn size(&self) -> usize {
        self.rows.len() * (self.zero.len() + 1)
    }

    /// Adds an unknown that takes so much of some limits and brings nothing yet; its index.
    pub(super) fn add(&mut self, takes: &[(usize, f64)]) -> usize {
        let index = self.brings.len();
        self.brings.push(0.0);
        let mut column = vec![0.0; self.rows.len()];
        for &(limit, takes) in takes {
            let left = Name::Left(limit);
            if let Some(at) = self.zero.iter().position(|z| *z == left) {
                for (value, row) in column.iter_mut().zip(&self.rows) {
                    *value += takes * row[at];
                }
            } else if let Some(row) = self.some.iter().position(|s| *s == left) {
                column[row] += takes;
            }
        }
        for (row, value) in self.rows.iter_mut().zip(column) {
            row.push(value);
        }
        self.zero.push(Name::Unknown(index));
        index
    }

    /// Unknowns that bring nearly the most when each brings so much; when `looks`, numbers of the table
    /// looked at, are used up, or when there is no most, those at hand.
    pub(super) fn most(&mut self, brings: &[f64], looks: &mut u64) -> Answer {
        self.set(brings);
        let m = self.some.len();
        while *looks > 0 {
            *looks = looks.saturating_sub(self.size() as u64);
            let gains = &self.rows[m];
            let best = (0..gains.len()).min_by(|a, b| gains[*a].total_cmp(&gains[*b]));
            let Some(enter) = best.filter(|e| gains[*e] < -NOTHING) else {
                break;
            };
            let leave = (0..m)
                .filter(|i| self.rows[*i][enter] > NOTHING)
                .map(|i| (self.values[i] / self.rows[i][enter], i))
                .min_by(|a, b| a.0.total_cmp(&b.0));
            let Some((_, leave)) = leave else {
                // It would be without end; what there is is an answer.
                break;
            };
            self.pivot(leave, enter);
        }
        let mut answer = Answer {
            unknowns: vec![0.0; self.brings.len()],
            prices: vec![0.0; m],
        };
        for (name, value) in self.some.iter().zip(&self.values) {
            if let Name::Unknown(unknown) = name {
                answer.unknowns[*unknown] = value.max(0.0);
            }
        }
        for (name, gain) in self.zero.iter().zip(&self.rows[m]) {
            if let Name::Left(limit) = name {
                answer.prices[*limit] = gain.max(0.0);
            }
        }
        answer
    }

    fn set(&mut self, brings: &[f64]) {
        self.brings.copy_from_slice(brings);
        let m = self.some.len();
        let bring = |name: &Name| match name {
            Name::Unknown(unknown) => brings[*unknown],
            Name::Left(_) => 0.0,
        };
        let mut gains: Vec<f64> = self.zero.iter().map(|z| -bring(z)).collect();
        let mut value = 0.0;
        for (i, name) in self.some.iter().enumerate() {
            let each = bring(name);
            if each != 0.0 {
                value += each * self.values[i];
                gains
                    .iter_mut()
                    .zip(&self.rows[i])
                    .for_each(|(g, r)| *g += each * r);
            }
        }
        self.rows[m] = gains;
        self.values[m] = value;
    }

    fn pivot(&mut self, leave: usize, enter: usize) {
        let by = 1.0 / self.rows[leave][enter];
        let mut pivot = std::mem::take(&mut self.rows[leave]);
        pivot.iter_mut().for_each(|v| *v *= by);
        pivot[enter] = by;
        self.values[leave] *= by;
        let value = self.values[leave];
        for (i, row) in self.rows.iter_mut().enumerate() {
            if i == leave {
                continue;
            }
            let factor = row[enter];
            if factor != 0.0 {
                row.iter_mut()
                    .zip(&pivot)
                    .for_each(|(r, p)| *r -= factor * p);
                row[enter] = -factor * by;
                self.values[i] -= factor * value;
            }
        }
        self.rows[leave] = pivot;
        std::mem::swap(&mut self.zero[enter], &mut self.some[leave]);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn most(rows: &[Vec<(usize, f64)>], limits: &[f64], brings: &[f64]) -> Answer {
        all(rows, limits, brings.len()).most(brings, &mut 1_000_000)
    }

    fn all(rows: &[Vec<(usize, f64)>], limits: &[f64], unknowns: usize) -> Simplex {
        let mut simplex = Simplex::new(limits);
        for unknown in 0..unknowns {
            let takes = rows.iter().enumerate().flat_map(|(limit, row)| {
                let mine = row.iter().filter(move |r| r.0 == unknown);
                mine.map(move |r| (limit, r.1))
            });
            simplex.add(&takes.collect::<Vec<_>>());
        }
        simplex
    }

    fn sum(some: &[f64], each: &[f64]) -> f64 {
        some.iter().zip(each).map(|(a, b)| a * b).sum()
    }

    #[test]
    fn a_known_programme_is_solved() {
        // Most of 3 a + 5 b with a at most 4, 2 b at most 12, 3 a + 2 b at most 18: 36 at 2 and 6.
        let rows = [vec![(0, 1.0)], vec![(1, 2.0)], vec![(0, 3.0), (1, 2.0)]];
        let answer = most(&rows, &[4.0, 12.0, 18.0], &[3.0, 5.0]);
        let near = |found: &[f64], expected: &[f64]| {
            found
                .iter()
                .zip(expected)
                .all(|(f, e)| (f - e).abs() < 1e-5)
        };
        assert!(near(&answer.unknowns, &[2.0, 6.0]), "{answer:?}");
        assert!(near(&answer.prices, &[0.0, 1.5, 1.0]), "{answer:?}");
        // What has no limit is left, and all is when there is no work.
        assert_eq!(
            most(&[vec![(0, 1.0)]], &[1.0], &[0.0, 1.0]).unknowns,
            [0.0, 0.0]
        );
        assert_eq!(
            all(&rows, &[4.0, 12.0, 18.0], 2)
                .most(&[3.0, 5.0], &mut 0)
                .unknowns,
            [0.0, 0.0]
        );
        assert!(most(&[], &[], &[]).unknowns.is_empty());
    }

    proptest! {
        #[test]
        fn knapsacks_with_fractions_are_filled_by_rate(
            items in proptest::collection::vec((0.1f64..9.0, 0.1f64..9.0, 0.5f64..4.0), 1..9), room in 0.0f64..40.0,
        ) {
            let mut rows: Vec<Vec<(usize, f64)>> = vec![items.iter().enumerate().map(|(i, t)| (i, t.0)).collect()];
            let mut limits = vec![room];
            for (i, item) in items.iter().enumerate() {
                rows.push(vec![(i, 1.0)]);
                limits.push(item.2);
            }
            let brings: Vec<f64> = items.iter().map(|t| t.1).collect();
            let mut sorted = items.clone();
            sorted.sort_by(|a, b| (a.0 / a.1).total_cmp(&(b.0 / b.1)));
            let (mut left, mut best) = (room, 0.0);
            for (takes, brings, copies) in sorted {
                let some = copies.min(left / takes);
                left -= some * takes;
                best += some * brings;
            }
            let answer = most(&rows, &limits, &brings);
            let found = sum(&answer.unknowns, &brings);
            prop_assert!((found - best).abs() < 1e-4 * (1.0 + best), "{found} {best}");
            // The same when unknowns come one by one and bring something else at first.
            let mut simplex = Simplex::new(&limits);
            for (i, item) in items.iter().enumerate() {
                simplex.add(&[(0, item.0), (i + 1, 1.0)]);
                simplex.most(&vec![1.0; i + 1], &mut 1_000_000);
            }
            let again = sum(&simplex.most(&brings, &mut 1_000_000).unknowns, &brings);
            prop_assert!((again - best).abs() < 1e-4 * (1.0 + best), "{again} {best}");
            let priced = sum(&answer.prices, &limits);
            prop_assert!((priced - best).abs() < 1e-4 * (1.0 + best), "{priced} {best}");
        }
    }
}

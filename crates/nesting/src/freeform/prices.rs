//! The least that whole demands cost when sheets may be taken in fractions, and what a copy of each part
//! is then worth.

/// Pivots per row and column after which the solution so far is taken as it is.
const MOST_PIVOTS: usize = 20;

/// A gain below this share of the largest is none.
const NO_GAIN: f64 = 1e-9;

/// One way to fill a sheet.
#[derive(Debug, Clone)]
pub(super) struct Column {
    /// Copies on it, by part.
    pub counts: Vec<u32>,
    /// What it costs, at least 0.
    pub costs: f64,
    /// Index of the supply its stock comes from.
    pub supply: usize,
}

/// A solution in fractions.
#[derive(Debug, Clone)]
pub(super) struct Prices {
    /// What a copy of each part is worth.
    pub part: Vec<f64>,
    /// What one more piece of each supply would save, at least 0.
    pub supply: Vec<f64>,
    /// How often each column is taken.
    pub times: Vec<f64>,
}

/// Least cost of columns, taken in fractions, that together have `wanted` copies of each part and no
/// more than `supplies` pieces (`None` for any number).
///
/// Solves the dual problem by the simplex method on a full tableau (Dantzig 1951): there the start
/// with all prices 0 is feasible, so no first phase is needed. The largest coefficient enters; when that
/// goes on for too long the prices so far are returned, which are still below every column's cost.
pub(super) fn prices(columns: &[Column], wanted: &[u32], supplies: &[Option<u32>]) -> Prices {
    let (m, n) = (wanted.len(), columns.len());
    let limited: Vec<usize> = (0..supplies.len())
        .filter(|s| supplies[*s].is_some())
        .collect();
    // Rows: one per column given, its price sum at most its cost. Variables: prices of parts, of
    // limited supplies (which lower the sum), then the slack of each row; last the right-hand side.
    let vars = m + limited.len();
    let width = vars + 1;
    let mut rows: Vec<Vec<f64>> = columns
        .iter()
        .map(|column| {
            let mut row = vec![0.0; width];
            for (cell, count) in row.iter_mut().zip(&column.counts) {
                *cell = f64::from(*count);
            }
            for (i, supply) in limited.iter().enumerate() {
                if *supply == column.supply {
                    row[m + i] = -1.0;
                }
            }
            row[vars] = column.costs.max(0.0);
            row
        })
        .collect();
    let mut gain = vec![0.0; width];
    for (cell, n) in gain.iter_mut().zip(wanted) {
        *cell = f64::from(*n);
    }
    for (i, supply) in limited.iter().enumerate() {
        gain[m + i] = -f64::from(supplies[*supply].unwrap_or(0));
    }
    let least_gain = NO_GAIN * gain.iter().copied().fold(1.0, f64::max);
    // What stands in each row and in each place of the row: variables first, then slacks.
    let mut basic: Vec<usize> = (vars..vars + n).collect();
    let mut free: Vec<usize> = (0..vars).collect();
    for _ in 0..MOST_PIVOTS * (vars + n) {
        let Some(enter) = (0..vars)
            .filter(|j| gain[*j] > least_gain)
            .max_by(|a, b| gain[*a].total_cmp(&gain[*b]).then(b.cmp(a)))
        else {
            break;
        };
        let ratio = |i: usize| rows[i][vars] / rows[i][enter];
        let Some(leave) = (0..n)
            .filter(|i| rows[*i][enter] > 1e-9)
            .min_by(|a, b| ratio(*a).total_cmp(&ratio(*b)).then(a.cmp(b)))
        else {
            break;
        };
        let by = 1.0 / rows[leave][enter];
        let mut pivot = std::mem::take(&mut rows[leave]);
        pivot.iter_mut().for_each(|v| *v *= by);
        pivot[enter] = by;
        for row in rows.iter_mut().chain([&mut gain]) {
            if row.is_empty() {
                continue;
            }
            let share = row[enter];
            if share != 0.0 {
                row[enter] = 0.0;
                for (cell, p) in row.iter_mut().zip(&pivot) {
                    *cell -= share * p;
                }
            }
        }
        rows[leave] = pivot;
        std::mem::swap(&mut basic[leave], &mut free[enter]);
    }
    let mut values = vec![0.0; vars];
    for (row, var) in rows.iter().zip(&basic) {
        if *var < vars {
            values[*var] = row[vars].max(0.0);
        }
    }
    let mut times = vec![0.0; n];
    for (var, gain) in free.iter().zip(&gain) {
        if *var >= vars {
            times[*var - vars] = (-gain).max(0.0);
        }
    }
    let mut supply = vec![0.0; supplies.len()];
    for (i, s) in limited.iter().enumerate() {
        supply[*s] = values[m + i];
    }
    values.truncate(m);
    Prices {
        part: values,
        supply,
        times,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn column(counts: &[u32], costs: f64, supply: usize) -> Column {
        Column {
            counts: counts.to_vec(),
            costs,
            supply,
        }
    }

    #[test]
    fn a_stick_cut_two_ways() {
        // Three of one or two of the other from a stick; both together once. 30 and 20 wanted:
        // 20 mixed ones leave 10 of the first, a third of a stick each.
        let columns = [
            column(&[3, 0], 1.0, 0),
            column(&[0, 2], 1.0, 0),
            column(&[1, 1], 0.8, 0),
        ];
        let p = prices(&columns, &[30, 20], &[None]);
        let cost: f64 = p.times.iter().zip(&columns).map(|(t, c)| t * c.costs).sum();
        assert!((cost - (20.0 * 0.8 + 10.0 / 3.0)).abs() < 1e-9, "{p:?}");
        // With few pieces of a cheap supply the rest is dear, and one more is worth the difference.
        let columns = [column(&[1], 1.0, 0), column(&[1], 3.0, 1)];
        let p = prices(&columns, &[10], &[Some(4), None]);
        assert!((p.times[0] - 4.0).abs() < 1e-9 && (p.times[1] - 6.0).abs() < 1e-9);
        assert!((p.part[0] - 3.0).abs() < 1e-9 && (p.supply[0] - 2.0).abs() < 1e-9);
    }

    proptest! {
        /// Weak duality proves both sides: feasible times and feasible prices of the same value.
        #[test]
        fn prices_and_times_agree(
            filled in proptest::collection::vec((proptest::collection::vec(0u32..5, 4), 1.0f64..9.0), 0..12),
            wanted in proptest::collection::vec(0u32..40, 4), few in 0u32..6,
        ) {
            let mut columns: Vec<Column> = filled.iter().map(|(n, c)| column(n, *c, 0)).collect();
            // Whatever is wanted can be had.
            columns.push(column(&[1, 1, 1, 1], 10.0, 1));
            let supplies = [Some(few), None];
            let p = prices(&columns, &wanted, &supplies);
            for c in &columns {
                let sum: f64 = c.counts.iter().zip(&p.part).map(|(n, v)| f64::from(*n) * v).sum();
                prop_assert!(sum - p.supply[c.supply] <= c.costs + 1e-7);
            }
            for (part, n) in wanted.iter().enumerate() {
                let had: f64 = columns.iter().zip(&p.times).map(|(c, t)| f64::from(c.counts[part]) * t).sum();
                prop_assert!(had >= f64::from(*n) - 1e-6);
            }
            let first: f64 = columns.iter().zip(&p.times).filter(|(c, _)| c.supply == 0).map(|(_, t)| t).sum();
            prop_assert!(first <= f64::from(few) + 1e-6);
            let cost: f64 = columns.iter().zip(&p.times).map(|(c, t)| c.costs * t).sum();
            let worth: f64 = wanted.iter().zip(&p.part).map(|(n, v)| f64::from(*n) * v).sum::<f64>()
                - f64::from(few) * p.supply[0];
            prop_assert!((cost - worth).abs() < 1e-6, "{} {}", cost, worth);
        }
    }
}

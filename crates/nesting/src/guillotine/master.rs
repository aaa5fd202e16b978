//! A linear programme that grows by columns: the cheapest mix of patterns for an order, in fractions.
//!
//! The revised simplex method with the inverse of the basis kept as a full matrix: there are as many rows
//! as kinds of parts, at most some hundreds. What is proven with its prices is checked elsewhere, so
//! rounding here can make a floor weaker but never wrong.

/// A reduced cost this far below 0, in relation to the cost, is a gain.
const GAIN: f64 = 1e-9;

/// Entries nearer to 0 are taken for it when a column enters.
const TINY: f64 = 1e-9;

/// Changes of basis in one go; a programme of a few hundred rows takes fewer unless it goes in circles.
const MOST_PIVOTS: usize = 2000;

/// Something to buy: its cost, and what it brings by row.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Column {
    /// Cost of one.
    pub cost: f64,
    /// Row and amount.
    pub brings: Vec<(usize, f64)>,
}

/// Lowers the cost of columns, none bought less than 0 times, that bring what each row asks for exactly.
/// What may be more or less is said by columns of no cost.
pub(super) struct Master {
    columns: Vec<Column>,
    /// By row: the column that is bought for it.
    basis: Vec<usize>,
    is_basic: Vec<bool>,
    /// By row: how often it is bought.
    amounts: Vec<f64>,
    /// Inverse of the basis, row after row.
    inverse: Vec<f64>,
}

impl Master {
    /// Begins with one column a row, which brings only to that row, and more than 0.
    pub fn new(first: Vec<Column>, asked: &[f64]) -> Self {
        let n = asked.len();
        let mut inverse = vec![0.0; n * n];
        let mut amounts = asked.to_vec();
        for (row, column) in first.iter().enumerate() {
            let each = column.brings.iter().find(|(r, _)| *r == row);
            let each = each.map_or(1.0, |(_, amount)| *amount);
            inverse[row * n + row] = 1.0 / each;
            amounts[row] /= each;
        }
        Self {
            is_basic: vec![true; n],
            basis: (0..n).collect(),
            columns: first,
            amounts,
            inverse,
        }
    }

    /// Offers a further column.
    pub fn add(&mut self, column: Column) {
        self.columns.push(column);
        self.is_basic.push(false);
    }

    /// Cost of what is bought.
    pub fn cost(&self) -> f64 {
        let bought = self.basis.iter().zip(&self.amounts);
        bought
            .map(|(c, amount)| self.columns[*c].cost * amount)
            .sum()
    }

    /// What is bought: column and amount, the columns counted as they were offered.
    pub fn bought(&self) -> impl Iterator<Item = (usize, f64)> + '_ {
        self.basis.iter().copied().zip(self.amounts.iter().copied())
    }

    /// What one more of each row would cost.
    pub fn prices(&self) -> Vec<f64> {
        let n = self.basis.len();
        let mut prices = vec![0.0; n];
        for (row, c) in self.basis.iter().enumerate() {
            let cost = self.columns[*c].cost;
            if cost != 0.0 {
                let inverse = &self.inverse[row * n..(row + 1) * n];
                for (price, i) in prices.iter_mut().zip(inverse) {
                    *price += cost * i;
                }
            }
        }
        prices
    }

    /// Cost of a column less what it brings at `prices`.
    pub fn reduced(column: &Column, prices: &[f64]) -> f64 {
        let worth: f64 = column.brings.iter().map(|(row, n)| prices[*row] * n).sum();
        column.cost - worth
    }

    /// Lowers the cost as far as the columns allow. Returns the work, in numbers looked at.
    pub fn solve(&mut self) -> u64 {
        let n = self.basis.len();
        let mut work = 0;
        for _ in 0..MOST_PIVOTS {
            let prices = self.prices();
            work += (n * n) as u64;
            let mut enters = None;
            let mut least = 0.0;
            for (c, column) in self.columns.iter().enumerate() {
                if self.is_basic[c] {
                    continue;
                }
                let reduced = Self::reduced(column, &prices);
                work += column.brings.len() as u64;
                let scale: f64 = column
                    .cost
                    .abs()
                    .max(1e-6 * prices[column.brings[0].0].abs());
                if reduced < -GAIN * scale && reduced < least {
                    least = reduced;
                    enters = Some(c);
                }
            }
            let Some(enters) = enters else {
                break;
            };
            work += 3 * (n * n) as u64;
            if !self.pivot(enters) {
                break;
            }
        }
        work
    }

    /// Brings a column into the basis; `false` when no other has to leave.
    fn pivot(&mut self, enters: usize) -> bool {
        let n = self.basis.len();
        let brings = &self.columns[enters].brings;
        let entries: Vec<f64> = (0..n)
            .map(|row| {
                brings
                    .iter()
                    .map(|(r, v)| self.inverse[row * n + r] * v)
                    .sum()
            })
            .collect();
        let mut leaves: Option<(f64, usize)> = None;
        for (row, entry) in entries.iter().enumerate() {
            if *entry > TINY {
                let most = self.amounts[row].max(0.0) / entry;
                // Of equals the oldest column leaves, which keeps it from going in circles mostly.
                let better = leaves.is_none_or(|(least, other)| {
                    most < least || most == least && self.basis[row] < self.basis[other]
                });
                if better {
                    leaves = Some((most, row));
                }
            }
        }
        let Some((amount, row)) = leaves else {
            return false;
        };
        let pivot = entries[row];
        for i in &mut self.inverse[row * n..(row + 1) * n] {
            *i /= pivot;
        }
        let pivot_row = self.inverse[row * n..(row + 1) * n].to_vec();
        for (other, entry) in entries.iter().enumerate() {
            if other != row && *entry != 0.0 {
                let target = &mut self.inverse[other * n..(other + 1) * n];
                for (i, p) in target.iter_mut().zip(&pivot_row) {
                    *i -= entry * p;
                }
                self.amounts[other] -= entry * amount;
            }
        }
        self.amounts[row] = amount;
        self.is_basic[self.basis[row]] = false;
        self.is_basic[enters] = true;
        self.basis[row] = enters;
        true
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn column(cost: f64, brings: &[(usize, f64)]) -> Column {
        Column {
            cost,
            brings: brings.to_vec(),
        }
    }

    #[test]
    fn a_worked_example_comes_out() {
        // Gilmore and Gomory's setting by hand: bars of 9 for lengths 4, 3, 2 with demands 20, 10, 20.
        // Patterns 4+4, 4+3+2, 3+3+3, 2x4, 4+2+2, 3+2+2+2: the relaxation needs no more than
        // (20 x 4 + 10 x 3 + 20 x 2) / 9 = 150 / 9 bars, and 4+3+2 with 4+2+2 and 4+4 come near.
        let mut master = Master::new(
            vec![
                column(1.0, &[(0, 2.0)]),
                column(1.0, &[(1, 3.0)]),
                column(1.0, &[(2, 4.0)]),
            ],
            &[20.0, 10.0, 20.0],
        );
        assert!((master.cost() - (10.0 + 10.0 / 3.0 + 5.0)).abs() < 1e-12);
        for brings in [
            vec![(0, 1.0), (1, 1.0), (2, 1.0)],
            vec![(0, 1.0), (2, 2.0)],
            vec![(1, 1.0), (2, 3.0)],
        ] {
            master.add(column(1.0, &brings));
        }
        for row in 0..3 {
            master.add(column(0.0, &[(row, -1.0)]));
        }
        master.solve();
        // Ten of 4+3+2, five of 4+2+2 and two and a half of 4+4.
        assert!((master.cost() - 17.5).abs() < 1e-9);
        let prices = master.prices();
        let asked = [20.0, 10.0, 20.0];
        let dual: f64 = prices.iter().zip(asked).map(|(p, n)| p * n).sum();
        assert!((dual - 17.5).abs() < 1e-9);
        assert!(prices.iter().all(|p| *p >= -1e-12));
    }
}

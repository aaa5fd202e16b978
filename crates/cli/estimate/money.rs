//! Amounts of money in exact decimals.

use crate::paper::Paper;
use rust_decimal::prelude::ToPrimitive;
use rust_decimal::{Decimal, RoundingStrategy};
use std::fmt;
use std::iter::Sum;
use std::ops::{Add, AddAssign, Neg, Sub};

/// More than any job costs; what cannot be held exactly is held here.
const MOST: Decimal = Decimal::from_parts(0, 0, 1_000_000, false, 0);

/// An amount of money. Sums of amounts are exact; nothing is rounded until [`Money::rounded`] is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default, Hash)]
pub struct Money(Decimal);

impl Money {
    /// Nothing.
    pub const ZERO: Self = Self(Decimal::ZERO);

    /// The decimal that a number of a file stands for: 0.1 is one tenth, not the binary fraction next to it.
    /// What is no number is nothing.
    #[must_use]
    pub fn of(value: f64) -> Self {
        if !value.is_finite() {
            return Self::ZERO;
        }
        // The shortest text that reads back as the same number is what was written. Digits beyond those a
        // decimal holds are far below any coin.
        let text = format!("{value}");
        let text = text.get(..28).unwrap_or(&text);
        let decimal = text
            .parse::<Decimal>()
            .unwrap_or(if value < 0.0 { -MOST } else { MOST });
        Self(decimal.clamp(-MOST, MOST))
    }

    /// So much of something at a rate each. Quantities count to a millionth.
    #[must_use]
    pub fn at_rate(quantity: f64, rate: f64) -> Self {
        let quantity = Self::of((quantity * 1e6).round() / 1e6).0;
        let product = quantity.checked_mul(Self::of(rate).0).unwrap_or(MOST);
        Self(product.clamp(-MOST, MOST))
    }

    /// So many of it.
    #[must_use]
    pub fn times(self, count: u32) -> Self {
        let product = self.0.checked_mul(Decimal::from(count)).unwrap_or(MOST);
        Self(product.clamp(-MOST, MOST))
    }

    /// One of so many equal parts, not rounded beyond what a decimal holds; all of it for 0 parts.
    #[must_use]
    pub fn part(self, of: u32) -> Self {
        Self(self.0.checked_div(Decimal::from(of)).unwrap_or(self.0))
    }

    /// What `self` is after a share of the result is added: `self / (1 - share)`. Shares of 1 and more are
    /// taken for none.
    #[must_use]
    pub fn with_margin(self, share: f64) -> Self {
        let rest = Decimal::ONE - Self::of(share).0;
        if rest <= Decimal::ZERO {
            return self;
        }
        Self(self.0.checked_div(rest).unwrap_or(MOST).clamp(-MOST, MOST))
    }

    /// To so many decimals; halves away from zero, as on an invoice.
    #[must_use]
    pub fn rounded(self, decimals: u32) -> Self {
        let strategy = RoundingStrategy::MidpointAwayFromZero;
        Self(self.0.round_dp_with_strategy(decimals, strategy))
    }

    /// To so many decimals, up: what a unit price is rounded to, so that the whole is covered.
    #[must_use]
    pub fn rounded_up(self, decimals: u32) -> Self {
        let strategy = RoundingStrategy::ToPositiveInfinity;
        Self(self.0.round_dp_with_strategy(decimals, strategy))
    }

    /// The nearest binary number, for charts and for JSON, which prints it as the decimal again.
    #[must_use]
    pub fn to_f64(self) -> f64 {
        self.0.to_f64().unwrap_or_default()
    }

    /// Whether it is nothing.
    #[must_use]
    pub fn is_zero(self) -> bool {
        self.0.is_zero()
    }

    /// With so many decimals, as printed.
    #[must_use]
    pub fn text(self, decimals: u32) -> String {
        let rounded = self.rounded(decimals).0;
        // A decimal knows a negative zero.
        let rounded = if rounded.is_zero() {
            Decimal::ZERO
        } else {
            rounded
        };
        format!("{rounded:.*}", decimals as usize)
    }

    /// The same with the decimal sign of a paper's language.
    #[must_use]
    pub fn words(self, decimals: u32, paper: &Paper) -> String {
        self.text(decimals)
            .replace('.', paper.language.decimal_sign())
    }

    /// In the smallest coin, rounded to it.
    fn coins(self, decimals: u32) -> i128 {
        let factor = Decimal::from(10_u32.pow(decimals.min(9)));
        let coins = self.rounded(decimals).0.checked_mul(factor);
        coins.unwrap_or_default().to_i128().unwrap_or_default()
    }

    fn of_coins(coins: i128, decimals: u32) -> Self {
        Self(Decimal::try_from_i128_with_scale(coins, decimals).unwrap_or_default())
    }

    /// Shares `self` out by weights, each share to the smallest coin, all together exactly `self` rounded to
    /// it. Coins left by rounding down go to the largest remainders, the first of equal ones first. Without
    /// any weight above 0, the shares are equal.
    #[must_use]
    pub fn shared(self, weights: &[f64], decimals: u32) -> Vec<Self> {
        if weights.is_empty() {
            return Vec::new();
        }
        let sound = |w: f64| if w.is_finite() && w > 0.0 { w } else { 0.0 };
        let whole: f64 = weights.iter().copied().map(sound).sum();
        let weight = |i: usize| match whole > 0.0 {
            true => sound(weights[i]) / whole,
            false => 1.0 / weights.len() as f64,
        };
        let coins = self.coins(decimals);
        let exact: Vec<f64> = (0..weights.len())
            .map(|i| coins as f64 * weight(i))
            .collect();
        let mut shares: Vec<i128> = exact.iter().map(|e| e.floor() as i128).collect();
        let mut order: Vec<usize> = (0..weights.len()).collect();
        let remainder = |i: &usize| exact[*i] - exact[*i].floor();
        order.sort_by(|a, b| remainder(b).total_cmp(&remainder(a)).then(a.cmp(b)));
        let left = coins - shares.iter().sum::<i128>();
        for k in 0..left.unsigned_abs() as usize {
            shares[order[k % order.len()]] += left.signum();
        }
        shares
            .into_iter()
            .map(|c| Self::of_coins(c, decimals))
            .collect()
    }
}

impl fmt::Display for Money {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

impl Add for Money {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0.saturating_add(other.0).clamp(-MOST, MOST))
    }
}

impl AddAssign for Money {
    fn add_assign(&mut self, other: Self) {
        *self = *self + other;
    }
}

impl Neg for Money {
    type Output = Self;
    fn neg(self) -> Self {
        Self(-self.0)
    }
}

impl Sub for Money {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        self + -other
    }
}

impl Sum for Money {
    fn sum<I: Iterator<Item = Self>>(amounts: I) -> Self {
        amounts.fold(Self::ZERO, Add::add)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn tenths_are_tenths() {
        let tenth = Money::of(0.1);
        assert_eq!(tenth + tenth + tenth, Money::of(0.3));
        assert_eq!(Money::of(78.0).times(3).text(2), "234.00");
        assert_eq!(Money::of(-0.004).text(2), "0.00");
        assert_eq!(Money::of(2.5).rounded(0).text(0), "3");
        assert_eq!(Money::of(1e300), Money(MOST));
        assert_eq!(Money::of(f64::NAN), Money::ZERO);
        assert_eq!(Money::of(1e-30).text(2), "0.00");
    }

    #[test]
    fn net_material_of_a_sheet() {
        // Worked example: a sheet of 1220 x 2440 mm for 60, a remnant of 1220 x 500 mm kept at half of its
        // share of the area: credit 6.1475, net 53.8525.
        let sheet = 1.220 * 2.440;
        let credit = Money::at_rate(1.0, 60.0 * 0.5 * (1.220 * 0.500) / sheet);
        assert_eq!(credit.rounded(4), Money::of(6.1475));
        assert_eq!((Money::of(60.0) - credit).rounded(4), Money::of(53.8525));
    }

    #[test]
    fn shares_by_true_and_by_bounding_area() {
        // Worked example: net material of 53.8525 over 4 parts of 0.30 m2 and 5 of 0.12 m2 is 8.9754 and 3.5902
        // each; by bounding areas of 0.40 and 0.12 m2 (2.2 m2 together) it is 9.7914 and 2.9374.
        let net = Money::of(53.8525);
        let by = |a: f64, b: f64| {
            let weights: Vec<f64> = [vec![a; 4], vec![b; 5]].concat();
            net.shared(&weights, 4)
        };
        for (shares, a, b) in [
            (by(0.30, 0.12), 8.9754, 3.5902),
            (by(0.40, 0.12), 9.7914, 2.9374),
        ] {
            // To the last decimal, some shares carry a coin more than others.
            for (share, expected) in shares.iter().zip([[a; 4].as_slice(), &[b; 5]].concat()) {
                let off = (*share - Money::of(expected)).to_f64().abs();
                assert!(off < 0.000_11, "{share} for {expected}");
            }
            assert_eq!(shares.into_iter().sum::<Money>(), net);
        }
    }

    #[test]
    fn a_margin_is_a_share_of_the_price() {
        let price = Money::of(70.0).with_margin(0.3);
        assert_eq!(price.rounded(2), Money::of(100.0));
        assert_eq!(Money::of(70.0).with_margin(1.0), Money::of(70.0));
    }

    proptest! {
        #[test]
        fn shares_add_up(
            cents in -10_000_000_i64..10_000_000,
            weights in prop::collection::vec(0.0..100.0_f64, 1..30),
        ) {
            let amount = Money::of_coins(i128::from(cents), 2);
            let shares = amount.shared(&weights, 2);
            prop_assert_eq!(shares.iter().copied().sum::<Money>(), amount);
            let whole: f64 = weights.iter().sum();
            if whole > 0.0 {
                for (share, weight) in shares.iter().zip(&weights) {
                    let exact = amount.to_f64() * weight / whole;
                    prop_assert!((share.to_f64() - exact).abs() <= 0.010_001);
                }
            }
        }

        #[test]
        fn what_was_written_is_meant(cents in 0_i64..1_000_000_000_000) {
            let value = cents as f64 / 100.0;
            prop_assert_eq!(Money::of(value), Money::of_coins(i128::from(cents), 2));
        }
    }
}

//! Units of lengths on papers.

use serde::Deserialize;

/// Unit of lengths on papers. Cut files and `nest.json` are in millimetres whatever is set here.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize)]
#[serde(try_from = "String")]
pub enum Lengths {
    /// Millimetres: `mm`.
    #[default]
    Millimetres,
    /// Inches with decimals: `inch`.
    Inches,
    /// Inches to the nearest fraction, such as 32nds: `inch/32`. The number is a power of two, 2 to 128.
    Fractions(u32),
}

/// Finest fractions that rules and tapes are marked with, doubled.
const FINEST: u32 = 128;

impl TryFrom<String> for Lengths {
    type Error = String;

    fn try_from(text: String) -> Result<Self, String> {
        text.parse()
    }
}

impl std::str::FromStr for Lengths {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let fraction = |parts: &str| {
            let parts: u32 = parts.parse().ok()?;
            (parts.is_power_of_two() && (2..=FINEST).contains(&parts)).then_some(parts)
        };
        match text.split_once('/') {
            None if text == "mm" => Some(Self::Millimetres),
            None if text == "inch" => Some(Self::Inches),
            Some(("inch", parts)) => fraction(parts).map(Self::Fractions),
            _ => None,
        }
        .ok_or_else(|| {
            format!(
                "'{text}' is no unit of lengths; give mm, inch, or inch/16 for fractions (2, 4, 8, 16, 32, 64 or 128)"
            )
        })
    }
}

/// Share of a length by which its nearest fraction may differ from it.
const ROUGHEST: f64 = 0.1;

/// Whether the nearest `1 / parts` tells a length of this many inches at all: of a sheet of a millimetre sixteenths would
/// make another one, or nothing.
pub(super) fn is_told_by(value: f64, parts: u32) -> bool {
    let parts = f64::from(parts);
    ((value * parts).round() / parts - value).abs() <= ROUGHEST * value.abs()
}

/// `value` to the nearest `1 / parts`, in lowest terms: `12-3/8`, `5/64`, `0`. The hyphen, common practice, keeps a
/// number in one piece where lines are broken.
pub(super) fn fraction(value: f64, parts: u32) -> String {
    let total = (value.abs() * f64::from(parts)).round();
    // No sheet is that long; beyond 2^53 there are no fractions left to tell.
    let total = total.min(9.0e15) as u64;
    let (whole, rest) = (total / u64::from(parts), total % u64::from(parts));
    // Both are powers of two times something odd, so the common factor is a power of two.
    let shift = if rest == 0 { 0 } else { rest.trailing_zeros() };
    let (top, bottom) = (rest >> shift, u64::from(parts) >> shift);
    let sign = if value < 0.0 && total > 0 { "-" } else { "" };
    match (whole, top) {
        (_, 0) => format!("{sign}{whole}"),
        (0, _) => format!("{sign}{top}/{bottom}"),
        _ => format!("{sign}{whole}-{top}/{bottom}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn fractions_in_lowest_terms() {
        assert_eq!(fraction(12.375, 64), "12-3/8");
        assert_eq!(fraction(5.0 / 64.0, 64), "5/64");
        assert_eq!(fraction(0.999, 16), "1");
        assert_eq!(fraction(-0.001, 16), "0");
        assert_eq!(fraction(-1.5, 2), "-1-1/2");
    }

    #[test]
    fn units_as_they_are_written() {
        assert_eq!("mm".parse(), Ok(Lengths::Millimetres));
        assert_eq!("inch".parse(), Ok(Lengths::Inches));
        assert_eq!("inch/32".parse(), Ok(Lengths::Fractions(32)));
        for wrong in ["", "cm", "inch/0", "inch/12", "inch/256", "inch/", "mm/2"] {
            let error = wrong.parse::<Lengths>().expect_err(wrong);
            assert!(error.contains("inch/16"), "{error}");
        }
    }

    proptest! {
        #[test]
        fn a_fraction_is_the_nearest(value in 0.0..4000.0, power in 1u32..8) {
            let parts = 1 << power;
            let text = fraction(value, parts);
            let read: f64 = text.split('-').map(|word| match word.split_once('/') {
                Some((top, bottom)) => top.parse::<f64>().unwrap() / bottom.parse::<f64>().unwrap(),
                None => word.parse().unwrap(),
            }).sum();
            prop_assert!((read - value).abs() <= 0.5 / f64::from(parts) + 1e-9, "{value} as {text}");
        }
    }
}

//! In which language and unit papers are written: every text that a person reads on paper or on a report's
//! screen comes from one folder of messages for each language ([`Language`]), every length through
//! [`Lengths`].
//!
//! To add a language: translate the folder `en`, add a variant to [`Language`]; the tests tell what is missing.

mod lengths;
mod words;

pub use lengths::Lengths;
pub use words::{Language, Value};

use crate::area::m2;

/// A pound in kilograms: exact (international yard and pound agreement, 1959).
const KG_PER_POUND: f64 = 0.453_592_37;

/// How a shop's papers are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Paper {
    /// Language of the texts and of decimal signs.
    pub language: Language,
    /// Unit of lengths, and with it of areas and masses.
    pub lengths: Lengths,
}

impl Paper {
    /// English, in millimetres.
    pub const METRIC: Self = Self {
        language: Language::English,
        lengths: Lengths::Millimetres,
    };

    /// The message `key`.
    #[must_use]
    pub fn say(&self, key: &str) -> String {
        self.language.say(key, &[])
    }

    /// The message `key` with its variables filled in: `paper.say_with("sheet-of", &[("n", 3.into())])`.
    #[must_use]
    pub fn say_with(&self, key: &str, values: &[(&str, Value)]) -> String {
        self.language.say(key, values)
    }

    /// `value` with exactly so many decimals and the language's decimal sign, without a minus sign before zero.
    #[must_use]
    pub fn fixed(&self, value: f64, decimals: usize) -> String {
        if !value.is_finite() {
            return self.say("not-known");
        }
        let text = format!("{value:.decimals$}");
        let text = match text.strip_prefix('-') {
            Some(rest) if rest.bytes().all(|b| matches!(b, b'0' | b'.')) => rest,
            _ => &text,
        };
        text.replace('.', self.language.decimal_sign())
    }

    /// `value` with at most so many decimals, trailing zeros left off.
    #[must_use]
    pub fn short(&self, value: f64, decimals: usize) -> String {
        let sign = self.language.decimal_sign();
        let text = self.fixed(value, decimals);
        if text.contains(sign) && value.is_finite() {
            let text = text.trim_end_matches('0');
            text.strip_suffix(sign).unwrap_or(text).to_owned()
        } else {
            text
        }
    }

    /// A length given in millimetres, without its unit: millimetres to a tenth, inches to a thousandth or to
    /// the nearest fraction where that is anywhere near it.
    #[must_use]
    pub fn length(&self, mm: f64) -> String {
        match self.lengths {
            Lengths::Millimetres => self.short(mm, 1),
            Lengths::Inches => self.short(mm / 25.4, 3),
            Lengths::Fractions(parts) if lengths::is_told_by(mm / 25.4, parts) => {
                lengths::fraction(mm / 25.4, parts)
            }
            Lengths::Fractions(_) if mm.is_finite() => self.short(mm / 25.4, 3),
            Lengths::Fractions(_) => self.say("not-known"),
        }
    }

    /// A length that is too small for [`Paper::length`], such as a kerf: to a thousandth of the unit.
    #[must_use]
    pub fn fine_length(&self, mm: f64) -> String {
        match self.lengths {
            Lengths::Millimetres => self.short(mm, 3),
            Lengths::Inches | Lengths::Fractions(_) => self.short(mm / 25.4, 4),
        }
    }

    /// Two lengths: `796 x 590`.
    #[must_use]
    pub fn size(&self, a: f64, b: f64) -> String {
        format!("{} x {}", self.length(a), self.length(b))
    }

    /// Sign of the unit of lengths: `mm` or `in`.
    #[must_use]
    pub fn length_unit(&self) -> &'static str {
        match self.lengths {
            Lengths::Millimetres => "mm",
            Lengths::Inches | Lengths::Fractions(_) => "in",
        }
    }

    /// A length to go along, given in millimetres, with its unit: metres or feet, to a tenth.
    #[must_use]
    pub fn distance(&self, mm: f64) -> String {
        match self.lengths {
            Lengths::Millimetres => format!("{} m", self.fixed(mm / 1e3, 1)),
            Lengths::Inches | Lengths::Fractions(_) => {
                format!("{} ft", self.fixed(mm / 304.8, 1))
            }
        }
    }

    /// An area given in square millimetres, without its unit: square metres or square feet.
    #[must_use]
    pub fn area(&self, mm2: f64) -> String {
        match self.lengths {
            Lengths::Millimetres => self.fixed(m2(mm2), 3),
            Lengths::Inches | Lengths::Fractions(_) => self.fixed(mm2 / (304.8 * 304.8), 2),
        }
    }

    /// Sign of the unit of areas: `m²` or `ft²`.
    #[must_use]
    pub fn area_unit(&self) -> &'static str {
        match self.lengths {
            Lengths::Millimetres => "m²",
            Lengths::Inches | Lengths::Fractions(_) => "ft²",
        }
    }

    /// A mass given in kilograms, with its unit: to a tenth; a light part shows its grams.
    #[must_use]
    pub fn mass(&self, kg: f64) -> String {
        let (value, unit) = match self.lengths {
            Lengths::Millimetres => (kg, "kg"),
            Lengths::Inches | Lengths::Fractions(_) => (kg / KG_PER_POUND, "lb"),
        };
        let decimals = if value.abs() < 0.95 { 2 } else { 1 };
        format!("{} {unit}", self.fixed(value, decimals))
    }

    /// A mass given in kilograms, with its unit: to a whole one.
    #[must_use]
    pub fn rough_mass(&self, kg: f64) -> String {
        match self.lengths {
            Lengths::Millimetres => format!("{} kg", self.fixed(kg, 0)),
            Lengths::Inches | Lengths::Fractions(_) => {
                format!("{} lb", self.fixed(kg / KG_PER_POUND, 0))
            }
        }
    }

    /// A reach given in millimetres, with its unit: whole centimetres or inches.
    #[must_use]
    pub fn reach(&self, mm: f64) -> String {
        match self.lengths {
            Lengths::Millimetres => format!("{} cm", self.fixed(mm / 10.0, 0)),
            Lengths::Inches | Lengths::Fractions(_) => format!("{} in", self.fixed(mm / 25.4, 0)),
        }
    }

    /// Money with two decimals, without its label.
    #[must_use]
    pub fn money(&self, value: f64) -> String {
        self.fixed(value, 2)
    }

    /// A share as a percentage, to a tenth.
    #[must_use]
    pub fn percent(&self, share: f64) -> String {
        if share.is_finite() {
            format!("{} %", self.fixed(share * 100.0, 1))
        } else {
            self.say("not-known")
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const METRIC: Paper = Paper::METRIC;

    #[test]
    fn numbers_in_both_languages() {
        let german = Paper {
            language: Language::German,
            ..METRIC
        };
        assert_eq!(METRIC.length(152.4), "152.4");
        assert_eq!(german.length(152.4), "152,4");
        assert_eq!(METRIC.length(-0.01), "0");
        assert_eq!(METRIC.length(1200.0), "1200");
        assert_eq!(german.money(1234.5), "1234,50");
        assert_eq!(METRIC.money(-0.004), "0.00");
        assert_eq!(METRIC.percent(0.604_67), "60.5 %");
        assert_eq!(METRIC.percent(f64::NAN), "not known");
        assert_eq!(METRIC.area(2_976_800.0), "2.977");
        assert_eq!(METRIC.mass(0.03), "0.03 kg");
    }

    #[test]
    fn inches() {
        let inches = Paper {
            lengths: Lengths::Inches,
            ..METRIC
        };
        let fractions = Paper {
            lengths: Lengths::Fractions(32),
            ..METRIC
        };
        assert_eq!(inches.length(2440.0), "96.063");
        assert_eq!(fractions.length(2440.0), "96-1/16");
        assert_eq!(fractions.length(f64::INFINITY), "not known");
        assert_eq!(inches.size(1219.2, 9.525), "48 x 0.375");
        assert_eq!(fractions.fine_length(3.175), "0.125");
        assert_eq!(inches.area(304.8 * 304.8 * 3.0), "3.00");
        assert_eq!(inches.mass(0.453_592_37 * 4.0), "4.0 lb");
        assert_eq!(inches.distance(3048.0), "10.0 ft");
        // What the equation's manual gives in both units: 23 kg, 51 lb.
        assert_eq!(inches.rough_mass(23.0), "51 lb");
        assert_eq!(METRIC.rough_mass(23.0), "23 kg");
        assert_eq!(inches.reach(600.0), "24 in");
        assert_eq!(METRIC.reach(600.0), "60 cm");
    }
}

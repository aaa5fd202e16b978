//! Units a drawing may be in.

use std::fmt;

/// A unit of length that a drawing can be in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
#[non_exhaustive]
pub enum Unit {
    /// Micrometre.
    Micrometre,
    /// Millimetre, the program's own unit.
    Millimetre,
    /// Centimetre.
    Centimetre,
    /// Decimetre.
    Decimetre,
    /// Metre.
    Metre,
    /// A millionth of an inch.
    Microinch,
    /// A thousandth of an inch.
    Mil,
    /// International inch, exactly 25.4 mm.
    Inch,
    /// Twelve inches.
    Foot,
    /// Three feet.
    Yard,
    /// US survey foot, 1200/3937 m.
    SurveyFoot,
    /// A 96th of an inch, the unit of web pages and of SVG.
    Pixel,
    /// A 72nd of an inch.
    Point,
    /// A sixth of an inch.
    Pica,
    /// A quarter of a millimetre (CSS `Q`).
    QuarterMillimetre,
}

impl Unit {
    /// Its length in millimetres.
    ///
    /// # Source
    /// Inch and yard: international yard and pound agreement of 1959. Pixel, point, pica and `Q`:
    /// CSS Values and Units Module Level 3, absolute lengths. Survey foot: US National Bureau of
    /// Standards, 1893 (from memory).
    #[must_use]
    pub const fn in_mm(self) -> f64 {
        match self {
            Self::Micrometre => 0.001,
            Self::Millimetre => 1.0,
            Self::Centimetre => 10.0,
            Self::Decimetre => 100.0,
            Self::Metre => 1000.0,
            Self::Microinch => 25.4e-6,
            Self::Mil => 0.0254,
            Self::Inch => 25.4,
            Self::Foot => 304.8,
            Self::Yard => 914.4,
            Self::SurveyFoot => 1_200_000.0 / 3937.0,
            Self::Pixel => 25.4 / 96.0,
            Self::Point => 25.4 / 72.0,
            Self::Pica => 25.4 / 6.0,
            Self::QuarterMillimetre => 0.25,
        }
    }

    /// The unit of a DXF `$INSUNITS` value.
    ///
    /// # Errors
    /// What the value means, when it stands for no unit (0) or for one no panel is drawn in.
    ///
    /// # Source
    /// DXF reference, header variable `$INSUNITS`.
    pub(super) fn from_insunits(value: i64) -> Result<Self, &'static str> {
        Ok(match value {
            1 => Self::Inch,
            2 => Self::Foot,
            4 => Self::Millimetre,
            5 => Self::Centimetre,
            6 => Self::Metre,
            8 => Self::Microinch,
            9 => Self::Mil,
            10 => Self::Yard,
            13 => Self::Micrometre,
            14 => Self::Decimetre,
            21 => Self::SurveyFoot,
            0 => return Err("no unit"),
            3 => return Err("miles"),
            7 => return Err("kilometres"),
            11 => return Err("angstroms"),
            12 => return Err("nanometres"),
            15 => return Err("decametres"),
            16 => return Err("hectometres"),
            17 => return Err("gigametres"),
            18 => return Err("astronomical units"),
            19 => return Err("light years"),
            20 => return Err("parsecs"),
            22 => return Err("US survey inches"),
            23 => return Err("US survey yards"),
            24 => return Err("US survey miles"),
            _ => return Err("nothing this program knows"),
        })
    }
}

impl fmt::Display for Unit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Micrometre => "micrometres",
            Self::Millimetre => "millimetres",
            Self::Centimetre => "centimetres",
            Self::Decimetre => "decimetres",
            Self::Metre => "metres",
            Self::Microinch => "microinches",
            Self::Mil => "mils (thousandths of an inch)",
            Self::Inch => "inches",
            Self::Foot => "feet",
            Self::Yard => "yards",
            Self::SurveyFoot => "US survey feet",
            Self::Pixel => "pixels (96 to the inch)",
            Self::Point => "points (72 to the inch)",
            Self::Pica => "picas (6 to the inch)",
            Self::QuarterMillimetre => "quarter millimetres",
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_match_the_published_ratios() {
        let near = |a: f64, b: f64| assert!((a - b).abs() < 1e-12 * b.max(1.0), "{a} {b}");
        // CSS Values and Units 3: 1 in = 2.54 cm = 96 px = 72 pt = 6 pc = 101.6 Q.
        near(96.0 * Unit::Pixel.in_mm(), 25.4);
        near(72.0 * Unit::Point.in_mm(), 25.4);
        near(6.0 * Unit::Pica.in_mm(), 25.4);
        near(101.6 * Unit::QuarterMillimetre.in_mm(), 25.4);
        near(2.54 * Unit::Centimetre.in_mm(), 25.4);
        // International yard and pound agreement 1959: 1 yd = 0.9144 m.
        near(Unit::Yard.in_mm(), 0.9144 * Unit::Metre.in_mm());
        near(3.0 * Unit::Foot.in_mm(), Unit::Yard.in_mm());
        near(8.0 * Unit::Foot.in_mm(), 2438.4);
        // 1200/3937 m, from memory: 304.800609601 mm.
        assert!((Unit::SurveyFoot.in_mm() - 304.800_609_601).abs() < 1e-9);
    }

    #[test]
    fn insunits_values_follow_the_dxf_reference() {
        // DXF reference, $INSUNITS: value and length of one unit in millimetres.
        for (value, mm) in [
            (1, 25.4),
            (2, 304.8),
            (4, 1.0),
            (5, 10.0),
            (6, 1000.0),
            (8, 25.4e-6),
            (9, 0.0254),
            (10, 914.4),
            (13, 0.001),
            (14, 100.0),
        ] {
            let unit = Unit::from_insunits(value).expect("a known unit");
            assert!((unit.in_mm() - mm).abs() < 1e-12 * mm.max(1.0), "{value}");
        }
        assert_eq!(Unit::from_insunits(0), Err("no unit"));
        assert_eq!(Unit::from_insunits(20), Err("parsecs"));
        assert!(Unit::from_insunits(99).is_err());
    }
}

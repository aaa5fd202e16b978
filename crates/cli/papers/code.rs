//! QR codes as SVG.

use crate::{Failure, Result};
use qrcode::bits::Bits;
use qrcode::{Color, EcLevel, QrCode, Version};
use sha2::{Digest, Sha256};
use std::fmt::Write as _;

/// Clear modules round a code: ISO/IEC 18004, quiet zone of 4 modules on all sides.
pub const QUIET: usize = 4;

/// Least side of a module, millimetres. Common practice, from memory: readers held in the hand are rated from
/// about 0.25 mm, and 0.33 mm leaves them something for dust and a worn print head.
pub const LEAST_MODULE: f64 = 0.33;

/// Largest side of a module, millimetres: more only takes the room of the words.
const LARGEST_MODULE: f64 = 1.5;

/// Sides of modules are whole numbers of these, millimetres, where there is room: the dot of a thermal printer
/// with 203 dots an inch. Common practice.
const DOT: f64 = 0.125;

/// Assignment number of UTF-8 among the extended channel interpretations that a code may name.
const UTF_8: u32 = 26;

/// A code that fits its place.
#[derive(Debug)]
pub struct Code {
    /// Modules along a side, without the quiet zone.
    pub modules: usize,
    /// Side with the quiet zone, millimetres.
    pub side: f64,
    /// What it says.
    #[cfg(test)]
    pub text: String,
    path: String,
}

impl Code {
    /// A code that says `text`, with its quiet zone within a square of `room` millimetres. Where its modules
    /// would be too small it says [`digest`] of the text.
    ///
    /// # Errors
    /// When even that has no room.
    pub fn fitting(text: &str, room: f64) -> Result<Self> {
        let within = |text: &str| {
            let code = encoded(text)?;
            let across = (code.width() + 2 * QUIET) as f64;
            let module = room / across;
            (module >= LEAST_MODULE).then_some((code, across, module.min(LARGEST_MODULE)))
        };
        let mut said = text.to_owned();
        let mut found = within(&said);
        if found.is_none() {
            said = digest(text);
            found = within(&said);
        }
        let (code, across, module) = found.ok_or_else(|| {
            Failure::new(
                "labels",
                format!("a code for '{text}' has no room in {room:.1} mm"),
                "use larger labels",
            )
        })?;
        let dots = (module / DOT).floor() * DOT;
        let module = if dots >= LEAST_MODULE { dots } else { module };
        let modules = code.width();
        let mut path = String::new();
        for (y, row) in code.to_colors().chunks(modules).enumerate() {
            let mut x = 0;
            for run in row.chunk_by(|a, b| a == b) {
                if run[0] == Color::Dark {
                    // Filled, not stroked: thin strokes without smoothing are printed as hairlines.
                    let (x, length) = (x + QUIET, run.len());
                    let _ = write!(path, "M{x} {}h{length}v1h-{length}z", y + QUIET);
                }
                x += run.len();
            }
        }
        Ok(Self {
            modules,
            side: module * across,
            #[cfg(test)]
            text: said,
            path,
        })
    }

    /// The code with its upper left corner at `x`, `y`. A user unit is a millimetre.
    #[must_use]
    pub fn svg(&self, x: f64, y: f64) -> String {
        let n = crate::number::short;
        let across = self.modules + 2 * QUIET;
        format!(
            "<g class=\"code\" transform=\"translate({} {}) scale({})\" shape-rendering=\"crispEdges\">\
             <path d=\"M0 0h{across}v{across}h-{across}z\" fill=\"#fff\"/>\
             <path d=\"{}\" fill=\"#000\"/></g>",
            n(x, 3),
            n(y, 3),
            n(self.side / across as f64, 5),
            self.path
        )
    }
}

/// What a code says instead of a text that is too long for it: `ID:` and the first 16 hexadecimal digits of the
/// text's SHA-256.
#[must_use]
pub fn digest(text: &str) -> String {
    let hash = Sha256::digest(text.as_bytes());
    hash.iter().take(8).fold("ID:".to_owned(), |mut all, byte| {
        let _ = write!(all, "{byte:02X}");
        all
    })
}

/// The smallest code that says a text, with medium correction: a quarter of a small code would be lost to more,
/// and labels are short-lived.
///
/// Letters beyond ASCII are announced as UTF-8, so that no reader has to guess.
fn encoded(text: &str) -> Option<QrCode> {
    if text.is_ascii() {
        return QrCode::with_error_correction_level(text, EcLevel::M).ok();
    }
    (1..=40).find_map(|version| {
        let mut bits = Bits::new(Version::Normal(version));
        bits.push_eci_designator(UTF_8).ok()?;
        bits.push_byte_data(text.as_bytes()).ok()?;
        bits.push_terminator(EcLevel::M).ok()?;
        QrCode::with_bits(bits, EcLevel::M).ok()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_quiet_zone_is_clear() {
        // A code of version 1 has 21 modules (ISO/IEC 18004); with the zone 29.
        let code = Code::fitting("R-0012", 22.0).expect("a code");
        assert_eq!(code.modules, 21);
        // 22 / 29 is 0.759; in whole dots 0.75.
        assert!((code.side - 29.0 * 0.75).abs() < 1e-9, "{}", code.side);
        for run in code.path.split('M').skip(1) {
            let (place, length) = run.split_once('h').expect("a place");
            let (x, y) = place.split_once(' ').expect("two numbers");
            let (length, _) = length.split_once('v').expect("its height");
            let [x, y, length] = [x, y, length].map(|v| v.parse::<f64>().expect("a number"));
            assert!(x >= 4.0 && x + length <= 25.0, "{run}");
            assert!(y >= 4.0 && y + 1.0 <= 25.0, "{run}");
        }
        // The finder's upper edge is dark, seven modules long.
        assert!(code.path.starts_with("M4 4h7v1"), "{}", code.path);
    }

    #[test]
    fn modules_stay_readable() {
        let long = "a long name ".repeat(12);
        for room in [12.0, 16.5, 21.4, 33.0, 60.0] {
            for text in ["R-0012", long.as_str(), "Türblatt ß 面板"] {
                let code = Code::fitting(text, room).expect("a code");
                let module = code.side / (code.modules + 2 * QUIET) as f64;
                assert!(module >= LEAST_MODULE - 1e-9, "{module} in {room}");
                assert!(code.side <= room + 1e-9);
                assert!(code.text == text || code.text == digest(text));
            }
        }
        assert_eq!(
            Code::fitting(&long, 16.5).expect("a code").text,
            digest(&long)
        );
        assert!(Code::fitting("R-0012", 8.0).is_err());
    }

    #[test]
    fn digests_are_those_of_the_standard() {
        // FIPS 180-2, appendix B.1: "abc".
        assert_eq!(digest("abc"), "ID:BA7816BF8F01CFEA");
    }
}

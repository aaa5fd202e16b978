//! How wide words are in print, in the face that the templates name first or one of its widths.

use unicode_width::UnicodeWidthChar;

/// Room for bold letters and for the wider face that stands in where none of the expected is there.
const SPARE: f64 = 1.2;

/// Width of a line over the height of its letters, rather too wide than too narrow.
///
/// Widths by kinds of letters, after the common metrics of plain faces (Helvetica and those made to its
/// widths), from memory.
#[must_use]
pub fn width(text: &str) -> f64 {
    SPARE * text.chars().map(letter).sum::<f64>()
}

fn letter(c: char) -> f64 {
    match c {
        'i' | 'j' | 'l' | '\'' | '|' => 0.26,
        ' ' | '.' | ',' | ':' | ';' | '!' | 'I' | '/' | '\\' | '[' | ']' => 0.28,
        'f' | 't' => 0.31,
        'r' | '(' | ')' | '-' | '*' | '`' | '{' | '}' => 0.36,
        'W' | '@' | '—' | '…' | '%' => 1.0,
        'm' | 'M' => 0.86,
        'w' | 'C' | 'D' | 'G' | 'H' | 'N' | 'O' | 'Q' | 'R' | 'U' | '&' => 0.77,
        'A'..='Z' => 0.69,
        'a'..='z' | '0'..='9' => 0.57,
        '\u{20}'..='\u{7e}' => 0.6,
        // Accents lie over the letter before them; others may be as wide as high.
        c => match c.width().unwrap_or(0) {
            0 => 0.0,
            1 => 0.9,
            _ => 1.1,
        },
    }
}

/// A line that fits into `room` at letters of height `size`, smaller ones down to `least`, or cut short with an
/// ellipsis; with its height.
#[must_use]
pub fn fitted(text: &str, room: f64, size: f64, least: f64) -> (String, f64) {
    let wide = width(text);
    let fits = if wide > 0.0 { room / wide } else { size };
    if fits >= least.min(size) {
        return (text.to_owned(), size.min(fits));
    }
    let size = least.min(size);
    let mut short = String::new();
    let mut taken = width("…");
    for c in text.chars() {
        taken += SPARE * letter(c);
        if taken * size > room {
            break;
        }
        short.push(c);
    }
    let mut short = short.trim_end().to_owned();
    short.push('…');
    (short, size)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn long_lines_shrink_before_they_are_cut() {
        assert_eq!(fitted("base", 40.0, 4.0, 2.0), ("base".to_owned(), 4.0));
        let (text, size) = fitted("corner-bracket", 20.0, 4.0, 2.0);
        assert_eq!(text, "corner-bracket");
        assert!((2.0..4.0).contains(&size));
        let (text, size) = fitted("WWWWWWWWWWWWWWWWWWWWWWWW", 20.0, 4.0, 2.0);
        assert!(text.ends_with('…') && text.len() > 8, "{text}");
        assert_eq!(size, 2.0);
        assert_eq!(fitted("", 10.0, 3.0, 2.0), (String::new(), 3.0));
    }

    proptest! {
        #[test]
        fn nothing_is_wider_than_its_room(text in "\\PC{0,80}", room in 3.0..90.0, size in 2.0..12.0) {
            let (line, size) = fitted(&text, room, size, 1.9);
            prop_assert!(width(&line) * size <= room + 1e-9, "{line} at {size}");
        }
    }
}

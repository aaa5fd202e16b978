//! Numbers that are the same in all languages, lines of money that add up, and names as they are printed.

use crate::paper::Paper;

/// `value` with at most so many decimals, trailing zeros left off, whatever the language: for pictures and links.
pub(crate) fn short(value: f64, decimals: usize) -> String {
    Paper::METRIC.short(value, decimals)
}

/// Money lines that are printed under each other with their sum: to the cent, and so that the
/// printed lines add up to the printed sum.
///
/// Each value is rounded; what the rounding loses or gains is settled by a cent each on the lines
/// whose rounding erred most (largest remainders). When `sum` is not the sum of `values` by more
/// than rounding explains, nothing is settled, so that the paper shows the clash.
pub(crate) fn adding_up(values: &[f64], sum: f64) -> Vec<f64> {
    let cents = |v: f64| (v * 100.0).round();
    let mut rounded: Vec<f64> = values.iter().map(|v| cents(*v)).collect();
    let off = cents(sum) - rounded.iter().sum::<f64>();
    let explained = 0.5 * (values.len() as f64 + 1.0);
    if off.is_finite() && off != 0.0 && off.abs() <= explained {
        let mut order: Vec<usize> = (0..values.len()).collect();
        // How much a line lost by rounding, in the direction that has to be made good.
        let lost = |i: usize| (values[i] * 100.0 - cents(values[i])) * off.signum();
        order.sort_by(|a, b| lost(*b).total_cmp(&lost(*a)).then(a.cmp(b)));
        for i in order.into_iter().take(off.abs() as usize) {
            rounded[i] += off.signum();
        }
    }
    rounded.into_iter().map(|c| c / 100.0).collect()
}

/// A number and what it counts, for texts that are English alone.
pub(crate) fn counted(count: usize, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}

/// Copies as ranges: `1-3, 7`. Expects them in rising order.
pub(crate) fn ranges(copies: &[u32]) -> String {
    let mut runs: Vec<(u32, u32)> = Vec::new();
    for &copy in copies {
        match runs.last_mut() {
            Some((_, end)) if copy == end.saturating_add(1) => *end = copy,
            _ => runs.push((copy, copy)),
        }
    }
    let one = |(a, b): &(u32, u32)| match b - a {
        0 => a.to_string(),
        1 => format!("{a}, {b}"),
        _ => format!("{a}-{b}"),
    };
    runs.iter().map(one).collect::<Vec<_>>().join(", ")
}

/// A name from a file, fit for one line: control characters and marks that turn the direction of
/// writing become spaces.
pub(crate) fn plain(name: &str) -> String {
    let odd = |c: char| {
        c.is_control()
            || matches!(
                c,
                '\u{2028}' | '\u{2029}' | '\u{200e}' | '\u{200f}' | '\u{fffe}' | '\u{ffff}'
            )
            || ('\u{202a}'..='\u{202e}').contains(&c)
            || ('\u{2066}'..='\u{2069}').contains(&c)
    };
    let spaced: String = name.chars().map(|c| if odd(c) { ' ' } else { c }).collect();
    spaced.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn coordinates() {
        assert_eq!(short(152.4, 3), "152.4");
        assert_eq!(short(-0.0001, 3), "0");
        assert_eq!(short(1200.0, 3), "1200");
    }

    #[test]
    fn copies_as_ranges() {
        assert_eq!(ranges(&[1, 2, 3, 7]), "1-3, 7");
        assert_eq!(ranges(&[4, 5]), "4, 5");
        assert_eq!(ranges(&[]), "");
        assert_eq!(ranges(&[u32::MAX]), u32::MAX.to_string());
    }

    #[test]
    fn rounded_lines_add_up() {
        // Thirds: 33.33 three times would make 99.99.
        let third = 100.0 / 3.0;
        assert_eq!(adding_up(&[third; 3], 100.0), [33.34, 33.33, 33.33]);
        // A clash is shown, not hidden.
        assert_eq!(adding_up(&[1.0, 2.0], 4.0), [1.0, 2.0]);
    }

    #[test]
    fn names_fit_one_line() {
        assert_eq!(plain("a\nb\t\u{1b}[31mc\u{202e}"), "a b [31mc");
    }

    proptest! {
        #[test]
        fn lines_always_add_up(values in prop::collection::vec(-5e4..5e4, 1..12)) {
            let sum: f64 = values.iter().sum();
            let lines = adding_up(&values, sum);
            let cents: f64 = lines.iter().map(|v| (v * 100.0).round()).sum();
            prop_assert!((cents - (sum * 100.0).round()).abs() < 0.5);
            for (line, value) in lines.iter().zip(&values) {
                prop_assert!((line - value).abs() < 0.0151, "{line} for {value}");
            }
        }
    }
}

//! How much cutting a sheet is, in words.

use super::number::plural;
use crate::toolpath::CutFigures;

/// Millimetres in a metre.
const METRE: f64 = 1000.0;

/// `12.3 m of cuts in 45 pierces, 2.1 m of moves between, about 6 min`, and what to look out for.
pub fn cutting_words(figures: &CutFigures) -> String {
    let metres = |length: f64| format!("{:.1} m", length / METRE);
    let mut words = format!(
        "{} of cuts with {} {}, {} of moves between",
        metres(figures.cut_length),
        figures.pierces,
        plural(figures.pierces, "pierce", "pierces"),
        metres(figures.travel)
    );
    if figures.mark_length > 0.0 {
        words += &format!(", {} of marks", metres(figures.mark_length));
    }
    if let Some(seconds) = figures.seconds {
        words += &format!(", about {}", time(seconds));
    }
    if figures.tool_path {
        words += "; the file holds the tool's path";
    }
    if figures.tabs > 0 {
        words += &format!(
            ", with {} {}",
            figures.tabs,
            plural(figures.tabs, "tab", "tabs")
        );
    }
    if figures.skins > 0 {
        let parts = plural(figures.skins, "part", "parts");
        words += &format!(", {} {parts} left on a thin floor", figures.skins);
    }
    if figures.not_held > 0 {
        let parts = plural(figures.not_held, "part is", "parts are");
        words += &format!(
            "; {} {parts} too small for tabs, hold otherwise",
            figures.not_held
        );
    }
    if figures.without_lead > 0 {
        let begin = plural(figures.without_lead, "cut begins", "cuts begin");
        words += &format!(
            "; {} {begin} on its edge for want of room",
            figures.without_lead
        );
    }
    words
}

/// Minutes and seconds, without the seconds from ten minutes on.
fn time(seconds: f64) -> String {
    let whole = seconds.round() as u64;
    match (whole / 60, whole % 60) {
        (0, s) => format!("{s} s"),
        (m, _) if m >= 10 => format!("{} min", (seconds / 60.0).round()),
        (m, 0) => format!("{m} min"),
        (m, s) => format!("{m} min {s} s"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_are_as_exact_as_they_deserve() {
        for (seconds, text) in [
            (55.27, "55 s"),
            (60.0, "1 min"),
            (119.6, "2 min"),
            (125.0, "2 min 5 s"),
            (1234.0, "21 min"),
        ] {
            assert_eq!(time(seconds), text);
        }
    }
}

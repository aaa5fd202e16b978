//! How much cutting a sheet is, in words.

use crate::paper::Paper;
use crate::toolpath::CutFigures;

/// `12.3 m of cuts in 45 pierces, 2.1 m of moves between, about 6 min`, and what to look out for.
pub fn cutting_words(figures: &CutFigures, paper: Paper) -> String {
    let length = |mm: f64| paper.distance(mm).into();
    let mut words = paper.say_with(
        "cutting-length",
        &[
            ("length", length(figures.cut_length)),
            ("pierces", figures.pierces.into()),
            ("travel", length(figures.travel)),
        ],
    );
    if figures.mark_length > 0.0 {
        let values = [("length", length(figures.mark_length))];
        words += &paper.say_with("cutting-marks", &values);
    }
    if let Some(seconds) = figures.seconds {
        words += &paper.say_with("cutting-time", &[("time", time(seconds, paper).into())]);
    }
    if figures.tool_path {
        words += &paper.say("cutting-path");
    }
    for (count, key) in [
        (figures.tabs, "cutting-tabs"),
        (figures.skins, "cutting-skins"),
        (figures.not_held, "cutting-not-held"),
        (figures.without_lead, "cutting-no-lead"),
    ] {
        if count > 0 {
            words += &paper.say_with(key, &[("n", count.into())]);
        }
    }
    words
}

/// Minutes and seconds, without the seconds from ten minutes on.
pub(crate) fn time(seconds: f64, paper: Paper) -> String {
    let whole = seconds.round() as u64;
    let minutes = |m: u64| paper.say_with("minutes", &[("m", m.into())]);
    match (whole / 60, whole % 60) {
        (0, s) => paper.say_with("seconds", &[("s", s.into())]),
        (m, _) if m >= 10 => minutes((seconds / 60.0).round() as u64),
        (m, 0) => minutes(m),
        (m, s) => paper.say_with("minutes-seconds", &[("m", m.into()), ("s", s.into())]),
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
            assert_eq!(time(seconds, Paper::METRIC), text);
        }
    }
}

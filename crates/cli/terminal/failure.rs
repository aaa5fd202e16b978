//! An error as it is told.

use super::colour::{ALARM, STRONG};
use crate::Failure;

/// An error as printed, with the end of its last line.
///
/// `json`: one object, `{"error": {"place", "what", "advice"}}`. On a terminal the advice is a line of its own, so that
/// it is found at a glance; elsewhere all is one line, as other programs and logs read it.
#[must_use]
pub fn failure_text(failure: &Failure, json: bool, terminal: bool, coloured: bool) -> String {
    let Failure {
        place,
        what,
        advice,
    } = failure;
    if json {
        let value = serde_json::json!({"error": {"place": place, "what": what, "advice": advice}});
        return format!("{value:#}\n");
    }
    if !terminal {
        return format!("error: {failure}\n");
    }
    let (alarm, strong) = if coloured {
        (ALARM, STRONG)
    } else {
        Default::default()
    };
    let place = if place.is_empty() {
        String::new()
    } else {
        format!("{strong}{place}:{strong:#} ")
    };
    let hint = if advice.is_empty() {
        String::new()
    } else {
        format!(" {strong}hint:{strong:#} {advice}\n")
    };
    format!("{alarm}error:{alarm:#} {place}{what}\n{hint}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_line_two_lines_or_json() {
        let failure = Failure::new("kit.json: line 3", "the width is -2", "give one above 0");
        assert_eq!(
            failure_text(&failure, false, false, false),
            "error: kit.json: line 3: the width is -2; give one above 0\n"
        );
        assert_eq!(
            failure_text(&failure, false, true, false),
            "error: kit.json: line 3: the width is -2\n hint: give one above 0\n"
        );
        let coloured = failure_text(&failure, false, true, true);
        assert!(coloured.contains('\u{1b}'));
        assert_eq!(
            anstream::adapter::strip_str(&coloured).to_string(),
            failure_text(&failure, false, true, false)
        );
        let json = failure_text(&failure, true, true, true);
        let value: serde_json::Value = serde_json::from_str(&json).unwrap();
        assert_eq!(value["error"]["place"], "kit.json: line 3");
        assert_eq!(value["error"]["advice"], "give one above 0");
    }
}

//! Colour: only on a terminal that can show it, and never against the user's wish. No colour is the only sign of anything.

use anstyle::{AnsiColor, Style};
use clap::builder::Styles;
use std::ffi::OsStr;
use std::fmt::Write as _;

/// Headlines, and what stands first in an error.
pub(super) const STRONG: Style = Style::new().bold();
/// What lacks or is wrong.
pub(super) const ALARM: Style = AnsiColor::Red.on_default().bold();
/// Rules and other lines that only part.
pub(super) const FAINT: Style = Style::new().dimmed();

/// How help looks.
pub const STYLES: Styles = Styles::styled()
    .header(STRONG)
    .usage(STRONG)
    .literal(AnsiColor::Green.on_default())
    .placeholder(FAINT)
    .error(ALARM)
    .invalid(ALARM)
    .valid(AnsiColor::Green.on_default());

/// Whether to colour what goes to a place that is a terminal or is none.
pub(super) fn wanted(is_terminal: bool) -> bool {
    let set = |name| std::env::var_os(name);
    decide(
        is_terminal,
        set("NO_COLOR").as_deref(),
        set("TERM").as_deref(),
    )
}

/// A terminal that only writes lines.
pub(super) fn is_dumb(term: Option<&OsStr>) -> bool {
    term == Some(OsStr::new("dumb"))
}

/// Source for `NO_COLOR`: no-color.org, "when present and not an empty string (regardless of its value)".
fn decide(is_terminal: bool, no_color: Option<&OsStr>, term: Option<&OsStr>) -> bool {
    is_terminal && no_color.is_none_or(OsStr::is_empty) && !is_dumb(term)
}

/// What an answer is, which decides what is set off in it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Look {
    /// As it is: files, lists.
    Plain,
    /// Sections under titles with a rule below them; the first line after the double rule is the headline.
    Summary {
        /// Whether the headline tells that something is left over.
        lacking: bool,
    },
}

impl Look {
    /// The same letters, set off.
    #[must_use]
    pub fn apply(self, text: &str) -> String {
        let Self::Summary { lacking } = self else {
            return text.to_owned();
        };
        let headline = if lacking { ALARM } else { STRONG };
        let lines: Vec<&str> = text.split_inclusive('\n').collect();
        let mut said = String::new();
        let mut in_headline = false;
        for (i, line) in lines.iter().enumerate() {
            let bare = line.trim_end();
            let before = i.checked_sub(1).map_or("", |i| lines[i].trim_end());
            let after = lines.get(i + 1).map_or("", |l| l.trim_end());
            // A headline that is wrapped goes on to the next empty line.
            in_headline = is_rule(before, '=') || (in_headline && !bare.is_empty());
            let style = if is_rule(bare, '=') || is_rule(bare, '-') {
                FAINT
            } else if in_headline {
                headline
            } else if is_rule(after, '-') || i == 0 {
                STRONG
            } else {
                said += line;
                continue;
            };
            let end = &line[bare.len()..];
            let _ = write!(said, "{style}{bare}{style:#}{end}");
        }
        said
    }
}

fn is_rule(line: &str, of: char) -> bool {
    line.len() >= 8 && line.chars().all(|c| c == of)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn colour_is_for_terminals_and_can_be_forbidden() {
        let set = |text: &'static str| Some(OsStr::new(text));
        assert!(decide(true, None, set("xterm-256color")));
        assert!(decide(true, set(""), None));
        assert!(!decide(true, set("1"), set("xterm")));
        assert!(!decide(true, set("0"), set("xterm")));
        assert!(!decide(true, None, set("dumb")));
        assert!(!decide(false, None, set("xterm")));
    }

    #[test]
    fn letters_stay_what_they_are() {
        let text = "Order GC-6\ndue 2026-12-11\n==========\n3 parts are\nmissing.\n\nYield 5 %\n\nTake\n--------\nQty  What\n";
        for look in [Look::Plain, Look::Summary { lacking: true }] {
            let said = look.apply(text);
            assert_eq!(anstream::adapter::strip_str(&said).to_string(), text);
        }
        assert_eq!(Look::Plain.apply(text), text);
        let said = Look::Summary { lacking: true }.apply(text);
        for (line, style) in [
            ("Order GC-6", STRONG),
            ("3 parts are", ALARM),
            ("missing.", ALARM),
            ("Take", STRONG),
            ("--------", FAINT),
        ] {
            assert!(
                said.contains(&format!("{style}{line}{style:#}\n")),
                "{line}"
            );
        }
        assert!(said.contains("\nYield 5 %\n"));
        let whole = Look::Summary { lacking: false }.apply(text);
        assert!(!whole.contains(&format!("{ALARM}")));
    }
}

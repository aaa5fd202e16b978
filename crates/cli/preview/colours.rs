//! The report's colours for a drawing that stands alone: its style sheet has variables and much else, which the drawer of
//! pictures does not know.

use std::collections::BTreeMap;
use std::sync::OnceLock;

/// Style sheet of the report, where a drawing's colours are kept.
const REPORT: &str = include_str!("../report/templates/report.css");

/// Colours of light paper by name, and the rules for what is inside a drawing.
pub(super) struct Colours {
    variables: BTreeMap<&'static str, &'static str>,
    /// Rules without variables.
    pub rules: String,
}

impl Colours {
    /// Those of the report.
    pub fn get() -> &'static Self {
        static COLOURS: OnceLock<Colours> = OnceLock::new();
        COLOURS.get_or_init(|| Self::read(REPORT))
    }

    /// The colour `name`, such as `--ink`; black when there is none of that name.
    pub fn of(&self, name: &str) -> &'static str {
        self.variables.get(name).copied().unwrap_or("#000")
    }

    fn read(css: &'static str) -> Self {
        let blocks = blocks(css);
        let root = blocks.iter().find(|(selector, _)| *selector == ":root");
        let variables = root
            .map(|(_, body)| body.split(';').filter_map(|d| d.split_once(':')))
            .into_iter()
            .flatten()
            .map(|(name, value)| (name.trim(), value.trim()))
            .filter(|(name, _)| name.starts_with("--"))
            .collect();
        let mut colours = Self {
            variables,
            rules: String::new(),
        };
        // What is said of the drawing itself is how it lies on a page, and nobody presses a picture.
        let inside = |selector: &&str| {
            selector
                .split(',')
                .all(|s| s.trim().starts_with(".drawing ") && !s.contains(':'))
        };
        for (selector, body) in blocks.iter().filter(|(selector, _)| inside(selector)) {
            let body = colours.resolved(body);
            colours.rules += &format!("{selector} {{{body}}}\n");
        }
        colours
    }

    /// Declarations with colours in the place of variables.
    fn resolved(&self, body: &str) -> String {
        let mut text = String::new();
        let mut rest = body;
        while let Some((before, after)) = rest.split_once("var(") {
            let (name, after) = after.split_once(')').unwrap_or((after, ""));
            text += before;
            text += self.of(name.trim());
            rest = after;
        }
        text + rest
    }
}

/// Selectors and bodies of the rules outside of `@` blocks.
fn blocks(css: &'static str) -> Vec<(&'static str, &'static str)> {
    let mut found = Vec::new();
    let mut rest = css;
    while let Some((selector, after)) = rest.split_once('{') {
        let mut depth = 1;
        let end = after.char_indices().find(|(_, c)| {
            depth += match c {
                '{' => 1,
                '}' => -1,
                _ => 0,
            };
            depth == 0
        });
        let end = end.map_or(after.len(), |(i, _)| i);
        let selector = selector.rsplit(';').next().unwrap_or(selector).trim();
        if !selector.starts_with('@') {
            found.push((selector, after[..end].trim()));
        }
        rest = after.get(end + 1..).unwrap_or("");
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_report_s_colours_are_found() {
        let colours = Colours::get();
        for name in ["--ink", "--soft", "--card", "--line", "--leaf"] {
            let colour = colours.variables.get(name).copied().unwrap_or("");
            assert!(colour.starts_with('#'), "{name}: {colour}");
        }
        for class in [".part", ".stock", ".keep", " text", ".saw"] {
            assert!(
                colours.rules.contains(&format!(".drawing{}", class))
                    || colours
                        .rules
                        .contains(&format!(".drawing {}", class.trim())),
                "{class}"
            );
        }
        assert!(!colours.rules.contains("var("), "{}", colours.rules);
    }

    #[test]
    fn blocks_within_blocks_are_left_out() {
        let css = "@page { size: A4; }\n:root { --a: #123; }\n@media print { :root { --a: #fff; } .drawing .x { fill: red } }\n\
                   .drawing { width: 100% }\n.drawing .x, .drawing .y { fill: var(--a); stroke: var(--b) }";
        let colours = Colours::read(css);
        assert_eq!(
            colours.rules,
            ".drawing .x, .drawing .y {fill: #123; stroke: #000}\n"
        );
    }
}

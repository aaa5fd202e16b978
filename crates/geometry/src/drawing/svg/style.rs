//! Properties of elements: attributes, style sheets and the `style` attribute, by the cascade.
//!
//! Source: SVG 2, chapter Styling; CSS Cascading and Inheritance 3, sorting: normal declarations count
//! less than important ones, attributes less than style sheets, those less than `style`.

use roxmltree::{Document, Node, NodeId};
use simplecss::{AttributeOperator, DeclarationTokenizer, PseudoClass, StyleSheet};
use std::collections::HashMap;
use std::rc::Rc;

/// The properties that matter for parts and may stand as attributes.
const READ: [&str; 14] = [
    "display",
    "visibility",
    "transform",
    "clip-path",
    "mask",
    "fill",
    "stroke",
    "stroke-dasharray",
    "font",
    "font-size",
    "text-anchor",
    "dominant-baseline",
    "white-space",
    "writing-mode",
];

/// Shape by style, which is read from attributes alone.
const SHAPE: [&str; 10] = [
    "d", "r", "rx", "ry", "cx", "cy", "x", "y", "width", "height",
];

/// The most comparisons of elements with rules: a thousand rules for a hundred thousand elements.
const MOST_COMPARED: usize = 100_000_000;

/// The most levels on which `@media` stand in each other.
const MOST_LEVELS: usize = 16;

/// The most things that are not read and still named.
const MOST_NAMED: usize = 20;

/// The most elements whose values are kept for their copies.
const MOST_KNOWN: usize = 50_000;

/// The values of an element, those of [`READ`] in that order.
#[derive(Debug, Default)]
pub(super) struct Style<'a> {
    values: [Option<(u8, &'a str)>; READ.len()],
    /// A property of [`SHAPE`] that a style sets.
    pub shape: Option<&'static str>,
}

impl<'a> Style<'a> {
    /// The value of a property, as written.
    pub fn get(&self, name: &str) -> Option<&'a str> {
        let index = READ.iter().position(|read| *read == name)?;
        self.values[index].map(|(_, value)| value)
    }

    /// Takes a value unless one of a higher level stands already; of equals the last one counts.
    fn take(&mut self, name: &str, value: &'a str, level: u8) {
        if let Some(index) = READ.iter().position(|read| *read == name)
            && self.values[index].is_none_or(|(before, _)| before <= level)
        {
            self.values[index] = Some((level, value.trim()));
        }
        if level > 0 && self.shape.is_none() {
            self.shape = SHAPE.iter().find(|shape| **shape == name).copied();
        }
    }
}

/// The style sheets of a drawing.
#[derive(Debug)]
pub(super) struct Styles<'a> {
    sheet: StyleSheet<'a>,
    known: HashMap<NodeId, Rc<Style<'a>>>,
    compared: usize,
    /// What of the sheets is not read: `@import url(x.css)`, `@media print`; each once.
    pub not_read: Vec<String>,
}

impl<'a> Styles<'a> {
    pub fn new(document: &'a Document<'a>) -> Self {
        let mut sheet = StyleSheet::new();
        let mut not_read: Vec<String> = Vec::new();
        let mut leave = |what: String| {
            if !not_read.contains(&what) && not_read.len() < MOST_NAMED {
                not_read.push(what);
            }
        };
        for node in document.root().children() {
            if let Some(link) = node.pi().filter(|pi| pi.target == "xml-stylesheet") {
                let value = link.value.unwrap_or_default();
                leave(format!("`xml-stylesheet {}`", shortened(value)));
            }
        }
        let is_sheet = |node: &Node<'_, '_>| {
            node.tag_name().name() == "style"
                && matches!(node.attribute("type"), None | Some("" | "text/css"))
        };
        for node in document.descendants().filter(is_sheet) {
            let media = node.attribute("media").unwrap_or_default();
            if is_shown_on_screen(media) != Some(true) {
                leave(format!("`style media=\"{}\"`", shortened(media)));
                continue;
            }
            for text in node.children().filter_map(|child| child.text()) {
                for piece in applying(text, &mut leave) {
                    sheet.rules.extend(StyleSheet::parse(piece).rules);
                }
            }
        }
        // Of rules that are as specific as each other the later one counts.
        sheet
            .rules
            .sort_by_cached_key(|rule| rule.selector.specificity());
        // Sheets of drawing programs are mostly about fonts.
        let matters = |name: &str| READ.contains(&name) || SHAPE.contains(&name);
        sheet
            .rules
            .retain(|rule| rule.declarations.iter().any(|d| matters(d.name)));
        Self {
            sheet,
            known: HashMap::new(),
            compared: 0,
            not_read,
        }
    }

    /// The values that hold for an element; `None` when the sheets are too long for the drawing.
    pub fn of(&mut self, node: Node<'a, 'a>) -> Option<Rc<Style<'a>>> {
        if let Some(style) = self.known.get(&node.id()) {
            return Some(style.clone());
        }
        self.compared += self.sheet.rules.len();
        if self.compared > MOST_COMPARED {
            return None;
        }
        let mut style = Style::default();
        for name in READ {
            if let Some(value) = node.attribute(name) {
                style.take(name, value, 0);
            }
        }
        let level = |important, normal: u8| if important { normal + 2 } else { normal };
        for rule in &self.sheet.rules {
            if rule.selector.matches(&Selectable(node)) {
                for d in &rule.declarations {
                    style.take(d.name, d.value, level(d.important, 1));
                }
            }
        }
        for d in DeclarationTokenizer::from(node.attribute("style").unwrap_or_default()) {
            style.take(d.name, d.value, level(d.important, 2));
        }
        let style = Rc::new(style);
        // Most elements are looked at once; what is copied often is among the first.
        if !self.sheet.rules.is_empty() && self.known.len() < MOST_KNOWN {
            self.known.insert(node.id(), style.clone());
        }
        Some(style)
    }
}

/// Whether rules for these media hold on a screen, where drawings are looked at; `None` when that hangs on its
/// size or the like.
///
/// Source: Media Queries 4, media types; a list holds when one of its queries does.
fn is_shown_on_screen(media: &str) -> Option<bool> {
    let media = media.to_ascii_lowercase();
    if media.trim().is_empty() {
        return Some(true);
    }
    let one = |query: &str| {
        let words: Vec<&str> = query.split_whitespace().collect();
        match words.as_slice() {
            ["all" | "screen"] | ["only", "all" | "screen"] => Some(true),
            ["not", "all" | "screen"] => Some(false),
            [kind] | ["only", kind] if is_word(kind) => Some(false),
            ["not", kind] if is_word(kind) => Some(true),
            // Print alone, whatever else is asked for.
            ["print", "and", ..] | ["only", "print", "and", ..] => Some(false),
            _ => None,
        }
    };
    let all: Vec<Option<bool>> = media.split(',').map(one).collect();
    if all.contains(&Some(true)) {
        Some(true)
    } else if all.contains(&None) {
        None
    } else {
        Some(false)
    }
}

fn is_word(text: &str) -> bool {
    text.chars().all(|c| c.is_ascii_alphabetic() || c == '-')
}

/// The beginning of what is named in a note, on one line.
fn shortened(text: &str) -> String {
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    text.chars().take(60).collect()
}

/// The pieces of a style sheet that hold: without the rules that begin with @, but with what stands in `@media`
/// for a screen. Others that may matter are named to `leave`.
///
/// Source: CSS Syntax 3: an at-rule ends with a semicolon or with its block.
fn applying<'a>(text: &'a str, leave: &mut impl FnMut(String)) -> Vec<&'a str> {
    let mut pieces = Vec::new();
    // What is nested is looked at again on every level.
    let mut budget = MOST_LEVELS * text.len();
    let mut waiting = vec![text];
    while let Some(text) = waiting.pop() {
        let mut plain = 0;
        let mut at = 0;
        let mut depth = 0_usize;
        while at < text.len() {
            match text.as_bytes()[at] {
                b'{' => depth += 1,
                b'}' => depth = depth.saturating_sub(1),
                b'@' if depth == 0 => {
                    let (head, body, end) = at_rule(text, at);
                    let name = head
                        .split(|c: char| !c.is_ascii_alphanumeric() && c != '-')
                        .next();
                    let name = name.unwrap_or_default().to_ascii_lowercase();
                    let media = (name == "media" && budget >= end - at)
                        .then(|| is_shown_on_screen(&head[name.len()..]));
                    match (name.as_str(), media, body) {
                        (_, Some(Some(true)), Some(body)) => {
                            budget -= end - at;
                            // In its place: what stands before it, its inside, and what stands after.
                            pieces.push(&text[plain..at]);
                            waiting.push(&text[end..]);
                            waiting.push(body);
                            plain = text.len();
                            at = text.len();
                            continue;
                        }
                        // Neither hides nor moves anything.
                        ("charset" | "font-face" | "namespace" | "page", ..) => {}
                        _ => leave(format!("`@{}`", shortened(head))),
                    }
                    pieces.push(&text[plain..at]);
                    (plain, at) = (end, end);
                    continue;
                }
                _ => {
                    at = skipped(text, at);
                    continue;
                }
            }
            at += 1;
        }
        pieces.push(&text[plain..]);
    }
    pieces
}

/// What begins with @ at a place: its words, the inside of its block if it has one, and where it ends.
fn at_rule(text: &str, start: usize) -> (&str, Option<&str>, usize) {
    let mut at = start + 1;
    let mut open = None;
    let mut depth = 0_usize;
    while at < text.len() {
        match (text.as_bytes()[at], open) {
            (b';', None) => return (&text[start + 1..at], None, at + 1),
            (b'{', None) => {
                open = Some(at);
                depth = 1;
            }
            (b'{', Some(_)) => depth += 1,
            (b'}', Some(from)) => {
                depth -= 1;
                if depth == 0 {
                    return (&text[start + 1..from], Some(&text[from + 1..at]), at + 1);
                }
            }
            (b'}', None) => return (&text[start + 1..at], None, at),
            _ => {
                at = skipped(text, at);
                continue;
            }
        }
        at += 1;
    }
    match open {
        Some(from) => (&text[start + 1..from], Some(&text[from + 1..]), text.len()),
        None => (&text[start + 1..], None, text.len()),
    }
}

/// The place after a character, or after the comment or string that begins there.
fn skipped(text: &str, at: usize) -> usize {
    let rest = &text.as_bytes()[at..];
    let end = match rest[0] {
        b'/' if rest.starts_with(b"/*") => text[at + 2..].find("*/").map(|n| at + 2 + n + 2),
        quote @ (b'"' | b'\'') => {
            let closing = rest[1..].iter().position(|b| *b == quote);
            closing.map(|n| at + n + 2)
        }
        _ => {
            // To the next character that may matter; never into the middle of one.
            let next = rest[1..].iter().position(u8::is_ascii);
            next.map(|n| at + 1 + n)
        }
    };
    end.unwrap_or(text.len())
}

/// An element as selectors see it.
struct Selectable<'a>(Node<'a, 'a>);

impl simplecss::Element for Selectable<'_> {
    fn parent_element(&self) -> Option<Self> {
        self.0.parent_element().map(Selectable)
    }

    fn prev_sibling_element(&self) -> Option<Self> {
        self.0.prev_sibling_element().map(Selectable)
    }

    fn has_local_name(&self, name: &str) -> bool {
        self.0.tag_name().name() == name
    }

    fn attribute_matches(&self, name: &str, operator: AttributeOperator<'_>) -> bool {
        self.0.attribute(name).is_some_and(|v| operator.matches(v))
    }

    fn pseudo_class_matches(&self, class: PseudoClass<'_>) -> bool {
        matches!(class, PseudoClass::FirstChild) && self.0.prev_sibling_element().is_none()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn media_are_read_as_for_a_screen() {
        for (media, shown) in [
            ("", Some(true)),
            ("all", Some(true)),
            ("print, Screen", Some(true)),
            ("only screen", Some(true)),
            ("not print", Some(true)),
            ("print", Some(false)),
            ("not screen", Some(false)),
            ("print and (min-width: 3cm), speech", Some(false)),
            ("screen and (min-width: 3cm)", None),
            ("(orientation: landscape)", None),
        ] {
            assert_eq!(is_shown_on_screen(media), shown, "{media}");
        }
    }

    #[test]
    fn rules_that_begin_with_at_are_taken_apart() {
        let sheet = "a{x:1} @import url(\"a;b.css\"); /* @media print{ */ b{y:'@}'} @media screen { c{z:2} @media print \
            {d{w:3}} e{v:4} } @media print{f{u:5}} @font-face{font-family:x} g{t:6} @supports (x:y){h{s:7}} i{r:8} @media";
        let mut named = Vec::new();
        let kept = applying(sheet, &mut |what| named.push(what)).concat();
        for rule in [
            "a{x:1}",
            "b{y:'@}'}",
            "c{z:2}",
            "e{v:4}",
            "g{t:6}",
            "i{r:8}",
        ] {
            assert!(kept.contains(rule), "{rule} not in {kept}");
        }
        for rule in ["d{", "f{", "h{", "import"] {
            assert!(!kept.contains(rule), "{rule} in {kept}");
        }
        let expected = [
            "`@import url(\"a;b.css\")`",
            "`@media print`",
            "`@media print`",
            "`@supports (x:y)`",
            "`@media`",
        ];
        let mut sorted = named.clone();
        sorted.sort();
        let mut wanted = expected.map(str::to_owned).to_vec();
        wanted.sort();
        assert_eq!(sorted, wanted);
        for odd in [
            "@",
            "@@",
            "@{",
            "@media screen{",
            "\u{e9}@\u{e9}",
            "'",
            "/*",
            "@media screen{@media screen{a{}",
        ] {
            applying(odd, &mut |_| {});
        }
    }
}

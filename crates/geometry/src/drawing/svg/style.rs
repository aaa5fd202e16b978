//! Properties of elements: attributes, style sheets and the `style` attribute, by the cascade.
//!
//! Source: SVG 2, chapter Styling; CSS Cascading and Inheritance 3, sorting: normal declarations count
//! less than important ones, attributes less than style sheets, those less than `style`.

use roxmltree::{Document, Node, NodeId};
use simplecss::{AttributeOperator, DeclarationTokenizer, PseudoClass, StyleSheet};
use std::collections::HashMap;
use std::rc::Rc;

/// The properties that matter for parts and may stand as attributes.
const READ: [&str; 8] = [
    "display",
    "visibility",
    "transform",
    "clip-path",
    "mask",
    "fill",
    "stroke",
    "stroke-dasharray",
];

/// Shape by style, which is read from attributes alone.
const SHAPE: [&str; 10] = [
    "d", "r", "rx", "ry", "cx", "cy", "x", "y", "width", "height",
];

/// The most comparisons of elements with rules: a thousand rules for a hundred thousand elements.
const MOST_COMPARED: usize = 100_000_000;

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
    /// Whether a sheet holds rules that are not read: `@media`, `@import`.
    pub has_at_rules: bool,
}

impl<'a> Styles<'a> {
    pub fn new(document: &'a Document<'a>) -> Self {
        let mut sheet = StyleSheet::new();
        let mut has_at_rules = false;
        let is_sheet = |node: &Node<'_, '_>| {
            node.tag_name().name() == "style"
                && matches!(node.attribute("type"), None | Some("" | "text/css"))
        };
        for node in document.descendants().filter(is_sheet) {
            for text in node.children().filter_map(|child| child.text()) {
                has_at_rules |= text.contains('@');
                sheet.parse_more(text);
            }
        }
        // Sheets of drawing programs are mostly about fonts.
        let matters = |name: &str| READ.contains(&name) || SHAPE.contains(&name);
        sheet
            .rules
            .retain(|rule| rule.declarations.iter().any(|d| matters(d.name)));
        Self {
            sheet,
            known: HashMap::new(),
            compared: 0,
            has_at_rules,
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

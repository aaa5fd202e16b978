//! Rules that tell what becomes of a curve: by its layer, colour, line type or class.

use super::options::LayerUse;

/// A colour as drawings give it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Colour {
    /// Number in the colour table of DXF, 1 to 255; 7 is black or white.
    Index(u8),
    /// Red, green and blue.
    Rgb([u8; 3]),
}

/// What the colour numbers 1 to 7 look like: red, yellow, green, cyan, blue, magenta, white (DXF
/// reference, colour numbers; values as viewers show them, common practice).
const SHOWN: [[u8; 3]; 7] = [
    [255, 0, 0],
    [255, 255, 0],
    [0, 255, 0],
    [0, 255, 255],
    [0, 0, 255],
    [255, 0, 255],
    [255, 255, 255],
];

impl Colour {
    /// A colour as people write it: a number of the DXF table (`3`), `#rrggbb` or `#rgb`, or a name
    /// (`red`; any name of CSS Color 3).
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let text = text.trim();
        if let Ok(index) = text.parse::<u8>() {
            return (index > 0).then_some(Self::Index(index));
        }
        let c = text.to_ascii_lowercase().parse::<svgtypes::Color>().ok()?;
        Some(Self::Rgb([c.red, c.green, c.blue]))
    }

    /// Whether both are the same colour; numbers from 1 to 7 have a look, others only their number.
    #[must_use]
    pub fn is(self, other: Self) -> bool {
        match (self, other) {
            (Self::Index(a), Self::Index(b)) => a == b,
            (Self::Rgb(a), Self::Rgb(b)) => a == b,
            (Self::Index(index), Self::Rgb(rgb)) | (Self::Rgb(rgb), Self::Index(index)) => {
                // The darker green of web pages and the black of paper go by the same names.
                let also = match rgb {
                    [0, 128, 0] => 3,
                    [0, 0, 0] => 7,
                    _ => 0,
                };
                index == also || SHOWN.get(usize::from(index).wrapping_sub(1)) == Some(&rgb)
            }
        }
    }
}

/// One rule. Every condition that is given must hold; without any it holds for everything.
#[derive(Debug, Clone, PartialEq)]
pub struct DrawingRule {
    /// The layer (DXF), or an id, class or label of the element or a group round it (SVG). `*` stands
    /// for any text; case does not matter.
    pub layer: Option<String>,
    /// The colour (DXF: as shown, from the layer where the entity has none of its own), or the stroke
    /// (SVG).
    pub colour: Option<Colour>,
    /// The line type by name (DXF); `continuous` or `dashed` (SVG). As for `layer`.
    pub line_type: Option<String>,
    /// A class of the element or a group round it (SVG). As for `layer`.
    pub class: Option<String>,
    /// Whether it is text (DXF: TEXT, MTEXT and ATTRIB; SVG: `text`). Where nothing is said the rule
    /// holds for curves, and for text when it leaves out what it holds for.
    pub text: Option<bool>,
    /// What becomes of such a curve or text. Text cannot be cut: it stays as if no rule held.
    pub becomes: LayerUse,
}

/// What a curve offers to the rules.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Traits<'a> {
    /// The layer, or the names of the element and its groups.
    pub layers: &'a [&'a str],
    pub classes: &'a [&'a str],
    pub colour: Option<Colour>,
    pub line_type: &'a str,
    pub is_text: bool,
}

impl DrawingRule {
    pub(super) fn holds(&self, traits: &Traits<'_>) -> bool {
        let among = |pattern: &Option<String>, names: &[&str]| {
            pattern
                .as_ref()
                .is_none_or(|p| names.iter().any(|n| is_like(n, p)))
        };
        let is_meant = match self.text {
            Some(text) => text == traits.is_text,
            None => !traits.is_text || self.becomes == LayerUse::Ignore,
        };
        is_meant
            && among(&self.layer, traits.layers)
            && among(&self.class, traits.classes)
            && among(&self.line_type, &[traits.line_type])
            && self
                .colour
                .is_none_or(|c| traits.colour.is_some_and(|own| own.is(c)))
    }

    /// Whether the layer decides alone.
    pub(super) fn is_by_layer(&self) -> bool {
        self.layer.is_some()
            && self.colour.is_none()
            && self.line_type.is_none()
            && self.class.is_none()
            && self.text.is_none()
    }
}

/// Whether a name is like a pattern, in which `*` stands for any text. Case does not matter.
fn is_like(name: &str, pattern: &str) -> bool {
    let name: Vec<char> = name.trim().to_lowercase().chars().collect();
    let pattern: Vec<char> = pattern.trim().to_lowercase().chars().collect();
    // The classic scan: on a mismatch the last star takes one more character.
    let (mut n, mut p) = (0, 0);
    let mut star: Option<(usize, usize)> = None;
    while n < name.len() {
        if p < pattern.len() && pattern[p] == '*' {
            star = Some((p, n));
            p += 1;
        } else if p < pattern.len() && pattern[p] == name[n] {
            n += 1;
            p += 1;
        } else if let Some((at, taken)) = star {
            star = Some((at, taken + 1));
            n = taken + 1;
            p = at + 1;
        } else {
            return false;
        }
    }
    pattern[p..].iter().all(|c| *c == '*')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn patterns() {
        for (name, pattern) in [
            ("CUT-1", "cut-1"),
            ("Cut-1", "cut*"),
            ("outer CUT inside", "*cut*"),
            ("aXbXc", "a*b*c"),
            ("", "*"),
            (" Außen ", "AUSSEN*"),
        ] {
            let expected = pattern != "AUSSEN*";
            assert_eq!(is_like(name, pattern), expected, "{name} {pattern}");
        }
        assert!(!is_like("cutter", "cut"));
        assert!(!is_like("ab", "a*b*c"));
        assert!(is_like("aab", "a*ab"));
    }

    #[test]
    fn text_is_meant_where_a_rule_says_so() {
        let rule = |text, becomes| DrawingRule {
            layer: None,
            colour: None,
            line_type: None,
            class: None,
            text,
            becomes,
        };
        let holds = |text, becomes, is_text| {
            rule(text, becomes).holds(&Traits {
                is_text,
                ..Traits::default()
            })
        };
        assert!(holds(None, LayerUse::Mark, false) && !holds(None, LayerUse::Mark, true));
        assert!(holds(None, LayerUse::Ignore, true) && holds(Some(true), LayerUse::Mark, true));
        assert!(!holds(Some(true), LayerUse::Ignore, false));
        assert!(!holds(Some(false), LayerUse::Ignore, true));
    }

    #[test]
    fn colours() {
        let is = |a: &str, b: &str| {
            let (a, b) = (Colour::parse(a), Colour::parse(b));
            a.expect("a colour").is(b.expect("a colour"))
        };
        assert!(is("1", "red") && is("red", "#ff0000") && is("#F00", "Red"));
        assert!(is("3", "green") && is("3", "lime") && !is("green", "lime"));
        assert!(is("7", "black") && is("7", "white") && !is("8", "grey"));
        for no in ["0", "256", "-1", "nice", "#12", ""] {
            assert_eq!(Colour::parse(no), None, "{no}");
        }
    }
}

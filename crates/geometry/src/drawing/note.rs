//! What was done to a drawing on the way, for the reader to check.

use super::error::Culprit;
use crate::Point;
use crate::validate::Shown;
use std::fmt;

/// Something that was healed, left out or approximated.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum Note {
    /// Curves other than lines and arcs became arcs.
    Approximated {
        /// Kind of entity.
        kind: String,
        /// How many of them.
        count: usize,
        /// Lines and arcs that stand for them.
        pieces: usize,
        /// Largest distance from the true curve, in millimetres, as measured.
        error: f64,
    },
    /// Ends that did not quite meet were joined.
    Joined {
        /// How many joints.
        count: usize,
        /// The widest gap, in millimetres.
        widest: f64,
        /// Where that was.
        at: Point,
        /// Where all of them are.
        places: Vec<Point>,
    },
    /// Curves drawn twice; one of each was kept.
    Duplicates {
        /// How many were dropped.
        count: usize,
        /// Where each of them begins.
        places: Vec<Point>,
    },
    /// Lines and arcs that lay wholly or partly on another and were made one with it.
    Overlaps {
        /// How many.
        count: usize,
        /// The middle of each overlap.
        places: Vec<Point>,
    },
    /// Scraps shorter than the joining distance were dropped.
    Scraps {
        /// How many.
        count: usize,
        /// Where each of them is.
        places: Vec<Point>,
    },
    /// Closed outlines narrower than the joining distance were dropped: nothing can be cut out there.
    Slivers {
        /// How many.
        count: usize,
        /// Where each of them begins.
        places: Vec<Point>,
    },
    /// Entities of a kind that is not cut.
    NotRead {
        /// Kind of entity.
        kind: String,
        /// How many.
        count: usize,
        /// The first of them.
        first: Culprit,
    },
    /// Text that no rule marks or leaves out.
    TextLeft {
        /// Kind of entity.
        kind: String,
        /// How many.
        count: usize,
        /// Whether its layer is one that is cut.
        is_cut: bool,
        /// The first of them.
        first: Culprit,
    },
    /// Text that a rule marks: drawn in letters of single lines.
    Lettered {
        /// The texts, in the order of the drawing.
        texts: Vec<MarkedText>,
    },
    /// Characters for which there are no such letters; their places stay empty.
    LettersMissing {
        /// Each character once.
        characters: Vec<char>,
        /// The first text that has one.
        words: String,
        /// Where that stands.
        at: Point,
    },
    /// Letters that do not lie on the material of a part, and are left out.
    LettersOutside {
        /// How many strokes of them.
        count: usize,
        /// The first text that has one.
        words: String,
        /// Where that stands.
        at: Point,
    },
    /// Entities on a layer that the rules leave out, or that is off or frozen, or that are hidden themselves.
    LayerLeftOut {
        /// The layer; empty when they have none.
        layer: String,
        /// How many entities.
        count: usize,
        /// Why: a rule, switched off, frozen.
        why: &'static str,
        /// The first of them, which is told where no layer leads to it.
        first: Culprit,
    },
    /// A mark that lies on no part.
    MarkOutside {
        /// Where it begins.
        at: Point,
    },
    /// Marks that run beyond their part, of which what lies on it is kept.
    MarksCut {
        /// How many.
        count: usize,
        /// Where the first leaves its part.
        at: Point,
    },
    /// Anything else that the reader should know.
    Remark {
        /// The whole text.
        text: String,
    },
}

/// A text that is marked.
#[derive(Debug, Clone, PartialEq)]
pub struct MarkedText {
    /// The text, its lines apart by blanks.
    pub words: String,
    /// Where it stands, in millimetres.
    pub at: Point,
    /// Height of its capitals, in millimetres.
    pub height: f64,
    /// How many strokes its letters have.
    pub strokes: usize,
}

impl Note {
    /// Where something was healed, in millimetres; empty for everything else.
    #[must_use]
    pub fn places(&self) -> &[Point] {
        match self {
            Self::Joined { places, .. }
            | Self::Duplicates { places, .. }
            | Self::Overlaps { places, .. }
            | Self::Scraps { places, .. }
            | Self::Slivers { places, .. } => places,
            _ => &[],
        }
    }
}

/// A number and what it counts.
fn counted(count: usize, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}

/// The beginning of a long text.
fn brief(words: &str) -> String {
    const MOST: usize = 40;
    let mut text: String = words.chars().take(MOST).collect();
    if words.chars().nth(MOST).is_some() {
        text += "...";
    }
    text
}

/// The first of some places, at the end of a sentence.
struct First<'a>(&'a [Point]);

impl fmt::Display for First<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.0.first() {
            Some(at) => write!(f, "; the first at {}", Shown(*at)),
            None => Ok(()),
        }
    }
}

impl fmt::Display for Note {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Approximated {
                kind,
                count,
                pieces,
                error,
            } => write!(
                f,
                "{count} {kind} read as {}, at most {error:.4} mm off",
                counted(*pieces, "line or arc", "lines and arcs")
            ),
            Self::Joined {
                count, widest, at, ..
            } => write!(
                f,
                "{} joined, the widest {widest:.4} mm at {}",
                counted(*count, "gap", "gaps"),
                Shown(*at)
            ),
            Self::Duplicates { count, places } => {
                let curves = counted(*count, "curve", "curves");
                write!(f, "{curves} drawn twice, read once{}", First(places))
            }
            Self::Overlaps { count, places } => write!(
                f,
                "{} lay partly on another, made one with it{}",
                counted(*count, "line or arc", "lines or arcs"),
                First(places)
            ),
            Self::Scraps { count, places } => write!(
                f,
                "{} shorter than the joining distance dropped{}",
                counted(*count, "scrap", "scraps"),
                First(places)
            ),
            Self::Slivers { count, places } => write!(
                f,
                "{} narrower than the joining distance dropped{}",
                counted(*count, "closed sliver", "closed slivers"),
                First(places)
            ),
            Self::NotRead { kind, count, first } => {
                write!(f, "{count} {kind} not read; the first is {first}")
            }
            Self::TextLeft {
                kind,
                count,
                is_cut,
                first,
            } => {
                let layer = if *is_cut {
                    " on layers that are cut"
                } else {
                    ""
                };
                write!(
                    f,
                    "{count} {kind} not read{layer}; the first is {first}; the drawing rule \
                     {{\"text\": true, \"use\": \"mark\"}} engraves text"
                )
            }
            Self::Lettered { texts } => {
                const MOST: usize = 5;
                write!(
                    f,
                    "{} marked in letters of single lines: ",
                    counted(texts.len(), "text", "texts")
                )?;
                for (i, text) in texts.iter().take(MOST).enumerate() {
                    let comma = if i > 0 { ", " } else { "" };
                    let MarkedText {
                        words, at, height, ..
                    } = text;
                    write!(
                        f,
                        "{comma}`{}` {height:.2} mm high at {}",
                        brief(words),
                        Shown(*at)
                    )?;
                }
                match texts.len().saturating_sub(MOST) {
                    0 => Ok(()),
                    more => write!(f, " and {more} more"),
                }
            }
            Self::LettersMissing {
                characters,
                words,
                at,
            } => {
                let signs: Vec<String> = characters
                    .iter()
                    .map(|c| format!("{c} (U+{:04X})", u32::from(*c)))
                    .collect();
                write!(
                    f,
                    "no letters for {}: left free, first in `{}` at {}",
                    signs.join(", "),
                    brief(words),
                    Shown(*at)
                )
            }
            Self::LettersOutside { count, words, at } => write!(
                f,
                "{} not on a part and left out, the first of `{}` at {}",
                counted(*count, "stroke of letters", "strokes of letters"),
                brief(words),
                Shown(*at)
            ),
            Self::LayerLeftOut {
                layer,
                count,
                why,
                first,
            } => {
                let entities = counted(*count, "entity", "entities");
                if layer.is_empty() {
                    write!(
                        f,
                        "{entities} without a layer left out ({why}); the first is {first}"
                    )
                } else {
                    write!(f, "layer `{layer}` left out ({why}): {entities}")
                }
            }
            Self::MarkOutside { at } => {
                write!(
                    f,
                    "a mark at {} lies on no part and is left out",
                    Shown(*at)
                )
            }
            Self::MarksCut { count, at } => write!(
                f,
                "{} cut off there, the first at {}",
                counted(
                    *count,
                    "mark runs beyond the edge of its part and is",
                    "marks run beyond the edge of their part and are"
                ),
                Shown(*at)
            ),
            Self::Remark { text } => f.write_str(text),
        }
    }
}

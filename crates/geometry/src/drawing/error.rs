//! What can be wrong with a drawing.

use super::Unit;
use crate::validate::Shown;
use crate::{InvalidOutline, Point};
use std::fmt;
use thiserror::Error;

/// One entity of a drawing, as messages name it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Culprit {
    /// Kind of entity in the words of its format: `LWPOLYLINE`, `path`.
    pub kind: String,
    /// Its layer (DXF) or group (SVG); empty when it has none.
    pub layer: String,
    /// Line in the file, from 1; `None` in a binary file.
    pub line: Option<usize>,
    /// Column in the line, from 1, where the format has meaningful columns.
    pub column: Option<usize>,
    /// Its handle (DXF, hexadecimal) or id (SVG).
    pub id: Option<String>,
}

impl fmt::Display for Culprit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.kind)?;
        if let Some(id) = &self.id {
            write!(f, " {id}")?;
        }
        if !self.layer.is_empty() {
            write!(f, " on layer `{}`", self.layer)?;
        }
        match (self.line, self.column) {
            (Some(line), Some(column)) => write!(f, " (line {line}:{column})"),
            (Some(line), None) => write!(f, " (line {line})"),
            _ => Ok(()),
        }
    }
}

/// Why a drawing cannot be read as parts. Places are in millimetres, y up.
///
/// The file is not named: the caller knows it.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum DrawingError {
    /// There is no file of that name.
    #[error("there is no such file")]
    NotFound,
    /// The file cannot be read at all.
    #[error("cannot be read: {message}")]
    Io {
        /// What the system says.
        message: String,
    },
    /// The name ends in something other than `.dxf` or `.svg`.
    #[error("is no drawing this program reads: expected a name ending in .dxf or .svg")]
    UnknownFormat,
    /// Larger than a drawing of parts ever is.
    #[error("is too large: {size} bytes, at most {limit} are read; take out what is not to be cut")]
    TooLarge {
        /// Its size in bytes.
        size: u64,
        /// The most that is read.
        limit: u64,
    },
    /// Not well-formed: cut short, or not of the format its name says.
    #[error("line {line}: {what}")]
    Malformed {
        /// Line in the file, from 1; the byte offset in a binary file.
        line: usize,
        /// What was expected and what was found.
        what: String,
    },
    /// A value that cannot be used.
    #[error("{culprit}: {field} is {value}; {remedy}")]
    BadValue {
        /// The entity.
        culprit: Box<Culprit>,
        /// Which of its values.
        field: String,
        /// The value as found.
        value: String,
        /// What to do.
        remedy: String,
    },
    /// An entity that is meant to be cut but cannot be read.
    #[error("{culprit} {why}")]
    Unsupported {
        /// The entity.
        culprit: Box<Culprit>,
        /// Why, and what to do.
        why: String,
    },
    /// Blocks, groups or copies beyond every reasonable number.
    #[error("{culprit} {why}")]
    TooMuch {
        /// The entity.
        culprit: Box<Culprit>,
        /// Which limit, and what to do.
        why: String,
    },
    /// It is to be read with ends joined that lie far apart.
    #[error(
        "ends up to {join} mm apart would be joined; at most {} mm are, wider gaps are closed in the drawing",
        crate::tolerance::WIDEST_JOIN
    )]
    JoinTooWide {
        /// [`ReadOptions::join`](super::ReadOptions::join) as given.
        join: f64,
    },
    /// The drawing names no unit and none was claimed.
    #[error("names no unit ({found}); say which unit it is drawn in")]
    NoUnit {
        /// What was found instead.
        found: String,
    },
    /// The drawing's unit is none that a part is drawn in.
    #[error(
        "is in {name} ({setting}), which is no unit for parts; set it to millimetres or inches"
    )]
    UnknownUnit {
        /// The unit's name.
        name: String,
        /// The setting and its value as found.
        setting: String,
    },
    /// The drawing names one unit and the caller another. The drawing is likely right.
    #[error("is drawn in {found}, but is said to be in {claimed}; correct one of the two")]
    UnitClash {
        /// The unit the drawing names.
        found: Unit,
        /// The unit claimed.
        claimed: Unit,
    },
    /// A chain of curves does not close.
    #[error(
        "{culprit}: the outline is open between {} and {}, {}{}; {}",
        Shown(*from),
        Shown(*to),
        Nearest(neighbour.as_deref(), *gap, *mate),
        Others(others),
        Closing(neighbour.is_some(), *gap)
    )]
    OpenOutline {
        /// The entity at the first end.
        culprit: Box<Culprit>,
        /// One end of the chain.
        from: Point,
        /// Its other end.
        to: Point,
        /// The nearest end of another chain, or this one's other end.
        mate: Point,
        /// How far that is from the first end.
        gap: f64,
        /// Both ends of every other open chain, in the order of the drawing.
        others: Vec<(Point, Point)>,
        /// Another outline on which both ends lie.
        neighbour: Option<Box<Culprit>>,
    },
    /// More than two curves meet in one place, and nothing tells which belong together.
    #[error(
        "{count} curves meet at {} and nothing tells which belong together; \
         draw each outline as one polyline, or on its own layer",
        Shown(*at)
    )]
    Branches {
        /// Where.
        at: Point,
        /// How many ends meet.
        count: usize,
    },
    /// Two outlines cross or touch.
    #[error(
        "the outlines of {first} and {second} cross or touch near {}; \
         move them apart, or make them one outline",
        Shown(*at)
    )]
    OutlinesCross {
        /// An entity of the one.
        first: Box<Culprit>,
        /// An entity of the other.
        second: Box<Culprit>,
        /// Where.
        at: Point,
    },
    /// An outline cannot be cut as drawn.
    #[error("the outline of {culprit}: {source}")]
    Invalid {
        /// An entity of the outline.
        culprit: Box<Culprit>,
        /// Why.
        source: InvalidOutline,
    },
    /// Nothing in the drawing is cut.
    #[error("holds no outline to cut{hint}")]
    Empty {
        /// What was left out, if anything was.
        hint: String,
    },
}

/// Where an open outline ends: on another one, or so far from the nearest end.
struct Nearest<'a>(Option<&'a Culprit>, f64, Point);

impl fmt::Display for Nearest<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self(neighbour, gap, mate) = self;
        match neighbour {
            Some(neighbour) => write!(f, "both on the outline of {neighbour}"),
            None => write!(f, "the nearest end is {gap:.3} mm away at {}", Shown(*mate)),
        }
    }
}

/// What to do about an open outline: whether it ends on another one, and its gap.
struct Closing(bool, f64);

impl fmt::Display for Closing {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        /// Wider gaps are left to whoever draws: joined blindly they would make outlines up.
        const SMALL: f64 = 2.0;
        f.write_str(match self {
            Self(true, _) => {
                "draw each part with all of its edges and room between them, \
                 or put the lines on a layer that is marked or ignored"
            }
            Self(false, gap) if *gap <= SMALL => {
                "close it, let ends so far apart be joined (\"join\" of the part), \
                 or put it on a layer that is marked or ignored"
            }
            _ => "close it, or put it on a layer that is marked or ignored",
        })
    }
}

/// The other open chains of a drawing, in brackets.
struct Others<'a>(&'a [(Point, Point)]);

impl fmt::Display for Others<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        /// More places than this are not read by anyone.
        const MOST: usize = 4;
        for (i, (from, to)) in self.0.iter().take(MOST).enumerate() {
            let before = if i == 0 { " (others from " } else { ", " };
            write!(f, "{before}{} to {}", Shown(*from), Shown(*to))?;
        }
        match self.0.len() {
            0 => Ok(()),
            count if count > MOST => write!(f, " and {} more)", count - MOST),
            _ => f.write_str(")"),
        }
    }
}

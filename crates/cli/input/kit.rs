//! The kit file: parts, each a drawing or a rectangle with features.

use super::feature::Rectangle;
use serde::Deserialize;

/// A kit file as written.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct KitFile {
    /// Always `panelwright-kit-1`.
    pub format: String,
    /// Name of the kit.
    pub kit: String,
    /// Unit of the lengths in this file; drawings have their own.
    #[serde(default)]
    pub units: super::Unit,
    /// Its parts.
    pub parts: Vec<KitPart>,
}

/// One part of a kit.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct KitPart {
    /// Name, unique in the kit.
    pub part: String,
    /// How many go into one kit.
    pub quantity: u32,
    /// Material by name; or give `role`.
    #[serde(default)]
    pub material: Option<String>,
    /// Role that the order fills with a material; or give `material`.
    #[serde(default)]
    pub role: Option<String>,
    /// Which kind of machine frees it.
    pub route: Route,
    /// Drawing (DXF or SVG), relative to this file; or give `rectangle`.
    #[serde(default)]
    pub drawing: Option<String>,
    /// Unit of the drawing. Needed only when the drawing names none; when it names another, that
    /// is an error.
    #[serde(default)]
    pub drawing_units: Option<super::Unit>,
    /// Rectangle with features; or give `drawing`.
    #[serde(default)]
    pub rectangle: Option<Rectangle>,
    /// Whether this is the other hand of what is drawn.
    #[serde(default)]
    pub mirrored: bool,
    /// How it may be turned on the sheet.
    #[serde(default)]
    pub turn: TurnWord,
    /// How the grain runs in the part as drawn.
    #[serde(default)]
    pub grain: GrainWord,
    /// How many faces must be good: 0, 1 or 2.
    #[serde(default)]
    pub good_faces: u8,
    /// Text for its label; its name when not given.
    #[serde(default)]
    pub label: Option<String>,
    /// Whether its square inside corners are bitten out, so that a square part can seat in them.
    #[serde(default)]
    pub relief: ReliefWord,
}

/// How square inside corners are relieved (router, laser).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum ReliefWord {
    /// Not at all: the tool leaves its radius in them.
    #[default]
    None,
    /// By a round bite on the corner's bisector.
    Round,
    /// By a bite across the longer of the two edges.
    T,
}

/// Which kind of machine frees a part.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Route {
    /// Sawn to size; a plain rectangle.
    Saw,
    /// Sawn to its bounding rectangle, then finished on the router.
    SawThenRouter,
    /// Routed out of the sheet.
    Router,
    /// Cut out by laser.
    Laser,
}

/// How a part may be turned.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum TurnWord {
    /// As drawn only.
    None,
    /// By a half turn.
    Half,
    /// By quarter turns.
    #[default]
    Quarter,
    /// By any angle.
    Free,
}

/// How the grain runs in a part as drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum GrainWord {
    /// Along x.
    Along,
    /// Along y.
    Across,
    /// It does not matter.
    #[default]
    Any,
}

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
    /// What becomes of the curves of its drawings; the first rule that holds decides, and the
    /// program's own rules come after them.
    #[serde(default)]
    pub drawing_rules: Vec<DrawingRule>,
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
    /// Which part of a drawing of several: `"all"` makes each of them a part of the kit, a name or a
    /// number from 1 picks one.
    #[serde(default)]
    pub from_drawing: Option<serde_json::Value>,
    /// Rules for this drawing, ahead of those of the kit.
    #[serde(default)]
    pub drawing_rules: Vec<DrawingRule>,
    /// Ends of the drawing's curves that are nearer than this belong together; 0.05 mm when not given.
    #[serde(default)]
    pub join: Option<f64>,
    /// Index in the kit file, which is not that in the list once drawings of several parts are taken
    /// apart.
    #[serde(skip)]
    pub listed: usize,
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

/// What becomes of some curves of a drawing. Every condition given must hold.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DrawingRule {
    /// Layer (DXF), or id, class or label of the element or a group round it (SVG); `*` stands for any
    /// text.
    #[serde(default)]
    pub layer: Option<String>,
    /// Colour (DXF) or stroke (SVG): a name, `#rrggbb`, or a number of the DXF table.
    #[serde(default)]
    pub colour: Option<serde_json::Value>,
    /// Line type (DXF); `continuous` or `dashed` (SVG).
    #[serde(default)]
    pub line_type: Option<String>,
    /// Class of the element or a group round it (SVG).
    #[serde(default)]
    pub class: Option<String>,
    /// `true`: text alone (DXF: TEXT, MTEXT, ATTRIB); `false`: curves alone. Without it a rule is for curves,
    /// and leaves text out with them.
    #[serde(default)]
    pub text: Option<bool>,
    /// What becomes of them.
    #[serde(rename = "use")]
    pub becomes: UseWord,
}

/// What becomes of a curve.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum UseWord {
    /// It is cut through.
    Cut,
    /// It is scored or engraved.
    Mark,
    /// It is left out.
    Ignore,
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

//! The readable list of remnants that a shop file names.

use serde::Deserialize;

/// A list of remnants as written.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RemnantsFile {
    /// Always `panelwright-remnants-1`.
    pub format: String,
    /// Unit of every length in this file.
    #[serde(default)]
    pub units: super::Unit,
    /// The remnants.
    pub remnants: Vec<RemnantEntry>,
}

/// One remnant: `length` and `width` for a rectangle, or a measured `outline`.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RemnantEntry {
    /// Identity written on the piece.
    pub id: String,
    /// Material by name.
    pub material: String,
    /// Size along x, of a rectangle.
    #[serde(default)]
    pub length: Option<f64>,
    /// Size along y, of a rectangle.
    #[serde(default)]
    pub width: Option<f64>,
    /// Corners in order, good face up.
    #[serde(default)]
    pub outline: Option<Vec<[f64; 2]>>,
    /// Holes in it.
    #[serde(default)]
    pub voids: Vec<Vec<[f64; 2]>>,
    /// Areas to avoid.
    #[serde(default)]
    pub flaws: Vec<Vec<[f64; 2]>>,
    /// The purchase its sheet came from.
    #[serde(default)]
    pub lot: Option<String>,
    /// Direction of the grain in degrees from x; 0 when the material has one and this is absent.
    #[serde(default)]
    pub grain_deg: Option<f64>,
    /// How many faces are good; as the material when absent.
    #[serde(default)]
    pub good_faces: Option<u8>,
    /// Where it stands.
    #[serde(default)]
    pub place: Option<String>,
    /// Day it was logged, `YYYY-MM-DD`.
    #[serde(default)]
    pub logged: Option<String>,
    /// Where it comes from.
    #[serde(default)]
    pub origin: Option<String>,
    /// Anything else.
    #[serde(default)]
    pub note: Option<String>,
    /// Book value; by the keep rule when absent.
    #[serde(default)]
    pub value: Option<f64>,
}

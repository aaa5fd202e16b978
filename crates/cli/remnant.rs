//! A logged left-over.

use panelwright_geometry::{Point, Polygon};

/// Where a remnant stands until someone says otherwise: what the rack keeps for it. Papers say it in their language.
pub const NOT_PLACED: &str = "not yet placed";

/// A left-over on the rack. Lengths in millimetres.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Remnant {
    /// Identity, short enough to write on the piece, such as `R-0012`.
    pub id: String,
    /// Material by name.
    pub material: String,
    /// Outline with its voids as holes, good face up.
    pub outline: Polygon,
    /// Areas to avoid: scratches, dents, old screw holes.
    pub flaws: Vec<Vec<Point>>,
    /// The purchase its sheet came from.
    pub lot: Option<String>,
    /// Direction of the grain in degrees; `None` for a material without.
    pub grain_deg: Option<f64>,
    /// How many faces are good: 0, 1 or 2.
    pub good_faces: u8,
    /// Where it stands.
    pub place: Option<String>,
    /// Day it was logged, `YYYY-MM-DD`.
    pub logged: Option<String>,
    /// Where it comes from, such as the sheet and nest it is left of.
    pub origin: Option<String>,
    /// Anything else.
    pub note: Option<String>,
    /// Book value; by the keep rule's share of a new sheet's price per area when `None`.
    pub value: Option<f64>,
}

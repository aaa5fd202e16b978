//! Parts given as a rectangle with features.

use serde::Deserialize;

/// A rectangle of `length` along x and `width` along y, its lower left corner at the origin.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Rectangle {
    /// Size along x.
    pub length: f64,
    /// Size along y.
    pub width: f64,
    /// Radius of the corners; 0 for square ones.
    #[serde(default)]
    pub corner_radius: f64,
    /// What is cut out of it.
    #[serde(default)]
    pub features: Vec<Feature>,
}

/// Something cut out of a rectangle.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case", deny_unknown_fields)]
pub enum Feature {
    /// A round hole.
    Hole {
        /// Centre.
        at: [f64; 2],
        /// Diameter.
        diameter: f64,
    },
    /// A grid of equal round holes, such as a vent.
    HoleGrid {
        /// Centre of the lower left hole.
        at: [f64; 2],
        /// Diameter of each.
        diameter: f64,
        /// Holes along x.
        columns: u32,
        /// Holes along y.
        rows: u32,
        /// Distance between centres along x and y.
        pitch: [f64; 2],
    },
    /// A slot with round ends.
    Slot {
        /// Centre of one end.
        from: [f64; 2],
        /// Centre of the other end.
        to: [f64; 2],
        /// Width; the ends have half of it as radius.
        width: f64,
    },
    /// A row of equal upright slots, such as a vent.
    SlotRow {
        /// Centre of the lower end of the first slot.
        at: [f64; 2],
        /// Distance between the centres of a slot's ends, along y.
        length: f64,
        /// Width of each.
        width: f64,
        /// How many.
        count: u32,
        /// Distance between neighbours along x.
        pitch: f64,
    },
    /// A rectangular window.
    Window {
        /// Lower left corner.
        at: [f64; 2],
        /// Size along x.
        length: f64,
        /// Size along y.
        width: f64,
        /// Radius of its corners.
        #[serde(default)]
        corner_radius: f64,
    },
    /// A notch open to one edge.
    Notch {
        /// The edge it opens to.
        edge: Edge,
        /// Distance of its middle from the edge's left or lower end.
        at: f64,
        /// Size along the edge.
        width: f64,
        /// Size into the part.
        depth: f64,
        /// Radius of its inner corners.
        #[serde(default)]
        radius: f64,
    },
    /// A straight line that is scored or engraved.
    Mark {
        /// One end.
        from: [f64; 2],
        /// The other end.
        to: [f64; 2],
    },
}

/// An edge of a rectangle.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Edge {
    /// Lower.
    Bottom,
    /// Right.
    Right,
    /// Upper.
    Top,
    /// Left.
    Left,
}

//! What is to be cut.

use crate::Stock;
use panelwright_geometry::Outline;

/// How far a part may be turned on the sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Turn {
    /// As drawn only.
    None,
    /// As drawn or by a half turn.
    Half,
    /// By quarter turns.
    Quarter,
    /// By any angle.
    Free,
}

/// The angles that a part may lie at on one piece of stock.
#[derive(Debug, Clone, PartialEq)]
pub enum Angles {
    /// These only, in degrees within [0, 360); empty when the grain rules the stock out.
    Listed(Vec<f64>),
    /// Any.
    Any,
}

/// A flat part and how many of it are wanted.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// Name for messages.
    pub name: String,
    /// Shape, with true arcs; where it lies in its drawing does not matter.
    pub outline: Outline,
    /// How many are wanted.
    pub quantity: u32,
    /// How it may be turned.
    pub turn: Turn,
    /// Direction of the grain in the part as drawn, in degrees; `None` when it does not matter.
    pub grain_deg: Option<f64>,
    /// How many of its faces must be good: 0, 1 or 2.
    pub good_faces: u8,
    /// What is laid first and given up last when stock is short: the higher number. One copy of
    /// higher priority outweighs all of lower.
    pub priority: i32,
}

/// Grain directions this near to each other, in degrees, are the same.
const GRAIN_MATCH_DEG: f64 = 1e-6;

impl Part {
    /// A part that may be turned by quarters, without grain or good face.
    pub fn new(name: impl Into<String>, outline: Outline, quantity: u32) -> Self {
        Self {
            name: name.into(),
            outline,
            quantity,
            turn: Turn::Quarter,
            grain_deg: None,
            good_faces: 0,
            priority: 0,
        }
    }

    /// The angles at which the part may lie on `stock`, by its turn and both grains.
    ///
    /// A part with grain on stock without one (and the other way round) is not restricted by it.
    #[must_use]
    pub fn angles(&self, stock: &Stock) -> Angles {
        let listed = |angles: &[f64]| angles.to_vec();
        let turns = match self.turn {
            Turn::None => listed(&[0.0]),
            Turn::Half => listed(&[0.0, 180.0]),
            Turn::Quarter => listed(&[0.0, 90.0, 180.0, 270.0]),
            Turn::Free => match (self.grain_deg, stock.grain_deg) {
                (Some(part), Some(stock)) => {
                    let first = match (stock - part).rem_euclid(180.0) {
                        180.0 => 0.0,
                        first => first,
                    };
                    listed(&[first, first + 180.0])
                }
                _ => return Angles::Any,
            },
        };
        Angles::Listed(
            turns
                .into_iter()
                .filter(|a| self.grain_fits(*a, stock))
                .collect(),
        )
    }

    /// Whether the grain runs right when the part lies at `angle_deg` on `stock`.
    #[must_use]
    pub fn grain_fits(&self, angle_deg: f64, stock: &Stock) -> bool {
        match (self.grain_deg, stock.grain_deg) {
            (Some(part), Some(stock)) => {
                let off = (part + angle_deg - stock).rem_euclid(180.0);
                off.min(180.0 - off) < GRAIN_MATCH_DEG
            }
            _ => true,
        }
    }

    /// Whether a copy of `other` is as good as one of this: the same shape under the same rules.
    #[must_use]
    pub fn is_like(&self, other: &Self) -> bool {
        self.turn == other.turn
            && self.grain_deg == other.grain_deg
            && self.good_faces == other.good_faces
            && self.outline == other.outline
    }

    /// Whether `stock` has the good faces that the part needs.
    #[must_use]
    pub fn faces_fit(&self, stock: &Stock) -> bool {
        self.good_faces <= stock.good_faces
    }
}

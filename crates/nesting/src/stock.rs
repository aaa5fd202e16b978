//! What parts are cut from.

use crate::{PlacedPart, SawCut};
use panelwright_geometry::{Bounds, Point, Polygon};

/// Whether stock was bought or left over.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum StockKind {
    /// As bought; upright, its length along x.
    Sheet,
    /// A logged left-over of any outline.
    Remnant,
}

/// When a left-over is worth keeping, and what it and the rest are worth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct KeepRule {
    /// Least shorter side of the rectangle inside it, millimetres.
    pub least_width: f64,
    /// Least longer side of the rectangle inside it, millimetres.
    pub least_length: f64,
    /// Value of kept material per square millimetre.
    pub value_per_area: f64,
    /// What labelling, logging and storing one piece costs; taken off its value. Without it, many
    /// scattered pieces would seem as good as one.
    pub handling: f64,
    /// Cost of scrap per square millimetre: disposal less recycling credit, so perhaps negative.
    pub scrap_cost_per_area: f64,
}

impl Default for KeepRule {
    /// Nothing is kept and scrap costs nothing.
    fn default() -> Self {
        Self {
            least_width: f64::INFINITY,
            least_length: f64::INFINITY,
            value_per_area: 0.0,
            handling: 0.0,
            scrap_cost_per_area: 0.0,
        }
    }
}

impl KeepRule {
    /// What a kept piece of this area (square millimetres) is worth, never below 0. A rate that is
    /// no number is none.
    #[must_use]
    pub fn value_of(&self, area: f64) -> f64 {
        let value = self.value_per_area * area - self.handling;
        if value.is_finite() {
            value.max(0.0)
        } else {
            0.0
        }
    }

    /// Whether a rectangle of these sides passes; equality does.
    #[must_use]
    pub fn passes(&self, a: f64, b: f64) -> bool {
        a.min(b) >= self.least_width && a.max(b) >= self.least_length
    }
}

/// How a sheet too large for a machine is first sawn into blanks.
#[derive(Debug, Clone, PartialEq)]
pub struct BreakDown {
    /// Saw cuts in cutting order, in the sheet's coordinates.
    pub cuts: Vec<SawCut>,
    /// The blanks that go to the machine; parts lie inside one of them, by the margin.
    pub blanks: Vec<Bounds>,
}

/// One kind of stock: a sheet size, or one remnant.
#[derive(Debug, Clone)]
pub struct Stock {
    /// Identity for messages and files.
    pub name: String,
    /// Bought or left over.
    pub kind: StockKind,
    /// Outline, with its voids as holes.
    pub outline: Polygon,
    /// Flaws that no part may touch: kept clear by the margin, as voids are, and no offcut that is
    /// kept has one in it. They may cross each other, a void or the edge.
    pub keep_clear: Vec<Vec<Point>>,
    /// Areas that the machine needs free while it cuts (clamps, screws), where they lie on this
    /// piece: kept clear by the margin like flaws, but the material there is sound and may be part
    /// of an offcut. Not for sawn stock.
    pub zones: Vec<Vec<Point>>,
    /// Parts that already have their place here. When there are any, this kind of stock stands for
    /// one definite piece: its supply is 1 and its own, every nest takes it, and its layout has
    /// exactly these parts where they are, among others. Not for sawn stock.
    pub pinned: Vec<PlacedPart>,
    /// What taking one costs: the price of a sheet, the book value of a remnant.
    pub cost: f64,
    /// Index into [`crate::Problem::supplies`]; kinds of stock that are the same sheet broken down
    /// in different ways share one.
    pub supply: usize,
    /// Direction of the grain in degrees; `None` when the material has none.
    pub grain_deg: Option<f64>,
    /// How many faces are good: 0, 1 or 2.
    pub good_faces: u8,
    /// What becomes of its left-overs.
    pub keep: KeepRule,
    /// How it is sawn into blanks before parts are cut from those; `None` when it goes to the
    /// machine whole.
    pub break_down: Option<BreakDown>,
}

impl Stock {
    /// A rectangular sheet without grain, one good face, that keeps no offcuts.
    pub fn sheet(
        name: impl Into<String>,
        length: f64,
        width: f64,
        cost: f64,
        supply: usize,
    ) -> Self {
        Self {
            name: name.into(),
            kind: StockKind::Sheet,
            outline: Polygon::rectangle(length, width),
            keep_clear: Vec::new(),
            zones: Vec::new(),
            pinned: Vec::new(),
            cost,
            supply,
            grain_deg: None,
            good_faces: 1,
            keep: KeepRule::default(),
            break_down: None,
        }
    }

    /// A remnant of any outline, with its voids as holes; there is one of it.
    pub fn remnant(name: impl Into<String>, outline: Polygon, cost: f64, supply: usize) -> Self {
        Self {
            kind: StockKind::Remnant,
            outline,
            ..Self::sheet(name, 1.0, 1.0, cost, supply)
        }
    }

    /// The areas that parts must lie in, each by the margin: the whole outline, or the blanks.
    #[must_use]
    pub fn fields(&self) -> Vec<Polygon> {
        match &self.break_down {
            Some(plan) => plan
                .blanks
                .iter()
                .map(|b| Polygon::from_bounds(*b))
                .collect(),
            None => vec![self.outline.clone()],
        }
    }
}

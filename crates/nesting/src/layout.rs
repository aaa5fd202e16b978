//! The answer of a search.

use crate::{Problem, Stock};
use panelwright_geometry::{Outline, Placement, Point, Polygon};
use std::fmt;

/// One part laid down.
#[derive(Debug, Clone, PartialEq)]
pub struct PlacedPart {
    /// Index into [`Problem::parts`].
    pub part: usize,
    /// How its drawing was turned and moved, in the stock's coordinates.
    pub placement: Placement,
}

impl PlacedPart {
    /// The part's true outline where it lies.
    ///
    /// # Panics
    /// When the part's index is not of `problem`.
    #[must_use]
    pub fn outline(&self, problem: &Problem) -> Outline {
        problem.parts[self.part].outline.placed(&self.placement)
    }

    /// The polygon that others must keep clear of, as it is judged and written: the chords of the part as drawn, in the
    /// stock's coordinates. Those of its outline once it is turned are others, by less than
    /// [`tolerance::CHORD`](panelwright_geometry::tolerance::CHORD).
    ///
    /// # Panics
    /// When the part is not of `problem`.
    #[must_use]
    pub fn covering(&self, problem: &Problem) -> Polygon {
        let drawn = problem.parts[self.part].outline.covering();
        drawn.placed(&self.placement)
    }
}

/// One cut of the panel saw: an upright centre line, edge to edge of the piece it meets.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SawCut {
    /// One end of the centre line.
    pub from: Point,
    /// The other end.
    pub to: Point,
    /// Width of the blade's cut.
    pub kerf: f64,
    /// Stage the cut belongs to: 0 for trims, then counted from 1.
    pub stage: u32,
}

/// A left-over of a layout.
#[derive(Debug, Clone, PartialEq)]
pub struct Offcut {
    /// Its outline, in the stock's coordinates.
    pub outline: Polygon,
    /// Whether it passes the keep rule.
    pub kept: bool,
    /// What the keep rule says it is worth; 0 when not kept.
    pub value: f64,
}

/// What is cut from one piece of stock.
#[derive(Debug, Clone, PartialEq)]
pub struct Layout {
    /// Index into [`Problem::stock`].
    pub stock: usize,
    /// The parts, in no particular order.
    pub placed: Vec<PlacedPart>,
    /// Cuts of the panel saw in cutting order: those that free the parts (guillotine), or those
    /// that make blanks (break-down), or none.
    pub saw_cuts: Vec<SawCut>,
    /// What is left.
    pub offcuts: Vec<Offcut>,
}

impl Layout {
    /// The piece of stock of this index with what is pinned on it and nothing else; its left-overs
    /// are not looked for.
    ///
    /// # Panics
    /// When the index is not of `problem`.
    #[must_use]
    pub fn bare(problem: &Problem, stock: usize) -> Self {
        let piece = &problem.stock[stock];
        Self {
            stock,
            placed: piece.pinned.clone(),
            saw_cuts: piece
                .break_down
                .as_ref()
                .map_or_else(Vec::new, |plan| plan.cuts.clone()),
            offcuts: Vec::new(),
        }
    }

    /// Area of the parts, holes not counted, in square millimetres.
    ///
    /// # Panics
    /// When a part's index is not of `problem`.
    #[must_use]
    pub fn part_area(&self, problem: &Problem) -> f64 {
        self.placed
            .iter()
            .map(|p| problem.parts[p.part].outline.area())
            .sum()
    }

    /// Area of the offcuts that are kept.
    #[must_use]
    pub fn kept_area(&self) -> f64 {
        self.offcuts
            .iter()
            .filter(|o| o.kept)
            .map(|o| o.outline.area())
            .sum()
    }

    /// The stock it is cut from.
    ///
    /// # Panics
    /// When its index is not of `problem`.
    #[must_use]
    pub fn stock<'a>(&self, problem: &'a Problem) -> &'a Stock {
        &problem.stock[self.stock]
    }
}

/// Why a part could not be placed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Why {
    /// Not even alone does it fit on any piece of stock at any allowed angle.
    TooLarge,
    /// It would fit a piece of stock whose good faces or grain rule it out.
    FaceOrGrain,
    /// The saw's limits rule it out: stages or longest cut.
    SawLimits,
    /// It is narrower than the least strip that the saw can hold.
    TooNarrow,
    /// The saw cannot trim any piece of stock it fits on, since that cut is longer than its longest.
    CannotTrim,
    /// All stock it fits on is used up.
    StockUsedUp,
    /// The search was stopped before it came to it.
    Stopped,
}

impl fmt::Display for Why {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::TooLarge => "it fits on no stock at any allowed angle",
            Self::FaceOrGrain => {
                "no stock that it fits on has the good faces or the grain it needs"
            }
            Self::SawLimits => "the saw cannot make it within its stages and lengths",
            Self::TooNarrow => "it is narrower than the least strip that the saw holds",
            Self::CannotTrim => "the saw cannot trim any stock that it fits on",
            Self::StockUsedUp => "all stock that it fits on is used up",
            Self::Stopped => "the search was stopped before it came to it",
        })
    }
}

/// Parts that could not be placed.
#[derive(Debug, Clone, PartialEq)]
pub struct NotPlaced {
    /// Index into [`Problem::parts`].
    pub part: usize,
    /// How many copies are missing.
    pub quantity: u32,
    /// The reason.
    pub why: Why,
}

/// All layouts of a problem.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Nest {
    /// One per piece of stock taken.
    pub layouts: Vec<Layout>,
    /// What is missing, by part.
    pub not_placed: Vec<NotPlaced>,
}

impl Nest {
    /// What the nest costs: stock taken less offcuts kept, plus scrap. See [`crate::spend_of`].
    ///
    /// # Panics
    /// When an index of stock or part is not of `problem`.
    #[must_use]
    pub fn spend(&self, problem: &Problem) -> f64 {
        self.layouts
            .iter()
            .map(|l| crate::spend_of(problem, l))
            .sum()
    }

    /// How many copies of each part were placed.
    ///
    /// # Panics
    /// When a part's index is not of `problem`.
    #[must_use]
    pub fn placed_counts(&self, problem: &Problem) -> Vec<u32> {
        let mut counts = vec![0; problem.parts.len()];
        for placed in self.layouts.iter().flat_map(|l| &l.placed) {
            counts[placed.part] += 1;
        }
        counts
    }
}

//! What the exact solvers work on and give back: parts as they may lie, and cuts as plain trees.

use super::cut_tree::Axis;
use super::length::Nm;

/// A piece in one of the ways it may lie.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Lying {
    /// Index into the model's pieces.
    pub piece: usize,
    /// Whether at a quarter turn.
    pub turned: bool,
    /// Sides as it lies, one kerf included.
    pub size: [Nm; 2],
    /// What one copy is worth; above 0.
    pub value: f64,
}

/// A piece of the sheet, taken apart.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Cutting {
    /// One part, cut to its size where the piece is larger.
    Part {
        /// Index into the model's pieces.
        piece: usize,
        /// Whether it lies at a quarter turn.
        turned: bool,
    },
    /// Divided along an axis.
    Stack(Axis, Vec<Cutting>),
}

impl Cutting {
    /// `one` and `other` side by side along `axis`; stacks along it are taken up into one.
    pub fn beside(axis: Axis, one: Cutting, other: Cutting) -> Self {
        let mut all = one.into_children(axis);
        all.extend(other.into_children(axis));
        Self::Stack(axis, all)
    }

    fn into_children(self, axis: Axis) -> Vec<Cutting> {
        match self {
            Self::Stack(a, children) if a == axis => children,
            other => vec![other],
        }
    }
}

/// Counts work and says when it is used up.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Meter {
    /// Work done.
    pub taken: u64,
    /// Work allowed.
    pub most: u64,
}

impl Meter {
    /// Nothing done yet.
    pub fn new(most: u64) -> Self {
        Self { taken: 0, most }
    }

    /// Notes `work`; `false` once there is none left.
    pub fn spend(&mut self, work: u64) -> bool {
        self.taken = self.taken.saturating_add(work);
        self.taken < self.most
    }
}

//! A whole answer while it is searched for: boards with their cut trees, and what is left out.

use super::cut_tree::CutTree;
use super::length::Nm;
use super::model::Model;
use super::saw_plan;
use std::cmp::Ordering;

/// One piece of stock taken.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Board {
    /// Index into the model's sources.
    pub source: usize,
    /// Its cuts.
    pub tree: CutTree,
    /// Area of the pieces on it.
    pub used: f64,
}

impl Board {
    /// An uncut one.
    pub fn new(source: usize) -> Self {
        Self {
            source,
            tree: CutTree::default(),
            used: 0.0,
        }
    }

    /// Becomes the same as `other`, keeping the allocations.
    pub fn copy_from(&mut self, other: &Self) {
        self.source = other.source;
        self.used = other.used;
        self.tree.copy_from(&other.tree);
    }

    /// Adds its pieces to `counts`.
    pub fn count_into(&self, counts: &mut [u32]) {
        for (_, piece, _) in self.tree.parts() {
            counts[piece as usize] += 1;
        }
    }
}

/// Boards, and the pieces that are on none of them.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Plan {
    /// The boards taken.
    pub boards: Vec<Board>,
    /// By piece: copies left out.
    pub left: Vec<u32>,
}

/// What plans are compared by, the first difference deciding.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Score {
    /// Copies left out by weight of priority.
    pub denied: u128,
    /// Area of the pieces left out.
    pub missing: f64,
    /// Spend, the parts' own share of the scrap cost not subtracted.
    pub spend: f64,
    /// Area of the largest left-over.
    pub largest: f64,
    /// Boards taken.
    pub boards: usize,
    /// Length of all cuts, trims not counted.
    pub cutting: Nm,
}

/// Spends nearer than this, in relation to them, are the same.
const SAME_SPEND: f64 = 1e-9;

impl Score {
    /// `Less` when `self` is the better one.
    pub fn compare(&self, other: &Self) -> Ordering {
        let near = |a: f64, b: f64| (a - b).abs() <= SAME_SPEND * a.abs().max(b.abs());
        let order = |a: f64, b: f64| {
            if near(a, b) {
                Ordering::Equal
            } else {
                a.total_cmp(&b)
            }
        };
        self.denied
            .cmp(&other.denied)
            .then(order(self.missing, other.missing))
            .then(order(self.spend, other.spend))
            .then(order(other.largest, self.largest))
            .then(self.boards.cmp(&other.boards))
            .then(self.cutting.cmp(&other.cutting))
    }

    /// Whether `self` is strictly better.
    pub fn beats(&self, other: &Self) -> bool {
        self.compare(other) == Ordering::Less
    }
}

impl Plan {
    /// No boards, everything left out.
    pub fn empty(model: &Model) -> Self {
        Self {
            boards: Vec::new(),
            left: model.wanted(),
        }
    }

    /// Its score.
    pub fn score(&self, model: &Model) -> Score {
        let mut score = Score {
            denied: model.denied(&self.left),
            missing: model.area_of(&self.left),
            spend: 0.0,
            largest: 0.0,
            boards: 0,
            cutting: 0,
        };
        for board in self.boards.iter().filter(|b| !b.tree.is_empty()) {
            let source = &model.sources[board.source];
            let rests = saw_plan::rests(model, source, &board.tree);
            let cutting =
                saw_plan::cutting(&board.tree, source.size, model.limits.kerf, rests.wrapped);
            score.cutting = score.cutting.saturating_add(cutting);
            score.spend += rests.spend;
            score.largest = score.largest.max(rests.largest);
            score.boards += 1;
        }
        score
    }

    /// What its boards cost.
    pub fn price(&self, model: &Model) -> f64 {
        let boards = self.boards.iter();
        boards.map(|b| model.sources[b.source].price).sum()
    }

    /// Gives up boards without parts.
    pub fn drop_empty(&mut self) {
        self.boards.retain(|b| !b.tree.is_empty());
    }

    /// Whether no supply is overdrawn.
    pub fn keeps_to_supplies(&self, model: &Model) -> bool {
        let mut taken = vec![0_u32; model.supplies.len()];
        for board in &self.boards {
            taken[model.sources[board.source].supply] += 1;
        }
        taken.iter().zip(&model.supplies).all(|(t, n)| t <= n)
    }

    /// How many of each supply are still there.
    pub fn supplies_left(&self, model: &Model) -> Vec<u32> {
        let mut left = model.supplies.clone();
        for board in &self.boards {
            let supply = &mut left[model.sources[board.source].supply];
            if *supply != u32::MAX {
                *supply -= 1;
            }
        }
        left
    }
}

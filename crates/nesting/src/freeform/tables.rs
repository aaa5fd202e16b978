//! What every worker of a search shares: shapes, fields and the places they forbid each other.

use super::field::{Field, Fit};
use super::nofit::NoFit;
use super::shape::{Catalogue, Pose};
use crate::Problem;
use crate::offcut::Finder;
use std::collections::BTreeMap;
use std::ops::Range;
use std::sync::{Arc, Mutex, PoisonError};

/// Locks the tables are spread over, so that workers seldom wait for each other.
const SHARDS: usize = 64;

/// A map filled while it is used; what is in it does not depend on who asks first.
#[derive(Debug)]
struct Lazy<V> {
    shards: Vec<Mutex<BTreeMap<(usize, usize), V>>>,
}

impl<V: Clone> Lazy<V> {
    fn new() -> Self {
        Self {
            shards: (0..SHARDS).map(|_| Mutex::default()).collect(),
        }
    }

    fn get(&self, key: (usize, usize), make: impl FnOnce() -> V) -> V {
        let shard = &self.shards[(key.0.wrapping_mul(31).wrapping_add(key.1)) % SHARDS];
        let known = |s: &Mutex<BTreeMap<(usize, usize), V>>| {
            s.lock()
                .unwrap_or_else(PoisonError::into_inner)
                .get(&key)
                .cloned()
        };
        if let Some(value) = known(shard) {
            return value;
        }
        // Made without the lock held: two workers may both make it, with the same result.
        let value = make();
        shard
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .entry(key)
            .or_insert(value)
            .clone()
    }
}

/// Shapes, fields, and what they forbid each other.
#[derive(Debug)]
pub(super) struct Tables<'p> {
    /// The problem.
    pub problem: &'p Problem,
    /// The parts' shapes.
    pub catalogue: Catalogue,
    /// All fields of all stock.
    pub fields: Vec<Field>,
    fields_of: Vec<Range<usize>>,
    pairs: Lazy<Arc<NoFit>>,
    fits: Lazy<Option<Arc<Fit>>>,
    /// Finds what layouts leave.
    pub offcuts: Finder<'p>,
}

impl<'p> Tables<'p> {
    /// Prepares `problem`.
    pub fn new(problem: &'p Problem) -> Self {
        let mut fields = Vec::new();
        let mut fields_of = Vec::new();
        for stock in &problem.stock {
            let from = fields.len();
            fields.extend(Field::all_of(stock, problem.margin));
            fields_of.push(from..fields.len());
        }
        Self {
            problem,
            catalogue: Catalogue::new(problem),
            fields,
            fields_of,
            pairs: Lazy::new(),
            fits: Lazy::new(),
            offcuts: Finder::new(problem),
        }
    }

    /// The fields of `stock`, as indices.
    pub fn fields_of(&self, stock: usize) -> Range<usize> {
        self.fields_of[stock].clone()
    }

    /// Where `moving` must not lie because of `fixed` (both turned shapes).
    pub fn pair(&self, fixed: usize, moving: usize) -> Arc<NoFit> {
        self.pairs.get((fixed, moving), || {
            let turned = &self.catalogue.turned;
            Arc::new(NoFit::new(
                &turned[fixed].pieces,
                &turned[moving].pieces,
                self.problem.gap,
            ))
        })
    }

    /// Where the turned shape may lie in a field; `None` where it is too large.
    pub fn fit(&self, field: usize, turned: usize) -> Option<Arc<Fit>> {
        self.fits.get((field, turned), || {
            self.fields[field]
                .fit(&self.catalogue.turned[turned], self.problem.margin)
                .map(Arc::new)
        })
    }

    /// Whether some pose of `part` may lie within the bounds of some field of `stock`; its walls are
    /// not looked at.
    pub fn may_fit(&self, part: usize, stock: usize) -> bool {
        self.catalogue
            .poses(part, stock)
            .iter()
            .any(|pose| self.pose_may_fit(pose, stock))
    }

    /// Whether `pose` may lie within the bounds of some field of `stock`.
    fn pose_may_fit(&self, pose: &Pose, stock: usize) -> bool {
        let turned = &self.catalogue.turned[pose.turned];
        self.fields_of(stock).any(|f| {
            let room = self.fields[f].room();
            turned.width <= room.width() + 1e-6 && turned.height <= room.height() + 1e-6
        })
    }
}

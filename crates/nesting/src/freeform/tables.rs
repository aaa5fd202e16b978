//! What every worker of a search shares: shapes, fields and the places they forbid each other.

use super::field::{Field, Fit, Pinned};
use super::nofit::NoFit;
use super::shape::{Catalogue, Pose};
use crate::offcut::Finder;
use crate::{Layout, Nest, Problem};
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

/// A piece of stock with nothing but its pinned parts.
#[derive(Debug, Clone, Copy)]
pub(super) struct Bare {
    /// Index of the stock.
    pub stock: usize,
    /// What it costs: it is taken in any case.
    pub spend: f64,
    /// Area of its largest kept offcut.
    pub offcut: f64,
    /// Area of the pinned parts.
    pub area: f64,
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
    /// The stock with pinned parts.
    pub bare: Vec<Bare>,
    /// Finds what layouts leave.
    pub offcuts: Finder<'p>,
}

impl<'p> Tables<'p> {
    /// Prepares `problem`; parts may also lie as they do in `start`, whose indices must be of it.
    pub fn new(problem: &'p Problem, start: Option<&Nest>) -> Self {
        let catalogue = Catalogue::new(problem, start);
        let offcuts = Finder::new(problem);
        let mut bare = Vec::new();
        let mut fields = Vec::new();
        let mut fields_of = Vec::new();
        for (i, stock) in problem.stock.iter().enumerate() {
            let pinned: Vec<Pinned> = stock
                .pinned
                .iter()
                .map(|placed| {
                    let shape = catalogue.shape(placed.part);
                    let lying = |piece: &Vec<_>| {
                        let points = piece.iter().map(|p| placed.placement.apply(*p));
                        points.collect()
                    };
                    Pinned {
                        pieces: shape.pieces.iter().map(lying).collect(),
                        area: shape.area,
                    }
                })
                .collect();
            let from = fields.len();
            fields.extend(Field::all_of(stock, problem.margin, problem.gap, &pinned));
            fields_of.push(from..fields.len());
            if !pinned.is_empty() {
                let mut layout = Layout::bare(problem, i);
                layout.offcuts = offcuts.kept(&layout);
                let areas = layout.offcuts.iter().map(|o| o.outline.area());
                bare.push(Bare {
                    stock: i,
                    spend: crate::spend_of(problem, &layout),
                    offcut: areas.fold(0.0, f64::max),
                    area: pinned.iter().map(|p| p.area).sum(),
                });
            }
        }
        Self {
            problem,
            catalogue,
            fields,
            fields_of,
            pairs: Lazy::new(),
            fits: Lazy::new(),
            bare,
            offcuts,
        }
    }

    /// The stock as it is with nothing but its pinned parts; `None` when there are none.
    pub fn bare_of(&self, stock: usize) -> Option<&Bare> {
        self.bare.iter().find(|b| b.stock == stock)
    }

    /// What the stock with pinned parts costs in any case.
    pub fn bare_spend(&self) -> f64 {
        self.bare.iter().map(|b| b.spend).sum()
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
                .fit(
                    &self.catalogue.turned[turned],
                    self.problem.margin,
                    self.problem.gap,
                )
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

//! What every worker of a search shares: shapes, fields and the places they forbid each other.

use super::cover::Closeness;
use super::field::{Field, Fit, Pinned};
use super::nofit::NoFit;
use super::shape::{Catalogue, Pose};
use crate::offcut::Finder;
use crate::{Layout, Nest, Problem};
use std::collections::HashMap;
use std::hash::{BuildHasherDefault, Hasher};
use std::ops::Range;
use std::sync::{Arc, Mutex, PoisonError};

/// Locks the tables are spread over, so that workers seldom wait for each other.
const SHARDS: usize = 64;

/// Bytes that a map may grow to, about, before part of it is forgotten. Orders of a few hundred
/// different shapes would fill any memory; less than this makes those work out pairs again and again.
const MOST_BYTES: usize = 400 << 20;

/// Spreads pairs of small numbers; the usual hash takes longer than the look-up.
#[derive(Debug, Default)]
struct PairHash(u64);

impl Hasher for PairHash {
    fn write(&mut self, bytes: &[u8]) {
        for b in bytes {
            self.write_usize(usize::from(*b));
        }
    }

    fn write_usize(&mut self, n: usize) {
        // An odd number near 2^64 over the golden ratio.
        self.0 = (self.0.rotate_left(26) ^ n as u64).wrapping_mul(0x9E37_79B9_7F4A_7C15);
    }

    fn finish(&self) -> u64 {
        self.0 ^ (self.0 >> 32)
    }
}

/// Some of a map's entries, never walked through, and the bytes they take.
#[derive(Debug)]
struct Shard<V> {
    known: HashMap<(usize, usize), V, BuildHasherDefault<PairHash>>,
    bytes: usize,
}

/// A map filled while it is used; what it answers does not depend on who asks first.
#[derive(Debug)]
struct Lazy<V> {
    shards: Vec<Mutex<Shard<V>>>,
}

impl<V: Clone> Lazy<V> {
    fn new() -> Self {
        let shard = || {
            Mutex::new(Shard {
                known: HashMap::default(),
                bytes: 0,
            })
        };
        Self {
            shards: (0..SHARDS).map(|_| shard()).collect(),
        }
    }

    /// What belongs to `key`, made when it is not known; `size` tells the bytes that a value takes.
    fn get(
        &self,
        key: (usize, usize),
        make: impl FnOnce() -> V,
        size: impl FnOnce(&V) -> usize,
    ) -> V {
        let shard = &self.shards[(key.0.wrapping_mul(31).wrapping_add(key.1)) % SHARDS];
        // Nothing that holds this lock can panic half-way.
        let open = || shard.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(value) = open().known.get(&key) {
            return value.clone();
        }
        // Made without the lock held: two workers may both make it, with the same result.
        let value = make();
        let bytes = size(&value);
        let mut shard = open();
        if shard.bytes + bytes > MOST_BYTES / SHARDS {
            shard.known.clear();
            shard.bytes = 0;
        }
        shard.bytes += bytes;
        shard.known.entry(key).or_insert(value).clone()
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
    /// By part: see [`Problem::priority_weights`].
    pub priority_weights: Vec<u128>,
}

impl<'p> Tables<'p> {
    /// Prepares `problem`; parts may also lie as they do in `start`, whose indices must be of it.
    pub fn new(problem: &'p Problem, start: Option<&Nest>) -> Self {
        Self::with_angles(problem, start, &[], Closeness::Usual)
    }

    /// The same; where `finer` has angles for a part, a free turn means these.
    pub fn with_angles(
        problem: &'p Problem,
        start: Option<&Nest>,
        finer: &[Vec<f64>],
        closeness: Closeness,
    ) -> Self {
        let catalogue = Catalogue::new(problem, start, finer, closeness);
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
                    Pinned {
                        shape: shape.lying(|p| placed.placement.apply(p)),
                        area: shape.area,
                    }
                })
                .collect();
            let from = fields.len();
            let margin = problem.margin_on(stock);
            fields.extend(Field::all_of(stock, margin, problem.gap, &pinned));
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
            priority_weights: problem.priority_weights(),
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

    /// The same with rough shapes: quick to work out, and each nesting by them is one by these.
    pub fn rough(&self) -> Self {
        Self {
            problem: self.problem,
            catalogue: self.catalogue.rough(),
            fields: self.fields.clone(),
            fields_of: self.fields_of.clone(),
            pairs: Lazy::new(),
            fits: Lazy::new(),
            bare: self.bare.clone(),
            priority_weights: self.priority_weights.clone(),
            offcuts: Finder::new(self.problem),
        }
    }

    /// The fields of `stock`, as indices.
    pub fn fields_of(&self, stock: usize) -> Range<usize> {
        self.fields_of[stock].clone()
    }

    /// Where `moving` must not lie because of `fixed` (both turned shapes).
    pub fn pair(&self, fixed: usize, moving: usize) -> Arc<NoFit> {
        let make = || {
            let turned = &self.catalogue.turned;
            let (fixed, moving) = (&turned[fixed], &turned[moving]);
            Arc::new(NoFit::between(fixed, moving, self.problem.gap))
        };
        self.pairs.get((fixed, moving), make, |nofit| nofit.size())
    }

    /// Where the turned shape may lie in a field; `None` where it is too large.
    pub fn fit(&self, field: usize, turned: usize) -> Option<Arc<Fit>> {
        let make = || {
            let turned = &self.catalogue.turned[turned];
            let fit = self.fields[field].fit(turned);
            fit.map(Arc::new)
        };
        let size = |fit: &Option<Arc<Fit>>| fit.as_ref().map_or(64, |f| f.walls.size());
        self.fits.get((field, turned), make, size)
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

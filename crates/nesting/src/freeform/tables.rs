//! What every worker of a search shares: shapes, fields and the places they forbid each other.

use super::cover::Closeness;
use super::field::{Field, Fit, Pinned};
use super::nofit::NoFit;
use super::shape::{Catalogue, Pose};
use crate::offcut::Finder;
use crate::{Layout, Nest, Problem};
use panelwright_geometry::Vec2;
use std::collections::HashMap;
use std::hash::{BuildHasherDefault, Hasher};
use std::ops::Range;
use std::sync::{Arc, Mutex, PoisonError};

/// Locks the tables are spread over, so that workers seldom wait for each other.
const SHARDS: usize = 64;

/// Bytes that a map may grow to, about, before part of it is forgotten: pairs, those that they come from, and what lies on a
/// field. Orders of a few hundred different shapes would fill any memory; less than this makes those work out pairs again
/// and again.
const PAIR_BYTES: usize = 200 << 20;
const BASE_BYTES: usize = 300 << 20;
const FIT_BYTES: usize = 200 << 20;

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
    /// Bytes that a shard may grow to.
    most_bytes: usize,
}

impl<V: Clone> Lazy<V> {
    fn of_bytes(most: usize) -> Self {
        let shard = || {
            Mutex::new(Shard {
                known: HashMap::default(),
                bytes: 0,
            })
        };
        Self {
            shards: (0..SHARDS).map(|_| shard()).collect(),
            most_bytes: most / SHARDS,
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
        if shard.bytes + bytes > self.most_bytes {
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
    /// Those that others come from.
    bases: Lazy<Arc<NoFit>>,
    fits: Lazy<Option<Arc<Fit>>>,
    /// The stock with pinned parts.
    pub bare: Vec<Bare>,
    /// Index from which on stock is windows of frames (see [`apart`](super::apart)).
    pub windows: usize,
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
            fields.extend(Field::all_of(problem, stock, &pinned));
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
            pairs: Lazy::of_bytes(PAIR_BYTES),
            bases: Lazy::of_bytes(BASE_BYTES),
            fits: Lazy::of_bytes(FIT_BYTES),
            bare,
            windows: problem.stock.len(),
            offcuts,
            priority_weights: problem.priority_weights(),
        }
    }

    /// The stock as it is with nothing but its pinned parts; `None` when there are none.
    pub fn bare_of(&self, stock: usize) -> Option<&Bare> {
        self.bare.iter().find(|b| b.stock == stock)
    }

    /// Whether some stock is windows of frames.
    pub fn has_windows(&self) -> bool {
        self.windows < self.problem.stock.len()
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
            pairs: Lazy::of_bytes(PAIR_BYTES),
            bases: Lazy::of_bytes(BASE_BYTES),
            fits: Lazy::of_bytes(FIT_BYTES),
            bare: self.bare.clone(),
            windows: self.windows,
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
            let like = self.catalogue.likeness(fixed, moving);
            let base = self.base(like.fixed, like.moving);
            if (like.quarters, like.by) == (0, Vec2::default()) {
                base
            } else {
                Arc::new(base.turned(like.quarters, like.by))
            }
        };
        self.pairs.get((fixed, moving), make, |nofit| nofit.size())
    }

    /// The same, worked out from the shapes. Parts are turned by quarters mostly, so up to eight pairs come from one of these.
    fn base(&self, fixed: usize, moving: usize) -> Arc<NoFit> {
        let make = || {
            let turned = &self.catalogue.turned;
            let (fixed, moving) = (&turned[fixed], &turned[moving]);
            Arc::new(NoFit::between(fixed, moving, self.problem.gap))
        };
        self.bases.get((fixed, moving), make, |nofit| nofit.size())
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Part, Stock, Turn};
    use panelwright_geometry::{Outline, Point, Ring};
    use proptest::prelude::*;

    /// A star round the origin, with a window in every second one.
    fn star(reaches: &[f64]) -> Outline {
        let n = reaches.len() as f64;
        let corner = |(i, r): (usize, &f64)| {
            let angle = std::f64::consts::TAU * i as f64 / n;
            Point::default() + Vec2::from_angle(angle, *r)
        };
        let mut outline = Outline::polygon(reaches.iter().enumerate().map(corner));
        if reaches.len().is_multiple_of(2) {
            let window = Ring::rounded_rectangle(Point::new(-9.0, -7.0), Point::new(9.0, 7.0), 2.0);
            outline.holes.push(window.reversed());
        }
        outline
    }

    proptest! {
        #[test]
        fn pairs_that_come_from_others_are_as_worked_out(
            reaches in proptest::collection::vec(proptest::collection::vec(20.0..90.0_f64, 5..9), 2..4),
            small in 3.0..5.0_f64,
            angle in prop_oneof![Just(0.0), 0.0..90.0_f64],
            places in proptest::collection::vec((-1.0..1.0_f64, -1.0..1.0_f64), 40),
        ) {
            let mut outlines: Vec<Outline> = reaches.iter().map(|r| star(r)).collect();
            outlines.push(Outline::rectangle(2.0 * small, small));
            outlines.push(Outline::from_rings(Ring::circle(Point::new(3.0, 4.0), 8.0), Vec::new()));
            let part = |outline| Part {
                turn: Turn::Quarter,
                grain_deg: Some(angle),
                ..Part::new("p", outline, 1)
            };
            let stock = Stock {
                grain_deg: Some(0.0),
                ..Stock::sheet("s", 900.0, 700.0, 1.0, 0)
            };
            let parts = outlines.into_iter().map(part).collect();
            let mut problem = Problem::new(parts, vec![stock], vec![None]);
            problem.gap = 1.5;
            let tables = Tables::new(&problem, None);
            let turned = &tables.catalogue.turned;
            for fixed in 0..turned.len() {
                for moving in 0..turned.len() {
                    let found = tables.pair(fixed, moving);
                    let (f, m) = (&turned[fixed], &turned[moving]);
                    let direct = NoFit::between(f, m, problem.gap);
                    prop_assert_eq!(found.areas.len(), direct.areas.len());
                    let (w, h) = (f.width + m.width, f.height + m.height);
                    for (x, y) in &places {
                        let at = Point::new(x * w, y * h);
                        let depth = direct.depth(at);
                        prop_assert!((found.depth(at) - depth).abs() < 1e-6);
                        let sum = direct.depth_sum(at, &mut 0);
                        prop_assert!((found.depth_sum(at, &mut 0) - sum).abs() < 1e-5);
                        let rough = found.rough.depth_sum(at.x as f32, at.y as f32);
                        prop_assert!((f64::from(rough) - sum).abs() < 0.05);
                    }
                    // Every corner of the border is a place of contact.
                    for edge in &found.border {
                        prop_assert!(direct.depth(edge.from) < 1e-6);
                        prop_assert!(direct.depth(edge.from + edge.along) < 1e-6);
                    }
                    let length = |n: &NoFit| n.border.iter().map(|e| e.along.length()).sum::<f64>();
                    prop_assert!((length(&found) - length(&direct)).abs() < 1e-4);
                }
            }
        }

        #[test]
        fn few_pairs_are_worked_out(reaches in proptest::collection::vec(20.0..90.0_f64, 7)) {
            let part = Part {
                turn: Turn::Quarter,
                ..Part::new("p", star(&reaches), 1)
            };
            let stock = Stock::sheet("s", 900.0, 700.0, 1.0, 0);
            let problem = Problem::new(vec![part], vec![stock], vec![None]);
            let tables = Tables::new(&problem, None);
            let mut bases = std::collections::BTreeSet::new();
            for fixed in 0..4 {
                for moving in 0..4 {
                    let like = tables.catalogue.likeness(fixed, moving);
                    bases.insert((like.fixed, like.moving));
                }
            }
            // Alike, by half, and by a quarter one way or the other.
            prop_assert_eq!(bases.len(), 3);
        }
    }
}

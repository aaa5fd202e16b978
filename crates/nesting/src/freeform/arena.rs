//! Parts that may overlap for a while, on one or more sheets.

use super::boxes::{Box4, Boxes, rounded_out};
use super::field::Fit;
use super::fill::Sheet;
use super::nofit::{NoFit, holds};
use super::region::Item;
use super::rough::Rough;
use super::shape::Pose;
use super::survey::{CELL, Raster, Survey};
use super::tables::Tables;
use super::work::Work;
use panelwright_geometry::{Bounds, Point, Vec2};
use rand::RngExt;
use rand_pcg::Pcg64Mcg;
use std::cell::OnceCell;
use std::sync::Arc;

/// Most cells of all grids of an arena for surveys: 16 MB.
const MOST_CELLS: f64 = 4e6;

/// How many bodies are looked at for one that is about as large as another.
const LOOKED_AT_FOR_A_SWAP: usize = 6;

/// How a random place is drawn. Where there are several bins, half of the tries are in any of them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Draw {
    /// Anywhere in any bin.
    AnyBin,
    /// Anywhere.
    Far,
    /// Near the place that the body has.
    Near,
    /// Where corners meet, if that lies within the bounds: exact fits are seldom hit by chance.
    Corner,
}

/// Where parts may lie: a field, perhaps only a part of it.
#[derive(Debug, Clone)]
pub(super) struct Bin {
    /// Index of the sheet it belongs to, among those given.
    pub(super) sheet: usize,
    /// Index of the stock.
    pub(super) stock: usize,
    /// Index of the field.
    pub(super) field: usize,
    /// What parts may not reach beyond.
    pub(super) limit: Bounds,
    /// Indices of the bodies in it.
    pub(super) bodies: Vec<usize>,
    /// The boxes of the bodies, in the same order.
    pub(super) boxes: Boxes,
}

/// A part that moves.
#[derive(Debug, Clone, Copy)]
pub(super) struct Body {
    pub(super) part: usize,
    pub(super) bin: usize,
    /// Its place among the bodies of the bin.
    pub(super) slot: usize,
    pub(super) pose: Pose,
    /// Place of its turned shape in the tables.
    pub(super) local: usize,
    pub(super) at: Point,
    /// Fourth root of the area of its hull: large parts weigh more, since they are harder to place.
    pub(super) root: f64,
}

/// The range that a turned shape has in a bin, and the walls there.
#[derive(Debug, Clone)]
pub(super) struct Room {
    pub(super) range: Bounds,
    pub(super) fit: Arc<Fit>,
}

/// What keeps two turned shapes apart: for a quick look, near at hand, and for a close one.
#[derive(Debug, Clone)]
pub(super) struct Pair {
    pub(super) rough: Rough,
    pub(super) whole: Arc<NoFit>,
    /// For a survey; made on first use.
    pub(super) raster: OnceCell<Raster>,
}

/// A place considered.
#[derive(Debug, Clone, Copy)]
pub(super) struct Trial {
    pub(super) bin: usize,
    pub(super) pose: Pose,
    pub(super) at: Point,
    pub(super) cost: f64,
}

/// Parts on one or more sheets, overlapping or not.
pub(super) struct Arena<'t> {
    pub(super) tables: &'t Tables<'t>,
    pub(super) sheets: Vec<usize>,
    pub(super) bins: Vec<Bin>,
    pub(super) bodies: Vec<Body>,
    /// What the overlap of each pair of bodies counts, as a square; the diagonal is for walls.
    pub(super) weights: Vec<f32>,
    /// Pairs that weigh more than at first.
    pub(super) heavy: Vec<(usize, usize)>,
    /// Overlaps when last measured: two bodies, or one twice for walls.
    pub(super) conflicts: Vec<(usize, usize, f64)>,
    /// Which bodies were moved since.
    pub(super) moved: Vec<bool>,
    /// Place of each turned shape in the tables below; made on first use.
    pub(super) local: Vec<usize>,
    pub(super) locals: usize,
    /// What keeps two turned shapes apart, by the one that moves and the one that stays.
    pub(super) pairs: Vec<OnceCell<Pair>>,
    pub(super) rooms: Vec<OnceCell<Option<Room>>>,
    /// For looking all places over; none where the places are drawn only.
    pub(super) survey: Option<Survey>,
}

impl<'t> Arena<'t> {
    /// The given sheets with what lies on them, and `added` parts that lie nowhere yet.
    ///
    /// `None` when an added part has no room on any of the sheets even alone.
    pub fn new(
        tables: &'t Tables<'t>,
        sheets: &[&Sheet],
        added: &[usize],
        random: &mut Pcg64Mcg,
    ) -> Option<Self> {
        let mut arena = Self {
            tables,
            sheets: sheets.iter().map(|s| s.stock).collect(),
            bins: Vec::new(),
            bodies: Vec::new(),
            weights: Vec::new(),
            heavy: Vec::new(),
            conflicts: Vec::new(),
            moved: Vec::new(),
            local: vec![usize::MAX; tables.catalogue.turned.len()],
            locals: 0,
            pairs: Vec::new(),
            rooms: Vec::new(),
            survey: None,
        };
        for (i, sheet) in sheets.iter().enumerate() {
            for field in tables.fields_of(sheet.stock) {
                arena.bins.push(Bin {
                    sheet: i,
                    stock: sheet.stock,
                    field,
                    limit: tables.fields[field].room().grown(1.0),
                    bodies: Vec::new(),
                    boxes: Boxes::default(),
                });
            }
        }
        for (i, sheet) in sheets.iter().enumerate() {
            for (field, item) in &sheet.items {
                let bin = arena
                    .bins
                    .iter()
                    .position(|b| b.sheet == i && b.field == *field)?;
                arena.push(item.part, bin, item.pose, item.at);
            }
        }
        for &part in added {
            arena.push(
                part,
                0,
                *arena
                    .bins
                    .iter()
                    .find_map(|b| tables.catalogue.poses(part, b.stock).first())?,
                Point::default(),
            );
        }
        arena.index_shapes();
        arena.moved = vec![true; arena.bodies.len()];
        for body in arena.bodies.len() - added.len()..arena.bodies.len() {
            // Anywhere for a start; the first pass finds the place of least overlap.
            let start = (0..200).find_map(|_| arena.random_trial(body, random, Draw::AnyBin))?;
            arena.set(body, &start);
        }
        let n = arena.bodies.len();
        arena.weights = vec![0.0; n * n];
        for i in 0..n {
            for j in 0..n {
                arena.weights[i * n + j] = arena.first_weight(i, j);
            }
        }
        Some(arena)
    }

    /// What an overlap of two bodies counts before it has lasted.
    pub(super) fn first_weight(&self, i: usize, j: usize) -> f32 {
        (self.bodies[i].root * self.bodies[j].root) as f32
    }

    fn push(&mut self, part: usize, bin: usize, pose: Pose, at: Point) {
        let root = self.tables.catalogue.shape(part).room.max(1e-9).powf(0.25);
        self.bodies.push(Body {
            part,
            bin,
            slot: 0,
            pose,
            local: 0,
            at,
            root,
        });
    }

    /// Gives every turned shape that may occur its place in the tables.
    fn index_shapes(&mut self) {
        let poses = |part: usize, stock: usize| self.tables.catalogue.poses(part, stock);
        for body in &self.bodies {
            for bin in &self.bins {
                for pose in poses(body.part, bin.stock) {
                    if self.local[pose.turned] == usize::MAX {
                        self.local[pose.turned] = self.locals;
                        self.locals += 1;
                    }
                }
            }
        }
        for i in 0..self.bodies.len() {
            let body = &mut self.bodies[i];
            body.local = self.local[body.pose.turned];
            let (bin, grown) = (body.bin, self.box_of(i));
            self.bodies[i].slot = self.bins[bin].bodies.len();
            self.bins[bin].bodies.push(i);
            self.bins[bin].boxes.push(grown);
        }
        self.pairs = vec![OnceCell::new(); self.locals * self.locals];
        self.rooms = vec![OnceCell::new(); self.locals * self.bins.len()];
    }

    /// What keeps a turned shape (with its place in the tables) away from a body.
    #[inline]
    pub(super) fn pair(&self, fixed: &Body, moving: usize, local: usize) -> &Pair {
        self.pairs[local * self.locals + fixed.local].get_or_init(|| {
            let whole = self.tables.pair(fixed.pose.turned, moving);
            Pair {
                rough: whole.rough.clone(),
                whole,
                raster: OnceCell::new(),
            }
        })
    }

    /// From now on looks all places over for each move, where the grids for that take little memory. That pays where many moves
    /// follow with the same bodies in one bin.
    pub fn look_all_over(&mut self) {
        let squares = self.bodies.iter().map(|b| b.root.powi(4));
        let mean = (squares.sum::<f64>() / self.bodies.len().max(1) as f64).sqrt();
        let pitch = CELL * mean;
        let shapes = self.local.iter().zip(&self.tables.catalogue.turned);
        let (mut n, mut area, mut width, mut height) = (0.0, 0.0, 0.0, 0.0);
        for (_, shape) in shapes.filter(|(local, _)| **local != usize::MAX) {
            let [w, h] = [shape.width, shape.height].map(|side| side / pitch + 1.0);
            n += 1.0;
            area += w * h;
            width += w;
            height += h;
        }
        // The grid of a pair is as wide and as high as both together: summed up over all pairs.
        let cells = 2.0 * (n * area + width * height);
        if self.bins.len() == 1 && cells <= MOST_CELLS {
            self.survey = Some(Survey::new(pitch));
        }
    }

    /// The bounds of a body, grown by the reach of the gap.
    pub(super) fn box_of(&self, body: usize) -> Box4 {
        let b = &self.bodies[body];
        let shape = &self.tables.catalogue.turned[b.pose.turned];
        // A mitred corner of a forbidden area reaches further than the gap, but not twice as far.
        let by = 2.0 * self.tables.problem.gap;
        rounded_out(
            b.at.x - by,
            b.at.y - by,
            b.at.x + shape.width + by,
            b.at.y + shape.height + by,
        )
    }

    /// Range and walls of a turned shape in a bin, the bin's limit observed.
    pub(super) fn room(&self, bin: usize, turned: usize) -> Option<&Room> {
        self.rooms[bin * self.locals + self.local[turned]]
            .get_or_init(|| {
                let Bin { field, limit, .. } = &self.bins[bin];
                let fit = self.tables.fit(*field, turned)?;
                let shape = &self.tables.catalogue.turned[turned];
                let range = Bounds {
                    min: Point::new(
                        fit.range.min.x.max(limit.min.x),
                        fit.range.min.y.max(limit.min.y),
                    ),
                    max: Point::new(
                        fit.range.max.x.min(limit.max.x - shape.width),
                        fit.range.max.y.min(limit.max.y - shape.height),
                    ),
                };
                (range.min.x <= range.max.x && range.min.y <= range.max.y)
                    .then_some(Room { range, fit })
            })
            .as_ref()
    }

    /// A random place for `body`, anywhere where `draw` has none; `None` where its pose has no room.
    pub(super) fn random_trial(
        &self,
        body: usize,
        random: &mut Pcg64Mcg,
        draw: Draw,
    ) -> Option<Trial> {
        let here = &self.bodies[body];
        let any = draw == Draw::AnyBin;
        let bin = if self.bins.len() > 1 && (any || random.random_bool(0.5)) {
            random.random_range(0..self.bins.len())
        } else {
            here.bin
        };
        let poses = self.tables.catalogue.poses(here.part, self.bins[bin].stock);
        if poses.is_empty() {
            return None;
        }
        let pose = poses[random.random_range(0..poses.len())];
        let range = &self.room(bin, pose.turned)?.range;
        let at = match draw {
            Draw::Near if bin == here.bin => {
                // The smaller of two uniform distances favours the neighbourhood.
                let reach = 0.5 * here.root * here.root;
                let mut off = || reach * random.random_range(-1.0..1.0) * random.random::<f64>();
                Some(clamp(here.at + Vec2::new(off(), off()), range))
            }
            Draw::Corner => self
                .corner(body, bin, pose.turned, random)
                .filter(|at| holds(range, *at)),
            _ => None,
        };
        let at = at.unwrap_or_else(|| {
            Point::new(
                range.min.x + random.random::<f64>() * (range.max.x - range.min.x),
                range.min.y + random.random::<f64>() * (range.max.y - range.min.y),
            )
        });
        Some(Trial {
            bin,
            pose,
            at,
            cost: f64::INFINITY,
        })
    }

    /// A place where a corner of the body meets a corner of another one.
    fn corner(
        &self,
        body: usize,
        bin: usize,
        turned: usize,
        random: &mut Pcg64Mcg,
    ) -> Option<Point> {
        let list = &self.bins[bin].bodies;
        let other = *list.get(random.random_range(0..list.len().max(1)))?;
        if other == body {
            return None;
        }
        let there = &self.bodies[other];
        let border = &self.pair(there, turned, self.local[turned]).whole.border;
        let corner = border
            .get(random.random_range(0..border.len().max(1)))?
            .from;
        Some(there.at + corner.to_vec())
    }

    /// Puts a body somewhere else.
    pub(super) fn set(&mut self, body: usize, to: &Trial) {
        let Body { bin, slot, .. } = self.bodies[body];
        self.moved[body] = true;
        let b = &mut self.bodies[body];
        b.bin = to.bin;
        b.pose = to.pose;
        b.local = self.local[to.pose.turned];
        b.at = to.at;
        let grown = self.box_of(body);
        if bin == to.bin {
            self.bins[bin].boxes.set(slot, grown);
            return;
        }
        self.bins[bin].bodies.swap_remove(slot);
        self.bins[bin].boxes.swap_remove(slot);
        if let Some(&moved) = self.bins[bin].bodies.get(slot) {
            self.bodies[moved].slot = slot;
        }
        self.bodies[body].slot = self.bins[to.bin].bodies.len();
        self.bins[to.bin].bodies.push(body);
        self.bins[to.bin].boxes.push(grown);
    }

    /// Moves the bodies on the first sheet whose middle lies right of `right` to the left and those above `top` down, both
    /// by `by`.
    pub fn close_up(&mut self, right: f64, top: f64, by: f64) {
        for body in 0..self.bodies.len() {
            let Body { bin, pose, at, .. } = self.bodies[body];
            if self.bins[bin].sheet > 0 {
                continue;
            }
            let shape = &self.tables.catalogue.turned[pose.turned];
            let mut off = Vec2::default();
            if at.x + 0.5 * shape.width > right {
                off.x = -by;
            }
            if at.y + 0.5 * shape.height > top {
                off.y = -by;
            }
            self.set(
                body,
                &Trial {
                    bin,
                    pose,
                    at: at + off,
                    cost: 0.0,
                },
            );
        }
    }

    /// Limits the parts on the first sheet to what lies left of `right` and below `top`, in the stock's
    /// coordinates, and brings those beyond back inside. False when one has no room at all.
    pub fn limit(&mut self, right: f64, top: f64, random: &mut Pcg64Mcg) -> bool {
        for (i, bin) in self.bins.iter_mut().enumerate() {
            if bin.sheet == 0 {
                bin.limit.max = Point::new(right, top);
                for room in &mut self.rooms[i * self.locals..(i + 1) * self.locals] {
                    *room = OnceCell::new();
                }
            }
        }
        for body in 0..self.bodies.len() {
            let here = self.bodies[body];
            if self.bins[here.bin].sheet > 0 {
                continue;
            }
            match self.room(here.bin, here.pose.turned) {
                Some(room) => {
                    let trial = Trial {
                        bin: here.bin,
                        pose: here.pose,
                        at: clamp(here.at, &room.range),
                        cost: 0.0,
                    };
                    self.set(body, &trial);
                }
                None => {
                    match (0..200).find_map(|_| self.random_trial(body, random, Draw::AnyBin)) {
                        Some(start) => self.set(body, &start),
                        None => return false,
                    }
                }
            }
        }
        true
    }

    /// How many bodies there are.
    pub fn len(&self) -> usize {
        self.bodies.len()
    }

    /// So many bodies that lie together, or all if there are fewer.
    pub fn cluster(&self, count: usize, random: &mut Pcg64Mcg) -> Cluster {
        let middles: Vec<Point> = self
            .bodies
            .iter()
            .map(|b| self.bounds(b).center())
            .collect();
        let first = random.random_range(0..middles.len().max(1));
        let from = middles.get(first).copied().unwrap_or_default();
        let far = |i: &usize| (middles[*i] - from).dot(middles[*i] - from);
        let mut bodies: Vec<usize> = (0..self.bodies.len()).collect();
        bodies.sort_by(|a, b| far(a).total_cmp(&far(b)).then(a.cmp(b)));
        bodies.truncate(count.max(1));
        let area = |i: &usize| self.bodies[*i].root.powi(4);
        let around = bodies.iter().map(|i| self.bounds(&self.bodies[*i]));
        Cluster {
            around: around
                .reduce(Bounds::union)
                .unwrap_or(Bounds::new(from, from)),
            share: bodies.iter().map(area).sum::<f64>()
                / (0..self.bodies.len()).map(|i| area(&i)).sum::<f64>(),
            bodies,
        }
    }

    fn bounds(&self, body: &Body) -> Bounds {
        let shape = &self.tables.catalogue.turned[body.pose.turned];
        Bounds::new(body.at, body.at + Vec2::new(shape.width, shape.height))
    }

    /// Puts the bodies of a cluster anywhere where it lies, in any pose.
    pub fn scatter(&mut self, cluster: &Cluster, random: &mut Pcg64Mcg) {
        let around = &cluster.around;
        for &body in &cluster.bodies {
            let Some(mut start) = self.random_trial(body, random, Draw::AnyBin) else {
                continue;
            };
            let shape = &self.tables.catalogue.turned[start.pose.turned];
            let mut along = |from: f64, to: f64, size: f64| {
                from + (to - from - size).max(0.0) * random.random::<f64>()
            };
            let at = Point::new(
                along(around.min.x, around.max.x, shape.width),
                along(around.min.y, around.max.y, shape.height),
            );
            if let Some(room) = self.room(start.bin, start.pose.turned) {
                start.at = clamp(at, &room.range);
            }
            self.set(body, &start);
        }
    }

    /// Exchanges the places of two bodies, as far as they fit there.
    pub fn swap(&mut self, random: &mut Pcg64Mcg) {
        if let Some((i, j)) = self.large_ones(random) {
            self.exchange(i, j, random);
        }
    }

    /// The same with one that overlaps and one of about its size, where there are such.
    pub fn swap_in_conflict(&mut self, random: &mut Pcg64Mcg, work: &mut Work) {
        let conflicts = self.conflicts_now(work);
        let mut overlapping: Vec<usize> = conflicts.iter().flat_map(|c| [c.0, c.1]).collect();
        self.conflicts = conflicts;
        overlapping.sort_unstable();
        overlapping.dedup();
        if overlapping.is_empty() {
            return self.swap(random);
        }
        let i = overlapping[random.random_range(0..overlapping.len())];
        let unlike = |j: f64| (j / self.bodies[i].root).ln().abs();
        let j = [(); LOOKED_AT_FOR_A_SWAP]
            .map(|()| random.random_range(0..self.bodies.len()))
            .into_iter()
            .filter(|j| self.shape_of(*j) != self.shape_of(i))
            .min_by(|a, b| unlike(self.bodies[*a].root).total_cmp(&unlike(self.bodies[*b].root)));
        if let Some(j) = j {
            self.exchange(i, j, random);
        }
    }

    fn shape_of(&self, body: usize) -> usize {
        self.tables.catalogue.shape_of[self.bodies[body].part]
    }

    /// Two bodies of different shapes, the larger of three each: exchanging small ones changes little.
    fn large_ones(&self, random: &mut Pcg64Mcg) -> Option<(usize, usize)> {
        let n = self.bodies.len();
        if n < 2 {
            return None;
        }
        let mut large = || {
            let drawn = [(); 3].map(|()| random.random_range(0..n));
            let root = |i: &usize| self.bodies[*i].root;
            drawn
                .into_iter()
                .max_by(|a, b| root(a).total_cmp(&root(b)).then(b.cmp(a)))
                .unwrap_or(0)
        };
        let i = large();
        let other = (0..20)
            .map(|_| large())
            .find(|j| self.shape_of(*j) != self.shape_of(i));
        other.map(|j| (i, j))
    }

    /// Puts the middles of two bodies where the other one's is, each in any pose.
    fn exchange(&mut self, i: usize, j: usize, random: &mut Pcg64Mcg) {
        let middle = |b: &Body| {
            let shape = &self.tables.catalogue.turned[b.pose.turned];
            b.at + Vec2::new(0.5 * shape.width, 0.5 * shape.height)
        };
        let (a, b) = (self.bodies[i], self.bodies[j]);
        for (body, to, bin) in [(i, middle(&b), b.bin), (j, middle(&a), a.bin)] {
            let part = self.bodies[body].part;
            let poses = self.tables.catalogue.poses(part, self.bins[bin].stock);
            if poses.is_empty() {
                continue;
            }
            let pose = poses[random.random_range(0..poses.len())];
            if let Some(room) = self.room(bin, pose.turned) {
                let shape = &self.tables.catalogue.turned[pose.turned];
                let at = to + Vec2::new(-0.5 * shape.width, -0.5 * shape.height);
                let trial = Trial {
                    bin,
                    pose,
                    at: clamp(at, &room.range),
                    cost: 0.0,
                };
                self.set(body, &trial);
            }
        }
    }

    /// Forgets all weights.
    pub fn forget(&mut self) {
        let n = self.bodies.len();
        for (i, j) in std::mem::take(&mut self.heavy) {
            let first = self.first_weight(i, j);
            self.weights[i * n + j] = first;
            self.weights[j * n + i] = first;
        }
    }

    /// Far right and top of what lies on the first sheet.
    pub fn reach(&self) -> (f64, f64) {
        let mut reach = (f64::NEG_INFINITY, f64::NEG_INFINITY);
        for body in (self.bodies.iter()).filter(|b| self.bins[b.bin].sheet == 0) {
            let shape = &self.tables.catalogue.turned[body.pose.turned];
            reach.0 = reach.0.max(body.at.x + shape.width);
            reach.1 = reach.1.max(body.at.y + shape.height);
        }
        reach
    }

    /// The sheets as they are now.
    pub fn sheets(&self) -> Vec<Sheet> {
        let mut sheets: Vec<Sheet> = self
            .sheets
            .iter()
            .map(|stock| Sheet {
                stock: *stock,
                items: Vec::new(),
            })
            .collect();
        for body in &self.bodies {
            let bin = &self.bins[body.bin];
            let item = Item {
                part: body.part,
                pose: body.pose,
                at: body.at,
            };
            sheets[bin.sheet].items.push((bin.field, item));
        }
        sheets
    }

    /// Where everything lies, to come back to.
    pub fn places(&self) -> Places {
        Places(self.bodies.iter().map(|b| (b.bin, b.pose, b.at)).collect())
    }

    /// Puts everything back.
    pub fn put_back(&mut self, places: &Places) {
        for (body, (bin, pose, at)) in places.0.iter().enumerate() {
            let trial = Trial {
                bin: *bin,
                pose: *pose,
                at: *at,
                cost: 0.0,
            };
            self.set(body, &trial);
        }
    }
}

/// Bodies that lie together.
#[derive(Debug, Clone)]
pub(super) struct Cluster {
    bodies: Vec<usize>,
    /// Their bounds.
    pub around: Bounds,
    /// Their share of all bodies' area.
    pub share: f64,
}

/// Where the bodies of an arena lay.
#[derive(Debug, Clone)]
pub(super) struct Places(Vec<(usize, Pose, Point)>);

/// `p` moved into `range`.
pub(super) fn clamp(p: Point, range: &Bounds) -> Point {
    Point::new(
        p.x.clamp(range.min.x, range.max.x),
        p.y.clamp(range.min.y, range.max.y),
    )
}

#[cfg(test)]
mod tests {
    use super::super::columns::Columns;
    use super::*;
    use crate::freeform::StripProblem;
    use crate::{Part, Turn};
    use panelwright_geometry::Outline;
    use rand::SeedableRng;

    #[test]
    fn one_that_overlaps_changes_places_with_another_shape() {
        let plate = |width: f64, height: f64| Part {
            turn: Turn::Half,
            ..Part::new("plate", Outline::rectangle(width, height), 3)
        };
        let parts = vec![plate(31.0, 17.0), plate(22.0, 19.0), plate(9.0, 12.0)];
        let problem = StripProblem::new(parts, 60.0).on_sheet(400.0);
        let tables = Tables::new(&problem, None);
        let columns = Columns::of_poses(&tables).and_then(|c| c.sheet(&tables));
        let first = columns.expect("columns");
        let mut random = Pcg64Mcg::seed_from_u64(5);
        let mut arena = Arena::new(&tables, &[&first], &[], &mut random).expect("bodies");
        let start = arena.places();
        let mut partners = [false; 9];
        for _ in 0..200 {
            arena.put_back(&start);
            // One small plate lies on another.
            let small: Vec<usize> = (0..9).filter(|i| arena.bodies[*i].part == 2).collect();
            let (here, there) = (small[0], arena.bodies[small[1]]);
            let trial = Trial {
                bin: there.bin,
                pose: there.pose,
                at: there.at,
                cost: 0.0,
            };
            arena.set(here, &trial);
            let before = arena.places();
            arena.swap_in_conflict(&mut random, &mut Work::of_steps(u64::MAX));
            let moved: Vec<usize> = (0..9)
                .filter(|i| before.0[*i].2 != arena.bodies[*i].at)
                .collect();
            let (in_conflict, others): (Vec<usize>, Vec<usize>) =
                moved.iter().partition(|i| small[..2].contains(i));
            assert_eq!((in_conflict.len(), others.len()), (1, 1), "{moved:?}");
            assert_ne!(arena.bodies[others[0]].part, 2);
            partners[others[0]] = true;
        }
        let mut larger = (0..9).filter(|i| arena.bodies[*i].part != 2);
        assert!(larger.all(|i| partners[i]), "{partners:?}");
    }
}

//! Parts that overlap pushed apart, one at a time, until none does or hope is lost.
//!
//! Guided local search (Egeblad, Nielsen & Odgaard 2007; Umetani et al. 2009): a part in conflict moves
//! to where its weighted overlap is least; pairs that stay in conflict gain weight. The overlap of two
//! parts is the sum over their convex pieces of how deep the pieces lie in each other, which costs a
//! few half-plane tests and has no flat ground. After each descent the place is snapped to the
//! intersection of the borders nearby, so that exact fits are found and not merely approached.

use super::convex::HalfPlane;
use super::field::Fit;
use super::fill::Sheet;
use super::nofit::{NoFit, holds};
use super::region::Item;
use super::shape::Pose;
use super::tables::Tables;
use super::work::{Watch, Work};
use panelwright_geometry::{Bounds, Point, Vec2};
use rand::RngExt;
use rand_pcg::Pcg64Mcg;
use std::cell::OnceCell;
use std::sync::Arc;

/// Places tried at random for each move. Fewer miss the gap, more cost the time of other moves.
const SAMPLES: usize = 30;

/// Growth of the weight of a pair in conflict, per pass: least, and that of the worst pair.
const GROWTH: (f64, f64) = (1.2, 2.0);

/// Decay of the weight of a pair at peace, per pass.
const DECAY: f64 = 0.95;

/// Step of the descent at which it ends, as a share of the part's size.
const LAST_STEP: f64 = 2e-3;

/// Step of the descent at which it begins, likewise.
const FIRST_STEP: f64 = 0.25;

/// Borders taken for snapping; all pairs of them are tried.
const BORDERS: usize = 6;

/// Where parts may lie: a field, perhaps only a part of it.
#[derive(Debug, Clone)]
struct Bin {
    /// Index of the sheet it belongs to, among those given.
    sheet: usize,
    /// Index of the stock.
    stock: usize,
    /// Index of the field.
    field: usize,
    /// What parts may not reach beyond.
    limit: Bounds,
    /// Indices of the bodies in it.
    bodies: Vec<usize>,
    /// Their bounds, grown by the reach of the gap: what lies outside is surely apart.
    boxes: Vec<[f64; 4]>,
}

/// A part that moves.
#[derive(Debug, Clone, Copy)]
struct Body {
    part: usize,
    bin: usize,
    pose: Pose,
    /// Place of its turned shape in the tables.
    local: usize,
    at: Point,
    /// Fourth root of the area of its hull: large parts weigh more, since they are harder to place.
    root: f64,
}

/// The range that a turned shape has in a bin, and the walls there.
type Room = (Bounds, Arc<Fit>);

/// A place considered.
#[derive(Debug, Clone, Copy)]
struct Trial {
    bin: usize,
    pose: Pose,
    at: Point,
    cost: f64,
}

/// Parts on one or more sheets, overlapping or not.
pub(super) struct Arena<'t> {
    tables: &'t Tables<'t>,
    sheets: Vec<usize>,
    bins: Vec<Bin>,
    bodies: Vec<Body>,
    /// Weight of each pair of bodies, as a square; the diagonal is for walls.
    weights: Vec<f64>,
    /// Place of each turned shape in the tables below; made on first use.
    local: Vec<usize>,
    locals: usize,
    pairs: Vec<OnceCell<Arc<NoFit>>>,
    fits: Vec<OnceCell<Option<Room>>>,
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
            local: vec![usize::MAX; tables.catalogue.turned.len()],
            locals: 0,
            pairs: Vec::new(),
            fits: Vec::new(),
        };
        for (i, sheet) in sheets.iter().enumerate() {
            for field in tables.fields_of(sheet.stock) {
                arena.bins.push(Bin {
                    sheet: i,
                    stock: sheet.stock,
                    field,
                    limit: tables.fields[field].room().grown(1.0),
                    bodies: Vec::new(),
                    boxes: Vec::new(),
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
        for body in arena.bodies.len() - added.len()..arena.bodies.len() {
            // Anywhere for a start; the first pass finds the place of least overlap.
            let start = (0..200).find_map(|_| arena.random_trial(body, random, true))?;
            arena.set(body, &start);
        }
        let n = arena.bodies.len();
        arena.weights = vec![1.0; n * n];
        Some(arena)
    }

    fn push(&mut self, part: usize, bin: usize, pose: Pose, at: Point) {
        let root = self.tables.catalogue.shape(part).room.max(1e-9).powf(0.25);
        self.bodies.push(Body {
            part,
            bin,
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
            self.bins[bin].bodies.push(i);
            self.bins[bin].boxes.push(grown);
        }
        self.pairs = vec![OnceCell::new(); self.locals * self.locals];
        self.fits = vec![OnceCell::new(); self.locals * self.bins.len()];
    }

    /// What keeps a turned shape (with its place in the tables) away from a body.
    fn pair(&self, fixed: &Body, moving: usize, local: usize) -> &NoFit {
        self.pairs[local * self.locals + fixed.local]
            .get_or_init(|| self.tables.pair(fixed.pose.turned, moving))
    }

    /// The bounds of a body, grown by the reach of the gap.
    fn box_of(&self, body: usize) -> [f64; 4] {
        let b = &self.bodies[body];
        let shape = &self.tables.catalogue.turned[b.pose.turned];
        // A mitred corner of a forbidden area reaches further than the gap, but not twice as far.
        let by = 2.0 * self.tables.problem.gap;
        [
            b.at.x - by,
            b.at.y - by,
            b.at.x + shape.width + by,
            b.at.y + shape.height + by,
        ]
    }

    /// Range and walls of a turned shape in a bin, the bin's limit observed.
    fn fit(&self, bin: usize, turned: usize) -> Option<(Bounds, &Fit)> {
        self.fits[bin * self.locals + self.local[turned]]
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
                (range.min.x <= range.max.x && range.min.y <= range.max.y).then_some((range, fit))
            })
            .as_ref()
            .map(|(range, fit)| (*range, fit.as_ref()))
    }

    /// Overlap of `body` lying as given, weighted; evaluation ends once it reaches `enough`.
    fn cost(
        &self,
        body: usize,
        bin: usize,
        turned: usize,
        at: Point,
        enough: f64,
        work: &mut Work,
    ) -> f64 {
        let Some((_, fit)) = self.fit(bin, turned) else {
            return f64::INFINITY;
        };
        let n = self.bodies.len();
        let root = self.bodies[body].root;
        let weights = &self.weights[body * n..(body + 1) * n];
        let list = &self.bins[bin];
        let mut looks = 1 + list.bodies.len() as u64 / 16;
        let mut cost = weights[body] * root * root * fit.walls.depth_sum(at, &mut looks);
        let shape = &self.tables.catalogue.turned[turned];
        let (right, top) = (at.x + shape.width, at.y + shape.height);
        let local = self.local[turned];
        for (other, near) in list.bodies.iter().zip(&list.boxes) {
            if at.x >= near[2] || right <= near[0] || at.y >= near[3] || top <= near[1] {
                continue;
            }
            if *other == body {
                continue;
            }
            let there = &self.bodies[*other];
            let depth = self
                .pair(there, turned, local)
                .depth_sum(Point::default() + (at - there.at), &mut looks);
            if depth > 0.0 {
                cost += weights[*other] * root * there.root * depth;
                if cost >= enough {
                    break;
                }
            }
        }
        work.add(looks);
        cost
    }

    /// A random place for `body`; `None` where its pose has no room.
    fn random_trial(&self, body: usize, random: &mut Pcg64Mcg, any: bool) -> Option<Trial> {
        let here = &self.bodies[body];
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
        let (range, _) = self.fit(bin, pose.turned)?;
        let at = if !any && bin == here.bin && random.random_bool(0.5) {
            // Near by: the smaller of two uniform distances favours the neighbourhood.
            let reach = 0.5 * here.root * here.root;
            let mut off = || reach * random.random_range(-1.0..1.0) * random.random::<f64>();
            clamp(here.at + Vec2::new(off(), off()), &range)
        } else {
            Point::new(
                range.min.x + random.random::<f64>() * (range.max.x - range.min.x),
                range.min.y + random.random::<f64>() * (range.max.y - range.min.y),
            )
        };
        Some(Trial {
            bin,
            pose,
            at,
            cost: f64::INFINITY,
        })
    }

    /// Moves `body` to the place of least weighted overlap that a few tries find.
    fn relocate(&mut self, body: usize, random: &mut Pcg64Mcg, work: &mut Work) {
        let here = self.bodies[body];
        let now = self.cost(
            body,
            here.bin,
            here.pose.turned,
            here.at,
            f64::INFINITY,
            work,
        );
        if now <= 0.0 {
            return;
        }
        let mut best = Trial {
            bin: here.bin,
            pose: here.pose,
            at: here.at,
            cost: now,
        };
        let mut sampled: Option<Trial> = None;
        for _ in 0..SAMPLES {
            let Some(mut trial) = self.random_trial(body, random, false) else {
                continue;
            };
            let enough = sampled.map_or(f64::INFINITY, |t| t.cost);
            trial.cost = self.cost(body, trial.bin, trial.pose.turned, trial.at, enough, work);
            if trial.cost < enough {
                sampled = Some(trial);
            }
        }
        // One start only: refining the place it has as well would halve the number of moves.
        let start = sampled.filter(|t| t.cost < now).unwrap_or(best);
        let refined = self.refined(body, start, work);
        if refined.cost < best.cost {
            best = refined;
        }
        if best.cost < now {
            self.set(body, &best);
        }
    }

    /// `start` after a descent along the axes and a snap to the borders nearby.
    fn refined(&self, body: usize, start: Trial, work: &mut Work) -> Trial {
        let mut best = start;
        let turned = start.pose.turned;
        let Some((range, _)) = self.fit(start.bin, turned) else {
            return start;
        };
        let shape = &self.tables.catalogue.turned[turned];
        let size = shape.width.min(shape.height);
        let mut step = FIRST_STEP * size;
        while best.cost > 0.0 && step > LAST_STEP * size {
            let mut moved = false;
            for (x, y) in [(1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0)] {
                let at = clamp(best.at + Vec2::new(x, y) * step, &range);
                let cost = self.cost(body, best.bin, turned, at, best.cost, work);
                if cost < best.cost {
                    best.at = at;
                    best.cost = cost;
                    moved = true;
                    break;
                }
            }
            if !moved {
                step *= 0.5;
            }
        }
        if best.cost > 0.0 {
            self.snap(body, &mut best, &range, 4.0 * LAST_STEP * size, work);
        }
        best
    }

    /// Tries the places where the borders within `reach` cross each other, and those on them.
    fn snap(&self, body: usize, best: &mut Trial, range: &Bounds, reach: f64, work: &mut Work) {
        let turned = best.pose.turned;
        let mut lines: Vec<(f64, HalfPlane)> = Vec::with_capacity(16);
        for (normal, low) in [
            (Vec2::new(-1.0, 0.0), -range.min.x),
            (Vec2::new(1.0, 0.0), range.max.x),
            (Vec2::new(0.0, -1.0), -range.min.y),
            (Vec2::new(0.0, 1.0), range.max.y),
        ] {
            let off = (low - normal.dot(best.at.to_vec())).abs();
            if off <= reach {
                lines.push((off, HalfPlane { normal, reach: low }));
            }
        }
        if let Some((_, fit)) = self.fit(best.bin, turned) {
            fit.walls
                .near_planes(best.at, reach, |p, off| lines.push((off.abs(), p)));
        }
        for &other in &self.bins[best.bin].bodies {
            if other == body {
                continue;
            }
            let there = &self.bodies[other];
            let nofit = self.pair(there, turned, self.local[turned]);
            let local = Point::default() + (best.at - there.at);
            if nofit.bounds.is_some_and(|b| holds(&b.grown(reach), local)) {
                work.add(nofit.areas.len() as u64 / 2);
                nofit.near_planes(local, reach, |p, off| {
                    let moved = HalfPlane {
                        normal: p.normal,
                        reach: p.reach + p.normal.dot(there.at.to_vec()),
                    };
                    lines.push((off.abs(), moved));
                });
            }
        }
        lines.sort_by(|a, b| a.0.total_cmp(&b.0));
        lines.dedup_by(|a, b| {
            a.1.normal.cross(b.1.normal).abs() < 1e-9
                && (a.1.reach.abs() - b.1.reach.abs()).abs() < 1e-9
        });
        lines.truncate(BORDERS);
        let from = best.at;
        let mut attempt = |at: Point, best: &mut Trial| {
            if at.distance(from) <= 4.0 * reach {
                let at = clamp(at, range);
                let cost = self.cost(body, best.bin, turned, at, best.cost, work);
                if cost < best.cost {
                    best.at = at;
                    best.cost = cost;
                }
            }
        };
        for (i, (_, a)) in lines.iter().enumerate() {
            attempt(
                from + a.normal * (a.reach - a.normal.dot(from.to_vec())),
                best,
            );
            for (_, b) in &lines[i + 1..] {
                let turn = a.normal.cross(b.normal);
                if turn.abs() > 1e-6 {
                    // Cramer's rule for the two border lines.
                    let at = Point::new(
                        (a.reach * b.normal.y - b.reach * a.normal.y) / turn,
                        (a.normal.x * b.reach - b.normal.x * a.reach) / turn,
                    );
                    attempt(at, best);
                }
                if best.cost <= 0.0 {
                    return;
                }
            }
        }
    }

    fn set(&mut self, body: usize, to: &Trial) {
        let from = self.bodies[body].bin;
        let b = &mut self.bodies[body];
        b.bin = to.bin;
        b.pose = to.pose;
        b.local = self.local[to.pose.turned];
        b.at = to.at;
        let grown = self.box_of(body);
        if let Some(i) = self.bins[from].bodies.iter().position(|b| *b == body) {
            if from == to.bin {
                self.bins[from].boxes[i] = grown;
                return;
            }
            self.bins[from].bodies.remove(i);
            self.bins[from].boxes.remove(i);
        }
        self.bins[to.bin].bodies.push(body);
        self.bins[to.bin].boxes.push(grown);
    }

    /// Bodies in conflict; weights of pairs grow or decay. Returns the unweighted overlap.
    fn weigh(&mut self, work: &mut Work) -> (f64, Vec<usize>) {
        let n = self.bodies.len();
        let mut conflicts: Vec<(usize, usize, f64)> = Vec::new();
        let mut looks = 0;
        for (index, bin) in self.bins.iter().enumerate() {
            for (k, &i) in bin.bodies.iter().enumerate() {
                let a = &self.bodies[i];
                if let Some((_, fit)) = self.fit(index, a.pose.turned) {
                    let depth = fit.walls.depth_sum(a.at, &mut looks);
                    if depth > 0.0 {
                        conflicts.push((i, i, depth * a.root * a.root));
                    }
                }
                looks += bin.bodies.len() as u64 / 16;
                let own = bin.boxes[k];
                for (&j, near) in bin.bodies[k + 1..].iter().zip(&bin.boxes[k + 1..]) {
                    if own[0] >= near[2]
                        || own[2] <= near[0]
                        || own[1] >= near[3]
                        || own[3] <= near[1]
                    {
                        continue;
                    }
                    let b = &self.bodies[j];
                    let nofit = self.pair(a, b.pose.turned, b.local);
                    let local = Point::default() + (b.at - a.at);
                    let depth = nofit.depth_sum(local, &mut looks);
                    if depth > 0.0 {
                        conflicts.push((i, j, depth * a.root * b.root));
                    }
                }
            }
        }
        work.add(looks);
        let worst = conflicts.iter().map(|c| c.2).fold(0.0, f64::max);
        for w in &mut self.weights {
            *w = (*w * DECAY).max(1.0);
        }
        let mut bodies: Vec<usize> = Vec::new();
        let mut total = 0.0;
        for (i, j, overlap) in conflicts {
            let growth = GROWTH.0 + (GROWTH.1 - GROWTH.0) * overlap / worst;
            let w = self.weights[i * n + j] / DECAY * growth;
            // Beyond this the sums would lose the small overlaps to rounding.
            let w = w.min(1e9);
            self.weights[i * n + j] = w;
            self.weights[j * n + i] = w;
            bodies.extend([i, j]);
            total += overlap;
        }
        bodies.sort_unstable();
        bodies.dedup();
        (total, bodies)
    }

    /// Pushes the bodies apart; true when nothing overlaps any more.
    ///
    /// Gives up after `patience` passes without progress; the bodies then lie where they overlapped
    /// least.
    pub fn separate(
        &mut self,
        patience: u32,
        random: &mut Pcg64Mcg,
        watch: &Watch,
        work: &mut Work,
    ) -> bool {
        let mut least = f64::INFINITY;
        let mut nearest = self.places();
        let mut stalled = 0;
        loop {
            let (total, mut bodies) = self.weigh(work);
            if bodies.is_empty() {
                return true;
            }
            stalled = if total < 0.98 * least { 0 } else { stalled + 1 };
            if total < least {
                least = total;
                nearest = self.places();
            }
            if stalled > patience {
                self.put_back(&nearest);
                return false;
            }
            for i in (1..bodies.len()).rev() {
                bodies.swap(i, random.random_range(0..=i));
            }
            for body in bodies {
                if work.spent() || watch.stopped() {
                    return false;
                }
                self.relocate(body, random, work);
            }
        }
    }

    /// Limits every bin's parts to what lies left of `right` and below `top`, in the stock's
    /// coordinates, and brings those beyond back inside. False when one has no room at all.
    pub fn limit(&mut self, right: f64, top: f64, random: &mut Pcg64Mcg) -> bool {
        for bin in &mut self.bins {
            bin.limit.max = Point::new(right, top);
        }
        self.fits = vec![OnceCell::new(); self.locals * self.bins.len()];
        for body in 0..self.bodies.len() {
            let here = self.bodies[body];
            match self.fit(here.bin, here.pose.turned) {
                Some((range, _)) => {
                    let trial = Trial {
                        bin: here.bin,
                        pose: here.pose,
                        at: clamp(here.at, &range),
                        cost: 0.0,
                    };
                    self.set(body, &trial);
                }
                None => match (0..200).find_map(|_| self.random_trial(body, random, true)) {
                    Some(start) => self.set(body, &start),
                    None => return false,
                },
            }
        }
        true
    }

    /// Exchanges the places of two bodies, as far as they fit there.
    pub fn swap(&mut self, random: &mut Pcg64Mcg) {
        let n = self.bodies.len();
        if n < 2 {
            return;
        }
        // The larger of three each: exchanging small parts changes little.
        let mut large = || {
            let drawn = [(); 3].map(|()| random.random_range(0..n));
            let root = |i: &usize| self.bodies[*i].root;
            drawn
                .into_iter()
                .max_by(|a, b| root(a).total_cmp(&root(b)).then(b.cmp(a)))
                .unwrap_or(0)
        };
        let (i, j) = (large(), large());
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
            if let Some((range, _)) = self.fit(bin, pose.turned) {
                let shape = &self.tables.catalogue.turned[pose.turned];
                let at = to + Vec2::new(-0.5 * shape.width, -0.5 * shape.height);
                let trial = Trial {
                    bin,
                    pose,
                    at: clamp(at, &range),
                    cost: 0.0,
                };
                self.set(body, &trial);
            }
        }
    }

    /// How many bodies there are.
    pub fn len(&self) -> usize {
        self.bodies.len()
    }

    /// Forgets all weights.
    pub fn forget(&mut self) {
        self.weights.fill(1.0);
    }

    /// Far right and top of what lies in the bins.
    pub fn reach(&self) -> (f64, f64) {
        let mut reach = (f64::NEG_INFINITY, f64::NEG_INFINITY);
        for body in &self.bodies {
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

/// Where the bodies of an arena lay.
#[derive(Debug, Clone)]
pub(super) struct Places(Vec<(usize, Pose, Point)>);

/// `p` moved into `range`.
fn clamp(p: Point, range: &Bounds) -> Point {
    Point::new(
        p.x.clamp(range.min.x, range.max.x),
        p.y.clamp(range.min.y, range.max.y),
    )
}

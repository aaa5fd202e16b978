//! Parts that overlap pushed apart, one at a time, until none does or hope is lost.
//!
//! Guided local search (Egeblad, Nielsen & Odgaard 2007; Umetani et al. 2009): a part in conflict moves
//! to where its weighted overlap is least; pairs that stay in conflict gain weight. The overlap of two
//! parts is the sum over their convex pieces of how deep the pieces lie in each other, which costs a
//! few half-plane tests and has no flat ground. Places are compared in single precision; then the best
//! one is snapped to the intersection of the borders nearby and measured exactly, so that exact fits are
//! found and not merely approached.

use super::arena::{Arena, Draw, Room, Trial, clamp};
use super::boxes::rounded_out;
use super::convex::{CONTACT, HalfPlane, least_inside};
use super::nofit::{NoFit, holds};
use super::survey::{Raster, Survey};
use super::work::{Watch, Work};
use panelwright_geometry::{Bounds, Point, Vec2};
use rand::RngExt;
use rand_pcg::Pcg64Mcg;

/// Places tried at random for each move, and of which kind. Fewer miss the gap, more cost the time of other moves; with
/// a fifth to a half of them where corners meet it does alike. Near ones come first: they are the cheapest as a rule, and
/// others are broken off once they cost more.
const DRAWS: [(Draw, usize); 3] = [(Draw::Near, 11), (Draw::Corner, 9), (Draw::Far, 10)];

/// The same where all places are looked over first.
const DRAWS_BESIDE: [(Draw, usize); 2] = [(Draw::Near, 4), (Draw::Corner, 4)];

/// Places that a survey finds which are looked at more closely.
const SURVEYED: usize = 4;

/// Share of the moves for which all places are looked over, where that is done at all. (On four strips, 40 M steps, two
/// seeds: 87.14 % density with none, 87.35 to 87.55 with 0.3 to 0.5, 87.30 with all.)
const SURVEY_SHARE: f64 = 0.4;

/// Growth of the weight of a pair in conflict, per pass: least, and that of the worst pair.
const GROWTH: (f32, f32) = (1.2, 2.0);

/// Decay of the weight of a pair at peace, per pass.
const DECAY: f32 = 0.95;

/// Most that a pair may weigh, as a multiple of its first weight: beyond this the sums would lose the
/// small overlaps to rounding.
const HEAVIEST: f32 = 1e6;

/// Step of the descent at which it ends, as a share of the part's size.
const LAST_STEP: f64 = 2e-3;

/// Step of the descent at which it begins, likewise.
const FIRST_STEP: f64 = 0.25;

/// Borders taken for snapping; all pairs of them are tried.
const BORDERS: usize = 6;

/// How far off places are tried, as a multiple of how far off borders are looked for.
const SNAP_SPAN: f64 = 4.0;

/// An overlap that has not fallen to this share of the least one is no progress.
const PROGRESS: f64 = 0.98;

/// Passes without progress after which all parts are moved at once.
const SETTLE_AFTER: u32 = 10;

/// How often the bodies are put back to where they overlapped least before a try is given up. (None gives
/// 0.2 points less density for the same work, six as much less.)
const RETURNS: u32 = 2;

/// That is tried again only when the overlap has fallen to this share of what it failed with.
const SETTLE_AGAIN: f64 = 0.9;

/// A turned shape that moves: its place in the tables and its size.
#[derive(Debug, Clone, Copy)]
struct Mover {
    body: usize,
    bin: usize,
    local: usize,
    width: f64,
    height: f64,
}

/// What is near a part that moves, for a closer look.
struct Near<'a> {
    nofit: &'a NoFit,
    at: Point,
    weight: f64,
}

/// An area that a body may come to lie in.
struct Close<'a> {
    planes: &'a [HalfPlane],
    at: Point,
    weight: f64,
}

/// Weighted depth of a place in all of these areas; evaluation ends once it reaches `enough`.
fn close_cost(close: &[Close], at: Point, enough: f64, work: &mut Work) -> f64 {
    let mut cost = 0.0;
    for area in close {
        work.add(1);
        let depth = least_inside(area.planes, Point::default() + (at - area.at));
        if depth > CONTACT {
            cost += area.weight * depth;
            if cost >= enough {
                break;
            }
        }
    }
    cost
}

impl Arena<'_> {
    fn mover(&self, body: usize, bin: usize, turned: usize) -> Mover {
        let shape = &self.tables.catalogue.turned[turned];
        Mover {
            body,
            bin,
            local: self.local[turned],
            width: shape.width,
            height: shape.height,
        }
    }

    /// Weighted overlap of a body lying at `at`, in single precision; evaluation ends once it reaches
    /// `enough`.
    fn rough_cost(
        &self,
        mover: &Mover,
        turned: usize,
        walls: &NoFit,
        at: Point,
        enough: f32,
        work: &mut Work,
    ) -> f32 {
        let n = self.bodies.len();
        let weights = &self.weights[mover.body * n..(mover.body + 1) * n];
        let bin = &self.bins[mover.bin];
        let mut looks = 2 + bin.boxes.blocks() / 8;
        let mut cost = 0.0;
        if !walls.areas.is_empty() {
            looks += 1 + walls.rough.len() as u64 / 16;
            cost += weights[mover.body] * walls.rough.depth_sum(at.x as f32, at.y as f32);
        }
        let own = [
            at.x as f32,
            at.y as f32,
            (at.x + mover.width) as f32,
            (at.y + mover.height) as f32,
        ];
        bin.boxes.meeting(own, |slot| {
            let other = bin.bodies[slot];
            if other == mover.body {
                return true;
            }
            let there = &self.bodies[other];
            let rough = &self.pair(there, turned, mover.local).rough;
            let depth = rough.depth_sum((at.x - there.at.x) as f32, (at.y - there.at.y) as f32);
            looks += 1 + rough.len() as u64 / 16;
            cost += weights[other] * depth;
            cost < enough
        });
        work.add(looks);
        cost
    }

    /// What is within `reach` of a body lying at `at`.
    fn near(&self, mover: &Mover, turned: usize, at: Point, reach: f64) -> Vec<Near<'_>> {
        let n = self.bodies.len();
        let weights = &self.weights[mover.body * n..(mover.body + 1) * n];
        let bin = &self.bins[mover.bin];
        let own = rounded_out(
            at.x - reach,
            at.y - reach,
            at.x + mover.width + reach,
            at.y + mover.height + reach,
        );
        let mut found = Vec::with_capacity(16);
        bin.boxes.meeting(own, |slot| {
            let other = bin.bodies[slot];
            if other != mover.body {
                let there = &self.bodies[other];
                found.push(Near {
                    nofit: &self.pair(there, turned, mover.local).whole,
                    at: there.at,
                    weight: f64::from(weights[other]),
                });
            }
            true
        });
        found
    }

    /// Weighted overlap of a body lying at `at`, exactly; evaluation ends once it reaches `enough`.
    fn cost(
        &self,
        body: usize,
        walls: &NoFit,
        near: &[Near],
        at: Point,
        enough: f64,
        work: &mut Work,
    ) -> f64 {
        let mut looks = 1;
        let mut cost = 0.0;
        if !walls.areas.is_empty() {
            let weight = f64::from(self.weights[body * self.bodies.len() + body]);
            cost += weight * walls.depth_sum(at, &mut looks);
        }
        for there in near {
            let depth = there
                .nofit
                .depth_sum(Point::default() + (at - there.at), &mut looks);
            if depth > 0.0 {
                cost += there.weight * depth;
                if cost >= enough {
                    break;
                }
            }
        }
        work.add(looks);
        cost
    }

    /// Looks all places over for one of the poses of `body`; what costs less than `now` and what was found before goes into
    /// `best`. False where that is not done.
    fn survey(
        &mut self,
        body: usize,
        now: f64,
        best: &mut Option<Trial>,
        random: &mut Pcg64Mcg,
        work: &mut Work,
    ) -> bool {
        let Some(mut survey) = self.survey.take() else {
            return false;
        };
        let done = self.surveyed(&mut survey, body, now, best, random, work);
        self.survey = Some(survey);
        done.is_some()
    }

    /// The same with the `survey` lent; `None` where it does not go.
    fn surveyed(
        &self,
        survey: &mut Survey,
        body: usize,
        now: f64,
        best: &mut Option<Trial>,
        random: &mut Pcg64Mcg,
        work: &mut Work,
    ) -> Option<()> {
        let here = &self.bodies[body];
        let bin = &self.bins[here.bin];
        let poses = self.tables.catalogue.poses(here.part, bin.stock);
        let pose = *poses.get(random.random_range(0..poses.len().max(1)))?;
        let turned = pose.turned;
        let Room { range, fit } = self.room(here.bin, turned)?;
        if !fit.walls.areas.is_empty() {
            return None;
        }
        let mover = self.mover(body, here.bin, turned);
        let middle = if random.random() {
            here.at
        } else {
            let mut along = |low: f64, high: f64| low + (high - low) * random.random::<f64>();
            Point::new(
                along(range.min.x, range.max.x),
                along(range.min.y, range.max.y),
            )
        };
        let seen = survey.begin(range, middle, random);
        let n = self.bodies.len();
        let weights = &self.weights[body * n..(body + 1) * n];
        let around = rounded_out(
            seen.min.x,
            seen.min.y,
            seen.max.x + mover.width,
            seen.max.y + mover.height,
        );
        let mut looks = 1;
        bin.boxes.meeting(around, |slot| {
            let other = bin.bodies[slot];
            if other != body {
                let there = &self.bodies[other];
                let pair = self.pair(there, turned, mover.local);
                let raster = pair
                    .raster
                    .get_or_init(|| Raster::new(&pair.rough, pair.whole.bounds, survey.pitch));
                looks += survey.add(raster, there.at, weights[other]);
            }
            true
        });
        work.add(looks);
        for at in survey.least(SURVEYED) {
            let at = clamp(at, range);
            let enough = best.map_or(now as f32, |t| t.cost as f32);
            let cost = self.rough_cost(&mover, turned, &fit.walls, at, enough, work);
            if cost < enough {
                *best = Some(Trial {
                    bin: here.bin,
                    pose,
                    at,
                    cost: f64::from(cost),
                });
            }
        }
        Some(())
    }

    /// Moves `body` to the place of least weighted overlap that a few tries find.
    fn relocate(&mut self, body: usize, random: &mut Pcg64Mcg, work: &mut Work) {
        let here = self.bodies[body];
        let turned = here.pose.turned;
        let Some(room) = self.room(here.bin, turned) else {
            return;
        };
        let mover = self.mover(body, here.bin, turned);
        let near = self.near(&mover, turned, here.at, 0.0);
        let now = self.cost(body, &room.fit.walls, &near, here.at, f64::INFINITY, work);
        if now <= 0.0 {
            return;
        }
        let mut sampled: Option<Trial> = None;
        let surveyed = self.survey.is_some()
            && random.random::<f64>() < SURVEY_SHARE
            && self.survey(body, now, &mut sampled, random, work);
        let draws = if surveyed { &DRAWS_BESIDE[..] } else { &DRAWS };
        for draw in draws
            .iter()
            .flat_map(|(draw, tries)| std::iter::repeat_n(*draw, *tries))
        {
            let Some(mut trial) = self.random_trial(body, random, draw) else {
                continue;
            };
            let turned = trial.pose.turned;
            let Some(room) = self.room(trial.bin, turned) else {
                continue;
            };
            let enough = sampled.map_or(now as f32, |t| t.cost as f32);
            let mover = self.mover(body, trial.bin, turned);
            let cost = self.rough_cost(&mover, turned, &room.fit.walls, trial.at, enough, work);
            if cost < enough {
                trial.cost = f64::from(cost);
                sampled = Some(trial);
            }
        }
        // One start only: refining the place it has as well would halve the number of moves.
        let start = sampled.filter(|t| t.cost < now).unwrap_or(Trial {
            bin: here.bin,
            pose: here.pose,
            at: here.at,
            cost: now,
        });
        let refined = self.refined(body, start, work);
        if refined.cost < now {
            self.set(body, &refined);
        }
    }

    /// `start` after a descent along the axes and a snap to the borders nearby; its cost is exact.
    fn refined(&self, body: usize, start: Trial, work: &mut Work) -> Trial {
        let mut best = start;
        let turned = start.pose.turned;
        let Some(Room { range, fit }) = self.room(start.bin, turned) else {
            return Trial {
                cost: f64::INFINITY,
                ..start
            };
        };
        let mover = self.mover(body, start.bin, turned);
        let size = mover.width.min(mover.height);
        let mut step = FIRST_STEP * size;
        let mut cost = best.cost as f32;
        while cost > 0.0 && step > LAST_STEP * size {
            let mut moved = false;
            for (x, y) in [(1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0)] {
                let at = clamp(best.at + Vec2::new(x, y) * step, range);
                if at == best.at {
                    continue;
                }
                let there = self.rough_cost(&mover, turned, &fit.walls, at, cost, work);
                if there < cost {
                    best.at = at;
                    cost = there;
                    moved = true;
                    break;
                }
            }
            if !moved {
                step *= 0.5;
            }
        }
        let reach = 4.0 * LAST_STEP * size;
        let near = self.near(&mover, turned, best.at, SNAP_SPAN * reach);
        best.cost = self.cost(body, &fit.walls, &near, best.at, f64::INFINITY, work);
        if best.cost > 0.0 {
            self.snap(body, &mut best, range, &fit.walls, &near, reach, work);
        }
        best
    }

    /// Tries the places where the borders within `reach` cross each other, and those on them.
    #[expect(
        clippy::too_many_arguments,
        reason = "what a move has gathered, lent once more; a structure for it would be filled for this call alone"
    )]
    fn snap(
        &self,
        body: usize,
        best: &mut Trial,
        range: &Bounds,
        walls: &NoFit,
        near: &[Near],
        reach: f64,
        work: &mut Work,
    ) {
        let from = best.at;
        let mut lines: Vec<(f64, HalfPlane)> = Vec::with_capacity(16);
        for (normal, low) in [
            (Vec2::new(-1.0, 0.0), -range.min.x),
            (Vec2::new(1.0, 0.0), range.max.x),
            (Vec2::new(0.0, -1.0), -range.min.y),
            (Vec2::new(0.0, 1.0), range.max.y),
        ] {
            let off = (low - normal.dot(from.to_vec())).abs();
            if off <= reach {
                lines.push((off, HalfPlane { normal, reach: low }));
            }
        }
        // Only areas this near can be entered by what is tried.
        let span = SNAP_SPAN * reach;
        let mut close: Vec<Close> = Vec::with_capacity(16);
        let wall = Near {
            nofit: walls,
            at: Point::default(),
            weight: f64::from(self.weights[body * self.bodies.len() + body]),
        };
        for there in std::iter::once(&wall).chain(near) {
            let local = Point::default() + (from - there.at);
            let bounds = there.nofit.bounds;
            if !bounds.is_some_and(|b| holds(&b.grown(span), local)) {
                continue;
            }
            work.add(there.nofit.areas.len() as u64 / 2);
            there
                .nofit
                .close_areas(local, span, |planes, plane, inside| {
                    close.push(Close {
                        planes,
                        at: there.at,
                        weight: there.weight,
                    });
                    if inside.abs() <= reach {
                        let moved = HalfPlane {
                            normal: plane.normal,
                            reach: plane.reach + plane.normal.dot(there.at.to_vec()),
                        };
                        lines.push((inside.abs(), moved));
                    }
                });
        }
        lines.sort_by(|a, b| a.0.total_cmp(&b.0));
        lines.dedup_by(|a, b| {
            a.1.normal.cross(b.1.normal).abs() < 1e-9
                && (a.1.reach.abs() - b.1.reach.abs()).abs() < 1e-9
        });
        lines.truncate(BORDERS);
        let mut attempt = |at: Point, best: &mut Trial| {
            let off = at - from;
            if off.dot(off) <= span * span {
                let at = clamp(at, range);
                let cost = close_cost(&close, at, best.cost, work);
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

    /// All overlaps. What has not moved since they were last asked for is not measured again.
    pub(super) fn conflicts_now(&mut self, work: &mut Work) -> Vec<(usize, usize, f64)> {
        let mut conflicts = std::mem::take(&mut self.conflicts);
        let mut moved = std::mem::take(&mut self.moved);
        conflicts.retain(|&(i, j, _)| !moved[i] && !moved[j]);
        let mut looks = 0;
        for i in (0..moved.len()).filter(|i| moved[*i]) {
            let a = &self.bodies[i];
            if let Some(room) = self.room(a.bin, a.pose.turned)
                && !room.fit.walls.areas.is_empty()
            {
                let depth = room.fit.walls.depth_sum(a.at, &mut looks);
                if depth > 0.0 {
                    conflicts.push((i, i, depth * a.root * a.root));
                }
            }
            let bin = &self.bins[a.bin];
            looks += bin.boxes.blocks() / 4;
            bin.boxes.meeting(bin.boxes.get(a.slot), |slot| {
                let j = bin.bodies[slot];
                if j != i && !(moved[j] && j < i) {
                    let b = &self.bodies[j];
                    let nofit = &self.pair(a, b.pose.turned, b.local).whole;
                    let local = Point::default() + (b.at - a.at);
                    let depth = nofit.depth_sum(local, &mut looks);
                    if depth > 0.0 {
                        conflicts.push((i.min(j), i.max(j), depth * a.root * b.root));
                    }
                }
                true
            });
        }
        moved.fill(false);
        self.moved = moved;
        work.add(looks);
        conflicts
    }

    /// Bodies in conflict; weights of pairs grow or decay. Returns the unweighted overlap.
    fn weigh(&mut self, work: &mut Work) -> (f64, Vec<usize>) {
        let n = self.bodies.len();
        let conflicts = self.conflicts_now(work);
        let worst = conflicts.iter().map(|c| c.2).fold(0.0, f64::max);
        let mut heavy = std::mem::take(&mut self.heavy);
        heavy.retain(|&(i, j)| {
            let first = self.first_weight(i, j);
            let weight = (self.weights[i * n + j] * DECAY).max(first);
            self.weights[i * n + j] = weight;
            self.weights[j * n + i] = weight;
            weight > first
        });
        let mut bodies: Vec<usize> = Vec::new();
        let mut total = 0.0;
        for &(i, j, overlap) in &conflicts {
            let growth = GROWTH.0 + (GROWTH.1 - GROWTH.0) * (overlap / worst) as f32;
            let first = self.first_weight(i, j);
            let old = self.weights[i * n + j];
            if old <= first {
                heavy.push((i, j));
            }
            let weight = (old * (growth / DECAY)).min(first * HEAVIEST);
            self.weights[i * n + j] = weight;
            self.weights[j * n + i] = weight;
            bodies.extend([i, j]);
            total += overlap;
        }
        self.heavy = heavy;
        self.conflicts = conflicts;
        bodies.sort_unstable();
        bodies.dedup();
        (total, bodies)
    }

    /// Pushes the bodies apart; `None` when nothing overlaps any more, or the overlap left.
    ///
    /// After `patience` passes without progress it goes back to where they overlapped least, with the weights
    /// as they are, and gives up when that has not helped [`RETURNS`] times.
    pub fn separate(
        &mut self,
        patience: u32,
        random: &mut Pcg64Mcg,
        watch: &Watch,
        work: &mut Work,
    ) -> Option<f64> {
        let mut least = f64::INFINITY;
        let mut nearest = self.places();
        let mut stalled = 0;
        let mut settle_below = f64::INFINITY;
        let mut returns = 0;
        loop {
            let (total, mut bodies) = self.weigh(work);
            if bodies.is_empty() {
                return None;
            }
            stalled = if total < PROGRESS * least {
                0
            } else {
                stalled + 1
            };
            if total < least {
                least = total;
                nearest = self.places();
            }
            if stalled > patience {
                if returns == RETURNS {
                    break;
                }
                returns += 1;
                stalled = 0;
                self.put_back(&nearest);
                continue;
            }
            if stalled > 0 && stalled.is_multiple_of(SETTLE_AFTER) && least < settle_below {
                settle_below = SETTLE_AGAIN * least;
                let now = self.places();
                self.put_back(&nearest);
                if self.settle(work) {
                    return None;
                }
                self.put_back(&now);
            }
            for i in (1..bodies.len()).rev() {
                bodies.swap(i, random.random_range(0..=i));
            }
            for body in bodies {
                if work.spent() || watch.stopped() {
                    self.put_back(&nearest);
                    return Some(least);
                }
                self.relocate(body, random, work);
            }
        }
        self.put_back(&nearest);
        Some(least)
    }
}

//! What lies in one field pressed together, so that it takes less length.
//!
//! The length is cut short by a little, all that sticks out is pushed in, and the overlaps are
//! separated. Where that fails the near miss is kept, and the next try starts from one of the nearest
//! misses with two large parts exchanged (Umetani et al. 2009; Elkeran 2013). The last part of the work
//! takes small steps from the best layout only. Where parts are drawn on a coarse grid, steps are those of the grid
//! to the end: a little less than a length on it is as hard to reach as the next one, and hides how far off it is.

use super::arena::{Arena, Places};
use super::fill::Sheet;
use super::grid::Grid;
use super::work::{Watch, Work};
use rand::RngExt;
use rand_pcg::Pcg64Mcg;

/// Shares of the length taken off at a time while looking for other arrangements: first, least and most.
/// Steps grow as long as nothing fails, so that a loose layout soon gets tight; a failure brings back the
/// least.
const STEP: (f64, f64, f64) = (0.004, 0.001, 0.02);

/// How much a step grows after a success.
const GROWTH: f64 = 1.5;

/// The same at the end: from the first to the last small step.
const SMALL_STEP: (f64, f64) = (5e-4, 2e-5);

/// Share of the work after which only small steps are taken.
pub(super) const EXPLORE_SHARE: f64 = 0.8;

/// Passes without progress after which a try is given up.
const PATIENCE: u32 = 60;

/// Near misses kept.
const MISSES: usize = 20;

/// How much the nearest of the misses are preferred: the power that a uniform choice is raised to.
const PREFERENCE: f64 = 3.0;

/// Failures in a row after which a restless search scatters all parts and begins anew at the same length:
/// some arrangements are not left by exchanging parts. Fewer leave before they are tried well: with 60 it
/// comes to a little less within ten seconds.
const RESTLESS: u32 = 200;

/// Failures since the last success after which lengths half way between those of a grid are tried, where that makes
/// sense; and after as many again, those on it.
const WHOLE_STEPS: u32 = 400;

/// Lengths nearer than this share are the same.
const SAME: f64 = 1e-12;

/// Along which axis things are pressed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Along {
    /// To the left.
    X,
    /// Down.
    Y,
}

/// What a layout is to come to.
#[derive(Debug, Clone, Copy)]
pub(super) struct Aim {
    /// No layout is shorter.
    pub floor: f64,
    /// A coarse grid that the parts are drawn on.
    pub grid: Option<Grid>,
}

impl Aim {
    /// As near to this length as it goes.
    pub fn at(floor: f64) -> Self {
        Self { floor, grid: None }
    }
}

/// A layout that gets shorter.
pub(super) struct Squash<'t> {
    arena: Arena<'t>,
    along: Along,
    /// Where the length begins.
    from: f64,
    aim: Aim,
    best: Places,
    length: f64,
    step: f64,
    /// Length aimed at.
    target: f64,
    /// Near misses with the overlap left, the nearest first.
    misses: Vec<(f64, Places)>,
    /// Whether to begin anew now and then.
    restless: bool,
    /// Failures since the last success or scattering.
    failures: u32,
    /// Failures since the last success.
    in_vain: u32,
}

impl<'t> Squash<'t> {
    /// What lies in `arena`, without overlap; its length counts from `from`. A `restless` search is not content
    /// with what is near the first layout.
    pub fn new(mut arena: Arena<'t>, along: Along, from: f64, aim: Aim, restless: bool) -> Self {
        arena.look_all_over();
        let mut squash = Self {
            best: arena.places(),
            arena,
            along,
            from,
            aim,
            length: 0.0,
            step: STEP.0,
            target: f64::INFINITY,
            misses: Vec::new(),
            restless,
            failures: 0,
            in_vain: 0,
        };
        squash.length = squash.reach();
        squash
    }

    /// Length of the best layout.
    pub fn length(&self) -> f64 {
        self.length
    }

    /// Whether it cannot be shorter.
    pub fn is_shortest(&self) -> bool {
        self.length <= self.aim.floor * (1.0 + 2.0 * SAME)
    }

    /// The best layout.
    pub fn sheets(&mut self) -> Vec<Sheet> {
        let now = self.arena.places();
        self.arena.put_back(&self.best);
        let sheets = self.arena.sheets();
        self.arena.put_back(&now);
        sheets
    }

    /// Goes on from where another one with the same parts is best, if that is shorter.
    pub fn take_over(&mut self, other: &(f64, Places)) {
        if other.0 < self.length * (1.0 - SAME) {
            self.length = other.0;
            self.best = other.1.clone();
            self.target = f64::INFINITY;
            self.misses.clear();
            self.failures = 0;
            self.in_vain = 0;
        }
    }

    /// The best layout and its length, for [`Squash::take_over`].
    pub fn at_best(&self) -> (f64, Places) {
        (self.length, self.best.clone())
    }

    fn reach(&self) -> f64 {
        let (right, top) = self.arena.reach();
        match self.along {
            Along::X => right - self.from,
            Along::Y => top - self.from,
        }
    }

    /// Spends `work`, of which the share `done` was spent before. What is `shared` by others is the length
    /// to beat.
    pub fn run(
        &mut self,
        done: f64,
        shared: f64,
        random: &mut Pcg64Mcg,
        watch: &Watch,
        work: &mut Work,
    ) {
        while !work.spent() && !watch.stopped() && !self.is_shortest() {
            // Even a try that finds nothing to do must come to an end.
            work.add_steps(4);
            let exploring = done < EXPLORE_SHARE || self.aim.grid.is_some();
            let left = if exploring {
                self.explore(shared, random, watch, work)
            } else {
                let done = (done - EXPLORE_SHARE) / (1.0 - EXPLORE_SHARE);
                self.compress(done, random, watch, work)
            };
            match left {
                None => {
                    self.best = self.arena.places();
                    self.length = self.reach();
                    self.misses.clear();
                    self.failures = 0;
                    self.in_vain = 0;
                    self.step = (self.step * GROWTH).min(STEP.2);
                }
                Some(overlap) => {
                    self.step = STEP.1;
                    let bold = self.target < self.next(self.length) * (1.0 - SAME);
                    self.failures += 1;
                    self.in_vain += 1;
                    if bold && shared >= self.length {
                        // Perhaps only too much at a time: near misses of that lead nowhere.
                        self.misses.clear();
                    } else if exploring {
                        let at = self.misses.partition_point(|m| m.0 < overlap);
                        self.misses.insert(at, (overlap, self.arena.places()));
                        self.misses.truncate(MISSES);
                    }
                }
            }
        }
    }

    /// One try for another arrangement; the overlap left, or `None` when it is a layout.
    fn explore(
        &mut self,
        shared: f64,
        random: &mut Pcg64Mcg,
        watch: &Watch,
        work: &mut Work,
    ) -> Option<f64> {
        if self.in_vain.is_multiple_of(WHOLE_STEPS) && self.aim.grid.is_some_and(|g| g.diagonal) {
            self.misses.clear();
        }
        if self.misses.is_empty() {
            self.arena.put_back(&self.best);
            self.target = self.next(shared.min(self.length));
            self.close_up(self.length, random);
        } else {
            if shared < self.target {
                self.target = self.next(shared);
            }
            let among = self.misses.len();
            let chosen = (among as f64 * random.random::<f64>().powf(PREFERENCE)) as usize;
            self.arena.put_back(&self.misses[chosen.min(among - 1)].1);
        }
        if !self.limit(random) {
            return Some(f64::INFINITY);
        }
        if self.restless && self.failures > RESTLESS && !self.misses.is_empty() {
            self.failures = 0;
            self.misses.clear();
            self.arena.scatter(random);
        } else if !self.misses.is_empty() {
            self.arena.swap(random);
        }
        self.arena.forget();
        self.arena.separate(PATIENCE, random, watch, work)
    }

    /// One small step from the best layout.
    fn compress(
        &mut self,
        done: f64,
        random: &mut Pcg64Mcg,
        watch: &Watch,
        work: &mut Work,
    ) -> Option<f64> {
        self.arena.put_back(&self.best);
        self.step = SMALL_STEP.0 * (SMALL_STEP.1 / SMALL_STEP.0).powf(done);
        self.target = self.next(self.length);
        self.close_up(self.length, random);
        if !self.limit(random) {
            return Some(f64::INFINITY);
        }
        self.arena.forget();
        self.arena.separate(PATIENCE, random, watch, work)
    }

    /// A step shorter than `length`.
    fn next(&self, length: f64) -> f64 {
        let wanted = length * (1.0 - self.step);
        let target = self.aim.grid.map_or(wanted, |grid| {
            let between = grid.diagonal && !(self.in_vain / WHOLE_STEPS).is_multiple_of(2);
            let pitch = if between {
                0.5 * grid.pitch
            } else {
                grid.pitch
            };
            Grid::below(pitch, length, wanted)
        });
        target.max(self.aim.floor * (1.0 + SAME))
    }

    /// Pushes what lies beyond a random place together by what is to be saved.
    fn close_up(&mut self, length: f64, random: &mut Pcg64Mcg) {
        let at = self.from + length * random.random::<f64>();
        let by = length - self.target;
        match self.along {
            Along::X => self.arena.close_up(at, f64::INFINITY, by),
            Along::Y => self.arena.close_up(f64::INFINITY, at, by),
        }
    }

    fn limit(&mut self, random: &mut Pcg64Mcg) -> bool {
        let far = self.from + self.target;
        match self.along {
            Along::X => self.arena.limit(far, f64::INFINITY, random),
            Along::Y => self.arena.limit(f64::INFINITY, far, random),
        }
    }
}

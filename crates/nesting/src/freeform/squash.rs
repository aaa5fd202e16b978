//! What lies in one field pressed together, so that it takes less length.
//!
//! The length is cut short by a little, all that sticks out is pushed in, and the overlaps are
//! separated. Where that fails the near miss is kept, and the next try starts from one of the nearest
//! misses with two large parts exchanged (Umetani et al. 2009; Elkeran 2013), in a restless search as often one that
//! overlaps and one of about its size. Where that leads nowhere for long, a restless search leaves the arrangement: some
//! parts that lie together are thrown about in a little more length, and it gets shorter again from there (iterated
//! local search, Lourenco, Martin & Stutzle 2003). The last part of the work takes small steps from the best layout
//! only. Where parts are drawn on a coarse grid, steps are those of the grid to the end: a little less than a length on
//! it is as hard to reach as the next one, and hides how far off it is.

use super::arena::{Arena, Places};
use super::fill::Sheet;
use super::grid::Grid;
use super::work::{Watch, Work};
use panelwright_geometry::Point;
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
const EXPLORE_SHARE: f64 = 0.8;

/// The same for a restless search, which finds more by leaving arrangements than by small steps.
pub(super) const RESTLESS_SHARE: f64 = 0.95;

/// Passes without progress after which a try is given up.
const PATIENCE: u32 = 60;

/// Near misses kept.
const MISSES: usize = 20;

/// How much the nearest of the misses are preferred: the power that a uniform choice is raised to.
const PREFERENCE: f64 = 3.0;

/// Failures since the last success after which a restless search leaves an arrangement.
const STALE: u32 = 100;

/// How many parts are thrown about then, at least and at most. (A slab of a fifth to a half of the length instead is left for
/// a shorter strip less often, above all where parts are many.)
const THROWN: (usize, usize) = (4, 14);

/// Most of all parts, as a share: more of them are a new beginning. (Up to all, a strip of twelve parts comes to 0.5 points less within 10 s.)
const THROWN_SHARE: f64 = 0.4;

/// Share of length added for that, were it for all parts: so much of the area of those thrown about. (With twice as much they come to
/// lie more often, but longer strips are left worse.)
const LOOSENED: f64 = 0.05;

/// How much longer than the shortest one an arrangement may be, to be left for another one instead of it.
const AS_GOOD: f64 = 0.003;

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
    /// The shortest layout and its length.
    best: (f64, Places),
    /// That which is being shortened.
    now: (f64, Places),
    step: f64,
    /// Length aimed at.
    target: f64,
    /// Near misses with the overlap left, the nearest first.
    misses: Vec<(f64, Places)>,
    /// Whether to leave an arrangement that gets no shorter.
    restless: bool,
    /// Failures since the last success.
    in_vain: u32,
}

impl<'t> Squash<'t> {
    /// What lies in `arena`, without overlap; its length counts from `from`. A `restless` search is not content
    /// with what is near the first layout.
    pub fn new(mut arena: Arena<'t>, along: Along, from: f64, aim: Aim, restless: bool) -> Self {
        arena.look_all_over();
        let places = arena.places();
        let mut squash = Self {
            best: (0.0, places.clone()),
            now: (0.0, places),
            arena,
            along,
            from,
            aim,
            step: STEP.0,
            target: f64::INFINITY,
            misses: Vec::new(),
            restless,
            in_vain: 0,
        };
        let length = squash.reach();
        squash.best.0 = length;
        squash.now.0 = length;
        squash
    }

    /// Length of the best layout.
    pub fn length(&self) -> f64 {
        self.best.0
    }

    /// Whether it cannot be shorter.
    pub fn is_shortest(&self) -> bool {
        self.best.0 <= self.aim.floor * (1.0 + 2.0 * SAME)
    }

    /// The best layout.
    pub fn sheets(&mut self) -> Vec<Sheet> {
        let now = self.arena.places();
        self.arena.put_back(&self.best.1);
        let sheets = self.arena.sheets();
        self.arena.put_back(&now);
        sheets
    }

    /// Goes on from where another one with the same parts, or itself, is best, if that is shorter.
    pub fn take_over(&mut self, other: &(f64, Places)) {
        if other.0 < self.best.0 {
            self.best = other.clone();
        }
        if self.best.0 < self.now.0 * (1.0 - SAME) {
            self.go_on_from_best();
        }
    }

    /// The best layout and its length, for [`Squash::take_over`].
    pub fn at_best(&self) -> (f64, Places) {
        self.best.clone()
    }

    fn go_on_from_best(&mut self) {
        self.now = self.best.clone();
        self.misses.clear();
        self.in_vain = 0;
    }

    fn reach(&self) -> f64 {
        let (right, top) = self.arena.reach();
        match self.along {
            Along::X => right - self.from,
            Along::Y => top - self.from,
        }
    }

    /// Spends `work`, of which the share `done` was spent before.
    pub fn run(&mut self, done: f64, random: &mut Pcg64Mcg, watch: &Watch, work: &mut Work) {
        while !work.spent() && !watch.stopped() && !self.is_shortest() {
            // Even a try that finds nothing to do must come to an end.
            work.add_steps(4);
            let share = self.explore_share();
            let exploring = done < share || self.aim.grid.is_some();
            let leaving = exploring && self.restless && self.in_vain >= self.stale();
            let left = if leaving {
                self.leave(random, watch, work)
            } else if exploring {
                self.explore(random, watch, work)
            } else {
                let done = (done - share) / (1.0 - share);
                self.compress(done, random, watch, work)
            };
            match left {
                None => {
                    let grown = (self.step * GROWTH).min(STEP.2);
                    let shorter = self.reach() < self.now.0;
                    self.step = if shorter { grown } else { STEP.0 };
                    self.now = (self.reach(), self.arena.places());
                    if self.now.0 < self.best.0 {
                        self.best = self.now.clone();
                    }
                    self.misses.clear();
                    self.in_vain = 0;
                }
                Some(overlap) => {
                    self.step = STEP.1;
                    let bold = self.target < self.next(self.now.0) * (1.0 - SAME);
                    self.in_vain += 1;
                    if bold {
                        // Perhaps only too much at a time: near misses of that lead nowhere.
                        self.misses.clear();
                    } else if exploring && !leaving {
                        let at = self.misses.partition_point(|m| m.0 < overlap);
                        self.misses.insert(at, (overlap, self.arena.places()));
                        self.misses.truncate(MISSES);
                    }
                }
            }
        }
    }

    /// Share of the work after which it takes small steps.
    fn explore_share(&self) -> f64 {
        if self.restless {
            RESTLESS_SHARE
        } else {
            EXPLORE_SHARE
        }
    }

    /// One try for another arrangement; the overlap left, or `None` when it is a layout.
    fn explore(&mut self, random: &mut Pcg64Mcg, watch: &Watch, work: &mut Work) -> Option<f64> {
        if self.in_vain.is_multiple_of(WHOLE_STEPS) && self.aim.grid.is_some_and(|g| g.diagonal) {
            self.misses.clear();
        }
        if self.misses.is_empty() {
            self.arena.put_back(&self.now.1);
            self.target = self.next(self.now.0);
            self.close_up_somewhere(random);
        } else {
            let among = self.misses.len();
            let chosen = (among as f64 * random.random::<f64>().powf(PREFERENCE)) as usize;
            self.arena.put_back(&self.misses[chosen.min(among - 1)].1);
        }
        if !self.limit(random) {
            return Some(f64::INFINITY);
        }
        if !self.misses.is_empty() {
            // What is in the way is not always what is large.
            if self.restless && random.random() {
                self.arena.swap_in_conflict(random, work);
            } else {
                self.arena.swap(random);
            }
        }
        self.arena.forget();
        self.arena.separate(PATIENCE, random, watch, work)
    }

    /// One try to leave an arrangement for one that is a little longer.
    fn leave(&mut self, random: &mut Pcg64Mcg, watch: &Watch, work: &mut Work) -> Option<f64> {
        if self.now.0 > self.best.0 * (1.0 + AS_GOOD) {
            self.now = self.best.clone();
        }
        self.misses.clear();
        self.arena.put_back(&self.now.1);
        let most = (THROWN_SHARE * self.arena.len() as f64) as usize;
        let most = most.clamp(2, THROWN.1);
        let thrown = random.random_range(THROWN.0.min(most)..=most);
        let cluster = self.arena.cluster(thrown, random);
        self.target = self.now.0 * (1.0 + LOOSENED * cluster.share);
        self.close_up(cluster.around.max);
        if !self.limit(random) {
            return Some(f64::INFINITY);
        }
        self.arena.scatter(&cluster, random);
        self.arena.forget();
        self.arena.separate(PATIENCE, random, watch, work)
    }

    /// Failures in a row after which to do that. On a coarse grid both kinds of its lengths are tried before.
    fn stale(&self) -> u32 {
        match self.aim.grid {
            Some(_) => STALE.max(2 * WHOLE_STEPS),
            None => STALE,
        }
    }

    /// One small step from the best layout.
    fn compress(
        &mut self,
        done: f64,
        random: &mut Pcg64Mcg,
        watch: &Watch,
        work: &mut Work,
    ) -> Option<f64> {
        if self.now.0 > self.best.0 {
            self.go_on_from_best();
        }
        self.arena.put_back(&self.now.1);
        self.step = SMALL_STEP.0 * (SMALL_STEP.1 / SMALL_STEP.0).powf(done);
        self.target = self.next(self.now.0);
        self.close_up_somewhere(random);
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
    fn close_up_somewhere(&mut self, random: &mut Pcg64Mcg) {
        let at = self.from + self.now.0 * random.random::<f64>();
        self.close_up(Point::new(at, at));
    }

    /// Pushes what lies beyond a place together, or apart, by what the length aimed at is shorter or longer.
    fn close_up(&mut self, beyond: Point) {
        let by = self.now.0 - self.target;
        match self.along {
            Along::X => self.arena.close_up(beyond.x, f64::INFINITY, by),
            Along::Y => self.arena.close_up(f64::INFINITY, beyond.y, by),
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

#[cfg(test)]
mod tests {
    use super::super::columns::Columns;
    use super::super::tables::Tables;
    use super::*;
    use crate::freeform::StripProblem;
    use crate::{Budget, Control, Part, Turn};
    use panelwright_geometry::Outline;
    use rand::SeedableRng;

    #[test]
    fn an_arrangement_is_left_and_the_shortest_kept() {
        let part = |corners: &[(f64, f64)]| {
            let corners = corners.iter().map(|&(x, y)| Point::new(x, y));
            Part {
                turn: Turn::Half,
                ..Part::new("piece", Outline::polygon(corners), 2)
            }
        };
        let parts = vec![
            part(&[(0., 0.), (31., 2.), (24., 17.), (3., 12.)]),
            part(&[
                (0., 0.),
                (22., 0.),
                (22., 9.),
                (11., 9.),
                (9., 23.),
                (0., 20.),
            ]),
            part(&[(0., 0.), (17., 5.), (13., 19.)]),
        ];
        let problem = StripProblem::new(parts, 40.0).on_sheet(300.0);
        let tables = Tables::new(&problem, None);
        let first = Columns::of_poses(&tables).and_then(|c| c.sheet(&tables));
        let first = first.expect("columns");
        let mut random = Pcg64Mcg::seed_from_u64(2);
        let arena = Arena::new(&tables, &[&first], &[], &mut random).expect("bodies");
        let mut squash = Squash::new(arena, Along::X, 0.0, Aim::at(1.0), true);
        let (budget, control) = (Budget::default(), Control::none());
        let watch = Watch::new(&budget, &control);
        let (mut left, mut shortest) = (0, squash.length());
        for _ in 0..60 {
            squash.run(0.0, &mut random, &watch, &mut Work::of_steps(20_000));
            left += u32::from(squash.now.0 > squash.best.0);
            assert!(squash.length() <= shortest);
            shortest = squash.length();
            let sheet = squash.sheets().swap_remove(0);
            let right = sheet
                .items
                .iter()
                .map(|(_, item)| item.at.x + tables.catalogue.turned[item.pose.turned].width);
            assert_eq!(right.fold(0.0, f64::max), shortest);
        }
        assert!(left > 5, "{left}");
        // Small steps go on from the shortest one.
        squash.run(0.96, &mut random, &watch, &mut Work::of_steps(20_000));
        assert_eq!(squash.now.0, squash.best.0);
        assert!(squash.length() <= shortest);
    }
}

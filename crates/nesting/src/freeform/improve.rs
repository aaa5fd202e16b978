//! The phases of a search: first nests, better ones by several ways, then streams of moves.

use super::apart::Apart;
use super::assemble::{Collection, MOST_KINDS};
use super::construct::{Recipe, complete, empty, order_is_long, share_for_rows};
use super::cutouts::{are_worth, laid_anew};
use super::nesting::{Nesting, Scored};
use super::patterns::by_patterns;
use super::rectangles::Rectangles;
use super::rows::sheets_in_rows;
use super::stream::{Shares, Stream};
use super::tables::Tables;
use super::work::{Watch, Work};
use crate::{Budget, Progress};
use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64Mcg;
use rayon::prelude::*;

/// Poses that each part is tried in for the first nest of all; the others follow soon enough.
const ROUGH_POSES: usize = 2;

/// Steps for each copy that a nest at free corners may take beside one that is there, however small the budget. Usual panels take
/// a third of that, parts of many arcs that turn freely twenty times as many.
const CORNER_STEPS: u64 = 3_000;

/// Sheets from which on an order is put together from patterns. With fewer hardly any comes twice.
const MANY_SHEETS: usize = 16;

/// Share of the steps for that, and most of them: the collection is then as good as it gets.
const PATTERN_SHARE: f64 = 0.5;
const MOST_PATTERN_STEPS: u64 = 60_000_000;

/// It is not begun for less than the work of so many whole nests: none would come out of it.
const LEAST_NESTS: u64 = 3;

/// Share of the steps for a nest of rectangles before anything else where hundreds of kinds would need tables, and most of
/// them.
const AT_ONCE_SHARE: f64 = 0.1;
const MOST_AT_ONCE_STEPS: u64 = 600_000;

/// Share of the steps for first nests of rectangles, in all ways; most of them, and least.
const RECTANGLES_SHARE: f64 = 0.3;
const MOST_RECTANGLES_STEPS: u64 = 12_000_000;
const LEAST_RECTANGLES_STEPS: u64 = 2_000;

/// Share of the steps for laying anew what lies in cut-outs, once where rectangles did best and once at the end; most of them
/// each time, and share of what is left of a time limit that is kept for the end.
const CUTOUTS_SHARE: f64 = 0.1;
const MOST_CUTOUTS_STEPS: u64 = 10_000_000;
const CUTOUTS_TIME: f64 = 0.05;

/// Streams of random choices. Fixed, whatever the number of threads, so that results repeat.
const STREAMS: usize = 4;

/// How often the streams' results are compared and reported at least.
const LEAST_ROUNDS: u64 = 6;

/// Steps after which a round is over in a longer search, all streams together. Fewer make the streams
/// alike, more leave a stream with a poor nest for long.
const ROUND_STEPS: u64 = 2_000_000;

/// Rounds in which the streams cool down once. The last is strict: nothing worse is accepted.
const CYCLE: u64 = 6;

/// By how much, as a share of the best spend, a nest may be worse at the hottest and still be carried
/// on with. More wanders, none is stuck where no single move saves anything.
pub(super) const HEAT: f64 = 0.02;

/// Share of the steps spent on whole nests from nothing, for a different start of each stream.
const START_SHARE: f64 = 0.2;

/// Most steps for that of each stream: from there on improving gains more.
const MOST_START_STEPS: u64 = 600_000;

/// Share of the steps of a stream in which emptied sheets are filled with rectangles: where these were
/// better at first, and where they were not.
const SHARES_RECTANGLES: [f64; 2] = [0.2, 0.05];

/// Share in which nests are put together from sheets seen before, where a nest has at least so many.
const SHARE_ASSEMBLED: f64 = 0.15;
const LEAST_SHEETS: usize = 4;

/// Share of the area that parts in rows must have for a whole nest of their own at first, and kinds of stock that it is tried on.
pub(super) const SHARE_IN_ROWS: f64 = 0.3;
const MOST_IN_ROWS: usize = 4;

/// Share of the steps that looking for them may take on each of these, least and most of them: with fewer none is found, and more find
/// no others.
const ROWS_SHARE: f64 = 0.05;
const LEAST_ROWS_STEPS: u64 = 20_000;
const MOST_ROWS_STEPS: u64 = 4_000_000;

/// Rounds that a stream may lag behind the best before it continues from there.
const PATIENCE: u32 = 2;

/// The best nesting found within `budget`, going on from `start` where that is better than the first
/// one built. With `afresh` other nests are built from nothing too before one is gone on with.
pub(super) fn best_found(
    tables: &Tables,
    start: Option<Nesting>,
    afresh: bool,
    budget: &Budget,
    watch: &Watch,
) -> Nesting {
    let floor = crate::least_spend(tables.problem);
    let mut search = Search::new(tables, floor, budget, watch);
    let begun = search.rectangles_at_once();
    // Where a whole nest is given to be refined, others from nothing are hardly better, and take long where angles are many.
    let whole = |given: &Nesting| given.missing.iter().all(|n| *n == 0);
    if afresh || !start.as_ref().is_some_and(whole) {
        search.whole_nests(begun);
    }
    if let Some(given) = start {
        search.go_on_from(given);
    }
    search.steps = budget.steps.saturating_sub(search.work.steps());
    let mut plan = Plan {
        at_corners: search.best.clone(),
        boxy: false,
        own_starts: afresh && !begun,
    };
    if afresh {
        plan.boxy = search.in_rectangles();
    }
    let for_cutouts = if afresh { search.cutout_steps() } else { 0 };
    let until_cutouts = watch.shortened(if for_cutouts > 0 {
        1.0 - CUTOUTS_TIME
    } else {
        1.0
    });
    if plan.boxy {
        search.cutouts_anew(0.0, for_cutouts);
    }
    search.steps = search.steps.saturating_sub(for_cutouts);
    if afresh {
        search.in_patterns(&until_cutouts);
    }
    if !search.taken_apart(&until_cutouts) {
        search.in_streams(&plan, &until_cutouts, None);
    }
    search.cutouts_anew(1.0, for_cutouts);
    search.best.0
}

/// `start`, or a nest of these tables in rows where that is better.
pub(super) fn better_in_rows(
    tables: &Tables,
    start: Nesting,
    budget: &Budget,
    watch: &Watch,
) -> Nesting {
    let floor = crate::least_spend(tables.problem);
    let mut search = Search::new(tables, floor, budget, watch);
    search.best = start.scored(tables);
    let steps = search.corner_steps();
    let (begun, steps) = (search.best.clone(), steps.min(search.steps.max(1)));
    search.in_rows(begun, steps).0
}

/// How the streams begin.
struct Plan {
    /// The best nest from free corners.
    at_corners: Scored,
    /// Whether rectangles did better than that.
    boxy: bool,
    /// Whether each builds nests from nothing first.
    own_starts: bool,
}

/// Is told how far streams are, and the best so far.
type Listener<'l> = &'l mut dyn FnMut(f64, &Scored);

/// A search, phase after phase, and the best it came by.
struct Search<'a> {
    tables: &'a Tables<'a>,
    watch: &'a Watch<'a>,
    rectangles: Option<Rectangles<'a>>,
    least_spend: f64,
    random: Pcg64Mcg,
    /// What the first nests took.
    work: Work,
    /// Steps left.
    steps: u64,
    best: Scored,
}

impl<'a> Search<'a> {
    /// With nothing laid down yet; no nest costs less than `least_spend`.
    fn new(
        tables: &'a Tables<'a>,
        least_spend: f64,
        budget: &Budget,
        watch: &'a Watch<'a>,
    ) -> Self {
        Self {
            tables,
            watch,
            rectangles: Rectangles::new(tables),
            least_spend,
            random: Pcg64Mcg::seed_from_u64(budget.seed),
            work: Work::of_steps(u64::MAX),
            steps: budget.steps,
            best: empty(tables).scored(tables),
        }
    }

    fn report(&self, done: f64, (nesting, score): &Scored) {
        self.watch.report(Progress {
            done,
            spend: score.spend,
            least_spend: self.least_spend,
            sheets: nesting.sheets.len(),
            missing: nesting.missing.iter().sum(),
        });
    }

    /// Goes on with `made`.
    fn take(&mut self, done: f64, made: Scored) {
        self.best = made;
        self.report(done, &self.best);
    }

    /// Goes on with `made` if it is better; whether it is.
    fn take_better(&mut self, done: f64, made: Scored) -> bool {
        let better = made.1.beats(&self.best.1);
        if better {
            self.take(done, made);
        }
        better
    }

    /// `nesting` with what is missing of it laid down, as the recipe says, as far as it comes in so many steps.
    fn completed(
        &mut self,
        mut nesting: Nesting,
        recipe: &Recipe,
        steps: u64,
        watch: &Watch,
    ) -> Scored {
        let (tables, most) = (self.tables, f64::INFINITY);
        let (random, mut work) = (&mut self.random, self.work.split(steps));
        complete(tables, &mut nesting, recipe, most, random, watch, &mut work);
        self.work.join(&work);
        nesting.scored(tables)
    }

    /// Steps for each nest at free corners: whatever it takes where none is whole.
    fn corner_steps(&self) -> u64 {
        if !self.best.1.complete() {
            return u64::MAX;
        }
        let missing = empty(self.tables).missing;
        let copies: u64 = missing.iter().map(|n| u64::from(*n)).sum();
        self.steps.max(copies.saturating_mul(CORNER_STEPS))
    }

    /// Nests that need no tables, where even hulls take seconds for all the kinds; whether one is whole.
    fn rectangles_at_once(&mut self) -> bool {
        let mut begun = false;
        let Some(rectangles) = (self.rectangles.as_ref()).filter(|_| order_is_long(self.tables))
        else {
            return false;
        };
        let more = ((self.steps as f64 * AT_ONCE_SHARE) as u64).min(MOST_AT_ONCE_STEPS);
        for steps in [1, more] {
            if begun && (steps <= 1 || self.watch.stopped()) {
                break;
            }
            let (random, work) = (&mut self.random, &mut self.work);
            let made = rectangles.at_once(steps, random, self.watch, work);
            let Some(made) = made.filter(|made| made.1.complete()) else {
                break;
            };
            if !begun || made.1.beats(&self.best.1) {
                begun = true;
                self.best = made;
                self.report(0.0, &self.best);
            }
        }
        begun
    }

    /// Whole nests, whatever they take: a rough one at once, unless one has `begun`, then better ones.
    fn whole_nests(&mut self, begun: bool) {
        let tables = self.tables;
        let until_whole = self.watch.until_whole();
        if !begun {
            let hulls = Recipe {
                poses: ROUGH_POSES,
                hurry: true,
                ..Recipe::plain(tables)
            };
            let made = self.of_hulls(&hulls, &until_whole);
            self.take(0.0, made);
        }
        let watch = if self.best.1.complete() {
            self.watch
        } else {
            &until_whole
        };
        let steps = self.corner_steps();
        // A nest at free corners takes all tables, of which hundreds of kinds have too many; moves ask for few of them.
        let mut made = if begun {
            self.best.clone()
        } else {
            self.completed(empty(tables), &Recipe::plain(tables), steps, watch)
        };
        for recipe in self.other_recipes(made.1.complete()) {
            made = better(made, self.completed(empty(tables), &recipe, steps, watch));
        }
        let made = self.in_rows(made, steps);
        self.take_better(0.0, made);
    }

    /// `made`, or a nest with many copies of one part in rows on sheets of one kind, whichever is better; what is missing then is laid
    /// in so many steps.
    fn in_rows(&mut self, mut made: Scored, steps: u64) -> Scored {
        let (tables, watch) = (self.tables, self.watch);
        let problem = tables.problem;
        let mut kinds: Vec<usize> = (0..problem.stock.len()).collect();
        kinds.sort_by_key(|s| {
            let pieces = problem.supplies[problem.stock[*s].supply];
            std::cmp::Reverse(pieces.unwrap_or(u32::MAX))
        });
        let most = (self.steps as f64 * ROWS_SHARE) as u64;
        let most = most.clamp(LEAST_ROWS_STEPS, MOST_ROWS_STEPS);
        for stock in kinds.into_iter().take(MOST_IN_ROWS) {
            if watch.stopped() {
                break;
            }
            let (random, work) = (&mut self.random, &mut self.work);
            if let Some(rows) = sheets_in_rows(tables, stock, most, random, watch, work) {
                let plain = Recipe::plain(tables);
                made = better(made, self.completed(rows, &plain, steps, watch));
            }
        }
        made
    }

    /// A nest of all parts as their hulls.
    fn of_hulls(&mut self, recipe: &Recipe, watch: &Watch) -> Scored {
        let tables = self.tables.rough();
        let mut nesting = empty(&tables);
        let (random, work) = (&mut self.random, &mut self.work);
        let most = f64::INFINITY;
        complete(&tables, &mut nesting, recipe, most, random, watch, work);
        nesting.scored(&tables)
    }

    /// What may do better than the plain recipe, after which the nest is `complete` or not.
    fn other_recipes(&self, complete: bool) -> Vec<Recipe> {
        let tables = self.tables;
        let mut others = Vec::new();
        if !complete {
            others.push(Recipe::small_first(tables));
            if order_is_long(tables) {
                // What was passed over may be what is missing.
                others.push(Recipe {
                    hurry: false,
                    ..Recipe::plain(tables)
                });
            }
        }
        if share_for_rows(tables) >= SHARE_IN_ROWS {
            others.push(Recipe {
                half_turns: true,
                ..Recipe::plain(tables)
            });
        }
        others
    }

    /// Goes on from a nest that is given, unless the best one is better.
    fn go_on_from(&mut self, given: Nesting) {
        let made = self.completed(given, &Recipe::plain(self.tables), u64::MAX, self.watch);
        if !self.best.1.beats(&made.1) {
            self.take(0.0, made);
        }
    }

    /// Nests of rectangles; whether they did best.
    fn in_rectangles(&mut self) -> bool {
        let most = ((self.steps as f64 * RECTANGLES_SHARE) as u64).min(MOST_RECTANGLES_STEPS);
        let Some(rectangles) =
            (self.rectangles.as_ref()).filter(|_| most >= LEAST_RECTANGLES_STEPS)
        else {
            return false;
        };
        let mut random = self.random.clone();
        let tell = |made: &Scored| self.report(0.0, made);
        let (made, used) = rectangles.start(&self.best.1, most, &mut random, self.watch, tell);
        self.random = random;
        self.steps = self.steps.saturating_sub(used);
        // It was told already.
        match made.filter(|made| made.1.beats(&self.best.1)) {
            Some(made) => {
                self.best = made;
                true
            }
            None => false,
        }
    }

    /// Steps for laying anew what lies in cut-outs, each time; 0 where nothing would come of it.
    fn cutout_steps(&self) -> u64 {
        let most = ((self.steps as f64 * CUTOUTS_SHARE) as u64).min(MOST_CUTOUTS_STEPS);
        if are_worth(self.tables, &self.best.0, most) {
            most
        } else {
            0
        }
    }

    /// Lays anew what lies in cut-outs with at most these steps.
    fn cutouts_anew(&mut self, done: f64, steps: u64) {
        if steps == 0 {
            return;
        }
        let (tables, random) = (self.tables, &mut self.random);
        let (made, used) = laid_anew(tables, &self.best.0, steps, random, self.watch);
        self.steps = self.steps.saturating_sub(used);
        if let Some(made) = made {
            self.take(done, made);
        }
    }

    /// Puts a nest of many sheets together from patterns.
    fn in_patterns(&mut self, watch: &Watch) {
        let most = ((self.steps as f64 * PATTERN_SHARE) as u64).min(MOST_PATTERN_STEPS);
        if self.best.0.sheets.len() < MANY_SHEETS || most <= LEAST_NESTS * self.work.steps() {
            return;
        }
        let (tables, random) = (self.tables, &mut self.random);
        if let Some((nesting, score, used)) =
            by_patterns(tables, &self.best.0, Vec::new(), most, random, watch)
        {
            self.steps = self.steps.saturating_sub(used);
            self.take_better(0.0, (nesting, score));
        }
    }

    /// Spends the steps left on streams of moves with frames and windows taken apart; false where that is not done.
    fn taken_apart(&mut self, watch: &Watch) -> bool {
        let tables = self.tables;
        if self.steps == 0 || watch.stopped() || order_is_long(tables) {
            return false;
        }
        let Some(mut apart) = Apart::of(tables, &self.best.0) else {
            return false;
        };
        let problem = apart.problem.clone();
        let mut own = Tables::new(&problem, None);
        own.windows = tables.problem.stock.len();
        let mut work = Work::of_steps(u64::MAX);
        let Some(present) = apart.present(&own, &mut work) else {
            return false;
        };
        // Angles that are no multiples of right ones may not be known to the last digit.
        if apart.together(tables, &own, &present, &mut work).is_none() {
            return false;
        }
        let budget = Budget {
            steps: self.steps,
            seed: self.random.random(),
            limit: None,
        };
        // What it comes to is told in terms of this nest.
        let mut inner = Search::new(&own, self.least_spend, &budget, watch);
        inner.best = present.scored(&own);
        let mut told = inner.best.1;
        let plan = Plan {
            at_corners: inner.best.clone(),
            boxy: false,
            own_starts: false,
        };
        let mut listener = |done: f64, found: &Scored| {
            let better = found.1.beats(&told);
            told = found.1;
            let made = better.then(|| apart.together(tables, &own, &found.0, &mut work));
            let made = made.flatten().map(|made| made.scored(tables));
            // Whichever frame a window is taken for, what is left of it may be worth a little more or less.
            if !made.is_some_and(|made| self.take_better(done, made)) {
                self.report(done, &self.best);
            }
        };
        inner.in_streams(&plan, watch, Some(&mut listener));
        self.steps = 0;
        true
    }

    /// Spends the steps left on streams of moves. How far it is and the best so far is told after each round, to `listener` where
    /// there is one.
    fn in_streams(&mut self, plan: &Plan, watch: &Watch, mut listener: Option<Listener>) {
        let tables = self.tables;
        let mut streams = self.streams(plan);
        let start =
            ((self.steps as f64 * START_SHARE) as u64 / STREAMS as u64).min(MOST_START_STEPS);
        // One start that is not finished would be work for nothing.
        if plan.own_starts && start > self.work.steps() {
            streams
                .par_iter_mut()
                .for_each(|stream| stream.start(tables, watch, start));
            self.steps -= start * STREAMS as u64;
        }
        let rounds = (self.steps / ROUND_STEPS).max(LEAST_ROUNDS);
        for round in 0..rounds {
            if watch.stopped() || self.steps == 0 {
                break;
            }
            let share = self.steps / (rounds * STREAMS as u64) + 1;
            let heat = HEAT * (CYCLE - 1 - round % CYCLE) as f64 / (CYCLE - 1) as f64;
            let rectangles = self.rectangles.as_ref();
            streams
                .par_iter_mut()
                .for_each(|stream| stream.run(tables, rectangles, watch, share, heat));
            for stream in &streams {
                if stream.best.1.beats(&self.best.1) {
                    self.best = stream.best.clone();
                }
            }
            let seen = Collection::joined(streams.iter().map(|s| &s.seen), tables);
            for stream in &mut streams {
                stream.seen = seen.clone();
                stream.lag += 1;
                if !self.best.1.beats(&stream.best.1) {
                    stream.lag = 0;
                } else if stream.lag > PATIENCE {
                    stream.go_on_from(&self.best);
                }
            }
            let done = (round + 1) as f64 / rounds as f64;
            match &mut listener {
                Some(listener) => listener(done, &self.best),
                None => self.report(done, &self.best),
            }
        }
    }

    fn streams(&mut self, plan: &Plan) -> Vec<Stream> {
        let sheets = self.best.0.sheets.len();
        let shares = Shares {
            rectangles: match self.rectangles {
                Some(_) => SHARES_RECTANGLES[usize::from(!plan.boxy)],
                None => 0.0,
            },
            assembled: if sheets >= LEAST_SHEETS && self.best.0.missing.len() <= MOST_KINDS {
                SHARE_ASSEMBLED
            } else {
                0.0
            },
        };
        let stream = |i: usize| {
            // What rectangles lead to may be hard to leave: half of the streams do not begin there.
            let other = plan.boxy && i % 2 == 1 && sheets < MANY_SHEETS;
            let from = if other { &plan.at_corners } else { &self.best };
            let random = Pcg64Mcg::seed_from_u64(self.random.random::<u64>() ^ i as u64);
            Stream::new(self.tables, from, random, shares)
        };
        (0..STREAMS).map(stream).collect()
    }
}

/// The better one of two, the first where they are as good.
fn better(one: Scored, other: Scored) -> Scored {
    if other.1.beats(&one.1) { other } else { one }
}

//! Better nestings from the best one so far: pieces of stock are emptied and filled anew.

use super::assemble::{Collection, MOST_KINDS};
use super::construct::{Recipe, complete, empty, order_is_long, share_for_rows};
use super::cutouts::{are_worth, laid_anew};
use super::moves::{squeeze, tighten};
use super::nesting::{Nesting, Score};
use super::patterns::by_patterns;
use super::rectangles::{Rectangles, Way};
use super::region::Pull;
use super::rows::sheets_in_rows;
use super::tables::Tables;
use super::work::{Watch, Work};
use crate::{Budget, Progress};
use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64Mcg;
use rayon::prelude::*;

/// Poses that each part is tried in for the first nest of all; the others follow soon enough.
const ROUGH_POSES: usize = 2;

/// Sheets from which on an order is put together from patterns. With fewer hardly any comes twice.
const MANY_SHEETS: usize = 16;

/// Share of the steps for that, and most of them: the collection is then as good as it gets.
const PATTERN_SHARE: f64 = 0.5;
const MOST_PATTERN_STEPS: u64 = 60_000_000;

/// It is not begun for less than the work of so many whole nests: none would come out of it.
const LEAST_NESTS: u64 = 3;

/// From this many turned shapes on most nests are built with few poses of each part. Their tables grow
/// with the square: this many take some 300 MB.
const MANY_TURNED: usize = 240;

/// How often all poses are tried then.
const ALL_POSES: f64 = 0.1;

/// Share of the steps for a nest of rectangles before anything else where hundreds of kinds would need tables, and most of
/// them.
const AT_ONCE_SHARE: f64 = 0.1;
const MOST_AT_ONCE_STEPS: u64 = 600_000;

/// Share of the steps for first nests of rectangles, in all ways; most of them, and least.
const RECTANGLES_SHARE: f64 = 0.3;
const MOST_RECTANGLES_STEPS: u64 = 12_000_000;
const LEAST_RECTANGLES_STEPS: u64 = 2_000;

/// Share of the steps for laying anew what lies in cut-outs, once where rectangles did best and once at the end; most of them
/// each time, and share of what is left of a time limit that is kept for the end. (Generated orders of 60, 120 and 200 parts, six
/// seeds, 4 M steps: 0.6, 0.3 and 0.8 % cheaper; 150 with remnants as before.)
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
const HEAT: f64 = 0.02;

/// Share of the steps spent on whole nests from nothing, for a different start of each stream.
const START_SHARE: f64 = 0.2;

/// Most steps for that of each stream: from there on improving gains more.
const MOST_START_STEPS: u64 = 600_000;

/// Shares of the steps that go into filling anew, squeezing in and tightening while several sheets are
/// in play; and the same while copies are missing, when squeezing them in counts most.
const SHARES: [f64; 3] = [0.55, 0.3, 0.15];
const SHARES_MISSING: [f64; 3] = [0.3, 0.6, 0.1];

/// Share of the steps beside these in which emptied sheets are filled with rectangles: where these were
/// better at first, and where they were not.
const SHARES_RECTANGLES: [f64; 2] = [0.2, 0.05];

/// Share beside these in which nests are put together from sheets seen before, where a nest has at least so many.
const SHARE_ASSEMBLED: f64 = 0.15;
const LEAST_SHEETS: usize = 4;

/// Spend, as a multiple of the best, up to which the sheets of a nest are collected for that.
const NEAR: f64 = 1.1;

/// Steps for one attempt to lay rectangles, from so many to so many.
const SAWN_STEPS: [f64; 2] = [30_000.0, 300_000.0];

/// Share of these in which copies with windows are told to lie as they do, where that lets parts into them.
const TOLD_SHARE: f64 = 0.5;

/// Most pieces of stock emptied at a time.
const MOST_EMPTIED: usize = 4;

/// How often small parts come first while copies are missing: several of them may count more than a large
/// one that leaves them no room.
const SMALL_FIRST: f64 = 0.2;

/// Share of the area that parts in rows must have for a whole nest of their own at first, and kinds of stock that it is tried on.
pub(super) const SHARE_IN_ROWS: f64 = 0.3;
const MOST_IN_ROWS: usize = 4;

/// How often copies lie in rows first where there are many of them that may lie otherwise.
const IN_ROWS: f64 = 0.2;

/// How fast a stream learns which parts end on poor sheets.
const LEARN: f64 = 0.1;

/// Rounds that a stream may lag behind the best before it continues from there.
const PATIENCE: u32 = 2;

/// Most steps for one attempt to squeeze parts in. Fewer miss tight fits, more cost other attempts.
const SQUEEZE_STEPS: u64 = 40_000;

/// Most steps for one attempt to shorten the last of several sheets.
const TIGHTEN_STEPS: u64 = 80_000;

/// The best nesting found within `budget`, going on from `start` where that is better than the first
/// one built. With `afresh` other nests are built from nothing too before one is gone on with.
pub(super) fn best_found(
    tables: &Tables,
    start: Option<Nesting>,
    afresh: bool,
    budget: &Budget,
    watch: &Watch,
) -> Nesting {
    let mut random = Pcg64Mcg::seed_from_u64(budget.seed);
    let least_spend = crate::least_spend(tables.problem);
    let report = |done: f64, nesting: &Nesting, score: &Score| {
        watch.report(Progress {
            done,
            spend: score.spend,
            least_spend,
            sheets: nesting.sheets.len(),
            missing: nesting.missing.iter().sum(),
        });
    };
    // A whole nesting first, whatever it takes: a rough one at once, then a good one.
    let mut work = Work::of_steps(u64::MAX);
    let first_watch = watch.until_whole();
    let rectangles = Rectangles::new(tables);
    // Of hundreds of kinds even hulls take seconds. Rectangles need no tables.
    let mut at_once = None;
    if let Some(rectangles) = rectangles.as_ref().filter(|_| order_is_long(tables)) {
        let more = ((budget.steps as f64 * AT_ONCE_SHARE) as u64).min(MOST_AT_ONCE_STEPS);
        for steps in [1, more] {
            if at_once.is_some() && (steps <= 1 || watch.stopped()) {
                break;
            }
            let made = rectangles.at_once(steps, &mut random, watch, &mut work);
            let Some(made) = made.filter(|made| made.1.complete()) else {
                break;
            };
            if at_once
                .as_ref()
                .is_none_or(|(_, score)| made.1.beats(score))
            {
                report(0.0, &made.0, &made.1);
                at_once = Some(made);
            }
        }
    }
    let mut whole = |tables: &Tables, recipe: Recipe, watch: &Watch| {
        let mut nesting = empty(tables);
        let most = f64::INFINITY;
        complete(
            tables,
            &mut nesting,
            &recipe,
            most,
            &mut random,
            watch,
            &mut work,
        );
        let score = nesting.score(tables);
        (nesting, score)
    };
    let hulls = Recipe {
        poses: ROUGH_POSES,
        hurry: true,
        ..Recipe::plain(tables)
    };
    let begun = at_once.is_some();
    let (mut best, mut score) = match at_once {
        Some(made) => made,
        None => {
            let made = whole(&tables.rough(), hulls, &first_watch);
            report(0.0, &made.0, &made.1);
            made
        }
    };
    let watch_now = if score.complete() {
        watch
    } else {
        &first_watch
    };
    // A nest at free corners takes all tables, of which hundreds of kinds have too many; moves ask for few of them.
    let mut plain = if begun {
        (best.clone(), score)
    } else {
        whole(tables, Recipe::plain(tables), watch_now)
    };
    let mut others = Vec::new();
    if !plain.1.complete() {
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
    for recipe in others {
        let other = whole(tables, recipe, watch_now);
        if other.1.beats(&plain.1) {
            plain = other;
        }
    }
    // Many copies of one part on sheets of each kind.
    let problem = tables.problem;
    let mut kinds: Vec<usize> = (0..problem.stock.len()).collect();
    kinds.sort_by_key(|s| {
        let pieces = problem.supplies[problem.stock[*s].supply];
        std::cmp::Reverse(pieces.unwrap_or(u32::MAX))
    });
    for stock in kinds.into_iter().take(MOST_IN_ROWS) {
        if watch_now.stopped() {
            break;
        }
        if let Some(mut nesting) = sheets_in_rows(tables, stock, &mut random, watch_now, &mut work)
        {
            let most = f64::INFINITY;
            complete(
                tables,
                &mut nesting,
                &Recipe::plain(tables),
                most,
                &mut random,
                watch_now,
                &mut work,
            );
            let score = nesting.score(tables);
            if score.beats(&plain.1) {
                plain = (nesting, score);
            }
        }
    }
    if plain.1.beats(&score) {
        (best, score) = plain;
        report(0.0, &best, &score);
    }
    if let Some(mut given) = start {
        let recipe = Recipe::plain(tables);
        let most = f64::INFINITY;
        complete(
            tables,
            &mut given,
            &recipe,
            most,
            &mut random,
            watch,
            &mut work,
        );
        let its = given.score(tables);
        if !score.beats(&its) {
            (best, score) = (given, its);
            report(0.0, &best, &score);
        }
    }
    let mut steps = budget.steps.saturating_sub(work.steps());
    // Whether rectangles did better than free corners so far.
    let mut boxy = false;
    let most = ((steps as f64 * RECTANGLES_SHARE) as u64).min(MOST_RECTANGLES_STEPS);
    let worth_it = afresh && most >= LEAST_RECTANGLES_STEPS;
    let at_corners = (best.clone(), score);
    if let Some(rectangles) = rectangles.as_ref().filter(|_| worth_it) {
        let tell = |nesting: &Nesting, score: &Score| report(0.0, nesting, score);
        let (made, used) = rectangles.start(&score, most, &mut random, watch, tell);
        steps = steps.saturating_sub(used);
        if let Some((nesting, its)) = made.filter(|made| made.1.beats(&score)) {
            boxy = true;
            (best, score) = (nesting, its);
        }
    }
    // What lies in cut-outs lies as rectangles in a row where these did best; and in the end not as close as it might.
    let most = ((steps as f64 * CUTOUTS_SHARE) as u64).min(MOST_CUTOUTS_STEPS);
    let for_cutouts = if afresh && are_worth(tables, &best, most) {
        most
    } else {
        0
    };
    let before_last = watch.shortened(if for_cutouts > 0 {
        1.0 - CUTOUTS_TIME
    } else {
        1.0
    });
    if boxy && for_cutouts > 0 {
        let (made, used) = laid_anew(tables, &best, for_cutouts, &mut random, watch);
        steps = steps.saturating_sub(used);
        if let Some(made) = made {
            (best, score) = made;
            report(0.0, &best, &score);
        }
    }
    steps = steps.saturating_sub(for_cutouts);
    let most = ((steps as f64 * PATTERN_SHARE) as u64).min(MOST_PATTERN_STEPS);
    if afresh
        && best.sheets.len() >= MANY_SHEETS
        && most > LEAST_NESTS * work.steps()
        && let Some((nesting, new, used)) =
            by_patterns(tables, &best, most, &mut random, &before_last)
    {
        steps = steps.saturating_sub(used);
        if new.beats(&score) {
            (best, score) = (nesting, new);
            report(0.0, &best, &score);
        }
    }
    let for_rectangles = match rectangles {
        Some(_) => SHARES_RECTANGLES[usize::from(!boxy)],
        None => 0.0,
    };
    let for_assembled = if best.sheets.len() >= LEAST_SHEETS && best.missing.len() <= MOST_KINDS {
        SHARE_ASSEMBLED
    } else {
        0.0
    };
    let mut streams: Vec<Stream> = (0..STREAMS)
        .map(|i| {
            // What rectangles lead to may be hard to leave: half of the streams do not begin there.
            let other = boxy && i % 2 == 1 && best.sheets.len() < MANY_SHEETS;
            let (nesting, score) = if other {
                at_corners.clone()
            } else {
                (best.clone(), score)
            };
            Stream {
                random: Pcg64Mcg::seed_from_u64(random.random::<u64>() ^ i as u64),
                best: (nesting.clone(), score),
                nesting,
                score,
                urgency: vec![1.0; tables.problem.parts.len()],
                used: [0; 5],
                for_rectangles,
                for_assembled,
                seen: Collection::default(),
                lag: 0,
            }
        })
        .collect();
    let start = ((steps as f64 * START_SHARE) as u64 / STREAMS as u64).min(MOST_START_STEPS);
    // One start that is not finished would be work for nothing.
    if afresh && !begun && start > work.steps() {
        streams
            .par_iter_mut()
            .for_each(|stream| stream.start(tables, &before_last, start));
        steps -= start * STREAMS as u64;
    }
    let rounds = (steps / ROUND_STEPS).max(LEAST_ROUNDS);
    for round in 0..rounds {
        if before_last.stopped() || steps == 0 {
            break;
        }
        let share = steps / (rounds * STREAMS as u64) + 1;
        let heat = HEAT * (CYCLE - 1 - round % CYCLE) as f64 / (CYCLE - 1) as f64;
        streams
            .par_iter_mut()
            .for_each(|stream| stream.run(tables, rectangles.as_ref(), &before_last, share, heat));
        for stream in &streams {
            if stream.best.1.beats(&score) {
                (best, score) = stream.best.clone();
            }
        }
        let seen = Collection::joined(streams.iter().map(|s| &s.seen), tables);
        for stream in &mut streams {
            stream.seen = seen.clone();
            stream.lag += 1;
            if !score.beats(&stream.best.1) {
                stream.lag = 0;
            } else if stream.lag > PATIENCE {
                stream.best = (best.clone(), score);
                (stream.nesting, stream.score) = stream.best.clone();
                stream.lag = 0;
            }
        }
        report((round + 1) as f64 / rounds as f64, &best, &score);
    }
    if for_cutouts > 0
        && let (Some(made), _) = laid_anew(tables, &best, for_cutouts, &mut random, watch)
    {
        (best, score) = made;
        report(1.0, &best, &score);
    }
    best
}

/// One stream of random choices with the nesting it is at.
struct Stream {
    random: Pcg64Mcg,
    nesting: Nesting,
    score: Score,
    /// The best it came by.
    best: (Nesting, Score),
    /// How poor the sheets are that each part ended on lately; 1 for average.
    urgency: Vec<f64>,
    /// Steps spent on each kind of move.
    used: [u64; 5],
    /// Share of the steps for sheets laid as rectangles.
    for_rectangles: f64,
    /// Share of the steps for nests put together from what was `seen`.
    for_assembled: f64,
    /// Sheets of nests near the best.
    seen: Collection,
    lag: u32,
}

impl Stream {
    /// Builds nests from nothing at random and goes on from the best.
    fn start(&mut self, tables: &Tables, watch: &Watch, steps: u64) {
        let mut work = Work::of_steps(steps);
        while !work.spent() && !watch.stopped() {
            work.add(100);
            let mut trial = empty(tables);
            if self.completed(tables, &mut trial, HEAT, watch, &mut work) {
                let score = trial.score(tables);
                let first = self.best.1;
                // Not the plain one again: what another stream does already is no new start.
                if score.beats(&self.score)
                    || self.score == first && score.nearly(&first, first.spend * (1.0 + HEAT))
                {
                    (self.nesting, self.score) = (trial, score);
                    if score.beats(&self.best.1) {
                        self.best = (self.nesting.clone(), score);
                    }
                }
            }
        }
    }

    /// Spends `steps` on its nesting. What is worse than the best by at most the share `heat` may be
    /// carried on with.
    fn run(
        &mut self,
        tables: &Tables,
        rectangles: Option<&Rectangles>,
        watch: &Watch,
        steps: u64,
        heat: f64,
    ) {
        let mut work = Work::of_steps(steps);
        if heat == 0.0 && self.best.1.beats(&self.score) {
            (self.nesting, self.score) = self.best.clone();
        }
        while !work.spent() && !watch.stopped() {
            let before = work.steps();
            // Even a move that finds nothing to do must come to an end.
            work.add_steps(4);
            let alone = self.nesting.sheets.len() < 2 && self.score.complete();
            let choice = if alone {
                [0, 2, 2, 2, 2][self.random.random_range(0..5)]
            } else {
                self.behind()
            };
            let trial = match choice {
                0 => self.refilled(tables, heat, watch, &mut work),
                1 => {
                    let mut own = work.split(SQUEEZE_STEPS);
                    let trial = squeeze(tables, &self.nesting, &mut self.random, watch, &mut own);
                    work.join(&own);
                    trial
                }
                3 => rectangles.and_then(|r| self.sawn(tables, r, watch, &mut work)),
                4 => self.assembled(tables, watch, &mut work),
                _ => {
                    // With nothing else to do there is no reason to break off.
                    let most = if alone { u64::MAX } else { TIGHTEN_STEPS };
                    let mut own = work.split(most);
                    let trial = tighten(tables, &self.nesting, &mut self.random, watch, &mut own);
                    work.join(&own);
                    trial
                }
            };
            self.used[choice] += 1 + work.steps() - before;
            if let Some(trial) = trial {
                let score = trial.score(tables);
                let near = score.complete() && score.spend <= NEAR * self.best.1.spend;
                if near && self.for_assembled > 0.0 {
                    self.seen.note(tables, &trial, &mut work);
                }
                let best = &self.best.1;
                let most = best.spend * (1.0 + heat * self.random.random::<f64>());
                // A sideways step is taken too: it leads on from where nothing is better.
                if !self.score.beats(&score) || score.nearly(best, most) {
                    (self.nesting, self.score) = (trial, score);
                    if score.beats(&self.best.1) {
                        self.best = (self.nesting.clone(), score);
                    }
                }
            }
        }
    }

    /// The kind of move that has had least of its share of the steps.
    fn behind(&self) -> usize {
        let shares = if self.score.complete() {
            SHARES
        } else {
            SHARES_MISSING
        };
        let [refill, squeeze, tighten] = shares;
        let rectangles = self.for_rectangles;
        // Before anything is seen there is nothing to put together.
        let assembled = if self.seen.is_empty() {
            0.0
        } else {
            self.for_assembled
        };
        let shares = [refill, squeeze, tighten, rectangles, assembled];
        let had = |k: usize| self.used[k] as f64 / shares[k];
        (0..shares.len())
            .filter(|k| shares[*k] > 0.0)
            .min_by(|&a, &b| had(a).total_cmp(&had(b)))
            .unwrap_or(0)
    }

    /// Some sheets emptied and filled anew; `None` when that was broken off.
    fn refilled(
        &mut self,
        tables: &Tables,
        heat: f64,
        watch: &Watch,
        work: &mut Work,
    ) -> Option<Nesting> {
        let mut trial = self.emptied();
        self.completed(tables, &mut trial, heat, watch, work)
            .then_some(trial)
    }

    /// Sheets seen before put together anew; `None` when that was broken off.
    fn assembled(&mut self, tables: &Tables, watch: &Watch, work: &mut Work) -> Option<Nesting> {
        let recipe = self.recipe(tables);
        let (base, random) = (&self.nesting, &mut self.random);
        let trial = (self.seen).assembled(tables, base, &recipe, random, watch, work);
        (!work.spent() && !watch.stopped()).then_some(trial)
    }

    /// Some sheets emptied and what lay on them laid down as rectangles.
    fn sawn(
        &mut self,
        tables: &Tables,
        rectangles: &Rectangles,
        watch: &Watch,
        work: &mut Work,
    ) -> Option<Nesting> {
        let mut trial = self.emptied();
        let [least, most] = SAWN_STEPS;
        let steps = least * (most / least).powf(self.random.random());
        let mut way = Way::new(self.random.random_bool(0.5));
        if rectangles.turned_windows && self.random.random_bool(TOLD_SHARE) {
            way = rectangles.as_they_lie(&way, &self.nesting, &trial);
        }
        let budget = Budget {
            steps: (steps as u64).min(work.left()),
            seed: self.random.random(),
            limit: None,
        };
        let own = &mut self.random;
        if !rectangles.add_to(&mut trial, &way, &budget, own, watch, work) {
            return None;
        }
        self.completed(tables, &mut trial, HEAT, watch, work)
            .then_some(trial)
    }

    /// Fills up `trial` in a random way and learns from it; false when the work ended before it was
    /// whole.
    fn completed(
        &mut self,
        tables: &Tables,
        trial: &mut Nesting,
        heat: f64,
        watch: &Watch,
        work: &mut Work,
    ) -> bool {
        let recipe = self.recipe(tables);
        // With copies missing a dearer nest may be the better one.
        let most_spend = if self.best.1.complete() {
            let most = self.best.1.spend.max(self.score.spend);
            most * (1.0 + heat) + 1e-9
        } else {
            f64::INFINITY
        };
        complete(
            tables,
            trial,
            &recipe,
            most_spend,
            &mut self.random,
            watch,
            work,
        );
        self.learn(trial);
        !work.spent() && !watch.stopped()
    }

    /// Parts on sheets that cost much for their area become more urgent, others less.
    ///
    /// After the value correction for one-dimensional cutting (Belov & Scheithauer 2007), with the
    /// spend in place of the waste.
    fn learn(&mut self, trial: &Nesting) {
        let rate = |spend: f64, area: f64| spend / area.max(1e-9);
        let (spend, area) = trial
            .sheets
            .iter()
            .fold((0.0, 0.0), |(s, a), (_, w)| (s + w.spend, a + w.part_area));
        let mean = rate(spend, area);
        if mean <= 0.0 {
            return;
        }
        for (sheet, worth) in &trial.sheets {
            let seen = (rate(worth.spend, worth.part_area) / mean).clamp(0.5, 2.0);
            let mut last = usize::MAX;
            for (_, item) in &sheet.items {
                // Copies laid down one after another count once.
                if item.part != last {
                    let urgency = &mut self.urgency[item.part];
                    *urgency += LEARN * (seen - *urgency);
                    last = item.part;
                }
            }
        }
    }

    /// The nesting with a few pieces of stock emptied, those that cost much for what is on them more
    /// likely.
    fn emptied(&mut self) -> Nesting {
        let mut trial = self.nesting.clone();
        let rate = self.score.spend
            / trial
                .sheets
                .iter()
                .map(|(_, w)| w.part_area)
                .sum::<f64>()
                .max(1e-9);
        let count = self
            .random
            .random_range(1..=MOST_EMPTIED)
            .min(trial.sheets.len());
        for _ in 0..count {
            // The worst of one, two or three.
            let mut chosen: Option<(f64, usize)> = None;
            for _ in 0..self.random.random_range(1..=3) {
                let i = self.random.random_range(0..trial.sheets.len());
                let worth = &trial.sheets[i].1;
                let excess = worth.spend - rate * worth.part_area;
                if chosen.is_none_or(|(most, _)| excess > most) {
                    chosen = Some((excess, i));
                }
            }
            if let Some((_, i)) = chosen {
                let (sheet, _) = trial.sheets.swap_remove(i);
                for (_, item) in sheet.items {
                    trial.missing[item.part] += 1;
                }
            }
        }
        trial
    }

    /// A random way to fill.
    fn recipe(&mut self, tables: &Tables) -> Recipe {
        let random = &mut self.random;
        let spread = [0.0, 0.1, 0.3, 0.8][random.random_range(0..4)];
        let by_copy = random.random_bool(0.5);
        let learnt = [0.0, 0.5, 1.0, 2.0][random.random_range(0..4)];
        // Large parts are worth more than their area: fewer sheets take them.
        let power = [1.0, 1.0, 1.1, 1.3][random.random_range(0..4)];
        let value = |part: usize| {
            let area = tables.catalogue.shape(part).area;
            area.powf(power) * self.urgency[part].powf(learnt)
        };
        let value = (0..self.urgency.len()).map(value).collect();
        let small_first = !self.best.1.complete() && random.random_bool(SMALL_FIRST);
        let mut keyed: Vec<(f64, usize, u32)> = Vec::new();
        for (part, &shape) in tables.catalogue.shape_of.iter().enumerate() {
            let shape = &tables.catalogue.shapes[shape];
            let size = if random.random_bool(0.8) {
                shape.room
            } else {
                shape.area
            } * self.urgency[part].powf(learnt);
            let mut key = |copies: u32| {
                let noise = spread * (random.random::<f64>() + random.random::<f64>() - 1.0);
                let size = size * noise.exp();
                let key = if small_first { -size } else { size };
                keyed.push((key, part, copies));
            };
            // Many copies are laid down in bundles, or the list would grow with the order.
            let quantity = tables.problem.parts[part].quantity;
            let bundles = if by_copy { quantity.min(12) } else { 1 };
            for i in 0..bundles {
                key(quantity / bundles + u32::from(i < quantity % bundles));
            }
        }
        keyed.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        keyed.sort_by_key(|(_, part, _)| std::cmp::Reverse(tables.problem.parts[*part].priority));
        // What the bundles left over because a copy did not fit where it was tried.
        let rest = Recipe::plain(tables).order;
        let pull = match random.random_range(0..8) {
            0..=2 => None,
            3 => Some(Pull::LEFT),
            4 => Some(Pull::DOWN),
            5 => Some(Pull { x: 1.0, y: 1.0 }),
            _ => Some(Pull {
                x: random.random_range(0.01..1.0),
                y: random.random_range(0.01..1.0),
            }),
        };
        let seldom = tables.problem.stock.len() > 1 && random.random_bool(0.3);
        let without = (0..tables.problem.stock.len())
            .map(|_| seldom && random.random_bool(0.4))
            .collect();
        Recipe {
            order: keyed
                .into_iter()
                .map(|(_, part, copies)| (part, copies))
                .chain(rest)
                .collect(),
            pull,
            // With many shapes there is enough to choose from, and tables for all poses would never be done.
            poses: if tables.catalogue.turned.len() > MANY_TURNED && !random.random_bool(ALL_POSES)
            {
                ROUGH_POSES
            } else {
                usize::MAX
            },
            hurry: order_is_long(tables) && self.best.1.complete(),
            half_turns: share_for_rows(tables) > 0.0 && random.random_bool(IN_ROWS),
            blur: [0.0, 0.0, 0.02, 0.2][random.random_range(0..4)],
            without,
            value,
            whim: [0.0, 0.0, 0.1, 0.4][random.random_range(0..4)],
        }
    }
}

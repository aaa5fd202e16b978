//! One stream of random choices: moves that lead from a nesting to the next.

use super::assemble::Collection;
use super::construct::{Recipe, complete, empty, order_is_long, share_for_rows};
use super::improve::HEAT;
use super::moves::{squeeze, tighten};
use super::nesting::{Nesting, Score, Scored};
use super::rectangles::{Rectangles, Way};
use super::region::Pull;
use super::tables::Tables;
use super::work::{Watch, Work};
use crate::Budget;
use rand::RngExt;
use rand_pcg::Pcg64Mcg;

/// From this many turned shapes on most nests are built with few poses of each part. Their tables grow
/// with the square: this many take some 300 MB.
const MANY_TURNED: usize = 240;

/// Poses of each part then, and how often all are tried.
const FEW_POSES: usize = 2;
const ALL_POSES: f64 = 0.1;

/// Shares of the steps that go into filling anew, squeezing in and tightening while several sheets are
/// in play; and the same while copies are missing, when squeezing them in counts most.
const SHARES: [f64; 3] = [0.55, 0.3, 0.15];
const SHARES_MISSING: [f64; 3] = [0.3, 0.6, 0.1];

/// The same where windows are stock: single sheets filled anew are the smaller part of it then.
const SHARES_APART: [f64; 3] = [0.3, 0.3, 0.4];

/// Spend, as a multiple of the best, up to which the sheets of a nest are collected to put nests together from.
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

/// How often copies lie in rows first where there are many of them that may lie otherwise.
const IN_ROWS: f64 = 0.2;

/// How fast a stream learns which parts end on poor sheets.
const LEARN: f64 = 0.1;

/// Most steps for one attempt to squeeze parts in. Fewer miss tight fits, more cost other attempts.
const SQUEEZE_STEPS: u64 = 40_000;

/// Most steps for one attempt to shorten the last of several sheets; and where windows are stock.
const TIGHTEN_STEPS: [u64; 2] = [80_000, 400_000];

/// Shares of the steps beside those of the usual moves.
#[derive(Debug, Clone, Copy)]
pub(super) struct Shares {
    /// For emptied sheets filled with rectangles.
    pub rectangles: f64,
    /// For nests put together from sheets seen before.
    pub assembled: f64,
}

/// One stream of random choices with the nesting it is at.
pub(super) struct Stream {
    random: Pcg64Mcg,
    nesting: Nesting,
    score: Score,
    /// The best it came by.
    pub best: Scored,
    /// How poor the sheets are that each part ended on lately; 1 for average.
    urgency: Vec<f64>,
    /// Steps spent on each kind of move.
    used: [u64; 5],
    shares: Shares,
    /// Sheets of nests near the best.
    pub seen: Collection,
    /// Rounds in which another stream had a better nest.
    pub lag: u32,
}

impl Stream {
    /// One that begins at `from`.
    pub fn new(tables: &Tables, from: &Scored, random: Pcg64Mcg, shares: Shares) -> Self {
        Self {
            random,
            nesting: from.0.clone(),
            score: from.1,
            best: from.clone(),
            urgency: vec![1.0; tables.problem.parts.len()],
            used: [0; 5],
            shares,
            seen: Collection::default(),
            lag: 0,
        }
    }

    /// Leaves its nest and its best for `best`.
    pub fn go_on_from(&mut self, best: &Scored) {
        self.best = best.clone();
        (self.nesting, self.score) = best.clone();
        self.lag = 0;
    }

    /// Builds nests from nothing at random and goes on from the best.
    pub fn start(&mut self, tables: &Tables, watch: &Watch, steps: u64) {
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
    pub fn run(
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
                self.behind(tables)
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
                    let most = if alone {
                        u64::MAX
                    } else {
                        TIGHTEN_STEPS[usize::from(tables.has_windows())]
                    };
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
                if near && self.shares.assembled > 0.0 {
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
    fn behind(&self, tables: &Tables) -> usize {
        let shares = match (self.score.complete(), tables.has_windows()) {
            (true, false) => SHARES,
            (true, true) => SHARES_APART,
            (false, _) => SHARES_MISSING,
        };
        let [refill, squeeze, tighten] = shares;
        let rectangles = self.shares.rectangles;
        // Before anything is seen there is nothing to put together.
        let assembled = if self.seen.is_empty() {
            0.0
        } else {
            self.shares.assembled
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
                FEW_POSES
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

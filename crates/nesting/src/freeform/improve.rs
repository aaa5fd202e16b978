//! Better nestings from the best one so far: pieces of stock are emptied and filled anew.

use super::construct::{Recipe, complete, empty};
use super::moves::{squeeze, tighten};
use super::nesting::{Nesting, Score};
use super::region::Pull;
use super::tables::Tables;
use super::work::{Watch, Work};
use crate::{Budget, Progress};
use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64Mcg;
use rayon::prelude::*;

/// Streams of random choices. Fixed, whatever the number of threads, so that results repeat.
const STREAMS: usize = 4;

/// How often the streams' results are compared and reported, least and most.
const ROUNDS: std::ops::RangeInclusive<u64> = 6..=60;

/// Steps after which a round is over, within those bounds.
const ROUND_STEPS: u64 = 500_000;

/// Rounds that a stream may lag behind the best before it continues from there.
const PATIENCE: u32 = 2;

/// Most steps for one attempt to squeeze parts in. Fewer miss tight fits, more cost other attempts.
const SQUEEZE_STEPS: u64 = 40_000;

/// Most steps for one attempt to shorten the last of several sheets.
const TIGHTEN_STEPS: u64 = 80_000;

/// The best nesting found within `budget`.
pub(super) fn best_found(tables: &Tables, budget: &Budget, watch: &Watch) -> Nesting {
    let mut random = Pcg64Mcg::seed_from_u64(budget.seed);
    // A whole nesting first, whatever it takes.
    let mut work = Work::of_steps(u64::MAX);
    let mut best = empty(tables);
    let plain = Recipe::plain(tables);
    complete(tables, &mut best, &plain, &mut random, watch, &mut work);
    let mut score = best.score(tables);
    let least_spend = crate::least_spend(tables.problem);
    let report = |done: f64, nesting: &Nesting, score: &Score| {
        watch.control.report(Progress {
            done,
            spend: score.spend,
            least_spend,
            sheets: nesting.sheets.len(),
            missing: nesting.missing.iter().sum(),
        });
    };
    report(0.0, &best, &score);
    let steps = budget.steps.saturating_sub(work.steps());
    let mut streams: Vec<Stream> = (0..STREAMS)
        .map(|i| Stream {
            random: Pcg64Mcg::seed_from_u64(random.random::<u64>() ^ i as u64),
            nesting: best.clone(),
            score,
            lag: 0,
        })
        .collect();
    let rounds = (steps / ROUND_STEPS).clamp(*ROUNDS.start(), *ROUNDS.end());
    for round in 0..rounds {
        if watch.stopped() || steps == 0 {
            break;
        }
        let share = steps / (rounds * STREAMS as u64) + 1;
        streams
            .par_iter_mut()
            .for_each(|stream| stream.run(tables, watch, share));
        for stream in &streams {
            if stream.score.beats(&score) {
                (best, score) = (stream.nesting.clone(), stream.score);
            }
        }
        for stream in &mut streams {
            stream.lag += 1;
            if !score.beats(&stream.score) {
                stream.lag = 0;
            } else if stream.lag > PATIENCE {
                stream.nesting = best.clone();
                stream.score = score;
                stream.lag = 0;
            }
        }
        report((round + 1) as f64 / rounds as f64, &best, &score);
    }
    best
}

/// One stream of random choices with the nesting it is at.
struct Stream {
    random: Pcg64Mcg,
    nesting: Nesting,
    score: Score,
    lag: u32,
}

impl Stream {
    /// Spends `steps` on its nesting.
    fn run(&mut self, tables: &Tables, watch: &Watch, steps: u64) {
        let mut work = Work::of_steps(steps);
        while !work.spent() && !watch.stopped() {
            // Even a move that finds nothing to do must come to an end.
            work.add(100);
            let choice = self.random.random_range(0..10);
            let alone = self.nesting.sheets.len() < 2 && self.score.complete();
            let trial = match choice {
                0..=1 => self.refilled(tables, watch, &mut work),
                2..=7 if !alone => {
                    let mut own = work.split(SQUEEZE_STEPS);
                    let trial = squeeze(tables, &self.nesting, &mut self.random, watch, &mut own);
                    work.join(&own);
                    trial
                }
                _ => {
                    // With nothing else to do there is no reason to break off.
                    let most = if alone { u64::MAX } else { TIGHTEN_STEPS };
                    let mut own = work.split(most);
                    let trial = tighten(tables, &self.nesting, &mut self.random, watch, &mut own);
                    work.join(&own);
                    trial
                }
            };
            if let Some(trial) = trial {
                let score = trial.score(tables);
                // A sideways step is taken too: it leads on from where nothing is better.
                if !self.score.beats(&score) {
                    self.nesting = trial;
                    self.score = score;
                }
            }
        }
    }

    /// Some sheets emptied and filled anew; `None` when the work ended before it was whole.
    fn refilled(&mut self, tables: &Tables, watch: &Watch, work: &mut Work) -> Option<Nesting> {
        let mut trial = self.emptied();
        let recipe = self.recipe(tables);
        complete(tables, &mut trial, &recipe, &mut self.random, watch, work);
        (!work.spent() && !watch.stopped()).then_some(trial)
    }

    /// The nesting with one to three pieces of stock emptied, the emptiest ones more likely.
    fn emptied(&mut self) -> Nesting {
        let mut trial = self.nesting.clone();
        let count = self.random.random_range(1..=3).min(trial.sheets.len());
        for k in 0..count {
            let chosen = if k == 0 && self.random.random_bool(0.6) {
                // The emptiest.
                (0..trial.sheets.len()).min_by(|&a, &b| {
                    let area = |i: usize| trial.sheets[i].1.part_area;
                    area(a).total_cmp(&area(b))
                })
            } else {
                Some(self.random.random_range(0..trial.sheets.len()))
            };
            if let Some(i) = chosen {
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
        let mut keyed: Vec<(f64, usize, u32)> = Vec::new();
        for (part, &shape) in tables.catalogue.shape_of.iter().enumerate() {
            let shape = &tables.catalogue.shapes[shape];
            let size = if random.random_bool(0.8) {
                shape.room
            } else {
                shape.area
            };
            let mut key = |copies: u32| {
                let noise = spread * (random.random::<f64>() + random.random::<f64>() - 1.0);
                keyed.push((size * noise.exp(), part, copies));
            };
            // Many copies are laid down in bundles, or the list would grow with the order.
            let quantity = tables.problem.parts[part].quantity;
            let bundles = if by_copy { quantity.min(12) } else { 1 };
            for i in 0..bundles {
                key(quantity / bundles + u32::from(i < quantity % bundles));
            }
        }
        keyed.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
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
            blur: [0.0, 0.0, 0.02, 0.2][random.random_range(0..4)],
            without,
        }
    }
}

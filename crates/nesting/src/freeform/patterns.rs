//! Large orders: sheets filled for the prices of parts, and whole nests put together from them.
//!
//! Where an order takes dozens of sheets, most of them alike, emptying and filling a few at a time
//! changes little. Instead many ways to fill a sheet are collected. What the order costs least by those,
//! taken in fractions, prices the parts (see [`prices`](super::prices)); sheets are filled for these
//! prices, and those worth more than they cost are added to the collection: generation of columns
//! (Gilmore & Gomory 1961), with three moves at random in place of the exact search for the best one: a
//! sheet filled from nothing, part of one in use emptied and filled anew, and parts squeezed into one.

use super::construct::{Recipe, complete};
use super::fill::{Filling, Sheet, fill};
use super::moves::squeeze;
use super::nesting::{Nesting, Score, Worth};
use super::prices::{Column, Prices, prices};
use super::tables::Tables;
use super::work::{Watch, Work};
use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64Mcg;
use rayon::prelude::*;

/// Logical workers that fill sheets for the same prices. Fixed, so that results repeat.
const WORKERS: usize = 4;

/// Sheets each of them fills before the prices are worked out anew.
const FILLS: usize = 6;

/// How often a sheet is filled from nothing, filled anew in part, or has parts squeezed in. The last two
/// start from what is good already, but on their own would find only more of the same.
const MOVES: [f64; 3] = [0.6, 0.25, 0.15];

/// Most steps for one attempt to squeeze parts in.
const SQUEEZE_STEPS: u64 = 30_000;

/// Most parts taken off before others are squeezed in.
const MOST_SWAPPED: usize = 2;

/// Share of the steps that collecting may take; the rest is for whole nests.
const COLLECT_SHARE: f64 = 0.6;

/// Rounds without a gain after which the collection is taken to be as good as it gets.
const PATIENCE: u32 = 12;

/// A gain in the cost by fractions below this share is none.
const GAIN: f64 = 2e-4;

/// Most sheets in the collection for each kind of part. Those taken least lately, by their price, go.
const PER_KIND: usize = 4;

/// Kinds of parts above which the prices would take longer than the filling.
const MOST_KINDS: usize = 250;

/// Whole nests put together from the collection, each with another choice for the rest.
const TRIES: usize = 6;

/// A sheet and what it is worth.
#[derive(Debug, Clone)]
pub(super) struct Pattern {
    pub sheet: Sheet,
    pub worth: Worth,
    pub column: Column,
}

impl Pattern {
    pub fn new(tables: &Tables, sheet: Sheet, worth: Worth) -> Self {
        let mut counts = vec![0_u32; tables.problem.parts.len()];
        for (_, item) in &sheet.items {
            counts[item.part] += 1;
        }
        Self {
            column: Column {
                counts,
                costs: worth.spend.max(0.0),
                supply: tables.problem.stock[sheet.stock].supply,
            },
            sheet,
            worth,
        }
    }

    /// What it costs less what is on it.
    pub fn excess(&self, prices: &Prices) -> f64 {
        excess(&self.column, prices)
    }
}

fn excess(column: &Column, prices: &Prices) -> f64 {
    let counts = column.counts.iter().zip(&prices.part);
    let worth: f64 = counts.map(|(n, v)| f64::from(*n) * v).sum();
    column.costs + prices.supply[column.supply] - worth
}

/// A nesting made of sheets that suit each other, from those of `first` and of `others` on, and the steps it took;
/// `None` where that is not worth trying.
pub(super) fn by_patterns(
    tables: &Tables,
    first: &Nesting,
    others: Vec<Pattern>,
    steps: u64,
    random: &mut Pcg64Mcg,
    watch: &Watch,
) -> Option<(Nesting, Score, u64)> {
    let problem = tables.problem;
    let kinds = problem.parts.len();
    if kinds > MOST_KINDS {
        return None;
    }
    // What could not be placed at first is not wanted: prices must be payable.
    let wanted: Vec<u32> = (0..kinds)
        .map(|p| problem.parts[p].quantity.saturating_sub(first.missing[p]))
        .collect();
    let mut pool: Vec<Pattern> = Vec::new();
    for (sheet, worth) in &first.sheets {
        if pool.last().is_none_or(|p| p.sheet != *sheet) {
            pool.push(Pattern::new(tables, sheet.clone(), *worth));
        }
    }
    pool.extend(others);
    let mut used = 0;
    let mut least = f64::INFINITY;
    let mut idle = 0;
    let solve = |pool: &[Pattern]| {
        let columns: Vec<Column> = pool.iter().map(|p| p.column.clone()).collect();
        prices(&columns, &wanted, &problem.supplies)
    };
    let mut now = solve(&pool);
    let collect = (steps as f64 * COLLECT_SHARE) as u64;
    while used < collect && idle < PATIENCE && !watch.stopped() {
        let seeds: Vec<u64> = (0..WORKERS).map(|_| random.random()).collect();
        let share = (collect - used) / WORKERS as u64 + 1;
        let in_use: Vec<&Pattern> = (pool.iter().zip(&now.times))
            .filter(|(_, times)| **times > 0.0)
            .map(|(pattern, _)| pattern)
            .collect();
        let found: Vec<(Vec<Pattern>, u64)> = seeds
            .par_iter()
            .map(|seed| {
                let mut own = Pcg64Mcg::seed_from_u64(*seed);
                let mut work = Work::of_steps(share);
                let mut found = Vec::new();
                let fitter = Fitter {
                    tables,
                    prices: &now,
                    wanted: &wanted,
                    watch,
                };
                for _ in 0..FILLS {
                    found.extend(fitter.fitted(&in_use, &mut own, &mut work));
                }
                (found, work.steps())
            })
            .collect();
        for (patterns, steps) in found {
            // Fills that take less than a step must come to an end too.
            used += steps.max(1);
            for pattern in patterns {
                let known = |p: &Pattern| {
                    p.sheet.stock == pattern.sheet.stock
                        && p.column.counts == pattern.column.counts
                        && p.column.costs <= pattern.column.costs
                };
                if !pool.iter().any(known) {
                    pool.push(pattern);
                }
            }
        }
        now = solve(&pool);
        let cost: f64 = now
            .times
            .iter()
            .zip(&pool)
            .map(|(t, p)| t * p.worth.spend)
            .sum();
        // Where scrap brings more than sheets cost it is below nothing.
        if least.is_infinite() || cost < least - GAIN * least.abs() {
            (least, idle) = (cost, 0);
        } else {
            idle += 1;
        }
        let most = (PER_KIND * kinds).max(64);
        if pool.len() > 2 * most {
            let mut order: Vec<usize> = (0..pool.len()).collect();
            let key = |i: usize| {
                if now.times[i] > 0.0 {
                    -1.0
                } else {
                    pool[i].excess(&now)
                }
            };
            order.sort_by(|&a, &b| key(a).total_cmp(&key(b)).then(a.cmp(&b)));
            order.truncate(most);
            order.sort_unstable();
            pool = order.iter().map(|i| pool[*i].clone()).collect();
            now = solve(&pool);
        }
    }
    // Whole numbers: each worker puts nests together, the best one stands.
    let seeds: Vec<u64> = (0..TRIES).map(|_| random.random()).collect();
    let share = steps.saturating_sub(used) / TRIES as u64;
    let made: Vec<(Nesting, Score, u64)> = seeds
        .par_iter()
        .enumerate()
        .map(|(i, seed)| {
            let mut own = Pcg64Mcg::seed_from_u64(*seed);
            // One at least has to come out whole.
            let mut work = Work::of_steps(if i == 0 { u64::MAX } else { share });
            let nesting = whole(tables, &pool, &now, i > 0, &mut own, watch, &mut work);
            let score = nesting.score(tables);
            (nesting, score, work.steps())
        })
        .collect();
    used += made.iter().map(|m| m.2).sum::<u64>();
    let mut best: Option<(Nesting, Score)> = None;
    for (nesting, score, _) in made {
        if best.as_ref().is_none_or(|b| score.beats(&b.1)) {
            best = Some((nesting, score));
        }
    }
    best.map(|(nesting, score)| (nesting, score, used))
}

/// Fits sheets to prices.
struct Fitter<'a> {
    tables: &'a Tables<'a>,
    prices: &'a Prices,
    wanted: &'a [u32],
    watch: &'a Watch<'a>,
}

impl Fitter<'_> {
    /// A sheet with some of the wanted copies, from nothing or from one of those in use; `None` when it
    /// is worth no more than it costs.
    fn fitted(
        &self,
        in_use: &[&Pattern],
        random: &mut Pcg64Mcg,
        work: &mut Work,
    ) -> Option<Pattern> {
        if work.spent() || self.watch.stopped() {
            return None;
        }
        let pick = random.random::<f64>();
        let sheet = if in_use.is_empty() || pick < MOVES[0] {
            self.filled(random, work)?
        } else {
            let from = in_use[random.random_range(0..in_use.len())];
            if pick < MOVES[0] + MOVES[1] {
                self.filled_anew(from, random, work)
            } else {
                self.squeezed(from, random, work)?
            }
        };
        if sheet.items.is_empty() || self.watch.stopped() || work.spent() {
            return None;
        }
        let (tables, stock) = (self.tables, &self.tables.problem.stock[sheet.stock]);
        // At its best all that is left is kept; no closer look at what loses even so.
        let left = (stock.outline.area() - sheet.part_area(tables)).max(0.0);
        let kept = stock.keep.value_of(left, 0.0).min(stock.cost);
        let hoped = Worth {
            spend: stock.cost - kept,
            offcut: 0.0,
            part_area: 0.0,
            used_area: 0.0,
        };
        let hoped = Pattern::new(tables, sheet, hoped);
        if hoped.excess(self.prices) >= 0.0 {
            return None;
        }
        let worth = Worth::of(&hoped.sheet, tables, work);
        let pattern = Pattern::new(tables, hoped.sheet, worth);
        (pattern.excess(self.prices) < -GAIN * worth.spend).then_some(pattern)
    }

    /// A sheet filled from nothing.
    fn filled(&self, random: &mut Pcg64Mcg, work: &mut Work) -> Option<Sheet> {
        let problem = self.tables.problem;
        let open: Vec<usize> = (0..problem.stock.len())
            .filter(|s| problem.supplies[problem.stock[*s].supply] != Some(0))
            .collect();
        if open.is_empty() {
            return None;
        }
        let stock = open[random.random_range(0..open.len())];
        let recipe = priced(self.tables, self.prices, self.wanted, random);
        let mut taste = recipe.taste(self.tables, stock, random);
        let (order, wanted) = (&recipe.order, self.wanted);
        Some(fill(
            self.tables,
            stock,
            order,
            wanted,
            &mut taste,
            self.watch,
            work,
        ))
    }

    /// A sheet of which what is nearest to a place at random is taken off, and others laid down.
    fn filled_anew(&self, from: &Pattern, random: &mut Pcg64Mcg, work: &mut Work) -> Sheet {
        let tables = self.tables;
        let stock = from.sheet.stock;
        let bounds = tables.problem.stock[stock].outline.bounds();
        let x = bounds.min.x + random.random::<f64>() * bounds.width();
        let y = bounds.min.y + random.random::<f64>() * bounds.height();
        // Whole ends as often as holes in the middle.
        let (across, along) = [(1.0, 1.0), (1.0, 0.0), (0.0, 1.0)][random.random_range(0..3)];
        let mut items = from.sheet.items.clone();
        items.sort_by(|a, b| {
            let far = |(_, item): &(usize, super::region::Item)| {
                let turned = &tables.catalogue.turned[item.pose.turned];
                let dx = item.at.x + 0.5 * turned.width - x;
                let dy = item.at.y + 0.5 * turned.height - y;
                (across * dx).hypot(along * dy)
            };
            far(b).total_cmp(&far(a))
        });
        let share = random.random_range(0.2..0.8);
        items.truncate((items.len() as f64 * share) as usize);
        let mut left = self.wanted.to_vec();
        for (_, item) in &items {
            left[item.part] = left[item.part].saturating_sub(1);
        }
        let recipe = priced(tables, self.prices, self.wanted, random);
        let mut taste = recipe.taste(tables, stock, random);
        let mut filling = Filling::with(tables, stock, &items);
        filling.fill(&recipe.order, &mut left, &mut taste, self.watch, work);
        filling.sheet()
    }

    /// A sheet with parts squeezed in, perhaps in place of others worth less.
    fn squeezed(&self, from: &Pattern, random: &mut Pcg64Mcg, work: &mut Work) -> Option<Sheet> {
        let mut sheet = from.sheet.clone();
        let mut off = 0.0;
        for _ in 0..random.random_range(0..=MOST_SWAPPED) {
            if sheet.items.len() > 1 {
                let at = random.random_range(0..sheet.items.len());
                off += self.prices.part[sheet.items.swap_remove(at).1.part];
            }
        }
        let mut missing = vec![0; self.wanted.len()];
        let better: Vec<usize> = (0..missing.len())
            .filter(|p| self.wanted[*p] > 0 && self.prices.part[*p] > off)
            .collect();
        if better.is_empty() {
            return None;
        }
        missing[better[random.random_range(0..better.len())]] = 1;
        // What it is worth is found out afterwards.
        let nesting = Nesting {
            sheets: vec![(sheet, from.worth)],
            missing,
        };
        let mut own = work.split(SQUEEZE_STEPS);
        let squeezed = squeeze(self.tables, &nesting, random, self.watch, &mut own);
        work.join(&own);
        squeezed?.sheets.pop().map(|(sheet, _)| sheet)
    }
}

/// A recipe that lays down what is worth most for its room first, with whims.
fn priced(tables: &Tables, prices: &Prices, wanted: &[u32], random: &mut Pcg64Mcg) -> Recipe {
    let mut recipe = Recipe::plain(tables);
    let spread = [0.02, 0.1, 0.3, 0.8][random.random_range(0..4)];
    let power = [0.0, 0.5, 1.0, 2.0, 4.0][random.random_range(0..5)];
    let by_copy = random.random_bool(0.5);
    let mut keyed: Vec<(f64, usize, u32)> = Vec::new();
    for (part, &price) in prices.part.iter().enumerate() {
        let shape = tables.catalogue.shape(part);
        let rate = price / shape.area.max(1e-9);
        if wanted[part] == 0 || rate <= 0.0 {
            continue;
        }
        // A few copies at a time, or those of one part would take all of the sheet.
        let bundles = if by_copy {
            1 + random.random_range(0..6)
        } else {
            1
        };
        for i in 0..bundles {
            let noise = spread * (random.random::<f64>() + random.random::<f64>() - 1.0);
            let copies = if i + 1 == bundles {
                u32::MAX
            } else {
                1 + random.random_range(0..4)
            };
            let later = 0.7_f64.powi(i);
            keyed.push((
                shape.room * rate.powf(power) * noise.exp() * later,
                part,
                copies,
            ));
        }
    }
    keyed.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    let rest = std::mem::take(&mut recipe.order);
    let keyed = keyed.into_iter().map(|(_, part, copies)| (part, copies));
    recipe.order = keyed.chain(rest).collect();
    recipe.blur = [0.0, 0.0, 0.02, 0.1][random.random_range(0..4)];
    recipe.value.clone_from(&prices.part);
    recipe
}

/// A whole nesting: the patterns as often as in the solution by fractions, rounded down, then those with
/// most of their share left, then what is still missing filled in.
fn whole(
    tables: &Tables,
    pool: &[Pattern],
    now: &Prices,
    whims: bool,
    random: &mut Pcg64Mcg,
    watch: &Watch,
    work: &mut Work,
) -> Nesting {
    let mut nesting = super::construct::empty(tables);
    let mut left = tables.problem.supplies.clone();
    let mut take = |pattern: &Pattern, times: u32, nesting: &mut Nesting| {
        let counts = pattern.column.counts.iter().zip(&nesting.missing);
        let most = counts
            .filter(|(n, _)| **n > 0)
            .map(|(n, missing)| missing / n)
            .min()
            .unwrap_or(0);
        let mut times = times.min(most);
        if let Some(n) = &mut left[pattern.column.supply] {
            times = times.min(*n);
            *n -= times;
        }
        for (missing, n) in nesting.missing.iter_mut().zip(&pattern.column.counts) {
            *missing -= n * times;
        }
        for _ in 0..times {
            nesting.sheets.push((pattern.sheet.clone(), pattern.worth));
        }
    };
    for (pattern, times) in pool.iter().zip(&now.times) {
        // A hair below a whole number is rounding.
        take(pattern, (times + 1e-6).floor() as u32, &mut nesting);
    }
    let mut rest: Vec<(f64, usize)> = now
        .times
        .iter()
        .enumerate()
        .map(|(i, times)| {
            let whim = if whims {
                0.5 * random.random::<f64>()
            } else {
                0.0
            };
            (times.fract() + whim, i)
        })
        .filter(|(_, i)| now.times[*i] > 1e-6)
        .collect();
    rest.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    for (_, i) in rest {
        take(&pool[i], 1, &mut nesting);
    }
    let recipe = Recipe {
        value: now.part.clone(),
        ..if whims {
            priced(tables, now, &nesting.missing, random)
        } else {
            Recipe::plain(tables)
        }
    };
    complete(
        tables,
        &mut nesting,
        &recipe,
        f64::INFINITY,
        random,
        watch,
        work,
    );
    nesting
}

//! A first whole nesting: stock chosen one after another, each filled as far as it goes.

use super::fill::{Sheet, Taste, fill};
use super::nesting::{Nesting, Worth};
use super::region::Pull;
use super::tables::Tables;
use super::work::{Watch, Work};
use rand::RngExt;
use rand_pcg::Pcg64Mcg;

/// How many kinds of stock are tried before one is taken.
const TRIED: usize = 6;

/// How a nesting is built.
#[derive(Debug, Clone)]
pub(super) struct Recipe {
    /// Parts in the order in which they are laid down, with the copies taken at a time.
    pub order: Vec<(usize, u32)>,
    /// Where they are pulled; `None` for along the longer side of the stock.
    pub pull: Option<Pull>,
    /// Whims in the choice between poses; see [`Taste`].
    pub blur: f64,
    /// How many poses of each part are tried; see [`Taste`].
    pub poses: usize,
    /// Whether poses half a turn apart go first; see [`Taste`].
    pub half_turns: bool,
    /// Whether parts are passed over; see [`Taste`].
    pub hurry: bool,
    /// Kinds of stock not to use.
    pub without: Vec<bool>,
    /// What a copy of each part is worth in the choice of stock.
    pub value: Vec<f64>,
    /// Whims in the choice of stock: by how much, as a share, one kind may be preferred to another.
    pub whim: f64,
}

impl Recipe {
    /// Large parts first, those of higher priority before all others, on any stock.
    pub fn plain(tables: &Tables) -> Self {
        let catalogue = &tables.catalogue;
        let mut order: Vec<usize> = (0..catalogue.shape_of.len()).collect();
        order.sort_by(|&a, &b| {
            let room = |part| catalogue.shape(part).room;
            let priority = |part: usize| tables.problem.parts[part].priority;
            let by_size = room(b).total_cmp(&room(a)).then(a.cmp(&b));
            priority(b).cmp(&priority(a)).then(by_size)
        });
        Self {
            order: order.into_iter().map(|part| (part, u32::MAX)).collect(),
            pull: None,
            blur: 0.0,
            poses: usize::MAX,
            half_turns: false,
            hurry: order_is_long(tables),
            without: vec![false; tables.problem.stock.len()],
            value: (0..catalogue.shape_of.len())
                .map(|part| catalogue.shape(part).area)
                .collect(),
            whim: 0.0,
        }
    }

    /// Of the lowest priority small parts first: of short stock more copies come out of it so.
    pub fn small_first(tables: &Tables) -> Self {
        let mut recipe = Self::plain(tables);
        let priority = |part: usize| tables.problem.parts[part].priority;
        let lowest = recipe.order.iter().map(|(part, _)| priority(*part)).min();
        let above = recipe
            .order
            .iter()
            .take_while(|(part, _)| Some(priority(*part)) != lowest);
        let above = above.count();
        recipe.order[above..].reverse();
        recipe
    }

    /// How places are chosen on `stock`.
    pub fn taste<'r>(&self, tables: &Tables, stock: usize, random: &'r mut Pcg64Mcg) -> Taste<'r> {
        Taste {
            pull: self.pull.unwrap_or_else(|| lengthwise(tables, stock)),
            blur: self.blur,
            poses: self.poses,
            half_turns: self.half_turns,
            hurry: self.hurry,
            random,
        }
    }
}

/// Kinds of parts from which on not every one is tried on every sheet.
const MANY_KINDS: usize = 100;

/// Whether the order has so many kinds of parts that filling passes over some.
pub(super) fn order_is_long(tables: &Tables) -> bool {
    tables.problem.parts.len() >= MANY_KINDS
}

/// Copies of a part from which on it is worth a try to lay them in rows.
const MANY_COPIES: u32 = 8;

/// Share of the area of all parts that those have which come in many copies and may lie otherwise than half a turn apart.
pub(super) fn share_for_rows(tables: &Tables) -> f64 {
    let mut all = 0.0;
    let mut many = 0.0;
    for (i, part) in tables.problem.parts.iter().enumerate() {
        let area = f64::from(part.quantity) * tables.catalogue.shape(i).area;
        let mut stock = 0..tables.problem.stock.len();
        all += area;
        if part.quantity >= MANY_COPIES && stock.any(|s| tables.catalogue.poses(i, s).len() > 2) {
            many += area;
        }
    }
    if all > 0.0 { many / all } else { 0.0 }
}

/// The pull that leaves a strip free across the longer side of `stock`.
pub(super) fn lengthwise(tables: &Tables, stock: usize) -> Pull {
    let bounds = tables.problem.stock[stock].outline.bounds();
    if bounds.width() >= bounds.height() {
        Pull::LEFT
    } else {
        Pull::DOWN
    }
}

/// A kind of stock filled with what is missing.
struct Candidate {
    sheet: Sheet,
    /// Copies on it, by part.
    counts: Vec<u32>,
    /// What it would cost; found out when it matters.
    worth: Option<Worth>,
}

impl Candidate {
    /// Whether filling the stock again with only the `missing` copies would give the same sheet.
    ///
    /// It would as long as no part has run short: a copy that did not fit does not fit now.
    fn holds_for(&self, missing: &[u32]) -> bool {
        self.counts.iter().zip(missing).all(|(n, m)| n <= m)
    }

    /// The least it could cost, were all that is left over kept.
    fn least_spend(&self, tables: &Tables) -> f64 {
        let stock = &tables.problem.stock[self.sheet.stock];
        let (pinned, before) = match tables.bare_of(self.sheet.stock) {
            Some(bare) => (bare.area, bare.spend),
            None => (0.0, 0.0),
        };
        let left = stock.outline.area() - self.sheet.part_area(tables) - pinned;
        (stock.cost - left.max(0.0) * stock.keep.value_per_area).max(0.0) - before
    }
}

/// Adds stock to `nesting` and fills it until nothing is missing, no stock takes anything more, or
/// the spend is above `most_spend`.
///
/// The stock taken next is the one that costs least for what its parts are worth to the recipe.
pub(super) fn complete(
    tables: &Tables,
    nesting: &mut Nesting,
    recipe: &Recipe,
    most_spend: f64,
    random: &mut Pcg64Mcg,
    watch: &Watch,
    work: &mut Work,
) {
    let problem = tables.problem;
    let mut left = nesting.supplies_left(tables);
    let taken: f64 = nesting.sheets.iter().map(|(_, w)| w.spend).sum();
    let mut spend = tables.bare_spend() + taken;
    let mut candidates: Vec<Option<Candidate>> = problem.stock.iter().map(|_| None).collect();
    let whims: Vec<f64> = problem
        .stock
        .iter()
        .map(|_| {
            if recipe.whim > 0.0 {
                (recipe.whim * (random.random::<f64>() - 0.5)).exp()
            } else {
                1.0
            }
        })
        .collect();
    while nesting.missing.iter().any(|n| *n > 0)
        && spend <= most_spend
        && !watch.stopped()
        && !work.spent()
    {
        let mut kinds: Vec<usize> = (0..problem.stock.len())
            .filter(|&s| {
                !recipe.without[s]
                    && left[problem.stock[s].supply] != Some(0)
                    && (0..nesting.missing.len())
                        .any(|p| nesting.missing[p] > 0 && tables.may_fit(p, s))
            })
            .collect();
        // What is taken in any case comes first.
        let rate = |s: usize| match tables.bare_of(s) {
            Some(_) => 0.0,
            None => problem.stock[s].cost / problem.stock[s].outline.area().max(1e-9),
        };
        kinds.sort_by(|&a, &b| rate(a).total_cmp(&rate(b)).then(a.cmp(&b)));
        let mut best: Option<(f64, usize, f64)> = None;
        let mut tried = 0;
        for stock in kinds {
            if tried == TRIED && best.is_some() {
                break;
            }
            if !candidates[stock]
                .as_ref()
                .is_some_and(|c| c.holds_for(&nesting.missing))
            {
                let mut taste = recipe.taste(tables, stock, random);
                let missing = &nesting.missing;
                let sheet = fill(
                    tables,
                    stock,
                    &recipe.order,
                    missing,
                    &mut taste,
                    watch,
                    work,
                );
                let mut counts = vec![0_u32; missing.len()];
                for (_, item) in &sheet.items {
                    counts[item.part] += 1;
                }
                candidates[stock] = Some(Candidate {
                    sheet,
                    counts,
                    worth: None,
                });
            }
            let Some(candidate) = candidates[stock].as_mut() else {
                continue;
            };
            if candidate.sheet.items.is_empty() {
                continue;
            }
            tried += 1;
            let value: f64 = candidate
                .counts
                .iter()
                .zip(&recipe.value)
                .map(|(n, v)| f64::from(*n) * v)
                .sum();
            let rate = |spend: f64| whims[stock] * spend / value.max(1e-9);
            // Not worth a closer look when it loses at its best.
            if best.is_some_and(|(least, _, _)| rate(candidate.least_spend(tables)) > least) {
                continue;
            }
            let worth = *candidate
                .worth
                .get_or_insert_with(|| Worth::of(&candidate.sheet, tables, work));
            let rate = rate(worth.spend);
            let better = best.is_none_or(|(least, _, area)| {
                rate < least || rate == least && worth.part_area > area
            });
            if better {
                best = Some((rate, stock, worth.part_area));
            }
            // Stock that is taken in any case need not be compared with other stock.
            if tables.bare_of(stock).is_some() {
                break;
            }
        }
        let Some(chosen) = best.and_then(|(_, stock, _)| candidates[stock].take()) else {
            return;
        };
        let Candidate {
            sheet,
            counts,
            worth: Some(worth),
        } = chosen
        else {
            return;
        };
        // The same sheet again, as often as parts and stock allow: large orders repeat themselves.
        let supply = problem.stock[sheet.stock].supply;
        let mut times = counts
            .iter()
            .zip(&nesting.missing)
            .filter(|(n, _)| **n > 0)
            .map(|(n, missing)| missing / n)
            .min()
            .unwrap_or(1)
            .max(1);
        if let Some(n) = &mut left[supply] {
            times = times.min(*n).max(1);
            *n = n.saturating_sub(times);
        }
        for (missing, n) in nesting.missing.iter_mut().zip(&counts) {
            *missing = missing.saturating_sub(n * times);
        }
        spend += f64::from(times) * worth.spend;
        for _ in 0..times {
            nesting.sheets.push((sheet.clone(), worth));
        }
    }
}

/// Nothing placed yet but what is pinned.
pub(super) fn empty(tables: &Tables) -> Nesting {
    Nesting {
        sheets: Vec::new(),
        missing: tables
            .problem
            .parts
            .iter()
            .zip(tables.problem.pinned_counts())
            .map(|(part, pinned)| part.quantity.saturating_sub(pinned))
            .collect(),
    }
}

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

    /// What its parts are worth to the recipe.
    fn value(&self, recipe: &Recipe) -> f64 {
        let counts = self.counts.iter().zip(&recipe.value);
        counts.map(|(n, v)| f64::from(*n) * v).sum()
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
    let taken: f64 = nesting.sheets.iter().map(|(_, w)| w.spend).sum();
    let mut spend = tables.bare_spend() + taken;
    let mut choice = Choice::new(tables, nesting, recipe, random);
    while nesting.missing.iter().any(|n| *n > 0)
        && spend <= most_spend
        && !watch.stopped()
        && !work.spent()
    {
        let Some((candidate, worth)) = choice.next(&nesting.missing, random, watch, work) else {
            return;
        };
        // The same sheet again, as often as parts and stock allow: large orders repeat themselves.
        let times = choice.take(&candidate, &nesting.missing);
        for (missing, n) in nesting.missing.iter_mut().zip(&candidate.counts) {
            *missing = missing.saturating_sub(n * times);
        }
        spend += f64::from(times) * worth.spend;
        for _ in 0..times {
            nesting.sheets.push((candidate.sheet.clone(), worth));
        }
    }
}

/// What stock is chosen from.
struct Choice<'a> {
    tables: &'a Tables<'a>,
    recipe: &'a Recipe,
    /// How many of each supply are left; `None` for any number.
    left: Vec<Option<u32>>,
    /// By stock: as it was filled last.
    candidates: Vec<Option<Candidate>>,
    /// By stock: what its rate is multiplied by.
    whims: Vec<f64>,
}

impl<'a> Choice<'a> {
    fn new(
        tables: &'a Tables<'a>,
        nesting: &Nesting,
        recipe: &'a Recipe,
        random: &mut Pcg64Mcg,
    ) -> Self {
        let stock = &tables.problem.stock;
        let mut whim = || {
            if recipe.whim > 0.0 {
                (recipe.whim * (random.random::<f64>() - 0.5)).exp()
            } else {
                1.0
            }
        };
        Self {
            tables,
            recipe,
            left: nesting.supplies_left(tables),
            candidates: stock.iter().map(|_| None).collect(),
            whims: stock.iter().map(|_| whim()).collect(),
        }
    }

    /// Stock that is there and may take something that is missing, in the order in which it is tried: what is taken in any
    /// case, then by its price for an area.
    fn kinds(&self, missing: &[u32]) -> Vec<usize> {
        let (tables, stock) = (self.tables, &self.tables.problem.stock);
        let mut kinds: Vec<usize> = (0..stock.len())
            .filter(|&s| {
                !self.recipe.without[s]
                    && self.left[stock[s].supply] != Some(0)
                    && (0..missing.len()).any(|p| missing[p] > 0 && tables.may_fit(p, s))
            })
            .collect();
        let rate = |s: usize| match tables.bare_of(s) {
            Some(_) => 0.0,
            None => stock[s].cost / stock[s].outline.area().max(1e-9),
        };
        kinds.sort_by(|&a, &b| rate(a).total_cmp(&rate(b)).then(a.cmp(&b)));
        kinds
    }

    /// The stock to take next, filled, and what it costs; `None` when none takes anything.
    fn next(
        &mut self,
        missing: &[u32],
        random: &mut Pcg64Mcg,
        watch: &Watch,
        work: &mut Work,
    ) -> Option<(Candidate, Worth)> {
        let (tables, recipe) = (self.tables, self.recipe);
        let mut best: Option<(f64, usize, Worth)> = None;
        let mut tried = 0;
        for stock in self.kinds(missing) {
            if tried == TRIED && best.is_some() {
                break;
            }
            let whim = self.whims[stock];
            let candidate = self.filled(stock, missing, random, watch, work);
            if candidate.sheet.items.is_empty() {
                continue;
            }
            tried += 1;
            let value = candidate.value(recipe);
            let rate = |spend: f64| whim * spend / value.max(1e-9);
            // Not worth a closer look when it loses at its best.
            if best.is_some_and(|(least, ..)| rate(candidate.least_spend(tables)) > least) {
                continue;
            }
            let worth = *candidate
                .worth
                .get_or_insert_with(|| Worth::of(&candidate.sheet, tables, work));
            let rate = rate(worth.spend);
            let better = best.is_none_or(|(least, _, other)| {
                rate < least || rate == least && worth.part_area > other.part_area
            });
            if better {
                best = Some((rate, stock, worth));
            }
            // Stock that is taken in any case need not be compared with other stock.
            if tables.bare_of(stock).is_some() {
                break;
            }
        }
        let (_, stock, worth) = best?;
        Some((self.candidates[stock].take()?, worth))
    }

    /// The stock filled with what is missing: as before where that holds, else anew.
    fn filled(
        &mut self,
        stock: usize,
        missing: &[u32],
        random: &mut Pcg64Mcg,
        watch: &Watch,
        work: &mut Work,
    ) -> &mut Candidate {
        let (tables, recipe) = (self.tables, self.recipe);
        let before = self.candidates[stock].take();
        let candidate = before.filter(|c| c.holds_for(missing)).unwrap_or_else(|| {
            let mut taste = recipe.taste(tables, stock, random);
            let order = &recipe.order;
            let sheet = fill(tables, stock, order, missing, &mut taste, watch, work);
            let mut counts = vec![0_u32; missing.len()];
            for (_, item) in &sheet.items {
                counts[item.part] += 1;
            }
            Candidate {
                sheet,
                counts,
                worth: None,
            }
        });
        self.candidates[stock].insert(candidate)
    }

    /// How often a sheet is taken, at least once; takes that from its supply.
    fn take(&mut self, candidate: &Candidate, missing: &[u32]) -> u32 {
        let supply = self.tables.problem.stock[candidate.sheet.stock].supply;
        let mut times = candidate
            .counts
            .iter()
            .zip(missing)
            .filter(|(n, _)| **n > 0)
            .map(|(n, missing)| missing / n)
            .min()
            .unwrap_or(1)
            .max(1);
        if let Some(n) = &mut self.left[supply] {
            times = times.min(*n).max(1);
            *n = n.saturating_sub(times);
        }
        times
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

//! A first whole nesting: stock chosen one after another, each filled as far as it goes.

use super::fill::{Sheet, Taste, fill};
use super::nesting::{Nesting, Worth};
use super::region::Pull;
use super::tables::Tables;
use super::work::{Watch, Work};
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
    /// Kinds of stock not to use.
    pub without: Vec<bool>,
}

impl Recipe {
    /// Large parts first, on any stock.
    pub fn plain(tables: &Tables) -> Self {
        let catalogue = &tables.catalogue;
        let mut order: Vec<usize> = (0..catalogue.shape_of.len()).collect();
        order.sort_by(|&a, &b| {
            let room = |part| catalogue.shape(part).room;
            room(b).total_cmp(&room(a)).then(a.cmp(&b))
        });
        Self {
            order: order.into_iter().map(|part| (part, u32::MAX)).collect(),
            pull: None,
            blur: 0.0,
            without: vec![false; tables.problem.stock.len()],
        }
    }

    /// The pull on `stock`.
    pub fn pull_on(&self, tables: &Tables, stock: usize) -> Pull {
        self.pull.unwrap_or_else(|| lengthwise(tables, stock))
    }
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

/// Adds stock to `nesting` and fills it until nothing is missing or no stock takes anything more.
pub(super) fn complete(
    tables: &Tables,
    nesting: &mut Nesting,
    recipe: &Recipe,
    random: &mut Pcg64Mcg,
    watch: &Watch,
    work: &mut Work,
) {
    let problem = tables.problem;
    let mut left = nesting.supplies_left(tables);
    while nesting.missing.iter().any(|n| *n > 0) && !watch.stopped() && !work.spent() {
        let mut kinds: Vec<usize> = (0..problem.stock.len())
            .filter(|&s| {
                !recipe.without[s]
                    && left[problem.stock[s].supply] != Some(0)
                    && (0..nesting.missing.len())
                        .any(|p| nesting.missing[p] > 0 && tables.may_fit(p, s))
            })
            .collect();
        let rate = |s: usize| problem.stock[s].cost / problem.stock[s].outline.area().max(1e-9);
        kinds.sort_by(|&a, &b| rate(a).total_cmp(&rate(b)).then(a.cmp(&b)));
        let mut best: Option<(f64, Sheet, Worth)> = None;
        let mut tried = 0;
        for stock in kinds {
            if tried == TRIED && best.is_some() {
                break;
            }
            let mut taste = Taste {
                pull: recipe.pull_on(tables, stock),
                blur: recipe.blur,
                random,
            };
            let sheet = fill(
                tables,
                stock,
                &recipe.order,
                &nesting.missing,
                &mut taste,
                watch,
                work,
            );
            if sheet.items.is_empty() {
                continue;
            }
            tried += 1;
            let worth = Worth::of(&sheet, tables);
            let rate = worth.spend / worth.part_area.max(1e-9);
            let better = best.as_ref().is_none_or(|(least, _, w)| {
                rate < *least || rate == *least && worth.part_area > w.part_area
            });
            if better {
                best = Some((rate, sheet, worth));
            }
        }
        let Some((_, sheet, worth)) = best else {
            return;
        };
        // The same sheet again, as often as parts and stock allow: large orders repeat themselves.
        let mut counts = vec![0_u32; nesting.missing.len()];
        for (_, item) in &sheet.items {
            counts[item.part] += 1;
        }
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
        for _ in 0..times {
            nesting.sheets.push((sheet.clone(), worth));
        }
    }
}

/// Nothing placed yet.
pub(super) fn empty(tables: &Tables) -> Nesting {
    Nesting {
        sheets: Vec::new(),
        missing: tables.problem.parts.iter().map(|p| p.quantity).collect(),
    }
}

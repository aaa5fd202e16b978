//! Nests put together from sheets of earlier ones.
//!
//! Each nest that comes near the best one has some good sheets and some poor ones. They are collected, and the linear
//! relaxation over the collection tells which of them suit each other: one after another, the sheet with the
//! largest share in it is taken and the relaxation solved again for what is left (diving; Wolsey 1998, chapter
//! 12). What the collection has no sheet for is filled in.

use super::construct::{Recipe, complete, empty};
use super::fill::{Filling, Sheet};
use super::nesting::{Nesting, Worth};
use super::patterns::Pattern;
use super::prices::{Column, prices};
use super::tables::Tables;
use super::work::{Watch, Work};
use rand::RngExt;
use rand_pcg::Pcg64Mcg;
use std::sync::Arc;

/// Kinds of parts above which a relaxation would take longer than filling a few sheets.
pub(super) const MOST_KINDS: usize = 100;

/// Most sheets in a collection that streams share.
const MOST_SHARED: usize = 1_000;

/// Most in that of one stream until collections are joined again.
const MOST_OWN: usize = 2_000;

/// What a copy costs that no sheet of the collection holds, as a multiple of what its area costs on the nest at hand.
const LEFT_OUT: f64 = 2.0;

/// Share of a sheet in the relaxation below which it is not taken.
const LEAST_SHARE: f64 = 0.05;

/// Whims in the choice of the next sheet, in shares; one is drawn for each nest.
const WHIMS: [f64; 3] = [0.0, 0.2, 0.6];

/// Chance that a sheet of the nest at hand stays, drawn for each nest between these; below 0 none does.
const STAY: [f64; 2] = [-0.2, 0.6];

/// Numbers of a relaxation's table that are worked out in a step, as many pivots as unknowns assumed (measured).
const NUMBERS_PER_STEP: u64 = 1_000;

/// Collected sheets that are compared in the time of one look at a convex area.
const COMPARED_PER_LOOK: u64 = 10;

/// Sheets of nests that were near the best.
#[derive(Debug, Clone, Default)]
pub(super) struct Collection {
    patterns: Vec<Arc<Pattern>>,
}

impl Collection {
    /// Whether nothing is collected yet.
    pub fn is_empty(&self) -> bool {
        self.patterns.is_empty()
    }

    /// Adds the sheets of a whole nest, those that are not known.
    pub fn note(&mut self, tables: &Tables, nesting: &Nesting, work: &mut Work) {
        for (sheet, worth) in &nesting.sheets {
            work.add(1 + self.patterns.len() as u64 / COMPARED_PER_LOOK);
            let pattern = Pattern::new(tables, sheet.clone(), *worth);
            if self.patterns.len() < MOST_OWN && !self.knows(&pattern) {
                self.patterns.push(Arc::new(pattern));
            }
        }
    }

    /// Whether there is a sheet with the same copies that costs no more.
    fn knows(&self, new: &Pattern) -> bool {
        self.patterns.iter().any(|p| {
            p.sheet.stock == new.sheet.stock
                && p.column.costs <= new.column.costs
                && p.column.counts == new.column.counts
        })
    }

    /// All of several collections; of too many those whose parts are worth most for what they cost.
    pub fn joined<'c>(all: impl Iterator<Item = &'c Self>, tables: &Tables) -> Self {
        let mut joined = Self::default();
        for pattern in all.flat_map(|c| &c.patterns) {
            if !joined.knows(pattern) {
                joined.patterns.push(pattern.clone());
            }
        }
        joined.thin(tables, MOST_SHARED);
        joined
    }

    /// Leaves the `most` whose parts are worth most for what they cost.
    fn thin(&mut self, tables: &Tables, most: usize) {
        if self.patterns.len() <= most {
            return;
        }
        let columns: Vec<Column> = self.patterns.iter().map(|p| p.column.clone()).collect();
        let now = prices(&columns, &empty(tables).missing, &tables.problem.supplies);
        let mut keyed: Vec<(f64, usize)> = (self.patterns.iter().enumerate())
            .map(|(i, p)| (p.excess(&now), i))
            .collect();
        keyed.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        keyed.truncate(most);
        keyed.sort_by_key(|k| k.1);
        self.patterns = (keyed.iter().map(|k| self.patterns[k.1].clone())).collect();
    }

    /// A nest of collected sheets and perhaps some of `base`, filled up by `recipe`. Copies are missing where stock
    /// or `work` ended.
    pub fn assembled(
        &self,
        tables: &Tables,
        base: &Nesting,
        recipe: &Recipe,
        random: &mut Pcg64Mcg,
        watch: &Watch,
        work: &mut Work,
    ) -> Nesting {
        let mut nesting = empty(tables);
        let stay = random.random_range(STAY[0]..STAY[1]).max(0.0);
        for (sheet, worth) in &base.sheets {
            if random.random_bool(stay) {
                take(tables, &mut nesting, sheet, *worth, work);
            }
        }
        let (mut area, mut spend) = (0.0, 0.0);
        for (_, worth) in &base.sheets {
            area += worth.part_area;
            spend += worth.spend.max(0.0);
        }
        let left_out = LEFT_OUT * spend / f64::max(area, 1e-9);
        let whim = WHIMS[random.random_range(0..WHIMS.len())];
        while nesting.missing.iter().any(|n| *n > 0) && !work.spent() && !watch.stopped() {
            let shares = self.shares(tables, &nesting, left_out, work);
            let mut best: Option<(f64, usize)> = None;
            for (i, share) in shares {
                let liked = share.min(1.0) + whim * random.random::<f64>();
                if share >= LEAST_SHARE && best.is_none_or(|(most, _)| liked > most) {
                    best = Some((liked, i));
                }
            }
            let Some((_, i)) = best else {
                break;
            };
            let Pattern { sheet, worth, .. } = &*self.patterns[i];
            take(tables, &mut nesting, sheet, *worth, work);
        }
        fill_up(tables, &mut nesting, recipe, random, watch, work);
        let most = f64::INFINITY;
        complete(tables, &mut nesting, recipe, most, random, watch, work);
        nesting
    }

    /// How often each sheet of the collection, by its index, is taken in fractions for what `nesting` is missing; a
    /// square millimetre of a part may be left out for `left_out`.
    fn shares(
        &self,
        tables: &Tables,
        nesting: &Nesting,
        left_out: f64,
        work: &mut Work,
    ) -> Vec<(usize, f64)> {
        let missing = &nesting.missing;
        // Copies left out have a supply of their own, without end.
        let mut supplies = nesting.supplies_left(tables);
        let without_end = supplies.len();
        supplies.push(None);
        let mut columns = Vec::with_capacity(self.patterns.len() + missing.len());
        let mut indices = Vec::with_capacity(self.patterns.len());
        for (i, pattern) in self.patterns.iter().enumerate() {
            let column = &pattern.column;
            if supplies[column.supply] != Some(0) {
                let counts = column.counts.iter().zip(missing);
                columns.push(Column {
                    counts: counts.map(|(n, m)| *n.min(m)).collect(),
                    ..*column
                });
                indices.push(i);
            }
        }
        columns.extend((0..missing.len()).map(|part| {
            let mut counts = vec![0; missing.len()];
            counts[part] = 1;
            Column {
                counts,
                costs: left_out * tables.catalogue.shape(part).area,
                supply: without_end,
            }
        }));
        let unknowns = (missing.len() + supplies.len()) as u64;
        work.add_steps(columns.len() as u64 * unknowns * unknowns / NUMBERS_PER_STEP);
        let times = prices(&columns, missing, &supplies).times;
        indices.into_iter().zip(times).collect()
    }
}

/// Adds a sheet to `nesting`, without the copies that are not missing there.
fn take(tables: &Tables, nesting: &mut Nesting, sheet: &Sheet, worth: Worth, work: &mut Work) {
    let mut own = sheet.clone();
    own.items.retain(|(_, item)| {
        let missing = &mut nesting.missing[item.part];
        let wanted = *missing > 0;
        *missing = missing.saturating_sub(1);
        wanted
    });
    let worth = if own.items.len() == sheet.items.len() {
        worth
    } else {
        Worth::of(&own, tables, work)
    };
    nesting.sheets.push((own, worth));
}

/// Lays missing copies where there is room for them on the sheets of `nesting`.
fn fill_up(
    tables: &Tables,
    nesting: &mut Nesting,
    recipe: &Recipe,
    random: &mut Pcg64Mcg,
    watch: &Watch,
    work: &mut Work,
) {
    let Nesting { sheets, missing } = nesting;
    for (sheet, worth) in sheets {
        if missing.iter().all(|n| *n == 0) {
            return;
        }
        let mut taste = recipe.taste(tables, sheet.stock, random);
        let mut filling = Filling::with(tables, sheet.stock, &sheet.items);
        filling.fill(&recipe.order, missing, &mut taste, watch, work);
        let filled = filling.sheet();
        if filled.items.len() > sheet.items.len() {
            *worth = Worth::of(&filled, tables, work);
            *sheet = filled;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Budget, Control, Layout, Nest, Part, PlacedPart, Problem, Stock, verify};
    use panelwright_geometry::{Outline, Placement, Point};
    use rand::SeedableRng;

    /// Eight halves of a sheet and four quarters, six sheets at 10 and one remnant for a quarter at 1.
    fn problem() -> Problem {
        let parts = vec![
            Part::new("half", Outline::rectangle(100.0, 50.0), 8),
            Part::new("quarter", Outline::rectangle(50.0, 50.0), 4),
        ];
        let stock = vec![
            Stock::sheet("sheet", 100.0, 100.0, 10.0, 0),
            Stock::sheet("remnant", 50.0, 50.0, 1.0, 1),
        ];
        Problem::new(parts, stock, vec![Some(6), Some(1)])
    }

    /// A piece of stock and what lies on it: parts with their places.
    type Cut<'a> = (usize, &'a [(usize, f64, f64)]);

    fn nest(sheets: &[Cut]) -> Nest {
        let layouts = sheets.iter().map(|(stock, parts)| Layout {
            stock: *stock,
            placed: (parts.iter())
                .map(|&(part, x, y)| PlacedPart {
                    part,
                    placement: Placement::new(0.0, Point::new(x, y)),
                })
                .collect(),
            saw_cuts: Vec::new(),
            offcuts: Vec::new(),
        });
        Nest {
            layouts: layouts.collect(),
            not_placed: Vec::new(),
        }
    }

    #[test]
    fn good_sheets_of_different_nests_come_together() {
        let problem = problem();
        let tables = Tables::new(&problem, None);
        let control = Control::none();
        let watch = Watch::new(&Budget::default(), &control);
        let mut work = Work::of_steps(10_000_000);
        let halves: Cut = (0, &[(0, 0.0, 0.0), (0, 0.0, 50.0)]);
        let half: Cut = (0, &[(0, 0.0, 0.0)]);
        let three: Cut = (0, &[(1, 0.0, 0.0), (1, 50.0, 0.0), (1, 0.0, 50.0)]);
        let remnant: Cut = (1, &[(1, 0.0, 0.0)]);
        let mut collection = Collection::default();
        // One nest has the remnant and single halves, the other pairs of them and quarters on sheets.
        let one = Nesting::of(&nest(&[remnant, half, half, half, half]), &tables);
        let other = Nesting::of(&nest(&[halves, halves, three]), &tables);
        for nesting in [&one, &other, &one] {
            collection.note(&tables, nesting, &mut work);
        }
        assert_eq!(collection.patterns.len(), 4);
        // Without stock to fill in there is nothing but the collection.
        let recipe = Recipe {
            without: vec![true; 2],
            ..Recipe::plain(&tables)
        };
        let mut least = f64::INFINITY;
        for seed in 0..40 {
            let mut random = Pcg64Mcg::seed_from_u64(seed);
            let made = collection.assembled(&tables, &one, &recipe, &mut random, &watch, &mut work);
            let mut found = made.missing.clone();
            for (_, item) in made.sheets.iter().flat_map(|(sheet, _)| &sheet.items) {
                found[item.part] += 1;
            }
            assert_eq!(found, [8, 4]);
            assert!(made.supplies_left(&tables).iter().all(Option::is_some));
            let whole = Nest {
                layouts: made.sheets.iter().map(|s| s.0.layout(&tables)).collect(),
                not_placed: Vec::new(),
            };
            let faults = verify::judge(&problem, &whole);
            let lacking = made.missing.iter().any(|n| *n > 0);
            assert!(lacking || faults.is_empty(), "{faults:?}");
            if !lacking {
                least = least.min(made.score(&tables).spend);
            }
        }
        // Four pairs, three quarters on a sheet and one on the remnant: neither nest comes near.
        assert!((least - 51.0).abs() < 1e-9, "{least}");
    }

    #[test]
    fn what_is_worth_little_for_its_cost_goes_first() {
        let problem = problem();
        let tables = Tables::new(&problem, None);
        let mut work = Work::of_steps(1_000_000);
        let mut collections = [Collection::default(), Collection::default()];
        let halves: &[_] = &[(0, 0.0, 0.0), (0, 0.0, 50.0)];
        let four: &[_] = &[(1, 0., 0.), (1, 50., 0.), (1, 0., 50.), (1, 50., 50.)];
        for (collection, parts) in collections.iter_mut().zip([halves, four]) {
            for sheet in [parts, &parts[..1]] {
                let nesting = Nesting::of(&nest(&[(0, sheet)]), &tables);
                collection.note(&tables, &nesting, &mut work);
            }
        }
        let mut joined = Collection::joined(collections.iter().chain(&collections), &tables);
        assert_eq!(joined.patterns.len(), 4);
        joined.thin(&tables, 2);
        let counts: Vec<&[u32]> = (joined.patterns.iter())
            .map(|p| &p.column.counts[..])
            .collect();
        assert_eq!(counts, [[2, 0], [0, 4]]);
    }
}

//! Nests put in the order's words and summed up.

use super::kit_claims::{KitClaims, Owners, Pool};
use super::problem::{StockRef, Used, pose};
use super::sequence::{self, Pile};
use super::task::sheets_of;
use super::zones::zones_on;
use super::{Done, Group, PlanOptions, Want, cause};
use crate::cut_plan::{Cause, CutOffcut, CutPart, CutPlan, CutSheet, Missing, Source, Totals};
use crate::given::Given;
use crate::input::Process;
use crate::job::{Job, Purchase};
use crate::letters::letters;
use panelwright_geometry::Ring;
use panelwright_nesting::{
    Layout, Method, Problem, StockKind, least_net_area, least_spend, yield_ceilings,
};
use std::collections::BTreeMap;

/// The nests of an order as sheets to be cut one after another.
pub struct Cutting<'a> {
    done: &'a [Done],
    claims: KitClaims,
    /// Every layout with the nest it belongs to.
    layouts: Vec<(usize, &'a Layout)>,
    /// What is on each layout.
    piles: Vec<Pile>,
    /// Indices into the layouts, in cutting order.
    order: Vec<usize>,
    /// By key of the claims: copies placed.
    amounts: Vec<u32>,
}

impl<'a> Cutting<'a> {
    /// Pools are what [`Done::pool`] counts.
    pub fn new(job: &Job, done: &'a [Done], pools: &[Pool]) -> Self {
        let mut placed: BTreeMap<(usize, usize), u32> = BTreeMap::new();
        for one in done {
            let counts = one.nest.placed_counts(&one.problem);
            for (want, count) in one.group.wants.iter().zip(counts) {
                if count > 0 {
                    *placed.entry((one.pool, want.item)).or_default() += count;
                }
            }
        }
        // Group by group and remnants first: these are fetched from the rack before the first sheet is
        // opened.
        let mut layouts: Vec<(usize, &Layout)> = done
            .iter()
            .enumerate()
            .flat_map(|(d, one)| one.nest.layouts.iter().map(move |l| (d, l)))
            .collect();
        layouts.sort_by_key(|(d, l)| {
            let one = &done[*d];
            let sheet = l.stock(&one.problem).kind == StockKind::Sheet;
            (one.index, sheet, one.pool, l.stock)
        });
        let claims = KitClaims::new(job, pools, &placed);
        let piles: Vec<Pile> = layouts
            .iter()
            .map(|(d, layout)| pile(&claims, &done[*d], layout))
            .collect();
        Self {
            done,
            order: sequence::order(&claims, &piles),
            amounts: claims.keys.iter().map(|key| placed[key]).collect(),
            claims,
            layouts,
            piles,
        }
    }

    /// What stays open when all is cut: see [`KitClaims::open`].
    pub fn open_at_the_end(&self) -> Vec<u32> {
        self.claims.open(&self.amounts)
    }

    /// What is open after each sheet, summed over the sheets.
    pub fn cost(&self) -> Vec<u64> {
        sequence::cost(&self.claims, &self.piles, &self.order)
    }
}

/// Puts the nests in the order's words and sums them up. Pools are what [`Done::pool`] counts, `given`
/// is an earlier nest that was taken up.
pub fn assemble(
    job: &Job,
    options: &PlanOptions,
    done: &[Done],
    pools: &[Pool],
    given: Option<&Given>,
) -> CutPlan {
    let mut totals = Totals::default();
    let mut missing: Vec<Missing> = Vec::new();
    for one in done {
        for n in &one.nest.not_placed {
            let item = one.group.wants[n.part].item;
            match missing.iter_mut().find(|m| m.item == item) {
                Some(line) => line.quantity += n.quantity,
                None => {
                    let cause = Cause::Search(n.why.clone());
                    missing.push(Missing {
                        item,
                        quantity: n.quantity,
                        why: cause::words(&cause, item, job),
                        cause,
                    });
                }
            }
        }
    }
    let ceilings = bounds(job, options, done, given, &mut totals);
    let cutting = Cutting::new(job, done, pools);
    let steps = cutting.order.iter().map(|i| &cutting.piles[*i]);
    let mut naming = Naming {
        copies: vec![0; job.items.len()],
        given: cutting.claims.nothing(),
        owners: cutting.claims.owners(&cutting.amounts, steps),
        claims: &cutting.claims,
    };
    let mut sheets: Vec<CutSheet> = Vec::new();
    let mut purchases = Purchases::of(job);
    for i in &cutting.order {
        let (d, layout) = cutting.layouts[*i];
        let one = &cutting.done[d];
        let mut sheet = cut_sheet(
            job,
            one,
            &ceilings[d],
            layout,
            sheets.len() + 1,
            &mut naming,
        );
        if let StockRef::Sheet(i) = one.stock[layout.stock] {
            let next = purchases.next(i);
            sheet.source.lot = one.lot.as_ref().map_or(next, |lot| lot.name.clone());
        }
        sheet.kits_complete = naming.claims.complete(&naming.given);
        totals.part_area += layout.part_area(&one.problem);
        totals.taken_area += sheet.polygon().area();
        totals.kept_area += layout.kept_area();
        match sheet.source.kind {
            StockKind::Sheet => totals.sheets += sheet.source.price,
            StockKind::Remnant => totals.remnants += sheet.source.price,
        }
        let kept: f64 = sheet.offcuts.iter().map(|o| o.value).sum();
        totals.offcuts += kept;
        totals.scrap += sheet.spend - sheet.source.price + kept;
        totals.spend += sheet.spend;
        sheets.push(sheet);
    }
    let share = |part: f64, whole: f64| if whole > 0.0 { part / whole } else { 0.0 };
    totals.yield_ = share(totals.part_area, totals.taken_area);
    totals.net_yield = share(totals.part_area, totals.taken_area - totals.kept_area);
    CutPlan {
        seed: options.seed,
        sheets,
        missing,
        totals,
        repeatable: options.limit.is_none(),
        kits: job.kits.iter().map(|k| k.quantity).sum(),
        choices: Vec::new(),
        notes: Vec::new(),
        paths: Vec::new(),
        finishing: Vec::new(),
    }
}

/// The copies on a layout, by key of the claims.
fn pile(claims: &KitClaims, done: &Done, layout: &Layout) -> Pile {
    let mut counts: BTreeMap<usize, u32> = BTreeMap::new();
    for placed in &layout.placed {
        let item = done.group.wants[placed.part].item;
        if let Ok(key) = claims.keys.binary_search(&(done.pool, item)) {
            *counts.entry(key).or_default() += 1;
        }
    }
    counts.into_iter().collect()
}

/// Gives copies their numbers and kits, in cutting order.
struct Naming<'a> {
    copies: Vec<u32>,
    /// By key: copies that have a kit already.
    given: Vec<u32>,
    owners: Owners,
    claims: &'a KitClaims,
}

impl Naming<'_> {
    /// The next copy of an item that is cut, from a pool: its number, and that of its kit.
    fn next(&mut self, pool: usize, item: usize) -> (u32, Option<u32>) {
        self.copies[item] += 1;
        let key = self.claims.keys.binary_search(&(pool, item));
        let kit = key.ok().and_then(|key| {
            self.given[key] += 1;
            self.owners[key][self.given[key] as usize - 1]
        });
        (self.copies[item], kit)
    }
}

/// Adds the proven bounds to `totals`; returns the yield ceilings of each nest, by stock.
///
/// Nests of one group are looked at together: what they split up, a better plan may join. All of the
/// stock is held open to each group, whatever other groups took: a better plan may share it out
/// another way. A nest that leaves parts out may cost less than one that places all, so only what was
/// placed counts.
fn bounds(
    job: &Job,
    options: &PlanOptions,
    done: &[Done],
    given: Option<&Given>,
    totals: &mut Totals,
) -> Vec<Vec<f64>> {
    // Stock area that any plan needs for what this one places: part area over the best ceiling.
    let (mut least_area, mut least_net) = (0.0, 0.0);
    let mut part_area = 0.0;
    let mut ceilings = vec![Vec::new(); done.len()];
    let mut by_group: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for (d, one) in done.iter().enumerate() {
        by_group.entry(one.index).or_default().push(d);
    }
    for members in by_group.into_values() {
        let mut counts: BTreeMap<usize, u32> = BTreeMap::new();
        for d in &members {
            let one = &done[*d];
            for (want, count) in one
                .group
                .wants
                .iter()
                .zip(one.nest.placed_counts(&one.problem))
            {
                *counts.entry(want.item).or_default() += count;
            }
        }
        let one = &done[members[0]];
        let whole = Group {
            wants: Want::all(counts),
            ..one.group.clone()
        };
        let given = sheets_of(given, &whole);
        let mut problem = pose(job, &whole, options, &Used::default(), None, &given).problem;
        let mut parts = problem.parts.clone();
        for (part, want) in parts.iter_mut().zip(&whole.wants) {
            part.quantity = job.items[want.item].quantity;
        }
        // Parts that other nests of the group placed might have been laid on any of its stock.
        let ceilings_of = |problem: &Problem, wants: &[Want]| {
            let mut wider = Problem {
                parts: parts.clone(),
                ..problem.clone()
            };
            for pinned in wider.stock.iter_mut().flat_map(|s| &mut s.pinned) {
                let item = wants[pinned.part].item;
                let found = whole.wants.binary_search_by_key(&item, |w| w.item);
                pinned.part = found.unwrap_or(pinned.part);
            }
            yield_ceilings(&wider)
        };
        for d in &members {
            ceilings[*d] = ceilings_of(&done[*d].problem, &done[*d].group.wants);
        }
        let best = ceilings_of(&problem, &whole.wants)
            .into_iter()
            .fold(0.0, f64::max);
        // What is pinned is placed, so it stays; but it has another index then.
        let mut index = Vec::with_capacity(problem.parts.len());
        let mut kept = 0;
        for part in &problem.parts {
            index.push(kept);
            kept += usize::from(part.quantity > 0);
        }
        problem.parts.retain(|part| part.quantity > 0);
        for pinned in problem.stock.iter_mut().flat_map(|s| &mut s.pinned) {
            pinned.part = index[pinned.part];
        }
        totals.least_spend += least_spend(&problem);
        let placed: f64 = members
            .iter()
            .flat_map(|d| {
                done[*d]
                    .nest
                    .layouts
                    .iter()
                    .map(|l| l.part_area(&done[*d].problem))
            })
            .sum();
        if placed > 0.0 {
            least_area += placed / best;
            least_net += least_net_area(&problem).max(placed);
            part_area += placed;
        }
    }
    if least_area > 0.0 {
        totals.yield_ceiling = (part_area / least_area).min(1.0);
        totals.net_yield_ceiling = part_area / least_net;
    }
    ceilings
}

/// What is left of each size of sheet by purchase, while sheets are numbered: they are booked in the same
/// order.
struct Purchases<'a> {
    job: &'a Job,
    left: Vec<Vec<Purchase>>,
}

impl<'a> Purchases<'a> {
    fn of(job: &'a Job) -> Self {
        let shop = &job.shop;
        Self {
            job,
            left: shop.sheets.iter().map(|s| shop.purchases_of(s)).collect(),
        }
    }

    /// The lot of the next sheet of this size. An estimate takes more than there are: those are new.
    fn next(&mut self, sheet: usize) -> Option<String> {
        let mut left = self.left[sheet].iter_mut();
        match left.find(|p| p.count != Some(0)) {
            Some(purchase) => {
                purchase.count = purchase.count.map(|n| n - 1);
                purchase.lot.clone()
            }
            None => self.job.shop.sheets[sheet].lot.clone(),
        }
    }
}

fn cut_sheet(
    job: &Job,
    group: &Done,
    ceilings: &[f64],
    layout: &Layout,
    number: usize,
    naming: &mut Naming,
) -> CutSheet {
    let problem = &group.problem;
    let stock = layout.stock(problem);
    let machine = &job.shop.machines[group.group.machine];
    let (place, lot, flaws) = match group.stock[layout.stock] {
        StockRef::Sheet(i) => {
            // Its lot hangs on the sheets cut before.
            (job.shop.sheets[i].place.clone(), None, Vec::new())
        }
        StockRef::Remnant(i) => {
            let remnant = &job.shop.remnants[i];
            (
                remnant.place.clone(),
                remnant.lot.clone(),
                remnant.flaws.clone(),
            )
        }
    };
    let guillotine = matches!(problem.method, Method::Guillotine(_));
    let (margin, gap) = match &problem.method {
        Method::FreeForm => (problem.margin_on(stock), problem.gap),
        // What holds on every side: the least trim of a sheet, the margin of a trimmed remnant.
        Method::Guillotine(rules) => {
            let t = rules.trim;
            let least = t.left.min(t.right).min(t.bottom).min(t.top);
            (
                if stock.kind == StockKind::Sheet {
                    least
                } else {
                    problem.margin
                },
                rules.kerf,
            )
        }
    };
    let area = stock.outline.area();
    let part_area = layout.part_area(problem);
    let used = area - layout.kept_area();
    // It might have been sawn into other blanks.
    let as_well = problem.stock.iter().zip(ceilings);
    let ceiling = as_well
        .filter(|(s, _)| s.supply == stock.supply)
        .fold(0.0, |most: f64, (_, ceiling)| most.max(*ceiling));
    CutSheet {
        number,
        material: group.group.material,
        machine: group.group.machine,
        saw: if layout.saw_cuts.is_empty() {
            None
        } else {
            job.shop.first(Process::Saw)
        },
        guillotine,
        source: Source {
            kind: stock.kind,
            id: stock.name.clone(),
            price: stock.cost,
            place,
            lot,
        },
        outline: stock.outline.outer.clone(),
        voids: stock.outline.holes.clone(),
        flaws,
        zones: zones_on(machine, stock),
        grain_deg: stock.grain_deg,
        margin,
        gap,
        kerf: machine.kerf,
        parts: cut_parts(group, layout, naming),
        saw_cuts: layout.saw_cuts.clone(),
        blanks: stock
            .break_down
            .as_ref()
            .map(|b| b.blanks.clone())
            .unwrap_or_default(),
        offcuts: layout
            .offcuts
            .iter()
            .enumerate()
            .map(|(i, o)| CutOffcut {
                id: format!("{number}{}", letters(i)),
                outline: o.outline.clone(),
                kept: o.kept,
                value: if o.kept { o.value } else { 0.0 },
            })
            .collect(),
        yield_: part_area / area,
        net_yield: if used > 0.0 { part_area / used } else { 0.0 },
        yield_ceiling: ceiling,
        spend: panelwright_nesting::spend_of(problem, layout),
        kits_complete: 0,
    }
}

/// The parts of a layout in cutting order: what lies in a window before the part round it, else
/// from the lower left to the upper right.
fn cut_parts(group: &Done, layout: &Layout, naming: &mut Naming) -> Vec<CutPart> {
    let problem = &group.problem;
    let outlines: Vec<_> = layout.placed.iter().map(|p| p.outline(problem)).collect();
    let hosts: Vec<Option<usize>> = outlines
        .iter()
        .enumerate()
        .map(|(i, o)| {
            let bounds = o.bounds();
            let corner = o.outer.vertices[0].point;
            let area = |j: &usize| outlines[*j].outer.area();
            (0..outlines.len())
                .filter(|j| {
                    let round =
                        |hole: &Ring| hole.bounds().contains(&bounds) && hole.surrounds(corner);
                    *j != i && outlines[*j].holes.iter().any(round)
                })
                // The nearest one round it is the smallest.
                .min_by(|a, b| area(a).total_cmp(&area(b)))
        })
        .collect();
    let depth = |mut i: usize| {
        let mut depth = 0;
        while let Some(host) = hosts[i] {
            depth += 1;
            i = host;
            if depth > outlines.len() {
                break;
            }
        }
        depth
    };
    let mut order: Vec<usize> = (0..outlines.len()).collect();
    order.sort_by(|a, b| {
        let corner = |i: &usize| outlines[*i].bounds().min;
        depth(*b)
            .cmp(&depth(*a))
            .then(corner(a).x.total_cmp(&corner(b).x))
            .then(corner(a).y.total_cmp(&corner(b).y))
    });
    let rank: BTreeMap<usize, usize> = order.iter().enumerate().map(|(r, i)| (*i, r)).collect();
    order
        .iter()
        .map(|i| {
            let placed = &layout.placed[*i];
            let item = group.group.wants[placed.part].item;
            let (copy, kit_number) = naming.next(group.pool, item);
            CutPart {
                item,
                copy,
                kit_number,
                placement: placed.placement,
                outline: outlines[*i].clone(),
                inside: hosts[*i].map(|h| rank[&h]),
                pinned: layout.stock(problem).pinned.contains(placed),
            }
        })
        .collect()
}

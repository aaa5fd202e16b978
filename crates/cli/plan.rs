//! From a job to a cut plan: one nest per material and machine, put in the order's own words.

use crate::cut_plan::{CutOffcut, CutPart, CutPlan, CutSheet, Missing, Source, Totals};
use crate::input::{FirstCutWord, Machine, Material, Process, Sheet};
use crate::job::{Job, Shop};
use crate::rack::{book_value, keep_value};
use crate::remnant::Remnant;
use crate::{Failure, Result};
use panelwright_geometry::{Point, Polygon, tolerance};
use panelwright_nesting::{
    BedFit, Budget, Control, FirstCut, KeepRule, Layout, Method, Nest, Part, Problem, Progress,
    SawRules, Stock, StockKind, Trim, Why, break_downs, least_spend, nest, yield_ceiling,
};
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::sync::Mutex;
use std::sync::atomic::AtomicBool;
use std::time::{Duration, Instant};

/// How a job is nested.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanOptions {
    /// Seed of every random choice.
    pub seed: u64,
    /// Work to spend over the whole job, in steps: see [`Budget::steps`].
    pub steps: u64,
    /// Stop after this time; gives up repeatability.
    pub limit: Option<Duration>,
    /// Whether remnants are used.
    pub use_remnants: bool,
    /// Whether parts are set into window cut-outs of other parts.
    pub use_cutouts: bool,
}

impl Default for PlanOptions {
    /// Seed 1, about eight seconds of work on one core, no time limit, remnants and cut-outs used.
    fn default() -> Self {
        Self {
            seed: 1,
            steps: 8_000_000,
            limit: None,
            use_remnants: true,
            use_cutouts: true,
        }
    }
}

/// How the search stands, over the whole job.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Status {
    /// Share of the work done, 0 to 1.
    pub done: f64,
    /// Spend of the best nests so far; `None` until each group has a whole one.
    pub spend: Option<f64>,
    /// Proven least spend.
    pub least_spend: f64,
}

/// Receives a [`Status`] now and then, from any thread.
pub type Watcher<'a> = dyn Fn(Status) + Sync + 'a;

/// The items of one material on one machine.
struct Group {
    material: usize,
    machine: usize,
    items: Vec<usize>,
}

/// What a problem's stock entry stands for.
#[derive(Debug, Clone, Copy)]
enum StockRef {
    Sheet(usize),
    Remnant(usize),
}

/// A group nested.
struct Done {
    /// Index into the groups.
    group: usize,
    material: usize,
    machine: usize,
    items: Vec<usize>,
    stock: Vec<StockRef>,
    problem: Problem,
    nest: Nest,
}

/// Nests a job. Every layout in the plan has passed the judge.
///
/// # Errors
/// When a problem makes no sense to the search or the judge refuses its result.
pub fn plan(
    job: &Job,
    options: &PlanOptions,
    cancel: &AtomicBool,
    watch: Option<&Watcher>,
) -> Result<CutPlan> {
    let start = Instant::now();
    let groups = groups(job);
    let weights: Vec<f64> = groups.iter().map(|g| weight(job, g)).collect();
    let whole: f64 = weights.iter().sum();
    let board = Board::new(groups.len(), &weights, watch);
    let run = Run {
        job,
        groups: &groups,
        options,
        cancel,
        board: &board,
    };

    // Groups of one material share its stock, so they go one after another; materials share nothing.
    let mut by_material: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for (i, group) in groups.iter().enumerate() {
        by_material.entry(group.material).or_default().push(i);
    }
    let chains: Vec<Vec<usize>> = by_material.into_values().collect();

    // First a whole nest of everything, in every order in which the groups of a material may help
    // themselves from its stock; the better order is then searched in depth.
    let steps = |i: usize, share: f64| (options.steps as f64 * share * weights[i] / whole) as u64;
    let first: Vec<Vec<Done>> = chains
        .par_iter()
        .map(|chain| {
            let mut best: Option<Vec<Done>> = None;
            for order in orders(chain) {
                let done = run.chain(&order, |i| (steps(i, FIRST_SHARE), None), false)?;
                if best.as_ref().is_none_or(|best| better(&done, best)) {
                    best = Some(done);
                }
            }
            Ok(best.unwrap_or_default())
        })
        .collect::<Result<_>>()?;
    for done in first.iter().flatten() {
        board.found(done);
    }

    let done: Vec<Vec<Done>> = first
        .into_par_iter()
        .map(|first| {
            let order: Vec<usize> = first.iter().map(|done| done.group).collect();
            let mine: f64 = order.iter().map(|i| weights[*i]).sum();
            // With a time limit, each group of the chain gets its share of what is left of it.
            let mut gone = 0.0;
            let ends: BTreeMap<usize, Instant> = match options.limit {
                None => BTreeMap::new(),
                Some(limit) => {
                    let left = limit.saturating_sub(start.elapsed());
                    order
                        .iter()
                        .map(|i| {
                            gone += weights[*i] / mine;
                            (*i, Instant::now() + left.mul_f64(gone.min(1.0)))
                        })
                        .collect()
                }
            };
            let deep = run.chain(&order, |i| (steps(i, 1.0), ends.get(&i).copied()), true)?;
            Ok(if better(&first, &deep) { first } else { deep })
        })
        .collect::<Result<_>>()?;
    let mut done: Vec<Done> = done.into_iter().flatten().collect();
    done.sort_by_key(|done| done.group);
    Ok(assemble(job, options, done))
}

/// Share of the steps for the first whole nest, per order tried. Larger delays it; smaller judges
/// the orders by luck.
const FIRST_SHARE: f64 = 0.01;

/// What all groups of a job have in common while they are nested.
struct Run<'a> {
    job: &'a Job,
    groups: &'a [Group],
    options: &'a PlanOptions,
    cancel: &'a AtomicBool,
    board: &'a Board<'a>,
}

impl Run<'_> {
    /// Nests groups one after another; each takes its stock from what those before it left.
    /// `budget` tells a group's steps and the end of its time.
    fn chain(
        &self,
        order: &[usize],
        budget: impl Fn(usize) -> (u64, Option<Instant>),
        watched: bool,
    ) -> Result<Vec<Done>> {
        let mut used = Used::default();
        let mut all = Vec::new();
        for &i in order {
            let (steps, end) = budget(i);
            let budget = Budget {
                seed: self.options.seed,
                steps,
                limit: None,
            };
            let listener = |progress: Progress| self.board.update(i, progress);
            let mut control = Control::none().with_cancel(self.cancel).with_deadline(end);
            if watched {
                control = control.with_listener(&listener);
            }
            let done = nest_group(
                self.job,
                i,
                &self.groups[i],
                self.options,
                &used,
                &budget,
                &control,
            )?;
            used.take(&done);
            all.push(done);
        }
        Ok(all)
    }
}

/// Every order of a chain; of more than three groups only the given one and its reverse.
fn orders(chain: &[usize]) -> Vec<Vec<usize>> {
    let reversed: Vec<usize> = chain.iter().rev().copied().collect();
    match *chain {
        [_] => vec![chain.to_vec()],
        [a, b, c] => {
            vec![
                chain.to_vec(),
                vec![a, c, b],
                vec![b, a, c],
                vec![b, c, a],
                vec![c, a, b],
                reversed,
            ]
        }
        _ => vec![chain.to_vec(), reversed],
    }
}

/// Whether one answer of a chain is better than another: fewer copies missing, then less spend.
fn better(a: &[Done], b: &[Done]) -> bool {
    let missing = |all: &[Done]| -> u32 {
        all.iter()
            .flat_map(|d| &d.nest.not_placed)
            .map(|n| n.quantity)
            .sum()
    };
    let spend = |all: &[Done]| -> f64 { all.iter().map(|d| d.nest.spend(&d.problem)).sum() };
    missing(a)
        .cmp(&missing(b))
        .then_with(|| spend(a).total_cmp(&spend(b)))
        .is_lt()
}

/// Items by material and machine, in the order saw, router, laser.
fn groups(job: &Job) -> Vec<Group> {
    let mut groups: BTreeMap<(usize, u8, usize), Vec<usize>> = BTreeMap::new();
    for (i, item) in job.items.iter().enumerate() {
        let rank = match job.machine_of(item).process {
            Process::Saw => 0,
            Process::Router => 1,
            Process::Laser => 2,
        };
        groups
            .entry((item.material, rank, item.machine))
            .or_default()
            .push(i);
    }
    groups
        .into_iter()
        .map(|((material, _, machine), items)| Group {
            material,
            machine,
            items,
        })
        .collect()
}

/// How much of the work a group gets: more parts are harder, but not in proportion.
fn weight(job: &Job, group: &Group) -> f64 {
    let copies: u32 = group.items.iter().map(|i| job.items[*i].quantity).sum();
    f64::from(copies).sqrt()
}

/// Stock that earlier groups of the same material have taken.
#[derive(Default)]
struct Used {
    sheets: BTreeMap<usize, u32>,
    remnants: Vec<usize>,
}

impl Used {
    fn take(&mut self, done: &Done) {
        for layout in &done.nest.layouts {
            match done.stock[layout.stock] {
                StockRef::Sheet(i) => *self.sheets.entry(i).or_default() += 1,
                StockRef::Remnant(i) => self.remnants.push(i),
            }
        }
    }
}

fn nest_group(
    job: &Job,
    index: usize,
    group: &Group,
    options: &PlanOptions,
    used: &Used,
    budget: &Budget,
    control: &Control,
) -> Result<Done> {
    let material = &job.shop.materials[group.material];
    let machine = &job.shop.machines[group.machine];
    let saw = saw_of(job).map(|i| &job.shop.machines[i]);
    let mut stock = StockList::new(machine, saw);
    if options.use_remnants {
        for (i, remnant) in job.shop.remnants.iter().enumerate() {
            if remnant.material == material.name && !used.remnants.contains(&i) {
                stock.add_remnant(i, remnant, material, job);
            }
        }
    }
    for (i, sheet) in job.shop.sheets.iter().enumerate() {
        if sheet.material == material.name {
            let taken = used.sheets.get(&i).copied().unwrap_or(0);
            stock.add_sheet(i, sheet, taken, material, job);
        }
    }
    let parts = group
        .items
        .iter()
        .map(|i| {
            let item = &job.items[*i];
            Part {
                name: item.part.clone(),
                outline: item.outline.clone(),
                quantity: item.quantity,
                turn: item.turn,
                grain_deg: item.grain_deg,
                good_faces: item.good_faces,
            }
        })
        .collect();
    let problem = Problem {
        parts,
        stock: stock.stock,
        supplies: stock.supplies,
        method: match machine.process {
            Process::Saw => Method::Guillotine(saw_rules(machine)),
            Process::Router | Process::Laser => Method::FreeForm,
        },
        gap: machine.gap.unwrap_or(machine.kerf),
        margin: machine.margin,
        kerf: machine.kerf,
        use_cutouts: options.use_cutouts,
    };
    let nest = nest(&problem, budget, control).map_err(|e| {
        Failure::new(
            format!("nesting '{}' on the {}", material.name, machine.name),
            e.to_string(),
            "nothing was written; please report this with the order",
        )
    })?;
    Ok(Done {
        group: index,
        material: group.material,
        machine: group.machine,
        items: group.items.clone(),
        stock: stock.refs,
        problem,
        nest,
    })
}

/// The saw that breaks sheets down for the other machines.
fn saw_of(job: &Job) -> Option<usize> {
    job.shop
        .machines
        .iter()
        .position(|m| m.process == Process::Saw)
}

/// The saw's rules for the search.
fn saw_rules(machine: &Machine) -> SawRules {
    SawRules {
        kerf: machine.kerf,
        trim: Trim {
            left: machine.trim.left,
            right: machine.trim.right,
            bottom: machine.trim.bottom,
            top: machine.trim.top,
        },
        stages: machine.stages,
        first_cut: match machine.first_cut {
            FirstCutWord::Along => FirstCut::Along,
            FirstCutWord::Across => FirstCut::Across,
            FirstCutWord::Either => FirstCut::Either,
        },
        longest_rip: machine.longest_rip.unwrap_or(f64::INFINITY),
        longest_crosscut: machine.longest_crosscut.unwrap_or(f64::INFINITY),
        least_strip: machine.least_strip,
    }
}

/// The keep rule of a material: see [`crate::input::Keep`].
fn keep_rule(shop: &Shop, material: &Material) -> KeepRule {
    /// Square millimetres in a square metre.
    const MM2: f64 = 1e6;
    KeepRule {
        least_width: material.keep.least_width,
        least_length: material.keep.least_length,
        value_per_area: keep_value(shop, &material.name, 1.0).unwrap_or(0.0),
        scrap_cost_per_area: (material.disposal_per_m2 - material.recycling_credit_per_m2) / MM2,
    }
}

/// Collects the stock of a problem.
struct StockList<'a> {
    machine: &'a Machine,
    saw: Option<&'a Machine>,
    stock: Vec<Stock>,
    supplies: Vec<Option<u32>>,
    refs: Vec<StockRef>,
}

impl<'a> StockList<'a> {
    fn new(machine: &'a Machine, saw: Option<&'a Machine>) -> Self {
        Self {
            machine,
            saw,
            stock: Vec::new(),
            supplies: Vec::new(),
            refs: Vec::new(),
        }
    }

    fn add_remnant(&mut self, index: usize, remnant: &Remnant, material: &Material, job: &Job) {
        // What is not sold new has no price to take a share of, and costs nothing to use up.
        let value = book_value(&job.shop, remnant).unwrap_or(0.0);
        let stock = Stock {
            kind: StockKind::Remnant,
            outline: remnant.outline.clone(),
            keep_clear: remnant.flaws.clone(),
            grain_deg: remnant.grain_deg,
            good_faces: remnant.good_faces,
            keep: keep_rule(&job.shop, material),
            ..Stock::remnant(&remnant.id, Polygon::default(), value, self.supplies.len())
        };
        self.add(stock, Some(1), StockRef::Remnant(index));
    }

    fn add_sheet(
        &mut self,
        index: usize,
        sheet: &Sheet,
        taken: u32,
        material: &Material,
        job: &Job,
    ) {
        let left = sheet.stock.map(|n| n.saturating_sub(taken));
        if left == Some(0) {
            return;
        }
        let stock = Stock {
            grain_deg: material.grain.then_some(0.0),
            good_faces: material.good_faces,
            keep: keep_rule(&job.shop, material),
            ..Stock::sheet(
                &sheet.id,
                sheet.length,
                sheet.width,
                sheet.price,
                self.supplies.len(),
            )
        };
        self.add(stock, left, StockRef::Sheet(index));
    }

    /// Adds stock as it is, or each way to break it down when the machine's bed is too small.
    fn add(&mut self, stock: Stock, supply: Option<u32>, refers_to: StockRef) {
        let whole = match (self.machine.bed, self.saw) {
            (None, _) => BedFit::Whole,
            (Some([length, width]), Some(saw)) => {
                break_downs(&stock, (length, width), &saw_rules(saw))
            }
            // Without a saw only what fits as it is can be used.
            (Some([length, width]), None) => fits_bed(&stock.outline, length, width),
        };
        match whole {
            BedFit::Whole => {
                self.stock.push(stock);
                self.refs.push(refers_to);
            }
            BedFit::Sawn(ways) => {
                for way in ways {
                    self.stock.push(Stock {
                        break_down: Some(way),
                        ..stock.clone()
                    });
                    self.refs.push(refers_to);
                }
            }
            BedFit::Never => return,
        }
        self.supplies.push(supply);
    }
}

/// Whether a piece lies on a bed as it is or turned by a quarter.
fn fits_bed(outline: &Polygon, length: f64, width: f64) -> BedFit {
    let b = outline.bounds();
    let slack = tolerance::JUDGE;
    let fits = |l: f64, w: f64| l <= length + slack && w <= width + slack;
    if fits(b.width(), b.height()) || fits(b.height(), b.width()) {
        BedFit::Whole
    } else {
        BedFit::Never
    }
}

/// Adds up what the groups report.
struct Board<'a> {
    state: Mutex<Vec<Option<Progress>>>,
    shares: Vec<f64>,
    watch: Option<&'a Watcher<'a>>,
}

impl<'a> Board<'a> {
    fn new(groups: usize, weights: &[f64], watch: Option<&'a Watcher<'a>>) -> Self {
        let whole: f64 = weights.iter().sum();
        Self {
            state: Mutex::new(vec![None; groups]),
            shares: weights.iter().map(|w| w / whole).collect(),
            watch,
        }
    }

    /// Tells of a nest that was found unwatched.
    fn found(&self, done: &Done) {
        let missing = done.nest.not_placed.iter().map(|n| n.quantity).sum();
        let progress = Progress {
            done: 0.0,
            spend: done.nest.spend(&done.problem),
            least_spend: 0.0,
            sheets: done.nest.layouts.len(),
            missing,
        };
        self.update(done.group, progress);
    }

    fn update(&self, group: usize, progress: Progress) {
        let Some(watch) = self.watch else { return };
        let status = {
            // A listener that panicked leaves nothing half-done here.
            let mut state = self
                .state
                .lock()
                .unwrap_or_else(std::sync::PoisonError::into_inner);
            state[group] = Some(progress);
            let known = state.iter().flatten();
            let spend: Option<f64> = state
                .iter()
                .map(|p| p.map(|p| p.spend).filter(|s| s.is_finite()))
                .sum();
            Status {
                done: state
                    .iter()
                    .zip(&self.shares)
                    .map(|(p, share)| share * p.map_or(0.0, |p| p.done.clamp(0.0, 1.0)))
                    .sum(),
                spend,
                least_spend: known.map(|p| p.least_spend).sum(),
            }
        };
        watch(status);
    }
}

/// Puts the nests in the order's words and sums them up.
fn assemble(job: &Job, options: &PlanOptions, done: Vec<Done>) -> CutPlan {
    let mut sheets: Vec<CutSheet> = Vec::new();
    let mut missing = Vec::new();
    let mut copies = vec![0; job.items.len()];
    let mut totals = Totals::default();
    // Stock area that any plan needs for what this one places: part area over the best ceiling.
    let mut least_area = 0.0;
    for group in &done {
        totals.least_spend += floor(&group.problem, &group.nest);
        let ceilings: Vec<f64> = (0..group.problem.stock.len())
            .map(|stock| yield_ceiling(&group.problem, stock))
            .collect();
        let ceiling = ceilings.iter().copied().fold(0.0, f64::max);
        let placed: f64 = group
            .nest
            .layouts
            .iter()
            .map(|l| l.part_area(&group.problem))
            .sum();
        if placed > 0.0 {
            least_area += placed / ceiling;
        }
        let mut layouts: Vec<&Layout> = group.nest.layouts.iter().collect();
        // Remnants first: they are fetched from the rack before the first sheet is opened.
        layouts.sort_by_key(|l| (l.stock(&group.problem).kind == StockKind::Sheet, l.stock));
        for layout in layouts {
            let sheet = cut_sheet(job, group, &ceilings, layout, sheets.len() + 1, &mut copies);
            let area = sheet.polygon().area();
            totals.part_area += layout.part_area(&group.problem);
            totals.taken_area += area;
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
        missing.extend(group.nest.not_placed.iter().map(|n| Missing {
            item: group.items[n.part],
            quantity: n.quantity,
            why: why(&n.why, job, group),
        }));
    }
    let share = |part: f64, whole: f64| if whole > 0.0 { part / whole } else { 0.0 };
    totals.yield_ = share(totals.part_area, totals.taken_area);
    totals.net_yield = share(totals.part_area, totals.taken_area - totals.kept_area);
    totals.yield_ceiling = share(totals.part_area, least_area).min(1.0);
    CutPlan {
        seed: options.seed,
        sheets,
        missing,
        totals,
        repeatable: options.limit.is_none(),
    }
}

/// The proven least spend of what a nest places. A nest that leaves parts out may cost less than
/// one that places all.
fn floor(problem: &Problem, nest: &Nest) -> f64 {
    if nest.not_placed.is_empty() {
        return least_spend(problem);
    }
    let mut placed = problem.clone();
    for (part, count) in placed.parts.iter_mut().zip(nest.placed_counts(problem)) {
        part.quantity = count;
    }
    placed.parts.retain(|part| part.quantity > 0);
    least_spend(&placed)
}

fn cut_sheet(
    job: &Job,
    group: &Done,
    ceilings: &[f64],
    layout: &Layout,
    number: usize,
    copies: &mut [u32],
) -> CutSheet {
    let problem = &group.problem;
    let stock = layout.stock(problem);
    let machine = &job.shop.machines[group.machine];
    let (place, lot, flaws) = match group.stock[layout.stock] {
        StockRef::Sheet(i) => {
            let sheet = &job.shop.sheets[i];
            (sheet.place.clone(), sheet.lot.clone(), Vec::new())
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
        Method::FreeForm => (problem.margin, problem.gap),
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
    CutSheet {
        number,
        material: group.material,
        machine: group.machine,
        saw: if layout.saw_cuts.is_empty() {
            None
        } else {
            saw_of(job)
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
        grain_deg: stock.grain_deg,
        margin,
        gap,
        kerf: machine.kerf,
        parts: cut_parts(problem, layout, &group.items, copies),
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
        yield_ceiling: ceilings[layout.stock],
        spend: panelwright_nesting::spend_of(problem, layout),
    }
}

/// 0 is A, 25 is Z, 26 is AA.
fn letters(mut i: usize) -> String {
    let mut text = Vec::new();
    loop {
        text.push(char::from(b'A' + (i % 26) as u8));
        if i < 26 {
            break;
        }
        i = i / 26 - 1;
    }
    text.iter().rev().collect()
}

/// The parts of a layout in cutting order: what lies in a window before the part round it, else
/// from the lower left to the upper right.
fn cut_parts(
    problem: &Problem,
    layout: &Layout,
    items: &[usize],
    copies: &mut [u32],
) -> Vec<CutPart> {
    let outlines: Vec<_> = layout.placed.iter().map(|p| p.outline(problem)).collect();
    let windows: Vec<Vec<(Vec<Point>, panelwright_geometry::Bounds)>> = outlines
        .iter()
        .map(|o| {
            let holes = o.covering().holes;
            holes
                .into_iter()
                .zip(&o.holes)
                .map(|(h, ring)| (h, ring.bounds()))
                .collect()
        })
        .collect();
    let hosts: Vec<Option<usize>> = outlines
        .iter()
        .enumerate()
        .map(|(i, o)| {
            let bounds = o.bounds();
            let corner = o.outer.vertices[0].point;
            let area = |j: &usize| outlines[*j].outer.area();
            (0..outlines.len())
                .filter(|j| {
                    *j != i
                        && windows[*j]
                            .iter()
                            .any(|(ring, b)| b.contains(&bounds) && lies_in(corner, ring))
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
            let item = items[placed.part];
            copies[item] += 1;
            CutPart {
                item,
                copy: copies[item],
                placement: placed.placement,
                outline: outlines[*i].clone(),
                inside: hosts[*i].map(|h| rank[&h]),
            }
        })
        .collect()
}

/// Whether a point lies inside a ring (crossing count); on the border either answer may come.
fn lies_in(p: Point, ring: &[Point]) -> bool {
    let n = ring.len();
    let mut inside = false;
    for i in 0..n {
        let (a, b) = (ring[i], ring[(i + 1) % n]);
        if (a.y > p.y) != (b.y > p.y) && p.x < a.x + (p.y - a.y) / (b.y - a.y) * (b.x - a.x) {
            inside = !inside;
        }
    }
    inside
}

/// Why copies are missing, as a sentence.
fn why(why: &Why, job: &Job, group: &Done) -> String {
    let material = &job.shop.materials[group.material].name;
    let machine = &job.shop.machines[group.machine].name;
    match why {
        Why::TooLarge => format!("it fits on no sheet or remnant of {material} on the {machine}"),
        Why::FaceOrGrain => {
            format!("no sheet or remnant of {material} has the good faces or the grain it needs")
        }
        Why::SawLimits => format!("the {machine} cannot make it within its stages and lengths"),
        Why::StockUsedUp => format!("all {material} that it fits on is used up; buy or free more"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn offcut_letters_go_on_past_z() {
        assert_eq!(
            [0, 25, 26, 51, 52, 701, 702].map(letters),
            ["A", "Z", "AA", "AZ", "BA", "ZZ", "AAA"]
        );
    }
}

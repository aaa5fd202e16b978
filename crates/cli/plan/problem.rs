//! The problem that a group of items puts to a search.

use super::lots::Lot;
use super::zones::zones_on;
use super::{Done, Group, PlanOptions};
use crate::given::{GivenSheet, GivenSource};
use crate::input::{FirstCutWord, Machine, Material, Process, Sheet};
use crate::job::Job;
use crate::rack::{book_value, keep_rule};
use crate::remnant::Remnant;
use panelwright_geometry::{Bounds, Polygon, tolerance};
use panelwright_nesting::{
    BedFit, BreakDown, FirstCut, ForBlanks, Layout, Method, Nest, Part, PlacedPart, Problem,
    SawCut, SawRules, Stock, StockKind, Trim, break_downs, sawn_as,
};
use std::cmp::Reverse;
use std::collections::BTreeMap;

/// What a problem's stock entry stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum StockRef {
    Sheet(usize),
    Remnant(usize),
}

/// Stock that is taken already.
#[derive(Debug, Clone, Default)]
pub struct Used {
    sheets: BTreeMap<usize, u32>,
    remnants: Vec<usize>,
}

impl Used {
    /// Takes what a sheet of an earlier nest is cut from.
    pub fn reserve(&mut self, sheet: &GivenSheet) {
        match sheet.source {
            GivenSource::Sheet(i) => *self.sheets.entry(i).or_default() += 1,
            GivenSource::Remnant(i) => self.remnants.push(i),
        }
    }

    /// Takes what either of two takes, of each sheet size the larger number.
    pub fn take_either(&mut self, a: &Self, b: &Self) {
        let mut most = a.sheets.clone();
        for (i, n) in &b.sheets {
            let count = most.entry(*i).or_default();
            *count = (*count).max(*n);
        }
        for (i, n) in most {
            *self.sheets.entry(i).or_default() += n;
        }
        self.remnants.extend(a.remnants.iter().chain(&b.remnants));
    }

    pub fn take(&mut self, done: &Done) {
        for layout in &done.nest.layouts {
            match done.stock[layout.stock] {
                StockRef::Sheet(i) => *self.sheets.entry(i).or_default() += 1,
                StockRef::Remnant(i) => self.remnants.push(i),
            }
        }
    }
}

/// A problem, and what its stock stands for.
pub struct Posed {
    pub problem: Problem,
    pub stock: Vec<StockRef>,
    /// The stock with pinned parts: its index, and the number of the sheet in the earlier nest.
    pub pinned: Vec<(usize, usize)>,
    /// Numbers of sheets with pinned parts that the saw no longer makes the same blanks of.
    lost: Vec<usize>,
}

impl Posed {
    /// The sheets with pinned parts that the saw no longer makes the same blanks of: not at all, or not one where a pinned part is.
    pub fn lost_sheets(&self) -> impl Iterator<Item = usize> + '_ {
        let beside = self.pinned.iter().filter(|(stock, _)| {
            let stock = &self.problem.stock[*stock];
            let blanks = stock.break_down.as_ref().map(|plan| &plan.blanks);
            let on_one = |part: &PlacedPart| {
                let middle = part.outline(&self.problem).bounds().center();
                let middle = Bounds::new(middle, middle);
                blanks.is_none_or(|all| all.iter().any(|b| b.contains(&middle)))
            };
            !stock.pinned.iter().all(on_one)
        });
        let beside = beside.map(|(_, number)| *number);
        self.lost.iter().copied().chain(beside)
    }

    /// Whether some of what a sheet was cut from is still to be had.
    pub fn has_stock_of(&self, sheet: &GivenSheet) -> bool {
        self.stock.contains(&source(sheet))
    }
}

/// The problem of a group on the stock that is not `used`, of one lot only when that is given, and the
/// pinned parts of the sheets `given` to it on pieces of their own.
pub fn pose(
    job: &Job,
    group: &Group,
    options: &PlanOptions,
    used: &Used,
    lot: Option<&Lot>,
    given: &[&GivenSheet],
) -> Posed {
    let material = &job.shop.materials[group.material];
    let machine = &job.shop.machines[group.machine];
    let saw = job.shop.first(Process::Saw).map(|i| &job.shop.machines[i]);
    let pins = || given.iter().filter(|s| s.has_pinned());
    let mut used = used.clone();
    pins().for_each(|sheet| used.reserve(sheet));
    let parts: Vec<Part> = group
        .wants
        .iter()
        .map(|want| {
            let item = &job.items[want.item];
            Part {
                name: item.part.clone(),
                outline: item.outline.clone(),
                quantity: want.quantity,
                turn: item.turn,
                grain_deg: item.grain_deg,
                good_faces: item.good_faces,
                priority: want.urgency,
            }
        })
        .collect();
    let gap = machine.gap.unwrap_or(machine.kerf);
    let wanted = ForBlanks {
        gap,
        margin: machine.margin,
        parts: parts
            .iter()
            .map(|part| {
                let bounds = part.outline.bounds();
                ((bounds.width(), bounds.height()), part.quantity)
            })
            .collect(),
    };
    let mut stock = StockList::new(machine, saw, wanted, given);
    if options.use_remnants {
        for (i, remnant) in job.shop.remnants.iter().enumerate() {
            if remnant.material == material.name
                && !used.remnants.contains(&i)
                && lot.is_none_or(|lot| lot.remnants.contains(&i))
            {
                let piece = stock.remnant(remnant, material, job);
                stock.add(piece, Some(1), StockRef::Remnant(i));
            }
        }
    }
    for (i, sheet) in job.shop.sheets.iter().enumerate() {
        let taken = used.sheets.get(&i).copied().unwrap_or(0);
        let count = lot.map_or(sheet.stock, |lot| lot.count(i));
        let left = count.map(|n| n.saturating_sub(taken));
        if sheet.material == material.name && left != Some(0) {
            let piece = stock.sheet(sheet, material, job);
            stock.add(piece, left, StockRef::Sheet(i));
        }
    }
    let named = named(group, given);
    for (given, named) in given.iter().zip(&named).filter(|(s, _)| s.has_pinned()) {
        let piece = match given.source {
            GivenSource::Sheet(i) => stock.sheet(&job.shop.sheets[i], material, job),
            GivenSource::Remnant(i) => stock.remnant(&job.shop.remnants[i], material, job),
        };
        stock.add_pinned(piece, given, named);
    }
    let problem = Problem {
        parts,
        stock: stock.stock,
        supplies: stock.supplies,
        method: match machine.process {
            Process::Saw => Method::Guillotine(saw_rules(machine)),
            Process::Router | Process::Laser => Method::FreeForm,
        },
        gap,
        margin: machine.margin,
        kerf: machine.kerf,
        use_cutouts: options.use_cutouts,
    };
    Posed {
        problem,
        stock: stock.refs,
        pinned: stock.pinned,
        lost: stock.lost,
    }
}

/// An earlier nest as an answer to the problem of its group. A layout whose stock is not there gets
/// an index that is none.
pub fn start(posed: &Posed, group: &Group, given: &[&GivenSheet]) -> Nest {
    let Posed { problem, .. } = posed;
    let layout = |(sheet, named): (&&GivenSheet, &Vec<Option<usize>>)| {
        let own = posed.pinned.iter().find(|(_, n)| *n == sheet.number);
        let stock = own.map_or_else(
            || {
                (0..problem.stock.len()).find(|&i| {
                    let stock = &problem.stock[i];
                    let sawn = stock.break_down.as_ref();
                    posed.stock[i] == source(sheet)
                        && stock.pinned.is_empty()
                        && sawn.is_none_or(|plan| same_cuts(plan, &sheet.saw_cuts))
                })
            },
            |(stock, _)| Some(*stock),
        );
        let sawn = stock.and_then(|i| problem.stock[i].break_down.as_ref());
        let saw_cuts = match (sawn, &problem.method) {
            (Some(plan), _) => plan.cuts.clone(),
            (None, Method::Guillotine(_)) => sheet.saw_cuts.clone(),
            (None, Method::FreeForm) => Vec::new(),
        };
        Layout {
            stock: stock.unwrap_or(usize::MAX),
            placed: placed(sheet, named, false),
            saw_cuts,
            offcuts: sheet.offcuts.clone(),
        }
    };
    Nest {
        layouts: given.iter().zip(&named(group, given)).map(layout).collect(),
        not_placed: Vec::new(),
    }
}

/// What the copies on given sheets are in the group's problem: the most urgent of what is wanted of
/// the item, pinned copies before others; none where nothing of it is wanted. Copies beyond what is
/// wanted are the last of the item, for those who drop them to say so.
fn named(group: &Group, given: &[&GivenSheet]) -> Vec<Vec<Option<usize>>> {
    let mut left: Vec<u32> = group.wants.iter().map(|w| w.quantity).collect();
    let mut by_urgency: Vec<usize> = (0..left.len()).collect();
    by_urgency.sort_by_key(|i| Reverse(group.wants[*i].urgency));
    let mut named: Vec<Vec<Option<usize>>> =
        given.iter().map(|s| vec![None; s.parts.len()]).collect();
    for pinned in [true, false] {
        for (sheet, named) in given.iter().zip(&mut named) {
            for (part, name) in sheet.parts.iter().zip(named) {
                if part.pinned != pinned {
                    continue;
                }
                let of_item = || {
                    let all = by_urgency.iter().copied();
                    all.filter(|i| group.wants[*i].item == part.item)
                };
                *name = of_item().find(|i| left[*i] > 0).or(of_item().next_back());
                if let Some(i) = *name {
                    left[i] = left[i].saturating_sub(1);
                }
            }
        }
    }
    named
}

/// The parts of a sheet as the group's problem counts them; only the pinned ones if asked.
fn placed(sheet: &GivenSheet, named: &[Option<usize>], pinned_only: bool) -> Vec<PlacedPart> {
    let parts = sheet.parts.iter().zip(named);
    parts
        .filter(|(p, _)| p.pinned || !pinned_only)
        .filter_map(|(p, named)| {
            Some(PlacedPart {
                part: (*named)?,
                placement: p.placement,
            })
        })
        .collect()
}

fn source(sheet: &GivenSheet) -> StockRef {
    match sheet.source {
        GivenSource::Sheet(i) => StockRef::Sheet(i),
        GivenSource::Remnant(i) => StockRef::Remnant(i),
    }
}

/// Whether a way to saw blanks has these cuts.
fn same_cuts(plan: &BreakDown, cuts: &[SawCut]) -> bool {
    /// Far above the rounding of what is written, far below what a saw can hold.
    const SAME: f64 = 1e-3;
    let mut pairs = plan.cuts.iter().zip(cuts);
    plan.cuts.len() == cuts.len()
        && pairs.all(|(a, b)| a.from.distance(b.from) <= SAME && a.to.distance(b.to) <= SAME)
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

/// Collects the stock of a problem.
struct StockList<'a> {
    machine: &'a Machine,
    saw: Option<&'a Machine>,
    /// What blanks are for.
    wanted: ForBlanks,
    /// Sheets of an earlier nest, which may be sawn as nobody would for the parts of now.
    given: &'a [&'a GivenSheet],
    stock: Vec<Stock>,
    supplies: Vec<Option<u32>>,
    refs: Vec<StockRef>,
    pinned: Vec<(usize, usize)>,
    lost: Vec<usize>,
}

impl<'a> StockList<'a> {
    fn new(
        machine: &'a Machine,
        saw: Option<&'a Machine>,
        wanted: ForBlanks,
        given: &'a [&'a GivenSheet],
    ) -> Self {
        Self {
            machine,
            saw,
            wanted,
            given,
            stock: Vec::new(),
            supplies: Vec::new(),
            refs: Vec::new(),
            pinned: Vec::new(),
            lost: Vec::new(),
        }
    }

    fn remnant(&self, remnant: &Remnant, material: &Material, job: &Job) -> Stock {
        // What is not sold new has no price to take a share of, and costs nothing to use up.
        let value = book_value(&job.shop, remnant).unwrap_or(0.0);
        Stock {
            kind: StockKind::Remnant,
            outline: remnant.outline.clone(),
            keep_clear: remnant.flaws.clone(),
            grain_deg: remnant.grain_deg,
            good_faces: remnant.good_faces,
            keep: keep_rule(&job.shop, material),
            margin: Some(self.machine.margin_on_remnants()),
            ..Stock::remnant(&remnant.id, Polygon::default(), value, self.supplies.len())
        }
    }

    fn sheet(&self, sheet: &Sheet, material: &Material, job: &Job) -> Stock {
        Stock {
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
        }
    }

    /// Adds stock as it is, or each way to break it down when the machine's bed is too small.
    fn add(&mut self, stock: Stock, supply: Option<u32>, refers_to: StockRef) {
        match self.fit(&stock) {
            BedFit::Whole => self.push(stock, refers_to),
            BedFit::Sawn(mut ways) => {
                let of_it = self.given.iter().filter(|s| source(s) == refers_to);
                for given in of_it.filter(|s| !s.has_pinned()) {
                    if !ways.iter().any(|way| same_cuts(way, &given.saw_cuts)) {
                        ways.extend(self.sawn_as(&stock, given));
                    }
                }
                for way in ways {
                    let stock = Stock {
                        break_down: Some(way),
                        ..stock.clone()
                    };
                    self.push(stock, refers_to);
                }
            }
            BedFit::Never => return,
        }
        self.supplies.push(supply);
    }

    /// Adds one piece with the parts pinned on it, sawn into blanks as it was.
    fn add_pinned(&mut self, mut stock: Stock, given: &GivenSheet, named: &[Option<usize>]) {
        if self.fit(&stock) != BedFit::Whole {
            stock.break_down = self.sawn_as(&stock, given);
            if stock.break_down.is_none() {
                self.lost.push(given.number);
                return;
            }
        }
        stock.pinned = placed(given, named, true);
        self.pinned.push((self.stock.len(), given.number));
        self.push(stock, source(given));
        self.supplies.push(Some(1));
    }

    /// The blanks of a sheet of an earlier nest, if the saw still makes them.
    fn sawn_as(&self, stock: &Stock, given: &GivenSheet) -> Option<BreakDown> {
        let (Some([length, width]), Some(saw)) = (self.machine.bed, self.saw) else {
            return None;
        };
        sawn_as(stock, (length, width), &saw_rules(saw), &given.saw_cuts)
    }

    /// How the stock comes to lie on the machine's bed.
    fn fit(&self, stock: &Stock) -> BedFit {
        match (self.machine.bed, self.saw) {
            (None, _) => BedFit::Whole,
            (Some([length, width]), Some(saw)) => {
                break_downs(stock, (length, width), &saw_rules(saw), &self.wanted)
            }
            // Without a saw only what fits as it is can be used.
            (Some([length, width]), None) => fits_bed(&stock.outline, length, width),
        }
    }

    /// Adds stock as it goes to the machine.
    fn push(&mut self, mut stock: Stock, refers_to: StockRef) {
        let zones = zones_on(self.machine, &stock).into_iter();
        stock.zones = zones.map(|z| z.outline).collect();
        self.stock.push(stock);
        self.refs.push(refers_to);
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

//! The problem that a group of items puts to a search.

use super::bed::zones_on;
use super::{Done, Group, PlanOptions};
use crate::input::{FirstCutWord, Machine, Material, Process, Sheet};
use crate::job::{Job, Shop};
use crate::rack::{book_value, value_per_area};
use crate::remnant::Remnant;
use panelwright_geometry::{Polygon, tolerance};
use panelwright_nesting::{
    BedFit, FirstCut, KeepRule, Method, Part, Problem, SawRules, Stock, StockKind, Trim,
    break_downs,
};
use std::collections::BTreeMap;

/// What a problem's stock entry stands for.
#[derive(Debug, Clone, Copy)]
pub enum StockRef {
    Sheet(usize),
    Remnant(usize),
}

/// Stock that earlier groups of the same material have taken.
#[derive(Default)]
pub struct Used {
    sheets: BTreeMap<usize, u32>,
    remnants: Vec<usize>,
}

impl Used {
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
}

/// The problem of a group, with what earlier groups have `used` taken off its stock.
pub fn pose(job: &Job, group: &Group, options: &PlanOptions, used: &Used) -> Posed {
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
    Posed {
        problem,
        stock: stock.refs,
    }
}

/// The saw that breaks sheets down for the other machines.
pub fn saw_of(job: &Job) -> Option<usize> {
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
        value_per_area: value_per_area(shop, &material.name).unwrap_or(0.0),
        handling: material.keep.handling,
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
            BedFit::Whole => self.push(stock, refers_to),
            BedFit::Sawn(ways) => {
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

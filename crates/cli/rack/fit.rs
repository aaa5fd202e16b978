//! Which remnants take a part or a small order, best first: made for the call "one side panel got
//! scratched, can you send another?".

mod words;

use super::candidate::{Asked, Sketchy, value};
use super::store::{Db, Rack};
use super::value::keep_rule;
use super::{hold, remnant_row};
use crate::Result;
use crate::cut_plan::{CutPlan, CutSheet};
use crate::job::{Job, SingleOrder};
use crate::plan::{PlanOptions, plan_bare};
use crate::remnant::Remnant;
use jiff::Zoned;
use panelwright_nesting::StockKind;
use rayon::prelude::*;
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::atomic::AtomicBool;

/// Work for one remnant, in steps of a search: enough to lay a few parts well, some milliseconds.
const STEPS: u64 = 20_000;

/// Remnants that are nested on at least, the most promising ones. Their value lost is only guessed
/// before, so the best one should be among them by a margin.
const LOOKED_AT: usize = 32;

/// Of these, the most whose clear rectangle takes the parts as far as can be told.
const LIKELY: usize = 24;

/// Most of them, where those before did not take the parts.
const MOST_LOOKED_AT: usize = 256;

/// Remnants for a nest on several, where none takes the parts alone.
const TOGETHER: usize = 48;

/// A remnant that takes what was asked.
#[derive(Debug, Clone, Serialize)]
pub struct Taker {
    /// Its id.
    pub remnant: String,
    /// Where it stands.
    pub place: Option<String>,
    /// The purchase its sheet came from.
    pub lot: Option<String>,
    /// Size of its bounding rectangle along x, millimetres.
    pub length: f64,
    /// Size along y.
    pub width: f64,
    /// What it is worth now.
    pub value: f64,
    /// What of that is lost when the parts are cut from it: value and scrap, less what is kept.
    pub value_lost: f64,
    /// What is kept of it: lengths and widths, millimetres.
    pub keeps: Vec<[f64; 2]>,
    /// The order that it is held for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub held_for: Option<String>,
    /// How the parts lie on it.
    #[serde(skip)]
    pub sheet: CutSheet,
    /// Names of the parts, by the sheet's items.
    #[serde(skip)]
    names: Vec<String>,
}

/// What takes the parts of one material on one machine.
#[derive(Debug, Clone, Serialize)]
pub struct GroupFit {
    /// Material by name.
    pub material: String,
    /// Machine by name.
    pub machine: String,
    /// Parts and how many copies.
    pub parts: Vec<(String, u32)>,
    /// Remnants that take all of them, least value lost first.
    pub takers: Vec<Taker>,
    /// Several remnants that take them together, or as many as possible; where none does alone.
    pub together: Vec<Taker>,
    /// Parts that no remnant takes, and how many copies.
    pub missing: Vec<(String, u32)>,
    /// What cutting them from new sheets would cost, less what is kept of these; `None` where the shop
    /// has no sheet for them.
    pub from_new: Option<f64>,
    /// Remnants on the rack of this material.
    pub on_rack: usize,
    /// How many of them could hold the parts by their size.
    pub possible: usize,
    /// How many were nested on.
    pub looked_at: usize,
}

/// What takes a job.
#[derive(Debug, Clone, Serialize)]
pub struct Fit {
    /// By material and machine.
    pub groups: Vec<GroupFit>,
    /// Currency of all values.
    pub currency: String,
}

/// How it is looked for.
#[derive(Debug, Clone, Default)]
pub struct FitOptions {
    /// Most takers to tell; 5 when 0.
    pub best: usize,
    /// The order asked for: what is held for it may be taken.
    pub order: Option<String>,
    /// Also name what is held for others.
    pub held_too: bool,
}

/// Finds the remnants that take the job's parts. The job's own remnants are not looked at; its sheets
/// only for the price of new material.
///
/// The same rack and job give the same answer. All layouts have passed the judge.
///
/// # Errors
/// The rack cannot be read, or the search refuses the parts.
pub fn fit(rack: &Rack, job: &Job, options: &FitOptions, now: &Zoned) -> Result<Fit> {
    let mut groups: BTreeMap<(usize, usize), Vec<usize>> = BTreeMap::new();
    for (i, item) in job.items.iter().enumerate() {
        groups
            .entry((item.material, item.machine))
            .or_default()
            .push(i);
    }
    let holds: BTreeMap<String, String> = hold::standing(rack.db(), now.timestamp().as_second())?
        .into_iter()
        .map(|hold| (hold.remnant.to_ascii_uppercase(), hold.order))
        .collect();
    let mut fits: Vec<GroupFit> = Vec::new();
    for ((material, machine), items) in groups {
        // What the groups before this one would take is gone for it.
        let taken = fits.iter().flat_map(GroupFit::best);
        let taken = taken.map(|taker| taker.remnant.clone()).collect();
        let finder = Finder {
            job,
            options,
            holds: &holds,
            taken,
            material,
            machine,
            items,
        };
        fits.push(finder.find(rack.db())?);
    }
    Ok(Fit {
        groups: fits,
        currency: job.shop.currency.clone(),
    })
}

/// A remnant, and the value lost or at stake by a first look.
type Guess<'a> = (f64, &'a Sketchy);

/// Looks for one material and machine.
struct Finder<'a> {
    job: &'a Job,
    options: &'a FitOptions,
    /// Orders by remnants held, in capitals.
    holds: &'a BTreeMap<String, String>,
    /// Remnants that are not to be had.
    taken: BTreeSet<String>,
    material: usize,
    machine: usize,
    items: Vec<usize>,
}

impl Finder<'_> {
    fn find(&self, db: Db<'_>) -> Result<GroupFit> {
        let shop = &self.job.shop;
        let (material, machine) = (&shop.materials[self.material], &shop.machines[self.machine]);
        let copies = |i: &usize| (&self.job.items[*i], self.job.items[*i].quantity);
        let mut asked = Asked::new(self.items.iter().map(copies), machine);
        let mut there = Sketchy::on_rack(db, &material.name)?;
        there.retain(|piece| self.is_free(&piece.id));
        let on_rack = there.len();
        let keep = keep_rule(shop, material);
        // Those with a guess nearly always take the parts, the others seldom do, but then often lose
        // the least: a piece of odd shape is worth little for anything else.
        let (mut likely, mut doubtful): (Vec<Guess>, Vec<Guess>) = Default::default();
        for piece in &there {
            if !asked.may_hold_all(piece) {
                continue;
            }
            let worth = value(shop, &material.name, piece);
            match asked.guess(piece, worth, &keep) {
                Some(lost) => likely.push((lost, piece)),
                None => doubtful.push((worth, piece)),
            }
        }
        for list in [&mut likely, &mut doubtful] {
            list.sort_by(|a, b| {
                let by_area = a.1.area.total_cmp(&b.1.area);
                a.0.total_cmp(&b.0)
                    .then(by_area)
                    .then_with(|| a.1.id.cmp(&b.1.id))
            });
        }
        let mut found = GroupFit {
            material: material.name.clone(),
            machine: machine.name.clone(),
            parts: self.items.iter().map(|i| self.named(*i)).collect(),
            takers: Vec::new(),
            together: Vec::new(),
            missing: Vec::new(),
            from_new: self.new_material()?,
            on_rack,
            possible: likely.len() + doubtful.len(),
            looked_at: 0,
        };
        let (mut likely, mut doubtful) = (likely.into_iter(), doubtful.into_iter());
        while found.takers.is_empty() && found.looked_at < MOST_LOOKED_AT {
            let mut ids: Vec<String> = Vec::with_capacity(LOOKED_AT);
            ids.extend(likely.by_ref().take(LIKELY).map(|(_, p)| p.id.clone()));
            let more = LOOKED_AT - ids.len();
            ids.extend(doubtful.by_ref().take(more).map(|(_, p)| p.id.clone()));
            if ids.is_empty() {
                break;
            }
            let remnants = remnant_row::find_all(db, &ids)?;
            found.looked_at += remnants.len();
            let takers: Vec<Option<Taker>> = remnants
                .into_par_iter()
                .map(|logged| self.taker(logged.remnant))
                .collect::<Result<_>>()?;
            found.takers.extend(takers.into_iter().flatten());
        }
        found.takers.sort_by(|a, b| {
            let by_size = (a.length * a.width).total_cmp(&(b.length * b.width));
            a.value_lost.total_cmp(&b.value_lost).then(by_size)
        });
        found.takers.truncate(match self.options.best {
            0 => 5,
            best => best,
        });
        if found.takers.is_empty() {
            self.several(db, &mut asked, &there, &mut found)?;
        }
        Ok(found)
    }

    fn named(&self, item: usize) -> (String, u32) {
        let item = &self.job.items[item];
        (item.part.clone(), item.quantity)
    }

    fn held_for(&self, id: &str) -> Option<&String> {
        let ours = self.options.order.as_deref().map(str::trim);
        let order = self.holds.get(&id.to_ascii_uppercase())?;
        (ours != Some(order.as_str())).then_some(order)
    }

    fn is_free(&self, id: &str) -> bool {
        if self.taken.contains(id) {
            return false;
        }
        self.options.held_too || self.holds.is_empty() || self.held_for(id).is_none()
    }

    /// The job with nothing but this group's parts and this stock.
    fn job_on(&self, remnants: Vec<Remnant>, sheets: bool) -> Job {
        let mut job = self.job.clone();
        job.items = self
            .items
            .iter()
            .map(|i| self.job.items[*i].clone())
            .collect();
        job.kits = Vec::new();
        job.singles = job
            .items
            .iter()
            .enumerate()
            .map(|(item, it)| SingleOrder {
                item,
                quantity: it.quantity,
                priority: 0,
            })
            .collect();
        job.shop.remnants = remnants;
        // What a piece is worth for a part does not depend on how full the rack is.
        job.shop.room = Vec::new();
        if sheets {
            // What new material would cost does not depend on what is in stock today.
            job.shop
                .sheets
                .iter_mut()
                .for_each(|sheet| sheet.stock = None);
        } else {
            job.shop.sheets.retain(|_| false);
        }
        job
    }

    fn plan(&self, job: &Job, steps: u64) -> Result<CutPlan> {
        let options = PlanOptions {
            steps,
            ..PlanOptions::default()
        };
        plan_bare(job, &options, None, &AtomicBool::new(false), None)
    }

    /// The remnant with all parts on it, if it takes them.
    fn taker(&self, remnant: Remnant) -> Result<Option<Taker>> {
        let mut job = self.job_on(vec![remnant], false);
        // Without sheets the shop has no price to take a share of.
        self.price(&mut job);
        let plan = self.plan(&job, STEPS)?;
        if !plan.missing.is_empty() {
            return Ok(None);
        }
        Ok(plan
            .sheets
            .into_iter()
            .next()
            .map(|sheet| self.told(&job, sheet)))
    }

    /// Keeps the price of new material known in a job on remnants alone.
    fn price(&self, job: &mut Job) {
        job.shop.sheets.clone_from(&self.job.shop.sheets);
        job.shop
            .sheets
            .iter_mut()
            .for_each(|sheet| sheet.stock = Some(0));
    }

    fn told(&self, job: &Job, sheet: CutSheet) -> Taker {
        let remnant = job.shop.remnants.iter().find(|r| r.id == sheet.source.id);
        let bounds = sheet.polygon().bounds();
        let kept = sheet.offcuts.iter().filter(|offcut| offcut.kept);
        Taker {
            remnant: sheet.source.id.clone(),
            place: remnant.and_then(|r| r.place.clone()),
            lot: remnant.and_then(|r| r.lot.clone()),
            length: bounds.width(),
            width: bounds.height(),
            value: sheet.source.price,
            value_lost: sheet.spend,
            keeps: kept
                .map(|offcut| {
                    let bounds = offcut.outline.bounds();
                    [bounds.width(), bounds.height()]
                })
                .collect(),
            held_for: self.held_for(&sheet.source.id).cloned(),
            sheet,
            names: job.items.iter().map(|item| item.part.clone()).collect(),
        }
    }

    /// What the parts cost from new sheets.
    fn new_material(&self) -> Result<Option<f64>> {
        let shop = &self.job.shop;
        let name = &shop.materials[self.material].name;
        if !shop.sheets.iter().any(|sheet| sheet.material == *name) {
            return Ok(None);
        }
        let plan = self.plan(&self.job_on(Vec::new(), true), STEPS)?;
        Ok(plan.missing.is_empty().then_some(plan.totals.spend))
    }

    /// Several remnants that take the parts together.
    fn several(
        &self,
        db: Db<'_>,
        asked: &mut Asked,
        there: &[Sketchy],
        found: &mut GroupFit,
    ) -> Result<()> {
        let mut useful: Vec<&Sketchy> = there.iter().filter(|p| asked.may_hold_one(p)).collect();
        useful.sort_by(|a, b| b.area.total_cmp(&a.area).then_with(|| a.id.cmp(&b.id)));
        // The largest ones take most, the smallest lose least.
        let half = TOGETHER / 2;
        let mut ids: BTreeSet<String> = useful.iter().take(half).map(|p| p.id.clone()).collect();
        ids.extend(useful.iter().rev().take(half).map(|p| p.id.clone()));
        let ids: Vec<String> = ids.into_iter().collect();
        let remnants = remnant_row::find_all(db, &ids)?;
        if remnants.is_empty() {
            found.missing.clone_from(&found.parts);
            return Ok(());
        }
        // Most of them were nested on alone before.
        found.looked_at = found.looked_at.max(remnants.len());
        let remnants = remnants.into_iter().map(|logged| logged.remnant).collect();
        let mut job = self.job_on(remnants, false);
        self.price(&mut job);
        let plan = self.plan(&job, 10 * STEPS)?;
        for missing in &plan.missing {
            let item = &job.items[missing.item];
            found.missing.push((item.part.clone(), missing.quantity));
        }
        let taken = plan.sheets.into_iter();
        found.together = taken
            .filter(|sheet| sheet.source.kind == StockKind::Remnant)
            .map(|sheet| self.told(&job, sheet))
            .collect();
        Ok(())
    }
}

impl Fit {
    /// Whether remnants take everything.
    #[must_use]
    pub fn is_whole(&self) -> bool {
        self.groups.iter().all(|group| group.missing.is_empty())
    }

    /// The remnants that would be taken: of each group the best one, or those that take it together.
    #[must_use]
    pub fn best(&self) -> Vec<&Taker> {
        self.groups.iter().flat_map(GroupFit::best).collect()
    }
}

impl GroupFit {
    /// The best remnant, or those that take the parts together.
    fn best(&self) -> &[Taker] {
        match self.takers.first() {
            Some(_) => &self.takers[..1],
            None => &self.together,
        }
    }
}

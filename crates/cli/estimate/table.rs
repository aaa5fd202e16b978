//! What an estimate says, as data: counted and summed, rounded to the coin and no further. Text, CSV, JSON and
//! HTML only say it.

use super::cells::{Answer, Cell};
use super::cost::{LINES, Line, Minutes};
use super::money::Money;
use super::{Estimate, Estimated, One};
use crate::job::Job;
use std::collections::{BTreeMap, BTreeSet};

/// One quantity of one choice.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// As asked.
    pub quantity: u32,
    /// The quantity it is made as; more than asked where that costs less.
    pub made: u32,
    /// Lines that are not nothing, with their amounts: together the cost.
    pub lines: Vec<(Line, Money)>,
    /// The sum of the lines.
    pub cost: Money,
    /// Price less cost.
    pub margin: Money,
    /// Unit price times quantity.
    pub price: Money,
    /// Cost of one, rounded.
    pub unit_cost: Money,
    /// Price of one, rounded up to the coin.
    pub unit_price: Money,
    /// Unit cost on new sheets only, where these hold every part.
    pub unit_cost_new: Option<Money>,
    /// Sheets taken, by identity.
    pub sheets: BTreeMap<String, u32>,
    /// Remnants taken.
    pub remnants: BTreeSet<String>,
    /// How many offcuts are kept.
    pub kept: u32,
    /// Areas in square metres: taken, parts, kept, scrap.
    pub areas: [f64; 4],
    /// Times.
    pub minutes: Minutes,
    /// By how much the material is above its proven floor at most, as a share.
    pub above_floor: Option<f64>,
    /// The heaviest sheet or remnant: mass in kg, identity.
    pub heaviest_stock: (f64, String),
    /// How much of the cost rests on placeholders.
    pub on_placeholders: Money,
}

/// What one of it weighs.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Masses {
    /// One, all parts together, kg.
    pub one_kg: f64,
    /// The heaviest part.
    pub part_kg: f64,
    /// Its name.
    pub part: String,
}

impl Row {
    /// The figures of a cell.
    #[must_use]
    pub fn new(cell: &Cell, estimate: &Estimate) -> Self {
        let rates = &estimate.rates;
        let decimals = rates.decimals;
        let answer = &cell.rack;
        let cost = answer.total();
        let unit_price = cost
            .with_margin(rates.margin.value)
            .part(cell.quantity)
            .rounded_up(decimals);
        let price = unit_price.times(cell.quantity);
        let works = || answer.work.values();
        let mut sheets = BTreeMap::new();
        for (id, (count, _)) in works().flat_map(|w| &w.sheets) {
            *sheets.entry(id.clone()).or_default() += count;
        }
        let sum = |of: fn(&super::work::Work) -> f64| works().map(of).sum::<f64>();
        let heaviest = works()
            .map(|w| &w.heaviest_stock)
            .max_by(|a, b| a.0.total_cmp(&b.0));
        Self {
            quantity: cell.quantity,
            made: answer.made,
            lines: answer.cost.lines(),
            cost,
            margin: price - cost,
            price,
            unit_cost: cost.part(cell.quantity).rounded(decimals),
            unit_price,
            unit_cost_new: cell
                .new
                .as_ref()
                .map(|new: &Answer| new.total().part(cell.quantity).rounded(decimals)),
            sheets,
            remnants: works().flat_map(|w| w.remnants.keys().cloned()).collect(),
            kept: works().map(|w| w.kept).sum(),
            areas: [
                sum(|w| w.taken_m2),
                sum(|w| w.part_m2),
                sum(|w| w.kept_m2),
                sum(|w| w.scrap_m2),
            ],
            minutes: answer.cost.minutes,
            above_floor: answer.above_floor(),
            heaviest_stock: heaviest.cloned().unwrap_or_default(),
            on_placeholders: answer.cost.on_placeholders(),
        }
    }

    /// The amount of a line; nothing where it has none.
    #[must_use]
    pub fn line(&self, line: Line) -> Money {
        let found = self.lines.iter().find(|(l, _)| *l == line);
        found.map_or(Money::ZERO, |(_, amount)| *amount)
    }
}

/// The rows of a choice that can be made.
#[must_use]
pub fn rows(estimated: &Estimated, estimate: &Estimate) -> Vec<Row> {
    let cells = estimated.found.as_ref().map_or(&[][..], |(_, cells)| cells);
    cells.iter().map(|cell| Row::new(cell, estimate)).collect()
}

/// Lines that any of the rows has, in order.
#[must_use]
pub fn lines_of<'a>(rows: impl IntoIterator<Item = &'a Row> + Clone) -> Vec<Line> {
    let used = |line: &Line| rows.clone().into_iter().any(|r| !r.line(*line).is_zero());
    LINES.into_iter().filter(used).collect()
}

/// What one weighs in the materials of a job.
#[must_use]
pub fn masses(job: &Job, one: &One) -> Masses {
    let job = one.job(job, 1, None, None);
    let mut masses = Masses::default();
    for item in job.items.iter().filter(|i| i.quantity > 0) {
        let kg = job.material_of(item).mass(item.outline.area());
        masses.one_kg += kg * f64::from(item.quantity);
        if kg > masses.part_kg {
            masses.part_kg = kg;
            masses.part.clone_from(&item.part);
        }
    }
    masses
}

/// Placeholders that an estimate rests on, by name, with their values.
#[must_use]
pub fn placeholders(estimate: &Estimate) -> Vec<String> {
    let cells = estimate
        .choices
        .iter()
        .filter_map(|c| c.found.as_ref().ok());
    let names: BTreeSet<&str> = cells
        .flat_map(|(_, cells)| cells)
        .flat_map(|cell| &cell.rack.cost.entries)
        .flat_map(|entry| entry.placeholders.iter().map(String::as_str))
        .collect();
    let rates = &estimate.rates;
    rates
        .all()
        .into_iter()
        .filter(|f| names.contains(f.name.as_str()) || f.name == rates.margin.name && !f.set)
        .map(|f| f.words(&estimate.paper))
        .collect()
}

//! What a nest that was made, and perhaps booked, costs: the same work at the same rates as an estimate's.

use super::choice;
use super::cost::{self, Cost};
use super::work::Work;
use crate::nest_file::SheetRecord;
use crate::number::plain;
use crate::paper::Paper;
use crate::rack::{Rack, read_nest, show};
use crate::read_job::{JobFiles, ReadJobOptions};
use crate::report::text::Page;
use crate::{Failure, Result};
use panelwright_geometry::{Point, Polygon};
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::path::Path;

/// The cost of a nest.
#[derive(Debug)]
pub struct Booked {
    /// The order's name.
    pub order: String,
    /// Kits in the nest; the order may ask for another number.
    pub kits: u32,
    /// Currency label.
    pub currency: String,
    /// Decimals of the currency.
    pub decimals: u32,
    /// Lines and times.
    pub cost: Cost,
    /// How papers are written.
    pub paper: Paper,
}

impl Booked {
    /// The cost of the nest in the file at `nest`, made for the order at `order`.
    ///
    /// # Errors
    /// Bad input; a nest of another order; a nest that leaves parts out.
    pub fn of(nest: &Path, order: &Path, options: &ReadJobOptions) -> Result<Self> {
        let (record, _) = read_nest(nest)?;
        if let Some(missing) = record.not_placed.first() {
            let what = format!("part '{}' is not placed in it", missing.part);
            let advice = "only a nest of everything has the cost of the order";
            return Err(Failure::in_file(nest, "not_placed", what, advice));
        }
        let files = JobFiles::read(order, options)?;
        let job = choice::job(&files, None, None)?;
        let rates = &job.shop.rates;
        // The file does not tell voids from flaws, and flaws are material too: the areas of remnants come from
        // where they are logged.
        let mut areas: BTreeMap<String, f64> = BTreeMap::new();
        for remnant in &files.shop.listed {
            areas.insert(remnant.id.clone(), remnant.outline.area());
        }
        if let Some(path) = files.shop.rack.as_ref().filter(|path| path.exists()) {
            let rack = Rack::open_to_read(path)?;
            for sheet in record.sheets.iter().filter(|s| s.source.kind == "remnant") {
                if let Ok(shown) = show(&rack, &sheet.source.id) {
                    areas.insert(shown.id, shown.area);
                }
            }
        }
        let area = |sheet: &SheetRecord| match sheet.source.kind.as_str() {
            "remnant" => areas.get(&sheet.source.id).copied(),
            // A sheet as bought has no voids; what the file lists are areas to avoid.
            _ => {
                let corners = sheet.outline.iter().map(|[x, y]| Point::new(*x, *y));
                Some(Polygon::new(corners.collect(), Vec::new()).area())
            }
        };
        let kits = record.totals.kits.max(1);
        let mut cost = Cost::default();
        let works = Work::of_nest(&record, &job, rates.one_person_kg.value, &area);
        for (material, work) in works.map_err(|f| f.within(nest))? {
            cost.add(cost::of_work(&work, material, &job.shop, rates, kits));
        }
        cost.add(cost::of_kits(rates, kits));
        Ok(Self {
            order: job.order,
            kits: record.totals.kits,
            currency: job.shop.currency,
            paper: job.shop.paper,
            decimals: rates.decimals,
            cost,
        })
    }

    /// For people.
    #[must_use]
    pub fn text(&self) -> String {
        let mut page = Page::default();
        let paper = &self.paper;
        page.heading(&paper.say_with(
            "estimate-nest-cost",
            &[
                ("order", plain(&self.order).into()),
                ("kits", self.kits.into()),
                ("currency", plain(&self.currency).into()),
            ],
        ));
        let mut rows: Vec<Vec<String>> = self
            .cost
            .lines()
            .into_iter()
            .map(|(line, amount)| vec![line.words(paper), amount.words(self.decimals, paper)])
            .collect();
        rows.push(vec![
            paper.say("estimate-cost"),
            self.cost.total().words(self.decimals, paper),
        ]);
        page.table(&[], rows, &[1]);
        page.into_text()
    }

    /// For programs.
    #[must_use]
    pub fn json(&self) -> String {
        let lines: serde_json::Map<String, Value> = self
            .cost
            .lines()
            .into_iter()
            .map(|(line, amount)| (line.key().to_owned(), json!(amount.to_f64())))
            .collect();
        let value = json!({
            "order": self.order,
            "kits": self.kits,
            "currency": self.currency,
            "lines": lines,
            "cost": self.cost.total().to_f64(),
        });
        format!("{value:#}\n")
    }
}

//! A whole answer while the search works on it, and how good it is.

use super::construct::empty;
use super::fill::Sheet;
use super::region::Item;
use super::tables::Tables;
use super::work::Work;
use crate::Nest;
use crate::start::movable;
use panelwright_geometry::{Bounds, Vec2};
use std::cmp::Ordering;

/// Sheets filled and copies left over.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Nesting {
    /// The pieces of stock taken, each with what it costs. Those with pinned parts are taken in any
    /// case, and are here only when there are other parts on them.
    pub sheets: Vec<(Sheet, Worth)>,
    /// Copies not placed, by part.
    pub missing: Vec<u32>,
}

/// What one layout costs and leaves, beyond what it does with nothing but its pinned parts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Worth {
    /// Its spend, less what pinned parts alone make it cost.
    pub spend: f64,
    /// Area of its largest kept offcut.
    pub offcut: f64,
    /// Area of its parts, pinned ones not counted.
    pub part_area: f64,
    /// Area of the smaller of the two strips, from the left or from below, that hold all parts that
    /// are not pinned.
    pub used_area: f64,
}

/// Steps that finding what a layout leaves takes, measured: in any case, and for each part on it.
const WORTH_STEPS: (u64, u64) = (400, 40);

impl Worth {
    /// Of a sheet.
    pub fn of(sheet: &Sheet, tables: &Tables, work: &mut Work) -> Self {
        let parts = sheet.items.len() as u64;
        if crate::offcut::can_keep(&tables.problem.stock[sheet.stock]) {
            work.add_steps(WORTH_STEPS.0 + WORTH_STEPS.1 * parts);
        } else {
            work.add_steps(1 + parts);
        }
        let (layout, spend) = sheet.valued(tables);
        let offcut = layout
            .offcuts
            .iter()
            .filter(|o| o.kept)
            .map(|o| o.outline.area())
            .fold(0.0, f64::max);
        let before = tables.bare_of(sheet.stock).map_or(0.0, |b| b.spend);
        Self {
            spend: spend - before,
            offcut,
            part_area: sheet.part_area(tables),
            used_area: used_area(sheet, tables),
        }
    }
}

/// Area of the strip that holds all parts, from the left or from below, whichever is smaller.
fn used_area(sheet: &Sheet, tables: &Tables) -> f64 {
    let bounds = tables.problem.stock[sheet.stock].outline.bounds();
    let mut right: f64 = 0.0;
    let mut top: f64 = 0.0;
    for (_, item) in &sheet.items {
        let turned = &tables.catalogue.turned[item.pose.turned];
        right = right.max(item.at.x + turned.width - bounds.min.x);
        top = top.max(item.at.y + turned.height - bounds.min.y);
    }
    (right * bounds.height()).min(top * bounds.width())
}

/// How good a nesting is; [`Score::compare`] puts the better one first.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Score {
    /// Missing copies by weight of priority.
    denied: u128,
    missing: u32,
    missing_area: f64,
    /// Total spend.
    pub spend: f64,
    offcut: f64,
    sheets: usize,
    /// Lower when the parts are on fewer sheets: tells two nestings of equal spend apart in the
    /// direction of the next saving.
    spread: f64,
    /// Least area used of any sheet.
    tail: f64,
}

/// A nesting and how good it is.
pub(super) type Scored = (Nesting, Score);

/// Spends nearer than this share are equal.
const SAME_SPEND: f64 = 1e-9;

impl Score {
    /// Fewest missing first, by priority, then spend, larger offcut, fewer sheets, less spread, a shorter last
    /// sheet.
    pub fn compare(&self, other: &Self) -> Ordering {
        let near = |a: f64, b: f64| {
            if (a - b).abs() <= SAME_SPEND * (a.abs() + b.abs()) {
                Ordering::Equal
            } else {
                a.total_cmp(&b)
            }
        };
        self.denied
            .cmp(&other.denied)
            .then(self.missing.cmp(&other.missing))
            .then(near(self.missing_area, other.missing_area))
            .then(near(self.spend, other.spend))
            .then(near(other.offcut, self.offcut))
            .then(self.sheets.cmp(&other.sheets))
            .then(near(self.spread, other.spread))
            .then(near(self.tail, other.tail))
    }

    /// Whether as many copies are missing, and the spend is at most `most`.
    pub fn nearly(&self, other: &Self, most: f64) -> bool {
        self.denied == other.denied && self.missing == other.missing && self.spend <= most
    }

    /// Whether nothing is missing.
    pub fn complete(&self) -> bool {
        self.missing == 0
    }

    /// Whether it is better than `other`.
    pub fn beats(&self, other: &Self) -> bool {
        self.compare(other) == Ordering::Less
    }
}

impl Nesting {
    /// A nest of the problem as the search sees it; `nest` must be among what the tables were made
    /// for. What does not lie in a field is left out.
    pub fn of(nest: &Nest, tables: &Tables) -> Self {
        let mut work = Work::of_steps(u64::MAX);
        let mut nesting = empty(tables);
        for layout in &nest.layouts {
            let stock = layout.stock(tables.problem);
            let items: Vec<(usize, Item)> = movable(stock, layout)
                .iter()
                .filter_map(|placed| {
                    let (part, placement) = (placed.part, placed.placement);
                    let pose = tables.catalogue.pose_at(part, placement.angle_deg())?;
                    let at = pose.corner(placement.origin);
                    let turned = &tables.catalogue.turned[pose.turned];
                    let middle = at + Vec2::new(0.5 * turned.width, 0.5 * turned.height);
                    let middle = Bounds::new(middle, middle);
                    let field = tables
                        .fields_of(layout.stock)
                        .find(|f| tables.fields[*f].room().touches(&middle))?;
                    Some((field, Item { part, pose, at }))
                })
                .collect();
            if items.is_empty() {
                continue;
            }
            for (_, item) in &items {
                let missing = &mut nesting.missing[item.part];
                *missing = missing.saturating_sub(1);
            }
            let sheet = Sheet {
                stock: layout.stock,
                items,
            };
            let worth = Worth::of(&sheet, tables, &mut work);
            nesting.sheets.push((sheet, worth));
        }
        nesting
    }

    /// How good it is.
    pub fn score(&self, tables: &Tables) -> Score {
        let missing_area = self
            .missing
            .iter()
            .enumerate()
            .map(|(part, n)| f64::from(*n) * tables.catalogue.shape(part).area)
            .sum();
        // The root is concave: moving a part from an emptier sheet to a fuller one lowers the sum.
        let spread = |(sheet, worth): &(Sheet, Worth)| {
            let pinned = tables.bare_of(sheet.stock).map_or(0.0, |b| b.area);
            (worth.part_area + pinned).sqrt() - pinned.sqrt()
        };
        let spread = self.sheets.iter().map(spread).sum();
        let tail = self
            .sheets
            .iter()
            .map(|(_, w)| w.used_area)
            .fold(f64::INFINITY, f64::min);
        let used = |stock: usize| self.sheets.iter().any(|(s, _)| s.stock == stock);
        let bare = tables.bare.iter().filter(|b| !used(b.stock));
        let denied = self.missing.iter().zip(&tables.priority_weights);
        Score {
            denied: denied
                .map(|(n, weight)| u128::from(*n).saturating_mul(*weight))
                .fold(0, u128::saturating_add),
            missing: self.missing.iter().sum(),
            missing_area,
            spend: tables.bare_spend() + self.sheets.iter().map(|(_, w)| w.spend).sum::<f64>(),
            offcut: self
                .sheets
                .iter()
                .map(|(_, w)| w.offcut)
                .chain(bare.map(|b| b.offcut))
                .fold(0.0, f64::max),
            sheets: self
                .sheets
                .iter()
                .filter(|(s, _)| tables.bare_of(s.stock).is_none())
                .count(),
            spread,
            tail,
        }
    }

    /// It and how good it is.
    pub fn scored(self, tables: &Tables) -> Scored {
        let score = self.score(tables);
        (self, score)
    }

    /// Pieces left of each supply; `None` for as many as it takes.
    pub fn supplies_left(&self, tables: &Tables) -> Vec<Option<u32>> {
        let problem = tables.problem;
        let mut left = problem.supplies.clone();
        for (sheet, _) in &self.sheets {
            if let Some(n) = &mut left[problem.stock[sheet.stock].supply] {
                *n = n.saturating_sub(1);
            }
        }
        left
    }
}

//! A whole answer while the search works on it, and how good it is.

use super::fill::Sheet;
use super::tables::Tables;
use super::work::Work;
use std::cmp::Ordering;

/// Sheets filled and copies left over.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Nesting {
    /// The pieces of stock taken, each with what it costs.
    pub sheets: Vec<(Sheet, Worth)>,
    /// Copies not placed, by part.
    pub missing: Vec<u32>,
}

/// What one layout costs and leaves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Worth {
    /// Its spend.
    pub spend: f64,
    /// Area of its largest kept offcut.
    pub offcut: f64,
    /// Area of its parts.
    pub part_area: f64,
    /// Area of the smaller of the two strips, from the left or from below, that hold all parts.
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
        Self {
            spend,
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

/// Spends nearer than this share are equal.
const SAME_SPEND: f64 = 1e-9;

impl Score {
    /// Fewest missing first, then spend, larger offcut, fewer sheets, less spread, a shorter last
    /// sheet.
    pub fn compare(&self, other: &Self) -> Ordering {
        let near = |a: f64, b: f64| {
            if (a - b).abs() <= SAME_SPEND * (a.abs() + b.abs()) {
                Ordering::Equal
            } else {
                a.total_cmp(&b)
            }
        };
        self.missing
            .cmp(&other.missing)
            .then(near(self.missing_area, other.missing_area))
            .then(near(self.spend, other.spend))
            .then(near(other.offcut, self.offcut))
            .then(self.sheets.cmp(&other.sheets))
            .then(near(self.spread, other.spread))
            .then(near(self.tail, other.tail))
    }

    /// Whether as many copies are missing, and the spend is at most `most`.
    pub fn nearly(&self, other: &Self, most: f64) -> bool {
        self.missing == other.missing && self.spend <= most
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
    /// How good it is.
    pub fn score(&self, tables: &Tables) -> Score {
        let missing_area = self
            .missing
            .iter()
            .enumerate()
            .map(|(part, n)| f64::from(*n) * tables.catalogue.shape(part).area)
            .sum();
        // The root is concave: moving a part from an emptier sheet to a fuller one lowers the sum.
        let spread = self.sheets.iter().map(|(_, w)| w.part_area.sqrt()).sum();
        let tail = self
            .sheets
            .iter()
            .map(|(_, w)| w.used_area)
            .fold(f64::INFINITY, f64::min);
        Score {
            missing: self.missing.iter().sum(),
            missing_area,
            spend: self.sheets.iter().map(|(_, w)| w.spend).sum(),
            offcut: self
                .sheets
                .iter()
                .map(|(_, w)| w.offcut)
                .fold(0.0, f64::max),
            sheets: self.sheets.len(),
            spread,
            tail,
        }
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

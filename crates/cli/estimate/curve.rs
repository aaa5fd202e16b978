//! Unit cost against quantity: where it rises, why, and which quantities are best.

use super::cells::{Answer, Cell};
use super::cost::{LINES, Line};
use super::money::Money;
use crate::paper::Paper;
use std::collections::{BTreeMap, BTreeSet};

/// From one quantity to the next one asked for.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// The smaller quantity.
    pub from: u32,
    /// The larger one.
    pub to: u32,
    /// By how much the unit cost changes.
    pub change: Money,
    /// What each of the additional ones costs.
    pub each_more: Money,
    /// Sheets taken more or fewer, by identity.
    pub sheets: BTreeMap<String, i64>,
    /// The line that rises most for each one, and by how much; `None` where none rises.
    pub most: Option<(Line, Money)>,
    /// Remnants that the smaller quantity had for its fewer ones, and the larger one has not more of.
    pub remnants_used_up: bool,
}

impl Step {
    /// Whether the unit cost rises.
    #[must_use]
    pub fn rises(&self) -> bool {
        self.change > Money::ZERO
    }

    /// What the step is made of, in words.
    #[must_use]
    pub fn words(&self, paper: &Paper) -> String {
        let sheets = self.sheets.iter().filter(|(_, n)| **n != 0);
        let mut words: Vec<String> = sheets
            .map(|(id, n)| {
                let values = [
                    ("n", n.abs().to_string().into()),
                    ("sheet", id.as_str().into()),
                ];
                match *n > 0 {
                    true => paper.say_with("estimate-step-more", &values),
                    false => paper.say_with("estimate-step-fewer", &values),
                }
            })
            .collect();
        if self.remnants_used_up && self.rises() {
            words.push(paper.say("estimate-step-used-up"));
        }
        if words.is_empty() {
            words.push(paper.say("estimate-step-same"));
        }
        if let (true, Some((line, _))) = (self.rises(), &self.most) {
            words.push(paper.say_with("estimate-step-most", &[("line", line.words(paper).into())]));
        }
        words.join(", ")
    }
}

/// The steps of a row, with the rack.
#[must_use]
pub fn steps(cells: &[Cell], decimals: u32) -> Vec<Step> {
    cells
        .windows(2)
        .map(|pair| {
            let (a, b) = (&pair[0], &pair[1]);
            let counts = |answer: &Answer| {
                let mut counts: BTreeMap<String, i64> = BTreeMap::new();
                for (id, (n, _)) in answer.work.values().flat_map(|w| &w.sheets) {
                    *counts.entry(id.clone()).or_default() += i64::from(*n);
                }
                counts
            };
            let (before, mut sheets) = (counts(&a.rack), counts(&b.rack));
            for (id, n) in before {
                *sheets.entry(id).or_default() -= n;
            }
            sheets.retain(|_, n| *n != 0);
            let remnants = |answer: &Answer| -> BTreeSet<String> {
                answer
                    .work
                    .values()
                    .flat_map(|w| w.remnants.keys().cloned())
                    .collect()
            };
            let (had, has) = (remnants(&a.rack), remnants(&b.rack));
            let more = b.rack.total() - a.rack.total();
            let unit = |cell: &Cell| cell.rack.total().part(cell.quantity);
            let unit_line = |cell: &Cell, line| cell.rack.cost.line(line).part(cell.quantity);
            let most = LINES
                .into_iter()
                .map(|line| (unit_line(b, line) - unit_line(a, line), line))
                .filter(|(rise, _)| *rise > Money::ZERO)
                .max()
                .map(|(rise, line)| (line, rise));
            Step {
                most,
                from: a.quantity,
                to: b.quantity,
                change: (unit(b) - unit(a)).rounded(decimals),
                each_more: more.part(b.quantity - a.quantity).rounded(decimals),
                sheets,
                // Less than a remnant more for each one more.
                remnants_used_up: !had.is_empty()
                    && has.len() * (a.quantity as usize) < had.len() * (b.quantity as usize),
            }
        })
        .collect()
}

/// Quantities with a lower unit cost than every smaller one asked for and than the next larger one: the last
/// before a step up. The largest counts when it is the lowest of all.
#[must_use]
pub fn best_quantities(cells: &[Cell]) -> Vec<u32> {
    let unit = |cell: &Cell| cell.rack.total().part(cell.quantity);
    let mut best = Vec::new();
    let mut least: Option<Money> = None;
    for (i, cell) in cells.iter().enumerate() {
        let this = unit(cell);
        if least.is_none_or(|least| this < least) {
            least = Some(this);
            if cells.get(i + 1).is_none_or(|next| unit(next) > this) {
                best.push(cell.quantity);
            }
        }
    }
    best
}

/// Quantities whose cost is that of a larger one: what is over goes to stock.
#[must_use]
pub fn made_as_more(cells: &[Cell]) -> Vec<(u32, u32)> {
    let more = cells.iter().filter(|c| c.rack.made > c.quantity);
    more.map(|c| (c.quantity, c.rack.made)).collect()
}

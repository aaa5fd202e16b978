//! The cost of a job shared over its parts and kits, by a named rule.
//!
//! What belongs to a material is shared over the parts of that material, what belongs to none over all parts;
//! each by the same measure of the parts. Shares add up to the cost to the coin: coins left by rounding go to
//! the largest remainders.

use super::cells::Answer;
use super::money::Money;
use crate::job::Job;
use crate::paper::Paper;
use std::collections::BTreeMap;

/// What parts are measured by. Every rule is a convention; none is the true cost of a part.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum ShareRule {
    /// Area of the part, holes not counted
    Area,
    /// Area of the rectangle round the part
    Bounding,
}

impl ShareRule {
    /// In words.
    #[must_use]
    pub fn words(self, paper: &Paper) -> String {
        paper.say(match self {
            Self::Area => "estimate-share-area",
            Self::Bounding => "estimate-share-bounding",
        })
    }
}

/// What one item of the job bears.
#[derive(Debug, Clone, PartialEq)]
pub struct Share {
    /// Index into the job's items.
    pub item: usize,
    /// All its copies.
    pub copies: u32,
    /// Of all its copies.
    pub amount: Money,
}

/// Shares the cost of an answer out over the items of `job`, whose quantities are those of the answer.
#[must_use]
pub fn by_item(answer: &Answer, job: &Job, rule: ShareRule, decimals: u32) -> Vec<Share> {
    let measure = |item: usize| {
        let item = &job.items[item];
        let each = match rule {
            ShareRule::Area => item.outline.area(),
            ShareRule::Bounding => item.outline.bounds().area(),
        };
        each * f64::from(item.quantity)
    };
    let mut amounts: BTreeMap<Option<usize>, Money> = BTreeMap::new();
    for entry in &answer.cost.entries {
        *amounts.entry(entry.material).or_default() += entry.amount;
    }
    let mut shares: Vec<Share> = (0..job.items.len())
        .filter(|i| job.items[*i].quantity > 0)
        .map(|item| Share {
            item,
            copies: job.items[item].quantity,
            amount: Money::ZERO,
        })
        .collect();
    for (material, amount) in amounts {
        let bearing: Vec<usize> = (0..shares.len())
            .filter(|i| material.is_none_or(|m| job.items[shares[*i].item].material == m))
            .collect();
        let weights: Vec<f64> = bearing.iter().map(|i| measure(shares[*i].item)).collect();
        for (i, share) in bearing.into_iter().zip(amount.shared(&weights, decimals)) {
            shares[i].amount += share;
        }
    }
    shares
}

/// The same by kit; single parts bear theirs under the name of the kit they are from.
#[must_use]
pub fn by_kit(shares: &[Share], job: &Job) -> Vec<(String, Money)> {
    let mut kits: Vec<(String, Money)> = Vec::new();
    for share in shares {
        let kit = &job.items[share.item].kit;
        match kits.iter_mut().find(|(name, _)| name == kit) {
            Some((_, amount)) => *amount += share.amount,
            None => kits.push((kit.clone(), share.amount)),
        }
    }
    kits
}

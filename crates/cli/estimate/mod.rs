//! What an order costs, in which material, at which quantity.
//!
//! An estimate goes through these modules: [`choice`] (the order with another material or another price),
//! [`cells`] (every cell of the table nested), [`work`] (what a nest asks for), [`cost`] (what that costs at the
//! shop's [`rates`](crate::rates), line by line in exact [`money`]), [`curve`] (steps and best quantities), [`table`]
//! (what is said, as text, CSV, JSON and HTML).

pub mod booked;
pub mod buying;
pub mod cautions;
pub mod cells;
pub mod chart;
pub mod choice;
pub mod cost;
pub mod curve;
pub mod export;
pub mod html;
pub mod layouts;
pub mod lifting;
pub mod money;
pub mod share;
pub mod stiffness;
pub mod swap;
pub mod table;
pub mod text;
pub mod work;

use crate::args::PaperArgs;
use crate::input::OrderFile;
use crate::job::Job;
use crate::paper::Paper;
use crate::rates::Rates;
use crate::read_job::{JobFiles, ReadJobOptions};
use crate::{Failure, Result};
use cells::{Cell, Effort};
use choice::{One, Swap, WhatIf};
use std::path::Path;
use std::sync::atomic::AtomicBool;

/// What is asked.
#[derive(Debug, Clone)]
pub struct Question {
    /// Quantities in rising order; `None` for the order as it stands.
    pub quantities: Option<Vec<u32>>,
    /// Materials to try, besides those the order names.
    pub swaps: Vec<Swap>,
    /// What else to try.
    pub what_ifs: Vec<WhatIf>,
    /// How hard each cell is nested.
    pub effort: Effort,
    /// How papers are to be written where that is not as the shop file says.
    pub paper: PaperArgs,
}

/// The answer.
#[derive(Debug)]
pub struct Estimate {
    /// The order's name.
    pub order: String,
    /// The shop's name.
    pub shop: String,
    /// Currency label.
    pub currency: String,
    /// How papers are written.
    pub paper: Paper,
    /// What one of it is.
    pub one: One,
    /// The same in words.
    pub one_words: String,
    /// Quantities in rising order.
    pub quantities: Vec<u32>,
    /// The rates it rests on.
    pub rates: Rates,
    /// The order as it is, then each swap.
    pub choices: Vec<Estimated>,
    /// The order with each what-if.
    pub what_ifs: Vec<(WhatIf, Estimated)>,
    /// How hard each cell was nested.
    pub effort: Effort,
    /// Whether the same call gives the same again: not when it was stopped.
    pub repeatable: bool,
}

/// One row of the table.
#[derive(Debug)]
pub struct Estimated {
    /// The material that the role is filled with, or what stands for the order as it is.
    pub label: String,
    /// What was swapped.
    pub swap: Option<Swap>,
    /// The job as ordered, with its cells; or why there are none.
    pub found: Result<(Job, Vec<Cell>)>,
    /// What to look at before it takes the place of the order as it is.
    pub hints: Vec<String>,
}

impl Estimate {
    /// Estimates an order.
    ///
    /// # Errors
    /// Bad input; a swap that cannot be made is not one, but told in its row.
    pub fn of(
        order: &Path,
        options: &ReadJobOptions,
        question: &Question,
        cancel: &AtomicBool,
        tell: &(dyn Fn(usize, usize) + Sync),
    ) -> Result<Self> {
        let files = JobFiles::read(order, options)?;
        let read = |swap: Option<&Swap>, what_if: Option<&WhatIf>| {
            let mut job = choice::job(&files, swap, what_if)?;
            question.paper.apply(&mut job.shop.paper);
            Ok(job)
        };
        let as_it_is: Job = read(None, None)?;
        let paper = as_it_is.shop.paper;
        let (file, rates) = (&files.order, &as_it_is.shop.rates);
        let one = match &question.quantities {
            Some(_) => One::set(&as_it_is),
            None => One::order(&as_it_is),
        };
        let quantities = question.quantities.clone().unwrap_or_else(|| vec![1]);
        refuse_too_many(&as_it_is, &one, &quantities)?;
        let swaps = swaps(file, &as_it_is, &question.swaps)?;
        let roles: Vec<&str> = file.roles.keys().map(String::as_str).collect();
        for what_if in &question.what_ifs {
            what_if.check(&as_it_is, &roles)?;
            // One that cannot be made is told in its row.
            if what_if.has_size()
                && let Ok(changed) = read(None, Some(what_if))
            {
                what_if.check_sheets(&changed)?;
            }
        }
        let mut labels = vec![(base_label(file, &swaps, &paper), None)];
        labels.extend(swaps.iter().map(|s| (s.material.clone(), Some(s.clone()))));
        let jobs: Vec<_> = labels
            .iter()
            .map(|(_, swap)| read(swap.as_ref(), None))
            .collect();
        let found = cells::fill(
            &jobs,
            &one,
            &quantities,
            rates,
            question.effort,
            cancel,
            tell,
        )?;
        let choices = labels
            .into_iter()
            .zip(jobs.into_iter().zip(found))
            .map(|((label, swap), (job, cells))| Estimated {
                hints: job
                    .as_ref()
                    .map_or(Vec::new(), |job| swap::hints(&as_it_is, job, rates)),
                label,
                swap,
                found: job.and_then(|job| Ok((job, cells?))),
            })
            .collect();
        let what_ifs = question
            .what_ifs
            .iter()
            .map(|what_if| {
                let jobs = [read(None, Some(what_if))];
                let effort = question.effort;
                let mut found = cells::fill(&jobs, &one, &quantities, rates, effort, cancel, tell)?;
                let [job] = jobs;
                let cells = found.remove(0);
                let row = Estimated {
                    label: what_if.text.clone(),
                    swap: None,
                    hints: Vec::new(),
                    found: job.and_then(|job| Ok((job, cells?))),
                };
                Ok((what_if.clone(), row))
            })
            .collect::<Result<Vec<_>>>()?;
        Ok(Self {
            order: as_it_is.order.clone(),
            shop: as_it_is.shop.name.clone(),
            currency: as_it_is.shop.currency.clone(),
            paper,
            one_words: one.words(&as_it_is),
            one,
            quantities,
            rates: rates.clone(),
            choices,
            what_ifs,
            effort: question.effort,
            repeatable: !cancel.load(std::sync::atomic::Ordering::Relaxed),
        })
    }
}

/// What the order asks to be tried, then what was typed, each once.
fn swaps(order: &OrderFile, job: &Job, typed: &[Swap]) -> Result<Vec<Swap>> {
    let named = order.alternatives.iter().flat_map(|(role, materials)| {
        materials.iter().map(|material| Swap {
            role: role.clone(),
            material: material.clone(),
        })
    });
    let materials: Vec<&str> = job.shop.materials.iter().map(|m| m.name.as_str()).collect();
    let roles: Vec<&str> = order.roles.keys().map(String::as_str).collect();
    let mut all: Vec<Swap> = Vec::new();
    for swap in named.chain(typed.iter().cloned()) {
        for (kind, name, names) in [
            ("role of the order", &swap.role, &roles),
            ("material", &swap.material, &materials),
        ] {
            if !names.contains(&name.as_str()) {
                let what = format!("no {kind} is called '{name}'");
                let advice = crate::input::suggestion(name, names);
                return Err(Failure::new("--swap", what, advice));
            }
        }
        let as_it_is = order.roles.get(&swap.role) == Some(&swap.material);
        if !as_it_is && !all.contains(&swap) {
            all.push(swap);
        }
    }
    Ok(all)
}

/// What the order as it is is called: the material it has where others have another, if that is one role.
fn base_label(order: &OrderFile, swaps: &[Swap], paper: &Paper) -> String {
    let first = swaps.first().map(|s| &s.role);
    let one_role = swaps.iter().all(|s| Some(&s.role) == first);
    let material = first
        .filter(|_| one_role)
        .and_then(|role| order.roles.get(role));
    material
        .cloned()
        .unwrap_or_else(|| paper.say("estimate-as-ordered"))
}

/// More copies than this in one nest is a slip of the finger.
const MOST_IN_A_CELL: u64 = 200_000;

fn refuse_too_many(job: &Job, one: &One, quantities: &[u32]) -> Result<()> {
    let kits = job.kits.iter().zip(&one.kits);
    let in_kits: u64 = kits
        .map(|(k, n)| {
            k.parts
                .iter()
                .map(|(_, each)| u64::from(*each))
                .sum::<u64>()
                * u64::from(*n)
        })
        .sum();
    let copies = in_kits + one.singles.iter().map(|n| u64::from(*n)).sum::<u64>();
    let most = quantities.iter().copied().max().unwrap_or(0);
    if copies * u64::from(most) > MOST_IN_A_CELL {
        let what = format!("{most} of it are {} parts", copies * u64::from(most));
        return Err(Failure::new(
            "--quantities",
            what,
            format!("ask for fewer; at most {MOST_IN_A_CELL} parts"),
        ));
    }
    Ok(())
}

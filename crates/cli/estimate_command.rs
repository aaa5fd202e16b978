//! `panelwright estimate`: reads what was asked, estimates, prints.

use crate::args::EstimateArgs;
use crate::estimate::booked::Booked;
use crate::estimate::buying::BuyingList;
use crate::estimate::cells::Effort;
use crate::estimate::choice::{Swap, WhatIf};
use crate::estimate::share::ShareRule;
use crate::estimate::{Estimate, Question, export, html, layouts, text};
use crate::read_job::ReadJobOptions;
use crate::terminal::{Left, Voice};
use crate::write::{OutFolder, nest_json};
use crate::{DONE, Failure, LEFT_OVER, Result, report, workload};
use std::path::Path;
use std::sync::atomic::AtomicBool;

/// More is a slip of the finger.
const MOST_EFFORT: u32 = 1_000_000;

/// A longer list would take days.
const MOST_QUANTITIES: usize = 500;

/// Larger quantities are another kind of work.
const MOST_QUANTITY: u32 = 100_000;

/// Runs `panelwright estimate`; returns what to print and the exit code.
///
/// # Errors
/// Bad input, a folder that cannot be written. Nothing is written then.
pub fn run(args: &EstimateArgs, voice: Voice, cancel: &AtomicBool) -> Result<(String, u8)> {
    if let Some(nest) = &args.nest {
        let options = ReadJobOptions {
            rack: args.rack.clone(),
            ..ReadJobOptions::default()
        };
        let mut booked = Booked::of(nest, &args.order, &options)?;
        args.paper.apply(&mut booked.paper);
        let said = if args.json {
            booked.json()
        } else {
            booked.text()
        };
        return Ok((said, DONE));
    }
    let question = question(args)?;
    let pool = workload::pool(args.threads)?;
    if args.buy {
        let orders: Vec<_> = std::iter::once(&args.order)
            .chain(&args.also)
            .cloned()
            .collect();
        let options = ReadJobOptions {
            rack: args.rack.clone(),
            ..ReadJobOptions::default()
        };
        let list = || BuyingList::of(&orders, &options, question.effort, cancel);
        let mut list = workload::on(pool.as_ref(), list)?;
        args.paper.apply(&mut list.paper);
        let said = if args.json { list.json() } else { list.text() };
        return Ok((said, DONE));
    }
    // Before the nests, so that nobody waits for a result that cannot be stored.
    let folder = args.out.as_deref().map(out_folder).transpose()?;
    let options = ReadJobOptions {
        rack: args.rack.clone(),
        ..ReadJobOptions::default()
    };
    let progress = voice.progress("estimating", Left::ByShare);
    let tell = |done: usize, of: usize| {
        progress.done(done as f64 / of.max(1) as f64);
        progress.found(&format!("{done} of {of} nests"));
    };
    let work = || Estimate::of(&args.order, &options, &question, cancel, &tell);
    let estimate = workload::on(pool.as_ref(), work);
    drop(progress);
    let estimate = estimate?;
    let refused = estimate.choices.iter().any(|c| c.found.is_err());
    let code = if refused { LEFT_OVER } else { DONE };
    if let Some(folder) = folder {
        folder.commit(files(&estimate, args.shares)?)?;
    }
    let said = match () {
        () if args.json => export::json(&estimate, args.shares),
        () if args.csv => export::csv(&estimate)?,
        () if args.every_line => text::text(&estimate),
        () => text::summary(&estimate),
    };
    Ok((said, code))
}

/// The out folder, before anything is nested. One with a nest in it is refused: its files would be taken for
/// those of an earlier run.
fn out_folder(path: &Path) -> Result<OutFolder> {
    if path.join("nest.json").exists() {
        return Err(Failure::new(
            path.join("nest.json").display().to_string(),
            "there is a nest in the folder, and an estimate would replace it",
            "name another folder",
        ));
    }
    OutFolder::prepare(path)
}

/// Every file of an estimate: names relative to the out folder, and contents.
fn files(estimate: &Estimate, shares: ShareRule) -> Result<Vec<(String, Vec<u8>)>> {
    let mut files = vec![
        (
            "estimate.html".to_owned(),
            html::html(estimate, shares)?.into_bytes(),
        ),
        ("estimate.txt".to_owned(), text::text(estimate).into_bytes()),
        (
            "estimate.csv".to_owned(),
            export::csv(estimate)?.into_bytes(),
        ),
        (
            "estimate.json".to_owned(),
            export::json(estimate, shares).into_bytes(),
        ),
    ];
    for (i, choice) in estimate.choices.iter().enumerate() {
        let Ok((job, cells)) = &choice.found else {
            continue;
        };
        for cell in cells {
            let made = estimate.one.job(job, cell.rack.made, None, None);
            let plan = layouts::plan(&cell.rack, &made, estimate.effort.seed);
            let folder = html::cell_folder(i, cell.quantity);
            let nest = nest_json::to_string(&nest_json::record(&plan, &made))?;
            files.push((
                format!("{folder}/report.html"),
                report::html(&plan, &made)?.into_bytes(),
            ));
            files.push((format!("{folder}/nest.json"), nest.into_bytes()));
        }
    }
    Ok(files)
}

fn question(args: &EstimateArgs) -> Result<Question> {
    let swaps = args.swap.iter().map(|text| match text.split_once('=') {
        Some((role, material)) => Ok(Swap {
            role: role.to_owned(),
            material: material.to_owned(),
        }),
        None => {
            let what = format!("'{text}' has no '='");
            Err(Failure::new(
                "--swap",
                what,
                "give ROLE=MATERIAL, such as body=acrylic-6",
            ))
        }
    });
    Ok(Question {
        quantities: args.quantities.as_deref().map(quantities).transpose()?,
        swaps: swaps.collect::<Result<_>>()?,
        what_ifs: args
            .what_if
            .iter()
            .map(|t| WhatIf::parse(t))
            .collect::<Result<_>>()?,
        effort: Effort {
            seed: args.seed,
            steps: workload::steps(args.effort, MOST_EFFORT)?,
        },
        paper: args.paper,
    })
}

/// A list of quantities, `1,5,10` or `1-12` or `10-100/10`, in rising order and each once.
fn quantities(text: &str) -> Result<Vec<u32>> {
    let fail = |what: String| {
        let advice = "give numbers from 1 to 100000, such as 1,5,10,25 or 1-12 or 10-100/10";
        Failure::new("--quantities", what, advice)
    };
    let number = |text: &str| {
        let value = text.trim().parse::<u32>().ok();
        let value = value.filter(|v| (1..=MOST_QUANTITY).contains(v));
        value.ok_or_else(|| fail(format!("'{text}' is no quantity")))
    };
    let mut all = Vec::new();
    for part in text.split(',') {
        let (range, by) = match part.split_once('/') {
            Some((range, by)) => (range, number(by)?),
            None => (part, 1),
        };
        match range.split_once('-') {
            Some((from, to)) => {
                let (from, to) = (number(from)?, number(to)?);
                if from > to {
                    return Err(fail(format!("'{part}' runs backwards")));
                }
                all.extend((from..=to).step_by(by as usize).take(MOST_QUANTITIES + 1));
            }
            None => all.push(number(range)?),
        }
    }
    all.sort_unstable();
    all.dedup();
    if all.len() > MOST_QUANTITIES {
        return Err(fail(format!(
            "the list has more than {MOST_QUANTITIES} quantities"
        )));
    }
    Ok(all)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lists_of_quantities() {
        assert_eq!(quantities("25,1,5,10,5").expect("a list"), [1, 5, 10, 25]);
        assert_eq!(
            quantities("1-4,10-30/10").expect("a list"),
            [1, 2, 3, 4, 10, 20, 30]
        );
        for bad in [
            "", "0", "a", "5-1", "1-9/0", "-3", "1,,2", "1000000", "1-100000",
        ] {
            assert!(quantities(bad).is_err(), "{bad}");
        }
    }
}

//! What text and HTML say in the same words.

use super::figures::{Figures, PartLine, SheetFigures};
use super::number::{adding_up, length, money, plain, plural, short};
use crate::cut_plan::{Choice, CutPlan, CutSheet, Totals};
use panelwright_nesting::{SawCut, StockKind};

/// Whether everything is placed, in one sentence.
pub(super) fn headline(figures: &Figures) -> String {
    let count = |kind| figures.sheets.iter().filter(|s| s.kind == kind).count();
    let (sheets, remnants) = (count(StockKind::Sheet), count(StockKind::Remnant));
    let mut from = Vec::new();
    if sheets > 0 {
        from.push(format!("{sheets} {}", plural(sheets, "sheet", "sheets")));
    }
    if remnants > 0 {
        from.push(format!(
            "{remnants} {}",
            plural(remnants, "remnant", "remnants")
        ));
    }
    let from = if from.is_empty() {
        "nothing".to_owned()
    } else {
        from.join(" and ")
    };
    match figures.missing_count() {
        0 if figures.placed == 1 => format!("The one part is placed, on {from}."),
        0 => format!("All {} parts are placed, on {from}.", figures.placed),
        n => format!(
            "{} of {} parts are placed, on {from}. {n} {} missing, see below.",
            figures.placed,
            figures.wanted,
            plural(n as usize, "is", "are")
        ),
    }
}

/// Sheets after which more kits are complete than before, and how many then are.
pub(super) fn completions(complete: &[u32]) -> Vec<(usize, u32)> {
    let before = std::iter::once(0).chain(complete.iter().copied());
    (1..)
        .zip(before.zip(complete))
        .filter(|(_, (before, now))| before < *now)
        .map(|(number, (_, now))| (number, *now))
        .collect()
}

/// Most completions that are told in a sentence; the table of sheets has them all.
const MOST_TOLD: usize = 6;

/// When kits are complete, as `1 after sheet 4, 3 after sheet 6`.
pub(super) fn complete_after(complete: &[u32]) -> String {
    let steps = completions(complete);
    let skipped = steps.len().saturating_sub(MOST_TOLD);
    let mut told: Vec<String> = steps
        .iter()
        .enumerate()
        // The first ones and the last.
        .filter(|(i, _)| *i + 1 < MOST_TOLD || *i + 1 == steps.len())
        .map(|(_, (number, kits))| format!("{kits} after sheet {number}"))
        .collect();
    if told.is_empty() {
        return "none on any sheet".to_owned();
    }
    if skipped > 0 {
        told.insert(MOST_TOLD - 1, "...".to_owned());
    }
    told.join(", ")
}

/// How many kits are complete after each sheet.
pub(super) fn complete_counts(plan: &CutPlan) -> Vec<u32> {
    plan.sheets.iter().map(|s| s.kits_complete).collect()
}

/// What an option changed, in a sentence or two.
pub(super) fn choice_words(choice: &Choice, plan: &CutPlan, currency: &str) -> String {
    let currency = plain(currency);
    let more = choice.spend_with - choice.spend_without;
    let spend = match () {
        () if more.abs() < 0.005 => "the spend is the same as without it".to_owned(),
        () if more > 0.0 => format!(
            "the spend is {} {currency} more than the {} without it",
            money(more),
            money(choice.spend_without)
        ),
        () => format!(
            "the spend is {} {currency} less than the {} without it",
            money(-more),
            money(choice.spend_without)
        ),
    };
    let mut words = format!(
        "{}: {}; {spend}",
        plain(&choice.option),
        plain(&choice.result)
    );
    let (now, then) = (choice.missing_with, choice.missing_without);
    if now != then {
        words += &format!(", and {now} parts are missing instead of {then}");
    }
    words += ".";
    if plan.kits > 0 {
        words += &format!(
            " Kits complete without it: {}.",
            complete_after(&choice.complete_without)
        );
    }
    words
}

/// What of a sheet no part may touch, in words; empty when there is nothing.
pub(super) fn keep_off(cut: &CutSheet) -> String {
    let count = |n: usize, one, many| match n {
        0 => None,
        n => Some(format!("{n} {}", plural(n, one, many))),
    };
    let mut what: Vec<String> = [
        count(cut.voids.len(), "void", "voids"),
        count(cut.flaws.len(), "flaw", "flaws"),
    ]
    .into_iter()
    .flatten()
    .collect();
    if !cut.zones.is_empty() {
        let mut names: Vec<String> = cut.zones.iter().map(|z| plain(&z.why)).collect();
        names.sort();
        names.dedup();
        what.push(format!(
            "what the machine needs free ({})",
            names.join(", ")
        ));
    }
    what.join(" and ")
}

/// How the plan can be had again.
pub(super) fn repeat_note(plan: &CutPlan) -> String {
    if plan.repeatable {
        format!(
            "Seed {}; the same inputs and seed give the same plan.",
            plan.seed
        )
    } else {
        format!(
            "Seed {}; the search was stopped early, so another run may give another plan.",
            plan.seed
        )
    }
}

/// Identity of a sheet size, or of a remnant and that it is one.
pub(super) fn stock_name(id: &str, kind: StockKind) -> String {
    match kind {
        StockKind::Sheet => id.to_owned(),
        StockKind::Remnant => format!("remnant {id}"),
    }
}

/// How a sheet is cut, in one line.
pub(super) fn method(sheet: &SheetFigures, cut: &CutSheet) -> String {
    let machine = &sheet.machine;
    match (&sheet.saw, cut.guillotine) {
        (_, true) => format!("{machine}: sawn to size, kerf {}", short(cut.kerf, 3)),
        (saw, false) => {
            let first = match saw {
                Some(saw) => format!(
                    "{saw} first, into {} {}, then ",
                    cut.blanks.len(),
                    plural(cut.blanks.len(), "blank", "blanks")
                ),
                None => String::new(),
            };
            format!(
                "{first}{machine}: margin {}, gap {}, kerf {}",
                short(cut.margin, 3),
                short(cut.gap, 3),
                short(cut.kerf, 3)
            )
        }
    }
}

/// What else is to know about the copies of a part on a sheet.
pub(super) fn part_note(line: &PartLine) -> String {
    let mut notes = Vec::new();
    if line.label != line.part {
        notes.push(line.label.clone());
    }
    if line.then_router {
        notes.push("then router".to_owned());
    }
    if line.inside > 0 {
        notes.push(format!("{} in a window", line.inside));
    }
    notes.join("; ")
}

/// Where a cut runs: the distance of its centre line, and from where to where.
pub(super) fn cut_words(cut: &SawCut) -> String {
    let span = |a: f64, b: f64| format!("{} to {}", length(a.min(b)), length(a.max(b)));
    if (cut.to.x - cut.from.x).abs() >= (cut.to.y - cut.from.y).abs() {
        format!("y {}, x {}", length(cut.from.y), span(cut.from.x, cut.to.x))
    } else {
        format!("x {}, y {}", length(cut.from.x), span(cut.from.y, cut.to.y))
    }
}

/// The stage of a cut, in a word.
pub(super) fn stage_word(cut: &SawCut) -> String {
    match cut.stage {
        0 => "trim".to_owned(),
        stage => stage.to_string(),
    }
}

/// How far the spend is from what is proven, without the currency.
pub(super) fn to_gain(totals: &Totals) -> String {
    let gain = totals.spend - totals.least_spend;
    if !gain.is_finite() {
        String::new()
    } else if gain < 0.005 {
        ", so nothing is left to gain".to_owned()
    } else {
        format!(", so at most {} is left to gain", money(gain))
    }
}

/// The sheets' spends as they are printed: they add up to the printed spend of the plan.
pub(super) fn sheet_spends(figures: &Figures, plan: &CutPlan) -> Vec<String> {
    let amounts: Vec<f64> = figures.sheets.iter().map(|s| s.spend).collect();
    printed(&amounts, plan)
}

/// The amounts of the spend's lines as they are printed: they add up likewise.
pub(super) fn spend_amounts(figures: &Figures, plan: &CutPlan) -> Vec<String> {
    let amounts: Vec<f64> = figures.spend.iter().map(|l| l.amount).collect();
    printed(&amounts, plan)
}

fn printed(amounts: &[f64], plan: &CutPlan) -> Vec<String> {
    let lines = adding_up(amounts, plan.totals.spend);
    lines.into_iter().map(money).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use panelwright_geometry::Point;

    #[test]
    fn completions_in_words() {
        assert_eq!(complete_after(&[]), "none on any sheet");
        assert_eq!(complete_after(&[0, 0]), "none on any sheet");
        assert_eq!(
            complete_after(&[0, 2, 2, 5]),
            "2 after sheet 2, 5 after sheet 4"
        );
        let many: Vec<u32> = (1..=20).collect();
        assert_eq!(
            complete_after(&many),
            "1 after sheet 1, 2 after sheet 2, 3 after sheet 3, 4 after sheet 4, 5 after sheet 5, \
             ..., 20 after sheet 20"
        );
        assert_eq!(complete_after(&many[..6]).matches("after").count(), 6);
        assert!(!complete_after(&many[..6]).contains("..."));
    }

    #[test]
    fn what_an_option_cost_in_words() {
        let (plan, _) = super::super::sample::cabinet();
        let mut choice = Choice {
            option: "--kits-early".to_owned(),
            result: "nested in batches of 2 kits".to_owned(),
            spend_with: 112.5,
            spend_without: 100.0,
            missing_with: 4,
            missing_without: 4,
            complete_without: vec![0, 3],
        };
        assert_eq!(
            choice_words(&choice, &plan, "EUR"),
            "--kits-early: nested in batches of 2 kits; the spend is 12.50 EUR more than the 100.00 \
             without it. Kits complete without it: 3 after sheet 2."
        );
        choice.spend_with = 99.0;
        choice.missing_with = 6;
        let words = choice_words(&choice, &plan, "EUR");
        assert!(words.contains("1.00 EUR less than the 100.00"), "{words}");
        assert!(
            words.contains("6 parts are missing instead of 4"),
            "{words}"
        );
    }

    #[test]
    fn cuts_in_words() {
        let cut = |x0, y0, x1, y1| SawCut {
            from: Point::new(x0, y0),
            to: Point::new(x1, y1),
            kerf: 3.2,
            stage: 0,
        };
        assert_eq!(cut_words(&cut(0.0, 6.4, 2440.0, 6.4)), "y 6.4, x 0 to 2440");
        assert_eq!(cut_words(&cut(9.0, 500.0, 9.0, 8.0)), "x 9, y 8 to 500");
        assert_eq!(stage_word(&cut(0.0, 6.4, 2440.0, 6.4)), "trim");
    }

    #[test]
    fn gain_is_what_is_not_proven() {
        let totals = |spend, least_spend| Totals {
            spend,
            least_spend,
            ..Totals::default()
        };
        assert_eq!(
            to_gain(&totals(10.0, 8.5)),
            ", so at most 1.50 is left to gain"
        );
        assert_eq!(to_gain(&totals(10.0, 10.0)), ", so nothing is left to gain");
        assert_eq!(to_gain(&totals(f64::NAN, 10.0)), "");
    }
}

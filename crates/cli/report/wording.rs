//! What text and HTML say in the same words.

use super::figures::{Figures, MissingLine, PartLine, SheetFigures};
use crate::bed::turned_on_bed;
use crate::cut_plan::{Choice, CutPlan, CutSheet, Totals};
use crate::job::Job;
use crate::number::{adding_up, plain};
use crate::paper::Paper;
use panelwright_nesting::{SawCut, StockKind};

/// Which face of a sheet or remnant is up, in the same words on all papers.
///
/// Whether parts are engraved or mirrored changes nothing here: the stock lies as the cut file has it, and so do its
/// parts. A remnant with two good faces, or none, is told from its mirror image by its shape, voids and flaws.
pub(crate) fn way_up(sheet: &CutSheet, job: &Job) -> String {
    let remnant = match sheet.source.kind {
        StockKind::Sheet => None,
        StockKind::Remnant => job.shop.remnants.iter().find(|r| r.id == sheet.source.id),
    };
    // A remnant may have lost a face that its material had.
    let material = &job.shop.materials[sheet.material];
    let faces = remnant.map_or(material.good_faces, |r| r.good_faces);
    let polygon = sheet.polygon();
    let bounds = polygon.bounds();
    let plain = sheet.flaws.is_empty() && polygon.area() > bounds.area() * (1.0 - 1e-6);
    if faces != 1 && !plain {
        return job.shop.paper.say("lay-as-drawn");
    }
    way_up_words(faces, job.shop.paper)
}

/// The same by the number of good faces, where either way fits.
pub(crate) fn way_up_words(good_faces: u8, paper: Paper) -> String {
    paper.say(match good_faces {
        0 => "lay-any",
        1 => "lay-good-up",
        _ => "lay-both-good",
    })
}

/// Whether everything is placed, in one sentence.
pub(super) fn headline(figures: &Figures, paper: Paper) -> String {
    let count = |kind| figures.sheets.iter().filter(|s| s.kind == kind).count();
    let (sheets, remnants) = (count(StockKind::Sheet), count(StockKind::Remnant));
    let on_sheets = || paper.say_with("on-sheets", &[("n", sheets.into())]);
    let on_remnants = || paper.say_with("on-remnants", &[("n", remnants.into())]);
    let from = match (sheets, remnants) {
        (0, 0) => paper.say("on-nothing"),
        (_, 0) => on_sheets(),
        (0, _) => on_remnants(),
        _ => two_things(&on_sheets(), &on_remnants(), paper),
    };
    match figures.missing_count() {
        0 if figures.placed == 1 => paper.say_with("placed-one", &[("from", from.into())]),
        0 => paper.say_with(
            "placed-all",
            &[("n", figures.placed.into()), ("from", from.into())],
        ),
        n => paper.say_with(
            "placed-some",
            &[
                ("placed", figures.placed.into()),
                ("wanted", figures.wanted.into()),
                ("from", from.into()),
                ("missing", n.into()),
            ],
        ),
    }
}

fn two_things(a: &str, b: &str, paper: Paper) -> String {
    paper.say_with("two-things", &[("a", a.into()), ("b", b.into())])
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
pub(super) fn complete_after(complete: &[u32], paper: Paper) -> String {
    let steps = completions(complete);
    let skipped = steps.len().saturating_sub(MOST_TOLD);
    let mut told: Vec<String> = steps
        .iter()
        .enumerate()
        // The first ones and the last.
        .filter(|(i, _)| *i + 1 < MOST_TOLD || *i + 1 == steps.len())
        .map(|(_, (number, kits))| {
            let values = [("kits", (*kits).into()), ("sheet", (*number).into())];
            paper.say_with("kits-after-sheet", &values)
        })
        .collect();
    if told.is_empty() {
        return paper.say("kits-on-none");
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
pub(super) fn choice_words(
    choice: &Choice,
    plan: &CutPlan,
    currency: &str,
    paper: Paper,
) -> String {
    let more = choice.spend_with - choice.spend_without;
    let values = [
        ("by", paper.money(more.abs()).into()),
        ("currency", plain(currency).into()),
        ("without", paper.money(choice.spend_without).into()),
    ];
    let spend = match () {
        () if more.abs() < 0.005 => paper.say("choice-same"),
        () if more > 0.0 => paper.say_with("choice-more", &values),
        () => paper.say_with("choice-less", &values),
    };
    let mut words = format!(
        "{}: {}; {spend}",
        plain(&choice.option),
        plain(&choice.result)
    );
    let (now, then) = (choice.missing_with, choice.missing_without);
    if now != then {
        let values = [("now", now.into()), ("then", then.into())];
        words += &paper.say_with("choice-missing", &values);
    }
    words += ".";
    if plan.kits > 0 {
        let after = complete_after(&choice.complete_without, paper);
        words.push(' ');
        words += &paper.say_with("choice-kits", &[("after", after.into())]);
    }
    words
}

/// That a sheet lies on its machine otherwise than it is drawn, by the words of `key`.
pub(super) fn turned(key: &str, cut: &CutSheet, job: &Job) -> Option<String> {
    let machine = &job.shop.machines[cut.machine];
    turned_on_bed(cut, machine)?;
    let values = [("machine", plain(&machine.name).into())];
    Some(job.shop.paper.say_with(key, &values))
}

/// What of a sheet no part may touch, in words; empty when there is nothing.
pub(super) fn keep_off(cut: &CutSheet, paper: Paper) -> String {
    let mut what: Vec<String> = Vec::new();
    if !cut.voids.is_empty() {
        what.push(paper.say_with("voids-count", &[("n", cut.voids.len().into())]));
    }
    if !cut.flaws.is_empty() {
        what.push(paper.say_with("flaws-count", &[("n", cut.flaws.len().into())]));
    }
    if !cut.zones.is_empty() {
        let mut names: Vec<String> = cut.zones.iter().map(|z| plain(&z.why)).collect();
        names.sort();
        names.dedup();
        what.push(paper.say_with("machine-needs", &[("what", names.join(", ").into())]));
    }
    let mut what = what.into_iter();
    let first = what.next().unwrap_or_default();
    what.fold(first, |all, next| two_things(&all, &next, paper))
}

/// Why copies are missing, as a sentence.
pub(super) fn missing_why(line: &MissingLine, paper: Paper) -> String {
    // The names of areas kept clear are as the shop file has them.
    plain(&line.cause.words(&line.material, &line.machine, paper))
}

/// How the plan can be had again.
pub(super) fn repeat_note(plan: &CutPlan, paper: Paper) -> String {
    // A seed is a name, not a quantity.
    let values = [("seed", plan.seed.to_string().into())];
    if plan.repeatable {
        paper.say_with("repeat-same", &values)
    } else {
        paper.say_with("repeat-stopped", &values)
    }
}

/// Identity of a sheet size, or of a remnant and that it is one.
pub(super) fn stock_name(id: &str, kind: StockKind, paper: Paper) -> String {
    match kind {
        StockKind::Sheet => id.to_owned(),
        StockKind::Remnant => paper.say_with("remnant-name", &[("id", id.into())]),
    }
}

/// How a sheet is cut, in one line.
pub(super) fn method(sheet: &SheetFigures, cut: &CutSheet, paper: Paper) -> String {
    let values = [
        ("machine", sheet.machine.as_str().into()),
        ("margin", paper.fine_length(cut.margin).into()),
        ("gap", paper.fine_length(cut.gap).into()),
        ("kerf", paper.fine_length(cut.kerf).into()),
    ];
    if cut.guillotine {
        return paper.say_with("sawn-to-size", &values);
    }
    let gaps = paper.say_with("machine-gaps", &values);
    match &sheet.saw {
        Some(saw) => paper.say_with(
            "blanks-first",
            &[
                ("saw", saw.as_str().into()),
                ("n", cut.blanks.len().into()),
                ("then", gaps.into()),
            ],
        ),
        None => gaps,
    }
}

/// What else is to know about the copies of a part on a sheet.
pub(super) fn part_note(line: &PartLine, paper: Paper) -> String {
    let mut notes = Vec::new();
    if line.label != line.part {
        notes.push(line.label.clone());
    }
    if line.then_router {
        notes.push(paper.say("then-router"));
    }
    if line.inside > 0 {
        notes.push(paper.say_with("in-window", &[("n", line.inside.into())]));
    }
    notes.join("; ")
}

/// Where a cut runs: the distance of its centre line, and from where to where.
pub(super) fn cut_words(cut: &SawCut, paper: Paper) -> String {
    let words = |key, at: f64, a: f64, b: f64| {
        let values = [
            ("at", paper.length(at).into()),
            ("from", paper.length(a.min(b)).into()),
            ("to", paper.length(a.max(b)).into()),
        ];
        paper.say_with(key, &values)
    };
    if (cut.to.x - cut.from.x).abs() >= (cut.to.y - cut.from.y).abs() {
        words("cut-across-y", cut.from.y, cut.from.x, cut.to.x)
    } else {
        words("cut-across-x", cut.from.x, cut.from.y, cut.to.y)
    }
}

/// The stage of a cut, in a word.
pub(super) fn stage_word(cut: &SawCut, paper: Paper) -> String {
    match cut.stage {
        0 => paper.say("saw-trim"),
        stage => stage.to_string(),
    }
}

/// The proven least spend, and how far the spend is from it; empty where nothing is placed, since
/// spending nothing is no gain then.
pub(super) fn least_spend(plan: &CutPlan, job: &Job, paper: Paper) -> String {
    if plan.sheets.is_empty() {
        return String::new();
    }
    let least = [
        ("least", paper.money(plan.totals.least_spend).into()),
        ("currency", plain(&job.shop.currency).into()),
    ];
    paper.say_with("proven-least", &least) + &to_gain(&plan.totals, paper)
}

/// How far the spend is from what is proven, without the currency.
fn to_gain(totals: &Totals, paper: Paper) -> String {
    // Of what is printed, so that the three amounts agree.
    let cents = |amount: f64| (amount * 100.0).round() / 100.0;
    let gain = cents(totals.spend) - cents(totals.least_spend);
    if !gain.is_finite() {
        String::new()
    } else if gain < 0.005 {
        paper.say("gain-none")
    } else {
        paper.say_with("gain-most", &[("most", paper.money(gain).into())])
    }
}

/// The sheets' spends as they are printed: they add up to the printed spend of the plan.
pub(super) fn sheet_spends(figures: &Figures, plan: &CutPlan, paper: Paper) -> Vec<String> {
    let amounts: Vec<f64> = figures.sheets.iter().map(|s| s.spend).collect();
    printed(&amounts, plan, paper)
}

/// The amounts of the spend's lines as they are printed: they add up likewise.
pub(super) fn spend_amounts(figures: &Figures, plan: &CutPlan, paper: Paper) -> Vec<String> {
    let amounts: Vec<f64> = figures.spend.iter().map(|l| l.amount).collect();
    printed(&amounts, plan, paper)
}

fn printed(amounts: &[f64], plan: &CutPlan, paper: Paper) -> Vec<String> {
    let lines = adding_up(amounts, plan.totals.spend);
    lines.into_iter().map(|v| paper.money(v)).collect()
}

#[cfg(test)]
mod tests {
    use super::super::{html, sample};
    use super::*;
    use panelwright_geometry::Point;

    const PAPER: Paper = Paper::METRIC;

    #[test]
    fn the_way_up_is_said_alike_on_all_papers() {
        let (plan, mut job) = sample::cabinet();
        for (faces, words) in [
            (0, "either face up"),
            (1, "good face up"),
            (2, "either way up, both faces are good"),
        ] {
            for material in &mut job.shop.materials {
                material.good_faces = faces;
            }
            for sheet in &plan.sheets {
                // The remnant has flaws, so it can be told from its mirror image.
                let as_drawn = sheet.source.kind == StockKind::Remnant && faces != 1;
                let its = if as_drawn { "as in the drawing" } else { words };
                assert_eq!(way_up(sheet, &job), its, "sheet {}", sheet.number);
            }
            let report = html(&plan, &job).expect("a report");
            assert!(report.contains(&format!("<dd>{words}</dd>")), "{words}");
            assert!(
                report.contains(&format!("at the lower left; {words}.")),
                "{words}"
            );
            let papers = crate::papers::files(&plan, &job, b"{}").expect("papers");
            let traveller = papers.iter().find(|(name, _)| name == "traveller.html");
            let traveller = std::str::from_utf8(&traveller.expect("one").1).expect("text");
            assert!(traveller.contains(&format!("Lay it: {words}")), "{words}");
        }
    }

    #[test]
    fn completions_in_words() {
        assert_eq!(complete_after(&[], PAPER), "none on any sheet");
        assert_eq!(complete_after(&[0, 0], PAPER), "none on any sheet");
        assert_eq!(
            complete_after(&[0, 2, 2, 5], PAPER),
            "2 after sheet 2, 5 after sheet 4"
        );
        let many: Vec<u32> = (1..=20).collect();
        assert_eq!(
            complete_after(&many, PAPER),
            "1 after sheet 1, 2 after sheet 2, 3 after sheet 3, 4 after sheet 4, 5 after sheet 5, \
             ..., 20 after sheet 20"
        );
        assert_eq!(
            complete_after(&many[..6], PAPER).matches("after").count(),
            6
        );
        assert!(!complete_after(&many[..6], PAPER).contains("..."));
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
            choice_words(&choice, &plan, "EUR", PAPER),
            "--kits-early: nested in batches of 2 kits; the spend is 12.50 EUR more than the 100.00 \
             without it. Kits complete without it: 3 after sheet 2."
        );
        choice.spend_with = 99.0;
        choice.missing_with = 6;
        let words = choice_words(&choice, &plan, "EUR", PAPER);
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
        assert_eq!(
            cut_words(&cut(0.0, 6.4, 2440.0, 6.4), PAPER),
            "y 6.4, x 0 to 2440"
        );
        assert_eq!(
            cut_words(&cut(9.0, 500.0, 9.0, 8.0), PAPER),
            "x 9, y 8 to 500"
        );
        assert_eq!(stage_word(&cut(0.0, 6.4, 2440.0, 6.4), PAPER), "trim");
    }

    #[test]
    fn gain_is_what_is_not_proven() {
        let totals = |spend, least_spend| Totals {
            spend,
            least_spend,
            ..Totals::default()
        };
        assert_eq!(
            to_gain(&totals(10.0, 8.5), PAPER),
            ", so at most 1.50 is left to gain"
        );
        assert_eq!(
            to_gain(&totals(10.0, 10.0), PAPER),
            ", so nothing is left to gain"
        );
        assert_eq!(to_gain(&totals(f64::NAN, 10.0), PAPER), "");
    }
}

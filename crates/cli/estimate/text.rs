//! The estimate as text of at most 80 columns.

use super::curve::{Step, best_quantities, made_as_more, steps};
use super::money::Money;
use super::table::{Masses, Row, lines_of, masses, placeholders, rows};
use super::{Estimate, Estimated};
use crate::report::number::{mass, percent, plain, plural, short};
use crate::report::text::Page;

/// Quantities that stand side by side.
const COLUMNS: usize = 5;

/// The estimate as text; lines have at most 80 columns and the text ends in a line feed.
#[must_use]
pub fn text(estimate: &Estimate) -> String {
    let mut page = Page::default();
    head(&mut page, estimate);
    answer(&mut page, estimate);
    for choice in &estimate.choices {
        details(&mut page, estimate, choice);
    }
    for (what_if, changed) in &estimate.what_ifs {
        differences(&mut page, estimate, &what_if.text, changed);
    }
    basis(&mut page, estimate);
    page.heading("Cautions");
    for caution in super::cautions::cautions(estimate) {
        page.wrapped(&format!("{}:", caution.about), "", "");
        for line in &caution.lines {
            page.wrapped(line, "  - ", "    ");
        }
    }
    page.into_text()
}

/// The answer alone, for a terminal.
#[must_use]
pub fn summary(estimate: &Estimate) -> String {
    let mut page = Page::default();
    head(&mut page, estimate);
    answer(&mut page, estimate);
    for (what_if, changed) in &estimate.what_ifs {
        differences(&mut page, estimate, &what_if.text, changed);
    }
    page.heading("What this rests on");
    page.wrapped(&placeholder_words(estimate), "", "");
    if !placeholders(estimate).is_empty() {
        page.wrapped(
            "--every-line or --out lists them; set them under 'costing' in the shop file.",
            "",
            "",
        );
    }
    page.wrapped(&repeat_words(estimate), "", "");
    page.into_text()
}

fn head(page: &mut Page, estimate: &Estimate) {
    page.wrapped(
        &format!("Estimate, order {}, {}", estimate.order, estimate.shop),
        "",
        "",
    );
    let of = match estimate.one.whole_order {
        true => format!("the order as it stands: {}", estimate.one_words),
        false => format!("one is {}", estimate.one_words),
    };
    page.wrapped(&of, "", "");
    page.rule('=');
}

/// Quantities as they are headed.
pub(super) fn heads(estimate: &Estimate) -> Vec<String> {
    let quantities = estimate.quantities.iter();
    quantities
        .map(|q| match estimate.one.whole_order {
            true => "the order".to_owned(),
            false => q.to_string(),
        })
        .collect()
}

/// A table with a row for each of the names and a column for each quantity, in blocks that fit the page.
fn by_quantity(page: &mut Page, estimate: &Estimate, first: &str, lines: &[(String, Vec<String>)]) {
    let heads = heads(estimate);
    let count = heads.len();
    for from in (0..count).step_by(COLUMNS) {
        let to = (from + COLUMNS).min(count);
        if from > 0 {
            page.blank();
        }
        let mut header = vec![first];
        header.extend(heads[from..to].iter().map(String::as_str));
        let rows = lines
            .iter()
            .map(|(name, values)| {
                let mut row = vec![plain(name)];
                row.extend((from..to).map(|i| values.get(i).cloned().unwrap_or_default()));
                row
            })
            .collect();
        page.table(&header, rows, &(1..=to - from).collect::<Vec<_>>());
    }
}

fn answer(page: &mut Page, estimate: &Estimate) {
    let decimals = estimate.rates.decimals;
    let currency = plain(&estimate.currency);
    let money = |m: Money| m.text(decimals);
    let all: Vec<(&Estimated, Vec<Row>)> = estimate
        .choices
        .iter()
        .map(|c| (c, rows(c, estimate)))
        .collect();
    let table = |of: &dyn Fn(&Row) -> String| -> Vec<(String, Vec<String>)> {
        all.iter()
            .map(|(choice, rows)| {
                let values = match rows.is_empty() {
                    true => vec!["no".to_owned(); estimate.quantities.len()],
                    false => rows.iter().map(of).collect(),
                };
                (choice.label.clone(), values)
            })
            .collect()
    };
    let what = if estimate.one.whole_order {
        "Cost"
    } else {
        "Unit cost"
    };
    page.wrapped(
        &format!("{what} in {currency}, with what is on the rack"),
        "",
        "",
    );
    by_quantity(page, estimate, "Material", &table(&|r| money(r.unit_cost)));
    page.blank();
    page.wrapped(&format!("{what}, new sheets only"), "", "");
    let new = |r: &Row| r.unit_cost_new.map_or("-".to_owned(), money);
    by_quantity(page, estimate, "Material", &table(&new));
    page.blank();
    let margin = &estimate.rates.margin;
    let what = if estimate.one.whole_order {
        "Price"
    } else {
        "Price of one"
    };
    let note = if margin.set {
        ""
    } else {
        ", which is a placeholder"
    };
    let margin = percent(margin.value);
    page.wrapped(&format!("{what}, of which {margin} margin{note}"), "", "");
    by_quantity(page, estimate, "Material", &table(&|r| money(r.unit_price)));
    page.blank();
    page.wrapped(
        "Material spend at most so far above its proven floor",
        "",
        "",
    );
    let gap = |r: &Row| r.above_floor.map_or("-".to_owned(), percent);
    by_quantity(page, estimate, "Material", &table(&gap));
    for (choice, rows) in &all {
        if let Err(failure) = &choice.found {
            page.blank();
            page.wrapped(&format!("{}: no. {failure}", choice.label), "", "  ");
        }
        stock(page, choice, rows);
    }
}

/// What is taken, for each quantity.
fn stock(page: &mut Page, choice: &Estimated, rows: &[Row]) {
    if rows.is_empty() {
        return;
    }
    page.heading(&format!("Taken: {}", choice.label));
    for row in rows {
        let mut words = sheet_words(row);
        if !row.remnants.is_empty() {
            let remnants: Vec<&str> = row.remnants.iter().map(String::as_str).collect();
            words += &format!(
                "{}remnants {}",
                if words.is_empty() { "" } else { ", " },
                remnants.join(" ")
            );
        }
        let first = format!("{:>5}  ", row.quantity);
        page.wrapped(&words, &first, "       ");
    }
}

/// Sheets taken, as `3 x A, 1 x B`.
pub(super) fn sheet_words(row: &Row) -> String {
    let sheets = row.sheets.iter();
    let words: Vec<String> = sheets
        .map(|(id, n)| format!("{n} x {}", plain(id)))
        .collect();
    words.join(", ")
}

/// Lines, steps, masses of one choice.
fn details(page: &mut Page, estimate: &Estimate, choice: &Estimated) {
    let Ok((job, cells)) = &choice.found else {
        return;
    };
    let decimals = estimate.rates.decimals;
    let money = |m: Money| m.text(decimals);
    let rows = rows(choice, estimate);
    page.heading(&format!(
        "{}, in {}",
        plain(&choice.label),
        plain(&estimate.currency)
    ));
    let column = |of: &dyn Fn(&Row) -> String| rows.iter().map(of).collect::<Vec<_>>();
    let mut lines: Vec<(String, Vec<String>)> = lines_of(&rows)
        .into_iter()
        .map(|line| (line.words().to_owned(), column(&|r| money(r.line(line)))))
        .collect();
    lines.push(("Cost".to_owned(), column(&|r| money(r.cost))));
    lines.push(("Margin".to_owned(), column(&|r| money(r.margin))));
    lines.push(("Price".to_owned(), column(&|r| money(r.price))));
    if !estimate.one.whole_order {
        lines.push(("Cost of one".to_owned(), column(&|r| money(r.unit_cost))));
        lines.push(("Price of one".to_owned(), column(&|r| money(r.unit_price))));
    }
    by_quantity(page, estimate, "Line", &lines);
    page.blank();
    by_quantity(page, estimate, "What", &facts(&rows));
    page.blank();
    page.wrapped(&masses_words(&masses(job, &estimate.one)), "", "");
    for hint in &choice.hints {
        page.wrapped(hint, "- ", "  ");
    }
    if cells.len() > 1 {
        curve(page, estimate, cells);
    }
}

/// Times, areas, masses and proof: names and a value for each row.
pub(super) fn facts(rows: &[Row]) -> Vec<(String, Vec<String>)> {
    let column = |of: &dyn Fn(&Row) -> String| rows.iter().map(of).collect::<Vec<_>>();
    let minutes = |v: f64| short(v, 1);
    let facts = [
        ("Saw, minutes", column(&|r| minutes(r.minutes.saw))),
        ("Router, minutes", column(&|r| minutes(r.minutes.router))),
        ("Laser, minutes", column(&|r| minutes(r.minutes.laser))),
        ("Set-ups, minutes", column(&|r| minutes(r.minutes.set_up))),
        (
            "Operator, minutes",
            column(&|r| minutes(r.minutes.operator)),
        ),
        ("Bench, minutes", column(&|r| minutes(r.minutes.bench))),
        ("Stock taken, m2", column(&|r| short(r.areas[0], 2))),
        ("Parts, m2", column(&|r| short(r.areas[1], 2))),
        ("Offcuts kept, m2", column(&|r| short(r.areas[2], 2))),
        ("Scrap, m2", column(&|r| short(r.areas[3], 2))),
        ("Heaviest piece, kg", column(&|r| mass(r.heaviest_stock.0))),
        (
            "Material above floor",
            column(&|r| r.above_floor.map_or("-".to_owned(), percent)),
        ),
    ];
    facts.into_iter().map(|(n, v)| (n.to_owned(), v)).collect()
}

/// What one weighs, in a sentence.
pub(super) fn masses_words(masses: &Masses) -> String {
    format!(
        "One weighs {} kg; the heaviest part is {} with {} kg.",
        mass(masses.one_kg),
        plain(&masses.part),
        mass(masses.part_kg)
    )
}

/// The best quantities, in a sentence.
pub(super) fn best_words(best: &[u32]) -> String {
    let best: Vec<String> = best.iter().map(u32::to_string).collect();
    format!("Best of these to quote: {}.", best.join(", "))
}

fn curve(page: &mut Page, estimate: &Estimate, cells: &[super::cells::Cell]) {
    let decimals = estimate.rates.decimals;
    page.blank();
    let rows = steps(cells, decimals)
        .iter()
        .map(|step: &Step| {
            vec![
                format!("{} to {}", step.from, step.to),
                step.change.text(decimals),
                step.each_more.text(decimals),
                step.words(),
            ]
        })
        .collect();
    page.table(
        &["Quantity", "Unit cost by", "Each more", "Because of"],
        rows,
        &[1, 2],
    );
    for step in steps(cells, decimals).iter().filter(|s| s.rises()) {
        page.wrapped(
            &format!(
                "Unit cost rises by {} from {} to {}: {}.",
                step.change.text(decimals),
                step.from,
                step.to,
                step.words()
            ),
            "",
            "  ",
        );
    }
    page.wrapped(&best_words(&best_quantities(cells)), "", "  ");
    for (asked, made) in made_as_more(cells) {
        page.wrapped(
            &format!(
                "{asked} cost no less than {made}: make {made} and keep {} for stock.",
                made - asked
            ),
            "",
            "  ",
        );
    }
}

/// A what-if against the order as it is, line by line.
fn differences(page: &mut Page, estimate: &Estimate, text: &str, changed: &Estimated) {
    page.heading(&format!("What if {text}"));
    if let Err(failure) = &changed.found {
        page.wrapped(&format!("No: {failure}"), "", "  ");
        return;
    }
    let lines = differences_of(estimate, changed);
    if lines.is_empty() {
        page.wrapped(
            "The order as it is cannot be made, so there is nothing to compare.",
            "",
            "",
        );
        return;
    }
    by_quantity(page, estimate, "Line, more or less", &lines);
}

/// Lines that differ, with the differences, and the sums; empty where there is nothing to compare with.
pub(super) fn differences_of(
    estimate: &Estimate,
    changed: &Estimated,
) -> Vec<(String, Vec<String>)> {
    let decimals = estimate.rates.decimals;
    let before = rows(&estimate.choices[0], estimate);
    let after = rows(changed, estimate);
    if before.is_empty() {
        return Vec::new();
    }
    let both = || before.iter().zip(&after);
    let mut lines = Vec::new();
    for line in lines_of(before.iter().chain(&after)) {
        let off: Vec<Money> = both().map(|(b, a)| a.line(line) - b.line(line)).collect();
        if off.iter().any(|m| !m.is_zero()) {
            let values = off.iter().map(|m| signed(*m, decimals)).collect();
            lines.push((line.words().to_owned(), values));
        }
    }
    let row = |of: &dyn Fn(&Row, &Row) -> String| -> Vec<String> {
        both().map(|(b, a)| of(b, a)).collect()
    };
    let more = row(&|b, a| signed(a.cost - b.cost, decimals));
    lines.push(("Cost".to_owned(), more));
    if estimate.one.whole_order {
        let cost = row(&|_, a| a.cost.text(decimals));
        lines.push(("so that it costs".to_owned(), cost));
    } else {
        let each = row(&|b, a| signed(a.unit_cost - b.unit_cost, decimals));
        lines.push(("Cost of one".to_owned(), each));
        let cost = row(&|_, a| a.unit_cost.text(decimals));
        lines.push(("so that one costs".to_owned(), cost));
    }
    lines
}

/// With a plus sign where it is more.
fn signed(amount: Money, decimals: u32) -> String {
    let text = amount.text(decimals);
    if amount.rounded(decimals) > Money::ZERO {
        format!("+{text}")
    } else {
        text
    }
}

/// What the figures rest on.
fn basis(page: &mut Page, estimate: &Estimate) {
    page.heading("What this rests on");
    page.wrapped(&placeholder_words(estimate), "", "");
    let open = placeholders(estimate);
    if !open.is_empty() {
        page.wrapped(&open.join("; "), "  ", "  ");
        page.wrapped("Set them under 'costing' in the shop file.", "", "");
    }
    page.wrapped(&repeat_words(estimate), "", "");
}

/// How much of the cost rests on how many placeholders.
pub(super) fn placeholder_words(estimate: &Estimate) -> String {
    let open = placeholders(estimate).len();
    if open == 0 {
        return "Every rate is set in the shop file.".to_owned();
    }
    let decimals = estimate.rates.decimals;
    let figures = plural(open, "figure", "figures");
    let made = estimate.choices.iter().find(|c| c.found.is_ok());
    let last = made.and_then(|c| Some((c, rows(c, estimate).pop()?)));
    let Some((choice, row)) = last else {
        return format!("{open} {figures} are placeholders, not set in the shop file.");
    };
    format!(
        "{open} {figures} are placeholders, not set in the shop file; {} of the cost of {} in {} ({} of {} {}) \
         is worked out with at least one of them.",
        percent(row.on_placeholders.to_f64() / row.cost.to_f64()),
        match estimate.one.whole_order {
            true => "the order".to_owned(),
            false => row.quantity.to_string(),
        },
        plain(&choice.label),
        row.on_placeholders.text(decimals),
        row.cost.text(decimals),
        plain(&estimate.currency)
    )
}

/// Whether the same call gives the same again.
pub(super) fn repeat_words(estimate: &Estimate) -> String {
    let repeat = match estimate.repeatable {
        true => "the same inputs and seed give the same estimate",
        false => "it was stopped early, so another run may differ",
    };
    format!(
        "Every cell is nested and judged; seed {}; {repeat}.",
        estimate.effort.seed
    )
}

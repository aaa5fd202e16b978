//! The estimate as text of at most 80 columns.

use super::curve::{Step, best_quantities, made_as_more, steps};
use super::money::Money;
use super::table::{Masses, Row, lines_of, masses, placeholders, rows};
use super::{Estimate, Estimated};
use crate::number::plain;
use crate::paper::{Lengths, Paper};
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
        differences(&mut page, estimate, &what_if.shown(), changed);
    }
    basis(&mut page, estimate);
    page.heading(&estimate.paper.say("estimate-cautions"));
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
        differences(&mut page, estimate, &what_if.shown(), changed);
    }
    page.heading(&estimate.paper.say("estimate-basis"));
    page.wrapped(&placeholder_words(estimate), "", "");
    if !placeholders(estimate).is_empty() {
        page.wrapped(&estimate.paper.say("estimate-lists-them"), "", "");
    }
    page.wrapped(&repeat_words(estimate), "", "");
    page.into_text()
}

fn head(page: &mut Page, estimate: &Estimate) {
    let values = [
        ("order", plain(&estimate.order).into()),
        ("shop", plain(&estimate.shop).into()),
    ];
    page.wrapped(&estimate.paper.say_with("estimate-head", &values), "", "");
    page.wrapped(&one_words(estimate), "", "");
    page.rule('=');
}

/// What the estimate is of.
pub(super) fn one_words(estimate: &Estimate) -> String {
    let values = [("words", plain(&estimate.one_words).into())];
    match estimate.one.whole_order {
        true => estimate.paper.say_with("estimate-as-it-stands", &values),
        false => estimate.paper.say_with("estimate-one-is", &values),
    }
}

/// What a unit costs is called.
pub(super) fn unit_cost_word(estimate: &Estimate) -> String {
    estimate.paper.say(match estimate.one.whole_order {
        true => "estimate-cost",
        false => "estimate-unit-cost",
    })
}

/// Quantities as they are headed.
pub(super) fn heads(estimate: &Estimate) -> Vec<String> {
    let quantities = estimate.quantities.iter();
    quantities
        .map(|q| match estimate.one.whole_order {
            true => estimate.paper.say("estimate-the-order"),
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
    let paper = &estimate.paper;
    let currency = plain(&estimate.currency);
    let money = |m: Money| m.words(decimals, paper);
    let all: Vec<(&Estimated, Vec<Row>)> = estimate
        .choices
        .iter()
        .map(|c| (c, rows(c, estimate)))
        .collect();
    let table = |of: &dyn Fn(&Row) -> String| -> Vec<(String, Vec<String>)> {
        all.iter()
            .map(|(choice, rows)| {
                let values = match rows.is_empty() {
                    true => vec![paper.say("estimate-no"); estimate.quantities.len()],
                    false => rows.iter().map(of).collect(),
                };
                (choice.label.clone(), values)
            })
            .collect()
    };
    let what = unit_cost_word(estimate);
    let material = paper.say("estimate-material");
    let values = [
        ("what", what.as_str().into()),
        ("currency", currency.into()),
    ];
    page.wrapped(&paper.say_with("estimate-with-rack", &values), "", "");
    by_quantity(page, estimate, &material, &table(&|r| money(r.unit_cost)));
    page.blank();
    page.wrapped(
        &paper.say_with("estimate-new-only", &[("what", what.into())]),
        "",
        "",
    );
    let new = |r: &Row| r.unit_cost_new.map_or("-".to_owned(), money);
    by_quantity(page, estimate, &material, &table(&new));
    page.blank();
    let margin = &estimate.rates.margin;
    let what = paper.say(match estimate.one.whole_order {
        true => "estimate-price",
        false => "estimate-price-of-one",
    });
    let values = [
        ("what", what.into()),
        ("margin", paper.percent(margin.value).into()),
    ];
    let words = match margin.set {
        true => paper.say_with("estimate-of-which-margin", &values),
        false => paper.say_with("estimate-of-which-placeholder", &values),
    };
    page.wrapped(&words, "", "");
    by_quantity(page, estimate, &material, &table(&|r| money(r.unit_price)));
    page.blank();
    page.wrapped(&paper.say("estimate-above-floor"), "", "");
    let gap = |r: &Row| r.above_floor.map_or("-".to_owned(), |v| paper.percent(v));
    by_quantity(page, estimate, &material, &table(&gap));
    for (choice, rows) in &all {
        if let Err(failure) = &choice.found {
            page.blank();
            let values = [
                ("label", plain(&choice.label).into()),
                ("why", plain(&failure.to_string()).into()),
            ];
            page.wrapped(&paper.say_with("estimate-refused", &values), "", "  ");
        }
        stock(page, choice, rows, paper);
    }
}

/// What is taken, for each quantity.
fn stock(page: &mut Page, choice: &Estimated, rows: &[Row], paper: &Paper) {
    if rows.is_empty() {
        return;
    }
    let label = plain(&choice.label);
    page.heading(&paper.say_with("estimate-taken", &[("label", label.into())]));
    for row in rows {
        let mut words = sheet_words(row);
        if !row.remnants.is_empty() {
            let remnants: Vec<&str> = row.remnants.iter().map(String::as_str).collect();
            let names = plain(&remnants.join(" "));
            words += if words.is_empty() { "" } else { ", " };
            words += &paper.say_with("estimate-remnants", &[("names", names.into())]);
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
    let paper = &estimate.paper;
    let money = |m: Money| m.words(decimals, paper);
    let rows = rows(choice, estimate);
    let values = [
        ("label", plain(&choice.label).into()),
        ("currency", plain(&estimate.currency).into()),
    ];
    page.heading(&paper.say_with("estimate-in", &values));
    let column = |of: &dyn Fn(&Row) -> String| rows.iter().map(of).collect::<Vec<_>>();
    let mut lines: Vec<(String, Vec<String>)> = lines_of(&rows)
        .into_iter()
        .map(|line| (line.words(paper), column(&|r| money(r.line(line)))))
        .collect();
    lines.push((paper.say("estimate-cost"), column(&|r| money(r.cost))));
    lines.push((paper.say("estimate-margin"), column(&|r| money(r.margin))));
    lines.push((paper.say("estimate-price"), column(&|r| money(r.price))));
    if !estimate.one.whole_order {
        let each = paper.say("estimate-cost-of-one");
        lines.push((each, column(&|r| money(r.unit_cost))));
        let each = paper.say("estimate-price-of-one");
        lines.push((each, column(&|r| money(r.unit_price))));
    }
    by_quantity(page, estimate, &paper.say("estimate-line"), &lines);
    page.blank();
    let what = paper.say("estimate-what");
    by_quantity(page, estimate, &what, &facts(&rows, paper));
    page.blank();
    page.wrapped(&masses_words(&masses(job, &estimate.one), paper), "", "");
    for hint in &choice.hints {
        page.wrapped(hint, "- ", "  ");
    }
    if cells.len() > 1 {
        curve(page, estimate, cells);
    }
}

/// Times, areas, masses and proof: names and a value for each row.
pub(super) fn facts(rows: &[Row], paper: &Paper) -> Vec<(String, Vec<String>)> {
    let column = |of: &dyn Fn(&Row) -> String| rows.iter().map(of).collect::<Vec<_>>();
    let minutes = |v: f64| paper.short(v, 1);
    // A square foot is 0.09290304 m2 exactly (international yard, 1959).
    let (in_unit, unit) = match paper.lengths {
        Lengths::Millimetres => (1.0, "m2"),
        Lengths::Inches | Lengths::Fractions(_) => (0.092_903_04, "ft2"),
    };
    let area = |key: &str, i: usize| {
        let name = paper.say_with(key, &[("unit", unit.into())]);
        (name, column(&|r| paper.short(r.areas[i] / in_unit, 2)))
    };
    let time = |key: &str, of: &dyn Fn(&Row) -> f64| {
        let name = paper.say(key);
        (name, column(&|r| minutes(of(r))))
    };
    let mass = |kg: f64| {
        let text = paper.mass(kg);
        let (value, unit) = text.rsplit_once(' ').unwrap_or((text.as_str(), ""));
        (value.to_owned(), unit.to_owned())
    };
    let heaviest = paper.say_with("estimate-fact-heaviest", &[("unit", mass(1.0).1.into())]);
    vec![
        time("estimate-fact-saw", &|r| r.minutes.saw),
        time("estimate-fact-router", &|r| r.minutes.router),
        time("estimate-fact-laser", &|r| r.minutes.laser),
        time("estimate-fact-set-ups", &|r| r.minutes.set_up),
        time("estimate-fact-operator", &|r| r.minutes.operator),
        time("estimate-fact-bench", &|r| r.minutes.bench),
        area("estimate-fact-taken", 0),
        area("estimate-fact-parts", 1),
        area("estimate-fact-kept", 2),
        area("estimate-fact-scrap", 3),
        (heaviest, column(&|r| mass(r.heaviest_stock.0).0)),
        (
            paper.say("estimate-fact-above-floor"),
            column(&|r| r.above_floor.map_or("-".to_owned(), |v| paper.percent(v))),
        ),
    ]
}

/// What one weighs, in a sentence.
pub(super) fn masses_words(masses: &Masses, paper: &Paper) -> String {
    paper.say_with(
        "estimate-masses",
        &[
            ("one", paper.mass(masses.one_kg).into()),
            ("part", plain(&masses.part).into()),
            ("mass", paper.mass(masses.part_kg).into()),
        ],
    )
}

/// The best quantities, in a sentence.
pub(super) fn best_words(best: &[u32], paper: &Paper) -> String {
    let best: Vec<String> = best.iter().map(u32::to_string).collect();
    paper.say_with("estimate-best", &[("list", best.join(", ").into())])
}

fn curve(page: &mut Page, estimate: &Estimate, cells: &[super::cells::Cell]) {
    let decimals = estimate.rates.decimals;
    let paper = &estimate.paper;
    let money = |m: Money| m.words(decimals, paper);
    page.blank();
    let ends = |step: &Step| {
        [
            ("from", step.from.to_string().into()),
            ("to", step.to.to_string().into()),
        ]
    };
    let rows = steps(cells, decimals)
        .iter()
        .map(|step: &Step| {
            vec![
                paper.say_with("estimate-from-to", &ends(step)),
                money(step.change),
                money(step.each_more),
                step.words(paper),
            ]
        })
        .collect();
    let heads = [
        paper.say("estimate-quantity"),
        paper.say("estimate-by"),
        paper.say("estimate-each-more"),
        paper.say("estimate-because"),
    ];
    page.table(&heads.each_ref().map(String::as_str), rows, &[1, 2]);
    for step in steps(cells, decimals).iter().filter(|s| s.rises()) {
        let [from, to] = ends(step);
        let values = [
            from,
            to,
            ("by", money(step.change).into()),
            ("why", step.words(paper).into()),
        ];
        page.wrapped(&paper.say_with("estimate-rises", &values), "", "  ");
    }
    page.wrapped(&best_words(&best_quantities(cells), paper), "", "  ");
    for (asked, made) in made_as_more(cells) {
        let values = [
            ("asked", asked.to_string().into()),
            ("made", made.to_string().into()),
            ("rest", (made - asked).to_string().into()),
        ];
        page.wrapped(&paper.say_with("estimate-make-more", &values), "", "  ");
    }
}

/// A what-if against the order as it is, line by line.
fn differences(page: &mut Page, estimate: &Estimate, text: &str, changed: &Estimated) {
    let paper = &estimate.paper;
    page.heading(&paper.say_with("estimate-what-if", &[("text", plain(text).into())]));
    if let Err(failure) = &changed.found {
        let why = plain(&failure.to_string());
        let words = paper.say_with("estimate-what-if-no", &[("why", why.into())]);
        page.wrapped(&words, "", "  ");
        return;
    }
    let lines = differences_of(estimate, changed);
    if lines.is_empty() {
        page.wrapped(&paper.say("estimate-nothing-to-compare"), "", "");
        return;
    }
    by_quantity(page, estimate, &paper.say("estimate-more-or-less"), &lines);
}

/// Lines that differ, with the differences, and the sums; empty where there is nothing to compare with.
pub(super) fn differences_of(
    estimate: &Estimate,
    changed: &Estimated,
) -> Vec<(String, Vec<String>)> {
    let decimals = estimate.rates.decimals;
    let paper = &estimate.paper;
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
            let values = off.iter().map(|m| signed(*m, decimals, paper)).collect();
            lines.push((line.words(paper), values));
        }
    }
    let row = |of: &dyn Fn(&Row, &Row) -> String| -> Vec<String> {
        both().map(|(b, a)| of(b, a)).collect()
    };
    let more = row(&|b, a| signed(a.cost - b.cost, decimals, paper));
    lines.push((paper.say("estimate-cost"), more));
    if estimate.one.whole_order {
        let cost = row(&|_, a| a.cost.words(decimals, paper));
        lines.push((paper.say("estimate-so-that-it-costs"), cost));
    } else {
        let each = row(&|b, a| signed(a.unit_cost - b.unit_cost, decimals, paper));
        lines.push((paper.say("estimate-cost-of-one"), each));
        let cost = row(&|_, a| a.unit_cost.words(decimals, paper));
        lines.push((paper.say("estimate-so-that-one-costs"), cost));
    }
    lines
}

/// With a plus sign where it is more.
fn signed(amount: Money, decimals: u32, paper: &Paper) -> String {
    let text = amount.words(decimals, paper);
    if amount.rounded(decimals) > Money::ZERO {
        format!("+{text}")
    } else {
        text
    }
}

/// What the figures rest on.
fn basis(page: &mut Page, estimate: &Estimate) {
    page.heading(&estimate.paper.say("estimate-basis"));
    page.wrapped(&placeholder_words(estimate), "", "");
    let open = placeholders(estimate);
    if !open.is_empty() {
        page.wrapped(&open.join("; "), "  ", "  ");
        page.wrapped(&estimate.paper.say("estimate-set-them"), "", "");
    }
    page.wrapped(&repeat_words(estimate), "", "");
}

/// How much of the cost rests on how many placeholders.
pub(super) fn placeholder_words(estimate: &Estimate) -> String {
    let paper = &estimate.paper;
    let open = placeholders(estimate).len();
    if open == 0 {
        return paper.say("estimate-all-set");
    }
    let decimals = estimate.rates.decimals;
    let placeholders = paper.say_with("estimate-placeholders", &[("n", open.into())]);
    let made = estimate.choices.iter().find(|c| c.found.is_ok());
    let last = made.and_then(|c| Some((c, rows(c, estimate).pop()?)));
    let Some((choice, row)) = last else {
        return format!("{placeholders}.");
    };
    let share = row.on_placeholders.to_f64() / row.cost.to_f64();
    let what = match estimate.one.whole_order {
        true => paper.say("estimate-the-order"),
        false => row.quantity.to_string(),
    };
    paper.say_with(
        "estimate-placeholders-share",
        &[
            ("placeholders", placeholders.into()),
            ("share", paper.percent(share).into()),
            ("what", what.into()),
            ("label", plain(&choice.label).into()),
            ("resting", row.on_placeholders.words(decimals, paper).into()),
            ("cost", row.cost.words(decimals, paper).into()),
            ("currency", plain(&estimate.currency).into()),
        ],
    )
}

/// Whether the same call gives the same again.
pub(super) fn repeat_words(estimate: &Estimate) -> String {
    let values = [("seed", estimate.effort.seed.to_string().into())];
    match estimate.repeatable {
        true => estimate.paper.say_with("estimate-repeats", &values),
        false => estimate.paper.say_with("estimate-stopped", &values),
    }
}

//! The estimate as one HTML file that needs nothing else.

use super::cells::Cell;
use super::chart::{Curve, chart};
use super::curve::{Step, best_quantities, steps};
use super::money::Money;
use super::share::{Share, ShareRule, by_item};
use super::table::{Row, lines_of, masses, placeholders, rows};
use super::text::{
    best_words, differences_of, facts, heads, masses_words, one_words, placeholder_words,
    repeat_words, unit_cost_word,
};
use super::{Estimate, Estimated};
use crate::job::Job;
use crate::number::plain;
use crate::paper::Paper;
use crate::report::Caution;
use crate::{Failure, Result};
use askama::Template;

/// What the template prints; every number is text by now.
#[derive(Template)]
#[template(path = "estimate.html", config = "crates/cli/estimate/askama.toml")]
struct Page {
    paper: Paper,
    title: String,
    shop: String,
    one: String,
    currency: String,
    answer_caption: String,
    quantities: Vec<String>,
    choices: Vec<Choice>,
    chart: String,
    what_ifs: Vec<WhatIfPart>,
    basis: String,
    placeholders: Vec<String>,
    repeat_note: String,
    cautions: Vec<Caution>,
}

#[derive(Default)]
struct Choice {
    label: String,
    refused: Option<String>,
    masses: String,
    rows: Vec<UnitRow>,
    /// Name, values, whether it is a sum.
    lines: Vec<(String, Vec<String>, bool)>,
    facts: Vec<(String, Vec<String>)>,
    taken: Vec<Taken>,
    steps: Vec<StepRow>,
    steps_caption: String,
    hints_heading: String,
    hints: Vec<String>,
    /// Whose cost is shared, and how.
    share_caption: String,
    shares: Vec<ShareRow>,
    share_sum: String,
}

struct UnitRow {
    unit_cost: String,
    unit_price: String,
}

struct Taken {
    quantity: u32,
    sheets: String,
    remnants: String,
    link: String,
}

struct StepRow {
    from: u32,
    to: u32,
    rises: bool,
    change: String,
    each_more: String,
    why: String,
}

struct ShareRow {
    part: String,
    kit: String,
    copies: u32,
    amount: String,
    each: String,
}

struct WhatIfPart {
    text: String,
    refused: Option<String>,
    lines: Vec<(String, Vec<String>, bool)>,
}

/// The folder that a cell's layouts are written to, within the out folder.
#[must_use]
pub fn cell_folder(choice: usize, quantity: u32) -> String {
    format!("cells/choice-{}-quantity-{quantity}", choice + 1)
}

/// The estimate as one self-contained HTML file. It links to the layouts of its cells, which lie beside it.
///
/// # Errors
/// When the template cannot be filled in; that is a fault of the program, not of the inputs.
pub fn html(estimate: &Estimate, rule: ShareRule) -> Result<String> {
    page(estimate, rule).render().map_err(|error| {
        let what = format!("the HTML could not be made: {error}");
        Failure::new("estimate", what, "the other files are not affected")
    })
}

fn page(estimate: &Estimate, rule: ShareRule) -> Page {
    let all: Vec<Vec<Row>> = estimate.choices.iter().map(|c| rows(c, estimate)).collect();
    let curves: Vec<Curve> = estimate
        .choices
        .iter()
        .zip(&all)
        .filter(|(_, rows)| !rows.is_empty())
        .map(|(c, rows)| Curve {
            name: &c.label,
            rows,
        })
        .collect();
    let margin = &estimate.rates.margin;
    let paper = estimate.paper;
    let caption = [
        ("what", unit_cost_word(estimate).into()),
        ("currency", plain(&estimate.currency).into()),
        ("margin", paper.percent(margin.value).into()),
    ];
    Page {
        paper,
        title: paper.say_with(
            "estimate-title",
            &[("order", plain(&estimate.order).into())],
        ),
        shop: plain(&estimate.shop),
        one: capital(&one_words(estimate)),
        answer_caption: match margin.set {
            true => paper.say_with("estimate-page-unit-cost", &caption),
            false => paper.say_with("estimate-page-unit-cost-placeholder", &caption),
        },
        currency: plain(&estimate.currency),
        quantities: heads(estimate),
        chart: chart(&curves, &estimate.currency, &paper),
        choices: estimate
            .choices
            .iter()
            .enumerate()
            .map(|(i, c)| choice(i, c, &all[i], estimate, rule))
            .collect(),
        what_ifs: estimate
            .what_ifs
            .iter()
            .map(|(w, c)| what_if(&w.shown(), c, estimate))
            .collect(),
        basis: placeholder_words(estimate),
        placeholders: placeholders(estimate).iter().map(|p| plain(p)).collect(),
        repeat_note: repeat_words(estimate),
        cautions: super::cautions::cautions(estimate),
    }
}

/// The words as the beginning of a sentence.
fn capital(words: &str) -> String {
    let mut rest = words.chars();
    rest.next()
        .map(|first| first.to_uppercase().chain(rest).collect())
        .unwrap_or_default()
}

/// The part of the page on one choice, of this index.
fn choice(
    index: usize,
    choice: &Estimated,
    rows: &[Row],
    estimate: &Estimate,
    rule: ShareRule,
) -> Choice {
    let paper = &estimate.paper;
    let named = Choice {
        label: plain(&choice.label),
        hints: choice.hints.iter().map(|h| plain(h)).collect(),
        ..Choice::default()
    };
    let (job, cells) = match &choice.found {
        Ok(found) => found,
        Err(failure) => {
            return Choice {
                refused: Some(cannot(failure, paper)),
                ..named
            };
        }
    };
    let base = estimate.choices.first().map(|c| plain(&c.label));
    let base = base.unwrap_or_default();
    let mut part = Choice {
        masses: masses_words(&masses(job, &estimate.one), paper),
        rows: unit_rows(rows, estimate),
        lines: lines(rows, estimate),
        facts: facts(rows, paper),
        taken: rows.iter().map(|r| taken(index, r)).collect(),
        steps: step_rows(cells, estimate),
        steps_caption: steps_caption(cells, estimate),
        hints_heading: paper.say_with("estimate-page-before", &[("base", base.into())]),
        ..named
    };
    if let Some(cell) = cells.last() {
        part.share(job, cell, estimate, rule);
    }
    part
}

fn unit_rows(rows: &[Row], estimate: &Estimate) -> Vec<UnitRow> {
    let money = |m: Money| m.words(estimate.rates.decimals, &estimate.paper);
    let row = |r: &Row| UnitRow {
        unit_cost: money(r.unit_cost),
        unit_price: money(r.unit_price),
    };
    rows.iter().map(row).collect()
}

/// The lines of the cost by quantity, then what they sum up to.
fn lines(rows: &[Row], estimate: &Estimate) -> Vec<(String, Vec<String>, bool)> {
    let paper = &estimate.paper;
    let money = |m: Money| m.words(estimate.rates.decimals, paper);
    let column = |of: &dyn Fn(&Row) -> Money| rows.iter().map(|r| money(of(r))).collect::<Vec<_>>();
    let of_one_new = rows
        .iter()
        .map(|r| r.unit_cost_new.map_or("-".into(), money));
    let sums = [
        ("estimate-cost", column(&|r| r.cost)),
        ("estimate-margin", column(&|r| r.margin)),
        ("estimate-price", column(&|r| r.price)),
        ("estimate-cost-of-one", column(&|r| r.unit_cost)),
        ("estimate-cost-of-one-new", of_one_new.collect()),
        ("estimate-price-of-one", column(&|r| r.unit_price)),
    ];
    let lines = lines_of(rows)
        .into_iter()
        .map(|line| (line.words(paper), column(&|r| r.line(line)), false));
    let sums = sums.map(|(name, values)| (paper.say(name), values, true));
    lines.chain(sums).collect()
}

/// What a quantity of a choice takes, with the way to its layouts.
fn taken(index: usize, row: &Row) -> Taken {
    let remnants: Vec<String> = row.remnants.iter().map(|id| plain(id)).collect();
    Taken {
        quantity: row.quantity,
        sheets: super::text::sheet_words(row),
        remnants: remnants.join(" "),
        link: format!("{}/report.html", cell_folder(index, row.quantity)),
    }
}

/// How the cost changes from each quantity to the next.
fn step_rows(cells: &[Cell], estimate: &Estimate) -> Vec<StepRow> {
    let (paper, decimals) = (&estimate.paper, estimate.rates.decimals);
    let money = |m: Money| m.words(decimals, paper);
    let row = |s: &Step| StepRow {
        from: s.from,
        to: s.to,
        rises: s.rises(),
        change: match s.rises() {
            true => paper.say_with("estimate-page-rises", &[("by", money(s.change).into())]),
            false => money(s.change),
        },
        each_more: money(s.each_more),
        why: s.words(paper),
    };
    steps(cells, decimals).iter().map(row).collect()
}

fn steps_caption(cells: &[Cell], estimate: &Estimate) -> String {
    let paper = &estimate.paper;
    paper.say_with(
        "estimate-page-steps",
        &[
            ("currency", plain(&estimate.currency).into()),
            ("best", best_words(&best_quantities(cells), paper).into()),
        ],
    )
}

impl Choice {
    /// Adds what of the cost of a cell each part has to bear.
    fn share(&mut self, job: &Job, cell: &Cell, estimate: &Estimate, rule: ShareRule) {
        let (paper, decimals) = (&estimate.paper, estimate.rates.decimals);
        let money = |m: Money| m.words(decimals, paper);
        let made = estimate.one.job(job, cell.rack.made, None, None);
        let shares = by_item(&cell.rack, &made, rule, decimals);
        let of = match estimate.one.whole_order {
            true => paper.say("estimate-the-order"),
            false => cell.rack.made.to_string(),
        };
        self.share_caption = paper.say_with(
            "estimate-page-shares",
            &[
                ("of", of.into()),
                ("rule", rule.words(paper).into()),
                ("currency", plain(&estimate.currency).into()),
            ],
        );
        self.share_sum = money(shares.iter().map(|s| s.amount).sum());
        let row = |s: &Share| ShareRow {
            part: plain(&made.items[s.item].part),
            kit: plain(&made.items[s.item].kit),
            copies: s.copies,
            amount: money(s.amount),
            each: money(s.amount.part(s.copies)),
        };
        self.shares = shares.iter().map(row).collect();
    }
}

/// That it cannot be made, and why.
fn cannot(failure: &Failure, paper: &Paper) -> String {
    let why = plain(&failure.to_string());
    paper.say_with("estimate-cannot", &[("why", why.into())])
}

fn what_if(text: &str, changed: &Estimated, estimate: &Estimate) -> WhatIfPart {
    let paper = &estimate.paper;
    let refused = changed.found.as_ref().err().map(|f| cannot(f, paper));
    WhatIfPart {
        text: plain(text),
        lines: match refused {
            Some(_) => Vec::new(),
            None => differences_of(estimate, changed)
                .into_iter()
                .map(|(name, values)| {
                    let sum = !super::cost::LINES.iter().any(|l| l.words(paper) == name);
                    (name, values, sum)
                })
                .collect(),
        },
        refused,
    }
}

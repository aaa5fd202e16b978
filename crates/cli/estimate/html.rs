//! The estimate as one HTML file that needs nothing else.

use super::chart::{Curve, chart};
use super::curve::{best_quantities, steps};
use super::money::Money;
use super::share::{ShareRule, by_item};
use super::table::{Row, lines_of, masses, placeholders, rows};
use super::text::{
    best_words, differences_of, facts, heads, masses_words, one_words, placeholder_words,
    repeat_words, unit_cost_word,
};
use super::{Estimate, Estimated};
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
            .map(|(w, c)| what_if(&w.text, c, estimate))
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

fn choice(
    index: usize,
    choice: &Estimated,
    rows: &[Row],
    estimate: &Estimate,
    rule: ShareRule,
) -> Choice {
    let decimals = estimate.rates.decimals;
    let paper = &estimate.paper;
    let currency = plain(&estimate.currency);
    let money = |m: Money| m.words(decimals, paper);
    let mut page = Choice {
        label: plain(&choice.label),
        refused: None,
        masses: String::new(),
        rows: Vec::new(),
        lines: Vec::new(),
        facts: Vec::new(),
        taken: Vec::new(),
        steps: Vec::new(),
        steps_caption: String::new(),
        hints_heading: String::new(),
        hints: choice.hints.iter().map(|h| plain(h)).collect(),
        share_caption: String::new(),
        shares: Vec::new(),
        share_sum: String::new(),
    };
    let (job, cells) = match &choice.found {
        Ok(found) => found,
        Err(failure) => {
            page.refused = Some(cannot(failure, paper));
            return page;
        }
    };
    page.masses = masses_words(&masses(job, &estimate.one), paper);
    let base = estimate.choices.first().map(|c| plain(&c.label));
    page.hints_heading = paper.say_with(
        "estimate-page-before",
        &[("base", base.unwrap_or_default().into())],
    );
    page.rows = rows
        .iter()
        .map(|r| UnitRow {
            unit_cost: money(r.unit_cost),
            unit_price: money(r.unit_price),
        })
        .collect();
    let column = |of: &dyn Fn(&Row) -> Money| rows.iter().map(|r| money(of(r))).collect::<Vec<_>>();
    page.lines = lines_of(rows)
        .into_iter()
        .map(|line| (line.words(paper), column(&|r| r.line(line)), false))
        .collect();
    for (name, values) in [
        (paper.say("estimate-cost"), column(&|r| r.cost)),
        (paper.say("estimate-margin"), column(&|r| r.margin)),
        (paper.say("estimate-price"), column(&|r| r.price)),
        (paper.say("estimate-cost-of-one"), column(&|r| r.unit_cost)),
        (
            paper.say("estimate-cost-of-one-new"),
            rows.iter()
                .map(|r| r.unit_cost_new.map_or("-".into(), money))
                .collect(),
        ),
        (
            paper.say("estimate-price-of-one"),
            column(&|r| r.unit_price),
        ),
    ] {
        page.lines.push((name, values, true));
    }
    page.facts = facts(rows, paper);
    page.taken = rows
        .iter()
        .map(|r| Taken {
            quantity: r.quantity,
            sheets: super::text::sheet_words(r),
            remnants: r
                .remnants
                .iter()
                .map(|id| plain(id))
                .collect::<Vec<_>>()
                .join(" "),
            link: format!("{}/report.html", cell_folder(index, r.quantity)),
        })
        .collect();
    page.steps = steps(cells, decimals)
        .iter()
        .map(|s| StepRow {
            from: s.from,
            to: s.to,
            rises: s.rises(),
            change: match s.rises() {
                true => paper.say_with("estimate-page-rises", &[("by", money(s.change).into())]),
                false => money(s.change),
            },
            each_more: money(s.each_more),
            why: s.words(paper),
        })
        .collect();
    let best = best_words(&best_quantities(cells), paper);
    page.steps_caption = paper.say_with(
        "estimate-page-steps",
        &[
            ("currency", currency.as_str().into()),
            ("best", best.into()),
        ],
    );
    if let Some(cell) = cells.last() {
        let made = estimate.one.job(job, cell.rack.made, None, None);
        let shares = by_item(&cell.rack, &made, rule, decimals);
        let of = match estimate.one.whole_order {
            true => paper.say("estimate-the-order"),
            false => cell.rack.made.to_string(),
        };
        page.share_caption = paper.say_with(
            "estimate-page-shares",
            &[
                ("of", of.into()),
                ("rule", rule.words(paper).into()),
                ("currency", currency.into()),
            ],
        );
        page.share_sum = money(shares.iter().map(|s| s.amount).sum());
        page.shares = shares
            .iter()
            .map(|s| ShareRow {
                part: plain(&made.items[s.item].part),
                kit: plain(&made.items[s.item].kit),
                copies: s.copies,
                amount: money(s.amount),
                each: money(s.amount.part(s.copies)),
            })
            .collect();
    }
    page
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

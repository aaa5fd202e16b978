//! The estimate as one HTML file that needs nothing else.

use super::chart::{Curve, chart};
use super::curve::{best_quantities, steps};
use super::money::Money;
use super::share::{ShareRule, by_item};
use super::table::{Row, lines_of, masses, placeholders, rows};
use super::text::{
    best_words, differences_of, facts, heads, masses_words, placeholder_words, repeat_words,
};
use super::{Estimate, Estimated};
use crate::report::Caution;
use crate::report::number::{percent, plain};
use crate::{Failure, Result};
use askama::Template;

/// What the template prints; every number is text by now.
#[derive(Template)]
#[template(path = "estimate.html", config = "crates/cli/estimate/askama.toml")]
struct Page {
    order: String,
    shop: String,
    one: String,
    currency: String,
    unit_cost: &'static str,
    margin: String,
    margin_note: &'static str,
    quantities: Vec<String>,
    base: String,
    choices: Vec<Choice>,
    chart: String,
    what_ifs: Vec<WhatIfPart>,
    basis: String,
    placeholders: Vec<String>,
    repeat_note: String,
    cautions: Vec<Caution>,
    share_rule: &'static str,
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
    best: String,
    hints: Vec<String>,
    share_of: String,
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

/// The estimate as one self-contained HTML file. It links to the layouts of its cells if `with_layouts`.
///
/// # Errors
/// When the template cannot be filled in; that is a fault of the program, not of the inputs.
pub fn html(estimate: &Estimate, rule: ShareRule, with_layouts: bool) -> Result<String> {
    page(estimate, rule, with_layouts)
        .render()
        .map_err(|error| {
            let what = format!("the HTML could not be made: {error}");
            Failure::new("estimate", what, "the other files are not affected")
        })
}

fn page(estimate: &Estimate, rule: ShareRule, with_layouts: bool) -> Page {
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
    Page {
        order: plain(&estimate.order),
        shop: plain(&estimate.shop),
        one: match estimate.one.whole_order {
            true => format!("The order as it stands: {}", plain(&estimate.one_words)),
            false => format!("One is {}", plain(&estimate.one_words)),
        },
        currency: plain(&estimate.currency),
        unit_cost: if estimate.one.whole_order {
            "Cost"
        } else {
            "Unit cost"
        },
        margin: percent(margin.value),
        margin_note: if margin.set { "" } else { " (a placeholder)" },
        quantities: heads(estimate),
        base: estimate
            .choices
            .first()
            .map_or(String::new(), |c| plain(&c.label)),
        chart: chart(&curves, &estimate.currency),
        choices: estimate
            .choices
            .iter()
            .enumerate()
            .map(|(i, c)| choice(i, c, &all[i], estimate, rule, with_layouts))
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
        share_rule: rule.words(),
    }
}

fn choice(
    index: usize,
    choice: &Estimated,
    rows: &[Row],
    estimate: &Estimate,
    rule: ShareRule,
    with_layouts: bool,
) -> Choice {
    let decimals = estimate.rates.decimals;
    let money = |m: Money| m.text(decimals);
    let mut page = Choice {
        label: plain(&choice.label),
        refused: None,
        masses: String::new(),
        rows: Vec::new(),
        lines: Vec::new(),
        facts: Vec::new(),
        taken: Vec::new(),
        steps: Vec::new(),
        best: String::new(),
        hints: choice.hints.iter().map(|h| plain(h)).collect(),
        share_of: String::new(),
        shares: Vec::new(),
        share_sum: String::new(),
    };
    let (job, cells) = match &choice.found {
        Ok(found) => found,
        Err(failure) => {
            page.refused = Some(plain(&failure.to_string()));
            return page;
        }
    };
    page.masses = masses_words(&masses(job, &estimate.one));
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
        .map(|line| (line.words().to_owned(), column(&|r| r.line(line)), false))
        .collect();
    for (name, values) in [
        ("Cost", column(&|r| r.cost)),
        ("Margin", column(&|r| r.margin)),
        ("Price", column(&|r| r.price)),
        ("Cost of one", column(&|r| r.unit_cost)),
        (
            "Cost of one, new sheets only",
            rows.iter()
                .map(|r| r.unit_cost_new.map_or("-".into(), money))
                .collect(),
        ),
        ("Price of one", column(&|r| r.unit_price)),
    ] {
        page.lines.push((name.to_owned(), values, true));
    }
    page.facts = facts(rows);
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
            link: match with_layouts {
                true => format!("{}/report.html", cell_folder(index, r.quantity)),
                false => String::new(),
            },
        })
        .collect();
    page.steps = steps(cells, decimals)
        .iter()
        .map(|s| StepRow {
            from: s.from,
            to: s.to,
            rises: s.rises(),
            change: money(s.change),
            each_more: money(s.each_more),
            why: s.words(),
        })
        .collect();
    page.best = best_words(&best_quantities(cells));
    if let Some(cell) = cells.last() {
        let made = estimate.one.job(job, cell.rack.made, None, None);
        let shares = by_item(&cell.rack, &made, rule, decimals);
        page.share_of = match estimate.one.whole_order {
            true => "the order".to_owned(),
            false => cell.rack.made.to_string(),
        };
        page.share_sum = money(shares.iter().map(|s| s.amount).sum());
        page.shares = shares
            .iter()
            .map(|s| ShareRow {
                part: plain(&made.items[s.item].part),
                kit: plain(&made.items[s.item].kit),
                copies: s.copies,
                amount: money(s.amount),
                each: s.amount.part(s.copies).text(decimals),
            })
            .collect();
    }
    page
}

fn what_if(text: &str, changed: &Estimated, estimate: &Estimate) -> WhatIfPart {
    let refused = changed.found.as_ref().err().map(|f| plain(&f.to_string()));
    WhatIfPart {
        text: plain(text),
        lines: match refused {
            Some(_) => Vec::new(),
            None => differences_of(estimate, changed)
                .into_iter()
                .map(|(name, values)| {
                    let sum = !super::cost::LINES.iter().any(|l| l.words() == name);
                    (name, values, sum)
                })
                .collect(),
        },
        refused,
    }
}

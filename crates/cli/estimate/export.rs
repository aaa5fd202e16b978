//! The estimate for programs: CSV and JSON.

use super::curve::{best_quantities, steps};
use super::money::Money;
use super::share::{ShareRule, by_item, by_kit};
use super::table::{Row, masses, placeholders, rows};
use super::{Estimate, Estimated};
use crate::{Failure, Result};
use serde_json::{Value, json};

/// One line for each amount: choice, quantity, line, amount. The amounts of a choice and quantity that are not
/// `cost`, `price` and the like add up to its `cost`.
///
/// # Errors
/// When the text cannot be made, which is a fault of the program.
pub fn csv(estimate: &Estimate) -> Result<String> {
    let decimals = estimate.rates.decimals;
    let mut writer = csv::Writer::from_writer(Vec::new());
    let failed =
        |e: csv::Error| Failure::new("estimate", format!("no CSV: {e}"), "report this as a fault");
    writer
        .write_record([
            "choice", "what_if", "quantity", "line", "kind", "amount", "currency",
        ])
        .map_err(failed)?;
    let choices = estimate.choices.iter().map(|c| (c.label.as_str(), "", c));
    let what_ifs = estimate
        .what_ifs
        .iter()
        .map(|(w, c)| ("", w.text.as_str(), c));
    for (label, what_if, choice) in choices.chain(what_ifs) {
        for row in rows(choice, estimate) {
            let parts = row.lines.iter().map(|(line, m)| (line.key(), "line", *m));
            let sums = [
                ("cost", "sum", row.cost),
                ("margin", "margin", row.margin),
                ("price", "price", row.price),
                ("unit_cost", "unit", row.unit_cost),
                ("unit_price", "unit", row.unit_price),
            ];
            for (line, kind, amount) in parts.chain(sums) {
                writer
                    .write_record([
                        label,
                        what_if,
                        &row.quantity.to_string(),
                        line,
                        kind,
                        &amount.text(decimals),
                        &estimate.currency,
                    ])
                    .map_err(failed)?;
            }
        }
    }
    let bytes = writer
        .into_inner()
        .map_err(|e| Failure::new("estimate", format!("no CSV: {e}"), "report this as a fault"))?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}

/// Everything, as JSON. Amounts are printed as the decimals they are.
#[must_use]
pub fn json(estimate: &Estimate, shares: ShareRule) -> String {
    let choices: Vec<Value> = estimate
        .choices
        .iter()
        .map(|c| choice(c, estimate, shares))
        .collect();
    let what_ifs: Vec<Value> = estimate
        .what_ifs
        .iter()
        .map(|(what_if, c)| {
            let mut value = choice(c, estimate, shares);
            value["what_if"] = what_if.text.clone().into();
            value
        })
        .collect();
    let value = json!({
        "format": "panelwright-estimate-1",
        "order": estimate.order,
        "shop": estimate.shop,
        "currency": estimate.currency,
        "decimals": estimate.rates.decimals,
        "one": estimate.one_words,
        "whole_order": estimate.one.whole_order,
        "quantities": estimate.quantities,
        "seed": estimate.effort.seed,
        "steps_per_nest": estimate.effort.steps,
        "repeatable": estimate.repeatable,
        "choices": choices,
        "what_ifs": what_ifs,
        "placeholders": placeholders(estimate),
    });
    format!("{value:#}\n")
}

fn money(amount: Money) -> Value {
    json!(amount.to_f64())
}

fn choice(choice: &Estimated, estimate: &Estimate, rule: ShareRule) -> Value {
    let (job, cells) = match &choice.found {
        Ok(found) => found,
        Err(failure) => {
            return json!({"label": choice.label, "refused": failure.to_string()});
        }
    };
    let decimals = estimate.rates.decimals;
    let cells_out: Vec<Value> = rows(choice, estimate)
        .iter()
        .zip(cells)
        .map(|(r, cell)| {
            let made = estimate.one.job(job, cell.rack.made, None, None);
            let by_part = by_item(&cell.rack, &made, rule, decimals);
            let kits: serde_json::Map<String, Value> = by_kit(&by_part, &made)
                .into_iter()
                .map(|(kit, amount)| (kit, money(amount)))
                .collect();
            let shares: Vec<Value> = by_part
                .iter()
                .map(|s| {
                    let item = &made.items[s.item];
                    json!({"part": item.part, "kit": item.kit, "copies": s.copies, "amount": money(s.amount)})
                })
                .collect();
            let mut value = row(r);
            value["shares"] = json!({"rule": rule.words(&estimate.paper), "parts": shares, "kits": kits});
            value
        })
        .collect();
    let masses = masses(job, &estimate.one);
    let curve: Vec<Value> = steps(cells, decimals)
        .iter()
        .map(|s| {
            json!({
                "from": s.from, "to": s.to, "unit_cost_by": money(s.change),
                "each_more": money(s.each_more), "because_of": s.words(&estimate.paper), "rises": s.rises(),
            })
        })
        .collect();
    json!({
        "label": choice.label,
        "role": choice.swap.as_ref().map(|s| &s.role),
        "material": choice.swap.as_ref().map(|s| &s.material),
        "mass_kg": masses.one_kg,
        "heaviest_part": masses.part,
        "heaviest_part_kg": masses.part_kg,
        "cells": cells_out,
        "steps": curve,
        "best_quantities": best_quantities(cells),
        "hints": choice.hints,
    })
}

fn row(r: &Row) -> Value {
    let lines: serde_json::Map<String, Value> = r
        .lines
        .iter()
        .map(|(l, m)| (l.key().to_owned(), money(*m)))
        .collect();
    json!({
        "quantity": r.quantity,
        "made": r.made,
        "lines": lines,
        "cost": money(r.cost),
        "margin": money(r.margin),
        "price": money(r.price),
        "unit_cost": money(r.unit_cost),
        "unit_price": money(r.unit_price),
        "unit_cost_new_sheets": r.unit_cost_new.map(money),
        "sheets": r.sheets,
        "remnants": r.remnants,
        "offcuts_kept": r.kept,
        "taken_m2": r.areas[0],
        "parts_m2": r.areas[1],
        "kept_m2": r.areas[2],
        "scrap_m2": r.areas[3],
        "minutes": {
            "saw": r.minutes.saw, "router": r.minutes.router, "laser": r.minutes.laser,
            "set_up": r.minutes.set_up, "operator": r.minutes.operator, "bench": r.minutes.bench,
        },
        "material_above_floor": r.above_floor,
        "heaviest_stock": r.heaviest_stock.1,
        "heaviest_stock_kg": r.heaviest_stock.0,
        "on_placeholders": money(r.on_placeholders),
    })
}

//! `panelwright rack stock`: how many sheets of each size there are.

use super::answer;
use super::place::{change, to_read};
use crate::Result;
use crate::args::StockArgs;
use crate::rack::{Rack, SheetHold, beyond, day_of};
use jiff::Zoned;
use serde::Serialize;
use std::collections::BTreeMap;
use std::fmt::Write as _;

/// Tells the counts, after setting one where that is asked.
pub fn stock(args: &StockArgs, when: &Zoned) -> Result<String> {
    let json = args.at.json;
    let (Some(sheet), Some(count)) = (&args.sheet, args.count) else {
        return stock_answer(&to_read(&args.at, when)?.rack, json, when);
    };
    let reason = args.reason.as_deref().unwrap_or_default();
    change(&args.at, when, |rack, _| {
        rack.set_stock(sheet, Some(count), reason, when)?;
        stock_answer(rack, json, when)
    })
}

/// Sheets of a size, as `rack stock` tells them to programs.
#[derive(Serialize)]
struct Stocked<'a> {
    /// How many there are; `None` where they are not counted.
    count: Option<u32>,
    /// Those of them that are held for an order.
    held: Vec<&'a SheetHold>,
}

/// Counts of sheets, one a line, and what is held of them.
fn stock_answer(rack: &Rack, as_json: bool, when: &Zoned) -> Result<String> {
    let (counts, holds) = (rack.stock_counts()?, rack.sheet_holds(when)?);
    let held = |id: &str| -> Vec<&SheetHold> { holds.iter().filter(|h| h.sheet == id).collect() };
    let wide = counts.keys().map(|id| id.chars().count()).max();
    let wide = wide.unwrap_or(0);
    let mut text = String::new();
    let mut short = String::new();
    for (id, count) in &counts {
        if let Some(says) = count.and_then(|count| beyond(held(id), count)) {
            let _ = writeln!(
                short,
                "{id}: {says}; end a hold with `panelwright rack release`"
            );
        }
        let count = match count {
            Some(count) => format!("{count:>5}"),
            None => "not counted".to_owned(),
        };
        // Writing into a string cannot fail.
        let _ = write!(text, "{id:wide$}  {count}");
        for hold in held(id) {
            let day = day_of(&hold.until);
            let _ = write!(
                text,
                "  {} held for order {} until {day}",
                hold.count, hold.order
            );
        }
        text.push('\n');
    }
    text += &short;
    let stocked = |(id, count): (&'_ String, &Option<u32>)| {
        let stocked = Stocked {
            count: *count,
            held: held(id),
        };
        (id.clone(), stocked)
    };
    let all: BTreeMap<String, Stocked> = counts.iter().map(stocked).collect();
    Ok(answer(as_json, &all, text))
}

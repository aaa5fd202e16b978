//! Purchases of sheets: how many came when, of which lot and at what price.

use super::event::Event;
use super::sheet_stock;
use super::store::{Rack, day_of};
use crate::{Failure, Result};
use jiff::Zoned;
use serde::Serialize;
use std::fmt::Write as _;

/// Sheets that came in.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct NewReceipt {
    /// Id of the sheet size.
    pub sheet: String,
    /// How many.
    pub count: u32,
    /// Name of the purchase, for colour match and claims.
    pub lot: Option<String>,
    /// What one sheet cost, in the shop's currency.
    pub price: Option<f64>,
    /// Anything else: supplier's paper, claim.
    pub note: Option<String>,
}

/// A purchase as the rack keeps it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Receipt {
    /// Counted from 1.
    pub number: i64,
    /// Id of the sheet size.
    pub sheet: String,
    /// When, RFC 3339.
    pub received: String,
    /// How many came.
    pub count: u32,
    /// How many of them are still in stock; the oldest go first.
    pub remaining: u32,
    /// Name of the purchase.
    pub lot: Option<String>,
    /// What one sheet cost.
    pub price: Option<f64>,
    /// Anything else.
    pub note: Option<String>,
}

/// All purchases, in order.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Receipts {
    /// The purchases.
    pub receipts: Vec<Receipt>,
}

/// Writes a purchase down and adds it to the count, where the sheet is counted.
///
/// # Errors
/// The rack does not know the sheet, the number is 0 or absurd, the price is no amount.
pub fn receive(rack: &mut Rack, new: &NewReceipt, when: &Zoned) -> Result<Receipt> {
    let place = format!("sheet {}", new.sheet);
    if !(1..=sheet_stock::MOST).contains(&new.count) {
        let what = format!("{} sheets cannot have come", new.count);
        return Err(Failure::new(place, what, "give 1 to 1000000"));
    }
    if let Some(price) = new.price
        && !(price.is_finite() && price >= 0.0)
    {
        let what = format!("the price {price} is no amount");
        return Err(Failure::new(place, what, "give what one sheet cost"));
    }
    rack.change(when, |change| {
        let Some(known) = sheet_stock::find(change.db, &new.sheet)? else {
            return Err(sheet_stock::unknown(change.db, &new.sheet)?);
        };
        let stock = known.stock.map(|stock| stock.checked_add(new.count));
        if stock == Some(None) {
            return Err(sheet_stock::too_many(place.clone()));
        }
        change.run(
            "INSERT INTO receipts (sheet, received, count, remaining, lot, price, note) \
             VALUES (?1, ?2, ?3, ?3, ?4, ?5, ?6)",
            (
                &known.id, &change.at, new.count, &new.lot, new.price, &new.note,
            ),
        )?;
        let number = change.last_number();
        if stock.is_some() {
            change.run(
                "UPDATE sheets SET stock = stock + ?2 WHERE id = ?1",
                (&known.id, new.count),
            )?;
            let by = i64::from(new.count);
            sheet_stock::moved(change, &known.id, by, "received", None, Some(number))?;
        }
        let lot = new.lot.as_ref();
        let of_lot = lot.map_or_else(String::new, |lot| format!(" of lot {lot}"));
        change.event(
            Event::new("received", format!("{} came{of_lot}", new.count))
                .sheet(&known.id)
                .detail(serde_json::json!({
                    "receipt": number, "count": new.count, "lot": new.lot, "price": new.price,
                })),
        )?;
        Ok(Receipt {
            number,
            sheet: known.id,
            received: change.at.clone(),
            count: new.count,
            remaining: new.count,
            lot: new.lot.clone(),
            price: new.price,
            note: new.note.clone(),
        })
    })
}

/// Lists the purchases, those used up too.
///
/// # Errors
/// The rack cannot be read.
pub fn receipts(rack: &Rack) -> Result<Receipts> {
    let receipts = rack.db().rows(
        "SELECT number, sheet, received, count, remaining, lot, price, note FROM receipts \
         ORDER BY number",
        [],
        |row| {
            Ok(Receipt {
                number: row.get(0)?,
                sheet: row.get(1)?,
                received: row.get(2)?,
                count: row.get(3)?,
                remaining: row.get(4)?,
                lot: row.get(5)?,
                price: row.get(6)?,
                note: row.get(7)?,
            })
        },
    )?;
    Ok(Receipts { receipts })
}

impl Receipt {
    /// For people, one line.
    #[must_use]
    pub fn text(&self) -> String {
        let mut text = format!(
            "{:>4}  {}  {} x {}, {} left",
            self.number,
            day_of(&self.received),
            self.count,
            self.sheet,
            self.remaining
        );
        if let Some(lot) = &self.lot {
            let _ = write!(text, ", lot {lot}");
        }
        if let Some(price) = self.price {
            let _ = write!(text, ", {price:.2} each");
        }
        if let Some(note) = &self.note {
            let _ = write!(text, ", {note}");
        }
        text.push('\n');
        text
    }
}

impl Receipts {
    /// For people: a line each.
    #[must_use]
    pub fn text(&self) -> String {
        if self.receipts.is_empty() {
            return "No purchase was written down yet.\n".to_owned();
        }
        self.receipts.iter().map(Receipt::text).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::super::testing::{TestRack, sheet_nest, when};
    use super::super::{check, undo};
    use super::*;

    fn new(count: u32, lot: &str) -> NewReceipt {
        NewReceipt {
            sheet: "W-2440".to_owned(),
            count,
            lot: Some(lot.to_owned()),
            price: Some(40.0),
            note: None,
        }
    }

    fn remaining(rack: &Rack) -> Vec<u32> {
        let all = receipts(rack).expect("read").receipts;
        all.iter().map(|r| r.remaining).collect()
    }

    #[test]
    fn the_oldest_lot_goes_first_and_its_offcuts_know_it() {
        let mut test = TestRack::new();
        // Three of lot P-31 are there by the shop file; the nest takes two a time.
        receive(&mut test.rack, &new(2, "P-40"), &when(2)).expect("received");
        receive(&mut test.rack, &new(5, "P-41"), &when(3)).expect("received");
        let mut lots = Vec::new();
        for day in 4..8 {
            let mut nest = sheet_nest();
            nest.seed = day as u64;
            let booking = test.book(&nest, day).expect("booked");
            for offcut in &booking.offcuts {
                let there = test.rack.remnants().expect("read");
                let found = there
                    .iter()
                    .find(|r| r.id == offcut.remnant)
                    .expect("there");
                lots.push(found.lot.clone().expect("a lot"));
            }
        }
        // Both offcuts are of the second sheet.
        let expected = ["P-31", "P-40", "P-41", "P-41"].map(|lot| [lot; 2]);
        assert_eq!(lots, expected.concat());
        assert_eq!(remaining(&test.rack), [0, 2]);
        undo(&mut test.rack, "B-0002", None, &when(9)).expect("undone");
        assert_eq!(remaining(&test.rack), [1, 2]);
        let counts = test.rack.stock_counts().expect("read");
        assert_eq!(counts["W-2440"], Some(4));
        assert!(check(&test.rack).expect("checked").is_sound());
        // A count by hand that finds fewer takes them off the oldest.
        test.rack
            .set_stock("W-2440", Some(1), "recount", &when(10))
            .expect("set");
        assert_eq!(remaining(&test.rack), [0, 1]);
        assert!(check(&test.rack).expect("checked").is_sound());
    }

    #[test]
    fn nonsense_is_refused() {
        let mut test = TestRack::new();
        let before = test.dump();
        let with = |f: fn(&mut NewReceipt)| {
            let mut receipt = new(2, "P");
            f(&mut receipt);
            receipt
        };
        for (bad, says) in [
            (with(|r| r.count = 0), "0 sheets"),
            (with(|r| r.count = u32::MAX), "4294967295 sheets"),
            (with(|r| r.price = Some(f64::NAN)), "price NaN"),
            (with(|r| r.price = Some(-1.0)), "price -1"),
            (with(|r| r.sheet = "W-2441".into()), "does not know"),
        ] {
            let failure = receive(&mut test.rack, &bad, &when(2)).expect_err(says);
            assert!(failure.to_string().contains(says), "{failure}");
        }
        assert_eq!(test.dump(), before);
    }
}

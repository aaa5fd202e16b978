//! The rack: the log of remnants and the count of sheets, one SQLite file that outlives programs.
//!
//! # What is in it
//! * **Remnants**: every one that ever stood on the rack, with its shape and papers and a
//!   [`State`]: on the rack, cut, thrown out, recycled, lost or retired. They are never deleted, save
//!   for offcuts whose booking is undone; the trace keeps even those. One on the rack may be held for
//!   an order, for some days.
//! * **Sheets**: how many of each size there are; no number where they are not counted. A ledger has
//!   every change of a count; receipts tell purchases with lot and price.
//! * **Bookings**: which nest was cut when, known by the SHA-256 of its file, with the sheets and
//!   remnants it took, the holds that ended by it and the offcuts it left. An undone booking stays, marked.
//! * **Events**: what happened, when and why, one row for each thing touched. They are only ever
//!   added to; the file itself refuses anything else.
//!
//! # Who is right
//! A rack is made from the shop file ([`Rack::create_from`]): its readable list of remnants and its
//! sheet counts go in, once. From then on the rack is right about remnants and counts. The shop
//! file stays right about everything else; sheets that are new in it are added, with its count,
//! when the rack is opened with [`Rack::open_for`].
//!
//! # Changes
//! Each change is one immediate transaction on a write-ahead log, so two processes take turns and a
//! killed one leaves nothing half done. Time comes in as an argument. [`book`] refuses a nest that
//! does not add up, that was booked before, or whose remnants are gone; [`undo`] takes a booking
//! back exactly, as long as none of its offcuts was used since.
//!
//! # The file
//! Schema version in `user_version`, the rack's own mark in `application_id`; `schema/*.sql` says
//! what each column means. An older file is brought up to date when it is opened, a newer one is
//! refused.

mod add;
mod backup;
mod book;
mod booking;
mod bookings;
mod candidate;
mod check;
mod copy;
mod digest;
mod event;
mod exchange;
mod fault;
mod fit;
mod hold;
#[cfg(test)]
mod invariants;
mod labels;
mod list;
mod papers;
mod picture;
mod plausible;
mod readable;
mod receipt;
mod remnant_row;
mod retire;
mod schema;
mod shape;
mod sheet_hold;
mod sheet_stock;
mod show;
mod sketch;
mod space;
mod spoil;
mod stock_take;
mod store;
#[cfg(test)]
mod testing;
mod undo;
mod value;

pub use add::{
    Added, NewRemnant, NewShape, add, shape_argument, shape_from_json, shape_of_drawing,
};
pub use backup::{Backup, backup};
pub use book::{BookOptions, book, booked_of};
pub use booking::{Areas, Booking, OffcutEntered, OtherLot, SheetsTaken};
pub use bookings::{Booked, Bookings, bookings};
pub use candidate::promising;
pub use check::{Balance, Checked, check};
pub use digest::{digest_of, read_nest};
pub use event::Happening;
pub use exchange::{Imported, ListFormat, export, import};
pub use fit::{Fit, FitOptions, GroupFit, Taker, fit};
pub use hold::{Held, Hold, hold, release};
pub use labels::labels;
pub use list::{Filter, Listing, Row, known_material, list};
pub(crate) use picture::{Drawn, sketch};
pub use readable::remnants_from_list;
pub use receipt::{NewReceipt, Receipt, Receipts, receipts, receive};
pub use remnant_row::{Logged, State};
pub use retire::{Moved, annotate, found, put, retire};
pub use sheet_hold::{SheetHold, beyond};
pub use show::{Shown, show};
pub use space::{Overflow, Ranked, Space, overflow, space};
pub use spoil::{Spoil, ToCutAgain, to_cut_again};
pub use stock_take::{Difference, StockTake, enter, walking_list};
pub(crate) use store::day_of;
pub use store::{Rack, WAIT};
pub use undo::{Undone, undo};
pub use value::{book_value, border, keep_rule, keep_value, value_per_area};

use crate::{Failure, Result};
use event::Event;

/// A booking's number as people see it.
fn booking_id(number: i64) -> String {
    format!("B-{number:04}")
}

/// The number of a booking: `B-0004`, `b-4` and `4` are the same.
fn booking_number(id: &str) -> Result<i64> {
    let id = id.trim();
    let digits = id
        .strip_prefix("B-")
        .or_else(|| id.strip_prefix("b-"))
        .unwrap_or(id);
    digits
        .parse()
        .ok()
        .filter(|number| *number > 0 && digits.bytes().all(|b| b.is_ascii_digit()))
        .ok_or_else(|| {
            Failure::new(
                format!("booking {id:?}"),
                "this is no number of a booking",
                "give it as `book` printed it, such as B-0004",
            )
        })
}

/// A reason given by hand, trimmed; it must say something.
fn need_reason(why: &str, place: String) -> Result<String> {
    let why = why.trim();
    if why.is_empty() {
        return Err(Failure::new(
            place,
            "no reason is given",
            "say why; whoever finds it gone next year will ask",
        ));
    }
    Ok(why.to_owned())
}

/// The name most like `name`, if any is like it at all.
fn nearest<'a>(name: &str, among: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    let lower = name.to_lowercase();
    among
        .map(|other| (strsim::jaro_winkler(&lower, &other.to_lowercase()), other))
        .filter(|(likeness, _)| *likeness > 0.8)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, other)| other)
}

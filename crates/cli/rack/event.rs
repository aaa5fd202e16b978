//! The trace of every change.

use super::store::{Change, Db, day_of};
use crate::Result;
use serde::Serialize;

/// What happened to a remnant, a sheet or the rack.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Happening {
    /// When, RFC 3339.
    pub at: String,
    /// What: `listed`, `added`, `entered`, `cut`, `returned`, `retired` ...
    pub kind: String,
    /// The booking it belongs to, such as `B-0004`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub booking: Option<String>,
    /// Why, as a sentence.
    pub why: String,
}

/// An event about to be written.
pub(super) struct Event<'a> {
    kind: &'static str,
    why: String,
    remnant: Option<&'a str>,
    sheet: Option<&'a str>,
    booking: Option<i64>,
    detail: Option<serde_json::Value>,
}

impl<'a> Event<'a> {
    pub fn new(kind: &'static str, why: impl Into<String>) -> Self {
        Self {
            kind,
            why: why.into(),
            remnant: None,
            sheet: None,
            booking: None,
            detail: None,
        }
    }

    pub fn remnant(mut self, id: &'a str) -> Self {
        self.remnant = Some(id);
        self
    }

    pub fn sheet(mut self, id: &'a str) -> Self {
        self.sheet = Some(id);
        self
    }

    pub fn booking(mut self, number: i64) -> Self {
        self.booking = Some(number);
        self
    }

    pub fn detail(mut self, detail: serde_json::Value) -> Self {
        self.detail = Some(detail);
        self
    }
}

impl Change<'_> {
    /// Writes down what was done.
    pub fn event(&self, event: Event<'_>) -> Result<()> {
        self.run(
            "INSERT INTO events (at, kind, remnant, sheet, booking, why, detail) \
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
            (
                &self.at,
                event.kind,
                event.remnant,
                event.sheet,
                event.booking,
                &event.why,
                event.detail.map(|detail| detail.to_string()),
            ),
        )?;
        Ok(())
    }
}

/// What happened to a remnant, in order.
pub(super) fn history(db: Db<'_>, remnant: &str) -> Result<Vec<Happening>> {
    db.rows(
        "SELECT at, kind, booking, why FROM events WHERE remnant = ?1 ORDER BY number",
        [remnant],
        |row| {
            Ok(Happening {
                at: row.get(0)?,
                kind: row.get(1)?,
                booking: row.get::<_, Option<i64>>(2)?.map(super::booking_id),
                why: row.get(3)?,
            })
        },
    )
}

/// The last thing that happened to a remnant.
pub(super) fn last(db: Db<'_>, remnant: &str) -> Result<Option<Happening>> {
    Ok(history(db, remnant)?.pop())
}

impl Happening {
    /// The day, `YYYY-MM-DD`.
    #[must_use]
    pub fn day(&self) -> &str {
        day_of(&self.at)
    }
}

//! Remnants as rows.

use super::shape;
use super::store::{Change, Db, day_of};
use crate::remnant::Remnant;
use crate::{Failure, Result};
use panelwright_geometry::{Point, Polygon};
use rusqlite::Row;
use serde::Serialize;
use std::fmt;

/// What may be said of a remnant.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum State {
    /// On the rack, free to be cut.
    OnRack,
    /// Used up by a booking.
    Cut,
    /// Taken off the rack by hand: sold, given away.
    Retired,
    /// Thrown away.
    ThrownOut,
    /// Given to a recycler.
    Recycled,
    /// Not found where it should be; it may be found again.
    Lost,
}

impl State {
    /// All of them, in the order in which a remnant lives through them.
    pub const ALL: [Self; 6] = [
        Self::OnRack,
        Self::Cut,
        Self::Retired,
        Self::ThrownOut,
        Self::Recycled,
        Self::Lost,
    ];

    /// The states in which a piece left the rack without being cut.
    pub const GONE: [Self; 4] = [Self::Retired, Self::ThrownOut, Self::Recycled, Self::Lost];

    /// The word in files and arguments.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::OnRack => "on-rack",
            Self::Cut => "cut",
            Self::Retired => "retired",
            Self::ThrownOut => "thrown-out",
            Self::Recycled => "recycled",
            Self::Lost => "lost",
        }
    }

    /// The state of this word.
    #[must_use]
    pub fn of_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|state| state.word() == word)
    }
}

impl fmt::Display for State {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}

/// A remnant and what became of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Logged {
    /// The remnant.
    pub remnant: Remnant,
    /// Whether it is still there.
    pub state: State,
}

const COLUMNS: &str = "id, material, outline, voids, flaws, lot, grain_deg, good_faces, place, \
                       logged, origin, note, value, state";

/// A row whose rings are still text.
struct Raw {
    remnant: Remnant,
    rings: [String; 3],
    state: String,
}

fn raw(row: &Row<'_>) -> rusqlite::Result<Raw> {
    Ok(Raw {
        remnant: Remnant {
            id: row.get(0)?,
            material: row.get(1)?,
            outline: Polygon::default(),
            flaws: Vec::new(),
            lot: row.get(5)?,
            grain_deg: row.get(6)?,
            good_faces: row.get(7)?,
            place: row.get(8)?,
            logged: row.get(9)?,
            origin: row.get(10)?,
            note: row.get(11)?,
            value: row.get(12)?,
        },
        rings: [row.get(2)?, row.get(3)?, row.get(4)?],
        state: row.get(13)?,
    })
}

impl Raw {
    fn read(self, db: Db<'_>) -> Result<Logged> {
        let Self {
            mut remnant,
            rings: [outline, voids, flaws],
            state,
        } = self;
        let bad = |what: &str| db.damaged(&format!("remnant {}: {what}", remnant.id));
        let outline: Vec<[f64; 2]> =
            serde_json::from_str(&outline).map_err(|_| bad("its outline cannot be read"))?;
        let voids: Vec<Vec<[f64; 2]>> =
            serde_json::from_str(&voids).map_err(|_| bad("its voids cannot be read"))?;
        let flaws: Vec<Vec<[f64; 2]>> =
            serde_json::from_str(&flaws).map_err(|_| bad("its flaws cannot be read"))?;
        let state = State::of_word(&state).ok_or_else(|| bad("its state is not known"))?;
        let polygon = Polygon {
            outer: shape::points(&outline),
            holes: voids.iter().map(|ring| shape::points(ring)).collect(),
        };
        let flaws: Vec<Vec<Point>> = flaws.iter().map(|ring| shape::points(ring)).collect();
        // Only what would make it useless. The rules by which a piece is logged may grow stricter;
        // what was logged before must stay readable.
        if !polygon
            .rings()
            .chain(&flaws)
            .all(|ring| shape::is_ring(ring))
        {
            return Err(bad("a shape of it is none"));
        }
        remnant.outline = polygon;
        remnant.flaws = flaws;
        Ok(Logged { remnant, state })
    }
}

/// The order of lists, as SQL: numbers within ids count as numbers. There is an index on it.
pub(super) const IN_ORDER: &str = "upper(rtrim(id, '0123456789')), \
     CAST(substr(id, length(rtrim(id, '0123456789')) + 1) AS INTEGER), id";

/// Every remnant in a state, by id.
pub(super) fn in_state(db: Db<'_>, state: State) -> Result<Vec<Logged>> {
    let sql = format!("SELECT {COLUMNS} FROM remnants WHERE state = ?1 ORDER BY {IN_ORDER}");
    let rows = db.rows(&sql, [state.word()], raw)?;
    rows.into_iter().map(|row| row.read(db)).collect()
}

/// Every remnant that was ever logged, by id.
pub(super) fn all(db: Db<'_>) -> Result<Vec<Logged>> {
    let sql = format!("SELECT {COLUMNS} FROM remnants ORDER BY {IN_ORDER}");
    let rows = db.rows(&sql, [], raw)?;
    rows.into_iter().map(|row| row.read(db)).collect()
}

/// The remnant of this id, whatever its state; capitals do not matter.
pub(super) fn find(db: Db<'_>, id: &str) -> Result<Option<Logged>> {
    db.first(
        &format!("SELECT {COLUMNS} FROM remnants WHERE id = ?1"),
        [id],
        raw,
    )?
    .map(|row| row.read(db))
    .transpose()
}

/// The remnants of these ids, in their order; those that are not there are passed over.
pub(super) fn find_all(db: Db<'_>, ids: &[String]) -> Result<Vec<Logged>> {
    let found = ids.iter().map(|id| find(db, id));
    found.filter_map(Result::transpose).collect()
}

/// The remnant of this id, which must be there and be on the rack to be `used` (a past participle
/// for the message).
pub(super) fn find_on_rack(db: Db<'_>, id: &str, used: &str) -> Result<Logged> {
    let Some(logged) = find(db, id)? else {
        return Err(unknown(db, id)?);
    };
    if logged.state == State::OnRack {
        return Ok(logged);
    }
    let what = gone(db, &logged)?;
    Err(Failure::new(
        format!("remnant {id}"),
        format!("it {what}, so it cannot be {used}"),
        "",
    ))
}

/// Why a remnant is not on the rack, as the end of a sentence.
pub(super) fn gone(db: Db<'_>, logged: &Logged) -> Result<String> {
    let id = &logged.remnant.id;
    if logged.state == State::Cut {
        let booking = db.first(
            "SELECT number, booked FROM booked_remnants JOIN bookings ON number = booking \
             WHERE remnant = ?1 AND undone IS NULL",
            [id],
            |row| Ok((row.get::<_, i64>(0)?, row.get::<_, String>(1)?)),
        )?;
        if let Some((number, booked)) = booking {
            return Ok(format!(
                "was used on {} by booking {}",
                day_of(&booked),
                super::booking_id(number)
            ));
        }
    }
    if logged.state == State::OnRack {
        return Ok(match super::hold::of(db, id)? {
            Some(hold) => format!("is held for order {}", hold.order),
            None => "is on the rack".to_owned(),
        });
    }
    Ok(match super::event::last(db, id)? {
        Some(event) => format!("is {} since {}: {}", logged.state, event.day(), event.why),
        None => format!("is {}", logged.state),
    })
}

/// The failure for an id that is not in the rack, told apart from one that once was.
pub(super) fn unknown(db: Db<'_>, id: &str) -> Result<Failure> {
    let place = format!("remnant {id}");
    if let Some(event) = super::event::last(db, id)? {
        return Ok(Failure::new(
            place,
            format!("it left the rack on {}: {}", event.day(), event.why),
            "its number is not given again",
        ));
    }
    let ids = db.rows(
        "SELECT id FROM remnants WHERE state = 'on-rack'",
        [],
        |row| row.get::<_, String>(0),
    )?;
    Ok(Failure::new(
        place,
        "the rack does not know it",
        super::nearest(id, ids.iter().map(String::as_str)).map_or_else(
            || "see `panelwright rack list`".to_owned(),
            |near| format!("did you mean {near}?"),
        ),
    ))
}

/// Adds a remnant that stands on the rack from now on. Its shape has been checked.
pub(super) fn insert(change: &Change<'_>, remnant: &Remnant) -> Result<()> {
    let twice = change.db.first(
        "SELECT 1 FROM remnants WHERE id = ?1",
        [&remnant.id],
        |_| Ok(()),
    )?;
    if twice.is_some() {
        return Err(Failure::new(
            format!("remnant {}", remnant.id),
            "the rack has a remnant of this id already",
            "give it another id; leave the id out to have the next free one",
        ));
    }
    shape::check(&remnant.outline).map_err(|what| {
        Failure::new(format!("remnant {}", remnant.id), what, "measure it again")
    })?;
    let bounds = remnant.outline.bounds();
    let record = record(remnant);
    let clear = shape::clear_rectangle(remnant);
    change.run(
        "INSERT INTO remnants (id, material, outline, voids, flaws, area, length, width, lot, \
         grain_deg, good_faces, place, logged, origin, note, value, clear_length, clear_width, \
         state) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16, \
         ?17, ?18, 'on-rack')",
        rusqlite::params![
            remnant.id,
            remnant.material,
            record["outline"].to_string(),
            record["voids"].to_string(),
            record["flaws"].to_string(),
            remnant.outline.area(),
            bounds.width(),
            bounds.height(),
            remnant.lot,
            remnant.grain_deg,
            remnant.good_faces,
            remnant.place,
            remnant.logged,
            remnant.origin,
            remnant.note,
            remnant.value,
            clear.map(|c| c.width()),
            clear.map(|c| c.height()),
        ],
    )?;
    if let Some(number) = number_of(&remnant.id) {
        change.run(
            "UPDATE counters SET value = max(value, ?1) WHERE name = 'remnant'",
            [number],
        )?;
    }
    Ok(())
}

/// Changes the state of a remnant.
pub(super) fn set_state(change: &Change<'_>, id: &str, from: State, to: State) -> Result<()> {
    let changed = change.run(
        "UPDATE remnants SET state = ?3 WHERE id = ?1 AND state = ?2",
        (id, from.word(), to.word()),
    )?;
    if changed == 1 {
        return Ok(());
    }
    Err(Failure::new(
        format!("remnant {id}"),
        format!("it is not {from} any more"),
        "look at it with `panelwright rack show`",
    ))
}

/// Everything about a remnant, as a program reads it and as the trace keeps it.
pub(super) fn record(remnant: &Remnant) -> serde_json::Value {
    let ring = |points: &Vec<Point>| points.iter().map(|p| [p.x, p.y]).collect::<Vec<_>>();
    let rings = |rings: &[Vec<Point>]| rings.iter().map(ring).collect::<Vec<_>>();
    serde_json::json!({
        "id": remnant.id,
        "material": remnant.material,
        "outline": ring(&remnant.outline.outer),
        "voids": rings(&remnant.outline.holes),
        "flaws": rings(&remnant.flaws),
        "lot": remnant.lot,
        "grain_deg": remnant.grain_deg,
        "good_faces": remnant.good_faces,
        "place": remnant.place,
        "logged": remnant.logged,
        "origin": remnant.origin,
        "note": remnant.note,
        "value": remnant.value,
    })
}

/// The next free id, within one change; it is given once the remnant is inserted.
///
/// A number is never given twice, not even that of an offcut whose booking was undone: it may be
/// written on a piece that still stands there.
pub(super) fn next_id(db: Db<'_>) -> Result<String> {
    let highest = db
        .first(
            "SELECT value FROM counters WHERE name = 'remnant'",
            [],
            |row| row.get::<_, i64>(0),
        )?
        .ok_or_else(|| db.damaged("the highest number of a remnant is not known"))?;
    if highest >= HIGHEST {
        return Err(Failure::new(
            "rack",
            "the numbers of remnants are used up",
            "give an id yourself",
        ));
    }
    Ok(format!("R-{:04}", highest + 1))
}

/// The highest number that is given: eighteen digits, which fit a database's integer.
const HIGHEST: i64 = 999_999_999_999_999_999;

/// The number of an id of the rack's own form.
fn number_of(id: &str) -> Option<i64> {
    let digits = id.strip_prefix("R-").or_else(|| id.strip_prefix("r-"))?;
    digits
        .bytes()
        .all(|b| b.is_ascii_digit())
        .then(|| digits.parse().ok())
        .flatten()
        .filter(|number| digits.len() <= 18 && *number <= HIGHEST)
}

#[cfg(test)]
mod tests {
    use super::super::testing::{TestRack, when};
    use super::*;

    #[test]
    fn numbers_within_ids_count_as_numbers() {
        let mut test = TestRack::new();
        let plain = test.rack.remnants().expect("read").remove(0);
        for id in ["R-10000", "B2", "R-9999", "R-0010", "r-0009", "shelf"] {
            let id = id.to_owned();
            let new = Remnant {
                id,
                ..plain.clone()
            };
            test.rack
                .change(&when(2), |change| insert(change, &new))
                .expect("added");
        }
        let ids: Vec<String> = test
            .rack
            .remnants()
            .expect("read")
            .into_iter()
            .map(|r| r.id)
            .collect();
        assert_eq!(
            ids,
            [
                "B2", "R-0007", "r-0009", "R-0010", "R-0012", "R-9999", "R-10000", "shelf"
            ]
        );
        assert_eq!(next_id(test.rack.db()).expect("read"), "R-10001");
        assert_eq!(number_of("R-0012"), Some(12));
        for other in ["R-", "R-12a", "Q-12", "R-+3", "R-99999999999999999999"] {
            assert_eq!(number_of(other), None, "{other}");
        }
    }

    #[test]
    fn every_state_has_its_word() {
        for state in State::ALL {
            assert_eq!(State::of_word(state.word()), Some(state));
        }
        assert_eq!(State::of_word("On-Rack"), None);
    }
}

//! To take a remnant off the rack that was not cut, and to put it back when it is found again.

use super::event::Event;
use super::hold;
use super::remnant_row::{self, State};
use super::store::Rack;
use crate::remnant::NOT_PLACED;
use crate::{Failure, Result};
use jiff::Zoned;
use serde::Serialize;

/// A remnant that changed its state by hand.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Moved {
    /// Its id.
    pub id: String,
    /// What it was.
    pub was: State,
    /// What it is now.
    pub state: State,
    /// Where it stands.
    pub place: Option<String>,
    /// Why.
    pub why: String,
    /// When, RFC 3339.
    pub at: String,
}

/// Takes a remnant off the rack: thrown out, recycled, lost, or retired for another reason such as
/// sold. `why` must say so.
///
/// # Errors
/// The rack does not know it, it is not on the rack or held for an order, no reason is given, `to` is
/// none of [`State::GONE`], or the rack is locked.
pub fn retire(rack: &mut Rack, id: &str, to: State, why: &str, when: &Zoned) -> Result<Moved> {
    let why = super::need_reason(why, format!("remnant {id}"))?;
    if !State::GONE.contains(&to) {
        return Err(Failure::new(
            format!("remnant {id}"),
            format!("it does not become {to} by hand"),
            "name one of: retired, thrown-out, recycled, lost",
        ));
    }
    rack.change(when, |change| {
        let logged = remnant_row::find_on_rack(change.db, id, word(to))?;
        // A lost piece is lost for its order too.
        if to == State::Lost {
            hold::end(change, &logged.remnant.id, "released", "the piece is lost")?;
        } else {
            hold::refuse_held(change.db, &logged, None, word(to))?;
        }
        let (id, place) = (logged.remnant.id, logged.remnant.place);
        remnant_row::set_state(change, &id, State::OnRack, to)?;
        change.event(Event::new(to.word(), &why).remnant(&id))?;
        Ok(Moved {
            id,
            was: State::OnRack,
            state: to,
            place,
            why: why.clone(),
            at: change.at.clone(),
        })
    })
}

/// The state as the end of "it cannot be ...".
const fn word(state: State) -> &'static str {
    match state {
        State::ThrownOut => "thrown out",
        other => other.word(),
    }
}

/// Puts a remnant back that was lost, or that left the rack by mistake; `place` says where it stands
/// now, if that has changed.
///
/// # Errors
/// The rack does not know it, it is on the rack already, it was cut (its booking has to be undone), or
/// no reason is given.
pub fn found(
    rack: &mut Rack,
    id: &str,
    place: Option<&str>,
    why: &str,
    when: &Zoned,
) -> Result<Moved> {
    let why = super::need_reason(why, format!("remnant {id}"))?;
    rack.change(when, |change| {
        let Some(logged) = remnant_row::find(change.db, id)? else {
            return Err(remnant_row::unknown(change.db, id)?);
        };
        let was = logged.state;
        if !State::GONE.contains(&was) {
            let advice = match was {
                State::Cut => "if it was not cut after all, undo that booking",
                _ => "it needs no finding",
            };
            let what = remnant_row::gone(change.db, &logged)?;
            return Err(Failure::new(
                format!("remnant {id}"),
                format!("it {what}"),
                advice,
            ));
        }
        let id = logged.remnant.id;
        remnant_row::set_state(change, &id, was, State::OnRack)?;
        if let Some(place) = place {
            change.run("UPDATE remnants SET place = ?2 WHERE id = ?1", (&id, place))?;
        }
        change.event(Event::new("found", format!("{why} (was {was})")).remnant(&id))?;
        Ok(Moved {
            id,
            was,
            state: State::OnRack,
            place: place.map(str::to_owned).or(logged.remnant.place),
            why: why.clone(),
            at: change.at.clone(),
        })
    })
}

/// Writes down that a remnant stands somewhere else now.
///
/// # Errors
/// The rack does not know it, it is not on the rack, or no place is given.
pub fn put(rack: &mut Rack, id: &str, place: &str, when: &Zoned) -> Result<Moved> {
    let place = place.trim();
    if place.is_empty() {
        return Err(Failure::new(
            format!("remnant {id}"),
            "no place is given",
            "say where it stands, such as \"bay B2\"",
        ));
    }
    rack.change(when, |change| {
        let logged = remnant_row::find_on_rack(change.db, id, "moved")?;
        let id = logged.remnant.id;
        change.run("UPDATE remnants SET place = ?2 WHERE id = ?1", (&id, place))?;
        let from = logged.remnant.place.as_deref().unwrap_or("nowhere");
        let why = format!("from {from} to {place}");
        change.event(Event::new("moved", &why).remnant(&id))?;
        Ok(Moved {
            id,
            was: State::OnRack,
            state: State::OnRack,
            place: Some(place.to_owned()),
            why,
            at: change.at.clone(),
        })
    })
}

/// Writes a note or the name of a photo of a remnant down, whatever its state; what is `None` stays.
///
/// # Errors
/// The rack does not know it, or nothing is said.
pub fn annotate(
    rack: &mut Rack,
    id: &str,
    note: Option<&str>,
    photo: Option<&str>,
    when: &Zoned,
) -> Result<Moved> {
    let said = [note.map(str::trim), photo.map(|photo| photo.trim())];
    let words: Vec<&str> = said
        .iter()
        .flatten()
        .copied()
        .filter(|s| !s.is_empty())
        .collect();
    let why = super::need_reason(&words.join(", photo "), format!("remnant {id}"))?;
    rack.change(when, |change| {
        let Some(logged) = remnant_row::find(change.db, id)? else {
            return Err(remnant_row::unknown(change.db, id)?);
        };
        let id = logged.remnant.id;
        change.run(
            "UPDATE remnants SET note = coalesce(?2, note), photo = coalesce(?3, photo) \
             WHERE id = ?1",
            (&id, said[0], said[1]),
        )?;
        change.event(Event::new("noted", &why).remnant(&id))?;
        Ok(Moved {
            id,
            was: logged.state,
            state: logged.state,
            place: logged.remnant.place,
            why: why.clone(),
            at: change.at.clone(),
        })
    })
}

impl Moved {
    /// For people.
    #[must_use]
    pub fn text(&self) -> String {
        match self.state {
            State::OnRack if self.was == State::OnRack => {
                format!("Moved {} {}\n", self.id, self.why)
            }
            State::OnRack => {
                let place = self.place.as_deref().unwrap_or(NOT_PLACED);
                format!("{} is on the rack again, {place}: {}\n", self.id, self.why)
            }
            State::Retired => format!("Retired {}: {}\n", self.id, self.why),
            state => format!("{} is {} now: {}\n", self.id, word(state), self.why),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::check;
    use super::super::testing::{TestRack, remnant_nest, when};
    use super::*;

    #[test]
    fn once_and_with_a_reason() {
        let mut test = TestRack::new();
        let before = test.dump();
        let to = State::Retired;
        assert!(retire(&mut test.rack, "R-0012", to, "  ", &when(2)).is_err());
        let unknown = retire(&mut test.rack, "R-0021", to, "broken", &when(2));
        let unknown = unknown.expect_err("unknown");
        assert!(
            unknown.to_string().contains("does not know it"),
            "{unknown}"
        );
        for to in [State::OnRack, State::Cut] {
            retire(&mut test.rack, "R-0012", to, "x", &when(2)).expect_err("not by hand");
        }
        assert_eq!(test.dump(), before);
        let retired = retire(&mut test.rack, "r-0012", to, "corner broken", &when(2));
        assert_eq!(retired.expect("retired").id, "R-0012");
        let there = test.rack.remnants().expect("read");
        assert!(there.iter().all(|r| r.id != "R-0012"));
        let twice = retire(&mut test.rack, "R-0012", to, "again", &when(3)).expect_err("gone");
        assert_eq!(
            twice.to_string(),
            "remnant R-0012: it is retired since 2026-11-02: corner broken, so it cannot be retired"
        );
    }

    #[test]
    fn lost_and_found_again_with_every_move_in_the_trace() {
        let mut test = TestRack::new();
        let at_first = test.table("remnants");
        for (day, to) in (2..).zip(State::GONE) {
            retire(&mut test.rack, "R-0012", to, "looked for it", &when(day)).expect("gone");
            let failure = test.book(&remnant_nest(), day).expect_err("gone");
            assert!(failure.what.contains(to.word()), "{failure}");
            let back = found(
                &mut test.rack,
                "R-0012",
                None,
                "behind bay 3",
                &when(day + 1),
            );
            assert_eq!(back.expect("found").was, to);
        }
        assert_eq!(test.table("remnants"), at_first);
        let moves = test.table("events");
        let count = |word: &str| moves.iter().filter(|e| e.contains(word)).count();
        assert_eq!(count("behind bay 3 (was "), 4);
        assert_eq!(count("looked for it"), 4);
        put(&mut test.rack, "R-0012", "bay 7", &when(8)).expect("moved");
        let here = found(&mut test.rack, "R-0012", None, "x", &when(8)).expect_err("here");
        assert!(here.to_string().contains("on the rack"), "{here}");
        test.book(&remnant_nest(), 8).expect("booked");
        let cut = found(&mut test.rack, "R-0012", None, "x", &when(9)).expect_err("cut");
        assert!(cut.to_string().contains("undo that booking"), "{cut}");
        assert!(check(&test.rack).expect("checked").is_sound());
    }
}

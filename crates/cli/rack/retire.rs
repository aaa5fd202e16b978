//! To take a remnant off the rack by hand.

use super::event::Event;
use super::remnant_row::{self, State};
use super::store::Rack;
use crate::Result;
use jiff::Zoned;
use serde::Serialize;

/// A remnant that was retired.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Retired {
    /// Its id.
    pub id: String,
    /// Why.
    pub why: String,
    /// When, RFC 3339.
    pub at: String,
}

/// Takes a remnant off the rack for good: broken, sold, thrown away. `why` must say so.
///
/// # Errors
/// The rack does not know it, it is not on the rack, no reason is given, or the rack is locked.
pub fn retire(rack: &mut Rack, id: &str, why: &str, when: &Zoned) -> Result<Retired> {
    let why = super::need_reason(why, format!("remnant {id}"))?;
    rack.change(when, |change| {
        let logged = remnant_row::find_on_rack(change.db, id, "retired")?;
        let id = logged.remnant.id;
        remnant_row::set_state(change, &id, State::OnRack, State::Retired)?;
        change.event(Event::new("retired", &why).remnant(&id))?;
        Ok(Retired {
            id,
            why: why.clone(),
            at: change.at.clone(),
        })
    })
}

impl Retired {
    /// For people.
    #[must_use]
    pub fn text(&self) -> String {
        format!("Retired {}: {}\n", self.id, self.why)
    }
}

#[cfg(test)]
mod tests {
    use super::super::testing::{TestRack, when};
    use super::*;

    #[test]
    fn once_and_with_a_reason() {
        let mut test = TestRack::new();
        let before = test.dump();
        assert!(retire(&mut test.rack, "R-0012", "  ", &when(2)).is_err());
        let unknown = retire(&mut test.rack, "R-0021", "broken", &when(2)).expect_err("unknown");
        assert!(
            unknown.to_string().contains("does not know it"),
            "{unknown}"
        );
        assert_eq!(test.dump(), before);
        let retired = retire(&mut test.rack, "r-0012", "corner broken", &when(2)).expect("retired");
        assert_eq!(retired.id, "R-0012");
        assert!(
            test.rack
                .remnants()
                .expect("read")
                .iter()
                .all(|r| r.id != "R-0012")
        );
        let twice = retire(&mut test.rack, "R-0012", "again", &when(3)).expect_err("gone");
        assert_eq!(
            twice.to_string(),
            "remnant R-0012: it is retired since 2026-11-02: corner broken, so it cannot be retired"
        );
    }
}

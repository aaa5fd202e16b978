//! Everything about one remnant.

use super::event::{self, Happening};
use super::remnant_row::{self, State};
use super::store::{Rack, day_of};
use super::{shape, sketch};
use crate::Result;
use crate::area::m2;
use crate::nest_file::Ring;
use panelwright_geometry::Point;
use serde::Serialize;
use std::fmt::Write as _;

/// A remnant with its history. Lengths in millimetres, areas in square millimetres.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Shown {
    /// Id.
    pub id: String,
    /// Material by name.
    pub material: String,
    /// What became of it.
    pub state: State,
    /// Size of the bounding rectangle along x.
    pub length: f64,
    /// Size along y.
    pub width: f64,
    /// Area less voids.
    pub area: f64,
    /// What the shape is called; empty for an upright rectangle.
    pub shape: String,
    /// Corners, good face up.
    pub outline: Ring,
    /// Holes in it.
    pub voids: Vec<Ring>,
    /// Areas to avoid.
    pub flaws: Vec<Ring>,
    /// The purchase its sheet came from.
    pub lot: Option<String>,
    /// Direction of the grain in degrees from x.
    pub grain_deg: Option<f64>,
    /// How many faces are good.
    pub good_faces: u8,
    /// Where it stands.
    pub place: Option<String>,
    /// Day it was logged.
    pub logged: Option<String>,
    /// Where it comes from.
    pub origin: Option<String>,
    /// Anything else.
    pub note: Option<String>,
    /// File name of a photo.
    pub photo: Option<String>,
    /// The hold on it; one that has run out is there until the next change.
    pub held: Option<super::Hold>,
    /// Its own book value; by the keep rule when absent.
    pub value: Option<f64>,
    /// What happened to it, in order.
    pub history: Vec<Happening>,
    /// A small drawing with letters.
    #[serde(skip)]
    pub sketch: String,
}

/// Looks a remnant up, whatever became of it; capitals in the id do not matter.
///
/// # Errors
/// The rack does not know it; for an offcut whose booking was undone, the failure says so.
pub fn show(rack: &Rack, id: &str) -> Result<Shown> {
    let db = rack.db();
    let Some(logged) = remnant_row::find(db, id)? else {
        return Err(remnant_row::unknown(db, id)?);
    };
    let history = event::history(db, id)?;
    let photo = db.first("SELECT photo FROM remnants WHERE id = ?1", [id], |row| {
        row.get::<_, Option<String>>(0)
    })?;
    let remnant = logged.remnant;
    let bounds = remnant.outline.bounds();
    let ring = |points: &Vec<Point>| -> Ring { points.iter().map(|p| [p.x, p.y]).collect() };
    Ok(Shown {
        state: logged.state,
        length: bounds.width(),
        width: bounds.height(),
        area: remnant.outline.area(),
        shape: shape::describe(&remnant.outline, remnant.flaws.len()),
        outline: ring(&remnant.outline.outer),
        voids: remnant.outline.holes.iter().map(ring).collect(),
        flaws: remnant.flaws.iter().map(ring).collect(),
        sketch: sketch::sketch(&remnant.outline, &remnant.flaws),
        history,
        photo: photo.flatten(),
        held: super::hold::of(db, id)?,
        id: remnant.id,
        material: remnant.material,
        lot: remnant.lot,
        grain_deg: remnant.grain_deg,
        good_faces: remnant.good_faces,
        place: remnant.place,
        logged: remnant.logged,
        origin: remnant.origin,
        note: remnant.note,
        value: remnant.value,
    })
}

impl Shown {
    /// For people: papers, drawing, corners of odd shapes, history.
    #[must_use]
    pub fn text(&self) -> String {
        let mut text = format!("{}  {}  ({})\n\n", self.id, self.material, self.state);
        for line in self.sketch.lines() {
            let _ = writeln!(text, "  {line}");
        }
        let shape = match self.shape.as_str() {
            "" => "rectangle",
            shape => shape,
        };
        let mut line = |name: &str, value: &str| {
            let _ = writeln!(text, "  {name:<12}{value}");
        };
        line("", "");
        line(
            "size",
            &format!("{:.1} x {:.1} mm, {shape}", self.length, self.width),
        );
        line("area", &format!("{:.3} m2", m2(self.area)));
        if !shape.starts_with("rectangle") {
            line("corners", &corners(&self.outline));
        }
        for void in &self.voids {
            line("void", &corners(void));
        }
        for flaw in &self.flaws {
            line("flaw", &corners(flaw));
        }
        if let Some(grain) = self.grain_deg {
            line("grain", &format!("{grain} degrees from x"));
        }
        line("good faces", &self.good_faces.to_string());
        for (name, value) in [
            ("place", &self.place),
            ("lot", &self.lot),
            ("logged", &self.logged),
            ("origin", &self.origin),
            ("note", &self.note),
            ("photo", &self.photo),
        ] {
            if let Some(value) = value {
                line(name, value);
            }
        }
        if let Some(hold) = &self.held {
            let until = day_of(&hold.until);
            line("held for", &format!("{}, until {until}", hold.order));
        }
        match self.value {
            Some(value) => line("value", &format!("{value:.2}")),
            None => line("value", "by the keep rule"),
        }
        text.push_str("\n  history\n");
        for event in &self.history {
            let booking = event
                .booking
                .as_ref()
                .map_or_else(String::new, |id| format!(" ({id})"));
            let _ = writeln!(
                text,
                "  {}  {}: {}{booking}",
                event.day(),
                event.kind,
                event.why
            );
        }
        text.lines()
            .map(|line| format!("{}\n", line.trim_end()))
            .collect()
    }
}

fn corners(ring: &Ring) -> String {
    /// Beyond this a ring is read from the drawing, not from numbers.
    const MOST: usize = 12;
    let mut list: Vec<String> = ring
        .iter()
        .take(MOST)
        .map(|p| format!("{:.0},{:.0}", p[0], p[1]))
        .collect();
    if ring.len() > MOST {
        list.push(format!(".. {} in all", ring.len()));
    }
    list.join("  ")
}

#[cfg(test)]
mod tests {
    use super::super::testing::{TestRack, when};
    use super::super::undo;
    use super::*;

    #[test]
    fn tells_the_whole_story() {
        let mut test = TestRack::new();
        let shown = show(&test.rack, "r-0012").expect("it is there");
        assert_eq!(
            shown.sketch,
            sketch::sketch(&test.l_outline(), &test.l_flaws())
        );
        let text = shown.text();
        for part in [
            "R-0012  brushed 3  (on-rack)",
            "900.0 x 600.0 mm, L, 1 void, 1 flaw",
            "grain       90 degrees from x",
            "2026-11-01  listed: from the shop's readable list",
        ] {
            assert!(text.contains(part), "{part:?} in\n{text}");
        }
        let booking = test.book_remnant(5).expect("booked");
        let shown = show(&test.rack, "R-0012").expect("it is there");
        assert_eq!(shown.state, State::Cut);
        assert_eq!(shown.history.len(), 2);
        assert_eq!(shown.history[1].booking.as_deref(), Some("B-0001"));
        undo(&mut test.rack, &booking.id, None, &when(6)).expect("undone");
        let kinds: Vec<String> = show(&test.rack, "R-0012")
            .expect("back")
            .history
            .into_iter()
            .map(|event| event.kind)
            .collect();
        assert_eq!(kinds, ["listed", "cut", "returned"]);
        let gone = show(&test.rack, &booking.offcuts[0].remnant).expect_err("removed");
        assert!(gone.what.contains("booking B-0001 was undone"), "{gone}");
    }
}

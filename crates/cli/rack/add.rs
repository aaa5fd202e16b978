//! To log a remnant by hand.

use super::event::Event;
use super::remnant_row;
use super::store::Rack;
use super::{papers, shape};
use crate::area::m2;
use crate::input::{self, Material, Unit};
use crate::remnant::Remnant;
use crate::{Failure, Result};
use jiff::Zoned;
use panelwright_geometry::drawing::{self, ReadOptions};
use panelwright_geometry::{Point, Side, tolerance};
use serde::{Deserialize, Serialize};
use std::path::Path;

/// A ring of x, y pairs.
type Ring = Vec<[f64; 2]>;

/// The shape of a new remnant, good face up.
#[derive(Debug, Clone, PartialEq)]
pub enum NewShape {
    /// A rectangle.
    Rectangle {
        /// Size along x.
        length: f64,
        /// Size along y.
        width: f64,
        /// Holes in it, measured from its lower left corner.
        voids: Vec<Ring>,
        /// Areas to avoid, measured likewise.
        flaws: Vec<Ring>,
    },
    /// Anything else.
    Outline {
        /// Corners in order.
        outline: Ring,
        /// Holes in it.
        voids: Vec<Ring>,
        /// Areas to avoid.
        flaws: Vec<Ring>,
    },
}

/// A remnant to be logged. Lengths in `units`.
#[derive(Debug, Clone, PartialEq)]
pub struct NewRemnant {
    /// Its id; the next free one when `None`.
    pub id: Option<String>,
    /// Material by name.
    pub material: String,
    /// Its shape.
    pub shape: NewShape,
    /// Unit of the shape.
    pub units: Unit,
    /// The purchase its sheet came from.
    pub lot: Option<String>,
    /// Direction of the grain in degrees from x; 0 when the material has one and this is `None`.
    pub grain_deg: Option<f64>,
    /// How many faces are good; as the material when `None`.
    pub good_faces: Option<u8>,
    /// Where it stands.
    pub place: Option<String>,
    /// Where it comes from.
    pub origin: Option<String>,
    /// Anything else.
    pub note: Option<String>,
    /// Book value; by the keep rule when `None`.
    pub value: Option<f64>,
}

/// A remnant that was logged.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Added {
    /// Its id: write it on the piece.
    pub id: String,
    /// Material by name.
    pub material: String,
    /// Size of its bounding rectangle along x, millimetres.
    pub length: f64,
    /// Size along y.
    pub width: f64,
    /// Area less voids, square millimetres.
    pub area: f64,
    /// What the shape is called: empty for an upright rectangle.
    pub shape: String,
}

#[derive(Deserialize)]
#[serde(untagged)]
enum ShapeText {
    Bare(Ring),
    Whole(WholeShape),
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct WholeShape {
    outline: Ring,
    #[serde(default)]
    voids: Vec<Ring>,
    #[serde(default)]
    flaws: Vec<Ring>,
}

/// A shape as JSON: `[[x, y], ...]`, or `{"outline": [...], "voids": [...], "flaws": [...]}`.
///
/// `place` names where the text is from, for the failure.
///
/// # Errors
/// The text is neither.
pub fn shape_from_json(text: &str, place: &str) -> Result<NewShape> {
    let bad = |what: String| {
        Failure::new(
            place,
            what,
            r#"give corners as [[x, y], ...] or {"outline": [[x, y], ...], "voids": [], "flaws": []}"#,
        )
    };
    // First as JSON at all, for a message with line and column.
    let json: serde_json::Value =
        serde_json::from_str(text).map_err(|error| bad(error.to_string()))?;
    let shape = match serde_json::from_value(json) {
        Ok(ShapeText::Bare(outline)) => WholeShape {
            outline,
            voids: Vec::new(),
            flaws: Vec::new(),
        },
        Ok(ShapeText::Whole(shape)) => shape,
        Err(_) => return Err(bad("this is no outline".to_owned())),
    };
    Ok(NewShape::Outline {
        outline: shape.outline,
        voids: shape.voids,
        flaws: shape.flaws,
    })
}

/// A shape given as an argument: JSON itself (it begins with `[` or `{`), or the name of a file
/// with it. See [`shape_from_json`].
///
/// # Errors
/// The file cannot be read, or there is no shape in it.
pub fn shape_argument(argument: &str) -> Result<NewShape> {
    if argument.trim_start().starts_with(['[', '{']) {
        return shape_from_json(argument, "outline");
    }
    let bytes = input::bytes(Path::new(argument))?;
    let text = String::from_utf8(bytes).map_err(|_| {
        let advice = "name a file of JSON, or give the corners themselves";
        Failure::in_file(Path::new(argument), "", "this is not UTF-8 text", advice)
    })?;
    shape_from_json(&text, argument)
}

/// The shape of a piece that was drawn, with more voids and flaws in the drawing's coordinates. Its curves
/// become chords that never show more material than there is.
///
/// # Errors
/// The drawing cannot be read or does not show exactly one piece.
pub fn shape_of_drawing(file: &Path, voids: &[Ring], flaws: &[Ring]) -> Result<NewShape> {
    let drawing = drawing::read_file(file, &ReadOptions::default()).map_err(|e| {
        Failure::in_file(
            file,
            "",
            e.to_string(),
            "draw the piece as a closed outline",
        )
    })?;
    let [piece] = drawing.parts.as_slice() else {
        let what = format!("it shows {} pieces", drawing.parts.len());
        return Err(Failure::in_file(file, "", what, "draw one piece in a file"));
    };
    let polygon = piece.outline.flatten(tolerance::CHORD, Side::Within);
    let ring = |points: &Vec<Point>| -> Ring { points.iter().map(|p| [p.x, p.y]).collect() };
    Ok(NewShape::Outline {
        outline: ring(&polygon.outer),
        voids: polygon
            .holes
            .iter()
            .map(ring)
            .chain(voids.to_vec())
            .collect(),
        flaws: flaws.to_vec(),
    })
}

/// Logs a remnant; its shape is moved so that its bounds begin at the origin.
///
/// # Errors
/// The material is not among `materials`; the shape crosses itself, is not finite or not positive,
/// or a void reaches outside; the id is taken or cannot be written; a grain, face count or value
/// cannot be; the rack is locked.
pub fn add(
    rack: &mut Rack,
    new: &NewRemnant,
    materials: &[Material],
    when: &Zoned,
) -> Result<Added> {
    let place = match &new.id {
        Some(id) => format!("remnant {id}"),
        None => "new remnant".to_owned(),
    };
    if let Some(id) = &new.id {
        papers::id(id, &place)?;
    }
    let material = papers::material(materials, &new.material, &place)?;
    let bad = |what: String| Failure::new(&place, what, "measure the piece again");
    let mm = new.units.in_mm();
    let scaled = |ring: &Ring| -> Ring { ring.iter().map(|p| [p[0] * mm, p[1] * mm]).collect() };
    let (outline, voids, flaws) = match &new.shape {
        NewShape::Rectangle {
            length,
            width,
            voids,
            flaws,
        } => {
            let ring = shape::rectangle(length * mm, width * mm).map_err(bad)?;
            (ring.to_vec(), voids, flaws)
        }
        NewShape::Outline {
            outline,
            voids,
            flaws,
        } => (scaled(outline), voids, flaws),
    };
    let voids: Vec<Ring> = voids.iter().map(scaled).collect();
    let flaws: Vec<Ring> = flaws.iter().map(scaled).collect();
    let (outline, flaws) = shape::measured(&outline, &voids, &flaws).map_err(bad)?;
    let shift = shape::to_origin(outline.bounds());
    let mut remnant = Remnant {
        id: new.id.clone().unwrap_or_default(),
        material: material.name.clone(),
        outline: outline.placed(&shift),
        flaws: flaws
            .into_iter()
            .map(|flaw| flaw.into_iter().map(|p| shift.apply(p)).collect())
            .collect(),
        lot: new.lot.clone(),
        grain_deg: papers::grain(new.grain_deg, material, &place)?,
        good_faces: papers::good_faces(new.good_faces, material, &place)?,
        place: new.place.clone(),
        logged: None,
        origin: new.origin.clone(),
        note: new.note.clone(),
        value: papers::value(new.value, &place)?,
    };
    rack.change(when, |change| {
        if new.id.is_none() {
            remnant.id = remnant_row::next_id(change.db)?;
        }
        remnant.logged = Some(change.day.clone());
        remnant_row::insert(change, &remnant)?;
        let why = remnant.origin.as_deref().unwrap_or("logged by hand");
        change.event(Event::new("added", why).remnant(&remnant.id))
    })?;
    let bounds = remnant.outline.bounds();
    Ok(Added {
        length: bounds.width(),
        width: bounds.height(),
        area: remnant.outline.area(),
        shape: shape::describe(&remnant.outline, remnant.flaws.len()),
        id: remnant.id,
        material: remnant.material,
    })
}

impl Added {
    /// For people: what to write on the piece.
    #[must_use]
    pub fn text(&self) -> String {
        let shape = match self.shape.as_str() {
            "" => String::new(),
            shape => format!(" ({shape})"),
        };
        format!(
            "Logged as {}: {}, {:.0} x {:.0} mm{shape}, {:.3} m2\nWrite the number on the piece.\n",
            self.id,
            self.material,
            self.length,
            self.width,
            m2(self.area)
        )
    }
}

#[cfg(test)]
mod tests {
    use super::super::testing::{TestRack, shop, when};
    use super::*;

    fn new(shape: NewShape) -> NewRemnant {
        NewRemnant {
            id: None,
            material: "white 3".to_owned(),
            shape,
            units: Unit::Millimetre,
            lot: None,
            grain_deg: None,
            good_faces: None,
            place: Some("bay 2".to_owned()),
            origin: None,
            note: None,
            value: None,
        }
    }

    #[test]
    fn an_l_measured_anywhere_lands_at_the_origin() {
        let mut test = TestRack::new();
        let shape = shape_argument(
            r#"{"outline": [[100,50],[900,50],[900,350],[400,350],[400,650],[100,650],[100,50]],
                "voids": [[[150,100],[250,100],[250,200],[150,200]]],
                "flaws": [[[880,60],[950,60],[950,90]]]}"#,
        )
        .expect("a shape");
        let added = add(&mut test.rack, &new(shape), &shop().materials, &when(3)).expect("added");
        // The shop's list ends with R-0012.
        assert_eq!(added.id, "R-0013");
        assert_eq!((added.length, added.width), (800.0, 600.0));
        // By hand: 800 x 300 + 300 x 300 - 100 x 100.
        assert_eq!(added.area, 320_000.0);
        assert_eq!(added.shape, "L, 1 void, 1 flaw");
        let all = test.rack.remnants().expect("remnants");
        let remnant = all.iter().find(|r| r.id == "R-0013").expect("it is there");
        assert_eq!(remnant.outline.bounds().min.x, 0.0);
        assert_eq!(
            remnant.flaws[0][0],
            panelwright_geometry::Point::new(780.0, 10.0)
        );
        assert_eq!(remnant.logged.as_deref(), Some("2026-11-03"));
        assert!(
            added
                .text()
                .contains("800 x 600 mm (L, 1 void, 1 flaw), 0.320 m2")
        );
    }

    #[test]
    fn wrong_pieces_are_refused_and_leave_no_trace() {
        let mut test = TestRack::new();
        let before = test.dump();
        let rectangle = |length, width| NewShape::Rectangle {
            length,
            width,
            voids: Vec::new(),
            flaws: Vec::new(),
        };
        let cross = shape_argument("[[0,0],[100,0],[20,90],[90,90]]").expect("a ring");
        let cases = [
            (new(rectangle(0.0, 10.0)), "length 0"),
            (new(rectangle(10.0, f64::INFINITY)), "width inf"),
            (new(cross), "crosses"),
            (
                NewRemnant {
                    material: "white 4".to_owned(),
                    ..new(rectangle(9.0, 9.0))
                },
                "did you mean \"white 3\"?",
            ),
            (
                NewRemnant {
                    id: Some("r-0012".to_owned()),
                    ..new(rectangle(9.0, 9.0))
                },
                "of this id already",
            ),
            (
                NewRemnant {
                    grain_deg: Some(0.0),
                    ..new(rectangle(9.0, 9.0))
                },
                "has none",
            ),
        ];
        for (piece, expected) in cases {
            let failure = add(&mut test.rack, &piece, &shop().materials, &when(3))
                .expect_err(expected)
                .to_string();
            assert!(failure.contains(expected), "{failure}");
        }
        assert_eq!(test.dump(), before);
        for bad in [
            "[[0,0],[1",
            "[1, 2]",
            r#"{"outlin": [[0,0]]}"#,
            "/nowhere/x.json",
        ] {
            assert!(shape_argument(bad).is_err(), "{bad}");
        }
    }
}

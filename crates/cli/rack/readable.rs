//! The readable list of remnants, as remnants.

use super::{papers, shape};
use crate::input::{Material, RemnantEntry, RemnantsFile};
use crate::remnant::Remnant;
use crate::{Failure, Result};
use std::collections::BTreeMap;
use std::path::Path;

/// The value of [`RemnantsFile::format`].
const FORMAT: &str = "panelwright-remnants-1";

/// The remnants of a readable list, in millimetres, in the list's order.
///
/// Shapes stay where they were measured. Flaws may cross the edge; voids may not.
///
/// # Errors
/// With the file, the entry's place in it and its id: the list has another format; an id comes twice
/// (capitals do not matter) or cannot be written on a piece; the material is not among `materials`;
/// neither or both of size and outline are given; a shape is not finite, not positive or crosses
/// itself; a void reaches outside; a grain is given for a material without; a face count, value or
/// day cannot be.
pub fn remnants_from_list(
    file: &RemnantsFile,
    path: &Path,
    materials: &[Material],
) -> Result<Vec<Remnant>> {
    if file.format != FORMAT {
        return Err(Failure::in_file(
            path,
            "format",
            format!("it is {:?}", file.format),
            format!("a list of remnants has {FORMAT:?}"),
        ));
    }
    remnants_at(file, path, materials, |i| format!("remnants[{i}]"))
}

/// [`remnants_from_list`] for a list of any format, where `at` tells where an entry stands.
pub(super) fn remnants_at(
    file: &RemnantsFile,
    path: &Path,
    materials: &[Material],
    at: impl Fn(usize) -> String,
) -> Result<Vec<Remnant>> {
    let mut seen: BTreeMap<String, usize> = BTreeMap::new();
    let mut remnants = Vec::with_capacity(file.remnants.len());
    for (i, entry) in file.remnants.iter().enumerate() {
        // A line without an id is called by its number alone.
        let name = match entry.id == at(i) {
            true => String::new(),
            false => format!(" ({})", entry.id),
        };
        let place = format!("{}: {}{name}", path.display(), at(i));
        papers::id(&entry.id, &place)?;
        if let Some(first) = seen.insert(entry.id.to_ascii_uppercase(), i) {
            return Err(Failure::new(
                place,
                format!("the id is that of {} already", at(first)),
                "give each piece its own",
            ));
        }
        remnants.push(remnant(entry, file.units.in_mm(), &place, materials)?);
    }
    Ok(remnants)
}

fn remnant(entry: &RemnantEntry, mm: f64, place: &str, materials: &[Material]) -> Result<Remnant> {
    let material = papers::material(materials, &entry.material, place)?;
    let bad = |what: String| Failure::new(place, what, "measure the piece again");
    let scaled = |ring: &Vec<[f64; 2]>| -> Vec<[f64; 2]> {
        ring.iter().map(|p| [p[0] * mm, p[1] * mm]).collect()
    };
    let outline = match (&entry.outline, entry.length, entry.width) {
        (Some(outline), None, None) => scaled(outline),
        (None, Some(length), Some(width)) => shape::rectangle(length * mm, width * mm)
            .map_err(bad)?
            .to_vec(),
        (Some(_), _, _) => {
            return Err(Failure::new(
                place,
                "it has both an outline and a length or width",
                "give one of them",
            ));
        }
        (None, _, _) => {
            return Err(Failure::new(
                place,
                "it has neither length and width nor an outline",
                "give `length` and `width` of a rectangle, or `outline`",
            ));
        }
    };
    let voids: Vec<_> = entry.voids.iter().map(scaled).collect();
    let flaws: Vec<_> = entry.flaws.iter().map(scaled).collect();
    let (outline, flaws) = shape::measured(&outline, &voids, &flaws).map_err(bad)?;
    Ok(Remnant {
        id: entry.id.clone(),
        material: material.name.clone(),
        outline,
        flaws,
        lot: entry.lot.clone(),
        grain_deg: papers::grain(entry.grain_deg, material, place)?,
        good_faces: papers::good_faces(entry.good_faces, material, place)?,
        place: entry.place.clone(),
        logged: papers::day(entry.logged.as_deref(), place)?,
        origin: entry.origin.clone(),
        note: entry.note.clone(),
        value: papers::value(entry.value, place)?,
    })
}

#[cfg(test)]
mod tests {
    use super::super::testing::shop;
    use super::*;
    use panelwright_geometry::Point;

    fn read(units: &str, entries: &str) -> Result<Vec<Remnant>> {
        let text = format!(
            r#"{{"format": "panelwright-remnants-1", "units": "{units}", "remnants": [{entries}]}}"#
        );
        let file: RemnantsFile = serde_json::from_str(&text).expect("a list");
        remnants_from_list(&file, Path::new("rack.json"), &shop().materials)
    }

    #[test]
    fn inches_become_millimetres() {
        let remnants = read(
            "inch",
            r#"{"id": "R-1", "material": "brushed 3", "length": 48, "width": 24,
                "voids": [[[1, 1], [3, 1], [3, 2], [1, 2]]],
                "flaws": [[[47, 0], [50, 0], [50, 1]]], "good_faces": 2, "logged": "2026-02-28"}"#,
        )
        .expect("a good list");
        let remnant = &remnants[0];
        // 1 in = 25.4 mm exactly (international yard and pound agreement, 1959).
        let corner = remnant.outline.bounds().max;
        assert!(corner.distance(Point::new(1219.2, 609.6)) < 1e-9);
        let area = (48.0 * 24.0 - 2.0) * 25.4 * 25.4;
        assert!((remnant.outline.area() - area).abs() < 1e-6);
        assert!(remnant.flaws[0][1].distance(Point::new(1270.0, 0.0)) < 1e-9);
        assert_eq!((remnant.grain_deg, remnant.good_faces), (Some(0.0), 2));
    }

    #[test]
    fn says_which_entry_is_wrong_and_how() {
        let good = r#"{"id": "R-0001", "material": "white 3", "length": 500, "width": 300}"#;
        assert_eq!(read("mm", good).expect("good")[0].grain_deg, None);
        let cases = [
            (
                r#""material": "white 3", "length": 5, "width": 5"#,
                "r-0001",
                "remnants[0] already",
            ),
            (
                r#""material": "whit 3", "length": 5, "width": 5"#,
                "B",
                "did you mean \"white 3\"?",
            ),
            (
                r#""material": "white 3", "length": 5"#,
                "B",
                "neither length and width",
            ),
            (
                r#""material": "white 3", "length": -5, "width": 5"#,
                "B",
                "length -5",
            ),
            (
                r#""material": "white 3", "length": 5, "width": 0"#,
                "B",
                "width 0",
            ),
            (
                r#""material": "white 3", "length": 5, "outline": [[0,0],[9,0],[9,9]]"#,
                "B",
                "both an outline",
            ),
            (
                r#""material": "white 3", "outline": [[0,0],[100,0],[20,90],[90,90]]"#,
                "B",
                "the outline crosses",
            ),
            (
                r#""material": "white 3", "length": 50, "width": 50, "voids": [[[40,5],[60,5],[60,9]]]"#,
                "B",
                "void 1 reaches outside",
            ),
            (
                r#""material": "white 3", "length": 50, "width": 50, "flaws": [[[40,5],[60,5]]]"#,
                "B",
                "flaw 1 has 2 corners",
            ),
            (
                r#""material": "white 3", "length": 5, "width": 5, "good_faces": 3"#,
                "B",
                "good_faces 3",
            ),
            (
                r#""material": "white 3", "length": 5, "width": 5, "grain_deg": 0"#,
                "B",
                "has none",
            ),
            (
                r#""material": "white 3", "length": 5, "width": 5, "value": -1"#,
                "B",
                "value -1",
            ),
            (
                r#""material": "white 3", "length": 5, "width": 5, "logged": "2026-02-30""#,
                "B",
                "no day",
            ),
            (
                r#""material": "white 3", "length": 5, "width": 5"#,
                " ",
                "is empty",
            ),
        ];
        for (rest, id, expected) in cases {
            let failure = read("mm", &format!(r#"{good}, {{"id": "{id}", {rest}}}"#))
                .expect_err(expected)
                .to_string();
            assert!(failure.starts_with("rack.json: remnants[1] ("), "{failure}");
            assert!(failure.contains(expected), "{failure}");
        }
    }

    #[test]
    fn not_a_number_is_refused() {
        let mut file: RemnantsFile = serde_json::from_str(
            r#"{"format": "panelwright-remnants-1", "remnants":
                [{"id": "A", "material": "white 3", "length": 500, "width": 300}]}"#,
        )
        .expect("a list");
        file.remnants[0].length = Some(f64::NAN);
        let failure = remnants_from_list(&file, Path::new("l"), &shop().materials);
        assert!(failure.expect_err("NaN").what.contains("length NaN"));
        file.format = "panelwright-remnants-2".to_owned();
        assert!(remnants_from_list(&file, Path::new("l"), &shop().materials).is_err());
    }
}

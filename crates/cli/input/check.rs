//! Values of input files: finite, positive, within reason. And the shop in millimetres.

use super::{
    CutOften, FirstCutWord, Keep, KeepClear, Machine, Material, Process, Room, Sheet, ShopFile,
    TrimCuts, suggestion,
};
use crate::{Failure, Result};
use panelwright_geometry::tolerance::LARGEST;
use panelwright_geometry::{Bounds, Outline, validate};
use std::collections::BTreeSet;
use std::path::Path;

/// How a day is written, as advice.
pub const DAY_FORM: &str = "write a day of the calendar as YYYY-MM-DD";

/// Whether this is a day of the calendar, written `YYYY-MM-DD`: what else a parser takes, papers and lists would sort and
/// print as it stands.
#[must_use]
pub fn is_day(text: &str) -> bool {
    let day = text.parse::<jiff::civil::Date>();
    day.is_ok_and(|day| day.to_string() == text)
}

/// Checks values of one file; knows the file's name for messages.
pub struct Checker<'a> {
    /// The file.
    pub file: &'a Path,
}

impl Checker<'_> {
    /// A failure at `place` in the file.
    pub fn fail(
        &self,
        place: impl AsRef<str>,
        what: impl Into<String>,
        advice: impl Into<String>,
    ) -> Failure {
        Failure::in_file(self.file, place, what, advice)
    }

    /// A length above 0 and within 100 m, in units of so many millimetres; returns it in millimetres.
    ///
    /// # Errors
    /// Naming place and value.
    pub fn positive(&self, place: &str, value: f64, mm: f64) -> Result<f64> {
        let length = value * mm;
        if length.is_finite() && length > 0.0 && length <= LARGEST {
            Ok(length)
        } else {
            let advice = "give a length above 0, below 100 m";
            Err(self.fail(place, format!("the value is {value}"), advice))
        }
    }

    /// A length of 0 or more and within 100 m, in units of so many millimetres; returns it in millimetres.
    ///
    /// # Errors
    /// Naming place and value.
    pub fn not_negative(&self, place: &str, value: f64, mm: f64) -> Result<f64> {
        let length = value * mm;
        if length.is_finite() && (0.0..=LARGEST).contains(&length) {
            Ok(length)
        } else {
            let advice = "give 0 or more, below 100 m";
            Err(self.fail(place, format!("the value is {value}"), advice))
        }
    }

    /// An amount of money from 0 to a thousand million.
    ///
    /// # Errors
    /// Naming place and value.
    pub fn money(&self, place: &str, value: f64) -> Result<f64> {
        if value.is_finite() && (0.0..=1e9).contains(&value) {
            Ok(value)
        } else {
            Err(self.fail(
                place,
                format!("the amount is {value}"),
                "give an amount from 0 to 1000000000",
            ))
        }
    }

    /// A count of good faces.
    ///
    /// # Errors
    /// Naming place and value.
    pub fn faces(&self, place: &str, value: u8) -> Result<()> {
        if value <= 2 {
            Ok(())
        } else {
            Err(self.fail(
                place,
                format!("good_faces is {value}"),
                "a sheet has 0, 1 or 2 good faces",
            ))
        }
    }

    /// A quantity from 1 to a million.
    ///
    /// # Errors
    /// Naming place and value.
    pub fn quantity(&self, place: &str, value: u32) -> Result<u32> {
        match value {
            0 => Err(self.fail(
                place,
                "the quantity is 0",
                "give at least 1, or remove the line",
            )),
            // More would overflow nothing, but it is a slip, and it would fill the memory.
            1_000_001.. => Err(self.fail(
                place,
                format!("the quantity is {value}"),
                "at most a million is taken",
            )),
            value => Ok(value),
        }
    }

    /// A name that can be read on papers.
    ///
    /// # Errors
    /// It is empty, or cannot be printed.
    pub fn name(&self, place: &str, name: &str) -> Result<()> {
        if name.trim().is_empty() {
            return Err(self.fail(place, "the name is empty", "give it a name"));
        }
        if name.chars().any(char::is_control) {
            let what = format!("the name {name:?} has control characters in it");
            return Err(self.fail(place, what, "use plain text"));
        }
        Ok(())
    }

    /// The name of another file.
    ///
    /// # Errors
    /// It is empty.
    pub fn file_name(&self, place: &str, name: &str) -> Result<()> {
        if name.trim().is_empty() {
            return Err(self.fail(place, "it names no file", "give the name of the file"));
        }
        Ok(())
    }

    /// A day of the calendar.
    ///
    /// # Errors
    /// Naming place and value.
    pub fn day(&self, place: &str, value: &str) -> Result<()> {
        if is_day(value) {
            Ok(())
        } else {
            Err(self.fail(place, format!("{value:?} is no day"), DAY_FORM))
        }
    }

    /// Names that must differ.
    ///
    /// # Errors
    /// Naming the one that is there twice, or empty.
    pub fn unique<'n>(&self, what: &str, names: impl Iterator<Item = &'n str>) -> Result<()> {
        let mut seen = BTreeSet::new();
        for (i, name) in names.enumerate() {
            let place = format!("{what}[{i}]");
            self.name(&place, name)?;
            if !seen.insert(name) {
                return Err(self.fail(
                    place,
                    format!("'{name}' is there twice"),
                    "rename one of them",
                ));
            }
        }
        Ok(())
    }
}

/// Materials, machines and sheets of a shop file, checked and in millimetres.
pub type ShopParts = (Vec<Material>, Vec<Machine>, Vec<Sheet>);

/// Checks a shop file's values and converts its lengths to millimetres.
///
/// # Errors
/// The first bad value, with its place in `path`.
pub fn shop_parts(file: &ShopFile, path: &Path) -> Result<ShopParts> {
    let check = Checker { file: path };
    let mm = file.units.in_mm();
    check.unique("materials", file.materials.iter().map(|m| m.name.as_str()))?;
    check.unique("machines", file.machines.iter().map(|m| m.name.as_str()))?;
    check.unique("sheets", file.sheets.iter().map(|s| s.id.as_str()))?;
    let materials = file
        .materials
        .iter()
        .enumerate()
        .map(|(i, m)| material(&check, &format!("materials[{i}]"), m, mm))
        .collect::<Result<Vec<_>>>()?;
    let machines = file
        .machines
        .iter()
        .enumerate()
        .map(|(i, m)| machine(&check, &format!("machines[{i}]"), m, mm))
        .collect::<Result<Vec<_>>>()?;
    let names: Vec<&str> = materials.iter().map(|m| m.name.as_str()).collect();
    let sheets = file
        .sheets
        .iter()
        .enumerate()
        .map(|(i, s)| {
            let at = format!("sheets[{i}]");
            if !names.contains(&s.material.as_str()) {
                let what = format!("no material is called '{}'", s.material);
                return Err(check.fail(
                    format!("{at}.material"),
                    what,
                    suggestion(&s.material, &names),
                ));
            }
            check.money(&format!("{at}.price"), s.price)?;
            Ok(Sheet {
                length: check.positive(&format!("{at}.length"), s.length, mm)?,
                width: check.positive(&format!("{at}.width"), s.width, mm)?,
                ..s.clone()
            })
        })
        .collect::<Result<Vec<_>>>()?;
    for (i, room) in file.room.iter().enumerate() {
        check_room(&check, &format!("room[{i}]"), room, &names)?;
    }
    Ok((materials, machines, sheets))
}

fn check_room(check: &Checker, at: &str, room: &Room, materials: &[&str]) -> Result<()> {
    if let Some(name) = room.material.as_deref().filter(|m| !materials.contains(m)) {
        let what = format!("no material is called '{name}'");
        return Err(check.fail(format!("{at}.material"), what, suggestion(name, materials)));
    }
    if room
        .place
        .as_deref()
        .is_some_and(|place| place.trim().is_empty())
    {
        let advice = "name it, or leave 'place' out for the whole rack";
        return Err(check.fail(format!("{at}.place"), "the place has no name", advice));
    }
    if room.pieces.is_none() && room.area_m2.is_none() {
        let advice = "give 'pieces', 'area_m2' or both";
        return Err(check.fail(at, "it does not say how much there is room for", advice));
    }
    if let Some(area) = room.area_m2.filter(|a| !(a.is_finite() && *a >= 0.0)) {
        let what = format!("the area is {area}");
        return Err(check.fail(format!("{at}.area_m2"), what, "give square metres from 0"));
    }
    Ok(())
}

fn material(check: &Checker, at: &str, m: &Material, mm: f64) -> Result<Material> {
    check.faces(&format!("{at}.good_faces"), m.good_faces)?;
    check.money(&format!("{at}.disposal_per_m2"), m.disposal_per_m2)?;
    check.money(
        &format!("{at}.recycling_credit_per_m2"),
        m.recycling_credit_per_m2,
    )?;
    if !(m.kg_per_m2.is_finite() && m.kg_per_m2 > 0.0 && m.kg_per_m2 < 10_000.0) {
        let what = format!("the mass is {}", m.kg_per_m2);
        return Err(check.fail(
            format!("{at}.kg_per_m2"),
            what,
            "give kg per square metre, above 0 and below 10000",
        ));
    }
    if !(0.0..=1.0).contains(&m.keep.value_share) {
        let what = format!("the share is {}", m.keep.value_share);
        let advice = "give a share from 0 to 1: an offcut is never worth more than new material";
        return Err(check.fail(format!("{at}.keep.value_share"), what, advice));
    }
    Ok(Material {
        thickness: check.positive(&format!("{at}.thickness"), m.thickness, mm)?,
        keep: Keep {
            least_width: check.not_negative(
                &format!("{at}.keep.least_width"),
                m.keep.least_width,
                mm,
            )?,
            least_length: check.not_negative(
                &format!("{at}.keep.least_length"),
                m.keep.least_length,
                mm,
            )?,
            value_share: m.keep.value_share,
            handling: check.money(&format!("{at}.keep.handling"), m.keep.handling)?,
            edge: check.not_negative(&format!("{at}.keep.edge"), m.keep.edge, mm)?,
            cut_often: m
                .keep
                .cut_often
                .iter()
                .enumerate()
                .map(|(i, often)| cut_often(check, &format!("{at}.keep.cut_often[{i}]"), often, mm))
                .collect::<Result<_>>()?,
        },
        ..m.clone()
    })
}

fn cut_often(check: &Checker, at: &str, often: &CutOften, mm: f64) -> Result<CutOften> {
    if !(often.copies.is_finite() && often.copies > 0.0) {
        let what = format!("the number of copies is {}", often.copies);
        let advice = "give a number above 0, or leave 'copies' out";
        return Err(check.fail(format!("{at}.copies"), what, advice));
    }
    Ok(CutOften {
        length: check.positive(&format!("{at}.length"), often.length, mm)?,
        width: check.positive(&format!("{at}.width"), often.width, mm)?,
        ..often.clone()
    })
}

fn machine(check: &Checker, at: &str, m: &Machine, mm: f64) -> Result<Machine> {
    let kerf = check.not_negative(&format!("{at}.kerf"), m.kerf, mm)?;
    let optional = |key: &str, value: Option<f64>| {
        value
            .map(|v| check.positive(&format!("{at}.{key}"), v, mm))
            .transpose()
    };
    let gap = optional("gap", m.gap)?;
    if let Some(gap) = gap
        && gap < kerf
    {
        let what = format!("the gap of {gap} mm is below the kerf of {kerf} mm");
        let advice = "the tool would cut into the neighbour; give at least the kerf";
        return Err(check.fail(format!("{at}.gap"), what, advice));
    }
    let bed = match m.bed {
        Some([l, w]) => Some([
            check.positive(&format!("{at}.bed[0]"), l, mm)?,
            check.positive(&format!("{at}.bed[1]"), w, mm)?,
        ]),
        None => None,
    };
    let trim = |key: &str, value: f64| {
        let place = format!("{at}.trim.{key}");
        let value = check.not_negative(&place, value, mm)?;
        if value > 0.0 && value < kerf {
            let what = format!("the trim of {value} mm is below the blade's kerf of {kerf} mm");
            return Err(check.fail(place, what, "give 0, or at least the kerf"));
        }
        Ok(value)
    };
    let stray = match m.process {
        Process::Saw if m.bed.is_some() => Some("bed"),
        Process::Saw if m.gap.is_some() => Some("gap"),
        Process::Saw if !m.keep_clear.is_empty() => Some("keep_clear"),
        Process::Saw => None,
        Process::Router | Process::Laser => [
            ("stages", m.stages.is_some()),
            ("trim", m.trim != TrimCuts::default()),
            ("first_cut", m.first_cut != FirstCutWord::default()),
            ("longest_rip", m.longest_rip.is_some()),
            ("longest_crosscut", m.longest_crosscut.is_some()),
            ("least_strip", m.least_strip != 0.0),
            ("stack_height", m.stack_height.is_some()),
        ]
        .into_iter()
        .find_map(|(key, is_set)| is_set.then_some(key)),
    };
    if let Some(key) = stray {
        let what = format!("'{key}' means nothing for this process");
        return Err(check.fail(format!("{at}.{key}"), what, "remove it"));
    }
    if m.stages == Some(0) {
        return Err(check.fail(
            format!("{at}.stages"),
            "the saw has 0 stages",
            "give at least 1",
        ));
    }
    if m.process == Process::Saw && m.remnant_margin.is_some() {
        return Err(check.fail(
            format!("{at}.remnant_margin"),
            "a saw has none",
            "leave it out: the margin of a saw is from the edge of a remnant anyway",
        ));
    }
    let margin = check.not_negative(&format!("{at}.margin"), m.margin, mm)?;
    let remnant_margin = (m.remnant_margin)
        .map(|v| check.not_negative(&format!("{at}.remnant_margin"), v, mm))
        .transpose()?;
    // What is kept from a clamp is the margin, on remnants too, and the tool runs on the side of the part that the
    // clamp is on.
    if !m.keep_clear.is_empty() && margin < kerf {
        let what = format!(
            "the margin of {margin} mm, which parts keep from the areas of 'keep_clear', is \
             below the kerf of {kerf} mm"
        );
        let advice = "the tool would run into what is there; give at least the kerf";
        return Err(check.fail(format!("{at}.margin"), what, advice));
    }
    Ok(Machine {
        kerf,
        gap,
        bed,
        remnant_margin,
        margin,
        trim: TrimCuts {
            left: trim("left", m.trim.left)?,
            right: trim("right", m.trim.right)?,
            bottom: trim("bottom", m.trim.bottom)?,
            top: trim("top", m.trim.top)?,
        },
        longest_rip: optional("longest_rip", m.longest_rip)?,
        longest_crosscut: optional("longest_crosscut", m.longest_crosscut)?,
        least_strip: check.not_negative(&format!("{at}.least_strip"), m.least_strip, mm)?,
        stack_height: optional("stack_height", m.stack_height)?,
        keep_clear: m
            .keep_clear
            .iter()
            .enumerate()
            .map(|(i, area)| keep_clear(check, &format!("{at}.keep_clear[{i}]"), area, bed, mm))
            .collect::<Result<Vec<_>>>()?,
        cutting: match &m.cutting {
            Some(s) => Some(super::cutting::checked(
                check,
                &format!("{at}.cutting"),
                s,
                m.process,
                mm,
            )?),
            None => None,
        },
        ..m.clone()
    })
}

/// An area to keep clear on a bed, in millimetres.
fn keep_clear(
    check: &Checker,
    at: &str,
    area: &KeepClear,
    bed: Option<[f64; 2]>,
    mm: f64,
) -> Result<KeepClear> {
    if area.why.trim().is_empty() || area.why.chars().any(char::is_control) {
        let what = format!("the text is {:?}", area.why);
        let advice = "say in plain text what is there, such as \"clamp\"";
        return Err(check.fail(format!("{at}.why"), what, advice));
    }
    let place = |key: String, value: f64| {
        if value.is_finite() && value.abs() <= LARGEST {
            Ok(value)
        } else {
            let advice = "give a place within 100 m";
            Err(check.fail(
                format!("{at}.{key}"),
                format!("the value is {value}"),
                advice,
            ))
        }
    };
    let pair = |key: &str, [x, y]: [f64; 2]| -> Result<[f64; 2]> {
        Ok([
            place(format!("{key}[0]"), x * mm)?,
            place(format!("{key}[1]"), y * mm)?,
        ])
    };
    let scaled = match (area.at, area.length, area.width, &area.outline) {
        (Some(corner), Some(length), Some(width), None) => KeepClear {
            at: Some(pair("at", corner)?),
            length: Some(check.positive(&format!("{at}.length"), length, mm)?),
            width: Some(check.positive(&format!("{at}.width"), width, mm)?),
            ..area.clone()
        },
        (None, None, None, Some(outline)) => KeepClear {
            outline: Some(
                outline
                    .iter()
                    .enumerate()
                    .map(|(i, corner)| pair(&format!("outline[{i}]"), *corner))
                    .collect::<Result<Vec<_>>>()?,
            ),
            ..area.clone()
        },
        _ => {
            let what = format!(
                "'{}' needs 'at', 'length' and 'width', or an 'outline'",
                area.why
            );
            return Err(check.fail(at, what, "give one of the two"));
        }
    };
    let corners = scaled.corners();
    validate(&Outline::polygon(corners.iter().copied())).map_err(|e| {
        let what = format!("'{}': {e}", area.why);
        let advice = "give at least three corners, in order round the area";
        check.fail(format!("{at}.outline"), what, advice)
    })?;
    if let (Some([length, width]), Some(bounds)) = (bed, Bounds::of_points(corners)) {
        let outside = bounds.max.x <= 0.0
            || bounds.max.y <= 0.0
            || bounds.min.x >= length
            || bounds.min.y >= width;
        if outside {
            let what = format!(
                "'{}' from {}, {} to {}, {} lies beside the bed of {length} x {width} mm",
                area.why, bounds.min.x, bounds.min.y, bounds.max.x, bounds.max.y
            );
            let advice = "measure from the bed's lower left corner";
            return Err(check.fail(at, what, advice));
        }
    }
    Ok(scaled)
}

//! What a booking did.

use super::spoil::ToCutAgain;
use crate::area::m2;
use serde::Serialize;
use std::fmt::{self, Write as _};

/// A nest that was booked.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Booking {
    /// Its id, such as `B-0004`.
    pub id: String,
    /// SHA-256 of the nest file.
    pub digest: String,
    /// Name of the order or a note.
    pub name: Option<String>,
    /// When, RFC 3339.
    pub booked: String,
    /// Numbers of the nest's sheets that were cut.
    pub numbers: Vec<usize>,
    /// Sheets taken, by id.
    pub sheets: Vec<SheetsTaken>,
    /// Sheets that are not of the lot that the nest names, as none of that was left.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub other_lots: Vec<OtherLot>,
    /// Remnants used up, in the order of the nest.
    pub remnants: Vec<String>,
    /// Offcuts that are remnants now, in the order of the nest.
    pub offcuts: Vec<OffcutEntered>,
    /// What became of the material.
    pub areas: Areas,
    /// Parts of a spoiled sheet that have to be cut again.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub again: Vec<ToCutAgain>,
}

/// Sheets of one size taken by a booking.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct SheetsTaken {
    /// Id of the sheet.
    pub sheet: String,
    /// How many were taken.
    pub count: u32,
    /// How many are left; `None` when they are not counted.
    pub left: Option<u32>,
}

/// A sheet of another lot than the nest and its papers name.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct OtherLot {
    /// Number of the nest's sheet.
    pub number: usize,
    /// Id of the sheet size.
    pub sheet: String,
    /// The lot that the nest names.
    pub asked: String,
    /// The lot that it was taken of; `None` where that has no name.
    pub taken: Option<String>,
}

/// An offcut that became a remnant.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OffcutEntered {
    /// Its id in the nest, such as `3A`.
    pub offcut: String,
    /// Its id on the rack, such as `R-0013`: write it on the piece.
    pub remnant: String,
    /// Material by name.
    pub material: String,
    /// Size of its bounding rectangle along x, millimetres.
    pub length: f64,
    /// Size along y.
    pub width: f64,
    /// Area less voids, square millimetres.
    pub area: f64,
    /// Where it stands.
    pub place: String,
}

/// What became of the material taken, in square millimetres: taken = parts + kept + rest.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Areas {
    /// Sheets and remnants taken, voids not counted.
    pub taken: f64,
    /// Parts, holes not counted.
    pub parts: f64,
    /// Offcuts that became remnants.
    pub kept: f64,
    /// Scrap and kerf.
    pub rest: f64,
    /// Of the rest, what the tools removed: length of the cuts times their width, at the most.
    pub kerf: f64,
}

impl fmt::Display for OtherLot {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { number, asked, .. } = self;
        write!(f, "sheet {number} was to be of lot {asked}, and is of ")?;
        match &self.taken {
            Some(lot) => write!(f, "lot {lot}")?,
            None => f.write_str("no lot that has a name")?,
        }
        write!(f, ": of {asked} none is left")
    }
}

impl Booking {
    /// For people: what left the stock and what to write on which piece.
    #[must_use]
    pub fn text(&self) -> String {
        let mut text = format!("Booked as {}", self.id);
        if let Some(name) = &self.name {
            let _ = write!(text, ", {name}");
        }
        text.push('\n');
        for taken in &self.sheets {
            let left = taken
                .left
                .map_or_else(String::new, |left| format!(", {left} left"));
            let _ = writeln!(text, "  took {} x sheet {}{left}", taken.count, taken.sheet);
        }
        for other in &self.other_lots {
            let _ = writeln!(text, "  {other}");
        }
        for remnant in &self.remnants {
            let _ = writeln!(text, "  took remnant {remnant}");
        }
        for offcut in &self.offcuts {
            let _ = writeln!(
                text,
                "  offcut {} is remnant {}: {}, {:.0} x {:.0} mm, {}",
                offcut.offcut,
                offcut.remnant,
                offcut.material,
                offcut.length,
                offcut.width,
                offcut.place
            );
        }
        let _ = writeln!(
            text,
            "  {:.3} m2 taken = {:.3} parts + {:.3} kept + {:.3} kerf + {:.3} scrap",
            m2(self.areas.taken),
            m2(self.areas.parts),
            m2(self.areas.kept),
            m2(self.areas.kerf),
            m2(self.areas.rest - self.areas.kerf)
        );
        for part in &self.again {
            let ToCutAgain {
                kit,
                part,
                quantity,
            } = part;
            let _ = writeln!(text, "  to be cut again: {quantity} x {part} of {kit}");
        }
        if !self.offcuts.is_empty() {
            text.push_str("Write its number on each piece.\n");
        }
        text
    }
}

//! A sheet that went wrong half-way: the good parts are kept, what is missing is cut again, and of the
//! rest whatever the keep rule keeps goes to the rack.

use super::shape;
use super::value::keep_rule;
use crate::job::Shop;
use crate::nest_file::{NestFile, PlacementRecord, Ring, SheetRecord};
use crate::remnant::Remnant;
use crate::{Failure, Result};
use panelwright_geometry::{self as geometry, Bounds, Outline, Placement, Point, Polygon};
use panelwright_nesting::{
    BreakDown, Layout, Part, PlacedPart, Problem, SawCut, Stock, find_offcuts,
};
use serde::Serialize;
use std::collections::BTreeMap;

/// What happened to one sheet of a nest.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Spoil {
    /// Number of the sheet in the nest.
    pub sheet: usize,
    /// Copies that came out good: `part`, `part:copy`, `kit/part` or `kit/part:copy`; without a copy
    /// all of that part on the sheet.
    pub good: Vec<String>,
    /// Copies that were not cut at all, named likewise: their material is sound. Everything else was
    /// cut and is scrap.
    pub uncut: Vec<String>,
    /// Areas that cannot be used any more, in the sheet's coordinates.
    pub damage: Vec<Ring>,
}

/// Copies that are to be cut again.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize)]
pub struct ToCutAgain {
    /// The kit's name.
    pub kit: String,
    /// The part's name.
    pub part: String,
    /// How many.
    pub quantity: u32,
}

/// What became of a copy.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Fate {
    Good,
    Spoiled,
    Uncut,
}

/// The fate of each copy on a sheet.
///
/// # Errors
/// A name that no copy on the sheet has, or one that is both good and uncut; with those that are there.
pub(super) fn fates(record: &SheetRecord, spoil: &Spoil) -> Result<Vec<Fate>> {
    let mut fates = vec![Fate::Spoiled; record.placements.len()];
    for (names, fate) in [(&spoil.good, Fate::Good), (&spoil.uncut, Fate::Uncut)] {
        for name in names {
            let mut found = false;
            for (placement, is) in record.placements.iter().zip(&mut fates) {
                if !is_named(placement, name) {
                    continue;
                }
                found = true;
                if *is != Fate::Spoiled && *is != fate {
                    return Err(Failure::new(
                        format!("nest sheet {}: {name}", record.number),
                        "it is named both as good and as not cut",
                        "name each copy once, such as side:2",
                    ));
                }
                *is = fate;
            }
            if !found {
                return Err(Failure::new(
                    format!("nest sheet {}", record.number),
                    format!("no part on it is called {name:?}"),
                    format!("there are {}", names_on(record)),
                ));
            }
        }
    }
    Ok(fates)
}

fn is_named(placement: &PlacementRecord, name: &str) -> bool {
    let PlacementRecord {
        kit, part, copy, ..
    } = placement;
    // Tried whole as well, so that a name may have any letter in it.
    [part.clone(), format!("{kit}/{part}")]
        .iter()
        .any(|known| *known == name || format!("{known}:{copy}") == name)
}

fn names_on(record: &SheetRecord) -> String {
    const MOST: usize = 12;
    let mut names: Vec<String> = record
        .placements
        .iter()
        .map(|p| format!("{}:{}", p.part, p.copy))
        .collect();
    let more = names.len().saturating_sub(MOST);
    names.truncate(MOST);
    let list = names.join(", ");
    match more {
        0 => list,
        more => format!("{list} and {more} more"),
    }
}

/// What has to be cut again, by kit and part.
///
/// # Errors
/// The nest has no such sheet, or a name is wrong.
pub fn to_cut_again(nest: &NestFile, spoil: &Spoil) -> Result<Vec<ToCutAgain>> {
    let record = sheet(nest, spoil.sheet)?;
    let mut counts: BTreeMap<(&str, &str), u32> = BTreeMap::new();
    for (placement, fate) in record.placements.iter().zip(fates(record, spoil)?) {
        if fate != Fate::Good {
            *counts.entry((&placement.kit, &placement.part)).or_default() += 1;
        }
    }
    let again = |((kit, part), quantity): ((&str, &str), u32)| ToCutAgain {
        kit: kit.to_owned(),
        part: part.to_owned(),
        quantity,
    };
    Ok(counts.into_iter().map(again).collect())
}

/// The sheet of this number.
pub(super) fn sheet(nest: &NestFile, number: usize) -> Result<&SheetRecord> {
    nest.sheets
        .iter()
        .find(|s| s.number == number)
        .ok_or_else(|| {
            let numbers: Vec<usize> = nest.sheets.iter().map(|s| s.number).collect();
            let advice = match (numbers.iter().min(), numbers.iter().max()) {
                (Some(a), Some(b)) => format!("its sheets are {a} to {b}"),
                _ => "it has none".to_owned(),
            };
            Failure::new("nest", format!("it has no sheet {number}"), advice)
        })
}

/// The saw cuts that were made: all that make blanks for another machine, since that comes after; of those that free parts
/// all but the ones through pieces with nothing but uncut copies on them.
fn cuts_made(record: &SheetRecord, fates: &[Fate]) -> Vec<SawCut> {
    let point = |[x, y]: [f64; 2]| Point::new(x, y);
    let bounds = |ring: &Ring| Bounds::of_points(shape::points(ring));
    let mut pieces: Vec<Bounds> = bounds(&record.outline).into_iter().collect();
    let copies: Vec<(Point, Fate)> = record
        .placements
        .iter()
        .zip(fates)
        .filter_map(|(p, fate)| Some((bounds(&p.outline)?.center(), *fate)))
        .collect();
    let mut made = Vec::new();
    for cut in &record.saw_cuts {
        let (from, to) = (point(cut.from), point(cut.to));
        let middle = from.midpoint(to);
        // Bounds touch where a point lies in them.
        let holds = |piece: &Bounds, p: Point| piece.touches(&Bounds::new(p, p));
        let cut_made = SawCut {
            from,
            to,
            kerf: cut.kerf,
            stage: cut.stage,
        };
        if record.method != "guillotine" {
            made.push(cut_made);
            continue;
        }
        // A piece that was not made cannot have been cut.
        let Some(i) = pieces.iter().position(|piece| holds(piece, middle)) else {
            continue;
        };
        let piece = pieces.swap_remove(i);
        let mut on_it = copies.iter().filter(|(middle, _)| holds(&piece, *middle));
        let has_any = on_it.clone().next().is_some();
        if has_any && on_it.all(|(_, fate)| *fate == Fate::Uncut) {
            continue;
        }
        let (mut first, mut second) = (piece, piece);
        if (from.x - to.x).abs() < (from.y - to.y).abs() {
            (first.max.x, second.min.x) = (middle.x, middle.x);
        } else {
            (first.max.y, second.min.y) = (middle.y, middle.y);
        }
        pieces.extend([first, second]);
        made.push(cut_made);
    }
    made
}

/// What the rack keeps of a spoiled sheet: pieces beside the copies that were cut and the damage, by
/// the keep rule. `stock` is the piece it was cut from.
pub(super) fn pieces(
    record: &SheetRecord,
    spoil: &Spoil,
    fates: &[Fate],
    stock: &Remnant,
    shop: &Shop,
) -> Result<Vec<Polygon>> {
    let place = format!("nest sheet {}", record.number);
    let wrong =
        |what: String| Failure::new(&place, what, "give corners in the sheet's coordinates");
    let mut clear = stock.flaws.clone();
    for (i, ring) in spoil.damage.iter().enumerate() {
        let ring = shape::points(ring);
        shape::check_ring(&ring).map_err(|what| wrong(format!("damage {} {what}", i + 1)))?;
        let area = Polygon::new(ring.clone(), Vec::new());
        if shape::depth_common(&area, &stock.outline) <= shape::SLIVER {
            return Err(wrong(format!("damage {} lies beside the sheet", i + 1)));
        }
        clear.push(ring);
    }
    let Some(material) = shop.materials.iter().find(|m| m.name == record.material) else {
        return Err(wrong(format!(
            "the shop does not know {:?}",
            record.material
        )));
    };
    let cut: Vec<&PlacementRecord> = record
        .placements
        .iter()
        .zip(fates)
        .filter(|(_, fate)| **fate != Fate::Uncut)
        .map(|(placement, _)| placement)
        .collect();
    let ring = |ring: &Ring| geometry::Ring::polygon(shape::points(ring));
    let parts: Vec<Part> = cut
        .iter()
        .map(|p| {
            let holes = p.holes.iter().map(ring).collect();
            Part::new(
                p.part.clone(),
                Outline::from_rings(ring(&p.outline), holes),
                1,
            )
        })
        .collect();
    let problem = Problem {
        gap: record.gap.max(record.kerf),
        margin: record.margin,
        kerf: record.kerf,
        ..Problem::new(
            parts,
            vec![Stock {
                keep_clear: clear,
                keep: keep_rule(shop, material),
                // No blanks: nothing is to be placed, and left-overs end at the cuts alone.
                break_down: Some(BreakDown {
                    cuts: cuts_made(record, fates),
                    blanks: Vec::new(),
                }),
                ..Stock::remnant(&stock.id, stock.outline.clone(), f64::MAX, 0)
            }],
            vec![Some(1)],
        )
    };
    let layout = Layout {
        stock: 0,
        placed: (0..cut.len())
            .map(|part| PlacedPart {
                part,
                placement: Placement::identity(),
            })
            .collect(),
        saw_cuts: Vec::new(),
        offcuts: Vec::new(),
    };
    Ok(find_offcuts(&problem, &layout)
        .into_iter()
        .filter(|offcut| offcut.kept)
        .map(|offcut| offcut.outline)
        .collect())
}

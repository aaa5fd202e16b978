//! Whether a nest adds up before it is booked. What it says is compared with itself and the shop
//! here, with the rack in [`super::book`].

use super::shape::{self, SLIVER};
use crate::job::Shop;
use crate::nest_file::{FORMAT, NestFile, OffcutRecord, PlacementRecord, Ring, SheetRecord};
use crate::{Failure, Result};
use panelwright_geometry::tolerance::CHORD;
use panelwright_geometry::{Bounds, Polygon};
use panelwright_nesting::verify::ROUNDED_CUT;
use std::collections::BTreeSet;

/// By how much two statements of one area may differ: a thousandth and a square millimetre. More
/// is no rounding and no flattening.
const AREA_SHARE: f64 = 1e-3;

/// One sheet of a nest, its shapes checked.
pub(super) struct Claim<'a> {
    pub record: &'a SheetRecord,
    /// Outline of the stock as nested, without voids.
    pub outline: Polygon,
    /// Area of the outline less all voids and flaws that the nest names, at the least.
    pub least_stock: f64,
    /// Area of each part as it is placed, holes not counted.
    pub parts: Vec<f64>,
    /// Area that the tools remove, at the most: cuts that meet count twice.
    pub kerf: f64,
    /// Offcuts to be kept.
    pub kept: Vec<(&'a OffcutRecord, Polygon)>,
}

const ADVICE: &str = "book the nest.json as `nest` wrote it, or nest again";

fn wrong(place: impl Into<String>, what: impl Into<String>) -> Failure {
    Failure::new(place, what, ADVICE)
}

/// Whether two statements of an area agree.
pub(super) fn same_area(a: f64, b: f64) -> bool {
    (a - b).abs() <= AREA_SHARE * a.abs().max(b.abs()) + 1.0
}

/// Checks everything that needs no rack.
///
/// # Errors
/// The first thing that does not add up, with the sheet, part or offcut.
pub(super) fn check<'a>(nest: &'a NestFile, shop: &Shop) -> Result<Vec<Claim<'a>>> {
    check_form(nest)?;
    let mut seen = Seen::default();
    let mut claims = Vec::new();
    for sheet in &nest.sheets {
        let place = format!("nest sheet {}", sheet.number);
        seen.add(sheet, &place)?;
        claims.push(check_sheet(sheet, shop, &place)?);
    }
    check_totals(nest, &claims)?;
    Ok(claims)
}

/// Whether it is a nest that something was cut by, with totals that are numbers.
fn check_form(nest: &NestFile) -> Result<()> {
    if nest.format != FORMAT {
        return Err(wrong(
            "nest",
            format!("format is {:?}, not {FORMAT:?}", nest.format),
        ));
    }
    if nest.units != "mm" {
        return Err(wrong(
            "nest",
            format!("units are {:?}, not \"mm\"", nest.units),
        ));
    }
    if nest.sheets.is_empty() {
        return Err(Failure::new(
            "nest",
            "it has no sheets, so nothing was cut",
            "there is nothing to book",
        ));
    }
    let totals = &nest.totals;
    for (name, value) in [
        ("part_area", totals.part_area),
        ("taken_area", totals.taken_area),
        ("kept_area", totals.kept_area),
        ("yield", totals.yield_),
        ("net_yield", totals.net_yield),
        ("spend", totals.spend),
        ("least_spend", totals.least_spend),
    ] {
        finite("nest: totals", name, value)?;
    }
    Ok(())
}

/// What a nest may have once only.
#[derive(Default)]
struct Seen<'a> {
    sheets: BTreeSet<usize>,
    remnants: BTreeSet<String>,
    /// Kit, part and number.
    copies: BTreeSet<(&'a str, &'a str, u32)>,
    offcuts: BTreeSet<&'a str>,
}

impl<'a> Seen<'a> {
    /// Adds what is on a sheet, or refuses what was there before.
    fn add(&mut self, sheet: &'a SheetRecord, place: &str) -> Result<()> {
        if sheet.number == 0 || u32::try_from(sheet.number).is_err() {
            return Err(wrong(place, "sheets are counted from 1"));
        }
        if !self.sheets.insert(sheet.number) {
            return Err(wrong(place, "there are two sheets of this number"));
        }
        let source = &sheet.source;
        if source.kind == "remnant" && !self.remnants.insert(source.id.to_ascii_uppercase()) {
            let what = format!("remnant {} is taken a second time", source.id);
            return Err(wrong(place, what));
        }
        for part in &sheet.placements {
            if part.copy == 0 || !self.copies.insert((&part.kit, &part.part, part.copy)) {
                let what = match part.copy {
                    0 => "copies are counted from 1",
                    _ => "this copy is there a second time",
                };
                return Err(wrong(part_place(place, part), what));
            }
        }
        for offcut in &sheet.offcuts {
            if !self.offcuts.insert(&offcut.id) {
                return Err(wrong(place, format!("there are two offcuts {}", offcut.id)));
            }
        }
        Ok(())
    }
}

/// Whether parts and offcuts add up to what is stated.
fn check_totals(nest: &NestFile, claims: &[Claim]) -> Result<()> {
    let totals = &nest.totals;
    let parts: f64 = claims.iter().flat_map(|c| &c.parts).sum();
    let kept: f64 = claims
        .iter()
        .flat_map(|c| &c.kept)
        .map(|(_, polygon)| polygon.area())
        .sum();
    // A flattened part shows a little more than it is: the chord error along its whole edge.
    let extra: f64 = nest
        .sheets
        .iter()
        .flat_map(|s| &s.placements)
        .flat_map(|p| std::iter::once(&p.outline).chain(&p.holes))
        .map(|ring| CHORD * length(ring))
        .sum();
    if !same_area(parts, totals.part_area) && (parts - totals.part_area).abs() > extra + 1.0 {
        return Err(wrong(
            "nest: totals: part_area",
            format!(
                "{:.0} mm2 is stated, the parts add up to {parts:.0}",
                totals.part_area
            ),
        ));
    }
    if !same_area(kept, totals.kept_area) {
        return Err(wrong(
            "nest: totals: kept_area",
            format!(
                "{:.0} mm2 is stated, the offcuts add up to {kept:.0}",
                totals.kept_area
            ),
        ));
    }
    Ok(())
}

fn length(ring: &Ring) -> f64 {
    let n = ring.len();
    (0..n)
        .map(|i| {
            let (a, b) = (ring[i], ring[(i + 1) % n]);
            (b[0] - a[0]).hypot(b[1] - a[1])
        })
        .sum()
}

fn finite(place: &str, name: &str, value: f64) -> Result<()> {
    if value.is_finite() {
        return Ok(());
    }
    Err(wrong(
        format!("{place}: {name}"),
        format!("{value} is no number"),
    ))
}

fn check_sheet<'a>(sheet: &'a SheetRecord, shop: &Shop, place: &str) -> Result<Claim<'a>> {
    check_numbers(sheet, place)?;
    check_stock(sheet, shop, place)?;
    let outline = polygon(&sheet.outline, &[], place)?;
    let parts = placed(sheet, &outline, place)?;
    let kept = kept(sheet, &outline, &parts, place)?;
    if let Some(what) = sheet.wrong_saw_cut() {
        return Err(wrong("nest", what));
    }
    check_freed(sheet, shop, &parts, place)?;
    Ok(Claim {
        record: sheet,
        least_stock: outline.area() - hollow(sheet, place)?,
        outline,
        parts: parts.iter().map(|(_, shape, _)| shape.area()).collect(),
        kerf: removed(sheet),
        kept,
    })
}

/// Whether everything that should be a number is one.
fn check_numbers(sheet: &SheetRecord, place: &str) -> Result<()> {
    for (name, value) in [
        ("margin", sheet.margin),
        ("gap", sheet.gap),
        ("kerf", sheet.kerf),
        ("yield", sheet.yield_),
        ("yield_ceiling", sheet.yield_ceiling),
    ] {
        finite(place, name, value)?;
    }
    if !(sheet.source.price.is_finite() && sheet.source.price >= 0.0) {
        let what = format!("{} is no price", sheet.source.price);
        return Err(wrong(format!("{place}: price"), what));
    }
    for cut in &sheet.saw_cuts {
        for value in cut.from.into_iter().chain(cut.to).chain([cut.kerf]) {
            finite(place, "saw_cuts", value)?;
        }
    }
    Ok(())
}

/// Whether it is of a material that the shop knows, and of a source that there is.
fn check_stock(sheet: &SheetRecord, shop: &Shop, place: &str) -> Result<()> {
    if !shop.materials.iter().any(|m| m.name == sheet.material) {
        let near = super::nearest(
            &sheet.material,
            shop.materials.iter().map(|m| m.name.as_str()),
        );
        return Err(Failure::new(
            place,
            format!("the shop does not know the material {:?}", sheet.material),
            near.map_or_else(
                || "book with the shop file that the nest was made for".to_owned(),
                |near| format!("did you mean {near:?}? Book with the shop file of the nest"),
            ),
        ));
    }
    if !matches!(sheet.source.kind.as_str(), "sheet" | "remnant") {
        return Err(wrong(
            place,
            format!(
                "its source is a {:?}, neither sheet nor remnant",
                sheet.source.kind
            ),
        ));
    }
    Ok(())
}

/// A part as it lies on its sheet, its shape and the bounds of that.
type Placed<'a> = (&'a PlacementRecord, Polygon, Bounds);

/// The parts of a sheet, within it and apart.
fn placed<'a>(sheet: &'a SheetRecord, outline: &Polygon, place: &str) -> Result<Vec<Placed<'a>>> {
    let mut parts: Vec<Placed> = Vec::new();
    for part in &sheet.placements {
        let place = part_place(place, part);
        for value in part.origin.into_iter().chain([part.angle]) {
            finite(&place, "placement", value)?;
        }
        let shape = part_polygon(part).map_err(|what| wrong(&place, what))?;
        let out = shape::depth_outside(&shape, outline);
        if out > SLIVER {
            return Err(wrong(place, "the part reaches out of the sheet"));
        }
        let bounds = shape.bounds();
        let mut near = parts.iter().filter(|(_, _, b)| bounds.touches(b));
        let over = |(_, other, _): &&(_, Polygon, _)| shape::depth_common(&shape, other) > SLIVER;
        if let Some((other, ..)) = near.find(over) {
            let what = format!("it lies over {} of {}", other.part, other.kit);
            return Err(wrong(place, format!("{what}, copy {}", other.copy)));
        }
        parts.push((part, shape, bounds));
    }
    Ok(parts)
}

/// The offcuts to be kept, each of its area, within the sheet, and apart from parts and from each other.
fn kept<'a>(
    sheet: &'a SheetRecord,
    outline: &Polygon,
    parts: &[Placed],
    place: &str,
) -> Result<Vec<(&'a OffcutRecord, Polygon)>> {
    let mut kept: Vec<(&OffcutRecord, Polygon)> = Vec::new();
    for offcut in sheet.offcuts.iter().filter(|o| o.kept) {
        let place = format!("{place}: offcut {}", offcut.id);
        finite(&place, "area", offcut.area)?;
        let shape = polygon(&offcut.outline, &offcut.voids, &place)?;
        if !same_area(shape.area(), offcut.area) {
            return Err(wrong(
                place,
                format!(
                    "an area of {:.0} mm2 is stated, its outline has {:.0}",
                    offcut.area,
                    shape.area()
                ),
            ));
        }
        if shape::depth_outside(&shape, outline) > SLIVER {
            return Err(wrong(place, "it reaches out of the sheet"));
        }
        if let Some((part, ..)) = parts
            .iter()
            .find(|(_, part, _)| shape::depth_common(&shape, part) > SLIVER)
        {
            return Err(wrong(
                place,
                format!(
                    "it lies over the part {} of {}, copy {}",
                    part.part, part.kit, part.copy
                ),
            ));
        }
        if let Some((other, _)) = kept
            .iter()
            .find(|(_, other)| shape::depth_common(&shape, other) > SLIVER)
        {
            return Err(wrong(
                place,
                format!("it lies over the offcut {}", other.id),
            ));
        }
        kept.push((offcut, shape));
    }
    Ok(kept)
}

/// Area of the voids and flaws that a sheet names.
fn hollow(sheet: &SheetRecord, place: &str) -> Result<f64> {
    let mut hollow = 0.0;
    for void in &sheet.voids {
        let ring = shape::points(void);
        if !shape::is_ring(&ring) {
            return Err(wrong(place, "one of its voids is none"));
        }
        hollow += Polygon::new(ring, Vec::new()).area();
    }
    Ok(hollow)
}

/// Checks that the saw cuts free what they are for: the parts of a sheet that is sawn, and elsewhere pieces that lie on
/// the machine.
fn check_freed(sheet: &SheetRecord, shop: &Shop, parts: &[Placed], place: &str) -> Result<()> {
    // A machine may have another name by now; then nobody knows its bed.
    let machine = shop.machines.iter().find(|m| m.name == sheet.machine);
    let bed = machine.and_then(|machine| machine.bed);
    let sawn = match sheet.method.as_str() {
        "guillotine" => true,
        "free-form" => false,
        other => {
            let what = format!("its method is {other:?}, neither guillotine nor free-form");
            return Err(wrong(place, what));
        }
    };
    if !sawn && bed.is_none() {
        return Ok(());
    }
    let pieces = sheet.pieces_sawn();
    for (part, _, bounds) in parts {
        let middle = Bounds::new(bounds.center(), bounds.center());
        let on_it = pieces.iter().find(|piece| piece.touches(&middle));
        let free = on_it.is_some_and(|piece| match (sawn, bed) {
            (true, _) => {
                // What is written of a part may be larger than it is by the chord error.
                piece.grown(ROUNDED_CUT).contains(bounds)
                    && bounds.grown(ROUNDED_CUT).contains(piece)
            }
            (false, Some([l, w])) => {
                let fits = |l: f64, w: f64| {
                    piece.width() <= l + ROUNDED_CUT && piece.height() <= w + ROUNDED_CUT
                };
                fits(l, w) || fits(w, l)
            }
            (false, None) => true,
        });
        if !free {
            let what = match sawn {
                true => "the saw cuts do not free it".to_owned(),
                false => format!(
                    "the piece it lies on is too large for the {}",
                    sheet.machine
                ),
            };
            return Err(wrong(part_place(place, part), what));
        }
    }
    Ok(())
}

/// Where a part is, for messages.
fn part_place(sheet: &str, part: &PlacementRecord) -> String {
    format!("{sheet}: {} of {}, copy {}", part.part, part.kit, part.copy)
}

/// What the tools remove: along every saw cut, and along every outline that is not sawn.
fn removed(sheet: &SheetRecord) -> f64 {
    let sawn: f64 = sheet
        .saw_cuts
        .iter()
        .map(|c| (c.to[0] - c.from[0]).hypot(c.to[1] - c.from[1]) * c.kerf)
        .sum();
    let rings = sheet
        .placements
        .iter()
        .flat_map(|p| std::iter::once(&p.outline).chain(&p.holes));
    let routed: f64 = match sheet.method.as_str() {
        "guillotine" => 0.0,
        _ => rings.map(|ring| length(ring) * sheet.kerf).sum(),
    };
    (sawn + routed).max(0.0)
}

/// The shape of a part. Whether its lines cross was for the judge to say, and takes long where
/// parts are many; here it only must not upset the sums.
fn part_polygon(part: &PlacementRecord) -> Result<Polygon, String> {
    let outer = shape::points(&part.outline);
    shape::check_numbers(&outer).map_err(|what| format!("the outline {what}"))?;
    let mut holes = Vec::new();
    for (i, ring) in part.holes.iter().enumerate() {
        let hole = shape::points(ring);
        shape::check_numbers(&hole).map_err(|what| format!("hole {} {what}", i + 1))?;
        holes.push(hole);
    }
    let polygon = Polygon::new(outer, holes);
    if polygon.area() <= 0.0 {
        return Err("the holes leave nothing of it".to_owned());
    }
    Ok(polygon)
}

fn polygon(outer: &Ring, holes: &[Ring], place: &str) -> Result<Polygon> {
    let raw = Polygon {
        outer: shape::points(outer),
        holes: holes.iter().map(|ring| shape::points(ring)).collect(),
    };
    shape::settled(raw).map_err(|what| wrong(place, what))
}

//! A `nest.json` read to be taken up again, in the order's own indices.
//!
//! Only what a person may edit counts: which part lies on which sheet, its `angle`, `origin` and
//! `pinned`. Outlines, areas and sums in the file are found anew.

use crate::input::{Process, json, suggestion};
use crate::job::Job;
use crate::nest_file::{FORMAT, NestFile, PlacementRecord, Ring, SheetRecord};
use crate::{Failure, Result};
use panelwright_geometry::{Placement, Point, Polygon, tolerance};
use panelwright_nesting::{Offcut, SawCut};
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

/// A nest to go on from.
#[derive(Debug, Clone)]
pub struct Given {
    /// The file, for messages.
    pub file: PathBuf,
    /// Its sheets, as far as the order and the shop know them.
    pub sheets: Vec<GivenSheet>,
    /// What of it is left aside, and why.
    pub notes: Vec<String>,
}

/// What a sheet of the file is cut from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum GivenSource {
    /// Index into the shop's sheets.
    Sheet(usize),
    /// Index into the shop's remnants.
    Remnant(usize),
}

/// A sheet of the file.
#[derive(Debug, Clone)]
pub struct GivenSheet {
    /// Its number in the file.
    pub number: usize,
    /// Index into the shop's materials.
    pub material: usize,
    /// Index into the shop's machines.
    pub machine: usize,
    /// What it is cut from.
    pub source: GivenSource,
    /// Its parts, pinned or not.
    pub parts: Vec<GivenPart>,
    /// Its saw cuts, in cutting order.
    pub saw_cuts: Vec<SawCut>,
    /// Its left-overs, without values.
    pub offcuts: Vec<Offcut>,
}

/// One copy of a part in the file.
#[derive(Debug, Clone)]
pub struct GivenPart {
    /// Index into the job's items.
    pub item: usize,
    /// Turn and place.
    pub placement: Placement,
    /// Whether it has to stay there.
    pub pinned: bool,
}

impl GivenSheet {
    /// Whether some part on it is pinned.
    #[must_use]
    pub fn has_pinned(&self) -> bool {
        self.parts.iter().any(|p| p.pinned)
    }
}

impl Given {
    /// Reads a nest to go on from. What the order no longer asks for and stock that is gone are noted;
    /// where something there is pinned, they are an error.
    ///
    /// # Errors
    /// The first thing wrong, with file, sheet, part, value and what to do.
    pub fn read(path: &Path, job: &Job) -> Result<Self> {
        let nest: NestFile = json(path, FORMAT)?;
        let mut reader = Reader {
            path,
            job,
            copies: BTreeSet::new(),
            notes: Vec::new(),
        };
        if nest.units != "mm" {
            let what = format!("the units are {:?}", nest.units);
            return Err(reader.fail("units", what, "a nest is written in \"mm\""));
        }
        let known = |p: &PlacementRecord| reader.item(p).is_some();
        let mut all = nest.sheets.iter().flat_map(|s| &s.placements).peekable();
        if all.peek().is_some() && !all.any(known) {
            let what = format!("none of its parts is in the order {}", job.order);
            return Err(reader.fail("", what, "name the nest.json of this order"));
        }
        let mut numbers = BTreeSet::new();
        let mut sheets = Vec::new();
        for (i, sheet) in nest.sheets.iter().enumerate() {
            if !numbers.insert(sheet.number) {
                let what = format!("there are two sheets of the number {}", sheet.number);
                let place = format!("sheets[{i}].number");
                return Err(reader.fail(&place, what, "give each a number of its own"));
            }
            sheets.extend(reader.sheet(i, sheet)?);
        }
        reader.pinned_stock(&sheets)?;
        Ok(Self {
            file: path.to_owned(),
            sheets,
            notes: reader.notes,
        })
    }
}

/// Ids of the remnants that a nest to go on from is cut from: they have to stay on offer while the order is read, see
/// [`ReadJobOptions::stay`](crate::read_job::ReadJobOptions::stay).
///
/// # Errors
/// The file cannot be read, or is no nest.
pub fn remnants_of(path: &Path) -> Result<BTreeSet<String>> {
    let nest: NestFile = json(path, FORMAT)?;
    let sources = nest.sheets.into_iter().map(|sheet| sheet.source);
    let remnants = sources.filter(|source| source.kind == "remnant");
    Ok(remnants.map(|source| source.id).collect())
}

struct Reader<'a> {
    path: &'a Path,
    job: &'a Job,
    /// Kit, part and copy seen.
    copies: BTreeSet<(&'a str, &'a str, u32)>,
    notes: Vec<String>,
}

impl<'a> Reader<'a> {
    fn fail(&self, place: &str, what: impl Into<String>, advice: impl Into<String>) -> Failure {
        Failure::in_file(self.path, place, what, advice)
    }

    fn item(&self, placed: &PlacementRecord) -> Option<usize> {
        let mut items = self.job.items.iter();
        items.position(|item| item.part == placed.part && item.kit == placed.kit)
    }

    /// A sheet of the file; `None` with a note when nothing of it can be taken up.
    fn sheet(&mut self, index: usize, sheet: &SheetRecord) -> Result<Option<GivenSheet>> {
        let at = format!("sheets[{index}]");
        let shop = &self.job.shop;
        for (key, value, known) in [
            ("method", &sheet.method, ["free-form", "guillotine"]),
            ("source.kind", &sheet.source.kind, ["sheet", "remnant"]),
        ] {
            if !known.contains(&value.as_str()) {
                let what = format!("this says {value:?}");
                return Err(self.fail(&format!("{at}.{key}"), what, suggestion(value, &known)));
            }
        }
        // Every place is looked at, also of what is left aside.
        let mut parts = Vec::new();
        for (i, placed) in sheet.placements.iter().enumerate() {
            let place = format!("{at}.placements[{i}]");
            parts.extend(self.part(&place, sheet, placed)?);
        }
        let saw_cuts = self.saw_cuts(&at, sheet)?;
        let offcuts = self.offcuts(&at, sheet)?;
        let (materials, machines): (Vec<&str>, Vec<&str>) = (
            shop.materials.iter().map(|m| m.name.as_str()).collect(),
            shop.machines.iter().map(|m| m.name.as_str()).collect(),
        );
        let found = |names: &[&str], name: &str| names.iter().position(|n| *n == name);
        let id = sheet.source.id.as_str();
        let (source, ids): (_, Vec<&str>) = if sheet.source.kind == "sheet" {
            let ids: Vec<&str> = shop.sheets.iter().map(|s| s.id.as_str()).collect();
            (found(&ids, id).map(GivenSource::Sheet), ids)
        } else {
            let ids: Vec<&str> = shop.remnants.iter().map(|r| r.id.as_str()).collect();
            (found(&ids, id).map(GivenSource::Remnant), ids)
        };
        let material = found(&materials, &sheet.material);
        let machine = found(&machines, &sheet.machine);
        let unknown = match (material, machine, source) {
            (Some(material), Some(machine), Some(source)) => {
                let of = match source {
                    GivenSource::Sheet(i) => &shop.sheets[i].material,
                    GivenSource::Remnant(i) => &shop.remnants[i].material,
                };
                if *of == sheet.material {
                    return Ok(Some(GivenSheet {
                        number: sheet.number,
                        material,
                        machine,
                        source,
                        parts,
                        saw_cuts,
                        offcuts,
                    }));
                }
                let what = format!("'{id}' is of {of}, not of {}", sheet.material);
                (
                    "source.id",
                    what,
                    "name stock of the sheet's material".to_owned(),
                )
            }
            (None, ..) => {
                let what = format!("no material is called '{}'", sheet.material);
                ("material", what, suggestion(&sheet.material, &materials))
            }
            (_, None, _) => {
                let what = format!("no machine is called '{}'", sheet.machine);
                ("machine", what, suggestion(&sheet.machine, &machines))
            }
            _ if sheet.source.kind == "remnant" && shop.held.iter().any(|r| r.id == id) => {
                let what = format!("remnant {id} is held for another order");
                let advice = "end the hold (rack release), or nest without --from";
                ("source.id", what, advice.to_owned())
            }
            _ if sheet.source.kind == "remnant" && shop.aside.iter().any(|r| r.id == id) => {
                let what = format!("remnant {id} was left aside when the order was read");
                let advice = "have the remnants of the nest stay on offer";
                ("source.id", what, advice.to_owned())
            }
            _ => {
                let what = format!("there is no {} '{id}' any more", sheet.source.kind);
                ("source.id", what, suggestion(id, &ids))
            }
        };
        let (key, what, advice) = unknown;
        if parts.iter().any(|p| p.pinned) {
            let what = format!("{what}, and parts are pinned on sheet {}", sheet.number);
            return Err(self.fail(&format!("{at}.{key}"), what, advice));
        }
        self.notes.push(format!(
            "sheet {} of the nest taken up is nested anew: {what}",
            sheet.number
        ));
        Ok(None)
    }

    /// A part of a sheet; `None` with a note when the order does not ask for it there.
    fn part(
        &mut self,
        place: &str,
        sheet: &SheetRecord,
        placed: &PlacementRecord,
    ) -> Result<Option<GivenPart>> {
        let at = format!("{place} '{}' copy {}", placed.part, placed.copy);
        let Some(item) = self.item(placed) else {
            let what = format!(
                "the order {} asks for no part '{}' of the kit '{}'",
                self.job.order, placed.part, placed.kit
            );
            if placed.pinned {
                let items = || self.job.items.iter();
                let of_kit = items().filter(|i| i.kit == placed.kit);
                let mut names: Vec<&str> = of_kit.map(|i| i.part.as_str()).collect();
                let mut wrong = &placed.part;
                if names.is_empty() {
                    wrong = &placed.kit;
                    names = items().map(|i| i.kit.as_str()).collect();
                    names.dedup();
                }
                let what = format!("{what}, and it is pinned");
                return Err(self.fail(&at, what, suggestion(wrong, &names)));
            }
            self.note_part(sheet, &what);
            return Ok(None);
        };
        let wanted = &self.job.items[item];
        if placed.copy == 0 {
            return Err(self.fail(
                &at,
                "copies are counted from 1",
                "give it a number of its own",
            ));
        }
        if !self.copies.insert((&wanted.kit, &wanted.part, placed.copy)) {
            let advice = "each copy lies in one place; remove one, or number it anew";
            return Err(self.fail(&at, "this copy is placed twice", advice));
        }
        for (key, value) in [
            ("angle", placed.angle),
            ("origin[0]", placed.origin[0]),
            ("origin[1]", placed.origin[1]),
        ] {
            if !value.is_finite() || value.abs() > tolerance::LARGEST {
                let what = format!("the {key} is {value}");
                return Err(self.fail(&at, what, "give degrees and millimetres, within 100 m"));
            }
        }
        if placed.copy > wanted.quantity {
            let what = format!(
                "copy {} of '{}' is placed, and the order asks for {}",
                placed.copy, placed.part, wanted.quantity
            );
            if placed.pinned {
                let advice = "order more, number it anew, or remove \"pinned\"";
                return Err(self.fail(&at, what, advice));
            }
            self.note_part(sheet, &what);
            return Ok(None);
        }
        let (material, machine) = (self.job.material_of(wanted), self.job.machine_of(wanted));
        if material.name != sheet.material || machine.name != sheet.machine {
            let what = format!(
                "'{}' is to be cut from {} on the {}, not from {} on the {}",
                placed.part, material.name, machine.name, sheet.material, sheet.machine
            );
            if placed.pinned {
                return Err(self.fail(
                    &at,
                    what,
                    "pin it on a sheet of its own material and machine",
                ));
            }
            self.note_part(sheet, &what);
            return Ok(None);
        }
        if placed.pinned && machine.process == Process::Saw {
            let what = "it is sawn, and every saw cut runs from edge to edge";
            let advice = "remove \"pinned\": parts on the router and the laser can be pinned";
            return Err(self.fail(&at, what, advice));
        }
        Ok(Some(GivenPart {
            item,
            placement: Placement::new(placed.angle, Point::new(placed.origin[0], placed.origin[1])),
            pinned: placed.pinned,
        }))
    }

    fn note_part(&mut self, sheet: &SheetRecord, what: &str) {
        let note = format!("sheet {} of the nest taken up: {what}", sheet.number);
        if !self.notes.contains(&note) {
            self.notes.push(note);
        }
    }

    fn saw_cuts(&self, at: &str, sheet: &SheetRecord) -> Result<Vec<SawCut>> {
        let cuts = sheet.saw_cuts.iter().enumerate();
        cuts.map(|(i, cut)| {
            let [from, to] = [cut.from, cut.to].map(|[x, y]| Point::new(x, y));
            let sound = from.is_finite() && to.is_finite() && cut.kerf.is_finite();
            if !sound || cut.kerf < 0.0 {
                let what = "a number of this saw cut is out of range";
                let place = format!("{at}.saw_cuts[{i}]");
                return Err(self.fail(&place, what, "leave saw cuts as they were written"));
            }
            Ok(SawCut {
                from,
                to,
                kerf: cut.kerf,
                stage: cut.stage,
            })
        })
        .collect()
    }

    fn offcuts(&self, at: &str, sheet: &SheetRecord) -> Result<Vec<Offcut>> {
        let points =
            |ring: &Ring| -> Vec<Point> { ring.iter().map(|[x, y]| Point::new(*x, *y)).collect() };
        let offcuts = sheet.offcuts.iter().enumerate();
        offcuts
            .map(|(i, offcut)| {
                let rings = || std::iter::once(&offcut.outline).chain(&offcut.voids);
                let sound = rings().all(|r| r.len() > 2)
                    && rings().flatten().flatten().all(|v| v.is_finite());
                if !sound {
                    let what = format!("the offcut {} is no outline", offcut.id);
                    let place = format!("{at}.offcuts[{i}]");
                    return Err(self.fail(&place, what, "leave offcuts as they were written"));
                }
                Ok(Offcut {
                    outline: Polygon::new(
                        points(&offcut.outline),
                        offcut.voids.iter().map(points).collect(),
                    ),
                    kept: offcut.kept,
                    value: 0.0,
                })
            })
            .collect()
    }

    /// Whether there are as many pieces as have parts pinned on them.
    fn pinned_stock(&self, sheets: &[GivenSheet]) -> Result<()> {
        let shop = &self.job.shop;
        let mut taken: BTreeMap<(bool, usize), u32> = BTreeMap::new();
        for sheet in sheets.iter().filter(|s| s.has_pinned()) {
            let (key, name, there) = match sheet.source {
                GivenSource::Sheet(i) => ((false, i), &shop.sheets[i].id, shop.sheets[i].stock),
                GivenSource::Remnant(i) => ((true, i), &shop.remnants[i].id, Some(1)),
            };
            let count = taken.entry(key).or_default();
            *count += 1;
            if let Some(there) = there.filter(|n| *count > *n) {
                let what = format!(
                    "parts are pinned on {count} pieces of '{name}', and there {} {there}",
                    if there == 1 { "is" } else { "are" }
                );
                let place = format!("sheet {}", sheet.number);
                return Err(self.fail(&place, what, "pin them on other stock, or have more of it"));
            }
        }
        Ok(())
    }
}

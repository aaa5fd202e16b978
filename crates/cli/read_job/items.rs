//! The items of an order, with the kits and drawings that they come from.

use super::room::Wish;
use super::{beside, named_at};
use crate::drawing_options::{called, is_all, pick, read_options};
use crate::input::{
    Checker, GrainWord, KitFile, KitPart, OrderFile, Process, ReliefWord, Route, TurnWord, json,
    suggestion,
};
use crate::job::{Item, KitOrder, Shop, SingleOrder};
use crate::process_rules::refusal;
use crate::{Failure, Result};
use panelwright_geometry::drawing::{self, Drawing, DrawingError, Note};
use panelwright_geometry::{Outline, Relief, tolerance, validate};
use panelwright_nesting::Turn;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::rc::Rc;

/// Radius of a relief over that of the tool. Common practice: 10 to 30 % more, so that the tool runs
/// round in it rather than stops.
const RELIEF_OVER_TOOL: f64 = 1.1;

/// A kit file with its path.
type Kit = Rc<(PathBuf, KitFile)>;

/// Collects the items of an order; every kit file and drawing is read once.
pub(super) struct ItemReader<'a> {
    change_kit: &'a dyn Fn(&mut KitFile),
    order: &'a OrderFile,
    order_path: &'a Path,
    shop: &'a Shop,
    kits: BTreeMap<PathBuf, Kit>,
    /// Drawings by path and the options they were read with.
    drawings: BTreeMap<(PathBuf, String), Rc<Drawing>>,
    pub items: Vec<Item>,
    /// Items by kit and part name.
    index: BTreeMap<(String, String), usize>,
    /// As [`Job::notes`](crate::job::Job::notes).
    pub notes: Vec<String>,
    /// As [`Job::text_left`](crate::job::Job::text_left).
    pub text_left: Vec<(String, String)>,
}

impl<'a> ItemReader<'a> {
    /// Nothing read yet but these kits, which come with their paths.
    pub fn new(
        order: &'a OrderFile,
        order_path: &'a Path,
        shop: &'a Shop,
        kits: Vec<(PathBuf, KitFile)>,
        change_kit: &'a dyn Fn(&mut KitFile),
    ) -> Self {
        let kits = kits.into_iter().map(|kit| (kit.0.clone(), kit.into()));
        Self {
            change_kit,
            order,
            order_path,
            shop,
            kits: kits.collect(),
            drawings: BTreeMap::new(),
            items: Vec::new(),
            index: BTreeMap::new(),
            notes: Vec::new(),
            text_left: Vec::new(),
        }
    }

    /// The kits ordered, their parts among the items.
    pub fn kit_orders(&mut self) -> Result<Vec<KitOrder>> {
        let order = self.order;
        let check = Checker {
            file: self.order_path,
        };
        let mut kits = Vec::new();
        for (i, line) in order.kits.iter().enumerate() {
            check.quantity(&format!("kits[{i}].quantity"), line.quantity)?;
            let kit = self.kit(&line.kit, &format!("kits[{i}].kit"))?;
            let mut parts = Vec::new();
            for part in 0..kit.1.parts.len() {
                let each = kit.1.parts[part].quantity;
                let total = each.saturating_mul(line.quantity);
                check.quantity(&format!("kits[{i}].quantity times {each} a kit"), total)?;
                parts.push((self.want(&kit.0, &kit.1, part, total)?, each));
            }
            kits.push(KitOrder {
                kit: kit.1.kit.clone(),
                quantity: line.quantity,
                priority: line.priority,
                parts,
            });
        }
        Ok(kits)
    }

    /// The single parts ordered, which are among the items too.
    pub fn single_orders(&mut self) -> Result<Vec<SingleOrder>> {
        let order = self.order;
        let check = Checker {
            file: self.order_path,
        };
        let mut singles = Vec::new();
        for (i, line) in order.parts.iter().enumerate() {
            check.quantity(&format!("parts[{i}].quantity"), line.quantity)?;
            let kit = self.kit(&line.kit, &format!("parts[{i}].kit"))?;
            let names: Vec<&str> = kit.1.parts.iter().map(|p| p.part.as_str()).collect();
            let part = names.iter().position(|n| *n == line.part).ok_or_else(|| {
                let what = format!("the kit '{}' has no part '{}'", kit.1.kit, line.part);
                let advice = suggestion(&line.part, &names);
                check.fail(format!("parts[{i}].part"), what, advice)
            })?;
            singles.push(SingleOrder {
                item: self.want(&kit.0, &kit.1, part, line.quantity)?,
                quantity: line.quantity,
                priority: line.priority,
            });
        }
        Ok(singles)
    }

    /// The kit file called `name` in the order.
    fn kit(&mut self, name: &str, place: &str) -> Result<Kit> {
        let path = beside(self.order_path, name);
        if let Some(kit) = self.kits.get(&path) {
            return Ok(kit.clone());
        }
        let mut file: KitFile = json(&path, "panelwright-kit-1").map_err(|failure| Failure {
            // A kit that is no file is best understood where it is asked for.
            advice: match path.is_file() {
                true => failure.advice,
                false => named_at(self.order_path, place),
            },
            ..failure
        })?;
        (self.change_kit)(&mut file);
        let check = Checker { file: &path };
        check.name("kit", &file.kit)?;
        check.unique("parts", file.parts.iter().map(|p| p.part.as_str()))?;
        for (i, part) in file.parts.iter().enumerate() {
            check.quantity(
                &format!("parts[{i}] '{}'.quantity", part.part),
                part.quantity,
            )?;
        }
        if file.parts.is_empty() {
            return Err(check.fail("parts", "the kit has no parts", "add at least one"));
        }
        if let Some(other) = self.kits.values().find(|k| k.1.kit == file.kit) {
            let what = format!(
                "the kit is called '{}', as that of {}",
                file.kit,
                other.0.display()
            );
            return Err(check.fail("kit", what, "give each kit a name of its own"));
        }
        self.take_apart(&path, &mut file)?;
        let kit: Kit = (path.clone(), file).into();
        self.kits.insert(path, kit.clone());
        Ok(kit)
    }

    /// Adds copies of a kit's part to the order; returns its item.
    fn want(&mut self, path: &Path, kit: &KitFile, part: usize, quantity: u32) -> Result<usize> {
        let key = (kit.kit.clone(), kit.parts[part].part.clone());
        if let Some(&index) = self.index.get(&key) {
            let total = self.items[index].quantity.saturating_add(quantity);
            Checker {
                file: self.order_path,
            }
            .quantity(&format!("part '{}'", key.1), total)?;
            self.items[index].quantity = total;
            return Ok(index);
        }
        let item = self.item(path, kit, part, quantity)?;
        let index = self.items.len();
        self.index.insert(key, index);
        self.items.push(item);
        Ok(index)
    }

    fn item(&mut self, path: &Path, kit: &KitFile, index: usize, quantity: u32) -> Result<Item> {
        let check = Checker { file: path };
        let part = &kit.parts[index];
        let at = format!("parts[{}] '{}'", part.listed, part.part);
        check.faces(&format!("{at}.good_faces"), part.good_faces)?;
        let material = self.material(&check, &at, part)?;
        let machine = self.machine(&check, &at, part, material)?;
        let outline = self.outline(path, kit, index, &at)?;
        let outline = self.relieved(&check, &at, part, outline, machine)?;
        if part.route == Route::Saw {
            if !outline.is_rectangle(tolerance::JOIN) {
                let what = "the saw makes plain rectangles, and this outline is none";
                let advice = "use the route 'router', or 'saw-then-router'";
                return Err(check.fail(format!("{at}.route"), what, advice));
            }
            if !outline.holes.is_empty() || !outline.marks.is_empty() {
                let what = "the saw makes no holes or marks, and this part has some";
                let advice = "use the route 'saw-then-router', or 'router'";
                return Err(check.fail(format!("{at}.route"), what, advice));
            }
        }
        let wish = Wish {
            part,
            outline: &outline,
            material: &self.shop.materials[material],
            machine: &self.shop.machines[machine],
        };
        wish.fits_something(self.shop, &check, &at)?;
        Ok(Item {
            part: part.part.clone(),
            kit: kit.kit.clone(),
            label: part.label.clone().unwrap_or_else(|| part.part.clone()),
            outline,
            quantity,
            material,
            machine,
            finish_on_router: part.route == Route::SawThenRouter,
            turn: match part.turn {
                TurnWord::None => Turn::None,
                TurnWord::Half => Turn::Half,
                TurnWord::Quarter => Turn::Quarter,
                TurnWord::Free => Turn::Free,
            },
            grain_deg: match part.grain {
                GrainWord::Along => Some(0.0),
                GrainWord::Across => Some(90.0),
                GrainWord::Any => None,
            },
            good_faces: part.good_faces,
        })
    }

    fn material(&self, check: &Checker, at: &str, part: &KitPart) -> Result<usize> {
        let names: Vec<&str> = self
            .shop
            .materials
            .iter()
            .map(|m| m.name.as_str())
            .collect();
        let (key, name) = match (&part.material, &part.role) {
            (Some(name), None) => ("material", name),
            (None, Some(role)) => match self.order.roles.get(role) {
                Some(name) => ("role", name),
                None => {
                    let roles: Vec<&str> = self.order.roles.keys().map(String::as_str).collect();
                    let what = format!(
                        "no material fills the role '{role}' in {}",
                        self.order_path.display()
                    );
                    let advice = format!("add it to 'roles' there; {}", suggestion(role, &roles));
                    return Err(check.fail(format!("{at}.role"), what, advice));
                }
            },
            _ => {
                let what = "it needs either a 'material' or a 'role'";
                return Err(check.fail(at, what, "give one of the two"));
            }
        };
        names.iter().position(|n| n == name).ok_or_else(|| {
            let what = format!("no material is called '{name}'");
            check.fail(format!("{at}.{key}"), what, suggestion(name, &names))
        })
    }

    fn machine(&self, check: &Checker, at: &str, part: &KitPart, material: usize) -> Result<usize> {
        let material = &self.shop.materials[material];
        let steps: &[Process] = match part.route {
            Route::Saw => &[Process::Saw],
            Route::SawThenRouter => &[Process::Saw, Process::Router],
            Route::Router => &[Process::Router],
            Route::Laser => &[Process::Laser],
        };
        for process in steps {
            if let Some(reason) = refusal(material.substance, *process) {
                let what = format!("'{}' must not go there: {reason}", material.name);
                let advice = "choose another route or another material";
                return Err(check.fail(format!("{at}.route"), what, advice));
            }
            if self.shop.first(*process).is_none() {
                let what = format!("the shop file has no machine for the process {process:?}");
                return Err(check.fail(
                    format!("{at}.route"),
                    what.to_lowercase(),
                    "add one to 'machines', or choose another route",
                ));
            }
        }
        // The first step frees the part; the machine is there, as just checked.
        let found = self.shop.first(steps[0]);
        found.ok_or_else(|| check.fail(at, "it has no machine", "add one to the shop file"))
    }

    fn outline(&mut self, path: &Path, kit: &KitFile, index: usize, at: &str) -> Result<Outline> {
        let check = Checker { file: path };
        let part = &kit.parts[index];
        if part.drawing.is_none() {
            let set = [
                ("drawing_units", part.drawing_units.is_some()),
                ("from_drawing", part.from_drawing.is_some()),
                ("drawing_rules", !part.drawing_rules.is_empty()),
                ("join", part.join.is_some()),
            ];
            if let Some((key, _)) = set.into_iter().find(|(_, is_set)| *is_set) {
                let what = "it tells how a drawing is read, and this part has none";
                return Err(check.fail(
                    format!("{at}.{key}"),
                    what,
                    "remove it, or give a 'drawing'",
                ));
            }
        }
        let outline = match (&part.drawing, &part.rectangle) {
            (Some(name), None) => self.drawn(path, kit, part, name, at)?,
            (None, Some(rectangle)) => rectangle.outline(kit.units.in_mm()).map_err(|bad| {
                let place = match bad.feature {
                    Some(i) => format!("{at}.rectangle.features[{i}]"),
                    None => format!("{at}.rectangle"),
                };
                check.fail(place, bad.what, bad.advice)
            })?,
            _ => {
                let what = "it needs either a 'drawing' or a 'rectangle'";
                return Err(check.fail(at, what, "give one of the two"));
            }
        };
        let outline = if part.mirrored {
            outline.mirrored()
        } else {
            outline
        };
        validate(&outline).map_err(|e| {
            let place = format!(
                "{at}.{}",
                if part.drawing.is_some() {
                    "drawing"
                } else {
                    "rectangle"
                }
            );
            check.fail(
                place,
                e.to_string(),
                "correct the shape; it cannot be cut like this",
            )
        })?;
        Ok(outline.at_origin())
    }

    /// Makes a part of the kit of every part of a drawing that is wanted whole.
    fn take_apart(&mut self, path: &Path, kit: &mut KitFile) -> Result<()> {
        for (listed, part) in kit.parts.iter_mut().enumerate() {
            part.listed = listed;
        }
        if !kit.parts.iter().any(is_all) {
            return Ok(());
        }
        let mut parts = Vec::new();
        for part in &kit.parts {
            let Some(name) = part.drawing.as_ref().filter(|_| is_all(part)) else {
                parts.push(part.clone());
                continue;
            };
            let at = format!("parts[{}] '{}'", part.listed, part.part);
            let drawing = self.drawing(path, kit, part, name, &at)?;
            for (index, drawn) in drawing.parts.iter().enumerate() {
                let own = called(index, drawn);
                let again = drawing
                    .parts
                    .iter()
                    .filter(|p| p.name == drawn.name)
                    .count()
                    > 1;
                let own = match again && drawn.name.is_some() {
                    true => format!("{own} {}", index + 1),
                    false => own,
                };
                parts.push(KitPart {
                    part: format!("{} {own}", part.part),
                    label: part.label.as_ref().map(|label| format!("{label} {own}")),
                    from_drawing: Some(serde_json::Value::from(index + 1)),
                    ..part.clone()
                });
            }
        }
        kit.parts = parts;
        let names = kit.parts.iter().map(|p| p.part.as_str());
        Checker { file: path }.unique("parts", names)
    }

    /// A drawing as a part of a kit has it read, once however often it is asked for.
    fn drawing(
        &mut self,
        path: &Path,
        kit: &KitFile,
        part: &KitPart,
        name: &str,
        at: &str,
    ) -> Result<Rc<Drawing>> {
        let file = beside(path, name);
        let options = read_options(&Checker { file: path }, kit, Some((part, at)))?;
        let key = (file, format!("{options:?}"));
        if let Some(drawing) = self.drawings.get(&key) {
            return Ok(drawing.clone());
        }
        let file = &key.0;
        let drawing = drawing::read_file(file, &options).map_err(|e| {
            let how = match e {
                DrawingError::NoUnit { .. } => ": give it \"drawing_units\"",
                _ => "",
            };
            let advice = format!("{at} of {} needs it{how}", path.display());
            Failure::in_file(file, "", e.to_string(), advice)
        })?;
        for note in &drawing.notes {
            if let Note::TextLeft { is_cut: true, .. } = note {
                let left = (file.display().to_string(), note.to_string());
                if !self.text_left.contains(&left) {
                    self.text_left.push(left);
                }
            }
            let note = format!("{}: {note}", file.display());
            if !self.notes.contains(&note) {
                self.notes.push(note);
            }
        }
        let drawing = Rc::new(drawing);
        self.drawings.insert(key, drawing.clone());
        Ok(drawing)
    }

    /// The part of a drawing that a part of a kit means.
    fn drawn(
        &mut self,
        path: &Path,
        kit: &KitFile,
        part: &KitPart,
        name: &str,
        at: &str,
    ) -> Result<Outline> {
        let drawing = self.drawing(path, kit, part, name, at)?;
        let check = Checker { file: path };
        let file = beside(path, name);
        let drawn = pick(&check, at, &file, &drawing, part.from_drawing.as_ref())?;
        Ok(drawn.outline.clone())
    }

    /// The outline with its inside corners bitten out, where the kit asks for that.
    fn relieved(
        &mut self,
        check: &Checker,
        at: &str,
        part: &KitPart,
        outline: Outline,
        machine: usize,
    ) -> Result<Outline> {
        let relief = match part.relief {
            ReliefWord::None => return Ok(outline),
            ReliefWord::Round => Relief::Round,
            ReliefWord::T => Relief::T,
        };
        let place = format!("{at}.relief");
        let finished = part.route == Route::SawThenRouter;
        let finisher = self.shop.finisher(machine, finished);
        let kerf = match finisher.map(|finisher| self.shop.machines[finisher].kerf) {
            Some(kerf) if kerf > 0.0 => kerf,
            _ => {
                let what = "no tool with a width works on this part, so no corner stays round";
                return Err(check.fail(place, what, "remove it"));
            }
        };
        let done = outline.relieved(relief, RELIEF_OVER_TOOL * 0.5 * kerf);
        validate(&done.outline).map_err(|e| {
            let what = format!("with its corners bitten out {e}");
            check.fail(place, what, "use a finer tool, or no relief")
        })?;
        if let Some(corner) = done.left.first() {
            self.notes.push(format!(
                "part '{}': {} inside corners have no room for a relief and stay as they are; the first \
                 at {:.1}, {:.1}",
                part.part,
                done.left.len(),
                corner.x,
                corner.y
            ));
        }
        Ok(done.outline)
    }
}

//! From the files to a [`Job`]: everything read, checked and in millimetres.

use crate::drawing_options::{called, is_all, pick, read_options};
use crate::input::LabelStock;
use crate::input::{
    Checker, GrainWord, KitFile, KitPart, OrderFile, Process, ReliefWord, RemnantsFile, Route,
    ShopFile, TurnWord, json, shop_parts, suggestion,
};
use crate::job::{Item, Job, KitOrder, Shop, SingleOrder};
use crate::process_rules::refusal;
use crate::rack::{Rack, promising, remnants_from_list};
use crate::rates::Rates;
use crate::remnant::Remnant;
use crate::{Failure, Result};
use panelwright_geometry::drawing::{self, Drawing, DrawingError, Note};
use panelwright_geometry::{Outline, Relief, tolerance, validate};
use panelwright_nesting::Turn;
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::rc::Rc;

/// Radius of a relief over that of the tool. Common practice: 10 to 30 % more, so that the tool runs
/// round in it rather than stops.
const RELIEF_OVER_TOOL: f64 = 1.1;

/// What may differ from what the files say.
#[derive(Debug, Clone, Default)]
pub struct ReadJobOptions {
    /// The rack file to use instead of the one the shop file names.
    pub rack: Option<PathBuf>,
    /// Ids of remnants that are on offer in any case, also where a large rack has others that promise more: those of a
    /// nest that is gone on from, see [`given::remnants_of`](crate::given::remnants_of).
    pub stay: BTreeSet<String>,
}

/// The path that `name` means in the file `from`: relative to that file's folder.
#[must_use]
pub fn beside(from: &Path, name: &str) -> PathBuf {
    from.parent().unwrap_or(Path::new("")).join(name)
}

/// Advice on a file that is not there: where it is named.
fn named_at(path: &Path, place: &str) -> String {
    format!("{} names it at {place}", path.display())
}

/// The rack file of a shop, if it names one or `chosen` does.
#[must_use]
pub fn rack_path(shop: &ShopFile, path: &Path, chosen: Option<&Path>) -> Option<PathBuf> {
    chosen
        .map(Path::to_path_buf)
        .or_else(|| shop.rack.as_ref().map(|name| beside(path, name)))
}

/// Refuses a rack file that was named in so many words and is not there: what is looked at would be the shop file's list
/// instead, and nobody would notice. One that the shop file names is made when the first sheet is booked.
///
/// # Errors
/// It is not there.
pub fn must_be_there(chosen: Option<&Path>) -> Result<()> {
    match chosen.filter(|path| !path.exists()) {
        None => Ok(()),
        Some(path) => {
            let advice = "check the name and the folder, or leave --rack out";
            Err(Failure::in_file(
                path,
                "",
                "there is no such rack file",
                advice,
            ))
        }
    }
}

/// A shop as its files tell it.
#[derive(Debug, Clone)]
pub struct ShopRead {
    /// The shop, with what stands on its rack.
    pub shop: Shop,
    /// The remnants of the shop file's own list, also where there is a rack file that tells of others.
    pub listed: Vec<Remnant>,
    /// The rack file, if one is named; there or not.
    pub rack: Option<PathBuf>,
    /// What was noticed on the rack.
    pub notes: Vec<String>,
}

/// Reads a shop file, and what stands on its rack: from the rack file when there is one, else from
/// the readable list. What is held now for another order than `orders`, those that are cut together, is left out.
///
/// # Errors
/// The first thing wrong, with file and place.
pub fn read_shop(path: &Path, rack: Option<&Path>, orders: &[&str]) -> Result<ShopRead> {
    let file: ShopFile = json(path, "panelwright-shop-1")?;
    must_be_there(rack)?;
    let mut shop = shop_from_list(&file, path)?;
    let listed = shop.remnants.clone();
    let mut notes = idle_machines(&shop);
    let rack = rack_path(&file, path, rack);
    notes.extend(match &rack {
        Some(rack) if rack.exists() => {
            Rack::open_to_read(rack)?.fill(&mut shop, orders, &jiff::Zoned::now())?
        }
        Some(rack) => elsewhere(rack, path).into_iter().collect(),
        None => Vec::new(),
    });
    Ok(ShopRead {
        shop,
        listed,
        rack,
        notes,
    })
}

/// Tells of a rack file that is not there, unless it would be made beside the shop file: one in another folder may be on a
/// drive that is not connected.
fn elsewhere(rack: &Path, shop: &Path) -> Option<String> {
    (rack.parent() != shop.parent()).then(|| {
        format!(
            "the rack file {} is not there: the rack is taken to be as the shop file lists it",
            rack.display()
        )
    })
}

/// Says which machines nothing goes to: a route names a process, and the first machine for it does the work.
fn idle_machines(shop: &Shop) -> Vec<String> {
    let idle = shop.machines.iter().enumerate().filter_map(|(i, m)| {
        let first = shop.first(m.process).filter(|first| *first != i)?;
        Some(format!(
            "machine '{}' is left idle: '{}' is for the same process and listed first",
            m.name, shop.machines[first].name
        ))
    });
    idle.collect()
}

/// The shop as its files alone tell it, whatever a rack file says.
///
/// # Errors
/// The first thing wrong, with file and place.
pub fn shop_from_list(file: &ShopFile, path: &Path) -> Result<Shop> {
    let (materials, machines, sheets) = shop_parts(file, path)?;
    let remnants = match &file.remnants {
        Some(name) => {
            let list = beside(path, name);
            let entries: RemnantsFile = json(&list, "panelwright-remnants-1")?;
            remnants_from_list(&entries, &list, &materials)?
        }
        None => Vec::new(),
    };
    Ok(Shop {
        name: file.shop.clone(),
        currency: file.currency.clone(),
        paper: file.papers.paper(),
        labels: LabelStock::read(
            &file.papers.labels,
            &Checker { file: path },
            file.units.in_mm(),
        )?,
        materials,
        machines,
        sheets,
        remnants,
        held: Vec::new(),
        aside: Vec::new(),
        room: file.room.clone(),
        purchases: BTreeMap::new(),
        rates: Rates::read(file, path)?,
    })
}

/// What is changed in the files after they are read, and before they are checked against each other: to ask
/// what an order would be like otherwise.
pub struct Revision<'a> {
    /// Changes the order.
    pub order: &'a dyn Fn(&mut OrderFile),
    /// Changes the shop with its rack; lengths in millimetres.
    pub shop: &'a dyn Fn(&mut Shop),
    /// Changes each kit.
    pub kit: &'a dyn Fn(&mut KitFile),
}

impl Revision<'_> {
    /// Changes nothing.
    #[must_use]
    pub fn none() -> Self {
        Self {
            order: &|_| {},
            shop: &|_| {},
            kit: &|_| {},
        }
    }
}

/// An order and its shop as their files tell them: read once, and made a job of as often as it is asked what the order
/// would be like otherwise.
#[derive(Debug, Clone)]
pub struct JobFiles {
    /// The order.
    pub order: OrderFile,
    /// Where it is, for the files that it names and for messages.
    pub path: PathBuf,
    /// The shop.
    pub shop: ShopRead,
    /// As [`ReadJobOptions::stay`].
    stay: BTreeSet<String>,
}

impl JobFiles {
    /// Reads an order and its shop; kits and drawings are read with the job.
    ///
    /// # Errors
    /// The first thing wrong, with file, place, value and what to do.
    pub fn read(path: &Path, options: &ReadJobOptions) -> Result<Self> {
        let order = OrderFile::read(path)?;
        let shop_path = beside(path, &order.shop);
        let shop = read_shop(&shop_path, options.rack.as_deref(), &[&order.order]);
        let shop = shop.map_err(|e| match shop_path.is_file() {
            true => e,
            false => Failure {
                advice: named_at(path, "shop"),
                ..e
            },
        })?;
        Ok(Self {
            order,
            path: path.to_path_buf(),
            shop,
            stay: options.stay.clone(),
        })
    }

    /// The job of the files as changed.
    ///
    /// # Errors
    /// As for [`Job::read`].
    pub fn job(&self, revision: &Revision) -> Result<Job> {
        let (mut order, mut shop) = (self.order.clone(), self.shop.shop.clone());
        (revision.order)(&mut order);
        (revision.shop)(&mut shop);
        let notes = self.shop.notes.clone();
        let mut job = Job::assembled(order, &self.path, shop, notes, Vec::new(), revision.kit)?;
        job.leave_aside(&self.stay);
        Ok(job)
    }
}

impl Job {
    /// Reads an order with its shop, kits, drawings and remnants.
    ///
    /// # Errors
    /// The first thing wrong, with file, place, value and what to do. Nothing is written.
    pub fn read(path: &Path, options: &ReadJobOptions) -> Result<Self> {
        JobFiles::read(path, options)?.job(&Revision::none())
    }

    /// The job that an order asks for; `path` is where the order is, for the files that it names and for
    /// messages. `kits` are kit files that were read already, with their paths.
    ///
    /// # Errors
    /// As [`Job::read`].
    pub fn of_order(
        order: OrderFile,
        path: &Path,
        shop: Shop,
        notes: Vec<String>,
        kits: Vec<(PathBuf, KitFile)>,
    ) -> Result<Self> {
        let mut job = Self::on_whole_rack(order, path, shop, notes, kits)?;
        job.leave_aside(&BTreeSet::new());
        Ok(job)
    }

    /// [`Job::of_order`] with all of the shop's remnants on offer, however many; see [`Job::leave_aside`].
    pub(crate) fn on_whole_rack(
        order: OrderFile,
        path: &Path,
        shop: Shop,
        notes: Vec<String>,
        kits: Vec<(PathBuf, KitFile)>,
    ) -> Result<Self> {
        Self::assembled(order, path, shop, notes, kits, Revision::none().kit)
    }

    /// Leaves aside, with a note, what of a large rack promises the job less than the rest, but for what has to `stay`.
    pub(crate) fn leave_aside(&mut self, stay: &BTreeSet<String>) {
        let shop = &mut self.shop;
        let (remnants, aside) =
            promising(std::mem::take(&mut shop.remnants), &self.items, shop, stay);
        if !aside.is_empty() {
            self.notes.push(format!(
                "{} remnants on the rack promise this order less than the others and are left aside",
                aside.len()
            ));
        }
        (shop.remnants, shop.aside) = (remnants, aside);
    }

    fn assembled(
        order: OrderFile,
        path: &Path,
        shop: Shop,
        notes: Vec<String>,
        kits: Vec<(PathBuf, KitFile)>,
        change_kit: &dyn Fn(&mut KitFile),
    ) -> Result<Self> {
        refuse_empty(&order, path)?;
        let check = Checker { file: path };
        let names: Vec<&str> = shop.materials.iter().map(|m| m.name.as_str()).collect();
        for (role, material) in &order.roles {
            if !names.contains(&material.as_str()) {
                return Err(check.fail(
                    format!("roles.{role}"),
                    format!("no material is called '{material}'"),
                    suggestion(material, &names),
                ));
            }
        }
        let alternatives = order.alternatives.iter();
        for (role, material) in alternatives.flat_map(|(r, all)| all.iter().map(move |m| (r, m))) {
            if !order.roles.contains_key(role) {
                let roles: Vec<&str> = order.roles.keys().map(String::as_str).collect();
                let what = format!("no material fills the role '{role}' in 'roles'");
                return Err(check.fail(
                    format!("alternatives.{role}"),
                    what,
                    suggestion(role, &roles),
                ));
            }
            if !names.contains(&material.as_str()) {
                return Err(check.fail(
                    format!("alternatives.{role}"),
                    format!("no material is called '{material}'"),
                    suggestion(material, &names),
                ));
            }
        }
        let mut reader = ItemReader {
            change_kit,
            order: &order,
            order_path: path,
            shop: &shop,
            kits: kits
                .into_iter()
                .map(|kit| (kit.0.clone(), kit.into()))
                .collect(),
            drawings: BTreeMap::new(),
            items: Vec::new(),
            index: BTreeMap::new(),
            notes,
            text_left: Vec::new(),
        };
        let mut kits = Vec::new();
        for (i, line) in order.kits.iter().enumerate() {
            check.quantity(&format!("kits[{i}].quantity"), line.quantity)?;
            let kit = reader.kit(&line.kit, &format!("kits[{i}].kit"))?;
            let mut parts = Vec::new();
            for part in 0..kit.1.parts.len() {
                let each = kit.1.parts[part].quantity;
                let total = each.saturating_mul(line.quantity);
                check.quantity(&format!("kits[{i}].quantity times {each} a kit"), total)?;
                parts.push((reader.want(&kit.0, &kit.1, part, total)?, each));
            }
            kits.push(KitOrder {
                kit: kit.1.kit.clone(),
                quantity: line.quantity,
                priority: line.priority,
                parts,
            });
        }
        let mut singles = Vec::new();
        for (i, line) in order.parts.iter().enumerate() {
            check.quantity(&format!("parts[{i}].quantity"), line.quantity)?;
            let kit = reader.kit(&line.kit, &format!("parts[{i}].kit"))?;
            let names: Vec<&str> = kit.1.parts.iter().map(|p| p.part.as_str()).collect();
            let part = names.iter().position(|n| *n == line.part).ok_or_else(|| {
                let what = format!("the kit '{}' has no part '{}'", kit.1.kit, line.part);
                check.fail(
                    format!("parts[{i}].part"),
                    what,
                    suggestion(&line.part, &names),
                )
            })?;
            singles.push(SingleOrder {
                item: reader.want(&kit.0, &kit.1, part, line.quantity)?,
                quantity: line.quantity,
                priority: line.priority,
            });
        }
        let copies: u64 = reader.items.iter().map(|i| u64::from(i.quantity)).sum();
        if copies > MOST_COPIES {
            let what = format!("it asks for {copies} parts in all");
            let advice = format!("at most {MOST_COPIES} are nested at once: divide the order");
            return Err(check.fail("", what, advice));
        }
        let (items, notes, text_left) = (reader.items, reader.notes, reader.text_left);
        Ok(Self {
            order: order.order,
            due: order.due,
            kits,
            singles,
            shop,
            items,
            notes,
            text_left,
        })
    }
}

fn refuse_empty(order: &OrderFile, path: &Path) -> Result<()> {
    if !order.kits.is_empty() || !order.parts.is_empty() {
        return Ok(());
    }
    let what = "the order is empty: it asks for no kit and no part";
    let advice = "add a line to 'kits' or to 'parts'";
    Err(Checker { file: path }.fail("", what, advice))
}

/// Copies of all parts of an order together. More is a slip of the finger; shares and sums count on it.
const MOST_COPIES: u64 = 1_000_000;

/// A kit file with its path.
type Kit = Rc<(PathBuf, KitFile)>;

/// Collects the items of an order; every kit file and drawing is read once.
struct ItemReader<'a> {
    change_kit: &'a dyn Fn(&mut KitFile),
    order: &'a OrderFile,
    order_path: &'a Path,
    shop: &'a Shop,
    kits: BTreeMap<PathBuf, Kit>,
    /// Drawings by path and the options they were read with.
    drawings: BTreeMap<(PathBuf, String), Rc<Drawing>>,
    items: Vec<Item>,
    /// Items by kit and part name.
    index: BTreeMap<(String, String), usize>,
    notes: Vec<String>,
    /// As [`Job::text_left`].
    text_left: Vec<(String, String)>,
}

impl ItemReader<'_> {
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
        self.fits_something(&check, &at, part, &outline, material, machine)?;
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

    /// Refuses a part that is larger than every sheet and remnant, however it is turned.
    fn fits_something(
        &self,
        check: &Checker,
        at: &str,
        part: &KitPart,
        outline: &Outline,
        material: usize,
        machine: usize,
    ) -> Result<()> {
        let (machine, material) = (&self.shop.machines[machine], &self.shop.materials[material]);
        let bounds = outline.bounds();
        let (short, long) = match part.turn {
            // However it is turned, it is nowhere narrower than its area over its longest extent.
            TurnWord::Free => {
                let diameter = bounds.width().hypot(bounds.height());
                (
                    outline.outer.area() / diameter,
                    bounds.width().max(bounds.height()) * 0.5,
                )
            }
            _ => {
                let (a, b) = (bounds.width(), bounds.height());
                (a.min(b), a.max(b))
            }
        };
        // With all that the machine keeps off the edges, or without; on its bed, or on one without limits.
        let room_within = |piece: &Piece, edges: f64, bed: Option<[f64; 2]>| {
            let (mut l, mut w) = (piece.length, piece.width);
            if machine.process == Process::Saw {
                // Remnants have sound edges: only sheets are trimmed.
                if !piece.remnant {
                    l -= edges * (machine.trim.left + machine.trim.right);
                    w -= edges * (machine.trim.bottom + machine.trim.top);
                }
            } else {
                let margin = if piece.remnant {
                    machine.margin_on_remnants()
                } else {
                    machine.margin
                };
                if let Some([a, b]) = bed {
                    (l, w) = (l.max(w).min(a.max(b)), l.min(w).min(a.min(b)));
                }
                l -= edges * 2.0 * margin;
                w -= edges * 2.0 * margin;
            }
            (l.min(w), l.max(w))
        };
        let room = |piece: &Piece| room_within(piece, 1.0, machine.bed);
        let sheets = self
            .shop
            .sheets
            .iter()
            .filter(|s| s.material == material.name)
            .map(|s| Piece {
                length: s.length,
                width: s.width,
                remnant: false,
            });
        let remnants = self
            .shop
            .remnants
            .iter()
            .filter(|r| r.material == material.name)
            .map(|r| {
                let b = r.outline.bounds();
                Piece {
                    length: b.width(),
                    width: b.height(),
                    remnant: true,
                }
            });
        let all: Vec<Piece> = sheets.clone().chain(remnants).collect();
        if all.is_empty() {
            let what = format!(
                "the shop has no sheet and no remnant of '{}'",
                material.name
            );
            return Err(check.fail(at, what, "add a sheet to the shop file"));
        }
        let slack = tolerance::JUDGE;
        let fits = |(room_short, room_long): (f64, f64)| {
            short <= room_short + slack && long <= room_long + slack
        };
        if all.iter().any(|piece| fits(room(piece))) {
            return Ok(());
        }
        // A piece that its edges use up leaves no room, however large both of its sides are below nothing.
        let rooms = all.iter().map(room).map(|(a, b)| (a.max(0.0), b.max(0.0)));
        let (room_short, room_long) = rooms.fold((0.0_f64, 0.0_f64), |most, r| {
            if r.0 * r.1 > most.0 * most.1 { r } else { most }
        });
        let (length, width) = (bounds.width(), bounds.height());
        let sides = [
            (length.max(width), room_long),
            (length.min(width), room_short),
        ];
        let d = decimals_apart(&sides);
        let most = if room_short > 0.0 {
            format!("more than {room_long:.d$} x {room_short:.d$} mm")
        } else {
            "any room within its edges".to_owned()
        };
        let mut what = format!(
            "it measures {length:.d$} x {width:.d$} mm, and no sheet of '{}' leaves {most} on the {}",
            material.name, machine.name,
        );
        let mut remedy = "add a larger sheet";
        // A larger sheet is no help where a sheet is large enough and the bed is not.
        if let Some([a, b]) = machine.bed
            && all.iter().any(|piece| fits(room_within(piece, 1.0, None)))
        {
            what.push_str(&format!(", whose bed takes {a} x {b} mm"));
            remedy = "have it cut by a machine with a larger bed";
        }
        let unit = match part.drawing {
            Some(_) => "the drawing's unit",
            None => "the kit's unit",
        };
        let mut advice = format!("check {unit}, or {remedy}");
        if sheets
            .into_iter()
            .any(|sheet| fits(room_within(&sheet, 0.0, machine.bed)))
        {
            let edges = match machine.process {
                Process::Saw => "the trim".to_owned(),
                Process::Router | Process::Laser => format!("the margin of {} mm", machine.margin),
            };
            advice = format!("check {unit} and {edges}, or {remedy}");
        }
        Err(check.fail(at, what, advice))
    }
}

/// A sheet or a remnant, as far as parts may be too large for it.
struct Piece {
    length: f64,
    width: f64,
    remnant: bool,
}

/// Decimals, 1 to 4, that show which sides of a part are longer than the room for them: pairs of side
/// and room.
fn decimals_apart(sides: &[(f64, f64)]) -> usize {
    let apart = |d: usize| {
        let mut longer = sides.iter().filter(|(side, room)| side > room);
        longer.all(|(side, room)| format!("{side:.d$}") != format!("{room:.d$}"))
    };
    (1..4).find(|d| apart(*d)).unwrap_or(4)
}

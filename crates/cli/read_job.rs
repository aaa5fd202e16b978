//! From the files to a [`Job`]: everything read, checked and in millimetres.

mod items;
mod room;

use crate::input::{
    Checker, KitFile, LabelStock, OrderFile, RemnantsFile, ShopFile, json, shop_parts, suggestion,
};
use crate::job::{Item, Job, Shop};
use crate::rack::{Rack, promising, remnants_from_list};
use crate::rates::Rates;
use crate::remnant::Remnant;
use crate::{Failure, Result};
use items::ItemReader;
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

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
            let entries: RemnantsFile =
                json(&list, "panelwright-remnants-1").map_err(|e| match list.is_file() {
                    true => e,
                    false => Failure {
                        advice: named_at(path, "remnants"),
                        ..e
                    },
                })?;
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
        refuse_unknown_materials(&order, path, &shop)?;
        let mut reader = ItemReader::new(&order, path, &shop, kits, change_kit);
        reader.notes = notes;
        let kits = reader.kit_orders()?;
        let singles = reader.single_orders()?;
        refuse_too_many(&reader.items, path)?;
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

/// Refuses roles that are filled by a material the shop does not have, and alternatives to such as are not filled.
fn refuse_unknown_materials(order: &OrderFile, path: &Path, shop: &Shop) -> Result<()> {
    let check = Checker { file: path };
    let names: Vec<&str> = shop.materials.iter().map(|m| m.name.as_str()).collect();
    let known = |place: String, material: &String| {
        if names.contains(&material.as_str()) {
            return Ok(());
        }
        let what = format!("no material is called '{material}'");
        Err(check.fail(place, what, suggestion(material, &names)))
    };
    for (role, material) in &order.roles {
        known(format!("roles.{role}"), material)?;
    }
    let alternatives = order.alternatives.iter();
    for (role, material) in alternatives.flat_map(|(r, all)| all.iter().map(move |m| (r, m))) {
        let place = format!("alternatives.{role}");
        if !order.roles.contains_key(role) {
            let roles: Vec<&str> = order.roles.keys().map(String::as_str).collect();
            let what = format!("no material fills the role '{role}' in 'roles'");
            return Err(check.fail(place, what, suggestion(role, &roles)));
        }
        known(place, material)?;
    }
    Ok(())
}

/// Copies of all parts of an order together. More is a slip of the finger; shares and sums count on it.
const MOST_COPIES: u64 = 1_000_000;

fn refuse_too_many(items: &[Item], path: &Path) -> Result<()> {
    let copies: u64 = items.iter().map(|i| u64::from(i.quantity)).sum();
    if copies <= MOST_COPIES {
        return Ok(());
    }
    let what = format!("it asks for {copies} parts in all");
    let advice = format!("at most {MOST_COPIES} are nested at once: divide the order");
    Err(Checker { file: path }.fail("", what, advice))
}

//! What is estimated: the order with one role filled by another material, or with something else changed.

use crate::input::{KitFile, OrderFile, Process, Route, Sheet};
use crate::job::{Item, Job, Shop};
use crate::read_job::{JobFiles, Revision};
use crate::{Failure, Result};
use panelwright_nesting::Turn;

/// A role filled otherwise than in the order.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Swap {
    /// The role.
    pub role: String,
    /// The material by name.
    pub material: String,
}

/// A question of the kind "what if", as typed and as understood.
#[derive(Debug, Clone, PartialEq)]
pub struct WhatIf {
    /// As typed.
    pub text: String,
    /// What it changes.
    pub changes: Vec<Change>,
}

/// One change of a [`WhatIf`].
#[derive(Debug, Clone, PartialEq)]
pub enum Change {
    /// Another price of a sheet size.
    Price(String, f64),
    /// A sheet size more: material, length, width, price. Lengths in millimetres.
    Sheet(String, f64, f64, f64),
    /// A sheet size less.
    Without(String),
    /// What is cut by one process is cut by another.
    Machine(Process, Process),
    /// Nothing from the rack.
    NoRemnants,
    /// Nothing kept for the rack.
    NoOffcuts,
    /// A role filled by another material.
    Role(Swap),
}

/// How the changes are typed, for messages.
const HOW: &str = "give one or more of price:SHEET=AMOUNT, sheet:MATERIAL=LENGTHxWIDTH@PRICE (in millimetres), \
     without:SHEET, machine:router=laser, role:ROLE=MATERIAL, no-remnants, no-offcuts, with commas between";

impl WhatIf {
    /// Reads what was typed.
    ///
    /// # Errors
    /// Naming the change that is not understood.
    pub fn parse(text: &str) -> Result<Self> {
        let changes = text
            .split(',')
            .map(|part| change(part.trim()))
            .collect::<Result<Vec<_>>>()?;
        Ok(Self {
            text: text.to_owned(),
            changes,
        })
    }

    /// Refuses names that the job does not know, and roles that are none of `roles`, those of its order.
    ///
    /// # Errors
    /// Naming the first.
    pub fn check(&self, job: &Job, roles: &[&str]) -> Result<()> {
        let shop = &job.shop;
        let materials: Vec<&str> = shop.materials.iter().map(|m| m.name.as_str()).collect();
        let sheets: Vec<&str> = shop.sheets.iter().map(|s| s.id.as_str()).collect();
        let known = |kind: &str, name: &str, names: &[&str]| {
            if names.contains(&name) {
                return Ok(());
            }
            let what = format!("no {kind} is called '{name}' in '{}'", self.text);
            let advice = crate::input::suggestion(name, names);
            Err(Failure::new("--what-if", what, advice))
        };
        self.changes.iter().try_for_each(|change| match change {
            Change::Price(id, _) | Change::Without(id) => known("sheet", id, &sheets),
            Change::Sheet(material, ..) => known("material", material, &materials),
            Change::Role(swap) => {
                known("role of the order", &swap.role, roles)?;
                known("material", &swap.material, &materials)
            }
            Change::Machine(..) | Change::NoRemnants | Change::NoOffcuts => Ok(()),
        })
    }

    /// Refuses a sheet that holds no part of the job as it is changed: it would make no difference, mostly because its
    /// size was meant in another unit.
    ///
    /// # Errors
    /// Naming the first.
    pub fn check_sheets(&self, changed: &Job) -> Result<()> {
        let items = |material: &str| {
            let items = changed.items.iter();
            items
                .filter(|item| changed.material_of(item).name == material)
                .collect::<Vec<_>>()
        };
        for change in &self.changes {
            let Change::Sheet(material, length, width, _) = change else {
                continue;
            };
            let items = items(material);
            if items.iter().any(|item| may_lie_on(item, *length, *width)) {
                continue;
            }
            let (what, advice) = match items.is_empty() {
                true => (
                    format!("no part is of {material}"),
                    "have a role filled by it as well: role:ROLE=MATERIAL",
                ),
                false => (
                    format!("a sheet of {length} x {width} mm holds no part of {material}"),
                    "lengths are in millimetres, whatever the unit of the shop file",
                ),
            };
            let what = format!("{what}, so '{}' makes no difference", self.text);
            return Err(Failure::new("--what-if", what, advice));
        }
        Ok(())
    }

    /// As typed, with the unit of its sizes.
    #[must_use]
    pub fn shown(&self) -> String {
        let unit = if self.has_size() { " (mm)" } else { "" };
        format!("{}{unit}", self.text)
    }

    /// Whether it names a size.
    #[must_use]
    pub fn has_size(&self) -> bool {
        let mut changes = self.changes.iter();
        changes.any(|change| matches!(change, Change::Sheet(..)))
    }

    fn has(&self, change: &Change) -> bool {
        self.changes.contains(change)
    }
}

/// Whether a part may lie on a sheet of this size, margins aside; when in doubt it may.
fn may_lie_on(item: &Item, length: f64, width: f64) -> bool {
    let bounds = item.outline.bounds();
    let (a, b) = (bounds.width(), bounds.height());
    if item.turn == Turn::Free {
        // It is as long as one of its sides at least, whichever way it is turned.
        return a.max(b) <= length.hypot(width) && item.outline.area() <= length * width;
    }
    a.max(b) <= length.max(width) && a.min(b) <= length.min(width)
}

fn change(text: &str) -> Result<Change> {
    let fail = |what: String| Failure::new("--what-if", what, HOW);
    let amount = |text: &str| {
        let value: Option<f64> = text.trim().parse().ok();
        let value = value.filter(|v| v.is_finite() && (0.0..=1e9).contains(v));
        value.ok_or_else(|| fail(format!("'{text}' is no amount of 0 or more")))
    };
    match text {
        "no-remnants" => return Ok(Change::NoRemnants),
        "no-offcuts" => return Ok(Change::NoOffcuts),
        _ => {}
    }
    let (key, value) = text
        .split_once(':')
        .ok_or_else(|| fail(format!("'{text}' is not known")))?;
    if key == "without" {
        return Ok(Change::Without(value.to_owned()));
    }
    let (name, value) = value
        .rsplit_once('=')
        .ok_or_else(|| fail(format!("'{text}' has no '='")))?;
    match key {
        "price" => Ok(Change::Price(name.to_owned(), amount(value)?)),
        "role" => Ok(Change::Role(Swap {
            role: name.to_owned(),
            material: value.to_owned(),
        })),
        "machine" => {
            let process = |word: &str| match word {
                "saw" => Ok(Process::Saw),
                "router" => Ok(Process::Router),
                "laser" => Ok(Process::Laser),
                _ => Err(fail(format!("'{word}' is none of saw, router, laser"))),
            };
            Ok(Change::Machine(process(name)?, process(value)?))
        }
        "sheet" => {
            let parts = value.split_once('@').and_then(|(size, price)| {
                let (length, width) = size.split_once('x')?;
                Some((length, width, price))
            });
            let (length, width, price) = parts.ok_or_else(|| {
                fail(format!(
                    "'{value}' is not LENGTHxWIDTH@PRICE in millimetres"
                ))
            })?;
            let side = |text: &str| match amount(text)? {
                side if (1.0..=100_000.0).contains(&side) => Ok(side),
                side => Err(fail(format!("a sheet of {side} mm is none"))),
            };
            Ok(Change::Sheet(
                name.to_owned(),
                side(length)?,
                side(width)?,
                amount(price)?,
            ))
        }
        _ => Err(fail(format!("'{key}' is not known"))),
    }
}

/// The job of an order with a role filled otherwise and with what-ifs.
///
/// Every sheet size is to be had in any number: what the stock lacks is bought.
///
/// # Errors
/// As for [`Job::read`], of the order as changed: a machine that must not cut the material, a part that no
/// sheet holds.
pub fn job(files: &JobFiles, swap: Option<&Swap>, what_if: Option<&WhatIf>) -> Result<Job> {
    let changes = what_if.map_or(&[][..], |w| &w.changes);
    let fill = |order: &mut OrderFile| {
        let roles = changes.iter().filter_map(|c| match c {
            Change::Role(swap) => Some(swap),
            _ => None,
        });
        for Swap { role, material } in roles.chain(swap) {
            order.roles.insert(role.clone(), material.clone());
        }
    };
    let stock = |shop: &mut Shop| change_shop(shop, changes);
    let reroute = |kit: &mut KitFile| {
        for change in changes {
            if let Change::Machine(from, to) = change {
                kit.parts
                    .iter_mut()
                    .for_each(|p| p.route = rerouted(p.route, *from, *to));
            }
        }
    };
    let revision = Revision {
        order: &fill,
        shop: &stock,
        kit: &reroute,
    };
    let mut job = files.job(&revision)?;
    if what_if.is_some_and(|w| w.has(&Change::NoOffcuts)) {
        for material in &mut job.shop.materials {
            material.keep.nothing();
        }
    }
    Ok(job)
}

/// The name, or with a number after it where a sheet of the shop is called so: work is counted by it.
fn new_id(shop: &Shop, name: &str) -> String {
    let taken = |id: &String| shop.sheets.iter().any(|s| s.id == *id);
    let numbered = (2..).map(|n| format!("{name}-{n}"));
    let mut ids = std::iter::once(name.to_owned()).chain(numbered);
    ids.find(|id| !taken(id)).unwrap_or_default()
}

fn change_shop(shop: &mut Shop, changes: &[Change]) {
    for change in changes {
        match change {
            Change::Price(id, price) => {
                let sheets = shop.sheets.iter_mut().filter(|s| s.id == *id);
                sheets.for_each(|s| s.price = *price);
            }
            Change::Without(id) => shop.sheets.retain(|s| s.id != *id),
            Change::Sheet(material, length, width, price) => shop.sheets.push(Sheet {
                id: new_id(shop, &format!("{material}-{length}x{width}")),
                material: material.clone(),
                length: *length,
                width: *width,
                price: *price,
                stock: None,
                lot: None,
                place: None,
            }),
            Change::NoRemnants => shop.remnants.clear(),
            Change::Machine(..) | Change::NoOffcuts | Change::Role(_) => {}
        }
    }
    in_any_number(shop);
}

/// Every sheet size is to be had in any number: what the stock lacks is bought.
pub fn in_any_number(shop: &mut Shop) {
    for sheet in &mut shop.sheets {
        sheet.stock = None;
    }
}

/// The route of a part when what went to one machine goes to another. A part that is sawn and then finished
/// goes to the other machine whole.
fn rerouted(route: Route, from: Process, to: Process) -> Route {
    let touched = match route {
        Route::Saw => from == Process::Saw,
        Route::SawThenRouter => matches!(from, Process::Saw | Process::Router),
        Route::Router => from == Process::Router,
        Route::Laser => from == Process::Laser,
    };
    match to {
        _ if !touched => route,
        Process::Saw => Route::Saw,
        Process::Router => Route::Router,
        Process::Laser => Route::Laser,
    }
}

/// What one of an estimate is: the kits of an order in their proportion, or all of the order.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct One {
    /// Of each line of the order's kits.
    pub kits: Vec<u32>,
    /// Of each line of the order's single parts.
    pub singles: Vec<u32>,
    /// Whether it is the order as it stands.
    pub whole_order: bool,
}

impl One {
    /// The order as it stands.
    #[must_use]
    pub fn order(job: &Job) -> Self {
        Self {
            kits: job.kits.iter().map(|k| k.quantity).collect(),
            singles: job.singles.iter().map(|s| s.quantity).collect(),
            whole_order: true,
        }
    }

    /// The smallest number of kits in the order's proportion, single parts left out; without kits, the
    /// smallest number of single parts.
    #[must_use]
    pub fn set(job: &Job) -> Self {
        let all = Self::order(job);
        let lines = if all.kits.is_empty() {
            &all.singles
        } else {
            &all.kits
        };
        let divisor = lines.iter().copied().fold(0, gcd).max(1);
        let reduced = |lines: &[u32]| lines.iter().map(|n| n / divisor).collect::<Vec<_>>();
        Self {
            singles: match all.kits.is_empty() {
                true => reduced(&all.singles),
                false => vec![0; all.singles.len()],
            },
            kits: reduced(&all.kits),
            whole_order: false,
        }
    }

    /// Kits in it.
    #[must_use]
    pub fn kit_count(&self) -> u32 {
        self.kits.iter().sum()
    }

    /// In words.
    #[must_use]
    pub fn words(&self, job: &Job) -> String {
        let kits = job
            .kits
            .iter()
            .zip(&self.kits)
            .map(|(k, n)| (k.kit.as_str(), *n));
        let singles = job.singles.iter().zip(&self.singles);
        let singles = singles.map(|(s, n)| (job.items[s.item].part.as_str(), *n));
        let words: Vec<String> = kits
            .chain(singles)
            .filter(|(_, n)| *n > 0)
            .map(|(name, n)| format!("{n} x {name}"))
            .collect();
        words.join(", ")
    }

    /// The job of so many of it: in one material only if given, with the first so many of that material's
    /// remnants if given.
    #[must_use]
    pub fn job(
        &self,
        job: &Job,
        quantity: u32,
        material: Option<usize>,
        remnants: Option<usize>,
    ) -> Job {
        let mut job = job.clone();
        let wanted = |item: usize, items: &[crate::job::Item]| {
            material.is_none_or(|m| items[item].material == m)
        };
        for item in &mut job.items {
            item.quantity = 0;
        }
        for (kit, n) in job.kits.iter_mut().zip(&self.kits) {
            kit.quantity = n * quantity;
            kit.parts.retain(|(item, _)| wanted(*item, &job.items));
            for (item, each) in &kit.parts {
                job.items[*item].quantity += each * kit.quantity;
            }
        }
        for (single, n) in job.singles.iter_mut().zip(&self.singles) {
            single.quantity = n * quantity;
        }
        job.singles
            .retain(|s| s.quantity > 0 && wanted(s.item, &job.items));
        job.kits.retain(|k| k.quantity > 0 && !k.parts.is_empty());
        for single in &job.singles {
            job.items[single.item].quantity += single.quantity;
        }
        if let Some(material) = material {
            let name = &job.shop.materials[material].name;
            job.shop.remnants.retain(|r| r.material == *name);
            job.shop.remnants.truncate(remnants.unwrap_or(usize::MAX));
        }
        job
    }
}

fn gcd(a: u32, b: u32) -> u32 {
    if b == 0 { a } else { gcd(b, a % b) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_ifs_are_read_or_named() {
        let read =
            WhatIf::parse("price:C1=70.5, sheet:composite-3=3050x1500@120,machine:router=laser")
                .expect("understood");
        assert_eq!(
            read.changes,
            [
                Change::Price("C1".into(), 70.5),
                Change::Sheet("composite-3".into(), 3050.0, 1500.0, 120.0),
                Change::Machine(Process::Router, Process::Laser),
            ]
        );
        for bad in [
            "",
            "cheaper",
            "price:C1",
            "price:C1=-3",
            "sheet:a=3x",
            "machine:saw=axe",
            "x:y=z",
        ] {
            let failure = WhatIf::parse(bad).expect_err(bad);
            assert_eq!(failure.place, "--what-if");
        }
    }

    #[test]
    fn sets_keep_the_proportion() {
        assert_eq!([6, 4, 10].into_iter().fold(0, gcd), 2);
        assert_eq!([7].into_iter().fold(0, gcd), 7);
    }
}

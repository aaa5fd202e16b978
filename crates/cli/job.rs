//! An order with everything it names, read, checked and in millimetres.

use crate::input::{LabelStock, Machine, Material, Process, Room, Sheet};
use crate::rates::Rates;
use crate::remnant::Remnant;
use panelwright_geometry::Outline;
use panelwright_nesting::Turn;
use std::collections::BTreeMap;

/// The shop as far as a job needs it; lengths in millimetres.
#[derive(Debug, Clone, Default)]
pub struct Shop {
    /// Name for papers.
    pub name: String,
    /// Currency label.
    pub currency: String,
    /// How papers are written.
    pub paper: crate::paper::Paper,
    /// What labels are printed on.
    pub labels: LabelStock,
    /// Materials; items and sheets refer to them by index or name.
    pub materials: Vec<Material>,
    /// Machines.
    pub machines: Vec<Machine>,
    /// Sheets, with what is in stock now.
    pub sheets: Vec<Sheet>,
    /// Remnants on the rack now.
    pub remnants: Vec<Remnant>,
    /// Remnants on the rack that are held for another order.
    pub held: Vec<Remnant>,
    /// Remnants on a large rack that promise the order less than others and are left aside.
    pub aside: Vec<Remnant>,
    /// How much the rack holds.
    pub room: Vec<Room>,
    /// What is left of each purchase that the rack knows, by sheet id, in the order in which they are used
    /// up; see [`Shop::purchases_of`].
    pub purchases: BTreeMap<String, Vec<Purchase>>,
    /// What its work costs and how long it takes.
    pub rates: Rates,
}

/// Sheets of one size that came together.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Purchase {
    /// Its name; sheets without one match nothing but each other.
    pub lot: Option<String>,
    /// How many are left; `None` for any number.
    pub count: Option<u32>,
}

impl Shop {
    /// The machine for a process, as an index. A route names a process, and the first machine for it does all of the work.
    #[must_use]
    pub fn first(&self, process: Process) -> Option<usize> {
        self.machines.iter().position(|m| m.process == process)
    }

    /// The router or laser that gives a part its outline, as an index: the machine that frees it, or where that is the saw
    /// and it is `finished` after it, the router. `None` where nothing but the saw touches it.
    ///
    /// # Panics
    /// When the shop has no machine of this index.
    #[must_use]
    pub fn finisher(&self, machine: usize, finished: bool) -> Option<usize> {
        match self.machines[machine].process {
            Process::Router | Process::Laser => Some(machine),
            Process::Saw => self.first(Process::Router).filter(|_| finished),
        }
    }

    /// The sheets in stock by their purchases, in the order in which these are used up. What the rack knows
    /// no purchase of has the lot of the shop file; it comes first where sheets are counted, else last.
    #[must_use]
    pub fn purchases_of(&self, sheet: &Sheet) -> Vec<Purchase> {
        let mut left = sheet.stock;
        let mut all = Vec::new();
        let known = self.purchases.get(&sheet.id).into_iter().flatten();
        let rest = Purchase {
            lot: sheet.lot.clone(),
            count: None,
        };
        for purchase in known.chain([&rest]) {
            let count = left.map(|n| purchase.count.map_or(n, |count| n.min(count)));
            let count = count.or(purchase.count);
            left = left.map(|n| n - count.unwrap_or(0));
            if count != Some(0) {
                all.push(Purchase {
                    lot: purchase.lot.clone(),
                    count,
                });
            }
        }
        all
    }
}

/// One part of the order and how many copies of it are wanted in all.
#[derive(Debug, Clone)]
pub struct Item {
    /// The part's name in its kit.
    pub part: String,
    /// The kit's name.
    pub kit: String,
    /// Text for its label.
    pub label: String,
    /// Shape, with true arcs, moved so that its bounds begin at the origin.
    pub outline: Outline,
    /// How many, kits and spares together.
    pub quantity: u32,
    /// Index into [`Shop::materials`].
    pub material: usize,
    /// Index into [`Shop::machines`]: the machine that frees it.
    pub machine: usize,
    /// Whether the router finishes it after the saw.
    pub finish_on_router: bool,
    /// How it may be turned.
    pub turn: Turn,
    /// Grain in the part as drawn, degrees.
    pub grain_deg: Option<f64>,
    /// Faces that must be good.
    pub good_faces: u8,
}

/// So many of one kit, as a line of the order asks for them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KitOrder {
    /// The kit's name.
    pub kit: String,
    /// How many kits.
    pub quantity: u32,
    /// What comes first when stock is short: the higher number.
    pub priority: i32,
    /// Items of the kit, as indices, and how many of each one kit holds; each item once.
    pub parts: Vec<(usize, u32)>,
}

/// So many of one item beside all kits.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SingleOrder {
    /// Index into [`Job::items`].
    pub item: usize,
    /// How many.
    pub quantity: u32,
    /// As that of a kit.
    pub priority: i32,
}

/// An order ready to be nested.
#[derive(Debug, Clone)]
pub struct Job {
    /// Name of the order.
    pub order: String,
    /// Day it must leave.
    pub due: Option<String>,
    /// Kits ordered, as the order lists them.
    pub kits: Vec<KitOrder>,
    /// Single parts ordered: spares, replacements.
    pub singles: Vec<SingleOrder>,
    /// The shop.
    pub shop: Shop,
    /// What is to be cut.
    pub items: Vec<Item>,
    /// What was noticed while reading: healed drawings, ignored layers.
    pub notes: Vec<String>,
    /// Text on layers that are cut, which is neither cut nor marked: the drawing, and what the notes say of
    /// it.
    pub text_left: Vec<(String, String)>,
}

impl Job {
    /// The kits ordered, as `6 x cabinet, 2 x drawer`; empty when there are none.
    #[must_use]
    pub fn kit_list(&self) -> String {
        let kits = self.kits.iter();
        let kits: Vec<String> = kits
            .map(|k| format!("{} x {}", k.quantity, k.kit))
            .collect();
        kits.join(", ")
    }

    /// The material of an item.
    #[must_use]
    pub fn material_of(&self, item: &Item) -> &Material {
        &self.shop.materials[item.material]
    }

    /// The machine of an item.
    #[must_use]
    pub fn machine_of(&self, item: &Item) -> &Machine {
        &self.shop.machines[item.machine]
    }

    /// The router or laser that gives an item its outline, as an index; see [`Shop::finisher`].
    #[must_use]
    pub fn finisher(&self, item: &Item) -> Option<usize> {
        self.shop.finisher(item.machine, item.finish_on_router)
    }

    /// The processes that the order uses, in the order saw, router, laser.
    #[must_use]
    pub fn processes(&self) -> Vec<Process> {
        [Process::Saw, Process::Router, Process::Laser]
            .into_iter()
            .filter(|process| {
                self.items.iter().any(|item| {
                    self.machine_of(item).process == *process
                        || item.finish_on_router && *process == Process::Router
                })
            })
            .collect()
    }
}

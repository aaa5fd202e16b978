//! The rates that time and money are worked out with: what the shop has set, and a placeholder, named as such, for
//! the rest.

use crate::input::{
    Buying, Checker, Costing, Cutting, Labour, Machine, Material, Process, ShopFile, Substance,
    suggestion,
};
use crate::number::plain;
use crate::paper::Paper;
use crate::time::feed;
use crate::{Failure, Result};
use std::collections::BTreeMap;
use std::path::Path;

/// A number that money or time is worked out with.
#[derive(Debug, Clone, PartialEq)]
pub struct Figure {
    /// What it is, such as `router: set-up`; its identity, in English.
    pub name: String,
    /// The message of that name, and what it names.
    of: (&'static str, Vec<(&'static str, String)>),
    /// How much.
    pub value: f64,
    /// The message of its unit; empty for a plain number.
    unit: &'static str,
    /// Whether the shop has set it; a placeholder otherwise.
    pub set: bool,
}

impl Figure {
    fn new(
        message: &'static str,
        of: &[(&'static str, &str)],
        set: Option<f64>,
        placeholder: f64,
        unit: &'static str,
    ) -> Self {
        let of = of.iter().map(|(key, value)| (*key, plain(value))).collect();
        let of = (message, of);
        Self {
            name: named(&of, &Paper::default()),
            of,
            value: set.unwrap_or(placeholder),
            unit,
            set: set.is_some(),
        }
    }

    /// What it is, how much, and of what, for papers.
    #[must_use]
    pub fn words(&self, paper: &Paper) -> String {
        let (name, value) = (named(&self.of, paper), paper.short(self.value, 4));
        match self.unit {
            "" => format!("{name} {value}"),
            unit => format!("{name} {value} {}", paper.say(unit)),
        }
    }
}

fn named((message, of): &(&'static str, Vec<(&'static str, String)>), paper: &Paper) -> String {
    let values: Vec<_> = of
        .iter()
        .map(|(key, value)| (*key, value.as_str().into()))
        .collect();
    paper.say_with(message, &values)
}

/// All rates of a shop.
#[derive(Debug, Clone)]
pub struct Rates {
    /// Decimals of the currency.
    pub decimals: u32,
    /// Share of the price that is not cost.
    pub margin: Figure,
    /// Learning rate of bench work; 1 for none.
    pub learning: Figure,
    /// Most that one person lifts, kg.
    pub one_person_kg: Figure,
    /// Operator, per hour.
    pub machining: Figure,
    /// Bench, per hour.
    pub bench: Figure,
    /// Boxes and the like for one kit.
    pub packing: Figure,
    /// Minutes to pack one kit.
    pub packing_kit_minutes: Figure,
    /// Minutes to pack each part.
    pub packing_part_minutes: Figure,
    /// As the shop's machines.
    pub machines: Vec<MachineRates>,
    /// As the shop's materials.
    pub materials: Vec<MaterialRates>,
    /// By sheet identity.
    pub buying: BTreeMap<String, Buying>,
}

/// Rates of a machine.
#[derive(Debug, Clone)]
pub struct MachineRates {
    /// The machine alone.
    pub per_hour: Figure,
    /// Minutes to set it up for a material.
    pub set_up: Figure,
    /// Minutes to load and unload a piece of stock or a blank.
    pub load: Figure,
    /// Minutes to load and unload a part that is finished on it.
    pub part: Figure,
    /// Share of its running time that an operator stands by.
    pub attended: Figure,
}

/// Rates of a material.
#[derive(Debug, Clone)]
pub struct MaterialRates {
    /// Protective film, per square metre.
    pub film: Figure,
    /// Thickness of a metal skin in mm, where it was set.
    pub skin_mm: Option<f64>,
    /// Modulus of elasticity in GPa, where it was set.
    pub modulus_gpa: Option<f64>,
    /// As the shop's machines.
    pub cutting: Vec<CuttingRates>,
}

/// How a material is cut on a machine.
#[derive(Debug, Clone)]
pub struct CuttingRates {
    /// Millimetres a minute along the cut.
    pub speed: Figure,
    /// Times round.
    pub passes: Figure,
    /// Seconds for each start.
    pub start: Figure,
    /// Tools, per metre.
    pub tool: Figure,
    /// Bench minutes per metre of edge.
    pub edge: Figure,
}

impl Rates {
    /// The rates that a shop file sets, completed.
    ///
    /// # Errors
    /// The first value that makes no sense or name that the shop does not know, with its place.
    pub fn read(file: &ShopFile, path: &Path) -> Result<Self> {
        let check = Check {
            checker: Checker { file: path },
        };
        check.names(file)?;
        check.all(&file.costing)?;
        if let Some(labour) = file.labour {
            for (key, value) in [
                ("machining_per_hour", labour.machining_per_hour),
                ("bench_per_hour", labour.bench_per_hour),
            ] {
                check.checker.money(&format!("labour.{key}"), value)?;
            }
        }
        Ok(Self::of(
            &file.costing,
            file.labour,
            &file.machines,
            &file.materials,
            file.units.in_mm(),
        ))
    }

    /// What a shop with these machines and materials has set, completed; thicknesses are in a unit of `mm` millimetres.
    pub(crate) fn of(
        costing: &Costing,
        labour: Option<Labour>,
        machines: &[Machine],
        materials: &[Material],
        mm: f64,
    ) -> Self {
        let by_material = materials
            .iter()
            .map(|m| material_rates(m, machines, costing, mm));
        Self {
            decimals: costing.decimals.unwrap_or(2),
            margin: Figure::new(
                "estimate-rate-margin",
                &[],
                costing.margin,
                0.3,
                "estimate-unit-of-the-price",
            ),
            learning: Figure::new("estimate-rate-learning", &[], costing.learning, 1.0, ""),
            one_person_kg: Figure::new(
                "estimate-rate-one-person",
                &[],
                costing.one_person_kg,
                ONE_PERSON_KG,
                "estimate-unit-kg",
            ),
            machining: Figure::new(
                "estimate-rate-operator",
                &[],
                labour.map(|l| l.machining_per_hour),
                45.0,
                "estimate-unit-an-hour",
            ),
            bench: Figure::new(
                "estimate-rate-bench",
                &[],
                labour.map(|l| l.bench_per_hour),
                35.0,
                "estimate-unit-an-hour",
            ),
            packing: Figure::new(
                "estimate-rate-packing-material",
                &[],
                costing.packing_per_kit,
                4.0,
                "estimate-unit-a-kit",
            ),
            packing_kit_minutes: Figure::new(
                "estimate-rate-packing-kit",
                &[],
                costing.packing_minutes_per_kit,
                6.0,
                "estimate-unit-minutes",
            ),
            packing_part_minutes: Figure::new(
                "estimate-rate-packing-part",
                &[],
                costing.packing_minutes_per_part,
                0.4,
                "estimate-unit-minutes",
            ),
            machines: machines.iter().map(|m| machine_rates(m, costing)).collect(),
            materials: by_material.collect(),
            buying: costing.buying.clone(),
        }
    }
}

/// Those of a shop that has no machine and no material and sets nothing.
impl Default for Rates {
    fn default() -> Self {
        Self::of(&Costing::default(), None, &[], &[], 1.0)
    }
}

/// What one person lifts when a wide sheet is held 60 cm from the body: 23 kg * 25 / 60 by the NIOSH equation.
/// Source: Applications Manual, DHHS (NIOSH) 94-110; see [`lifting`](crate::estimate::lifting).
const ONE_PERSON_KG: f64 = 9.6;

/// Placeholders of a machine. Set-up, loading and attending are common practice (2 to 5 minutes a sheet to
/// load and unload); the price of an hour is invented and has to be set.
fn machine_rates(machine: &Machine, costing: &Costing) -> MachineRates {
    let set = costing.machines.get(&machine.name);
    let (per_hour, set_up) = match machine.process {
        Process::Saw => (14.0, 8.0),
        Process::Router => (28.0, 15.0),
        Process::Laser => (32.0, 10.0),
    };
    let of = [("machine", machine.name.as_str())];
    MachineRates {
        per_hour: Figure::new(
            "estimate-rate-machine",
            &of,
            set.and_then(|s| s.per_hour),
            per_hour,
            "estimate-unit-an-hour",
        ),
        set_up: Figure::new(
            "estimate-rate-set-up",
            &of,
            set.and_then(|s| s.set_up_minutes),
            set_up,
            "estimate-unit-minutes",
        ),
        load: Figure::new(
            "estimate-rate-loading-piece",
            &of,
            set.and_then(|s| s.load_minutes),
            3.0,
            "estimate-unit-minutes",
        ),
        part: Figure::new(
            "estimate-rate-loading-part",
            &of,
            set.and_then(|s| s.part_minutes),
            0.8,
            "estimate-unit-minutes",
        ),
        // A laser is never left alone, a saw cannot be; a router is watched by default.
        attended: Figure::new(
            "estimate-rate-attended",
            &of,
            set.and_then(|s| s.attended),
            1.0,
            "estimate-unit-of-its-time",
        ),
    }
}

fn material_rates(
    material: &Material,
    machines: &[Machine],
    costing: &Costing,
    mm: f64,
) -> MaterialRates {
    let set = costing.materials.get(&material.name);
    let cutting = machines
        .iter()
        .map(|machine| {
            let set = set.and_then(|s| s.cutting.get(&machine.name));
            cutting_rates(material, machine, set, material.thickness * mm)
        })
        .collect();
    MaterialRates {
        film: Figure::new(
            "estimate-rate-film",
            &[("material", material.name.as_str())],
            set.and_then(|s| s.film_per_m2),
            0.3,
            "estimate-unit-a-square-metre",
        ),
        skin_mm: set.and_then(|s| s.skin_mm),
        modulus_gpa: set.and_then(|s| s.modulus_gpa),
        cutting,
    }
}

/// Placeholders of cutting, thickness in millimetres: speed in mm a minute, passes, seconds for a start,
/// tools per metre, bench minutes per metre.
///
/// # Source
/// Router, composite: 18 000 rpm, two flutes, chip load 0.1 mm (common practice: 3 to 6 mm tools, 0.05 to
/// 0.15 mm, 2 to 6 m a minute). Acrylic: 0.15 mm on one flute (0.1 to 0.3 mm, 1 to 4 m a minute). Solid
/// aluminium: 0.05 mm on one flute and a pass for each 2 mm, from memory. Laser: 12.5 mm a second at 3 mm, in
/// inverse proportion to the thickness (a teaching laboratory's table for 60 W has 10 to 15 at 3 mm, 5 to 8 at
/// 6 mm); pierce of 0.3 s (0.2 to 0.5). Saw: 15 m a minute in composite (a fabrication article has 10 to 30).
/// Edges: 0.75 minutes a metre (common practice: 0.5 to 1, both faces); lasered acrylic needs none. Tools are
/// invented.
fn cutting_placeholder(substance: Substance, process: Process, thickness: f64) -> [f64; 5] {
    let metal = substance == Substance::Aluminium;
    match process {
        Process::Saw => {
            let (m_per_min, tool) = match substance {
                Substance::Aluminium => (5.0, 0.10),
                Substance::Acrylic | Substance::Polycarbonate => (8.0, 0.05),
                _ => (15.0, 0.04),
            };
            [m_per_min * 1e3, 1.0, 20.0, tool, 0.75]
        }
        Process::Router => {
            let (flutes, chip, tool) = match substance {
                Substance::Aluminium => (1.0, 0.05, 0.12),
                Substance::Acrylic | Substance::Polycarbonate => (1.0, 0.15, 0.05),
                _ => (2.0, 0.1, 0.04),
            };
            let passes = if metal {
                (thickness / 2.0).ceil().max(1.0)
            } else {
                1.0
            };
            [feed(18_000.0, flutes, chip), passes, 2.0, tool, 0.75]
        }
        Process::Laser => {
            let edge = if substance == Substance::Acrylic {
                0.0
            } else {
                0.5
            };
            [12.5 * 60.0 * 3.0 / thickness, 1.0, 0.8, 0.01, edge]
        }
    }
}

fn cutting_rates(
    material: &Material,
    machine: &Machine,
    set: Option<&Cutting>,
    thickness: f64,
) -> CuttingRates {
    let [speed, passes, start, tool, edge] =
        cutting_placeholder(material.substance, machine.process, thickness);
    let spindle = set.and_then(|s| Some(feed(s.rpm?, s.flutes?, s.chip_load_mm?)));
    let of = [
        ("material", material.name.as_str()),
        ("machine", machine.name.as_str()),
    ];
    CuttingRates {
        speed: Figure::new(
            "estimate-rate-speed",
            &of,
            set.and_then(|s| s.cut_mm_per_min).or(spindle),
            speed,
            "estimate-unit-speed",
        ),
        passes: Figure::new(
            "estimate-rate-passes",
            &of,
            set.and_then(|s| s.passes),
            passes,
            "",
        ),
        start: Figure::new(
            "estimate-rate-start",
            &of,
            set.and_then(|s| s.start_seconds),
            start,
            "estimate-unit-seconds",
        ),
        tool: Figure::new(
            "estimate-rate-tools",
            &of,
            set.and_then(|s| s.tool_per_m),
            tool,
            "estimate-unit-a-metre",
        ),
        edge: Figure::new(
            "estimate-rate-edges",
            &of,
            set.and_then(|s| s.edge_minutes_per_m),
            edge,
            "estimate-unit-minutes-a-metre",
        ),
    }
}

/// Checks the costing section.
struct Check<'a> {
    checker: Checker<'a>,
}

/// What values are sensible.
#[derive(Clone, Copy)]
enum Range {
    /// Money or minutes: from 0.
    Amount,
    /// Speeds: above 0.
    Speed,
    /// A share from 0 to 1.
    Share,
}

impl Check<'_> {
    fn fail(&self, place: &str, what: String, advice: impl Into<String>) -> Failure {
        self.checker.fail(format!("costing.{place}"), what, advice)
    }

    /// Refuses names that the shop does not have.
    fn names(&self, file: &ShopFile) -> Result<()> {
        let costing = &file.costing;
        let machines: Vec<&str> = file.machines.iter().map(|m| m.name.as_str()).collect();
        let materials: Vec<&str> = file.materials.iter().map(|m| m.name.as_str()).collect();
        let sheets: Vec<&str> = file.sheets.iter().map(|s| s.id.as_str()).collect();
        let known = |place: String, kind: &str, name: &str, names: &[&str]| {
            if names.contains(&name) {
                return Ok(());
            }
            let what = format!("no {kind} is called '{name}'");
            Err(self.fail(&place, what, suggestion(name, names)))
        };
        for name in costing.machines.keys() {
            known(format!("machines.{name}"), "machine", name, &machines)?;
        }
        for (name, material) in &costing.materials {
            known(format!("materials.{name}"), "material", name, &materials)?;
            for machine in material.cutting.keys() {
                let place = format!("materials.{name}.cutting.{machine}");
                known(place, "machine", machine, &machines)?;
            }
        }
        for (name, buying) in &costing.buying {
            known(format!("buying.{name}"), "sheet", name, &sheets)?;
            for (key, value) in [("least", buying.least), ("multiple", buying.multiple)] {
                if !(1..=10_000).contains(&value) {
                    let place = format!("buying.{name}.{key}");
                    let what = format!("the number of sheets is {value}");
                    return Err(self.fail(&place, what, "give 1 to 10000"));
                }
            }
        }
        Ok(())
    }

    fn value(&self, place: &str, value: Option<f64>, range: Range) -> Result<()> {
        let Some(value) = value else { return Ok(()) };
        let (good, advice) = match range {
            Range::Amount => (
                (0.0..=1e6).contains(&value),
                "give a number from 0 to a million",
            ),
            Range::Speed => (
                value.is_finite() && value > 0.0 && value <= 1e6,
                "give a number above 0, at most a million",
            ),
            Range::Share => ((0.0..=1.0).contains(&value), "give a share from 0 to 1"),
        };
        if good {
            return Ok(());
        }
        Err(self.fail(place, format!("the value is {value}"), advice))
    }

    /// Refuses values out of range.
    fn all(&self, costing: &Costing) -> Result<()> {
        if costing.decimals.is_some_and(|d| d > 4) {
            let what = format!(
                "the currency has {} decimals",
                costing.decimals.unwrap_or(0)
            );
            return Err(self.fail("decimals", what, "give 0 to 4"));
        }
        if costing.margin.is_some_and(|m| !(0.0..=0.95).contains(&m)) {
            let what = format!("the margin is {}", costing.margin.unwrap_or(0.0));
            let advice = "give the share of the price that is not cost, from 0 to 0.95";
            return Err(self.fail("margin", what, advice));
        }
        if costing.learning.is_some_and(|l| !(0.5..=1.0).contains(&l)) {
            let what = format!("the learning rate is {}", costing.learning.unwrap_or(0.0));
            let advice =
                "give 1 for none, 0.9 where twice as many take 90 % of the time each; 0.5 at least";
            return Err(self.fail("learning", what, advice));
        }
        for (place, value, range) in [
            ("one_person_kg", costing.one_person_kg, Range::Speed),
            ("packing_per_kit", costing.packing_per_kit, Range::Amount),
            (
                "packing_minutes_per_kit",
                costing.packing_minutes_per_kit,
                Range::Amount,
            ),
            (
                "packing_minutes_per_part",
                costing.packing_minutes_per_part,
                Range::Amount,
            ),
        ] {
            self.value(place, value, range)?;
        }
        for (name, m) in &costing.machines {
            for (key, value, range) in [
                ("per_hour", m.per_hour, Range::Amount),
                ("set_up_minutes", m.set_up_minutes, Range::Amount),
                ("load_minutes", m.load_minutes, Range::Amount),
                ("part_minutes", m.part_minutes, Range::Amount),
                ("attended", m.attended, Range::Share),
            ] {
                self.value(&format!("machines.{name}.{key}"), value, range)?;
            }
        }
        for (name, m) in &costing.materials {
            for (key, value, range) in [
                ("skin_mm", m.skin_mm, Range::Speed),
                ("modulus_gpa", m.modulus_gpa, Range::Speed),
                ("film_per_m2", m.film_per_m2, Range::Amount),
            ] {
                self.value(&format!("materials.{name}.{key}"), value, range)?;
            }
            for (machine, c) in &m.cutting {
                self.cutting(&format!("materials.{name}.cutting.{machine}"), c)?;
            }
        }
        Ok(())
    }

    fn cutting(&self, at: &str, c: &Cutting) -> Result<()> {
        let spindle = [c.rpm, c.flutes, c.chip_load_mm];
        let given = spindle.iter().flatten().count();
        if given > 0 && (given < 3 || c.cut_mm_per_min.is_some()) {
            let what = "the speed is given in part, or twice".to_owned();
            let advice = "give 'cut_mm_per_min', or all of 'rpm', 'flutes' and 'chip_load_mm'";
            return Err(self.fail(at, what, advice));
        }
        for (key, value, range) in [
            ("cut_mm_per_min", c.cut_mm_per_min, Range::Speed),
            ("rpm", c.rpm, Range::Speed),
            ("flutes", c.flutes, Range::Speed),
            ("chip_load_mm", c.chip_load_mm, Range::Speed),
            ("passes", c.passes, Range::Speed),
            ("start_seconds", c.start_seconds, Range::Amount),
            ("tool_per_m", c.tool_per_m, Range::Amount),
            ("edge_minutes_per_m", c.edge_minutes_per_m, Range::Amount),
        ] {
            self.value(&format!("{at}.{key}"), value, range)?;
        }
        Ok(())
    }
}

impl Rates {
    /// Every figure.
    #[must_use]
    pub fn all(&self) -> Vec<&Figure> {
        let mut all = vec![
            &self.margin,
            &self.learning,
            &self.one_person_kg,
            &self.machining,
            &self.bench,
            &self.packing,
            &self.packing_kit_minutes,
            &self.packing_part_minutes,
        ];
        for m in &self.machines {
            all.extend([&m.per_hour, &m.set_up, &m.load, &m.part, &m.attended]);
        }
        for m in &self.materials {
            all.push(&m.film);
            for c in &m.cutting {
                all.extend([&c.speed, &c.passes, &c.start, &c.tool, &c.edge]);
            }
        }
        all
    }
}

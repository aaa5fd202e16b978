//! Money lines: work at rates. Every amount is rounded to the coin once, and only then summed, so that the
//! lines of any paper add up.

use super::money::Money;
use super::work::{MachineWork, Work};
use crate::input::Process;
use crate::job::Shop;
use crate::paper::Paper;
use crate::rates::{Figure, MachineRates, Rates};
use crate::time;
use std::collections::{BTreeMap, BTreeSet};

/// What money goes for, in the order it is listed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Line {
    /// Sheets taken, at their price.
    Sheets,
    /// Remnants taken, at book value.
    Remnants,
    /// Offcuts kept, at book value: less.
    Offcuts,
    /// Scrap thrown away.
    Disposal,
    /// What the recycler pays: less.
    Recycling,
    /// Running time of the saw.
    Saw,
    /// Running time of the router.
    Router,
    /// Running time of the laser.
    Laser,
    /// Set-ups, machine and operator.
    SetUps,
    /// The operator: standing by, loading and unloading.
    Labour,
    /// Tools and consumables by length of cut.
    Tools,
    /// Edges cleaned at the bench.
    Edges,
    /// Protective film.
    Film,
    /// Packing, material and labour.
    Packing,
}

/// All lines in order.
pub const LINES: [Line; 14] = [
    Line::Sheets,
    Line::Remnants,
    Line::Offcuts,
    Line::Disposal,
    Line::Recycling,
    Line::Saw,
    Line::Router,
    Line::Laser,
    Line::SetUps,
    Line::Labour,
    Line::Tools,
    Line::Edges,
    Line::Film,
    Line::Packing,
];

impl Line {
    /// In words, for papers.
    #[must_use]
    pub fn words(self, paper: &Paper) -> String {
        paper.say(match self {
            Self::Sheets => "estimate-cost-sheets",
            Self::Remnants => "estimate-cost-remnants",
            Self::Offcuts => "estimate-cost-offcuts",
            Self::Disposal => "estimate-cost-disposal",
            Self::Recycling => "estimate-cost-recycling",
            Self::Saw => "estimate-cost-saw",
            Self::Router => "estimate-cost-router",
            Self::Laser => "estimate-cost-laser",
            Self::SetUps => "estimate-cost-set-ups",
            Self::Labour => "estimate-cost-labour",
            Self::Tools => "estimate-cost-tools",
            Self::Edges => "estimate-cost-edges",
            Self::Film => "estimate-cost-film",
            Self::Packing => "estimate-cost-packing",
        })
    }

    /// In one word, for programs.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::Sheets => "sheets",
            Self::Remnants => "remnants",
            Self::Offcuts => "offcuts",
            Self::Disposal => "disposal",
            Self::Recycling => "recycling",
            Self::Saw => "saw",
            Self::Router => "router",
            Self::Laser => "laser",
            Self::SetUps => "set_ups",
            Self::Labour => "labour",
            Self::Tools => "tools",
            Self::Edges => "edges",
            Self::Film => "film",
            Self::Packing => "packing",
        }
    }

    const fn of(process: Process) -> Self {
        match process {
            Process::Saw => Self::Saw,
            Process::Router => Self::Router,
            Process::Laser => Self::Laser,
        }
    }
}

/// An amount with what it is for and what it rests on.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    /// What it is for.
    pub line: Line,
    /// Index into the shop's materials; `None` for what belongs to none, such as boxes.
    pub material: Option<usize>,
    /// Rounded to the coin; below 0 when it lowers the cost.
    pub amount: Money,
    /// The placeholders it is worked out with, by name.
    pub placeholders: BTreeSet<String>,
}

/// Minutes by what they are for.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Minutes {
    /// Running time.
    pub saw: f64,
    /// Running time.
    pub router: f64,
    /// Running time.
    pub laser: f64,
    /// Set-ups.
    pub set_up: f64,
    /// The operator, set-ups not counted.
    pub operator: f64,
    /// Bench: edges and packing.
    pub bench: f64,
}

impl Minutes {
    /// The sum of both.
    pub fn add(&mut self, other: &Self) {
        self.saw += other.saw;
        self.router += other.router;
        self.laser += other.laser;
        self.set_up += other.set_up;
        self.operator += other.operator;
        self.bench += other.bench;
    }
}

/// Entries and times of some work.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Cost {
    /// Amounts, those of one line and material together.
    pub entries: Vec<Entry>,
    /// Times.
    pub minutes: Minutes,
}

impl Cost {
    /// The sum of all entries, exactly.
    #[must_use]
    pub fn total(&self) -> Money {
        self.entries.iter().map(|e| e.amount).sum()
    }

    /// The sum of a line's entries.
    #[must_use]
    pub fn line(&self, line: Line) -> Money {
        let of_line = self.entries.iter().filter(|e| e.line == line);
        of_line.map(|e| e.amount).sum()
    }

    /// Lines that have any entry, with their sums: together the total.
    #[must_use]
    pub fn lines(&self) -> Vec<(Line, Money)> {
        let used = |line: &Line| self.entries.iter().any(|e| e.line == *line);
        LINES
            .into_iter()
            .filter(used)
            .map(|line| (line, self.line(line)))
            .collect()
    }

    /// Takes in other entries.
    pub fn add(&mut self, other: Self) {
        self.entries.extend(other.entries);
        self.minutes.add(&other.minutes);
    }

    /// The sum of entries that rest on a placeholder; what lowers the cost is taken off it.
    #[must_use]
    pub fn on_placeholders(&self) -> Money {
        let resting = self.entries.iter().filter(|e| !e.placeholders.is_empty());
        resting.map(|e| e.amount).sum()
    }
}

/// Adds entries of one material.
struct Writer<'a> {
    rates: &'a Rates,
    material: Option<usize>,
    amounts: BTreeMap<Line, (Money, BTreeSet<String>)>,
}

impl<'a> Writer<'a> {
    fn new(rates: &'a Rates, material: Option<usize>) -> Self {
        Self {
            rates,
            material,
            amounts: BTreeMap::new(),
        }
    }

    fn add(&mut self, line: Line, amount: Money, figures: &[&Figure]) {
        if amount.is_zero() {
            return;
        }
        let (sum, placeholders) = self.amounts.entry(line).or_default();
        *sum += amount;
        let open = figures.iter().filter(|f| !f.set);
        placeholders.extend(open.map(|f| f.name.clone()));
    }

    fn entries(self) -> Vec<Entry> {
        let decimals = self.rates.decimals;
        self.amounts
            .into_iter()
            .map(|(line, (amount, placeholders))| Entry {
                line,
                material: self.material,
                amount: amount.rounded(decimals),
                placeholders,
            })
            .collect()
    }
}

/// What work in a material costs, for so many kits: practice makes the bench faster.
///
/// # Panics
/// When the material or a machine of the work is not of the shop.
#[must_use]
pub fn of_work(work: &Work, material: usize, shop: &Shop, rates: &Rates, kits: u32) -> Cost {
    let of = &shop.materials[material];
    let mut writer = Writer::new(rates, Some(material));
    let mut minutes = Minutes::default();
    let sheets = work
        .sheets
        .values()
        .map(|(count, price)| price.times(*count));
    writer.add(Line::Sheets, sheets.sum(), &[]);
    writer.add(Line::Remnants, work.remnants.values().copied().sum(), &[]);
    writer.add(Line::Offcuts, -work.kept_value, &[]);
    let disposal = Money::at_rate(work.scrap_m2, of.disposal_per_m2);
    writer.add(Line::Disposal, disposal, &[]);
    let credit = Money::at_rate(work.scrap_m2, of.recycling_credit_per_m2);
    writer.add(Line::Recycling, -credit, &[]);
    let learnt = time::average_share(rates.learning.value, kits);
    for (machine, machine_work) in &work.machines {
        let process = shop.machines[*machine].process;
        machine_entries(
            &mut writer,
            &mut minutes,
            process,
            machine_work,
            (material, *machine),
            learnt,
        );
    }
    let film = &rates.materials[material].film;
    writer.add(
        Line::Film,
        Money::at_rate(work.part_m2, film.value),
        &[film],
    );
    let packing = &rates.packing_part_minutes;
    let bench = f64::from(work.parts) * packing.value * learnt;
    minutes.bench += bench;
    let amount = Money::at_rate(bench / 60.0, rates.bench.value);
    writer.add(Line::Packing, amount, &[packing, &rates.bench]);
    Cost {
        entries: writer.entries(),
        minutes,
    }
}

fn machine_entries(
    writer: &mut Writer,
    minutes: &mut Minutes,
    process: Process,
    work: &MachineWork,
    (material, machine): (usize, usize),
    learnt: f64,
) {
    let rates = writer.rates;
    let cutting = &rates.materials[material].cutting[machine];
    let MachineRates {
        per_hour,
        set_up,
        load,
        part,
        attended,
    } = &rates.machines[machine];
    let running = time::minutes(
        work.cut_m * 1e3,
        cutting.passes.value,
        cutting.speed.value,
        work.starts,
        cutting.start.value,
    );
    match process {
        Process::Saw => minutes.saw += running,
        Process::Router => minutes.router += running,
        Process::Laser => minutes.laser += running,
    }
    let hours = |minutes: f64, rate: &Figure| Money::at_rate(minutes / 60.0, rate.value);
    let timing = [&cutting.speed, &cutting.passes, &cutting.start];
    let mut figures = timing.to_vec();
    figures.push(per_hour);
    writer.add(Line::of(process), hours(running, per_hour), &figures);

    minutes.set_up += set_up.value;
    let amount = hours(set_up.value, per_hour) + hours(set_up.value, &rates.machining);
    writer.add(Line::SetUps, amount, &[set_up, per_hour, &rates.machining]);

    // A piece above what one person lifts takes two.
    let standing_by = running * attended.value;
    let loading = f64::from(work.pieces + work.heavy) * load.value;
    let parts = f64::from(work.parts) * part.value;
    minutes.operator += standing_by + loading + parts;
    let operator = &rates.machining;
    let mut figures = timing.to_vec();
    figures.extend([attended, operator]);
    writer.add(Line::Labour, hours(standing_by, operator), &figures);
    let mut figures = vec![load, operator];
    if work.pieces > 0 {
        figures.push(&rates.one_person_kg);
    }
    writer.add(Line::Labour, hours(loading, operator), &figures);
    writer.add(Line::Labour, hours(parts, operator), &[part, operator]);

    let tool_m = work.cut_m * cutting.passes.value;
    let amount = Money::at_rate(tool_m, cutting.tool.value);
    writer.add(Line::Tools, amount, &[&cutting.tool, &cutting.passes]);

    let bench = work.edge_m * cutting.edge.value * learnt;
    minutes.bench += bench;
    let amount = Money::at_rate(bench / 60.0, rates.bench.value);
    writer.add(Line::Edges, amount, &[&cutting.edge, &rates.bench]);
}

/// What belongs to kits and to no material: boxes, and packing them.
#[must_use]
pub fn of_kits(rates: &Rates, kits: u32) -> Cost {
    let mut writer = Writer::new(rates, None);
    let material = Money::of(rates.packing.value).times(kits);
    writer.add(Line::Packing, material, &[&rates.packing]);
    let learnt = time::average_share(rates.learning.value, kits);
    let bench = f64::from(kits) * rates.packing_kit_minutes.value * learnt;
    let amount = Money::at_rate(bench / 60.0, rates.bench.value);
    writer.add(
        Line::Packing,
        amount,
        &[&rates.packing_kit_minutes, &rates.bench],
    );
    Cost {
        entries: writer.entries(),
        minutes: Minutes {
            bench,
            ..Minutes::default()
        },
    }
}

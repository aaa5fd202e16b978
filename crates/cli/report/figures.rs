//! What the papers say, as numbers: counted and grouped, not yet rounded.

use crate::area::MM2_PER_M2;
use crate::cut_plan::{Cause, CutPlan, CutSheet};
use crate::input::Process;
use crate::job::Job;
use crate::number;
use crate::remnant::NOT_PLACED;
use crate::toolpath::{CutFigures, ToolPaths};
use panelwright_geometry::Point;
use panelwright_nesting::StockKind;

/// Everything a report says about a plan, in the order it says it.
#[derive(Debug, Clone, PartialEq)]
pub struct Figures {
    /// Parts placed.
    pub placed: usize,
    /// Parts wanted.
    pub wanted: u32,
    /// What is cut from what: the stock taken, one line per kind.
    pub taken: Vec<Taken>,
    /// The sheets in cutting order.
    pub sheets: Vec<SheetFigures>,
    /// Left-overs worth keeping, over all sheets.
    pub kept: Vec<Kept>,
    /// What could not be placed.
    pub missing: Vec<MissingLine>,
    /// The spend line by line; together they are the plan's spend.
    pub spend: Vec<SpendLine>,
}

/// Equal sheets, or one remnant, that the plan takes.
#[derive(Debug, Clone, PartialEq)]
pub struct Taken {
    /// Identity of the sheet size or remnant.
    pub id: String,
    /// Bought or left over.
    pub kind: StockKind,
    /// Material by name.
    pub material: String,
    /// Where it stands.
    pub place: Option<String>,
    /// How many.
    pub count: usize,
    /// Their numbers in the plan.
    pub numbers: Vec<u32>,
    /// How many parts come from them.
    pub parts: usize,
}

/// One sheet or remnant of the plan.
#[derive(Debug, Clone, PartialEq)]
pub struct SheetFigures {
    /// Counted from 1.
    pub number: usize,
    /// Identity of the sheet size or remnant.
    pub id: String,
    /// Bought or left over.
    pub kind: StockKind,
    /// Material by name.
    pub material: String,
    /// Size of the rectangle round it, along x and y.
    pub size: (f64, f64),
    /// Where it stands.
    pub place: Option<String>,
    /// Its lot.
    pub lot: Option<String>,
    /// The machine that frees its parts.
    pub machine: String,
    /// The saw, where it makes blanks for that machine.
    pub saw: Option<String>,
    /// Its mass in kilograms, voids not counted.
    pub mass_kg: f64,
    /// Its parts, one line per item, in the order of the job.
    pub parts: Vec<PartLine>,
    /// Part area over stock area.
    pub yield_: f64,
    /// Part area over stock area less kept offcuts.
    pub net_yield: f64,
    /// A yield that cannot be beaten on this stock.
    pub yield_ceiling: f64,
    /// What it costs.
    pub spend: f64,
    /// How many kits are complete once it and all sheets before it are cut.
    pub kits_complete: u32,
    /// How much cutting it is on the router or laser, where that was worked out.
    pub cutting: Option<CutFigures>,
}

/// Copies of one part on one sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct PartLine {
    /// Letter that stands for the part in drawings, the same on every sheet.
    pub key: String,
    /// Index into the job's items.
    pub item: usize,
    /// The part's name.
    pub part: String,
    /// The kit's name.
    pub kit: String,
    /// Text of its label.
    pub label: String,
    /// Size as drawn, along x and y.
    pub size: (f64, f64),
    /// Mass of one in kilograms.
    pub mass_kg: f64,
    /// Copies on this sheet, in rising order.
    pub copies: Vec<u32>,
    /// How many of them lie inside a window of another part.
    pub inside: usize,
    /// Whether the router finishes it after the saw.
    pub then_router: bool,
}

/// A left-over worth keeping.
#[derive(Debug, Clone, PartialEq)]
pub struct Kept {
    /// Identity within the plan.
    pub id: String,
    /// The sheet it is left of.
    pub sheet: usize,
    /// Material by name.
    pub material: String,
    /// Size of the rectangle round it, along x and y.
    pub size: (f64, f64),
    /// Whether it is that rectangle.
    pub rectangle: bool,
    /// Area in square millimetres.
    pub area: f64,
    /// Lower left corner of the rectangle round it, on its sheet.
    pub at: Point,
    /// Book value.
    pub value: f64,
}

/// Copies of a part that could not be placed.
#[derive(Debug, Clone, PartialEq)]
pub struct MissingLine {
    /// The part's name.
    pub part: String,
    /// The kit's name.
    pub kit: String,
    /// How many.
    pub quantity: u32,
    /// Why.
    pub cause: Cause,
    /// Material by name.
    pub material: String,
    /// The machine that would free it.
    pub machine: String,
}

/// One line of the spend.
#[derive(Debug, Clone, PartialEq)]
pub struct SpendLine {
    /// Key of the message that says what it is for.
    pub what: &'static str,
    /// How much, in the shop's currency; negative when it lowers the spend.
    pub amount: f64,
}

/// The letter of the item with this index, the same on every sheet.
pub(super) use crate::letters::letters as key;

impl Figures {
    /// Counts and groups a plan.
    ///
    /// # Panics
    /// When the plan is not of this job: an index of an item, material or machine out of range.
    #[must_use]
    pub fn new(plan: &CutPlan, job: &Job) -> Self {
        let sheets: Vec<_> = plan
            .sheets
            .iter()
            .enumerate()
            .map(|(i, s)| sheet(s, plan.paths.get(i), job))
            .collect();
        Self {
            placed: plan.part_count(),
            wanted: CutPlan::wanted(job),
            taken: taken(&sheets),
            kept: kept(plan, job),
            missing: plan
                .missing
                .iter()
                .map(|m| {
                    let item = &job.items[m.item];
                    MissingLine {
                        part: number::plain(&item.part),
                        kit: number::plain(&item.kit),
                        quantity: m.quantity,
                        cause: m.cause.clone(),
                        material: number::plain(&job.material_of(item).name),
                        machine: number::plain(&job.machine_of(item).name),
                    }
                })
                .collect(),
            spend: vec![
                SpendLine {
                    what: "spend-sheets",
                    amount: plan.totals.sheets,
                },
                SpendLine {
                    what: "spend-remnants",
                    amount: plan.totals.remnants,
                },
                SpendLine {
                    what: "spend-offcuts",
                    amount: -plan.totals.offcuts,
                },
                SpendLine {
                    what: "spend-scrap",
                    amount: plan.totals.scrap,
                },
            ],
            sheets,
        }
    }

    /// How many copies could not be placed.
    #[must_use]
    pub fn missing_count(&self) -> u32 {
        self.missing.iter().map(|m| m.quantity).sum()
    }
}

/// The processes that a plan needs, in the order saw, router, laser.
pub(super) fn processes(plan: &CutPlan, job: &Job) -> Vec<Process> {
    let used = |process: Process| {
        plan.sheets.iter().any(|s| {
            job.shop.machines[s.machine].process == process
                || process == Process::Saw && !s.saw_cuts.is_empty()
                || process == Process::Router
                    && s.parts.iter().any(|p| job.items[p.item].finish_on_router)
        })
    };
    [Process::Saw, Process::Router, Process::Laser]
        .into_iter()
        .filter(|p| used(*p))
        .collect()
}

/// Where a piece stands, in the language of the papers.
pub(crate) fn place(sheet: &CutSheet, job: &Job) -> Option<String> {
    let place = sheet.source.place.as_deref()?;
    Some(match place {
        NOT_PLACED => job.shop.paper.say("not-yet-placed"),
        place => number::plain(place),
    })
}

fn sheet(sheet: &CutSheet, paths: Option<&ToolPaths>, job: &Job) -> SheetFigures {
    let material = &job.shop.materials[sheet.material];
    let polygon = sheet.polygon();
    let bounds = polygon.bounds();
    let machine = &job.shop.machines[sheet.machine];
    let saw = sheet.saw.map(|i| &job.shop.machines[i]);
    SheetFigures {
        number: sheet.number,
        id: number::plain(&sheet.source.id),
        kind: sheet.source.kind,
        material: number::plain(&material.name),
        size: (bounds.width(), bounds.height()),
        place: place(sheet, job),
        lot: sheet.source.lot.as_deref().map(number::plain),
        machine: number::plain(&machine.name),
        saw: saw
            .filter(|_| !sheet.guillotine && !sheet.saw_cuts.is_empty())
            .map(|m| number::plain(&m.name)),
        mass_kg: material.mass(polygon.area()),
        parts: part_lines(sheet, job),
        yield_: sheet.yield_,
        net_yield: sheet.net_yield,
        yield_ceiling: sheet.yield_ceiling,
        spend: sheet.spend,
        kits_complete: sheet.kits_complete,
        cutting: paths.filter(|_| !sheet.guillotine).map(|p| p.figures),
    }
}

fn part_lines(sheet: &CutSheet, job: &Job) -> Vec<PartLine> {
    let kg_per_mm2 = job.shop.materials[sheet.material].kg_per_m2 / MM2_PER_M2;
    let mut lines: Vec<PartLine> = Vec::new();
    for part in &sheet.parts {
        let at = match lines.binary_search_by_key(&part.item, |l| l.item) {
            Ok(at) => at,
            Err(at) => {
                let item = &job.items[part.item];
                let bounds = item.outline.bounds();
                let line = PartLine {
                    key: key(part.item),
                    item: part.item,
                    part: number::plain(&item.part),
                    kit: number::plain(&item.kit),
                    label: number::plain(&item.label),
                    size: (bounds.width(), bounds.height()),
                    mass_kg: item.outline.area() * kg_per_mm2,
                    copies: Vec::new(),
                    inside: 0,
                    then_router: item.finish_on_router,
                };
                lines.insert(at, line);
                at
            }
        };
        let copies = &mut lines[at].copies;
        copies.insert(copies.partition_point(|c| *c < part.copy), part.copy);
        lines[at].inside += usize::from(part.inside.is_some());
    }
    lines
}

fn taken(sheets: &[SheetFigures]) -> Vec<Taken> {
    let mut lines: Vec<Taken> = Vec::new();
    for sheet in sheets {
        let parts: usize = sheet.parts.iter().map(|p| p.copies.len()).sum();
        let number = u32::try_from(sheet.number).unwrap_or(u32::MAX);
        let same =
            |t: &&mut Taken| t.id == sheet.id && t.kind == sheet.kind && t.place == sheet.place;
        if let Some(line) = lines.iter_mut().find(same) {
            line.count += 1;
            line.parts += parts;
            line.numbers.push(number);
        } else {
            lines.push(Taken {
                id: sheet.id.clone(),
                kind: sheet.kind,
                material: sheet.material.clone(),
                place: sheet.place.clone(),
                count: 1,
                numbers: vec![number],
                parts,
            });
        }
    }
    lines
}

fn kept(plan: &CutPlan, job: &Job) -> Vec<Kept> {
    let of_sheet = |sheet: &CutSheet| {
        let material = number::plain(&job.shop.materials[sheet.material].name);
        let number = sheet.number;
        let kept: Vec<Kept> = sheet
            .offcuts
            .iter()
            .filter(|o| o.kept)
            .map(|o| {
                let bounds = o.outline.bounds();
                let area = o.outline.area();
                Kept {
                    id: number::plain(&o.id),
                    sheet: number,
                    material: material.clone(),
                    size: (bounds.width(), bounds.height()),
                    rectangle: (bounds.area() - area).abs() <= 1e-6 * bounds.area(),
                    area,
                    at: bounds.min,
                    value: o.value,
                }
            })
            .collect();
        kept
    };
    plan.sheets.iter().flat_map(of_sheet).collect()
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;

    #[test]
    fn every_placed_copy_is_on_one_line() {
        let (plan, job) = sample::cabinet();
        let figures = Figures::new(&plan, &job);
        let mut copies = vec![Vec::new(); job.items.len()];
        for line in figures.sheets.iter().flat_map(|s| &s.parts) {
            assert!(line.copies.is_sorted());
            copies[line.item].extend_from_slice(&line.copies);
        }
        let total: usize = copies.iter().map(Vec::len).sum();
        assert_eq!(total, plan.part_count());
        for (item, mut copies) in copies.into_iter().enumerate() {
            copies.sort_unstable();
            copies.dedup();
            let missing: u32 = plan
                .missing
                .iter()
                .filter(|m| m.item == item)
                .map(|m| m.quantity)
                .sum();
            assert_eq!(copies.len() as u32 + missing, job.items[item].quantity);
        }
        let from_taken: usize = figures.taken.iter().map(|t| t.parts).sum();
        assert_eq!(from_taken, total);
        let taken: usize = figures.taken.iter().map(|t| t.count).sum();
        assert_eq!(taken, plan.sheets.len());
    }

    #[test]
    fn spend_lines_are_the_spend() {
        let (plan, job) = sample::cabinet();
        let figures = Figures::new(&plan, &job);
        let sum: f64 = figures.spend.iter().map(|l| l.amount).sum();
        assert!((sum - plan.totals.spend).abs() < 1e-9);
    }

    #[test]
    fn mass_of_a_sheet() {
        // 1220 x 2440 mm of 3 mm composite with 0.3 mm skins weighs 11.4 kg: 2.9768 m2 of
        // 2 * 0.3 * 2.70 + 2.4 * 0.92 = 3.83 kg/m2 (densities as in suppliers' data sheets).
        let (plan, job) = sample::cabinet();
        let figures = Figures::new(&plan, &job);
        assert!((figures.sheets[0].mass_kg - 11.4).abs() < 0.05);
    }

    #[test]
    fn processes_follow_the_plan_not_the_order() {
        let (mut plan, job) = sample::cabinet();
        assert_eq!(
            processes(&plan, &job),
            [Process::Saw, Process::Router, Process::Laser]
        );
        plan.sheets
            .retain(|s| job.shop.machines[s.machine].process == Process::Router);
        assert_eq!(processes(&plan, &job), [Process::Router]);
    }
}

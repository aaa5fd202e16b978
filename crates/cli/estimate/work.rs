//! What a plan asks for in one material: stock, lengths, pieces and parts; counted, not yet priced.

use super::money::Money;
use crate::area::m2;
use crate::cut_plan::{CutPlan, CutSheet};
use crate::input::Process;
use crate::job::{Item, Job};
use crate::nest_file::{NestFile, Ring as Corners, SheetRecord};
use crate::rack::keep_rule;
use crate::{Failure, Result};
use panelwright_geometry::{Bounds, Point, Polygon};
use panelwright_nesting::StockKind;
use std::collections::BTreeMap;

/// What is done in one material. Sums over any number of sheets.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Work {
    /// Sheets by identity: how many, and the price of one.
    pub sheets: BTreeMap<String, (u32, Money)>,
    /// Remnants by identity: their book value.
    pub remnants: BTreeMap<String, Money>,
    /// Book value of the offcuts kept.
    pub kept_value: Money,
    /// How many offcuts are kept.
    pub kept: u32,
    /// Area kept, square metres.
    pub kept_m2: f64,
    /// Area of stock taken.
    pub taken_m2: f64,
    /// Area of parts, holes not counted.
    pub part_m2: f64,
    /// Area thrown away, kerf included.
    pub scrap_m2: f64,
    /// Number of parts.
    pub parts: u32,
    /// By index of the machine.
    pub machines: BTreeMap<usize, MachineWork>,
    /// Mass of the heaviest piece of stock, kg, and its identity.
    pub heaviest_stock: (f64, String),
}

/// What one machine does in one material.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct MachineWork {
    /// Pieces of stock and blanks to load.
    pub pieces: u32,
    /// How many of these are above what one person lifts.
    pub heavy: u32,
    /// Parts to load that are finished on it.
    pub parts: u32,
    /// Cuts to start.
    pub starts: u32,
    /// Length of all cuts and marks, metres.
    pub cut_m: f64,
    /// Length of the edges it leaves on parts, metres.
    pub edge_m: f64,
}

/// A sheet as it is counted, from a plan or from a file.
struct Sheet {
    material: usize,
    machine: usize,
    kind: StockKind,
    id: String,
    price: f64,
    area: f64,
    /// Items, one for each copy.
    parts: Vec<usize>,
    saw: Option<usize>,
    saw_cuts: Vec<(Point, Point)>,
    /// Bounds of the stock.
    bounds: Bounds,
    /// Middles of the parts.
    middles: Vec<Point>,
    /// Areas and values of the offcuts kept.
    kept: Vec<(f64, f64)>,
}

impl Work {
    /// What a plan asks for, by material. `heavy_kg` is what one person lifts.
    ///
    /// # Panics
    /// When the plan is not of this job.
    #[must_use]
    pub fn of_plan(plan: &CutPlan, job: &Job, heavy_kg: f64) -> BTreeMap<usize, Self> {
        let mut all: BTreeMap<usize, Self> = BTreeMap::new();
        for cut in &plan.sheets {
            let sheet = planned(cut);
            all.entry(sheet.material)
                .or_default()
                .add_sheet(&sheet, job, heavy_kg);
        }
        all
    }

    /// What a nest in its file asks for, by material: the same as of the plan it was written from.
    ///
    /// `stock_area` tells the area of a remnant, its flaws counted as sound, where the file alone does not.
    ///
    /// # Errors
    /// When the file names a part, material or machine that the job does not have.
    pub fn of_nest(
        nest: &NestFile,
        job: &Job,
        heavy_kg: f64,
        stock_area: &dyn Fn(&SheetRecord) -> Option<f64>,
    ) -> Result<BTreeMap<usize, Self>> {
        let mut all: BTreeMap<usize, Self> = BTreeMap::new();
        for record in &nest.sheets {
            let sheet = recorded(record, job, stock_area)?;
            all.entry(sheet.material)
                .or_default()
                .add_sheet(&sheet, job, heavy_kg);
        }
        Ok(all)
    }

    /// The work of both.
    pub fn add(&mut self, other: &Self) {
        for (id, (count, price)) in &other.sheets {
            let sheets = self.sheets.entry(id.clone()).or_insert((0, *price));
            sheets.0 += count;
        }
        self.remnants
            .extend(other.remnants.iter().map(|(id, v)| (id.clone(), *v)));
        self.kept_value += other.kept_value;
        self.kept += other.kept;
        self.kept_m2 += other.kept_m2;
        self.taken_m2 += other.taken_m2;
        self.part_m2 += other.part_m2;
        self.scrap_m2 += other.scrap_m2;
        self.parts += other.parts;
        for (machine, work) in &other.machines {
            self.machines.entry(*machine).or_default().add(work);
        }
        if other.heaviest_stock.0 > self.heaviest_stock.0 {
            self.heaviest_stock.clone_from(&other.heaviest_stock);
        }
    }

    fn add_sheet(&mut self, sheet: &Sheet, job: &Job, heavy_kg: f64) {
        let material = &job.shop.materials[sheet.material];
        match sheet.kind {
            StockKind::Sheet => {
                let price = Money::of(sheet.price);
                self.sheets.entry(sheet.id.clone()).or_insert((0, price)).0 += 1;
            }
            StockKind::Remnant => {
                self.remnants
                    .insert(sheet.id.clone(), Money::of(sheet.price));
            }
        }
        let (kept_area, kept_value) = sheet
            .kept
            .iter()
            .fold((0.0, 0.0), |(a, v), (area, value)| (a + area, v + value));
        // Offcuts of a piece are never worth more than the piece; the nest counts them so too.
        self.kept_value += Money::of(kept_value.min(sheet.price));
        self.kept += sheet.kept.len() as u32;
        let parts = || sheet.parts.iter().map(|i| &job.items[*i]);
        let part_area: f64 = parts().map(|i| i.outline.area()).sum();
        self.kept_m2 += m2(kept_area);
        self.taken_m2 += m2(sheet.area);
        self.part_m2 += m2(part_area);
        self.scrap_m2 += m2((sheet.area - part_area - kept_area).max(0.0));
        self.parts += sheet.parts.len() as u32;
        let mass = material.mass(sheet.area);
        if mass > self.heaviest_stock.0 {
            self.heaviest_stock = (mass, sheet.id.clone());
        }
        if let Some(saw) = sheet.saw {
            let work = self.machines.entry(saw).or_default();
            work.load([mass], heavy_kg);
            work.starts += sheet.saw_cuts.len() as u32;
            work.cut_m += sheet
                .saw_cuts
                .iter()
                .map(|(a, b)| a.distance(*b))
                .sum::<f64>()
                / 1e3;
        }
        let machine = &job.shop.machines[sheet.machine];
        if machine.process == Process::Saw {
            let work = self.machines.entry(sheet.machine).or_default();
            work.edge_m += parts().map(sawn_edge).sum::<f64>() / 1e3;
            self.finish(parts(), job);
        } else {
            let work = self.machines.entry(sheet.machine).or_default();
            let blanks = blanks_with_parts(sheet);
            let share = |blank: &Bounds| (blank.area() / sheet.bounds.area()).min(1.0);
            work.load(blanks.iter().map(|b| mass * share(b)), heavy_kg);
            for item in parts() {
                work.cut(item, true);
            }
        }
    }

    /// Parts that the router finishes after the saw.
    fn finish<'a>(&mut self, parts: impl Iterator<Item = &'a Item>, job: &Job) {
        for item in parts.filter(|i| i.finish_on_router) {
            let Some(router) = job.finisher(item) else {
                continue;
            };
            let work = self.machines.entry(router).or_default();
            work.parts += 1;
            let shaped = !item
                .outline
                .is_rectangle(panelwright_geometry::tolerance::JOIN);
            work.cut(item, shaped);
        }
    }
}

/// The pieces that go on the machine once the saw has cut: those that some part lies on. The sheet itself
/// where nothing is sawn.
fn blanks_with_parts(sheet: &Sheet) -> Vec<Bounds> {
    let mut pieces = vec![sheet.bounds];
    for (from, to) in &sheet.saw_cuts {
        let middle = Point::new(0.5 * (from.x + to.x), 0.5 * (from.y + to.y));
        let holds = |b: &Bounds| {
            (b.min.x..=b.max.x).contains(&middle.x) && (b.min.y..=b.max.y).contains(&middle.y)
        };
        let Some(at) = pieces.iter().position(holds) else {
            continue;
        };
        let whole = pieces.swap_remove(at);
        let (mut near, mut far) = (whole, whole);
        if (from.x - to.x).abs() < (from.y - to.y).abs() {
            (near.max.x, far.min.x) = (middle.x, middle.x);
        } else {
            (near.max.y, far.min.y) = (middle.y, middle.y);
        }
        pieces.extend([near, far]);
    }
    let with_part = |b: &Bounds| {
        let inside =
            |p: &Point| (b.min.x..b.max.x).contains(&p.x) && (b.min.y..b.max.y).contains(&p.y);
        sheet.middles.iter().any(inside)
    };
    pieces.retain(with_part);
    pieces
}

/// Edge that the saw leaves on a part, in millimetres: none where the router goes round it afterwards.
fn sawn_edge(item: &Item) -> f64 {
    let rectangle = item
        .outline
        .is_rectangle(panelwright_geometry::tolerance::JOIN);
    if item.finish_on_router && !rectangle {
        return 0.0;
    }
    item.outline.outer.length()
}

impl MachineWork {
    fn add(&mut self, other: &Self) {
        self.pieces += other.pieces;
        self.heavy += other.heavy;
        self.parts += other.parts;
        self.starts += other.starts;
        self.cut_m += other.cut_m;
        self.edge_m += other.edge_m;
    }

    /// Pieces of these masses.
    fn load(&mut self, pieces: impl IntoIterator<Item = f64>, heavy_kg: f64) {
        for mass in pieces {
            self.pieces += 1;
            self.heavy += u32::from(mass > heavy_kg);
        }
    }

    /// The holes and marks of a part, and its outside if `outside`.
    fn cut(&mut self, item: &Item, outside: bool) {
        let outline = &item.outline;
        let mut edge: f64 = outline.holes.iter().map(|h| h.length()).sum();
        if outside {
            edge += outline.outer.length();
        }
        let marks: f64 = outline.marks.iter().map(|m| m.length()).sum();
        self.edge_m += edge / 1e3;
        self.cut_m += (edge + marks) / 1e3;
        self.starts += (outline.holes.len() + outline.marks.len()) as u32 + u32::from(outside);
    }
}

fn planned(cut: &CutSheet) -> Sheet {
    Sheet {
        material: cut.material,
        machine: cut.machine,
        kind: cut.source.kind,
        id: cut.source.id.clone(),
        price: cut.source.price,
        area: cut.polygon().area(),
        parts: cut.parts.iter().map(|p| p.item).collect(),
        saw: cut.saw,
        saw_cuts: cut.saw_cuts.iter().map(|c| (c.from, c.to)).collect(),
        bounds: cut.polygon().bounds(),
        middles: cut
            .parts
            .iter()
            .map(|p| p.outline.bounds().center())
            .collect(),
        kept: cut
            .offcuts
            .iter()
            .filter(|o| o.kept)
            .map(|o| (o.outline.area(), o.value))
            .collect(),
    }
}

fn recorded(
    record: &SheetRecord,
    job: &Job,
    stock_area: &dyn Fn(&SheetRecord) -> Option<f64>,
) -> Result<Sheet> {
    let shop = &job.shop;
    let place = |what: &str| format!("nest sheet {}: {what}", record.number);
    let unknown = |what: &str, name: &str| {
        let advice = "name the order that this nest was made from, and its shop as it was then";
        Failure::new(place(what), format!("nothing is called '{name}'"), advice)
    };
    let material = shop
        .materials
        .iter()
        .position(|m| m.name == record.material);
    let material = material.ok_or_else(|| unknown("material", &record.material))?;
    let machine = shop.machines.iter().position(|m| m.name == record.machine);
    let machine = machine.ok_or_else(|| unknown("machine", &record.machine))?;
    let parts = record
        .placements
        .iter()
        .map(|p| {
            let mut items = job.items.iter();
            let found = items.position(|i| i.part == p.part && i.kit == p.kit);
            found.ok_or_else(|| unknown("part", &p.part))
        })
        .collect::<Result<Vec<_>>>()?;
    let advice = "estimate the nest.json as `nest` wrote it";
    if let Some(what) = record.wrong_ring() {
        return Err(Failure::new(place("outline"), what, advice));
    }
    let polygon = |outline: &Corners, voids: &[Corners]| {
        let ring = |r: &Corners| {
            r.iter()
                .map(|[x, y]| Point::new(*x, *y))
                .collect::<Vec<_>>()
        };
        Polygon::new(ring(outline), voids.iter().map(ring).collect())
    };
    let kept: Vec<Polygon> = record
        .offcuts
        .iter()
        .filter(|o| o.kept)
        .map(|o| polygon(&o.outline, &o.voids))
        .collect();
    if let Some(what) = record.wrong_saw_cut() {
        return Err(Failure::new("nest", what, advice));
    }
    let rule = keep_rule(shop, &shop.materials[material]);
    let saw = shop.first(Process::Saw);
    Ok(Sheet {
        material,
        machine,
        kind: match record.source.kind.as_str() {
            "sheet" => StockKind::Sheet,
            _ => StockKind::Remnant,
        },
        id: record.source.id.clone(),
        price: record.source.price,
        area: stock_area(record).unwrap_or_else(|| polygon(&record.outline, &record.voids).area()),
        parts,
        saw: saw.filter(|_| !record.saw_cuts.is_empty()),
        saw_cuts: record
            .saw_cuts
            .iter()
            .map(|c| {
                (
                    Point::new(c.from[0], c.from[1]),
                    Point::new(c.to[0], c.to[1]),
                )
            })
            .collect(),
        bounds: polygon(&record.outline, &[]).bounds(),
        middles: record
            .placements
            .iter()
            .map(|p| polygon(&p.outline, &[]).bounds().center())
            .collect(),
        kept: kept
            .iter()
            .map(|piece| (piece.area(), rule.value_of_piece(piece)))
            .collect(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::area::MM2_PER_M2;
    use crate::report::sample;
    use crate::write::nest_json;

    #[test]
    fn a_plan_and_its_file_ask_for_the_same() {
        let (mut plan, job) = sample::cabinet();
        plan.missing.clear();
        let record = nest_json::record(&plan, &job);
        let areas: BTreeMap<usize, f64> = plan
            .sheets
            .iter()
            .map(|s| (s.number, s.polygon().area()))
            .collect();
        let area = |sheet: &SheetRecord| areas.get(&sheet.number).copied();
        let planned = Work::of_plan(&plan, &job, 9.6);
        let read = Work::of_nest(&record, &job, 9.6, &area).expect("of this job");
        assert_eq!(planned.len(), read.len());
        for (a, b) in planned.values().zip(read.values()) {
            assert_eq!((&a.sheets, &a.remnants), (&b.sheets, &b.remnants));
            assert_eq!((a.parts, a.kept), (b.parts, b.kept));
            assert!((a.scrap_m2 - b.scrap_m2).abs() < 1e-6, "{a:?} {b:?}");
            assert_eq!(a.machines.len(), b.machines.len());
            for (a, b) in a.machines.values().zip(b.machines.values()) {
                assert_eq!(
                    (a.pieces, a.heavy, a.parts, a.starts),
                    (b.pieces, b.heavy, b.parts, b.starts)
                );
                assert!((a.cut_m - b.cut_m).abs() < 1e-6 && (a.edge_m - b.edge_m).abs() < 1e-6);
            }
        }
    }

    #[test]
    fn areas_balance_and_pieces_are_counted() {
        let (plan, job) = sample::cabinet();
        let works = Work::of_plan(&plan, &job, 9.6);
        let mut all = Work::default();
        works.values().for_each(|w| all.add(w));
        assert!((all.taken_m2 - all.part_m2 - all.kept_m2 - all.scrap_m2).abs() < 1e-9);
        assert!((all.part_m2 * MM2_PER_M2 - plan.totals.part_area).abs() < 1.0);
        let taken: u32 =
            all.sheets.values().map(|(n, _)| n).sum::<u32>() + all.remnants.len() as u32;
        assert_eq!(taken as usize, plan.sheets.len());
        assert_eq!(all.parts as usize, plan.part_count());
        // 1220 x 2440 mm of 3.83 kg/m2.
        assert!((all.heaviest_stock.0 - 11.4).abs() < 0.05);
        let length: f64 = plan
            .sheets
            .iter()
            .filter(|s| !s.guillotine)
            .flat_map(|s| &s.parts)
            .map(|p| job.items[p.item].outline.cut_length() / 1e3)
            .sum();
        let edges: f64 = all
            .machines
            .iter()
            .filter(|(m, _)| job.shop.machines[**m].process != Process::Saw)
            .map(|(_, w)| w.edge_m)
            .sum();
        assert!(edges >= length - 1e-9, "{edges} {length}");
    }

    #[test]
    fn each_piece_is_heavy_or_not_by_itself() {
        let mut work = MachineWork::default();
        // 12 kg takes two people, 2 kg and just what one lifts do not.
        work.load([12.0, 2.0, 9.6], 9.6);
        assert_eq!((work.pieces, work.heavy), (3, 1));
    }

    #[test]
    fn blanks_without_parts_are_not_loaded() {
        let sheet = Sheet {
            material: 0,
            machine: 0,
            kind: StockKind::Sheet,
            id: "S".into(),
            price: 1.0,
            area: 2e6,
            parts: Vec::new(),
            saw: Some(0),
            // Halves, and the right one across.
            saw_cuts: vec![
                (Point::new(1_000.0, 0.0), Point::new(1_000.0, 1_000.0)),
                (Point::new(1_000.0, 400.0), Point::new(2_000.0, 400.0)),
            ],
            bounds: Bounds::new(Point::default(), Point::new(2_000.0, 1_000.0)),
            middles: vec![Point::new(500.0, 900.0), Point::new(1_500.0, 100.0)],
            kept: Vec::new(),
        };
        let areas: Vec<f64> = blanks_with_parts(&sheet).iter().map(Bounds::area).collect();
        assert_eq!(areas.len(), 2);
        assert!(
            (areas.iter().sum::<f64>() - 1.4e6).abs() < 1e-6,
            "{areas:?}"
        );
    }
}

//! What the person at the saw does, cut by cut: which piece lies on the table, where the fence stands, what comes
//! off and where it goes.

use crate::cut_plan::{CutPlan, CutSheet};
use crate::job::{Job, Shop};
use crate::time::minutes;
use crate::{Failure, Result};
use panelwright_geometry::{Bounds, tolerance};
use panelwright_nesting::sawing::{FenceCut, Sawing};
use panelwright_nesting::{SawCut, verify};

/// What becomes of a piece.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fate {
    /// It is the stock itself.
    Stock,
    /// It comes back to the saw; pieces of this kind are numbered from 1.
    Again(usize),
    /// It is the part of this index on the sheet.
    Part(usize),
    /// It is the blank of this index and goes on to the machine.
    Blank(usize),
    /// It is, or holds, the offcut of this index, which is kept.
    Offcut(usize),
    /// It is thrown away or recycled.
    Scrap,
}

/// How fast a saw works on a material.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SawRate {
    /// Speed along the cut.
    pub mm_per_min: f64,
    /// Times along each cut.
    pub passes: f64,
    /// Seconds for each cut to set the fence and turn the piece.
    pub cut_seconds: f64,
    /// Whether the shop has set all of it; a placeholder otherwise.
    pub set: bool,
}

/// Sheets that are cut alike from the same stock as another one.
pub struct Alike {
    /// Their numbers.
    pub numbers: Vec<u32>,
    /// How many of them all, that one counted, the saw takes on each other; `None` where nobody has said how high
    /// a stack may be.
    pub at_once: Option<usize>,
}

impl Alike {
    /// Those that may lie on `sheet` at the saw.
    #[must_use]
    pub fn of(sheet: &CutSheet, plan: &CutPlan, job: &Job) -> Self {
        let same = |other: &&CutSheet| {
            other.number != sheet.number
                && other.saw == sheet.saw
                && other.material == sheet.material
                && other.source.kind == sheet.source.kind
                && other.source.id == sheet.source.id
                && other.outline == sheet.outline
                && other.saw_cuts == sheet.saw_cuts
        };
        let others = plan.sheets.iter().filter(same);
        let numbers: Vec<u32> = others
            .filter_map(|s| u32::try_from(s.number).ok())
            .collect();
        let saw = sheet.saw.and_then(|saw| job.shop.machines.get(saw));
        let thickness = job.shop.materials[sheet.material].thickness;
        let at_once = saw.and_then(|saw| saw.stack_height).map(|height| {
            let most = ((height + tolerance::JUDGE) / thickness).floor() as usize;
            most.clamp(1, numbers.len() + 1)
        });
        Self { numbers, at_once }
    }
}

impl SawRate {
    /// What the cuts of a sheet are made by; `None` where it is not sawn, or nobody has looked it up.
    #[must_use]
    pub fn of(sheet: &CutSheet, shop: &Shop) -> Option<Self> {
        let saw = sheet.saw.filter(|_| !sheet.saw_cuts.is_empty())?;
        let cutting = shop.rates.materials.get(sheet.material)?.cutting.get(saw)?;
        let figures = [&cutting.speed, &cutting.passes, &cutting.start];
        Some(Self {
            mm_per_min: cutting.speed.value,
            passes: cutting.passes.value,
            cut_seconds: cutting.start.value,
            set: figures.iter().all(|figure| figure.set),
        })
    }

    /// Minutes for these cuts, by the formula of an estimate; loading and setting up come on top.
    #[must_use]
    pub fn minutes(&self, cuts: &[SawCut]) -> f64 {
        let length: f64 = cuts.iter().map(|c| c.from.distance(c.to)).sum();
        let count = u32::try_from(cuts.len()).unwrap_or(u32::MAX);
        minutes(
            length,
            self.passes,
            self.mm_per_min,
            count,
            self.cut_seconds,
        )
    }
}

/// All the sawing of a plan.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SawTime {
    /// Sheets that are sawn.
    pub sheets: usize,
    /// Cuts on them.
    pub cuts: usize,
    /// Minutes for these, loading and setting up not counted.
    pub minutes: f64,
    /// Whether the shop has set all rates.
    pub set: bool,
}

impl SawTime {
    /// Of a plan; `None` where nothing is sawn, or a rate is not known.
    #[must_use]
    pub fn of(plan: &CutPlan, shop: &Shop) -> Option<Self> {
        let mut time = Self {
            sheets: 0,
            cuts: 0,
            minutes: 0.0,
            set: true,
        };
        for sheet in plan.sheets.iter().filter(|s| !s.saw_cuts.is_empty()) {
            let rate = SawRate::of(sheet, shop)?;
            time.sheets += 1;
            time.cuts += sheet.saw_cuts.len();
            time.minutes += rate.minutes(&sheet.saw_cuts);
            time.set &= rate.set;
        }
        (time.sheets > 0).then_some(time)
    }
}

/// The saw cuts of a sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct SawSteps {
    /// Pieces and cuts.
    pub sawing: Sawing,
    /// What becomes of each piece.
    pub fates: Vec<Fate>,
}

impl SawSteps {
    /// Those of a sheet; `None` without saw cuts, or where a list of centre lines is all that can be said.
    #[must_use]
    pub fn of(sheet: &CutSheet) -> Option<Self> {
        if sheet.saw_cuts.is_empty() {
            return None;
        }
        let stock = Bounds::of_points(sheet.outline.iter().copied())?;
        let wanted = wanted(sheet);
        let sawing = Sawing::of(stock, &sheet.saw_cuts, &wanted)?;
        let mut fates = vec![Fate::Scrap; sawing.pieces.len()];
        let mut again: Vec<usize> = sawing.cuts.iter().map(|c| c.piece).collect();
        again.sort_unstable();
        // The stock is the first of them; the others are numbered as they come off.
        for (number, piece) in again.into_iter().enumerate() {
            fates[piece] = if number == 0 {
                Fate::Stock
            } else {
                Fate::Again(number)
            };
        }
        for piece in sawing.left() {
            fates[piece] = fate(sheet, &wanted, &sawing.pieces[piece])?;
        }
        Some(Self { sawing, fates })
    }

    /// The cuts in order.
    #[must_use]
    pub fn cuts(&self) -> &[FenceCut] {
        &self.sawing.cuts
    }

    /// Pieces and sizes that must come off in the end.
    fn freed(&self, sheet: &CutSheet) -> Vec<(usize, f64, f64)> {
        let wanted = wanted(sheet);
        self.fates
            .iter()
            .enumerate()
            .filter_map(|(piece, fate)| match fate {
                Fate::Part(i) if sheet.guillotine => {
                    Some((piece, wanted[*i].width(), wanted[*i].height()))
                }
                _ => None,
            })
            .collect()
    }
}

/// The rectangles that the saw is to free: parts, or blanks.
fn wanted(sheet: &CutSheet) -> Vec<Bounds> {
    if sheet.guillotine {
        sheet.parts.iter().map(|p| p.outline.bounds()).collect()
    } else {
        sheet.blanks.clone()
    }
}

/// What becomes of a piece that is not cut again; `None` when two parts are in it.
fn fate(sheet: &CutSheet, wanted: &[Bounds], piece: &Bounds) -> Option<Fate> {
    let holds = |b: &Bounds| {
        let middle = Bounds::new(b.center(), b.center());
        piece.grown(tolerance::JUDGE).contains(&middle)
    };
    let mut found = (0..wanted.len()).filter(|i| holds(&wanted[*i]));
    match (found.next(), found.next()) {
        (Some(i), None) if sheet.guillotine => return Some(Fate::Part(i)),
        (Some(i), None) => return Some(Fate::Blank(i)),
        (Some(_), Some(_)) => return None,
        (None, _) => {}
    }
    let kept = sheet.offcuts.iter().position(|o| {
        let bounds = Bounds::of_points(o.outline.outer.iter().copied());
        o.kept && bounds.is_some_and(|b| holds(&b))
    });
    Some(kept.map_or(Fate::Scrap, Fate::Offcut))
}

/// Has the judge make the cuts of every sheet by their settings.
///
/// # Errors
/// When a part would not come out at its size.
pub fn check(plan: &CutPlan) -> Result<()> {
    for sheet in &plan.sheets {
        let Some(steps) = SawSteps::of(sheet) else {
            continue;
        };
        let stock = steps.sawing.pieces[0];
        let size = (stock.width(), stock.height());
        let freed = steps.freed(sheet);
        let faults = verify::judge_settings(sheet.number, size, steps.cuts(), &freed);
        if let Some(fault) = faults.first() {
            return Err(Failure::new(
                "saw plan",
                fault.to_string(),
                "this is a fault of the program; nothing was written",
            ));
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::sample;

    #[test]
    fn every_part_comes_off_once_and_the_judge_agrees() {
        let (plan, _) = sample::cabinet();
        let mut sawn = 0;
        for sheet in plan.sheets.iter().filter(|s| s.guillotine) {
            let Some(steps) = SawSteps::of(sheet) else {
                continue;
            };
            sawn += 1;
            assert_eq!(steps.cuts().len(), sheet.saw_cuts.len());
            for i in 0..sheet.parts.len() {
                let times = steps.fates.iter().filter(|f| **f == Fate::Part(i));
                assert_eq!(times.count(), 1, "part {i}");
            }
        }
        assert!(sawn > 0);
        check(&plan).expect("a plan that can be sawn");
    }
}

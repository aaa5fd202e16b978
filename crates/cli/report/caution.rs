//! Cautions that go with a plan: what each process and the lifting ask for. They advise; people
//! who are trained decide.

use super::figures::processes;
use crate::cut_plan::{CutPlan, CutSheet};
use crate::input::{Process, Substance};
use crate::job::Job;
use crate::number;
use crate::paper::{Lengths, Paper};

/// Below this area, in square millimetres, a routed part may lift on its closing cut.
///
/// Common practice: 0.01 to 0.02 m²; the lower end, so that the note stays worth reading.
const SMALL_PART: f64 = 10_000.0;

/// Sawn parts narrower than this, in millimetres, are named.
///
/// Common practice: below about a hand's width the fence and the pressure beam hold badly.
const NARROW_PART: f64 = 100.0;

/// Load constant of the NIOSH lifting equation, kilograms.
///
/// Source: Applications Manual for the Revised NIOSH Lifting Equation, DHHS (NIOSH) 94-110.
const LOAD_CONSTANT_KG: f64 = 23.0;

/// How far a wide sheet's middle is from the body when one person carries it, centimetres.
///
/// Half the width of a panel of 1.2 m; the equation covers 25 to 63 cm.
const SHEET_REACH_CM: f64 = 60.0;

/// What one process, or the lifting, asks for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Caution {
    /// What it is about.
    pub about: String,
    /// What to mind; the last line says who decides.
    pub lines: Vec<String>,
}

impl Caution {
    fn new(about: String, mut lines: Vec<String>, paper: Paper) -> Self {
        lines.push(paper.say("caution-closing"));
        Self { about, lines }
    }
}

/// Cautions for the processes that the plan uses, and for lifting its sheets and parts, in the words of `paper`.
///
/// # Panics
/// When the plan is not of this job: an index of an item, material or machine out of range.
#[must_use]
pub fn cautions(plan: &CutPlan, job: &Job, paper: Paper) -> Vec<Caution> {
    let mut all = general(plan, job, paper);
    if let Some(lifting) = all.last_mut()
        && let Some(heaviest) = Heaviest::of(plan, job)
    {
        lifting.lines.splice(0..0, heaviest.lines(paper));
    }
    all
}

/// As [`cautions`], without the sheet and the part of this plan that are heaviest. That of lifting is the last.
pub(crate) fn general(plan: &CutPlan, job: &Job, paper: Paper) -> Vec<Caution> {
    let mut all: Vec<Caution> = processes(plan, job)
        .into_iter()
        .map(|process| match process {
            Process::Saw => saw(plan, job, paper),
            Process::Router => router(plan, job, paper),
            Process::Laser => laser(plan, job, paper),
        })
        .collect();
    all.extend(lifting(plan, job, paper));
    all
}

fn saw(plan: &CutPlan, job: &Job, paper: Paper) -> Caution {
    let mut lines = vec![
        paper.say("caution-saw-hood"),
        paper.say("caution-saw-gloves"),
        paper.say("caution-saw-carry"),
    ];
    if let Lengths::Fractions(parts) = paper.lengths {
        let values = [("parts", parts.into()), ("off", (2 * parts).into())];
        lines.push(paper.say_with("caution-saw-fractions", &values));
    }
    if let Some((name, width)) = narrowest_sawn(plan, job) {
        lines.push(paper.say_with(
            "caution-saw-narrow",
            &[
                ("part", name.into()),
                ("width", paper.length(width).into()),
                ("unit", paper.length_unit().into()),
            ],
        ));
    }
    Caution::new(paper.say("caution-saw"), lines, paper)
}

/// The narrowest of the narrow parts that the saw frees.
fn narrowest_sawn(plan: &CutPlan, job: &Job) -> Option<(String, f64)> {
    plan.sheets
        .iter()
        .filter(|s| s.guillotine)
        .flat_map(|s| &s.parts)
        .map(|p| {
            let bounds = job.items[p.item].outline.bounds();
            (p.item, bounds.width().min(bounds.height()))
        })
        .filter(|(_, width)| *width < NARROW_PART)
        .min_by(|a, b| a.1.total_cmp(&b.1).then(a.0.cmp(&b.0)))
        .map(|(item, width)| (number::plain(&job.items[item].part), width))
}

fn router(plan: &CutPlan, job: &Job, paper: Paper) -> Caution {
    let on_router = |s: &&crate::cut_plan::CutSheet| {
        job.shop.machines[s.machine].process == Process::Router
            || s.parts.iter().any(|p| job.items[p.item].finish_on_router)
    };
    let mut lines = vec![
        paper.say("caution-router-protection"),
        paper.say("caution-router-gloves"),
        paper.say("caution-router-unload"),
    ];
    let metal = plan.sheets.iter().filter(on_router).any(|s| {
        matches!(
            job.shop.materials[s.material].substance,
            Substance::Composite | Substance::Aluminium
        )
    });
    if metal {
        lines.push(paper.say("caution-router-dust"));
    }
    let mut small: Vec<usize> = plan
        .sheets
        .iter()
        .filter(on_router)
        .flat_map(|s| &s.parts)
        .map(|p| p.item)
        .filter(|i| job.items[*i].outline.area() < SMALL_PART)
        .collect();
    small.sort_unstable();
    small.dedup();
    if !small.is_empty() {
        let names: Vec<String> = small
            .iter()
            .map(|i| number::plain(&job.items[*i].part))
            .collect();
        let values = [("parts", names.join(", ").into())];
        lines.push(paper.say_with("caution-router-small", &values));
    }
    Caution::new(paper.say("caution-router"), lines, paper)
}

fn laser(plan: &CutPlan, job: &Job, paper: Paper) -> Caution {
    let mut lines = vec![
        paper.say("caution-laser-alone"),
        paper.say("caution-laser-material"),
    ];
    let lasered = |substances: &[Substance]| {
        plan.sheets.iter().any(|s| {
            job.shop.machines[s.machine].process == Process::Laser
                && substances.contains(&job.shop.materials[s.material].substance)
        })
    };
    if lasered(&[Substance::Mdf, Substance::Plywood]) {
        lines.push(paper.say("caution-laser-wood"));
    }
    if lasered(&[Substance::Acrylic]) {
        lines.push(paper.say("caution-laser-acrylic"));
    }
    Caution::new(paper.say("caution-laser"), lines, paper)
}

/// What of a plan is heaviest to lift; masses in kilograms.
struct Heaviest<'a> {
    sheet: &'a CutSheet,
    sheet_kg: f64,
    part: Option<(String, f64)>,
}

impl<'a> Heaviest<'a> {
    /// `None` without sheets.
    fn of(plan: &'a CutPlan, job: &Job) -> Option<Self> {
        let mass = |area: f64, material: usize| job.shop.materials[material].mass(area);
        let (sheet, sheet_kg) = plan
            .sheets
            .iter()
            .rev()
            .map(|s| (s, mass(s.polygon().area(), s.material)))
            .max_by(|a, b| a.1.total_cmp(&b.1))?;
        let part = plan
            .sheets
            .iter()
            .flat_map(|s| s.parts.iter().map(move |p| (p.item, s.material)))
            .map(|(item, material)| {
                let item = &job.items[item];
                (
                    number::plain(&item.part),
                    mass(item.outline.area(), material),
                )
            })
            .max_by(|a: &(String, f64), b| a.1.total_cmp(&b.1));
        Some(Self {
            sheet,
            sheet_kg,
            part,
        })
    }

    fn lines(&self, paper: Paper) -> Vec<String> {
        let mut lines = vec![paper.say_with(
            "caution-lifting-sheet",
            &[
                ("number", self.sheet.number.into()),
                ("id", number::plain(&self.sheet.source.id).into()),
                ("mass", paper.mass(self.sheet_kg).into()),
            ],
        )];
        if let Some((name, kg)) = &self.part {
            let values = [
                ("part", name.as_str().into()),
                ("mass", paper.mass(*kg).into()),
            ];
            lines.push(paper.say_with("caution-lifting-part", &values));
        }
        lines
    }
}

fn lifting(plan: &CutPlan, job: &Job, paper: Paper) -> Option<Caution> {
    let heaviest = Heaviest::of(plan, job)?;
    let one_person = LOAD_CONSTANT_KG * 25.0 / SHEET_REACH_CM;
    let line = if heaviest.sheet_kg > one_person {
        paper.say_with(
            "caution-lifting-two",
            &[
                ("reach", paper.reach(SHEET_REACH_CM * 10.0).into()),
                ("left", paper.mass(one_person).into()),
                ("most", paper.rough_mass(LOAD_CONSTANT_KG).into()),
            ],
        )
    } else {
        paper.say("caution-lifting-wide")
    };
    Some(Caution::new(
        paper.say("caution-lifting"),
        vec![line],
        paper,
    ))
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;

    fn all_text(cautions: &[Caution]) -> String {
        cautions
            .iter()
            .flat_map(|c| &c.lines)
            .fold(String::new(), |all, line| all + line + "\n")
    }

    #[test]
    fn every_caution_ends_alike() {
        let (plan, job) = sample::cabinet();
        let cautions = cautions(&plan, &job, Paper::METRIC);
        let about: Vec<&str> = cautions.iter().map(|c| c.about.as_str()).collect();
        assert_eq!(
            about,
            ["Panel saw", "Router", "Laser", "Lifting and carrying"]
        );
        for caution in &cautions {
            let last = caution.lines.last().expect("a line");
            assert!(last.starts_with("Local codes, the manual"), "{last}");
        }
    }

    #[test]
    fn only_what_the_plan_uses() {
        let (mut plan, job) = sample::cabinet();
        plan.sheets
            .retain(|s| job.shop.machines[s.machine].process == Process::Laser);
        for sheet in &mut plan.sheets {
            sheet.saw_cuts.clear();
        }
        let about: Vec<String> = cautions(&plan, &job, Paper::METRIC)
            .into_iter()
            .map(|c| c.about)
            .collect();
        assert_eq!(about, ["Laser", "Lifting and carrying"]);
        plan.sheets.clear();
        assert!(cautions(&plan, &job, Paper::METRIC).is_empty());
    }

    #[test]
    fn names_small_parts_and_the_heaviest() {
        let (plan, job) = sample::cabinet();
        let text = all_text(&cautions(&plan, &job, Paper::METRIC));
        assert!(text.contains("hinge-plate"), "{text}");
        // 2.9768 m2 at 3.83 kg/m2.
        assert!(text.contains("about 11.4 kg"), "{text}");
        // 800 x 500 mm at 3.83 kg/m2.
        assert!(
            text.contains("heaviest part is base with about 1.5 kg"),
            "{text}"
        );
        // 23 kg * 25 / 60: the equation's horizontal multiplier.
        assert!(text.contains("about 9.6 kg of its 23 kg"), "{text}");
    }

    #[test]
    fn names_a_narrow_sawn_part() {
        let (mut plan, mut job) = sample::cabinet();
        assert!(!all_text(&cautions(&plan, &job, Paper::METRIC)).contains("narrowest"));
        let item = plan.sheets[1].parts[0].item;
        job.items[item].outline = panelwright_geometry::Outline::rectangle(800.0, 45.0);
        let text = all_text(&cautions(&plan, &job, Paper::METRIC));
        assert!(
            text.contains("narrowest sawn part is base at 45 mm"),
            "{text}"
        );
        plan.sheets[1].guillotine = false;
        assert!(!all_text(&cautions(&plan, &job, Paper::METRIC)).contains("narrowest"));
    }

    #[test]
    fn dust_and_gloves_are_lines_of_their_own() {
        let (plan, job) = sample::cabinet();
        for caution in cautions(&plan, &job, Paper::METRIC) {
            for line in &caution.lines {
                assert!(
                    !(line.contains("No gloves") && line.contains("Cut-resistant")),
                    "{line}"
                );
            }
        }
    }
}

//! Cautions that go with a plan: what each process and the lifting ask for. They advise; people
//! who are trained decide.

use super::figures::processes;
use super::number;
use crate::cut_plan::CutPlan;
use crate::input::{Process, Substance};
use crate::job::Job;

/// Said at the end of every caution.
const CLOSING: &str = "Local codes, the manual of the machine's maker and the material's safety \
    data sheet come first. People trained for this work decide; these notes and figures do not \
    replace a risk assessment.";

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
    fn new(about: &str, lines: impl IntoIterator<Item = String>) -> Self {
        let mut lines: Vec<String> = lines.into_iter().collect();
        lines.push(CLOSING.to_owned());
        Self {
            about: about.to_owned(),
            lines,
        }
    }
}

/// Cautions for the processes that the plan uses, and for lifting its sheets and parts.
///
/// # Panics
/// When the plan is not of this job: an index of an item, material or machine out of range.
#[must_use]
pub fn cautions(plan: &CutPlan, job: &Job) -> Vec<Caution> {
    let mut all: Vec<Caution> = processes(plan, job)
        .into_iter()
        .map(|process| match process {
            Process::Saw => saw(plan, job),
            Process::Router => router(plan, job),
            Process::Laser => laser(plan, job),
        })
        .collect();
    all.extend(lifting(plan, job));
    all
}

fn saw(plan: &CutPlan, job: &Job) -> Caution {
    let mut lines = vec![
        "Hood over the blade and riving knife in place. Stand out of the line of the blade, use \
         push sticks, never guide a piece by hand alone, and support wide pieces and offcuts until \
         the blade stands still."
            .to_owned(),
        "No gloves near the turning blade.".to_owned(),
        "Cut-resistant gloves to carry sheets and offcuts; their edges are sharp.".to_owned(),
    ];
    if let Some((name, width)) = narrowest_sawn(plan, job) {
        lines.push(format!(
            "The narrowest sawn part is {name} at {} mm. Make sure that the saw can hold it.",
            number::length(width)
        ));
    }
    Caution::new("Panel saw", lines)
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

fn router(plan: &CutPlan, job: &Job) -> Caution {
    let on_router = |s: &&crate::cut_plan::CutSheet| {
        job.shop.machines[s.machine].process == Process::Router
            || s.parts.iter().any(|p| job.items[p.item].finish_on_router)
    };
    let mut lines = vec![
        "Eye and hearing protection, extraction running, the piece held down all round.".to_owned(),
        "No gloves, loose sleeves or open hair near the turning spindle.".to_owned(),
        "Cut-resistant gloves to unload; routed edges are sharp.".to_owned(),
    ];
    let metal = plan.sheets.iter().filter(on_router).any(|s| {
        matches!(
            job.shop.materials[s.material].substance,
            Substance::Composite | Substance::Aluminium
        )
    });
    if metal {
        lines.push(
            "Fine aluminium dust burns. Keep it apart from wood dust and away from sparks, and \
             collect it with equipment made for it."
                .to_owned(),
        );
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
        lines.push(format!(
            "Small parts may lift on the closing cut: leave tabs or a thin skin, or hold them \
             otherwise ({}).",
            names.join(", ")
        ));
    }
    Caution::new("Router", lines)
}

fn laser(plan: &CutPlan, job: &Job) -> Caution {
    let mut lines = vec![
        "Never leave the laser alone while it cuts, and never defeat an interlock: the beam is \
         invisible. Extraction and air assist on, grid clean, extinguisher at hand."
            .to_owned(),
        "Only the material named on the sheet. PVC, vinyl and other chlorinated plastics give off \
         hydrogen chloride, and a plastic that nobody can name counts as one of them; look at \
         masking films too. Composite with a plastic core burns and drips, and its skins reflect \
         the beam."
            .to_owned(),
    ];
    let lasered = |substances: &[Substance]| {
        plan.sheets.iter().any(|s| {
            job.shop.machines[s.machine].process == Process::Laser
                && substances.contains(&job.shop.materials[s.material].substance)
        })
    };
    if lasered(&[Substance::Mdf, Substance::Plywood]) {
        lines.push(
            "Wood boards char, smoulder and may glow on unseen: watch the cut, clear chips, look \
             at the scrap bin again later. Their glue gives off irritating fumes; extraction on."
                .to_owned(),
        );
    }
    if lasered(&[Substance::Acrylic]) {
        lines.push(
            "Acrylic burns, and goes on burning when the beam has moved on: watch for flames that \
             stay, and let parts cool before they are stacked."
                .to_owned(),
        );
    }
    Caution::new("Laser", lines)
}

fn lifting(plan: &CutPlan, job: &Job) -> Option<Caution> {
    let mass = |area: f64, material: usize| area / 1e6 * job.shop.materials[material].kg_per_m2;
    let heavier = |a: &(String, f64), b: &(String, f64)| a.1.total_cmp(&b.1);
    let sheet = plan
        .sheets
        .iter()
        .rev()
        .map(|s| {
            let name = format!("sheet {} ({})", s.number, number::plain(&s.source.id));
            (name, mass(s.polygon().area(), s.material))
        })
        .max_by(heavier)?;
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
        .max_by(heavier);
    let one_person = LOAD_CONSTANT_KG * 25.0 / SHEET_REACH_CM;
    let mut lines = vec![format!(
        "The heaviest to lift is {} with about {} kg.",
        sheet.0,
        number::mass(sheet.1)
    )];
    if let Some((name, kg)) = part {
        lines.push(format!(
            "The heaviest part is {name} with about {} kg.",
            number::mass(kg)
        ));
    }
    lines.push(if sheet.1 > one_person {
        format!(
            "Held {SHEET_REACH_CM} cm from the body, the NIOSH lifting equation leaves one person \
             about {} kg of its {LOAD_CONSTANT_KG} kg, before height and turning are counted: plan \
             two people, a cart or a panel carrier.",
            number::mass(one_person)
        )
    } else {
        "Wide sheets bend and catch the wind: two people, a cart or a panel carrier make them \
         safer to turn."
            .to_owned()
    });
    Some(Caution::new("Lifting and carrying", lines))
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
        let cautions = cautions(&plan, &job);
        let about: Vec<&str> = cautions.iter().map(|c| c.about.as_str()).collect();
        assert_eq!(
            about,
            ["Panel saw", "Router", "Laser", "Lifting and carrying"]
        );
        for caution in &cautions {
            assert_eq!(caution.lines.last().map(String::as_str), Some(CLOSING));
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
        let about: Vec<String> = cautions(&plan, &job).into_iter().map(|c| c.about).collect();
        assert_eq!(about, ["Laser", "Lifting and carrying"]);
        plan.sheets.clear();
        assert!(cautions(&plan, &job).is_empty());
    }

    #[test]
    fn names_small_parts_and_the_heaviest() {
        let (plan, job) = sample::cabinet();
        let text = all_text(&cautions(&plan, &job));
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
        assert!(!all_text(&cautions(&plan, &job)).contains("narrowest"));
        let item = plan.sheets[1].parts[0].item;
        job.items[item].outline = panelwright_geometry::Outline::rectangle(800.0, 45.0);
        let text = all_text(&cautions(&plan, &job));
        assert!(
            text.contains("narrowest sawn part is base at 45 mm"),
            "{text}"
        );
        plan.sheets[1].guillotine = false;
        assert!(!all_text(&cautions(&plan, &job)).contains("narrowest"));
    }

    #[test]
    fn dust_and_gloves_are_lines_of_their_own() {
        let (plan, job) = sample::cabinet();
        for caution in cautions(&plan, &job) {
            for line in &caution.lines {
                assert!(
                    !(line.contains("No gloves") && line.contains("Cut-resistant")),
                    "{line}"
                );
            }
        }
    }
}

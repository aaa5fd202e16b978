//! Cautions that go with an estimate: those of the processes, of lifting its stock and of what it is not.

use super::lifting::{LOAD_CONSTANT_KG, Lift, index, recommended_kg};
use super::{Estimate, layouts};
use crate::paper::Paper;
use crate::report::number::{mass, plain, short};
use crate::report::{Caution, cautions as of_plan};

/// Reference masses that ISO 11228-1:2021 starts from, in words. From memory; the tables were not seen.
const REFERENCE: &str = "25 kg for most men at work, 20 and 15 kg for wider groups";

/// Cautions for all choices that can be made, each process once.
#[must_use]
pub fn cautions(estimate: &Estimate) -> Vec<Caution> {
    let mut all: Vec<Caution> = Vec::new();
    for (job, cells) in estimate
        .choices
        .iter()
        .filter_map(|c| c.found.as_ref().ok())
    {
        let Some(cell) = cells.last() else { continue };
        let made = estimate.one.job(job, cell.rack.made, None, None);
        let plan = layouts::plan(&cell.rack, &made, estimate.effort.seed);
        for caution in of_plan(&plan, &made, Paper::METRIC) {
            match all.iter_mut().find(|c| c.about == caution.about) {
                // What other choices add stands before the closing line.
                Some(known) => {
                    for line in caution.lines {
                        if !known.lines.contains(&line) && !line.starts_with("The heaviest") {
                            known.lines.insert(known.lines.len() - 1, line);
                        }
                    }
                }
                None => all.push(caution),
            }
        }
    }
    if let Some(lifting) = all.iter_mut().find(|c| c.about == "Lifting and carrying") {
        lifting.lines.retain(|l| !l.starts_with("The heaviest"));
        lifting.lines.splice(0..0, lifting_lines(estimate));
    }
    all
}

/// What each choice gives to lift, against the equation and the reference masses.
fn lifting_lines(estimate: &Estimate) -> Vec<String> {
    let lift = Lift::of_sheet();
    let limit = recommended_kg(&lift);
    let mut lines = Vec::new();
    for choice in &estimate.choices {
        let Ok((job, _)) = &choice.found else {
            continue;
        };
        let rows = super::table::rows(choice, estimate);
        let heaviest = rows
            .iter()
            .map(|r| &r.heaviest_stock)
            .max_by(|a, b| a.0.total_cmp(&b.0));
        let Some((kg, id)) = heaviest else { continue };
        let masses = super::table::masses(job, &estimate.one);
        lines.push(format!(
            "{}: the heaviest piece is {} with {} kg, {} times what the NIOSH equation leaves one person for a \
             wide sheet; the heaviest part {} has {} kg, and one packed kit {} kg.",
            plain(&choice.label),
            plain(id),
            mass(*kg),
            short(index(*kg, &lift), 1),
            plain(&masses.part),
            mass(masses.part_kg),
            mass(masses.one_kg)
        ));
    }
    lines.push(format!(
        "The equation starts from {LOAD_CONSTANT_KG} kg and leaves {} kg for a sheet held {} cm from the body \
         with sharp edges, seldom and without turning; it does not cover lifts by two. ISO 11228-1 starts from \
         {REFERENCE}, less for reach, turning and repetition. Above that plan two people, a cart or a panel carrier.",
        short(limit, 1),
        short(lift.horizontal, 0)
    ));
    lines
}

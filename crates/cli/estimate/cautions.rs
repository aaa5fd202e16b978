//! Cautions that go with an estimate: those of the processes, of lifting its stock and of what it is not.

use super::lifting::{LOAD_CONSTANT_KG, Lift, index, recommended_kg};
use super::{Estimate, layouts};
use crate::number::plain;
use crate::paper::Lengths;
use crate::report::{Caution, general_cautions};

/// Reference masses that ISO 11228-1:2021 starts from, kg: for most men at work, then for wider groups. From memory; the tables
/// were not seen.
const REFERENCE_KG: [f64; 3] = [25.0, 20.0, 15.0];

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
        for caution in general_cautions(&plan, &made, estimate.paper) {
            match all.iter_mut().find(|c| c.about == caution.about) {
                // What other choices add stands before the closing line.
                Some(known) => {
                    for line in caution.lines {
                        if !known.lines.contains(&line) {
                            known.lines.insert(known.lines.len() - 1, line);
                        }
                    }
                }
                None => all.push(caution),
            }
        }
    }
    let about = estimate.paper.say("caution-lifting");
    if let Some(lifting) = all.iter_mut().find(|c| c.about == about) {
        lifting.lines.splice(0..0, lifting_lines(estimate));
    }
    all
}

/// What each choice gives to lift, against the equation and the reference masses.
fn lifting_lines(estimate: &Estimate) -> Vec<String> {
    let paper = &estimate.paper;
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
        lines.push(paper.say_with(
            "estimate-lift-heaviest",
            &[
                ("label", plain(&choice.label).into()),
                ("piece", plain(id).into()),
                ("mass", paper.mass(*kg).into()),
                ("index", paper.short(index(*kg, &lift), 1).into()),
                ("part", plain(&masses.part).into()),
                ("part-mass", paper.mass(masses.part_kg).into()),
                ("kit-mass", paper.mass(masses.one_kg).into()),
            ],
        ));
    }
    let round = |kg: f64| match paper.lengths {
        Lengths::Millimetres => format!("{} kg", paper.short(kg, 1)),
        Lengths::Inches | Lengths::Fractions(_) => paper.mass(kg),
    };
    let reach = match paper.lengths {
        Lengths::Millimetres => format!("{} cm", paper.short(lift.horizontal, 0)),
        Lengths::Inches | Lengths::Fractions(_) => {
            format!("{} in", paper.short(lift.horizontal / 2.54, 0))
        }
    };
    let [most, wider, widest] = REFERENCE_KG.map(round);
    lines.push(paper.say_with(
        "estimate-lift-equation",
        &[
            ("constant", round(LOAD_CONSTANT_KG).into()),
            ("limit", round(limit).into()),
            ("reach", reach.into()),
            ("most", most.into()),
            ("wider", wider.into()),
            ("widest", widest.into()),
        ],
    ));
    lines
}

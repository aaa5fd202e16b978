//! The saw plan in words and small drawings, for text and HTML alike.

use super::cutting::time;
use super::figures::SheetFigures;
use super::wording::{cut_words, stage_word};
use crate::cut_plan::{CutPlan, CutSheet};
use crate::job::Job;
use crate::number::{self, ranges};
use crate::paper::Paper;
use crate::saw_steps::{Alike, Fate, SawRate, SawSteps, SawTime};
use panelwright_geometry::Bounds;
use panelwright_nesting::sawing::FenceCut;
use std::fmt::Write;

/// One cut, in words.
pub(super) struct SawRow {
    /// Number of the cut, as in the drawings.
    pub number: usize,
    /// The piece on the table.
    pub table: String,
    /// Along the sheet's length or across it.
    pub way: String,
    /// Where the fence stands.
    pub fence: String,
    /// What lies between fence and blade.
    pub near: String,
    /// What lies beyond the blade.
    pub beyond: String,
    /// The piece, the fence and the blade, as SVG.
    pub drawing: String,
}

/// The saw plan of a sheet: how much there is to set and turn, and the cuts one by one.
pub(super) struct SawPlan {
    /// Cuts, settings, turns, metres, time.
    pub summary: String,
    /// Other sheets that are sawn alike, and how many the saw takes at once; empty without any.
    pub alike: String,
    /// The cuts.
    pub rows: Vec<SawRow>,
}

/// The saw plan of a sheet; `None` where only centre lines can be told.
pub(super) fn saw_plan(
    cut: &CutSheet,
    figures: &SheetFigures,
    plan: &CutPlan,
    job: &Job,
) -> Option<SawPlan> {
    let steps = SawSteps::of(cut)?;
    let paper = job.shop.paper;
    let (settings, turns) = steps.sawing.set_ups();
    let sawn: f64 = cut.saw_cuts.iter().map(|c| (c.to - c.from).length()).sum();
    let mut summary = paper.say_with(
        "saw-summary",
        &[
            ("cuts", steps.cuts().len().into()),
            ("settings", settings.into()),
            ("turns", turns.into()),
            ("length", paper.distance(sawn).into()),
        ],
    );
    if let Some(rate) = SawRate::of(cut, &job.shop) {
        let about = time(60.0 * rate.minutes(&cut.saw_cuts), paper);
        summary += &paper.say_with("saw-summary-time", &[("time", about.into())]);
    }
    let name = |piece: usize| named(&steps, piece, cut, figures, paper);
    let rows = steps
        .cuts()
        .iter()
        .enumerate()
        .map(|(i, c)| SawRow {
            number: i + 1,
            table: name(c.piece),
            way: paper.say(if c.along_x { "saw-rip" } else { "saw-cross" }),
            fence: if c.trim {
                paper.say_with("saw-trim-to", &[("length", paper.length(c.setting).into())])
            } else {
                paper.length(c.setting)
            },
            near: name(c.at_fence),
            beyond: c.beyond.map_or_else(|| "-".to_owned(), name),
            drawing: drawing(&steps, c),
        })
        .collect();
    Some(SawPlan {
        summary,
        alike: alike(cut, plan, job),
        rows,
    })
}

/// All the sawing of a plan: about how long it takes, and what that is made of.
pub(super) fn saw_time(plan: &CutPlan, job: &Job) -> Option<(String, String)> {
    let all = SawTime::of(plan, &job.shop)?;
    let paper = job.shop.paper;
    let mut made_of = paper.say_with(
        "saw-time-of",
        &[("cuts", all.cuts.into()), ("sheets", all.sheets.into())],
    );
    if !all.set {
        made_of += &paper.say("saw-time-placeholders");
    }
    Some((time(60.0 * all.minutes, paper), made_of))
}

/// Which sheets may lie on each other at the saw: the same stock, cut alike.
fn alike(cut: &CutSheet, plan: &CutPlan, job: &Job) -> String {
    let Alike { numbers, at_once } = Alike::of(cut, plan, job);
    if numbers.is_empty() {
        return String::new();
    }
    let paper = job.shop.paper;
    let words = paper.say_with(
        "saw-alike",
        &[
            ("n", numbers.len().into()),
            ("numbers", ranges(&numbers).into()),
        ],
    );
    match at_once.filter(|n| *n > 1) {
        Some(n) => paper.say_with("saw-stacked", &[("alike", words.into()), ("n", n.into())]),
        None => words,
    }
}

/// The same as lines of a table of centre lines, where the plan cannot be told.
pub(super) fn centre_lines(cut: &CutSheet, paper: Paper) -> Vec<(usize, String, String)> {
    cut.saw_cuts
        .iter()
        .enumerate()
        .map(|(i, c)| (i + 1, stage_word(c, paper), cut_words(c, paper)))
        .collect()
}

/// What a piece is called and, where no list tells it, how large it is.
fn named(
    steps: &SawSteps,
    piece: usize,
    cut: &CutSheet,
    figures: &SheetFigures,
    paper: Paper,
) -> String {
    let bounds = &steps.sawing.pieces[piece];
    let size = paper.size(bounds.width(), bounds.height());
    let numbered = |key, n: usize| paper.say_with(key, &[("n", n.into())]);
    match steps.fates[piece] {
        Fate::Stock => paper.say("saw-stock"),
        Fate::Again(n) => format!("{} {size}", numbered("saw-again", n)),
        Fate::Part(i) => {
            let part = &cut.parts[i];
            let line = figures.parts.iter().find(|l| l.item == part.item);
            let key = line.map_or("", |l| l.key.as_str());
            let name = [("name", format!("{key}{}", part.copy).into())];
            if line.is_some_and(|l| l.then_router) {
                paper.say_with("saw-part-router", &name)
            } else {
                paper.say_with("saw-part", &name)
            }
        }
        Fate::Blank(i) => format!("{} {size}", numbered("saw-blank", i + 1)),
        Fate::Offcut(i) => {
            let id = number::plain(&cut.offcuts[i].id);
            paper.say_with("saw-offcut", &[("id", id.into())])
        }
        Fate::Scrap => format!("{} {size}", paper.say("saw-scrap")),
    }
}

/// Longest side of a drawing of a cut, and the room round it.
const LARGEST: f64 = 84.0;
const ROOM: f64 = 5.0;

/// The piece on the table as it lies in the stock: the fence as a thick line, the blade dashed, what lies beyond it
/// hatched by shading.
fn drawing(steps: &SawSteps, cut: &FenceCut) -> String {
    let piece = &steps.sawing.pieces[cut.piece];
    let scale = LARGEST / piece.width().max(piece.height()).max(f64::MIN_POSITIVE);
    let (w, h) = (
        (piece.width() * scale).max(4.0),
        (piece.height() * scale).max(4.0),
    );
    let (sx, sy) = (
        w / piece.width().max(f64::MIN_POSITIVE),
        h / piece.height().max(f64::MIN_POSITIVE),
    );
    let x = |v: f64| ROOM + (v - piece.min.x) * sx;
    let y = |v: f64| ROOM + h - (v - piece.min.y) * sy;
    let rect = |class: &str, b: &Bounds| {
        format!(
            r#"<rect class="{class}" x="{:.1}" y="{:.1}" width="{:.1}" height="{:.1}"/>"#,
            x(b.min.x),
            y(b.max.y),
            b.width() * sx,
            b.height() * sy
        )
    };
    let near = &steps.sawing.pieces[cut.at_fence];
    let mut svg = format!(
        r#"<svg class="step" width="{0:.0}" height="{1:.0}" viewBox="0 0 {0:.0} {1:.0}" aria-hidden="true">"#,
        w + 2.0 * ROOM,
        h + 2.0 * ROOM
    );
    svg += &rect("piece", piece);
    if let Some(beyond) = cut.beyond {
        svg += &rect("beyond", &steps.sawing.pieces[beyond]);
    }
    let mut line = |class: &str, a: (f64, f64), b: (f64, f64)| {
        // Writing into a string cannot fail.
        let _ = write!(
            svg,
            r#"<line class="{class}" x1="{:.1}" y1="{:.1}" x2="{:.1}" y2="{:.1}"/>"#,
            a.0, a.1, b.0, b.1
        );
    };
    let half = 0.5 * cut.kerf;
    if cut.along_x {
        let (fence, blade) = if cut.fence_far {
            (piece.max.y, near.min.y - half)
        } else {
            (piece.min.y, near.max.y + half)
        };
        let off = if cut.fence_far { -2.5 } else { 2.5 };
        line("fence", (ROOM, y(fence) + off), (ROOM + w, y(fence) + off));
        line("blade", (0.0, y(blade)), (w + 2.0 * ROOM, y(blade)));
    } else {
        let (fence, blade) = if cut.fence_far {
            (piece.max.x, near.min.x - half)
        } else {
            (piece.min.x, near.max.x + half)
        };
        let off = if cut.fence_far { 2.5 } else { -2.5 };
        line("fence", (x(fence) + off, ROOM), (x(fence) + off, ROOM + h));
        line("blade", (x(blade), 0.0), (x(blade), h + 2.0 * ROOM));
    }
    svg + "</svg>"
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::input::{Costing, Cutting, MaterialCosting, Process};
    use crate::rates::Rates;
    use crate::report::{Figures, sample};

    #[test]
    fn the_time_at_the_saw_is_that_of_an_estimate() {
        let (mut plan, mut job) = sample::cabinet();
        assert_eq!(
            saw_time(&plan, &job),
            None,
            "nobody looked up how fast it is"
        );
        let saw = job.shop.first(Process::Saw).expect("a saw");
        let mut by_hand = 0.0;
        for sheet in plan.sheets.iter_mut().filter(|s| !s.saw_cuts.is_empty()) {
            sheet.saw = Some(saw);
            let metres: f64 = sheet
                .saw_cuts
                .iter()
                .map(|c| c.from.distance(c.to) / 1e3)
                .sum();
            // 10 m a minute, and half a minute for each cut.
            by_hand += metres / 10.0 + 0.5 * sheet.saw_cuts.len() as f64;
        }
        let cutting = Cutting {
            cut_mm_per_min: Some(10_000.0),
            passes: Some(1.0),
            start_seconds: Some(30.0),
            ..Cutting::default()
        };
        let of_saw = MaterialCosting {
            cutting: [(job.shop.machines[saw].name.clone(), cutting)].into(),
            ..MaterialCosting::default()
        };
        let names = job.shop.materials.iter().map(|m| m.name.clone());
        let costing = Costing {
            materials: names.map(|name| (name, of_saw.clone())).collect(),
            ..Costing::default()
        };
        let (machines, materials) = (&job.shop.machines, &job.shop.materials);
        job.shop.rates = Rates::of(&costing, None, machines, materials, 1.0);
        let all = SawTime::of(&plan, &job.shop).expect("it is sawn");
        assert!(by_hand > 0.0 && (all.minutes - by_hand).abs() < 1e-9);
        let work = crate::estimate::work::Work::of_plan(&plan, &job, 1e9);
        let counted = work.values().filter_map(|w| w.machines.get(&saw));
        let (cuts, metres) = counted.fold((0, 0.0), |(n, m), w| (n + w.starts, m + w.cut_m));
        assert_eq!(cuts as usize, all.cuts);
        assert!((metres / 10.0 + 0.5 * f64::from(cuts) - all.minutes).abs() < 1e-9);
        let (words, made_of) = saw_time(&plan, &job).expect("it is sawn");
        assert!(
            words.contains(" min") && !made_of.contains("placeholder"),
            "{words} {made_of}"
        );
        for material in &mut job.shop.rates.materials {
            material.cutting[saw].passes.set = false;
        }
        let (_, made_of) = saw_time(&plan, &job).expect("it is sawn");
        assert!(made_of.ends_with("by placeholders"), "{made_of}");
    }

    #[test]
    fn sheets_cut_alike_lie_on_each_other() {
        let (mut plan, mut job) = sample::cabinet();
        let twin = plan
            .sheets
            .iter()
            .find(|s| s.guillotine && !s.saw_cuts.is_empty())
            .expect("a sawn sheet")
            .clone();
        let number = plan.sheets.len() + 1;
        let (saw, material) = (twin.saw.unwrap_or(twin.machine), twin.material);
        for sheet in &mut plan.sheets {
            if sheet.number == twin.number {
                sheet.saw = Some(saw);
            }
        }
        plan.sheets.push(CutSheet {
            number,
            saw: Some(saw),
            ..twin.clone()
        });
        let said = |plan: &CutPlan, job: &Job| {
            let figures = Figures::new(plan, job);
            let at = plan.sheets.len() - 1;
            let found = saw_plan(&plan.sheets[at], &figures.sheets[at], plan, job);
            found.expect("a plan").alike
        };
        let plain = format!("cut like sheet {}", twin.number);
        assert_eq!(said(&plan, &job), plain);
        // Twice the thickness, and a hair.
        job.shop.machines[saw].stack_height = Some(2.0 * job.shop.materials[material].thickness);
        assert_eq!(
            said(&plan, &job),
            format!("{plain}: 2 lie on each other at once")
        );
        if let Some(last) = plan.sheets.last_mut() {
            last.source.id = "another size".into();
        }
        assert!(said(&plan, &job).is_empty());
    }
}

//! The saw plan in words and small drawings, for text and HTML alike.

use super::figures::SheetFigures;
use super::number::{length, plural, short, size};
use super::wording::{cut_words, stage_word};
use crate::cut_plan::CutSheet;
use crate::saw_steps::{Fate, SawSteps};
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
    pub way: &'static str,
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
    /// Cuts, settings, turns, metres.
    pub summary: String,
    /// The cuts.
    pub rows: Vec<SawRow>,
}

/// The saw plan of a sheet; `None` where only centre lines can be told.
pub(super) fn saw_plan(cut: &CutSheet, figures: &SheetFigures) -> Option<SawPlan> {
    let steps = SawSteps::of(cut)?;
    let (settings, turns) = steps.sawing.set_ups();
    let metres: f64 = cut
        .saw_cuts
        .iter()
        .map(|c| (c.to - c.from).length() / 1e3)
        .sum();
    let n = steps.cuts().len();
    let summary = format!(
        "{n} {} with {settings} {} of the fence and {turns} {}, {} m sawn",
        plural(n, "cut", "cuts"),
        plural(settings, "setting", "settings"),
        plural(turns, "direction", "directions"),
        short(metres, 1)
    );
    let name = |piece: usize| named(&steps, piece, cut, figures);
    let rows = steps
        .cuts()
        .iter()
        .enumerate()
        .map(|(i, c)| SawRow {
            number: i + 1,
            table: name(c.piece),
            way: if c.along_x { "rip" } else { "cross" },
            fence: if c.trim {
                format!("trim to {}", length(c.setting))
            } else {
                length(c.setting)
            },
            near: name(c.at_fence),
            beyond: c.beyond.map_or_else(|| "-".to_owned(), name),
            drawing: drawing(&steps, c),
        })
        .collect();
    Some(SawPlan { summary, rows })
}

/// The same as lines of a table of centre lines, where the plan cannot be told.
pub(super) fn centre_lines(cut: &CutSheet) -> Vec<(usize, String, String)> {
    cut.saw_cuts
        .iter()
        .enumerate()
        .map(|(i, c)| (i + 1, stage_word(c), cut_words(c)))
        .collect()
}

/// What a piece is called and, where no list tells it, how large it is.
fn named(steps: &SawSteps, piece: usize, cut: &CutSheet, figures: &SheetFigures) -> String {
    let bounds = &steps.sawing.pieces[piece];
    let sized = |what: String| format!("{what} {}", size(bounds.width(), bounds.height()));
    match steps.fates[piece] {
        Fate::Stock => "stock".to_owned(),
        Fate::Again(n) => sized(format!("P{n}:")),
        Fate::Part(i) => {
            let part = &cut.parts[i];
            let line = figures.parts.iter().find(|l| l.item == part.item);
            let key = line.map_or("", |l| l.key.as_str());
            let then = if line.is_some_and(|l| l.then_router) {
                ", to router"
            } else {
                ""
            };
            format!("part {key}{}{then}", part.copy)
        }
        Fate::Blank(i) => sized(format!("blank {}:", i + 1)),
        Fate::Offcut(i) => format!("offcut {}, to rack", cut.offcuts[i].id),
        Fate::Scrap => sized("scrap".to_owned()),
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

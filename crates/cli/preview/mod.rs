//! Pictures of single sheets as PNG, for chat and mail: what the sheet is and where it stands, the report's drawing with
//! larger letters, and what the key letters stand for.
//!
//! Letters come from a font inside the program, so a picture has the same bytes on every machine, whatever fonts it has.

mod colours;
mod page;
mod png;

use crate::cut_plan::CutPlan;
use crate::job::Job;
use crate::report::Figures;
use crate::{Failure, Result};
use rayon::prelude::*;
use std::ops::RangeInclusive;

/// Widths that a picture may have, in pixels: below, nothing can be read; above, no screen shows it.
pub const WIDTHS: RangeInclusive<u32> = 400..=6000;

/// The folder of the pictures within the out folder.
pub const FOLDER: &str = "preview";

/// A picture of each sheet, `width` pixels wide: names such as `preview/sheet-01.png`, and contents.
///
/// # Errors
/// When a picture cannot be drawn, naming its sheet; a fault of the program or too little memory.
///
/// # Panics
/// When the plan is not of this job: an index of an item, material or machine out of range.
pub fn pictures(plan: &CutPlan, job: &Job, width: u32) -> Result<Vec<(String, Vec<u8>)>> {
    let figures = Figures::new(plan, job);
    let count = plan.sheets.len();
    let sheets: Vec<_> = figures.sheets.iter().zip(&plan.sheets).collect();
    sheets
        .into_par_iter()
        .map(|(sheet, cut)| {
            let name = format!("{FOLDER}/sheet-{:02}.png", sheet.number);
            let svg = page::page(sheet, cut, count, job);
            match png::png(&svg, width) {
                Ok(bytes) => Ok((name, bytes)),
                Err(why) => Err(Failure::new(
                    name,
                    format!("cannot be drawn: {why}"),
                    "leave out --preview or give a smaller --preview-width",
                )),
            }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::sample;
    use resvg::tiny_skia::Pixmap;

    #[test]
    fn a_picture_of_each_sheet_always_the_same() {
        let (plan, job) = sample::cabinet();
        let made = pictures(&plan, &job, 800).unwrap();
        assert_eq!(made.len(), plan.sheets.len());
        assert_eq!(made, pictures(&plan, &job, 800).unwrap());
        for (name, bytes) in &made {
            let picture = Pixmap::decode_png(bytes).unwrap();
            assert_eq!(picture.width(), 800, "{name}");
            // Parts are tinted, and some of a sheet is always part.
            let [r, g, b] = [0xe0, 0xec, 0xe0];
            let part = picture
                .pixels()
                .iter()
                .filter(|p| (p.red(), p.green(), p.blue()) == (r, g, b))
                .count();
            assert!(part > 2000, "{name}: {part}");
            // Nothing is see-through, as chats show pictures on any colour.
            assert!(picture.pixels().iter().all(|p| p.alpha() == 255), "{name}");
        }
    }

    #[test]
    fn letters_are_drawn_without_the_fonts_of_the_machine() {
        let svg = |word: &str| {
            format!(
                "<svg xmlns='http://www.w3.org/2000/svg' width='400' height='100'>\
                 <rect width='400' height='100' fill='#fff'/>\
                 <text x='10' y='60' font-size='40'>{word}</text></svg>"
            )
        };
        let dark = |word: &str| {
            let picture = Pixmap::decode_png(&png::png(&svg(word), 400).unwrap()).unwrap();
            picture.pixels().iter().filter(|p| p.red() < 100).count()
        };
        assert_eq!(dark(""), 0);
        assert!(dark("A 12 x 7,5 ß") > 500);
        assert!(dark("Türblech") > dark("Tür"));
    }

    #[test]
    fn names_of_any_kind_and_length() {
        let (mut plan, mut job) = sample::cabinet();
        job.order = "<&\"' \u{7} ".repeat(60);
        for item in &mut job.items {
            item.part = "panel-with-a-very-long-name-".repeat(8);
        }
        plan.sheets[0].source.id = "&<>".repeat(80);
        plan.sheets[0].source.place = Some("bay \u{1F33F} ".repeat(30));
        assert_eq!(pictures(&plan, &job, 400).unwrap().len(), plan.sheets.len());
    }
}

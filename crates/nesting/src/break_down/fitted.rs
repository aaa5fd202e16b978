//! Widths of strips that suit the parts.
//!
//! Blanks as large as the bed, and equal ones, lose what is left beside a large part in each of them. Here strips are as
//! wide as parts need them; which ways to saw are worth a look is told by how much would lie on their blanks.

use super::Bed;
use crate::{BreakDown, SawRules};
use panelwright_geometry::tolerance;

/// What is to lie on the blanks.
#[derive(Debug, Clone, Default)]
pub struct ForBlanks {
    /// Smallest distance between parts, in millimetres.
    pub gap: f64,
    /// Smallest distance between parts and the edge of a blank, in millimetres.
    pub margin: f64,
    /// Sides of the parts, in millimetres, and how many copies of each.
    pub parts: Vec<((f64, f64), u32)>,
}

/// Most widths that are put together: those with most part area behind them.
const MOST_WIDTHS: usize = 10;

/// Most strips with a width of their own. With more, parts are small beside the sheet and lie anywhere.
const MOST_STRIPS: usize = 4;

/// Most copies laid by trial, the largest first. Small ones lie anywhere.
const MOST_COPIES: usize = 60;

impl ForBlanks {
    /// The copies that are laid by trial, the largest first: sides.
    pub(super) fn copies(&self) -> Vec<(f64, f64)> {
        let mut kinds = self.parts.clone();
        kinds.sort_by(|(a, _), (b, _)| (b.0 * b.1).total_cmp(&(a.0 * a.1)));
        kinds
            .into_iter()
            .flat_map(|(sides, quantity)| std::iter::repeat_n(sides, quantity as usize))
            .take(MOST_COPIES)
            .collect()
    }

    /// The area of the `copies` that lie on the blanks of a plan: one after the other in the room that it leaves least
    /// beside it, which is then divided by one cut along and one across.
    pub(super) fn laid(&self, plan: &BreakDown, copies: &[(f64, f64)]) -> f64 {
        let room = |side: f64| side - 2.0 * self.margin + self.gap;
        let blanks = plan.blanks.iter();
        let mut rooms: Vec<(f64, f64)> = blanks
            .map(|b| (room(b.width()), room(b.height())))
            .collect();
        let mut area = 0.0;
        for &(a, b) in copies {
            let turns = [(a + self.gap, b + self.gap), (b + self.gap, a + self.gap)];
            let places = rooms.iter().enumerate().flat_map(|(i, room)| {
                turns.map(|sides| (i, sides, (room.0 - sides.0).min(room.1 - sides.1)))
            });
            let best = places
                .filter(|(.., beside)| *beside >= -tolerance::COINCIDENT)
                .min_by(|p, q| p.2.total_cmp(&q.2));
            let Some((i, sides, _)) = best else { continue };
            let (w, h) = rooms.swap_remove(i);
            let (right, above) = (w - sides.0, h - sides.1);
            // The cut runs so that the larger of the two rooms is as large as it can be.
            rooms.extend(if right * h > w * above {
                [(right, h), (sides.0, above)]
            } else {
                [(right, sides.1), (w, above)]
            });
            area += a * b;
        }
        area
    }

    /// Widths of strips, from one end of `length`, as parts need them, wide ones first; what is left comes last and is not
    /// listed.
    pub(super) fn widths(
        &self,
        copies: &[(f64, f64)],
        length: f64,
        bed: Bed,
        saw: &SawRules,
    ) -> Vec<Vec<f64>> {
        // Width and the area that asks for it.
        let mut widths: Vec<(f64, f64)> = Vec::new();
        for (a, b) in copies {
            for side in [a, b] {
                let width = side + 2.0 * self.margin;
                if width < saw.least_strip || width > bed.long {
                    continue;
                }
                let known = |w: &&mut (f64, f64)| (w.0 - width).abs() <= tolerance::COINCIDENT;
                match widths.iter_mut().find(known) {
                    Some(w) => w.1 += a * b,
                    None => widths.push((width, a * b)),
                }
            }
        }
        widths.sort_by(|a, b| b.1.total_cmp(&a.1));
        widths.truncate(MOST_WIDTHS);
        widths.sort_by(|a, b| b.0.total_cmp(&a.0));
        let widths: Vec<f64> = widths.into_iter().map(|(width, _)| width).collect();
        let mut choices = Vec::new();
        extend(&widths, length, saw.kerf, &mut Vec::new(), &mut choices);
        choices
    }
}

/// All ways to take up to [`MOST_STRIPS`] of `widths`, wide ones first, that leave some of `length`.
fn extend(
    widths: &[f64],
    length: f64,
    kerf: f64,
    chosen: &mut Vec<f64>,
    choices: &mut Vec<Vec<f64>>,
) {
    for (i, width) in widths.iter().enumerate() {
        let left = length - width - kerf;
        if left <= tolerance::COINCIDENT {
            continue;
        }
        chosen.push(*width);
        choices.push(chosen.clone());
        if chosen.len() < MOST_STRIPS {
            extend(&widths[i..], left, kerf, chosen, choices);
        }
        chosen.pop();
    }
}

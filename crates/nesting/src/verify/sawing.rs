//! Whether the saw cuts of a layout give what is said of them.

use super::piece::Piece;
use super::replay::Saw;
use super::shape::Shape;
use super::{Bench, Fault, Laid, SAWN};
use crate::SawRules;
use panelwright_geometry::{Bounds, Point, Polygon, tolerance};

impl Bench<'_> {
    /// Makes the cuts and checks that each part comes free; gives the pieces.
    pub(super) fn check_sawn(
        &self,
        rules: &SawRules,
        laid: &[Laid],
        faults: &mut Vec<Fault>,
    ) -> Vec<Piece> {
        let parts: Vec<(&str, Bounds)> = laid
            .iter()
            .map(|l| (l.part.name.as_str(), l.bounds))
            .collect();
        let saw = Saw {
            sheet: self.sheet,
            rules: Some(rules),
            parts: &parts,
            slack: tolerance::JUDGE,
        };
        let pieces = saw.replay(&self.stock.outline, &self.layout.saw_cuts, faults);
        let mut taken = vec![false; pieces.len()];
        for (name, bounds) in &parts {
            let (sheet, part) = (self.sheet, (*name).to_string());
            let width = bounds.width().min(bounds.height());
            if width < rules.least_strip - tolerance::JUDGE {
                faults.push(Fault::TooNarrow {
                    sheet,
                    part: part.clone(),
                    width,
                    limit: rules.least_strip,
                });
            }
            let near = |p: Point, q: Point| (p.x - q.x).abs().max((p.y - q.y).abs()) <= SAWN;
            let fits = |p: &Piece| {
                near(p.bounds.min, bounds.min)
                    && near(p.bounds.max, bounds.max)
                    && p.is_rectangle(SAWN)
            };
            let middle = Bounds::new(bounds.center(), bounds.center());
            if let Some(i) = (0..pieces.len()).find(|i| !taken[*i] && fits(&pieces[*i])) {
                taken[i] = true;
            } else if let Some(piece) = pieces.iter().find(|p| p.bounds.touches(&middle)) {
                faults.push(Fault::NotFreed {
                    sheet,
                    part,
                    length: piece.bounds.width(),
                    width: piece.bounds.height(),
                });
            } else {
                faults.push(Fault::NoPieceLeft { sheet, part });
            }
        }
        pieces
    }

    /// The cuts that make blanks, where there are any; gives the pieces.
    pub(super) fn check_break_down(
        &self,
        laid: &[Laid],
        faults: &mut Vec<Fault>,
    ) -> Option<Vec<Piece>> {
        let (sheet, cuts) = (self.sheet, &self.layout.saw_cuts);
        let Some(plan) = &self.stock.break_down else {
            if !cuts.is_empty() {
                faults.push(Fault::UnexpectedCuts {
                    sheet,
                    cuts: cuts.len(),
                });
            }
            return None;
        };
        let stock = self.stock.name.clone();
        if *cuts != plan.cuts {
            faults.push(Fault::CutsNotOfBreakDown {
                sheet,
                stock: stock.clone(),
            });
        }
        let parts: Vec<(&str, Bounds)> = laid
            .iter()
            .map(|l| (l.part.name.as_str(), l.bounds))
            .collect();
        let saw = Saw {
            sheet,
            rules: None,
            parts: &parts,
            slack: tolerance::JUDGE,
        };
        let pieces = saw.replay(&self.stock.outline, cuts, faults);
        // Without their voids: those in a blank are kept clear part by part.
        let shapes: Vec<Shape> = pieces
            .iter()
            .map(|p| Shape::new(&Polygon::new(p.polygon().outer, Vec::new())))
            .collect();
        for (i, blank) in plan.blanks.iter().enumerate() {
            let rectangle = Shape::rectangle(*blank);
            let within = |p: &Shape| {
                p.bounds().grown(SAWN).contains(blank) && rectangle.sticks_out_of(p, SAWN).is_none()
            };
            if !shapes.iter().any(within) {
                faults.push(Fault::BlankNotSawn {
                    sheet,
                    stock: stock.clone(),
                    blank: i + 1,
                });
            }
        }
        Some(pieces)
    }
}

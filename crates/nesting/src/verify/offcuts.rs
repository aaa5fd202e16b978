//! Whether what a layout calls left over is really there.

use super::Fault;
use super::piece::Piece;
use super::shape::Shape;
use crate::{Layout, Offcut, Stock};
use panelwright_geometry::{Bounds, Polygon, tolerance};

/// What is forgiven of an offcut's outline. Nothing is cut to it, and it may come from offsets on a
/// grid of a ten-thousandth of a millimetre.
const FORGIVEN: f64 = 1e-3;

/// A placed part as the offcuts see it.
pub(super) struct Solid<'a> {
    pub name: &'a str,
    pub shape: &'a Shape,
}

/// Checks the offcuts of one layout. `kerf` is what the tool takes round a part; `pieces` what the
/// saw left, where it was used.
pub(super) fn check(
    sheet: usize,
    stock: &Stock,
    layout: &Layout,
    parts: &[Solid],
    kerf: f64,
    pieces: Option<&[Piece]>,
    faults: &mut Vec<Fault>,
) {
    if layout.offcuts.is_empty() {
        return;
    }
    let field = Shape::new(&stock.outline);
    let sawn: Option<Vec<Shape>> =
        pieces.map(|p| p.iter().map(|p| Shape::new(&p.polygon())).collect());
    let mut shapes: Vec<Option<Shape>> = Vec::new();
    for (i, offcut) in layout.offcuts.iter().enumerate() {
        let number = i + 1;
        check_worth(sheet, number, stock, offcut, faults);
        if !has_area(&offcut.outline) {
            faults.push(Fault::BadOffcut {
                sheet,
                offcut: number,
            });
            shapes.push(None);
            continue;
        }
        let shape = Shape::new(&offcut.outline);
        if let Some(out) = shape.sticks_out_of(&field, FORGIVEN) {
            faults.push(Fault::OffcutOutside {
                sheet,
                offcut: number,
                at: out.at,
            });
        }
        let mut own = None;
        if let Some(sawn) = &sawn {
            let whole = |p: &&Shape| {
                p.bounds().grown(FORGIVEN).contains(shape.bounds())
                    && shape.sticks_out_of(p, FORGIVEN).is_none()
            };
            own = sawn.iter().find(whole);
            if own.is_none() {
                faults.push(Fault::OffcutNotSawn {
                    sheet,
                    offcut: number,
                });
            }
        }
        // Beside a blank nothing is cut out any more: what the tool takes there does not count.
        let beside = |part: &&Solid| match own {
            Some(own) if stock.break_down.is_some() => {
                let middle = part.shape.bounds().center();
                own.bounds().contains(&Bounds::new(middle, middle))
            }
            _ => true,
        };
        for part in parts.iter().filter(beside) {
            if let Some(fault) = against_part(sheet, number, &shape, part, kerf) {
                faults.push(fault);
            }
        }
        for (j, other) in shapes.iter().enumerate() {
            let both = other.as_ref().and_then(|o| shape.overlap(o, FORGIVEN));
            if let Some(both) = both {
                faults.push(Fault::OffcutsOverlap {
                    sheet,
                    offcut: j + 1,
                    other: number,
                    at: both.at,
                });
            }
        }
        shapes.push(Some(shape));
    }
}

fn has_area(outline: &Polygon) -> bool {
    outline.outer.len() > 2
        && outline.holes.iter().all(|h| h.len() > 2)
        && outline
            .rings()
            .flatten()
            .all(|p| p.is_finite() && p.x.abs().max(p.y.abs()) <= tolerance::LARGEST)
        && outline.area() > 0.0
}

fn against_part(
    sheet: usize,
    offcut: usize,
    shape: &Shape,
    part: &Solid,
    kerf: f64,
) -> Option<Fault> {
    let window: Bounds = shape.bounds().grown(kerf);
    if !window.touches(part.shape.bounds()) {
        return None;
    }
    let (at, distance) = match shape.overlap(part.shape, FORGIVEN) {
        Some(overlap) => (overlap.at, -overlap.depth),
        // Both outlines are flattened, each within the chord error.
        None => {
            let near = shape.nearest(part.shape, kerf - tolerance::CHORD)?;
            (near.at, near.distance)
        }
    };
    Some(Fault::OffcutOnPart {
        sheet,
        offcut,
        part: part.name.to_string(),
        at,
        distance,
        kerf,
    })
}

/// The keep rule and the value. Of the rectangle that the rule asks for, only what must hold for it
/// whichever way it lies is checked: the offcut has its area, and its bounds can hold it.
fn check_worth(
    sheet: usize,
    number: usize,
    stock: &Stock,
    offcut: &Offcut,
    faults: &mut Vec<Fault>,
) {
    let keep = &stock.keep;
    if offcut.kept && has_area(&offcut.outline) {
        let bounds = offcut.outline.bounds().grown(0.5 * FORGIVEN);
        let slack = FORGIVEN * (bounds.width() + bounds.height());
        let roomy = keep.least_rectangles().any(|[width, length]| {
            offcut.outline.area() + slack >= width * length
                && bounds.width().min(bounds.height()) >= width
                && bounds.width().max(bounds.height()) >= length
        });
        if !roomy {
            faults.push(Fault::KeepRule {
                sheet,
                offcut: number,
                least_length: keep.least_length,
                least_width: keep.least_width,
            });
        }
    }
    // A left-over worth more than what it was cut from would make cutting it a source of income.
    let limit = if offcut.kept { stock.cost } else { 0.0 };
    let slack = 1e-9 * stock.cost.max(1.0);
    if !(offcut.value >= 0.0 && offcut.value <= limit + slack) {
        faults.push(Fault::OffcutValue {
            sheet,
            offcut: number,
            value: offcut.value,
            limit,
        });
    }
}

//! The upright rectangle of a piece of stock that the saw divides, and the cuts that free it.

use super::length::{Nm, mm, nearest};
use crate::{Problem, SawCut, SawRules, Stock, StockKind};
use panelwright_geometry::{Bounds, Point};

/// A rectangle of stock that is ready to be divided.
#[derive(Debug, Clone)]
pub(super) struct Usable {
    /// Lower left corner, in the stock's coordinates.
    pub corner: Point,
    /// Length and width.
    pub size: [Nm; 2],
    /// The cuts that free it, in order; all of stage 0.
    pub trims: Vec<SawCut>,
    /// Whether the saw's longest cuts allow those.
    pub sawable: bool,
}

/// Area by which an outline may differ from its bounding rectangle and still be one, in relation
/// to its circumference: what the rounding of its corners can make.
const RECTANGLE: f64 = 1e-6;

/// The bounds of `stock` when it is a plain upright rectangle without voids or flaws.
pub(crate) fn plain_rectangle(stock: &Stock) -> Option<Bounds> {
    let bounds = stock.outline.bounds();
    let off = bounds.area() - stock.outline.area();
    let plain = stock.outline.holes.is_empty()
        && stock.keep_clear.is_empty()
        && off.abs() <= RECTANGLE * (bounds.width() + bounds.height());
    plain.then_some(bounds)
}

/// What the saw can use of `stock`; `None` when there is no such rectangle.
pub(super) fn usable(problem: &Problem, rules: &SawRules, stock: &Stock) -> Option<Usable> {
    let bounds = plain_rectangle(stock)?;
    let inset = match stock.kind {
        StockKind::Sheet => [
            rules.trim.left,
            rules.trim.bottom,
            rules.trim.right,
            rules.trim.top,
        ],
        // A cut narrower than the blade would leave it half in the air, as with a trim.
        StockKind::Remnant if problem.margin > 0.0 => [problem.margin.max(rules.kerf); 4],
        StockKind::Remnant => [0.0; 4],
    };
    let inset = inset.map(nearest);
    let size = [
        nearest(bounds.width()) - inset[0] - inset[2],
        nearest(bounds.height()) - inset[1] - inset[3],
    ];
    if size[0] <= 0 || size[1] <= 0 {
        return None;
    }
    let corner = Point::new(bounds.min.x + mm(inset[0]), bounds.min.y + mm(inset[1]));
    let wanted = Bounds::new(
        corner,
        Point::new(corner.x + mm(size[0]), corner.y + mm(size[1])),
    );
    let sides = inset.map(|i| i > 0);
    // Rips first, as the trade does; the other way round where the sheet is longer than the saw
    // can rip.
    let (trims, sawable) = [[1, 3, 0, 2], [0, 2, 1, 3]]
        .map(|order| trim_rectangle(bounds, wanted, sides, order, rules))
        .into_iter()
        .reduce(|a, b| if a.1 { a } else { b })?;
    Some(Usable {
        corner,
        size,
        trims,
        sawable,
    })
}

/// Cuts from `bounds` down to `wanted` on the `sides` left, bottom, right, top, taken in `order`,
/// and whether none is longer than the saw takes.
fn trim_rectangle(
    bounds: Bounds,
    wanted: Bounds,
    sides: [bool; 4],
    order: [usize; 4],
    rules: &SawRules,
) -> (Vec<SawCut>, bool) {
    let mut piece = bounds;
    let mut cuts = Vec::new();
    let mut sawable = true;
    let half = 0.5 * rules.kerf;
    for side in order.into_iter().filter(|s| sides[*s]) {
        let (from, to) = match side {
            0 | 2 => {
                let x = if side == 0 {
                    wanted.min.x - half
                } else {
                    wanted.max.x + half
                };
                sawable &= piece.height() <= rules.longest_crosscut;
                (Point::new(x, piece.min.y), Point::new(x, piece.max.y))
            }
            _ => {
                let y = if side == 1 {
                    wanted.min.y - half
                } else {
                    wanted.max.y + half
                };
                sawable &= piece.width() <= rules.longest_rip;
                (Point::new(piece.min.x, y), Point::new(piece.max.x, y))
            }
        };
        match side {
            0 => piece.min.x = wanted.min.x,
            1 => piece.min.y = wanted.min.y,
            2 => piece.max.x = wanted.max.x,
            _ => piece.max.y = wanted.max.y,
        }
        cuts.push(SawCut {
            from,
            to,
            kerf: rules.kerf,
            stage: 0,
        });
    }
    (cuts, sawable)
}

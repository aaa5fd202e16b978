//! The independent judge: nothing leaves the program that it refuses.
//!
//! It shares no collision code with the searches. It takes the problem and the nest as they are,
//! lays every part down anew, measures, and makes the saw cuts again one by one.
//!
//! * A part cut **free-form** is judged by its covering polygon ([`Outline::covering`]), which never
//!   shows less material than the part, so a distance that is enough for it is enough for the part.
//! * A **sawn** part is judged by its exact bounding rectangle: that is what the saw frees. Gap and
//!   margin do not apply to it; two sawn parts are apart by at least the kerf along x or along y, and
//!   on a sheet each is clear of the trims.
//! * Distances may fall short by [`tolerance::JUDGE`], parts may overlap or stick out by as much.
//!   A sawn piece is the part's size within [`SAWN`].
//!
//! * A **pinned** part lies where it was pinned, within [`PINNED`], and its piece of stock is taken.
//!
//! Rules for saw cuts, in cutting order:
//!
//! * A cut runs edge to edge of every piece that its blade meets, or beyond. The blade may hang over
//!   an edge; it may not enter a part.
//! * All cuts of a stage run the same way, successive stages take turns, and no piece goes back to an
//!   earlier stage. The limits on length hold for every cut, trims included.
//! * Stage 0 is for trims, which leave parts on one side only. First trims come before any stage of
//!   their piece, in both directions. A last trim takes waste off a piece that holds a single part,
//!   across the stage that made the piece; it bears stage 0 or the number after the last allowed one.
//! * At the end every part is a piece of its own, without voids, and no narrower than the saw holds.
//!
//! [`Outline::covering`]: panelwright_geometry::Outline::covering

mod counts;
mod fault;
mod offcuts;
mod pairs;
mod piece;
mod pinned;
mod places;
mod replay;
mod sawing;
mod separable;
mod settings;
mod shape;
#[cfg(test)]
mod tests;

pub use fault::Fault;
pub use separable::guillotine_separable;
pub use settings::judge_settings;

use crate::{Angles, Layout, Method, Nest, Part, PlacedPart, Problem, SawCut, Stock, Turn};
use offcuts::Solid;
use panelwright_geometry::{Bounds, Point, Polygon, tolerance};
use shape::Shape;

/// A sawn piece may differ from the part's bounding rectangle by this, in millimetres, on each side:
/// sums of hundreds of kerfs and sizes, far below what a saw can hold.
pub const SAWN: f64 = 1e-4;

/// Angles this near, in degrees, are the same: over a ten-metre part a fifth of a micron.
const SAME_ANGLE_DEG: f64 = 1e-6;

/// How far a pinned part may lie from where it was pinned, in millimetres: the rounding of a
/// coordinate, and nothing else.
pub const PINNED: f64 = 1e-6;

/// How far short of an edge a saw cut may stop that was written to a file, in millimetres: where the edge is aslant,
/// rounding moves the end of a cut by many times as much.
pub const ROUNDED_CUT: f64 = 0.1;

/// Everything that is wrong with `nest` as an answer to `problem`; empty when it may be cut.
///
/// Expects a problem that [`Problem::check`] passes; the nest may be anything at all.
///
/// # Panics
/// When a stock's outline has no points, which [`Problem::check`] rules out.
///
/// # Runtime
/// For each layout about n log n in the parts for finding neighbours, and the product of the edges
/// of two neighbours that face each other.
#[must_use]
pub fn judge(problem: &Problem, nest: &Nest) -> Vec<Fault> {
    let mut faults = Vec::new();
    counts::check(problem, nest, &mut faults);
    pinned::check(problem, nest, &mut faults);
    // Covering polygons as drawn, made once for each part.
    let drawn: Vec<Polygon> = problem.parts.iter().map(|p| p.outline.covering()).collect();
    for (i, layout) in nest.layouts.iter().enumerate() {
        if let Some(stock) = problem.stock.get(layout.stock) {
            let bench = Bench {
                problem,
                stock,
                layout,
                sheet: i + 1,
            };
            bench.judge(&drawn, &mut faults);
        }
    }
    faults
}

/// Everything that is wrong with one layout by itself, its left-overs not looked at: not whether
/// there is stock for it, and not whether its parts are wanted. What it says of the layout bears
/// the number `sheet`.
///
/// # Panics
/// When the layout's stock is not of `problem`, or a stock's outline has no points.
#[must_use]
pub fn judge_layout(problem: &Problem, layout: &Layout, sheet: usize) -> Vec<Fault> {
    let mut faults = Vec::new();
    let layout = Layout {
        offcuts: Vec::new(),
        ..layout.clone()
    };
    let drawn: Vec<Polygon> = problem.parts.iter().map(|p| p.outline.covering()).collect();
    let bench = Bench {
        problem,
        stock: &problem.stock[layout.stock],
        layout: &layout,
        sheet,
    };
    bench.judge(&drawn, &mut faults);
    faults
}

/// Everything that is wrong with the parts pinned on the stock of this index, before anything else
/// is laid beside them. What it says of the piece bears the number `sheet`.
///
/// # Panics
/// As [`judge_layout`].
#[must_use]
pub fn judge_pinned(problem: &Problem, stock: usize, sheet: usize) -> Vec<Fault> {
    judge_layout(problem, &Layout::bare(problem, stock), sheet)
}

/// Everything that is wrong with saw cuts by themselves: each has to run edge to edge of what those before it left of
/// `stock`, but for [`ROUNDED_CUT`], and through none of `parts` (name and bounding rectangle). Whatever is found bears the
/// number `sheet`. Lengths, stages and a saw's other rules are not looked at.
///
/// # Panics
/// When the stock has no points.
#[must_use]
pub fn judge_saw_cuts(
    stock: &Polygon,
    parts: &[(&str, Bounds)],
    cuts: &[SawCut],
    sheet: usize,
) -> Vec<Fault> {
    let mut faults = Vec::new();
    let rules = None;
    let saw = replay::Saw {
        sheet,
        rules,
        parts,
        slack: ROUNDED_CUT,
    };
    saw.replay(stock, cuts, &mut faults);
    faults
}

/// Bounding rectangles of the pieces that these cuts leave of `stock`, as far as they can be made.
///
/// # Panics
/// When the stock has no points.
#[must_use]
pub fn pieces_of(stock: &Polygon, cuts: &[SawCut]) -> Vec<Bounds> {
    let saw = replay::Saw {
        sheet: 0,
        rules: None,
        parts: &[],
        slack: ROUNDED_CUT,
    };
    let pieces = saw.replay(stock, cuts, &mut Vec::new());
    pieces.into_iter().map(|piece| piece.bounds).collect()
}

/// A part laid down for judging.
struct Laid<'a> {
    part: &'a Part,
    shape: Shape,
    /// Exact bounding rectangle.
    bounds: Bounds,
}

/// One layout on the judge's bench.
struct Bench<'a> {
    problem: &'a Problem,
    stock: &'a Stock,
    layout: &'a Layout,
    sheet: usize,
}

impl<'a> Bench<'a> {
    fn judge(&self, drawn: &[Polygon], faults: &mut Vec<Fault>) {
        let laid = self.lay(drawn, faults);
        self.check_places(&laid, faults);
        self.check_pairs(&laid, faults);
        let pieces = match &self.problem.method {
            Method::Guillotine(rules) => Some(self.check_sawn(rules, &laid, faults)),
            Method::FreeForm => self.check_break_down(&laid, faults),
        };
        let solids: Vec<Solid> = laid
            .iter()
            .map(|l| Solid {
                name: &l.part.name,
                shape: &l.shape,
            })
            .collect();
        let kerf = match self.problem.method {
            // The sawn pieces themselves say where the blade was.
            Method::Guillotine(_) => 0.0,
            Method::FreeForm => self.problem.kerf,
        };
        offcuts::check(
            self.sheet,
            self.stock,
            self.layout,
            &solids,
            kerf,
            pieces.as_deref(),
            faults,
        );
    }

    fn sawn(&self) -> bool {
        matches!(self.problem.method, Method::Guillotine(_))
    }

    /// The margin and the gap that hold here.
    fn distances(&self) -> (f64, f64) {
        match &self.problem.method {
            Method::Guillotine(rules) => (0.0, rules.kerf),
            Method::FreeForm => (self.problem.margin_on(self.stock), self.problem.gap),
        }
    }

    /// Lays the parts down and checks what needs no neighbour: place, angle, grain, faces.
    fn lay(&self, drawn: &[Polygon], faults: &mut Vec<Fault>) -> Vec<Laid<'a>> {
        let mut laid = Vec::with_capacity(self.layout.placed.len());
        for placed in &self.layout.placed {
            let Some((part, drawn)) = self
                .problem
                .parts
                .get(placed.part)
                .zip(drawn.get(placed.part))
            else {
                continue;
            };
            let origin = placed.placement.origin;
            let polygon = drawn.placed(&placed.placement);
            let reachable =
                |p: &Point| p.is_finite() && p.x.abs().max(p.y.abs()) <= tolerance::LARGEST;
            if polygon.outer.is_empty()
                || !polygon.rings().flatten().all(reachable)
                || !reachable(&origin)
            {
                faults.push(Fault::BadPlacement {
                    sheet: self.sheet,
                    part: part.name.clone(),
                    origin,
                    angle_deg: placed.placement.angle_deg(),
                });
                continue;
            }
            let bounds = part.outline.outer.placed(&placed.placement).bounds();
            let shape = if self.sawn() {
                Shape::rectangle(bounds)
            } else {
                Shape::new(&polygon)
            };
            self.check_angle(part, placed, bounds.center(), faults);
            if !part.faces_fit(self.stock) {
                faults.push(Fault::BadFace {
                    sheet: self.sheet,
                    part: part.name.clone(),
                    stock: self.stock.name.clone(),
                    needed: part.good_faces,
                    has: self.stock.good_faces,
                });
            }
            laid.push(Laid {
                part,
                shape,
                bounds,
            });
        }
        laid
    }

    fn check_angle(&self, part: &Part, placed: &PlacedPart, at: Point, faults: &mut Vec<Fault>) {
        let angle_deg = placed.placement.angle_deg();
        let same = |a: &f64| {
            let off = (angle_deg - a).rem_euclid(360.0);
            off.min(360.0 - off) <= SAME_ANGLE_DEG
        };
        let allowed = match part.angles(self.stock) {
            Angles::Any => true,
            Angles::Listed(angles) => angles.iter().any(same),
        };
        if allowed {
            return;
        }
        let turn_allows = match part.turn {
            Turn::Free => true,
            Turn::Quarter => [0.0, 90.0, 180.0, 270.0].iter().any(same),
            Turn::Half => [0.0, 180.0].iter().any(same),
            Turn::None => same(&0.0),
        };
        let (sheet, part) = (self.sheet, part.name.clone());
        faults.push(if turn_allows {
            Fault::WrongGrain {
                sheet,
                part,
                stock: self.stock.name.clone(),
                at,
                angle_deg,
            }
        } else {
            Fault::WrongAngle {
                sheet,
                part,
                at,
                angle_deg,
            }
        });
    }
}

//! The independent judge: nothing leaves the program that it refuses.
//!
//! It shares no collision code with the searches. It takes the problem and the nest as they are,
//! lays every part down anew, measures, and makes the saw cuts again one by one.
//!
//! * A part cut **free-form** is judged by its covering polygon ([`Outline::covering`]), which never
//!   shows less material than the part, so a distance that is enough for it is enough for the part.
//! * A **sawn** part is judged by its exact bounding rectangle: that is what the saw frees. Gap and
//!   margin do not apply to it; two sawn parts are apart by at least the kerf along x or along y.
//! * Distances may fall short by [`tolerance::JUDGE`], parts may overlap or stick out by as much.
//!   A sawn piece is the part's size within [`SAWN`].
//!
//! [`Outline::covering`]: panelwright_geometry::Outline::covering

mod counts;
mod fault;
mod offcuts;
mod piece;
mod replay;
mod separable;
mod shape;
#[cfg(test)]
mod tests;

pub use fault::Fault;
pub use separable::guillotine_separable;

use crate::{Angles, Layout, Method, Nest, Part, PlacedPart, Problem, SawRules, Stock, Turn};
use offcuts::Solid;
use panelwright_geometry::{Bounds, Point, Polygon, tolerance};
use piece::Piece;
use replay::Saw;
use shape::Shape;

/// A sawn piece may differ from the part's bounding rectangle by this, in millimetres, on each side:
/// sums of hundreds of kerfs and sizes, far below what a saw can hold.
pub const SAWN: f64 = 1e-4;

/// Angles this near, in degrees, are the same: over a ten-metre part a fifth of a micron.
const SAME_ANGLE_DEG: f64 = 1e-6;

/// Everything that is wrong with `nest` as an answer to `problem`; empty when it may be cut.
///
/// Expects a problem that [`Problem::check`] passes; the nest may be anything at all.
///
/// # Runtime
/// For each layout about n log n in the parts for finding neighbours, and the product of the edges
/// of two neighbours that face each other.
#[must_use]
pub fn judge(problem: &Problem, nest: &Nest) -> Vec<Fault> {
    let mut faults = Vec::new();
    counts::check(problem, nest, &mut faults);
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
            Method::FreeForm => (self.problem.margin, self.problem.gap),
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
            if !polygon.rings().flatten().all(reachable) || !reachable(&origin) {
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

    /// Each part inside the stock or a blank, clear of voids and of what is to be kept clear.
    fn check_places(&self, laid: &[Laid], faults: &mut Vec<Fault>) {
        let solid = |ring: &Vec<Point>| Shape::new(&Polygon::new(ring.clone(), Vec::new()));
        let (margin, _) = self.distances();
        let blanks = self.stock.break_down.as_ref().filter(|_| !self.sawn());
        let fields: Vec<Shape> = match blanks {
            Some(plan) => plan.blanks.iter().map(|b| Shape::rectangle(*b)).collect(),
            None => vec![solid(&self.stock.outline.outer)],
        };
        let voids: Vec<Shape> = self.stock.outline.holes.iter().map(solid).collect();
        let keep_clear: Vec<Shape> = self.stock.keep_clear.iter().map(solid).collect();
        for part in laid {
            self.check_field(part, &fields, blanks.is_some(), margin, faults);
            for void in &voids {
                if let Some((at, distance)) = too_near(&part.shape, void, margin) {
                    faults.push(Fault::OnVoid {
                        sheet: self.sheet,
                        part: part.part.name.clone(),
                        at,
                        distance,
                        margin,
                    });
                }
            }
            for area in &keep_clear {
                if let Some((at, distance)) = too_near(&part.shape, area, margin) {
                    faults.push(Fault::OnKeepClear {
                        sheet: self.sheet,
                        part: part.part.name.clone(),
                        at,
                        distance,
                        margin,
                    });
                }
            }
        }
    }

    fn check_field(
        &self,
        laid: &Laid,
        fields: &[Shape],
        blanks: bool,
        margin: f64,
        faults: &mut Vec<Fault>,
    ) {
        let (sheet, part) = (self.sheet, laid.part.name.clone());
        // The field to be named when none will do: the one it sticks out of least.
        let mut least: Option<(f64, Fault)> = None;
        for field in fields {
            let fault = if let Some(out) = laid.shape.sticks_out_of(field, tolerance::JUDGE) {
                let (at, by, part) = (out.at, out.depth, part.clone());
                let fault = if blanks {
                    Fault::OutsideBlanks {
                        sheet,
                        part,
                        at,
                        by,
                    }
                } else {
                    Fault::OutsideStock {
                        sheet,
                        part,
                        stock: self.stock.name.clone(),
                        at,
                        by,
                    }
                };
                (by, fault)
            } else {
                match laid.shape.nearest(field, margin - tolerance::JUDGE) {
                    None => return,
                    Some(near) => (
                        // Inside, so rather named than any that it sticks out of.
                        -near.distance,
                        Fault::MarginShort {
                            sheet,
                            part: part.clone(),
                            at: near.at,
                            distance: near.distance,
                            margin,
                        },
                    ),
                }
            };
            if least.as_ref().is_none_or(|(by, _)| fault.0 < *by) {
                least = Some(fault);
            }
        }
        match least {
            Some((_, fault)) => faults.push(fault),
            None => faults.push(Fault::OutsideBlanks {
                sheet,
                part,
                at: laid.bounds.center(),
                by: f64::INFINITY,
            }),
        }
    }

    /// Any two parts apart by the gap; sawn ones by the kerf along one axis.
    fn check_pairs(&self, laid: &[Laid], faults: &mut Vec<Fault>) {
        let (_, gap) = self.distances();
        // A sweep along x: only parts whose ranges come within the gap are looked at.
        let mut order: Vec<usize> = (0..laid.len()).collect();
        let left = |i: usize| laid[i].shape.bounds().min.x;
        order.sort_by(|a, b| left(*a).total_cmp(&left(*b)));
        let mut found = Vec::new();
        let mut active: Vec<usize> = Vec::new();
        for i in order {
            let window = laid[i].shape.bounds().grown(gap);
            active.retain(|j| laid[*j].shape.bounds().max.x >= window.min.x);
            for j in &active {
                if window.touches(laid[*j].shape.bounds()) {
                    let pair = (i.min(*j), i.max(*j));
                    if let Some(fault) = self.check_pair(&laid[pair.0], &laid[pair.1], gap) {
                        found.push((pair, fault));
                    }
                }
            }
            active.push(i);
        }
        found.sort_by_key(|(pair, _)| *pair);
        faults.extend(found.into_iter().map(|(_, fault)| fault));
    }

    fn check_pair(&self, a: &Laid, b: &Laid, gap: f64) -> Option<Fault> {
        let (sheet, part, other) = (self.sheet, a.part.name.clone(), b.part.name.clone());
        if let Some(overlap) = a.shape.overlap(&b.shape, tolerance::JUDGE) {
            return Some(Fault::Overlap {
                sheet,
                part,
                other,
                at: overlap.at,
                depth: overlap.depth,
            });
        }
        let short = |at, distance| Fault::GapShort {
            sheet,
            part: part.clone(),
            other: other.clone(),
            at,
            distance,
            gap,
        };
        if self.sawn() {
            let apart = |lo: f64, hi: f64, lo2: f64, hi2: f64| (lo2 - hi).max(lo - hi2);
            let (p, q) = (&a.bounds, &b.bounds);
            let distance = apart(p.min.x, p.max.x, q.min.x, q.max.x)
                .max(apart(p.min.y, p.max.y, q.min.y, q.max.y));
            return (distance < gap - tolerance::JUDGE)
                .then(|| short(p.center().midpoint(q.center()), distance.max(0.0)));
        }
        if let Some(near) = a.shape.nearest(&b.shape, gap - tolerance::JUDGE) {
            return Some(short(near.at, near.distance));
        }
        if !self.problem.use_cutouts {
            let inside = |part: &Laid, other: &Laid| {
                other
                    .shape
                    .holds_in_hole(&part.shape)
                    .then(|| Fault::InCutout {
                        sheet,
                        part: part.part.name.clone(),
                        other: other.part.name.clone(),
                    })
            };
            return inside(a, b).or_else(|| inside(b, a));
        }
        None
    }

    /// Makes the cuts and checks that each part comes free; gives the pieces.
    fn check_sawn(&self, rules: &SawRules, laid: &[Laid], faults: &mut Vec<Fault>) -> Vec<Piece> {
        let parts: Vec<(&str, Bounds)> = laid
            .iter()
            .map(|l| (l.part.name.as_str(), l.bounds))
            .collect();
        let saw = Saw {
            sheet: self.sheet,
            rules: Some(rules),
            parts: &parts,
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
    fn check_break_down(&self, laid: &[Laid], faults: &mut Vec<Fault>) -> Option<Vec<Piece>> {
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

/// Where and by how much a part is over an obstacle (below 0) or nearer to it than the margin.
fn too_near(part: &Shape, obstacle: &Shape, margin: f64) -> Option<(Point, f64)> {
    if !part.bounds().grown(margin).touches(obstacle.bounds()) {
        return None;
    }
    if let Some(overlap) = part.overlap(obstacle, tolerance::JUDGE) {
        return Some((overlap.at, -overlap.depth));
    }
    part.nearest(obstacle, margin - tolerance::JUDGE)
        .map(|near| (near.at, near.distance))
}

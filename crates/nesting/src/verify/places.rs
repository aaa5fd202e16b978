//! Whether each part lies where there is material for it.

use super::shape::Shape;
use super::{Bench, Fault, Laid};
use crate::{Method, StockKind};
use panelwright_geometry::{Point, Polygon, tolerance};

impl Bench<'_> {
    /// Each part inside the stock or a blank, clear of voids and of what is to be kept clear.
    pub(super) fn check_places(&self, laid: &[Laid], faults: &mut Vec<Fault>) {
        self.check_trims(laid, faults);
        let solid = |ring: &Vec<Point>| Shape::new(&Polygon::new(ring.clone(), Vec::new()));
        let (margin, _) = self.distances();
        let blanks = self.stock.break_down.as_ref().filter(|_| !self.sawn());
        let fields: Vec<Shape> = match blanks {
            Some(plan) => plan.blanks.iter().map(|b| Shape::rectangle(*b)).collect(),
            None => vec![solid(&self.stock.outline.outer)],
        };
        let voids: Vec<Shape> = self.stock.outline.holes.iter().map(solid).collect();
        let keep_clear: Vec<Shape> = self.stock.keep_clear.iter().map(solid).collect();
        let zones: Vec<Shape> = self.stock.zones.iter().map(solid).collect();
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
            for area in &zones {
                let margin = self.problem.margin_of_zones(self.stock);
                if let Some((at, distance)) = too_near(&part.shape, area, margin) {
                    faults.push(Fault::OnZone {
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

    /// On a sheet that the saw squares first, no part is in what the trims take off.
    fn check_trims(&self, laid: &[Laid], faults: &mut Vec<Fault>) {
        let Method::Guillotine(rules) = &self.problem.method else {
            return;
        };
        // A remnant is trimmed to whatever rectangle serves; its edges need no squaring.
        if self.stock.kind == StockKind::Remnant {
            return;
        }
        let edges = self.stock.outline.bounds();
        for part in laid {
            let (b, trim, middle) = (part.bounds, rules.trim, part.bounds.center());
            let sides = [
                (
                    b.min.x - edges.min.x,
                    trim.left,
                    Point::new(b.min.x, middle.y),
                ),
                (
                    edges.max.x - b.max.x,
                    trim.right,
                    Point::new(b.max.x, middle.y),
                ),
                (
                    b.min.y - edges.min.y,
                    trim.bottom,
                    Point::new(middle.x, b.min.y),
                ),
                (
                    edges.max.y - b.max.y,
                    trim.top,
                    Point::new(middle.x, b.max.y),
                ),
            ];
            for (distance, margin, at) in sides {
                // What sticks out of the sheet is named elsewhere.
                if distance >= -tolerance::JUDGE && distance < margin - tolerance::JUDGE {
                    faults.push(Fault::MarginShort {
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

//! Whether any two parts are far enough apart.

use super::{Bench, Fault, Laid};
use panelwright_geometry::tolerance;

impl Bench<'_> {
    /// Any two parts apart by the gap; sawn ones by the kerf along one axis.
    pub(super) fn check_pairs(&self, laid: &[Laid], faults: &mut Vec<Fault>) {
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
}

//! Panels that are easily taken for each other, by rule, and what tells them apart.
//!
//! * The same shape in another material.
//! * The other hand: the shape is the mirror image, and no turn makes one of the other.
//! * In one material, nearly the same size, or the same size with other openings, lines or edges.
//! * The same panel under two names.

use crate::job::Job;
use panelwright_geometry::{Bounds, Outline, Placement, Point, Ring};

/// Shapes are the same when no corner or opening is off by more, millimetres.
const SAME: f64 = 0.1;

/// Sizes are nearly the same when both sides are within this, millimetres, or within this share of the longer of
/// the two: what the eye takes for equal on a pile. A choice, after what was mixed up in trials on paper.
const NEAR: f64 = 12.0;
const NEAR_SHARE: f64 = 0.03;

/// Panels whose areas are farther apart than this look different: one has a window.
const AREA_SHARE: f64 = 0.8;

/// Most look-alikes that are told of one panel.
const MOST: usize = 3;

/// A panel that looks like another.
#[derive(Debug, Clone, PartialEq)]
pub struct LookAlike {
    /// Index of the other into the job's items.
    pub other: usize,
    /// What tells them apart.
    pub by: Difference,
}

/// What tells two panels apart.
#[derive(Debug, Clone, PartialEq)]
pub enum Difference {
    /// Only the hand.
    Hand,
    /// Only the material.
    Material,
    /// How much longer and wider the panel is than the other; negative where it is shorter. The other is turned by a
    /// quarter first where that is nearer.
    Size(f64, f64),
    /// How many openings the panel has, and the other.
    Openings(usize, usize),
    /// Openings of other sizes or in other places, or another edge.
    Shape,
    /// How many marks the panel has, and the other.
    Marks(usize, usize),
    /// Good faces that are asked for.
    GoodFace,
    /// Nothing but the name.
    Name,
}

/// The look-alikes of every item of a job among its items, those most alike first.
#[must_use]
pub fn look_alikes(job: &Job) -> Vec<Vec<LookAlike>> {
    let mut all: Vec<Vec<LookAlike>> = vec![Vec::new(); job.items.len()];
    for (i, its) in all.iter_mut().enumerate() {
        let others = (0..job.items.len()).filter(|j| *j != i);
        *its = others
            .filter_map(|other| {
                let by = difference(job, i, other)?;
                Some(LookAlike { other, by })
            })
            .collect();
        its.sort_by_key(|a| rank(&a.by));
        its.truncate(MOST);
    }
    all
}

/// The harder to see, the earlier told.
fn rank(by: &Difference) -> u8 {
    match by {
        Difference::Hand => 0,
        Difference::Material => 1,
        Difference::Name | Difference::GoodFace => 2,
        Difference::Marks(..) => 3,
        Difference::Openings(..) | Difference::Shape => 4,
        Difference::Size(..) => 5,
    }
}

fn difference(job: &Job, i: usize, j: usize) -> Option<Difference> {
    let (a, b) = (&job.items[i], &job.items[j]);
    let one_material = a.material == b.material;
    // Cheap first: nothing that differs in size is the same shape.
    let (dx, dy) = sizes_apart(&a.outline, &b.outline);
    if dx.abs().max(dy.abs()) <= SAME {
        if same_shape(&a.outline, &b.outline) {
            return Some(match () {
                () if !one_material => Difference::Material,
                () if !same_marks(&a.outline, &b.outline) => {
                    Difference::Marks(a.outline.marks.len(), b.outline.marks.len())
                }
                () if a.good_faces != b.good_faces => Difference::GoodFace,
                () => Difference::Name,
            });
        }
        if !one_material {
            return None;
        }
        if same_shape(&a.outline, &b.outline.mirrored()) {
            return Some(Difference::Hand);
        }
    }
    let (low, high) = {
        let (a, b) = (a.outline.area(), b.outline.area());
        (a.min(b), a.max(b))
    };
    if !one_material || low < AREA_SHARE * high {
        return None;
    }
    if dx.abs().max(dy.abs()) > SAME {
        let (la, lb) = (a.outline.bounds(), b.outline.bounds());
        let side = |d: f64, x: f64, y: f64| {
            d.abs() <= NEAR.max(NEAR_SHARE * x.max(y)).min(0.15 * x.min(y))
        };
        let near = side(dx, la.width(), la.width() - dx) && side(dy, la.height(), la.height() - dy);
        return (near && lb.area() > 0.0).then_some(Difference::Size(dx, dy));
    }
    let (n, m) = (a.outline.holes.len(), b.outline.holes.len());
    Some(if n == m {
        Difference::Shape
    } else {
        Difference::Openings(n, m)
    })
}

/// How much longer and wider `a` is than `b`, which lies so that the two are nearest.
fn sizes_apart(a: &Outline, b: &Outline) -> (f64, f64) {
    let (a, b) = (a.bounds(), b.bounds());
    let as_drawn = (a.width() - b.width(), a.height() - b.height());
    let turned = (a.width() - b.height(), a.height() - b.width());
    let off = |(x, y): (f64, f64)| x.abs().max(y.abs());
    if off(turned) + SAME < off(as_drawn) {
        turned
    } else {
        as_drawn
    }
}

/// Whether some quarter turn makes one of the other, marks aside.
fn same_shape(a: &Outline, b: &Outline) -> bool {
    if a.holes.len() != b.holes.len() || (a.area() - b.area()).abs() > SAME * a.outer.length() {
        return false;
    }
    let a = a.at_origin();
    quarter_turns(b).any(|b| {
        if !same_ring(&a.outer, &b.outer) {
            return false;
        }
        // Bounds first: panels may have holes by the thousand.
        let others: Vec<(Bounds, &Ring)> = b.holes.iter().map(|h| (h.bounds(), h)).collect();
        a.holes.iter().all(|hole| {
            let bounds = hole.bounds();
            let mut near = others.iter().filter(|(b, _)| same_bounds(&bounds, b));
            near.any(|(_, other)| same_ring(hole, other))
        })
    })
}

fn quarter_turns(outline: &Outline) -> impl Iterator<Item = Outline> + '_ {
    [0.0, 90.0, 180.0, 270.0].into_iter().map(|angle| {
        let turn = Placement::new(angle, Point::default());
        outline.placed(&turn).at_origin()
    })
}

/// Whether two rings enclose the same: the same area and length, and no corner of one without one of the other.
fn same_ring(a: &Ring, b: &Ring) -> bool {
    if !same_bounds(&a.bounds(), &b.bounds())
        || (a.length() - b.length()).abs() > 4.0 * SAME
        || (a.area() - b.area()).abs() > SAME * (a.length() + 1.0)
    {
        return false;
    }
    // A circle may be begun anywhere.
    let corners = |r: &Ring| -> Vec<Point> {
        let arcs = r.segments().all(|s| s.is_arc());
        match arcs {
            true => Vec::new(),
            false => r.vertices.iter().map(|v| v.point).collect(),
        }
    };
    let (ca, cb) = (corners(a), corners(b));
    let near = |p: &Point, others: &[Point]| others.iter().any(|q| p.distance(*q) <= 2.0 * SAME);
    ca.iter().all(|p| near(p, &cb)) && cb.iter().all(|p| near(p, &ca))
}

fn same_bounds(a: &Bounds, b: &Bounds) -> bool {
    a.min.distance(b.min) <= 1.5 * SAME && a.max.distance(b.max) <= 1.5 * SAME
}

fn same_marks(a: &Outline, b: &Outline) -> bool {
    let length = |o: &Outline| o.marks.iter().map(|m| m.length()).sum::<f64>();
    a.marks.len() == b.marks.len() && (length(a) - length(b)).abs() <= SAME
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::sample;

    fn p(x: f64, y: f64) -> Point {
        Point::new(x, y)
    }

    /// A panel with a hole off its middle: it has a hand once an edge is cut too.
    fn handed() -> Outline {
        let ring = [(0., 0.), (400., 0.), (400., 250.), (60., 250.), (0., 200.)];
        let mut panel = Outline::polygon(ring.map(|(x, y)| p(x, y)));
        panel
            .holes
            .push(Ring::circle(p(90.0, 60.0), 8.0).reversed());
        panel
    }

    /// The look-alikes between two outlines, of one material or of two.
    fn between(a: Outline, b: Outline, materials: (usize, usize)) -> Option<Difference> {
        let (_, mut job) = sample::cabinet();
        job.items.truncate(2);
        for (item, (outline, material)) in job
            .items
            .iter_mut()
            .zip([(a, materials.0), (b, materials.1)])
        {
            item.outline = outline;
            item.material = material;
            item.good_faces = 1;
        }
        let all = look_alikes(&job);
        let one = all[0].first().map(|a| a.by.clone());
        assert_eq!(all[0].is_empty(), all[1].is_empty(), "told on both sides");
        one
    }

    #[test]
    fn mirror_images_differ_in_hand() {
        let panel = handed();
        let turned = panel.placed(&Placement::new(180.0, p(30.0, 700.0)));
        assert_eq!(
            between(panel.clone(), panel.mirrored(), (0, 0)),
            Some(Difference::Hand)
        );
        assert_eq!(
            between(panel.clone(), turned, (0, 0)),
            Some(Difference::Name)
        );
        // A symmetrical panel has no hand.
        let plain = Outline::rectangle(400.0, 250.0);
        assert_eq!(
            between(plain.clone(), plain.mirrored(), (0, 0)),
            Some(Difference::Name)
        );
    }

    #[test]
    fn the_same_shape_in_another_material() {
        let panel = handed();
        assert_eq!(
            between(panel.clone(), panel.clone(), (0, 1)),
            Some(Difference::Material)
        );
        // Nearly the same size in another material is told by its look.
        let other = Outline::rectangle(402.0, 250.0);
        assert_eq!(between(panel, other, (0, 1)), None);
    }

    #[test]
    fn nearly_the_same_size() {
        let a = Outline::rectangle(800.0, 500.0);
        let near = Outline::rectangle(796.0, 506.0);
        assert_eq!(
            between(a.clone(), near.clone(), (0, 0)),
            Some(Difference::Size(4.0, -6.0))
        );
        let turned = near.placed(&Placement::new(90.0, p(0.0, 0.0)));
        let Some(Difference::Size(dx, dy)) = between(a.clone(), turned, (0, 0)) else {
            panic!("alike when turned");
        };
        assert!((dx - 4.0).abs() < 1e-6 && (dy + 6.0).abs() < 1e-6);
        assert_eq!(between(a, Outline::rectangle(760.0, 500.0), (0, 0)), None);
        // Ten millimetres are a lot on a small plate.
        let plates = [60.0, 70.0].map(|w| Outline::rectangle(90.0, w));
        let [small, large] = plates;
        assert_eq!(between(small, large, (0, 0)), None);
    }

    #[test]
    fn the_same_size_with_other_openings() {
        let plain = Outline::rectangle(800.0, 500.0);
        let mut holed = plain.clone();
        holed
            .holes
            .push(Ring::circle(p(90.0, 60.0), 8.0).reversed());
        assert_eq!(
            between(plain.clone(), holed.clone(), (0, 0)),
            Some(Difference::Openings(0, 1))
        );
        let mut moved = plain.clone();
        moved
            .holes
            .push(Ring::circle(p(95.0, 60.0), 8.0).reversed());
        assert_eq!(between(holed, moved, (0, 0)), Some(Difference::Shape));
        // A frame is not taken for a plain panel.
        let mut frame = plain.clone();
        let window = Bounds::new(p(80.0, 80.0), p(720.0, 420.0)).corners();
        frame.holes.push(Ring::polygon(window).reversed());
        assert_eq!(between(plain, frame, (0, 0)), None);
    }
}

//! Where a part's corner may not lie because of a fixed shape, and the border of those places.

use super::convex::{CONTACT, Convex, HalfPlane, Stretch, ends_of_rest, keep_away};
use super::rough::Rough;
use panelwright_geometry::{Bounds, Point, Vec2};

/// The places that a moving shape's origin must stay out of, relative to the fixed shape's origin.
#[derive(Debug, Clone, Default)]
pub(super) struct NoFit {
    /// Convex areas; their union is forbidden, its border is allowed.
    pub areas: Vec<Convex>,
    /// The border of the union, with slots and single points where areas only touch.
    pub border: Vec<Edge>,
    /// Smallest upright rectangle round all areas; `None` when there are none.
    pub bounds: Option<Bounds>,
    /// The areas in single precision.
    pub rough: Rough,
    /// The areas again, laid out for speed.
    depths: Vec<Slab>,
    planes: Vec<HalfPlane>,
}

/// One area's bounds and the end of its half-planes in the common list.
#[derive(Debug, Clone, Copy)]
struct Slab {
    bounds: Bounds,
    end: usize,
}

/// A straight piece of border.
#[derive(Debug, Clone, Copy)]
pub(super) struct Edge {
    /// Where it begins.
    pub from: Point,
    /// From its begin to its end; zero for a single point.
    pub along: Vec2,
}

impl NoFit {
    /// For a shape of `moving` pieces that keeps `gap` from one of `fixed` pieces.
    pub fn new(fixed: &[Vec<Point>], moving: &[Vec<Point>], gap: f64) -> Self {
        Self::of_groups(&[(fixed, gap)], moving)
    }

    /// For a shape of `moving` pieces that keeps from each group of fixed pieces its own gap.
    pub fn of_groups(groups: &[(&[Vec<Point>], f64)], moving: &[Vec<Point>]) -> Self {
        let areas: Vec<Convex> = groups
            .iter()
            .flat_map(|&(fixed, gap)| {
                fixed
                    .iter()
                    .flat_map(move |f| moving.iter().filter_map(move |m| keep_away(f, m, gap)))
            })
            .collect();
        let bounds = areas.iter().map(|a| a.bounds).reduce(Bounds::union);
        let border = border_of(&areas);
        let mut planes = Vec::new();
        let depths = areas
            .iter()
            .map(|area| {
                planes.extend_from_slice(&area.planes);
                Slab {
                    bounds: area.bounds,
                    end: planes.len(),
                }
            })
            .collect();
        Self {
            rough: Rough::new(&areas),
            areas,
            border,
            bounds,
            depths,
            planes,
        }
    }

    /// How deep `at` lies inside the deepest area, at most 0 when it is allowed.
    pub fn depth(&self, at: Point) -> f64 {
        let mut depth: f64 = 0.0;
        if self.bounds.is_some_and(|b| holds(&b, at)) {
            for area in &self.areas {
                if holds(&area.bounds, at) {
                    depth = depth.max(area.depth(at));
                }
            }
        }
        depth
    }

    /// Sum over the areas of how deep `at` lies inside; contacts count nothing. Adds to `looks`.
    pub fn depth_sum(&self, at: Point, looks: &mut u64) -> f64 {
        let mut sum = 0.0;
        let mut begin = 0;
        for slab in &self.depths {
            if holds(&slab.bounds, at) {
                *looks += 1;
                let mut depth = f64::INFINITY;
                for plane in &self.planes[begin..slab.end] {
                    let inside = plane.reach - (plane.normal.x * at.x + plane.normal.y * at.y);
                    if inside < depth {
                        depth = inside;
                        if depth <= CONTACT {
                            break;
                        }
                    }
                }
                if depth > CONTACT {
                    sum += depth;
                }
            }
            begin = slab.end;
        }
        sum
    }

    /// Calls `found` with every area that `at` lies in, grown by `spare`: how deep, and which way out.
    pub fn ways_out(&self, at: Point, spare: f64, mut found: impl FnMut(f64, Vec2)) -> u64 {
        let mut begin = 0;
        let mut looks = 1;
        for slab in &self.depths {
            if holds(&slab.bounds, at) {
                looks += 1;
                let mut depth = f64::INFINITY;
                let mut way = Vec2::default();
                for plane in &self.planes[begin..slab.end] {
                    let inside =
                        plane.reach + spare - (plane.normal.x * at.x + plane.normal.y * at.y);
                    if inside < depth {
                        depth = inside;
                        way = plane.normal;
                        if depth <= 0.0 {
                            break;
                        }
                    }
                }
                if depth > 0.0 {
                    found(depth, way);
                }
            }
            begin = slab.end;
        }
        looks
    }

    /// Calls `found` with the half-plane by which each area within `reach` of `at` is left soonest,
    /// and how far inside it `at` lies, when that is at most `reach` either way.
    pub fn near_planes(&self, at: Point, reach: f64, mut found: impl FnMut(HalfPlane, f64)) {
        let mut begin = 0;
        for slab in &self.depths {
            if holds(&slab.bounds.grown(reach), at) {
                let mut least: Option<(f64, HalfPlane)> = None;
                for plane in &self.planes[begin..slab.end] {
                    let inside = plane.reach - (plane.normal.x * at.x + plane.normal.y * at.y);
                    if least.is_none_or(|(depth, _)| inside < depth) {
                        least = Some((inside, *plane));
                    }
                }
                if let Some((inside, plane)) = least
                    && inside.abs() <= reach
                {
                    found(plane, inside);
                }
            }
            begin = slab.end;
        }
    }

    /// Adds the stretches of the line from `from` to `from + along` that lie inside.
    ///
    /// Returns how many areas were looked at closely.
    pub fn take(&self, from: Point, along: Vec2, taken: &mut Vec<Stretch>) -> u64 {
        let line = Bounds::new(from, from + along);
        if !self.bounds.is_some_and(|b| b.touches(&line)) {
            return 0;
        }
        let mut looked = 0;
        for area in &self.areas {
            if area.bounds.touches(&line) {
                looked += 1;
                if let Some(stretch) = area.stretch(from, along) {
                    taken.push(stretch);
                }
            }
        }
        looked
    }
}

/// Whether `p` lies in `bounds`.
pub(super) fn holds(bounds: &Bounds, p: Point) -> bool {
    p.x >= bounds.min.x && p.x <= bounds.max.x && p.y >= bounds.min.y && p.y <= bounds.max.y
}

/// The pieces of the areas' edges that lie inside no other area.
fn border_of(areas: &[Convex]) -> Vec<Edge> {
    let mut border: Vec<Edge> = Vec::new();
    let mut taken = Vec::new();
    // Large areas first: most of what is covered is covered by one of them.
    let mut by_size: Vec<usize> = (0..areas.len()).collect();
    by_size.sort_by(|&a, &b| areas[b].bounds.area().total_cmp(&areas[a].bounds.area()));
    for (i, area) in areas.iter().enumerate() {
        let n = area.points.len();
        for k in 0..n {
            let from = area.points[k];
            let along = area.points[(k + 1) % n] - from;
            let line = Bounds::new(from, from + along);
            taken.clear();
            for &j in &by_size {
                let other = &areas[j];
                if i != j
                    && other.bounds.touches(&line)
                    && let Some(stretch) = other.stretch(from, along)
                {
                    taken.push(stretch);
                    if stretch.begin <= 0.0 && stretch.end >= 1.0 {
                        break;
                    }
                }
            }
            ends_of_rest(&mut taken, |a, b| {
                border.push(Edge {
                    from: from + along * a,
                    along: along * (b - a),
                });
            });
        }
    }
    border
}

#[cfg(test)]
mod tests {
    use super::*;

    fn square(x: f64, y: f64, side: f64) -> Vec<Point> {
        Bounds::new(Point::new(x, y), Point::new(x + side, y + side))
            .corners()
            .to_vec()
    }

    #[test]
    fn a_slot_as_wide_as_the_part_stays_open() {
        // A U of three squares; the moving unit square fits into it exactly.
        let u = [square(0.0, 0.0, 1.0), square(2.0, 0.0, 1.0)];
        let nofit = NoFit::new(&u, &[square(0.0, 0.0, 1.0)], 0.0);
        assert_eq!(nofit.depth(Point::new(1.0, 0.3)), 0.0);
        assert!(nofit.depth(Point::new(1.2, 0.3)) > 0.1);
        let in_slot = nofit
            .border
            .iter()
            .any(|e| (e.from.x - 1.0).abs() < 1e-9 && e.along.y.abs() > 1.0);
        assert!(in_slot);
    }

    #[test]
    fn borders_inside_other_areas_are_gone() {
        let l = [square(0.0, 0.0, 1.0), square(1.0, 0.0, 1.0)];
        let nofit = NoFit::new(&l, &[square(0.0, 0.0, 1.0)], 0.5);
        let length: f64 = nofit.border.iter().map(|e| e.along.length()).sum();
        // The border is that of a 4 x 3 rectangle; edges that two areas share count twice.
        assert!((14.0 - 1e-6..=18.0).contains(&length), "{length}");
    }
}

//! Where a part's corner may not lie because of a fixed shape, and the border of those places.

use super::convex::{self, CONTACT, Convex, HalfPlane, Stretch, ends_of_rest, grown_sum};
use super::rough::Rough;
use super::shape::{Turned, quarter_turned};
use super::windows;
use panelwright_geometry::{Bounds, Point, Vec2};

/// The places that a moving shape's origin must stay out of, relative to the fixed shape's origin.
///
/// Without areas nothing is forbidden.
#[derive(Debug, Clone, Default)]
pub(super) struct NoFit {
    /// Convex areas; their union is forbidden, its border is allowed.
    pub areas: Vec<Area>,
    /// The border of the union, with slots and single points where areas only touch.
    pub border: Vec<Edge>,
    /// Smallest upright rectangle round all areas; `None` when there are none.
    pub bounds: Option<Bounds>,
    /// The areas in single precision.
    pub rough: Rough,
    /// The half-planes of all areas one after another: one list takes less memory and time than many.
    planes: Vec<HalfPlane>,
}

/// One convex area: its bounds and the end of its half-planes in the common list.
#[derive(Debug, Clone, Copy)]
pub(super) struct Area {
    bounds: Bounds,
    end: u32,
}

/// A straight piece of border.
#[derive(Debug, Clone, Copy)]
pub(super) struct Edge {
    /// Where it begins.
    pub from: Point,
    /// From its begin to its end; zero for a single point.
    pub along: Vec2,
}

impl Edge {
    /// Those round an area.
    fn round(area: &Convex) -> impl Iterator<Item = Self> {
        let n = area.points.len();
        (0..n).map(move |i| Self {
            from: area.points[i],
            along: area.points[(i + 1) % n] - area.points[i],
        })
    }
}

impl NoFit {
    /// For a shape that keeps `gap` from another one, beside it or in a window.
    pub fn between(fixed: &Turned, moving: &Turned, gap: f64) -> Self {
        let places = windows::places(fixed, moving, gap);
        if places.is_empty() {
            return Self::of_groups(&[(&fixed.filled, gap)], &moving.filled);
        }
        let areas = areas_of(&[(&fixed.filled, gap)], &moving.filled);
        let sides = windows::sides(areas.len());
        let places: Vec<Convex> = places
            .iter()
            .map(|p| windows::fewer_sides(p, sides))
            .collect();
        Self::without(areas, &places)
    }

    /// That forbids what is in one of these areas but in none of the places, which lie within all of them together.
    pub fn without(areas: Vec<Convex>, places: &[Convex]) -> Self {
        let mut border = border_of(&areas);
        border.extend(places.iter().flat_map(Edge::round));
        Self::with_border(&windows::cut_out(areas, places), border)
    }

    /// That forbids what lies beyond `places`, looked at up to `reach` round them, and the areas, which have this `border`.
    pub fn beyond(places: &Convex, reach: f64, areas: Vec<Convex>, mut border: Vec<Edge>) -> Self {
        let around = convex::grown(&places.bounds.grown(reach).corners(), 0.0);
        border.extend(Edge::round(places));
        let around = around.into_iter().collect();
        let mut all = windows::cut_out(around, std::slice::from_ref(places));
        all.extend(areas);
        Self::with_border(&all, border)
    }

    /// For a shape of `moving` pieces that keeps from each group of fixed pieces its own gap.
    pub fn of_groups(groups: &[(&[Vec<Point>], f64)], moving: &[Vec<Point>]) -> Self {
        let areas = areas_of(groups, moving);
        Self::with_border(&areas, border_of(&areas))
    }

    /// That forbids these areas; `border` is the border of all of them together.
    pub fn with_border(areas: &[Convex], border: Vec<Edge>) -> Self {
        let mut planes = Vec::with_capacity(areas.iter().map(|a| a.planes.len()).sum());
        Self {
            rough: Rough::new(areas),
            border,
            bounds: areas.iter().map(|a| a.bounds).reduce(Bounds::union),
            areas: areas
                .iter()
                .map(|area| {
                    planes.extend_from_slice(&area.planes);
                    Area {
                        bounds: area.bounds,
                        end: planes.len() as u32,
                    }
                })
                .collect(),
            planes,
        }
    }

    /// The same places turned by so many quarters and then moved.
    pub fn turned(&self, quarters: u8, by: Vec2) -> Self {
        let turn = |v: Vec2| quarter_turned(v, quarters);
        let to = |p: Point| Point::default() + turn(p.to_vec()) + by;
        let bounds = |b: &Bounds| {
            let (p, q) = (to(b.min), to(b.max));
            Bounds::new(
                Point::new(p.x.min(q.x), p.y.min(q.y)),
                Point::new(p.x.max(q.x), p.y.max(q.y)),
            )
        };
        let area = |a: &Area| Area {
            bounds: bounds(&a.bounds),
            end: a.end,
        };
        let edge = |e: &Edge| Edge {
            from: to(e.from),
            along: turn(e.along),
        };
        let plane = |p: &HalfPlane| {
            let normal = turn(p.normal);
            HalfPlane {
                normal,
                reach: p.reach + normal.dot(by),
            }
        };
        Self {
            areas: self.areas.iter().map(area).collect(),
            border: self.border.iter().map(edge).collect(),
            bounds: self.bounds.as_ref().map(bounds),
            rough: self.rough.turned(quarters, by),
            planes: self.planes.iter().map(plane).collect(),
        }
    }

    /// Bytes it takes, about.
    pub fn size(&self) -> usize {
        size_of::<Self>()
            + self.rough.size()
            + self.areas.len() * size_of::<Area>()
            + self.border.len() * size_of::<Edge>()
            + self.planes.len() * size_of::<HalfPlane>()
    }

    /// Each area's bounds and half-planes.
    fn each(&self) -> impl Iterator<Item = (&Bounds, &[HalfPlane])> {
        let mut begin = 0;
        self.areas.iter().map(move |area| {
            let end = area.end as usize;
            let planes = &self.planes[begin..end];
            begin = end;
            (&area.bounds, planes)
        })
    }

    /// How deep `at` lies inside the deepest area, at most 0 when it is allowed.
    pub fn depth(&self, at: Point) -> f64 {
        let mut depth: f64 = 0.0;
        if self.bounds.is_some_and(|b| holds(&b, at)) {
            for (bounds, planes) in self.each() {
                if holds(bounds, at) {
                    depth = depth.max(convex::depth(planes, at));
                }
            }
        }
        depth
    }

    /// Sum over the areas of how deep `at` lies inside; contacts count nothing. Adds to `looks`.
    pub fn depth_sum(&self, at: Point, looks: &mut u64) -> f64 {
        let mut sum = 0.0;
        for (bounds, planes) in self.each() {
            if holds(bounds, at) {
                *looks += 1;
                let depth = convex::least_inside(planes, at);
                if depth > CONTACT {
                    sum += depth;
                }
            }
        }
        sum
    }

    /// Calls `found` with every area that `at` lies in, grown by `spare`: how deep, and which way out.
    pub fn ways_out(&self, at: Point, spare: f64, mut found: impl FnMut(f64, Vec2)) -> u64 {
        let mut looks = 1;
        for (bounds, planes) in self.each() {
            if holds(bounds, at) {
                looks += 1;
                let mut depth = f64::INFINITY;
                let mut way = Vec2::default();
                for plane in planes {
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
        }
        looks
    }

    /// Calls `found` with every area within `reach` of `at`, or round it: its half-planes, the one by which it is left
    /// soonest, and how far inside that `at` lies.
    pub fn close_areas<'a>(
        &'a self,
        at: Point,
        reach: f64,
        mut found: impl FnMut(&'a [HalfPlane], HalfPlane, f64),
    ) {
        for (bounds, planes) in self.each() {
            if holds(&bounds.grown(reach), at) {
                let inside = |p: &HalfPlane| p.reach - p.normal.dot(at.to_vec());
                let least = planes.iter().map(|p| (p, inside(p)));
                let least = least.reduce(|a, b| if b.1 < a.1 { b } else { a });
                if let Some((plane, inside)) = least
                    && inside >= -reach
                {
                    found(planes, *plane, inside);
                }
            }
        }
    }

    /// Calls `found` with the upper sides of each area, each from left to right, its ends within the area by as little as a contact.
    pub fn upper_sides(&self, mut found: impl FnMut(Point, Point)) {
        /// Sides steeper than this have no height of their own: the tangent of their angle is beyond 1e9.
        const UPRIGHT: f64 = 1e-9;
        for (bounds, planes) in self.each() {
            let is_upper = |i: usize| planes[i % planes.len()].normal.y > UPRIGHT;
            // Counter-clockwise the upper sides follow each other from right to left.
            let Some(first) = (0..planes.len()).find(|i| is_upper(i + 1) && !is_upper(*i)) else {
                continue;
            };
            let upper: Vec<&HalfPlane> = (first + 1..first + planes.len())
                .take_while(|i| is_upper(*i))
                .map(|i| &planes[i % planes.len()])
                .collect();
            let (left, mut right) = (bounds.min.x + CONTACT, bounds.max.x - CONTACT);
            for (i, side) in upper.iter().enumerate() {
                let next = upper.get(i + 1).map(|next| {
                    let turn = side.normal.cross(next.normal);
                    (side.reach * next.normal.y - next.reach * side.normal.y) / turn
                });
                // Where two are nearly parallel, rounding says where they meet.
                let end = next.map_or(left, |x| {
                    if x.is_finite() {
                        x.clamp(left, right.max(left))
                    } else {
                        right
                    }
                });
                if end < right {
                    // Steep sides err by much more in height than across.
                    let at = |x: f64| {
                        let y = (side.reach - side.normal.x * x) / side.normal.y;
                        Point::new(x, y.clamp(bounds.min.y, bounds.max.y))
                    };
                    found(at(end), at(right));
                    right = end;
                }
            }
        }
    }

    /// Adds the stretches of the line from `from` to `from + along` that lie inside, up to the first
    /// that is all of it.
    ///
    /// Returns how many areas were looked at closely.
    pub fn take(&self, from: Point, along: Vec2, taken: &mut Vec<Stretch>) -> u64 {
        let line = Bounds::new(from, from + along);
        if !self.bounds.is_some_and(|b| b.touches(&line)) {
            return 0;
        }
        let mut looked = 0;
        for (bounds, planes) in self.each() {
            if bounds.touches(&line) {
                looked += 1;
                if let Some(stretch) = convex::stretch(planes, from, along) {
                    taken.push(stretch);
                    if stretch.is_all() {
                        break;
                    }
                }
            }
        }
        looked
    }
}

/// What each piece of each group keeps each of the moving pieces out of.
pub(super) fn areas_of(groups: &[(&[Vec<Point>], f64)], moving: &[Vec<Point>]) -> Vec<Convex> {
    let mirrored: Vec<Vec<Point>> = moving.iter().map(|m| convex::mirrored(m)).collect();
    let pieces: usize = groups.iter().map(|(fixed, _)| fixed.len()).sum();
    let mut areas = Vec::with_capacity(pieces * moving.len());
    for (fixed, gap) in groups {
        for piece in *fixed {
            areas.extend(mirrored.iter().filter_map(|m| grown_sum(piece, m, *gap)));
        }
    }
    areas
}

/// Whether `p` lies in `bounds`.
pub(super) fn holds(bounds: &Bounds, p: Point) -> bool {
    (p.x >= bounds.min.x) & (p.x <= bounds.max.x) & (p.y >= bounds.min.y) & (p.y <= bounds.max.y)
}

/// The pieces of the areas' edges that lie inside no other area.
pub(super) fn border_of(areas: &[Convex]) -> Vec<Edge> {
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
                    && let Some(stretch) = convex::stretch(&other.planes, from, along)
                {
                    taken.push(stretch);
                    if stretch.is_all() {
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
    use proptest::prelude::*;

    fn square(x: f64, y: f64, side: f64) -> Vec<Point> {
        Bounds::new(Point::new(x, y), Point::new(x + side, y + side))
            .corners()
            .to_vec()
    }

    #[test]
    fn a_slot_as_wide_as_the_part_stays_open() {
        // A U of three squares; the moving unit square fits into it exactly.
        let u = [square(0.0, 0.0, 1.0), square(2.0, 0.0, 1.0)];
        let nofit = NoFit::of_groups(&[(&u, 0.0)], &[square(0.0, 0.0, 1.0)]);
        assert_eq!(nofit.depth(Point::new(1.0, 0.3)), 0.0);
        assert!(nofit.depth(Point::new(1.2, 0.3)) > 0.1);
        let in_slot = nofit
            .border
            .iter()
            .any(|e| (e.from.x - 1.0).abs() < 1e-9 && e.along.y.abs() > 1.0);
        assert!(in_slot);
    }

    proptest! {
        #[test]
        fn no_other_area_is_entered_within_reach(
            corners in proptest::collection::vec((0.0..9.0_f64, 0.0..9.0_f64), 1..8),
            at in (-1.0..10.0_f64, -1.0..10.0_f64),
            off in (-1.0..1.0_f64, -1.0..1.0_f64),
        ) {
            let squares: Vec<_> = corners.iter().map(|&(x, y)| square(x, y, 1.0)).collect();
            let nofit = NoFit::of_groups(&[(&squares, 0.1)], &[square(0.0, 0.0, 1.0)]);
            let (at, off) = (Point::new(at.0, at.1), Vec2::new(off.0, off.1));
            let (mut here, mut there) = (0.0, 0.0);
            nofit.close_areas(at, off.length(), |planes, plane, inside| {
                assert_eq!(inside, convex::least_inside(planes, at));
                assert_eq!(inside, convex::least_inside(&[plane], at));
                here += inside.max(0.0);
                there += convex::least_inside(planes, at + off).max(0.0);
            });
            prop_assert!((here - nofit.depth_sum(at, &mut 0)).abs() < 1e-4);
            prop_assert!((there - nofit.depth_sum(at + off, &mut 0)).abs() < 1e-4);
        }
    }

    #[test]
    fn borders_inside_other_areas_are_gone() {
        let l = [square(0.0, 0.0, 1.0), square(1.0, 0.0, 1.0)];
        let nofit = NoFit::of_groups(&[(&l, 0.5)], &[square(0.0, 0.0, 1.0)]);
        let length: f64 = nofit.border.iter().map(|e| e.along.length()).sum();
        // The border is that of a 4 x 3 rectangle; edges that two areas share count twice.
        assert!((14.0 - 1e-6..=18.0).contains(&length), "{length}");
    }
}

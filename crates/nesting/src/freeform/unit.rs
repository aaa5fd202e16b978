//! Copies of one part that are laid together, again and again, and what such units keep each other out of.

use super::convex::{CONTACT, ends_of_rest, hull};
use super::nofit::{Edge, NoFit, holds};
use super::shape::Pose;
use super::tables::Tables;
use super::work::Work;
use panelwright_geometry::{Bounds, Point, Polygon, Vec2};
use std::sync::Arc;

/// Places at which the second copy of a unit is tried, for two poses.
const PLACES: usize = 24;

/// Units of two that are gone into: so many of those that fill most of the rectangles round them, and as many of those that fill most of
/// their hulls.
const UNITS: usize = 12;

/// Units of two whose copies lie no further off than this share of their size are alike.
const ALIKE: f64 = 0.02;

/// Poses of a part that are tried.
const POSES: usize = 4;

/// Copies that are moved together.
#[derive(Debug, Clone)]
pub(super) struct Unit {
    /// How each lies, and its lower left corner.
    pub copies: Vec<(Pose, Vec2)>,
    /// Size along x.
    pub width: f64,
    /// Size along y.
    pub height: f64,
}

impl Unit {
    /// Of these copies, moved so that its bounds begin at the origin.
    fn new(tables: &Tables, copies: &[(Pose, Vec2)]) -> Self {
        let corners = copies.iter().flat_map(|(pose, at)| {
            let turned = &tables.catalogue.turned[pose.turned];
            let low = Point::default() + *at;
            [low, low + Vec2::new(turned.width, turned.height)]
        });
        let bounds = Bounds::of_points(corners)
            .unwrap_or_else(|| Bounds::new(Point::default(), Point::default()));
        let low = bounds.min.to_vec();
        Self {
            copies: copies.iter().map(|(pose, at)| (*pose, *at - low)).collect(),
            width: bounds.width(),
            height: bounds.height(),
        }
    }

    /// Whether the same copies lie in it no further off than this.
    fn is_like(&self, other: &Self, off: f64) -> bool {
        let same = |((a, at), (b, to)): (&(Pose, Vec2), &(Pose, Vec2))| {
            a.turned == b.turned && (*at - *to).length() <= off
        };
        self.copies.len() == other.copies.len() && self.copies.iter().zip(&other.copies).all(same)
    }

    /// Area of the hull of its copies.
    fn hull_area(&self, tables: &Tables) -> f64 {
        let corners = self.copies.iter().flat_map(|(pose, at)| {
            let turned = &tables.catalogue.turned[pose.turned];
            turned.hull.iter().map(|p| *p + *at)
        });
        let around = hull(&corners.collect::<Vec<_>>());
        Polygon::new(around, Vec::new()).area()
    }
}

/// Single copies, and after them pairs that touch, those that lie closest first.
pub(super) fn units(tables: &Tables, part: usize, stock: usize) -> Vec<Unit> {
    let poses = tables.catalogue.poses(part, stock);
    let poses = &poses[..poses.len().min(POSES)];
    let origin = Vec2::default();
    let single = |pose: &Pose| Unit::new(tables, &[(*pose, origin)]);
    let mut units: Vec<Unit> = poses.iter().map(single).collect();
    let pair = |first: &Pose, second: &Pose, at: Point| {
        Unit::new(tables, &[(*first, origin), (*second, at.to_vec())])
    };
    // Hulls take long, so some places are enough for them; of the rectangles, which are quickly told, all are.
    let mut by_hull: Vec<(f64, Unit)> = Vec::new();
    let mut by_rectangle: Vec<(f64, &Pose, &Pose, Point)> = Vec::new();
    for (i, first) in poses.iter().enumerate() {
        for second in &poses[i..] {
            let border = &tables.pair(first.turned, second.turned).border;
            let [own, its] = [first, second].map(|p| &tables.catalogue.turned[p.turned]);
            // At a corner one touches the other in a point; half way along an edge two like edges lie along each other.
            let places = border.iter().flat_map(|e| [e.from, e.from + e.along * 0.5]);
            let every = (2 * border.len()).div_ceil(PLACES).max(1);
            let sampled = places.clone().step_by(every);
            by_hull.extend(sampled.map(|at| {
                let unit = pair(first, second, at);
                (unit.hull_area(tables), unit)
            }));
            let flush = [own.width - its.width, own.height - its.height];
            let flush = border.iter().flat_map(|e| places_flush(e, flush));
            by_rectangle.extend(places.chain(flush).map(|at| {
                let along = |at: f64, own: f64, its: f64| own.max(at + its) - at.min(0.0);
                let area = along(at.x, own.width, its.width) * along(at.y, own.height, its.height);
                (area, first, second, at)
            }));
        }
    }
    by_hull.sort_by(|a, b| a.0.total_cmp(&b.0));
    by_hull.truncate(UNITS);
    by_rectangle.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut small: Vec<Unit> = Vec::new();
    for (_, first, second, at) in by_rectangle {
        if small.len() >= UNITS {
            break;
        }
        let unit = pair(first, second, at);
        // Along a curve there are many places that hardly differ.
        let near = ALIKE * unit.width.min(unit.height);
        if !small.iter().any(|other| other.is_like(&unit, near)) {
            small.push(unit);
        }
    }
    let by_hull: Vec<Unit> = by_hull.into_iter().map(|(_, unit)| unit).collect();
    small.retain(|unit| !by_hull.iter().any(|other| other.is_like(unit, CONTACT)));
    units.extend(by_hull.into_iter().chain(small));
    units
}

/// Places on an edge at which a copy lies flush with another one, which is larger by `spare` along x and y: left, right, below or above.
fn places_flush(edge: &Edge, spare: [f64; 2]) -> impl Iterator<Item = Point> {
    let Edge { from, along } = *edge;
    let axes = [(from.x, along.x, spare[0]), (from.y, along.y, spare[1])];
    let shares = axes
        .into_iter()
        .flat_map(|(from, along, spare)| [0.0, spare].map(|place| (place - from) / along));
    let on_it = shares.filter(|share| (0.0..=1.0).contains(share));
    on_it.map(move |share| from + along * share)
}

/// The displacements at which one unit must not lie because of another of its kind: those of each pair of copies.
pub(super) struct Keep {
    /// What is forbidden to `v` is what the first forbids to `v` and the second.
    pairs: Vec<(Arc<NoFit>, Vec2)>,
    /// Round all of them.
    pub bounds: Bounds,
}

impl Keep {
    /// `None` where units may lie on each other.
    pub fn of(unit: &Unit, tables: &Tables) -> Option<Self> {
        let mut pairs: Vec<(Arc<NoFit>, Vec2)> = Vec::new();
        for (fixed, at) in &unit.copies {
            for (moving, to) in &unit.copies {
                pairs.push((tables.pair(fixed.turned, moving.turned), *to - *at));
            }
        }
        let each = pairs.iter().filter_map(|(nofit, by)| {
            let bounds = nofit.bounds?;
            Some(Bounds::new(bounds.min + -*by, bounds.max + -*by))
        });
        let bounds = each.reduce(Bounds::union)?;
        Some(Self { pairs, bounds })
    }

    /// Convex areas that it consists of, as a measure of the work.
    pub fn areas(&self) -> u64 {
        let areas = self.pairs.iter().map(|(nofit, _)| nofit.areas.len() as u64);
        areas.sum()
    }

    /// How deep `v` lies inside, at most 0 when it is allowed.
    pub fn depth(&self, v: Vec2) -> f64 {
        let depths = self.pairs.iter().map(|(nofit, by)| {
            let at = Point::default() + v + *by;
            nofit.depth(at)
        });
        depths.fold(0.0, f64::max)
    }

    /// Whether `v` is allowed, or rounded from what is.
    pub fn allows(&self, v: Vec2, work: &mut Work) -> bool {
        /// A share of what is a contact, so that what is made of several such steps still is one.
        const ROUNDED: f64 = 0.5 * CONTACT;
        let at = Point::default() + v;
        if !holds(&self.bounds, at) {
            return true;
        }
        work.add(1 + self.areas() / 8);
        self.depth(v) <= ROUNDED
    }

    /// The border of all that is forbidden.
    pub fn border(&self, work: &mut Work) -> Vec<Edge> {
        let mut border = Vec::new();
        let mut taken = Vec::new();
        for (i, (nofit, by)) in self.pairs.iter().enumerate() {
            for edge in &nofit.border {
                taken.clear();
                let from = edge.from + -*by;
                for (j, (other, by)) in self.pairs.iter().enumerate() {
                    if i != j {
                        work.add(1 + other.take(from + *by, edge.along, &mut taken));
                    }
                }
                ends_of_rest(&mut taken, |a, b| {
                    border.push(Edge {
                        from: from + edge.along * a,
                        along: edge.along * (b - a),
                    });
                });
            }
        }
        border
    }

    /// Calls `found` with the upper sides of all areas, each from left to right.
    pub fn upper_sides(&self, mut found: impl FnMut(Point, Point)) {
        for (nofit, by) in &self.pairs {
            nofit.upper_sides(|from, to| found(from + -*by, to + -*by));
        }
    }

    /// How far in a direction of unit length one unit keeps the next one off.
    pub fn reach(&self, way: Vec2) -> f64 {
        let far = 1.0 + self.bounds.width() + self.bounds.height();
        let mut furthest = f64::NEG_INFINITY;
        let mut taken = Vec::new();
        for (nofit, by) in &self.pairs {
            taken.clear();
            let from = Point::default() + *by - way * far;
            nofit.take(from, way * (2.0 * far), &mut taken);
            for s in &taken {
                furthest = furthest.max(2.0 * far * (s.end + s.end_slack) - far);
            }
        }
        furthest
    }
}

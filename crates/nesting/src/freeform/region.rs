//! A field being filled, with the places of contact that are still free for each turned shape.

use super::convex::{CONTACT, Stretch, ends_of_rest};
use super::field::Fit;
use super::nofit::{NoFit, holds};
use super::shape::Pose;
use super::tables::Tables;
use super::work::Work;
use panelwright_geometry::{Bounds, Point, Vec2};
use std::collections::BTreeMap;
use std::sync::Arc;

/// How deep a place may lie inside a forbidden area after its coordinates were rounded, millimetres.
const FREE: f64 = 3.0 * CONTACT;

/// Places this near to each other, in millimetres, are one.
const SAME_SPOT: f64 = 1e-7;

/// A part laid into a field.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Item {
    /// Index of the part.
    pub part: usize,
    /// How it lies.
    pub pose: Pose,
    /// Lower left corner of its bounds.
    pub at: Point,
}

/// What makes a place good: the smaller the better.
///
/// Each weight pulls the part's far edge along its axis towards the origin, or, when negative,
/// its near edge away from it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Pull {
    /// Weight of x.
    pub x: f64,
    /// Weight of y.
    pub y: f64,
}

impl Pull {
    /// To the left, then down.
    pub const LEFT: Self = Self { x: 1.0, y: 1e-3 };
    /// Down, then to the left.
    pub const DOWN: Self = Self { x: 1e-3, y: 1.0 };

    /// How bad it is that a part of this size lies at `at`.
    pub fn cost(&self, at: Point, width: f64, height: f64) -> f64 {
        let axis = |weight: f64, near: f64, size: f64| {
            weight * if weight > 0.0 { near + size } else { near }
        };
        axis(self.x, at.x, width) + axis(self.y, at.y, height)
    }
}

/// What keeps one turned shape away from one placed part.
#[derive(Debug, Clone)]
struct Neighbour {
    nofit: Arc<NoFit>,
    at: Point,
    bounds: Option<Bounds>,
}

/// The free places of one turned shape.
#[derive(Debug, Clone)]
struct View {
    fit: Arc<Fit>,
    neighbours: Vec<Neighbour>,
    spots: Vec<Point>,
}

/// A field being filled.
#[derive(Debug, Clone)]
pub(super) struct Region<'t> {
    tables: &'t Tables<'t>,
    /// Index of the field.
    pub field: usize,
    /// What lies in it.
    pub items: Vec<Item>,
    /// By turned shape; `None` where it is too large.
    views: BTreeMap<usize, Option<View>>,
}

impl<'t> Region<'t> {
    /// The empty field.
    pub fn new(tables: &'t Tables<'t>, field: usize) -> Self {
        Self {
            tables,
            field,
            items: Vec::new(),
            views: BTreeMap::new(),
        }
    }

    /// Lays a part down; the place must be free.
    pub fn place(&mut self, item: Item) {
        self.items.push(item);
    }

    /// The best free place of contact for a turned shape, and what it costs.
    pub fn best(&mut self, turned: usize, pull: Pull, work: &mut Work) -> Option<(f64, Point)> {
        let (tables, field) = (self.tables, self.field);
        let view = self
            .views
            .entry(turned)
            .or_insert_with(|| tables.fit(field, turned).map(|fit| View::new(fit, work)))
            .as_mut()?;
        view.catch_up(tables, turned, &self.items, work);
        let shape = &tables.catalogue.turned[turned];
        work.add(1 + view.spots.len() as u64 / 16);
        loop {
            let (index, cost) = view
                .spots
                .iter()
                .enumerate()
                .map(|(i, at)| (i, pull.cost(*at, shape.width, shape.height)))
                .min_by(|a, b| a.1.total_cmp(&b.1))?;
            let at = view.spots[index];
            if view.is_free(at, work) {
                return Some((cost, at));
            }
            view.spots.swap_remove(index);
        }
    }
}

impl View {
    /// The places in the empty field: corners of its range and of its walls.
    fn new(fit: Arc<Fit>, work: &mut Work) -> Self {
        let mut view = Self {
            spots: fit.range.corners().to_vec(),
            fit,
            neighbours: Vec::new(),
        };
        let fit = view.fit.clone();
        view.add_border(&fit.walls, Vec2::default(), false, work);
        view.spots.retain(|p| fit.walls.depth(*p) <= CONTACT);
        view.tidy();
        view
    }

    /// Takes in what was placed since last time.
    fn catch_up(&mut self, tables: &Tables, turned: usize, items: &[Item], work: &mut Work) {
        if self.neighbours.len() == items.len() {
            return;
        }
        let from = self.neighbours.len();
        for item in &items[from..] {
            let nofit = tables.pair(item.pose.turned, turned);
            let at = item.at;
            let bounds = nofit.bounds.map(|b| moved(b, at.to_vec()));
            let looks = &mut 0;
            self.spots.retain(|p| {
                let near = bounds.is_some_and(|b| holds(&b, *p));
                *looks += if near {
                    1 + nofit.areas.len() as u64 / 2
                } else {
                    0
                };
                !near || nofit.depth(Point::default() + (*p - at)) <= CONTACT
            });
            work.add(*looks);
            self.add_border(&nofit, at.to_vec(), true, work);
            self.neighbours.push(Neighbour { nofit, at, bounds });
        }
        self.tidy();
    }

    /// Adds the places where the border of `nofit`, moved by `by`, is free of everything known.
    fn add_border(&mut self, nofit: &NoFit, by: Vec2, walls: bool, work: &mut Work) {
        let Some(bounds) = nofit.bounds.map(|b| moved(b, by)) else {
            return;
        };
        let range = self.fit.range.grown(CONTACT);
        if !bounds.touches(&range) {
            return;
        }
        let near: Vec<&Neighbour> = self
            .neighbours
            .iter()
            .filter(|n| n.bounds.is_some_and(|b| b.touches(&bounds)))
            .collect();
        let mut looks = self.neighbours.len() as u64 / 16;
        let mut taken: Vec<Stretch> = Vec::new();
        let mut found: Vec<Point> = Vec::new();
        'edges: for edge in &nofit.border {
            let start = edge.from + by;
            let Some((a, b)) = clipped(start, edge.along, &range) else {
                continue;
            };
            let (from, along) = (start + edge.along * a, edge.along * (b - a));
            taken.clear();
            if walls {
                looks += self.fit.walls.take(from, along, &mut taken);
                if taken.last().is_some_and(Stretch::is_all) {
                    continue;
                }
            }
            let line = Bounds::new(from, from + along);
            // What was placed last is most likely to cover it.
            for n in near.iter().rev() {
                looks += 1;
                if n.bounds.is_some_and(|b| b.touches(&line)) {
                    let local = Point::default() + (from - n.at);
                    looks += n.nofit.take(local, along, &mut taken);
                    if taken.last().is_some_and(Stretch::is_all) {
                        continue 'edges;
                    }
                }
            }
            ends_of_rest(&mut taken, |a, b| {
                found.push(from + along * a);
                if b > a {
                    found.push(from + along * b);
                }
            });
        }
        work.add(looks);
        let range = self.fit.range;
        self.spots.extend(found.into_iter().map(|p| {
            Point::new(
                p.x.clamp(range.min.x, range.max.x),
                p.y.clamp(range.min.y, range.max.y),
            )
        }));
    }

    /// Removes doubles.
    fn tidy(&mut self) {
        self.spots
            .sort_by(|a, b| a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y)));
        self.spots
            .dedup_by(|a, b| (a.x - b.x).abs() < SAME_SPOT && (a.y - b.y).abs() < SAME_SPOT);
    }

    /// Whether the shape may lie at `at`.
    fn is_free(&self, at: Point, work: &mut Work) -> bool {
        work.add(4 + self.neighbours.len() as u64 / 16);
        self.fit.walls.depth(at) <= FREE
            && self.neighbours.iter().all(|n| {
                !n.bounds.is_some_and(|b| holds(&b, at))
                    || n.nofit.depth(Point::default() + (at - n.at)) <= FREE
            })
    }
}

/// `bounds` moved by `by`.
fn moved(bounds: Bounds, by: Vec2) -> Bounds {
    Bounds {
        min: bounds.min + by,
        max: bounds.max + by,
    }
}

/// The shares between which the line from `from` to `from + along` lies in `bounds`.
fn clipped(from: Point, along: Vec2, bounds: &Bounds) -> Option<(f64, f64)> {
    let (mut a, mut b) = (0.0_f64, 1.0_f64);
    for (start, step, low, high) in [
        (from.x, along.x, bounds.min.x, bounds.max.x),
        (from.y, along.y, bounds.min.y, bounds.max.y),
    ] {
        if step.abs() < 1e-12 {
            if start < low || start > high {
                return None;
            }
        } else {
            let (s, t) = ((low - start) / step, (high - start) / step);
            a = a.max(s.min(t));
            b = b.min(s.max(t));
        }
    }
    (a <= b).then_some((a, b))
}

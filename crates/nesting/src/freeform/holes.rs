//! Cut-outs of parts as they lie on sheets, and as stock.

use super::fill::Sheet;
use super::nesting::Nesting;
use super::region::Item;
use super::tables::Tables;
use crate::offcut::Finder;
use crate::{KeepRule, Layout, Problem, Stock};
use geo::Contains;
use panelwright_geometry::{Bounds, Placement, Point, Polygon};
use std::collections::BTreeMap;

/// Least price of a cut-out, as a share of the cheapest stock of its area. Above nothing, so that few are taken.
const LEAST_PRICE: f64 = 1e-4;

/// Cut-outs whose corners are no further apart, in millimetres, are alike: what placements are rounded to.
const SAME_CORNER: f64 = 1e-6;

/// What reaches no further into the bounds of a cut-out or beyond them, in millimetres, lies beside or in it.
const BESIDE: f64 = 1e-3;

/// A hole of a part at an angle.
pub(super) struct Hole {
    /// Its index among those of the part.
    pub index: usize,
    /// With the lower left corner of its bounds at the origin.
    pub shape: Polygon,
    /// Where that corner is from the origin of the part's drawing.
    pub at: Point,
}

/// The holes of parts at their angles that might take a part of the nest.
pub(super) struct Holes {
    /// The least side of any part.
    least: f64,
    /// By part and angle (its bits).
    known: BTreeMap<(usize, u64), Vec<Hole>>,
}

impl Holes {
    /// None looked for yet.
    pub fn of_parts_in(tables: &Tables, nesting: &Nesting) -> Self {
        let items = nesting.sheets.iter().flat_map(|(sheet, _)| &sheet.items);
        let turned = items.map(|(_, item)| &tables.catalogue.turned[item.pose.turned]);
        let side = turned.map(|t| t.width.min(t.height));
        Self {
            least: side.fold(f64::INFINITY, f64::min) + 2.0 * tables.problem.gap,
            known: BTreeMap::new(),
        }
    }

    /// Those of a part at an angle, in the order of its drawing.
    pub fn at(&mut self, tables: &Tables, part: usize, angle_deg: f64) -> &[Hole] {
        let least = self.least;
        let key = (part, angle_deg.to_bits());
        self.known.entry(key).or_insert_with(|| {
            let mut outline = tables.problem.parts[part].outline.clone();
            // A part has hundreds of holes at times, and most are drilled.
            let large = |bounds: Bounds| bounds.width().hypot(bounds.height()) >= least;
            let indices = (0..outline.holes.len()).filter(|i| large(outline.holes[*i].bounds()));
            let indices: Vec<usize> = indices.collect();
            outline.holes.retain(|hole| large(hole.bounds()));
            let turned = outline.placed(&Placement::new(angle_deg, Point::default()));
            let holes = turned.covering().holes.into_iter().zip(indices);
            let holes = holes.map(|(hole, index)| (Polygon::new(hole, Vec::new()), index));
            let wide = |(hole, _): &(Polygon, usize)| {
                let bounds = hole.bounds();
                bounds.width().min(bounds.height()) >= least
            };
            let moved = holes.filter(wide).map(|(hole, index)| {
                let (shape, at) = at_origin(hole);
                Hole { index, shape, at }
            });
            moved.collect()
        })
    }
}

/// A hole with the lower left corner of its bounds at the origin and its ring begun at the lowest of its leftmost
/// corners, so that those of frames half a turn apart are alike; and where that corner was.
pub(super) fn at_origin(hole: Polygon) -> (Polygon, Point) {
    let at = hole.bounds().min;
    let mut ring = hole.outer;
    for corner in &mut ring {
        *corner = *corner - at.to_vec();
    }
    let rounded = |v: f64| (v / SAME_CORNER).round() as i64;
    let first = (0..ring.len()).min_by_key(|i| (rounded(ring[*i].x), rounded(ring[*i].y)));
    ring.rotate_left(first.unwrap_or(0));
    (Polygon::new(ring, Vec::new()), at)
}

/// A hole as it lies on a sheet.
pub(super) struct Lying {
    /// With the lower left corner of its bounds at the origin.
    pub shape: Polygon,
    pub bounds: Bounds,
}

/// What lies on a sheet, with its holes.
pub(super) struct Laid<'a> {
    tables: &'a Tables<'a>,
    pub stock: &'a Stock,
    pub items: Vec<&'a Item>,
    /// By item.
    pub bounds: Vec<Bounds>,
    /// By item: those that might take a part, in the order of [`Holes::at`].
    pub holes: Vec<Vec<Lying>>,
}

impl<'a> Laid<'a> {
    pub fn new(tables: &'a Tables<'a>, sheet: &'a Sheet, holes: &mut Holes) -> Self {
        let items: Vec<&Item> = sheet.items.iter().map(|(_, item)| item).collect();
        let mut lying = |item: &&Item| {
            let placed = item.pose.placement(item.at);
            let own = holes.at(tables, item.part, placed.angle_deg()).iter();
            let own = own.map(|hole| {
                let at = hole.at + placed.origin.to_vec();
                let far = hole.shape.bounds().max + at.to_vec();
                Lying {
                    shape: hole.shape.clone(),
                    bounds: Bounds::new(at, far),
                }
            });
            own.collect()
        };
        Self {
            tables,
            stock: &tables.problem.stock[sheet.stock],
            bounds: items.iter().map(|item| bounds_of(tables, item)).collect(),
            holes: items.iter().map(&mut lying).collect(),
            items,
        }
    }

    /// All holes, each with the index of the item that has it.
    pub fn all(&self) -> impl Iterator<Item = (usize, &Lying)> {
        let each = self.holes.iter().enumerate();
        each.flat_map(|(frame, holes)| holes.iter().map(move |hole| (frame, hole)))
    }

    /// Whether an item lies in a hole of `frame`.
    pub fn is_in(&self, item: usize, (frame, hole): (usize, &Lying)) -> bool {
        let inside = || {
            let place = inner_point(self.tables, self.items[item]) - hole.bounds.min.to_vec();
            (hole.shape.to_geo()).contains(&geo::Point::new(place.x, place.y))
        };
        let around = hole.bounds.grown(BESIDE);
        item != frame && around.contains(&self.bounds[item]) && inside()
    }

    /// Whether neither a flaw nor a part reaches into the bounds of a hole of `frame`, but for what lies in it and what
    /// `frame` lies in itself.
    pub fn is_free(&self, (frame, hole): (usize, &Lying)) -> bool {
        let near = hole.bounds.grown(-BESIDE);
        let is_round = |item: usize| {
            let mut holes = self.holes[item].iter();
            holes.any(|outer| self.is_in(frame, (item, outer)))
        };
        let reaches = |item: usize| {
            let beside = item != frame && self.bounds[item].touches(&near);
            beside && !self.is_in(item, (frame, hole)) && !is_round(item)
        };
        clear_of_flaws(self.stock, &hole.bounds) && !(0..self.items.len()).any(reaches)
    }
}

fn bounds_of(tables: &Tables, item: &Item) -> Bounds {
    let turned = &tables.catalogue.turned[item.pose.turned];
    let far = Point::new(item.at.x + turned.width, item.at.y + turned.height);
    Bounds::new(item.at, far)
}

/// A point inside a part: the middle of the corners of a convex piece.
fn inner_point(tables: &Tables, item: &Item) -> Point {
    let pieces = &tables.catalogue.turned[item.pose.turned].pieces;
    let corners = pieces.first().map_or(&[][..], Vec::as_slice);
    let share = 1.0 / corners.len().max(1) as f64;
    let moved = |p: Point, corner: &Point| p + corner.to_vec() * share;
    corners.iter().fold(item.at, moved)
}

/// Whether no flaw, void, pinned part or area to keep clear may reach into these bounds.
fn clear_of_flaws(stock: &Stock, bounds: &Bounds) -> bool {
    let rings = stock.keep_clear.iter().chain(&stock.zones);
    let mut rings = rings.chain(&stock.outline.holes);
    let reaches = |ring: &Vec<Point>| {
        let around = Bounds::of_points(ring.iter().copied());
        around.is_some_and(|b| b.touches(bounds))
    };
    stock.pinned.is_empty() && !rings.any(reaches)
}

/// The stock that a hole in `sheet` is, now one more of it, at what it is worth while it is empty; `None` where there would be
/// more than `most` kinds from the one with index `first` on. `rate` is what an area costs at least.
pub(super) fn stock_of(
    problem: &mut Problem,
    first: usize,
    most: usize,
    sheet: &Stock,
    hole: &Polygon,
    rate: f64,
) -> Option<usize> {
    let keep = keep_in_hole(&sheet.keep, problem.gap.max(problem.kerf));
    let alike = |stock: &Stock| {
        let [one, other] = [&stock.outline.outer, &hole.outer];
        stock.grain_deg == sheet.grain_deg
            && stock.good_faces == sheet.good_faces
            && stock.keep == keep
            && one.len() == other.len()
            && (one.iter().zip(other)).all(|(p, q)| p.distance(*q) <= SAME_CORNER)
    };
    if let Some(known) = problem.stock[first..].iter().position(alike) {
        let kind = first + known;
        if let Some(pieces) = &mut problem.supplies[problem.stock[kind].supply] {
            *pieces += 1;
        }
        return Some(kind);
    }
    let kind = problem.stock.len();
    if kind - first >= most {
        return None;
    }
    let supply = problem.supplies.len();
    problem.supplies.push(Some(1));
    problem.stock.push(Stock {
        margin: Some(problem.gap),
        grain_deg: sheet.grain_deg,
        good_faces: sheet.good_faces,
        keep,
        // What it holds is worth no more than the piece; that is not known yet.
        ..Stock::remnant(sheet.name.clone(), hole.clone(), f64::MAX, supply)
    });
    let empty = Finder::new(problem).kept(&Layout::bare(problem, kind));
    let kept: f64 = empty.iter().map(|offcut| offcut.value).sum();
    let scrap = hole.area() - empty.iter().map(|o| o.outline.area()).sum::<f64>();
    let worth = kept - scrap * sheet.keep.scrap_cost_per_area;
    problem.stock[kind].cost = worth.max(LEAST_PRICE * rate * hole.area());
    Some(kind)
}

/// The rule by which what is left of a hole is kept. What is kept of stock begins at its edge, what is kept of a hole at the gap
/// from its part. (Along parts in the hole the gap is so counted twice.)
fn keep_in_hole(keep: &KeepRule, gap: f64) -> KeepRule {
    let wider = |side: f64| side + 2.0 * gap;
    KeepRule {
        least_width: wider(keep.least_width),
        least_length: wider(keep.least_length),
        or_holds: keep.or_holds.iter().map(|sides| sides.map(wider)).collect(),
        edge: keep.edge + gap,
        ..keep.clone()
    }
}

/// What an area of the stock costs at least.
pub(super) fn least_rate(problem: &Problem) -> f64 {
    let rate = |s: &Stock| s.cost / s.outline.area().max(1e-9);
    problem.stock.iter().map(rate).fold(f64::INFINITY, f64::min)
}

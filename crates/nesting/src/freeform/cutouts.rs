//! What lies in the cut-outs of parts, laid anew.
//!
//! Most small parts of an order lie in the cut-outs of frames, as rectangles in a row where those did best (see
//! [`rectangles`](super::rectangles)). Laid closer they take fewer cut-outs, and one that stays empty is an offcut that
//! may be kept. All cut-outs of a nest together are a problem of their own: as many remnants, each costing what it is
//! worth while it is empty, for the parts in them. Sheets are large and hardly two hold the same parts; cut-outs are
//! small and many of them alike, which suits [`patterns`](super::patterns).

#[cfg(test)]
mod tests;

use super::fill::Sheet;
use super::nesting::{Nesting, Scored, Worth};
use super::patterns::{Pattern, by_patterns};
use super::region::Item;
use super::rows::tiled;
use super::tables::Tables;
use super::work::{Watch, Work};
use crate::offcut::Finder;
use crate::{Layout, Part, Problem, Stock, Turn};
use geo::Contains;
use panelwright_geometry::{Bounds, Placement, Point, Polygon};
use rand_pcg::Pcg64Mcg;
use std::collections::BTreeMap;

/// Kinds of cut-outs that are told apart. Others stay as they are.
const MOST_KINDS: usize = 400;

/// Least price of a cut-out, as a share of the cheapest stock of its area. Above nothing, so that few are taken.
const LEAST_PRICE: f64 = 1e-4;

/// Cut-outs whose corners are no further apart, in millimetres, are alike: what placements are rounded to.
const SAME_CORNER: f64 = 1e-6;

/// What reaches no further into the bounds of a cut-out or beyond them, in millimetres, lies beside or in it.
const BESIDE: f64 = 1e-3;

/// Steps for each cut-out in use below which nothing would come of it.
const LEAST_STEPS: u64 = 2_000;

/// Kinds of cut-outs and parts that are tried with each other in rows, those with most of them first; most of the steps that may take, as a
/// share, and how many copies a cut-out must have the area of.
const MOST_TILED: usize = 8;
const TILED_SHARE: f64 = 0.5;
const MANY: f64 = 4.0;

/// Whether something lies in cut-outs of `nesting`, and these steps might lay it closer.
pub(super) fn are_worth(tables: &Tables, nesting: &Nesting, steps: u64) -> bool {
    tables.problem.use_cutouts && Cutouts::of(tables, nesting).are_worth(steps)
}

/// `nesting` with the contents of its cut-outs laid anew, where that is better, and the steps it took.
pub(super) fn laid_anew(
    tables: &Tables,
    nesting: &Nesting,
    steps: u64,
    random: &mut Pcg64Mcg,
    watch: &Watch,
) -> (Option<Scored>, u64) {
    if watch.stopped() {
        return (None, 0);
    }
    let cutouts = Cutouts::of(tables, nesting);
    if !cutouts.are_worth(steps) {
        return (None, 0);
    }
    let mut work = Work::of_steps(u64::MAX);
    let better = cutouts.better(tables, nesting, steps, random, watch, &mut work);
    (better, work.steps())
}

/// A cut-out as it lies on a sheet.
struct Cutout {
    /// Index of the sheet.
    sheet: usize,
    /// The field that its frame lies in.
    field: usize,
    /// Index of the stock that it is.
    kind: usize,
    /// Lower left corner of its bounds.
    at: Point,
    /// Indices of the items in it.
    contents: Vec<usize>,
}

/// The cut-outs of a nest as a problem of their own.
struct Cutouts {
    /// With the parts that lie in them, and the cut-outs as stock.
    problem: Problem,
    /// By part of the nest: its index in that problem.
    index_of: Vec<Option<usize>>,
    /// By part of that problem: its index in the nest.
    part_of: Vec<usize>,
    all: Vec<Cutout>,
}

impl Cutouts {
    /// Those that parts of the nest might lie in. Left out are such that something else reaches into their bounds, and such
    /// with a part that turns freely, which would lie at another angle than the nest knows.
    fn of(tables: &Tables, nesting: &Nesting) -> Self {
        let given = tables.problem;
        let mut found = Self {
            problem: Problem {
                parts: Vec::new(),
                stock: Vec::new(),
                supplies: Vec::new(),
                ..given.clone()
            },
            index_of: vec![None; given.parts.len()],
            part_of: Vec::new(),
            all: Vec::new(),
        };
        let rate = |s: &Stock| s.cost / s.outline.area().max(1e-9);
        let rate = given.stock.iter().map(rate).fold(f64::INFINITY, f64::min);
        let mut holes = Holes::of_parts_in(tables, nesting);
        for (index, (sheet, _)) in nesting.sheets.iter().enumerate() {
            found.add_those_on(tables, index, sheet, &mut holes, rate);
        }
        for cutout in &found.all {
            let items = &nesting.sheets[cutout.sheet].0.items;
            for i in &cutout.contents {
                let part = items[*i].1.part;
                let index = *found.index_of[part].get_or_insert_with(|| {
                    found.part_of.push(part);
                    found.problem.parts.push(Part {
                        quantity: 0,
                        ..given.parts[part].clone()
                    });
                    found.part_of.len() - 1
                });
                found.problem.parts[index].quantity += 1;
            }
        }
        found
    }

    fn are_worth(&self, steps: u64) -> bool {
        let in_use = self.all.iter().filter(|c| !c.contents.is_empty()).count();
        in_use > 0 && steps >= LEAST_STEPS * in_use as u64
    }

    /// Adds those on a sheet; `rate` is what an area costs at least.
    fn add_those_on(
        &mut self,
        tables: &Tables,
        index: usize,
        sheet: &Sheet,
        holes: &mut Holes,
        rate: f64,
    ) {
        let stock = &tables.problem.stock[sheet.stock];
        let items = || sheet.items.iter().map(|(_, item)| item);
        let bounds: Vec<Bounds> = items().map(|i| bounds_of(tables, i)).collect();
        // The index of the frame, its hole as it lies with its corner at the origin, and its bounds.
        let mut lying = Vec::new();
        for (frame, item) in items().enumerate() {
            let origin = item.pose.placement(item.at).origin.to_vec();
            for (hole, from_origin) in holes.of(tables, item) {
                let at = *from_origin + origin;
                let size = hole.bounds();
                let around = Bounds::new(at, size.max + at.to_vec());
                lying.push((frame, hole.clone(), around));
            }
        }
        let is_in = |item: usize, (frame, hole, around): &(usize, Polygon, Bounds)| {
            let inside = || {
                let place = inner_point(tables, &sheet.items[item].1) - around.min.to_vec();
                hole.to_geo().contains(&geo::Point::new(place.x, place.y))
            };
            item != *frame && around.grown(BESIDE).contains(&bounds[item]) && inside()
        };
        for hole in &lying {
            // What lies in a frame that lies in a cut-out itself belongs to that one.
            if lying.iter().any(|outer| is_in(hole.0, outer)) || !clear_of_flaws(stock, &hole.2) {
                continue;
            }
            let all = 0..sheet.items.len();
            let (contents, others): (Vec<usize>, Vec<usize>) = all.partition(|i| is_in(*i, hole));
            let near = hole.2.grown(-BESIDE);
            let reaches = |i: &usize| *i != hole.0 && bounds[*i].touches(&near);
            let turns = |i: &usize| tables.problem.parts[sheet.items[*i].1.part].turn;
            if others.iter().any(reaches) || contents.iter().any(|i| turns(i) == Turn::Free) {
                continue;
            }
            if let Some(kind) = self.kind(stock, &hole.1, rate) {
                self.all.push(Cutout {
                    sheet: index,
                    field: sheet.items[hole.0].0,
                    kind,
                    at: hole.2.min,
                    contents,
                });
            }
        }
    }

    /// The stock that a hole in this one is, now one more of it; `None` where there are too many kinds.
    fn kind(&mut self, sheet: &Stock, hole: &Polygon, rate: f64) -> Option<usize> {
        let problem = &mut self.problem;
        let alike = |s: &Stock| {
            let corners = || s.outline.outer.iter().zip(&hole.outer);
            s.grain_deg == sheet.grain_deg
                && s.good_faces == sheet.good_faces
                && s.keep == sheet.keep
                && s.outline.outer.len() == hole.outer.len()
                && corners().all(|(p, q)| (*p - *q).length() <= SAME_CORNER)
        };
        if let Some(kind) = problem.stock.iter().position(alike) {
            if let Some(pieces) = &mut problem.supplies[kind] {
                *pieces += 1;
            }
            return Some(kind);
        }
        let kind = problem.stock.len();
        if kind >= MOST_KINDS {
            return None;
        }
        problem.supplies.push(Some(1));
        problem.stock.push(Stock {
            margin: Some(problem.gap),
            grain_deg: sheet.grain_deg,
            good_faces: sheet.good_faces,
            keep: sheet.keep.clone(),
            // What it holds is worth no more than the piece; that is not known yet.
            ..Stock::remnant(sheet.name.clone(), hole.clone(), f64::MAX, kind)
        });
        let empty = Finder::new(problem).kept(&Layout::bare(problem, kind));
        let kept: f64 = empty.iter().map(|offcut| offcut.value).sum();
        let scrap = hole.area() - empty.iter().map(|o| o.outline.area()).sum::<f64>();
        let worth = kept - scrap * sheet.keep.scrap_cost_per_area;
        problem.stock[kind].cost = worth.max(LEAST_PRICE * rate * hole.area());
        Some(kind)
    }

    /// The nest with other contents, where that is better.
    fn better(
        &self,
        tables: &Tables,
        nesting: &Nesting,
        steps: u64,
        random: &mut Pcg64Mcg,
        watch: &Watch,
        work: &mut Work,
    ) -> Option<Scored> {
        let own = Tables::new(&self.problem, None);
        let present = self.present(nesting, &own, work)?;
        let tiled = self.tiled(&own, steps, random, watch, work);
        let left = steps.saturating_sub(work.steps());
        let (found, score, used) = by_patterns(&own, &present, tiled, left, random, watch)?;
        work.add_steps(used);
        if !score.beats(&present.score(&own)) {
            return None;
        }
        let laid = self.put_back(tables, nesting, &found, work)?;
        let score = laid.score(tables);
        score.beats(&nesting.score(tables)).then_some((laid, score))
    }

    /// Cut-outs filled with one part in rows or on a lattice, which lies closer than at free corners.
    fn tiled(
        &self,
        own: &Tables,
        steps: u64,
        random: &mut Pcg64Mcg,
        watch: &Watch,
        work: &mut Work,
    ) -> Vec<Pattern> {
        let problem = &self.problem;
        let wanted: Vec<u32> = problem.parts.iter().map(|p| p.quantity).collect();
        let pieces = |kind: usize| problem.supplies[problem.stock[kind].supply].unwrap_or(0);
        let area = |part: usize| f64::from(wanted[part]) * problem.parts[part].outline.area();
        let kinds = (0..problem.stock.len()).filter(|kind| pieces(*kind) > 0);
        let mut pairs: Vec<(usize, usize)> = kinds
            .flat_map(|kind| (0..wanted.len()).map(move |part| (kind, part)))
            .filter(|(kind, part)| {
                let room = problem.stock[*kind].outline.area();
                MANY * problem.parts[*part].outline.area() <= room
            })
            .collect();
        let weight = |(kind, part): (usize, usize)| f64::from(pieces(kind)) * area(part);
        pairs.sort_by(|a, b| weight(*b).total_cmp(&weight(*a)).then(a.cmp(b)));
        pairs.truncate(MOST_TILED);
        let share = (steps as f64 * TILED_SHARE) as u64 / pairs.len().max(1) as u64;
        let mut found = Vec::new();
        for (kind, part) in pairs {
            let mut its = work.split(share);
            for sheet in tiled(own, kind, part, &wanted, random, watch, &mut its) {
                let worth = Worth::of(&sheet, own, &mut its);
                found.push(Pattern::new(own, sheet, worth));
            }
            work.join(&its);
        }
        found
    }

    /// The cut-outs with what is in them now; `None` where a part lies at an angle of its own.
    fn present(&self, nesting: &Nesting, own: &Tables, work: &mut Work) -> Option<Nesting> {
        let mut present = Nesting {
            sheets: Vec::new(),
            missing: vec![0; self.problem.parts.len()],
        };
        for cutout in self.all.iter().filter(|c| !c.contents.is_empty()) {
            let field = own.fields_of(cutout.kind).next()?;
            let items = &nesting.sheets[cutout.sheet].0.items;
            let item = |i: &usize| {
                let Item { part, pose, at } = items[*i].1;
                let part = self.index_of[part]?;
                let pose = own.catalogue.pose_at(part, pose.angle_deg)?;
                let at = at - cutout.at.to_vec();
                Some((field, Item { part, pose, at }))
            };
            let sheet = Sheet {
                stock: cutout.kind,
                items: cutout.contents.iter().map(item).collect::<Option<_>>()?,
            };
            let worth = Worth::of(&sheet, own, work);
            present.sheets.push((sheet, worth));
        }
        Some(present)
    }

    /// The nest with these contents instead; `None` where a part lies at an angle that the nest does not know.
    fn put_back(
        &self,
        tables: &Tables,
        nesting: &Nesting,
        contents: &Nesting,
        work: &mut Work,
    ) -> Option<Nesting> {
        let mut of_kind: Vec<Vec<&Sheet>> = vec![Vec::new(); self.problem.stock.len()];
        // Taken from the end, so that sheets with the same contents follow each other.
        for (sheet, _) in contents.sheets.iter().rev() {
            of_kind[sheet.stock].push(sheet);
        }
        let mut added: Vec<Vec<(usize, Item)>> = vec![Vec::new(); nesting.sheets.len()];
        let mut removed: Vec<Vec<usize>> = vec![Vec::new(); nesting.sheets.len()];
        for cutout in &self.all {
            removed[cutout.sheet].extend(&cutout.contents);
            let items = of_kind[cutout.kind].pop().map_or(&[][..], |s| &s.items);
            for (_, item) in items {
                let part = self.part_of[item.part];
                let pose = tables.catalogue.pose_at(part, item.pose.angle_deg)?;
                let at = item.at + cutout.at.to_vec();
                added[cutout.sheet].push((cutout.field, Item { part, pose, at }));
            }
        }
        let sheets = nesting.sheets.iter().zip(removed).zip(added);
        let sheets = sheets.map(|(((sheet, worth), removed), added)| {
            if removed.is_empty() && added.is_empty() {
                return (sheet.clone(), *worth);
            }
            let stays = |(i, item)| (!removed.contains(&i)).then_some(item);
            let stay = sheet.items.iter().copied().enumerate().filter_map(stays);
            let sheet = Sheet {
                stock: sheet.stock,
                items: stay.chain(added).collect(),
            };
            let worth = Worth::of(&sheet, tables, work);
            (sheet, worth)
        });
        Some(Nesting {
            sheets: sheets.collect(),
            missing: nesting.missing.clone(),
        })
    }
}

/// The holes of parts at their angles that might take a part of the nest.
struct Holes {
    /// The least side of any part.
    least: f64,
    /// By part and angle (its bits): each with its corner at the origin, and where that corner is from the origin of
    /// the part's drawing.
    known: BTreeMap<(usize, u64), Vec<(Polygon, Point)>>,
}

impl Holes {
    fn of_parts_in(tables: &Tables, nesting: &Nesting) -> Self {
        let items = nesting.sheets.iter().flat_map(|(sheet, _)| &sheet.items);
        let turned = items.map(|(_, item)| &tables.catalogue.turned[item.pose.turned]);
        let side = turned.map(|t| t.width.min(t.height));
        Self {
            least: side.fold(f64::INFINITY, f64::min) + 2.0 * tables.problem.gap,
            known: BTreeMap::new(),
        }
    }

    fn of(&mut self, tables: &Tables, item: &Item) -> &[(Polygon, Point)] {
        let least = self.least;
        let key = (item.part, item.pose.angle_deg.to_bits());
        self.known.entry(key).or_insert_with(|| {
            let mut outline = tables.problem.parts[item.part].outline.clone();
            // A part has hundreds of holes at times, and most are drilled.
            outline.holes.retain(|h| {
                let bounds = h.bounds();
                bounds.width().hypot(bounds.height()) >= least
            });
            let angle = item.pose.placement(item.at).angle_deg();
            let turned = outline.placed(&Placement::new(angle, Point::default()));
            let holes = turned.covering().holes.into_iter();
            let holes = holes.map(|hole| Polygon::new(hole, Vec::new()));
            let wide = |hole: &Polygon| {
                let bounds = hole.bounds();
                bounds.width().min(bounds.height()) >= least
            };
            holes.filter(wide).map(at_origin).collect()
        })
    }
}

/// A hole with the lower left corner of its bounds at the origin and its ring begun at the lowest of its leftmost
/// corners, so that those of frames half a turn apart are alike; and where that corner was.
fn at_origin(hole: Polygon) -> (Polygon, Point) {
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

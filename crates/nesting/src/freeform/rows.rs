//! Many copies of one shape in rows that are all alike, or on a lattice: the plainest tilings, which neither free corners nor pushing
//! come upon.
//!
//! A unit is one copy, or two that touch (`unit`). Units follow each other along the strip at one pitch, and rows lie on each other, each
//! moved on by one shift. How near a unit and a row may come is read from the no-fit areas; units, pitches and shifts are tried, and
//! what is shortest for so many copies is taken. Rows lie along the strip and end at its edges; a `lattice` may run aslant, and is as close as can
//! be.

use super::construct::{Recipe, empty, lengthwise, order_is_long};
use super::convex::CONTACT;
use super::cover::is_rough;
use super::field::Fit;
use super::fill::{Filling, Sheet, Taste};
use super::improve::SHARE_IN_ROWS;
use super::lattice::{Cutting, closest};
use super::nesting::{Nesting, Worth};
use super::nofit::holds;
use super::region::Item;
use super::shape::Pose;
use super::skyline::Skyline;
use super::tables::Tables;
use super::unit::{Keep, Unit, units};
use super::work::{Watch, Work};
use crate::{Part, Problem};
use panelwright_geometry::{Bounds, Point, Vec2};
use rand_pcg::Pcg64Mcg;
use std::sync::Arc;

/// Copies of a part from which on rows are tried, and beyond which they would take too long.
const COPIES: std::ops::RangeInclusive<u32> = 8..=20_000;

/// Parts that pitch and shift are divided into, halves and thirds among them: pitches up to twice the least.
const PITCHES: u32 = 24;
const SHIFTS: u32 = 24;

/// Rows further up that are looked at: rows still lower lie so deep within each other that they are left to lattices.
const ROWS_UP: u32 = 12;

/// Share of the work for rows and lattices that rows may take.
const SHARE_OF_ROWS: u64 = 3;

/// Numbers of copies for which rows in a room are looked for: what is between these goes in as well or not.
const ROWS_TRIALS: u64 = 7;

/// Share of what work is left that each of these may take.
const SHARE_OF_TRIAL: u64 = 3;

/// Tilings with which stock is filled up, those that place most copies.
const FILLED_UP: usize = 3;

/// Shares of its play in the stock by which a tiling is moved where something is in its way, along and across: in a window with round
/// corners most goes in away from these.
const MOVED: [f64; 5] = [0.0, 0.25, 0.5, 0.75, 1.0];

/// Shares of a rise or pitch that are rounding.
const ROUNDING: f64 = 1e-9;

/// Copies of one part, each with its pose and the place of its lower left corner in the room.
type Laid = Vec<(Pose, Vec2)>;

/// Rows of a unit.
struct Rows<'u> {
    unit: &'u Unit,
    pitch: f64,
    shift: f64,
    rise: f64,
    /// Length that they take.
    length: f64,
}

/// All parts on a strip, those that come in many copies and have most area in rows or on a lattice; `None` where there is nothing to
/// lay so or not all go in. `work` is what looking for tilings may take.
pub(super) fn in_rows(
    tables: &Tables,
    random: &mut Pcg64Mcg,
    watch: &Watch,
    work: &mut Work,
) -> Option<Sheet> {
    let mut left: Vec<u32> = tables.problem.parts.iter().map(|p| p.quantity).collect();
    let part = dominating(tables, 0)?;
    let room = room(tables, 0)?;
    let units = units(tables, part, 0);
    let mut own = work.split(work.left() / SHARE_OF_ROWS);
    let rows = least_rows(tables, &units, left[part], room.y, watch, &mut own);
    work.join(&own);
    let mut length = rows.as_ref().map_or(f64::INFINITY, |r| r.length);
    let mut tilings: Vec<Laid> = Vec::new();
    tilings.extend(rows.map(|r| r.laid(left[part], room.y)));
    let copies = u64::from(left[part]);
    for lattice in closest(tables, part, &units, watch, work) {
        let cutting = Cutting::new(tables, &lattice, &units);
        // Twice the area and a few units are enough for each of them.
        let enough = 2.0 * lattice.area * copies as f64 / room.y + 4.0 * (room.y + lattice.span());
        let most = length.min(enough).min(room.x);
        if let Some((shortest, off)) = cutting.shortest(copies, room.y, most, watch, work) {
            length = shortest;
            tilings.push(cutting.laid(off, Vec2::new(shortest, room.y)));
        }
    }
    // The last one is the shortest; what was read from borders errs by rounding.
    for laid in tilings.iter().rev() {
        let before = left.clone();
        let mut all = Work::of_steps(u64::MAX);
        let sheet = filled(tables, 0, part, laid, &mut left, random, watch, &mut all);
        if sheet.is_some() && left.iter().all(|n| *n == 0) {
            return sheet;
        }
        left = before;
        if watch.stopped() {
            break;
        }
    }
    None
}

/// Sheets of `stock` with the part that dominates the order in rows or on a lattice, and what else goes onto them, until no copy of it is
/// left; `None` where it does not lie so there. Looking for tilings takes `steps` at most.
pub(super) fn sheets_in_rows(
    tables: &Tables,
    stock: usize,
    steps: u64,
    random: &mut Pcg64Mcg,
    watch: &Watch,
    work: &mut Work,
) -> Option<Nesting> {
    let part = dominating(tables, stock)?;
    let mut nesting = empty(tables);
    let area = |i: usize| f64::from(nesting.missing[i]) * tables.catalogue.shape(i).area;
    if area(part) < SHARE_IN_ROWS * (0..nesting.missing.len()).map(area).sum::<f64>() {
        return None;
    }
    let mut own = work.split(steps);
    let tilings = tilings(tables, stock, part, nesting.missing[part], watch, &mut own);
    work.join(&own);
    // That which places most copies once the sheet is filled up, or as many in less length.
    let mut best: Option<(u32, f64, Laid)> = None;
    for laid in tilings {
        let mut left = nesting.missing.clone();
        let Some(sheet) = filled(tables, stock, part, &laid, &mut left, random, watch, work) else {
            continue;
        };
        let own = sheet.items.iter().filter(|(_, item)| item.part == part);
        let reach = own.map(|(_, item)| item.at.x).fold(0.0, f64::max);
        let placed = nesting.missing[part] - left[part];
        if best
            .as_ref()
            .is_none_or(|b| placed > b.0 || placed == b.0 && reach < b.1)
        {
            best = Some((placed, reach, laid));
        }
    }
    let (_, _, laid) = best?;
    let supply = tables.problem.stock[stock].supply;
    while nesting.missing[part] > 0 && nesting.supplies_left(tables)[supply] != Some(0) {
        let before = nesting.missing.clone();
        let missing = &mut nesting.missing;
        let sheet = filled(tables, stock, part, &laid, missing, random, watch, work)?;
        if nesting.missing[part] == before[part] || watch.stopped() {
            return None;
        }
        let worth = Worth::of(&sheet, tables, work);
        // The same sheet again, as long as there are as many copies of all that is on it.
        let counts: Vec<u32> = before
            .iter()
            .zip(&nesting.missing)
            .map(|(b, l)| b - l)
            .collect();
        let enough = |missing: &[u32]| missing.iter().zip(&counts).all(|(m, n)| m >= n);
        nesting.sheets.push((sheet.clone(), worth));
        while enough(&nesting.missing) && nesting.supplies_left(tables)[supply] != Some(0) {
            for (missing, n) in nesting.missing.iter_mut().zip(&counts) {
                *missing -= n;
            }
            nesting.sheets.push((sheet.clone(), worth));
        }
    }
    Some(nesting)
}

/// Ways to fill `stock` with copies of `part` in rows or on lattices, and where these leave room with other copies that are `wanted`.
pub(super) fn tiled(
    tables: &Tables,
    stock: usize,
    part: usize,
    wanted: &[u32],
    random: &mut Pcg64Mcg,
    watch: &Watch,
    work: &mut Work,
) -> Vec<Sheet> {
    if !COPIES.contains(&wanted[part]) || tables.catalogue.poses(part, stock).is_empty() {
        return Vec::new();
    }
    let tilings = tilings(tables, stock, part, wanted[part], watch, work);
    let sheets = tilings.iter().filter_map(|laid| {
        let mut left = wanted.to_vec();
        filled(tables, stock, part, laid, &mut left, random, watch, work)
    });
    sheets.collect()
}

/// Whether a part with more corners than its usual cover comes in so many copies that whole sheets are laid in rows.
pub(super) fn of_rough_parts(problem: &Problem) -> bool {
    let area = |p: &Part| f64::from(p.quantity) * p.outline.area();
    let all: f64 = problem.parts.iter().map(area).sum();
    let mut parts = problem.parts.iter();
    parts.any(|p| COPIES.contains(&p.quantity) && area(p) >= SHARE_IN_ROWS * all && is_rough(p))
}

/// Rows and lattices of `part` for one piece of `stock`: the rows, and the lattices of which most copies go onto it.
fn tilings(
    tables: &Tables,
    stock: usize,
    part: usize,
    copies: u32,
    watch: &Watch,
    work: &mut Work,
) -> Vec<Laid> {
    let Some(room) = room(tables, stock) else {
        return Vec::new();
    };
    let units = units(tables, part, stock);
    let mut tilings: Vec<Laid> = Vec::new();
    let mut own = work.split(work.left() / SHARE_OF_ROWS);
    let rows = least_rows(tables, &units, copies, room.y, watch, &mut own);
    work.join(&own);
    if rows.as_ref().is_none_or(|rows| rows.length > room.x) {
        // What is shortest for all copies is not always what most of them go in by.
        let area = tables.catalogue.shape(part).area;
        let most = (room.x * room.y / area.max(1e-9)) as u32;
        let mut own = work.split(work.left() / SHARE_OF_ROWS);
        let rows = fullest_rows(tables, &units, copies.min(most), room, watch, &mut own);
        work.join(&own);
        tilings.extend(rows.map(|r| r.laid(copies, room.y)));
    }
    tilings.extend(rows.map(|r| r.laid(copies, room.y)));
    let lattices = closest(tables, part, &units, watch, work);
    let mut cut: Vec<(u64, f64, Laid)> = Vec::new();
    for lattice in &lattices {
        let cutting = Cutting::new(tables, lattice, &units);
        let (most, off) = cutting.fullest(room, watch, work);
        if most == 0 {
            continue;
        }
        let wanted = u64::from(copies);
        // Where there is room for all, in as little length as can be.
        let shortest = (most >= wanted)
            .then(|| cutting.shortest(wanted, room.y, room.x, watch, work))
            .flatten();
        let (length, off) = shortest.unwrap_or((room.x, off));
        let laid = cutting.laid(off, Vec2::new(length, room.y));
        cut.push((most.min(wanted), length, laid));
    }
    cut.sort_by(|a, b| b.0.cmp(&a.0).then(a.1.total_cmp(&b.1)));
    tilings.extend(cut.into_iter().take(FILLED_UP).map(|(.., laid)| laid));
    tilings
}

/// Size of the room of `stock`; `None` unless it has one field.
fn room(tables: &Tables, stock: usize) -> Option<Vec2> {
    let mut fields = tables.fields_of(stock);
    let (Some(field), None) = (fields.next(), fields.next()) else {
        return None;
    };
    let room = tables.fields[field].room();
    let size = room.max - room.min;
    (size.x > 0.0 && size.y > 0.0).then_some(size)
}

/// The part of most area among those that come in many copies, where it may lie on `stock` at all.
fn dominating(tables: &Tables, stock: usize) -> Option<usize> {
    let parts = tables.problem.parts.iter().enumerate();
    let many = parts.filter(|(i, p)| {
        COPIES.contains(&p.quantity) && !tables.catalogue.poses(*i, stock).is_empty()
    });
    let most = many.max_by(|a, b| {
        let area = |p: &Part| f64::from(p.quantity) * p.outline.area();
        area(a.1).total_cmp(&area(b.1)).then(b.0.cmp(&a.0))
    });
    most.map(|(i, _)| i)
}

/// The rows by which so many copies take the least length in a room of this height.
fn least_rows<'u>(
    tables: &Tables,
    units: &'u [Unit],
    copies: u32,
    height: f64,
    watch: &Watch,
    work: &mut Work,
) -> Option<Rows<'u>> {
    let mut best: Option<Rows> = None;
    for (i, unit) in units.iter().enumerate() {
        let mut of_unit = work.split(work.left() / (units.len() - i) as u64);
        shortest(tables, unit, copies, height, &mut best, watch, &mut of_unit);
        work.join(&of_unit);
    }
    best
}

/// The rows by which most copies, so many at most, go into a room of this size.
fn fullest_rows<'u>(
    tables: &Tables,
    units: &'u [Unit],
    most: u32,
    room: Vec2,
    watch: &Watch,
    work: &mut Work,
) -> Option<Rows<'u>> {
    let (mut low, mut high) = (0, most);
    let mut best = None;
    // More copies are never shorter: the first try is all of them, the others halve what is left.
    let mut copies = most;
    for _ in 0..ROWS_TRIALS {
        if low >= high {
            break;
        }
        let mut own = work.split(work.left() / SHARE_OF_TRIAL);
        let rows = least_rows(tables, units, copies, room.y, watch, &mut own);
        work.join(&own);
        match rows.filter(|rows| rows.length <= room.x + CONTACT) {
            Some(rows) => {
                best = Some(rows);
                low = copies;
            }
            None => high = copies - 1,
        }
        copies = low + (high - low).div_ceil(2);
    }
    best
}

/// `stock` with the copies that are `left` of `part` laid so as far as they go, and then all else that goes in; takes off what
/// it lays.
#[expect(
    clippy::too_many_arguments,
    reason = "what a filling is given, and what it takes from"
)]
fn filled(
    tables: &Tables,
    stock: usize,
    part: usize,
    laid: &Laid,
    left: &mut [u32],
    random: &mut Pcg64Mcg,
    watch: &Watch,
    work: &mut Work,
) -> Option<Sheet> {
    let field = tables.fields_of(stock).next()?;
    let room = tables.fields[field].room();
    let most = left[part] as usize;
    // Few poses come up, again and again.
    let mut fits: Vec<(usize, Option<Arc<Fit>>)> = Vec::new();
    let mut lying = |by: Vec2, walls: bool| {
        let mut items: Vec<(usize, Item)> = Vec::new();
        for (pose, to) in laid {
            if items.len() >= most {
                break;
            }
            let known = fits.iter().position(|(turned, _)| *turned == pose.turned);
            let index = known.unwrap_or_else(|| {
                fits.push((pose.turned, tables.fit(field, pose.turned)));
                fits.len() - 1
            });
            let (at, pose) = (room.min + *to + by, *pose);
            // Rows may be longer than the stock, and lie where there is a void.
            let free = |fit: &Fit| {
                holds(&fit.range.grown(CONTACT), at) && (!walls || fit.walls.depth(at) <= CONTACT)
            };
            if fits[index].1.as_deref().is_some_and(free) {
                items.push((field, Item { part, pose, at }));
            }
        }
        items
    };
    let here = Vec2::default();
    let mut items = lying(here, true);
    let in_range = lying(here, false);
    if items.len() < in_range.len() {
        for by in moves(tables, &in_range, &room) {
            let moved = lying(by, true);
            if moved.len() > items.len() {
                items = moved;
            }
        }
    }
    // What was read from borders errs by rounding.
    if !is_sound(tables, &mut items, CONTACT) {
        return None;
    }
    left[part] -= items.len() as u32;
    if left.iter().all(|n| *n == 0) {
        return Some(Sheet { stock, items });
    }
    let mut filling = Filling::with(tables, stock, &items);
    let mut taste = Taste {
        pull: lengthwise(tables, stock),
        blur: 0.0,
        poses: usize::MAX,
        half_turns: false,
        hurry: order_is_long(tables),
        random,
    };
    let order = Recipe::plain(tables).order;
    filling.fill(&order, left, &mut taste, watch, work);
    Some(filling.sheet())
}

/// By how much these may be moved within the room, by some shares of their play.
fn moves(tables: &Tables, items: &[(usize, Item)], room: &Bounds) -> Vec<Vec2> {
    let bounds = items.iter().map(|(_, item)| {
        let turned = &tables.catalogue.turned[item.pose.turned];
        let far = item.at + Vec2::new(turned.width, turned.height);
        Bounds::new(item.at, far)
    });
    let Some(lying) = bounds.reduce(Bounds::union) else {
        return Vec::new();
    };
    let (from, to) = (room.min - lying.min, room.max - lying.max);
    let by = |x: f64, y: f64| Vec2::new(from.x + x * (to.x - from.x), from.y + y * (to.y - from.y));
    let shares = MOVED.iter().flat_map(|x| MOVED.map(|y| (*x, y)));
    shares.map(|(x, y)| by(x, y)).collect()
}

/// Whether nothing is nearer to anything than it may be, so much `forgiven`; sorts on the way.
pub(super) fn is_sound(tables: &Tables, items: &mut [(usize, Item)], forgiven: f64) -> bool {
    items.sort_by(|a, b| a.1.at.x.total_cmp(&b.1.at.x));
    let widest = items
        .iter()
        .map(|(_, item)| tables.catalogue.turned[item.pose.turned].width);
    let widest = widest.fold(0.0, f64::max) + 2.0 * tables.problem.gap;
    for (i, (_, a)) in items.iter().enumerate() {
        let near = items[i + 1..].iter().map(|(_, b)| b);
        for b in near.take_while(|b| b.at.x <= a.at.x + widest) {
            let nofit = tables.pair(a.pose.turned, b.pose.turned);
            if nofit.depth(Point::default() + (b.at - a.at)) > forgiven {
                return false;
            }
        }
    }
    true
}

/// Puts the rows of this unit in the place of `best` where so many copies take less length by them.
fn shortest<'u>(
    tables: &Tables,
    unit: &'u Unit,
    copies: u32,
    height: f64,
    best: &mut Option<Rows<'u>>,
    watch: &Watch,
    work: &mut Work,
) {
    if unit.height > height || watch.stopped() || work.spent() {
        return;
    }
    let Some(keep) = Keep::of(unit, tables) else {
        return;
    };
    let least = keep.reach(Vec2::new(1.0, 0.0));
    if least <= 0.0 {
        return;
    }
    let skyline = Skyline::of(&keep, work);
    let (widest, tallest) = (keep.bounds.max.x.max(-keep.bounds.min.x), keep.bounds.max.y);
    for i in 0..PITCHES {
        let pitch = least * (1.0 + f64::from(i) / f64::from(PITCHES));
        let beside = (widest / pitch).ceil() as i32 + 1;
        for j in 0..SHIFTS {
            if watch.stopped() || work.spent() {
                return;
            }
            let shift = pitch * f64::from(j) / f64::from(SHIFTS);
            let (mut rise, mut up) = (0.0_f64, 1);
            // As far up as a row may still touch.
            while up <= ROWS_UP && f64::from(up) * rise < tallest {
                let moved = (f64::from(up) * shift).rem_euclid(pitch);
                let tops = (-beside..=beside).map(|k| skyline.top(moved + f64::from(k) * pitch));
                rise = rise.max(tops.fold(0.0, f64::max) / f64::from(up));
                up += 1;
            }
            work.add(1 + (u64::from(up) * 2 * beside as u64) / 16);
            // Rows that lie within each other are beyond what was looked at.
            if rise * f64::from(ROWS_UP + 1) < tallest {
                continue;
            }
            let mut rows = Rows {
                unit,
                pitch,
                shift,
                rise,
                length: 0.0,
            };
            let beaten = |length: f64| best.as_ref().is_some_and(|b| length >= b.length);
            if beaten(rows.least_length(copies, height)) {
                continue;
            }
            let starts = rows.starts(copies, height);
            work.add(1 + starts.len() as u64 / 4);
            rows.length = rows.length_from(&starts, copies);
            if !beaten(rows.length) {
                *best = Some(rows);
            }
        }
    }
}

impl Rows<'_> {
    /// Units of so many copies.
    fn units(&self, copies: u32) -> usize {
        (copies as usize).div_ceil(self.unit.copies.len())
    }

    /// Rows that go into a room of this height.
    fn count(&self, copies: u32, height: f64) -> usize {
        let spare = height - self.unit.height;
        let above = (spare / self.rise + ROUNDING) as usize;
        above.min(self.units(copies).saturating_sub(1)) + 1
    }

    /// Length that they take at least, whatever their shift.
    fn least_length(&self, copies: u32, height: f64) -> f64 {
        let longest = self.units(copies).div_ceil(self.count(copies, height));
        longest.saturating_sub(1) as f64 * self.pitch + self.unit.width
    }

    /// Where rows begin, those furthest left first.
    fn starts(&self, copies: u32, height: f64) -> Vec<Vec2> {
        let spare = height - self.unit.height;
        let mut starts: Vec<Vec2> = (0..self.count(copies, height))
            .map(|row| {
                let moved = row as f64 * self.shift / self.pitch + ROUNDING;
                let x = (moved.fract() - ROUNDING).max(0.0) * self.pitch;
                Vec2::new(x, (row as f64 * self.rise).min(spare))
            })
            .collect();
        starts.sort_by(|a, b| a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y)));
        starts
    }

    /// Where the unit of that index lies, those furthest left first.
    fn place(&self, starts: &[Vec2], index: usize) -> Vec2 {
        let on = (index / starts.len()) as f64;
        starts[index % starts.len()] + Vec2::new(on * self.pitch, 0.0)
    }

    /// Length that so many copies take.
    fn length_from(&self, starts: &[Vec2], copies: u32) -> f64 {
        let units = self.units(copies);
        // The last unit of each row is among the last ones of all.
        let last = units.saturating_sub(starts.len())..units;
        let right = last.map(|i| self.place(starts, i).x).fold(0.0, f64::max);
        right + self.unit.width
    }

    /// So many copies, those furthest left first.
    fn laid(&self, copies: u32, height: f64) -> Laid {
        let starts = self.starts(copies, height);
        let units = (0..self.units(copies)).map(|i| self.place(&starts, i));
        let copies =
            units.flat_map(|to| self.unit.copies.iter().map(move |(p, at)| (*p, to + *at)));
        copies.collect()
    }
}

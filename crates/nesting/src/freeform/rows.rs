//! Many copies of one shape in rows that are all alike: the plainest tilings, which neither free corners nor pushing come upon.
//!
//! A unit is one copy, or two that touch. Units follow each other along the strip at one pitch, and rows lie on each other, each moved on
//! by one shift. How near a unit and a row may come is read from the no-fit areas; units, pitches and shifts are tried, and
//! what is shortest for so many copies is taken.

use super::construct::{Recipe, empty, lengthwise, order_is_long};
use super::convex::CONTACT;
use super::field::Fit;
use super::fill::{Filling, Sheet, Taste};
use super::improve::SHARE_IN_ROWS;
use super::nesting::{Nesting, Worth};
use super::nofit::{NoFit, holds};
use super::region::Item;
use super::shape::Pose;
use super::tables::Tables;
use super::work::{Watch, Work};
use panelwright_geometry::{Point, Vec2};
use rand_pcg::Pcg64Mcg;
use std::sync::Arc;

/// Copies of a part from which on rows are tried, and beyond which they would take too long.
const COPIES: std::ops::RangeInclusive<u32> = 8..=20_000;

/// Places at which the second copy of a unit is tried, for two poses.
const PLACES: usize = 24;

/// Units of two that are gone into: those that fill most of the rectangles round them.
const UNITS: usize = 12;

/// Parts that pitch and shift are divided into, halves and thirds among them: pitches up to twice the least.
const PITCHES: u32 = 24;
const SHIFTS: u32 = 24;

/// Rows further up that a row could still touch.
const ROWS_UP: u32 = 3;

/// Poses of a part that are tried.
const POSES: usize = 4;

/// Copies that are moved together.
struct Unit {
    /// How each lies, and its lower left corner.
    copies: Vec<(Pose, Vec2)>,
    width: f64,
    height: f64,
    area: f64,
}

/// Rows of a unit.
struct Rows<'u> {
    unit: &'u Unit,
    pitch: f64,
    shift: f64,
    rise: f64,
    /// Length that they take.
    length: f64,
}

/// All parts on a strip, those that come in many copies and have most area laid in rows; `None` where there is nothing to lay so or
/// not all go in.
pub(super) fn in_rows(tables: &Tables, random: &mut Pcg64Mcg, watch: &Watch) -> Option<Sheet> {
    let mut left: Vec<u32> = tables.problem.parts.iter().map(|p| p.quantity).collect();
    let part = dominating(tables, 0)?;
    let units = units(tables, part, 0);
    let rows = least_rows(tables, 0, &units, left[part], watch)?;
    let sheet = filled(tables, 0, part, &rows, &mut left, random, watch)?;
    left.iter().all(|n| *n == 0).then_some(sheet)
}

/// Sheets of `stock` with the part that dominates the order in rows, and what else goes onto them, until no copy of it is left;
/// `None` where it does not lie in rows there.
pub(super) fn sheets_in_rows(
    tables: &Tables,
    stock: usize,
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
    let units = units(tables, part, stock);
    let rows = least_rows(tables, stock, &units, nesting.missing[part], watch)?;
    let supply = tables.problem.stock[stock].supply;
    while nesting.missing[part] > 0 && nesting.supplies_left(tables)[supply] != Some(0) {
        let before = nesting.missing[part];
        let missing = &mut nesting.missing;
        let sheet = filled(tables, stock, part, &rows, missing, random, watch)?;
        if nesting.missing[part] == before || watch.stopped() {
            return None;
        }
        let worth = Worth::of(&sheet, tables, work);
        nesting.sheets.push((sheet, worth));
    }
    Some(nesting)
}

/// The part of most area among those that come in many copies, where it may lie on `stock` at all.
fn dominating(tables: &Tables, stock: usize) -> Option<usize> {
    let parts = tables.problem.parts.iter().enumerate();
    let many = parts.filter(|(i, p)| {
        COPIES.contains(&p.quantity) && !tables.catalogue.poses(*i, stock).is_empty()
    });
    let most = many.max_by(|a, b| {
        let area = |p: &crate::Part| f64::from(p.quantity) * p.outline.area();
        area(a.1).total_cmp(&area(b.1)).then(b.0.cmp(&a.0))
    });
    most.map(|(i, _)| i)
}

/// The rows by which so many copies take the least length along `stock`, which has one field.
fn least_rows<'u>(
    tables: &Tables,
    stock: usize,
    units: &'u [Unit],
    copies: u32,
    watch: &Watch,
) -> Option<Rows<'u>> {
    let mut fields = tables.fields_of(stock);
    let (Some(field), None) = (fields.next(), fields.next()) else {
        return None;
    };
    let width = tables.fields[field].room().height();
    let mut best: Option<Rows> = None;
    for unit in units {
        if watch.stopped() {
            return None;
        }
        if let Some(rows) = shortest(tables, unit, copies, width)
            && best.as_ref().is_none_or(|b| rows.length < b.length)
        {
            best = Some(rows);
        }
    }
    best
}

/// `stock` with the copies that are `left` of `part` in these rows as far as they go, and then all else that goes in; takes off what
/// it lays.
fn filled(
    tables: &Tables,
    stock: usize,
    part: usize,
    rows: &Rows,
    left: &mut [u32],
    random: &mut Pcg64Mcg,
    watch: &Watch,
) -> Option<Sheet> {
    let field = tables.fields_of(stock).next()?;
    let room = tables.fields[field].room();
    let mut items: Vec<(usize, Item)> = Vec::new();
    let mut fits: Vec<Option<Arc<Fit>>> = Vec::new();
    fits.extend(
        rows.unit
            .copies
            .iter()
            .map(|(p, _)| tables.fit(field, p.turned)),
    );
    for unit in places(rows, left[part], room.height()) {
        for ((pose, off), fit) in rows.unit.copies.iter().zip(&fits) {
            let (at, pose) = (room.min + unit + *off, *pose);
            // Rows may be longer than the stock, and lie where there is a void.
            let free =
                |fit: &Fit| holds(&fit.range.grown(CONTACT), at) && fit.walls.depth(at) <= CONTACT;
            if fit.as_deref().is_some_and(free) && items.len() < left[part] as usize {
                items.push((field, Item { part, pose, at }));
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
    let mut work = Work::of_steps(u64::MAX);
    let order = Recipe::plain(tables).order;
    filling.fill(&order, left, &mut taste, watch, &mut work);
    Some(filling.sheet())
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

/// Single copies, and pairs that touch.
fn units(tables: &Tables, part: usize, stock: usize) -> Vec<Unit> {
    let poses = tables.catalogue.poses(part, stock);
    let poses = &poses[..poses.len().min(POSES)];
    let unit = |copies: &[(Pose, Vec2)]| {
        let size = |(pose, at): &(Pose, Vec2)| {
            let turned = &tables.catalogue.turned[pose.turned];
            (at.x, at.y, at.x + turned.width, at.y + turned.height)
        };
        let all = copies.iter().map(size);
        let (left, low, right, top) = all
            .reduce(|a, b| (a.0.min(b.0), a.1.min(b.1), a.2.max(b.2), a.3.max(b.3)))
            .unwrap_or_default();
        let to = Vec2::new(-left, -low);
        Unit {
            copies: copies.iter().map(|(pose, at)| (*pose, *at + to)).collect(),
            width: right - left,
            height: top - low,
            area: (right - left) * (top - low),
        }
    };
    let origin = Vec2::default();
    let mut units: Vec<Unit> = poses.iter().map(|p| unit(&[(*p, origin)])).collect();
    let mut pairs: Vec<Unit> = Vec::new();
    for (i, first) in poses.iter().enumerate() {
        for second in &poses[i..] {
            let border = &tables.pair(first.turned, second.turned).border;
            // At a corner one touches the other in a point; half way along an edge two like edges lie along each other.
            let places = border.iter().flat_map(|e| [e.from, e.from + e.along * 0.5]);
            let every = (2 * border.len()).div_ceil(PLACES).max(1);
            let places = places.step_by(every).map(Point::to_vec);
            pairs.extend(places.map(|at| unit(&[(*first, origin), (*second, at)])));
        }
    }
    pairs.sort_by(|a, b| a.area.total_cmp(&b.area));
    pairs.truncate(UNITS);
    units.append(&mut pairs);
    units
}

/// The pitch, shift and rise by which so many copies take the least length on a strip of this width.
fn shortest<'u>(tables: &Tables, unit: &'u Unit, copies: u32, width: f64) -> Option<Rows<'u>> {
    if unit.height > width {
        return None;
    }
    // How every copy of a unit keeps every copy of another one away.
    let mut pairs: Vec<(Arc<NoFit>, Vec2)> = Vec::new();
    for (fixed, at) in &unit.copies {
        for (moving, to) in &unit.copies {
            pairs.push((tables.pair(fixed.turned, moving.turned), *to - *at));
        }
    }
    let right = |off: f64| {
        let ends = pairs.iter().map(|(nofit, by)| {
            furthest(nofit, Vec2::new(0.0, off + by.y), Vec2::new(1.0, 0.0)) - by.x
        });
        ends.fold(f64::NEG_INFINITY, f64::max)
    };
    let top = |off: f64| {
        let ends = pairs.iter().map(|(nofit, by)| {
            furthest(nofit, Vec2::new(off + by.x, 0.0), Vec2::new(0.0, 1.0)) - by.y
        });
        ends.fold(f64::NEG_INFINITY, f64::max)
    };
    let least = right(0.0).max(0.0);
    if least <= 0.0 {
        return None;
    }
    // How far off units still matter to each other.
    let (mut widest, mut tallest): (f64, f64) = (0.0, 0.0);
    for (nofit, by) in &pairs {
        if let Some(b) = nofit.bounds {
            widest = widest.max(b.max.x - by.x).max(by.x - b.min.x);
            tallest = tallest.max(b.max.y - by.y);
        }
    }
    let mut best: Option<Rows> = None;
    for i in 0..PITCHES {
        let pitch = least * (1.0 + f64::from(i) / f64::from(PITCHES));
        let beside = (widest / pitch).ceil() as i32 + 1;
        for j in 0..SHIFTS {
            let shift = pitch * f64::from(j) / f64::from(SHIFTS);
            let mut rise: f64 = 0.0;
            for up in 1..=ROWS_UP {
                let moved = (f64::from(up) * shift).rem_euclid(pitch);
                let tops = (-beside..=beside).map(|k| top(moved + f64::from(k) * pitch));
                rise = rise.max(tops.fold(0.0, f64::max) / f64::from(up));
            }
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
            let furthest = places(&rows, copies, width)
                .map(|p| p.x)
                .fold(0.0, f64::max);
            rows.length = furthest + unit.width;
            if best.as_ref().is_none_or(|b| rows.length < b.length) {
                best = Some(rows);
            }
        }
    }
    best
}

/// Where the units of so many copies lie, those furthest left first.
fn places(rows: &Rows, copies: u32, width: f64) -> impl Iterator<Item = Vec2> {
    /// Shares of a rise or pitch that are rounding.
    const ROUNDING: f64 = 1e-9;
    let units = (copies as usize).div_ceil(rows.unit.copies.len());
    let spare = width - rows.unit.height;
    let count = ((spare / rows.rise + ROUNDING) as usize).min(units.saturating_sub(1)) + 1;
    let mut starts: Vec<Vec2> = (0..count)
        .map(|row| {
            let moved = row as f64 * rows.shift / rows.pitch + ROUNDING;
            let x = (moved.fract() - ROUNDING).max(0.0) * rows.pitch;
            Vec2::new(x, (row as f64 * rows.rise).min(spare))
        })
        .collect();
    starts.sort_by(|a, b| a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y)));
    let pitch = rows.pitch;
    (0..units).map(move |i| {
        let on = (i / starts.len()) as f64;
        starts[i % starts.len()] + Vec2::new(on * pitch, 0.0)
    })
}

/// How far along the line through `at` the areas reach; nowhere is as far as it goes the other way.
fn furthest(nofit: &NoFit, at: Vec2, along: Vec2) -> f64 {
    let Some(bounds) = nofit.bounds else {
        return f64::NEG_INFINITY;
    };
    let far = 1.0
        + bounds
            .min
            .to_vec()
            .length()
            .max(bounds.max.to_vec().length());
    let from = Point::default() + at - along * far;
    let mut taken = Vec::new();
    nofit.take(from, along * (2.0 * far), &mut taken);
    let ends = taken
        .iter()
        .map(|s| 2.0 * far * (s.end + s.end_slack) - far);
    ends.fold(f64::NEG_INFINITY, f64::max)
}

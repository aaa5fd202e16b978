//! Proven bounds, for a result to be read against: when it meets them, more searching is idle.
//!
//! All rest on one argument (see [`room`]): every copy keeps an area to itself that no other copy on
//! the same piece of stock has a share in, and all these areas lie within an area known beforehand.
//! Window cut-outs count either as room or as holding no more than they can (see [`windows`]). Large parts that exclude
//! each other, and parts that fit no remnant, are told by their true outlines (see [`exclusion`], [`ground`]). What
//! few small copies can fill of all windows and gaps together is told by prices (see [`prices`]).
//! Whatever is rounded or flattened errs to the side that weakens the bound.

mod cover;
mod dual;
mod exclusion;
mod fit;
mod ground;
mod knapsack;
mod prices;
mod room;
mod simplex;
mod solid;
mod strip;
mod windows;

pub(crate) use strip::strip_floor;

use crate::guillotine::floor::{Rectangle, pattern_floor};
use crate::offcut::can_keep;
use crate::{Method, Problem, Stock};
use cover::Effort;
use fit::Shape;
use ground::Ground;
use knapsack::{Item, Supply, least_cost, most_value, most_value_in_parts};
use panelwright_geometry::Ring;
use prices::Limit;
use room::Cutouts;
use solid::Solid;
use windows::Windows;

/// Most slopes tried for the share of the spend that goes with area; there are as many as different
/// offcut values among the stock.
const MOST_SLOPES: usize = 16;

/// Sizes above which parts are counted alone, as if the smaller ones all lay in windows. More say
/// little that these do not.
const MOST_SIZES: usize = 6;
/// Given away of the gap between a window's edge and a kept offcut, in millimetres: chords and rounding.
const EDGE_SLACK: f64 = 0.05;
/// Steps for the bound by patterns: a fraction of a second, so that a report does not wait for it.
const ON_PATTERNS: u64 = 400_000;

/// A yield that no layout of the problem's parts on the stock with index `stock` can beat: part area
/// over the area of the stock's outline.
///
/// # Proof
/// The copies on one piece keep areas to themselves that fit together into its room, so their part
/// area is no more than that of the most valuable choice of copies whose areas fit by their sum
/// alone: a knapsack, with each part's quantity as its limit. Dual feasible functions of the sides take
/// the place of areas too, and large parts that exclude each other are counted. Parts whose good faces, grain or outline rule the stock out are
/// left aside. Each way to count gives a bound and the lowest one stands.
///
/// # Panics
/// When `stock` is no index into the problem's stock.
#[must_use]
pub fn yield_ceiling(problem: &Problem, stock: usize) -> f64 {
    ceiling(&Parts::new(problem), stock)
}

/// [`yield_ceiling`] of every kind of stock; measures the parts once.
#[must_use]
pub fn yield_ceilings(problem: &Problem) -> Vec<f64> {
    let parts = Parts::new(problem);
    let ceiling = |stock| ceiling(&parts, stock);
    (0..problem.stock.len()).map(ceiling).collect()
}

fn ceiling(parts: &Parts, stock: usize) -> f64 {
    let most = Room::of(parts, stock).most(&parts.areas());
    (most / parts.problem.stock[stock].outline.area()).clamp(0.0, 1.0)
}

/// The parts of a problem with what a copy of each counts, by several measures.
struct Parts<'a> {
    problem: &'a Problem,
    shapes: Vec<Shape<'a>>,
    /// What each surely fills, by angle; nothing for a saw.
    solids: Vec<Vec<Solid>>,
    /// The areas of each kind of stock.
    grounds: Vec<Vec<Ground>>,
    /// Area a copy keeps to itself, windows being room.
    open: Vec<f64>,
    /// Counts of the outermost copies and what follows for all.
    outermost: Vec<Outermost>,
    /// Area a copy keeps from others and from kept offcuts, told in several ways.
    lost: Vec<Vec<f64>>,
    windows: Windows,
}

/// A count of the copies that lie in no window.
struct Outermost {
    /// What a copy counts when it lies in no window.
    outside: Vec<f64>,
    /// What a copy counts for all copies together.
    each: Vec<f64>,
    /// Most that copies on one piece count, by stock (see [`dual`] and [`exclusion`]); `None` for areas, which the
    /// room limits.
    most: Option<Vec<f64>>,
}

impl<'a> Parts<'a> {
    fn new(problem: &'a Problem) -> Self {
        let shapes: Vec<Shape> = problem.parts.iter().map(Shape::new).collect();
        let listed: Vec<&Shape> = shapes.iter().collect();
        let half_gap = 0.5 * problem.gap;
        let open = |shape: &Shape| {
            let holds = |hole: &Ring| room::can_hold(problem, hole);
            let kept = room::material(problem, shape, half_gap, holds);
            // Holes that can take no part may still take a void of the stock.
            let holes = shape.part.outline.holes.iter().filter(|h| !holds(h));
            let closed: f64 = match problem.method {
                Method::Guillotine(_) => 0.0,
                Method::FreeForm => holes.map(Ring::area).sum(),
            };
            (kept - closed).max(shape.part.outline.area())
        };
        let open: Vec<f64> = shapes.iter().map(open).collect();
        let filled: Vec<f64> = shapes.iter().map(|s| room::filled(problem, s)).collect();
        let windows = Windows::new(problem, &listed, &filled, |w, upright| {
            yields_offcut(problem, w, upright)
        });
        let mut counts = vec![filled.clone()];
        // Alone with the larger parts, as if all smaller ones were set in somewhere.
        let mut sizes: Vec<f64> = windows.set_in().iter().map(|p| filled[*p]).collect();
        sizes.sort_by(f64::total_cmp);
        sizes.dedup();
        let step = sizes.len().div_ceil(MOST_SIZES).max(1);
        for size in sizes.iter().rev().step_by(step) {
            let large = |f: &f64| if f > size { *f } else { 0.0 };
            counts.push(filled.iter().map(large).collect());
        }
        let lost = lost(problem, &shapes, &counts, &windows);
        let solids = solid::solids(problem, &shapes);
        let grounds: Vec<Vec<Ground>> = match problem.method {
            Method::Guillotine(_) => Vec::new(),
            Method::FreeForm => {
                let stock = problem.stock.iter();
                stock.map(|s| Ground::of(problem, s)).collect()
            }
        };
        let areas = |s: &Stock| dual::area_count(problem, s);
        let areas: Vec<f64> = problem.stock.iter().map(areas).collect();
        let dual = dual::measures(problem, &listed).into_iter();
        let dual = dual.map(|count| (count, Some(areas.clone())));
        // Once more without what may lie in windows: it takes the place of what it is set into.
        let set_in = windows.set_in();
        let sets = exclusion::sets(problem, &solids, &grounds).into_iter();
        let sets = sets.flat_map(|set| {
            let mut outside = set.counts.clone();
            set_in.iter().for_each(|part| outside[*part] = 0.0);
            let fewer = (outside != set.counts).then(|| (outside, Some(set.most.clone())));
            std::iter::once((set.counts, Some(set.most))).chain(fewer)
        });
        let outermost = counts
            .into_iter()
            .map(|count| (count, None))
            .chain(dual)
            .chain(sets)
            .map(|(outside, most)| Outermost {
                each: windows.counted(&outside),
                outside,
                most,
            })
            .collect();
        Self {
            problem,
            shapes,
            solids,
            grounds,
            open,
            outermost,
            lost,
            windows,
        }
    }

    fn areas(&self) -> Vec<f64> {
        let area = |s: &Shape| s.part.outline.area();
        self.shapes.iter().map(area).collect()
    }

    fn quantity(&self, part: usize) -> f64 {
        f64::from(self.shapes[part].part.quantity)
    }
}

/// Least area that a copy keeps both from other copies and from kept offcuts, by part; each of the ways
/// makes a bound. `counts` are areas of outermost copies.
///
/// # Proof
/// Grown by half the gap, but no more than the margin, copies do not overlap, lie within the stock's
/// outer ring, and keep clear of kept offcuts, which are a whole gap away. What of a copy's windows is not
/// lost is either kept, or taken by copies in it: where no offcut can lie, these take no more than the
/// window can hold, by the argument of [`windows`]; elsewhere all of the window counts as not lost.
fn lost(
    problem: &Problem,
    shapes: &[Shape],
    counts: &[Vec<f64>],
    windows: &Windows,
) -> Vec<Vec<f64>> {
    let scrap_pays = problem.stock.iter().any(|s| rates(s).1 < 0.0);
    if matches!(problem.method, Method::Guillotine(_)) || scrap_pays {
        // Scrap is what is neither part nor kept: where it pays, the area round parts is not lost.
        return vec![shapes.iter().map(|s| s.part.outline.area()).collect()];
    }
    let half_gap = 0.5 * problem.gap;
    let margin = problem.least_margin();
    if margin >= half_gap {
        return counts.iter().map(|c| windows.lost(c)).collect();
    }
    let open = |hole: &Ring| yields_offcut(problem, hole, false) || room::can_hold(problem, hole);
    let material = |shape| room::material(problem, shape, margin, open);
    vec![shapes.iter().map(material).collect()]
}

/// Whether a kept offcut may come out of a window, `upright` when it is so at all its part's angles; never wrong
/// when it says no.
fn yields_offcut(problem: &Problem, window: &Ring, upright: bool) -> bool {
    let b = window.bounds();
    let diagonal = b.width().hypot(b.height());
    // A whole gap away from the edge; only upright rectangles are looked for.
    let less = if upright {
        2.0 * (problem.gap - EDGE_SLACK).max(0.0)
    } else {
        0.0
    };
    let (width, height) = (b.width() - less, b.height() - less);
    problem.stock.iter().any(|stock| {
        let rule = &stock.keep;
        can_keep(stock)
            && (!upright || rule.passes(width, height))
            && rule.least_rectangles().any(|[width, length]| {
                width * length <= window.area() && width.hypot(length) <= diagonal
            })
    })
}

/// Room on one piece of stock.
struct Room<'a> {
    parts: &'a Parts<'a>,
    /// Parts that may lie on it.
    may: Vec<usize>,
    /// Area, windows being room; and area for the outermost copies.
    open: f64,
    filled: f64,
    /// What outermost copies share, parts by place in `may`.
    limits: Vec<Limit>,
    /// Index of the stock.
    stock: usize,
}

impl<'a> Room<'a> {
    fn of(parts: &'a Parts<'a>, index: usize) -> Self {
        let problem = parts.problem;
        let stock = &problem.stock[index];
        let mut effort = Effort::new(Effort::PLENTY / problem.stock.len() as u64);
        let mut may_lie = |part: usize| {
            let shape = &parts.shapes[part];
            let grounds = parts.grounds.get(index);
            fit::may_fit(problem, shape, stock)
                && grounds.is_none_or(|g| {
                    ground::may_lie(g, &parts.solids[part], shape.part, stock, &mut effort)
                })
        };
        let may: Vec<usize> = (0..parts.shapes.len()).filter(|p| may_lie(*p)).collect();
        let filled = room::room(problem, stock, Cutouts::Filled);
        let takes = may.iter().map(|p| parts.outermost[0].outside[*p]).collect();
        let mut limits = vec![Limit {
            takes,
            room: filled,
        }];
        limits.extend(dual::limits(problem, &parts.shapes, &may, stock));
        with_halves(&mut limits);
        Self {
            open: room::room(problem, stock, Cutouts::Open),
            may,
            filled,
            limits,
            stock: index,
            parts,
        }
    }

    fn items(&self, takes: &[f64], worth: &[f64]) -> Vec<Item> {
        let item = |p: &usize| Item {
            takes: takes[*p],
            brings: worth[*p],
            quantity: self.parts.shapes[*p].part.quantity,
        };
        self.may.iter().map(item).collect()
    }

    /// Most of what `worth` counts that copies on the piece can have together.
    fn most(&self, worth: &[f64]) -> f64 {
        let mut least = most_value(&self.items(&self.parts.open, worth), self.open);
        for count in &self.parts.outermost {
            let room = count.most.as_ref().map_or(self.filled, |m| m[self.stock]);
            if !room.is_finite() {
                continue;
            }
            let items = self.items(&count.each, worth);
            // The quick bound tells most of those that say nothing new.
            if most_value_in_parts(&items, room) < least {
                least = least.min(most_value(&items, room));
            }
        }
        least
    }

    /// Most that copies on the piece count.
    fn most_counted(&self, count: &Outermost) -> f64 {
        let by_limit = self.limits.iter().map(|limit| {
            let items = self.may.iter().zip(&limit.takes).map(|(p, takes)| Item {
                takes: *takes,
                brings: count.outside[*p],
                quantity: self.parts.shapes[*p].part.quantity,
            });
            most_value(&items.collect::<Vec<_>>(), limit.room)
        });
        let most = by_limit.fold(f64::INFINITY, f64::min);
        let limit = count.most.as_ref().map(|m| m[self.stock]);
        limit.map_or(most, |limit| most.min(limit))
    }
}

/// Adds to limits, of which the first one is of area, the sums of that one and of each other, as shares: what keeps
/// to two limits takes at most twice as much of both together.
fn with_halves(limits: &mut Vec<Limit>) {
    let Some((area, others)) = limits.split_first() else {
        return;
    };
    if area.room <= 0.0 {
        return;
    }
    let both = |other: &Limit| Limit {
        takes: area
            .takes
            .iter()
            .zip(&other.takes)
            .map(|(a, b)| a / area.room + b / other.room)
            .collect(),
        room: 2.0,
    };
    let sums: Vec<Limit> = others.iter().map(both).collect();
    limits.extend(sums);
}

/// One kind of stock, as far as the bound needs it.
struct Kind<'a> {
    stock: &'a Stock,
    /// Its index.
    index: usize,
    /// Whether each part may lie on it.
    may: Vec<bool>,
    /// Area within its outer ring: what parts keep to themselves and kept offcuts share it.
    reach: f64,
    /// Most area lost to parts (see [`lost`]) on one piece, by way.
    most_lost: Vec<f64>,
    /// Most that one piece holds, by measure.
    holds: Vec<f64>,
}

impl Kind<'_> {
    /// The least that a layout can cost whose parts keep `lost` to themselves: the stock, less the best
    /// that keeping all of the rest could bring, plus scrap.
    fn spend_with(&self, lost: f64) -> f64 {
        let keep = &self.stock.keep;
        let (value, scrap) = rates(self.stock);
        let handling = handling(self.stock);
        let rest = (self.reach - lost).max(0.0);
        let kept = if can_keep(self.stock) && rest >= keep.least().1 {
            // All of it, unless scrap pays and more keeping no longer brings value.
            let all = if scrap < 0.0 && value > 0.0 {
                rest.min((self.stock.cost + handling) / value)
            } else {
                rest
            };
            let worth = (value * all - handling)
                .max(0.0)
                .min(self.stock.cost.max(0.0));
            (worth + scrap * all).max(0.0)
        } else {
            0.0
        };
        let area = self.stock.outline.area();
        self.stock.cost + scrap * (area - lost).max(0.0) - kept
    }

    /// The least of spend less `slope` times the area lost, told in this way, over all layouts.
    ///
    /// The spend is made of straight pieces over the area lost, so its least is at an end of one.
    fn least_above(&self, slope: f64, way: usize) -> f64 {
        let most_lost = self.most_lost[way];
        let keep = &self.stock.keep;
        let (value, scrap) = rates(self.stock);
        let handling = handling(self.stock);
        let ends = [
            0.0,
            most_lost,
            self.stock.outline.area(),
            self.reach - keep.least().1,
            self.reach - handling / value,
            self.reach - handling / (value + scrap),
            self.reach - (self.stock.cost + handling) / value,
        ];
        ends.into_iter()
            .filter(|a| a.is_finite())
            .map(|a| a.clamp(0.0, most_lost))
            .map(|a| self.spend_with(a) - slope * a)
            .fold(f64::INFINITY, f64::min)
    }
}

/// Value and scrap cost per area; what is no number counts as nothing.
fn rates(stock: &Stock) -> (f64, f64) {
    let number = |v: f64| if v.is_finite() { v } else { 0.0 };
    (
        number(stock.keep.value_per_area),
        number(stock.keep.scrap_cost_per_area),
    )
}

/// What handling a kept piece costs; what is no number counts as nothing.
fn handling(stock: &Stock) -> f64 {
    let handling = stock.keep.handling;
    if handling.is_finite() {
        handling.max(0.0)
    } else {
        0.0
    }
}

/// A spend that no nest can beat that places every part which surely fits some stock.
///
/// Parts that may fit nowhere are not counted. When there is too little stock for the rest, the bound
/// is for using all of it; a nest that leaves parts out may then cost less.
///
/// # Proof
/// Let the parts of a layout on stock s keep the area u from others and from kept offcuts. Its spend is
/// at least f_s(u): the price, less what keeping all the rest in one piece could bring under the keep rule,
/// plus scrap. For any slope b of at least 0, f_s(u) >= b u + a_s with a_s the least of f_s(u) - b u.
/// Summed over a nest that is b times u of all parts plus a_s for every piece taken. The pieces taken must
/// hold all parts by every measure (area kept to itself, number of copies, dual feasible functions of the
/// sides, number of copies out of a set of parts that exclude each other), where one piece holds no more than a knapsack says; the cheapest whole pieces that do so are found
/// by branch and bound. Parts that fit some
/// supplies only must be held by those alone, and such demands on supplies that are not shared add
/// up. Pieces with pinned parts are taken in any case, with what they hold. The largest of the bounds over
/// several slopes, measures and sets of supplies is returned.
///
/// A second bound shares copies out among all pieces of stock and all windows at once (see `prices.rs`); what
/// it finds outermost copies to be worth is one more measure of the first. For a saw another one is worked out from all patterns that could be sawn (see
/// [`crate::guillotine`]), where a fraction of a second suffices. The largest one stands.
///
/// # Panics
/// When an outline has no points, which [`Problem::check`] rules out.
#[must_use]
pub fn least_spend(problem: &Problem) -> f64 {
    least_spend_within(problem, ON_PATTERNS)
}

/// [`least_spend`] with so many steps, of about a microsecond, for the bound by patterns.
pub(crate) fn least_spend_within(problem: &Problem, steps: u64) -> f64 {
    let parts = Parts::new(problem);
    let all = 0..parts.shapes.len();
    let copies: f64 = all.clone().map(|p| parts.quantity(p)).sum();
    let pieces: Vec<f64> = problem
        .supplies
        .iter()
        // A piece is taken for at least one copy.
        .map(|s| s.map_or(copies, |n| f64::from(n).min(copies)))
        .collect();
    let there = |stock: &&Stock| pieces.get(stock.supply).is_some_and(|n| *n > 0.0);
    let shapes = parts.shapes.iter();
    let counted: Vec<bool> = shapes.map(|s| surely_fits(problem, s)).collect();
    let offered: Vec<usize> = (0..problem.stock.len())
        .filter(|s| there(&&problem.stock[*s]))
        .collect();
    let limited = problem.supplies.iter().zip(&pieces);
    let limited: Vec<Option<f64>> = limited.map(|(s, n)| s.map(|_| *n)).collect();
    let rooms: Vec<Room> = offered.iter().map(|s| Room::of(&parts, *s)).collect();
    let priced = match problem.method {
        Method::Guillotine(_) => None,
        Method::FreeForm => prices::prices(&parts, &rooms, &counted, &limited),
    };
    let mut by_prices = f64::NEG_INFINITY;
    // Where there is too little stock the bound is for using all of it.
    let all_stock: f64 = problem
        .supplies
        .iter()
        .zip(&pieces)
        .enumerate()
        .map(|(j, (limit, n))| {
            let mine = offered
                .iter()
                .map(|s| &problem.stock[*s])
                .filter(|s| s.supply == j);
            let dearest = mine.map(|s| s.cost).fold(0.0, f64::max);
            limit.map_or(f64::INFINITY, |_| n * dearest)
        })
        .sum();
    let above_area = priced.map(|priced| {
        by_prices = priced.floor.min(all_stock);
        Outermost {
            each: parts.windows.counted(&priced.above_area),
            outside: priced.above_area,
            most: None,
        }
    });
    let measures = measures(&parts, &counted, above_area.as_ref());
    let kinds: Vec<Kind> = rooms.iter().map(|r| kind(&parts, &measures, r)).collect();
    let demands = demands(&parts, &counted, &kinds, &measures, pieces.len());
    let lost = parts.lost.iter().map(|lost| -> f64 {
        let counted = all.clone().filter(|p| counted[*p]);
        counted.map(|p| lost[p] * parts.quantity(p)).sum()
    });
    let lost: Vec<f64> = lost.collect();
    let mut slopes: Vec<f64> = kinds.iter().map(|k| rates(k.stock).0).collect();
    slopes.retain(|v| *v > 0.0);
    slopes.sort_by(f64::total_cmp);
    slopes.dedup();
    slopes.truncate(MOST_SLOPES - 1);
    slopes.push(0.0);
    // At no slope all ways are the same.
    let tries = slopes.iter().flat_map(|slope| {
        let ways = if *slope > 0.0 { lost.len() } else { 1 };
        (0..ways).map(move |way| (*slope, way))
    });
    let least = tries
        .map(|(slope, way)| slope * lost[way] + cheapest(&kinds, &pieces, &demands, slope, way))
        .fold(by_prices, f64::max);
    let Method::Guillotine(rules) = &problem.method else {
        return least;
    };
    let share = steps / slopes.len() as u64;
    let by_patterns = |slope: &f64| {
        let costs: Vec<f64> = kinds.iter().map(|k| k.least_above(*slope, 0)).collect();
        // A sheet that costs nothing at this slope could be taken without end.
        if costs.iter().any(|c| *c <= 0.0) {
            return None;
        }
        let rectangles: Vec<Rectangle> = kinds
            .iter()
            .zip(&costs)
            .map(|(kind, cost)| Rectangle {
                sides: fit::sawable(kind.stock, rules),
                cost: *cost,
                stock: kind.index,
            })
            .collect();
        let floor = pattern_floor(problem, rules, &rectangles, &counted, share);
        floor.map(|f| (slope * lost[0] + f).min(all_stock))
    };
    slopes.iter().filter_map(by_patterns).fold(least, f64::max)
}

/// An area that no nest of all the parts falls below, in square millimetres: that of the stock taken less that of the offcuts kept.
///
/// Holds for nests that place every part that surely fits some stock, whatever else they place.
///
/// # Proof
/// It is the least spend where each piece of stock costs its area and a kept offcut brings back its own.
#[must_use]
pub fn least_net_area(problem: &Problem) -> f64 {
    let mut by_area = problem.clone();
    for stock in &mut by_area.stock {
        stock.cost = stock.outline.area();
        stock.keep.value_per_area = 1.0;
        stock.keep.handling = 0.0;
        stock.keep.scrap_cost_per_area = 0.0;
    }
    least_spend(&by_area)
}

/// A net yield that no nest of all the parts can beat: part area over [`least_net_area`].
///
/// Holds for nests that place every part that surely fits some stock and no other; 0 when there is none.
#[must_use]
pub fn net_yield_ceiling(problem: &Problem) -> f64 {
    let placed = problem
        .parts
        .iter()
        .filter(|p| surely_fits(problem, &Shape::new(p)));
    let area: f64 = placed
        .map(|p| p.outline.area() * f64::from(p.quantity))
        .sum();
    if area > 0.0 {
        area / least_net_area(problem).max(area)
    } else {
        0.0
    }
}

/// Whether the part surely fits on some stock that there is.
fn surely_fits(problem: &Problem, shape: &Shape) -> bool {
    let there = |stock: &&Stock| {
        let supply = problem.supplies.get(stock.supply);
        supply.is_some_and(|left| *left != Some(0))
    };
    let mut stock = problem.stock.iter().filter(there);
    stock.any(|s| fit::must_fit(problem, shape, s))
}

/// A way to count copies.
struct Measure<'a> {
    /// What a copy of each part counts; parts not counted count nothing.
    each: Vec<f64>,
    /// Where it comes from, when copies in windows count differently.
    outermost: Option<&'a Outermost>,
}

fn measures<'a>(
    parts: &'a Parts,
    counted: &[bool],
    besides: Option<&'a Outermost>,
) -> Vec<Measure<'a>> {
    let only_counted = |each: &[f64]| -> Vec<f64> {
        let each = each.iter().zip(counted);
        each.map(|(w, c)| if *c { *w } else { 0.0 }).collect()
    };
    let ones = vec![1.0; counted.len()];
    let plain = [&parts.areas(), &ones, &parts.open].map(|each| Measure {
        each: only_counted(each),
        outermost: None,
    });
    let outermost = parts.outermost.iter().chain(besides);
    let outermost = outermost.map(|count| Measure {
        each: only_counted(&count.each),
        outermost: Some(count),
    });
    plain.into_iter().chain(outermost).collect()
}

fn kind<'a>(parts: &Parts<'a>, measures: &[Measure], room: &Room) -> Kind<'a> {
    let stock = &parts.problem.stock[room.stock];
    let mut may = vec![false; parts.shapes.len()];
    for p in &room.may {
        may[*p] = true;
    }
    let whole = room::outer_area(stock);
    Kind {
        most_lost: parts
            .lost
            .iter()
            .map(|lost| room.most(lost).min(whole))
            .collect(),
        holds: measures
            .iter()
            .map(|m| match m.outermost {
                None => room.most(&m.each),
                Some(count) => room.most_counted(count),
            })
            .collect(),
        reach: whole,
        stock,
        index: room.stock,
        may,
    }
}

/// What the parts that fit within a set of supplies ask of it, by measure.
struct Demand {
    /// The set, by supply.
    on: Vec<bool>,
    /// How much is asked for, by measure.
    needs: Vec<f64>,
}

/// One demand for every set of supplies that some part is limited to, and one for all.
fn demands(
    parts: &Parts,
    counted: &[bool],
    kinds: &[Kind],
    measures: &[Measure],
    supplies: usize,
) -> Vec<Demand> {
    let limits: Vec<Vec<bool>> = (0..counted.len())
        .map(|p| {
            let mut on = vec![false; supplies];
            for kind in kinds {
                on[kind.stock.supply] |= kind.may[p];
            }
            on
        })
        .collect();
    let mut sets: Vec<Vec<bool>> = vec![vec![true; supplies]];
    for p in (0..counted.len()).filter(|p| counted[*p]) {
        if !sets.contains(&limits[p]) {
            sets.push(limits[p].clone());
        }
    }
    let within = |inner: &[bool], outer: &[bool]| inner.iter().zip(outer).all(|(i, o)| !i || *o);
    sets.into_iter()
        .map(|on| {
            let inside: Vec<usize> = (0..counted.len())
                .filter(|p| counted[*p] && within(&limits[*p], &on))
                .collect();
            let need = |m: &Measure| {
                let each = inside.iter();
                each.map(|p| m.each[*p] * parts.quantity(*p)).sum()
            };
            let needs = measures.iter().map(need).collect();
            Demand { on, needs }
        })
        .collect()
}

/// The least that the pieces taken add to `slope` times the area lost, told in this way.
fn cheapest(kinds: &[Kind], pieces: &[f64], demands: &[Demand], slope: f64, way: usize) -> f64 {
    let above: Vec<f64> = kinds.iter().map(|k| k.least_above(slope, way)).collect();
    // Of kinds that share a supply the cheapest and the roomiest at once: no choice beats that.
    let supply = |j: usize, measure: usize| {
        let mine = || (0..kinds.len()).filter(move |k| kinds[*k].stock.supply == j);
        Supply {
            holds: mine().map(|k| kinds[k].holds[measure]).fold(0.0, f64::max),
            costs: mine().map(|k| above[k]).fold(f64::INFINITY, f64::min),
            pieces: pieces[j],
        }
    };
    let forced = |j: usize| {
        let mut kinds = kinds.iter().filter(|k| k.stock.supply == j);
        kinds.any(|k| !k.stock.pinned.is_empty())
    };
    let offered: Vec<usize> = (0..pieces.len())
        .filter(|j| kinds.iter().any(|k| k.stock.supply == *j))
        .collect();
    // Pieces that pay for themselves are all taken, wherever no demand speaks for them.
    let paying = |on: &dyn Fn(usize) -> bool| -> f64 {
        let left = offered.iter().filter(|j| !on(**j));
        let cost = |j: usize| match forced(j) {
            true => supply(j, 0).costs,
            false => supply(j, 0).costs.min(0.0) * pieces[j],
        };
        left.map(|j| cost(*j)).sum()
    };
    let mut costs: Vec<(f64, &Demand)> = demands
        .iter()
        .map(|demand| {
            let by_measure = demand.needs.iter().enumerate().map(|(m, need)| {
                let inside = || offered.iter().copied().filter(|j| demand.on[*j]);
                let (mut need, mut cost) = (*need, 0.0);
                for j in inside().filter(|j| forced(*j)) {
                    need -= supply(j, m).holds;
                    cost += supply(j, m).costs;
                }
                let free = inside().filter(|j| !forced(*j));
                let supplies: Vec<Supply> = free.map(|j| supply(j, m)).collect();
                cost + least_cost(&supplies, need.max(0.0))
            });
            (by_measure.fold(f64::NEG_INFINITY, f64::max), demand)
        })
        .collect();
    let single = costs
        .iter()
        .map(|(cost, demand)| cost + paying(&|j| demand.on[j]))
        .fold(f64::NEG_INFINITY, f64::max);
    // Demands on supplies that are not shared add up.
    costs.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut taken = vec![false; pieces.len()];
    let mut sum = 0.0;
    for (cost, demand) in costs {
        let shared = demand.on.iter().zip(&taken).any(|(d, t)| *d && *t);
        let everything = demand.on.iter().all(|d| *d);
        if !shared && !everything && cost.is_finite() {
            sum += cost;
            taken.iter_mut().zip(&demand.on).for_each(|(t, d)| *t |= d);
        }
    }
    single.max(sum + paying(&|j| taken[j]))
}

#[cfg(test)]
mod tests;

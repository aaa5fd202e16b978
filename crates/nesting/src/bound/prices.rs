//! A floor from prices: what sheets, remnants and windows can do together for few small parts.
//!
//! Each copy lies on a piece of stock outside of all windows (outermost) or in a window of another copy. The outermost copies on a piece of
//! stock keep to several limits: their filled areas lie within its room, and by dual feasible
//! functions of their sides they fit into its sides. Copies in a window keep to such limits too. All windows of all copies
//! together hold no more than each of them times their number, and each copy is somewhere. The least spend
//! with fractions of pieces and copies is a linear programme, and its dual asks for prices:
//!
//! * Each limit of a piece of stock or of a window has a price of at least 0 for all that there is of it, and a supply
//!   a price for each of its pieces.
//! * The prices of a piece's limits together are at most what it costs with nothing on it, all kept that can be, and
//!   the price of its supply.
//! * A copy is worth the least of what it takes of the limits at any place where it may lie and what it takes away there from kept
//!   offcuts, less the scrap that it spares.
//!
//! Then all wanted copies together are worth no more than the spend and the prices of all windows and
//! limited supplies, whatever the prices are: sum over all copies of a nest, piece by piece and window by window. So any prices
//! make a floor. [`simplex`](super::simplex) finds the best ones, and the floor is worked out from these anew. There
//! are too many limits for one programme: it begins with areas, and those that the answer breaks most are added.
//!
//! Whole pieces cost more than fractions. So all nests are split by whether they take few or many pieces of a
//! supply (branch and bound, as long as there is work left), and the least floor of all these parts stands. For
//! nests that take at least so many pieces of a supply what their limits are worth less than they cost counts as well.

use super::dual::{self, Function};
use super::fit::Shape;
use super::simplex::Simplex;
use super::windows::Size;
use super::{Parts, Room, handling, rates, room};
use crate::offcut::can_keep;
use crate::{Method, Problem, Stock};

/// Given away of a floor for rounding, in relation to it.
const ROUNDING: f64 = 1e-9;

/// Numbers of a table for the programme beyond which it takes longer than it is worth.
const MOST_NUMBERS: usize = 1_500_000;

/// Numbers looked at for all programmes of one floor together: some tenths of a second.
const MOST_LOOKS: u64 = 1_000_000_000;

/// Programmes solved at most, each with more limits.
const MOST_ROUNDS: usize = 12;

/// Limits that are broken by less than this share are not added.
const BROKEN: f64 = 2e-3;

/// Rounds of limits where the number of pieces is split.
const ROUNDS_OF_BRANCH: usize = 3;

/// Parts that all nests are split into at most, by numbers of pieces.
const MOST_BRANCHES: usize = 300;

/// Numbers that differ by less are the same.
const WHOLE: f64 = 1e-6;

/// What leaving a copy out costs, in times the dearest stock of its area.
const DEAR: f64 = 50.0;

/// Given away wherever things are grown, in millimetres: chords, rounding and what the judge forgives.
const GIVEN_AWAY: f64 = 0.01;

/// Functions of one side that are looked at besides those in steps.
const MOST_FUNCTIONS: usize = 40;

/// What copies share, each part by its place in a list.
#[derive(Debug, Clone)]
pub(super) struct Limit {
    pub(super) takes: Vec<f64>,
    pub(super) room: f64,
}

/// What prices prove.
pub(super) struct Prices {
    /// No nest of all counted parts costs less.
    pub(super) floor: f64,
    /// What an outermost copy is worth above the kept offcut that its area could be, by part.
    pub(super) above_area: Vec<f64>,
}

/// A part at a place, turned in one way.
struct Item {
    part: usize,
    /// Sides of what it surely fills, as shares of the place; 0 where that is not known.
    shares: (f64, f64),
    /// What it costs besides what it takes of the limits.
    costs: f64,
}

/// A piece of stock, or windows alike.
struct Place {
    items: Vec<Item>,
    /// What each item takes, as a share of what there is.
    limits: Vec<Vec<f64>>,
    of: Of,
}

enum Of {
    Stock {
        supply: usize,
        /// What a piece costs with nothing on it.
        cost: f64,
    },
    Windows {
        number: f64,
        /// What kept offcuts bring at most when nothing lies in one.
        brings: f64,
    },
}

struct Programme {
    places: Vec<Place>,
    /// Pieces of each supply that any nest takes.
    numbers: Numbers,
    /// Copies of each part that are surely placed, and all.
    wanted: Vec<f64>,
    quantity: Vec<f64>,
    /// No copy is worth less, by part.
    least: Vec<f64>,
    /// Nor more: what it costs to leave one out, so that there is always an answer.
    dear: Vec<f64>,
}

/// A floor of the spend on all `counted` parts by prices; `None` when nothing is known. `rooms` are of all stock that
/// there is, `pieces` how many pieces there are of each supply, where there is a limit.
pub(super) fn prices(
    parts: &Parts,
    rooms: &[Room],
    counted: &[bool],
    pieces: &[Option<f64>],
) -> Option<Prices> {
    let (floor, worth) = programme(parts, rooms, counted, pieces)?.best()?;
    let stock = || rooms.iter().map(|r| &parts.problem.stock[r.stock]);
    let kept = stock().map(kept_rate).fold(0.0, f64::max);
    let scrap = stock().map(|s| rates(s).1).reduce(f64::max)?;
    let (filled, areas) = (&parts.outermost[0].outside, parts.areas());
    let above = |p: usize| match counted[p] {
        true => (worth[p] - kept * filled[p] + scrap * areas[p]).max(0.0),
        false => 0.0,
    };
    Some(Prices {
        floor: floor - ROUNDING * floor.abs(),
        above_area: (0..areas.len()).map(above).collect(),
    })
}

fn programme(
    parts: &Parts,
    rooms: &[Room],
    counted: &[bool],
    pieces: &[Option<f64>],
) -> Option<Programme> {
    let (problem, shapes, windows) = (parts.problem, &parts.shapes, &parts.windows);
    let filled = &parts.outermost[0].outside;
    if matches!(problem.method, Method::Guillotine(_)) {
        return None;
    }
    let areas = parts.areas();
    let stock = || rooms.iter().map(|r| &problem.stock[r.stock]);
    let most_kept = stock().map(kept_rate).fold(0.0, f64::max);
    let most_scrap = stock().map(|s| rates(s).1).reduce(f64::max)?;
    let sizes: Vec<Size> = shapes.iter().map(|s| Size::of(problem, s)).collect();
    let mut places = Vec::new();
    for room in rooms {
        places.extend(pieces_of(problem, shapes, filled, &sizes, room));
    }
    for (host, shape) in shapes.iter().enumerate() {
        for window in windows.of(host) {
            let kept = if window.yields {
                most_kept * window.kept_share
            } else {
                0.0
            };
            let mut items = Vec::new();
            for &part in &window.holds {
                let costs = kept * filled[part] - most_scrap * areas[part];
                let size = &sizes[part];
                let ways = match window.inner {
                    Some(inner) if size.upright => lying(problem, size, inner, &[false, true]),
                    _ => vec![(0.0, 0.0)],
                };
                items.extend(ways.into_iter().map(|shares| Item {
                    part,
                    shares,
                    costs,
                }));
            }
            places.push(Place {
                limits: vec![items.iter().map(|i| filled[i.part] / window.room).collect()],
                items,
                of: Of::Windows {
                    number: window.alike * f64::from(shape.part.quantity),
                    brings: kept * window.room,
                },
            });
        }
    }
    let pinned = |supply: usize| stock().any(|s| s.supply == supply && !s.pinned.is_empty());
    let numbers = pieces.iter().enumerate();
    let numbers = numbers
        .map(|(j, most)| (if pinned(j) { 1.0 } else { 0.0 }, *most))
        .collect();
    let rate = |s: &Stock| s.cost / s.outline.area() + rates(s).0.abs() + rates(s).1.abs();
    let dear = DEAR * stock().map(rate).fold(0.0, f64::max);
    Some(Programme {
        places,
        numbers,
        dear: filled.iter().map(|f| dear * f).collect(),
        wanted: (0..shapes.len())
            .map(|p| if counted[p] { parts.quantity(p) } else { 0.0 })
            .collect(),
        quantity: (0..shapes.len()).map(|p| parts.quantity(p)).collect(),
        least: areas.iter().map(|a| -most_scrap * a).collect(),
    })
}

/// What keeping brings for each unit of area, the scrap spared included, and what it costs besides: when kept pieces are
/// worth something, and when they only spare scrap, which costs no handling.
fn ways_to_keep(stock: &Stock) -> Vec<(f64, f64)> {
    let (value, scrap) = rates(stock);
    let mut ways = Vec::new();
    if !can_keep(stock) {
        return ways;
    }
    if value > 0.0 && value + scrap > 0.0 {
        ways.push((value + scrap, handling(stock)));
    }
    if scrap > 0.0 && ways.iter().all(|w| w.1 > 0.0) {
        ways.push((scrap, 0.0));
    }
    ways
}

/// The most that keeping brings for each unit of area.
fn kept_rate(stock: &Stock) -> f64 {
    ways_to_keep(stock).iter().map(|w| w.0).fold(0.0, f64::max)
}

/// A piece of stock: with nothing kept, and with all that can be.
fn pieces_of(
    problem: &Problem,
    shapes: &[Shape],
    filled: &[f64],
    sizes: &[Size],
    room: &Room,
) -> Vec<Place> {
    let stock = &problem.stock[room.stock];
    let scrap = rates(stock).1;
    let bare = stock.cost + scrap * stock.outline.area();
    let inner = match dual::areas(problem, stock).as_slice() {
        // Pinned parts are left as they lie.
        [inner] if stock.pinned.is_empty() => Some(*inner),
        _ => None,
    };
    let beside = Beside::of(problem, stock, room.filled);
    let lost = |p: usize| match beside.grown {
        true => beside.share * filled[p],
        false => beside.share * shapes[p].part.outline.outer.area(),
    };
    let place = |kept: f64, cost: f64, most: f64| {
        let mut items = Vec::new();
        for &part in &room.may {
            let costs = kept * lost(part) - scrap * shapes[part].part.outline.area();
            let ways = match (inner, dual::upright(&shapes[part], stock)) {
                (Some(inner), Some(across)) => lying(problem, &sizes[part], inner, &across),
                _ => vec![(0.0, 0.0)],
            };
            items.extend(ways.into_iter().map(|shares| Item {
                part,
                shares,
                costs,
            }));
        }
        Place {
            limits: vec![items.iter().map(|i| filled[i.part] / most).collect()],
            items,
            of: Of::Stock {
                supply: stock.supply,
                cost,
            },
        }
    };
    let mut places = Vec::new();
    if room.filled <= 0.0 {
        return places;
    }
    places.push(place(0.0, bare, room.filled));
    let whole = room::outer_area(stock);
    let left = whole - stock.keep.least().1;
    for (kept, handling) in ways_to_keep(stock) {
        if left > 0.0 {
            // What is kept has the least area, so copies have not more than the rest.
            let most = match beside.grown {
                true => room.filled.min(left / beside.share),
                false => room.filled,
            };
            places.push(place(kept, bare + handling - kept * whole, most));
        }
    }
    places
}

/// What outermost copies take from what is kept on a piece of stock.
///
/// Let copies, grown by half the gap, have the area u together. What is kept is half a gap away from them, and so is the stock's
/// edge where the margin is a whole gap: they can all be grown once more by some d, and then have at least the
/// area (root u + d root pi) squared (Brunn and Minkowski). That is concave in u, so at least u times its share of u
/// where u is the most there can be.
struct Beside {
    /// Whether copies are grown by half the gap; where the margin is less they are taken as drawn.
    grown: bool,
    /// What they take for each unit of their area.
    share: f64,
}

impl Beside {
    fn of(problem: &Problem, stock: &Stock, room: f64) -> Self {
        let (half_gap, margin) = (0.5 * problem.gap, problem.margin_on(stock));
        let grown = margin >= half_gap;
        let more = (half_gap.min(margin - half_gap) - GIVEN_AWAY).max(0.0);
        let share = if grown && room > 0.0 {
            (1.0 + more * (std::f64::consts::PI / room).sqrt()).powi(2)
        } else {
            1.0
        };
        Self { grown, share }
    }
}

/// Shares of the sides of what an upright part surely fills, at the turns at which its bounds fit into the
/// sides `inner`; where none fits, as if any did.
fn lying(problem: &Problem, size: &Size, inner: (f64, f64), across: &[bool]) -> Vec<(f64, f64)> {
    let turned = |(w, h): (f64, f64), across: bool| if across { (h, w) } else { (w, h) };
    let fits = |across: &bool| {
        let (w, h) = turned(size.sides, *across);
        w <= inner.0 + dual::GIVEN_AWAY && h <= inner.1 + dual::GIVEN_AWAY
    };
    let mut ways: Vec<(f64, f64)> = Vec::new();
    for &across in across.iter().filter(|a| fits(a)) {
        let shares = dual::shares(problem, turned(size.inside, across), inner);
        if !ways.contains(&shares) {
            ways.push(shares);
        }
    }
    if ways.is_empty() {
        vec![(0.0, 0.0)]
    } else {
        ways
    }
}

/// The programme, with the places of all in it.
struct Table {
    simplex: Simplex,
    /// By part, its worth above the least.
    parts: Vec<usize>,
    /// By supply, prices of one piece fewer at most, and of one piece more at least.
    at_most: Vec<usize>,
    at_least: Vec<usize>,
    /// By place, the prices of its limits.
    limits: Vec<Vec<usize>>,
    /// By place, the row of its first item, and for stock that of a piece.
    items: Vec<usize>,
    pieces: Vec<Option<usize>>,
}

/// Least and most pieces of each supply; `None` for as many as it takes.
type Numbers = Vec<(f64, Option<f64>)>;

/// A part of all nests, those that take so many pieces.
struct Branch {
    numbers: Numbers,
    /// None of them costs less.
    floor: f64,
    /// Pieces taken by the relaxation, by supply.
    taken: Vec<f64>,
    /// Whether it leaves copies out, at great cost, for want of stock.
    short: bool,
}

impl Branch {
    /// The supply of which the relaxation takes a fraction of a piece, the dearest one first.
    fn fraction(&self, costs: &[f64]) -> Option<usize> {
        let apart = |j: &usize| {
            let part = self.taken[*j] - self.taken[*j].floor();
            part.min(1.0 - part)
        };
        let open = (0..self.taken.len()).filter(|j| apart(j) > WHOLE);
        open.max_by(|a, b| (apart(a) * costs[*a]).total_cmp(&(apart(b) * costs[*b])))
    }
}

impl Programme {
    /// The floor and what each part is worth.
    fn best(&mut self) -> Option<(f64, Vec<f64>)> {
        let mut looks = MOST_LOOKS;
        let mut table = self.table()?;
        let (first, worth) =
            self.solved(&mut table, self.numbers.clone(), MOST_ROUNDS, &mut looks)?;
        let mut costs = vec![0.0; self.numbers.len()];
        for place in &self.places {
            if let Of::Stock { supply, cost } = place.of {
                costs[supply] = cost.max(costs[supply]);
            }
        }
        if first.short {
            return None;
        }
        let first_floor = first.floor;
        let mut branches = vec![first];
        loop {
            // The one with the least floor is what all others are held against.
            let least = (0..branches.len())
                .min_by(|a, b| branches[*a].floor.total_cmp(&branches[*b].floor))?;
            let floor = branches[least].floor;
            let Some(supply) = branches[least]
                .fraction(&costs)
                .filter(|_| looks > 0 && branches.len() < MOST_BRANCHES)
            else {
                // Where stock is short for whole pieces, what it costs to leave copies out is no answer.
                let short = branches[least].short;
                return Some((if short { first_floor } else { floor }, worth));
            };
            let branch = branches.swap_remove(least);
            let (fewer, more) = (branch.taken[supply].floor(), branch.taken[supply].ceil());
            for few in [true, false] {
                let mut numbers = branch.numbers.clone();
                let (from, to) = &mut numbers[supply];
                if few {
                    *to = Some(fewer);
                } else {
                    *from = more;
                }
                if to.is_some_and(|to| to < *from) {
                    continue;
                }
                let mut found =
                    match self.solved(&mut table, numbers.clone(), ROUNDS_OF_BRANCH, &mut looks) {
                        Some((found, _)) => found,
                        None => Branch {
                            numbers,
                            floor,
                            taken: vec![0.0; costs.len()],
                            short: false,
                        },
                    };
                found.floor = found.floor.max(floor);
                branches.push(found);
            }
        }
    }

    /// What the programme proves for nests that take so many pieces, after some rounds of limits, and what each part is worth.
    fn solved(
        &mut self,
        table: &mut Table,
        numbers: Numbers,
        rounds: usize,
        looks: &mut u64,
    ) -> Option<(Branch, Vec<f64>)> {
        let mut best: Option<(f64, Vec<f64>)> = None;
        let mut taken = vec![0.0; numbers.len()];
        let mut short = false;
        for _ in 0..rounds {
            let answer = table.simplex.most(&self.brings(table, &numbers), looks);
            let price = |of: &Vec<usize>| of.iter().map(|u| answer.unknowns[*u]).collect();
            let found = self.floor(table.limits.iter().map(price).collect(), &numbers)?;
            if best.as_ref().is_none_or(|b| found.0 > b.0) {
                best = Some(found);
            }
            // The first limits are what parts are worth at most.
            let left_out = &answer.prices[..self.wanted.len()];
            short = *looks > 0 && left_out.iter().any(|l| *l > WHOLE);
            taken.fill(0.0);
            let mut added = false;
            for (index, place) in self.places.iter_mut().enumerate() {
                let number = match (&place.of, table.pieces[index]) {
                    (Of::Windows { number, .. }, _) => *number,
                    (Of::Stock { supply, .. }, Some(row)) => {
                        taken[*supply] += answer.prices[row];
                        answer.prices[row]
                    }
                    _ => 0.0,
                };
                if number <= WHOLE || *looks == 0 || table.simplex.size() > MOST_NUMBERS {
                    continue;
                }
                let first = table.items[index];
                let copies = (0..place.items.len()).map(|i| answer.prices[first + i] / number);
                if place.limit(&copies.collect::<Vec<_>>()) {
                    added = true;
                    table.add(index, place);
                }
            }
            if !added {
                break;
            }
        }
        let (floor, worth) = best?;
        Some((
            Branch {
                numbers,
                floor,
                taken,
                short,
            },
            worth,
        ))
    }

    /// The programme with the limits so far; `None` when it is too large.
    fn table(&self) -> Option<Table> {
        let (mut limits, mut rows) = (Vec::new(), vec![Vec::new(); self.wanted.len()]);
        for (part, dear) in self.dear.iter().enumerate() {
            rows[part].push((limits.len(), 1.0));
            limits.push((dear - self.least[part]).max(0.0));
        }
        let (mut items, mut pieces) = (Vec::new(), Vec::new());
        for place in &self.places {
            items.push(limits.len());
            for item in &place.items {
                rows[item.part].push((limits.len(), 1.0));
                limits.push((item.costs - self.least[item.part]).max(0.0));
            }
        }
        let mut of_supplies = vec![Vec::new(); self.numbers.len()];
        for place in &self.places {
            let Of::Stock { supply, cost } = place.of else {
                pieces.push(None);
                continue;
            };
            pieces.push(Some(limits.len()));
            of_supplies[supply].push(limits.len());
            limits.push(cost.max(0.0));
        }
        if limits.len() * (rows.len() + self.places.len()) > MOST_NUMBERS {
            return None;
        }
        let mut simplex = Simplex::new(&limits);
        let parts = rows.iter().map(|rows| simplex.add(rows)).collect();
        let mut supply = |sign: f64| -> Vec<usize> {
            let column = |rows: &Vec<usize>| rows.iter().map(|r| (*r, sign)).collect::<Vec<_>>();
            of_supplies
                .iter()
                .map(|rows| simplex.add(&column(rows)))
                .collect()
        };
        let (at_most, at_least) = (supply(-1.0), supply(1.0));
        let mut table = Table {
            simplex,
            parts,
            at_most,
            at_least,
            limits: vec![Vec::new(); self.places.len()],
            items,
            pieces,
        };
        for (index, place) in self.places.iter().enumerate() {
            table.add(index, place);
        }
        Some(table)
    }

    /// What each unknown brings.
    fn brings(&self, table: &Table, numbers: &Numbers) -> Vec<f64> {
        let unknowns = table.at_least.last().map_or(0, |l| l + 1);
        let limits: usize = table.limits.iter().map(Vec::len).sum();
        let mut brings = vec![0.0; unknowns + limits];
        let copies: f64 = self.wanted.iter().sum();
        for (unknown, wanted) in table.parts.iter().zip(&self.wanted) {
            brings[*unknown] = *wanted;
        }
        for (supply, (least, most)) in numbers.iter().enumerate() {
            // A piece is taken for at least one copy.
            brings[table.at_most[supply]] = -most.unwrap_or(copies.max(1.0));
            brings[table.at_least[supply]] = *least;
        }
        for (place, limits) in self.places.iter().zip(&table.limits) {
            if let Of::Windows { number, .. } = place.of {
                limits.iter().for_each(|unknown| brings[*unknown] = -number);
            }
        }
        brings
    }

    /// What any prices of limits prove, after those of stock without limit are lowered to what it costs.
    fn floor(&self, mut prices: Vec<Vec<f64>>, numbers: &Numbers) -> Option<(f64, Vec<f64>)> {
        let mut of_supplies = vec![f64::NEG_INFINITY; numbers.len()];
        let mut windows = 0.0;
        for (place, prices) in self.places.iter().zip(&mut prices) {
            let all: f64 = prices.iter().sum();
            match place.of {
                Of::Windows { number, brings } => windows += number * (brings + all),
                Of::Stock { supply, cost } => {
                    let mut over = all - cost;
                    if numbers[supply].1.is_none() && over > 0.0 {
                        // Nothing may be earned by taking stock without end, rounding apart.
                        if cost < -ROUNDING * self.scale() {
                            return None;
                        }
                        let share = cost.max(0.0) / all;
                        prices.iter_mut().for_each(|p| *p *= share);
                        over = 0.0;
                    }
                    of_supplies[supply] = of_supplies[supply].max(over);
                }
            }
        }
        let mut worth = self.dear.clone();
        for (place, prices) in self.places.iter().zip(&prices) {
            for (at, item) in place.items.iter().enumerate() {
                let takes: f64 = place
                    .limits
                    .iter()
                    .zip(prices)
                    .map(|(l, p)| p * l[at])
                    .sum();
                worth[item.part] = worth[item.part].min(item.costs + takes);
            }
        }
        // Copies that may be left out count where they bring something.
        let some = |p: usize| match self.wanted[p] > 0.0 {
            true => self.wanted[p] * worth[p],
            false => self.quantity[p] * worth[p].min(0.0),
        };
        let wanted: f64 = (0..worth.len()).map(some).sum();
        let supplies = numbers.iter().zip(&of_supplies);
        let supplies: f64 = supplies
            .map(|((least, most), over)| {
                if *over > 0.0 {
                    most.unwrap_or(0.0) * over
                } else if *least > 0.0 {
                    least * over
                } else {
                    0.0
                }
            })
            .sum();
        Some((wanted - windows - supplies, worth))
    }

    /// Something as large as what is summed here.
    fn scale(&self) -> f64 {
        let costs = self
            .places
            .iter()
            .flat_map(|p| p.items.iter().map(|i| i.costs.abs()));
        costs.fold(0.0, f64::max)
    }
}

impl Table {
    /// Takes up limits of a place that are not in it yet.
    fn add(&mut self, index: usize, place: &Place) {
        for limit in &place.limits[self.limits[index].len()..] {
            let takes = limit.iter().enumerate().filter(|(_, t)| **t != 0.0);
            let takes = takes.map(|(at, takes)| (self.items[index] + at, -takes));
            let piece = self.pieces[index].map(|row| (row, 1.0));
            let unknown = self.simplex.add(&takes.chain(piece).collect::<Vec<_>>());
            self.limits[index].push(unknown);
        }
    }
}

impl Place {
    /// Adds the limit that so many copies of each item break most, by functions of both sides; tells whether there is
    /// one.
    fn limit(&mut self, copies: &[f64]) -> bool {
        let some: Vec<usize> = (0..copies.len())
            .filter(|i| copies[*i] > 1e-9 && self.items[*i].shares.0 > 0.0)
            .collect();
        let functions = |share: &dyn Fn(&Item) -> f64| {
            let mut functions: Vec<Function> =
                (0..=dual::MOST_STEPS).map(Function::Steps).collect();
            let mut large: Vec<f64> = some
                .iter()
                .map(|i| share(&self.items[*i]))
                .filter(|s| *s > 0.5)
                .collect();
            large.sort_by(f64::total_cmp);
            large.dedup();
            large.truncate(MOST_FUNCTIONS);
            // Below half, so that two that count as whole never fit.
            functions.extend(
                large
                    .into_iter()
                    .map(|s| Function::Whole((1.0 - s + 1e-9).min(0.5))),
            );
            let tables: Vec<(Function, Vec<f64>)> = functions
                .into_iter()
                .map(|f| {
                    (
                        f,
                        some.iter().map(|i| f.of(share(&self.items[*i]))).collect(),
                    )
                })
                .collect();
            tables
        };
        let (across, along) = (functions(&|i| i.shares.0), functions(&|i| i.shares.1));
        let mut most = (1.0 + BROKEN, None);
        for (f, x) in &across {
            let x: Vec<f64> = x.iter().zip(&some).map(|(x, i)| x * copies[*i]).collect();
            for (g, y) in &along {
                let all: f64 = x.iter().zip(y).map(|(x, y)| x * y).sum();
                if all > most.0 {
                    most = (all, Some((*f, *g)));
                }
            }
        }
        let Some((f, g)) = most.1 else {
            return false;
        };
        let limit = self
            .items
            .iter()
            .map(|i| f.of(i.shares.0) * g.of(i.shares.1))
            .collect();
        if self.limits.contains(&limit) {
            return false;
        }
        self.limits.push(limit);
        true
    }
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;

    /// What prices of all limits prove that are drawn one by one, in shares of what the stock costs.
    pub(in super::super) fn floor_at(
        parts: &Parts,
        rooms: &[Room],
        counted: &[bool],
        pieces: &[Option<f64>],
        mut draw: impl FnMut() -> f64,
    ) -> Option<f64> {
        let programme = programme(parts, rooms, counted, pieces)?;
        let dearest = parts
            .problem
            .stock
            .iter()
            .map(|s| s.cost)
            .fold(0.0, f64::max);
        let of_place = |place: &Place| place.limits.iter().map(|_| draw() * dearest).collect();
        let prices = programme.places.iter().map(of_place).collect();
        let numbers = programme.numbers.clone();
        Some(programme.floor(prices, &numbers)?.0)
    }
}

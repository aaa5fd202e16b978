//! Parts as rectangles: every part counts as its bounding rectangle, and what is free inside that is a
//! board of its own.
//!
//! Most panels of a kit are rectangles or nearly so, many of them frames round a window, and rectangles are
//! laid far better by the search for the saw than at free corners. So the wanted copies are put to it as
//! another problem: the stock, and beside it the windows and notches of all copies as boards that cost
//! next to nothing, since all copies will be laid down. The gap takes the place of the blade. What comes
//! back is read as a free-form nest: such a board lies where the copy is that it belongs to. No copy can
//! come to lie in itself on the way, as what lies in a window is smaller than the frame round it.
//!
//! How a frame will lie is not known beforehand. Nothing that must not be turned is put into the windows of a
//! part that may be turned by a quarter, unless its copies are told how to lie ([`Lying`]): each as it does in a
//! nesting that is there already, so that nothing is lost by it.

mod read;
#[cfg(test)]
mod tests;

use super::construct::{Recipe, complete, empty, order_is_long};
use super::fill::{Filling, Sheet};
use super::nesting::{Nesting, Score, Scored, Worth};
use super::shape::Pose;
use super::tables::Tables;
use super::work::{Watch, Work};
use crate::guillotine;
use crate::{Budget, KeepRule, Layout, Method, Part, Problem, SawRules, Stock, StockKind, Turn};
use panelwright_geometry::{Bounds, Outline, Point, Polygon, largest_clear_rectangle};
use rand::RngExt;
use rand_pcg::Pcg64Mcg;
use read::Reader;
use std::collections::VecDeque;

/// How far sides may be off, in millimetres, and still be the same: what rounding to nanometres makes.
const SAME_SIDE: f64 = 1e-5;

/// Rooms looked for in one part.
const MOST_ROOMS: usize = 4;

/// What a room costs, as a share of the cheapest stock of its area. Above nothing, so that one is not
/// taken for no gain; low, so that any room is better than a sheet.
const ROOM_PRICE: f64 = 1e-4;

/// Share of the area of all rectangles that the parts must fill for this to be worth trying. Irregular
/// shapes nest into each other, which rectangles do not see.
const LEAST_FILLED: f64 = 0.6;

/// Share of its rectangle from which on a part counts as nearly one.
const BOXY: f64 = 0.8;

/// Share of the steps of a start that go into the best way once more.
const LAST_SHARE: f64 = 0.6;

/// Share of the least spend by which the first ways may be dearer when they are gone on with.
const HOPELESS: f64 = 0.08;

/// Share of what is left of a time limit that each of the first ways may take.
const FIRST_TIME: f64 = 0.05;

/// A grain that no part has.
const NO_GRAIN: f64 = 45.0;

/// A part as a rectangle.
#[derive(Debug, Clone)]
struct Boxed {
    /// The pose that the rectangle stands for.
    home: Pose,
    width: f64,
    height: f64,
    /// Whether it may also lie with its sides changed.
    across: bool,
    /// Share of the rectangle that the part fills, its holes counted as filled.
    filled: f64,
    /// What is free in the rectangle, with the gap to the part.
    rooms: Vec<Bounds>,
}

/// The parts and the stock of a problem as rectangles.
pub(super) struct Rectangles<'t> {
    tables: &'t Tables<'t>,
    /// Stock that a rectangle can be had from, with its index.
    boards: Vec<(usize, Stock)>,
    /// By part; `None` where there is no board for it.
    parts: Vec<Option<Boxed>>,
    grain: f64,
    /// Whether a part that must not be turned fits into a window of one that may be.
    pub turned_windows: bool,
}

/// How copies of a part lie.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Lying {
    /// As they may.
    Any,
    /// As at home.
    Home,
    /// At a quarter turn to that.
    Across,
}

/// How many copies of each part lie as at home, and at a quarter turn to that.
type Turned = Vec<[u32; 2]>;

/// What is laid down as rectangles, and how.
#[derive(Debug, Clone, Default)]
pub(super) struct Way {
    /// Share of its rectangle that a part must fill.
    least_filled: f64,
    /// How copies are told to lie, by part; others, and all where it is empty, lie as they may.
    told: Turned,
}

impl Way {
    /// With all parts, or only with those that nearly are rectangles.
    pub fn new(all: bool) -> Self {
        Self {
            least_filled: if all { 0.0 } else { BOXY },
            ..Self::default()
        }
    }
}

/// A room of each copy of a part that is told to lie in one way.
struct Room {
    /// Index of the part in the question.
    of: usize,
    at: Bounds,
}

/// What is put to the search for the saw, and what belongs to what.
struct Question {
    problem: Problem,
    /// Index of each of its parts in the free-form problem. Copies told to lie differently are different parts.
    parts: Vec<usize>,
    /// The stock after the boards.
    rooms: Vec<Room>,
}

impl<'t> Rectangles<'t> {
    /// `None` where it is not worth trying.
    pub fn new(tables: &'t Tables<'t>) -> Option<Self> {
        let problem = tables.problem;
        // A sheet sawn into several blanks is no board, and without it the stock looks dear.
        if (0..problem.stock.len()).any(|s| tables.fields_of(s).len() > 1) {
            return None;
        }
        let mut found = Self {
            tables,
            boards: (0..problem.stock.len())
                .filter_map(|i| Some((i, board(tables, i)?)))
                .collect(),
            parts: vec![None; problem.parts.len()],
            grain: 0.0,
            turned_windows: false,
        };
        found.grain = found
            .boards
            .iter()
            .find_map(|(_, s)| s.grain_deg)
            .unwrap_or(0.0);
        let (mut area, mut of_rectangles) = (0.0, 0.0);
        for (i, part) in problem.parts.iter().enumerate() {
            found.parts[i] = found.boxed(i);
            if let Some(own) = &found.parts[i] {
                let copies = f64::from(part.quantity) * own.width * own.height;
                area += copies * own.filled;
                of_rectangles += copies;
            }
        }
        if area < LEAST_FILLED * of_rectangles || of_rectangles <= 0.0 {
            return None;
        }
        if problem.use_cutouts {
            let sides = || found.parts.iter().flatten().map(|p| [p.width, p.height]);
            let least = |f: fn(f64, f64) -> f64| {
                sides().map(|[w, h]| f(w, h)).fold(f64::INFINITY, f64::min)
            };
            let (short, long) = (least(f64::min), least(f64::max));
            for i in 0..found.parts.len() {
                let rooms = found.parts[i]
                    .as_ref()
                    .map(|p| found.rooms_of(p, short, long));
                if let (Some(own), Some(rooms)) = (&mut found.parts[i], rooms) {
                    own.rooms = rooms;
                }
            }
        }
        found.turned_windows = found.has_turned_windows();
        Some(found)
    }

    /// The best whole nesting of the order that about so many steps find, and the steps it took. Where all
    /// ways are hopeless beside a nesting with this score, they are given up after the trials. What beats that score and
    /// all before it is told to `found` at once.
    pub fn start(
        &self,
        score: &Score,
        steps: u64,
        random: &mut Pcg64Mcg,
        watch: &Watch,
        found: impl Fn(&Scored),
    ) -> (Option<Scored>, u64) {
        let mut ways = vec![Way::new(true)];
        if self.has_others() {
            ways.push(Way::new(false));
        }
        let turned = self.turned_windows;
        let trials = ways.len() as u64 + u64::from(turned);
        let each = (steps as f64 * (1.0 - LAST_SHARE)) as u64 / trials;
        let mut work = Work::of_steps(u64::MAX);
        let mut best: Option<(Way, Scored)> = None;
        let mut consider = |way: Way, steps: u64, best: &mut Option<(Way, Scored)>| {
            let budget = Budget {
                steps,
                seed: random.random(),
                limit: watch.limit_left(FIRST_TIME),
            };
            if let Some((nesting, its)) = self.whole(&way, &budget, random, watch, &mut work)
                && best.as_ref().is_none_or(|(_, best)| its.beats(&best.1))
            {
                let made = (nesting, its);
                if its.beats(score) {
                    found(&made);
                }
                *best = Some((way, made));
            }
        };
        while let Some(way) = ways.pop() {
            consider(way, each, &mut best);
        }
        let hopeless = |best: &Option<(Way, Scored)>| {
            let near =
                |(_, best): &(Way, Scored)| best.1.nearly(score, score.spend * (1.0 + HOPELESS));
            watch.stopped() || !best.as_ref().is_some_and(near)
        };
        if let (true, false, Some((way, (nesting, _)))) = (turned, hopeless(&best), &best) {
            let way = self.as_they_lie(way, nesting, &empty(self.tables));
            consider(way, each, &mut best);
        }
        if let (false, Some((way, ..))) = (hopeless(&best), &best) {
            let rest = (steps as f64 * LAST_SHARE) as u64;
            consider(way.clone(), rest, &mut best);
        }
        (best.map(|(_, made)| made), work.steps())
    }

    /// A nesting of the order that needs no tables; what finds no room in it is missing.
    pub fn at_once(
        &self,
        steps: u64,
        random: &mut Pcg64Mcg,
        watch: &Watch,
        work: &mut Work,
    ) -> Option<Scored> {
        let mut nesting = empty(self.tables);
        let budget = Budget {
            steps,
            seed: random.random(),
            limit: None,
        };
        self.lay(&mut nesting, &Way::new(true), &budget, watch, work)?;
        let score = nesting.score(self.tables);
        Some((nesting, score))
    }

    /// A whole nesting of the order in one way; what finds no room in it is laid at free corners.
    fn whole(
        &self,
        way: &Way,
        budget: &Budget,
        random: &mut Pcg64Mcg,
        watch: &Watch,
        work: &mut Work,
    ) -> Option<Scored> {
        let mut nesting = empty(self.tables);
        if !self.add_to(&mut nesting, way, budget, random, watch, work) {
            return None;
        }
        let (recipe, most) = (Recipe::plain(self.tables), f64::INFINITY);
        complete(
            self.tables,
            &mut nesting,
            &recipe,
            most,
            random,
            watch,
            work,
        );
        let score = nesting.score(self.tables);
        Some((nesting, score))
    }

    /// Whether some parts are far from rectangles.
    fn has_others(&self) -> bool {
        self.parts.iter().flatten().any(|p| p.filled < BOXY)
    }

    /// Whether a part that must not be turned fits into a window of one that may be.
    fn has_turned_windows(&self) -> bool {
        let problem = self.tables.problem;
        let each = || {
            self.parts
                .iter()
                .enumerate()
                .filter_map(|(i, p)| Some((i, p.as_ref()?)))
        };
        let rooms = || {
            each()
                .filter(|(i, p)| !self.must_lie(*i) && p.across)
                .flat_map(|(_, p)| &p.rooms)
        };
        each().any(|(i, p)| {
            problem.parts[i].quantity > 0
                && self.must_lie(i)
                && rooms().any(|r| p.width <= r.width() && p.height <= r.height())
        })
    }

    /// Whether a part must not be turned by a quarter.
    fn must_lie(&self, part: usize) -> bool {
        let part = &self.tables.problem.parts[part];
        part.grain_deg.is_some() || matches!(part.turn, Turn::None | Turn::Half)
    }

    fn boxed(&self, part: usize) -> Option<Boxed> {
        let turned = |p: &Pose| &self.tables.catalogue.turned[p.turned];
        let area = |p: &Pose| turned(p).width * turned(p).height;
        let poses = || {
            let boards = self.boards.iter();
            boards.flat_map(|(s, _)| self.tables.catalogue.poses(part, *s))
        };
        let smaller = |a, b| {
            if area(b) < area(a) * (1.0 - 1e-9) {
                b
            } else {
                a
            }
        };
        let home = poses().reduce(smaller)?;
        let (width, height) = (turned(home).width, turned(home).height);
        let outline = &self.tables.problem.parts[part].outline;
        let holes: f64 = outline.holes.iter().map(|r| r.area().abs()).sum();
        (width > 0.0 && height > 0.0).then(|| Boxed {
            home: *home,
            width,
            height,
            across: poses().any(|p| self.has_sides(p, height, width)),
            filled: (outline.area() + holes) / (width * height),
            rooms: Vec::new(),
        })
    }

    fn has_sides(&self, pose: &Pose, width: f64, height: f64) -> bool {
        let turned = &self.tables.catalogue.turned[pose.turned];
        (turned.width - width).abs() <= SAME_SIDE && (turned.height - height).abs() <= SAME_SIDE
    }

    /// Free rectangles in that of a part, from the largest on, that take one with these sides.
    fn rooms_of(&self, part: &Boxed, short: f64, long: f64) -> Vec<Bounds> {
        let gap = self.tables.problem.gap;
        let whole = Bounds::new(Point::default(), Point::new(part.width, part.height));
        let field = Polygon::from_bounds(whole);
        let pieces = self.tables.catalogue.turned[part.home.turned].pieces.iter();
        let mut taken: Vec<Polygon> = pieces
            .map(|p| Polygon::new(p.clone(), Vec::new()))
            .collect();
        let mut rooms = Vec::new();
        while rooms.len() < MOST_ROOMS {
            let Some(free) = largest_clear_rectangle(&field, &taken, short, long) else {
                break;
            };
            taken.push(Polygon::from_bounds(free));
            // What lies beyond the bounding rectangle keeps the gap from that.
            let off = |side: f64, edge: f64| {
                if (side - edge).abs() <= SAME_SIDE {
                    0.0
                } else {
                    gap
                }
            };
            let min = Point::new(
                free.min.x + off(free.min.x, 0.0),
                free.min.y + off(free.min.y, 0.0),
            );
            let max = Point::new(
                free.max.x - off(free.max.x, whole.max.x),
                free.max.y - off(free.max.y, whole.max.y),
            );
            let (w, h) = (max.x - min.x, max.y - min.y);
            if w.min(h) < short || w.max(h) < long {
                break;
            }
            rooms.push(Bounds::new(min, max));
        }
        rooms
    }

    /// Lays what is missing of `nesting` on stock that it leaves, as far as that goes in this way, and the
    /// rest where there is room left on those sheets; false when nothing can be laid like that.
    pub fn add_to(
        &self,
        nesting: &mut Nesting,
        way: &Way,
        budget: &Budget,
        random: &mut Pcg64Mcg,
        watch: &Watch,
        work: &mut Work,
    ) -> bool {
        let Some(from) = self.lay(nesting, way, budget, watch, work) else {
            return false;
        };
        self.fill_up(nesting, from, random, watch, work);
        true
    }

    /// Lays what is missing of `nesting` on stock that it leaves, as far as that goes in this way; the number of sheets that it had
    /// before, or `None` when nothing can be laid like that.
    fn lay(
        &self,
        nesting: &mut Nesting,
        way: &Way,
        budget: &Budget,
        watch: &Watch,
        work: &mut Work,
    ) -> Option<usize> {
        let supplies = nesting.supplies_left(self.tables);
        let question = self.question(way, &nesting.missing, &supplies)?;
        let control = watch.control.unwatched();
        let rules = rules(question.problem.kerf);
        let search = if order_is_long(self.tables) {
            guillotine::search_without_floor
        } else {
            guillotine::search
        };
        let nest = search(&question.problem, &rules, budget, &control);
        work.add_steps(budget.steps);
        let from = nesting.sheets.len();
        self.read(&question, &nest.layouts, nesting, work);
        Some(from)
    }

    fn question(&self, way: &Way, wanted: &[u32], supplies: &[Option<u32>]) -> Option<Question> {
        let given = self.tables.problem;
        let boards = self.boards.iter();
        let mut question = Question {
            problem: Problem::new(
                Vec::new(),
                boards.map(|(_, stock)| stock.clone()).collect(),
                supplies.to_vec(),
            ),
            parts: Vec::new(),
            rooms: Vec::new(),
        };
        let problem = &mut question.problem;
        (problem.gap, problem.kerf) = (given.gap, given.gap);
        problem.method = Method::Guillotine(rules(given.gap));
        let rate = |(_, s): &(usize, Stock)| s.cost / s.outline.area().max(1e-9);
        let rate = self.boards.iter().map(rate).fold(f64::INFINITY, f64::min);
        let faces = self
            .boards
            .iter()
            .map(|(_, s)| s.good_faces)
            .min()
            .unwrap_or(0);
        for (i, own) in self.parts.iter().enumerate() {
            let part = &given.parts[i];
            let Some(own) = own
                .as_ref()
                .filter(|p| wanted[i] > 0 && p.filled >= way.least_filled)
            else {
                continue;
            };
            let [home, across] = way.told.get(i).copied().unwrap_or_default();
            let home = home.min(wanted[i]);
            let across = across.min(wanted[i] - home);
            let told = [
                (Lying::Home, home),
                (Lying::Across, across),
                (Lying::Any, wanted[i] - home - across),
            ];
            for (lying, copies) in told.into_iter().filter(|(_, copies)| *copies > 0) {
                let of = problem.parts.len();
                let asked = self.asked(own, part, lying, copies);
                let grain = asked.grain_deg;
                question.parts.push(i);
                problem.parts.push(asked);
                for room in &own.rooms {
                    // As it lies at home, or turned with its part.
                    let at = if lying == Lying::Across {
                        turned_room(room, own.height)
                    } else {
                        *room
                    };
                    let size = Polygon::rectangle(at.width(), at.height());
                    // What is set into it is lost to the rack.
                    let kept = self.boards.iter().map(|(_, s)| kept_value(&s.keep, &at));
                    let kept = kept.fold(f64::INFINITY, f64::min);
                    let price = kept.max(ROOM_PRICE * rate * size.area());
                    let supply = problem.supplies.len();
                    problem.supplies.push(Some(copies));
                    problem.stock.push(Stock {
                        margin: Some(0.0),
                        grain_deg: Some(grain.unwrap_or(self.grain + NO_GRAIN)),
                        good_faces: part.good_faces.max(faces),
                        keep: KeepRule::default(),
                        ..Stock::remnant(part.name.clone(), size, price, supply)
                    });
                    question.rooms.push(Room { of, at });
                }
            }
        }
        (!question.parts.is_empty() && !self.boards.is_empty()).then_some(question)
    }

    /// So many copies of a part as the search for the saw is asked about them.
    fn asked(&self, own: &Boxed, part: &Part, lying: Lying, copies: u32) -> Part {
        let free = part.turn == Turn::Free;
        let turn = match (lying != Lying::Any, free, own.across) {
            (true, ..) | (_, true, false) => Turn::None,
            (_, true, true) => Turn::Quarter,
            _ => part.turn,
        };
        // Told to lie across, it is a rectangle of the other sides.
        let [width, height] = if lying == Lying::Across {
            [own.height, own.width]
        } else {
            [own.width, own.height]
        };
        let grain = part
            .grain_deg
            .filter(|_| !free)
            .map(|g| g + own.home.angle_deg);
        let grain = grain.or((turn != Turn::Quarter).then_some(self.grain));
        Part {
            turn,
            grain_deg: grain,
            good_faces: part.good_faces,
            priority: part.priority,
            ..Part::new(part.name.clone(), Outline::rectangle(width, height), copies)
        }
    }

    /// Adds the sheets of a nest of rectangles to `nesting` and takes what lies on them off the missing.
    fn read(
        &self,
        question: &Question,
        layouts: &[Layout],
        nesting: &mut Nesting,
        work: &mut Work,
    ) {
        let mut filled: Vec<VecDeque<&Layout>> = vec![VecDeque::new(); question.rooms.len()];
        for layout in layouts {
            if let Some(room) = layout.stock.checked_sub(self.boards.len()) {
                filled[room].push_back(layout);
            }
        }
        for layout in layouts {
            let Some((stock, _)) = self.boards.get(layout.stock) else {
                continue;
            };
            let mut reader = Reader {
                rectangles: self,
                question,
                filled: &mut filled,
                missing: &mut nesting.missing,
                sheet: Sheet {
                    stock: *stock,
                    items: Vec::new(),
                },
            };
            for placed in &layout.placed {
                reader.lay(placed.part, placed.outline(&question.problem).bounds());
            }
            let sheet = reader.sheet;
            if !sheet.items.is_empty() {
                let worth = Worth::of(&sheet, self.tables, work);
                nesting.sheets.push((sheet, worth));
            }
        }
    }

    /// Lays what is missing where there is room on the sheets from the one with that index on.
    fn fill_up(
        &self,
        nesting: &mut Nesting,
        from: usize,
        random: &mut Pcg64Mcg,
        watch: &Watch,
        work: &mut Work,
    ) {
        let recipe = Recipe::plain(self.tables);
        for (sheet, worth) in &mut nesting.sheets[from..] {
            if nesting.missing.iter().all(|n| *n == 0) || watch.stopped() {
                break;
            }
            let mut filling = Filling::with(self.tables, sheet.stock, &sheet.items);
            let mut taste = recipe.taste(self.tables, sheet.stock, random);
            filling.fill(&recipe.order, &mut nesting.missing, &mut taste, watch, work);
            let filled = filling.sheet();
            if filled.items.len() > sheet.items.len() {
                *worth = Worth::of(&filled, self.tables, work);
                *sheet = filled;
            }
        }
    }

    /// The same way, but with copies that have rooms and may be turned told to lie as they do in `nesting` and
    /// not in `kept`, sheet by sheet a part of it.
    pub fn as_they_lie(&self, way: &Way, nesting: &Nesting, kept: &Nesting) -> Way {
        let (mut told, kept) = (self.turned(nesting), self.turned(kept));
        for (all, kept) in told.iter_mut().zip(kept) {
            *all = [0, 1].map(|i| all[i].saturating_sub(kept[i]));
        }
        for (i, told) in told.iter_mut().enumerate() {
            let turns = |p: &Boxed| p.across && !p.rooms.is_empty() && !self.must_lie(i);
            if !self.parts[i].as_ref().is_some_and(turns) {
                *told = [0, 0];
            }
        }
        Way {
            told,
            ..way.clone()
        }
    }

    fn turned(&self, nesting: &Nesting) -> Turned {
        let mut turned = vec![[0, 0]; self.parts.len()];
        for (_, item) in nesting.sheets.iter().flat_map(|(sheet, _)| &sheet.items) {
            if let Some(own) = &self.parts[item.part] {
                let across = !self.has_sides(&item.pose, own.width, own.height);
                turned[item.part][usize::from(across)] += 1;
            }
        }
        turned
    }
}

/// What an empty room is worth as an offcut.
fn kept_value(keep: &KeepRule, room: &Bounds) -> f64 {
    if keep.passes(room.width(), room.height()) {
        keep.value_of_rectangle(room.width(), room.height())
    } else {
        0.0
    }
}

/// A room of a part that is turned by a quarter against the clock; `height` is that of the part.
fn turned_room(room: &Bounds, height: f64) -> Bounds {
    Bounds::new(
        Point::new(height - room.max.y, room.min.x),
        Point::new(height - room.min.y, room.max.x),
    )
}

fn rules(gap: f64) -> SawRules {
    SawRules {
        kerf: gap,
        ..SawRules::default()
    }
}

/// What the search for the saw takes the stock for; `None` where parts are pinned or several blanks cut.
fn board(tables: &Tables, stock: usize) -> Option<Stock> {
    let given = &tables.problem.stock[stock];
    let mut fields = tables.fields_of(stock);
    let (Some(field), None) = (fields.next(), fields.next()) else {
        return None;
    };
    if !given.pinned.is_empty() {
        return None;
    }
    let mut board = Stock {
        kind: StockKind::Remnant,
        keep_clear: tables.problem.clear_by_margin(given),
        zones: Vec::new(),
        break_down: None,
        margin: Some(tables.problem.margin_on(given)),
        ..given.clone()
    };
    if let Some(blanks) = &given.break_down {
        let [blank] = blanks.blanks[..] else {
            return None;
        };
        board.outline = Polygon::from_bounds(blank);
    }
    // Where nothing is cut off, the room is known to the last digit.
    if guillotine::plain_rectangle(&board).is_some() {
        let room = tables.fields[field].room();
        if room.max.x <= room.min.x || room.max.y <= room.min.y {
            return None;
        }
        board.outline = Polygon::from_bounds(room);
        board.margin = Some(0.0);
    }
    Some(board)
}

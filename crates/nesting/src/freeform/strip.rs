//! The least length of a strip of fixed width that holds all parts: roll goods, and a measure of the
//! free-form search against published problems.

use super::angles::{finer_angles, refinements};
use super::arena::Arena;
use super::columns::Columns;
use super::construct::Recipe;
use super::cover::Closeness;
use super::fill::{Sheet, Taste, fill};
use super::grid::Grid;
use super::nesting::Nesting;
use super::region::{Item, Pull};
use super::rows::in_rows;
use super::sawn_strip::sawn;
use super::shape::Catalogue;
use super::squash::{Aim, Along, RESTLESS_SHARE, Squash};
use super::tables::Tables;
use super::work::{Watch, Work};
use crate::{
    Budget, Control, Layout, Nest, NestError, Part, PlacedPart, Problem, Progress, Stock, verify,
};
use panelwright_geometry::tolerance;
use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64Mcg;
use rayon::prelude::*;

/// Streams of random choices for so many parts at most. Fixed, whatever the number of threads, so that results
/// repeat; more of them differ more and get less far each, which counts where there are many parts. (With up to 50,
/// two from the first step on give 0.3 points less density in ten seconds. Eight give 0.2 less than four with 64 and 99
/// parts, in ten seconds and in a minute, and with 150 and 500 0.4 less than these, in 40 M steps.)
const STREAMS: [(u32, usize); 3] = [(50, 8), (200, 4), (u32::MAX, LAST_STREAMS)];

/// Streams that go on to the end.
const LAST_STREAMS: usize = 2;

/// Shares of the work after which the longer half of the streams is given up, while there are more than these. How far
/// a stream gets depends on the arrangement that it happens to begin with.
const THINNED: [f64; 2] = [0.2, 0.4];

/// Share of the parts' area that their usual covers may add before the end of the search is run with close ones.
/// Curved parts add one or two hundredths.
const LOOSE: f64 = 3e-3;

/// Share of the work for that, and how far the search then is. (On three strips of curved parts, six seeds, 15 s on
/// one core, this gives 0.65 points more density than usual covers to the end; a third of it
/// looked for other arrangements, as now.)
const CLOSE_WORK: f64 = 0.2;
const CLOSE_BEGIN: f64 = 0.925;

/// Poses that each part is tried in for the first layout by hulls.
const ROUGH_POSES: usize = 2;

/// Share of what is left of a time limit that may go into the layout by hulls, and again into that by true shapes.
const FIRST_TIME: f64 = 0.1;

/// Share of the steps that looking for rows and lattices may take, least and most of them: with fewer none is found, and more find no
/// others.
const ROWS_SHARE: f64 = 0.1;
const LEAST_ROWS_STEPS: u64 = 20_000;
const MOST_ROWS_STEPS: u64 = 4_000_000;

/// Copies beyond which the first layout stands: weights of all pairs would take gigabytes, and hardly any move would be made.
const MOST_MOVED: u32 = 8_000;

/// A grid is coarse when its pitch is more than this share of the length.
const COARSE: f64 = 1e-3;

/// How often the streams' lengths are compared at least.
const LEAST_ROUNDS: u64 = 50;

/// Most steps of a stream between two comparisons, and least: fewer are hardly a try.
const ROUND_STEPS: u64 = 200_000;
const LEAST_ROUND_STEPS: u64 = 200;

/// Parts to be cut from a roll. All lengths in millimetres.
#[derive(Debug, Clone)]
pub struct StripProblem {
    /// What is wanted; every copy has to be placed.
    pub parts: Vec<Part>,
    /// Width of the roll, along y.
    pub width: f64,
    /// Least distance between two finished outlines.
    pub gap: f64,
    /// Least distance from the edges of the roll and from the cuts that take the strip off it.
    pub margin: f64,
    /// Direction of the grain on the roll in degrees, x being its length; `None` without grain.
    pub grain_deg: Option<f64>,
    /// How many faces of the material are good: 0, 1 or 2.
    pub good_faces: u8,
}

impl StripProblem {
    /// Without gap, margin or grain, one good face.
    #[must_use]
    pub fn new(parts: Vec<Part>, width: f64) -> Self {
        Self {
            parts,
            width,
            gap: 0.0,
            margin: 0.0,
            grain_deg: None,
            good_faces: 1,
        }
    }

    /// The same parts on one sheet of this length.
    #[must_use]
    pub fn on_sheet(&self, length: f64) -> Problem {
        let mut sheet = Stock::sheet("strip", length, self.width, 1.0, 0);
        sheet.grain_deg = self.grain_deg;
        sheet.good_faces = self.good_faces;
        Problem {
            gap: self.gap,
            margin: self.margin,
            ..Problem::new(self.parts.clone(), vec![sheet], vec![Some(1)])
        }
    }

    /// A length that surely is enough: all parts one after another, at whatever angle.
    fn longest(&self) -> f64 {
        let parts = self.parts.iter().map(|p| {
            let b = p.outline.bounds();
            f64::from(p.quantity) * (b.width().hypot(b.height()) + 2.0 * self.gap + 1.0)
        });
        (parts.sum::<f64>() + 2.0 * self.margin).min(tolerance::LARGEST)
    }
}

/// A strip that holds all parts.
#[derive(Debug, Clone, PartialEq)]
pub struct Strip {
    /// Length of roll it takes, in millimetres, margins included.
    pub length: f64,
    /// No layout of these parts is shorter than this, in millimetres.
    pub least_length: f64,
    /// The parts, in no particular order; the strip begins at the origin.
    pub placed: Vec<PlacedPart>,
}

/// Searches for the shortest strip within `budget`; what is returned has passed the judge.
///
/// The first whole layout comes in milliseconds. Progress is reported with the length in place of the
/// spend. The same problem, seed and steps give the same strip on any number of threads, unless a time limit
/// or `control` stops the search.
///
/// # Errors
/// [`NestError`] when the problem makes no sense, when a part is wider than the roll at every angle
/// allowed or all parts together do not fit on a hundred metres, when the search was stopped before all
/// parts were placed, or when the judge refuses the result.
pub fn nest_strip(
    strip: &StripProblem,
    budget: &Budget,
    control: &Control,
) -> Result<Strip, NestError> {
    if strip.parts.is_empty() {
        return Ok(Strip {
            length: 0.0,
            least_length: 0.0,
            placed: Vec::new(),
        });
    }
    if !(0.0..=tolerance::LARGEST).contains(&strip.width) {
        return Err(NestError::BadLength {
            what: "width of the roll",
            value: strip.width,
        });
    }
    // Before anything is measured on the parts.
    strip.on_sheet(tolerance::LARGEST).check()?;
    let problem = strip.on_sheet(strip.longest());
    problem.check()?;
    let watch = Watch::new(budget, control);
    let mut random = Pcg64Mcg::seed_from_u64(budget.seed);
    // Before the tables, which take a while where parts have many corners.
    let columns = Columns::of_bounds(&problem);
    if let Some(columns) = &columns {
        report(&watch, 0.0, columns.length, 0.0, strip.margin);
    }
    let mut tables = Tables::new(&problem, None);
    let first = first_layout(
        &tables,
        columns,
        strip.margin,
        budget.steps,
        &mut random,
        &watch,
    )?;
    let by_area = first.part_area(&tables) / (strip.width - 2.0 * strip.margin);
    let floor = by_area.max(crate::bound::strip_floor(&problem));
    let grid = Grid::of(&problem, strip.width - 2.0 * strip.margin);
    let floor = grid.map_or(floor, |g| g.raised(floor));
    // Where the grid is finer than the least step of the search it does not matter.
    let grid = grid.filter(|g| g.pitch > COARSE * floor);
    let mut first = first;
    let length = reach(&first, &tables) - strip.margin;
    if let Some(sheet) = sawn(strip, &tables, length, floor, budget, &watch) {
        first = sheet;
    }
    let mut nest = one_layout(first.layout(&tables).placed);
    let length = reach(&first, &tables) - strip.margin;
    report(&watch, 0.0, length, floor, strip.margin);
    let mut start = first;
    // Curved parts are covered closely at the end: as long as the layout changes much, speed counts more.
    let loose = !watch.stopped() && {
        let close = Catalogue::new(&problem, None, &[], Closeness::Close);
        tables.catalogue.covered(&problem) > (1.0 + LOOSE) * close.covered(&problem)
    };
    let whole = if loose { 1.0 - CLOSE_WORK } else { 1.0 };
    let (mut left, mut done) = (1.0, 0.0);
    let mut finer = Vec::new();
    let mut shortest = false;
    for (share, step) in refinements(&problem) {
        if done > 0.0 {
            finer = finer_angles(&problem, &nest, *step);
            tables = Tables::with_angles(&problem, Some(&nest), &finer, Closeness::Usual);
            let Some((sheet, _)) = Nesting::of(&nest, &tables).sheets.pop() else {
                break;
            };
            start = sheet;
        }
        let share = share * whole;
        let clock = watch.part(share / left, done, share);
        let phase = Phase {
            steps: (budget.steps as f64 * share) as u64,
            begin: 0.0,
            end: if loose { RESTLESS_SHARE } else { 1.0 },
        };
        let first = start.clone();
        let sheet;
        let aim = Aim { floor, grid };
        (sheet, shortest) = shortened(strip, &tables, first, aim, phase, &mut random, &clock);
        nest = one_layout(sheet.layout(&tables).placed);
        if shortest || watch.stopped() {
            break;
        }
        (left, done) = (left - share, done + share);
    }
    if loose && !shortest && !watch.stopped() {
        let close = Tables::with_angles(&problem, Some(&nest), &finer, Closeness::Close);
        let clock = watch.part(1.0, done, left);
        let phase = Phase {
            steps: (budget.steps as f64 * left) as u64,
            begin: CLOSE_BEGIN,
            end: 1.0,
        };
        if let Some((mut start, _)) = Nesting::of(&nest, &close).sheets.pop() {
            // What covers take off a bay keeps rows from lying in each other.
            let for_rows = clock.shortened(FIRST_TIME);
            let rows = in_rows(&close, &mut random, &for_rows, &mut row_work(budget.steps));
            if let Some(rows) = rows.filter(|r| reach(r, &close) < reach(&start, &close)) {
                start = rows;
            }
            let aim = Aim::at(floor);
            let (sheet, _) = shortened(strip, &close, start, aim, phase, &mut random, &clock);
            nest = one_layout(sheet.layout(&close).placed);
        }
    }
    let placed = nest.layouts.swap_remove(0).placed;
    judged(strip, &problem, placed, floor + 2.0 * strip.margin)
}

/// Parts on the first piece of stock.
fn one_layout(placed: Vec<PlacedPart>) -> Nest {
    Nest {
        layouts: vec![Layout {
            stock: 0,
            placed,
            saw_cuts: Vec::new(),
            offcuts: Vec::new(),
        }],
        not_placed: Vec::new(),
    }
}

/// Tells how far the search is, and the length without the margins that it has come to and that is proven.
fn report(watch: &Watch, done: f64, length: f64, floor: f64, margin: f64) {
    watch.report(Progress {
        done,
        spend: length + 2.0 * margin,
        least_spend: floor + 2.0 * margin,
        sheets: 1,
        missing: 0,
    });
}

/// How far along the strip parts lie.
fn reach(sheet: &Sheet, tables: &Tables) -> f64 {
    let right = |item: &Item| item.at.x + tables.catalogue.turned[item.pose.turned].width;
    sheet
        .items
        .iter()
        .map(|(_, item)| right(item))
        .fold(0.0, f64::max)
}

/// Part of the search for a strip.
#[derive(Debug, Clone, Copy)]
struct Phase {
    steps: u64,
    /// How far the search is when this begins and ends: in what follows [`RESTLESS_SHARE`] only small steps are taken.
    begin: f64,
    end: f64,
}

/// `first`, made as short as the steps of `phase` allow, and whether it cannot be shorter.
fn shortened(
    strip: &StripProblem,
    tables: &Tables,
    first: Sheet,
    aim: Aim,
    phase: Phase,
    random: &mut Pcg64Mcg,
    watch: &Watch,
) -> (Sheet, bool) {
    let copies = strip
        .parts
        .iter()
        .fold(0, |n: u32, p| n.saturating_add(p.quantity));
    if copies > MOST_MOVED {
        return (first, false);
    }
    let of_size = STREAMS.iter().find(|(most, _)| copies <= *most);
    let first_streams = of_size.map_or(LAST_STREAMS, |(_, n)| *n);
    let mut streams = Vec::with_capacity(first_streams);
    for _ in 0..first_streams {
        let mut random = Pcg64Mcg::seed_from_u64(random.random::<u64>());
        let arena = Arena::new(tables, &[&first], &[], &mut random);
        let squash = arena.map(|a| Squash::new(a, Along::X, strip.margin, aim, true));
        streams.extend(squash.map(|s| (s, random)));
    }
    let mut best = (f64::INFINITY, first);
    let mut used = 0;
    loop {
        for (squash, _) in &mut streams {
            if squash.length() < best.0 {
                best = (squash.length(), squash.sheets().swap_remove(0));
            }
        }
        let by_steps = used as f64 / phase.steps.max(1) as f64;
        let passed = by_steps.max(watch.share_of_time()).min(1.0);
        let done = phase.begin + passed * (phase.end - phase.begin);
        report(watch, passed, best.0, aim.floor, strip.margin);
        let shortest = streams.iter().any(|(squash, _)| squash.is_shortest());
        if shortest || used >= phase.steps || streams.is_empty() || watch.stopped() {
            return (best.1, shortest);
        }
        let halvings = THINNED.iter().filter(|share| done >= **share).count();
        thin(&mut streams, (first_streams >> halvings).max(LAST_STREAMS));
        let round = phase.steps / (LEAST_ROUNDS * first_streams as u64);
        let round = round.clamp(LEAST_ROUND_STEPS, ROUND_STEPS);
        if done >= RESTLESS_SHARE
            && aim.grid.is_none()
            && let Some(leader) = streams
                .iter()
                .map(|(squash, _)| squash)
                .min_by(|a, b| a.length().total_cmp(&b.length()))
                .map(Squash::at_best)
        {
            for (squash, _) in &mut streams {
                squash.take_over(&leader);
            }
        }
        // A single move among intricate shapes may take more than a round.
        let steps = streams.par_iter_mut().map(|(squash, random)| {
            let mut work = Work::of_steps(round);
            squash.run(done, random, watch, &mut work);
            work.steps().max(round)
        });
        used += steps.sum::<u64>();
    }
}

/// Leaves so many streams, those with the shortest strips; of equal ones the first.
fn thin(streams: &mut Vec<(Squash<'_>, Pcg64Mcg)>, left: usize) {
    while streams.len() > left {
        let lengths = streams.iter().map(|(squash, _)| squash.length());
        let worst = lengths.enumerate().max_by(|a, b| a.1.total_cmp(&b.1));
        match worst {
            Some((at, _)) => drop(streams.remove(at)),
            None => return,
        }
    }
}

/// A layout of all parts, in little of what time there is.
///
/// First as rectangles in `columns`, where these are known, or made now, which is there at once, whatever the parts are like; then by their hulls and at last by their
/// true shapes at free corners. Intricate shapes take long for that, so each is broken off when a share of the time is over.
fn first_layout(
    tables: &Tables,
    columns: Option<Columns>,
    margin: f64,
    steps: u64,
    random: &mut Pcg64Mcg,
    watch: &Watch,
) -> Result<Sheet, NestError> {
    let told = columns.is_some();
    let mut best = columns
        .or_else(|| Columns::of_poses(tables))
        .and_then(|c| c.sheet(tables));
    if let Some(sheet) = best.as_ref().filter(|_| !told) {
        report(watch, 0.0, reach(sheet, tables) - margin, 0.0, margin);
    }
    let rough = tables.rough();
    let mut missing = Vec::new();
    for (tables, poses) in [(&rough, ROUGH_POSES), (tables, usize::MAX)] {
        let clock = if best.is_some() {
            watch.part(FIRST_TIME, 0.0, 0.0)
        } else {
            watch.part(1.0, 0.0, 0.0)
        };
        let sheet = at_free_corners(tables, poses, random, &clock);
        missing = tables.problem.parts.iter().map(|p| p.quantity).collect();
        for (_, item) in &sheet.items {
            missing[item.part] -= 1;
        }
        let whole = missing.iter().all(|n| *n == 0);
        let shorter = |b: &Sheet| reach(&sheet, tables) < reach(b, tables);
        if whole && best.as_ref().is_none_or(shorter) {
            best = Some(sheet);
        }
    }
    let clock = watch.part(FIRST_TIME, 0.0, 0.0);
    let rows = in_rows(tables, random, &clock, &mut row_work(steps));
    let best = match (best, rows) {
        (Some(best), Some(rows)) if reach(&rows, tables) < reach(&best, tables) => Some(rows),
        (best, rows) => best.or(rows),
    };
    let Some(best) = best else {
        let part = missing.iter().position(|n| *n > 0).unwrap_or(0);
        let reason = if watch.stopped() {
            "the search was stopped before it was placed; give it more time"
        } else if tables.may_fit(part, 0) {
            "with what lies before it, there is no room for it on 100 m of the roll; nest fewer parts at a time"
        } else {
            "it does not fit on the roll at any angle it may lie at"
        };
        return Err(NestError::BadPart {
            part: tables.problem.parts[part].name.clone(),
            reason: reason.into(),
        });
    };
    Ok(best)
}

/// What looking for rows may take of so many steps.
fn row_work(steps: u64) -> Work {
    let most = (steps as f64 * ROWS_SHARE) as u64;
    Work::of_steps(most.clamp(LEAST_ROWS_STEPS, MOST_ROWS_STEPS))
}

/// All parts, large ones first, as far left as they go.
fn at_free_corners(tables: &Tables, poses: usize, random: &mut Pcg64Mcg, watch: &Watch) -> Sheet {
    let wanted: Vec<u32> = tables.problem.parts.iter().map(|p| p.quantity).collect();
    let mut taste = Taste {
        pull: Pull::LEFT,
        blur: 0.0,
        poses,
        half_turns: false,
        hurry: false,
        random,
    };
    let order = Recipe::plain(tables).order;
    let mut work = Work::of_steps(u64::MAX);
    fill(tables, 0, &order, &wanted, &mut taste, watch, &mut work)
}

/// The strip, once the judge has passed it as a sheet of its length.
fn judged(
    strip: &StripProblem,
    problem: &Problem,
    placed: Vec<PlacedPart>,
    least_length: f64,
) -> Result<Strip, NestError> {
    // The judge's chords may reach a hair beyond the true curve.
    let length = placed
        .iter()
        .map(|p| p.covering(problem).bounds().max.x)
        .fold(0.0, f64::max)
        + strip.margin;
    let nest = one_layout(placed.clone());
    let faults = verify::judge(&strip.on_sheet(length), &nest);
    if faults.is_empty() {
        Ok(Strip {
            length,
            least_length,
            placed,
        })
    } else {
        Err(NestError::Rejected(
            faults.iter().map(ToString::to_string).collect(),
        ))
    }
}

#[cfg(test)]
mod tests;

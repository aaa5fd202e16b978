//! What is left of a layout, and what it is worth.

use crate::break_down::sawn_pieces;
use crate::{Layout, Method, Offcut, PlacedPart, Problem, Stock};
use panelwright_geometry::{
    Bounds, Outline, Placement, Point, Polygon, Region, Side, largest_clear_rectangle,
    largest_rectangle, tolerance,
};
use std::collections::HashMap;
use std::sync::{Arc, PoisonError, RwLock};

/// Chord error of the parts' curves here, in millimetres. The chords lie outside the parts and are
/// cut off at the parts' bounds, so this only costs slivers beside curves; fewer chords are faster.
const CHORD: f64 = 1.0;

/// An offcut that is exactly as wide as the keep rule asks must survive the thinning out of webs,
/// so those are thinned with this much less, in millimetres.
const OPENING_SLACK: f64 = 0.02;

/// An outline with more corners than this is trimmed to a rectangle: nobody files a comb.
const MOST_CORNERS: usize = 12;

/// A rectangle that holds this share of an outline takes its place: the rest would be in the way
/// when the piece is set against a fence.
const ENOUGH_SHARE: f64 = 0.88;

/// With more corners than this in all, parts count with their bounding rectangles where the shape of
/// a larger piece is sought. It is then hardly plain beside the true ones, and finding that out would
/// take ten times as long.
const MOST_TRUE_CORNERS: usize = 160;

/// Most offcuts kept of one layout. A shop that keeps more crumbs than this loses them.
const MOST_KEPT: usize = 12;

/// Least width of a saw cut as an obstacle, in millimetres: a blade of no width takes nothing, but what
/// lies on both sides of its cut is two pieces. Much narrower, and the grid of regions would lose it.
const LEAST_CUT: f64 = 1e-3;

/// Left-overs are listed, though not kept, from this area on, in square millimetres.
const LEAST_LISTED: f64 = 10_000.0;

/// Strips below this width are not listed, in millimetres.
const LEAST_LISTED_WIDTH: f64 = 20.0;

/// Most scrap pieces listed of one layout.
const MOST_LISTED: usize = 8;

/// The left-overs of a free-form layout: first those worth keeping, then larger scrap.
///
/// What no part, kerf, void, flaw or saw cut takes is the free region. Webs narrower than the keep
/// rule's least width fall off; a piece with few corners (an L, a sheet's end) that then holds the
/// rule's rectangle is kept as it is. Of everything else the largest upright rectangles that pass the
/// rule are kept. Kept pieces stay clear of the parts by the gap (at least the kerf) and of each other
/// by the kerf. They are worth their area at the rule's rate, together no more than the stock costs.
///
/// Scrap that holds a rectangle of 0.01 square metres is listed as that rectangle, not kept.
///
/// A window of a part is free where no part is set in; what a break-down leaves beside the blanks is
/// free as well. The layout is taken to be sound. Kept ones and scrap are each sorted by area, largest
/// first.
///
/// # Panics
/// When the layout's indices are not of `problem`.
#[must_use]
pub fn find_offcuts(problem: &Problem, layout: &Layout) -> Vec<Offcut> {
    Finder::new(problem).all(layout)
}

/// What a part takes with the gap round it, in pieces.
type Grown = Arc<Vec<Polygon>>;

/// Finds left-overs of many layouts of one problem: what a part takes with the gap round it is
/// worked out once for each angle.
#[derive(Debug)]
pub(crate) struct Finder<'p> {
    problem: &'p Problem,
    /// Windows of less area are filled: what they leave is neither kept nor listed.
    least_window: f64,
    /// By part and angle (its bits): the part turned, grown, its origin at 0, 0.
    grown: RwLock<HashMap<(usize, u64), Grown>>,
}

impl<'p> Finder<'p> {
    /// Knows nothing yet.
    pub fn new(problem: &'p Problem) -> Self {
        let least = |s: &Stock| s.keep.least().1;
        Self {
            problem,
            least_window: problem.stock.iter().map(least).fold(LEAST_LISTED, f64::min),
            grown: RwLock::default(),
        }
    }

    /// All left-overs, as [`find_offcuts`] tells.
    pub fn all(&self, layout: &Layout) -> Vec<Offcut> {
        let stock = layout.stock(self.problem);
        let mut obstacles = self.obstacles(layout);
        let mut offcuts = self.kept_beside(stock, &mut obstacles);
        for _ in 0..MOST_LISTED {
            let found =
                largest_clear_rectangle(&stock.outline, &obstacles, LEAST_LISTED_WIDTH, 0.0);
            let Some(scrap) = found.filter(|r| r.area() >= LEAST_LISTED) else {
                break;
            };
            obstacles.push(Polygon::from_bounds(scrap.grown(cut_width(self.problem))));
            offcuts.push(Offcut {
                outline: Polygon::from_bounds(scrap),
                kept: false,
                value: 0.0,
            });
        }
        offcuts
    }

    /// Those left-overs that are kept.
    ///
    /// Without any geometry when the stock keeps nothing.
    pub fn kept(&self, layout: &Layout) -> Vec<Offcut> {
        let stock = layout.stock(self.problem);
        if !can_keep(stock) {
            return Vec::new();
        }
        self.kept_beside(stock, &mut self.obstacles(layout))
    }

    fn kept_beside(&self, stock: &Stock, obstacles: &mut Vec<Polygon>) -> Vec<Offcut> {
        let kept = kept_pieces(stock, obstacles, cut_width(self.problem));
        let share = value_share(stock, &kept);
        kept.into_iter()
            .map(|outline| Offcut {
                kept: true,
                value: share * stock.keep.value_of_piece(&outline),
                outline,
            })
            .collect()
    }

    /// What a placed part takes with the gap round it.
    fn part_obstacle(&self, placed: &PlacedPart, clear: f64) -> Vec<Polygon> {
        let outline = &self.problem.parts[placed.part].outline;
        let angle = placed.placement.angle_deg();
        let turned = PlacedPart {
            placement: Placement::new(angle, Point::default()),
            ..*placed
        };
        // A plain rectangle is quicker made than looked up, and then exact.
        if outline.holes.is_empty() && turned.outline(self.problem).is_rectangle(1e-9) {
            let bounds = placed.outline(self.problem).bounds();
            return vec![Polygon::from_bounds(on_grid(bounds.grown(clear)))];
        }
        let key = (placed.part, angle.to_bits());
        // Nothing that holds this lock can panic.
        let known = self
            .grown
            .read()
            .unwrap_or_else(PoisonError::into_inner)
            .get(&key)
            .cloned();
        let grown = known.unwrap_or_else(|| {
            let made = Arc::new(part_obstacle(
                self.problem,
                &turned,
                clear,
                self.least_window,
            ));
            let mut all = self.grown.write().unwrap_or_else(PoisonError::into_inner);
            all.entry(key).or_insert(made).clone()
        });
        let to = Placement::new(0.0, placed.placement.origin);
        grown.iter().map(|polygon| polygon.placed(&to)).collect()
    }

    /// What offcuts must stay out of: parts with the gap round them, flaws and saw cuts.
    fn obstacles(&self, layout: &Layout) -> Vec<Polygon> {
        let problem = self.problem;
        let stock = layout.stock(problem);
        let clear = problem.gap.max(cut_width(problem));
        let mut obstacles: Vec<Polygon> = Vec::with_capacity(layout.placed.len());
        // In an order that does not depend on that of the layout: among equal rectangles the first
        // one is taken, and a layout read back lists its parts otherwise.
        let mut parts: Vec<&PlacedPart> = layout.placed.iter().collect();
        parts.sort_by(|a, b| {
            let (p, q) = (a.placement.origin, b.placement.origin);
            (p.x.total_cmp(&q.x).then(p.y.total_cmp(&q.y))).then(a.part.cmp(&b.part))
        });
        let sawn = sawn_pieces(stock);
        for placed in parts {
            let own = if sawn.is_empty() {
                None
            } else {
                let middle = placed.outline(problem).bounds().center();
                piece_round(&sawn, &Bounds::new(middle, middle))
            };
            for polygon in self.part_obstacle(placed, clear) {
                match own {
                    // The saw has parted it from what lies beyond.
                    Some(own) if !own.contains(&polygon.bounds()) => {
                        let own = Region::from(Polygon::from_bounds(on_grid(*own)));
                        obstacles.append(&mut Region::from(polygon).intersection(&own).polygons());
                    }
                    _ => obstacles.push(polygon),
                }
            }
        }
        let flaws = stock.keep_clear.iter();
        let mut absent: Vec<Polygon> = flaws
            .map(|ring| Polygon::new(ring.clone(), Vec::new()))
            .collect();
        if let Some(plan) = &stock.break_down {
            absent.extend(plan.cuts.iter().map(|cut| {
                let half = 0.5 * cut.kerf.max(LEAST_CUT);
                let strip = Bounds::new(cut.from, cut.to);
                // The blade is wide across its travel only.
                let (x, y) = if strip.width() >= strip.height() {
                    (0.0, half)
                } else {
                    (half, 0.0)
                };
                Polygon::from_bounds(Bounds::new(
                    Point::new(strip.min.x - x, strip.min.y - y),
                    Point::new(strip.max.x + x, strip.max.y + y),
                ))
            }));
        }
        if !absent.is_empty() {
            obstacles.append(&mut Region::covering(&absent, 0.0).polygons());
        }
        obstacles
    }
}

/// What a layout costs: its stock, less the offcuts kept, plus the scrap.
///
/// Offcuts of a piece are never worth more than the piece. Scrap is all of the stock that is neither
/// part nor kept offcut, the kerf included.
///
/// # Panics
/// When the layout's indices are not of `problem`.
#[must_use]
pub fn spend_of(problem: &Problem, layout: &Layout) -> f64 {
    let stock = layout.stock(problem);
    let kept: f64 = layout
        .offcuts
        .iter()
        .filter(|o| o.kept)
        .map(|o| o.value)
        .sum();
    let scrap = stock.outline.area() - layout.part_area(problem) - layout.kept_area();
    stock.cost - kept.min(stock.cost) + scrap.max(0.0) * stock.keep.scrap_cost_per_area
}

/// Whether a piece of `stock` could hold an offcut that its rule keeps. Never wrong when it says no.
pub(crate) fn can_keep(stock: &Stock) -> bool {
    // Only upright rectangles are looked for, and none inside has a side longer than the bounds.
    let bounds = stock.outline.bounds();
    stock.keep.passes(bounds.width(), bounds.height())
}

/// What `kept` is worth by the rule alone.
fn worth(stock: &Stock, kept: &[Polygon]) -> f64 {
    kept.iter()
        .map(|piece| stock.keep.value_of_piece(piece))
        .sum()
}

/// The share of their nominal value that lets `kept` be worth no more than the stock.
fn value_share(stock: &Stock, kept: &[Polygon]) -> f64 {
    let nominal = worth(stock, kept);
    if nominal > stock.cost {
        stock.cost / nominal
    } else {
        1.0
    }
}

/// Width of the cut that frees an offcut.
fn cut_width(problem: &Problem) -> f64 {
    match &problem.method {
        Method::FreeForm => problem.kerf,
        Method::Guillotine(saw) => saw.kerf,
    }
}

/// A placed part grown by `clear`, without windows of less area than `window`; on the grid of regions,
/// so that taking it away from one rounds nothing.
fn part_obstacle(problem: &Problem, placed: &PlacedPart, clear: f64, window: f64) -> Vec<Polygon> {
    let whole = &problem.parts[placed.part].outline;
    let outline = Outline {
        outer: whole.outer.placed(&placed.placement),
        holes: whole
            .holes
            .iter()
            .filter(|h| h.area() >= window)
            .map(|h| h.placed(&placed.placement))
            .collect(),
        marks: Vec::new(),
    };
    let bounds = outline.bounds();
    // Small windows are gone now, and a rectangle may be left.
    if outline.holes.is_empty() && outline.is_rectangle(1e-9) {
        return vec![Polygon::from_bounds(on_grid(bounds.grown(clear)))];
    }
    let coarse = [outline.flatten(CHORD, Side::Covering)];
    if outline
        .rings()
        .flat_map(|r| r.segments())
        .all(|s| !s.is_arc())
    {
        return Region::covering(&coarse, clear).polygons();
    }
    // Where the coarse chords touch an arc, those that are written and judged may be beyond it.
    let grown = Region::covering(&coarse, clear + tolerance::CHORD);
    // The coarse chords reach further beyond an arc than those that are written and judged, but
    // nothing of these reaches beyond their bounds.
    let fine = placed.covering(problem).outer;
    let bounds = Bounds::of_points(fine).unwrap_or(bounds).grown(clear);
    let bounds = Region::from(Polygon::from_bounds(on_grid(bounds)));
    grown.intersection(&bounds).polygons()
}

/// The rectangle with its sides on the grid of regions, where they are not moved outward to it.
fn on_grid(bounds: Bounds) -> Bounds {
    const PER_MM: f64 = 10_000.0;
    // What is on the grid but for rounding stays where it is.
    let down = |v: f64| (v * PER_MM + 1e-3).floor() / PER_MM;
    let up = |v: f64| (v * PER_MM - 1e-3).ceil() / PER_MM;
    Bounds {
        min: Point::new(down(bounds.min.x), down(bounds.min.y)),
        max: Point::new(up(bounds.max.x), up(bounds.max.y)),
    }
}

/// The piece that the saw makes in which `bounds` lie.
fn piece_round<'a>(sawn: &'a [Bounds], bounds: &Bounds) -> Option<&'a Bounds> {
    let mut sawn = sawn.iter();
    sawn.find(|b| b.grown(tolerance::COINCIDENT).contains(bounds))
}

/// The pieces that the stock's rule keeps beside the obstacles, largest first; each becomes an
/// obstacle, with the cut round it.
fn kept_pieces(stock: &Stock, obstacles: &mut Vec<Polygon>, cut: f64) -> Vec<Polygon> {
    if !can_keep(stock) {
        return Vec::new();
    }
    let mut kept = plain_pieces(stock, obstacles);
    // The tool that cuts a piece free does not reach beyond a saw cut.
    let sawn = sawn_pieces(stock);
    let of = |bounds: &Bounds| piece_round(&sawn, bounds);
    for piece in &kept {
        let mut grown = Region::covering(std::slice::from_ref(piece), cut);
        if let Some(own) = of(&piece.bounds()) {
            grown = grown.intersection(&Region::from(Polygon::from_bounds(on_grid(*own))));
        }
        obstacles.append(&mut grown.polygons());
    }
    while kept.len() < MOST_KEPT {
        let found = stock.keep.largest_passing(|width, length| {
            largest_clear_rectangle(&stock.outline, obstacles, width, length)
        });
        let Some(rectangle) = found else {
            break;
        };
        let mut grown = rectangle.grown(cut);
        if let Some(own) = of(&rectangle) {
            let (min, max) = (&mut grown.min, &mut grown.max);
            (min.x, min.y) = (min.x.max(own.min.x), min.y.max(own.min.y));
            (max.x, max.y) = (max.x.min(own.max.x), max.y.min(own.max.y));
        }
        obstacles.push(Polygon::from_bounds(grown));
        kept.push(Polygon::from_bounds(rectangle));
    }
    kept.sort_by(|a, b| b.area().total_cmp(&a.area()));
    kept
}

/// The pieces that are kept as they fall off, being of few corners but not nearly a rectangle.
fn plain_pieces(stock: &Stock, obstacles: &[Polygon]) -> Vec<Polygon> {
    let keep = &stock.keep;
    let sheet = Region::within(std::slice::from_ref(&stock.outline), 0.0);
    let corners: usize = obstacles.iter().map(|o| o.edges().count()).sum();
    let free = if corners <= MOST_TRUE_CORNERS {
        sheet.difference(obstacles)
    } else {
        let boxes: Vec<Polygon> = obstacles
            .iter()
            .map(|o| Polygon::from_bounds(o.bounds()))
            .collect();
        sheet.difference(&boxes)
    };
    let ([least_width, _], least_area) = keep.least();
    let opening = (0.5 * (least_width - OPENING_SLACK)).max(0.0);
    let mut pieces = free.opened(opening).polygons();
    pieces.retain(|piece| {
        piece.holes.is_empty()
            && piece.outer.len() <= MOST_CORNERS
            && piece.area() >= least_area
            && keep
                .largest_passing(|width, length| largest_rectangle(piece, width, length))
                .is_some_and(|r| r.area() < ENOUGH_SHARE * piece.area())
    });
    pieces.sort_by(|a, b| b.area().total_cmp(&a.area()));
    pieces.truncate(MOST_KEPT);
    pieces
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{BreakDown, KeepRule, Part, PlacedPart, SawCut};
    use panelwright_geometry::{Outline, Placement, Ring, clearance};
    use proptest::prelude::*;

    /// A 1000 x 600 sheet that costs 60, keeps 150 x 200 and values it at half its share.
    fn sheet() -> Stock {
        Stock {
            keep: KeepRule {
                least_width: 150.0,
                least_length: 200.0,
                value_per_area: 0.5 * 60.0 / 600_000.0,
                handling: 0.0,
                scrap_cost_per_area: 1e-6,
                ..KeepRule::default()
            },
            ..Stock::sheet("sheet", 1_000.0, 600.0, 60.0, 0)
        }
    }

    fn problem(shapes: Vec<Outline>) -> Problem {
        let parts = shapes
            .into_iter()
            .map(|o| Part::new("part", o, 1))
            .collect();
        Problem {
            gap: 6.0,
            margin: 10.0,
            kerf: 3.175,
            ..Problem::new(parts, vec![sheet()], vec![None])
        }
    }

    fn layout(places: &[(f64, f64, f64)]) -> Layout {
        let place = |(part, &(angle, x, y)): (usize, &(f64, f64, f64))| PlacedPart {
            part,
            placement: Placement::new(angle, Point::new(x, y)),
        };
        Layout {
            stock: 0,
            placed: places.iter().enumerate().map(place).collect(),
            saw_cuts: Vec::new(),
            offcuts: Vec::new(),
        }
    }

    fn kept(problem: &Problem, layout: &Layout) -> Vec<Offcut> {
        let mut found = find_offcuts(problem, layout);
        found.retain(|o| o.kept);
        found
    }

    /// By how much keeping the offcuts of a layout lowers its spend: their value and the scrap cost they spare.
    fn offcut_value(problem: &Problem, layout: &Layout) -> f64 {
        let stock = layout.stock(problem);
        let kept = kept(problem, layout);
        let value: f64 = kept.iter().map(|o| o.value).sum();
        let area: f64 = kept.iter().map(|o| o.outline.area()).sum();
        value + area * stock.keep.scrap_cost_per_area
    }

    #[test]
    fn the_end_of_a_sheet_comes_out_whole() {
        let p = problem(vec![Outline::rectangle(500.0, 580.0)]);
        let l = layout(&[(0.0, 10.0, 10.0)]);
        let found = find_offcuts(&p, &l);
        assert_eq!(found.len(), 1, "{found:?}");
        let b = found[0].outline.bounds();
        assert_eq!(
            (b.min, b.max),
            (Point::new(516.0, 0.0), Point::new(1_000.0, 600.0))
        );
        assert_eq!(found[0].outline.outer.len(), 4);
        // Half of the price share of 484 x 600.
        assert!((found[0].value - 0.5 * 60.0 * 484.0 / 1_000.0).abs() < 1e-9);
        // Cost less value plus scrap: the sheet less part and offcut.
        let with = Layout {
            offcuts: found,
            ..l.clone()
        };
        let scrap = 600_000.0 - 290_000.0 - 484.0 * 600.0;
        let expected = 60.0 - 14.52 + scrap * 1e-6;
        assert!((spend_of(&p, &with) - expected).abs() < 1e-9);
        let without = spend_of(&p, &l);
        assert!((without - offcut_value(&p, &l) - expected).abs() < 1e-9);
    }

    #[test]
    fn a_ragged_edge_beside_it_does_not_spoil_the_end() {
        let fingers: Vec<Outline> = (0..8)
            .map(|i| Outline::rectangle(400.0 + 7.0 * f64::from(i * 5 % 8), 66.0))
            .collect();
        let places: Vec<_> = (0..8)
            .map(|i| (0.0, 10.0, 10.0 + 72.0 * f64::from(i)))
            .collect();
        let p = problem(fingers);
        let found = kept(&p, &layout(&places));
        assert_eq!(found.len(), 1);
        let b = found[0].outline.bounds();
        assert_eq!(
            (b.min, b.max),
            (Point::new(465.0, 0.0), Point::new(1_000.0, 600.0))
        );
        assert_eq!(found[0].outline.outer.len(), 4);
    }

    #[test]
    fn an_l_stays_an_l() {
        let p = problem(vec![Outline::rectangle(400.0, 300.0)]);
        let found = kept(&p, &layout(&[(0.0, 0.0, 0.0)]));
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].outline.outer.len(), 6);
        assert_eq!(found[0].outline.area(), 600_000.0 - 406.0 * 306.0);
    }

    #[test]
    fn the_keep_rule_passes_at_equality() {
        for (length, passes) in [(844.0, true), (844.1, false)] {
            let mut p = problem(vec![Outline::rectangle(length, 600.0)]);
            p.stock[0].keep.least_length = 600.0;
            let found = kept(&p, &layout(&[(0.0, 0.0, 0.0)]));
            assert_eq!(!found.is_empty(), passes, "{length}");
        }
    }

    #[test]
    fn what_holds_a_part_cut_often_is_kept_too() {
        // The end is 149 mm wide, a millimetre less than the rule asks.
        let mut p = problem(vec![Outline::rectangle(845.0, 600.0)]);
        let l = layout(&[(0.0, 0.0, 0.0)]);
        assert!(kept(&p, &l).is_empty());
        for (sides, passes) in [
            ([600.0, 149.0], true),
            ([149.0, 600.0], true),
            ([140.0, 160.0], true),
            ([150.0, 150.0], false),
            ([601.0, 100.0], false),
        ] {
            p.stock[0].keep.or_holds = vec![sides];
            let found = kept(&p, &l);
            assert_eq!(found.len(), usize::from(passes), "{sides:?}");
            let layout = Layout {
                offcuts: found,
                ..l.clone()
            };
            let nest = crate::Nest {
                layouts: vec![layout],
                not_placed: Vec::new(),
            };
            p.margin = 0.0;
            assert_eq!(crate::verify::judge(&p, &nest), [], "{sides:?}");
        }
        // Beside a piece that passes by the rule itself the smaller one is found as well.
        let mut p = problem(vec![Outline::rectangle(600.0, 450.0)]);
        p.stock[0].keep.or_holds = vec![[100.0, 100.0]];
        p.stock[0].keep.least_length = 400.0;
        let areas = kept(&p, &layout(&[(0.0, 0.0, 0.0)]));
        let areas: Vec<f64> = areas.iter().map(|o| o.outline.area()).collect();
        assert_eq!(areas, [600_000.0 - 606.0 * 456.0]);
    }

    #[test]
    fn an_edge_counts_nothing_and_makes_narrow_pieces_worth_less() {
        let rule = KeepRule {
            edge: 10.0,
            ..sheet().keep
        };
        let rate = rule.value_per_area;
        // What is left 10 mm inside of a rectangle.
        let inside = |a: f64, b: f64| rate * (a - 20.0) * (b - 20.0);
        for (a, b) in [(400.0, 100.0), (200.0, 200.0), (1_000.0, 21.0)] {
            let value = rule.value_of_rectangle(a, b);
            assert!((value - inside(a, b)).abs() < 1e-9, "{value} of {a} x {b}");
        }
        // Of an L as well, by hand: 300 x 300 less 200 x 200, 80 mm wide after that.
        let l = [
            (0.0, 0.0),
            (300.0, 0.0),
            (300.0, 100.0),
            (100.0, 100.0),
            (100.0, 300.0),
            (0.0, 300.0),
        ];
        let l = Polygon::new(l.map(|(x, y)| Point::new(x, y)).to_vec(), Vec::new());
        let left = 280.0 * 80.0 + 80.0 * 200.0;
        assert!((rule.value_of_piece(&l) - rate * left).abs() < 1e-9);
        // Never below nothing, and what is lost along voids counts too.
        for (a, b) in [(1_000.0, 15.0), (1_000.0, 20.0), (15.0, 15.0), (1.0, 1.0)] {
            assert_eq!(rule.value_of_rectangle(a, b), 0.0, "{a} x {b}");
        }
        let square = |at: f64, side: f64| {
            let b = Bounds::new(Point::new(at, at), Point::new(at + side, at + side));
            Polygon::from_bounds(b).outer
        };
        let ring = Polygon::new(square(0.0, 200.0), vec![square(50.0, 100.0)]);
        assert_eq!(
            rule.value_of_piece(&ring),
            rate * (30_000.0 - 10.0 * (800.0 + 400.0) + 400.0)
        );
        // A nest counts it so.
        let mut p = problem(vec![Outline::rectangle(500.0, 580.0)]);
        p.stock[0].keep = rule;
        let found = kept(&p, &layout(&[(0.0, 10.0, 10.0)]));
        let expected = inside(484.0, 600.0);
        assert!((found[0].value - expected).abs() < 1e-9);
    }

    #[test]
    fn a_window_counts_when_it_is_empty() {
        let mut frame = Outline::rectangle(900.0, 590.0);
        let window =
            Ring::rounded_rectangle(Point::new(100.0, 100.0), Point::new(600.0, 400.0), 0.0);
        frame.holes.push(window.oriented(false));
        let p = problem(vec![frame, Outline::rectangle(400.0, 250.0)]);
        let mut empty = layout(&[(0.0, 5.0, 5.0)]);
        let found = kept(&p, &empty);
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].outline.area(), 488.0 * 288.0);
        empty.placed.push(PlacedPart {
            part: 1,
            placement: Placement::new(0.0, Point::new(125.0, 125.0)),
        });
        assert!(kept(&p, &empty).is_empty());
    }

    #[test]
    fn flaws_voids_and_saw_cuts_are_no_material() {
        let mut p = problem(vec![Outline::rectangle(100.0, 100.0)]);
        p.stock[0].keep_clear.push(vec![
            Point::new(500.0, -10.0),
            Point::new(510.0, -10.0),
            Point::new(510.0, 610.0),
            Point::new(500.0, 610.0),
        ]);
        let l = layout(&[(0.0, 0.0, 0.0)]);
        let found = kept(&p, &l);
        assert_eq!(found.len(), 2);
        assert_eq!(found[0].outline.area(), 490.0 * 600.0);
        // A break-down: the blank has the part, the other piece is kept without the saw's cut.
        let mut p = problem(vec![Outline::rectangle(560.0, 580.0)]);
        let cut = SawCut {
            from: Point::new(602.0, 0.0),
            to: Point::new(602.0, 600.0),
            kerf: 4.0,
            stage: 1,
        };
        p.stock[0].break_down = Some(BreakDown {
            cuts: vec![cut],
            blanks: vec![Bounds::new(Point::default(), Point::new(600.0, 600.0))],
        });
        let found = kept(&p, &layout(&[(0.0, 10.0, 10.0)]));
        assert_eq!(found.len(), 1);
        assert_eq!(
            found[0].outline.bounds(),
            Bounds::new(Point::new(604.0, 0.0), Point::new(1_000.0, 600.0))
        );
        // What a wider tool takes round the one piece is not lost to the other.
        p.kerf = 9.0;
        let empty = layout(&[]);
        let found = kept(&p, &empty);
        let areas: Vec<f64> = found.iter().map(|o| o.outline.area()).collect();
        assert_eq!(areas, [600.0 * 600.0, 396.0 * 600.0]);
        // Nor what is kept clear round a part beside the cut, and the judge agrees.
        let mut near = layout(&[(0.0, 38.0, 10.0)]);
        p.margin = 2.0;
        near.saw_cuts = vec![cut];
        near.offcuts = kept(&p, &near);
        assert_eq!(near.offcuts[0].outline.area(), 396.0 * 600.0);
        let nest = crate::Nest {
            layouts: vec![near],
            not_placed: Vec::new(),
        };
        assert_eq!(crate::verify::judge(&p, &nest), []);
    }

    #[test]
    fn the_whole_is_never_worth_more_than_the_stock() {
        let mut p = problem(vec![Outline::rectangle(50.0, 50.0)]);
        p.stock[0].keep.value_per_area = 1.0;
        let l = layout(&[(0.0, 10.0, 10.0)]);
        let found = find_offcuts(&p, &l);
        let total: f64 = found.iter().map(|o| o.value).sum();
        assert!((total - 60.0).abs() < 1e-9);
        assert!(
            spend_of(
                &p,
                &Layout {
                    offcuts: found,
                    ..l
                }
            ) >= 0.0
        );
    }

    #[test]
    fn scrap_is_listed_but_not_kept() {
        let mut p = problem(vec![Outline::rectangle(844.2, 600.0)]);
        p.stock[0].keep = KeepRule::default();
        let l = layout(&[(0.0, 0.0, 0.0)]);
        let found = find_offcuts(&p, &l);
        assert_eq!(found.len(), 1);
        assert!(!found[0].kept && found[0].value == 0.0);
        assert!((found[0].outline.area() - 149.8 * 600.0).abs() < 1e-6);
        assert_eq!(offcut_value(&p, &l), 0.0);
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]

        /// Turned parts with round corners on a loose grid, some places left empty.
        #[test]
        fn offcuts_are_clear_of_parts_and_of_each_other(
            cells in proptest::collection::vec((any::<bool>(), 20.0f64..90.0, 20.0f64..90.0, 0.0f64..360.0), 28),
        ) {
            let mut shapes = Vec::new();
            let mut places = Vec::new();
            for (i, (there, w, h, turn)) in cells.into_iter().enumerate() {
                if there {
                    let ring = Ring::rounded_rectangle(Point::new(-0.5 * w, -0.5 * h), Point::new(0.5 * w, 0.5 * h), 9.0);
                    shapes.push(Outline::from_rings(ring, Vec::new()));
                    places.push((turn, 75.0 + 141.0 * (i % 7) as f64, 75.0 + 141.0 * (i / 7) as f64));
                }
            }
            let mut p = problem(shapes);
            p.stock[0].keep.least_width = 100.0;
            p.stock[0].keep.least_length = 100.0;
            let l = layout(&places);
            let found = find_offcuts(&p, &l);
            let parts: Vec<Polygon> = l.placed.iter().map(|q| q.covering(&p)).collect();
            let sheet = Region::from(&p.stock[0].outline);
            for (i, offcut) in found.iter().enumerate() {
                prop_assert!(Region::from(&offcut.outline).without(&sheet).is_empty());
                for part in &parts {
                    // Sides within a ten-millionth of the grid count as on it.
                    prop_assert!(clearance(part, &offcut.outline) >= 6.0 - 1e-6);
                }
                for other in &found[i + 1..] {
                    prop_assert!(clearance(&other.outline, &offcut.outline) >= 3.175 - 1e-6);
                }
                if offcut.kept {
                    prop_assert!(largest_rectangle(&offcut.outline, 100.0, 100.0).is_some());
                    prop_assert!(offcut.outline.outer.len() <= MOST_CORNERS);
                }
            }
            let with = spend_of(&p, &Layout { offcuts: found, ..l.clone() });
            prop_assert!((spend_of(&p, &l) - offcut_value(&p, &l) - with).abs() < 1e-6);
        }
    }
}

//! What is left of a layout, and what it is worth.

use crate::{KeepRule, Layout, Method, Offcut, Problem, Stock};
use panelwright_geometry::{Bounds, Point, Polygon, Region, Side, largest_rectangle};

/// Chord error of the parts' curves here, in millimetres. The chords lie outside the parts, so this
/// only costs a sliver of the offcut, and coarser chords are fewer.
const CHORD: f64 = 0.1;

/// An offcut that is exactly as wide as the keep rule asks must survive the thinning out of webs,
/// so those are thinned with this much less, in millimetres.
const OPENING_SLACK: f64 = 0.02;

/// An outline with more corners than this is trimmed to a rectangle: nobody files a comb.
const MOST_CORNERS: usize = 12;

/// A rectangle that holds this share of an outline takes its place: the rest would be in the way
/// when the piece is set against a fence.
const ENOUGH_SHARE: f64 = 0.88;

/// Most offcuts kept of one layout. A shop that keeps more crumbs than this loses them.
const MOST_KEPT: usize = 12;

/// Left-overs are listed, though not kept, from this area on, in square millimetres.
const LEAST_LISTED: f64 = 10_000.0;

/// Strips below this width are not listed, in millimetres.
const LEAST_LISTED_WIDTH: f64 = 20.0;

/// The left-overs of a free-form layout: first those worth keeping, then larger scrap.
///
/// What no part, kerf, void, flaw or saw cut takes is the free region. Webs narrower than the keep
/// rule's least width fall off, and every piece that then still holds the rule's rectangle is kept:
/// as it is when it has few corners (an L, a sheet's end), else trimmed to its largest upright
/// rectangle and the rest looked at again. Kept pieces stay clear of the parts by the gap (at least
/// the kerf) and of each other by the kerf. They are worth their area at the rule's rate, together no
/// more than the stock costs.
///
/// Scrap that holds a rectangle of 0.01 square metres is listed as that rectangle, not kept.
///
/// A window of a part is free where no part is set in; what a break-down leaves beside the blanks is
/// free as well. The layout is taken to be sound. The order is by area, largest first.
///
/// # Panics
/// When the layout's indices are not of `problem`.
///
/// # Runtime
/// About a millisecond for thirty parts; see [`offcut_value`] for use within a search.
#[must_use]
pub fn find_offcuts(problem: &Problem, layout: &Layout) -> Vec<Offcut> {
    let stock = layout.stock(problem);
    let free = free_region(problem, layout);
    let kept = kept_pieces(&free, &stock.keep, cut_width(problem));
    let share = value_share(stock, &kept);
    let mut offcuts: Vec<Offcut> = kept
        .iter()
        .map(|outline| Offcut {
            outline: outline.clone(),
            kept: true,
            value: share * rate(&stock.keep) * outline.area(),
        })
        .collect();
    let rest = free.without(&Region::covering(&kept, cut_width(problem)));
    let mut scrap: Vec<Bounds> = rest
        .opened(0.5 * LEAST_LISTED_WIDTH)
        .polygons()
        .iter()
        .filter(|piece| piece.area() >= LEAST_LISTED)
        .filter_map(|piece| largest_rectangle(piece, LEAST_LISTED_WIDTH, 0.0))
        .filter(|rectangle| rectangle.area() >= LEAST_LISTED)
        .collect();
    scrap.sort_by(|a, b| b.area().total_cmp(&a.area()));
    offcuts.extend(scrap.into_iter().map(|rectangle| Offcut {
        outline: Polygon::from_bounds(rectangle),
        kept: false,
        value: 0.0,
    }));
    offcuts
}

/// By how much keeping the offcuts of a free-form layout lowers its spend: their value and the
/// scrap cost they spare.
///
/// The same as [`find_offcuts`] followed by [`spend_of`] would show, without the listing of scrap,
/// and without any geometry when the stock keeps nothing.
///
/// # Panics
/// When the layout's indices are not of `problem`.
#[must_use]
pub fn offcut_value(problem: &Problem, layout: &Layout) -> f64 {
    let stock = layout.stock(problem);
    if !can_keep(stock) {
        return 0.0;
    }
    let free = free_region(problem, layout);
    let kept = kept_pieces(&free, &stock.keep, cut_width(problem));
    let area: f64 = kept.iter().map(Polygon::area).sum();
    let value = value_share(stock, &kept) * rate(&stock.keep) * area;
    value + area * stock.keep.scrap_cost_per_area
}

/// What a layout costs: its stock, less the offcuts kept, plus the scrap.
///
/// Offcuts of a piece are never worth more than the piece. Scrap is all of the stock that is neither
/// part nor kept offcut, the kerf included.
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
    // A rectangle inside the stock has no side longer than the stock's bounds.
    let bounds = stock.outline.bounds();
    stock.keep.passes(bounds.width(), bounds.height())
}

/// Value per square millimetre; a rate that is no number is none.
fn rate(keep: &KeepRule) -> f64 {
    if keep.value_per_area.is_finite() {
        keep.value_per_area
    } else {
        0.0
    }
}

/// The share of their nominal value that lets `kept` be worth no more than the stock.
fn value_share(stock: &Stock, kept: &[Polygon]) -> f64 {
    let nominal: f64 = rate(&stock.keep) * kept.iter().map(Polygon::area).sum::<f64>();
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

/// What nothing of the layout takes.
fn free_region(problem: &Problem, layout: &Layout) -> Region {
    let stock = layout.stock(problem);
    let clear = problem.gap.max(cut_width(problem));
    let parts: Vec<Polygon> = layout
        .placed
        .iter()
        .map(|p| p.outline(problem).flatten(CHORD, Side::Covering))
        .collect();
    let mut absent: Vec<Polygon> = stock
        .keep_clear
        .iter()
        .map(|ring| Polygon::new(ring.clone(), Vec::new()))
        .collect();
    if let Some(plan) = &stock.break_down {
        absent.extend(plan.cuts.iter().map(|cut| {
            let half = 0.5 * cut.kerf;
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
    let taken = Region::covering(&parts, clear).union(&Region::covering(&absent, 0.0));
    Region::within(std::slice::from_ref(&stock.outline), 0.0).without(&taken)
}

/// The pieces of the free region that the rule keeps, largest first.
fn kept_pieces(free: &Region, keep: &KeepRule, cut: f64) -> Vec<Polygon> {
    let (width, length) = (keep.least_width, keep.least_length);
    if !(width.is_finite() && length.is_finite()) {
        return Vec::new();
    }
    let opening = (0.5 * (width - OPENING_SLACK)).max(0.0);
    let largest_first = |region: &Region| {
        let mut pieces = region.opened(opening).polygons();
        pieces.retain(|p| p.area() >= width * length);
        pieces.sort_by(|a, b| b.area().total_cmp(&a.area()));
        pieces
    };
    let mut waiting = largest_first(free);
    let mut kept = Vec::new();
    while !waiting.is_empty() && kept.len() < MOST_KEPT {
        let piece = waiting.remove(0);
        let Some(rectangle) = largest_rectangle(&piece, width, length) else {
            continue;
        };
        let plain = piece.holes.is_empty() && piece.outer.len() <= MOST_CORNERS;
        if plain && rectangle.area() < ENOUGH_SHARE * piece.area() {
            kept.push(piece);
            continue;
        }
        let rectangle = Polygon::from_bounds(rectangle);
        let rest =
            Region::from(&piece).without(&Region::covering(std::slice::from_ref(&rectangle), cut));
        kept.push(rectangle);
        waiting.append(&mut largest_first(&rest));
        waiting.sort_by(|a, b| b.area().total_cmp(&a.area()));
    }
    kept.sort_by(|a, b| b.area().total_cmp(&a.area()));
    kept
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{BreakDown, Part, PlacedPart, SawCut};
    use panelwright_geometry::{Outline, Placement, Ring, clearance};
    use proptest::prelude::*;

    /// A 1000 x 600 sheet that costs 60, keeps 150 x 200 and values it at half its share.
    fn sheet() -> Stock {
        Stock {
            keep: KeepRule {
                least_width: 150.0,
                least_length: 200.0,
                value_per_area: 0.5 * 60.0 / 600_000.0,
                scrap_cost_per_area: 1e-6,
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
            let parts: Vec<Polygon> = l.placed.iter().map(|q| q.outline(&p).covering()).collect();
            let sheet = Region::from(&p.stock[0].outline);
            for (i, offcut) in found.iter().enumerate() {
                prop_assert!(Region::from(&offcut.outline).without(&sheet).is_empty());
                for part in &parts {
                    prop_assert!(clearance(part, &offcut.outline) >= 6.0 - 1e-9);
                }
                for other in &found[i + 1..] {
                    prop_assert!(clearance(&other.outline, &offcut.outline) >= 3.175 - 1e-9);
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

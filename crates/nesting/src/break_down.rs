//! Sawing a sheet into blanks that fit a machine's bed.

mod fitted;
mod pieces;

pub use fitted::ForBlanks;
pub(crate) use pieces::sawn_pieces;
pub use pieces::{OnlyUsed, without_idle_cuts};

use crate::guillotine::plain_rectangle;
use crate::{BreakDown, FirstCut, SawCut, SawRules, Stock};
use panelwright_geometry::{Bounds, Point, tolerance};
use pieces::Piece;
use std::cmp::Ordering;

/// A sheet of more than so many times the bed's area is not sawn for it.
const MOST_BEDS: f64 = 1_000.0;

/// Most plans offered for one sheet. A search tries each of them as stock of its own.
const MOST_PLANS: usize = 8;

/// Plans that divide the whole sheet, before those that take off a single blank are offered too.
const MOST_WHOLE: usize = 6;

/// Plans with strips as wide as parts need them, offered besides the others.
const MOST_FITTED: usize = 3;

/// Blanks that such a plan may have beyond those of the plainest: each has to be sawn, carried and laid, which the spend
/// does not tell.
const MORE_BLANKS: usize = 1;

/// How a piece of stock comes to lie on a machine's bed.
#[derive(Debug, Clone, PartialEq)]
pub enum BedFit {
    /// It fits as it is, or turned by a quarter: nothing to saw.
    Whole,
    /// It has to be sawn first, in one of these ways; at least one, the plainest first.
    Sawn(Vec<BreakDown>),
    /// There is no way: the saw's longest cuts do not allow it, no blank would be wide enough for
    /// the saw to hold, or the stock is larger than the bed and no plain rectangle.
    Never,
}

impl BedFit {
    /// The ways to saw it; none when it fits whole or not at all.
    #[must_use]
    pub fn plans(self) -> Vec<BreakDown> {
        match self {
            Self::Sawn(plans) => plans,
            Self::Whole | Self::Never => Vec::new(),
        }
    }
}

/// Ways to saw `stock` into blanks that fit `bed` (length, width, in millimetres); a blank may be
/// turned on the bed.
///
/// Each plan is one run of cuts in one direction and one run across them, or just one: pieces as
/// large as the bed with the rest at the end, or equal pieces. Others take a single blank off and
/// leave the rest as it is, for when little is wanted. Every cut runs edge to edge, is no longer than
/// the saw takes, and removes its kerf; the first one runs as the saw's rules say, and there are no more stages than
/// these allow, where the sheet can be sawn so at all. Trims are not made: what lies by the edge keeps the
/// machine's margin. A blank is every piece that fits the bed and is at least [`SawRules::least_strip`] wide;
/// whatever else comes off is left over. Plans are ordered by number of blanks, then of cuts, then by the larger blanks' area, and are all different.
/// A bed of which the sheet has more than a thousand times the area, or that is none, takes nothing.
/// Last come a few with strips as wide as the parts of `wanted` need them, where by a quick trial more of these lie on
/// such blanks than on those of any other plan. They have at most one blank more than the plainest plan for the whole sheet.
#[must_use]
pub fn break_downs(stock: &Stock, bed: (f64, f64), saw: &SawRules, wanted: &ForBlanks) -> BedFit {
    let bounds = stock.outline.bounds();
    let beds = bounds.area() / (bed.0 * bed.1);
    let bed = Bed::new(bed);
    if bed.takes(bounds.width(), bounds.height()) {
        return BedFit::Whole;
    }
    if !(0.0..=MOST_BEDS).contains(&beds) {
        return BedFit::Never;
    }
    let Some(sheet) = plain_rectangle(stock) else {
        return BedFit::Never;
    };
    let mut whole = Vec::new();
    let mut single = Vec::new();
    for across in [false, true] {
        for limit in [bed.long, bed.short] {
            for split in [Split::Full, Split::Equal, Split::First] {
                for second in [Split::Full, Split::Equal] {
                    let list = if matches!(split, Split::First) {
                        &mut single
                    } else {
                        &mut whole
                    };
                    list.extend(plan(sheet, bed, saw, across, limit, &split, &second));
                }
            }
        }
    }
    // A sheet that cannot be sawn in the order that the rules ask for is better sawn in another one than not used.
    let obeys = |plan: &BreakDown| in_order(&plan.cuts, saw);
    let strict = whole.iter().any(obeys);
    for list in [&mut whole, &mut single] {
        if list.iter().any(obeys) {
            list.retain(obeys);
        }
    }
    whole.sort_by(plainer);
    single.sort_by(plainer);
    let fewest = whole.first().map_or(1, |plan| plan.blanks.len());
    let mut plans: Vec<BreakDown> = Vec::new();
    for (list, most) in [(whole, MOST_WHOLE), (single, MOST_PLANS)] {
        for plan in list {
            if plans.len() < most && !plans.iter().any(|p| same(p, &plan)) {
                plans.push(plan);
            }
        }
    }
    let most = fewest + MORE_BLANKS;
    let mut fitted = fitted(sheet, bed, saw, wanted, &plans, most);
    fitted.retain(|plan| !strict || obeys(plan));
    plans.extend(fitted);
    if plans.is_empty() {
        BedFit::Never
    } else {
        BedFit::Sawn(plans)
    }
}

/// The blanks that these `cuts` make of `stock`, as for [`break_downs`]: to go on from sheets that were sawn before, for
/// other parts. `None` when there is nothing to saw, a cut does not run edge to edge of a piece, is too long for the
/// saw or of another kerf or stage, or no blank comes off. The order of stages may be another one than the saw's rules ask for.
#[must_use]
pub fn sawn_as(
    stock: &Stock,
    bed: (f64, f64),
    saw: &SawRules,
    cuts: &[SawCut],
) -> Option<BreakDown> {
    let bed = Bed::new(bed);
    let sheet = plain_rectangle(stock)?;
    if cuts.is_empty() || bed.takes(sheet.width(), sheet.height()) {
        return None;
    }
    let mut whole = Piece::whole(sheet);
    for cut in cuts {
        let made = whole.make(cut)?;
        let as_said = made.stage == cut.stage && (cut.kerf - saw.kerf).abs() <= pieces::SAME;
        if !as_said || made.length > longest(saw, made.across) + tolerance::COINCIDENT {
            return None;
        }
    }
    let is_blank = |b: &Bounds| {
        b.width().min(b.height()) >= saw.least_strip.max(tolerance::COINCIDENT)
            && bed.takes(b.width(), b.height())
    };
    let mut blanks: Vec<Bounds> = whole.last().into_iter().filter(is_blank).collect();
    blanks.sort_by(|a, b| (a.min.x.total_cmp(&b.min.x)).then(a.min.y.total_cmp(&b.min.y)));
    (!blanks.is_empty()).then(|| BreakDown {
        cuts: cuts.to_vec(),
        blanks,
    })
}

/// Plans of at most so many blanks with strips as wide as parts need them that by trial take more parts than any of the
/// `usual` ones, the best first.
fn fitted(
    sheet: Bounds,
    bed: Bed,
    saw: &SawRules,
    wanted: &ForBlanks,
    usual: &[BreakDown],
    most: usize,
) -> Vec<BreakDown> {
    let copies = wanted.copies();
    let all: f64 = copies.iter().map(|(a, b)| a * b).sum();
    let laid = |plan: &BreakDown| wanted.laid(plan, &copies);
    let to_beat = usual.iter().map(laid).fold(0.0, f64::max);
    if to_beat >= all {
        return Vec::new();
    }
    let mut found: Vec<(f64, BreakDown)> = Vec::new();
    for across in [false, true] {
        let length = if across {
            sheet.width()
        } else {
            sheet.height()
        };
        for widths in wanted.widths(&copies, length, bed, saw) {
            let split = Split::At(widths);
            for second in [Split::Full, Split::Equal] {
                let plan = plan(sheet, bed, saw, across, f64::INFINITY, &split, &second);
                let plan = plan.filter(|plan| plan.blanks.len() <= most);
                let more = plan.map(|plan| (laid(&plan), plan));
                found.extend(more.filter(|(area, _)| *area > to_beat));
            }
        }
    }
    found.sort_by(|(a, p), (b, q)| b.total_cmp(a).then(plainer(p, q)));
    let mut plans: Vec<BreakDown> = Vec::new();
    for (_, plan) in found {
        if plans.len() < MOST_FITTED && !plans.iter().any(|p| same(p, &plan)) {
            plans.push(plan);
        }
    }
    plans
}

/// A machine's bed, in no particular position.
#[derive(Debug, Clone, Copy)]
struct Bed {
    long: f64,
    short: f64,
}

impl Bed {
    fn new((a, b): (f64, f64)) -> Self {
        Self {
            long: a.max(b),
            short: a.min(b),
        }
    }

    fn takes(self, a: f64, b: f64) -> bool {
        a.max(b) <= self.long + tolerance::COINCIDENT
            && a.min(b) <= self.short + tolerance::COINCIDENT
    }

    /// The longest that a piece of this width may be; `None` when it is too wide anyway.
    fn length_for(self, width: f64) -> Option<f64> {
        if width <= self.short + tolerance::COINCIDENT {
            Some(self.long)
        } else if width <= self.long + tolerance::COINCIDENT {
            Some(self.short)
        } else {
            None
        }
    }
}

/// How a length is divided.
#[derive(Debug, Clone)]
enum Split {
    /// As long as may be, the rest last.
    Full,
    /// Into as few equal lengths as may be.
    Equal,
    /// One as long as may be, the rest left as it is.
    First,
    /// Into these lengths and the rest.
    At(Vec<f64>),
}

/// Begin and end of the pieces of a length, and where the kerfs of the cuts between them begin.
type Division = (Vec<(f64, f64)>, Vec<f64>);

impl Split {
    /// `length` divided so that nothing but the rest of [`Split::First`] is longer than `limit`.
    /// `None` when there would be no end of pieces.
    fn of(&self, length: f64, limit: f64, kerf: f64) -> Option<Division> {
        if let Self::At(lengths) = self {
            return Some(divided(lengths.iter().copied(), length, kerf));
        }
        if length <= limit + tolerance::COINCIDENT {
            return Some((vec![(0.0, length)], Vec::new()));
        }
        let count = ((length + kerf - tolerance::COINCIDENT) / (limit + kerf)).ceil();
        if !(2.0..=1000.0).contains(&count) {
            return None;
        }
        let step = match self {
            Self::Equal => (length - (count - 1.0) * kerf) / count,
            _ => limit,
        };
        let cuts = match self {
            Self::First => 1,
            _ => count as usize - 1,
        };
        Some(divided(std::iter::repeat_n(step, cuts), length, kerf))
    }
}

/// Pieces of these lengths one after the other, and the rest.
fn divided(lengths: impl Iterator<Item = f64>, length: f64, kerf: f64) -> Division {
    let (mut pieces, mut cuts) = (Vec::new(), Vec::new());
    let mut at = 0.0;
    for piece in lengths {
        pieces.push((at, at + piece));
        cuts.push(at + piece);
        at += piece + kerf;
    }
    if length - at > tolerance::COINCIDENT {
        pieces.push((at, length));
    }
    (pieces, cuts)
}

/// One plan: the sheet divided by `split` at `limit` across (by crosscuts) or along, then each strip
/// the other way by `second`. `None` when a cut is too long or there is no blank.
fn plan(
    sheet: Bounds,
    bed: Bed,
    saw: &SawRules,
    across: bool,
    limit: f64,
    split: &Split,
    second: &Split,
) -> Option<BreakDown> {
    let (length, width) = if across {
        (sheet.width(), sheet.height())
    } else {
        (sheet.height(), sheet.width())
    };
    // A place `main` along the direction of division and `other` across it.
    let place = |main: f64, other: f64| {
        if across {
            Point::new(sheet.min.x + main, sheet.min.y + other)
        } else {
            Point::new(sheet.min.x + other, sheet.min.y + main)
        }
    };
    let half = 0.5 * saw.kerf;
    let (strips, first_cuts) = split.of(length, limit, saw.kerf)?;
    if !first_cuts.is_empty() && width > longest(saw, across) {
        return None;
    }
    let mut down = BreakDown {
        cuts: first_cuts
            .iter()
            .map(|c| SawCut {
                from: place(c + half, 0.0),
                to: place(c + half, width),
                kerf: saw.kerf,
                stage: 1,
            })
            .collect(),
        blanks: Vec::new(),
    };
    for (i, (begin, end)) in strips.into_iter().enumerate() {
        let strip = end - begin;
        let left_as_it_is = matches!(split, Split::First) && i > 0;
        if strip < saw.least_strip || left_as_it_is && !bed.takes(strip, width) {
            continue;
        }
        let Some(longest_blank) = bed.length_for(strip) else {
            continue;
        };
        let (pieces, cuts) = second.of(width, longest_blank, saw.kerf)?;
        if !cuts.is_empty() && strip > longest(saw, !across) {
            return None;
        }
        down.cuts.extend(cuts.iter().map(|c| SawCut {
            from: place(begin, c + half),
            to: place(end, c + half),
            kerf: saw.kerf,
            stage: if first_cuts.is_empty() { 1 } else { 2 },
        }));
        let blanks = pieces
            .into_iter()
            .filter(|(from, to)| to - from >= saw.least_strip)
            .map(|(from, to)| Bounds::new(place(begin, from), place(end, to)));
        down.blanks.extend(blanks);
    }
    (!down.blanks.is_empty() && !down.cuts.is_empty()).then_some(down)
}

/// The longest cut that the saw makes in a direction.
fn longest(saw: &SawRules, across: bool) -> f64 {
    if across {
        saw.longest_crosscut
    } else {
        saw.longest_rip
    }
}

/// Whether the saw may begin with the first of these cuts and has stages enough for all of them.
fn in_order(cuts: &[SawCut], saw: &SawRules) -> bool {
    let across = |cut: &SawCut| (cut.to.x - cut.from.x).abs() < (cut.to.y - cut.from.y).abs();
    let begins = cuts.first().is_none_or(|first| match saw.first_cut {
        FirstCut::Along => !across(first),
        FirstCut::Across => across(first),
        FirstCut::Either => true,
    });
    let stages = cuts.iter().map(|cut| cut.stage).max().unwrap_or(0);
    begins && saw.stages.is_none_or(|limit| stages <= limit)
}

/// Fewer blanks, fewer cuts, more area; else from left to right.
fn plainer(a: &BreakDown, b: &BreakDown) -> Ordering {
    let area = |p: &BreakDown| p.blanks.iter().map(Bounds::area).sum::<f64>();
    (a.blanks.len().cmp(&b.blanks.len()))
        .then(a.cuts.len().cmp(&b.cuts.len()))
        .then(area(b).total_cmp(&area(a)))
}

/// Whether two plans give the same blanks, in whatever order.
fn same(a: &BreakDown, b: &BreakDown) -> bool {
    let near = |p: Point, q: Point| p.distance(q) <= tolerance::JUDGE;
    a.blanks.len() == b.blanks.len()
        && a.blanks.iter().all(|x| {
            b.blanks
                .iter()
                .any(|y| near(x.min, y.min) && near(x.max, y.max))
        })
}

#[cfg(test)]
mod tests {
    use super::*;
    use panelwright_geometry::Polygon;
    use proptest::prelude::*;

    fn sheet(length: f64, width: f64) -> Stock {
        Stock::sheet("sheet", length, width, 1.0, 0)
    }

    fn saw(kerf: f64) -> SawRules {
        SawRules {
            kerf,
            least_strip: 50.0,
            ..SawRules::default()
        }
    }

    /// Sides of the blanks, longer first, largest blank first, to a tenth of a millimetre.
    fn sides(plan: &BreakDown) -> Vec<(f64, f64)> {
        let round = |v: f64| (v * 10.0).round() / 10.0;
        let mut sides: Vec<(f64, f64)> = plan
            .blanks
            .iter()
            .map(|b| (b.width().max(b.height()), b.width().min(b.height())))
            .map(|(a, b)| (round(a), round(b)))
            .collect();
        sides.sort_by(|a, b| b.partial_cmp(a).expect("numbers"));
        sides
    }

    fn none() -> ForBlanks {
        ForBlanks::default()
    }

    #[test]
    fn a_bed_that_is_none_takes_nothing() {
        let sheet = sheet(3_000.0, 1_500.0);
        for bed in [
            (0.0, 0.0),
            (f64::NAN, 1.0),
            (1e-3, 1e-3),
            (10.0, 10.0),
            (-1.0, -1.0),
        ] {
            let fit = break_downs(&sheet, bed, &saw(4.0), &none());
            assert_eq!(fit, BedFit::Never, "{bed:?}");
        }
    }

    #[test]
    fn strips_are_as_wide_as_parts_need_them() {
        // By hand: strips of 690 + 2 x 5 take 530 + 3 + 400 + 2 x 5 along 1000 mm, twice; the rest of 2000 less 1400 and
        // two kerfs of 3.2 takes one that lies the other way.
        let wanted = ForBlanks {
            gap: 3.0,
            margin: 5.0,
            parts: vec![((690.0, 530.0), 3), ((600.0, 400.0), 2)],
        };
        let plans =
            break_downs(&sheet(2000.0, 1000.0), (1200.0, 900.0), &saw(3.2), &wanted).plans();
        let (long, short) = (1000.0, 2000.0 - 2.0 * 703.2);
        let fitted = [(long, 700.0), (long, 700.0), (long, short)]
            .map(|(a, b)| (a, (b * 10.0_f64).round() / 10.0));
        let plan = plans.iter().find(|p| sides(p) == fitted).expect("offered");
        let copies = wanted.copies();
        assert_eq!(
            wanted.laid(plan, &copies),
            3.0 * 690.0 * 530.0 + 2.0 * 600.0 * 400.0
        );
        // Without it no plan takes them all.
        let usual =
            break_downs(&sheet(2000.0, 1000.0), (1200.0, 900.0), &saw(3.2), &none()).plans();
        assert!(usual.iter().all(|p| wanted.laid(p, &copies) < 1.5e6));
    }

    #[test]
    fn cuts_that_no_saw_can_make_are_no_way_to_break_down() {
        let stock = sheet(2000.0, 1000.0);
        let cut = |from: (f64, f64), to: (f64, f64)| SawCut {
            from: Point::new(from.0, from.1),
            to: Point::new(to.0, to.1),
            kerf: 3.2,
            stage: 1,
        };
        let read = |saw: &SawRules, cuts: &[SawCut]| sawn_as(&stock, (1200.0, 900.0), saw, cuts);
        let through = cut((900.0, 0.0), (900.0, 1000.0));
        assert_eq!(
            read(&saw(3.2), std::slice::from_ref(&through))
                .expect("two")
                .blanks
                .len(),
            1
        );
        assert_eq!(
            read(&saw(3.2), &[cut((900.0, 0.0), (900.0, 800.0))]),
            None,
            "ends within"
        );
        assert_eq!(
            read(&saw(3.2), &[cut((900.0, 0.0), (950.0, 1000.0))]),
            None,
            "aslant"
        );
        assert_eq!(read(&saw(3.2), &[]), None);
        let short = SawRules {
            longest_crosscut: 900.0,
            ..saw(3.2)
        };
        assert_eq!(read(&short, &[through]), None, "too long");
    }

    /// A 3 by 4 foot bed (1 inch is 25.4 mm exactly, by the international agreement of 1959).
    const BED: (f64, f64) = (1219.2, 914.4);

    #[test]
    fn a_four_by_eight_foot_sheet_gives_two_full_blanks_and_a_third() {
        let plans = break_downs(&sheet(2438.4, 1219.2), BED, &saw(0.0), &none()).plans();
        let full = [(1219.2, 914.4), (1219.2, 914.4), (1219.2, 609.6)];
        let found = plans.iter().find(|p| sides(p) == full);
        assert_eq!(found.expect("offered").cuts.len(), 2);
        // Two kerfs come off the third.
        let plans = break_downs(&sheet(2438.4, 1219.2), BED, &saw(3.0), &none()).plans();
        let full = [(1219.2, 914.4), (1219.2, 914.4), (1219.2, 603.6)];
        assert!(plans.iter().any(|p| sides(p) == full));
        // And equal thirds: (2438.4 - 2 x 3) / 3 = 810.8.
        assert!(plans.iter().any(|p| sides(p) == [(1219.2, 810.8); 3]));
    }

    #[test]
    fn a_metric_sheet_is_first_ripped_to_the_bed() {
        // 1220 mm is 0.8 mm wider than four feet.
        let plans = break_downs(&sheet(2440.0, 1220.0), BED, &saw(3.2), &none()).plans();
        let full = [(1219.2, 914.4), (1219.2, 914.4), (1219.2, 604.8)];
        let plan = plans.iter().find(|p| sides(p) == full).expect("offered");
        assert_eq!(plan.cuts.len(), 3);
        assert_eq!(plan.cuts[0].from, Point::new(0.0, 1219.2 + 1.6));
        assert!(plans.len() <= MOST_PLANS);
    }

    #[test]
    fn the_saw_limits_the_order() {
        let limited = SawRules {
            longest_rip: 2000.0,
            ..saw(3.2)
        };
        let plans = break_downs(&sheet(2440.0, 1220.0), BED, &limited, &none()).plans();
        assert!(!plans.is_empty());
        for plan in &plans {
            assert_eq!(plan.cuts[0].from.x, plan.cuts[0].to.x, "crosscut first");
        }
        // Where it can be, the first cut runs as it should; where not, the sheet is sawn all the same.
        let firsts = |saw: &SawRules| -> Vec<bool> {
            let plans = break_downs(&sheet(2440.0, 1220.0), BED, saw, &none()).plans();
            let across = |plan: &BreakDown| plan.cuts[0].from.x == plan.cuts[0].to.x;
            plans.iter().map(across).collect()
        };
        let along = SawRules {
            first_cut: FirstCut::Along,
            ..saw(3.2)
        };
        let found = firsts(&along);
        assert!(!found.is_empty() && found.iter().all(|across| !across));
        let found = firsts(&SawRules {
            first_cut: FirstCut::Along,
            ..limited
        });
        assert!(!found.is_empty() && found.iter().all(|across| *across));
        let useless = SawRules {
            longest_rip: 100.0,
            longest_crosscut: 100.0,
            ..saw(3.2)
        };
        assert_eq!(
            break_downs(&sheet(2440.0, 1220.0), BED, &useless, &none()),
            BedFit::Never
        );
    }

    #[test]
    fn what_fits_is_left_whole() {
        assert_eq!(
            break_downs(&sheet(900.0, 1200.0), BED, &saw(3.0), &none()),
            BedFit::Whole
        );
        assert_eq!(
            break_downs(&sheet(1219.2, 914.4), BED, &saw(3.0), &none()),
            BedFit::Whole
        );
        let l = [
            (0.0, 0.0),
            (2000.0, 0.0),
            (2000.0, 500.0),
            (500.0, 500.0),
            (500.0, 900.0),
            (0.0, 900.0),
        ];
        let l = Polygon::new(l.map(|(x, y)| Point::new(x, y)).to_vec(), Vec::new());
        let remnant = Stock::remnant("l", l, 0.0, 0);
        assert_eq!(
            break_downs(&remnant, BED, &saw(3.0), &none()),
            BedFit::Never
        );
    }

    proptest! {
        #[test]
        fn every_blank_fits_and_comes_off(
            length in 300.0..4000.0_f64,
            width in 300.0..2100.0_f64,
            bed in (250.0..1500.0_f64, 250.0..1500.0_f64),
            kerf in 0.0..6.0_f64,
            parts in proptest::collection::vec(((40.0..1500.0_f64, 40.0..900.0_f64), 1..4_u32), 0..6),
        ) {
            let stock = sheet(length, width);
            let wanted = ForBlanks { gap: 3.0, margin: 5.0, parts };
            let plans = match break_downs(&stock, bed, &saw(kerf), &wanted) {
                BedFit::Whole => {
                    let turned = length <= bed.1 && width <= bed.0;
                    prop_assert!(turned || length <= bed.0 && width <= bed.1);
                    return Ok(());
                }
                BedFit::Sawn(plans) => plans,
                BedFit::Never => return Err(TestCaseError::fail("any sheet can be sawn here")),
            };
            for plan in plans {
                // Read back from its cuts it is the same.
                let again = sawn_as(&stock, bed, &saw(kerf), &plan.cuts).expect("it can be sawn");
                prop_assert!(same(&plan, &again));
                let mut pieces = vec![stock.outline.bounds()];
                for cut in &plan.cuts {
                    let across = cut.from.x == cut.to.x;
                    let half = 0.5 * kerf;
                    let met = pieces.iter().position(|b| if across {
                        (b.min.y - cut.from.y).abs() < 1e-6 && (b.max.y - cut.to.y).abs() < 1e-6
                            && cut.from.x - half > b.min.x && cut.from.x - half < b.max.x
                    } else {
                        (b.min.x - cut.from.x).abs() < 1e-6 && (b.max.x - cut.to.x).abs() < 1e-6
                            && cut.from.y - half > b.min.y && cut.from.y - half < b.max.y
                    });
                    let b = pieces.swap_remove(met.expect("each cut runs edge to edge of a piece"));
                    let (mut low, mut high) = (b, b);
                    if across {
                        low.max.x = cut.from.x - half;
                        high.min.x = cut.from.x + half;
                    } else {
                        low.max.y = cut.from.y - half;
                        high.min.y = cut.from.y + half;
                    }
                    pieces.extend([low, high]);
                }
                for blank in &plan.blanks {
                    let (a, b) = (blank.width(), blank.height());
                    prop_assert!(a.min(b) >= 50.0 - 1e-6);
                    prop_assert!(a.max(b) <= bed.0.max(bed.1) + 1e-6 && a.min(b) <= bed.0.min(bed.1) + 1e-6);
                    prop_assert!(pieces.iter().any(|p| p.min.distance(blank.min) < 1e-6 && p.max.distance(blank.max) < 1e-6));
                }
            }
        }
    }
}

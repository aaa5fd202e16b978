//! What saw cuts make of a rectangle, piece by piece.

use crate::{BreakDown, SawCut, Stock};
use panelwright_geometry::{Bounds, Point, Vec2};

/// How far cuts may be from where a piece ends: far above the rounding of what is written, far below what a saw can hold.
pub(super) const SAME: f64 = 1e-3;

/// A piece, and what was made of it.
#[derive(Debug, Clone)]
pub(super) struct Piece {
    pub bounds: Bounds,
    parted: Option<Box<Parted>>,
}

/// A piece parted by one cut.
#[derive(Debug, Clone)]
struct Parted {
    cut: SawCut,
    across: bool,
    /// The left or lower one first.
    sides: [Piece; 2],
}

/// A cut as it was made.
#[derive(Debug, Clone, Copy)]
pub(super) struct Made {
    /// Whether it is a crosscut.
    pub across: bool,
    /// Its length, in millimetres.
    pub length: f64,
    /// Its stage by the cuts that its piece came off by: 1 for the first, one more wherever the direction changes.
    pub stage: u32,
}

impl Piece {
    /// Nothing is cut yet.
    pub fn whole(bounds: Bounds) -> Self {
        let parted = None;
        Self { bounds, parted }
    }

    /// Makes a cut; `None` when it is not upright or runs edge to edge of no piece.
    pub fn make(&mut self, cut: &SawCut) -> Option<Made> {
        let across = near(cut.from.x, cut.to.x);
        if !across && !near(cut.from.y, cut.to.y) {
            return None;
        }
        self.make_within(cut, across, None)
    }

    fn make_within(
        &mut self,
        cut: &SawCut,
        across: bool,
        came: Option<(bool, u32)>,
    ) -> Option<Made> {
        if let Some(parted) = &mut self.parted {
            let stage = stage_after(came, parted.across);
            let came = Some((parted.across, stage));
            let mut sides = parted.sides.iter_mut();
            return sides.find_map(|side| side.make_within(cut, across, came));
        }
        let b = self.bounds;
        let half = 0.5 * cut.kerf;
        let Bounds {
            min: low,
            max: high,
        } = Bounds::new(cut.from, cut.to);
        let meets = if across {
            near(low.y, b.min.y)
                && near(high.y, b.max.y)
                && b.min.x < low.x - half
                && low.x - half < b.max.x
        } else {
            near(low.x, b.min.x)
                && near(high.x, b.max.x)
                && b.min.y < low.y - half
                && low.y - half < b.max.y
        };
        if !meets {
            return None;
        }
        let (mut first, mut second) = (b, b);
        let length = if across {
            first.max.x = low.x - half;
            second.min.x = (low.x + half).min(b.max.x);
            b.height()
        } else {
            first.max.y = low.y - half;
            second.min.y = (low.y + half).min(b.max.y);
            b.width()
        };
        self.parted = Some(Box::new(Parted {
            cut: *cut,
            across,
            sides: [Self::whole(first), Self::whole(second)],
        }));
        let stage = stage_after(came, across);
        Some(Made {
            across,
            length,
            stage,
        })
    }

    /// Those that nothing more was made of.
    pub fn last(&self) -> Vec<Bounds> {
        match &self.parted {
            None => vec![self.bounds],
            Some(parted) => parted.sides.iter().flat_map(Self::last).collect(),
        }
    }

    /// The pieces that parallel cuts make of it, from left to right or from the bottom up, and the first of the cuts. `None` when
    /// nothing was made of it.
    fn row(&self) -> Option<(Vec<&Self>, &SawCut, bool)> {
        let parted = self.parted.as_ref()?;
        let mut row = Vec::new();
        let mut open: Vec<&Self> = parted.sides.iter().rev().collect();
        while let Some(piece) = open.pop() {
            match &piece.parted {
                Some(inner) if inner.across == parted.across => {
                    open.extend(inner.sides.iter().rev())
                }
                _ => row.push(piece),
            }
        }
        Some((row, &parted.cut, parted.across))
    }
}

fn near(a: f64, b: f64) -> bool {
    (a - b).abs() <= SAME
}

fn stage_after(came: Option<(bool, u32)>, across: bool) -> u32 {
    match came {
        None => 1,
        Some((before, stage)) => stage + u32::from(before != across),
    }
}

/// What stock falls into when it is sawn into blanks, blanks and the rest; nothing when it goes to the machine whole.
pub(crate) fn sawn_pieces(stock: &Stock) -> Vec<Bounds> {
    let Some(plan) = &stock.break_down else {
        return Vec::new();
    };
    let mut whole = Piece::whole(stock.outline.bounds());
    for cut in &plan.cuts {
        whole.make(cut);
    }
    whole.last()
}

/// How stock is sawn when only some of its blanks are wanted.
#[derive(Debug, Clone, PartialEq)]
pub struct OnlyUsed {
    /// The cuts that are left, and the blanks that are wanted.
    pub plan: BreakDown,
    /// What each of these blanks was in the plan before, and how far it has moved.
    pub blanks: Vec<(usize, Vec2)>,
}

/// The plan of broken-down stock with those cuts only that the `used` blanks need: of each row of parallel cuts
/// these come first, and what is left of it stays in one piece. A used blank keeps its sides and may move; where all have to
/// `stay`, a row is cut as before up to the last used one.
///
/// `None` when the stock is not broken down, nothing would change, or the cuts do not make the blanks.
///
/// # Panics
/// When `used` is not as long as the list of blanks.
#[must_use]
pub fn without_idle_cuts(stock: &Stock, used: &[bool], stay: bool) -> Option<OnlyUsed> {
    let plan = stock.break_down.as_ref()?;
    assert_eq!(used.len(), plan.blanks.len(), "one for each blank");
    let mut whole = Piece::whole(stock.outline.bounds());
    for cut in &plan.cuts {
        whole.make(cut)?;
    }
    let blank_of = |piece: &Bounds| {
        let mut blanks = plan.blanks.iter();
        blanks.position(|b| {
            near(b.min.x, piece.min.x)
                && near(b.min.y, piece.min.y)
                && near(b.max.x, piece.max.x)
                && near(b.max.y, piece.max.y)
        })
    };
    let mut found = OnlyUsed {
        plan: BreakDown {
            cuts: Vec::new(),
            blanks: Vec::new(),
        },
        blanks: Vec::new(),
    };
    let wanted = |piece: &Bounds| blank_of(piece).filter(|i| used[*i]);
    // Strips come off before any of them is divided.
    let mut open = vec![(&whole, whole.bounds.min)];
    while !open.is_empty() {
        let mut next = Vec::new();
        for (piece, at) in open {
            divide(piece, at, stay, &wanted, &mut found, &mut next);
        }
        open = next;
    }
    let complete = found.blanks.len() == used.iter().filter(|u| **u).count();
    (complete && found.plan.cuts.len() + found.blanks.len() < plan.cuts.len() + plan.blanks.len())
        .then_some(found)
}

/// Takes the wanted pieces off one that now lies at a place, and lists them to be divided in turn.
fn divide<'a>(
    piece: &'a Piece,
    at: Point,
    stay: bool,
    wanted: &dyn Fn(&Bounds) -> Option<usize>,
    found: &mut OnlyUsed,
    next: &mut Vec<(&'a Piece, Point)>,
) {
    let Some((row, cut, across)) = piece.row() else {
        if let Some(i) = wanted(&piece.bounds) {
            let moved = at - piece.bounds.min;
            found
                .plan
                .blanks
                .push(Bounds::new(at, piece.bounds.max + moved));
            found.blanks.push((i, moved));
        }
        return;
    };
    let needed = |piece: &&Piece| piece.last().iter().any(|b| wanted(b).is_some());
    let along = |b: &Bounds| if across { b.width() } else { b.height() };
    let place = |main: f64, other: f64| {
        if across {
            Point::new(at.x + main, at.y + other)
        } else {
            Point::new(at.x + other, at.y + main)
        }
    };
    let other = if across {
        piece.bounds.height()
    } else {
        piece.bounds.width()
    };
    let Some(last) = row.iter().rposition(&needed) else {
        return;
    };
    let mut from = 0.0;
    let mut left = row.len();
    for piece in row[..=last].iter().filter(|p| stay || needed(p)) {
        if needed(piece) {
            next.push((piece, place(from, 0.0)));
        }
        from += along(&piece.bounds);
        left -= 1;
        if left > 0 {
            let middle = from + 0.5 * cut.kerf;
            found.plan.cuts.push(SawCut {
                from: place(middle, 0.0),
                to: place(middle, other),
                ..*cut
            });
            from += cut.kerf;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{FirstCut, ForBlanks, SawRules, break_downs};
    use proptest::prelude::*;

    fn bounds(x: (f64, f64), y: (f64, f64)) -> Bounds {
        Bounds::new(Point::new(x.0, y.0), Point::new(x.1, y.1))
    }

    fn saw() -> SawRules {
        SawRules {
            kerf: 4.0,
            least_strip: 50.0,
            ..SawRules::default()
        }
    }

    /// Three strips of 396 mm across a sheet of 1,196, each two blanks of 298 mm high.
    fn six() -> Stock {
        let stock = Stock::sheet("sheet", 1196.0, 600.0, 1.0, 0);
        let saw = SawRules {
            first_cut: FirstCut::Across,
            ..saw()
        };
        let plans = break_downs(&stock, (396.0, 298.0), &saw, &ForBlanks::default()).plans();
        let plan = plans.into_iter().find(|plan| plan.blanks.len() == 6);
        let break_down = plan.or_else(|| panic!("not offered"));
        Stock {
            break_down,
            ..stock
        }
    }

    #[test]
    fn what_no_part_needs_stays_in_one_piece() {
        let stock = six();
        let blanks = &stock.break_down.as_ref().expect("sawn").blanks;
        // The upper one of the middle strip: by hand the strip comes first and its blank below.
        let is = |b: &Bounds| (b.min.x - 400.0).abs() < 1e-9 && b.min.y > 1.0;
        let used: Vec<bool> = blanks.iter().map(is).collect();
        let only = without_idle_cuts(&stock, &used, false).expect("fewer cuts");
        assert_eq!(only.plan.blanks, [bounds((0.0, 396.0), (0.0, 298.0))]);
        let cut = |from: (f64, f64), to: (f64, f64), stage| SawCut {
            from: Point::new(from.0, from.1),
            to: Point::new(to.0, to.1),
            kerf: 4.0,
            stage,
        };
        let (strip, blank) = (
            cut((398.0, 0.0), (398.0, 600.0), 1),
            cut((0.0, 300.0), (396.0, 300.0), 2),
        );
        assert_eq!(only.plan.cuts, [strip, blank]);
        let old = blanks.iter().position(is).expect("it is there");
        assert_eq!(only.blanks.len(), 1);
        assert_eq!(only.blanks[0].0, old);
        assert!(
            (only.blanks[0].1.x + 400.0).abs() < 1e-9 && (only.blanks[0].1.y + 302.0).abs() < 1e-9
        );
    }

    #[test]
    fn blanks_that_have_to_stay_do() {
        let stock = six();
        let blanks = &stock.break_down.as_ref().expect("sawn").blanks;
        let is = |b: &Bounds| (b.min.x - 400.0).abs() < 1e-9 && b.min.y > 1.0;
        let used: Vec<bool> = blanks.iter().map(is).collect();
        let only = without_idle_cuts(&stock, &used, true).expect("fewer cuts");
        // By hand: both strips before it and beside it come off, the first and the last stay whole.
        assert_eq!(only.plan.cuts.len(), 3);
        assert_eq!(only.plan.blanks, [bounds((400.0, 796.0), (302.0, 600.0))]);
        assert!(only.blanks[0].1.length() < 1e-9);
    }

    #[test]
    fn a_plan_that_is_used_up_stays() {
        let stock = six();
        assert_eq!(without_idle_cuts(&stock, &[true; 6], false), None);
        let whole = Stock::sheet("sheet", 500.0, 500.0, 1.0, 0);
        assert_eq!(without_idle_cuts(&whole, &[], false), None);
    }

    #[test]
    fn stages_are_counted_where_the_direction_changes() {
        let mut piece = Piece::whole(bounds((0.0, 1000.0), (0.0, 600.0)));
        let mut made = |from: (f64, f64), to: (f64, f64)| {
            piece.make(&SawCut {
                from: Point::new(from.0, from.1),
                to: Point::new(to.0, to.1),
                kerf: 2.0,
                stage: 9,
            })
        };
        let stage = |made: Option<Made>| made.map(|m| (m.across, m.length, m.stage));
        assert_eq!(
            stage(made((301.0, 0.0), (301.0, 600.0))),
            Some((true, 600.0, 1))
        );
        assert_eq!(
            stage(made((701.0, 600.0), (701.0, 0.0))),
            Some((true, 600.0, 1))
        );
        assert_eq!(
            stage(made((0.0, 200.0), (300.0, 200.0))),
            Some((false, 300.0, 2))
        );
        assert_eq!(
            stage(made((100.0, 201.0), (100.0, 600.0))),
            Some((true, 399.0, 3))
        );
        assert_eq!(
            stage(made((0.0, 400.0), (300.0, 400.0))),
            None,
            "two pieces"
        );
        assert_eq!(stage(made((500.0, 0.0), (520.0, 600.0))), None, "aslant");
    }

    proptest! {
        #[test]
        fn used_blanks_are_still_made_and_nothing_more_is_cut(
            (length, width) in (300.0..4000.0_f64, 300.0..2100.0_f64),
            bed in (250.0..1500.0_f64, 250.0..1500.0_f64),
            kerf in 0.0..6.0_f64,
            seed in any::<u64>(),
            stay in any::<bool>(),
        ) {
            let saw = SawRules { kerf, ..saw() };
            let sheet = Stock::sheet("sheet", length, width, 1.0, 0);
            for plan in break_downs(&sheet, bed, &saw, &ForBlanks::default()).plans() {
                let used: Vec<bool> = (0..plan.blanks.len()).map(|i| seed >> (i % 64) & 1 == 1).collect();
                let stock = Stock { break_down: Some(plan.clone()), ..sheet.clone() };
                let Some(only) = without_idle_cuts(&stock, &used, stay) else {
                    continue;
                };
                let count = used.iter().filter(|u| **u).count();
                prop_assert_eq!(only.plan.blanks.len(), count);
                // With one blank less, or one cut less at the end of a row.
                prop_assert!(only.plan.cuts.len() <= plan.cuts.len());
                let mut piece = Piece::whole(sheet.outline.bounds());
                for cut in &only.plan.cuts {
                    let made = piece.make(cut);
                    prop_assert!(made.is_some_and(|m| m.stage == cut.stage), "{cut:?}");
                }
                let pieces = piece.last();
                let near = |a: &Bounds, b: &Bounds| a.min.distance(b.min) < 1e-6 && a.max.distance(b.max) < 1e-6;
                for (blank, (old, moved)) in only.plan.blanks.iter().zip(&only.blanks) {
                    prop_assert!(used[*old]);
                    prop_assert!(!stay || moved.length() < 1e-6);
                    let was = plan.blanks[*old];
                    prop_assert!(near(blank, &Bounds::new(was.min + *moved, was.max + *moved)));
                    prop_assert!(pieces.iter().any(|p| near(p, blank)));
                }
                // Every cut parts something with a blank in it from the rest.
                for cut in only.plan.cuts.iter().filter(|_| !stay) {
                    let strip = |b: &Bounds| {
                        let (low, high) = (cut.from, cut.to);
                        let across = (cut.to.x - cut.from.x).abs() < 1e-9;
                        if across {
                            (b.max.x - low.x + 0.5 * kerf).abs() < 1e-6 && b.min.y >= low.y - 1e-6 && b.max.y <= high.y + 1e-6
                        } else {
                            (b.max.y - low.y + 0.5 * kerf).abs() < 1e-6 && b.min.x >= low.x - 1e-6 && b.max.x <= high.x + 1e-6
                        }
                    };
                    prop_assert!(only.plan.blanks.iter().any(strip), "{cut:?} frees nothing");
                }
            }
        }
    }
}

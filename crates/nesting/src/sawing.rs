//! Saw cuts as a person at the saw makes them: which piece lies on the table, how far the fence is from the
//! blade, and what comes off.

use crate::SawCut;
use panelwright_geometry::{Bounds, Point, tolerance};

/// Settings nearer than this, in millimetres, are one: no fence is set more finely.
const SAME_SETTING: f64 = 0.01;

/// One cut at the fence. Pieces are indices into [`Sawing::pieces`].
#[derive(Debug, Clone, PartialEq)]
pub struct FenceCut {
    /// Index of the cut in the list given.
    pub cut: usize,
    /// The piece on the table.
    pub piece: usize,
    /// Whether the blade runs along x.
    pub along_x: bool,
    /// From the fence to the blade, in millimetres: the width of what lies between.
    pub setting: f64,
    /// Width that the blade removes, in millimetres.
    pub kerf: f64,
    /// What lies between fence and blade.
    pub at_fence: usize,
    /// What lies beyond the blade; `None` when the blade takes all of it.
    pub beyond: Option<usize>,
    /// Whether it only trims: nothing wanted lies beyond the blade, and not more than a strip.
    pub trim: bool,
    /// Whether the fence is on the side of the greater coordinate.
    pub fence_far: bool,
}

/// All cuts of one piece of stock.
#[derive(Debug, Clone, PartialEq)]
pub struct Sawing {
    /// Every piece there is at some time, as upright rectangles in the stock's coordinates; the first is the
    /// stock itself.
    pub pieces: Vec<Bounds>,
    /// The cuts in the order given.
    pub cuts: Vec<FenceCut>,
}

impl Sawing {
    /// Follows `cuts` on a stock of these bounds; `wanted` are the rectangles to be freed.
    ///
    /// `None` when a cut is not upright, has a kerf below 0 or none that is a number, or does not part exactly one piece:
    /// the judge then has more to say.
    #[must_use]
    pub fn of(stock: Bounds, cuts: &[SawCut], wanted: &[Bounds]) -> Option<Self> {
        let mut sawing = Self {
            pieces: vec![stock],
            cuts: Vec::with_capacity(cuts.len()),
        };
        // Pieces that no cut has parted yet.
        let mut whole = vec![0];
        for (i, cut) in cuts.iter().enumerate() {
            let along_x = (cut.to.x - cut.from.x).abs() > (cut.to.y - cut.from.y).abs();
            let across = |p: Point| if along_x { p.y } else { p.x };
            let middle = cut.from + (cut.to - cut.from) * 0.5;
            let upright = (across(cut.from) - across(cut.to)).abs() <= tolerance::JUDGE;
            if !upright || cut.kerf < 0.0 || cut.kerf.is_nan() {
                return None;
            }
            // A trim's centre line may lie a little outside.
            let near = Bounds::new(middle, middle).grown(0.5 * cut.kerf + tolerance::JUDGE);
            let here = |p: &usize| sawing.pieces[*p].touches(&near);
            let mut at = whole.iter().enumerate().filter(|(_, p)| here(p));
            let slot = match (at.next(), at.next()) {
                (Some((slot, _)), None) => slot,
                // The blade may graze a neighbour: the piece is then the one whose edges it meets.
                (Some(_), Some(_)) => whole
                    .iter()
                    .position(|p| meets_edges(&sawing.pieces[*p], cut, along_x, middle))?,
                _ => return None,
            };
            let piece = whole.swap_remove(slot);
            let (lower, upper) = sides(&sawing.pieces[piece], across(middle), cut.kerf, along_x);
            let extent = |b: &Bounds| {
                if along_x {
                    (b.min.y, b.max.y)
                } else {
                    (b.min.x, b.max.x)
                }
            };
            let measured = |b: &Option<Bounds>| {
                b.as_ref()
                    .map_or(Measured::Scrap, |b| Measured::of(b, wanted, extent))
            };
            let width = |b: &Option<Bounds>| {
                b.as_ref()
                    .map_or(0.0, |b| if along_x { b.height() } else { b.width() })
            };
            // What must come out right is measured; of two such pieces the narrower, as strips come off
            // one by one. Of two pieces without anything wanted it is the wider.
            let (of_lower, of_upper) = (measured(&lower), measured(&upper));
            let fence_far = match of_lower.cmp(&of_upper) {
                std::cmp::Ordering::Less => true,
                std::cmp::Ordering::Greater => false,
                std::cmp::Ordering::Equal => {
                    let upper_first = width(&upper) < width(&lower) - SAME_SETTING;
                    let wanted = of_lower != Measured::Scrap;
                    upper.is_some() && (lower.is_none() || upper_first == wanted)
                }
            };
            let trim = cut.stage == 0;
            let (first, second) = if fence_far {
                (upper, lower)
            } else {
                (lower, upper)
            };
            let setting = width(&first);
            let at_fence = sawing.pieces.len();
            sawing.pieces.push(first?);
            let beyond = second.map(|b| {
                sawing.pieces.push(b);
                at_fence + 1
            });
            whole.push(at_fence);
            whole.extend(beyond);
            sawing.cuts.push(FenceCut {
                cut: i,
                piece,
                along_x,
                setting,
                kerf: cut.kerf,
                at_fence,
                beyond,
                trim,
                fence_far,
            });
        }
        Some(sawing)
    }

    /// How often the fence is set anew, and how often the saw's direction over the stock changes, the first time of
    /// each counted.
    #[must_use]
    pub fn set_ups(&self) -> (usize, usize) {
        let (mut settings, mut turns) = (0, 0);
        let mut before: Option<&FenceCut> = None;
        for cut in &self.cuts {
            turns += usize::from(before.is_none_or(|b| b.along_x != cut.along_x));
            settings += usize::from(before.is_none_or(|b| !same_setting(b, cut)));
            before = Some(cut);
        }
        (settings, turns)
    }

    /// Pieces that no cut parts.
    pub fn left(&self) -> impl Iterator<Item = usize> {
        let parted: Vec<usize> = self.cuts.iter().map(|c| c.piece).collect();
        (0..self.pieces.len()).filter(move |p| !parted.contains(p))
    }
}

/// How much it matters that a piece comes out as wide as planned, least first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Measured {
    /// Nothing wanted lies in it.
    Scrap,
    /// Something wanted does, and a later cut takes the rest off.
    Loose,
    /// Wanted parts fill it side by side: were it narrower, the last of them would not fit.
    Filled,
    /// A wanted part is as wide as it.
    Sized,
}

impl Measured {
    /// That of `piece`, where `extent` is the range across the blade.
    fn of(piece: &Bounds, wanted: &[Bounds], extent: impl Fn(&Bounds) -> (f64, f64)) -> Self {
        let (low, high) = extent(piece);
        let near = |a: f64, b: f64| (a - b).abs() <= tolerance::JUDGE;
        let room = piece.grown(tolerance::JUDGE);
        let (mut measured, mut at_low, mut at_high) = (Self::Scrap, false, false);
        for part in wanted {
            if !room.contains(&Bounds::new(part.center(), part.center())) {
                continue;
            }
            let (from, to) = extent(part);
            at_low |= near(from, low);
            at_high |= near(to, high);
            let here = if near(from, low) && near(to, high) {
                Self::Sized
            } else {
                Self::Loose
            };
            measured = measured.max(here);
        }
        if at_low && at_high {
            measured.max(Self::Filled)
        } else {
            measured
        }
    }
}

fn same_setting(a: &FenceCut, b: &FenceCut) -> bool {
    a.along_x == b.along_x && (a.setting - b.setting).abs() < SAME_SETTING
}

/// Whether the cut runs from edge to edge of the piece.
fn meets_edges(piece: &Bounds, cut: &SawCut, along_x: bool, middle: Point) -> bool {
    let near = |a: f64, b: f64| (a - b).abs() <= tolerance::JUDGE;
    let (low, high) = if along_x {
        (cut.from.x.min(cut.to.x), cut.from.x.max(cut.to.x))
    } else {
        (cut.from.y.min(cut.to.y), cut.from.y.max(cut.to.y))
    };
    if along_x {
        near(piece.min.x, low)
            && near(piece.max.x, high)
            && (piece.min.y..piece.max.y).contains(&middle.y)
    } else {
        near(piece.min.y, low)
            && near(piece.max.y, high)
            && (piece.min.x..piece.max.x).contains(&middle.x)
    }
}

/// What is left of a piece on both sides of a blade of this width centred at `at`.
fn sides(piece: &Bounds, at: f64, kerf: f64, along_x: bool) -> (Option<Bounds>, Option<Bounds>) {
    let (mut lower, mut upper) = (*piece, *piece);
    let (low, high) = (at - 0.5 * kerf, at + 0.5 * kerf);
    let (has_lower, has_upper) = if along_x {
        (lower.max.y, upper.min.y) = (low, high);
        (low - piece.min.y, piece.max.y - high)
    } else {
        (lower.max.x, upper.min.x) = (low, high);
        (low - piece.min.x, piece.max.x - high)
    };
    let some = |b: Bounds, width: f64| (width > tolerance::JUDGE).then_some(b);
    (some(lower, has_lower), some(upper, has_upper))
}

/// The same cuts in an order that sets the fence and turns the piece less often. Each piece is parted by the same
/// cuts; only which of the pieces lying about is taken next changes. Cuts that [`Sawing::of`] cannot
/// follow stay as they are.
#[must_use]
pub fn in_few_settings(stock: Bounds, cuts: &[SawCut], wanted: &[Bounds]) -> Vec<SawCut> {
    let Some(sawing) = Sawing::of(stock, cuts, wanted) else {
        return cuts.to_vec();
    };
    let mut open = vec![false; sawing.pieces.len()];
    open[0] = true;
    let mut left: Vec<&FenceCut> = sawing.cuts.iter().collect();
    let mut order = Vec::with_capacity(cuts.len());
    let mut before: Option<&FenceCut> = None;
    while !left.is_empty() {
        let ready = |c: &&FenceCut| open[c.piece];
        let alike = |c: &FenceCut| {
            left.iter()
                .filter(|d| ready(d) && same_setting(c, d))
                .count()
        };
        // Trims first, and stage by stage; then the same setting, the same direction, the setting that most pieces wait for.
        let best = (0..left.len())
            .filter(|i| ready(&left[*i]))
            .max_by_key(|i| {
                let c = left[*i];
                (
                    c.trim && c.piece == 0,
                    std::cmp::Reverse(cuts[c.cut].stage),
                    before.is_some_and(|b| same_setting(b, c)),
                    before.is_some_and(|b| b.along_x == c.along_x),
                    alike(c),
                    std::cmp::Reverse(c.cut),
                )
            });
        // Every piece comes from a cut before, so one is always ready.
        let Some(best) = best else {
            return cuts.to_vec();
        };
        let cut = left.remove(best);
        open[cut.at_fence] = true;
        if let Some(beyond) = cut.beyond {
            open[beyond] = true;
        }
        order.push(cuts[cut.cut]);
        before = Some(cut);
    }
    order
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bounds(x0: f64, y0: f64, x1: f64, y1: f64) -> Bounds {
        Bounds::new(Point::new(x0, y0), Point::new(x1, y1))
    }

    #[test]
    fn a_piece_that_parts_fill_is_measured_rather_than_one_with_a_rest() {
        // A strip of 100 with a rest of 12 beside it, and one of 300 for a part of that size.
        let wanted = [bounds(0., 0., 100., 200.), bounds(116., 0., 416., 200.)];
        let cuts = [cut(114., 0., 114., 200., 1), cut(102., 0., 102., 200., 2)];
        let sawing = Sawing::of(bounds(0., 0., 416., 200.), &cuts, &wanted).unwrap();
        let settings: Vec<f64> = sawing.cuts.iter().map(|c| c.setting).collect();
        assert_eq!(settings, [300.0, 100.0]);
        // The same with two parts that fill the second strip only together.
        let wanted = [
            bounds(0., 0., 100., 200.),
            bounds(116., 0., 306., 200.),
            bounds(310., 0., 416., 200.),
        ];
        let sawing = Sawing::of(bounds(0., 0., 416., 200.), &cuts, &wanted).unwrap();
        assert_eq!(sawing.cuts[0].setting, 300.0);
        assert!(sawing.cuts[0].fence_far);
    }

    fn cut(x0: f64, y0: f64, x1: f64, y1: f64, stage: u32) -> SawCut {
        SawCut {
            from: Point::new(x0, y0),
            to: Point::new(x1, y1),
            kerf: 4.0,
            stage,
        }
    }

    /// Two strips of 100 off a sheet of 500 x 300, trimmed below, each parted at 200.
    fn strips() -> (Bounds, Vec<SawCut>, Vec<Bounds>) {
        let cuts = vec![
            cut(0., 6., 500., 6., 0),
            cut(0., 110., 500., 110., 1),
            cut(202., 8., 202., 108., 2),
            cut(0., 214., 500., 214., 1),
            cut(202., 112., 202., 212., 2),
        ];
        let wanted = vec![bounds(0., 8., 200., 108.), bounds(0., 112., 200., 212.)];
        (bounds(0., 0., 500., 300.), cuts, wanted)
    }

    #[test]
    fn settings_are_the_widths_of_what_is_wanted() {
        let (stock, cuts, wanted) = strips();
        let sawing = Sawing::of(stock, &cuts, &wanted).expect("cuts that can be followed");
        let settings: Vec<f64> = sawing.cuts.iter().map(|c| c.setting).collect();
        assert_eq!(settings, [292., 100., 200., 100., 200.]);
        assert_eq!(sawing.set_ups(), (5, 4));
        let left: Vec<(f64, f64)> = sawing
            .left()
            .map(|p| (sawing.pieces[p].width(), sawing.pieces[p].height()))
            .collect();
        assert_eq!(
            left,
            [
                (500., 4.),
                (200., 100.),
                (296., 100.),
                (500., 84.),
                (200., 100.),
                (296., 100.)
            ]
        );
    }

    #[test]
    fn cuts_of_one_setting_come_together() {
        let (stock, cuts, wanted) = strips();
        let better = in_few_settings(stock, &cuts, &wanted);
        let sawing = Sawing::of(stock, &better, &wanted).expect("cuts that can be followed");
        let settings: Vec<f64> = sawing.cuts.iter().map(|c| c.setting).collect();
        assert_eq!(settings, [292., 100., 100., 200., 200.]);
        assert_eq!(sawing.set_ups(), (3, 2));
        let mut sorted = better.clone();
        sorted.sort_by(|a, b| {
            a.from
                .y
                .total_cmp(&b.from.y)
                .then(a.to.y.total_cmp(&b.to.y))
        });
        let mut given = cuts.clone();
        given.sort_by(|a, b| {
            a.from
                .y
                .total_cmp(&b.from.y)
                .then(a.to.y.total_cmp(&b.to.y))
        });
        assert_eq!(sorted, given);
    }

    #[test]
    fn a_cut_beside_every_piece_is_not_followed() {
        let (stock, mut cuts, wanted) = strips();
        cuts.push(cut(0., 400., 500., 400., 1));
        assert_eq!(Sawing::of(stock, &cuts, &wanted), None);
        assert_eq!(in_few_settings(stock, &cuts, &wanted), cuts);
    }

    #[test]
    fn a_blade_of_no_width_is_followed_but_none_that_adds_material() {
        let (stock, cuts, wanted) = strips();
        for (kerf, is_followed) in [(0.0, true), (-4.0, false), (f64::NAN, false)] {
            let mut cuts = cuts.clone();
            cuts[1].kerf = kerf;
            assert_eq!(
                Sawing::of(stock, &cuts, &wanted).is_some(),
                is_followed,
                "{kerf}"
            );
        }
    }
}

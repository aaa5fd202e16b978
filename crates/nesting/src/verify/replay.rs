//! The saw cuts made again, one by one, on what the cuts before left.

use super::Fault;
use super::piece::{Piece, Run, strip_meets};
use crate::{FirstCut, SawCut, SawRules};
use panelwright_geometry::{Bounds, Polygon, tolerance};

/// A saw cut as the blade runs.
#[derive(Debug, Clone, Copy)]
struct Blade {
    run: Run,
    /// Where the centre line lies.
    at: f64,
    /// Half the kerf.
    half: f64,
    /// Where it begins and ends.
    from: f64,
    to: f64,
}

impl Blade {
    /// `None` when the line is not upright or not finite.
    fn of(cut: &SawCut) -> Option<Self> {
        let (dx, dy) = ((cut.to.x - cut.from.x).abs(), (cut.to.y - cut.from.y).abs());
        let in_reach = cut.from.is_finite() && cut.to.is_finite() && dx.max(dy) > tolerance::JUDGE;
        if !in_reach || dx.min(dy) > tolerance::JUDGE {
            return None;
        }
        let run = if dx > dy { Run::Rip } else { Run::Crosscut };
        let (a, b) = (run.along(cut.from), run.along(cut.to));
        Some(Self {
            run,
            at: 0.5 * (run.across(cut.from) + run.across(cut.to)),
            half: 0.5 * cut.kerf,
            from: a.min(b),
            to: a.max(b),
        })
    }

    /// Whether it takes something of the rectangle, or parts it.
    fn hits(&self, b: &Bounds) -> bool {
        let tol = tolerance::JUDGE;
        let (lo, hi) = (self.run.across(b.min), self.run.across(b.max));
        strip_meets(lo, hi, self.at, self.half)
            && self.run.along(b.min) < self.to - tol
            && self.run.along(b.max) > self.from + tol
    }
}

/// What the replay needs to know beside the cuts.
pub(super) struct Saw<'a> {
    pub sheet: usize,
    /// `None` for a break-down, which has no rules in the problem.
    pub rules: Option<&'a SawRules>,
    /// Name and sawn rectangle of each part.
    pub parts: &'a [(&'a str, Bounds)],
    /// How far short of an edge a cut may stop.
    pub slack: f64,
}

impl Saw<'_> {
    /// Makes the cuts on `stock` and tells what is wrong with them. Gives the pieces left, parts and
    /// waste alike. A cut that cannot be made is left out.
    pub(super) fn replay(
        &self,
        stock: &Polygon,
        cuts: &[SawCut],
        faults: &mut Vec<Fault>,
    ) -> Vec<Piece> {
        let mut pieces = vec![Piece::whole(stock)];
        let mut first_stage = match self.rules.map(|r| r.first_cut) {
            Some(FirstCut::Along) => Some(Run::Rip),
            Some(FirstCut::Across) => Some(Run::Crosscut),
            _ => None,
        };
        for (i, cut) in cuts.iter().enumerate() {
            let number = i + 1;
            self.check_kerf(number, cut, faults);
            let Some(blade) = Blade::of(cut).filter(|b| b.half.is_finite() && b.half >= 0.0) else {
                faults.push(Fault::CutNotUpright {
                    sheet: self.sheet,
                    cut: number,
                    from: cut.from,
                    to: cut.to,
                });
                continue;
            };
            for (name, bounds) in self.parts {
                if blade.hits(bounds) {
                    faults.push(Fault::CutThroughPart {
                        sheet: self.sheet,
                        cut: number,
                        part: (*name).to_string(),
                    });
                }
            }
            if cut.stage > 0 && self.rules.is_some() {
                self.check_direction(number, cut.stage, blade.run, &mut first_stage, faults);
            }
            self.make(number, cut, &blade, &mut pieces, faults);
        }
        pieces
    }

    fn check_kerf(&self, number: usize, cut: &SawCut, faults: &mut Vec<Fault>) {
        let blade = self.rules.map(|r| r.kerf);
        let right = match blade {
            Some(blade) => (cut.kerf - blade).abs() <= tolerance::JUDGE,
            None => (0.0..=tolerance::LARGEST).contains(&cut.kerf),
        };
        if !right {
            faults.push(Fault::WrongKerf {
                sheet: self.sheet,
                cut: number,
                kerf: cut.kerf,
                blade,
            });
        }
    }

    /// All cuts of a stage run the same way and successive stages take turns.
    fn check_direction(
        &self,
        number: usize,
        stage: u32,
        run: Run,
        first_stage: &mut Option<Run>,
        faults: &mut Vec<Fault>,
    ) {
        let odd = stage % 2 == 1;
        let first = *first_stage.get_or_insert(if odd { run } else { run.turned() });
        let due = if odd { first } else { first.turned() };
        if due != run {
            faults.push(Fault::StageDirection {
                sheet: self.sheet,
                cut: number,
                stage,
                along_x: due == Run::Rip,
            });
        }
    }

    fn make(
        &self,
        number: usize,
        cut: &SawCut,
        blade: &Blade,
        pieces: &mut Vec<Piece>,
        faults: &mut Vec<Fault>,
    ) {
        let sheet = self.sheet;
        let tol = tolerance::JUDGE;
        let before = pieces.len();
        let mut used_up = Vec::new();
        let mut met = false;
        for i in 0..before {
            let span = pieces[i]
                .span(blade.run, blade.at, blade.half)
                .filter(|(lo, hi)| *lo < blade.to - tol && *hi > blade.from + tol);
            let Some((lo, hi)) = span else {
                continue;
            };
            met = true;
            let short = (blade.from - lo).max(hi - blade.to);
            if short > self.slack {
                faults.push(Fault::CutStopsShort {
                    sheet,
                    cut: number,
                    short,
                });
                continue;
            }
            if let Some(rules) = self.rules {
                let limit = match blade.run {
                    Run::Rip => rules.longest_rip,
                    Run::Crosscut => rules.longest_crosscut,
                };
                if hi - lo > limit + tol {
                    faults.push(Fault::CutTooLong {
                        sheet,
                        cut: number,
                        length: hi - lo,
                        limit,
                    });
                }
            }
            let mut left = pieces[i].beside(blade.run, blade.at - blade.half, false);
            left.extend(pieces[i].beside(blade.run, blade.at + blade.half, true));
            if self.rules.is_some() {
                self.pass_stage(number, cut.stage, blade.run, &pieces[i], &mut left, faults);
            }
            match left.pop() {
                Some(piece) => pieces[i] = piece,
                None => used_up.push(i),
            }
            pieces.extend(left);
        }
        for i in used_up.into_iter().rev() {
            pieces.swap_remove(i);
        }
        if !met {
            faults.push(Fault::CutMeetsNothing { sheet, cut: number });
        }
    }

    /// Writes the stage on the pieces that a cut made, and checks that it was due.
    ///
    /// Stage 0 is for trims. First trims take waste off the edges of the stock. Last trims take
    /// waste off a piece that holds a single part, in the direction of the stage that would come
    /// next; one may also bear the number of the stage after the last allowed one.
    fn pass_stage(
        &self,
        number: usize,
        stage: u32,
        run: Run,
        piece: &Piece,
        left: &mut [Piece],
        faults: &mut Vec<Fault>,
    ) {
        let (sheet, cut) = (self.sheet, number);
        let limit = self.rules.and_then(|r| r.stages);
        let beyond = limit.filter(|limit| stage > *limit);
        if stage > 0 && beyond.is_none() && !piece.finished {
            if stage < piece.stage {
                faults.push(Fault::StageOutOfOrder {
                    sheet,
                    cut,
                    stage,
                    reached: piece.stage,
                });
            }
            for p in left {
                p.stage = stage.max(piece.stage);
                p.run = Some(run);
            }
            return;
        }
        let holding: Vec<usize> = left
            .iter()
            .map(|p| self.parts_in(p))
            .filter(|n| *n > 0)
            .collect();
        let waste_only = holding.len() <= 1;
        let single = waste_only && holding.iter().all(|n| *n == 1);
        let last = piece.stage > 0;
        match beyond {
            Some(limit) if stage != limit + 1 || !single => faults.push(Fault::StageLimit {
                sheet,
                cut,
                stage,
                limit,
            }),
            _ if !waste_only || (last && !single) => {
                faults.push(Fault::TrimPartsParts { sheet, cut });
            }
            _ if last && piece.run == Some(run) => faults.push(Fault::StageDirection {
                sheet,
                cut,
                stage: piece.stage + 1,
                along_x: run == Run::Crosscut,
            }),
            _ => {}
        }
        for p in left {
            p.finished = last;
        }
    }

    /// How many parts have their middle in the piece's bounds.
    fn parts_in(&self, piece: &Piece) -> usize {
        let here = |b: &Bounds| piece.bounds.touches(&Bounds::new(b.center(), b.center()));
        self.parts.iter().filter(|(_, b)| here(b)).count()
    }
}

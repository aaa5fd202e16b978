//! Adding pieces to boards one after the other, and the first whole plans made that way.

use super::cut_tree::{CutTree, Fit, Spot};
use super::model::{Model, Piece};
use super::plan::{Board, Plan};
use super::ruin::below;
use super::saw_plan;
use rand_pcg::Pcg64Mcg;

/// From this many copies of one piece on, they go in by rows rather than one by one, so that
/// thousands of equal panels take no longer than a few hundred different ones.
const ROWS_FROM: u32 = 12;

/// Slack for sums of areas, which are rounded while the sides are not.
const ROUNDING: f64 = 1.0 + 1e-9;

/// A spot and how the piece lies there.
#[derive(Debug, Clone, Copy)]
pub(super) struct Place {
    spot: Spot,
    turned: bool,
}

/// Adds pieces and counts the work.
#[derive(Debug, Default)]
pub(super) struct Filler {
    scratch: CutTree,
    /// When set, one in [`BLINKS`] of all boards and turns is passed over, so that a piece does not
    /// always go to the best spot.
    pub blinks: Option<Pcg64Mcg>,
    /// Nodes looked at so far.
    pub work: u64,
}

/// Of how many looks one is missed. (Skipping the best position at random is the idea of
/// Christiaens and Vanden Berghe 2020, "Slack induction by string removals for vehicle routing
/// problems", there one in a hundred; here only a share of all steps blinks at all.)
const BLINKS: usize = 5;

impl Filler {
    /// The best spot for piece `id` on the boards that `choice` names.
    pub fn spot(
        &mut self,
        model: &Model,
        boards: &[Board],
        choice: impl Iterator<Item = usize>,
        id: usize,
    ) -> Option<(usize, Place)> {
        let piece: &Piece = &model.pieces[id];
        let mut best: Option<Fit> = None;
        let mut found = None;
        let mut work = 2;
        for b in choice {
            let board = &boards[b];
            let source = &model.sources[board.source];
            if board.used + piece.area > source.area * ROUNDING {
                continue;
            }
            work += 2;
            let ways = &source.ways[id];
            for turned in [false, true] {
                let size = piece.lying(turned);
                if !board.tree.may_take(size) || !ways.allows(turned) {
                    continue;
                }
                if let Some(rng) = &mut self.blinks
                    && below(rng, BLINKS) == 0
                {
                    continue;
                }
                let spot = board.tree.best_spot(
                    size,
                    source.size,
                    &model.limits,
                    &mut best,
                    &mut self.scratch,
                );
                work += board.tree.nodes().len() as u64 + 4;
                if let Some(spot) = spot {
                    found = Some((b, Place { spot, turned }));
                }
            }
        }
        self.work += work;
        found
    }

    /// Puts up to `most` copies of piece `id` where [`Self::spot`] said, side by side when more
    /// than one, and returns how many.
    pub fn put(
        &mut self,
        model: &Model,
        board: &mut Board,
        place: Place,
        id: usize,
        most: u32,
    ) -> u32 {
        let Place { spot, turned } = place;
        let piece = &model.pieces[id];
        let sheet = model.sources[board.source].size;
        let size = piece.lying(turned);
        let count = if most > 1 && !model.limits.lengths_matter {
            board.tree.capacity(spot, size, sheet).clamp(1, most)
        } else {
            1
        };
        board
            .tree
            .insert_many(spot, id as u32, turned, size, sheet, count);
        board.used += piece.area * f64::from(count);
        self.work += 2 * board.tree.nodes().len() as u64;
        count
    }

    /// Fills one board from `left`, taking the pieces in `order`.
    pub fn fill(&mut self, model: &Model, board: &mut Board, order: &[usize], left: &mut [u32]) {
        for id in order.iter().copied() {
            while left[id] > 0 {
                let most = if left[id] >= ROWS_FROM { left[id] } else { 1 };
                let boards = std::slice::from_ref(&*board);
                let Some((_, place)) = self.spot(model, boards, std::iter::once(0), id) else {
                    break;
                };
                left[id] -= self.put(model, board, place, id, most);
            }
        }
    }

    /// A whole plan, board by board: each time the board that costs least for what it takes.
    pub fn construct(&mut self, model: &Model, order: &[usize]) -> Plan {
        self.construct_from(model, order, model.wanted(), model.supplies.clone())
    }

    /// [`Self::construct`] for the pieces in `left` and the stock in `supplies`.
    pub fn construct_from(
        &mut self,
        model: &Model,
        order: &[usize],
        left: Vec<u32>,
        mut supplies: Vec<u32>,
    ) -> Plan {
        let mut plan = Plan {
            boards: Vec::new(),
            left,
        };
        // Filled boards by source. They stay good while all that is on them is still wanted.
        let mut filled: Vec<Option<Filled>> = vec![None; model.sources.len()];
        let mut wanted: u64 = plan.left.iter().map(|n| u64::from(*n)).sum();
        while wanted > 0 {
            for (s, source) in model.sources.iter().enumerate() {
                if supplies[source.supply] == 0 {
                    filled[s] = None;
                } else if filled[s]
                    .as_ref()
                    .is_none_or(|f| f.repeats(&plan.left) == 0)
                {
                    filled[s] = self.filled(model, s, order, &plan.left);
                }
            }
            // The best by price for area, and the cheapest that takes all that is left.
            let candidates = || filled.iter().flatten();
            let Some(best) = candidates().min_by(|a, b| a.rate().total_cmp(&b.rate())) else {
                break;
            };
            let last = candidates()
                .filter(|f| f.count == wanted && f.spend <= best.spend)
                .min_by(|a, b| a.spend.total_cmp(&b.spend));
            let next = last.unwrap_or(best);
            // The same board again while there is enough of everything on it.
            let supply = &mut supplies[model.sources[next.board.source].supply];
            let repeats = next.repeats(&plan.left).min(*supply);
            if repeats == 0 {
                break;
            }
            if *supply != u32::MAX {
                *supply -= repeats;
            }
            for (id, n) in &next.content {
                plan.left[*id] -= n * repeats;
            }
            wanted -= next.count * u64::from(repeats);
            self.work += next.board.tree.nodes().len() as u64 * u64::from(repeats);
            let board = next.board.clone();
            plan.boards
                .extend(std::iter::repeat_n(board, repeats as usize));
        }
        plan
    }

    /// A board of source `s` filled from `left`; `None` when it takes nothing.
    fn filled(&mut self, model: &Model, s: usize, order: &[usize], left: &[u32]) -> Option<Filled> {
        let mut board = Board::new(s);
        let mut rest = left.to_vec();
        self.fill(model, &mut board, order, &mut rest);
        if board.tree.is_empty() {
            return None;
        }
        let content: Vec<(usize, u32)> = (0..rest.len())
            .map(|id| (id, left[id] - rest[id]))
            .filter(|(_, n)| *n > 0)
            .collect();
        Some(Filled {
            spend: saw_plan::rests(model, &model.sources[s], &board.tree).spend,
            count: content.iter().map(|(_, n)| u64::from(*n)).sum(),
            content,
            board,
        })
    }
}

/// A board, and what is on it.
#[derive(Debug, Clone)]
struct Filled {
    board: Board,
    /// Pieces and how many of each.
    content: Vec<(usize, u32)>,
    /// How many in all.
    count: u64,
    spend: f64,
}

impl Filled {
    /// Spend per area of the pieces.
    fn rate(&self) -> f64 {
        self.spend / self.board.used
    }

    /// How often all of it can be had from `left`.
    fn repeats(&self, left: &[u32]) -> u32 {
        self.content
            .iter()
            .map(|(id, n)| left[*id] / n)
            .min()
            .unwrap_or(0)
    }
}

/// Orders of pieces worth a try: by area, by the longer and by the shorter side, by both together.
pub(super) fn orders(model: &Model) -> Vec<Vec<usize>> {
    let pieces = &model.pieces;
    let sorted = |key: &dyn Fn(&Piece) -> i64| {
        let mut order: Vec<usize> = (0..pieces.len()).collect();
        order.sort_by_key(|i| (std::cmp::Reverse(key(&pieces[*i])), *i));
        order.sort_by_key(|i| std::cmp::Reverse(model.problem.parts[pieces[*i].part].priority));
        order
    };
    let long = |p: &Piece| p.size[0].max(p.size[1]);
    let short = |p: &Piece| p.size[0].min(p.size[1]);
    let mut orders = vec![
        sorted(&|p| p.area as i64),
        sorted(&long),
        sorted(&short),
        sorted(&|p| p.size[0] + p.size[1]),
    ];
    orders.dedup();
    orders
}

//! Adding pieces to boards one after the other, and the first whole plans made that way.

use super::cut_tree::{CutTree, Fit, Spot};
use super::model::{Model, Piece};
use super::plan::{Board, Plan};
use super::saw_plan;

/// Copies of one piece above this go in rows rather than one by one while a first plan is made, so
/// that thousands of equal panels take no longer than a few hundred different ones.
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
    /// Nodes looked at so far.
    pub work: u64,
}

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
        for b in choice {
            let board = &boards[b];
            let source = &model.sources[board.source];
            if board.used + piece.area > source.area * ROUNDING {
                continue;
            }
            self.work += 2;
            for turned in source.ways[id].each() {
                let size = piece.lying(turned);
                if !board.tree.may_take(size) {
                    continue;
                }
                let spot = board.tree.best_spot(
                    size,
                    source.size,
                    &model.limits,
                    &mut best,
                    &mut self.scratch,
                );
                self.work += board.tree.nodes().len() as u64 + 4;
                if let Some(spot) = spot {
                    found = Some((b, Place { spot, turned }));
                }
            }
        }
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
    fn fill(&mut self, model: &Model, board: &mut Board, order: &[usize], left: &mut [u32]) {
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
        let mut plan = Plan::empty(model);
        let mut supplies = plan.supplies_left(model);
        while plan.left.iter().any(|n| *n > 0) {
            // The best by price for area, and the cheapest that takes all that is left.
            let mut best: Option<(f64, f64, Board)> = None;
            let mut last: Option<(f64, Board)> = None;
            for (s, source) in model.sources.iter().enumerate() {
                if supplies[source.supply] == 0 {
                    continue;
                }
                let mut board = Board::new(s);
                let mut left = plan.left.clone();
                self.fill(model, &mut board, order, &mut left);
                if board.tree.is_empty() {
                    continue;
                }
                let spend = saw_plan::rests(model, source, &board.tree).spend;
                if left.iter().all(|n| *n == 0) && last.as_ref().is_none_or(|l| spend < l.0) {
                    last = Some((spend, board.clone()));
                }
                let rate = spend / board.used;
                if best.as_ref().is_none_or(|b| rate < b.0) {
                    best = Some((rate, spend, board));
                }
            }
            let Some((_, spend, board)) = best else {
                break;
            };
            let board = match last {
                Some((price, last)) if price <= spend => last,
                _ => board,
            };
            let mut content = vec![0; model.pieces.len()];
            board.count_into(&mut content);
            // The same board again while there is enough of everything on it.
            let supply = &mut supplies[model.sources[board.source].supply];
            let repeats = content
                .iter()
                .zip(&plan.left)
                .filter(|(n, _)| **n > 0)
                .map(|(n, left)| left / n)
                .min()
                .unwrap_or(0)
                .min(*supply);
            if repeats == 0 {
                break;
            }
            if *supply != u32::MAX {
                *supply -= repeats;
            }
            for (left, n) in plan.left.iter_mut().zip(&content) {
                *left -= n * repeats;
            }
            self.work += board.tree.nodes().len() as u64 * u64::from(repeats);
            plan.boards
                .extend(std::iter::repeat_n(board, repeats as usize));
        }
        plan
    }
}

/// Orders of pieces worth a try: by area, by the longer and by the shorter side, by both together.
pub(super) fn orders(model: &Model) -> Vec<Vec<usize>> {
    let pieces = &model.pieces;
    let sorted = |key: &dyn Fn(&Piece) -> i64| {
        let mut order: Vec<usize> = (0..pieces.len()).collect();
        order.sort_by_key(|i| (std::cmp::Reverse(key(&pieces[*i])), *i));
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

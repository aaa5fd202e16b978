//! A nest taken up again as a plan: layouts made cut trees once more.

use super::cut_tree::{CutTree, Lying, Made};
use super::length::{Nm, nearest};
use super::model::{Model, Source};
use super::plan::{Board, Plan};
use super::saw_plan;
use crate::{Layout, Nest};
use panelwright_geometry::Placement;

/// The plan that `nest` stands for; `None` when some layout cannot be had as a cut tree of this
/// model, for instance because the saw has fewer stages now.
///
/// Which pieces lie side by side is told by the cuts that run between their parts.
pub(super) fn plan_of(model: &Model, nest: &Nest) -> Option<Plan> {
    let mut plan = Plan::empty(model);
    for layout in &nest.layouts {
        let board = (0..model.sources.len())
            .filter(|s| model.sources[*s].stock == layout.stock)
            .find_map(|s| board(model, s, layout))?;
        let mut counts = vec![0; plan.left.len()];
        board.count_into(&mut counts);
        for (left, n) in plan.left.iter_mut().zip(counts) {
            *left = left.checked_sub(n)?;
        }
        plan.boards.push(board);
    }
    plan.keeps_to_supplies(model).then_some(plan)
}

fn board(model: &Model, index: usize, layout: &Layout) -> Option<Board> {
    let source = &model.sources[index];
    let lying = layout
        .placed
        .iter()
        .map(|placed| {
            let piece = model.pieces.iter().position(|p| p.part == placed.part)?;
            lying(model, source, piece, &placed.placement)
        })
        .collect::<Option<Vec<Lying>>>()?;
    let from = source.usable.corner;
    let cuts: Vec<Made> = layout
        .saw_cuts
        .iter()
        .map(|cut| {
            let ends = [cut.from, cut.to].map(|p| [nearest(p.x - from.x), nearest(p.y - from.y)]);
            let axis = usize::from((cut.to.x - cut.from.x).abs() > (cut.to.y - cut.from.y).abs());
            let across = [ends[0][1 - axis], ends[1][1 - axis]];
            Made {
                axis,
                at: ends[0][axis],
                span: [across[0].min(across[1]), across[0].max(across[1])],
            }
        })
        .collect();
    let (sheet, limits) = (source.size, &model.limits);
    let tree = (0..2)
        .filter(|axis| limits.first.is_none_or(|first| first == *axis))
        .flat_map(|axis| [false, true].map(|whole| (axis, whole)))
        .filter_map(|(axis, whole)| {
            CutTree::of_parts(&lying, &cuts, limits.kerf, axis, sheet, whole)
        })
        .filter(|tree| {
            tree.stages_needed(Some(sheet)) <= limits.stages && tree.lengths_obey(sheet, limits)
        })
        .min_by(|a, b| {
            let spend = |tree: &CutTree| saw_plan::rests(model, source, tree).spend;
            spend(a).total_cmp(&spend(b))
        })?;
    let used = lying.iter().map(|l| model.pieces[l.piece as usize].area);
    Some(Board {
        source: index,
        used: used.sum(),
        tree,
    })
}

/// A part where it lies on the usable rectangle; `None` when it does not lie in it as it may.
fn lying(model: &Model, source: &Source, piece: usize, at: &Placement) -> Option<Lying> {
    let part = &model.problem.parts[model.pieces[piece].part];
    let ways = source.ways[piece];
    let turned = (at.angle_deg() / 90.0).round() as i64 % 2 == 1;
    // A square lies only one way in the model.
    let square = model.pieces[piece].size[0] == model.pieces[piece].size[1];
    let turned = turned && !(square && ways.turned.is_none());
    if turned { ways.turned } else { ways.upright }?;
    let size = model.pieces[piece].lying(turned);
    let min = part.outline.outer.placed(at).bounds().min;
    let corner = [
        nearest(min.x - source.usable.corner.x),
        nearest(min.y - source.usable.corner.y),
    ];
    let inside = (0..2).all(|a| corner[a] >= 0 && corner[a] + size[a] <= source.size[a] + ROUNDING);
    inside.then_some(Lying {
        piece: piece as u32,
        turned,
        at: corner,
        size,
    })
}

/// What coordinates may be off after they were written and read, in nanometres.
pub(super) const ROUNDING: Nm = 10;

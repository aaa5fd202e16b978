//! From a cut tree to a layout: cuts in order, parts in place, and what is left.

use super::cut_tree::{Axis, CutTree, Kind};
use super::length::{Nm, area, mm};
use super::model::{Model, Source, keeps_trimming};
use crate::sawing::in_few_settings;
use crate::{Layout, Offcut, PlacedPart, SawCut};
use panelwright_geometry::{Bounds, Placement, Point, Polygon};

/// Left-overs above this are listed even when they are scrap, in square millimetres: a hundredth
/// of a square metre is about the smallest piece a shop would pick up to look at.
const LISTED_SCRAP: f64 = 10_000.0;

/// What the left-overs of one sheet are worth.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Rests {
    /// Price less kept value less the scrap cost of what is kept.
    pub spend: f64,
    /// Area of the largest left-over that is kept, or failing that of the largest at all.
    pub largest: f64,
    /// Whether the whole content is first cut off as one piece.
    pub wrapped: bool,
}

/// The left-overs of `tree`, sides without kerf.
///
/// `wrapped` cuts the whole content off across the root's axis before dividing it.
fn each_rest(
    tree: &CutTree,
    sheet: [Nm; 2],
    kerf: Nm,
    wrapped: bool,
    mut rest: impl FnMut([Nm; 2]),
) {
    let nodes = tree.nodes();
    let Some(root) = nodes.first() else {
        return;
    };
    let mut whole = sheet;
    if let (true, Kind::Stack(axis)) = (wrapped, root.kind) {
        let mut size = [sheet[0] - kerf, sheet[1] - kerf];
        size[1 - axis] -= root.size[1 - axis];
        rest(size);
        whole[1 - axis] = root.size[1 - axis];
    }
    for (v, node) in nodes.iter().enumerate() {
        let piece = tree.whole(v, whole);
        let axis = match node.kind {
            Kind::Stack(axis) => axis,
            Kind::Part { .. } => match nodes[node.parent as usize].kind {
                Kind::Stack(axis) => 1 - axis,
                Kind::Part { .. } => continue,
            },
        };
        let mut size = piece.map(|side| side - kerf);
        size[axis] -= node.size[axis];
        if size[0] > 0 && size[1] > 0 {
            rest(size);
        }
    }
}

/// Whether the content may be cut off as a whole, across the root's axis, before it is divided.
fn may_wrap(model: &Model, tree: &CutTree, sheet: [Nm; 2]) -> bool {
    let Some(Kind::Stack(axis)) = tree.nodes().first().map(|n| n.kind) else {
        return false;
    };
    let limits = &model.limits;
    limits.first.is_none()
        && sheet[1 - axis] - limits.kerf > tree.nodes()[0].size[1 - axis]
        && (limits.stages == u32::MAX || tree.stages_needed(None) < limits.stages)
        && sheet[axis] - limits.kerf <= limits.longest[axis]
}

/// The better way to leave what is left over.
pub(super) fn rests(model: &Model, source: &Source, tree: &CutTree) -> Rests {
    let stock = &model.problem.stock[source.stock];
    let sheet = source.size;
    let measure = |wrapped: bool| {
        let mut kept = source.trimmings;
        let mut worth = source.trimmings_worth;
        let (mut largest_kept, mut largest) = (0.0_f64, 0.0_f64);
        each_rest(tree, sheet, model.limits.kerf, wrapped, |size| {
            let square = area(size);
            largest = largest.max(square);
            if model.keeps(source, size) {
                kept += square;
                worth += model.worth(source, size);
                largest_kept = largest_kept.max(square);
            }
        });
        // Left-overs are never worth more than their stock.
        let saved = worth.min(stock.cost) + kept * stock.keep.scrap_cost_per_area;
        Rests {
            spend: source.price - saved,
            largest: if largest_kept > 0.0 {
                largest_kept
            } else {
                largest
            },
            wrapped,
        }
    };
    let plain = measure(false);
    if !may_wrap(model, tree, sheet) {
        return plain;
    }
    let wrapped = measure(true);
    let near = (plain.spend - wrapped.spend).abs() <= 1e-9 * plain.spend.abs();
    if wrapped.spend < plain.spend && !near || near && wrapped.largest > plain.largest {
        wrapped
    } else {
        plain
    }
}

/// Length of all cuts of `tree`, trims not counted; `wrapped` as for [`Rests`].
pub(super) fn cutting(tree: &CutTree, sheet: [Nm; 2], kerf: Nm, wrapped: bool) -> Nm {
    let nodes = tree.nodes();
    let Some(root) = nodes.first() else {
        return 0;
    };
    let mut whole = sheet;
    let mut length = 0;
    if let (true, Kind::Stack(axis)) = (wrapped, root.kind) {
        length += sheet[axis] - kerf;
        whole[1 - axis] = root.size[1 - axis];
    }
    for (v, node) in nodes.iter().enumerate() {
        let piece = tree.whole(v, whole);
        // One cut after each child but the last, and after that as well where something is left.
        if v > 0
            && let Kind::Stack(axis) = nodes[node.parent as usize].kind
        {
            length += tree.whole(node.parent as usize, whole)[1 - axis] - kerf;
            if matches!(node.kind, Kind::Part { .. }) && node.size[1 - axis] < piece[1 - axis] {
                length += node.size[axis] - kerf;
            }
        }
        if let Kind::Stack(axis) = node.kind
            && node.size[axis] == piece[axis]
        {
            length -= piece[1 - axis] - kerf;
        }
    }
    length
}

/// A piece that waits to be divided.
struct Waiting {
    node: usize,
    /// Lower left corner, from that of the usable rectangle.
    at: [Nm; 2],
    /// Its sides, without kerf.
    size: [Nm; 2],
    last: Last,
}

/// The direction and the stage of the cuts that a piece came off by; none when it is not cut yet.
type Last = Option<(Axis, u32)>;

/// Writes one layout.
struct Writer<'m> {
    model: &'m Model<'m>,
    source: &'m Source,
    layout: Layout,
}

impl Writer<'_> {
    fn point(&self, at: [Nm; 2]) -> Point {
        let corner = self.source.usable.corner;
        Point::new(corner.x + mm(at[0]), corner.y + mm(at[1]))
    }

    /// The stage of cuts across `axis` on a piece. Levels of the tree on which nothing is cut count for none; where the saw has
    /// to begin the other way, the first stage stays empty.
    fn stage(&self, last: Last, axis: Axis) -> u32 {
        match last {
            None => 1 + u32::from(self.model.limits.first.is_some_and(|first| first != axis)),
            Some((before, stage)) => stage + u32::from(before != axis),
        }
    }

    /// A cut across `axis` through the piece (`at`, `size`); the strip it removes begins at `end`.
    fn cut(&mut self, axis: Axis, at: [Nm; 2], size: [Nm; 2], end: Nm, stage: u32) {
        let (mut from, mut to) = (at, at);
        from[axis] = end;
        to[axis] = end;
        to[1 - axis] += size[1 - axis];
        let half = 0.5 * self.model.rules.kerf;
        let [from, to] = [from, to].map(|p| {
            let p = self.point(p);
            if axis == 0 {
                Point::new(p.x + half, p.y)
            } else {
                Point::new(p.x, p.y + half)
            }
        });
        self.layout.saw_cuts.push(SawCut {
            from,
            to,
            kerf: self.model.rules.kerf,
            stage,
        });
    }

    fn rest(&mut self, at: [Nm; 2], size: [Nm; 2]) {
        if size[0] <= 0 || size[1] <= 0 {
            return;
        }
        let kept = self.model.keeps(self.source, size);
        if !kept && area(size) <= LISTED_SCRAP {
            return;
        }
        let far = self.point([at[0] + size[0], at[1] + size[1]]);
        self.layout.offcuts.push(Offcut {
            outline: Polygon::from_bounds(Bounds::new(self.point(at), far)),
            kept,
            value: 0.0,
        });
    }

    /// Lists what was trimmed off.
    fn trimmings(&mut self) {
        let stock = &self.model.problem.stock[self.source.stock];
        for piece in &self.source.usable.trimmed {
            let kept = keeps_trimming(stock, &self.model.rules, piece);
            if kept || piece.area() > LISTED_SCRAP {
                self.layout.offcuts.push(Offcut {
                    outline: piece.clone(),
                    kept,
                    value: 0.0,
                });
            }
        }
    }

    /// Values what is kept, together never above the stock's cost.
    fn values(&mut self) {
        let stock = &self.model.problem.stock[self.source.stock];
        let cost = stock.cost;
        let mut worth = 0.0;
        for offcut in self.layout.offcuts.iter_mut().filter(|o| o.kept) {
            offcut.value = stock.keep.value_of_piece(&offcut.outline);
            worth += offcut.value;
        }
        if worth > cost {
            let share = cost / worth;
            self.layout
                .offcuts
                .iter_mut()
                .for_each(|o| o.value *= share);
        }
    }

    fn part(&mut self, piece: u32, turned: bool, at: [Nm; 2]) {
        let part = self.model.pieces[piece as usize].part;
        let ways = self.source.ways[piece as usize];
        let angle = if turned { ways.turned } else { ways.upright }.unwrap_or(0.0);
        let turn = Placement::new(angle, Point::default());
        let bounds = self.model.problem.parts[part]
            .outline
            .bounds()
            .corners()
            .map(|c| turn.apply(c));
        let min = bounds
            .iter()
            .fold(Point::new(f64::INFINITY, f64::INFINITY), |m, c| {
                Point::new(m.x.min(c.x), m.y.min(c.y))
            });
        let corner = self.point(at);
        let origin = Point::new(corner.x - min.x, corner.y - min.y);
        self.layout.placed.push(PlacedPart {
            part,
            placement: Placement::new(angle, origin),
        });
    }
}

/// The layout of `tree` on `source`.
pub(super) fn layout(model: &Model, source: &Source, tree: &CutTree) -> Layout {
    let mut writer = Writer {
        model,
        source,
        layout: Layout {
            stock: source.stock,
            placed: Vec::new(),
            saw_cuts: source.usable.trims.clone(),
            offcuts: Vec::new(),
        },
    };
    let nodes = tree.nodes();
    let kerf = model.limits.kerf;
    let mut children: Vec<Vec<usize>> = vec![Vec::new(); nodes.len()];
    for (i, node) in nodes.iter().enumerate().skip(1) {
        children[node.parent as usize].push(i);
    }
    let mut first = Waiting {
        node: 0,
        at: [0; 2],
        size: source.usable.size,
        last: None,
    };
    if let (true, Some(Kind::Stack(axis))) = (
        rests(model, source, tree).wrapped,
        nodes.first().map(|n| n.kind),
    ) {
        let across = 1 - axis;
        let end = nodes[0].size[across] - kerf;
        writer.cut(across, first.at, first.size, end, 1);
        let (mut at, mut size) = (first.at, first.size);
        at[across] = end + kerf;
        size[across] -= end + kerf;
        writer.rest(at, size);
        first.size[across] = end;
        first.last = Some((across, 1));
    }
    // Level by level: all cuts of a stage, then those of the next. A part that needs a last cut to
    // its size waits for the next stage as well.
    let mut level = if nodes.is_empty() {
        Vec::new()
    } else {
        vec![first]
    };
    while !level.is_empty() {
        let mut next = Vec::new();
        for piece in level {
            match nodes[piece.node].kind {
                Kind::Stack(axis) => {
                    divide(
                        &mut writer,
                        tree,
                        &mut children[piece.node],
                        axis,
                        &piece,
                        &mut next,
                    );
                }
                Kind::Part { piece: id, turned } => {
                    // Only its size across the last cuts is too large.
                    let size = nodes[piece.node].size.map(|side| side - kerf);
                    for axis in 0..2 {
                        if piece.size[axis] > size[axis] {
                            let end = piece.at[axis] + size[axis];
                            let stage = writer.stage(piece.last, axis);
                            writer.cut(axis, piece.at, piece.size, end, stage);
                            let (mut at, mut rest) = (piece.at, piece.size);
                            at[axis] = end + kerf;
                            rest[axis] -= size[axis] + kerf;
                            writer.rest(at, rest);
                        }
                    }
                    writer.part(id, turned, piece.at);
                }
            }
        }
        level = next;
    }
    writer.trimmings();
    writer.values();
    let mut layout = writer.layout;
    let problem = model.problem;
    let parts: Vec<Bounds> = layout
        .placed
        .iter()
        .map(|p| p.outline(problem).bounds())
        .collect();
    let stock = layout.stock(problem).outline.bounds();
    layout.saw_cuts = in_few_settings(stock, &layout.saw_cuts, &parts);
    layout
}

/// Divides `piece` along `axis` into its node's `children`, the largest first and equal ones
/// together, which then wait for the next stage.
fn divide(
    writer: &mut Writer,
    tree: &CutTree,
    children: &mut [usize],
    axis: Axis,
    piece: &Waiting,
    next: &mut Vec<Waiting>,
) {
    let nodes = tree.nodes();
    let kerf = writer.model.limits.kerf;
    children.sort_by_key(|c| {
        let node = &nodes[*c];
        let part = match node.kind {
            Kind::Stack(_) => (0, false),
            Kind::Part { piece, turned } => (piece + 1, turned),
        };
        let size = [node.size[axis], node.size[1 - axis]];
        (std::cmp::Reverse(size), part, *c)
    });
    let far = piece.at[axis] + piece.size[axis];
    let stage = writer.stage(piece.last, axis);
    let mut last = piece.last;
    let (mut at, mut size) = (piece.at, piece.size);
    for child in children.iter() {
        let length = nodes[*child].size[axis] - kerf;
        let end = at[axis] + length;
        if end < far {
            size[axis] = far - at[axis];
            writer.cut(axis, at, size, end, stage);
            last = Some((axis, stage));
        }
        size[axis] = length;
        next.push(Waiting {
            node: *child,
            at,
            size,
            last,
        });
        at[axis] = end + kerf;
    }
    size[axis] = far - at[axis];
    writer.rest(at, size);
}

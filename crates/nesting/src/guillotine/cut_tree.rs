//! One sheet's cuts as a tree.
//!
//! Every inner node is a piece that parallel cuts divide along one axis; its children lie side by
//! side along that axis and are divided along the other one, so directions alternate and a level of
//! the tree is a stage of the saw. Leaves are parts. Sizes are tight: along its axis a node needs
//! the sum of its children, across it the largest of them. A node's *room* is what it could grow to
//! with all else staying, which is its parent's room less its siblings' needs; so no list of free
//! rectangles is kept, and the order of siblings means nothing. (The n-ary form and insertion beside
//! any node follow Fleszar 2013, "Three insertion heuristics and a justification improvement
//! heuristic for two-dimensional bin packing with guillotine cuts".)
//!
//! The kerf is in the sizes: parts and sheet are enlarged by one kerf to the right and upwards, which
//! is exact, since n parts side by side have n - 1 kerfs between them.

use super::cutting::Cutting;
use super::length::Nm;
use super::taken_up::ROUNDING;

/// Axis along which pieces lie side by side: 0 for x (crosscuts part them), 1 for y (rips do).
pub(super) type Axis = usize;

/// What a node is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    /// A piece that is divided along this axis.
    Stack(Axis),
    /// A part.
    Part {
        /// Index into the model's pieces.
        piece: u32,
        /// Whether it lies at a quarter turn.
        turned: bool,
    },
}

/// A node. Parents come before their children.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Node {
    /// Index of the parent; 0 for the root, which has none.
    pub parent: u32,
    /// Cuts between the sheet and this node.
    pub depth: u32,
    /// What it is.
    pub kind: Kind,
    /// Tight size, one kerf included each way.
    pub size: [Nm; 2],
}

/// A part where it lies on a sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Lying {
    /// Index into the model's pieces.
    pub piece: u32,
    /// Whether it lies at a quarter turn.
    pub turned: bool,
    /// Lower left corner.
    pub at: [Nm; 2],
    /// Size as it lies, one kerf included each way.
    pub size: [Nm; 2],
}

/// A cut that was made on a sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Made {
    /// The axis along which it parts pieces.
    pub axis: Axis,
    /// Where its centre line is, along that axis.
    pub at: Nm,
    /// From where to where it runs, across that axis.
    pub span: [Nm; 2],
}

/// Where a part may be added.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Spot {
    /// First part of an empty sheet, the root divided along this axis.
    First(Axis),
    /// As a further child of this inner node.
    Into(usize),
    /// Beside this leaf, across its parent's axis.
    Beside(usize),
    /// Beside everything, across the root's axis.
    Around,
}

/// The saw's limits as the tree needs them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Limits {
    /// The kerf, which sizes include.
    pub kerf: Nm,
    /// Most stages.
    pub stages: u32,
    /// Axis of the root when the first cut is prescribed.
    pub first: Option<Axis>,
    /// Longest cut parallel to x and to y.
    pub longest: [Nm; 2],
    /// Whether some sheet is larger than `longest`, so that lengths need a look.
    pub lengths_matter: bool,
}

/// Leftover of the shorter, then of the longer side at a spot; less is better.
pub(super) type Fit = (Nm, Nm);

/// Bounds on what the spots of a tree can take, so that a full sheet is passed over at a glance.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct Gaps {
    /// Longest along x and along y.
    longest: [Nm; 2],
    /// Largest of the shorter sides.
    shorter: Nm,
    /// Largest area, in square nanometres.
    area: f64,
}

impl Gaps {
    fn note(&mut self, left: [Nm; 2]) {
        // Without branches: whether there is room is as good as random.
        let [x, y] = left;
        let shorter = x.min(y);
        let room = shorter > 0;
        let [x, y] = if room { [x, y] } else { [0, 0] };
        self.longest[0] = self.longest[0].max(x);
        self.longest[1] = self.longest[1].max(y);
        self.shorter = self.shorter.max(shorter);
        self.area = self.area.max(x as f64 * y as f64);
    }

    /// The bounds for both trees.
    pub fn join(&mut self, other: &Self) {
        self.longest[0] = self.longest[0].max(other.longest[0]);
        self.longest[1] = self.longest[1].max(other.longest[1]);
        self.shorter = self.shorter.max(other.shorter);
        self.area = self.area.max(other.area);
    }

    /// Whether a part of `size` might find a spot; never wrong when it says no.
    pub fn may_take(&self, size: [Nm; 2]) -> bool {
        size[0] <= self.longest[0]
            && size[1] <= self.longest[1]
            && size[0].min(size[1]) <= self.shorter
            && size[0] as f64 * size[1] as f64 <= self.area * (1.0 + 1e-12)
    }
}

/// The cuts of one sheet.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct CutTree {
    nodes: Vec<Node>,
    /// By node, and for the whole: the largest part that can be added there. For an inner node that
    /// is its room less its own need along its axis, for a leaf the same across its parent's axis.
    free: Vec<[Nm; 2]>,
    gaps: Gaps,
}

impl CutTree {
    /// The tree of `parts` that lie as given and were parted by `cuts`, divided along `axis` first;
    /// `None` when there are none or the cuts do not part them in that way.
    ///
    /// With `whole` only cuts that run from edge to edge of a piece divide it; else it is enough that
    /// they run past its parts, so that a piece may be divided that was cut to size across before.
    pub fn of_parts(
        parts: &[Lying],
        cuts: &[Made],
        kerf: Nm,
        axis: Axis,
        sheet: [Nm; 2],
        whole: bool,
    ) -> Option<Self> {
        if parts.is_empty() {
            return None;
        }
        let node = |parent: usize, kind: Kind, size: [Nm; 2]| Node {
            parent: parent as u32,
            depth: 0,
            kind,
            size,
        };
        let mut tree = Self::default();
        tree.nodes.push(node(0, Kind::Stack(axis), [0; 2]));
        let mut waiting = vec![(0, axis, 0, parts.to_vec(), sheet.map(|side| [0, side]))];
        while let Some((parent, axis, trims, mut parts, piece)) = waiting.pop() {
            parts.sort_by_key(|p| (p.at[axis], p.at[1 - axis]));
            // A cut of this piece runs past all of its parts; one of a smaller piece does not.
            let across = 1 - axis;
            let [low, top] = if whole {
                piece[across]
            } else {
                let low = parts.iter().map(|p| p.at[across]).min()?;
                [
                    low,
                    parts.iter().map(|p| p.at[across] + p.size[across]).max()?,
                ]
            };
            let ran = |from: Nm, to: Nm| {
                cuts.iter().any(|c| {
                    c.axis == axis
                        && (from..=to).contains(&c.at)
                        && c.span[0] <= low + ROUNDING
                        // A size has a kerf at its end that the cut need not pass.
                        && c.span[1] + kerf + ROUNDING >= top
                })
            };
            let mut groups: Vec<Vec<Lying>> = Vec::new();
            let mut end = Nm::MIN;
            for part in parts {
                let start = part.at[axis];
                match groups.last_mut() {
                    Some(group)
                        if start + ROUNDING < end
                            || !ran(end - kerf - ROUNDING, start + ROUNDING) =>
                    {
                        group.push(part);
                    }
                    _ => groups.push(vec![part]),
                }
                end = end.max(start + part.size[axis]);
            }
            // A piece may only be trimmed along an axis, or along both where that decides what runs
            // from edge to edge; if nothing divides it then, nothing does.
            let trims = if groups.len() == 1 { trims + 1 } else { 0 };
            if trims > 1 + u32::from(whole) {
                return None;
            }
            let trimmed = ran(end - kerf - ROUNDING, end + ROUNDING);
            let mut borders: Vec<Nm> = groups.iter().map(|g| g[0].at[axis]).collect();
            borders.push(if trimmed { end } else { piece[axis][1] });
            for (group, border) in groups.into_iter().zip(borders.windows(2)) {
                let mut own = piece;
                own[axis] = [border[0], border[1]];
                match group[..] {
                    [part] => {
                        let kind = Kind::Part {
                            piece: part.piece,
                            turned: part.turned,
                        };
                        tree.nodes.push(node(parent, kind, part.size));
                    }
                    _ => {
                        let child = tree.nodes.len();
                        tree.nodes.push(node(parent, Kind::Stack(1 - axis), [0; 2]));
                        waiting.push((child, 1 - axis, trims, group, own));
                    }
                }
            }
        }
        tree.refresh(sheet);
        let fits = tree.nodes[0]
            .size
            .iter()
            .zip(sheet)
            .all(|(size, room)| *size <= room);
        fits.then_some(tree)
    }

    /// The tree of `cutting` on a sheet of `sheet`, where `size` tells how large a part is as it lies.
    ///
    /// Directions alternate whatever `cutting` says: a stack of one gives way to what is in it, except
    /// for the root.
    pub fn of(cutting: &Cutting, sheet: [Nm; 2], size: &impl Fn(usize, bool) -> [Nm; 2]) -> Self {
        let mut tree = Self::default();
        let axis = match cutting {
            Cutting::Stack(axis, _) => *axis,
            Cutting::Part { .. } => 0,
        };
        tree.nodes.push(Node {
            parent: 0,
            depth: 0,
            kind: Kind::Stack(axis),
            size: [0; 2],
        });
        match cutting {
            Cutting::Stack(_, children) => children.iter().for_each(|c| tree.add(0, c, size)),
            part => tree.add(0, part, size),
        }
        tree.refresh(sheet);
        tree
    }

    /// Axis along which the sheet itself is divided.
    pub fn axis(&self) -> Option<Axis> {
        match self.nodes.first()?.kind {
            Kind::Stack(axis) => Some(axis),
            Kind::Part { .. } => None,
        }
    }

    /// Stages that the cuts need when taking a part to its size counts as none.
    pub fn deepest(&self) -> u32 {
        self.nodes.iter().map(|n| n.depth).max().unwrap_or(0)
    }

    fn add(&mut self, parent: usize, one: &Cutting, size: &impl Fn(usize, bool) -> [Nm; 2]) {
        let mut node = Node {
            parent: parent as u32,
            ..self.nodes[parent]
        };
        match one {
            Cutting::Part { piece, turned } => {
                node.size = size(*piece, *turned);
                node.kind = Kind::Part {
                    piece: *piece as u32,
                    turned: *turned,
                };
                self.nodes.push(node);
            }
            Cutting::Stack(_, children) if children.len() == 1 => {
                self.add(parent, &children[0], size);
            }
            Cutting::Stack(axis, children) => {
                let mut into = parent;
                if self.nodes[parent].kind != Kind::Stack(*axis) {
                    node.kind = Kind::Stack(*axis);
                    into = self.nodes.len();
                    self.nodes.push(node);
                }
                children.iter().for_each(|c| self.add(into, c, size));
            }
        }
    }

    /// The nodes, parents first.
    pub fn nodes(&self) -> &[Node] {
        &self.nodes
    }

    /// Whether there is no part.
    pub fn is_empty(&self) -> bool {
        self.nodes.is_empty()
    }

    /// Replaces the content by that of `other`, keeping the allocation.
    pub fn copy_from(&mut self, other: &Self) {
        self.nodes.clear();
        self.nodes.extend_from_slice(&other.nodes);
        self.free.clear();
        self.free.extend_from_slice(&other.free);
        self.gaps = other.gaps;
    }

    /// The parts: node index, piece, turned.
    pub fn parts(&self) -> impl Iterator<Item = (usize, u32, bool)> + '_ {
        self.nodes
            .iter()
            .enumerate()
            .filter_map(|(i, n)| match n.kind {
                Kind::Part { piece, turned } => Some((i, piece, turned)),
                Kind::Stack(_) => None,
            })
    }

    /// What the spots can take, when there is a part already.
    pub fn gaps(&self) -> &Gaps {
        &self.gaps
    }

    /// Whether a part of `size` might find a spot; never wrong when it says no.
    pub fn may_take(&self, size: [Nm; 2]) -> bool {
        self.nodes.is_empty() || self.gaps.may_take(size)
    }

    /// The best spot for a part of `size`, kerf included, on a sheet of `sheet`, if it beats `best`.
    pub fn best_spot(
        &self,
        size: [Nm; 2],
        sheet: [Nm; 2],
        limits: &Limits,
        best: &mut Option<Fit>,
        scratch: &mut CutTree,
    ) -> Option<Spot> {
        if self.nodes.is_empty() {
            let mut found = None;
            for axis in 0..2 {
                let left = [sheet[0] - size[0], sheet[1] - size[1]];
                let spot = Spot::First(axis);
                if limits.first.is_none_or(|f| f == axis)
                    && left[0] >= 0
                    && left[1] >= 0
                    && self.beats(best, left)
                    && self.obeys(spot, size, sheet, limits, scratch)
                {
                    *best = Some((left[0].min(left[1]), left[0].max(left[1])));
                    found = Some(spot);
                }
            }
            return found;
        }
        let mut found = None;
        for (i, free) in self.free.iter().enumerate() {
            let left = [free[0] - size[0], free[1] - size[1]];
            // Most nodes have no room at all.
            if left[0] < 0 || left[1] < 0 || !self.beats(best, left) {
                continue;
            }
            let Some(spot) = self.spot_at(i, limits) else {
                continue;
            };
            if self.obeys(spot, size, sheet, limits, scratch) {
                *best = Some((left[0].min(left[1]), left[0].max(left[1])));
                found = Some(spot);
            }
        }
        found
    }

    /// Whether a spot that leaves `left` is better than `best`.
    fn beats(&self, best: &Option<Fit>, left: [Nm; 2]) -> bool {
        let fit = (left[0].min(left[1]), left[0].max(left[1]));
        best.is_none_or(|b| fit < b)
    }

    /// The spot that an entry of `free` stands for.
    fn spot_at(&self, i: usize, limits: &Limits) -> Option<Spot> {
        let Some(node) = self.nodes.get(i) else {
            return limits.first.is_none().then_some(Spot::Around);
        };
        Some(match node.kind {
            Kind::Stack(_) => Spot::Into(i),
            Kind::Part { .. } => Spot::Beside(i),
        })
    }

    /// Whether adding a part there keeps to the saw's limits.
    fn obeys(
        &self,
        spot: Spot,
        size: [Nm; 2],
        sheet: [Nm; 2],
        limits: &Limits,
        scratch: &mut CutTree,
    ) -> bool {
        if !self.stages_allow(spot, size, sheet, limits) {
            return false;
        }
        if !limits.lengths_matter {
            return true;
        }
        scratch.copy_from(self);
        scratch.insert(spot, 0, false, size, sheet);
        scratch.lengths_obey(sheet, limits)
    }

    /// Whether adding a part of `size` at `spot` keeps to the number of stages.
    ///
    /// A part that is smaller than its strip costs one more cut, so nodes of the last stage hold
    /// only children that fill them across.
    fn stages_allow(&self, spot: Spot, size: [Nm; 2], sheet: [Nm; 2], limits: &Limits) -> bool {
        let stages = limits.stages;
        if stages == u32::MAX {
            return true;
        }
        match spot {
            Spot::First(axis) => stages > u32::from(size[1 - axis] < sheet[1 - axis]),
            Spot::Into(v) => {
                let node = &self.nodes[v];
                let Kind::Stack(axis) = node.kind else {
                    return false;
                };
                let across = if v == 0 {
                    sheet[1 - axis]
                } else {
                    node.size[1 - axis]
                };
                node.depth + 2 <= stages || node.depth < stages && size[1 - axis] == across
            }
            Spot::Beside(c) => {
                // The leaf's place becomes a node of the leaf's depth, divided across its parent.
                let leaf = &self.nodes[c];
                let Kind::Stack(axis) = self.nodes[leaf.parent as usize].kind else {
                    return false;
                };
                leaf.depth + 2 <= stages || leaf.depth < stages && size[axis] == leaf.size[axis]
            }
            Spot::Around => {
                let Kind::Stack(axis) = self.nodes[0].kind else {
                    return false;
                };
                let rest = self.stages_needed(None);
                rest < stages && u32::from(size[axis] < sheet[axis]) < stages
            }
        }
    }

    /// Stages that the cuts need on a sheet of this size; `None` when the whole is cut from a
    /// larger piece first and so fills its own across.
    pub fn stages_needed(&self, sheet: Option<[Nm; 2]>) -> u32 {
        let mut most = 0;
        for node in &self.nodes {
            if let Kind::Part { .. } = node.kind {
                let parent = &self.nodes[node.parent as usize];
                let Kind::Stack(axis) = parent.kind else {
                    continue;
                };
                let across = match sheet {
                    Some(sheet) if node.parent == 0 => sheet[1 - axis],
                    _ => parent.size[1 - axis],
                };
                most = most.max(node.depth + u32::from(node.size[1 - axis] < across));
            }
        }
        most
    }

    /// Size of the piece that node `v` is cut from, which is larger than its own only along its axis
    /// (for a part: across its parent's), when the whole tree is cut from `sheet`.
    pub fn whole(&self, v: usize, sheet: [Nm; 2]) -> [Nm; 2] {
        let node = &self.nodes[v];
        if v == 0 {
            return sheet;
        }
        let parent = node.parent as usize;
        let mut size = node.size;
        if let Kind::Stack(axis) = self.nodes[parent].kind {
            let of = if parent == 0 {
                sheet
            } else {
                self.nodes[parent].size
            };
            size[1 - axis] = of[1 - axis];
        }
        size
    }

    /// Whether every cut is short enough for the saw.
    pub fn lengths_obey(&self, sheet: [Nm; 2], limits: &Limits) -> bool {
        if self.nodes.is_empty() {
            return true;
        }
        let k = limits.kerf;
        let mut children = vec![0u32; self.nodes.len()];
        for node in &self.nodes[1..] {
            children[node.parent as usize] += 1;
        }
        self.nodes.iter().enumerate().all(|(v, node)| {
            let whole = self.whole(v, sheet);
            match node.kind {
                Kind::Stack(axis) => {
                    let cuts = children[v] > 1 || node.size[axis] < whole[axis];
                    !cuts || whole[1 - axis] - k <= limits.longest[1 - axis]
                }
                Kind::Part { .. } => (0..2).all(|axis| {
                    let trimmed = node.size[axis] < whole[axis];
                    !trimmed || node.size[1 - axis] - k <= limits.longest[1 - axis]
                }),
            }
        })
    }

    /// How many parts of `size` fit side by side at `spot` along its axis; at least 1 where one does.
    pub fn capacity(&self, spot: Spot, size: [Nm; 2], sheet: [Nm; 2]) -> u32 {
        let (axis, free) = match spot {
            Spot::First(axis) => (axis, sheet[axis]),
            Spot::Into(v) => match self.nodes[v].kind {
                Kind::Stack(axis) => (axis, self.free[v][axis]),
                Kind::Part { .. } => return 0,
            },
            Spot::Beside(_) | Spot::Around => return 1,
        };
        u32::try_from(free / size[axis].max(1)).unwrap_or(u32::MAX)
    }

    /// Adds a part at a spot that [`Self::best_spot`] gave, and returns the node it was added to.
    pub fn insert(&mut self, spot: Spot, piece: u32, turned: bool, size: [Nm; 2], sheet: [Nm; 2]) {
        self.insert_many(spot, piece, turned, size, sheet, 1);
    }

    /// Adds `count` copies side by side.
    pub fn insert_many(
        &mut self,
        spot: Spot,
        piece: u32,
        turned: bool,
        size: [Nm; 2],
        sheet: [Nm; 2],
        count: u32,
    ) {
        let node = |parent: usize, kind: Kind, size: [Nm; 2]| Node {
            parent: parent as u32,
            depth: 0,
            kind,
            size,
        };
        let part = Kind::Part { piece, turned };
        let into = match spot {
            Spot::First(axis) => {
                self.nodes.clear();
                self.nodes.push(node(0, Kind::Stack(axis), [0; 2]));
                0
            }
            Spot::Into(v) => v,
            Spot::Beside(c) => {
                let leaf = self.nodes[c];
                let across = match self.nodes[leaf.parent as usize].kind {
                    Kind::Stack(axis) => 1 - axis,
                    Kind::Part { .. } => 0,
                };
                self.nodes[c].kind = Kind::Stack(across);
                self.nodes.push(Node {
                    parent: c as u32,
                    depth: leaf.depth + 1,
                    ..leaf
                });
                c
            }
            Spot::Around => {
                let across = match self.nodes[0].kind {
                    Kind::Stack(axis) => 1 - axis,
                    Kind::Part { .. } => 0,
                };
                for old in &mut self.nodes[1..] {
                    old.parent += 1;
                }
                for old in &mut self.nodes {
                    old.depth += 1;
                }
                let whole = self.nodes[0].size;
                self.nodes.insert(0, node(0, Kind::Stack(across), whole));
                0
            }
        };
        let depth = self.nodes[into].depth + 1;
        for _ in 0..count {
            let mut child = node(into, part, size);
            child.depth = depth;
            self.nodes.push(child);
        }
        // A node that grows makes those above it grow, and nothing else changes its size.
        let mut added = size;
        if let Kind::Stack(axis) = self.nodes[into].kind {
            added[axis] = size[axis].saturating_mul(Nm::from(count));
        }
        let (mut at, mut before) = (into, self.nodes[into].size);
        if let Kind::Stack(axis) = self.nodes[at].kind {
            let grown = &mut self.nodes[at].size;
            grown[axis] += added[axis];
            grown[1 - axis] = grown[1 - axis].max(added[1 - axis]);
        }
        while at > 0 {
            let now = self.nodes[at].size;
            at = self.nodes[at].parent as usize;
            let above = &mut self.nodes[at];
            let old = above.size;
            if let Kind::Stack(axis) = above.kind {
                above.size[axis] += now[axis] - before[axis];
                above.size[1 - axis] = above.size[1 - axis].max(now[1 - axis]);
            }
            if above.size == old {
                break;
            }
            before = old;
        }
        self.rooms(sheet);
    }

    /// Works sizes, rooms and depths out again.
    fn refresh(&mut self, sheet: [Nm; 2]) {
        for node in &mut self.nodes {
            if let Kind::Stack(_) = node.kind {
                node.size = [0; 2];
            }
        }
        for i in 1..self.nodes.len() {
            self.nodes[i].depth = self.nodes[self.nodes[i].parent as usize].depth + 1;
        }
        self.sizes();
        self.rooms(sheet);
    }

    /// Works sizes out, those of all stacks being 0.
    fn sizes(&mut self) {
        for i in (1..self.nodes.len()).rev() {
            let Node { parent, size, .. } = self.nodes[i];
            let parent = &mut self.nodes[parent as usize];
            if let Kind::Stack(axis) = parent.kind {
                parent.size[axis] += size[axis];
                parent.size[1 - axis] = parent.size[1 - axis].max(size[1 - axis]);
            }
        }
    }

    /// Works rooms out from sizes and depths.
    fn rooms(&mut self, sheet: [Nm; 2]) {
        self.free.clear();
        let Some(root) = self.nodes.first() else {
            self.gaps = Gaps::default();
            return;
        };
        let Kind::Stack(axis) = root.kind else {
            return;
        };
        let mut gaps = Gaps::default();
        let mut free = sheet;
        free[axis] -= root.size[axis];
        gaps.note(free);
        self.free.push(free);
        // Directions alternate, so the parent's axis is told by the depth alone.
        let even = axis == 1;
        for node in &self.nodes[1..] {
            // A node may take up what its parent has left along the parent's axis, and more across
            // it: as a stack, or beside it as a part.
            let along_x = (node.depth % 2 == 0) == even;
            let [x, y] = self.free[node.parent as usize];
            let [w, h] = node.size;
            let free = if along_x {
                [x + w, y - h]
            } else {
                [x - w, y + h]
            };
            gaps.note(free);
            self.free.push(free);
        }
        let root = &self.nodes[0];
        let mut free = sheet;
        free[1 - axis] -= root.size[1 - axis];
        gaps.note(free);
        self.free.push(free);
        self.gaps = gaps;
    }

    /// Removes the leaves for which `dead` is set, and whatever then divides nothing.
    ///
    /// An inner node with one child gives way to it, and nodes of one direction that meet become
    /// one. Neither is done where it could lengthen a cut that the saw limits, and a root whose
    /// direction is prescribed stays.
    pub fn remove(
        &mut self,
        dead: &[bool],
        sheet: [Nm; 2],
        limits: &Limits,
        scratch: &mut Removal,
    ) {
        let n = self.nodes.len();
        let Removal { marks, kept } = scratch;
        marks.clear();
        marks.resize(n, Mark::default());
        for i in (1..n).rev() {
            let stack = matches!(self.nodes[i].kind, Kind::Stack(_));
            let lives = if stack { marks[i].alive > 0 } else { !dead[i] };
            let parent = &mut marks[self.nodes[i].parent as usize];
            parent.alive += u32::from(lives);
            parent.has_stack |= lives && stack;
        }
        if n == 0 || marks[0].alive == 0 {
            self.nodes.clear();
            return;
        }
        let free = !limits.lengths_matter;
        // The node that becomes the root.
        let mut root = 0;
        while free && limits.first.is_none() && marks[root].alive == 1 && marks[root].has_stack {
            let Some(next) = (root + 1..n).find(|i| {
                self.nodes[*i].parent as usize == root
                    && matches!(self.nodes[*i].kind, Kind::Stack(_))
                    && marks[*i].alive > 0
            }) else {
                break;
            };
            root = next;
        }
        kept.clear();
        let empty = |node: Node, parent: u32, depth: u32| Node {
            parent,
            depth,
            size: [0; 2],
            ..node
        };
        kept.push(empty(self.nodes[root], 0, 0));
        marks[root].home = 0;
        for i in root + 1..n {
            let node = self.nodes[i];
            let parent = marks[node.parent as usize].home;
            if parent == u32::MAX {
                continue;
            }
            let above = &kept[parent as usize];
            let depth = above.depth + 1;
            match node.kind {
                Kind::Part { .. } => {
                    if !dead[i] {
                        kept.push(Node {
                            parent,
                            depth,
                            ..node
                        });
                    }
                }
                Kind::Stack(_) if marks[i].alive == 0 => {}
                Kind::Stack(axis) => {
                    let same = above.kind == Kind::Stack(axis);
                    let mark = marks[i];
                    let dissolves = same || mark.alive == 1 && (free || !mark.has_stack);
                    marks[i].home = if dissolves {
                        parent
                    } else {
                        kept.push(empty(node, parent, depth));
                        (kept.len() - 1) as u32
                    };
                }
            }
        }
        std::mem::swap(&mut self.nodes, kept);
        self.sizes();
        self.rooms(sheet);
    }
}

/// What [`CutTree::remove`] works with, kept from one call to the next.
#[derive(Debug, Default)]
pub(super) struct Removal {
    marks: Vec<Mark>,
    kept: Vec<Node>,
}

/// What becomes of a node.
#[derive(Debug, Clone, Copy)]
struct Mark {
    /// Children that stay.
    alive: u32,
    /// Whether one of them is divided.
    has_stack: bool,
    /// Where its children go.
    home: u32,
}

impl Default for Mark {
    fn default() -> Self {
        Self {
            alive: 0,
            has_stack: false,
            home: u32::MAX,
        }
    }
}

//! Ruin and recreate on a fixed set of boards: pieces are taken off a few boards and put back, with
//! those that are still left out, wherever they fit best; worse states are accepted as in simulated
//! annealing (Schrimpf et al. 2000, "Record breaking optimization results using the ruin and recreate
//! principle").

use super::cut_tree::{Gaps, Removal};
use super::fill::Filler;
use super::model::Model;
use super::plan::{Board, Plan};
use super::pool::Pool;
use super::saw_plan;
use rand::Rng;
use rand_pcg::Pcg64Mcg;

/// Boards tried for a piece that was taken off, once there are more nodes than this in all: the
/// boards touched and a few others. Below it, all are tried.
const NODES_FOR_ALL: usize = 600;

/// From this many copies left out on, they are put back by rows: quicker, but a little less tight.
const MANY: u32 = 48;

/// Boards tried beside the touched ones on a large plan.
const OTHERS: usize = 6;

/// Starting temperature in mean piece areas. Ten times more or less costs some 0.3 % in boards.
const START: f64 = 0.1;

/// Final temperature, as a share of the first.
const END: f64 = 0.03;

/// Starting temperature of runs that exchange boards, in mean piece areas' worth of stock.
const SPEND_START: f64 = 0.2;

/// Their final temperature, as a share of the first.
const SPEND_END: f64 = 0.01;

/// Most boards taken in one step.
const MOST_TAKEN: usize = 4;

/// Of how many steps one puts pieces back in any order, and of how many one blinks. Without them
/// some tiny orders stay out of reach for ever; much more often, large ones come out worse.
const ANY_ORDER: usize = 12;
const BLINKING: usize = 8;

/// Of how many steps one exchanges boards, in runs that may.
const EXCHANGING: usize = 10;

/// Most boards taken in an exchange, and how often one is drawn before the step does without.
const MOST_EXCHANGED: usize = 3;
const EXCHANGE_TRIES: usize = 20;

/// Slack for sums of areas.
const ROOM_ROUNDING: f64 = 1.0 + 1e-9;

/// What a run lowers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Aim {
    /// The area left out.
    Place,
    /// The spend by what is left over, then the largest left-over, nothing being left out.
    Leave,
    /// The spend, boards being given up, exchanged and taken on the way.
    Spend,
}

/// A number in [0, 1).
pub(super) fn unit(rng: &mut Pcg64Mcg) -> f64 {
    (rng.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
}

/// A whole number below `n`; 0 when `n` is 0.
pub(super) fn below(rng: &mut Pcg64Mcg, n: usize) -> usize {
    ((u128::from(rng.next_u64()) * n as u128) >> 64) as usize
}

/// One annealing run.
pub(super) struct Anneal {
    aim: Aim,
    plan: Plan,
    energy: f64,
    /// Per board: the part of the energy that comes from it.
    board_energy: Vec<f64>,
    left_area: f64,
    /// The best state so far and its energy.
    pub best: Plan,
    best_energy: f64,
    /// Work that the run may take, and that it has taken.
    budget: u64,
    taken: u64,
    temperatures: (f64, f64),
    backup: Vec<(usize, Board)>,
    /// Boards whose memory is used again.
    spare: Vec<Board>,
    old_energies: Vec<(usize, f64)>,
    touched: Vec<usize>,
    backup_left: Vec<u32>,
    dead: Vec<bool>,
    removal: Removal,
    order: Vec<(f64, usize)>,
    supplies: Vec<u32>,
    sources: Vec<usize>,
    /// What the boards may cost while they are exchanged for others; none while they stay.
    most_spend: Option<f64>,
    /// Area of all that is wanted.
    needed: f64,
    /// Supplies, where they are not the model's.
    stock: Option<Vec<u32>>,
    /// Boards given up in the step at hand.
    gone: Vec<usize>,
    /// The energy that the step at hand may lead to at most.
    most_energy: f64,
    /// Whether it is clear already that it leads to more.
    hopeless: bool,
    /// By board: whether it was changed in the step at hand.
    changed: Vec<bool>,
    /// The boards to be looked at that were.
    near: Vec<usize>,
}

impl Anneal {
    /// Starts from `plan`, to take `budget` units of work.
    pub fn new(model: &Model, plan: Plan, aim: Aim, budget: u64) -> Self {
        let mut run = Self {
            aim,
            energy: 0.0,
            board_energy: Vec::new(),
            left_area: model.urgent_area_of(&plan.left),
            best: plan.clone(),
            best_energy: 0.0,
            budget: budget.max(1),
            taken: 0,
            temperatures: temperatures(model, aim),
            backup: Vec::new(),
            spare: Vec::new(),
            old_energies: Vec::new(),
            touched: Vec::new(),
            backup_left: Vec::new(),
            dead: Vec::new(),
            removal: Removal::default(),
            order: Vec::new(),
            supplies: Vec::new(),
            sources: Vec::new(),
            most_spend: None,
            needed: model.area_of(&model.wanted()),
            stock: None,
            gone: Vec::new(),
            most_energy: 0.0,
            hopeless: false,
            changed: Vec::new(),
            near: Vec::new(),
            plan,
        };
        run.board_energy = run
            .plan
            .boards
            .iter()
            .map(|b| board_energy(model, b, aim))
            .collect();
        run.energy = run.total(model);
        run.best_energy = run.energy;
        run
    }

    /// Lets it exchange boards for others while all of them cost no more than `most`.
    pub fn exchanging(mut self, most: f64) -> Self {
        self.most_spend = Some(most);
        self
    }

    /// Tells it that it works on a part of a plan: the boards at hand hold the area `needed`, and
    /// `supplies` is all there is for them.
    pub fn on_part(mut self, needed: f64, supplies: Vec<u32>) -> Self {
        self.needed = needed;
        self.stock = Some(supplies);
        self
    }

    /// What it lowers.
    pub fn aim(&self) -> Aim {
        self.aim
    }

    /// What its boards cost.
    pub fn price(&self, model: &Model) -> f64 {
        let boards = self.plan.boards.iter();
        boards.map(|b| model.sources[b.source].price).sum()
    }

    /// Whether the budget is used up, or nothing is left to be done.
    pub fn finished(&self) -> bool {
        self.taken >= self.budget || self.aim == Aim::Place && self.reached()
    }

    /// Whether the best state leaves nothing out.
    pub fn reached(&self) -> bool {
        self.best.left.iter().all(|n| *n == 0)
    }

    fn total(&self, model: &Model) -> f64 {
        match self.aim {
            Aim::Place => self.left_area,
            Aim::Leave | Aim::Spend => {
                let spend: f64 = self.board_energy.iter().sum();
                spend + LEFT_OUT * price_rate(model) * self.left_area
            }
        }
    }

    /// Works until `until` units of work are taken in this call, or the run has finished.
    ///
    /// Runs that exchange boards note in `pool` what they try.
    pub fn run(
        &mut self,
        model: &Model,
        filler: &mut Filler,
        pool: &mut Pool,
        rng: &mut Pcg64Mcg,
        until: u64,
    ) {
        let start = filler.work;
        while filler.work - start < until && !self.finished() {
            let before = filler.work;
            self.step(model, filler, pool, rng);
            // What a step costs besides looking at nodes.
            filler.work += 100 + self.plan.left.len() as u64 / 8;
            self.taken += filler.work - before;
        }
    }

    /// One removal, one return.
    fn step(&mut self, model: &Model, filler: &mut Filler, pool: &mut Pool, rng: &mut Pcg64Mcg) {
        let boards = self.plan.boards.len();
        if boards == 0 {
            self.taken = self.budget;
            return;
        }
        self.spare
            .extend(self.backup.drain(..).map(|(_, board)| board));
        self.backup_left.clone_from(&self.plan.left);
        let old_left_area = self.left_area;
        self.draw_most_energy(rng);
        self.hopeless = false;
        let given = (self.aim == Aim::Spend && below(rng, 3) == 0).then(|| below(rng, boards));
        self.gone.clear();
        if let Some(most) = self.most_spend
            && below(rng, EXCHANGING) == 0
        {
            self.exchange(model, rng, most);
        }
        let wanted = match below(rng, 10) {
            0..4 => 1,
            4..9 => 2,
            _ => 3,
        };
        let mut touched = std::mem::take(&mut self.touched);
        touched.clear();
        for _ in 0..wanted.min(boards) {
            let b = below(rng, boards);
            if !touched.contains(&b) && given != Some(b) && !self.gone.contains(&b) {
                touched.push(b);
            }
        }
        for b in touched.iter().copied() {
            self.save(b);
            self.ruin(model, filler, rng, b);
        }
        if let Some(b) = given {
            self.save(b);
            self.give_up(b);
        }
        let nodes: usize = self.plan.boards.iter().map(|b| b.tree.nodes().len()).sum();
        if nodes <= NODES_FOR_ALL {
            touched.clear();
            touched.extend(0..self.plan.boards.len());
        } else {
            for _ in 0..OTHERS {
                let b = below(rng, boards);
                if !touched.contains(&b) {
                    touched.push(b);
                }
            }
            // Boards that were taken instead of others have everything to gain.
            let taken = self.backup.iter().map(|(b, _)| *b);
            for b in taken.chain(boards..self.plan.boards.len()) {
                if !touched.contains(&b) {
                    touched.push(b);
                }
            }
        }
        touched.retain(|b| !self.gone.contains(b));
        if self.aim == Aim::Spend {
            // A board given up is no place for what lay on it.
            touched.retain(|b| !self.plan.boards[*b].tree.is_empty());
            let early = given.is_some() && below(rng, 3) == 0;
            if early {
                touched.extend(self.take(model, rng));
            }
            self.recreate(model, filler, rng, &touched);
            for _ in 0..MOST_TAKEN {
                let Some(b) = self.take(model, rng) else {
                    break;
                };
                self.recreate(model, filler, rng, &[b]);
            }
        } else {
            self.recreate(model, filler, rng, &touched);
        }
        self.touched = touched;
        if self.hopeless {
            self.take_back(boards, old_left_area);
            return;
        }
        self.left_area = if self.aim == Aim::Spend {
            model.urgent_area_of(&self.plan.left)
        } else {
            // Whatever is left out now was so, or was taken off, before.
            self.order
                .iter()
                .map(|(_, id)| {
                    let piece = &model.pieces[*id];
                    piece.area * piece.urgency * f64::from(self.plan.left[*id])
                })
                .sum()
        };
        self.old_energies.clear();
        let energies = self.backup.iter().map(|(b, _)| (*b, self.board_energy[*b]));
        self.old_energies.extend(energies);
        for (b, _) in &self.backup {
            self.board_energy[*b] = board_energy(model, &self.plan.boards[*b], self.aim);
        }
        for board in &self.plan.boards[boards..] {
            self.board_energy.push(board_energy(model, board, self.aim));
        }
        if self.aim == Aim::Spend && pool.is_open() {
            let changed = self.backup.iter().map(|(b, _)| *b);
            for b in changed.chain(boards..self.plan.boards.len()) {
                filler.work += pool.note(&self.plan.boards[b], self.board_energy[b]);
            }
        }
        let energy = self.total(model);
        if energy <= self.most_energy {
            self.energy = energy;
            if energy < self.best_energy - 1e-9 * self.best_energy.abs() {
                self.best_energy = energy;
                self.best.clone_from(&self.plan);
                filler.work += nodes as u64;
            }
            if self.aim == Aim::Spend {
                self.drop_empty();
            }
            self.gone.sort_unstable();
            while let Some(b) = self.gone.pop() {
                self.plan.boards.swap_remove(b);
                self.board_energy.swap_remove(b);
            }
        } else {
            self.take_back(boards, old_left_area);
            for (b, energy) in &self.old_energies {
                self.board_energy[*b] = *energy;
            }
        }
    }

    /// The energy that the next state may have at most, by the temperature and chance.
    fn draw_most_energy(&mut self, rng: &mut Pcg64Mcg) {
        let progress = self.taken as f64 / self.budget as f64;
        let (first, last) = self.temperatures;
        let temperature = first * (last / first).powf(progress);
        self.most_energy = self.energy - temperature * (1.0 - unit(rng)).ln();
    }

    /// Back to the state before the step, when there were so many boards and so much was left out.
    fn take_back(&mut self, boards: usize, left_area: f64) {
        self.plan.boards.truncate(boards);
        self.board_energy.truncate(boards);
        for (b, board) in self.backup.drain(..) {
            let tried = std::mem::replace(&mut self.plan.boards[b], board);
            self.spare.push(tried);
        }
        self.plan.left.clone_from(&self.backup_left);
        self.left_area = left_area;
    }

    /// Exchanges one or two boards for up to three others, such that all together cost no more than
    /// `most` and have the area for all parts. Does nothing when it finds none in a few tries.
    fn exchange(&mut self, model: &Model, rng: &mut Pcg64Mcg, most: f64) {
        let boards = self.plan.boards.len();
        let mut give = [below(rng, boards), below(rng, boards)].to_vec();
        give.dedup();
        if below(rng, 2) == 0 {
            give.truncate(1);
        }
        self.supplies
            .clone_from(self.stock.as_ref().unwrap_or(&model.supplies));
        let (mut price, mut room) = (0.0, 0.0);
        for (b, board) in self.plan.boards.iter().enumerate() {
            if give.contains(&b) {
                continue;
            }
            let source = &model.sources[board.source];
            price += source.price;
            room += source.area;
            let supply = &mut self.supplies[source.supply];
            if *supply != u32::MAX {
                *supply = supply.saturating_sub(1);
            }
        }
        let given: Vec<usize> = give.iter().map(|b| self.plan.boards[*b].source).collect();
        for _ in 0..EXCHANGE_TRIES {
            self.sources.clear();
            let (mut price, mut room) = (price, room);
            for _ in 0..1 + below(rng, MOST_EXCHANGED) {
                let s = below(rng, model.sources.len());
                self.sources.push(s);
                price += model.sources[s].price;
                room += model.sources[s].area;
            }
            let supplied = self.sources.iter().all(|s| {
                let supply = model.sources[*s].supply;
                let of_it = |t: &&usize| model.sources[**t].supply == supply;
                let taken = self.sources.iter().filter(of_it).count();
                taken as u64 <= u64::from(self.supplies[supply])
            });
            let new = self.sources.iter().any(|s| !given.contains(s));
            if price > most || room * ROOM_ROUNDING < self.needed || !supplied || !new {
                continue;
            }
            let taken = std::mem::take(&mut self.sources);
            for (n, s) in taken.iter().copied().enumerate() {
                match give.get(n) {
                    Some(b) => {
                        self.save(*b);
                        self.give_up(*b);
                        self.plan.boards[*b].source = s;
                    }
                    None => self.plan.boards.push(Board::new(s)),
                }
            }
            for b in give.iter().copied().skip(taken.len()) {
                self.save(b);
                self.give_up(b);
                self.gone.push(b);
            }
            return;
        }
    }

    /// Takes all parts off board `b`.
    fn give_up(&mut self, b: usize) {
        let board = &mut self.plan.boards[b];
        board.count_into(&mut self.plan.left);
        *board = Board::new(board.source);
    }

    /// Gives up boards without parts.
    fn drop_empty(&mut self) {
        let mut b = 0;
        while b < self.plan.boards.len() {
            if self.plan.boards[b].tree.is_empty() {
                self.plan.boards.swap_remove(b);
                self.board_energy.swap_remove(b);
            } else {
                b += 1;
            }
        }
    }

    /// Takes a further board that can take something of what is left out, and returns its number.
    fn take(&mut self, model: &Model, rng: &mut Pcg64Mcg) -> Option<usize> {
        let left = &self.plan.left;
        let largest = (0..left.len())
            .filter(|id| left[*id] > 0)
            .max_by(|a, b| model.pieces[*a].area.total_cmp(&model.pieces[*b].area))?;
        self.supplies.clone_from(&model.supplies);
        for board in self.plan.boards.iter().filter(|b| !b.tree.is_empty()) {
            let supply = &mut self.supplies[model.sources[board.source].supply];
            if *supply != u32::MAX {
                *supply = supply.saturating_sub(1);
            }
        }
        let can = |s: &usize| {
            let source = &model.sources[*s];
            self.supplies[source.supply] > 0 && source.ways[largest].each().next().is_some()
        };
        self.sources.clear();
        self.sources.extend((0..model.sources.len()).filter(can));
        let source = *self.sources.get(below(rng, self.sources.len()))?;
        self.plan.boards.push(Board::new(source));
        Some(self.plan.boards.len() - 1)
    }

    fn save(&mut self, b: usize) {
        // Boards taken in this step have no state to go back to.
        if b < self.board_energy.len() && self.backup.iter().all(|(saved, _)| *saved != b) {
            let board = &self.plan.boards[b];
            let mut copy = self.spare.pop().unwrap_or_else(|| Board::new(board.source));
            copy.copy_from(board);
            self.backup.push((b, copy));
        }
    }

    /// Takes a subtree, or scattered parts, off board `b`.
    fn ruin(&mut self, model: &Model, filler: &mut Filler, rng: &mut Pcg64Mcg, b: usize) {
        let board = &mut self.plan.boards[b];
        let nodes = board.tree.nodes();
        let n = nodes.len();
        if n == 0 {
            return;
        }
        filler.work += 4 * n as u64;
        self.dead.clear();
        self.dead.resize(n, false);
        if below(rng, 2) == 0 {
            let top = below(rng, n);
            self.dead[top] = true;
            for (i, node) in nodes.iter().enumerate().skip(top + 1) {
                self.dead[i] = self.dead[node.parent as usize];
            }
        } else {
            let share = 0.1 + 0.5 * unit(rng);
            for dead in &mut self.dead {
                *dead = unit(rng) < share;
            }
        }
        let sheet = model.sources[board.source].size;
        board
            .tree
            .remove(&self.dead, sheet, &model.limits, &mut self.removal);
        let Some((_, old)) = self.backup.iter().find(|(saved, _)| *saved == b) else {
            return;
        };
        // A strip that filled the sheet may have shrunk, and would now need a cut that is too long.
        if model.limits.lengths_matter && !board.tree.lengths_obey(sheet, &model.limits) {
            board.tree.copy_from(&old.tree);
            return;
        }
        for (i, piece, _) in old.tree.parts() {
            if self.dead[i] {
                self.plan.left[piece as usize] += 1;
                board.used -= model.pieces[piece as usize].area;
            }
        }
        if board.tree.is_empty() {
            board.used = 0.0;
        }
    }

    /// Puts pieces that are left out on the boards of `choice`, large ones first, more or less.
    fn recreate(
        &mut self,
        model: &Model,
        filler: &mut Filler,
        rng: &mut Pcg64Mcg,
        choice: &[usize],
    ) {
        let by_side = below(rng, 4) == 0;
        let noise = if below(rng, 2) == 0 { 0.0 } else { 0.5 };
        // Small pieces come before large ones only where something else than size decides.
        let any_order = below(rng, ANY_ORDER) == 0;
        let blinks = below(rng, BLINKING) == 0;
        filler.blinks = blinks.then(|| Pcg64Mcg::new(u128::from(rng.next_u64())));
        self.order.clear();
        for (id, left) in self.plan.left.iter().enumerate() {
            if *left > 0 {
                let piece = &model.pieces[id];
                let size = if any_order {
                    1.0
                } else if by_side {
                    piece.size[0].max(piece.size[1]) as f64
                } else {
                    piece.area
                };
                let noise = if any_order { 1.0 } else { noise };
                let size = size * piece.urgency;
                self.order.push((size * (1.0 + noise * unit(rng)), id));
            }
        }
        self.order
            .sort_unstable_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        // The board whose left-over is to grow is filled last.
        let open = match self.aim {
            Aim::Place => None,
            Aim::Spend if below(rng, 2) == 0 => None,
            Aim::Leave | Aim::Spend => choice.iter().copied().min_by(|a, b| {
                let used = |b: &usize| {
                    let board = &self.plan.boards[*b];
                    board.used / model.sources[board.source].area
                };
                used(a).total_cmp(&used(b)).then(a.cmp(b))
            }),
        };
        // Boards that were not changed are full mostly, so what they might take together is looked at
        // before each of them.
        let mut cold = Gaps::default();
        self.changed.clear();
        self.changed.resize(self.plan.boards.len(), false);
        for (b, _) in &self.backup {
            self.changed[*b] = true;
        }
        for b in choice.iter().copied() {
            let tree = &self.plan.boards[b].tree;
            let new = b >= self.board_energy.len() || tree.is_empty();
            if new {
                self.changed[b] = true;
            } else if !self.changed[b] {
                cold.join(tree.gaps());
            }
        }
        let mut near = std::mem::take(&mut self.near);
        near.clear();
        near.extend(choice.iter().copied().filter(|b| self.changed[*b]));
        let order = std::mem::take(&mut self.order);
        let mut lost = 0.0;
        'order: for (_, id) in order.iter().copied() {
            let piece = &model.pieces[id];
            while self.plan.left[id] > 0 {
                let all = [false, true].iter().any(|t| cold.may_take(piece.lying(*t)));
                let looked_at = if all { choice } else { &near[..] };
                let boards = &mut self.plan.boards;
                // A clone of the board is only worth its time once the spot is known, and
                // untouched boards change here alone.
                let mut added = None;
                for first in [true, false] {
                    let wanted = looked_at
                        .iter()
                        .copied()
                        .filter(|b| open.is_none() || (Some(*b) != open) == first);
                    if let Some((b, spot)) = filler.spot(model, boards, wanted, id) {
                        added = Some((b, spot));
                        break;
                    }
                    if open.is_none() {
                        break;
                    }
                }
                let left = self.plan.left[id];
                let Some((b, spot)) = added else {
                    lost += piece.area * piece.urgency * f64::from(left);
                    if self.aim == Aim::Place && lost > self.most_energy * ROOM_ROUNDING {
                        self.hopeless = true;
                        break 'order;
                    }
                    break;
                };
                self.save(b);
                if !self.changed[b] {
                    self.changed[b] = true;
                    near.clear();
                    near.extend(choice.iter().copied().filter(|b| self.changed[*b]));
                }
                let most = if left >= MANY { left } else { 1 };
                let board = &mut self.plan.boards[b];
                self.plan.left[id] -= filler.put(model, board, spot, id, most);
            }
        }
        self.order = order;
        self.near = near;
        filler.blinks = None;
    }
}

/// What leaving a piece out counts for while left-overs are improved, in times its price.
const LEFT_OUT: f64 = 10.0;

/// Weight of the largest left-over against money: small enough that it only breaks ties.
const TIE: f64 = 1e-4;

/// Typical price of stock per square millimetre; 1 when all is free.
fn price_rate(model: &Model) -> f64 {
    let price: f64 = model.sources.iter().map(|s| s.price.max(0.0)).sum();
    let area: f64 = model.sources.iter().map(|s| s.area).sum();
    if price > 0.0 && area > 0.0 {
        price / area
    } else {
        1.0
    }
}

/// First and final temperature.
fn temperatures(model: &Model, aim: Aim) -> (f64, f64) {
    let wanted: f64 = model.pieces.iter().map(|p| f64::from(p.demand)).sum();
    let mean = model.area_of(&model.wanted()) / wanted.max(1.0);
    let first = START * mean;
    match aim {
        Aim::Place => (first, first * END),
        Aim::Spend => {
            let first = SPEND_START * mean * price_rate(model);
            (first, first * SPEND_END)
        }
        Aim::Leave => {
            // From what left-overs are worth down to what breaks ties.
            let tie = TIE * price_rate(model);
            let value = model
                .sources
                .iter()
                .map(|s| {
                    let keep = &model.problem.stock[s.stock].keep;
                    keep.value_per_area + keep.scrap_cost_per_area
                })
                .fold(tie, f64::max);
            (first * value, first * tie)
        }
    }
}

fn board_energy(model: &Model, board: &Board, aim: Aim) -> f64 {
    if aim == Aim::Place || board.tree.is_empty() {
        return 0.0;
    }
    let rests = saw_plan::rests(model, &model.sources[board.source], &board.tree);
    // Squared in relation to the board, so that one large left-over is worth more than two of half.
    let share = rests.largest / model.sources[board.source].area;
    rests.spend - TIE * price_rate(model) * rests.largest * share
}

//! Boards met on the way, and the cheapest set of them that makes up a whole order.
//!
//! A search by small changes seldom puts the best boards of many states together. For an order of few
//! kinds and copies this can be done exactly: by dynamic programming over how many of each piece are
//! made so far. (Boards as columns and an exact choice among them are the idea of Gilmore and Gomory
//! 1961, "A linear programming approach to the cutting-stock problem"; here the columns are those that
//! the search met, and the choice is in whole numbers.)

use super::model::Model;
use super::plan::{Board, Plan};
use std::collections::BTreeMap;

/// Most states of an order: the product of one more than the copies of each piece. Beyond this the
/// table takes longer than a search of an order of that size gains by it.
const MOST_STATES: usize = 60_000;

/// Boards remembered; when there are more, the worse half is forgotten.
const MOST_BOARDS: usize = 6000;

/// Most choices weighed in one table, states times boards times rounds: some tens of milliseconds.
const MOST_CHOICES: usize = 12_000_000;

/// Share of a worker's budget that one table may take.
const ON_TABLE: u64 = 16;

/// Least budget for each state: setting up a table takes time as well.
const BUDGET_PER_STATE: u64 = 500;

/// Choices that take as long as looking at one node.
const CHOICES_PER_NODE: u64 = 2;

/// A board and what it costs.
#[derive(Debug, Clone)]
struct Known {
    cost: f64,
    board: Board,
}

/// Boards by source and content, the cheapest of each.
#[derive(Debug, Default)]
pub(super) struct Pool {
    /// By piece: what one copy counts in the number of a state. Empty when there are too many.
    strides: Vec<usize>,
    states: usize,
    /// Choices that one table may weigh.
    most_choices: usize,
    known: BTreeMap<(usize, Vec<u32>), Known>,
    /// Whether a better set may be found since the last look.
    news: bool,
    content: Vec<u32>,
}

/// A board that the table may use.
struct Choice<'a> {
    source: usize,
    content: &'a [u32],
    known: &'a Known,
    /// How far it moves the number of a state.
    step: usize,
}

impl Pool {
    /// An empty one for a worker with `budget` units of work.
    pub fn new(model: &Model, budget: u64) -> Self {
        let most_states = (budget / BUDGET_PER_STATE).min(MOST_STATES as u64) as usize;
        let most_choices = (budget / ON_TABLE).saturating_mul(CHOICES_PER_NODE);
        let mut strides = Vec::with_capacity(model.pieces.len());
        let mut states = 1_usize;
        for piece in &model.pieces {
            strides.push(states);
            states = states.saturating_mul(piece.demand as usize + 1);
            if states > most_states {
                return Self::default();
            }
        }
        Self {
            strides,
            states,
            most_choices: most_choices.min(MOST_CHOICES as u64) as usize,
            ..Self::default()
        }
    }

    /// Whether the order is small enough.
    pub fn is_open(&self) -> bool {
        !self.strides.is_empty()
    }

    /// Remembers `board`, which costs `cost`. Returns the work this took.
    pub fn note(&mut self, board: &Board, cost: f64) -> u64 {
        if !self.is_open() || board.tree.is_empty() {
            return 0;
        }
        self.content.clear();
        self.content.resize(self.strides.len(), 0);
        board.count_into(&mut self.content);
        let mut work = 40 + board.tree.nodes().len() as u64;
        let key = (board.source, std::mem::take(&mut self.content));
        match self.known.get_mut(&key) {
            Some(known) => {
                if cost < known.cost {
                    known.cost = cost;
                    known.board.clone_from(board);
                    self.news = true;
                }
                self.content = key.1;
            }
            None => {
                let board = board.clone();
                self.known.insert(key, Known { cost, board });
                self.news = true;
                if self.known.len() > MOST_BOARDS {
                    work += 8 * self.known.len() as u64;
                    self.forget();
                }
            }
        }
        work
    }

    /// Spend per area of all that is known, of the better boards.
    fn rate(&self) -> f64 {
        let mut rates: Vec<f64> = self
            .known
            .values()
            .map(|k| k.cost / k.board.used)
            .filter(|rate| rate.is_finite())
            .collect();
        rates.sort_by(f64::total_cmp);
        rates.get(rates.len() / 8).copied().unwrap_or(0.0)
    }

    /// What is lost by a board against buying its content at `rate`.
    fn loss(known: &Known, rate: f64) -> f64 {
        known.cost - rate * known.board.used
    }

    fn forget(&mut self) {
        let rate = self.rate();
        let mut losses: Vec<f64> = self.known.values().map(|k| Self::loss(k, rate)).collect();
        losses.sort_by(f64::total_cmp);
        let limit = losses[losses.len() / 2];
        self.known.retain(|_, k| Self::loss(k, rate) <= limit);
    }

    /// The cheapest plan from the boards known, and the work it took; `None` when there is none or
    /// nothing is new.
    pub fn best(&mut self, model: &Model, boards: usize) -> (Option<Plan>, u64) {
        if !self.is_open() || !std::mem::take(&mut self.news) {
            return (None, 0);
        }
        // How often a round is made for each supply: once when it will do for as many as are needed.
        let plenty = boards as u32 + 2;
        let rounds: Vec<u32> = model
            .supplies
            .iter()
            .map(|n| if *n > plenty { 1 } else { *n })
            .collect();
        let rate = self.rate();
        let mut choices: Vec<Choice> = self
            .known
            .iter()
            .map(|((source, content), known)| Choice {
                source: *source,
                content,
                known,
                step: content
                    .iter()
                    .zip(&self.strides)
                    .map(|(n, stride)| *n as usize * stride)
                    .sum(),
            })
            .collect();
        choices.sort_by(|a, b| Self::loss(a.known, rate).total_cmp(&Self::loss(b.known, rate)));
        let mut weighed = 0;
        let fit = choices
            .iter()
            .take_while(|c| {
                let times = rounds[model.sources[c.source].supply] as usize;
                weighed += self.states * times;
                weighed <= self.most_choices
            })
            .count();
        choices.truncate(fit);
        let (set, count) = self.table(model, &choices, &rounds, plenty);
        let plan = set.map(|set| Plan {
            boards: set
                .iter()
                .map(|c| choices[*c].known.board.clone())
                .collect(),
            left: vec![0; self.strides.len()],
        });
        let plan = plan.filter(|plan| plan.keeps_to_supplies(model));
        (plan, count / CHOICES_PER_NODE + 4 * self.states as u64)
    }

    /// Which of `choices` make up the order at least cost, and how many were weighed.
    fn table(
        &self,
        model: &Model,
        choices: &[Choice],
        rounds: &[u32],
        plenty: u32,
    ) -> (Option<Vec<usize>>, u64) {
        let mut cost = vec![f64::INFINITY; self.states];
        cost[0] = 0.0;
        // By layer: the choice that led to each state, if one did in that layer.
        let mut layers: Vec<(bool, Vec<u32>)> = Vec::new();
        let digits = self.digits(model);
        let kinds = self.strides.len();
        let mut weighed = 0;
        for (supply, times) in rounds.iter().enumerate() {
            let mine: Vec<usize> = (0..choices.len())
                .filter(|c| model.sources[choices[*c].source].supply == supply)
                .collect();
            if mine.is_empty() {
                continue;
            }
            let endless = model.supplies[supply] > plenty;
            for _ in 0..*times {
                let mut led = vec![u32::MAX; self.states];
                // Steps only lead to higher states: from above, each board is used once; from below,
                // as often as it pays.
                let mut better = false;
                let mut from = |state: usize| {
                    let so_far = cost[state];
                    if so_far == f64::INFINITY {
                        return;
                    }
                    weighed += mine.len() as u64;
                    let at = &digits[state * kinds..(state + 1) * kinds];
                    for c in &mine {
                        let choice = &choices[*c];
                        let to = state + choice.step;
                        if to >= self.states || so_far + choice.known.cost >= cost[to] {
                            continue;
                        }
                        let fits = at
                            .iter()
                            .zip(choice.content)
                            .zip(&model.pieces)
                            .all(|((have, more), piece)| have + more <= piece.demand);
                        if fits {
                            cost[to] = so_far + choice.known.cost;
                            led[to] = *c as u32;
                            better = true;
                        }
                    }
                };
                if endless {
                    (0..self.states).for_each(&mut from);
                } else {
                    (0..self.states).rev().for_each(&mut from);
                }
                if !better {
                    break;
                }
                layers.push((endless, led));
            }
        }
        let mut state = self.states - 1;
        if cost[state] == f64::INFINITY {
            return (None, weighed);
        }
        let mut set = Vec::new();
        for (endless, led) in layers.iter().rev() {
            while led[state] != u32::MAX {
                let c = led[state] as usize;
                set.push(c);
                state -= choices[c].step;
                if !endless {
                    break;
                }
            }
        }
        ((state == 0).then_some(set), weighed)
    }

    /// By state: how many of each piece are made.
    fn digits(&self, model: &Model) -> Vec<u32> {
        let mut digits = Vec::with_capacity(self.states * self.strides.len());
        for state in 0..self.states {
            for (piece, stride) in model.pieces.iter().zip(&self.strides) {
                digits.push((state / stride % (piece.demand as usize + 1)) as u32);
            }
        }
        digits
    }
}

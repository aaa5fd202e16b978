//! Sets of boards that would be cheaper than those of the plan at hand, if only all fitted.

use super::model::Model;
use super::plan::{Board, Plan};
use super::ruin::{below, unit};
use rand_pcg::Pcg64Mcg;

/// An exchange of boards: sources given up and sources taken instead, each sorted.
#[derive(Debug, Clone)]
pub(super) struct Goal {
    give: Vec<usize>,
    take: Vec<usize>,
}

/// A goal, and what speaks for it.
#[derive(Debug, Clone)]
struct Open {
    goal: Goal,
    /// What it saves times how likely it is.
    worth: f64,
    /// How often it was tried.
    tried: u32,
}

/// The goals that a plan leaves open.
#[derive(Debug, Default)]
pub(super) struct Goals {
    open: Vec<Open>,
}

/// Spare area beyond which a goal is as good as certain; guillotine plans of small orders waste
/// about this much.
const EASY: f64 = 0.15;

/// Sources up to which two boards are exchanged for two others as well. Some prices can be lowered in
/// no other way; with many remnants there would be millions of such exchanges.
const FEW_SOURCES: usize = 12;

/// Goals kept, the most worthwhile: with many remnants there are thousands of exchanges.
const MOST_GOALS: usize = 1000;

impl Goals {
    /// All exchanges of up to two boards for up to two that save money and have the area.
    pub fn of(model: &Model, plan: &Plan) -> Self {
        let needed = model.area_of(&model.wanted());
        let likely = |spare: f64| (spare / EASY).powi(2).clamp(0.0025, 1.0);
        Self::among(model, plan, needed, &plan.supplies_left(model), likely)
    }

    /// [`Self::of`] for boards that hold pieces of the area `needed`, with `supplies` left besides them.
    /// `likely` tells how likely it is that a share of spare area suffices.
    pub fn among(
        model: &Model,
        plan: &Plan,
        needed: f64,
        supplies: &[u32],
        likely: impl Fn(f64) -> f64,
    ) -> Self {
        let price = |list: &[usize]| list.iter().map(|s| model.sources[*s].price).sum::<f64>();
        let area = |list: &[usize]| list.iter().map(|s| model.sources[*s].area).sum::<f64>();
        let used: Vec<usize> = plan.boards.iter().map(|b| b.source).collect();
        let total = area(&used);
        let mut open = Vec::new();
        let sources: Vec<usize> = (0..model.sources.len()).collect();
        let mut counts = vec![0u32; model.sources.len()];
        for source in &used {
            counts[*source] += 1;
        }
        let gives = lists(&sources)
            .into_iter()
            .filter(|l| !l.is_empty() && l.iter().all(|s| times(l, *s) <= counts[*s]));
        let takes = lists(&sources);
        for give in gives {
            for take in &takes {
                let two_for_two = give.len() == 2 && take.len() == 2;
                if two_for_two && sources.len() > FEW_SOURCES
                    || take.iter().any(|s| give.contains(s))
                {
                    continue;
                }
                let saving = price(&give) - price(take);
                let spare = (total - area(&give) + area(take)) / needed - 1.0;
                if saving <= 1e-9 * price(&give).abs() || spare < -1e-9 {
                    continue;
                }
                let supplied = take.iter().all(|s| {
                    let supply = model.sources[*s].supply;
                    let of_it = |list: &[usize]| {
                        list.iter()
                            .filter(|t| model.sources[**t].supply == supply)
                            .count() as u64
                    };
                    of_it(take) <= u64::from(supplies[supply]) + of_it(&give)
                });
                if supplied {
                    let (give, take) = (give.clone(), take.clone());
                    open.push(Open {
                        goal: Goal { give, take },
                        worth: saving * likely(spare),
                        tried: 0,
                    });
                }
            }
        }
        open.sort_by(|a, b| b.worth.total_cmp(&a.worth));
        open.truncate(MOST_GOALS);
        Self { open }
    }

    /// How many there are.
    pub fn len(&self) -> usize {
        self.open.len()
    }

    /// Draws one, by what it saves and how likely it is; also how often it was drawn before.
    pub fn draw(&mut self, rng: &mut Pcg64Mcg) -> Option<(Goal, u32)> {
        let weight = |open: &Open| open.worth / f64::from(1 + open.tried).powi(2);
        let total: f64 = self.open.iter().map(weight).sum();
        let mut at = unit(rng) * total;
        let chosen = self.open.iter().position(|open| {
            at -= weight(open);
            at < 0.0
        });
        let chosen = chosen.or(self.open.len().checked_sub(1))?;
        let open = &mut self.open[chosen];
        open.tried += 1;
        Some((open.goal.clone(), open.tried - 1))
    }
}

/// How often `s` is in `list`.
fn times(list: &[usize], s: usize) -> u32 {
    list.iter().filter(|t| **t == s).count() as u32
}

/// The lists of none, one and two of `sources`, sorted, repeats allowed.
fn lists(sources: &[usize]) -> Vec<Vec<usize>> {
    let mut lists = vec![Vec::new()];
    lists.extend(sources.iter().map(|s| vec![*s]));
    for (i, a) in sources.iter().enumerate() {
        lists.extend(sources[i..].iter().map(|b| vec![*a, *b]));
    }
    lists
}

impl Goal {
    /// `plan` after the exchange: the parts of the boards given up are left out.
    pub fn start(&self, model: &Model, plan: &Plan, rng: &mut Pcg64Mcg) -> Plan {
        let mut plan = plan.clone();
        for source in &self.give {
            let of_source = |b: &usize| plan.boards[*b].source == *source;
            let mut candidates: Vec<usize> = (0..plan.boards.len()).filter(of_source).collect();
            candidates.sort_by(|a, b| {
                let (a, b) = (&plan.boards[*a], &plan.boards[*b]);
                a.used.total_cmp(&b.used)
            });
            // Mostly the one with least on it.
            let last = candidates.len().saturating_sub(1);
            let pick = below(rng, last + 1).min(below(rng, last + 1));
            if let Some(b) = candidates.get(pick) {
                let board = plan.boards.remove(*b);
                board.count_into(&mut plan.left);
            }
        }
        plan.boards.extend(self.take.iter().map(|s| Board::new(*s)));
        debug_assert!(plan.left.len() == model.pieces.len());
        plan
    }
}
